"""The loop and the session's routing, with a made-up source, model, meter, speaker and painter."""

from __future__ import annotations

import signal
import threading
from dataclasses import replace

import numpy as np
import pytest
from loop_parts import (
    DRILL,
    Bench,
    FakeMeter,
    FakeModel,
    FakeSource,
    landing,
)

from station.clock import StreamClock
from station.coach.commands import ConfirmBelt
from station.coach.plan import Drill, Plan, StepRate
from station.coach.progress import SessionProgress
from station.errors import DeviceTrouble
from station.live import (
    Coaching,
    Ending,
    StopWish,
    ThreadedFeed,
    signals_wish,
)
from station.ports import EndOfStream
from station.sound.speaker_silent import StreamSpeaker
from station.values import (
    Belt,
    Frame,
)


def test_every_frame_in_order_is_measured_and_drawn_once() -> None:
    bench = Bench(12)
    ending = bench.run()
    assert ending == Ending("end of the recording", True, None)
    assert bench.model.found == bench.meter.pushed == list(range(12))
    assert [s.frame.index for s in bench.painter.scenes if s.frame] == list(range(12))
    assert bench.window.shown == bench.screen.drawn == 12
    assert (bench.feed.captured, bench.feed.dropped) == (12, 0)


def test_landings_are_judged_cued_and_recorded_with_their_step() -> None:
    bench = Bench(40)
    bench.run()
    rows = bench.rows.rows
    assert [row.step.number for row in rows] == list(range(1, 11))
    assert {row.drill for row in rows} == {"Beat"}
    assert {row.landing for row in rows} == {"ahead"}
    # one landing each 0.4 s, but at least 0.6 s between two cues: every second one
    assert [row.cued for row in rows] == [True, False] * 5
    first = rows[0]
    assert first.t_cue_s is not None
    # told with frame 1 at 0.1 s, sounding 40 ms later (the virtual device's latency)
    assert first.t_cue_s == pytest.approx(0.14, abs=1e-3)
    assert all(row.t_cue_s is None for row in rows if not row.cued)


def test_the_beat_is_set_heard_by_the_source_and_told_of_each_step() -> None:
    bench = Bench(40)
    bench.run()
    beats = [h for h in bench.source.heard if h.kind == "beat"]
    assert len(beats) >= 9
    gaps = np.diff([b.t_s for b in beats])
    assert gaps == pytest.approx(np.full(len(gaps), 0.4), abs=1e-4)
    assert {h.kind for h in bench.source.heard} == {"beat", "ahead"}
    for row in bench.rows.rows[1:]:
        nearest = min((b.t_s for b in beats), key=lambda t: abs(t - row.step.t_contact_s))
        assert row.beat_offset_s == pytest.approx(row.step.t_contact_s - nearest, abs=1e-6)


def test_a_run_is_exactly_repeatable() -> None:
    one, two = Bench(60), Bench(60)
    one.run()
    two.run()
    assert one.rows.rows == two.rows.rows
    assert one.source.heard == two.source.heard


@pytest.mark.parametrize(
    ("meter", "verdict"),
    [(FakeMeter(5.0), "within"), (FakeMeter(None), None), (FakeMeter(12.0, "too_dark"), None)],
)
def test_what_is_within_or_not_known_is_not_cued(meter: FakeMeter, verdict: str | None) -> None:
    bench = Bench(20, meter=meter)
    bench.run()
    assert {row.landing for row in bench.rows.rows} == {verdict}
    assert not any(row.cued for row in bench.rows.rows)
    assert {h.kind for h in bench.source.heard} == {"beat"}


def test_the_plan_goes_on_with_belt_limits_and_beat() -> None:
    easy = replace(DRILL, name="Easy", seconds=2.0, landing_limit_deg=20.0)
    quick = Drill("Quick", belt_speed_mps=3.0, seconds=2.0, landing_limit_deg=1.0, beat=False)
    bench = Bench(80, (easy, quick), FakeMeter(belt_mps=3.0))
    assert bench.run().why == "plan done"
    assert bench.meter.belts == [Belt(2.7), Belt(3.0)]
    assert {(row.drill, row.landing) for row in bench.rows.rows} == {
        ("Easy", "within"), ("", None), ("Quick", "ahead"),
    }, "while the belt is being set a landing is in no drill"  # fmt: skip
    late = [row for row in bench.rows.rows if row.step.t_contact_s > 4.3]
    assert late
    assert all(row.beat_offset_s is None for row in late)
    drills = bench.session.drills()
    assert [d["name"] for d in drills] == ["Easy", "Quick"]
    assert [(d["began_s"], d["ended_s"]) for d in drills] == [
        (0.0, pytest.approx(2.0)), (pytest.approx(2.0), pytest.approx(6.0)),
    ]  # fmt: skip
    assert drills[0]["limits"]["left"] == {"deg": 20.0, "origin": "drill"}
    assert drills[0]["beat_spm"] == 150.0
    assert drills[1]["beat_spm"] is None


