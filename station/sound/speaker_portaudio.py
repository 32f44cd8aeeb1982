"""The speaker of a bay: a stream of samples through PortAudio.

PortAudio's thread calls back for every block, about 10 ms each. The callback only copies prepared
samples; see `PortAudioSpeaker._callback` for its contract.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from station.clock import Clock
from station.errors import DeviceTrouble, StationError
from station.sound.chatter import native_chatter_off
from station.sound.desk import Desk, SoundCounts
from station.sound.device_clock import DeviceClock
from station.sound.mixer import Mixer
from station.sound.speaker_silent import SilentSpeaker, StreamSpeaker
from station.sound.tap import Put
from station.sound.tones import SAMPLE_RATE_HZ, Voicing, make_tones
from station.values import BeatManner, Cue, Heard

LATENCY_S = 0.040
"""PortAudio's own 'low' underflows while the pose model runs; this was gapless on two cores."""
_SETTLE_MIN_S = 0.1
_SETTLE_MAX_S = 3.0
_RECENT_S = 0.05  # a callback so long ago: the device stalls, as some do after the first blocks
_DEAD_S = 1.5  # without a callback for so long the device is gone
_CLOSE_MAX_S = 2.0

Callback = Callable[[NDArray[np.float32], int, Any, Any], None]


class Stream(Protocol):
    """What is used of sounddevice's OutputStream."""

    active: bool

    def start(self) -> None:
        """Begin calling back."""

    def stop(self) -> None:
        """End after what is buffered."""

    def close(self) -> None:
        """Free the device."""


OpenStream = Callable[["str | None", Callback], "tuple[Stream, str, str | None]"]
"""(part of a device's name, callback) -> stream, the device's name, a notice; DeviceTrouble."""


def open_stream(device_name: str | None, callback: Callback) -> tuple[Stream, str, str | None]:
    """Open an output stream: 48 kHz, stereo, float32, `LATENCY_S`; not yet started.

    Args:
        device_name: Part of the device's name in any case; None: the system's default. A name
            that fits no output gives the default and a notice.
        callback: As sounddevice calls it.

    Returns:
        The stream, the device's name, and what the user must know or None.

    Raises:
        DeviceTrouble: The PortAudio library is missing, or no output can be opened.
    """
    with native_chatter_off():
        try:
            import sounddevice
        except (ImportError, OSError) as error:
            raise DeviceTrouble(
                "the PortAudio library is missing (remedy: apt install libportaudio2)"
            ) from error
        try:
            device, notice = _find_output(sounddevice, device_name)
            info = sounddevice.query_devices(device, "output")
            stream = sounddevice.OutputStream(
                samplerate=SAMPLE_RATE_HZ,
                channels=2,
                dtype="float32",
                device=device,
                latency=LATENCY_S,
                blocksize=0,  # the device's own: a set size adds a buffer of PortAudio's
                callback=callback,
            )
        except (sounddevice.PortAudioError, ValueError) as error:
            raise DeviceTrouble(f"PortAudio opens no sound output: {error}") from error
    return stream, f"{info['name']} (PortAudio)", notice


def _find_output(sounddevice: Any, device_name: str | None) -> tuple[int | None, str | None]:
    if not device_name:
        return None, None
    outputs = {
        i: str(device["name"])
        for i, device in enumerate(sounddevice.query_devices())
        if device["max_output_channels"] >= 2
    }
    for i, name in outputs.items():
        if device_name.casefold() in name.casefold():
            return i, None
    there = ", ".join(outputs.values()) or "none"
    return None, (
        f"No sound output is named '{device_name}' (there are: {there}); "
        "the system's default is used."
    )


