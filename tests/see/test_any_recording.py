"""Recordings cut and spoilt at random: read as far as they go, or refused with words."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from fuzzed import FRAMES, clip_bytes, read_any_clip, read_any_trace, trace_bytes
from hypothesis import given, settings
from hypothesis import strategies as st

SPOILS = st.lists(st.tuples(st.floats(0.0, 0.999), st.binary(max_size=4)), max_size=4)
"""Where (as a share of the file), and what is put there."""


def spoilt(data: bytes, cut: float, spoils: list[tuple[float, bytes]]) -> bytes:
    made = bytearray(data[: round(cut * len(data))])
    for at, put in spoils:
        begin = round(at * len(made))
        made[begin : begin + len(put)] = put
    return bytes(made)


TRACE = trace_bytes()


@settings(max_examples=60)
@given(cut=st.floats(0.0, 1.0), spoils=SPOILS)
def test_any_trace_is_read_or_refused(cut: float, spoils: list[tuple[float, bytes]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trace.csv"
        path.write_bytes(spoilt(TRACE, cut, spoils))
        read_any_trace(path)


@settings(max_examples=25)
@given(cut=st.floats(0.15, 1.0))
def test_a_trace_that_is_cut_gives_all_its_whole_rows(cut: float) -> None:
    """No row that is whole is lost; the one that was cut in two is told of or left out."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trace.csv"
        part = TRACE[: round(cut * len(TRACE))]
        path.write_bytes(part)
        got = read_any_trace(path)
        whole = part.count(b"\n") - 1
        if isinstance(got, int):
            assert whole <= got <= whole + 1
        else:
            assert "line" in got or "row" in got or "column" in got


@pytest.fixture(scope="module", params=["MJPG", "mp4v"])
def clip(request: pytest.FixtureRequest) -> tuple[str, bytes]:
    return request.param, clip_bytes(request.param)


def test_any_clip_is_read_or_refused(clip: tuple[str, bytes], tmp_path: Path) -> None:
    code, data = clip

    @settings(max_examples=30)
    @given(cut=st.floats(0.0, 1.0), spoils=SPOILS)
    def check(cut: float, spoils: list[tuple[float, bytes]]) -> None:
        path = tmp_path / f"clip.{'avi' if code == 'MJPG' else 'mp4'}"
        path.write_bytes(spoilt(data, cut, spoils))
        read_any_clip(path)

    check()


def test_a_clip_that_is_cut_gives_the_frames_before_the_cut(tmp_path: Path) -> None:
    data = clip_bytes("MJPG")
    path = tmp_path / "clip.avi"
    for share in (0.4, 0.7, 0.95):
        path.write_bytes(data[: round(share * len(data))])
        got = read_any_clip(path)
        assert isinstance(got, int)
        assert got >= share * FRAMES - 3