def test_a_landing_in_the_countdown_is_kept_but_not_judged() -> None:
    bench = Bench(20, countdown_s=1.0)
    bench.run()
    early = [row for row in bench.rows.rows if row.step.t_contact_s < 1.0]
    assert [(row.drill, row.landing, row.cued) for row in early] == [("", None, False)] * 3
    assert bench.painter.scenes[2].state == "countdown"
    assert bench.painter.scenes[2].drill is not None
    assert bench.painter.scenes[2].drill.seconds_left == pytest.approx(0.8)


def test_a_target_against_an_unknown_baseline_gives_no_beat_but_a_notice() -> None:
    bench = Bench(5, (replace(DRILL, step_rate=StepRate(change_percent=5.0)),))
    bench.run()
    assert [h for h in bench.source.heard if h.kind == "beat"] == []
    assert any("baseline" in notice for notice in bench.painter.scenes[-1].notices)


def test_the_scene_shows_the_landing_against_its_limit() -> None:
    bench = Bench(30)
    bench.run()
    scene = bench.painter.scenes[1]
    (mark,) = scene.landings
    assert (mark.side, mark.verdict) == ("left", "ahead")
    assert mark.age_s == pytest.approx(0.1)
    assert [(m.side, m.over_limit_deg, m.cued) for m in scene.trail] == [("left", 3.5, True)]
    assert scene.rhythm is not None
    assert scene.rhythm.target_spm == 150.0
    assert scene.leg_near_px is not None
    later = bench.painter.scenes[-1].sentence  # the first sentence is held for two seconds
    assert later is not None
    assert later.tone == "correction"


def test_each_state_has_its_sentence() -> None:
    rest = Drill("Rest", kind="rest", seconds=2.0)
    bench = Bench(60, (replace(DRILL, seconds=2.0), rest), keys={10: ["pause"], 14: ["pause"]})
    bench.run()
    said = {scene.state: scene.sentence.key for scene in bench.painter.scenes if scene.sentence}
    assert said.items() >= {"rest": "rest_now", "paused": "paused"}.items()


def test_a_new_drill_shows_nothing_of_the_last_one() -> None:
    drills = [replace(DRILL, name=name, seconds=4.0) for name in ("One", "Two")]
    bench = Bench(44, drills)
    bench.run()
    before, first, later = (bench.painter.scenes[frame] for frame in (39, 40, 43))
    assert [scene.drill.name for scene in (before, first)] == ["One", "Two"]
    assert len(before.trail) > 8
    assert before.rhythm.offset_s is not None
    assert first.trail == (), "its first landing comes a frame later"
    assert first.rhythm.offset_s is None
    assert len(later.trail) == 1


def test_a_pulse_alone_is_as_of_when_it_will_be_seen() -> None:
    bench = Bench(30)
    bench.run()
    period_s, (now, soon) = 0.4, (bench.session.rhythm(ahead_s) for ahead_s in (0.0, 0.05))
    assert (now.beat_age_s + 0.05) % period_s == pytest.approx(soon.beat_age_s, abs=1e-6)


def test_an_open_drill_has_no_time_left_to_show() -> None:
    bench = Bench(3, (replace(DRILL, seconds=float("inf")),))
    bench.run()
    status = bench.painter.scenes[-1].drill
    assert status is not None
    assert status.seconds_left is None


def test_a_trouble_is_shown_once_it_lasts_learning_only_as_a_calm_word() -> None:
    bench = Bench(10, meter=FakeMeter(trouble="too_dark"))
    bench.run()
    states = [scene.state for scene in bench.painter.scenes]
    assert states == ["drill"] * 5 + ["trouble"] * 5
    last = bench.painter.scenes[-1].sentence
    assert last is not None
    assert (last.key, last.tone) == ("too_dark", "warning")
    bench = Bench(10, meter=FakeMeter(trouble="learning"))
    bench.run()
    assert {scene.state for scene in bench.painter.scenes} == {"drill"}


