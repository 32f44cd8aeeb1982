"""The store: runners and their visits, kept in a database and never at the live loop's cost."""

from station.keep.store.facts import Answer, Erased, Runner, VisitLine, VisitStart
from station.keep.store.listing import SORTS, Wanted
from station.keep.store.people import UNSET
from station.keep.store.place import Place, default_folder, make_place
from station.keep.store.records import DatabaseAway, Records, begin_visit
from station.keep.store.visit import Visit

__all__ = [
    "SORTS",
    "UNSET",
    "Answer",
    "DatabaseAway",
    "Erased",
    "Place",
    "Records",
    "Runner",
    "Visit",
    "VisitLine",
    "VisitStart",
    "Wanted",
    "begin_visit",
    "default_folder",
    "make_place",
]
