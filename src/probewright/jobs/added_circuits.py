"""Circuits in the place of something dead: chosen from a small library, put into the job's machine, judged there.

A placed circuit is an event of its own from which nothing is computed by itself: the job's search goes on with the
machine as its file tells it. Once it is soldered in, the file with the circuit in it (`variant`) is tied to the job.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache

from probewright.errors import BadInput
from probewright.jobs.added_values import chosen_values
from probewright.jobs.added_verdict import FITS, HOT, OFF, UNJUDGED, AddedLine, look_at, read_wants
from probewright.jobs.bench import append, complaint, machine_of, owned, readable, still_open
from probewright.jobs.cases import Case
from probewright.jobs.deciding import add_option, option_said
from probewright.jobs.placed_circuits import Placing, kept_placing
from probewright.jobs.view import SCHEMA
from probewright.machine import Machine, shelf
from probewright.machine import read as read_machine
from probewright.machine.model import GROUND
from probewright.machine.saying import nearest
from probewright.machine.shelf import Filled
from probewright.planning.deciding import removal
from probewright.record import Book
from probewright.units import without_capital

KIND = "added circuit"  # of the options of a decision
SET_UP, JOINT = 0.25, 0.03  # h, chosen: a board of its own made ready; a joint made and looked at
MOST_PLACES = 3  # chosen: so many legs of a net are named
CAUTIONS = (
    "isolate the dead output first, by its leg or its track: two outputs on one place fight",
    "feed it from a rail with room, and put its 100 nF close to it",
    "power off and discharged while anything is lifted or soldered; then first power through a limit",
    "keep what came off, taped inside: an added circuit should come out again without a trace",
)


@dataclass(frozen=True)
class CircuitView:
    """A circuit of the library.

    forms: ways it is built; asks: what it is filled in with, with what is taken where nobody says; doors: places it
    needs; says: what to know of it.
    """

    name: str
    title: str
    what: str
    forms: tuple[str, ...]
    asks: tuple[str, ...]
    doors: tuple[str, ...]
    says: tuple[str, ...]


@dataclass(frozen=True)
class CircuitsView:
    """The library."""

    circuits: tuple[CircuitView, ...]
    schema: str = SCHEMA


@dataclass(frozen=True)
class AddedView:
    """One circuit in one machine.

    event: None while it is only tried; chosen: values that were taken from a series for what is wanted; fits: no line
    is off or too hot; advice: that, in one sentence; lines: every figure, judged; parts: what to take; steps: what to
    lift, what goes where; hours: of work, damage: the chance that the board is harmed, option: its name, all three for
    a decision; variant: the machine file with it in.
    """

    event: int | None
    name: str
    circuit: str
    title: str
    values: Mapping[str, str]
    chosen: tuple[str, ...]
    joins: Mapping[str, str]
    lifted: tuple[str, ...]
    wants: Mapping[str, str]
    stimulus: str
    fits: bool
    advice: str
    lines: tuple[AddedLine, ...]
    parts: tuple[str, ...]
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    hours: float
    damage: float
    option: str
    variant: str


@dataclass(frozen=True)
class AddedListView:
    """What was placed in this job, oldest first."""

    job: int
    placed: tuple[AddedView, ...]
    schema: str = SCHEMA


# The library ----------------------------------------------------------------------------------


def view_library() -> CircuitsView:
    """Every circuit of the library."""
    return CircuitsView(tuple(view_circuit(one.name) for one in shelf.added_circuits()))


def view_circuit(name: str) -> CircuitView:
    """One circuit of the library. BadInput for one that is not there."""
    found = shelf.added_circuit(name)
    bodies = found.forms.values()
    doors = {door: words for body in bodies for door, words in body.doors.items()}
    usual = {door: net for body in bodies for door, net in body.usual.items()}
    says = dict.fromkeys(said for body in bodies for said in (*body.healthy, *body.danger))
    return CircuitView(
        found.name, found.title, found.what, tuple(form for form in found.forms if form),
        tuple(f"{one.name}: {one.question} [{one.assumed}]" for one in found.asks),
        tuple(f"{door.lower()}: {what}{f' [{usual[door]}]' if door in usual else ''}" for door, what in doors.items()),
        tuple(says),
    )  # fmt: skip


# In a machine ---------------------------------------------------------------------------------


def placing_said(
    machine: Machine, circuit: str, values: Mapping[str, str], joins: Mapping[str, str], lifted: Sequence[str],
    wants: Mapping[str, str], stimulus: str = "", name: str = "", names: Mapping[str, str] | None = None,
) -> Placing:  # fmt: skip
    """A placing as a person tells it, on the names of the machine file. names: free names of the job -> place. BadInput
    for a place, a value or a target that cannot be."""
    found, known = shelf.added_circuit(circuit), names or {}
    for text in (*values.values(), *joins.values(), *lifted, *wants.values(), stimulus, name):
        readable(text)
    body = found.forms.get(" ".join(values.get("form", "").split()).lower(), found.body)
    upper = {door.strip().upper(): place.strip() for door, place in joins.items() if place.strip()}
    if unknown := sorted(set(upper) - set(body.doors)):
        said = f"{found.name} has no place {unknown[0].lower()!r} in this form"
        raise complaint(said, nearest(unknown[0].lower(), [door.lower() for door in body.doors]))
    nets = {door: _net(machine, known.get(place, place), door) for door, place in upper.items()}
    pins = tuple(dict.fromkeys(_pin(machine, known.get(one.strip(), one.strip())) for one in lifted if one.strip()))
    told = {name: typed.strip() for name, typed in wants.items() if typed.strip()}
    read_wants(found.name, told)
    if stimulus and stimulus not in machine.stimuli:
        raise complaint(f"no stimulus is called {stimulus!r}", nearest(stimulus, list(machine.stimuli)))
    given = {name: typed.strip() for name, typed in values.items() if typed.strip()}
    return Placing(found.name, name.strip() or _free(machine), given, nets, pins, told, stimulus)


def _net(machine: Machine, place: str, door: str) -> str:
    try:
        return machine.net_of(place)
    except KeyError:
        mend = nearest(place, [net for net in machine.nets if not net.startswith("nc:")])
        raise complaint(f"{door.lower()}: no place of the machine is called {place!r}", mend) from None


def _pin(machine: Machine, place: str) -> str:
    part, _, pin = place.rpartition(".")
    if part not in machine.parts or pin not in machine.parts[part].pins:
        legs = [f"{one.name}.{leg}" for one in machine.parts.values() for leg in one.pins]
        raise complaint(f"{place!r} is no leg that can be lifted", nearest(place, legs))
    return place


def _free(machine: Machine) -> str:
    """A name that nothing in the machine begins with."""
    taken = (*machine.parts, *machine.nets, *(board.name for board in machine.added_boards))
    return next(f"A{n}" for n in range(1, len(taken) + 2) if not any(one.startswith(f"A{n}") for one in taken))


@dataclass(frozen=True)
class _Made:
    """A placing filled in. text: the machine file with it; chosen: values taken from a series."""

    placing: Placing
    filled: Filled
    text: str
    chosen: Mapping[str, str]


def _make(was: str, placing: Placing) -> _Made:
    """The machine file with the circuit in it; what was not typed and can be reckoned from what is wanted is chosen."""
    found = shelf.added_circuit(placing.circuit)
    chosen = chosen_values(placing, read_wants(placing.circuit, placing.wants))
    filled = shelf.fill_in(found, {**chosen, **placing.values}, placing.name)
    return _Made(placing, filled, shelf.put_added(was, filled, placing.joins, placing.lifted), chosen)


@lru_cache(maxsize=16)  # chosen: a page shows some few circuits again and again; a verdict takes seconds
def _judged(was: str, told: str) -> tuple[AddedLine, ...]:
    """Every line of a placing, told as JSON."""
    made = _make(was, kept_placing(json.loads(told)))
    return look_at(was, made.text, made.filled, made.placing)


def look(was: str, placing: Placing, event: int | None = None, keep: bool = False) -> AddedView:
    """The circuit in this machine, judged. BadInput where it cannot be put in.

    was: the machine file without it; keep: the owner wants it original.
    """
    made = _make(was, placing)
    machine, before = read_machine(made.text), read_machine(was)
    lines = _judged(was, json.dumps(asdict(placing), sort_keys=True))
    parts = next(one.parts for one in machine.added_boards if one.name == placing.name)
    hours, damage = _work(made)
    return AddedView(
        event, placing.name, placing.circuit, made.filled.stage.title, made.filled.values,
        tuple(f"{name} {value}" for name, value in made.chosen.items() if name not in placing.values),
        {**made.filled.body.usual, **placing.joins}, placing.lifted, placing.wants, placing.stimulus,
        all(line.verdict not in (OFF, HOT) for line in lines), _advice(lines), lines,
        tuple(_parts(made)), tuple(_steps(made, machine, before, parts)), tuple(_cautions(made, keep)),
        hours, damage, _option_name(made), made.text,
    )  # fmt: skip


def _option_name(made: _Made) -> str:
    """What it is called among the ways to go on."""
    return f"{without_capital(made.filled.stage.title)}, {made.placing.name}"


def _advice(lines: Sequence[AddedLine]) -> str:
    """The verdict in one sentence."""
    off = [one.place if one.what == "works" else f"{one.place} {one.what}" for one in lines if one.verdict == OFF]
    hot = [one.place for one in lines if one.verdict == HOT]
    unknown = [f"{one.place} {one.what}" for one in lines if one.verdict == UNJUDGED]
    if off or hot:
        ends = [f"off: {', '.join(off)}"] if off else []
        ends += [f"too hot: {', '.join(hot)}"] if hot else []
        return f"It does not fit: {'; '.join(ends)}."
    judged = sum(one.verdict == FITS for one in lines)
    if unknown:
        return f"It fits as far as it can be judged, in {judged} figures; not judged: {', '.join(unknown)}."
    return f"It fits: all {judged} figures that are judged."


def _work(made: _Made) -> tuple[float, float]:
    """Hours, and the chance that the board is harmed."""
    machine, lifted = read_machine(made.text), len(made.placing.lifted)
    parts = next(one.parts for one in machine.added_boards if one.name == made.placing.name)
    joints = sum(len(machine.parts[name].pins) for name in parts)
    lifting, damage = removal(max(lifted, 1))
    return round(SET_UP + JOINT * joints + (lifting if lifted else 0.0), 2), damage


# In words --------------------------------------------------------------------------------------


def _parts(made: _Made) -> Iterator[str]:
    """What to take out of the drawer."""
    for line in made.filled.body.lines["parts"]:
        yield f"{made.placing.name}-{line.name}: {line.text.partition('  ')[0]}"


def _steps(made: _Made, machine: Machine, before: Machine, parts: Sequence[str]) -> Iterator[str]:
    """What is lifted or cut, then what goes to which place."""
    for pin in made.placing.lifted:
        part, _, leg = pin.rpartition(".")
        yield f"Lift {pin} off {before.parts[part].pins[leg]}, or cut the track beside it, before anything is added."
    doors = {net: door for door, net in {**made.filled.body.usual, **made.placing.joins}.items()}
    nets: dict[str, list[str]] = {}
    for name in parts:
        for pin, net in machine.parts[name].pins.items():
            nets.setdefault(net, []).append(f"{name}.{pin}")
    for net, legs in nets.items():
        if net in doors:
            where = "" if net == GROUND else _at(before, net, made.placing.lifted)
            yield f"Wire {' and '.join(legs)} to {net}{where}: {doors[net].lower()}."
    for net, legs in nets.items():
        if net not in doors:
            yield f"Join {' and '.join(legs)} on the added board."


def _at(machine: Machine, net: str, lifted: Sequence[str]) -> str:
    """Legs at which a net can be reached."""
    legs = [f"{part}.{pin}" for part, pin in machine.pins_on(net) if f"{part}.{pin}" not in lifted]
    return f", at {' or '.join(legs[:MOST_PLACES])}" if legs else ""


def _cautions(made: _Made, keep: bool) -> Iterator[str]:
    yield from CAUTIONS
    yield from made.filled.body.danger
    if keep:
        yield "the owner wants it original: it stays undone without their word (`probewright decide`)"


# On a job --------------------------------------------------------------------------------------


def job_machine(case: Case) -> Machine:
    """The job's machine. BadInput while only the complaint is known."""
    owned(case)
    machine = machine_of(case)
    if machine is None:
        raise complaint("no machine file is tied to this job", "tie one, or tell a chain: `probewright job tie FILE`")
    return machine


