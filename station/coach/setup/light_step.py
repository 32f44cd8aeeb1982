"""Light, focus and exposure: the exposure is held short, so that a moving leg is not smeared."""

from __future__ import annotations

from station.coach.choice import Choice
from station.coach.setup.bounds import BLACK, BLURRED, BRIGHT, DARK, LONGEST_S, WHITE_SHARE
from station.coach.setup.drafting import with_bay
from station.coach.setup.page import Body, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.values import Chosen, Done, Draft, Facts, OpenCamera, Quality, Wish

SHUTTERS: tuple[int, ...] = (250, 500, 1000)
"""One over seconds, on offer."""


def light_reading(quality: Quality) -> Reading:
    """Say whether there is light enough, and not too much."""
    values = (
        ("bright", f"{100.0 * quality.brightness:.0f}"),
        ("white", f"{100.0 * quality.white:.0f}"),
    )
    if quality.brightness < BLACK:
        return Reading("setup_light_black", "bad", values)
    if quality.brightness < DARK:
        return Reading("setup_light_dark", "look", values)
    if quality.brightness > BRIGHT or quality.white > WHITE_SHARE:
        return Reading("setup_light_bright", "look", values)
    return Reading("setup_light_good", "good", values)


def focus_reading(quality: Quality, width: int) -> Reading:
    """Say whether the picture is sharp."""
    if quality.edge_px is None:
        return Reading("setup_focus_open", "open")
    values = (("edge", f"{quality.edge_px:.1f}"),)
    if quality.edge_px > BLURRED * width:
        return Reading("setup_focus_blurred", "look", values)
    return Reading("setup_focus_good", "good", values)


class LightStep(Plain):
    """Locks the exposure and judges light and focus."""

    name: StepName = "light"

    def __init__(self) -> None:
        """Begin with nothing seen."""
        self._quality: Quality | None = None

    def enter(self, draft: Draft) -> Wish | None:
        """Ask for a short exposure, where the camera is not at one yet."""
        self._quality = None
        opened = draft.camera
        if opened is None or not opened.live or opened.locked or opened.lock_refused:
            return None
        return OpenCamera(draft.now, draft.bay.exposure_s or LONGEST_S)

    def see(self, facts: Facts, draft: Draft) -> None:
        """Keep the newest look at light and focus."""
        self._quality = facts.quality or self._quality

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Ask for another exposure."""
        if not isinstance(done, Chosen) or not done.id.startswith("shutter:"):
            return None
        told = done.id.partition(":")[2]
        self._quality = None
        return OpenCamera(draft.now, None if told == "auto" else 1.0 / float(told))

    def body(self, draft: Draft) -> Body:
        """Return what was found and the exposures on offer."""
        opened = draft.camera
        offers: tuple[Choice, ...] = ()
        if opened is not None and opened.live:
            now = opened.exposure_s if opened.locked else None
            offers = tuple(
                Choice(f"shutter:{one}", f"1/{one} s", str(n), now is not None
                      and abs(now * one - 1.0) < 0.1, True)
                for n, one in enumerate(SHUTTERS, start=1)
            )  # fmt: skip
            offers += (Choice("shutter:auto", "setup_shutter_auto", "4", not opened.locked),)
        return Body("setup_light_how", self._readings(draft), offers=offers)

    def _readings(self, draft: Draft) -> tuple[Reading, ...]:
        opened, quality = draft.camera, self._quality
        if opened is None:
            return (Reading("setup_no_picture", "bad"),)
        exposure = self._exposure(draft)
        if quality is None:
            return (exposure, Reading("setup_looking", "open"))
        return (exposure, light_reading(quality), focus_reading(quality, opened.width))

    def _exposure(self, draft: Draft) -> Reading:
        opened = draft.camera
        if opened is None or not opened.live:
            return Reading("setup_exposure_recorded", "good")
        if opened.lock_refused:
            return Reading("setup_exposure_refused", "look")
        if not opened.locked or opened.exposure_s is None:
            return Reading("setup_exposure_auto", "look")
        values = (("shutter", f"{1.0 / opened.exposure_s:.0f}"),)
        if opened.exposure_s > 1.05 * LONGEST_S:
            return Reading("setup_exposure_long", "look", values)
        return Reading("setup_exposure_good", "good", values)

    def apply(self, draft: Draft) -> Draft:
        """Keep the exposure that the camera is held at."""
        return with_held_exposure(draft)


def with_held_exposure(draft: Draft) -> Draft:
    """Return the profile with the exposure that the open camera is held at, or with none."""
    opened = draft.camera
    if opened is None or not opened.live:
        return draft
    held = opened.exposure_s if opened.locked else None
    return draft if held == draft.bay.exposure_s else with_bay(draft, exposure_s=held)
