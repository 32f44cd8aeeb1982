"""The pictures of how a runner answered: to the beat, to the question how it felt, to the cue."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator

from station.coach.cue_effect import CueEffect
from station.coach.summary import LOCKED_SHARE_OF_PERIOD
from station.keep.report import chart, look
from station.keep.report.findings import DrillFigures
from station.keep.report.picture import Picture
from station.keep.report.say import Say


def beat_lock(drills: Sequence[DrillFigures], say: Say) -> Picture | None:
    """Draw how many steps of each drill came in time with the beat."""
    found = [(i, d) for i, d in drills_numbered(drills) if d.facts.beat is not None]
    if not found:
        return None
    labels = [say.drill_label(i, d.facts.name) for i, d in found]
    svg = chart.draw(
        partial(_beat, found, labels, say), 0.36 + 0.3 * len(found), "beat", chart.rows_room(labels)
    )
    return Picture(svg, say("alt_beat", window_share=LOCKED_SHARE_OF_PERIOD))


def _beat(found: Sequence[tuple[int, DrillFigures]], labels: list[str], say: Say, ax: Axes) -> None:
    for at, (_, drill) in enumerate(found):
        beat = drill.facts.beat
        assert beat is not None
        ax.barh(at, beat.share_locked, 0.34, color=look.WITHIN, lw=0, zorder=2)
        ax.plot(beat.share_locked, at, "|", color=look.INK, ms=11, mew=1.6, zorder=3)
        ax.text(1.02, at, say("n", n_count=beat.steps), transform=ax.get_yaxis_transform(),
                va="center", ha="left", color=look.MUTED, fontsize=7.5)  # fmt: skip
    chart.rows_axis(ax, labels)
    chart.percent_axis(ax)


def feel_gap(drills: Sequence[DrillFigures], say: Say) -> Picture | None:
    """Draw how many of ten landings felt good, beside the count."""
    found = [
        (i, d) for i, d in drills_numbered(drills)
        if d.facts.felt is not None and d.facts.felt.good_of_ten is not None
        and d.facts.felt.share_within is not None
    ]  # fmt: skip
    if not found:
        return None
    labels = [say.drill_label(i, d.facts.name) for i, d in found]
    room = chart.rows_room(labels, 8.0, named=True)
    svg = chart.draw(partial(_felt, found, labels, say), 0.5 + 0.36 * len(found), "felt", room)
    return Picture(svg, say("alt_felt"), marks=frozenset({"diamond", "dot"}))


def _felt(found: Sequence[tuple[int, DrillFigures]], labels: list[str], say: Say, ax: Axes) -> None:
    for at, (_, drill) in enumerate(found):
        felt = drill.facts.felt
        assert felt is not None
        assert felt.good_of_ten is not None
        assert felt.share_within is not None
        counted = 10.0 * felt.share_within
        ax.plot([felt.good_of_ten, counted], [at, at], color=look.LINE, lw=3.0, zorder=1)
        ax.plot(
            felt.good_of_ten, at, "D", ms=6.5, mfc=look.PAPER, mec=look.PLUMB, mew=1.6, zorder=3
        )
        ax.plot(counted, at, "o", ms=7, mfc=look.WITHIN, mec=look.PAPER, mew=0.6, zorder=2)
    chart.rows_axis(ax, labels)
    ax.set_xlim(-0.4, 10.4)
    ax.set_xticks(range(0, 11, 2))
    ax.set_xlabel(say("axis_of_ten"))
    ax.grid(True, axis="x")


def cue_effect(effect: CueEffect | None, say: Say) -> Picture | None:
    """Draw the difference that a cue made to the next landing, with its interval."""
    if effect is None or effect.shank_deg is None:
        return None
    return Picture(
        chart.draw(partial(_effect, effect, say), 1.0, "cue", chart.Room(16.0, 16.0, 38.0)),
        say("alt_cue"),
    )


def _effect(effect: CueEffect, say: Say, ax: Axes) -> None:
    told = effect.shank_deg
    assert told is not None
    ax.axvline(0.0, color=look.INK, lw=1.0, zorder=1)
    ax.plot([told.low, told.high], [0, 0], color=look.WITHIN, lw=5.0, alpha=0.35, zorder=2,
            solid_capstyle="butt")  # fmt: skip
    ax.plot(told.difference, 0, "o", ms=8, mfc=look.WITHIN, mec=look.PAPER, zorder=3)
    edge = 1.25 * max(abs(told.low), abs(told.high), 0.5)
    ax.set_xlim(-edge, edge)
    ax.set_ylim(-1, 1)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    ax.xaxis.set_major_locator(MaxNLocator(5))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{say.number(v, 1, sign=True)}\u00b0"))
    ax.set_xlabel(say("axis_cue"))


def drills_numbered(drills: Sequence[DrillFigures]) -> list[tuple[int, DrillFigures]]:
    """Return the drills that are no rests with the number under which the report names them."""
    running = [d for d in drills if d.facts.kind != "rest"]
    return list(enumerate(running, start=1))
