"""A side put together from bands: which samples stand where, and what its hash says.

Expected samples come by another road: the whole files in memory, sliced and joined with NumPy.
"""

from __future__ import annotations

import gc
import hashlib
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from discwright.errors import AudioError
from discwright.files import side_audio
from discwright.files.side_audio import BandRange, SideAudio, find_range
from discwright.programme.title import TitleBand

RATE = 44_100
Single = NDArray[np.float32]


def noise(frames: int, seed: int, channels: int = 2) -> Single:
    return np.random.default_rng(seed).uniform(-0.5, 0.5, (frames, channels)).astype(np.float32)


A, B, MONO = noise(600_000, 1), noise(50_001, 2), noise(30_000, 3, 1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """a.wav of 13.6 s (more than two blocks), b.wav, mono.wav, and one at another rate."""
    root = tmp_path_factory.mktemp("audio")
    for name, samples, rate in (
        ("a.wav", A, RATE), ("b.wav", B, RATE), ("mono.wav", MONO, RATE), ("fast.wav", B, 48_000),
    ):  # fmt: skip
        soundfile.write(root / name, samples, rate, subtype="FLOAT")
    return root


def band(folder: Path, name: str, first: int | None = None, last: int | None = None, **other: float) -> TitleBand:
    """A band of whole frames of a file."""
    start, end = (None if one is None else one / RATE for one in (first, last))
    return TitleBand(f"{name}{first}", name, str(folder / f"{name}.wav"), start, end, **other)  # type: ignore[arg-type]


def side(*bands: TitleBand) -> SideAudio:
    return SideAudio([find_range(one) for one in bands])


def heard(audio: SideAudio) -> Single:
    blocks = list(audio.blocks())
    assert all(block.dtype == np.float32 and block.shape[1] == 2 for block in blocks)
    return np.concatenate(blocks)


def silence(seconds: float) -> Single:
    return np.zeros((round(seconds * RATE), 2), dtype=np.float32)


def same(audio: SideAudio, *pieces: Single) -> None:
    expected = np.concatenate(pieces)
    got = heard(audio)
    assert got.shape == expected.shape == (audio.programme.frames, 2)
    assert np.array_equal(got, expected)


# --- ranges ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end", "first", "frames"),
    [
        (None, None, 0, 50_001), (0.0, None, 0, 50_001), (0.5, 1.0, 22_050, 22_050), (None, 0.25, 0, 11_025),
        (1.0, None, 44_100, 5_901),
        # By hand: b.wav lasts 1.1338 s; shown to a tenth that is 1.1, and whatever lies within 0.05 s is its end.
        (0.0, 1.1, 0, 48_510), (0.0, 1.15, 0, 50_001), (0.0, 1.1838, 0, 50_001),
    ],
)  # fmt: skip
def test_a_range_in_samples(folder: Path, start: float | None, end: float | None, first: int, frames: int) -> None:
    # By hand: times 44 100, rounded.
    found = find_range(replace(band(folder, "b"), start=start, end=end, gap=1.25))
    assert (found.first, found.frames, found.gap) == (first, frames, 55_125)
    assert found.duration == pytest.approx(frames / RATE)


@pytest.mark.parametrize(("start", "end"), [(None, 1.184), (0.0, 2.0), (1.1339, None), (5.0, 6.0)])
def test_a_range_beyond_its_file(folder: Path, start: float | None, end: float | None) -> None:
    with pytest.raises(AudioError) as refused:
        find_range(replace(band(folder, "b"), start=start, end=end))
    assert str(refused.value) == (
        f"{folder / 'b.wav'} lasts 0:01.1 and the band “b” goes beyond; mend start or end."
    )  # fmt: skip


def test_a_range_shorter_than_a_sample(folder: Path) -> None:
    with pytest.raises(AudioError) as refused:
        find_range(replace(band(folder, "b"), start=0.5, end=0.500001))
    assert str(refused.value) == f"{folder / 'b.wav'}: the band “b” has no length; mend start or end."


def test_a_file_that_is_not_there(folder: Path) -> None:
    with pytest.raises(AudioError, match=r"gone\.wav does not exist"):
        find_range(band(folder, "gone"))


