"""Backups that were made, and restore drills; numbers by their title, and in one order on every server."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "backups",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("version", sa.String(40), nullable=False),
        sa.Column("lines", sa.Integer(), nullable=False),
        sa.Column("head", sa.String(64), nullable=False),
        sa.Column("size_bytes", sa.BigInteger(), nullable=False),
        sa.Column("took_s", sa.Float(), nullable=False),
    )
    op.create_table(
        "drills",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("lines", sa.Integer(), nullable=False),
        sa.Column("head", sa.String(64), nullable=False),
        sa.Column("took_s", sa.Float(), nullable=False),
        sa.Column("wrong", sa.Text(), nullable=False),
    )
    op.create_index("numbers_of_a_title", "numbers", ["title"])
    if op.get_bind().dialect.name == "postgresql":
        # The beginning of a number is looked up as a range, whatever language the server sorts in.
        op.execute('ALTER TABLE numbers ALTER COLUMN folded TYPE VARCHAR(300) COLLATE "C"')
