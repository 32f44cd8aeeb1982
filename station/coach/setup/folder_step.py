"""The folder of the records."""

from __future__ import annotations

from station.coach.choice import Choice
from station.coach.setup.bounds import LOW_BYTES, NONE_BYTES
from station.coach.setup.drafting import with_bay
from station.coach.setup.numbers import after_typing
from station.coach.setup.page import Body, Entry, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.values import Chosen, Done, Draft, Folder, LookAtFolder, Told, Typed, Wish

_LONGEST = 200


class FolderStep(Plain):
    """Takes a path, and looks whether it can be written."""

    name: StepName = "folder"

    def __init__(self) -> None:
        """Begin with the folder that the bay has."""
        self._text: str | None = None
        self._looked: Folder | None = None

    def enter(self, draft: Draft) -> Wish | None:
        """Look at the folder as it is."""
        if self._text is None:
            self._text = draft.bay.records_folder or ""
        return self._look()

    def _look(self) -> Wish:
        self._looked = None
        return LookAtFolder(self._text or None)

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Take a sign of the path, or go back to the user's own folder."""
        if isinstance(done, Typed):
            self._text = after_typing(self._text or "", done.sign, "", _LONGEST)
            return self._look()
        if isinstance(done, Chosen) and done.id == "own":
            self._text = ""
            return self._look()
        return None

    def told(self, told: Told, draft: Draft) -> None:
        """Take what came of looking."""
        if isinstance(told, Folder):
            self._looked = told

    def body(self, draft: Draft) -> Body:
        """Return the path, and whether it can be written."""
        offers = (Choice("own", "setup_own_folder", "", not self._text),)
        entries = (Entry("folder", "setup_folder_path", self._text or ""),)
        return Body("setup_folder_how", self._readings(), offers=offers, entries=entries,
                    picture=False)  # fmt: skip

    def _readings(self) -> tuple[Reading, ...]:
        looked = self._looked
        if looked is None:
            return (Reading("setup_looking", "open"),)
        if looked.trouble is not None or looked.free_bytes is None:
            why = (("path", looked.path), ("why", looked.trouble or ""))
            return (Reading("setup_folder_trouble", "bad", why),)
        values = (("path", looked.path), ("free", f"{looked.free_bytes / 1e9:.1f}"))
        if looked.free_bytes < NONE_BYTES:
            return (Reading("setup_folder_full", "bad", values),)
        if looked.free_bytes < LOW_BYTES:
            return (Reading("setup_folder_little", "look", values),)
        return (Reading("setup_folder_good", "good", values),)

    def apply(self, draft: Draft) -> Draft:
        """Keep the folder, if it can be written."""
        text = self._text or None
        if self._looked is None or self._looked.trouble or text == draft.bay.records_folder:
            return draft
        return with_bay(draft, records_folder=text)
