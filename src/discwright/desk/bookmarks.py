"""Places of a disc that somebody wants to find again."""

from __future__ import annotations

import json
import os
import secrets
import threading
from dataclasses import asdict, dataclass
from pathlib import Path

from discwright.errors import CallError

#: Bookmarks of one plan.
MOST = 200
_writing = threading.Lock()


@dataclass(frozen=True)
class Bookmark:
    """One place.

    Attributes
    ----------
    id, words : str
    x_um, y_um : float
        Middle of the view, to the right and down from the disc's centre.
    wide_um : float
        Width of the view.
    """

    id: str
    words: str
    x_um: float
    y_um: float
    wide_um: float


def read_bookmarks(file: Path) -> list[Bookmark]:
    """Bookmarks in the order they were made.

    Parameters
    ----------
    file : pathlib.Path
    """
    try:
        return [Bookmark(**one) for one in json.loads(file.read_text(encoding="utf-8"))["bookmarks"]]
    except (OSError, ValueError, KeyError, TypeError):
        return []


def add_bookmark(file: Path, words: str, x_um: float, y_um: float, wide_um: float) -> Bookmark:
    """Remember a place.

    Parameters
    ----------
    file : pathlib.Path
    words : str
    x_um, y_um, wide_um : float

    Raises
    ------
    CallError
        If there are too many.
    """
    made = Bookmark(secrets.token_hex(6), words, x_um, y_um, wide_um)
    with _writing:
        kept = read_bookmarks(file)
        if len(kept) >= MOST:
            raise CallError(f"this side has {MOST} bookmarks already; delete some first.")
        _write(file, [*kept, made])
    return made


def drop_bookmark(file: Path, id_: str) -> bool:
    """Forget a place; False where nobody knew it.

    Parameters
    ----------
    file : pathlib.Path
    id_ : str
    """
    with _writing:
        kept = read_bookmarks(file)
        rest = [one for one in kept if one.id != id_]
        if len(rest) < len(kept):
            _write(file, rest)
    return len(rest) < len(kept)


def _write(file: Path, bookmarks: list[Bookmark]) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_name(f".{file.name}.part")
    text = json.dumps({"bookmarks": [asdict(one) for one in bookmarks]}, ensure_ascii=False, indent=1)
    part.write_text(text + "\n", encoding="utf-8", errors="backslashreplace")
    os.replace(part, file)
