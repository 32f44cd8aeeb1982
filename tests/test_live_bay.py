"""The bay's loop, on staged poses and time moved by hand: no pixels, no window, no records."""

from __future__ import annotations

import copy
import copyreg
import threading

import numpy as np
import pytest
from fake_page import FakePageServer

from station.clock import StreamClock
from station.coach.plan import Drill, Plan
from station.coach.progress import SessionProgress
from station.coach.visit.course import VisitAnswers, VisitChange
from station.coach.visit.offer import RunnerCaps
from station.coach.words import Words
from station.live import Coaching, Screen, Session, StopWish
from station.live.bay.blind import END_AFTER_S
from station.live.bay.loop import BayLoop, BaySettings
from station.live.bay.ports import BayInput, KnownRunner
from station.live.coach_page import CoachPage
from station.live.faults.board import FaultBoard
from station.live.faults.watchman import Watchman
from station.live.feed import Seen
from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.parameters import Body, GaitParameters
from station.simulate.picture import demo_view
from station.simulate.staging import StagedRunner, standing
from station.sound.speaker_silent import StreamSpeaker
from station.values import FAULT_KEYS, Fault, Pose, ViewProfile

FPS = 30.0
WORDS = Words("en", {}, {}, {})
VIEW = demo_view(1280, 720, "right")
REAR_M = 0.95
PLAN = Plan("Alone", (
    Drill("Run", belt_speed_mps=2.7, belt_speed_text="2.7 m/s", seconds=20.0),
    Drill("Fast", belt_speed_mps=4.0, belt_speed_text="4 m/s", seconds=30.0),
    Drill("Lean", kind="lean", seconds=30.0, attended=True),
))  # fmt: skip
TO_STAND = ["Enter", *"R-07", "Enter", "Enter", *"1234", "0"]


class Bay:
    """A staged bay: what is pressed and done is told by the test, frame by frame."""

    def __init__(self, plan: Plan = PLAN) -> None:
        self.company = False
        self.offered = 0
        self.anew = 0
        self.taken_for: float | None = None
        """So many pixels from the belt's middle stands somebody whom the model has taken up."""
        self.clock = StreamClock()
        self.runner = StagedRunner(lambda: Runner(GaitParameters(belt_mps=2.7, wander_m=0.01)))
        self.speaker = StreamSpeaker()
        self.speaker.start(self.clock)
        self.pressed: list[str] = []
        self.log: list[VisitChange] = []
        self.opened: list[Opened] = []
        self.calls: list[bool] = []
        self.speaker.call_staff = self.call_staff  # type: ignore[method-assign]
        self.stop = StopWish()
        self.captured = self.dropped = 0
        self.scenes = Screen(self)  # type: ignore[arg-type]
        self.amiss: tuple[Fault, ...] = ()
        self.board = FaultBoard()
        self.pages = 0
        rear_px = tuple(float(v) for v in VIEW.to_image([-REAR_M, 0.0]))
        self.phone = FakePageServer()
        self.staffs_page = CoachPage(lambda: self.phone, lambda: "", WORDS)
        self.staffs_page.toggle()
        settings = BaySettings(plan, "2468", 4.4, rear_px, "right")  # type: ignore[arg-type]
        self.loop = BayLoop(
            settings,
            self,
            self,
            self.speaker,
            self.clock,
            self,
            self,
            self.note,
            self,
            Watchman(self.board, self.clock, (self,)),
            self.staffs_page,
        )
        self._frame = 0

    def call_staff(self, on: bool) -> None:
        self.calls.append(on)

    def note(self, change: VisitChange) -> None:
        self.log.append(change)

    # --- the feed
    def next(self, timeout_s: float) -> Seen | None:
        self._frame += 1
        t_s = self._frame / FPS
        self.clock.move_to(t_s)
        if any(fault.blind for fault in self.amiss):
            return None
        figure = self.runner.figure_at(t_s)
        pose = figure.to_pose(VIEW, self._frame, 1280, 720)
        if self.taken_for is not None:
            pose = standing(Body(), t_s).to_pose(VIEW, self._frame, 1280, 720)
            pose.xy_px[:, 0] += self.taken_for
        if (pose.xy_px[24] < 0).any():
            pose = Pose.nobody(t_s, self._frame, 1280, 720)
        return Seen(None, pose)

    def waiting(self) -> Seen | None:
        return None

    def detect_anew(self) -> None:
        self.anew += 1

    # --- the second look, at every thirtieth picture
    def offer(self, seen: Seen) -> None:
        self.offered += 1

    def results(self) -> tuple[bool, ...]:
        return (self.company,) if self._frame % 30 == 0 else ()

    def faults(self) -> tuple[Fault, ...]:
        return self.amiss

    # --- the screen
    def inputs(self) -> tuple[BayInput, ...]:
        return (BayInput(face=self.pressed.pop(0)),) if self.pressed else ()

    def show_page(self, page: object, picture: object) -> None:
        self.page = page
        self.pages += 1

    def paint(self, scene: object) -> np.ndarray:
        self.scene = scene
        return np.zeros((72, 128, 3), np.uint8)

    def pulse(self, rhythm: object) -> None:
        return None

    # --- the records
    def find(self, code: str) -> KnownRunner | None:
        return KnownRunner(RunnerCaps(3.2)) if code == "R-07" else None

    def open(self, plan: Plan, answers: VisitAnswers, caps: RunnerCaps) -> Opened:
        self.opened.append(Opened(self, plan))
        return self.opened[-1]

    # --- the test's own
    def go(self, seconds: float) -> None:
        """Let time go on."""
        end_s = self.clock.now_s() + seconds
        while self.clock.now_s() < end_s - 1e-9:
            assert self.loop.turn(self.stop) is None

    def to_session(self) -> None:
        self.pressed += TO_STAND
        self.go(2.0)
        self.runner.act("stand")
        self.go(3.0)
        assert self.loop.visit.state == "session"
        self.runner.act("run")

    @property
    def states(self) -> list[str]:
        return [change.to for change in self.log]


