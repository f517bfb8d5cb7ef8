"""A title file for audio that lies in a folder: a band for each file, in the order people count, and one edition."""

from __future__ import annotations

import os
import re
import tempfile
import unicodedata
from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path

from discwright.errors import CallError, TitleError
from discwright.files.audio import AudioHeader, read_head
from discwright.files.settings import load_setup
from discwright.files.title import load_title
from discwright.files.title_chunks import toml_text
from discwright.groove.equipment import Setup
from discwright.groove.room import silent_duration
from discwright.units import clock

#: What a title file is called where nothing else is said.
TITLE = "title.toml"
#: Ends of the names of audio files, small letters.
AUDIO_ENDS = (".wav", ".wave", ".rf64", ".bw64", ".aif", ".aiff", ".aifc", ".flac", ".ogg", ".oga", ".opus")
#: Longest id of a band.
_ID_MOST = 40
#: A number that files are sorted by, and what parts it from the name.
_COUNTED = re.compile(r"^\d{1,3}(?:[\s._)\]–—-]+|$)")
#: Discs at least this wide are called a long-player, m.
_LONG_PLAYER = 0.24


def new_title(
    folder: str | os.PathLike[str],
    name: str,
    files: Sequence[str] | None = None,
    *,
    format: str = "12in-33",
    path: str | os.PathLike[str] | None = None,
) -> Path:
    """Write a title file for the audio in a folder.

    Parameters
    ----------
    folder : str or os.PathLike
        Where the audio lies.
    name : str
        Of the title.
    files : sequence of str, optional
        Names in the folder; all of its audio files without. They become bands in natural order, 2 before 10.
    format : str
        Of its one edition: a name in `data/` or a TOML file.
    path : str or os.PathLike, optional
        Of the title file; `title.toml` in the folder without. A file that is there is never overwritten.

    Returns
    -------
    pathlib.Path
        The title file.

    Raises
    ------
    CallError
        If there is no audio, a band is too long for the format, a title file is there already or it cannot be written.
    AudioError
        If a file cannot be read as audio.
    SettingsError
        If the format's file cannot be used.
    """
    root = Path(folder)
    place = root / TITLE if path is None else Path(path)
    if place.exists() or place.is_symlink():
        raise _there(place)
    if not name.strip():
        raise CallError("a title needs a name; give it one.")
    setup = load_setup(format)
    names = audio_in(root) if files is None else sorted(files, key=_counted)
    if not names:
        raise CallError(f"{root}: holds no audio file ({', '.join(AUDIO_ENDS)}); put the bands there first.")
    heads = [read_head(root / one) for one in names]
    for one, head in zip(names, heads, strict=True):
        _check_length(one, head, setup)
    called = [band_name(one) for one in names]
    paths = [Path(os.path.relpath(root / one, place.parent)).as_posix() for one in names]
    text = _text(name.strip(), list(zip(unique_ids(called), called, paths, strict=True)), format, place, setup)
    _write(place, text)
    return place


def audio_in(folder: Path) -> list[str]:
    """Names of the audio files that lie in a folder, 2 before 10.

    Parameters
    ----------
    folder : pathlib.Path

    Raises
    ------
    CallError
        If it is no folder that can be read.
    """
    try:
        found = [one.name for one in folder.iterdir() if one.suffix.lower() in AUDIO_ENDS and one.is_file()]
    except OSError as trouble:
        raise CallError(f"{folder}: cannot be read as a folder ({trouble.strerror}); name another.") from None
    return sorted((one for one in found if not one.startswith(".")), key=_counted)


def band_name(file: str) -> str:
    """What a band is called by its file: without the number it is sorted by, `01 - Mooring.wav` is Mooring.

    Parameters
    ----------
    file : str
    """
    stem = " ".join(Path(file).stem.replace("_", " ").split())
    return _COUNTED.sub("", stem).strip() or stem or file


