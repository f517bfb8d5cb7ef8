"""Photographs to be measured: read in a child process, with limits on all it may use."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from discwright.errors import CallError

#: The largest file that is read, bytes.
MOST_BYTES = 200 << 20
_PROGRAM = str(Path(__file__).with_name("micrograph_decode.py"))
_WAIT_S = 60.0
_PASSED_ON = ("PATH", "HOME", "LANG", "LC_ALL", "TMPDIR", "LD_LIBRARY_PATH", "VIRTUAL_ENV", "PYTHONPATH")


@dataclass(frozen=True)
class Micrograph:
    """A photograph in greys.

    Attributes
    ----------
    grey : ndarray, shape (rows, columns), float32
        1 = white.
    reduced : int
        Pixels of the file that stand for one of these, either way.
    """

    grey: NDArray[np.float32]
    reduced: int


def read_micrograph(path: Path) -> Micrograph:
    """Read a photograph.

    Parameters
    ----------
    path : pathlib.Path
        JPEG, PNG, TIFF, BMP or WebP.

    Returns
    -------
    Micrograph

    Raises
    ------
    CallError
        If it is missing, no picture, too large, or takes too long.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise CallError(f"{path}: has more than {MOST_BYTES >> 20} MiB; save the photograph as PNG or JPEG.")
        packed = path.read_bytes()
    except OSError as trouble:
        raise CallError(f"{path}: cannot be read ({trouble.strerror}); name a photograph.") from None
    return unpack(packed, str(path))


def unpack(packed: bytes, name: str) -> Micrograph:
    """The greys of a photograph that has been read.

    Parameters
    ----------
    packed : bytes
    name : str
        For sentences.

    Raises
    ------
    CallError
    """
    head, greys = _answer(packed, name)
    if head.get("trouble") is not None:
        raise CallError(f"{name}: is no picture that can be read; save the photograph as PNG, TIFF or JPEG.")
    kind: type[np.float32] | type[np.uint8] = np.float32 if head["deep"] else np.uint8
    shape = (int(head["rows"]), int(head["columns"]))
    grey = np.frombuffer(greys, kind).reshape(shape).astype(np.float32)
    return Micrograph(grey / np.float32(head["white"]), int(head["reduced"]))


def _answer(packed: bytes, name: str) -> tuple[dict[str, Any], bytes]:
    environment = {key: os.environ[key] for key in _PASSED_ON if key in os.environ}
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-B", _PROGRAM], input=packed, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            env=environment | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}, timeout=_WAIT_S, check=False,
        )  # fmt: skip
        line, _, greys = done.stdout.partition(b"\n")
        head: dict[str, Any] = json.loads(line)
    except subprocess.TimeoutExpired:
        raise CallError(f"{name}: took too long to unpack; save the photograph at a smaller size.") from None
    except OSError as trouble:
        raise CallError(f"no reader of pictures could be started ({trouble.strerror}); close other programs.") from None
    except ValueError:
        raise CallError(f"{name}: could not be unpacked; save the photograph as PNG, TIFF or JPEG.") from None
    return head, greys
