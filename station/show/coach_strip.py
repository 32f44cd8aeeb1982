"""The coach's strip: a small table of figures at an edge, that the runner needn't read."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from station.coach.figures import CoachFigures, LegFigures
from station.show.drill import clock_text
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.palette import BEAT, MUTED, WHITE, Colour
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]
Look = Literal["head", "plain", "flag"]
NONE = "\u2013"
"""Stands for what is not known."""
_TIMED = ("countdown", "time", "mastery", "proving", "paused", "belt", "open")


@dataclass(frozen=True, slots=True)
class Row:
    """One line: a word, then one text across or one for each leg."""

    label: str
    texts: tuple[str, ...]
    """One: across; two: left leg, right leg."""
    aside: str = ""
    """Small, at the end."""
    look: Look = "plain"


def strip_rows(figures: CoachFigures, words: Wording) -> tuple[Row, ...]:
    """Return the strip's lines, from top to bottom.

    Args:
        figures: What is known.
        words: Gives the labels.
    """
    say = words.label
    left, right = figures.legs
    gate = figures.gate
    rows = [
        Row(f"{figures.number}/{figures.count}", (figures.name,), look="head"),
        Row(say(f"coach_{figures.waiting}"), (), _left(figures), "head"),
        Row("", (say("left_foot"), say("right_foot"))),
        Row(say("coach_limit"), tuple(_deg(leg.limit_deg) for leg in figures.legs),
            _origins(figures.legs, words)),
        Row(say("coach_shank"), tuple(_deg(leg.shank_deg) for leg in figures.legs)),
        Row(say("coach_within"), tuple(_percent(leg.share_within) for leg in figures.legs),
            "" if gate is None else f"\u2265 {_percent(gate.share)}"),
        Row(say("coach_judged"), (str(left.judged), str(right.judged)),
            "" if gate is None else f"\u2265 {gate.landings}"),
        Row(say("coach_unjudged"), tuple(_percent(leg.unjudged_share) for leg in figures.legs)),
        Row(say("coach_sure"), tuple(_percent(leg.confidence) for leg in figures.legs)),
        Row(say("belt"), (_belt(figures, words),)),
        Row(say("coach_rate"), (_rate(figures),), _held(figures, words)),
        Row(say("coach_cues"), (_schedule(figures, words),)),
        Row("", (_cues(figures, words),)),
    ]  # fmt: skip
    rows += [Row("!", (say(flag),), look="flag") for flag in figures.flags[:2]]
    return tuple(rows)


def _deg(value: float | None) -> str:
    return NONE if value is None else f"{value:.1f}\u00b0"


def _percent(share: float | None) -> str:
    return NONE if share is None else f"{100.0 * share:.0f} %"


def _left(figures: CoachFigures) -> str:
    if figures.left is None:
        return ""
    return clock_text(figures.left) if figures.waiting in _TIMED else f"{figures.left:.0f}"


def _origins(legs: tuple[LegFigures, LegFigures], words: Wording) -> str:
    """Return where the limits come from; one word where both come from the same."""
    found = [words.label(f"origin_{leg.limit_origin}") for leg in legs if leg.limit_origin]
    return " / ".join(dict.fromkeys(found))


def _belt(figures: CoachFigures, words: Wording) -> str:
    asked = figures.belt_asked or words.label("belt_stands")
    if figures.belt_measured is None:
        return asked
    number = figures.belt_measured.split()[0]
    return f"{asked}  {words.label('coach_measured')} {number}"


def _rate(figures: CoachFigures) -> str:
    rate = NONE if figures.rate_spm is None else f"{figures.rate_spm:.0f}"
    return rate if figures.target_spm is None else f"{rate} / {figures.target_spm:.0f}"


def _held(figures: CoachFigures, words: Wording) -> str:
    held = None if figures.gate is None else figures.gate.rate_held
    return "" if held is None else words.label("coach_held" if held else "coach_not_held")


def _schedule(figures: CoachFigures, words: Wording) -> str:
    schedule = figures.schedule if figures.feedback_on else "off"
    return words.label(f"schedule_{schedule.replace(' ', '_')}")


def _cues(figures: CoachFigures, words: Wording) -> str:
    return (
        f"{figures.cues_given} {words.label('coach_given')}, "
        f"{figures.cues_withheld} {words.label('coach_withheld')}"
    )


class CoachPanel:
    """Paints the strip. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._kept = KeptPanel()

    def key(self, figures: CoachFigures) -> Hashable:
        """Return all that the strip's look depends on."""
        return strip_rows(figures, self._words)

    def paint(self, screen: Image, figures: CoachFigures, top: int, low: int, right: bool) -> Box:
        """Paint the strip as a column at one edge.

        Args:
            screen: Changed in place.
            figures: What is known.
            top: First row that it may use, pixels.
            low: First row that it may not use.
            right: Whether it stands at the right edge.

        Returns:
            Where it was painted.
        """
        rows = strip_rows(figures, self._words)
        column = self._layout.column(right)
        pad = self._layout.px(8)
        row_high = min(self._layout.px(25), max(6, (low - top - 2 * pad) // len(rows)))
        box = Box(column.x, top, column.w, row_high * len(rows) + 2 * pad)

        def content(image: Image, own: Box) -> None:
            for number, row in enumerate(rows):
                self._row(image, own, row, pad + number * row_high, row_high)

        self._kept.lay(screen, box, rows, content)
        return box

    def _row(self, image: Image, box: Box, row: Row, top: int, high: int) -> None:
        text, px = self._text, self._layout.px
        cap = max(5, round(high * 0.6))
        line = top + round(high * 0.8)
        left, right = box.x + px(10), box.right - px(10)
        colour: Colour = {"head": BEAT, "plain": WHITE, "flag": BEAT}[row.look]

        def put(said: str, at: int, room: int, ink: Colour, end: bool = False) -> None:
            fitted = text.fit(said, cap, room, smallest=5)
            text.draw(image, said, (at, line), fitted, ink, "right" if end else "left")

        if row.look == "head":
            aside = text.width(row.aside, cap) + px(8) if row.aside else 0
            named = "  ".join((row.label, *row.texts))
            put(named, left, right - left - aside, colour)
            put(row.aside, right, aside, WHITE, True)
            return
        first = px(92)
        put(row.label, left, first - px(6), MUTED if row.look == "plain" else colour)
        if len(row.texts) == 2:
            column = px(74)
            for number, said in enumerate(row.texts):
                put(said, left + first + number * column, column - px(6), colour)
            put(row.aside, right, right - left - first - 2 * column, MUTED, True)
            return
        aside = px(80) if row.aside else 0
        put(" ".join(row.texts), left + first, right - left - first - aside, colour)
        put(row.aside, right, aside, MUTED, True)
