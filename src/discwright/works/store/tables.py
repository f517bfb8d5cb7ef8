"""Tables of the ledger. The lines are the truth; titles, parts and numbers are worked out from them."""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Column, Float, Index, Integer, MetaData, String, Table, Text

metadata = MetaData()

#: The ledger itself: only ever added to. `prev` is unique, so that the chain cannot fork.
lines = Table(
    "lines", metadata,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("at", String(40), nullable=False),
    Column("by", String(200), nullable=False),
    Column("station", String(200), nullable=False),
    Column("title", String(200), nullable=False),
    Column("part", String(20), nullable=False),
    Column("kind", String(40), nullable=False),
    Column("data", Text, nullable=False),
    Column("key", String(200), nullable=False, unique=True),
    Column("accepted", Text, nullable=False),
    Column("clock", String(40), nullable=False),
    Column("prev", String(64), nullable=False, unique=True),
    Column("hash", String(64), nullable=False, unique=True),
    Index("lines_of_a_part", "part", "seq"),
    Index("lines_of_a_title", "title", "seq"),
)  # fmt: skip

#: Where each title stands after its last line.
titles = Table(
    "titles", metadata,
    Column("catalogue", String(200), primary_key=True),
    Column("name", Text, nullable=False),
    Column("seq", Integer, nullable=False),
    Column("open", Boolean, nullable=False),
    Column("late_at", String(40), nullable=False),
    Column("doc", Text, nullable=False),
    Index("titles_by_lateness", "open", "late_at", "catalogue"),
)  # fmt: skip

#: Where each part stands.
parts = Table(
    "parts", metadata,
    Column("id", String(20), primary_key=True),
    Column("serial", Integer, nullable=False, unique=True),
    Column("title", String(200), nullable=False, index=True),
    Column("kind", String(20), nullable=False),
    Column("state", String(20), nullable=False),
    Column("doc", Text, nullable=False),
)  # fmt: skip

#: Every number that is printed anywhere, folded, and what it leads to.
numbers = Table(
    "numbers", metadata,
    Column("folded", String(300), primary_key=True),
    Column("what", String(40), primary_key=True),
    Column("title", String(200), primary_key=True),
    Column("part", String(20), primary_key=True),
    Column("shown", String(300), nullable=False),
    Index("numbers_of_a_title", "title"),
)  # fmt: skip

#: What a works sets once.
settings = Table(
    "settings", metadata,
    Column("name", String(60), primary_key=True),
    Column("value", Text, nullable=False),
)  # fmt: skip

#: Every backup that was made and found whole.
backups = Table(
    "backups", metadata,
    Column("id", Integer, primary_key=True),
    Column("at", String(40), nullable=False),
    Column("file", Text, nullable=False),
    Column("version", String(40), nullable=False),
    Column("lines", Integer, nullable=False),
    Column("head", String(64), nullable=False),
    Column("size_bytes", BigInteger, nullable=False),
    Column("took_s", Float, nullable=False),
)  # fmt: skip

#: Every time a backup was restored for practice, and whether it was good.
drills = Table(
    "drills", metadata,
    Column("id", Integer, primary_key=True),
    Column("at", String(40), nullable=False),
    Column("file", Text, nullable=False),
    Column("lines", Integer, nullable=False),
    Column("head", String(64), nullable=False),
    Column("took_s", Float, nullable=False),
    Column("wrong", Text, nullable=False),
)  # fmt: skip
