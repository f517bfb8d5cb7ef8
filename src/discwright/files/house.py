"""House sets: disc format, lathe, head, tips and practice together in one TOML file, and what two sets differ in.

A set is written with bare values, the shortest that read back exactly, and read with the same strictness
as a file of one kind. The tables are those a plan keeps its settings under.
"""

from __future__ import annotations

import difflib
import json
import os
import stat
import tempfile
import tomllib
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from discwright.errors import CallError, SettingsError
from discwright.files.settings import build_entry, check_together, setup_as_plain
from discwright.groove.equipment import (
    CuttingTip,
    DiscFormat,
    Equipment,
    Head,
    Lathe,
    PlayingTip,
    Practice,
    Setup,
)

E = TypeVar("E", DiscFormat, Lathe, Head, CuttingTip, PlayingTip, Practice)

#: The tables of a set, in the order they are written.
TABLES: dict[str, type[Equipment]] = {
    "format": DiscFormat,
    "lathe": Lathe,
    "head": Head,
    "cutting_tip": CuttingTip,
    "tip": PlayingTip,
    "practice": Practice,
}
HEAD = "# A house set: all that a side is cut for and with. The unit of each value stands in its key.\n"


class Difference(NamedTuple):
    """One value that two plans or two setups do not share.

    Attributes
    ----------
    key : str
        Dotted, unit included: ``lathe.pitch_min_um``.
    old, new : str, number, bool or None
        None where there is no such key.
    """

    key: str
    old: Any
    new: Any


def save_house(path: Path, document: Mapping[str, Any]) -> None:
    """Write a house set; the file is whole or not there.

    Parameters
    ----------
    path : pathlib.Path
        Where; a house set that lies there is replaced, any other file is not.
    document : dict
        What :func:`discwright.files.settings.setup_as_plain` makes, or a whole plan, of which its settings are taken.

    Raises
    ------
    CallError
        If something else lies there, or the place cannot be written.
    SettingsError
        If the settings are no whole set.
    """
    settings = document.get("settings", document)
    if not isinstance(settings, Mapping):
        raise SettingsError("the settings are no tables; plan the side again.")
    tables = {key: value for key, value in settings.items() if key in TABLES}
    text = house_toml(setup_from_tables(tables, "the settings"))
    target = Path(os.path.realpath(path))
    _check_place(path, target, text)
    try:
        number, name = tempfile.mkstemp(prefix=".house.part-", dir=target.parent)
        part = Path(name)
        try:
            with os.fdopen(number, "w", encoding="utf-8", newline="") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            part.chmod(_mode(target))
            part.replace(target)
        finally:
            with suppress(FileNotFoundError):
                part.unlink()
    except OSError as trouble:
        raise CallError(f"{path}: cannot be written ({trouble.strerror}); choose another place.") from None


