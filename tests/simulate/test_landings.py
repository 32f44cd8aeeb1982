"""The runner of bare landings: what it does is what it was told, and what is seen has its error."""

from __future__ import annotations

from itertools import groupby, pairwise

import numpy as np
import pytest

from station.simulate.landing_ways import Eyesight, LandingWay
from station.simulate.landings import Footfall, LandingRunner
from station.simulate.listening import Listening, ListeningParameters
from station.values import Heard, Side


def go(runner: LandingRunner, seconds: float, from_s: float = 0.0) -> list[Footfall]:
    made, now_s = [], from_s
    while now_s < from_s + seconds:
        fall = runner.next(now_s)
        now_s = now_s + 0.5 if fall is None else fall.landing.t_verdict_s
        made += [] if fall is None else [fall]
    return made


def test_the_truth_is_what_was_told() -> None:
    way = LandingWay(shank_deg=6.0, right_more_deg=1.0, spread_deg=1.0, rate_spm=170.0)
    falls = go(LandingRunner(way, belt_mps=2.7), 1800.0)
    assert len(falls) == pytest.approx(1800 * 170 / 60, rel=0.002)
    for side, mean_deg in (("left", 5.5), ("right", 6.5)):
        shanks = [f.true.shank_deg for f in falls if f.true.side == side]
        assert np.mean(shanks) == pytest.approx(mean_deg, abs=0.1)
        assert np.std(shanks) == pytest.approx(1.0, abs=0.06)
    sides = [f.true.side for f in falls]
    assert all(a != b for a, b in pairwise(sides))


def test_what_is_seen_has_the_error_that_it_states() -> None:
    eyes = Eyesight(near="left", near_sd_deg=1.5, far_sd_deg=2.0, unjudged=0.02)
    falls = go(LandingRunner(LandingWay(), eyesight=eyes, belt_mps=2.7), 3600.0)
    for side, sd_deg in (("left", 1.5), ("right", 2.0)):
        mine = [f for f in falls if f.true.side == side]
        judged = [f for f in mine if f.landing.shank_deg is not None]
        errors = np.array([f.landing.shank_deg - f.true.shank_deg for f in judged])  # type: ignore[operator]
        assert errors.mean() == pytest.approx(0.0, abs=0.08)
        assert errors.std() == pytest.approx(sd_deg, rel=0.04)
        stated = [f.landing.shank_error_deg for f in judged]
        assert np.mean(stated) == pytest.approx(sd_deg, rel=0.02)  # type: ignore[arg-type]
        assert 1.0 - len(judged) / len(mine) == pytest.approx(0.02, abs=0.01)
        assert {f.landing.near for f in mine} == {side == "left"}
    offs_s = np.array([f.landing.t_contact_s - f.true.t_contact_s for f in falls])
    assert offs_s.std() == pytest.approx(0.004, rel=0.05)
    assert all(f.landing.t_verdict_s > f.landing.t_contact_s for f in falls)
    assert [f.landing.number for f in falls] == list(range(1, len(falls) + 1))


def test_the_same_seed_is_the_same_runner() -> None:
    def made(seed: int) -> list[Footfall]:
        return go(LandingRunner(LandingWay(seed=seed), belt_mps=2.7), 30.0)

    assert made(4) == made(4)
    assert made(4) != made(5)


def test_a_cue_takes_its_known_effect_off_that_leg() -> None:
    ears = ListeningParameters(cue_deg=2.0, cue_spread_deg=0.0, heeds=1.0, lapse_share=0.0)
    runner = LandingRunner(LandingWay(spread_deg=0.0), Listening(ears), belt_mps=2.7)
    before = go(runner, 20.0)
    heard_s = before[-1].landing.t_verdict_s
    runner.hear(Heard("ahead", heard_s, "left"))
    after = go(runner, 3.0, heard_s)
    for side, less_deg in (("left", 2.0), ("right", 0.0)):
        now = next(f.true.shank_deg for f in after if f.true.side == side)
        assert now == pytest.approx(6.0 - less_deg, abs=0.05)


