"""Film and sound put together: by the real program where it is there, by stand-ins elsewhere."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pytest
from scipy.io import wavfile

from station.keep import joining
from station.keep.joining import Joined, join_sound

FS = 48_000
FPS = 30.0


@pytest.fixture
def film(tmp_path: Path) -> Path:
    """Return a film of 2 s that turns white at 1 s; `sound.wav` beside it has its tone there."""
    path = tmp_path / "screen.mp4"
    video = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), FPS, (160, 96))
    for i in range(60):
        video.write(np.full((96, 160, 3), 255 if i >= 30 else 0, np.uint8))
    video.release()
    sound = np.zeros((2 * FS, 2), np.int16)
    sound[FS : FS + 4800] = 12_000 * np.sin(np.arange(4800) * 2 * np.pi * 1000 / FS)[:, np.newaxis]
    wavfile.write(tmp_path / "sound.wav", FS, sound)
    return path


@pytest.fixture
def programs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty folder that is the only one on the PATH."""
    folder = tmp_path / "programs"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    return folder


def stand_in(programs: Path, script: str) -> None:
    """Put a shell script in ffmpeg's place; `$last` is the file that it is to write."""
    path = programs / "ffmpeg"
    path.write_text(
        '#!/bin/sh\nPATH=/usr/bin:/bin\nhere=$(dirname "$0")\nfor last; do :; done\n'
        'echo "$@" >> "$here/calls"\n' + script
    )
    path.chmod(0o755)


def calls(programs: Path) -> list[str]:
    return (programs / "calls").read_text().splitlines()


def join(film: Path, film_s: float = 2.0) -> Joined:
    return join_sound(film, film.with_name("sound.wav"), film_s)


def test_without_the_program_both_files_stay_and_one_sentence_says_how(
    film: Path, programs: Path
) -> None:
    before = film.read_bytes()
    joined = join(film)
    assert not joined.done
    assert film.read_bytes() == before
    assert joined.notice is not None
    assert "ffmpeg was not found" in joined.notice
    assert "-i screen.mp4 -i sound.wav" in joined.notice
    assert str(film.parent) not in joined.notice


def test_the_programs_file_takes_the_films_place(film: Path, programs: Path) -> None:
    stand_in(programs, 'echo joined > "$last"\n')
    assert join(film) == Joined(True)
    assert film.read_text() == "joined\n"
    (call,) = calls(programs)
    assert f"-i {film} -i {film.with_name('sound.wav')}" in call
    assert "-c:v libx264" in call
    assert "-c:a aac" in call
    assert {p.name for p in film.parent.iterdir()} == {"programs", "screen.mp4", "sound.wav"}


def test_without_h264_the_picture_is_kept_and_that_is_said(film: Path, programs: Path) -> None:
    stand_in(
        programs,
        'case "$*" in *libx264*) echo "Unknown encoder" >&2; exit 1;; esac\necho kept > "$last"\n',
    )
    joined = join(film)
    assert joined.done
    assert film.read_text() == "kept\n"
    assert joined.notice is not None
    assert "Unknown encoder" in joined.notice
    assert "browsers mostly do not" in joined.notice
    assert "-c:v copy" in calls(programs)[1]


def test_a_long_film_is_not_encoded_anew(film: Path, programs: Path) -> None:
    stand_in(programs, 'echo kept > "$last"\n')
    joined = join(film, joining.ENCODED_MOST_S + 1.0)
    assert joined.done
    assert joined.notice is not None
    assert "too long" in joined.notice
    assert len(calls(programs)) == 1


@pytest.mark.parametrize(
    ("script", "told"),
    [
        ('echo half > "$last"\necho "first" >&2\necho "disk full" >&2\nexit 1\n', "disk full"),
        ("exit 3\n", "exit code 3"),
        ("exit 0\n", "it wrote nothing"),
        ("exec cat /dev/zero > /dev/null\n", "not done within"),
    ],
)
def test_its_failure_is_a_notice_and_the_film_stays(
    film: Path, programs: Path, monkeypatch: pytest.MonkeyPatch, script: str, told: str
) -> None:
    monkeypatch.setattr(joining, "_START_S", 0.3)
    monkeypatch.setattr(joining, "_PER_FILM_S", 0.0)
    monkeypatch.setattr(joining, "_COPY_PER_FILM_S", 0.0)
    stand_in(programs, script)
    before = film.read_bytes()
    joined = join(film)
    assert not joined.done
    assert joined.notice is not None
    assert told in joined.notice
    assert "to join them" in joined.notice
    assert film.read_bytes() == before
    assert {p.name for p in film.parent.iterdir()} == {"programs", "screen.mp4", "sound.wav"}


def test_a_program_that_cannot_be_run_is_a_notice(film: Path, programs: Path) -> None:
    path = programs / "ffmpeg"
    path.write_bytes(b"\x7fELF nonsense")
    path.chmod(0o755)
    assert not join(film).done


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")
def test_picture_and_sound_are_together_in_the_joined_film(film: Path) -> None:
    """By the real program: the picture turns white where the tone begins, and the codecs are
    those that browsers play."""
    assert join(film) == Joined(True)
    video = cv2.VideoCapture(str(film))
    try:
        codec = int(video.get(cv2.CAP_PROP_FOURCC)).to_bytes(4, "little")
        levels = [image.mean() for _, image in iter(video.read, (False, None))]
    finally:
        video.release()
    assert codec in (b"h264", b"avc1")
    assert len(levels) == 60
    assert int(np.argmax(np.array(levels) > 128)) == 30
    run = subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(film), "-f", "f32le", "-ac", "1", "-"],
        capture_output=True, check=True, timeout=30,
    )  # fmt: skip
    sound = np.frombuffer(run.stdout, "<f4")
    assert abs(len(sound) - 2 * FS) <= 2048  # the sound's codec works in frames of 1024
    onset = int(np.argmax(np.abs(sound) > 0.1))
    assert abs(onset - FS) < 0.001 * FS  # a lossy codec blurs an onset a little
