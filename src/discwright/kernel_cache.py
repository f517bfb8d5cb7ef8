"""Where compiled kernels are kept: the user's cache, in a folder named by their source.

Numba notices a changed file but not a changed callee in another file, and its default place is inside
the package, which breaks read-only installs. So all kernels live in one file, and the hash of that
file, of numba and of the Python version names the folder.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from pathlib import Path


def cache_root() -> Path:
    """The user's cache folder for discwright (``XDG_CACHE_HOME`` or ``~/.cache``)."""
    base = os.environ.get("XDG_CACHE_HOME")
    if base:
        return Path(base) / "discwright"
    try:
        return Path.home() / ".cache" / "discwright"
    except RuntimeError:  # no home: a service account
        return Path(tempfile.gettempdir()) / f"discwright-{os.getuid()}"


def kernel_folder(source: str, numba_version: str) -> Path | None:
    """A writable folder for the kernels compiled from `source`, or None where there is none.

    Parameters
    ----------
    source : str
        Path of the file that holds every kernel.
    numba_version : str

    Returns
    -------
    pathlib.Path or None
    """
    digest = hashlib.sha256(Path(source).read_bytes())
    digest.update(f"numba {numba_version} python {sys.version_info[:3]}".encode())
    name = f"kernels-{digest.hexdigest()[:16]}"
    for root in (cache_root(), Path(tempfile.gettempdir()) / f"discwright-{os.getuid()}"):
        folder = root / name
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError:
            continue
        if os.access(folder, os.W_OK) and folder.stat().st_uid == os.getuid():
            return folder
    return None
