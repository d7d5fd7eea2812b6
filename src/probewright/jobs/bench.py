"""The repairer's verbs on a lasting record: open a job, enter lines, undo, add what is known, close.

Every verb writes what a person said before anything is computed from it. `now` is handed in: UTC,
as ISO text.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from typing import Any

from probewright import __version__
from probewright.errors import BadInput, Complaint
from probewright.errors import complaint as complaint
from probewright.hypotheses import symptoms
from probewright.jobs.case_view import (
    CaptureView,
    CaseView,
    ClosedView,
    ComplaintView,
    LineView,
    OwnerView,
    ZoneView,
    view_photos,
)
from probewright.jobs.cases import UNTOUCHED, Case, Intake, Line, after, fold
from probewright.jobs.coming_back import link_if_known, said_before, view_before
from probewright.jobs.comparing import compare
from probewright.jobs.culprits import has_come_back, keep_culprits, pin_usual
from probewright.jobs.heard_again import still_bad
from probewright.jobs.keeping import keep_bench, keep_reading, keep_zone
from probewright.jobs.known_files import read_known
from probewright.jobs.moving import say_changed, say_moved
from probewright.jobs.pacing import kit_of, learn_pace
from probewright.jobs.paths import say_path
from probewright.jobs.repairs import stands_repaired
from probewright.jobs.safety_checks import held_back
from probewright.jobs.strips import still_apart
from probewright.jobs.taught import beside_learnt
from probewright.jobs.ways_to_end import HANDED_BACK, REPAIRED, SOUND, WAYS_TO_END
from probewright.machine import Machine
from probewright.machine import read as read_machine
from probewright.machine.model import Zone
from probewright.machine.saying import nearest
from probewright.machine.tables import TableSection
from probewright.readings import Question, Reading, owner
from probewright.readings.doubts import Unsure
from probewright.readings.hearing import Context, Heard, hear
from probewright.readings.setups import find, part_meant, part_names
from probewright.readings.sums import reckon
from probewright.readings.zoning import place_in, say
from probewright.record import Book, Event

TOLD = ("model", "owner", "words", "when", "inside", "boards", "serial", "left")  # what is asked in words
NOT_A_PLACE = ("place", "unclear")  # doubts that a free name lifts


def open_job(book: Book, intake: Intake, now: str, before: int | None = None) -> Case:
    """A new job, with what the bench knows of usual culprits and of this very machine.

    before: job on which it was here before, as somebody says, 0 for none; without it that is looked up. BadInput for a
    kind of machine, a function of it, or a job, that is not known.
    """
    kind = " ".join(intake.kind.lower().split())
    known = symptoms.functions(kind)
    ticks = ticked((listed(function, known, kind), tick) for function, tick in intake.ticks.items())
    for words in TOLD:
        readable(getattr(intake, words))
    if before:
        find_case(book, before)
    case = fold([book.open_job(asdict(replace(intake, kind=kind, ticks=ticks)), now, __version__)])
    if before is not None:
        case = said_before(book, case, before, None, now)
    return _here(book, pin_usual(book, link_if_known(book, case, now), now))


def was_here(book: Book, case: Case, job: int, same: bool | None, now: str) -> Case:
    """Somebody says on which job this machine was here before, 0 for none; same: whether it is the same fault again.
    BadInput for a job that cannot be it."""
    brought_here(case)
    if job:
        find_case(book, job)
    try:
        said = said_before(book, case, job, same, now)
    except ValueError as problem:
        raise complaint(str(problem), "name the job by which it was taken in before, or 0 for none") from problem
    return said if said.closed is not None else _pinned_again(book, case, said, now)


def amend(book: Book, case: Case, told: Mapping[str, Any], now: str) -> Case:
    """Say more, or otherwise, of what was asked when the machine came in; told: field of `Intake` -> its new value.

    The kind stays: another kind is another job. Nothing is written when nothing changes.
    """
    still_open(case)
    if unknown := sorted(set(told) - {*TOLD, "ticks"}):
        raise complaint(f"{unknown[0]!r} is not asked at the intake", nearest(unknown[0], TOLD))
    known = symptoms.functions(case.intake.kind)
    fresh = dict(told)
    if "ticks" in told:
        fresh["ticks"] = ticked((listed(name, known, case.intake.kind), tick) for name, tick in told["ticks"].items())
    for words in set(told) & set(TOLD):
        readable(told[words])
    before = asdict(case.intake)
    changed = {name: value for name, value in fresh.items() if before[name] != value}
    if not changed:
        return case
    amended = append(book, case, "amended", changed, now)
    if {"model", "owner", "serial"} & set(changed):
        amended = link_if_known(book, amended, now)
    return _pinned_again(book, case, amended, now)


def _pinned_again(book: Book, was: Case, case: Case, now: str) -> Case:
    """What the bench knows of usual culprits, once more where it is another model now, or another repair has failed."""
    same_model = was.intake.model == case.intake.model
    same_repair = (was.earlier, has_come_back(was)) == (case.earlier, has_come_back(case))
    return case if same_model and same_repair else pin_usual(book, case, now)


def ticked(said: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Functions with their ticks. BadInput for one that is said to be two things."""
    ticks: dict[str, str] = {}
    for name, tick in said:
        if ticks.setdefault(name, tick) != tick:
            raise complaint(f"{name} is said to be {ticks[name]} and {tick}", "keep one of them")
    return ticks


