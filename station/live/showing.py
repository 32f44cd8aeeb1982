"""What is drawn in a turn of the loop: the newest picture, the beat's pulse alone, or both.

A whole picture takes ten times as long to paint and show as the pulse alone, and is held up by
whatever else the machine does meanwhile. So the pulse is drawn by itself at its instant, and no
picture is begun shortly before.
"""

from __future__ import annotations

from collections.abc import Callable

from station.clock import Clock
from station.coach.scene import Scene
from station.live.feed import Feed, GivesPictures, Seen
from station.live.pulse_timing import TAKE_S, PulseTiming
from station.live.screen import Screen
from station.live.session import Session

STALE_S = 0.25
"""Where no new picture comes for so long, the newest is drawn again: words and times go on."""
EVEN_S = 0.030
"""A picture without a pose is drawn only where none was for so long: 30 a second are as even as a
film, and each more would cost poses."""


class Showing:
    """Draws a session on a screen. Used by the loop's thread."""

    def __init__(
        self,
        screen: Screen,
        session: Session,
        clock: Clock,
        add: Callable[[Scene, float], Scene] | None = None,
    ) -> None:
        """Begin with nothing drawn.

        Args:
            screen: Draws.
            session: What is drawn.
            clock: The session's.
            add: Adds to a scene, at a time, what the coach's keys brought; None: nothing.
        """
        self._add = add
        self._screen = screen
        self._session = session
        self._clock = clock
        self._timing = PulseTiming(session.beats)
        self._newest: Seen | None = None
        self._drawn = True  # the newest is on the screen
        self._drawn_s = float("-inf")

    def wait_s(self, longest_s: float) -> float:
        """Return how long the loop may wait for a pose, so that the pulse is drawn in time."""
        return self._timing.wait_s(self._clock.now_s(), longest_s)

    def before_taking(self) -> None:
        """Draw the pulse first where measuring the pose that has come would make it late."""
        draw_s = self._timing.before_taking_s(self._clock.now_s())
        if draw_s is not None and self._newest is not None:
            self._clock.wait_until(draw_s, TAKE_S)
            self._pulse_if_due()

    def take(self, seen: Seen) -> None:
        """Take the newest picture, to be drawn at the next turn that has time for it."""
        if self._newest is not None and seen.t_s < self._newest.t_s:
            # A newer picture is on the screen already: what was measured goes with the next one.
            self._newest = Seen(self._newest.frame, seen.pose)
            return
        self._newest, self._drawn = seen, False

    def freshen(self, feed: Feed) -> None:
        """Take a picture that the feed has no pose of, where one is due to be shown."""
        if self._clock.now_s() - self._drawn_s < EVEN_S:
            return
        picture = feed.picture() if isinstance(feed, GivesPictures) else None
        newest = self._newest
        if picture is not None and newest is not None and picture.t_s > newest.t_s:
            self._newest, self._drawn = Seen(picture, newest.pose), False

    def turn(self, notices: Callable[[], tuple[str, ...]]) -> None:
        """Draw what is due now.

        Args:
            notices: Gives the lines that the picture shows; asked only where one is drawn.
        """
        newest = self._newest
        if newest is None:
            return
        self._pulse_if_due()
        begun_s = self._clock.now_s()
        stale = begun_s - self._drawn_s >= STALE_S
        if (self._drawn and not stale) or self._timing.holds(begun_s):
            return
        scene = self._session.scene(newest.frame, notices(), self._timing.ahead_s)
        if self._add is not None:
            scene = self._add(scene, begun_s)
        self._screen.draw(scene, newest.t_s)
        self._timing.drawn(begun_s, self._clock.now_s())
        self._drawn, self._drawn_s = True, begun_s

    def _pulse_if_due(self) -> None:
        begun_s = self._clock.now_s()
        if not self._timing.due(begun_s):
            return
        ahead_s = self._timing.pulse_ahead_s
        self._screen.pulse(self._session.rhythm(ahead_s), begun_s + ahead_s)
        self._timing.pulsed(begun_s, self._clock.now_s())
