"""The clocks of camera and microphone, by somebody who claps before both."""

from __future__ import annotations

from station.coach.choice import Choice
from station.coach.setup.drafting import with_bay
from station.coach.setup.numbers import TypedText
from station.coach.setup.page import Body, Entry, Reading, StepName
from station.coach.setup.runner_steps import body_mark
from station.coach.setup.step import Plain
from station.coach.setup.values import (
    Chosen,
    Clapped,
    Done,
    Draft,
    Facts,
    Failed,
    ListenForClaps,
    Told,
    Typed,
    Wish,
)
from station.values import Pose

_FAR_M = (0.0, 10.0)
_ALIKE_S = 0.010
"""Claps that agree to this are sure."""


class ClapStep(Plain):
    """Looks and listens while somebody claps."""

    name: StepName = "clap"

    def __init__(self) -> None:
        """Begin with nothing heard."""
        self._far = TypedText("1", 5)
        self._busy = False
        self._found: Clapped | None = None
        self._trouble: str | None = None
        self._pose: Pose | None = None

    def see(self, facts: Facts, draft: Draft) -> None:
        """Show whoever claps."""
        self._pose = facts.pose or self._pose

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Take the distance, or begin to listen."""
        if isinstance(done, Typed):
            self._far.take(done.sign)
        elif isinstance(done, Chosen) and done.id == "listen" and not self._busy:
            far_m = self._far.number(*_FAR_M)
            if far_m is None or draft.camera is None or not draft.camera.live:
                return None
            self._busy, self._found, self._trouble = True, None, None
            return ListenForClaps(far_m)
        return None

    def told(self, told: Told, draft: Draft) -> None:
        """Take what was found, or why nothing was."""
        if isinstance(told, Clapped):
            self._busy, self._found, self._trouble = False, told, None
        elif isinstance(told, Failed) and told.what == "clap":
            self._busy, self._found, self._trouble = False, None, told.why

    def body(self, draft: Draft) -> Body:
        """Return what to do and what was found."""
        live = draft.camera is not None and draft.camera.live
        offers = (Choice("listen", "setup_clap_now", "L"),) if live else ()
        entries = (Entry("far", "setup_clap_far", self._far.text, "m"),) if live else ()
        return Body("setup_clap_how", self._readings(draft), body_mark(self._pose), offers, entries)

    def _readings(self, draft: Draft) -> tuple[Reading, ...]:
        if draft.camera is None:
            return (Reading("setup_no_picture", "bad"),)
        if not draft.camera.live:
            return (Reading("setup_clap_recorded", "good"),)
        if self._far.number(*_FAR_M) is None:
            return (Reading("setup_clap_far_wrong", "bad"),)
        if self._busy:
            return (Reading("setup_clap_listening", "open"),)
        if self._trouble is not None:
            why = Reading("setup_clap_trouble", "look", (("why", self._trouble),))
            return (why, Reading("setup_clap_without", "look"))
        found = self._found
        if found is None:
            now = (("ms", f"{1000.0 * draft.bay.picture_late_s:.0f}"),)
            return (Reading("setup_clap_open", "open", now), Reading("setup_clap_without", "open"))
        values = (
            ("ms", f"{1000.0 * found.late_s:+.0f}"), ("claps", str(found.claps)),
            ("spread", f"{1000.0 * found.spread_s:.0f}"),
        )  # fmt: skip
        sure = found.claps >= 2 and found.spread_s <= _ALIKE_S
        key = "setup_clap_found" if sure else "setup_clap_unsure"
        return (Reading(key, "good" if sure else "look", values),)

    def apply(self, draft: Draft) -> Draft:
        """Keep by how much the pictures are timed too late."""
        if self._found is None:
            return draft
        return with_bay(draft, picture_late_s=round(self._found.late_s, 3))