def test_the_beat_is_followed_and_the_reach_goes_with_the_rate() -> None:
    way = LandingWay(spread_deg=0.0, rate_spm=160.0, shank_per_rate_percent=-0.3)
    ears = ListeningParameters(lapse_share=0.0)
    runner = LandingRunner(way, Listening(ears), belt_mps=2.7)
    now_s, beat_s, falls = 0.0, 0.0, []
    while now_s < 90.0:
        while beat_s <= now_s + 0.04:
            runner.hear(Heard("beat", beat_s, period_s=60.0 / 168.0))
            beat_s += 60.0 / 168.0
        fall = runner.next(now_s)
        assert fall is not None
        falls.append(fall)
        now_s = fall.landing.t_verdict_s
    last = falls[-60:]
    spm = 60.0 * 59 / (last[-1].true.t_contact_s - last[0].true.t_contact_s)
    assert spm == pytest.approx(168.0, abs=0.5)
    assert np.mean([f.true.shank_deg for f in last]) == pytest.approx(6.0 - 0.3 * 5.0, abs=0.15)


def test_nobody_runs_on_a_belt_that_stands_and_the_belt_takes_its_time() -> None:
    runner = LandingRunner(LandingWay())
    assert go(runner, 10.0) == []
    there_s = runner.set_belt(3.0, 10.0)
    assert there_s == pytest.approx(20.0, abs=0.1)  # 0.3 m/s each second
    falls = go(runner, 30.0, 10.0)
    assert falls[0].belt_mps < 2.0
    assert falls[-1].belt_mps == pytest.approx(3.0)
    assert np.mean([f.true.shank_deg for f in falls[-20:]]) == pytest.approx(6.3, abs=1.0)
    runner.set_belt(None, 40.0)
    assert go(runner, 20.0, 50.0) == []


def test_away_makes_no_footfall() -> None:
    runner = LandingRunner(LandingWay(away=((10.0, 15.0), (20.0, 21.0))), belt_mps=2.7)
    times_s = [f.true.t_contact_s for f in go(runner, 40.0)]
    assert times_s
    assert not any(10.0 <= t < 15.0 or 20.0 <= t < 21.0 for t in times_s)
    assert runner.away(12.0)
    assert not runner.away(15.0)


@pytest.mark.parametrize("first", ["left", "right"])
def test_hops_are_made_as_told_then_on_the_foot_that_is_asked(first: Side) -> None:
    runner = LandingRunner(LandingWay())
    runner.hop((3, 2), first)
    last = "right" if first == "left" else "left"
    sides = [f.true.side for f in go(runner, 20.0)]
    turns = [(side, len(list(group))) for side, group in groupby(sides)]
    assert turns == [(first, 3), (last, 3), (first, 2), (last, 2)] == runner.hops_made
    runner.asked_foot = "left"
    assert {f.true.side for f in go(runner, 2.0, 20.0)} == {"left"}


def test_mistakes_are_one_hop_off_and_as_many_as_told() -> None:
    runner = LandingRunner(LandingWay(hop_mistakes=0.3, seed=9))
    runner.hop((5,) * 200)
    go(runner, 1200.0)
    counts = [n for _, n in runner.hops_made]
    assert set(counts) == {4, 5, 6}
    assert np.mean([n != 5 for n in counts]) == pytest.approx(0.3, abs=0.07)


def test_a_tired_runner_reaches_further() -> None:
    way = LandingWay(tires_from_s=60.0, tired_deg_per_minute=3.0)
    falls = go(LandingRunner(way, belt_mps=2.7), 120.0)
    late = [f.true.shank_deg for f in falls if f.true.t_contact_s > 110.0]
    fresh = [f.true.shank_deg for f in falls if f.true.t_contact_s < 60.0]
    assert np.mean(late) - np.mean(fresh) == pytest.approx(2.75, abs=0.5)


def test_what_is_felt_is_off_by_what_was_told_and_stays_a_count() -> None:
    assert LandingRunner(LandingWay(felt_more=0.3)).felt_of_ten(0.5) == 8
    assert LandingRunner(LandingWay(felt_more=0.3)).felt_of_ten(0.9) == 10
    assert LandingRunner(LandingWay(felt_more=-0.3)).felt_of_ten(0.1) == 0


@pytest.mark.parametrize("wrong", [{"rate_spm": 20.0}, {"hop_mistakes": 1.5}, {"spread_deg": -1.0}])
def test_what_nobody_can_do_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=f"{next(iter(wrong))} is .*; allowed: "):
        LandingWay(**wrong)  # type: ignore[arg-type]
