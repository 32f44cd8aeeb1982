"""The set-up's steps, on numbers alone: what is done and seen goes in, the profile comes out."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest

from station.coach.setup import belt_step
from station.coach.setup.course import BACK, LEAVE, NEXT, SKIP, STEP_NAMES, SetupCourse
from station.coach.setup.page import StepName
from station.coach.setup.scale_step import HIGH_PX_PER_M, LOW_PX_PER_M
from station.coach.setup.values import (
    Camera,
    Chosen,
    Clapped,
    Clicked,
    Facts,
    Failed,
    Folder,
    Heard,
    ListenForClaps,
    LookAtFolder,
    MeasureSound,
    Nudged,
    OpenCamera,
    Opened,
    Quality,
    Save,
    Saved,
    Typed,
)
from station.measure.setup.lines import MOST_ROLL_DEG
from station.settings.bay import LEAST_BELT_LINE_PX, CameraTable, ViewTable
from station.values import LANDMARKS, Bay, Pose, ViewProfile

GREY = np.full((90, 160, 3), 120, np.uint8)
CAMERAS = (Camera("/dev/video0", "One"), Camera("/dev/video2", "Two"))
LIVE = Opened("One", 1280, 720, 60.0, True, 0.01)
GOOD = Quality(0.5, 0.0, 1.5)


def at(step: StepName, bay: Bay | None = None, opened: Opened | None = LIVE) -> SetupCourse:
    """A course of one step, with a camera that is open."""
    course = SetupCourse(bay or Bay(), CAMERAS, step)
    if opened is not None:
        course.told(opened)
    course.begin()
    return course


def keys(course: SetupCourse) -> list[str]:
    return [reading.key for reading in course.page().body.readings]


def values(course: SetupCourse, key: str) -> dict[str, str]:
    return next(dict(r.values) for r in course.page().body.readings if r.key == key)


def typed(course: SetupCourse, text: str) -> object:
    wish = None
    for sign in text:
        wish = course.take(Typed(sign))
    return wish


def see(course: SetupCourse, count: int, fps: float = 60.0, **facts: object) -> None:
    for n in range(count):
        course.see(Facts(n / fps, n, GREY, **{"pose": None, **facts}))  # type: ignore[arg-type]


def body(faces: str = "right", low: float = 615.0, sure: float = 0.95) -> Pose:
    xy = np.full((33, 2), 640.0)
    heights = {"nose": 130.0, "ear": 120.0, "shoulder": 210.0, "hip": 360.0, "knee": 480.0,
               "ankle": low - 15.0, "heel": low - 5.0, "foot_index": low}  # fmt: skip
    for number, name in enumerate(LANDMARKS):
        xy[number, 1] = heights.get(name.partition("_")[2], heights.get(name, 250.0))
        if name.endswith("foot_index"):
            xy[number, 0] += 60.0 if faces == "right" else -60.0
    return Pose(0.0, 0, xy, np.full(33, sure), 1280, 720)


# --- the way through --------------------------------------------------------------------------


def test_forward_past_back_and_to_the_end() -> None:
    course = SetupCourse(Bay(), CAMERAS)
    assert course.begin() == OpenCamera("/dev/video0")
    course.told(LIVE)
    names = []
    for n in range(len(STEP_NAMES)):
        names.append(course.step.name)
        assert course.page().number == n + 1
        course.take(Chosen(SKIP))
    assert tuple(names) == STEP_NAMES
    assert course.step.name == "save"
    page = course.page()
    assert all(page.skipped[:-1])
    course.take(Chosen(SKIP))
    assert course.step.name == "save"
    course.take(Chosen(BACK))
    assert course.step.name == "folder"
    assert course.draft.touched == frozenset()


def test_one_step_alone_goes_straight_to_saving() -> None:
    course = at("rate")
    course.take(Chosen(NEXT))
    assert course.step.name == "save"
    assert course.take(Chosen(NEXT)) == Save()
    course.told(Failed("save", "the disk is full"))
    assert "setup_save_trouble" in keys(course)
    assert not course.over
    assert course.take(Chosen(NEXT)) == Save()
    course.told(Saved("bay.toml", "bay-before.toml"))
    assert keys(course) == ["setup_saved", "setup_kept"]
    course.take(Chosen(NEXT))
    assert course.over


def test_leaving_unsaved_is_asked_twice() -> None:
    course = at("rate")
    course.take(Chosen(LEAVE))
    assert course.page().leaving
    assert not course.over
    course.take(Chosen("again"))
    assert not course.page().leaving
    course.take(Chosen(LEAVE))
    course.take(Chosen(LEAVE))
    assert course.over


def test_what_is_skipped_is_not_kept() -> None:
    course = at("belt")
    for x in (200.0, 1000.0):
        course.take(Clicked(x, 640.0))
    course.take(Chosen(SKIP))
    assert course.draft.bay.view.belt_line is None
    course.take(Chosen(BACK))
    course.take(Chosen(NEXT))
    assert course.draft.bay.view.belt_line == ((200.0, 640.0), (1000.0, 640.0))


@pytest.mark.parametrize("step", [s for s in STEP_NAMES if s not in ("sound", "screen", "folder")])
def test_without_a_picture_each_step_says_so(step: StepName) -> None:
    course = at(step, opened=None)
    if step == "camera":
        course.told(Failed("camera", "camera 0 is not there"))
    page = course.page()
    assert page.grade in ("bad", "open")
    assert page.body.readings[0].key in (
        "setup_no_picture", "setup_camera_trouble", "setup_facing_open",
    )  # fmt: skip
    course.take(Chosen(NEXT))  # and none of them stops here
    assert course.step.name == "save"


# --- camera, light, rate ------------------------------------------------------------------------


@pytest.mark.parametrize(("step", "exposure_s"), [("level", None), ("light", 0.004)])
def test_a_step_done_again_opens_the_bays_own_camera(step: StepName, exposure_s) -> None:
    for device in ("/dev/video2", 2):
        course = SetupCourse(Bay(device=device), CAMERAS, step)
        assert course.begin() == OpenCamera("/dev/video2", exposure_s)
    held = SetupCourse(Bay(device="/dev/video2", exposure_s=0.002), CAMERAS, step)
    assert held.begin() == OpenCamera("/dev/video2", 0.002)


def test_a_line_that_is_known_is_there_once_the_camera_is() -> None:
    view = ViewProfile("right", None, ((100.0, 320.0), (500.0, 322.0)), 640, 360)
    course = SetupCourse(Bay(view=view), CAMERAS, "belt")
    course.begin()
    course.told(LIVE)
    assert course.page().body.marks[0].points == ((200.0, 640.0), (1000.0, 644.0))


def test_a_camera_that_was_looked_at_and_passed_by_is_the_one_that_is_held() -> None:
    course = SetupCourse(Bay(), CAMERAS)
    course.begin()
    course.take(Chosen("camera:1"))
    course.told(LIVE)
    assert course.take(Chosen(SKIP)) == OpenCamera("/dev/video2", 0.004)


def test_no_camera_at_all() -> None:
    course = SetupCourse(Bay(), ())
    assert course.begin() is None
    assert keys(course) == ["setup_no_camera"]
    assert course.page().grade == "bad"


def test_another_camera_is_picked_and_kept() -> None:
    course = at("camera")
    assert course.take(Chosen("camera:1")) == OpenCamera("/dev/video2")
    course.lost()
    course.told(Opened("Two", 1920, 1080, 60.0, True))
    assert "setup_camera_waits" in keys(course)
    see(course, 2)
    assert "setup_camera_moves" in keys(course)
    course.take(Chosen(NEXT))
    bay = course.draft.bay
    assert (bay.device, bay.width, bay.height) == ("/dev/video2", 1920, 1080)


def test_the_bays_own_camera_comes_first() -> None:
    course = SetupCourse(Bay(device="/dev/video2"), CAMERAS)
    assert course.begin() == OpenCamera("/dev/video2")


def test_the_exposure_is_asked_to_be_held_and_kept_if_it_is() -> None:
    course = SetupCourse(Bay(), CAMERAS, "light")
    assert course.begin() == OpenCamera("/dev/video0", 0.004)
    course.told(Opened("One", 1280, 720, 60.0, True, 0.004, locked=True))
    see(course, 1, quality=GOOD)
    assert keys(course) == ["setup_exposure_good", "setup_light_good", "setup_focus_good"]
    course.take(Chosen(NEXT))
    assert course.draft.bay.exposure_s == 0.004


def test_a_camera_that_refuses_is_told_and_not_asked_again() -> None:
    course = at("light", opened=Opened("One", 1280, 720, 60.0, True, 0.02, lock_refused=True))
    assert course.begin() is None
    see(course, 1, quality=GOOD)
    assert keys(course)[0] == "setup_exposure_refused"
    assert course.page().grade == "look"
    course.take(Chosen(NEXT))
    assert course.draft.bay.exposure_s is None


@pytest.mark.parametrize(("quality", "key", "grade"), [
    (Quality(0.01, 0.0, None), "setup_light_black", "bad"),
    (Quality(0.1, 0.0, 1.5), "setup_light_dark", "look"),
    (Quality(0.6, 0.4, 1.5), "setup_light_bright", "look"),
    (Quality(0.5, 0.0, 9.0), "setup_focus_blurred", "look"),
    (Quality(0.5, 0.0, None), "setup_focus_open", "open"),
])  # fmt: skip
def test_light_and_focus(quality: Quality, key: str, grade: str) -> None:
    course = at("light")
    see(course, 1, quality=quality)
    found = {r.key: r.grade for r in course.page().body.readings}
    assert found[key] == grade


@pytest.mark.parametrize(("fps", "key"), [(60.0, "setup_rate_good"), (30.0, "setup_rate_halved"),
                                          (45.0, "setup_rate_low")])  # fmt: skip
def test_the_real_rate(fps: float, key: str) -> None:
    course = at("rate", Bay(fps=60.0))
    see(course, int(3.1 * fps), fps)
    assert keys(course)[0] == key
    course.take(Chosen(NEXT))
    assert course.draft.bay.fps == fps


def test_a_rate_that_automatic_exposure_halves_is_put_right() -> None:
    course = at("rate", Bay(fps=60.0))
    see(course, 100, 30.0)
    assert "lock" in [offer.id for offer in course.page().body.offers]
    assert course.take(Chosen("lock")) == OpenCamera(0, 0.004)
    course.told(Opened("One", 1280, 720, 60.0, True, 0.004, locked=True))
    see(course, 200, 60.0)
    assert keys(course) == ["setup_rate_good"]
    course.take(Chosen(NEXT))
    assert course.draft.bay.exposure_s == 0.004  # or the next session's pictures are halved again


def test_a_rate_that_was_only_counted_keeps_no_exposure() -> None:
    held = Opened("One", 1280, 720, 60.0, True, 0.004, locked=True)
    course = at("rate", Bay(fps=60.0), held)
    see(course, 200, 60.0)
    course.take(Chosen(NEXT))
    assert course.draft.touched == {"camera.fps"}


def test_what_a_step_takes_is_what_a_profile_takes() -> None:
    """The steps lie below the settings, so they have the bounds a second time."""
    assert belt_step.LEAST_PX == LEAST_BELT_LINE_PX
    for roll in (-MOST_ROLL_DEG, MOST_ROLL_DEG):
        CameraTable.model_validate({"roll_deg": roll})
        with pytest.raises(ValueError, match="1 validation error"):
            CameraTable.model_validate({"roll_deg": 1.001 * roll})
    for scale, beyond in ((LOW_PX_PER_M, 0.999), (HIGH_PX_PER_M, 1.001)):
        size = {"width": 1280, "height": 720}
        ViewTable.model_validate({"px_per_m": scale, **size})
        with pytest.raises(ValueError, match="1 validation error"):
            ViewTable.model_validate({"px_per_m": beyond * scale, **size})


# --- level, belt, scale -------------------------------------------------------------------------


def test_level_by_hand() -> None:
    course = at("level")
    course.take(Clicked(600.0, 20.0))
    assert keys(course) == ["setup_level_open"]
    course.take(Clicked(590.0, 620.0))
    assert keys(course) == ["setup_roll_right", "setup_level_by_hand"]
    course.take(Nudged(1, 0))
    assert course.page().body.loupe == (590.5, 620.0)
    course.take(Chosen(NEXT))
    assert course.draft.bay.view.roll_deg == pytest.approx(0.91, abs=0.01)
    assert course.draft.touched == {"camera.roll_deg"}


def test_marks_are_cleared() -> None:
    course = at("level")
    course.take(Clicked(600.0, 20.0))
    course.take(Chosen("clear"))
    assert keys(course) == ["setup_level_none"]


def test_a_camera_on_its_side_is_not_taken() -> None:
    course = at("level")
    course.take(Clicked(100.0, 20.0))
    course.take(Clicked(500.0, 520.0))
    assert course.page().grade == "bad"
    course.take(Chosen(NEXT))
    assert course.draft.bay.view.roll_deg == 0.0


def test_the_belts_slope_is_its_own_and_not_the_cameras() -> None:
    course = at("belt", Bay(view=ViewProfile("right", roll_deg=2.0)))
    course.take(Clicked(1000.0, 640.0 + 800.0 * np.tan(np.radians(1.0))))
    course.take(Clicked(200.0, 640.0))
    assert values(course, "setup_belt_rise")["degrees"] == "1.0"
    course.take(Chosen(NEXT))
    view = course.draft.bay.view
    assert view.belt_line == ((200.0, 640.0), (1000.0, 654.0))
    assert (view.width, view.height) == (1280, 720)


@pytest.mark.parametrize(("points", "key"), [
    (((200.0, 640.0), (230.0, 640.0)), "setup_belt_close"),
    (((200.0, 640.0), (500.0, 300.0)), "setup_belt_steep"),
])  # fmt: skip
def test_no_belt_lies_so(points: Iterable[tuple[float, float]], key: str) -> None:
    course = at("belt")
    for point in points:
        course.take(Clicked(*point))
    assert keys(course)[0] == key
    course.take(Chosen(NEXT))
    assert course.draft.bay.view.belt_line is None


def test_the_nearer_mark_is_moved() -> None:
    course = at("belt")
    for x in (200.0, 1000.0, 950.0):
        course.take(Clicked(x, 640.0))
    course.take(Chosen(NEXT))
    assert course.draft.bay.view.belt_line == ((200.0, 640.0), (950.0, 640.0))


def test_the_scale_from_a_rod() -> None:
    course = at("scale")
    course.take(Clicked(300.0, 640.0))
    course.take(Clicked(732.0, 640.0))
    typed(course, "120")
    assert values(course, "setup_scale_is")["scale"] == "360.0"
    course.take(Chosen(NEXT))
    assert course.draft.bay.view.px_per_m == 360.0


@pytest.mark.parametrize("text", ["0", "9999", ",,", "abc"])
def test_a_length_that_is_none(text: str) -> None:
    course = at("scale")
    course.take(Clicked(300.0, 640.0))
    course.take(Clicked(732.0, 640.0))
    typed(course, text)
    if text == "abc":  # signs of no number are not taken at all
        text = ""
        course.take(Typed("erase"))
        course.take(Typed("erase"))
        course.take(Typed("erase"))
    assert keys(course) == ["setup_length_wrong"]
    course.take(Chosen(NEXT))
    assert course.draft.bay.view.px_per_m is None


def test_a_scale_of_another_picture_size_is_carried_over() -> None:
    """The belt line was taken in pictures half as large; the scale is taken now."""
    known = ViewProfile(None, None, ((100.0, 320.0), (500.0, 320.0)), 640, 360)
    course = at("scale", Bay(view=known))
    course.take(Clicked(300.0, 640.0))
    course.take(Clicked(660.0, 640.0))
    course.take(Chosen(NEXT))
    view = course.draft.bay.view
    assert view.belt_line == ((200.0, 640.0), (1000.0, 640.0))
    assert course.draft.touched >= {"view.belt_line", "view.px_per_m", "view.width", "view.height"}


# --- the runner ---------------------------------------------------------------------------------


def test_a_whole_runner() -> None:
    course = at("runner")
    assert keys(course) == ["setup_runner_nobody"]
    see(course, 30, pose=body())
    assert keys(course) == ["setup_runner_whole", "setup_runner_large"]


def test_feet_cut_off() -> None:
    course = at("runner")
    see(course, 30, pose=body(low=718.0))
    assert keys(course)[0] == "setup_runner_cut_bottom"
    assert course.page().grade == "bad"


def test_square_and_facing_from_the_same_body() -> None:
    course = at("square")
    see(course, 50, pose=body())
    assert keys(course) == ["setup_square_good"]
    for faces in ("right", "left"):
        course = at("facing")
        see(course, 40, pose=body(faces))
        assert keys(course) == [f"setup_facing_{faces}"]
        course.take(Chosen(NEXT))
        assert course.draft.bay.view.faces == faces


def test_a_choice_against_what_is_seen_is_asked_about() -> None:
    course = at("facing")
    see(course, 40, pose=body("left"))
    course.take(Chosen("faces:right"))
    assert keys(course) == ["setup_facing_other"]
    course.take(Chosen("faces:auto"))
    course.take(Chosen(NEXT))
    assert course.draft.bay.view.faces is None
    assert "view.runner_faces" in course.draft.touched


def test_learning_wants_a_speed_first() -> None:
    course = at("learn")
    see(course, 3, pose=body())
    assert keys(course) == ["setup_speed_wanted"]
    typed(course, "10.8")
    course.take(Chosen("entry:incline"))
    typed(course, "2")
    see(course, 3, pose=body())
    assert keys(course) == ["setup_run_now"]
    assert [entry.text for entry in course.page().body.entries] == ["10.8", "2"]


# --- sound, screen, folder ----------------------------------------------------------------------


def test_sound_is_played_at_the_volume_that_is_set() -> None:
    course = at("sound")
    course.take(Chosen("louder"))
    assert course.take(Chosen("play")) == MeasureSound(0.7)
    assert course.take(Chosen("play")) is None  # it plays already
    course.told(Heard("loudspeaker", 0.08, 0.01, 25.0))
    assert keys(course) == ["setup_volume", "setup_sound_in_time", "setup_sound_loud"]
    assert course.page().grade == "good"
    course.take(Chosen(NEXT))
    assert course.draft.bay.volume == 0.7


@pytest.mark.parametrize(("heard", "key"), [
    (Heard("wireless", 0.35, 0.2, 25.0), "setup_sound_late"),
    (Heard("soft", 0.08, 0.01, 5.0), "setup_sound_soft"),
])  # fmt: skip
def test_sound_that_is_late_or_soft(heard: Heard, key: str) -> None:
    course = at("sound")
    course.take(Chosen("play"))
    course.told(heard)
    assert key in keys(course)
    assert course.page().grade == "look"


def test_without_a_microphone_an_ear_will_do() -> None:
    course = at("sound")
    course.take(Chosen("play"))
    course.told(Failed("sound", "PortAudio opens no sound input"))
    assert "setup_sound_by_ear" in keys(course)
    course.take(Chosen("confirm"))
    assert "setup_sound_confirmed" in keys(course)


def test_the_screen_by_a_ruler() -> None:
    course = at("screen")
    typed(course, "164")  # 300 of 1468.6 px across the corner
    course.take(Chosen("entry:distance"))
    typed(course, "2,2")
    assert values(course, "setup_screen_is")["size"] == "80"
    course.take(Chosen(NEXT))
    assert course.draft.bay.screen_diagonal_m == pytest.approx(0.803, abs=0.001)
    assert course.draft.bay.viewing_distance_m == 2.2


def test_the_screen_by_a_card() -> None:
    course = at("screen")
    for _ in range(10):
        course.take(Nudged(-1, 0))
    course.take(Chosen(NEXT))
    expected = 0.0856 * np.hypot(1280.0, 720.0) / 290.0
    assert course.draft.bay.screen_diagonal_m == pytest.approx(expected, abs=0.001)


def test_a_window_that_does_not_fill_the_screen_is_allowed_for() -> None:
    course = at("screen")
    course.shown_at(0.5)
    typed(course, "82")
    course.take(Chosen(NEXT))
    assert course.draft.bay.screen_diagonal_m == pytest.approx(0.803, abs=0.001)


def test_a_bar_or_a_distance_that_cannot_be() -> None:
    course = at("screen")
    typed(course, "5")
    course.take(Chosen("entry:distance"))
    typed(course, "99")
    assert keys(course) == ["setup_ruler_wrong", "setup_distance_wrong"]
    course.take(Chosen(NEXT))
    assert course.draft.touched == frozenset()


def test_a_folder_is_looked_at_as_it_is_typed() -> None:
    course = SetupCourse(Bay(), (), "folder")
    assert course.begin() == LookAtFolder(None)
    assert typed(course, "/data") == LookAtFolder("/data")
    course.told(Folder("/data", None, "/: Permission denied"))
    assert keys(course) == ["setup_folder_trouble"]
    assert course.page().grade == "bad"
    course.take(Chosen(NEXT))
    assert course.draft.bay.records_folder is None
    course.take(Chosen(BACK))
    course.take(Typed("s"))
    course.told(Folder("/datas", 50_000_000_000, None))
    course.take(Chosen(NEXT))
    assert course.draft.bay.records_folder == "/datas"


# --- claps --------------------------------------------------------------------------------------


def test_claps_are_listened_for_and_kept() -> None:
    course = at("clap")
    typed(course, "1,5")
    assert course.take(Chosen("listen")) == ListenForClaps(1.5)
    assert course.take(Chosen("listen")) is None
    assert keys(course) == ["setup_clap_listening"]
    course.told(Clapped(0.0234, 0.004, 5))
    assert keys(course) == ["setup_clap_found"]
    course.take(Chosen(NEXT))
    assert course.draft.bay.picture_late_s == 0.023
    assert course.draft.touched == {"camera.picture_late_ms"}


def test_without_a_microphone_what_that_means_is_said() -> None:
    course = at("clap")
    course.take(Chosen("listen"))
    course.told(Failed("clap", "PortAudio opens no sound input"))
    assert keys(course) == ["setup_clap_trouble", "setup_clap_without"]
    course.take(Chosen(NEXT))
    assert course.draft.touched == frozenset()


def test_one_clap_is_not_sure() -> None:
    course = at("clap")
    course.take(Chosen("listen"))
    course.told(Clapped(0.05, 0.0, 1))
    assert keys(course) == ["setup_clap_unsure"]


def test_a_recording_has_no_sound_beside_it() -> None:
    course = at("clap", opened=Opened("demo", 1280, 720, 30.0, False))
    assert keys(course) == ["setup_clap_recorded"]
    assert course.take(Chosen("listen")) is None
