"""Whole sessions in accelerated time: a runner of bare landings before the real session logic.

Session, coaching, progress, policy and the virtual speaker are the station's own; only the
measurement is replaced by `LandingRunner`, which gives what the measurement would have read, and by
its own best estimate of each landing from these readings. Time
goes from verdict to verdict on a `StreamClock`, and by half seconds where nobody runs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Any

import numpy as np

from station.clock import StreamClock
from station.coach.commands import AnswerFelt, Command, ConfirmBelt
from station.coach.feedback import FeedbackRule
from station.coach.plan import Plan
from station.coach.progress import SessionProgress
from station.coach.verdict import Baseline
from station.live import Coaching, Session
from station.live.record import Judged
from station.measure.leg_level import LegLevel
from station.simulate.landings import STANDS_MPS, Footfall, LandingRunner
from station.sound.speaker_silent import StreamSpeaker
from station.values import Belt, Cue, Heard, Landing, Observation, Pose, Side, StepRecord

IDLE_S = 0.5
BELT_SET_S = 4.0
"""How long a person takes to press what was asked."""
RATE_STEPS = 8
_BODY = Pose(0.0, 0, np.zeros((33, 2)), np.ones(33), 1280, 720)
_NOBODY = Pose.nobody(0.0, 0, 1280, 720)

Misses = Callable[[Footfall], bool] | None


class Levels:
    """Makes of bare readings what the measurement makes of them: best estimates of landings."""

    def __init__(self) -> None:
        self._legs: dict[Side, LegLevel] = {"left": LegLevel(), "right": LegLevel()}

    def forget(self) -> None:
        for leg in self._legs.values():
            leg.forget()

    def of(self, read: Landing) -> Landing:
        if read.shank_deg is None or read.shank_error_deg is None:
            return read
        shank_deg, error_deg = self._legs[read.side].take(read.shank_deg, read.shank_error_deg)
        return replace(
            read,
            shank_deg=shank_deg,
            shank_error_deg=error_deg,
            reading_deg=read.shank_deg,
            reading_error_deg=read.shank_error_deg,
        )


class Seen:
    """Stands where the measurement stands: tells what the runner's footfalls look like."""

    def __init__(self, runner: LandingRunner, belt_seen: bool, misses: Misses = None) -> None:
        self.runner = runner
        self.missed: list[Footfall] = []
        self._misses = misses
        self.told: list[Belt] = []
        self.now: Footfall | None = None
        self._belt_seen = belt_seen
        self._open: Footfall | None = None
        self._times_s: list[float] = []
        self._levels = Levels()

    def set_belt(self, belt: Belt) -> None:
        if not self.told or belt != self.told[-1]:
            self._levels.forget()
        self.told.append(belt)

    def belt_is_being_set(self, on: bool) -> None:
        self.being_set = on

    def push(self, pose: Pose) -> Observation:
        fall, before = self.now, self._open
        if fall is not None and self._misses is not None and self._misses(fall):
            self.missed.append(fall)
            fall = None
        if fall is not None:
            landing = self._levels.of(fall.landing)
            step = replace(fall.step, shank_at_verdict_deg=landing.shank_deg)
            fall = replace(fall, landing=landing, step=step)
        self.now, self._open = None, fall
        speed = self.runner.belt.speed_mps(pose.t_s)
        if fall is None:
            self._times_s.clear()
        elif fall.landing.step_time_s is not None:
            self._times_s = [*self._times_s[1 - RATE_STEPS :], fall.landing.step_time_s]
        away = self.runner.away(pose.t_s)
        moves = speed > STANDS_MPS and not away  # a walker's feet show it as well
        return Observation(
            pose.t_s,
            pose,
            in_view=not away,
            trouble="nobody" if away else None,
            landings=() if fall is None else (fall.landing,),
            steps=() if before is None else (before.step,),
            step_rate_spm=60.0 / median(self._times_s) if len(self._times_s) >= 4 else None,
            gait="running" if fall is not None else "unknown",
            belt_mps=speed if self._belt_seen and moves else None,
        )

    def finish(self) -> Observation:
        return self.push(_BODY)


