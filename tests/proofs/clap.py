"""Prove that a clap aligns picture and sound: real pixels, real pose model, a known offset.

A drawn figure stands on the belt and claps once a second, one hand from above and one from below,
so that the side camera sees the hands meet; its pictures are timed late by a known amount.
`measure_clap` looks and listens as it does at set-up. `--way fast`: every picture in order,
however slow the machine, and a tick written into a recording wherever hands meet. `--way live`: by
the clock; the station's own speaker sounds a tick whenever hands meet into a private sound server,
and the sound comes from the server's monitor through the microphone's path; that needs a
machine with time to spare.

    python tests/proofs/clap.py [--way fast] [--seconds 6] [--fps 60] [--late 0.04]

Prints one JSON line; exits 1 where the offset found is more than 10 ms off the known one, 3 where
no sound could be played in time.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import bisect
import math
import sys
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from kit.running import options, served, tell

from station.clock import Clock, StreamClock, WallClock
from station.errors import DeviceTrouble
from station.live import Feed, LockStepFeed, ThreadedFeed
from station.live.clap import measure_clap
from station.measure.clap import ClapAlignment
from station.ports import SourceInfo
from station.see.pose_model import MediapipePose
from station.simulate.figure import Arm, Figure
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import demo_view
from station.simulate.source import SimulatedSource
from station.simulate.staging import StagedRunner
from station.sound.microphone import PortAudioMicrophone
from station.sound.round_trip import Recording
from station.sound.speaker_portaudio import PortAudioSpeaker
from station.sound.tones import SAMPLE_RATE_HZ, beat_tone
from station.values import Frame

MOST_OFF_S = 0.010
"""The bound of the task."""
APART_M = 0.75
"""Between the wrists before a clap."""
CLOSING_S, REST_S = 0.18, 0.03
TOUCH_M = 0.06
SOUND_MOST_S = 30.0


def gap_m(to_next_s: float, since_last_s: float) -> float:
    """How far apart the wrists are: hands that close faster and faster, rest, and part."""
    closing = min(1.0, to_next_s / CLOSING_S)
    parting = min(1.0, max(0.0, since_last_s - REST_S) / 0.25)
    share = min(1.0 - (1.0 - closing) ** 1.5, parting)
    return TOUCH_M + (APART_M - TOUCH_M) * share


class Clapper:
    """Stands and claps at the times it is told."""

    def __init__(self) -> None:
        self._standing = StagedRunner(lambda: Runner(GaitParameters()))
        self._standing.act("stand")
        self.claps_s: tuple[float, ...] = ()
        """Rising."""

    def figure_at(self, t_s: float) -> Figure:
        figure = self._standing.figure_at(t_s)
        next_ = bisect.bisect_right(self.claps_s, t_s)
        around_s = (-math.inf, *self.claps_s, math.inf)
        apart_m = gap_m(around_s[next_ + 1] - t_s, t_s - around_s[next_])
        arms = {}
        for side, sign in (("left", 1.0), ("right", -1.0)):
            shoulder = figure.arms[side].shoulder
            wrist = shoulder + np.array([0.40, -0.15 + 0.5 * sign * apart_m])
            elbow = shoulder + np.array([0.16, -0.16 + 0.12 * sign])
            arms[side] = Arm(shoulder, elbow, wrist)
        return replace(figure, arms=arms)

    def hear(self, event: object) -> None: ...

    def set_belt(self, speed_mps: float) -> None: ...

    def truth(self) -> tuple[()]:
        return ()


class Late:
    """The simulated camera, with its pictures' times late by a known amount."""

    def __init__(self, source: SimulatedSource, late_s: float) -> None:
        self._source, self._late_s = source, late_s

    def start(self, clock: Clock, paced: bool) -> SourceInfo:
        return self._source.start(clock, paced)

    def receive(self, timeout_s: float) -> Frame | None:
        frame = self._source.receive(timeout_s)
        return None if frame is None else replace(frame, t_s=frame.t_s + self._late_s)

    def stop(self) -> None:
        self._source.stop()


class WrittenSound:
    """A microphone for what never sounded: ticks where the hands meet, and noise."""

    name = "written"

    def __init__(self, claps_s: list[float], seconds: float) -> None:
        self._claps_s, self._seconds = claps_s, seconds

    def start(self, clock: Clock) -> None: ...

    def stop(self) -> Recording:
        noise = np.random.default_rng(1).normal(0.0, 1e-3, round(self._seconds * SAMPLE_RATE_HZ))
        tick = beat_tone(SAMPLE_RATE_HZ)
        for clap_s in self._claps_s:
            at = round(clap_s * SAMPLE_RATE_HZ)
            room = noise[at : at + len(tick)]
            room += 0.5 * tick[: len(room)]
        return Recording(noise.astype(np.float32), lambda n: n / SAMPLE_RATE_HZ)


def fast(clapper: Clapper, source: Late, seconds: float) -> tuple[ClapAlignment, Feed]:
    """Work every picture through in order; each clap falls elsewhere between two of them."""
    clock = StreamClock()
    claps_s = [1.3 + 0.937 * n for n in range(int((seconds - 1.7) / 0.937))]
    clapper.claps_s = tuple(claps_s)
    feed = LockStepFeed(source, MediapipePose(1), clock)  # type: ignore[arg-type]
    feed.start(clock)
    try:
        return measure_clap(feed, WrittenSound(claps_s, seconds), clock, seconds), feed
    finally:
        feed.stop()


def live(clapper: Clapper, source: Late, seconds: float) -> tuple[ClapAlignment, Feed]:
    """By the clock, with a sound server."""
    clock = WallClock()
    feed = ThreadedFeed(source, MediapipePose())  # type: ignore[arg-type]
    speaker = PortAudioSpeaker()
    with served():
        feed.start(clock)
        try:
            speaker.start(clock)
            speaker.set_beat(60.0)
            beats_s: list[float] = []
            end_s = clock.now_s() + SOUND_MOST_S
            while len(beats_s) < 2:
                if clock.now_s() > end_s:
                    raise DeviceTrouble("no sound could be played in time")
                feed.next(0.02)
                beats_s += [event.t_s for event in speaker.heard() if event.kind == "beat"]
            clapper.claps_s = tuple(beats_s[0] + n for n in range(round(seconds + SOUND_MOST_S)))
            microphone = PortAudioMicrophone()
            found = measure_clap(feed, microphone, clock, seconds, each=lambda _: speaker.heard())
            return found, feed
        finally:
            speaker.stop()
            feed.stop()


def results() -> Iterator[dict[str, Any]]:
    """Run the proof."""
    asked = options(__doc__.splitlines()[0], way=("fast", "live"), seconds=6.0, fps=60.0, late=0.04)
    clapper, view = Clapper(), demo_view(1280, 720, "right")
    source = Late(SimulatedSource(clapper, view, 1280, 720, asked.fps, name="clapper"), asked.late)
    found, feed = (fast if asked.way == "fast" else live)(clapper, source, asked.seconds)
    off_s = found.late_s - asked.late
    yield {
        "proof": "clap", "way": asked.way, "fps": asked.fps,
        "late_ms": round(1000.0 * asked.late, 1), "found_ms": round(1000.0 * found.late_s, 1),
        "off_ms": round(1000.0 * off_s, 1), "spread_ms": round(1000.0 * found.spread_s, 1),
        "claps": found.claps, "pictures": feed.captured, "dropped": feed.dropped,
        "holds": abs(off_s) <= MOST_OFF_S and found.claps >= 3,
    }  # fmt: skip


if __name__ == "__main__":
    sys.exit(tell("clap", results()))
