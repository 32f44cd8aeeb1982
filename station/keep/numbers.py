"""Numbers and words as the tables write them: fixed decimals, empty for what is not known."""

from __future__ import annotations

import math


def number(value: float | None, decimals: int) -> str:
    """Write a number with fixed decimals; None, NaN and infinity are not known: empty."""
    if value is None or not math.isfinite(value):
        return ""
    text = f"{value:.{decimals}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text  # no "-0.00"


def truth_value(value: bool) -> str:
    """Write `true` or `false`."""
    return "true" if value else "false"
