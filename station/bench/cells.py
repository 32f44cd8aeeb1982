"""The grid of simulated runners that the measurement is tried on, no parameter changed between."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from station.simulate.parameters import GaitParameters
from station.values import Facing

FRAME_RATES = (30.0, 60.0, 120.0)
_SOBOL_SEED = 20
_USUAL = GaitParameters()
_QUICK = (
    "2 m/s",
    "5.5 m/s, 30 fps",
    "150 spm",
    "200 spm",
    "foot -10 deg",
    "foot +20 deg",
    "shank -5 deg",
    "shank +15 deg",
    "1.5 m tall",
    "2 m tall",
    "roll +3 deg",
    "24 fps",
    "view learned, uphill 5 %",
    "hops 1.2 m/s, 30 fps",
)


@dataclass(frozen=True, slots=True)
class Cell:
    """One simulated runner before one camera."""

    name: str
    way: GaitParameters
    fps: float = 60.0
    faces: Facing = "right"
    roll_deg: float = 0.0
    learned: bool = False
    """Scale, belt line and facing are left out of the profile."""
    seed: int = 1
    """Of noise, swapped legs and lost frames."""

    @property
    def hops(self) -> bool:
        """Whether the runner hops."""
        return self.way.kind == "hop"


def single_cells() -> Iterator[Cell]:
    """Yield the usual runner with one thing changed at a time, to the ends of its range."""
    yield Cell("usual", _USUAL)
    for mps, spm in ((2.0, 155.0), (2.5, 157.0), (3.6, 180.0), (4.5, 180.0), (5.5, 190.0)):
        yield Cell(f"{mps:g} m/s", replace(_USUAL, belt_mps=mps, rate_spm=spm))
    for spm in (150.0, 200.0):
        yield Cell(f"{spm:g} spm", replace(_USUAL, rate_spm=spm))
    for deg in (-10.0, 0.0, 12.0, 20.0):
        yield Cell(f"foot {deg:+g} deg", replace(_USUAL, foot_deg=deg))
    for deg in (-5.0, 0.0, 10.0, 15.0):
        yield Cell(f"shank {deg:+g} deg", replace(_USUAL, shank_deg=deg))
    for tall_m in (1.5, 2.0):
        yield Cell(f"{tall_m:g} m tall", replace(_USUAL, height_m=tall_m))
    yield Cell("facing left", _USUAL, faces="left")
    for roll in (-3.0, 3.0):
        yield Cell(f"roll {roll:+g} deg", _USUAL, roll_deg=roll)
    yield Cell("uphill 5 %", replace(_USUAL, incline_percent=5.0))
    for fps in (24.0, 30.0, 120.0, 240.0):
        yield Cell(f"{fps:g} fps", _USUAL, fps)
    yield Cell("5.5 m/s, 30 fps", replace(_USUAL, belt_mps=5.5, rate_spm=190.0), 30.0)
    yield Cell("view learned", _USUAL, learned=True)
    yield Cell("view learned, 30 fps", _USUAL, 30.0, learned=True)
    uphill = replace(_USUAL, incline_percent=5.0)
    yield Cell("view learned, uphill 5 %", uphill, learned=True)
    hopping = GaitParameters(kind="hop", belt_mps=1.2, foot_deg=-5.0, shank_deg=2.0)
    for mps in (1.0, 1.25, 1.5):
        yield Cell(f"hops {mps:g} m/s", replace(hopping, belt_mps=mps))
    yield Cell("hops 1.2 m/s, 30 fps", hopping, 30.0)
    yield Cell("hops two and two", replace(hopping, hops=(2, 2)))


def mixed_cells(count: int) -> Iterator[Cell]:
    """Yield `count` runners with everything changed at once, evenly spread over all ranges.

    A Sobol sequence (scipy): the first n cells are the same whatever `count` is.

    Args:
        count: 0 or more.
    """
    if not count:
        return
    from scipy.stats import qmc  # here: it takes a second to import, and workers don't need it

    power = math.ceil(math.log2(count))  # whole powers of two are drawn: only they are even
    points = qmc.Sobol(9, seed=_SOBOL_SEED).random_base2(power)[:count]
    for number, p in enumerate(points.tolist(), 1):
        way = replace(
            _USUAL,
            belt_mps=2.0 + 3.5 * p[0],
            rate_spm=150.0 + 50.0 * p[1],
            foot_deg=-10.0 + 30.0 * p[2],
            shank_deg=-5.0 + 20.0 * p[3],
            height_m=1.5 + 0.5 * p[4],
            incline_percent=5.0 if p[5] > 0.5 else 0.0,
            seed=number,
        )
        yield Cell(
            f"mixed {number}",
            way,
            FRAME_RATES[int(3.0 * p[6])],
            "left" if p[7] > 0.5 else "right",
            -3.0 + 6.0 * p[8],
            seed=number,
        )


def quick_cells() -> Iterator[Cell]:
    """Yield the few single cells that lie at the ends of each range."""
    cells = {cell.name: cell for cell in single_cells()}
    for name in _QUICK:
        yield cells[name]
