"""Checks the view: what the profile says of it, and whoever is in it now."""

from __future__ import annotations

import math

from station.coach.setup.bounds import GOOD_ROLL_DEG, STEEPEST_DEG
from station.commands.checks.camera import Watched
from station.commands.checks.finding import Finding
from station.measure.setup.framing import Edge, Framing, framing_of
from station.measure.setup.scale import belt_rise_deg
from station.measure.squareness import GOOD_DEG, MOST_DEG, SquareWatch, short_percent
from station.ports import PoseModel, SourceInfo
from station.values import Bay, ViewProfile

_SHAPE_OFF = 0.01
_SQUARE_POSES = 12
_CURES: dict[Edge, str] = {
    "top": "camera higher, or further away",
    "bottom": "tilt the camera down, or move it away",
    "left": "turn the camera to the left, or move it away",
    "right": "turn the camera to the right, or move it away",
}


def view_findings(seen: Watched, bay: Bay, model: PoseModel) -> list[Finding]:
    """Say what is known of the view, and how whoever is in it stands in it.

    Args:
        seen: The source's pictures.
        bay: The profile.
        model: Finds who is there; it detects anew first.
    """
    square = SquareWatch(_SQUARE_POSES)
    framings: list[Framing | None] = []
    model.detect_anew()
    for frame in seen.frames:
        pose = model.find(frame)
        framings.append(framing_of(pose))
        square.see(pose)
    return [*profile_findings(bay, seen.info), _runner(framings), _square(square)]


def profile_findings(bay: Bay, info: SourceInfo) -> list[Finding]:
    """Say what the profile knows of the view, and whether it fits the pictures as they come."""
    return [_scale(bay.view, info.width, info.height), level_finding(bay.view)]


def _scale(profile: ViewProfile, width: int, height: int) -> Finding:
    if profile.width and profile.height:
        shape = (width / height) / (profile.width / profile.height)
        if abs(shape - 1.0) > _SHAPE_OFF:
            return Finding(
                "view",
                f"scale and belt line are of {profile.width} x {profile.height} pictures, these "
                f"are {width} x {height}", "look",
                "another shape of picture: take both anew (`station setup --step scale`, `--step "
                "belt`), or leave them out of [view]",
            )  # fmt: skip
    return Finding("view", _known(profile))


def _known(profile: ViewProfile) -> str:
    facts = {
        "facing": f"faces {profile.faces}" if profile.faces else None,
        "scale": f"{profile.px_per_m:g} px per metre" if profile.px_per_m else None,
        "belt line": "belt line set" if profile.belt_line else None,
    }
    told = [fact for fact in facts.values() if fact is not None]
    learned = [name for name, fact in facts.items() if fact is None]
    if learned:
        told.append(f"to be learned from running: {', '.join(learned)}")
    return ", ".join(told)


def level_finding(profile: ViewProfile) -> Finding:
    """Say how the camera is turned, and how the belt lies against the horizontal."""
    what, roll = "level", profile.roll_deg
    told = f"camera turned by {roll:.2f} deg, taken out"
    if profile.belt_line is not None:
        rise = belt_rise_deg(*profile.belt_line, roll, profile.faces or "right")
        told += f"; the belt rises {rise:.1f} deg ({100.0 * math.tan(math.radians(rise)):.1f} %)"
        if abs(rise) > STEEPEST_DEG:
            return Finding(what, told, "look", "no treadmill is so steep: `station setup --step "
                           "level`, then `--step belt`")  # fmt: skip
    if roll == 0.0:
        return Finding(what, told.replace("turned by 0.00 deg, taken out", "taken as level"),
                       "unchecked", "never measured? `station setup --step level`")  # fmt: skip
    if abs(roll) > GOOD_ROLL_DEG:
        return Finding(what, told, "look", "turn the camera level at its mount, then `station "
                       "setup --step level`")  # fmt: skip
    return Finding(what, told)


def _runner(framings: list[Framing | None]) -> Finding:
    """Say whether all of whoever is there is in the picture."""
    what = "runner in view"
    there = [framing for framing in framings if framing is not None]
    if len(there) <= len(framings) // 2 or not there:
        return Finding(what, "nobody in view now", "unchecked", "stand on the belt to check it")
    cut = [edge for edge in _CURES if sum(edge in f.cut for f in there) > len(there) // 4]
    if cut:
        return Finding(what, f"cut off by the picture's edge: {', '.join(cut)}", "look",
                       "; ".join(_CURES[edge] for edge in cut))  # fmt: skip
    if sum(f.legs_seen for f in there) <= len(there) // 2:
        return Finding(what, "the lower legs are not clearly seen", "look",
                       "clear the view of the legs; more light")  # fmt: skip
    leg = sorted(f.leg_px for f in there)[len(there) // 2]
    if not all(f.large_enough for f in there):
        return Finding(what, f"whole, but legs are only {leg:.0f} pixels long", "look",
                       "camera nearer, or a larger picture")  # fmt: skip
    return Finding(what, f"whole, legs {leg:.0f} pixels long")


def _square(watch: SquareWatch) -> Finding:
    what, off = "square to the belt", watch.off_deg
    if off is None:
        return Finding(what, "nobody to tell it by", "unchecked",
                       "`station setup --step square`, with somebody on the belt")  # fmt: skip
    told = f"{off:.0f} deg off: lengths read {short_percent(off):.1f} % short"
    if off > MOST_DEG:
        return Finding(what, told, "look", "move the camera beside the middle of the belt")
    if off > GOOD_DEG:
        return Finding(what, told, "look", "turn the camera a little")
    return Finding(what, told)
