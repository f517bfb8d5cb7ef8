"""`plan` of a title, and what else `plan` takes over, keeps and compares; through the real command line."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import pty
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
import pytest
import soundfile

from discwright.acts.title import plan_title

Run = Callable[..., Any]
RATE = 44_100
LSB = 2.0**-23
REASON = "The cymbals are meant to bite."
ALWAYS = ["disc.png", "plan.json", "spiral.csv"]
EVERYTHING = sorted([
    *ALWAYS, "sheet.pdf", "spiral.svg", "lathe.ngc", "air-run.ngc", "control.wav", "control.toml",
])  # fmt: skip

HEAD = """
[title]
name = "Low Tide Letters"
catalogue = "HL 20"
people = ["The Ferry Quartet"]
"""
BANDS = """
[[band]]
id = "one"
name = "Mudflats"
file = "reel.wav"
start = 0
end = 8
gap_s = 1.5

[[band]]
id = "two"
name = "Wading Birds"
file = "reel.wav"
start = 9
end = "0:15"

[[band]]
id = "three"
name = "Hush"
file = "reel.wav"
start = 16
end = 24

[[band]]
id = "whole"
name = "Whole"
file = "whole.wav"
"""
EDITIONS = f"""
[[edition]]
id = "lp"
format = "12in-33"

[[edition.side]]
letter = "A"
bands = ["one", "two"]

[[edition.side.treatment]]
kind = "bass_blend"
below_hz = 150.0

[[edition.side]]
letter = "B"
bands = ["three"]

[[edition.side.treatment]]
kind = "treble_limit"

[[edition.side]]
letter = "C"
bands = ["three"]

[[edition.side.accepted]]
code = "curvature"
reason = "{REASON}"

[[edition]]
id = "single"
format = "7in-45"
level = -2.0

[[edition.side]]
letter = "A"
bands = ["whole"]

[[edition]]
id = "reel"
format = "tape"
"""


def coloured(seconds: float, seed: int) -> np.ndarray:
    """Noise with a falling spectrum that begins and ends in silence, shape (n, 2)."""
    n = round(seconds * RATE)
    rng = np.random.default_rng(seed)
    f = np.fft.rfftfreq(n, 1 / RATE)
    shape = ((f > 30) * (f < 9000) / np.maximum(f, 80))[:, None]
    a, b, c = np.fft.irfft(np.fft.rfft(rng.standard_normal((n, 3)), axis=0) * shape, n, axis=0).T
    x = np.stack([a + 0.4 * b, a + 0.4 * c], axis=1)
    fade = np.minimum(1, np.minimum(np.arange(n), np.arange(n)[::-1]) / (0.3 * RATE))
    result: np.ndarray = x / np.abs(x).max() * 0.6 * (np.sin(fade * np.pi / 2) ** 2)[:, None]
    return result


def hiss(seconds: float) -> np.ndarray:
    """Bursts from 9 to 16 kHz: they bend the wall long before it is steep."""
    n = round(seconds * RATE)
    spectrum = np.fft.rfft(np.random.default_rng(1).standard_normal((n, 2)), axis=0)
    f = np.fft.rfftfreq(n, 1 / RATE)
    x = np.fft.irfft(spectrum * ((f > 9000) & (f < 16_000))[:, None], n, axis=0)
    x *= (np.arange(n) % (2 * RATE) < RATE // 25)[:, None]
    result: np.ndarray = 0.5 * x / np.abs(x).max()
    return result


@dataclass(frozen=True)
class Shelf:
    """The title's files, what `plan` said of the whole title, and what it kept."""

    folder: Path
    title: Path
    out: Path
    said: str

    def document(self, side: str) -> dict[str, Any]:
        return dict(json.loads((self.out / side / "plan.json").read_text(encoding="utf-8")))

    def rows(self, side: str) -> list[dict[str, str]]:
        return list(csv.DictReader((self.out / side / "spiral.csv").read_text(encoding="utf-8").splitlines()))

    def sheet(self, side: str) -> str:
        with pdfplumber.open(self.out / side / "sheet.pdf") as pdf:
            return " ".join(" ".join(page.extract_text() for page in pdf.pages).split())


def command(folder: Path, *arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "discwright", *map(str, arguments)],
        cwd=folder, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    folder = tmp_path_factory.mktemp("title")
    second = np.zeros((RATE, 2))
    reel = [coloured(8, 31), second, coloured(6, 32), second, 0.2 * coloured(8, 33) + hiss(8)]
    soundfile.write(folder / "reel.wav", np.concatenate(reel), RATE, subtype="PCM_16")
    soundfile.write(folder / "whole.wav", coloured(12, 5), RATE, subtype="PCM_16")
    title = folder / "title.toml"
    title.write_text(HEAD + BANDS + EDITIONS, encoding="utf-8")
    done = command(folder, "plan", title, "--out", "out")
    assert (done.returncode, done.stderr) == (0, "")
    return Shelf(folder, title, folder / "out", done.stdout)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def refused(result: Any, sentence: str) -> None:
    assert (result.returncode, result.stdout) == (2, ""), result.stderr
    assert result.stderr == f"discwright: {sentence}\n"


# What is kept ------------------------------------------------------------------------------------------


