"""The control file decoded again: programme bit by bit, pitch and depth to 0.1 µm, pulses and calibration in place.

Unless a test says otherwise its expected numbers come *by another road*: from the plan's own rows, or from the music.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from support import RATE, music

from discwright.errors import CallError
from discwright.files import lathe_control
from discwright.files.lathe_control import CHANNELS, pulse_level, write_control
from discwright.files.settings import load_setup
from discwright.groove.cues import CUE_KINDS, Cue, cue_list
from discwright.groove.table import SpiralRows
from discwright.plan import Order, Plan, Programme, plan_side

FACTS: dict[str, str | float] = {"level_db": 0.0, "title": 'The "Long" \\ Side\n\x7f\udcff é', "seen at": 3}
PULSE = 441  # by hand: 10 ms at 44.1 kHz
FULL = 8_388_608  # by hand: 2^23


@pytest.fixture(scope="module")
def programme() -> np.ndarray:
    """Invented music with samples that no 24 bits hold, so that rounding is seen."""
    return music(24.0).astype(np.float32)


@pytest.fixture(scope="module")
def plan(programme: np.ndarray) -> Plan:
    """Two bands with a join between them, 12-inch at 33⅓."""
    order = Order(load_setup(), level_db=12.0, band_starts=(0.0, 13.1), band_ends=(10.0, 24.0))
    return plan_side([programme], Programme(RATE, len(programme), 2), order)


@pytest.fixture(scope="module")
def cues(plan: Plan) -> tuple[Cue, ...]:
    return cue_list(plan.rows, plan.bands, plan.setup.disc)


def in_blocks(x: np.ndarray, size: int = 70_001) -> Iterator[np.ndarray]:
    for first in range(0, len(x), size):
        yield x[first : first + size]


@dataclass
class Written:
    """A control file read back: 24-bit codes, shape (n, 5), and its text."""

    codes: np.ndarray
    toml: dict[str, Any]
    container: str
    metadata: dict[str, str]
    bytes: bytes

    @property
    def origin(self) -> int:
        return round(self.toml["origin_s"] * RATE)


Write = Callable[..., Written]


@pytest.fixture(scope="module")
def write(plan: Plan, cues: tuple[Cue, ...], programme: np.ndarray, tmp_path_factory: pytest.TempPathFactory) -> Write:
    def run(
        blocks: Iterator[np.ndarray] | None = None, peak: float = 1.0, plan: Plan = plan, **options: Any
    ) -> Written:
        folder = tmp_path_factory.mktemp("control")
        wav, toml = folder / "control.wav", folder / "control.toml"
        given: dict[str, Any] = {"facts": FACTS, "cues": cues, "rows": plan.rows} | options
        write_control(
            wav, toml, blocks=blocks or in_blocks(programme), sample_rate_hz=RATE, setup=plan.setup, peak=peak, **given
        )
        assert sorted(p.name for p in folder.iterdir()) == ["control.toml", "control.wav"]
        with soundfile.SoundFile(wav) as file:
            assert (file.samplerate, file.channels, file.subtype) == (RATE, 5, "PCM_24")
            codes = file.read(dtype="int32", always_2d=True) >> 8
            return Written(
                codes, tomllib.loads(toml.read_text("utf-8")), file.format, file.copy_metadata(),
                wav.read_bytes() + toml.read_bytes(),
            )  # fmt: skip

    return run


@pytest.fixture(scope="module")
def plain(write: Write) -> Written:
    return write()


@pytest.fixture(scope="module")
def calibrated(write: Write) -> Written:
    return write(calibration=True)


@pytest.fixture(params=["plain", "calibrated"])
def written(request: pytest.FixtureRequest) -> Written:
    found: Written = request.getfixturevalue(request.param)
    return found


# what is heard ----------------------------------------------------------------------------------------


def test_the_programme_is_there_bit_by_bit(written: Written, plan: Plan, programme: np.ndarray) -> None:
    """By hand: a sample x is the code nearest to x·2²³; the music begins at the frame nearest to its time."""
    begin = written.origin + round(-plan.rows.time[0] * RATE)
    codes = np.rint(programme.astype(np.float64) * FULL).astype(int)
    assert written.toml["music_at_frame"] == begin
    assert (written.codes[begin : begin + len(codes), :2] == codes).all()
    assert not written.codes[begin + len(codes) :, :2].any()
    assert not written.codes[written.origin : begin, :2].any()


def test_the_residue_of_the_music_is_told(written: Written, plan: Plan) -> None:
    toml = written.toml
    assert abs(toml["music_residue_s"]) <= 0.5 / RATE
    exact = toml["origin_s"] - plan.rows.time[0]
    assert toml["music_at_s"] - toml["music_residue_s"] == pytest.approx(exact, abs=1e-9)


@pytest.mark.parametrize(
    ("peak", "scale"), [(0.2, 1.0), (1.0, 1.0), (1.001, 0.5), (2.0, 0.5), (2.1, 0.25), (9.0, 1 / 16)]
)
def test_a_programme_over_full_scale_is_halved_as_often_as_needed(
    write: Write, programme: np.ndarray, peak: float, scale: float
) -> None:
    """By hand: the largest half of a half that brings the peak to full scale or below."""
    loud = programme / np.abs(programme).max() * np.float32(peak)
    found = write(in_blocks(loud), peak=float(np.abs(loud).max()))
    assert found.toml["programme_scale"] == scale
    begin = found.toml["music_at_frame"]
    codes = np.rint(loud.astype(np.float64) * scale * FULL)
    # Full scale itself has no positive code: it gets the highest there is.
    assert (found.codes[begin : begin + len(loud), :2] == np.minimum(codes, FULL - 1)).all()
    assert f"programme x {scale:g};" in found.metadata["comment"]


def test_louder_than_said_is_refused_and_never_clipped(write: Write, programme: np.ndarray) -> None:
    for bad in (1.5, float("nan")):
        spoilt = programme.copy()
        spoilt[400_000, 1] = bad
        with pytest.raises(CallError, match=r"louder than its peak was said to be: survey the programme again\.$"):
            write(in_blocks(spoilt))
    for peak in (float("nan"), float("inf"), -1.0):
        with pytest.raises(CallError, match=r"peak cannot be .*: survey the programme again\.$"):
            write(peak=peak)


@pytest.mark.parametrize(("change", "word"), [(-1, "shorter"), (1, "longer")])
def test_a_programme_of_another_length_is_refused(write: Write, programme: np.ndarray, change: int, word: str) -> None:
    other = programme[:change] if change < 0 else np.concatenate([programme, programme[:change]])
    with pytest.raises(CallError) as refusal:
        write(in_blocks(other))
    assert str(refusal.value) == (
        f"the programme is {word} than the {len(programme)} frames that were planned: plan the side again from "
        "this programme."
    )


# what the lathe follows -------------------------------------------------------------------------------


def test_pitch_and_depth_at_every_frame(written: Written, plan: Plan) -> None:
    """Within 0.1 µm; frames within a rounding of a row may take either sector's pitch."""
    rows = plan.rows
    codes = written.codes[written.origin :]
    time = rows.time[0] + np.arange(len(codes)) / RATE
    pitch = codes[:, 2] / FULL * written.toml["pitch_full_scale_um"]
    depth = codes[:, 3] / FULL * written.toml["depth_full_scale_um"]
    assert np.abs(depth - np.interp(time, rows.time, rows.depth) * 1e6).max() < 0.1
    early, late = (np.searchsorted(rows.time, time + nudge, side="right") - 1 for nudge in (-1e-8, 1e-8))
    off = np.stack([np.abs(pitch - rows.pitch[np.maximum(at, 0)] * 1e6) for at in (early, late)])
    assert off.min(axis=0).max() < 0.1
    assert pitch[0] == pytest.approx(rows.pitch[0] * 1e6, abs=0.1), "frame 0 is the first row"


