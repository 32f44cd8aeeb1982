from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator

import pytest

from station.live import SIDE_BY_SIDE
from station.see.pose_model import MediapipePose
from station.values import Frame, Pose


class LentModel:
    """The real pose model for one session, without the second or two that loading it takes."""

    def __init__(self, model: MediapipePose) -> None:
        self._model = model
        model.detect_anew()  # of an earlier session's last picture it must know nothing

    def find(self, frame: Frame) -> Pose:
        return self._model.find(frame)

    def detect_anew(self) -> None:
        self._model.detect_anew()

    def close(self) -> None:
        """It is needed again."""


@pytest.fixture(scope="session")
def lend_model() -> Iterator[Callable[[], LentModel]]:
    """Return what makes a pose model in the place of `MediapipePose`, from those loaded once.

    They are lent in turns: a session's models work at the same time.
    """
    loaded: list[MediapipePose] = []
    turns = itertools.cycle(range(SIDE_BY_SIDE))

    def lend(_threads: int = 1) -> LentModel:
        number = next(turns)
        while number >= len(loaded):
            loaded.append(MediapipePose())  # more threads are slow where other programs run
        return LentModel(loaded[number])

    yield lend
    for model in loaded:
        model.close()


@pytest.fixture
def lent_model(lend_model: Callable[[], LentModel], monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every session of a test have the real pose model, loaded once for all tests."""
    monkeypatch.setattr("station.commands.run.MediapipePose", lend_model)
    monkeypatch.setattr("station.commands.check.MediapipePose", lend_model)
