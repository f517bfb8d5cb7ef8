"""The door: every route of the desk against every role and token, by a table written here; and what comes in how."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from argon2 import PasswordHasher
from fastapi.testclient import TestClient
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route

from discwright.desk import app
from discwright.desk.app import create_app
from discwright.desk.door import RULES, Door, need_of, person_of, sign_in_path
from discwright.desk.guard import Guard, hosts_for, own_path
from discwright.desk.state import Desk
from discwright.errors import CallError, LedgerError
from discwright.works import events as e
from discwright.works.events import EVENTS
from discwright.works.people import MAY, ROLES, SCOPES
from discwright.works.store import passwords
from discwright.works.store.ledger import Ledger, Order, begin_ledger, open_ledger
from discwright.works.store.people import By, add_person, all_people, close_person, set_roles
from discwright.works.store.sessions import person_of_session, sign_in
from discwright.works.store.tokens import make_token, revoke_token

HOST = "127.0.0.1:8333"
HERE = {"Origin": f"http://{HOST}"}
WORDS = "four words in a row"
#: Hashes that take no time.
LIGHT = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
BY = By("root", "command line")
#: A letter for each caller: a person of each role, a token that may look, one that may weigh, and nobody.
LETTERS = {
    "engineer": "E", "plating": "A", "press": "R", "packing": "C", "reader": "L", "keeper": "K", "token read": "r",
    "token weighed": "w", "nobody": "N",
}  # fmt: skip
ANYBODY, PEOPLE, PLANNERS, KEEPERS, HANDS = "EARCLKrwN", "EARCLK", "EK", "K", "EARCK"
#: By hand: every route of the desk, and who is let in. A route that stands here nowhere fails the test.
EXPECTED: dict[str, dict[str, str]] = {
    ANYBODY: {
        "/static": "GET", "/sign-in": "GET POST", "/sign-out": "POST", "/trust": "GET", "/trust/works-ca.pem": "GET",
        "/units": "POST", "/look": "POST",
    },
    PEOPLE: {
        "/you": "GET", "/you/name": "POST", "/you/password": "POST", "/you/sign-out-everywhere": "POST", "/": "GET",
        "/patterns": "GET", "/titles/{title}": "GET", "/plans/{plan}": "GET", "/plans/{plan}/files/{name}": "GET",
        "/jobs/{job}": "GET", "/works": "GET", "/works/board.csv": "GET", "/works/search": "GET",
        "/works/titles/{catalogue:path}": "GET", "/works/parts/{part_id}": "GET",
        "/works/parts/{part_id}/code.svg": "GET", "/works/parts/{part_id}/label.pdf": "GET",
        "/works/parts/{part_id}/sheet.pdf": "GET", "/works/labels/{catalogue:path}": "GET",
        "/works/guilt/{catalogue:path}": "GET",
        "/works/parts/{part_id}/card.pdf": "GET", "/works/parts/{part_id}/next-card.pdf": "GET", "/station": "GET",
        "/station/say": "GET", "/station/scanner": "GET POST", "/station/choose": "POST", "/plays": "GET",
        "/plays/{play}": "GET", "/plays/{play}/files/{name}": "GET", "/microscope": "GET",
        "/microscope/{photo}": "GET", "/microscope/{photo}/gauge.png": "GET",
        "/hall": "GET", "/hall/presses.csv": "GET", "/hall/waiting.csv": "GET", "/hall/schedule.svg": "GET",
        "/runs": "GET", "/runs/runs.csv": "GET",
        "/runs/{run}": "GET", "/runs/{run}/accounts.csv": "GET", "/runs/{run}/code.svg": "GET",
        "/runs/{run}/lot": "GET", "/runs/{run}/lot/oc.svg": "GET", "/runs/{run}/lots/{lot}": "GET",
        "/runs/{run}/lots/{lot}/face.svg": "GET",
        "/stock": "GET", "/stock/stock.csv": "GET", "/orders": "GET", "/orders/orders.csv": "GET", "/promises": "GET",
        "/promises/promises.csv": "GET", "/packing": "GET", "/packing/find": "GET", "/packing/{packing}": "GET",
        "/packing/{packing}/labels.pdf": "GET", "/packing/{packing}/manifest.csv": "GET",
        "/packing/{packing}/pick-list.csv": "GET", "/dock": "GET", "/dock/load.csv": "GET", "/recalls": "GET",
        "/recalls/recalls.csv": "GET", "/cartons/{sscc}": "GET",
    },
    f"{PEOPLE}r": {
        "/api/openapi.json": "GET", "/api/titles": "GET", "/api/titles/{title}": "GET",
        "/api/titles/{title}/sides": "GET", "/api/titles/{title}/layouts": "GET", "/api/plans": "GET",
        "/api/plans/{plan}": "GET", "/api/plans/{plan}/findings": "GET", "/api/plans/{plan}/map": "GET",
        "/api/plans/{plan}/tiles/{layer}/{level}/{column}/{row}.png": "GET", "/api/plans/{plan}/place": "GET",
        "/api/plans/{plan}/time": "GET", "/api/plans/{plan}/ruler": "GET", "/api/plans/{plan}/view": "GET",
        "/api/plans/{plan}/strip": "GET", "/api/plans/{plan}/clips": "GET",
        "/api/plans/{plan}/clips/{version}.wav": "GET", "/api/plans/{plan}/bookmarks": "GET", "/api/jobs": "GET",
        "/api/jobs/{job}": "GET", "/api/uploads": "GET", "/api/uploads/{upload}": "GET", "/api/works/board": "GET",
        "/api/works/titles/{catalogue:path}": "GET", "/api/works/parts/{part}": "GET", "/api/works/search": "GET",
        "/api/works/orders": "GET", "/api/works/stock": "GET",
        "/api/works/guilt/{catalogue:path}": "GET", "/api/plays": "GET", "/api/plays/{play}": "GET",
        "/api/plays/{play}/clips": "GET", "/api/plays/{play}/clips/{version}.wav": "GET",
    },
    PLANNERS: {
        "/open": "POST", "/jobs/{job}/stop": "POST", "/jobs/{job}/aside": "POST", "/titles/{title}/plan": "POST",
        "/titles/{title}/layout": "POST", "/titles/{title}/choose": "POST", "/titles/new": "POST",
        "/plans/{plan}/what-if": "POST", "/plans/{plan}/ladder": "POST", "/plans/{plan}/make": "POST",
        "/plans/{plan}/prepare": "POST", "/plans/{plan}/keep": "POST", "/plans/{plan}/drop": "POST",
        "/api/titles/{title}/plan": "POST", "/api/titles/{title}/layout": "POST", "/api/jobs/{job}/stop": "POST",
        "/api/plans/{plan}/bookmarks": "POST", "/api/plans/{plan}/bookmarks/{bookmark}": "DELETE",
        "/api/plans/{plan}/what-ifs": "POST", "/api/uploads": "POST", "/api/uploads/finish-title": "POST",
        "/api/uploads/{upload}": "PUT DELETE", "/api/uploads/{upload}/finish": "POST", "/plays": "POST",
        "/plays/{play}/again": "POST", "/plays/{play}/drop": "POST", "/plays/{play}/keep": "POST",
        "/plays/{play}/approve": "POST", "/plays/{play}/refuse": "POST", "/api/plays": "POST",
    },
    HANDS: {
        "/works/begin": "POST", "/works/take-in": "POST", "/works/keep": "POST", "/works/cut": "POST",
        "/works/heard": "POST", "/microscope": "POST", "/microscope/{photo}/again": "POST",
        "/station/do": "POST", "/station/undo": "POST",
        "/hall/begin": "POST", "/hall/schedule": "POST", "/runs/{run}/first-off": "POST", "/runs/{run}/pressed": "POST",
        "/runs/{run}/stock": "POST", "/runs/{run}/take-out": "POST", "/runs/{run}/recall": "POST",
        "/runs/{run}/lot": "POST", "/runs/{run}/lot/restart": "POST", "/runs/{run}/lots/{lot}/decide": "POST",
        "/orders/file": "POST", "/orders/cancel": "POST", "/packing/pack": "POST", "/packing/open": "POST",
        "/packing/printer": "POST", "/dock/choose": "POST", "/dock/load": "POST", "/recalls/told": "POST",
    },
    f"{HANDS}w": {
        "/api/works/events": "POST", "/api/works/grow": "POST", "/api/works/cut": "POST", "/api/works/photo": "POST",
        "/api/works/orders": "POST",
    },
    KEEPERS: {
        "/people": "GET", "/people/add": "POST", "/people/{person}/roles": "POST", "/people/{person}/password": "POST",
        "/people/{person}/close": "POST", "/tokens": "GET", "/tokens/add": "POST", "/tokens/{token}/revoke": "POST",
        "/access-log": "GET",
    },
}  # fmt: skip
TABLE = {
    (method, path): who for who, paths in EXPECTED.items() for path, methods in paths.items()
    for method in methods.split()
}  # fmt: skip
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE")


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    monkeypatch.setattr(passwords, "_hasher", lambda: LIGHT)
    monkeypatch.setattr(app, "_warm", lambda: None)  # nobody looks at a disc here
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    passwords.nobodys_hash.cache_clear()
    yield
    passwords.nobodys_hash.cache_clear()


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A folder with nothing in it."""
    (tmp_path / "works").mkdir()
    return tmp_path / "works"


