"""New titles out of audio that was sent or lies in the folder."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from pathlib import Path

from discwright.acts.new_title import new_title
from discwright.desk.file_names import put_into
from discwright.desk.shelf import NotThereError, Shelf, free_place
from discwright.errors import CallError

#: A folder's name is no longer than this.
_MOST_LETTERS = 60


def title_of_folder(shelf: Shelf, fields: Mapping[str, str]) -> str:
    """Make a title of a folder of audio that lies in the opened one.

    Parameters
    ----------
    shelf : Shelf
    fields : mapping
        folder: its id; name, format: as wanted, or empty.

    Returns
    -------
    str
        Id of the title.

    Raises
    ------
    NotThereError, CallError, AudioError
    """
    loose = shelf.found().loose.get(fields.get("folder", ""))
    if loose is None:
        raise NotThereError("this folder of audio is not there, or is a title already; load the page again.")
    name = _name(fields.get("name") or loose.path.name)
    path = new_title(loose.path, name, format=_format(fields))
    return _id_of(shelf, path)


def title_of_files(shelf: Shelf, name: str, files: Sequence[Path], format: str) -> str:
    """Make a title of files, which are moved into a new folder of the opened one: all of them or none.

    Parameters
    ----------
    shelf : Shelf
    name : str
    files : sequence of pathlib.Path
        They become bands in the natural order of their names, 2 before 10.
    format : str

    Returns
    -------
    str
        Id of the title.

    Raises
    ------
    CallError, AudioError
    """
    place = free_place(shelf.folder, folder_name(name))
    place.mkdir()
    moved: list[tuple[Path, Path]] = []
    try:
        for file in files:
            moved.append((put_into(file, place), file))  # noqa: PERF401 - what was moved is known if one fails
        path = new_title(place, _name(name), [new.name for new, _ in moved], format=_format({"format": format}))
    except BaseException:
        for new, old in moved:
            new.rename(old)
        place.rmdir()
        raise
    return _id_of(shelf, path)


def folder_name(name: str) -> str:
    """A title's name as that of a folder: letters and digits of any script, and hyphens.

    Parameters
    ----------
    name : str
    """
    plain = unicodedata.normalize("NFC", name).lower()
    plain = re.sub(r"[^\w]+", "-", plain).strip("-_")[:_MOST_LETTERS].strip("-_")
    return plain or "title"


def _name(name: str) -> str:
    clean = " ".join("".join(c for c in name if unicodedata.category(c)[0] != "C" or c in "\t\n").split())
    if not clean:
        raise CallError("a title needs a name; type one.")
    return clean[:200]


def _format(fields: Mapping[str, str]) -> str:
    wanted = fields.get("format") or "12in-33"
    if "/" in wanted or "\\" in wanted or wanted.endswith(".toml"):
        raise CallError("a page can only choose a format that comes with the program; choose one of the list.")
    return wanted


def _id_of(shelf: Shelf, path: Path) -> str:
    shelf.forget()
    return next(one.id for one in shelf.found().titles.values() if one.path.resolve() == path.resolve())
