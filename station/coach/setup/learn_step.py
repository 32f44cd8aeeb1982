"""Learned from running: scale and belt line, beside those that were marked by hand."""

from __future__ import annotations

from station.coach.choice import Choice
from station.coach.setup.drafting import with_view
from station.coach.setup.numbers import TypedText
from station.coach.setup.page import Body, Entry, Mark, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.values import Chosen, Done, Draft, Facts, Typed, Wish
from station.measure.setup.learning import BeltLearner, Learned, belt_line_of
from station.measure.setup.scale import belt_rise_deg
from station.values import Belt

ALIKE_SHARE, ALIKE_DEG = 0.02, 0.5
"""Two ways to measure that differ by more than this do not agree."""
_SPEED_KMH = (4.0, 25.0)
_INCLINE = (0.0, 15.0)


class LearnStep(Plain):
    """Watches somebody run at a speed that is typed."""

    name: StepName = "learn"

    def __init__(self) -> None:
        """Begin with no speed."""
        self._fields = {"speed": TypedText("", 5), "incline": TypedText("0", 5)}
        self._active = "speed"
        self._learner: BeltLearner | None = None
        self._size = (0, 0)
        self._take_learned: bool | None = None

    def enter(self, draft: Draft) -> Wish | None:
        """Learn anew; what was typed stays."""
        self._learner = None
        return None

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Take a sign of a number, another field, or which of two measures is to be kept."""
        if isinstance(done, Typed):
            self._fields[self._active].take(done.sign)
            return self.enter(draft)
        if isinstance(done, Chosen) and done.id.startswith("entry:"):
            wanted = done.id.partition(":")[2]
            self._active = wanted if wanted in self._fields else self._active
        elif isinstance(done, Chosen) and done.id in ("learned", "marked"):
            self._take_learned = done.id == "learned"
        elif isinstance(done, Chosen) and done.id == "again":
            return self.enter(draft)
        return None

    def _belt(self) -> Belt | None:
        speed = self._fields["speed"].number(*_SPEED_KMH)
        incline = self._fields["incline"].number(*_INCLINE)
        return None if speed is None or incline is None else Belt(speed / 3.6, incline)

    def see(self, facts: Facts, draft: Draft) -> None:
        """Measure one picture."""
        belt = self._belt()
        self._size = (facts.image.shape[1], facts.image.shape[0])
        if belt is None:
            return
        if self._learner is None:
            known = draft.bay.view.scaled_to(*self._size)
            self._learner = BeltLearner(belt, known.roll_deg, known.faces, known.belt_line)
        self._learner.see(facts.image, facts.pose, facts.t_s)

    @property
    def detect_anew(self) -> bool:
        """The pose model's tracking has stuck."""
        return self._learner is not None and self._learner.detect_anew

    @property
    def learned(self) -> Learned | None:
        """What was learned; None: not yet."""
        return None if self._learner is None else self._learner.learned

    def body(self, draft: Draft) -> Body:
        """Return how far it has come, or both measures side by side."""
        entries = tuple(
            Entry(name, f"setup_{name}", self._fields[name].text, unit, self._active == name)
            for name, unit in (("speed", "km/h"), ("incline", "%"))
        )
        learned, learner = self.learned, self._learner
        marks: tuple[Mark, ...] = ()
        if learner is not None and learner.view is not None:
            marks = (Mark("line", belt_line_of(learner.view), "good" if learned else "open"),)
        offers: tuple[Choice, ...] = ()
        if learned is not None:
            taken = self._taken(draft)
            offers = (
                Choice("learned", "setup_take_learned", "L", taken),
                Choice("marked", "setup_take_marked", "M", not taken),
            )
        return Body(
            "setup_learn_how", self._readings(draft), marks, offers, entries,
            share=None if learner is None else learner.share,
        )  # fmt: skip

    def _readings(self, draft: Draft) -> tuple[Reading, ...]:
        if draft.camera is None:
            return (Reading("setup_no_picture", "bad"),)
        if self._belt() is None:
            return (Reading("setup_speed_wanted", "open"),)
        found = self.learned
        if found is None:
            busy = self._learner is not None and self._learner.share > 0.0
            return (Reading("setup_learning" if busy else "setup_run_now", "open"),)
        by = Reading("setup_by_pattern" if found.by == "pattern" else "setup_by_feet",
                     "good" if found.by == "pattern" else "look")  # fmt: skip
        return (self._scale(draft, found), *self._slope(draft, found), by)

    def _scale(self, draft: Draft, found: Learned) -> Reading:
        values = [("scale", f"{found.px_per_m:.1f}")]
        marked = draft.bay.view.scaled_to(*self._size).px_per_m
        if marked is None:
            return Reading("setup_learned_scale", "good", tuple(values))
        off = found.px_per_m / marked - 1.0
        values += [("marked", f"{marked:.1f}"), ("percent", f"{100.0 * off:+.1f}")]
        alike = abs(off) <= ALIKE_SHARE
        return Reading("setup_scales_alike" if alike else "setup_scales_differ",
                       "good" if alike else "look", tuple(values))  # fmt: skip

    def _slope(self, draft: Draft, found: Learned) -> tuple[Reading, ...]:
        if found.rise_deg is None:
            return ()
        values = [("degrees", f"{found.rise_deg:.1f}")]
        line = draft.bay.view.scaled_to(*self._size).belt_line
        if line is None:
            return (Reading("setup_learned_slope", "good", tuple(values)),)
        marked = belt_rise_deg(*line, draft.bay.view.roll_deg, found.faces)
        off = found.rise_deg - marked
        values += [("marked", f"{marked:.1f}"), ("off", f"{off:+.1f}")]
        alike = abs(off) <= ALIKE_DEG
        key = "setup_slopes_alike" if alike else "setup_slopes_differ"
        return (Reading(key, "good" if alike else "look", tuple(values)),)

    def _taken(self, draft: Draft) -> bool:
        """What was marked by hand is kept where both are there, unless it is chosen otherwise."""
        known = draft.bay.view
        if self._take_learned is None:
            return known.px_per_m is None or known.belt_line is None
        return self._take_learned

    def apply(self, draft: Draft) -> Draft:
        """Keep what was learned, if that is wished."""
        found = self.learned
        if found is None or not self._taken(draft):
            return draft
        known, wished = draft.bay.view, bool(self._take_learned)
        if wished or known.px_per_m is None:
            draft = with_view(draft, px_per_m=round(found.px_per_m, 2))
        if found.belt_line is not None and (wished or known.belt_line is None):
            draft = with_view(draft, belt_line=found.belt_line)
        return draft
