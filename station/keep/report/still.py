"""One picture of a typical landing, out of the session's film, where the runner allowed films."""

from __future__ import annotations

import base64
import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from station.keep.report.facts import FilmFacts, SessionFacts
from station.values import StepRecord

WIDTH_PX = 960
QUALITY = 82
TOLD_S = 3.5
"""So long after a landing that was ahead the screen may speak of it: four landings within take its
sentence back (`coach/corrections.py`), and it stands two seconds at least."""
AFTER_VERDICT_S = 0.05
"""The screen shows where a landing fell shortly after its verdict."""


@dataclass(frozen=True, slots=True)
class TypicalLanding:
    """A landing that stands for a drill."""

    step: StepRecord
    drill: str
    other_told: bool
    """What the screen said just then may have been meant for the other leg."""


@dataclass(frozen=True, slots=True)
class Still:
    """The picture, or why there is none."""

    data: str | None
    """A JPEG as a `data:` address."""
    why_not: str
    """Key of the words; empty: there is one."""
    landing: TypicalLanding | None = None
    """What it shows."""


def still_of(facts: SessionFacts) -> Still:
    """Take the picture of the landing nearest the median of the near leg, in the last drill.

    Args:
        facts: The session. Without consent its film is not even opened.
    """
    if facts.film is None:
        return Still(None, "still_no_film")
    if not facts.film_allowed:
        return Still(None, "still_no_consent")
    found = typical_landing(facts)
    if found is None:
        return Still(None, "still_no_landing")
    data = _picture(facts.film, found.step)
    if data is None:
        return Still(None, "still_unreadable")
    return Still(data, "", found)


def typical_landing(facts: SessionFacts) -> TypicalLanding | None:
    """Return a judged landing near its drill's median; None: there is none.

    Of the half of the landings that are nearest, it is the nearest one while nothing was told to
    the other leg; where there is no such one, the nearest of all.
    """
    for drill in reversed(facts.running):
        judged = [
            row for row in drill.records
            if row.step.near and row.landing is not None and row.step.shank_deg is not None
        ]  # fmt: skip
        if judged:
            nearest = _nearest_first(judged)
            clear = [r for r in nearest if not _other_told(r, drill.records)]
            return TypicalLanding((clear or nearest)[0], drill.name, not clear)
    return None


def _nearest_first(rows: Iterable[StepRecord]) -> list[StepRecord]:
    """Return the half of the landings nearest their median, the nearest and latest first."""
    known = [(row.step.shank_deg or 0.0, row) for row in rows]
    middle = median(deg for deg, _ in known)
    known.sort(key=lambda one: (abs(one[0] - middle), -one[1].step.t_contact_s))
    return [row for _, row in known[: (len(known) + 1) // 2]]


def _other_told(shown: StepRecord, rows: Iterable[StepRecord]) -> bool:
    """Return whether a landing of the other leg that came ahead may still stand on the screen."""
    at_s = shown.step.t_contact_s
    return any(
        row.landing == "ahead" and row.step.side != shown.step.side
        and at_s - TOLD_S <= row.step.t_contact_s <= at_s
        for row in rows
    )  # fmt: skip


def _picture(film: FilmFacts, record: StepRecord) -> str | None:
    import cv2  # a vendor's library, needed for a still alone

    capture = cv2.VideoCapture(str(film.path))
    try:
        if not capture.isOpened():
            return None
        at_s = record.step.t_verdict_s + AFTER_VERDICT_S - film.first_picture_s
        if not math.isfinite(at_s) or at_s < 0.0:
            return None
        capture.set(cv2.CAP_PROP_POS_MSEC, 1000.0 * at_s)
        there, picture = capture.read()
        if not there or picture is None:
            return None
        height, width = picture.shape[:2]
        size = (WIDTH_PX, max(1, round(height * WIDTH_PX / width)))
        small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        done, coded = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
        if not done:
            return None
        return "data:image/jpeg;base64," + base64.b64encode(coded.tobytes()).decode("ascii")
    except cv2.error:
        return None
    finally:
        capture.release()
