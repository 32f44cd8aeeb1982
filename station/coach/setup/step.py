"""What all steps of the set-up have in common."""

from __future__ import annotations

from typing import Protocol

from station.coach.setup.page import Body, StepName
from station.coach.setup.values import Done, Draft, Facts, Told, Wish


class Step(Protocol):
    """One step. Used by one thread; has no clock and no device."""

    name: StepName

    def enter(self, draft: Draft) -> Wish | None:
        """Begin, or begin again, with the profile as it stands."""
        ...

    def see(self, facts: Facts, draft: Draft) -> None:
        """Take one picture."""
        ...

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Take what a person did on this page."""
        ...

    def told(self, told: Told, draft: Draft) -> None:
        """Take what came of a wish."""
        ...

    def body(self, draft: Draft) -> Body:
        """Return what is to be shown."""
        ...

    def apply(self, draft: Draft) -> Draft:
        """Return the profile with what was measured; unchanged where nothing was."""
        ...


class Plain:
    """A step that does nothing by itself: the others say only what they do otherwise."""

    def enter(self, draft: Draft) -> Wish | None:
        """Begin."""
        return None

    def see(self, facts: Facts, draft: Draft) -> None:
        """Look at nothing."""

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Take nothing."""
        return None

    def told(self, told: Told, draft: Draft) -> None:
        """Hear nothing."""

    def apply(self, draft: Draft) -> Draft:
        """Change nothing."""
        return draft
