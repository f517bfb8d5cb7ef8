"""People: who they are, their sessions, failed sign-ins, tokens of machines, and the access log."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_SQLITE = (
    "CREATE TRIGGER access_log_not_changed BEFORE UPDATE ON access_log "
    "BEGIN SELECT RAISE(ABORT, 'the access log is only added to'); END",
    "CREATE TRIGGER access_log_not_deleted BEFORE DELETE ON access_log "
    "BEGIN SELECT RAISE(ABORT, 'the access log is only added to'); END",
)
_POSTGRESQL = (
    "CREATE FUNCTION access_log_stays() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'the access log is only added to'; END $$",
    "CREATE TRIGGER access_log_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON access_log "
    "FOR EACH STATEMENT EXECUTE FUNCTION access_log_stays()",
)


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "people",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("folded", sa.String(200), nullable=False, unique=True),
        sa.Column("roles", sa.String(200), nullable=False),
        sa.Column("password", sa.String(200), nullable=False),
        sa.Column("must_change", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("closed_at", sa.String(40), nullable=False),
    )
    op.create_table(
        "sessions",
        sa.Column("hash", sa.String(64), primary_key=True),
        sa.Column("person", sa.Integer(), sa.ForeignKey("people.id"), nullable=False),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("seen_at", sa.String(40), nullable=False),
        sa.Column("place", sa.String(80), nullable=False),
    )
    op.create_index("ix_sessions_person", "sessions", ["person"])
    op.create_table(
        "failures",
        sa.Column("key", sa.String(300), primary_key=True),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("last_at", sa.String(40), nullable=False),
    )
    op.create_table(
        "tokens",
        sa.Column("id", sa.String(16), primary_key=True),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("folded", sa.String(200), nullable=False, unique=True),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("scopes", sa.Text(), nullable=False),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("made_by", sa.String(80), nullable=False),
        sa.Column("expires_at", sa.String(40), nullable=False),
        sa.Column("revoked_at", sa.String(40), nullable=False),
        sa.Column("used_at", sa.String(40), nullable=False),
    )
    op.create_table(
        "access_log",
        sa.Column("seq", sa.Integer(), primary_key=True),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("who", sa.String(200), nullable=False),
        sa.Column("what", sa.String(40), nullable=False),
        sa.Column("about", sa.String(200), nullable=False),
        sa.Column("place", sa.String(80), nullable=False),
    )
    op.create_index("access_log_of_a_person", "access_log", ["who", "what", "at"])
    on_postgresql = op.get_bind().dialect.name == "postgresql"
    for statement in _POSTGRESQL if on_postgresql else _SQLITE:
        op.execute(statement)
