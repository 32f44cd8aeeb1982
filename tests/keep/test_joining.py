"""Film and sound put together, and what is left where that fails."""

from __future__ import annotations

import resource
import shutil
import signal
from collections.abc import Iterator
from pathlib import Path

import av
import films
import numpy as np
import pytest
from scipy.io import wavfile

from station.keep import joining
from station.keep.joining import finish_film, left_apart
from station.show.film_file import FilmFile

FS = 48_000
FPS = 30.0


@pytest.fixture
def film(tmp_path: Path) -> Path:
    """Return a film of 2 s that turns white at 1 s; `sound.wav` beside it has its tone there."""
    path = tmp_path / "screen.mp4"
    video = FilmFile(path, (160, 96), FPS)
    for level in (0, 255):
        video.write(np.full((96, 160, 3), level, np.uint8), 30)
    video.release()
    samples = np.zeros((2 * FS, 2), np.int16)
    samples[FS : FS + 4800] = (
        12_000 * np.sin(np.arange(4800) * 2 * np.pi * 1000 / FS)[:, np.newaxis]
    )
    wavfile.write(tmp_path / "sound.wav", FS, samples)
    return path


def join(film: Path) -> str | None:
    return finish_film(film, film.with_name("sound.wav"))


@pytest.fixture
def stays(film: Path) -> Iterator[None]:
    """Whatever the test does, film and sound are as before, and nothing is beside them."""
    before = {path.name: path.read_bytes() for path in film.parent.iterdir()}
    assert set(before) == {"screen.mp4", "sound.wav"}
    yield
    assert {path.name: path.read_bytes() for path in film.parent.iterdir()} == before


def test_picture_and_sound_are_together_in_the_film(film: Path) -> None:
    """The picture turns white where the tone begins; the codecs are those that browsers play."""
    assert join(film) is None
    with av.open(str(film)) as joined:
        assert [stream.codec_context.name for stream in joined.streams] == ["h264", "aac"]
        assert joined.duration == pytest.approx(2 * av.time_base, abs=1)
    levels = np.array([image.mean() for image in films.pictures(film)])
    assert len(levels) == 60
    assert int(np.argmax(levels > 128)) == 30
    samples = films.sound(film)
    assert abs(samples.shape[1] - 2 * FS) <= 2048  # the sound's codec works in frames of 1024
    for channel in samples:
        onset = int(np.argmax(np.abs(channel) > 0.1))
        assert abs(onset - FS) < 0.001 * FS  # a lossy codec blurs an onset a little
        assert np.abs(channel).max() == pytest.approx(12_000 / 32_768, rel=0.05)


@pytest.mark.parametrize("sound", ["sound.wav", None])
def test_the_picture_is_copied_and_the_index_comes_first(film: Path, sound: str | None) -> None:
    encoded, times_s = films.packets(film), films.times_s(film)
    assert "moof" in films.parts(film), "as it was recorded: in fragments"
    assert finish_film(film, None if sound is None else film.with_name(sound)) is None
    names = films.parts(film)
    assert "moof" not in names
    assert names.index("moov") < names.index("mdat")
    assert films.packets(film) == encoded
    assert films.times_s(film) == times_s
    assert {path.name for path in film.parent.iterdir()} == {"screen.mp4", "sound.wav"}


def test_a_sound_shorter_than_the_film_is_joined(film: Path) -> None:
    wavfile.write(film.with_name("sound.wav"), FS, np.full((FS // 2, 2), 99, np.int16))
    assert join(film) is None
    assert len(films.pictures(film)) == 60
    assert abs(films.sound(film).shape[1] - FS // 2) <= 2048


@pytest.mark.usefixtures("stays")
@pytest.mark.parametrize("bytes_most", [0, 40, 2000, 6000])
def test_a_disk_that_refuses_the_file_is_told(film: Path, bytes_most: int) -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (bytes_most, hard))
    try:
        why = join(film)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, handler)
    assert why == "File too large"


@pytest.mark.usefixtures("stays")
def test_the_disk_is_not_filled_with_a_second_film(
    film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    needed = film.stat().st_size + film.with_name("sound.wav").stat().st_size // 8
    usage = shutil.disk_usage(film.parent)
    begun: list[Path] = []

    def write(path: Path, *_: object) -> None:
        begun.append(path)
        raise OSError("the writing was begun")

    monkeypatch.setattr(joining, "_write", write)
    monkeypatch.setattr(joining.shutil, "disk_usage", lambda _: usage)
    usage = usage._replace(free=20_000_000 + needed)
    assert join(film) == "the disk has no room for a second film"
    assert begun == []
    usage = usage._replace(free=20_000_001 + needed)
    assert join(film) == "the writing was begun"


@pytest.mark.usefixtures("stays")
def test_ctrl_c_leaves_them_apart(film: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    begins_s = joining._begins_s

    def press(packet: av.Packet) -> float:
        if begins_s(packet) > 1:
            raise KeyboardInterrupt
        return begins_s(packet)

    monkeypatch.setattr(joining, "_begins_s", press)
    why = join(film)
    assert why is not None
    assert "Ctrl-C" in why


@pytest.mark.parametrize("spoiled", ["screen.mp4", "sound.wav"])
def test_a_file_that_cannot_be_read_is_told(film: Path, spoiled: str) -> None:
    (film.parent / spoiled).write_bytes(b"no film, no sound" * 100)
    before = film.read_bytes()
    why = join(film)
    assert why is not None
    assert "Invalid data" in why
    assert film.read_bytes() == before
    assert {path.name for path in film.parent.iterdir()} == {"screen.mp4", "sound.wav"}


def test_a_film_that_is_not_there_is_told(tmp_path: Path) -> None:
    assert finish_film(tmp_path / "screen.mp4", None) == "No such file or directory"
    assert list(tmp_path.iterdir()) == []


def test_the_words_name_both_files_and_no_folder(film: Path) -> None:
    told = left_apart(film, film.with_name("sound.wav"))
    assert "screen.mp4 is without its sound" in told
    assert "in sound.wav" in told
    assert str(film.parent) not in told
