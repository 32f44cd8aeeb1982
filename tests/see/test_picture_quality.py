import numpy as np
import pytest
from still_camera import noisy, spoiled

from station.see.picture_quality import picture_quality


@pytest.mark.parametrize("noise", [0.0, 3.0])
@pytest.mark.parametrize("sigma_px", [1.0, 2.0, 3.0])
def test_edges_are_as_wide_as_the_blur_makes_them(sigma_px: float, noise: float) -> None:
    images = [spoiled(seed, sigma_px, noise) for seed in range(16)]
    edge_px = picture_quality(images).edge_px
    assert edge_px is not None
    # The steepest slope of an edge blurred by a Gaussian is contrast / (sigma sqrt(2 pi)).
    assert edge_px == pytest.approx(np.sqrt(2 * np.pi) * sigma_px, rel=0.25)


def test_a_sharp_picture_has_narrow_edges_though_it_is_noisy() -> None:
    edge_px = picture_quality([noisy(number) for number in range(16)]).edge_px
    assert edge_px is not None
    assert edge_px < 1.5


def test_an_even_picture_has_no_edges() -> None:
    flat = np.full((90, 160, 3), 128, np.uint8)
    assert picture_quality([flat]).edge_px is None


@pytest.mark.parametrize(("level", "brightness", "white"), [(0, 0.0, 0.0), (255, 1.0, 1.0)])
def test_black_and_white(level: int, brightness: float, white: float) -> None:
    quality = picture_quality([np.full((90, 160, 3), level, np.uint8)])
    assert quality.brightness == pytest.approx(brightness, abs=1e-6)
    assert quality.white == pytest.approx(white)
