import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from station.coach.visit import view_check
from station.coach.visit.view_check import STILL_S, ViewCheck
from station.settings import read_words
from station.values import LANDMARK_INDEX, LEG_INDEX, Pose

FPS = 30


def standing(i: int, shift_px: float = 0.0, breadth_px: float = 20.0) -> Pose:
    """A figure 500 px high that stands side-on in the middle of the picture."""
    xy = np.full((33, 2), np.nan)
    parts = {
        "nose": (670, 120), "left_shoulder": (640 - breadth_px / 2, 210),
        "right_shoulder": (640 + breadth_px / 2, 210),
        "left_hip": (636, 360), "right_hip": (644, 360),
    }  # fmt: skip
    for name, point in parts.items():
        xy[LANDMARK_INDEX[name]] = point
    for leg, dx in (("left", -6.0), ("right", 6.0)):
        for index, point in zip(
            LEG_INDEX[leg][1:], [(640, 470), (636, 580), (620, 600), (670, 600)], strict=True
        ):  # type: ignore[index]
            xy[index] = (point[0] + dx, point[1])
    xy[:, 0] += shift_px
    return Pose(i / FPS, i, xy, np.full(33, 0.9), 1280, 720)


def stands(pose_at, seconds: float) -> float | None:
    """Return when the check is met; None: not in `seconds`."""
    check = ViewCheck()
    for i in range(int(seconds * FPS)):
        if check.take(pose_at(i)):
            return i / FPS
    return None


def test_two_seconds_of_standing_are_enough() -> None:
    assert stands(standing, 4.0) == pytest.approx(STILL_S, abs=0.1)


def test_noise_of_the_pose_model_is_no_movement() -> None:
    rng = np.random.default_rng(1)
    met = stands(lambda i: standing(i, float(rng.normal(0, 2.0))), 6.0)
    assert met == pytest.approx(STILL_S, abs=0.1)


def test_whoever_walks_is_asked_to_stand() -> None:
    check = ViewCheck()
    told = set()
    for i in range(120):
        assert not check.take(standing(i, 3.0 * i))
        told.add(check.why)
    assert "stand_still" in told


@pytest.mark.parametrize(
    ("pose", "why"),
    [
        (Pose.nobody(0.0, 0, 1280, 720), "nobody"),
        (standing(0, shift_px=640.0), "not_whole"),
        (replace(standing(0), visibility=np.full(33, 0.2)), "legs_hidden"),
        (standing(0, breadth_px=110.0), "turn_side_on"),
    ],
)
def test_it_says_what_is_amiss(pose: Pose, why: str) -> None:
    check = ViewCheck()
    assert not check.take(pose)
    assert check.why == why
    assert check.share_done == 0.0


def test_a_gap_begins_it_anew() -> None:
    check = ViewCheck()
    for i in range(50):
        check.take(standing(i))
    assert check.share_done > 0.8
    check.take(standing(100))
    assert check.share_done == 0.0


def test_pictures_that_come_too_rarely_are_told() -> None:
    """Otherwise whoever stands as asked would wait for a bar that never moves."""
    check = ViewCheck()
    told = []
    for i in range(8):
        assert not check.take(standing(15 * i))
        told.append(check.why)
    assert told[:3] == [None, None, None]
    assert set(told[3:]) == {"pictures_rare"}
    done = [check.take(standing(105 + i)) for i in range(3 * FPS)]
    assert any(done)
    assert check.why is None


@pytest.mark.parametrize(("faces", "met"), [("right", True), ("left", False), (None, True)])
def test_whoever_faces_the_wrong_way_is_asked_to_turn_round(faces, met) -> None:
    check = ViewCheck(faces)
    done = [check.take(standing(i)) for i in range(4 * FPS)]
    assert any(done) is met
    assert check.why == (None if met else "turn_round")


def test_too_little_room_for_a_hand_is_told_and_hinders_nothing() -> None:
    def high(i: int) -> Pose:
        pose = standing(i)
        pose.xy_px[:, 1] -= 60.0  # the face is 60 px from the upper edge, the trunk 150 px long
        return pose

    check = ViewCheck()
    done = [check.take(high(i)) for i in range(4 * FPS)]
    assert any(done)
    assert check.note == "no_room_for_hand"
    check.take(standing(0))
    assert check.note is None


def test_all_that_the_check_says_has_words() -> None:
    text = Path(view_check.__file__).read_text()
    keys = set(re.findall(r"(?:return|why =|note = .*else|else) \"(\w+)\"", text))
    assert {"turn_round", "stand_still", "not_whole"} <= keys
    for language in ("en", "de"):
        words = read_words(language)
        assert keys <= {*words.visit, *words.troubles}