def test_a_folder_for_each_side(shelf: Shelf) -> None:
    """The tape has none."""
    assert names(shelf.out) == ["lp-A", "lp-B", "lp-C", "single-A"]
    for side in names(shelf.out):
        treated = ["removed.wav"] if side in ("lp-A", "lp-B") else []
        assert names(shelf.out / side) == sorted(EVERYTHING + treated), side


def test_every_side_is_told(shelf: Shelf) -> None:
    lines = shelf.said.splitlines()
    assert [line for line in lines if line.startswith("Low Tide")] == [
        "Low Tide Letters, lp side A", "Low Tide Letters, lp side B", "Low Tide Letters, lp side C",
        "Low Tide Letters, single side A",
    ]  # fmt: skip
    assert sum(line.endswith(": ready to cut.") for line in lines) == 4
    assert "kept      out/lp-A" in lines
    # by hand: 8 s of music and a gap of 1.5 s; 9.5 s are 5.28 turns of 1.8 s
    assert any(
        line.startswith("band       0:09.5  turn    5.3  r ") and line.endswith("Wading Birds") for line in lines
    )


def test_json_of_all_sides_and_of_one(shelf: Shelf) -> None:
    """The documents are those that are kept, to the byte."""
    both = json.loads(command(shelf.folder, "plan", shelf.title, "--json").stdout)
    kept = [shelf.document(side) for side in ("lp-A", "lp-B", "lp-C", "single-A")]
    assert both == {"sides": kept}
    one = command(shelf.folder, "plan", shelf.title, "--edition", "single", "--side", "A", "--json")
    assert (one.returncode, one.stderr) == (0, "")
    assert one.stdout == (shelf.out / "single-A" / "plan.json").read_text(encoding="utf-8")
    # Only the long-player has a side B.
    side = json.loads(command(shelf.folder, "plan", shelf.title, "--side", "B", "--json").stdout)
    assert side == {"sides": [kept[1]]}


def test_what_the_title_adds_to_a_plan(shelf: Shelf) -> None:
    title = shelf.document("lp-A")["title"]
    assert list(title) == ["name", "edition", "side", "matrix", "people", "bands"]
    assert {key: value for key, value in title.items() if key != "bands"} == {
        "name": "Low Tide Letters", "edition": "lp", "side": "A", "matrix": "HL 20 LP-A",
        "people": ["The Ferry Quartet"],
    }  # fmt: skip
    assert [list(band) for band in title["bands"]] == [
        ["id", "name", "isrc", "trim_db", "start_s", "end_s", "turn", "radius_mm"]
    ] * 2


def test_a_fixed_level_is_for_every_side(shelf: Shelf) -> None:
    """In place of the fit of one edition and of the -2 dB of the other."""
    told = command(shelf.folder, "plan", shelf.title, "--level-db", "-5,5").stdout.splitlines()
    assert [line.rsplit(", ")[-1] for line in told if line.startswith("Side ")] == ["-5.5 dB"] * 4
    assert [shelf.document(side)["level_db"] for side in ("lp-B", "single-A")] != [-5.5, -5.5]


def test_a_side_of_one_whole_file_is_the_side_of_the_bare_file(shelf: Shelf) -> None:
    bare = json.loads(
        command(shelf.folder, "plan", "whole.wav", "--format", "7in-45", "--level-db", -2, "--json").stdout
    )
    kept = shelf.document("single-A")
    assert kept["spiral_sha256"] == bare["spiral_sha256"]
    assert kept["fingerprint"] == bare["fingerprint"]
    # by another road: the hash of the file's bytes
    assert kept["programme"]["sha256"] == hashlib.sha256((shelf.folder / "whole.wav").read_bytes()).hexdigest()
    assert {key: value for key, value in kept.items() if key not in ("title", "programme")} == {
        key: value for key, value in bare.items() if key != "programme"
    }


def test_bands_lie_where_the_spiral_says(shelf: Shelf) -> None:
    document, rows = shelf.document("lp-A"), shelf.rows("lp-A")
    first, second = document["title"]["bands"]
    # by hand: the gap of 1.5 s stands between them
    assert (first["start_s"], first["end_s"], second["start_s"], second["end_s"]) == (0.0, 8.0, 9.5, 15.5)
    assert document["programme"]["duration_s"] == 15.5
    times, radii, turns = ([float(row[key]) for row in rows] for key in ("time_s", "radius_mm", "turn"))
    for band in (first, second):
        # by another road: between the rows of the kept spiral
        assert band["radius_mm"] == pytest.approx(np.interp(band["start_s"], times, radii), abs=1e-3)
        assert band["turn"] == pytest.approx(np.interp(band["start_s"], times, turns), abs=1e-3)
    joins = [float(row["time_s"]) for row in rows if row["zone"] == "join"]
    assert min(joins) >= 8.0
    assert max(joins) < 9.5
    text = shelf.sheet("lp-A")
    assert "Mudflats" in text
    assert "Wading Birds" in text


