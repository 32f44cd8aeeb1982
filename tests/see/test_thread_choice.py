from __future__ import annotations

from station.see.thread_choice import ThreadChoice


class Machine:
    """Takes `one_s` a frame with one thread and `two_s` with two; time goes on by that much."""

    def __init__(self, one_s: float, two_s: float) -> None:
        self.took_s = {1: one_s, 2: two_s}
        self.choice = ThreadChoice()
        self.now_s = 1000.0

    def run(self, frames: int) -> list[int]:
        used = []
        for _ in range(frames):
            used.append(self.choice.threads)
            duration_s = self.took_s[self.choice.threads]
            self.now_s += duration_s
            self.choice.took(duration_s, self.now_s)
        return used


def test_two_fast_threads_are_kept() -> None:
    assert set(Machine(0.019, 0.012).run(2000)) == {2}


def test_two_stalled_threads_are_left_after_one_frame() -> None:
    used = Machine(0.055, 0.680).run(200)
    assert used[:2] == [2, 1]
    assert set(used[1:]) == {1}  # 11 s: too early to try again


def test_two_slow_threads_are_left_after_a_few_frames() -> None:
    used = Machine(0.030, 0.050).run(100)
    assert used.index(1) == 8
    assert set(used[8:]) == {1}


def test_a_slow_machine_keeps_two_threads_that_are_the_faster_way() -> None:
    used = Machine(0.090, 0.055).run(1000)
    assert used.count(1) == 5  # one trial within its first 30 s, the next later
    assert used[-1] == 2


def test_waits_between_trials_grow_and_each_costs_one_slow_frame() -> None:
    machine = Machine(0.020, 0.680)
    used = machine.run(round(300.0 / 0.020))
    assert used.count(2) == 4  # at 0 s, and about 30, 90 and 210 s


def test_two_threads_come_back_when_the_machine_is_free_again() -> None:
    machine = Machine(0.055, 0.680)
    machine.run(100)
    machine.took_s = {1: 0.019, 2: 0.012}
    used = machine.run(3000)
    assert used[-1] == 2
    assert set(used[used.index(2) :]) == {2}
