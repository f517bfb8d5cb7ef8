"""What lies in the opened folder: title files, kept plans, what-ifs, folders of audio; each by an id that is no path.

An id is looked up in what was found, never turned back into a path, so nothing outside the folder can be reached.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import time
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from discwright.acts.new_title import AUDIO_ENDS
from discwright.errors import DiscwrightError, TitleError
from discwright.files.compare import read_plan
from discwright.files.plans import PLAN
from discwright.files.title import load_title
from discwright.programme.title import Title

#: The desk's own folder within the opened one.
OWN = ".desk"
#: Folders below the opened one that are looked into.
DEPTH = 3
#: What is found is believed for so long, s: a page asks several times.
_BELIEVED_S = 0.5
#: A note of a what-if without a plan may belong to a job that still waits, s.
_NOTE_FOR_S = 24 * 3600.0
_SAFE = re.compile(r"[^A-Za-z0-9_.~-]+")


class NotThereError(DiscwrightError):
    """What was asked for is not in the folder, or no longer."""


@dataclass(frozen=True)
class KeptPlan:
    """A kept plan or a what-if.

    Attributes
    ----------
    id : str
    folder : pathlib.Path
    document : dict
        What `plan.json` holds.
    made : datetime
        UTC.
    base : str
        Of a what-if: id of the plan it was made from; empty otherwise.
    dropped : bool
        A what-if that was put aside.
    """

    id: str
    folder: Path
    document: dict[str, Any]
    made: datetime
    base: str = ""
    dropped: bool = False

    @property
    def what_if(self) -> bool:
        """Neither kept nor a plan of its own."""
        return bool(self.base)

    @property
    def name(self) -> str:
        """As a person knows it."""
        title = self.document.get("title")
        return f"{title['edition']} side {title['side']}" if title else self.folder.name

    @property
    def cache_key(self) -> str:
        """Names what was computed for this very plan."""
        return cache_key(self.document)


@dataclass(frozen=True)
class KeptTitle:
    """A title file.

    Attributes
    ----------
    id : str
    path : pathlib.Path
    sha256 : str
    title : Title or None
        None where it has faults.
    faults : tuple of str
    """

    id: str
    path: Path
    sha256: str
    title: Title | None
    faults: tuple[str, ...] = ()


@dataclass(frozen=True)
class AudioFolder:
    """A folder with audio and no title file.

    Attributes
    ----------
    id : str
    path : pathlib.Path
    files : tuple of pathlib.Path
    """

    id: str
    path: Path
    files: tuple[Path, ...]


@dataclass(frozen=True)
class Found:
    """Everything in the folder at one moment, by id."""

    titles: dict[str, KeptTitle]
    plans: dict[str, KeptPlan]
    loose: dict[str, AudioFolder]


@dataclass
class Shelf:
    """The opened folder.

    Attributes
    ----------
    folder : pathlib.Path
    """

    folder: Path
    _files: dict[Path, tuple[tuple[int, int], Any]] = field(default_factory=dict)
    _found: Found | None = None
    _when: float = 0.0

    @property
    def own(self) -> Path:
        """Where the desk keeps its own things."""
        return self.folder / OWN

    def found(self) -> Found:
        """Titles, plans and folders of audio as they are now."""
        if self._found is None or time.monotonic() > self._when + _BELIEVED_S:
            self._found, self._when = self._look(), time.monotonic()
        return self._found

    def forget(self) -> None:
        """Look again at the next question: something was just changed."""
        self._found = None

    def title(self, id_: str) -> KeptTitle:
        """A title by its id.

        Raises
        ------
        NotThereError
        """
        found = self.found().titles.get(id_)
        if found is None:
            raise NotThereError("this title is not in the folder, or no longer; go back to the list of titles.")
        return found

    def plan(self, id_: str) -> KeptPlan:
        """A plan by its id.

        Raises
        ------
        NotThereError
        """
        found = self.found().plans.get(id_)
        if found is None:
            raise NotThereError("this plan is not in the folder, or no longer; go back to the list of titles.")
        return found

    def plans_of(self, title: KeptTitle, edition: str, letter: str) -> list[KeptPlan]:
        """Kept plans of one side, newest first, what-ifs and dropped ones not among them."""
        return [one for one in self.all_plans_of(title) if not one.what_if and _is_side(one, edition, letter)]

    def all_plans_of(self, title: KeptTitle) -> list[KeptPlan]:
        """Every plan of a title, newest first: those that lie where its file lies and carry its name."""
        name = title.title.name if title.title is not None else None
        plans = [
            one
            for one in self.found().plans.values()
            if one.document.get("title", {}).get("name") == name and (one.what_if or self.title_of(one) == title)
        ]
        return sorted(plans, key=lambda one: one.made, reverse=True)

    def title_of(self, plan: KeptPlan) -> KeptTitle | None:
        """The title file a plan belongs to: of its name, the nearest above it."""
        label = plan.document.get("title")
        if not label:
            return None
        if plan.what_if:
            base = self.found().plans.get(plan.base)
            return None if base is None else self.title_of(base)
        fits = [one for one in self.found().titles.values() if one.title and one.title.name == label["name"]]
        above = [one for one in fits if one.path.parent in plan.folder.parents]
        return max(above or fits, key=lambda one: len(one.path.parts), default=None)

    def siblings(self, plan: KeptPlan) -> list[KeptPlan]:
        """All plans of the same side, this one among them, newest first; what is dropped last."""
        label = plan.document.get("title")
        plans = list(self.found().plans.values())
        if label:
            title = self.title_of(plan)
            same = [
                one
                for one in plans
                if one.document.get("title") and _is_side(one, label["edition"], label["side"])
                and one.document["title"]["name"] == label["name"] and self.title_of(one) == title
            ]  # fmt: skip
        else:
            root = plan.base or plan.id
            same = [one for one in plans if root in (one.id, one.base)]
        newest = sorted(same, key=lambda one: one.made, reverse=True)
        return sorted(newest, key=lambda one: one.dropped)

    def new_what_if(self, base: KeptPlan) -> Path:
        """A place for a what-if of a plan; the note of where it comes from is written at once."""
        place = self.own / "whatifs"
        place.mkdir(parents=True, exist_ok=True)
        number = 1
        while True:
            out = place / f"{base.base or base.id}.{number}"
            note = out.with_name(out.name + ".json")
            with suppress(FileExistsError), note.open("x", encoding="utf-8") as file:
                json.dump({"base": base.base or base.id}, file)
                return out
            number += 1

    def keep(self, plan: KeptPlan) -> Path:
        """Put a what-if beside the plans of its side; nothing is overwritten.

        Returns
        -------
        pathlib.Path
            Its new folder.
        """
        base = self.plan(plan.base)
        out = free_place(base.folder.parent, _stem(base))
        plan.folder.rename(out)
        self._note(plan).unlink(missing_ok=True)
        self.forget()
        return out

    def drop(self, plan: KeptPlan, dropped: bool = True) -> None:
        """Put a what-if aside, or bring it back."""
        note = self._note(plan)
        part = note.with_suffix(".part")
        part.write_text(json.dumps({"base": plan.base, "dropped": dropped}), encoding="utf-8")
        os.replace(part, note)
        self.forget()

    def id_of(self, folder: Path) -> str:
        """Id of a plan's folder."""
        return _id(folder.relative_to(self.folder)) if self.own not in folder.parents else f"whatif-{folder.name}"

    def cache(self, plan: KeptPlan) -> Path:
        """Where what is computed for looking at a plan is kept."""
        return self.own / "cache" / plan.cache_key

    def tidy(self, most: int = 12) -> None:
        """Drop what was computed for all but the plans looked at last, and notes of what-ifs that came to nothing."""
        kept = [one for one in (self.own / "cache").glob("*") if one.is_dir()]
        for one in sorted(kept, key=lambda place: place.stat().st_mtime, reverse=True)[most:]:
            shutil.rmtree(one, ignore_errors=True)
        for note in (self.own / "whatifs").glob("*.json"):
            with suppress(OSError):
                if not note.with_suffix("").exists() and time.time() - note.stat().st_mtime > _NOTE_FOR_S:
                    note.unlink()

    def _note(self, plan: KeptPlan) -> Path:
        return plan.folder.with_name(plan.folder.name + ".json")

    def _look(self) -> Found:
        titles: dict[str, KeptTitle] = {}
        plans: dict[str, KeptPlan] = {}
        loose: dict[str, AudioFolder] = {}
        for place, names in _walk(self.folder, DEPTH):
            if PLAN in names:
                self._add_plan(plans, place, _id(place.relative_to(self.folder)))
                continue
            found = [one for one in names if one.endswith(".toml") and self._is_title(place / one)]
            for name in found:
                path = place / name
                id_ = _id(path.relative_to(self.folder).with_suffix(""))
                titles[id_] = self._title(path, id_)
            sounds = tuple(place / name for name in names if name.lower().endswith(AUDIO_ENDS))
            if sounds and not found and place != self.folder:
                id_ = _id(place.relative_to(self.folder))
                loose[id_] = AudioFolder(id_, place, sounds)
        for note in sorted((self.own / "whatifs").glob("*.json")):
            with suppress(OSError, ValueError, KeyError, TypeError):
                facts = json.loads(note.read_text(encoding="utf-8"))
                folder = note.with_suffix("")
                if (folder / PLAN).is_file():
                    self._add_plan(
                        plans, folder, f"whatif-{folder.name}", str(facts["base"]), bool(facts.get("dropped"))
                    )
        return Found(titles, plans, loose)

    def _add_plan(
        self, plans: dict[str, KeptPlan], folder: Path, id_: str, base: str = "", aside: bool = False
    ) -> None:
        file = folder / PLAN
        try:
            document = self._read(file, lambda: read_plan(folder))
            if not {"fingerprint", "spiral_sha256"} <= set(document):
                return
            made = datetime.fromtimestamp(file.stat().st_mtime, UTC)
        except (DiscwrightError, OSError):
            return
        plans[id_] = KeptPlan(id_, folder, document, made, base, aside)

    def _title(self, path: Path, id_: str) -> KeptTitle:
        try:
            sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
            title = load_title(path)
        except TitleError as trouble:
            return KeptTitle(id_, path, sha256, None, trouble.faults)
        except (DiscwrightError, OSError) as trouble:
            return KeptTitle(id_, path, "", None, (str(trouble),))
        return KeptTitle(id_, path, sha256, title)

    def _is_title(self, path: Path) -> bool:
        def read() -> bool:
            text = path.read_bytes()[: 1 << 16]
            return re.search(rb"^\s*\[\s*title\s*\]", text, re.MULTILINE) is not None

        try:
            found: bool = self._read(path, read)
        except OSError:
            return False
        return found

    def _read(self, path: Path, read: Any) -> Any:
        """Read a file once for every time it changes."""
        status = path.stat()
        mark = (status.st_mtime_ns, status.st_size)
        known = self._files.get(path)
        if known is None or known[0] != mark:
            known = self._files[path] = (mark, read())
        return known[1]


