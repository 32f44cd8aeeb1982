"""One `[[drill]]` of a plan: its keys, and what is allowed in each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field

from station.coach.plan import (
    BeatFrom,
    CueOn,
    Drill,
    DrillKind,
    Feedback,
    Gate,
    Otherwise,
    RunnerFaces,
    StrikeTarget,
)
from station.settings.drill_faults import MOST_RAMP_PERCENT, RAMP_HELP, drill_faults
from station.settings.plan_values import (
    BELT_SPEED_HELP,
    NAME_HELP,
    STEP_RATE_HELP,
    BeltSpeed,
    Name,
    as_belt_speed,
    as_step_rate,
)
from station.settings.toml_file import Table
from station.values import BeatEvery

Switch = Literal["on", "off"]
_SWITCH = "on or off"
_TRUTH = "true or false"
MOST_HOPS_OF_A_ROUND = 30
MOST_WITHHELD_PERCENT = 50.0
"""Beyond, more cues would be missing than heard: that is less feedback, not a test of it."""
DEFAULT_UNCUED_S = 30.0

Round = Annotated[int, Field(ge=1, le=MOST_HOPS_OF_A_ROUND)]


class GateTable(Table):
    """The mastery gate of a drill."""

    share: float = Field(gt=0.0, le=1.0, description="a share over 0, up to 1 (0.9 is 90 %)")
    seconds: float = Field(ge=5.0, le=3600.0, description="5 to 3600 seconds")
    landings: int = Field(
        default=20, ge=1, le=5000, description="a whole number of 1 to 5000 landings of each leg"
    )
    uncued_seconds: float | None = Field(
        default=None, ge=0.0, le=3600.0, description="0 to under advance.seconds"
    )

    def value(self) -> Gate:
        """Return the frozen gate; a short one is uncued for its last half."""
        uncued_s = self.uncued_seconds
        if uncued_s is None:
            uncued_s = min(DEFAULT_UNCUED_S, self.seconds / 2.0)
        return Gate(self.share, self.seconds, self.landings, uncued_s)


class DrillTable(Table):
    """One `[[drill]]`."""

    other_names: ClassVar[Mapping[str, str]] = {
        "minutes": "seconds", "duration": "seconds", "time": "seconds", "length": "seconds",
        "cadence": "step_rate", "rate": "step_rate", "spm": "step_rate", "pace": "belt_speed",
        "slope": "incline_percent", "grade": "incline_percent", "cue": "feedback",
        "cues": "feedback", "metronome": "beat", "mastery": "advance", "gate": "advance",
        "rounds": "hops", "coach": "attended", "facing": "runner_faces", "strike": "strike_target",
        "else": "otherwise", "type": "kind",
        "beat_feet": "beat_feet in [sound] of the bay profile",
        "cue_gap_s": "cue_gap_s in [sound] of the bay profile",
    }  # fmt: skip

    name: Name | None = Field(default=None, description=NAME_HELP)
    kind: DrillKind = Field(default="run", description="run, hop, lean or rest")
    belt_speed: Annotated[Any, BeforeValidator(as_belt_speed)] = Field(
        default=None, description=BELT_SPEED_HELP
    )
    incline_percent: float = Field(default=0.0, ge=-6.0, le=40.0, description="-6 to 40 percent")
    step_rate: Annotated[Any, BeforeValidator(as_step_rate)] = Field(
        default=None, description=STEP_RATE_HELP
    )
    seconds: float | None = Field(
        default=None,
        gt=0.0,
        le=7200.0,
        description="a number over 0, up to 7200 seconds (five minutes: 300)",
    )
    steps: int | None = Field(
        default=None, ge=1, le=20000, description="a whole number of steps from 1 to 20000"
    )
    hops: list[Round] | None = Field(
        default=None,
        min_length=1,
        max_length=20,
        description="1 to 20 rounds, each a whole number of 1 to "
        f"{MOST_HOPS_OF_A_ROUND} hops of one foot, then of the other, such as [8, 4, 3, 2, 1]",
    )
    first_foot: Literal["left", "right"] = Field(default="left", description="left or right")
    landing_limit_deg: float | None = Field(
        default=None,
        ge=-10.0,
        le=30.0,
        description="-10 to 30 degrees (positive: ankle ahead of the knee)",
    )
    landing_change_deg: float = Field(
        default=0.0, ge=-10.0, le=10.0, description="-10 to 10 degrees against the baseline"
    )
    feedback: Feedback = Field(
        default="every step", description="every step, fading, summary or off"
    )
    cue_on: CueOn = Field(
        default="landing", description="landing (each one) or median (of a leg's last three)"
    )
    withhold_percent: float = Field(
        default=0.0,
        ge=0.0,
        le=MOST_WITHHELD_PERCENT,
        description=f"0, or 1 to {MOST_WITHHELD_PERCENT:g} percent of the cues that are due",
    )
    beat: Switch = Field(default="on", description=_SWITCH)
    beat_every: BeatEvery = Field(default="step", description="step or stride")
    beat_from: BeatFrom = Field(
        default="target", description="target or own (the runner's own measured rate)"
    )
    beat_ramp_percent: float = Field(
        default=0.0, ge=0.0, le=MOST_RAMP_PERCENT, description=RAMP_HELP
    )
    guides: Switch = Field(default="on", description=_SWITCH)
    view: Switch = Field(default="on", description=_SWITCH)
    advance: GateTable | None = Field(
        default=None, description="a table such as { share = 0.9, seconds = 120 }"
    )
    otherwise: Otherwise = Field(default="go on", description="go on, repeat, step back or end")
    strike_target: StrikeTarget | None = Field(default=None, description="forefoot or midfoot")
    heel_settles: bool = Field(default=False, description=_TRUTH)
    runner_faces: RunnerFaces = Field(
        default="front", description="front (towards the treadmill's console) or rear"
    )
    waist_belt: bool = Field(default=False, description=_TRUTH)
    ask_felt: bool = Field(default=False, description=_TRUTH)
    rate_test: bool = Field(default=False, description=_TRUTH)
    attended: bool = Field(default=False, description=_TRUTH)

    @classmethod
    def faults(cls, raw: Mapping[str, Any]) -> list[str]:
        """Check what belongs together."""
        return drill_faults(raw)

    def value(self, number: int) -> Drill:
        """Return the frozen drill; `number` counts from 1 and names a drill without a name."""
        speed: BeltSpeed | None = self.belt_speed
        return Drill(
            name=self.name or f"Drill {number}",
            kind=self.kind,
            belt_speed_mps=speed.mps if speed else None,
            belt_speed_text=speed.text if speed else None,
            incline_percent=self.incline_percent,
            step_rate=self.step_rate,
            seconds=self.seconds,
            steps=self.steps,
            hops=tuple(self.hops or ()),
            first_foot=self.first_foot,
            landing_limit_deg=self.landing_limit_deg,
            landing_change_deg=self.landing_change_deg,
            feedback=self.feedback,
            beat=self.beat == "on",
            beat_every=self.beat_every,
            beat_from=self.beat_from,
            beat_ramp=self.beat_ramp_percent / 100.0,
            guides=self.guides == "on",
            view=self.view == "on",
            advance=self.advance.value() if self.advance else None,
            otherwise=self.otherwise,
            cue_on=self.cue_on,
            withhold=self.withhold_percent / 100.0,
            strike_target=self.strike_target,
            heel_settles=self.heel_settles,
            runner_faces=self.runner_faces,
            waist_belt=self.waist_belt,
            ask_felt=self.ask_felt,
            rate_test=self.rate_test,
            attended=self.attended or self.kind == "lean",
        )