# Treatments --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", ["lp-A", "lp-B"])
def test_what_was_taken_out_gives_the_programme_back(shelf: Shelf, side: str) -> None:
    """`removed.wav` and the programme in `control.wav` add up to the original, sample by sample."""
    control, _ = soundfile.read(shelf.out / side / "control.wav", always_2d=True)
    facts = tomllib.loads((shelf.out / side / "control.toml").read_text(encoding="utf-8"))
    music = slice(facts["music_at_frame"], facts["music_at_frame"] + facts["music_frames"])
    removed, _ = soundfile.read(shelf.out / side / "removed.wav")
    reel, _ = soundfile.read(shelf.folder / "reel.wav")
    parts = [(16, 24)] if side == "lp-B" else [(0, 8), None, (9, 15)]
    original = np.concatenate([
        np.zeros((round(1.5 * RATE), 2)) if part is None else reel[part[0] * RATE : part[1] * RATE] for part in parts
    ])  # fmt: skip
    assert facts["programme_scale"] == 1.0
    assert removed.shape == original.shape
    assert np.abs(removed).max() > 0.01, "or there would be nothing to prove"
    # by hand: half a step of 24 bits lost in either file
    assert np.abs(control[music, :2] + removed - original).max() <= LSB


def test_a_blend_takes_the_side_signal_and_nothing_else(shelf: Shelf) -> None:
    removed, _ = soundfile.read(shelf.out / "lp-A" / "removed.wav")
    # by hand: what is taken from the left is given to the right
    assert np.abs(removed.sum(axis=1)).max() <= 2 * LSB


def test_treatments_stand_in_the_plan(shelf: Shelf) -> None:
    blended, limited, plain = (shelf.document(f"lp-{letter}") for letter in "ABC")
    assert blended["settings"]["treatments"] == [{"kind": "bass_blend", "below_hz": 150.0}]
    assert limited["settings"]["treatments"] == [{"kind": "treble_limit"}]
    assert "treatments" not in plain
    assert "treatments" not in plain["settings"]
    for document, kind, corner in ((blended, "bass_blend", 150.0), (limited, "treble_limit", None)):
        (report,) = document["treatments"]
        assert list(report) == ["kind", "corner_hz", "acting_s", "worst_s", "greatest_db", "spans"]
        assert (report["kind"], report["corner_hz"]) == (kind, corner)
        assert 0 < report["acting_s"] <= document["programme"]["duration_s"]
        assert any(span["start_s"] <= report["worst_s"] <= span["end_s"] for span in report["spans"])
        assert report["greatest_db"] < 0 if kind == "bass_blend" else report["greatest_db"] > 0
    # by hand: the bursts begin every two seconds and last a twenty-fifth
    assert all(span["start_s"] % 2 < 0.05 or span["start_s"] % 2 > 1.99 for span in limited["treatments"][0]["spans"])


def test_treatments_are_told_on_screen_and_sheet(shelf: Shelf) -> None:
    lines = [line for line in shelf.said.splitlines() if line.startswith("treated ")]
    assert lines[0].startswith("treated   bass blend below 150 Hz: side signal taken out, most at 0:")
    assert lines[1].startswith(
        "treated   treble limit: treble lowered where the playing tip could not follow, most at "
    )
    assert len(lines) == 2
    assert "bass blend below 150 Hz" in shelf.sheet("lp-A")
    assert "treble limit" in shelf.sheet("lp-B")
    assert "treble limit: " not in shelf.sheet("lp-C")


def test_a_treble_limit_keeps_the_level_and_clears_the_curvature(shelf: Shelf) -> None:
    limited, plain = shelf.document("lp-B"), shelf.document("lp-C")
    assert limited["level_db"] == plain["level_db"]  # by another road: the same band fitted without
    assert "curvature" in {finding["code"] for finding in plain["findings"]}
    assert "curvature" not in {finding["code"] for finding in limited["findings"]}
    shares = [float(line.split()[1]) for line in shelf.said.splitlines() if line.startswith("playing ")]
    assert shares[1] < 0.01 * shares[2]


def test_a_treatment_changes_the_fingerprint(shelf: Shelf) -> None:
    """The two sides hold the same samples, at the same level, with the same settings."""
    limited, plain = shelf.document("lp-B"), shelf.document("lp-C")
    assert limited["programme"] == plain["programme"]
    assert {k: v for k, v in limited["settings"].items() if k != "treatments"} == plain["settings"]
    assert limited["fingerprint"] != plain["fingerprint"]


def test_an_accepted_warning_keeps_its_reason(shelf: Shelf) -> None:
    found = {finding["code"]: finding for finding in shelf.document("lp-C")["findings"]}
    assert (found["curvature"]["severity"], found["curvature"]["accepted"]) == ("warn", REASON)
    assert [code for code, finding in found.items() if "accepted" in finding] == ["curvature"]
    lines = [line for line in shelf.said.splitlines() if "Accepted" in line]
    assert len(lines) == 1
    assert lines[0].startswith("warn      curvature ")
    assert lines[0].endswith(f" Accepted: {REASON}")
    assert REASON in shelf.sheet("lp-C")


# Gaps and trims ----------------------------------------------------------------------------------------


def small_title(folder: Path, gap_s: float, trim_db: float) -> Path:
    path = folder / f"gap{gap_s}trim{trim_db}.toml"
    path.write_text(
        HEAD
        + f"""
[[band]]
id = "two"
name = "Wading Birds"
file = "reel.wav"
start = 9
end = 12
gap_s = {gap_s}

[[band]]
id = "one"
name = "Mudflats"
file = "reel.wav"
start = 2
end = 5
trim_db = {trim_db}

[[edition]]
id = "single"
format = "7in-45"
level = 0

[[edition.side]]
letter = "A"
bands = ["two", "one"]
""",
        encoding="utf-8",
    )
    return path


def test_gap_and_trim_are_what_is_cut(shelf: Shelf) -> None:
    """Bands in another order than on the reel, too."""
    path = small_title(shelf.folder, 1.25, -6.0)
    done = command(shelf.folder, "plan", path, "--out", "trimmed", "--only", "control")
    assert (done.returncode, done.stderr) == (0, "")
    assert "trim: “Mudflats” as a whole -6.0 dB" in done.stdout
    place = shelf.folder / "trimmed" / "single-A"
    assert names(place) == sorted([*ALWAYS, "control.wav", "control.toml"])
    facts = tomllib.loads((place / "control.toml").read_text(encoding="utf-8"))
    control, _ = soundfile.read(place / "control.wav", always_2d=True)
    music = control[facts["music_at_frame"] : facts["music_at_frame"] + facts["music_frames"], :2]
    reel, _ = soundfile.read(shelf.folder / "reel.wav")
    gap = round(1.25 * RATE)
    # by hand: three seconds as they are, the gap of nothing, three seconds 6 dB lower
    assert len(music) == 6 * RATE + gap
    np.testing.assert_array_equal(music[: 3 * RATE], reel[9 * RATE : 12 * RATE])
    assert not music[3 * RATE : 3 * RATE + gap].any()
    lowered = reel[2 * RATE : 5 * RATE] * 10 ** (-6 / 20)
    assert np.abs(music[3 * RATE + gap :] - lowered).max() < LSB  # half a step, and two roundings of floats


def test_gap_and_trim_stand_in_the_fingerprint(shelf: Shelf) -> None:
    prints = set()
    for gap_s, trim_db in ((1.25, -6.0), (2.0, -6.0), (1.25, 0.0)):
        path = small_title(shelf.folder, gap_s, trim_db)
        (report,) = plan_title(path)
        side = report.document
        prints.add((side["fingerprint"], side["programme"]["sha256"]))
        assert side["programme"]["duration_s"] == 6.0 + gap_s
        assert [band["trim_db"] for band in side["title"]["bands"]] == [0.0, trim_db]
    assert len({one for one, _ in prints}) == len({other for _, other in prints}) == 3


# --only, and folders that held a plan ------------------------------------------------------------------


def test_only_what_is_asked_for_and_nothing_stale(shelf: Shelf) -> None:
    place = shelf.folder / "again" / "single-A"
    arguments = ("plan", shelf.title, "--edition", "single", "--out", "again")
    assert command(shelf.folder, *arguments, "--only", " gcode , svg ").returncode == 0
    assert names(place) == sorted([*ALWAYS, "lathe.ngc", "air-run.ngc", "spiral.svg"])
    (place / "notes.txt").write_text("bright at the end")
    # What is stopped has a sheet, and the lathe files of the plan before it are gone.
    stopped = command(shelf.folder, *arguments, "--level-db", 24, "--tip", "line-contact-5", "--head", "standard",
                      "--cutting-tip", blunt(shelf.folder))  # fmt: skip
    assert stopped.returncode == 1
    assert names(place) == sorted([*ALWAYS, "notes.txt", "sheet.pdf", "spiral.svg"])
    assert "kept      again/single-A; no lathe files for a cut that is stopped" in stopped.stdout.splitlines()
    assert not json.loads((place / "plan.json").read_text(encoding="utf-8"))["ready"]
    assert command(shelf.folder, *arguments, "--only", "sheet").returncode == 0
    assert names(place) == sorted([*ALWAYS, "notes.txt", "sheet.pdf"])


def blunt(folder: Path) -> Path:
    """A cutting tip that hardly any slope passes: the plan is stopped whatever its room."""
    from discwright.files.settings import load_setup, setup_as_plain

    table = dict(setup_as_plain(load_setup("7in-45", None, None, None, None, None))["cutting_tip"])
    path = folder / "blunt.toml"
    del table["name"]
    table["clearance_deg"] = 2.0
    path.write_text("".join(f"{key} = {value!r}\n" for key, value in table.items()))
    return path


# Ladder ------------------------------------------------------------------------------------------------


def test_ladder(shelf: Shelf) -> None:
    arguments = ("plan", shelf.title, "--edition", "lp", "--side", "C", "--json")
    document = json.loads(command(shelf.folder, *arguments, "--ladder").stdout)
    kept = shelf.document("lp-C")
    assert {key: value for key, value in document.items() if key not in ("ladder", "prices")} == kept
    rungs = {rung["limit"]: rung for rung in document["ladder"]}
    assert [list(rung) for rung in document["ladder"]] == [["limit", "level_db", "time_s", "turn", "radius_mm"]] * len(
        rungs
    )
    assert {"fit", "slope", "head", "depth", "traces spherical-18", "traces line-contact-5"} <= set(rungs)
    levels = [rung["level_db"] for rung in document["ladder"]]
    assert levels == sorted(levels)
    # by another road: the fit says what ends it, and at which level
    assert rungs["slope"]["level_db"] == document["level_db"]
    assert rungs["traces spherical-18"]["level_db"] < document["level_db"] < rungs["traces line-contact-5"]["level_db"]
    low = document["prices"][-1]
    assert list(low) == ["level_db", "spare_mm", "playing_time_min"]
    # by another road: the same side at that level
    fixed = json.loads(command(shelf.folder, *arguments, "--level-db", low["level_db"]).stdout)
    assert low["spare_mm"] == pytest.approx(fixed["spare_mm"], abs=1e-3)
    # by hand: as much again as fits into the spare room at this side's own mean pitch
    minutes = (low["spare_mm"] * 1e3 / fixed["mean_pitch_um"] + fixed["turns"]) * 1.8 / 60
    assert low["playing_time_min"] == pytest.approx(minutes, rel=0.01)


