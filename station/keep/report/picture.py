"""What a picture in a report is, and what several of them share."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from matplotlib.axis import Axis
from matplotlib.ticker import FuncFormatter, MultipleLocator

from station.keep.report.say import Say


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with what it shows in words, for who cannot see it."""

    svg: str
    shows: str
    note: str = ""
    """To be said below it."""
    marks: frozenset[str] = frozenset()
    """What is drawn in it, of what its part's legend explains."""


def degree_ticks(say: Say) -> FuncFormatter:
    """Return what writes whole degrees at an axis."""
    return FuncFormatter(lambda v, _: f"{say.number(v, 0)}\u00b0")


_CLOCK_STEPS_S = (5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0)


def clock_ticks(axis: Axis, seconds: float, most: int, say: Say) -> None:
    """Let an axis tell seconds as minutes and seconds, as the tables do.

    Args:
        axis: Its values are seconds.
        seconds: How much it spans.
        most: About so many ticks.
        say: Writes them.
    """
    step_s = next((s for s in _CLOCK_STEPS_S if seconds / s <= most), 3600.0)
    axis.set_major_locator(MultipleLocator(step_s))
    axis.set_major_formatter(FuncFormatter(lambda v, _: say.clock(v)))


def shared_span(values: Iterable[float]) -> tuple[float, float]:
    """Return from where to where an axis goes on which pictures beside each other are compared."""
    known = list(values)
    low, high = min(known), max(known)
    room = max(0.5, 0.06 * (high - low))
    return low - room, high + room
