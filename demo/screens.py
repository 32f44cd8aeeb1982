"""Paint every screen from hand-made scenes: `python demo/screens.py FOLDER [LANGUAGE [W H]]`.

The runner in the pictures is the drawn one, and so are the marks and angles of its landings; the
landings before, step rate, beat and drill are invented, and agree with one another.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

from station.coach.figures import CoachFigures, GateFigures, LegFigures
from station.coach.scene import (
    DrillStatus,
    FeltStatus,
    HopStatus,
    KeyAnswer,
    LandingMark,
    LandingStill,
    Rhythm,
    Scene,
    Sentence,
    TrailMark,
)
from station.live.stills import cut_out
from station.settings.words import read_words
from station.show.keys import keys_card
from station.show.painter import Painter
from station.show.recorder import save_still
from station.simulate import picture
from station.simulate.figure import Figure, Leg
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.values import Facing, Floats, Frame, Side, TrueStep, Verdict, View, other

WIDTH, HEIGHT = 1280, 720
LIMIT_DEG = 8.0
DRILL = DrillStatus("Same rate, faster belt", 2, 5, "7.5 mph", 84.0)
REST = DrillStatus("Rest", 3, 5, "3 mph", 42.0)
RHYTHM = Rhythm(172.0, 174.0, 0.02, 60.0 / 174.0, -0.012, 12)
SHOWN = 10
"""Last landings of each foot that the invented past has."""
EARLIER_DEG, LATELY_DEG = (-2.1, 2.8, -1.2, 1.9), (-0.6, -1.5, -2.9, -2.4, -0.4, -1.0)
"""Shank angles of one foot against the limit, oldest first: some ahead, then all within."""
RIGHT_DEG = -0.7
"""The right foot's against the left one's."""
UNSEEN = 3
"""The right foot's landing that could not be judged."""


def trail(newest: LandingMark) -> tuple[TrailMark, ...]:
    """Return the last landings of each foot before one, and that one as told.

    Where it is ahead its foot has been so lately, the other one not: what names a foot.
    """
    marks = []
    sides: tuple[Side, Side] = ("left", "right")
    for number in range(SHOWN):
        for side in sides:
            over = [*EARLIER_DEG, *LATELY_DEG]
            if newest.verdict == "ahead" and side == newest.side:
                over = [*LATELY_DEG, *EARLIER_DEG]
            deg = over[number] + (RIGHT_DEG if side == "right" else 0.0)
            if number == UNSEEN and side == "right":
                marks.append(TrailMark(side, None, None, False))
                continue
            verdict: Verdict = "ahead" if deg > 0.0 else "within"
            marks.append(TrailMark(side, verdict, deg, verdict == "ahead", LIMIT_DEG + deg))
    judged, shank_deg = newest.verdict, newest.shank_deg
    known = judged is not None and shank_deg is not None
    marks.append(TrailMark(
        newest.side, judged, shank_deg - LIMIT_DEG if known and shank_deg is not None else None,
        judged == "ahead", shank_deg if known else None,
    ))  # fmt: skip
    return tuple(marks)


def last(marks: tuple[TrailMark, ...], side: Side) -> list[TrailMark]:
    """Return a foot's last landings, as many as the screen shows."""
    return [mark for mark in marks if mark.side == side][-SHOWN:]


def share(marks: tuple[TrailMark, ...], side: Side) -> float:
    """Return a foot's share within, of its landings that are shown and judged."""
    verdicts = [mark.verdict for mark in last(marks, side) if mark.verdict is not None]
    return verdicts.count("within") / len(verdicts)


def drill_of(marks: tuple[TrailMark, ...], **changes: Any) -> DrillStatus:
    """Return a drill whose shares are those of its last landings."""
    told = (("left", share(marks, "left")), ("right", share(marks, "right")))
    return replace(DRILL, **{"share_within": told, **changes})


