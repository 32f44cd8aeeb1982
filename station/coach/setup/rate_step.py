"""The real frame rate, and automatic exposure that halves it."""

from __future__ import annotations

from collections import deque

from station.coach.choice import Choice
from station.coach.setup.bounds import LEAST_FPS, LONGEST_S
from station.coach.setup.drafting import with_bay
from station.coach.setup.light_step import with_held_exposure
from station.coach.setup.page import Body, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.values import Chosen, Done, Draft, Facts, OpenCamera, Wish
from station.measure.setup.pace import Pace, is_enough, is_halved, pace_of
from station.measure.view_checks import SLOWEST_FPS

WATCH_S = 3.0


class RateStep(Plain):
    """Counts pictures for some seconds."""

    name: StepName = "rate"

    def __init__(self) -> None:
        """Begin with nothing counted."""
        self._times: deque[float] = deque(maxlen=2000)
        self._counts: deque[int] = deque(maxlen=2000)
        self._holds = False

    def enter(self, draft: Draft) -> Wish | None:
        """Count anew."""
        self._times.clear()
        self._counts.clear()
        return None

    def see(self, facts: Facts, draft: Draft) -> None:
        """Count one picture; of long watching only the last seconds are kept."""
        self._times.append(facts.t_s)
        self._counts.append(facts.index)
        while self._times[-1] - self._times[0] > 2.0 * WATCH_S:
            self._times.popleft()
            self._counts.popleft()

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Count again, or hold the exposure short and count again."""
        if not isinstance(done, Chosen) or done.id not in ("again", "lock"):
            return None
        self.enter(draft)
        self._holds |= done.id == "lock"
        return OpenCamera(draft.now, LONGEST_S) if done.id == "lock" else None

    def _pace(self) -> Pace | None:
        if not self._times or self._times[-1] - self._times[0] < WATCH_S:
            return None
        return pace_of(tuple(self._times), tuple(self._counts))

    def body(self, draft: Draft) -> Body:
        """Return the rate and what to do about it."""
        if draft.camera is None:
            return Body("setup_rate_how", (Reading("setup_no_picture", "bad"),))
        pace = self._pace()
        if pace is None:
            share = (self._times[-1] - self._times[0]) / WATCH_S if self._times else 0.0
            return Body("setup_rate_how", (Reading("setup_counting", "open"),), share=share)
        offers = [Choice("again", "setup_again", "1")]
        readings = self._readings(draft, pace)
        if any(r.key == "setup_rate_halved" for r in readings):
            offers.append(Choice("lock", "setup_lock", "2"))
        return Body("setup_rate_how", readings, offers=tuple(offers))

    def _readings(self, draft: Draft, pace: Pace) -> tuple[Reading, ...]:
        opened = draft.camera
        assert opened is not None
        asked = draft.bay.fps if opened.live else opened.fps
        values = (("fps", f"{pace.fps:.1f}"), ("asked", f"{asked:g}"))
        found = []
        if not is_enough(pace.fps, asked):
            halved = is_halved(pace.fps, asked) and opened.live and not opened.locked
            found.append(
                Reading("setup_rate_halved" if halved else "setup_rate_low", "look", values)
            )
        elif pace.fps < SLOWEST_FPS:
            found.append(Reading("setup_rate_too_slow", "bad", values))
        elif pace.fps < LEAST_FPS:
            found.append(Reading("setup_rate_slow", "look", values))
        else:
            found.append(Reading("setup_rate_good", "good", values))
        if is_enough(pace.fps, asked) and pace.slowest_fps < 0.8 * pace.fps:
            slowest = (("fps", f"{pace.slowest_fps:.0f}"),)
            found.append(Reading("setup_rate_uneven", "look", slowest))
        return tuple(found)

    def apply(self, draft: Draft) -> Draft:
        """Keep the rate that a camera was found to give, and the exposure that it was held at."""
        if self._holds:
            draft = with_held_exposure(draft)
        pace = self._pace()
        if pace is None or draft.camera is None or not draft.camera.live:
            return draft
        told = draft.bay.fps if is_enough(pace.fps, draft.bay.fps) else float(round(pace.fps))
        return with_bay(draft, fps=min(500.0, max(10.0, told)))
