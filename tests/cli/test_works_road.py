"""The verbs of `works` from the press to the dock, one after another as a works uses them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from pressed import stampers_of, take_title
from typer.testing import CliRunner

from discwright.cli.main import app
from discwright.errors import CallError
from discwright.works.store.ledger import begin_ledger

HEADS = "order,account,name,address_1,address_2,city,region,postcode,country,edition,count,wanted"
ROWS = (
    "7,K1,Kråke Plater,Havnegata 3,,Bodø,,8006,NO,NL 4/lp,60,2031-06-01",
    "8,K2,Disques du Quai,4 rue du Port,,Brest,,29200,FR,NL 4/lp,50,2031-06-02",
)


@pytest.fixture(scope="module")
def works(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """A ledger with a title whose stampers are at the press."""
    path = tmp_path_factory.mktemp("ledger") / "works.sqlite"
    ledger = begin_ledger(str(path))
    take_title(ledger, "NL 4", "lp")
    stampers = stampers_of(ledger, "NL 4", "lp")
    ledger.close()
    return path, stampers


def says(*words: object, code: int = 0) -> str:
    """What a verb prints; its refusal raised."""
    result = CliRunner().invoke(app, ["works", *map(str, words)])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == code, result.output
    return result.output


def test_the_whole_road(works: tuple[Path, dict[str, str]], tmp_path: Path) -> None:
    path, stampers = works
    at = ("--ledger", path, "--by", "Ann")

    def told(*words: object, code: int = 0) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(says(*words, "--ledger", path, "--json", code=code))
        return found

    both = [word for side, one in stampers.items() for word in ("--stamper", f"{side}={one}")]
    run = says("run", "NL 4/lp", *both, "--planned", 120, *at).strip()
    says("pressed", run, "--count", 5, "--good", 5, *at, code=1)
    marks = [word for side in "AB" for word in ("--mark", f"{side}=NL 4 lp {side} M1 S1")]
    good = (
        "--hole-mm",
        "7,28",
        "--off-centre-mm",
        "0.06",
        "--weight-g",
        "141",
        "--labels",
        "right",
        "--played",
        "pass",
    )
    assert "not passed" in says("first-off", run, *good, *marks, *at, code=1)  # nobody read the stampers' numbers
    assert "passed: the run may go on." in says("first-off", run, *good, *marks, *both, *at)
    says("pressed", run, "--count", 110, "--good", 104, *at)
    plan = told("lot", run)
    assert (plan["count"], plan["lot"], plan["classes"][0]["class"]) == (104, 1, "critical")
    assert "take" in says("lot", run, *at)
    assert told("lot", run, "--count", "40", "--found", "critical=1", code=1)["verdict"] == "refused"
    assert "accepted" in says("lot", run, "--found", "major=0", *at)
    says("decide", run, 1, "sorted", "--good", 36, *at)
    says("stock", run, "--bin", "A-2", *at)
    assert told("stock")["stock"] == [
        {"edition": "NL 4/lp", "run": run, "bin": "A-2", "count": 100, "recalled": False}  # by hand: 64 + 36
    ]
    says("take-out", run, "--bin", "A-2", "--count", 2, "--note", "kept", *at)
    file = tmp_path / "orders.csv"
    file.write_text("\n".join((HEADS, *ROWS)) + "\n", encoding="utf-8")
    assert "2 lines of orders taken" in says("orders", file, *at)
    assert [one["state"] for one in told("promises", "--today", "2031-05-01", code=1)["promises"]] == [
        "unplanned",
        "here",
    ]
    labels, lists = tmp_path / "labels.pdf", tmp_path / "manifest.csv"
    packed = told("pack", "--gs1-prefix", "9521234", "--dock", "1", "--dock-of", "FR=2", "--labels", labels,
                  "--manifest", lists, "--by", "Ann", code=1)  # fmt: skip
    assert packed["short"] == [{"account": "K2", "edition": "NL 4/lp", "order": "8", "missing": 12}]
    assert labels.read_bytes().startswith(b"%PDF")
    assert len(lists.read_text(encoding="utf-8").splitlines()) > len(packed["cartons"])
    french = next(one for one in packed["cartons"] if one["account"] == "K2")
    assert (
        "wrong_dock" in CliRunner().invoke(app, ["works", "load", french["sscc"], "--dock", "1", *map(str, at)]).output
    )
    bundle = next(one for one in packed["bundles"] if one["account"] == "K1")
    assert told("load", bundle["sscc"], "--dock", "1", "--by", "Ann")["loaded"] == bundle["cartons"]
    assert "2 discs" not in says("trace", french["sscc"], "--ledger", path)
    assert run in says("trace", french["sscc"], "--ledger", path)
    says("open", french["sscc"], "--bin", "B-1", *at)
    says("record", run, "recalled", "--note", "labels", *at)
    assert [one["account"] for one in told("recalls")["accounts"]] == ["K1", "K2"]
    says("told", "K1", run, *at)
    assert "told" in says("recalls", "--ledger", path)
    assert "K1: 60 sent" in says("trace", run, "--ledger", path)
    says("cancel", 8, "NL 4/lp", *at)
    assert told("verify", code=0)["breaks"] == []


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("run", "NL 4/lp", "--stamper", "A"), "is no SIDE=TEXT"),
        (("run", "NL 4/lp", "--stamper", "A=ST1-1", "--stamper", "A=ST1-1"), "side A is named twice"),
        (("pressed", "ST9", "--count", "1", "--good", "1"), "is no part's number"),
        (("lot", "RU9999-9"), "is on no part"),
        (("lot", "RU1-1", "--found", "major"), "is no NAME=COUNT"),
        (("load", "123", "--dock", "1"), "holds no SSCC"),
        (("orders", "nowhere.csv"), "nowhere.csv"),
        (("cancel", "1", "NL 4/lp"), "has no NL 4/lp"),
        (("restart", "NL 4/lp", "--class", "huge", "--why", "x"), "no defect class"),
        (("recalls", "ST77-1"), "last digit"),
        (("trace", "123456789012345678"), "wrong check digit"),
    ],
)
def test_wrong_calls_are_one_sentence(
    works: tuple[Path, dict[str, str]], words: tuple[str, ...], sentence: str
) -> None:
    with pytest.raises(CallError) as refused:
        says(*words, "--ledger", works[0])
    assert sentence in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_wrong_file_of_orders_takes_nothing(works: tuple[Path, dict[str, str]], tmp_path: Path) -> None:
    file = tmp_path / "orders.csv"
    wrong = ROWS[0].replace("7,K1", "99,K1").replace(",60,", ",1.5,")
    strange = ROWS[1].replace("8,K2", "98,K2").replace("NL 4/lp", "NL 5/lp")
    for rows, codes in (((wrong, ROWS[1]), ["wrong_count"]), ((strange,), ["unknown_edition", "edition_of_no_title"])):
        file.write_text("\n".join((HEADS, *rows)) + "\n", encoding="utf-8")
        told = json.loads(says("orders", file, "--ledger", works[0], "--by", "Ann", "--json", code=2))
        assert [one["code"] for one in told["findings"]] == codes
        assert (told["written"], told["lines"]) == (False, 0)
