"""Ledgers on both databases for the tests of acts (see `tests/works/ledgers.py`)."""

from ledgers import (
    address,
    begun_postgresql,
    begun_sqlite,
    clock,
    database,
    ledger,
    make_ledger,
    make_server,
    places,
    postgresql,
    works,
)

__all__ = [
    "address", "begun_postgresql", "begun_sqlite", "clock", "database", "ledger", "make_ledger", "make_server",
    "places", "postgresql", "works",
]  # fmt: skip
