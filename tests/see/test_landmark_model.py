"""The landmark model without its silhouette: smaller, and the same landmarks to the last bit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from station.clock import StreamClock
from station.commands.simulated import demo_scenario, demo_source
from station.errors import StationError
from station.see.landmark_model import _Graph, landmarks_only
from station.see.pose_graph import MODEL, load_package, package_root
from station.see.pose_model import MediapipePose


@pytest.fixture(scope="module")
def path() -> Path:
    return package_root(load_package()) / MODEL


def test_only_what_the_silhouette_needs_is_left_out(path: Path) -> None:
    whole, trimmed = (_Graph(bytearray(data)) for data in (path.read_bytes(), landmarks_only(path)))
    assert len(whole.needed()) == 332
    assert trimmed.needed() == list(range(286))  # all that is there is needed
    others = [place for place in range(5) if place != 2]
    assert [trimmed.outputs[i] for i in others] == [whole.outputs[i] for i in others]
    for place in others:
        maker, before = (g.maker[g.outputs[place]] for g in (trimmed, whole))
        assert trimmed.inputs_of(maker) == whole.inputs_of(before)
    assert path.read_bytes() != landmarks_only(path)  # the package's own file is as it was
    assert len(path.read_bytes()) == len(landmarks_only(path))


def test_landmarks_are_the_whole_models_to_the_last_bit() -> None:
    whole, trimmed = MediapipePose(whole=True), MediapipePose()
    source = demo_source(demo_scenario())
    source.start(StreamClock(), paced=False)
    try:
        for _ in range(12):
            frame = source.receive(0.0)
            assert frame is not None
            a, b = whole.find(frame), trimmed.find(frame)
            assert a.found
            np.testing.assert_array_equal(a.xy_px, b.xy_px)
            np.testing.assert_array_equal(a.visibility, b.visibility)
    finally:
        source.stop()
        whole.close()
        trimmed.close()


def test_another_model_is_refused(path: Path, tmp_path: Path) -> None:
    data = path.read_bytes()
    other = tmp_path / "other.tflite"
    graph = _Graph(bytearray(data))
    graph.put_output(2, graph.outputs[0])
    other.write_bytes(bytes(graph._data))
    with pytest.raises(StationError, match="another landmark model"):
        landmarks_only(other)