def figures(scene: Scene, **changes: Any) -> CoachFigures:
    """Return the coach's figures of a scene: its drill, its rate, its last landings."""
    drill, rhythm = scene.drill, scene.rhythm
    if drill is None or rhythm is None:
        raise ValueError("the coach's figures are of a drill and a rhythm")
    legs = []
    sides: tuple[Side, Side] = ("left", "right")
    for side, sure in zip(sides, (0.81, 0.52), strict=True):
        marks = last(scene.trail, side)
        judged = [mark for mark in marks if mark.verdict is not None]
        legs.append(LegFigures(
            side, LIMIT_DEG, "baseline", median(m.shank_deg or 0.0 for m in judged),
            share(scene.trail, side), len(judged), 1.0 - len(judged) / len(marks), sure,
        ))  # fmt: skip
    gate = GateFigures(0.9, 8, 60.0, True)
    own = CoachFigures(
        drill.number, drill.count, drill.name, "mastery", drill.seconds_left,
        drill.belt_speed, "7.3 mph", rhythm.target_spm, rhythm.step_rate_spm, (legs[0], legs[1]),
        gate, "every step", True, 4, 1, ("flag_belt_off",),
    )  # fmt: skip
    return replace(own, **changes)


class Scenery:
    """The drawn runner at chosen instants, with scenes made around it."""

    def __init__(self, faces: Facing, shank_deg: float) -> None:
        """Find out when the runner's feet come down."""
        self.view = picture.demo_view(WIDTH, HEIGHT, faces)
        self.gait = GaitParameters(shank_deg=shank_deg, rate_spm=172.0, belt_mps=3.3)
        self.camera = picture.Painter(self.view, WIDTH, HEIGHT)
        scout = Runner(self.gait)
        scout.figure_at(8.0)
        self.steps = scout.truth()

    def contact(self, near: bool = True) -> TrueStep:
        """Return a contact of the near or the far leg."""
        side = self.view.near_side if near else other(self.view.near_side)
        return next(t for t in self.steps if t.t_contact_s > 4.0 and t.side == side)

    def scene(self, t_s: float, verdict: Verdict | None, step: TrueStep) -> Scene:
        """Return the scene at `t_s`, with the mark of `step` as old as it is then."""
        runner = Runner(self.gait)  # a new one: its time may not go back
        landed = runner.figure_at(step.t_contact_s)
        figure = runner.figure_at(t_s)
        frame = Frame(t_s, 0, self.camera.paint(figure))
        mark = landing(landed, step, self.view, verdict, t_s)
        near, far = self.view.near_side, other(self.view.near_side)
        past = trail(mark)
        return Scene(
            t_s, "drill", frame, self.view, leg_px(figure.legs[near], self.view),
            leg_px(figure.legs[far], self.view), drill_of(past), RHYTHM, (mark,), past,
        )  # fmt: skip

    def still(self, step: TrueStep, verdict: Verdict) -> LandingStill:
        """Return a landing frozen at its contact, cut out as the station itself does."""
        scene = self.scene(step.t_contact_s, verdict, step)
        if scene.frame is None:
            raise ValueError("a still needs a picture")
        cut = cut_out(scene.frame, scene.landings[0], self.view, LIMIT_DEG)
        if cut is None:
            raise ValueError("the landing lies outside the picture")
        return cut


def leg_px(leg: Leg, view: View) -> Floats:
    """Return (5, 2): hip, knee, ankle, heel, toe, image pixels."""
    return view.to_image(np.stack([leg.hip, leg.knee, leg.ankle, leg.heel, leg.toe]))


def landing(
    figure: Figure, step: TrueStep, view: View, verdict: Verdict | None, t_s: float
) -> LandingMark:
    """Return the mark of a contact, `figure` being the runner at that instant."""
    leg = figure.legs[step.side]
    _, knee, ankle, heel, toe = (tuple(map(float, p)) for p in leg_px(leg, view))
    shank_m = float(np.hypot(*(leg.knee - leg.ankle)))
    limit_m = np.array([leg.knee[0] + shank_m * np.sin(np.radians(LIMIT_DEG)), 0.0])
    return LandingMark(
        step.side, verdict, t_s - step.t_contact_s, knee, ankle, heel, toe,
        pair(view.to_image(view.plumb_on_belt(leg.knee))),
        pair(view.to_image(view.plumb_on_belt(limit_m))),
        pair(view.to_image(view.plumb_on_belt(leg.ankle))),
        step.shank_deg,
    )  # fmt: skip


