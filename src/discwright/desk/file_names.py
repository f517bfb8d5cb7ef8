"""Names of files that come from outside: made harmless, and put where nothing else lies."""

from __future__ import annotations

import errno
import os
import re
import shutil
import unicodedata
from pathlib import Path

from discwright.acts.new_title import AUDIO_ENDS
from discwright.errors import CallError

#: Most file systems take 255 bytes; a number or the mark of a half-written file still fits behind these.
_MOST_BYTES = 200
_SPOKEN_MARKS = frozenset("'’‘`\"“”")
#: Names that some systems keep for devices, whatever ending follows.
_RESERVED = re.compile(r"(con|prn|aux|nul|conin\$?|conout\$?|com[0-9]|lpt[0-9])")
#: Nothing is moved by a hard link where the file system or the border between two does not allow it.
_NO_LINK = (errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK, errno.EACCES, errno.EINVAL)


def clean_name(text: str) -> str:
    """A file name from whatever a sender calls the file; it is never a path.

    Only the last component counts. Letters of all scripts, digits, spaces and ``-_.`` stay, in composed form (NFC);
    everything else becomes a space or vanishes.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Between 5 and 200 bytes in UTF-8, with an ending of `AUDIO_ENDS`.

    Raises
    ------
    CallError
        If the ending is none of an accepted kind.
    """
    last = re.split(r"[/\\]", text)[-1]
    stem, dot, ending = _kept(last).rpartition(".")
    if not dot or f".{ending.lower()}" not in AUDIO_ENDS:
        raise CallError(f"Only audio can be sent here; choose a file that ends in {', '.join(AUDIO_ENDS)}.")
    # Cut before it is looked at, so that a cut cannot make a name that would not pass.
    stem = stem.lstrip(" .-").rstrip(" .")
    while len(stem.encode()) > _MOST_BYTES - len(ending) - 1:
        stem = stem[:-1]
    stem = stem.strip(" .") or "audio"
    plain = unicodedata.normalize("NFKC", stem.split(".")[0]).strip().casefold()
    return f"{'_' if _RESERVED.fullmatch(plain) else ''}{stem}.{ending}"


def _kept(text: str) -> str:
    """What may stand in a name, single-spaced."""
    letters: list[str] = []
    for letter in unicodedata.normalize("NFC", text[-1000:]):
        kind = unicodedata.category(letter)
        if letter in "-_." or kind[0] in "LN" or (kind in ("Mn", "Mc") and _carried(letter, letters)):
            letters.append(letter)
        elif kind not in ("Cc", "Cf", "Cs") and letter not in _SPOKEN_MARKS:
            letters.append(" ")
    # Composed again: what vanished may have stood between a letter and its mark.
    return unicodedata.normalize("NFC", " ".join("".join(letters).split()))


def _carried(mark: str, before: list[str]) -> bool:
    """A mark that belongs to a letter, as in many scripts; not one that only dresses a picture."""
    dressing = "\ufe00" <= mark <= "\ufe0f" or "\U000e0100" <= mark <= "\U000e01ef"
    return not dressing and bool(before) and before[-1] not in " -_."


def put_into(file: Path, folder: Path) -> Path:
    """Move a file into a folder; nothing that lies there is replaced.

    Parameters
    ----------
    file, folder : pathlib.Path
        Where the name is taken already, also in other letter case, a number is put behind it: `name 2.wav`.

    Returns
    -------
    pathlib.Path
        Where it lies now.

    Raises
    ------
    OSError
        If the folder is missing or cannot be written; the file is still where it was.
    """
    count = 1
    while True:
        name = file.name if count == 1 else f"{file.stem} {count}{file.suffix}"
        there = {_alike(one) for one in os.listdir(folder)}
        if _alike(name) not in there:
            try:
                _move(file, folder / name)
            except FileExistsError:  # somebody was faster
                pass
            else:
                return folder / name
        count += 1


def _alike(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def _move(file: Path, place: Path) -> None:
    """To another name that must be free, all at once or not at all."""
    try:
        # A link, unlike a rename, never takes the place of another file.
        os.link(file, place)
    except OSError as trouble:
        if trouble.errno == errno.EXDEV:
            part = place.with_name(f".{place.name}.part")
            try:
                shutil.copyfile(file, part)
                part.rename(place)
            finally:
                part.unlink(missing_ok=True)
        elif trouble.errno in _NO_LINK:
            file.rename(place)
            return
        else:
            raise
    file.unlink()
