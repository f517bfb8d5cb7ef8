"""A works' own certificates: an authority that tablets trust once, and a server's certificate signed by it."""

from __future__ import annotations

import ipaddress
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from discwright.errors import CallError

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

CA_FILE, CA_KEY_FILE, CERT_FILE, KEY_FILE = "works-ca.pem", "works-ca-key.pem", "works-cert.pem", "works-key.pem"
#: Tablets are told once; the authority outlives them.
CA_DAYS = 3650
#: Browsers distrust servers' certificates that are good for much longer than a year (398 days; 825 of own authorities).
DAYS, MOST_DAYS = 397, 825
#: Clocks of tablets run behind.
_EARLIER = timedelta(days=1)
_LABEL = re.compile(r"(?!-)[a-z0-9-]{1,63}(?<!-)")


@dataclass(frozen=True)
class Signed:
    """A certificate with its key, as PEM.

    Attributes
    ----------
    certificate, key : bytes
    """

    certificate: bytes
    key: bytes


def clean_host(text: str) -> str:
    """The name or address of a host, as it stands in a certificate.

    Parameters
    ----------
    text : str

    Raises
    ------
    CallError
        If it is neither.
    """
    name = text.strip().strip("[]").lower().rstrip(".")
    try:
        return str(ipaddress.ip_address(name))
    except ValueError:
        pass
    labels = name.split(".")
    if len(name) <= 253 and all(_LABEL.fullmatch(label) for label in labels) and not labels[-1].isdigit():
        return name
    shown = "".join(letter if letter.isprintable() else "?" for letter in text[:60])
    raise CallError(f"“{shown}” is no name or address of a host; write one like works-desk.local or 192.168.1.5.")


def make_authority(name: str, now: datetime) -> Signed:
    """An authority that signs certificates of one works' servers.

    Parameters
    ----------
    name : str
        By which a tablet lists it.
    now : datetime

    Returns
    -------
    Signed
    """
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name[:64])])
    builder = (
        _begun(subject, subject, key, now, CA_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
    )
    return _finished(builder, key, key)


def make_server_certificate(authority: Signed, hosts: Iterable[str], now: datetime, days: int) -> Signed:
    """A certificate for a server.

    Parameters
    ----------
    authority : Signed
        Of :func:`make_authority`.
    hosts : iterable of str
        Of :func:`clean_host`, the first its name.
    now : datetime
    days : int
        It is good for so long, but no longer than the authority.

    Returns
    -------
    Signed

    Raises
    ------
    CallError
        If the authority is none, its key is another's, or it has expired.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    above, above_key = _read(authority, now)
    names = list(dict.fromkeys(hosts))
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])])
    key = ec.generate_private_key(ec.SECP256R1())
    days = min(days, (above.not_valid_after_utc - now).days)
    builder = (
        _begun(subject, above.subject, key, now, days)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general(one) for one in names]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(above_key.public_key()), critical=False)
    )
    return _finished(builder, key, above_key)


def certificate_names(place: Path) -> tuple[str, ...]:
    """Names of hosts (not addresses) that a server's certificate is for.

    Parameters
    ----------
    place : pathlib.Path

    Raises
    ------
    CallError
        If it is no certificate.
    """
    from cryptography import x509

    try:
        found = x509.load_pem_x509_certificate(place.read_bytes())
        names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return ()
    except (OSError, ValueError):
        raise CallError(f"{place}: is no certificate; make one with `discwright works certificate`.") from None
    return tuple(name for name in names.get_values_for_type(x509.DNSName) if "*" not in name)


def fingerprint(certificate: bytes) -> str:
    """SHA-256 of a certificate, 64 hexadecimal digits in capitals.

    Parameters
    ----------
    certificate : bytes
        PEM.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    return x509.load_pem_x509_certificate(certificate).fingerprint(hashes.SHA256()).hex().upper()


def good_until(certificate: bytes) -> str:
    """Day on which a certificate ends.

    Parameters
    ----------
    certificate : bytes
        PEM.
    """
    from cryptography import x509

    return x509.load_pem_x509_certificate(certificate).not_valid_after_utc.astimezone(UTC).date().isoformat()


def write_secret(place: Path, content: bytes) -> None:
    """Write a file that only its owner may read; beside it first, so that it is there whole or not at all.

    Parameters
    ----------
    place : pathlib.Path
    content : bytes
    """
    _write(place, content, 0o600)


def write_open(place: Path, content: bytes) -> None:
    """Write a file that anybody may read.

    Parameters
    ----------
    place : pathlib.Path
    content : bytes
    """
    _write(place, content, 0o644)


def _write(place: Path, content: bytes, mode: int) -> None:
    part = place.with_name(f"{place.name}.part")
    part.unlink(missing_ok=True)
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.replace(part, place)


def _begun(
    subject: x509.Name, issuer: x509.Name, key: EllipticCurvePrivateKey, now: datetime, days: int
) -> x509.CertificateBuilder:
    from cryptography import x509

    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _EARLIER)
        .not_valid_after(now + timedelta(days=days))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _finished(builder: x509.CertificateBuilder, key: EllipticCurvePrivateKey, by: EllipticCurvePrivateKey) -> Signed:
    from cryptography.hazmat.primitives import hashes, serialization

    made = builder.sign(by, hashes.SHA256())
    return Signed(
        made.public_bytes(serialization.Encoding.PEM),
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()),
    )


def _read(authority: Signed, now: datetime) -> tuple[x509.Certificate, EllipticCurvePrivateKey]:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        above = x509.load_pem_x509_certificate(authority.certificate)
        key = load_pem_private_key(authority.key, None)
    except (ValueError, TypeError):
        raise CallError(f"{CA_FILE} and {CA_KEY_FILE}: are broken; begin anew in an empty folder.") from None
    if not isinstance(key, EllipticCurvePrivateKey) or above.public_key() != key.public_key():
        raise CallError(f"{CA_FILE} and {CA_KEY_FILE}: do not fit together; bring back those that do.")
    if above.not_valid_after_utc <= now + timedelta(days=1):
        raise CallError(f"{CA_FILE}: has expired; begin anew in an empty folder, and tell every tablet again.")
    return above, key


def _general(host: str) -> x509.GeneralName:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _usage(*, signs: bool) -> x509.KeyUsage:
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not signs, key_cert_sign=signs, crl_sign=signs, content_commitment=False,
        key_encipherment=False, data_encipherment=False, key_agreement=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip
