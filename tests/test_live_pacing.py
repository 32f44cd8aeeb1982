"""A target out of the ordinary: flagged beside a coach, not used where nobody stands by."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pytest
from loop_parts import landing

from station.clock import StreamClock
from station.coach.commands import ChangeLimit, ConfirmBelt, NextDrill, SetFeedback
from station.coach.plan import Drill, Plan, StepRate
from station.coach.progress import SessionProgress
from station.coach.rate_check import flag_rate
from station.coach.verdict import Baseline, LegBaseline
from station.live import Coaching
from station.sound.speaker_silent import StreamSpeaker
from station.values import Belt, BeltAsked, HopsAsked

BELT = Belt(2.7)
OWN = Baseline(BELT, 160.0, LegBaseline(40, 6.0, 1.0), LegBaseline(40, 7.0, 1.0))


def beaten(name: str, **rate: Any) -> Drill:
    return Drill(name, belt_speed_mps=2.7, seconds=60.0, step_rate=StepRate(**rate))


@dataclass
class Coached:
    coaching: Coaching
    events: list[str] = field(default_factory=list)

    def flags(self) -> list[tuple[str, float]]:
        told = [e.as_dict() for e in self.coaching.progress.events if e.kind == "rate flagged"]
        return [(e["why"], e["allowed_spm"]) for e in told]


def coached(*drills: Drill, attended: bool = True) -> Coached:
    speaker = StreamSpeaker()
    speaker.start(StreamClock())
    progress = SessionProgress(Plan("P", drills), 0.0)
    made = Coaching(progress, speaker, lambda _: None, (OWN,), attended=attended)
    made.advance(0.0)
    return Coached(made)


@pytest.mark.parametrize(
    ("target", "before", "amiss", "allowed"),
    [
        (160.0, None, None, None),
        (168.0, None, None, None),  # +5 % of 160
        (168.1, None, "rises too much at once", 168.0),
        (176.0, 168.0, None, None),
        (176.1, 168.0, "rises too much in all", 176.0),
        (159.0, None, "below own rate", 160.0),
        (159.9, 176.0, "below own rate", 160.0),
        (180.0, None, "rises too much in all", 168.0),
        (160.0, 176.0, None, None),
        (168.0, 150.0, None, None),  # from the own rate, not from below it
    ],
)
def test_five_percent_at_a_step_and_ten_in_all(target, before, amiss, allowed):
    flag = flag_rate(target, 160.0, before)
    assert (flag and flag.amiss) == amiss
    assert (flag and flag.allowed_spm) == (None if allowed is None else pytest.approx(allowed))


def test_beside_a_coach_it_is_used_flagged_once_and_told_for_a_while():
    made = coached(beaten("Quick", spm=180.0))
    assert made.coaching.target_spm == 180.0
    assert made.flags() == [("rises too much in all", pytest.approx(168.0))]
    assert "rate_flag" in made.coaching.notices
    made.coaching.advance(10.0)
    made.coaching.advance(16.0)
    assert "rate_flag" not in made.coaching.notices
    assert len(made.flags()) == 1
    assert len(made.coaching.kept_notices) == 1


def test_where_nobody_stands_by_the_beat_stays_at_what_is_allowed_and_climbs_by_drills():
    made = coached(*(beaten(str(i), spm=180.0) for i in range(5)), attended=False)
    used = []
    for _ in range(4):
        used.append(made.coaching.target_spm)
        assert made.coaching.run.beat_spm == pytest.approx(made.coaching.target_spm)
        made.coaching.advance(60.0 * len(used))
    assert used == pytest.approx([168.0, 176.0, 176.0, 176.0])


def test_a_beat_below_the_own_rate_is_not_used_where_nobody_stands_by():
    made = coached(beaten("slow", spm=150.0), attended=False)
    assert made.coaching.target_spm == 160.0
    assert made.flags() == [("below own rate", 160.0)]


def test_steps_of_five_percent_against_the_baseline_are_in_order():
    made = coached(beaten("a", change_percent=5.0), beaten("b", change_percent=10.0))
    made.coaching.command(NextDrill(), 60.0)
    assert made.coaching.target_spm == pytest.approx(176.0)
    assert made.flags() == []


def test_an_attended_drill_has_the_coachs_word():
    drill = Drill("a", belt_speed_mps=2.7, seconds=60.0, step_rate=StepRate(spm=180.0),
                  attended=True)  # fmt: skip
    made = coached(drill)
    assert "rate_flag" not in made.coaching.notices
    assert len(made.flags()) == 1


def test_limits_and_feedback_follow_the_coach():
    made = coached(beaten("a", spm=165.0))
    run = made.coaching.run
    before = run.limits.left.deg
    assert before == 7.0  # 6 deg and one spread of 1
    made.coaching.command(ChangeLimit(1.5), 1.0)
    assert (run.limits.left.deg, run.limits.right.deg) == (8.5, 9.5)
    judged = made.coaching.landing(landing(1, 2.0, 9.4), 2.1, True)
    assert (judged.verdict, judged.t_cue_s is not None) == ("ahead", True)
    made.coaching.command(SetFeedback(False), 3.0)
    judged = made.coaching.landing(landing(2, 4.0, 20.0), 4.1, True)
    assert (judged.verdict, judged.t_cue_s) == ("ahead", None)
    assert run.as_dict()["limit_by_deg"] == 1.5


def test_hops_are_asked_for_once_the_belt_runs_and_ended_with_their_drill():
    hops = Drill("hops", kind="hop", belt_speed_mps=1.3, hops=(2, 1), first_foot="right")
    made = coached(beaten("a", spm=165.0), hops, beaten("b", spm=165.0))
    assert made.coaching.take_hops_asked() == ()
    made.coaching.advance(60.0)
    assert made.coaching.take_hops_asked() == ()  # the belt is waited for
    made.coaching.command(ConfirmBelt(), 63.0)
    assert made.coaching.take_hops_asked() == (HopsAsked((2, 1), "right"),)
    assert made.coaching.take_hops_asked() == ()
    made.coaching.command(NextDrill(), 65.0)
    assert made.coaching.take_hops_asked() == (HopsAsked(()),)
    made.coaching.command(ConfirmBelt(), 66.0)
    assert made.coaching.take_hops_asked() == ()


def test_belts_asked_for_are_handed_on_once_and_kept_with_their_drill():
    quick = Drill("quick", belt_speed_mps=3.0, seconds=60.0)
    rest = Drill("rest", kind="rest", seconds=5.0)
    made = coached(beaten("a", spm=165.0), quick, rest)
    assert made.coaching.take_belt_asked() == (BeltAsked(0.0, 2.7),)
    assert made.coaching.take_belt_asked() == ()
    made.coaching.advance(60.0)
    assert made.coaching.take_belt_asked() == (BeltAsked(60.0, 3.0),)
    assert made.coaching.run.beat_spm is None
    made.coaching.command(ConfirmBelt(), 63.0)
    assert made.coaching.run.as_dict()["belt_confirmed"] == "key"
    made.coaching.advance(123.0)
    assert made.coaching.take_belt_asked() == ()  # nobody stops a belt by this
    nobody = coached(beaten("a", spm=165.0), quick)
    nobody.coaching.advance(60.0)
    nobody.coaching.advance(95.0)
    assert nobody.coaching.run.as_dict()["belt_confirmed"] == "nobody"
    assert any("nobody confirmed" in line for line in nobody.coaching.kept_notices)
