"""The belt's speed in the picture, from the feet that it carries."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import replace

import numpy as np

from station.measure.carried_foot import CarriedFoot, mean_speed
from station.measure.history import HEEL, TOE, History
from station.values import Floats

_FIRST_STANCES = 4
_STANCES = 32
"""One stance's speed scatters by 3 to 5 % (10 mm of noise, 60 fps); their mean by 0.5 to 1 %."""
_STANCE_SPREAD, _SETTING_SPREAD = 0.03, 0.02
"""How far one stance's speed, and what belt and scale are set to, are usually off: shares. The
first is that of 10 mm of noise; the second is this project's choice, half of what is raised."""
_SURELY_OFF = 2.5
"""Further apart than this many standard errors, they are not two readings of one speed."""
_LATELY = 6
"""So many stances, about two seconds, show what the belt does now; their mean to about 2 %."""
_NEAR, _FAR = 0.6, 1.5
"""A stance outside these shares of the belt's speed does not go with it."""
_STRAYS = 2
"""So many in a row make the belt's speed doubtful: one by itself is a mistake."""
_LOOK_EVERY_S = 0.25
_LOOKS = 3
"""While it is doubtful the last frames are looked through so often; so many looks in a row ..."""
_ALIKE = 1.15
"""... that find one speed, the highest by the lowest, are believed."""
_SLOWEST_WALK = 0.6
"""A speed below this, in leg lengths per second (about 0.5 m/s), may be a stander's: not believed.
"""
_SAME = 0.15
"""Within this share of what is expected the belt runs as it should again."""
_LOOK_FPS = 60.0
"""Frames looked through, per second; more of them cost time and show no more."""
_BOOT_S = 1.3
"""So much running shows both feet in stance at least once."""
_APART_S = (0.05, 0.11)
"""Frames so far apart show a foot's speed: noise shrinks with it, but a stance is short."""
_SLOWEST, _FASTEST = 0.4, 9.0
"""Bounds of a belt's speed in leg lengths per second (about 0.35 to 7.5 m/s)."""
_SCATTER = 0.012
"""Usual scatter of a tracked point, in leg lengths (about 1 cm)."""
_FEWEST = 12
"""Pairs of frames that must agree on the belt's speed."""


