"""Lays a session's report out: what stands where, every number already written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from station.coach.practice import PHASES, SIDES, PhaseLeg
from station.keep.folder import DEMO_SOURCE
from station.keep.report import session_pictures as pictures
from station.keep.report.board import board
from station.keep.report.cautions import session_cautions
from station.keep.report.claims import session_claims
from station.keep.report.facts import Channels
from station.keep.report.findings import DrillFigures, LegFigures, SessionFindings
from station.keep.report.page import render
from station.keep.report.say import NONE, Say
from station.keep.report.sections import Section
from station.keep.report.session_pictures import Picture
from station.keep.report.still import Still

CHANNELS = ("beat", "guides", "view", "cue")
TIME_MARKS = ("within", "ahead", "unjudged", "middle", "limit", "coached")


def session_page(
    findings: SessionFindings, smallest: Mapping[str, float], say: Say, still: Still
) -> str:
    """Return the whole page as HTML."""
    facts = findings.facts
    return render(
        "session.html.j2",
        say,
        title=say("title_session"),
        head=_head(findings, say),
        told_in_short=_short(findings, say),
        board=board(session_claims(findings, smallest), say),
        drills=[_drill_row(i, d, say) for i, d in _numbered(findings)],
        legs=[_leg_rows(i, d, say) for i, d in _numbered(findings)],
        sections=[
            _time(findings, say), _phases(findings, say), _speeds(findings, say),
            _rates(findings, say), _beat(findings, say), _felt(findings, say), _cue(findings, say),
        ],
        phases=_phase_rows(findings, say),
        still=still,
        still_said=say("still_invented" if facts.source == DEMO_SOURCE else "still_consent"),
        cautions=session_cautions(findings, say),
        notices=facts.notices,
        answers=[_answer(one, say) for one in facts.answers],
    )  # fmt: skip


def _numbered(findings: SessionFindings) -> list[tuple[int, DrillFigures]]:
    return pictures.drills_numbered(findings.drills)


# --- head ---------------------------------------------------------------------------------------


def _head(findings: SessionFindings, say: Say) -> list[tuple[str, str]]:
    facts = findings.facts
    end = say(f"state_{facts.state.replace(' ', '_')}")
    if facts.state == "ended" and facts.why:
        end = say.word("end", facts.why)
    return [
        (say("runner"), facts.code or say("nobody_named")),
        (say("when"), say.moment(facts.began)),
        (say("bay"), facts.bay or NONE),
        (say("plan"), facts.plan or NONE),
        (say("source"), say.word("source", facts.source or None)),
        (say("ended"), end),
    ]


def _short(findings: SessionFindings, say: Say) -> list[str]:
    facts = findings.facts
    lines = [
        say(
            "short_dose", steps_count=facts.steps, drills_count=len(findings.running),
            run_s=facts.running_s,
        )
    ]  # fmt: skip
    aimed = [(i, d) for i, d in _numbered(findings) if d.held is not None]
    for held, key in ((True, "short_held"), (False, "short_not_held")):
        told = [
            say("short_rate", name=d.facts.name, rate_spm=d.rate.median_spm,
                target_spm=d.facts.target_spm,
                belt=say.setting(d.facts.belt_mps, d.facts.incline_percent))
            for _, d in aimed if d.held is held and d.rate is not None
        ]  # fmt: skip
        if told:
            lines.append(say(key, drills="; ".join(told)))
    return lines


def _answer(one: Any, say: Say) -> str:
    if one.moment == "since":
        return say("answer_since", told=", ".join(say.word("answer", kind) for kind in one.kinds))
    told = say(f"answer_{one.moment}", score_count=one.score)
    where = [one.place] if one.place else []
    extra = [say.word("where", place) for place in where] + [say.word("pain", k) for k in one.kinds]
    return f"{told} ({', '.join(extra)})" if extra else told


# --- tables -------------------------------------------------------------------------------------


def _drill_row(number: int, drill: DrillFigures, say: Say) -> dict[str, Any]:
    facts, rate = drill.facts, drill.rate
    return {
        "number": number,
        "name": facts.name,
        "kind": "" if facts.kind == "run" else say.word("kind", facts.kind),
        "belt": say.setting(facts.belt_mps, facts.incline_percent)
        if facts.belt_mps is not None
        else say("belt_stands"),
        "time": say.clock(facts.seconds),
        "steps": drill.steps,
        "target": say.rate(facts.target_spm),
        "rate": NONE if rate is None else say.rate(rate.median_spm),
        "held": "" if drill.held is None else say("held" if drill.held else "not_held"),
        "held_is": drill.held,
        "channels": channel_marks(facts.channels, say),
        "cues": drill.cues,
        "end": say.word("why", facts.why) if facts.ended_s is not None else say("broken_off"),
    }


def channel_marks(channels: Channels | None, say: Say) -> list[tuple[str, bool, str]]:
    """Return the four channels: word, whether it was on, and how."""
    if channels is None:
        return []
    on = (channels.beat, channels.guides, channels.view, channels.cue != "off")
    how = ("", "", "", say.word("cue", channels.cue))
    return [
        (say(f"channel_{name}"), is_on, told)
        for name, is_on, told in zip(CHANNELS, on, how, strict=True)
    ]


def _leg_rows(number: int, drill: DrillFigures, say: Say) -> dict[str, Any]:
    return {
        "number": number,
        "name": drill.facts.name,
        "legs": [_leg_cells(leg, say) for leg in drill.legs],
    }


def _leg_cells(leg: LegFigures, say: Say) -> dict[str, Any]:
    limit = leg.limit
    share = say.percent(leg.share_within)
    return {
        "side": say(f"alone_{leg.side}"),
        "near": leg.near or not leg.steps,
        "steps": leg.steps,
        "judged": leg.judged,
        "within": NONE if leg.share_within is None else f"{share} ({leg.within})",
        "median": NONE
        if leg.median_deg is None
        else f"{say.degrees(leg.median_deg)} \u00b1 {say.degrees(leg.spread_deg)}",
        "limit": NONE
        if limit is None
        else f"{say.degrees(limit.deg)} {say.word('origin', limit.origin)}",
        "sure": say.number(leg.confidence, 2),
    }


def _phase_rows(findings: SessionFindings, say: Say) -> list[dict[str, Any]]:
    rows = []
    for one in findings.practice:
        for leg in one.legs:
            if leg.limit is None or not any(leg.of(phase) for phase in PHASES):
                continue
            rows.append({
                "belt": say.belt(one.belt),
                "side": say(f"alone_{leg.side}"),
                "near": leg.near,
                "limit": say.degrees(leg.limit.deg),
                "cells": [_phase_cell(leg.of(phase), phase, say) for phase in PHASES],
            })  # fmt: skip
    return rows


def _phase_cell(phase: PhaseLeg | None, name: str, say: Say) -> dict[str, str]:
    title = say(f"phase_{name}")
    if phase is None:
        return {"title": title, "share": NONE, "median": "", "n": ""}
    share = phase.within
    return {
        "title": title,
        "share": NONE if share is None else say.percent(share.share),
        "median": NONE
        if phase.median_deg is None
        else f"{say.degrees(phase.median_deg)} \u00b1 {say.degrees(phase.spread_deg)}",
        "n": "" if share is None else say("n", n_count=share.of),
    }


# --- sections -----------------------------------------------------------------------------------


def _legs_of(findings: SessionFindings, make: Any, say: Say) -> tuple[tuple[str, Picture], ...]:
    found = []
    for side in SIDES:
        picture = make(side)
        if picture is None:
            continue
        far = side in findings.far_sides
        found.append((say("leg_far" if far else "leg_near", side=side), picture))
    return tuple(found)


def _time(findings: SessionFindings, say: Say) -> Section:
    shown = _legs_of(findings, lambda s: pictures.landing_over_time(findings, s, say), say)
    legend = [(mark, f"legend_{mark}") for mark in TIME_MARKS]
    return Section(
        say("time_title"),
        say("time_lead", middle_count=pictures.middle_of_how_many(findings)),
        shown, tuple((m, say(key)) for m, key in legend),
        lines=tuple(dict.fromkeys(picture.note for _, picture in shown if picture.note)),
        empty="" if shown else say("time_empty"),
    )  # fmt: skip


def _phases(findings: SessionFindings, say: Say) -> Section:
    practice = [p for p in findings.practice if any(leg.coached or leg.before for leg in p.legs)]
    shown = _legs_of(findings, lambda s: pictures.phases(practice, s, say), say)
    legend = [(f"bar-{phase}", f"phase_{phase}") for phase in PHASES]
    legend += [("interval", "legend_interval"), ("pale", "legend_pale")]
    return Section(
        say("phases_title"), say("phases_lead"), shown, tuple((m, say(key)) for m, key in legend),
        empty="" if shown else say("phases_empty"),
    )  # fmt: skip


def _speeds(findings: SessionFindings, say: Say) -> Section:
    shown: list[tuple[str, Picture]] = []
    groups = pictures.by_incline(findings.drills)
    for at, (incline, drills) in enumerate(groups):
        more = "" if not incline else f", {say('incline', percent=say.number(incline, 1))}"
        for title, picture in _legs_of(
            findings,
            lambda s, d=drills, n=at: pictures.landing_by_speed(d, s, say, str(n)),
            say,
        ):
            shown.append((title + more, picture))
    legend = [("ring", "legend_alone"), ("dot", "legend_with"), ("tick", "legend_limit")]
    return Section(
        say("speed_title"), say("speed_lead"), tuple(shown),
        tuple((m, say(key)) for m, key in legend), empty="" if shown else say("speed_empty"),
    )  # fmt: skip


def _rates(findings: SessionFindings, say: Say) -> Section:
    shown = []
    for at, (incline, drills) in enumerate(pictures.by_incline(findings.drills)):
        picture = pictures.same_rate_faster_belt(drills, say, str(at))
        if picture is not None:
            title = "" if not incline else say("incline", percent=say.number(incline, 1))
            shown.append((title, picture))
    lines = []
    for _, drill in _numbered(findings):
        if drill.held is not None and drill.rate is not None:
            lines.append(
                say("rate_line_held" if drill.held else "rate_line_not_held", name=drill.facts.name,
                    belt=say.setting(drill.facts.belt_mps, drill.facts.incline_percent),
                    rate_spm=drill.rate.median_spm, target_spm=drill.facts.target_spm,
                    steps_count=drill.rate.count)
            )  # fmt: skip
    legend = [("dot", "legend_held"), ("ahead", "legend_not_held"), ("coached", "legend_band")]
    return Section(
        say("rate_title"), say("rate_lead"), tuple(shown),
        tuple((m, say(key)) for m, key in legend), tuple(lines),
        empty="" if shown else say("rate_empty"),
    )  # fmt: skip


def _beat(findings: SessionFindings, say: Say) -> Section:
    picture = pictures.beat_lock(findings.drills, say)
    lines = []
    for number, drill in _numbered(findings):
        beat = drill.facts.beat
        if beat is None:
            continue
        key = "beat_line" if beat.mean_offset_s is not None else "beat_line_spread"
        lines.append(
            say(key, number_count=number, name=drill.facts.name, locked_share=beat.share_locked,
                steps_count=beat.steps, offset_ms=beat.mean_offset_s)
        )  # fmt: skip
    shown = () if picture is None else (("", picture),)
    return Section(
        say("beat_title"), say("beat_lead"), shown, lines=tuple(lines),
        empty="" if picture else say("beat_empty"),
    )  # fmt: skip


def _felt(findings: SessionFindings, say: Say) -> Section:
    picture = pictures.feel_gap(findings.drills, say)
    lines = []
    for _, drill in _numbered(findings):
        felt = drill.facts.felt
        if felt is None:
            continue
        if felt.good_of_ten is None or felt.share_within is None:
            lines.append(say("felt_line_none", name=drill.facts.name))
            continue
        lines.append(
            say("felt_line", name=drill.facts.name, felt_count=felt.good_of_ten,
                counted=say.number(10.0 * felt.share_within), judged_count=felt.judged)
            + ("" if felt.note is None else f" {say('felt_few')}")
        )  # fmt: skip
    legend = [("diamond", "legend_felt"), ("dot", "legend_counted")]
    shown = () if picture is None else (("", picture),)
    return Section(
        say("felt_title"), say("felt_lead"), shown,
        tuple((m, say(key)) for m, key in legend) if picture else (), tuple(lines),
        empty="" if picture or lines else say("felt_empty"),
    )  # fmt: skip


def _cue(findings: SessionFindings, say: Say) -> Section:
    effect = findings.effect
    picture = pictures.cue_effect(effect, say)
    lines = []
    if effect is not None:
        lines.append(say("cue_counts", cued_count=effect.cued, withheld_count=effect.withheld))
        shank, share = effect.shank_deg, effect.share_ahead
        if shank is not None:
            lines.append(
                say("cue_angle", by_sdeg=shank.difference, low_sdeg=shank.low, high_sdeg=shank.high)
            )
        if share is not None:
            lines.append(
                say("cue_share", cued_share=share.after_cued, withheld_share=share.after_withheld)
            )
    shown = () if picture is None else (("", picture),)
    return Section(
        say("cue_title"), say("cue_lead"), shown, lines=tuple(lines),
        empty="" if effect is not None else say("cue_empty"),
    )  # fmt: skip
