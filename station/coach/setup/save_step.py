"""The end: all that was measured, and saving it."""

from __future__ import annotations

from station.coach.setup.page import Body, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.values import Chosen, Done, Draft, Failed, Save, Saved, Told, Wish


class SaveStep(Plain):
    """Saves when it is asked to."""

    name: StepName = "save"

    def __init__(self) -> None:
        """Begin with nothing saved."""
        self._saved: Saved | None = None
        self._trouble: str | None = None

    def enter(self, draft: Draft) -> Wish | None:
        """What was changed meanwhile is not saved yet."""
        self._saved, self._trouble = None, None
        return None

    @property
    def saved(self) -> Saved | None:
        """Where it is; None: not saved yet."""
        return self._saved

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Save."""
        if isinstance(done, Chosen) and done.id == "save" and self._saved is None:
            self._trouble = None
            return Save()
        return None

    def told(self, told: Told, draft: Draft) -> None:
        """Take what came of saving."""
        if isinstance(told, Saved):
            self._saved, self._trouble = told, None
        elif isinstance(told, Failed) and told.what == "save":
            self._trouble = told.why

    def body(self, draft: Draft) -> Body:
        """Return what will be saved, or what was."""
        if self._saved is not None:
            found = [Reading("setup_saved", "good", (("path", self._saved.path),))]
            if self._saved.kept is not None:
                found.append(Reading("setup_kept", "good", (("path", self._saved.kept),)))
            return Body("setup_saved_how", tuple(found), picture=False)
        readings: list[Reading] = []
        if self._trouble is not None:
            readings.append(Reading("setup_save_trouble", "bad", (("why", self._trouble),)))
        readings += _review(draft)
        return Body("setup_save_how", tuple(readings), picture=False)


def _review(draft: Draft) -> list[Reading]:
    """Return what the profile says, in short."""
    bay, view = draft.bay, draft.bay.view
    found = [
        Reading("setup_has_camera", "good", (
            ("device", str(bay.device)), ("width", str(bay.width)), ("height", str(bay.height)),
            ("fps", f"{bay.fps:g}"),
        )),
        Reading("setup_has_roll", "good", (("degrees", f"{view.roll_deg:.2f}"),)),
    ]  # fmt: skip
    if view.px_per_m is None:
        found.append(Reading("setup_has_no_scale", "look"))
    else:
        found.append(Reading("setup_has_scale", "good", (("scale", f"{view.px_per_m:.1f}"),)))
    found.append(
        Reading("setup_has_no_belt", "look")
        if view.belt_line is None
        else Reading("setup_has_belt", "good")
    )
    if bay.screen_diagonal_m is None:
        found.append(Reading("setup_has_no_screen", "look"))
    return found
