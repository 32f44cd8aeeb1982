"""Find the station's tones in a recording, to the sample, and see what else is in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, correlate, sosfiltfilt

RATE_HZ = 48_000
_PIECE = 20 * RATE_HZ
_PAD = 960  # samples of silence about a tone, for the filter's ringing

BEAT_BAND = (2500.0, 7500.0)
"""Of the beat's tick: above every cue, below the markers."""
CUE_BAND = (250.0, 950.0)
"""Of the cue `ahead`: below the tick's lowest partial."""
MARKER_BAND = (8000.0, 14000.0)


@dataclass(frozen=True)
class Places:
    """Where a tone begins."""

    at: NDArray[np.int64]
    """(k,) samples, rising."""
    likeness: NDArray[np.float64]
    """(k,) normalised correlation, 1 for a faithful copy at any level."""


def find(
    sound: NDArray[np.floating],
    tone: NDArray[np.floating],
    band_hz: tuple[float, float],
    least: float = 0.7,
) -> Places:
    """Find where a known tone begins, by cross-correlation within a band of frequencies.

    Args:
        sound: (n,) one channel, as long as may be.
        tone: (m,) as made; its level may differ.
        band_hz: Only what lies in it is compared.
        least: Likeness from which a place counts.

    Returns:
        The places, at the resolution of a sample; none where the tone is not found.
    """
    filt = butter(4, band_hz, "bandpass", fs=RATE_HZ, output="sos")
    like = sosfiltfilt(filt, np.pad(np.asarray(tone, dtype=float), _PAD))
    power = float((like**2).sum())
    floor = 1e-8 * power  # of silence nothing is like anything
    found: dict[int, float] = {}
    over = like.size + 2 * _PAD
    for begin in range(0, max(1, sound.size - 1), _PIECE):
        a, b = max(0, begin - over), min(sound.size, begin + _PIECE + over)
        piece = sosfiltfilt(filt, np.pad(sound[a:b].astype(float), _PAD + like.size))
        product = correlate(piece, like, mode="valid", method="fft")
        total = np.concatenate([[0.0], np.cumsum(piece**2)])
        there = np.maximum(total[like.size :] - total[: -like.size], floor)
        likeness = product / np.sqrt(there * power)
        above = np.flatnonzero(likeness >= least)
        for group in np.split(above, np.flatnonzero(np.diff(above) > tone.size) + 1):
            if group.size:
                peak = int(group[np.argmax(product[group])])
                at = peak - like.size + a  # where the tone itself begins, in the recording
                if begin <= at < begin + _PIECE:
                    found[at] = float(likeness[peak])
    at = np.array(sorted(found), dtype=np.int64)
    return Places(at, np.array([found[int(i)] for i in at]))


def sides(sound: NDArray[np.float32], at: NDArray[np.int64], length: int) -> list[str | None]:
    """Return which ear each low tone is louder in, `left` or `right`; None: alike."""
    filt = butter(4, CUE_BAND, "bandpass", fs=RATE_HZ, output="sos")
    told: list[str | None] = []
    for i in at:
        piece = sosfiltfilt(filt, sound[max(0, i - _PAD) : i + length + _PAD].astype(float), axis=0)
        left, right = (piece**2).sum(axis=0)
        told.append(None if 0.7 < left / max(right, 1e-12) < 1.4 else
                    "left" if left > right else "right")  # fmt: skip
    return told


@dataclass(frozen=True)
class Beats:
    """Every beat of a recording, whichever of its tones it was sounded with."""

    at: NDArray[np.int64]
    """(k,) samples, rising."""
    tone: NDArray[np.int64]
    """(k,) which of the tones."""
    likeness: NDArray[np.float64]


def find_beats(sound: NDArray[np.floating], tones: list[NDArray[np.float64]]) -> Beats:
    """Find the beats in one channel; a place at which two tones are found goes to the likelier."""
    found = [find(sound, tone, BEAT_BAND) for tone in tones]
    at = np.concatenate([places.at for places in found])
    like = np.concatenate([places.likeness for places in found])
    which = np.concatenate([np.full(p.at.size, i) for i, p in enumerate(found)]).astype(np.int64)
    order = np.argsort(at, kind="stable")
    kept: list[int] = []
    for i in order:
        if kept and at[i] - at[kept[-1]] < min(tone.size for tone in tones):
            if like[i] > like[kept[-1]]:
                kept[-1] = int(i)
        else:
            kept.append(int(i))
    return Beats(at[kept], which[kept], like[kept])


@dataclass(frozen=True)
class Evenness:
    """How the beats found lie against k periods of the rate that was asked for."""

    beats: int
    lost: int
    """Places between the first and the last at which there is no beat."""
    double: int
    """Beats too many at one place."""
    worst_samples: float
    """Largest distance from k x period after one constant offset per tone is removed; exact
    rounding to whole samples is 0.5 at most."""
    mean_interval_error: float
    """Share by which the mean interval differs from the one wanted."""

    shifts: list[tuple[float, int]]
    """Where a beat came off the beat before by more than a sample: seconds, samples too late."""

    @property
    def holds(self) -> bool:
        """Whether it is as even as it must be."""
        even = self.worst_samples <= 1.0 and abs(self.mean_interval_error) <= 1e-5
        return self.beats > 1 and not self.lost and not self.double and even


def evenness(beats: Beats, rate_spm: float) -> Evenness:
    """Compare beats with their exact places; the period need not be a whole number of samples."""
    at = beats.at
    if at.size < 2:
        return Evenness(int(at.size), 0, 0, float("inf"), float("inf"), [])
    period = 60.0 * RATE_HZ / rate_spm
    number = np.round((at - at[0]) / period).astype(np.int64)
    off = (at - at[0]) - number * period
    worst = max(float(np.ptp(off[beats.tone == tone])) / 2.0 for tone in np.unique(beats.tone))
    places = np.unique(number).size
    jumps = np.diff(off)
    shifted = np.flatnonzero((np.abs(jumps) > 1.0) & (np.diff(beats.tone) == 0))
    return Evenness(
        beats=int(at.size),
        lost=int(number[-1]) + 1 - places,
        double=int(at.size) - places,
        worst_samples=worst,
        mean_interval_error=float((at[-1] - at[0]) / (number[-1] * period) - 1.0),
        shifts=[(round(float(at[i + 1]) / RATE_HZ, 2), round(jumps[i])) for i in shifted],
    )


def left_over(
    sound: NDArray[np.float32], tones: list[tuple[NDArray[np.float64], NDArray[np.int64]]]
) -> NDArray[np.float32]:
    """Return what is left of one channel when every tone found is taken out at its own level.

    A gap, a click or a jump anywhere in the recording stays in it.

    Args:
        sound: (n,) one channel.
        tones: Each tone as made, (m,), with its onsets.
    """
    rest = sound.astype(np.float32).copy()
    for tone, at in tones:
        whole = at[(at >= 0) & (at + tone.size <= sound.size)]
        if not whole.size:
            continue
        # One level for all of them: that of the median copy.
        levels = [float(sound[i : i + tone.size] @ tone) for i in whole]
        level = float(np.median(levels)) / float(tone @ tone)
        for i in whole:
            rest[i : i + tone.size] -= (level * tone).astype(np.float32)
    return rest
