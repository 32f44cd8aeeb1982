"""What is in a film's file: its parts, its pictures and its sound."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np


def parts(path: Path) -> list[str]:
    """Return the names of the file's outermost boxes, in their order (ISO/IEC 14496-12, 4.2)."""
    content, at, names = path.read_bytes(), 0, []
    while at < len(content):
        size = int.from_bytes(content[at : at + 4], "big")
        assert size >= 8, "a box that ends with the file, or a long one, is none of ours"
        names.append(content[at + 4 : at + 8].decode("ascii"))
        at += size
    return names


def packets(path: Path) -> list[bytes]:
    """Return the encoded pictures."""
    with av.open(str(path)) as film:
        return [bytes(packet) for packet in film.demux(video=0) if packet.size]


def times_s(path: Path) -> list[Fraction]:
    """Return when each picture is shown, exactly."""
    with av.open(str(path)) as film:
        return [frame.pts * frame.time_base for frame in film.decode(video=0)]


def pictures(path: Path) -> list[np.ndarray]:
    """Return the pictures as the file's own marks say that they are to be read, BGR."""
    with av.open(str(path)) as film:
        return [frame.to_ndarray(format="bgr24") for frame in film.decode(video=0)]


def sound(path: Path) -> np.ndarray:
    """Return the sound, (channels, n) float."""
    with av.open(str(path)) as film:
        return np.concatenate([frame.to_ndarray() for frame in film.decode(audio=0)], axis=1)
