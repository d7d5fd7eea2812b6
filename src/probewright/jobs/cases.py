"""A job as its record tells it: a pure fold of events, without physics and without a clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from probewright.jobs.keeping import keep_setup, kept_reading, kept_setup
from probewright.readings import Reading
from probewright.readings.bench import Bench
from probewright.record import Event

GOOD, BAD, PARTLY = "good", "bad", "partly"
COUNTS, ASKED, NOTE, UNDONE = "counts", "asked", "note", "undone"


@dataclass(frozen=True)
class Intake:
    """What was asked when the machine came in; all but the kind may be empty.

    ticks: function -> "good", "bad" or "partly"; words: the owner's own; when: when and how often
    it shows; inside: who has been inside; boards: added boards; key: of the random draws.
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
class Line:
    """One line typed at the bench.

    status: "counts", "asked" (a question stands against it, so it does not count), "note" or
    "undone"; says: what was understood, or asked back; bench: how it stands afterwards; marked:
    marked values told, part -> (SI, unit); known: the machine file that the line brought.
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


@dataclass(frozen=True)
class Case:
    """One owner's machine on the bench after its events so far; everything follows from its lines.

    mark: number of the last event that changed what is known (showing something does not).
    """

    number: int
    intake: Intake
    opened: str
    touched: str
    lines: tuple[Line, ...] = ()
    closed: Mapping[str, Any] | None = None
    shown: Mapping[str, Any] | None = None
    mark: int = 1

    @property
    def live(self) -> tuple[Line, ...]:
        """Lines that were not taken back."""
        return tuple(line for line in self.lines if line.status != UNDONE)

    @property
    def known(self) -> Known | None:
        """The machine file in force; None while only the complaint is known."""
        return next((line.known for line in reversed(self.live) if line.known), None)

    @property
    def bench(self) -> Bench:
        """How the bench stands after the last line that counts."""
        return next((line.bench for line in reversed(self.live) if line.bench), Bench())

    @property
    def marked(self) -> Mapping[str, tuple[float, str]]:
        """Marked values learnt from the lines."""
        return {name: value for line in self.live for name, value in line.marked.items()}

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Readings that count, in job order, on the names they were given."""
        return tuple(reading for line in self.live for reading in line.readings)


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
    case = replace(step(case, event), touched=event.at)
    return case if event.kind == "shown" else replace(case, mark=event.number)


def _said(case: Case, event: Event) -> Case:
    told = event.payload
    readings = tuple(kept_reading(one) for one in told["readings"])
    bench = _kept_bench(told["bench"], readings[-1] if readings else case.bench.last)
    marked = {name: (value, unit) for name, (value, unit) in told["marked"].items()}
    return _with(case, Line(event.number, event.at, told["text"], COUNTS, tuple(told["says"]), readings, bench, marked))


def _asked(case: Case, event: Event) -> Case:
    says = tuple(f"{doubt['text']}; {doubt['mend']}" for doubt in event.payload["doubts"])
    return _with(case, Line(event.number, event.at, event.payload["text"], ASKED, says))


def _note(case: Case, event: Event) -> Case:
    return _with(case, Line(event.number, event.at, event.payload["text"], NOTE, tuple(event.payload["says"])))


def _known(case: Case, event: Event) -> Case:
    told = event.payload
    known = Known(told["machine"], told["file"], event.kind, told["names"], told["functions"])
    return _with(case, Line(event.number, event.at, told["text"], NOTE, tuple(told["says"]), known=known))


def _with(case: Case, line: Line) -> Case:
    return replace(case, lines=(*case.lines, line))


def _undone(case: Case, event: Event) -> Case:
    gone = event.payload["event"]
    lines = tuple(replace(line, status=UNDONE) if line.event == gone else line for line in case.lines)
    return replace(case, lines=lines)


def _shown(case: Case, event: Event) -> Case:
    return replace(case, shown=event.payload)


def _closed(case: Case, event: Event) -> Case:
    return replace(case, closed={**event.payload, "at": event.at})


def _reopened(case: Case, event: Event) -> Case:
    return replace(case, closed=None)


STEPS: Mapping[str, Callable[[Case, Event], Case]] = {
    "said": _said, "asked": _asked, "note": _note, "undone": _undone, "chain": _known, "shelf": _known,
    "file": _known, "shown": _shown, "closed": _closed, "reopened": _reopened,
}  # fmt: skip


def keep_bench(bench: Bench) -> dict[str, Any]:
    """How the bench stands, without its last reading, which the lines hold."""
    return {
        "setup": keep_setup(bench.setup), "sitting": bench.sitting, "taken": bench.taken,
        "disturbed": bench.disturbed, "hookups": bench.hookups, "power_said": bench.power_said,
    }  # fmt: skip


def _kept_bench(plain: Mapping[str, Any], last: Reading | None) -> Bench:
    setup = kept_setup(plain["setup"])
    return Bench(
        setup,
        plain["sitting"],
        plain["taken"],
        plain["disturbed"],
        last,
        plain["hookups"],
        plain.get("power_said", False),
    )
