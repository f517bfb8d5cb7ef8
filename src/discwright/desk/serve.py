"""Serve the desk on one address of this machine until somebody closes it."""

from __future__ import annotations

import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn

from discwright.desk.app import create_app
from discwright.desk.guard import hosts_for
from discwright.errors import CallError

LOCAL = ("127.0.0.1", "localhost", "::1")
#: Tried where no port is asked for; if it is taken, any free one.
USUAL_PORT = 8333
#: What still runs when the desk is closed may take so long to end, s.
_CLOSING_S = 2


def serve(folder: Path | None, address: str, port: int | None, network: bool, told: Callable[[str], None]) -> None:
    """Open the desk and serve it; returns when it is closed.

    Parameters
    ----------
    folder : pathlib.Path or None
    address : str
    port : int or None
        The usual one, or any that is free, without.
    network : bool
        Others may come in, although there is no sign-in.
    told : callable
        Called with the address when it is open.

    Raises
    ------
    CallError
        If the folder or the address cannot be used.
    """
    if address not in LOCAL and not network:
        raise CallError(
            f"--address {address} lets everybody in the network see, hear, plan and upload, for there is no sign-in "
            "yet; add --allow-network if that is meant."
        )
    with _listen(address, port) as listening:
        number = int(listening.getsockname()[1])
        names = (socket.gethostname(),) if network else ()
        hosts = hosts_for(address, number, names)
        app = create_app(folder, hosts, network=network)
        told(f"http://{hosts[0]}")
        config = uvicorn.Config(
            app, log_level="warning", access_log=False, server_header=False, timeout_graceful_shutdown=_CLOSING_S,
            proxy_headers=False, ws="none",
        )  # fmt: skip
        uvicorn.Server(config).run(sockets=[listening])


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