@dataclass(frozen=True)
class CueNote:
    """A cue that was asked for, and how the session stood then."""

    cue: Cue
    paused: bool
    sound_on: bool
    feedback: str
    feedback_on: bool
    proving: bool
    belt_waits: bool


class Speaker(StreamSpeaker):
    """The virtual sound device, with a note of all that was asked of it."""

    def __init__(self) -> None:
        super().__init__()
        self.beats: list[tuple[float, float | None]] = []
        self.notes: list[CueNote] = []
        self.progress: SessionProgress | None = None
        self.time_s: Callable[[], float] = lambda: 0.0

    @property
    def cues(self) -> list[Cue]:
        return [note.cue for note in self.notes]

    def set_beat(self, rate_spm: float | None, manner: Any = None) -> None:
        self.beats.append((self.time_s(), rate_spm))
        super().set_beat(rate_spm, manner)

    def cue(self, cue: Cue) -> float | None:
        now = self.progress
        assert now is not None
        self.notes.append(
            CueNote(
                cue,
                now.paused,
                now.sound_on,
                now.drill.feedback,
                now.feedback_on,
                now.proving,
                now.belt_waits,
            )
        )
        return super().cue(cue)


class NotedCoaching(Coaching):
    """The station's coaching, with a note of what it made of each landing."""

    judged: list[Judged]

    def landing(self, landing: Landing, t_s: float, judgeable: bool) -> Judged:
        made = super().landing(landing, t_s, judgeable)
        self.judged.append(made)
        return made


@dataclass
class Course:
    """One session as it went."""

    plan: Plan
    runner: LandingRunner
    session: Session
    coaching: NotedCoaching
    speaker: Speaker
    seen: Seen
    ended: str | None = None
    """Why; None: it was still going on when the time was over."""
    seconds: float = 0.0
    rows: list[StepRecord] = field(default_factory=list)
    falls: list[Footfall] = field(default_factory=list)
    heard: list[Heard] = field(default_factory=list)
    belts: list[tuple[float, float]] = field(default_factory=list)
    """When another belt speed was asked for, and which, m/s; 0: to stand."""
    begun: int = 0
    """Drills that the runner has begun."""

    @property
    def names(self) -> list[str]:
        """The drills as they were run."""
        return [run.drill.name for run in self.coaching.runs]

    @property
    def whys(self) -> list[str | None]:
        return [run.why for run in self.coaching.runs]

    def judged_in(self, number: int) -> list[Judged]:
        """What was made of the landings of the n-th drill run, from 0."""
        run = self.coaching.runs[number]
        return [one for one in self.coaching.judged if one.run is run]

    def share_ahead(self, number: int, side: str | None = None) -> float:
        verdicts = [
            one.verdict
            for one in self.judged_in(number)
            if one.verdict is not None and side in (None, one.landing.side)
        ]
        return verdicts.count("ahead") / len(verdicts)


Coach = Callable[[float, Course], Iterable[Command]]
"""Asked at every moment for the commands that a coach gives then."""


