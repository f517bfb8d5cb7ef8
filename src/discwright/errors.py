"""The exceptions of discwright: only for broken calls and broken files.

    DiscwrightError
    ├── CallError         an option, name or number that cannot be used
    ├── SettingsError     a TOML file that cannot be used
    ├── AudioError        an audio file that cannot be read to its end
    ├── SolverError       the solver did not return the optimum it was asked for
    └── LedgerError       a ledger that cannot be opened, read or written

Trouble in the *music* is never an exception: it is a :class:`discwright.findings.Finding`.
Every message is one sentence that says what is wrong and ends with what to do.
"""

from __future__ import annotations


class DiscwrightError(Exception):
    """Anything discwright refuses; the message is meant for a person."""


class CallError(DiscwrightError):
    """A wrong call: an unknown name, a number out of range, options that exclude each other."""


class SettingsError(DiscwrightError):
    """A settings file with a wrong key, unit or value."""


class AudioError(DiscwrightError):
    """An audio file that is missing, broken, shorter than it says or not fit for a disc."""


class SolverError(DiscwrightError):
    """The linear solver stopped without an optimum; the status is in the message."""


class LedgerError(DiscwrightError):
    """A ledger that is missing, broken, full, newer than this program, or out of reach."""


class TitleError(SettingsError):
    """A title file holds faults, each told in a sentence of its own.

    Attributes
    ----------
    faults : tuple of str
        File, line, what is wrong and what to do.
    """

    def __init__(self, faults: tuple[str, ...]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults
