"""A kept side planned once more: the very same where nothing is asked otherwise, and never in another's place."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from PIL import Image

from discwright.acts import keep as keep_module
from discwright.acts.changes import Changes
from discwright.acts.plan import plan_file
from discwright.acts.title import Choice, plan_title
from discwright.acts.what_if import make_file, missing_files, what_if
from discwright.errors import AudioError, CallError, DiscwrightError
from discwright.files.compare import read_plan
from discwright.files.plans import CONTROL, CONTROL_SCALE, GCODE, REMOVED, SHEET, SVG
from discwright.programme.title import Treatment

RATE = 44_100
#: A side with everything a title can say of it: two bands with trim and gap, two treatments, a reason, one in vain.
TITLE = """
[title]
name = "Fen"
catalogue = "HL 7"
people = ["The Reeds"]
[[band]]
id = "a"
name = "First"
file = "reel.wav"
start = 14.0
end = 20.01
gap_s = 1.5
isrc = "AA6Q72000047"
[[band]]
id = "b"
name = "Second"
file = "reel.wav"
start = 2.0
end = 8.0
trim_db = -2.0
[[edition]]
id = "ep"
format = "7in-45"
[[edition.side]]
letter = "A"
bands = ["a", "b"]
[[edition.side.treatment]]
kind = "bass_blend"
below_hz = 150.0
[[edition.side.treatment]]
kind = "treble_limit"
[[edition.side.accepted]]
code = "sibilance"
reason = "they hiss so"
[[edition.side.accepted]]
code = "mono"
reason = "it is not"
"""


def burst() -> np.ndarray:
    """A fifth of a second of noise from 5 to 12 kHz, swelling: sibilance, shape (n, 2)."""
    n = RATE // 5
    spectrum = np.fft.rfft(np.random.default_rng(7).standard_normal(4 * n))
    f = np.fft.rfftfreq(4 * n, 1 / RATE)
    x = np.fft.irfft(spectrum * ((f > 5000) & (f < 12_000)))[n : 2 * n] * np.hanning(n)
    result: np.ndarray = (0.9 * x / np.abs(x).max())[:, None] * np.ones(2)
    return result


@pytest.fixture(scope="module", autouse=True)
def quick_picture() -> Iterator[None]:
    """An empty picture in the place of the disc's, which takes longer than all the rest."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(keep_module, "draw_disc", lambda path, *_, **__: Image.new("RGB", (64, 64)).save(path))
        yield


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory, side: Path) -> Path:
    """The plan of a bare file: fitted, two bands, with a ladder."""
    place = tmp_path_factory.mktemp("bare")
    shutil.copy(side, place / "side.wav")
    plan_file(
        place / "side.wav", bands=((0.0, 11.0), (12.345, 25.0)), ladder=True, out=place / "plan", only=(),
    )  # fmt: skip
    return place / "plan"


