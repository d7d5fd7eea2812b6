"""Why a part died: what it bore, which fault or setting elsewhere would have killed it and would kill the new one, what
shows that before power comes on, and its siblings of the same age.

Offered, never done: no sibling is fitted and no money spent unless a person says so.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from probewright import __version__
from probewright.hypotheses import Suspect
from probewright.hypotheses.modes import PLACES
from probewright.jobs.bench import append, complaint, machine_of, named_part, owned, readable, still_open
from probewright.jobs.case_view import BenchView, typed
from probewright.jobs.cases import Case
from probewright.jobs.deciding import Money, add_option, amount, money_of, option_said
from probewright.jobs.view import SCHEMA, JobView, RangeView, plain
from probewright.jobs.weighing import place_setup, weighed_of
from probewright.machine import Machine
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Part
from probewright.machine.ratings import unit_of as unit_of_rating
from probewright.machine.saying import nearest
from probewright.planning.deciding import removal
from probewright.planning.killers import Check, chances, check, likeliest, read_already
from probewright.planning.overload import (
    MORE,
    Bearing,
    Overload,
    bearings,
    is_elsewhere,
    items_of,
    overloads,
    part_or_case,
)
from probewright.prediction.cells import Model, build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.stress import every_fault
from probewright.readings import Setup, echo
from probewright.readings.instruments import unit_of
from probewright.readings.owner import new, to_wish
from probewright.readings.setups import parts_called
from probewright.record import Book
from probewright.units import with_capital, write_reading, write_value

FILE_ASKED = "Tie a machine file first: `probewright job tie FILE`"
LISTED = 0.001  # chosen: suspects less probable than this count as no more suspected
SPOKEN = 0.1, 0.01  # chosen: the readings speak against a killer that fell to a tenth and stands below a hundredth
NAMED = 0.01  # chosen: from so much on a killer is spoken of before power comes on
WORTH = 0.05  # chosen: below a twentieth of its rating what a suspect adds is not worth a word
ALIKE = 5.0  # chosen: like values differ by no more than this
AGEING = ("electrolytic", "tantalum", "paper", "carbon", "hot")  # classes that age by themselves, common practice
STEADY = ("resistor", "capacitor", "inductor", "crystal", "network")  # kinds that hardly age but in those classes
SPOKEN_OF = 3  # chosen: killers named before power comes on, the likeliest
SIBLINGS = 8  # chosen: as many as a person would look at
SAYS = {
    "within": "enough room",
    "near": "near its limit",
    "beyond": "beyond its rating",
    "not known": "rating not known",
}
METERS = {"ohms": "ohms", "dc": "direct volts", "diode": "diode range", "esr": "ESR", "farads": "capacitance"}
STANDS = {
    "not yet": "not checked yet",
    "read": "read, and sound",
    "said": "checked",
    "against": "the readings speak against it",
    "found": "found already",
}


@dataclass(frozen=True)
class StrainView:
    """One thing the part bears. low, high, most: of sound machines, see `planning.overload.Bearing`; at: stimulus that
    asks most; rating, source, typed: what it may bear, None where nobody says; worst, because: the most that a suspect
    still listed makes of it, None where none makes more; verdict: "within", "near", "beyond", "not known"; says: in
    words."""

    what: str
    low: float
    high: float
    most: float
    unit: str
    at: str
    rating: float | None
    source: str
    typed: bool
    worst: float | None
    because: str
    verdict: str
    says: str


@dataclass(frozen=True)
class ProbeView:
    """The reading that shows a killer. do: in words; live: the power is on, with the part out; killer: what it reads
    with the killer there."""

    do: str
    where: str
    instrument: str
    live: bool
    healthy: RangeView
    killer: float
    says: str


@dataclass(frozen=True)
class KillerView:
    """A single fault elsewhere, or a setting, that takes the part beyond a rating.

    what, value, unit, rating, times, at: which and by how much; chance: how sure it is there too after the readings,
    None where that cannot be said; stands: "not yet", "read", "said", "against" or "found"; words: what was said;
    check: what would show it, None where no meter here would.
    """

    killer: str
    item: str
    what: str
    value: float
    unit: str
    rating: float
    times: float
    at: str
    chance: float | None
    stands: str
    words: str
    check: ProbeView | None
    says: str


@dataclass(frozen=True)
class SiblingView:
    """A part of the same age and kind. minutes: to exchange it; labour, parts: money where rate and price were told;
    offered: it is an option of the job already."""

    part: str
    is_: str
    because: str
    pins: int
    minutes: float
    labour: float | None
    parts: float | None
    offered: bool
    says: str


@dataclass(frozen=True)
class Found:
    """What was worked out of a part, kept beside the book."""

    strains: tuple[StrainView, ...]
    killers: tuple[KillerView, ...]


@dataclass(frozen=True)
class WhyView:
    """Why a part died. died: the fault, in words; located: the search says so; fitted: a new one is in; conclusion: in
    one sentence; first: what is to be checked before the new part is powered."""

    job: int
    part: str
    is_: str
    died: str
    located: bool
    fitted: bool
    conclusion: str
    first: tuple[str, ...]
    strains: tuple[StrainView, ...]
    killers: tuple[KillerView, ...]
    siblings: tuple[SiblingView, ...]
    unknown: tuple[str, ...]
    currency: str
    schema: str = SCHEMA


# What a person says ----------------------------------------------------------------------------------


def say_checked(
    book: Book, case: Case, part: str, killer: str, words: str, now: str, view: BenchView | None = None
) -> Case:
    """A killer was looked into, with what was found. BadInput where it is none of this part."""
    return keep_checked(book, case, checked_said(book, case, part, killer, words, view), now)


def checked_said(
    book: Book, case: Case, part: str, killer: str, words: str, view: BenchView | None = None
) -> Mapping[str, str]:
    """The same, to be kept; it may take a while to work out what would kill the part. BadInput likewise."""
    still_open(case)
    for one in (killer, words):
        readable(one)
    if not words.strip():
        raise complaint("what was found is missing", 'write it: --words "47 k, out of circuit"')
    part = named_part(file_of_it(case), part)
    found = worked_out(book, case, part, None if view is None else view.search)
    known = {one.item: one for one in reversed(found.killers)} | {one.killer: one for one in found.killers}
    if killer not in known:
        raise complaint(
            f"{killer!r} is no killer of {part}", nearest(killer, list(known), "see them: `probewright why`")
        )
    return {"part": part, "killer": known[killer].killer, "words": words.strip()}


def keep_checked(book: Book, case: Case, told: Mapping[str, str], now: str) -> Case:
    """Put down what `checked_said` made of it."""
    still_open(case)
    return append(book, case, "killer checked", told, now)


def offer(book: Book, case: Case, part: str, parts: float | None, now: str) -> Case:
    """Put a sibling to the ways to go on, as one more option of the job; nothing is fitted."""
    machine = file_of_it(case)
    named = named_part(machine, part)
    option = option_said("new", f"a new {named}", {"parts": parts}, _pins(machine, named))
    return add_option(book, case, option, now)


# Why it died -----------------------------------------------------------------------------------------


def why(book: Book, case: Case, view: BenchView | None, part: str = "") -> WhyView:
    """Why a part of this job died: the one that is located, or named. BadInput for a practice, without a file, or where
    nothing is suspected yet."""
    owned(case)
    machine = file_of_it(case)
    seen = None if view is None else view.search
    named, died, located = _which(case, machine, seen, part)
    found = worked_out(book, case, named, seen)
    killers = tuple(_said(case, named, one) for one in found.killers)
    strains, fitted = found.strains, named in case.bench.fitted
    joint = died is not None and _is_a_joint(machine, died, named)
    killers = () if joint else killers
    money = money_of(book)
    return WhyView(
        case.number, named, _is(machine, named), died.says if died is not None else "", located, fitted,
        _conclusion(named, strains, killers, joint), tuple(_first(killers)), strains, killers,
        () if joint else tuple(_siblings(case, machine, named, money)),
        tuple(one.what for one in strains if one.verdict == "not known"), money.currency,
    )  # fmt: skip


def before_power(case: Case, view: JobView) -> tuple[str, ...]:
    """What would kill the part that was fitted last, as far as nothing speaks against it and nobody checked it; nothing
    where no part of the machine file was fitted."""
    machine = machine_of(case)
    names = case.known.names if case.known else {}
    fitted = (
        [named for one in case.bench.fitted if parts_called(machine, named := names.get(one, one))] if machine else []
    )
    if machine is None or not fitted or not _is_asked(machine.parts[parts_called(machine, fitted[-1])[0]]):
        return ()
    found = _work_out(case, machine, fitted[-1], view, frozenset())
    faults = [one for one in found.killers if one.chance is not None]  # a wrong setting shows at first power itself
    return tuple(_first([_said(case, fitted[-1], one) for one in faults]))


def file_of_it(case: Case) -> Machine:
    """The machine file of the job. BadInput without one."""
    machine = machine_of(case)
    if machine is None:
        raise complaint("no machine file is known, so nothing can be computed of a part", FILE_ASKED)
    return machine


def parts_to_ask(case: Case) -> tuple[str, ...]:
    """Parts and cases that can be asked about."""
    machine = machine_of(case)
    if machine is None:
        return ()
    return tuple(dict.fromkeys(one.package or one.name for one in machine.parts.values() if _is_asked(one)))


def _is_asked(part: Part) -> bool:
    return part.role != "extra" and part.kind in KINDS


def _which(case: Case, machine: Machine, view: JobView | None, part: str) -> tuple[str, Suspect | None, bool]:
    """The part that is meant, the fault it has by what is believed, and whether the search says so."""
    model = model_of(machine, case)
    known = {one.id: one for one in model.suspects}
    seen = [one for one in view.suspects if one.faults] if view is not None else []
    located = view is not None and view.finding in ("located", "outside")
    if part:
        named = named_part(machine, part)
        mine = [one.id for one in seen if one.id in known and not is_elsewhere(machine, known[one.id], named)]
        likely = next((known[one] for one in mine if not known[one].unlisted), None)
        return named, likely or _usual_end(model, named), located and bool(seen) and seen[0].id in mine
    for one in seen:
        if named := _part_of(machine, one.faults[0].item):
            return named, known.get(one.id), located
    raise complaint("no part is suspected yet", "name one: `probewright why --part Q1`")


def part_located(case: Case, view: JobView) -> str:
    """The part or case that the fault was located in; "" where none is, or nobody knows the parts."""
    machine, faults = machine_of(case), view.suspects[0].faults if view.finding == "located" else ()
    part = _part_of(machine, faults[0].item) if machine is not None and faults else ""
    return named_part(machine, part) if machine is not None and part else ""


def _part_of(machine: Machine, item: str) -> str:
    """The part that a fault is in or at; "" for a net."""
    place = item.partition("~")[0]
    return next((one for one in (place, place.rpartition(".")[0]) if parts_called(machine, one)), "")


def _usual_end(model: Model, part: str) -> Suspect | None:
    """How such a part most usually ends, for one of which nothing is believed."""
    names = {part, *parts_called(model.machine, part)}
    single = (one for one in model.suspects if len(one.faults) == 1 and not one.unlisted)
    mine = [one for one in single if one.faults[0].item in names]
    return max(mine, key=lambda one: one.prior, default=None)


def _is_a_joint(machine: Machine, died: Suspect, part: str) -> bool:
    """Not the part but a joint of it, or what touches it, is at fault."""
    mine = [fault for fault in died.faults if part_or_case(machine, part) & items_of(machine, fault)]
    return bool(mine) and all(fault.mode in PLACES for fault in mine)


def model_of(machine: Machine, case: Case) -> Model:
    """Every suspect of the job's machine as this bench knows its culprits, before any reading."""
    return build_model(machine, case.intake.key or machine.name, usual=case.usual)


