"""A waveform that was sent and not counted yet waits beside the book, so that a second form need not bring it again."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from probewright.jobs.capturing import folder_of, keep_whole, whole_file
from probewright.record import Book

WAIT = 12  # chosen: so many wait, the one that was sent longest ago goes first; a bench has two or three under way


def set_aside(book: Book, data: bytes) -> str:
    """Let a file wait; the name by which it is taken up. BadInput where the disk refuses."""
    folder = _folder(book)
    name = keep_whole(folder, data)
    (folder / name).touch()
    for one in sorted(folder.glob("*.csv"), key=lambda file: file.stat().st_mtime)[:-WAIT]:
        with suppress(OSError):  # gone meanwhile: that is what was wanted
            one.unlink()
    return name


def take_up(book: Book, name: str, file: str) -> bytes:
    """What waits under a name; file: as it was called. BadInput where it waits no longer."""
    return whole_file(_folder(book), name, file)


def _folder(book: Book) -> Path:
    return folder_of(book) / "waiting"
