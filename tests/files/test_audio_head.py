"""Heads of audio files: what is accepted, and the exact sentence of every refusal."""

from __future__ import annotations

import os
import random
import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from discwright.errors import AudioError
from discwright.files.audio_head import read_head

FRAMES = 4411  # odd on purpose: 24-bit mono then needs a padding byte
KINDS = [
    ("WAV", "PCM_16", 44100, 2),
    ("WAV", "PCM_24", 48000, 1),
    ("WAV", "FLOAT", 96000, 2),
    ("WAV", "DOUBLE", 44100, 1),
    ("WAVEX", "PCM_24", 192000, 2),
    ("RF64", "PCM_24", 96000, 2),
    ("BW64", "PCM_16", 48000, 2),
    ("AIFF", "PCM_16", 44100, 2),
    ("AIFF", "PCM_24", 96000, 1),
    ("AIFF", "FLOAT", 44100, 2),
    ("FLAC", "PCM_16", 44100, 1),
    ("FLAC", "PCM_24", 192000, 2),
    ("OGG", "VORBIS", 44100, 2),
    ("OGG", "OPUS", 48000, 2),
]
CHUNKED = [kind for kind in KINDS if kind[0] not in ("FLAC", "OGG")]


def make(folder: Path, container: str, subtype: str, rate: int, channels: int, frames: int = FRAMES) -> Path:
    """A file of quiet noise written by soundfile."""
    path = folder / f"{container}-{subtype}-{rate}-{channels}"
    noise = np.random.default_rng(1).uniform(-0.1, 0.1, (frames, channels))
    written = "RF64" if container == "BW64" else container
    soundfile.write(path, noise, rate, subtype=subtype, format=written)
    if container == "BW64":
        with path.open("r+b") as file:
            file.write(b"BW64")
    return path


def wav(fmt: bytes | None = None, data: bytes = bytes(400), *, size: int | None = None, tail: bytes = b"") -> bytes:
    """A WAV built by hand: 16-bit stereo at 44.1 kHz unless `fmt` says otherwise."""
    fmt = struct.pack("<HHIIHH", 1, 2, 44100, 176400, 4, 16) if fmt is None else fmt
    body = b"WAVE" + b"fmt " + struct.pack("<I", len(fmt)) + fmt
    body += b"data" + struct.pack("<I", len(data) if size is None else size) + data + tail
    return b"RIFF" + struct.pack("<I", len(body)) + body


def refusal(path: Path) -> str:
    """The sentence with which a file is refused, without its path."""
    with pytest.raises(AudioError) as caught:
        read_head(path)
    sentence = str(caught.value)
    assert sentence.startswith(f"{path} ")
    assert sentence.endswith(".")
    return sentence.removeprefix(f"{path} ")


@pytest.mark.parametrize(("container", "subtype", "rate", "channels"), KINDS)
def test_head_says_what_was_written(tmp_path: Path, container: str, subtype: str, rate: int, channels: int) -> None:
    path = make(tmp_path, container, subtype, rate, channels)
    head = read_head(path)
    # by hand: the numbers given to the writer; it stores float AIFF as AIFF-C
    expected = {"WAVEX": "WAV"}.get(container, container)
    assert head.container == ("AIFC" if (container, subtype) == ("AIFF", "FLOAT") else expected)
    assert head.path == str(path)
    assert (head.subtype, head.sample_rate_hz, head.channels, head.frames) == (
        subtype,
        rate,
        channels,
        FRAMES,
    )


def test_little_endian_aiff(tmp_path: Path) -> None:
    path = tmp_path / "sowt.aif"
    soundfile.write(path, np.zeros((100, 2)), 44100, subtype="PCM_16", format="AIFF", endian="LITTLE")
    head = read_head(path)
    assert (head.container, head.subtype, head.frames) == ("AIFC", "PCM_16", 100)  # by hand


