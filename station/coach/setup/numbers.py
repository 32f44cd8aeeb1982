"""Numbers as they are typed and shown."""

from __future__ import annotations


def typed_number(text: str, low: float, high: float) -> float | None:
    """Return a typed number within bounds; None: it is none, or outside.

    Args:
        text: With a point or a comma before the decimals.
        low: The least that is allowed.
        high: The most.
    """
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return value if low <= value <= high else None


def after_typing(text: str, sign: str, allowed: str, most: int = 12) -> str:
    """Return a typed text after one more sign; `erase` takes the last one back."""
    if sign == "erase":
        return text[:-1]
    if len(text) >= most or (allowed and sign not in allowed):
        return text
    return text + sign


NUMBER = "0123456789.,"
"""Signs of a number."""
