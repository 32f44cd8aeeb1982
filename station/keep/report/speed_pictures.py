"""The pictures by belt setting: shares before, with and after; landing and step rate by speed."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from functools import partial

from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from station.coach.baseline import SAME_SPEED_MPS, same_belt
from station.coach.practice import PHASES, SIDES, BeltPractice, LegPractice, Phase
from station.keep.report import chart, look
from station.keep.report.findings import HELD_WITHIN, DrillFigures, LegFigures
from station.keep.report.picture import Picture, degree_ticks, shared_span
from station.keep.report.say import Say
from station.values import Belt, Side


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
    svg = chart.draw(
        partial(_phases, rows, labels, say), 0.36 + 0.36 * len(rows), f"phases-{side}",
        chart.rows_room(labels),
    )  # fmt: skip
    marks = {f"bar-{phase}" for *_, phase in rows} | {"interval"}
    if not all(leg.near for _, leg, _ in rows):
        marks.add("pale")
    return Picture(svg, say("alt_phases", side=side), marks=frozenset(marks))


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
    chart.rows_axis(ax, labels)
    chart.percent_axis(ax)


def landing_by_speed(drills: Sequence[DrillFigures], name: str, say: Say) -> dict[Side, Picture]:
    """Draw the median landing at each belt speed, for each leg on the same axes.

    Args:
        drills: Of one incline.
        name: Keeps these pictures apart from those of another incline.
        say: Writes the words.

    Returns:
        By leg; a leg without a known landing has none.
    """
    legs = {side: [d for d in drills if d.leg(side).median_deg is not None] for side in SIDES}
    known = {side: found for side, found in legs.items() if found}
    if not known:
        return {}
    span = shared_span(v for side, found in known.items() for d in found for v in _reach(d, side))
    speeds = _speeds([d for found in known.values() for d in found])
    found: dict[Side, Picture] = {}
    for side, mine in known.items():
        marks = {"dot" if d.facts.coached else "ring" for d in mine}
        marks |= {"tick"} if any(d.leg(side).limit for d in mine) else set()
        paint = partial(_by_speed, mine, side, speeds, span, say)
        svg = chart.draw(paint, 2.2, f"speed-{name}-{side}", chart.Room())
        found[side] = Picture(svg, say("alt_speed", side=side), marks=frozenset(marks))
    return found


def _reach(drill: DrillFigures, side: Side) -> Iterator[float]:
    """Yield the ends of what is drawn of a leg in a drill, degrees."""
    leg = drill.leg(side)
    assert leg.median_deg is not None
    spread_deg = leg.spread_deg or 0.0
    yield from (leg.median_deg - spread_deg, leg.median_deg + spread_deg)
    if leg.limit is not None:
        yield leg.limit.deg


def _by_speed(
    drills: Sequence[DrillFigures], side: Side, speeds: Sequence[float],
    span: tuple[float, float], say: Say, ax: Axes,
) -> None:  # fmt: skip
    ax.set_ylim(*span)
    for at, speed in enumerate(speeds):
        mine = [d for d in drills if _is_at(d, speed)]
        for i, drill in enumerate(mine):
            leg = drill.leg(side)
            x = at + (i - (len(mine) - 1) / 2.0) * min(0.24, 0.8 / len(mine))
            _landing_mark(ax, x, leg, drill.facts.coached)
    ax.set_xticks(range(len(speeds)), [say.speed(speed) for speed in speeds])
    ax.set_xlim(-0.6, len(speeds) - 0.4)
    ax.yaxis.set_major_formatter(degree_ticks(say))
    ax.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    ax.grid(True, axis="y")


def _speeds(drills: Sequence[DrillFigures]) -> list[float]:
    """Return the belt speeds, rising; settings that count as the same one are one."""
    found: list[float] = []
    for drill in drills:
        if not any(_is_at(drill, speed) for speed in found):
            found.append(drill.facts.belt_mps or 0.0)
    return sorted(found)


def _is_at(drill: DrillFigures, speed_mps: float) -> bool:
    return abs((drill.facts.belt_mps or 0.0) - speed_mps) <= SAME_SPEED_MPS


def _landing_mark(ax: Axes, x: float, leg: LegFigures, coached: bool) -> None:
    deg, spread = leg.median_deg, leg.spread_deg or 0.0
    assert deg is not None
    ax.plot([x, x], [deg - spread, deg + spread], color=look.WITHIN, lw=1.4, zorder=2)
    ax.plot(x, deg, "o", ms=6.5, mfc=look.WITHIN if coached else look.PAPER, mec=look.WITHIN,
            mew=1.4, zorder=3)  # fmt: skip
    if leg.limit is not None:
        ax.plot([x - 0.09, x + 0.09], [leg.limit.deg] * 2, color=look.INK, lw=1.6, zorder=4)


def faster_at_the_same_rate(drills: Sequence[DrillFigures]) -> bool:
    """Return whether one rate was asked for again when the belt had got faster.

    Args:
        drills: Of one incline, in order of time.
    """
    asked = [(d.facts.belt_mps, d.facts.target_spm) for d in _asked(drills)]
    return any(
        earlier_mps is not None and later_mps is not None and before_spm is not None
        and later_mps - earlier_mps > SAME_SPEED_MPS and round(before_spm) == round(after_spm or 0)
        for (earlier_mps, before_spm), (later_mps, after_spm) in itertools.combinations(asked, 2)
    )  # fmt: skip


def _asked(drills: Sequence[DrillFigures]) -> list[DrillFigures]:
    return [d for d in drills if d.rate is not None and d.facts.target_spm and d.facts.belt]


def rate_by_speed(drills: Sequence[DrillFigures], say: Say, name: str) -> Picture | None:
    """Draw the step rate against its target at each belt speed, at one incline."""
    found = _asked(drills)
    if not found:
        return None
    svg = chart.draw(partial(_rates, found, say), 2.2, f"rate-{name}", chart.Room())
    marks = {"dot" if d.held else "ahead" for d in found} | {"coached"}
    return Picture(svg, say("alt_rate"), marks=frozenset(marks))


def _rates(drills: Sequence[DrillFigures], say: Say, ax: Axes) -> None:
    speeds = _speeds(drills)
    values: list[float] = []
    for at, speed in enumerate(speeds):
        mine = [d for d in drills if _is_at(d, speed)]
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


def by_incline(drills: Sequence[DrillFigures]) -> list[tuple[float, list[DrillFigures]]]:
    """Return the runs whose belt is known and was kept, by incline: these are never mixed."""
    groups: list[tuple[float, list[DrillFigures]]] = []
    for drill in drills:
        belt = drill.facts.belt
        if belt is None or drill.facts.kind != "run" or not drill.belt_kept:
            continue
        for incline, group in groups:
            first = group[0].facts.belt
            level = first is not None and same_belt(Belt(belt.speed_mps, incline), belt)
            if level:
                group.append(drill)
                break
        else:
            groups.append((belt.incline_percent, [drill]))
    return groups