# What is worked out ----------------------------------------------------------------------------------


def worked_out(book: Book, case: Case, part: str, view: JobView | None) -> Found:
    """What the part bears and what would kill it; kept beside the book and used again while nothing changes."""
    machine = machine_of(case)
    assert machine is not None
    listed = sorted(one.id for one in view.suspects if one.probability >= LISTED) if view is not None else []
    _, dead, _ = _which(case, machine, view, part)
    believed = hash_of([dead.id if dead is not None else "", *sorted(_found_by(view)), "listed:", *listed])
    bench = "not told" if case.kit.has is None else sorted(case.kit.has)
    key = f"why {case.mark} {__version__} {part} {believed} {bench}"
    if kept := book.cached(case.number, key):
        try:
            found: Found = typed(Found, json.loads(kept))
            return found
        except KeyError:  # by a version that knew other fields: as good as thrown away
            pass
    found = _work_out(case, machine, part, view, frozenset(listed))
    book.keep(case.number, key, json.dumps(plain(found), ensure_ascii=False).encode("utf-8", "backslashreplace"))
    return found


def _found_by(view: JobView | None) -> set[str]:
    """What is more probably there than not."""
    return {one.id for one in view.suspects if one.probability > 0.5} if view is not None else set()


def hash_of(names: Sequence[str]) -> str:
    """A short mark of some names in order."""
    return hashlib.sha256("\n".join(names).encode()).hexdigest()[:12]


