"""Who is in view before and while a runner runs alone: the stand before the start, and company."""

from __future__ import annotations

from dataclasses import replace

from station.coach.visit.company import Company
from station.coach.visit.page import Page
from station.coach.visit.view_check import ViewCheck
from station.live.bay.looks import Looks
from station.live.feed import Seen
from station.live.session import Session
from station.values import Facing

SECOND_PERSON = "second_person"
NOT_ALONE = "not_alone"
"""Keys of the words: somebody else is in view, while running and before."""


class InView:
    """Keeps the view check and the second look of one visit after the other."""

    def __init__(self, faces: Facing | None, looks: Looks | None) -> None:
        """Begin with nobody seen.

        Args:
            faces: The way the runner is to face, in the image; None: either way.
            looks: Looks for a second person, started; None: nobody looks.
        """
        self._faces = faces
        self._looks = looks
        self.begin()

    def begin(self) -> None:
        """Begin anew: another runner stands there, or the same once more."""
        self._check = ViewCheck(self._faces)
        self._company = Company()

    def offer(self, seen: Seen) -> None:
        """Take a picture for the second look."""
        if self._looks is not None:
            self._looks.offer(seen)

    def stands(self, seen: Seen) -> bool:
        """Take a picture for the view check; return whether all is well, and the runner alone."""
        return self._check.take(seen.pose) and not self._company.present

    def look_about(self, session: Session | None, t_s: float) -> None:
        """Heed what the looks found: with company no landing is judged, for it may be theirs.

        Args:
            session: The one that runs; None: none does.
            t_s: Now, session clock.
        """
        for found in () if self._looks is None else self._looks.results():
            change = self._company.take(found)
            if session is None or change is None:
                continue
            session.disturbed = SECOND_PERSON if change else None
            why = "came into view" if change else "went out of view"
            session.coaching.progress.log.note(t_s, "second person", why)

    def page(self, page: Page) -> Page:
        """Return the view check's page with what is amiss now."""
        alone = not self._company.present
        why = self._check.why if alone else NOT_ALONE
        told = [key for key in (why, self._check.note) if key is not None]
        share = self._check.share_done if alone else 0.0
        return replace(page, lines=(*page.lines, *told), share=share)