def pair(xy: Floats) -> tuple[float, float]:
    """Return a point as a pair of floats."""
    return float(xy[0]), float(xy[1])


def scenes() -> dict[str, Scene]:
    """Return every screen by name."""
    good, bad = Scenery("right", 5.0), Scenery("right", 16.0)
    other_way = Scenery("left", 16.0)
    near = good.contact()
    reach = bad.contact()
    far = good.contact(near=False)
    within = replace(
        good.scene(near.t_contact_s + 0.03, "within", near),
        sentence=Sentence("good_landings", "praise"),
    )
    ahead = replace(
        bad.scene(reach.t_contact_s + 0.03, "ahead", reach),
        sentence=Sentence("reach_less_right", "correction"),
        rhythm=Rhythm(163.0, 174.0, 0.20, 60.0 / 174.0, 0.06, 13),
    )
    step = other_way.contact()
    left = replace(
        other_way.scene(step.t_contact_s + 0.04, "ahead", step),
        sentence=Sentence("reach_less_left", "correction"),
    )
    stills = (bad.still(reach, "ahead"), good.still(near, "within"))
    waiting = replace(within, landings=(), sentence=None)
    empty = replace(waiting, leg_near_px=None, leg_far_px=None, trail=())
    changed = drill_of(within.trail, name="Faster", number=4, belt_speed="8.5 mph",
                       belt_changes=True, belt_rises=True)  # fmt: skip
    return {
        "01-within": within,
        "02-ahead": ahead,
        "03-ahead-facing-left": left,
        "04-fading": good.scene(near.t_contact_s + 0.27, "within", near),
        "05-no-verdict": replace(
            good.scene(far.t_contact_s + 0.03, None, far),
            rhythm=Rhythm(183.0, 174.0, 0.30, 60.0 / 174.0, -0.07, 13),
            notices=("Sound is off: no speaker found", "12 pictures dropped in the last minute"),
        ),
        "06-belt-changes": replace(
            ahead, drill=drill_of(ahead.trail, name="Faster", number=4, belt_speed="8.5 mph",
                                  belt_changes=True, belt_rises=True),
        ),
        "07-guides-off": replace(ahead, show_guides=False),
        "08-view-off": replace(ahead, show_view=False),
        "09-countdown": replace(
            waiting, state="countdown", drill=replace(changed, seconds_left=2.4),
            sentence=Sentence("get_ready", "calm"),
        ),
        "10-countdown-same-belt": replace(
            waiting, state="countdown", drill=replace(DRILL, seconds_left=4.0),
            sentence=Sentence("get_ready", "calm"),
        ),
        "11-rest": replace(
            empty, state="rest", sentence=Sentence("rest_now", "calm"),
            drill=replace(REST, seconds_left=57.0, belt_changes=True, belt_rises=False),
        ),
        "32-what-just-happened": replace(ahead, stills=stills, landings=()),
        "33-rest-with-stills": replace(
            empty, state="rest", drill=REST, sentence=Sentence("rest_now", "calm"), stills=stills,
        ),
        "12-paused": replace(empty, state="paused", sentence=Sentence("paused", "calm")),
        "13-done": replace(empty, state="done", sentence=Sentence("session_done", "praise")),
        "14-trouble": replace(
            empty, state="trouble", sentence=Sentence("feet_out_of_view", "warning")
        ),
        "15-steps-left": replace(
            empty, sentence=Sentence("learning_view", "calm"), view=None, show_verdict=False,
            drill=DrillStatus("Baseline", 1, 5, "10:00 min/mile", None, 120),
            rhythm=Rhythm(None, None, None, None, None),
        ),
        "16-no-picture": Scene(0.0, "trouble", None, sentence=Sentence("nobody", "warning")),
        **drill_scenes(within, waiting, left, good.scene(far.t_contact_s + 0.03, None, far)),
    }  # fmt: skip