class PortAudioSpeaker:
    """Plays through PortAudio; goes on silently, with a notice, when the device goes away."""

    def __init__(
        self,
        device_name: str | None = None,
        volume: float = 0.6,
        open_stream: OpenStream = open_stream,
        voicing: Voicing | None = None,
    ) -> None:
        """Prepare the sounds; the device is opened by `start`.

        Args:
            device_name: Part of the output's name; None: the system's default.
            volume: 0 to 1.
            open_stream: The device's edge (tests put their own).
            voicing: Levels of beat and cues, and how feet are told apart; None: as made.
        """
        self.name = "PortAudio"
        self.notice: str | None = None
        self.fault: BaseException | None = None
        """What the callback raised, if ever."""
        self._device_name = device_name
        self._open_stream = open_stream
        self._mixer = Mixer(make_tones(SAMPLE_RATE_HZ, volume, voicing))
        self._desk: Desk | None = None
        self._stream: Stream | None = None
        self._spare: StreamSpeaker | None = None  # takes over when the device is gone
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
                self._device_name, self._callback
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
        self._speaking().set_beat(rate_spm, manner)

    def cue(self, cue: Cue) -> float | None:
        """Sound a cue from the next block on; return its onset, None if it is stale."""
        return self._speaking().cue(cue)

    def heard(self) -> tuple[Heard, ...]:
        """Return the beats and cues placed since the last call, in order of time.

        They are placed when rendered: some `LATENCY_S` before they sound.
        """
        desk = self._started()
        before = desk.heard()
        speaking = self._speaking()
        return before if speaking is desk else before + speaking.heard()

    def counts(self) -> SoundCounts:
        """Return what went wrong so far."""
        return SoundCounts() if self._desk is None else self._desk.counts(self._underflows)

    def tap(self, put: Put) -> None:
        """Give every block to `put` from now on, on the audio thread: it must not wait."""
        self._mixer.tap = put

    def sounds_at(self, sample: int) -> float:
        """Return when a sample of the stream sounds, session seconds."""
        return self._started().sounds_at(sample)

    def stop(self) -> None:
        """Let what is buffered sound and close; bounded in time, safe to repeat."""
        self._close()

    # --- PortAudio's thread --------------------------------------------------------------------

    def _callback(self, out: NDArray[np.float32], frames: int, times: Any, status: Any) -> None:
        """Render one block.

        Called by PortAudio's thread. `out` is (frames, 2) float32, PortAudio's own memory, to be
        overwritten whole. `times` is on the stream's clock, which is wall-clock time on Linux:
        only the difference of two of its values, read at one instant, is used, beside the
        session's clock read here. Nothing is waited for but the mixer's short lock. An exception
        is kept, and this and every later block is silent.
        """
        try:
            desk = self._desk
            if desk is None or self.fault is not None:
                out.fill(0.0)
                return
            now_s = desk.clock.now_s()
            ahead_s = times.outputBufferDacTime - times.currentTime
            if 0.0 < ahead_s < 5.0:  # 0: a block that only fills the buffer before the start
                desk.observe(self._mixer.cursor, now_s + ahead_s)
            self._underflows += bool(status and status.output_underflow)
            self._called_s = now_s
            self._mixer.render(out)
        except BaseException as error:  # must not cross into C; the loop's thread is told
            self.fault = error
            out.fill(0.0)

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
        self._underflows = 0

    def _started(self) -> Desk:
        if self._desk is None:
            raise StationError("the speaker has not been started")
        return self._desk

    def _speaking(self) -> Desk | StreamSpeaker:
        """Return the desk, or what stands in for it; find out here that the device is gone."""
        desk = self._started()
        if self._spare is None and self._stream is not None and (why := self._trouble(desk)):
            self.notice = f"Sound is off: {why}. The beat goes on on the screen."
            self._close()
            self._spare = SilentSpeaker(self.notice)
            self._spare.start(desk.clock)
            self._spare.set_beat(desk.rate_spm, desk.manner)
        return self._spare or desk

    def _trouble(self, desk: Desk) -> str | None:
        if self.fault is not None:
            return f"a fault of the station ({type(self.fault).__name__}: {self.fault})"
        if self._stream is not None and not self._stream.active:
            return f"the device '{self.name}' went away"
        if desk.clock.now_s() - self._called_s > _DEAD_S:
            return f"the device '{self.name}' stopped answering"
        return None

    def _close(self) -> None:
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
        closer = threading.Thread(target=close, name="sound-close", daemon=True)
        closer.start()
        closer.join(_CLOSE_MAX_S)