@pytest.fixture(scope="module")
def peopled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with a person of each role, to be copied: Kay the keeper; of the others their role is their name."""
    place = tmp_path_factory.mktemp("peopled") / "works.sqlite"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_hasher", lambda: LIGHT)
        ledger = begin_ledger(str(place))
        add_person(ledger, "Kay", ("keeper",), WORDS, by=BY)
        for role in ROLES:
            if role != "keeper":
                add_person(ledger, f"{role} one", (role,), WORDS, by=BY)
        ledger.close()
    return place


@pytest.fixture
def ledger(place: Path, peopled: Path) -> Iterator[Ledger]:
    """The folder's ledger, with people."""
    shutil.copy(peopled, place / "works.sqlite")
    ledger = open_ledger(str(place))
    yield ledger
    ledger.close()


@contextmanager
def opened(place: Path | None, base: str = f"http://{HOST}", **more: Any) -> Iterator[TestClient]:
    """The desk over a folder, asked as its own pages ask."""
    scheme, _, host = base.partition("://")
    hosts = (host, "localhost:8333", HOST)
    made = create_app(place, hosts, scheme=scheme, **more)
    with TestClient(made, base_url=base, follow_redirects=False, headers={"Origin": base}) as client:
        yield client
    made.state.desk.close()


@pytest.fixture
def client(place: Path, ledger: Ledger) -> Iterator[TestClient]:
    """The desk over the folder with people, nobody signed in."""
    with opened(place) as asked:
        yield asked


