"""Faults of a running session: found, told once, shown in its language, kept as events, over."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from loop_parts import DRILL, Bench, FakeModel

from station.clock import StreamClock, WallClock
from station.errors import StationError
from station.live import LockStepFeed
from station.live.faults.belt_line import BeltLineWatch
from station.live.faults.board import BACK_TOLD_S, QUIET_S, FaultBoard
from station.live.faults.renewing import RESTARTS, SHOWN_S, RenewingModel
from station.live.faults.watches import LOOK_EVERY_S, SILENT_S, SilenceWatch
from station.live.faults.watchman import Watchman
from station.measure import GaitMeter
from station.settings import read_words
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import demo_view
from station.values import FAULT_KEYS, Belt, Fault, Frame, Landing, View, ViewProfile

Line = tuple[str, str, dict[str, object]]


class Lines:
    """A log that keeps its lines."""

    def __init__(self) -> None:
        self.lines: list[Line] = []

    def __call__(self, level: str, what: str, **fields: object) -> None:
        self.lines.append((level, what, fields))

    @property
    def told(self) -> list[tuple[str, str]]:
        return [(level, what) for level, what, _ in self.lines]


class Part:
    """A device that says what a test lets it say."""

    def __init__(self) -> None:
        self.now: tuple[Fault, ...] = ()
        self.ticks = 0

    def faults(self) -> tuple[Fault, ...]:
        return self.now


class Machine:
    """A watchman over one part, with every clock and disk in the test's hands."""

    def __init__(self, free_bytes: int = 10**12) -> None:
        self.mono_s = self.wall_s = 1000.0
        self.free: int | None = free_bytes
        self.part, self.log = Part(), Lines()
        self.board = FaultBoard(read_words("en"), self.log)
        self.events: list[tuple[float, str, str]] = []
        self.board.note = lambda t_s, kind, why, **_: self.events.append((t_s, kind, why))
        self.watchman = Watchman(
            self.board, WallClock(lambda: self.mono_s), (self.part,), (Path("."),),
            lambda _: self.free, lambda: self.wall_s, lambda: self.mono_s,
        )  # fmt: skip

    def go(self, seconds: float, ticking: bool = True, step_s: float = 0.25) -> None:
        for _ in range(round(seconds / step_s)):
            self.mono_s += step_s
            self.wall_s += step_s
            self.part.ticks += ticking
            self.watchman.turn()


# --- the board ------------------------------------------------------------------------------------


def test_a_fault_is_told_shown_and_over_with_how_long_it_lasted() -> None:
    machine = Machine()
    machine.go(1.0)
    machine.part.now = (Fault("camera_lost", blind=True),)
    machine.go(3.0)
    assert machine.board.blind == "camera_lost"
    assert machine.board.lines == ("Camera gone - check its cable",)
    machine.part.now = ()
    machine.go(1.0)
    assert (machine.board.blind, machine.board.lines) == (None, ())
    assert machine.board.kept == ("Camera gone - check its cable",)
    assert machine.log.told == [("error", "camera_lost"), ("info", "camera_lost_over")]
    assert machine.log.lines[1][2] == {"lasted_s": pytest.approx(3.0)}
    assert [(kind, why) for _, kind, why in machine.events] == [
        ("fault", "camera_lost"), ("fault over", "camera_lost"),
    ]  # fmt: skip


def test_what_comes_and_goes_is_logged_once_a_minute_with_a_count() -> None:
    machine = Machine()
    for _ in range(20):  # each time 1 s there, 1 s not
        machine.part.now = (Fault("sound_gone"),)
        machine.go(1.0)
        machine.part.now = ()
        machine.go(1.0)
    machine.go(QUIET_S)
    machine.part.now = (Fault("sound_gone"),)
    machine.go(1.0)
    told = [line for line in machine.log.lines if line[1] == "sound_gone"]
    assert len(told) == 2
    assert told[1][2]["again"] == 19
    assert len([e for e in machine.events if e[1] == "fault"]) == 21, "no event is left out"


def test_figures_are_kept_up_to_date_without_being_told_again() -> None:
    machine = Machine()
    for fps in ("14", "12"):
        machine.part.now = (Fault("camera_slow", values=(("fps", fps), ("asked", "60"))),)
        machine.go(1.0)
    assert machine.board.lines == ("Camera gives 12 pictures a second of 60 - more light",)
    assert machine.log.told == [("warning", "camera_slow")]


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_fault_has_words(language: str) -> None:
    words = read_words(language)
    assert set(FAULT_KEYS) <= set(words.troubles)


