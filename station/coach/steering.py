"""What a coach changes of a running session without leaving its drill."""

from __future__ import annotations

from station.coach.belt_asking import BeltAsking
from station.coach.timer import Timer


class Steering(BeltAsking):
    """A session that can be paused, and whose drill can be changed."""

    def pause(self, t_s: float) -> None:
        """Let everything stand still."""
        if self._span is None or self._span.paused:
            return
        self._span.stop("pause", t_s)
        for timer in self._timers():
            timer.pause(t_s)
        if self._hops is not None:
            self._hops.stand()

    def resume(self, t_s: float) -> None:
        """Go on after a pause."""
        if self._span is not None and self._span.paused:
            self._span.go_on("pause", t_s)
            for timer in self._timers():
                timer.resume(t_s)

    def end_rest(self, t_s: float) -> None:
        """Go on after a rest that was asked for."""
        self._rest = None
        if self._span is not None:
            self._span.go_on("rest", t_s)

    def change_rate(self, by_spm: float) -> str | None:
        """Change the drill's target; return why not, None where it was done."""
        if by_spm > 0.0 and not self._guard.may_raise_rate(self.elapsed_s):
            return "the belt speed has just risen"
        return None if self._adjust.change_rate(self.number, by_spm) else "the drill sets no rate"

    def change_belt(self, by_tenths: int, t_s: float) -> str | None:
        """Change the drill's belt speed; return why not, None where it was done."""
        if by_tenths > 0 and not self._guard.may_raise_belt(self.elapsed_s):
            return "the step rate has just risen"
        if not self._adjust.change_belt(self.number, by_tenths):
            return "no belt speed to change, or beyond what bay, runner or treadmill allow"
        self.ask_belt_of_coach(t_s)
        return None

    def change_limit(self, by_deg: float) -> None:
        """Change the drill's landing limits."""
        self._adjust.change_limit(self.number, by_deg)

    def set_feedback(self, on: bool) -> None:
        """Let the drill's feedback be, or turn it off."""
        self._adjust.set_feedback(self.number, on)

    def answer_felt(self, good_of_ten: int, t_s: float) -> None:
        """Take the runner's answer, if it is asked for."""
        if self._felt is not None and self._felt.take(good_of_ten, self.elapsed_s):
            self._note_felt(t_s, "answered")

    def _note_felt(self, t_s: float, why: str) -> None:
        asked = self._felt
        if asked is not None:
            self.log.note(
                t_s, "felt answered", why, number=asked.number, good_of_ten=asked.answer,
                within=asked.within, judged=asked.judged,
            )  # fmt: skip

    def _timers(self) -> list[Timer]:
        asked = None if self._request is None else self._request.timer
        return [timer for timer in (asked, self._rest) if timer is not None]
