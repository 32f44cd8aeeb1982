"""What the measurement finds amiss with the view, in words: shown while it lasts, kept for good."""

from __future__ import annotations

from station.coach.words import Words
from station.values import Notice


class NoticeBoard:
    """Keeps the notices of a session. Used by the loop's thread."""

    def __init__(self, words: Words | None = None) -> None:
        """Begin with none.

        Args:
            words: Texts by key; None: keys are shown as they are.
        """
        self._words = words
        self._now: dict[str, str] = {}
        self._kept: dict[str, str] = {}

    @property
    def now(self) -> tuple[str, ...]:
        """Texts of what is amiss now, ready to read."""
        return tuple(self._now.values())

    @property
    def kept(self) -> tuple[str, ...]:
        """One text for each kind that was amiss at any time, with its last numbers."""
        return tuple(self._kept.values())

    def take(self, notices: tuple[Notice, ...]) -> None:
        """Take what the newest observation says."""
        if not notices and not self._now:
            return
        self._now = {notice.key: self._text(notice) for notice in notices}
        self._kept.update(self._now)

    def _text(self, notice: Notice) -> str:
        if self._words is None:
            return notice.key.replace("_", " ")
        return self._words.sentence(notice.key, **dict(notice.values))
