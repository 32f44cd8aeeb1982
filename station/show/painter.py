"""Paints a scene as the picture on the runner's screen."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import Rhythm, Scene
from station.show.answer import AnswerLine
from station.show.belt_card import BeltCard
from station.show.cards import GUARD, Cards, crowded
from station.show.coach_strip import CoachPanel
from station.show.drill import DrillPanel
from station.show.felt_card import FeltCard
from station.show.guides import Guides, ahead_on_screen, newest
from station.show.hops import HopCounter
from station.show.layout import Box, Layout
from station.show.palette import MUTED
from station.show.rhythm import RhythmPanel
from station.show.saying import Saying
from station.show.stage import Stage
from station.show.still_card import StillCard
from station.show.text import TextBook
from station.show.trail import Trail
from station.show.wording import RUNNING_KEYS, Wording
from station.values import Side

Image = NDArray[np.uint8]
MOST_ROWS = 3
"""Rows under the belt at the most; a longer sentence is written smaller."""
LEAST_TRAIL = 120
"""Design pixels; in less room the last landings are left out."""
_Tops = tuple[int, int]
"""First free rows of the left and the right wing."""
OVERLOAD = ("slower_or_rest", "tired")
"""Sentences that ask for a slower belt or a rest: they take a whole card."""
_STAGED = ("t_s", "frame", "view", "leg_near_px", "leg_far_px", "landings", "show_view")
_PANELS = ("drill", "rhythm", "coach")  # tell by themselves what they depend on
_STANDING = tuple(f.name for f in fields(Scene) if f.name not in (*_STAGED, *_PANELS))
"""What of a scene wings and floor depend on as it is."""


class Painter:
    """Paints scenes into one buffer that it owns. Used by one thread.

    The camera's picture is mirrored onto a stage; wings beside it and the floor under the belt hold
    everything else (`Layout`). All points of a scene are mirrored in one place (`Mirror`), text
    never is. While somebody runs nothing but the guides lies on the picture.
    """

    def __init__(
        self, width: int, height: int, words: Wording, text_scale: float = 1.0, legs: bool = False
    ) -> None:
        """Make the buffers and open the font.

        Args:
            width: Screen width in pixels.
            height: Screen height in pixels.
            words: Gives labels and sentences.
            text_scale: Enlargement of the text, from `legibility.text_scale`.
            legs: Draw the legs' lines over the picture, too.
        """
        self.width = width
        self.height = height
        self._screen = np.zeros((height, width, 3), np.uint8)
        self._pulsing = False
        self._standing: Hashable = None
        text = self._text = TextBook()
        self._no_marks_said = words.label("no_marks")
        self._layout = _layout(width, height, text_scale, text, words)
        self._stage = Stage(self._layout)
        self._guides = Guides(self._layout, text, words, legs)
        self._rhythm = RhythmPanel(self._layout, text, words)
        self._drill = DrillPanel(self._layout, text, words)
        self._saying = Saying(self._layout, text, words)
        self._stills = StillCard(self._layout, text, words, self._guides)
        sides: tuple[Side, Side] = ("left", "right")
        self._trails = {side: Trail(self._layout, text, words, side) for side in sides}
        self._cards = Cards(self._layout, text, words, self._saying, self._drill)
        self._belt = BeltCard(self._layout, text, words, self._cards)
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
                picture, no last landings, no verdict; a line says that no marks are given. With
                `show_view` off the ground is dark.

        Returns:
            (height, width, 3) uint8 BGR: the painter's own buffer, the same object every time,
            valid until the next call. Whoever keeps a picture or hands it to another thread
            copies it.
        """
        screen = self._screen
        facing = ahead_on_screen(scene)
        standing = self._standing_of(scene, facing)
        stands = standing is not None and standing == self._standing
        self._standing = standing
        self._stage.paint(screen, scene, whole=not stands)
        hopping = scene.drill is not None and scene.drill.hop is not None
        word = scene.state == "drill" and not hopping and not self._has_card(scene)
        if stands and word:
            self._stage.clear_word(screen)
        running = scene.state in ("drill", "countdown") and not scene.stills
        if running and scene.show_guides:
            self._guides.paint(screen, scene, self._stage.mirror, word)
        if scene.stills:
            self._stills.paint(screen, scene.stills)
        if stands:
            self._move(screen, scene)
            return screen
        tops = self._card(screen, scene)
        runs = tops is None
        self._pulsing = runs and scene.rhythm is not None
        if tops is None:
            tops = self._running(screen, scene, facing)
        elif self._layout.upright and max(tops) > self._layout.stage.y:
            self._standing = None  # a long text goes on over the stage, which is painted anew
        free = self._columns(screen, scene, tops, facing, whole_floor=hopping or not runs)
        if runs and not (scene.show_guides and scene.show_verdict):
            self._no_marks(screen, scene, free[scene.coach is not None and facing > 0.0])
        elif runs and not hopping:
            self._landings(screen, scene, facing, free)
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

    def _standing_of(self, scene: Scene, facing: float) -> Hashable:
        """Return all that wings and floor depend on, but for what moves and a landing's word.

        While it stays the same, they stand as they were painted. None: a warning takes the stage,
        too; all is painted anew.
        """
        drill, last = scene.drill, newest(scene)
        if scene.sentence is not None and scene.sentence.key in GUARD:
            return None
        return (
            facing,
            tuple(getattr(scene, name) for name in _STANDING),
            None if drill is None else self._drill.key(drill),
            None if scene.rhythm is None else self._rhythm.key(scene.rhythm),
            None if scene.coach is None else self._coach.key(scene.coach),
            None if last is None else (last.side, last.verdict),
        )

    def _move(self, screen: Image, scene: Scene) -> None:
        """Paint what moves in wings that stand: the beat's pulse, the countdown's ring."""
        if self._pulsing and scene.rhythm is not None:
            self._rhythm.pulse(screen, scene.rhythm)
        elif scene.state == "countdown" or (scene.state == "felt" and scene.felt is None):
            self._cards.count(screen, scene)

    @staticmethod
    def _has_card(scene: Scene) -> bool:
        """Whether a drill's own screen gives way to a card."""
        if scene.drill is not None and scene.drill.belt_waits:
            return True
        return scene.sentence is not None and scene.sentence.key in OVERLOAD

    def _card(self, screen: Image, scene: Scene) -> _Tops | None:
        """Paint a state without guided running; None where there is none."""
        if scene.state == "felt" and scene.felt is not None:
            return self._felt.paint(screen, scene.felt)
        if scene.state != "drill":
            return self._cards.paint(screen, scene, scene.state)
        if scene.drill is not None and scene.drill.belt_waits:
            return self._belt.paint(screen, scene, scene.drill)
        if scene.sentence is not None and scene.sentence.key in OVERLOAD:
            return self._cards.paint(screen, scene, "overload")
        return None

    def _running(self, screen: Image, scene: Scene, facing: float) -> _Tops:
        """Paint wings and floor of a drill that runs; return the wings' first free rows."""
        drill = scene.drill
        left = right = self._layout.upper
        if scene.rhythm is not None:
            left = self._rhythm.paint(screen, scene.rhythm)
        if drill is not None:
            right = self._drill.paint(screen, drill)
            if drill.belt_changes:  # the floor is the landing's
                self._cards.belt_block(screen, self._drill.below_clock, drill)
        if drill is not None and drill.hop is not None:
            marked = scene.show_verdict and scene.show_guides
            self._hops.paint(screen, drill.hop, marked, crowded(scene))
        elif scene.sentence is not None:
            self._saying.paint(screen, scene.sentence, facing)
        return left, right

    def _columns(
        self, screen: Image, scene: Scene, tops: _Tops, facing: float, whole_floor: bool
    ) -> list[Box]:
        """Paint the coach's things: the strip at the runner's back, all else opposite it.

        Without the strip all of it is at the right.

        Args:
            screen: Changed in place.
            scene: What is to be shown.
            tops: The wings' first free rows.
            facing: +1 where ahead is to the right on the screen, -1 to the left.
            whole_floor: The floor is all one thing, below which they stand upright.

        Returns:
            What of the left and the right column is still free.
        """
        lay = self._layout
        columns = [lay.column(side) for side in (False, True)]
        if lay.upright and whole_floor:
            high = self.height - lay.margin - lay.card_low
            free = [Box(c.x, lay.card_low, c.w, high) for c in columns]
        else:
            free = [_below(c, top) for c, top in zip(columns, tops, strict=True)]
        strip_right = scene.coach is not None and facing < 0.0
        if scene.coach is not None:
            box = free[strip_right]
            self._coach.paint(screen, scene.coach, box.y, box.bottom, strip_right)
            free[strip_right] = _below(box, box.bottom)
        right = not strip_right
        if scene.answer is not None:
            box = self._answer.paint(screen, scene.answer, free[right].y, right)
            free[right] = _below(free[right], box.bottom + lay.gap)
        if scene.notices:
            low = self._saying.notices(screen, scene.notices, free[right])
            free[right] = _below(free[right], low)
        return free

    def _no_marks(self, screen: Image, scene: Scene, box: Box) -> None:
        """Say in what is free of a column that no landing is marked, lest it be waited for."""
        lay, drill = self._layout, scene.drill
        if drill is None or (drill.hop is not None and lay.upright and not crowded(scene)):
            return  # upright the counter has all of the floor, and says so itself
        room, said = box.w - 2 * lay.pad, self._no_marks_said
        if self._text.below(said, box.y, lay.read, room) <= box.bottom:
            self._text.column(screen, said, (box.x + lay.pad, box.y), lay.read, room, MUTED)

    def _landings(self, screen: Image, scene: Scene, facing: float, free: list[Box]) -> None:
        """Paint both feet's last landings into what is free of the columns."""
        shares = dict(scene.drill.share_within) if scene.drill else {}
        last = newest(scene)
        for side, trail in self._trails.items():
            box = free[side == "right"]
            if box.h < self._layout.px(LEAST_TRAIL):
                continue
            trail.paint(
                screen,
                box,
                scene.trail,
                shares.get(side),
                facing,
                last.verdict if last and last.side == side else None,
            )


def _below(box: Box, top: int) -> Box:
    """Return what of a box is at a row or below it."""
    top = min(max(top, box.y), box.bottom)
    return Box(box.x, top, box.w, box.bottom - top)


def _layout(width: int, height: int, text_scale: float, text: TextBook, words: Wording) -> Layout:
    """Return a layout with as many rows under the belt as the longest sentence needs."""
    one_row = Layout(width, height, text_scale)
    said = [words.sentence(key, within="10", judged="10") for key in RUNNING_KEYS]
    rows = Saying(one_row, text, words).rows(said)
    return Layout(width, height, text_scale, min(rows, MOST_ROWS))
