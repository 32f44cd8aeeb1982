"""Proof: contrast and height of every text on every screen of the gallery, from painted pixels.

Each screen of `demo/screens.py` is painted in four sizes, in English and German. A text's contrast
is that of its letters' cores against what they were laid over (WCAG 2.x, worked out by coloraide);
its height is told for the screen and distance given below. Screens with texts for the coach, who
stands nearer, count for contrast only.
"""

from __future__ import annotations

import math
import sys
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from coloraide import Color
from kit.running import tell

sys.path.insert(0, str(Path(__file__).parents[2]))

from demo.screens import scenes
from station.settings.words import read_words
from station.show.legibility import PREFERRED_ARCMIN, text_scale
from station.show.painter import Painter
from station.show.text import TextBook

DIAGONAL_M, DISTANCE_M = 0.81, 2.5
SIZES = ((1280, 720), (1920, 1080), (720, 1280), (1080, 1920))
LEAST = 4.5
"""WCAG 2.x success criterion 1.4.3."""
CORE = 0.9
"""Share of the largest change that a letter's core has; its edges are mixed with the ground."""


@cache
def luminance(blue: int, green: int, red: int) -> float:
    """Return a colour's relative luminance, 0 to 1."""
    return max(0.0, Color("srgb", [red / 255.0, green / 255.0, blue / 255.0]).luminance())


def lights(image: np.ndarray) -> np.ndarray:
    """Return the relative luminance of each pixel."""
    blue, green, red = (image[..., channel].astype(np.int32) for channel in range(3))
    codes, back = np.unique(blue << 16 | green << 8 | red, return_inverse=True)
    told = np.array([luminance(c >> 16, c >> 8 & 255, c & 255) for c in codes.tolist()])
    return np.asarray(told[back.reshape(-1)].reshape(image.shape[:2]))


class Watched(TextBook):
    """Notes each text that is laid: its least contrast and its capital height."""

    found: list[tuple[float, int, str]] = []  # noqa: RUF012 - one list for all painters of a run

    def draw(self, screen: Any, text: str, at: Any, cap: int, *more: Any, **named: Any) -> int:
        """Draw it, and note it."""
        rows = slice(max(0, int(at[1]) - 2 * cap), int(at[1]) + cap)
        before = screen[rows].copy()
        wide = super().draw(screen, text, at, cap, *more, **named)
        y, x = (screen[rows] != before).any(axis=2).nonzero()
        if len(x):
            part = (slice(y.min(), y.max() + 1), slice(x.min(), x.max() + 1))
            ink, ground = lights(screen[rows][part]), lights(before[part])
            core = np.abs(ink - ground) >= CORE * np.abs(ink - ground).max()
            light, dark = np.maximum(ink, ground)[core], np.minimum(ink, ground)[core]
            self.found.append((float(((light + 0.05) / (dark + 0.05)).min()), cap, text))
        return wide


def main() -> int:
    """Paint everything and judge it."""
    import station.show.painter as module

    module.TextBook = Watched  # type: ignore[misc]
    shown, rows = scenes(), []
    for wide, high in SIZES:
        scale = text_scale(DIAGONAL_M, DISTANCE_M, wide, high)
        px_per_m = math.hypot(wide, high) / DIAGONAL_M
        worst, smallest, texts = (math.inf, ""), (math.inf, ""), 0
        for language in ("en", "de"):
            painter = Painter(wide, high, read_words(language), scale)
            for name, scene in shown.items():
                Watched.found.clear()
                painter.paint(scene)
                texts += len(Watched.found)
                coached = scene.coach or scene.answer or scene.notices
                for contrast, cap, text in Watched.found:
                    worst = min(worst, (contrast, f"{name}: {text}"))
                    if not coached:
                        smallest = min(smallest, (cap, f"{name}: {text}"))
        size_m = smallest[0] / px_per_m
        arcmin = 60.0 * math.degrees(2.0 * math.atan(size_m / (2.0 * DISTANCE_M)))
        rows.append({
            "size": f"{wide}x{high}", "screens": len(shown), "texts": texts,
            "least_text_contrast": round(worst[0], 2), "where": worst[1],
            "smallest_capital_arcmin": round(arcmin, 2), "smallest": smallest[1],
            "holds": bool(worst[0] >= LEAST and arcmin >= PREFERRED_ARCMIN and texts > 200),
        })  # fmt: skip
    return tell("screens", rows)


if __name__ == "__main__":
    sys.exit(main())
