"""The picture of every landing of a leg over the time of a session."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator

from station.keep.report import chart, look
from station.keep.report.findings import SessionFindings
from station.keep.report.limit_course import limit_course
from station.keep.report.picture import Picture, degree_ticks
from station.keep.report.say import Say
from station.values import Side, StepRecord

MOST_DOTS = 1500
"""Of a leg; of more landings every second, third ... is drawn."""
LEAST_MIDDLE, MOST_MIDDLE = 9, 41
"""Landings in the running median, by how many there are."""


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
    svg = chart.draw(
        partial(_time, findings, side, rows, each, say), 2.5, f"time-{side}", chart.LABELLED
    )
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
    ax.yaxis.set_major_formatter(degree_ticks(say))
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
