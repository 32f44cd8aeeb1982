"""How well a runner feels the own landings: what was said against what was counted."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

LEAST_JUDGED = 20
"""Judged landings from which on a share is worth comparing: with 20 its standard error is up to
0.11, about what one landing of ten means in the answer."""


@dataclass(frozen=True, slots=True)
class FeelGap:
    """One block's answer beside the truth."""

    good_of_ten: int | None
    """0 to 10, said before the count was shown; None: no answer."""
    share_within: float | None
    """True share of the judged landings, 0 to 1; None: none was judged."""
    judged: int
    gap: float | None
    """Felt share minus true share, -1 to 1; positive: the runner thinks too well of it. None: one
    of the two is not known."""
    note: str | None
    """Why the gap is missing, or not to be relied on; None: neither."""

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values, for JSON."""
        return asdict(self)


def feel_gap(good_of_ten: int | None, within: int, judged: int) -> FeelGap:
    """Hold an answer against the count of its block.

    Args:
        good_of_ten: How many of ten landings the runner said were good, 0 to 10; None: no answer.
        within: Judged landings of the block that were within the limit, of both legs.
        judged: Of all that were judged.

    Returns:
        The gap, with a note where there is none or where too few landings were judged.
    """
    share = within / judged if judged > 0 else None
    gap = None if good_of_ten is None or share is None else good_of_ten / 10.0 - share
    note = None
    if good_of_ten is None:
        note = "no answer"
    elif share is None:
        note = "no landing was judged"
    elif judged < LEAST_JUDGED:
        note = f"only {judged} landings judged, under {LEAST_JUDGED}"
    return FeelGap(good_of_ten, share, judged, gap, note)
