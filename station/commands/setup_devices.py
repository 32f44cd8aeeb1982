"""What the set-up measures with: cameras, the pose model, sound, the disk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from station.clock import Clock, StreamClock, WallClock
from station.coach.setup.values import Draft, Failed, Folder, Heard, Opened, Saved, Told
from station.errors import DeviceTrouble, StationError, Worded, text_of
from station.keep.records_folder import look_at, records_folder
from station.live import Feed, LockStepFeed, ThreadedFeed
from station.live.clap import LISTEN_S, sounds_of
from station.live.setup.loop import SetsStage
from station.live.worker import Worker
from station.ports import FrameSource, PoseModel
from station.see.camera import CameraSource
from station.see.capture import OpenCapture, open_capture
from station.see.clip import ClipSource
from station.see.exposure import HeldExposure
from station.see.pose_model import MediapipePose
from station.see.sources import is_camera
from station.settings.bay_writing import write_bay
from station.sound.choose import open_bays_speaker
from station.sound.device_speaker import DeviceSpeaker
from station.sound.level import Remembering, above_room_db
from station.sound.microphone import PortAudioMicrophone
from station.sound.round_trip import Microphone, Recording, measure_round_trip
from station.values import Bay, Frame, Pose

TICKS = 4
_SOUND_JOIN_S = 10.0
_WITH_POSES = ("runner", "square", "facing", "learn", "clap")
"""Steps that look at somebody's body."""
MakeSource = Callable[[], FrameSource]


