"""A job to give away, and one to take in: one JSON file without its owner, and what a stranger's file may do here.

Nothing personal is in it but what a person typed into the lines and nobody recognised; what looks like the owner's name
stops the writing. A file that is taken in is read, checked, and put down as plain events; nothing in it is run, and no
name in it leads to a file.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from itertools import accumulate
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from probewright import __version__
from probewright.errors import BadInput, Complaint
from probewright.hypotheses import symptoms
from probewright.hypotheses.suspects import suspects_of
from probewright.hypotheses.usual import expected, kind_of
from probewright.jobs.bench import WAYS_TO_END, complaint, find_case, listed, machine_of, owned, ticked, view_case
from probewright.jobs.cases import COUNTS, NOTE, Case, Intake, Line, fold, keep_bench
from probewright.jobs.culprits import is_mended, mended_on
from probewright.jobs.erasing import LEAST_LETTERS, PART_LETTERS, STANDS_FOR, anywhere, owners_of
from probewright.jobs.exporting import check_readings
from probewright.jobs.found import FOUND, Culprit, Found, in_words, keep_found, likeliest
from probewright.jobs.keeping import OVER, keep_reading, keep_zone
from probewright.jobs.picturing import shelf_of
from probewright.jobs.shared_shape import FORMAT, MOST_BYTES, VERSION, JobShape, misfit
from probewright.jobs.standing import work_out
from probewright.jobs.taught import healthy_readings
from probewright.jobs.view import SCHEMA, plain
from probewright.photos import Photo, accept
from probewright.readings.bench import SHOWING
from probewright.readings.instruments import unit_of
from probewright.record import Book, Event

# What a job that is not what it seems runs into, wherever that is: each of them refuses the file, none is passed over.
UNFIT = (
    LookupError,
    TypeError,
    ValueError,
    AttributeError,
    ArithmeticError,
    StopIteration,
    RuntimeError,
    AssertionError,
)
LONGEST = 60.0 * 24.0 * 3660.0  # min, chosen: ten years
MOST_PARTS = 400  # chosen: ten times a demonstration machine; what is worked out grows faster than the parts
MAIL = re.compile(r"[^\s@]+@[^\s@]+\.[^\W\d_]{2,}")
PHONE = re.compile(r"\+?\d[\d /()-]{6,}\d")
ROW = re.compile(r"\b\d\b\D+\b\d\b\D+\b\d\b")  # three lone figures: a row of a table, no telephone number
Told = tuple[str, Mapping[str, Any], str]  # kind of event, payload, time
WORDED = ("said", "works", "swap", "swap back", "provoke", "exchange", "test", "look", "drawn")
LINES = {"said": COUNTS, "note": NOTE, "chain": NOTE, "shelf": NOTE, "file": NOTE}  # kind of line -> how it stands
OURS = ("kind", "instrument", "showing", "answer", "ending", "mode", "data")  # fields in which no person's words stand
ANEW = "ask for the file anew; `probewright book share-job` writes them"


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


@dataclass(frozen=True)
class TakenView:
    """A job from elsewhere that was taken in. teaches: healthy values; counts: its culprit is as one of this bench."""

    job: int
    kind: str
    model: str
    lines: int
    teaches: int
    culprits: tuple[str, ...]
    counts: bool
    schema: str = SCHEMA


@dataclass(frozen=True)
class TriedOut:
    """A stranger's job that was read and tried, not kept yet. told: its events but for its pictures; pictures: each
    made anew, and what was told of it."""

    file: str
    digest: str
    counts: bool
    told: tuple[Told, ...]
    pictures: tuple[tuple[Photo, Mapping[str, Any]], ...]


# Given away --------------------------------------------------------------------------------------


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
    told = {"format": FORMAT, "version": VERSION, "written_by": __version__, "sha256": _digest(job), "job": job}
    if wrong := misfit(JobShape, job, "job"):
        raise complaint(f"this job is too large to share: {wrong}", "leave the pictures out of it")
    _events(
        {**job, "pictures": []}, _digest(job), False, file, case.closed["at"]
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
        raise _wrong(str(path), "there is a file of this name", "name another one") from problem
    except OSError as problem:
        raise _wrong(
            str(path), f"it cannot be written: {problem.strerror or problem}", "name another folder"
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
            "text": _bare_text(line.text, known.file), "says": [_bare_text(one, known.file) for one in line.says],
        }  # fmt: skip
        told |= {
            "machine": known.text, "file": _base(known.file), "names": dict(known.names),
            "functions": dict(known.functions),
        }  # fmt: skip
    return told


def _kind(line: Line) -> str:
    return "said" if line.status == COUNTS else "note" if line.known is None else line.known.how


def _base(name: str) -> str:
    """A file's name without the folders: those name a person's computer."""
    return PureWindowsPath(PurePosixPath(name).name).name


def _bare_text(text: str, file: str) -> str:
    """A line that names a file, without the folders."""
    return text.replace(file, _base(file)) if file else text


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
        yield f"{len(case.photos)} picture{'' if len(case.photos) == 1 else 's'}; --pictures puts them in"
    if any(line.capture is not None for line in case.live):
        yield "files of waveforms; what was read of them is in it"
    if any(not _is_shared(line) for line in case.live):
        yield "what the owner allowed, what was learnt from other jobs, and lines that were not understood"


def _look_at(case: Case, pictures: bool) -> Iterator[str]:
    yield "Read it through once: names of other people, and places, are not recognised."
    if case.photos and pictures:
        yield "Nobody has looked at what the pictures show."


# Taken in ----------------------------------------------------------------------------------------


def take(book: Book, data: bytes, file: str, counts: bool, now: str) -> TakenView:
    """Put a shared job into the book, as a closed one from elsewhere. file: as it is called, for complaints alone.

    counts: what was found on it counts among this bench's culprits. BadInput for any other file, or one that is here
    already; then nothing was stored.
    """
    return keep_tried(book, try_out(data, file, counts, now))


def try_out(data: bytes, file: str, counts: bool, now: str) -> TriedOut:
    """Read a shared job and do with it all that is done with an old job; no book is touched, and it takes its time.

    As `take` otherwise.
    """
    job = _read(data, file)
    digest = _digest(job)
    told = tuple(_events(job, digest, counts, file, now))
    made = [(_photo(one, file), one) for one in job.get("pictures", ())]
    return TriedOut(file, digest, counts, told, tuple((photo, {**one, "data": ""}) for photo, one in made))


def keep_tried(book: Book, tried: TriedOut) -> TakenView:
    """Put a shared job that was tried into the book. BadInput for one that is here already."""
    for event in book.events_of("opened"):
        if event.payload.get("elsewhere") == tried.digest:
            raise _wrong(tried.file, f"this file is job {event.job} already", "nothing is to be done")
    *told, closed = tried.told
    told += [(kind, one, closed[2]) for kind, one in _photos(book, tried)]
    number = book.take_in([*told, closed], __version__)
    case = find_case(book, number)
    culprits = likeliest(case.found.culprits) if case.found is not None else ()
    return TakenView(
        number, case.intake.kind, case.intake.model, len(case.lines), len(healthy_readings(case)),
        tuple(map(in_words, culprits)), tried.counts and bool(culprits),
    )  # fmt: skip


def _read(data: bytes, file: str) -> dict[str, Any]:
    """What a file holds, once it is known to be whole and to look as it should."""
    if len(data) > MOST_BYTES:
        raise _wrong(file, f"this file is larger than {MOST_BYTES // 2**20} MB", "ask for it without its pictures")
    try:
        told = json.loads(data.decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError) as problem:
        raise _wrong(file, "this is no shared job", ANEW) from problem
    if not isinstance(told, dict) or told.get("format") != FORMAT:
        raise _wrong(file, "this is no shared job", ANEW)
    if told.get("version") != VERSION:
        raise _wrong(file, f"this job is of version {str(told.get('version'))[:20]}, not {VERSION}",
                     "install the newest probewright")  # fmt: skip
    job: Any = told.get("job")
    if wrong := misfit(JobShape, job, "job"):
        raise _wrong(file, f"this job is not as it should be: {wrong}", ANEW)
    if told.get("sha256") != _digest(job):
        raise _wrong(file, "this file was changed or damaged on its way: its digest is another", ANEW)
    found: dict[str, Any] = job
    return found


def _no_number(said: str) -> float:
    raise ValueError(f"{said} is no number")


def _digest(job: Mapping[str, Any]) -> str:
    text = json.dumps(job, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _events(job: Mapping[str, Any], digest: str, counts: bool, file: str, now: str) -> list[Told]:
    """The events of a job from elsewhere, but for its pictures. It ends now, and began as long before as it took.

    All that the pages do with an old job was tried on them, so that a job that is not what it seems stops here.
    """
    times = [0.0, *(line["after"] for line in job["lines"]), job["after"]]
    if times != sorted(times) or times[-1] > LONGEST:
        raise _wrong(file, "its times do not run from its beginning to its end", ANEW)
    if job["ending"] not in WAYS_TO_END:
        raise _wrong(file, f"{job['ending'][:40]!r} is no way to end a job", ANEW)
    begun = datetime.fromisoformat(now) - timedelta(minutes=float(job["after"]))

    def at(minutes: float) -> str:
        return (begun + timedelta(minutes=float(minutes))).isoformat(timespec="seconds")

    try:
        told: list[Told] = [("opened", asdict(_intake(job, digest)), at(0.0))]
        told += [(line["kind"], _payload(line), at(line["after"])) for line in job["lines"]]
        told.append(("closed", {"ending": job["ending"], "words": job["ended_with"]}, at(job["after"])))
        found = _found(_tried(told), job, counts)
        return [*told[:-1], (FOUND, keep_found(found), told[-1][2]), told[-1]] if found.culprits else told
    except BadInput as bad:
        said = bad.complaints[0]
        raise _wrong(file, f"this job cannot be read here: {said.text}", said.mend) from bad
    except UNFIT as problem:
        raise _wrong(file, f"this job is not what it seems ({type(problem).__name__})", ANEW) from problem


def _intake(job: Mapping[str, Any], digest: str) -> Intake:
    known = symptoms.functions(job["kind"])
    ticks = ticked((listed(name, known, job["kind"]), tick) for name, tick in job["ticks"].items())
    if strange := sorted(set(ticks.values()) - {"good", "bad", "partly"}):
        raise complaint(f"{strange[0][:40]!r} is no tick", ANEW)
    words = {name: job[name] for name in ("model", "words", "when", "inside", "boards")}
    return Intake(job["kind"], ticks=ticks, key=digest[:16], elsewhere=digest, **words)


def _payload(line: Mapping[str, Any]) -> dict[str, Any]:
    """A line's event, field by field: nothing that is not named here gets in."""
    if line["kind"] not in LINES:
        raise complaint(f"{line['kind'][:40]!r} is no kind of line", ANEW)
    told = {"text": line["text"], "says": line["says"]}
    if line["kind"] == "said":
        if line.get("bench") is None:
            raise complaint("a line says nothing of the bench", ANEW)
        readings = line.get("readings", [])
        for one in readings:
            _check_reading(one)
        return {
            **told, "readings": readings, "bench": line["bench"], "marked": line.get("marked") or {}, "sure": False,
            "zones": line.get("zones", []),
        }  # fmt: skip
    if line["kind"] == "note":
        return told
    file = line.get("file", "")
    told = {"text": _bare_text(line["text"], file), "says": [_bare_text(one, file) for one in line["says"]]}
    return {
        **told, "machine": line.get("machine", ""), "file": _base(file),
        "names": line.get("names") or {}, "functions": line.get("functions") or {},
    }  # fmt: skip


