"""Prove that each key does its work in a real session: real window, pixels, pose model, record.

The simulated runner's session runs in a window on a virtual screen. Key presses are put into SDL's
own queue as a keyboard's are, at chosen pictures; what `session.json` then holds is compared with
what each key is to do.

    python tests/proofs/keys.py

Prints one JSON line; exits 1 where a key's effect is missing, 3 without Xvfb.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import json
import os
import sys
import tempfile
from pathlib import Path

PLAN = """
name = "Keys"
[[drill]]
name = "Felt"
belt_speed = "6 mph"
seconds = 5
landing_limit_deg = 8
ask_felt = true
[[drill]]
name = "Run"
belt_speed = "6 mph"
step_rate = 170
seconds = 300
landing_limit_deg = 8
[[drill]]
name = "Faster"
belt_speed = "7 mph"
seconds = 300
landing_limit_deg = 8
"""
FPS = 30
PRESSES: tuple[tuple[float, str, str], ...] = (
    (6.0, "1", "answer felt"), (6.5, "0", ""), (11.0, "UP", "change rate"),
    (11.3, "DOWN", "change rate"), (11.6, "l", "change limit"), (11.9, "k", "change limit"),
    (12.2, "f", "set feedback"), (12.5, "f", "set feedback"), (12.8, "s", "set sound"),
    (13.1, "s", "set sound"), (13.4, "SPACE", "pause"), (13.7, "PERIOD", "resume"),
    (14.0, "MINUS", "change belt"), (14.3, "r", "repeat drill"), (14.6, "c", ""), (14.9, "h", ""),
    (15.2, "PAGEDOWN", "next drill"), (15.3, "PAGEDOWN", ""), (17.0, "PAGEDOWN", "confirm belt"),
    (17.6, "PAGEUP", "previous drill"), (19.5, "F5", "confirm belt"), (20.0, "ESCAPE", ""),
    (20.3, "RIGHT", "next drill"), (20.6, "ESCAPE", ""), (21.4, "ESCAPE", "end session"),
)  # fmt: skip
"""When, which key, and what is to be recorded of it; empty: nothing."""


def session(folder: Path) -> int:
    """Run the session in this process, with the keys put in between its pictures."""
    import pygame

    from station.commands.main import main
    from station.show.window import Window

    waiting, shown = list(PRESSES), [0]
    true_show, true_events = Window.show, Window.events

    def show(self: Window, image: object) -> None:
        shown[0] += 1
        true_show(self, image)  # type: ignore[arg-type]

    def events(self: Window) -> object:
        while waiting and shown[0] >= waiting[0][0] * FPS:
            name = waiting.pop(0)[1]
            pressed = pygame.event.Event(
                pygame.KEYDOWN, key=getattr(pygame, f"K_{name}"), unicode=name * (len(name) == 1)
            )
            pygame.event.post(pressed)
        return true_events(self)

    Window.show, Window.events = show, events  # type: ignore[method-assign, assignment]
    plan = folder / "plan.toml"
    plan.write_text(PLAN, encoding="utf-8")
    return main(
        ["run", "--source", "demo", "--plan", str(plan), "--fast", "--seconds", "30",
         "--out", str(folder / "out")]
    )  # fmt: skip


def judge(folder: Path) -> dict[str, object]:
    """Compare the session's file with what the keys were to do."""
    told = json.loads((folder / "out" / "session.json").read_text(encoding="utf-8"))
    events = told["events"]
    seen = [event["why"] for event in events if event["kind"] == "coach"]
    wanted = [why for _, _, why in PRESSES if why]
    confirmed = [e["by"] for e in events if e["kind"] == "belt confirmed"]
    felt = [e.get("good_of_ten") for e in events if e["kind"] == "felt answered"]
    kept = (
        seen == wanted and told["ended"] == "ended by the coach" and felt == [10]
        and confirmed == ["key", "key"]
    )  # fmt: skip
    return {
        "proof": "keys", "kept": kept, "keys": len(PRESSES), "recorded": seen, "wanted": wanted,
        "felt": felt, "belt_confirmed_by": confirmed, "ended": told["ended"],
    }  # fmt: skip


def run() -> int:
    """Run the session on a virtual screen, in a process of its own."""
    import subprocess

    from kit.screen import ScreenMissing, virtual_screen

    with tempfile.TemporaryDirectory(prefix="station-keys-") as name:
        try:
            with virtual_screen() as screen:
                done = subprocess.run(
                    [sys.executable, __file__, name], env={**os.environ, **screen.env},
                    stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=600, check=False,
                )  # fmt: skip
        except ScreenMissing as missing:
            print(json.dumps({"proof": "keys", "skipped": str(missing)}))
            return 3
        if done.returncode:
            print(json.dumps({"proof": "keys", "kept": False, "exit": done.returncode}))
            return 1
        result = judge(Path(name))
    print(json.dumps(result))
    return 0 if result["kept"] else 1


if __name__ == "__main__":
    sys.exit(session(Path(sys.argv[1])) if len(sys.argv) == 2 else run())
