"""Asks a person for the belt's setting, and says when it runs as asked."""

from __future__ import annotations

from station.coach.belt_request import CONFIRM_OFF, BeltRequest, Confirmed
from station.coach.belt_unchanged import BeltUnchanged
from station.coach.plan import Plan
from station.coach.standing import Standing
from station.values import Belt

_CONFIRMED_WHY: dict[Confirmed, str] = {
    "measured": "seen to run as asked",
    "key": "the coach says so",
    "nobody": "nobody confirmed it in time",
}


class BeltAsking(Standing):
    """A session whose belt is asked for; it never drives the belt itself."""

    def __init__(
        self,
        plan: Plan,
        countdown_s: float,
        belt_limit_mps: float | None,
        runner_belt_limit_mps: float | None,
    ) -> None:
        """Begin with no belt asked for."""
        super().__init__(plan, countdown_s, belt_limit_mps, runner_belt_limit_mps)
        self._asked: Belt | None = None
        self._asked_before = False
        self._sure: Belt | None = None  # the last one that was confirmed, or not doubted
        self._limit_told: set[int] = set()

    def ask_belt_of_drill(self, t_s: float) -> None:
        """Ask for the belt that a drill begins with, where it is another one.

        Before the first drill the countdown was the time to set it: nothing waits there. A rest
        does not wait either.
        """
        asked, span, number = self.belt, self._span, self.number
        self._belt_noted_s = None
        if self._adjust.belt_limited(number) and number not in self._limit_told:
            self._limit_told.add(number)
            self.log.note(
                t_s, "belt limited", "the plan asks for more than bay or runner allow",
                number=number, asked_mps=self.drill.belt_speed_mps,
            )  # fmt: skip
        first, self._asked_before = not self._asked_before, True
        if not first and asked == self._asked and asked == self._belt_set:
            return
        before, self._asked = self._belt_set, asked
        if first:
            self._note_asked(t_s, "first drill")
        else:
            self._belt_noted_s = 0.0
            self._note_asked(t_s, "drill")
        if first or asked is None or self.drill.kind == "rest" or span is None:
            self._belt_set = self._sure = asked
            return
        self._wait_for(asked, before, t_s)

    def ask_belt_of_coach(self, t_s: float) -> None:
        """Ask for the belt as the coach has just changed it.

        A change within what the measured belt may be off anyway does not stop the drill.
        """
        asked, span = self.belt, self._span
        if asked is None or span is None or span.kind != "drill":
            return
        self._asked = asked
        self._belt_noted_s = self.elapsed_s
        self._note_asked(t_s, "coach")
        before = self._sure if self._request is None else self._request.before
        small = self._request is None and before is not None and (
            abs(asked.speed_mps / before.speed_mps - 1.0) <= CONFIRM_OFF
        )  # fmt: skip
        if small or self.drill.kind == "rest":
            self._belt_set = asked
            return
        self._wait_for(asked, before, t_s)

    def see_belt(self, speed_mps: float | None, t_s: float) -> None:
        """Take the belt's measured speed; it may confirm what was asked.

        Args:
            speed_mps: None: it cannot be told.
            t_s: Of the picture that it was measured in, session clock.
        """
        self._belt_seen_mps = speed_mps
        now_s = t_s if self._t_s is None else max(t_s, self._t_s)
        if self._request is None:
            return
        if self._request.seen(speed_mps, now_s):
            self.confirm_belt("measured", now_s)
        elif self._unchanged is not None and self._unchanged.see(
            None if self.paused else speed_mps, now_s
        ):
            self.log.note(
                now_s, "belt unchanged", "it is seen to run as before it was asked for",
                number=self.number, asked_mps=self._request.asked.speed_mps, seen_mps=speed_mps,
            )  # fmt: skip

    def confirm_belt(self, by: Confirmed, t_s: float) -> None:
        """Let the drill run: the belt runs as asked, as far as is known."""
        request, span = self._request, self._span
        if request is None or span is None:
            return
        self._belt_set = self._sure = request.asked
        self._request = None
        self._belt_noted_s = self.elapsed_s if by == "nobody" else None
        span.go_on("belt", t_s)
        self.log.note(
            t_s, "belt confirmed", _CONFIRMED_WHY[by], by=by, number=span.number,
            speed_mps=request.asked.speed_mps, seen_mps=self._belt_seen_mps,
        )  # fmt: skip

    @property
    def belt_asked(self) -> Belt | None:
        """What is waited for; None: nothing is."""
        return None if self._request is None else self._request.asked

    def _wait_for(self, asked: Belt, before: Belt | None, t_s: float) -> None:
        span = self._span
        if span is None:
            return
        self._request = BeltRequest.at(asked, before, t_s)
        self._unchanged = BeltUnchanged(asked, before, self._belt_seen_mps, t_s)
        if span.paused:
            self._request.timer.pause(t_s)
        span.stop("belt", t_s)
        if self._hops is not None:
            self._hops.stand()

    def _note_asked(self, t_s: float, why: str) -> None:
        asked = self._asked
        self.log.note(
            t_s, "belt asked", why, number=self.number,
            speed_mps=None if asked is None else asked.speed_mps,
            incline_percent=None if asked is None else asked.incline_percent,
            text=self._adjust.belt_text(self.number),
        )  # fmt: skip
