"""Measured steps against the truth: what was missed or invented, and how far off the rest is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.values import Floats, Step, TrueStep

SAME_S = 0.08
"""A measured contact this near to a true one is taken for it."""
LIMITS_DEG = tuple(range(2, 13))
CLEAR_DEG = 3.0
"""Landings this far from the limit must be judged right."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Of some errors: their median, standard deviation and number."""

    median: float | None
    sd: float | None
    count: int

    @classmethod
    def of(cls, errors: Sequence[float]) -> Spread:
        """Work them out; None where there is nothing."""
        values = np.asarray(errors, dtype=float)
        if not len(values):
            return cls(None, None, 0)
        return cls(float(np.median(values)), float(values.std()), len(values))


@dataclass(frozen=True, slots=True)
class Score:
    """How one run of the measurement did."""

    contacts: int
    missed: int
    invented: int
    wrong_side: int
    contact_ms: Spread
    toe_off_ms: Spread
    shank_deg: Spread
    shank_share: float
    """Share of the contacts with a shank angle."""
    rate_spm: float | None
    """Median step rate minus the true one."""
    longest_verdict_ms: float | None
    """From the true contact to the verdict, of those that were given one."""
    agreement: float | None
    """Share of right verdicts, over limits of 2 to 12 deg, of landings over 3 deg off the limit."""


def score(steps: Sequence[Step], truth: Sequence[TrueStep], from_s: float, to_s: float) -> Score:
    """Compare.

    Args:
        steps: As measured.
        truth: In order of time.
        from_s: True contacts from here count; measured ones near an earlier one don't.
        to_s: True contacts whose toe-off lies before this count.
    """
    true = [t for t in truth if t.t_contact_s >= from_s and t.t_toe_off_s <= to_s]
    if not true:
        raise ValueError(f"no true contact between {from_s} and {to_s} s")
    begin, end = true[0].t_contact_s - SAME_S, true[-1].t_contact_s + SAME_S
    free = [s for s in steps if begin <= s.t_contact_s <= end]
    pairs: list[tuple[Step, TrueStep]] = []
    for t in true:
        nearest = min(free, key=lambda s: abs(s.t_contact_s - t.t_contact_s), default=None)
        if nearest is not None and abs(nearest.t_contact_s - t.t_contact_s) < SAME_S:
            pairs.append((nearest, t))
            free.remove(nearest)
    shank = [s.shank_deg - t.shank_deg for s, t in pairs if s.shank_deg is not None]
    verdicts_ms = [
        1000.0 * (s.t_verdict_s - t.t_contact_s)
        for s, t in pairs
        if s.shank_at_verdict_deg is not None
    ]
    rates = [s.step_rate_spm for s, _ in pairs if s.step_rate_spm is not None]
    gaps = np.diff([t.t_contact_s for t in true])
    return Score(
        contacts=len(true),
        missed=len(true) - len(pairs),
        invented=len(free),
        wrong_side=sum(s.side != t.side for s, t in pairs),
        contact_ms=Spread.of([1000.0 * (s.t_contact_s - t.t_contact_s) for s, t in pairs]),
        toe_off_ms=Spread.of(
            [
                1000.0 * (s.t_toe_off_s - t.t_toe_off_s)
                for s, t in pairs
                if s.t_toe_off_s is not None
            ]
        ),
        shank_deg=Spread.of(shank),
        shank_share=len(shank) / len(true),
        rate_spm=float(np.median(rates) - 60.0 / np.median(gaps)) if rates and len(gaps) else None,
        longest_verdict_ms=max(verdicts_ms, default=None),
        agreement=_agreement(pairs),
    )


def _agreement(pairs: Sequence[tuple[Step, TrueStep]]) -> float | None:
    told = [
        (s.shank_at_verdict_deg, t.shank_deg)
        for s, t in pairs
        if s.shank_at_verdict_deg is not None
    ]
    if not told:
        return None
    found, true = np.asarray(told).T
    right: list[Floats] = []
    for limit in LIMITS_DEG:
        clear = np.abs(true - limit) > CLEAR_DEG
        right.append((found[clear] > limit) == (true[clear] > limit))
    all_right = np.concatenate(right)
    return float(all_right.mean()) if len(all_right) else None
