"""The first schema: runners, their baselines and consents, visits, drills, steps, events.

A migration stands as it was written: it names its columns itself, and never takes them from the
tables of today.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_NUMBERS_1 = (
    "t_contact_s", "t_toe_off_s", "t_verdict_s", "t_cue_s", "step_time_s", "step_rate_spm",
    "contact_s", "flight_s", "duty_factor", "step_length_m", "ankle_ahead_m", "shank_deg",
    "shank_at_verdict_deg", "shank_loading_deg", "ankle_ahead_of_hip_m", "foot_deg",
)  # fmt: skip
_NUMBERS_2 = (
    "heel_down_s", "knee_flexion_deg", "trunk_lean_deg", "body_lean_deg", "trailing_thigh_deg",
    "knee_drive_deg", "vertical_oscillation_m", "beat_offset_s",
)  # fmt: skip
_NUMBERS_3 = (
    "confidence", "knee_flexion_peak_deg", "arm_swing_m", "hand_lowest_share",
    "hand_highest_share", "shoulder_rotation_hint", "pelvis_rotation_hint",
)  # fmt: skip


def _instant(name: str, nullable: bool = False) -> sa.Column[object]:
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def _visit(key: bool = True) -> sa.Column[int]:
    return sa.Column("visit", sa.Integer(), primary_key=key, autoincrement=False, nullable=False)


def _of_visit(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["visit"], ["visits.id"], name=f"fk_{table}_visit", ondelete="CASCADE"
    )


def _of_runner(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["runner"], ["runners.id"], name=f"fk_{table}_runner", ondelete="CASCADE"
    )


def _numbers(names: tuple[str, ...]) -> list[sa.Column[float]]:
    return [sa.Column(name, sa.Float()) for name in names]


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "runners",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("code", sa.String(16), nullable=False),
        sa.Column("belt_cap_mps", sa.Float()),
        sa.Column("hops_cap", sa.Integer()),
        _instant("made"),
        sa.UniqueConstraint("code", name="uq_runners_code"),
    )
    op.create_table(
        "consents",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("runner", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("given", sa.Boolean(), nullable=False),
        _instant("said"),
        _of_runner("consents"),
    )
    op.create_index("ix_consents_runner", "consents", ["runner"])
    op.create_table(
        "visits",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("uid", sa.String(32), nullable=False),
        sa.Column("runner", sa.Integer(), nullable=False),
        sa.Column("bay", sa.Text(), nullable=False),
        sa.Column("plan", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("station", sa.String(32), nullable=False),
        sa.Column("folder", sa.Text()),
        _instant("began"),
        _instant("ended", nullable=True),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("why", sa.Text()),
        _instant("seen"),
        sa.Column("steps", sa.Integer(), nullable=False, server_default="0"),
        sa.Column("within", sa.Integer(), nullable=False, server_default="0"),
        sa.Column("ahead", sa.Integer(), nullable=False, server_default="0"),
        sa.Column("running_s", sa.Float(), nullable=False, server_default="0"),
        sa.Column("versions", sa.JSON()),
        sa.Column("told", sa.JSON()),
        sa.UniqueConstraint("uid", name="uq_visits_uid"),
        _of_runner("visits"),
    )
    for name in ("runner", "began", "state"):
        op.create_index(f"ix_visits_{name}", "visits", [name])
    op.create_table(
        "baselines",
        sa.Column("id", sa.Integer(), primary_key=True),
        _visit(key=False),
        sa.Column("belt_mps", sa.Float(), nullable=False),
        sa.Column("incline_percent", sa.Float(), nullable=False),
        sa.Column("step_rate_spm", sa.Float()),
        sa.Column("left_count", sa.Integer()),
        sa.Column("left_median_deg", sa.Float()),
        sa.Column("left_spread_deg", sa.Float()),
        sa.Column("right_count", sa.Integer()),
        sa.Column("right_median_deg", sa.Float()),
        sa.Column("right_spread_deg", sa.Float()),
        sa.UniqueConstraint(
            "visit", "belt_mps", "incline_percent",
            name="uq_baselines_visit_belt_mps_incline_percent",
        ),
        _of_visit("baselines"),
    )  # fmt: skip
    op.create_table(
        "drills",
        _visit(),
        sa.Column("run", sa.Integer(), primary_key=True, autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer()),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.String(16)),
        sa.Column("began_s", sa.Float()),
        sa.Column("ended_s", sa.Float()),
        sa.Column("why", sa.Text()),
        sa.Column("belt_speed_mps", sa.Float()),
        sa.Column("incline_percent", sa.Float()),
        sa.Column("target_spm", sa.Float()),
        sa.Column("beat_spm", sa.Float()),
        sa.Column("landings", sa.Integer()),
        sa.Column("share_within", sa.Float()),
        sa.Column("share_ahead", sa.Float()),
        sa.Column("share_unjudged", sa.Float()),
        sa.Column("step_rate_spm", sa.Float()),
        sa.Column("cues", sa.Integer()),
        sa.Column("told", sa.JSON()),
        _of_visit("drills"),
    )
    op.create_table(
        "steps",
        _visit(),
        sa.Column("row", sa.Integer(), primary_key=True, autoincrement=False, nullable=False),
        sa.Column("step", sa.Integer()),
        sa.Column("drill", sa.Text()),
        sa.Column("side", sa.Text()),
        sa.Column("near", sa.Boolean()),
        *_numbers(_NUMBERS_1),
        sa.Column("strike", sa.Text()),
        *_numbers(_NUMBERS_2),
        sa.Column("landing", sa.Text()),
        sa.Column("cued", sa.Boolean()),
        *_numbers(_NUMBERS_3),
        sa.Column("toe_dive", sa.Boolean()),
        _of_visit("steps"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "events",
        _visit(),
        sa.Column("row", sa.Integer(), primary_key=True, autoincrement=False, nullable=False),
        sa.Column("t_s", sa.Float(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("why", sa.Text()),
        sa.Column("details", sa.JSON()),
        _of_visit("events"),
    )
