from __future__ import annotations

from pathlib import Path

import pytest

from station.errors import BadInput
from station.settings.bay import read_bay
from station.values import Bay, ViewProfile


@pytest.fixture
def bay_file(tmp_path):
    def write(text):
        path = tmp_path / "bay.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


FULL = """
name = "Bay 2"
[camera]
device = "rtsp://camera/1"
width = 1920
height = 1080
fps = 59.94
roll_deg = -1.5
[view]
runner_faces = "right"
px_per_m = 360
belt_line = [[192, 640], [1088, 640.5]]
width = 1280
height = 720
[limits]
belt_speed = "10 mph"
hops = 60
[sound]
speaker = "USB"
volume = 0.3
beat_level = 0.8
cue_level = 0.5
cue_gap_s = 1
beat_feet = "pan"
[screen]
diagonal_m = 0.8
viewing_distance_m = 3
language = "en"
[records]
folder = "records"
"""


def test_every_key_is_read(bay_file):
    bay = read_bay(bay_file(FULL))
    assert bay == Bay(
        name="Bay 2",
        device="rtsp://camera/1",
        width=1920,
        height=1080,
        fps=59.94,
        view=ViewProfile("right", 360.0, ((192.0, 640.0), (1088.0, 640.5)), 1280, 720, -1.5),
        belt_speed_limit_mps=pytest.approx(4.4704),
        hops_limit=60,
        speaker="USB",
        volume=0.3,
        beat_level=0.8,
        cue_level=0.5,
        cue_gap_s=1.0,
        beat_feet="pan",
        screen_diagonal_m=0.8,
        viewing_distance_m=3.0,
        records_folder="records",
        language="en",
    )


def test_only_what_differs_must_be_there(bay_file):
    assert read_bay(bay_file("# nothing differs\n")) == Bay()
    assert read_bay(bay_file('[view]\nrunner_faces = "auto"\n')).view == ViewProfile()
    assert read_bay(bay_file("[view]\nwidth = 640\nheight = 480\n")).view.width == 640


