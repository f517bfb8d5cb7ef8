"""Audio files read to their last sample, by a child process and in this one."""

from __future__ import annotations

import gc
import hashlib
import os
import random
import subprocess
import sys
import threading
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from discwright.errors import AudioError, CallError
from discwright.files import audio_decoders, decode
from discwright.files.audio import open_audio

RATE = 44100

both = pytest.mark.parametrize("isolated", [True, False], ids=["child", "here"])


def noise(frames: int, channels: int = 2, top: float = 0.2) -> NDArray[np.float32]:
    """Uniform noise, shape (frames, channels), on the steps of 16 bits so that every format holds it."""
    drawn = np.random.default_rng(5).uniform(-top, top, (frames, channels))
    return (np.round(drawn * 2**15) / 2**15).astype(np.float32)


def write(path: Path, samples: NDArray[np.float32], container: str, subtype: str, rate: int = RATE) -> Path:
    # Whole numbers go in as such: from float, the library scales by one step less than full scale.
    stored = (samples * 2.0**31).astype(np.int32) if subtype.startswith("PCM") else samples
    soundfile.write(path, stored, rate, subtype=subtype, format="RF64" if container == "BW64" else container)
    if container == "BW64":
        with path.open("r+b") as file:
            file.write(b"BW64")
    return path


def read(path: Path, isolated: bool, frames: int = 1 << 18) -> NDArray[np.float32]:
    with open_audio(path, isolated=isolated) as audio:
        return np.concatenate(list(audio.blocks(frames)))


def refusal(path: Path, isolated: bool) -> str:
    """The sentence with which a file is refused, without its path."""
    with pytest.raises(AudioError) as caught:
        read(path, isolated)
    return str(caught.value).removeprefix(f"{path} ")


@both
@pytest.mark.parametrize(
    ("container", "subtype"),
    [
        ("WAV", "PCM_16"),
        ("WAV", "PCM_24"),
        ("WAV", "PCM_32"),
        ("WAV", "FLOAT"),
        ("WAV", "DOUBLE"),
        ("WAVEX", "PCM_24"),
        ("RF64", "PCM_24"),
        ("BW64", "PCM_16"),
        ("BW64", "FLOAT"),
        ("AIFF", "PCM_24"),
        ("AIFF", "FLOAT"),
        ("FLAC", "PCM_16"),
        ("FLAC", "PCM_24"),
    ],
)
def test_samples_come_back(tmp_path: Path, isolated: bool, container: str, subtype: str) -> None:
    samples = noise(100_003)
    path = write(tmp_path / "side", samples, container, subtype)
    with open_audio(path, isolated=isolated) as audio:
        blocks = list(audio.blocks(30_000))
        assert audio.frames_read == audio.header.frames == 100_003
        assert audio.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()  # by another road
    assert [len(block) for block in blocks] == [30_000, 30_000, 30_000, 10_003]
    assert all(block.dtype == np.float32 and block.flags.c_contiguous for block in blocks)
    assert np.array_equal(np.concatenate(blocks), samples)  # by hand: steps of 2**-15 are exact


@both
@pytest.mark.parametrize(("subtype", "rate"), [("VORBIS", 44100), ("OPUS", 48000)])
def test_ogg_as_the_library_reads_it_whole(tmp_path: Path, isolated: bool, subtype: str, rate: int) -> None:
    path = write(tmp_path / "side.ogg", noise(150_000), "OGG", subtype, rate)
    whole = soundfile.read(path, dtype="float32")[0]  # by another road
    assert len(whole) == 150_000
    assert np.array_equal(read(path, isolated, 40_001), whole)


@both
def test_mono_stands_in_both_channels(tmp_path: Path, isolated: bool) -> None:
    samples = noise(5000, channels=1)
    path = write(tmp_path / "mono.wav", samples, "WAV", "FLOAT")
    got = read(path, isolated, 1999)
    assert got.flags.c_contiguous
    assert np.array_equal(got, np.hstack([samples, samples]))


@both
def test_samples_above_full_scale_are_kept(tmp_path: Path, isolated: bool) -> None:
    samples = noise(5000, top=3.0)
    assert samples.max() > 2.9
    assert np.array_equal(read(write(tmp_path / "hot.wav", samples, "WAV", "FLOAT"), isolated), samples)


