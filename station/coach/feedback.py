"""When a cue sounds, and which one sentence is on the screen."""

from __future__ import annotations

from dataclasses import dataclass, field

from station.coach.plan import Drill
from station.coach.scene import Sentence
from station.coach.sentences import Picker, SentenceRule
from station.values import Cue, Landing, Verdict

FADING_STAGES = 5
"""A fading drill cues every landing that is ahead in its first fifth, then every second, third,
fourth and fifth one: 100, 50, 33, 25, 20 %."""


LEAST_GAP_S = 0.6
"""So a cue is over, and has been acted on by the same foot, before the next one."""


MESSAGE_S = 1.0
"""How long a message (come forward, stop, paused) may sound: no correction cuts it off."""


@dataclass(frozen=True, slots=True)
class FeedbackRule:
    """How sparing the feedback is."""

    least_gap_s: float = LEAST_GAP_S
    """Between two sounds of correction or praise."""
    praise_after: int = 12
    """Landings within in a row, after one that was ahead."""
    praise_gap_s: float = 20.0
    """Between two praises."""
    sentence: SentenceRule = field(default_factory=SentenceRule)


def fading_interval(share_done: float) -> int:
    """Return every how many ahead landings a fading drill cues.

    Args:
        share_done: How much of the drill is over, 0 to 1.

    Returns:
        1 (each one) to `FADING_STAGES`; never falls as the drill goes on, so the share of cues
        never rises.
    """
    return min(FADING_STAGES, 1 + int(max(0.0, share_done) * FADING_STAGES))


class FeedbackPolicy:
    """Decides cue and sentence from judged landings. Used by one thread; has no clock."""

    def __init__(self, rule: FeedbackRule | None = None) -> None:
        """Begin before the first drill: no cue, no sentence."""
        self.rule = rule or FeedbackRule()
        self.withheld = 0
        """Cues that were due, and dropped because another had sounded within the least gap."""
        self._drill: Drill | None = None
        self._last_sound_s = float("-inf")
        self._last_praise_s = float("-inf")
        self._picker = Picker(self.rule.sentence)
        self._within_run = 0
        self._was_ahead = False
        self._ahead_since_cue = 0
        self._stage = 1

    def start_drill(self, drill: Drill, t_s: float) -> None:
        """Begin a drill: what was counted in the one before is forgotten, the gap is not."""
        self._drill = drill
        self._picker.start_drill(drill, t_s)
        self._within_run = 0
        self._was_ahead = False
        self._ahead_since_cue = FADING_STAGES  # the first landing ahead is always cued
        self._stage = 1

    def landing(
        self,
        landing: Landing,
        verdict: Verdict | None,
        t_s: float,
        *,
        share_done: float = 0.0,
        target_spm: float | None = None,
        paused: bool = False,
        silent: bool = False,
    ) -> Cue | None:
        """Take one landing and decide whether it is answered with a sound.

        Args:
            landing: In order of time.
            verdict: None: it could not be judged; it is never cued and breaks no run.
            t_s: Now, session clock.
            share_done: How much of the drill is over, 0 to 1; fading goes by it.
            target_spm: The drill's target step rate; None: there is none.
            paused: Nothing is decided and nothing counted.
            silent: No cue, no praise, no correction, and nothing counted.

        Returns:
            A cue `ahead` or `praise`, or None.
        """
        drill = self._drill
        if drill is None or paused or silent or drill.kind == "rest":
            return None
        cue = self._cue(landing, verdict, t_s, share_done)
        self._picker.landing(landing, verdict, t_s, target_spm, cue)
        return cue

    def message(self, t_s: float) -> None:
        """Note that a message sounds from `t_s` on: the least gap begins behind it."""
        self._last_sound_s = max(self._last_sound_s, t_s + MESSAGE_S)

    def sentence(self, t_s: float) -> Sentence | None:
        """Return the one sentence for the screen in this drill; None before the first drill.

        It stays at least `hold_s` before another takes its place.
        """
        return self._picker.sentence(t_s)

    def _cue(
        self, landing: Landing, verdict: Verdict | None, t_s: float, share_done: float
    ) -> Cue | None:
        if verdict is None or self._drill is None:
            return None
        if self._drill.feedback not in ("every step", "fading"):
            return None
        rested = t_s - self._last_sound_s >= self.rule.least_gap_s - 1e-9
        if verdict == "within":
            self._within_run += 1
            due = self._was_ahead and self._within_run >= self.rule.praise_after
            if due and rested and t_s - self._last_praise_s >= self.rule.praise_gap_s:
                self._was_ahead = False
                self._last_sound_s = self._last_praise_s = t_s
                return Cue("praise", t_s, landing.side)
            return None
        self._within_run, self._was_ahead = 0, True
        self._ahead_since_cue += 1
        if self._drill.feedback == "fading":
            self._stage = max(self._stage, fading_interval(share_done))
        if self._ahead_since_cue < self._stage:
            return None
        if not rested:
            self.withheld += 1
            return None
        self._ahead_since_cue = 0
        self._last_sound_s = t_s
        return Cue("ahead", t_s, landing.side)
