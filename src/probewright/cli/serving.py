"""The bench page, served to browsers on this computer, and to paired devices where that is wanted."""

from __future__ import annotations

from contextlib import suppress
from io import StringIO
from typing import TYPE_CHECKING

import typer

from probewright.cli.answering import BAD_INPUT
from probewright.cli.benching import book_path

if TYPE_CHECKING:
    from probewright.web.pairing import Pairing


def run(port: int, lan: bool) -> None:
    """Serve until Ctrl-C; the book is closed behind it. lan: to paired devices on the network too."""
    import socket

    import uvicorn

    from probewright.errors import BadInput
    from probewright.record import open_book
    from probewright.web.app import make_app
    from probewright.web.guarding import secret_beside
    from probewright.web.pairing import Pairing, devices_beside, own_addresses, own_names

    addresses = own_addresses() if lan else ()
    if lan and not addresses:
        typer.echo("this computer is on no network; join one first, or leave out --lan", err=True)
        raise typer.Exit(BAD_INPUT)
    door = socket.socket()
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind(("" if lan else "127.0.0.1", port))  # "": every IPv4 address; IPv6 may be reached from far away
    except (OSError, OverflowError) as problem:
        typer.echo(f"port {port} cannot be had: {problem}; name another one: probewright serve --port 8621", err=True)
        raise typer.Exit(BAD_INPUT) from None
    path = book_path()
    try:
        book, secret = open_book(path), secret_beside(path)
    except BadInput as bad:
        typer.echo("\n".join(str(one) for one in bad.complaints), err=True)
        raise typer.Exit(BAD_INPUT) from None
    here = f"http://127.0.0.1:{door.getsockname()[1]}/"
    typer.echo(f"The bench page is at {here}  (Ctrl-C ends it)")
    shared = None
    if lan:
        shared = Pairing(secret, devices_beside(path), addresses, own_names(), door.getsockname()[1])
        invite(shared, here)
    config = uvicorn.Config(make_app(book, secret, shared), log_level="warning", proxy_headers=False)
    uvicorn.Server(config).run(sockets=[door])


def invite(shared: Pairing, here: str) -> None:
    """Say how a device comes in. here: the page's address on this computer."""
    import segno

    from probewright.web.pairing import GOOD_FOR

    typer.echo(f"Paired devices open {' or '.join(shared.pages)}")
    typer.echo("What goes over the network can be overheard there: share it only on a network you trust.")
    typer.echo(f"To pair a device scan this, or open {shared.links[0]}")
    drawn = StringIO()
    segno.make(shared.links[0], micro=False).terminal(drawn, compact=True)
    with suppress(UnicodeEncodeError):  # a terminal without these signs has the link
        typer.echo(drawn.getvalue())
    typer.echo(f"Good once, for {GOOD_FOR / 60:.0f} min; a fresh one is at {here}pair")
