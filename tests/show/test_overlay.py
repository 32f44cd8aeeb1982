from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from station.show import shapes
from station.show.layout import Box
from station.show.overlay import Overlay

Image = NDArray[np.uint8]
BOX = Box(30, 20, 60, 50)


def mark(image: Image) -> None:
    shapes.disc(image, (28.3, 24.7), 15.0, (40, 160, 230))


def ground() -> Image:
    coarse = np.random.default_rng(5).integers(0, 256, (10, 15, 3), np.uint8)
    return coarse.repeat(10, axis=0).repeat(10, axis=1)


@pytest.fixture
def drawn() -> Image:
    """What drawing on the ground itself gives."""
    image = ground()
    mark(image[BOX.y : BOX.bottom, BOX.x : BOX.right])
    return image


def test_laid_it_looks_as_drawn(drawn: Image) -> None:
    overlay, image = Overlay(), ground()
    overlay.draw(BOX, mark)
    overlay.lay(image)
    assert np.abs(image.astype(int) - drawn).max() <= 3  # smooth edges are rounded once more
    outside = np.ones(image.shape[:2], bool)
    outside[BOX.y : BOX.bottom, BOX.x : BOX.right] = False
    assert np.array_equal(image[outside], ground()[outside])


@pytest.mark.parametrize("opacity", [0.0, 0.25, 0.5, 0.9])
def test_faded_it_lies_between_ground_and_drawing(drawn: Image, opacity: float) -> None:
    overlay, image = Overlay(), ground()
    overlay.draw(BOX, mark)
    overlay.lay(image, opacity)
    wanted = opacity * drawn + (1.0 - opacity) * ground()
    assert np.abs(image - wanted).max() <= 4.0  # and twice more


def test_what_was_drawn_before_leaves_nothing(drawn: Image) -> None:
    overlay, image = Overlay(), ground()
    overlay.draw(Box(0, 0, 150, 100), lambda part: part.fill(90))
    overlay.lay(image.copy(), 0.5)
    overlay.draw(BOX, mark)
    overlay.lay(image)
    assert np.abs(image.astype(int) - drawn).max() <= 3


def test_nowhere_nothing_is_drawn() -> None:
    overlay, image = Overlay(), ground()
    for box in (Box(10, 10, 0, 5), Box(10, 10, 5, -3)):
        overlay.draw(box, mark)
        overlay.lay(image)
    assert np.array_equal(image, ground())