def test_keys_reach_the_plan_and_quit_ends() -> None:
    keys = {2: ["pause"], 12: ["pause"], 14: ["rate_up", "sound"], 16: ["quit"]}
    bench = Bench(40, keys=keys)
    assert bench.run().why == "ended by the coach"
    states = [scene.state for scene in bench.painter.scenes]
    assert states == ["drill"] * 2 + ["paused"] * 10 + ["drill"] * 4
    assert bench.progress.target_spm() == 151.0
    assert not bench.progress.sound_on
    assert len(bench.painter.scenes) == 16


def test_the_next_key_on_the_last_drill_ends_the_plan() -> None:
    assert Bench(40, keys={3: ["next"]}).run().why == "plan done"


def test_the_done_card_stays_for_a_while_unless_somebody_quits() -> None:
    short = (replace(DRILL, seconds=1.0),)
    bench = Bench(40, short)
    assert bench.run(linger_s=1.0).why == "plan done"
    states = [scene.state for scene in bench.painter.scenes]
    assert states == ["drill"] * 10 + ["done"] * 11
    assert {row.drill for row in bench.rows.rows if row.step.t_contact_s >= 1.0} == {""}
    bench = Bench(40, short, keys={15: ["quit"]})
    assert bench.run(linger_s=1.0).why == "plan done"
    assert len(bench.painter.scenes) == 15


def test_ends_after_so_many_seconds() -> None:
    bench = Bench(40)
    assert bench.run(seconds=1.0).why == "time is up"
    assert bench.meter.pushed == list(range(10))


def test_a_source_that_ends_early_ends_the_session_with_its_note() -> None:
    bench = Bench(source=FakeSource(7, EndOfStream("the clip is cut off")))
    assert bench.run() == Ending("end of the recording", True, "the clip is cut off")
    # the last landing (frame 5) has no final step yet when the stream ends: finish() gives it
    assert [row.step.number for row in bench.rows.rows] == [1, 2]


def test_a_lost_device_is_told_and_what_was_measured_is_written() -> None:
    bench = Bench(source=FakeSource(12, DeviceTrouble("the camera is gone")))
    with pytest.raises(DeviceTrouble, match="gone"):
        bench.run()
    assert len(bench.rows.rows) == 3


@pytest.mark.parametrize(
    ("number", "why"),
    [(signal.SIGINT, "Ctrl-C"), (signal.SIGTERM, "asked to end by the system")],
)
def test_a_signal_ends_the_loop_after_the_frame(number: signal.Signals, why: str) -> None:
    before = signal.getsignal(number)

    def press(index: int) -> None:
        if index == 9:
            signal.raise_signal(number)

    bench = Bench(source=FakeSource(40, before=press))
    with signals_wish(bench.stop):
        assert bench.run().why == why
    assert bench.meter.pushed == list(range(10))
    assert len(bench.rows.rows) == 3
    assert signal.getsignal(number) is before


def test_a_second_ctrl_c_means_at_once() -> None:
    stop = StopWish()
    with signals_wish(stop):
        signal.raise_signal(signal.SIGINT)
        assert stop.reason == "Ctrl-C"
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)


def test_detecting_anew_is_asked_for_at_most_twice_a_second() -> None:
    bench = Bench(30, meter=FakeMeter(anew=True))
    bench.run()
    assert bench.model.anew == bench.session.detected_anew == 6


def test_frames_that_the_source_dropped_are_counted_by_their_gap() -> None:
    bench = Bench(12)
    bench.source.skip = {3, 4, 9}
    bench.run()
    assert (bench.feed.captured, bench.feed.dropped) == (12, 3)


def test_counts_and_delays() -> None:
    bench = Bench(40)
    bench.run()
    counts = bench.session.view_counter.counts(40, 0)
    assert (counts.tracked, counts.in_view, counts.tracked_share) == (40, 40, 1.0)
    delays = {name: one.as_dict() for name, one in bench.session.latencies.items()}
    assert delays["frame_to_verdict"] is None  # stream time has no delay of the machine
    assert delays["contact_to_verdict"] == {
        "count": 10, "median": pytest.approx(0.05), "p95": pytest.approx(0.05),
    }  # fmt: skip
    cue = delays["contact_to_cue"]
    assert cue is not None
    assert cue["median"] == pytest.approx(0.14, abs=1e-3)


