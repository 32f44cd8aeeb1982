import numpy as np
import pytest

from station.sound.device_clock import DeviceClock

FS = 48_000
BLOCK = 480


def feed(clock: DeviceClock, start_s: float, seconds: float, **change: object) -> int:
    """Observe a device for a while; return the next sample."""
    drift = float(change.get("drift", 0.0))
    first = int(change.get("first", 0))
    noise_s = float(change.get("noise_s", 0.0))
    rng = np.random.default_rng(3)
    sample = first
    while sample < first + seconds * FS:
        late_s = noise_s * rng.exponential()
        clock.observe(sample, start_s + sample / FS * (1 + drift) + late_s)
        sample += BLOCK
    return sample


def test_before_any_observation_it_guesses() -> None:
    clock = DeviceClock(FS, 2.5)
    assert clock.at(0) == 2.5
    assert clock.at(FS) == 3.5
    assert not clock.settled


def test_one_observation_replaces_the_guess() -> None:
    clock = DeviceClock(FS, 2.5)
    clock.observe(4_800, 7.1)
    assert clock.at(4_800) == pytest.approx(7.1)
    assert clock.at(9_600) == pytest.approx(7.2)


@pytest.mark.parametrize("drift", [0.0, 1e-4, -1e-4, 3e-4])
def test_it_follows_a_drifting_quartz(drift: float) -> None:
    clock = DeviceClock(FS, 0.0)
    sample = feed(clock, 1.0, 120.0, drift=drift, noise_s=0.0003)
    assert clock.settled
    assert clock.jumps == 0
    assert clock.drift == pytest.approx(drift, abs=1e-5)
    # Callbacks wake 0.3 ms late on average: the median of that is 0.2 ms.
    told_s, true_s = clock.at(sample), 1.0 + sample / FS * (1 + drift)
    assert told_s - true_s == pytest.approx(0.0003 * np.log(2), abs=0.0001)


def test_single_outliers_move_nothing() -> None:
    clock = DeviceClock(FS, 0.0)
    sample = feed(clock, 1.0, 5.0)
    before_s = clock.at(sample)
    for wild_s in (3600.0, -3600.0, 0.05, -0.02):
        clock.observe(sample, 1.0 + sample / FS + wild_s)
        assert clock.at(sample) == pytest.approx(1.0 + sample / FS, abs=1e-9)
        assert not clock.settled
        sample += BLOCK
        clock.observe(sample, 1.0 + sample / FS)
        assert clock.settled
        sample += BLOCK
    assert clock.jumps == 0
    assert clock.at(0) == pytest.approx(before_s - 5.0, abs=1e-9)


def test_a_lasting_jump_is_taken_over_within_five_blocks() -> None:
    clock = DeviceClock(FS, 0.0)
    sample = feed(clock, 1.0, 20.0, drift=1e-4)
    for i in range(5):
        assert clock.jumps == 0, i
        clock.observe(sample, 1.030 + sample / FS * (1 + 1e-4))
        sample += BLOCK
    assert clock.jumps == 1
    assert clock.at(sample) == pytest.approx(1.030 + sample / FS * (1 + 1e-4), abs=1e-5)
    assert clock.drift == pytest.approx(1e-4, abs=1e-6)  # the quartz is still the same


def test_the_blocks_that_only_fill_the_buffer_do_not_count() -> None:
    clock = DeviceClock(FS, 0.0)
    for k in range(5):  # all called at once, each told to sound after the one before
        clock.observe(k * BLOCK, 1.0 + k * BLOCK / FS)
    assert not clock.settled
    feed(clock, 2.9, 0.2, first=5 * BLOCK)  # then the device stalls, and runs
    assert clock.settled
    assert clock.at(0) == pytest.approx(2.9)


def test_endless_disagreement_is_followed_in_the_end() -> None:
    clock = DeviceClock(FS, 0.0)
    sample = feed(clock, 1.0, 3.0)
    for i in range(50):
        clock.observe(sample, 1.5 + sample / FS + 0.020 * (i % 3))
        sample += BLOCK
    assert clock.jumps == 1
    assert clock.at(sample) == pytest.approx(1.52 + sample / FS, abs=0.021)
