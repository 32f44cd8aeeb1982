"""What is said from visit to visit, and what is not."""

from __future__ import annotations

import re
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from report_rows import OFF, ON, drill_told, steps_of

from station.keep.report.facts import SessionFacts
from station.keep.report.from_store import read_visit
from station.keep.report.progress import channel_shares, progress_of
from station.keep.report.progress_claims import progress_claims
from station.keep.report.progress_page import progress_page
from station.keep.report.rows import into_drills
from station.keep.report.say import NONE, Say
from station.keep.store import Records, VisitStart, begin_visit, make_place
from station.settings.smallest_change import smallest_sizes
from station.settings.words import read_words

BEGAN = datetime(2026, 11, 2, 8, 0, tzinfo=timezone.utc)
LEAST = smallest_sizes()["shank_deg"]
ALL_OFF = {**OFF, "view": False}


def visit(day: int, alone_deg: float, coached_deg: float | None, **more: Any) -> SessionFacts:
    """Return a visit: left alone, then coached unless there is no angle for it."""
    near = more.pop("near", ("left", "right"))
    rows = steps_of("Alone", 120, alone_deg, near=near, each_s=60.0 / more.pop("own_spm", 171.4))
    alone = OFF if coached_deg is not None else ALL_OFF
    told = [drill_told("Alone", 0.0, 45.0, channels=alone, **more.pop("alone", {}))]
    if coached_deg is not None:
        rows += steps_of("Beat", 120, coached_deg, 50.0, near=near)
        told.append(drill_told("Beat", 50.0, 95.0, channels=ON, target_spm=more.pop("asked", None)))
    drills, loose = into_drills(told, rows)
    values = {"bay": "Bay 1", "plan": "Easy", "source": "camera", "state": "ended", "why": None}
    return SessionFacts(
        "R07", BEGAN + timedelta(days=day), drills=drills, loose=loose, **{**values, **more}
    )  # type: ignore[arg-type]


def keys(*visits: SessionFacts) -> dict[str, str]:
    claims = progress_claims(progress_of("R07", visits), smallest_sizes())
    return {claim.key: claim.kind for claim in claims}


def test_a_change_beyond_the_smallest_one_is_an_improvement_and_a_lesser_one_is_not_known() -> None:
    more = keys(visit(0, 10.0, 8.0), visit(7, 10.0 - LEAST - 0.1, 4.0))
    assert more["claim_visits_less"] == "improved"
    less = keys(visit(0, 10.0, 8.0), visit(7, 10.0 - LEAST + 0.1, 4.0))
    assert less["claim_visits_unsure"] == "not known"
    assert (
        keys(visit(0, 4.0, 4.0), visit(7, 4.1 + LEAST, 4.0))["claim_visits_more"] == "not improved"
    )


def test_what_is_kept_is_told_by_a_visit_with_everything_off() -> None:
    kept = keys(visit(0, 11.0, 8.0), visit(7, 9.0, 6.0), visit(40, 5.0, None))
    assert kept["claim_kept_less"] == "improved"
    assert "claim_no_retention" not in kept
    assert keys(visit(0, 11.0, 8.0), visit(7, 9.0, 6.0))["claim_no_retention"] == "not known"
    # A visit with everything off before any practice tells nothing of what is kept.
    assert "claim_no_retention" in keys(visit(0, 11.0, None), visit(7, 9.0, 6.0))


@pytest.mark.parametrize(
    ("later", "key"),
    [
        (visit(7, 3.0, 3.0, bay="Bay 2"), "claim_other_bay"),
        (visit(7, 3.0, 3.0, alone={"incline_percent": 5.0}), "claim_one_probe"),
        (visit(7, 3.0, 3.0, alone={"belt_speed_mps": 3.3}), "claim_one_probe"),
        (visit(7, 3.0, 3.0, near=()), "claim_far_visits"),
    ],
)
def test_other_bays_belts_inclines_and_sides_are_no_change(later: SessionFacts, key: str) -> None:
    told = keys(visit(0, 11.0, 9.0), later)
    assert told[key] == "not known"
    assert not [k for k in told if k.startswith(("claim_visits_less", "claim_kept_less"))]


