"""Renders a page: one file with everything in it, no script, nothing from outside."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from station import __version__
from station.errors import BadInput
from station.keep.records_place import open_owned
from station.keep.report import look
from station.keep.report.say import Say

GENERATOR = "landing-station report"
"""What a report says of itself: only a report is ever replaced by another."""


def render(template: str, say: Say, **values: Any) -> str:
    """Return a page as HTML.

    Args:
        template: Name of its file in `templates`.
        say: Writes its words; templates call it as `t`.
        values: What it shows; every text is escaped.
    """
    environment = Environment(
        loader=PackageLoader("station.keep.report", "templates"),
        autoescape=select_autoescape(("j2",), default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["svg"] = Markup  # drawn by us: its texts are escaped by the drawing
    return environment.get_template(template).render(
        t=say, language=say.language, look=look, generator=GENERATOR, version=__version__, **values
    )


def write_page(path: Path, text: str) -> None:
    """Write a report, for the owner's eyes alone; an earlier report in its place is replaced.

    Raises:
        BadInput: The place cannot be written, or holds something else.
    """
    try:
        if path.is_dir():
            raise BadInput(f"--out {path}: this is a folder; name a file")
        if path.exists() and GENERATOR not in _start(path):
            raise BadInput(f"--out {path}: is there already and no report; name another file")
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_name(f".{path.name}.{os.getpid()}")
        try:
            flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL
            with (
                open_owned(beside, flags) as descriptor,
                os.fdopen(os.dup(descriptor), "w", encoding="utf-8") as file,
            ):
                file.write(text)
            os.replace(beside, path)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as fault:
        raise BadInput(
            f"--out {path}: cannot be written ({fault.strerror or fault}); name another file"
        ) from fault


def _start(path: Path) -> str:
    with path.open("rb") as file:
        return file.read(2000).decode("utf-8", errors="replace")
