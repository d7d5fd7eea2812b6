"""The bench page, served to browsers on this computer."""

from __future__ import annotations

import typer

from probewright.cli.answering import BAD_INPUT
from probewright.cli.benching import book_path


def run(port: int) -> None:
    """Serve until Ctrl-C; the book is closed behind it."""
    import socket

    import uvicorn

    from probewright.errors import BadInput
    from probewright.record import open_book
    from probewright.web.app import make_app
    from probewright.web.guarding import secret_beside

    door = socket.socket()
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind(("127.0.0.1", port))
    except (OSError, OverflowError) as problem:
        typer.echo(f"port {port} cannot be had: {problem}; name another one: probewright serve --port 8621", err=True)
        raise typer.Exit(BAD_INPUT) from None
    path = book_path()
    try:
        book = open_book(path)
    except BadInput as bad:
        typer.echo("\n".join(str(one) for one in bad.complaints), err=True)
        raise typer.Exit(BAD_INPUT) from None
    typer.echo(f"The bench page is at http://127.0.0.1:{door.getsockname()[1]}/  (Ctrl-C ends it)")
    app = make_app(book, secret_beside(path))
    uvicorn.Server(uvicorn.Config(app, log_level="warning")).run(sockets=[door])
