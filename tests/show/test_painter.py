from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, get_args

import cv2
import numpy as np
import pytest
from coach_figures import FIGURES
from numpy.typing import NDArray

from station.coach.scene import (
    DrillStatus,
    FeltStatus,
    HopStatus,
    KeyAnswer,
    LandingMark,
    LandingStill,
    Rhythm,
    Scene,
    Sentence,
    State,
)
from station.show import palette
from station.show.kept import KeptPanel
from station.show.layout import Box
from station.show.painter import Painter
from station.show.rhythm import pace, rider, timing
from station.show.text import TextBook
from station.values import Facing, Verdict

Image = NDArray[np.uint8]


@pytest.fixture(scope="module")
def painter(make: SimpleNamespace) -> Painter:
    return Painter(make.width, make.height, make.words)


def bare(make: SimpleNamespace, faces: Facing, verdict: Verdict | None) -> Scene:
    """A scene with nothing but a landing, its shoe left unknown so that its mark stands alone."""
    nowhere = (float("nan"), float("nan"))
    landing = replace(
        make.mark(verdict, faces), heel_px=nowhere, toe_px=nowhere, limit_px=None,
        knee_px=(500.0, 300.0), plumb_px=(500.0, 630.0),
    )  # fmt: skip
    return make.scene(
        show_view=False, leg_near_px=None, leg_far_px=None, drill=None, rhythm=None, trail=(),
        sentence=None, view=make.view(faces), landings=(landing,),
    )  # fmt: skip


def on_screen(painter: Painter, make: SimpleNamespace, at: tuple[float, float]) -> tuple[int, int]:
    """Where the painter shows a spot of the camera's picture, found in the painted pixels."""
    frame = make.grey_frame()
    frame.image[:] = 0
    x, y = round(at[0]), round(at[1])
    frame.image[y - 4 : y + 5, x - 4 : x + 5] = 255
    image = painter.paint(
        make.scene(frame=frame, leg_near_px=None, leg_far_px=None, landings=(), drill=None,
                   rhythm=None, trail=(), sentence=None, show_guides=False)
    )  # fmt: skip
    rows, columns = np.nonzero(image.min(axis=2) > 150)
    return round(columns.mean()), round(rows.mean())


def near(image: Image, colour: palette.Colour) -> NDArray[np.bool_]:
    return (np.abs(image.astype(int) - colour).sum(axis=2)) < 40


def test_the_verdicts_differ_in_shape(painter: Painter, make: SimpleNamespace) -> None:
    x, y = on_screen(painter, make, (700.0, 630.0))
    within = painter.paint(bare(make, "right", "within"))[y, x].copy()
    ahead = painter.paint(bare(make, "right", "ahead"))[y, x].copy()
    assert tuple(within) == palette.WITHIN  # a filled peg
    assert tuple(ahead) != palette.AHEAD  # a hollow wedge


@pytest.mark.parametrize(("faces", "back"), [("right", 1), ("left", -1)])
def test_the_wedge_points_back(
    painter: Painter, make: SimpleNamespace, faces: Facing, back: int
) -> None:
    x, y = on_screen(painter, make, (700.0, 630.0))
    image = painter.paint(bare(make, faces, "ahead"))
    part = near(image[y - 19 : y + 20, x - 28 : x + 29], palette.AHEAD)
    columns = np.nonzero(part.any(axis=0))[0]
    tip_column = columns.max() if back > 0 else columns.min()
    base_column = columns.min() if back > 0 else columns.max()
    assert np.ptp(np.nonzero(part[:, tip_column])[0]) < np.ptp(np.nonzero(part[:, base_column])[0])


@pytest.mark.parametrize("faces", ["right", "left"])
def test_the_verdicts_words_stand_on_opposite_sides_of_the_mark(
    painter: Painter, make: SimpleNamespace, faces: Facing
) -> None:
    x, y = on_screen(painter, make, (700.0, 630.0))
    below = slice(y + 30, y + 90)
    middle = {}
    for verdict, colour in (("within", palette.WITHIN), ("ahead", palette.AHEAD)):
        landing = make.mark(verdict, faces)
        scene = replace(bare(make, faces, verdict), landings=(landing,))  # type: ignore[arg-type]
        columns = np.nonzero(near(painter.paint(scene)[below], colour))[1]
        assert len(columns) > 500
        middle[verdict] = columns.mean()
    ahead_is_left = faces == "right"  # mirrored
    assert (middle["ahead"] < x < middle["within"]) == ahead_is_left
    assert (middle["within"] < x < middle["ahead"]) != ahead_is_left


