"""Keeps which faults there are now: tells each once, and how long it lasted when it is over."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal, Protocol

from station.coach.words import Words
from station.values import Fault
from station.values.faults import FAULT_KEYS

Level = Literal["info", "warning", "error"]
QUIET_S = 60.0
"""A fault that comes back sooner after it was last told of is counted, not told again."""
BACK_TOLD_S = 5.0
"""What lasted only an instant (a clock that jumped) is shown for so long."""


class Log(Protocol):
    """Where lines for the staff go."""

    def __call__(self, level: Level, what: str, **fields: object) -> None:
        """Write one line.

        Args:
            level: How bad it is.
            what: A short key, always the same for the same thing.
            fields: Plain values; nothing of a runner.
        """
        ...


class Note(Protocol):
    """Where a session keeps its events."""

    def __call__(self, t_s: float, kind: str, why: str, **values: str | float | int | bool) -> None:
        """Keep one event."""
        ...


def no_log(level: Level, what: str, **fields: object) -> None:
    """Write nothing."""


class FaultBoard:
    """The faults of now and what they were. Used by the loop's thread."""

    def __init__(self, words: Words | None = None, log: Log = no_log) -> None:
        """Begin with nothing amiss.

        Args:
            words: Texts by key; None: keys are shown as they are.
            log: Told of each fault and of its end.
        """
        self.note: Callable[..., None] | None = None
        """The running session's events; None: none runs."""
        self._words = words
        self._log = log
        self._now: dict[str, tuple[float, Fault]] = {}  # since when
        self._instant: dict[str, tuple[float, Fault]] = {}  # until when it is shown
        self._told_s: dict[str, float] = {}
        self._unsaid: dict[str, int] = {}  # how often it came while it was not told
        self._kept: dict[str, str] = {}

    @property
    def blind(self) -> str | None:
        """Key of the trouble for which nothing of the runner is seen now; None: there is none."""
        return next((fault.key for _, fault in self._now.values() if fault.blind), None)

    @property
    def misleading(self) -> str | None:
        """Key of the trouble for which what is measured now is false; None: there is none."""
        return next((fault.key for _, fault in self._now.values() if fault.misleads), None)

    @property
    def keys(self) -> tuple[str, ...]:
        """Of what is amiss now, the oldest first."""
        return (*self._now, *self._instant)

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What is amiss now, the oldest first."""
        both = (*self._now.values(), *self._instant.values())
        return tuple(fault for _, fault in both)

    @property
    def lines(self) -> tuple[str, ...]:
        """Texts of what is amiss now, ready to read."""
        return tuple(self.text(fault) for fault in self.faults)

    @property
    def kept(self) -> tuple[str, ...]:
        """One text for each fault that there ever was, with its last figures."""
        return tuple(self._kept.values())

    def text(self, fault: Fault) -> str:
        """Return a fault's text in the words' language."""
        if self._words is None:
            return FAULT_KEYS[fault.key]
        return self._words.sentence(fault.key, **dict(fault.values))

    def take(self, found: Iterable[Fault], t_s: float) -> None:
        """Take all that is amiss now.

        Args:
            found: The whole list; what is no longer in it is over.
            t_s: Session clock.
        """
        faults = {fault.key: fault for fault in found}
        for key, fault in faults.items():
            since_s, before = self._now.get(key, (t_s, None))
            self._now[key] = (since_s, fault)
            if before is None:
                self._begins(fault, t_s)
            if before is None or before.values != fault.values:
                self._kept[key] = self.text(fault)
        for key in [key for key in self._now if key not in faults]:
            since_s, fault = self._now.pop(key)
            self._ends(fault, t_s, t_s - since_s)
        for key in [key for key, (until_s, _) in self._instant.items() if t_s >= until_s]:
            del self._instant[key]

    def once(self, fault: Fault, t_s: float) -> None:
        """Take something that lasted an instant; it is shown for some seconds."""
        self._instant[fault.key] = (t_s + BACK_TOLD_S, fault)
        self._kept[fault.key] = self.text(fault)
        self._begins(fault, t_s)

    def _begins(self, fault: Fault, t_s: float) -> None:
        if self.note is not None:
            self.note(t_s, "fault", fault.key, **dict(fault.values))
        if t_s - self._told_s.get(fault.key, float("-inf")) < QUIET_S:
            self._unsaid[fault.key] = self._unsaid.get(fault.key, 0) + 1
            return
        self._told_s[fault.key] = t_s
        again = self._unsaid.pop(fault.key, 0)
        more: dict[str, object] = {"again": again} if again else {}
        level: Level = "error" if fault.blind or fault.misleads else "warning"
        self._log(level, fault.key, meaning=FAULT_KEYS[fault.key], **dict(fault.values), **more)

    def _ends(self, fault: Fault, t_s: float, lasted_s: float) -> None:
        if self.note is not None:
            self.note(t_s, "fault over", fault.key, lasted_s=round(lasted_s, 3))
        if fault.key not in self._unsaid:
            self._log("info", f"{fault.key}_over", lasted_s=round(lasted_s, 3))
