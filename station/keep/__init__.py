"""Keeps what a session measured: the files of its folder."""

from station.keep.folder import SessionFolder, open_folder
from station.keep.session_file import FrameCounts, SessionFile
from station.keep.steps import STEP_COLUMNS, StepsWriter
from station.keep.truth import write_truth

__all__ = [
    "STEP_COLUMNS",
    "FrameCounts",
    "SessionFile",
    "SessionFolder",
    "StepsWriter",
    "open_folder",
    "write_truth",
]
