"""What the painters ask of the words: any object with these two methods will do."""

from __future__ import annotations

from typing import Protocol

LABEL_KEYS: tuple[str, ...] = (
    "within", "ahead", "left_foot", "right_foot",
    "steps_per_minute", "faster", "slower", "on_target", "target",
    "early", "late", "on_the_beat", "no_rate",
    "belt", "set_belt", "belt_stands", "steps_left",
    "countdown", "rest", "felt", "paused", "done", "trouble",
    "keys", "key_help", "key_pause", "key_next", "key_previous", "key_rate", "key_speed",
    "key_sound", "key_quit",
)  # fmt: skip
"""Every label that this folder shows."""


class Wording(Protocol):
    """Gives the words of one language."""

    def label(self, key: str) -> str:
        """Return the short word for `key`."""
        ...

    def sentence(self, key: str, **values: str) -> str:
        """Return the sentence for `key` with its {fields} filled."""
        ...
