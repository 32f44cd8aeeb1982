"""Reads `plan.toml` into a `Plan`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import Field

from station.coach.plan import Plan, Programme
from station.errors import BadInput
from station.settings.drill_table import DrillTable
from station.settings.plan_faults import plan_faults
from station.settings.plan_limits import check_plan_against_bay, limit_faults
from station.settings.plan_values import NAME_HELP, Name
from station.settings.resources import Traversable
from station.settings.toml_file import Table, is_number, mistakes, parse, read_table, read_text
from station.values import Bay

__all__ = ["read_plan"]

_DRILL = re.compile(r"drill (\d+)\b")
_PROGRAMME_HELP = 'a table such as { name = "Eight visits", visit = 3, of = 8 }'
_VISIT_HELP = "a whole number from 1 to 100"


class ProgrammeTable(Table):
    """`programme`: which visit of which programme the plan is."""

    name: Name = Field(description=NAME_HELP + ", the same in all plans of the programme")
    visit: int = Field(ge=1, le=100, description=_VISIT_HELP)
    of: int = Field(ge=1, le=100, description=_VISIT_HELP)

    @classmethod
    def faults(cls, raw: Mapping[str, Any]) -> list[str]:
        """Check what belongs together."""
        visit, of = raw.get("visit"), raw.get("of")
        if is_number(visit) and is_number(of) and visit > of >= 1:
            return [f"visit = {visit:g} with of = {of:g}; allowed: visit from 1 to of"]
        return []


class PlanTable(Table):
    """The whole file."""

    name: Name = Field(description=NAME_HELP)
    programme: ProgrammeTable | None = Field(default=None, description=_PROGRAMME_HELP)
    drill: list[DrillTable] = Field(
        min_length=1, max_length=100, description="1 to 100 [[drill]] tables (double brackets)"
    )

    @classmethod
    def faults(cls, raw: Mapping[str, Any]) -> list[str]:
        """Check the drills against each other."""
        return plan_faults(raw)

    def value(self) -> Plan:
        """Return the frozen plan."""
        drills = tuple(drill.value(n) for n, drill in enumerate(self.drill, start=1))
        visit = self.programme
        part = None if visit is None else Programme(visit.name, visit.visit, visit.of)
        return Plan(self.name, drills, part)


def read_plan(path: Path | Traversable, bay: Bay | None = None) -> Plan:
    """Read a drill plan.

    Args:
        path: A `plan.toml`, or a shipped one from `station.settings.resources`.
        bay: Where it is to be run: its limits are checked, too; None: they are not.

    Returns:
        The plan, every drill with a name.

    Raises:
        BadInput: The file cannot be read, or holds mistakes, or asks for more than the bay allows:
            all are told at once.
    """
    try:
        plan = read_table(path, PlanTable).value()
    except BadInput as fault:
        if _is_bay(path):
            raise BadInput(
                f"{path} looks like a bay profile ([camera], [view] ...), not a drill plan; "
                "give it as --bay, and a plan holds [[drill]] tables"
            ) from fault
        if not fault.mistakes:
            raise
        beyond = limit_faults(parse(read_text(path), path), bay) if bay else []
        lines = sorted([*fault.mistakes, *beyond], key=_drill_number)  # a drill's stay together
        raise mistakes(path, lines) from None
    if bay is not None:
        check_plan_against_bay(plan, bay, path)
    return plan


def _drill_number(line: str) -> int:
    """Return the number of the drill that a mistake is in; 0: of the whole file."""
    match = _DRILL.match(line)
    return int(match[1]) if match else 0


def _is_bay(path: Path | Traversable) -> bool:
    """Whether a file that is no plan has a bay's tables and no drill."""
    try:
        text = path.read_bytes().decode("utf-8", "replace")
    except (OSError, ValueError):
        return False
    lines = {line.strip() for line in text.splitlines()}
    return "[[drill]]" not in lines and bool({"[camera]", "[view]", "[sound]"} & lines)
