"""Labels read back as a scanner, a rule and a person would: GS1 content among ink, true size, names in own letters.

Kinds of expected numbers: pages and the module are *by hand* from published sizes; bars are read *by another road*,
with a decoder that knows nothing of how they were made, at the 203 dots of the commonest label printer.
"""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import pdfplumber
import pypdfium2
import pytest
import zxingcpp
from packing_cases import SERIALS, ordered, packed, stored
from PIL import Image

from discwright.errors import CallError
from discwright.files.carton_label import (
    PAPERS,
    LabelOrder,
    LabelsMade,
    label_place,
    labels_pdf,
    read_sender,
    unit_labels,
)
from discwright.files.carton_label_drawn import NO_SSCC, UNJOINED
from discwright.files.packing_settings import load_packing
from discwright.works.gs1 import Serials
from discwright.works.order_lines import OrderLine
from discwright.works.packing import Packed

HOUSE = load_packing()
NAMES = {
    "Latin": ("Přístav hudby Žluť", "Nábřeží 4", "Praha", "CZ"),
    "Cyrillic": ("Жуки и волны", "Портовая улица 4", "Санкт-Петербург", "RU"),
    "Greek": ("Δίσκοι του Λιμανιού", "Οδός Ερμού 5", "Αθήνα", "GR"),
    "Han": ("東京音楽商店", "千代田区一丁目", "東京", "JP"),
}


def to(account: str, count: int, name: str, street: str, city: str, country: str) -> OrderLine:
    return replace(ordered(account, count, street=street, country=country), name=name, city=city, region="")


def day(*lines: OrderLine, serials: Serials | None = SERIALS) -> Packed:
    return packed(lines, [stored("R-12", 5000, "B-1")], serials=serials)


def made(found: Packed, **more: Any) -> tuple[bytes, LabelsMade]:
    return labels_pdf(unit_labels(found, HOUSE.weights), LabelOrder(**more), HOUSE.label)


def inked(pdf: bytes, page: int, dpi: int) -> Image.Image:
    """A page as the printer sees it, with a black border round it: no white beyond the paper helps the reader."""
    document = pypdfium2.PdfDocument(pdf)
    label = document[page].render(scale=dpi / 72).to_pil().convert("L")
    document.close()
    black = Image.new("L", (label.width + 80, label.height + 80), 0)
    black.paste(label, (40, 40))
    return black


def scans(pdf: bytes, page: int = 0, dpi: int = 203) -> list[zxingcpp.Barcode]:
    return list(zxingcpp.read_barcodes(inked(pdf, page, dpi)))


