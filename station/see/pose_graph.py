"""The pose package's graph, as the station wants it, behind one small class.

Four changes are made to the expanded graph before it starts:

- each inference calculator gets its number of XNNPACK threads (two instead of one take about 0.6
  of the time a frame where nothing else runs, with bit-for-bit the same landmarks);
- the landmark model is given without the part that nobody asks for (`landmark_model.py`);
- whether a frame follows the last one or is detected afresh is asked frame by frame, through a
  stream into the gate that otherwise takes a fixed answer at the start. Detecting anew then costs
  one detection (about one and a half frames' time more), stalls nothing, needs no second graph,
  and the tracking goes on from what was found;
- the projection of the landmarks is told the image's size, which it asks for in the log.
"""

from __future__ import annotations

import os
import warnings
from pathlib import Path
from typing import Any

import numpy as np

from station.errors import DeviceTrouble, StationError
from station.see.landmark_model import landmarks_only
from station.see.quiet import without_lines
from station.see.unused_parts import without_parts
from station.see.yielding import made_yielding
from station.values import Floats

GRAPH = "mediapipe/modules/pose_landmark/pose_landmark_cpu.binarypb"
MODEL = "mediapipe/modules/pose_landmark/pose_landmark_full.tflite"
LOADER, LOADED_AS = "poselandmarkmodelloader", "landmark_model"
GATE_OUTPUT = "gated_prev_pose_rect_from_landmarks"
FOLLOW = "follow_last_frame"
CHATTER = (
    "Created TensorFlow Lite XNNPACK delegate for CPU",
    "All log messages before absl::InitializeLog()",
    "Feedback manager requires a model with a single signature inference",
    "Using NORM_RECT without IMAGE_DIMENSIONS",
)
"""What the package says on the error stream at every start; none of it matters to a user."""
UNUSED = (
    "mediapipe.python.solutions.drawing_styles",
    "mediapipe.python.solutions.drawing_utils",
    "mediapipe.tasks",
    "mediapipe.tasks.python",
)
"""Parts of the package that draw or load other models: with the plotting library that they import
they take three times as long to import as all the rest."""


def load_package() -> Any:
    """Import the pose package quietly and return it.

    Raises:
        DeviceTrouble: It is not installed, or lacks a system library; the text says what to do.
    """
    os.environ.setdefault("GLOG_minloglevel", "2")
    os.environ.setdefault("TF_CPP_MIN_LOG_LEVEL", "3")
    try:
        with warnings.catch_warnings(), without_lines(CHATTER), without_parts(UNUSED):
            warnings.simplefilter("ignore")  # deprecations inside the package are not ours to mend
            import mediapipe
            import mediapipe.python.solutions.pose  # registers the calculators' options
    except ModuleNotFoundError as error:
        raise DeviceTrouble(
            f"the pose model cannot be loaded: {error}. "
            "Install it with the project's constraints file: pip install mediapipe==0.10.21"
        ) from error
    except (ImportError, OSError) as error:
        raise DeviceTrouble(
            f"the pose model cannot be loaded ({error}). "
            "On Debian or Ubuntu: apt install libgl1 libglib2.0-0"
        ) from error
    return mediapipe


def package_root(package: Any) -> Path:
    """Return the folder that the package's graphs and models are named from."""
    return Path(package.__file__).resolve().parent.parent