def unique_ids(names: Iterable[str]) -> list[str]:
    """A short name for each, of letters, digits and hyphens, no two alike.

    Parameters
    ----------
    names : iterable of str
    """
    ids: list[str] = []
    for place, name in enumerate(names, 1):
        plain = unicodedata.normalize("NFKD", name.casefold()).encode("ascii", "ignore").decode().replace("'", "")
        slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_ID_MOST].strip("-") or f"band-{place}"
        one, count = slug, 1
        while one in ids:
            count += 1
            end = f"-{count}"
            one = slug[: _ID_MOST - len(end)].strip("-") + end
        ids.append(one)
    return ids


def _counted(name: str) -> tuple[tuple[int, int, str], ...]:
    """A key that puts 2 before 10, whatever is capital."""
    parts = re.findall(r"\d+|\D+", name.casefold())
    return (
        *((0, int(part), "") if part.isdecimal() and part.isascii() else (1, 0, part) for part in parts),
        (2, 0, name),
    )


def _check_length(name: str, head: AudioHeader, setup: Setup) -> None:
    duration, longest = head.frames / head.sample_rate_hz, silent_duration(setup)
    if duration > longest:
        raise CallError(
            f"{name} lasts {clock(duration)}, and even silence fills a side of {setup.disc.name} in {clock(longest)}; "
            "bring it in shorter files, or choose a format with longer sides."
        )


def _text(name: str, bands: Sequence[tuple[str, str, str]], format: str, place: Path, setup: Setup) -> str:
    wide = setup.disc.disc_diameter >= _LONG_PLAYER
    own = Path(format)
    form = Path(os.path.relpath(own, place.parent)).as_posix() if own.is_file() else format
    rows = [
        "# A title: its bands, and the edition they go out in. All that may stand here: discwright layout --new FILE",
        "[title]",
        f"name = {toml_text(name)}",
        '# catalogue = ""      # catalogue number; the matrix number is made of it',
        "# people = []         # performers and engineers, as they should stand on the sheet",
    ]
    for id_, called, file in bands:
        rows += ["", "[[band]]", f"id = {toml_text(id_)}", f"name = {toml_text(called)}", f"file = {toml_text(file)}"]
    rows += [
        "",
        "# `layout` chooses the sides until they stand here as [[edition.side]].",
        "[[edition]]",
        f"id = {toml_text('lp' if wide else 'single')}",
        f"format = {toml_text(form)}",
        'level = "fit"',
    ]
    return "\n".join(rows) + "\n"


def _write(place: Path, text: str) -> None:
    """Write beside, read back, and put it in its place unless something has come there meanwhile."""
    try:
        raw = text.encode("utf-8")
    except UnicodeEncodeError:
        raise CallError(f"{place}: a file here has a name that cannot be written as text; rename it.") from None
    try:
        number, temporary = tempfile.mkstemp(prefix=f".{place.name}.part-", dir=place.parent)
        part = place.with_name(Path(temporary).name)
        try:
            with os.fdopen(number, "wb") as file:
                file.write(raw)
                file.flush()
                os.fsync(file.fileno())
            _check(part)
            mask = os.umask(0)
            os.umask(mask)
            part.chmod(0o666 & ~mask)
            _put(part, place)
        finally:
            with suppress(FileNotFoundError):
                part.unlink()
    except FileExistsError:
        raise _there(place) from None
    except OSError as trouble:
        raise CallError(f"{place}: cannot be written ({trouble.strerror}); choose another place.") from None


def _put(part: Path, place: Path) -> None:
    """A link never takes another's place, as a rename would; where there are none the place is taken first."""
    try:
        os.link(part, place)
    except FileExistsError:
        raise
    except OSError:
        place.open("x").close()
        part.replace(place)


def _check(part: Path) -> None:
    try:
        load_title(part)
    except TitleError as trouble:
        sentence = trouble.faults[0].removeprefix(f"{part}:").lstrip("0123456789").removeprefix(": ")
        raise CallError(f"no title can be made of these files: {sentence}") from None


def _there(place: Path) -> CallError:
    return CallError(f"{place}: is there already and stays as it is; choose another name.")
