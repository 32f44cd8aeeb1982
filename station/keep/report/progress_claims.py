"""What visits let us say: what improved, what did not, what is not known.

From visit to visit the camera is placed anew, so only a change beyond the smallest detectable one
counts, at one belt setting, in one bay, of the leg that was always near. Within a visit the camera
stands still: there shares are compared, visit by visit.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from station.coach.practice import SIDES
from station.coach.share_change import compare_shares
from station.keep.report.claims import Claim
from station.keep.report.progress import Course, Point, Progress


def progress_claims(progress: Progress, smallest: Mapping[str, float]) -> tuple[Claim, ...]:
    """Return the sentences, in the order in which they are read.

    Args:
        progress: The visits.
        smallest: For each measure the smallest detectable change, in its unit.
    """
    if not progress.visits:
        return (Claim("not known", "claim_no_visits", {}),)
    claims: list[Claim] = []
    for belt in progress.settings:
        for side in SIDES:
            course = progress.course(belt, side)
            if course.points and course.near:
                claims += _course(course, smallest)
    if not progress.settings:
        claims.append(Claim("not known", "claim_no_settings", {}))
    elif not any(_is_kept(p.visit, progress) for b in progress.settings for s in SIDES
                 for p in progress.course(b, s).probes):  # fmt: skip
        claims.append(Claim("not known", "claim_no_retention", {}))
    far = [side for side in SIDES if any(side in visit.far_sides for visit in progress.visits)]
    claims += [Claim("not known", "claim_far_visits", {"side": side}) for side in far]
    return tuple(claims)


def _is_kept(visit: object, progress: Progress) -> bool:
    """Whether a visit is one without any feedback, after one that had some."""
    at = next(i for i, one in enumerate(progress.visits) if one is visit)
    one = progress.visits[at]
    return one.all_off and any(before.coached for before in progress.visits[:at])


def _course(course: Course, smallest: Mapping[str, float]) -> list[Claim]:
    where: dict[str, Any] = {"side": course.side, "belt": course.belt}
    claims = _angle(course, where, smallest)
    return claims + _within_visits(course, where)


def _angle(course: Course, where: Mapping[str, Any], smallest: Mapping[str, float]) -> list[Claim]:
    probes, least = course.probes, smallest.get("shank_deg")
    if least is None:
        return []
    if len(probes) < 2:
        return [Claim("not known", "claim_one_probe", where)]
    first, last = probes[0], probes[-1]
    if first.visit.bay != last.visit.bay:
        return [Claim("not known", "claim_other_bay", where)]
    assert first.alone is not None
    assert last.alone is not None
    before, after = first.alone.median_deg, last.alone.median_deg
    assert before is not None
    assert after is not None
    told = {
        **where, "before_deg": before, "after_deg": after, "least_deg": least,
        "days_count": (last.visit.began.date() - first.visit.began.date()).days,
        "shares": _shares(course, first, last),
    }  # fmt: skip
    name = "kept" if last.visit.all_off else "visits"
    if abs(after - before) < least:
        return [Claim("not known", f"claim_{name}_unsure", told)]
    if after < before:
        return [Claim("improved", f"claim_{name}_less", told)]
    return [Claim("not improved", f"claim_{name}_more", told)]


def _shares(course: Course, first: Point, last: Point) -> tuple[float, float, float] | None:
    """Return the limit and both shares at or under it; None: they are not known."""
    if course.limit is None or first.under is None or last.under is None:
        return None
    return course.limit.deg, first.under.share, last.under.share


def _within_visits(course: Course, where: Mapping[str, Any]) -> list[Claim]:
    claims: list[Claim] = []
    for name in ("with", "after"):
        verdicts = []
        for point in course.points:
            later = point.coached if name == "with" else point.after
            before = None if point.alone is None else point.alone.within
            change = compare_shares(before, None if later is None else later.within)
            if change is not None and change.verdict != "too few":
                verdicts.append(change.verdict)
        if not verdicts:
            continue
        told = {**where, "rose_count": verdicts.count("rose"), "visits_count": len(verdicts),
                "fell_count": verdicts.count("fell")}  # fmt: skip
        rose, fell = verdicts.count("rose"), verdicts.count("fell")
        if rose > fell:
            claims.append(Claim("improved", f"claim_visits_{name}_rose", told))
        elif fell > rose or verdicts.count("same") == len(verdicts):
            claims.append(Claim("not improved", f"claim_visits_{name}_not", told))
        else:
            claims.append(Claim("not known", f"claim_visits_{name}_unsure", told))
    return claims
