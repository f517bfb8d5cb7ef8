"""Labels are of their true size, and a camera reads the number from them, alone and among ink."""

from __future__ import annotations

import io

import pdfplumber
import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from discwright.errors import CallError
from discwright.files.part_label import LABEL_MM, LABELS_MOST, PartLabel, code_svg, label_pdf, label_sheet_pdf

LABEL = PartLabel("ST1042-0", "stamper (−)", "Notes from a Weather Ship", "OKW 0042", "lp A", "OKW-0042-A 東")


def picture(pdf: bytes, dpi: int, page: int = 0) -> Image.Image:
    return pypdfium2.PdfDocument(pdf)[page].render(scale=dpi / 72).to_pil()


@pytest.mark.parametrize("dpi", [203, 300])
def test_a_label_is_read_as_a_label_printer_prints_it(dpi: int) -> None:
    # by hand: 62 × 29 mm in points of 1/72 inch; common practice: label printers have 203 or 300 dpi.
    with pdfplumber.open(io.BytesIO(label_pdf(LABEL))) as pdf:
        page = pdf.pages[0]
        assert (float(page.width), float(page.height)) == pytest.approx((62 / 25.4 * 72, 29 / 25.4 * 72), abs=0.01)
        words = page.extract_text()
    for told in ("ST1042-0", "stamper", "OKW 0042 lp A", "Notes from a Weather", "東"):
        assert told in words
    found = zxingcpp.read_barcodes(picture(label_pdf(LABEL), dpi))
    assert [one.text for one in found] == ["ST1042-0"]


def test_a_code_with_ink_around_it_is_read() -> None:
    label = picture(label_pdf(LABEL), 203)
    inked = Image.new("RGB", (label.width + 80, label.height + 80), "black")
    inked.paste(label, (40, 40))
    assert [one.text for one in zxingcpp.read_barcodes(inked)] == ["ST1042-0"]


def test_a_sheet_has_its_bar_and_as_many_pages_as_it_needs() -> None:
    labels = [PartLabel(f"ST{n}-0", "stamper (−)") for n in range(1, 18)]
    packed = label_sheet_pdf(labels)
    with pdfplumber.open(io.BytesIO(packed)) as pdf:
        # by hand: 2 × 8 on the first page, one more on the second.
        assert [len(page.search(r"ST\d+-0")) for page in pdf.pages] == [16, 1]
        bar = [line for line in pdf.pages[0].lines if line["width"] == pytest.approx(50 / 25.4 * 72, abs=0.05)]
        assert len(bar) == 1
        frames = [one for one in pdf.pages[0].rects if one["width"] == pytest.approx(LABEL_MM[0] / 25.4 * 72, abs=0.05)]
        assert len(frames) == 16
    assert len(zxingcpp.read_barcodes(picture(packed, 150))) == 16
    assert label_sheet_pdf(labels) == packed


@pytest.mark.parametrize("count", [0, LABELS_MOST + 1])
def test_no_sheet_and_far_too_many(count: int) -> None:
    with pytest.raises(CallError, match=f"not {count}; print parts one by one"):
        label_sheet_pdf([LABEL] * count)


def test_the_code_as_a_picture_holds_the_number_alone() -> None:
    svg = code_svg("ST1042-0").decode()
    assert svg.startswith("<svg")
    assert "http://www.w3.org/2000/svg" in svg
    assert "script" not in svg