def cache_key(document: Mapping[str, Any]) -> str:
    """Names what was computed for one plan: by its fingerprint and its spiral.

    Parameters
    ----------
    document : dict
        What its `plan.json` holds.
    """
    return f"{document['fingerprint'][:16]}-{document['spiral_sha256'][:16]}"


def free_place(folder: Path, name: str) -> Path:
    """A folder of this name, or with -2, -3 … after it: one that is not there yet.

    Parameters
    ----------
    folder : pathlib.Path
    name : str
    """
    number, place = 1, folder / name
    while place.exists():
        number += 1
        place = folder / f"{name}-{number}"
    return place


def _stem(plan: KeptPlan) -> str:
    label = plan.document.get("title")
    return f"{label['edition']}-{label['side']}" if label else plan.folder.name


def _is_side(plan: KeptPlan, edition: str, letter: str) -> bool:
    label = plan.document.get("title", {})
    return bool(label.get("edition") == edition and label.get("side") == letter)


def _walk(folder: Path, depth: int) -> Iterator[tuple[Path, list[str]]]:
    """Folders with their files, hidden ones and links to elsewhere left out."""
    try:
        entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
    except OSError:
        return
    yield folder, [entry.name for entry in entries if _is_plain(entry, False)]
    if depth > 0:
        for entry in entries:
            if _is_plain(entry, True):
                yield from _walk(Path(entry.path), depth - 1)


def _is_plain(entry: os.DirEntry[str], folder: bool) -> bool:
    if entry.name.startswith("."):
        return False
    try:
        return entry.is_dir(follow_symlinks=False) if folder else entry.is_file(follow_symlinks=False)
    except OSError:
        return False


def _id(relative: Path) -> str:
    """An id from a path below the folder: plain where the path is plain, with a hash where letters had to go."""
    text = relative.as_posix()
    plain = _SAFE.sub("-", text.replace("~", "-").replace("/", "~")).strip("-.~") or "side"
    if plain == text.replace("/", "~") and "~" not in text and not text.startswith("whatif-"):
        return plain
    return f"{plain[:60]}-{hashlib.sha256(os.fsencode(text)).hexdigest()[:8]}"
