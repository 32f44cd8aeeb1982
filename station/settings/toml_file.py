"""One way to read a TOML file that a person wrote, and to tell them all its mistakes at once.

A model's field carries what is allowed as its `description`; the mistakes of pydantic are turned
into lines of place, value and what is allowed. No mistake of a file's author ends in a traceback.
"""

from __future__ import annotations

import difflib
import json
import re
import sys
from collections.abc import Mapping
from math import isfinite
from pathlib import Path
from typing import Any, ClassVar, TypeGuard, TypeVar, get_args

from pydantic import (
    BaseModel,
    ConfigDict,
    ModelWrapValidatorHandler,
    ValidationError,
    model_validator,
)
from pydantic_core import ErrorDetails, InitErrorDetails, PydanticCustomError

from station.errors import BadInput
from station.settings.resources import Traversable

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

Model = TypeVar("Model", bound="Table")
MOST_BYTES = 1_000_000
"""A settings file is never larger; a larger one is something else."""


class Table(BaseModel):
    """A TOML table: strict types, no unknown keys, numbers finite."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, frozen=True)

    other_names: ClassVar[Mapping[str, str]] = {}
    """Keys that people write for one of ours, and which one they mean."""

    @classmethod
    def faults(cls, raw: Mapping[str, Any]) -> list[str]:
        """Check what belongs together, on the table as written.

        Args:
            raw: Values of any type: a wrong one is told with its own key, so pass it by.

        Returns:
            One line for each mistake: key, value, what is allowed.
        """
        return []

    @model_validator(mode="wrap")
    @classmethod
    def _all_at_once(cls, raw: Any, handler: ModelWrapValidatorHandler[Any]) -> Any:
        """Tell the mistakes of single keys and of keys together in one go."""
        ours = [
            InitErrorDetails(type=PydanticCustomError("told", "{told}", {"told": text}), input=raw)
            for text in (cls.faults(raw) if isinstance(raw, Mapping) else ())
        ]
        try:
            made = handler(raw)
        except ValidationError as fault:
            if not ours:
                raise
            theirs = [_again(error) for error in fault.errors(include_url=False)]
            raise ValidationError.from_exception_data(cls.__name__, [*theirs, *ours]) from None
        if ours:
            raise ValidationError.from_exception_data(cls.__name__, ours)
        return made


def _again(error: ErrorDetails) -> InitErrorDetails:
    """Return a reported mistake in the form that it can be raised in."""
    kind: str | PydanticCustomError = error["type"]
    if error["type"].startswith("told"):
        kind = PydanticCustomError("told_value", "{told}", {"told": error["msg"]})
        if error["type"] == "told":
            kind = PydanticCustomError("told", "{told}", {"told": error["msg"]})
    return InitErrorDetails(
        type=kind, loc=error["loc"], input=error["input"], ctx=error.get("ctx", {})
    )


def is_number(value: object) -> TypeGuard[float]:
    """Return whether a TOML value is a finite number."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and isfinite(value)


def read_table(path: Path | Traversable, model: type[Model]) -> Model:
    """Read and validate one TOML file.

    Args:
        path: The file; UTF-8 text.
        model: What it must hold.

    Returns:
        The validated model.

    Raises:
        BadInput: The file is missing, a folder, unreadable, empty, not UTF-8 or not TOML; or it
            holds mistakes: then `mistakes` has one line for each.
    """
    document = parse(read_text(path), path)
    try:
        return model.model_validate(document)
    except ValidationError as fault:
        lines = [describe(error, document, model) for error in fault.errors(include_url=False)]
        raise BadInput(_heading(path, len(lines)), lines) from None


def mistakes(path: Path | Traversable, lines: list[str]) -> BadInput:
    """Build the error for a file whose mistakes were found after validation."""
    return BadInput(_heading(path, len(lines)), lines)


def _heading(path: Path | Traversable, count: int) -> str:
    return f"{path}: {count} {'mistake' if count == 1 else 'mistakes'}"


def read_text(path: Path | Traversable) -> str:
    """Return the text of a small UTF-8 file; raise BadInput where there is none."""
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise BadInput(f"{path}: there is no such file") from None
    except IsADirectoryError:
        raise BadInput(f"{path}: this is a folder; name a .toml file in it") from None
    except NotADirectoryError:
        raise BadInput(f"{path}: a part of this path is a file, not a folder") from None
    except OSError as fault:
        if isinstance(path, Path) and path.is_dir():  # Windows says "permission denied" of one
            raise BadInput(f"{path}: this is a folder; name a .toml file in it") from None
        raise BadInput(f"{path}: cannot be read ({fault.strerror or fault})") from None
    except ValueError as fault:  # a NUL in the path
        raise BadInput(f"{str(path)!r}: cannot be read ({fault})") from None
    if len(raw) > MOST_BYTES:
        raise BadInput(f"{path}: {len(raw)} bytes are too many for a TOML file of ours")
    try:
        text = raw.decode("utf-8-sig")  # an editor's byte order mark does no harm
    except UnicodeDecodeError as fault:
        raise BadInput(
            f"{path}: not UTF-8 text (byte {fault.start + 1}); save the file as UTF-8"
        ) from None
    if not text.strip():
        raise BadInput(f"{path}: the file is empty")
    return text


