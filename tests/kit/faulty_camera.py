"""A camera as OpenCV shows it, with faults that come and go by time; time moves by hand."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import cv2
import numpy as np
from still_camera import scenery

from station.clock import StreamClock
from station.see.grabber import Grabber
from station.values import Fault

FPS = 30.0
OPEN_S = 1.2
"""What opening a camera takes: about what a USB camera does (common practice, no source)."""
SILENT_S = 1.0
"""How long a grab blocks before it gives up (`see/opencv.py`)."""

TURNED_DEG = 1.5


class FaultyCamera:
    """Gives pictures of a room; `state(t_s)` says what it does at a time.

    `ok`; `gone`: unplugged, its device file is not there; `silent`: it blocks and gives nothing;
    `dead`: it is there, but each grab fails at once until it is opened anew; `frozen`: the same
    picture again; `slow`: a third of the rate; `dark`; `moved`: pushed
    aside; `turned`: about its axis, by `TURNED_DEG`.
    """

    def __init__(self, state: Callable[[float], str], seconds: float = 20.0) -> None:
        self.clock = StreamClock()
        self.state = state
        self.opens: list[float] = []
        self.faults: list[tuple[float, tuple[Fault, ...]]] = []
        self.good_s: list[float] = []
        self.grabbed_s = 0.0
        self._dead_since_open = False
        self._pictures = 0
        self._made = _pictures()
        self.grabber = Grabber(
            0, (320, 180), FPS, self.clock, self.open, self.wait, monotonic=self.clock.now_s,
            present=lambda _: self.now != "gone",
        )  # fmt: skip
        self.grabber.open()
        while self.clock.now_s() < seconds:
            frame = self.grabber.step()
            if frame is not None:
                self.good_s.append(self.clock.now_s())
            faults = self.grabber.state.faults
            if not self.faults or faults != self.faults[-1][1]:
                self.faults.append((self.clock.now_s(), faults))
        self.grabber.close()

    @property
    def now(self) -> str:
        return self.state(self.clock.now_s())

    def told(self, key: str) -> tuple[float, float]:
        """Return when a fault was told of first, and when it was over."""
        began = next(t_s for t_s, now in self.faults if key in {f.key for f in now})
        ends = (t_s for t_s, now in self.faults if t_s > began and key not in {f.key for f in now})
        return began, next(ends, float("inf"))

    def keys(self) -> set[str]:
        return {fault.key for _, now in self.faults for fault in now}

    def wait(self, seconds: float) -> None:
        self.clock.move_to(self.clock.now_s() + seconds)

    def open(self, device: int | str, width: int, height: int, fps: float) -> FaultyCamera:
        self.opens.append(self.clock.now_s())
        self.wait(OPEN_S)
        self._dead_since_open = False
        return self

    def isOpened(self) -> bool:  # noqa: N802
        return self.now != "gone"

    def get(self, prop: int) -> float:
        return 1000.0 * self.grabbed_s if prop == cv2.CAP_PROP_POS_MSEC else FPS

    def set(self, prop: int, value: float) -> bool:
        return True

    def grab(self) -> bool:
        state = self.now
        self._dead_since_open |= state == "dead"
        if state == "silent":
            self.wait(SILENT_S)
            return False
        if state == "gone" or self._dead_since_open:
            self.wait(0.001)
            return False
        self.wait((3.0 if state == "slow" else 1.0) / FPS)
        self.grabbed_s = self.clock.now_s()
        return True

    def retrieve(self) -> tuple[bool, np.ndarray]:
        state = self.now
        self._pictures += state != "frozen"
        kind = state if state in ("dark", "moved", "turned") else "ok"
        return True, self._made[kind][self._pictures % 8]

    def release(self) -> None: ...


@lru_cache(maxsize=1)
def _pictures() -> dict[str, list[np.ndarray]]:
    """Eight pictures of each kind, each with other noise."""
    noise = np.random.default_rng(1).integers(-4, 5, (8, 180, 320, 3)).astype(np.int16)
    room = scenery(320, 180).astype(np.int16)
    made = {"ok": room + noise, "dark": room // 100 + noise // 4}
    for kind, turn_deg in (("moved", 0.0), ("turned", TURNED_DEG)):
        way = cv2.getRotationMatrix2D((160, 90), turn_deg, 1.0)
        way[0, 2] += 9.0
        seen = cv2.warpAffine(room, way, (320, 180), borderMode=cv2.BORDER_REPLICATE)
        made[kind] = seen + noise
    return {kind: list(np.clip(all_, 0, 255).astype(np.uint8)) for kind, all_ in made.items()}


def between(begin_s: float, end_s: float, what: str) -> Callable[[float], str]:
    """Return a camera's course: `what` from one time to another, well before and after."""
    return lambda t_s: what if begin_s <= t_s < end_s else "ok"
