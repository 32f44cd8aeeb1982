"""The drawn runner of an unattended visit does what the pages ask of a body."""

from station.clock import StreamClock
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import demo_view
from station.simulate.staging import StagedRunner
from station.simulate.visiting import STEPS_ON_S, VisitingSource


class Body(StagedRunner):
    """Keeps what it was told to do."""

    def __init__(self) -> None:
        super().__init__(lambda: Runner(GaitParameters()))
        self.told: list[str] = []

    def act(self, what) -> None:
        self.told.append(what)
        super().act(what)


def test_it_comes_stands_runs_in_the_countdown_and_goes() -> None:
    body = Body()
    source = VisitingSource(body, demo_view(160, 90), 160, 90, fps=2.0)
    source.start(StreamClock(), paced=False)
    for state in ("who", "notice", "view_check"):
        source.follow(state, 0.0)
    assert body.told == ["away", "away", "stand"]
    source.follow("session", 1.0)
    for _ in range(round(2 * (1.0 + STEPS_ON_S))):
        source.receive(0.0)
    assert body.told[3:] == ["stand"], "the belt is started first"
    source.receive(0.0)
    assert body.told[4:] == ["run"]
    for state in ("pain_after", "summary", "waiting", "staff_call"):
        source.follow(state, 20.0)
    assert body.told[5:] == ["stand", "stand", "away", "away"]


def test_who_leaves_before_running_does_not_run() -> None:
    body = Body()
    source = VisitingSource(body, demo_view(160, 90), 160, 90, fps=2.0)
    source.start(StreamClock(), paced=False)
    source.follow("session", 0.0)
    source.follow("waiting", 1.0)
    for _ in range(30):
        source.receive(0.0)
    assert "run" not in body.told
