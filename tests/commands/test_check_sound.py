"""The sound's check: played through a fake device, heard by a fake microphone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from fake_portaudio import DeviceDrivenClock, FakeDevice, Room

from station.clock import Clock
from station.commands.checks import sound as sound_check
from station.commands.checks.finding import Finding
from station.commands.checks.sound import SoundCheck
from station.errors import DeviceTrouble
from station.ports import Speaker
from station.sound.speaker_mixer import PygameSpeaker
from station.sound.speaker_portaudio import PortAudioSpeaker
from station.sound.speaker_silent import SilentSpeaker
from station.sound.tones import Voicing
from station.values import Bay


class Stage:
    """A clock, a device, and the check on them."""

    def __init__(self) -> None:
        self.clock = DeviceDrivenClock()
        self.device = FakeDevice(self.clock)
        self.told: list[str] = []
        self.opened: PortAudioSpeaker | None = None
        self.room: Any = Room(self.device, 0.012)
        self.check: SoundCheck | None = None

    def open(self, clock: Clock, bay: Bay) -> Speaker:
        self.opened = PortAudioSpeaker(
            open_stream=self.device.open,
            volume=bay.volume,
            voicing=Voicing(bay.beat_level, bay.cue_level, bay.beat_feet),
            open_stream_anew=self.device.open,
            aside=lambda work: work(),
        )
        self.opened.start(clock)
        return self.opened

    def run(self, bay: Bay | None = None, beat_s: float = 4.0) -> dict[str, Finding]:
        self.check = SoundCheck(
            bay or Bay(), self.clock, self.told.append, beat_s, self.open, lambda: self.room
        )
        return {finding.what: finding for finding in self.check.run()}

    def work_on(self, seconds: float) -> list[Finding]:
        assert self.check is not None
        self.check.keep_on()
        end_s = self.clock.now_s() + seconds
        while self.clock.now_s() < end_s:
            self.clock.wait_until(self.clock.now_s() + 0.02, 0.02)
            self.check.heed()
        return self.check.gaps()


@pytest.fixture
def stage() -> Iterator[Stage]:
    made = Stage()
    yield made
    if made.check is not None:
        made.check.close()
        made.check.close()  # safe to repeat


def test_all_is_played_and_measured(stage: Stage) -> None:
    found = stage.run()
    assert {f.verdict for f in found.values()} == {"well"}
    assert "fake output, 40 ms ahead" in found["sound"].found
    # at 170 a minute in four seconds
    assert found["beat"].found in ("11 beats in 4 s", "12 beats in 4 s")
    assert found["cues"].found.startswith("6, each at most")
    assert "+12 ms against what the device tells" in found["sound's round trip"].found
    assert "4 of 4 ticks" in found["sound's round trip"].found
    (gaps,) = stage.work_on(2.0)
    assert (gaps.verdict, gaps.exit_code) == ("well", 0)
    assert len([text for text in stage.told if "cue for" in text]) == 6


def test_what_it_says_is_played_is_in_the_samples(stage: Stage) -> None:
    stage.run()
    sound = stage.device.sound()
    rate = 48_000
    loud = np.abs(sound).max(axis=1) > 0.01
    # the beat for 4 s, then six cues, then four ticks: silence between each, so at least 20 sounds
    onsets = np.flatnonzero(np.diff(loud.astype(int)) == 1)
    groups = 1 + int((np.diff(onsets) > 0.2 * rate).sum())
    assert groups >= 11 + 6 + 4


def test_left_and_right_cues_come_from_their_sides(stage: Stage) -> None:
    at: dict[str, int] = {}
    tell = stage.told.append

    def note(text: str) -> None:
        tell(text)
        at[text] = sum(len(block) for block in stage.device.blocks)

    stage.check = SoundCheck(Bay(), stage.clock, note, 1.0, stage.open, lambda: stage.room)
    stage.check.run()
    sound = stage.device.sound()
    for side, own, others in (("left", 0, 1), ("right", 1, 0)):
        begin = next(n for text, n in at.items() if f"{side} foot" in text)
        piece = (sound[begin : begin + 14_000].astype(float) ** 2).sum(axis=0)
        assert piece[own] > 1.5 * piece[others]


def test_no_loudspeaker_is_a_fault_with_its_reason(stage: Stage) -> None:
    def silent(clock: Clock, bay: Bay) -> Speaker:
        speaker = SilentSpeaker("Sound is off: no card.")
        speaker.start(clock)
        return speaker

    check = SoundCheck(Bay(), stage.clock, stage.told.append, open_speaker=silent)
    (finding,) = check.run()
    assert (finding.verdict, finding.exit_code) == ("fault", 3)
    assert "no card" in finding.found
    assert "connect a loudspeaker" in finding.remedy
    check.keep_on()
    check.heed()
    assert check.gaps() == []
    check.close()


@pytest.mark.parametrize(
    ("bay", "what", "key"),
    [
        (Bay(volume=0.0), "beat", "volume"), (Bay(beat_level=0.0), "beat", "beat_level"),
        (Bay(cue_level=0.0), "cues", "cue_level"),
    ],
)  # fmt: skip
def test_what_is_set_to_silence_is_told(stage: Stage, bay: Bay, what: str, key: str) -> None:
    found = stage.run(bay, beat_s=1.0)
    assert found[what].verdict == "look"
    assert key in found[what].remedy
    if what == "beat":
        assert found["sound's round trip"].verdict == "unchecked"


def test_without_a_microphone_the_round_trip_is_not_measured(stage: Stage) -> None:
    class NoInput:
        name = "none"

        def start(self, clock: Clock) -> None:
            raise DeviceTrouble("no sound input is there")

        def stop(self) -> object:
            return None

    stage.room = NoInput()
    trip = stage.run(beat_s=1.0)["sound's round trip"]
    assert (trip.verdict, trip.exit_code) == ("unchecked", 0)
    assert "no sound input" in trip.found


def test_a_microphone_that_hears_nothing_is_worth_a_look(stage: Stage) -> None:
    stage.room = Room(stage.device, 0.01, level=0.0)
    trip = stage.run(beat_s=1.0)["sound's round trip"]
    assert (trip.verdict, trip.exit_code) == ("look", 0)
    assert "0 of 4 ticks" in trip.found


def test_a_late_loudspeaker_is_told(stage: Stage) -> None:
    stage.room = Room(stage.device, 0.2)
    trip = stage.run(beat_s=1.0)["sound's round trip"]
    assert trip.verdict == "look"
    assert "+200 ms" in trip.found
    assert "cable" in trip.remedy


def test_gaps_beside_the_pose_model_are_counted(stage: Stage) -> None:
    stage.run(beat_s=1.0)
    stage.device.underflow = True
    (gaps,) = stage.work_on(1.0)
    assert (gaps.verdict, gaps.exit_code) == ("look", 0)
    assert gaps.found.startswith("gaps: 1 in")
    assert "latency_ms" in gaps.remedy


def test_a_device_that_goes_away_meanwhile_is_a_fault(stage: Stage) -> None:
    stage.run(beat_s=1.0)
    stage.device.trouble = "gone"
    stage.device.active = False
    (gaps,) = stage.work_on(1.0)
    assert (gaps.verdict, gaps.exit_code) == ("fault", 3)
    assert "went away" in gaps.found


def test_a_beat_that_nobody_hears_is_a_fault(stage: Stage) -> None:
    def tell(text: str) -> None:
        if "the beat" in text:  # then the device goes, and does not come back
            stage.device.active, stage.device.trouble = False, "gone"

    stage.check = SoundCheck(Bay(), stage.clock, tell, 2.0, stage.open, lambda: stage.room)
    found = {finding.what: finding for finding in stage.check.run()}
    assert (found["beat"].verdict, found["beat"].exit_code) == ("fault", 3)
    assert "went away" in found["beat"].found


def test_the_mixer_is_told_as_second_best(monkeypatch: pytest.MonkeyPatch, stage: Stage) -> None:
    """pygame's own mixer on SDL's dummy driver; nothing of it is played."""
    speaker = PygameSpeaker()
    speaker.name = "pygame mixer"
    check = SoundCheck(Bay(), stage.clock, stage.told.append)
    finding = check._opened(speaker)
    assert (finding.verdict, finding.exit_code) == ("fault", 3)
    assert "SDL_AUDIODRIVER" in finding.remedy
    monkeypatch.setattr(sound_check, "no_loudspeaker", lambda: False)
    finding = check._opened(speaker)
    assert finding.verdict == "look"
    assert "libportaudio2" in finding.remedy


def test_another_output_than_asked_for_is_told(stage: Stage) -> None:
    check = SoundCheck(Bay(), stage.clock, stage.told.append)
    speaker = PortAudioSpeaker()
    speaker.notice = "No sound output is named 'bay'; the system's default is used."
    finding = check._opened(speaker)
    assert finding.verdict == "look"
    assert "named 'bay'" in finding.found
