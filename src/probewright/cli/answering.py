"""How every command answers: a view in words or JSON, or everything wrong with what was given."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from collections.abc import Callable

DONE, FAULT, BAD_INPUT, UNDECIDED = 0, 1, 2, 3
Json = Annotated[bool, typer.Option("--json", help="Write JSON instead of text.")]
MachineFile = Annotated[Path, typer.Argument(help="Machine file (YAML), see docs/machine-file.md.")]
Made = "tuple[Any, Callable[[Any], str], int]"


def answer(make: Callable[[], tuple[Any, Callable[[Any], str], int]], as_json: bool) -> None:
    """Show a view, or everything wrong with what was given, and leave with the exit code."""
    from probewright.errors import BadInput
    from probewright.jobs.view import ErrorsView, ErrorView, plain
    from probewright.report import text

    try:
        view, write, code = make()
    except BadInput as bad:
        view = ErrorsView(tuple(ErrorView(c.file, c.line, c.column, c.text, c.mend) for c in bad.complaints))
        write, code = text.errors, BAD_INPUT
    if as_json:
        typer.echo(json.dumps(plain(view), ensure_ascii=False))
    else:
        typer.echo(write(view), err=code == BAD_INPUT)
    raise typer.Exit(code)


def read_text(path: Path) -> str:
    """The text of a file, or of standard input for "-"; BadInput when it cannot be read."""
    import sys

    from probewright.errors import BadInput, Complaint

    if str(path) == "-":
        return sys.stdin.read()
    try:
        return path.read_text("utf-8")
    except OSError as problem:
        raise BadInput(
            Complaint(str(path), 1, 1, f"cannot read the file: {problem.strerror}", "check its name and folder")
        ) from problem
    except UnicodeDecodeError as problem:
        raise BadInput(
            Complaint(str(path), 1, 1, "this is not a text file (UTF-8)", "save it as plain text")
        ) from problem


def read_bytes(path: Path, most: int = -1) -> bytes:
    """What is in a file, as it is, and a byte more than `most` at most; BadInput when it cannot be read."""
    from probewright.errors import BadInput, Complaint

    try:
        with path.open("rb") as file:
            return file.read(most + 1 if most >= 0 else -1)
    except OSError as problem:
        raise BadInput(
            Complaint(str(path), 1, 1, f"cannot read the file: {problem.strerror}", "check its name and folder")
        ) from problem


def write_text(path: Path, text: str) -> None:
    """Put a text into a file; BadInput when the disk refuses."""
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> None:
    """Put bytes into a file; BadInput when the disk refuses."""
    from probewright.errors import BadInput, Complaint

    try:
        path.write_bytes(data)
    except OSError as problem:
        raise BadInput(
            Complaint(str(path), 1, 1, f"cannot write the file: {problem.strerror}", "name another folder")
        ) from problem
