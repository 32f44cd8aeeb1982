from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from station.measure.setup.lines import (
    FoundLine,
    find_plumb_line,
    grey_of,
    kind_of,
    line_near,
    roll_of,
)

WIDE, HIGH = 640, 360


def wall(noise: float = 2.0, seed: int = 1) -> np.ndarray:
    """A wall with a window and a leaning rail; the mean of a dozen noisy pictures."""
    image = np.full((HIGH, WIDE, 3), 190, np.uint8)
    cv2.rectangle(image, (470, 40), (580, 150), (235, 230, 220), -1)
    cv2.line(image, (420, 350), (400, 120), (130, 130, 130), 14)
    made = image + np.random.default_rng(seed).normal(0.0, noise, image.shape)
    return np.clip(made, 0, 255).astype(np.uint8)


def hung(roll_deg: float, x: float = 150.0, wide: int = 2) -> np.ndarray:
    """The wall with a string in front of it, drawn to 1/16 of a pixel."""
    image = wall()
    roll = math.radians(roll_deg)
    top = (x, 10.0)
    low = (x - 320.0 * math.sin(roll), 10.0 + 320.0 * math.cos(roll))
    fixed = [tuple(round((v - 0.5) * 16) for v in point) for point in (top, low)]
    cv2.line(image, fixed[0], fixed[1], (60, 60, 60), wide, cv2.LINE_AA, 4)
    return image


@pytest.mark.parametrize("roll_deg", [-4.0, -0.3, 0.0, 1.3, 6.0])
def test_a_plumb_line_is_found_by_itself(roll_deg: float) -> None:
    found = find_plumb_line(grey_of(hung(roll_deg)))
    assert found is not None
    assert roll_of(found.start, found.end, "plumb") == pytest.approx(roll_deg, abs=0.1)
    assert found.length_px > 250.0
    assert found.error_deg < 0.2


def test_where_none_hangs_none_is_found() -> None:
    assert find_plumb_line(grey_of(wall())) is None
    assert find_plumb_line(np.full((HIGH, WIDE), 90.0, np.float32)) is None


def test_two_rough_clicks_find_the_string_between_them() -> None:
    found = line_near(grey_of(hung(2.0, wide=3)), (156.0, 20.0), (136.0, 300.0))
    assert found is not None
    assert roll_of(found.start, found.end, "plumb") == pytest.approx(2.0, abs=0.1)


def test_two_rough_clicks_find_a_level_edge() -> None:
    image = wall()
    shear = np.array([[1.0, 0.0, 0.0], [math.tan(math.radians(1.5)), 1.0, 0.0]])
    edge = np.full((HIGH, WIDE, 3), 190, np.uint8)
    edge[200:230] = 40
    image = cv2.warpAffine(edge, shear, (WIDE, HIGH), borderMode=cv2.BORDER_REPLICATE)
    found = line_near(grey_of(image), (60.0, 205.0), (560.0, 211.0), 16.0)
    assert found is not None
    assert roll_of(found.start, found.end, kind_of(found.start, found.end)) == pytest.approx(
        1.5, abs=0.1
    )


def test_where_nothing_straight_is_there_are_only_the_clicks() -> None:
    noise = np.random.default_rng(2).normal(120.0, 40.0, (HIGH, WIDE)).astype(np.float32)
    assert line_near(noise, (100.0, 20.0), (110.0, 300.0)) is None
    assert line_near(noise, (100.0, 20.0), (101.0, 22.0)) is None


@pytest.mark.parametrize(
    ("start", "end", "kind", "roll_deg"),
    [
        ((100.0, 0.0), (100.0, 300.0), "plumb", 0.0),
        ((100.0, 300.0), (100.0, 0.0), "plumb", 0.0),
        ((0.0, 100.0), (300.0, 100.0), "level", 0.0),
        ((300.0, 110.0), (0.0, 100.0), "level", math.degrees(math.atan(10.0 / 300.0))),
        ((100.0, 0.0), (90.0, 300.0), "plumb", math.degrees(math.atan(10.0 / 300.0))),
    ],
)
def test_roll_from_a_line_either_way_round(start, end, kind, roll_deg) -> None:
    assert kind_of(start, end) == kind
    assert roll_of(start, end, kind) == pytest.approx(roll_deg)


def test_a_longer_line_is_surer() -> None:
    short, long = (FoundLine((0.0, 0.0), (0.0, y), 0.5, 1.0) for y in (100.0, 400.0))
    assert long.error_deg < short.error_deg
