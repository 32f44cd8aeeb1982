"""Keeps what a session measured: the files of its folder."""

from station.keep.folder import SessionFolder, open_folder
from station.keep.records_place import Place, make_place, owner_only
from station.keep.session_file import FrameCounts, SessionFile
from station.keep.steps import STEP_COLUMNS, StepsWriter
from station.keep.truth import write_truth

__all__ = [
    "STEP_COLUMNS",
    "FrameCounts",
    "Place",
    "SessionFile",
    "SessionFolder",
    "StepsWriter",
    "make_place",
    "open_folder",
    "owner_only",
    "write_truth",
]
