"""What a session lets us say: what improved, what did not, what is not known.

Nothing is concluded from the far leg, from under 20 judged landings, across belt settings, or from
a change of angle that is smaller than the smallest detectable one. What was better while feedback
was on is said as that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from station.coach.cue_effect import LEAST_EACH
from station.coach.practice import BeltPractice, LegPractice, PhaseLeg
from station.coach.share_change import LEAST_JUDGED, ShareChange, compare_shares
from station.keep.report.findings import SessionFindings

ClaimKind = Literal["improved", "not improved", "not known"]
KINDS: tuple[ClaimKind, ...] = ("improved", "not improved", "not known")


@dataclass(frozen=True, slots=True)
class Claim:
    """One sentence: a key of the words' section `report`, and what fills it in."""

    kind: ClaimKind
    key: str
    values: Mapping[str, Any]


def session_claims(findings: SessionFindings, smallest: Mapping[str, float]) -> tuple[Claim, ...]:
    """Return the sentences of a session, in the order in which they are read.

    Args:
        findings: The session's figures.
        smallest: For each measure the smallest detectable change, in its unit.
    """
    claims: list[Claim] = []
    if findings.facts.steps == 0:
        return (Claim("not known", "claim_no_steps", {}),)
    if not findings.drills:
        claims.append(Claim("not known", "claim_no_drills", {}))
    coached = [one for one in findings.practice if any(leg.coached for leg in one.legs)]
    for practice in coached:
        claims += _belt(practice, smallest)
    claims += _not_held(findings)
    if findings.drills and not coached:
        claims.append(Claim("not known", "claim_nothing_practised", {}))
    claims += _cues(findings)
    claims += [Claim("not known", "claim_leg_missing", {"side": s}) for s in findings.missing_sides]
    claims += [Claim("not known", "claim_far", {"side": side}) for side in findings.far_sides]
    return tuple(claims)


def _belt(practice: BeltPractice, smallest: Mapping[str, float]) -> list[Claim]:
    claims: list[Claim] = []
    where = {"belt": practice.belt}
    near = [leg for leg in practice.legs if leg.near and leg.coached is not None]
    for leg in near:
        claims += _leg(leg, {**where, "side": leg.side}, smallest)
    claims += _rate(practice, smallest)
    if near and all(leg.before is None for leg in near):
        claims.append(Claim("not known", "claim_no_before", where))
    if near and all(leg.after is None for leg in near):
        claims.append(Claim("not known", "claim_no_after", where))
    for leg in near[:1]:
        if leg.limit is not None and leg.limit.origin == "fallback":
            claims.append(
                Claim("not known", "claim_usual_limit", {**where, "limit_deg": leg.limit.deg})
            )
    return claims


def _leg(leg: LegPractice, values: Mapping[str, Any], smallest: Mapping[str, float]) -> list[Claim]:
    claims: list[Claim] = []
    limit = {} if leg.limit is None else {"limit_deg": leg.limit.deg}
    before = None if leg.before is None else leg.before.within
    for phase, name in ((leg.coached, "with"), (leg.after, "after")):
        change = compare_shares(before, None if phase is None else phase.within)
        if change is not None:
            claims.append(_share(change, name, {**values, **limit}))
    name, later = ("with", leg.coached) if leg.after is None else ("after", leg.after)
    angle = _angle(leg.before, later, name, values, smallest)
    rose = any(claim.key == f"claim_{name}_rose" for claim in claims)
    claims += angle
    if rose and any(claim.kind == "not known" for claim in angle):
        claims.append(Claim("not known", "claim_close", values))
    return claims


def _rate(practice: BeltPractice, smallest: Mapping[str, float]) -> list[Claim]:
    """Say what stayed of a step rate that was asked for and that the runner went along with."""
    rate, least_spm = practice.rate, smallest.get("step_rate_spm")
    target_spm, before_spm = rate.target_spm, rate.before_spm
    coached_spm, after_spm = rate.coached_spm, rate.after_spm
    if least_spm is None or target_spm is None:
        return []
    if before_spm is None or coached_spm is None or after_spm is None:
        return []
    way = math.copysign(1.0, target_spm - before_spm)
    if way * (coached_spm - before_spm) < least_spm:
        return []
    told = {
        "belt": practice.belt, "before_spm": before_spm, "with_spm": coached_spm,
        "after_spm": after_spm, "target_spm": target_spm, "least_fine_spm": least_spm,
    }  # fmt: skip
    if way * (after_spm - before_spm) >= least_spm:
        return [Claim("improved", "claim_rate_stayed", told)]
    if way * (coached_spm - after_spm) >= least_spm:
        return [Claim("not improved", "claim_rate_back", told)]
    return [Claim("not known", "claim_rate_unsure", told)]


def _not_held(findings: SessionFindings) -> list[Claim]:
    """Name the drills in which the runner did not go along with the step rate asked for."""
    return [
        Claim("not improved", "claim_rate_not_held", {
            "name": drill.facts.name, "belt": drill.facts.belt,
            "with_spm": drill.rate.median_spm, "target_spm": drill.facts.target_spm,
        })
        for drill in findings.running
        if drill.held is False and drill.rate is not None and drill.facts.belt is not None
    ]  # fmt: skip


_KIND: Mapping[str, ClaimKind] = {
    "rose": "improved", "fell": "not improved", "same": "not improved",
    "unsure": "not known", "too few": "not known",
}  # fmt: skip


def _share(change: ShareChange, name: str, values: Mapping[str, Any]) -> Claim:
    key = f"claim_{name}_{change.verdict.replace(' ', '_')}"
    return Claim(
        _KIND[change.verdict],
        key,
        {
            **values,
            "before_share": change.before.share,
            "after_share": change.after.share,
            "before_count": change.before.of,
            "after_count": change.after.of,
            "least_count": LEAST_JUDGED,
        },
    )


def _angle(
    before: PhaseLeg | None, after: PhaseLeg | None, name: str, values: Mapping[str, Any],
    smallest: Mapping[str, float],
) -> list[Claim]:  # fmt: skip
    least = smallest.get("shank_deg")
    if before is None or after is None or least is None:
        return []
    if before.median_deg is None or after.median_deg is None:
        return []
    change = after.median_deg - before.median_deg
    told = {
        **values, "before_deg": before.median_deg, "after_deg": after.median_deg,
        "least_deg": least,
    }  # fmt: skip
    if abs(change) < least:
        return [Claim("not known", f"claim_angle_{name}_unsure", told)]
    if change < 0.0:
        return [Claim("improved", f"claim_angle_{name}_less", told)]
    return [Claim("not improved", f"claim_angle_{name}_more", told)]


def _cues(findings: SessionFindings) -> list[Claim]:
    effect = findings.effect
    if effect is None:
        return []
    shank = effect.shank_deg
    if shank is None:
        few = {
            "cued_count": effect.cued, "withheld_count": effect.withheld, "least_count": LEAST_EACH
        }  # fmt: skip
        return [Claim("not known", "claim_cue_few", few)]
    told = {"by_deg": abs(shank.difference), "low_sdeg": shank.low, "high_sdeg": shank.high}
    if shank.high < 0.0:
        return [Claim("improved", "claim_cue_less", told)]
    if shank.low > 0.0:
        return [Claim("not improved", "claim_cue_more", told)]
    return [Claim("not known", "claim_cue_unsure", told)]
