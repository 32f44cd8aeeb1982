"""What one run of the bench came to, and how it is written down."""

from __future__ import annotations

from dataclasses import dataclass

from station.bench.bounds import LearnedView, Miss, bounds_at, missed_bounds
from station.bench.score import Score, Spread


@dataclass(frozen=True, slots=True)
class Result:
    """One run: a simulated runner, a recorded trial or a clip."""

    name: str
    fps: float
    score: Score
    cost_ms: float
    """Median thread time of the measurement per frame."""
    learned: LearnedView | None = None
    """Where the view was left to be learned, and the run was long enough to judge it."""

    @property
    def misses(self) -> tuple[Miss, ...]:
        """The bounds that it misses."""
        return missed_bounds(self.score, bounds_at(self.fps), self.learned)

    def as_row(self) -> dict[str, object]:
        """Return it for JSON: numbers, None where not known; errors are measured minus true."""
        score = self.score
        row: dict[str, object] = {
            "name": self.name,
            "fps": self.fps,
            "contacts": score.contacts,
            "missed": score.missed,
            "invented": score.invented,
            "wrong_side": score.wrong_side,
            "contact_ms": _spread(score.contact_ms),
            "toe_off_ms": _spread(score.toe_off_ms),
            "shank_deg": _spread(score.shank_deg),
            "shank_share": round(score.shank_share, 4),
            "rate_spm": _rounded(score.rate_spm, 3),
            "longest_verdict_ms": _rounded(score.longest_verdict_ms, 1),
            "agreement": _rounded(score.agreement, 4),
            "travel_mm": None
            if score.travel_mm is None
            else dict(zip(("seen", "spring"), (round(v, 1) for v in score.travel_mm), strict=True)),
            "cost_ms": round(self.cost_ms, 3),
        }
        if self.learned is not None:
            row["scale_error"] = _rounded(self.learned.scale_error, 4)
            row["slope_error_deg"] = _rounded(self.learned.slope_error_deg, 3)
        row["misses"] = [
            {"bound": m.bound, "found": _rounded(m.found, 4), "allowed": m.allowed}
            for m in self.misses
        ]
        return row


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(float(value), digits)


def _spread(spread: Spread) -> dict[str, float | int | None]:
    return {
        "median": _rounded(spread.median, 3),
        "sd": _rounded(spread.sd, 3),
        "count": spread.count,
    }
