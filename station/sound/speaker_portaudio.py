"""The speaker of a bay: a stream of samples through PortAudio.

PortAudio's thread calls back for every block, about 10 ms each. The callback only copies prepared
samples; see `PortAudioSpeaker._callback` for its contract.
"""

from __future__ import annotations

import contextlib
import threading
from collections import deque
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from station.clock import Clock
from station.errors import DeviceTrouble, StationError
from station.sound.desk import Desk, SoundCounts
from station.sound.device_clock import DeviceClock
from station.sound.mixer import Mixer
from station.sound.portaudio_stream import (
    LATENCY_S,
    OpenStream,
    Stream,
    open_stream,
    open_stream_anew,
)
from station.sound.reopening import Aside, Away, StreamRun, in_thread, shift_of
from station.sound.tap import Put
from station.sound.tones import SAMPLE_RATE_HZ, Voicing, make_tones
from station.values import BeatManner, Cue, Heard

_SETTLE_MIN_S = 0.1
_SETTLE_MAX_S = 3.0
_RECENT_S = 0.05  # a callback so long ago: the device stalls, as some do after the first blocks
_DEAD_S = 1.5  # without a callback for so long the device is gone
_CLOSE_MAX_S = 2.0
_UNDERFLOWS = 3
_WITHIN_S = 10.0
"""So many under-runs within this time are answered by more latency."""
MOST_LATENCY_S = 0.160
_BACK_TOLD_S = 10.0


