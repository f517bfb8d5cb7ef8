"""Processes told apart: a number alone does not say which one is meant."""

from __future__ import annotations

import os
import subprocess
import sys
import time

from discwright.desk.children import birth


def test_a_process_has_one_birth() -> None:
    assert birth(os.getpid()) == birth(os.getpid()) != ""
    assert birth(os.getpid()) != birth(1)


def test_what_does_not_run_was_never_born() -> None:
    """Neither what has ended and is not yet buried, nor what is buried, nor what never was."""
    process = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    assert birth(process.pid) != ""
    assert process.stdin is not None
    process.stdin.close()
    until = time.monotonic() + 60.0
    while birth(process.pid) and time.monotonic() < until:
        time.sleep(0.01)
    assert birth(process.pid) == "", "ended, and nobody has asked yet"
    process.wait()
    assert birth(process.pid) == ""
    assert birth(2**30) == ""
