"""One thing that can be answered on a page, of an unattended visit or of the set-up, as a value."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Choice:
    """A place to touch, or a key to press."""

    id: str
    label: str
    """Key of the words; or the text itself where it is `literal`."""
    face: str = ""
    """What stands on the key that gives it; empty: only by touch."""
    chosen: bool = False
    """It holds now: an answer already given, or the one of several that is in use."""
    literal: bool = False
    """The label is shown as it is: a letter, a number, a device's name."""


def choice_of_key(choices: Iterable[Choice], face: str | None) -> str | None:
    """Return the id of the first choice that a key gives.

    Args:
        choices: Of the page that is shown.
        face: What stands on the key; empty or None: it gives nothing.

    Returns:
        None: none of them.
    """
    return next((c.id for c in choices if c.face and c.face == face), None)