def listed(function: str, known: Sequence[str], kind: str) -> str:
    """The function of the tick list that is meant. BadInput with the nearest when there is none."""
    found = find(function.strip(), known)
    if not found:
        raise complaint(f"{function!r} is not on the list of this kind ({kind})", nearest(function, known))
    return found[0]


def named_part(machine: Machine, said: str) -> str:
    """The part or case of the machine file that is meant. BadInput with the nearest where there is none."""
    if part := part_meant(said.strip(), machine):
        return part
    raise complaint(f"the machine file has no part {said!r}", nearest(said, part_names(machine)))


def find_case(book: Book, number: int | None = None, ended: bool = False) -> Case:
    """A job by its number, or the one that was touched last, apart from practices and jobs from elsewhere. BadInput
    when there is none.

    ended: a closed one too, for what is done once a job has ended.
    """
    if number is not None:
        if number not in book.jobs():
            raise complaint(f"there is no job {number}", "see `probewright job list`")
        return _here(book, fold(book.events(number)))
    closed = () if ended else book.events_of("closed", "reopened")
    gone = {event.job: event.kind == "closed" for event in closed}
    gone |= {event.job: True for event in book.events_of("opened") if not _is_on_bench(event)}
    open_ = [(event.at, event.job) for event in book.last_events(but=UNTOUCHED) if not gone.get(event.job)]
    if not open_:
        raise complaint("no job is on the bench", "open one: `probewright job open`")
    return _here(book, fold(book.events(max(open_)[1])))  # only this one is taken apart: a bench has hundreds


def _is_on_bench(opened: Event) -> bool:
    """Whether a job is of a real machine that came to this bench."""
    return not (opened.payload.get("practice") or opened.payload.get("elsewhere"))


def _here(book: Book, case: Case) -> Case:
    """The job on this bench, with what that has."""
    return replace(case, kit=kit_of(book))


def every_case(book: Book) -> tuple[Case, ...]:
    """Every owner's machine of the book, oldest first. A practice is none: nothing is learnt from a made-up machine."""
    return tuple(case for case in _all_cases(book) if not case.practice)


def every_practice(book: Book) -> tuple[Case, ...]:
    """Every practice of the book, oldest first."""
    return tuple(case for case in _all_cases(book) if case.practice)


def _all_cases(book: Book) -> Iterator[Case]:
    return (fold(book.events(number)) for number in book.jobs())


def machine_of(case: Case) -> Machine | None:
    """The job's machine file, read, with the zones that were said; None while only the complaint is known."""
    if case.known is None:
        return None
    machine = read_known(case.known.text, case.known.file)
    placed = tuple(one for one, _ in placed_zones(case, machine) if one is not None)
    return _with_zones(case.known.text, case.known.file, placed) if placed else machine


@lru_cache(maxsize=8)
def _with_zones(text: str, file: str, zones: tuple[Zone, ...]) -> Machine:
    machine = read_known(text, file)
    return replace(machine, zones=tuple(dict.fromkeys((*machine.zones, *zones))))


