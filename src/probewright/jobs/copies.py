"""Copies of the whole bench, taken while it runs, and put back: the book, its pictures and its waveforms.

A copy is a zip archive: `book.db`, `photos/`, `captures/`, and `contents.json` with the SHA-256 of each. Nothing that a
copy replaces is thrown away: it is moved aside under a name with the date.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from probewright import __version__
from probewright.errors import BadInput, complaint
from probewright.jobs.capturing import folder_of
from probewright.jobs.picturing import shelf_of
from probewright.jobs.view import SCHEMA
from probewright.record import Book, open_book

BOOK, CONTENTS = "book.db", "contents.json"
BESIDE = {"photos": ".photos", "captures": ".captures"}  # folder in the copy -> what the one beside the book ends in
LOGS = ("-wal", "-shm", "-journal")
MEMBER = re.compile(r"book\.db|(photos|captures)/[0-9a-f]{64}\.(jpg|png|csv)")
CHUNK = 1 << 20  # bytes read at once, chosen


@dataclass(frozen=True)
class CopyView:
    """A copy that was taken or put back. aside: where what stood there before is now, "" where nothing did."""

    file: str
    jobs: int
    pictures: int
    waveforms: int
    aside: str = ""
    schema: str = SCHEMA


def copy_bench(book: Book, path: Path, now: str) -> CopyView:
    """Everything on this bench as it stands now, into one new file; others may go on writing meanwhile.

    BadInput where there is a file of this name already, or the disk refuses: then there is no half of one either.
    """
    if path.exists():
        raise complaint("there is a file of this name already", "name another one: a copy replaces nothing", path)
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=".", suffix=".part", delete=False) as half:
            try:
                view = write_copy(book, half, now, str(path))
                half.flush()
                os.fsync(half.fileno())
                os.link(half.name, path)  # unlike a rename it never replaces a file that came meanwhile
            finally:
                os.unlink(half.name)
    except OSError as problem:
        raise complaint(
            f"the copy cannot be written: {problem.strerror or problem}", "make room, or name another folder", path
        ) from problem
    return view


def write_copy(book: Book, file: IO[bytes], now: str, name: str) -> CopyView:
    """The same into an open file; name: what it is called. OSError where the disk refuses."""
    digests: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as room, zipfile.ZipFile(file, "w") as archive:
        whole = Path(room) / BOOK
        book.copy_to(whole)
        with open_book(whole) as copied:
            jobs = len(copied.jobs())
        # the pictures after the book: what it names was on the disk before it was named
        for member, source in ((BOOK, whole), *_beside(book)):
            packed = zipfile.ZIP_DEFLATED if source.suffix in (".db", ".csv") else zipfile.ZIP_STORED
            archive.write(source, member, packed)
            digests[member] = _digest(source)
        told = {"probewright": __version__, "at": now, "sha256": digests}
        archive.writestr(CONTENTS, json.dumps(told, indent=1))
    return CopyView(name, jobs, *_counted(digests))


def restore(path: Path, to: Path, now: str) -> CopyView:
    """Put a copy in the place of the book at `to`; what stands there is moved aside.

    BadInput for a file that is no copy, is damaged, or while another program has the book open: then nothing moved.
    """
    _closed(to)
    with tempfile.TemporaryDirectory(dir=_folder(to), prefix=f".{to.name}.", suffix=".coming") as room:
        digests = _unpack(path, Path(room))
        coming = Path(room) / BOOK
        with open_book(coming) as book:  # brought to the newest schema, in the copy alone
            book.check()
            jobs = len(book.jobs())
        _closed(to)  # unpacking takes a while
        aside = _move_aside(to, now)
        for name, ending in BESIDE.items():
            if (Path(room) / name).is_dir():
                (Path(room) / name).rename(_beside_of(to, ending))
        coming.rename(to)
    return CopyView(str(path), jobs, *_counted(digests), aside=aside)


def _beside(book: Book) -> Iterator[tuple[str, Path]]:
    """Every picture and waveform beside the book, with its name in a copy."""
    for name, folder in (("photos", shelf_of(book).folder), ("captures", folder_of(book))):
        for one in sorted(folder.iterdir()) if folder.is_dir() else ():
            if one.is_file() and MEMBER.fullmatch(f"{name}/{one.name}"):
                yield f"{name}/{one.name}", one


def _counted(digests: dict[str, str]) -> tuple[int, int]:
    return tuple(sum(one.startswith(f"{name}/") for one in digests) for name in BESIDE)  # type: ignore[return-value]


def _unpack(path: Path, room: Path) -> dict[str, str]:
    """What is in a copy, put into a folder, each file as its digest says."""
    damaged = complaint("this copy is damaged", "take an older one", path)
    try:
        with zipfile.ZipFile(path) as archive:
            digests = _contents(path, archive)
            for member, digest in digests.items():
                target = room / member
                target.parent.mkdir(exist_ok=True)
                with archive.open(member) as source, target.open("wb") as file:
                    shutil.copyfileobj(source, file, CHUNK)
                if _digest(target) != digest:
                    raise damaged
    except zipfile.BadZipFile as problem:
        text = "this is no copy of a bench, or what is left of one"
        raise complaint(text, "name a file that `probewright book copy` wrote", path) from problem
    except (KeyError, EOFError, NotImplementedError, zipfile.LargeZipFile) as problem:
        raise damaged from problem
    except OSError as problem:
        raise complaint(f"the copy cannot be read: {problem.strerror or problem}", "check its name", path) from problem
    return digests


def _contents(path: Path, archive: zipfile.ZipFile) -> dict[str, str]:
    """Name -> SHA-256 of all that the copy says it holds."""
    stranger = complaint("this is no copy of a bench", "name a file that `probewright book copy` wrote", path)
    try:
        told: Any = json.loads(archive.read(CONTENTS))
        digests = told["sha256"]
    except (KeyError, ValueError, TypeError) as problem:
        raise stranger from problem
    if not isinstance(digests, dict) or BOOK not in digests or not all(map(MEMBER.fullmatch, digests)):
        raise stranger
    return digests


def _closed(path: Path) -> None:
    """BadInput while another program has this book open: it would go on writing into what was moved aside."""
    if not path.exists():
        return
    try:
        open_book(path).close()  # whoever closes it last leaves no log behind
    except BadInput as bad:
        if any("another program" in one.text for one in bad.complaints):
            raise
        return  # damaged: what a copy is for; it is moved aside as it is
    if path.with_name(f"{path.name}-wal").exists():
        raise complaint("another program has this book open", "end `probewright serve`, then say it again", path)


def _move_aside(path: Path, now: str) -> str:
    """The book and what stands beside it under a name of their own; that name, or "" where there was no book."""
    stamp = re.sub(r"\D", "", now)[:14]
    aside = path.with_name(f"{path.name}.before-{stamp}")
    for number in range(1, 100):
        if not any(_beside_of(aside, ending).exists() for ending in ("", *BESIDE.values(), *LOGS)):
            break
        aside = path.with_name(f"{path.name}.before-{stamp}-{number}")
    for ending in (*BESIDE.values(), *LOGS):  # a log left by a crash would be read into what comes in its place
        if _beside_of(path, ending).exists():
            _beside_of(path, ending).rename(_beside_of(aside, ending))
    for ending in (".cache", ".index"):
        _beside_of(path, ending).unlink(missing_ok=True)
    if not path.exists():
        return ""
    path.rename(aside)
    return str(aside)


def _beside_of(path: Path, ending: str) -> Path:
    return path.with_name(f"{path.name}{ending}")


def _folder(path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    return path.parent


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
