"""The seams between the loop and its devices: what a source, tracker and speaker must offer.

Real devices (`see`, `sound`) and simulated ones (`simulate`) stand behind the same protocols; only
`live.py` and the commands choose between them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

from station.clock import Clock
from station.values import (
    BeatManner,
    BeltAsked,
    Cue,
    Fault,
    Frame,
    Heard,
    HopsAsked,
    Pose,
    TrueStep,
)


class EndOfStream(Exception):
    """A source has no more frames: the normal end of a clip. `note` says if it came early."""

    def __init__(self, note: str | None = None) -> None:
        """Keep a sentence for the user (`None`: the clip ended where it should)."""
        super().__init__(note or "end of stream")
        self.note = note


@dataclass(frozen=True, slots=True)
class SourceInfo:
    """What a source says of itself once it is open."""

    name: str
    width: int
    height: int
    fps: float
    """Nominal frames per second."""
    live: bool
    """A camera: frames come by themselves. Else the clip's own times pace it."""
    frames: int | None = None
    """How many frames it will give, where known."""


class FrameSource(Protocol):
    """Gives frames, one at a time, in order of time. Used by one thread."""

    def start(self, clock: Clock, paced: bool) -> SourceInfo:
        """Open the source; called once, before the first `receive`.

        Args:
            clock: The session's clock. Frame times are on it. A recording's first frame is at 0.
            paced: True: a recording's frame is given when the clock reaches its time (late frames
                are given at once, never skipped here: the loop's slot drops what is too old).
                False: as fast as they are asked for. A camera ignores it.

        Raises:
            BadInput: The file is missing, empty, or not what it should be.
            DeviceTrouble: The camera is missing or busy.
        """
        ...

    def receive(self, timeout_s: float) -> Frame | None:
        """Return the next frame, or None when none came within `timeout_s`.

        Raises:
            EndOfStream: There are no more frames.
            DeviceTrouble: The device is lost for good.
        """
        ...

    def stop(self) -> None:
        """Close the source; bounded in time, safe to repeat."""
        ...


@runtime_checkable
class Listener(Protocol):
    """A source that can hear: the simulated runner."""

    def hear(self, event: Heard) -> None:
        """Take one beat or cue that has sounded; may be called from another thread."""
        ...


@runtime_checkable
class SetsBelt(Protocol):
    """A source beside whose belt somebody stands: the simulated runner's."""

    def ask_belt(self, asked: BeltAsked) -> None:
        """Take what the belt is asked to be set to; may be called from another thread."""
        ...


@runtime_checkable
class Hops(Protocol):
    """A source whose runner hops when hops are asked for: the simulated runner's."""

    def ask_hops(self, asked: HopsAsked) -> None:
        """Take which hops begin now; may be called from another thread."""
        ...


@runtime_checkable
class TruthTeller(Protocol):
    """A source that knows the exact truth of what it showed."""

    def truth(self) -> tuple[TrueStep, ...]:
        """Return the true steps whose contact was shown so far, in order of time."""
        ...


@runtime_checkable
class FaultTeller(Protocol):
    """A device that says what is amiss with it."""

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss now; may be called from another thread."""
        ...


@runtime_checkable
class Ticking(Protocol):
    """What can show that it is still at work."""

    @property
    def ticks(self) -> int:
        """A count that rises as long as it works, also where there is nothing to do."""
        ...


class PoseSource(Protocol):
    """Gives ready poses instead of pictures (a trace). Used by one thread."""

    def start(self) -> SourceInfo:
        """Open; raises BadInput."""
        ...

    def receive(self) -> Pose:
        """Return the next pose, or raise EndOfStream."""
        ...

    def stop(self) -> None:
        """Close; safe to repeat."""
        ...


class PoseModel(Protocol):
    """Finds one body's landmarks in a picture. Used by one thread."""

    def find(self, frame: Frame) -> Pose:
        """Return the pose in `frame` (`Pose.nobody` where nobody is found).

        Raises:
            BadInput: A picture that the model cannot take.
        """
        ...

    def detect_anew(self) -> None:
        """Let the next `find` detect afresh instead of following the last frame."""
        ...

    def close(self) -> None:
        """Free the model; safe to repeat."""
        ...


class LooksTwice(Protocol):
    """Looks for a second person beside the one whom the pose model follows."""

    def look(self, frame: Frame, runner: Pose) -> bool:
        """Return whether somebody else is in the picture."""
        ...

    def close(self) -> None:
        """Free the model; safe to repeat."""
        ...


@runtime_checkable
class SoundTeller(Protocol):
    """A speaker that tells what went wrong with the sound."""

    def counts(self) -> Any:
        """Return the counts so far, a dataclass of numbers."""


class Speaker(Protocol):
    """Keeps the beat and sounds the cues. Called from the loop's thread; never blocks it."""

    name: str
    """What it plays through, for the summary."""
    notice: str | None
    """What the user must know (for example that it is silent), or None."""

    def start(self, clock: Clock) -> None:
        """Open the device and learn the session's clock; a failing device raises DeviceTrouble."""
        ...

    def set_beat(self, rate_spm: float | None, manner: BeatManner | None = None) -> None:
        """Set the beat, in steps per minute; None: no beat. A change of rate keeps the phase.

        Args:
            rate_spm: None: no beat.
            manner: How it is kept; None: one beat per step, changes at once.
        """
        ...

    def cue(self, cue: Cue) -> float | None:
        """Sound a cue as soon as may be; return its onset on the session clock, None if dropped."""
        ...

    def heard(self) -> tuple[Heard, ...]:
        """Return what has been placed since the last call, in order of time.

        Beats are told ahead, as soon as their instant is fixed, so that the screen's pulse can be
        scheduled and each step's offset from the nearest beat computed.
        """
        ...

    def stop(self) -> None:
        """Silence and close; bounded in time, safe to repeat."""
        ...


@runtime_checkable
class StaffCaller(Protocol):
    """A speaker that can call staff to the bay."""

    def call_staff(self, on: bool) -> None:
        """Sound the staff call over and over, alone and whatever the volume, or end it."""
        ...


@runtime_checkable
class Tappable(Protocol):
    """A speaker whose sound can be written down."""

    def tap(self, put: Callable[[int, Any], None]) -> None:
        """Give every block from now on to `put`: its first sample, and (n, 2) float32.

        The block is the speaker's own memory. The thread may be the device's: `put` never blocks.
        """
        ...

    def sounds_at(self, sample: int) -> float:
        """Return when a sample of the stream sounds, as far as is known now, session seconds."""
        ...
