from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import get_args

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from station.coach.scene import DrillStatus, Rhythm, Sentence, State
from station.show import palette
from station.show.painter import Painter
from station.show.rhythm import pace, rider, timing
from station.show.text import TextBook
from station.values import Facing, Verdict

Image = NDArray[np.uint8]


@pytest.fixture(scope="module")
def painter(make: SimpleNamespace) -> Painter:
    return Painter(make.width, make.height, make.words)


def bare(make: SimpleNamespace, faces: Facing, verdict: Verdict | None) -> object:
    """A scene with nothing but a landing, its shoe left unknown so that its mark stands alone."""
    nowhere = (float("nan"), float("nan"))
    landing = replace(
        make.mark(verdict, faces), heel_px=nowhere, toe_px=nowhere, limit_px=None,
        knee_px=(100.0, 300.0), plumb_px=(100.0, 630.0),
    )  # fmt: skip
    return make.scene(
        frame=None, leg_near_px=None, leg_far_px=None, drill=None, rhythm=None, trail=(),
        sentence=None, view=make.view(faces), landings=(landing,),
    )  # fmt: skip


def near(image: Image, colour: palette.Colour) -> NDArray[np.bool_]:
    return (np.abs(image.astype(int) - colour).sum(axis=2)) < 40


@pytest.mark.parametrize("faces", ["left", "right"])
@pytest.mark.parametrize("verdict", ["within", "ahead"])
def test_the_landing_mark_stands_at_the_mirrored_truth(
    painter: Painter, make: SimpleNamespace, faces: Facing, verdict: Verdict
) -> None:
    image = painter.paint(bare(make, faces, verdict))  # type: ignore[arg-type]
    colour = palette.WITHIN if verdict == "within" else palette.AHEAD
    truth = (make.width - 1 - 700.0, 630.0)
    around = image[600:660, int(truth[0]) - 25 : int(truth[0]) + 26]
    rows, columns = np.nonzero(near(around, colour))
    assert len(rows) > 100
    centre = (columns.mean() + int(truth[0]) - 25, rows.mean() + 600)
    assert np.hypot(centre[0] - truth[0], centre[1] - truth[1]) < 1.0


def test_the_verdicts_differ_in_shape(painter: Painter, make: SimpleNamespace) -> None:
    spot = (630, make.width - 1 - 700)
    within = painter.paint(bare(make, "right", "within"))[spot].copy()  # type: ignore[arg-type]
    ahead = painter.paint(bare(make, "right", "ahead"))[spot].copy()  # type: ignore[arg-type]
    assert tuple(within) == palette.WITHIN  # a filled peg
    assert tuple(ahead) != palette.AHEAD  # a hollow wedge


@pytest.mark.parametrize(("faces", "back"), [("right", 1), ("left", -1)])
def test_the_wedge_points_back(
    painter: Painter, make: SimpleNamespace, faces: Facing, back: int
) -> None:
    image = painter.paint(bare(make, faces, "ahead"))  # type: ignore[arg-type]
    x = make.width - 1 - 700
    part = near(image[600:660, x - 25 : x + 26], palette.AHEAD)
    heights = part.any(axis=1), part.sum(axis=0)
    columns = np.nonzero(heights[1])[0]
    tip_column = columns.max() if back > 0 else columns.min()
    base_column = columns.min() if back > 0 else columns.max()
    assert np.ptp(np.nonzero(part[:, tip_column])[0]) < np.ptp(np.nonzero(part[:, base_column])[0])


def test_the_picture_is_mirrored(painter: Painter, make: SimpleNamespace) -> None:
    scene = make.scene(
        leg_near_px=None, leg_far_px=None, drill=None, rhythm=None, trail=(), landings=(),
        sentence=None, show_guides=False,
    )  # fmt: skip
    assert np.array_equal(painter.paint(scene), scene.frame.image[:, ::-1])


def test_text_is_not_mirrored(painter: Painter, make: SimpleNamespace) -> None:
    rate = np.zeros((90, 200, 3), np.uint8)
    rate[:] = palette.INK
    TextBook().draw(rate, "174", (10, 80), 70)
    image = painter.paint(
        make.scene(rhythm=replace(make.scene().rhythm, step_rate_spm=174.0, beat_age_s=None))
    )
    corner = np.ascontiguousarray(image[:260, :360])
    upright = cv2.matchTemplate(corner, rate, cv2.TM_CCOEFF_NORMED).max()
    flipped = cv2.matchTemplate(
        corner, np.ascontiguousarray(rate[:, ::-1]), cv2.TM_CCOEFF_NORMED
    ).max()
    assert upright > 0.95
    assert flipped < 0.8


