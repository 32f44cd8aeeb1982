"""The screen's colours (BGR, as OpenCV takes them) and the pairs that must stay legible.

The hues are the Okabe-Ito set (Okabe & Ito 2002/2008), told apart under every common kind of
colour blindness. No meaning hangs on a hue alone: each has its own shape and word as well.
"""

from __future__ import annotations

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
"""The near-black of panels, halos and of the ground when the picture is off."""
MUTED: Colour = (214, 208, 204)
"""Second-rank text."""

WITHIN = SKY
AHEAD = ORANGE
UNKNOWN = MUTED
PLUMB = WHITE
ZONE = GREEN
LEG_NEAR = PURPLE
LEG_FAR = PURPLE
BEAT = YELLOW
CHANGE = YELLOW

BACKING = 0.82
"""Share of `INK` in a panel's ground; the rest is the picture behind it."""


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


def backed(behind: Colour) -> Colour:
    """Return a panel's ground over a picture of colour `behind`."""
    blue, green, red = (
        round(BACKING * ink + (1.0 - BACKING) * b) for ink, b in zip(INK, behind, strict=True)
    )
    return blue, green, red


TEXT_PAIRS: tuple[tuple[Colour, Colour], ...] = (
    (WHITE, backed(WHITE)),
    (MUTED, backed(WHITE)),
    (WITHIN, backed(WHITE)),
    (AHEAD, backed(WHITE)),
    (YELLOW, backed(WHITE)),
    (BLACK, CHANGE),
    (BLACK, AHEAD),
    (BLACK, VERMILLION),
)
"""Every (text, ground) pair on the screen, at the lightest picture behind the panel."""

MARK_PAIRS: tuple[tuple[Colour, Colour], ...] = (
    (WITHIN, INK),
    (AHEAD, INK),
    (UNKNOWN, INK),
    (PLUMB, INK),
    (ZONE, INK),
    (LEG_FAR, INK),
    (BEAT, backed(WHITE)),
    (GREEN, backed(WHITE)),
    (WITHIN, backed(WHITE)),
    (AHEAD, backed(WHITE)),
    (VERMILLION, INK),
)
"""Every (shape, ground) pair; a shape over the picture lies on its own `INK` halo."""