def placed_zones(case: Case, machine: Machine) -> Iterator[tuple[Zone | None, tuple[str, ...]]]:
    """Each zone that was said, on the names of the machine file, and its names that the file does not know.

    None for a zone of which the file knows nothing.
    """
    names = case.known.names if case.known else {}
    for zone in case.zones:
        meant = {said: place_in(names.get(said, said), machine) for said in zone.places}
        known = tuple(dict.fromkeys(filter(None, meant.values())))
        yield (replace(zone, places=known) if known else None), tuple(said for said in meant if not meant[said])


@dataclass(frozen=True)
class Understood:
    """What would become of a line. kind: "said", "asked" or "note"; payload: as the record keeps it."""

    kind: str
    payload: Mapping[str, Any]
    heard: Heard | None = None


def understand(case: Case, text: str, asked: Question | None = None, sure: bool = False) -> Understood:
    """What a line means on this job; nothing is stored. BadInput for a line that is empty or no text."""
    readable(text)
    if not text.strip():
        raise complaint("the line is empty", "write what was read, like `Q7 c 11.8`")
    if sum_ := reckon(text):
        payload = {"text": text, "kind": sum_.kind, "says": [sum_.says], "figures": dict(sum_.figures)}
        return Understood("note", payload)
    machine = machine_of(case)
    if answered := _owner_says(case, machine, text):
        return answered
    heard = hear_line(case, machine, text, asked, sure)
    if heard.doubts:
        asks = {"text": text, "doubts": [asdict(doubt) for doubt in heard.doubts], "echo": list(heard.echo)}
        return Understood("asked", asks, heard)
    says = [*heard.echo, *heard.remarks, *say_beside(case, machine, heard.readings)]
    told: dict[str, Any] = {
        "text": text,
        "readings": [keep_reading(reading) for reading in heard.readings],
        "says": says,
        "bench": keep_bench(heard.bench),
        "marked": {name: list(value) for name, value in heard.marked.items()},
        "sure": sure,
        "zones": [keep_zone(zone) for zone in heard.zones],
    }
    return Understood("said", told, heard)


def _owner_says(case: Case, machine: Machine | None, text: str) -> Understood | None:
    """What the owner said to a step that cannot be taken back; None for any other line."""
    try:
        said = owner.to_answer(text, machine)
    except Unsure as unsure:
        doubt = unsure.doubt
        return Understood(
            "asked", {"text": text, "doubts": [asdict(doubt)], "echo": []}, Heard((), case.bench, (doubt,))
        )  # fmt: skip
    if said is None:
        return None
    return Understood("owner", {"text": text, **asdict(said), "says": [owner.say(said)]})


def say_beside(case: Case, machine: Machine | None, readings: Sequence[Reading]) -> list[str]:
    """How new readings stand beside what was read and learnt before."""
    says: list[str] = []
    for number, reading in enumerate(readings):
        earlier = (*case.readings, *readings[:number])
        if beside := compare(reading, earlier, machine):
            says.append(f"{reading.question.red}: {beside}")
        if learnt := beside_learnt(case, reading):
            says.append(f"{reading.question.red}: {learnt}")
        if drop := say_path(reading, earlier):
            says.append(drop)
        if changed := say_changed(reading, earlier):
            says.append(changed)
    if moved := say_moved(case.readings, tuple(readings)):
        says.append(moved)
    return says


def enter_line(
    book: Book, case: Case, text: str, now: str, asked: Question | None = None, sure: bool = False, once: str = ""
) -> Case:
    """One typed line: a reading, several, a set-up, a remark or a sum; kept whatever it is.

    What is not understood is kept with the question it raises and does not count. once: mark of the
    form it came by; the same line by the same form is not entered again.
    """
    still_open(case)
    if is_entered(case, text, once):
        return case
    return keep_line(book, case, understand(case, text, asked, sure), now, once)


def is_entered(case: Case, text: str, once: str) -> bool:
    """Whether this line came by this form already."""
    return bool(once) and any(line.once == once and line.text == text for line in case.lines)


def keep_line(book: Book, case: Case, made: Understood, now: str, once: str = "") -> Case:
    """Put a line that was understood on this very job into the record."""
    still_open(case)
    return append(book, case, made.kind, {**made.payload, "once": once} if once else made.payload, now)


