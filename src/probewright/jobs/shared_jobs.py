"""A job to give away: one JSON file without its owner.

Nothing personal is in it but what a person typed into the lines and nobody recognised; what looks like the owner's name
stops the writing.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from itertools import accumulate
from pathlib import Path
from typing import Any

from probewright import __version__
from probewright.jobs.bench import complaint, owned
from probewright.jobs.cases import COUNTS, NOTE, Case, Line
from probewright.jobs.erasing import LEAST_LETTERS, PART_LETTERS, STANDS_FOR, anywhere, owners_of
from probewright.jobs.keeping import keep_bench, keep_reading, keep_zone
from probewright.jobs.picturing import shelf_of
from probewright.jobs.shared_shape import FORMAT, VERSION, JobShape, bare_name, bare_text, digest_of, misfit
from probewright.jobs.taken_jobs import events_of
from probewright.jobs.view import SCHEMA
from probewright.record import Book
from probewright.units import counted

MAIL = re.compile(r"[^\s@]+@[^\s@]+\.[^\W\d_]{2,}")
PHONE = re.compile(r"\+?\d[\d /()-]{6,}\d")
ROW = re.compile(r"\b\d\b\D+\b\d\b\D+\b\d\b")  # three lone figures: a row of a table, no telephone number
OURS = ("kind", "instrument", "showing", "answer", "ending", "mode", "data")  # fields in which no person's words stand


@dataclass(frozen=True)
class SharedView:
    """A job that was written to a file. left_out: what is not in it; look_at: what no program can decide."""

    job: int
    file: str
    lines: int
    pictures: int
    left_out: tuple[str, ...]
    look_at: tuple[str, ...]
    schema: str = SCHEMA


def share(
    book: Book, case: Case, also: Sequence[str] = (), keep: Sequence[str] = (), pictures: bool = False, file: str = ""
) -> tuple[str, SharedView]:
    """A closed job as the text of one file, without its owner; and what was left out.

    also: other words to be taken out; keep: words that are not the owner's although they look so. BadInput where a
    name, or a part of one, would still stand in it.
    """
    owned(case)
    if case.closed is None:
        raise complaint(f"job {case.number} is still open", "close it first, then share it")
    job = _scrubbed(book, case, dict(_job(book, case, pictures)), also)
    _check_names(book, case, job, also, keep)
    told = {"format": FORMAT, "version": VERSION, "written_by": __version__, "sha256": digest_of(job), "job": job}
    if wrong := misfit(JobShape, job, "job"):
        raise complaint(f"this job is too large to share: {wrong}", "leave the pictures out of it")
    events_of(
        {**job, "pictures": []}, digest_of(job), False, file, case.closed["at"]
    )  # what cannot be taken in helps nobody
    return json.dumps(told, ensure_ascii=False, indent=1) + "\n", SharedView(
        case.number, file, len(job["lines"]), len(job["pictures"]), tuple(_left_out(case, pictures)),
        tuple(_look_at(case, pictures)),
    )  # fmt: skip


def write_shared(path: Path, text: str) -> None:
    """Put it into a new file. BadInput where one stands already, or the disk refuses."""
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError as problem:
        raise complaint("there is a file of this name", "name another one", path) from problem
    except OSError as problem:
        raise complaint(
            f"it cannot be written: {problem.strerror or problem}", "name another folder", path
        ) from problem


def _job(book: Book, case: Case, pictures: bool) -> Iterator[tuple[str, Any]]:
    told, ended, found = case.intake, case.closed or {}, case.found
    for name in ("kind", "model", "words", "when", "inside", "boards"):
        yield name, getattr(told, name)
    yield "ticks", dict(told.ticks)
    lines = [_line(case, line) for line in case.live if _is_shared(line)]
    times = accumulate((*(one["after"] for one in lines), _minutes(case.opened, ended["at"])), max)  # a clock was set
    yield "lines", [{**line, "after": after} for line, after in zip(lines, times, strict=False)]
    yield "after", next(times)
    yield "ending", ended["ending"]
    yield "ended_with", ended["words"]
    culprits = found.culprits if found is not None else ()
    yield "culprits", [{"item": one.item, "mode": one.mode, "share": one.share} for one in culprits]
    yield "decided_by", found.text if found is not None else ""
    yield "pictures", [_picture(book, one) for one in case.photos] if pictures else []


def _is_shared(line: Line) -> bool:
    """What the owner allowed, what was taken over from other jobs, and what was not understood stays here."""
    return line.owner is None and line.lesson is None and line.status in (COUNTS, NOTE)


def _line(case: Case, line: Line) -> dict[str, Any]:
    told: dict[str, Any] = {
        "after": _minutes(case.opened, line.at), "kind": _kind(line), "text": line.text, "says": list(line.says),
    }  # fmt: skip
    if line.status == COUNTS:
        told |= {
            "readings": [keep_reading(one) for one in line.readings],
            "bench": None if line.bench is None else keep_bench(line.bench),
            "marked": {name: list(value) for name, value in line.marked.items()},
            "zones": [keep_zone(one) for one in line.zones],
        }
    if (known := line.known) is not None:
        told |= {
            "text": bare_text(line.text, known.file), "says": [bare_text(one, known.file) for one in line.says],
        }  # fmt: skip
        told |= {
            "machine": known.text, "file": bare_name(known.file), "names": dict(known.names),
            "functions": dict(known.functions),
        }  # fmt: skip
    return told


def _kind(line: Line) -> str:
    return "said" if line.status == COUNTS else "note" if line.known is None else line.known.how


def _minutes(since: str, at: str) -> float:
    gap = datetime.fromisoformat(at) - datetime.fromisoformat(since)
    return round(max(gap.total_seconds(), 0.0) / 60.0, 2)


def _picture(book: Book, one: Any) -> dict[str, Any]:
    data = shelf_of(book).path(one.name).read_bytes()
    return {
        "says": one.says, "sheet": one.sheet, "data": base64.b64encode(data).decode("ascii"),
        "spots": [asdict(spot) for spot in one.spots],
    }  # fmt: skip


def _scrubbed(book: Book, case: Case, job: dict[str, Any], also: Sequence[str]) -> dict[str, Any]:
    """The job with the owner's names, its serial number and other words taken out of everything that was typed."""
    if short := next((one for one in also if len(one.strip()) < LEAST_LETTERS), None):
        raise complaint(f"{short!r} is too short to be told from a place", f"write {LEAST_LETTERS} letters or more")
    names = {one for one in (*_names(book, case), *map(str.strip, also)) if len(one) >= LEAST_LETTERS}
    if not names:
        return job
    said = re.compile("|".join(map(anywhere, sorted(names, key=len, reverse=True))), re.IGNORECASE)
    bare: dict[str, Any] = _bare(job, said)
    return bare