@both
def test_blocks_start_again_and_end_the_earlier_ones(tmp_path: Path, isolated: bool) -> None:
    samples = noise(300_000)
    path = write(tmp_path / "side.wav", samples, "WAV", "FLOAT")
    with open_audio(os.fspath(path), isolated=isolated) as audio:
        first = audio.blocks(1000)
        next(first)
        assert np.array_equal(np.concatenate(list(audio.blocks())), samples)
        assert np.array_equal(np.concatenate(list(audio.blocks(70_000))), samples)
        with pytest.raises(CallError, match="was started again meanwhile; read one set of blocks at a time"):
            next(first)
        with pytest.raises(CallError, match="ask for 1 or more"):
            audio.blocks(0)
        last = audio.blocks(1000)
        next(last)
    with pytest.raises(CallError, match="is closed; read it inside its “with” statement"):
        next(last)
    with pytest.raises(CallError, match="is closed"):
        audio.blocks()


@both
@pytest.mark.parametrize(("value", "channel", "said"), [(np.nan, 1, "nan"), (np.inf, 0, "inf"), (-np.inf, 1, "-inf")])
def test_no_number(tmp_path: Path, isolated: bool, value: float, channel: int, said: str) -> None:
    samples = noise(2 * RATE)
    samples[66150, channel] = value  # by hand: 1.5 s
    path = write(tmp_path / "wild.wav", samples, "WAV", "FLOAT")
    assert refusal(path, isolated) == (
        f"has a sample that is no number ({said}) in its {('left', 'right')[channel]} channel at 0:01.5, "
        "frame 66150; export the programme again."
    )


def test_no_number_in_mono_and_in_a_later_block(tmp_path: Path) -> None:
    samples = noise(RATE, channels=1)
    samples[30_000] = np.nan
    path = write(tmp_path / "wild.wav", samples, "WAV", "DOUBLE")
    with (
        open_audio(path, isolated=False) as audio,
        pytest.raises(AudioError, match=r"\(nan\) in its only channel at 0:00\.7, frame 30000;"),
    ):
        list(audio.blocks(7000))


@both
def test_flac_cut_in_half_and_bitten(tmp_path: Path, isolated: bool) -> None:
    path = write(tmp_path / "side.flac", noise(10 * RATE), "FLAC", "PCM_16")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    half = refusal(path, isolated)
    assert half.endswith(" of 0:10.0 (flac decoder lost sync); send the whole file again.")
    # by hand: noise packs evenly, so half the bytes are 5 s; this process knows it to a block of 6 s only
    assert half.startswith("cannot be decoded beyond 0:04." if isolated else "cannot be decoded beyond 0:00.0")
    middle = len(whole) // 2
    path.write_bytes(whole[:middle] + bytes([whole[middle] ^ 0x10]) + whole[middle + 1 :])
    assert refusal(path, isolated).startswith("cannot be decoded beyond 0:0")


@both
def test_header_and_samples_disagree(tmp_path: Path, isolated: bool) -> None:
    path = write(tmp_path / "side.flac", noise(RATE), "FLAC", "PCM_16")
    whole = bytearray(path.read_bytes())
    whole[22:26] = (2 * RATE).to_bytes(4, "big")  # STREAMINFO promises another second
    path.write_bytes(whole)
    assert refusal(path, isolated) == ("holds 44100 frames where its header promises 88200; send the whole file again.")


@both
@pytest.mark.parametrize("subtype", ["VORBIS", "OPUS"])
def test_ogg_bitten(tmp_path: Path, isolated: bool, subtype: str) -> None:
    path = write(tmp_path / "side.ogg", noise(10 * 48000), "OGG", subtype, 48000)
    whole = path.read_bytes()
    # The decoder drops a page whose checksum fails without a word; from the last it drops the length too.
    for at, said in (
        (len(whole) // 2, "where its header promises 480000"),
        (len(whole) - 9, "contradicts itself"),
    ):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0x55]) + whole[at + 1 :])
        assert said in refusal(path, isolated)


@both
def test_change_while_reading(tmp_path: Path, isolated: bool) -> None:
    path = write(tmp_path / "side.wav", noise(1000), "WAV", "PCM_16")
    with open_audio(path, isolated=isolated) as audio:
        os.utime(path, (1, 1))
        with pytest.raises(AudioError, match=r"changed while it was read; wait for it and start again\.$"):
            list(audio.blocks())
        with pytest.raises(AudioError, match="changed while it was read"):
            _ = audio.sha256


def test_fingerprint_before_the_samples(tmp_path: Path) -> None:
    path = write(tmp_path / "side.wav", noise(1000), "WAV", "PCM_16")
    with open_audio(path) as audio:
        assert audio.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()  # by another road
        assert len(next(audio.blocks())) == 1000


class Interrupted(Exception):
    """Stands for Ctrl-C in the middle of a file."""


def interrupt(path: Path) -> None:
    with open_audio(path) as audio:
        for _ in audio.blocks(1000):
            raise Interrupted


def children() -> set[str]:
    """Every child of this process, dead ones that nobody waited for among them."""
    return {pid for task in Path("/proc/self/task").iterdir() for pid in (task / "children").read_text().split()}


