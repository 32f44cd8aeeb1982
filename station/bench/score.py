"""Measured steps against the truth: what was missed or invented, and how far off the rest is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from station.measure.spring_mass import travel_m
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
class Pair:
    """A true contact and the step that measured it."""

    step: Step
    true: TrueStep
    index: int
    """Of the true contact among those that count."""


@dataclass(frozen=True, slots=True)
class Matched:
    """Which step measured which true contact."""

    pairs: tuple[Pair, ...]
    """In order of time."""
    true: tuple[TrueStep, ...]
    """Those that count."""
    invented: tuple[Step, ...]
    """Measured where nothing was."""

    @property
    def missed(self) -> tuple[TrueStep, ...]:
        """True contacts that no step measured."""
        found = {pair.index for pair in self.pairs}
        return tuple(t for i, t in enumerate(self.true) if i not in found)


@dataclass(frozen=True, slots=True)
class Score:
    """How one run of the measurement did. Errors are measured minus true."""

    contacts: int
    missed: int
    invented: int
    wrong_side: int
    contact_ms: Spread
    toe_off_ms: Spread
    shank_deg: Spread
    shank_share: float
    """Share of the true contacts with a shank angle."""
    rate_spm: float | None
    """Mean step rate of the longest unbroken run; None where no two contacts followed."""
    longest_verdict_ms: float | None
    """From the true contact to the verdict, of those that were given one."""
    agreement: float | None
    """Share of right verdicts, over limits of 2 to 12 deg, of landings over 3 deg off the limit."""
    travel_mm: tuple[float, float] | None
    """Median up-down travel as seen, and as contact and flight time alone say it should be: a
    check on how like a runner all of it is, not an error."""


def match(steps: Sequence[Step], truth: Sequence[TrueStep], from_s: float, to_s: float) -> Matched:
    """Find the step of each true contact: the nearest in time, whatever its side.

    Args:
        steps: As measured.
        truth: All true contacts, in order of time, also those that don't count.
        from_s: True contacts from here count.
        to_s: True contacts whose toe-off lies at or before this count.

    Returns:
        What belongs together. A step up to `to_s` is invented when it is no counted contact's and
        near none of those that don't count, also while contacts don't count yet.

    Raises:
        ValueError: No true contact counts.
    """
    counts = [t.t_contact_s >= from_s and t.t_toe_off_s <= to_s for t in truth]
    true = [t for t, good in zip(truth, counts, strict=True) if good]
    if not true:
        raise ValueError(f"no true contact between {from_s} and {to_s} s")
    free = list(steps)
    pairs: list[Pair] = []
    for index, t in enumerate(true):
        nearest = min(free, key=lambda s: abs(s.t_contact_s - t.t_contact_s), default=None)
        if nearest is not None and abs(nearest.t_contact_s - t.t_contact_s) < SAME_S:
            pairs.append(Pair(nearest, t, index))
            free.remove(nearest)
    other_s = [t.t_contact_s for t, good in zip(truth, counts, strict=True) if not good]
    invented = tuple(
        s
        for s in free
        if s.t_contact_s <= to_s and all(abs(s.t_contact_s - t_s) >= SAME_S for t_s in other_s)
    )
    return Matched(tuple(pairs), tuple(true), invented)


def score(steps: Sequence[Step], truth: Sequence[TrueStep], from_s: float, to_s: float) -> Score:
    """Compare steps with the truth; arguments and errors as in `match`."""
    found = match(steps, truth, from_s, to_s)
    both = [(pair.step, pair.true) for pair in found.pairs]
    shank = [s.shank_deg - t.shank_deg for s, t in both if s.shank_deg is not None]
    verdicts_ms = [
        1000.0 * (s.t_verdict_s - t.t_contact_s)
        for s, t in both
        if s.shank_at_verdict_deg is not None
    ]
    toe_off_ms = [
        1000.0 * (s.t_toe_off_s - t.t_toe_off_s) for s, t in both if s.t_toe_off_s is not None
    ]
    return Score(
        contacts=len(found.true),
        missed=len(found.missed),
        invented=len(found.invented),
        wrong_side=sum(s.side != t.side for s, t in both),
        contact_ms=Spread.of([1000.0 * (s.t_contact_s - t.t_contact_s) for s, t in both]),
        toe_off_ms=Spread.of(toe_off_ms),
        shank_deg=Spread.of(shank),
        shank_share=len(shank) / len(found.true),
        rate_spm=rate_error_spm(found.pairs),
        longest_verdict_ms=max(verdicts_ms, default=None),
        agreement=agreement(both),
        travel_mm=_travel_mm([s for s, _ in both]),
    )


def rate_error_spm(pairs: Sequence[Pair]) -> float | None:
    """Return the mean step rate of the longest unbroken run minus the true one's, steps/minute.

    Like is compared with like: the mean of the step times that the steps tell, against the mean of
    the true ones from and to the same contacts.

    Args:
        pairs: In order of time. A run is unbroken where true contacts follow each other and their
            steps do so, too, each with a step time.

    Returns:
        None where no two contacts follow each other.
    """
    runs: list[list[Pair]] = []
    for pair in pairs:
        follows = (
            bool(runs)
            and pair.index == runs[-1][-1].index + 1
            and pair.step.number == runs[-1][-1].step.number + 1
            and pair.step.step_time_s is not None
        )
        if follows:
            runs[-1].append(pair)
        else:
            runs.append([pair])
    longest = max(runs, key=len, default=[])
    if len(longest) < 2:
        return None
    told_s = float(np.mean([p.step.step_time_s for p in longest[1:] if p.step.step_time_s]))
    true_s = (longest[-1].true.t_contact_s - longest[0].true.t_contact_s) / (len(longest) - 1)
    return 60.0 / told_s - 60.0 / true_s


def agreement(pairs: Sequence[tuple[Step, TrueStep]]) -> float | None:
    """Return the share of right verdicts over all limits, of landings clearly off each.

    Args:
        pairs: Measured and true steps.

    Returns:
        None where no verdict was given, or no landing is clearly off any limit.
    """
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


def _travel_mm(steps: Sequence[Step]) -> tuple[float, float] | None:
    told = [
        (1000.0 * s.vertical_oscillation_m, 1000.0 * travel_m(s.contact_s, s.flight_s))
        for s in steps
        if s.vertical_oscillation_m and s.contact_s and s.flight_s and s.flight_s > 0.0
    ]
    if not told:
        return None
    seen, spring = np.median(told, axis=0)
    return float(seen), float(spring)
