"""Runners' codes: a name of nobody."""

from __future__ import annotations

import re

from station.errors import BadInput

CODE = re.compile(r"[A-Z0-9-]{1,16}")
CODE_HELP = "allowed are 1 to 16 characters of A-Z, 0-9 and -; a code, not a name"


def check_runner(code: str | None) -> str | None:
    """Return a runner's code as the option `--runner` gives it; raise BadInput where it is none."""
    if code is None or CODE.fullmatch(code):
        return code
    raise BadInput(f"--runner {code!r}: {CODE_HELP}")


def check_code(code: str) -> str:
    """Return a runner's code as an argument; raise BadInput where it is none."""
    if CODE.fullmatch(code):
        return code
    raise BadInput(f"{code!r}: {CODE_HELP}")