def hear_line(
    case: Case, machine: Machine | None, text: str, asked: Question | None = None, sure: bool = False
) -> Heard:
    """What a line means on this job: first on the names of its machine file, else as free names.

    A chain or a shelf stage seldom names everything on the board, so an unknown place is kept as
    it was said, and the echo says that the file does not know it.
    """
    context = context_of(case, machine, asked, sure)
    heard = hear(text, context)
    if machine is None or not heard.doubts or not all(doubt.code in NOT_A_PLACE for doubt in heard.doubts):
        return heard
    free = hear(text, replace(context, machine=None))
    if free.doubts or not free.readings:
        return heard
    return replace(free, echo=(*free.echo, "not in the machine file: kept on the name you gave it"))


def context_of(case: Case, machine: Machine | None, asked: Question | None = None, sure: bool = False) -> Context:
    """What the bench knows while a line is typed."""
    section = None if machine is not None else table_of(case)
    return Context(
        machine=machine,
        bench=case.bench,
        asked=asked,
        said=case.readings,
        marked=case.marked,
        functions=tuple(case.intake.ticks),
        extras=() if case.practice else tuple(one.name for one in symptoms.leads_and_extras(case.intake.kind)),
        tests={} if section is None else {test.id: test.outcomes for test in section.tests},
        sure=sure,
    )


def table_of(case: Case) -> TableSection:
    """The symptom table of the job's complaint, with the leads and extras that were exchanged."""
    told, swapped = case.intake, {one.question.red for one in case.readings if one.question.instrument == "swap"}
    return symptoms.symptom_table(
        told.kind, told.ticks, words=told.words, when=told.when, inside=told.inside, boards=told.boards,
        swapped=swapped,
    )  # fmt: skip


def view_case(case: Case) -> CaseView:
    """The job as its record tells it; nothing is computed."""
    told = case.intake
    return CaseView(
        case.number,
        ComplaintView(
            told.kind, told.model, told.owner, dict(told.ticks), told.words, told.when, told.inside, told.boards,
            told.serial, told.left,
        ),
        case.opened,
        case.touched,
        case.known.how if case.known else "symptoms",
        tuple(view_line(line) for line in case.lines),
        None if case.closed is None else ClosedView(case.closed["ending"], case.closed["words"], case.closed["at"]),
        view_photos(case.photos),
        tuple(ZoneView(one.kind, say(one), one.places, one.around) for one in case.zones),
        case.erased,
        bool(case.practice),
        tuple(
            OwnerView(line.event, line.at, owner.say_wish(line.owner.wish), line.owner.answer, line.owner.words)
            for line in case.asked_owner
            if line.owner is not None
        ),
        view_before(case),
        bool(case.intake.elsewhere),
    )  # fmt: skip


def view_line(line: Line) -> LineView:
    """A line as it is shown, with the waveform it came from."""
    taken = line.capture
    capture = CaptureView(taken.name, taken.file, taken.place, taken.channel) if taken else None
    return LineView(line.event, line.at, line.text, line.status, line.says, capture)


def undo(book: Book, case: Case, now: str, event: int | None = None) -> Case:
    """Take back a line that still stands, the last one when none is named; it stays in the record, marked.

    event: number of the line; one that was taken back already is left as it is.
    """
    still_open(case)
    live = {line.event: line for line in case.live}
    if event is not None and event not in {line.event for line in case.lines}:
        raise complaint(f"job {case.number} has no line {event}", "see its lines: `probewright reading list`")
    if not live:
        raise complaint("nothing is left to take back", "enter a reading first")
    if event is not None and event not in live:
        return case
    return append(book, case, "undone", {"event": max(live) if event is None else event}, now)


def know(
    book: Book, case: Case, how: str, typed: str, machine_text: str, file: str, now: str,
    names: Mapping[str, str] | None = None, functions: Mapping[str, str] | None = None, says: Sequence[str] = (),
    once: str = "",
) -> Case:  # fmt: skip
    """Put a machine file to the job. how: "chain", "shelf" or "file"; it must load.

    Earlier readings keep their names; `names` says which place each free name is. What an earlier
    file called a place and this one does not have is free again. once: mark of the form it came by.
    """
    still_open(case)
    if is_entered(case, typed, once):
        return case
    readable(typed)
    machine = read_machine(machine_text, file)
    before, works = case.known, {one.name for one in machine.works}
    every = {**(before.names if before else {}), **(names or {})}
    ticks = {**(before.functions if before else {}), **(functions or {})}
    payload = {
        "text": typed,
        "machine": machine_text,
        "file": file,
        "names": {name: place for name, place in every.items() if machine.has_place(place)},
        "functions": {tick: name for tick, name in ticks.items() if name in works},
        "says": list(says),
        **({"once": once} if once else {}),
    }
    return append(book, case, how, payload, now)


