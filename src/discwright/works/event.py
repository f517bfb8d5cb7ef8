"""What every event of the ledger is made of: its fields, the words for them, the note that any of them may carry."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field
from typing import Any, ClassVar

from discwright.errors import CallError

#: A table of names and plain values.
Plain = dict[str, Any]
#: Longest text of one field: a note is a note.
MOST_LETTERS = 2000


def told(
    words: str, default: Any = MISSING, units: Mapping[str, float] | None = None,
    read: Callable[[object, str], Any] | None = None,
) -> Any:  # fmt: skip
    """A field of an event.

    Parameters
    ----------
    words : str
        What it is, for people.
    default : Any
        Left out where it must be given.
    units : mapping of str to float, optional
        Units in which it may be given as `value`, and the factor of each to the field's own.
    read : callable, optional
        Holds what is said against what can be said, where its type alone does not tell; raises CallError.
    """
    meta = {"words": words, "units": dict(units or {}), "read": read}
    return field(metadata=meta) if default is MISSING else field(metadata=meta, default=default)


def read_hash(value: object, what: str) -> str:
    """A SHA-256 as it is written, or nothing.

    Parameters
    ----------
    value : object
    what : str
        For the sentence.

    Raises
    ------
    CallError
    """
    text = str(value)
    if text and (len(text) != 64 or not set(text) <= set("0123456789abcdef")):
        raise CallError(f"{what}: is no SHA-256; write its 64 digits from 0 to f.")
    return text


@dataclass(frozen=True, kw_only=True)
class Event:
    """Anything that happened.

    Attributes
    ----------
    note : str
    """

    kind: ClassVar[str] = ""
    words: ClassVar[str] = ""
    #: Can be entered by name with `record`; the others have a verb of their own.
    recordable: ClassVar[bool] = True
    note: str = told("anything worth knowing", "")
