"""What a picture in a report is, and what several of them share."""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.ticker import FuncFormatter

from station.keep.report.say import Say


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with what it shows in words, for who cannot see it."""

    svg: str
    shows: str
    note: str = ""
    """To be said below it."""


def degree_ticks(say: Say) -> FuncFormatter:
    """Return what writes whole degrees at an axis."""
    return FuncFormatter(lambda v, _: f"{say.number(v, 0)}\u00b0")
