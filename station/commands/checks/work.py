"""Checks the pose model on this machine."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from statistics import median

from station.clock import Clock, StreamClock
from station.commands.checks.finding import Finding, Tell
from station.commands.simulated import demo_scenario, demo_source
from station.measure.view_checks import SLOWEST_FPS
from station.ports import PoseModel
from station.values import Frame

WORK_S = 2.0
_PICTURES = 20
_WARM_PICTURES = 4
_FULL, _NEARLY = 1.0, 0.8


def runner_pictures(count: int = _PICTURES) -> list[Frame]:
    """Draw pictures of the demo's runner, one after the other in time."""
    source = demo_source(demo_scenario())
    source.start(StreamClock(), paced=False)
    try:
        frames = [source.receive(0.0) for _ in range(count)]
    finally:
        source.stop()
    return [frame for frame in frames if frame is not None]


def check_model(
    models: Sequence[PoseModel],
    load_s: float,
    fps: float,
    clock: Clock,
    seconds: float,
    tell: Tell,
    heed: Callable[[], None],
) -> list[Finding]:
    """Time the models on a drawn runner: an empty belt would take them longer than a session does.

    Args:
        models: As many as a session has, ready.
        load_s: How long that took.
        fps: Pictures per second that it should keep up with.
        clock: Times them.
        seconds: How long they are let work.
        tell: Says what is done.
        heed: Called after each picture.
    """
    tell(f"pose model: at work for {seconds:g} s, beside the beat")
    frames = runner_pictures()
    there_and_back = [*frames, *frames[-2:0:-1]]  # no jump, so the runner is followed throughout
    took_s: list[float] = []
    found = 0
    began_s = clock.now_s()
    with ThreadPoolExecutor(len(models), "station-check") as pool:
        while clock.now_s() - began_s < seconds or len(took_s) <= _WARM_PICTURES:
            begun_s = clock.now_s()
            picture = there_and_back[len(took_s) % len(there_and_back)]
            poses = list(pool.map(lambda model, shown=picture: model.find(shown), models))
            found += all(pose.found for pose in poses)
            took_s.append((clock.now_s() - begun_s) / len(models))
            heed()
    each_s = median(took_s[_WARM_PICTURES:])
    share = each_s * fps
    told = (
        f"loads in {load_s:.1f} s; {1000.0 * each_s:.0f} ms a picture, {100.0 * share:.0f} % of "
        f"the time between two at {fps:g} a second"
    )
    if found < 0.9 * len(took_s):
        return [Finding("pose model", f"{told}; the drawn runner found in {found} of {len(took_s)}",
                        "look", "install the station anew")]  # fmt: skip
    enough_fps = _NEARLY / max(each_s, 1e-6)
    remedy = "close other programs, or " + (
        f"set fps in [camera] to {enough_fps:.0f} or less"
        if enough_fps >= SLOWEST_FPS
        else "take a faster computer"
    )
    if share > _FULL:
        return [Finding("pose model", f"{told}: too slow, pictures will be left out", "look",
                        remedy)]  # fmt: skip
    if share > _NEARLY:
        return [Finding("pose model", f"{told}: little is left for all else", "look",
                        remedy)]  # fmt: skip
    return [Finding("pose model", told)]
