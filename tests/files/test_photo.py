"""A photograph of a code is read whichever way it is turned; what is no photograph is refused in a sentence."""

from __future__ import annotations

import io
import math
import struct
import zlib

import numpy as np
import pypdfium2
import pytest
from PIL import Image, ImageFilter

from discwright.errors import CallError
from discwright.files.part_label import PartLabel, label_pdf
from discwright.files.photo import PHOTO_BYTES, read_photo


def photograph(angle: float = 0.0, size: tuple[int, int] = (1600, 1200), kind: str = "JPEG") -> bytes:
    """A label on a grey bench, turned, a little out of focus and noisy, as a telephone would take it."""
    label = pypdfium2.PdfDocument(label_pdf(PartLabel("ST1042-0", "stamper (−)")))[0].render(scale=220 / 72).to_pil()
    bench = Image.new("L", size, 120)
    turned = label.convert("L").rotate(angle, expand=True, fillcolor=120, resample=Image.Resampling.BICUBIC)
    bench.paste(turned, ((size[0] - turned.width) // 2, (size[1] - turned.height) // 2))
    grains = np.resize(np.random.default_rng(3).normal(0, 8, 100_003), (size[1], size[0]))
    noisy = np.clip(np.asarray(bench.filter(ImageFilter.GaussianBlur(1.2)), dtype=float) + grains, 0, 255)
    packed = io.BytesIO()
    Image.fromarray(noisy.astype("uint8")).convert("RGB").save(packed, kind, quality=80)
    return packed.getvalue()


@pytest.mark.parametrize("angle", [37.0, 180.0, -71.0])
def test_a_turned_label_is_read(angle: float) -> None:
    assert read_photo(photograph(angle)) == ("ST1042-0",)


def test_a_large_photograph_is_read_at_a_smaller_size() -> None:
    # by hand: 48 million pixels, three times what is looked through whole.
    side = math.sqrt(48e6 / (4 / 3))
    big = photograph(20.0, (int(side * 4 / 3), int(side)))
    assert read_photo(big) == ("ST1042-0",)


def test_no_code_is_no_trouble() -> None:
    packed = io.BytesIO()
    Image.new("RGB", (400, 300), "grey").save(packed, "PNG")
    assert read_photo(packed.getvalue()) == ()


def bomb() -> bytes:
    """A PNG of a few hundred bytes that says it has 40,000 × 40,000 pixels."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("packed", [b"no picture", bomb(), photograph()[:2000], b"GIF89a" + bytes(50)])
def test_what_is_no_photograph(packed: bytes) -> None:
    with pytest.raises(CallError, match="is no photograph that can be read; send a JPEG"):
        read_photo(packed)


def test_nothing_and_too_much() -> None:
    with pytest.raises(CallError, match="no photograph arrived"):
        read_photo(b"")
    with pytest.raises(CallError, match="more than 12 MiB"):
        read_photo(bytes(PHOTO_BYTES + 1))