# What is taken over from an old plan or a house set ----------------------------------------------------


@pytest.fixture(scope="module")
def old(shelf: Shelf) -> dict[str, Any]:
    """A kept plan of a bare file with two bands and a tip that is not the default."""
    done = command(
        shelf.folder, "plan", "whole.wav", "--format", "7in-45", "--level-db", 1.5, "--tip", "elliptical-8",
        "--band", "0:00-0:06", "--band", "0:07-0:12", "--out", "old", "--only", "sheet",
        "--save-house", "house.toml", "--json",
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "house set house.toml\n")
    return dict(json.loads(done.stdout))


def test_like_an_old_plan(shelf: Shelf, old: dict[str, Any]) -> None:
    again = command(shelf.folder, "plan", "whole.wav", "--like", "old", "--json")
    assert (again.returncode, again.stderr) == (0, "")
    assert json.loads(again.stdout) == old


def test_like_an_old_plan_but_for_one_thing(shelf: Shelf, old: dict[str, Any]) -> None:
    lathe = old["settings"]["lathe"]
    own = {key: value for key, value in lathe.items() if key != "name"} | {"pitch_max_um": 250.0}
    (shelf.folder / "mine.toml").write_text("".join(f"{key} = {value!r}\n" for key, value in own.items()))
    done = command(shelf.folder, "plan", "whole.wav", "--like", "old", "--lathe", "mine.toml", "--json")
    assert done.returncode == 0
    changes = {line.split()[1]: line for line in done.stderr.splitlines()}
    pitch = lathe["pitch_max_um"]
    assert changes["lathe.pitch_max_um:"] == f"changes   lathe.pitch_max_um: {pitch} → 250.0"
    assert set(changes) <= {"lathe.pitch_max_um:", "lathe.name:"}
    document = json.loads(done.stdout)
    assert document["level_db"] == old["level_db"]
    assert document["settings"]["tip"] == old["settings"]["tip"]
    assert document["settings"]["lathe"]["pitch_max_um"] == 250.0
    assert document["fingerprint"] != old["fingerprint"]