@pytest.mark.parametrize("page", list(PAPERS))
def test_the_bars_are_gs1_on_every_page(page: str) -> None:
    found = day(ordered("A-1", 112), ordered("A-2", 25))
    pdf, told = made(found, page=page)
    # by hand: 6 cartons and 3 bundles, 1 or 4 to a page.
    a_page = PAPERS[page].columns * PAPERS[page].rows
    assert (told.labels, told.pages) == (9, -(-9 // a_page))
    read = [one for k in range(told.pages) for one in scans(pdf, k)]
    assert {one.format for one in read} == {zxingcpp.BarcodeFormat.Code128}
    assert {one.content_type for one in read} == {zxingcpp.ContentType.GS1}
    assert {one.symbology_identifier for one in read} == {"]C1"}
    wanted = [*(one.sscc for one in found.cartons), *(one.sscc for one in found.bundles)]
    assert sorted(one.text for one in read) == sorted(f"(00){sscc}" for sscc in wanted)


@pytest.mark.parametrize("dpi", [203, 300])
def test_the_bars_are_whole_dots(dpi: int) -> None:
    """By hand: 4 dots of 203 to the inch are 0.5005 mm, 6 of 300 are 0.508; bars are 32 mm high and more."""
    pdf, told = made(day(ordered("A-1", 25)), dpi=dpi)
    assert told.module_mm == pytest.approx({203: 4, 300: 6}[dpi] * 25.4 / dpi)
    assert [one.text for one in scans(pdf, 0, dpi)] == [f"(00){SERIALS.numbers.sscc(1)}"]
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        page = document.pages[0]
        bars = [one for one in page.rects if one["height"] > 32 / 25.4 * 72]
        assert len(bars) == 43
        dot = 72 / dpi
        for one in bars:
            assert one["x0"] / dot == pytest.approx(round(one["x0"] / dot), abs=0.02)
            assert one["width"] / dot == pytest.approx(round(one["width"] / dot), abs=0.02)
            # In the lowest part, and white of ten modules on both sides.
            assert float(page.height) - one["bottom"] < 15 / 25.4 * 72
        white = 10 * told.module_mm / 25.4 * 72
        assert min(one["x0"] for one in bars) >= white
        assert max(one["x1"] for one in bars) <= float(page.width) - white


@pytest.mark.parametrize(
    ("page", "size"),
    # Published: ISO 216; letter is 8½ × 11 inches, the roll 4 × 6.
    [
        ("A6", (105, 148)), ("A4", (210, 297)), ("letter", (215.9, 279.4)), ("4x6in", (101.6, 152.4)),
        ("100x150", (100, 150)),
    ],
)  # fmt: skip
def test_pages_are_of_their_true_size_and_nothing_leaves_them(page: str, size: tuple[float, float]) -> None:
    long = "Velmi dlouhé jméno, které se na žádný štítek nevejde celé " * 3
    lines = [to(f"A-{k}", 110, name, *rest) for k, (name, *rest) in enumerate(NAMES.values())]
    found = day(*lines, to("A-9", 110, long[:190], long[:190], long[:190], "BA"))
    pdf, _ = made(found, page=page, sender=("Harbour Records", "Quay 7", "Bergen", "NORWAY"))
    place = label_place(LabelOrder(page), HOUSE.label)
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for one in document.pages:
            assert (float(one.width) / 72 * 25.4, float(one.height) / 72 * 25.4) == pytest.approx(size, abs=0.01)
            for c in one.chars:
                column = c["x0"] / 72 * 25.4 / place.width
                assert c["x0"] / 72 * 25.4 >= int(column) * place.width + 4.9
                assert c["x1"] / 72 * 25.4 <= int(column) * place.width + place.width - 4.9
            bars = [line for line in one.lines if line["width"] / 72 * 25.4 == pytest.approx(50.0, abs=0.01)]
            assert bars


def overlaps(page: Any) -> list[tuple[str, str]]:
    """Words whose boxes cover one another by more than a hair, pt."""
    found = page.extract_words(use_text_flow=False, keep_blank_chars=True)
    return [
        (one["text"], other["text"])
        for n, one in enumerate(found)
        for other in found[n + 1 :]
        if min(one["x1"], other["x1"]) - max(one["x0"], other["x0"]) > 0.6
        and min(one["bottom"], other["bottom"]) - max(one["top"], other["top"]) > 2.6
    ]


def test_nothing_lies_on_something_else() -> None:
    name = "Music Trade and Harbour Supplies of the North Quay"
    line = to("A-123456789-long-account", 110, name, "Quay 17, third yard", "Bergen", "NO")
    line = replace(line, order="ORDER-2026-0001234567890", edition="HARBOUR-0042-SPECIAL/lp-white", address_2="Door 4")
    heavy = replace(HOUSE.weights, units_g={"usual": 950.0})
    stock = [replace(stored("RUN-2026-11-000123-B", 500, "B-1"), edition=line.edition)]
    found = packed([line], stock)
    pdf, _ = labels_pdf(unit_labels(found, heavy), LabelOrder(), HOUSE.label)
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        assert [overlaps(page) for page in document.pages] == [[] for _ in document.pages]
        said = document.pages[4].extract_text() + document.pages[-1].extract_text()
    for words in ("PART-FILLED 10 of 25", "two people or a lift", "BUNDLE 2", "PART-FILLED 1 of 4 cartons", "5 of 5"):
        assert words in said or words in "\n".join(_texts(pdf)), words


def _texts(pdf: bytes) -> list[str]:
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        return [page.extract_text() for page in document.pages]


@pytest.mark.parametrize("script", list(NAMES))
def test_names_are_printed_in_their_own_letters(script: str) -> None:
    name, street, city, country = NAMES[script]
    pdf, told = made(day(to("A-1", 30, name, street, city, country)))
    said = _texts(pdf)[0].replace("\n", " ")
    for words in (*name.split(), *street.split(), *city.split()):
        assert words in said, words
    assert (told.cut, told.unjoined, told.lacking) == ((), (), ())
    assert told.least_capital_mm > 4.0


def test_right_to_left_and_unknown_letters_are_told() -> None:
    """The typefaces at hand have neither notes nor Hangul."""
    found = day(
        to("A-1", 5, "בית התקליט", "Herzl 1", "Haifa", "IL"),
        to("A-2", 5, "Note \U0001f3b5", "Quay", "Oslo", "NO"),
        to("A-3", 5, "서울음반", "Sejong 1", "Seoul", "KR"),
    )
    pdf, told = made(found)
    assert (told.unjoined, told.lacking) == (("A-1",), ("A-2", "A-3"))
    assert UNJOINED in _texts(pdf)[0]
    assert UNJOINED not in _texts(pdf)[2]


def test_what_stands_on_a_carton_and_a_bundle() -> None:
    pdf, _ = made(day(ordered("A-1", 112, order="O-77")), sender=("Harbour Records", "Quay 7"))
    texts = _texts(pdf)
    carton, bundle, last = texts[0], texts[4], texts[5]
    for words in (
        "From", "Harbour Records, Quay 7", "Music Trade A-1", "Quay 1", "5003 Bergen", "NORWAY", "NL-004/lp", "O-77",
        "R-12", "1 of 5", "Carton 1 in bundle 1", "6.2 kg", f"(00) {SERIALS.numbers.sscc(1)}", "50 mm by a rule?",
    ):  # fmt: skip
        assert words in carton, words
    assert "PART-FILLED" not in carton
    # by hand: 4 × 25 discs of 230 g and four boxes of 0.4 kg.
    for words in ("BUNDLE 1", "1–4 of 5", "100", "24.6 kg: two people or a lift", f"(00) {SERIALS.numbers.sscc(6)}"):
        assert words in bundle, words
    for words in ("PART-FILLED 12 of 25", "5 of 5", "3.2 kg"):
        assert words in last, words


def test_the_mark_of_a_part_filled_carton_is_a_shape_too() -> None:
    pdf, _ = made(day(ordered("A-1", 30)))
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        full, part = ([r for r in page.rects if 11 < r["width"] < 13] for page in document.pages[:2])
        # by hand: a box of 4.2 mm, its lower half filled.
        assert (len(full), len(part)) == (0, 2)


def test_without_a_prefix_the_label_says_why_there_are_no_bars() -> None:
    pdf, _ = made(day(ordered("A-1", 30), serials=None))
    assert scans(pdf) == []
    texts = _texts(pdf)
    assert NO_SSCC in texts[0]
    assert "Carton 1" in texts[0]
    assert "Bundle 1" in texts[2]


def test_letters_are_seven_millimetres_high_where_that_fits() -> None:
    """Published: GS1 asks for free text of 7 mm and more; here the capitals."""
    _, told = made(day(to("A-1", 5, "Quay", "Pier 3", "Oslo", "NO")))
    assert told.least_capital_mm == pytest.approx(7.0, abs=0.01)


def test_the_same_labels_give_the_same_bytes() -> None:
    found = day(ordered("A-1", 112), to("A-2", 30, *NAMES["Han"]))
    assert made(found)[0] == made(found)[0]


def test_a_day_without_cartons_has_no_labels() -> None:
    with pytest.raises(CallError) as refusal:
        made(packed([ordered("A-1", 5)], []))
    assert str(refusal.value) == "there is no carton, and so no label; pack something first."


def test_papers_and_printers_that_do_not_do() -> None:
    for order, words in (
        (LabelOrder("A5"), "there is no page “A5”; choose from A6, 100x150, 4x6in, A4, letter."),
        (LabelOrder(dpi=72), "a printer of 72 dots to the inch is none; give 100 to 2400, mostly 203 or 300."),
        (
            LabelOrder("100x150", dpi=128),
            "bars of 105 mm at 128 dots to the inch do not fit 100x150; take a printer of 203 dots or more.",
        ),
    ):
        with pytest.raises(CallError) as refusal:
            label_place(order, HOUSE.label)
        assert str(refusal.value) == words


def test_the_sender() -> None:
    assert read_sender("Harbour Records; Quay 7;;\nBergen ") == ("Harbour Records", "Quay 7", "Bergen")
    assert read_sender("") == ()
    with pytest.raises(CallError, match=r"the sender is too long; give at most 6 lines and 300 characters\."):
        read_sender(";".join("abcdefg"))
    with pytest.raises(CallError, match=r"the sender holds characters that cannot be seen; type it anew\."):
        read_sender("Quay\u202e7")
