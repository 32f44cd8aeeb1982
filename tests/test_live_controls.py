"""What each key asks of the session, what the screen answers, and what is recorded of it."""

from __future__ import annotations

from typing import Any

import pytest
from loop_parts import DRILL, Bench, landing

from station.coach.plan import Drill, Gate, StepRate
from station.live.answers import ANSWERS
from station.live.controls import Controls
from station.settings import read_words
from station.settings.resources import names

RUN = Drill(
    "Run", belt_speed_mps=2.68224, belt_speed_text="6 mph", step_rate=StepRate(spm=170.0),
    seconds=600.0, landing_limit_deg=8.0,
)  # fmt: skip
FAST = Drill("Fast", belt_speed_mps=3.6, belt_speed_text="8 mph", seconds=600.0)
REST = Drill("Rest", kind="rest", seconds=60.0)


class Keys:
    """A session that stands at a time, and its keys."""

    def __init__(self, *drills: Drill, countdown_s: float = 0.0) -> None:
        bench = Bench(0, drills or (RUN, FAST, REST), countdown_s=countdown_s)
        self.session, self.progress, self.coaching = bench.session, bench.progress, bench.coaching
        self.clock = bench.clock
        self.controls = Controls(bench.session)
        self.t_s = 0.0
        self.coaching.advance(0.0)

    def go(self, seconds: float) -> None:
        self.t_s += seconds
        self.clock.move_to(self.t_s)
        self.coaching.advance(self.t_s)
        self.controls.tick(self.t_s)

    def press(self, *keys: str) -> None:
        for key in keys:
            self.controls.press(key, self.t_s)

    @property
    def said(self) -> tuple[str, str] | None:
        answer = self.controls.answer(self.t_s)
        return None if answer is None else (answer.key, answer.kind)

    def asked(self) -> list[str]:
        """Return what was recorded of the coach's commands."""
        return [event.why for event in self.progress.events if event.kind == "coach"]

    def last(self) -> dict[str, Any]:
        return [e.as_dict() for e in self.progress.events if e.kind == "coach"][-1]


@pytest.mark.parametrize(
    ("key", "recorded", "answer"),
    [
        ("rate_up", "change rate", "key_rate_set"), ("rate_down", "change rate", "key_rate_set"),
        ("speed_up", "change belt", "key_belt_set"), ("speed_down", "change belt", "key_belt_set"),
        ("limit_up", "change limit", "key_limit_set"),
        ("limit_down", "change limit", "key_limit_set"),
        ("feedback", "set feedback", "key_feedback_off"), ("sound", "set sound", "key_sound_off"),
        ("next", "next drill", "key_next_drill"), ("forward", "next drill", "key_next_drill"),
        ("previous", "previous drill", "key_drill_again"),
        ("repeat", "repeat drill", "key_drill_again"), ("pause", "pause", None),
    ],
)  # fmt: skip
def test_each_key_is_obeyed_answered_and_recorded(
    key: str, recorded: str, answer: str | None
) -> None:
    keys = Keys()
    keys.go(10.0)
    keys.press(key)
    assert keys.asked() == [recorded]
    assert keys.last()["t_s"] == 10.0
    assert keys.said == (None if answer is None else (answer, "done"))
    keys.go(3.0)
    assert keys.said is None


def test_what_the_keys_change() -> None:
    keys = Keys()
    keys.go(10.0)
    keys.press("rate_up", "rate_up", "rate_down", "rate_up")
    assert keys.coaching.target_spm == 172.0
    keys.press("limit_up", "limit_up", "limit_down")
    run = keys.coaching.run
    assert run is not None
    assert (run.limits.left.deg, run.limits.right.deg) == (8.5, 8.5)
    keys.press("speed_down", "speed_down")
    assert keys.progress.status().belt_speed == "5.8 mph"
    keys.press("feedback", "sound")
    assert not keys.progress.feedback_on
    assert not keys.progress.sound_on
    keys.press("feedback", "sound")
    assert keys.progress.feedback_on
    assert keys.progress.sound_on
    keys.press("pause")
    assert keys.progress.paused
    keys.press("pause")
    assert not keys.progress.paused
    assert keys.said == ("key_going_on", "done")
    keys.press("pause", "go")  # the go key ends a pause, too
    assert not keys.progress.paused


def test_answers_carry_the_new_values() -> None:
    keys = Keys()
    keys.press("rate_up")
    assert keys.controls.answer(0.0).values == (("rate", "171"),)  # type: ignore[union-attr]
    keys.press("limit_down")
    values = keys.controls.answer(0.0).values  # type: ignore[union-attr]
    assert values == (("left", "7.5"), ("right", "7.5"))
    keys.press("speed_down")
    assert keys.controls.answer(0.0).values == (("speed", "5.9 mph"),)  # type: ignore[union-attr]


def test_the_drill_before_is_told_from_the_same_drill_again() -> None:
    keys = Keys()
    keys.press("next")
    assert keys.progress.number == 2
    keys.press("previous")
    assert (keys.progress.number, keys.said) == (1, ("key_drill_before", "done"))


