"""One session's logic: a pose goes in, steps are recorded, a scene comes out.

No thread, no picture and no window here: the same for a camera, a clip, the demo and a trace.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any, Protocol

from station.clock import Clock
from station.coach.commands import Command
from station.coach.scene import Rhythm, Scene
from station.coach.words import Words
from station.live.beats import BeatLog
from station.live.coaching import Coaching
from station.live.counts import Latency, ViewCounter
from station.live.faults.belt_line import BeltLineWatch
from station.live.figures import told_drills
from station.live.notices import NoticeBoard
from station.live.record import Recorder
from station.live.scenes import SceneBuilder
from station.ports import Hops, Listener, SetsBelt, Speaker
from station.settings.smallest_change import smallest_sizes
from station.values import Belt, Fault, Frame, Observation, Pose, StepRecord

BELT_FRESH_S = 1.5
"""A belt speed without a newer contact is not the belt's now."""
DETECT_ANEW_GAP_S = 0.5
"""Least time between two requests: a fresh detection takes over twice as long as a frame."""


class Meter(Protocol):
    """What the session needs of the measurement."""

    def push(self, pose: Pose) -> Observation:
        """Take the next pose and say what is known now."""
        ...

    def set_belt(self, belt: Belt) -> None:
        """Learn what the belt is set to from now on."""
        ...

    def belt_is_being_set(self, on: bool) -> None:
        """Learn whether somebody may be changing the belt's speed now."""
        ...

    def finish(self) -> Observation:
        """Say what the last steps were."""
        ...


class StepSink(Protocol):
    """Takes each final step's record."""

    def write(self, record: StepRecord) -> None:
        """Take one record."""
        ...


