"""Prove the beat of a whole session: `station run` plays, the sound server's monitor is recorded.

    python tests/proofs/session_beat.py [--seconds 30] [--rate 180]

Prints one JSON line. Needs PulseAudio's tools; runs the pose model beside the sound.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from pulse import PulseMissing, find_onsets, pulse_server, read_recording, recording

from station.sound.tones import SAMPLE_RATE_HZ, beat_tone

PLAN = """name = "Beat"
[[drill]]
name = "Beat"
belt_speed = "6 mph"
step_rate = {rate}
seconds = {seconds}
feedback = "off"
"""


def main() -> int:
    """Run the session and judge its recording."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=int, default=30)
    parser.add_argument("--rate", type=int, default=180)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plan = folder / "plan.toml"
        plan.write_text(PLAN.format(rate=args.rate, seconds=args.seconds), encoding="utf-8")
        out = folder / "session"
        command = [sys.executable, "-c", "from station.commands.main import main; main()"]
        command += ["run", "--source", "demo", "--headless", "--plan", str(plan)]
        command += ["--out", str(out), "--seconds", str(args.seconds + 1)]
        try:
            with pulse_server(SAMPLE_RATE_HZ) as server, recording(server, folder / "sound.raw"):
                subprocess.run(
                    command, env=os.environ | server.env, check=True, stdout=subprocess.DEVNULL
                )
        except PulseMissing as missing:
            print(missing, file=sys.stderr)
            return 3
        sound = read_recording(folder / "sound.raw")
        onsets, _ = find_onsets(sound[:, 0], beat_tone(SAMPLE_RATE_HZ))
        gaps_ms = np.diff(onsets) / SAMPLE_RATE_HZ * 1000.0
        session = json.loads((out / "session.json").read_text(encoding="utf-8"))
        print(
            json.dumps(
                {
                    "proof": "session_beat",
                    "sound": session["sound"],
                    "beats": len(onsets),
                    "wanted_ms": 60000.0 / args.rate,
                    "least_ms": round(float(gaps_ms.min()), 4),
                    "mean_ms": round(float(gaps_ms.mean()), 4),
                    "most_ms": round(float(gaps_ms.max()), 4),
                    "frames": session["frames"],
                }
            )
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