def _work_out(case: Case, machine: Machine, part: str, view: JobView | None, listed: frozenset[str]) -> Found:
    model = model_of(machine, case)
    borne = bearings(model, part)
    strains = tuple(_strain(model, part, one, listed) for one in borne)
    _, dead, _ = _which(case, machine, view, part)
    overs = likeliest(overloads(model, part, borne))
    return Found(strains, tuple(_killers(case, model, part, dead, overs, view)))


def _strain(model: Model, part: str, one: Bearing, listed: frozenset[str]) -> StrainView:
    worst, because = worst_of(model, part, one, listed)
    rated = one.rated
    return StrainView(
        one.what, one.low, one.high, one.most, one.unit, one.at, None if rated is None else rated.value,
        "" if rated is None else rated.source, rated is not None and rated.typed, worst, because, one.verdict,
        _strain_says(one, worst, because),
    )  # fmt: skip


def worst_of(model: Model, part: str, one: Bearing, listed: frozenset[str]) -> tuple[float | None, str]:
    """The most that a suspect still listed makes of it, those in the part itself left out; None where none makes
    more."""
    suspects = [model.suspects[model.cells[span.cell].suspect] for span in every_fault(model).spans]
    rows = [n for n, s in enumerate(suspects) if s.id in listed and is_elsewhere(model.machine, s, part)]
    least = max(MORE * one.most, 0.0 if one.rated is None else WORTH * one.rated.value)
    rows = [n for n in rows if np.isfinite(one.cells[n]) and one.cells[n] > least]
    if not rows:
        return None, ""
    row = max(rows, key=lambda n: float(one.cells[n]))
    return float(one.cells[row]), suspects[row].says