def _check_reading(one: Mapping[str, Any]) -> None:
    """BadInput for a reading that looks as it should and says what no reading says."""
    if one["instrument"] not in WORDED:
        unit_of(one["instrument"])
    if one["showing"] not in SHOWING.values():
        raise complaint(f"{one['showing'][:40]!r} is not whether the fault shows", ANEW)
    figures = (*(() if one["word"] else (one["answer"],)), *(one.get("bound") or ()))
    if strange := [end for end in figures if isinstance(end, str) and end.removeprefix("-") != OVER]:
        raise complaint(f"{strange[0][:40]!r} is no figure", ANEW)
    if one["word"] and not isinstance(one["answer"], str):
        raise complaint(f"{one['answer']} is no word", ANEW)


def _photos(book: Book, tried: TriedOut) -> Iterator[tuple[str, dict[str, Any]]]:
    """Pictures, each made anew from what it shows, and their marks."""
    for photo, one in tried.pictures:
        name = shelf_of(book).keep(photo)
        yield "photo", {"name": name, "width": photo.width, "height": photo.height, "says": one["says"],
                        "sheet": one["sheet"], "once": ""}  # fmt: skip
        for spot in one.get("spots", ()):
            yield "spot", {"name": name, **spot}


def _photo(one: Mapping[str, Any], file: str) -> Photo:
    try:
        photo = accept(base64.b64decode(one["data"], validate=True), sheet=one["sheet"])
    except (BadInput, binascii.Error) as problem:
        raise _wrong(file, "a picture in it is no picture", ANEW) from problem
    if not all(0.0 <= spot["x"] <= 1.0 and 0.0 <= spot["y"] <= 1.0 for spot in one.get("spots", ())):
        raise _wrong(file, "a mark lies outside its picture", ANEW)
    return photo


