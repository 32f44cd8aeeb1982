"""Sessions in which something is missing: each report is right, and says what is missing."""

from __future__ import annotations

import html
import re
from pathlib import Path
from typing import Any

import pytest
from report_rows import ON, drill_told, steps_of, write_folder

from station.keep.report.claims import session_claims
from station.keep.report.findings import session_findings
from station.keep.report.from_folder import read_folder
from station.keep.report.say import Say
from station.keep.report.session_page import session_page
from station.keep.report.still import still_of
from station.settings.smallest_change import smallest_sizes
from station.settings.words import read_words

WORDS = read_words("en")


def told(
    path: Path, consent: bool = False, language: str = "en"
) -> tuple[str, dict[str, list[str]]]:
    """Return the page's text, and the keys of its claims by kind."""
    facts = read_folder(path, lambda code: consent)
    findings = session_findings(facts)
    words = WORDS if language == "en" else read_words(language)
    page = session_page(findings, smallest_sizes(), Say(words), still_of(facts))
    kinds: dict[str, list[str]] = {"improved": [], "not improved": [], "not known": []}
    for claim in session_claims(findings, smallest_sizes()):
        kinds[claim.kind].append(claim.key)
    return text_of(page), kinds


def text_of(page: str) -> str:
    body = re.sub(r"<style>.*?</style>|<svg.*?</svg>", " ", page, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


def two_drills(later_deg: float, **sides: Any) -> tuple[list[Any], list[dict[str, Any]]]:
    rows = steps_of("Alone", 120, 8.5, **sides) + steps_of("Beat", 120, later_deg, 50.0, **sides)
    drills = [drill_told("Alone", 0.0, 45.0), drill_told("Beat", 50.0, 95.0, channels=ON)]
    return rows, drills


def test_no_baseline_and_no_drill_left_alone(tmp_path: Path) -> None:
    limit = {"deg": 8.0, "origin": "fallback"}
    drill = drill_told("Beat", 0.0, 45.0, channels=ON, limits={"left": limit, "right": limit})
    text, kinds = told(write_folder(tmp_path / "s", steps_of("Beat", 120), [drill]))
    assert kinds["improved"] == kinds["not improved"] == []
    assert {"claim_no_before", "claim_no_after", "claim_usual_limit"} <= set(kinds["not known"])
    assert "There was no baseline for Beat" in text
    assert "8.0° (usual)" in text


def test_only_one_leg_was_seen(tmp_path: Path) -> None:
    rows, drills = two_drills(5.0, sides=("left",))
    text, kinds = told(write_folder(tmp_path / "s", rows, drills))
    assert kinds["improved"] == ["claim_with_rose"]
    assert "claim_leg_missing" in kinds["not known"]
    assert "Not one step of the right leg was measured" in text
    assert "While feedback was on, the left foot landed at or under its limit more often" in text


def test_nothing_is_concluded_from_the_far_leg(tmp_path: Path) -> None:
    rows, drills = two_drills(2.0, sides=("right",), near=())
    text, kinds = told(write_folder(tmp_path / "s", rows, drills))
    assert kinds["improved"] == kinds["not improved"] == []
    assert "claim_far" in kinds["not known"]
    assert "right leg, the far one" in text


def test_five_steps(tmp_path: Path) -> None:
    drills = [drill_told("Beat", 0.0, 5.0, channels=ON)]
    text, kinds = told(write_folder(tmp_path / "s", steps_of("Beat", 5), drills))
    assert kinds["improved"] == kinds["not improved"] == []
    assert "Drills: 1. Steps: 5." in text
    assert "±" not in text  # no median of so few


def test_not_one_step(tmp_path: Path) -> None:
    text, kinds = told(write_folder(tmp_path / "s", [], [], ended="nobody in view"))
    assert kinds == {"improved": [], "not improved": [], "not known": ["claim_no_steps"]}
    assert "not one step was measured" in text


def test_a_session_broken_off(tmp_path: Path) -> None:
    rows, drills = two_drills(5.0)
    drills[1] |= {"ended_s": None, "why": None}
    folder = write_folder(tmp_path / "s", rows, drills, ended="running")
    with (folder / "steps.csv").open("a") as file:
        file.write("241,Beat,left")  # the machine stopped here
    text, kinds = told(folder)
    assert "claim_with_rose" in kinds["improved"]
    assert "broken off: there is no end on record" in text
    assert "Entries lost: 1" in text
    assert "The session was broken off" in text


def test_no_film_is_opened_without_consent(tmp_path: Path) -> None:
    rows, drills = two_drills(5.0)
    folder = write_folder(tmp_path / "s", rows, drills, film={"first_picture_s": 0.0})
    assert "no film of this session was kept" in told(folder)[0]
    (folder / "screen.mp4").write_bytes(b"no film at all")
    assert "consent to films is not on record" in told(folder)[0]
    assert "the film could not be read" in told(folder, consent=True)[0]


def test_a_drill_whose_feedback_is_not_on_record_is_compared_with_nothing(tmp_path: Path) -> None:
    rows, drills = two_drills(5.0)
    for drill in drills:
        del drill["channels"]
    text, kinds = told(write_folder(tmp_path / "s", rows, drills))
    assert kinds["improved"] == kinds["not improved"] == []
    assert "Which feedback Alone, Beat had is not on record" in text


def test_nothing_is_compared_across_inclines_or_belt_speeds(tmp_path: Path) -> None:
    for more in ({"incline_percent": 4.0}, {"belt_speed_mps": 3.1}, {"incline_percent": None}):
        rows, drills = two_drills(2.0)
        drills[1] |= more
        _, kinds = told(write_folder(tmp_path / str(more), rows, drills))
        assert kinds["improved"] == kinds["not improved"] == []


def test_a_change_of_angle_is_told_from_the_smallest_detectable_one_on(tmp_path: Path) -> None:
    least = smallest_sizes()["shank_deg"]
    cases = [
        (-least - 0.05, "improved"), (-least + 0.05, "not known"), (least + 0.05, "not improved")
    ]  # fmt: skip
    for by, kind in cases:
        rows, drills = two_drills(8.5 + by)
        _, kinds = told(write_folder(tmp_path / f"s{by}", rows, drills))
        assert [k for k in kinds[kind] if k.startswith("claim_angle")], by


@pytest.mark.parametrize(
    ("after_spm", "kind", "key"),
    [
        (165.0, "not improved", "claim_rate_back"),
        (170.0, "improved", "claim_rate_stayed"),
        (160.0, "not improved", "claim_rate_back"),
        (175.5, "improved", "claim_rate_stayed"),
    ],
)
def test_a_step_rate_that_went_back_is_told_and_so_is_one_that_stayed(
    tmp_path: Path, after_spm: float, kind: str, key: str
) -> None:
    rows, drills = three_drills(165.0, 176.0, after_spm)
    _, kinds = told(write_folder(tmp_path / "s", rows, drills))
    assert [k for k in kinds[kind] if k.startswith("claim_rate")] == [key]
    assert sum(k.startswith("claim_rate") for keys in kinds.values() for k in keys) == 1


def test_of_a_step_rate_that_nobody_followed_or_asked_for_it_is_not_said_what_became(
    tmp_path: Path,
) -> None:
    for n, (rates, asked, claims) in enumerate([
        ((165.0, 165.5, 165.0), 176.0, ["claim_rate_not_held"]),
        ((165.0, 176.0, 165.0), None, []),
    ]):  # fmt: skip
        rows, drills = three_drills(*rates, asked_spm=asked)
        text, kinds = told(write_folder(tmp_path / str(n), rows, drills))
        assert [k for k in kinds["not improved"] if k.startswith("claim_rate")] == claims
        assert sum(k.startswith("claim_rate") for keys in kinds.values() for k in keys) == n ^ 1
        assert ("asked for was not held: \u201cBeat\u201d, 166 a minute" in text) is bool(claims)


def three_drills(
    before_spm: float, with_spm: float, after_spm: float, asked_spm: float | None = 176.0
) -> tuple[list[Any], list[dict[str, Any]]]:
    rows = [
        *steps_of("Alone", 100, 8.5, each_s=60.0 / before_spm),
        *steps_of("Beat", 100, 5.5, 50.0, each_s=60.0 / with_spm),
        *steps_of("End", 100, 5.5, 100.0, each_s=60.0 / after_spm),
    ]
    drills = [
        drill_told("Alone", 0.0, 45.0),
        drill_told("Beat", 50.0, 95.0, channels=ON, target_spm=asked_spm),
        drill_told("End", 100.0, 145.0),
    ]
    return rows, drills


def test_more_under_the_limit_beside_an_angle_not_known_is_explained(tmp_path: Path) -> None:
    rows, drills = two_drills(6.0)
    text, kinds = told(write_folder(tmp_path / "a", rows, drills))
    assert "claim_with_rose" in kinds["improved"]
    after = kinds["not known"].index("claim_angle_with_unsure")
    assert kinds["not known"][after + 1] == "claim_close"
    assert "Both can be true" in text
    rows, drills = two_drills(8.5 - smallest_sizes()["shank_deg"] - 0.1)
    assert "claim_close" not in told(write_folder(tmp_path / "b", rows, drills))[1]["not known"]
    rows, drills = two_drills(8.4)
    assert "claim_close" not in told(write_folder(tmp_path / "c", rows, drills))[1]["not known"]


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_word_is_there(tmp_path: Path, language: str) -> None:
    rows, drills = two_drills(5.0)
    felt = {"good_of_ten": 7, "share_within": 0.6, "judged": 12, "gap": 0.1, "note": "few"}
    drills[1]["felt"] = felt
    visit = {
        "soreness": "settled",
        "pain_before": {"score": 1, "where": "calf", "kinds": ["sharp"]},
    }
    folder = write_folder(tmp_path / "s", rows, drills, visit=visit, notices=["<b>a notice</b>"])
    text, _ = told(folder, language=language)
    assert "{" not in text
    assert "<b>a notice</b>" in text  # as text, not as an element
    keys = {key.replace("_", " ") for key in read_words(language).report} - {"not held", "in short"}
    assert not keys & set(re.findall(r"\b[a-z]+ [a-z]+\b", text))
