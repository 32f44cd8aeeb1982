"""Two points that a person marks in the picture, and moves by arrow keys."""

from __future__ import annotations

from station.coach.setup.page import Grade, Mark
from station.coach.setup.values import Chosen, Clicked, Done, Nudged
from station.measure.setup.lines import Point

NUDGE_PX = 0.5


class TwoPoints:
    """Takes clicks: the first, the second, then whichever is nearer is moved."""

    def __init__(self) -> None:
        """Begin with none."""
        self._points: list[Point] = []
        self._last = 0

    def set(self, points: tuple[Point, Point]) -> None:
        """Begin with two."""
        self._points, self._last = list(points), 1

    def clear(self) -> None:
        """Forget them."""
        self._points, self._last = [], 0

    @property
    def pair(self) -> tuple[Point, Point] | None:
        """Both; None: not yet."""
        return (self._points[0], self._points[1]) if len(self._points) == 2 else None

    @property
    def last(self) -> Point | None:
        """The one that was marked or moved last."""
        return self._points[self._last] if self._points else None

    def take(self, done: Done) -> bool:
        """Take a click, an arrow key or `clear`; return whether anything has changed."""
        if isinstance(done, Clicked):
            self._click((done.x, done.y))
            return True
        if isinstance(done, Nudged) and self._points:
            x, y = self._points[self._last]
            self._points[self._last] = (x + NUDGE_PX * done.right, y + NUDGE_PX * done.down)
            return True
        if isinstance(done, Chosen) and done.id == "clear":
            self.clear()
            return True
        return False

    def _click(self, at: Point) -> None:
        if len(self._points) < 2:
            self._points.append(at)
            self._last = len(self._points) - 1
            return
        apart = [max(abs(at[0] - x), abs(at[1] - y)) for x, y in self._points]
        self._last = apart.index(min(apart))
        self._points[self._last] = at

    def marks(self, grade: Grade = "good") -> tuple[Mark, ...]:
        """Return the points, and the line through them."""
        found = [Mark("point", (point,), grade) for point in self._points]
        if len(self._points) == 2:
            found.insert(0, Mark("line", (self._points[0], self._points[1]), grade))
        return tuple(found)
