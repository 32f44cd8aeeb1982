"""Each fault of a camera, injected at the device's edge: what is told, when, and how it ends."""

from __future__ import annotations

import math

import numpy as np
import pytest
from faulty_camera import FPS, OPEN_S, TURNED_DEG, FaultyCamera, between

from station.clock import StreamClock
from station.errors import DeviceTrouble
from station.see.grabber import FROZEN_REOPEN_S, Grabber
from station.see.move_watch import MoveWatch
from station.see.picture_watch import FROZEN_AFTER_S, SLOW_SPAN_S, DarkWatch, sample_of
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import demo_view
from station.simulate.source import SimulatedSource
from station.values import Fault


@pytest.mark.parametrize("away_s", [0.3, 3.0, 25.0])
def test_a_camera_that_is_plugged_in_again_is_back_within_two_seconds(away_s: float) -> None:
    back_s = 5.0 + away_s
    camera = FaultyCamera(between(5.0, back_s, "gone"), seconds=back_s + 4.0)
    again_s = next(t_s for t_s in camera.good_s if t_s >= back_s)
    assert again_s - back_s <= 2.0
    assert again_s - back_s >= OPEN_S  # the fake takes its time to open: it is in the two seconds
    began_s, ended_s = camera.told("camera_lost")
    assert began_s - 5.0 <= 0.1
    assert ended_s == pytest.approx(again_s, abs=0.05)
    assert camera.keys() == {"camera_lost"}


def test_an_absent_camera_is_not_opened_in_vain() -> None:
    camera = FaultyCamera(between(5.0, 30.0, "gone"), seconds=33.0)
    assert len(camera.opens) == 2  # at the start, and when it was back


def test_a_device_that_fails_at_once_is_opened_anew_at_once() -> None:
    """What a handle does whose camera was unplugged and plugged in again between two grabs."""
    camera = FaultyCamera(between(5.0, 5.1, "dead"), seconds=8.0)
    again_s = next(t_s for t_s in camera.good_s if t_s > 5.2)
    assert again_s - 5.1 <= 2.0


def test_a_silent_camera_is_told_of_and_opened_until_it_answers() -> None:
    camera = FaultyCamera(between(5.0, 14.0, "silent"))
    began_s, ended_s = camera.told("camera_lost")
    assert began_s == pytest.approx(6.0, abs=0.1)  # a second after the last picture
    assert ended_s - 14.0 <= 2.0 + OPEN_S
    assert 3 <= len(camera.opens) <= 5


@pytest.mark.parametrize(("give_up_s", "raises"), [(8.0, True), (math.inf, False)])
def test_only_a_patient_station_waits_for_ever(give_up_s: float, raises: bool) -> None:
    camera = FaultyCamera(between(5.0, 999.0, "gone"), seconds=0.0)
    reader = Grabber(
        0, (320, 180), FPS, camera.clock, camera.open, camera.wait, give_up_after_s=give_up_s,
        monotonic=camera.clock.now_s, present=lambda _: camera.now != "gone",
    )  # fmt: skip

    def go_on(until_s: float) -> None:
        reader.open()
        while camera.clock.now_s() < until_s:
            reader.step()

    if raises:
        with pytest.raises(DeviceTrouble, match="was lost: no picture for 8 s"):
            go_on(60.0)
        assert camera.clock.now_s() < 14.0
    else:
        go_on(60.0)
        assert [fault.key for fault in reader.state.faults] == ["camera_lost"]
    reader.close()


def test_a_frozen_picture_is_told_of_kept_back_and_opened_anew() -> None:
    camera = FaultyCamera(between(5.0, 9.0, "frozen"))
    began_s, ended_s = camera.told("camera_frozen")
    assert began_s == pytest.approx(5.0 + FROZEN_AFTER_S, abs=0.1)
    assert ended_s - 9.0 <= OPEN_S + 0.1
    assert not [t_s for t_s in camera.good_s if began_s + 0.01 < t_s < ended_s - 0.01]
    assert len(camera.opens) == 2
    assert camera.opens[1] == pytest.approx(began_s + FROZEN_REOPEN_S[0], abs=0.1)


