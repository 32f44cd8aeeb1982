from __future__ import annotations

import math

import pytest

from station.show import palette
from station.show.legibility import letter_height_m, text_scale


@pytest.mark.parametrize(
    ("colour", "ratio"),
    # WCAG 2.x formula, worked out apart from this code (BGR here)
    [((0, 0, 0), 21.0), ((0x76,) * 3, 4.5422), ((0x77,) * 3, 4.4781), ((0, 0, 255), 3.9985)],
)
def test_contrast_on_white_follows_the_wcag_formula(colour: palette.Colour, ratio: float) -> None:
    assert palette.contrast(colour, palette.WHITE) == pytest.approx(ratio, abs=1e-3)


def test_okabe_ito_on_black() -> None:
    # worked out from the published colours, Okabe & Ito 2002/2008
    for colour, ratio in (
        (palette.ORANGE, 9.324), (palette.SKY, 9.101), (palette.GREEN, 6.138),
        (palette.YELLOW, 15.881), (palette.VERMILLION, 5.430), (palette.PURPLE, 6.860),
    ):  # fmt: skip
        assert palette.contrast(colour, palette.BLACK) == pytest.approx(ratio, abs=2e-3)


@pytest.mark.parametrize("pair", palette.TEXT_PAIRS)
def test_text_contrast(pair: tuple[palette.Colour, palette.Colour]) -> None:
    assert palette.contrast(*pair) >= 4.5  # WCAG SC 1.4.3


@pytest.mark.parametrize("pair", palette.MARK_PAIRS)
def test_mark_contrast(pair: tuple[palette.Colour, palette.Colour]) -> None:
    assert palette.contrast(*pair) >= 3.0  # WCAG SC 1.4.11


@pytest.mark.parametrize(
    ("arcmin", "distance_m", "mm"),
    [(16, 1.0, 4.654), (20, 2.0, 11.636), (22, 2.5, 15.999), (22, 3.0, 19.199)],
)
def test_letter_height(arcmin: float, distance_m: float, mm: float) -> None:
    # 2 D tan(a/2); 16 minimum, 20 to 22 preferred: ISO 9241-3
    assert 1000.0 * letter_height_m(arcmin, distance_m) == pytest.approx(mm, abs=1e-3)


def test_text_grows_for_a_small_screen_only() -> None:
    assert text_scale(None, 2.5, 1280, 720) == 1.0
    assert text_scale(1.4, 2.5, 1280, 720) == 1.0
    middle = text_scale(0.7, 2.5, 1280, 720)
    needed_px = letter_height_m(22.0, 2.5) * math.hypot(1280, 720) / 0.7
    assert middle == pytest.approx(needed_px / 29.0)
    assert text_scale(0.3, 2.5, 1280, 720) == 1.3
