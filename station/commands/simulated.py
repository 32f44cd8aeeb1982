"""The demo's source: an invented runner who hears the beat and the cues."""

from __future__ import annotations

import numpy as np

from station.coach.plan import Plan
from station.errors import BadInput
from station.settings.resources import resource
from station.settings.scenario import Scenario, read_scenario
from station.simulate.gait import Runner
from station.simulate.listening import Listening, ListeningParameters
from station.simulate.parameters import BELT_MPS_RANGE, GaitParameters
from station.simulate.picture import PictureOptions, demo_view
from station.simulate.setting_up import SetUpSource
from station.simulate.source import SimulatedSource
from station.simulate.staging import StagedRunner
from station.simulate.visiting import VisitingSource
from station.values import Bay, ViewProfile

SCENARIO_FILE = "demo/scenario.toml"
OTHER_LEG = 0.8
"""How far the invented runner's other leg follows a cue for one."""


def demo_scenario() -> Scenario:
    """Read the shipped scenario."""
    return read_scenario(resource(SCENARIO_FILE))


def demo_source(scenario: Scenario, plan: Plan | None = None) -> SimulatedSource:
    """Return the scenario's runner as a source, not yet started.

    Args:
        scenario: The runner and the picture.
        plan: Another plan than the scenario's: the runner begins at its first belt speed, as near
            as a simulated one can, and runs for as long as it takes; None: for the scenario's time.
    """
    seconds = scenario.seconds if plan is None else None
    try:
        parameters = _parameters(scenario, plan)
    except ValueError as fault:
        raise BadInput(f"{SCENARIO_FILE}: {fault}") from None
    return SimulatedSource(
        Runner(parameters, Listening(ListeningParameters(other_leg=OTHER_LEG, seed=scenario.seed))),
        demo_view(scenario.width, scenario.height, scenario.faces),
        scenario.width,
        scenario.height,
        scenario.fps,
        seconds,
        PictureOptions(exposure_s=scenario.exposure_s),
    )


def set_up_source(scenario: Scenario) -> SetUpSource:
    """Return the scenario's bay while it is set up, not yet started.

    Args:
        scenario: The runner and the picture; whoever lays the rod and runs is the same.
    """
    parameters = _parameters(scenario)
    return SetUpSource(
        StagedRunner(lambda: Runner(parameters)),
        demo_view(scenario.width, scenario.height, scenario.faces),
        scenario.width,
        scenario.height,
        scenario.fps,
        PictureOptions(exposure_s=scenario.exposure_s),
    )


def visiting_source(scenario: Scenario, plan: Plan) -> VisitingSource:
    """Return the scenario's runner as one who comes for an unattended visit, not yet started.

    Args:
        scenario: The runner and the picture.
        plan: Its first belt speed is run at, as near as a simulated runner can.
    """
    parameters = _parameters(scenario, plan)
    listening = ListeningParameters(other_leg=OTHER_LEG, seed=scenario.seed)
    return VisitingSource(
        StagedRunner(lambda: Runner(parameters, Listening(listening))),
        demo_view(scenario.width, scenario.height, scenario.faces),
        scenario.width,
        scenario.height,
        scenario.fps,
        PictureOptions(exposure_s=scenario.exposure_s),
    )


def _parameters(scenario: Scenario, plan: Plan | None = None) -> GaitParameters:
    """Return how the scenario's runner runs; with a plan at its first belt speed, or near it."""
    belt_mps = scenario.belt_mps
    first = None if plan is None else plan.drills[0].belt
    if first is not None:
        low, high = BELT_MPS_RANGE["run"]
        belt_mps = min(high, max(low, first.speed_mps))
    return GaitParameters(
        belt_mps=belt_mps,
        rate_spm=scenario.step_rate_spm,
        shank_deg=scenario.shank_deg,
        foot_deg=scenario.foot_deg,
        height_m=scenario.height_m,
        seed=scenario.seed,
    )


def demo_bay(scenario: Scenario) -> Bay:
    """Return the profile of the scenario's bay, as its set-up would have measured it."""
    view = demo_view(scenario.width, scenario.height, scenario.faces)
    ends = view.to_image(np.array([[-0.9, 0.0], [0.9, 0.0]]))
    line = ((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1])))
    profile = ViewProfile(view.faces, view.px_per_m, line, scenario.width, scenario.height)
    return Bay(name=scenario.clinic, fps=scenario.fps, view=profile)
