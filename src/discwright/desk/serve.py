"""Serve the desk on one address of this machine until somebody closes it."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from discwright.desk.app import create_app
from discwright.desk.guard import hosts_for
from discwright.desk.views_trust import read_trust
from discwright.errors import CallError
from discwright.files.certificate import certificate_names

LOCAL = ("127.0.0.1", "localhost", "::1")
#: Tried where no port is asked for; if it is taken, any free one.
USUAL_PORT = 8333
#: What still runs when the desk is closed may take so long to end, s.
_CLOSING_S = 2


@dataclass(frozen=True)
class Tls:
    """How the desk is served over https.

    Attributes
    ----------
    certificate, key : pathlib.Path
    """

    certificate: Path
    key: Path


def serve(
    folder: Path | None, address: str, port: int | None, network: bool, told: Callable[[str], None], *,
    ledger: str = "", tls: Tls | None = None,
) -> None:  # fmt: skip
    """Open the desk and serve it; returns when it is closed.

    Parameters
    ----------
    folder : pathlib.Path or None
    address : str
    port : int or None
        The usual one, or any that is free, without.
    network : bool
        Others may come in over plain http, where passwords can be read on their way.
    told : callable
        Called with the address when it is open.
    ledger : str
        Address of the ledger; the folder's own without.
    tls : Tls or None
        Serve https.

    Raises
    ------
    CallError
        If the folder, the address or the certificate cannot be used, or nobody could sign in.
    LedgerError
        If the ledger cannot be used.
    """
    reached = address not in LOCAL
    if reached and tls is None and not network:
        raise CallError(
            f"--address {address} without https lets everybody in the network read the passwords on their way; make a "
            "certificate with `discwright works certificate --name HOST` and give --tls-cert and --tls-key, or add "
            "--allow-network if plain http is meant."
        )
    names = names_of(tls) if tls is not None else ()
    with _listen(address, port) as listening:
        number = int(listening.getsockname()[1])
        if reached:
            names = (socket.gethostname(), *names)
        hosts = hosts_for(address, number, names)
        scheme = "http" if tls is None else "https"
        trust = read_trust(tls.certificate) if tls is not None else None
        app = create_app(folder, hosts, network=reached, ledger=ledger, scheme=scheme, trust=trust)
        told(f"{scheme}://{hosts[0]}")
        config = uvicorn.Config(
            app, log_level="warning", access_log=False, server_header=False, timeout_graceful_shutdown=_CLOSING_S,
            proxy_headers=False, ws="none", ssl_certfile=tls.certificate if tls is not None else None,
            ssl_keyfile=tls.key if tls is not None else None,
        )  # fmt: skip
        uvicorn.Server(config).run(sockets=[listening])


def names_of(tls: Tls) -> tuple[str, ...]:
    """Names of hosts that a certificate is for, once it and its key fit together.

    Parameters
    ----------
    tls : Tls

    Raises
    ------
    CallError
        If a file is missing, is none of the two, or they do not fit.
    """
    for place in (tls.certificate, tls.key):
        if not place.is_file():
            raise CallError(f"{place}: is not there; make it with `discwright works certificate --name HOST`.")
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(tls.certificate, tls.key, password=lambda: "")
    except (OSError, ValueError):
        raise CallError(
            f"{tls.certificate} and {tls.key}: are no certificate and its key; make them with `discwright works "
            "certificate --name HOST`."
        ) from None
    return certificate_names(tls.certificate)


def _listen(address: str, port: int | None) -> socket.socket:
    """Take the port before anything else is done, so that nobody else can."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    for number in [USUAL_PORT, 0] if port is None else [port]:
        one = socket.socket(family, socket.SOCK_STREAM)
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            one.bind((address, number))
            one.listen(128)
        except OSError as trouble:
            one.close()
            if port is None and number:
                continue
            raise CallError(
                f"{address} port {number}: cannot be served on ({trouble.strerror or trouble}); choose another --port "
                "or --address."
            ) from None
        return one
    raise AssertionError("the last port tried either serves or is refused")
