"""What a part of a page holds."""

from __future__ import annotations

from dataclasses import dataclass

from station.keep.report.picture import Picture


@dataclass(frozen=True, slots=True)
class Section:
    """One part of a page."""

    title: str
    lead: str
    """What is to be known before looking."""
    pictures: tuple[tuple[str, Picture], ...] = ()
    """Each with its own small title; empty title: none."""
    legend: tuple[tuple[str, str], ...] = ()
    """Mark and word."""
    lines: tuple[str, ...] = ()
    empty: str = ""
    """Why there is nothing to see; empty: there is."""
