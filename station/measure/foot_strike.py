"""Which part of the shoe touches first, from the foot's angle at contact."""

from __future__ import annotations

from station.values import Strike

REARFOOT_OVER_DEG = 8.0
FOREFOOT_UNDER_DEG = -1.6
"""Class borders: Altman & Davis 2012, Gait & Posture 35:298-300 (figures from memory)."""
UNSURE_DEG = 2.5
"""Typical error of the angle from two-dimensional video; nearer to a border nothing is claimed."""


def strike_class(foot_deg: float | None) -> Strike:
    """Name the foot strike.

    Args:
        foot_deg: Foot angle at contact against standing flat, degrees, toes up positive.

    Returns:
        The class, or `unsure` within 2.5 degrees of a border and where the angle is not known.
    """
    if foot_deg is None:
        return "unsure"
    if min(abs(foot_deg - REARFOOT_OVER_DEG), abs(foot_deg - FOREFOOT_UNDER_DEG)) < UNSURE_DEG:
        return "unsure"
    if foot_deg > REARFOOT_OVER_DEG:
        return "rearfoot"
    return "forefoot" if foot_deg < FOREFOOT_UNDER_DEG else "midfoot"
