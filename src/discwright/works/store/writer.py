"""Group commit: what several threads want written at the same moment goes into one transaction."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError, SQLAlchemyError

from discwright.errors import LedgerError
from discwright.works.store.batch import Batch
from discwright.works.store.connect import writing
from discwright.works.store.orders import Order, Outcome
from discwright.works.store.remembered import Remembered

#: Most orders in one transaction.
MOST = 64
#: The chain's own unique keys also stop a fork; a writer that meets one tries again.
_TRIES = 5


class _Waiting:
    """One order, and what came of it once it is settled."""

    def __init__(self, order: Order) -> None:
        self.order = order
        self.settled: Outcome | Exception | None = None
        #: It is its turn to write for all that wait.
        self.turn = False
        #: Settled, or its turn.
        self.called = threading.Event()

    def lead(self) -> None:
        self.turn = True
        self.called.set()

    def settle(self, what: Outcome | Exception) -> None:
        self.settled = what
        self.called.set()

    def answer(self) -> Outcome:
        if isinstance(self.settled, Exception):
            raise self.settled
        assert self.settled is not None
        return self.settled


class Writer:
    """Writes the orders of all threads of a process.

    One thread at a time writes: its own order, and whatever the others have handed in by then. Nobody is answered
    before the transaction that holds their line is committed.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    remembered : Remembered
    clock : callable
        The time in UTC.
    """

    def __init__(self, engine: Engine, remembered: Remembered, clock: Callable[[], datetime]) -> None:
        self._engine = engine
        self._remembered = remembered
        self._clock = clock
        self._queue: deque[_Waiting] = deque()
        self._lock = threading.Lock()
        self._busy = False

    def write(self, order: Order) -> Outcome:
        """Write one order.

        Parameters
        ----------
        order : Order
            Clean, with its key.

        Raises
        ------
        CallError
            If the order is no order.
        LedgerError
            If the database does not take it; then it was not written.
        """
        own = _Waiting(order)
        with self._lock:
            self._queue.append(own)
            if not self._busy:
                self._busy = True
                own.lead()
        try:
            own.called.wait()
            if own.settled is None:
                self._write_waiting()
        finally:  # also where this thread is stopped
            self._hand_on(own)
        return own.answer()

    def write_together(self, orders: list[Order]) -> tuple[Outcome, ...]:
        """Write several orders in one transaction of their own, or none of them.

        Parameters
        ----------
        orders : list of Order
            Clean, with their keys.

        Raises
        ------
        CallError
            If one is no order.
        LedgerError
            If the database does not take them; then nothing was written.
        """
        with writing(self._engine) as connection:
            batch = Batch(connection, orders, self._remembered, self._clock)
            told = [batch.enter(one) for one in orders]
            refused = any(one.line is None for one in told)
            if not refused:
                batch.flush()
        if refused:
            return tuple(one if one.repeated else replace(one, line=None) for one in told)
        self._remembered.learn(batch.families.values())
        return tuple(told)

    def _hand_on(self, own: _Waiting) -> None:
        """The one that has waited longest writes next, if it was this one's turn."""
        with self._lock:
            if own in self._queue:
                self._queue.remove(own)
            if not own.turn:
                return
            self._busy = bool(self._queue)
            if self._queue:
                self._queue[0].lead()

    def _write_waiting(self) -> None:
        taken: list[_Waiting] = []
        try:
            try:
                self._commit(taken)
            except LedgerError as trouble:
                if not _lost(trouble):
                    raise
                self._commit(taken)  # the server was started anew; what it did keep is found by its key
        except Exception as trouble:
            self._take(taken)
            for one in taken:
                if isinstance(trouble.__cause__, OperationalError):
                    one.settle(_copy(trouble))
                else:
                    self._write_alone(one)
        except BaseException:  # this thread is stopped, and nothing was written: the others go on
            with self._lock:
                self._queue.extendleft(one for one in reversed(taken) if one.settled is None)
            raise

    def _write_alone(self, one: _Waiting) -> None:
        """One after another, so that what cannot be written harms nobody else."""
        for _ in range(_TRIES):
            if one.settled is not None:
                return
            try:
                self._commit([one])
            except Exception as trouble:
                if not isinstance(trouble.__cause__, IntegrityError):
                    one.settle(trouble)
                last = trouble
        if one.settled is None:
            one.settle(last)

    def _commit(self, taken: list[_Waiting]) -> None:
        """One transaction; with everything that waits once it is this process's turn, where nothing is named."""
        with writing(self._engine) as connection:
            self._take(taken)
            batch = Batch(connection, [one.order for one in taken], self._remembered, self._clock)
            told = [_told(batch, one.order) for one in taken]
            batch.flush()
        self._remembered.learn(batch.families.values())
        for one, what in zip(taken, told, strict=True):
            one.settle(what)

    def _take(self, taken: list[_Waiting]) -> None:
        """Fill an empty list from the queue."""
        if taken:
            return
        with self._lock:
            while self._queue and len(taken) < MOST:
                taken.append(self._queue.popleft())


def _told(batch: Batch, order: Order) -> Outcome | Exception:
    """What comes of an order; what it is refused for is its own affair, what the database refuses is everybody's."""
    try:
        return batch.enter(order)
    except SQLAlchemyError:
        raise
    except Exception as trouble:
        return trouble


def _lost(trouble: LedgerError) -> bool:
    """The connection had ended before it was used."""
    cause = trouble.__cause__
    return isinstance(cause, DBAPIError) and cause.connection_invalidated


def _copy(trouble: Exception) -> Exception:
    """Each thread raises its own."""
    own = LedgerError(str(trouble)) if isinstance(trouble, LedgerError) else trouble
    own.__cause__ = trouble.__cause__
    return own
