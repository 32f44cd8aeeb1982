from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from station.errors import BadInput, StationError
from station.ports import EndOfStream
from station.see.trace import TraceSource, TraceWriter
from station.see.trace_columns import REQUIRED
from station.values import LANDMARK_INDEX, Pose


def some_pose(i: int, rng: np.random.Generator) -> Pose:
    xy_px, visibility = rng.uniform(-50.0, 1300.0, (33, 2)), rng.random(33)
    xy_px[i % 33] = np.nan
    visibility[(i + 3) % 33] = np.nan
    return Pose(10.0 + i / 60.0, i, xy_px, visibility, 1280, 720)


def read_all(path: Path) -> list[Pose]:
    source, poses = TraceSource(path), []
    source.start()
    try:
        while True:
            poses.append(source.receive())
    except EndOfStream:
        return poses
    finally:
        source.stop()


def write_rows(path: Path, rows: list[list[str]], header: list[str] | None = None) -> Path:
    lines = [header if header is not None else list(REQUIRED), *rows]
    path.write_text("".join(",".join(line) + "\n" for line in lines), encoding="utf-8")
    return path


def good_rows(count: int = 5) -> list[list[str]]:
    return [[f"{i / 60:.6f}", *(f"{100 + i + k}" for k in range(16))] for i in range(count)]


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    poses = [some_pose(i, rng) for i in range(40)]
    poses[7] = Pose.nobody(poses[7].t_s, 7, 1280, 720)
    writer = TraceWriter(tmp_path / "t.csv")
    for pose in poses:
        writer.write(pose)
    writer.close()
    writer.close()
    back = read_all(tmp_path / "t.csv")
    assert len(back) == len(poses)
    for pose, again in zip(poses, back, strict=True):
        assert again.t_s == pytest.approx(pose.t_s, abs=1e-6)
        assert (again.index, again.width, again.height) == (pose.index, 1280, 720)
        np.testing.assert_allclose(again.xy_px, pose.xy_px, atol=0.01)
        np.testing.assert_allclose(again.visibility, pose.visibility, atol=0.001)
    assert not back[7].found
    assert "nan" not in (tmp_path / "t.csv").read_text(encoding="utf-8")


def test_a_closed_writer_and_a_folder_that_is_not_there_are_refused(tmp_path: Path) -> None:
    writer = TraceWriter(tmp_path / "t.csv")
    writer.close()
    with pytest.raises(StationError, match="is closed"):
        writer.write(Pose.nobody(0.0, 0, 64, 64))
    with pytest.raises(BadInput, match="cannot be written"):
        TraceWriter(tmp_path / "no" / "t.csv")


def test_columns_may_be_missing_and_foreign_and_in_any_order(tmp_path: Path) -> None:
    header = ["note", *reversed(REQUIRED)]
    rows = [["with words", *reversed(row)] for row in good_rows()]
    path = write_rows(tmp_path / "t.csv", rows, header)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes() + b"\n\n")  # as a spreadsheet may save it
    poses = read_all(path)
    assert len(poses) == 5
    knee = LANDMARK_INDEX["left_knee"]
    assert poses[2].xy_px[knee].tolist() == [102.0, 103.0]
    assert np.isnan(poses[2].xy_px[LANDMARK_INDEX["nose"]]).all()
    assert np.isnan(poses[2].visibility).all()


def test_empty_and_nan_mean_not_known(tmp_path: Path) -> None:
    rows = good_rows()
    rows[1][1], rows[2][2], rows[3][1:] = "", "NaN", [" "] * 16
    poses = read_all(write_rows(tmp_path / "t.csv", rows))
    knee = LANDMARK_INDEX["left_knee"]
    assert [bool(np.isnan(pose.xy_px[knee]).all()) for pose in poses] == [0, 1, 1, 1, 0]
    assert not poses[3].found


def test_the_source_tells_size_rate_and_length(tmp_path: Path) -> None:
    rows = good_rows(30)
    del rows[10:13]  # frames may be missing
    source = TraceSource(write_rows(tmp_path / "t.csv", rows), 960, 540)
    info = source.start()
    pose = source.receive()
    source.stop()
    source.stop()
    assert (info.width, info.height, info.fps, info.frames, info.live) == (
        960,
        540,
        60.0,
        27,
        False,
    )
    assert (pose.width, pose.height) == (960, 540)


