"""Sign-in slowed after failures, by name and by address; kept in the database, so that a restart forgets nothing.

Nobody is locked out. A name that is tried from elsewhere is slowed only there: at a place where its person signed in
before, only the failures of that place count. An attempt that comes too soon is not looked at and does not count.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection, select

from discwright.errors import CallError
from discwright.works.people import same_name
from discwright.works.store.people_tables import access_log, failures


@dataclass(frozen=True)
class Pace:
    """How failures slow what follows.

    Attributes
    ----------
    free : int
        Failures in a row that slow nothing.
    most_s : float
        Longest wait, s; the first is two seconds, each further one twice as long.
    forgotten : datetime.timedelta
        After so long without another failure all is forgotten.
    """

    free: int
    most_s: float
    forgotten: timedelta

    def wait_s(self, count: int, last: datetime, now: datetime) -> float:
        """Time until the next attempt is looked at, s.

        Parameters
        ----------
        count : int
            Failures so far.
        last, now : datetime
        """
        if count < self.free:
            return 0.0
        pause = min(2.0 ** min(count - self.free + 1, 30), self.most_s)
        # A clock that was put back makes nobody wait longer.
        return max(0.0, min(pause, pause - (now - last).total_seconds()))


BY_NAME = Pace(free=5, most_s=900.0, forgotten=timedelta(days=1))
#: Several people may sit behind one address, so it has more room and a shorter wait.
BY_PLACE = Pace(free=20, most_s=60.0, forgotten=timedelta(hours=1))
#: So long a place is known where somebody signed in.
_KNOWN_FOR = timedelta(days=30)


class SlowedError(CallError):
    """An attempt to sign in that came too soon.

    Attributes
    ----------
    wait_s : float
        Time until the next one is looked at.
    """

    def __init__(self, wait_s: float) -> None:
        self.wait_s = wait_s
        seconds = max(1, round(wait_s))
        words = f"{seconds} s" if seconds < 100 else f"{-(-seconds // 60)} minutes"
        super().__init__(f"too many attempts failed; wait {words}, then try again.")


def begin(connection: Connection, name: str, place: str, at: str) -> None:
    """Count an attempt as failed before its password is looked at, so that many at once gain nothing.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes.
    name, place : str
        As typed, and where from.
    at : str
        The time.

    Raises
    ------
    SlowedError
        If it comes too soon; then it does not count.
    """
    now = datetime.fromisoformat(at)
    counts = {}
    for key, pace in _keys(connection, name, place, now):
        counts[key], last = _count(connection, key, pace, now)
        wait = pace.wait_s(counts[key], last, now)
        if wait > 0:
            raise SlowedError(wait)
    for key, count in counts.items():
        _put(connection, key, count + 1, at)


def forgive(connection: Connection, name: str, place: str, at: str) -> None:
    """The attempt was good: the name's failures are forgotten, and this one of the place.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        In a transaction that writes.
    name, place, at : str
        As in :func:`begin`.
    """
    now = datetime.fromisoformat(at)
    for key, pace in _keys(connection, name, place, now):
        count, last = _count(connection, key, pace, now)
        connection.execute(failures.delete().where(failures.c.key == key))
        if pace is BY_PLACE and count > 1:
            _put(connection, key, count - 1, last.isoformat(timespec="microseconds"))


def tidy(connection: Connection, at: str) -> None:
    """Throw away what is forgotten anyway.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    at : str
    """
    oldest = datetime.fromisoformat(at) - BY_NAME.forgotten
    connection.execute(failures.delete().where(failures.c.last_at < oldest.isoformat(timespec="microseconds")))


def _keys(connection: Connection, name: str, place: str, now: datetime) -> Iterator[tuple[str, Pace]]:
    folded, origin = same_name(name), _origin(place)
    since = (now - _KNOWN_FOR).isoformat(timespec="microseconds")
    known = connection.execute(
        select(access_log.c.seq).where(
            access_log.c.who == name, access_log.c.what == "signed_in", access_log.c.at >= since,
            access_log.c.place == place,
        ).limit(1)
    ).first()  # fmt: skip
    yield (f"at {origin[:60]} {folded}" if known else f"name {folded}"), BY_NAME
    yield f"from {origin}", BY_PLACE


def _origin(place: str) -> str:
    """An address as it is counted: of IPv6 the network, for a machine has as many addresses there as it likes."""
    try:
        address = ipaddress.ip_address(place)
    except ValueError:
        return place
    if address.version == 6 and address.is_global:
        return str(ipaddress.ip_network((address, 64), strict=False))
    return str(address)


def _count(connection: Connection, key: str, pace: Pace, now: datetime) -> tuple[int, datetime]:
    row = connection.execute(select(failures.c.tries, failures.c.last_at).where(failures.c.key == key)).first()
    if row is None:
        return 0, now
    last = datetime.fromisoformat(row.last_at)
    return (0, now) if now - last > pace.forgotten else (int(row.tries), last)


def _put(connection: Connection, key: str, count: int, at: str) -> None:
    connection.execute(failures.delete().where(failures.c.key == key))
    connection.execute(failures.insert().values(key=key, tries=count, last_at=at))
