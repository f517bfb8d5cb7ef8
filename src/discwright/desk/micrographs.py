"""Photographs of cut lacquer that were measured at the desk, each in a folder of its own.

    FOLDER/.desk/micrographs/ID/about.json     what was said of it: scale, wanted width, place on a plan
                                photo/NAME     the photograph as it was sent
                                gauge.json     what was measured
                                gauge.png      the photograph with all of that drawn into it

Only the newest are kept: a photograph is measured again in a second.
"""

from __future__ import annotations

import re
import secrets
import shutil
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from discwright.desk.jobs import read_json, write_json
from discwright.desk.shelf import NotThereError
from discwright.errors import CallError

#: The largest photograph that is taken, bytes, and how many are kept.
MICROGRAPH_BYTES, KEPT = 48 << 20, 24
ABOUT, PHOTO, GAUGE, PICTURE = "about.json", "photo", "gauge.json", "gauge.png"
#: Letters of a file's name.
_MOST_LETTERS = 50
_ID = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True)
class Asked:
    """What was said of a photograph, as it was typed.

    Attributes
    ----------
    name : str
        Of the file; see :func:`plain_name`.
    um_per_pixel, wanted_um, turn : str
    plan : str
        Id of the plan it is held against; empty for none.
    walls : str
        ``"darker"``, ``"lighter"``, or empty where the photograph tells.
    part : str
        Number of the lacquer, where it is of one.
    at : str
        When, ISO 8601 in UTC.
    """

    name: str
    um_per_pixel: str
    wanted_um: str = ""
    plan: str = ""
    turn: str = ""
    walls: str = ""
    part: str = ""
    at: str = ""


@dataclass(frozen=True)
class Measured:
    """A photograph that was measured.

    Attributes
    ----------
    id : str
        Random; never a path.
    folder : pathlib.Path
    asked : Asked
    found : dict
        As `gauge --json` prints it.
    """

    id: str
    folder: Path
    asked: Asked
    found: dict[str, Any]

    @property
    def photograph(self) -> Path:
        """The file as it was sent."""
        return self.folder / PHOTO / self.asked.name


def plain_name(name: str) -> str:
    """What a sender calls a photograph, as the name of a file: never a path, and short enough for any disk.

    Parameters
    ----------
    name : str
    """
    last = re.split(r"[/\\]", name)[-1]
    plain = "".join(letter if letter.isalnum() or letter in "-_. " else " " for letter in last)
    return " ".join(plain.split())[-_MOST_LETTERS:].strip(" .-") or "photograph"


class Micrographs:
    """The photographs measured last.

    Parameters
    ----------
    place : pathlib.Path
        Folder they lie in; it is made with the first of them.
    """

    def __init__(self, place: Path) -> None:
        self.place = place

    def add(self, asked: Asked, packed: bytes, measure: Callable[[Path, Path], dict[str, Any]]) -> Measured:
        """Measure a photograph and keep it; what cannot be measured is not kept.

        Parameters
        ----------
        asked : Asked
        packed : bytes
            The photograph as it was sent.
        measure : callable
            Given the photograph and the picture to draw; what was found.

        Raises
        ------
        CallError
            If it cannot be measured or kept.
        """
        id_ = secrets.token_hex(8)
        part = self.place / f".new-{id_}"
        try:
            photograph = part / PHOTO / asked.name
            photograph.parent.mkdir(parents=True)
            photograph.write_bytes(packed)
            write_json(part / GAUGE, measure(photograph, part / PICTURE))
            write_json(part / ABOUT, asdict(asked))
            part.rename(self.place / id_)
        except OSError as trouble:
            raise CallError(f"the photograph cannot be kept ({trouble.strerror}); check the disk.") from None
        finally:
            shutil.rmtree(part, ignore_errors=True)
        for old in self.all()[KEPT:]:
            shutil.rmtree(old.folder, ignore_errors=True)
        return self.get(id_)

    def get(self, id_: str) -> Measured:
        """A photograph by its id.

        Parameters
        ----------
        id_ : str

        Raises
        ------
        NotThereError
        """
        found = self._read(id_) if _ID.fullmatch(id_) else None
        if found is None:
            raise NotThereError("this photograph is not here, or no longer; measure it once more.")
        return found

    def all(self) -> list[Measured]:
        """Those that are kept, newest first."""
        with suppress(OSError):
            names = [one.name for one in self.place.iterdir() if _ID.fullmatch(one.name)]
            found = [one for one in map(self._read, names) if one is not None]
            return sorted(found, key=lambda one: (one.asked.at, one.id), reverse=True)
        return []

    def _read(self, id_: str) -> Measured | None:
        folder = self.place / id_
        told, found = read_json(folder / ABOUT), read_json(folder / GAUGE)
        names = [one.name for one in fields(Asked)]
        if not told or not isinstance(found.get("width_um"), dict):
            return None
        if not all(isinstance(told.get(name, ""), str) for name in names):
            return None
        if told.get("name") != plain_name(told.get("name", "")):  # a folder may come from somebody else
            return None
        return Measured(id_, folder, Asked(**{name: told.get(name, "") for name in names}), found)
