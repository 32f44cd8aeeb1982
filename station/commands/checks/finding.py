"""What one check found, and the table of all."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from station.errors import BadInput, DeviceTrouble, StationError

Verdict = Literal["well", "look", "fault", "unchecked"]
"""`look`: a session runs, but not as well as it could. `unchecked`: nobody can tell."""
Tell = Callable[[str], None]
"""Says what is being done, while it is done."""

_SIGNS: dict[Verdict, tuple[str, str, str]] = {
    "well": ("✓", "+", "well"),
    "look": ("!", "!", "look at it"),
    "fault": ("✗", "x", "fault"),
    "unchecked": ("-", "-", "not checked"),
}
OURS = 1
"""Exit code where a check itself failed: it outweighs all others, for nothing is known then."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of the table."""

    what: str
    found: str
    verdict: Verdict = "well"
    remedy: str = ""
    """What to do."""
    exit_code: int = 0
    """Of a fault."""


def device_fault(what: str, found: str, remedy: str) -> Finding:
    """Return the finding of a device that is missing, busy or of no use."""
    return Finding(what, found, "fault", remedy, DeviceTrouble.exit_code)


def trouble_found(what: str, trouble: StationError) -> Finding:
    """Return the finding that an error of ours stands for; its own text names the remedy."""
    return Finding(what, str(trouble), "fault", "as said beside", trouble.exit_code)


def guarded(
    what: str, check: Callable[[], list[Finding]], show_trace: Callable[[Exception], None]
) -> list[Finding]:
    """Run one check; whatever it meets becomes a finding, so that the others still run.

    Args:
        what: Names it where it fails.
        check: Returns its findings.
        show_trace: Told of a fault of the station's own.
    """
    try:
        return check()
    except StationError as trouble:
        return [trouble_found(what, trouble)]
    except Exception as fault:
        show_trace(fault)
        said = f"{type(fault).__name__}: {fault}".splitlines()[0]
        return [
            Finding(
                what, f"the check itself failed ({said})", "fault",
                "a fault of the station: run `station --debug check` and report it", OURS,
            )
        ]  # fmt: skip


def exit_code(findings: Iterable[Finding]) -> int:
    """Return the command's exit code: 1 before 3 before 2 before 0."""
    codes = {finding.exit_code for finding in findings}
    order = (OURS, DeviceTrouble.exit_code, BadInput.exit_code)
    return next((code for code in order if code in codes), 0)


def table(findings: Iterable[Finding], console: Console) -> Table:
    """Build the table; where the output knows plain letters only, so are its signs."""
    plain = console.options.ascii_only
    made = Table(title="What was found", title_justify="left", show_lines=True)
    for head in ("what", "found", "verdict", "what to do"):
        made.add_column(head, no_wrap=head == "verdict", overflow="fold")
    for finding in findings:
        sign, plain_sign, word = _SIGNS[finding.verdict]
        verdict = f"{plain_sign if plain else sign} {word}"
        made.add_row(escape(finding.what), escape(finding.found), verdict, escape(finding.remedy))
    return made