def build_config(package: Any, threads: int, whole: bool = False) -> Any:
    """Expand the package's pose graph and make the station's changes to it.

    Args:
        package: What `load_package` returned.
        threads: XNNPACK threads of each inference calculator, 1 or more.
        whole: Leave the landmark model to the graph, which loads it as the package has it. Else
            it is to be given to the graph as the side packet `LOADED_AS`.

    Returns:
        A CalculatorGraphConfig message.

    Raises:
        StationError: The graph is not the one known (another release of the package).
    """
    from mediapipe.calculators.tensor import inference_calculator_pb2
    from mediapipe.framework import calculator_pb2

    root = package_root(package)
    package.resource_util.set_resource_dir(str(root))
    validated = package.ValidatedGraphConfig()
    validated.initialize(binary_graph_path=str(root / GRAPH))
    config = calculator_pb2.CalculatorGraphConfig()
    config.ParseFromString(validated.binary_config)

    inference_options = inference_calculator_pb2.InferenceCalculatorOptions.ext
    inferences = gates = loaders = 0
    for node in config.node:
        if node.calculator.startswith("InferenceCalculator"):
            options = node.options.Extensions[inference_options]
            options.delegate.xnnpack.num_threads = threads
            inferences += 1
        elif node.calculator == "GateCalculator" and GATE_OUTPUT in node.output_stream:
            del node.input_side_packet[:]
            node.input_stream.append(f"ALLOW:{FOLLOW}")
            config.input_stream.append(FOLLOW)
            gates += 1
        elif node.calculator == "LandmarkProjectionCalculator":
            node.input_stream.append("IMAGE_DIMENSIONS:image_size")
        elif node.calculator == "TfLiteModelCalculator" and LOADER in node.name:
            if not whole:
                node.input_side_packet[:] = [f"MODEL_BLOB:{LOADED_AS}"]
                config.input_side_packet.append(LOADED_AS)
            loaders += 1
    if not whole:  # else the file is read all the same
        for node in [node for node in config.node if LOADER in node.name]:
            if node.calculator != "TfLiteModelCalculator":
                config.node.remove(node)
    if (inferences, gates, loaders) != (2, 1, 1):
        raise StationError(
            f"the pose package {getattr(package, '__version__', '?')} has another graph than the "
            "one known; install mediapipe==0.10.21"
        )
    return config


class PoseGraph:
    """One running pose graph: pictures in, landmarks out, one at a time."""

    def __init__(self, threads: int, whole: bool = False) -> None:
        """Start the graph; see `load_package` and `build_config` for what may go wrong.

        Args:
            threads: XNNPACK threads of each inference.
            whole: With the landmark model as the package has it: the same landmarks, later.
        """
        package = load_package()
        self._create = package.packet_creator
        self._get = package.packet_getter
        self._rgb = package.ImageFormat.SRGB
        self._newest: Any = None
        self._graph = made_yielding(lambda: self._started(package, threads, whole))

    def _started(self, package: Any, threads: int, whole: bool) -> Any:
        graph = package.CalculatorGraph(graph_config=build_config(package, threads, whole))
        graph.observe_output_stream("pose_landmarks", self._keep, True)
        packets = self._side_packets()
        if not whole:
            model = landmarks_only(package_root(package) / MODEL)
            packets[LOADED_AS] = self._create.create_string(model)
        graph.start_run(packets)
        return graph

    def _side_packets(self) -> dict[str, Any]:
        return {
            "model_complexity": self._create.create_int(1),
            # its own smoothing lags by about 1 cm on fast feet
            "smooth_landmarks": self._create.create_bool(False),
            "enable_segmentation": self._create.create_bool(False),
            "smooth_segmentation": self._create.create_bool(False),
        }

    def _keep(self, _stream: str, packet: Any) -> None:
        self._newest = packet

    def find(self, rgb: np.ndarray, follow: bool, t_us: int) -> tuple[Floats, Floats] | None:
        """Return the landmarks in one picture.

        Args:
            rgb: (height, width, 3) uint8, RGB, contiguous. Handed over: it is made read-only, so
                that the graph need not copy it.
            follow: True: look where the last frame's body was; False: detect afresh.
            t_us: Time in microseconds; greater than at the call before.

        Returns:
            (33, 2) points as shares of width and height, and (33,) visibility from 0 to 1; None
            where nobody is found.
        """
        rgb.flags.writeable = False
        self._newest = None
        picture = self._create.create_image_frame(rgb, image_format=self._rgb)
        self._graph.add_packet_to_input_stream(FOLLOW, self._create.create_bool(follow).at(t_us))
        self._graph.add_packet_to_input_stream("image", picture.at(t_us))
        self._graph.wait_until_idle()
        packet, self._newest = self._newest, None
        if packet is None or packet.is_empty():
            return None
        marks = self._get.get_proto(packet).landmark
        table = np.array([(mark.x, mark.y, mark.visibility) for mark in marks], dtype=np.float64)
        return table[:, :2], table[:, 2]

    def close(self) -> None:
        """End the graph's threads."""
        self._graph.close()
