"""What a part of a page holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from station.keep.report.picture import Picture
from station.keep.report.say import Say

Titled = tuple[str, Picture]


@dataclass(frozen=True, slots=True)
class Section:
    """One part of a page."""

    title: str
    lead: str
    """What is to be known before looking."""
    pictures: tuple[Titled, ...] = ()
    """Each with its own small title; empty title: none."""
    legend: tuple[tuple[str, str], ...] = ()
    """Mark and word."""
    lines: tuple[str, ...] = ()
    empty: str = ""
    """Why there is nothing to see; empty: there is."""


def legend_of(
    pictures: Iterable[Titled], marks: Iterable[tuple[str, str]], say: Say
) -> tuple[tuple[str, str], ...]:
    """Return the legend of a part: what is drawn in one of its pictures, and nothing else.

    Args:
        pictures: Of the part.
        marks: All that may be drawn, in order, each with the key of its word.
        say: Writes the words.
    """
    drawn = frozenset[str]().union(*(picture.marks for _, picture in pictures))
    return tuple((mark, say(key)) for mark, key in marks if mark in drawn)
