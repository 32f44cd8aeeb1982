"""The loop on the main thread: fetch, measure, coach, draw, obey. Nothing else happens here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from station.clock import Clock
from station.coach.scene import Scene
from station.coach.words import Words
from station.live.coach_page import CoachPage
from station.live.controls import Controls
from station.live.feed import Feed, Seen, faults_of
from station.live.screen import Screen
from station.live.session import Session
from station.live.showing import Showing
from station.live.stages import Timer, untimed
from station.live.stopping import StopWish
from station.ports import EndOfStream

WAIT_S = 0.02
"""How long the loop waits for a pose before it looks at keys and signals again."""
DROPPED_TOLD = 0.02
"""Share of dropped frames from which the screen says so."""
DROPPED_FRAMES_LEAST = 60
END_OF_STREAM = "end of the recording"
TIME_IS_UP = "time is up"


@dataclass(frozen=True, slots=True)
class Ending:
    """How the loop came to its end."""

    why: str
    of_source: bool = False
    """The source had no more, nobody asked for the end."""
    note: str | None = None
    """What the source had to say of its end."""


def run_loop(
    feed: Feed,
    session: Session,
    clock: Clock,
    stop: StopWish,
    screen: Screen | None = None,
    seconds: float | None = None,
    linger_s: float = 0.0,
    notices: Callable[[], tuple[str, ...]] = tuple,
    tell: Callable[[float, int], None] | None = None,
    each_turn: Callable[[], None] | None = None,
    page: CoachPage | None = None,
    timer: Timer = untimed,
) -> Ending:
    """Run until the plan, the source, the time or somebody's patience is at its end.

    Args:
        feed: Started.
        session: Takes the poses.
        clock: The session's.
        stop: Looked at between two frames.
        screen: Where to draw; None: nowhere.
        seconds: End after so much session time; None: no bound.
        linger_s: How long the screen stays after the plan is done: its last sentence tells the
            runner to slow the belt down, and must be read.
        notices: Gives the lines of trouble that does not stop the session.
        tell: Told of the newest frame's time and of the steps so far, for a progress line.
        each_turn: Called at the end of each turn, whether or not a frame came.
        page: The coach's, which a key turns on and off; None: there is none.
        timer: Times what is done of each pose, and of each turn's drawing.

    Returns:
        Why it ended.

    Raises:
        Exception: Whatever a part raised; nothing is closed here.
    """
    done_s: float | None = None
    newest: Seen | None = None
    controls = Controls(session, screen is not None and screen.coach_strip)

    def with_keys(scene: Scene, t_s: float) -> Scene:
        return session.scenes.with_controls(scene, controls, t_s)

    showing = None if screen is None else Showing(screen, session, clock, with_keys)

    def amiss() -> tuple[str, ...]:
        return (*notices(), *dropped_notice(feed, session.words))

    def told() -> tuple[str, ...]:
        return (*(() if page is None else page.notice), *amiss())

    while True:
        if screen is not None:
            _obey(screen, controls, clock.now_s(), stop, page)
        if page is not None:
            page.turn(session, controls, clock.now_s(), amiss)
        if session.ended is not None:
            done_s = clock.now_s() if done_s is None else done_s
            if stop.reason is not None or clock.now_s() - done_s >= linger_s:
                return Ending(session.ended)
        if stop.reason is not None:
            return Ending(stop.reason)
        try:
            seen = feed.next(WAIT_S if showing is None else showing.wait_s(WAIT_S))
            if seen is None:
                session.idle()
                if showing is not None:
                    showing.freshen(feed)
                    showing.turn(told)
                if each_turn is not None:
                    each_turn()
                if seconds is not None and clock.now_s() >= seconds:
                    return Ending(TIME_IS_UP)
                continue
            if showing is not None:
                showing.before_taking()
            while seen is not None:
                newest = seen
                if seconds is not None and newest.pose.t_s >= seconds:
                    return Ending(TIME_IS_UP)
                if showing is not None:
                    session.scenes.stills.frame(newest.frame)
                with timer("measure and coach"):
                    anew = session.take(newest.pose)
                if anew:
                    feed.detect_anew()
                # A lock-step feed works a frame out on asking: there the newest is this one.
                seen = feed.waiting()
        except EndOfStream as end:
            return Ending(END_OF_STREAM, True, end.note)
        if showing is not None and newest is not None:
            showing.take(newest)
            showing.freshen(feed)
            with timer("draw"):
                showing.turn(told)
        if tell is not None and newest is not None:
            tell(newest.pose.t_s, session.recorder.steps)
        if each_turn is not None:
            each_turn()


def _obey(
    screen: Screen, controls: Controls, t_s: float, stop: StopWish, page: CoachPage | None
) -> None:
    for key in screen.asked():
        if key == "page":
            if page is not None:
                page.toggle()
        else:
            controls.press(key, t_s)
    controls.tick(t_s)
    if controls.quit:
        stop.wish("ended by the coach")


def dropped_notice(feed: Feed, words: Words | None = None) -> tuple[str, ...]:
    """Return the line that says how many pictures were left out; none where few were.

    Args:
        feed: Counts them.
        words: The screen's language; None: English.
    """
    captured, dropped = feed.captured, feed.dropped
    if any(fault.key == "pose_rate_lowered" for fault in faults_of(feed)):
        return ()  # the board says so already, and what it comes to now
    if captured < DROPPED_FRAMES_LEAST or dropped < DROPPED_TOLD * captured:
        return ()
    percent = f"{100.0 * dropped / captured:.0f}"
    if words is None:
        return (f"{percent} % of the pictures came too fast and were left out",)
    return (words.sentence("pictures_left_out", percent=percent),)
