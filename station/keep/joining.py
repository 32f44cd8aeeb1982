"""Puts the recorded sound into the recorded film, where the ffmpeg program is installed.

It is a program of its own, never needed: whatever goes wrong, film and sound stay as they are, side
by side, and a sentence says how to join them by hand.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

PROGRAM = "ffmpeg"
ENCODED_MOST_S = 600.0
"""A longer film keeps its own picture stream: to encode it anew would keep the coach waiting."""
_START_S = 60.0
_PER_FILM_S = 1.0  # to encode a second of film; two idle cores need 0.26 s at 30 pictures a second
_COPY_PER_FILM_S = 0.1
_ENCODE = ("-c:v", "libx264", "-preset", "veryfast", "-crf", "20", "-pix_fmt", "yuv420p")
_COPY = ("-c:v", "copy")
_SOUND = ("-c:a", "aac", "-b:a", "192k", "-movflags", "+faststart")


@dataclass(frozen=True, slots=True)
class Joined:
    """What became of the film."""

    done: bool
    """The film has its sound."""
    notice: str | None = None
    """What the user should know."""


def join_sound(film: Path, sound: Path, film_s: float) -> Joined:
    """Give a film its sound; both begin at the same instant.

    The picture is encoded as H.264, which web browsers play. Where that cannot be done, or the
    film is longer than `ENCODED_MOST_S`, it stays as it is and only the sound is added.

    Args:
        film: The film; replaced in one go once all went well.
        sound: A WAV file beside it; stays.
        film_s: The film's length: bounds how long is waited.

    Returns:
        Whether it was done, and what the user should know.
    """
    program = shutil.which(PROGRAM)
    if program is None:
        return Joined(False, f"{PROGRAM} was not found, so {left_apart(film, sound)}")
    why: str | None = None
    if film_s <= ENCODED_MOST_S:
        why = _run(program, film, sound, _ENCODE, _START_S + _PER_FILM_S * film_s)
        if why is None:
            return Joined(True)
    why_not = _run(program, film, sound, _COPY, _START_S + _COPY_PER_FILM_S * film_s)
    if why_not is not None:
        return Joined(False, f"{PROGRAM} failed ({why_not}), so {left_apart(film, sound)}")
    reason = f"{PROGRAM} did not encode H.264: {why}" if why else "it is too long to encode at once"
    return Joined(
        True,
        f"{film.name} has its sound, but its picture is still MPEG-4, which desktop players open "
        f"and web browsers mostly do not ({reason})",
    )


def left_apart(film: Path, sound: Path) -> str:
    """Return the words that say where picture and sound are, and how to join them by hand."""
    command = " ".join((PROGRAM, "-i", film.name, "-i", sound.name, *_ENCODE, *_SOUND))
    return (
        f"{film.name} is without its sound, and MPEG-4, which web browsers mostly do not play. "
        f"{sound.name} begins with the film's first picture; to join them: "
        f"{command} film-with-sound.mp4"
    )


def _run(
    program: str, film: Path, sound: Path, picture: tuple[str, ...], most_s: float
) -> str | None:
    """Join into a file beside the film and put it in the film's place.

    Returns:
        What went wrong; None: nothing did.
    """
    beside = film.with_name(f".{film.stem}-joining{film.suffix}")
    command = [
        program, "-nostdin", "-hide_banner", "-loglevel", "error", "-y",
        "-i", str(film), "-i", str(sound), "-map", "0:v:0", "-map", "1:a:0",
        *picture, *_SOUND, str(beside),
    ]  # fmt: skip
    try:
        done = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            timeout=most_s,
            check=False,
        )
        if done.returncode != 0:
            said = done.stderr.decode(errors="replace").strip().splitlines()
            return said[-1].strip() if said else f"exit code {done.returncode}"
        if not beside.is_file() or beside.stat().st_size == 0:
            return "it wrote nothing"
        os.replace(beside, film)
    except subprocess.TimeoutExpired:
        return f"it was not done within {most_s:.0f} s"
    except OSError as fault:
        return fault.strerror or str(fault)
    finally:
        beside.unlink(missing_ok=True)
    return None