def name_of(role: str) -> str:
    return "Kay" if role == "keeper" else f"{role} one"


def session(ledger: Ledger, role: str) -> dict[str, str]:
    """Headers of somebody of a role who is signed in."""
    return {"Cookie": f"session={sign_in(ledger, name_of(role), WORDS, 'testclient').number}"}


def callers(ledger: Ledger) -> dict[str, dict[str, str]]:
    """Headers of every caller."""
    scopes = {"token read": "read", "token weighed": "weighed"}
    made = {who: make_token(ledger, who, (scope,), 30, by=BY)[1] for who, scope in scopes.items()}
    return (
        {role: session(ledger, role) for role in ROLES} | {"nobody": {}}
        | {who: {"Authorization": f"Bearer {secret}"} for who, secret in made.items()}
    )  # fmt: skip


def text_of(page: str) -> str:
    import html

    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


# Every route, every role --------------------------------------------------------------------------------


def routes(found: Iterable[Any]) -> Iterator[Any]:
    """Every route, also of routers that the framework keeps whole."""
    for one in found:
        inner = getattr(one, "original_router", None)
        if inner is None:
            yield one
        else:
            yield from routes(inner.routes)


def asked_for(route: Any) -> set[tuple[str, str]]:
    methods = {"GET"} if isinstance(route, Mount) else set(route.methods) - {"HEAD"}
    return {(method, route.path) for method in methods}


def path_of(template: str) -> str:
    return f"{template}/x1.css" if template == "/static" else re.sub(r"\{[^}]+\}", "x1", template)


def test_every_route_stands_in_the_table_and_no_other() -> None:
    there = set().union(*(asked_for(route) for route in routes(create_app(None, (HOST,)).routes)))
    assert len(there) > 80
    assert there - set(TABLE) == set(), "give the route a rule at the door, and a row here"
    assert set(TABLE) - there == set()
    assert {need_of(method, path_of(template)) for method, template in TABLE} <= {*MAY, "open", "self"}


@pytest.fixture
def stub(place: Path, ledger: Ledger) -> Iterator[TestClient]:
    """The door alone, with something behind it that only says who came in."""

    async def inside(request: Request) -> Response:
        return PlainTextResponse(person_of(request).name, 299)

    desk = Desk()
    desk.open(place)
    everything = Route("/{path:path}", inside, methods=[*METHODS, "OPTIONS"])
    door = Starlette(routes=[everything], middleware=[Middleware(Door, desk=desk)])
    door.state.desk = desk
    with TestClient(door, base_url=f"http://{HOST}", follow_redirects=False, headers=HERE) as client:
        yield client
    desk.close()


def test_every_role_at_every_route(stub: TestClient, ledger: Ledger) -> None:
    wrong = []
    for who, headers in callers(ledger).items():
        for (method, template), allowed in TABLE.items():
            answer = stub.request(method, path_of(template), headers=headers)
            let_in = answer.status_code == 299
            if let_in != (LETTERS[who] in allowed):
                wrong.append(f"{who}: {method} {template} {answer.status_code}")
            if not let_in:
                assert answer.status_code in ((303, 401) if who == "nobody" else (403,)), (who, method, template)
    assert wrong == []


def test_every_role_with_every_method_even_where_there_is_no_such_route(stub: TestClient, ledger: Ledger) -> None:
    """Whatever the routes are: nobody comes in but by what is open, and a reader changes nothing."""
    known = callers(ledger)
    templates = sorted({template for _, template in TABLE})
    for template in templates:
        for method in METHODS:
            path = path_of(template)
            reads = "GET" if method == "HEAD" else method
            nobody = stub.request(method, path).status_code == 299
            assert nobody == ("N" in TABLE.get((reads, template), "")), (method, path)
            reader = stub.request(method, path, headers=known["reader"]).status_code == 299
            assert not reader or method in ("GET", "HEAD") or "L" in TABLE.get((method, template), ""), (method, path)


@pytest.mark.parametrize(
    "path",
    ["/nonsense", "/works-elsewhere", "/worksx", "/api", "/api/", "/api/people", "/api/tokens", "/PEOPLE", "/people/",
     "/People", "//people", "/./people", "/access-log/x", "/you/x", "/static", "/static/", "/trust/works-ca-key.pem",
     "/openapi.json", "/docs", "/titles", "/sign-in/", "/sign-in/x", "/people%2fadd", "/people%0a", "/%00",
     "/.git/config"],
)  # fmt: skip
def test_what_no_rule_knows_is_closed(stub: TestClient, ledger: Ledger, path: str) -> None:
    keeper = session(ledger, "keeper")
    for method in METHODS:
        assert stub.request(method, path).status_code in (303, 401), method
        # A keeper may do everything, but not what nobody wrote a rule for.
        answer = stub.request(method, path, headers=keeper)
        lets_in = need_of(method, str(answer.request.url.path)) is not None
        assert (answer.status_code == 299) == lets_in, (method, path)


