"""Codes read from a photograph, for browsers that give no camera: in a child process, with limits on all it may use."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from discwright.errors import CallError

#: The largest photograph that is taken, bytes: above what telephones make.
PHOTO_BYTES = 12 << 20
_PROGRAM = str(Path(__file__).with_name("photo_decode.py"))
_WAIT_S = 30.0
_PASSED_ON = ("PATH", "HOME", "LANG", "LC_ALL", "TMPDIR", "LD_LIBRARY_PATH", "VIRTUAL_ENV")


def read_photo(packed: bytes) -> tuple[str, ...]:
    """The texts of the codes in a photograph, whichever way it is turned.

    Parameters
    ----------
    packed : bytes
        A JPEG, PNG or WebP as a telephone makes it.

    Returns
    -------
    tuple of str
        Empty where no code was found.

    Raises
    ------
    CallError
        If it is too large, is no picture, or takes too long.
    """
    if len(packed) > PHOTO_BYTES:
        raise CallError(f"the photograph has more than {PHOTO_BYTES >> 20} MiB; take it at a smaller size.")
    if not packed:
        raise CallError("no photograph arrived; take it again.")
    answer = _answer(packed)
    if answer.get("trouble") is not None:
        raise CallError("this is no photograph that can be read; send a JPEG, as the camera makes it.")
    return tuple(str(one) for one in answer["texts"])


def _answer(packed: bytes) -> dict[str, Any]:
    environment = {name: os.environ[name] for name in _PASSED_ON if name in os.environ}
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-B", _PROGRAM], input=packed, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            env=environment | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}, timeout=_WAIT_S, check=False,
        )  # fmt: skip
        answer: dict[str, Any] = json.loads(done.stdout)
    except subprocess.TimeoutExpired:
        raise CallError("the photograph took too long to look through; take a smaller one.") from None
    except OSError as trouble:
        raise CallError(f"no reader of codes could be started ({trouble.strerror}); close other programs.") from None
    except ValueError:
        raise CallError("the photograph could not be looked through; take it again, nearer to the code.") from None
    return answer
