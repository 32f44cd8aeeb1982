"""Which landings' verdicts the runner is shown: as sparing as the drill's sounds are."""

from __future__ import annotations

from station.coach.cueing import fading_interval
from station.coach.plan import Drill
from station.live.record import Judged
from station.values import Verdict


class Told:
    """Decides for each landing whether its verdict is shown. Used by the loop's thread.

    In a fading drill the marks thin out with the cues: of the landings ahead those show their
    verdict that are cued, of those within every second, third and so on. A screen that still told
    each of them would leave nothing to fade.
    """

    def __init__(self) -> None:
        """Begin with nothing told."""
        self._since = 0

    def start_drill(self) -> None:
        """Begin a drill: nothing is carried over from the one before."""
        self._since = 0

    def verdict(self, judged: Judged, share_done: float) -> Verdict | None:
        """Return the verdict as the runner is to see it.

        Args:
            judged: The newest landing.
            share_done: How much of its drill is over, 0 to 1.

        Returns:
            Its verdict; None: it has none, or it is not to be told.
        """
        verdict = judged.verdict
        if judged.run is None or verdict is None or not thinned(judged.run.drill, share_done):
            return verdict
        if verdict == "ahead":
            return verdict if judged.t_cue_s is not None else None
        self._since += 1
        if self._since < fading_interval(share_done):
            return None
        self._since = 0
        return verdict


def thinned(drill: Drill, share_done: float) -> bool:
    """Return whether not every landing's verdict is told any more."""
    return drill.feedback == "fading" and fading_interval(share_done) > 1
