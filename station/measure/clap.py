"""Hands that clap: when they meet in the pictures, and how far the sound's clock is off.

Used once, at set-up: whoever claps stands so that both hands are seen to come together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from station.values import LANDMARK_INDEX, Floats, Pose

SOUND_MPS = 343.0
"""Speed of sound in air at 20 degrees C (a physicist's commonplace)."""
SPAN_S = 0.2
"""From so long before the hands meet to so long after, the movement is fitted."""
LEAST_DROP = 0.6
"""The hands must have been so much further apart, in lengths of the trunk."""
CLOSEST = 0.55
"""... and come so near each other: wrists stay a hand's breadth apart."""
APART_S = 0.35
"""Two claps are not nearer to each other."""
LARGEST_S = 0.4
"""A picture is not further off its sound."""
_DROP_S = 0.5
_LEAST_FRAMES = 5
_GRID_S = 0.001
_DWELL_LIKELY_S = 0.3
"""Hands that rest on each other for so long fit half as well as their error says: a short rest and
a meeting a little earlier look alike."""
_LEVEL_CLAPS = 3
"""From so many claps on it is known how near each other the wrists come."""
_LEVEL_SHARE = 0.25
"""Of the claps' closest pictures so many lie below it: most fall beside the meeting, or noise."""
_LEVEL_WEIGHT = 1.0
"""It counts as a picture of the resting hands; a short rest mostly falls between two pictures."""
_DWELLS_S = np.arange(0.0, 0.121, 0.01)
_LEFT, _RIGHT = LANDMARK_INDEX["left_wrist"], LANDMARK_INDEX["right_wrist"]
_TRUNK = tuple(
    (LANDMARK_INDEX[f"{side}_shoulder"], LANDMARK_INDEX[f"{side}_hip"])
    for side in ("left", "right")
)


@dataclass(frozen=True, slots=True)
class ClapAlignment:
    """How far apart the clocks of picture and sound are."""

    late_s: float
    """How much later the pictures are timed than the sound: to be taken off the pictures' times;
    negative: they are timed too early."""
    spread_s: float
    """Largest less smallest of the claps; 0 with one."""
    claps: int
    """Seen and heard."""


def wrist_gap(pose: Pose) -> float:
    """Return how far apart the wrists are, in lengths of the trunk; NaN where not known."""
    trunks = [float(np.hypot(*(pose.xy_px[a] - pose.xy_px[b]))) for a, b in _TRUNK]
    known = [length for length in trunks if np.isfinite(length) and length > 0.0]
    if not known:
        return float("nan")
    return float(np.hypot(*(pose.xy_px[_LEFT] - pose.xy_px[_RIGHT]))) / max(known)


def claps_seen(poses: Sequence[Pose]) -> tuple[float, ...]:
    """Return when hands met, to a fraction of a frame, seconds on the poses' clock.

    Args:
        poses: In order of time; some may be of nobody.

    Returns:
        In order; empty where nobody clapped.
    """
    times_s = np.array([pose.t_s for pose in poses])
    gaps = np.array([wrist_gap(pose) for pose in poses])
    return clap_times(times_s, gaps)


def clap_times(times_s: Floats, gaps: Floats) -> tuple[float, ...]:
    """Return when a gap between two hands closed, to a fraction of a sample.

    Args:
        times_s: (n,), rising.
        gaps: (n,), lengths of the trunk; NaN where not known.

    Returns:
        In order; empty where it never did.
    """
    known = np.isfinite(gaps)
    times_s, gaps = times_s[known], gaps[known]
    closest: list[int] = []
    for i in np.argsort(gaps, kind="stable"):
        t_s, gap = float(times_s[i]), float(gaps[i])
        if gap > CLOSEST:
            break
        if any(abs(t_s - float(times_s[other])) < APART_S for other in closest):
            continue
        before = gaps[(times_s < t_s) & (times_s >= t_s - _DROP_S)]
        if len(before) >= _LEAST_FRAMES and float(before.max()) - gap >= LEAST_DROP:
            closest.append(int(i))
    level = None
    if len(closest) >= _LEVEL_CLAPS:
        level = float(np.quantile(gaps[closest], _LEVEL_SHARE))
    found: list[float] = []
    for i in closest:
        met_s = _meeting(times_s, gaps, i, level)
        if met_s is not None and all(abs(met_s - other_s) >= APART_S for other_s in found):
            found.append(met_s)
    return tuple(sorted(found))


def _meeting(times_s: Floats, gaps: Floats, lowest: int, level: float | None) -> float | None:
    """Fit closing, resting and parting: three straight pieces; return where the first ends.

    Args:
        times_s: (n,), rising.
        gaps: (n,), all known.
        lowest: Index of the clap's closest picture.
        level: How near each other the hands come; None: not known.
    """
    t_s = float(times_s[lowest])
    near = (times_s >= t_s - SPAN_S) & (times_s <= t_s + SPAN_S)
    # From the last time that they were far apart: hands that only begin to close are not straight.
    far = gaps >= gaps[lowest] + 0.6 * (float(gaps[near & (times_s <= t_s)].max()) - gaps[lowest])
    last_far = times_s[near & far & (times_s < t_s)]
    first_far = times_s[near & far & (times_s > t_s)]
    begin_s = float(last_far.max()) if len(last_far) else t_s - SPAN_S
    end_s = float(first_far.min()) if len(first_far) else t_s + SPAN_S
    part = (times_s >= begin_s - 1e-9) & (times_s <= end_s + 1e-9)
    x, y = times_s[part], gaps[part]
    if len(x) < _LEAST_FRAMES:
        return None
    frame_s = float(np.median(np.diff(x)))
    mets_s = np.arange(t_s - 0.1, t_s + frame_s, _GRID_S)
    met_s, dwell_s = (one.ravel()[:, None] for one in np.meshgrid(mets_s, _DWELLS_S))
    closing = np.maximum(0.0, met_s - x)
    parting = np.maximum(0.0, x - met_s - dwell_s)
    columns = np.stack([np.ones_like(closing), closing, parting], axis=2)  # (grid, n, 3)
    squares = np.einsum("gni,gnj->gij", columns, columns) + 1e-9 * np.eye(3)
    products = np.einsum("gni,n->gi", columns, y)
    if level is not None:  # one row more: a picture between the other two pieces
        squares[:, 0, 0] += _LEVEL_WEIGHT
        products[:, 0] += _LEVEL_WEIGHT * level
    solved = np.linalg.solve(squares, products[:, :, None])[:, :, 0]
    error = ((np.einsum("gni,gi->gn", columns, solved) - y) ** 2).sum(axis=1)
    if level is not None:
        error += _LEVEL_WEIGHT * (solved[:, 0] - level) ** 2
    error *= 1.0 + dwell_s[:, 0] / _DWELL_LIKELY_S
    sound = (np.count_nonzero(closing, axis=1) >= 2) & (solved[:, 1:] >= 0.0).all(axis=1)
    if not sound.any():
        return None
    return float(met_s[np.argmin(np.where(sound, error, np.inf)), 0])


def sounds_heard(samples: NDArray[np.floating[Any]], rate_hz: float) -> tuple[float, ...]:
    """Return where sudden sounds begin, in seconds from the first sample.

    A sound is sudden where the energy of 3 ms is 20 dB over that of the tenth of a second before,
    and over half of the loudest but 20 dB; it begins where it first rises above the noise.

    Args:
        samples: (n,), one channel.
        rate_hz: Samples a second.

    Returns:
        In order; empty where there is none.
    """
    if len(samples) < 0.2 * rate_hz:
        return ()
    sharp = np.diff(samples.astype(np.float64), prepend=samples[:1])  # rumble is not sudden
    short, long, gap = (max(1, round(s * rate_hz)) for s in (0.003, 0.1, APART_S))
    power = np.concatenate([[0.0], np.cumsum(sharp**2)])
    at = np.arange(long, len(sharp) - short, max(1, short // 6))
    now = (power[at + short] - power[at]) / short
    before = (power[at] - power[at - long]) / long
    floor = float(np.median(now)) + 1e-16
    loud = float(now.max())
    sudden = (now > 100.0 * (before + 0.01 * floor)) & (now > 0.01 * loud) & (now > 30.0 * floor)
    found: list[float] = []
    last = -gap
    for i in at[sudden]:
        if i - last < gap:
            continue
        last = i
        noise = float(np.sqrt((power[i - short] - power[i - long]) / (long - short)))
        piece = np.abs(sharp[i - short : i + 2 * short])
        begun = np.flatnonzero(piece > max(5.0 * noise, 0.08 * float(piece.max())))
        found.append(float(i - short + (begun[0] if len(begun) else short)) / rate_hz)
    return tuple(found)


def align(
    seen_s: Sequence[float], heard_s: Sequence[float], distance_m: float = 0.0
) -> ClapAlignment | None:
    """Return how much later the pictures' clock shows the claps than the sound's.

    Args:
        seen_s: When hands met, on the pictures' times.
        heard_s: When sudden sounds began, on the sound's times; some may be something else.
        distance_m: From the hands to the microphone; the sound takes its time.

    Returns:
        The offset that most claps agree on; None where no clap has a sound.
    """
    way_s = distance_m / SOUND_MPS
    offsets = [(s - (h - way_s), i) for i, s in enumerate(seen_s) for h in heard_s]
    offsets = [(offset, i) for offset, i in offsets if abs(offset) <= LARGEST_S]
    best: list[float] = []
    for middle, _ in offsets:
        agreed: dict[int, float] = {}
        for offset, i in offsets:
            if abs(offset - middle) <= 0.03:
                agreed[i] = min(agreed.get(i, offset), offset, key=lambda o: abs(o - middle))
        found = list(agreed.values())
        if len(found) > len(best) or (
            len(found) == len(best) and best and np.ptp(found) < np.ptp(best)
        ):
            best = found
    if not best:
        return None
    return ClapAlignment(float(np.median(best)), float(np.ptp(best)), len(best))
