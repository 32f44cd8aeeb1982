"""What every speaker with a device does alike: play, notice that the device is gone, come back.

While the device plays, the audio thread drives the mixer. When it goes away, stands still or is to
be opened anew, the loop's thread drives it instead: nothing is rendered, but every beat keeps its
place on the session's clock as the lost device would have had it, so the screen's pulse goes on.
Meanwhile the device is opened again on a thread of its own, and once its clock is known it takes
the mixer over at the sample that is due at that instant.
"""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod

from station.clock import Clock
from station.errors import DeviceTrouble, StationError, Worded
from station.sound.desk import Desk, SoundCounts
from station.sound.device_clock import DeviceClock
from station.sound.mixer import Mixer
from station.sound.outlet import Outlet
from station.sound.reopening import RETRY_S, Aside, Opened, Reopening, in_thread
from station.sound.tap import Put
from station.sound.tones import SAMPLE_RATE_HZ, Voicing, make_tones
from station.sound.underruns import Gaps, LatencyRule
from station.values import BeatManner, Cue, Fault, Heard

BACK_TOLD_S = 10.0
"""How long the screen says that the sound is back."""
_DEAD_S = 1.5  # without being asked for samples for so long, the device is gone
_WARM_MAX_S = 3.0  # so long it may take to get going
_CLOSE_MAX_S = 2.0