def test_the_picture_is_mirrored(painter: Painter, make: SimpleNamespace) -> None:
    left, right = (on_screen(painter, make, (at, 400.0)) for at in (560.0, 720.0))
    assert left[0] > right[0] + 100
    assert left[1] == right[1]


def test_text_is_not_mirrored(painter: Painter, make: SimpleNamespace) -> None:
    rate = np.zeros((90, 200, 3), np.uint8)
    rate[:] = palette.NIGHT
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
    assert near(hidden, palette.PLUMB)[450:560].sum() > 100


@pytest.mark.parametrize("way", [1, -1])
def test_the_stages_light_falls_off_into_the_wings(
    painter: Painter, make: SimpleNamespace, way: int
) -> None:
    frame = make.grey_frame()
    frame.image[:] = 140
    image = painter.paint(make.scene(frame=frame, show_guides=False, landings=()))
    stage = painter._layout.stage
    across = image[200, stage.x : stage.right][::way].astype(int)
    assert across[0] == pytest.approx(palette.NIGHT, abs=3)
    assert (np.diff(across[2:100], axis=0) >= -1).all()
    assert (across[70:-70] == 140).all()


def test_marks_fade_within_about_one_step(painter: Painter, make: SimpleNamespace) -> None:
    def blue(age_s: float) -> int:
        marked = make.scene(landings=(make.mark("within", age_s=age_s),), trail=())
        return int(near(painter.paint(marked)[535:655, 400:880], palette.WITHIN).sum())

    assert blue(0.0) == blue(0.1) > 500
    assert blue(0.40) == 0  # 170 steps a minute: 0.353 s each
    gone = painter.paint(make.scene(landings=(make.mark("within", age_s=0.42),))).copy()
    assert np.array_equal(gone, painter.paint(make.scene(landings=())))


def test_a_mark_and_its_word_go_before_the_other_foot_is_on_the_belt(
    painter: Painter, make: SimpleNamespace
) -> None:
    """170 steps a minute: 0.353 s each; a foot that has landed is told of alone."""
    lay = painter._layout
    floor = slice(lay.belt_y + lay.deck + lay.gap, lay.word_line + lay.px(12))
    on_belt = slice(lay.belt_y - lay.px(40), lay.belt_y + lay.deck)
    bare = make.scene(landings=(), trail=(), leg_near_px=None, leg_far_px=None)
    empty = painter.paint(bare).copy()

    def shown(rows: slice, *landings: LandingMark) -> bool:
        image = painter.paint(replace(bare, landings=landings))
        return not np.array_equal(image[rows], empty[rows])

    old = make.mark("within", age_s=0.305)
    assert not shown(on_belt, old)
    assert shown(floor, old), "it is still to be read, under the belt"
    assert not shown(floor, make.mark("within", age_s=0.36))
    old = make.mark("within", age_s=0.3)
    other = replace(make.mark("ahead", at_x=760.0), side="left")
    both = painter.paint(replace(bare, landings=(old, other))).copy()
    assert np.array_equal(both, painter.paint(replace(bare, landings=(other,))))


def test_a_landing_without_a_verdict_says_why(painter: Painter, make: SimpleNamespace) -> None:
    lay = painter._layout
    rows = slice(lay.belt_y + lay.deck + lay.gap, lay.word_line + lay.px(12))
    mark = make.mark(None)
    seen = {
        told: painter.paint(make.scene(landings=(replace(mark, told=told),)))[rows].copy()
        for told in (True, False)
    }
    nothing = painter.paint(make.scene(landings=()))[rows].copy()
    assert not np.array_equal(seen[True], nothing)
    assert not np.array_equal(seen[True], seen[False])


def test_a_drill_without_marks_names_the_foot_and_nothing_else(
    make: SimpleNamespace, drawn: list[Any]
) -> None:
    painter = Painter(make.width, make.height, make.words)
    told = (replace(make.mark(None), told=False),)
    bare = {"drill": None, "rhythm": None, "trail": (), "sentence": None, "show_verdict": False}
    painter.paint(make.scene(**bare, landings=told))
    foot = make.words.label(f"{told[0].side}_foot")
    assert [one.text for one in drawn if one.text] == [foot], (
        "what the drill tells, a wing says once"
    )