def test_nothing_is_left_behind(tmp_path: Path) -> None:
    path = write(tmp_path / "side.wav", noise(20 * RATE), "WAV", "FLOAT")
    descriptors, threads, before = len(os.listdir("/proc/self/fd")), threading.active_count(), children()
    with open_audio(path):
        pass  # never read
    with open_audio(path) as audio:
        next(audio.blocks())  # stopped early
    with pytest.raises(Interrupted):
        interrupt(path)
    (tmp_path / "bad.flac").write_bytes(b"fLaC" + bytes(100))
    with pytest.raises(AudioError):
        open_audio(tmp_path / "bad.flac")
    gc.collect()
    assert len(os.listdir("/proc/self/fd")) == descriptors
    assert threading.active_count() == threads
    assert children() == before  # no child of its own, not even a dead one


def test_memory_does_not_grow_with_length(tmp_path: Path) -> None:
    path = write(tmp_path / "side.wav", noise(60 * RATE), "WAV", "PCM_16")
    tracemalloc.start()
    try:
        with open_audio(path) as audio:
            total = sum(len(block) for block in audio.blocks(1 << 14))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert total == 60 * RATE
    # by hand: the minute takes 21 MB; blocks take 0.13 MB each, the hash 1 MB
    assert peak < 3e6


@pytest.mark.parametrize(
    ("program", "said"),
    [
        (
            "import os; os.kill(os.getpid(), 11)",
            "(the decoder crashed with signal 11); send the whole file again.",
        ),
        ("import os; os.kill(os.getpid(), 24)", "(it takes more time than a decoder may use); send the"),
        ("pass", "(the decoder ended without a word); send the whole file again."),
        ("print('once upon a time')", "(the decoder lost its way); send the whole file again."),
        ("import time; time.sleep(60)", "(the decoder has been silent for 0.5 s); copy it to a near disk."),
    ],
)
def test_a_child_that_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, program: str, said: str) -> None:
    path = write(tmp_path / "side.wav", noise(1000), "WAV", "PCM_16")
    (tmp_path / "child.py").write_text(program)
    monkeypatch.setattr(audio_decoders, "_PROGRAM", str(tmp_path / "child.py"))
    monkeypatch.setattr(audio_decoders, "STALL_S", 0.5)
    assert said in refusal(path, True)


def run(code: str) -> subprocess.CompletedProcess[str]:
    """A program of a few lines under the child's limits."""
    code = f"from discwright.files import decode; decode.restrain(0); {code}"
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)


def test_limits_of_the_child(tmp_path: Path) -> None:
    # by hand: the limit is 1.5 GiB
    assert "MemoryError" in run("bytearray(1600 << 20)").stderr
    assert (
        "File too large"
        in run(f"import os; os.write(os.open({str(tmp_path / 'new')!r}, os.O_CREAT | os.O_WRONLY), b'x')").stderr
    )
    core = "import resource as r; print(r.getrlimit(r.RLIMIT_CORE)[0], r.getrlimit(r.RLIMIT_CPU)[0])"
    assert run(core).stdout.split() == ["0", "60"]


def test_child_loads_nothing_of_the_package(tmp_path: Path) -> None:
    path = write(tmp_path / "side.wav", noise(10), "WAV", "PCM_16")
    with path.open("rb") as file:
        done = subprocess.run(
            [sys.executable, "-P", "-X", "importtime", decode.__file__],
            stdin=file,
            capture_output=True,
            check=True,
        )
    loaded = done.stderr.decode()
    assert "soundfile" in loaded
    assert "discwright" not in loaded
    assert "scipy" not in loaded


def test_what_the_decoder_says_in_words() -> None:
    assert decode.reason(MemoryError()) == "it asks for more memory than a decoder may use"
    assert decode.reason(RuntimeError("Error : bad.")) == "bad"
    assert decode.reason(RuntimeError()) == "RuntimeError"


@both
@pytest.mark.parametrize(("container", "subtype"), [("WAV", "PCM_24"), ("FLAC", "PCM_16"), ("OGG", "VORBIS")])
def test_spoiled_files_are_read_or_refused(tmp_path: Path, isolated: bool, container: str, subtype: str) -> None:
    path = write(tmp_path / "side", noise(20_000), container, subtype)
    whole, chance = path.read_bytes(), random.Random(6)
    for _ in range(4 if isolated else 30):
        copy = bytearray(whole)
        for _ in range(20):
            copy[chance.randrange(len(copy))] = chance.randrange(256)
        path.write_bytes(copy)
        assert verdict(path, isolated) in ("read", "refused")


def verdict(path: Path, isolated: bool) -> str:
    """Either outcome is right; anything else that is raised is the test's to report."""
    try:
        read(path, isolated)
    except AudioError:
        return "refused"
    return "read"
