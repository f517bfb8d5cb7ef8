"""The cutting sheet, read back as a person, a rule and a camera would: text, lengths and the code on the page.

Kinds of expected numbers: the page is *published* (ISO 216), the bar and sums are *by hand*, the code is read *by
another road* (a decoder that knows nothing of how it was made).
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pdfplumber
import pypdfium2
import pytest
import zxingcpp

from discwright.errors import CallError
from discwright.files import fonts
from discwright.files.picture import draw_disc
from discwright.files.settings import load_setup
from discwright.files.sheet_graph import envelope
from discwright.files.sheet_words import CAUTIONS, FIELDS, STOPPED, cue_words
from discwright.files.sheets import write_sheet
from discwright.findings import Finding
from discwright.groove.cues import Cue, cue_list
from discwright.groove.ladder import Rung
from discwright.plan import Order, Plan, Programme, plan_side
from discwright.programme.title import SideLabel

RATE = 44_100
FINGERPRINT = "0f1e2d3c4b5a69788796a5b4c3d2e1f0" * 2
LABEL = SideLabel(
    title="Evening on the Quay", edition="Long-player", letter="A", matrix="HRB-0417-A",
    people=("Jiří Dvořáček, piano", "Анна Жукова, violin"),
    band_names=("Přístav", "東京の夜"), isrcs=("AA6Q72000047", ""),
)  # fmt: skip
LONG = "The very long name of a piece, Příliš žluťoučký kůň, 東京の夜の港, Жуки 🎵 "
SLOPE = Finding("slope", "stop", 12.3, 1, 6.83, 142.5, 47.2, 45.0, "deg", "Lower the side 0.6 dB.")
WARNING = Finding("curvature", "warn", 3.0, 1, 1.67, 145.8, 1.4, 1.0, "% of time", "Lower 2.9 dB there.")


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Twenty-four seconds of low noise that swells, in two bands with two seconds of silence between them."""
    rng = np.random.default_rng(7)
    noise = np.cumsum(rng.standard_normal((24 * RATE, 2)), axis=0)
    noise[40:] -= noise[:-40].copy()
    swell = 0.2 + 0.8 * np.sin(np.arange(len(noise)) / len(noise) * 9.0)[:, None] ** 2
    music = (0.4 * swell * noise / np.abs(noise).max()).astype(np.float32)
    music[11 * RATE : 13 * RATE] = 0.0
    order = Order(load_setup(), level_db=-3.0, band_starts=(0.0, 13.0), band_ends=(11.0, 24.0))
    return plan_side([music], Programme(RATE, len(music), 2), order)