# --- with threads -------------------------------------------------------------------------------


def threaded(bench: Bench, model: FakeModel) -> ThreadedFeed:
    feed = ThreadedFeed(bench.source, model)
    bench.feed, bench.model = feed, model
    return feed


def test_with_threads_too_slow_a_model_sees_the_newest_frame_only() -> None:
    captured_all = threading.Event()

    def receive(index: int) -> None:
        if index == 2:
            assert busy.wait(5.0)  # the model has taken frame 1 (0 is worked out at the start)
        if index == 20:
            captured_all.set()

    busy = threading.Event()

    def slow(frame: Frame) -> None:
        if frame.index == 1:
            busy.set()
            assert captured_all.wait(5.0)

    bench = Bench(source=FakeSource(20, before=receive))
    feed = threaded(bench, FakeModel(slow))
    try:
        ending = bench.run()
    finally:
        feed.stop()
    assert ending.of_source
    assert bench.meter.pushed == [0, 1, 19]
    assert (feed.captured, feed.dropped) == (20, 17)
    assert bench.source.stopped >= 1
    assert bench.model.closed >= 1


def test_with_threads_nothing_is_drawn_twice() -> None:
    bench = Bench(source=FakeSource(30))
    feed = threaded(bench, FakeModel())
    try:
        bench.run()
    finally:
        feed.stop()
    drawn = [s.frame.index for s in bench.painter.scenes if s.frame]
    assert drawn == sorted(set(drawn))
    assert drawn[-1] == 29
    assert feed.dropped + len(bench.meter.pushed) == 30


@pytest.mark.parametrize("where", ["capture", "pose"])
def test_an_exception_of_a_thread_comes_out_of_the_loop(where: str) -> None:
    fault = DeviceTrouble(f"the {where} has failed")

    def fail(frame: Frame) -> None:
        raise fault

    source = FakeSource(3, fault) if where == "capture" else FakeSource(3)
    bench = Bench(source=source)
    feed = threaded(bench, FakeModel(fail if where == "pose" else None))
    try:
        with pytest.raises(DeviceTrouble, match=where):
            bench.run()
    finally:
        feed.stop()
        feed.stop()  # safe to repeat


def test_threads_end_when_the_session_is_stopped_in_the_middle() -> None:
    # However many frames are dropped until the fifth is shown, the drill is not over.
    bench = Bench(source=FakeSource(10**9), drills=(replace(DRILL, seconds=1e9),))
    feed = threaded(bench, FakeModel())
    bench.window.keys = {5: ["quit"]}
    try:
        assert bench.run().why == "ended by the coach"
    finally:
        feed.stop()
    names = {thread.name for thread in threading.enumerate()}
    assert not names & {"station-capture", "station-pose"}


def test_a_feed_that_never_started_closes_its_parts() -> None:
    source, model = FakeSource(1), FakeModel()
    ThreadedFeed(source, model).stop()
    assert (source.stopped, model.closed) == (1, 1)


@pytest.mark.parametrize(("first_mps", "expected"), [(2.7, Belt(2.7)), (None, None)])
def test_a_late_landing_counts_at_its_own_drills_belt(
    first_mps: float | None, expected: Belt | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    drills = (
        Drill("first", belt_speed_mps=first_mps, seconds=10.0),
        Drill("second", belt_speed_mps=3.6, seconds=10.0),
    )
    speaker = StreamSpeaker()
    speaker.start(StreamClock())
    coaching = Coaching(SessionProgress(Plan("p", drills), 0.0), speaker, lambda _: None)
    belts: list[Belt | None] = []
    monkeypatch.setattr(coaching.baselines, "add", lambda _one, _drill, belt: belts.append(belt))
    coaching.advance(0.0)
    coaching.advance(10.0)
    coaching.command(ConfirmBelt(), 10.0)
    coaching.advance(10.1)
    coaching.landing(landing(1, 9.95, 5.0), 10.1, judgeable=True)
    coaching.landing(landing(2, 10.05, 5.0, "right"), 10.15, judgeable=True)
    assert belts == [expected, Belt(3.6)]