def test_a_picture_that_stays_frozen_is_opened_ever_more_seldom() -> None:
    camera = FaultyCamera(between(5.0, 999.0, "frozen"), seconds=60.0)
    gaps_s = [b - a for a, b in zip(camera.opens[1:], camera.opens[2:], strict=False)]
    assert len(camera.opens) <= 8
    assert gaps_s == sorted(gaps_s)
    assert gaps_s[-1] >= FROZEN_REOPEN_S[-1]


def test_a_covered_lens_is_dark_not_frozen() -> None:
    camera = FaultyCamera(between(5.0, 15.0, "dark"))
    assert camera.keys() == {"camera_dark"}
    began_s, ended_s = camera.told("camera_dark")
    assert began_s == pytest.approx(7.0, abs=0.2)
    assert ended_s == pytest.approx(17.0, abs=0.2)
    assert len(camera.opens) == 1


def test_dark_is_under_a_twentieth_of_white_until_it_is_a_good_deal_lighter() -> None:
    """Mean of the green, which is most of what an eye calls bright; 255 is white."""
    watch, t_s = DarkWatch(), 0.0
    for level, dark in ((14, False), (12, True), (14, True), (20, True), (21, False), (14, False)):
        image = np.zeros((64, 64, 3), np.uint8)
        image[..., 1] = level
        for _ in range(5):  # two seconds and more
            t_s += 0.5
            found = watch.see(t_s, sample_of(image))
        assert found == watch.dark == dark, level


def test_a_slow_camera_is_told_of_with_both_rates() -> None:
    camera = FaultyCamera(between(5.0, 15.0, "slow"))
    began_s, ended_s = camera.told("camera_slow")
    assert 5.0 < began_s <= 5.0 + SLOW_SPAN_S
    assert 15.0 < ended_s <= 15.0 + SLOW_SPAN_S
    values = [dict(f.values) for _, now in camera.faults for f in now if f.key == "camera_slow"]
    assert {told["asked"] for told in values} == {"30"}
    assert min(float(told["fps"]) for told in values) == pytest.approx(10.0, abs=1.0)
    assert not any(f.blind for _, now in camera.faults for f in now)


def displaced(how: str) -> tuple[FaultyCamera, list[Fault]]:
    """A camera that stands otherwise from 8 to 18 s, told of in time, and all it tells of."""
    camera = FaultyCamera(between(8.0, 18.0, how), seconds=25.0)
    began_s, ended_s = camera.told(f"camera_{how}")
    assert 10.0 < began_s <= 15.0
    assert 18.0 < ended_s <= 25.0
    return camera, [fault for _, now in camera.faults for fault in now]


def test_a_camera_that_is_pushed_and_put_back_is_told_of_meanwhile() -> None:
    camera, faults = displaced("moved")
    assert camera.keys() == {"camera_moved"}
    assert not any(fault.misleads for fault in faults)


def test_a_camera_that_is_turned_misleads_until_it_is_straight_again() -> None:
    _, faults = displaced("turned")
    misleading = [fault for fault in faults if fault.misleads]
    assert {fault.key for fault in misleading} == {"camera_turned"}
    told_deg = [float(dict(fault.values)["degrees"]) for fault in misleading]
    assert max(told_deg) == pytest.approx(TURNED_DEG, abs=0.2)


@pytest.fixture(scope="module")
def runner_pictures() -> list[np.ndarray]:
    """Twelve pictures of the drawn runner, a third of a second apart."""
    figures = Runner(GaitParameters(belt_mps=2.7, wander_m=0.05))
    source = SimulatedSource(figures, demo_view(640, 360, "right"), 640, 360, 3.0, 4.0)
    source.start(StreamClock(), paced=False)
    frames = [source.receive(0.0) for _ in range(12)]
    source.stop()
    return [frame.image for frame in frames if frame is not None]


@pytest.mark.parametrize(("shift_px", "told"), [(0, False), (3, False), (9, True)])
def test_a_runner_in_view_hides_no_shift_and_makes_none(
    runner_pictures: list[np.ndarray], shift_px: int, told: bool
) -> None:
    watch = MoveWatch()
    for t_s in range(22):
        image = runner_pictures[(5 * t_s) % len(runner_pictures)]
        watch.see(float(t_s), np.roll(image, shift_px, axis=1) if t_s >= 8 else image)
    assert (watch.shift is not None) is told
    if watch.shift is not None:
        assert 640.0 * watch.shift.along == pytest.approx(shift_px, abs=1.0)
