"""Errors that a user can act on, each with the exit code of the command that meets it.

    StationError                 1   a fault of ours
    +- BadInput                  2   a file, option or value that cannot be used as given
    |  +- NothingUsable          2   the input was read, but holds nothing to measure
    +- DeviceTrouble             3   a camera, speaker or screen is missing, busy or lost for good

The text of each is written for the user: what is wrong, where, and what is allowed or what to do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence


class Worded(str):
    """A text in English that is also in the words files, for screens in other languages.

    It is a text like any other to whoever knows nothing of it: a terminal, a log, a record.
    """

    key: str
    """Its place in the words files."""
    values: Mapping[str, str]
    """What to put into its {fields}; some may be worded themselves."""

    def __new__(cls, text: str, key: str = "", **values: str) -> Worded:
        """Take the English text, and where the others are."""
        made = super().__new__(cls, text)
        made.key, made.values = key, values
        return made


def text_of(fault: StationError) -> str:
    """Return what an error says, in words of another language where it has some."""
    said = fault.args[0] if fault.args else None
    return said if isinstance(said, Worded) else str(fault)


class StationError(Exception):
    """Base of every error that the station raises on purpose."""

    exit_code = 1


class BadInput(StationError):
    """Input or configuration that cannot be used; carries one line per mistake."""

    exit_code = 2

    def __init__(self, message: str, mistakes: Sequence[str] = ()) -> None:
        """Keep the mistakes apart, so that a caller can count them.

        Args:
            message: What is wrong and where.
            mistakes: One line each: place, value, what is allowed.
        """
        self.mistakes = tuple(mistakes)
        super().__init__("\n  ".join((message, *self.mistakes)))


class NothingUsable(BadInput):
    """The input could be read, but nothing in it can be measured."""


class DeviceTrouble(StationError):
    """A device is missing, busy or lost for good."""

    exit_code = 3
