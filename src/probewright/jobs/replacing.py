"""Will the new part do? What the circuit asks of it beside what it has, line by line; what nobody knows is said so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from probewright.jobs.bench import named_part, owned, readable
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Case
from probewright.jobs.view import SCHEMA
from probewright.jobs.why_died import LISTED, figure_of, file_of_it, model_of, worst_of
from probewright.machine import Machine
from probewright.machine.kinds import KINDS
from probewright.machine.model import Figure, Part, Works
from probewright.machine.packages import usual_package
from probewright.machine.ratings import CELSIUS, WATTS, rated
from probewright.machine.spares import Spare, read_spare
from probewright.planning.margins import legs_of, margin
from probewright.planning.overload import Bearing, bearings
from probewright.prediction.bank import Bank
from probewright.prediction.cells import Model
from probewright.prediction.latents import find_latents
from probewright.prediction.outcomes import chance_works
from probewright.prediction.stress import middling, sound_ones
from probewright.readings import Setup
from probewright.readings.setups import parts_called
from probewright.units import percent, write_range, write_value

ENOUGH, TIGHT, TOO_LITTLE, ANOTHER, NOT_KNOWN = "enough", "tight", "too little", "another", "not known"
WORSE = 0.02  # chosen: so many sound machines in all that may fail with the new part and did not with the old one
MANY = 0.1  # chosen: more than that are too many
LITTLE = 0.1  # chosen: fewer volts than a tenth of what such parts usually bear need not be looked up
APART = 2.0  # chosen: a value off by more than twice the tolerance of the old one is another value
NOTHING = 1e-3  # V, A or W, chosen: what is asked no more of than this is not asked
FUNCTION = "function "
FOR = " for "  # in the margin of a kind or a value: the new one for the old one
MILLIMETRE = 0.3e-3  # m, chosen: a pitch that differs by less fits without bending


@dataclass(frozen=True)
class LineView:
    """One thing that is asked of the new part. asks, has, margin: in words, "" where there is none; source: of the
    margin rule; verdict: "enough", "tight", "too little", "another" (kind or
    value) or "not known"."""

    what: str
    asks: str
    has: str
    margin: str
    verdict: str
    source: str
    says: str


@dataclass(frozen=True)
class ReplaceView:
    """Whether a new part will do. part: that it replaces; with_: as it was typed; verdict: the worst of all lines but
    that "not known" is never passed over; conclusion: in a sentence; cautions: polarity and legs."""

    job: int
    part: str
    with_: str
    verdict: str
    conclusion: str
    lines: tuple[LineView, ...]
    cautions: tuple[str, ...]
    schema: str = SCHEMA


def will_it_do(case: Case, view: BenchView | None, part: str, text: str) -> ReplaceView:
    """The new part, as it is typed, beside what the circuit asks of it. BadInput for what is none, or without a
    file."""
    owned(case)
    readable(text)
    machine = file_of_it(case)
    name = named_part(machine, part)
    old = machine.parts[parts_called(machine, name)[0]]
    spare = read_spare(text, old)
    lines = [_kind(old, spare.part)]
    if lines[0].verdict == ENOUGH:
        listed = frozenset(one.id for one in view.search.suspects if one.probability >= LISTED) if view else frozenset()
        values, computed = list(_values(old, spare)), list(_computed(model_of(machine, case), name, spare, listed))
        lines += [*_beside_what_works(values, computed), *computed, *_body(machine, name, old, spare)]
    told = tuple(lines)
    return ReplaceView(
        case.number, name, text.strip(), _verdict(told), _conclusion(name, told), told, tuple(_cautions(old, spare))
    )  # fmt: skip


def example(case: Case, part: str) -> str:
    """How a new part like the old one is typed: its kind, class and own values. BadInput without a file."""
    machine = file_of_it(case)
    old = machine.parts[parts_called(machine, named_part(machine, part))[0]]
    bare = (old.figures[one.name] for one in KINDS[old.kind].parameters if one.word == "")
    values = (write_value(one.nominal, one.unit).replace(" ", "") for one in bare if one.typed and not one.unknown)
    return " ".join((old.kind, *old.classes, *values))


def _verdict(lines: tuple[LineView, ...]) -> str:
    return next(
        (one for one in (TOO_LITTLE, ANOTHER, NOT_KNOWN, TIGHT) if any(line.verdict == one for line in lines)), ENOUGH
    )


def _conclusion(part: str, lines: tuple[LineView, ...]) -> str:
    def of(verdict: str) -> str:
        return ", ".join(_called(line) for line in lines if line.verdict == verdict)

    against = [f"{said} {of(one)}" for one, said in ((ANOTHER, "another"), (TOO_LITTLE, "too little")) if of(one)]
    if against:
        return f"It will not do for {part}: {'; '.join(against)}."
    tight, unknown = of(TIGHT), of(NOT_KNOWN)
    said = f"Nothing speaks against it for {part}" + (f", but it is tight: {tight}" if tight else "")
    return f"{said}. Not known, look it up: {unknown}." if unknown else f"{said}."


def _called(line: LineView) -> str:
    """What a line is of; of another kind or value, which for which."""
    return f"{line.what} ({line.margin})" if FOR in line.margin else line.what


def _line(what: str, asks: str, has: str, verdict: str, margin_: str = "", source: str = "") -> LineView:
    says = f"{what}: asks {asks}, has {has}" + (f", {margin_}" if margin_ else "") + f": {verdict}"
    return LineView(what, asks, has, margin_, verdict, source, says)


# What it is --------------------------------------------------------------------------------------------


def _kind(old: Part, new: Part) -> LineView:
    same = old.kind == new.kind
    return _line("kind", old.kind, new.kind, ENOUGH if same else ANOTHER, "" if same else f"{new.kind}{FOR}{old.kind}")


def _values(old: Part, spare: Spare) -> Iterator[LineView]:
    """Its own values, and figures by name that the file types, beside the old ones."""
    kind = KINDS[old.kind]
    for parameter in kind.parameters:
        asked = old.figures[parameter.name]
        if parameter.word == "-" or not (parameter.word == "" or asked.typed):
            continue
        named_ = parameter.word or parameter.name
        if parameter.name not in spare.typed:
            yield _line(named_, _written(asked), "not said", NOT_KNOWN)
            continue
        has = spare.part.figures[parameter.name]
        verdict = _fits(asked, has)
        yield _line(named_, _written(asked), _written(has), verdict, _off(asked, has) if verdict == ANOTHER else "")


def _fits(asked: Figure, has: Figure) -> str:
    """A value within what the old one might be, and no looser."""
    if asked.unknown or has.unknown:
        return NOT_KNOWN
    low, high = _ends(asked)
    least, most = _ends(has)
    slack = 1e-9 * max(abs(low), abs(high))
    if low - slack <= least and most <= high + slack:
        return ENOUGH
    if asked.law == "range" or has.law == "range":
        return TIGHT if least <= high and most >= low else ANOTHER
    apart = abs(has.nominal - asked.nominal)
    return TIGHT if apart <= max(APART * asked.spread * abs(asked.nominal), slack) else ANOTHER


def _off(asked: Figure, has: Figure) -> str:
    """Which value for which, and on which side."""
    new, old = (write_range(*_ends(one), one.unit) if one.law == "range" else write_value(one.nominal, one.unit)
                for one in (has, asked))  # fmt: skip
    return f"{new}{FOR}{old}, too {'much' if sum(_ends(has)) > sum(_ends(asked)) else 'little'}"


def _beside_what_works(values: Sequence[LineView], computed: Sequence[LineView]) -> Iterator[LineView]:
    """The same, but that another value is a thing to look at, no more, where every function works with it."""
    works = [one.verdict for one in computed if one.what.startswith(FUNCTION)]
    serves = bool(works) and set(works) == {ENOUGH}
    for one in values:
        if one.verdict == ANOTHER and serves:
            yield _line(one.what, one.asks, one.has, TIGHT, f"{one.margin}; every function works with it", one.source)
        else:
            yield one


def _ends(one: Figure) -> tuple[float, float]:
    if one.law == "range":
        return one.low, one.high
    spread = one.spread * abs(one.nominal) if one.law == "tolerance" else one.spread
    return one.nominal - spread, one.nominal + spread


def _written(one: Figure) -> str:
    if one.unknown:
        return "nobody knows"
    if one.law == "range":
        return write_range(one.low, one.high, one.unit)
    spread = f" within {100.0 * one.spread:g} %" if one.law == "tolerance" and one.spread else ""
    return f"{write_value(one.nominal, one.unit)}{spread}"


# What is computed --------------------------------------------------------------------------------------


def _computed(model: Model, part: str, spare: Spare, listed: frozenset[str]) -> Iterator[LineView]:
    """Every strain with the new part in, and every function of the file."""
    fitted = _with_part(model, part, spare.part)
    borne = bearings(fitted, part, spare.package)
    warm = any(one.what == CELSIUS and one.rated is not None for one in borne)
    for one in borne:
        if not (one.what == WATTS and warm) and (one.most > NOTHING or worst_of(fitted, part, one, listed)[0]):
            yield _strain(fitted, part, spare, one, listed)
    yield from _functions(model, fitted)


def _with_part(model: Model, part: str, new: Part) -> Model:
    """The same machine with another part of the kind in the place of one, or of every unit of a case."""
    machine = model.machine
    units = {
        name: replace(
            machine.parts[name], figures=new.figures, classes=new.classes, ratings=new.ratings, order=new.order,
            pitch=new.pitch,
        )
        for name in parts_called(machine, part)
    }  # fmt: skip
    changed: Machine = replace(machine, parts={**machine.parts, **units})
    return replace(model, machine=changed, latents=find_latents(changed))


def _strain(model: Model, part: str, spare: Spare, one: Bearing, listed: frozenset[str]) -> LineView:
    """One thing it has to bear, by the rating that was said of the new part alone."""
    rule = margin(spare.part, one.what)
    worst, because = worst_of(model, part, one, listed)
    asks = figure_of(one.most, one.unit) + ("" if worst is None else f", {figure_of(worst, one.unit)} if {because}")
    rating = rated(spare.part, one.what)
    known = (
        one.rated if one.what == CELSIUS and spare.package else rating if rating is not None and rating.typed else None
    )
    if known is None:
        usual = "" if rating is None else f"such parts usually bear {figure_of(rating.value, one.unit)}"
        if rating is not None and one.unit == "V" and max(one.most, worst or 0.0) < LITTLE * rating.value:
            return _line(one.what, asks, f"usually {figure_of(rating.value, one.unit)}", ENOUGH, "", rating.source)
        return _line(one.what, asks, "not said", NOT_KNOWN, usual, "" if rating is None else rating.source)
    has, let = figure_of(known.value, one.unit), rule.share * known.value
    said = f"let to bear {figure_of(let, one.unit)}" if rule.share < 1.0 else ""
    if one.most > known.value:
        return _line(one.what, asks, has, TOO_LITTLE, said, rule.source)
    if one.most > let or (worst is not None and worst > known.value):
        return _line(one.what, asks, has, TIGHT, said, rule.source)
    return _line(one.what, asks, has, ENOUGH, said, rule.source)


def _functions(model: Model, fitted: Model) -> Iterator[LineView]:
    """Of sound machines with the new part in how many work, beside those with the old one; what is healthy is that of
    the machine as it was."""
    old, new = sound_ones(model), sound_ones(fitted, middling(model))
    for works in model.machine.works:
        shares = [_share(bank, works) for bank in (old, new)]
        if None in shares:
            yield _line(FUNCTION + works.name, "to work", "no answer was found", NOT_KNOWN)
            continue
        was, now = (float(one) for one in shares if one is not None)
        verdict = ENOUGH if now >= was - WORSE else TIGHT if now >= was - MANY else TOO_LITTLE
        yield _line(
            FUNCTION + works.name, f"{percent(was)} of sound machines work", f"{percent(now)} with it in", verdict
        )


def _share(bank: Bank, works: Works) -> float | None:
    good, judged = chance_works(bank, works, Setup())
    return float(good[judged].mean()) if judged.any() else None


# Its body ----------------------------------------------------------------------------------------------


def _body(machine: Machine, part: str, old: Part, spare: Spare) -> Iterator[LineView]:
    """Case, order of the legs and their pitch, as far as the file knows them; a rating in °C of what is no junction."""
    told = machine.heat.get(part)
    case = told.package if told is not None and told.package else usual_package(old) if _has_case(old) else ""
    if case:
        fits = NOT_KNOWN if not spare.package else ENOUGH if spare.package == case else TIGHT
        yield _line("case", case, spare.package or "not said", fits)
    if len(KINDS[old.kind].pins) > 2 and not old.package and old.kind not in ("potentiometer", "trimmer"):
        yield _order(old, spare.part)
    if old.pitch or spare.part.pitch:
        yield _pitch(old, spare.part)


def _has_case(old: Part) -> bool:
    return "regulator" in old.kind or old.kind in ("npn", "pnp")


def _order(old: Part, new: Part) -> LineView:
    if not old.order or not new.order:
        return _line("order of legs", _legs(old), _legs(new), NOT_KNOWN)
    return _line("order of legs", _legs(old), _legs(new), ENOUGH if old.order == new.order else TIGHT)


def _legs(one: Part) -> str:
    return ", ".join(one.order) or "not said"


def _pitch(old: Part, new: Part) -> LineView:
    asks, has = (f"{1e3 * one.pitch:g} mm" if one.pitch else "not said" for one in (old, new))
    known = old.pitch and new.pitch
    return _line(
        "pitch", asks, has, NOT_KNOWN if not known else ENOUGH if abs(old.pitch - new.pitch) < MILLIMETRE else TIGHT
    )


def _cautions(old: Part, spare: Spare) -> Iterator[str]:
    """Which way round, and what the legs of this kind are known for."""
    new, kind = spare.part, KINDS[old.kind]
    if old.kind != new.kind:
        return
    if old.order and new.order and old.order != new.order:
        yield f"The legs stand otherwise: {_legs(new)} against {_legs(old)}. Bend and sleeve them, or turn it."
    elif (not old.order or not new.order) and (said := legs_of(new.kind)):
        yield f"Legs: {said}."
    if set(new.classes) & {"electrolytic", "tantalum"}:
        yield f"Polarity: plus to {old.pins['1']}, minus to {old.pins['2']}."
    elif kind.polar and old.kind != "capacitor":
        yield f"Polarity: anode to {old.pins['a']}, cathode (the ring) to {old.pins['k']}."
    if set(new.classes) & {"electrolytic", "tantalum"} and not set(old.classes) & {"electrolytic", "tantalum"}:
        yield "The old one had no polarity, the new one has: only where plus is never below minus."
