"""Tables of people: who they are, their sessions, failed sign-ins, tokens of machines, and the access log."""

from __future__ import annotations

from sqlalchemy import Boolean, Column, ForeignKey, Index, Integer, String, Table, Text

from discwright.works.store.tables import metadata

#: People are closed and never deleted, for their names stand in the ledger.
people = Table(
    "people", metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(80), nullable=False),
    Column("folded", String(200), nullable=False, unique=True),
    Column("roles", String(200), nullable=False),
    Column("password", String(200), nullable=False),
    Column("must_change", Boolean, nullable=False),
    Column("made_at", String(40), nullable=False),
    Column("closed_at", String(40), nullable=False),
)  # fmt: skip

#: Who is signed in; of the session's number only the hash is kept.
sessions = Table(
    "sessions", metadata,
    Column("hash", String(64), primary_key=True),
    Column("person", Integer, ForeignKey("people.id"), nullable=False, index=True),
    Column("made_at", String(40), nullable=False),
    Column("seen_at", String(40), nullable=False),
    Column("place", String(80), nullable=False),
)  # fmt: skip

#: Failed sign-ins in a row, by name and by address.
failures = Table(
    "failures", metadata,
    Column("key", String(300), primary_key=True),
    Column("tries", Integer, nullable=False),
    Column("last_at", String(40), nullable=False),
)  # fmt: skip

#: Tokens of machines; of the token itself only the hash is kept.
tokens = Table(
    "tokens", metadata,
    Column("id", String(16), primary_key=True),
    Column("name", String(80), nullable=False),
    Column("folded", String(200), nullable=False, unique=True),
    Column("hash", String(64), nullable=False),
    Column("scopes", Text, nullable=False),
    Column("made_at", String(40), nullable=False),
    Column("made_by", String(80), nullable=False),
    Column("expires_at", String(40), nullable=False),
    Column("revoked_at", String(40), nullable=False),
    Column("used_at", String(40), nullable=False),
)  # fmt: skip

#: Who came in, failed to, or did what concerns everybody. Only ever added to: the database refuses anything else.
access_log = Table(
    "access_log", metadata,
    Column("seq", Integer, primary_key=True),
    Column("at", String(40), nullable=False),
    Column("who", String(200), nullable=False),
    Column("what", String(40), nullable=False),
    Column("about", String(200), nullable=False),
    Column("place", String(80), nullable=False),
    Index("access_log_of_a_person", "who", "what", "at"),
)  # fmt: skip
