"""What changed in a session, when and why: kept whole, in order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

EventValue = str | float | int | bool | None

EVENT_KINDS: Mapping[str, str] = {
    "drill started": "a drill began",
    "drill ended": "a drill ended",
    "session ended": "the session is over",
    "belt asked": "another belt setting is asked of a person",
    "belt confirmed": "the belt runs as asked, as far as is known",
    "belt unchanged": "the belt is seen to run on as before another setting was asked for",
    "second person": "somebody else came into view, or went; no landing is judged meanwhile",
    "hops limited": "a drill was left out: with its hops they would be more than the visit's limit",
    "belt limited": "a drill's belt speed was over a maximum; the maximum is asked instead",
    "proving": "cues stopped to see whether the landings hold without them",
    "proof failed": "they did not hold; cues came back",
    "hop not counted": "a contact in a hop drill that was no hop of this foot",
    "hop not seen": "a hop that was not seen, counted at the change of feet",
    "cues stopped": "too many landings ahead",
    "cues back": "fewer landings ahead again",
    "rest asked": "the runner is asked to rest or to end",
    "fatigue": "landings got worse late in the drill",
    "felt asked": "the runner is asked how many landings were good",
    "felt answered": "the runner's answer, or that there was none",
    "rate flagged": "the target step rate is out of the ordinary for this runner",
    "rate held": "the target is kept back, as the belt speed has just risen",
    "refused": "what the coach asked for was not done",
    "coach": "what the coach asked for",
    "fault": "a device or the machine failed; `why` is the fault's key",
    "fault over": "it works again, after `lasted_s`",
}
"""Every kind of event, with what it says."""


@dataclass(frozen=True, slots=True)
class Event:
    """One change."""

    t_s: float
    """Session clock."""
    kind: str
    """One of `EVENT_KINDS`."""
    why: str
    values: tuple[tuple[str, EventValue], ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values, for the session's file."""
        return {"t_s": self.t_s, "kind": self.kind, "why": self.why, **dict(self.values)}


class EventLog:
    """The events of a session, in the order they were noted. Used by one thread."""

    def __init__(self) -> None:
        """Begin with none."""
        self._events: list[Event] = []
        self._last: dict[str, Event] = {}

    def note(self, t_s: float, kind: str, why: str, **values: EventValue) -> None:
        """Add one; `kind` is one of `EVENT_KINDS`."""
        if kind not in EVENT_KINDS:
            raise ValueError(f"{kind!r} is no kind of event")
        event = Event(t_s, kind, why, tuple(values.items()))
        self._events.append(event)
        self._last[kind] = event

    def last(self, kind: str) -> Event | None:
        """Return the newest event of a kind; None: there is none."""
        return self._last.get(kind)

    @property
    def all(self) -> tuple[Event, ...]:
        """All events so far."""
        return tuple(self._events)

    def since(self, count: int) -> tuple[Event, ...]:
        """Return the events after the first `count`."""
        return tuple(self._events[count:])

    def newest_first(self) -> Iterator[Event]:
        """Go back through the events, without copying them."""
        return reversed(self._events)
