import pytest

from station.coach.visit.pain import PainAnswer, decide, dose_may_rise


@pytest.mark.parametrize(
    ("score", "word"),
    [(0, "start"), (3, "start"), (4, "coach"), (5, "coach"), (6, "stop"), (10, "stop")],
)
def test_the_score_says_who_may_start(score: int, word: str) -> None:
    # Silbernagel 2007 (Am J Sports Med 35:897) and Thomee 1997 (from memory): bands differ, only
    # the limit of 5 is common: 5 passes with a caution, 6 stops.
    assert decide(PainAnswer(score)).word == word


@pytest.mark.parametrize("kind", ["sharp", "bony", "sudden_calf", "changes_gait"])
@pytest.mark.parametrize("score", range(11))
def test_some_kinds_of_pain_stop_at_any_score(kind: str, score: int) -> None:
    assert decide(PainAnswer(score, kinds=frozenset({kind}))).word == "stop"  # type: ignore[arg-type]


@pytest.mark.parametrize("score", [-1, 11])
def test_a_score_outside_0_to_10_is_no_answer(score: int) -> None:
    with pytest.raises(ValueError, match="from 0 to 10"):
        PainAnswer(score)


def test_soreness_next_morning_holds_the_dose() -> None:
    assert dose_may_rise("none")
    assert dose_may_rise("settled")
    assert not dose_may_rise("still_sore")
