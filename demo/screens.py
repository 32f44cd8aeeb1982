"""Paint every screen from hand-made scenes: `python demo/screens.py FOLDER [LANGUAGE [W H]]`.

The runner in the pictures is the drawn one; the values beside are invented for the picture.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

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
DRILL = DrillStatus(
    "Same rate, faster belt", 2, 5, "7.5 mph", 84.0, None, False, (("left", 0.9), ("right", 0.8))
)
FIGURES = CoachFigures(
    2, 5, "Same rate, faster belt", "mastery", 84.0, "7.5 mph", "7.3 mph", 174.0, 172.0,
    (LegFigures("left", 7.8, "baseline", 6.4, 0.94, 58, 0.04, 0.81),
     LegFigures("right", 8.1, "baseline", 9.2, 0.71, 12, 0.34, 0.52)),
    GateFigures(0.9, 20, 120.0, True), "every step", True, 12, 3, ("flag_unjudged",),
)  # fmt: skip
RHYTHM = Rhythm(172.0, 174.0, 0.02, 60.0 / 174.0, -0.012, 12)


def trail(newest: LandingMark | None = None) -> tuple[TrailMark, ...]:
    """Return the last landings of each foot: mostly within, some ahead; the newest as told."""
    over = [-2.1, -1.2, 0.4, 2.8, 1.9, -0.6, -1.5, 3.6, -2.4, -1.0]
    marks = []
    for number, deg in enumerate(over):
        for side, shift in (("left", 0.0), ("right", -1.1)):
            value = deg + shift
            verdict: Verdict | None = "ahead" if value > 1.2 else "within"
            if number == 5 and side == "right":
                verdict = None
            known = None if verdict is None else value
            shank = None if known is None else LIMIT_DEG + known
            cued = verdict == "ahead"
            marks.append(TrailMark(side, verdict, known, cued, shank))  # type: ignore[arg-type]
    if newest is not None and newest.shank_deg is not None:
        judged, shank = newest.verdict, newest.shank_deg
        over_deg = None if judged is None else shank - LIMIT_DEG
        told = None if judged is None else shank
        marks.append(TrailMark(newest.side, judged, over_deg, judged == "ahead", told))
    return tuple(marks)


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
        return Scene(
            t_s, "drill", frame, self.view, leg_px(figure.legs[near], self.view),
            leg_px(figure.legs[far], self.view), DRILL, RHYTHM, (mark,), trail(mark),
        )  # fmt: skip


def still(scene: Scene, verdict: Verdict) -> LandingStill:
    """Return the newest landing of a scene, frozen as the station itself would cut it out."""
    mark, view, frame = scene.landings[0], scene.view, scene.frame
    if view is None or frame is None:
        raise ValueError("a still needs a picture and a view")
    cut = cut_out(frame, replace(mark, verdict=verdict), view, LIMIT_DEG)
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
    shank_m = float(leg.knee[1] - leg.ankle[1])
    limit_m = np.array([leg.knee[0] + shank_m * np.tan(np.radians(LIMIT_DEG)), 0.0])
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
        sentence=Sentence("reach_less", "correction"),
        rhythm=Rhythm(163.0, 174.0, 0.20, 60.0 / 174.0, 0.06, 13),
    )
    step = other_way.contact()
    left = replace(
        other_way.scene(step.t_contact_s + 0.04, "ahead", step),
        sentence=Sentence("reach_less_left", "correction"),
    )
    last, best = still(ahead, "ahead"), still(within, "within")
    waiting = replace(within, landings=(), sentence=None)
    empty = replace(waiting, leg_near_px=None, leg_far_px=None, trail=())
    changed = replace(DRILL, name="Faster", number=3, belt_speed="8.5 mph", belt_changes=True)
    sides: tuple[Side, Side] = ("left", "right")
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
        "06-belt-changes": replace(within, drill=changed, sentence=None),
        "07-guides-off": replace(within, show_guides=False),
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
            empty, state="rest", drill=replace(DRILL, belt_speed="3 mph", seconds_left=42.0),
            sentence=Sentence("rest_now", "calm"),
        ),
        "32-what-just-happened": replace(ahead, stills=(last, best), landings=()),
        "33-rest-with-stills": replace(
            empty, state="rest", drill=replace(DRILL, belt_speed="3 mph", seconds_left=42.0),
            sentence=Sentence("rest_now", "calm"), stills=(last, best),
        ),
        "12-paused": replace(empty, state="paused", sentence=Sentence("paused", "calm")),
        "13-done": replace(empty, state="done", sentence=Sentence("session_done", "praise")),
        "14-trouble": replace(
            empty, state="trouble", sentence=Sentence("feet_out_of_view", "warning")
        ),
        "15-steps-left": replace(
            within, sentence=Sentence("learning_view", "warning"), view=None, trail=(),
            drill=DrillStatus("Baseline", 1, 5, "10:00 min/mile", None, 120, False,
                              tuple((side, 1.0) for side in sides)),
            rhythm=Rhythm(None, None, None, None, None),
        ),
        "16-no-picture": Scene(0.0, "trouble", None, sentence=Sentence("nobody", "warning")),
        **drill_scenes(within, waiting, left),
    }  # fmt: skip


def drill_scenes(within: Scene, waiting: Scene, left: Scene) -> dict[str, Scene]:
    """Return the screens of belt changes, hops, felt landings and the coach's keys."""
    asked = replace(DRILL, name="Faster", number=3, belt_speed="8.5 mph", belt_waits=True,
                    belt_measured="7.4 mph", belt_rises=True)  # fmt: skip
    hopping = DrillStatus("Hops", 4, 6, "3.5 mph", None, hop=HopStatus("left", 6, 1, 5))
    proving = replace(DRILL, proving=True, share_within=(), seconds_left=24.0)
    neutral = tuple(replace(mark, verdict=None, limit_px=None) for mark in within.landings)
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
        "20-hops-left": replace(within, drill=hopping, landings=neutral, trail=()),
        "21-hops-right": replace(
            within, landings=neutral, trail=(),
            drill=replace(hopping, hop=HopStatus("right", 1, 4, 5)),
        ),
        "22-felt-question": replace(felt, felt=FeltStatus()),
        "23-felt-typed": replace(felt, felt=FeltStatus(typed=1)),
        "24-felt-beside": replace(felt, felt=FeltStatus(8, None, 6, 10)),
        "25-on-your-own": replace(
            within, drill=proving, landings=neutral, trail=(), show_verdict=False,
            sentence=Sentence("on_your_own", "calm"),
        ),
        "26-coach-strip": replace(
            within, coach=FIGURES, answer=KeyAnswer("key_rate_set", "done", (("rate", "176"),)),
            notices=("Belt 6 % slower than set - check speed, scale",),
        ),
        "27-coach-strip-facing-left": replace(
            left, coach=replace(FIGURES, waiting="proving", left=24.0),
            answer=KeyAnswer("key_end_again", "asks"),
        ),
        "28-coach-strip-in-rest": replace(
            waiting, state="rest", trail=(), drill=replace(DRILL, seconds_left=42.0),
            sentence=Sentence("rest_now", "calm"), coach=replace(FIGURES, waiting="time"),
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
