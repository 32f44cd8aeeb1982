"""Measures the way of a sound: from asking for a tick to its arrival at a microphone or monitor.

Ticks of the beat are sounded one by one through the station's own speaker and found again in what
an input records. So what no device tells of itself is known: how much later than it says a sound
leaves the loudspeaker (a wireless one may be 200 ms late), and how long a cue takes in all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, correlate, sosfiltfilt

from station.clock import Clock
from station.errors import DeviceTrouble, Worded
from station.ports import Speaker
from station.sound.tones import SAMPLE_RATE_HZ, beat_tone

RATE_SPM = 60.0
"""Of the beat that is begun for each tick: the next one is a second away."""
_ON_S = 0.4
_OFF_S = 0.9
_TELL_MAX_S = 2.0
_EARLY_S = 0.1
_LATE_S = 0.7  # so late a wireless loudspeaker may be
_ABOVE_HZ = 1500.0
_LIKE_LEAST = 0.25  # a tick 6 dB above the noise is 0.5 like its model, noise alone below 0.1
_PAD = 480


class TicksNotHeard(DeviceTrouble):
    """The input records, but most of the ticks are not in what it recorded."""


@dataclass(frozen=True, slots=True)
class Recording:
    """What an input recorded."""

    samples: NDArray[np.float32]
    """(n,)."""
    at: Callable[[int], float]
    """Tells when a sample arrived at the input, session seconds."""


class Microphone(Protocol):
    """An input: a microphone, or the monitor of an output."""

    name: str

    def start(self, clock: Clock) -> None:
        """Begin to record; raises DeviceTrouble."""

    def stop(self) -> Recording:
        """End and return all that was recorded."""


@dataclass(frozen=True, slots=True)
class RoundTrip:
    """What was found."""

    ticks: int
    """Sounded."""
    found: int
    """Found again in the recording."""
    asked_s: float
    """From asking for a tick to its arrival at the input: the median."""
    told_s: float
    """How much later than told a tick arrived: the median; what the device does not tell."""
    spread_s: float
    """Largest less smallest of the latter."""


def measure_round_trip(
    speaker: Speaker, microphone: Microphone, clock: Clock, ticks: int = 5
) -> RoundTrip:
    """Sound some ticks and find them in what the microphone records.

    Takes 1.3 s a tick. The speaker's own beat is off before and after.

    Args:
        speaker: Started; its ticks are those of `beat_tone` as made.
        microphone: Not started; stopped at the end, whatever happens.
        clock: The session's.
        ticks: How many.

    Raises:
        DeviceTrouble: The input cannot be opened, or the speaker tells of no beat.
        TicksNotHeard: No more than half of the ticks are found in what was recorded.
    """
    asked_s: list[float] = []
    told_s: list[float] = []
    speaker.set_beat(None)
    speaker.heard()
    microphone.start(clock)
    try:
        _wait(clock, _ON_S)  # the input's own clock gets known
        for _ in range(ticks):
            asked_s.append(clock.now_s())
            told_s.append(_one_tick(speaker, clock))
        _wait(clock, _LATE_S)
    finally:
        speaker.set_beat(None)
        recording = microphone.stop()
    came_s = [_arrival_s(recording, t_s) for t_s in told_s]
    found = [(a, t, c) for a, t, c in zip(asked_s, told_s, came_s, strict=True) if c is not None]
    if 2 * len(found) <= ticks:
        raise TicksNotHeard(
            Worded(
                f"{len(found)} of {ticks} ticks were heard by '{microphone.name}'; turn the sound "
                "up, bring the microphone nearer to the loudspeaker, or name another input",
                "ticks_unheard",
                found=str(len(found)),
                ticks=str(ticks),
                name=microphone.name,
            )
        )
    late_s = [came - told for _, told, came in found]
    return RoundTrip(
        ticks,
        len(found),
        median(came - asked for asked, _, came in found),
        median(late_s),
        max(late_s) - min(late_s),
    )


def _one_tick(speaker: Speaker, clock: Clock) -> float:
    """Sound one tick; return when it is told to sound."""
    speaker.set_beat(RATE_SPM)
    end_s = clock.now_s() + _TELL_MAX_S
    told_s: float | None = None
    while told_s is None and clock.now_s() < end_s:
        _wait(clock, 0.005)
        told_s = next((e.t_s for e in speaker.heard() if e.kind == "beat"), None)
    if told_s is None:
        raise DeviceTrouble("the speaker tells of no beat")
    _wait(clock, _ON_S)
    speaker.set_beat(None)
    _wait(clock, _OFF_S)
    speaker.heard()
    return told_s


def _wait(clock: Clock, seconds: float) -> None:
    end_s = clock.now_s() + seconds
    while not clock.wait_until(end_s, 0.05):
        pass


def _arrival_s(recording: Recording, told_s: float) -> float | None:
    """Return when the tick that was told for `told_s` arrived; None: it is not in the recording."""
    first = _sample_at(recording, told_s - _EARLY_S)
    samples = recording.samples[max(0, first) : _sample_at(recording, told_s + _LATE_S)]
    at = find_tick(samples)
    return None if at is None else recording.at(max(0, first) + at)


def _sample_at(recording: Recording, t_s: float) -> int:
    """Return the sample that arrived at `t_s`, within the recording."""
    origin_s = recording.at(0)
    return int(np.clip(round((t_s - origin_s) * SAMPLE_RATE_HZ), 0, recording.samples.size))


def find_tick(samples: NDArray[np.float32]) -> int | None:
    """Return where the beat's tick begins, at the resolution of a sample; None: it is not there.

    Args:
        samples: (n,) at `SAMPLE_RATE_HZ`, with one tick at any level, or none.
    """
    high = butter(4, _ABOVE_HZ, "highpass", fs=SAMPLE_RATE_HZ, output="sos")
    tick = sosfiltfilt(high, np.pad(beat_tone(SAMPLE_RATE_HZ), _PAD))
    if samples.size < tick.size:
        return None
    sound = sosfiltfilt(high, np.pad(samples.astype(float), _PAD))
    product = correlate(sound, tick, mode="valid", method="fft")
    total = np.concatenate([[0.0], np.cumsum(sound**2)])
    power = total[tick.size :] - total[: -tick.size]
    best = int(np.argmax(product))
    scale = float(np.sqrt(power[best] * (tick**2).sum()))
    return best if scale > 0.0 and product[best] / scale >= _LIKE_LEAST else None