@pytest.fixture(scope="module")
def titled(tmp_path_factory: pytest.TempPathFactory, side: Path) -> Path:
    """The plan of a title's side, as `TITLE` has it."""
    place = tmp_path_factory.mktemp("titled")
    music, _ = soundfile.read(side)
    music *= 0.3
    music[17 * RATE : 17 * RATE + RATE // 5] += burst()
    soundfile.write(place / "reel.wav", np.clip(music, -1, 1), RATE, subtype="PCM_24")
    (place / "title.toml").write_text(TITLE, encoding="utf-8")
    plan_title(place / "title.toml", Choice(), out=place / "out", only=())
    return place / "out" / "ep-A"


@pytest.mark.parametrize("which", ["bare", "titled"])
def test_nothing_asked_otherwise_is_the_same_plan(which: str, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    """To the last byte, findings of the fit, accepted and vain ones, ladder and title among them."""
    folder: Path = request.getfixturevalue(which)
    report = what_if(folder, out=tmp_path / "again", only=())
    old = read_plan(folder)
    assert report.document["spiral_sha256"] == old["spiral_sha256"]
    assert report.document["fingerprint"] == old["fingerprint"]
    assert report.document == old
    assert report.comparison.alike
    for name in ("plan.json", "spiral.csv"):
        assert (tmp_path / "again" / name).read_bytes() == (folder / name).read_bytes()
    codes = [finding["code"] for finding in old["findings"]]
    assert ("quiet" if which == "bare" else "fit") in codes  # only a level that is looked for has these
    assert which == "bare" or codes[-1] == "nothing_to_accept"
    # Asked for by name, it is the same: the level is the plan's own.
    again = what_if(folder, Changes(level_db=old["level_db"], tip="spherical-18"))
    assert again.document == old


def test_level_and_tip(bare: Path) -> None:
    report = what_if(bare, Changes(level_db=-3.0, tip="elliptical-8"))
    fresh = plan_file(
        bare.parent / "side.wav", level_db=-3.0, tip="elliptical-8", bands=((0.0, 11.0), (12.345, 25.0))
    )  # by another road
    assert report.document["spiral_sha256"] == fresh.document["spiral_sha256"]
    assert report.document["fingerprint"] == fresh.document["fingerprint"]
    assert {item.key for item in report.comparison.settings} == {"tip.name", "tip.shape", "tip.side_radius_um"}
    assert report.comparison.measures["level_db"].new == -3.0
    assert report.comparison.programme == ()
    assert "ladder" not in report.document
    assert (report.label.title, report.label.band_names) == ("side", ("Band 1", "Band 2"))


def test_a_level_is_looked_for(bare: Path) -> None:
    """The fit finds what it found before, and with it the note on its end; a ladder only where it is asked for."""
    old = read_plan(bare)
    report = what_if(bare, Changes(fit="cut", ladder=True))
    assert report.document == old
    cleaner = what_if(bare, Changes(fit="clean", format="7in-45"))
    assert cleaner.document["format"] == "7in-45"
    assert cleaner.plan.curvature_share <= cleaner.plan.setup.practice.curvature_share_max


def test_treatments_take_the_place_of_the_plans(titled: Path, bare: Path, tmp_path: Path) -> None:
    cut = Treatment("low_cut", below=40.0)
    report = what_if(titled, Changes(treatments=(cut,)))
    assert report.document["settings"]["treatments"] == [{"kind": "low_cut", "below_hz": 40.0}]
    assert [one.split(":")[0] for one in report.treatments] == ["trim", "low cut below 40 Hz"]
    none = what_if(titled, Changes(treatments=()), out=tmp_path / "plain", only=("removed",))
    assert "treatments" not in none.document["settings"]
    assert not (tmp_path / "plain" / REMOVED).exists()
    # A bare file can be treated too, and such a plan can be opened again.
    treated = what_if(bare, Changes(treatments=(cut,)), out=tmp_path / "treated", only=("removed",))
    assert (tmp_path / "treated" / REMOVED).is_file()
    assert what_if(tmp_path / "treated").document == treated.document
    assert (
        what_if(tmp_path / "treated", Changes(treatments=())).document["spiral_sha256"]
        != (treated.document["spiral_sha256"])
    )


def test_reasons_stand_beside_what_is_still_found(titled: Path) -> None:
    def told(document: dict[str, Any]) -> list[tuple[str, object]]:
        return [(one["code"], one.get("accepted")) for one in document["findings"] if "accepted" in one]

    old = read_plan(titled)
    reasons = told(old)
    assert reasons
    assert set(reasons) == {("sibilance", "they hiss so")}
    louder = what_if(titled, Changes(level_db=old["level_db"] + 0.1)).document
    assert ("sibilance", "they hiss so") in told(louder)
    # Where it is cured, the reason is gone and nothing is told of it.
    low = what_if(titled, Changes(level_db=-20.0)).document
    assert not {"sibilance", "nothing_to_accept", "fit"} & {one["code"] for one in low["findings"]}


def test_the_audio_is_found_from_anywhere(tmp_path: Path, side: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copy(side, tmp_path / "side.wav")
    monkeypatch.chdir(tmp_path)
    plan_file("side.wav", level_db=0.0, out="plan", only=())
    report = what_if("plan", Changes(level_db=1.0), out="far/away", only=())
    assert report.document["programme"]["path"] == str(tmp_path / "side.wav")
    assert report.comparison.programme == ()
    monkeypatch.chdir("/")
    assert what_if(tmp_path / "far" / "away").document == report.document


# Refused ------------------------------------------------------------------------------------------------


def refused(kind: type[DiscwrightError], folder: Path, *arguments: Any, **named: Any) -> str:
    with pytest.raises(kind) as trouble:
        what_if(folder, *arguments, **named)
    words = str(trouble.value)
    assert words.endswith(".")
    return words


def test_nothing_is_overwritten(bare: Path, tmp_path: Path) -> None:
    before = {path.name: path.read_bytes() for path in bare.iterdir()}
    words = refused(CallError, bare, Changes(level_db=0.0), out=bare)
    assert words == (f"{bare}: holds a plan, and a what-if takes no other's place; choose an empty or a new folder.")
    assert {path.name: path.read_bytes() for path in bare.iterdir()} == before
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "notes.txt").write_text("mine")
    assert "choose an empty or a new folder" in refused(CallError, bare, out=tmp_path / "full")
    (tmp_path / "empty").mkdir()
    what_if(bare, Changes(level_db=0.0), out=tmp_path / "empty", only=())
    assert (tmp_path / "empty" / "plan.json").is_file()


def test_unfit_changes(bare: Path, tmp_path: Path) -> None:
    assert "give level_db or fit" in refused(CallError, bare, Changes(level_db=0.0, fit="cut"))
    assert "there is no tip “thorn”" in refused(CallError, bare, Changes(tip="thorn"))
    assert "bass_blend needs below_hz" in refused(CallError, bare, Changes(treatments=(Treatment("bass_blend"),)))
    high = Changes(treatments=(Treatment("high_cut", above=21_000.0),))
    assert "cannot be made at 44100 Hz" in refused(DiscwrightError, bare, high, out=tmp_path / "none")
    assert "--only: there is no “pdf”" in refused(CallError, bare, only=("pdf",))
    assert list(tmp_path.iterdir()) == []


def test_a_plan_that_is_none_and_audio_that_is_gone(bare: Path, tmp_path: Path) -> None:
    assert "there is no plan" in refused(CallError, tmp_path)
    shutil.copytree(bare, tmp_path / "plan")
    document = read_plan(tmp_path / "plan")
    document["programme"]["path"] = "gone.wav"
    (tmp_path / "plan" / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    assert "gone.wav" in refused(AudioError, tmp_path / "plan")


# Files that a folder lacks ------------------------------------------------------------------------------


def test_files_made_later_are_those_of_the_plan(titled: Path, tmp_path: Path) -> None:
    """By another road: a folder kept with everything at once."""
    title = titled.parent.parent / "title.toml"
    plan_title(title, Choice(), out=tmp_path / "whole")
    whole, late = tmp_path / "whole" / "ep-A", tmp_path / "late"
    late.mkdir()
    for name in ("plan.json", "spiral.csv", "disc.png"):
        shutil.copy(whole / name, late / name)
    document = read_plan(late)
    assert missing_files(document, late) == (SHEET, GCODE, CONTROL, SVG, REMOVED)
    steps: set[str] = set()
    assert make_file(late, "control.toml", lambda step, _done: steps.add(step)) == (
        late / CONTROL, late / CONTROL_SCALE,
    )  # fmt: skip
    assert steps >= {"reading", "laying the spiral", "writing the control file"}
    for name in missing_files(document, late):
        make_file(late, name)
    assert missing_files(document, late) == ()
    assert sorted(path.name for path in late.iterdir()) == sorted(path.name for path in whole.iterdir())
    assert {path.name: path.read_bytes() for path in late.iterdir()} == {
        path.name: path.read_bytes() for path in whole.iterdir()
    }
    with pytest.raises(CallError, match="is there already and stays as it is"):
        make_file(late, SHEET)
    (late / CONTROL_SCALE).unlink()
    assert missing_files(document, late) == (CONTROL,)


@pytest.fixture
def stopped(side: Path, tmp_path: Path) -> Path:
    """Too loud for the cutting tip; nothing was taken out of it."""
    shutil.copy(side, tmp_path / "side.wav")
    head = tmp_path / "weak.toml"
    head.write_text(
        "velocity_max_cm_s = 1\nacceleration_max_m_s2 = 50000\nheat_acceleration_max_m_s2 = 5000\n"
        "heat_time_constant_s = 10\n",
        encoding="utf-8",
    )
    plan_file(tmp_path / "side.wav", level_db=3.0, head=str(head), out=tmp_path / "plan", only=())
    return tmp_path / "plan"


def test_a_cut_that_is_stopped_gets_no_lathe_files(stopped: Path) -> None:
    assert missing_files(read_plan(stopped), stopped) == (SHEET, SVG)
    for name, words in (
        ("lathe.ngc", "lathe.ngc: a cut that is stopped gets no lathe files; cure what stops it first."),
        ("control.wav", "control.wav: a cut that is stopped gets no lathe files; cure what stops it first."),
        ("removed.wav", "removed.wav: nothing was taken out of this programme; ask for a treatment first."),
        ("plan.json", "“plan.json” is no file that can be made of a plan; choose from sheet.pdf, lathe.ngc,"),
    ):
        with pytest.raises(CallError) as trouble:
            make_file(stopped, name)
        assert words in str(trouble.value)
    assert make_file(stopped / "plan.json", "spiral.svg") == (stopped / SVG,)


def test_another_spiral_makes_no_files(stopped: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As a version would that lays it otherwise; and nothing unfinished stays behind."""
    from discwright.acts import what_if as module

    before = sorted(path.name for path in stopped.iterdir())
    real = module.spiral_csv
    monkeypatch.setattr(module, "spiral_csv", lambda *given: real(*given).replace("music", "Music", 1))
    with pytest.raises(CallError, match="comes out otherwise than it was kept"):
        make_file(stopped, SVG)
    monkeypatch.setattr(module, "spiral_csv", real)
    monkeypatch.setattr(module, "write_extra", lambda *_, **__: (_ for _ in ()).throw(OSError(28, "No space left")))
    with pytest.raises(CallError, match="cannot be written"):
        make_file(stopped, SVG)
    assert sorted(path.name for path in stopped.iterdir()) == before