@pytest.mark.parametrize("size", [(1280, 720), (720, 1280)])
@pytest.mark.parametrize("changes", [{"show_verdict": False}, {"show_guides": False}])
def test_a_drill_without_marks_says_so(
    make: SimpleNamespace, changes: dict[str, bool], size: tuple[int, int], drawn: list[Any]
) -> None:
    painter = Painter(*size, make.words)
    hops = replace(make.scene().drill, hop=HopStatus("left", 6, 1, 5))
    for drill in (make.scene().drill, hops):
        drawn.clear()
        painter.paint(make.scene(drill=drill, **changes))
        assert "no marks" in {one.text for one in drawn}
        drawn.clear()
        painter.paint(make.scene(drill=drill))
        assert drawn
        assert "no marks" not in {one.text for one in drawn}


@pytest.mark.parametrize("size", [(1280, 720), (720, 1280)])
def test_a_change_of_belt_leaves_verdict_and_sentence_to_be_read(
    make: SimpleNamespace, size: tuple[int, int]
) -> None:
    painter = Painter(*size, make.words)
    floor = painter._layout.floor()
    rows = slice(floor.y, floor.bottom)
    plain = painter.paint(make.scene()).copy()
    asked = painter.paint(make.scene(drill=replace(make.scene().drill, belt_changes=True)))
    assert np.array_equal(asked[rows], plain[rows])
    bright = near(asked, palette.CHANGE).sum() - near(plain, palette.CHANGE).sum()
    assert bright > 0.02 * asked.shape[0] * asked.shape[1]


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


def changes_of(plain: Scene, make: SimpleNamespace) -> list[dict[str, Any]]:
    """What changes in a scene while the rest stays, one after the other."""
    drill, rhythm, mark = plain.drill, plain.rhythm, plain.landings[0]
    hop = HopStatus("left", 6, 1, 5)
    return [
        {}, {"rhythm": replace(rhythm, step_rate_spm=181.0)}, {"rhythm": None},
        {"rhythm": replace(rhythm, beat_age_s=0.2)}, {"rhythm": replace(rhythm, offset_s=0.09)},
        {"drill": replace(drill, seconds_left=3.0)}, {"drill": replace(drill, belt_changes=True)},
        {"drill": replace(drill, belt_waits=True)}, {"drill": replace(drill, hop=hop)},
        {"drill": replace(drill, share_within=(("left", 0.5),))}, {"drill": None},
        {"landings": ()}, {"landings": (make.mark("ahead"),)}, {"landings": (make.mark(None),)},
        {"landings": (replace(mark, age_s=0.3),)}, {"landings": (replace(mark, side="left"),)},
        {"landings": (replace(mark, toe_px=(mark.toe_px[0] - 20.0, mark.toe_px[1])),)},
        {"trail": ()}, {"trail": plain.trail[:-1]}, {"notices": ()}, {"sentence": None},
        {"notices": tuple(f"{n} and so on{' word' * 40}" for n in ("one", "two", "three"))},
        {"sentence": Sentence("lift_knees", "correction")}, {"view": None}, {"frame": None},
        {"show_view": False}, {"show_guides": False}, {"show_verdict": False},
        {"show_verdict": False, "notices": ()},
        {"answer": KeyAnswer("key_over", "refused")}, {"state": "rest"}, {"state": "paused"},
        {"state": "countdown"}, {"state": "felt"}, {"state": "felt", "felt": FeltStatus(typed=1)},
        {"state": "countdown", "drill": replace(drill, seconds_left=2.3)},
        {"state": "trouble", "sentence": Sentence("come_forward", "warning")},
        {"sentence": Sentence("stop_belt", "warning")}, {"sentence": Sentence("tired", "warning")},
        {"drill": replace(drill, hop=hop), "show_verdict": False},
        {"state": "rest", "drill": replace(drill, belt_changes=True)},
        {"drill": replace(drill, belt_waits=True, belt_unchanged=True, belt_speed="10:00 min/mile",
                          belt_measured="10:30 min/mile")},
        {"stills": (still(make),)}, {"state": "rest", "stills": (still(make), still(make))},
    ]  # fmt: skip


def still(make: SimpleNamespace) -> LandingStill:
    return LandingStill(make.grey_frame(), make.view(), make.mark("within"), 8.0)


