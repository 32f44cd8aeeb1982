"""The newest schema. The migrations lead to it from every older one; a test compares the two.

A runner's code stands in one row of one table; all else goes by numbers, so that forgetting a
runner means few places. Times within a visit are session seconds; the visit says when its second 0
was, in UTC.
"""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from station.keep.step_columns import COLUMNS, StepColumn
from station.keep.store.moments import Utc

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _json(name: str) -> Column[object]:
    return Column(name, JSON(none_as_null=True))


def _visit(key: bool = True) -> Column[int]:
    return Column(
        "visit", Integer, ForeignKey("visits.id", ondelete="CASCADE"),
        primary_key=key, autoincrement=False, nullable=False,
    )  # fmt: skip


def _row() -> Column[int]:
    """Counts what a visit put in, so that nothing goes in twice."""
    return Column("row", Integer, primary_key=True, autoincrement=False, nullable=False)


runners = Table(
    "runners",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("code", String(16), nullable=False, unique=True),
    Column("belt_cap_mps", Float),
    Column("hops_cap", Integer),
    Column("made", Utc, nullable=False),
)

consents = Table(
    "consents",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("runner", Integer, ForeignKey("runners.id", ondelete="CASCADE"), nullable=False),
    Column("kind", String(16), nullable=False),
    Column("given", Boolean, nullable=False),
    Column("said", Utc, nullable=False),
    Index(None, "runner"),
)

visits = Table(
    "visits",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("uid", String(32), nullable=False, unique=True),
    Column("runner", Integer, ForeignKey("runners.id", ondelete="CASCADE"), nullable=False),
    Column("bay", Text, nullable=False),
    Column("plan", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("station", String(32), nullable=False),
    Column("folder", Text),
    Column("began", Utc, nullable=False),
    Column("ended", Utc),
    Column("state", String(16), nullable=False),
    Column("why", Text),
    Column("seen", Utc, nullable=False),
    Column("steps", Integer, nullable=False, server_default="0"),
    Column("within", Integer, nullable=False, server_default="0"),
    Column("ahead", Integer, nullable=False, server_default="0"),
    Column("running_s", Float, nullable=False, server_default="0"),
    Column("steps_lost", Integer, nullable=False, server_default="0"),
    _json("versions"),
    _json("told"),
    Index(None, "runner"),
    Index(None, "began"),
    Index(None, "state"),
)

baselines = Table(
    "baselines",
    metadata,
    Column("id", Integer, primary_key=True),
    _visit(key=False),
    Column("belt_mps", Float, nullable=False),
    Column("incline_percent", Float, nullable=False),
    Column("step_rate_spm", Float),
    *(
        Column(f"{side}_{name}", kind)
        for side in ("left", "right")
        for name, kind in (("count", Integer), ("median_deg", Float), ("spread_deg", Float))
    ),
    UniqueConstraint("visit", "belt_mps", "incline_percent"),
)

drills = Table(
    "drills",
    metadata,
    _visit(),
    Column("run", Integer, primary_key=True, autoincrement=False, nullable=False),
    Column("number", Integer),
    Column("name", Text, nullable=False),
    Column("kind", String(16)),
    Column("began_s", Float),
    Column("ended_s", Float),
    Column("why", Text),
    Column("belt_speed_mps", Float),
    Column("incline_percent", Float),
    Column("target_spm", Float),
    Column("beat_spm", Float),
    Column("landings", Integer),
    Column("share_within", Float),
    Column("share_ahead", Float),
    Column("share_unjudged", Float),
    Column("step_rate_spm", Float),
    Column("cues", Integer),
    Column("felt", Float),
    Column("feel_gap", Float),
    _json("told"),
)


def _step_column(column: StepColumn) -> Column[object]:
    kinds = {"integer": Integer, "number": Float, "text": Text, "truth": Boolean}
    return Column(column.name, kinds[column.kind])


steps = Table(
    "steps",
    metadata,
    _visit(),
    _row(),
    *(_step_column(column) for column in COLUMNS),
    # Clustered by its key: a visit's steps lie side by side, and there is no second index.
    sqlite_with_rowid=False,
)

events = Table(
    "events",
    metadata,
    _visit(),
    _row(),
    Column("t_s", Float, nullable=False),
    Column("kind", Text, nullable=False),
    Column("why", Text),
    _json("details"),
)

answers = Table(
    "answers",
    metadata,
    _visit(),
    _row(),
    Column("t_s", Float),
    Column("moment", String(16), nullable=False),
    Column("score", Integer),
    Column("place", Text),
    _json("kinds"),
)

forgotten = Table(
    "forgotten",
    metadata,
    Column("uid", String(32), primary_key=True),
    Column("since", Utc, nullable=False),
)
"""Visits that were erased, by their random number and nothing else: what another station still has
of one in its spool is not let in again."""
