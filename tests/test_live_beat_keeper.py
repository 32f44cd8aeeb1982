"""What beat is asked of the speaker: at the target, at the runner's own rate, per stride."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from station.clock import Clock
from station.coach.plan import Drill, StepRate
from station.live.beat_keeper import OWN_FRESH_S, OWN_WAIT_S, BeatKeeper
from station.live.beats import NearBeat
from station.values import BeatManner, Cue, Heard

PLAIN = Drill("A", seconds=60.0, step_rate=StepRate(spm=180.0))
OWN = Drill("B", seconds=60.0, step_rate=StepRate(spm=180.0), beat_from="own", beat_ramp=0.02)


@dataclass
class FakeSpeaker:
    """Keeps what it was asked for."""

    name: str = "fake"
    notice: str | None = None
    asked: list[tuple[float | None, BeatManner | None]] = field(default_factory=list)

    def start(self, clock: Clock) -> None:
        pass

    def set_beat(self, rate_spm: float | None, manner: BeatManner | None = None) -> None:
        self.asked.append((rate_spm, manner))

    def cue(self, cue: Cue) -> float | None:
        return None

    def heard(self) -> tuple[Heard, ...]:
        return ()

    def stop(self) -> None:
        pass


@pytest.fixture
def speaker() -> FakeSpeaker:
    return FakeSpeaker()


def test_only_what_changes_is_asked(speaker: FakeSpeaker) -> None:
    keeper = BeatKeeper(speaker)
    for t_s in range(5):
        assert keeper.keep(None, PLAIN, float(t_s)) is None
    for t_s in range(5, 10):
        assert keeper.keep(180.0, PLAIN, float(t_s)) == 180.0
    keeper.keep(None, PLAIN, 10.0)
    keeper.keep(None, PLAIN, 11.0)
    assert speaker.asked == [(180.0, BeatManner()), (None, BeatManner())]


def test_a_beat_from_the_own_rate_starts_there(speaker: FakeSpeaker) -> None:
    keeper = BeatKeeper(speaker)
    keeper.measured(163.0, 9.5)
    assert keeper.keep(180.0, OWN, 10.0) == 180.0
    keeper.measured(170.0, 11.0)  # it follows: no news
    keeper.keep(180.0, OWN, 11.0)
    assert speaker.asked == [(180.0, BeatManner("step", 0.02, 163.0))]


@pytest.mark.parametrize("rate_spm", [None, 163.0])
def test_it_waits_for_a_rate_that_is_not_known_or_old(
    speaker: FakeSpeaker, rate_spm: float | None
) -> None:
    keeper = BeatKeeper(speaker)
    keeper.measured(rate_spm, 10.0 - OWN_FRESH_S - 0.01)
    assert keeper.keep(180.0, OWN, 10.0) is None
    keeper.measured(161.0, 12.0)
    assert keeper.keep(180.0, OWN, 12.0) == 180.0
    assert speaker.asked == [(180.0, BeatManner("step", 0.02, 161.0))]


def test_it_does_not_wait_for_ever(speaker: FakeSpeaker) -> None:
    keeper = BeatKeeper(speaker)
    assert keeper.keep(180.0, OWN, 10.0) is None
    assert keeper.keep(180.0, OWN, 10.0 + OWN_WAIT_S - 0.01) is None
    assert keeper.keep(180.0, OWN, 10.0 + OWN_WAIT_S) == 180.0
    assert speaker.asked == [(180.0, BeatManner("step", 0.02, None))]


def test_after_a_pause_it_starts_at_the_own_rate_again(speaker: FakeSpeaker) -> None:
    keeper = BeatKeeper(speaker)
    keeper.measured(160.0, 0.0)
    keeper.keep(180.0, OWN, 0.0)
    keeper.keep(None, OWN, 20.0)
    keeper.measured(150.0, 60.0)
    keeper.keep(180.0, OWN, 60.0)
    assert [(rate, m.start_spm) for rate, m in speaker.asked if m and rate] == [
        (180.0, 160.0), (180.0, 150.0),
    ]  # fmt: skip


def test_an_impossible_own_rate_is_kept_in_range(speaker: FakeSpeaker) -> None:
    keeper = BeatKeeper(speaker)
    keeper.measured(400.0, 0.0)
    keeper.keep(180.0, OWN, 0.0)
    assert speaker.asked[0][1] == BeatManner("step", 0.02, 260.0)


def test_the_own_rate_of_a_drill_is_kept_once_known(speaker: FakeSpeaker) -> None:
    keeper = BeatKeeper(speaker)
    keeper.note_own(0.0)
    assert keeper.own_spm is None
    keeper.measured(166.0, 1.0)
    keeper.note_own(1.0)
    keeper.measured(190.0, 2.0)
    keeper.note_own(2.0)
    assert keeper.own_spm == 166.0
    keeper.start_drill()
    keeper.note_own(2.0)
    assert keeper.own_spm == 190.0


def test_the_feet_are_told_to_the_speaker_and_forgotten_with_the_beat(
    speaker: FakeSpeaker,
) -> None:
    keeper = BeatKeeper(speaker)
    keeper.keep(180.0, PLAIN, 0.0)
    for number in range(4):
        keeper.contact("right" if number % 2 == 0 else "left", NearBeat(0.0, 1 / 3, number))
    keeper.keep(180.0, PLAIN, 2.0)
    keeper.keep(None, PLAIN, 3.0)
    keeper.keep(180.0, PLAIN, 4.0)
    assert [(rate, m and m.even_foot) for rate, m in speaker.asked] == [
        (180.0, None), (180.0, "right"), (None, "right"), (180.0, None),
    ]  # fmt: skip
