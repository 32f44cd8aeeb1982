"""Landing marks: where knee, ankle and limit fall on the belt."""

from __future__ import annotations

import math
from dataclasses import astuple

import numpy as np
import pytest

from station.coach.verdict import border_deg, judge
from station.live.marks import Marks, landing_mark, leg_points
from station.values import Landing, Pose, View


def landing(
    view: View,
    knee_m: tuple[float, float],
    ankle_m: tuple[float, float],
    shank_deg: float | None = 8.0,
) -> Landing:
    points = view.to_image(np.array([knee_m, ankle_m, (0.2, 0.0), (0.4, 0.02)]))
    knee, ankle, heel, toe = ((float(x), float(y)) for x, y in points)
    return Landing(
        1, "right", True, 2.0, 2.05, shank_deg, 0.5, 0.1, 5.0, "rearfoot", 0.36, 0.9,
        knee, ankle, heel, toe,
    )  # fmt: skip


@pytest.mark.parametrize("faces", ["left", "right"])
@pytest.mark.parametrize("roll_deg", [0.0, 2.0])
@pytest.mark.parametrize("rise_deg", [0.0, 3.0])
def test_points_lie_on_the_belt_under_knee_and_ankle(
    faces: str, roll_deg: float, rise_deg: float
) -> None:
    view = View(300.0, faces, (640.0, 600.0), roll_deg, rise_deg)  # type: ignore[arg-type]
    seen = landing(view, (0.30, 0.50), (0.38, 0.10), shank_deg=9.0)
    mark = landing_mark(seen, "ahead", 8.0, view, 2.2)
    shank_m = math.hypot(0.08, 0.40)
    wanted_x = {
        mark.plumb_px: 0.30,
        mark.ankle_on_belt_px: 0.30 + shank_m * math.sin(math.radians(9.0)),
        mark.limit_px: 0.30 + shank_m * math.sin(math.radians(8.0)),
    }
    for point, x_m in wanted_x.items():
        on_belt = view.to_bay(np.array(point))
        assert on_belt[0] == pytest.approx(x_m)
        assert float(view.belt_height_m(on_belt)) == pytest.approx(0.0, abs=1e-9)
    assert mark.age_s == pytest.approx(0.2)
    assert mark.verdict == "ahead"


def test_a_foot_at_its_limit_stands_on_the_limit_mark() -> None:
    view = View(300.0, "right", (640.0, 600.0))
    shank_m = 0.43
    angle = math.radians(8.0)
    ankle = (0.3 + shank_m * math.sin(angle), 0.52 - shank_m * math.cos(angle))
    mark = landing_mark(landing(view, (0.3, 0.52), ankle), "within", 8.0, view, 2.0)
    assert mark.limit_px == pytest.approx(mark.ankle_on_belt_px)


@pytest.mark.parametrize("faces", ["left", "right"])
@pytest.mark.parametrize("shank_deg", [5.0, 7.4, 7.6, 8.1, 12.0])
def test_the_mark_is_beyond_the_limit_just_when_the_word_is_ahead(
    faces: str, shank_deg: float
) -> None:
    """Wherever the ankle was read: the mark goes by the value that the word goes by."""
    view = View(300.0, faces, (640.0, 600.0))  # type: ignore[arg-type]
    seen = landing(view, (0.30, 0.50), (0.38, 0.10), shank_deg)
    word = judge(seen, 7.0)
    mark = landing_mark(seen, word, border_deg(seen, 7.0), view, 2.2)
    assert mark.limit_px is not None
    beyond_px = (mark.ankle_on_belt_px[0] - mark.limit_px[0]) * (1.0 if faces == "right" else -1.0)
    assert word == ("ahead" if beyond_px > 0.0 else "within")


def test_a_landing_without_a_value_is_marked_where_it_was_seen() -> None:
    view = View(300.0, "right", (640.0, 600.0))
    mark = landing_mark(landing(view, (0.3, 0.5), (0.38, 0.1), None), None, 8.0, view, 2.2)
    assert view.to_bay(np.array(mark.ankle_on_belt_px))[0] == pytest.approx(0.38)


def test_without_a_limit_there_is_no_limit_point() -> None:
    view = View(300.0, "right", (640.0, 600.0))
    mark = landing_mark(landing(view, (0.3, 0.5), (0.3, 0.1)), None, None, view, 2.0)
    assert mark.limit_px is None


def test_a_mark_is_worked_out_anew_for_whatever_it_depends_on_and_ages_meanwhile() -> None:
    view, moved = (View(300.0, "right", (x, 600.0)) for x in (640.0, 641.0))
    seen, later = (landing(view, (x_m, 0.5), (0.38, 0.1)) for x_m in (0.3, 0.31))
    marks = Marks()
    first = (seen, "ahead", 8.0, view)
    for given, told in (
        (first, True), (first, True), ((seen, "ahead", 8.0, moved), True), (first, True),
        ((seen, None, None, view), False), ((seen, "ahead", 7.5, view), True),
        ((seen, "within", 7.5, view), True), ((later, "within", 7.5, view), True),
    ):  # fmt: skip
        for t_s in (2.1, 2.2):
            found = marks.of(*given, t_s, told)  # type: ignore[arg-type]
            wanted = landing_mark(*given, t_s, told)  # type: ignore[arg-type]
            assert astuple(found) == astuple(wanted)
    assert marks.of(*first, 2.3).plumb_px is marks.of(*first, 2.4).plumb_px  # type: ignore[arg-type]


def test_a_legs_points_are_hip_to_toe_of_that_side() -> None:
    xy = np.arange(66, dtype=np.float64).reshape(33, 2)
    pose = Pose(0.0, 0, xy, np.ones(33), 100, 100)
    assert leg_points(pose, "left")[:, 0].tolist() == [46.0, 50.0, 54.0, 58.0, 62.0]
    assert leg_points(pose, "right")[:, 0].tolist() == [48.0, 52.0, 56.0, 60.0, 64.0]
