"""One page of the visit's screen, as a value: what is said, and what can be answered."""

from __future__ import annotations

from dataclasses import dataclass

from station.coach.scene import Tone


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer: a place to touch, or a key to press."""

    id: str
    label: str
    """Key of the words."""
    face: str = ""
    """What stands on the key that gives it; empty: only by touch."""
    chosen: bool = False
    """Already given (an item of readiness that was confirmed)."""
    literal: bool = False
    """The label is shown as it is: a letter or a number."""


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

    def choice_of_key(self, face: str) -> str | None:
        """Return the id of the choice that a key gives; None: none of them."""
        return next((c.id for c in self.choices if c.face and c.face == face), None)
