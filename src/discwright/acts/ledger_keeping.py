"""Keeping the ledger: is it whole, backups and whether they can be relied on, all of it out as text and in again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC
from pathlib import Path

from discwright.works.store.backup import Backup
from discwright.works.store.backup import back_up as _back_up
from discwright.works.store.export import Moved, export_text, import_text
from discwright.works.store.ledger import Ledger
from discwright.works.store.restore import Drill, Restored
from discwright.works.store.restore import drill as _drill
from discwright.works.store.restore import restore as _restore
from discwright.works.store.verify import Verified, verify

Progress = Callable[[str, float], None]


def _silent(words: str, done: float) -> None:
    del words, done


def verify_ledger(ledger: Ledger, *, head: str = "", progress: Progress = _silent) -> Verified:
    """Hash every line again, and work everything out again.

    Parameters
    ----------
    ledger : Ledger
    head : str
        Hash from a card or a backup, whole or at least its first twelve digits. Without it, a tail that was cut off
        or a history that was rewritten whole is not seen.
    progress : callable
        Told what is done, and how much of it from 0 to 1.

    Raises
    ------
    CallError
        If the head is none.
    LedgerError
    """
    return verify(ledger, head=head, tell=progress)


def backup_name(ledger: Ledger) -> str:
    """What a backup is called where nobody names it: the time, and the beginning of the head.

    Parameters
    ----------
    ledger : Ledger
    """
    now = ledger.clock().astimezone(UTC)
    lines, head = ledger.head()
    return f"works-{now:%Y-%m-%d-%H%M%S}-{lines}-{head[:12]}.sqlite"


def back_up(ledger: Ledger, out: Path, *, progress: Progress = _silent) -> Backup:
    """Back the ledger up while it is used; the backup is opened and verified before it counts.

    Parameters
    ----------
    ledger : Ledger
    out : pathlib.Path
        File to make, or a folder for one with a name of its own.
    progress : callable

    Raises
    ------
    LedgerError
        If the file is there, cannot be written, or the ledger does not hold; nothing is kept then.
    """
    return _back_up(ledger, out / backup_name(ledger) if out.is_dir() else out, tell=progress)


def restore(backup: Path, address: str, *, progress: Progress = _silent) -> Restored:
    """Bring a backup back, into a place where no ledger is yet.

    Parameters
    ----------
    backup : pathlib.Path
    address : str
    progress : callable

    Raises
    ------
    LedgerError
        If the backup is broken or the place is taken; the place is then as it was before.
    """
    return _restore(backup, address, tell=progress)


def drill(ledger: Ledger | None, backup: Path, *, progress: Progress = _silent) -> Drill:
    """Restore a backup for practice, and note in the ledger whether it can be relied on.

    Parameters
    ----------
    ledger : Ledger or None
        The one that the backup is of.
    backup : pathlib.Path
    progress : callable

    Raises
    ------
    LedgerError
        If there is no such file; a backup that is not good is no exception (see :attr:`Drill.wrong`).
    """
    return _drill(ledger, backup, tell=progress)


def export_ledger(ledger: Ledger, out: Path, *, progress: Progress = _silent) -> Moved:
    """Write every line as open text.

    Parameters
    ----------
    ledger : Ledger
    out : pathlib.Path
        File to make.
    progress : callable

    Raises
    ------
    LedgerError
        If the file is there or cannot be written.
    """
    return export_text(ledger, out, tell=progress)


def import_ledger(text: Path, address: str, *, progress: Progress = _silent) -> Moved:
    """Bring open text in, into a place without a ledger or a ledger without lines.

    Parameters
    ----------
    text : pathlib.Path
    address : str
    progress : callable

    Raises
    ------
    LedgerError
        If the text is broken anywhere, or there are lines already; nothing was written then.
    """
    return import_text(text, address, tell=progress)
