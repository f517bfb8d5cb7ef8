"""The reader of photographs from a microscope, run as a program of its own: a bad picture can only end the child.

The picture comes in as standard input. One line of JSON goes out, with ``rows``, ``columns``, ``reduced``, ``white``,
``deep`` and ``trouble``, then the greys: 8-bit numbers, or where the picture is deep 32-bit floats up to `white`. A
picture with more pixels than are needed is read at a whole fraction of its size, `reduced`.
"""

from __future__ import annotations

import io
import json
import math
import signal
import sys
import warnings
from typing import Any

from discwright.files.photo_decode import restrain

#: Pixels that are measured, and that are unpacked at most.
_PIXELS, _PIXELS_MOST = 8_000_000, 100_000_000
#: What cameras on microscopes write, and telephones held against the eyepiece.
_FORMATS = ("JPEG", "PNG", "TIFF", "BMP", "WEBP")


def read_greys(packed: bytes) -> tuple[dict[str, Any], bytes]:
    """The greys of a picture, as it is seen (turned as the camera says).

    Parameters
    ----------
    packed : bytes

    Returns
    -------
    head : dict
    greys : bytes

    Raises
    ------
    OSError, ValueError
        If it is no picture, or too large a one.
    """
    from PIL import Image, ImageOps

    # The size is looked at here, before anything is unpacked.
    Image.MAX_IMAGE_PIXELS = None
    picture = Image.open(io.BytesIO(packed), formats=_FORMATS)
    width, height = picture.size
    if width * height > _PIXELS_MOST:
        raise ValueError("it has more pixels than can be looked through")
    deep = picture.mode.startswith(("I", "F"))
    grey = picture.convert("F" if deep else "L")
    factor = math.ceil(math.sqrt(width * height / _PIXELS))
    if factor > 1:
        grey = grey.reduce(factor)
    seen = ImageOps.exif_transpose(grey)
    white = _white(seen, picture.mode) if deep else 255.0
    head = {
        "rows": seen.height, "columns": seen.width, "reduced": max(1, factor), "white": white, "deep": deep,
        "trouble": None,
    }  # fmt: skip
    return head, seen.tobytes()


def _white(seen: Any, mode: str) -> float:
    """What is white in a picture of more than eight bits: of whole numbers, all bits that the camera uses."""
    least, most = (float(one) for one in seen.getextrema())
    if not math.isfinite(least + most):
        raise ValueError("it has greys that are no numbers")
    if mode.startswith("I;16"):
        return float(2 ** max(8, math.ceil(math.log2(max(1.0, most) + 1.0))) - 1)
    return most if most > 0.0 else 1.0


def main() -> None:
    """Read the picture at standard input; write its greys to standard output."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which then ends us
    restrain()
    warnings.simplefilter("ignore")
    greys = b""
    try:
        head, greys = read_greys(sys.stdin.buffer.read())
    except MemoryError:
        head = {"trouble": "it asks for more memory than a reader may use"}
    except Exception as error:
        head = {"trouble": " ".join(str(error).split())[:200] or type(error).__name__}
    sys.stdout.buffer.write(json.dumps(head).encode() + b"\n" + greys)


if __name__ == "__main__":
    main()
