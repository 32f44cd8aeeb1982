"""The tones that the station's beat may be sounded with."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.sound.tones import SAMPLE_RATE_HZ, beat_tone, cue_tone


def beat_tones() -> list[NDArray[np.float64]]:
    """Return the ticks of the beat at volume 1, each (n,)."""
    return [beat_tone(SAMPLE_RATE_HZ)]


def ahead_tone() -> NDArray[np.float64]:
    """Return the cue `ahead` at volume 1, (n,)."""
    return cue_tone("ahead", SAMPLE_RATE_HZ)
