"""A small folder of titles, planned once and copied for whoever changes it; the desk over it without a server."""

from __future__ import annotations

import html
import json
import re
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import uvicorn
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, sync_playwright

from discwright.acts.look import prepare
from discwright.acts.plan import plan_file
from discwright.acts.title import Choice, plan_title
from discwright.desk.app import create_app
from discwright.desk.guard import hosts_for
from discwright.desk.opened import OpenPlan, OpenPlans
from discwright.desk.shelf import Shelf

#: An invented title: one edition with its sides fixed, one that is to be laid out, one on tape.
TITLE = """# kept comment
[title]
name = "Notes from a Weather Ship"
catalogue = "OKW 0042"
people = ["The Halvard Quartet"]

[[band]]
id = "first"
name = "Cold Front & Sons"
file = "reel.wav"
start = 0.0
end = 11.0
gap_s = 2.0

[[band]]
id = "second"
name = "Second <Watch>"
file = "reel.wav"
start = 12.0
end = 25.0

[[edition]]
id = "lp"
format = "12in-33"
quantity = 300
due = 2031-05-30
level = 12.0

[[edition.side]]
letter = "A"
bands = ["first", "second"]

[[edition]]
id = "ep"
format = "7in-45"
level = "fit"

[[edition]]
id = "reel"
format = "tape"
"""
HOST = "127.0.0.1:8333"


def with_a_burst(sound: np.ndarray, rate: int) -> np.ndarray:
    """The same with a burst of 8 kHz at 5.5 s, which is found: as a warning at +12 dB, as a stop at +18 dB."""
    time = np.arange(rate) / rate
    burst = 0.45 * np.sin(2 * np.pi * 8000 * time) * np.exp(-(((time - 0.5) / 0.08) ** 2))
    result = sound.copy()
    result[5 * rate : 6 * rate] += burst[:, None].astype(sound.dtype)
    return result


@pytest.fixture(scope="session")
def planned_folder(tmp_path_factory: pytest.TempPathFactory, side: Path) -> Path:
    """A folder with the title, its side planned and made ready, a bare side, and a folder of loose audio."""
    folder = tmp_path_factory.mktemp("works")
    ship = folder / "weather-ship"
    ship.mkdir()
    sound, rate = soundfile.read(side, dtype="float32")
    soundfile.write(ship / "reel.wav", with_a_burst(sound, rate), rate, subtype="PCM_16")
    (ship / "title.toml").write_text(TITLE, encoding="utf-8")
    plan_title(ship / "title.toml", Choice(edition="lp", ladder=True), out=ship, only=("sheet",))
    shutil.copy(ship / "reel.wav", folder / "bare.wav")
    plan_file(folder / "bare.wav", level_db=18.0, out=folder / "bare", only=())
    loose = folder / "loose tapes"
    loose.mkdir()
    for name in ("2 later.wav", "10 last.wav"):
        soundfile.write(loose / name, sound[: 5 * rate], rate, subtype="PCM_16")
    shelf = Shelf(folder)
    for plan in shelf.found().plans.values():
        prepare(plan.folder, shelf.cache(plan))
    return folder


@pytest.fixture
def folder(planned_folder: Path, tmp_path: Path) -> Path:
    """A copy that may be changed."""
    return Path(shutil.copytree(planned_folder, tmp_path / "works"))


@pytest.fixture(scope="session")
def side_a(planned_folder: Path) -> OpenPlan:
    """The title's side, ready to be looked at."""
    return OpenPlans(Shelf(planned_folder)).get("weather-ship~lp-A")


