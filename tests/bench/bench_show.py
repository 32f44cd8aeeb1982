"""Time the painter and the recorder: `python tests/bench/bench_show.py`, one JSON line.

Painting is told as processor time of its own thread, which other work on the machine hardly
changes, and beside it as a multiple of laying the camera's picture on the screen, mirrored and
scaled, by itself: that much any screen costs, on any machine.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from demo.screens import HEIGHT, WIDTH, scenes
from station.coach.scene import Scene
from station.settings.words import read_words
from station.show.painter import Painter
from station.show.recorder import VideoRecorder

FRAMES = 120
STEP = 21
"""Frames from landing to landing."""
SIZES = {"720p": (1280, 720, 4.0), "1080p": (1920, 1080, 8.0), "upright": (720, 1280, 4.0)}
"""Width, height, and the most milliseconds that the median may take."""
SHOWN = (
    "02-ahead",
    "04-fading",
    "06-belt-changes",
    "08-view-off",
    "09-countdown",
    "26-coach-strip",
)


def median_ms(do: Callable[[int], object]) -> tuple[float, float]:
    """Return median and 95th percentile of a call's processor time, milliseconds."""
    took = []
    for number in range(FRAMES):
        start = time.thread_time()
        do(number)
        took.append(1000.0 * (time.thread_time() - start))
    return float(np.median(took)), float(np.percentile(took, 95))


def as_in_a_session(scene: Scene, number: int) -> Scene:
    """Return the scene with what changes while somebody runs: time, rhythm, a landing a step."""
    if scene.rhythm is None:
        return scene
    t_s, steps = number / 60.0, number // STEP
    rhythm = replace(
        scene.rhythm, step_rate_spm=160.0 + number // 6 % 20, beat_age_s=t_s % 0.345
    )  # fmt: skip
    drill = scene.drill
    if drill is not None and drill.seconds_left is not None:
        drill = replace(drill, seconds_left=drill.seconds_left - t_s)
    landings = tuple(
        replace(mark, toe_px=(mark.toe_px[0] + steps, mark.toe_px[1])) for mark in scene.landings
    )
    trail = scene.trail[: len(scene.trail) - steps % 2]
    return replace(scene, rhythm=rhythm, drill=drill, landings=landings, trail=trail)


def painting(shown: dict[str, Scene]) -> dict[str, object]:
    """Time painting in each size."""
    out: dict[str, object] = {}
    for size, (wide, high, most_ms) in SIZES.items():
        painter = Painter(wide, high, read_words("en"))
        frame = shown["02-ahead"].frame
        assert frame is not None
        image = frame.image
        bare = np.empty((high, wide, 3), np.uint8)
        scaled = min(wide / image.shape[1], high / image.shape[0])
        fit = (round(image.shape[1] * scaled), round(image.shape[0] * scaled))

        def mirror(_: int, image=image, bare=bare, fit=fit) -> None:  # type: ignore[no-untyped-def]
            cv2.flip(cv2.resize(image, fit), 1, dst=bare[: fit[1], : fit[0]])

        base_ms, _ = median_ms(mirror)
        worst = 0.0
        for name in SHOWN:
            scene = shown[name]

            def paint(number: int, painter=painter, scene=scene) -> None:  # type: ignore[no-untyped-def]
                painter.paint(as_in_a_session(scene, number))

            paint(0)
            half, high_ms = median_ms(paint)
            out[f"paint_{size}_{name}_ms"] = round(half, 2)
            out[f"paint_{size}_{name}_p95_ms"] = round(high_ms, 2)
            worst = max(worst, half)
        out[f"paint_{size}_worst_ms"] = round(worst, 2)
        out[f"paint_{size}_allowed_ms"] = most_ms
        out[f"paint_{size}_holds"] = worst <= most_ms
        out[f"paint_{size}_times_bare_picture"] = round(worst / base_ms, 2)
        out[f"bare_picture_{size}_ms"] = round(base_ms, 2)
    return out


def kept(shown: dict[str, Scene]) -> int:
    """Return the most bytes that painting one picture allocates, large buffers included."""
    painter = Painter(WIDTH, HEIGHT, read_words("en"))
    painted = [as_in_a_session(shown["02-ahead"], number) for number in range(FRAMES)]
    for scene in painted:
        painter.paint(scene)
    most = 0
    tracemalloc.start()
    for scene in painted[:20]:
        tracemalloc.reset_peak()
        before = tracemalloc.get_traced_memory()[0]
        painter.paint(scene)
        most = max(most, tracemalloc.get_traced_memory()[1] - before)
    tracemalloc.stop()
    return most


def recording(image: np.ndarray) -> dict[str, object]:
    """Time the recorder."""
    out: dict[str, object] = {}
    with tempfile.TemporaryDirectory() as folder:
        clip = Path(folder) / "clip.mp4"
        recorder = VideoRecorder(clip, WIDTH, HEIGHT, 60.0)
        handed = []
        start = time.perf_counter()
        for number in range(FRAMES):
            image[:, :] = np.roll(image, 3, axis=1)
            before = time.perf_counter()
            recorder.write(number / 60.0, image)
            handed.append(1000.0 * (time.perf_counter() - before))
        recorder.close()
        out["record_whole_ms"] = round(1000.0 * (time.perf_counter() - start) / FRAMES, 2)
        out["record_hand_over_ms"] = round(float(np.median(handed[:4])), 2)
        out["record_megabit_per_s"] = round(clip.stat().st_size * 8e-6 / (FRAMES / 60.0), 1)
    return out


def main() -> None:
    """Measure and print."""
    cv2.setNumThreads(1)
    shown = scenes()
    out = painting(shown)
    out["paint_allocates_bytes"] = kept(shown)
    painter = Painter(WIDTH, HEIGHT, read_words("en"))
    out |= recording(painter.paint(shown["02-ahead"]).copy())
    print(json.dumps(out))


if __name__ == "__main__":
    main()