def _tried(told: Sequence[Told]) -> Case:
    """The job of these events, once all that is done with an old job was done with it: it is computed, too."""
    case = fold(Event(n, 1, kind, payload, at, __version__) for n, (kind, payload, at) in enumerate(told, 1))
    machine = machine_of(case)
    if machine is not None and len(machine.parts) > MOST_PARTS:
        raise complaint(f"its machine has {len(machine.parts)} parts", f"ask for a part of it: {MOST_PARTS} at most")
    work_out(case)
    healthy_readings(case)
    check_readings(case)
    plain(view_case(case))
    return case


def _found(case: Case, job: Mapping[str, Any], counts: bool) -> Found:
    """What the other bench found, as far as its own lines bear it out, beside what our tables expect."""
    machine = machine_of(case)
    if machine is None or job["ending"] != "repaired":
        return Found()
    by_table = suspects_of(machine)
    since = mended_on(case, machine)
    named = {(one.faults[0].item, one.faults[0].mode): one for one in by_table if one.faults}
    shares: dict[tuple[str, str], float] = {}
    for told in job.get("culprits", ()):
        shares.setdefault((told["item"], told["mode"]), float(told["share"]))
    culprits = []
    for (item, mode), said in shares.items():
        one = named.get((item, mode))
        if one is not None and is_mended(machine, one, since) and (kind := kind_of(machine, one.faults[0])):
            culprits.append(Culprit(item, mode, kind, min(max(said, 0.0), 1.0)))
    whole = sum(one.share for one in culprits)
    if whole > 1.0:  # a job proves one culprit, whatever its file says
        culprits, whole = [replace(one, share=one.share / whole) for one in culprits], 1.0
    share = {way: whole * part for way, part in expected(machine, by_table).items()} if culprits else {}
    text = job.get("decided_by", "")
    line = next((one.event for one in case.live if one.text == text and text), 0)
    return Found(tuple(culprits), share, line, text if line else "", counts)


def _wrong(file: str, text: str, mend: str) -> BadInput:
    return BadInput(Complaint(file, 1, 1, text, mend))
