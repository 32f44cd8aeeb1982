"""The set-up's pages: places apart and on the screen, text inside, clicks on the right pixel."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from station.coach.choice import Choice
from station.coach.setup.course import SKIP, SetupCourse
from station.coach.setup.page import Entry, SetupPage
from station.coach.setup.values import Camera, Chosen, Clicked, Failed, Heard, Nudged, Opened, Typed
from station.commands.setup_screen import meaning
from station.settings import read_words
from station.show.setup_page import SetupPainter
from station.show.window import Answered
from station.values import Bay

SIZES = [(1280, 720), (1920, 1080), (640, 360), (1080, 1920)]
PICTURE = np.random.default_rng(1).integers(0, 255, (360, 640, 3), np.uint8)


def pages() -> dict[str, SetupPage]:
    """Each step's page, with as much on it as there can be."""
    course = SetupCourse(Bay(), [Camera(n, f"Camera number {n} (/dev/video{n})") for n in range(6)])
    course.begin()
    course.told(Opened("One", 640, 360, 60.0, True, 0.01, lock_refused=True))
    found = {}
    while True:
        name = course.step.name
        course.take(Clicked(100.0, 300.0))
        course.take(Clicked(600.0, 310.0))
        for sign in "12":
            course.take(Typed(sign))
        if name == "sound":
            course.take(Chosen("play"))
            course.told(Failed("sound", "PortAudio opens no sound input: no default device"))
            found["sound-alone"] = course.page()
            course.told(Heard("loudspeaker", 0.4, 0.2, 3.0))
        found[name] = course.page()
        if name == "save":
            return found
        course.take(Chosen(SKIP))


PAGES = pages()


@pytest.fixture(scope="module")
def painters() -> dict[tuple[tuple[int, int], str], SetupPainter]:
    return {(s, w): SetupPainter(*s, read_words(w)) for s in SIZES for w in ("en", "de")}


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("size", SIZES)
def test_each_place_is_its_own_and_on_the_screen(painters, size, language) -> None:
    painter = painters[size, language]
    for name, page in PAGES.items():
        painter.paint(page, PICTURE)
        places = painter.places
        wanted = {o.id for o in page.body.offers} | {f"entry:{e.id}" for e in page.body.entries}
        assert wanted < {place for place, _ in places}, name
        for place, box in places:
            assert box.x >= 0, (name, place)
            assert box.y >= 0, (name, place)
            assert box.right <= size[0], (name, place)
            assert box.bottom <= size[1], (name, place)
            assert box.w > 60 * min(size[0] / 1280, size[1] / 720), (name, place)
            assert painter.choice_at(*box.middle) == place
        for (one, a), (two, b) in combinations(places, 2):
            apart = a.right <= b.x or b.right <= a.x or a.bottom <= b.y or b.bottom <= a.y
            assert apart, (name, one, two)


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("size", SIZES)
def test_no_text_runs_into_what_is_below_it(painters, size, language) -> None:
    painter = painters[size, language]
    for name, page in PAGES.items():
        painter.paint(page, PICTURE)
        lowest = min(box.y for _, box in painter.places)
        assert painter.text_bottom <= lowest, name


def test_a_click_is_on_the_cameras_own_pixel(painters) -> None:
    painter = painters[(1280, 720), "en"]
    painter.paint(PAGES["level"], PICTURE)
    for point in ((0.5, 0.5), (320.0, 180.0), (639.5, 359.5)):
        at = painter.frame.on_screen(point)
        back = painter.in_picture(*at)
        assert back == pytest.approx(point, abs=0.01)
    assert painter.in_picture(1270.0, 400.0) is None
    painter.paint(PAGES["folder"])
    assert painter.in_picture(*painter.frame.on_screen((320.0, 180.0))) is None


def test_the_picture_is_not_mirrored(painters) -> None:
    painter = painters[(1280, 720), "en"]
    half = np.zeros((360, 640, 3), np.uint8)
    half[:, :320] = 255
    screen = painter.paint(PAGES["camera"], half)
    left, right = (painter.frame.on_screen((x, 180.0)) for x in (100.0, 500.0))
    assert screen[round(left[1]), round(left[0])].tolist() == [255] * 3
    assert screen[round(right[1]), round(right[0])].tolist() == [0] * 3


def test_the_loupe_shows_the_marked_pixel_in_its_middle(painters) -> None:
    painter = painters[(1280, 720), "en"]
    picture = np.zeros((360, 640, 3), np.uint8)
    picture[309:311, 599:601] = 255  # about the last mark of the belt's page
    screen = painter.paint(PAGES["belt"], picture).copy()
    frame = painter.frame.place
    loupe = screen[frame.y + 9 : frame.y + 160, frame.x + 9 : frame.x + 230]
    white = np.argwhere((loupe == 255).all(axis=2))
    assert len(white) > 80  # four pixels, six times as large each way, but for the cross
    middle = white.mean(axis=0)
    assert middle == pytest.approx((np.array((156, 228)) / 2.0 - 1.0), abs=2.5)


@pytest.mark.parametrize(
    ("answered", "page", "done"),
    [
        (Answered(face="Enter"), "level", Chosen("next")),
        (Answered(face="PgUp"), "level", Chosen("back")),
        (Answered(face="PgDn"), "level", Chosen("skip")),
        (Answered(face="Esc"), "level", Chosen("leave")),
        (Answered(face="Left"), "level", Nudged(-1, 0)),
        (Answered(face="Down"), "level", Nudged(0, 1)),
        (Answered(face="1", text="1"), "level", Chosen("clear")),
        (Answered(face="1", text="1"), "scale", Typed("1")),
        (Answered(face="Back"), "scale", Typed("erase")),
        (Answered(face="Back"), "level", None),
        (Answered(face="A", text="a"), "folder", Typed("a")),
        (Answered(face="Space", text=" "), "folder", Typed(" ")),
        (Answered(face="Tab"), "learn", Chosen("entry:incline")),
        (Answered(face="X", text="x"), "level", None),
        (Answered(at=(2.0, 300.0)), "level", None),
    ],
)
def test_what_a_key_means_on_a_page(painters, answered, page, done) -> None:
    painter = painters[(1280, 720), "en"]
    painter.paint(PAGES[page], PICTURE)
    assert meaning(answered, PAGES[page], painter) == done


def test_before_the_first_page_nothing_means_anything(painters) -> None:
    assert meaning(Answered(face="Enter"), None, painters[(1280, 720), "en"]) is None


def test_a_click_in_the_picture_marks_it(painters) -> None:
    painter = painters[(1280, 720), "en"]
    painter.paint(PAGES["scale"], PICTURE)
    at = painter.frame.on_screen((123.0, 45.0))
    done = meaning(Answered(at=at), PAGES["scale"], painter)
    assert isinstance(done, Clicked)
    assert (done.x, done.y) == pytest.approx((123.0, 45.0), abs=0.01)


def test_offers_and_entries_are_what_the_step_says() -> None:
    assert {type(o) for p in PAGES.values() for o in p.body.offers} == {Choice}
    assert {type(e) for p in PAGES.values() for e in p.body.entries} == {Entry}
