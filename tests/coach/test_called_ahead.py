"""How often a landing is called ahead, with the measurement's error in the way.

On paper. The true angle of a landing scatters about the leg's mean m with SD t, the measurement
adds an error with SD e, so what is seen scatters with s = sqrt(t^2 + e^2). The limit from the own
baseline is median + spread, both of what is *seen*: L = b + s for a baseline mean b. A landing is
called ahead when it is seen beyond L by more than its own standard error: beyond T = b + s + e.
So the share called ahead is 1 - Phi((T - m) / s).

With t = 1 deg and the error of the near leg, e = 1.5 deg, s = 1.80, L = 7.80 and T = 9.30 for
b = 6 deg:

    m = 6 (as the baseline)   (9.30 -  6) / 1.80 =  1.83    3.3 % ahead
    m = 11                    (9.30 - 11) / 1.80 = -0.94   82.7 % ahead

and of the far leg, e = 2 deg: s = 2.24, T = 10.24; 2.9 % and 63.4 %.

So under 5 % at 6 deg is honest: it follows from the rule, whatever e is from 0.85 times t on. It is
a mean over runners: a baseline of n landings a leg has a median good to 1.25 s / sqrt(n) and a
spread good to 1.17 s / sqrt(n); with four minutes of baseline (330 a leg) T is good to 0.17 deg,
which turns 3.3 % into 2.7 to 4.1 % from runner to runner.

Over 95 % at 11 deg does *not* follow, and no other limit would give both from the reading of one
landing: they need 1.645 s + 1.645 s <= 5 deg, so s <= 1.52 and e <= 1.15 deg. The median of the
last three readings of a leg scatters by 0.670 s only, 1.21 deg near and 1.50 far.
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

import pytest
from courses import run_course

from station.coach.plan import Drill, Gate, Plan
from station.coach.verdict import Baseline, LandingLimits, baseline_from, landing_limits
from station.simulate.landing_ways import Eyesight, LandingWay
from station.simulate.landings import LandingRunner
from station.values import Belt, Landing, Side

MPH = 0.44704
SIDES: tuple[Side, ...] = ("left", "right")
EYES = Eyesight(near="right", near_sd_deg=1.5, far_sd_deg=2.0)
SHARP_EYES = Eyesight(near="right", near_sd_deg=1.0, far_sd_deg=1.0)
RUNNERS = 6
BASELINE_S, RUN_S = 240.0, 360.0
PER_LEG = 165 / 60 / 2


def drill(name: str, seconds: float, **also: object) -> Drill:
    given = {"belt_speed_mps": 6 * MPH, "belt_speed_text": "6 mph", "beat": False, **also}
    return Drill(name, seconds=seconds, **given)  # type: ignore[arg-type]


AS_YOU_ARE = drill("As you are", BASELINE_S, feedback="off")


def runner(shank_deg: float, seed: int, eyes: Eyesight, belt_mps: float = 0.0) -> LandingRunner:
    """A forefoot runner who hears nothing: what is called ahead then changes nothing."""
    way = LandingWay(shank_deg=shank_deg, spread_deg=1.0, belt_mps=6 * MPH, seed=seed)
    return LandingRunner(way, eyesight=eyes, belt_mps=belt_mps)


def landings(one: LandingRunner, seconds: float) -> list[Landing]:
    made, now_s = [], 0.0
    while now_s < seconds:
        fall = one.next(now_s)
        assert fall is not None
        made.append(fall.landing)
        now_s = fall.landing.t_verdict_s
    return made


@lru_cache
def baseline_of(seed: int, eyes: Eyesight) -> Baseline:
    untouched = landings(runner(6.0, seed, eyes, 6 * MPH), BASELINE_S)
    return baseline_from(untouched, Belt(6 * MPH))


@lru_cache
def ran(shank_deg: float, seed: int, eyes: Eyesight) -> list[Landing]:
    return landings(runner(shank_deg, seed, eyes, 6 * MPH), RUN_S)


@lru_cache
def called_ahead(
    shank_deg: float, side: Side, eyes: Eyesight = EYES, runners: int = RUNNERS
) -> float:
    """Of all runners, each under the limit from the baseline that it had at 6 deg."""
    verdicts = []
    for seed in range(runners):
        limits: LandingLimits = landing_limits(drill("Run", RUN_S), baseline_of(seed, eyes))
        assert limits.of(side).origin == "baseline"
        made = ran(shank_deg, 100 + seed, eyes)
        verdicts += [limits.judge(one) for one in made if one.side == side]
    judged = [verdict for verdict in verdicts if verdict is not None]
    assert len(judged) > 0.98 * runners * RUN_S * PER_LEG
    return judged.count("ahead") / len(judged)


def on_paper(shank_deg: float, side: Side) -> float:
    error_deg = EYES.sd_deg(side)
    seen_deg = math.hypot(1.0, error_deg)
    return 1.0 - NormalDist(shank_deg, seen_deg).cdf(6.0 + seen_deg + error_deg)


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("shank_deg", [6.0, 8.5, 11.0, 14.0])
def test_the_share_called_ahead_is_the_one_on_paper(shank_deg: float, side: Side) -> None:
    """Within three standard errors of what six baselines of four minutes leave open."""
    error_deg = EYES.sd_deg(side)
    seen_deg = math.hypot(1.0, error_deg)
    landings_of_leg = RUNNERS * BASELINE_S * PER_LEG
    limit_off_deg = math.hypot(1.25, 1.17) * seen_deg / math.sqrt(landings_of_leg)
    slope = NormalDist(shank_deg, seen_deg).pdf(6.0 + seen_deg + error_deg)
    share = on_paper(shank_deg, side)
    by_luck = math.sqrt(share * (1.0 - share) / (RUNNERS * RUN_S * PER_LEG))
    off = 3.0 * math.hypot(by_luck, slope * limit_off_deg) + 0.005  # the stated error varies too
    assert called_ahead(shank_deg, side) == pytest.approx(share, abs=off)


@pytest.mark.parametrize("side", SIDES)
def test_one_who_lands_as_in_the_baseline_is_seldom_called_ahead(side: Side) -> None:
    assert called_ahead(6.0, side) < 0.05


@pytest.mark.parametrize(
    "side",
    [
        pytest.param(
            side,
            marks=pytest.mark.xfail(
                strict=True,
                raises=AssertionError,
                reason=f"one landing's reading is off by {EYES.sd_deg(side):g} deg (SD): {share} % "
                "are called ahead, on paper too; with any limit that spares 95 % at 6 deg, an "
                "error of 1.15 deg is the most that would do",
            ),
        )
        for side, share in (("left", 63), ("right", 83))
    ],
)
def test_one_who_lands_five_degrees_further_ahead_is_called_so(side: Side) -> None:
    assert called_ahead(11.0, side) > 0.95


def test_with_an_error_of_one_degree_both_hold() -> None:
    """The bounds themselves can be met, by a measurement that scatters by 1 deg: 4.4 and 96.6 %."""
    for shank_deg, low, high in ((6.0, 0.0, 0.05), (11.0, 0.95, 1.0)):
        legs = [called_ahead(shank_deg, side, SHARP_EYES, 2 * RUNNERS) for side in SIDES]
        assert low <= sum(legs) / 2 < high


# --- through the whole session ------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(2))
def test_one_who_lands_as_in_the_baseline_passes_the_gate(seed: int) -> None:
    gated = drill("Gate", 600.0, advance=Gate(0.9, 120.0))
    course = run_course(Plan("Both", (AS_YOU_ARE, gated)), runner(6.0, seed, EYES))
    assert course.ended == "plan done"
    assert course.whys == ["length", "mastered"]
    limits = course.coaching.runs[1].limits
    assert limits.left.origin == limits.right.origin == "baseline"
    assert course.share_ahead(1) < 0.06  # one runner's, over two minutes: a mean of 3 %, SD 1


def test_one_who_lands_further_ahead_does_not_pass_the_gate() -> None:
    gated = drill("Gate", 300.0, advance=Gate(0.9, 120.0))
    known = (baseline_of(1, EYES),)
    course = run_course(Plan("Gate", (gated,)), runner(11.0, 1, EYES), known=known)
    assert "mastered" not in course.whys
    assert course.share_ahead(0) > 0.6
