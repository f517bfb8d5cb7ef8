"""Making a works' own certificate, so that tablets reach the desk over https."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from discwright.errors import CallError
from discwright.files.certificate import (
    CA_FILE,
    CA_KEY_FILE,
    CERT_FILE,
    DAYS,
    KEY_FILE,
    MOST_DAYS,
    Signed,
    clean_host,
    fingerprint,
    good_until,
    make_authority,
    make_server_certificate,
    write_open,
    write_secret,
)


@dataclass(frozen=True)
class WorksCertificate:
    """What was made.

    Attributes
    ----------
    folder : pathlib.Path
    hosts : tuple of str
    fingerprint : str
        Of the authority, to be compared at each tablet.
    good_until, authority_until : str
        Last days of the server's certificate and of the authority.
    renewed : bool
        The authority was there already: no tablet has to be told again.
    """

    folder: Path
    hosts: tuple[str, ...]
    fingerprint: str
    good_until: str
    authority_until: str
    renewed: bool

    def as_dict(self) -> dict[str, Any]:
        """The certificate as plain JSON values."""
        return {
            "authority": str(self.folder / CA_FILE), "authority_key": str(self.folder / CA_KEY_FILE),
            "certificate": str(self.folder / CERT_FILE), "key": str(self.folder / KEY_FILE),
            "hosts": list(self.hosts), "fingerprint_sha256": self.fingerprint, "good_until": self.good_until,
            "authority_until": self.authority_until, "renewed": self.renewed,
        }  # fmt: skip


def works_certificate(
    folder: Path, names: Iterable[str], *, days: int = DAYS, renew: bool = False, now: datetime | None = None
) -> WorksCertificate:
    """Make a certificate for the desk, signed by an authority of this works.

    Parameters
    ----------
    folder : pathlib.Path
        Gets ``works-ca.pem`` to be trusted by tablets, its key, and the desk's certificate and key.
    names : iterable of str
        Names and addresses under which the desk is reached.
    days : int
        So long the desk's certificate is good.
    renew : bool
        The authority stays, and the desk's certificate and key take the place of those before.
    now : datetime, optional
        The time; the clock's without.

    Raises
    ------
    CallError
        If a name is none, the days are out of range, or files are there that were not meant to be replaced.
    """
    hosts = tuple(dict.fromkeys(clean_host(one) for one in names))
    if not hosts:
        raise CallError("a certificate needs a name or address under which the desk is reached; give --name HOST.")
    if not 1 <= days <= MOST_DAYS:
        raise CallError(f"browsers take certificates for 1 to {MOST_DAYS} days; give --days between.")
    moment = (now or datetime.now(UTC)).replace(microsecond=0)
    if not folder.is_dir():
        raise CallError(f"{folder}: is no folder; name one that is there with --out.")
    authority = _kept_authority(folder) if renew else _new_authority(folder, hosts[0], moment)
    made = make_server_certificate(authority, hosts, moment, days)
    if not renew:
        write_secret(folder / CA_KEY_FILE, authority.key)
        write_open(folder / CA_FILE, authority.certificate)
    write_secret(folder / KEY_FILE, made.key)
    write_open(folder / CERT_FILE, made.certificate)
    return WorksCertificate(
        folder, hosts, fingerprint(authority.certificate), good_until(made.certificate),
        good_until(authority.certificate), renew,
    )  # fmt: skip


def _new_authority(folder: Path, host: str, now: datetime) -> Signed:
    there = [name for name in (CA_FILE, CA_KEY_FILE, CERT_FILE, KEY_FILE) if (folder / name).exists()]
    if there:
        raise CallError(
            f"{folder / there[0]}: is there already, and tablets may trust it; add --renew for a new certificate of "
            "the desk under the same authority, or name another folder with --out."
        )
    return make_authority(f"Record works at {host}", now)


def _kept_authority(folder: Path) -> Signed:
    try:
        return Signed((folder / CA_FILE).read_bytes(), (folder / CA_KEY_FILE).read_bytes())
    except OSError:
        raise CallError(
            f"{folder}: has no {CA_FILE} with its {CA_KEY_FILE} that could sign again; leave --renew out to begin anew."
        ) from None
