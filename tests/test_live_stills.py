"""Landings frozen at their contact, and which verdicts a fading drill still shows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from loop_parts import VIEW, Bench, FakeMeter, landing

from station.coach.cueing import fading_interval
from station.coach.plan import Drill
from station.live.record import DrillRun, Judged
from station.live.stills import FRAMES, StillKeeper
from station.live.told import Told
from station.values import Frame, Verdict, View

BIG = View(300.0, "right", (640.0, 600.0))


def frame(index: int, fps: float = 60.0) -> Frame:
    """A picture that tells its own number in every pixel."""
    return Frame(index / fps, index, np.full((720, 1280, 3), index % 256, np.uint8))


def judged(
    t_s: float, verdict: Verdict | None, shank_deg: float | None = 6.0, near: bool = True
) -> Judged:
    one = replace(
        landing(1, t_s, shank_deg), side="right", near=near, knee_px=(600.0, 460.0),
        ankle_px=(620.0, 580.0), heel_px=(610.0, 598.0), toe_px=(680.0, 596.0),
    )  # fmt: skip
    return Judged(one, verdict, 8.0, None, None)


def test_a_still_is_the_picture_of_the_contact_cut_round_the_leg() -> None:
    keeper = StillKeeper()
    for index in range(30):
        keeper.frame(frame(index))
    keeper.landing(judged(22 / 60.0 + 0.004, "ahead"), "ahead", BIG)
    assert keeper.last is not None
    still = keeper.last
    assert still.frame.index == 22
    assert (still.frame.image == 22).all()
    high, wide = still.frame.image.shape[:2]
    assert (high, wide) < (500, 500)
    # The same place in the world, in the cut's own pixels.
    for own, whole in ((still.mark.knee_px, (600.0, 460.0)), (still.mark.toe_px, (680.0, 596.0))):
        np.testing.assert_allclose(still.view.to_bay(np.array(own)), BIG.to_bay(np.array(whole)))
        assert 0.0 <= own[0] < wide
        assert 0.0 <= own[1] < high


def test_a_still_keeps_no_part_of_the_cameras_memory() -> None:
    keeper = StillKeeper()
    shot = frame(5)
    keeper.frame(shot)
    keeper.landing(judged(shot.t_s, "within"), "within", BIG)
    assert keeper.last is not None
    assert not np.shares_memory(keeper.last.frame.image, shot.image)


@pytest.mark.parametrize(
    ("one", "told", "view"),
    [
        (judged(5 / 60.0, "ahead", near=False), "ahead", BIG),  # hidden by the near leg
        (judged(5 / 60.0, None), None, BIG),
        (judged(5 / 60.0, "ahead"), None, BIG),  # not told
        (judged(5 / 60.0, "ahead"), "ahead", None),
        (judged(1.0, "ahead"), "ahead", BIG),  # no picture of that instant
    ],
)
def test_what_is_not_to_be_seen_makes_no_still(
    one: Judged, told: Verdict | None, view: View | None
) -> None:
    keeper = StillKeeper()
    for index in range(10):
        keeper.frame(frame(index))
    keeper.landing(one, told, view)
    assert keeper.pair() == ()


def test_the_best_is_the_one_within_whose_shank_is_nearest_to_the_plumb_line() -> None:
    keeper = StillKeeper()
    told: list[tuple[Verdict, float]] = [
        ("within", 7.0), ("within", 4.0), ("within", 5.0), ("ahead", 2.0),
    ]  # fmt: skip
    for index, (verdict, deg) in enumerate(told):
        keeper.frame(frame(index))
        keeper.landing(judged(index / 60.0, verdict, deg), verdict, BIG)
    last, best = keeper.pair()
    assert last.mark.shank_deg == 2.0
    assert (best.mark.verdict, best.mark.shank_deg) == ("within", 4.0)


def test_a_stills_mark_is_beyond_its_limit_just_when_the_word_is_ahead() -> None:
    """A landing within its own error of the limit was told to be within."""
    keeper = StillKeeper()
    keeper.frame(frame(5))
    one = judged(5 / 60.0, "within", 8.4)
    assert one.border_deg is not None
    assert one.border_deg > 8.4 > one.limit_deg
    keeper.landing(one, "within", BIG)
    assert keeper.last is not None
    mark = keeper.last.mark
    assert mark.limit_px is not None
    assert mark.ankle_on_belt_px[0] < mark.limit_px[0]


def test_old_pictures_are_let_go() -> None:
    keeper = StillKeeper()
    for index in range(100):
        keeper.frame(frame(index))
    assert len(keeper._frames) == FRAMES


LIMITED = Drill("A", belt_speed_mps=2.7, seconds=100.0, landing_limit_deg=8.0, beat=False)


def test_the_key_freezes_the_last_landing_and_lets_it_go() -> None:
    bench = Bench(60, (LIMITED,), keys={20: ["still"], 40: ["still"]})
    bench.run()
    shown = [bool(scene.stills) for scene in bench.painter.scenes]
    assert not any(shown[:20])
    assert all(shown[22:40])
    assert not any(shown[42:])
    still = bench.painter.scenes[30].stills[0]
    assert still.mark.verdict == "ahead"
    assert still.view.px_per_m == VIEW.px_per_m


@pytest.mark.parametrize("feedback", ["off", "summary"])
def test_no_still_tells_a_verdict_that_is_not_told(feedback: str) -> None:
    silent = replace(LIMITED, feedback=feedback)  # type: ignore[arg-type]
    bench = Bench(40, (silent,), keys={10: ["still"]})
    bench.run()
    assert not any(scene.stills for scene in bench.painter.scenes)


def test_a_rest_shows_the_last_landing() -> None:
    rest = Drill("Rest", kind="rest", seconds=3.0)
    bench = Bench(60, (replace(LIMITED, seconds=3.0), rest))
    bench.run()
    resting = [scene for scene in bench.painter.scenes if scene.state == "rest"]
    assert resting
    assert all(scene.stills for scene in resting[2:])


# --- fading -------------------------------------------------------------------------------------


def fading(share_done: float, verdicts: list[Verdict], cued: bool) -> list[Verdict | None]:
    """What is told of landings at one part of a fading drill."""
    told = Told()
    drill = Drill("F", belt_speed_mps=2.7, seconds=100.0, feedback="fading")
    run = DrillRun(1, drill, 0.0, None)  # type: ignore[arg-type]
    return [
        told.verdict(
            Judged(landing(n, float(n), 6.0), v, 8.0, run, float(n) if cued else None), share_done
        )
        for n, v in enumerate(verdicts)
    ]


@pytest.mark.parametrize("share_done", [0.0, 0.25, 0.45, 0.65, 0.95])
def test_a_fading_drill_shows_as_few_landings_within_as_it_would_cue(share_done: float) -> None:
    told = fading(share_done, ["within"] * 48, cued=False)
    assert told.count("within") == 48 // fading_interval(share_done)


def test_a_landing_ahead_that_is_not_cued_any_more_shows_no_verdict() -> None:
    assert fading(0.0, ["ahead"] * 5, cued=False) == ["ahead"] * 5
    assert fading(0.5, ["ahead"] * 5, cued=False) == [None] * 5
    assert fading(0.5, ["ahead"] * 5, cued=True) == ["ahead"] * 5


def test_the_marks_of_a_fading_drill_thin_out_on_the_screen() -> None:
    drill = replace(LIMITED, seconds=24.0, feedback="fading")
    bench = Bench(240, (drill,), meter=FakeMeter(shank_deg=12.0))
    bench.run()
    scenes = bench.painter.scenes
    marks = [min(scene.landings, key=lambda m: m.age_s) for scene in scenes if scene.landings]
    assert all(mark.told == (mark.verdict is not None) for mark in marks), "each was judged"
    newest = [mark.verdict for mark in marks]
    first, last = newest[4:40], newest[-44:-4]
    assert first.count("ahead") > 0.6 * len(first)
    assert last.count("ahead") < 0.3 * len(last)
    late = scenes[-20]
    assert late.drill is not None
    assert late.drill.share_within == ()
    assert all(mark.verdict == "ahead" and mark.cued for mark in late.trail[-2:])
