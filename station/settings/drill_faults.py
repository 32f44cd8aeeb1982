"""What belongs together within one `[[drill]]`, checked on the table as written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic_core import PydanticCustomError

from station.coach.plan import SLOW_BELT_MPS, STEP_RATE_SPM_RANGE
from station.settings.plan_values import BELT_SPEED_HELP, as_step_rate, plausible_speed
from station.settings.toml_file import is_number, short

LEAST_RAMP_PERCENT = 0.1
MOST_RAMP_PERCENT = 3.0
"""A tempo shifted by 1 to 3 % is followed without being noticed (Van Dyck 2015)."""
RAMP_HELP = (
    f"0 (changes come at once) or {LEAST_RAMP_PERCENT:g} to {MOST_RAMP_PERCENT:g} percent a step"
)
SLOW_BELT_HELP = "up to 4 mph (6.4 km/h)"


def drill_faults(raw: Mapping[str, Any]) -> list[str]:
    """Check what belongs together in one drill.

    Args:
        raw: Values of any type: a wrong one is told with its own key, so it is passed by here.

    Returns:
        One line for each mistake: key, value, what is allowed.
    """
    faults = []
    if raw.get("kind", "run") == "run" and "belt_speed" not in raw:
        faults.append(f"belt_speed is missing; allowed: {BELT_SPEED_HELP}")
    faults += _length_faults(raw)
    if "landing_limit_deg" in raw and "landing_change_deg" in raw:
        faults.append(
            "landing_limit_deg and landing_change_deg; give one of them (the change is against "
            "the baseline)"
        )
    return [
        *faults, *_beat_faults(raw), *_cue_faults(raw), *_gate_faults(raw),
        *_kind_faults(raw), *_rate_test_faults(raw),
    ]  # fmt: skip


def _length_faults(raw: Mapping[str, Any]) -> list[str]:
    kind = raw.get("kind", "run")
    if kind == "rest" and "steps" in raw:
        return [f"steps = {raw['steps']}; a rest is given in seconds"]
    keys = ("seconds", "steps", "hops") if kind == "hop" else ("seconds", "steps")
    given = [key for key in keys if key in raw]
    if len(given) > 1:
        told = " and ".join(f"{key} = {short(raw[key])}" for key in given)
        return [f"{told}; give one of them"]
    if given or "hops" in raw:  # hops in another kind are told with the kind
        return []
    return [f"{'seconds, steps or hops' if kind == 'hop' else 'seconds or steps'} is missing; "
            "give one of them"]  # fmt: skip


def _beat_faults(raw: Mapping[str, Any]) -> list[str]:
    faults = []
    percent = raw.get("beat_ramp_percent")
    if is_number(percent) and 0.0 < percent < LEAST_RAMP_PERCENT:
        faults.append(f"beat_ramp_percent = {percent:g} never arrives; allowed: {RAMP_HELP}")
    if raw.get("beat_from") != "own":
        return faults
    if percent is None or percent == 0:
        faults.append(
            'beat_from = "own" needs beat_ramp_percent, how fast the beat climbs to the target; '
            f"allowed: {LEAST_RAMP_PERCENT:g} to {MOST_RAMP_PERCENT:g} percent a step"
        )
    if "step_rate" not in raw:
        faults.append(
            'beat_from = "own" needs step_rate, where the beat climbs to (for a beat that stays '
            'at the runner\'s own rate: step_rate = "own")'
        )
    return faults


def _cue_faults(raw: Mapping[str, Any]) -> list[str]:
    """Cues can only be withheld where they would sound."""
    percent, feedback = raw.get("withhold_percent"), raw.get("feedback", "every step")
    faults: list[str] = []
    if not is_number(percent) or percent <= 0:
        return faults
    if percent < 1:
        faults.append(
            f"withhold_percent = {percent:g} is next to nothing (a fifth is 20); allowed: 0, or 1 "
            "to 50 percent of the cues that are due"
        )
    if feedback in ("summary", "off"):
        faults.append(
            f"withhold_percent = {percent:g} with feedback = {short(feedback)}, where no cue "
            "sounds; allowed: feedback every step or fading, or no withhold_percent"
        )
    return faults


def _gate_faults(raw: Mapping[str, Any]) -> list[str]:
    gate, faults = raw.get("advance"), []
    if gate is None and "otherwise" in raw:
        faults.append(
            f"otherwise = {short(raw['otherwise'])} goes with advance: it says what follows where "
            "the mastery gate is not met, and there is no gate"
        )
    if not isinstance(gate, Mapping):
        return faults
    window, length = gate.get("seconds"), raw.get("seconds")
    if not is_number(window) or window <= 0:
        return faults
    if is_number(length) and window > length > 0:
        faults.append(
            f"advance.seconds = {window:g} can never be met; allowed: up to the drill's "
            f"{length:g} seconds"
        )
    uncued = gate.get("uncued_seconds")
    if is_number(uncued) and uncued >= window:
        faults.append(
            f"advance.uncued_seconds = {uncued:g}; allowed: 0 to under advance.seconds = "
            f"{window:g}, of which it is the last part"
        )
    landings, most = gate.get("landings"), _most_landings(raw, window)
    if is_number(landings) and landings > most:
        faults.append(
            f"advance.landings = {landings:g} of each leg can never be met in {window:g} seconds; "
            f"allowed: 1 to {most}"
        )
    return faults


def _most_landings(raw: Mapping[str, Any], window_s: float) -> int:
    """Return how many landings one leg can make in a time, at the drill's rate or the highest."""
    try:
        spm = as_step_rate(raw.get("step_rate")).spm
    except PydanticCustomError:
        spm = None
    return int(window_s * (spm or STEP_RATE_SPM_RANGE[1]) / 120.0)


