"""The pictures of every landing of each leg over the time of a session."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from station.coach.practice import SIDES
from station.keep.report import chart, look
from station.keep.report.findings import DrillFigures, SessionFindings
from station.keep.report.limit_course import limit_course
from station.keep.report.picture import Picture, clock_ticks, degree_ticks
from station.keep.report.say import Say
from station.values import Side, Verdict

MOST_DOTS = 1500
"""Of a leg; of more landings every second, third ... is drawn."""
LEAST_MIDDLE, MOST_MIDDLE = 9, 41
"""Landings in the running median, by how many there are."""


@dataclass(frozen=True, slots=True)
class _Mark:
    t_s: float
    deg: float
    landing: Verdict | None


Runs = Sequence[Sequence[_Mark]]
"""Of one leg, drill by drill."""


def landing_over_time(findings: SessionFindings, say: Say) -> dict[Side, Picture]:
    """Draw every landing, the limit, and when feedback was on, for each leg on the same axis.

    A landing is drawn at the angle that it was judged by, so that its place and its colour agree;
    where it has none, as it was read.

    Returns:
        By leg; a leg without a known landing has none.
    """
    legs = {
        side: [[*_marks(drill, side)] for drill in findings.running] for side in SIDES
    }  # fmt: skip
    known = {side: runs for side, runs in legs.items() if any(runs)}
    if not known:
        return {}
    span = _span(findings, known)
    return {side: _picture(findings, side, runs, span, say) for side, runs in known.items()}


def _marks(drill: DrillFigures, side: Side) -> Iterator[_Mark]:
    for row in drill.facts.records:
        judged_deg = row.step.shank_at_verdict_deg
        deg = row.step.shank_deg if judged_deg is None else judged_deg
        if row.step.side == side and deg is not None:
            yield _Mark(row.step.t_contact_s, deg, row.landing)


def _span(findings: SessionFindings, legs: Mapping[Side, Runs]) -> tuple[float, float]:
    degs = [mark.deg for runs in legs.values() for run in runs for mark in run]
    low, high = np.percentile(degs, [0.5, 99.5])
    limits = [limit for d in findings.running for side in legs if (limit := d.leg(side).limit)]
    values = [low, high, *(limit.deg for limit in limits)]
    room = max(1.0, 0.12 * (high - low))
    return min(values) - room, max(values) + 2.2 * room


def _picture(
    findings: SessionFindings, side: Side, runs: Runs, span: tuple[float, float], say: Say
) -> Picture:
    count = sum(len(run) for run in runs)
    each = math.ceil(count / MOST_DOTS)
    width = middle_of_how_many(findings)
    svg = chart.draw(
        partial(_time, findings, side, runs, each, span, say), 2.5, f"time-{side}", chart.LABELLED
    )
    marks: set[str] = {mark.landing or "unjudged" for run in runs for mark in run}
    marks |= {"middle"} if any(len(run) >= width for run in runs) else set()
    marks |= {"limit"} if any(d.leg(side).limit for d in findings.running) else set()
    marks |= {"coached"} if any(d.facts.coached for d in findings.running) else set()
    note = say("dots_thinned", each_count=each) if each > 1 else ""
    shows = say("alt_time", side=side, landings_count=count)
    return Picture(svg, shows, note, frozenset(marks))


def _time(
    findings: SessionFindings, side: Side, runs: Runs, each: int, span: tuple[float, float],
    say: Say, ax: Axes,
) -> None:  # fmt: skip
    ax.set_ylim(*span)
    for i, drill in enumerate(findings.running):
        facts = drill.facts
        if facts.coached:
            end_s = facts.began_s + facts.seconds
            ax.axvspan(facts.began_s, end_s, color=look.COACHED, lw=0, zorder=0)
        ax.text(
            facts.began_s, 0.985, f" {i + 1}", transform=ax.get_xaxis_transform(),
            va="top", ha="left", color=look.MUTED, fontsize=7.5,
        )  # fmt: skip
        if i:
            ax.axvline(facts.began_s, color=look.LINE, lw=0.6, zorder=0.5)
        for from_s, to_s, deg in limit_course(findings.facts, facts, side):
            ax.plot([from_s, to_s], [deg, deg], color=look.INK, lw=1.2, dashes=(4, 2), zorder=4)
    shown = [mark for run in runs for mark in run][::each]
    for landing, mark, colour, size in (
        ("within", "o", look.WITHIN, 2.6),
        ("ahead", "^", look.AHEAD, 3.4),
        (None, "x", look.UNJUDGED, 2.8),
    ):
        mine = [one for one in shown if one.landing == landing]
        ax.plot(
            [one.t_s for one in mine], [one.deg for one in mine],
            mark, ms=size, mfc=colour, mec=colour, mew=0.7 if mark == "x" else 0, alpha=0.62,
            ls="none", zorder=2 if landing == "within" else 2.5,
        )  # fmt: skip
    width = middle_of_how_many(findings)
    for run in runs:
        _running_median(ax, run, width)
    ax.set_xlabel(say("axis_time"))
    ax.yaxis.set_major_formatter(degree_ticks(say))
    ax.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    ax.grid(True, axis="y")
    began_s = min(d.facts.began_s for d in findings.running)
    ended_s = max(d.facts.began_s + d.facts.seconds for d in findings.running)
    ax.set_xlim(began_s, max(ended_s, began_s + 1.0))
    clock_ticks(ax.xaxis, ended_s - began_s, 6, say)


def middle_of_how_many(findings: SessionFindings) -> int:
    """Return how many landings of a leg the running median takes: odd, more in a long session."""
    landings = findings.facts.steps // 2
    return min(MOST_MIDDLE, max(LEAST_MIDDLE, landings // 40 // 2 * 2 + 1))


def _running_median(ax: Axes, run: Sequence[_Mark], width: int) -> None:
    if len(run) < width:
        return
    t_s, deg = np.array([(mark.t_s, mark.deg) for mark in run], np.float64).T
    windows = np.lib.stride_tricks.sliding_window_view(deg, width)
    middle = np.median(windows, axis=1)
    at_s = t_s[width // 2 : width // 2 + len(middle)]
    ax.plot(at_s, middle, color=look.WHITE, lw=3.0, zorder=3)
    ax.plot(at_s, middle, color=look.INK, lw=1.4, zorder=3.1)