def test_an_unknown_fault_is_a_mistake_of_ours() -> None:
    with pytest.raises(ValueError, match="no fault"):
        Fault("camera_bored")


# --- what the loop finds itself -------------------------------------------------------------------


def test_a_driver_that_hangs_is_told_of_after_three_seconds() -> None:
    machine = Machine()
    machine.go(1.0)
    machine.go(SILENT_S - 0.5, ticking=False)
    assert machine.board.keys == ()
    machine.go(1.0, ticking=False)
    assert machine.board.blind == "camera_silent"
    machine.go(0.5)
    assert machine.board.keys == ()


def test_a_camera_that_opens_again_and_again_does_not_hang() -> None:
    watch = SilenceWatch()
    assert [watch.look(float(t_s), t_s) for t_s in range(20)] == [None] * 20


@pytest.mark.parametrize("jump_s", [3600.0, -7.0])
def test_a_clock_that_is_set_is_told_of_for_some_seconds(jump_s: float) -> None:
    machine = Machine()
    machine.go(1.0)
    machine.wall_s += jump_s
    machine.go(0.5)
    assert machine.board.lines == (f"The computer's clock was set by {jump_s:+.0f} s",)
    machine.go(BACK_TOLD_S + 0.5)
    assert machine.board.lines == ()
    assert machine.log.told == [("warning", "clock_jumped")]


def test_a_clock_that_is_slewed_is_nobody_s_worry() -> None:
    machine = Machine()
    for _ in range(40):
        machine.wall_s += 0.005  # as much as a time server takes it by
        machine.go(0.25)
    assert machine.board.kept == ()


def test_a_loop_that_stood_still_is_told_of() -> None:
    machine = Machine()
    machine.go(1.0)
    machine.go(4.0, step_s=4.0)
    assert machine.log.told == [("warning", "stalled")]
    assert machine.board.kept == ("The station stood still for 4 s",)


def test_a_disk_that_fills_is_told_of_and_so_is_the_room_made() -> None:
    machine = Machine()
    machine.go(1.0)
    machine.free = 200_000_000
    machine.go(LOOK_EVERY_S + 0.25)
    assert machine.board.lines == ("Only 200 MB of disk left - make room",)
    machine.free = 1_000_000
    machine.go(LOOK_EVERY_S + 0.25)
    assert machine.board.lines == ("Disk full - make room",)
    machine.free = 10**12
    machine.go(LOOK_EVERY_S + 0.25)
    assert machine.board.lines == ()
    machine.free = None  # nobody knows: that is no fault
    machine.go(LOOK_EVERY_S + 0.25)
    assert machine.board.lines == ()


# --- the pose model -------------------------------------------------------------------------------


def failing(bench: Bench, failures: set[int]) -> list[FakeModel]:
    """Put a model into the bench that fails at these frames; return all that are made."""
    made: list[FakeModel] = []

    def fail(frame: Frame) -> None:
        if frame.index in failures:
            raise RuntimeError("the graph broke")

    def make() -> FakeModel:
        made.append(FakeModel(fail))
        return made[-1]

    bench.feed = LockStepFeed(bench.source, RenewingModel(make, bench.clock), bench.clock)
    return made


def run_watched(bench: Bench, language: str = "en") -> FaultBoard:
    board = FaultBoard(read_words(language))
    board.note = bench.progress.log.note
    watchman = Watchman(board, bench.clock, (bench.source, bench.feed))

    def each_turn() -> None:
        watchman.turn()
        bench.session.scenes.blind = board.blind

    bench.run(each_turn=each_turn, notices=lambda: board.lines)
    return board


def test_a_pose_model_that_fails_is_made_anew_and_the_session_goes_on() -> None:
    bench = Bench(80, (replace(DRILL, seconds=1000.0),))
    made = failing(bench, {20})
    board = run_watched(bench, "de")
    assert len(made) == 2
    assert made[0].closed == 1
    assert made[1].found[0] == 21, "the next frame is found again"
    assert len(bench.meter.pushed) == 80, "no frame is lost to the measurement"
    shown = [t for t, s in enumerate(bench.painter.scenes) if "Sehen ausgefallen" in str(s.notices)]
    assert shown[0] in (20, 21)
    assert shown[-1] == pytest.approx(20 + 10 * SHOWN_S, abs=2)
    kinds = [(e.kind, e.why) for e in bench.progress.log.all if "fault" in e.kind]
    assert kinds == [("fault", "pose_failed"), ("fault over", "pose_failed")]
    assert len(board.kept) == 1


