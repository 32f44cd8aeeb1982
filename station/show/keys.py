"""The keys that the window understands, and the card that lists them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from station.show import shapes
from station.show.layout import Layout
from station.show.palette import BEAT, INK, WHITE
from station.show.text import TextBook
from station.show.wording import Wording

Command = Literal[
    "quit", "pause", "next", "previous", "rate_up", "rate_down", "speed_up", "speed_down",
    "sound", "help",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class KeyEvent:
    """One key that was pressed, as what it asks for; closing the window is `quit`."""

    command: Command


SHOWN_KEYS: tuple[tuple[str, str], ...] = (
    ("Space", "key_pause"),
    ("right", "key_next"),
    ("left", "key_previous"),
    ("up down", "key_rate"),
    ("+  \u2212", "key_speed"),
    ("S", "key_sound"),
    ("H", "key_help"),
    ("Q  Esc", "key_quit"),
)
"""What the card lists: the key's face and the label of what it does. Arrow keys are drawn."""
_ARROWS: dict[str, tuple[float, float]] = {
    "right": (1.0, 0.0), "left": (-1.0, 0.0), "up": (0.0, -1.0), "down": (0.0, 1.0),
}  # fmt: skip


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
        (h, w, 3) uint8 BGR, a new array, smaller than the screen.
    """
    lay, text = Layout(width, height, text_scale), TextBook()
    cap = min(lay.cap(26), round(height * 0.045))
    row = round(cap * 1.95)
    pad = lay.px(32)
    key_wide = max(text.width(face, cap) for face, _ in SHOWN_KEYS) + lay.px(44)
    said = max(text.width(words.label(key), cap) for _, key in SHOWN_KEYS)
    wide = min(width, 2 * pad + key_wide + said)
    card = np.empty((min(height, row * (len(SHOWN_KEYS) + 1) + 2 * pad), wide, 3), np.uint8)
    card[:] = INK
    card[: lay.px(6)] = BEAT
    text.draw(card, words.label("keys"), (pad, pad + cap), cap, BEAT)
    for number, (face, key) in enumerate(SHOWN_KEYS, 1):
        line = pad + cap + number * row
        _face(card, text, face, (pad, line), cap)
        label = words.label(key)
        fitted = text.fit(label, cap, wide - 2 * pad - key_wide)
        text.draw(card, label, (pad + key_wide, line), fitted, WHITE)
    return card


def _face(
    card: NDArray[np.uint8], text: TextBook, face: str, at: tuple[int, int], cap: int
) -> None:
    """Paint what stands on a key; the font has no arrows, so those are drawn."""
    parts = face.split()
    if not all(part in _ARROWS for part in parts):
        text.draw(card, face, at, cap, BEAT)
        return
    for number, part in enumerate(parts):
        centre = (at[0] + cap * (0.5 + 1.7 * number), at[1] - cap / 2.0)
        shapes.polygon(card, shapes.triangle(centre, cap * 0.6, _ARROWS[part]), BEAT, 0, 0)
