"""The page that tells how to trust the works' own certificate; reachable by everybody, for it comes before sign-in."""

from __future__ import annotations

import hashlib
import ssl
from dataclasses import dataclass
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import Response

from discwright.desk.people_pages import TrustPage
from discwright.desk.rendering import frame, render
from discwright.desk.shelf import NotThereError
from discwright.errors import CallError

router = APIRouter(include_in_schema=False)
CA_FILE = "works-ca.pem"
#: Digits of a fingerprint that are read in one breath.
_GROUP = 4


@dataclass(frozen=True)
class Trust:
    """The certificate that devices are told to trust.

    Attributes
    ----------
    pem : str
    fingerprint : str
        SHA-256, 64 hexadecimal digits in capitals.
    """

    pem: str
    fingerprint: str


def read_trust(certificate: Path) -> Trust | None:
    """The works' own authority beside a server's certificate, or None if there is none.

    Parameters
    ----------
    certificate : pathlib.Path
        Of the server.

    Raises
    ------
    CallError
        If the file beside it is none.
    """
    place = certificate.with_name(CA_FILE)
    if not place.is_file():
        return None
    try:
        pem = place.read_text(encoding="ascii")
        der = ssl.PEM_cert_to_DER_cert(pem)
    except (OSError, ValueError):
        raise CallError(f"{place}: is no certificate; make one with `discwright works certificate`.") from None
    # Only the certificate itself is handed out, whatever else stands in the file.
    return Trust(ssl.DER_cert_to_PEM_cert(der), hashlib.sha256(der).hexdigest().upper())


@router.get("/trust")
def trust_page(request: Request) -> Response:
    """How each kind of device learns to trust this desk."""
    trust: Trust | None = request.app.state.trust
    digits = trust.fingerprint if trust is not None else ""
    groups = tuple(digits[i : i + _GROUP] for i in range(0, len(digits), _GROUP))
    address = f"https://{request.headers['host']}/"
    return render(TrustPage(frame(request), trust is not None, groups, address))


@router.get("/trust/works-ca.pem")
def authority(request: Request) -> Response:
    """The certificate itself."""
    trust: Trust | None = request.app.state.trust
    if trust is None:
        raise NotThereError("this desk is not served with a certificate of the works; see the page on trusting it.")
    headers = {"Content-Disposition": f'attachment; filename="{CA_FILE}"'}
    return Response(trust.pem, media_type="application/x-x509-ca-cert", headers=headers)
