"""What a part bears beside what it may bear, and which single fault or setting elsewhere takes it beyond that.

Every suspect is put into the middling machine once in each bin of its severity; the same solver that foretells readings
says what the part would have to bear.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from probewright.hypotheses import Fault, Suspect
from probewright.hypotheses.modes import units_in
from probewright.machine.edits import Edit, SetFigure
from probewright.machine.kinds import KINDS
from probewright.machine.model import Machine, Stimulus
from probewright.machine.packages import band, usual_package
from probewright.machine.ratings import CELSIUS, WATTS, Rated, next_step, rated, unit_of
from probewright.planning.heat import MARGIN, bare, settled
from probewright.prediction.bank import Bank
from probewright.prediction.cells import Model
from probewright.prediction.stress import borne, every_fault, middling, sound_ones
from probewright.prediction.timed import happens_once, way_of
from probewright.readings import Setup
from probewright.readings.setups import parts_called
from probewright.simulation.meters import Shown

NEAR = 0.8  # chosen: from so much of its rating on a part is near its limit
MORE = 1.1  # chosen: a fault that adds less than a tenth to what a sound machine asks is not what killed it
TOO_MUCH = 1.5  # chosen: times the volts of a wrong adaptor, or of an unregulated one without its load
MOST = 0.99  # chosen: of 200 draws the two wildest left out
NO_SINK = "TO-92"  # a case without a heatsink to lose


@dataclass(frozen=True)
class Bearing:
    """What a part has to bear of one thing, in its unit.

    low, high: 19 sound machines in 20 lie between; most: what 99 in 100 stay below; at: the stimulus that asks most,
    "" for as typed; rated: what it may bear, None where nobody says; cells (cell of `every_fault`,): what it comes to
    under each suspect, NaN where no answer was found; ats (cell,): index of the stimulus then.
    """

    what: str
    low: float
    high: float
    most: float
    at: str
    rated: Rated | None
    cells: np.ndarray
    ats: np.ndarray

    @property
    def unit(self) -> str:
        """V, A, W or °C."""
        return unit_of(self.what)

    @property
    def share(self) -> float:
        """The most of a sound machine over the rating; NaN where that is not known."""
        return float("nan") if self.rated is None else self.most / self.rated.value

    @property
    def verdict(self) -> str:
        """How that stands: "within", "near", "beyond" or "not known"."""
        if self.rated is None:
            return "not known"
        return "beyond" if self.share > 1.0 else "near" if self.share > NEAR else "within"


@dataclass(frozen=True)
class Setting:
    """Something that can be set wrongly. says: in words; item: the part; edits: what it does to the machine."""

    says: str
    item: str
    edits: tuple[Edit, ...]


@dataclass(frozen=True)
class Overload:
    """What takes a part beyond its rating: a suspect elsewhere, or a setting.

    value: what the part would have to bear, in the unit of `what`; at: the stimulus then.
    """

    cause: Suspect | Setting
    what: str
    value: float
    rated: Rated
    at: str

    @property
    def times(self) -> float:
        """How far beyond, as a multiple of the rating."""
        return self.value / self.rated.value

    @property
    def says(self) -> str:
        """The cause in words."""
        return self.cause.says


# What it bears ---------------------------------------------------------------------------------------


def live_setups(machine: Machine) -> list[Setup]:
    """Every way the file lets the machine run."""
    return [Setup(stimulus=name) for name in machine.stimuli] or [Setup()]


def bearings(model: Model, part: str, package: str = "") -> tuple[Bearing, ...]:
    """All that a part, or a case with all its units, has to bear, the most of any stimulus; package: as `heat_path`."""
    machine, setups = model.machine, live_setups(model.machine)
    each, sound = every_fault(model), sound_ones(model)
    by_setup = [
        (borne(sound, part, setup), {} if _once(sound, setup) else borne(each, part, setup)) for setup in setups
    ]
    found = []
    for what in dict.fromkeys(what for here, _ in by_setup for what in here):
        none = Shown(np.zeros(each.size), np.zeros(each.size, bool))
        rows = [(n, here[what], there.get(what, none)) for n, (here, there) in enumerate(by_setup) if what in here]
        if one := _bearing(machine, part, what, setups, rows):
            found.append(one)
    watts = next((one for one in found if one.what == WATTS), None)
    warm = None if watts is None else _warmth(machine, part, watts, package)
    kept = [one for one in found if one.what != WATTS or one.rated is not None or is_cased(machine, part)]
    return tuple([*kept, *([warm] if warm is not None else [])])


def _once(bank: Bank, setup: Setup) -> bool:
    """Something that happens once is followed here: sound machines alone are, for the volts of that instant."""
    way = way_of(bank, setup, "dc")
    return way is not None and happens_once(way)


def _bearing(machine: Machine, part: str, what: str, setups: Sequence[Setup], rows: Sequence) -> Bearing | None:
    """The set-up that asks most of sound machines, and under each suspect the one that asks most then."""
    judged = [(n, here.value[here.judged]) for n, here, _ in rows if here.judged.any()]
    if not judged:
        return None
    n, values = max(judged, key=lambda one: float(np.quantile(one[1], 0.975)))
    low, high = np.quantile(values, (0.025, 0.975), method="nearest")
    stacked = np.stack([np.where(there.judged, there.value, -np.inf) for _, _, there in rows])
    which = np.argmax(stacked, axis=0)
    cells = np.where(np.isfinite(stacked.max(axis=0)), stacked.max(axis=0), np.nan)
    ats = np.array([row for row, _, _ in rows])[which]
    unit = machine.parts[parts_called(machine, part)[0]]
    most = float(np.quantile(values, MOST, method="nearest"))
    return Bearing(
        what, float(low), float(high), most, setups[n].stimulus, rated(unit, what) or next_step(unit, what, most),
        cells, ats,
    )  # fmt: skip


def _warmth(machine: Machine, part: str, watts: Bearing, package: str = "") -> Bearing | None:
    """°C of the junction, where a way out for the heat is known; without a heatsink that the file tells of, as bare,
    and unrated where a sound machine would be too warm so: then it has one."""
    unit = machine.parts[parts_called(machine, part)[0]]
    way = heat_path(machine, part, package)
    if way is None:
        return None
    rating = rated(unit, CELSIUS) or Rated(way.limit, way.source, False)
    most = way.celsius(watts.most)
    known = way.sure or most <= rating.value
    return replace(
        watts, what=CELSIUS, low=way.celsius(watts.low), high=way.celsius(watts.high), most=most,
        cells=np.array([way.celsius(one) for one in watts.cells]), rated=rating if known else None,
    )  # fmt: skip


@dataclass(frozen=True)
class HeatPath:
    """The way of heat from a junction to the air. kelvin: K/W; limit: °C of the junction; sure: with what cools it as
    the file says, or in a case that never has a heatsink; package: its case."""

    kelvin: float
    limit: float
    sure: bool
    package: str
    source: str

    def celsius(self, watts: float) -> float:
        """°C of the junction in a warm room."""
        return settled(watts, self.kelvin) + MARGIN


def heat_path(machine: Machine, part: str, package: str = "") -> HeatPath | None:
    """The way of heat out of a part; None where its case is not known. package: another case than its own."""
    told = machine.heat.get(part)
    if not (is_cased(machine, part) or package or told is not None):
        return None
    usual = usual_package(machine.parts[parts_called(machine, part)[0]])
    case = package or (told.package if told is not None and told.package else usual)
    own = told if not package else None  # what the file says holds for its own case
    body = bare(case, own)
    untold = "" if told is not None or case == NO_SINK else ", without a heatsink, of which the file tells nothing"
    typed = own is not None and own.limit is not None
    source = "as the file says" if typed else f"{case}{untold}: {band(case, 'limit').source}"
    sunk = told.with_heatsink if told is not None else None
    kelvin = body.usual.whole if sunk is None else sunk
    return HeatPath(kelvin, body.limit + MARGIN, sunk is not None or case == NO_SINK, case, source)


def is_cased(machine: Machine, part: str) -> bool:
    """A semiconductor whose usual case is known."""
    units = [machine.parts[name] for name in parts_called(machine, part)]
    return any("regulator" in one.kind or one.kind in ("npn", "pnp") for one in units)


# What takes it beyond --------------------------------------------------------------------------------


def overloads(model: Model, part: str, borne_: Sequence[Bearing]) -> list[Overload]:
    """Every single fault elsewhere, then every setting, that takes the part beyond a rating, each with the thing that
    it takes furthest; nothing that no table lists."""
    machine, setups = model.machine, live_setups(model.machine)
    each = [model.cells[span.cell] for span in every_fault(model).spans]
    worst: dict[int, Overload] = {}
    for one in borne_:
        for row in np.flatnonzero(_beyond(one)):
            suspect = model.suspects[each[row].suspect]
            if not is_elsewhere(machine, suspect, part):
                continue
            at = setups[int(one.ats[row])].stimulus
            over = Overload(suspect, one.what, float(one.cells[row]), one.rated, at)  # type: ignore[arg-type]
            before = worst.get(each[row].suspect)
            if before is None or over.times > before.times:
                worst[each[row].suspect] = over
    return [*worst.values(), *_by_settings(model, part, borne_)]


def _beyond(one: Bearing) -> np.ndarray:
    """(cell,) bool: beyond the rating, and by more than a sound machine is."""
    if one.rated is None:
        return np.zeros(len(one.cells), bool)
    with np.errstate(invalid="ignore"):
        return one.cells > max(one.rated.value, MORE * one.most)


def is_elsewhere(machine: Machine, suspect: Suspect, part: str) -> bool:
    """A listed fault that lies in no way in this part, its case or its joints."""
    if not suspect.faults or suspect.unlisted:
        return False
    return not any(part_or_case(machine, part) & items_of(machine, fault) for fault in suspect.faults)


def part_or_case(machine: Machine, part: str) -> set[str]:
    """A part by its name, and the case that it is a unit of."""
    return {part, machine.parts[part].package or part if part in machine.parts else part}


def items_of(machine: Machine, fault: Fault) -> set[str]:
    """Parts and cases that a fault lies in or at, by name."""
    found: set[str] = set()
    for place in fault.item.split("~"):
        name = place if place in machine.parts or units_in(machine, place) else place.rpartition(".")[0]
        if name:
            found |= {name, machine.parts[name].package if name in machine.parts else name} - {""}
    return found


def _by_settings(model: Model, part: str, borne_: Sequence[Bearing]) -> Iterator[Overload]:
    """The settings that take the part beyond a rating."""
    machine = model.machine
    mine = set(parts_called(machine, part))
    for setting in settings(machine):
        if setting.item in mine:
            continue
        bank, names = with_setting(model, setting)
        shown = [(name, borne(bank, part, Setup(stimulus=name))) for name in names]
        best: Overload | None = None
        for one in borne_:
            if one.rated is None or one.what == CELSIUS:
                continue
            for name, what in ((name, here[one.what]) for name, here in shown if one.what in here):
                value = float(what.value[0]) if what.judged[0] else 0.0
                over = Overload(setting, one.what, value, one.rated, names[name])
                if value > max(one.rated.value, MORE * one.most) and (best is None or over.times > best.times):
                    best = over
        if best is not None:
            yield best


def settings(machine: Machine) -> Iterator[Setting]:
    """What a person may have set wrongly: controls at either end, switches, and the supply that was plugged in."""
    for part in machine.parts.values():
        if part.kind in ("potentiometer", "trimmer"):
            for share, end in ((0.0, "bottom"), (1.0, "top")):
                yield Setting(
                    f"{part.name} set to its {end} end", part.name, (SetFigure(part.name, "position", share),)
                )
        elif part.role == "extra" and KINDS[part.kind].feeds and not part.plays and part.figures["volts"].nominal:
            volts = part.figures["volts"].nominal
            much = (SetFigure(part.name, "volts", TOO_MUCH * volts),)
            yield Setting(f"another {part.name} that gives {TOO_MUCH:g} times its volts", part.name, much)
            yield Setting(f"{part.name} the wrong way round", part.name, (SetFigure(part.name, "volts", -volts),))


def with_setting(model: Model, setting: Setting) -> tuple[Bank, dict[str, str]]:
    """The middling sound machine so set under each stimulus: name of the new stimulus -> the file's own."""
    machine = model.machine
    own = machine.stimuli or {"": Stimulus("")}
    names = {f"{name}, {setting.says}": name for name in own}
    stimuli = {
        new: replace(own[name], name=new, edits=(*own[name].edits, *setting.edits)) for new, name in names.items()
    }
    changed = replace(machine, stimuli={**machine.stimuli, **stimuli})
    return middling(replace(model.only_healthy(), machine=changed)), names