def run_course(
    plan: Plan,
    runner: LandingRunner,
    *,
    coach: Coach | None = None,
    known: tuple[Baseline, ...] = (),
    rule: FeedbackRule | None = None,
    belt_limit_mps: float | None = None,
    runner_belt_limit_mps: float | None = None,
    countdown_s: float = 3.0,
    belt_seen: bool = True,
    belt_set_s: float | None = BELT_SET_S,
    presses_key: bool = False,
    most_s: float = 4 * 3600.0,
    watch: Callable[[float, Course], None] | None = None,
    progress: SessionProgress | None = None,
    misses: Misses = None,
    far_leg_error_deg: float | None = None,
) -> Course:
    """Run a plan to its end.

    Args:
        plan: The drills.
        runner: New; its belt is set as it is asked.
        coach: Gives commands; None: nobody does.
        known: Baselines of earlier visits.
        rule: How sparing the feedback is.
        belt_limit_mps: The bay's.
        runner_belt_limit_mps: The runner's own.
        countdown_s: Before the first drill.
        belt_seen: Whether the belt's speed can be measured.
        belt_set_s: How long after asking the belt is set; None: nobody ever sets it.
        presses_key: Whether whoever sets the belt says so.
        most_s: When it is given up.
        watch: Called after every moment.
        progress: In place of a new one for this plan.
        misses: Says which footfalls the measurement does not see at all; None: it sees all.
        far_leg_error_deg: What the bay profile holds of it; None: it was never measured there.
    """
    clock, speaker = StreamClock(), Speaker()
    speaker.time_s = clock.now_s
    speaker.start(clock)
    seen = Seen(runner, belt_seen, misses)
    progress = progress or SessionProgress(plan, countdown_s, belt_limit_mps, runner_belt_limit_mps)
    speaker.progress = progress
    coaching = NotedCoaching(
        progress, speaker, seen.set_belt, known, rule, far_leg_error_deg=far_leg_error_deg
    )
    coaching.judged = []
    rows: list[StepRecord] = []

    class Sink:
        def write(self, record: StepRecord) -> None:
            rows.append(record)

    heard: list[Heard] = []

    class Ears:
        def hear(self, event: Heard) -> None:
            heard.append(event)
            runner.hear(event)

    session = Session(seen, coaching, speaker, clock, Sink(), Ears(), stream_time=True)
    course = Course(plan, runner, session, coaching, speaker, seen, rows=rows, heard=heard)
    sets_at: tuple[float, float] | None = None
    now_s, index, events = 0.0, 0, 0
    while session.ended is None and now_s < most_s:
        fall = runner.next(now_s)
        due_s = now_s + IDLE_S if fall is None else fall.landing.t_verdict_s
        if fall is None and sets_at is not None:
            due_s = max(now_s + 1e-3, min(due_s, sets_at[0]))
        now_s = due_s
        clock.move_to(now_s)
        seen.now = fall
        if fall is not None:
            course.falls.append(fall)
        # Before the landing is taken, so that a key may fall between a contact and its verdict.
        for command in coach(now_s, course) if coach is not None else ():
            session.command(command)
        body = _NOBODY if runner.away(now_s) else _BODY
        session.take(Pose(now_s, index, body.xy_px, body.visibility, 1280, 720))
        index += 1
        # What the screen says, and who follows it.
        for event in progress.log.since(events):
            events += 1
            if event.kind != "belt asked":
                continue
            mps = float(dict(event.values)["speed_mps"] or 0.0)
            first = not course.belts  # the belt is set while it counts down
            course.belts.append((event.t_s, mps))
            if belt_set_s is not None:
                sets_at = (event.t_s if first else event.t_s + belt_set_s, mps)
        if sets_at is not None and now_s >= sets_at[0]:
            runner.set_belt(sets_at[1], now_s)
            if presses_key:
                session.command(ConfirmBelt())
            sets_at = None
        _do_what_is_asked(runner, course)
        if watch is not None:
            watch(now_s, course)
    session.finish()
    course.ended, course.seconds = session.ended, now_s
    return course


def _do_what_is_asked(runner: LandingRunner, course: Course) -> None:
    """Let the runner look at the screen: run or hop, on which foot, and say what was felt."""
    progress, runs = course.coaching.progress, course.coaching.runs
    felt = progress.felt
    if felt is not None and felt.answer is None and felt.share_within is not None:
        course.session.command(AnswerFelt(runner.felt_of_ten(felt.share_within)))
    if course.begun < len(runs) and not progress.belt_waits:
        course.begun = len(runs)
        drill = runs[-1].drill
        if drill.kind == "hop":
            runner.hop(drill.hops, drill.first_foot)
        else:
            runner.run()
    if course.begun < len(runs):
        runner.run()  # nobody hops while the belt is being set
    hop = None if progress.hops is None else progress.hops.status
    runner.asked_foot = None if hop is None or progress.belt_waits else hop.foot
