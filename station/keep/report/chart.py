"""The ground of every picture in a report: one size, one style, out as SVG text.

Pictures are drawn at the size at which they are read, two beside each other on a sheet and one on
a phone, so that their text is never shrunk.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from station.keep.report import look

WIDTH_IN = 3.75
PER_INCH = 96
STYLE: Any = {
    "figure.dpi": PER_INCH,
    "savefig.dpi": PER_INCH,
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 8.0,
    "axes.labelsize": 8.0,
    "axes.titlesize": 9.0,
    "xtick.labelsize": 8.0,
    "ytick.labelsize": 8.0,
    "text.color": look.INK,
    "axes.labelcolor": look.MUTED,
    "axes.edgecolor": look.LINE,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": look.LINE,
    "ytick.color": look.LINE,
    "xtick.labelcolor": look.MUTED,
    "ytick.labelcolor": look.MUTED,
    "xtick.major.size": 3.0,
    "ytick.major.size": 0.0,
    "grid.color": look.LINE,
    "grid.linewidth": 0.6,
    "axes.axisbelow": True,
    "figure.facecolor": "none",
    "axes.facecolor": "none",
    "savefig.facecolor": "none",
    "svg.fonttype": "none",
    "svg.hashsalt": "landing-station",
    "path.simplify": True,
}


@dataclass(frozen=True, slots=True)
class Room:
    """What a picture leaves free around its axes, in pixels of 1/96 inch."""

    left: float = 34.0
    right: float = 6.0
    bottom: float = 22.0
    """One line of labels below the axis."""
    top: float = 8.0


LABELLED = Room(bottom=38.0)
"""With a name below the axis, too."""


def rows_room(labels: Sequence[str], right: float = 44.0, named: bool = False) -> Room:
    """Return the room for rows that are named at the left, and counted at the right."""
    longest = max((len(line) for label in labels for line in label.split("\n")), default=0)
    return Room(left=14.0 + 5.6 * longest, right=right, bottom=38.0 if named else 22.0)


def draw(paint: Callable[[Axes], None], height_in: float, name: str, room: Room) -> str:
    """Draw one picture.

    Its margins are given, as to find them by trial would draw everything twice.

    Args:
        paint: Paints it.
        height_in: Its height, inches at 96 pixels.
        name: Of the picture; keeps its inner names apart from those of others on the page.
        room: What is left free around the axes.

    Returns:
        An `<svg>` element, scaling with the page's width; text stays text.
    """
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH_IN, height_in))
        FigureCanvasSVG(figure)
        wide, high = WIDTH_IN * PER_INCH, height_in * PER_INCH
        figure.subplots_adjust(
            left=room.left / wide, right=1.0 - room.right / wide,
            bottom=room.bottom / high, top=1.0 - room.top / high,
        )  # fmt: skip
        paint(figure.add_subplot())
        with io.StringIO() as file:
            figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})
            text = file.getvalue()
    return _inline(text, name)


def _inline(text: str, name: str) -> str:
    """Cut the element out of the file, without fixed size, fonts and clashing names."""
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, count=1, flags=re.S)
    text = re.sub(r"<!--.*?-->", "", text, flags=re.S)
    text = re.sub(r' (?:width|height)="[\d.]+pt"', "", text, count=2)
    text = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', text)
    text = re.sub(r'(xlink:href="|url\()#', rf"\1#{name}-", text)
    return re.sub(r"\n\s*", "\n", text).strip()


def rows_axis(axes: Axes, labels: list[str]) -> None:
    """Let the vertical axis name rows, the first at the top."""
    axes.set_yticks(range(len(labels)), labels)
    axes.set_ylim(len(labels) - 0.45, -0.6)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0, labelcolor=look.INK)


def percent_axis(axes: Axes) -> None:
    """Let the horizontal axis go from 0 to 100 percent."""
    axes.set_xlim(0.0, 1.0)
    axes.set_xticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100 %"])
    axes.grid(True, axis="x")
