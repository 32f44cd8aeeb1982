"""The parts of a session's report that hold pictures."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from station.coach.practice import PHASES, SIDES
from station.keep.report import answer_pictures, speed_pictures, time_picture
from station.keep.report.findings import DrillFigures, SessionFindings
from station.keep.report.limits_told import limits_told
from station.keep.report.picture import Picture
from station.keep.report.say import Say
from station.keep.report.sections import Section, Titled, legend_of
from station.values import Side

TIME_MARKS = tuple(
    (mark, f"legend_{mark}")
    for mark in ("within", "ahead", "unjudged", "middle", "limit", "coached")
)
PHASE_MARKS = (
    *((f"bar-{phase}", f"phase_{phase}") for phase in PHASES),
    ("interval", "legend_interval"), ("pale", "legend_pale"),
)  # fmt: skip
SPEED_MARKS = (("ring", "legend_alone"), ("dot", "legend_with"), ("tick", "legend_limit"))
RATE_MARKS = (("dot", "legend_held"), ("ahead", "legend_not_held"), ("coached", "legend_band"))
FELT_MARKS = (("diamond", "legend_felt"), ("dot", "legend_counted"))


def _of_legs(
    findings: SessionFindings, legs: Mapping[Side, Picture], say: Say, more: str = ""
) -> tuple[Titled, ...]:
    return tuple(
        (say("leg_far" if side in findings.far_sides else "leg_near", side=side) + more, picture)
        for side, picture in legs.items()
    )


def _of_drills(
    findings: SessionFindings, line: Callable[[DrillFigures, Say], str], say: Say
) -> tuple[str, ...]:
    """Return a line for each drill that has something to say."""
    return tuple(told for drill in findings.running if (told := line(drill, say)))


def _alone(picture: Picture | None) -> tuple[Titled, ...]:
    return () if picture is None else (("", picture),)


def time_section(findings: SessionFindings, say: Say) -> Section:
    """Show every landing of each leg over time."""
    legs = time_picture.landing_over_time(findings, say)
    shown = _of_legs(findings, legs, say)
    notes = dict.fromkeys(picture.note for picture in legs.values() if picture.note)
    return Section(
        say("time_title"),
        say("time_lead", middle_count=time_picture.middle_of_how_many(findings)),
        shown, legend_of(shown, TIME_MARKS, say),
        lines=(*limits_told(findings, legs, say), *notes),
        empty="" if shown else say("time_empty"),
    )  # fmt: skip


def phases_section(findings: SessionFindings, say: Say) -> Section:
    """Show shares before, with and after feedback."""
    practice = [p for p in findings.practice if any(leg.coached or leg.before for leg in p.legs)]
    legs = {s: p for s in SIDES if (p := speed_pictures.phases(practice, s, say)) is not None}
    shown = _of_legs(findings, legs, say)
    return Section(
        say("phases_title"), say("phases_lead"), shown, legend_of(shown, PHASE_MARKS, say),
        empty="" if shown else say("phases_empty"),
    )  # fmt: skip


def speeds_section(findings: SessionFindings, say: Say) -> Section:
    """Show landing by belt speed."""
    shown: tuple[Titled, ...] = ()
    for at, (incline, drills) in enumerate(speed_pictures.by_incline(findings.drills)):
        more = "" if not incline else f", {say('incline', percent=say.number(incline, 1))}"
        legs = speed_pictures.landing_by_speed(drills, str(at), say)
        shown += _of_legs(findings, legs, say, more)
    return Section(
        say("speed_title"), say("speed_lead"), shown, legend_of(shown, SPEED_MARKS, say),
        empty="" if shown else say("speed_empty"),
    )  # fmt: skip


def rates_section(findings: SessionFindings, say: Say) -> Section:
    """Show the step rate at each belt speed."""
    shown: list[Titled] = []
    groups = speed_pictures.by_incline(findings.drills)
    for at, (incline, drills) in enumerate(groups):
        picture = speed_pictures.rate_by_speed(drills, say, str(at))
        if picture is not None:
            title = "" if not incline else say("incline", percent=say.number(incline, 1))
            shown.append((title, picture))
    faster = any(speed_pictures.faster_at_the_same_rate(drills) for _, drills in groups)
    name = "faster" if faster else "rate"
    return Section(
        say(f"{name}_title"), say(f"{name}_lead"), tuple(shown),
        legend_of(shown, RATE_MARKS, say), _of_drills(findings, _rate_line, say),
        empty="" if shown else say("rate_empty"),
    )  # fmt: skip


def _rate_line(drill: DrillFigures, say: Say) -> str:
    if drill.held is None or drill.rate is None:
        return ""
    facts = drill.facts
    return say(
        "rate_line_held" if drill.held else "rate_line_not_held", name=facts.name,
        belt=say.setting(facts.belt_mps, facts.incline_percent), rate_spm=drill.rate.median_spm,
        target_spm=facts.target_spm, steps_count=drill.rate.count,
    )  # fmt: skip


def beat_section(findings: SessionFindings, say: Say) -> Section:
    """Show steps in time with the beat."""
    shown = _alone(answer_pictures.beat_lock(findings.drills, say))
    return Section(
        say("beat_title"), say("beat_lead"), shown, lines=_of_drills(findings, _beat_line, say),
        empty="" if shown else say("beat_empty"),
    )  # fmt: skip


def _beat_line(drill: DrillFigures, say: Say) -> str:
    beat = drill.facts.beat
    if beat is None:
        return ""
    return say(
        "beat_line" if beat.mean_offset_s is not None else "beat_line_spread",
        name=drill.facts.name, locked_share=beat.share_locked, steps_count=beat.steps,
        offset_ms=beat.mean_offset_s,
    )  # fmt: skip


def felt_section(findings: SessionFindings, say: Say) -> Section:
    """Show what was felt beside what was counted."""
    shown = _alone(answer_pictures.feel_gap(findings.drills, say))
    lines = _of_drills(findings, _felt_line, say)
    return Section(
        say("felt_title"), say("felt_lead"), shown, legend_of(shown, FELT_MARKS, say), lines,
        empty="" if shown or lines else say("felt_empty"),
    )  # fmt: skip


def _felt_line(drill: DrillFigures, say: Say) -> str:
    felt = drill.facts.felt
    if felt is None:
        return ""
    if felt.good_of_ten is None or felt.share_within is None:
        return say("felt_line_none", name=drill.facts.name)
    few = "" if felt.note is None else f" {say('felt_few')}"
    return say(
        "felt_line", name=drill.facts.name, felt_count=felt.good_of_ten,
        counted=say.number(10.0 * felt.share_within), judged_count=felt.judged,
    ) + few  # fmt: skip


def cue_section(findings: SessionFindings, say: Say) -> Section:
    """Show what a cue did."""
    effect = findings.effect
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
    return Section(
        say("cue_title"), say("cue_lead"), _alone(answer_pictures.cue_effect(effect, say)),
        lines=tuple(lines), empty="" if effect is not None else say("cue_empty"),
    )  # fmt: skip


ALL = (
    time_section, phases_section, speeds_section, rates_section, beat_section, felt_section,
    cue_section,
)  # fmt: skip
"""Every part, in the order of the page."""
