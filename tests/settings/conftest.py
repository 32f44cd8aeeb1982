"""Plan files written for one test."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from station.errors import BadInput
from station.settings import read_plan
from station.values import Bay


@pytest.fixture
def plan_file(tmp_path: Path) -> Callable[..., Path]:
    def write(text: str | bytes, name: str = "plan.toml") -> Path:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


@pytest.fixture
def mistakes(plan_file: Callable[..., Path]) -> Callable[..., tuple[str, ...]]:
    """Return the mistakes of a plan, told of the right file; none: the plan can be read."""

    def read(text: str, bay: Bay | None = None) -> tuple[str, ...]:
        path = plan_file(text)
        try:
            read_plan(path, bay)
        except BadInput as fault:
            caught = fault
        else:
            return ()
        assert str(caught).startswith(f"{path}: ")
        return caught.mistakes

    return read
