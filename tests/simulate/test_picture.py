"""The picture of the simulated runner: exact below a pixel, and its options of trouble."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from station.simulate.figure import Arm, Figure, Leg
from station.simulate.picture import Painter, PictureOptions, demo_view
from station.values import Facing

WIDTH, HEIGHT = 640, 360
VIEW = demo_view(WIDTH, HEIGHT)


def standing(height_m: float = 1.75, ahead_m: float = 0.0, travel_m: float = 0.0) -> Figure:
    """Build a figure that stands with its far leg a step behind."""
    k = height_m / 1.75

    def at(x: float, y: float) -> np.ndarray:
        return np.array([x * k + ahead_m, y * k])

    def leg(x: float) -> Leg:
        return Leg(
            at(0.0, 0.92), at(x / 2 + 0.02, 0.50), at(x, 0.09), at(x - 0.08, 0.03),
            at(x + 0.18, 0.01), at(x - 0.07, 0.0), at(x + 0.11, 0.0), at(x + 0.17, 0.0), True,
        )  # fmt: skip

    def arm(x: float) -> Arm:
        return Arm(at(0.03, 1.42), at(x, 1.12), at(x + 0.2, 1.05))

    return Figure(
        0.0, {"right": leg(0.0), "left": leg(-0.3)}, {"right": arm(-0.1), "left": arm(0.1)},
        at(0.07, 1.62), at(0.17, 1.61), height_m, travel_m,
    )  # fmt: skip


def centre_of_change(empty: np.ndarray, image: np.ndarray) -> np.ndarray:
    """Return where the runner's pixels lie, weighted by how much they differ from the room."""
    change = np.abs(image.astype(float) - empty.astype(float)).sum(axis=2)
    rows, columns = np.mgrid[: change.shape[0], : change.shape[1]]
    return np.array([(columns * change).sum(), (rows * change).sum()]) / change.sum()


def knee_patch(image: np.ndarray, figure: Figure) -> np.ndarray:
    """Cut the picture about the near knee: even wall behind, skin before."""
    x, y = VIEW.to_image(figure.legs["right"].knee).astype(int)
    return image[y - 25 : y + 12, x - 30 : x + 30]


@pytest.mark.parametrize("moved_px", [0.2, 0.5, 0.8])
def test_a_move_of_part_of_a_pixel_moves_the_pixels_by_as_much(moved_px: float) -> None:
    painter = Painter(VIEW, WIDTH, HEIGHT)
    empty = Painter(VIEW, WIDTH, HEIGHT, PictureOptions(runner=False)).paint(standing())
    still = standing()
    before = centre_of_change(knee_patch(empty, still), knee_patch(painter.paint(still), still))
    moved = standing(ahead_m=moved_px / VIEW.px_per_m)
    after = centre_of_change(knee_patch(empty, still), knee_patch(painter.paint(moved), still))
    # Both legs are cut by the patch's edge, so the centre moves a little less than they do.
    assert 0.4 * moved_px < after[0] - before[0] < 1.2 * moved_px


def test_joints_are_drawn_where_the_view_puts_them() -> None:
    figure = standing()
    only_skin = Painter(VIEW, WIDTH, HEIGHT).paint(figure)
    x, y = VIEW.to_image(figure.legs["right"].knee)
    row = only_skin[int(y), int(x) - 30 : int(x) + 30].astype(float)
    # On the knee's row the near leg is the reddest run of pixels.
    skin = (row[:, 2] - row[:, 0]) > 60.0
    middle_px = np.flatnonzero(skin).mean() + int(x) - 30 + 0.5
    assert abs(middle_px - x) < 0.01 * VIEW.px_per_m + 0.5


def test_facing_left_is_the_mirrored_runner_with_the_left_leg_near() -> None:
    right = Painter(VIEW, WIDTH, HEIGHT).paint(standing())
    figure = standing()
    turned = dataclasses.replace(
        figure,
        legs={"left": figure.legs["right"], "right": figure.legs["left"]},
        arms={"left": figure.arms["right"], "right": figure.arms["left"]},
    )
    left = Painter(demo_view(WIDTH, HEIGHT, "left"), WIDTH, HEIGHT).paint(turned)
    difference = np.abs(left[:, ::-1].astype(int) - right.astype(int))
    assert np.percentile(difference, 99) <= 25  # edges may fall a subpixel apart
    assert difference.mean() < 1.0


@pytest.mark.parametrize("faces", ["right", "left"])
def test_head_of_a_two_metre_runner_is_in_the_demo_view(faces: Facing) -> None:
    view = demo_view(faces=faces)
    assert view.near_side == faces
    assert view.to_image(np.array([0.0, 2.05]))[1] > 0
    assert 300.0 <= view.px_per_m <= 360.0
    figure = standing(2.0)
    painter = Painter(view, 1280, 720)
    empty = Painter(view, 1280, 720, PictureOptions(runner=False)).paint(figure)
    changed = (painter.paint(figure) != empty).any(axis=(1, 2))
    assert not changed[:3].any()
    assert changed.any()


