"""The act of packing: files in, papers out, and nothing where anything is wrong. Expected numbers are *by hand*."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from packing_cases import ordered, stored

import discwright.acts.pack as acts
from discwright.acts.pack import PackOrder, Papers, RefusedLines, pack_files, pack_lines, write_papers
from discwright.acts.pack_report import PackReport
from discwright.errors import CallError
from discwright.files.packing_settings import load_packing

ORDERS = """order,account,name,address_1,address_2,city,region,postcode,country,edition,count,wanted
O-1,A-10,"Přístav hudby, p.o.",Žluťoučká 12,,Praha 7,,170 00,CZ,NL-004/lp,112,2026-12-01
O-2,A-2,東京音楽商店,Chiyoda-ku 1-1,,Tokyo,Tokyo,100-0001,JP,NL-004/lp,30,2026-12-01
O-3,A-3,Жуки,Портовая 4,,Санкт-Петербург,Leningrad,190000,RU,NL-004/lp,500,2026-12-08
"""
STOCK = "edition,run,count,bin\nNL-004/lp,R-12,180,A-01\nNL-004/lp,R-13,400,A-02\nNL-004/lp,R-9,40,A-03\n"
NUMBERED = PackOrder(gs1_prefix="5012345", serial_from=1)
Go = Callable[..., PackReport]


@pytest.fixture
def go(tmp_path: Path) -> Go:
    def pack(order: PackOrder = NUMBERED, orders: str = ORDERS, stock: str = STOCK, **more: Any) -> PackReport:
        (tmp_path / "orders.csv").write_text(orders, encoding="utf-8")
        (tmp_path / "stock.csv").write_text(stock, encoding="utf-8")
        return pack_files(tmp_path / "orders.csv", tmp_path / "stock.csv", order, **more)

    return pack


def papers(tmp_path: Path) -> Papers:
    return Papers(tmp_path / "labels.pdf", tmp_path / "manifest.csv", tmp_path / "picks.csv")


def test_a_day_from_files_to_papers(go: Go, tmp_path: Path) -> None:
    steps: list[tuple[str, float]] = []
    report = go(papers=papers(tmp_path), tell=lambda step, done: steps.append((step, done)))
    told = report.as_dict()
    # 642 ordered, 620 there: the day later waits for 22 of its 500.
    assert told["short"] == [
        {
            "account": "A-3", "edition": "NL-004/lp", "missing": 22, "order": "O-3", "ordered": 500, "granted": 478,
            "wanted": "2026-12-08", "line": 4,
        }
    ]  # fmt: skip
    assert told["discs"] == sum(one["count"] for one in told["cartons"]) == 620
    assert told["next_serial"] == 1 + len(told["cartons"]) + len(told["bundles"])
    assert [one["code"] for one in told["findings"]] == ["orders_short", "heavy_bundle"]
    assert told["mass_kg"] == pytest.approx(620 * 0.23 + 0.4 * len(told["cartons"]))
    assert {one["account"] for one in told["pallets"]} == {"A-2", "A-3", "A-10"}
    assert told["left"] == []
    assert set(told["written"]) == {"labels", "manifest", "pick_list"}
    assert told["labels"]["labels"] == told["labels"]["pages"] == len(told["cartons"]) + len(told["bundles"])
    assert steps[0] == ("reading", 0.0)
    assert steps[-1] == ("lists", 1.0)
    with (tmp_path / "manifest.csv").open(encoding="utf-8", newline="") as stream:
        assert sum(int(row["count"]) for row in csv.DictReader(stream)) == 620
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "labels.pdf", "manifest.csv", "orders.csv", "picks.csv", "stock.csv",
    ]  # fmt: skip


def test_the_same_day_twice_is_the_same(go: Go, tmp_path: Path) -> None:
    first = go(papers=papers(tmp_path))
    written = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    for path in papers(tmp_path).named().values():
        path.unlink()
    assert go(papers=papers(tmp_path)).as_dict() == first.as_dict()
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == written


def test_a_recalled_run_stays_in_its_bin(go: Go) -> None:
    report = go(replace(NUMBERED, recalled=("R-13",)))
    assert {one.run for one in report.packed.cartons} == {"R-12", "R-9"}
    found = next(one for one in report.findings if one.code == "recalled_stock")
    assert (found.severity, found.value) == ("warn", 400.0)
    assert found.remedy == "Recalled run R-13 lies in bins and was not touched: mark those bins."
    assert report.as_dict()["recalled"] == ["R-13"]


def test_findings_by_hand() -> None:
    house = load_packing()
    heavy = replace(house, weights=replace(house.weights, units_g={"usual": 1000.0}))
    report = pack_lines([ordered("A", 25)], [stored("R", 25, "B")], PackOrder(), heavy)
    assert [(one.code, one.severity, one.value, one.limit, one.remedy) for one in report.findings] == [
        (
            "heavy_carton", "warn", pytest.approx(25.4), 23.0,
            "1 carton too heavy for one person: put fewer discs into a carton.",
        ),
        (
            "heavy_bundle", "note", pytest.approx(25.4), 23.0,
            "1 bundle for two people or a lift, and the label says so; local rules come first.",
        ),
    ]  # fmt: skip
    report = pack_lines([ordered("A", 25)], [stored("R", 24, "B")], PackOrder())
    assert [one.remedy for one in report.findings] == [
        "1 disc of 1 edition missing: kept as backorders; press more, or tell the accounts."
    ]
    assert (report.findings[0].severity, report.findings[0].value, report.findings[0].limit) == ("stop", 24.0, 25.0)
    assert pack_lines([ordered("A", 25)], [stored("R", 25, "B")], PackOrder()).findings == ()


def test_findings_of_labels(tmp_path: Path) -> None:
    lines = [
        replace(ordered("A-1", 5), name="שלום"),
        replace(ordered("A-2", 5), name="서울"),
        replace(ordered("A-3", 5), name="m " * 90, address_1="m " * 90, address_2="m " * 90, city="m " * 90),
    ]
    report = pack_lines(lines, [stored("R", 25, "B")], PackOrder())
    report = write_papers(report, Papers(labels=tmp_path / "l.pdf"), PackOrder())
    assert [(one.code, one.severity) for one in report.findings] == [
        ("label_letters", "warn"), ("label_unjoined", "warn"), ("label_type", "note"),
    ]  # fmt: skip
    remedies = [one.remedy for one in report.findings]
    assert remedies[0] == "Account A-2 has letters that no typeface here has: write them otherwise."
    assert remedies[1].startswith("Account A-1 is written from right to left, which is printed letter by letter")
    assert remedies[2] == "The longest address is printed in small letters: shorten it, or take larger labels."


def test_what_is_wrong_in_every_file_is_told_and_nothing_is_written(go: Go, tmp_path: Path) -> None:
    weights = tmp_path / "weights.csv"
    weights.write_text("account,weight\nA-1,0\n", encoding="utf-8")
    before = sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(RefusedLines) as refusal:
        go(
            orders=ORDERS.replace("112,2026", "0,2026"), stock=STOCK.replace(",180,", ",many,"), weights=weights,
            papers=papers(tmp_path),
        )  # fmt: skip
    assert [(one.file, one.line, one.code) for one in refusal.value.findings] == [
        ("orders.csv", 2, "wrong_count"), ("stock.csv", 2, "wrong_count"), ("weights.csv", 2, "wrong_weight"),
    ]  # fmt: skip
    assert str(refusal.value).splitlines()[0] == "orders.csv, line 2, count: is too few; give 1 at least."
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([*before, "orders.csv", "stock.csv"])


def test_weights_of_accounts_decide_when_short(go: Go, tmp_path: Path) -> None:
    (tmp_path / "weights.csv").write_text("account,weight\nA-2,9\n", encoding="utf-8")
    stock = "edition,run,count,bin\nNL-004/lp,R-1,71,B-1\n"
    report = go(stock=stock, weights=tmp_path / "weights.csv")
    # Of one day 112 and 30: A-2 counts nine times, so that it gets all of its 30.
    assert [one.count for one in report.allocation.granted] == [41, 30, 0]
    # Without weights 71 are half of 142.
    assert [one.count for one in go(stock=stock).allocation.granted] == [56, 15, 0]


def test_when_nothing_is_there_there_are_lists_but_no_labels(go: Go, tmp_path: Path) -> None:
    report = go(stock="edition,run,count,bin\nNL-004/lp,R-1,0,B-1\n", papers=papers(tmp_path))
    assert report.packed.cartons == ()
    assert len(report.short) == 3
    assert set(report.written or {}) == {"manifest", "pick_list"}
    assert not (tmp_path / "labels.pdf").exists()


@pytest.mark.parametrize(
    ("order", "words"),
    [
        (PackOrder(serial_from=1), "a serial number belongs to a GS1 prefix; give --gs1-prefix as well."),
        (
            PackOrder(gs1_prefix="5012345"),
            "no SSCC may be given out twice; give --serial-from with the first number that was never used (next_serial "
            "of the last packing, 1 if there was none).",
        ),
        (
            PackOrder(gs1_prefix="50", serial_from=1),
            "“50” is no GS1 company prefix; give the 4 to 12 digits that GS1 gave you.",
        ),
        (replace(NUMBERED, extension=11), "an extension digit of 11 is none; give one from 0 to 9."),
        (PackOrder(rule="first"), "there is no rule “first”; choose from date, weight, fair."),
        (PackOrder(pallet="big"), "there is no pallet “big”; choose from eur, 48x40."),
        (PackOrder(per_carton=0), "a carton of 0 cannot be packed; give 1 to 1000."),
        (PackOrder(per_bundle=101), "a bundle of 101 cannot be packed; give 1 to 100."),
        (PackOrder(page="A5"), "there is no page “A5”; choose from A6, 100x150, 4x6in, A4, letter."),
    ],
)  # fmt: skip
def test_calls_that_cannot_be_meant(order: PackOrder, words: str, go: Go, tmp_path: Path) -> None:
    with pytest.raises(CallError) as refusal:
        go(order, papers=papers(tmp_path))
    assert str(refusal.value) == words
    assert sorted(path.name for path in tmp_path.iterdir()) == ["orders.csv", "stock.csv"]


def test_nothing_is_written_over(go: Go, tmp_path: Path) -> None:
    wanted = papers(tmp_path)
    for path in wanted.named().values():
        path.write_text("kept")
        with pytest.raises(
            CallError, match=rf"{path.name}: is there already; choose another name, or move that file away\."
        ):
            go(papers=wanted)
        assert path.read_text() == "kept"
        path.unlink()
    with pytest.raises(CallError, match=r"labels\.txt: choose a name that ends with \.pdf\."):
        go(papers=Papers(labels=tmp_path / "labels.txt"))
    with pytest.raises(CallError, match=r"two papers cannot have one name; choose another for one of them\."):
        go(papers=Papers(manifest=tmp_path / "a.csv", pick_list=tmp_path / "a.csv"))


@pytest.mark.parametrize("broken", ["write_labels", "write_manifest", "write_pick_list"])
@pytest.mark.parametrize("trouble", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_all_papers_or_none(
    broken: str, trouble: BaseException, go: Go, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:  # fmt: skip
    def fail(*_args: object, **_more: object) -> None:
        raise trouble

    monkeypatch.setattr(acts, broken, fail)
    with pytest.raises((CallError, KeyboardInterrupt)) as refusal:
        go(papers=papers(tmp_path))
    if isinstance(trouble, OSError):
        assert re.search(r"cannot be written \(No space left on device\); choose another place\.", str(refusal.value))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["orders.csv", "stock.csv"]


def test_a_folder_that_is_not_there(go: Go, tmp_path: Path) -> None:
    with pytest.raises(CallError) as refusal:
        go(papers=Papers(manifest=tmp_path / "none" / "m.csv"))
    assert str(refusal.value) == (
        f"{tmp_path}/none/m.csv: cannot be written (No such file or directory); choose another place."
    )  # fmt: skip


def test_every_key_that_is_printed_is_explained(go: Go, tmp_path: Path) -> None:
    def keys(value: object) -> set[str]:
        if isinstance(value, dict):
            return set(value).union(*(keys(inner) for inner in value.values()))
        return set().union(*(keys(inner) for inner in value)) if isinstance(value, list) else set()

    page = (Path(__file__).parents[2] / "docs" / "packing.md").read_text(encoding="utf-8")
    told = go(papers=papers(tmp_path), stock=STOCK + "NL-017/lp,R-20,5,A-04\n").as_dict()
    assert told["left"]
    told["findings"] = told["findings"][:0]  # those of every finding stand in the pages of findings and commands
    assert [key for key in sorted(keys(told)) if f"`{key}`" not in page] == []
