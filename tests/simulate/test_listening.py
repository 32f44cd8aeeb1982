"""The simulated runner's answers to beats and cues."""

from __future__ import annotations

import numpy as np
import pytest

from station.simulate.gait import Runner
from station.simulate.listening import Listening, ListeningParameters
from station.simulate.parameters import GaitParameters, StepWish
from station.values import Heard, Side, TrueStep


def run(
    rate_spm: float | None,
    seconds: float,
    cues: list[tuple[float, Side]] | None = None,
    beat_ends_s: float = 1e9,
    seed: int = 1,
    **settings: float,
) -> tuple[TrueStep, ...]:
    """Let only the listening decide: contacts without a body (contact `n + 2` at toe-off `n`)."""
    listening = Listening(ListeningParameters(seed=seed, **settings))  # type: ignore[arg-type]
    for event in events_of(rate_spm, seconds, cues, beat_ends_s):
        listening.hear(event)  # told far ahead: only what has sounded may matter
    steps = [TrueStep(0.0, 0.26, "left", 0.0, 6.0), TrueStep(0.36, 0.62, "right", 0.0, 6.0)]
    while steps[-1].t_contact_s < seconds:
        side = steps[-2].side
        natural = StepWish(60.0 / 165.0, 6.0, 6.0)
        wish = listening.next_step(
            len(steps), side, steps[-2].t_toe_off_s, steps[-1].t_contact_s, natural
        )
        t_s = steps[-1].t_contact_s + wish.step_time_s
        steps.append(TrueStep(t_s, t_s + 0.26, side, 0.0, wish.shank_deg))
    return tuple(steps)


def events_of(
    rate_spm: float | None,
    seconds: float,
    cues: list[tuple[float, Side]] | None = None,
    beat_ends_s: float = 1e9,
) -> list[Heard]:
    events: list[Heard] = []
    if rate_spm is not None:
        times_s = np.arange(1.0, min(seconds, beat_ends_s), 60.0 / rate_spm)
        events = [Heard("beat", float(t), None, 60.0 / rate_spm) for t in times_s]
    events += [Heard("ahead", t, side) for t, side in cues or []]
    return sorted(events, key=lambda e: e.t_s)


def test_a_whole_runner_locks_and_answers() -> None:
    way = GaitParameters(rate_spm=165.0, seed=3)
    runner = Runner(way, Listening(ListeningParameters(seed=3, lapse_share=0.0)))
    events = events_of(174.0, 24.0, [(12.0 + 0.7 * k, "left") for k in range(5)])
    for t_s in np.arange(0.0, 24.0, 0.1):
        while events and events[0].t_s <= t_s + 0.2:
            runner.hear(events.pop(0))
        runner.figure_at(float(t_s))
    off = offsets_s(runner.truth(), 174.0, 11.0)
    assert abs(np.exp(2j * np.pi * off * 174.0 / 60.0).mean()) > 0.9
    assert (
        mean_shank(runner.truth(), "left", 17, 24) < mean_shank(runner.truth(), "left", 0, 12) - 2
    )


def offsets_s(steps: tuple[TrueStep, ...], rate_spm: float, after_s: float) -> np.ndarray:
    period_s = 60.0 / rate_spm
    late = np.array([s.t_contact_s for s in steps if s.t_contact_s > after_s]) - 1.0
    return late - period_s * np.round(late / period_s)


@pytest.mark.parametrize("rate_spm", [158.0, 165.0, 174.0, 182.0])
@pytest.mark.parametrize("seed", [1, 2])
def test_locks_to_the_beat_a_little_early(rate_spm: float, seed: int) -> None:
    off = offsets_s(run(rate_spm, 30.0, seed=seed), rate_spm, 11.0)
    turns = np.exp(2j * np.pi * off * rate_spm / 60.0)
    assert abs(turns.mean()) > 0.9  # circular concentration
    assert -0.030 < off.mean() < -0.010
    assert 0.003 < off.std() < 0.020


def test_own_rate_without_a_beat_and_after_it() -> None:
    def rate(steps: tuple[TrueStep, ...], a: float, b: float) -> float:
        t = [s.t_contact_s for s in steps if a < s.t_contact_s < b]
        return 60.0 * (len(t) - 1) / (t[-1] - t[0])

    assert rate(run(None, 12.0), 2.0, 12.0) == pytest.approx(165.0, rel=0.01)
    steps = run(180.0, 40.0, beat_ends_s=18.0)
    assert rate(steps, 11.0, 18.0) == pytest.approx(180.0, rel=0.01)
    assert rate(steps, 28.0, 40.0) == pytest.approx(165.0, rel=0.015)


def test_does_not_follow_a_beat_beyond_its_reach() -> None:
    steps = run(240.0, 20.0)
    gaps = np.diff([s.t_contact_s for s in steps if s.t_contact_s > 10.0])
    assert gaps.mean() > 60.0 / 165.0 * 0.78


def mean_shank(steps: tuple[TrueStep, ...], side: Side, a: float, b: float) -> float:
    return float(np.mean([s.shank_deg for s in steps if s.side == side and a < s.t_contact_s < b]))


def test_reach_shortens_after_cues_on_that_leg_and_drifts_back() -> None:
    cues: list[tuple[float, Side]] = [(5.0 + 0.8 * k, "left") for k in range(5)]
    steps = run(None, 300.0, cues, lapse_share=0.0)
    before, after = mean_shank(steps, "left", 0, 5), mean_shank(steps, "left", 10, 16)
    assert after < before - 2.5
    assert mean_shank(steps, "right", 10, 16) == pytest.approx(
        mean_shank(steps, "right", 0, 5), abs=1.0
    )
    assert mean_shank(steps, "left", 270, 300) == pytest.approx(before, abs=1.0)


def test_lapses_happen() -> None:
    steady = run(None, 60.0, lapse_share=0.0)
    lapsing = run(None, 60.0, lapse_share=0.05)
    more = [b.shank_deg - a.shank_deg for a, b in zip(steady, lapsing, strict=True)]
    assert 0.05 < np.mean(np.array(more) > 3.0) < 0.5


def test_same_events_same_run_and_nothing_later_matters() -> None:
    assert run(176.0, 8.0, [(4.0, "right")]) == run(176.0, 8.0, [(4.0, "right")])
    plain, cued = run(None, 8.0), run(None, 8.0, [(6.0, "left")])
    assert [s for s in plain if s.t_contact_s < 6.0] == [s for s in cued if s.t_contact_s < 6.0]


def test_gains_that_never_settle_are_refused() -> None:
    with pytest.raises(ValueError, match="below 1"):
        ListeningParameters(phase_gain=1.5)


def test_the_other_leg_follows_by_its_share() -> None:
    cues: list[tuple[float, Side]] = [(5.0 + 0.8 * k, "left") for k in range(5)]
    alone, both = (
        run(None, 16.0, cues, lapse_share=0.0, other_leg=share, habit_s=1e9) for share in (0.0, 0.5)
    )
    for side, share in (("left", 1.0), ("right", 0.5)):
        less_deg = mean_shank(both, side, 0, 5) - mean_shank(both, side, 12, 16)  # type: ignore[arg-type]
        told_deg = mean_shank(alone, "left", 0, 5) - mean_shank(alone, "left", 12, 16)
        assert less_deg == pytest.approx(share * told_deg, abs=0.8)
