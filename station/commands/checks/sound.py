"""Checks the sound: opens the bay's speaker as a session does, plays everything, counts gaps."""

from __future__ import annotations

from collections.abc import Callable

from station.clock import Clock
from station.coach.setup.bounds import ABOVE_DB, LATE_S, TOLD_LATE_S
from station.commands.checks.finding import Finding, Tell, device_fault
from station.errors import DeviceTrouble
from station.ports import Speaker
from station.sound.choose import open_bays_speaker
from station.sound.desk import SoundCounts
from station.sound.device_speaker import DeviceSpeaker
from station.sound.level import Remembering, above_room_db
from station.sound.microphone import PortAudioMicrophone
from station.sound.round_trip import Microphone, RoundTrip, TicksNotHeard, measure_round_trip
from station.sound.speaker_mixer import PygameSpeaker, no_loudspeaker
from station.sound.tones import SAMPLE_RATE_HZ, cue_tone
from station.values import Bay, BeatManner, Cue, CueKind, Side

RATE_SPM = 170.0
BEAT_S = 4.0
TICKS = 4
_POLL_S = 0.01
_CUES: tuple[tuple[CueKind, Side | None, str], ...] = (
    ("ahead", "left", "a landing ahead, left foot"),
    ("ahead", "right", "a landing ahead, right foot"),
    ("praise", None, "a good run of landings"),
    ("come_forward", None, "come forward on the belt"),
    ("stop_feet_aside", None, "stop, feet to the sides"),
    ("paused", None, "paused"),
)
_BETWEEN_S = 0.5

OpenSpeaker = Callable[[Clock, Bay], Speaker]