def test_what_changes_is_said_before_the_programme_is_read(shelf: Shelf, old: dict[str, Any]) -> None:
    del old
    whole = (shelf.folder / "whole.wav").read_bytes()
    (shelf.folder / "half.wav").write_bytes(whole)
    soundfile.write(shelf.folder / "half.flac", coloured(12, 5), RATE)
    flac = (shelf.folder / "half.flac").read_bytes()
    (shelf.folder / "half.flac").write_bytes(flac[: len(flac) // 2])
    done = command(shelf.folder, "plan", "half.flac", "--like", "old", "--tip", "spherical-15")
    assert done.returncode == 2
    lines = done.stderr.splitlines()
    assert all(line.startswith("changes   tip.") for line in lines[:-1])
    assert lines[-1].startswith("discwright: half.flac cannot be decoded")
    assert len(lines) > 1


def test_a_title_says_what_an_option_changes(shelf: Shelf) -> None:
    done = command(shelf.folder, "plan", shelf.title, "--edition", "single", "--tip", "elliptical-8", "--json")
    assert done.returncode == 0
    assert "changes   tip.name: spherical-18 → elliptical-8" in done.stderr.splitlines()
    (side,) = json.loads(done.stdout)["sides"]  # of that edition only
    assert side["settings"]["tip"]["name"] == "elliptical-8"


def test_a_house_set_there_and_back(shelf: Shelf, old: dict[str, Any]) -> None:
    done = command(
        shelf.folder, "plan", "whole.wav", "--house", "house.toml", "--level-db", 1.5,
        "--band", "0:00-0:06", "--band", "0:07-0:12", "--save-house", "copy.toml", "--json",
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "house set copy.toml\n")
    assert json.loads(done.stdout)["fingerprint"] == old["fingerprint"]
    assert (shelf.folder / "copy.toml").read_bytes() == (shelf.folder / "house.toml").read_bytes()
    assert set(tomllib.loads((shelf.folder / "house.toml").read_text(encoding="utf-8"))) == {
        "format", "lathe", "head", "cutting_tip", "tip", "practice",
    }  # fmt: skip


def test_the_house_set_of_an_edition(shelf: Shelf) -> None:
    done = command(shelf.folder, "plan", shelf.title, "--edition", "single", "--save-house", "single.toml", "--json")
    assert (done.returncode, done.stderr) == (0, "house set single.toml\n")
    assert tomllib.loads((shelf.folder / "single.toml").read_text(encoding="utf-8"))["format"]["name"] == "7in-45"


# Two plans side by side --------------------------------------------------------------------------------


def test_compare(shelf: Shelf) -> None:
    told = command(shelf.folder, "plan", "--compare", "out/lp-C", "out/lp-B", "--json")
    assert (told.returncode, told.stderr) == (0, "")
    document = json.loads(told.stdout)
    old, new = shelf.document("lp-C"), shelf.document("lp-B")
    assert document["alike"] is False
    assert document["fingerprint"] == {"old": old["fingerprint"], "new": new["fingerprint"]}
    assert document["programme"] == {}
    assert document["level_db"] == {"old": old["level_db"], "new": new["level_db"], "change": 0.0}
    # by another road: from the two documents
    assert document["radius_used_mm"]["change"] == pytest.approx(
        new["radius_used_mm"] - old["radius_used_mm"], abs=1e-6
    )
    assert "curvature" in {finding["code"] for finding in document["findings"]["cured"]}
    assert [key for key in document["settings"] if "treatments" in key]
    text = command(shelf.folder, "plan", "--compare", "out/lp-C", "out/lp-B")
    lines = text.stdout.splitlines()
    assert (text.returncode, text.stderr) == (0, "")
    assert any(line.startswith("cured ") and " curvature " in line for line in lines)
    assert any(line.startswith("setting ") and "treatments" in line for line in lines)
    assert lines[-1].endswith(": ready to cut → ready to cut." if "→" in lines[-1] else "ready to cut.")


def test_compare_with_itself(shelf: Shelf) -> None:
    done = command(shelf.folder, "plan", "--compare", "out/lp-C", "out/lp-C")
    assert (done.returncode, done.stdout, done.stderr) == (0, "The two plans are alike.\n", "")


# Wrong calls -------------------------------------------------------------------------------------------

OUT = ["--out", "new"]
WRONG: list[tuple[list[str], str]] = [
    ([], "there is nothing to plan; name an audio file, a title file or a kept plan's folder."),
    (["whole.wav", "--only", "sheet"], "--only chooses what --out keeps; give --out DIR as well."),
    (["whole.wav", "--calibration"], "--calibration is for the control file that --out keeps; give --out DIR as well."),
    (["title.toml", "--only", "sheet"], "--only chooses what --out keeps; give --out DIR as well."),
    (
        ["whole.wav", "--only", "sheet,label", *OUT],
        "--only: there is no “label”; choose from sheet, gcode, control, svg, removed, with commas between.",
    ),
    (
        ["title.toml", "--only", "picture", *OUT],
        "--only: there is no “picture”; choose from sheet, gcode, control, svg, removed, with commas between.",
    ),
    (
        ["whole.wav", "--edition", "lp", *OUT],
        "--edition and --side choose from a title file; name one that ends with .toml.",
    ),
    (
        ["whole.wav", "--side", "A", *OUT],
        "--edition and --side choose from a title file; name one that ends with .toml.",
    ),
    (
        ["title.toml", "--band", "0:00-0:05", *OUT],
        "--band is for a single audio file; a title file says that itself.",
    ),
    (["title.toml", "--format", "7in-45", *OUT], "--format is for a single audio file; a title file says that itself."),
    (["title.toml", "--fit", "clean", *OUT], "--fit is for a single audio file; a title file says that itself."),
    (["title.toml", "--house", "h.toml", *OUT], "--house is for a single audio file; a title file says that itself."),
    (["title.toml", "--like", "out/lp-A", *OUT], "--like is for a single audio file; a title file says that itself."),
    (["title.toml", "--edition", "ep", *OUT], "there is no edition “ep”; the title has lp, single, reel."),
    (
        ["title.toml", "--edition", "reel", *OUT],
        "edition “reel” is a tape: there is no side to cut; choose a disc.",
    ),
    (["title.toml", "--side", "D", *OUT], "there is no side D to plan; leave --side out to plan them all."),
    (
        ["title.toml", "--edition", "single", "--side", "B", *OUT],
        "there is no side B to plan; leave --side out to plan them all.",
    ),
    (
        ["title.toml", "--level-db", "90", *OUT],
        "the level must lie between -40 and 24 dB; 90 dB does not: choose another.",
    ),
    (
        ["title.toml", "--save-house", "new.toml", *OUT],
        "--save-house keeps the settings of one edition; choose it with --edition.",
    ),
    (
        ["whole.wav", "--house", "h.toml", "--like", "out/lp-A", *OUT],
        "--house and --like both bring settings; give one of the two.",
    ),
    (["whole.wav", "--like", "nowhere", *OUT], "nowhere: there is no plan; name a folder made with --out."),
    (["whole.wav", "--house", "nowhere.toml", *OUT], "nowhere.toml: there is no such house set; check the path."),
    (["nowhere.toml", *OUT], "nowhere.toml: there is no such title file; `discwright layout --new FILE` writes one."),
    (["--compare", "nowhere", "out/lp-A"], "nowhere: there is no plan; name a folder made with --out."),
]  # fmt: skip


@pytest.mark.parametrize(
    ("options", "sentence"), WRONG, ids=lambda case: " ".join(case) if isinstance(case, list) else ""
)
def test_wrong_calls(options: list[str], sentence: str, shelf: Shelf) -> None:
    """Wording: regression only."""
    before = sorted(shelf.folder.rglob("*"))
    refused(command(shelf.folder, "plan", *options), sentence)
    assert sorted(shelf.folder.rglob("*")) == before


def test_a_title_on_tape_alone_has_nothing_to_plan(shelf: Shelf) -> None:
    path = shelf.folder / "tape.toml"
    path.write_text(HEAD + BANDS + '[[edition]]\nid = "reel"\nformat = "tape"\n', encoding="utf-8")
    refused(
        command(shelf.folder, "plan", path),
        "this title has no edition on disc, only on tape: there is no side to cut; add a disc.",
    )


def test_a_place_for_one_side_that_is_taken_keeps_every_side_from_being_planned(shelf: Shelf, tmp_path: Path) -> None:
    (tmp_path / "single-A").mkdir()
    (tmp_path / "single-A" / "letter.txt").write_text("mine")
    began = time.monotonic()
    refused(
        command(shelf.folder, "plan", shelf.title, "--out", tmp_path),
        f"{tmp_path / 'single-A'}: holds files but no plan; choose an empty or a new folder.",
    )
    assert time.monotonic() - began < 5.0, "it is looked at before anything is planned"
    assert names(tmp_path) == ["single-A"]


def test_every_fault_of_a_title_file_on_a_line_of_its_own(shelf: Shelf) -> None:
    path = shelf.folder / "faults.toml"
    path.write_text((HEAD + BANDS + EDITIONS).replace("bass_blend", "bass_bland").replace('"three"]', '"tree"]', 1))
    done = command(shelf.folder, "plan", path, *OUT)
    assert (done.returncode, done.stdout) == (2, "")
    lines = done.stderr.splitlines()
    assert len(lines) == 2
    assert all(line.startswith(f"discwright: {path}:") for line in lines)
    assert not (shelf.folder / "new").exists()


# Ctrl-C ------------------------------------------------------------------------------------------------

STOPPED = "discwright: stopped; nothing unfinished was kept."


def family(group: int) -> list[str]:
    """Command lines of every process that still runs in a process group."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(")")[2].split()
                if int(fields[2]) == group and fields[0] != "Z":
                    found.append((entry / "cmdline").read_text())
            except OSError:  # it ended while we looked
                continue
    return found


def all_gone(group: int, within_s: float = 3.0) -> bool:
    """Whether no process of a group runs any more, or ends within a moment."""
    until = time.monotonic() + within_s
    while family(group) and time.monotonic() < until:
        time.sleep(0.05)
    return not family(group)


def interrupted(folder: Path, word: bytes, *arguments: str) -> None:
    """Press Ctrl-C, as a terminal does to the whole group, once a step is named there."""
    master, slave = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "discwright", *arguments],
        cwd=folder, stdout=subprocess.PIPE, stderr=slave, start_new_session=True,
        env=os.environ | {"TERM": "xterm", "COLUMNS": "120"},
    )  # fmt: skip
    os.close(slave)
    said, pressed = b"", 0.0
    try:
        while True:
            try:
                said += os.read(master, 1 << 16)
            except OSError:  # how Linux tells that nobody is at the other end
                break
            if not pressed and word in said:
                pressed = time.monotonic()
                os.killpg(process.pid, signal.SIGINT)
        out, _ = process.communicate(timeout=20)
    finally:
        os.close(master)
    assert pressed, f"it ended before it was {word!r}"
    assert time.monotonic() - pressed < 3.0
    assert (process.returncode, out) == (130, b"")
    assert b"Traceback" not in said
    assert said.decode().splitlines()[-1].endswith(STOPPED)
    assert said.count(b"discwright:") == 1
    assert all_gone(process.pid)


def long_title(folder: Path, long_side: Path, short: Path) -> Path:
    """Two sides: one whose every step is long enough to be seen on a terminal, and one short enough to be kept."""
    path = folder / "long.toml"
    bands = "".join(
        f'[[band]]\nid = "{id_}"\nname = "{id_}"\nfile = "{file}"\n' for id_, file in (("x", long_side), ("y", short))
    )
    sides = "".join(
        f'[[edition.side]]\nletter = "{letter}"\nbands = ["{id_}"]\n' for letter, id_ in (("Y", "y"), ("X", "x"))
    )
    path.write_text(f'{HEAD}\n{bands}\n[[edition]]\nid = "lp"\nformat = "12in-33"\nlevel = 0\n{sides}')
    return path


@pytest.mark.parametrize(
    ("step", "options", "left"),
    [
        (b"lp side X: reading", ("--side", "X"), []),
        (b"lp side X: laying the spiral", ("--side", "X"), []),
        (b"lp side X: writing the control file", ("--side", "X", "--only", "control"), []),
        (b"lp side X: drawing the disc", ("--only", "svg"), ["lp-Y"]),
    ],
)
def test_interrupt_of_a_title_keeps_only_whole_sides(
    step: bytes, options: tuple[str, ...], left: list[str], shelf: Shelf, long_side: Path, tmp_path: Path
) -> None:
    title = long_title(tmp_path, long_side, shelf.folder / "whole.wav")
    out = tmp_path / "deep" / "out"
    interrupted(tmp_path, step, "plan", str(title), *options, "--out", str(out))
    assert names(tmp_path) == (["deep", "long.toml"] if left else ["long.toml"])
    assert (names(out) if left else []) == left
    if left:
        assert names(out / "lp-Y") == sorted([*ALWAYS, "spiral.svg"])


def test_a_house_set_that_cannot_be_written_is_refused_before_planning(
    discwright: Callable[..., subprocess.CompletedProcess[str]], side: Path, tmp_path: Path
) -> None:
    done = discwright("plan", side, "--save-house", tmp_path / "none" / "set.toml", "--out", tmp_path / "kept")
    assert done.returncode == 2
    assert "cannot be written as a house set; name a file in a folder that is there." in done.stderr
    assert not (tmp_path / "kept").exists()


def test_treatments_of_an_old_plan_are_not_taken_over_in_silence(
    discwright: Callable[..., subprocess.CompletedProcess[str]], side: Path, tmp_path: Path
) -> None:
    title = tmp_path / "title.toml"
    title.write_text(
        f'[title]\nname = "A"\n[[band]]\nid = "a"\nname = "A"\nfile = "{side}"\n[[edition]]\nid = "lp"\n'
        'format = "12in-33"\nlevel = 0.0\n[[edition.side]]\nletter = "A"\nbands = ["a"]\n'
        '[[edition.side.treatment]]\nkind = "low_cut"\nbelow_hz = 40.0\n',
        encoding="utf-8",
    )
    assert discwright("plan", title, "--out", tmp_path / "out", "--only", "").returncode == 0
    done = discwright("plan", side, "--like", tmp_path / "out" / "lp-A")
    assert done.returncode == 0
    assert "changes   treatments: low_cut → none" in done.stderr


# What if, of a title's side ----------------------------------------------------------------------------


def test_a_titles_side_planned_otherwise(shelf: Shelf) -> None:
    done = command(shelf.folder, "plan", "out/lp-C", "--treatment", "treble_limit", "--out", "limited", "--only", "")
    assert (done.returncode, done.stderr) == (0, "")
    plan, _, against = done.stdout.partition("\nAgainst out/lp-C:\n")
    assert "Low Tide Letters, lp side C" in plan
    assert "treated   treble limit: " in plan
    assert "cured     warn     curvature " in against
    # by another road: the side of the same band that the title file itself limits
    limited = json.loads((shelf.folder / "limited" / "plan.json").read_text(encoding="utf-8"))
    assert limited["spiral_sha256"] == shelf.document("lp-B")["spiral_sha256"]
    assert limited["fingerprint"] == shelf.document("lp-B")["fingerprint"]
    assert limited["title"] == shelf.document("lp-C")["title"]
    # Nothing changed: the reason stands where it stood.
    again = command(shelf.folder, "plan", "out/lp-C", "--json")
    assert json.loads(again.stdout) == shelf.document("lp-C")


# A new title, and sides that are fixed -------------------------------------------------------------------


def test_a_title_of_the_audio_in_a_folder_is_laid_out_and_fixed(tmp_path: Path) -> None:
    place = tmp_path / "Marsh Songs"
    place.mkdir()
    for name in ("2 - Reed.wav", "10 - Heron.wav", "1 - Mud.wav"):
        soundfile.write(place / name, 0.3 * coloured(3, 7), RATE, subtype="PCM_16")
    done = command(tmp_path, "layout", "--new", "marsh.toml", "--audio", place, "--format", "7in-45")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == "written   marsh.toml: look it over, then `discwright layout marsh.toml`\n"
    text = (tmp_path / "marsh.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["title"]["name"] == "Marsh Songs"
    assert [band["name"] for band in tomllib.loads(text)["band"]] == ["Mud", "Reed", "Heron"]
    done = command(tmp_path, "layout", "marsh.toml", "--fix", 2, "--json")
    assert (done.returncode, done.stderr) == (0, "fixed     marsh.toml: edition single, sides A, B\n")
    second = json.loads(done.stdout)["editions"][0]["candidates"][1]["sides"]
    fixed = (tmp_path / "marsh.toml").read_text(encoding="utf-8")
    assert fixed.startswith(text)
    assert tomllib.loads(fixed)["edition"][0]["side"] == [
        {"letter": one["letter"], "bands": one["bands"]} for one in second
    ]
    # Now the file has one split, its own.
    gone = command(tmp_path, "layout", "marsh.toml", "--fix", 2)
    assert gone.stderr == "discwright: --fix: edition “single” has no split 2; choose one that is shown.\n"
    assert (tmp_path / "marsh.toml").read_text(encoding="utf-8") == fixed


def test_what_makes_no_new_title_and_fixes_no_sides(shelf: Shelf, tmp_path: Path) -> None:
    new = ["--new", "x.toml"]
    for_audio = "is for a title of the audio in a folder; give --audio DIR as well."
    several = "--fix writes the sides of one edition on disc; choose it with --edition."
    for options, sentence in (
        (["--audio", "x"], "--audio is for a new title file; give --new FILE as well."),
        ([*new, "--name", "X"], f"--name {for_audio}"),
        ([*new, "--format", "X"], f"--format {for_audio}"),
        ([*new, "--audio", "gone"], "gone: cannot be read as a folder (No such file or directory); name another."),
        ([shelf.title, "--fix", "1"], several),
        ([shelf.title, "--fix", "1", "--edition", "reel"], several),
    ):
        refused(command(tmp_path, "layout", *options), sentence)
    assert list(tmp_path.iterdir()) == []