def parse(text: str, path: Path | Traversable) -> dict[str, Any]:
    """Return a TOML document; raise BadInput with line and column where it is none."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise BadInput(f"{path}: not valid TOML: {fault}{_line_of(str(fault), text)}") from None
    except RecursionError:
        raise BadInput(f"{path}: not valid TOML: nested too deeply") from None


def _line_of(fault: str, text: str) -> str:
    """Quote the line that the parser stopped at, with what is most often wrong there."""
    match = re.search(r"at line (\d+)", fault)
    lines = text.splitlines()
    if match is None or not 0 < int(match[1]) <= len(lines):
        return ""
    line = lines[int(match[1]) - 1].strip()
    told = f"\n  {line if len(line) <= 80 else line[:77] + '...'}"
    bare = re.fullmatch(r"[\w-]+\s*=\s*([^\"'#\[\]{}=]+?)\s*(#.*)?", line)
    if bare is None:
        return told
    return f'{told}\n  a text stands in quotes: "{bare[1]}"'


# --- from pydantic's mistakes to lines for a person ----------------------------------------------


def describe(error: ErrorDetails, document: Mapping[str, Any], model: type[BaseModel]) -> str:
    """Turn one mistake into a line: place, value, what is allowed.

    Args:
        error: As pydantic gives it.
        document: The document as parsed, to name its tables by.
        model: The model of the whole document, to look up what is allowed.
    """
    keys = list(error["loc"])
    owner, description, keys = _look_up(model, keys)
    place = _place(keys, document)
    kind, value = error["type"], error["input"]
    if kind == "missing":
        return f"{place} is missing; allowed: {description}"
    if kind == "extra_forbidden":
        return f"{place}: there is no such key{_nearest(str(keys[-1]), owner)}"
    if kind == "told":  # our own checks say all of it
        return f"{place}: {error['msg']}" if place else str(error["msg"])
    if kind == "told_value":
        return f"{place} = {short(value)}; {error['msg']}"
    return f"{place} = {short(value)}; allowed: {description or error['msg']}"


def _look_up(
    model: type[BaseModel], loc: list[int | str]
) -> tuple[type[BaseModel], str, list[int | str]]:
    """Follow a mistake's location through the models.

    Returns:
        The model that owns the last key, that key's description, and the location without
        pydantic's own marks (such as the branch of a union) after the last key of ours.
    """
    owner, inner, description = model, model, ""
    for i, key in enumerate(loc):
        if isinstance(key, int):
            continue
        owner = inner
        info = owner.model_fields.get(key)
        if info is None:
            return owner, "", loc[: i + 1]
        description = info.description or ""
        table = _table_in(info.annotation)
        if table is None:
            tail = loc[i + 1 :]
            numbers = [n for n in tail[: next_text(tail)] if isinstance(n, int)]
            return owner, description, [*loc[: i + 1], *numbers]
        inner = table
    return owner, description, loc


def next_text(keys: list[int | str]) -> int:
    """Return the index of the first text among keys, or how many there are."""
    return next((i for i, key in enumerate(keys) if isinstance(key, str)), len(keys))


def _table_in(annotation: Any) -> type[BaseModel] | None:
    """Return the table model within an annotation such as `list[T]` or `T | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((t for part in get_args(annotation) if (t := _table_in(part))), None)


def _place(keys: list[int | str], document: Mapping[str, Any]) -> str:
    """Write a location as a person would: `drill 2 "Steady": advance.share`."""
    tables: list[str] = []
    rest: list[str] = []
    node: Any = document
    for i, key in enumerate(keys):
        node = _into(node, key)
        if isinstance(key, int):
            if isinstance(node, Mapping):  # an entry of an array of tables
                name = node.get("name")
                label = f' "{name}"' if isinstance(name, str) and name else ""
                tables.append(f"{'.'.join(rest)} {key + 1}{label}")
                rest = []
            else:
                rest[-1:] = [f"{rest[-1] if rest else ''}[{key + 1}]"]
        elif i == 0 and isinstance(node, Mapping):
            tables.append(f"[{key}]")
        else:
            rest.append(str(key))
    head = " ".join(tables)
    tail = ".".join(rest)
    if head and tail:
        return f"{head}: {tail}" if not head.startswith("[") else f"{head} {tail}"
    return head or tail


def _into(node: Any, key: int | str) -> Any:
    if isinstance(node, Mapping):
        return node.get(key)
    if isinstance(node, list) and isinstance(key, int) and key < len(node):
        return node[key]
    return None


def _nearest(key: str, owner: type[BaseModel]) -> str:
    known = list(owner.model_fields)
    if issubclass(owner, Table) and key in owner.other_names:
        return f"; did you mean {owner.other_names[key]}?"
    near = difflib.get_close_matches(key, known, n=1, cutoff=0.6)
    hint = f"; did you mean {near[0]}?" if near else ""
    return f"{hint} (allowed: {', '.join(known)})" if not near else hint


def short(value: Any) -> str:
    """Write a value as TOML would, cut short; a table is called one."""
    if isinstance(value, Mapping):
        return "a table"
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "..."
