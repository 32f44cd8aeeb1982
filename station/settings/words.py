"""Reads the words of one language into `Words`."""

from __future__ import annotations

import string
from types import MappingProxyType

from pydantic import Field

from station.coach.words import Words
from station.errors import BadInput
from station.settings.resources import find, names
from station.settings.toml_file import Table, mistakes, read_table

WORDS_FOLDER = "config/words"
_SECTION = 'a table of key = "text" lines'


class WordsTable(Table):
    """The whole file."""

    sentences: dict[str, str] = Field(description=_SECTION)
    labels: dict[str, str] = Field(description=_SECTION)
    troubles: dict[str, str] = Field(description=_SECTION)
    visit: dict[str, str] = Field(default_factory=dict, description=_SECTION)
    report: dict[str, str] = Field(default_factory=dict, description=_SECTION)
    setup: dict[str, str] = Field(default_factory=dict, description=_SECTION)
    page: dict[str, str] = Field(default_factory=dict, description=_SECTION)


def read_words(language: str = "en") -> Words:
    """Read the shipped words of a language.

    Args:
        language: A code, such as "en"; the name of a file in `config/words`.

    Returns:
        All words of the screen, by section and key.

    Raises:
        BadInput: There are no words in this language, or the file holds mistakes.
    """
    path = find(f"{WORDS_FOLDER}/{language}.toml") if "/" not in language else None
    if path is None or not path.is_file():
        known = ", ".join(names(WORDS_FOLDER)) or "none"
        raise BadInput(f'[screen] language = "{language}": no such words; allowed: {known}')
    table = read_table(path, WordsTable)
    lines = []
    sections = {
        "sentences": table.sentences,
        "labels": table.labels,
        "troubles": table.troubles,
        "visit": table.visit,
        "report": table.report,
        "setup": table.setup,
        "page": table.page,
    }
    for section, entries in sections.items():
        for key, text in entries.items():
            fault = _fault(text)
            if fault:
                lines.append(f'[{section}] {key} = "{text}": {fault}')
    if lines:
        raise mistakes(path, lines)
    return Words(language, *(MappingProxyType(dict(entries)) for entries in sections.values()))


def _fault(text: str) -> str | None:
    if not text.strip():
        return "allowed: a text that is not empty"
    try:
        fields = [name for _, name, _, _ in string.Formatter().parse(text) if name is not None]
    except ValueError as fault:
        return f"{fault}; allowed: fields in braces such as {{seconds}}"
    if not all(name.isidentifier() for name in fields):
        return "allowed: fields in braces by name, such as {seconds}"
    return None
