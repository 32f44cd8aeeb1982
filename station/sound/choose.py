"""Chooses what the session sounds through."""

from __future__ import annotations

from station.clock import Clock
from station.errors import BadInput, DeviceTrouble, Worded, text_of
from station.ports import Speaker
from station.sound.portaudio_stream import LATENCY_S as PORTAUDIO_LATENCY_S
from station.sound.speaker_mixer import LATENCY_S as MIXER_LATENCY_S
from station.sound.speaker_mixer import PygameSpeaker
from station.sound.speaker_portaudio import PortAudioSpeaker
from station.sound.speaker_silent import SilentSpeaker, StreamSpeaker
from station.sound.tones import Voicing
from station.values import Bay


def open_bays_speaker(
    clock: Clock, bay: Bay, virtual: bool = False, silent: bool = False
) -> Speaker:
    """Open the speaker that a bay's profile asks for; see `open_speaker`."""
    voicing = Voicing(bay.beat_level, bay.cue_level, bay.beat_feet)
    return open_speaker(
        clock, bay.speaker, bay.volume, virtual, silent, voicing, bay.sound_latency_s
    )


def open_speaker(
    clock: Clock,
    device_name: str | None = None,
    volume: float = 0.6,
    virtual: bool = False,
    silent: bool = False,
    voicing: Voicing | None = None,
    latency_s: float | None = None,
) -> Speaker:
    """Open the best speaker there is: PortAudio, else pygame's mixer, else a silent one.

    Args:
        clock: The session's clock.
        device_name: Part of the output's name; None: the system's default.
        volume: 0 to 1.
        virtual: Play on the session's clock, without a device (a recording worked through as
            fast as it goes).
        silent: No sound is wanted; the beat is kept for the screen.
        voicing: Levels of beat and cues, and how feet are told apart; None: as made.
        latency_s: What a device is opened with; None: what each kind is best opened with.

    Returns:
        The speaker, started; its `notice` says what the user must know. Never fails for want of
        a device: the silent speaker's notice then names why, and the remedy.

    Raises:
        BadInput: `volume` is not from 0 to 1.
    """
    if not 0.0 <= volume <= 1.0:
        raise BadInput(f"the sound's volume is {volume:g}; allowed is 0 to 1")
    if virtual:
        return _started(StreamSpeaker(volume=volume, voicing=voicing), clock)
    if silent:
        return _started(SilentSpeaker(Worded("Sound is off, as asked.", "sound_off_asked")), clock)
    reasons: list[DeviceTrouble] = []
    candidates: tuple[Speaker, ...] = (
        PortAudioSpeaker(
            device_name, volume, voicing=voicing, latency_s=latency_s or PORTAUDIO_LATENCY_S
        ),
        PygameSpeaker(device_name, volume, voicing=voicing, latency_s=latency_s or MIXER_LATENCY_S),
    )
    for speaker in candidates:
        try:
            return _started(speaker, clock)
        except DeviceTrouble as trouble:
            reasons.append(trouble)
    return _started(
        SilentSpeaker(
            Worded(
                f"Sound is off: {reasons[0]}; {reasons[1]}. Connect a loudspeaker, then start "
                "again.",
                "sound_off_here",
                first=text_of(reasons[0]),
                second=text_of(reasons[1]),
            )
        ),
        clock,
    )


def _started(speaker: Speaker, clock: Clock) -> Speaker:
    speaker.start(clock)
    return speaker