class Opened:
    def __init__(self, bay: Bay, plan: Plan) -> None:
        self.plan = plan
        self.lines: tuple[str, ...] = ()
        self.values: tuple[tuple[str, str], ...] = ()
        self.closed: list[str] = []
        self.notices: tuple[str, ...] = ()
        self.disk_full = False
        profile = ViewProfile("right", VIEW.px_per_m, ((300.0, 640.0), (900.0, 640.0)), 1280, 720)
        meter = GaitMeter(profile, plan.drills[0].belt)
        coaching = Coaching(SessionProgress(plan, 2.0), bay.speaker, meter.set_belt, attended=False)
        self.session = Session(meter, coaching, bay.speaker, bay.clock, self)

    def write(self, record: object) -> None: ...

    def follow(self) -> None: ...

    def note(self, change: VisitChange) -> None: ...

    def close(self, why: str, answers: VisitAnswers) -> None:
        self.closed.append(why)


@pytest.fixture
def bay() -> Bay:
    return Bay()


@pytest.fixture(scope="module")
def twelve_seconds_run() -> Bay:
    bay = Bay()
    bay.to_session()
    bay.go(12.0)
    return bay


@pytest.fixture
def running(twelve_seconds_run: Bay) -> Bay:
    """Return a bay whose runner has run for 12 s: its own copy, as that takes a while."""
    return copy.deepcopy(twelve_seconds_run)


copyreg.pickle(type(threading.Lock()), lambda _: (threading.Lock, ()))  # type: ignore[arg-type]


def test_only_what_the_runner_may_run_alone_is_opened(bay: Bay) -> None:
    bay.to_session()
    assert [drill.name for drill in bay.opened[0].plan.drills] == ["Run"]
    bay.go(0.2)
    assert bay.scene.state == "countdown"
    assert bay.scene.sentence.key == "start_belt"  # nobody else says that it is time to
    assert dict(bay.scene.sentence.values) == {
        "speed": bay.opened[0].plan.drills[0].belt_speed_text
    }


def test_a_visit_goes_from_waiting_to_waiting(bay: Bay) -> None:
    bay.to_session()
    bay.go(34.0)
    assert bay.loop.visit.state == "pain_after"
    bay.runner.act("away")
    bay.pressed += ["0", "Enter"]
    bay.go(2.0)
    assert bay.states[-1] == "waiting"
    assert bay.opened[0].closed
    assert bay.loop.visits_done == 1
    assert True not in bay.calls


def test_an_unknown_code_opens_nothing(bay: Bay) -> None:
    bay.pressed += ["Enter", *"R-99", "Enter"]
    bay.go(2.0)
    assert bay.loop.visit.state == "unknown_code"
    assert not bay.opened


def test_whoever_is_gone_from_a_running_belt_is_missed_within_a_second(running: Bay) -> None:
    running.runner.act("away")
    gone_s = running.clock.now_s()
    running.go(2.0)
    called = next(change for change in running.log if change.to == "staff_call")
    assert called.t_s - gone_s <= 1.0
    assert True in running.calls
    assert running.loop.session is not None
    assert running.loop.session.coaching.progress.paused
    assert running.phone.states[-1]["call"], "staff's phones ring"
    running.go(60.0)
    assert running.loop.visit.state == "staff_call"  # nothing but a person ends it
    running.pressed += [*"1111", "Enter"]
    running.go(1.0)
    assert running.loop.visit.state == "staff_call"
    running.pressed += [*"2468", "Enter"]
    running.go(1.0)
    assert running.states[-1] == "summary"
    assert running.calls[-1] is False
    assert not running.phone.states[-1]["call"]


def test_a_drift_is_warned_of_half_a_second_before_the_rear_foot_leaves_the_belt(
    running: Bay,
) -> None:
    running.go(3.0)
    running.runner.drift(-0.5)
    for _ in range(120):
        running.go(1.0 / FPS)
        if running.loop.watch is not None and running.loop.watch.warning == "come_forward":
            break
    else:
        pytest.fail("not warned of")
    assert running.runner.leaves_in_s(REAR_M, 0.5) >= 0.5


