"""The verb `desk`: titles, sides and the disc map in a browser."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from discwright.errors import CallError


def desk(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="Folder of titles; without it, recent ones are offered.")
    ] = None,
    port: Annotated[
        int | None, typer.Option("--port", min=0, max=65_535, help="Port; without it 8333, or any that is free.")
    ] = None,
    address: Annotated[str, typer.Option("--address", help="Address to serve on.")] = "127.0.0.1",
    allow_network: Annotated[
        bool,
        typer.Option(
            "--allow-network", help="Serve a network over plain http: passwords can be read, no camera works."
        ),
    ] = False,
    ledger: Annotated[
        str,
        typer.Option(
            "--ledger", metavar="URL", envvar="DISCWRIGHT_LEDGER", help="Ledger; without it the folder's own."
        ),
    ] = "",
    tls_cert: Annotated[
        Path | None, typer.Option("--tls-cert", help="Certificate to serve https with; see `works certificate`.")
    ] = None,
    tls_key: Annotated[Path | None, typer.Option("--tls-key", help="Key of the certificate.")] = None,
) -> None:
    """See and hear the record that has not been cut yet: titles, sides and the disc map in a browser."""
    try:
        from discwright.desk.serve import LOCAL, Tls, serve
    except ImportError:
        raise CallError("the desk needs a few more libraries; install discwright[desk] with pip.") from None

    if (tls_cert is None) != (tls_key is None):
        raise CallError("a certificate and its key go together; give both --tls-cert and --tls-key, or neither.")
    tls = Tls(tls_cert, tls_key) if tls_cert is not None and tls_key is not None else None

    def told(place: str) -> None:
        typer.echo(f"the desk is open at {place} (Ctrl-C closes it)")
        if tls is None and address not in LOCAL:
            typer.echo(
                "no https: passwords can be read on their way through the network, and no camera works.", err=True
            )

    with suppress(KeyboardInterrupt):
        serve(folder, address, port, allow_network, told, ledger=ledger, tls=tls)
    typer.echo("the desk is closed; what was planned is kept.", err=True)