def said_of(
    case: Case, circuit: str, values: Mapping[str, str], joins: Mapping[str, str], lifted: Sequence[str],
    wants: Mapping[str, str], stimulus: str = "", name: str = "",
) -> Placing:  # fmt: skip
    """A placing as a person tells it on this job, on any name that the job knows. BadInput as `placing_said`."""
    machine = read_machine(_text(case, name))
    names = case.known.names if case.known else {}
    return placing_said(machine, circuit, values, joins, lifted, wants, stimulus, name, names)


def place(book: Book, case: Case, placing: Placing, now: str) -> Case:
    """Keep a placing with the job, in the place of one of the same name. BadInput where it cannot be put in."""
    still_open(case)
    _make(_text(case, placing.name), placing)
    if any(one.placing == placing for one in case.added):
        return case
    return append(book, case, "circuit added", asdict(placing), now)


def take_back(book: Book, case: Case, name: str, now: str) -> Case:
    """A circuit that is placed no more."""
    still_open(case)
    placed_name(case, name)
    return append(book, case, "circuit gone", {"name": name}, now)


def placed_name(case: Case, name: str) -> Placing:
    """The placed circuit of this name. BadInput when there is none."""
    known = {one.placing.name: one.placing for one in case.added}
    if name not in known:
        raise complaint(f"no circuit {name!r} is placed in this job", nearest(name, list(known)))
    return known[name]


