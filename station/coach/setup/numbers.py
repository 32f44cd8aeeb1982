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


class TypedText:
    """A field for a number; what is typed first takes the place of what was offered."""

    def __init__(self, offered: str = "", most: int = 6) -> None:
        """Begin with what is offered.

        Args:
            offered: Stands there until something is typed.
            most: So many signs at the most.
        """
        self.text = offered
        self._most = most
        self._fresh = True

    def offer(self, text: str | None = None) -> None:
        """Take what is typed next in place of what stands there; with a text, put that there."""
        self._fresh = True
        if text is not None:
            self.text = text

    def take(self, sign: str) -> None:
        """Take a sign that was typed; `erase` takes the last one back."""
        before = "" if self._fresh and sign != "erase" else self.text
        self.text = after_typing(before, sign, NUMBER, self._most)
        self._fresh = False

    def number(self, low: float, high: float) -> float | None:
        """Return the number within bounds; None: it is none, or outside."""
        return typed_number(self.text, low, high)
