"""How the simulated runner answers beats and cues; seeded, so that a run can be repeated.

Steps follow the beat by correcting phase and period a little at every step, as people do; they
settle slightly before it (Buhmann 2018, PLoS ONE 13:e0208702: footfalls precede the beat). After a
cue the foot reaches less far ahead; uncued, the old habit comes back slowly. The sizes are this
project's own choice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from station.simulate.parameters import StepWish
from station.values import Heard, Side


@dataclass(frozen=True, slots=True)
class ListeningParameters:
    """All that shapes the answers."""

    phase_gain: float = 0.30
    """Share of the last step's offset from the beat that the next step makes good."""
    period_gain: float = 0.15
    """Share by which the own period nears the beat's at each step."""
    early_s: float = 0.020
    """How far before the beat the steps settle."""
    jitter_s: float = 0.007
    """Spread of one step's time while following; offsets spread about 10 ms from it."""
    beats_needed: int = 4
    """Beats heard before the runner follows."""
    forgets_beat_s: float = 1.5
    """Silence after which it goes its own way again."""
    reach_limit: float = 0.20
    """Never quicker or slower than its own rate by more than this share."""
    cue_deg: float = 0.9
    """How much one `ahead` cue takes off the shank angle of that leg."""
    cue_spread_deg: float = 0.3
    other_leg: float = 0.0
    """Share of it that the other leg takes over: who is told of one foot changes the stride of both
    (common practice, no source)."""
    heeds: float = 0.9
    """Probability of answering a cue at all."""
    most_deg: float = 9.0
    """Never less reach than the habit by more than this."""
    habit_s: float = 60.0
    """Time constant with which the habit comes back."""
    lapse_share: float = 0.006
    """Probability at each step that a lapse begins."""
    lapse_steps: int = 4
    lapse_deg: float = 3.5
    seed: int = 1

    def __post_init__(self) -> None:
        """Refuse gains with which the steps would not settle."""
        if not (0.0 <= self.phase_gain < 1.0 and 0.0 <= self.period_gain < 1.0):
            raise ValueError("phase_gain and period_gain must be from 0 to below 1")


class Listening:
    """Takes what is heard and decides the coming steps (`gait.Adapts`). Not locked itself."""

    def __init__(self, parameters: ListeningParameters | None = None) -> None:
        """Begin with no beat heard and the reach of habit."""
        self.parameters = parameters or ListeningParameters()
        self._waiting: list[Heard] = []
        self._beat: Heard | None = None
        self._beats = 0
        self._cues = 0
        self._period_s: float | None = None
        self._less_deg: dict[Side, float] = {"left": 0.0, "right": 0.0}
        self._decided_s: float | None = None
        self._lapse_left = 0

    def hear(self, event: Heard) -> None:
        """Keep an event; it matters from its own time on."""
        self._waiting.append(event)

    def next_step(
        self, number: int, side: Side, t_decide_s: float, t_before_s: float, natural: StepWish
    ) -> StepWish:
        """Decide contact `number`; see `gait.Adapts`. Uses only what sounded by `t_decide_s`."""
        elapsed_s = 0.0 if self._decided_s is None else t_decide_s - self._decided_s
        self._decided_s = t_decide_s
        back = math.exp(-elapsed_s / self.parameters.habit_s)
        self._less_deg = {leg: less * back for leg, less in self._less_deg.items()}
        due = sorted((e for e in self._waiting if e.t_s <= t_decide_s), key=lambda e: e.t_s)
        self._waiting = [e for e in self._waiting if e.t_s > t_decide_s]
        for event in due:
            if event.kind == "beat":
                self._take_beat(event)
            elif event.kind == "ahead":
                self._take_cue(event)
        jitter, chance = self._luck(number)
        return replace(
            natural,
            step_time_s=self._step_time_s(t_decide_s, t_before_s, natural.step_time_s, jitter),
            shank_deg=self._shank_deg(side, natural.shank_deg, chance),
        )

    def _luck(self, number: int) -> tuple[float, float]:
        """Return a step's jitter (a standard deviation is 1) and its chance of a lapse, 0 to 1."""
        rng = np.random.default_rng([self.parameters.seed, 3, number])
        return float(np.clip(rng.standard_normal(), -3.0, 3.0)), float(rng.random())

    def _take_beat(self, event: Heard) -> None:
        p, last = self.parameters, self._beat
        if last is not None and event.t_s - last.t_s > p.forgets_beat_s:
            self._beats = 0
            last = None
        period_s = event.period_s
        if period_s is None and last is not None:
            period_s = event.t_s - last.t_s
        self._beat = replace(event, period_s=period_s)
        self._beats += 1

    def _take_cue(self, event: Heard) -> None:
        p = self.parameters
        rng = np.random.default_rng([p.seed, 4, self._cues])
        self._cues += 1
        if rng.random() >= p.heeds:
            return
        step = max(p.cue_deg + p.cue_spread_deg * float(rng.standard_normal()), 0.0)
        for leg in self._less_deg:
            share = 1.0 if event.side in (leg, None) else p.other_leg
            self._less_deg[leg] = min(self._less_deg[leg] + share * step, p.most_deg)

    def _step_time_s(
        self, t_decide_s: float, t_before_s: float, natural_s: float, jitter: float
    ) -> float:
        p, beat = self.parameters, self._beat
        own_s = natural_s if self._period_s is None else self._period_s
        following = (
            beat is not None
            and beat.period_s is not None
            and self._beats >= p.beats_needed
            and t_decide_s - beat.t_s <= p.forgets_beat_s
        )
        if not following or beat is None or beat.period_s is None:
            if self._period_s is not None:  # the beat's period fades into its own
                self._period_s += p.period_gain * (natural_s - self._period_s)
                if abs(self._period_s - natural_s) < 0.003:
                    self._period_s = None
                return own_s
            return natural_s
        self._period_s = own_s + p.period_gain * (beat.period_s - own_s)
        late_s = t_before_s + p.early_s - beat.t_s
        late_s -= beat.period_s * round(late_s / beat.period_s)
        wish_s = self._period_s - p.phase_gain * late_s + p.jitter_s * jitter
        low, high = natural_s * (1.0 - p.reach_limit), natural_s * (1.0 + p.reach_limit)
        return min(max(wish_s, low), high)

    def _shank_deg(self, side: Side, natural_deg: float, chance: float) -> float:
        p = self.parameters
        if self._lapse_left:
            self._lapse_left -= 1
        elif chance < p.lapse_share:
            self._lapse_left = p.lapse_steps
        slip = p.lapse_deg if self._lapse_left else 0.0
        return min(max(natural_deg - self._less_deg[side] + slip, -8.0), 18.0)
