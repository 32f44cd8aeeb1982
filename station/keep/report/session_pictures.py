"""The pictures of a session's report, each from the values that its text and tables show."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator

from station.coach.baseline import same_belt
from station.coach.cue_effect import CueEffect
from station.coach.practice import PHASES, BeltPractice, LegPractice, Phase
from station.coach.summary import LOCKED_SHARE_OF_PERIOD
from station.keep.report import look
from station.keep.report.chart import LABELLED, Room, draw, percent_axis, rows_axis, rows_room
from station.keep.report.findings import HELD_WITHIN, DrillFigures, LegFigures, SessionFindings
from station.keep.report.limit_course import limit_course
from station.keep.report.say import Say
from station.values import Side, StepRecord

MOST_DOTS = 1500
"""Of a leg; of more landings every second, third ... is drawn."""
LEAST_MIDDLE, MOST_MIDDLE = 9, 41
"""Landings in the running median, by how many there are."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with what it shows in words, for who cannot see it."""

    svg: str
    shows: str
    note: str = ""
    """To be said below it."""


# --- landing over time --------------------------------------------------------------------------


def landing_over_time(findings: SessionFindings, side: Side, say: Say) -> Picture | None:
    """Draw every landing of a leg, the limit, and when feedback was on; None: no landing known."""
    rows = [
        row
        for drill in findings.running
        for row in drill.facts.records
        if row.step.side == side and row.step.shank_deg is not None
    ]
    if not rows:
        return None
    each = math.ceil(len(rows) / MOST_DOTS)
    svg = draw(partial(_time, findings, side, rows, each, say), 2.5, f"time-{side}", LABELLED)
    note = say("dots_thinned", each_count=each) if each > 1 else ""
    return Picture(svg, say("alt_time", side=side, landings_count=len(rows)), note)


def _time(
    findings: SessionFindings, side: Side, rows: Sequence[StepRecord], each: int, say: Say, ax: Axes
) -> None:
    degs = np.array([row.step.shank_deg for row in rows], np.float64)
    low, high = np.percentile(degs, [0.5, 99.5])
    limits = [d.leg(side).limit for d in findings.running]
    known = [limit.deg for limit in limits if limit is not None]
    low, high = min(low, *known, high), max(high, *known, low)
    room = max(1.0, 0.12 * (high - low))
    ax.set_ylim(low - room, high + 2.2 * room)
    for i, drill in enumerate(findings.running):
        facts = drill.facts
        end_s = facts.began_s + facts.seconds
        if facts.coached:
            ax.axvspan(facts.began_s / 60.0, end_s / 60.0, color=look.COACHED, lw=0, zorder=0)
        ax.text(
            facts.began_s / 60.0, 0.985, f" {i + 1}", transform=ax.get_xaxis_transform(),
            va="top", ha="left", color=look.MUTED, fontsize=7.5,
        )  # fmt: skip
        if i:
            ax.axvline(facts.began_s / 60.0, color=look.LINE, lw=0.6, zorder=0.5)
        for from_s, to_s, deg in limit_course(findings.facts, facts, side):
            ax.plot(
                [from_s / 60.0, to_s / 60.0], [deg, deg], color=look.INK, lw=1.2,
                dashes=(4, 2), zorder=4,
            )  # fmt: skip
    shown = rows[::each]
    for landing, mark, colour, size in (
        ("within", "o", look.WITHIN, 2.6),
        ("ahead", "^", look.AHEAD, 3.4),
        (None, "x", look.UNJUDGED, 2.8),
    ):
        mine = [row for row in shown if row.landing == landing]
        ax.plot(
            [row.step.t_contact_s / 60.0 for row in mine],
            [row.step.shank_deg or 0.0 for row in mine],
            mark, ms=size, mfc=colour, mec=colour, mew=0.7 if mark == "x" else 0, alpha=0.62,
            ls="none", zorder=2 if landing == "within" else 2.5,
        )  # fmt: skip
    width = middle_of_how_many(findings)
    for drill in findings.running:
        _running_median(ax, [r for r in drill.facts.records if r.step.side == side], width)
    ax.set_xlabel(say("axis_minutes"))
    ax.yaxis.set_major_formatter(_degree_ticks(say))
    ax.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    ax.xaxis.set_major_locator(MaxNLocator(6))
    ax.xaxis.set_major_formatter(
        FuncFormatter(lambda v, _: say.number(v, 0 if v == round(v) else 1))
    )
    ax.grid(True, axis="y")
    ax.set_xlim(left=min(d.facts.began_s for d in findings.running) / 60.0)


