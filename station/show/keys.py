"""The keys that the window understands, and the card that lists them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from station.show import shapes
from station.show.layout import Layout
from station.show.palette import BEAT, INK, WHITE
from station.show.text import TextBook
from station.show.wording import Wording

Digit = Literal["0", "1", "2", "3", "4", "5", "6", "7", "8", "9"]
Command = Literal[
    "quit", "end", "pause", "next", "forward", "previous", "repeat", "go", "rate_up", "rate_down",
    "speed_up", "speed_down", "limit_up", "limit_down", "feedback", "sound", "strip", "page",
    "still",
    "help",
    "0", "1", "2", "3", "4", "5", "6", "7", "8", "9",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class KeyEvent:
    """One key that was pressed, as what it asks for; closing the window is `quit`."""

    command: Command


SHOWN_KEYS: tuple[tuple[str, str], ...] = (
    ("Space .", "key_pause"),
    ("right PgDn", "key_next"),
    ("left PgUp", "key_previous"),
    ("R", "key_repeat"),
    ("Enter F5", "key_go"),
    ("up down", "key_rate"),
    ("+ \u2212", "key_speed"),
    ("L K", "key_limit"),
    ("F", "key_feedback"),
    ("S", "key_sound"),
    ("0 \u2013 9", "key_felt"),
    ("C", "key_strip"),
    ("W", "key_page"),
    ("J", "key_still"),
    ("H", "key_help"),
    ("Esc Esc", "key_end"),
)
"""What the card lists: the keys' faces and the label of what they do. Arrow keys are drawn."""
_ARROWS: dict[str, tuple[float, float]] = {
    "right": (1.0, 0.0), "left": (-1.0, 0.0), "up": (0.0, -1.0), "down": (0.0, 1.0),
}  # fmt: skip
COLUMNS = 2


def keys_card(
    width: int, height: int, words: Wording, text_scale: float = 1.0
) -> NDArray[np.uint8]:
    """Paint the card that lists the keys.

    Args:
        width: Screen width in pixels.
        height: Screen height in pixels.
        words: Gives the labels.
        text_scale: Enlargement of the text.

    Returns:
        (h, w, 3) uint8 BGR, a new array, no larger than the screen.
    """
    lay, text = Layout(width, height, text_scale), TextBook()
    cap = min(lay.cap(20), round(height * 0.03))
    row, pad = round(cap * 2.1), lay.px(28)
    rows = -(-len(SHOWN_KEYS) // COLUMNS)
    key_wide = max(_face(None, text, face, (0, 0), cap) for face, _ in SHOWN_KEYS) + lay.px(22)
    said = max(text.width(words.label(key), cap) for _, key in SHOWN_KEYS)
    most = (width - lay.px(16) - (COLUMNS + 1) * pad) // COLUMNS - key_wide
    said = min(said, most)
    column = key_wide + said + pad
    card = np.empty((row * (rows + 1) + 2 * pad, COLUMNS * column + pad, 3), np.uint8)
    card[:] = INK
    card[: lay.px(6)] = BEAT
    text.draw(card, words.label("keys"), (pad, pad + cap), cap, BEAT)
    for number, (face, key) in enumerate(SHOWN_KEYS):
        left = pad + (number // rows) * column
        line = pad + cap + (number % rows + 1) * row
        _face(card, text, face, (left, line), cap)
        _label(card, text, words.label(key), (left + key_wide, line), cap, said)
    return card


def _label(
    card: NDArray[np.uint8], text: TextBook, label: str, at: tuple[int, int], cap: int, room: int
) -> None:
    """Paint what a key does, on two smaller lines where it is too long for one."""
    lines: Sequence[str] = (label,)
    if text.width(label, cap) > room:
        cap = round(cap * 0.78)
        lines = text.wrap(label, cap, room)
    leading = round(cap * 1.3)
    base = at[1] - (len(lines) - 1) * leading // 2
    for number, line in enumerate(lines):
        fitted = text.fit(line, cap, room, smallest=6)
        text.draw(card, line, (at[0], base + number * leading), fitted, WHITE)


def _face(
    card: NDArray[np.uint8] | None, text: TextBook, face: str, at: tuple[int, int], cap: int
) -> int:
    """Paint what stands on the keys, arrows drawn (the font has none); return the width."""
    pen, gap = at[0], round(cap * 0.75)
    for part in face.split():
        if part in _ARROWS:
            if card is not None:
                centre = (pen + cap * 0.5, at[1] - cap / 2.0)
                shapes.polygon(card, shapes.triangle(centre, cap * 0.6, _ARROWS[part]), BEAT, 0, 0)
            pen += round(cap * 1.1) + gap
            continue
        if card is not None:
            text.draw(card, part, (pen, at[1]), cap, BEAT)
        pen += text.width(part, cap) + gap
    return pen - gap - at[0]