def test_a_route_that_was_forgotten_is_closed(place: Path) -> None:
    desk = create_app(place, (HOST,))

    @desk.get("/forgotten")
    def forgotten() -> dict[str, str]:
        return {"secret": "open"}

    with TestClient(desk, base_url=f"http://{HOST}") as asked:
        assert asked.get("/forgotten").status_code == 404
        assert "open" not in text_of(asked.get("/forgotten").text)


def test_the_rules_need_only_what_there_is() -> None:
    assert {rule.need for rule in RULES} <= {*MAY, "open", "self"}
    assert all(method in METHODS for rule in RULES for method in rule.methods)


# Which event a role may record --------------------------------------------------------------------------

#: By hand, as in the tests of the table itself.
RECORD = {
    "title_taken_in": "E", "plan_kept": "E", "test_cut_measured": "E", "lacquer_cut": "E",
    "checked_under_the_microscope": "EA", "handed_over": "EARC", "silvered": "A", "plated": "A", "separated": "A",
    "passivated": "A", "weighed": "Aw", "measured": "EA", "back_sanded": "A", "centred": "AR", "trimmed": "AR",
    "formed": "AR", "test_played": "E", "approved": "E", "refused": "E", "put_to_press": "R", "taken_off": "R",
    "vaulted": "EARC", "scrapped": "EAR", "recalled": "E", "corrected": "EARC",
    "run_begun": "R", "first_off": "ER", "run_pressed": "R", "lot_inspected": "ER", "lot_disposed": "E",
    "inspection_restarted": "E", "stocked": "RC", "taken_out": "ERC", "orders_taken": "C", "order_cancelled": "C",
    "cartons_packed": "C", "carton_opened": "C", "loaded": "C", "account_told": "EC",
}  # fmt: skip


def test_every_role_and_every_event_through_the_api_and_the_station(client: TestClient, ledger: Ledger) -> None:
    """Whoever may not is refused with 403; whoever may gets as far as the part that is not there."""
    for who, headers in callers(ledger).items():
        for kind in EVENTS:
            may = who == "keeper" or LETTERS[who] in RECORD[kind]
            answer = client.post("/api/works/events", json={"kind": kind, "part": "LA1-3"}, headers=headers)
            # What has a verb of its own is refused to everybody here, before it is asked who it is.
            refused = not may if EVENTS[kind].recordable or who in ("nobody", "reader", "token read") else False
            assert (answer.status_code in (401, 403)) == refused, (who, kind, answer.text)
            assert answer.status_code >= 400
            answer = client.post("/station/do", data={"kind": kind, "part": "LA1-3"}, headers=headers)
            assert (answer.status_code in (401, 403)) == (not may or "token" in who), (who, kind, answer.text)
            assert answer.status_code >= 400
    assert ledger.head()[0] == 0


def taken_in(ledger: Ledger) -> None:
    edition = {"id": "lp", "format": "12in-33", "quantity": 1, "due": "", "sides": ["A"]}
    ledger.append(Order(e.TitleTakenIn(name="Quay", editions=(edition,)), "engineer one", "VK 1"))
    nought = "0" * 64
    cut = e.LacquerCut(edition="lp", side="A", fingerprint=nought, programme_sha256=nought, lacquer_batch="7")
    assert ledger.append(Order(cut, "engineer one", "VK 1")).line is not None


def test_a_line_is_by_whoever_is_signed_in_whatever_is_said(client: TestClient, ledger: Ledger) -> None:
    taken_in(ledger)
    part = ledger.family("VK 1").parts
    (lacquer,) = part
    said = {"kind": "silvered", "part": lacquer, "by": "Kay", "key": "k1"}
    answer = client.post("/api/works/events", json=said, headers=session(ledger, "plating"))
    assert answer.status_code in (200, 409), answer.text
    if answer.status_code == 200:
        assert answer.json()["by"] == "plating one"
    assert {line.by for line in ledger.lines()} <= {"engineer one", "plating one"}


def test_a_stop_is_accepted_by_an_engineer_and_a_line_put_right_by_its_own_hand(
    client: TestClient, ledger: Ledger
) -> None:
    taken_in(ledger)
    (lacquer,) = ledger.family("VK 1").parts
    said = {"kind": "handed_over", "part": lacquer, "accepted": "it is fine"}
    for role, status in (("packing", 403), ("press", 403), ("engineer", 200), ("keeper", 200)):
        assert client.post("/api/works/events", json=said, headers=session(ledger, role)).status_code == status, role
    seq = ledger.head()[0]  # the keeper's line
    for role, status in (("packing", 403), ("reader", 403), ("engineer", 403), ("keeper", 303)):
        answer = client.post("/station/undo", data={"seq": str(seq), "key": role}, headers=session(ledger, role))
        assert answer.status_code == status, (role, text_of(answer.text))


# Signing in ---------------------------------------------------------------------------------------------


def signed(client: TestClient, name: str = "Kay", password: str = WORDS, to: str = "/") -> Any:
    return client.post("/sign-in", data={"name": name, "password": password, "to": to})


