"""With a runner on the belt: whole in the picture, square to the belt, facing which way."""

from __future__ import annotations

import math
from collections import deque

from station.coach.choice import Choice
from station.coach.setup.drafting import with_view
from station.coach.setup.page import Body, Mark, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.values import Chosen, Done, Draft, Facts, Wish
from station.measure.setup.framing import Framing, framing_of
from station.measure.squareness import GOOD_DEG, MOST_DEG, SquareWatch, short_percent
from station.values import LANDMARKS, Facing, Pose

_KEPT = 60
_LEAST = 20
_SHARE = 0.9
_FEET = tuple(
    (LANDMARKS.index(f"{side}_heel"), LANDMARKS.index(f"{side}_foot_index"))
    for side in ("left", "right")
)
_VOTES = 30
"""Frames' worth of feet that point one way before it is believed."""


def body_mark(pose: Pose | None) -> tuple[Mark, ...]:
    """Return the body's points over the picture; none where nobody is found."""
    if pose is None or not pose.found:
        return ()
    points = tuple((float(x), float(y)) for x, y in pose.xy_px if x == x and y == y)
    return (Mark("body", points),)


class RunnerStep(Plain):
    """Whether the whole runner is in the picture, all the time."""

    name: StepName = "runner"

    def __init__(self) -> None:
        """Begin with nobody."""
        self._framings: deque[Framing | None] = deque(maxlen=_KEPT)
        self._pose: Pose | None = None

    def enter(self, draft: Draft) -> Wish | None:
        """Look anew."""
        self._framings.clear()
        return None

    def see(self, facts: Facts, draft: Draft) -> None:
        """Take one picture's body."""
        if facts.pose is not None:
            self._pose = facts.pose
            self._framings.append(framing_of(facts.pose))

    def body(self, draft: Draft) -> Body:
        """Return what the picture's edges cut off."""
        share = min(1.0, len(self._framings) / _LEAST)
        return Body("setup_runner_how", self._readings(draft), body_mark(self._pose), share=share)

    def _readings(self, draft: Draft) -> tuple[Reading, ...]:
        if draft.camera is None:
            return (Reading("setup_no_picture", "bad"),)
        there = [framing for framing in self._framings if framing is not None]
        if len(there) < _LEAST or len(there) < 0.5 * len(self._framings):
            return (Reading("setup_runner_nobody", "open"),)
        found = []
        for edge in ("top", "bottom", "left", "right"):
            cut = sum(edge in framing.cut for framing in there)
            if cut > (1.0 - _SHARE) * len(there):
                found.append(Reading(f"setup_runner_cut_{edge}", "bad"))
        if sum(framing.legs_seen for framing in there) < 0.5 * len(there):
            found.append(Reading("setup_runner_legs", "look"))
        leg = sorted(framing.leg_px for framing in there)[len(there) // 2]
        values = (("leg", f"{leg:.0f}"),)
        if not found:
            found.append(Reading("setup_runner_whole", "good"))
        small = not there[-1].large_enough
        key = "setup_runner_small" if small else "setup_runner_large"
        return (*found, Reading(key, "look" if small else "good", values))


class SquareStep(Plain):
    """How far off square the camera looks at the belt."""

    name: StepName = "square"

    def __init__(self) -> None:
        """Begin with nothing seen."""
        self._watch = SquareWatch()
        self._pose: Pose | None = None

    def enter(self, draft: Draft) -> Wish | None:
        """Look anew."""
        self._watch = SquareWatch()
        return None

    def see(self, facts: Facts, draft: Draft) -> None:
        """Take one picture's body."""
        if facts.pose is not None:
            self._pose = facts.pose
            self._watch.see(facts.pose)

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Look again, after the camera was turned."""
        if isinstance(done, Chosen) and done.id == "again":
            return self.enter(draft)
        return None

    def body(self, draft: Draft) -> Body:
        """Return the angle and what it does to lengths."""
        off = self._watch.off_deg
        if draft.camera is None:
            readings: tuple[Reading, ...] = (Reading("setup_no_picture", "bad"),)
        elif off is None:
            readings = (Reading("setup_square_open", "open"),)
        else:
            values = (("degrees", f"{off:.0f}"), ("percent", f"{short_percent(off):.1f}"))
            if off <= GOOD_DEG:
                readings = (Reading("setup_square_good", "good", values),)
            elif off <= MOST_DEG:
                readings = (Reading("setup_square_off", "look", values),)
            else:
                readings = (Reading("setup_square_far", "bad", values),)
        again = (Choice("again", "setup_again", "1"),)
        return Body("setup_square_how", readings, body_mark(self._pose), again,
                    share=self._watch.share)  # fmt: skip


class FacingStep(Plain):
    """Which way runners face in the picture: as it was seen, or as it is chosen."""

    name: StepName = "facing"

    def __init__(self) -> None:
        """Begin with nothing seen."""
        self._votes = 0.0
        self._chosen: Facing | None = None
        self._auto = False
        self._pose: Pose | None = None

    def see(self, facts: Facts, draft: Draft) -> None:
        """See which way the feet point."""
        self._pose = facts.pose or self._pose
        if facts.pose is None or not facts.pose.found:
            return
        x = facts.pose.xy_px[:, 0]
        ways = [float(x[toe] - x[heel]) for heel, toe in _FEET]
        self._votes += sum(math.copysign(1.0, way) for way in ways if math.isfinite(way))
        self._votes = max(-2.0 * _VOTES, min(2.0 * _VOTES, self._votes))

    @property
    def seen(self) -> Facing | None:
        """The way that the feet point; None: not seen for long enough."""
        if abs(self._votes) < _VOTES:
            return None
        return "right" if self._votes > 0.0 else "left"

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Take the way that was chosen."""
        if isinstance(done, Chosen) and done.id.startswith("faces:"):
            told = done.id.partition(":")[2]
            self._auto = told == "auto"
            self._chosen = None if told == "auto" else ("right" if told == "right" else "left")
        return None

    def body(self, draft: Draft) -> Body:
        """Return both ways, and the one that was seen."""
        now = None if self._auto else self._chosen or self.seen or draft.bay.view.faces
        offers = (
            Choice("faces:left", "setup_faces_left", "1", now == "left"),
            Choice("faces:right", "setup_faces_right", "2", now == "right"),
            Choice("faces:auto", "setup_faces_auto", "3", self._auto),
        )
        if self._auto:
            readings: tuple[Reading, ...] = (Reading("setup_facing_auto", "good"),)
        elif self._chosen is not None and self.seen not in (None, self._chosen):
            readings = (Reading("setup_facing_other", "look"),)
        elif self.seen is not None:
            readings = (Reading(f"setup_facing_{self.seen}", "good"),)
        else:
            readings = (Reading("setup_facing_open", "good" if now else "open"),)
        return Body("setup_facing_how", readings, body_mark(self._pose), offers)

    def apply(self, draft: Draft) -> Draft:
        """Keep the way."""
        if self._auto:
            return with_view(draft, faces=None)
        now = self._chosen or self.seen
        return draft if now is None else with_view(draft, faces=now)