def close(book: Book, case: Case, ending: str, words: str, now: str) -> Case:
    """End a job; it can be taken up again. Without words those stay with which it was ended before. BadInput while it
    is not wholly together, still does not work, or its safety checks forbid it. ending: capitals do not matter."""
    said, ending = ending, " ".join(ending.casefold().split())
    if ending not in WAYS_TO_END:
        raise complaint(f"{said!r} is not a way to end a job", f"write one of: {', '.join(WAYS_TO_END)}")
    still_open(case)
    for text, mend, _ in held(case, ending)[:1]:
        raise complaint(text, mend)
    machine = machine_of(case)
    learn_pace(book, case, machine, now)
    case = keep_culprits(book, case, machine, now)
    return append(book, case, "closed", {"ending": ending, "words": words.strip() or case.last_words}, now)


def held(case: Case, ending: str) -> list[tuple[str, str, str]]:
    """Why the job cannot end so: what is wrong, what to do, and the page for it; none where it can."""
    found = []
    if ending in HANDED_BACK and (apart := still_apart(case.strip, machine_of(case))):
        mend = 'put it back and see that it is well, or say what became of it: `probewright strip --explain "..."`'
        found.append((f"job {case.number} is not together: {'; '.join(apart)}", mend, "strip"))
    if ending == REPAIRED and (bad := still_bad(case)):
        mend = f"repair it further, or enter that it works (`{bad[0]} ok`); else end it as returned"
        found.append((f"the last word since the repair is that {', '.join(bad)} does not work", mend, "proof"))
    if unsafe := held_back(case, ending):
        found.append((*unsafe, "safety"))
    if ending == SOUND and (mended := stands_repaired(case)):
        mend = "end it as repaired or as returned; or take the repair back: `probewright reading undo`"
        found.append((f"{', '.join(mended)}: it ends as repaired or returned, not as {ending}", mend, "proof"))
    return found


def reopen(book: Book, case: Case, now: str) -> Case:
    """Take a closed job up again."""
    brought_here(case)
    if case.closed is None:
        raise complaint(f"job {case.number} is still open", "nothing is to be done")
    return append(book, case, "reopened", {}, now)


def append(book: Book, case: Case, kind: str, payload: Mapping[str, Any], now: str) -> Case:
    """The job after one more event, which is on the disk then."""
    event: Event = book.append(case.number, kind, payload, now, __version__)
    return after(case, event)


def still_open(case: Case) -> None:
    """Refuse to add to a closed job, one from elsewhere, or a practice as to an owner's machine. BadInput."""
    brought_here(case)
    if case.closed is not None:
        raise complaint(f"job {case.number} is closed", f"take it up again: `probewright job reopen {case.number}`")


def owned(case: Case) -> None:
    """Refuse a practice where an owner's machine is meant. BadInput."""
    if case.practice:
        raise complaint(
            f"job {case.number} is a practice: nothing is wired, its figures are made up", "go on with it on the page"
        )


def brought_here(case: Case) -> None:
    """Refuse to write on a practice, or on a job from elsewhere, as on a machine that came to this bench. BadInput."""
    owned(case)
    if case.intake.elsewhere:
        raise complaint(f"job {case.number} is from elsewhere: its machine is not here", "open a job of your own")


def readable(text: str) -> None:
    """Refuse what is no text: bytes that a terminal or a pipe could not make sense of. BadInput."""
    if bad := next((n for n, letter in enumerate(text, 1) if "\ud800" <= letter <= "\udfff"), 0):
        raise BadInput(
            Complaint("", 1, bad, "this is not text (UTF-8)", "type the line anew, or save the file as UTF-8")
        )


def pins_of(machine: Machine) -> tuple[str, ...]:
    """Every leg of every part, as a place."""
    return tuple(f"{part.name}.{pin}" for part in machine.parts.values() for pin in part.pins)


def is_spot(name: str, machine: Machine) -> bool:
    """Whether the file knows this place, part or case: what can be tapped."""
    return name in machine.parts or any(p.package == name for p in machine.parts.values()) or machine.has_place(name)
