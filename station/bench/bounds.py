"""How good the measurement has to be: the project's goals. They are never loosened to be met."""

from __future__ import annotations

from dataclasses import dataclass

from station.bench.score import Score

SLOW_FPS = 45.0
"""Below this a camera is taken as one of 30 frames per second."""
VIEW_LEARNED_S = 10.0
"""When scale and slope have to be learned."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a run may be off at most; both ends belong to it."""

    missed: int = 0
    invented: int = 0
    right_side_share: float = 0.99
    """At least."""
    contact_median_ms: float = 8.0
    contact_sd_ms: float = 8.0
    toe_off_median_ms: float = 12.0
    toe_off_sd_ms: float = 12.0
    rate_spm: float = 0.3
    shank_median_deg: float = 1.0
    shank_sd_deg: float = 2.0
    shank_share: float = 0.95
    """At least."""
    agreement: float = 0.97
    """At least."""
    verdict_ms: float = 80.0
    scale_share: float = 0.02
    slope_deg: float = 0.5


USUAL = Bounds()
SLOW_CAMERA = Bounds(contact_median_ms=10.0, contact_sd_ms=12.0, verdict_ms=120.0)


@dataclass(frozen=True, slots=True)
class LearnedView:
    """How far off the learned view is; None: nothing was learned."""

    scale_error: float | None
    """Learned scale by the true one, minus 1."""
    slope_error_deg: float | None


@dataclass(frozen=True, slots=True)
class Miss:
    """One bound that was missed."""

    bound: str
    """A field of `Bounds`."""
    found: float | None
    """None: there was nothing to hold against it."""
    allowed: float

    def __str__(self) -> str:
        """Return it to be read."""
        found = "nothing" if self.found is None else f"{self.found:.4g}"
        return f"{self.bound} {found} ({self.allowed:g})"


def bounds_at(fps: float) -> Bounds:
    """Return the bounds for a camera of `fps` frames per second."""
    return SLOW_CAMERA if fps < SLOW_FPS else USUAL


def missed_bounds(
    score: Score, bounds: Bounds, learned: LearnedView | None = None
) -> tuple[Miss, ...]:
    """Return which bounds a run misses.

    Args:
        score: How it did.
        bounds: What is allowed.
        learned: What the view was learned as at `VIEW_LEARNED_S`; None: it was given, or there was
            no such time.

    Returns:
        One `Miss` each; a figure that is not known misses its bound.
    """
    matched = score.contacts - score.missed
    right_side = (matched - score.wrong_side) / matched if matched else None
    at_most: list[tuple[str, float | None]] = [
        ("missed", score.missed),
        ("invented", score.invented),
        ("contact_median_ms", score.contact_ms.median),
        ("contact_sd_ms", score.contact_ms.sd),
        ("toe_off_median_ms", score.toe_off_ms.median),
        ("toe_off_sd_ms", score.toe_off_ms.sd),
        ("rate_spm", score.rate_spm),
        ("shank_median_deg", score.shank_deg.median),
        ("shank_sd_deg", score.shank_deg.sd),
        ("verdict_ms", score.longest_verdict_ms),
    ]
    if learned is not None:
        at_most += [("scale_share", learned.scale_error), ("slope_deg", learned.slope_error_deg)]
    at_least: list[tuple[str, float | None]] = [
        ("right_side_share", right_side),
        ("shank_share", score.shank_share),
        ("agreement", score.agreement),
    ]
    misses = []
    for bound, found in at_most:
        allowed = float(getattr(bounds, bound))
        if found is None or not abs(found) <= allowed:
            misses.append(Miss(bound, found, allowed))
    for bound, found in at_least:
        allowed = float(getattr(bounds, bound))
        if found is None or not found >= allowed:
            misses.append(Miss(bound, found, allowed))
    return tuple(misses)
