"""A job as its record tells it: a pure fold of events, without physics and without a clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from probewright.errors import with_mend
from probewright.hypotheses.usual import NOTHING_FOUND, Usual
from probewright.jobs import after_repair, killers_checked, papers_said, pictures, placed_circuits, strips, undoing
from probewright.jobs import fits as fitted
from probewright.jobs.found import BEFORE, FOUND, USUAL, Before, Found, kept_before, kept_found, kept_usual
from probewright.jobs.keeping import kept_bench, kept_reading, kept_zone
from probewright.jobs.ways_to_end import PARKED
from probewright.machine.model import Zone
from probewright.planning.deciding import Option
from probewright.readings import Reading
from probewright.readings.bench import Bench
from probewright.readings.kit import UNTOLD, Kit
from probewright.readings.owner import NO, NOBODY, YES, Answer, Owner, to_wish
from probewright.record import Event

GOOD, BAD, PARTLY = "good", "bad", "partly"
COUNTS, ASKED, NOTE, UNDONE = "counts", "asked", "note", "undone"
# What stands beside the search, each folded in a file of its own: field of the case -> kinds of its events, its fold.
BESIDE: Mapping[str, tuple[Sequence[str], Callable[[Any, Event], Any]]] = {
    "photos": (tuple(pictures.FOLDS), pictures.after),
    "papers": (papers_said.KINDS, papers_said.after),
    "parts_told": (after_repair.PART_EVENTS, after_repair.part_told),
    "safety_told": (after_repair.SAFETY_EVENTS, after_repair.safety_told),
    "checked": (killers_checked.KINDS, killers_checked.after),
    "added": (placed_circuits.KINDS, placed_circuits.after),
    "strip": (tuple(strips.FOLDS), strips.after),
    "fits": (tuple(fitted.FOLDS), fitted.after),
}
# events from which nothing is computed
ASIDE = (
    "shown", "photo", "erased", "tried", "tries undone", "run begun", "adjusted", "agreed", "option", "option gone",
    "consent", FOUND,
    *(kind for kinds, _ in BESIDE.values() for kind in kinds),
)  # fmt: skip
# events after which nobody means this job by "the one touched last": what was worked out is no hand's doing
UNTOUCHED = ("erased", "shown", FOUND)


@dataclass(frozen=True)
class Intake:
    """What was asked when the machine came in; all but the kind may be empty.

    ticks: function -> "good", "bad" or "partly"; words: the owner's own; when: when and how often
    it shows; inside: who has been inside; boards: added boards; key: of the random draws; serial:
    the machine's number; left: what was left with it; practice: key of the made-up machine that is
    measured in the place of a real one, "" for an owner's machine; elsewhere: digest of the file that a job of another
    bench came by, "" for one of this bench.
    """

    kind: str
    model: str = ""
    owner: str = ""
    ticks: Mapping[str, str] = field(default_factory=dict)
    words: str = ""
    when: str = ""
    inside: str = ""
    boards: str = ""
    key: str = ""
    serial: str = ""
    left: str = ""
    practice: str = ""
    elsewhere: str = ""


@dataclass(frozen=True)
class Known:
    """The job's machine file.

    how: "chain", "shelf" or "file"; names: free name -> place; functions: tick -> function.
    """

    text: str
    file: str
    how: str
    names: Mapping[str, str] = field(default_factory=dict)
    functions: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Lesson:
    """Healthy readings of another machine of the model. job: that they come from; meter: its name, "" when nobody said;
    same_meter: it is the one in use on this job too."""

    job: int
    meter: str
    same_meter: bool
    readings: tuple[Reading, ...]

    @property
    def source(self) -> str:
        """Where it was learnt, in words."""
        return f"learnt from job {self.job}" + (f", with meter {self.meter}" if self.meter else "")


@dataclass(frozen=True)
class Captured:
    """A waveform from a file.

    name: under which its file is kept; file: as it was called; place: where it was taken; channel: from 1; single: one
    sweep from the moment the power comes on; coupled: with the input on AC; level: V of the rise that was looked for.
    """

    name: str
    file: str
    place: str
    channel: int
    single: bool = False
    coupled: bool = False
    level: float | None = None


@dataclass(frozen=True)
class Line:
    """One line typed at the bench.

    status: "counts", "asked" (a question stands against it, so it does not count), "note" or
    "undone"; says: what was understood, or asked back; bench: how it stands afterwards; marked:
    marked values told, part -> (SI, unit); known: the machine file that the line brought; once: mark
    of the form it came by, so that a form sent twice counts once; lesson: healthy readings of another job; zones:
    that it tells of; capture: the waveform its readings were taken from; owner: what the owner said; change: what it
    repaired itself; kept: the bench as the record keeps it, with what lines repaired that were taken back since.
    """

    event: int
    at: str
    text: str
    status: str
    says: tuple[str, ...]
    readings: tuple[Reading, ...] = ()
    bench: Bench | None = None
    marked: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    known: Known | None = None
    once: str = ""
    lesson: Lesson | None = None
    zones: tuple[Zone, ...] = ()
    capture: Captured | None = None
    owner: Answer | None = None
    change: undoing.Change = undoing.NO_CHANGE
    kept: Bench | None = None


@dataclass(frozen=True)
class Tried:
    """Tries of whether the fault shows. what: "starts" or "run"; amount: starts, or hours; shown: how often it showed;
    under: the provocation, "" for none; once: mark of the form it came by."""

    event: int
    at: str
    what: str
    amount: float
    shown: int
    under: str = ""
    interrupted: bool = False
    words: str = ""
    once: str = ""


@dataclass(frozen=True)
class Running:
    """It runs on trial since then, under this provocation."""

    at: str
    under: str


@dataclass(frozen=True)
class Adjusted:
    """What was set anew, with its figure before and after. once: mark of the form it came by."""

    at: str
    what: str
    before: str
    after: str
    once: str = ""


@dataclass(frozen=True)
class Agreed:
    """What the owner says of money. value: of the working machine to them; ceiling: in all; keep: it stays original."""

    value: float | None = None
    ceiling: float | None = None
    keep: bool = False


@dataclass(frozen=True)
class Consent:
    """The owner's word. to: an option's name; up_to: the new ceiling, None where none was said; event: its number."""

    at: str
    to: str
    words: str
    up_to: float | None = None
    event: int = 0


@dataclass(frozen=True)
class Case:
    """One owner's machine on the bench after its events so far; everything follows from its lines.

    mark: number of the last event that changed what is known (showing something does not, nor does a
    picture); photos: in the order they came; sent: marks of the forms that pictures came by; kit: of the bench, no
    matter of this job; erased: when the owner's data was last taken out, "" for never; tried: whether the
    fault shows, as far as not taken back; running: on trial; added: circuits in the place of something dead;
    parts_told, safety_told, checked, papers: once it is repaired; usual: culprits as this bench knew them when the
    machine came in; found: what its repair proved; before: where it was here before.
    """

    number: int
    intake: Intake
    opened: str
    touched: str
    lines: tuple[Line, ...] = ()
    closed: Mapping[str, Any] | None = None
    last_words: str = ""  # with which it was ended before it was taken up again, but for being parked
    shown: Mapping[str, Any] | None = None
    mark: int = 1
    photos: tuple[pictures.Picture, ...] = ()
    sent: frozenset[str] = frozenset()
    kit: Kit = UNTOLD
    erased: str = ""
    tried: tuple[Tried, ...] = ()
    running: Running | None = None
    adjusted: tuple[Adjusted, ...] = ()
    agreed: Agreed = Agreed()
    options: tuple[Option, ...] = ()
    consents: tuple[Consent, ...] = ()
    papers: papers_said.Said = papers_said.Said()
    parts_told: tuple[after_repair.PartTold, ...] = ()
    safety_told: after_repair.SafetyTold = after_repair.SafetyTold()
    checked: tuple[killers_checked.LookedInto, ...] = ()
    added: tuple[placed_circuits.Placed, ...] = ()
    strip: strips.Strip = strips.Strip()
    fits: fitted.Fits = fitted.Fits()
    usual: Usual = NOTHING_FOUND
    found: Found | None = None
    before: Before | None = None

    @property
    def practice(self) -> str:
        """Key of the made-up machine of a practice; "" for an owner's."""
        return self.intake.practice

    @property
    def earlier(self) -> Before | None:
        """The job on which this machine was here before; None where there is none, or somebody said so."""
        return self.before if self.before is not None and self.before.job else None

    @property
    def ending(self) -> str:
        """How it ended, one of `ways_to_end` or a practice's own; "" while it is open."""
        return "" if self.closed is None else str(self.closed["ending"])

    @property
    def live(self) -> tuple[Line, ...]:
        """Lines that were not taken back."""
        return tuple(line for line in self.lines if line.status != UNDONE)

    @property
    def known(self) -> Known | None:
        """The machine file in force; None while only the complaint is known."""
        return next((line.known for line in reversed(self.live) if line.known), None)

    @property
    def lessons(self) -> tuple[Lesson, ...]:
        """What was learnt from other machines of the model and not taken back, oldest first."""
        return tuple(line.lesson for line in self.live if line.lesson is not None)

    @property
    def bench(self) -> Bench:
        """How the bench stands after the last line that counts."""
        last = _last_said(self.lines)
        return last.bench if last is not None and last.bench is not None else Bench()

    @property
    def showing(self) -> str:
        """Whether the fault shows, as long as nothing speaks against it: as with the last reading of this sitting.

        The state of a fault is one of the machine, not of a reading: it stays till something was disturbed.
        """
        bench = self.bench
        return bench.last.showing if bench.last is not None and bench.taken and not bench.disturbed else "yes"

    @property
    def marked(self) -> Mapping[str, tuple[float, str]]:
        """Marked values learnt from the lines."""
        return {name: value for line in self.live for name, value in line.marked.items()}

    @property
    def zones(self) -> tuple[Zone, ...]:
        """Zones that were said and not taken back, on the names they were given; said twice they are one. What was
        mended when the machine was here before is earlier work like any other."""
        touched = self.earlier.touched if self.earlier is not None else ()
        own = (Zone("earlier work", touched, False),) if touched else ()
        return tuple(dict.fromkeys((*own, *(zone for line in self.live for zone in line.zones))))

    @property
    def asked_owner(self) -> tuple[Line, ...]:
        """The line with the owner's last word to each wish that stands; no refusal after which they agreed to it when
        it was decided."""
        last = {line.owner.wish: line for line in self.live if line.owner is not None}
        agreed = {to_wish(one.to): one.event for one in self.consents}
        return tuple(
            line for wish, line in sorted(last.items(), key=lambda one: one[1].event)
            if line.owner is not None and (line.owner.answer == YES or line.event > agreed.get(wish, 0))
        )  # fmt: skip

    @property
    def owner(self) -> Owner:
        """What the owner allowed and refused, on the file's names; of a made-up machine there is none to ask."""
        if self.practice:
            return NOBODY
        said = [line.owner for line in self.asked_owner if line.owner is not None]
        yes, no = (frozenset(one.wish for one in said if one.answer == answer) for answer in (YES, NO))
        agreed = {wish for one in self.consents if (wish := to_wish(one.to))}  # "a new U3", said when it was decided
        return Owner(yes | agreed - no, no)

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Readings that count, in job order, on the names they were given."""
        return tuple(reading for line in self.live for reading in line.readings)


def complained_of(intake: Intake) -> tuple[str, ...]:
    """What does not work as it should, by the ticks."""
    return tuple(name for name, tick in intake.ticks.items() if tick in (BAD, PARTLY))


def fold(events: Iterable[Event]) -> Case:
    """The job after these events, in order. ValueError when the first is not `opened`."""
    first, *rest = events
    if first.kind != "opened":
        raise ValueError(f"a job begins with the event `opened`, not {first.kind!r}")
    case = Case(first.job, Intake(**first.payload), first.at, first.at)
    for event in rest:
        case = after(case, event)
    return case


def after(case: Case, event: Event) -> Case:
    """The job after one more event; a kind that this version does not know changes nothing."""
    step = STEPS.get(event.kind)
    if step is None:
        return case
    case = replace(step(case, event), touched=case.touched if event.kind in UNTOUCHED else event.at)
    return case if event.kind in ASIDE else replace(case, mark=event.number)


def _said(case: Case, event: Event) -> Case:
    told = event.payload
    readings = tuple(kept_reading(one) for one in told["readings"])
    kept = kept_bench(told["bench"], readings[-1] if readings else case.bench.last)
    marked = {name: (value, unit) for name, (value, unit) in told["marked"].items()}
    change = undoing.change(_worked_out_from(case, event), kept)
    line = Line(event.number, event.at, told["text"], COUNTS, tuple(told["says"]), readings, kept, marked)
    zones = tuple(kept_zone(one) for one in told.get("zones", ()))  # no zone in what an earlier version kept
    capture = Captured(**told["capture"]) if "capture" in told else None
    line = replace(line, once=told.get("once", ""), zones=zones, capture=capture, change=change, kept=kept)
    return _with(case, _restood(line, case.bench))


def _last_said(lines: Sequence[Line]) -> Line | None:
    """The last line that says how the bench stands and was not taken back."""
    return next((line for line in reversed(lines) if line.bench is not None and line.status != UNDONE), None)


def _worked_out_from(case: Case, event: Event) -> Bench:
    """The bench from which the bench of a line was worked out when it was entered."""
    last = _last_said(case.lines)
    if last is not None and last.kept is not None and undoing.TOOK_IT_ALONG.match(event.engine):
        return last.kept
    return case.bench


def _restood(line: Line, before: Bench) -> Line:
    """A line with its bench and readings as they are after that bench."""
    if line.bench is None:
        return line
    stands = undoing.repaired_by(before, line.change)
    readings = tuple(undoing.as_taken(one, line.bench, *stands) for one in line.readings)
    bench = replace(undoing.as_stands(line.bench, *stands), last=readings[-1] if readings else before.last)
    return replace(line, bench=bench, readings=readings)


def _asked(case: Case, event: Event) -> Case:
    says = tuple(with_mend(doubt["text"], doubt["mend"]) for doubt in event.payload["doubts"])
    once = event.payload.get("once", "")
    return _with(case, Line(event.number, event.at, event.payload["text"], ASKED, says, once=once))


def _note(case: Case, event: Event) -> Case:
    told = event.payload
    return _with(case, Line(event.number, event.at, told["text"], NOTE, tuple(told["says"]), once=told.get("once", "")))


def _known(case: Case, event: Event) -> Case:
    told = event.payload
    known = Known(told["machine"], told["file"], event.kind, told["names"], told["functions"])
    line = Line(event.number, event.at, told["text"], NOTE, tuple(told["says"]), known=known)
    return _with(case, replace(line, once=told.get("once", "")))


def _owner(case: Case, event: Event) -> Case:
    told = event.payload
    answer = Answer(told["wish"], told["answer"], told["words"])
    line = Line(
        event.number, event.at, told["text"], NOTE, tuple(told["says"]), once=told.get("once", ""), owner=answer
    )
    return _with(case, line)


def _learned(case: Case, event: Event) -> Case:
    told = event.payload
    lesson = Lesson(
        told["job"], told["meter"], told["same_meter"], tuple(kept_reading(one) for one in told["readings"])
    )
    line = Line(event.number, event.at, told["text"], NOTE, tuple(told["says"]), lesson=lesson)
    return _with(case, replace(line, once=told.get("once", "")))


def _with(case: Case, line: Line) -> Case:
    return replace(case, lines=(*case.lines, line))


def _undone(case: Case, event: Event) -> Case:
    gone = event.payload["event"]
    lines = tuple(replace(line, status=UNDONE) if line.event == gone else line for line in case.lines)
    repaired = any(line.event == gone and line.change != undoing.NO_CHANGE for line in lines)
    return replace(case, lines=tuple(_all_restood(lines)) if repaired else lines)


def _all_restood(lines: Sequence[Line]) -> Iterator[Line]:
    before = Bench()
    for line in lines:
        if line.bench is not None and line.status != UNDONE:
            line = _restood(line, before)
            before = line.bench or before
        yield line


def _shown(case: Case, event: Event) -> Case:
    return replace(case, shown=event.payload)


def _amended(case: Case, event: Event) -> Case:
    return replace(case, intake=replace(case.intake, **event.payload))


def _closed(case: Case, event: Event) -> Case:
    return replace(case, closed={**event.payload, "at": event.at})


def _reopened(case: Case, event: Event) -> Case:
    was = case.closed or {}
    words = case.last_words if case.ending == PARKED else was.get("words", "")
    return replace(case, closed=None, last_words=words)


def _tried(case: Case, event: Event) -> Case:
    return replace(case, tried=(*case.tried, Tried(event.number, event.at, **event.payload)), running=None)


def _tries_undone(case: Case, event: Event) -> Case:
    return replace(case, tried=tuple(one for one in case.tried if one.event != event.payload["event"]))


def _run_begun(case: Case, event: Event) -> Case:
    return replace(case, running=Running(event.at, event.payload["under"]))


def _adjusted(case: Case, event: Event) -> Case:
    return replace(case, adjusted=(*case.adjusted, Adjusted(event.at, **event.payload)))


def _agreed(case: Case, event: Event) -> Case:
    return replace(case, agreed=Agreed(**event.payload))


def _option(case: Case, event: Event) -> Case:
    new = Option(**event.payload)
    others = tuple(new if one.name == new.name else one for one in case.options)
    return replace(case, options=others if new in others else (*others, new), consents=_without_word(case, new.name))


def _without_word(case: Case, name: str) -> tuple[Consent, ...]:
    """The owner's words without those to an option that is another one now, or none."""
    return tuple(one for one in case.consents if one.to != name)


