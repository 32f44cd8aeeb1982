"""What an answer about pain allows.

The published bands differ: Silbernagel 2007 (Am J Sports Med 35:897, as two physiotherapy pages
give it) takes up to 3 of 10 as safe and 4 to 5 as acceptable, Thomee 1997 up to 2 and 3 to 5. Only
the limit of 5 is common to both, so nothing here rests on the band below it but who may start: from
4 on a coach. The station advises; a clinician decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

PainKind = Literal["sharp", "bony", "sudden_calf", "changes_gait"]
"""Pain that stops at any score: sharp, on the bone, sudden in the calf, or changing the gait."""
PainWord = Literal["start", "coach", "stop"]
"""Go on alone; only with a coach's start; not today."""
Soreness = Literal["none", "settled", "still_sore"]
"""Calf or Achilles on the morning after the last visit: none, gone by then, or still there."""

STOP_OVER = 5
COACH_FROM = 4


@dataclass(frozen=True, slots=True)
class PainAnswer:
    """What a runner says of pain now."""

    score: int
    """0 (none) to 10."""
    where: str = ""
    """The body part's key in the words; empty: no pain."""
    kinds: frozenset[PainKind] = frozenset()

    def __post_init__(self) -> None:
        if not 0 <= self.score <= 10:
            raise ValueError(f"a pain score is from 0 to 10, not {self.score}")


@dataclass(frozen=True, slots=True)
class PainDecision:
    """What follows from an answer."""

    word: PainWord
    why: str
    """Key of the words: the sentence that tells the runner."""


def decide(answer: PainAnswer) -> PainDecision:
    """Return what an answer allows, before a run and after it alike.

    Args:
        answer: Pain as it is now.

    Returns:
        `stop` over 5 or for a kind of pain that stops at any score; `coach` for 4 and 5; `start`
        below.
    """
    if answer.score > STOP_OVER:
        return PainDecision("stop", "pain_too_high")
    if answer.kinds:
        return PainDecision("stop", "pain_of_a_kind")
    if answer.score >= COACH_FROM:
        return PainDecision("coach", "pain_needs_coach")
    return PainDecision("start", "pain_low" if answer.score else "pain_none")


def dose_may_rise(soreness: Soreness) -> bool:
    """Return whether this visit may ask for more than the last one did.

    Pain must have settled by the next morning, else the load comes down (Silbernagel 2007).
    """
    return soreness != "still_sore"