def _strain_says(one: Bearing, worst: float | None, because: str) -> str:
    span = span_of(one.low, one.high, one.unit)
    may = "nobody says what it may bear" if one.rated is None else f"may bear {figure_of(one.rated.value, one.unit)}"
    more = "" if worst is None else f"; if {because}, {figure_of(worst, one.unit)}"
    return f"{one.what}: {span} in a sound machine{more}; {may}: {SAYS[one.verdict]}"


def _killers(
    case: Case, model: Model, part: str, dead: Suspect | None, overs: Sequence[Overload], view: JobView | None
) -> Iterator[KillerView]:
    readings = weighed_of(case).readings
    none: list[float | None] = [None] * len(overs)
    before = chances(model, (), dead, overs) if dead is not None else none
    after = chances(model, readings, dead, overs) if dead is not None else none
    laws, done = draw_laws(model, 1), _done(case, model.machine, part)  # its sound machines are asked alone
    found = _found_by(view)
    for over, was, now in zip(overs, before, after, strict=True):
        shows = check(laws, over, part, done, case.kit)
        read = shows is not None and read_already(shows, readings) is not None
        against = was is not None and now is not None and readings and now < min(SPOKEN[0] * was, SPOKEN[1])
        stands = "read" if read else "against" if against else "not yet"
        if isinstance(over.cause, Suspect) and over.cause.id in found:
            stands = "found"
        yield _killer(model.machine, part, over, now, stands, shows)


def _done(case: Case, machine: Machine, part: str) -> Setup:
    """What was repaired, the new part among it."""
    names = case.known.names if case.known else {}
    bench = case.bench.setup
    placed = place_setup(Setup(replaced=bench.replaced, mended=bench.mended), names, machine, signal=False) or Setup()
    return replace(placed, replaced=tuple(sorted({*placed.replaced, *parts_called(machine, part)})))