def _option_gone(case: Case, event: Event) -> Case:
    name = event.payload["name"]
    left = tuple(one for one in case.options if one.name != name)
    return replace(case, options=left, consents=_without_word(case, name))


def _consent(case: Case, event: Event) -> Case:
    said = Consent(event.at, **event.payload, event=event.number)
    agreed = case.agreed if said.up_to is None else replace(case.agreed, ceiling=said.up_to)
    return replace(case, consents=(*case.consents, said), agreed=agreed)


def _usual(case: Case, event: Event) -> Case:
    return replace(case, usual=kept_usual(event.payload))


def _found(case: Case, event: Event) -> Case:
    return replace(case, found=kept_found(event.payload))


def _before(case: Case, event: Event) -> Case:
    return replace(case, before=kept_before(event.payload))


def _erased(case: Case, event: Event) -> Case:
    """The owner's data went; not where only a copy of another job's words did."""
    return case if "copies_of" in event.payload else replace(case, erased=event.at)


def _photo(case: Case, event: Event) -> Case:
    """A picture, or one that is there already with its caption said anew; a form counts once."""
    told = event.payload
    if told["once"] in case.sent:
        return case
    return replace(case, sent=case.sent | ({told["once"]} - {""}), photos=pictures.put(case.photos, event))


def _beside(name: str, fold: Callable[[Any, Event], Any]) -> Callable[[Case, Event], Case]:
    return lambda case, event: replace(case, **{name: fold(getattr(case, name), event)})


STEPS: Mapping[str, Callable[[Case, Event], Case]] = {
    "said": _said, "asked": _asked, "note": _note, "undone": _undone, "chain": _known, "shelf": _known,
    "learned": _learned, "owner": _owner,
    "file": _known, "shown": _shown, "amended": _amended, "closed": _closed, "reopened": _reopened,
    "photo": _photo,
    "erased": _erased, "tried": _tried, "tries undone": _tries_undone, "run begun": _run_begun, "adjusted": _adjusted,
    "agreed": _agreed, "option": _option, "option gone": _option_gone, "consent": _consent,
    USUAL: _usual, FOUND: _found, BEFORE: _before,
    **{kind: _beside(name, fold) for name, (kinds, fold) in BESIDE.items() for kind in kinds},
}  # fmt: skip
