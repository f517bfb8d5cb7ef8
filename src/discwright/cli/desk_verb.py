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
        bool, typer.Option("--allow-network", help="Let everybody in the network in: there is no sign-in yet.")
    ] = False,
) -> None:
    """See and hear the record that has not been cut yet: titles, sides and the disc map in a browser."""
    try:
        from discwright.desk.serve import LOCAL, serve
    except ImportError:
        raise CallError("the desk needs a few more libraries; install discwright[desk] with pip.") from None

    def told(place: str) -> None:
        typer.echo(f"the desk is open at {place} (Ctrl-C closes it)")
        if address not in LOCAL:
            typer.echo("everybody in this network can use it: there is no sign-in yet.", err=True)

    with suppress(KeyboardInterrupt):
        serve(folder, address, port, allow_network, told)
    typer.echo("the desk is closed; what was planned is kept.", err=True)
