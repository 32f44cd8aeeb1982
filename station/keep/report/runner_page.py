"""Lays out the one page that is the runner's own: plain words, the same as the last screen's."""

from __future__ import annotations

from typing import Any

from station.coach.closing import Closing, closing, tens_of
from station.keep.report.findings import SessionFindings
from station.keep.report.page import render
from station.keep.report.say import NONE, Say

CARE = ("notice_calf", "notice_pain", "notice_no_promise")


def runner_page(findings: SessionFindings, say: Say) -> str:
    """Return the whole page as HTML."""
    facts = findings.facts
    told = closing([drill.practice() for drill in facts.drills], facts.steps)
    values = dict(told.values)
    return render(
        "runner.html.j2",
        say,
        title=say("title_plain"),
        head=[
            (say("runner"), facts.code or say("nobody_named")),
            (say("when"), say.moment(facts.began)),
            (say("plan"), facts.plan or NONE),
        ],
        lines=[say.sentence(key, **values) for key in told.lines if key != "closing_steps"],
        dose=say("plain_dose", run_s=facts.running_s, steps_count=facts.steps),
        tens=_tens(told, say),
        tens_lead=_lead(told, say),
        rates=_rates(findings, say),
        felt=_felt(findings, say),
        care=[say.sentence(key) for key in CARE],
    )


def _lead(told: Closing, say: Say) -> str:
    count = told.count
    if count is None or count.leg.limit is None:
        return ""
    return say(
        "plain_tens_lead", side=count.leg.side, belt=count.practice.belt,
        limit_deg=count.leg.limit.deg,
    )  # fmt: skip


def _tens(told: Closing, say: Say) -> list[dict[str, Any]]:
    count = told.count
    if count is None:
        return []
    rows = []
    for name, share in (("before", count.before), ("with", count.coached), ("after", count.after)):
        if share is None:
            continue
        title, tens = say(f"plain_{name}"), tens_of(share)
        rows.append({
            "title": title, "tens": tens, "of": say("n", n_count=share.of),
            "alt": say("plain_tens_alt", name=title, tens=str(tens)),
        })  # fmt: skip
    return rows


def _rates(findings: SessionFindings, say: Say) -> list[str]:
    told = [
        say("plain_rate_held" if drill.held else "plain_rate_not_held",
            rate_spm=drill.rate.median_spm, target_spm=drill.facts.target_spm,
            belt=say.setting(drill.facts.belt_mps, drill.facts.incline_percent))
        for drill in findings.running if drill.held is not None and drill.rate is not None
    ]  # fmt: skip
    return list(dict.fromkeys(told))  # two drills alike are one line


def _felt(findings: SessionFindings, say: Say) -> list[str]:
    lines = []
    for drill in findings.running:
        felt = drill.facts.felt
        if felt is not None and felt.good_of_ten is not None and felt.share_within is not None:
            lines.append(
                say("plain_felt", name=drill.facts.name, felt_count=felt.good_of_ten,
                    counted=say.number(10.0 * felt.share_within))
            )  # fmt: skip
    return lines