class PortAudioSpeaker:
    """Plays through PortAudio; while a device is away the beat goes on unheard, in its place."""

    def __init__(
        self,
        device_name: str | None = None,
        volume: float = 0.6,
        open_stream: OpenStream = open_stream,
        voicing: Voicing | None = None,
        open_stream_anew: OpenStream = open_stream_anew,
        aside: Aside = in_thread,
    ) -> None:
        """Prepare the sounds; the device is opened by `start`.

        Args:
            device_name: Part of the output's name; None: the system's default.
            volume: 0 to 1.
            open_stream: The device's edge (tests put their own).
            voicing: Levels of beat and cues, and how feet are told apart; None: as made.
            open_stream_anew: The same once a device was lost.
            aside: Runs what may take its time; by default a thread.
        """
        self.latency_s = LATENCY_S
        """What the device is asked for now."""
        self.name = "PortAudio"
        self.notice: str | None = None
        self.fault: BaseException | None = None
        """What the callback raised, if ever."""
        self._device_name = device_name
        self._open_stream = open_stream
        self._mixer = Mixer(make_tones(SAMPLE_RATE_HZ, volume, voicing))
        self._desk: Desk | None = None
        self._stream: Stream | None = None
        self._run = StreamRun(0)
        self._away: Away | None = None
        self._open_anew = open_stream_anew
        self._aside = aside
        self._closer: threading.Thread | None = None
        self._starved_told = 0
        self._starved: deque[float] = deque(maxlen=_UNDERFLOWS)
        self._stopped = False
        self._back_until_s: float | None = None  # so long it is told that the sound is back
        self._times_lost = 0
        self._silent_s = 0.0
        self._underflows = 0
        self._called_s = 0.0  # when the callback last ran, session clock

    def start(self, clock: Clock) -> None:
        """Open the device and wait, bounded, until its clock is known. Safe to repeat.

        Raises:
            DeviceTrouble: It cannot be opened.
        """
        if self._desk is not None:
            return
        now_s = clock.now_s()
        self._called_s = now_s
        device_clock = DeviceClock(SAMPLE_RATE_HZ, now_s + LATENCY_S)
        self._desk = Desk(self._mixer, device_clock, clock)
        try:
            self._stream, self.name, self.notice = self._open_stream(
                self._device_name, partial(self._callback, self._run), self.latency_s
            )
            try:
                self._stream.start()
            except Exception as error:  # PortAudioError, known only to its own module
                raise DeviceTrouble(f"the sound output does not start: {error}") from error
        except DeviceTrouble:
            self._close()
            self._desk = None
            raise
        self._settle(self._desk)

    def set_beat(self, rate_spm: float | None, manner: BeatManner | None = None) -> None:
        """Set the beat from the next block on; raises BadInput where it is out of range."""
        self._attended().set_beat(rate_spm, manner)

    def cue(self, cue: Cue) -> float | None:
        """Sound a cue from the next block on; return its onset, None if it is stale."""
        return self._attended().cue(cue)

    def heard(self) -> tuple[Heard, ...]:
        """Return the beats and cues placed since the last call, in order of time.

        They are placed when rendered: some `LATENCY_S` before they sound.
        """
        return self._attended().heard()

    def counts(self) -> SoundCounts:
        """Return what went wrong so far."""
        desk = self._desk
        if desk is None:
            return SoundCounts()
        silent_s = self._silent_s
        if self._away is not None:
            silent_s += desk.clock.now_s() - self._away.since_s
        return replace(
            desk.counts(self._underflows),
            times_lost=self._times_lost,
            silent_s=round(silent_s, 2),
            latency_s=self.latency_s,
        )

    def tap(self, put: Put) -> None:
        """Give every block to `put` from now on, on the audio thread: it must not wait."""
        self._mixer.tap = put

    def sounds_at(self, sample: int) -> float:
        """Return when a sample of the stream sounds, session seconds."""
        return self._started().sounds_at(sample)

    def stop(self) -> None:
        """Let what is buffered sound and close; bounded in time, safe to repeat."""
        self._stopped = True  # a stream that opens from now on is closed at once
        if self._stream is None and self._away is not None:
            self._stream = self._away.opened_stream
        self._close()

    # --- PortAudio's thread --------------------------------------------------------------------

    def _callback(
        self, run: StreamRun, out: NDArray[np.float32], frames: int, times: Any, status: Any
    ) -> None:
        """Render one block of the stream `run`.

        Called by PortAudio's thread. `out` is (frames, 2) float32, PortAudio's own memory, to be
        overwritten whole. `times` is on the stream's clock, which is wall-clock time on Linux:
        only the difference of two of its values, read at one instant, is used, beside the
        session's clock read here. Nothing is waited for but the mixer's short lock. An exception
        is kept, and this and every later block is silent.
        """
        try:
            desk = self._desk
            if desk is None or self.fault is not None or run is not self._run:
                out.fill(0.0)
                return
            now_s = desk.clock.now_s()
            ahead_s = times.outputBufferDacTime - times.currentTime
            told = 0.0 < ahead_s < 5.0  # 0: a block that only fills the buffer before the start
            self._underflows += bool(status and status.output_underflow)
            self._called_s = now_s
            if run.shift is None:
                if told:
                    run.note(now_s + ahead_s)
                out.fill(0.0)
            else:
                sounds_s = now_s + ahead_s if told else None
                self._render(run.sent + run.shift, out, desk, sounds_s)
            run.sent += frames
        except BaseException as error:  # must not cross into C; the loop's thread is told
            self.fault = error
            out.fill(0.0)

    def _render(
        self,
        wanted: int,
        out: NDArray[np.float32],
        desk: Desk,
        sounds_s: float | None,
    ) -> None:
        """Render the mixer's samples from `wanted` on; only a stream just back has to be fitted."""
        early = self._mixer.cursor - wanted
        if early < 0:
            self._mixer.skip(-early)
        begin = min(max(early, 0), len(out))
        out[:begin] = 0.0
        if sounds_s is not None:
            desk.observe(self._mixer.cursor, sounds_s + begin / SAMPLE_RATE_HZ)
        if begin < len(out):
            self._mixer.render(out[begin:])

    # --- the loop's thread ---------------------------------------------------------------------

    def _settle(self, desk: Desk) -> None:
        """Wait until the device's clock is known: the first blocks only fill its buffer."""
        start_s = desk.clock.now_s()
        while (now_s := desk.clock.now_s()) < start_s + _SETTLE_MAX_S:
            if self.fault is not None or self._stream is None or not self._stream.active:
                break
            running = now_s > start_s + _SETTLE_MIN_S and now_s - self._called_s < _RECENT_S
            if desk.learn().settled and running:
                break
            desk.clock.wait_until(now_s + 0.01, 0.01)
        self._underflows = self._starved_told = 0

    def _started(self) -> Desk:
        if self._desk is None:
            raise StationError("the speaker has not been started")
        return self._desk

    def _attended(self) -> Desk:
        """Return the desk, after a look at the device: is it gone, starved, or back?"""
        desk = self._started()
        now_s = desk.clock.now_s()
        if self._away is None and self._stream is not None:
            if why := self._trouble(desk):
                more = "" if self.fault is not None else "; trying again"
                self.notice = f"Sound is off: {why}. The beat goes on on the screen{more}."
                self._times_lost += 1
                self._leave(desk, now_s)
            elif self._is_starved(now_s):
                self.latency_s = min(2.0 * self.latency_s, MOST_LATENCY_S)
                self.notice = (
                    "The sound had gaps, as this machine is busy: it now sounds "
                    f"{1000.0 * self.latency_s:.0f} ms after it is made."
                )
                self._leave(desk, now_s, at_once=True)
        if self._away is not None:
            self._come_back(desk, self._away, now_s)
        elif self._back_until_s is not None and now_s > self._back_until_s:
            self.notice = self._back_until_s = None
        return desk

    def _leave(self, desk: Desk, now_s: float, at_once: bool = False) -> None:
        """Let go of the stream; its callback plays silence from here on."""
        self._run = StreamRun(None)
        self._close(wait=False)
        again = None if self.fault is not None else self._opened_again
        self._away = Away(desk, now_s, again, self._aside, at_once)

    def _opened_again(self) -> tuple[StreamRun, Stream]:
        """Open and start a stream that is silent as yet; not on the loop's thread."""
        closer = self._closer
        if closer is not None:
            closer.join(_CLOSE_MAX_S)
            if closer.is_alive():
                raise DeviceTrouble("the lost device does not let go")
        run = StreamRun(None)
        self._run = run  # its callback is listened to from now on
        stream, name, _ = self._open_anew(
            self._device_name, partial(self._callback, run), self.latency_s
        )
        try:
            stream.start()
        except Exception as error:
            with contextlib.suppress(Exception):
                stream.close()
            raise DeviceTrouble(f"the sound output does not start: {error}") from error
        if self._stopped:
            with contextlib.suppress(Exception):
                stream.close()
            raise DeviceTrouble("the session is over")
        self.name = name
        return run, stream

    def _come_back(self, desk: Desk, away: Away, now_s: float) -> None:
        """Go on without a device, or go over to the one that has opened."""
        back = away.attend(now_s, self.latency_s)
        if back is None:
            return
        run, stream = back
        if self._stream is None:
            self._stream, self._called_s = stream, now_s
        if self._trouble(desk):  # lost again before it played
            self._close(wait=False)
            away.gave_way()
        elif (begins_s := run.begins_s()) is not None:
            self._silent_s += now_s - away.since_s
            self._away = None
            if not away.at_once:
                self.notice = f"The sound is back after {now_s - away.since_s:.1f} s."
            self._back_until_s = now_s + _BACK_TOLD_S
            run.shift = shift_of(desk, begins_s)  # last: from here on the mixer is the callback's

    def _is_starved(self, now_s: float) -> bool:
        """Whether the device ran dry again and again within a short time."""
        if self.latency_s >= MOST_LATENCY_S:
            return False
        for _ in range(min(self._underflows - self._starved_told, _UNDERFLOWS)):
            self._starved.append(now_s)
        self._starved_told = self._underflows
        if len(self._starved) < _UNDERFLOWS or now_s - self._starved[0] > _WITHIN_S:
            return False
        self._starved.clear()
        return True

    def _trouble(self, desk: Desk) -> str | None:
        if self.fault is not None:
            return f"a fault of the station ({type(self.fault).__name__}: {self.fault})"
        if self._stream is not None and not self._stream.active:
            return f"the device '{self.name}' went away"
        if desk.clock.now_s() - self._called_s > _DEAD_S:
            return f"the device '{self.name}' stopped answering"
        return None

    def _close(self, wait: bool = True) -> None:
        """Close the stream; `wait`: until it is closed, bounded."""
        stream, self._stream = self._stream, None
        if stream is None:
            return

        def close() -> None:
            # A device that is gone may refuse; there is nothing left to be done about it.
            with contextlib.suppress(Exception):
                stream.stop()
            with contextlib.suppress(Exception):
                stream.close()

        # A dead device may also hang: the thread is then left behind.
        self._closer = threading.Thread(target=close, name="sound-close", daemon=True)
        self._closer.start()
        if wait:
            self._closer.join(_CLOSE_MAX_S)
