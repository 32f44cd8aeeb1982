"""Says by whose limit each drill was judged, and why it differs from one drill to the next."""

from __future__ import annotations

from collections.abc import Iterable

from station.keep.report.findings import SessionFindings
from station.keep.report.say import Say
from station.values import Side


def limits_told(findings: SessionFindings, sides: Iterable[Side], say: Say) -> list[str]:
    """Return a sentence for each leg: which limit, whose it is, in which drills.

    Args:
        findings: The session.
        sides: The legs that are shown.
        say: Writes the words; drills are named by their numbers in the report.
    """
    lines = []
    for side in sides:
        told: dict[tuple[str, str, bool], list[int]] = {}
        for number, drill in enumerate(findings.running, start=1):
            limit = drill.leg(side).limit
            if limit is not None:
                moved = bool(drill.facts.limit_by_deg)
                key = (say.degrees(limit.deg), limit.origin, moved)
                told.setdefault(key, []).append(number)
        cases = [
            say(f"limit_{origin}", limit=limit, drills=ranges(numbers))
            + (say("limit_moved") if moved else "")
            for (limit, origin, moved), numbers in told.items()
        ]
        if cases:
            lines.append(say("limit_line", side=side, cases="; ".join(cases)))
    return lines


def ranges(numbers: Iterable[int]) -> str:
    """Write rising numbers, those that follow each other as from and to."""
    found: list[list[int]] = []
    for number in numbers:
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    return ", ".join(str(a) if a == b else f"{a}\u2013{b}" for a, b in found)
