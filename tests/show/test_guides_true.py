"""The guides against the simulated runner's known truth, pixel against pixel.

The truth is painted into the camera's picture as a dot. Where the painter shows that dot, without
any guide, is where the guide has to be: found in the painted picture, not taken from the painter.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from demo.screens import LIMIT_DEG, Scenery, landing
from station.coach.scene import LandingMark, Scene
from station.show import palette
from station.show.painter import Painter
from station.simulate.gait import Runner
from station.values import Facing, Frame, Verdict

Image = NDArray[np.uint8]
NOWHERE = (float("nan"), float("nan"))
FINE_PX = 1.5
"""A guide may be off by so much; one that is off by 3 px has to be noticed."""
SIZES = [(1280, 720), (720, 1280)]


@cache
def truth(faces: Facing, shank_deg: float, verdict: Verdict) -> tuple[LandingMark, Scene]:
    """The mark of a contact from the runner's exact truth, and an empty scene of its view."""
    scenery = Scenery(faces, shank_deg)
    step = scenery.contact()
    figure = Runner(scenery.gait).figure_at(step.t_contact_s)
    mark = landing(figure, step, scenery.view, verdict, step.t_contact_s)
    # The belt's point under the ankle from the truth's own metres, not from the mark's geometry.
    ankle_x = float(figure.legs[step.side].ankle[0])
    knee_x = ankle_x - step.ankle_ahead_m
    belt = {x: scenery.view.to_image(np.array([x, 0.0])) for x in (ankle_x, knee_x)}
    assert np.allclose(mark.ankle_on_belt_px, belt[ankle_x], atol=0.05)
    assert np.allclose(mark.plumb_px, belt[knee_x], atol=0.05)
    scene = Scene(
        step.t_contact_s, "drill", None, replace(scenery.view), landings=(mark,), show_view=True
    )
    return mark, scene


def with_dot(scene: Scene, at: tuple[float, float]) -> Scene:
    """The scene with nothing but a dot in the camera's picture."""
    image = np.zeros((720, 1280, 3), np.uint8)
    centre = (round(at[0] * 16), round(at[1] * 16))
    cv2.circle(image, centre, 5 * 16, (255, 255, 255), -1, cv2.LINE_AA, 4)
    return replace(scene, frame=Frame(0.0, 0, image), landings=(), show_guides=False)


def coloured(image: Image, colour: palette.Colour) -> NDArray[np.bool_]:
    return np.abs(image.astype(int) - colour).sum(axis=2) < 40


def true_place(painter: Painter, scene: Scene, at: tuple[float, float]) -> NDArray[np.float64]:
    bright = painter.paint(with_dot(scene, at))[..., 0] > 127
    rows, columns = np.nonzero(bright)
    return np.array([columns.mean(), rows.mean()])


def mark_place(
    painter: Painter, scene: Scene, mark: LandingMark, near: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Where the ankle's mark is painted, all other guides left out."""
    alone = replace(
        mark, heel_px=NOWHERE, toe_px=NOWHERE, limit_px=None, age_s=0.0,
        knee_px=(600.0, 200.0), plumb_px=(600.0, 200.0),
    )  # fmt: skip
    image = painter.paint(replace(scene, landings=(alone,), show_view=False, view=None))
    shown = palette.WITHIN if mark.verdict == "within" else palette.AHEAD
    reach = painter._layout.px(24)
    x, y = (max(0, round(float(at)) - reach) for at in near)
    part = coloured(image[y : y + 2 * reach + 1, x : x + 2 * reach + 1], shown)
    rows, columns = np.nonzero(part)
    assert len(rows) > 20
    return np.array([columns.mean() + x, rows.mean() + y])


@pytest.fixture(scope="module", params=SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def painter(request: pytest.FixtureRequest, make: SimpleNamespace) -> Painter:
    return Painter(*request.param, make.words)


@pytest.mark.parametrize("faces", ["right", "left"])
@pytest.mark.parametrize(("verdict", "shank_deg"), [("within", 5.0), ("ahead", 16.0)])
def test_the_landing_mark_drops_where_the_foot_landed(
    painter: Painter, faces: Facing, verdict: Verdict, shank_deg: float
) -> None:
    mark, scene = truth(faces, shank_deg, verdict)
    true = true_place(painter, scene, mark.ankle_on_belt_px)
    painter.paint(replace(scene, frame=with_dot(scene, (0.0, 0.0)).frame, landings=()))
    x, y = mark.ankle_on_belt_px
    for aside in ((0.0, 0.0), (3.0, 0.0), (-3.0, 0.0), (0.0, 3.0), (0.0, -3.0)):
        moved = replace(mark, ankle_on_belt_px=(x + aside[0], y + aside[1]))
        off = float(np.hypot(*(mark_place(painter, scene, moved, true) - true)))
        if aside == (0.0, 0.0):
            assert off < FINE_PX
        else:
            assert off > FINE_PX, "3 pixels of the camera's picture would go unnoticed"


@pytest.mark.parametrize("faces", ["right", "left"])
def test_plumb_line_and_limit_stand_where_they_are(painter: Painter, faces: Facing) -> None:
    mark, scene = truth(faces, 5.0, "within")
    lay = painter._layout
    assert mark.limit_px is not None
    plumb, limit = (true_place(painter, scene, at) for at in (mark.plumb_px, mark.limit_px))
    knee = true_place(painter, scene, mark.knee_px)
    shown = replace(mark, heel_px=NOWHERE, toe_px=NOWHERE, age_s=0.0, verdict=None)
    blank = replace(scene, frame=with_dot(scene, (0.0, 0.0)).frame)
    image = painter.paint(replace(blank, landings=(shown,)))
    # The line half way between knee and belt; the stop's top, above the belt's line.
    half = round((knee[1] + plumb[1]) / 2.0)
    line = coloured(image[half : half + 5], palette.PLUMB)
    columns = np.nonzero(line[:, round(plumb[0]) - 20 : round(plumb[0]) + 21])[1]
    assert columns.mean() + round(plumb[0]) - 20 == pytest.approx(plumb[0], abs=FINE_PX)
    above = slice(round(limit[1]) - lay.px(10), round(limit[1]) - lay.px(4))
    stop = coloured(image[above], palette.ZONE)
    columns = np.nonzero(stop[:, round(limit[0]) - 20 : round(limit[0]) + 21])[1]
    assert columns.mean() + round(limit[0]) - 20 == pytest.approx(limit[0], abs=FINE_PX)
    assert LIMIT_DEG == 8.0  # what the truth's limit stands for
