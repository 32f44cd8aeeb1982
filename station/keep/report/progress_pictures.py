"""The pictures of a progress report."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from matplotlib.ticker import FuncFormatter, MaxNLocator

from station.coach.practice import PhaseLeg
from station.keep.report import chart, look
from station.keep.report.picture import Picture, degree_ticks
from station.keep.report.progress import ChannelShares, Course, Progress, VisitFigures
from station.keep.report.say import Say

MOST_LABELS = 5
CHANNELS = ("beat", "guides", "view", "cue")
_DATES = chart.Room(left=34.0, right=8.0, bottom=36.0)


def landing_by_visit(
    course: Course, progress: Progress, least_deg: float, say: Say
) -> Picture | None:
    """Draw a leg's landing at one belt setting over the visits."""
    if not any(_known(p.alone) or _known(p.coached) or _known(p.after) for p in course.points):
        return None
    name = f"visits-{course.side}-{progress.settings.index(course.belt)}"
    svg = chart.draw(partial(_landing, course, progress, least_deg, say), 2.5, name, _DATES)
    return Picture(svg, say("alt_visits", side=course.side))


def _known(leg: PhaseLeg | None) -> bool:
    return leg is not None and leg.median_deg is not None


def _landing(course: Course, progress: Progress, least_deg: float, say: Say, ax: Axes) -> None:
    probes = course.probes
    if probes and probes[0].alone is not None and probes[0].alone.median_deg is not None:
        first = probes[0].alone.median_deg
        ax.axhspan(first - least_deg, first + least_deg, color=look.PANEL, lw=0, zorder=0)
        ax.axhline(first, color=look.LINE, lw=1.0, zorder=0.5)
    ax.plot(
        [p.number for p in probes], [p.alone.median_deg or 0.0 for p in probes if p.alone],
        color=look.INK, lw=1.0, zorder=2,
    )  # fmt: skip
    for point in course.points:
        for leg, dx, mark, fill, edge in (
            (point.coached, 0.14, "o", look.WITHIN, look.WITHIN),
            (point.after, 0.26, "s", look.INK, look.INK),
            (point.alone, 0.0, "D" if point.visit.all_off else "o", look.PAPER, look.INK),
        ):
            if leg is None or leg.median_deg is None:
                continue
            x, spread = point.number + dx, leg.spread_deg or 0.0
            ax.plot([x, x], [leg.median_deg - spread, leg.median_deg + spread], color=edge, lw=0.9,
                    alpha=0.5, zorder=2.5)  # fmt: skip
            ax.plot(x, leg.median_deg, mark, ms=6.5 if mark == "D" else 5.5, mfc=fill, mec=edge,
                    mew=1.4, zorder=3)  # fmt: skip
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
    """Draw the minutes of each visit."""
    if not progress.visits:
        return None
    return Picture(chart.draw(partial(_dose, progress, say), 1.75, "dose", _DATES), say("alt_dose"))


def _dose(progress: Progress, say: Say, ax: Axes) -> None:
    for number, visit in enumerate(progress.visits, start=1):
        minutes = visit.running_s / 60.0
        ax.bar(number, minutes, 0.8, color=look.PLUMB if visit.coached else look.PAPER,
               edgecolor=look.PLUMB, lw=1.0, zorder=2)  # fmt: skip
    ax.yaxis.set_major_locator(MaxNLocator(4))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda v, _: say.number(v, int(v != round(v)))))
    ax.grid(True, axis="y")
    _visits_axis(ax, progress.visits, say)