# Keys that mean something in some kinds only, with the value that is as good as leaving them out.
_ONLY_IN: dict[str, tuple[tuple[str, ...], object]] = {
    "hops": (("hop",), None),
    "waist_belt": (("lean",), False),
    "runner_faces": (("lean",), "front"),
    "advance": (("run", "lean"), None),
    "rate_test": (("run",), False),
    "cue_on": (("run", "hop", "lean"), "landing"),
    "withhold_percent": (("run", "hop", "lean"), 0),
    "strike_target": (("run", "hop", "lean"), None),
    "heel_settles": (("run", "hop", "lean"), False),
    "ask_felt": (("run", "hop", "lean"), False),
}


def _kind_faults(raw: Mapping[str, Any]) -> list[str]:
    kind, faults = raw.get("kind", "run"), []
    if kind not in ("run", "hop", "lean", "rest"):
        return []
    for key, (kinds, idle) in _ONLY_IN.items():
        if kind not in kinds and key in raw and raw[key] != idle:
            allowed = " or ".join(kinds)
            faults.append(
                f"{key} = {short(raw[key])} has no meaning in kind = {short(kind)}; allowed: "
                f"in kind {allowed}"
            )
    if "first_foot" in raw and not (kind == "hop" and "hops" in raw):
        faults.append(
            f"first_foot = {short(raw['first_foot'])} has no meaning without rounds of hops; "
            'allowed: with kind = "hop" and hops such as [8, 4, 3, 2, 1]'
        )
    if kind == "lean" and raw.get("attended") is False:
        faults.append("attended = false; a lean drill is never run without a coach: allowed is "
                      "true, or leave it out")  # fmt: skip
    try:
        mps = plausible_speed(raw.get("belt_speed")).mps
    except PydanticCustomError:
        return faults  # none, or told with its own key
    if mps > SLOW_BELT_MPS + 1e-6:
        text = short(raw["belt_speed"])
        if kind == "hop":
            faults.append(f"belt_speed = {text}; allowed in a hop drill: {SLOW_BELT_HELP}")
        if kind == "lean" and raw.get("runner_faces") == "rear":
            faults.append(
                f'belt_speed = {text} with runner_faces = "rear", where the runner steps '
                f"backwards; allowed: {SLOW_BELT_HELP}"
            )
    return faults


def _rate_test_faults(raw: Mapping[str, Any]) -> list[str]:
    if raw.get("rate_test") is not True or raw.get("kind", "run") != "run":
        return []
    faults = []
    if "step_rate" not in raw:
        faults.append(
            'rate_test = true needs step_rate, the rate that this block tests (step_rate = "own": '
            "the runner's own)"
        )
    if "advance" in raw:
        faults.append(
            "rate_test = true with advance; the blocks of a rate test run their whole length, so "
            "leave advance out"
        )
    return faults
