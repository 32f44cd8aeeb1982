"""The file as another program finds it: read with SciPy, also after a kill."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile

from station.sound.wav_file import WavFile

FS = 48_000


def test_samples_come_back_within_half_a_step_of_16_bits(tmp_path: Path) -> None:
    sound = np.random.default_rng(1).uniform(-1.0, 1.0, (5000, 2)).astype(np.float32)
    file = WavFile(tmp_path / "a.wav", FS)
    file.write(sound[:1234])
    file.write(sound[1234:])
    file.close()
    file.close()
    rate_hz, read = wavfile.read(tmp_path / "a.wav")
    assert rate_hz == FS
    assert read.dtype == np.int16
    assert file.written == 5000
    np.testing.assert_allclose(read / 32767.0, sound, atol=0.51 / 32767.0)


def test_too_loud_is_clipped_and_never_wraps(tmp_path: Path) -> None:
    file = WavFile(tmp_path / "a.wav", FS)
    file.write(np.array([[1.5, -1.5]], np.float32))
    file.close()
    assert wavfile.read(tmp_path / "a.wav")[1].tolist() == [[32767, -32767]]


def test_after_each_write_the_file_is_whole(tmp_path: Path) -> None:
    file = WavFile(tmp_path / "a.wav", FS)
    for n in range(1, 6):
        file.write(np.full((100, 2), 0.25, np.float32))
        assert len(wavfile.read(tmp_path / "a.wav")[1]) == 100 * n  # it is still open
    file.close()


KILLED = """
import os, signal, sys
from pathlib import Path
import numpy as np
from station.sound.wav_file import WavFile
file = WavFile(Path(sys.argv[1]), 48000)
for _ in range(7):
    file.write(np.full((1000, 2), 0.5, np.float32))
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_killed_program_leaves_all_that_it_wrote(tmp_path: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path / "a.wav")], timeout=30, check=False
    )
    assert run.returncode == -signal.SIGKILL
    _, read = wavfile.read(tmp_path / "a.wav")
    assert len(read) == 7000
    assert (read == 16384).all()


def test_beyond_the_formats_size_nothing_is_written(tmp_path: Path) -> None:
    file = WavFile(tmp_path / "a.wav", FS, most_samples=150)
    file.write(np.zeros((100, 2), np.float32))
    with pytest.raises(OSError, match="4 GiB"):
        file.write(np.zeros((100, 2), np.float32))
    file.close()
    assert len(wavfile.read(tmp_path / "a.wav")[1]) == 100


def test_a_full_disk_is_told_once_and_closes_quietly() -> None:
    file = WavFile(Path("/dev/full"), FS)
    with pytest.raises(OSError, match="No space left"):
        file.write(np.zeros((100, 2), np.float32))
    file.close()
    assert file.written == 0
