"""The columns of a step, once for all: their order, kind, decimals, unit and meaning.

`steps.csv`, the store, the export and its data dictionary are all made from this list, so that a
number is the same wherever it is read.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from station.keep.numbers import number, truth_value

if TYPE_CHECKING:  # a list of visits need not wait for numpy
    from station.values import StepRecord

Kind = Literal["integer", "number", "text", "truth"]
Plain = int | float | str | bool | None

TIME = 4  # decimals: 0.1 ms
METRE = 4
DEGREE = 2
SHARE = 4


@dataclass(frozen=True, slots=True)
class StepColumn:
    """One column."""

    name: str
    kind: Kind
    unit: str
    """As written in the data dictionary; empty: it has none."""
    meaning: str
    decimals: int
    """Of a number: it is rounded to these wherever it is kept."""
    get: Callable[[StepRecord], Any]

    def value(self, record: StepRecord) -> Plain:
        """Return the plain value, rounded; None: not known."""
        value = self.get(record)
        if value is None or value == "":
            return None
        if self.kind == "number":
            return round(float(value), self.decimals) + 0.0 if math.isfinite(value) else None
        return int(value) if self.kind == "integer" else value

    def text(self, value: Any) -> str:
        """Write a plain value as the tables do; None is empty."""
        if value is None or value == "":
            return ""
        if self.kind == "number":
            return number(value, self.decimals)
        return truth_value(value) if self.kind == "truth" else str(value)


def _of(name: str) -> Callable[[StepRecord], Any]:
    return lambda record: getattr(record.step, name)


def _number(name: str, decimals: int, unit: str, meaning: str) -> StepColumn:
    return StepColumn(name, "number", unit, meaning, decimals, _of(name))


def _degrees(name: str, meaning: str) -> StepColumn:
    return _number(name, DEGREE, "deg", meaning)


_SESSION_S = "s from the session's start"

COLUMNS: tuple[StepColumn, ...] = (
    StepColumn(
        "step", "integer", "", "counts the contacts of the session, from 1", 0,
        lambda r: r.step.number,
    ),
    StepColumn("drill", "text", "", "name of the drill; empty: outside of any", 0,
               lambda r: r.drill),
    StepColumn("side", "text", "", "left or right: the runner's own", 0, _of("side")),
    StepColumn("near", "truth", "", "whether this leg is the nearer to the camera", 0, _of("near")),
    _number("t_contact_s", TIME, _SESSION_S, "initial contact: first touch of the shoe"),
    _number("t_toe_off_s", TIME, _SESSION_S, "the shoe leaves the belt"),
    _number("t_verdict_s", TIME, _SESSION_S, "newest picture that the verdict used"),
    StepColumn("t_cue_s", "number", _SESSION_S, "onset of the cue that this landing was given",
               TIME, lambda r: r.t_cue_s),
    _number("step_time_s", TIME, "s", "since the contact before, of either foot"),
    _number("step_rate_spm", 2, "steps per minute", "of this one step"),
    _number("contact_s", TIME, "s", "from contact to toe-off, smoothed over the last stances"),
    _number("flight_s", TIME, "s", "toe-off to the next contact; negative: both feet down"),
    _number("duty_factor", SHARE, "share", "contact time as a share of the stride"),
    _number("step_length_m", METRE, "m",
            "belt speed times step time; none while another speed is waited for"),
    _number("ankle_ahead_m", METRE, "m", "ankle ahead of the knee at contact; ahead is positive"),
    _degrees("shank_deg", "shank to the vertical at contact; positive: ankle ahead of the knee"),
    _degrees("shank_at_verdict_deg", "the same as the verdict took it, never changed: the best "
             "estimate given the landings of that leg before it"),
    _degrees("shank_loading_deg", "the same 20 ms after the contact"),
    _number("ankle_ahead_of_hip_m", METRE, "m", "ankle ahead of the middle of the hips at contact"),
    _degrees("foot_deg", "foot at contact against standing flat; toes up is positive"),
    StepColumn("strike", "text", "", "rearfoot, midfoot, forefoot or unsure", 0, _of("strike")),
    _number("heel_down_s", TIME, "s", "from contact until the heel lies"),
    _degrees("knee_flexion_deg", "knee at contact; 0 is straight"),
    _degrees("trunk_lean_deg", "hips to shoulders over the stance; forward is positive"),
    _degrees("body_lean_deg", "ankle to head at mid-stance; forward is positive"),
    _degrees("trailing_thigh_deg", "thigh at toe-off; positive: behind the vertical"),
    _degrees("knee_drive_deg", "thigh highest in the swing before, to the vertical"),
    _number("vertical_oscillation_m", METRE, "m", "travel of head and shoulders, last two steps"),
    StepColumn("beat_offset_s", "number", "s", "contact minus its beat; negative: early", TIME,
               lambda r: r.beat_offset_s),
    StepColumn("landing", "text", "", "within or ahead of the runner's limit; empty: not judged", 0,
               lambda r: r.landing),
    StepColumn("cued", "truth", "", "whether a cue sounded for this landing", 0, lambda r: r.cued),
    _number("confidence", 3, "0 to 1", "how sure the landing was measured"),
    _degrees("knee_flexion_peak_deg", "knee most bent in the stance"),
    _number("arm_swing_m", METRE, "m", "fore-aft travel of this side's wrist, last two steps"),
    _number("hand_lowest_share", 3, "share", "lowest wrist: 0 hip height, 1 shoulder height"),
    _number("hand_highest_share", 3, "share", "highest wrist: 0 hip height, 1 shoulder height"),
    _number("shoulder_rotation_hint", 3, "trunk lengths", "a hint at rotation, no measure of it"),
    _number("pelvis_rotation_hint", 3, "trunk lengths", "a hint at rotation, no measure of it"),
    StepColumn("toe_dive", "truth", "", "steeply pointed at contact, heel not down in the stance",
               0, _of("toe_dive")),
    StepColumn("withheld", "truth", "", "a cue was due and left out, to see what it does", 0,
               lambda r: r.withheld),
)  # fmt: skip
"""In the order of `steps.csv`; relied on from outside: new ones go to the end."""


def plain_step(record: StepRecord) -> dict[str, Plain]:
    """Return a step's values by column name, as they are kept."""
    return {column.name: column.value(record) for column in COLUMNS}