@pytest.fixture
def client(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """The desk over the copy, asked as a browser on this machine asks."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    app = create_app(folder, (HOST,))
    with TestClient(app, base_url=f"http://{HOST}", follow_redirects=False) as asked:
        yield asked


@pytest.fixture(scope="session")
def live(planned_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a real server over a copy of the folder."""
    place = tmp_path_factory.mktemp("live")
    shutil.copytree(planned_folder, place / "works")
    with serving(place / "works", place / "state") as address:
        yield address


@contextmanager
def serving(folder: Path, state: Path) -> Iterator[str]:
    """The desk over a folder, served in a thread.

    Parameters
    ----------
    folder : pathlib.Path
    state : pathlib.Path
        Where recent folders are remembered.
    """
    with pytest.MonkeyPatch.context() as patch, socket.socket() as listening:
        patch.setenv("XDG_STATE_HOME", str(state))
        listening.bind(("127.0.0.1", 0))
        listening.listen(64)
        port = listening.getsockname()[1]
        app = create_app(folder, hosts_for("127.0.0.1", port))
        config = uvicorn.Config(app, log_level="error", ws="none", timeout_graceful_shutdown=1)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        yield f"http://127.0.0.1:{port}"
        server.should_exit = True
        thread.join(20)


@pytest.fixture(scope="session")
def serve() -> Callable[[Path, Path], AbstractContextManager[str]]:
    """Serves a folder; see :func:`serving`."""
    return serving


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Debian's own browser; closed after each module, for its driver leaves no other loop to the thread meanwhile."""
    with sync_playwright() as play:
        opened = play.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--autoplay-policy=no-user-gesture-required"]
        )
        yield opened
        opened.close()


class Metal:
    """The desk with a ledger: titles taken in, lacquers cut, parts grown, as programs ask for it.

    Parameters
    ----------
    client : TestClient
    """

    TITLE = "OKW 0042"

    def __init__(self, client: TestClient) -> None:
        self.client = client
        client.cookies.set("operator", "Ada")

    def begin(self) -> None:
        """Begin the ledger and take the title in."""
        assert self.client.post("/works/begin").status_code == 303
        form = {"title": "weather-ship~title", "key": "take-in"}
        assert self.client.post("/works/take-in", data=form).status_code == 303

    def api(self, path: str, **body: object) -> dict[str, Any]:
        """Ask the API for something that is not refused."""
        answer = self.client.post(f"/api/works/{path}", json=body)
        assert answer.status_code == 200, answer.text
        told: dict[str, Any] = answer.json()
        return told

    def cut(self, **more: object) -> str:
        """A lacquer of side A."""
        about = {"plan": "weather-ship~lp-A", "title": self.TITLE, "side": "A", "lacquer": "B-77", "mark": "OKW-A"}
        return str(self.api("cut", **(about | more))["part"])

    def grow(self, parent: str, **more: object) -> str:
        """The next part from another."""
        return str(self.api("grow", parent=parent, **more)["part"])

    def record(self, part: str, *kinds: str, **more: object) -> dict[str, Any]:
        """Steps one after the other; what came of the last."""
        told: dict[str, Any] = {}
        for kind in kinds:
            told = self.api("events", part=part, kind=kind, **more)
        return told

    def api_part(self, part: str) -> dict[str, Any]:
        """Everything the API tells of a part."""
        told: dict[str, Any] = self.client.get(f"/api/works/parts/{part}").json()
        return told

    def family(self) -> tuple[str, str, str, str]:
        """A lacquer, a master, an approved mother and a finished stamper."""
        lacquer = self.cut()
        self.record(lacquer, "checked_under_the_microscope", "silvered")
        master = self.grow(lacquer)
        self.record(master, "separated", "passivated")
        mother = self.grow(master, mark="M1")
        self.record(mother, "separated", "test_played", "approved", "passivated")
        stamper = self.grow(mother, mark="S1")
        self.record(stamper, "separated", "back_sanded", "centred", "trimmed", "formed")
        return lacquer, master, mother, stamper