def middle_of_how_many(findings: SessionFindings) -> int:
    """Return how many landings of a leg the running median takes: odd, more in a long session."""
    landings = findings.facts.steps // 2
    return min(MOST_MIDDLE, max(LEAST_MIDDLE, landings // 40 // 2 * 2 + 1))


def _running_median(ax: Axes, rows: Sequence[StepRecord], width: int) -> None:
    known = [
        (r.step.t_contact_s / 60.0, r.step.shank_deg) for r in rows if r.step.shank_deg is not None
    ]
    if len(known) < width:
        return
    t, deg = np.array(known, np.float64).T
    windows = np.lib.stride_tricks.sliding_window_view(deg, width)
    middle = np.median(windows, axis=1)
    at = t[width // 2 : width // 2 + len(middle)]
    ax.plot(at, middle, color=look.WHITE, lw=3.0, zorder=3)
    ax.plot(at, middle, color=look.INK, lw=1.4, zorder=3.1)


def _degree_ticks(say: Say) -> FuncFormatter:
    return FuncFormatter(lambda v, _: f"{say.number(v, 0)}\u00b0")


# --- before, with, after ------------------------------------------------------------------------


def phases(practice: Sequence[BeltPractice], side: Side, say: Say) -> Picture | None:
    """Draw a leg's share at or under the limit before, with and after feedback, by belt setting."""
    rows: list[tuple[str, LegPractice, Phase]] = []
    for one in practice:
        leg = one.left if side == "left" else one.right
        for phase in PHASES:
            if (found := leg.of(phase)) is not None and found.within is not None:
                rows.append((say.belt(one.belt), leg, phase))
    if not rows:
        return None
    labels = _phase_labels(rows, say)
    svg = draw(
        partial(_phases, rows, labels, say), 0.36 + 0.36 * len(rows), f"phases-{side}",
        rows_room(labels),
    )  # fmt: skip
    return Picture(svg, say("alt_phases", side=side))


def _phase_labels(rows: Sequence[tuple[str, LegPractice, Phase]], say: Say) -> list[str]:
    several = len({label for label, *_ in rows}) > 1
    return [
        f"{label}\n{say(f'phase_{phase}')}" if several else say(f"phase_{phase}")
        for label, _, phase in rows
    ]


def _phases(
    rows: Sequence[tuple[str, LegPractice, Phase]], labels: list[str], say: Say, ax: Axes
) -> None:
    fills = {"before": look.WHITE, "with": look.WITHIN, "after": look.INK}
    for at, (_, leg, phase) in enumerate(rows):
        found = leg.of(phase)
        assert found is not None
        share = found.within
        assert share is not None
        colour = look.WITHIN if phase == "with" else look.INK
        pale = 1.0 if leg.near else 0.45
        ax.barh(at, share.share, 0.5, color=fills[phase], edgecolor=colour, lw=1.0, alpha=pale,
                zorder=2)  # fmt: skip
        low, high = share.interval
        for line, width in ((look.WHITE, 4.0), (look.INK, 1.6)):
            ax.plot([low, high], [at, at], color=line, lw=width, zorder=3, solid_capstyle="butt")
        ax.text(1.02, at, say("n", n_count=share.of), transform=ax.get_yaxis_transform(),
                va="center", ha="left", color=look.MUTED, fontsize=7.5)  # fmt: skip
    rows_axis(ax, labels)
    percent_axis(ax)


# --- by belt speed ------------------------------------------------------------------------------


def landing_by_speed(
    drills: Sequence[DrillFigures], side: Side, say: Say, name: str
) -> Picture | None:
    """Draw a leg's median landing at each belt speed, at one incline."""
    found = [d for d in drills if d.leg(side).median_deg is not None and d.facts.belt is not None]
    if not found:
        return None
    svg = draw(partial(_by_speed, found, side, say), 2.2, f"speed-{name}-{side}", Room())
    return Picture(svg, say("alt_speed", side=side))


def _by_speed(drills: Sequence[DrillFigures], side: Side, say: Say, ax: Axes) -> None:
    speeds = sorted({round(d.facts.belt_mps or 0.0, 2) for d in drills})
    for at, speed in enumerate(speeds):
        mine = [d for d in drills if round(d.facts.belt_mps or 0.0, 2) == speed]
        for i, drill in enumerate(mine):
            leg = drill.leg(side)
            x = at + (i - (len(mine) - 1) / 2.0) * min(0.24, 0.8 / len(mine))
            _landing_mark(ax, x, leg, drill.facts.coached)
    ax.set_xticks(range(len(speeds)), [say.speed(speed) for speed in speeds])
    ax.set_xlim(-0.6, len(speeds) - 0.4)
    ax.yaxis.set_major_formatter(_degree_ticks(say))
    ax.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    ax.grid(True, axis="y")


def _landing_mark(ax: Axes, x: float, leg: LegFigures, coached: bool) -> None:
    deg, spread = leg.median_deg, leg.spread_deg or 0.0
    assert deg is not None
    ax.plot([x, x], [deg - spread, deg + spread], color=look.WITHIN, lw=1.4, zorder=2)
    ax.plot(x, deg, "o", ms=6.5, mfc=look.WITHIN if coached else look.PAPER, mec=look.WITHIN,
            mew=1.4, zorder=3)  # fmt: skip
    if leg.limit is not None:
        ax.plot([x - 0.09, x + 0.09], [leg.limit.deg] * 2, color=look.INK, lw=1.6, zorder=4)


# --- same rate, faster belt ---------------------------------------------------------------------


def same_rate_faster_belt(drills: Sequence[DrillFigures], say: Say, name: str) -> Picture | None:
    """Draw the step rate against its target at each belt speed, at one incline."""
    found = [d for d in drills if d.rate is not None and d.facts.target_spm and d.facts.belt]
    if not found:
        return None
    svg = draw(partial(_rates, found, say), 2.2, f"rate-{name}", Room())
    return Picture(svg, say("alt_rate"))


def _rates(drills: Sequence[DrillFigures], say: Say, ax: Axes) -> None:
    speeds = sorted({round(d.facts.belt_mps or 0.0, 2) for d in drills})
    values: list[float] = []
    for at, speed in enumerate(speeds):
        mine = [d for d in drills if round(d.facts.belt_mps or 0.0, 2) == speed]
        for i, drill in enumerate(mine):
            rate, target = drill.rate, drill.facts.target_spm
            assert rate is not None
            assert target is not None
            width = min(0.3, 0.86 / len(mine))
            x = at + (i - (len(mine) - 1) / 2.0) * width
            half = width * 0.46
            low, high = target * (1 - HELD_WITHIN), target * (1 + HELD_WITHIN)
            ax.fill_between([x - half, x + half], low, high, color=look.COACHED, lw=0, zorder=1)
            ax.plot([x - half, x + half], [target, target], color=look.INK, lw=1.2, zorder=2)
            held = bool(drill.held)
            colour = look.WITHIN if held else look.AHEAD
            ax.plot([x, x], [rate.median_spm - rate.spread_spm, rate.median_spm + rate.spread_spm],
                    color=colour, lw=1.4, zorder=3)  # fmt: skip
            ax.plot(x, rate.median_spm, "o" if held else "^", ms=7, mfc=colour, mec=look.PAPER,
                    mew=0.8, zorder=4)  # fmt: skip
            values += [rate.median_spm, low, high]
    room = max(2.0, 0.15 * (max(values) - min(values)))
    ax.set_ylim(min(values) - room, max(values) + room)
    ax.set_xticks(range(len(speeds)), [say.speed(speed) for speed in speeds])
    ax.set_xlim(-0.6, len(speeds) - 0.4)
    ax.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    ax.grid(True, axis="y")


# --- the beat, the feel, the cue ----------------------------------------------------------------


def beat_lock(drills: Sequence[DrillFigures], say: Say) -> Picture | None:
    """Draw how many steps of each drill came in time with the beat."""
    found = [(i, d) for i, d in drills_numbered(drills) if d.facts.beat is not None]
    if not found:
        return None
    labels = [say.drill_label(i, d.facts.name) for i, d in found]
    svg = draw(
        partial(_beat, found, labels, say), 0.36 + 0.3 * len(found), "beat", rows_room(labels)
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
    rows_axis(ax, labels)
    percent_axis(ax)


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
    room = rows_room(labels, 8.0, named=True)
    svg = draw(partial(_felt, found, labels, say), 0.5 + 0.36 * len(found), "felt", room)
    return Picture(svg, say("alt_felt"))


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
    rows_axis(ax, labels)
    ax.set_xlim(-0.4, 10.4)
    ax.set_xticks(range(0, 11, 2))
    ax.set_xlabel(say("axis_of_ten"))
    ax.grid(True, axis="x")


def cue_effect(effect: CueEffect | None, say: Say) -> Picture | None:
    """Draw the difference that a cue made to the next landing, with its interval."""
    if effect is None or effect.shank_deg is None:
        return None
    return Picture(
        draw(partial(_effect, effect, say), 1.0, "cue", Room(16.0, 16.0, 38.0)), say("alt_cue")
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


# --- shared -------------------------------------------------------------------------------------


def drills_numbered(drills: Sequence[DrillFigures]) -> list[tuple[int, DrillFigures]]:
    """Return the drills that are no rests with the number under which the report names them."""
    running = [d for d in drills if d.facts.kind != "rest"]
    return list(enumerate(running, start=1))


def by_incline(drills: Sequence[DrillFigures]) -> list[tuple[float, list[DrillFigures]]]:
    """Return the runs whose belt is known and was kept, by incline: these are never mixed."""
    groups: list[tuple[float, list[DrillFigures]]] = []
    for drill in drills:
        belt = drill.facts.belt
        if belt is None or drill.facts.kind != "run" or not drill.belt_kept:
            continue
        for incline, group in groups:
            first = group[0].facts.belt
            level = first is not None and same_belt(type(belt)(belt.speed_mps, incline), belt)
            if level:
                group.append(drill)
                break
        else:
            groups.append((belt.incline_percent, [drill]))
    return groups
