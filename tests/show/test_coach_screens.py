"""The coach's strip as values; the screens of belt, hops, felt landings and keys as pictures."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from coach_figures import FIGURES

from station.coach.scene import (
    DrillStatus,
    FeltStatus,
    HopStatus,
    KeyAnswer,
    Scene,
    Sentence,
)
from station.live.answers import ANSWERS
from station.settings import read_words
from station.settings.resources import names
from station.show import palette
from station.show.coach_strip import NONE, strip_rows
from station.show.keys import keys_card
from station.show.painter import Painter

BELT = DrillStatus(
    "Faster", 2, 3, "8.5 mph", 60.0, belt_waits=True, belt_measured="7.4 mph", belt_rises=True
)
UNCHANGED = replace(
    BELT, belt_speed="10:00 min/mile", belt_measured="10:30 min/mile", belt_unchanged=True
)
HOPS = DrillStatus("Hops", 1, 3, "3.5 mph", None, hop=HopStatus("left", 6, 1, 5))
LANGUAGES = names("config/words")
SIZES = [(640, 360, 1.0), (1280, 720, 1.3), (720, 1280, 1.0)]


# --- the strip ----------------------------------------------------------------------------------


def test_the_strips_rows(make: SimpleNamespace) -> None:
    rows = {row.label: row for row in strip_rows(FIGURES, read_words("en"))}
    assert rows["2/5"].texts == ("Faster",)
    assert rows["until mastered; at most"].aside == "1:24"
    assert (rows["limit"].texts, rows["limit"].aside) == (("7.8°", "8.1°"), "own / usual")
    assert rows["shank"].texts == ("6.4°", NONE)
    assert (rows["within"].texts, rows["within"].aside) == (("94 %", NONE), "≥ 90 %")
    assert (rows["judged"].texts, rows["judged"].aside) == (("58", "0"), "≥ 20")
    assert rows["unjudged"].texts == ("4 %", NONE)
    assert rows["sure"].texts == ("81 %", NONE)
    assert rows["belt"].texts == ("7.5 mph  measured 7.3",)
    assert (rows["rate"].texts, rows["rate"].aside) == (("172 / 174",), "not held")
    assert rows["cues"].texts == ("fading",)
    texts = [text for row in strip_rows(FIGURES, read_words("en")) for text in row.texts]
    assert "12 given, 3 withheld" in texts
    assert "many landings unjudged" in texts


def test_the_strip_says_what_is_not_there() -> None:
    words = read_words("en")
    bare = replace(
        FIGURES, waiting="hops", left=6, belt_asked=None, belt_measured=None, target_spm=None,
        rate_spm=None, gate=None, feedback_on=False, flags=(),
    )  # fmt: skip
    rows = {row.label: row for row in strip_rows(bare, words)}
    assert rows["hops to go, this foot"].aside == "6"
    assert rows["belt"].texts == ("belt stopped",)
    assert rows["rate"].texts == (NONE,)
    assert rows["within"].aside == rows["judged"].aside == ""
    assert rows["cues"].texts == ("off",)
    assert "!" not in rows


# --- the pictures -------------------------------------------------------------------------------


def scenes(make: SimpleNamespace) -> dict[str, Scene]:
    drill = make.scene().drill
    own = replace(drill, proving=True, share_within=())
    return {
        "belt": make.scene(drill=BELT),
        "belt not measured": make.scene(
            drill=replace(BELT, belt_speed="10:30 min/mile", belt_measured=None, belt_rises=None)
        ),
        "belt to stand": make.scene(drill=replace(BELT, belt_speed=None)),
        "hops": make.scene(drill=HOPS),
        "last hop": make.scene(drill=replace(HOPS, hop=HopStatus("right", 1, 12, 12))),
        "felt": make.scene(state="felt", felt=FeltStatus()),
        "felt typed": make.scene(state="felt", felt=FeltStatus(typed=1)),
        "felt answered": make.scene(state="felt", felt=FeltStatus(10, None, 6, 10)),
        "felt unknown": make.scene(state="felt", felt=FeltStatus(3, None, None, 0)),
        "own": make.scene(
            drill=own, show_verdict=False, sentence=Sentence("on_your_own", "calm"), trail=()
        ),
        "overload": make.scene(sentence=Sentence("slower_or_rest", "warning")),
        "coach": make.scene(coach=FIGURES, answer=KeyAnswer("key_no_further", "refused")),
        "coach at the left": make.scene(
            view=make.view("left"), coach=FIGURES, answer=KeyAnswer("key_end_again", "asks")
        ),
        "coach in a rest": make.scene(state="rest", coach=FIGURES),
        "coach while the belt waits": make.scene(drill=BELT, coach=FIGURES),
        "belt unchanged": make.scene(drill=UNCHANGED),
        "rest with another belt": make.scene(state="rest", drill=replace(drill, belt_changes=True)),
        "coach in a rest with another belt": make.scene(
            state="rest", drill=replace(drill, belt_changes=True), coach=FIGURES,
            sentence=Sentence("rest_now", "calm"),
        ),
        "coach in hops": make.scene(drill=HOPS, coach=FIGURES),
        "coach and a tired runner": make.scene(sentence=Sentence("tired", "calm"), coach=FIGURES),
    }  # fmt: skip


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_is_cut(
    drawn: list[Any], make: SimpleNamespace, language: str,
    size: tuple[int, int, float],
) -> None:  # fmt: skip
    painter = Painter(size[0], size[1], read_words(language), size[2])
    frame = make.grey_frame()
    for name, scene in scenes(make).items():
        drawn.clear()
        painter.paint(replace(scene, frame=frame))
        assert drawn, name
        assert [one for one in drawn if max(one.over) > 1] == [], name
        assert [one for one in drawn if one.text.endswith("\u2026")] == [], name


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_answer_to_a_key_is_shown_whole(
    drawn: list[Any], make: SimpleNamespace, language: str
) -> None:
    words = read_words(language)
    painter = Painter(640, 360, words)
    for key, fields in ANSWERS.items():
        values = tuple((name, "12.5 km/h") for name in fields)
        drawn.clear()
        painter.paint(make.scene(answer=KeyAnswer(key, "done", values)))
        shown = " ".join(one.text for one in drawn if max(one.over) <= 1)
        assert words.sentence(key, **dict(values)) in shown


@pytest.mark.parametrize("size", SIZES)
def test_everything_stays_off_the_stage(
    make: SimpleNamespace, size: tuple[int, int, float]
) -> None:
    """What a screen adds lies in the wings or on the floor: the runner stays to be seen."""
    wide, high, scale = size
    painter = Painter(wide, high, make.words, scale)
    stage = painter._layout.stage
    for name, scene in scenes(make).items():
        bare = replace(scene, leg_near_px=None, leg_far_px=None, landings=(), trail=(), view=None,
                       show_guides=False)  # fmt: skip
        image = painter.paint(bare).astype(float)
        plain = painter.paint(
            replace(bare, state="drill", drill=None, sentence=None, rhythm=None, answer=None,
                    coach=None)
        ).astype(float)  # fmt: skip
        free = np.abs(image - plain)[stage.y : stage.bottom, stage.x : stage.right]
        assert free.size
        assert free.max() == 0.0, name


@pytest.mark.parametrize("size", SIZES)
def test_the_coachs_things_cover_nothing_that_the_runner_reads(
    make: SimpleNamespace, size: tuple[int, int, float]
) -> None:
    """Each stands on plain ground: without it nothing but that ground is there."""
    covering, bare = (Painter(size[0], size[1], read_words("en"), size[2]) for _ in range(2))
    for part in (bare._coach, bare._answer):
        true = part.paint
        part.paint = lambda screen, *a, true=true: true(screen.copy(), *a)  # type: ignore[assignment]
    answer = KeyAnswer("key_no_further", "refused")
    for name, scene in scenes(make).items():
        if scene.coach is None:
            continue
        scene = replace(scene, answer=answer)
        shown = covering.paint(scene).astype(int)
        below = bare.paint(scene).astype(int)
        covered = below[(shown != below).any(axis=2)]
        assert len(covered) > 5_000, name
        assert (covered == palette.NIGHT).all(), name


def test_notices_stand_below_the_answer(make: SimpleNamespace) -> None:
    painter = Painter(make.width, make.height, make.words)
    answered = make.scene(answer=KeyAnswer("key_no_further", "refused"), show_verdict=False)
    before = painter.paint(answered).astype(int)
    after = painter.paint(replace(answered, notices=("Sound is off",))).astype(int)
    covered = before[(after != before).any(axis=2)]
    assert len(covered) > 500
    assert (covered == palette.NIGHT).all()


def test_each_legs_figures_have_a_column_of_their_own(make: SimpleNamespace) -> None:
    painter = Painter(make.width, make.height, make.words)

    def columns(leg: int) -> tuple[int, int]:
        """Columns that change with one leg's limit."""
        legs = [*FIGURES.legs]
        legs[leg] = replace(legs[leg], limit_deg=0.1)
        shown = (
            painter.paint(make.scene(coach=figures)).copy()
            for figures in (FIGURES, replace(FIGURES, legs=tuple(legs)))
        )
        before, after = shown
        changed = np.nonzero((before != after).any(axis=(0, 2)))[0]
        return int(changed.min()), int(changed.max())

    (label, left), (right, end) = columns(0), columns(1)
    box = painter._layout.column(right=True)
    assert box.x < label < left < right < end < box.right


