"""A job to take in, and what a stranger's file may do here.

It is read, checked, and put down as plain events; nothing in it is run, and no name in it leads to a file.
"""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from probewright import __version__
from probewright.errors import BadInput
from probewright.hypotheses import symptoms
from probewright.hypotheses.suspects import suspects_of
from probewright.hypotheses.usual import expected, kind_of
from probewright.jobs.bench import complaint, find_case, listed, machine_of, ticked, view_case
from probewright.jobs.cases import COUNTS, NOTE, Case, Intake, fold
from probewright.jobs.culprits import is_mended, mended_on
from probewright.jobs.exporting import check_readings
from probewright.jobs.found import FOUND, Culprit, Found, in_words, keep_found, likeliest
from probewright.jobs.keeping import OVER
from probewright.jobs.picturing import shelf_of
from probewright.jobs.shared_shape import FORMAT, MOST_BYTES, VERSION, JobShape, bare_name, bare_text, digest_of, misfit
from probewright.jobs.standing import work_out
from probewright.jobs.taught import healthy_readings
from probewright.jobs.view import SCHEMA, plain
from probewright.jobs.ways_to_end import REPAIRED, WAYS_TO_END
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
Told = tuple[str, Mapping[str, Any], str]  # kind of event, payload, time
WORDED = ("said", "works", "swap", "swap back", "provoke", "exchange", "test", "look", "drawn")
LINES = {"said": COUNTS, "note": NOTE, "chain": NOTE, "shelf": NOTE, "file": NOTE}  # kind of line -> how it stands
ANEW = "ask for the file anew; `probewright book share-job` writes them"


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
    digest = digest_of(job)
    told = tuple(events_of(job, digest, counts, file, now))
    made = [(_photo(one, file), one) for one in job.get("pictures", ())]
    return TriedOut(file, digest, counts, told, tuple((photo, {**one, "data": ""}) for photo, one in made))


def keep_tried(book: Book, tried: TriedOut) -> TakenView:
    """Put a shared job that was tried into the book. BadInput for one that is here already."""
    for event in book.events_of("opened"):
        if event.payload.get("elsewhere") == tried.digest:
            raise complaint(f"this file is job {event.job} already", "nothing is to be done", tried.file)
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
        raise complaint(f"this file is larger than {MOST_BYTES // 2**20} MB", "ask for it without its pictures", file)
    try:
        told = json.loads(data.decode("utf-8"), parse_constant=_no_number)
    except (ValueError, RecursionError) as problem:
        raise complaint("this is no shared job", ANEW, file) from problem
    if not isinstance(told, dict) or told.get("format") != FORMAT:
        raise complaint("this is no shared job", ANEW, file)
    if told.get("version") != VERSION:
        raise complaint(
            f"this job is of version {str(told.get('version'))[:20]}, not {VERSION}",
            "install the newest probewright",
            file,
        )
    job: Any = told.get("job")
    if wrong := misfit(JobShape, job, "job"):
        raise complaint(f"this job is not as it should be: {wrong}", ANEW, file)
    if told.get("sha256") != digest_of(job):
        raise complaint("this file was changed or damaged on its way: its digest is another", ANEW, file)
    found: dict[str, Any] = job
    return found


def _no_number(said: str) -> float:
    raise ValueError(f"{said} is no number")


def events_of(job: Mapping[str, Any], digest: str, counts: bool, file: str, now: str) -> list[Told]:
    """The events of a job from elsewhere, but for its pictures. It ends now, and began as long before as it took.

    All that the pages do with an old job was tried on them, so that a job that is not what it seems stops here.
    """
    times = [0.0, *(line["after"] for line in job["lines"]), job["after"]]
    if times != sorted(times) or times[-1] > LONGEST:
        raise complaint("its times do not run from its beginning to its end", ANEW, file)
    if job["ending"] not in WAYS_TO_END:
        raise complaint(f"{job['ending'][:40]!r} is no way to end a job", ANEW, file)
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
        raise complaint(f"this job cannot be read here: {said.text}", said.mend, file) from bad
    except UNFIT as problem:
        raise complaint(f"this job is not what it seems ({type(problem).__name__})", ANEW, file) from problem


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
    told = {"text": bare_text(line["text"], file), "says": [bare_text(one, file) for one in line["says"]]}
    return {
        **told, "machine": line.get("machine", ""), "file": bare_name(file),
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
        raise complaint("a picture in it is no picture", ANEW, file) from problem
    if not all(0.0 <= spot["x"] <= 1.0 and 0.0 <= spot["y"] <= 1.0 for spot in one.get("spots", ())):
        raise complaint("a mark lies outside its picture", ANEW, file)
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
    if machine is None or job["ending"] != REPAIRED:
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
