"""The loop: assembly and routing of source, pose model, measurement, coaching, sound and screen."""

from station.live.ahead_feed import AheadFeed
from station.live.coaching import Coaching
from station.live.feed import Feed, LockStepFeed, ThreadedFeed, TraceFeed
from station.live.loop import Ending, run_loop
from station.live.screen import Screen
from station.live.session import Session
from station.live.stopping import StopWish, signals_wish

__all__ = [
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
