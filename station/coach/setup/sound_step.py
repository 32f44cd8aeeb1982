"""Sound: how loud it is above the room, and how late it comes."""

from __future__ import annotations

from station.coach.choice import Choice
from station.coach.setup.bounds import ABOVE_DB, LATE_S, TOLD_LATE_S
from station.coach.setup.drafting import with_bay
from station.coach.setup.page import Body, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.values import (
    Chosen,
    Done,
    Draft,
    Failed,
    Heard,
    MeasureSound,
    Nudged,
    Told,
    Wish,
)

VOLUME_STEP = 0.1


class SoundStep(Plain):
    """Plays ticks, and hears what came of them."""

    name: StepName = "sound"

    def __init__(self) -> None:
        """Begin with nothing heard."""
        self._volume: float | None = None
        self._busy = False
        self._heard: Heard | None = None
        self._trouble: str | None = None
        self._confirmed = False

    def enter(self, draft: Draft) -> Wish | None:
        """Nothing sounds before somebody asks for it."""
        if self._volume is None:
            self._volume = draft.bay.volume
        return None

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Set the volume, play and listen, or say that it is heard well."""
        volume = draft.bay.volume if self._volume is None else self._volume
        step = 0.0
        if isinstance(done, Nudged):
            step = VOLUME_STEP * (done.right - done.down)
        elif isinstance(done, Chosen) and done.id in ("softer", "louder"):
            step = VOLUME_STEP if done.id == "louder" else -VOLUME_STEP
        if step:
            self._volume = min(1.0, max(0.1, round(volume + step, 1)))
            self._heard, self._confirmed = None, False
        elif isinstance(done, Chosen) and done.id == "confirm" and self._trouble is not None:
            self._confirmed = not self._confirmed
        elif isinstance(done, Chosen) and done.id == "play" and not self._busy:
            self._busy, self._heard, self._trouble = True, None, None
            return MeasureSound(volume)
        return None

    def told(self, told: Told, draft: Draft) -> None:
        """Take what was heard, or why nothing was."""
        if isinstance(told, Heard):
            self._busy, self._heard, self._trouble = False, told, None
        elif isinstance(told, Failed) and told.what == "sound":
            self._busy, self._heard, self._trouble = False, None, told.why

    def body(self, draft: Draft) -> Body:
        """Return the volume and what was heard."""
        offers = [Choice("play", "setup_play", "1"), Choice("softer", "setup_softer", "2"),
                  Choice("louder", "setup_louder", "3")]  # fmt: skip
        if self._trouble is not None:
            offers.append(Choice("confirm", "setup_heard_well", "4", self._confirmed))
        volume = draft.bay.volume if self._volume is None else self._volume
        told = Reading("setup_volume", "good", (("percent", f"{100.0 * volume:.0f}"),))
        return Body("setup_sound_how", (told, *self._readings()), offers=tuple(offers))

    def _readings(self) -> tuple[Reading, ...]:
        if self._busy:
            return (Reading("setup_listening", "open"),)
        if self._trouble is not None:
            why = Reading("setup_sound_trouble", "look", (("why", self._trouble),))
            if self._confirmed:
                return (why, Reading("setup_sound_confirmed", "good"))
            return (why, Reading("setup_sound_by_ear", "open"))
        heard = self._heard
        if heard is None:
            return (Reading("setup_sound_open", "open"),)
        late = (("ms", f"{1000.0 * heard.asked_s:.0f}"), ("told", f"{1000.0 * heard.told_s:+.0f}"))
        too_late = heard.asked_s > LATE_S or heard.told_s > TOLD_LATE_S
        found = [Reading("setup_sound_late" if too_late else "setup_sound_in_time",
                         "look" if too_late else "good", late)]  # fmt: skip
        if heard.above_db is not None:
            loud = heard.above_db >= ABOVE_DB
            level = (("level", f"{heard.above_db:.0f}"),)
            found.append(Reading("setup_sound_loud" if loud else "setup_sound_soft",
                                 "good" if loud else "look", level))  # fmt: skip
        return tuple(found)

    def apply(self, draft: Draft) -> Draft:
        """Keep the volume."""
        if self._volume is None or self._volume == draft.bay.volume:
            return draft
        return with_bay(draft, volume=self._volume)