def test_keys_that_make_no_sense_say_so_and_change_nothing() -> None:
    keys = Keys()
    refused = {"go": "key_nothing_waits", "7": "key_no_question", "1": "key_no_question"}
    for key, answer in refused.items():
        keys.press(key)
        assert keys.said == (answer, "refused"), key
    keys.press("next", "rate_up")  # the second drill sets no rate
    assert keys.said == ("key_no_rate", "refused")
    keys.press("next")
    for key, answer in {"speed_up": "key_no_belt", "limit_up": "key_no_limit",
                        "rate_down": "key_no_rate"}.items():  # fmt: skip
        keys.press(key)
        assert keys.said == (answer, "refused"), key
    assert keys.asked() == ["next drill", "next drill"]


def test_before_the_first_drill_there_is_nothing_to_run_again() -> None:
    keys = Keys(countdown_s=30.0)
    for key in ("previous", "repeat", "limit_up"):
        keys.press(key)
        assert keys.said == ("key_not_yet", "refused"), key
    keys.press("next")
    assert not keys.progress.before_first


def test_a_target_that_is_not_known_cannot_be_changed() -> None:
    keys = Keys(Drill("d", belt_speed_mps=3.0, step_rate=StepRate(change_percent=5.0), seconds=9.0))
    keys.press("rate_up")
    assert keys.said == ("key_rate_unknown", "refused")


def test_no_key_lets_rate_and_belt_rise_together() -> None:
    keys = Keys()
    keys.go(100.0)
    keys.press("rate_up", "speed_up")
    assert keys.said == ("key_rate_just_rose", "refused")
    assert keys.progress.status().belt_speed == "6 mph"
    keys = Keys()
    keys.go(100.0)
    keys.press("speed_up", "rate_up")
    assert keys.said == ("key_belt_just_rose", "refused")
    assert keys.coaching.target_spm == 170.0


def test_a_bound_is_told() -> None:
    keys = Keys(Drill("d", belt_speed_mps=6.98, belt_speed_text="6.98 m/s", seconds=600.0))
    keys.press("speed_up")
    assert keys.said == ("key_no_further", "refused")
    for _ in range(40):
        keys.press("limit_down")
    assert keys.said == ("key_no_further", "refused")


# --- the belt that waits ------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["go", "forward"])
def test_the_belt_is_confirmed_by_enter_and_by_the_clickers_forward_button(key: str) -> None:
    keys = Keys()
    keys.go(1.0)
    keys.press("next")
    assert keys.progress.belt_waits
    keys.go(0.1)
    keys.go(2.0)
    keys.press(key)
    assert not keys.progress.belt_waits
    assert keys.progress.number == 2
    assert keys.said == ("key_belt_confirmed", "done")
    assert keys.asked() == ["next drill", "confirm belt"]


def test_a_clicker_that_bounces_confirms_no_belt() -> None:
    keys = Keys()
    keys.go(1.0)
    keys.press("forward", "forward")
    keys.go(0.3)
    keys.press("forward")
    assert keys.progress.belt_waits
    assert keys.progress.number == 2
    assert keys.asked() == ["next drill"]


def test_the_arrow_key_goes_on_to_the_next_drill_even_while_the_belt_waits() -> None:
    keys = Keys()
    keys.press("next")
    keys.go(2.0)
    keys.press("next")
    assert keys.progress.number == 3


# --- felt landings ------------------------------------------------------------------------------


def felt() -> Keys:
    keys = Keys(Drill("d", belt_speed_mps=2.7, seconds=5.0, ask_felt=True, landing_limit_deg=8.0))
    for number in range(1, 9):
        at_s = 0.5 * number
        keys.go(0.5)
        side = "left" if number % 2 else "right"
        one = landing(number, at_s - 0.05, 5.0 if number < 7 else 20.0, side)
        keys.coaching.landing(one, at_s, judgeable=True)
    keys.go(1.5)
    assert keys.progress.state == "felt"
    return keys


@pytest.mark.parametrize(
    ("typed", "taken"), [(["0"], 0), (["7"], 7), (["9"], 9), (["1", "0"], 10), (["1", "go"], 1)]
)
def test_digits_answer_how_it_felt(typed: list[str], taken: int) -> None:
    keys = felt()
    keys.press(*typed)
    assert keys.last()["why"] == "answer felt"
    assert keys.last()["good_of_ten"] == taken
    question = keys.progress.felt
    assert question is not None
    assert question.status.good_of_ten == taken
    assert (question.status.within, question.status.judged) == (6, 8)


def test_a_one_waits_for_its_nought_and_then_is_a_one() -> None:
    keys = felt()
    keys.press("1")
    assert keys.controls.typed == 1
    keys.go(1.0)
    assert keys.asked() == []
    keys.go(0.6)
    assert keys.last()["good_of_ten"] == 1
    assert keys.controls.typed is None