def test_the_pitch_brings_the_carriage_to_the_locked_groove(plain: Written, plan: Plan) -> None:
    """By another road: the pitch summed up over the turns is the whole way, to a few frames of the fastest move."""
    way = plain.codes[:, 2].sum() / FULL * plain.toml["pitch_full_scale_um"] / RATE / plan.setup.disc.turn_time
    assert way == pytest.approx((plan.rows.radius[0] - plan.rows.radius[-1]) * 1e6, abs=1.0)


def test_the_file_ends_one_pulse_after_the_last_row(plain: Written, plan: Plan) -> None:
    rows, n = plan.rows, len(plain.codes)
    span = (rows.time[-1] - rows.time[0]) * RATE
    assert n - PULSE - 1 <= span + 1e-6 < n - PULSE
    assert plain.toml["frames"] == n
    assert plain.toml["last_row_s"] == pytest.approx(span / RATE, abs=1e-9)


def test_a_side_that_never_reaches_the_locked_groove_is_written_to_the_end_of_its_music(
    write: Write, plan: Plan, programme: np.ndarray
) -> None:
    """What has run past the locked groove has no lead-out: the last row is the end of music."""
    end = plan.rows.music.stop
    columns = {name: values[:end] for name, values in vars(plan.rows).items()}
    rows = SpiralRows(**columns)
    cues = cue_list(rows, plan.bands, plan.setup.disc)
    assert cues[-1].kind == "lead_out"
    found = write(rows=rows, cues=cues)
    begin = found.toml["music_at_frame"]
    codes = np.rint(programme.astype(np.float64) * FULL).astype(int)
    assert (found.codes[begin : begin + len(codes), :2] == codes).all()
    assert len(found.codes) - begin - len(codes) == pytest.approx(PULSE, abs=1)


