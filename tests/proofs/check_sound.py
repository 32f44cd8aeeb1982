"""Proof: `station check` hears itself through a real sound server.

Plays the beat and every cue through PortAudio (or pygame's mixer) into a private PulseAudio null
sink, records its monitor, and measures the round trip.
"""

from __future__ import annotations

import sys

from kit.running import served, tell

from station.clock import WallClock
from station.commands.checks.sound import SoundCheck
from station.values import Bay


def main() -> int:
    """Check once and judge what was found."""
    with served():
        check = SoundCheck(Bay(), WallClock(), lambda text: None, beat_s=1.0)
        try:
            rows = {f.what: (f.verdict, f.found) for f in check.run() + check.gaps()}
        finally:
            check.close()
    played = rows["sound"][1]
    holds = (
        ("PortAudio" in played or "pygame mixer" in played)
        and rows["beat"][0] == "well"
        and rows["cues"][1].startswith("6, ")
        and "ticks" in rows["sound's round trip"][1]
    )
    told = {what: f"{verdict}: {found}" for what, (verdict, found) in rows.items()}
    return tell("check_sound", [{**told, "holds": holds}])


if __name__ == "__main__":
    sys.exit(main())
