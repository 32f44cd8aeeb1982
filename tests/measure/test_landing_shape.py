"""What a parabola misses of a shank's way about contact, learned from landings of known shape."""

from __future__ import annotations

import numpy as np

from station.measure.history import ANKLE, KNEE, History
from station.measure.landing_shape import LandingShape
from station.measure.readings import read_leg
from station.values import Floats

FPS = 30.0
LANDINGS = 30


def angle_deg(since_s: Floats, at_contact_deg: float) -> Floats:
    """Return a shank that is turned back ever faster until 15 ms after contact, evenly then."""
    before = np.minimum(since_s, 0.015)
    return at_contact_deg - 300.0 * since_s - 6000.0 * (before + 0.05) ** 2 + 15.0


def history_of(contact_s: float, at_contact_deg: float, noise: np.random.Generator) -> History:
    history = History(64, 9)
    for t in np.arange(0.0, 0.4, 1.0 / FPS):
        angle = angle_deg(np.array([t - contact_s]), at_contact_deg)[0] + noise.normal(0.0, 0.5)
        legs = np.zeros((2, 5, 2))
        legs[:, KNEE, 1] = 130.0
        legs[:, ANKLE, 0] = 130.0 * np.sin(np.radians(angle))
        legs[:, ANKLE, 1] = 130.0 - 130.0 * np.cos(np.radians(angle))
        history.append(float(t), legs, np.full((9, 2), np.nan))
    return history


def test_what_a_parabola_misses_is_taken_off_wherever_the_frames_fall() -> None:
    rng = np.random.default_rng(5)
    shape = LandingShape()
    plain, corrected = [], []
    for number in range(LANDINGS):
        contact_s = 0.2 + rng.uniform(0.0, 1.0 / FPS)
        level = float(rng.normal(6.0, 1.0))
        true = float(angle_deg(np.zeros(1), level)[0])
        history = history_of(contact_s, level, rng)
        reading = read_leg(history, 0, contact_s)
        put_right = shape.corrected(reading, history, 0, contact_s)
        assert reading.shank is not None
        assert put_right.shank is not None
        shape.add(history, 0, contact_s, reading.shank.value)
        if number >= LANDINGS // 2:
            plain.append(reading.shank.value - true)
            corrected.append(put_right.shank.value - true)
            points = put_right.points[ANKLE] - put_right.points[KNEE]
            turned = np.degrees(np.arctan2(points[0], -points[1]))
            raw = reading.points[ANKLE] - reading.points[KNEE]
            by = turned - np.degrees(np.arctan2(raw[0], -raw[1]))
            assert abs(by - (put_right.shank.value - reading.shank.value)) < 1e-6
    assert abs(float(np.median(plain))) > 0.8  # there is something to be learned
    assert abs(float(np.median(corrected))) < 0.35


def test_nothing_is_taken_off_before_a_landing_was_seen_and_after_clearing() -> None:
    rng = np.random.default_rng(6)
    shape = LandingShape()
    history = history_of(0.21, 6.0, rng)
    reading = read_leg(history, 0, 0.21)
    assert reading.shank is not None
    for _ in range(2):
        same = shape.corrected(reading, history, 0, 0.21)
        assert same.shank is not None
        assert same.shank.value == reading.shank.value
        for contact_s in (0.2, 0.21, 0.22):
            shape.add(history_of(contact_s, 6.0, rng), 0, contact_s, 6.0)
        shape.clear()
