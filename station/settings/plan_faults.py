"""What belongs together between the drills of a plan, checked on the file as written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic_core import PydanticCustomError

from station.coach.baseline import SAME_SPEED_MPS
from station.coach.plan import StepRate
from station.coach.plan_rates import rate_rises
from station.settings.plan_values import as_step_rate, plausible_speed
from station.settings.toml_file import is_number, short


@dataclass(frozen=True, slots=True)
class _Sketch:
    """What of a drill could be read; it may hold mistakes, which are told elsewhere."""

    place: str
    kind: str
    mps: float | None
    speed_text: str
    rate: StepRate | None
    rate_text: str
    readable: bool
    """False: its belt speed or step rate is a mistake, so nothing is said of them here."""
    raw: Mapping[str, Any]


def plan_faults(raw: Mapping[str, Any]) -> list[str]:
    """Check the drills of a plan against each other.

    Args:
        raw: The file as parsed, with values of any type.

    Returns:
        One line for each mistake: drill, key, value, what is allowed.
    """
    drills = raw.get("drill")
    if not isinstance(drills, list):
        return []
    sketches = [_sketch(n, d) for n, d in enumerate(drills, 1) if isinstance(d, Mapping)]
    return [
        *_both_rise(sketches), *_nothing_to_step_back_to(sketches), *_rate_test(sketches),
    ]  # fmt: skip


def _sketch(number: int, raw: Mapping[str, Any]) -> _Sketch:
    name, kind, readable = raw.get("name"), raw.get("kind", "run"), True
    mps: float | None = None
    rate: StepRate | None = None
    try:
        if "belt_speed" in raw:
            mps = plausible_speed(raw["belt_speed"]).mps
        if "step_rate" in raw:
            rate = as_step_rate(raw["step_rate"])
    except PydanticCustomError:
        readable = False
    return _Sketch(
        place=f"drill {number}" + (f' "{name}"' if isinstance(name, str) and name else ""),
        kind=kind if isinstance(kind, str) else "",
        mps=mps,
        speed_text=short(raw.get("belt_speed")),
        rate=rate,
        rate_text=short(raw["step_rate"]) if "step_rate" in raw else "own rate",
        readable=readable and kind in ("run", "hop", "lean", "rest"),
        raw=raw,
    )


def _both_rise(sketches: list[_Sketch]) -> list[str]:
    """Find drills whose belt speed and step rate are both higher than in the one before."""
    faults = []
    latest: _Sketch | None = None
    of_kind: dict[str, _Sketch] = {}
    for now in sketches:
        if now.kind == "rest" or not now.readable:
            continue
        earlier = [latest, of_kind.get(now.kind)]  # hops between two runs do not excuse, either
        for before in dict.fromkeys(s.place for s in earlier if s is not None):
            other = next(s for s in earlier if s is not None and s.place == before)
            if _rise_together(other, now):
                faults.append(
                    f"{now.place}: belt_speed = {now.speed_text} and step_rate = {now.rate_text} "
                    f"both rise (from {other.speed_text} and {other.rate_text} in {other.place}); "
                    "allowed: one of them at a time, and a rest between does not count"
                )
                break
        latest = of_kind[now.kind] = now
    return faults


def _rise_together(before: _Sketch, now: _Sketch) -> bool:
    if before.mps is None or now.mps is None or now.mps - before.mps <= SAME_SPEED_MPS:
        return False
    if before.kind != now.kind and (before.rate is None or before.rate.spm is None):
        return False  # the own rate of hops says nothing of that of running
    return rate_rises(before.rate, now.rate) is True


def _nothing_to_step_back_to(sketches: list[_Sketch]) -> list[str]:
    faults = []
    for i, now in enumerate(sketches):
        gated = isinstance(now.raw.get("advance"), Mapping)
        if not gated or now.raw.get("otherwise") != "step back" or now.mps is None:
            continue
        slower = [
            s for s in sketches[:i]
            if s.kind == now.kind and s.mps is not None and s.mps < now.mps - SAME_SPEED_MPS
        ]  # fmt: skip
        if not slower and now.readable:
            faults.append(
                f'{now.place}: otherwise = "step back" needs an earlier {now.kind} drill at a '
                f"slower belt than {now.speed_text}; allowed without one: go on, repeat or end"
            )
    return faults


def _rate_test(sketches: list[_Sketch]) -> list[str]:
    """Find rate tests of one block, and such as change the belt between blocks."""
    faults: list[str] = []
    block: list[_Sketch] = []
    for now in [*sketches, None]:
        if now is not None and now.kind == "run" and now.raw.get("rate_test") is True:
            block.append(now)
            continue
        if now is not None and now.kind == "rest":
            continue
        faults += _rate_test_block(block)
        block = []
    return faults


def _rate_test_block(block: list[_Sketch]) -> list[str]:
    if len(block) == 1:
        return [
            f"{block[0].place}: rate_test = true in one drill alone; allowed: in two or more that "
            "follow each other (rests between), each at its own step_rate and all at one belt speed"
        ]
    faults = []
    for now in block[1:]:
        first = block[0]
        if now.mps is None or first.mps is None:
            continue
        if abs(now.mps - first.mps) > SAME_SPEED_MPS:
            faults.append(
                f"{now.place}: belt_speed = {now.speed_text} within a rate test at "
                f"{first.speed_text}; allowed: one belt speed for all its blocks"
            )
        elif _incline(now) != _incline(first):
            faults.append(
                f"{now.place}: incline_percent = {_incline(now):g} within a rate test at "
                f"{_incline(first):g}; allowed: one incline for all its blocks"
            )
    return faults


def _incline(sketch: _Sketch) -> float:
    value = sketch.raw.get("incline_percent", 0.0)
    return float(value) if is_number(value) else 0.0
