"""The view's check: what the profile says, and whoever stands there, by a made model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from still_camera import noisy

from station.commands.checks.camera import Watched
from station.commands.checks.finding import Finding
from station.commands.checks.view import level_finding, view_findings
from station.ports import SourceInfo
from station.values import LANDMARKS, Bay, Frame, Pose, ViewProfile

INFO = SourceInfo("camera 0", 640, 360, 60.0, live=True)
LINE = ((192.0, 640.0), (1088.0, 640.0))
HEIGHTS = {"nose": 50.0, "ear": 45.0, "shoulder": 95.0, "hip": 180.0, "knee": 250.0,
           "ankle": 310.0, "heel": 315.0, "foot_index": 320.0}  # fmt: skip


class Stands:
    """Finds somebody who stands in the middle of a 640 x 360 picture, moved and unsure at will."""

    def __init__(self, low: float = 0.0, sure: float = 0.9, apart: float = 0.0) -> None:
        self.xy = np.full((33, 2), 320.0)
        for number, name in enumerate(LANDMARKS):
            part = name.partition("_")[2]
            self.xy[number, 1] = HEIGHTS.get(part, HEIGHTS.get(name, 110.0)) + low
            side = -1.0 if name.startswith("left") else 1.0
            if part in ("shoulder", "hip"):
                self.xy[number, 0] += side * apart * (0.375 if part == "shoulder" else 0.175)
        self.sure = np.full(33, sure)
        self.there = True
        self.anew = 0

    def find(self, frame: Frame) -> Pose:
        if not self.there:
            return Pose.nobody(frame.t_s, frame.index, 640, 360)
        return Pose(frame.t_s, frame.index, self.xy, self.sure, 640, 360)

    def detect_anew(self) -> None:
        self.anew += 1

    def close(self) -> None: ...


def look(model: Stands, bay: Bay | None = None, info: SourceInfo = INFO) -> dict[str, Finding]:
    frames = tuple(Frame(n / 8.0, n, noisy(n)) for n in range(16))
    seen = Watched("camera", info, 60.0, frames, False)
    return {f.what: f for f in view_findings(seen, bay or Bay(), model)}


def test_somebody_who_stands_well() -> None:
    model = Stands()
    found = look(model)
    assert list(found) == ["view", "level", "runner in view", "square to the belt"]
    assert found["runner in view"].found == "whole, legs 130 pixels long"
    assert found["runner in view"].verdict == "well"
    assert found["square to the belt"].found.startswith("0 deg off")
    assert "to be learned from running: facing, scale, belt line" in found["view"].found
    assert model.anew == 1


def test_nobody_is_no_fault_and_says_how_to_check() -> None:
    model = Stands()
    model.there = False
    found = look(model)
    for what in ("runner in view", "square to the belt"):
        assert found[what].verdict == "unchecked"
        assert found[what].remedy


@pytest.mark.parametrize(
    ("model", "words", "remedy"),
    [
        (Stands(low=38.0), "edge: bottom", "tilt the camera down"),
        (Stands(low=-60.0), "edge: top", "higher"),
        (Stands(sure=0.4), "lower legs", "clear the view"),
    ],
)
def test_who_is_not_wholly_there_is_told(model: Stands, words: str, remedy: str) -> None:
    finding = look(model)["runner in view"]
    assert finding.verdict == "look"
    assert words in finding.found
    assert remedy in finding.remedy


@pytest.mark.parametrize(("sine", "verdict", "remedy"), [(0.05, "well", ""), (0.2, "look", "turn"),
                                                         (0.4, "look", "beside")])  # fmt: skip
def test_a_camera_that_is_not_square(sine: float, verdict: str, remedy: str) -> None:
    finding = look(Stands(apart=85.0 * sine))["square to the belt"]
    assert finding.verdict == verdict
    assert remedy in finding.remedy
    assert f"{np.degrees(np.arcsin(sine)):.0f} deg off" in finding.found


def test_a_view_of_another_shape_of_picture_is_told() -> None:
    bay = Bay(view=ViewProfile("right", 360.0, LINE, 1280, 720))
    told = look(Stands(), bay)["view"]
    assert told.verdict == "well"
    assert told.found == "faces right, 360 px per metre, belt line set"
    square = look(Stands(), bay, replace(INFO, width=480))["view"]
    assert square.verdict == "look"
    assert "1280 x 720" in square.found
    assert "480 x 360" in square.found
    assert "station setup" in square.remedy


@pytest.mark.parametrize(
    ("profile", "verdict", "words"),
    [
        (ViewProfile(), "unchecked", "taken as level"),
        (ViewProfile(roll_deg=1.2), "well", "turned by 1.20 deg, taken out"),
        (ViewProfile(roll_deg=-3.0), "look", "turned by -3.00 deg"),
        (ViewProfile("right", 300.0, LINE, 1280, 720, 1.0), "well", "rises 1.0 deg (1.7 %)"),
        (ViewProfile("left", 300.0, LINE, 1280, 720, 1.0), "well", "rises -1.0 deg"),
        (ViewProfile("right", 300.0, LINE, 1280, 720, 12.0), "look", "rises 12.0 deg"),
    ],
)
def test_level(profile: ViewProfile, verdict: str, words: str) -> None:
    finding = level_finding(profile)
    assert finding.verdict == verdict
    assert words in finding.found
    assert verdict == "well" or "station setup --step level" in finding.remedy
