"""How a report looks: contrast, pictures that can stand in one page, nothing from outside."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest
from report_rows import ON, drill_told, steps_of, write_folder

from station.keep.report import look
from station.keep.report.findings import session_findings
from station.keep.report.from_folder import read_folder
from station.keep.report.page import write_page
from station.keep.report.say import Say
from station.keep.report.session_page import session_page
from station.keep.report.still import still_of
from station.settings.smallest_change import smallest_sizes
from station.settings.words import read_words

SAY = Say(read_words("en"))
# Machado, Oliveira and Fernandes 2009, IEEE TVCG 15:1291-1298, severity 1 (from memory).
SIGHTS = {
    "protan": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
               [-0.003882, -0.048116, 1.051998]],
    "deutan": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
               [-0.011820, 0.042940, 0.968881]],
    "tritan": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
               [0.004733, 0.691367, 0.303900]],
}  # fmt: skip


@pytest.mark.parametrize("pair", look.TEXT_PAIRS)
def test_text_is_legible(pair: tuple[str, str]) -> None:
    """At least 4.5: WCAG 2.2, 1.4.3."""
    assert look.contrast(*pair) >= 4.5


@pytest.mark.parametrize("pair", look.MARK_PAIRS)
def test_marks_stand_out(pair: tuple[str, str]) -> None:
    """At least 3: WCAG 2.2, 1.4.11."""
    assert look.contrast(*pair) >= 3.0


@pytest.mark.parametrize("sight", SIGHTS)
def test_within_and_ahead_stay_apart_under_colour_blindness(sight: str) -> None:
    """Their hues stay far from each other; besides, they are round and pointed."""

    def seen(colour: str) -> np.ndarray:
        rgb = np.array([int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]) ** 2.2
        return np.clip(np.array(SIGHTS[sight]) @ rgb, 0.0, 1.0) ** (1 / 2.2)

    assert np.linalg.norm(seen(look.WITHIN) - seen(look.AHEAD)) > 0.3


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("look") / "s"
    rows = steps_of("<b>Alone</b> & more", 60, 8.0) + steps_of("Beat", 60, 6.0, 30.0)
    drills = [
        drill_told("<b>Alone</b> & more", 0.0, 25.0),
        drill_told("Beat", 30.0, 55.0, channels=ON, target_spm=172.0,
                   beat={"steps": 60, "concentration": 0.9, "mean_offset_s": -0.02,
                         "share_locked": 0.8},
                   felt={"good_of_ten": 7, "share_within": 0.6, "judged": 60, "gap": 0.1}),
    ]  # fmt: skip
    return write_folder(path, rows, drills)


def test_the_pictures_of_a_page_do_not_get_in_each_other_s_way(folder: Path, drawn: None) -> None:
    facts = read_folder(folder, lambda code: False)
    page = session_page(session_findings(facts), smallest_sizes(), SAY, still_of(facts))
    pictures = [p for p in re.findall(r"<svg.*?</svg>", page, re.S) if 'class="mark"' not in p]
    assert len(pictures) == 9  # of every kind but the cue's
    names = re.findall(r'\bid="([^"]+)"', page)
    assert len(names) == len(set(names))
    for picture in pictures:
        ElementTree.fromstring(picture)
        links = re.findall(r'(?:xlink:href="|url\()#([^")]+)', picture)
        assert set(links) <= set(re.findall(r'\bid="([^"]+)"', picture))
        assert "<text" in picture  # to be read, found and copied
    assert "<b>Alone" not in page
    assert page.count('role="img"') >= len(pictures)
    assert re.findall(r'(?:src|href)="(?!data:|#)[^"]*"', page) == []


def test_a_page_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    write_page(tmp_path / "new" / "a.html", "<html>")
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["a.html"]