def test_different_sample_rates(folder: Path) -> None:
    with pytest.raises(AudioError) as refused:
        side(band(folder, "a"), band(folder, "fast"))
    assert str(refused.value) == (
        f"{folder / 'fast.wav'} runs at 48000 Hz, {folder / 'a.wav'} at 44100 Hz; "
        "bring the bands of a side to one sample rate."
    )


# --- samples ---------------------------------------------------------------------------------------------------


def test_a_whole_file(folder: Path) -> None:
    audio = side(band(folder, "a"))
    assert (audio.programme.sample_rate_hz, audio.programme.channels) == (RATE, 2)
    assert audio.places == ((0.0, 600_000 / RATE),)
    same(audio, A)  # and no gap after the only band


def test_ranges_of_one_file_with_gaps(folder: Path) -> None:
    audio = side(
        band(folder, "a", 1_000, 270_000, gap=1.5), band(folder, "a", 270_000, 300_000, gap=0.0),
        band(folder, "a", 310_000, 599_999, gap=3.0),
    )  # fmt: skip
    same(audio, A[1_000:270_000], silence(1.5), A[270_000:300_000], A[310_000:599_999])
    # By hand: 269 000 samples and 66 150 of gap, 30 000 and no gap, 289 999.
    places = ((0, 269_000), (335_150, 365_150), (365_150, 655_149))
    assert audio.places == tuple((begin / RATE, end / RATE) for begin, end in places)


def test_ranges_that_begin_and_end_on_the_edges_of_blocks(folder: Path) -> None:
    edge = side_audio._BLOCK
    same(
        side(band(folder, "a", 0, edge, gap=0.1), band(folder, "a", edge, 2 * edge, gap=0.1)),
        A[:edge], silence(0.1), A[edge : 2 * edge],
    )  # fmt: skip
    same(side(band(folder, "a", edge - 1, edge + 1)), A[edge - 1 : edge + 1])
    same(side(band(folder, "a", edge, edge + 1)), A[edge : edge + 1])


def test_another_order_and_overlapping_ranges(folder: Path) -> None:
    late, early = band(folder, "a", 400_000, 500_000, gap=0.5), band(folder, "a", 0, 450_000, gap=0.5)
    same(side(late, early), A[400_000:500_000], silence(0.5), A[:450_000])
    same(side(early, late), A[:450_000], silence(0.5), A[400_000:500_000])


def test_several_files_mono_among_them(folder: Path) -> None:
    audio = side(
        band(folder, "mono", gap=0.25), band(folder, "a", 5, 10, gap=0.25), band(folder, "b", gap=0.25),
        band(folder, "a", 20, 30),
    )  # fmt: skip
    assert audio.programme.channels == 2
    both = np.repeat(MONO, 2, axis=1)
    same(audio, both, silence(0.25), A[5:10], silence(0.25), B, silence(0.25), A[20:30])
    assert side(band(folder, "mono")).programme.channels == 1


def test_the_same_band_twice(folder: Path) -> None:
    one = find_range(band(folder, "b", gap=0.5))
    same(SideAudio([one, one]), B, silence(0.5), B)


def test_a_gap_longer_than_a_block_is_silent_to_the_bit(folder: Path) -> None:
    audio = side(band(folder, "b", 0, 10, gap=15.0), band(folder, "b", 10, 20))
    got = heard(audio)[10:-10]
    assert len(got) == 15 * RATE
    assert not got.view(np.int32).any()  # not even a negative zero


@pytest.mark.parametrize("trim_db", [-6.0, 3.5, 24.0, -24.0])
def test_a_trim_in_single_precision(folder: Path, trim_db: float) -> None:
    gain = np.float32(10.0 ** (trim_db / 20.0))
    audio = side(band(folder, "b", trim_db=trim_db, gap=0.5), band(folder, "b", 3, 9))
    same(audio, B * gain, silence(0.5), B[3:9])  # the other band is left alone
    # By hand: within one rounding of the exact product.
    got = heard(audio)[: len(B)].astype(np.float64)
    assert np.allclose(got, B.astype(np.float64) * 10 ** (trim_db / 20), rtol=2e-7, atol=0.0)


# --- reading it again ------------------------------------------------------------------------------------------


