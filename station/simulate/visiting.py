"""The simulated runner of an unattended visit: comes, stands for the view check, runs, and goes.

Whoever sits at the screen answers its pages; the runner does what they ask of a body.
"""

from __future__ import annotations

from station.simulate.staged_source import StagedSource
from station.simulate.staging import Act
from station.values import Frame

STEPS_ON_S = 12.0
"""So long after the session has begun the belt runs and the runner is on it: in its countdown."""
_ACTS: dict[str, Act] = {
    "view_check": "stand", "session": "stand", "pain_after": "stand", "summary": "stand",
}  # fmt: skip


class VisitingSource(StagedSource):
    """A simulated source whose runner follows the states of a visit. `follow` from any thread."""

    _runs_from_s: float | None = None

    def follow(self, state: str, t_s: float) -> None:
        """Do what a state asks of a body.

        Args:
            state: The visit's, as its changes name it; in those not known nobody is there.
            t_s: When it began, session clock.
        """
        self._staged.act(_ACTS.get(state, "away"))
        self._runs_from_s = t_s + STEPS_ON_S if state == "session" else None

    def receive(self, timeout_s: float) -> Frame | None:
        """Return the next frame; the runner begins to run when it is time to."""
        frame = super().receive(timeout_s)
        from_s = self._runs_from_s
        if frame is not None and from_s is not None and frame.t_s >= from_s:
            self._runs_from_s = None
            self._staged.act("run")
        return frame
