"""The parts of a session's report that hold pictures."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from station.coach.practice import PHASES, SIDES
from station.keep.report import answer_pictures, speed_pictures, time_picture
from station.keep.report.answer_pictures import drills_numbered
from station.keep.report.findings import SessionFindings
from station.keep.report.picture import Picture
from station.keep.report.say import Say
from station.keep.report.sections import Section
from station.values import Side

TIME_MARKS = ("within", "ahead", "unjudged", "middle", "limit", "coached")


def _legs_of(
    findings: SessionFindings, make: Callable[[Side], Picture | None], say: Say
) -> tuple[tuple[str, Picture], ...]:
    found = []
    for side in SIDES:
        picture = make(side)
        if picture is None:
            continue
        far = side in findings.far_sides
        found.append((say("leg_far" if far else "leg_near", side=side), picture))
    return tuple(found)


def time_section(findings: SessionFindings, say: Say) -> Section:
    """Show every landing of each leg over time."""
    shown = _legs_of(findings, lambda s: time_picture.landing_over_time(findings, s, say), say)
    legend = [(mark, f"legend_{mark}") for mark in TIME_MARKS]
    return Section(
        say("time_title"),
        say("time_lead", middle_count=time_picture.middle_of_how_many(findings)),
        shown, tuple((m, say(key)) for m, key in legend),
        lines=tuple(dict.fromkeys(picture.note for _, picture in shown if picture.note)),
        empty="" if shown else say("time_empty"),
    )  # fmt: skip


def phases_section(findings: SessionFindings, say: Say) -> Section:
    """Show shares before, with and after feedback."""
    practice = [p for p in findings.practice if any(leg.coached or leg.before for leg in p.legs)]
    shown = _legs_of(findings, lambda s: speed_pictures.phases(practice, s, say), say)
    legend = [(f"bar-{phase}", f"phase_{phase}") for phase in PHASES]
    legend += [("interval", "legend_interval"), ("pale", "legend_pale")]
    return Section(
        say("phases_title"), say("phases_lead"), shown, tuple((m, say(key)) for m, key in legend),
        empty="" if shown else say("phases_empty"),
    )  # fmt: skip


def speeds_section(findings: SessionFindings, say: Say) -> Section:
    """Show landing by belt speed."""
    shown: list[tuple[str, Picture]] = []
    groups = speed_pictures.by_incline(findings.drills)
    for at, (incline, drills) in enumerate(groups):
        more = "" if not incline else f", {say('incline', percent=say.number(incline, 1))}"
        make = partial(speed_pictures.landing_by_speed, drills, str(at), say)
        shown += [(title + more, picture) for title, picture in _legs_of(findings, make, say)]
    legend = [("ring", "legend_alone"), ("dot", "legend_with"), ("tick", "legend_limit")]
    return Section(
        say("speed_title"), say("speed_lead"), tuple(shown),
        tuple((m, say(key)) for m, key in legend), empty="" if shown else say("speed_empty"),
    )  # fmt: skip


def rates_section(findings: SessionFindings, say: Say) -> Section:
    """Show the step rate at each belt speed."""
    shown = []
    for at, (incline, drills) in enumerate(speed_pictures.by_incline(findings.drills)):
        picture = speed_pictures.same_rate_faster_belt(drills, say, str(at))
        if picture is not None:
            title = "" if not incline else say("incline", percent=say.number(incline, 1))
            shown.append((title, picture))
    lines = []
    for _, drill in drills_numbered(findings.drills):
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


def beat_section(findings: SessionFindings, say: Say) -> Section:
    """Show steps in time with the beat."""
    picture = answer_pictures.beat_lock(findings.drills, say)
    lines = []
    for number, drill in drills_numbered(findings.drills):
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


def felt_section(findings: SessionFindings, say: Say) -> Section:
    """Show what was felt beside what was counted."""
    picture = answer_pictures.feel_gap(findings.drills, say)
    lines = []
    for _, drill in drills_numbered(findings.drills):
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


def cue_section(findings: SessionFindings, say: Say) -> Section:
    """Show what a cue did."""
    effect = findings.effect
    picture = answer_pictures.cue_effect(effect, say)
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


ALL = (
    time_section, phases_section, speeds_section, rates_section, beat_section, felt_section,
    cue_section,
)  # fmt: skip
"""Every part, in the order of the page."""
