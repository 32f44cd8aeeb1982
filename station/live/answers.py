"""What the screen answers to a key: what it did, or why it did nothing."""

from __future__ import annotations

from dataclasses import dataclass

from station.coach.commands import (
    AnswerFelt,
    ChangeBelt,
    ChangeLimit,
    ChangeRate,
    Command,
    ConfirmBelt,
    NextDrill,
    PreviousDrill,
    RepeatDrill,
    Resume,
    SetFeedback,
    SetSound,
)
from station.coach.events import Event
from station.coach.scene import AnswerKind, KeyAnswer
from station.live.coaching import Coaching

ANSWER_S = 2.5
"""How long an answer stays: to be read twice."""
END_AGAIN_S = 2.0
"""Within this time the key for the end is to be pressed again."""

ANSWERS: dict[str, set[str]] = {
    "key_rate_set": {"rate"},
    "key_belt_set": {"speed"},
    "key_limit_set": {"left", "right"},
    "key_belt_confirmed": {"speed"},
    "key_going_on": set(),
    "key_next_drill": set(),
    "key_drill_before": set(),
    "key_drill_again": set(),
    "key_feedback_on": set(),
    "key_feedback_off": set(),
    "key_sound_on": set(),
    "key_sound_off": set(),
    "key_end_again": set(),
    "key_no_rate": set(),
    "key_rate_unknown": set(),
    "key_no_belt": set(),
    "key_no_limit": set(),
    "key_no_further": set(),
    "key_belt_just_rose": set(),
    "key_rate_just_rose": set(),
    "key_nothing_waits": set(),
    "key_no_question": set(),
    "key_not_yet": set(),
    "key_over": set(),
}
"""Every answer, by key of the words' sentences, with the fields of its text."""


JUST_ROSE = {
    "the belt speed has just risen": "key_belt_just_rose",
    "the step rate has just risen": "key_rate_just_rose",
}
"""Rate and belt speed never rise together: what is said, by the progress' reason."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What keys can change, at one instant."""

    number: int
    target_spm: float | None
    belt: str | None
    belt_waited: bool
    limits_deg: tuple[float, float] | None
    """Left, right; None: no drill runs."""
    ended: bool
    refused: Event | None
    """The last thing that the coach asked for and that was not done."""

    @classmethod
    def of(cls, coaching: Coaching) -> Standing:
        """Return how it stands now."""
        run, progress = coaching.run, coaching.progress
        limits = None if run is None else (run.limits.left.deg, run.limits.right.deg)
        belt, waits = progress.status().belt_speed, progress.belt_waits
        refused = progress.log.last("refused")
        return cls(
            progress.number, coaching.target_spm, belt, waits, limits, progress.done, refused
        )


def refusal(command: Command, coaching: Coaching) -> str | None:
    """Return why a command makes no sense now, as a key of `ANSWERS`; None: it does."""
    progress = coaching.progress
    if progress.done:
        return "key_over"
    drill, counting = progress.drill, progress.before_first
    if isinstance(command, ChangeRate):
        if drill.step_rate is None or drill.kind == "rest":
            return "key_no_rate"
        return "key_rate_unknown" if coaching.target_spm is None else None
    if isinstance(command, ChangeBelt):
        return "key_no_belt" if progress.belt is None else None
    if isinstance(command, ChangeLimit):
        if drill.kind == "rest":
            return "key_no_limit"
        return "key_not_yet" if counting else None
    if isinstance(command, PreviousDrill | RepeatDrill):
        return "key_not_yet" if counting else None
    if isinstance(command, ConfirmBelt) and not (progress.belt_waits or progress.rest_asked):
        return "key_nothing_waits"
    if isinstance(command, AnswerFelt) and progress.state != "felt":
        return "key_no_question"
    return None


class Answers:
    """Keeps the one answer that is shown."""

    def __init__(self) -> None:
        """Begin with none."""
        self._shown: KeyAnswer | None = None
        self._until_s = float("-inf")

    def now(self, t_s: float) -> KeyAnswer | None:
        """Return the answer to show; None: there is none any more."""
        return self._shown if t_s < self._until_s else None

    def say(
        self, key: str, t_s: float, *values: tuple[str, str], kind: AnswerKind = "done"
    ) -> None:
        """Show an answer from now on, in the place of the one before.

        Args:
            key: One of `ANSWERS`.
            t_s: Now, session clock.
            values: For the fields of its text.
            kind: Whether the key did something, nothing, or asks to be pressed again.
        """
        self._shown = KeyAnswer(key, kind, values)
        self._until_s = t_s + (END_AGAIN_S if kind == "asks" else ANSWER_S)

    def tell(self, command: Command, before: Standing, after: Standing, t_s: float) -> None:
        """Say what a command did; what the whole screen shows (a pause, the end) is not said."""
        if after.ended:
            self._shown = None
        elif after.refused is not None and after.refused is not before.refused:
            key = JUST_ROSE.get(after.refused.why, "key_no_further")
            self.say(key, t_s, kind="refused")
        elif isinstance(command, ChangeRate) and after.target_spm is not None:
            changed = after.target_spm != before.target_spm
            self._changed(changed, "key_rate_set", t_s, ("rate", f"{after.target_spm:.0f}"))
        elif isinstance(command, ChangeBelt):
            self._changed(
                after.belt != before.belt, "key_belt_set", t_s, ("speed", after.belt or "")
            )
        elif isinstance(command, ChangeLimit) and after.limits_deg is not None:
            left, right = (f"{deg:.1f}" for deg in after.limits_deg)
            changed = after.limits_deg != before.limits_deg
            self._changed(changed, "key_limit_set", t_s, ("left", left), ("right", right))
        elif isinstance(command, ConfirmBelt) and before.belt_waited:
            self.say("key_belt_confirmed", t_s, ("speed", after.belt or ""))
        elif isinstance(command, SetFeedback):
            self.say("key_feedback_on" if command.on else "key_feedback_off", t_s)
        elif isinstance(command, SetSound):
            self.say("key_sound_on" if command.on else "key_sound_off", t_s)
        elif isinstance(command, Resume | ConfirmBelt):
            self.say("key_going_on", t_s)
        elif isinstance(command, NextDrill):
            self.say("key_next_drill", t_s)
        elif isinstance(command, PreviousDrill | RepeatDrill):
            again = after.number == before.number
            self.say("key_drill_again" if again else "key_drill_before", t_s)

    def _changed(self, changed: bool, key: str, t_s: float, *values: tuple[str, str]) -> None:
        if changed:
            self.say(key, t_s, *values)
        else:
            self.say("key_no_further", t_s, kind="refused")
