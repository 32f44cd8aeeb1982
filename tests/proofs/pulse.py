"""A private sound server with one recorded output, and the finding of beats in a recording.

For proofs only. The server is PulseAudio with a null sink; nothing of the user's own sound setup is
read or touched. Other proofs may import this file: it holds no proof itself.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, correlate, sosfiltfilt

SINK = "station"
_TOOLS = ("pulseaudio", "parec", "pactl")
_UP_MAX_S = 10.0
_PAD = 240  # samples of silence about a tone, for the filter's ringing


class PulseMissing(Exception):
    """The sound server cannot be used on this machine; the text says what to install."""


@dataclass(frozen=True)
class PulseServer:
    """A running private server."""

    folder: Path
    env: dict[str, str]
    """What a program needs in its environment to play into the sink, by Pulse, ALSA or SDL."""
    process: subprocess.Popen[bytes]

    def pactl(self, *words: str) -> str:
        """Ask the server; return its answer."""
        run = subprocess.run(
            ["pactl", *words],
            env=os.environ | self.env,
            capture_output=True,
            timeout=10,
            check=True,
        )
        return run.stdout.decode()


@contextlib.contextmanager
def pulse_server(rate_hz: int = 48_000) -> Iterator[PulseServer]:
    """Run a private sound server with a null sink; end it and remove its folder, always.

    Args:
        rate_hz: The sink's samples per second.

    Raises:
        PulseMissing: A tool is not installed, or the server does not come up.
    """
    missing = [tool for tool in _TOOLS if shutil.which(tool) is None]
    if missing:
        raise PulseMissing(
            f"{', '.join(missing)} not found; remedy: "
            "apt install pulseaudio pulseaudio-utils libasound2-plugins"
        )
    folder = Path(tempfile.mkdtemp(prefix="station-pulse-"))
    socket = folder / "native"
    alsa = folder / "asound.conf"
    alsa.write_text(
        "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"
    )
    env = {
        "HOME": str(folder),
        "XDG_RUNTIME_DIR": str(folder),
        "XDG_CONFIG_HOME": str(folder),
        "PULSE_RUNTIME_PATH": str(folder),
        "PULSE_SERVER": f"unix:{socket}",
        "ALSA_CONFIG_PATH": str(alsa),
        "SDL_AUDIODRIVER": "pulseaudio",
    }
    server = PulseServer(folder, env, _launch(folder, env, rate_hz))
    try:
        _wait_until_up(server)
        yield server
    finally:
        _end(server.process)
        shutil.rmtree(folder, ignore_errors=True)


@contextlib.contextmanager
def launched_again(server: PulseServer, rate_hz: int = 48_000) -> Iterator[PulseServer]:
    """Run a server that was killed once more, at the same place with the same sink."""
    again = PulseServer(server.folder, server.env, _launch(server.folder, server.env, rate_hz))
    try:
        _wait_until_up(again)
        yield again
    finally:
        _end(again.process)


def _launch(folder: Path, env: dict[str, str], rate_hz: int) -> subprocess.Popen[bytes]:
    with (folder / "server.log").open("ab") as log:
        return subprocess.Popen(
            [
                "pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
                f"--load=module-null-sink sink_name={SINK} rate={rate_hz} channels=2",
                f"--load=module-native-protocol-unix socket={folder / 'native'} auth-anonymous=1",
            ],
            env=os.environ | env, stdout=log, stderr=log,
        )  # fmt: skip


@contextlib.contextmanager
def recording(server: PulseServer, path: Path, rate_hz: int = 48_000) -> Iterator[None]:
    """Record what the sink plays into `path` (raw float32 stereo) while the block runs."""
    with path.open("wb") as out:
        process = subprocess.Popen(
            [
                "parec", f"--device={SINK}.monitor", "--format=float32le", f"--rate={rate_hz}",
                "--channels=2", "--latency-msec=20", "--raw",
            ],
            env=os.environ | server.env, stdout=out, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            _wait_for_bytes(path, process)
            yield
        finally:
            _end(process)


def read_recording(path: Path) -> NDArray[np.float32]:
    """Read a recording of `recording`: (n, 2) float32."""
    samples = np.fromfile(path, dtype="<f4")
    return samples[: samples.size // 2 * 2].reshape(-1, 2)


def find_onsets(
    sound: NDArray[np.floating],
    tone: NDArray[np.floating],
    rate_hz: int = 48_000,
    least: float = 0.7,
    above_hz: float = 2500.0,
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Find where a known tone begins, by cross-correlation, at the resolution of a sample.

    Args:
        sound: (n,) one channel.
        tone: (m,) the tone as made; its level may differ from the recording's.
        rate_hz: Samples per second of both.
        least: Likeness (0 to 1) from which a place counts.
        above_hz: Only what lies above is compared, so that a low tone on top hides nothing.

    Returns:
        (k,) onsets in samples, and (k,) the likeness of each: the normalised correlation, 1 for
        a faithful copy at any level. Empty where the tone is not found.
    """
    sound64, tone64 = np.asarray(sound, dtype=float), np.pad(np.asarray(tone, dtype=float), _PAD)
    if sound64.size < tone64.size:
        return np.zeros(0, np.int64), np.zeros(0)
    high = butter(4, above_hz, "highpass", fs=rate_hz, output="sos")
    tone64 = sosfiltfilt(high, tone64)
    sound64 = sosfiltfilt(high, np.pad(sound64, _PAD))  # index i is now where a tone at i begins
    product = correlate(sound64, tone64, mode="valid", method="fft")
    power = _running_sum(sound64**2, tone64.size)
    scale = np.sqrt(np.maximum(power, 1e-9 * max(float(power.max()), 1e-30)) * (tone64**2).sum())
    likeness = product / scale
    above = np.flatnonzero(likeness >= least)
    onsets: list[int] = []
    for group in np.split(above, np.flatnonzero(np.diff(above) > tone64.size) + 1):
        if group.size:
            onsets.append(int(group[np.argmax(product[group])]))
    found = np.array(onsets, dtype=np.int64)
    return found, likeness[found]


def _running_sum(values: NDArray[np.float64], n: int) -> NDArray[np.float64]:
    total = np.concatenate([[0.0], np.cumsum(values)])
    return total[n:] - total[:-n]


def _wait_until_up(server: PulseServer) -> None:
    end_s = time.monotonic() + _UP_MAX_S
    while time.monotonic() < end_s and server.process.poll() is None:
        with contextlib.suppress(subprocess.SubprocessError):
            if SINK in server.pactl("list", "short", "sinks"):
                return
        time.sleep(0.1)
    log = (server.folder / "server.log").read_text(errors="replace").strip().splitlines()
    raise PulseMissing(f"the sound server does not come up: {log[-1] if log else 'no reason told'}")


def _wait_for_bytes(path: Path, process: subprocess.Popen[bytes]) -> None:
    end_s = time.monotonic() + _UP_MAX_S
    while time.monotonic() < end_s and process.poll() is None:
        if path.stat().st_size:
            return
        time.sleep(0.05)
    raise PulseMissing("the recorder gets nothing from the sound server")


def _end(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(5)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(5)
