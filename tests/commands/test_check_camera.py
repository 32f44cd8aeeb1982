"""The camera's check: what a camera gives against what is asked of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from still_camera import StillCamera, noisy, scenery, spoiled

from station.clock import StreamClock
from station.commands.checks.camera import Watched, camera_findings, watch
from station.commands.checks.finding import Finding
from station.errors import DeviceTrouble
from station.see.exposure import Exposure
from station.values import Bay

BAY = Bay(width=640, height=360, fps=60.0)


def look(bay: Bay = BAY, kind: str = "camera", **made: object) -> dict[str, Finding]:
    clock = StreamClock()
    camera = StillCamera(clock, **made)  # type: ignore[arg-type]
    seen = watch(kind, camera, clock, 2.0, lambda _: None)
    assert camera.stopped == 1
    return {finding.what: finding for finding in camera_findings(seen, bay)}


def test_a_good_camera_is_well() -> None:
    found = look()
    assert list(found) == ["camera", "picture's size", "light", "sharpness"]
    assert {finding.verdict for finding in found.values()} == {"well"}
    assert found["camera"].found == "camera 0: 60.0 pictures a second of 60"


@pytest.mark.parametrize(("fps", "verdict"), [(30.0, "look"), (56.0, "look"), (58.0, "well")])
def test_the_real_rate_counts(fps: float, verdict: str) -> None:
    finding = look(fps=fps)["camera"]
    assert finding.verdict == verdict
    assert f"{fps:.1f} pictures a second of 60" in finding.found


def test_a_rate_that_is_low_by_wish_is_told_too() -> None:
    finding = look(Bay(width=640, height=360, fps=30.0), fps=30.0)["camera"]
    assert finding.verdict == "look"
    assert "50 a second" in finding.remedy


def test_pictures_left_out_by_us_count_as_the_cameras() -> None:
    class Skipping(StillCamera):
        def receive(self, timeout_s: float) -> object:  # type: ignore[override]
            super().receive(timeout_s)
            return super().receive(timeout_s)

    clock = StreamClock()
    seen = watch("camera", Skipping(clock), clock, 2.0, lambda _: None)  # type: ignore[arg-type]
    assert seen.fps == pytest.approx(60.0, rel=0.01)


def test_a_picture_that_stands_still_is_a_fault() -> None:
    finding = look(picture=lambda _: scenery())["camera"]
    assert (finding.verdict, finding.exit_code) == ("fault", 3)
    assert look(picture=lambda _: scenery(), kind="clip")["camera"].verdict == "well"


def test_a_camera_that_opens_and_gives_nothing_is_a_fault() -> None:
    finding = look(silent=True)["camera"]
    assert (finding.verdict, finding.exit_code) == ("fault", 3)


def test_a_camera_that_does_not_open_is_told_and_closed() -> None:
    clock = StreamClock()
    camera = StillCamera(clock, trouble="camera 0 is not there")
    with pytest.raises(DeviceTrouble):
        watch("camera", camera, clock, 2.0, lambda _: None)
    assert camera.stopped == 1


def test_a_short_clip_is_looked_at_without_a_rate() -> None:
    found = look(kind="clip", count=5)
    assert found["camera"].verdict == "unchecked"
    assert found["light"].verdict == "well"


def test_another_size_than_asked_for_is_told() -> None:
    finding = look(Bay(width=1280, height=720))["picture's size"]
    assert finding.verdict == "look"
    assert finding.found == "640 x 360, asked for 1280 x 720"
    assert look(Bay(), kind="clip")["picture's size"].verdict == "well"


@pytest.mark.parametrize(
    ("level", "word"), [(0.0, "black"), (20.0, "dark"), (110.0, ""), (240.0, "too bright")]
)
def test_light(level: float, word: str) -> None:
    def picture(number: int) -> np.ndarray:
        image = scenery(level=level) if level else np.zeros((360, 640, 3), np.uint8)
        image[0, 0] = number % 250  # no two alike
        return image

    finding = look(picture=picture)["light"]
    assert finding.verdict == ("look" if word else "well")
    assert finding.found.endswith(word or "wholly white")


@pytest.mark.parametrize(("sigma_px", "verdict"), [(0.5, "well"), (3.0, "look")])
def test_sharpness(sigma_px: float, verdict: str) -> None:
    def picture(number: int) -> np.ndarray:
        return spoiled(number % 16, sigma_px)

    assert look(picture=picture)["sharpness"].verdict == verdict


def test_with_nothing_to_see_sharpness_is_not_told() -> None:
    def picture(number: int) -> np.ndarray:
        return np.full((360, 640, 3), 120 + number % 3, np.uint8)

    assert look(picture=picture)["sharpness"].verdict == "unchecked"


def test_few_pictures_are_kept() -> None:
    clock = StreamClock()
    seen: Watched = watch("camera", StillCamera(clock), clock, 2.0, lambda _: None)
    assert 10 <= len(seen.frames) <= 32
    assert (seen.frames[0].image == noisy(0)).all()


def test_half_the_rate_is_laid_to_automatic_exposure() -> None:
    finding = look(fps=30.0)["camera"]
    assert finding.found.endswith(": half")
    assert "station setup --step light" in finding.remedy
    assert "station setup" not in look(fps=50.0)["camera"].remedy


@pytest.mark.parametrize(
    ("exposure", "verdict", "words"),
    [
        (Exposure(0.004, held=True, refused=False), "well", "held at 4.0 ms"),
        (Exposure(0.010, held=True, refused=False), "look", "smeared"),
        (Exposure(0.016, held=False, refused=False), "look", "automatic, now 16.0 ms"),
        (Exposure(None, held=False, refused=False), "look", "automatic, now not told"),
        (Exposure(0.016, held=False, refused=True), "look", "does not hold it"),
    ],
)
def test_exposure(exposure: Exposure, verdict: str, words: str) -> None:
    clock = StreamClock()
    seen = watch("camera", StillCamera(clock), clock, 1.0, lambda _: None)
    found = {f.what: f for f in camera_findings(replace(seen, exposure=exposure), BAY)}
    assert found["exposure"].verdict == verdict
    assert words in found["exposure"].found
    assert bool(found["exposure"].remedy) == (verdict == "look")


def test_a_held_exposure_is_not_blamed_for_half_the_rate() -> None:
    clock = StreamClock()
    seen = watch("camera", StillCamera(clock, fps=30.0), clock, 2.0, lambda _: None)
    held = replace(seen, exposure=Exposure(0.004, held=True, refused=False))
    assert "USB" in camera_findings(held, BAY)[0].remedy
