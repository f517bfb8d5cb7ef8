"""Orders on their way in: a file as the body of a request, kept beside nothing and taken whole or not at all."""

from __future__ import annotations

import tempfile
from pathlib import Path

from fastapi import Request
from starlette.concurrency import run_in_threadpool

from discwright.acts.orders import OrdersTaken, take_orders
from discwright.acts.people import check_may_record, hand_of
from discwright.acts.works import Hand
from discwright.desk.door import person_of
from discwright.desk.micrographs import plain_name
from discwright.desk.works_door import ledger_of
from discwright.errors import CallError
from discwright.works.store.ledger import Ledger

#: How large the lines may be that a program sends as JSON, bytes; how large a file, the guard says.
LINES_BYTES = 16 << 20
TAKEN = "orders_taken"
_ENDINGS = (".csv", ".txt", ".tsv")


def hand_for_orders(request: Request, key: str, *, station: str = "desk", by: str = "") -> Hand:
    """Whose hand takes orders.

    Parameters
    ----------
    request : fastapi.Request
    key : str
        The same orders sent again under it are taken once.
    station, by : str

    Raises
    ------
    NotAllowedError
        If whoever asks may not take orders.
    """
    person = person_of(request)
    check_may_record(person, TAKEN)
    return hand_of(person, said_by=by, station=station, key=key)


def orders_name(name: str) -> str:
    """What a sender calls a file of orders, as the name of a file that is no path.

    Parameters
    ----------
    name : str
    """
    plain = plain_name(name) if name.strip() else "orders.csv"
    return plain if plain.casefold().endswith(_ENDINGS) else f"{plain}.csv"


async def take_sent_file(request: Request, name: str, hand: Hand) -> OrdersTaken:
    """Take the file of orders that is the body of a request.

    Parameters
    ----------
    request : fastapi.Request
    name : str
        What the sender calls it.
    hand : Hand

    Raises
    ------
    CallError
        If nothing arrived, or it cannot be read as text.
    """
    ledger = ledger_of(request)
    with tempfile.TemporaryDirectory(prefix="discwright-orders-") as place:
        path = Path(place) / orders_name(name)
        with path.open("wb") as file:
            async for piece in request.stream():
                await run_in_threadpool(file.write, piece)
        return await run_in_threadpool(_take, ledger, path, hand)


def _take(ledger: Ledger, path: Path, hand: Hand) -> OrdersTaken:
    if not path.stat().st_size:
        raise CallError("no file of orders arrived; choose one, or drop it on the page.")
    try:
        return take_orders(ledger, path, hand)
    except CallError as why:
        # The folder it lay in is nobody's business, and gone.
        raise CallError(str(why).replace(f"{path.parent}/", "")) from None


def against(taken: OrdersTaken) -> str:
    """Why nothing was taken, in a sentence; empty where it was.

    Parameters
    ----------
    taken : OrdersTaken
    """
    if taken.written:
        return ""
    speaks = [one.remedy for outcome in taken.outcomes for one in outcome.findings if one.severity == "stop"]
    if speaks:
        return f"Nothing was taken. {' '.join(speaks[:3])}"
    stops = sum(one.severity == "stop" for one in taken.findings)
    lines = "1 place" if stops == 1 else f"{stops} places"
    return f"Nothing was taken: {lines} of it must be mended first; then bring all of it again."