def test_another_digit_takes_the_place_of_a_one() -> None:
    keys = felt()
    keys.press("1", "8")
    assert [e.as_dict()["good_of_ten"] for e in keys.progress.events if e.kind == "coach"] == [8]


@pytest.mark.parametrize(
    ("pressed", "taken"),
    [
        (["forward"], 5), (["forward", "forward", "forward"], 7), (["previous", "previous"], 4),
        (["forward"] * 9, 10), (["previous"] * 9, 0),
    ],
)  # fmt: skip
def test_the_clicker_moves_the_answer_and_then_leaves_it(pressed: list[str], taken: int) -> None:
    keys = felt()
    keys.press(*pressed)
    assert keys.controls.typed == taken
    keys.go(2.9)
    assert keys.asked() == []
    keys.go(0.2)
    assert keys.last()["good_of_ten"] == taken
    assert keys.controls.typed is None


def test_a_digit_goes_before_what_the_clicker_came_to_and_afterwards_it_goes_on() -> None:
    keys = felt()
    keys.press("forward", "3")
    assert keys.last()["good_of_ten"] == 3
    keys.press("forward")
    assert keys.asked()[-1] == "next drill"


# --- the end ------------------------------------------------------------------------------------


def test_the_end_is_asked_for_twice_within_two_seconds() -> None:
    keys = Keys()
    keys.press("end")
    assert keys.said == ("key_end_again", "asks")
    keys.go(2.5)
    assert keys.said is None
    keys.press("end")
    assert keys.session.ended is None
    keys.go(1.0)
    keys.press("end")
    assert keys.session.ended == "ended by the coach"
    assert keys.asked() == ["end session"]
    assert not keys.controls.quit  # the last card is still to be read
    keys.press("rate_up")
    assert keys.said == ("key_over", "refused")
    keys.press("end")
    assert keys.controls.quit


def test_a_clicker_that_sends_begin_and_end_by_turns_ends_nothing() -> None:
    keys = Keys()
    for key in ("go", "end", "go", "go", "end", "go"):
        keys.press(key)
        keys.go(0.4)
    assert keys.session.ended is None


def test_closing_the_window_ends_at_once_and_is_recorded() -> None:
    keys = Keys()
    keys.press("quit")
    assert keys.controls.quit
    assert keys.session.ended == "ended by the coach"
    assert keys.asked() == ["end session"]


# --- the strip and the words --------------------------------------------------------------------


def test_the_strip_is_turned_on_and_off_and_is_no_command() -> None:
    keys = Keys()
    assert not keys.controls.coach_strip
    keys.press("strip")
    assert keys.controls.coach_strip
    keys.press("strip", "help", "unheard of")
    assert not keys.controls.coach_strip
    assert keys.asked() == []
    assert Controls(keys.session, coach_strip=True).coach_strip


@pytest.mark.parametrize("language", names("config/words"))
def test_every_answer_has_words_with_its_fields(language: str) -> None:
    words = read_words(language)
    for key, fields in ANSWERS.items():
        text = words.sentences[key]
        assert {f for f in fields if f"{{{f}}}" in text} == fields, key


def test_the_strip_in_the_loop_shows_what_the_runner_is_not_told() -> None:
    """With feedback off no verdict is on the runner's screen; the coach's strip has the figures."""
    off = Drill("Off", belt_speed_mps=2.7, seconds=100.0, feedback="off", landing_limit_deg=8.0,
                beat=False, advance=Gate(0.9, 20.0, landings=5))  # fmt: skip
    bench = Bench(60, (off,), keys={2: ["strip"]})
    bench.run()
    first, last = bench.painter.scenes[0], bench.painter.scenes[-1]
    assert first.coach is None
    assert not last.show_verdict
    assert last.trail == ()
    assert last.drill is not None
    assert last.drill.share_within == ()
    assert {mark.verdict for scene in bench.painter.scenes for mark in scene.landings} == {None}
    assert {mark.limit_px for scene in bench.painter.scenes for mark in scene.landings} == {None}
    coach = last.coach
    assert coach is not None
    left, right = coach.legs
    assert (left.side, left.limit_deg, left.limit_origin) == ("left", 8.0, "drill")
    assert (left.shank_deg, left.share_within, left.judged) == (12.0, 0.0, 8)
    assert (right.judged, right.unjudged_share) == (7, 0.0)
    assert right.confidence == pytest.approx(0.9)
    assert coach.waiting == "mastery"
    assert coach.gate is not None
    assert (coach.gate.share, coach.gate.landings) == (0.9, 5)
    assert (coach.schedule, coach.cues_given) == ("off", 0)


def test_turning_feedback_off_hides_the_verdict_and_flags_it() -> None:
    bench = Bench(40, (DRILL,), keys={20: ["feedback", "strip"]})
    bench.run()
    before, after = bench.painter.scenes[18], bench.painter.scenes[-1]
    assert before.show_verdict
    assert before.trail
    assert not after.show_verdict
    assert after.trail == ()
    assert after.coach is not None
    assert "flag_feedback_off" in after.coach.flags
    assert "flag_no_baseline" in after.coach.flags