@pytest.mark.parametrize("size", [(1280, 720), (720, 1280)])
@pytest.mark.parametrize("given", ["no strip", "strip at the right", "strip at the left"])
def test_painting_is_the_same_whatever_was_painted_before(
    make: SimpleNamespace, size: tuple[int, int], given: str
) -> None:
    """Wings and floor are painted anew only when they change: nothing of before may be left."""
    faces: Facing = "left" if given == "strip at the left" else "right"
    plain = make.scene(
        notices=("Sound is off",), view=make.view(faces), landings=(make.mark("within", faces),),
        coach=None if given == "no strip" else FIGURES,
    )  # fmt: skip
    used = Painter(*size, make.words)
    befores: list[dict[str, Any]] = [{}]
    if given == "no strip" and size[0] > size[1]:
        drill = plain.drill
        befores += [
            {"drill": replace(drill, belt_changes=True)},
            {"state": "countdown", "drill": replace(drill, seconds_left=2.1)},
        ]
    elif given != "no strip":
        befores = [{"coach": replace(FIGURES, left=83.0, flags=())}]
    for change in changes_of(plain, make):
        scene = replace(plain, **change)
        used.paint(replace(plain, state="done"))  # after it all of the screen is painted
        whole = used.paint(scene).copy()
        assert np.array_equal(used.paint(scene), whole), change
        for before in befores:
            used.paint(replace(plain, **before))
            used.pulse(replace(plain.rhythm, beat_age_s=0.3))
            assert np.array_equal(used.paint(scene), whole), (before, change)


def test_wings_and_floor_are_left_as_they_are_while_they_do_not_change(
    make: SimpleNamespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    laid: list[Box] = []
    true = KeptPanel.lay
    monkeypatch.setattr(
        KeptPanel, "lay",
        lambda self, screen, box, *a: laid.append(box) or true(self, screen, box, *a),
    )  # fmt: skip
    painter = Painter(make.width, make.height, make.words)
    scene = make.scene()
    painter.paint(scene)
    assert len(laid) > 4
    laid.clear()
    for age_s in (0.01, 0.05, 0.1):
        rhythm = replace(scene.rhythm, beat_age_s=age_s)
        left_s = scene.drill.seconds_left - age_s / 10.0
        drill = replace(scene.drill, seconds_left=left_s)
        painter.paint(replace(scene, t_s=age_s, rhythm=rhythm, drill=drill))
    assert len(laid) == 3, "the word below the mark, and nothing else"


@pytest.mark.parametrize("size", [(1280, 720, 1.0), (1280, 720, 1.3), (720, 1280, 1.0)])
def test_nothing_covers_the_runner(make: SimpleNamespace, size: tuple[int, int, float]) -> None:
    """From above the head to the belt the picture is free in every state, the belt's line apart.

    Only a warning that takes the screen may cover the head, and no key of the coach brings more.
    """
    painter = Painter(size[0], size[1], make.words, size[2])
    lay = painter._layout
    stage = lay.stage
    soft = lay.px(60)
    rows, columns = (
        slice(stage.y, lay.belt_y - lay.px(8)), slice(stage.x + soft, stage.right - soft)
    )  # fmt: skip
    nothing = {"leg_near_px": None, "leg_far_px": None, "landings": ()}
    plain = painter.paint(make.scene(**nothing, show_guides=False, drill=None)).copy()
    picture = plain[rows, columns].astype(float)
    hop = replace(make.scene().drill, hop=HopStatus("left", 6, 1, 5))
    for state in get_args(State):
        for drill in (make.scene().drill, hop, replace(hop, hop=None, belt_waits=True)):
            if state != "drill" and drill is not make.scene().drill:
                continue
            shown = painter.paint(make.scene(state=state, drill=drill, **nothing))
            part = shown[rows, columns].astype(float)
            factor = part[5, 5, 0] / picture[5, 5, 0]
            assert np.abs(part - factor * picture).max() <= 1.0, state


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
    assert Painter(640, 360, make.words).pulse(make.scene().rhythm) is None
    painter.paint(make.scene())
    before = painter.paint(make.scene(**changes)).copy()
    assert painter.pulse(Rhythm(170.0, 174.0, 0.0, 0.345, 0.01, 4)) is None
    assert (painter.paint(make.scene(**changes)) == before).all()
