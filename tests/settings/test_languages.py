"""Every language of the station says the same: the same keys, each with the same {fields}."""

from __future__ import annotations

import ast
import string
from pathlib import Path

import pytest

from station.settings import read_words
from station.settings.resources import names

LANGUAGES = names("config/words")
SECTIONS = ("sentences", "labels", "troubles", "visit", "report", "setup", "page")


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_there_is_a_second_language():
    assert {"de", "en"} <= set(LANGUAGES)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("section", SECTIONS)
def test_each_language_has_the_same_keys_in_the_same_order(language, section):
    english, other = (list(getattr(read_words(one), section)) for one in ("en", language))
    assert sorted(other) == sorted(english)
    assert other == english  # the same order, so that the files can be laid side by side


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("section", SECTIONS)
def test_each_text_has_the_same_fields(language, section):
    english, other = (getattr(read_words(one), section) for one in ("en", language))
    assert {key: fields(text) for key, text in other.items()} == {
        key: fields(text) for key, text in english.items()
    }


@pytest.mark.parametrize("language", [one for one in LANGUAGES if one != "en"])
def test_nothing_is_left_in_english(language):
    """A label may be the same in both; a sentence is not."""
    english, other = read_words("en"), read_words(language)
    same = [k for k, text in other.sentences.items() if text == english.sentences[k]]
    same += [k for k, text in other.troubles.items() if text == english.troubles[k]]
    assert same == []


def test_what_a_device_says_has_words_for_just_its_values():
    troubles, found = read_words("en").troubles, 0
    for path in (Path(__file__).parents[2] / "station").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)) if "Worded(" in text else ():
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Worded":
                key, given = node.args[1], {one.arg for one in node.keywords}
                if isinstance(key, ast.Constant):
                    assert fields(troubles[key.value]) <= given, key.value
                    found += 1
    assert found > 15
    for key in ("camera_absent", "camera_barred", "camera_refuses"):  # chosen by a variable
        assert fields(troubles[key]) == {"name", "listing"}