SIZE = "width = 1280\nheight = 720\n"


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("[camera]\ndevice = true\n", ["[camera] device = true", "its path or its URL"]),
        ("[camera]\ndevice = -1\n", ["[camera] device = -1", "0 to 63"]),
        ('[camera]\ndevice = ""\n', ["[camera] device", "its path or its URL"]),
        ("[camera]\nwidth = 1280.5\n", ["[camera] width = 1280.5", "160 to 7680"]),
        ("[camera]\nheight = 0\n", ["[camera] height = 0", "120 to 4320"]),
        ("[camera]\nfps = 9\n", ["[camera] fps = 9", "10 to 500"]),
        ("[camera]\nfps = 501\n", ["[camera] fps = 501", "10 to 500"]),
        ("[camera]\nroll_deg = 21\n", ["[camera] roll_deg = 21", "-20 to 20 degrees"]),
        ("[camera]\nroll_deg = nan\n", ["[camera] roll_deg", "-20 to 20 degrees"]),
        ('[view]\nrunner_faces = "up"\n', ['runner_faces = "up"', "left, right or auto"]),
        (f"[view]\npx_per_m = 0\n{SIZE}", ["[view] px_per_m = 0", "20 to 5000"]),
        (f"[view]\npx_per_m = 5001\n{SIZE}", ["[view] px_per_m = 5001", "20 to 5000"]),
        ("[view]\npx_per_m = 360\n", ["[view]", "width and height missing", "px_per_m"]),
        ("[view]\npx_per_m = 360\nwidth = 1280\n", ["[view]", "height missing"]),
        ("[view]\nheight = 720\n", ["[view]", "width missing", "together"]),
        (
            "[view]\nbelt_line = [[0, 9], [99, 9]]\n",
            ["[view]", "width and height missing", "belt_line"],
        ),
        (f"[view]\nbelt_line = [[1, 2]]\n{SIZE}", ["[view] belt_line = [[1, 2]]", "two points"]),
        (f"[view]\nbelt_line = 640\n{SIZE}", ["[view] belt_line = 640", "two points"]),
        (f'[view]\nbelt_line = [[1, 2], [3, "x"]]\n{SIZE}', ['[3, "x"]]', "two points"]),
        (f"[view]\nbelt_line = [[1, 2], [3, inf]]\n{SIZE}", ["belt_line", "two points"]),
        (f"[view]\nbelt_line = [[100, 200], [100, 200]]\n{SIZE}", ["0 px apart", "50 px"]),
        (f"[view]\nbelt_line = [[100, 200], [149, 200]]\n{SIZE}", ["49 px apart", "50 px"]),
        (f"[view]\nbelt_line = [[100, 100], [110, 300]]\n{SIZE}", ["steeper than 45 degrees"]),
        (
            f"[view]\nbelt_line = [[100, 200], [1281, 200]]\n{SIZE}",
            ["point [1281, 200] is outside", "x 0 to 1280, y 0 to 720"],
        ),
        (f"[view]\nbelt_line = [[100, -1], [1200, 20]]\n{SIZE}", ["point [100, -1] is outside"]),
        ('[limits]\nbelt_speed = "fast"\n', ['[limits] belt_speed = "fast"', "not a belt speed"]),
        ("[limits]\nbelt_speed = 10\n", ["[limits] belt_speed = 10", "with its unit"]),
        ("[sound]\nvolume = 1.1\n", ["[sound] volume = 1.1", "0 to 1"]),
        ("[sound]\nbeat_level = 2\n", ["[sound] beat_level = 2", "0 (silent) to 1"]),
        ("[sound]\ncue_level = -0.1\n", ["[sound] cue_level = -0.1", "0 (silent) to 1"]),
        ("[sound]\ncue_gap_s = 0.4\n", ["[sound] cue_gap_s = 0.4", "0.5 to 10 seconds"]),
        ('[sound]\nbeat_feet = "ears"\n', ['beat_feet = "ears"', "alike, pitch or pan"]),
        ("[screen]\ndiagonal_m = 32\n", ["[screen] diagonal_m = 32", "0.1 to 5 metres"]),
        ("[screen]\nviewing_distance_m = 0\n", ["viewing_distance_m = 0", "0.3 to 10 metres"]),
        ('[screen]\nlanguage = "../x"\n', ['[screen] language = "../x"', "language code"]),
        ('[records]\nfolder = ""\n', ["[records] folder", "a folder's path"]),
        ("[camera]\nframe_rate = 60\n", ["[camera] frame_rate", "no such key"]),
        ("[camera]\nheigth = 60\n", ["[camera] heigth", "did you mean height?"]),
        (
            '[sound]\nbeat_every = "stride"\n',
            ["[sound] beat_every", "did you mean beat_every in a drill of the plan?"],
        ),
        ("[wiev]\nfps = 60\n", ["[wiev]", "no such key", "name, camera, view"]),
        ("camera = 3\n", ["camera = 3", "a [camera] table"]),
        ("name = 3\n", ["name = 3", "1 to 200 characters"]),
    ],
)
def test_each_mistake_names_table_key_value_and_what_is_allowed(bay_file, text, parts):
    path = bay_file(text)
    with pytest.raises(BadInput) as caught:
        read_bay(path)
    (mistake,) = caught.value.mistakes
    for part in parts:
        assert part in mistake
    assert str(caught.value).startswith(f"{path}: 1 mistake")


def test_all_mistakes_are_told_at_once(bay_file):
    text = "[camera]\nfps = 5\nwidth = 1\n[view]\npx_per_m = 0\n[sound]\nvolume = 9\n[x]\n"
    with pytest.raises(BadInput) as caught:
        read_bay(bay_file(text))
    assert len(caught.value.mistakes) == 6


def test_an_empty_profile_is_refused(bay_file):
    with pytest.raises(BadInput, match="the file is empty"):
        read_bay(bay_file(""))


def test_records_of_a_bay(tmp_path: Path) -> None:
    file = tmp_path / "bay.toml"
    file.write_text(
        '[records]\nurl = "postgresql://station@db/landing"\nkeep_days = 730\nvideo = "on"\n'
    )
    bay = read_bay(file)
    assert (bay.records_url, bay.keep_days, bay.video) == (
        "postgresql://station@db/landing", 730, True,
    )  # fmt: skip
    file.write_text('[records]\nurl = "mysql://x/y"\nkeep_days = 0\nvideo = "maybe"\n')
    with pytest.raises(BadInput) as caught:
        read_bay(file)
    assert len(caught.value.mistakes) == 3
