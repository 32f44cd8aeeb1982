"""Paints a scene as the picture on the runner's screen."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.coach.scene import LandingMark, Rhythm, Scene
from station.show.answer import AnswerLine
from station.show.belt_card import BeltCard
from station.show.cards import Cards
from station.show.coach_strip import CoachPanel
from station.show.drill import DrillPanel
from station.show.felt_card import FeltCard
from station.show.guides import Guides, ahead_on_screen, belt_on_screen, step_s, strength
from station.show.hops import HopCounter
from station.show.layout import Box, Layout
from station.show.mirror import Mirror
from station.show.palette import INK
from station.show.rhythm import RhythmPanel
from station.show.saying import Saying
from station.show.strip import Strip
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]
_Tops = tuple[int, int]
"""First free rows of the left and the right column."""
OVERLOAD = ("slower_or_rest", "tired")
"""Sentences that ask for a slower belt or a rest: they take a whole card."""
_ASIDE = 0.45  # brightness of the picture behind a card that ends or stops the running


class Painter:
    """Paints scenes into one buffer that it owns. Used by one thread.

    The camera's picture fills the screen, mirrored; a picture of another shape than the screen is
    centred and not distorted. All points of a scene are mirrored in one place (`Mirror`), text
    never is. Panels keep to the upper corners, the top band and a strip below the belt.
    """

    def __init__(self, width: int, height: int, words: Wording, text_scale: float = 1.0) -> None:
        """Make the buffers and open the font.

        Args:
            width: Screen width in pixels.
            height: Screen height in pixels.
            words: Gives labels and sentences.
            text_scale: Enlargement of the text, from `legibility.text_scale`.
        """
        self.width = width
        self.height = height
        self._screen = np.zeros((height, width, 3), np.uint8)
        self._plain = np.full_like(self._screen, INK)
        self._pulsing = False
        self._layout = Layout(width, height, text_scale)
        self._mirror = Mirror((width, height), (width, height))
        text = TextBook()
        self._guides = Guides(self._layout, text, words)
        self._rhythm = RhythmPanel(self._layout, text, words)
        self._drill = DrillPanel(self._layout, text, words)
        self._saying = Saying(self._layout, text, words)
        self._strip = Strip(self._layout, text, words)
        self._cards = Cards(self._layout, text, words, self._saying, self._drill)
        self._belt = BeltCard(self._layout, text, words)
        self._felt = FeltCard(self._layout, text, words)
        self._hops = HopCounter(self._layout, text, words)
        self._coach = CoachPanel(self._layout, text, words)
        self._answer = AnswerLine(self._layout, text, words)

    def paint(self, scene: Scene) -> Image:
        """Paint one scene.

        Args:
            scene: What is to be shown. Points are image pixels of its frame (of the last frame's
                size where it has none; of the screen's before the first). In the states
                `countdown` and `rest` its `drill.seconds_left` is the time until the state ends.
                With `show_guides` off nothing tells where a foot landed: no guides on the
                picture, no strip, no verdict. With `show_view` off the ground is plain and dark.

        Returns:
            (height, width, 3) uint8 BGR: the painter's own buffer, the same object every time,
            valid until the next call. Whoever keeps a picture or hands it to another thread
            copies it.
        """
        screen = self._screen
        self._ground(screen, scene)
        running = scene.state in ("drill", "countdown")
        if running and scene.show_guides:
            self._guides.paint(screen, scene, self._mirror)
        facing = ahead_on_screen(scene)
        tops = self._card(screen, scene)
        low = self.height - self._layout.margin
        self._pulsing = tops is None and scene.rhythm is not None
        if tops is None:
            tops, low = self._running(screen, scene, facing)
        self._columns(screen, scene, tops, low, facing)
        return screen

    def pulse(self, rhythm: Rhythm) -> tuple[Image, Box] | None:
        """Paint only the beat's pulse anew, into the picture painted last.

        Args:
            rhythm: As it is to be seen.

        Returns:
            The picture, and what of it has changed; None: the last scene shows no beat.
        """
        if not self._pulsing:
            return None
        box = self._rhythm.pulse(self._screen, rhythm)
        return None if box is None else (self._screen, box)

    def _card(self, screen: Image, scene: Scene) -> _Tops | None:
        """Paint the card of a state without guided running; None where there is none."""
        if scene.state == "felt" and scene.felt is not None:
            below = self._felt.paint(screen, scene.felt).bottom
        elif scene.state != "drill":
            below = self._cards.paint(screen, scene, scene.state)
        elif scene.drill is not None and scene.drill.belt_waits:
            below = self._belt.paint(screen, scene.drill).bottom
        elif scene.sentence is not None and scene.sentence.key in OVERLOAD:
            below = self._cards.paint(screen, scene, "overload")
        else:
            return None
        return below + self._gap, below + self._gap

    def _running(self, screen: Image, scene: Scene, facing: float) -> tuple[_Tops, int]:
        """Paint the panels of a drill that runs; return where the columns may begin and end."""
        low = self.height - self._layout.margin
        left = right = self._layout.margin
        if scene.rhythm is not None:
            left = self._rhythm.paint(screen, scene.rhythm) + self._gap
        drill = scene.drill
        if drill is not None:
            right = self._drill.paint(screen, drill) + self._gap
        if drill is not None and drill.hop is not None:
            self._hops.paint(screen, drill.hop)
        elif scene.sentence is not None:
            self._saying.paint(screen, scene.sentence, facing)
        hopping = drill is not None and drill.hop is not None
        if scene.show_guides and scene.show_verdict and not hopping:
            box = self._landings(screen, scene, facing)
            if box.y < self.height // 2:  # a belt that runs low has it under the panels
                left, right = max(left, box.bottom + self._gap), max(right, box.bottom + self._gap)
            else:
                low = box.y - self._gap
        return (left, right), low

    def _columns(self, screen: Image, scene: Scene, tops: _Tops, low: int, facing: float) -> None:
        """Paint the coach's things: the strip at the runner's back, all else opposite it.

        Without the strip all of it is at the right.
        """
        coach = scene.coach
        strip_right = coach is not None and facing < 0.0
        if coach is not None:
            self._coach.paint(screen, coach, tops[strip_right], low, strip_right)
        right = not strip_right
        top = tops[right]
        if scene.answer is not None:
            top = self._answer.paint(screen, scene.answer, top, right).bottom + self._gap
        self._saying.notices(screen, scene.notices, top, right)

    @property
    def _gap(self) -> int:
        return self._layout.px(8)

    def _ground(self, screen: Image, scene: Scene) -> None:
        frame = scene.frame
        if frame is not None:
            size = (frame.image.shape[1], frame.image.shape[0])
            if size != self._mirror.picture:
                self._mirror = Mirror(size, (self.width, self.height))
        if frame is None or not scene.show_view:
            np.copyto(screen, self._plain)
            return
        if not self._mirror.fills:
            np.copyto(screen, self._plain)
        self._mirror.picture_into(frame.image, screen)
        if scene.state in ("paused", "done"):
            cv2.convertScaleAbs(screen, dst=screen, alpha=_ASIDE)

    def _landings(self, screen: Image, scene: Scene, facing: float) -> Box:
        """Paint the strip of the last landings; return its place."""
        belt_y = None
        if scene.view is not None:
            belt_y = float(belt_on_screen(scene, self._mirror)[:, 1].max())
        shares = scene.drill.share_within if scene.drill else ()
        box = self._layout.strip(belt_y)
        newest = self._newest(scene)
        self._strip.paint(screen, box, scene.trail, shares, newest, facing)
        return box

    @staticmethod
    def _newest(scene: Scene) -> LandingMark | None:
        """Return the landing whose verdict is still to be said."""
        duration_s = step_s(scene)
        fresh = [m for m in scene.landings if strength(m, duration_s) > 0.0]
        return min(fresh, key=lambda m: m.age_s, default=None)
