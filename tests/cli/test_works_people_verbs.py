"""`works people`, `tokens`, `log` and `certificate` as they are typed; a password is never an argument."""

from __future__ import annotations

import json
import os
import pty
import select
import sys
import time
from pathlib import Path
from subprocess import Popen

import pytest
from argon2 import PasswordHasher
from typer.testing import CliRunner, Result

from discwright.cli.main import app
from discwright.errors import CallError
from discwright.works.store import passwords

WORDS = "four words in a row"


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    light = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", lambda: light)
    run("init")


def run(*words: str, typed: str = "") -> Result:
    return CliRunner().invoke(app, ["works", *words], input=typed)


def said(*words: str, typed: str = "") -> str:
    result = run(*words, typed=typed)
    assert result.exit_code == 0, result.output or result.exception
    return result.stdout


def refused(*words: str, typed: str = "") -> str:
    result = run(*words, typed=typed)
    assert isinstance(result.exception, CallError), result.output
    return str(result.exception)


def add(name: str = "Kay", *roles: str) -> str:
    wanted = [word for role in roles or ("keeper",) for word in ("--role", role)]
    return said("people", "add", name, *wanted, "--password-stdin", typed=f"{WORDS}\n")


def test_people() -> None:
    assert "nobody yet" in said("people", "list")
    assert add("Kay", "keeper", "engineer") == "Kay can sign in as engineer, keeper.\n"
    assert add("Bo Lund", "press") == "Bo Lund can sign in as press.\n"
    assert said("people", "roles", "bo lund", "--role", "packing") == "Bo Lund is packing now.\n"
    assert said("people", "password", "Bo Lund", "--password-stdin", typed=f"other {WORDS}\n") == (
        "Bo Lund has a new password.\n"
    )
    assert said("people", "close", "Bo Lund") == "Bo Lund cannot sign in any more.\n"
    found = json.loads(said("people", "list", "--json"))["people"]
    assert [(one["name"], one["roles"], bool(one["closed_at"])) for one in found] == [
        ("Kay", ["engineer", "keeper"], False), ("Bo Lund", ["packing"], True),
    ]  # fmt: skip
    assert "closed 20" in said("people", "list")


def test_what_cannot_be_of_people() -> None:
    assert "the first person keeps the others" in refused(
        "people", "add", "Bo", "--role", "press", "--password-stdin", typed=f"{WORDS}\n"
    )
    assert "a password has from 8" in refused("people", "add", "Kay", "--role", "keeper", "--password-stdin")
    assert "pipe it in with --password-stdin" in refused("people", "add", "Kay", "--role", "keeper")
    add()
    assert "nobody has this name" in refused("people", "password", "Zed", "--password-stdin", typed="x\n")
    assert "the last keeper" in refused("people", "close", "Kay")
    assert "there is no ledger" in str(run("people", "list", "--ledger", "elsewhere.sqlite").exception)


@pytest.mark.slow
def test_a_password_is_asked_for_twice_and_not_shown(tmp_path: Path) -> None:
    keyboard, screen = pty.openpty()
    command = [sys.executable, "-m", "discwright", "works", "people", "add", "Kay", "--role", "keeper"]
    child = Popen(command, stdin=screen, stdout=screen, stderr=screen, cwd=tmp_path, start_new_session=True)
    os.close(screen)
    seen, answers, limit = "", ["one thing", "another thing", WORDS, WORDS], time.monotonic() + 60
    while child.poll() is None and time.monotonic() < limit:
        if select.select([keyboard], [], [], 0.2)[0]:
            try:
                seen += os.read(keyboard, 1000).decode()
            except OSError:
                break
        asked = seen.count("Password: ") + seen.count("Password again: ")
        if answers and asked > 4 - len(answers):
            os.write(keyboard, f"{answers.pop(0)}\n".encode())
    child.wait(30)
    os.close(keyboard)
    assert child.returncode == 0, seen
    assert "Kay can sign in as keeper." in seen
    assert WORDS not in seen
    assert "thing" not in seen


def test_tokens() -> None:
    add()
    assert "no machine has a token" in said("tokens", "list")
    made = run("tokens", "add", "scale 2", "--scope", "weighed", "--scope", "read", "--days", "30")
    assert made.stdout.startswith("dw_")
    assert "nobody can see it again" in " ".join(made.stderr.split())
    assert made.stdout.strip() not in said("tokens", "list")
    assert "scale 2" in said("tokens", "list")
    other = json.loads(said("tokens", "add", "scale 3", "--scope", "weighed", "--json"))
    assert other["token"].startswith(f"dw_{other['id']}_")
    assert "token" not in json.loads(said("tokens", "list", "--json"))["tokens"][0]
    assert said("tokens", "revoke", "scale 2") == "scale 2 is good for nothing any more.\n"
    states = {one["name"]: one["state"] for one in json.loads(said("tokens", "list", "--json"))["tokens"]}
    assert states == {"scale 2": "revoked", "scale 3": "good"}
    assert "never for a machine" in refused("tokens", "add", "x", "--scope", "approved")
    assert "no such token" in refused("tokens", "revoke", "scale 9")


def test_log() -> None:
    add()
    add("Bo", "press")
    rows = json.loads(said("log", "--json"))["rows"]
    assert [(one["what"], one["about"], one["place"]) for one in rows][:2] == [
        ("person_added", "Bo: press", "command line"), ("person_added", "Kay: keeper", "command line"),
    ]  # fmt: skip
    assert "added a person: Bo: press" in said("log", "--most", "1")
    assert "Bo" not in said("log", "--before", str(rows[0]["seq"]))


def test_certificate(tmp_path: Path) -> None:
    out = said("certificate", "--name", "works-desk.local", "--name", "192.168.1.5")
    assert "works-cert.pem  for the desk" in out
    assert "keep it where only you are" in out
    assert "--tls-cert works-cert.pem" in " ".join(out.split())
    facts = json.loads(said("certificate", "--name", "works-desk.local", "--renew", "--json"))
    groups = " ".join(facts["fingerprint_sha256"][i : i + 4] for i in range(0, 64, 4))
    assert groups in out
    assert "add --renew" in refused("certificate", "--name", "works-desk.local")