def test_in_and_out(client: TestClient, ledger: Ledger) -> None:
    assert client.get("/").headers["location"] == "/sign-in"
    assert client.get("/works?finished=true").headers["location"] == "/sign-in?to=/works%3Ffinished%3Dtrue"
    answer = signed(client, "KAY", to="/works?finished=true")
    assert (answer.status_code, answer.headers["location"]) == (303, "/works?finished=true")
    cookie = answer.headers["set-cookie"].lower()
    assert cookie.startswith("session=")
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "secure" not in cookie  # over plain http it would never arrive
    page = client.get("/")
    assert page.status_code == 200
    assert "Kay" in text_of(page.text)
    number = client.cookies["session"]
    out = client.post("/sign-out")
    assert out.headers["location"] == "/sign-in"
    assert out.headers["clear-site-data"] == '"cache"'
    assert client.get("/").status_code == 303
    assert client.get("/", headers={"Cookie": f"session={number}"}).status_code == 303  # nor by going back


def test_over_https_the_cookie_is_for_this_host_alone(place: Path, ledger: Ledger) -> None:
    with opened(place, f"https://{HOST}", network=True) as client:
        cookie = signed(client).headers["set-cookie"]
        assert cookie.startswith("__Host-session=")
        assert {"Secure", "HttpOnly", "Path=/", "SameSite=strict"} <= set(cookie.split("; "))
        assert "Domain" not in cookie
        number = cookie.split(";")[0].split("=")[1]
        assert client.get("/", headers={"Cookie": f"__Host-session={number}"}).status_code == 200
        # A cookie that another host of the domain could have set is not looked at.
        client.cookies.clear()
        assert client.get("/", headers={"Cookie": f"session={number}"}).status_code == 303
        assert "passwords can be read" not in client.get("/sign-in").text


def test_signing_in_gives_another_number_each_time(client: TestClient, ledger: Ledger) -> None:
    planted = "p" * 43
    numbers = {planted}
    for before in (planted, ""):
        cookie = {"Cookie": f"session={before}"} if before else {}
        fields = {"name": "Kay", "password": WORDS}
        answer = client.post("/sign-in", data=fields, headers=cookie)
        numbers.add(answer.headers["set-cookie"].split(";")[0].split("=")[1])
    assert len(numbers) == 3
    assert [person_of_session(ledger, one) is not None for one in sorted(numbers - {planted})].count(True) == 1


def test_the_same_answer_for_a_wrong_password_and_an_unknown_name(client: TestClient) -> None:
    answers = [signed(client, name, "no") for name in ("Kay", "Zed")]
    assert [one.status_code for one in answers] == [401, 401]
    pages = [text_of(one.text) for one in answers]
    assert pages[0] == pages[1].replace("Zed", "Kay")
    assert "Name and password do not fit together" in pages[0]
    assert "set-cookie" not in answers[0].headers


def test_slowed(client: TestClient, ledger: Ledger) -> None:
    for _ in range(5):
        assert signed(client, "Kay", "no").status_code == 401
    answer = signed(client)
    assert answer.status_code == 429
    assert 1 <= int(answer.headers["retry-after"]) <= 2
    assert "Too many attempts failed; wait" in text_of(answer.text)
    assert signed(client, "reader one").status_code == 303  # others are not held up


HOSTILE = (
    "//evil.example/", "/\\evil.example", "\\\\evil.example", "https://evil.example", "/%2fevil.example",
    "/%252fevil.example", "/%5cevil.example", "javascript:alert(1)", "/..//evil.example", "/\t/evil.example",
    "/%09/evil.example", "evil.example", "", "/a\r\nSet-Cookie: x=1", "/%0d%0aSet-Cookie:x=1", "http:evil.example",
)  # fmt: skip


def test_nobody_is_sent_elsewhere_after_signing_in(client: TestClient) -> None:
    for hostile in HOSTILE:
        answer = signed(client, to=hostile)
        assert (answer.status_code, answer.headers["location"]) == (303, "/"), hostile
        shown = client.get("/sign-in", params={"to": hostile})
        assert '<input type="hidden" name="to" value="/">' in shown.text, hostile
        assert own_path(sign_in_path(hostile)) == "/sign-in", hostile


def test_what_is_asked_without_signing_in(client: TestClient, ledger: Ledger, place: Path) -> None:
    answer = client.get("/api/titles")
    assert (answer.status_code, answer.headers["www-authenticate"]) == (401, "Bearer")
    assert answer.json() == {"sentence": answer.json()["sentence"]}
    answer = client.post("/api/works/events", json={"kind": "weighed", "part": "LA1-3"})
    assert "nothing was done" in answer.json()["sentence"]
    answer = client.get("/jobs/x", headers={"HX-Request": "true", "HX-Current-URL": f"http://{HOST}/titles/a?b=1"})
    assert (answer.status_code, answer.headers["hx-redirect"]) == (401, "/sign-in?to=/titles/a%3Fb%3D1")
    answer = client.get(
        "/jobs/x", headers={"HX-Request": "true", "HX-Current-URL": "http://evil.example//evil.example"}
    )
    assert answer.headers["hx-redirect"] == "/sign-in"
    answer = client.post("/station/do", headers={"Accept": "application/json"})
    assert (answer.status_code, list(answer.json())) == (401, ["sentence"])
    # Nothing of the folder is told to strangers.
    assert f"folder {place.name}" in text_of(client.get("/patterns", headers=session(ledger, "reader")).text)
    for path in ("/sign-in", "/trust", "/nonsense"):
        assert f"folder {place.name}" not in text_of(client.get(path).text), path