def load_house(path: Path) -> Setup:
    """Read a house set.

    Parameters
    ----------
    path : pathlib.Path

    Returns
    -------
    Setup

    Raises
    ------
    SettingsError
        If the file is missing, is no TOML, or has a wrong table, key, unit or value.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise SettingsError(f"{path}: there is no such house set; check the path.") from None
    except (OSError, UnicodeDecodeError) as trouble:
        why = trouble.strerror if isinstance(trouble, OSError) else "it is not UTF-8"
        raise SettingsError(f"{path}: cannot be read as text ({why}); check the file.") from None
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as trouble:
        raise SettingsError(f"{path}: is not valid TOML ({trouble}); mend that line.") from None
    return setup_from_tables(tables, str(path))


def house_toml(setup: Setup) -> str:
    """The text of a house set.

    Parameters
    ----------
    setup : Setup

    Raises
    ------
    CallError
        If a name cannot be written as text.
    """
    lines = [HEAD]
    for table, values in setup_as_plain(setup).items():
        lines.append(f"[{table}]\n")
        lines += [f"{key} = {_toml(value, f'{table}.{key}')}\n" for key, value in values.items()]
        lines.append("\n")
    return "".join(lines[:-1])


def setup_from_tables(tables: Mapping[str, Any], place: str) -> Setup:
    """A whole setup from its six tables, as strictly as from six files.

    Parameters
    ----------
    tables : dict
        One table under each key of `TABLES`, its name among its values; a key that files may leave out may be missing.
    place : str
        Where they come from, used in the refusal.

    Returns
    -------
    Setup

    Raises
    ------
    SettingsError
    """
    for key in tables:
        if key not in TABLES:
            near = difflib.get_close_matches(key, TABLES, 1, 0.5)
            hint = f"write [{near[0]}]" if near else f"a house set has {', '.join(f'[{name}]' for name in TABLES)}"
            raise SettingsError(f"{place}: has an unknown table “{key}”; {hint}.")
    setup = Setup(
        disc=_entry(DiscFormat, "format", tables, place),
        lathe=_entry(Lathe, "lathe", tables, place),
        head=_entry(Head, "head", tables, place),
        cutting_tip=_entry(CuttingTip, "cutting_tip", tables, place),
        tip=_entry(PlayingTip, "tip", tables, place),
        practice=_entry(Practice, "practice", tables, place),
    )
    try:
        check_together(setup)
    except SettingsError as trouble:
        raise SettingsError(f"{place}: {trouble}") from None
    return setup


def differences(a: Setup, b: Setup) -> tuple[Difference, ...]:
    """What would change from one setup to another.

    Parameters
    ----------
    a, b : Setup
        Before and after.

    Returns
    -------
    tuple of Difference
        In the order of the tables, values in the units of their keys; names count too.
    """
    return differ(setup_as_plain(a), setup_as_plain(b))


def differ(old: Any, new: Any, key: str = "") -> tuple[Difference, ...]:
    """What two trees of plain values differ in, leaf by leaf.

    Parameters
    ----------
    old, new : dict, list, str, number, bool or None
    key : str
        What the keys found are to begin with.

    Returns
    -------
    tuple of Difference
        In the order of `old`, what only `new` has behind it; entries of a list are counted from 1.
    """
    before, after = _leaves(old, key), _leaves(new, key)
    keys = [*before, *(name for name in after if name not in before)]
    pairs = ((name, before.get(name), after.get(name)) for name in keys)
    return tuple(Difference(name, a, b) for name, a, b in pairs if a != b or isinstance(a, bool) != isinstance(b, bool))


def _leaves(tree: Any, key: str) -> dict[str, Any]:
    if isinstance(tree, Mapping):
        branches = [(str(name), value) for name, value in tree.items()]
    elif isinstance(tree, list | tuple):
        branches = [(str(place), value) for place, value in enumerate(tree, 1)]
    else:
        return {key: tree}
    leaves: dict[str, Any] = {}
    for name, value in branches:
        leaves |= _leaves(value, f"{key}.{name}" if key else name)
    return leaves


def _entry(kind: type[E], word: str, tables: Mapping[str, Any], place: str) -> E:
    if word not in tables:
        raise SettingsError(f"{place}: lacks the table [{word}]; add it.")
    table = tables[word]
    if not isinstance(table, Mapping):
        raise SettingsError(f"{place}: {word} must be a table; got {table!r}: write [{word}] and its values below.")
    values = dict(table)
    name = values.pop("name", None)
    if not isinstance(name, str) or not name:
        raise SettingsError(f"{place}: [{word}] needs its name, a word in quotes; add it.")
    # Built under the table's own word, which is what a refusal names.
    return replace(build_entry(kind, word, values, place), name=name)


def _toml(value: str | float, key: str) -> str:
    if isinstance(value, str):
        if not value.isascii() and value != value.encode("utf-8", "replace").decode():
            raise CallError(f"{key}: {value!r} cannot be written as text; give it another name.")
        # A JSON string is a TOML one, but for this character.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    return repr(value)


def _check_place(path: Path, target: Path, text: str) -> None:
    """Refuse to put a set in the place of anything else."""
    try:
        if target.is_dir():
            raise CallError(f"{path}: is a folder, and a house set is a file; add a name that ends in .toml.")
        if not target.parent.is_dir():
            raise CallError(f"{path}: there is no folder {target.parent}; make it, or choose another place.")
        if not target.exists():
            return
        there = target.read_bytes()
    except OSError as trouble:
        raise CallError(f"{path}: cannot be written ({trouble.strerror}); choose another place.") from None
    if there != text.encode() and not _is_house(there):
        raise CallError(f"{path}: holds something other than a house set; choose another name.")


def _is_house(content: bytes) -> bool:
    """Six tables of the right names: a set, whatever its values."""
    try:
        tables = tomllib.loads(content.decode("utf-8"))
    except (ValueError, RecursionError):
        return False
    return set(tables) == set(TABLES) and all(isinstance(table, dict) for table in tables.values())


def _mode(target: Path) -> int:
    """Rights of the file that is replaced, or those any new file of the user's has."""
    with suppress(FileNotFoundError):
        return stat.S_IMODE(target.stat().st_mode)
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