def play_report(faults: list[dict[str, Any]] | None = None, verdict: str = "pass", **more: Any) -> dict[str, Any]:
    """A report as `inspect --json` prints it; the faults are invented."""
    measures = {
        "start_s": 2.5, "speed_error_percent": 0.12, "wow_peak_percent": 0.05, "wow_flutter_weighted_percent": None,
        "eccentricity_mm": 0.31, "eccentricity_angle_deg": 40.0, "level_db": -6.0, "balance_db": -0.2,
        "separation_db": 27.0, "noise_db": -52.0, "rumble_db": -48.0,
    }  # fmt: skip
    limits = {
        "speed_error_percent": {"unit": "%", "best": 0, "limit": 0.5}, "noise_db": {"unit": "dB", "best": "less",
        "limit": -40.0}, "separation_db": {"unit": "dB", "best": "more", "limit": 20.0}, "eccentricity_mm":
        {"unit": "mm", "best": 0, "limit": 0.2}, "wow_flutter_weighted_percent": {"unit": "%", "best": 0, "limit": 0.2},
        "start_s": {"unit": "s", "best": None, "limit": None},
    }  # fmt: skip
    return {
        "measures": measures, "limits": limits, "verdict": verdict, "defects": faults if faults is not None else FAULTS,
        "response": [{"frequency_hz": 63.0, "left_db": 0.1, "right_db": None},
                     {"frequency_hz": 1000.0, "left_db": 0.0, "right_db": -0.2}],
        "findings": [{"code": "faults", "severity": "warn", "time_s": 9.0, "band": 1, "turn": 5.0, "radius_mm": 145.9,
                      "value": 14.0, "limit": 0.0, "unit": "dB over masking", "remedy": "Play another pressing.",
                      "accepted": "", "part": "", "seq": 0}],
        "distortion": [{"time_s": 10.0, "measured_percent": 1.2, "predicted_percent": 0.9}],
        "reference": "the proof with an invented tip", "plan_fingerprint": "0" * 64, "covered_s": [0.0, 25.0],
        "capture": {"path": "a.wav", "sha256": "ab" * 32, "sample_rate_hz": 44100, "duration_s": 30.0,
                    "replay_curve": True}, "kept": None,
    } | more  # fmt: skip


def fault(kind: str, turn: float, **more: Any) -> dict[str, Any]:
    """A fault of a report at a place of the disc, invented."""
    return {
        "time_s": round(turn * 1.8, 5), "kind": kind, "turn": turn, "radius_mm": 145.0, "angle_deg": 360 * (turn % 1),
        "channel": "left", "duration_s": 0.0002, "size_db": 14.0, "audible": True,
    } | more  # fmt: skip


FAULTS = [
    fault("tick", 3.25), fault("crackle", 5.0, size_db=2.0, audible=False, duration_s=0.8, channel="both"),
    fault("skip", 9.75, size_db=0.0, duration_s=1.8),
]  # fmt: skip


@pytest.fixture(scope="session")
def reported() -> Callable[..., dict[str, Any]]:
    """Makes a report; see :func:`play_report`."""
    return play_report


@pytest.fixture(scope="session")
def faulty() -> Callable[..., dict[str, Any]]:
    """Makes a fault; see :func:`fault`."""
    return fault


def put_play(place: Path, report: dict[str, Any] | None, part: str = "MO3-2", **about: str) -> str:
    """A play in a folder, inspected unless its report is None; its sounds are three steady tones of 12 s."""
    rate, id_ = 8000, f"{len(list(place.glob('*'))):016x}"
    told = dict.fromkeys(("title", "edition", "side", "fingerprint", "tip", "pressing", "by", "job"), "")
    told |= {"part": part, "capture": "a.wav", "at": f"2031-04-02T09:{len(list(place.glob('*'))):02d}:00+00:00"} | about
    (place / id_ / "sent").mkdir(parents=True)
    (place / id_ / "play.json").write_text(json.dumps(told))
    soundfile.write(place / id_ / "sent" / "a.wav", np.zeros((rate, 2)), rate)
    if report is not None:
        (place / id_ / "result").mkdir()
        (place / id_ / "result" / "inspect.json").write_text(json.dumps(report))
        (place / id_ / "result" / "inspect.png").write_bytes(b"\x89PNG")
        time = np.arange(12 * rate) / rate
        for name, hertz in (("programme", 100), ("capture", 200), ("difference", 300)):
            tone = 0.5 * np.sin(2 * np.pi * hertz * time)
            soundfile.write(place / id_ / "result" / f"{name}.flac", np.column_stack([tone, tone]), rate)
    return id_