def test_where_nobody_was_made_nobody_signs_in(place: Path) -> None:
    with opened(place) as client:
        assert client.get("/").status_code == 200
        assert client.get("/sign-in?to=/patterns").headers["location"] == "/patterns"
        assert signed(client, to="/patterns").headers["location"] == "/patterns"
        assert client.get("/people").status_code == 200
        named = client.post("/you/name", data={"name": " Anna  Østby ", "to": "/works"})
        assert named.headers["location"] == "/works"
        client.post("/works/begin")
        assert "Anna Østby" in text_of(client.get("/works").text)
        assert client.post("/you/name", data={"name": "\u202e"}).status_code == 422
        for strange in ("%00%ff%E2%80%AE", "", "x" * 3000, "%E2%80%AE"):
            page = client.get("/works", headers={"Cookie": f"operator={strange}"})
            assert "Say who you are" in text_of(page.text)


def test_from_the_first_person_on_everybody_signs_in(place: Path) -> None:
    with opened(place) as client:
        fields = {"name": "Kay", "password": WORDS, "again": WORDS, "role-keeper": "on"}
        assert client.post("/people/add", data=fields | {"again": "other"}).status_code == 422
        assert (
            client.post(
                "/people/add", data=fields | {"role-keeper": ""} | {"password": "kay", "again": "kay"}
            ).status_code
            == 422
        )
        assert client.get("/").status_code == 200
        made = client.post("/people/add", data=fields)
        assert (made.status_code, made.headers["location"]) == (303, "/sign-in")
        assert client.get("/").status_code == 303
        assert client.post("/people/add", data=fields | {"name": "Second"}).status_code == 401
        assert signed(client).headers["location"] == "/"
        assert client.get("/people").status_code == 200


def test_people_made_elsewhere_count_at_once(place: Path) -> None:
    with opened(place) as client:
        assert client.get("/").status_code == 200
        ledger = begin_ledger(str(place))
        assert client.get("/").status_code == 200
        add_person(ledger, "Kay", ("keeper",), WORDS, by=BY)
        assert client.get("/").status_code == 303
        # Also when nobody is left who could sign in: then the command line makes somebody.
        assert client.get("/api/titles").status_code == 401
        ledger.close()


def test_what_a_session_rests_on_counts_at_once(client: TestClient, ledger: Ledger) -> None:
    headers = session(ledger, "engineer")
    assert client.get("/patterns", headers=headers).status_code == 200
    set_roles(ledger, "engineer one", ("reader",), by=BY)
    assert client.get("/patterns", headers=headers).status_code == 303
    headers = session(ledger, "press")
    close_person(ledger, "press one", by=BY)
    assert client.get("/patterns", headers=headers).status_code == 303
    token, secret = make_token(ledger, "board", ("read",), 30, by=BY)
    bearer = {"Authorization": f"Bearer {secret}"}
    assert client.get("/api/titles", headers=bearer).status_code == 200
    revoke_token(ledger, token.id, by=BY)
    assert client.get("/api/titles", headers=bearer).status_code == 401


def test_tokens_are_for_programs(client: TestClient, ledger: Ledger) -> None:
    _, secret = make_token(ledger, "board", ("read",), 30, by=BY)
    bearer = {"Authorization": f"Bearer {secret}"}
    assert client.get("/api/titles", headers=bearer).status_code == 200
    refused = client.get("/titles/x", headers=bearer)
    assert refused.status_code == 403
    assert "opens only what lies under /api" in text_of(refused.text)
    for sent in (
        "Bearer",
        "Bearer x",
        f"Basic {secret}",
        secret,
        f"Bearer {secret}x",
        "Bearer dw_000000000000_" + "a" * 43,
    ):
        # A token that is not good is not passed over for the session beside it.
        headers = {"Authorization": sent} | session(ledger, "keeper")
        assert client.get("/api/titles", headers=headers).status_code == 401, sent
    assert client.get("/api/titles", params={"token": secret}).status_code == 401  # never in the address


def test_a_password_that_somebody_else_chose_is_changed_first(client: TestClient, ledger: Ledger) -> None:
    add_person(ledger, "New Hand", ("engineer",), WORDS, by=BY, must_change=True)
    assert signed(client, "New Hand", to="/works").headers["location"] == "/you"
    assert client.get("/works").headers["location"] == "/you"
    assert client.get("/api/titles").status_code == 403
    assert "Somebody else chose your password" in text_of(client.get("/you").text)
    for new, again in (("other words than that", "another"), ("short", "short"), (WORDS, WORDS)):
        fields = {"password": WORDS, "new": new, "again": again}
        assert client.post("/you/password", data=fields).status_code == 422
    fields = {"password": "no", "new": "other words than that", "again": "other words than that"}
    assert client.post("/you/password", data=fields).status_code == 401
    before = client.cookies["session"]
    assert client.post("/you/password", data=fields | {"password": WORDS}).status_code == 303
    assert client.cookies["session"] != before
    assert client.get("/works").status_code == 200


def test_signing_out_everywhere(client: TestClient, ledger: Ledger) -> None:
    elsewhere = sign_in(ledger, "Kay", WORDS, "tablet").number
    signed(client)
    assert client.post("/you/sign-out-everywhere").headers["location"] == "/sign-in"
    assert person_of_session(ledger, elsewhere) is None
    assert client.get("/").status_code == 303