def test_the_strip_and_the_answer_do_not_overlap(make: SimpleNamespace) -> None:
    painter = Painter(make.width, make.height, make.words)
    for name in ("coach", "coach at the left"):
        scene = scenes(make)[name]
        both = painter.paint(scene).copy()
        strip = painter.paint(replace(scene, answer=None)).copy()
        answer = painter.paint(replace(scene, coach=None, answer=scene.answer)).copy()
        plain = painter.paint(replace(scene, coach=None, answer=None)).copy()
        changed = (strip != plain).any(axis=2)
        assert changed.sum() > 10_000
        half = make.width // 2
        right = changed[:, half:].any()
        assert right != changed[:, :half].any(), "at one edge alone"
        # ahead of a runner who faces right in the camera's picture is left on the mirrored screen
        assert right == (name == "coach")
        said = (both != strip).any(axis=2)
        assert said.any()
        assert not (said & changed).any()
        assert (answer != plain).any()


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("drill", [BELT, UNCHANGED], ids=["waits", "unchanged"])
def test_upright_what_the_wings_say_of_the_belt_stays_off_the_runner(
    make: SimpleNamespace, language: str, drill: DrillStatus
) -> None:
    """With the coach's strip on the floor these texts stand in the wings, which the stage ends."""
    painter = Painter(1080, 1920, read_words(language))
    scene = make.scene(drill=drill)
    stage = painter._layout.stage
    rows = slice(stage.y, stage.bottom)
    without = painter.paint(scene)[rows].copy()
    beside = painter.paint(replace(scene, coach=FIGURES))[rows]
    assert (beside == without).all()