def _killer(
    machine: Machine, part: str, over: Overload, chance: float | None, stands: str, shows: Check | None
) -> KillerView:
    unit = unit_of_rating(over.what)
    item = _item(machine, over)
    at = f" ({over.at})" if over.at else ""
    sure = "" if chance is None else f"; {_percent(chance)} that it is there too"
    says = (
        f"{over.says}: {over.what} {figure_of(over.value, unit)} at {part}, {over.times:.1f} times the"
        f" {figure_of(over.rated.value, unit)} it may bear{at}{sure}"
    )
    probe = None if shows is None else _probe(machine, part, shows)
    return KillerView(
        over.says, item, over.what, over.value, unit, over.rated.value, over.times, over.at, chance, stands, "", probe,
        says,
    )  # fmt: skip


def _item(machine: Machine, over: Overload) -> str:
    """The part that the cause lies in, or the place where it has none."""
    if not isinstance(over.cause, Suspect):
        return over.cause.item
    parts = sorted(name for fault in over.cause.faults for name in items_of(machine, fault))
    return parts[0] if parts else over.cause.faults[0].item


def _probe(machine: Machine, part: str, shows: Check) -> ProbeView:
    unit = unit_of(shows.ask.instrument)
    how = f"with {part} out and the power on" if shows.live else f"with the new {part} in and the power off"
    where = f"{shows.ask.red} to {'ground' if shows.ask.black == GROUND else shows.ask.black}"
    sound, bad = span_of(shows.low, shows.high, unit), _reads(shows.killer, unit)
    says = f"{how}, {METERS[shows.ask.instrument]} from {where}: sound {sound}, with this {bad}"
    return ProbeView(
        echo.ask(shows.ask, machine), where, shows.ask.instrument, shows.live,
        RangeView(shows.low, shows.high, unit), shows.killer, says,
    )  # fmt: skip


def _said(case: Case, part: str, one: KillerView) -> KillerView:
    """The killer with what a person said of it last."""
    told = [said for said in case.checked if (said.part, said.killer) == (part, one.killer)]
    return replace(one, stands="said", words=told[-1].words) if told else one


# In words --------------------------------------------------------------------------------------------


def open_killers(killers: Sequence[KillerView]) -> list[KillerView]:
    """Killers that nothing speaks against and nobody has checked, the likeliest first."""
    left = [one for one in killers if one.stands == "not yet" and (one.chance is None or one.chance >= NAMED)]
    return sorted(left, key=lambda one: -(one.chance or 0.0))


def _conclusion(part: str, strains: Sequence[StrainView], killers: Sequence[KillerView], joint: bool) -> str:
    if joint:
        return f"A joint or what touches it is at fault, {part} itself did not die: solder, heat and movement."
    beyond = [one for one in strains if one.verdict == "beyond"]
    if beyond:
        named = " and ".join(f"{one.what} {figure_of(one.most, one.unit)}" for one in beyond)
        return (
            f"In a sound machine {part} bears more than it may already ({named}): a stronger part, or a wrong rating."
        )
    if there := [one for one in killers if one.stands == "found"]:
        return f"{with_capital(there[0].killer)}, which was found too, takes {part} beyond its rating."
    left = open_killers(killers)
    if faults := [one for one in left if one.chance is not None]:
        sure = f"{_percent(faults[0].chance or 0.0)} that it is there too"
        return f"Likeliest killer: {faults[0].killer} ({sure}). Check it before the new {part} is powered."
    rest = _rest(killers) + (f", unless it was {left[0].killer}" if left else "")
    unknown = [one.what for one in strains if one.verdict == "not known"]
    blind = f", as far as ratings are known ({', '.join(unknown)}: not known)" if unknown else ""
    blind = blind if strains else "; nothing that it bears could be computed"
    return f"Age or wear: {rest}{blind}."


def _rest(killers: Sequence[KillerView]) -> str:
    """Why no fault elsewhere is to blame."""
    if any(one.stands != "not yet" for one in killers):
        return "nothing that could overload it is likely to be there"
    if any(one.chance is not None for one in killers):
        return f"each fault that would overload it has less than {_percent(NAMED)} left"
    return "no fault in this file overloads it"


