from __future__ import annotations

import numpy as np
import pytest

from station.show.mirror import Mirror


def test_pixel_centres_mirror_onto_pixel_centres() -> None:
    mirror = Mirror((1280, 720), (1280, 720))
    np.testing.assert_allclose(
        mirror.point(np.array([[0.0, 5.0], [1279.0, 5.0], [100.25, 7.5]])),
        [[1279.0, 5.0], [0.0, 5.0], [1178.75, 7.5]],
    )


@pytest.mark.parametrize(
    ("picture", "screen"),
    [((640, 480), (640, 480)), ((640, 480), (1280, 720)), ((1920, 1080), (1280, 720)),
     ((500, 700), (640, 360))],
)  # fmt: skip
def test_a_spot_in_the_picture_lands_where_its_point_says(
    picture: tuple[int, int], screen: tuple[int, int]
) -> None:
    mirror = Mirror(picture, screen)
    image = np.zeros((picture[1], picture[0], 3), np.uint8)
    image[300:321, 100:121] = 255
    shown = np.zeros((screen[1], screen[0], 3), np.uint8)
    mirror.picture_into(image, shown)
    rows, columns = np.nonzero(shown[..., 0] > 127)
    np.testing.assert_allclose(
        (columns.mean(), rows.mean()), mirror.point((110.0, 310.0)), atol=0.6
    )


def test_a_picture_of_another_shape_is_not_distorted() -> None:
    mirror = Mirror((640, 480), (1280, 720))
    across = mirror.point((0.0, 0.0)) - mirror.point((100.0, 0.0))
    down = mirror.point((0.0, 100.0)) - mirror.point((0.0, 0.0))
    assert across[0] == pytest.approx(down[1])
    assert not mirror.fills