def test_a_raised_hand_pauses_and_another_goes_on(running: Bay) -> None:
    progress = running.opened[0].session.coaching.progress
    running.runner.raise_hand("right")
    running.go(1.6)
    assert progress.paused
    assert running.loop.watch is not None
    assert running.loop.watch.warning == "hand_paused"
    running.runner.raise_hand(None)
    running.go(4.0)
    running.runner.raise_hand("left")
    running.go(2.0)
    assert not progress.paused


def test_a_hand_that_is_not_raised_again_ends_the_session(running: Bay, monkeypatch) -> None:
    monkeypatch.setattr("station.live.bay.watch.HAND_PAUSE_S", 6.0)
    running.runner.raise_hand("right")
    running.go(2.0)
    running.runner.raise_hand(None)
    running.go(17.0)
    assert running.loop.visit.state == "pain_after"


def test_a_page_that_stays_is_not_painted_at_every_turn(bay: Bay) -> None:
    bay.go(10.0)
    assert 10.0 / 0.25 - 5 <= bay.pages <= 10.0 / 0.25 + 5


def test_a_warning_takes_the_screen_and_the_records_are_heard_of(running: Bay) -> None:
    running.opened[0].notices = ("records: wait in the spool file",)
    running.runner.raise_hand("right")
    running.go(2.0)
    assert running.scene.sentence.key == "hand_paused"
    assert running.scene.heading == "take_care"
    assert "records: wait in the spool file" in running.scene.notices


def second_person_events(bay: Bay) -> list[str]:
    events = bay.opened[0].session.events()
    return [event["why"] for event in events if event["kind"] == "second person"]


def test_with_somebody_else_in_view_no_landing_is_judged_until_they_are_gone(running: Bay) -> None:
    running.company = True
    running.go(3.5)
    session = running.opened[0].session
    assert session.observation is not None
    assert session.observation.trouble == "second_person"
    assert running.scene.sentence.key == "second_person"
    assert running.scene.heading == "not_judged"  # the runner is seen well
    assert running.loop.visit.state == "session"
    assert True not in running.calls
    running.company = False
    running.go(4.0)
    assert session.observation.trouble is None
    assert second_person_events(running) == ["came into view", "went out of view"]


def test_with_somebody_else_in_view_nothing_begins(bay: Bay) -> None:
    bay.company = True
    bay.pressed += TO_STAND
    bay.go(2.0)
    bay.runner.act("stand")
    bay.go(6.0)
    assert bay.loop.visit.state == "view_check"
    assert "not_alone" in bay.page.lines
    bay.company = False
    bay.go(4.0)
    assert bay.loop.visit.state == "session"


def test_whoever_is_taken_for_the_runner_is_not_and_staff_are_called(running: Bay) -> None:
    running.taken_for = -450.0  # for a moment: nothing comes of it
    running.go(0.4)
    running.taken_for = None
    running.go(2.0)
    assert running.loop.visit.state == "session"
    assert running.loop.watch is not None
    assert running.loop.watch.warning is None
    running.taken_for = -450.0
    began_s = running.clock.now_s()
    running.go(1.2)
    called = next(change for change in running.log if change.to == "staff_call")
    assert called.t_s - began_s <= 1.0
    assert running.anew >= 3


LOST = (Fault("camera_lost", blind=True),)


def test_a_blind_session_is_paused_and_goes_on_once_it_sees_again(running: Bay) -> None:
    bay = running
    progress = bay.opened[0].session.coaching.progress
    bay.amiss = LOST
    bay.go(1.5)
    assert not progress.paused, "a short gap is nobody's affair"
    bay.go(1.5)
    assert progress.paused
    assert bay.scene.sentence.key == "cannot_see_you"
    assert FAULT_KEYS["camera_lost"] in bay.scene.notices
    bay.opened[0].disk_full = True
    bay.go(0.5)
    assert FAULT_KEYS["disk_full"] in bay.scene.notices
    bay.opened[0].disk_full = False
    assert True not in bay.calls, "what is not seen is not somebody who is gone"
    bay.amiss = ()
    bay.go(2.0)
    assert not progress.paused
    told = [(event.kind, event.why) for event in progress.log.all if event.why == "camera_lost"]
    assert told == [("fault", "camera_lost"), ("fault over", "camera_lost")]


def test_a_session_that_stays_blind_ends(running: Bay) -> None:
    bay = running
    bay.amiss = LOST
    bay.go(END_AFTER_S + 15.0)
    assert bay.loop.visit.state == "pain_after"


def test_the_waiting_page_tells_staff_what_is_amiss_and_stops_when_it_is_well(bay: Bay) -> None:
    bay.amiss = (Fault("camera_moved", values=(("pixels", "14"),)),)
    bay.go(1.0)
    assert bay.page.lines[-1] == "camera_moved"
    assert ("pixels", "14") in bay.page.values
    bay.amiss = ()
    bay.go(1.0)
    assert "camera_moved" not in bay.page.lines
