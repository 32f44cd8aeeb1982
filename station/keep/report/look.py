"""The colours of a report, and the pairs that must stay legible.

Within and ahead are told apart by shape as well; their blue and rust stay apart under every common
kind of colour blindness, and in grey print by lightness.
"""

from __future__ import annotations

PAPER = "#fbfaf6"
PANEL = "#f1efe7"
"""Behind what stands aside."""
INK = "#12242c"
MUTED = "#51626a"
"""Second-rank text."""
LINE = "#cfd3cb"
WITHIN = "#146c99"
AHEAD = "#b8480b"
UNJUDGED = "#6b797f"
COACHED = "#dbe8ec"
"""Behind the time in which feedback was on."""
PLUMB = "#2d6a4f"
"""The station's own mark: the plumb line on the belt."""
WHITE = "#ffffff"


def luminance(colour: str) -> float:
    """Return the relative luminance of `#rrggbb`, 0 to 1 (WCAG 2.x)."""
    parts = []
    for i in (1, 3, 5):
        c = int(colour[i : i + 2], 16) / 255.0
        parts.append(c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4)
    red, green, blue = parts
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, two: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.x)."""
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


TEXT_PAIRS: tuple[tuple[str, str], ...] = (
    (INK, PAPER), (MUTED, PAPER), (INK, PANEL), (MUTED, PANEL), (WITHIN, PAPER), (AHEAD, PAPER),
    (PLUMB, PAPER), (WITHIN, PANEL), (AHEAD, PANEL), (PLUMB, PANEL), (INK, COACHED),
    (MUTED, COACHED), (WHITE, INK), (WHITE, PLUMB),
)  # fmt: skip
"""Every (text, ground) pair: at least 4.5."""
MARK_PAIRS: tuple[tuple[str, str], ...] = (
    (WITHIN, PAPER), (AHEAD, PAPER), (UNJUDGED, PAPER), (WITHIN, COACHED), (AHEAD, COACHED),
    (UNJUDGED, COACHED), (PLUMB, PAPER),
)  # fmt: skip
"""Every (mark, ground) pair: at least 3."""
