from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.show.framing import HEAD_ROOM_M, Framing, framing
from station.show.layout import Box, Layout
from station.show.mirror import Mirror
from station.values import View

SCREENS = [(1280, 720), (1920, 1080), (720, 1280), (1024, 768)]


def whole(width: int, height: int) -> Mirror:
    frame = Framing(1.0, (0.0, 0.0), (0.0, 0.0), Box(0, 0, width, height))
    return Mirror((width, height), (width, height), frame)


def test_pixel_centres_mirror_onto_pixel_centres() -> None:
    np.testing.assert_allclose(
        whole(1280, 720).point(np.array([[0.0, 5.0], [1279.0, 5.0], [100.25, 7.5]])),
        [[1279.0, 5.0], [0.0, 5.0], [1178.75, 7.5]],
    )


def test_a_picture_as_large_as_its_place_is_only_flipped() -> None:
    image = np.random.default_rng(1).integers(0, 255, (48, 64, 3), np.uint8)
    shown = np.zeros_like(image)
    whole(64, 48).picture_into(image, shown)
    assert np.array_equal(shown, image[:, ::-1])


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("picture", [(640, 480), (1280, 720), (1920, 1080), (500, 700)])
@pytest.mark.parametrize("known", [True, False])
def test_a_spot_in_the_picture_lands_where_its_point_says(
    picture: tuple[int, int], screen: tuple[int, int], known: bool
) -> None:
    wide, high = picture
    view = View(0.43 * high, "right", (wide / 2.0, 0.9 * high)) if known else None
    mirror = Mirror(picture, screen, framing(picture, view, Layout(*screen)))
    x, y = wide // 2 + 30, high * 2 // 3
    image = np.zeros((high, wide, 3), np.uint8)
    image[y - 10 : y + 11, x - 10 : x + 11] = 255
    shown = np.zeros((screen[1], screen[0], 3), np.uint8)
    mirror.picture_into(image, shown)
    rows, columns = np.nonzero(shown[..., 0] > 127)
    at = (columns.mean(), rows.mean())
    np.testing.assert_allclose(at, mirror.point((float(x), float(y))), atol=0.6)


@pytest.mark.parametrize("screen", SCREENS)
def test_the_belt_lies_on_its_row_and_the_head_is_in_the_picture(screen: tuple[int, int]) -> None:
    layout = Layout(*screen)
    view = View(310.0, "right", (640.0, 650.0))
    mirror = Mirror((1280, 720), screen, framing((1280, 720), view, layout))
    head = view.origin_px[0], view.origin_px[1] - 310.0 * (HEAD_ROOM_M - 0.15)
    belt = mirror.point(view.origin_px)
    assert belt[1] == pytest.approx(layout.belt_y, abs=1.0)
    assert mirror.point(head)[1] >= layout.stage.y
    across = mirror.point((0.0, 0.0)) - mirror.point((100.0, 0.0))
    down = mirror.point((0.0, 100.0)) - mirror.point((0.0, 0.0))
    assert across[0] == pytest.approx(down[1], rel=0.004), "not distorted"


def test_a_belt_beside_the_pictures_middle_is_brought_to_the_stages_middle() -> None:
    layout = Layout(1280, 720)
    view = View(310.0, "right", (500.0, 650.0))
    mirror = Mirror((1280, 720), (1280, 720), framing((1280, 720), view, layout))
    assert mirror.point(view.origin_px)[0] == pytest.approx(640.0, abs=1.0)


def test_a_view_that_is_being_learned_does_not_make_the_picture_tremble() -> None:
    layout = Layout(1280, 720)
    view = View(310.0, "right", (640.0, 650.0))
    first = framing((1280, 720), view, layout)
    assert first.holds(framing((1280, 720), replace(view, px_per_m=314.0), layout), 5.0)
    assert first.holds(framing((1280, 720), replace(view, origin_px=(640.0, 653.0)), layout), 5.0)
    assert not first.holds(framing((1280, 720), replace(view, px_per_m=270.0), layout), 5.0)
    moved = replace(view, origin_px=(640.0, 630.0))
    assert not first.holds(framing((1280, 720), moved, layout), 5.0)


@pytest.mark.parametrize("belt_x", [80.0, 640.0, 1200.0])
def test_a_wide_picture_fills_the_stage_wherever_the_belt_is(belt_x: float) -> None:
    layout = Layout(1280, 720)
    view = View(310.0, "right", (belt_x, 650.0))
    box = Mirror((1280, 720), (1280, 720), framing((1280, 720), view, layout)).box
    edges = layout.stage.x, layout.stage.right
    assert (box.x, box.right) == pytest.approx(edges, abs=1), "whole pixels of the picture"


@pytest.mark.parametrize("belt_x", [100.0, 150.0, 220.0])
def test_a_picture_narrower_than_the_stage_stands_in_its_middle(belt_x: float) -> None:
    layout = Layout(1280, 720)
    view = View(310.0, "right", (belt_x, 650.0))
    box = Mirror((300, 720), (1280, 720), framing((300, 720), view, layout)).box
    assert box.w < 0.5 * layout.stage.w
    assert box.middle[0] == pytest.approx(layout.stage.middle[0], abs=1)


@pytest.mark.parametrize(("px_per_m", "rim"), [(210.0, False), (300.0, False), (340.0, True)])
def test_a_picture_that_ends_above_the_head_is_enlarged_by_a_third_at_most(
    px_per_m: float, rim: bool
) -> None:
    """The picture ends close over the head: rather a little larger than a dark rim above."""
    layout = Layout(1280, 720)
    view = View(px_per_m, "right", (640.0, 500.0))
    found = framing((1280, 720), view, layout)
    box = Mirror((1280, 720), (1280, 720), found).box
    plain = (layout.belt_y - layout.stage.y) / (HEAD_ROOM_M * px_per_m)
    assert found.scale <= 1.3 * plain + 1e-9
    assert (box.y > layout.stage.y + 1) == rim
