from __future__ import annotations

import pytest

from station.coach.plan import Plan, StepRate


@pytest.mark.parametrize(
    ("rate", "baseline_spm", "expected"),
    [
        (StepRate(spm=180.0), None, 180.0),
        (StepRate(spm=180.0), 160.0, 180.0),
        (StepRate(change_percent=5.0), 170.0, 178.5),
        (StepRate(change_percent=-5.0), 170.0, 161.5),
        (StepRate(change_percent=5.0), None, None),
        (StepRate(change_percent=30.0), 250.0, 260.0),
        (StepRate(change_percent=0.0, own=True), 163.5, 163.5),
        (StepRate(change_percent=0.0, own=True), None, None),
    ],
)
def test_target_step_rate(rate, baseline_spm, expected):
    assert rate.target_spm(baseline_spm) == (None if expected is None else pytest.approx(expected))


def test_a_wrong_program_is_told(drill):
    with pytest.raises(ValueError, match="one of them"):
        drill(steps=10)
    with pytest.raises(ValueError, match="one of them"):
        drill(seconds=None)
    with pytest.raises(ValueError, match="either"):
        StepRate()
    with pytest.raises(ValueError, match="own"):
        StepRate(spm=180.0, own=True)
    with pytest.raises(ValueError, match="no drill"):
        Plan("empty", ())


def test_unattended_plans_leave_out_attended_drills(drill):
    plan = Plan("P", (drill(name="A"), drill(name="B", attended=True)))
    assert plan.needs_coach
    left = plan.without_attended()
    assert left is not None
    assert [d.name for d in left.drills] == ["A"]
    assert Plan("P", (drill(attended=True),)).without_attended() is None
