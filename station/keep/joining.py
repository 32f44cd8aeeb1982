"""Writes a finished film anew: with its sound, and with its index at the beginning.

The picture is copied as it is, so that no picture is encoded twice. Whatever goes wrong, film and
sound stay as they were, side by side.
"""

from __future__ import annotations

import heapq
import os
import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import TypeAlias

    from av import AudioStream, Packet, VideoStream
    from av.container import InputContainer

    _Packet: TypeAlias = Packet[VideoStream] | Packet[AudioStream]

_SOUND_BITS_PER_S = 192_000
_SOUND_OPTIONS = {"aac_coder": "fast"}  # the truer of the two for ticks, in half the time
_SPARE_BYTES = 20_000_000  # are left to the records: a second film never fills the disk


def finish_film(film: Path, sound: Path | None) -> str | None:
    """Write a film anew, so that it starts at once where it is read over a network.

    Args:
        film: The film; replaced in one go once all went well.
        sound: A WAV file that begins at the instant of the film's first picture, and stays; None:
            the film gets no sound.

    Returns:
        What went wrong, or that Ctrl-C ended it: then both are as they were. None: it is done.
    """
    import av  # its library is loaded for a film only

    if not _has_room(film, sound):
        return "the disk has no room for a second film"
    beside = film.with_name(f".{film.stem}-joining{film.suffix}")
    try:
        try:
            _write(beside, film, sound)
            os.replace(beside, film)
        finally:
            beside.unlink(missing_ok=True)
    except (OSError, ValueError, av.FFmpegError) as fault:
        return getattr(fault, "strerror", None) or str(fault)
    except KeyboardInterrupt:
        return "it was ended by Ctrl-C"
    return None


def left_apart(film: Path, sound: Path) -> str:
    """Return the words that say where picture and sound are."""
    return (
        f"{film.name} is without its sound: that lies beside it, in {sound.name}, which begins "
        "with the film's first picture"
    )


def _has_room(film: Path, sound: Path | None) -> bool:
    try:
        free = shutil.disk_usage(film.parent).free
        needed = film.stat().st_size + (0 if sound is None else sound.stat().st_size // 8)
    except OSError:
        return True  # whatever is amiss shows when it is written
    return free > needed + _SPARE_BYTES


def _write(path: Path, film: Path, sound: Path | None) -> None:
    """Write film and sound into one file.

    Raises:
        av.FFmpegError: One cannot be read, or the file cannot be written.
        ValueError: There is no encoder for the sound, or no picture in the film.
    """
    import av

    with ExitStack() as stack:
        pictures = stack.enter_context(av.open(str(film)))
        if not pictures.streams.video:
            raise ValueError(f"there is no picture in {film.name}")
        target = stack.enter_context(
            av.open(str(path), "w", format="mp4", options={"movflags": "faststart"})
        )
        picture = pictures.streams.video[0]
        flows: list[Iterator[_Packet]] = [
            _copied(pictures, picture, target.add_stream_from_template(picture))
        ]
        if sound is not None:
            samples = stack.enter_context(av.open(str(sound), format="wav"))
            track = target.add_stream(
                "aac", rate=samples.streams.audio[0].rate, options=_SOUND_OPTIONS
            )
            track.layout = "stereo"
            track.bit_rate = _SOUND_BITS_PER_S
            flows.append(_encoded(samples, track))
        # In the order of time: what comes early waits in memory for what stands beside it.
        for packet in heapq.merge(*flows, key=_begins_s):
            target.mux(packet)


def _copied(source: InputContainer, stream: VideoStream, target: VideoStream) -> Iterator[_Packet]:
    for packet in source.demux(stream):
        if packet.dts is not None:  # the last one is empty, and has none
            packet.stream = target
            yield packet


def _encoded(source: InputContainer, target: AudioStream) -> Iterator[_Packet]:
    for frame in source.decode(audio=0):
        yield from target.encode(frame)
    yield from target.encode(None)


def _begins_s(packet: _Packet) -> Fraction:
    return (packet.dts or 0) * packet.time_base