def test_a_small_picture_shows_the_whole_runner() -> None:
    view = demo_view(640, 480)
    assert view.to_image(np.array([0.0, 2.0]))[1] > 0
    assert view.origin_px[1] < 480


def test_crop_leaves_out_the_lower_legs_and_keeps_the_head() -> None:
    view = demo_view(WIDTH, HEIGHT, crop_above_belt_m=0.45)
    figure = standing()
    knee_y = view.to_image(figure.legs["right"].knee)[1]
    ankle_y = view.to_image(figure.legs["right"].ankle)[1]
    assert knee_y < HEIGHT < ankle_y
    assert view.to_image(figure.head)[1] > 0
    assert Painter(view, WIDTH, HEIGHT).paint(figure).shape == (HEIGHT, WIDTH, 3)


def test_panel_hides_all_below_its_edge_and_nothing_above() -> None:
    hidden = Painter(VIEW, WIDTH, HEIGHT, PictureOptions(hide_below_m=0.45))
    a, b = hidden.paint(standing()), hidden.paint(standing(ahead_m=0.1, travel_m=0.2))
    edge = int(VIEW.to_image(np.array([0.0, 0.45]))[1])
    assert np.array_equal(a[edge + 2 :], b[edge + 2 :])
    clear = Painter(VIEW, WIDTH, HEIGHT).paint(standing())
    assert np.array_equal(a[: edge - 2], clear[: edge - 2])


def test_empty_belt_still_runs() -> None:
    painter = Painter(VIEW, WIDTH, HEIGHT, PictureOptions(runner=False))
    still, run = painter.paint(standing()), painter.paint(standing(travel_m=0.1))
    rows = np.flatnonzero((still != run).any(axis=(1, 2)))
    belt_y = VIEW.origin_px[1]
    assert len(rows)
    assert np.all(np.abs(rows - belt_y) < 0.1 * VIEW.px_per_m)


def test_belt_pattern_runs_backwards_with_the_belt() -> None:
    painter = Painter(VIEW, WIDTH, HEIGHT, PictureOptions(runner=False))
    row = int(VIEW.origin_px[1]) + 2
    left = int(VIEW.to_image(np.array([-0.4, 0.0]))[0])
    right = int(VIEW.to_image(np.array([0.5, 0.0]))[0])
    before = painter.paint(standing(travel_m=0.0))[row, :, 1].astype(float)
    after = painter.paint(standing(travel_m=10.0 / VIEW.px_per_m))[row, :, 1].astype(float)
    assert np.abs(after[left - 10 : right - 10] - before[left:right]).mean() < 2.0
    assert np.abs(after[left:right] - before[left:right]).mean() > 5.0


def test_dim_light_and_blur() -> None:
    clear = Painter(VIEW, WIDTH, HEIGHT).paint(standing())
    dim = Painter(VIEW, WIDTH, HEIGHT, PictureOptions(light=0.25)).paint(standing())
    assert dim.mean() == pytest.approx(clear.mean() * 0.25, rel=0.05)
    painter = Painter(VIEW, WIDTH, HEIGHT)
    smeared = painter.paint(*(standing(ahead_m=0.01 * i) for i in range(5)))

    def steepest(image: np.ndarray) -> float:
        x, y = VIEW.to_image(np.array([-0.05, 1.25])).astype(int)  # the back of the trunk
        part = image[y - 5 : y + 5, x - 25 : x + 10].astype(float)
        return float(np.abs(np.diff(part.sum(2), axis=1)).max())

    assert steepest(smeared) < 0.7 * steepest(clear)


def test_noise_is_seeded_and_has_the_strength_asked_for() -> None:
    options = PictureOptions(noise=4.0, seed=3)
    a = Painter(VIEW, WIDTH, HEIGHT, options)
    first, second = a.paint(standing()), a.paint(standing())
    again = Painter(VIEW, WIDTH, HEIGHT, options).paint(standing())
    assert np.array_equal(first, again)
    assert not np.array_equal(first, second)
    clear = Painter(VIEW, WIDTH, HEIGHT).paint(standing())
    spread = (first.astype(float) - clear.astype(float))[:100].std()
    assert 3.5 < spread < 4.5


def test_a_runner_outside_the_picture_is_no_trouble() -> None:
    painter = Painter(VIEW, WIDTH, HEIGHT)
    for ahead_m in (-9.0, 9.0):
        assert painter.paint(standing(ahead_m=ahead_m)).shape == (HEIGHT, WIDTH, 3)
    with pytest.raises(ValueError, match="at least one figure"):
        painter.paint()