class BeltPace:
    """Belt speed in plane pixels per second: expected, then measured.

    Expected is what the profile's scale and the set belt speed say. Each stance adds a measurement;
    from four on their mean and what is expected are weighed by how far each is usually off, and a
    mean that is surely another speed stands alone. Without an expectation the first second and a
    third of running is looked through for the speed that the feet keep to; so are the last frames
    when stances do not go with the belt any more, for it may run otherwise than believed.
    """

    def __init__(self) -> None:
        """Begin with nothing known."""
        self._expected: float | None = None
        self._stances: deque[CarriedFoot] = deque(maxlen=_STANCES)
        self._lately: deque[CarriedFoot] = deque(maxlen=_LATELY)
        self._lately_px_s: float | None = None
        self._strays = 0
        self._looked_s = -math.inf
        self._looks: deque[float] = deque(maxlen=_LOOKS)
        self._otherwise = False
        self._moving = False
        self._boot: float | None = None
        self._measured: float | None = None
        self._error: float | None = None
        self._best: float | None = None

    @property
    def px_s(self) -> float | None:
        """Best value now, or None."""
        found = self._boot if self._otherwise else None
        return self._best or found or self._expected or self._boot  # asked every frame

    @property
    def otherwise(self) -> bool:
        """Whether the feet showed another speed than the one told of, and still do."""
        return self._otherwise

    @property
    def doubtful(self) -> bool:
        """Whether the last stances did not go with the belt's speed, or a look did not."""
        return self._strays >= _STRAYS or bool(self._looks)

    @property
    def measured_px_s(self) -> float | None:
        """Mean of the last stances; None before four."""
        return self._measured

    @property
    def lately_px_s(self) -> float | None:
        """The last few stances' mean, whatever the belt is said to do; None before four."""
        return self._lately_px_s  # asked every frame, changed once a stance

    @property
    def error_px_s(self) -> float | None:
        """Standard error of `measured_px_s`, from the stances' scatter."""
        return self._error

    @property
    def sliding_px_s(self) -> float:
        """By how much the toes' speed differs from the heels'; 0 where it is not known.

        On one shoe they have one speed: what is between them is the tracker's error, alike in all
        stances and so not in `error_px_s`.
        """
        both = [s for s in self._stances if s.toe_over_heel is not None]
        if len(both) < _FIRST_STANCES:
            return 0.0
        apart = np.array([s.toe_over_heel for s in both], dtype=float)
        weight = np.array([s.weight for s in both])
        mean = float(apart @ weight / weight.sum())
        noise = float(((apart - mean) ** 2) @ weight / weight.sum()) / (len(both) - 1)
        return max(abs(mean) - 2.0 * math.sqrt(noise), 0.0)  # noise alone is no sliding

    @property
    def stances(self) -> int:
        """How many stances are held."""
        return len(self._stances)

    def _measure(self) -> None:
        self._measured = self._error = self._best = None
        stances = self._lately if self._moving else self._stances
        if len(stances) < _FIRST_STANCES:
            return
        self._measured, self._error = mean_speed(stances)
        self._best = self._measured
        if self._expected is None or self._moving or self._otherwise:
            return
        # Few stances scatter more than a belt's display and a profile's scale are usually off.
        of_stances = (self._error / self._measured) ** 2 + _STANCE_SPREAD**2 / len(stances)
        of_setting = _SETTING_SPREAD**2
        off = self._expected / self._measured - 1.0
        if off * off < _SURELY_OFF**2 * (of_stances + of_setting):
            self._best += self._measured * off * of_stances / (of_stances + of_setting)

    def move(self, on: bool) -> None:
        """Say whether the belt's speed may be changing: then only the last stances count.

        Once it is over the older ones are dropped: they were run at other speeds.
        """
        if on == self._moving:
            return
        self._moving = on
        if not on:
            self._stances = deque(self._lately, maxlen=_STANCES)
        self._measure()

    def lose_sight(self) -> None:
        """Forget what was seen lately: nobody runs now, and the belt may do what it likes."""
        self._lately.clear()
        self._lately_px_s = None
        self._trust()
        if self._moving:
            self._measure()

    def _trust(self) -> None:
        self._strays = 0
        self._looks.clear()

    def expect(self, px_s: float | None, factor: float = 1.0) -> None:
        """Set what the belt should do; `factor` is its change against before, where known."""
        self._expected = px_s
        if self._otherwise and factor != 1.0:  # they were run at neither of the two
            self._stances.clear()
        self._otherwise = False
        self._trust()
        self._stances = deque(
            (replace(s, px_s=s.px_s * factor) for s in self._stances), maxlen=_STANCES
        )
        if self._boot is not None:
            self._boot *= factor
        self._measure()

    def forget(self) -> None:
        """Drop the stances: the belt is known to have run at another speed in them."""
        self._stances.clear()
        self._measure()

    def add_stance(self, foot: CarriedFoot) -> bool:
        """Add one stance's measured speed and say so; far-off ones are left out."""
        now = self.px_s
        if now is not None and not _NEAR * now < foot.px_s < _FAR * now:
            self._strays += 1
            return False
        self._trust()
        self._stances.append(foot)
        self._lately.append(foot)
        if len(self._lately) >= _FIRST_STANCES:
            self._lately_px_s = mean_speed(self._lately)[0]
        self._measure()
        if self._otherwise and self._measured and self._expected:
            self._otherwise = abs(self._measured / self._expected - 1.0) > _SAME
        return True

    def look_again(self, history: History, leg_px: float) -> bool:
        """Look for the belt's speed in the last frames while it is doubtful, or not as told.

        Contacts rest on the belt's speed: where that is far off they, and with them the stances,
        tell nothing. What the feet keep to needs no contacts.

        Args:
            history: Frames so far.
            leg_px: Thigh plus shank, plane pixels.

        Returns:
            Whether another speed than before was found, and is believed from now on.
        """
        now, now_s = self.px_s, float(history.t_s[-1])
        wanted = self.doubtful or self._otherwise
        if now is None or not wanted or now_s - self._looked_s < _LOOK_EVERY_S:
            return False
        self._looked_s = now_s
        found = _kept_speed(history, leg_px, now_s - _BOOT_S - 0.05)
        if found is None or found < _SLOWEST_WALK * leg_px:
            self._looks.clear()
            return False
        if _NEAR * now < found < _FAR * now:  # the stances were mistaken, not the belt's speed
            self._trust()
            return False
        self._looks.append(found)
        if len(self._looks) < _LOOKS or max(self._looks) > _ALIKE * min(self._looks):
            return False
        self._boot, self._otherwise = found, True
        self._stances.clear()
        self._lately.clear()
        self._lately_px_s = None
        self._trust()
        self._measure()
        return True

    def boot(self, history: History, leg_px: float) -> bool:
        """Look through the first frames for the belt's speed; True once it is found.

        Args:
            history: Frames so far.
            leg_px: Thigh plus shank, plane pixels.
        """
        self._boot = _kept_speed(history, leg_px)
        return self._boot is not None