class Session:
    """Routes between measurement, coaching, sound and records. Used by the loop's thread."""

    def __init__(
        self,
        meter: Meter,
        coaching: Coaching,
        speaker: Speaker,
        clock: Clock,
        sink: StepSink,
        listener: Listener | None = None,
        stream_time: bool = False,
        words: Words | None = None,
        belt_line_told: bool = False,
    ) -> None:
        """Join the parts; nothing happens before the first pose.

        Args:
            meter: The measurement.
            coaching: The plan, and how landings are answered.
            speaker: Started.
            clock: The session's.
            sink: Takes the steps' records.
            listener: Who is told of beats and cues, what the belt is asked to be set to where it
                can set it, and which hops begin where it hops; None: nobody can hear.
            stream_time: The clock follows the frames, so the machine's own delay cannot be told.
            words: Texts of the measurement's notices; None: their keys are shown.
            belt_line_told: The belt line is the bay profile's: the feet are held against it.
        """
        self.coaching = coaching
        self.beats = BeatLog()
        self.recorder = Recorder(sink.write, self.beats)
        self.view_counter = ViewCounter()
        self.latencies = {
            name: Latency() for name in ("frame_to_verdict", "contact_to_verdict", "contact_to_cue")
        }
        self.scenes = SceneBuilder(coaching, self.beats)
        self.words = words
        """The screen's language; None: keys and English."""
        self.board = NoticeBoard(words)
        self.detected_anew = 0
        self.observation: Observation | None = None
        self.last_contact_s: float | None = None
        self.disturbed: str | None = None
        """Why no landing is to be judged now beside what the measurement itself finds, as a key of
        the words' troubles: whoever watches the session sets it."""
        self.misled: str | None = None
        """The same for a fault of a device that makes what is measured false."""
        self._meter = meter
        self._speaker = speaker
        self._clock = clock
        self._listener = listener
        self._stream_time = stream_time
        self._sets_belt = listener if isinstance(listener, SetsBelt) else None
        self._hops = listener if isinstance(listener, Hops) else None
        self._smallest = smallest_sizes()
        self._anew_s = float("-inf")
        self._belt_line = BeltLineWatch() if belt_line_told else None

    @property
    def ended(self) -> str | None:
        """Why the plan is over; None: it is not."""
        return self.coaching.ended

    def take(self, pose: Pose) -> bool:
        """Work one pose through: measure, coach, sound, record.

        Args:
            pose: The next one in order of time.

        Returns:
            Whether the pose model should detect afresh.
        """
        self.coaching.advance(self._plan_time_s(pose.t_s))
        self._meter.belt_is_being_set(self.coaching.progress.belt_waits)
        observation = self._meter.push(pose)
        amiss = self.disturbed or self.misled
        if amiss is not None and observation.trouble is None:
            observation = replace(observation, trouble=amiss)
        self.observation = observation
        self.view_counter.add(observation)
        trusted = observation.trouble is None
        self.coaching.beat.measured(
            observation.step_rate_spm if trusted else None, self.last_contact_s
        )
        self.board.take(observation.notices)
        self._landings(observation)
        self.coaching.see_belt(self._belt_now(observation), self._plan_time_s(pose.t_s))
        self._hear()
        for landing in observation.landings:  # its beat may have been told only now
            self.coaching.beat.contact(landing.side, self.beats.nearest(landing.t_contact_s))
        self._steps(observation)
        anew = observation.detect_anew and pose.t_s - self._anew_s >= DETECT_ANEW_GAP_S
        if anew:
            self._anew_s = pose.t_s
            self.detected_anew += 1
        return anew

    def faults(self) -> tuple[Fault, ...]:
        """Return what the landings show to be amiss."""
        return () if self._belt_line is None else self._belt_line.faults()

    def idle(self) -> None:
        """Let the session's time go on while no frame comes."""
        self.coaching.advance(self._clock.now_s())
        self._hear()

    def command(self, command: Command) -> None:
        """Do what the coach asks."""
        self.coaching.command(command, self._clock.now_s())

    def finish(self) -> None:
        """Record the steps that were still open."""
        self._hear()
        self._steps(self._meter.finish())
        if self.observation is not None:
            self.coaching.close(self.observation.pose.t_s)

    def scene(
        self, frame: Frame | None, notices: tuple[str, ...] = (), ahead_s: float = 0.0
    ) -> Scene:
        """Build what is to be shown of the newest observation, `ahead_s` after now."""
        told = (*notices, *self.board.now, *self.coaching.notices.values())
        return self.scenes.scene(self.observation, frame, self._clock.now_s(), told, ahead_s)

    def rhythm(self, ahead_s: float) -> Rhythm:
        """Build what is to be shown of the rhythm, `ahead_s` after now."""
        return self.scenes.rhythm(self.observation, self._clock.now_s(), ahead_s)

    def drills(self) -> list[dict[str, Any]]:
        """Return what each drill came to, in the order that they were run."""
        return told_drills(self.coaching.runs, self._smallest)

    def events(self) -> list[dict[str, Any]]:
        """Return every change of the session so far, with time and reason."""
        return [event.as_dict() for event in self.coaching.progress.events]

    def baselines(self) -> list[dict[str, Any]]:
        """Return the runner's baselines that this session gave, one for each belt setting."""
        return [asdict(baseline) for baseline in self.coaching.baselines.all()]

    # --- within ---------------------------------------------------------------------------------

    def _belt_now(self, observation: Observation) -> float | None:
        """Return the measured belt speed while somebody runs on it: feet on the rails tell none."""
        last_s = self.last_contact_s
        if last_s is None or observation.pose.t_s - last_s > BELT_FRESH_S:
            return None
        return observation.belt_mps

    def _plan_time_s(self, frame_s: float) -> float:
        """Return the plan's time: a live plan goes by the clock, however old the frame is."""
        return frame_s if self._stream_time else max(frame_s, self._clock.now_s())

    def _landings(self, observation: Observation) -> None:
        for landing in observation.landings:
            now_s = self._clock.now_s()
            judged = self.coaching.landing(landing, now_s, observation.trouble is None)
            self.last_contact_s = landing.t_contact_s
            self.recorder.landing(judged)
            self.scenes.landing(judged, observation.view)
            if self._belt_line is not None and observation.view is not None:
                self._belt_line.take(landing, observation.view)
            delay = self.latencies
            delay["contact_to_verdict"].add(landing.t_verdict_s - landing.t_contact_s)
            if not self._stream_time:
                delay["frame_to_verdict"].add(now_s - landing.t_verdict_s)
            if judged.t_cue_s is not None:
                delay["contact_to_cue"].add(judged.t_cue_s - landing.t_contact_s)

    def _steps(self, observation: Observation) -> None:
        for step in observation.steps:
            self.coaching.step(step)
            self.scenes.step(self.recorder.step(step))

    def _hear(self) -> None:
        for asked in self.coaching.take_belt_asked():
            if self._sets_belt is not None:
                self._sets_belt.ask_belt(asked)
        for hops in self.coaching.take_hops_asked():
            if self._hops is not None:
                self._hops.ask_hops(hops)
        heard = self._speaker.heard()
        self.beats.add(heard)
        if self._listener is not None:
            for event in heard:
                if event.kind != "offbeat":  # a silent place
                    self._listener.hear(event)
