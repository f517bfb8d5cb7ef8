"""`discwright desk` as a person types it."""

from __future__ import annotations

import os
import re
import signal
import ssl
import subprocess
import sys
import urllib.error
import urllib.request
import warnings
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
        found = re.search(r"https?://\S+", line)
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


@pytest.mark.slow
def test_served_over_https_to_whoever_signs_in(discwright: Run, tmp_path: Path) -> None:
    works = tmp_path / "works"
    works.mkdir()
    assert discwright("works", "init", cwd=works).returncode == 0
    piped = subprocess.run(
        [sys.executable, "-m", "discwright", "works", "people", "add", "Kay", "--role", "keeper", "--password-stdin"],
        input="four words in a row\n", text=True, cwd=works, capture_output=True,
    )  # fmt: skip
    assert piped.returncode == 0, piped.stderr
    assert discwright("works", "certificate", "--name", "works-desk.local", "--name", "127.0.0.1").returncode == 0
    tls = ("--tls-cert", tmp_path / "works-cert.pem", "--tls-key", tmp_path / "works-key.pem")
    trusting = ssl.create_default_context(cafile=tmp_path / "works-ca.pem")
    with served(tmp_path, works, "--address", "0.0.0.0", "--port", 0, *tls) as (child, address):
        assert address.startswith("https://127.0.0.1:")
        with urllib.request.urlopen(address, timeout=30, context=trusting) as answer:
            assert answer.url == f"{address}/sign-in"
        with urllib.request.urlopen(f"{address}/trust/works-ca.pem", timeout=30, context=trusting) as answer:
            assert answer.read() == (tmp_path / "works-ca.pem").read_bytes()
        # The name in the certificate is one of the desk's own; another is not.
        port = address.rsplit(":", 1)[1]
        known, other = (
            urllib.request.Request(f"{address}/sign-in", headers={"Host": f"{name}:{port}"})
            for name in ("works-desk.local", "evil.example")
        )
        with urllib.request.urlopen(known, timeout=30, context=trusting) as answer:
            assert answer.status == 200
        with pytest.raises(urllib.error.HTTPError, match="421") as refused:
            urllib.request.urlopen(other, timeout=30, context=trusting)
        refused.value.close()
        old = ssl.create_default_context(cafile=tmp_path / "works-ca.pem")
        with warnings.catch_warnings(action="ignore"):
            old.minimum_version, old.maximum_version = ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1
        old.set_ciphers("ALL:@SECLEVEL=0")
        with pytest.raises(urllib.error.URLError):
            urllib.request.urlopen(address, timeout=30, context=old)
        child.send_signal(signal.SIGINT)
        child.communicate(timeout=30)
        assert child.returncode == 0


def test_another_address_needs_to_be_meant(discwright: Run, tmp_path: Path) -> None:
    result = discwright("desk", tmp_path, "--address", "0.0.0.0")
    assert result.returncode == 2
    assert "--allow-network if plain http is meant." in result.stderr
    assert len(result.stderr.splitlines()) == 1
    # Meant or not: without anybody who could sign in nobody is let in.
    result = discwright("desk", tmp_path, "--address", "0.0.0.0", "--allow-network", "--port", 0)
    assert result.returncode == 2
    assert result.stderr.endswith(
        "has nobody who could sign in, and others in the network are let in by sign-in only; run `discwright works "
        "init` if there is no ledger yet, then `discwright works people add NAME --role keeper`.\n"
    )


def test_what_cannot_be_served(discwright: Run, tmp_path: Path) -> None:
    for arguments, words in (
        ((tmp_path / "nowhere",), "is not a folder"),
        ((tmp_path, "--address", "203.0.113.7", "--allow-network"), "choose another --port or --address."),
        ((tmp_path, "--port", "70000"), "see `discwright desk --help`."),
        ((tmp_path, "--tls-cert", "a.pem"), "give both --tls-cert and --tls-key, or neither."),
        (
            (tmp_path, "--tls-cert", "a.pem", "--tls-key", "b.pem"),
            "make it with `discwright works certificate --name HOST`.",
        ),
        ((tmp_path, "--tls-cert", __file__, "--tls-key", __file__), "certificate --name HOST`."),
        ((tmp_path, "--ledger", tmp_path / "none.sqlite"), "begin one with `discwright works init`."),
    ):
        result = discwright("desk", *arguments)
        assert result.returncode == 2, result.stderr
        assert words in result.stderr
        assert len(result.stderr.splitlines()) == 1
