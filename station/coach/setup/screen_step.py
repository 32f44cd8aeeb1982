"""The screen's size, by a bar held against a card or a ruler, and the distance it is read from."""

from __future__ import annotations

import math

from station.coach.choice import Choice
from station.coach.setup.drafting import with_bay
from station.coach.setup.numbers import TypedText
from station.coach.setup.page import Body, Entry, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.values import Chosen, Done, Draft, Nudged, Typed, Wish

DESIGN_PX = math.hypot(1280.0, 720.0)
"""The screen's diagonal in pixels of the picture that is painted."""
CARD_MM = 85.6
"""Long side of a bank card (ISO/IEC 7810, ID-1)."""
_BAR_PX = 300.0
_BAR_RANGE = (60.0, 640.0)
_RULER_MM = (10.0, 2000.0)
_FAR_M = (0.3, 10.0)
_ACROSS_M = (0.1, 5.0)
_NARROW_M = 0.45
"""A screen smaller than this is hard to read from the belt: a choice of this project."""


class ScreenStep(Plain):
    """Shows a bar; a card is matched to it, or a ruler's reading is typed."""

    name: StepName = "screen"

    def __init__(self) -> None:
        """Begin with an unmeasured bar."""
        self._bar_px = _BAR_PX
        self._by_card = False
        self._fields = {"ruler": TypedText(), "distance": TypedText()}
        self._active = "ruler"
        self.share = 1.0
        """How large the picture is shown now against the full screen."""

    def enter(self, draft: Draft) -> Wish | None:
        """Choice the distance that is known."""
        if not self._fields["distance"].text:
            self._fields["distance"].offer(f"{draft.bay.viewing_distance_m:g}")
        return None

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Stretch the bar, take a sign, or another field."""
        if isinstance(done, Nudged):
            wider = self._bar_px + done.right - 10.0 * done.down
            self._bar_px = min(_BAR_RANGE[1], max(_BAR_RANGE[0], wider))
            self._by_card = True
            self._fields["ruler"].offer("")
        elif isinstance(done, Typed):
            self._fields[self._active].take(done.sign)
        elif isinstance(done, Chosen) and done.id.startswith("entry:"):
            wanted = done.id.partition(":")[2]
            self._active = wanted if wanted in self._fields else self._active
        elif isinstance(done, Chosen) and done.id == "card":
            self._by_card = not self._by_card
            self._fields["ruler"].offer("")
        return None

    @property
    def diagonal_m(self) -> float | None:
        """The screen's diagonal; None: not measured."""
        ruler_mm = self._fields["ruler"].number(*_RULER_MM)
        long_mm = ruler_mm if ruler_mm is not None else CARD_MM if self._by_card else None
        return None if long_mm is None else long_mm / 1000.0 * DESIGN_PX / self._bar_px / self.share

    def _far_m(self) -> float | None:
        return self._fields["distance"].number(*_FAR_M)

    def body(self, draft: Draft) -> Body:
        """Return the bar and what it comes to."""
        entries = tuple(
            Entry(name, f"setup_{name}", self._fields[name].text, unit, self._active == name)
            for name, unit in (("ruler", "mm"), ("distance", "m"))
        )
        offers = (Choice("card", "setup_card_fits", "", self._by_card),)
        return Body("setup_screen_how", self._readings(draft), offers=offers, entries=entries,
                    bar_px=self._bar_px, picture=False)  # fmt: skip

    def _readings(self, draft: Draft) -> tuple[Reading, ...]:
        far = self._far_m()
        found = []
        across = self.diagonal_m
        if self._fields["ruler"].text and self._fields["ruler"].number(*_RULER_MM) is None:
            found.append(Reading("setup_ruler_wrong", "bad"))
        elif across is None:
            known = draft.bay.screen_diagonal_m
            told = (("size", f"{100.0 * known:.0f}"),) if known else ()
            found.append(
                Reading("setup_screen_known" if known else "setup_screen_open", "open", told)
            )
        elif not _ACROSS_M[0] <= across <= _ACROSS_M[1]:
            found.append(Reading("setup_ruler_wrong", "bad"))
        else:
            values = (("size", f"{100.0 * across:.0f}"), ("inch", f"{across / 0.0254:.0f}"))
            small = across < _NARROW_M
            found.append(Reading("setup_screen_small" if small else "setup_screen_is",
                                 "look" if small else "good", values))  # fmt: skip
        if far is None:
            found.append(Reading("setup_distance_wrong", "bad"))
        else:
            found.append(Reading("setup_distance_is", "good", (("distance", f"{far:g}"),)))
        return tuple(found)

    def apply(self, draft: Draft) -> Draft:
        """Keep size and distance."""
        across, far = self.diagonal_m, self._far_m()
        if across is not None and _ACROSS_M[0] <= across <= _ACROSS_M[1]:
            draft = with_bay(draft, screen_diagonal_m=round(across, 3))
        if far is not None and far != draft.bay.viewing_distance_m:
            draft = with_bay(draft, viewing_distance_m=far)
        return draft
