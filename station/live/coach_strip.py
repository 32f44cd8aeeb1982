"""Works out the figures of the coach's strip from the running session."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from statistics import fmean, median

from station.coach.events import Event
from station.coach.figures import CoachFigures, GateFigures, LegFigures, Waiting
from station.coach.scene import DrillStatus
from station.live.coaching import Coaching
from station.live.record import DrillRun, Judged
from station.values import Landing, Side

LAST = 10
"""Landings of a leg that its median shank angle and mean confidence are of."""
KEPT = 40
"""Landings kept of both legs; where one leg is seen badly the other's are more."""
SIDES: tuple[Side, Side] = ("left", "right")


UNJUDGED_FLAG = 0.3
"""From this share of a leg's landings without a verdict on, its shares say little."""


def _flags(
    legs: tuple[LegFigures, LegFigures],
    gate: GateFigures | None,
    status: DrillStatus,
    feedback_on: bool,
) -> tuple[str, ...]:
    """Return what is out of the ordinary, as keys of the words' labels."""
    found = {
        "flag_no_baseline": any(leg.limit_origin == "fallback" for leg in legs),
        "flag_unjudged": any((leg.unjudged_share or 0.0) > UNJUDGED_FLAG for leg in legs),
        "flag_belt_off": status.belt_rises is not None,
        "flag_rate_off": gate is not None and gate.rate_held is False,
        "flag_feedback_off": not feedback_on,
    }
    return tuple(key for key, true in found.items() if true)


EVENT_FLAGS = {
    "cues stopped": "flag_cues_stopped",
    "rest asked": "flag_rest_asked",
    "proof failed": "flag_proof_failed",
    "rate flagged": "flag_rate_flagged",
    "rate held": "flag_rate_kept",
    "belt limited": "flag_belt_limited",
}
"""Events of a drill that the coach should see, with the label that says so."""


def event_flags(newest_first: Iterable[Event]) -> tuple[str, ...]:
    """Return the flags of the running drill, newest first, each once.

    Args:
        newest_first: The events so far; none before the drill's begin is looked at.
    """
    found: list[str] = []
    back = False
    for event in newest_first:
        if event.kind == "drill ended":
            break
        back = back or event.kind == "cues back"
        if event.kind == "cues stopped" and back:
            continue
        flag = EVENT_FLAGS.get(event.kind)
        if flag is not None and flag not in found:
            found.append(flag)
    return tuple(found)


class CoachStrip:
    """Keeps the landings of the running drill. Used by the loop's thread."""

    def __init__(self, coaching: Coaching) -> None:
        """Begin with no landing."""
        self._coaching = coaching
        self._run: DrillRun | None = None
        self._landings: deque[Landing] = deque(maxlen=KEPT)
        self._counts: dict[Side, list[int]] = {}
        self._forget()

    def _forget(self) -> None:
        self._landings.clear()
        self._counts = {side: [0, 0] for side in SIDES}  # all, unjudged

    def landing(self, judged: Judged) -> None:
        """Take a landing; one that fell into no drill does not count."""
        if judged.run is None:
            return
        if judged.run is not self._run:
            self._run = judged.run
            self._forget()
        self._landings.append(judged.landing)
        counts = self._counts[judged.landing.side]
        counts[0] += 1
        counts[1] += judged.verdict is None

    def figures(self, status: DrillStatus, rate_spm: float | None) -> CoachFigures:
        """Return what the strip shows now.

        Args:
            status: The drill's, as the runner's screen shows it.
            rate_spm: The measured step rate; None: not known.
        """
        coaching = self._coaching
        progress, drill, run = coaching.progress, coaching.progress.drill, coaching.run
        if run is not self._run:
            self._run = run
            self._forget()
        target_spm = coaching.target_spm
        gate = None
        if drill.advance is not None:
            held = progress.mastery.rate_held(progress.elapsed_s)
            one = drill.advance
            gate = GateFigures(one.share, one.landings, one.seconds, held)
        legs = (self._leg("left"), self._leg("right"))
        standing = _flags(legs, gate, status, progress.feedback_on)
        waiting = self._waiting(status)
        left = {"steps": status.steps_left, "hops": self._hops_left(status)}.get(
            waiting, status.seconds_left
        )
        return CoachFigures(
            number=status.number,
            count=status.count,
            name=status.name,
            waiting=waiting,
            left=left,
            belt_asked=status.belt_speed,
            belt_measured=status.belt_measured,
            target_spm=target_spm,
            rate_spm=rate_spm,
            legs=legs,
            gate=gate,
            schedule=drill.feedback,
            feedback_on=progress.feedback_on,
            cues_given=coaching.cues.sounded,
            cues_withheld=coaching.policy.withheld_at_random,
            flags=(*event_flags(progress.log.newest_first()), *standing),
        )

    @staticmethod
    def _hops_left(status: DrillStatus) -> int | None:
        return None if status.hop is None else status.hop.hops_left

    def _waiting(self, status: DrillStatus) -> Waiting:
        progress = self._coaching.progress
        state, drill = progress.state, progress.drill
        if state in ("countdown", "paused", "felt", "done"):
            return state  # type: ignore[return-value]
        if status.belt_waits:
            return "belt"
        if status.proving:
            return "proving"
        if drill.hops:
            return "hops"
        if drill.advance is not None:
            return "mastery"
        if drill.steps is not None:
            return "steps"
        return "time" if status.seconds_left is not None else "open"

    def _leg(self, side: Side) -> LegFigures:
        progress = self._coaching.progress
        judged, within = progress.mastery.leg(side, progress.elapsed_s)
        mine = [one for one in self._landings if one.side == side]
        shanks = [deg for one in mine if (deg := one.shank_deg) is not None][-LAST:]
        everything, unjudged = self._counts[side]
        limit = None if self._run is None else self._run.limits.of(side)
        return LegFigures(
            side=side,
            limit_deg=None if limit is None else limit.deg,
            limit_origin=None if limit is None else limit.origin,
            shank_deg=median(shanks) if shanks else None,
            share_within=within / judged if judged else None,
            judged=judged,
            unjudged_share=unjudged / everything if everything else None,
            confidence=fmean(one.confidence for one in mine[-LAST:]) if mine else None,
        )
