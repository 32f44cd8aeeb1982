"""Notices of the measurement: in words, on the screen while they last, kept for the record."""

from __future__ import annotations

import re
import string
from pathlib import Path

import station.measure
from station.live.notices import NoticeBoard
from station.settings.words import read_words
from station.values import Notice

OFF = Notice("belt_slower", (("percent", "9"),))
SMALL = Notice("too_small", (("degrees", "1.6"),))


def test_a_notice_is_shown_while_it_lasts_and_kept_once() -> None:
    board = NoticeBoard(read_words("en"))
    board.take(())
    assert board.now == board.kept == ()
    board.take((OFF,))
    board.take((OFF, SMALL))
    assert len(board.now) == 2
    assert "9 % slower" in board.now[0]
    board.take((Notice("belt_slower", (("percent", "10"),)),))
    assert len(board.now) == 1
    board.take(())
    assert board.now == ()
    assert len(board.kept) == 2
    assert "10 % slower" in board.kept[0]
    assert "1.6 deg" in board.kept[1]


def test_without_words_the_key_is_shown() -> None:
    board = NoticeBoard()
    board.take((SMALL,))
    assert board.now == ("too small",)


def test_every_notice_of_the_view_checks_has_words_with_just_its_numbers() -> None:
    """Read key and names of the numbers from the code itself, so that none is forgotten."""
    source = (Path(station.measure.__file__).parent / "view_checks.py").read_text()
    words = read_words("en")
    keys = set(re.findall(r'"((?:belt|not|too|frame|faces)_\w+)"', source))
    assert len(keys) >= 6
    for key in keys:
        text = words.troubles[key]
        fields = {name for _, name, _, _ in string.Formatter().parse(text) if name}
        assert fields, f"{key} names no effect"
        assert all(f"{name}=" in source for name in fields)
