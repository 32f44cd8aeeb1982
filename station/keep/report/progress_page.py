"""Lays a progress report out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from station.coach.practice import SIDES
from station.keep.report import progress_pictures as pictures
from station.keep.report.board import board
from station.keep.report.page import render
from station.keep.report.progress import Course, Point, Progress, VisitFigures
from station.keep.report.progress_claims import progress_claims, rate_claim
from station.keep.report.say import NONE, Say
from station.keep.report.sections import Section, legend_of
from station.values import Belt

MARKS = (
    ("ring-ink", "legend_came"), ("dot", "legend_with"), ("square", "legend_left"),
    ("diamond-ink", "legend_probe"), ("zone", "legend_smallest"),
)  # fmt: skip
DOSE_MARKS = (("bar-dose", "legend_with"), ("bar-empty", "legend_alone"))
ALWAYS = ("caution_visits", "caution_one_view", "caution_limit", "caution_advice")


def progress_page(progress: Progress, smallest: Mapping[str, float], say: Say) -> str:
    """Return the whole page as HTML."""
    least_deg = smallest.get("shank_deg", 0.0)
    return render(
        "progress.html.j2",
        say,
        title=say("title_progress"),
        head=_head(progress, say),
        told_in_short=_short(progress, smallest, say),
        board=board(progress_claims(progress, smallest), say),
        sections=[
            *(_landing(progress, belt, least_deg, say) for belt in progress.settings),
            _channels(progress, say),
            _dose(progress, say),
        ],
        courses=[_course_rows(progress, belt, say) for belt in progress.settings],
        visits=[_visit_row(i, v, say) for i, v in enumerate(progress.visits, start=1)],
        cautions=_cautions(progress, say),
    )


def _head(progress: Progress, say: Say) -> list[tuple[str, str]]:
    visits = progress.visits
    first: datetime | None = visits[0].began if visits else None
    last = visits[-1].began if visits else None
    return [
        (say("runner"), progress.code),
        (say("first_visit"), say.day(first)),
        (say("last_visit"), say.day(last)),
        (say("bay"), ", ".join(dict.fromkeys(v.bay for v in visits)) or NONE),
        (say("visits"), str(len(visits))),
        (say("practice_time"), say("minutes", time_s=progress.running_s)),
    ]


def _short(progress: Progress, smallest: Mapping[str, float], say: Say) -> list[str]:
    lines = [
        say("short_programme", visits_count=len(progress.visits), steps_count=progress.steps,
            time_s=progress.running_s)
    ]  # fmt: skip
    least_spm = smallest.get("step_rate_spm")
    for belt in progress.settings:
        rates = progress.own_rate(belt)
        if least_spm is None or len(rates) < 2 or rate_claim(progress, belt, smallest):
            continue
        (_, first_spm, _), (_, last_spm, _) = rates[0], rates[-1]
        key = "short_rate_moved" if abs(last_spm - first_spm) >= least_spm else "short_rate_same"
        lines.append(
            say(key, belt=belt, before_fine_spm=first_spm, after_fine_spm=last_spm,
                least_fine_spm=least_spm)
        )  # fmt: skip
    return lines


# --- landing ------------------------------------------------------------------------------------


def _landing(progress: Progress, belt: Belt, least_deg: float, say: Say) -> Section:
    courses = {side: progress.course(belt, side) for side in SIDES}
    legs = pictures.landing_by_visit([*courses.values()], progress, least_deg, say)
    shown = tuple(
        (say(_leg_title(courses[side]), side=side), picture) for side, picture in legs.items()
    )
    return Section(
        say("visits_title", belt=belt), say("visits_lead", least_deg=least_deg), shown,
        legend_of(shown, MARKS, say),
        empty="" if shown else say("visits_empty"),
    )  # fmt: skip


def _leg_title(course: Course) -> str:
    if course.near:
        return "leg_near"
    return "leg_far" if course.far else "leg_far_some"


def _course_rows(progress: Progress, belt: Belt, say: Say) -> list[dict[str, Any]]:
    rows = []
    for side in SIDES:
        course = progress.course(belt, side)
        if course.probes:
            rows.append(_course_row(course, say))
    return rows


def _course_row(course: Course, say: Say) -> dict[str, Any]:
    first, last = course.probes[0], course.probes[-1]
    cells = [_probe_cell("came_first", first, say)]
    cells.append(_probe_cell("came_last", None if last is first else last, say))
    return {
        "side": say(f"alone_{course.side}"),
        "near": course.near,
        "limit": NONE if course.limit is None else say.degrees(course.limit.deg),
        "cells": cells,
    }


def _probe_cell(name: str, point: Point | None, say: Say) -> dict[str, str]:
    """Return how the runner came in one visit; None: there is no second one to tell of."""
    alone = None if point is None else point.alone
    if point is None or alone is None:
        return {"title": say(name), "median": NONE, "n": "", "share": ""}
    share = NONE if point.under is None else say.percent(point.under.share)
    return {
        "title": say(name),
        "median": f"{say.degrees(alone.median_deg)} \u00b1 {say.degrees(alone.spread_deg)}",
        "n": f"{say('visit_number', number_count=point.number)}, {say('n', n_count=alone.known)}",
        "share": say("share_under", share=share),
    }


# --- dose and channels --------------------------------------------------------------------------


def _channels(progress: Progress, say: Say) -> Section:
    picture = pictures.channel_strip(progress, say)
    return Section(
        say("channels_title"), say("channels_lead"),
        () if picture is None else (("", picture),),
        lines=tuple(say(f"channels_line_{name}") for name in pictures.CHANNELS) if picture else (),
        empty="" if picture else say("channels_empty"),
    )  # fmt: skip


def _dose(progress: Progress, say: Say) -> Section:
    picture = pictures.dose(progress, say)
    visits = progress.visits
    lines: tuple[str, ...] = ()
    if visits:
        days = (visits[-1].began.date() - visits[0].began.date()).days
        lines = (
            say("dose_line", visits_count=len(visits), days_count=days,
                coached_count=sum(v.coached for v in visits),
                off_count=sum(v.all_off for v in visits)),
            say("dose_minutes", time_s=progress.running_s, run_s=progress.coached_s,
                steps_count=progress.steps),
        )  # fmt: skip
    shown = () if picture is None else (("", picture),)
    return Section(
        say("dose_title"), say("dose_lead"), shown, legend_of(shown, DOSE_MARKS, say),
        lines=lines, empty="" if picture else say("visits_empty"),
    )  # fmt: skip


def _visit_row(number: int, visit: VisitFigures, say: Say) -> dict[str, Any]:
    channels = visit.channels
    shares = [NONE] * 4 if channels is None else [
        say.percent(share) for share in pictures.shares_of(channels)
    ]  # fmt: skip
    return {
        "number": number,
        "day": say.day(visit.began),
        "plan": visit.plan,
        "time": say.clock(visit.running_s),
        "steps": visit.steps,
        "channels": list(
            zip([say(f"channel_{n}") for n in pictures.CHANNELS], shares, strict=True)
        ),
        "cues": visit.cues,
        "pain": _pain(visit, say),
        "state": "" if visit.state == "ended" else say(f"state_{visit.state.replace(' ', '_')}"),
    }


def _pain(visit: VisitFigures, say: Say) -> str:
    told = {answer.moment: answer.score for answer in visit.answers if answer.score is not None}
    if not told:
        return NONE
    return f"{told.get('before', NONE)} / {told.get('after', NONE)}"


def _cautions(progress: Progress, say: Say) -> list[str]:
    lines = []
    if progress.older:
        lines.append(say("caution_older", older_count=progress.older))
    if progress.other_settings:
        told = "; ".join(say.belt(belt) for belt in progress.other_settings)
        lines.append(say("caution_other_settings", settings=told))
    broken = sum(visit.state != "ended" for visit in progress.visits)
    if broken:
        lines.append(say("caution_visits_broken", broken_count=broken))
    if any(visit.channels is None for visit in progress.visits):
        lines.append(say("caution_visits_channels"))
    return lines + [say(key) for key in ALWAYS]
