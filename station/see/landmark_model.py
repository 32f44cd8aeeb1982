"""The pose package's landmark model without the part that nobody asks for.

The model also draws a silhouette of the body, 256 x 256, which takes two fifths of its time: it is
worked out at each frame even where the graph is told to give none. Here its operators are left
out; what stays is as it was, to the byte, and so are the landmarks, to the last bit.

The file is a flatbuffer; field numbers are those of TensorFlow Lite's schema, version 3
(`tensorflow/compiler/mlir/lite/schema/schema.fbs`).
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from flatbuffers import encode, number_types
from flatbuffers.table import Table

from station.errors import StationError

MODEL_SUBGRAPHS, SUBGRAPH_TENSORS, SUBGRAPH_OUTPUTS, SUBGRAPH_OPERATORS = 2, 0, 2, 3
OPERATOR_INPUTS, OPERATOR_OUTPUTS, TENSOR_SHAPE = 1, 2, 0
PRESENCE, SILHOUETTE = 1, 2
"""Places among the outputs: whether a body is there (one number), and where (a picture)."""
SHAPES = ([1, 195], [1, 1], [1, 256, 256, 1], [1, 64, 64, 39], [1, 117])
"""Of the outputs of the model that is known."""


@lru_cache(maxsize=1)
def landmarks_only(path: Path) -> bytes:
    """Return the model's file without the operators that only its silhouette needs.

    The silhouette's place among the outputs is taken by a number that is worked out anyway.

    Args:
        path: The package's `pose_landmark_full.tflite`.

    Raises:
        StationError: It is another model than the one known.
    """
    data = bytearray(path.read_bytes())
    graph = _Graph(data)
    if [graph.shape(tensor) for tensor in graph.outputs] != list(SHAPES):
        raise StationError(
            "the pose package has another landmark model than the one known; "
            "install mediapipe==0.10.21"
        )
    (stand_in, *_) = graph.inputs_of(graph.maker[graph.outputs[PRESENCE]])
    graph.put_output(SILHOUETTE, stand_in)
    graph.keep_operators(graph.needed())
    return bytes(data)


class _Graph:
    """The model's only subgraph, changed in place."""

    def __init__(self, data: bytearray) -> None:
        self._data = data
        root = Table(data, encode.Get(number_types.UOffsetTFlags.packer_type, data, 0))
        self._graph = _table(root, _elements(root, MODEL_SUBGRAPHS)[0])
        self._tensors = _elements(self._graph, SUBGRAPH_TENSORS)
        self._operators = _elements(self._graph, SUBGRAPH_OPERATORS)
        self.outputs = _numbers(self._graph, SUBGRAPH_OUTPUTS)
        self.maker = {
            made: number
            for number in range(len(self._operators))
            for made in _numbers(_table(self._graph, self._operators[number]), OPERATOR_OUTPUTS)
        }
        """By a tensor's number, the operator that makes it."""

    def shape(self, tensor: int) -> list[int]:
        return _numbers(_table(self._graph, self._tensors[tensor]), TENSOR_SHAPE)

    def inputs_of(self, operator: int) -> list[int]:
        return _numbers(_table(self._graph, self._operators[operator]), OPERATOR_INPUTS)

    def put_output(self, place: int, tensor: int) -> None:
        self.outputs[place] = tensor
        at = _elements(self._graph, SUBGRAPH_OUTPUTS)[place]
        encode.Write(number_types.Int32Flags.packer_type, self._data, at, tensor)

    def needed(self) -> list[int]:
        """Return the operators that the outputs need, in order."""
        found: set[int] = set()
        waiting = list(self.outputs)
        while waiting:
            operator = self.maker.get(waiting.pop())  # what none makes is an input or a constant
            if operator is not None and operator not in found:
                found.add(operator)
                waiting += self.inputs_of(operator)
        return sorted(found)

    def keep_operators(self, kept: list[int]) -> None:
        """Shorten the list of operators; each element is how far from itself its table lies."""
        offsets = number_types.UOffsetTFlags.packer_type
        tables = [_table(self._graph, self._operators[number]).Pos for number in kept]
        for at, table in zip(self._operators, tables, strict=False):
            encode.Write(offsets, self._data, at, table - at)
        encode.Write(offsets, self._data, self._operators[0] - 4, len(kept))


def _elements(table: Table, field: int) -> list[int]:
    """Return where the elements of a field's list lie; each takes 4 bytes."""
    offset = table.Offset(4 + 2 * field)
    if offset == 0:
        return []
    first = table.Vector(offset)
    return [first + 4 * place for place in range(table.VectorLen(offset))]


def _numbers(table: Table, field: int) -> list[int]:
    return [int(table.Get(number_types.Int32Flags, at)) for at in _elements(table, field)]


def _table(parent: Table, at: int) -> Table:
    """Return the table that the element at this place stands for."""
    return Table(parent.Bytes, parent.Indirect(at))
