"""The folder of pictures beside the book: each under the digest of what it holds, safe once it is named."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from io import BytesIO
from pathlib import Path

from probewright.errors import complaint
from probewright.photos.accepting import QUALITY, Photo
from probewright.photos.decoding import guarded, opened

NAME = re.compile(r"[0-9a-f]{64}\.(jpg|png)")
SORTS = {".jpg": "JPEG", ".png": "PNG"}
SMALL = "small"  # folder of the small pictures, which may be thrown away at any time
SIDES = range(32, 2001)  # dots, chosen: from a mark in a list to the width of a tablet


class PhotoShelf:
    """One folder of pictures; it is made when the first one comes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def keep(self, photo: Photo) -> str:
        """Put a picture on the disk and give its name back; the same picture is kept once.

        When the name is there, so is the whole picture. BadInput where the disk refuses: then nothing was kept.
        """
        keep_once(self.path(photo.name), photo.data, photo.sha256, "picture")
        return photo.name

    def path(self, name: str) -> Path:
        """Where a picture of this name stands, or would. BadInput for what is no name of a picture."""
        if not NAME.fullmatch(name):
            raise complaint(f"{name[:80]!r} is not the name of a picture", "take the name from the job")
        return self.folder / name

    def thumbnail(self, name: str, side: int) -> bytes:
        """The picture made small, this many dots on its longest side at most; kept for the next time.

        BadInput for a name or a size that cannot be, and for a picture that is gone or damaged.
        """
        path = self.path(name)
        if side not in SIDES:
            raise complaint(f"{side} dots are no size of a small picture", f"write {SIDES.start} to {SIDES.stop - 1}")
        small = self.folder / SMALL / f"{path.stem}-{side}{path.suffix}"
        try:
            if small.exists():
                return small.read_bytes()
            data = path.read_bytes()
        except OSError as problem:
            raise complaint("this picture is not in the folder of pictures", "send it again") from problem
        made = _made_small(data, SORTS[path.suffix], side)
        try:
            write_whole(small, made)
        except OSError:  # it is only made again the next time
            pass
        return made


def _made_small(data: bytes, sort: str, side: int) -> bytes:
    found = opened(data, sort, side)
    out = BytesIO()
    with guarded():
        found.thumbnail((side, side))
        found.save(out, sort, quality=QUALITY)
    return out.getvalue()


def keep_once(path: Path, data: bytes, digest: str, what: str) -> None:
    """Put a file on the disk unless it is there whole; digest: its SHA-256; what: as the person calls it.

    BadInput where the disk refuses: then nothing was kept.
    """
    try:
        if not (path.exists() and hashlib.sha256(path.read_bytes()).hexdigest() == digest):
            write_whole(path, data)
    except OSError as problem:
        text = f"the {what} cannot be kept here: {problem.strerror or problem}"
        mend = "make room on the disk and the folder writable, then send it again"
        raise complaint(text, mend, path.parent) from problem


def write_whole(path: Path, data: bytes) -> None:
    """Put a file on the disk so that it is there whole or not at all. OSError where the disk refuses."""
    new = [one for one in (path.parent, *path.parent.parents) if not one.exists()]
    path.parent.mkdir(parents=True, exist_ok=True)
    number, name = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent)
    try:
        with open(number, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    for folder in (path.parent, *(one.parent for one in new)):
        _settle(folder)


def _settle(folder: Path) -> None:
    """Force the list of a folder to the disk, where the system can do so."""
    if not hasattr(os, "O_DIRECTORY"):  # Windows writes it by itself
        return
    number = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
