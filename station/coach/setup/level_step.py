"""The camera's roll, from a plumb line or a level held in view: apart from the belt's incline."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.coach.choice import Choice
from station.coach.setup.bounds import GOOD_ROLL_DEG
from station.coach.setup.drafting import with_view
from station.coach.setup.page import Body, Mark, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.two_points import TwoPoints
from station.coach.setup.values import Chosen, Clicked, Done, Draft, Facts, Nudged, Wish
from station.measure.setup.lines import (
    MOST_ROLL_DEG,
    FoundLine,
    Grey,
    find_plumb_line,
    grey_of,
    kind_of,
    line_near,
    roll_of,
)

_SURE_DEG = 0.3
_MEAN_OF = 12


class LevelStep(Plain):
    """Finds the line by itself, or takes two clicks and finds the line between them."""

    name: StepName = "level"

    def __init__(self) -> None:
        """Begin with nothing found."""
        self._points = TwoPoints()
        self._sum: NDArray[np.uint16] | None = None
        self._count = 0
        self._mean: Grey | None = None
        self._line: FoundLine | None = None
        self._by_hand = False

    def enter(self, draft: Draft) -> Wish | None:
        """Look anew."""
        self.__init__()  # type: ignore[misc]
        return None

    def see(self, facts: Facts, draft: Draft) -> None:
        """Average some pictures, which takes their noise away, and look for the line in them."""
        if self._sum is None or self._sum.shape != facts.image.shape:
            self._sum, self._count = np.zeros(facts.image.shape, np.uint16), 0
        self._sum += facts.image  # grey only in the end: it takes five times as long
        self._count += 1
        if self._count < _MEAN_OF:
            return
        self._mean, self._sum = grey_of(self._sum) / self._count, None
        if not self._by_hand:
            self._line = find_plumb_line(self._mean)

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Take a click or an arrow key: from then on the line is the person's own."""
        if isinstance(done, Chosen) and done.id == "clear":
            self._points.clear()
            self._by_hand, self._line = False, None
            return None
        if self._points.take(done):
            self._by_hand, self._line = True, None
            pair = self._points.pair
            if pair is not None and isinstance(done, Clicked) and self._mean is not None:
                self._line = line_near(self._mean, *pair)
            if isinstance(done, Nudged):
                self._line = None
        return None

    @property
    def roll_deg(self) -> float | None:
        """The roll as found; None: nothing is."""
        line = self._line
        pair = (line.start, line.end) if line is not None else self._points.pair
        return None if pair is None else roll_of(*pair, kind_of(*pair))

    def body(self, draft: Draft) -> Body:
        """Return the line over the picture and what it says."""
        marks = self._points.marks()
        if self._line is not None:
            line = (self._line.start, self._line.end)
            marks = (Mark("line", line), *(m for m in marks if m.kind == "point"))
        offers = (Choice("clear", "setup_clear", "1"),) if self._by_hand else ()
        return Body("setup_level_how", self._readings(draft), marks, offers,
                    loupe=self._points.last)  # fmt: skip

    def _readings(self, draft: Draft) -> tuple[Reading, ...]:
        roll = self.roll_deg
        if draft.camera is None:
            return (Reading("setup_no_picture", "bad"),)
        if roll is None:
            return (Reading("setup_level_open" if self._by_hand else "setup_level_none", "open"),)
        way = "setup_roll_right" if roll > 0.0 else "setup_roll_left"
        values = (("degrees", f"{abs(roll):.2f}"),)
        if abs(roll) > MOST_ROLL_DEG:
            return (Reading("setup_roll_too_far", "bad", values),)
        found = [Reading(way, "good" if abs(roll) <= GOOD_ROLL_DEG else "look", values)]
        line = self._line
        if line is None:
            found.append(Reading("setup_level_by_hand", "good"))
        else:
            error = (("degrees", f"{max(line.error_deg, 0.01):.2f}"),)
            key = "setup_level_found" if not self._by_hand else "setup_level_fitted"
            found.append(Reading(key, "good" if line.error_deg < _SURE_DEG else "look", error))
        return tuple(found)

    def apply(self, draft: Draft) -> Draft:
        """Keep the roll."""
        roll = self.roll_deg
        if roll is None or abs(roll) > MOST_ROLL_DEG:
            return draft
        return with_view(draft, roll_deg=round(roll, 2))