def try_out(case: Case, placing: Placing) -> AddedView:
    """A placing judged, and not kept."""
    return look(_text(case, placing.name), placing, keep=case.agreed.keep)


def added_of(case: Case) -> AddedListView:
    """Every circuit placed in this job, each judged in the machine with the others in."""
    job_machine(case)
    for one in case.added:
        _still_in(_text(case, one.placing.name), one.placing)
    views = (look(_text(case, one.placing.name), one.placing, one.event, case.agreed.keep) for one in case.added)
    return AddedListView(case.number, tuple(views))


def variant(case: Case) -> str:
    """The job's machine file with every placed circuit in it."""
    return _text(case, "")


def _text(case: Case, without: str) -> str:
    """The machine file with every placed circuit but one."""
    job_machine(case)
    assert case.known is not None
    text = case.known.text
    for one in case.added:
        if one.placing.name != without:
            text = _still_in(text, one.placing)
    return text


def _still_in(text: str, placing: Placing) -> str:
    """The file with a placed circuit in it. BadInput where a newer file does not bear it any more."""
    try:
        return _make(text, placing).text
    except BadInput as bad:
        why, name = bad.complaints[0].text, placing.name
        mend = f"take it back and place it anew: `probewright add-circuit back {name}`"
        raise complaint(f"{name} does not go into the job's file any more: {why}", mend) from bad


def as_option(book: Book, case: Case, name: str, parts: float | None, now: str) -> Case:
    """Put a placed circuit to the ways to go on, with its hours. parts: money for them."""
    made = _make(_text(case, name), placed_name(case, name))
    hours, damage = _work(made)
    told = {"parts": parts, "hours": hours, "damage": damage}
    return add_option(book, case, option_said(KIND, _option_name(made), told), now)
