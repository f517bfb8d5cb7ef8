"""A hand that writes into a ledger from a process of its own, and says what it was told is written.

python hand.py write ADDRESS NAME THREADS COUNT    so many lines by each of so many threads
python hand.py die ADDRESS TIMES SEED              again and again a child that writes until it is killed
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import threading
import time
from typing import Any, NoReturn

from discwright.errors import LedgerError
from discwright.works import events as e
from discwright.works.chain import broken
from discwright.works.store.ledger import Ledger, Order, open_ledger
from discwright.works.store.verify import verify

TITLE = "VK 1001"


def order(name: str, k: int) -> Order:
    """The k-th thing a hand writes: every third makes a part, with rows in all tables."""
    key = f"{name}-{k}"
    if k % 3:
        return Order(e.TestCutMeasured(width_um=float(k)), name, TITLE, key=key)
    programme = f"{k:064x}"
    cut = e.LacquerCut(
        edition="lp", side="A", fingerprint=programme, programme_sha256=programme, lacquer_batch=key, mark=key
    )
    return Order(cut, name, TITLE, key=key, accepted="for the test")


def write(ledger: Ledger, name: str, count: int, told: Any) -> None:
    """Write so many lines; each is told only after it is acknowledged."""
    for k in range(count):
        line = ledger.append(order(name, k)).line
        assert line is not None
        told(f"{line.seq} {line.hash} {line.key}")


def write_together(address: str, name: str, threads: int, count: int) -> None:
    """Several threads of one process."""
    ledger, lock = open_ledger(address), threading.Lock()

    def tell(text: str) -> None:
        with lock:
            sys.stdout.write(f"{text}\n")
            sys.stdout.flush()

    hands = [threading.Thread(target=write, args=(ledger, f"{name}.{k}", count, tell)) for k in range(threads)]
    for one in hands:
        one.start()
    for one in hands:
        one.join()
    ledger.close()


def check_told(ledger: Ledger, told: list[str]) -> None:
    """Everything that was acknowledged stands in the ledger, once, and the ledger holds."""
    lines = {line.key: line for line in ledger.lines()}
    assert [line.seq for line in ledger.lines()] == list(range(1, len(lines) + 1))
    assert len(told) == len(set(told))
    for text in told:
        seq, hash_, key = text.split(" ", 2)
        assert (str(lines[key].seq), lines[key].hash) == (seq, hash_)
    assert list(broken(ledger.lines())) == []
    found = verify(ledger)
    assert (found.breaks, found.findings) == ((), ())


def live(address: str, name: str, outwards: int) -> NoReturn:
    """Write without end, and tell it through a pipe."""
    try:
        write(open_ledger(address), name, 10**6, lambda text: os.write(outwards, f"{text}\n".encode()))
    except LedgerError as trouble:
        os.write(outwards, f"! {trouble}\n".encode())
    os._exit(1)


def die(address: str, times: int, seed: int) -> None:
    """Children that are killed at random moments while they write; prints what they were told."""
    chance, told = random.Random(seed), list[str]()
    for k in range(times):
        inwards, outwards = os.pipe()
        child = os.fork()
        if not child:
            os.close(inwards)
            live(address, f"child {k}", outwards)
        os.close(outwards)
        said = os.read(inwards, 4096)
        time.sleep(chance.uniform(0, 0.05))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        while more := os.read(inwards, 65_536):
            said += more
        os.close(inwards)
        told += said.decode().splitlines()
    sys.stdout.write(json.dumps(told))


if __name__ == "__main__":
    act, where, *rest = sys.argv[1:]
    if act == "write":
        write_together(where, rest[0], int(rest[1]), int(rest[2]))
    else:
        die(where, int(rest[0]), int(rest[1]))
