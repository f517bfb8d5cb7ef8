"""`discwright desk` as a person types it."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

Run = Callable[..., subprocess.CompletedProcess[str]]


@contextmanager
def served(tmp_path: Path, *arguments: object) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A desk in a process of its own, and the address it prints."""
    child = subprocess.Popen(
        [sys.executable, "-m", "discwright", "desk", *map(str, arguments)], stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, env=os.environ | {"XDG_STATE_HOME": str(tmp_path / "state")},
    )  # fmt: skip
    try:
        assert child.stdout is not None
        line = child.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found is not None, line + (child.stderr.read() if child.stderr else "")
        yield child, found.group()
    finally:
        child.kill()
        child.wait()
        for stream in (child.stdout, child.stderr):
            if stream is not None:
                stream.close()


@pytest.mark.slow
def test_served_and_closed_with_ctrl_c(tmp_path: Path) -> None:
    (tmp_path / "works").mkdir()
    with served(tmp_path, tmp_path / "works", "--port", 0) as (child, address):
        with urllib.request.urlopen(address, timeout=30) as answer:
            assert answer.status == 200
        child.send_signal(signal.SIGINT)
        out, err = child.communicate(timeout=30)
        assert child.returncode == 0
        assert out == ""
        assert err == "the desk is closed; what was planned is kept.\n"


def test_another_address_needs_to_be_meant(discwright: Run, tmp_path: Path) -> None:
    result = discwright("desk", tmp_path, "--address", "0.0.0.0")
    assert result.returncode == 2
    assert "there is no sign-in yet; add --allow-network if that is meant." in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_what_cannot_be_served(discwright: Run, tmp_path: Path) -> None:
    for arguments, words in (
        ((tmp_path / "nowhere",), "is not a folder"),
        ((tmp_path, "--address", "203.0.113.7", "--allow-network"), "choose another --port or --address."),
        ((tmp_path, "--port", "70000"), "see `discwright desk --help`."),
    ):
        result = discwright("desk", *arguments)
        assert result.returncode == 2, result.stderr
        assert words in result.stderr
        assert len(result.stderr.splitlines()) == 1
