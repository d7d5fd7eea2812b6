"""Forms that bring files along: each picture is kept or refused by itself."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import IO, Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from probewright.errors import BadInput
from probewright.jobs import picturing
from probewright.jobs.bench import complaint
from probewright.jobs.cases import Case
from probewright.photos.accepting import MOST_BYTES
from probewright.record import Book, stamp

NAME_LETTERS = 60  # chosen: as much of a file's name as fits into a sentence


@dataclass(frozen=True)
class Upload:
    """A file as it came. name: what its sender calls it, never used for anything but to say which one is meant."""

    name: str
    file: IO[bytes]


def sent(
    do: Callable[[Request, dict[str, str], tuple[Upload, ...]], Response], field: str = "photos"
) -> Callable[[Request], Any]:
    """An endpoint that is handed what a form of text fields and files says; field: the name of its files."""

    async def answer(request: Request) -> Response:
        async with request.form() as form:
            said = {name: value for name, value in form.items() if isinstance(value, str)}
            files = [one for one in form.getlist(field) if isinstance(one, UploadFile)]
            # a field left empty brings a nameless nothing
            chosen = tuple(Upload(one.filename or "", one.file) for one in files if one.filename or one.size)
            return await run_in_threadpool(do, request, said, chosen)

    return answer


def keep_all(
    book: Book, case: Case, files: Sequence[Upload], says: str, once: str, *, sheet: bool = False
) -> tuple[Case, tuple[str, ...]]:  # fmt: skip
    """Every file that is a picture put to the job, and a sentence for each that is refused.

    once: mark of the form; each file is known by it and by what it holds, so that a form sent twice
    counts once, and one sent again with another file brings that file.
    """
    refused = []
    for one in files:
        data = one.file.read(MOST_BYTES + 1)  # a byte more than may come is enough to know that it is too large
        mark = f"{once} {hashlib.sha256(data).hexdigest()[:16]}" if once else ""
        try:
            plain_name(one.name)
            case = picturing.add_photo(book, case, data, says, stamp(), sheet=sheet, once=mark)
        except BadInput as bad:
            refused += [f"{short_name(one.name)}: {said.says}" for said in bad.complaints]
    return case, tuple(refused)


def plain_name(name: str) -> None:
    """BadInput for a name that leads somewhere."""
    if "/" in name or "\\" in name or "\0" in name or name in (".", ".."):
        raise complaint("its name holds a path", "send it under a plain name")


def short_name(name: str) -> str:
    """A file's name as a sentence can hold it."""
    shown = "".join(letter if letter.isprintable() else "?" for letter in name)
    return shown if len(shown) <= NAME_LETTERS else f"{shown[: NAME_LETTERS - 1]}…"
