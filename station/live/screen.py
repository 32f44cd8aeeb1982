"""The runner's screen: one painter, and up to two places that its picture goes to."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import Rhythm, Scene
from station.errors import StationError
from station.live.stages import Timer, untimed
from station.show.layout import Box
from station.values import Fault

Image = NDArray[np.uint8]
LAG_SHARE = 0.05
"""How much of a picture's own lag goes into the lag that the recorder is told: its pictures keep
the even pace of their frames, and stand where the screen showed them."""
STILL_AGE_S = 0.1
"""A landing mark no older than this makes a good still."""


class ScenePainter(Protocol):
    """Paints a scene into a buffer of its own."""

    def paint(self, scene: Scene) -> Image:
        """Return the picture, valid until the next call."""
        ...

    def pulse(self, rhythm: Rhythm) -> tuple[Image, Box] | None:
        """Paint only the beat's pulse anew; return the picture and what of it has changed."""
        ...


class Key(Protocol):
    """One key that was pressed."""

    @property
    def command(self) -> str:
        """What it asks for."""
        ...


class ShowsPictures(Protocol):
    """A window."""

    def show(self, image: Image) -> None:
        """Show a picture at once."""
        ...

    def show_part(self, image: Image, box: Box) -> None:
        """Show at once what has changed of the picture shown last."""
        ...

    def events(self) -> tuple[Key, ...]:
        """Return the keys pressed since the last call."""
        ...

    def close(self) -> None:
        """Close it; safe to repeat."""
        ...


class TakesPictures(Protocol):
    """A recorder of the screen."""

    @property
    def span_s(self) -> tuple[float, float] | None:
        """From when to when its pictures go so far; None before the first."""
        ...

    def write(self, t_s: float, image: Image) -> None:
        """Take a picture that stood from `t_s` on."""
        ...

    def close(self) -> None:
        """Finish; safe to repeat."""
        ...


class Screen:
    """Paints once per scene. Main thread only."""

    def __init__(
        self,
        painter: ScenePainter,
        window: ShowsPictures | None = None,
        make_video: Callable[[float], TakesPictures] | None = None,
        save_still: Callable[[Image], None] | None = None,
        coach_strip: bool = False,
    ) -> None:
        """Keep the painter and where its pictures go.

        Args:
            painter: Makes the pictures.
            window: Shows them; None: no window.
            make_video: Makes the recorder for so many frames per second; None: none is wanted.
            save_still: Saves one picture when the recording ends: the last landing that was
                judged, or the last picture where none was.
            coach_strip: Whether the coach's strip is shown from the start; a key turns it on and
                off.
        """
        self.coach_strip = coach_strip
        self.drawn = 0
        self.timer: Timer = untimed
        """Times painting and filming."""
        self._painter = painter
        self._window = window
        self._make_video = make_video
        self._video: TakesPictures | None = None
        self._save_still = save_still
        self._lag_s: float | None = None
        self._last: Image | None = None
        self._still: Image | None = None
        self._still_fresh = False  # the picture before showed a fresh landing, and was kept
        self._film_ended = False
        self._film_fault: StationError | None = None

    def record(self, fps: float) -> None:
        """Begin to record, now that the source has told its frame rate."""
        if self._make_video is not None and self._video is None:
            self._video = self._make_video(fps)

    def draw(self, scene: Scene, t_s: float) -> None:
        """Paint and hand the picture on.

        Args:
            scene: As of its `t_s`, which is when the picture is shown.
            t_s: When its frame was exposed. The recorder is told the time of showing: there the
                pulse, which is as of that time, stands beside the beat that sounded with it.
        """
        with self.timer("paint"):
            image = self._painter.paint(scene)
        self.drawn += 1
        if self._window is not None:
            self._window.show(image)
        filmed = self._video is not None
        if filmed:
            with self.timer("film"):
                filmed = self._film(t_s + self._lag(scene.t_s - t_s), image)
        if filmed:
            self._last = image
            fresh = any(m.verdict is not None and m.age_s < STILL_AGE_S for m in scene.landings)
            if fresh and not self._still_fresh:
                self._still = image.copy()  # the painter paints its one buffer anew
            self._still_fresh = fresh

    def pulse(self, rhythm: Rhythm, shown_s: float) -> None:
        """Paint the beat's pulse anew, and nothing else; nothing where the picture has none.

        Args:
            rhythm: As of `shown_s`.
            shown_s: When it will be seen, which is its place in a recording, too.
        """
        painted = self._painter.pulse(rhythm)
        if painted is None:
            return
        image, box = painted
        if self._window is not None:
            self._window.show_part(image, box)
        self._film(shown_s, image)

    def _film(self, t_s: float, image: Image) -> bool:
        """Film a picture; return whether there is a film. One that fails ends; the rest goes on."""
        if self._video is None or self._film_ended:
            return False
        try:
            self._video.write(t_s, image)
        except StationError as fault:
            self._film_ended, self._film_fault = True, fault
            return False
        return True

    def end_film(self) -> None:
        """End the film before the session: the disk has no more room for it. Safe to repeat."""
        if self._video is None or self._film_ended:
            return
        self._film_ended = True
        with contextlib.suppress(StationError):
            self._video.close()

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss with the film."""
        return (Fault("film_stopped"),) if self._film_ended else ()

    @property
    def recorded_s(self) -> tuple[float, float] | None:
        """From when to when the recorded pictures go so far; None before the first."""
        return None if self._video is None else self._video.span_s

    def _lag(self, lag_s: float) -> float:
        before_s = lag_s if self._lag_s is None else self._lag_s
        self._lag_s = before_s + LAG_SHARE * (lag_s - before_s)
        return self._lag_s

    def asked(self) -> tuple[str, ...]:
        """Return what the keys asked for since the last call."""
        if self._window is None:
            return ()
        return tuple(key.command for key in self._window.events())

    def _keep_still(self) -> None:
        still = self._still if self._still is not None else self._last
        if still is not None and self._save_still is not None:
            self._save_still(still)

    def close(self) -> None:
        """Close window and recorder; safe to repeat.

        Raises:
            StationError: The film could not be written, once all else is closed.
        """
        try:
            if self._video is not None:
                quiet = (StationError,) if self._film_ended else ()  # told of already
                with contextlib.suppress(*quiet):
                    self._video.close()
                self._keep_still()
            fault, self._film_fault = self._film_fault, None
            if fault is not None:
                raise fault
        finally:
            if self._window is not None:
                self._window.close()
