"""The scale: two clicks on a known length in the runner's plane, and the length typed."""

from __future__ import annotations

from station.coach.choice import Choice
from station.coach.setup.drafting import with_view
from station.coach.setup.numbers import TypedText
from station.coach.setup.page import Body, Entry, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.two_points import TwoPoints
from station.coach.setup.values import Clicked, Done, Draft, Typed, Wish
from station.measure.setup.scale import Scale, scale_of

GOOD_SHARE = 0.01
_LEAST_CM, _MOST_CM = 10.0, 500.0
LOW_PX_PER_M, HIGH_PX_PER_M = 20.0, 5000.0
"""As a bay profile has it."""


class ScaleStep(Plain):
    """Takes two clicks and a length."""

    name: StepName = "scale"

    def __init__(self) -> None:
        """Begin with a metre, and no clicks."""
        self._points = TwoPoints()
        self._length = TypedText("100")

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Take a click, an arrow key, or a sign of the length."""
        if isinstance(done, Typed):
            self._length.take(done.sign)
        else:
            self._points.take(done)
            if isinstance(done, Clicked):
                self._length.offer()
        return None

    def _scale(self) -> Scale | None:
        pair = self._points.pair
        length_cm = self._length.number(_LEAST_CM, _MOST_CM)
        return None if pair is None or length_cm is None else scale_of(*pair, length_cm / 100.0)

    def body(self, draft: Draft) -> Body:
        """Return the marked length and what it comes to."""
        offers = (Choice("clear", "setup_clear", ""),) if self._points.last else ()
        entry = Entry("length", "setup_length", self._length.text, "cm")
        return Body("setup_scale_how", self._readings(draft), self._points.marks(), offers,
                    (entry,), self._points.last)  # fmt: skip

    def _readings(self, draft: Draft) -> tuple[Reading, ...]:
        if draft.camera is None:
            return (Reading("setup_no_picture", "bad"),)
        if self._length.number(_LEAST_CM, _MOST_CM) is None:
            values = (("low", f"{_LEAST_CM:g}"), ("high", f"{_MOST_CM:g}"))
            return (Reading("setup_length_wrong", "bad", values),)
        scale = self._scale()
        if scale is None:
            known = draft.bay.view.px_per_m
            key = "setup_scale_first" if self._points.last is None else "setup_scale_second"
            told = (Reading(key, "open"),)
            if known is None:
                return told
            return (*told, Reading("setup_scale_known", "open", (("scale", f"{known:.1f}"),)))
        values = (
            ("scale", f"{scale.px_per_m:.1f}"),
            ("percent", f"{100.0 * scale.error_share:.1f}"),
        )
        if not LOW_PX_PER_M <= scale.px_per_m <= HIGH_PX_PER_M:
            return (Reading("setup_scale_wrong", "bad", values),)
        good = scale.error_share <= GOOD_SHARE
        return (Reading("setup_scale_is" if good else "setup_scale_short",
                        "good" if good else "look", values),)  # fmt: skip

    def apply(self, draft: Draft) -> Draft:
        """Keep the scale."""
        scale = self._scale()
        if scale is None or not LOW_PX_PER_M <= scale.px_per_m <= HIGH_PX_PER_M:
            return draft
        return with_view(draft, px_per_m=round(scale.px_per_m, 2))
