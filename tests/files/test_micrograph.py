"""Photographs are read as greys in a child; what is no picture, or too large a one, is refused in a sentence."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from discwright.errors import CallError
from discwright.files.micrograph import read_micrograph, unpack

RAMP = np.tile(np.linspace(0.0, 1.0, 300), (200, 1))
EIGHT = Image.fromarray(np.rint(RAMP * 255).astype(np.uint8))


def packed(picture: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


@pytest.mark.parametrize(
    ("body", "within"),
    [
        (packed(EIGHT, "PNG"), 0.003), (packed(EIGHT, "BMP"), 0.003), (packed(EIGHT, "TIFF"), 0.003),
        (packed(EIGHT, "TIFF", compression="tiff_lzw"), 0.003), (packed(EIGHT.convert("RGB"), "JPEG"), 0.02),
        (packed(EIGHT.convert("RGB"), "WEBP"), 0.03), (packed(EIGHT.convert("P"), "PNG"), 0.003),
        (packed(EIGHT.convert("RGBA"), "PNG"), 0.003), (packed(EIGHT.convert("CMYK"), "TIFF"), 0.003),
        (packed(Image.fromarray(np.rint(RAMP * 65535).astype(np.uint16)), "PNG"), 1e-4),
        (packed(Image.fromarray(np.rint(RAMP * 4095).astype(np.uint16)), "TIFF"), 1e-3),
        (packed(Image.fromarray(RAMP.astype(np.float32)), "TIFF"), 1e-6),
    ],
)  # fmt: skip
def test_every_kind_of_picture_comes_out_as_greys(body: bytes, within: float) -> None:
    read = unpack(body, "x")
    assert read.reduced == 1
    assert read.grey == pytest.approx(RAMP, abs=within)


def test_a_camera_that_was_held_sideways() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turned a quarter clockwise to be seen
    seen = unpack(packed(EIGHT, "JPEG", exif=exif), "x").grey
    assert seen.shape == (300, 200)
    assert seen[:, 100] == pytest.approx(RAMP[0], abs=0.02)


def test_a_large_picture_is_reduced_by_a_whole_factor() -> None:
    # by hand: 20 million pixels against 8: every 2 × 2 are taken together.
    large = Image.fromarray(np.tile(np.linspace(0, 255, 5000), (4000, 1)).astype(np.uint8))
    read = unpack(packed(large, "PNG"), "x")
    assert (read.reduced, read.grey.shape) == (2, (2000, 2500))
    assert read.grey[1000, [0, 1250, 2499]] == pytest.approx([0.0, 0.5, 1.0], abs=0.005)


def bomb() -> bytes:
    """A PNG of a few hundred bytes that says it has 40,000 × 40,000 pixels."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    "body",
    [b"", b"no picture", bomb(), packed(EIGHT, "PNG")[:150], b"GIF89a" + bytes(50),
     packed(Image.fromarray(np.full((9, 9), np.nan, dtype=np.float32)), "TIFF")],
)  # fmt: skip
def test_what_is_no_picture(body: bytes) -> None:
    with pytest.raises(
        CallError, match=r"^x: is no picture that can be read; save the photograph as PNG, TIFF or JPEG"
    ):
        unpack(body, "x")


def test_a_file_that_is_not_there_or_is_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "cut.png", tmp_path):
        with pytest.raises(CallError, match="cannot be read"):
            read_micrograph(path)
    (tmp_path / "cut.png").write_bytes(packed(EIGHT, "PNG"))
    assert read_micrograph(tmp_path / "cut.png").grey.shape == (200, 300)
