from __future__ import annotations

import re
import string
from pathlib import Path

import pytest

import station
from station.coach.baseline import same_belt
from station.coach.sentences import SENTENCES
from station.errors import BadInput
from station.live.answers import ANSWERS
from station.live.course_notes import TEXTS
from station.settings import check_plan_against_bay, read_bay, read_plan, read_words
from station.settings.resources import find, names, resource

FIELDS = {key: {"within", "judged"} for key in ("summary_good", "summary_mixed", "summary_ahead")}
FIELDS |= {**ANSWERS, "felt_beside": {"felt", "within", "judged"}, "belt_by_itself": {"speed"}}
FIELDS |= {"belt_still": {"seen", "asked"}, "start_belt": {"speed"}}


@pytest.fixture
def installed(tmp_path):
    """Lay files out as a wheel does: inside the package, with nothing beside it."""
    inside = tmp_path / "site-packages" / "station"
    for name in ("_config/plans/a.toml", "_config/plans/b.toml", "_shared/norms.csv"):
        (inside / name).parent.mkdir(parents=True, exist_ok=True)
        (inside / name).write_text(name)
    return inside


def test_shipped_files_are_found_inside_an_installed_package(installed):
    assert resource("config/plans/a.toml", installed).read_text() == "_config/plans/a.toml"
    assert resource("shared/norms.csv", installed).is_file()
    assert names("config/plans", package=installed) == ["a", "b"]
    assert names("config/none", package=installed) == []
    assert find("config/none.toml", installed) is None


def test_the_packages_own_files_go_before_those_beside_it(installed):
    beside = installed.parent / "config/plans/a.toml"
    beside.parent.mkdir(parents=True)
    beside.write_text("beside")
    assert resource("config/plans/a.toml", installed).read_text() == "_config/plans/a.toml"


def test_shipped_files_are_found_in_a_checkout_from_any_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert resource("config/bay.toml").is_file()
    with pytest.raises(BadInput, match="not shipped"):
        resource("config/none.toml")


@pytest.mark.parametrize("name", names("config/plans"))
def test_shipped_plans_are_sound_and_fit_the_shipped_bay(name):
    plan = read_plan(resource(f"config/plans/{name}.toml"))
    check_plan_against_bay(plan, read_bay(resource("config/bay.toml")))
    # A limit or a rate from the baseline needs a drill before it that gives one.
    for i, drill in enumerate(plan.drills):
        needs = drill.landing_change_deg or (drill.step_rate and drill.step_rate.change_percent)
        if needs:
            assert any(d.gives_baseline and same_belt(d.belt, drill.belt) for d in plan.drills[:i])


def test_the_demo_plan_begins_untouched_and_lasts_about_ninety_seconds():
    plan = read_plan(resource("config/plans/demo.toml"))
    assert plan.drills[0].gives_baseline
    assert sum(drill.seconds for drill in plan.drills) == pytest.approx(90.0, abs=5.0)
    assert plan.drills[1].step_rate.spm == 180.0
    assert plan.drills[1].feedback == "every step"
    assert not plan.needs_coach


@pytest.mark.parametrize("language", names("config/words"))
def test_every_sentence_of_the_coach_has_words(language):
    words = read_words(language)
    assert {*SENTENCES, *ANSWERS} <= set(words.sentences)
    for key, text in words.sentences.items():
        used = {name for _, name, _, _ in string.Formatter().parse(text) if name}
        assert used <= FIELDS.get(key, set()), key
        filled = words.sentence(key, within="10", judged="10")
        assert len(filled) <= 46, "too long to read while running"


@pytest.mark.parametrize("language", names("config/words"))
def test_every_label_of_the_screen_has_words(language):
    wording = pytest.importorskip("station.show.wording")
    assert set(wording.LABEL_KEYS) <= set(read_words(language).labels)


def test_every_trouble_that_the_measurement_names_has_words():
    """Look for `trouble = "key"` and the like in the code itself, so that none is forgotten."""
    folder = Path(station.__file__).parent / "measure"
    pattern = re.compile(r"\btrouble\w*\s*(?::[^=\n]*)?=\s*\(?\s*\"(\w+)\"")
    used = {key for path in folder.glob("*.py") for key in pattern.findall(path.read_text())}
    assert used <= set(read_words("en").troubles)


def test_what_is_told_of_the_drills_is_the_same_on_an_english_screen_and_in_the_file():
    english = read_words("en").troubles
    assert {key: english[key] for key in TEXTS} == dict(TEXTS)


@pytest.mark.parametrize("language", names("config/words"))
def test_no_words_claim_more_than_was_measured(language):
    words = read_words(language)
    texts = [*words.sentences.values(), *words.labels.values(), *words.troubles.values()]
    claims = {
        "en": r"(under|below) (the|your) knee|injur|prevent",
        "de": r"unter(m| dem|halb)[^.]* knie|verletz|schütz|vorbeug|verhinder",
    }
    assert not [t for t in texts if re.search(claims[language], t, re.I)]


def test_an_unknown_language_names_those_there_are():
    for language in ("xx", "../words/en"):
        with pytest.raises(BadInput, match="allowed: de, en"):
            read_words(language)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ('[sentences]\na = ""\n[labels]\n[troubles]\n', r'\[sentences\] a = ""'),
        ('[sentences]\na = "{"\n[labels]\n[troubles]\n', "fields in braces"),
        ('[sentences]\na = "{}"\n[labels]\n[troubles]\n', "by name"),
        ("[sentences]\na = 3\n[labels]\n[troubles]\n", "sentences.*3"),
        ("[sentences]\n[labels]\n", "troubles is missing"),
        ("[sentences]\n[labels]\n[troubles]\n[more]\n", "no such key"),
    ],
)
def test_mistakes_in_a_words_file(tmp_path, monkeypatch, text, part):
    (tmp_path / "en.toml").write_text(text)
    monkeypatch.setattr("station.settings.words.find", lambda path: tmp_path / "en.toml")
    with pytest.raises(BadInput, match=part):
        read_words("en")