def test_the_belt_that_waits_differs_up_and_down_without_colour(make: SimpleNamespace) -> None:
    painter = Painter(make.width, make.height, make.words)
    up = painter.paint(make.scene(drill=BELT)).astype(float).mean(axis=2)
    down = (
        painter.paint(make.scene(drill=replace(BELT, belt_rises=False))).astype(float).mean(axis=2)
    )
    assert (np.abs(up - down) > 60).sum() > 500
    share = (np.abs(painter.paint(make.scene(drill=BELT)).astype(int) - palette.CHANGE)
             .sum(axis=2) < 40).mean()  # fmt: skip
    assert share > 0.12, "an eighth of the whole screen"


def test_the_foot_to_hop_on_is_filled_and_stands_on_its_own_side(make: SimpleNamespace) -> None:
    painter = Painter(make.width, make.height, make.words)
    middle = make.width // 2

    def yellow(foot: str) -> tuple[int, int]:
        hop = HopStatus(foot, 4, 1, 5)  # type: ignore[arg-type]
        scene = make.scene(drill=replace(HOPS, hop=hop), rhythm=None, landings=(), trail=())
        low = painter._layout.floor().y
        near = np.abs(painter.paint(scene)[low:].astype(int) - palette.BEAT).sum(axis=2) < 40
        word = slice(middle - 350, middle + 350)
        near[:, word] = False
        return int(near[:, :middle].sum()), int(near[:, middle:].sum())

    left, right = yellow("left"), yellow("right")
    assert left[0] > 1000
    assert left[1] == 0
    assert right[1] > 1000
    assert right[0] == 0


def test_a_count_of_landings_shows_as_so_many_full_pegs(make: SimpleNamespace) -> None:
    painter = Painter(make.width, make.height, make.words)

    def full(good: int, within: int) -> tuple[int, int]:
        image = painter.paint(make.scene(state="felt", felt=FeltStatus(good, None, within, 10)))
        counts = []
        for colour in (palette.BEAT, palette.WITHIN):
            near = np.abs(image.astype(int) - colour).sum(axis=2) < 40
            counts.append(int(near.sum()))
        return counts[0], counts[1]

    assert full(8, 6)[0] > full(2, 6)[0] + 5 * 700
    assert full(8, 6)[1] > full(8, 1)[1] + 4 * 700
    assert full(8, 6)[0] == full(8, 1)[0]


def test_none_good_is_a_place_of_its_own(make: SimpleNamespace) -> None:
    painter = Painter(make.width, make.height, make.words)

    def full(typed: int | None) -> int:
        image = painter.paint(make.scene(state="felt", felt=FeltStatus(typed=typed)))
        return int((np.abs(image.astype(int) - palette.BEAT).sum(axis=2) < 40).sum())

    none, zero, one = full(None), full(0), full(1)
    assert zero > none + 700
    assert one == pytest.approx(zero, rel=0.05), "one place is full in each"


def test_the_count_is_not_shown_before_the_answer(make: SimpleNamespace) -> None:
    painter = Painter(make.width, make.height, make.words)
    asked = painter.paint(make.scene(state="felt", felt=FeltStatus(within=6))).copy()
    assert np.array_equal(asked, painter.paint(make.scene(state="felt", felt=FeltStatus())))


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("size", SIZES)
def test_the_card_of_keys_fits_and_is_whole(
    drawn: list[Any], language: str, size: tuple[int, int, float]
) -> None:
    card = keys_card(size[0], size[1], read_words(language), size[2])
    assert card.shape[0] <= size[1]
    assert card.shape[1] <= size[0]
    assert [one for one in drawn if max(one.over) > 1] == []
