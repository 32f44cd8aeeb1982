"""The screen's colours (BGR, as OpenCV takes them) and the pairs that must stay legible.

The hues are the Okabe-Ito set (Okabe & Ito 2002/2008), told apart under every common kind of
colour blindness. No meaning hangs on a hue alone: each has its own shape and word as well.
"""

from __future__ import annotations

from station.values import Verdict

Colour = tuple[int, int, int]
"""Blue, green, red, 0 to 255."""

ORANGE: Colour = (0, 159, 230)
SKY: Colour = (233, 180, 86)
GREEN: Colour = (115, 158, 0)
YELLOW: Colour = (66, 228, 240)
VERMILLION: Colour = (0, 94, 213)
PURPLE: Colour = (167, 121, 204)
BLACK: Colour = (0, 0, 0)
WHITE: Colour = (255, 255, 255)

INK: Colour = (18, 15, 13)
"""The near-black of halos and of the ground when the picture is off."""
NIGHT: Colour = (32, 26, 22)
"""The dark of wings, floor and cards."""
DUSK: Colour = (72, 60, 42)
"""The allowed stretch behind the last landings, and quiet lines on `NIGHT`."""
MUTED: Colour = (214, 208, 204)
"""Second-rank text."""

WITHIN = SKY
AHEAD = ORANGE
UNKNOWN = MUTED
PLUMB = WHITE
ZONE = SKY
LEG_NEAR = WHITE
LEG_FAR = MUTED
BEAT = YELLOW
CHANGE = YELLOW


def verdict_colour(verdict: Verdict | None) -> Colour:
    """Return the colour that goes with a verdict's shape."""
    if verdict is None:
        return UNKNOWN
    return WITHIN if verdict == "within" else AHEAD


def luminance(colour: Colour) -> float:
    """Return the relative luminance, 0 to 1 (WCAG 2.x)."""
    linear = []
    for value in colour:
        c = value / 255.0
        linear.append(c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4)
    blue, green, red = linear
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: Colour, two: Colour) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.x)."""
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


TEXT_PAIRS: tuple[tuple[Colour, Colour], ...] = (
    (WHITE, NIGHT),
    (MUTED, NIGHT),
    (WITHIN, NIGHT),
    (AHEAD, NIGHT),
    (YELLOW, NIGHT),
    (WHITE, INK),
    (BLACK, CHANGE),
)
"""Every (text, ground) pair on the screen."""

MARK_PAIRS: tuple[tuple[Colour, Colour], ...] = (
    (WITHIN, INK),
    (AHEAD, INK),
    (UNKNOWN, INK),
    (PLUMB, INK),
    (ZONE, INK),
    (LEG_FAR, INK),
    (BEAT, NIGHT),
    (GREEN, NIGHT),
    (WITHIN, DUSK),
    (AHEAD, NIGHT),
    (VERMILLION, NIGHT),
)
"""Every (shape, ground) pair; a shape over the picture lies on its own `INK` halo."""