@pytest.mark.parametrize(("container", "subtype", "rate", "channels"), CHUNKED)
def test_cut_anywhere_is_refused(tmp_path: Path, container: str, subtype: str, rate: int, channels: int) -> None:
    path = make(tmp_path, container, subtype, rate, channels, frames=11)
    whole = path.read_bytes()
    end = whole.index(b"SSND" if container == "AIFF" else b"data") + 8
    end += 8 * (container == "AIFF") + 11 * channels * {"PCM_16": 2, "PCM_24": 3, "FLOAT": 4, "DOUBLE": 8}[subtype]
    for length in range(1, end):
        path.write_bytes(whole[:length])
        refusal(path)
    # A padding byte or a chunk behind the samples may be missing: all the music is there.
    path.write_bytes(whole[:end])
    assert read_head(path).frames == 11


def test_cut_sentence_tells_how_much_is_missing(tmp_path: Path) -> None:
    path = make(tmp_path, "WAV", "PCM_16", 44100, 2, frames=441000)
    os.truncate(path, 44 + 4 * 44100 * 4)
    # by hand: 10 s of 4 bytes × 44100, cut behind 4 s
    assert refusal(path) == (
        "is 1058400 bytes shorter than its header says, 0:04.0 of 0:10.0; send the whole file again."
    )


@pytest.mark.parametrize("subtype", ["VORBIS", "OPUS"])
def test_cut_ogg_is_refused(tmp_path: Path, subtype: str) -> None:
    path = make(tmp_path, "OGG", subtype, 48000, 2, frames=96000)
    whole = path.read_bytes()
    for length in random.Random(2).sample(range(4, len(whole)), 60):
        path.write_bytes(whole[:length])
        assert "breaks off" in refusal(path)


def pages(stream: bytes) -> list[bytes]:
    """The pages of an Ogg stream."""
    starts = [at for at in range(len(stream)) if stream[at : at + 4] == b"OggS"]
    return [stream[a:b] for a, b in zip(starts, [*starts[1:], len(stream)], strict=True)]


def test_ogg_pages(tmp_path: Path) -> None:
    path = make(tmp_path, "OGG", "VORBIS", 44100, 2, frames=200_000)
    whole = path.read_bytes()
    leaves = pages(whole)
    assert len(leaves) > 4

    path.write_bytes(b"".join(leaves[:-1]))
    assert refusal(path) == ("breaks off before the page that ends an Ogg stream; send the whole file again.")
    path.write_bytes(b"".join(leaves[:3] + leaves[4:]))
    at = sum(map(len, leaves[:3]))
    assert refusal(path) == f"is broken at byte {at}, where page 3 should be; send the whole file again."
    path.write_bytes(whole + whole)
    assert refusal(path) == (
        f"goes on behind the page that ends its stream, at byte {len(whole)}; export it as one Ogg stream."
    )
    path.write_bytes(whole + b"TAG" + bytes(125))
    assert read_head(path).frames == 200_000


def test_ogg_with_something_else_inside(tmp_path: Path) -> None:
    path = make(tmp_path, "OGG", "OPUS", 48000, 1)
    path.write_bytes(path.read_bytes().replace(b"OpusHead", b"Speex   "))
    assert refusal(path) == ("is Ogg but neither Vorbis nor Opus; send WAV, RF64, BW64, AIFF, FLAC or Ogg.")


FLOAT_8_CHANNELS = struct.pack("<HHIIHH", 3, 8, 48000, 48000 * 32, 32, 32)
EIGHT_BIT = struct.pack("<HHIIHH", 1, 2, 44100, 88200, 2, 8)
CONTRADICTION = struct.pack("<HHIIHH", 1, 2, 44100, 176400, 3, 16)
SLOW = struct.pack("<HHIIHH", 1, 2, 22050, 88200, 4, 16)
FAST = struct.pack("<HHIIHH", 1, 2, 384000, 1536000, 4, 16)
NO_LENGTH = "has no length in its header, as files written to a pipe; export the programme again."

