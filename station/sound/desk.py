"""What every speaker does alike, on the loop's thread: ask the mixer, tell in session time."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import ceil

from station.clock import Clock
from station.sound.device_clock import DeviceClock
from station.sound.mixer import Mixer
from station.values import BeatManner, Cue, Heard

STALE_S = 0.35
"""Age at which a cue about a foot is stale while no beat says how long a step is: one step at
about 170 spm. A later cue would point at the other foot."""
STALE_MESSAGE_S = 2.0
"""The same for a cue that is about no single step (come forward, paused, ...)."""
_OBSERVATIONS_MAX = 4096


@dataclass(frozen=True, slots=True)
class SoundCounts:
    """What went wrong with the sound so far."""

    underflows: int = 0
    """Gaps that the device reported."""
    cues_stale: int = 0
    """Cues dropped because they would have sounded over one step late."""
    cues_replaced: int = 0
    """Cues that a newer one replaced before they began."""
    events_lost: int = 0
    """Beats and cues that `heard` was not asked for in time."""
    times_lost: int = 0
    """How often the device went away."""
    silent_s: float = 0.0
    """Time in which nothing could sound: the device was away, stood still or was opened anew."""
    latency_s: float | None = None
    """What a real device works with at last: more once it had run dry."""


class Desk:
    """Joins mixer and clocks. All but `observe` is called by the loop's thread.

    The device numbers its samples on its own, see `Outlet`: its sample 0 is the mixer's sample
    `place`.
    """

    def __init__(self, mixer: Mixer, device_clock: DeviceClock, clock: Clock) -> None:
        """Keep the three; `device_clock` is used by nobody else."""
        self.mixer = mixer
        self.clock = clock
        self.rate_spm: float | None = None
        self.manner = BeatManner()
        self.cues_stale = 0
        self.place = 0
        self._device_clock = device_clock
        self._observations: deque[tuple[int, float]] = deque(maxlen=_OBSERVATIONS_MAX)

    def observe(self, sample: int, t_s: float) -> None:
        """Note when a device's sample will sound, session clock; for the audio thread.

        It never blocks. Where nobody asks the oldest note falls out: the clock needs the newest.
        """
        self._observations.append((sample, t_s))

    def learn(self) -> DeviceClock:
        """Take the notes into the device's clock and return it; it numbers as the device does."""
        for _ in range(len(self._observations)):
            self._device_clock.observe(*self._observations.popleft())
        return self._device_clock

    def sounds_at(self, sample: int) -> float:
        """Return when the mixer's sample sounds, as far as is known now, session seconds."""
        return self.learn().at(sample - self.place)

    def sample_at(self, t_s: float) -> float:
        """Return which of the mixer's samples sounds at a session time, with its fraction."""
        return self.learn().sample_at(t_s) + self.place

    def skip_to(self, t_s: float) -> None:
        """Place all that would sound before session time `t_s`, without rendering it.

        Only while nobody renders: the mixer has one driver at a time.
        """
        behind = ceil(self.sample_at(t_s)) - self.mixer.cursor
        if behind > 0:
            self.mixer.skip(behind)

    def take_over(self, device_clock: DeviceClock, place: int) -> None:
        """Go on with another device, whose sample 0 is the mixer's sample `place`."""
        self._observations.clear()
        self._device_clock = device_clock
        self.place = place

    def set_beat(self, rate_spm: float | None, manner: BeatManner | None = None) -> None:
        """Set the beat from the next block on; raises BadInput where the rate is out of range."""
        manner = manner or BeatManner()
        self.mixer.set_beat(rate_spm, manner)
        self.rate_spm, self.manner = rate_spm, manner

    def cue(self, cue: Cue) -> float | None:
        """Sound a cue from the next block on.

        Returns:
            Its onset, session clock; None: dropped, since it would come over one step late.
        """
        late_s = self.sounds_at(self.mixer.cursor) - cue.t_asked_s
        if late_s > self._stale_s(cue):
            self.cues_stale += 1
            return None
        return self.sounds_at(self.mixer.cue(cue.kind, cue.side))

    def heard(self) -> tuple[Heard, ...]:
        """Return the beats and cues placed since the last call, in order of time."""
        device_clock = self.learn()
        rate_hz = self.mixer.tones.sample_rate_hz
        return tuple(
            Heard(
                placed.kind,
                device_clock.at(placed.sample - self.place),
                placed.side,
                None if placed.period is None else placed.period / rate_hz,
                placed.number,
                placed.steps,
            )
            for placed in self.mixer.placed()
        )

    def counts(
        self, underflows: int = 0, times_lost: int = 0, silent_s: float = 0.0,
        latency_s: float | None = None,
    ) -> SoundCounts:  # fmt: skip
        """Return what went wrong so far; of the device as it is given."""
        mixer = self.mixer
        return SoundCounts(
            underflows, self.cues_stale, mixer.cues_replaced, mixer.placed_lost,
            times_lost, silent_s, latency_s,
        )  # fmt: skip

    def _stale_s(self, cue: Cue) -> float:
        if cue.kind != "ahead" and cue.side is None:
            return STALE_MESSAGE_S
        return STALE_S if self.rate_spm is None else 60.0 / self.rate_spm
