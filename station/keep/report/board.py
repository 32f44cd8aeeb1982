"""Writes claims out as the three columns that every report begins with."""

from __future__ import annotations

from typing import Any

from station.keep.report.claims import KINDS, Claim
from station.keep.report.say import Say


def board(claims: tuple[Claim, ...], say: Say) -> list[dict[str, Any]]:
    """Return the three columns of sentences; one with none says so."""
    columns = []
    for kind in KINDS:
        lines = sentences([claim for claim in claims if claim.kind == kind], say)
        name = kind.replace(" ", "_")
        columns.append(
            {"name": name, "title": say(f"board_{name}"), "lines": lines or [say(f"none_{name}")]}
        )
    return columns


def sentences(claims: list[Claim], say: Say) -> list[str]:
    """Write the claims; those of one kind and leg that differ by belt setting share a sentence."""
    groups: dict[tuple[str, Any], list[Claim]] = {}
    for claim in claims:
        groups.setdefault((claim.key, claim.values.get("side")), []).append(claim)
    lines = []
    for (key, _), group in groups.items():
        cases = [_case(claim, say) for claim in group] if say.known(f"{key}_case") else []
        lines.append(say(key, **group[0].values, cases="; ".join(cases)))
    return lines


def _case(claim: Claim, say: Say) -> str:
    told = say(f"{claim.key}_case", **claim.values)
    shares = claim.values.get("shares")
    if shares is None:
        return told
    limit_deg, before, after = shares
    return f"{told}, " + say(
        "claim_shares", limit_deg=limit_deg, before_share=before, after_share=after
    )