SENTENCES = [
    (b"", "is empty (0 bytes); send the whole file again."),
    (b"once upon a time", "is no audio file of a known kind; send WAV, RF64, BW64, AIFF, FLAC or Ogg."),
    (b"ID3\x04" + bytes(60), "is MP3, which is not accepted; send the WAV or FLAC original."),
    (b"\xff\xfb\x90\x64", "is MP3 or AAC, which is not accepted; send the WAV or FLAC original."),
    (b"caff\x00\x01", "is CAF, which is not accepted; send the WAV or FLAC original."),
    (b"\0\0\0\x20ftypM4A ", "is MP4, which is not accepted; send the WAV or FLAC original."),
    (wav()[:10], "is no audio file of a known kind; send WAV, RF64, BW64, AIFF, FLAC or Ogg."),
    (wav()[:12], "breaks off before its “fmt” chunk; send the whole file again."),
    (wav()[:36], "breaks off before its “data” chunk; send the whole file again."),
    (wav(data=b""), "has a header but no samples; export the programme again."),
    (wav(FLOAT_8_CHANNELS), "has 8 channels; send a stereo or mono mix."),
    (wav(SLOW), "runs at 22050 Hz; send the original at 44100 to 192000 Hz."),
    (wav(FAST), "runs at 384000 Hz; send the original at 44100 to 192000 Hz."),
    (wav(EIGHT_BIT), "stores samples as WAV kind 1 with 8 bits; send 16-bit, 24-bit or float WAV."),
    (wav(CONTRADICTION), "has a format chunk that contradicts itself; export the programme again."),
    (wav(size=0), NO_LENGTH),
    (wav(size=0xFFFFFFFF), NO_LENGTH),
    (
        wav(tail=bytes(200_000)),
        "goes on for 200000 bytes that its header does not know; export the programme again.",
    ),
    (wav(tail=b"LIST\0\0\0\0" * 5000), "has more than 4096 chunks; export the programme again."),
    (
        b"RF64" + wav()[4:],
        "has no “ds64” chunk where its long sizes should be; export the programme again.",
    ),
]


@pytest.mark.parametrize(("content", "sentence"), SENTENCES)
def test_refusals(tmp_path: Path, content: bytes, sentence: str) -> None:
    path = tmp_path / "sent.wav"
    path.write_bytes(content)
    assert refusal(path) == sentence


@pytest.mark.parametrize("tail", [b"LIST\x04\0\0\0INFO", b"TAG" + bytes(125), b"\0", b"LIST\xff\0\0\0cut"])
def test_what_follows_the_samples_does_no_harm(tmp_path: Path, tail: bytes) -> None:
    path = tmp_path / "tail.wav"
    path.write_bytes(wav(tail=tail))
    assert read_head(path).frames == 100  # by hand: 400 bytes of 4


def test_padding_before_the_samples(tmp_path: Path) -> None:
    path = tmp_path / "note.wav"
    whole = wav()
    path.write_bytes(whole[:36] + b"note\x03\0\0\0abc\0" + whole[36:])
    assert read_head(path).frames == 100  # by hand: 400 bytes of 4


@pytest.mark.parametrize("mark", [b"RF64", b"BW64"])
def test_long_sizes(tmp_path: Path, mark: bytes) -> None:
    path = make(tmp_path, "RF64", "PCM_16", 44100, 2)
    whole = bytearray(path.read_bytes())
    whole[:4], whole[28:36] = mark, struct.pack("<Q", 5 << 30)
    at = whole.index(b"data")
    whole[at + 4 : at + 8] = b"\xff" * 4
    path.write_bytes(whole)
    os.truncate(path, at + 8 + (5 << 30))  # sparse: takes no room
    assert read_head(path).frames == 5 << 28  # by hand: 4 bytes a frame


def test_rf64_without_length(tmp_path: Path) -> None:
    path = make(tmp_path, "RF64", "PCM_16", 44100, 2)
    whole = bytearray(path.read_bytes())
    assert whole[12:16] == b"ds64"
    for unknown in (bytes(8), b"\xff" * 8):
        whole[28:36] = unknown
        path.write_bytes(whole)
        assert refusal(path) == NO_LENGTH


