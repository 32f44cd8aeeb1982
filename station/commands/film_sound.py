"""The sound beside a recorded screen: written while the session goes on, joined at its end."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from station.keep import SessionFolder
from station.live import Screen
from station.ports import Speaker, Tappable
from station.sound.speaker_silent import SilentSpeaker, StreamSpeaker
from station.sound.tap import Tap
from station.sound.tones import SAMPLE_RATE_HZ
from station.sound.track import SoundTrack

MUTED = "--mute: the film has no sound, and there is no sound.wav"


class FilmSound:
    """Writes down what the speaker sounds, from the first recorded picture to the last.

    Used by the loop's thread. A device plays on its own thread, so its blocks come through a
    bounded queue; a virtual one renders on this thread, so nothing of it can be lost.
    """

    def __init__(
        self, folder: SessionFolder, speaker: Speaker, screen: Screen, notices: list[str]
    ) -> None:
        """Listen to the speaker from now on.

        Args:
            folder: Where the file goes.
            speaker: Started.
            screen: Records.
            notices: Takes what the user must know, once.
        """
        self._folder = folder
        self._speaker = speaker
        self._screen = screen
        self._notices = notices
        self._track: SoundTrack | None = None
        self._tap: Tap | None = None
        self._told = False
        self.joined = False
        """It is in the film."""
        if not isinstance(speaker, Tappable):
            notices.append(f"there is no sound.wav: {speaker.name} cannot be recorded")
            return
        self._track = SoundTrack(folder.sound, speaker.sounds_at)
        if isinstance(speaker, StreamSpeaker):
            speaker.tap(self._track.put)
        else:
            self._tap = Tap()
            speaker.tap(self._tap.put)
        if isinstance(speaker, SilentSpeaker):
            notices.append("sound.wav holds what would have sounded")

    def follow(self) -> None:
        """Write on as far as pictures go; called each turn of the loop."""
        if self._track is None:
            return
        if self._tap is not None:
            self._tap.drain(self._track.put)
        span_s = self._screen.recorded_s
        if span_s is not None:
            self._track.follow(*span_s)
        self._tell_fault(self._track)

    def end(self) -> None:
        """End the sound where the last picture ends, and close its file; never fails."""
        span_s = self._screen.recorded_s
        if span_s is not None and isinstance(self._speaker, StreamSpeaker):
            self._speaker.play_on(span_s[1])
        self.follow()
        if self._track is None:
            return
        self._track.finish()
        self._tell_fault(self._track)
        if self._tap is not None and self._tap.lost:
            self._notices.append(
                f"{self._tap.lost / SAMPLE_RATE_HZ:.2f} s of sound.wav are silent where sound was "
                "played: this machine was too busy to write it down"
            )

    @property
    def whole(self) -> Path | None:
        """The file, where it holds what is to be in the film; None: it does not."""
        track = self._track
        whole = track is not None and track.fault is None and track.written > 0
        return self._folder.sound if whole else None

    def as_dict(self) -> dict[str, Any]:
        """Return what it came to, for `session.json`."""
        written = 0 if self._track is None else self._track.written
        return {
            "sound_s": written / SAMPLE_RATE_HZ,
            "sound_lost_s": 0.0 if self._tap is None else self._tap.lost / SAMPLE_RATE_HZ,
            "sound_in_film": self.joined,
        }

    def _tell_fault(self, track: SoundTrack) -> None:
        if track.fault is not None and not self._told:
            self._told = True
            self._notices.append(
                f"{track.path.name} is not complete: it cannot be written "
                f"({track.fault.strerror or track.fault}); the session goes on without it"
            )
