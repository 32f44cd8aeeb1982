"""Whatever bytes a settings file holds, it is read or refused with words: never a traceback."""

from __future__ import annotations

import tempfile
from pathlib import Path

from fuzzed import read_any_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from station.settings.resources import resource

BAY = resource("config/bay.toml").read_bytes()
UNCOMMENTED = BAY.replace(b"\n# ", b"\n")
PLAN = resource("config/plans/retention.toml").read_bytes()
SPOILS = st.lists(st.tuples(st.floats(0.0, 0.999), st.binary(max_size=4)), max_size=3)
LITERALS = st.sampled_from(
    ["1e400", "-0", "nan", "inf", "1979-05-27", "07:32:00", "[[[]]]", "{}", '""', "true", "0x10",
     "9" * 400, '"' + "x" * 300 + '"', "[1, 2]", "[[0, 0], [0, 0]]", "[[nan, 1], [2, inf]]"]
)  # fmt: skip
PLACES = st.sampled_from(
    ["camera.device", "camera.fps", "camera.picture_late_ms", "view.belt_line", "view.belt_rear",
     "view.px_per_m", "limits.belt_speed", "limits.hops", "sound.latency_ms", "screen.language",
     "visit.staff_code", "records.url", "records.keep_days", "log.folder", "log.quiet_s", "name",
     "view", "log", "log.log.log", "camera.device.path"]
)  # fmt: skip


@settings(max_examples=60)
@given(whole=st.sampled_from([BAY, UNCOMMENTED, PLAN]), cut=st.floats(0.0, 1.0), spoils=SPOILS)
def test_cut_and_spoilt_files(whole: bytes, cut: float, spoils: list[tuple[float, bytes]]) -> None:
    made = bytearray(whole[: round(cut * len(whole))])
    for at, put in spoils:
        begin = round(at * len(made))
        made[begin : begin + len(put)] = put
    read(bytes(made))


@settings(max_examples=60)
@given(keys=st.dictionaries(PLACES, LITERALS, min_size=1, max_size=4))
def test_odd_values_under_every_key(keys: dict[str, str]) -> None:
    read("".join(f"{key} = {value}\n" for key, value in keys.items()).encode())


@settings(max_examples=40)
@given(st.binary(max_size=60))
def test_bytes_of_any_kind(data: bytes) -> None:
    read(data)


def read(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any.toml"
        path.write_bytes(data)
        read_any_settings(path)