def test_aiff_without_length(tmp_path: Path) -> None:
    path = make(tmp_path, "AIFF", "PCM_16", 44100, 2)
    whole = path.read_bytes()
    comm, ssnd = whole.index(b"COMM"), whole.index(b"SSND")
    path.write_bytes(whole[: comm + 10] + bytes(4) + whole[comm + 14 : ssnd + 4] + bytes(4) + whole[ssnd + 8 :])
    assert refusal(path) == NO_LENGTH


def test_flac_without_length_or_streaminfo(tmp_path: Path) -> None:
    path = make(tmp_path, "FLAC", "PCM_16", 44100, 2)
    whole = path.read_bytes()
    path.write_bytes(whole[:22] + bytes(4) + whole[26:])
    assert refusal(path) == NO_LENGTH
    path.write_bytes(whole[:4] + b"\x04" + whole[5:])
    assert refusal(path) == "has no STREAMINFO at its start, as every FLAC must; export the programme again."


def test_flac_behind_a_tag(tmp_path: Path) -> None:
    path = make(tmp_path, "FLAC", "PCM_16", 44100, 2)
    path.write_bytes(b"ID3\x04\0\0\0\0\x01\x00" + bytes(128) + path.read_bytes())  # by hand: 0x100 in sevens = 128
    assert read_head(path).frames == FRAMES


@pytest.mark.parametrize(("start", "what"), [(wav(), "a plain WAV"), (b"FORM\0\0\0\0AIFF", "an AIFF")])
def test_past_four_gigabytes(tmp_path: Path, start: bytes, what: str) -> None:
    path = tmp_path / "long"
    path.write_bytes(start)
    os.truncate(path, 5 << 30)  # sparse: takes no room
    assert refusal(path) == (f"is {what} past 4 GiB, where its header cannot be right; send it as RF64 or BW64.")


def test_what_is_not_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    gone = "does not exist; check the name and the folder."
    assert refusal(tmp_path / "gone.wav") == gone
    (tmp_path / "file").write_bytes(wav())
    assert refusal(tmp_path / "file" / "below.wav") == gone
    assert refusal(tmp_path) == "is a folder, not an audio file; name one file inside it."
    os.mkfifo(tmp_path / "pipe")
    assert refusal(tmp_path / "pipe") == "is not an ordinary file; save the audio to a file first."

    def forbidden(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", forbidden)
    assert refusal(tmp_path / "file") == (
        "cannot be opened (Permission denied); make it readable or copy it elsewhere."
    )


def spoil(chance: random.Random, whole: bytes) -> bytes:
    """A copy with a few bytes of its first 160 changed, some cut, some doubled."""
    copy = bytearray(whole)
    for _ in range(chance.randint(1, 6)):
        copy[chance.randrange(min(160, len(copy)))] = chance.choice([0, 1, 0x7F, 0x80, 0xFF, chance.randrange(256)])
    action: Callable[[], bytes] = chance.choice(
        [
            lambda: bytes(copy),
            lambda: bytes(copy[: chance.randrange(1, len(copy))]),
            lambda: bytes(copy[:64] + copy),
        ]
    )
    return action()


@pytest.mark.parametrize(("container", "subtype", "rate", "channels"), KINDS)
def test_spoiled_heads_never_escape(tmp_path: Path, container: str, subtype: str, rate: int, channels: int) -> None:
    path = make(tmp_path, container, subtype, rate, channels, frames=500)
    whole, chance = path.read_bytes(), random.Random(3)
    verdicts = [verdict(path) for _ in range(150) if path.write_bytes(spoil(chance, whole))]
    assert any(line.endswith(".") for line in verdicts)


def verdict(path: Path) -> str:
    """The container, or the refusal; anything else that is raised is the test's to report."""
    try:
        return read_head(path).container
    except AudioError as refused:
        return str(refused)
