"""A runner of bare landings: no picture and no pose, so hours of running take seconds.

Each footfall has its exact truth, and beside it what the measurement would have made of it: the
`Landing` that is judged and the `Step` that follows. The next footfall is decided when it is asked
for, from what was heard by then, so nothing heard later changes it. Beats and cues are answered by
the same listening as the drawn runner's.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from station.simulate.belt import MovingBelt
from station.simulate.landing_ways import RUNS_FROM_MPS, Eyesight, LandingWay
from station.simulate.listening import Listening, ListeningParameters
from station.simulate.parameters import StepWish
from station.simulate.steps import Adapts
from station.values import Heard, Landing, Side, Step, TrueStep, other

FIRST_STEP_S = 0.4
"""From having reason to run, or to hop, to the first contact."""
STANDS_MPS = 0.05
SHANK_M = 0.43
"""Knee to ankle."""
_RATE_MEMORY = 0.2
"""Weight of the newest step in the rate that the reach goes by."""
_NOWHERE = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Footfall:
    """One contact: the truth, and what is seen of it."""

    number: int
    true: TrueStep
    landing: Landing
    step: Step
    """Final once the stance is over."""
    belt_mps: float


class QuickListening(Listening):
    """The drawn runner's listening, with a luck that costs less but goes by the order of steps."""

    def __init__(self, parameters: ListeningParameters | None = None) -> None:
        """Begin with no beat heard and the reach of habit."""
        super().__init__(parameters)
        self._random = random.Random(self.parameters.seed)

    def _luck(self, number: int) -> tuple[float, float]:
        return min(3.0, max(-3.0, self._random.gauss(0.0, 1.0))), self._random.random()


