"""The rate test: the smallest rise of the step rate at which a runner lands within the limit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from station.coach.baseline import same_belt
from station.values import Belt, Side

SHARE = 0.9
"""Of each leg's judged landings that have to be within."""
LEAST_JUDGED = 20
"""Judged landings of each leg in a block; fewer prove nothing."""
RATE_OFF = 0.03
"""Share of the target beyond which a block's rate was not held, as for the mastery gate."""
SAME_RISE = 0.005
"""Blocks whose rises differ by less are one rise."""


@dataclass(frozen=True, slots=True)
class RateBlock:
    """One short block at one step rate."""

    number: int
    """The drill's, from 1."""
    name: str
    belt: Belt | None
    target_spm: float | None
    """None: no target was known."""
    rate_spm: float | None
    """Median of the steps; None: there was none."""
    left: tuple[int, int]
    """Landings within, of those judged."""
    right: tuple[int, int]

    def leg(self, side: Side) -> tuple[int, int]:
        """Return one leg's landings: within, judged."""
        return self.left if side == "left" else self.right


@dataclass(frozen=True, slots=True)
class BlockResult:
    """What one block came to."""

    number: int
    name: str
    target_spm: float | None
    rate_spm: float | None
    rise_percent: float | None
    """The target over the runner's own rate; None: one of them is not known."""
    share_left: float | None
    share_right: float | None
    met: bool
    left_out: str | None
    """Why it does not count; None: it does."""


@dataclass(frozen=True, slots=True)
class RateTest:
    """What a rate test came to."""

    belt_speed_mps: float | None
    incline_percent: float | None
    own_spm: float | None
    smallest_rise_percent: float | None
    """None: no block that counts was within often enough."""
    step_rate_spm: float | None
    """The target of that rise."""
    blocks: tuple[BlockResult, ...]
    note: str | None
    """Why there is no rise; None: there is one."""

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values, for JSON."""
        return asdict(self)


def rate_test(blocks: Iterable[RateBlock], own_spm: float | None) -> RateTest | None:
    """Find the smallest rise over the runner's own step rate that lands within the limit.

    Args:
        blocks: In the order that they were run. The belt setting of the first one is the test's.
        own_spm: The runner's own step rate at that belt setting; None: not known.

    Returns:
        The test: blocks at another belt setting, whose rate was not held or in which a leg was
        judged too seldom are left out, each saying why. The landings of blocks with the same rise
        are counted together. None without a block.
    """
    given = list(blocks)
    if not given:
        return None
    belt = given[0].belt
    left_out = [_left_out(block, belt, own_spm) for block in given]
    counted = [block for block, why in zip(given, left_out, strict=True) if why is None]
    rises = _by_rise(counted, own_spm)
    good = [rise for rise, members in rises if _within(members)]
    met = {id(block) for rise, members in rises if rise in good for block in members}
    results = tuple(
        BlockResult(
            block.number, block.name, block.target_spm, block.rate_spm, _rise(block, own_spm),
            _share(block.left), _share(block.right), id(block) in met, why,
        )
        for block, why in zip(given, left_out, strict=True)
    )  # fmt: skip
    smallest = min(good, default=None)
    note = None
    if smallest is None:
        note = "no block counts" if not rises else f"no rise was within {SHARE:.0%} on both legs"
    at_spm = None if smallest is None or own_spm is None else own_spm * (1.0 + smallest / 100.0)
    return RateTest(
        None if belt is None else belt.speed_mps, None if belt is None else belt.incline_percent,
        own_spm, smallest, at_spm, results, note,
    )  # fmt: skip


def _rise(block: RateBlock, own_spm: float | None) -> float | None:
    if own_spm is None or block.target_spm is None:
        return None
    return 100.0 * (block.target_spm / own_spm - 1.0)


def _share(leg: tuple[int, int]) -> float | None:
    within, judged = leg
    return within / judged if judged else None


def _left_out(block: RateBlock, belt: Belt | None, own_spm: float | None) -> str | None:
    """Return why a block does not count; None: it does."""
    rise = _rise(block, own_spm)
    if own_spm is None:
        return "the runner's own step rate at this belt speed is not known"
    if block.target_spm is None or rise is None:
        return "no target step rate was known"
    if belt is None or block.belt is None or not same_belt(belt, block.belt):
        return "at another belt setting than the first block"
    if rise < -100.0 * SAME_RISE:
        return "below the runner's own step rate"
    if block.rate_spm is None:
        return "no step rate was measured"
    if abs(block.rate_spm / block.target_spm - 1.0) > RATE_OFF + 1e-9:
        return f"step rate not held: {block.rate_spm:.1f} for {block.target_spm:.1f} steps a minute"
    for side, (_, judged) in (("left", block.left), ("right", block.right)):
        if judged < LEAST_JUDGED:
            return f"{side}: only {judged} landings judged, under {LEAST_JUDGED}"
    return None


def _by_rise(
    blocks: Sequence[RateBlock], own_spm: float | None
) -> list[tuple[float, list[RateBlock]]]:
    """Return the blocks that count by their rise in percent, the smallest first."""
    found: list[tuple[float, list[RateBlock]]] = []
    for block in sorted(blocks, key=lambda one: _rise(one, own_spm) or 0.0):
        rise = _rise(block, own_spm) or 0.0
        if found and rise - found[-1][0] < 100.0 * SAME_RISE:
            found[-1][1].append(block)
        else:
            found.append((rise, [block]))
    return found


def _within(blocks: Sequence[RateBlock]) -> bool:
    """Return whether both legs were within often enough, over all these blocks together."""
    sides: tuple[Side, Side] = ("left", "right")
    for side in sides:
        within = sum(block.leg(side)[0] for block in blocks)
        judged = sum(block.leg(side)[1] for block in blocks)
        if within < SHARE * judged - 1e-9:
            return False
    return True
