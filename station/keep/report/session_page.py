"""Lays a session's report out: what stands where, every number already written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from station.coach.practice import PHASES, PhaseLeg
from station.keep.folder import DEMO_SOURCE
from station.keep.report import session_sections as sections
from station.keep.report.answer_pictures import drills_numbered
from station.keep.report.board import board
from station.keep.report.cautions import session_cautions
from station.keep.report.claims import session_claims
from station.keep.report.facts import Channels
from station.keep.report.findings import DrillFigures, LegFigures, SessionFindings
from station.keep.report.page import render
from station.keep.report.say import NONE, Say
from station.keep.report.still import Still

CHANNELS = ("beat", "guides", "view", "cue")


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
        sections=[make(findings, say) for make in sections.ALL],
        phases=_phase_rows(findings, say),
        still=still,
        still_said=say("still_invented" if facts.source == DEMO_SOURCE else "still_consent"),
        cautions=session_cautions(findings, say),
        notices=facts.notices,
        answers=[_answer(one, say) for one in facts.answers],
    )  # fmt: skip


def _numbered(findings: SessionFindings) -> list[tuple[int, DrillFigures]]:
    return drills_numbered(findings.drills)


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
    told = [
        say("short_rate", name=d.facts.name, rate_spm=d.rate.median_spm,
            target_spm=d.facts.target_spm,
            belt=say.setting(d.facts.belt_mps, d.facts.incline_percent))
        for d in findings.running if d.held and d.rate is not None
    ]  # fmt: skip
    if told:
        lines.append(say("short_held", drills="; ".join(told)))
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
