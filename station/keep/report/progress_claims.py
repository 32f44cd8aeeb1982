"""What visits let us say: what improved, what did not, what is not known.

From visit to visit the camera is placed anew, so only a change beyond the smallest detectable one
counts, at one belt setting, in one bay, of the leg that was always near. Within a visit the camera
stands still: there shares are compared, visit by visit.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from station.coach.practice import SIDES
from station.coach.share_change import compare_shares
from station.keep.report.claims import Claim
from station.keep.report.progress import Course, Point, Progress
from station.values import Belt


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
        rate = rate_claim(progress, belt, smallest)
        claims += [] if rate is None else [rate]
        for side in SIDES:
            course = progress.course(belt, side)
            if course.points and course.near:
                claims += _course(course, smallest)
    if not progress.settings:
        claims.append(Claim("not known", "claim_no_settings", {}))
    elif not any(_is_kept(p.visit, progress) for b in progress.settings for s in SIDES
                 for p in progress.course(b, s).probes):  # fmt: skip
        claims.append(Claim("not known", "claim_no_retention", {}))
    for side in SIDES:
        far = sum(side in visit.far_sides for visit in progress.visits)
        if far:
            key = "claim_far" if far == len(progress.visits) else "claim_far_visits"
            claims.append(Claim("not known", key, {"side": side}))
    return tuple(claims)


def rate_claim(progress: Progress, belt: Belt, smallest: Mapping[str, float]) -> Claim | None:
    """Return what became of the runner's own step rate, where another one was practised.

    Args:
        progress: The visits.
        belt: A setting that is followed.
        smallest: As for `progress_claims`.

    Returns:
        None where the rate was practised in no visit, or is known in fewer than two.
    """
    rates, least_spm = progress.own_rate(belt), smallest.get("step_rate_spm")
    practised = [at.rate.target_spm for v in progress.visits if (at := v.at(belt)) is not None]
    asked = [spm for spm in practised if spm is not None]
    if least_spm is None or len(rates) < 2 or not asked:
        return None
    (_, first_spm, _), (_, last_spm, _) = rates[0], rates[-1]
    wanted_spm = asked[-1] - first_spm
    if abs(wanted_spm) < least_spm:
        return None
    gained_spm = math.copysign(1.0, wanted_spm) * (last_spm - first_spm)
    told = {
        "belt": belt, "before_fine_spm": first_spm, "after_fine_spm": last_spm,
        "target_spm": asked[-1], "least_fine_spm": least_spm,
    }  # fmt: skip
    if gained_spm >= least_spm:
        return Claim("improved", "claim_own_rate_nearer", told)
    key = "claim_own_rate_further" if gained_spm <= -least_spm else "claim_own_rate_same"
    return Claim("not improved", key, told)


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
