"""`pack` through Typer: the interface, the few lines for a person, one sentence for a wrong call. All *by hand*."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
import typer
from click.testing import Result
from typer.testing import CliRunner

from discwright.cli.pack_verb import pack
from discwright.errors import DiscwrightError

ORDERS = """order,account,name,address_1,address_2,city,region,postcode,country,edition,count,wanted
O-1,A-1,Přístav hudby,Žluťoučká 12,,Praha 7,,170 00,CZ,NL-004/lp,112,2026-12-01
O-2,A-2,Quay Music,Pier 3,,Bergen,,5003,NO,NL-004/lp,30,2026-12-08
"""
STOCK = "edition,run,count,bin\nNL-004/lp,R-12,130,A-01\n"
Call = Callable[..., Result]


@pytest.fixture
def call(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Call:
    """The verb in an app of its own, in a folder with orders and stock."""
    monkeypatch.chdir(tmp_path)
    Path("orders.csv").write_text(ORDERS, encoding="utf-8")
    Path("stock.csv").write_text(STOCK, encoding="utf-8")
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(pack)

    def go(*words: object) -> Result:
        result = CliRunner().invoke(app, ["orders.csv", "--stock", "stock.csv", *(str(word) for word in words)])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return go


def test_the_example_as_json(call: Call) -> None:
    result = call("--gs1-prefix", "5012345", "--serial-from", "1", "--json")
    told = json.loads(result.stdout)
    assert result.exit_code == 1
    assert list(told)[:3] == ["cartons", "bundles", "short"]
    assert all({"sscc", "account", "edition", "count", "run"} <= set(one) for one in told["cartons"])
    assert [one["count"] for one in told["cartons"]] == [25, 25, 25, 25, 12, 18]
    assert [(one["account"], one["edition"], one["missing"]) for one in told["short"]] == [("A-2", "NL-004/lp", 12)]
    sscc = [one["sscc"] for one in told["cartons"]]
    assert [one["cartons"] for one in told["bundles"]] == [sscc[:4], sscc[4:5], sscc[5:]]
    # 0, the prefix, nine digits of the serial: 3·(0+0+…) by the rule of GS1 gives 5 for serial 1.
    assert sscc[0] == "050123450000000015"
    assert told["next_serial"] == 10


def test_exit_code_0_where_nothing_is_short(call: Call) -> None:
    Path("stock.csv").write_text(STOCK.replace("130", "200"), encoding="utf-8")
    result = call("--json")
    told = json.loads(result.stdout)
    assert (result.exit_code, told["short"], told["next_serial"]) == (0, [], None)
    assert [one["sscc"] for one in told["cartons"]] == [None] * 7
    assert [one["cartons"] for one in told["bundles"]] == [[1, 2, 3, 4], [5], [6, 7]]


def test_for_a_person(call: Call) -> None:
    result = call(
        "--gs1-prefix", "5012345", "--serial-from", "1", "--labels", "l.pdf", "--manifest", "m.csv", "--pick-list",
        "p.csv", "--page", "A4", "--dpi", "300", "--from-address", "Harbour Records; Quay 7",
    )  # fmt: skip
    assert result.exit_code == 1
    assert result.stdout == (
        "Packed    130 discs in 6 cartons and 3 bundles for 2 accounts, 32.3 kg on 2 pallets\n"
        "SSCC      050123450000000015 to 050123450000000091; the next free serial number is 10\n"
        "part      2 cartons part-filled and marked\n"
        "short     A-2  NL-004/lp  order O-2: 18 of 30, 12 missing, wanted 2026-12-08\n"
        "rule      The earliest day wanted is served first and lines without a day last; lines of the same day share "
        "in proportion to count × weight. Nobody gets more than was ordered; whole discs go by the largest remainder, "
        "ties to the line that came first.\n"
        "stop      orders_short  130 against 142 discs. 12 discs of 1 edition missing: kept as backorders; press more, "
        "or tell the accounts.\n"
        "note      heavy_bundle  24.6 against 23 kg. 1 bundle for two people or a lift, and the label says so; local "
        "rules come first.\n"
        "labels    l.pdf\n"
        "manifest  m.csv\n"
        "pick list p.csv\n"
        "1 stop, 1 note: send what is packed, and keep the rest as backorders.\n"
    )
    assert Path("l.pdf").read_bytes().startswith(b"%PDF")


def test_long_lists_are_shortened_for_a_person(call: Call) -> None:
    lines = [f"O-{k},A-{k},Quay Music,Pier 3,,Bergen,,5003,NO,NL-005/lp,1," for k in range(5, 30)]
    Path("orders.csv").write_text(ORDERS + "\n".join(lines) + "\n", encoding="utf-8")
    said = call().stdout
    assert "SSCC      none: no --gs1-prefix was given\n" in said
    assert "          and 6 more; --json prints them all\n" in said
    assert "warn      unknown_edition  orders.csv, line 4, edition: is not in the stock list; the nearest" in said


def test_every_fault_of_a_wrong_file_with_its_line(call: Call) -> None:
    Path("orders.csv").write_text(ORDERS.replace(",112,", ",1.5,").replace(",NO,", ",Norsk,"), encoding="utf-8")
    result = call("--labels", "l.pdf")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr == (
        "discwright: orders.csv, line 2, count: is no count of whole discs; write digits alone, such as 25.\n"
        "discwright: orders.csv, line 3, country: is no country's code; give its two letters of ISO 3166-1, such as "
        "CZ.\n"
        "discwright: 2 faults; nothing was packed.\n"
    )
    assert sorted(path.name for path in Path().iterdir()) == ["orders.csv", "stock.csv"]
    result = call("--json")
    told = json.loads(result.stdout)
    assert result.exit_code == 2
    assert (told["cartons"], told["bundles"], told["short"], told["more_findings"]) == ([], [], [], 0)
    assert [(one["line"], one["column"], one["code"]) for one in told["findings"]] == [
        (2, "count", "wrong_count"), (3, "country", "unknown_country"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--serial-from", "-1"), "--serial-from: “-1” is no whole number; write digits alone, such as 4."),
        (("--per-carton", "2.5"), "--per-carton: “2.5” is no whole number; write digits alone, such as 4."),
        (("--per-carton", "0"), "a carton of 0 cannot be packed; give 1 to 1000."),
        (("--extension", "x"), "--extension: “x” is no whole number; write digits alone, such as 4."),
        (("--dpi", "72"), "a printer of 72 dots to the inch is none; give 100 to 2400, mostly 203 or 300."),
        (("--rule", "mine"), "there is no rule “mine”; choose from date, weight, fair."),
        (("--encoding", "rot13"), "there is no encoding “rot13”; choose from utf-8, utf-16, windows-1250, "
         "windows-1251, windows-1252, iso-8859-1, iso-8859-2, iso-8859-15, shift-jis, gb18030, big5, euc-kr."),
        (("--weights", "none.csv"), "none.csv: there is no such file; check the path."),
        (("--settings", "none.toml"), "none.toml: there is no such file of packing settings; check the path."),
    ],
)  # fmt: skip
def test_wrong_calls(words: tuple[str, ...], sentence: str, call: Call) -> None:
    with pytest.raises(DiscwrightError) as refusal:
        call(*words)
    assert str(refusal.value) == sentence
