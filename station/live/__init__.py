"""The loop: assembly and routing of source, pose model, measurement, coaching, sound and screen."""

from station.live.ahead_feed import AheadFeed
from station.live.coaching import Coaching
from station.live.feed import Feed, LockStepFeed, TraceFeed
from station.live.loop import Ending, run_loop
from station.live.pose_threads import SIDE_BY_SIDE
from station.live.screen import Screen
from station.live.session import Session
from station.live.stopping import StopWish, signals_wish
from station.live.threaded_feed import ThreadedFeed

__all__ = [
    "SIDE_BY_SIDE",
    "AheadFeed",
    "Coaching",
    "Ending",
    "Feed",
    "LockStepFeed",
    "Screen",
    "Session",
    "StopWish",
    "ThreadedFeed",
    "TraceFeed",
    "run_loop",
    "signals_wish",
]