def test_what_is_for_one_person_is_kept_by_nobody(client: TestClient, ledger: Ledger) -> None:
    headers = session(ledger, "reader")
    for path in ("/", "/api/titles", "/works", "/you"):
        assert client.get(path, headers=headers).headers["cache-control"] in ("no-store", "private, no-store"), path
    assert client.get("/static/desk.css").headers["cache-control"] == "no-cache"


def test_tiles_are_asked_for_again_by_whoever_is_signed_in(stub: TestClient, ledger: Ledger) -> None:
    async def tile(request: Request) -> Response:
        return PlainTextResponse("tile", headers={"Cache-Control": "private, max-age=60", "ETag": '"1"'})

    stub.app.router.routes[0] = Route("/{path:path}", tile)  # type: ignore[attr-defined]
    answer = stub.get("/api/plans/x1/tiles/a/1/1/1.png", headers=session(ledger, "reader"))
    assert answer.headers["cache-control"] == "private, no-cache"


def test_a_ledger_that_cannot_be_read_lets_nobody_in(place: Path, ledger: Ledger) -> None:
    for network in (False, True):
        with opened(place, network=network) as client:
            headers = session(ledger, "keeper")
            assert client.get("/", headers=headers).status_code == 200
            whole = (place / "works.sqlite").read_bytes()
            (place / "works.sqlite").write_bytes(b"broken" * 1000)
            answers = [client.get(path, headers=headers) for path in ("/", "/api/titles", "/people")]
            assert {one.status_code for one in answers} == {503}
            assert ("works.sqlite" in answers[0].text) is not network  # strangers are told no paths
            assert client.get("/static/desk.css").status_code == 200
            (place / "works.sqlite").write_bytes(whole)


# Other sites --------------------------------------------------------------------------------------------

PLACES = ("http://localhost:8333", "http://192.168.1.5:8333", "https://works-desk:8333")
#: What a browser or program tells of itself, and whether it may change something with somebody's session.
SENDERS: dict[str, tuple[dict[str, str], bool]] = {
    "same": ({"Origin": "{here}", "Sec-Fetch-Site": "same-origin"}, True),
    "same, plain http": ({"Origin": "{here}"}, True),
    "same, typed": ({"Sec-Fetch-Site": "none"}, True),
    "same, only where it came from": ({"Referer": "{here}/you", "User-Agent": "Mozilla/5.0"}, True),
    "other site": ({"Origin": "https://evil.example", "Sec-Fetch-Site": "cross-site"}, False),
    "other site, plain http": ({"Origin": "http://evil.example"}, False),
    "other port": ({"Origin": "{here}1", "Sec-Fetch-Site": "same-site"}, False),
    "no header, a program with a stolen session": ({"User-Agent": "curl/8.5"}, False),
    "no header, a browser": ({"User-Agent": "Mozilla/5.0"}, False),
    "null": ({"Origin": "null"}, False),
    "null, sandboxed": ({"Origin": "null", "Sec-Fetch-Site": "cross-site"}, False),
    "null that claims to be ours": ({"Origin": "null", "Sec-Fetch-Site": "same-origin"}, False),
}


@pytest.mark.parametrize("here", PLACES)
def test_no_other_site_acts_with_a_session(place: Path, ledger: Ledger, here: str) -> None:
    desk = Desk(network=True)
    desk.open(place)

    async def inside(request: Request) -> Response:
        return PlainTextResponse("in", 299)

    hosts = hosts_for("0.0.0.0", 8333, ["works-desk"])
    door = Starlette(
        routes=[Route("/{path:path}", inside, methods=["POST", "PUT", "DELETE"])],
        middleware=[Middleware(Guard, hosts=hosts), Middleware(Door, desk=desk)],
    )
    door.state.desk = desk
    name = "__Host-session" if here.startswith("https") else "session"
    cookie = f"{name}={sign_in(ledger, 'Kay', WORDS, 'x').number}"
    wrong = []
    with TestClient(door, base_url=here, follow_redirects=False) as client:
        for sender, (headers, allowed) in SENDERS.items():
            told = {key: value.replace("{here}", here) for key, value in headers.items()}
            told = {"User-Agent": "Mozilla/5.0", "Cookie": cookie} | told
            for method, path in (("POST", "/people/add"), ("PUT", "/api/uploads/x"), ("DELETE", "/api/uploads/x"),
                                 ("POST", "/api/works/events"), ("POST", "/you/password")):  # fmt: skip
                answer = client.request(method, path, headers=told)
                if (answer.status_code == 299) != allowed:
                    wrong.append(f"{sender}: {method} {path} {answer.status_code}")
    desk.close()
    assert wrong == []


# In the network -----------------------------------------------------------------------------------------


