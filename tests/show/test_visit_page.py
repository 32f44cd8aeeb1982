"""The visit's pages: every answer has its own place, nothing is cut off, in either language."""

from __future__ import annotations

from itertools import combinations
from typing import get_args

import numpy as np
import pytest

from station.coach.visit.asking import Asking
from station.coach.visit.course import Visit, VisitState
from station.coach.visit.page import Page
from station.settings import read_words
from station.show.palette import contrast
from station.show.visit_page import LEAST_CHOICE, VisitPainter

STATES = [state for state in get_args(VisitState) if state != "session"]
SIZES = [(1280, 720), (640, 360), (1920, 1080), (1080, 1920)]


def pages() -> dict[str, Page]:
    found = {}
    for state in STATES:
        visit = Visit()
        visit.state = state
        visit.told = {"not_today": "pain_of_a_kind", "staff_call": "call_nobody_in_view"}.get(state)
        found[state] = Asking().page(visit, 0.0)
    visit, asking = Visit(), Asking()
    visit.state = "pain_before"
    asking.choose(visit, "pain:5")
    found["pain_where"] = asking.page(visit, 0.0)
    asking.choose(visit, "where:calf")
    found["pain_kind"] = asking.page(visit, 0.0)
    return found


PAGES = pages()


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", PAGES)
def test_each_answer_has_a_place_of_its_own_on_the_screen(name, size, language):
    painter = VisitPainter(*size, read_words(language))
    painter.paint(PAGES[name])
    places = painter.places
    assert {choice for choice, _ in places} == {c.id for c in PAGES[name].choices}
    assert len(places) == len(PAGES[name].choices)
    for choice, box in places:
        assert box.x >= 0
        assert box.y >= 0
        assert box.right <= size[0]
        assert box.bottom <= size[1]
        assert box.h >= 0.65 * LEAST_CHOICE * min(size[0] / 1280, size[1] / 720)
        assert painter.choice_at(*box.middle) == choice
    for (_, a), (_, b) in combinations(places, 2):
        apart = a.right <= b.x or b.right <= a.x or a.bottom <= b.y or b.bottom <= a.y
        assert apart


def test_a_touch_beside_every_place_answers_nothing():
    painter = VisitPainter(1280, 720, read_words("en"))
    painter.paint(PAGES["who"])
    assert painter.choice_at(2, 2) is None


def test_the_bar_grows_with_the_share():
    painter = VisitPainter(1280, 720, read_words("en"))
    green = []
    for share in (0.0, 0.5, 1.0):
        image = painter.paint(Page("view_check", share=share))
        green.append(int((image == (115, 158, 0)).all(axis=2).sum()))
    assert green[0] == 0
    assert green[1] == pytest.approx(0.5 * green[2], rel=0.02)


def test_what_was_confirmed_has_a_sign_and_not_a_colour_alone():
    painter = VisitPainter(1280, 720, read_words("en"))
    visit = Visit()
    visit.state = "readiness"
    before = painter.paint(Asking().page(visit, 0.0)).copy()
    visit.answers.ready.add("clip_on")
    after = painter.paint(Asking().page(visit, 0.0))
    box = dict(painter.places)["ready:clip_on"]
    inside = (slice(box.y + 8, box.bottom - 8), slice(box.middle[0], box.right - 8))
    grey = [image[inside].astype(int).sum(axis=2) for image in (before, after)]
    assert np.abs(grey[0] - grey[1]).max() > 100  # the tick, whatever its hue


def test_the_camera_is_seen_mirrored_and_dimmed_behind_the_view_check():
    painter = VisitPainter(1280, 720, read_words("en"))
    picture = np.zeros((720, 1280, 3), np.uint8)
    picture[600:700, 100:200] = 200
    image = painter.paint(Page("view_check"), picture)
    assert image[650, 1280 - 150].max() == pytest.approx(70, abs=2)
    assert image[650, 150].max() < 20


def test_texts_stand_out_from_their_ground():
    painter = VisitPainter(1280, 720, read_words("en"))
    painter.paint(PAGES["readiness"])
    image = painter.paint(PAGES["readiness"])
    box = dict(painter.places)["ready:shoes_tied"]
    part = image[box.y + 8 : box.bottom - 8, box.x + 8 : box.right - 8].reshape(-1, 3)
    light = tuple(int(v) for v in part[part.sum(axis=1).argmax()])
    dark = tuple(int(v) for v in part[part.sum(axis=1).argmin()])
    assert contrast(light, dark) >= 4.5