class Devices:
    """Opens, measures, closes. Main thread only; sound has a thread of its own."""

    def __init__(
        self,
        path: Path,
        clock: Clock,
        demo: MakeSource | None = None,
        mute: bool = False,
        make_model: Callable[[], PoseModel] = MediapipePose,
        open_device: OpenCapture = open_capture,
        make_microphone: Callable[[], Microphone] = PortAudioMicrophone,
        now: Callable[[], datetime] = datetime.now,
    ) -> None:
        """Prepare; nothing is opened yet.

        Args:
            path: The profile's file.
            clock: The window's; cameras keep time by it.
            demo: Makes what `demo` stands for; None: there is no such source.
            mute: Play nothing.
            make_model: Makes the pose model, once (tests put their own, as with the following).
            open_device: Opens a camera.
            make_microphone: Makes the input that listens.
            now: The wall's clock, for the name of the profile before.
        """
        self._path = path
        self._clock = clock
        self._demo = demo
        self._mute = mute
        self._make_model = make_model
        self._open_device = open_device
        self._make_microphone = make_microphone
        self._now = now
        self._model: PoseModel | None = None
        self._lent: _Lent | None = None
        self._feed: Feed | None = None
        self._source: FrameSource | None = None
        self._sound: Worker | None = None
        self._ears: Worker | None = None
        self._recorded: Recording | DeviceTrouble | None = None
        self._came: Told | None = None

    # --- pictures -------------------------------------------------------------------------------

    def open(
        self, device: int | str, exposure_s: float | None, draft: Draft
    ) -> tuple[Feed, Opened]:
        """Open a camera, a clip or the demo in place of what is open, and start it."""
        self.close()
        bay = draft.bay
        held = HeldExposure(exposure_s, self._open_device, automatic=True)
        text = str(device)
        live = False
        if text == "demo" and self._demo is not None:
            source: FrameSource = self._demo()
        elif is_camera(text):
            live = True
            source = CameraSource(device, bay.width, bay.height, bay.fps, held)
        else:
            source = ClipSource(text)
        if self._model is None:
            self._model = self._make_model()
        lent = self._lent = _Lent(self._model)
        clock: Clock = self._clock
        if live:
            feed: Feed = ThreadedFeed(source, lent)
        else:
            clock = StreamClock()
            feed = LockStepFeed(source, lent, clock)
        try:
            info = feed.start(clock)
        except BaseException:
            feed.stop()
            raise
        self._feed, self._source = feed, source
        found = held.found
        return feed, Opened(
            info.name, info.width, info.height, info.fps, live,
            found.seconds, found.held, found.refused,
        )  # fmt: skip

    def set_up(self, step: str) -> None:
        """Let the pose model rest where no step needs it; tell a source that sets its stage."""
        if self._lent is not None:
            self._lent.at_work = step in _WITH_POSES
        if isinstance(self._source, SetsStage):
            self._source.set_up(step)

    def close(self) -> None:
        """Close the pictures' source; the pose model is kept for the next."""
        feed, self._feed, self._source = self._feed, None, None
        if feed is not None:
            feed.stop()

    def end(self) -> None:
        """Close everything."""
        self.close()
        for worker in (self._sound, self._ears):
            if worker is not None:
                worker.ask_to_stop()
                worker.join(_SOUND_JOIN_S)
        self._sound = self._ears = None
        if self._model is not None:
            self._model.close()
            self._model = None

    # --- sound ----------------------------------------------------------------------------------

    def measure_sound(self, volume: float, draft: Draft) -> None:
        """Begin to play and listen in a thread of its own."""
        if self._sound is not None and not self._sound.join(0.0):
            return
        bay = replace(draft.bay, volume=volume)

        def once() -> bool:
            try:
                self._came = self._measured(bay)
            except StationError as trouble:
                self._came = Failed("sound", text_of(trouble))
            return False

        self._came = None
        self._sound = Worker("station-setup-sound", once)
        self._sound.start()

    def _measured(self, bay: Bay) -> Told:
        if self._mute:
            raise DeviceTrouble(Worded("--mute: nothing was played", "sound_muted"))
        clock = WallClock()
        speaker = open_bays_speaker(clock, bay)
        try:
            if not isinstance(speaker, DeviceSpeaker):
                raise DeviceTrouble(
                    speaker.notice
                    or Worded("no loudspeaker; connect one, then play again", "no_loudspeaker")
                )
            listening = Remembering(self._make_microphone())
            trip = measure_round_trip(speaker, listening, clock, TICKS)
            level = None
            if listening.recording is not None:
                level = above_room_db(listening.recording.samples)
            return Heard(speaker.name, trip.asked_s, trip.told_s, level)
        finally:
            speaker.stop()

    def heard(self) -> Told | None:
        """Return what came of listening, once."""
        if self._sound is None or not self._sound.join(0.0):
            return None
        sound, self._sound = self._sound, None
        sound.raise_failure()
        came, self._came = self._came, None
        return came

    # --- claps ----------------------------------------------------------------------------------

    def listen(self) -> None:
        """Begin to listen for claps in a thread of its own."""
        if self._ears is not None:
            return

        def once() -> bool:
            microphone = self._make_microphone()
            try:
                microphone.start(self._clock)
                self._clock.wait_until(self._clock.now_s() + LISTEN_S, LISTEN_S)
                self._recorded = microphone.stop()
            except DeviceTrouble as trouble:
                self._recorded = trouble
            return False

        self._recorded = None
        self._ears = Worker("station-setup-ears", once)
        self._ears.start()

    def sounds(self) -> tuple[float, ...] | Failed | None:
        """Return when sudden sounds came, once."""
        if self._ears is None or not self._ears.join(0.0):
            return None
        ears, self._ears = self._ears, None
        ears.raise_failure()
        recorded = self._recorded
        if recorded is None:
            return Failed("clap", Worded("nothing was recorded", "nothing_recorded"))
        if isinstance(recorded, DeviceTrouble):
            return Failed("clap", text_of(recorded))
        return sounds_of(recorded)

    # --- disk -----------------------------------------------------------------------------------

    def look_at_folder(self, path: str | None) -> Told:
        """Find out whether records can be written there."""
        try:
            room = look_at(records_folder(path))
        except (RuntimeError, ValueError) as fault:  # `~nobody`, or a sign that no path has
            return Folder(str(path), None, str(fault))
        return Folder(str(room.path), room.free_bytes, room.trouble)

    def save(self, draft: Draft) -> Told:
        """Write the profile; the one before is kept."""
        try:
            kept = write_bay(self._path, draft.bay, sorted(draft.touched), self._now())
        except StationError as trouble:
            return Failed("save", text_of(trouble))
        return Saved(str(self._path), None if kept is None else str(kept))


class _Lent:
    """A pose model that outlives the feed it is lent to: loading it takes a second."""

    def __init__(self, model: PoseModel) -> None:
        self._model = model
        self.at_work = False
        """Whether anybody is looked for."""
        model.detect_anew()

    def find(self, frame: Frame) -> Pose:
        if not self.at_work:
            return Pose.nobody(frame.t_s, frame.index, frame.image.shape[1], frame.image.shape[0])
        return self._model.find(frame)

    def detect_anew(self) -> None:
        self._model.detect_anew()

    def close(self) -> None:
        """Stay open."""
