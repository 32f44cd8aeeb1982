"""Beat and cues through the whole loop, in lock step: strides, feet, ramps, gap, praise, pause."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from loop_parts import DRILL, Bench, FakeMeter

from station.coach.feedback import FeedbackRule
from station.coach.plan import Drill, StepRate
from station.coach.summary import beat_summary
from station.live import Coaching, Session
from station.live.scenes import OFFSET_STEPS
from station.sound.tones import cue_tone
from station.values import CueKind, Heard, Landing, Observation, Pose


@dataclass
class Turning(FakeMeter):
    """Lands ahead with its first step and within from then on; `late_s` after the grid of 0.4 s."""

    within_from: int = 10_000
    late_s: float = 0.0
    shown_spm: float | None = 150.0

    def push(self, pose: Pose) -> Observation:
        seen: Observation = super().push(pose)
        moved: tuple[Landing, ...] = tuple(
            replace(
                one,
                t_contact_s=one.t_contact_s + self.late_s,
                shank_deg=0.0 if one.number >= self.within_from else one.shank_deg,
            )
            for one in seen.landings
        )
        if moved:
            self.open[-1:] = moved
        return replace(seen, landings=moved, step_rate_spm=self.shown_spm)


def bench(count: int, drill: Drill, meter: Any = None, **also: Any) -> Any:
    return Bench(count, (drill,), meter or Turning(), **also)


def kinds(heard: list[Heard]) -> list[str]:
    return [event.kind for event in heard]


@pytest.mark.parametrize("late_s", [-0.05, 0.0, 0.03])
def test_with_one_beat_per_stride_offsets_and_scores_are_as_with_one_per_step(
    late_s: float,
) -> None:
    rows: dict[str, list[float]] = {}
    scores = {}
    for every in ("step", "stride"):
        made = bench(80, replace(DRILL, beat_every=every, feedback="off"), Turning(late_s=late_s))
        made.run()
        rows[every] = [row.beat_offset_s for row in made.rows.rows[1:]]
        scores[every] = made.session.drills()[0]["beat"]
        beats = [h for h in made.source.heard if h.kind == "beat"]
        gaps = np.diff([b.t_s for b in beats])
        assert gaps == pytest.approx(np.full(len(gaps), 0.4 if every == "step" else 0.8), abs=1e-4)
        assert set(kinds(made.source.heard)) == {"beat"}, "nobody hears a silent place"
    assert rows["stride"] == pytest.approx(rows["step"], abs=1e-6)
    assert scores["stride"] == scores["step"]
    assert scores["stride"]["share_locked"] == 1.0


def test_the_pulse_follows_the_beats_that_sound_and_the_offset_the_steps() -> None:
    made = bench(80, replace(DRILL, beat_every="stride", feedback="off"), Turning(late_s=0.03))
    made.run()
    beats = [h.t_s for h in made.source.heard]
    last = [s for s in made.painter.scenes if s.t_s > 5.0]
    assert len(last) > 10
    for scene in last:
        rhythm = scene.rhythm
        assert rhythm.beat_period_s == pytest.approx(0.8)
        assert rhythm.step_period_s == pytest.approx(0.4)
        assert rhythm.beat_age_s == pytest.approx(
            scene.t_s - max(t for t in beats if t <= scene.t_s + 1e-9), abs=1e-6
        )
        shown = beat_summary([r.beat_offset_s for r in made.rows.rows[2:]], 0.4)
        assert rhythm.offset_s == pytest.approx(shown.mean_offset_s, abs=1e-3)
        assert rhythm.offset_share == pytest.approx(rhythm.offset_s / 0.4)


def test_the_shown_offset_is_of_the_last_steps_in_each_picture() -> None:
    class Drifting(Turning):
        def push(self, pose: Pose) -> Observation:
            self.late_s = 0.0005 * pose.index
            return super().push(pose)

    made = bench(100, replace(DRILL, feedback="off"), Drifting())
    made.run()
    drawn = {round(scene.t_s, 1): scene.rhythm.offset_s for scene in made.painter.scenes}
    for steps in (14, 20, 24):  # the n-th is told with frame 4 n - 1
        last = [row.beat_offset_s for row in made.rows.rows[steps - OFFSET_STEPS : steps]]
        summary = beat_summary(last, 0.4)
        assert summary is not None
        for frame in range(4 * steps - 1, 4 * steps + 3):
            assert drawn[frame / 10.0] == pytest.approx(summary.mean_offset_s, abs=1e-9)


def test_the_beats_take_the_sides_of_the_feet_that_step_on_them() -> None:
    made = bench(60, replace(DRILL, feedback="off"))
    made.run()
    beats = [h for h in made.source.heard if h.kind == "beat"]
    assert beats[0].side is None, "not known before anybody has stepped"
    named = [b for b in beats if b.side is not None]
    assert len(named) >= 6
    landings = {round(r.step.t_contact_s, 3): r.step.side for r in made.rows.rows}
    for beat in named[:-1]:
        nearest = min(landings, key=lambda t: abs(t - beat.t_s))
        assert landings[nearest] == beat.side
    gaps = np.diff([b.t_s for b in beats])
    assert gaps == pytest.approx(np.full(len(gaps), 0.4), abs=1e-4), "no beat was moved for it"


def test_cues_within_the_gap_are_counted_in_the_session() -> None:
    made = bench(40, DRILL)
    made.run()
    # one landing ahead each 0.4 s, at least 0.6 s between two cues: every second one
    assert made.coaching.cue_counts() == {
        "sounded": 5, "withheld_by_gap": 5, "withheld_at_random": 0, "stale": 0,
    }  # fmt: skip
    assert kinds(made.source.heard).count("ahead") == 5


def test_the_gap_is_a_setting() -> None:
    made = bench(40, DRILL)
    rule = FeedbackRule(least_gap_s=1.5)
    made.coaching = Coaching(
        made.progress, made.speaker, made.meter.set_belt, rule=rule, far_leg_error_deg=0.0
    )
    made.session = Session(
        made.meter, made.coaching, made.speaker, made.clock, made.rows, made.source, True
    )
    made.run()
    cues = [h.t_s for h in made.source.heard if h.kind == "ahead"]
    assert min(np.diff(cues)) >= 1.5
    assert made.coaching.cue_counts()["withheld_by_gap"] == 10 - len(cues)


def test_a_good_run_of_landings_is_praised_with_a_sound() -> None:
    made = bench(80, DRILL, Turning(within_from=3))
    made.run()
    heard = [h for h in made.source.heard if h.kind == "praise"]
    assert len(heard) == 1
    row = made.rows.rows[2 + FeedbackRule().praise_after - 1]
    assert 0.0 < heard[0].t_s - row.step.t_contact_s < 0.4, "within a step of the twelfth"
    assert heard[0].side == row.step.side
    assert not row.cued, "praise is no correction"


def test_a_pause_is_heard_once_and_the_beat_stops() -> None:
    made = bench(80, DRILL, keys={20: ["pause"], 50: ["pause"]})
    made.run()
    paused = [h for h in made.source.heard if h.kind == "paused"]
    assert len(paused) == 1
    began_s = paused[0].t_s
    assert 1.9 < began_s < 2.2
    between = [h for h in made.source.heard if began_s + 0.1 < h.t_s < began_s + 2.8]
    assert between == [], "neither beat nor cue"


@pytest.mark.parametrize("message", ["come_forward", "stop_feet_aside"])
def test_a_message_is_heard_and_no_correction_cuts_it_off(message: CueKind) -> None:
    made = bench(60, DRILL)
    take, said = made.session.take, []

    def take_and_say(pose: Pose) -> bool:
        if pose.index == 22:
            said.append(made.coaching.say(message, made.clock.now_s()))
        return bool(take(pose))

    made.session.take = take_and_say
    made.run()
    (onset_s,) = (h.t_s for h in made.source.heard if h.kind == message)
    assert onset_s == said[0]
    length_s = len(cue_tone(message)) / 48_000
    cues = [h.t_s for h in made.source.heard if h.kind == "ahead"]
    assert not [t for t in cues if onset_s <= t < onset_s + length_s + 0.5]
    assert [t for t in cues if t > onset_s + length_s], "they come again"


def test_with_sound_off_no_message_sounds() -> None:
    made = bench(40, DRILL, keys={10: ["sound"], 20: ["pause"]})
    made.run()
    assert not [h for h in made.source.heard if h.t_s > 1.3]


def test_a_beat_from_the_own_rate_climbs_to_the_target() -> None:
    way = Drill(
        "Climb", belt_speed_mps=2.7, seconds=1000.0, feedback="off",
        step_rate=StepRate(spm=180.0), beat_from="own", beat_ramp=0.03,
    )  # fmt: skip
    made = bench(120, way)
    made.run()
    beats = [h.t_s for h in made.source.heard if h.kind == "beat"]
    assert beats[0] > 0.3, "not before the first rate was measured"
    gaps = np.diff(beats)
    assert gaps[0] == pytest.approx(0.4, abs=1e-4), "150, as measured"
    assert gaps[-1] == pytest.approx(1 / 3, abs=1e-4)
    # each gap is two roundings of half a sample off at most: 2e-5 s
    assert np.all(gaps[1:] / gaps[:-1] - 1.0 < 1e-4)
    assert np.all(gaps[:-1] / gaps[1:] - 1.0 < 0.03 + 1e-4)
    assert made.session.drills()[0]["target_spm"] == 180.0


def test_a_target_at_the_own_rate_is_told_and_kept() -> None:
    way = replace(DRILL, step_rate=StepRate(change_percent=0.0, own=True), feedback="off")
    made = bench(40, way, Turning(shown_spm=162.0))
    made.run()
    gaps = np.diff([h.t_s for h in made.source.heard if h.kind == "beat"])
    assert gaps == pytest.approx(np.full(len(gaps), 60 / 162), abs=1e-4)
    assert made.painter.scenes[-1].rhythm.target_spm == pytest.approx(162.0)
    assert "waiting for the runner's own step rate" in made.painter.scenes[0].notices[0]
    assert made.painter.scenes[-1].notices == ()


def test_no_own_rate_is_taken_from_what_is_not_trusted() -> None:
    way = replace(DRILL, step_rate=StepRate(change_percent=0.0, own=True), feedback="off")
    made = bench(40, way, Turning(trouble="walking"))
    made.run()
    assert made.source.heard == []
