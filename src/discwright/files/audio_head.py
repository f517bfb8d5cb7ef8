"""The head of an audio file, read and doubted before anything is decoded.

Decoders open a file cut in half without a word, so the lengths a header promises are held here
against the bytes that are there. Everything is read in plain Python from a few bounded pieces:
nothing a file says can do more than raise :class:`discwright.errors.AudioError`.

Sources: RIFF/WAVE, Microsoft Multimedia Standards Update 3.0 (1994); RF64, EBU Tech 3306;
BW64, ITU-R BS.2088; AIFF 1.3 and AIFF-C, Apple (1989, 1991); FLAC, RFC 9639; Ogg, RFC 3533;
Vorbis I specification, section 4.2.2; Opus in Ogg, RFC 7845.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Callable
from dataclasses import dataclass

from discwright.errors import AudioError
from discwright.files.audio_source import AGAIN, EXPORT, AudioHeader, Source, open_ordinary
from discwright.units import clock

_ACCEPTED = "send WAV, RF64, BW64, AIFF, FLAC or Ogg"

#: A 32-bit size that means "see elsewhere" or "written to a pipe, never filled in".
_UNKNOWN_32 = 0xFFFFFFFF
_UNKNOWN_64 = 0xFFFFFFFFFFFFFFFF
#: No honest file has more chunks; a forged one could hold half a billion empty ones.
_MOST_CHUNKS = 4096

_WAV_SUBTYPES = {
    (1, 16): "PCM_16",
    (1, 24): "PCM_24",
    (1, 32): "PCM_32",
    (3, 32): "FLOAT",
    (3, 64): "DOUBLE",
}
_EXTENSIBLE = 0xFFFE

_AIFF_SUBTYPES = {
    **{(kind, bits): f"PCM_{bits}" for kind in (b"NONE", b"twos", b"sowt") for bits in (16, 24, 32)},
    (b"in24", 24): "PCM_24",
    (b"in32", 32): "PCM_32",
    **{(kind, 32): "FLOAT" for kind in (b"fl32", b"FL32")},
    **{(kind, 64): "DOUBLE" for kind in (b"fl64", b"FL64")},
}

#: Formats that people send by mistake: where their mark stands, the mark, the name.
_REFUSED = (
    (0, b"ID3", "MP3"),
    (0, b"riff", "Wave64"),
    (0, b"RIFX", "big-endian WAV"),
    (0, b"caff", "CAF"),
    (0, b".snd", "AU"),
    (0, b"DSD ", "DSD"),
    (0, b"FRM8", "DSD"),
    (0, b"wvpk", "WavPack"),
    (0, b"MAC ", "Monkey's Audio"),
    (4, b"ftyp", "MP4"),
    (0, b"\x30\x26\xb2\x75", "Windows Media"),
)


@dataclass(frozen=True)
class _Chunk:
    start: int  # first byte behind the chunk's own head
    size: int  # as the file says, which need not be true


def read_head(path: str | os.PathLike[str]) -> AudioHeader:
    """Read and check the head of an audio file without decoding it.

    Parameters
    ----------
    path : str or os.PathLike

    Returns
    -------
    AudioHeader

    Raises
    ------
    AudioError
        If the file is missing, of a refused format, shorter than its header says, or not fit for
        a disc (more than two channels, below 44.1 kHz, above 192 kHz).
    """
    with open_ordinary(path) as fd:
        return head_of(fd, os.fspath(path))


def head_of(fd: int, name: str) -> AudioHeader:
    """The same as :func:`read_head` for a file already open; its position is left alone.

    Parameters
    ----------
    fd : int
        Descriptor of an ordinary file.
    name : str
        What to call the file in a refusal.

    Raises
    ------
    AudioError
        As :func:`read_head`.
    """
    source = Source(fd, name)
    return _reader(source)(source)


def _reader(source: Source) -> Callable[[Source], AudioHeader]:
    """The reader for what the first bytes claim to be."""
    start = source.peek(0, 12)
    if start[:4] in (b"RIFF", b"RF64", b"BW64") and start[8:] in (b"WAVE", b""):
        return _wav
    if start[:4] == b"FORM" and start[8:] in (b"AIFF", b"AIFC", b""):
        return _aiff
    if start[:4] == b"OggS":
        return _ogg
    if source.peek(_past_tag(source), 4) == b"fLaC":
        return _flac
    for offset, mark, name in _REFUSED:
        if start[offset : offset + len(mark)] == mark:
            raise source.refusal(f"is {name}, which is not accepted", "send the WAV or FLAC original")
    if len(start) > 1 and start[0] == 0xFF and start[1] & 0xE0 == 0xE0:
        raise source.refusal("is MP3 or AAC, which is not accepted", "send the WAV or FLAC original")
    raise source.refusal("is no audio file of a known kind", _ACCEPTED)


def _past_tag(source: Source) -> int:
    """First byte behind an ID3 tag, which some programs put in front of FLAC; 0 without one."""
    head = source.peek(0, 10)
    if len(head) < 10 or head[:3] != b"ID3":
        return 0
    size = 0
    for byte in head[6:]:  # four times seven bits
        size = size << 7 | byte & 0x7F
    return 10 + size


def _check_length(source: Source, start: int, frames: int, frame_bytes: int, rate_hz: int) -> None:
    """Hold the number of samples against the size of the file."""
    missing = start + frames * frame_bytes - source.size
    if missing > 0:
        there = max(source.size - start, 0) // frame_bytes
        raise source.refusal(
            f"is {missing} byte{'s' * (missing > 1)} shorter than its header says, "
            f"{clock(there / rate_hz)} of {clock(frames / rate_hz)}",
            AGAIN,
        )


def _no_length(source: Source) -> AudioError:
    return source.refusal("has no length in its header, as files written to a pipe", EXPORT)


# --- RIFF and AIFF: chunks ---------------------------------------------------------------------------


def _walk(source: Source, order: str, samples: bytes, long_size: int | None) -> tuple[dict[bytes, _Chunk], int]:
    """Chunks by name (the first of each), and how many bytes at the end belong to no whole chunk.

    `order` is the byte order of sizes; `long_size` is the size of the chunk named `samples` where
    its own 32 bits are full.
    """
    chunks: dict[bytes, _Chunk] = {}
    at = 12
    for _ in range(_MOST_CHUNKS):
        head = source.peek(at, 8)
        if len(head) < 8 or not all(32 <= byte < 127 for byte in head[:4]):
            return chunks, max(source.size - at, 0)
        size: int = struct.unpack(f"{order}I", head[4:])[0]
        if head[:4] == samples and size == _UNKNOWN_32 and long_size is not None:
            size = long_size
        chunks.setdefault(head[:4], _Chunk(at + 8, size))
        if at + 8 + size > source.size:
            # Cut samples are refused by their size; a cut chunk behind them holds no music.
            return chunks, source.size - at
        at += 8 + size + (size & 1)  # a missing last padding byte only puts `at` one past the end
    raise source.refusal(f"has more than {_MOST_CHUNKS} chunks", EXPORT)


def _needed(source: Source, chunks: dict[bytes, _Chunk], name: bytes) -> _Chunk:
    if name not in chunks:
        raise source.refusal(f"breaks off before its “{name.decode().strip()}” chunk", AGAIN)
    return chunks[name]


def _check_small(source: Source, what: str, rescue: str) -> None:
    """Refuse a file past the 4 GiB that its 32-bit sizes can tell."""
    if source.size > _UNKNOWN_32 + 8:
        raise source.refusal(f"is {what} past 4 GiB, where its header cannot be right", f"send it as {rescue}")


def _wav(source: Source) -> AudioHeader:
    container = source.take(0, 12)[:4].decode().replace("RIFF", "WAV")
    long_size: int | None = None
    if container == "WAV":
        _check_small(source, "a plain WAV", "RF64 or BW64")
    else:
        ds64 = source.take(12, 36)
        if ds64[:4] != b"ds64":
            raise source.refusal("has no “ds64” chunk where its long sizes should be", EXPORT)
        long_size = struct.unpack("<Q", ds64[16:24])[0]
    chunks, rest = _walk(source, "<", b"data", long_size)
    form = _needed(source, chunks, b"fmt ")
    data = _needed(source, chunks, b"data")
    subtype, channels, rate_hz, frame_bytes = _wav_format(source, form)
    if form.start > data.start:
        raise source.refusal("has its samples before their format", EXPORT)
    if data.size in (_UNKNOWN_32, _UNKNOWN_64) or (data.size == 0 and rest > 0):
        raise _no_length(source)
    frames = data.size // frame_bytes
    _check_length(source, data.start, frames, frame_bytes, rate_hz)
    if rest > frame_bytes * rate_hz:
        # A recorder that lost power leaves the length of an early save above hours of music.
        raise source.refusal(f"goes on for {rest} bytes that its header does not know", EXPORT)
    return source.header(container, subtype, rate_hz, channels, frames)


def _wav_format(source: Source, form: _Chunk) -> tuple[str, int, int, int]:
    """Subtype, channels, rate and bytes per frame."""
    tag, channels, rate_hz, _, frame_bytes, bits = struct.unpack("<HHIIHH", source.take(form.start, 16))
    if tag == _EXTENSIBLE and form.size >= 40:
        tag = struct.unpack("<H", source.take(form.start + 24, 2))[0]
    subtype = _WAV_SUBTYPES.get((tag, bits))
    if subtype is None:
        raise source.refusal(f"stores samples as WAV kind {tag} with {bits} bits", "send 16-bit, 24-bit or float WAV")
    if form.size < 16 or rate_hz == 0 or channels == 0 or frame_bytes != channels * bits // 8:
        raise source.refusal("has a format chunk that contradicts itself", EXPORT)
    return subtype, channels, rate_hz, frame_bytes


def _aiff(source: Source) -> AudioHeader:
    container = source.take(0, 12)[8:].decode()
    _check_small(source, "an AIFF", "RF64 or BW64")
    chunks, rest = _walk(source, ">", b"SSND", None)
    comm = _needed(source, chunks, b"COMM")
    sound = _needed(source, chunks, b"SSND")
    channels, frames, bits, rate = struct.unpack(">HIH10s", source.take(comm.start, 18))
    kind = source.take(comm.start + 18, 4) if container == "AIFC" else b"NONE"
    subtype = _AIFF_SUBTYPES.get((kind, bits))
    if subtype is None:
        raise source.refusal(
            f"stores samples as AIFF kind “{kind.decode('ascii', 'replace')}” with {bits} bits",
            "send 16-bit, 24-bit or float AIFF",
        )
    rate_hz = _extended(rate)
    if channels == 0 or rate_hz == 0:
        raise source.refusal("has a COMM chunk that contradicts itself", EXPORT)
    if sound.size == _UNKNOWN_32 or ((sound.size <= 8 or frames == 0) and rest > 0):
        raise _no_length(source)
    offset = struct.unpack(">I", source.take(sound.start, 4))[0]
    frame_bytes = channels * bits // 8
    # Both chunks tell a length; some programs count the padding byte in the second, so whole frames only.
    longer = max(frames, (sound.size - 8 - offset) // frame_bytes)
    _check_length(source, sound.start + 8 + offset, longer, frame_bytes, rate_hz)
    return source.header(container, subtype, rate_hz, channels, frames)


def _extended(ten: bytes) -> int:
    """Whole part of an 80-bit IEEE 754 number as AIFF stores its rate; 0 where that is no rate."""
    exponent, mantissa = struct.unpack(">HQ", ten)
    shift = 16383 + 63 - exponent
    return int(mantissa >> shift) if 31 <= shift <= 63 else 0


# --- FLAC and Ogg ------------------------------------------------------------------------------------


def _flac(source: Source) -> AudioHeader:
    start = _past_tag(source)
    head = source.take(start, 42)
    if head[4] & 0x7F != 0 or head[5:8] != b"\x00\x00\x22":
        raise source.refusal("has no STREAMINFO at its start, as every FLAC must", EXPORT)
    packed = struct.unpack(">Q", head[18:26])[0]
    rate_hz, channels, bits = packed >> 44, (packed >> 41 & 7) + 1, (packed >> 36 & 31) + 1
    frames = packed & (1 << 36) - 1
    if bits not in (16, 24):
        raise source.refusal(f"is FLAC with {bits} bits", "send 16-bit or 24-bit FLAC")
    if frames == 0:
        raise _no_length(source)
    return source.header("FLAC", f"PCM_{bits}", rate_hz, channels, frames)


def _ogg(source: Source) -> AudioHeader:
    body, last_granule = _ogg_pages(source)
    first = source.peek(body, 19)
    if first[:7] == b"\x01vorbis" and len(first) >= 16:
        subtype, channels, skipped = "VORBIS", first[11], 0
        rate_hz = struct.unpack("<I", first[12:16])[0]
    elif first[:8] == b"OpusHead" and len(first) == 19:
        subtype, channels = "OPUS", first[9]
        skipped, told_hz = struct.unpack("<HI", first[10:16])
        # The decoder follows the told rate where Opus has it; otherwise it runs at its own 48 kHz.
        rate_hz = told_hz if told_hz in (8_000, 12_000, 16_000, 24_000) else 48_000
    else:
        raise source.refusal("is Ogg but neither Vorbis nor Opus", _ACCEPTED)
    return source.header("OGG", subtype, rate_hz, channels, last_granule - skipped)


def _ogg_pages(source: Source) -> tuple[int, int]:
    """Where the first page's body starts, and the sample count on the last page.

    The first page opens the stream, numbers run on by one, and the last page says so: that is all
    Ogg tells of its length. Between the pages nothing is read, so an hour takes milliseconds.
    """
    at = number = serial = first_body = 0
    granule, ended = 0, False
    while at < source.size:
        head = source.peek(at, 27 + 255)
        if ended and head[:4] != b"OggS":
            break  # a tag behind the last page
        if ended:
            raise source.refusal(
                f"goes on behind the page that ends its stream, at byte {at}", "export it as one Ogg stream"
            )
        lengths = head[27 : 27 + head[26]] if len(head) > 26 else b""
        body = at + 27 + len(lengths)
        if len(head) < 27 or len(lengths) < head[26] or body + sum(lengths) > source.size:
            raise source.refusal(f"breaks off inside its last page, at byte {source.size}", AGAIN)
        mark, _, flags, here, page_serial, page_number = struct.unpack("<4sBBqII", head[:22])
        first_body, serial = (first_body, serial) if at else (body, page_serial)
        if mark != b"OggS" or page_serial != serial or page_number != number:
            raise source.refusal(f"is broken at byte {at}, where page {number} should be", AGAIN)
        granule = here if here >= 0 else granule  # -1: no packet ends on this page
        ended = bool(flags & 4)
        at, number = body + sum(lengths), number + 1
    if not ended:
        raise source.refusal("breaks off before the page that ends an Ogg stream", AGAIN)
    return first_body, granule
