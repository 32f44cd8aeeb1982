"""Picks the one sentence of a drill: key and tone, never flickering."""

from __future__ import annotations

from dataclasses import dataclass, field

from station.coach.corrections import CorrectionRule, Corrections
from station.coach.plan import Drill
from station.coach.scene import Sentence, State, Tone
from station.values import Belt, Cue, Landing, Step, Verdict

SENTENCES: dict[str, Tone] = {
    "reach_less": "correction",
    "reach_less_left": "correction",
    "reach_less_right": "correction",
    "lift_knees": "correction",
    "lift_knee_left": "correction",
    "lift_knee_right": "correction",
    "quicker_steps": "correction",
    "slower_steps": "correction",
    "slower_or_rest": "warning",
    "tired": "warning",
    "lean_more": "correction",
    "lean_less": "correction",
    "lean_from_ankles": "correction",
    "land_forefoot": "correction",
    "land_midfoot": "correction",
    "let_heel_settle": "correction",
    "less_bounce": "correction",
    "good_landings": "praise",
    "summary_good": "praise",
    "summary_mixed": "calm",
    "summary_ahead": "correction",
    "steady": "calm",
    "settle_in": "calm",
    "run_as_usual": "calm",
    "follow_beat": "calm",
    "follow_beat_stride": "calm",
    "hop_light": "calm",
    "lean_forward": "calm",
    "rest_now": "calm",
    "get_ready": "calm",
    "paused": "calm",
    "session_done": "calm",
}
"""Every sentence that coaching picks, by key of the words file, with its tone."""

_OF_STATE: dict[State, str] = {
    "countdown": "get_ready",
    "rest": "rest_now",
    "paused": "paused",
    "done": "session_done",
}


def sentence_of(key: str, *values: tuple[str, str]) -> Sentence:
    """Build a sentence with its own tone."""
    return Sentence(key, SENTENCES[key], values)


def state_sentence(state: State) -> Sentence | None:
    """Return the sentence of a state that is no drill; None for a drill or trouble."""
    key = _OF_STATE.get(state)
    return None if key is None else sentence_of(key)


@dataclass(frozen=True, slots=True)
class SentenceRule:
    """How steady the sentence is."""

    hold_s: float = 2.0
    """A sentence stays at least this long."""
    good_s: float = 4.0
    """How long praise stays."""
    summary_every: int = 10
    """Steps between two sentences of a drill with summary feedback."""
    corrections: CorrectionRule = field(default_factory=CorrectionRule)


class Picker:
    """Picks the sentence for one drill at a time.

    The order is fixed: safety, the request for a slower belt or a rest, the corrections in their
    own order (`station.coach.corrections.ORDER`), praise, then what the drill is about.
    """

    def __init__(self, rule: SentenceRule) -> None:
        """Begin before the first drill."""
        self._rule = rule
        self.corrections = Corrections(rule.corrections)
        self.safety: str | None = None
        """A sentence that goes before all others, until it is taken back."""
        self.overloaded = False
        """Ask for a slower belt or a rest, and correct nothing."""
        self.silent = False
        """Correct and praise nothing."""
        self._drill: Drill | None = None
        self._shown: Sentence | None = None
        self._shown_s = float("-inf")
        self._forget()

    def _forget(self) -> None:
        self._good_s = float("-inf")
        self._summary: Sentence | None = None
        self._block: list[Verdict | None] = []

    def start_drill(self, drill: Drill) -> None:
        """Begin a drill: its first sentence comes at once."""
        self._drill = drill
        self._shown = None
        self.overloaded = self.silent = False
        self.corrections.start_drill(drill)
        self._forget()

    def landing(
        self,
        landing: Landing,
        verdict: Verdict | None,
        t_s: float,
        target_spm: float | None,
        cue: Cue | None,
        answered: bool,
    ) -> None:
        """Take one landing of the drill, with the cue that it was answered with."""
        drill = self._drill
        if drill is None or drill.feedback == "off":
            return
        if drill.feedback == "summary":
            self._summarise(verdict if answered else None)
            return
        if cue is not None and cue.kind == "praise":
            self._good_s = t_s
        if verdict == "ahead" and answered:
            self._good_s = float("-inf")
        self.corrections.landing(landing, verdict, target_spm, cue, answered)

    def step(self, step: Step, belt: Belt | None) -> None:
        """Take one final step of the drill."""
        self.corrections.step(step, belt)

    def _summarise(self, verdict: Verdict | None) -> None:
        self._block.append(verdict)
        if len(self._block) < self._rule.summary_every:
            return
        judged = [v for v in self._block if v is not None]
        self._block = []
        if not judged:
            return
        within = judged.count("within")
        share = within / len(judged)
        key = "summary_good" if share >= 0.8 else "summary_mixed" if share >= 0.5 else None
        self._summary = sentence_of(
            key or "summary_ahead", ("within", str(within)), ("judged", str(len(judged)))
        )

    def sentence(self, t_s: float) -> Sentence | None:
        """Return the sentence to show now; None before the first drill."""
        wanted = self._wanted(t_s)
        if self._shown is None or wanted is None or self._may_not_stay(self._shown):
            self._shown, self._shown_s = wanted, t_s
        elif wanted.key == self._shown.key:
            self._shown = wanted  # new numbers in the same words
        elif wanted.key == self.safety or t_s - self._shown_s >= self._rule.hold_s - 1e-9:
            self._shown, self._shown_s = wanted, t_s
        return self._shown

    def _may_not_stay(self, shown: Sentence) -> bool:
        """Whether the sentence has to go at once: nothing is corrected or praised in silence."""
        return self.silent and shown.key != self.safety and shown.tone != "calm"

    def _wanted(self, t_s: float) -> Sentence | None:
        drill = self._drill
        if drill is None:
            return None
        if self.safety is not None:
            return Sentence(self.safety, "warning")
        if drill.kind == "rest":
            return sentence_of("rest_now")
        if self.silent or drill.feedback == "off":
            return sentence_of(self._calm_key(drill))
        if drill.feedback == "summary":
            return self._summary or sentence_of(self._calm_key(drill))
        if self.overloaded:
            return sentence_of("slower_or_rest")
        correction = self.corrections.first()
        if correction is not None:
            return sentence_of(correction)
        if t_s - self._good_s < self._rule.good_s:
            return sentence_of("good_landings")
        return sentence_of(self._calm_key(drill))

    def _calm_key(self, drill: Drill) -> str:
        if drill.kind == "hop":
            return "hop_light"
        if drill.kind == "lean":
            return "lean_forward"
        if drill.feedback == "off":
            if not drill.beat:
                return "run_as_usual"
            return "follow_beat" if drill.beat_every == "step" else "follow_beat_stride"
        return "steady" if self.corrections.seen_any else "settle_in"