class SoundCheck:
    """Plays and listens on one opening of the speaker. Used by one thread; `close` at the end."""

    def __init__(
        self,
        bay: Bay,
        clock: Clock,
        tell: Tell,
        beat_s: float = BEAT_S,
        open_speaker: OpenSpeaker = open_bays_speaker,
        make_microphone: Callable[[], Microphone] = PortAudioMicrophone,
    ) -> None:
        """Prepare; nothing is opened yet.

        Args:
            bay: Says which speaker, how loud, and with what latency.
            clock: The one that the speaker keeps time by.
            tell: Says what is to be heard.
            beat_s: How long the beat is played.
            open_speaker: Opens the speaker (tests put their own).
            make_microphone: The same for the input.
        """
        self._bay = bay
        self._clock = clock
        self._tell = tell
        self._beat_s = beat_s
        self._open_speaker = open_speaker
        self._make_microphone = make_microphone
        self._speaker: Speaker | None = None
        self._played_from_s = 0.0

    @property
    def playing(self) -> bool:
        """Whether a real device is open."""
        return isinstance(self._speaker, DeviceSpeaker)

    def run(self) -> list[Finding]:
        """Open, play the beat and one of each cue, and measure the round trip."""
        speaker = self._speaker = self._open_speaker(self._clock, self._bay)
        if not isinstance(speaker, DeviceSpeaker):
            return [
                device_fault(
                    "sound", speaker.notice or "silent",
                    "connect a loudspeaker or earphones, then check again; until then sessions are "
                    "silent, with the beat on the screen only",
                )
            ]  # fmt: skip
        self._played_from_s = self._clock.now_s()
        return [
            self._opened(speaker),
            self._beat(speaker),
            self._cues(speaker),
            self._trip(speaker),
        ]

    def keep_on(self) -> None:
        """Sound the beat from now on, beside other work; `heed` is to be called again and again."""
        if self._speaker is not None:
            self._speaker.set_beat(RATE_SPM)

    def heed(self) -> None:
        """Look after the speaker, as a session's loop does."""
        if self._speaker is not None:
            self._speaker.heard()

    def gaps(self) -> list[Finding]:
        """Return what was lost of the sound since `run`; none where nothing is open."""
        speaker = self._speaker
        if not isinstance(speaker, DeviceSpeaker):
            return []
        speaker.set_beat(None)
        counts: SoundCounts = speaker.counts()
        what, over_s = "sound without gaps", self._clock.now_s() - self._played_from_s
        if counts.times_lost or speaker.fault is not None:
            why = speaker.notice or f"the device went away {counts.times_lost} times"
            return [device_fault(what, why, "check its cable; let no other program take it")]
        if counts.underflows or counts.silent_s > 0.0:
            ms = 1000.0 * (counts.latency_s or 0.0)
            return [
                Finding(
                    what,
                    f"gaps: {counts.underflows} in {over_s:.0f} s, {counts.silent_s:.1f} s silent; "
                    f"at last {ms:.0f} ms ahead", "look",
                    "close other programs, or give sound more time: latency_ms in [sound] "
                    f"({min(160, max(80, round(ms)))})",
                )
            ]  # fmt: skip
        return [Finding(what, f"none in {over_s:.0f} s, the last beside the pose model")]

    def close(self) -> None:
        """Silence and close; safe to repeat."""
        if self._speaker is not None:
            self._speaker.stop()

    # --- one after the other --------------------------------------------------------------------

    def _opened(self, speaker: DeviceSpeaker) -> Finding:
        latency_s = speaker.counts().latency_s or speaker.latency_s
        found = f"{speaker.name}, {1000.0 * latency_s:.0f} ms ahead"
        if isinstance(speaker, PygameSpeaker) and no_loudspeaker():
            return device_fault(
                "sound", f"{found}; {speaker.notice}", "unset SDL_AUDIODRIVER, then check again"
            )
        if speaker.notice is not None:
            return Finding("sound", f"{found}; {speaker.notice}", "look",
                           "set speaker in [sound] to a part of an output's name")  # fmt: skip
        if isinstance(speaker, PygameSpeaker):
            return Finding(
                "sound", f"{found}; not through PortAudio, so cues come some 40 ms later", "look",
                "install PortAudio (Debian: libportaudio2), or leave it",
            )  # fmt: skip
        return Finding("sound", found)

    def _beat(self, speaker: DeviceSpeaker) -> Finding:
        self._tell(f"sound: the beat, {RATE_SPM:.0f} steps a minute, for {self._beat_s:g} s")
        speaker.heard()
        speaker.set_beat(RATE_SPM, BeatManner(even_foot="left"))
        beats = self._listen(speaker, self._beat_s)
        speaker.set_beat(None)
        self._listen(speaker, _BETWEEN_S)
        found = f"{beats} beats in {self._beat_s:g} s"
        counts = speaker.counts()
        too_few = beats < 0.5 * self._beat_s * RATE_SPM / 60.0
        # Without its device a speaker keeps the beat all the same, unheard.
        if too_few or counts.times_lost or counts.silent_s > 0.5 * self._beat_s:
            why = speaker.notice or "the device stands still"
            return device_fault("beat", f"{found}, not all heard: {why}",
                                "check the device, then check again")  # fmt: skip
        if self._bay.volume * self._bay.beat_level == 0.0:
            return Finding("beat", f"{found}, at no volume", "look",
                           "raise volume or beat_level in [sound]")  # fmt: skip
        return Finding("beat", found, remedy="not heard? Is the loudspeaker on, turned up, and the "
                       "right one (speaker in [sound])?")  # fmt: skip

    def _cues(self, speaker: DeviceSpeaker) -> Finding:
        took_s: list[float] = []
        for kind, side, meaning in _CUES:
            self._tell(f"sound: the cue for '{meaning}'")
            asked_s = self._clock.now_s()
            onset_s = speaker.cue(Cue(kind, asked_s, side))
            if onset_s is not None:
                took_s.append(onset_s - asked_s)
            self._listen(speaker, len(cue_tone(kind)) / SAMPLE_RATE_HZ + _BETWEEN_S)
        missing = len(_CUES) - len(took_s)
        if missing:
            return device_fault("cues", f"{missing} of {len(_CUES)} came too late to be sounded",
                                "close other programs, then check again")  # fmt: skip
        latest_s = max(took_s)
        found = f"{len(_CUES)}, each at most {1000.0 * latest_s:.0f} ms after it is asked for"
        if latest_s > LATE_S:
            return Finding("cues", found, "look", "a lower latency_ms in [sound], or PortAudio")
        if self._bay.volume * self._bay.cue_level == 0.0:
            return Finding("cues", f"{found}, at no volume", "look",
                           "raise volume or cue_level in [sound]")  # fmt: skip
        return Finding("cues", found, remedy="left and right from the wrong side? Change the plugs")

    def _trip(self, speaker: DeviceSpeaker) -> Finding:
        what = "sound's round trip"
        if self._bay.volume * self._bay.beat_level == 0.0:
            return Finding(what, "there is nothing to hear", "unchecked")
        self._tell("sound: listening for the station's own ticks; nothing of it is kept")
        microphone = Remembering(self._make_microphone())
        try:
            trip = measure_round_trip(speaker, microphone, self._clock, TICKS)
        except TicksNotHeard as trouble:
            return Finding(what, str(trouble), "look",
                           "needed for this measure only; but is the loudspeaker on?")  # fmt: skip
        except DeviceTrouble as trouble:
            return Finding(
                what,
                str(trouble),
                "unchecked",
                "for this measure only: a microphone, through PortAudio",
            )
        samples = None if microphone.recording is None else microphone.recording.samples
        level_db = None if samples is None else above_room_db(samples)
        return _trip_finding(what, trip, microphone.name, level_db)

    def _listen(self, speaker: Speaker, seconds: float) -> int:
        """Let the sound go on for so long; return how many beats were told of."""
        end_s = self._clock.now_s() + seconds
        beats = 0
        while (now_s := self._clock.now_s()) < end_s:
            self._clock.wait_until(min(end_s, now_s + _POLL_S), _POLL_S)
            beats += sum(event.kind == "beat" for event in speaker.heard())
        return beats


def _trip_finding(what: str, trip: RoundTrip, name: str, level_db: float | None) -> Finding:
    found = (
        f"{1000.0 * trip.asked_s:.0f} ms from asking to the microphone '{name}'; "
        f"{1000.0 * trip.told_s:+.0f} ms against what the device tells, within "
        f"{1000.0 * trip.spread_s:.0f} ms ({trip.found} of {trip.ticks} ticks found)"
    )
    if level_db is not None:
        found += f"; {level_db:.0f} dB above the room"
    if trip.told_s > TOLD_LATE_S:
        return Finding(what, found, "look", "a loudspeaker with a cable: wireless ones are late")
    if level_db is not None and level_db < ABOVE_DB:
        return Finding(what, found, "look", "a higher volume in [sound], or the loudspeaker nearer "
                       "to the runner")  # fmt: skip
    return Finding(what, found)