def test_a_pose_model_that_fails_again_and_again_ends_the_session() -> None:
    bench = Bench(80)
    made = failing(bench, set(range(20, 80)))
    with pytest.raises(StationError, match="failed 4 times within 60 s"):
        run_watched(bench)
    assert len(made) == 1 + RESTARTS


def test_failures_that_lie_far_apart_do_not_add_up() -> None:
    clock = StreamClock()
    count = 0

    def fail(frame: Frame) -> None:
        raise RuntimeError("once in a while")

    def make() -> FakeModel:
        nonlocal count
        count += 1
        return FakeModel(fail)

    model, frame = RenewingModel(make, clock), Bench(1).source.receive(0.0)
    assert frame is not None
    for _ in range(10):
        clock.move_to(clock.now_s() + 25.0)
        assert not model.find(frame).found
    assert count == 11
    model.close()


# --- the screen -----------------------------------------------------------------------------------


def test_a_blind_station_says_so_in_the_place_of_feedback() -> None:
    bench = Bench(40)
    board = FaultBoard(read_words("en"))
    lost = Fault("camera_lost", blind=True)

    def each_turn() -> None:
        now_s = bench.clock.now_s()
        board.take((lost,) if 1.0 <= now_s < 2.0 else (), now_s)
        bench.session.scenes.blind = board.blind

    bench.run(each_turn=each_turn)
    states = [s.state for s in bench.painter.scenes]
    assert set(states[12:20]) == {"trouble"}
    assert {s.sentence.key for s in bench.painter.scenes[12:20] if s.sentence} == {"camera_lost"}
    assert set(states[22:]) == {"drill"}


def test_no_landing_is_judged_while_the_camera_misleads() -> None:
    bench = Bench(60)
    board = FaultBoard(read_words("en"))
    turned = Fault("camera_turned", misleads=True, values=(("degrees", "1.5"),))

    def each_turn() -> None:
        now_s = bench.clock.now_s()
        board.take((turned,) if 1.5 <= now_s < 3.5 else (), now_s)
        bench.session.misled = board.misleading

    bench.run(each_turn=each_turn)
    judged = {row.step.t_contact_s: row.landing for row in bench.rows.rows}
    meanwhile = {verdict for t_s, verdict in judged.items() if 1.5 <= t_s < 3.4}
    assert meanwhile == {None}
    assert {verdict for t_s, verdict in judged.items() if not 1.4 <= t_s < 3.5} == {"ahead"}
    sentences = [s.sentence.key for s in bench.painter.scenes[25:33] if s.sentence]
    assert set(sentences) == {"camera_turned"}


# --- the belt line --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def landings() -> tuple[list[Landing], View]:
    """Landings of six seconds by a bay profile's belt line, with a pose model's noise."""
    view = demo_view(1280, 720, "right")
    runner, rng = Runner(GaitParameters(belt_mps=2.7)), np.random.default_rng(1)
    (x0, y0), (x1, y1) = view.to_image(np.array([[-0.9, 0.0], [0.9, 0.0]])).tolist()
    told = ViewProfile("right", view.px_per_m, ((x0, y0), (x1, y1)), 1280, 720)
    meter = GaitMeter(told, Belt(2.7))
    found: list[Landing] = []
    for i in range(180):
        pose = runner.figure_at(i / 30.0).to_pose(view, i, 1280, 720)
        noise_px = rng.normal(0.0, 2.0, (33, 2))
        seen = meter.push(replace(pose, xy_px=pose.xy_px + noise_px))
        found += seen.landings
    assert seen.view is not None
    return found, seen.view


@pytest.mark.parametrize(("down_px", "cm"), [(0, None), (8, None), (25, 8.3), (-25, 8.3)])
def test_feet_beside_the_profile_s_belt_line_are_told_of(
    landings: tuple[list[Landing], View], down_px: int, cm: float | None
) -> None:
    """A camera that was moved since set-up sees the feet elsewhere, the belt line not.

    25 px are 8.3 cm at 300 px/m; it is told in whole centimetres, from shoes that touch down
    slightly above the belt or in it.
    """
    watch = BeltLineWatch()
    for one in landings[0]:
        heel_px, toe_px = ((x, y + down_px) for x, y in (one.heel_px, one.toe_px))
        watch.take(replace(one, heel_px=heel_px, toe_px=toe_px), landings[1])
    told = [fault.values for fault in watch.faults()]
    if cm is None:
        assert told == []
        return
    ((name, value),) = told[0]
    assert (len(told), name) == (1, "cm")
    assert float(value) == pytest.approx(cm, abs=1.0)