@pytest.fixture(scope="module")
def picture(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("picture") / "disc.png"
    draw_disc(path, plan.rows, plan.setup.disc, bands=plan.bands, findings=(), caption="", size_px=800)
    return path


Write = Callable[..., Path]


@pytest.fixture
def write(plan: Plan, picture: Path, tmp_path: Path) -> Write:
    def go(name: str = "sheet.pdf", plan: Plan = plan, label: SideLabel = LABEL, **more: Any) -> Path:
        path = tmp_path / name
        cues = more.pop("cues", cue_list(plan.rows, plan.bands, plan.setup.disc))
        write_sheet(path, plan, label, cues, FINGERPRINT, **({"picture": picture} | more))
        return path

    return go


def crowded(plan: Plan, bands: int = 20, findings: int = 12) -> tuple[Plan, SideLabel]:
    """The same side with many bands, findings and long names; joins are marked so that every band has its cues."""
    step = plan.programme.duration / bands
    times = tuple((k * step, (k + 1) * step - 0.3) for k in range(bands))
    zone = plan.rows.zone.copy()
    for _, end in times[:-1]:
        zone[(plan.rows.time >= end) & (plan.rows.time < end + 0.3)] = "join"
    found = tuple(
        replace(SLOPE, time_s=float(k), remedy=f"Remedy {k}: " + "lower the side or move the band outward. " * 9,
                accepted="A reason that goes on. " * 20 if k % 2 else "")
        for k in range(findings)
    )  # fmt: skip
    label = SideLabel(LONG * 3, LONG, "AA", "HRB-0417-A-A-RATHER-LONG-NUMBER", (LONG,) * 5, (LONG,) * bands,
                      ("AA6Q72000047",) * bands)  # fmt: skip
    return replace(plan, bands=times, findings=found, rows=replace(plan.rows, zone=zone)), label


def margin(what: str, inside: float, time: float | None = 3.0) -> Any:
    return SimpleNamespace(what=what, value=1.0, limit=2.0, unit="mm/s", inside_percent=inside, time=time)


def text(path: Path) -> str:
    with pdfplumber.open(path) as document:
        return "\n".join(page.extract_text() for page in document.pages)


def flat(path: Path) -> str:
    """All letters without spaces, column by column lost: for sentences that may be broken over lines."""
    with pdfplumber.open(path) as document:
        return "".join("".join(c["text"] for c in page.chars) for page in document.pages).replace(" ", "")


def codes(path: Path) -> list[str]:
    document = pypdfium2.PdfDocument(path)
    try:
        image = document[0].render(scale=200 / 72).to_pil()
    finally:
        document.close()
    return [code.text for code in zxingcpp.read_barcodes(image)]


# what stands on it ------------------------------------------------------------------------------------


def test_the_words_can_be_read_back(write: Write) -> None:
    said = text(write())
    for words in (
        LABEL.title, "Long-player", LABEL.matrix, "Jiří Dvořáček", "Анна Жукова", "Přístav", "東京の夜",
        "AA-6Q7-20-00047", FINGERPRINT, "12in-33", "spherical-18",
    ):  # fmt: skip
        assert words in said, words


def test_values_stand_beside_their_units(write: Write) -> None:
    said = flat(write())
    for words in ("33⅓rpm", "Level−3.0dB", "Firstradius146.3mm"):
        assert words in said, words


def test_every_character_of_the_cautions_is_there(write: Write) -> None:
    said = flat(write())
    for sentence in (*CAUTIONS, *STOPPED, *FIELDS):
        assert sentence.replace(" ", "") in said, sentence


def test_the_numbers_are_the_plans(write: Write, plan: Plan) -> None:
    said = text(write())
    # by hand: 24 s at 33⅓ turns a minute are 13.3 turns; band 2 begins at 13 s, turn 13/1.8 = 7.2, and lasts 11 s
    assert "0:24.0" in said
    assert "13.3" in said
    row = next(line for line in said.splitlines() if "東京の夜" in line)
    assert row.split()[:1] == ["2"]
    assert row.split()[2:5] == ["0:13.0", "0:11.0", "7.2"]
    # by another road: straight from the plan
    said = flat(write())
    assert f"Lastradius{plan.end_radius * 1e3:.1f}mm" in said
    assert f"Radiustospare{plan.spare * 1e3:.1f}mm" in said
    assert f"Turnsofmusic{plan.turns:.1f}" in said


def test_every_cue_is_there_in_plain_words(write: Write, plan: Plan) -> None:
    lines = text(write()).splitlines()
    cues = cue_list(plan.rows, plan.bands, plan.setup.disc)
    assert [cue.kind for cue in cues] == ["lead_in", "fine", "music", "join", "band", "lead_out", "stop", "lift"]
    places = [next(k for k, line in enumerate(lines) if cue_words(cue) in line) for cue in cues]
    assert places == sorted(places)
    # by hand: 1.5 turns of 1.8 s
    assert lines[places[1]].startswith("−0:02.7 −1.5 ")
    assert lines[places[2]].startswith("0:00.0 0.0 146.3")  # published: IEC 60098, 292.6 mm across
    assert lines[places[3]].startswith("0:11.0")


@pytest.mark.parametrize(
    ("cue", "words"),
    [
        (Cue("lead_in", -9.0, -5.0, 0.1505), "Lower the tip in the lead-in"),
        (Cue("fine", -2.7, -1.5, 0.1464), "Fine pitch, 1.5 turns before music"),
        (Cue("join", 11.0, 6.1, 0.14, 3), "Band 3 ends: join"),
        (Cue("band", 13.0, 7.2, 0.14, 4), "Band 4 begins"),
        (Cue("lead_out", 24.0, 13.3, 0.14, 4), "End of music: lead-out"),
        (Cue("lift", 24.0, 13.3, 0.14), "Groove closed: lift the tip"),
    ],
)
def test_cue_words(cue: Cue, words: str) -> None:
    assert cue_words(cue) == words


def test_findings_with_the_reason_of_an_accepted_one(write: Write, plan: Plan) -> None:
    accepted = replace(WARNING, accepted="The cymbal is meant to splash.")
    said = text(write(plan=replace(plan, findings=(SLOPE, accepted))))
    assert "1 stop, 1 warning: not ready to cut." in said
    assert "0:12.3 band 1 turn 6.8 r 142.5 mm" in said
    assert "47.2 against 45 deg. Lower the side 0.6 dB." in said
    assert "Accepted: The cymbal is meant to splash." in said
    assert "No findings: ready to cut." in text(write(plan=replace(plan, findings=())))


def test_the_tightest_margins_the_treatments_and_the_ladder(write: Write) -> None:
    margins = tuple(margin(what, inside) for what, inside in (("wide", 90), ("c", 30), ("pitch_slew", -5), ("b", 20)))
    rungs = (Rung("fit", 2.0, 24.0, 13.33, 0.14), Rung("traces a", 3.04, None, None, None))
    said = text(write(margins=margins, treatments=("Bass below 150 Hz is blended.",), ladder=rungs))
    assert "pitch slew: 1 against 2 mm/s at 0:03.0" in said
    assert "−5 %" in said
    assert "wide:" not in said
    assert "Bass below 150 Hz is blended." in said
    assert "fit, met at 0:24.0, turn 13.3 +2.0 dB" in said
    assert "traces a +3.0 dB" in said
    assert "cut as approved" not in said
    for heading in ("Tightest margins", "Ladder"):
        assert heading in said
        assert heading not in text(write())
    assert "None: the programme is cut as approved." in text(write())


# the page ---------------------------------------------------------------------------------------------


def test_the_page_is_a4_and_the_bar_is_50_mm(write: Write) -> None:
    with pdfplumber.open(write()) as document:
        page = document.pages[0]
        # published: ISO 216, A4 = 210 × 297 mm; the last digit is the file's
        assert float(page.width) == pytest.approx(210 / 25.4 * 72, abs=1e-3)
        assert float(page.height) == pytest.approx(297 / 25.4 * 72, abs=1e-3)
        label = page.search("50 mm by a rule")[0]
        above = [one for one in page.lines if 0 < label["top"] - one["top"] < 20 and one["x1"] - one["x0"] > 20]
        assert [(one["x1"] - one["x0"]) * 25.4 / 72 for one in above] == [pytest.approx(50.0, abs=0.01)]


def test_the_code_reads_as_the_whole_fingerprint(write: Write, plan: Plan) -> None:
    assert codes(write()) == [FINGERPRINT]
    full, label = crowded(plan)
    assert codes(write(plan=full, label=label)) == [FINGERPRINT]


def test_one_page_where_it_fits_and_never_more_than_two(write: Write, plan: Plan) -> None:
    def pages(plan: Plan, label: SideLabel = LABEL) -> int:
        with pdfplumber.open(write(plan=plan, label=label)) as document:
            return len(document.pages)

    assert pages(replace(plan, findings=(), bands=((0.0, 24.0),))) == 1
    assert pages(*crowded(plan, 4, 4)) == 2
    assert pages(*crowded(plan)) == 2
    assert pages(*crowded(plan, 40, 40)) == 2


@pytest.mark.parametrize("ladder", [0, 5])
@pytest.mark.parametrize("treatments", [0, 3])
@pytest.mark.parametrize(
    ("bands", "findings", "least_mm"), [(1, 0, 44), (3, 4, 44), (10, 6, 46), (16, 2, 46), (20, 12, 46), (40, 40, 46)]
)
def test_the_disc_is_on_every_sheet(
    write: Write, plan: Plan, bands: int, findings: int, least_mm: float, treatments: int, ladder: int
) -> None:
    full, label = crowded(plan, bands, findings)
    path = write(plan=full, label=label, treatments=("Bass below 150 Hz is blended. " * 9,) * treatments,
                 ladder=(Rung("fit", 1.0, 3.0, 1.7, 0.1),) * ladder, margins=(margin("slope", 20.0),))  # fmt: skip
    discs = drawn_discs(path)
    assert len(discs) == 1
    left, top, right, foot = (edge * 25.4 / 72 for edge in discs[0])
    assert right - left == pytest.approx(foot - top)
    assert right - left >= least_mm - 1e-3
    assert right <= 196.001
    assert foot <= 281.001


def test_a_disc_apart_from_the_bands_says_where_they_begin(write: Write, plan: Plan) -> None:
    short = replace(SLOPE, remedy="Lower the side.")
    full, label = crowded(plan, 10, 0)
    said = flat(write(plan=replace(full, findings=(short,) * 3), label=label))
    assert "Bandsbeginatradius,mm" in said
    radius = np.interp(full.bands[9][0], plan.rows.time, plan.rows.radius) * 1e3
    # by another road: straight from the plan
    assert said.count(f"10{radius:.1f}") == 1
    # by hand: 3 bands have 10 cues, and those leave room beside them
    assert "Bands begin at radius" not in text(write(plan=crowded(plan, 3, 0)[0]))


def drawn_discs(path: Path) -> list[tuple[float, float, float, float]]:
    """Left, upper, right and lower edge of every picture, in pt."""
    with pdfplumber.open(path) as document:
        return [(i["x0"], i["top"], i["x1"], i["bottom"]) for page in document.pages for i in page.images]


@pytest.mark.parametrize("with_picture", [True, False])
@pytest.mark.parametrize(("bands", "findings"), [(1, 0), (1, 1), (6, 5), (10, 2), (12, 0), (20, 12), (40, 40)])
def test_nothing_overlaps_leaves_the_page_or_is_too_small(
    write: Write, plan: Plan, picture: Path, bands: int, findings: int, with_picture: bool
) -> None:
    full, label = crowded(plan, bands, findings)
    margins = tuple(margin("carriage_speed", 10.0 * k) for k in range(5))
    path = write(plan=full, label=label, picture=picture if with_picture else None, margins=margins,
                 treatments=(LONG * 4,) * 9, ladder=(Rung(LONG, 1.0, 3.0, 1.7, 0.1),) * 9)  # fmt: skip
    with pdfplumber.open(path) as document:
        assert len(document.pages) <= 2
        for page in document.pages:
            edge = 10.0 / 25.4 * 72
            for c in page.chars:
                assert edge <= c["x0"] <= c["x1"] <= float(page.width) - edge, c["text"]
                assert edge <= c["top"] <= c["bottom"] <= float(page.height) - 15, c["text"]
                assert c["size"] >= fonts.LEAST_PT - 1e-3, c["text"]
            assert collisions(page.chars) == []
            for disc in page.images:
                within = [c["text"] for c in page.chars if c["x1"] > disc["x0"] and c["x0"] < disc["x1"]
                          and c["bottom"] > disc["top"] and c["top"] < disc["bottom"]]  # fmt: skip
                assert within == []


def collisions(chars: list[dict[str, Any]]) -> list[str]:
    """Letters whose middles lie within one another, by brute force: half the type's height around the middle."""
    inked = [c for c in chars if c["text"].strip()]
    x0, x1 = (np.array([c[key] for c in inked]) for key in ("x0", "x1"))
    middle = np.array([(c["top"] + c["bottom"]) / 2 for c in inked])
    size = np.array([c["size"] for c in inked])
    found = []
    for k in range(len(inked)):
        close = (np.minimum(x1[k], x1) - np.maximum(x0[k], x0) > 0.5) & (
            np.abs(middle[k] - middle) < 0.3 * (size[k] + size)
        )
        close[k] = False
        found += [
            f"{inked[k]['text']}/{inked[int(j)]['text']} at {x0[k]:.0f}, {middle[k]:.0f}" for j in np.flatnonzero(close)
        ]
    return found


def test_a_collision_would_be_found() -> None:
    """Prove that the check above can fail."""
    one = {"text": "a", "x0": 10.0, "x1": 15.0, "top": 10.0, "bottom": 18.0, "size": 8.0}
    assert collisions([one, one | {"x0": 13.0, "x1": 18.0}]) != []
    assert collisions([one, one | {"x0": 15.0, "x1": 20.0}]) == []


def test_what_does_not_fit_is_told(write: Write, plan: Plan) -> None:
    full, label = crowded(plan, 40, 40)
    path = write(plan=full, label=label, treatments=(LONG * 4,) * 9)
    with pdfplumber.open(path) as document:
        told = [found["bottom"] * 25.4 / 72 for page in document.pages for found in page.search(r"more in plan\.json")]
    assert len(told) == 3
    # by hand: the foot line begins 281 mm from the upper edge
    assert max(told) <= 281.5
    said = text(path)
    # by hand: 24 of 40 bands are shown
    assert "and 16 more in plan.json" in said
    shown = said.count("Remedy ")
    assert f"and {40 - shown} more in plan.json" in said
    assert "more in the title file" in said


# the file ---------------------------------------------------------------------------------------------


def test_the_same_plan_gives_the_same_bytes(write: Write, plan: Plan) -> None:
    one, other = write("one.pdf"), write("other.pdf")
    assert one.read_bytes() == other.read_bytes()
    assert write("third.pdf", plan=replace(plan, level_db=1.0)).read_bytes() != one.read_bytes()
    assert sorted(p.suffix for p in one.parent.iterdir()) == [".pdf"] * 3
    # by hand: what was asked of a sheet
    assert one.stat().st_size < 400_000


def test_its_properties(write: Write) -> None:
    with pdfplumber.open(write()) as document:
        said = document.metadata
    assert said["Title"] == "Evening on the Quay side A"
    assert said["Author"] == "Jiří Dvořáček, piano, Анна Жукова, violin"
    assert FINGERPRINT in said["Subject"]
    with pdfplumber.open(write(label=replace(LABEL, people=()))) as document:
        assert document.metadata.get("Author", "") == ""


def test_an_empty_label_is_a_sheet_too(write: Write) -> None:
    said = text(write(label=SideLabel("", "", "", "", (), (), ()), picture=None))
    assert "Untitled" in said
    assert FINGERPRINT in said


def test_what_is_no_fingerprint_and_what_is_no_picture(write: Write, plan: Plan, tmp_path: Path) -> None:
    with pytest.raises(CallError, match=r"“abc” is no fingerprint: .*; take it from plan\.json\.$"):
        write_sheet(tmp_path / "a.pdf", plan, LABEL, (), "abc")
    broken = tmp_path / "broken.png"
    broken.write_bytes(b"no picture")
    with pytest.raises(CallError, match=r"broken\.png: cannot be read as a picture .*; draw the disc again\.$"):
        write(picture=broken)
    assert list(tmp_path.glob("*.pdf*")) == []


# letters ----------------------------------------------------------------------------------------------


def test_unknown_characters_are_seen(write: Write) -> None:
    said = text(write(label=replace(LABEL, title="Quay 🎵 and \ud800 Жук")))
    assert "Quay ▯ and ▯ Жук" in said


def test_runs_of_one_typeface() -> None:
    assert fonts.runs("ř 東京 Ж") == [
        (fonts.REGULAR, "ř "), (fonts.FALLBACK, "東京"), (fonts.REGULAR, " Ж"),
    ]  # fmt: skip
    assert fonts.runs("Quay", bold=True) == [(fonts.BOLD, "Quay")]
    assert fonts.runs("") == []
    # composed, a control character as a space, a mark without ink gone
    assert fonts.visible("e\u0301\tx\u200d\ufe0f") == "é x"


def test_text_is_shrunk_then_cut() -> None:
    wide = fonts.text_width("A quiet harbour", 10.0)
    assert fonts.fit("A quiet harbour", wide, 10.0) == ("A quiet harbour", 10.0)
    text, size = fonts.fit("A quiet harbour", 0.8 * wide, 10.0)
    assert text == "A quiet harbour"
    assert size == pytest.approx(8.0)  # by hand: width goes with size
    text, size = fonts.fit("A quiet harbour", 0.4 * wide, 10.0)
    assert size == fonts.LEAST_PT
    assert text.endswith("…")
    assert fonts.text_width(text, size) <= 0.4 * wide


def test_lines_are_broken_at_spaces_and_within_long_words() -> None:
    room = fonts.text_width("a quiet", 8.0) + 0.1
    assert fonts.wrap("a quiet harbour", room, 8.0)[0] == "a quiet"
    assert "".join(fonts.wrap("東京の夜の港で" * 5, 60.0, 8.0)) == "東京の夜の港で" * 5
    cut = fonts.wrap("a quiet harbour at night", room, 8.0, most=2)
    assert len(cut) == 2
    assert cut[1].endswith("…")
    assert fonts.wrap("", room, 8.0) == []


# the graph --------------------------------------------------------------------------------------------


def test_no_peak_is_lost_in_the_graph() -> None:
    # by hand: ten sectors of 1 s in five pieces of 2 s
    begin = np.arange(10.0)
    value = np.array([1, 2, 3, 9, 0, 0, 1, 1, 5, 4.0])
    least, greatest, middle = envelope(begin, begin + 1, value, (0.0, 10.0), 100)
    assert least.tolist() == [1, 3, 0, 1, 4]
    assert greatest.tolist() == [2, 9, 0, 1, 5]
    assert middle.tolist() == [1, 3, 5, 7, 9]


def test_where_nothing_is_cut_the_curve_is_broken() -> None:
    begin = np.array([0.0, 1, 2, 3, 8, 9])
    least, _, _ = envelope(begin, begin + 1, np.ones(6), (0.0, 10.0), 3)
    # by hand: three pieces of 3⅓ s; the sector from 3 to 4 s has its middle in the second
    assert np.isnan(least).tolist() == [False, False, False]
    least, _, _ = envelope(begin[[0, 1, 4, 5]], begin[[0, 1, 4, 5]] + 1, np.ones(4), (0.0, 10.0), 2)
    assert np.isnan(least).tolist() == [False, False]
    least, _, _ = envelope(np.repeat(begin[[0, 5]], 5), np.repeat(begin[[0, 5]], 5) + 1, np.ones(10), (0, 10.0), 5)
    assert np.isnan(least).tolist() == [False, True, True, True, False]


@pytest.mark.parametrize("name", ["sheets", "sheet_words", "sheet_drawn", "sheet_graph", "fonts"])
def test_its_modules_have_the_size_of_the_house(name: str) -> None:
    source = Path(fonts.__file__).with_name(f"{name}.py").read_text(encoding="utf-8")
    assert 100 <= len(source.splitlines()) <= 400


def test_the_file_is_a_pdf_that_opens(write: Write) -> None:
    packed = io.BytesIO(write().read_bytes())
    assert len(pypdfium2.PdfDocument(packed)) in (1, 2)