@pytest.fixture(scope="session")
def make_play() -> Callable[..., str]:
    """Puts a play into a folder; see :func:`put_play`."""
    return put_play


@pytest.fixture
def metal(client: TestClient) -> Metal:
    """The desk over a folder whose ledger has one title and no part yet."""
    found = Metal(client)
    found.begin()
    return found


class Hall:
    """The desk over a ledger in which titles were cut, approved, put to press; without a folder of titles.

    Parameters
    ----------
    client : TestClient
    """

    def __init__(self, client: TestClient) -> None:
        self.client = client
        client.cookies.set("operator", "Ada")

    @property
    def ledger(self) -> Any:
        """The ledger that the desk has open."""
        return self.client.app.state.desk.folder.ledger  # type: ignore[attr-defined]

    def text(self, path: str, status: int = 200) -> str:
        """What a page says."""
        answer = self.client.get(path)
        assert answer.status_code == status, answer.text
        return plain_text(answer.text)

    def form(self, path: str, action: str, **wanted: str) -> dict[str, str]:
        """What a form of a page would send if nothing was filled in."""
        return form_in(self.client.get(path).text, action, **wanted)

    def read(self, page: str, action: str) -> dict[str, str]:
        """What a form of a page that came would send."""
        return form_in(page, action)

    def send(self, path: str, action: str, status: int = 303, **fields: str) -> Any:
        """Fill a form of a page in and send it."""
        answer = self.client.post(action, data=self.form(path, action) | fields)
        assert answer.status_code == status, plain_text(answer.text)
        return answer


class FormReading(HTMLParser):
    """The forms of a page, each with what it would send."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[tuple[str, dict[str, str]]] = []
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.forms.append((told.get("action", ""), {}))
        elif tag == "input" and self.forms and told.get("type") != "image":
            if told.get("type") not in ("checkbox", "radio") or "checked" in told:
                self.forms[-1][1][told.get("name", "")] = told.get("value", "")
        elif tag == "select":
            self._select = told.get("name", "")
        elif tag == "option" and self.forms and (self._select not in self.forms[-1][1] or "selected" in told):
            self.forms[-1][1][self._select] = told.get("value", "")


def form_in(page: str, action: str, **wanted: str) -> dict[str, str]:
    """What the first form of a page with that action, and with these fields, would send."""
    reading = FormReading()
    reading.feed(page)
    fits = [fields for where, fields in reading.forms if where.partition("#")[0] == action.partition("#")[0]]
    return next(fields for fields in fits if wanted.items() <= fields.items())


def plain_text(page: str) -> str:
    """The words of a page."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