def test_a_network_is_let_in_by_sign_in_only(place: Path, tmp_path: Path) -> None:
    with pytest.raises(CallError, match="without a folder or --ledger there is nobody who could sign in"):
        create_app(None, (HOST,), network=True)
    with pytest.raises(CallError, match=r"has nobody who could sign in.*works people add NAME --role keeper"):
        create_app(place, (HOST,), network=True)
    ledger = begin_ledger(str(place))
    with pytest.raises(CallError, match="has nobody who could sign in"):
        create_app(place, (HOST,), network=True)
    with pytest.raises(CallError, match="has nobody who could sign in"):
        create_app(None, (HOST,), network=True, ledger=str(place))
    with pytest.raises(LedgerError, match="there is no ledger; begin one"):
        create_app(place, (HOST,), ledger=str(tmp_path / "nowhere.sqlite"))
    add_person(ledger, "Kay", ("keeper",), WORDS, by=BY)
    with opened(place, network=True) as client:
        assert client.get("/").status_code == 303
        assert "passwords can be read on their way" in text_of(client.get("/sign-in").text)
        # Another folder, where nobody could sign in, is not opened for the network either.
        other = tmp_path / "other"
        other.mkdir()
        with pytest.raises(CallError, match="has nobody who could sign in"):
            client.app.state.desk.open(other)  # type: ignore[attr-defined]
        signed(client)
        assert client.get("/").status_code == 200
    ledger.close()


def test_one_ledger_for_whatever_folder_is_open(place: Path, ledger: Ledger, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    with opened(other, ledger=str(place)) as client:
        assert client.get("/").status_code == 303
        signed(client)
        assert client.get("/").status_code == 200
        desk: Desk = client.app.state.desk  # type: ignore[attr-defined]
        assert desk.folder.ledger is not None
        assert desk.folder.ledger.where.startswith(str(place))
        assert desk.folder.begin_ledger() is desk.folder.ledger
        assert not (other / "works.sqlite").exists()
    with opened(None, ledger=str(place)) as client:
        assert client.get("/").status_code == 303  # no folder is open yet, and still nobody comes in
        signed(client)
        assert client.get("/").status_code == 200


# The pages of a keeper ----------------------------------------------------------------------------------


def test_a_keeper_makes_people_and_changes_them(client: TestClient, ledger: Ledger) -> None:
    signed(client)
    fields = {"name": "Bo <b>Lund</b>", "password": "tank and silver spoon", "again": "tank and silver spoon"}
    page = client.post("/people/add", data=fields)
    assert page.status_code == 422
    assert "A person has at least one role" in text_of(page.text)
    page = client.post("/people/add", data=fields | {"role-plating": "on", "role-press": "on"})
    assert page.status_code == 200
    assert "<b>Lund" not in page.text
    assert "Bo <b>Lund</b> can sign in now." in text_of(page.text)
    added = next(one.id for one in all_people(ledger) if "Lund" in one.name)
    page = client.post(f"/people/{added}/roles", data={"role-reader": "on"})
    assert page.status_code == 200
    assert "is reader now" in text_of(page.text)
    assert client.post(f"/people/{added}/password", data={"password": "weak"}).status_code == 422
    assert client.post(f"/people/{added}/password", data={"password": "a longer one of four"}).status_code == 200
    assert "was closed." in text_of(client.post(f"/people/{added}/close").text)
    for strange in ("999", "x", "-1"):
        assert client.post(f"/people/{strange}/close").status_code == 422
    keeper = next(one.id for one in all_people(ledger) if one.name == "Kay")
    assert "is the last keeper" in text_of(client.post(f"/people/{keeper}/close").text)
    log = text_of(client.get("/access-log").text)
    for words in (
        "added a person",
        "changed roles",
        "plating, press → reader",
        "changed a password",
        "closed a person",
    ):
        assert words in log


def test_a_token_is_shown_once(client: TestClient, ledger: Ledger) -> None:
    signed(client)
    page = client.post("/tokens/add", data={"name": "scale 2", "days": "30", "scope-weighed": "on", "scope-read": "on"})
    secret = re.search(r"dw_[0-9a-f]{12}_[\w-]{43}", page.text)
    assert secret is not None
    assert page.headers["cache-control"] == "no-store"
    assert secret[0] not in client.get("/tokens").text
    assert client.get("/api/titles", headers={"Authorization": f"Bearer {secret[0]}"}).status_code == 200
    for wrong in ({"days": "x"}, {"days": "0"}, {"name": "Kay"}, {"scope-approved": "on"}, {"scope-nonsense": "on"}):
        fields = {"name": "other", "days": "30", "scope-weighed": "on"} | wrong
        assert client.post("/tokens/add", data=fields).status_code == 422, wrong
    token = secret[0].split("_")[1]
    assert "good for nothing any more" in text_of(client.post(f"/tokens/{token}/revoke").text)
    assert all(f'name="scope-{scope}"' in client.get("/tokens").text for scope in SCOPES)


def test_everybody_can_read_how_to_trust_the_desk(place: Path, ledger: Ledger, tmp_path: Path) -> None:
    from discwright.acts.certificate import works_certificate
    from discwright.desk.views_trust import read_trust

    with opened(place) as client:
        assert "not served with a certificate of the works" in text_of(client.get("/trust").text)
        assert client.get("/trust/works-ca.pem").status_code == 404
    made = works_certificate(tmp_path, ["works-desk"])
    trust = read_trust(tmp_path / "works-cert.pem")
    with opened(place, f"https://{HOST}", trust=trust) as client:
        page = text_of(client.get("/trust").text)
        assert made.fingerprint in page.replace(" ", "")
        answer = client.get("/trust/works-ca.pem")
        assert answer.content == (tmp_path / "works-ca.pem").read_bytes()
        assert answer.headers["content-type"] == "application/x-x509-ca-cert"
        assert "PRIVATE" not in answer.text
