"""What a reader must know before believing a report: what is missing, and what it cannot say."""

from __future__ import annotations

from station.coach.practice import kept_its_belt
from station.keep.report.findings import SessionFindings
from station.keep.report.say import Say

MANY_UNJUDGED = 0.20
"""Share of a session's landings without a verdict, from which on it is said (own choice)."""
FEW_TRACKED = 0.95
ALWAYS = ("caution_one_view", "caution_same_setting", "caution_limit", "caution_advice")


def session_cautions(findings: SessionFindings, say: Say) -> list[str]:
    """Return the sentences, what is amiss in this session first."""
    facts = findings.facts
    lines = []
    if facts.state == "broken off":
        lines.append(say("caution_broken_off"))
    if facts.state == "open":
        lines.append(say("caution_open"))
    if facts.steps_lost or facts.left_out:
        lines.append(say("caution_lost", lost_count=facts.steps_lost + facts.left_out))
    lines += [say("caution_leg_missing", side=side) for side in findings.missing_sides
              if facts.steps]  # fmt: skip
    lines += [say("caution_far", side=side) for side in findings.far_sides]
    held = [d for d in findings.running if d.judged or d.facts.kind != "hop"]
    judged, steps = sum(drill.judged for drill in held), sum(drill.steps for drill in held)
    if steps and 1.0 - judged / steps > MANY_UNJUDGED:
        lines.append(say("caution_unjudged", unjudged_share=1.0 - judged / steps))
    tracked = facts.frames.get("tracked_share")
    if tracked is not None and tracked < FEW_TRACKED:
        lines.append(say("caution_tracked", tracked_share=tracked))
    lines += _drills(findings, say)
    return lines + [say(key) for key in ALWAYS]


def _drills(findings: SessionFindings, say: Say) -> list[str]:
    lines = []
    running = findings.running
    usual = [
        d.facts.name for d in running
        if d.facts.coached and any(leg.limit and leg.limit.origin == "fallback" for leg in d.legs)
    ]  # fmt: skip
    moved = [d.facts.name for d in running if d.facts.limit_by_deg]
    changed = [d.facts.name for d in running if not kept_its_belt(d.facts.records)]
    inclines = [
        d.facts.name for d in running
        if d.facts.belt_mps is not None and d.facts.incline_percent is None
    ]  # fmt: skip
    unknown = [d.facts.name for d in running if d.facts.channels is None]
    for names, key in (
        (usual, "caution_usual_limit"), (moved, "caution_limit_moved"),
        (changed, "caution_belt_changed"), (inclines, "caution_incline"),
        (unknown, "caution_channels"),
    ):  # fmt: skip
        if names:
            lines.append(say(key, names=", ".join(dict.fromkeys(names))))
    for why, key in (("set feedback", "caution_feedback_off"), ("set sound", "caution_sound_off")):
        if any(
            event.kind == "coach" and event.why == why and event.values.get("on") is False
            for event in findings.facts.events
        ):
            lines.append(say(key))
    return lines
