"""Numbers and sentences of a report, as people read them in their language.

A field of a sentence is written by the end of its name, which carries its unit: `limit_deg`,
`before_share`, `rate_spm` ...; one that has no such end is a word or a name.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from station.coach.words import Words
from station.units import SpeedUnit, format_speed
from station.values import Belt

MINUS = "\u2212"
NONE = "\u2013"
"""What stands for a number that is not known."""
NARROW = "\u202f"
"""Between a number and its unit: never parted at a line's end."""


class Say:
    """Writes in one language."""

    def __init__(self, words: Words, unit: SpeedUnit | None = None) -> None:
        """Take the words.

        Args:
            words: Their section `report` is used.
            unit: Of belt speeds; None: the language's usual one.
        """
        self.language = words.language
        self._words = words
        self._point = words.report.get("decimal_point", ".")
        told = words.report.get("speed_unit", "km/h")
        self.unit: SpeedUnit = unit or ("mph" if told == "mph" else "km/h")
        self._by_end: dict[str, Callable[[Any], str]] = {
            "_sdeg": self.signed_degrees, "_deg": self.degrees,
            "_share": self.percent, "_fine_spm": self.number, "_spm": self.rate,
            "_mps": self.speed, "_s": self.clock, "_ms": self.milliseconds, "_count": str,
        }  # fmt: skip

    def __call__(self, key: str, **values: Any) -> str:
        """Return a text with its fields filled in; a missing key or field shows as itself."""
        told = {name: self._field(name, value) for name, value in values.items()}
        return self._words.of_report(key, **told)

    def sentence(self, key: str, **values: str) -> str:
        """Return a sentence of the screens."""
        return self._words.sentence(key, **values)

    def _field(self, name: str, value: Any) -> str:
        if isinstance(value, str):
            return self(f"side_{value}") if name == "side" else value
        if isinstance(value, Belt):
            return self.belt(value)
        for end, write in self._by_end.items():
            if name.endswith(end):
                return NONE if value is None else write(value)
        return str(value)

    # --- numbers --------------------------------------------------------------------------------

    def number(self, value: float | None, decimals: int = 1, sign: bool = False) -> str:
        """Write a number; None is not known."""
        if value is None:
            return NONE
        text = f"{abs(value):.{decimals}f}"
        negative = value < 0.0 and text.strip("0.") != ""
        front = MINUS if negative else "+" if sign and text.strip("0.") != "" else ""
        return front + text.replace(".", self._point)

    def degrees(self, value: float | None) -> str:
        """Write an angle."""
        return NONE if value is None else f"{self.number(value)}\u00b0"

    def signed_degrees(self, value: float | None) -> str:
        """Write a difference of angles."""
        return NONE if value is None else f"{self.number(value, sign=True)}\u00b0"

    def percent(self, share: float | None) -> str:
        """Write a share; all and none only where it was all or none."""
        if share is None:
            return NONE
        whole = round(100.0 * share)
        if whole == 100 and share < 1.0:
            return f"99{NARROW}%"
        return f"1{NARROW}%" if whole == 0 and share > 0.0 else f"{whole}{NARROW}%"

    def rate(self, spm: float | None) -> str:
        """Write a step rate; the unit is the sentence's."""
        return NONE if spm is None else self.number(spm, 0)

    def speed(self, mps: float | None) -> str:
        """Write a belt speed."""
        if mps is None:
            return NONE
        return format_speed(mps, self.unit).replace(".", self._point).replace(" ", NARROW)

    def belt(self, belt: Belt | None) -> str:
        """Write a belt setting; the incline only where there is one."""
        if belt is None:
            return NONE
        return self.setting(belt.speed_mps, belt.incline_percent)

    def setting(self, speed_mps: float | None, incline_percent: float | None) -> str:
        """Write a belt setting of which not all may be known."""
        if speed_mps is None:
            return NONE
        speed = self.speed(speed_mps)
        if incline_percent is None:
            return f"{speed}, {self('incline_unknown')}"
        if not incline_percent:
            return speed
        incline = self.number(incline_percent, 1).removesuffix(f"{self._point}0")
        return f"{speed}, {self('incline', percent=incline)}"

    def clock(self, seconds: float | None) -> str:
        """Write a time as minutes and seconds."""
        if seconds is None:
            return NONE
        whole = round(seconds)
        return f"{whole // 60}:{whole % 60:02d}"

    def milliseconds(self, seconds: float | None) -> str:
        """Write seconds as signed milliseconds."""
        return NONE if seconds is None else f"{self.number(1000.0 * seconds, 0, sign=True)}"

    def day(self, when: datetime | None) -> str:
        """Write a day; the same in every language."""
        return NONE if when is None else f"{when:%Y-%m-%d}"

    def moment(self, when: datetime | None) -> str:
        """Write day and time."""
        return NONE if when is None else f"{when:%Y-%m-%d, %H:%M}"

    def drill_label(self, number: int, name: str) -> str:
        """Write the name of a drill short enough to stand beside a row, with its number."""
        most = 18
        short = name if len(name) <= most else name[: most - 1].rstrip() + "\u2026"
        return f"{number} {short}"

    def known(self, key: str) -> bool:
        """Return whether there is such a text."""
        return key in self._words.report

    def word(self, kind: str, value: str | None) -> str:
        """Return the word for a value of a fixed set; one that is not known shows as itself."""
        if value is None:
            return NONE
        key = f"{kind}_{value.replace(' ', '_')}"
        return self(key) if self.known(key) else value