def _first(killers: Sequence[KillerView]) -> Iterator[str]:
    """What is to be checked before the new part is powered."""
    for one in open_killers(killers)[:SPOKEN_OF]:
        how = f" {with_capital(one.check.says)}." if one.check is not None else " No meter here would show it: look."
        yield f"{with_capital(one.killer)}?{how}"


def _siblings(case: Case, machine: Machine, part: str, money: Money) -> Iterator[SiblingView]:
    for name, because in related(machine, part)[:SIBLINGS]:
        if name in case.bench.fitted:
            continue
        pins = _pins(machine, name)
        hours, _ = removal(pins)
        price = next((one.parts for one in case.options if to_wish(one.name) == new(name)), None)
        labour = hours * money.rate if money.rate > 0.0 else None
        told = "price not told" if price is None else amount(price, money)
        work = f"{60.0 * hours:.0f} min" + ("" if labour is None else f", {amount(labour, money)} of work")
        says = f"{name} ({_is(machine, name)}), {because}: {work}, part {told}"
        yield SiblingView(name, _is(machine, name), because, pins, 60.0 * hours, labour, price, price is not None, says)


def related(machine: Machine, part: str) -> list[tuple[str, str]]:
    """Parts of the same age and kind, each with why: of an equal channel, on the same net, of like value."""
    mine = machine.parts[parts_called(machine, part)[0]]
    found: dict[str, tuple[int, str]] = {}
    for one in machine.parts.values():
        name = one.package or one.name
        if name == part or name in found or one.role == "extra" or one.known_good:
            continue
        if (one.kind, one.classes) == (mine.kind, mine.classes) and (why_ := _relation(machine, mine, one)):
            found[name] = why_
    return [(name, because) for name, (_, because) in sorted(found.items(), key=lambda item: item[1][0])]


def _relation(machine: Machine, mine: Part, one: Part) -> tuple[int, str] | None:
    """How near a like part is, the nearest first."""
    if mine.family and one.family == mine.family:
        return 0, "the same part of an equal channel"
    ages = bool(set(mine.classes) & set(AGEING)) or mine.kind not in STEADY
    shared = [net for net in mine.pins.values() if net in one.pins.values() and net != GROUND and ":" not in net]
    if not ages:
        return None
    if shared:
        return 1, f"the same kind on {shared[0]}"
    values = [next(iter(each.figures.values())).nominal for each in (mine, one) if each.figures]
    if set(mine.classes) & set(AGEING) and len(values) == 2 and max(values) <= ALIKE * min(values):
        return 2, "the same kind and a like value"
    if set(mine.classes) & set(AGEING) and mine.section and mine.section == one.section:
        return 3, f"the same kind in the {mine.section}"
    return None


def _pins(machine: Machine, part: str) -> int:
    nets = {f"{name}.{pin}" if pin not in KINDS[machine.parts[name].kind].units_share else pin
            for name in parts_called(machine, part) for pin in machine.parts[name].pins}  # fmt: skip
    return len(nets)


def _is(machine: Machine, part: str) -> str:
    """What a part is, in a few words: "electrolytic, 47 µF"."""
    one = machine.parts[parts_called(machine, part)[0]]
    kind = KINDS[one.kind]
    first = next(((name, figure) for name, figure in one.figures.items() if kind.parameter(name).word == ""), None)
    value = "" if first is None else f" {write_value(first[1].nominal, first[1].unit)}"
    named = "" if not one.classes or one.kind == one.classes[0] else f"{' '.join(one.classes)} "
    return f"{named}{one.kind}{value}"


def figure_of(value: float, unit: str) -> str:
    """A figure of three digits with its unit."""
    return write_reading(float(f"{value:.3g}"), unit)


def _reads(value: float, unit: str) -> str:
    return "over limit" if value in (float("inf"), float("-inf")) else figure_of(value, unit)


def span_of(low: float, high: float, unit: str) -> str:
    """Two ends of a range, or the one figure that both are."""
    least, most = (_reads(one, unit) for one in (low, high))
    return least if least == most else f"{least} to {most}"


def _percent(chance: float) -> str:
    return "less than 1 %" if chance < 0.01 else f"{100.0 * chance:.0f} %"
