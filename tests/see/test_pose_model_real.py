"""The real pose model on real pixels: rendered frames, drawn frames, and pictures of nobody."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from station.errors import BadInput, StationError
from station.see.opencv import cv2
from station.see.pose_model import MediapipePose
from station.see.quiet import without_lines
from station.values import LANDMARK_INDEX, Frame, Pose

FRAMES = 16


@pytest.fixture(scope="module")
def model() -> Iterator[MediapipePose]:
    made = MediapipePose()  # two threads are slow where other programs run, as in a test run
    yield made
    made.close()


@pytest.fixture(scope="module")
def rendered(shared_data: Path) -> list[Frame]:
    path = shared_data / "clips" / "ff_25_60.mp4"
    if not path.is_file():
        pytest.skip(f"{path.name} is not in the recorded data")
    capture = cv2.VideoCapture(str(path))
    frames = [Frame(i / 60.0, i, capture.read()[1]) for i in range(FRAMES)]
    capture.release()
    return frames


def leg_error_px(pose: Pose, truth: np.lib.npyio.NpzFile, i: int, part: str) -> float:
    """The error of the right (near) leg's landmark, or of the left's where the legs are swapped."""
    true = truth[f"R{part}"][i]
    return min(
        float(np.hypot(*(pose.xy_px[LANDMARK_INDEX[f"{side}_{part}"]] - true)))
        for side in ("left", "right")
    )


def test_landmarks_are_in_the_picture_s_own_pixels(
    model: MediapipePose, rendered: list[Frame], shared_data: Path
) -> None:
    landmarks = shared_data / "clips" / "ff_25_60_landmarks.npz"
    poses = [model.find(frame) for frame in rendered]
    assert all(pose.found for pose in poses)
    assert [(pose.t_s, pose.index) for pose in poses] == [(f.t_s, f.index) for f in rendered]
    assert {(pose.width, pose.height) for pose in poses} == {(960, 540)}
    visibility = np.stack([pose.visibility for pose in poses])
    assert np.all((visibility >= 0.0) & (visibility <= 1.0))
    with np.load(landmarks) as truth:
        errors = [leg_error_px(poses[i], truth, i, "knee") for i in range(FRAMES)]
    assert np.median(errors) < 10.0  # px, at 230 px per metre: about 4 cm


def test_two_inference_threads_change_no_landmark(
    model: MediapipePose, rendered: list[Frame]
) -> None:
    double = MediapipePose(threads=2)
    try:
        for frame in rendered[:2]:
            model.detect_anew()
            double.detect_anew()
            a, b = model.find(frame), double.find(frame)
            np.testing.assert_allclose(a.xy_px, b.xy_px, atol=0.01)
            np.testing.assert_allclose(a.visibility, b.visibility, atol=1e-4)
    finally:
        double.close()


def test_detecting_anew_finds_what_a_fresh_model_finds(
    model: MediapipePose, rendered: list[Frame]
) -> None:
    fresh = MediapipePose(threads=1)
    try:
        for frame in rendered[:10]:  # the followed body's frame has drifted from a detected one
            followed = model.find(frame)
        first = fresh.find(rendered[9])
        before = model.detected_anew
        model.detect_anew()
        model.detect_anew()
        anew = model.find(rendered[9])
        assert model.detected_anew == before + 1
        np.testing.assert_allclose(anew.xy_px, first.xy_px, atol=0.01)
        assert np.abs(followed.xy_px - first.xy_px).max() > 0.1
        # tracking goes on from there, as the fresh model's does
        np.testing.assert_allclose(
            model.find(rendered[10]).xy_px, fresh.find(rendered[10]).xy_px, atol=8.0
        )
        assert model.detected_anew == before + 1
    finally:
        fresh.close()


def test_times_that_stand_still_or_go_back_are_taken(
    model: MediapipePose, rendered: list[Frame]
) -> None:
    for t_s in (5.0, 5.0, 1.0, float("nan"), 1e9, -3.0):
        assert model.find(Frame(t_s, 0, rendered[0].image)).found


def test_a_picture_is_not_changed_and_may_be_read_only(
    model: MediapipePose, rendered: list[Frame]
) -> None:
    image = rendered[0].image.copy()
    image.flags.writeable = False
    model.detect_anew()
    assert model.find(Frame(0.0, 0, image)).found
    np.testing.assert_array_equal(image, rendered[0].image)
    wide = np.zeros((540, 1920, 3), np.uint8)
    wide[:, ::2] = image
    model.detect_anew()
    assert model.find(Frame(0.0, 0, wide[:, ::2])).found  # not contiguous


def test_nobody_is_found_in_an_empty_picture(model: MediapipePose) -> None:
    model.detect_anew()
    pose = model.find(Frame(1.5, 7, np.full((480, 640, 3), 90, np.uint8)))
    assert not pose.found
    assert (pose.t_s, pose.index, pose.width, pose.height) == (1.5, 7, 640, 480)


@pytest.mark.parametrize(
    ("shape", "says"), [((40, 640, 3), "640 x 40 px"), ((480, 63, 3), "63 x 480 px")]
)
def test_a_picture_too_small_is_refused(
    model: MediapipePose, shape: tuple[int, int, int], says: str
) -> None:
    with pytest.raises(BadInput, match=f"{says}: allowed is .* each side 64 to 8192 px"):
        model.find(Frame(0.0, 0, np.zeros(shape, np.uint8)))


def test_the_smallest_picture_allowed_is_taken(model: MediapipePose) -> None:
    model.find(Frame(0.0, 0, np.zeros((64, 64, 3), np.uint8)))


def test_a_closed_model_says_so() -> None:
    made = MediapipePose(threads=1)
    made.close()
    made.close()
    with pytest.raises(StationError, match="closed"):
        made.find(Frame(0.0, 0, np.zeros((64, 64, 3), np.uint8)))


def test_no_threads_are_refused() -> None:
    with pytest.raises(BadInput, match="1 or more"):
        MediapipePose(threads=0)


def test_opencv_keeps_to_one_thread() -> None:
    assert cv2.getNumThreads() == 1


def test_the_model_starts_without_a_word(
    rendered: list[Frame], capfd: pytest.CaptureFixture[str]
) -> None:
    made = MediapipePose(threads=1)
    made.find(rendered[0])
    made.close()
    assert capfd.readouterr().err == ""


def test_only_known_lines_are_kept_off_the_error_stream(capfd: pytest.CaptureFixture[str]) -> None:
    def say_and_fail() -> None:
        with without_lines(["chatter"]):
            os.write(2, b"W00 some chatter\nE00 something real\n")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        say_and_fail()
    os.write(2, b"chatter afterwards\n")
    assert capfd.readouterr().err == "E00 something real\nchatter afterwards\n"
