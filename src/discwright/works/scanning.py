"""Scanners that type: the part's number out of whatever arrives, with any prefix, ending and keyboard.

A code holds the part's number and nothing else, but a scanner adds what it was set to add, and the computer reads its
keystrokes on the keyboard it believes to have. The check digit tells which reading is the right one.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass

from discwright.errors import CallError
from discwright.works.parts import read_number

#: More than this no scanner sends of a part.
MOST_LETTERS = 500
#: How a group separator arrives where it is not sent as itself.
_SEPARATORS = (
    "<GS>", "[GS]", "{GS}", "(GS)", "␝", "^]", "\\x1d", "\\u001d", "&#29;", "%1D", "<029>", "Alt+029", "Alt029",
    "\x1d", "\x1e", "\x1c", "\x04",
)  # fmt: skip
_SEPARATOR = re.compile("|".join(re.escape(one) for one in _SEPARATORS), re.IGNORECASE)
#: ISO/IEC 15424: a bracket, a letter for the symbology, a character for its variant.
_AIM = re.compile(r"\](?P<symbology>[A-Za-z])[0-9A-Za-z]")
_SYMBOLOGIES = {"Q": "QR code", "C": "Code 128", "d": "Data Matrix", "A": "Code 39", "z": "Aztec code"}
_GAP, _HYPHEN = r"[\s.:_\-‐‑‒–—−]", r"[\-‐‑‒–—−]"
#: With a hyphen just one digit follows it, whatever comes after. Without one all digits must belong to the number, and
#: no digit may follow at all: a hyphen that some keyboard made something else of would cut it short.
_WITH = re.compile(rf"(LA|MA|MO|ST|RU){_GAP}*([1-9][0-9]{{0,8}})\s*{_HYPHEN}\s*([0-9])")
_WITHOUT = re.compile(rf"(LA|MA|MO|ST|RU){_GAP}*([1-9][0-9]{{0,8}}){_GAP}*([0-9])(?![^A-Z0-9]{{0,2}}[0-9])")
#: Letter for letter, which is not so with all capitals: there are two in that of ß.
_CAPITALS = str.maketrans("abcdefghijklmnopqrstuvwxyz", "ABCDEFGHIJKLMNOPQRSTUVWXYZ")


@dataclass(frozen=True)
class Keyboard:
    """How a keyboard other than the scanner's own makes letters of its keystrokes.

    Attributes
    ----------
    words : str
        Whose keyboard, for people.
    came, sent : str
        What arrives, and what was sent, letter under letter.
    """

    words: str
    came: str
    sent: str

    def undone(self, text: str) -> str:
        """The text as it was sent.

        Parameters
        ----------
        text : str
        """
        return text.translate(str.maketrans(self.came, self.sent))


#: Digits, and what a scanner's own keyboard has above them: where digits need Shift, those were sent.
_DIGITS, _SHIFTED = "1234567890", "!@#$%^&*()"
#: Keyboards that change letters, digits or the hyphen of a part's number (from memory).
KEYBOARDS = (
    Keyboard("German", "ß?zyZY", "--yzYZ"),
    Keyboard("Swiss", "'?zyZY", "--yzYZ"),
    Keyboard("Czech", f"+ěščřžýáíé=zyZY{_DIGITS}", f"{_DIGITS}-yzYZ{_SHIFTED}"),
    Keyboard("French", f"&é\"'(-è_çà)qaQAwzWZ?,{_DIGITS}", f"{_DIGITS}-aqAQzwZWMm{_SHIFTED}"),
    Keyboard("Belgian", f"&é\"'(§è!çà)qaQAwzWZ?,{_DIGITS}", f"{_DIGITS}-aqAQzwZWMm{_SHIFTED}"),
    Keyboard("Nordic", "+", "-"),
    Keyboard("Spanish, Italian or Portuguese", "'", "-"),
    Keyboard("Hungarian", "üzyZY", "-yzYZ"),
)


@dataclass(frozen=True)
class Scan:
    """What was made of something scanned or typed.

    Attributes
    ----------
    raw : str
    number : str
        Of the part; empty where none was found.
    keyboard : str
        Whose keyboard had to be undone; empty where none.
    symbology : str
        Kind of code, where the scanner tells it.
    before, after : str
        What stood around the number, as it arrived.
    sentence : str
        Why there is no number; empty otherwise.
    """

    raw: str
    number: str = ""
    keyboard: str = ""
    symbology: str = ""
    before: str = ""
    after: str = ""
    sentence: str = ""


@dataclass(frozen=True)
class Code:
    """One character as it arrived.

    Attributes
    ----------
    shown : str
        The character, or a name in brackets for what cannot be seen.
    code : str
        For example ``U+001D``.
    name : str
    """

    shown: str
    code: str
    name: str


def read_scan(raw: str, prefix: str = "", suffix: str = "") -> Scan:
    """Find the part's number in what a scanner sent or somebody typed.

    Parameters
    ----------
    raw : str
    prefix, suffix : str
        What this device is known to add; taken away where it is there.

    Returns
    -------
    Scan
    """
    if len(raw) > MOST_LETTERS:
        return Scan(raw[:MOST_LETTERS], sentence="That is too long for a part's number; scan its code alone.")
    text = _bare(raw, prefix, suffix)
    aim = _AIM.search(text)
    symbology = _SYMBOLOGIES.get(aim["symbology"], "other code") if aim else ""
    text = _AIM.sub(" ", text, count=1) if aim else text
    for pattern in (_WITH, _WITHOUT):
        own = _numbers(pattern, text)
        others = {} if own else {one.words: _numbers(pattern, one.undone(text)) for one in KEYBOARDS}
        found = own.union(*others.values())
        if found:
            return _told(raw, found, next((words for words, numbers in others.items() if numbers), ""), symbology)
    return Scan(raw, symbology=symbology, sentence=_why_not(text))


def _bare(raw: str, prefix: str, suffix: str) -> str:
    """Without what the device adds, and with blanks for separators."""
    text = raw.removeprefix(prefix) if prefix else raw
    text = text.removesuffix(suffix) if suffix else text
    return _SEPARATOR.sub(" ", text)


def _numbers(pattern: re.Pattern[str], text: str) -> set[str]:
    """Every number in it whose check digit fits."""
    found: set[str] = set()
    for match in pattern.finditer(text.translate(_CAPITALS)):
        with suppress(CallError):
            found.add(read_number("".join(match.groups())))
    return found


def _told(raw: str, numbers: Iterable[str], keyboard: str, symbology: str) -> Scan:
    known = sorted(numbers)
    if len(known) > 1:
        return Scan(raw, symbology=symbology, sentence=f"{' and '.join(known[:2])} stand in it; scan one code alone.")
    before, after = _around(raw, known[0], next((one for one in KEYBOARDS if one.words == keyboard), None))
    return Scan(raw, known[0], keyboard, symbology, before, after)


def _around(raw: str, number: str, keyboard: Keyboard | None) -> tuple[str, str]:
    """What stands before and after the number in what arrived; each keyboard gives a letter for a letter."""
    sent = (keyboard.undone(raw) if keyboard is not None else raw).translate(_CAPITALS)
    letters, digits, last = number[:2], number[2:].split("-")[0], number[-1]
    match = re.search(rf"{letters}{_GAP}*{digits}{_GAP}*{last}", sent)
    return (raw[: match.start()], raw[match.end() :]) if match else ("", "")


def _why_not(text: str) -> str:
    """The sentence about what is no number: where it nearly is one, that of the number itself."""
    plain = text.translate(_CAPITALS)
    near = _WITH.search(plain) or _WITHOUT.search(plain)
    try:
        read_number("".join(near.groups()) if near else text)
    except CallError as trouble:
        sentence = str(trouble)
        return f"{sentence[:1].upper()}{sentence[1:]}"
    return ""


def codes(raw: str) -> tuple[Code, ...]:
    """What arrived, character by character.

    Parameters
    ----------
    raw : str
    """
    return tuple(_code(letter) for letter in raw[:MOST_LETTERS])


_NAMES = {
    "\t": "tabulator", "\n": "line feed", "\r": "return", "\x1d": "group separator", "\x02": "start of text",
    "\x03": "end of text", "\x04": "end of transmission", "\x1e": "record separator", "\x1c": "file separator",
    "\x00": "nothing", "\x1b": "escape",
}  # fmt: skip


def _code(letter: str) -> Code:
    name = _NAMES.get(letter) or unicodedata.name(letter, "no name").lower()
    visible = letter.isprintable() and not letter.isspace()
    return Code(letter if visible else f"({name})", f"U+{ord(letter):04X}", name)
