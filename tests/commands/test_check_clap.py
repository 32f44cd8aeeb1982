"""The clap's check: from poses and a recording to a line of the profile, or what was missing."""

from __future__ import annotations

import numpy as np
import pytest

from station.clock import StreamClock
from station.commands.checks.clap import clap_findings
from station.errors import DeviceTrouble
from station.live.clap import ClapNotFound, judge
from station.live.feed import Seen
from station.sound.round_trip import Recording
from station.values import LANDMARK_INDEX, Bay, Pose

RATE_HZ = 48_000
CLAPS_S = (1.2, 2.3, 3.4)


class Clapper:
    """A feed and a microphone for one who claps; time goes on with each pose."""

    name = "microphone"

    def __init__(self, late_s: float, seen: bool = True, trouble: str | None = None) -> None:
        self.clock = StreamClock()
        self.late_s, self.seen, self.trouble = late_s, seen, trouble
        self.claps_s = np.array(CLAPS_S)
        self.began_s = 0.0

    def next(self, timeout_s: float) -> Seen:
        t_s = self.clock.now_s() + 1.0 / 60.0
        self.clock.move_to(t_s)
        apart = 1.6
        if self.seen:
            apart = min(apart, 0.25 + 7.0 * float(np.abs(t_s - self.claps_s).min()))
        xy_px = np.full((33, 2), 300.0)
        for side, sign in (("left", 1.0), ("right", -1.0)):
            xy_px[LANDMARK_INDEX[f"{side}_hip"], 1] = 500.0
            xy_px[LANDMARK_INDEX[f"{side}_wrist"]] = (300.0 + 100.0 * sign * apart, 350.0)
        pose = Pose(t_s + self.late_s, round(60.0 * t_s), xy_px, np.ones(33), 1280, 720)
        return Seen(None, pose)

    def start(self, clock: object) -> None:
        if self.trouble is not None:
            raise DeviceTrouble(self.trouble)
        self.began_s = self.clock.now_s()

    def stop(self) -> Recording:
        samples = np.random.default_rng(2).normal(0.0, 1e-3, round(5.0 * RATE_HZ))
        for clap_s in self.claps_s:
            at = round((clap_s - self.began_s) * RATE_HZ)
            samples[at : at + 480] += 0.5 * np.cos(np.arange(480) * 0.9) * np.linspace(1, 0, 480)
        return Recording(samples.astype(np.float32), lambda n: self.began_s + n / RATE_HZ)


def checked(clapper: Clapper, bay: Bay) -> tuple[str, str, str]:
    (found,) = clap_findings(clapper, clapper, clapper.clock, bay, lambda _: None, 5.0)  # type: ignore[arg-type]
    return found.verdict, found.found, found.remedy


def test_a_late_camera_gets_its_line_of_the_profile() -> None:
    verdict, found, remedy = checked(Clapper(0.040), Bay())
    assert verdict == "look"
    assert "(3 claps)" in found
    assert float(remedy.split("=")[1].split()[0]) == pytest.approx(40.0, abs=10.0)


def test_a_camera_that_is_corrected_is_well() -> None:
    assert checked(Clapper(0.040), Bay(picture_late_s=0.038))[0] == "well"


def test_without_a_microphone_the_effect_is_told() -> None:
    verdict, found, _ = checked(Clapper(0.0, trouble="no input"), Bay())
    assert verdict == "unchecked"
    assert "off by as much as the camera is late" in found


def test_what_was_not_seen_is_told() -> None:
    verdict, found, _ = checked(Clapper(0.0, seen=False), Bay())
    assert verdict == "look"
    assert "no clap was seen" in found


@pytest.mark.parametrize(
    ("seen_s", "heard_s", "said"),
    [
        ((1.0, 2.0), [], "none was heard"),
        ((1.0, 2.0), [5.0], "do not belong together"),
        ((1.0,), [0.65], "350 ms later"),
    ],
)
def test_claps_that_say_nothing_are_refused(
    seen_s: tuple[float, ...], heard_s: list[float], said: str
) -> None:
    with pytest.raises(ClapNotFound, match=said):
        judge(seen_s, heard_s, 0.0)
