"""The reader of codes in photographs, run as a program of its own: a bad picture can only end the child.

The child is started on this file by its path, so that it loads Pillow and zxing-cpp but nothing of the package. It
takes the picture as its standard input and writes one line of JSON: ``{"texts": […], "trouble": null}``. What a picture
may ask for is bounded here; how long it may take is the parent's to decide.
"""

from __future__ import annotations

import io
import json
import resource
import signal
import sys
import warnings
from typing import Any

#: Pixels of a picture that is looked at; what is larger in a JPEG is read at a half, a quarter, an eighth of its size.
_PIXELS, _PIXELS_MOST = 16_000_000, 200_000_000
#: What a telephone sends.
_FORMATS = ("JPEG", "PNG", "WEBP")
_TEXTS, _LETTERS = 8, 500
_MEMORY_BYTES = 3 << 29
_PROCESSOR_S = 20
#: Smaller copies in which a code out of focus is found where it is not in the whole.
_SIDES = (1600, 900)


def read_codes(packed: bytes) -> list[str]:
    """The texts of all codes in a picture.

    Parameters
    ----------
    packed : bytes

    Raises
    ------
    OSError, ValueError
        If it is no picture, or too large a one.
    """
    import zxingcpp

    picture = _opened(packed)
    for copy in (picture, *_smaller(picture)):
        found = [one.text[:_LETTERS] for one in zxingcpp.read_barcodes(copy) if one.valid and one.text]
        if found:
            return list(dict.fromkeys(found))[:_TEXTS]
    return []


def _opened(packed: bytes) -> Any:
    """The picture in greys, of a size that can be looked through."""
    from PIL import Image

    # The size is looked at here, before anything is unpacked.
    Image.MAX_IMAGE_PIXELS = None
    picture = Image.open(io.BytesIO(packed), formats=_FORMATS)
    width, height = picture.size
    if width * height > _PIXELS_MOST:
        raise ValueError("it has more pixels than can be looked through")
    side = (_PIXELS / max(1, width * height)) ** 0.5
    if side < 1.0:
        # Only a JPEG can be unpacked smaller than it is.
        picture.draft("L", (int(width * side), int(height * side)))
        if picture.size[0] * picture.size[1] > 4 * _PIXELS:
            raise ValueError("it has more pixels than can be looked through")
    return picture.convert("L")


def _smaller(picture: Any) -> Any:
    from PIL import ImageOps

    for side in _SIDES:
        copy = picture.copy()
        copy.thumbnail((side, side))
        yield ImageOps.autocontrast(copy, cutoff=1)


def restrain() -> None:
    """Bound this process: memory, processor time, no file written, no core left behind."""
    for what, most in (
        (resource.RLIMIT_AS, _MEMORY_BYTES), (resource.RLIMIT_CPU, _PROCESSOR_S), (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):  # fmt: skip
        ceiling = resource.getrlimit(what)[1]
        limit = most if ceiling == resource.RLIM_INFINITY else min(most, ceiling)
        resource.setrlimit(what, (limit, limit))


def main() -> None:
    """Read the picture at standard input; say what was read at standard output."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which then ends us
    restrain()
    warnings.simplefilter("ignore")
    answer: dict[str, Any] = {"texts": [], "trouble": None}
    try:
        answer["texts"] = read_codes(sys.stdin.buffer.read())
    except MemoryError:
        answer["trouble"] = "it asks for more memory than a reader may use"
    except Exception as error:
        answer["trouble"] = " ".join(str(error).split())[:200] or type(error).__name__
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main()
