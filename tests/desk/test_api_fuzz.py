"""The API held against its own description: nothing that is sent brings it down, and every answer has its shape."""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from discwright.desk import jobs
from discwright.desk.app import create_app
from discwright.desk.shelf import Shelf

HOST = "127.0.0.1:8333"
ORDER = {
    "account": "K7", "name": "Shop K7", "address_1": "Quay 1", "city": "Harbour", "postcode": "1", "country": "NO",
    "edition": "OKW 0042/lp", "count": 25,
}  # fmt: skip
CHECKS = (not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance)


@pytest.fixture(scope="module")
def described(
    planned_folder: Path, tmp_path_factory: pytest.TempPathFactory, make_play: Any, reported: Any
) -> Iterator[Any]:
    """The description of a desk whose jobs all wait: what is fuzzed is the API, not the planning."""
    place = tmp_path_factory.mktemp("fuzz")
    shutil.copytree(planned_folder, place / "works")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_STATE_HOME", str(place / "state"))
        patch.setattr(jobs, "AT_ONCE", 0)
        app = create_app(place / "works", (HOST,))
        headers = {"Host": HOST, "Cookie": "operator=Ada"}
        parts = metal_of(TestClient(app, base_url=f"http://{HOST}"))
        play = make_play(place / "works" / ".desk" / "plays", reported(), parts[0])
        schema = schemathesis.openapi.from_asgi("/api/openapi.json", app, headers=headers)
        found = Shelf(place / "works").found()
        known = {"plan": list(found.plans), "title": list(found.titles), "layer": ["vinyl", "land", "echo"],
                 "version": ["programme", "proof"], "catalogue": ["OKW 0042"], "part": parts,
                 "play": [play]}  # fmt: skip
        choose = random.Random(5)

        @schema.hook
        def map_path_parameters(_context: Any, path_parameters: dict[str, Any] | None) -> dict[str, Any] | None:
            """Most of the time something that is there, so that more than “not there” is tried."""
            for name, values in known.items():
                if path_parameters and name in path_parameters and choose.random() < 0.8:
                    path_parameters[name] = choose.choice(values)
            return path_parameters

        @schema.hook
        def map_body(context: Any, body: Any) -> Any:
            """Now and then something that can be written into the ledger."""
            right = {
                "/api/works/events": {"part": choose.choice(parts[1:]), "kind": "passivated"},
                "/api/works/grow": {"parent": choose.choice(parts[1:]), "accepted": "for this"},
                "/api/works/orders": [ORDER | {"order": f"F-{choose.randrange(1 << 30)}"}],
            }
            path = context.operation.path if context.operation is not None else ""
            return right[path] if path in right and choose.random() < 0.3 else body

        yield schema
        app.state.desk.close()


def metal_of(client: TestClient) -> list[str]:
    """Numbers of some parts of a ledger that is begun for this."""
    client.cookies.set("operator", "Ada")
    client.post("/works/begin")
    client.post("/works/take-in", data={"title": "weather-ship~title", "key": "k"})
    cut = {"plan": "weather-ship~lp-A", "title": "OKW 0042", "side": "A", "lacquer": "B"}
    found = [client.post("/api/works/cut", json=cut).json()["part"]]
    for _ in range(2):
        found.append(client.post("/api/works/grow", json={"parent": found[-1], "accepted": "for this"}).json()["part"])
    return found


@pytest.mark.slow
def test_whatever_is_sent(described: Any) -> None:
    operations = [one.ok() for one in described.get_all_operations()]
    reached: set[str] = set()
    assert {one.path.split("/")[2] for one in operations} == {"titles", "plans", "jobs", "uploads", "works", "plays"}
    for operation in operations:

        @given(case=operation.as_strategy())
        @settings(
            max_examples=25, deadline=None, derandomize=True, phases=[Phase.generate], database=None,
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        def ask(case: schemathesis.Case) -> None:
            answer = case.call_and_validate(headers={"Host": HOST, "Cookie": "operator=Ada"}, checks=CHECKS)
            if answer.status_code < 300:
                reached.add(f"{case.method} {case.path}")

        ask()
    # Not only refusals were seen: most operations were really done at least once.
    assert len(reached) > 0.6 * len(operations), sorted(reached)
