"""Recorded data of the bench: what it reads, and how it refuses what it cannot use."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from station.bench.clip import clip_frames, clips, read_clip
from station.bench.result import Result
from station.bench.score import Score, Spread
from station.bench.trial import read_contacts, read_poses, trials
from station.errors import BadInput

HEAD = "t_contact_s,t_toe_off_s,side,ankle_ahead_m,shank_deg\n"
TRUTH = {
    "fps": 60, "width": 960, "height": 540, "belt_speed_mps": 2.5, "direction": "left",
    "px_per_m": 230.0, "belt_line": [[261.5, 483.9], [659.4, 483.9]],
    "contacts": [
        {
            "side": "left",
            "t_ic": 0.13,
            "t_to": 0.41,
            "touch": {"t": 0.14, "ankle_ahead_of_knee_m": 0.03, "shank_angle_deg": 4.3},
        }
    ],
}  # fmt: skip


def test_contacts_come_in_order_of_time(tmp_path: Path) -> None:
    (tmp_path / "contacts.csv").write_text(
        HEAD + "0.75,1.03,right,0.04,5.0\n0.37,0.64,left,0.04,5.5\n"
    )
    found = read_contacts(tmp_path)
    assert [(c.t_contact_s, c.side) for c in found] == [(0.37, "left"), (0.75, "right")]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD, "holds no contact"),
        (HEAD + "0.4,,left,0.04,5.5\n", "line 2: could not convert string to float"),
        (HEAD + "0.4,nan,left,0.04,5.5\n", "line 2: not a number"),
        (HEAD + "0.4,0.6\n", "line 2: "),
        ("t_s,side\n0.4,left\n", "line 2: 't_contact_s'; allowed are numbers"),
    ],
)
def test_contacts_that_cannot_be_used_are_refused(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "contacts.csv").write_text(text)
    with pytest.raises(BadInput, match=said):
        read_contacts(tmp_path)


def test_a_trial_without_contacts_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"contacts\.csv cannot be read"):
        read_contacts(tmp_path)


def test_a_trial_is_run_at_two_frame_rates_with_each_seed(tmp_path: Path) -> None:
    runs = trials(tmp_path, (1, 2))
    assert [(run.fps, run.seed) for run in runs] == [(60.0, 1), (60.0, 2), (30.0, 1), (30.0, 2)]
    assert len({run.name for run in runs}) == 4


def test_the_real_trial_is_read(shared_data: Path) -> None:
    folder = shared_data / "treadmill_running"
    poses, contacts = read_poses(folder), read_contacts(folder)
    assert len(poses) == 1800
    assert poses[1].t_s - poses[0].t_s == pytest.approx(1 / 60, abs=1e-3)
    assert contacts[-1].t_toe_off_s <= poses[-1].t_s


def test_a_clips_truth_is_its_touch_not_the_force(tmp_path: Path) -> None:
    (tmp_path / "a.mp4").write_bytes(b"")
    (tmp_path / "alone.mp4").write_bytes(b"")
    (tmp_path / "a.json").write_text(json.dumps(TRUTH))
    assert clips(tmp_path) == [tmp_path / "a.mp4"]
    clip = read_clip(tmp_path / "a.mp4")
    assert (clip.fps, clip.belt.speed_mps) == (60.0, 2.5)
    assert (clip.profile.faces, clip.profile.px_per_m) == ("left", 230.0)
    assert clip.contacts[0].t_contact_s == 0.14
    assert clip.contacts[0].shank_deg == 4.3


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", json.dumps({**TRUTH, "direction": "up"}), json.dumps({"fps": 60})]
)
def test_a_clips_truth_that_cannot_be_used_is_refused(tmp_path: Path, text: str) -> None:
    (tmp_path / "a.json").write_text(text)
    with pytest.raises(BadInput, match=r"a\.json is not a clip's truth"):
        read_clip(tmp_path / "a.mp4")
    with pytest.raises(BadInput, match=r"b\.json cannot be read"):
        read_clip(tmp_path / "b.mp4")


def test_a_clips_frames_come_at_its_rate(shared_data: Path) -> None:
    frames = clip_frames(shared_data / "clips" / "ff_25_60.mp4")
    first, second = next(frames), next(frames)
    frames.close()
    assert (first.t_s, first.index) == (0.0, 0)
    assert second.t_s == pytest.approx(1 / 60, abs=1e-4)


def test_a_row_holds_plain_numbers_and_what_is_missed() -> None:
    nothing = Spread(None, None, 0)
    score = Score(9, 9, 0, 0, nothing, nothing, nothing, 0.0, None, None, None, None)
    row = Result("none found", 30.0, score, 1.0).as_row()
    json.dumps(row, allow_nan=False)
    assert row["contact_ms"] == {"median": None, "sd": None, "count": 0}
    misses = row["misses"]
    assert isinstance(misses, list)
    assert misses[0] == {"bound": "missed", "found": 9.0, "allowed": 0.0}
    assert {m["bound"]: m["allowed"] for m in misses}["verdict_ms"] == 120.0