def test_more_than_full_scale_names_the_key_to_raise(write: Write, plan: Plan) -> None:
    def with_lathe(**changed: float) -> Plan:
        return replace(plan, setup=replace(plan.setup, lathe=replace(plan.setup.lathe, **changed)))

    highest, deepest = plan.rows.pitch.max(), plan.rows.depth.max()
    for key, what, greatest, small in (
        ("control_pitch_full_scale_um", "pitch", highest, with_lathe(control_pitch=float(highest) * 0.999)),
        ("control_depth_full_scale_um", "depth", deepest, with_lathe(control_depth=float(deepest) * 0.999)),
        # By hand: the last step of the calibration is 100 µm deep.
        ("control_depth_full_scale_um", "depth", 100e-6, with_lathe(control_depth=90e-6)),
    ):
        with pytest.raises(CallError) as refusal:
            write(plan=small, calibration=greatest == 100e-6)
        assert str(refusal.value).startswith(f"the {what} reaches {greatest * 1e6:.2f} µm, more than the ")
        assert str(refusal.value).endswith(f": raise {key}.")
    exact = write(plan=with_lathe(control_pitch=float(highest), control_depth=float(deepest)))
    assert exact.codes[:, 2].max() == FULL - 1


# cues -------------------------------------------------------------------------------------------------


def test_each_cue_has_its_pulse(written: Written, plan: Plan, cues: tuple[Cue, ...]) -> None:
    """By hand: 10 ms from the cue's frame on, at (place in the list + 1)/8 of full scale."""
    expected = np.zeros(len(written.codes))
    for cue in cues:
        at = written.origin + round((cue.time - plan.rows.time[0]) * RATE)
        expected[at : at + PULSE] = (CUE_KINDS.index(cue.kind) + 1) / len(CUE_KINDS)
    if written.origin:
        expected[:PULSE] = -0.5
    assert (written.codes[:, 4] == np.minimum(np.rint(expected * FULL), FULL - 1)).all()
    assert np.count_nonzero(written.codes[-PULSE - 1 :, 4] == FULL - 1) == PULSE, "the last cue is whole"


def test_the_text_tells_of_every_cue(written: Written, plan: Plan, cues: tuple[Cue, ...]) -> None:
    listed = written.toml["cues"]
    assert [entry["kind"] for entry in listed] == [cue.kind for cue in cues]
    assert [entry.get("band") for entry in listed] == [cue.band for cue in cues]
    for entry, cue in zip(listed, cues, strict=True):
        exact = written.toml["origin_s"] + cue.time - plan.rows.time[0]
        assert entry["at_s"] == pytest.approx(exact, abs=0.51 / RATE)
        assert entry["at_frame"] == round(entry["at_s"] * RATE)
        assert written.codes[entry["at_frame"], 4] / FULL == pytest.approx(
            written.toml["cue_pulse"][cue.kind], abs=1e-6
        )
    # By hand: eighths in the order of the list.
    assert written.toml["cue_pulse"] == {
        "lead_in": 0.125, "fine": 0.25, "music": 0.375, "join": 0.5, "band": 0.625, "lead_out": 0.75, "stop": 0.875,
        "lift": 1.0,
    }  # fmt: skip


def test_there_is_no_pulse_for_an_unknown_cue() -> None:
    with pytest.raises(ValueError, match="tuple"):
        pulse_level("coffee")


# calibration ------------------------------------------------------------------------------------------


def test_the_calibration_before_the_lead_in(calibrated: Written, plain: Written) -> None:
    """By hand: 1 kHz at a tenth of full scale, steps of a second of 0, 100, 200, 400 and 0, 25, 50, 100 µm."""
    assert calibrated.toml["origin_s"] == 5.0
    pitch = calibrated.codes[:, 2] / FULL * 10_000
    depth = calibrated.codes[:, 3] / FULL * 200
    for second, (p, d) in enumerate([(0, 0), (100, 25), (200, 50), (400, 100), (0, 0)]):
        here = slice(second * RATE, (second + 1) * RATE)
        assert np.abs(pitch[here] - p).max() < 0.1
        assert np.abs(depth[here] - d).max() < 0.1
    tone = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(4 * RATE) / RATE)
    assert np.abs(calibrated.codes[: 4 * RATE, :2] / FULL - tone[:, None]).max() < 1e-7
    assert not calibrated.codes[4 * RATE : 5 * RATE, :2].any()
    assert (calibrated.codes[5 * RATE :] == plain.codes).all()