def test_missing_columns_are_all_named_at_once(tmp_path: Path) -> None:
    header = [name for name in REQUIRED if name not in ("t_s", "left_heel_y", "right_knee_x")]
    with pytest.raises(BadInput, match="t_s, left_heel_y, right_knee_x"):
        TraceSource(write_rows(tmp_path / "t.csv", [], header)).start()


def test_a_doubled_column_is_refused(tmp_path: Path) -> None:
    header = [*REQUIRED, "left_knee_x"]
    with pytest.raises(BadInput, match="left_knee_x stands there 2 times"):
        TraceSource(write_rows(tmp_path / "t.csv", [], header)).start()


@pytest.mark.parametrize(
    ("column", "value", "says"),
    [
        (3, "inf", "line 4: left_ankle_x: inf; allowed is -1000000 to 1000000, or empty"),
        (3, "-1e9", "line 4: left_ankle_x: -1e9; allowed"),
        (4, "far", "line 4: left_ankle_y: 'far'; allowed is a number, or empty"),
        (0, "", "line 4: t_s: empty"),
        (0, "nan", "line 4: t_s: empty"),
        (0, "0.016667", "line 4: t_s: 0.016667; allowed is more than in the row before"),
        (0, "-5", "line 4: t_s: -5; allowed is more"),
        (0, "inf", "line 4: t_s: inf; allowed"),
    ],
)
def test_a_bad_value_is_told_with_its_place(
    tmp_path: Path, column: int, value: str, says: str
) -> None:
    rows = good_rows()
    rows[2][column] = value
    with pytest.raises(BadInput) as caught:
        TraceSource(write_rows(tmp_path / "t.csv", rows)).start()
    assert says in str(caught.value)
    assert str(tmp_path / "t.csv") in str(caught.value)
    assert len(caught.value.mistakes) == 1


def test_a_visibility_over_one_is_refused(tmp_path: Path) -> None:
    rows = [[*row, "95"] for row in good_rows()]
    path = write_rows(tmp_path / "t.csv", rows, [*REQUIRED, "left_knee_visibility"])
    with pytest.raises(BadInput, match="left_knee_visibility: 95; allowed is 0 to 1") as caught:
        TraceSource(path).start()
    assert len(caught.value.mistakes) == 5


def test_a_short_line_is_refused_and_the_list_of_mistakes_is_bounded(tmp_path: Path) -> None:
    rows = [row[:-1] for row in good_rows(500)]
    with pytest.raises(BadInput, match="line 2: 16 values; the header has 17") as caught:
        TraceSource(write_rows(tmp_path / "t.csv", rows)).start()
    assert len(caught.value.mistakes) == 11
    assert "more" in caught.value.mistakes[-1]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"\n\n", "is empty"),
        ((",".join(REQUIRED) + "\n").encode(), "a header but no rows"),
        ((",".join(REQUIRED) + "\n").encode("utf-16"), "is not UTF-8"),
        ((",".join(REQUIRED) + "\n0,\xe9\n").encode("latin-1"), "is not UTF-8"),
        (";".join(REQUIRED).encode(), "no comma"),
        (b"a,b\0c\n", "allowed is CSV text|columns missing"),
    ],
)
def test_files_that_are_no_trace_are_refused(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(content)
    with pytest.raises(BadInput, match=says) as caught:
        TraceSource(path).start()
    assert str(path) in str(caught.value)


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="there is no file"):
        TraceSource(tmp_path / "no.csv").start()
    with pytest.raises(BadInput, match="is a folder"):
        TraceSource(tmp_path).start()


def test_the_shared_trace_is_read_whole(shared_data: Path) -> None:
    path = shared_data / "treadmill_running" / "trace.csv"
    if not path.is_file():
        pytest.skip("the recorded trace is not in the recorded data")
    poses = read_all(path)
    assert len(poses) == 1800
    assert poses[-1].t_s == pytest.approx(1799 / 60, abs=1e-5)


def test_times_that_fall_again_and_again_are_told_in_one_line(tmp_path: Path) -> None:
    rows = good_rows(60)
    for i in range(10, 60, 10):
        rows[i][0] = f"{(i - 5) / 60:.6f}"
    with pytest.raises(BadInput, match=r"line 12: t_s.*; and 4 more such lines") as caught:
        TraceSource(write_rows(tmp_path / "t.csv", rows)).start()
    assert len(caught.value.mistakes) == 1