def _bare(value: Any, said: re.Pattern[str]) -> Any:
    """A value without what is said, the same in names and in readings, so that they still fit together."""
    if isinstance(value, Mapping):
        return {
            said.sub(STANDS_FOR, name): one if name in OURS else _bare(one, said) for name, one in value.items()
        }  # fmt: skip
    if isinstance(value, list):
        return [_bare(one, said) for one in value]
    return said.sub(STANDS_FOR, value) if isinstance(value, str) else value


def _names(book: Book, case: Case) -> tuple[str, ...]:
    """Owners and serial numbers that the job was ever given."""
    serials = (e.payload.get("serial") for e in book.events(case.number) if e.kind in ("opened", "amended"))
    told = (*owners_of(book, case), *(one for one in serials if one))
    return tuple(dict.fromkeys(one.strip() for one in told if one.strip()))


def _check_names(book: Book, case: Case, job: Mapping[str, Any], also: Sequence[str], keep: Sequence[str]) -> None:
    """BadInput while anything that looks like the owner stands in it: a name, a part of one, an address, a number."""
    kept = {one.strip().casefold() for one in keep}
    whole = json.dumps({**job, "pictures": [one["says"] for one in job["pictures"]]}, ensure_ascii=False)
    names = (*_names(book, case), *also)
    parts = (part for name in names for part in re.findall(rf"\w{{{PART_LETTERS},}}", name))
    for word in dict.fromkeys((*names, *parts)):
        short = len(word.strip()) < LEAST_LETTERS
        if word.casefold() not in kept and re.search(anywhere(word.strip()), whole, re.IGNORECASE):
            what = "is too short to be told from a place" if short else "may be the owner, and would be in the file"
            out = "" if short else f"take it out: `--also '{word}'`, or "
            raise complaint(f"{word!r} {what}", f"{out}say that it is not: `--keep '{word}'`")
    unread = {**job, "lines": [one for one in job["lines"] if one["kind"] != "said"]}  # readings are full of figures
    for look, told, what in ((MAIL, job, "an address"), (PHONE, unread, "a telephone number")):
        for found in look.findall("\n".join(_texts(told))):
            if found.strip().casefold() not in kept and not ROW.search(found):
                mend = f"take it out: `--also '{found}'`, or say that it is none: `--keep '{found}'`"
                raise complaint(f"{found!r} looks like {what}", mend)


def _texts(value: Any) -> Iterator[str]:
    """Every text that a person may have typed, however deep, names of fields included."""
    if isinstance(value, Mapping):
        for name, one in value.items():
            yield from () if name in OURS else (name, *_texts(one))
    elif isinstance(value, list):
        for one in value:
            yield from _texts(one)
    elif isinstance(value, str):
        yield value


def _left_out(case: Case, pictures: bool) -> Iterator[str]:
    yield "the owner's name, the serial number, what was left with it, and every date: times count from the beginning"
    if case.photos and not pictures:
        yield f"{counted(len(case.photos), 'picture')}; --pictures puts them in"
    if any(line.capture is not None for line in case.live):
        yield "files of waveforms; what was read of them is in it"
    if any(not _is_shared(line) for line in case.live):
        yield "what the owner allowed, what was learnt from other jobs, and lines that were not understood"


def _look_at(case: Case, pictures: bool) -> Iterator[str]:
    yield "Read it through once: names of other people, and places, are not recognised."
    if case.photos and pictures:
        yield "Nobody has looked at what the pictures show."
