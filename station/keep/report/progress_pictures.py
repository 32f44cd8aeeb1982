"""The pictures of a progress report."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from station.keep.report import chart, look
from station.keep.report.picture import Picture, clock_ticks, degree_ticks, shared_span
from station.keep.report.progress import ChannelShares, Course, Progress, VisitFigures
from station.keep.report.say import Say
from station.values import Side

MOST_LABELS = 5
CHANNELS = ("beat", "guides", "view", "cue")
_DATES = chart.Room(left=34.0, right=8.0, bottom=36.0)


@dataclass(frozen=True, slots=True)
class _Mark:
    name: str
    """In the legend."""
    at: float
    """Number of the visit, and a little beside."""
    deg: float
    spread_deg: float


_LOOKS = {
    "ring-ink": ("o", look.PAPER, look.INK), "diamond-ink": ("D", look.PAPER, look.INK),
    "dot": ("o", look.WITHIN, look.WITHIN), "square": ("s", look.INK, look.INK),
}  # fmt: skip


def landing_by_visit(
    courses: Sequence[Course], progress: Progress, least_deg: float, say: Say
) -> dict[Side, Picture]:
    """Draw how legs landed at one belt setting over the visits, all on the same axis.

    Returns:
        By leg; a leg without a known landing has none.
    """
    known = [(course, marks) for course in courses if (marks := [*_marks(course)])]
    if not known:
        return {}
    reach = [one.deg + by * one.spread_deg for _, marks in known for one in marks for by in (-1, 1)]
    firsts = [first for course, _ in known if (first := _first_deg(course)) is not None]
    span = shared_span([*reach, *(f + by * least_deg for f in firsts for by in (-1, 1))])
    found: dict[Side, Picture] = {}
    for course, marks in known:
        name = f"visits-{course.side}-{progress.settings.index(course.belt)}"
        paint = partial(_landing, course, marks, progress, least_deg, span, say)
        drawn = {one.name for one in marks} | ({"zone"} if course.probes else set())
        found[course.side] = Picture(
            chart.draw(paint, 2.5, name, _DATES), say("alt_visits", side=course.side),
            marks=frozenset(drawn),
        )  # fmt: skip
    return found


def _marks(course: Course) -> Iterator[_Mark]:
    for point in course.points:
        alone = "diamond-ink" if point.visit.all_off else "ring-ink"
        for leg, dx, name in (
            (point.coached, 0.14, "dot"), (point.after, 0.26, "square"), (point.alone, 0.0, alone)
        ):  # fmt: skip
            if leg is not None and leg.median_deg is not None:
                yield _Mark(name, point.number + dx, leg.median_deg, leg.spread_deg or 0.0)


def _first_deg(course: Course) -> float | None:
    """Return the angle from which changes are told: how the runner came first."""
    alone = course.probes[0].alone if course.probes else None
    return None if alone is None else alone.median_deg


def _landing(
    course: Course, marks: Sequence[_Mark], progress: Progress, least_deg: float,
    span: tuple[float, float], say: Say, ax: Axes,
) -> None:  # fmt: skip
    probes, first = course.probes, _first_deg(course)
    if first is not None:
        ax.axhspan(first - least_deg, first + least_deg, color=look.PANEL, lw=0, zorder=0)
        ax.axhline(first, color=look.LINE, lw=1.0, zorder=0.5)
    ax.plot(
        [p.number for p in probes], [p.alone.median_deg or 0.0 for p in probes if p.alone],
        color=look.INK, lw=1.0, zorder=2,
    )  # fmt: skip
    for one in marks:
        mark, fill, edge = _LOOKS[one.name]
        ends = [one.deg - one.spread_deg, one.deg + one.spread_deg]
        ax.plot([one.at, one.at], ends, color=edge, lw=0.9, alpha=0.5, zorder=2.5)
        ax.plot(one.at, one.deg, mark, ms=6.5 if mark == "D" else 5.5, mfc=fill, mec=edge,
                mew=1.4, zorder=3)  # fmt: skip
    ax.set_ylim(*span)
    ax.yaxis.set_major_formatter(degree_ticks(say))
    ax.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    ax.grid(True, axis="y")
    _visits_axis(ax, progress.visits, say)


def _visits_axis(ax: Axes, visits: Sequence[VisitFigures], say: Say) -> None:
    count = len(visits)
    ax.set_xlim(0.4, count + 0.6)
    each = max(1, math.ceil(count / MOST_LABELS))
    at = [i for i in range(1, count + 1) if (i - 1) % each == 0]
    ax.set_xticks(at, [f"{i}\n{visits[i - 1].began:%m-%d}" for i in at])


def channel_strip(progress: Progress, say: Say) -> Picture | None:
    """Draw how much of each visit's practice each channel was on."""
    if not any(visit.channels for visit in progress.visits):
        return None
    labels = [say(f"channel_{name}") for name in CHANNELS]
    room = chart.rows_room(labels, right=8.0, named=True)
    svg = chart.draw(partial(_strip, progress, labels, say), 1.75, "channels", room)
    return Picture(svg, say("alt_channels"))


def _strip(progress: Progress, labels: list[str], say: Say, ax: Axes) -> None:
    for number, visit in enumerate(progress.visits, start=1):
        for row in range(len(CHANNELS)):
            ax.add_patch(Rectangle((number - 0.4, row - 0.36), 0.8, 0.72, fc=look.PANEL, ec="none"))
        if visit.channels is None:
            for row in range(len(CHANNELS)):
                ax.text(number, row, "?", ha="center", va="center", color=look.MUTED)
            continue
        for row, share in enumerate(shares_of(visit.channels)):
            ax.add_patch(
                Rectangle((number - 0.4, row + 0.36 - 0.72 * share), 0.8, 0.72 * share,
                          fc=look.WITHIN, ec="none")
            )  # fmt: skip
    ax.set_yticks(range(len(labels)), labels)
    ax.tick_params(axis="y", labelcolor=look.INK)
    for side in ("left", "bottom"):
        ax.spines[side].set_visible(False)
    _visits_axis(ax, progress.visits, say)
    ax.set_ylim(len(CHANNELS) - 0.5, -0.5)


def shares_of(channels: ChannelShares) -> tuple[float, float, float, float]:
    """Return the four shares in the order of `CHANNELS`."""
    return channels.beat, channels.guides, channels.view, channels.cue


def dose(progress: Progress, say: Say) -> Picture | None:
    """Draw the minutes of each visit, below those with beat or cue."""
    if not progress.visits:
        return None
    svg = chart.draw(partial(_dose, progress, say), 1.75, "dose", _DATES)
    marks = {"bar-dose"} if progress.coached_s else set()
    if progress.coached_s < progress.running_s:
        marks.add("bar-empty")
    return Picture(svg, say("alt_dose"), marks=frozenset(marks))


def _dose(progress: Progress, say: Say, ax: Axes) -> None:
    for number, visit in enumerate(progress.visits, start=1):
        ax.bar(number, visit.running_s, 0.8, color=look.PAPER, edgecolor=look.PLUMB, lw=1.0,
               zorder=2)  # fmt: skip
        ax.bar(number, visit.coached_s, 0.8, color=look.PLUMB, edgecolor=look.PLUMB, lw=1.0,
               zorder=2)  # fmt: skip
    clock_ticks(ax.yaxis, max(visit.running_s for visit in progress.visits), 4, say)
    ax.grid(True, axis="y")
    _visits_axis(ax, progress.visits, say)
