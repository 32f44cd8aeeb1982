"""What the runner answers, felt landings, steps that were lost, and visits that stay erased."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables and columns."""
    op.create_table(
        "answers",
        sa.Column("visit", sa.Integer(), primary_key=True, autoincrement=False, nullable=False),
        sa.Column("row", sa.Integer(), primary_key=True, autoincrement=False, nullable=False),
        sa.Column("t_s", sa.Float()),
        sa.Column("moment", sa.String(16), nullable=False),
        sa.Column("score", sa.Integer()),
        sa.Column("place", sa.Text()),
        sa.Column("kinds", sa.JSON()),
        sa.ForeignKeyConstraint(
            ["visit"], ["visits.id"], name="fk_answers_visit", ondelete="CASCADE"
        ),
    )
    op.create_table(
        "forgotten",
        sa.Column("uid", sa.String(32), primary_key=True),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
    )
    # Plain ALTER TABLE, no copy of the table: children with ON DELETE CASCADE hang on `visits`.
    op.add_column("drills", sa.Column("felt", sa.Float()))
    op.add_column("drills", sa.Column("feel_gap", sa.Float()))
    op.add_column(
        "visits", sa.Column("steps_lost", sa.Integer(), nullable=False, server_default="0")
    )