@pytest.fixture(scope="session")
def pressed_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger to be copied: NL 4/lp with a run at press 2, and KV 900/lp at press 2 without one."""
    from pressed import ANN, made, stampers_of, take_title

    from discwright.acts.runs import begin_run
    from discwright.works.store.ledger import begin_ledger

    place = tmp_path_factory.mktemp("pressed") / "works.sqlite"
    ledger = begin_ledger(str(place))
    take_title(ledger, "NL 4", "lp")
    made(begin_run(ledger, "NL 4/lp", stampers_of(ledger, "NL 4", "lp"), ANN, planned=1065, compound="C-7"))
    take_title(ledger, "KV 900", "lp")
    stampers_of(ledger, "KV 900", "lp")
    ledger.close()
    return place


@pytest.fixture
def pressed_folder(pressed_ledger: Path, tmp_path: Path) -> Path:
    """A folder with a copy of that ledger and nothing else."""
    folder = tmp_path / "hall"
    folder.mkdir()
    shutil.copy(pressed_ledger, folder / "works.sqlite")
    return folder


@pytest.fixture(scope="module")
def one_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A desk over no folder, made once for the tests of a module: each opens a folder of its own in it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))
        patch.setattr("discwright.desk.app._warm", lambda: None)  # nobody looks at a disc here
        made = create_app(None, (HOST,))
        with TestClient(made, base_url=f"http://{HOST}", follow_redirects=False) as asked:
            yield asked


@pytest.fixture
def hall(one_desk: TestClient, pressed_folder: Path) -> Hall:
    """The desk over that folder, asked by somebody who was never there before."""
    one_desk.app.state.desk.open(pressed_folder)  # type: ignore[attr-defined]
    one_desk.cookies.clear()
    one_desk.headers.pop("Origin", None)
    return Hall(one_desk)


@pytest.fixture
def sign(hall: Hall, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Signs somebody of a role in at that desk."""
    from argon2 import PasswordHasher

    from discwright.works.store import passwords
    from discwright.works.store.people import By, add_person
    from discwright.works.store.sessions import sign_in

    monkeypatch.setattr(passwords, "_hasher", lambda: PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    passwords.nobodys_hash.cache_clear()
    words = "four words in a row"

    def signed(role: str) -> None:
        add_person(hall.ledger, f"{role} one", (role,), words, by=By("root", "here"))
        hall.client.cookies.set("session", sign_in(hall.ledger, f"{role} one", words, "here").number)
        hall.client.headers["Origin"] = str(hall.client.base_url)

    yield signed
    passwords.nobodys_hash.cache_clear()


@pytest.fixture(scope="session")
def stocked_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger to be copied: two runs of NL 4/lp in three bins, one of NL 5/ep, and three lines of orders for them."""
    from pressed import order_line, stamper_of, stampers_of, stocked_run, take_orders, take_title

    from discwright.works.store.ledger import begin_ledger

    place = tmp_path_factory.mktemp("stocked") / "works.sqlite"
    ledger = begin_ledger(str(place))
    take_title(ledger, "NL 4", "lp")
    take_title(ledger, "NL 5", "ep")
    own = stampers_of(ledger, "NL 4", "lp")
    stocked_run(ledger, "NL 4/lp", own, [("A-2", 60), ("A-10", 40)])
    mother = ledger.family("NL 4").parts[own["A"]].parent
    stocked_run(ledger, "NL 4/lp", own | {"A": stamper_of(ledger, mother)}, [("B-1", 50)])
    stocked_run(ledger, "NL 5/ep", stampers_of(ledger, "NL 5", "ep"), [("C-1", 30)])
    take_orders(ledger, order_line("1", "K1", "NL 4/lp", 55), order_line("2", "K2", "NL 4/lp", 70, "2026-01-12"))
    take_orders(ledger, order_line("1", "K1", "NL 5/ep", 40))
    ledger.close()
    return place


@pytest.fixture
def stocked_folder(stocked_ledger: Path, tmp_path: Path) -> Path:
    """A folder with a copy of that ledger and nothing else."""
    folder = tmp_path / "dispatch"
    folder.mkdir()
    shutil.copy(stocked_ledger, folder / "works.sqlite")
    return folder


@pytest.fixture
def dispatch(stocked_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Hall]:
    """The desk over that folder."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setattr("discwright.desk.app._warm", lambda: None)  # nobody looks at a disc here
    made = create_app(stocked_folder, (HOST,))
    with TestClient(made, base_url=f"http://{HOST}", follow_redirects=False) as asked:
        yield Hall(asked)
    made.state.desk.close()
