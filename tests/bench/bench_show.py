"""Time the painter and the recorder: `python tests/bench/bench_show.py`, one JSON line."""

from __future__ import annotations

import json
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from demo.screens import HEIGHT, WIDTH, scenes
from station.settings.words import read_words
from station.show.painter import Painter
from station.show.recorder import VideoRecorder

FRAMES = 120


def main() -> None:
    """Measure and print."""
    cv2.setNumThreads(1)
    painter = Painter(WIDTH, HEIGHT, read_words("en"))
    out: dict[str, float] = {}
    shown = scenes()
    for name in ("02-ahead", "04-fading", "06-belt-changes", "08-view-off", "09-countdown"):
        took = []
        for number in range(FRAMES):
            scene = shown[name]
            if scene.rhythm is not None:  # the numbers change as they would in a session
                scene = replace(
                    scene, rhythm=replace(scene.rhythm, step_rate_spm=160.0 + number // 6 % 20)
                )
            start = time.thread_time()  # processor time: the machine may be busy with other work
            painter.paint(scene)
            took.append(1000.0 * (time.thread_time() - start))
        out[f"paint_{name}_ms"] = round(float(np.median(took)), 2)
        out[f"paint_{name}_p95_ms"] = round(float(np.percentile(took, 95)), 2)
    image = painter.paint(shown["02-ahead"]).copy()
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
    print(json.dumps(out))


if __name__ == "__main__":
    main()