def test_guides_off_paints_none(painter: Painter, make: SimpleNamespace) -> None:
    hidden = painter.paint(make.scene(show_guides=False)).copy()
    nothing = painter.paint(
        make.scene(leg_near_px=None, leg_far_px=None, landings=(), trail=(),
                   show_guides=False)
    ).copy()  # fmt: skip
    assert np.array_equal(hidden, nothing)
    assert not np.array_equal(hidden, painter.paint(make.scene()))


def test_view_off_shows_no_picture_but_the_guides(painter: Painter, make: SimpleNamespace) -> None:
    hidden = painter.paint(make.scene(show_view=False)).copy()
    other_frame = make.grey_frame()
    other_frame.image[:] = 33
    assert np.array_equal(hidden, painter.paint(make.scene(show_view=False, frame=other_frame)))
    assert near(hidden, palette.LEG_NEAR).sum() > 500
    assert near(hidden, palette.PLUMB)[500:600].sum() > 100


def test_marks_fade_within_about_one_step(painter: Painter, make: SimpleNamespace) -> None:
    def blue(age_s: float) -> int:
        marked = make.scene(landings=(make.mark("within", age_s=age_s),), trail=())
        return int(near(painter.paint(marked)[600:655], palette.WITHIN).sum())

    assert blue(0.0) == blue(0.1) > 500
    assert blue(0.40) == 0  # 170 steps a minute: 0.353 s each
    gone = painter.paint(make.scene(landings=(make.mark("within", age_s=0.42),))).copy()
    assert np.array_equal(gone, painter.paint(make.scene(landings=())))


@pytest.mark.parametrize("state", get_args(State))
def test_every_state_paints_its_own_picture(
    painter: Painter, make: SimpleNamespace, state: State
) -> None:
    plain = make.grey_frame().image[:, ::-1]
    image = painter.paint(make.scene(state=state))
    assert image.shape == (make.height, make.width, 3)
    assert image.dtype == np.uint8
    assert not np.array_equal(image, plain)
    others = {s: painter.paint(make.scene(state=s)).copy() for s in get_args(State)}
    same = [s for s, shown in others.items() if np.array_equal(shown, others[state])]
    assert same == [state]


@pytest.mark.parametrize("state", get_args(State))
def test_an_empty_scene_paints(painter: Painter, make: SimpleNamespace, state: State) -> None:
    scene = make.scene(
        state=state, frame=None, view=None, leg_near_px=None, leg_far_px=None, drill=None,
        rhythm=None, landings=(), trail=(), sentence=None,
    )  # fmt: skip
    assert painter.paint(scene).shape == (make.height, make.width, 3)


def test_unknown_points_and_long_texts_paint(painter: Painter, make: SimpleNamespace) -> None:
    leg = np.full((5, 2), np.nan)
    scene = make.scene(
        leg_near_px=leg,
        landings=(replace(make.mark("ahead"), knee_px=(float("nan"), 1.0)),),
        drill=DrillStatus("x" * 90, 12, 40, "10:00 min/mile", None, 12345, True),
        sentence=Sentence("word " * 40, "warning"),
        notices=("a notice " * 20, "short", "third", "fourth"),
    )
    assert painter.paint(scene).any()


def test_the_same_buffer_is_returned(painter: Painter, make: SimpleNamespace) -> None:
    first = painter.paint(make.scene())
    assert painter.paint(make.scene(show_view=False)) is first
    assert painter.paint(make.scene(state="rest")) is first


def test_painting_is_the_same_whatever_was_painted_before(make: SimpleNamespace) -> None:
    scenes = [
        make.scene(), make.scene(rhythm=replace(make.scene().rhythm, step_rate_spm=181.0)),
        make.scene(drill=replace(make.scene().drill, belt_changes=True)), make.scene(trail=()),
        make.scene(landings=(make.mark("ahead"),)),
    ]  # fmt: skip
    used = Painter(make.width, make.height, make.words)
    shown = [used.paint(s).copy() for s in scenes]
    for scene, image in zip(scenes, shown, strict=True):
        fresh = Painter(make.width, make.height, make.words)
        assert np.array_equal(fresh.paint(scene), image)


@pytest.mark.parametrize("text_scale", [1.0, 1.3])
def test_panels_leave_the_legs_free(make: SimpleNamespace, text_scale: float) -> None:
    """Between the hips and the belt, where the runner is, nothing covers the picture."""
    painter = Painter(make.width, make.height, make.words, text_scale)
    for state in get_args(State):
        scene = make.scene(
            state=state, leg_near_px=None, leg_far_px=None, landings=(),
            drill=replace(make.scene().drill, belt_changes=True),
        )  # fmt: skip
        image = painter.paint(scene)[370:625, 380:900].astype(float)
        picture = scene.frame.image[370:625, ::-1][:, 380:900].astype(float)
        factor = image[0, 0, 0] / picture[0, 0, 0]
        assert np.abs(image - factor * picture).max() <= 1.0, state