class LandingRunner:
    """Runs or hops from footfall to footfall. Used by one thread."""

    def __init__(
        self,
        way: LandingWay | None = None,
        listening: Adapts | None = None,
        eyesight: Eyesight | None = None,
        belt_mps: float = 0.0,
    ) -> None:
        """Stand ready at time 0.

        Args:
            way: The way of landing.
            listening: How beats and cues are answered; None: not at all.
            eyesight: How well it is seen.
            belt_mps: What the belt runs at from time 0, m/s; 0: it stands.
        """
        self.way = way or LandingWay()
        self.eyesight = eyesight or Eyesight()
        self.belt = MovingBelt(belt_mps)
        self.footfalls = 0
        self.asked_foot: Side | None = None
        """The foot that the screen asks to hop on; it is used once all turns are over."""
        self.hops_made: list[tuple[Side, int]] = []
        """Hops in a row on one foot, in order, since `hop`: the truth of a hop drill."""
        self._listening = listening
        self._random = random.Random(self.way.seed)
        self._last: TrueStep | None = None
        self._last_seen_s: float | None = None
        self._side: Side = "right"
        self._rate_share = 0.0  # how much quicker than its own rate it has run of late
        self._turns: list[list[Side | int]] = []
        self._hopping = False

    # --- told -----------------------------------------------------------------------------------

    def hear(self, event: Heard) -> None:
        """Take one beat or cue."""
        if self._listening is not None:
            self._listening.hear(event)

    def set_belt(self, mps: float | None, t_s: float) -> float:
        """Let somebody set the belt; it takes its time to get there.

        Args:
            mps: The new speed, m/s; None or 0: it is to stand.
            t_s: When the button is pressed.

        Returns:
            When the belt will have that speed, seconds.
        """
        return self.belt.change(t_s, mps or 0.0)

    def hop(self, rounds: Sequence[int] = (), first: Side = "left") -> None:
        """Hop from the next footfall on: rounds of so many hops on one foot, then on the other.

        Args:
            rounds: Hops of each foot in each round, in order; none: it hops on the asked foot.
            first: The foot that each round begins with.
        """
        self._hopping = True
        self._turns, self.hops_made = [], []
        for count in rounds:
            for side in (first, other(first)):
                made = count
                if self._random.random() < self.way.hop_mistakes:
                    made += self._random.choice((-1, 1))
                if made > 0:
                    self._turns.append([side, made])

    def run(self) -> None:
        """Run, where the belt runs, from the next footfall on."""
        self._hopping = False
        self._turns = []

    def felt_of_ten(self, share_within: float) -> int:
        """Return how many of ten landings it says were good, when `share_within` of all were."""
        return round(10.0 * min(1.0, max(0.0, share_within + self.way.felt_more)))

    # --- asked ----------------------------------------------------------------------------------

    def away(self, t_s: float) -> bool:
        """Return whether nobody is on the belt."""
        return self.way.is_away(t_s)

    def next(self, now_s: float) -> Footfall | None:
        """Decide and make the next footfall, from what was heard up to now.

        Args:
            now_s: At or after the verdict of the footfall before, and before its next contact.

        Returns:
            None: nobody runs or hops now, or the next contact would find nobody on the belt.
        """
        way, speed = self.way, self.belt.speed_mps(now_s)
        side = self._next_side(speed)
        if side is None or self.away(now_s):
            self._last = self._last_seen_s = None
            return None
        number = self.footfalls + 1
        own_s = 60.0 / (way.hop_spm if self._hopping else way.own_spm(speed))
        natural = StepWish(
            own_s * (1.0 + way.step_time_share * self._noise()),
            way.own_shank_deg(side, speed, now_s) + way.spread_deg * self._noise(),
            way.foot_deg,
        )
        wish = natural
        if self._listening is not None:
            before_s = now_s if self._last is None else self._last.t_contact_s
            wish = self._listening.next_step(number, side, now_s, before_s, natural)
        step_s = wish.step_time_s
        contact_s = now_s + FIRST_STEP_S
        if self._last is not None:
            contact_s = max(self._last.t_contact_s + step_s, now_s + 0.02)
            self._rate_share += _RATE_MEMORY * (own_s / step_s - 1.0 - self._rate_share)
        if self.away(contact_s):
            self._last = self._last_seen_s = None
            return None
        shank_deg = wish.shank_deg + way.shank_per_rate_percent * 100.0 * self._rate_share
        true = TrueStep(
            contact_s,
            contact_s + way.contact_share * step_s,
            side,
            SHANK_M * shank_deg * 0.0174533,  # small angles
            shank_deg,
        )
        self._count(side)
        seen = self._seen(true, speed)
        self._last, self._side = true, side
        return seen

    def _next_side(self, speed: float) -> Side | None:
        if not self._hopping:
            return other(self._side) if speed >= RUNS_FROM_MPS else None
        if self._turns:
            return "left" if self._turns[0][0] == "left" else "right"
        return self.asked_foot

    def _count(self, side: Side) -> None:
        self.footfalls += 1
        if not self._hopping:
            return
        if self.hops_made and self.hops_made[-1][0] == side:
            self.hops_made[-1] = (side, self.hops_made[-1][1] + 1)
        else:
            self.hops_made.append((side, 1))
        if self._turns:
            left = int(self._turns[0][1]) - 1
            self._turns[0][1] = left
            if left <= 0:
                del self._turns[0]

    # --- seen -----------------------------------------------------------------------------------

    def _seen(self, true: TrueStep, belt_mps: float) -> Footfall:
        eyes, side = self.eyesight, true.side
        sd_deg = eyes.sd_deg(side)
        stated = eyes.stated_share * max(0.3, 1.0 + eyes.stated_spread * self._noise())
        t_s = true.t_contact_s + eyes.contact_sd_s * self._clipped()
        shank_deg: float | None = true.shank_deg + sd_deg * self._noise()
        error_deg: float | None = sd_deg * stated
        confidence = min(1.0, max(0.0, 1.0 - sd_deg * stated / 6.0))  # as the measurement does
        if self._random.random() < eyes.unjudged:
            shank_deg, error_deg, confidence = None, None, 0.0
        step_time_s = None if self._last_seen_s is None else t_s - self._last_seen_s
        self._last_seen_s = t_s
        dives = self._random.random() < self.way.dives
        near = side == eyes.near
        landing = Landing(
            number=self.footfalls,
            side=side,
            near=near,
            t_contact_s=t_s,
            t_verdict_s=max(true.t_contact_s, t_s) + eyes.verdict_s,
            shank_deg=shank_deg,
            shank_error_deg=error_deg,
            ankle_ahead_m=None if shank_deg is None else SHANK_M * shank_deg * 0.0174533,
            foot_deg=self.way.foot_deg,
            strike=self.way.strike,
            step_time_s=step_time_s,
            confidence=confidence,
            knee_px=_NOWHERE,
            ankle_px=_NOWHERE,
            heel_px=_NOWHERE,
            toe_px=_NOWHERE,
        )
        toe_off_s = true.t_toe_off_s + eyes.toe_off_sd_s * self._clipped()
        step = Step(
            number=landing.number,
            side=side,
            near=near,
            t_contact_s=t_s,
            t_verdict_s=landing.t_verdict_s,
            t_toe_off_s=toe_off_s,
            step_time_s=step_time_s,
            contact_s=toe_off_s - t_s,
            step_length_m=None if step_time_s is None else belt_mps * step_time_s,
            ankle_ahead_m=landing.ankle_ahead_m,
            shank_deg=shank_deg,
            shank_at_verdict_deg=shank_deg,
            foot_deg=self.way.foot_deg,
            strike=self.way.strike,
            heel_down_s=None if dives else self.way.heel_down_s,
            confidence=confidence,
            toe_dive=dives,
        )
        return Footfall(landing.number, true, landing, step, belt_mps)

    def _noise(self) -> float:
        return self._random.gauss(0.0, 1.0)

    def _clipped(self) -> float:
        """Noise of times: an outlier must not turn two events around."""
        return min(3.0, max(-3.0, self._noise()))
