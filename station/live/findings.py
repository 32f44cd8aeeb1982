"""What a session finds out beside its drills: the cues' effect, the rate test; and it in words."""

from __future__ import annotations

from collections.abc import Sequence

from station.coach.baseline import Baselines
from station.coach.cue_effect import CueEffect, cue_effect
from station.coach.rate_test import RateBlock, RateTest, rate_test
from station.coach.summary import LegSummary
from station.live.record import DrillRun
from station.values import Belt


def effect_of_cues(runs: Sequence[DrillRun]) -> CueEffect | None:
    """Return what cues did to the next landings; None: none was withheld."""
    return cue_effect([run.records for run in runs if run.drill.withhold > 0.0])


def rate_test_of(runs: Sequence[DrillRun], baselines: Baselines) -> RateTest | None:
    """Return what the blocks of a rate test came to; None: the plan has none.

    The runner's own rate is the baseline's at that belt setting; without one it is what was
    measured in the block at the own rate.
    """
    tested = [run for run in runs if run.drill.rate_test]
    blocks = [_block(run) for run in tested]
    own_spm = None
    if blocks:
        baseline = baselines.at(blocks[0].belt)
        own_spm = None if baseline is None else baseline.step_rate_spm
    if own_spm is None:
        own_spm = next((run.target_spm for run in tested if _is_own(run)), None)
    return rate_test(blocks, own_spm)


def _is_own(run: DrillRun) -> bool:
    rate = run.drill.step_rate
    return rate is not None and rate.own and rate.change_percent == 0.0


def _block(run: DrillRun) -> RateBlock:
    told = run.summary()
    belt = None if run.belt_mps is None else Belt(run.belt_mps, run.drill.incline_percent)
    return RateBlock(
        run.number, run.drill.name, belt, run.target_spm, told.step_rate_spm,
        _leg(told.left), _leg(told.right),
    )  # fmt: skip


def _leg(leg: LegSummary) -> tuple[int, int]:
    return leg.within, leg.within + leg.ahead


def findings_told(
    runs: Sequence[DrillRun], effect: CueEffect | None, test: RateTest | None
) -> tuple[str, ...]:
    """Return what was found in words, one line each, for the terminal."""
    lines = [line for run in runs if (line := _felt(run)) is not None]
    if effect is not None:
        lines.append(_effect(effect))
    if test is not None:
        lines += _test(test)
    return tuple(lines)


def _felt(run: DrillRun) -> str | None:
    felt = run.felt
    if felt is None or felt.good_of_ten is None or felt.share_within is None:
        return None
    note = "" if felt.note is None else f" ({felt.note})"
    return (
        f"{run.drill.name}: felt {felt.good_of_ten} of ten, counted "
        f"{10.0 * felt.share_within:.1f} of ten within{note}"
    )


def _effect(effect: CueEffect) -> str:
    shank, share = effect.shank_deg, effect.share_ahead
    if shank is None:
        return f"effect of a cue: {effect.note}"
    told = (
        f"effect of a cue on the next landing of that leg: {shank.difference:+.1f} deg of shank "
        f"angle (95 %: {shank.low:+.1f} to {shank.high:+.1f})"
    )
    if share is not None:
        told += (
            f", {100.0 * share.after_cued:.0f} % ahead instead of "
            f"{100.0 * share.after_withheld:.0f} %"
        )
    return f"{told}; {effect.cued} cued, {effect.withheld} withheld"


def _test(test: RateTest) -> list[str]:
    if test.smallest_rise_percent is None or test.step_rate_spm is None:
        lines = [f"rate test: {test.note}"]
    else:
        lines = [
            f"rate test: {test.smallest_rise_percent:+.1f} % ({test.step_rate_spm:.0f} steps a "
            "minute) is the smallest rise with both legs within the limit"
        ]
    lines += [f"rate test: {b.name} left out, {b.left_out}" for b in test.blocks if b.left_out]
    return lines
