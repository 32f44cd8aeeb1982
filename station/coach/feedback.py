"""When a cue sounds, and which one sentence is on the screen."""

from __future__ import annotations

from dataclasses import dataclass, field

from station.coach.cueing import CUED_SCHEDULES, CueSchedule, fading_interval
from station.coach.overload import Overload, OverloadRule
from station.coach.plan import Drill
from station.coach.scene import Sentence
from station.coach.sentences import Picker, SentenceRule
from station.values import Belt, Cue, Landing, Step, Verdict

__all__ = ["FeedbackPolicy", "FeedbackRule", "fading_interval"]

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
    overload: OverloadRule = field(default_factory=OverloadRule)
    sentence: SentenceRule = field(default_factory=SentenceRule)
    seed: int = 0
    """Of the draw that leaves cues out; the same for the same course of a session."""


class FeedbackPolicy:
    """Decides cue and sentence from judged landings. Used by one thread; has no clock."""

    def __init__(self, rule: FeedbackRule | None = None) -> None:
        """Begin before the first drill: no cue, no sentence."""
        self.rule = rule or FeedbackRule()
        self.dropped_by_gap = 0
        """Cues that were due, and dropped because another had sounded within the least gap."""
        self.withheld_at_random = 0
        """Cues that were due, and left out by the draw that a drill asks for."""
        self.withheld_last = False
        """Whether the newest landing's cue was left out by that draw."""
        self._drill: Drill | None = None
        self._last_sound_s = float("-inf")
        self._last_praise_s = float("-inf")
        self._schedule = CueSchedule(self.rule.seed)
        self._overload = Overload(self.rule.overload)
        self._picker = Picker(self.rule.sentence)
        self._within_run = 0
        self._was_ahead = False

    @property
    def overloaded(self) -> bool:
        """Whether cues have stopped, as more than half of the landings were ahead for a while."""
        return self._overload.on

    @property
    def correction(self) -> str | None:
        """The key of the correction that goes first now, shown or not; None: nothing is amiss."""
        return self._picker.corrections.first()

    def start_drill(self, drill: Drill, t_s: float) -> None:
        """Begin a drill: what was counted in the one before is forgotten, the gap is not."""
        self._drill = drill
        self._schedule.start_drill(drill)
        self._overload.start_drill()
        self._picker.start_drill(drill)
        self._within_run = 0
        self._was_ahead = False
        self.withheld_last = False

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
        answered: bool = True,
    ) -> Cue | None:
        """Take one landing and decide whether it is answered with a sound.

        Args:
            landing: In order of time.
            verdict: None: it could not be judged; it is never cued and breaks no run.
            t_s: Now, session clock.
            share_done: How much of the drill is over, 0 to 1; fading goes by it.
            target_spm: The drill's target step rate; None: there is none.
            paused: Nothing is decided and nothing counted.
            silent: No cue, no praise, no correction, and nothing counted: the runner proves what
                is kept, or the coach has turned feedback off.
            answered: False: this leg is not measured well enough to be answered (`far_leg`); its
                landings count for no cue, praise, correction or overload.

        Returns:
            A cue `ahead` or `praise`, or None.
        """
        self.withheld_last = False
        drill = self._drill
        if drill is None or paused or drill.kind == "rest":
            return None
        self._picker.silent = silent
        if silent:
            return None
        told = verdict if answered else None
        if told is not None and drill.feedback in CUED_SCHEDULES:
            self._overload.add(t_s, told)
        self._picker.overloaded = self.overloaded
        cue = None
        if told is not None and not self.overloaded:
            cue = self._cue(landing, told, t_s, share_done)
        self._picker.landing(landing, verdict, t_s, target_spm, cue, answered)
        return cue

    def step(self, step: Step, belt: Belt | None) -> None:
        """Take one final step of the running drill: lean, heel and bounce are told by it.

        Args:
            step: In order of time.
            belt: What the belt is set to; None: it stands.
        """
        self._picker.step(step, belt)

    def warn(self, key: str | None) -> None:
        """Put a sentence of safety before all others, or take it back.

        Args:
            key: Of the words' sentences; None: there is nothing to warn of any more.
        """
        self._picker.safety = key

    def message(self, t_s: float) -> None:
        """Note that a message sounds from `t_s` on: the least gap begins behind it."""
        self._last_sound_s = max(self._last_sound_s, t_s + MESSAGE_S)

    def sentence(self, t_s: float) -> Sentence | None:
        """Return the one sentence for the screen in this drill; None before the first drill.

        It stays at least `hold_s` before another takes its place; only one of safety comes at once,
        and only in silence one goes at once.
        """
        return self._picker.sentence(t_s)

    def _cue(self, landing: Landing, verdict: Verdict, t_s: float, share_done: float) -> Cue | None:
        if self._drill is None or self._drill.feedback not in CUED_SCHEDULES:
            return None
        due = self._schedule.due(landing.side, verdict, share_done)
        rested = t_s - self._last_sound_s >= self.rule.least_gap_s - 1e-9
        if verdict == "within":
            return self._praise(landing, t_s) if self._earns_praise() and rested else None
        self._within_run, self._was_ahead = 0, True
        if not due:
            return None
        if not rested:
            self.dropped_by_gap += 1
            return None
        # A cue that is left out takes the place of one that sounds in all but the sound, so that
        # the two may be compared.
        self._schedule.answered()
        self._last_sound_s = t_s
        if self._schedule.left_out():
            self.withheld_at_random += 1
            self.withheld_last = True
            return None
        return Cue("ahead", t_s, landing.side)

    def _earns_praise(self) -> bool:
        """Count a landing within; say whether it ends a good run, with nothing else amiss."""
        self._within_run += 1
        good = self._was_ahead and self._within_run >= self.rule.praise_after
        corrections = self._picker.corrections
        # The correction of reach is taken back by the run itself.
        return good and not corrections.diving and corrections.first() is None

    def _praise(self, landing: Landing, t_s: float) -> Cue | None:
        if t_s - self._last_praise_s < self.rule.praise_gap_s:
            return None
        self._was_ahead = False
        self._last_sound_s = self._last_praise_s = t_s
        return Cue("praise", t_s, landing.side)
