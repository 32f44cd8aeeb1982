"""The film of a session: what the screen shows, with what sounds beside it, finished or kept."""

from __future__ import annotations

import sys
from typing import Any

from station.commands.film_sound import MUTED, FilmSound
from station.errors import StationError
from station.keep import SessionFolder
from station.keep.joining import finish_film, left_apart
from station.live import Screen
from station.ports import Speaker

_TOLD_FILM_S = 300.0  # to write a longer film anew takes so long that it is said beforehand


class Film:
    """Records from now on. Used by the loop's thread."""

    def __init__(
        self,
        folder: SessionFolder,
        speaker: Speaker,
        screen: Screen,
        fps: float,
        mute: bool,
        notices: list[str],
    ) -> None:
        """Begin to record.

        Args:
            folder: Where the files go.
            speaker: Started.
            screen: Its pictures are recorded.
            fps: Of the source, which sets the film's pace.
            mute: Nothing sounds, and there is no sound to be recorded.
            notices: Takes what the user must know, once.
        """
        self.fault: StationError | None = None
        """What kept the film from being finished; the session's files are written all the same."""
        self._folder, self._screen, self._speaker = folder, screen, speaker
        self._notices = notices
        self._sound: FilmSound | None = None
        screen.record(fps)
        if mute:
            notices.append(MUTED)
        else:
            self._sound = FilmSound(folder, speaker, screen, notices)

    def follow(self, disk_full: bool) -> None:
        """Write the sound on, in each turn of the loop.

        Args:
            disk_full: The film ends here: what room is left is for the records.
        """
        if disk_full:
            self._screen.end_film()
        if self._sound is not None:
            self._sound.follow()

    def finish(self) -> None:
        """Close the film and put its sound into it; what fails is kept as `fault`."""
        try:
            self._finish(join=True)
        except StationError as fault:
            self.fault = fault
            self._leave_apart()

    def finish_after_a_fault(self, join: bool) -> None:
        """Finish what there is.

        Args:
            join: Somebody waits for that; else film and sound are left side by side.

        Raises:
            Exception: The film itself is what failed; its sound is kept beside it.
        """
        try:
            self._finish(join)
        except Exception:
            self._leave_apart()
            raise

    def as_dict(self) -> dict[str, Any] | None:
        """Return what `session.json` says of the film; None: there is no picture of it."""
        span_s = self._screen.recorded_s
        if span_s is None:
            return None
        told = {} if self._sound is None else self._sound.as_dict()
        return {"first_picture_s": span_s[0], "seconds": span_s[1] - span_s[0], **told}

    def _finish(self, join: bool) -> None:
        if self._sound is not None:
            self._sound.end()
        self._speaker.stop()  # joining takes a while, and the beat must not go on meanwhile
        self._screen.close()
        if join:
            self._write_anew()
        else:
            self._leave_apart()

    def _write_anew(self) -> None:
        """Put the sound into the finished film, and its index to the beginning; never fails."""
        span_s = self._screen.recorded_s
        if span_s is None:
            return
        if span_s[1] - span_s[0] > _TOLD_FILM_S:
            print("putting picture and sound into one file ...", file=sys.stderr)
        video, sound = self._folder.video, None if self._sound is None else self._sound.whole
        why = finish_film(video, sound)
        if self._sound is not None and sound is not None:
            self._sound.joined = why is None
        if why is not None:
            so = "it plays as it is" if sound is None else left_apart(video, sound)
            self._notices.append(f"{video.name} could not be written anew ({why}), so {so}")

    def _leave_apart(self) -> None:
        """Say that film and sound are side by side."""
        sound = None if self._sound is None else self._sound.whole
        if sound is not None and self._screen.recorded_s is not None:
            told = left_apart(self._folder.video, sound)
            self._notices.append(f"the session did not end as it should, so {told}")
