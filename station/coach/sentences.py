"""Picks the one sentence of a drill: key and tone, never flickering."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from statistics import median

from station.coach.plan import Drill
from station.coach.scene import Sentence, State, Tone
from station.values import Cue, Landing, Side, Verdict, other

SENTENCES: dict[str, Tone] = {
    "reach_less": "correction",
    "reach_less_left": "correction",
    "reach_less_right": "correction",
    "quicker_steps": "correction",
    "slower_steps": "correction",
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
    clear_after: int = 4
    """Judged landings within in a row that take a correction back."""
    rate_steps: int = 8
    """The step rate is the median of the last so many steps."""
    rate_off: float = 0.03
    """Share of the target beyond which the step rate is corrected. Runners notice a tempo that is
    about 4 % off (Van Dyck 2015, Sports Med Open 1:15)."""
    rate_back: float = 0.02
    """Share of the target within which a correction of rate is taken back."""
    summary_every: int = 10
    """Steps between two sentences of a drill with summary feedback."""


class Picker:
    """Picks the sentence for one drill at a time."""

    def __init__(self, rule: SentenceRule) -> None:
        """Begin before the first drill."""
        self._rule = rule
        self._drill: Drill | None = None
        self._shown: Sentence | None = None
        self._shown_s = float("-inf")
        self._forget()

    def _forget(self) -> None:
        self._judged: deque[tuple[Side, Verdict]] = deque(maxlen=2 * self._rule.clear_after)
        self._rates_spm: deque[float] = deque(maxlen=self._rule.rate_steps)
        self._reach: str | None = None
        self._rate: str | None = None
        self._good_s = float("-inf")
        self._summary: Sentence | None = None
        self._block: list[Verdict | None] = []

    def start_drill(self, drill: Drill, t_s: float) -> None:
        """Begin a drill: its first sentence comes at once."""
        self._drill = drill
        self._shown = None
        self._forget()

    def landing(
        self,
        landing: Landing,
        verdict: Verdict | None,
        t_s: float,
        target_spm: float | None,
        cue: Cue | None,
    ) -> None:
        """Take one landing of the drill, with the cue that it was answered with."""
        drill = self._drill
        if drill is None or drill.feedback == "off":
            return
        if drill.feedback == "summary":
            self._summarise(verdict)
            return
        if verdict is not None:
            self._judged.append((landing.side, verdict))
        if cue is not None and cue.kind == "praise":
            self._good_s = t_s
        # A fading drill fades on the screen too: words come with the sound only.
        if verdict == "ahead" and (cue is not None or drill.feedback == "every step"):
            self._reach = self._reach_key(landing.side)
            self._good_s = float("-inf")
        last = [v for _, v in self._judged][-self._rule.clear_after :]
        if len(last) == self._rule.clear_after and "ahead" not in last:
            self._reach = None
        self._take_rate(landing.step_rate_spm, target_spm)

    def _reach_key(self, side: Side) -> str:
        """Name the foot only when the other one is seen to land within."""
        others = [v for of, v in self._judged if of == other(side)]
        if len(others) >= 2 and "ahead" not in others:
            return f"reach_less_{side}"
        return "reach_less"

    def _take_rate(self, rate_spm: float | None, target_spm: float | None) -> None:
        if rate_spm is not None:
            self._rates_spm.append(rate_spm)
        if target_spm is None or len(self._rates_spm) < self._rule.rate_steps:
            self._rate = None
            return
        off = median(self._rates_spm) / target_spm - 1.0
        if abs(off) > self._rule.rate_off:
            self._rate = "quicker_steps" if off < 0.0 else "slower_steps"
        elif abs(off) < self._rule.rate_back:
            self._rate = None

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
        if self._shown is None or wanted is None:
            self._shown, self._shown_s = wanted, t_s
        elif wanted.key == self._shown.key:
            self._shown = wanted  # new numbers in the same words
        elif t_s - self._shown_s >= self._rule.hold_s - 1e-9:
            self._shown, self._shown_s = wanted, t_s
        return self._shown

    def _wanted(self, t_s: float) -> Sentence | None:
        drill = self._drill
        if drill is None:
            return None
        if drill.kind == "rest":
            return sentence_of("rest_now")
        if drill.feedback == "summary" and self._summary is not None:
            return self._summary
        if self._reach is not None:
            return sentence_of(self._reach)
        if self._rate is not None:
            return sentence_of(self._rate)
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
        return "steady" if self._judged else "settle_in"