def _kept_speed(history: History, leg_px: float, from_s: float = -math.inf) -> float | None:
    """Find the speed back that the feet keep to; None: too little is seen, or none.

    In swing a foot has every speed for a moment; carried by the belt it has one for long.
    So the speed back that most pairs of frames agree on is the belt's.

    Args:
        history: Frames so far.
        leg_px: Thigh plus shank, plane pixels.
        from_s: Earlier frames have no say.
    """
    t = history.t_s
    begin = int(np.searchsorted(t, from_s))
    if len(t) - begin < 12 or t[-1] - t[begin] < _BOOT_S:
        return None
    t, legs = t[begin:], history.legs[begin:]
    every = 1 if begin == 0 else max(1, round(1.0 / (_LOOK_FPS * float(np.median(np.diff(t))))))
    speed, error = _speeds_back(t[::every], legs[::every], _SCATTER * leg_px)
    if len(speed) < _FEWEST:
        return None
    grid = leg_px * np.exp(np.arange(math.log(_SLOWEST), math.log(_FASTEST), 0.02))
    near = np.exp(-0.5 * ((speed - grid[:, None]) / error) ** 2) / error
    found = float(grid[int((near.sum(axis=1) * grid).argmax())])  # density per share of speed
    for _ in range(5):
        agree = np.abs(speed - found) < 1.5 * error
        if agree.sum() < _FEWEST:
            return None
        found = float(np.average(speed[agree], weights=1.0 / error[agree] ** 2))
    return found


def _speeds_back(t: Floats, legs: Floats, scatter_px: float) -> tuple[Floats, Floats]:
    """Speeds back of both feet's heels and toes between pairs of frames, and their errors."""
    interval = float(np.median(np.diff(t)))
    speeds, errors = [], []
    for lag in range(1, int(_APART_S[1] / interval) + 2):
        apart = t[lag:] - t[:-lag]
        use = (apart >= _APART_S[0]) & (apart <= _APART_S[1])
        x = legs[:, :, [HEEL, TOE], 0].reshape(len(t), -1)
        back = (x[:-lag] - x[lag:])[use] / apart[use, None]
        error = np.broadcast_to(math.sqrt(2.0) * scatter_px / apart[use, None], back.shape)
        known = np.isfinite(back) & (back > 0.0)
        speeds.append(back[known])
        errors.append(error[known])
    return np.concatenate(speeds), np.concatenate(errors)
