"""The proof as an act: passages, tips, files, findings, and everything that is refused before it is played."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.acts.plan import plan_file
from discwright.acts.proof import proof
from discwright.acts.proof_report import ProofReport
from discwright.acts.title import Choice, plan_title
from discwright.errors import AudioError, CallError, DiscwrightError, SettingsError
from discwright.groove.distortion import OCTAVES_HZ

RATE = 44_100


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory, side: Path) -> Path:
    """Twenty-five seconds of invented music, planned and kept."""
    folder = tmp_path_factory.mktemp("proof")
    shutil.copy(side, folder / "side.wav")
    plan_file(folder / "side.wav", level_db=6.0, bands=((0.0, 11.0), (13.0, 25.0)), out=folder / "plan", only=())
    return folder / "plan"


@pytest.fixture(scope="module")
def whole(kept: Path, tmp_path_factory: pytest.TempPathFactory) -> ProofReport:
    out = tmp_path_factory.mktemp("heard") / "proof.flac"
    return proof(kept, tips=("spherical-18", "elliptical-5"), at_radius=0.062, out=out, difference=True)


def samples(path: Path | None) -> np.ndarray:
    assert path is not None
    got, rate = soundfile.read(path)
    assert rate == RATE
    result: np.ndarray = got
    return result


def test_a_file_for_each_tip_its_difference_and_a_picture(whole: ProofReport) -> None:
    assert whole.picture is not None
    assert sorted(path.name for path in whole.picture.parent.iterdir()) == [
        "proof-elliptical-5-difference.flac", "proof-elliptical-5.flac", "proof-spherical-18-difference.flac",
        "proof-spherical-18.flac", "proof.png",
    ]  # fmt: skip
    for one in whole.tips:
        assert len(samples(one.audio)) == len(samples(one.difference)) == 25 * RATE


def test_proof_and_difference_add_up_to_one_programme(whole: ProofReport) -> None:
    sums = [samples(one.audio) + samples(one.difference) for one in whole.tips]
    # By hand: each file is rounded to half a step of 24 bits.
    assert sums[0] == pytest.approx(sums[1], abs=4 * 2.0**-24)


def test_a_finer_tip_departs_less_everywhere(whole: ProofReport) -> None:
    blunt, fine = whole.tips
    assert blunt.worst_distortion > 2 * fine.worst_distortion
    assert blunt.median_distortion > 2 * fine.median_distortion


def test_the_worst_spot_is_where_the_difference_is(whole: ProofReport) -> None:
    # By another road: from the files, the share that the programme does not explain sample by sample, second by second.
    one = whole.tips[0]
    changed, heard = samples(one.difference), samples(one.audio)
    programme = heard + changed
    share = []
    for second in range(25):
        x, y = (signal[second * RATE : (second + 1) * RATE] for signal in (programme, heard))
        rest = y - x * (np.sum(x * y, axis=0) / np.sum(x * x, axis=0))
        share.append(float(np.sqrt(np.sum(rest**2) / np.sum(y**2))))
    # One gain for the whole spectrum leaves more unexplained than one for each third of an octave; the order stays.
    worst = int(one.spots[0].time)
    assert share[worst] >= sorted(share)[-3]
    assert np.corrcoef(share, one.departures.distortion)[0, 1] > 0.9


def test_what_is_kept_as_json(whole: ProofReport) -> None:
    plain = json.loads(json.dumps(whole.as_dict(), allow_nan=False))
    assert (plain["from_s"], plain["to_s"], plain["at_radius_mm"], plain["player"]) == (0.0, 25.0, 62.0, "standard")
    assert plain["effects"] == ["tracking", "vertical", "scanning"]
    blunt = plain["tips"][0]
    assert (blunt["tip"], blunt["side_radius_um"]) == ("spherical-18", 18.0)
    assert len(blunt["seconds"]) == 25
    assert all(len(one["octaves_percent"]) == len(OCTAVES_HZ) for one in blunt["seconds"])
    assert all(one["radius_mm"] == 62.0 for one in blunt["seconds"])
    # By hand: second 13 begins the second band at turn 13/1.8.
    assert blunt["seconds"][13]["turn"] == pytest.approx(13 / 1.8, abs=1e-4)
    spots = blunt["spots"]
    assert 1 <= len(spots) <= 10
    assert [one["distortion_percent"] for one in spots] == sorted(
        (one["distortion_percent"] for one in spots), reverse=True
    )
    assert {one["band"] for one in spots} <= {1, 2}


def test_a_passage_is_the_same_stretch_of_the_whole(kept: Path, tmp_path: Path) -> None:
    whole = samples(proof(kept, player="off", out=tmp_path / "whole.wav").tips[0].audio)
    part = proof(kept, player="off", start=10.0, end=12.5, out=tmp_path / "part.wav")
    got = samples(part.tips[0].audio)
    assert len(got) == round(2.5 * RATE)
    assert got == pytest.approx(whole[10 * RATE : 10 * RATE + len(got)], abs=2e-6)
    assert part.tips[0].departures.time.tolist() == [10.0, 11.0, 12.0]


def test_without_tip_and_player_nothing_departs(kept: Path, tmp_path: Path) -> None:
    report = proof(kept, tips=("none",), player="off", out=tmp_path / "p.wav", difference=True)
    (one,) = report.tips
    assert np.abs(samples(one.difference)).max() == 0.0
    assert one.worst_distortion < 1e-5
    assert one.findings == ()
    assert report.effects == ()
    assert one.treble_db == pytest.approx(0.0, abs=1e-3)


def test_the_plans_own_tip_without_a_choice_and_numbers_without_files(kept: Path) -> None:
    report = proof(kept, start=3.0, end=5.0)
    assert [one.name for one in report.tips] == ["spherical-18"]
    assert report.tips[0].audio is None
    assert report.picture is None


def test_nearer_the_centre_it_is_worse(kept: Path) -> None:
    # Published: distortion from tracing goes with 1/V² (Lewis and Hunt 1941); music keeps to that while q is small.
    outside, inside = (
        proof(kept, player="off", tips=("elliptical-5",), start=4.0, end=8.0, at_radius=radius)
        .tips[0]
        .median_distortion
        for radius in (0.120, 0.060)
    )
    assert inside / outside == pytest.approx(4.0, rel=0.1)


def test_following_the_remedy_cures_it(tmp_path: Path) -> None:
    loud, bright = tmp_path / "loud", tmp_path / "bright.wav"
    rng = np.random.default_rng(8)
    spectrum = np.fft.rfft(rng.standard_normal((6 * RATE, 2)), axis=0)
    f = np.fft.rfftfreq(6 * RATE, 1 / RATE)
    x = np.fft.irfft(spectrum * ((f > 200) * (f < 8000))[:, None], 6 * RATE, axis=0)
    soundfile.write(bright, x / np.abs(x).max() * 0.5, RATE, subtype="PCM_16")
    plan_file(bright, level_db=0.0, out=loud, only=())
    (one,) = proof(loud, player="off", at_radius=0.061).tips
    (finding,) = [f for f in one.findings if f.code == "heard_distortion"]
    less_db = float(finding.remedy.split("about ")[1].split(" dB")[0])
    plan_file(bright, level_db=-less_db, out=loud, only=())
    (cured,) = proof(loud, player="off", at_radius=0.061).tips
    # First order: a tenth more or less of what is left is promised.
    assert 100 * cured.worst_distortion < 1.1 * finding.limit


def test_a_treated_side_of_a_title_is_heard_as_it_is_cut(tmp_path: Path, side: Path) -> None:
    shutil.copy(side, tmp_path / "reel.wav")
    (tmp_path / "title.toml").write_text(
        '[title]\nname = "Fen"\n[[band]]\nid = "a"\nname = "A"\nfile = "reel.wav"\nstart = 14.0\nend = 20.0\n'
        '[[band]]\nid = "b"\nname = "B"\nfile = "reel.wav"\nstart = 2.0\nend = 8.0\ntrim_db = 4.0\n'
        '[[edition]]\nid = "ep"\nformat = "7in-45"\nlevel = 22.0\n[[edition.side]]\nletter = "A"\nbands = ["a", "b"]\n'
        '[[edition.side.treatment]]\nkind = "bass_blend"\nbelow_hz = 150.0\n'
        '[[edition.side.treatment]]\nkind = "treble_limit"\n',
        encoding="utf-8",
    )
    (planned,) = plan_title(tmp_path / "title.toml", Choice(), out=tmp_path / "out", only=())
    assert planned.document["treatments"][1]["acting_s"] > 0  # the limiter has something to do
    of_folder = proof(tmp_path / "out" / "ep-A", out=tmp_path / "a.wav")
    of_title = proof(tmp_path / "title.toml", out=tmp_path / "b.wav")
    # The kept spiral is rounded to a nanometre.
    assert samples(of_folder.tips[0].audio) == pytest.approx(samples(of_title.tips[0].audio), abs=1e-6)
    assert of_folder.as_dict()["fingerprint"] == of_title.as_dict()["fingerprint"]
    silent = proof(tmp_path / "out" / "ep-A", tips=("none",), player="off", out=tmp_path / "c.wav")
    cut = np.concatenate(list(planned.side.treated(planned.audio)))
    f = np.fft.rfftfreq(len(cut) + RATE, 1 / RATE)
    x = 1j * np.maximum(f, 1e-9) / 10.0
    room = np.concatenate([cut, np.zeros((RATE, 2))])
    # By another road: the analogue subsonic high-pass on what is cut.
    filtered = np.fft.irfft(np.fft.rfft(room, axis=0) * (x * x / (x * x + 2**0.5 * x + 1))[:, None], len(room), axis=0)
    error = (samples(silent.tips[0].audio) - filtered[: len(cut)]) * np.blackman(len(cut))[:, None]
    inside = np.fft.rfftfreq(len(cut), 1 / RATE) < 18_000
    # Bands begin and end in the middle of the music: what that throws above 20 kHz is not the programme's.
    assert np.sum(np.abs(np.fft.rfft(error, axis=0)[inside]) ** 2) / len(cut) < 1e-9 * np.sum(cut**2)


def test_a_title_of_several_sides_asks_which(tmp_path: Path, side: Path) -> None:
    shutil.copy(side, tmp_path / "reel.wav")
    (tmp_path / "title.toml").write_text(
        '[title]\nname = "Fen"\n[[band]]\nid = "a"\nname = "A"\nfile = "reel.wav"\nend = 5.0\n'
        '[[band]]\nid = "b"\nname = "B"\nfile = "reel.wav"\nstart = 6.0\nend = 11.0\n'
        '[[edition]]\nid = "ep"\nformat = "7in-45"\nlevel = 0.0\n[[edition.side]]\nletter = "A"\nbands = ["a"]\n'
        '[[edition.side]]\nletter = "B"\nbands = ["b"]\n[[edition]]\nid = "lp"\nformat = "12in-33"\nlevel = 0.0\n',
        encoding="utf-8",
    )
    with pytest.raises(CallError, match="this title has the editions ep, lp; choose one with --edition"):
        proof(tmp_path / "title.toml")
    with pytest.raises(CallError, match="this edition has the sides A, B; choose one with --side"):
        proof(tmp_path / "title.toml", edition="ep")
    assert proof(tmp_path / "title.toml", edition="ep", side="B").side.name == "Fen, ep side B"


@pytest.mark.parametrize(
    ("asked", "kind", "words"),
    [
        ({"start": 5.0, "end": 4.0}, CallError, "does not lie within the 0:25.0 of the side"),
        ({"start": 26.0}, CallError, "mend --from or --to"),
        ({"start": 3.0, "end": 3.000001}, CallError, "holds not one sample"),
        ({"end": 25.2}, CallError, "mend --from or --to"),
        ({"at_radius": 0.2}, CallError, "lies between 53.2 and 146.3 mm from the centre; 200 mm does not"),
        ({"at_radius": 0.04}, CallError, "choose another --at-radius-mm"),
        ({"tips": ("fish",)}, DiscwrightError, "fish"),
        ({"tips": ("none", "none")}, CallError, "is named twice"),
        ({"player": "fish"}, DiscwrightError, "fish"),
        ({"effects": ("treble",)}, CallError, "there is no “treble”; choose from high_pass, tracking"),
        ({"player": "off", "effects": ("tracking",)}, CallError, "give one of the two"),
        ({"difference": True}, CallError, "give --out FILE as well"),
        ({"out": "x.mp3"}, CallError, "a proof is written as .flac or .wav"),
        ({"edition": "lp"}, CallError, "name one that ends with .toml"),
    ],
)
def test_what_is_refused(kept: Path, asked: dict[str, object], kind: type[DiscwrightError], words: str) -> None:
    with pytest.raises(kind, match=words) as trouble:
        proof(kept, **asked)  # type: ignore[arg-type]
    assert str(trouble.value).endswith(".")


def test_a_tip_larger_than_the_groove(kept: Path, tmp_path: Path) -> None:
    (tmp_path / "coarse.toml").write_text(
        'shape = "spherical"\nradius_um = 75\nside_radius_um = 75\n', encoding="utf-8"
    )
    with pytest.raises(CallError, match="the tip is larger than the groove") as trouble:
        proof(kept, tips=(str(tmp_path / "coarse.toml"),))
    # By hand: sqrt(2)·75 = 106 µm.
    assert "106 µm apart" in str(trouble.value)


def test_an_arm_that_does_not_reach(kept: Path, tmp_path: Path) -> None:
    text = "\n".join(
        f"{key} = {value}" for key, value in {
            "arm_length_mm": 60, "overhang_mm": 0, "offset_deg": 0, "playing_angle_deg": 20, "cut_angle_deg": 20,
            "tracking_force_mn": 15, "off_centre_mm": 0, "warp_height_mm": 0, "warp_waves": 0, "pivot_height_mm": 0,
            "noise_level_db": -60, "rumble_level_db": -40,
        }.items()
    )  # fmt: skip
    (tmp_path / "short.toml").write_text(text, encoding="utf-8")
    with pytest.raises((CallError, SettingsError)) as trouble:
        proof(kept, player=str(tmp_path / "short.toml"))
    assert str(trouble.value).endswith(".")


def test_the_folder_of_a_title_names_its_sides(kept: Path) -> None:
    with pytest.raises(CallError, match=f"holds several sides, plan; name one of them, {kept}"):
        proof(kept.parent)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("../side.wav", "is the programme itself"),
        ("control.wav", "is a file of the plan there"),
        ("disc.flac", "disc.png: is a"),
    ],
)
def test_nothing_that_it_is_made_from_is_overwritten(kept: Path, name: str, words: str) -> None:
    before = (kept.parent / "side.wav").read_bytes()
    with pytest.raises(CallError, match=words):
        proof(kept, end=1.0, out=kept / name)
    assert (kept.parent / "side.wav").read_bytes() == before


def test_audio_that_changed(kept: Path, tmp_path: Path) -> None:
    shutil.copytree(kept, tmp_path / "plan")
    document = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    document["programme"]["sha256"] = "0" * 64
    (tmp_path / "plan" / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(AudioError, match="its fingerprint differs"):
        proof(tmp_path / "plan")


def test_progress_goes_from_nothing_to_all(kept: Path) -> None:
    told: list[tuple[str, float]] = []
    proof(kept, start=0.0, end=6.0, progress=lambda step, done: told.append((step, done)))
    playing = [done for step, done in told if step == "playing the groove"]
    assert playing == sorted(playing)
    assert playing[-1] == 1.0


def test_stopped_in_the_middle_nothing_is_left(kept: Path, tmp_path: Path) -> None:
    def stop(_step: str, done: float) -> None:
        if done > 0.2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        proof(kept, out=tmp_path / "p.flac", difference=True, progress=stop)
    assert list(tmp_path.iterdir()) == []
