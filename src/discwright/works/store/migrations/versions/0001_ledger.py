"""The ledger: lines, and what is worked out from them."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "lines",
        sa.Column("seq", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("by", sa.String(200), nullable=False),
        sa.Column("station", sa.String(200), nullable=False),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("part", sa.String(20), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.Column("key", sa.String(200), nullable=False, unique=True),
        sa.Column("accepted", sa.Text(), nullable=False),
        sa.Column("clock", sa.String(40), nullable=False),
        sa.Column("prev", sa.String(64), nullable=False, unique=True),
        sa.Column("hash", sa.String(64), nullable=False, unique=True),
    )
    op.create_index("lines_of_a_part", "lines", ["part", "seq"])
    op.create_index("lines_of_a_title", "lines", ["title", "seq"])
    op.create_table(
        "titles",
        sa.Column("catalogue", sa.String(200), primary_key=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("open", sa.Boolean(), nullable=False),
        sa.Column("late_at", sa.String(40), nullable=False),
        sa.Column("doc", sa.Text(), nullable=False),
    )
    op.create_index("titles_by_lateness", "titles", ["open", "late_at", "catalogue"])
    op.create_table(
        "parts",
        sa.Column("id", sa.String(20), primary_key=True),
        sa.Column("serial", sa.Integer(), nullable=False, unique=True),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("state", sa.String(20), nullable=False),
        sa.Column("doc", sa.Text(), nullable=False),
    )
    op.create_index("ix_parts_title", "parts", ["title"])
    op.create_table(
        "numbers",
        sa.Column("folded", sa.String(300), primary_key=True),
        sa.Column("what", sa.String(40), primary_key=True),
        sa.Column("title", sa.String(200), primary_key=True),
        sa.Column("part", sa.String(20), primary_key=True),
        sa.Column("shown", sa.String(300), nullable=False),
    )
    op.create_table(
        "settings",
        sa.Column("name", sa.String(60), primary_key=True),
        sa.Column("value", sa.Text(), nullable=False),
    )