class DeviceSpeaker(ABC):
    """A speaker whose device may go away and come back. Used by the loop's thread."""

    recent_s = 0.05
    """Asked for samples so lately, the device runs."""
    still_s = 0.3
    """Not asked for so long, it stands still: whatever the latency, nothing sounds any more."""
    warm_s = 0.5
    """Opened again, it is listened to for so long before it plays: its clock is then known."""
    jump_s = 0.004
    """See `DeviceClock`."""

    def __init__(
        self, name: str, device_name: str | None, volume: float, voicing: Voicing | None,
        latency_s: float, aside: Aside = in_thread,
    ) -> None:  # fmt: skip
        """Prepare the sounds; the device is opened by `start`."""
        self.name = name
        self.notice: str | None = None
        """What the user must know now."""
        self.fault: BaseException | None = None
        """What of the station failed on the audio thread, if anything: sound is off for good."""
        self._device_name = device_name
        self._mixer = Mixer(make_tones(SAMPLE_RATE_HZ, volume, voicing))
        self._rule = LatencyRule(latency_s)
        self._aside = aside
        self._desk: Desk | None = None
        self._opened: Opened | None = None
        self._let_go = threading.Event()  # what was given up last is closed
        self._let_go.set()
        self._reopening: Reopening | None = None
        self._lasting: str | None = None  # the notice that holds for as long as the device plays
        self._why = ""
        self._silent_from_s: float | None = None
        self._back_s: float | None = None
        self._underflows = 0  # of earlier openings
        self._gaps = Gaps()
        self._times_lost = 0
        self._silent_s = 0.0
        self._planned = False  # the device is opened anew by our own wish
        self._stopped = False

    # --- one kind of device ---------------------------------------------------------------------

    @abstractmethod
    def _open(self, outlet: Outlet, latency_s: float, again: bool) -> Opened:
        """Open the device and let it play from `outlet`; raises DeviceTrouble.

        Args:
            outlet: Gives the samples.
            latency_s: From asking for samples to their sounding.
            again: It was open before: the library must look afresh for devices.
        """

    @abstractmethod
    def _close(self, opened: Opened) -> None:
        """Close it; called off the loop's thread, but for `start` and `stop`."""

    @abstractmethod
    def _gone(self, opened: Opened) -> str | None:
        """Return why the device plays no more; None: as far as it knows it does."""

    @property
    def latency_s(self) -> float:
        """What the device is asked for now."""
        return self._rule.latency_s

    # --- a speaker ------------------------------------------------------------------------------

    def start(self, clock: Clock) -> None:
        """Open the device and wait, bounded, until its clock is known. Safe to repeat.

        Raises:
            DeviceTrouble: It cannot be opened.
        """
        if self._desk is not None:
            return
        first = self._new_clock(clock.now_s() + self._rule.latency_s)
        desk = Desk(self._mixer, first, clock)
        opened = self._open(self._new_outlet(desk, at=0), self._rule.latency_s, again=False)
        self._desk, self._opened = desk, opened
        self.name = opened.name
        self.notice = self._lasting = opened.notice
        opened.outlet.settle(lambda: self._gone(opened) is not None)
        self._gaps = Gaps(0, desk.learn().jumped_s)

    def set_beat(self, rate_spm: float | None, manner: BeatManner | None = None) -> None:
        """Set the beat from the next block on; raises BadInput where it is out of range."""
        self._kept().set_beat(rate_spm, manner)

    def cue(self, cue: Cue) -> float | None:
        """Sound a cue from the next block on; return its onset, None if it is stale."""
        return self._kept().cue(cue)

    def call_staff(self, on: bool) -> None:
        """Sound the staff call over and over, alone and whatever the volume, or end it."""
        self._kept().mixer.call_staff(on)

    def heard(self) -> tuple[Heard, ...]:
        """Return the beats and cues placed since the last call, in order of time.

        They are placed when rendered: some tens of milliseconds before they sound.
        """
        return self._kept().heard()

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss with the sound now."""
        away = self.fault is not None or (self._silent_from_s is not None and not self._planned)
        return (Fault("sound_gone"),) if away and not self._stopped else ()

    def counts(self) -> SoundCounts:
        """Return what went wrong so far, and the latency in use."""
        if self._desk is None:
            return SoundCounts()
        silent_s, opened = self._silent_s, self._opened
        if self._silent_from_s is not None:
            silent_s += max(0.0, self._desk.clock.now_s() - self._silent_from_s)
        latency_s = self._rule.latency_s if opened is None else opened.latency_s
        return self._desk.counts(self._all_underflows(), self._times_lost, silent_s, latency_s)

    def tap(self, put: Put) -> None:
        """Give every block to `put` from now on, on the audio thread: it must not wait."""
        self._mixer.tap = put

    def sounds_at(self, sample: int) -> float:
        """Return when a sample of the stream sounds, session seconds."""
        return self._started().sounds_at(sample)

    def stop(self) -> None:
        """Silence and close; bounded in time, safe to repeat."""
        self._stopped = True
        if self._reopening is not None:
            self._reopening.abandon()
            self._reopening = None
        opened, self._opened = self._opened, None
        if opened is not None:
            # A dead device may hang: its thread is then left behind.
            closer = threading.Thread(
                target=self._close, args=(opened,), name="sound-close", daemon=True
            )
            closer.start()
            closer.join(_CLOSE_MAX_S)
        self._let_go.wait(_CLOSE_MAX_S)

    # --- the state of the device ----------------------------------------------------------------

    def _started(self) -> Desk:
        if self._desk is None:
            raise StationError("the speaker has not been started")
        return self._desk

    def _kept(self) -> Desk:
        """Look after the device and return the desk; every call from the loop comes by here."""
        desk = self._started()
        if self._stopped:
            return desk
        now_s, opened = desk.clock.now_s(), self._opened
        if opened is not None:
            if (why := self._trouble(opened, now_s)) is not None:
                self._lose(opened, why)
            elif opened.outlet.placed and now_s - opened.outlet.called_s > self.still_s:
                self._stand_still(opened, f"the device '{self.name}' stood still")
            elif opened.outlet.placed:
                self._answer_gaps(desk, opened, now_s)
        if self._silent_from_s is not None:
            self._bridge(desk, now_s)
        elif self._back_s is not None and now_s - self._back_s > BACK_TOLD_S:
            self._back_s, self.notice = None, self._lasting
        return desk

    def _trouble(self, opened: Opened, now_s: float) -> str | None:
        fault = self.fault = self.fault or opened.outlet.fault
        if fault is not None:
            return f"a fault of the station ({type(fault).__name__}: {fault})"
        if (why := self._gone(opened)) is not None:
            return why
        most_s = _DEAD_S if opened.outlet.proven else _WARM_MAX_S
        if now_s - opened.outlet.called_s > most_s:
            return f"the device '{self.name}' stopped answering"
        return None

    def _stand_still(self, opened: Opened, why: str) -> None:
        """Let the loop's thread drive the mixer, and the device find its place again."""
        opened.outlet.unplace()
        self._underflows += opened.outlet.underflows + 1  # this is one, too
        opened.outlet.underflows = 0
        self._why = why
        if self._silent_from_s is None:
            self._silent_from_s = opened.outlet.called_s

    def _lose(self, opened: Opened, why: str) -> None:
        """Go on without the device, and try to have it back."""
        self._times_lost += 1
        self._planned = False
        for_good = self.fault is not None
        self._give_up(opened, why)
        self.notice = (
            f"Sound is off since {self._silent_from_s or 0.0:.1f} s: {why}. "
            f"The beat goes on on the screen{'' if for_good else '; trying again'}."
        )
        if for_good:
            self._reopening = None

    def _answer_gaps(self, desk: Desk, opened: Opened, now_s: float) -> None:
        """Put the beat back in its place after an under-run; give more latency for many."""
        count = self._all_underflows()
        late_s = self._gaps.late_s(now_s, count, desk.learn().jumped_s)
        if self._rule.raised(now_s, count):
            self._raise_latency(opened)
        elif late_s:
            opened.outlet.move(round(late_s * SAMPLE_RATE_HZ))

    def _raise_latency(self, opened: Opened) -> None:
        self._planned = True
        latency_ms = f"{1000.0 * self._rule.latency_s:.0f}"
        self.notice = Worded(
            "The sound had gaps, as this machine is busy: it now sounds "
            f"{latency_ms} ms after it is made.",
            "sound_had_gaps",
            ms=latency_ms,
        )
        self._give_up(opened, "it was opened anew")

    def _give_up(self, opened: Opened, why: str) -> None:
        now_s = self._started().clock.now_s()
        opened.outlet.end()
        self._opened = None
        self._why = why
        if self._silent_from_s is None:
            self._silent_from_s = min(opened.outlet.called_s, now_s)
        self._underflows += opened.outlet.underflows
        first_s = now_s if self._planned else now_s + RETRY_S[0]
        self._reopening = Reopening(self._attempt, self._close, self._aside, first_s)
        self._let_go.clear()
        self._aside(lambda: self._close_lost(opened))

    def _close_lost(self, opened: Opened) -> None:
        try:
            self._close(opened)
        finally:
            self._let_go.set()

    def _attempt(self) -> Opened:
        """Open the device once more; off the loop's thread."""
        if not self._let_go.wait(_CLOSE_MAX_S):
            raise DeviceTrouble("the lost device does not let go")
        return self._open(self._new_outlet(self._started()), self._rule.latency_s, again=True)

    def _bridge(self, desk: Desk, now_s: float) -> None:
        """Keep the beat's place while nothing sounds, and hand over to a device that is back."""
        if self._opened is None and self._reopening is not None:
            self._opened = self._reopening.poll(now_s)
            if self._opened is not None:
                self._opened.outlet.called_s = now_s  # opening took its time
                self._reopening = None
        opened = self._opened
        if opened is not None and opened.outlet.place():
            self._come_back(opened, now_s)
        else:
            desk.skip_to(now_s + self._rule.latency_s)

    def _come_back(self, opened: Opened, now_s: float) -> None:
        from_s = now_s if self._silent_from_s is None else self._silent_from_s
        self._silent_s += now_s - from_s
        self._silent_from_s = None
        self._back_s = now_s
        self.name, self._lasting = opened.name, opened.notice
        self._gaps = Gaps(self._all_underflows(), self._started().learn().jumped_s)
        if not self._planned:
            self.notice = Worded(
                f"The sound is back after {now_s - from_s:.1f} s (at {now_s:.1f} s; {self._why}); "
                "the beat is in its place.",
                "sound_back",
                seconds=f"{now_s - from_s:.1f}",
            )
        self._planned = False

    def _all_underflows(self) -> int:
        return self._underflows + (0 if self._opened is None else self._opened.outlet.underflows)

    # --- making ---------------------------------------------------------------------------------

    def _new_clock(self, origin_s: float) -> DeviceClock:
        return DeviceClock(SAMPLE_RATE_HZ, origin_s, self.jump_s)

    def _new_outlet(self, desk: Desk, at: int | None = None) -> Outlet:
        return Outlet(desk, desk.clock, self._new_clock, self.recent_s, self.warm_s, at)