def untold(scene: Scene) -> Scene:
    """Return a scene in which the runner is not told how the landing was judged."""
    marks = (replace(m, verdict=None, told=False, limit_px=None) for m in scene.landings)
    return replace(scene, trail=(), show_verdict=False, landings=tuple(marks))


def drill_scenes(within: Scene, waiting: Scene, left: Scene, far: Scene) -> dict[str, Scene]:
    """Return the screens of belt changes, hops, felt landings and the coach's keys."""
    asked = replace(DRILL, name="Faster", number=4, belt_speed="8.5 mph", belt_waits=True,
                    belt_measured="7.4 mph", belt_rises=True)  # fmt: skip
    hopping = DrillStatus("Hops", 4, 6, "3.5 mph", None, hop=HopStatus("left", 6, 1, 5))
    proving = replace(DRILL, proving=True, share_within=(), seconds_left=24.0)
    felt = replace(waiting, state="felt", leg_near_px=None, leg_far_px=None, trail=(), coach=None)
    return {
        "17-belt-waits": replace(waiting, drill=asked),
        "18-belt-waits-unmeasured": replace(
            waiting, drill=replace(asked, belt_measured=None, belt_rises=None,
                                   belt_speed="10:30 min/mile"),
        ),
        "19-belt-waits-slower": replace(
            waiting, drill=replace(asked, belt_speed="12 km/h", belt_measured="13.4 km/h",
                                   belt_rises=False),
        ),
        "20-hops-left": replace(untold(far), drill=hopping),
        "21-hops-right": replace(
            untold(within), drill=replace(hopping, hop=HopStatus("right", 1, 4, 5)),
        ),
        "22-felt-question": replace(felt, felt=FeltStatus()),
        "23-felt-typed": replace(felt, felt=FeltStatus(typed=1)),
        "24-felt-beside": replace(felt, felt=FeltStatus(8, None, 6, 10)),
        "25-on-your-own": replace(
            untold(within), drill=proving, sentence=Sentence("on_your_own", "calm"),
        ),
        "26-coach-strip": replace(
            within, coach=figures(within, belt_measured="7.0 mph"),
            answer=KeyAnswer("key_rate_set", "done", (("rate", "174"),)),
            notices=("Belt 6 % slower than set - check speed, scale",),
        ),
        "27-coach-strip-facing-left": replace(
            left, coach=figures(left, flags=()),
            answer=KeyAnswer("key_end_again", "asks"),
        ),
        "28-coach-strip-in-rest": replace(
            waiting, state="rest", trail=(), drill=REST, sentence=Sentence("rest_now", "calm"),
            coach=figures(replace(within, drill=REST), waiting="time", belt_measured="3.0 mph",
                          target_spm=None, rate_spm=None, gate=None, flags=()),
            answer=KeyAnswer("key_no_rate", "refused"),
        ),
        "30-overload": replace(
            waiting, trail=(), sentence=Sentence("slower_or_rest", "warning"),
        ),
        "31-come-forward": replace(
            waiting, state="trouble", heading="take_care", trail=(),
            sentence=Sentence("come_forward", "warning"),
        ),
        "29-key-refused": replace(within, answer=KeyAnswer("key_nothing_waits", "refused")),
    }  # fmt: skip


def main(folder: str, language: str = "en", width: int = WIDTH, height: int = HEIGHT) -> None:
    """Paint all screens into `folder`, in a language and a size."""
    words = read_words(language)
    painter = Painter(width, height, words)
    for name, scene in scenes().items():
        save_still(Path(folder) / f"{name}.png", painter.paint(scene))
    save_still(Path(folder) / "90-keys.png", keys_card(width, height, words))


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3, 5):
        sys.exit("usage: python demo/screens.py FOLDER [LANGUAGE [WIDTH HEIGHT]]")
    main(sys.argv[1], *sys.argv[2:3], *map(int, sys.argv[3:5]))