@pytest.mark.parametrize(
    ("rate", "wanted"),
    [(160.0, "faster"), (173.0, "on_target"), (190.0, "slower"), (None, None)],
)
def test_pace(make: SimpleNamespace, rate: float | None, wanted: str | None) -> None:
    assert pace(replace(make.scene().rhythm, step_rate_spm=rate)) == wanted


@pytest.mark.parametrize(
    ("offset_s", "wanted"),
    [(-0.06, "early"), (0.06, "late"), (-0.02, "on_the_beat"), (None, None)],
)
def test_timing(make: SimpleNamespace, offset_s: float | None, wanted: str | None) -> None:
    assert timing(replace(make.scene().rhythm, offset_s=offset_s)) == wanted


@pytest.mark.parametrize("offset_s", [-0.06, -0.03, 0.0, 0.03, 0.06])
def test_with_one_beat_per_stride_timing_is_read_against_the_step(
    make: SimpleNamespace, offset_s: float
) -> None:
    per_step = replace(make.scene().rhythm, offset_s=offset_s)
    per_stride = replace(per_step, beat_period_s=0.69, step_period_s=0.345)
    assert timing(per_stride) == timing(per_step)
    assert rider(per_stride) == pytest.approx(rider(per_step))


def test_with_one_beat_per_stride_the_pulse_stays_filled_as_long_and_closes_over_the_stride(
    painter: Painter, make: SimpleNamespace
) -> None:
    step = replace(make.scene().rhythm, step_rate_spm=174.0, offset_s=None)
    stride = replace(step, beat_period_s=0.69, step_period_s=0.345)

    def yellow(rhythm: Rhythm, age_s: float) -> int:
        scene = make.scene(rhythm=replace(rhythm, beat_age_s=age_s))
        return int(near(painter.paint(scene)[:260, :360], palette.BEAT).sum())

    for age_s in (0.0, 0.07):
        assert yellow(stride, age_s) == yellow(step, age_s), "a full disc on both"
    assert yellow(stride, 0.08) < yellow(stride, 0.07)
    assert yellow(stride, 0.345) < yellow(stride, 0.0), "no pulse on the silent place"
    assert yellow(stride, 0.1) > yellow(stride, 0.345) > yellow(stride, 0.68)


def test_the_pulse_fills_on_the_beat_and_closes_in_before_it(
    painter: Painter, make: SimpleNamespace
) -> None:
    def yellow(age_s: float | None) -> int:
        rhythm = replace(make.scene().rhythm, beat_age_s=age_s, step_rate_spm=174.0, offset_s=None)
        return int(near(painter.paint(make.scene(rhythm=rhythm))[:260, :360], palette.BEAT).sum())

    on, soon, later = yellow(0.0), yellow(0.1), yellow(0.3)
    assert on > soon > later > yellow(None)


@pytest.mark.parametrize("age_s", [0.01, 0.1, 0.3])
def test_a_pulse_painted_alone_is_as_in_the_whole_picture(
    painter: Painter, make: SimpleNamespace, age_s: float
) -> None:
    now = make.scene(rhythm=Rhythm(170.0, 174.0, age_s, 0.345, 0.01, 4))
    whole = painter.paint(now).copy()
    before = painter.paint(make.scene(rhythm=Rhythm(170.0, 174.0, 0.2, 0.345, 0.01, 4))).copy()
    painted = painter.pulse(now.rhythm)
    assert painted is not None
    image, box = painted
    assert (image == whole).all()
    changed = np.argwhere((image != before).any(axis=2))
    assert changed.size
    (y0, x0), (y1, x1) = changed.min(axis=0), changed.max(axis=0)
    assert box.x <= x0 <= x1 < box.right
    assert box.y <= y0 <= y1 < box.bottom


@pytest.mark.parametrize("changes", [{"state": "paused"}, {"state": "rest"}, {"rhythm": None}])
def test_a_picture_without_a_pulse_gets_none(
    painter: Painter, make: SimpleNamespace, changes: dict[str, object]
) -> None:
    painter.paint(make.scene())
    before = painter.paint(make.scene(**changes)).copy()
    assert painter.pulse(Rhythm(170.0, 174.0, 0.0, 0.345, 0.01, 4)) is None
    assert (painter.paint(make.scene(**changes)) == before).all()