def test_the_text_tells_of_the_calibration(calibrated: Written, plain: Written) -> None:
    steps = calibrated.toml["calibration"]
    assert [(s["at_s"], s["length_s"], s["pitch_um"], s["depth_um"]) for s in steps] == [
        (0.0, 1.0, 0.0, 0.0), (1.0, 1.0, 100.0, 25.0), (2.0, 1.0, 200.0, 50.0), (3.0, 1.0, 400.0, 100.0),
    ]  # fmt: skip
    assert {(s["tone_hz"], s["tone_peak_dbfs"]) for s in steps} == {(1000.0, -20.0)}
    assert "calibration" not in plain.toml
    assert plain.toml["origin_s"] == 0.0


# the text and the container ---------------------------------------------------------------------------


def test_scales_stand_in_the_text_and_in_the_file_itself(plain: Written) -> None:
    """By hand, from the shipped lathe: 10 mm, 200 µm and 10 V at full scale."""
    toml = plain.toml
    assert toml["channels"] == list(CHANNELS)
    assert (toml["pitch_full_scale_um"], toml["depth_full_scale_um"], toml["control_full_scale_v"]) == (
        1e4,
        200.0,
        10.0,
    )
    assert (toml["sample_rate_hz"], toml["bits"], toml["container"], toml["pulse_s"]) == (RATE, 24, "WAV", 0.01)
    comment = plain.metadata["comment"]
    assert "full scale is pitch 10000 um, depth 200 um, 10 V" in comment
    assert f"music at {toml['music_at_s']:.9f} s" in comment
    assert comment.isascii()
    assert plain.metadata["title"] == "discwright control"


def test_facts_come_through(plain: Written) -> None:
    assert plain.toml["level_db"] == 0.0
    assert plain.toml["title"] == 'The "Long" \\ Side\n\x7f? é'
    assert plain.toml["seen at"] == 3


@pytest.mark.parametrize("name", ["frames", "cues", "calibration"])
def test_a_fact_must_not_hide_what_the_file_says_itself(write: Write, name: str) -> None:
    with pytest.raises(CallError) as refusal:
        write(facts={name: 1.0})
    assert str(refusal.value) == f"the control file has {name} of its own: give that fact another name."


def test_what_is_too_large_for_wav_goes_into_rf64(
    write: Write, plain: Written, monkeypatch: pytest.MonkeyPatch
) -> None:
    size = len(plain.codes) * 15  # by hand: five channels of three bytes
    monkeypatch.setattr(lathe_control, "WAV_MOST_BYTES", size)
    assert write().container == "WAV"
    monkeypatch.setattr(lathe_control, "WAV_MOST_BYTES", size - 1)
    large = write()
    assert (large.container, large.toml["container"]) == ("RF64", "RF64")
    assert large.metadata == plain.metadata
    assert (large.codes == plain.codes).all()


def test_the_limit_leaves_room_for_the_head() -> None:
    """By hand: sizes in a WAV are 32-bit and count everything after the first eight bytes."""
    assert lathe_control.WAV_MOST_BYTES + 65_536 < 2**32


def test_the_same_bytes_whatever_the_blocks(
    write: Write, plain: Written, programme: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert write(iter([programme])).bytes == plain.bytes
    odd = iter([programme[:1], programme[1:1], programme[1:300_000], programme[300_000:]])
    monkeypatch.setattr(lathe_control, "BLOCK_FRAMES", 9_973)
    told: list[float] = []
    assert write(odd, progress=told.append).bytes == plain.bytes
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_calibration_is_the_same_whatever_the_blocks(
    write: Write, calibrated: Written, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lathe_control, "BLOCK_FRAMES", 9_973)
    assert write(calibration=True).bytes == calibrated.bytes


def test_blocks_stay_small(plan: Plan, cues: tuple[Cue, ...], programme: np.ndarray) -> None:
    """Memory does not grow with length: no more than a block is held of what is written."""
    assert lathe_control.BLOCK_FRAMES <= 1 << 18
    layout = lathe_control._lay_out(plan.rows, RATE, 1.0, True)
    source = lathe_control._Programme([programme])
    lengths = [len(b) for b in lathe_control._frames(layout, source, plan.rows, cues, plan.setup.lathe)]
    assert max(lengths) == lathe_control.BLOCK_FRAMES
    assert sum(lengths) == layout.frames


def test_a_place_that_cannot_be_written(plan: Plan, cues: tuple[Cue, ...], tmp_path: Path) -> None:
    nowhere = tmp_path / "nowhere"
    for wav, toml, which in (
        (tmp_path / "c.wav", nowhere / "c.toml", "c.toml"),
        (nowhere / "c.wav", tmp_path / "c.toml", "c.wav"),
    ):
        with pytest.raises(CallError, match=rf"{which}: cannot be written \(.*\); check the folder and the disk\.$"):
            write_control(wav, toml, [], RATE, plan.rows, cues, plan.setup, {}, 1.0)