def test_a_leg_that_was_always_the_far_one_is_not_called_so_at_times() -> None:
    near = ("right",)
    told = keys(visit(0, 11.0, 9.0, near=near), visit(7, 9.0, 6.0, near=near))
    assert told["claim_far"] == "not known"
    assert "claim_far_visits" not in told


def test_one_visit_at_a_belt_setting_is_not_first_and_last() -> None:
    say = Say(read_words("en"))

    def cells(name: str, *visits: SessionFacts) -> list[str]:
        page = progress_page(progress_of("R07", visits), smallest_sizes(), say)
        return re.findall(f'data-label="As the runner came, {name}" class="num"><b>(.*?)</b>', page)

    assert cells("last", visit(0, 11.0, 5.0)) == [NONE, NONE]  # of both legs
    assert cells("first", visit(0, 11.0, 5.0)) == cells(
        "first", visit(0, 11.0, 5.0), visit(7, 9.0, 5)
    )
    assert NONE not in cells("last", visit(0, 11.0, 5.0), visit(7, 9.0, 5.0))


def test_practice_time_is_parted_into_with_and_without_beat_or_cue() -> None:
    progress = progress_of("R07", [visit(0, 11.0, 5.0), visit(7, 9.0, None)])
    assert [v.coached_s for v in progress.visits] == [45.0, 0.0]
    assert (progress.coached_s, progress.running_s) == (45.0, 135.0)


def test_one_visit_tells_of_no_course() -> None:
    assert keys(visit(0, 11.0, 5.0)) == {
        "claim_one_probe": "not known", "claim_visits_with_rose": "improved",
        "claim_no_retention": "not known",
    }  # fmt: skip
    assert keys() == {"claim_no_visits": "not known"}


@pytest.mark.parametrize(
    ("last_spm", "asked_spm", "told"),
    [
        (168.0, 176.0, {"claim_own_rate_nearer": "improved"}),
        (164.0, 176.0, {"claim_own_rate_same": "not improved"}),
        (160.0, 176.0, {"claim_own_rate_further": "not improved"}),
        (160.0, 155.0, {"claim_own_rate_nearer": "improved"}),
        (168.0, 165.0, {}),  # nothing else was asked for than what the runner did
        (168.0, None, {}),
    ],
)
def test_an_own_rate_that_came_nearer_to_the_practised_one_is_an_improvement(
    last_spm: float, asked_spm: float | None, told: dict[str, str]
) -> None:
    first = visit(0, 10.0, 8.0, own_spm=165.0, asked=asked_spm)
    found = keys(first, visit(7, 10.0, 8.0, own_spm=last_spm, asked=asked_spm))
    assert {k: v for k, v in found.items() if k.startswith("claim_own_rate")} == told


def test_the_share_of_each_channel_leaves_out_what_came_before_practice() -> None:
    facts = visit(0, 9.0, 7.0)
    shares = channel_shares(facts.running)
    assert shares is not None
    assert (shares.beat, shares.guides, shares.view, shares.cue) == (1.0, 1.0, 1.0, 1.0)
    retention = channel_shares(visit(0, 9.0, None).running)
    assert retention is not None
    assert (retention.beat, retention.view) == (0.0, 0.0)
    assert channel_shares(()) is None


def test_a_visit_that_was_broken_off_is_read_and_says_so(tmp_path: Path) -> None:
    place = make_place(str(tmp_path / "records"))
    start = VisitStart("a" * 32, "R07", "Bay 1", "Easy", "camera", BEGAN)
    begun = begin_visit(place, start)
    for row in steps_of("Beat", 30):
        begun.write(row)
    begun.drill(0, drill_told("Beat", 0.0, None, channels=ON, beat=None))
    begun.leave()
    with Records(place) as records:
        facts = read_visit(records, start.uid)
    assert facts.state == "broken off"
    (drill,) = facts.drills
    assert len(drill.records) == 30
    assert drill.ended_s is None
    assert drill.seconds == pytest.approx(10.5)
