"""Which foot of the simulated runner comes down next, and in what kind of gait.

A runner runs foot by foot. Hops are asked for by rounds and are counted by the runner alone, as
people do who were told before; they begin once the belt is slow enough. Where the belt is too slow
for running, and no hops are asked for, the runner jogs: short, light steps.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from station.simulate.parameters import BELT_MPS_RANGE, GaitParameters, Kind, StepWish
from station.values import Side, other

HOP_SHANK_DEG, HOP_FOOT_DEG = 3.0, -3.0
"""A hop comes down close under the body and on the ball of the foot (this project's own choice)."""
JOG_SHANK_DEG = 6.0
"""On a slow belt a foot reaches no further ahead (this project's own choice)."""
SPREAD_DEG = 2.0
"""So much at most one such contact differs from the next (this project's own choice)."""


def belt_range_mps(parameters: GaitParameters) -> tuple[float, float]:
    """Return what a belt may be set to: who runs can jog, and who hops only hop."""
    slowest, fastest = BELT_MPS_RANGE["hop"]
    return slowest, BELT_MPS_RANGE["run"][1] if parameters.kind == "run" else fastest


@dataclass(frozen=True, slots=True)
class Way:
    """How one contact comes down."""

    side: Side
    kind: Kind
    shank_deg: float | None = None
    """About so far ahead; None: as the runner wishes."""
    foot_deg: float | None = None
    """None: as the runner wishes."""

    def of(self, wish: StepWish, parameters: GaitParameters) -> StepWish:
        """Return a wish as it is carried out."""
        shank_deg, foot_deg = wish.shank_deg, wish.foot_deg
        if self.shank_deg is not None:
            shank_deg = self.shank_deg + _little(wish.shank_deg - parameters.shank_deg)
        if self.foot_deg is not None:
            foot_deg = self.foot_deg + _little(wish.foot_deg - parameters.foot_deg)
        return StepWish(wish.step_time_s, shank_deg, foot_deg)


def _little(by_deg: float) -> float:
    return min(max(by_deg, -SPREAD_DEG), SPREAD_DEG)


class Feet:
    """Goes from contact to contact. Not locked itself."""

    def __init__(self) -> None:
        """Begin with no hops asked for."""
        self._hops: deque[Side] = deque()

    def hop(self, rounds: Sequence[int], first_foot: Side) -> None:
        """Hop by rounds from the next contact that is not yet decided.

        Args:
            rounds: How many hops on each foot, round by round; empty: no more hops.
            first_foot: The foot that each round begins with.
        """
        feet = (first_foot, other(first_foot))
        self._hops = deque(foot for count in rounds for foot in feet for _ in range(count))

    def next_way(
        self, parameters: GaitParameters, number: int, before: Side, belt_mps: float
    ) -> Way:
        """Decide on contact `number`, which comes down after `before` on a belt of this speed."""
        if parameters.kind == "hop":  # by its own pattern
            return Way(parameters.side_of(number), "hop")
        if self._hops and belt_mps <= BELT_MPS_RANGE["hop"][1]:
            return Way(self._hops.popleft(), "hop", HOP_SHANK_DEG, HOP_FOOT_DEG)
        if belt_mps < BELT_MPS_RANGE["run"][0]:
            return Way(other(before), "hop", min(JOG_SHANK_DEG, parameters.shank_deg))
        return Way(other(before), "run")
