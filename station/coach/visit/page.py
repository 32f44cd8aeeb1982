"""One page of the visit's screen, as a value: what is said, and what can be answered."""

from __future__ import annotations

from dataclasses import dataclass

from station.coach.choice import Choice
from station.coach.scene import Tone


@dataclass(frozen=True, slots=True)
class Page:
    """What the bay's screen shows where nobody runs."""

    title: str
    """Key of the words."""
    lines: tuple[str, ...] = ()
    """Keys of the words, one line each."""
    choices: tuple[Choice, ...] = ()
    columns: int = 1
    """How many choices stand side by side."""
    entry: str | None = None
    """What has been typed; None: nothing is to be typed."""
    tone: Tone = "calm"
    values: tuple[tuple[str, str], ...] = ()
    """For the {fields} of title and lines."""
    share: float | None = None
    """How far something has come, 0 to 1, as a bar; None: no bar."""
    seconds_left: int | None = None
    """Until the page ends by itself; None: not soon."""
