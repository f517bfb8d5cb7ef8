"""A picture on the disk: written beside its place and renamed, whole or not there."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from discwright.errors import CallError


@contextmanager
def picture_file(path: Path) -> Iterator[Path]:
    """The name to write a picture under; it is renamed to its own when everything went well.

    Parameters
    ----------
    path : pathlib.Path
        What lies there already stays until the new one is whole.

    Yields
    ------
    pathlib.Path

    Raises
    ------
    CallError
        If it cannot be written.
    """
    part = path.with_name(f".{path.name}.part")
    try:
        yield part
        os.replace(part, path)
    except OSError as trouble:
        why = trouble.strerror or trouble
        raise CallError(f"{path}: cannot be written ({why}); check the folder and the disk.") from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