def test_blocks_start_again(folder: Path) -> None:
    audio = side(band(folder, "a", 0, 300_000, gap=0.5), band(folder, "b"))
    first = heard(audio)
    assert np.array_equal(heard(audio), first)
    assert np.array_equal(heard(audio), first)


def test_two_at_once(folder: Path) -> None:
    audio = side(band(folder, "a", gap=0.5), band(folder, "b"))
    expected = np.concatenate([A, silence(0.5), B])
    one, other = audio.blocks(), audio.blocks()
    pieces: tuple[list[Single], list[Single]] = ([next(one)], [])
    for block in other:
        pieces[1].append(block)
        if (more := next(one, None)) is not None:
            pieces[0].append(more)
    pieces[0].extend(one)
    assert np.array_equal(np.concatenate(pieces[0]), expected)
    assert np.array_equal(np.concatenate(pieces[1]), expected)


def test_abandoned_early(folder: Path) -> None:
    audio = side(band(folder, "a", gap=0.5), band(folder, "b"))
    before = threading.active_count()
    for _ in range(3):
        blocks = audio.blocks()
        next(blocks)
        assert isinstance(blocks, Iterator)
        blocks.close()  # type: ignore[attr-defined]
    del blocks
    gc.collect()
    assert threading.active_count() == before
    same(audio, A, silence(0.5), B)


def test_what_cannot_be_decoded_is_refused_while_reading(folder: Path, tmp_path: Path) -> None:
    bad = B.copy()
    bad[40_000, 1] = np.nan
    soundfile.write(tmp_path / "bad.wav", bad, RATE, subtype="FLOAT")
    audio = side(band(folder, "a", 0, 10), band(tmp_path, "bad"))
    with pytest.raises(AudioError, match=r"bad\.wav has a sample that is no number"):
        heard(audio)


# --- the hash --------------------------------------------------------------------------------------------------


def hash_of(*bands: TitleBand) -> str:
    audio = side(*bands)
    for _ in audio.blocks():
        pass
    return audio.sha256


def test_one_whole_file_has_the_hash_of_the_file(folder: Path) -> None:
    # By another road: hashlib over the file.
    expected = hashlib.sha256((folder / "a.wav").read_bytes()).hexdigest()
    assert hash_of(band(folder, "a")) == expected
    assert hash_of(band(folder, "a", 0, 600_000)) == expected
    assert hash_of(band(folder, "a", gap=9.0)) == expected, "no band follows the gap"


def test_every_change_of_what_is_heard_changes_the_hash(folder: Path) -> None:
    one, two = band(folder, "a", 0, 300_000), band(folder, "b")
    hashes = [
        hash_of(band(folder, "a")), hash_of(replace(band(folder, "a"), trim_db=-0.1)), hash_of(one),
        hash_of(one, two), hash_of(two, one), hash_of(replace(one, gap=2.1), two),
        hash_of(one, replace(two, trim_db=0.1)),
        hash_of(replace(one, start=1 / RATE), two), hash_of(replace(one, end=299_999 / RATE), two), hash_of(one, one),
    ]  # fmt: skip
    assert len(set(hashes)) == len(hashes)
    assert all(len(one) == 64 and set(one) <= set("0123456789abcdef") for one in hashes)


def test_what_is_not_heard_leaves_the_hash(folder: Path) -> None:
    one, two = band(folder, "a", 0, 300_000), band(folder, "b")
    expected = hash_of(one, two)
    assert hash_of(one, replace(two, gap=0.0)) == expected  # nothing follows
    assert hash_of(replace(one, name="Other", isrc="AA6Q72000047", may_move=True, line=9), two) == expected
    assert hash_of(replace(one, start=None), two) == expected


def test_the_hash_knows_the_files_bytes(folder: Path, tmp_path: Path) -> None:
    changed = A.copy()
    changed[599_999, 0] += 0.25  # behind the range that is heard
    soundfile.write(tmp_path / "a.wav", changed, RATE, subtype="FLOAT")
    assert hash_of(band(folder, "a", 0, 1000)) != hash_of(band(tmp_path, "a", 0, 1000))


def test_a_range_is_plain_data(folder: Path) -> None:
    found = find_range(band(folder, "b"))
    assert found == BandRange(found.band, found.header, 0, 50_001, 88_200)  # by hand: a gap of 2 s
