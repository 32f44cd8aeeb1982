"""What a runner is told at the end of a visit: a few plain lines, no more than was measured.

The bay's last screen shows them, and the runner's page of the report says the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from station.coach.practice import BeltPractice, LegPractice, PracticeRun, practice_by_belt
from station.coach.share_change import LEAST_JUDGED, Share, ShareVerdict, compare_shares

MOST_LINES = 4


@dataclass(frozen=True, slots=True)
class ClosingCount:
    """One leg's landings in tens, before, with and after feedback; None: not enough were judged."""

    practice: BeltPractice
    leg: LegPractice
    before: Share | None
    coached: Share | None
    after: Share | None


@dataclass(frozen=True, slots=True)
class Closing:
    """What is said."""

    lines: tuple[str, ...]
    """Keys of the words, one line each, the most important first."""
    values: tuple[tuple[str, str], ...]
    """For the {fields} of the lines; one set for all."""
    count: ClosingCount | None
    """What the lines speak of; None: too little was judged to speak of it."""


def closing(runs: Sequence[PracticeRun], steps: int) -> Closing:
    """Sum a visit up for the runner.

    Only the leg nearer the camera is spoken of, at the belt setting of which most can be told; a
    share is told from `LEAST_JUDGED` judged landings on, and only where it can be told apart is it
    called more or fewer.

    Args:
        runs: The drills as they were run.
        steps: How many steps were measured in all.

    Returns:
        Lines whose keys are in the words' section `visit`.
    """
    lines, values = ["closing_steps"], [("steps", str(steps))]
    if steps == 0:
        return Closing(("closing_nothing",), (), None)
    count = _count(runs)
    if count is None:
        return Closing((*lines, "closing_too_few"), tuple(values), None)
    told = count.after or count.coached or count.before
    which = "after" if count.after else "with" if count.coached else "alone"
    lines.append(f"closing_{which}")
    values.append(("tens", _tens(told)))
    change = compare_shares(count.before, count.after or count.coached)
    if change is not None and change.verdict != "too few":
        lines.append(f"closing_{_WAY[change.verdict]}")
        values.append(("tens_before", _tens(count.before)))
    if count.after is None and count.coached is not None:
        lines.append("closing_not_alone")
    return Closing(tuple(lines[:MOST_LINES]), tuple(values), count)


_WAY: dict[ShareVerdict, str] = {
    "rose": "more", "fell": "fewer", "same": "same", "unsure": "unsure"
}  # fmt: skip


def _count(runs: Sequence[PracticeRun]) -> ClosingCount | None:
    for practice in sorted(practice_by_belt(runs), key=_tells_most, reverse=True):
        for leg in practice.legs:
            if not leg.near:
                continue
            before, coached, after = (
                _enough(None if phase is None else phase.within)
                for phase in (leg.before, leg.coached, leg.after)
            )
            if before or coached or after:
                return ClosingCount(practice, leg, before, coached, after)
    return None


def _tells_most(practice: BeltPractice) -> tuple[bool, bool, bool]:
    """Rank a belt setting by what can be told of it: a comparison before all."""
    return (
        any(leg.before and (leg.coached or leg.after) for leg in practice.legs),
        any(leg.after is not None for leg in practice.legs),
        any(leg.coached is not None for leg in practice.legs),
    )


def _enough(share: Share | None) -> Share | None:
    return share if share is not None and share.of >= LEAST_JUDGED else None


def tens_of(share: Share) -> int:
    """Return how many of ten, to the nearest; not all or none unless it was all or none."""
    tens = round(10.0 * share.share)
    if tens == 10 and share.count < share.of:
        return 9
    return 1 if tens == 0 and share.count > 0 else tens


def _tens(share: Share | None) -> str:
    return "" if share is None else str(tens_of(share))
