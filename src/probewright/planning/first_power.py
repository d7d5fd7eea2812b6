"""The first power after a machine was opened or mended: through what, how much it may take, what to watch, when off.

All of it is worked out from the machine file and from what is believed; whether it is due is not asked here.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from probewright.inference.drawn import DrawnPopulation
from probewright.machine.following import brought_by
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Part
from probewright.planning.actions import board_nets
from probewright.planning.bursts import hot_parts
from probewright.planning.danger import deadly, mains_of, off_limits
from probewright.planning.rails import feeding_nets
from probewright.planning.reach import closed_nets
from probewright.planning.stops import ABOVE
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.heating import ask_watts
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup
from probewright.readings.powering import supplies
from probewright.readings.setups import MOST_AMPS, MOST_VOLTS

# Common practice, no source: a supply that can be limited where the volts are low and direct, else a lamp in series.
BENCH_SUPPLY, SERIES_LAMP = "bench supply", "series lamp"
ROOM = 1.3  # chosen: the limit above the most that a sound machine draws, so that the limit does not hold that one down
LEAST_LIMIT = 0.02  # A, chosen: what the knob of a bench supply can still be set to
CHARGED = 2.0  # chosen: as the machine takes its share of a limit, its capacitors charge in twice the time or so
AT_LEAST = 3.0  # s, chosen: how long a supply may stand at its limit, or a lamp be bright, before the power goes off
RAIL_SHARE = 0.4  # chosen: ... and has so much of the highest supply in a sound machine
LAMPS = (25, 40, 60, 75, 100, 150, 200)  # W; incandescent lamps as they were sold, from memory
TIMES_IDLE = 3.0  # common practice, no source: the lamp has two to four times the watts that the machine idles at
LIKELY = 0.001  # chosen: suspects less probable than this are not spoken of
APART = 1.1  # chosen: how far outside the healthy range what a suspect draws is worth a line
SAID = (
    4  # chosen: parts that get hot, and suspects, spoken of; of these half take more than the limit, if there are any
)
RAILS = 5  # chosen: rails to watch
WARM = 0.5  # W, chosen: below it no small part gets too hot to touch
THOUGHT_OF = 60  # chosen: parts whose watts are worked out
QUIET = 0.1  # V, chosen: below it a net is no rail


@dataclass(frozen=True)
class Feed:
    """One supply of the machine. ask: what it gives; place: net of its plus; volts: its own; limit: A to set a bench
    supply to; low..high: A that 19 in 20 sound machines take, NaN where nobody knows."""

    part: str
    ask: Question
    place: str
    volts: float
    limit: float
    low: float
    high: float


@dataclass(frozen=True)
class Draws:
    """What a suspect would take. suspect: index in the belief; feed: index; amps: in the middle of its draws."""

    suspect: int
    feed: int
    amps: float


@dataclass(frozen=True)
class Rail:
    """A net to watch. low, high: V of 19 in 20 sound machines; stop: V from which on the power goes off; least: V that
    it must be above by a rule of the file, 0 where there is none."""

    net: str
    low: float
    high: float
    stop: float
    least: float = 0.0


@dataclass(frozen=True)
class Heats:
    """The most watts that a suspect makes in a part."""

    part: str
    watts: float
    suspect: int


@dataclass(frozen=True)
class FirstPower:
    """The first power of this machine.

    way: BENCH_SUPPLY or SERIES_LAMP; lamp: its watts, 0 where nobody knows what the machine takes; idle: W of a sound
    machine, 0 likewise; mains: mains comes into the machine; short: chance that more flows than the limits let;
    charging: s after which no sound machine stands at its limit any more; seconds: how long the power may be on for
    heatsinks that are off, inf where none is.
    """

    way: str
    lamp: float
    idle: float
    mains: bool
    feeds: tuple[Feed, ...]
    draws: tuple[Draws, ...]
    rails: tuple[Rail, ...]
    hot: tuple[Heats, ...]
    short: float
    charging: float
    seconds: float


def first_power(population: DrawnPopulation, own: Setup) -> FirstPower | None:
    """What to know before power comes on; None where the file names no supply, or levels only as ratios.

    own: the machine on its own power, with what was repaired.
    """
    belief = population.belief
    laws, machine = belief.laws, belief.laws.model.machine
    parts = [machine.parts[ask.red.removesuffix(".plus")] for ask in supplies(machine, own)]
    if not parts or laws.model.playing:
        return None
    limited = not mains_of(machine) and all(_is_benchable(part) for part in parts)
    # a large machine is not solved once more for it: its own supplies stand for those of the bench
    setup = supplied(own, parts) if limited and not laws.model.by_areas else own
    feeds = tuple(_feed(laws, part, setup) for part in parts)
    idle = 0.0 if limited else _idle_watts(laws, machine, setup)
    hot = hot_parts(population, own)
    return FirstPower(
        BENCH_SUPPLY if limited else SERIES_LAMP, 0.0 if limited else lamp_for(idle), idle, bool(mains_of(machine)),
        feeds, tuple(_draws(population, feeds)), tuple(_rails(laws, machine, setup, _left_alone(population, own))),
        tuple(_hot(population, own)),
        _short(population, feeds), _charging(machine, feeds),
        min((one.seconds(one.body.cold) for one in hot), default=float("inf")),
    )  # fmt: skip


# What feeds it -------------------------------------------------------------------------------------


def supplied(own: Setup, parts: Sequence[Part]) -> Setup:
    """The machine fed by bench supplies in place of these, with as high a limit as one has: what would flow."""
    fed = sorted((part.pins["plus"], part.figures["volts"].nominal, MOST_AMPS) for part in parts)
    return replace(own, power="off", supplied=tuple(fed))


def _feed(laws: Laws, part: Part, setup: Setup) -> Feed:
    asks = supplies(laws.model.machine, setup)
    ask = next(one for one in asks if one.red in (part.pins["plus"], f"{part.name}.plus"))
    low, high = _healthy(laws, ask)
    limit = rounded_up(max(ROOM * high, LEAST_LIMIT)) if high == high else float("nan")
    return Feed(part.name, ask, part.pins["plus"], part.figures["volts"].nominal, limit, low, high)


def _healthy(laws: Laws, ask: Question) -> tuple[float, float]:
    """Ends between which 19 in 20 sound machines lie; NaN where none could be judged."""
    if not show(laws.sound, ask).judged.any():
        return float("nan"), float("nan")
    low, _, high = laws.healthy(ask)
    return low, high


def rounded_up(amps: float) -> float:
    """Two digits, never less: a limit that a knob can be set to."""
    step = 10.0 ** (np.floor(np.log10(amps)) - 1)
    return float(f"{np.ceil(amps / step - 1e-9) * step:.3g}")


def _is_benchable(part: Part) -> bool:
    """A bench supply with its minus on ground can stand in for it: direct volts, low enough, and its minus there."""
    volts = part.figures["volts"].nominal
    return 0.0 < abs(volts) <= MOST_VOLTS and part.pins["minus"] == GROUND and not part.plays


def lamp_for(idle: float) -> float:
    """W of a lamp in series for a machine that idles at so many watts; 0 where they are not known."""
    return float(next((one for one in LAMPS if one >= TIMES_IDLE * idle), LAMPS[-1])) if idle > 0.0 else 0.0


def _idle_watts(laws: Laws, machine: Machine, setup: Setup) -> float:
    """W of the middling sound machine: all that its parts turn into heat; coils and what moves by itself left out."""
    shown = [show(laws.base.middle, ask_watts(name, setup)) for name in machine.parts]
    return float(sum(one.value[0] for one in shown if one.judged[0]))


# What it takes -------------------------------------------------------------------------------------


def _draws(population: DrawnPopulation, feeds: Sequence[Feed]) -> list[Draws]:
    """Suspects that take more or less than a sound machine, each at the supply where it differs most: first those that
    the limit would hold, by their chance times their amps, then the likeliest others."""
    likely = [n for n, chance in zip(population.suspects, population.chance, strict=True) if chance >= LIKELY]
    feeding, suspects = {one.part for one in feeds}, population.belief.suspects
    likely = [n for n in likely if not any(f.item.partition(".")[0] in feeding for f in suspects[n].faults)]
    order = sorted(likely, key=lambda n: -population.belief.probability[n])
    found = [one for n in order if (one := _differs(population, n, feeds)) is not None]
    over = [one for one in found if one.amps > feeds[one.feed].limit]
    over.sort(key=lambda one: -one.amps * population.belief.probability[one.suspect])
    return [*over[: SAID // 2], *(one for one in found if one.amps <= feeds[one.feed].limit)][:SAID]


def _differs(population: DrawnPopulation, suspect: int, feeds: Sequence[Feed]) -> Draws | None:
    """What a suspect draws at the supply where that lies farthest outside the healthy range."""
    found: tuple[float, Draws | None] = (APART, None)
    for row, one in enumerate(feeds):
        amps = float(population.quantiles(one.ask, suspect, (0.5,))[0])
        if not (amps == amps and one.high > 0.0):
            continue
        times = max(amps / one.high, max(one.low, 0.0) / max(amps, 1e-9))
        if times > found[0]:
            found = times, Draws(suspect, row, amps)
    return found[1]


def _short(population: DrawnPopulation, feeds: Sequence[Feed]) -> float:
    """Chance that some supply would be asked for more than its limit."""
    over = np.zeros(population.weight.shape, bool)
    for one in feeds:
        shown = population.answer(one.ask)
        over |= shown.judged & (shown.value > one.limit)
    return float(population.weight[over].sum())


def _charging(machine: Machine, feeds: Sequence[Feed]) -> float:
    """s in which the limits charge all capacitors of the machine to the highest volts: t = C U / I."""
    farads = sum(part.figures["capacitance"].nominal for part in machine.parts.values() if part.kind == "capacitor")
    amps = min((one.limit for one in feeds if one.limit == one.limit), default=float("inf"))
    return max(AT_LEAST, CHARGED * farads * max(abs(one.volts) for one in feeds) / amps)


# What to watch -------------------------------------------------------------------------------------


def _left_alone(population: DrawnPopulation, own: Setup) -> set[str]:
    """Nets that nobody puts a probe to while live: off limits by the file, without a place for a probe, and what can
    kill unless somebody is trained."""
    machine = population.belief.laws.model.machine
    closed = off_limits(machine) | closed_nets(machine)
    return closed if population.kit.trained else closed | deadly(population.belief, own, board_nets(machine))


def _rails(laws: Laws, machine: Machine, setup: Setup, alone: Container[str]) -> Iterator[Rail]:
    """Where the volts should come up, from the supplies inwards, but for what is left alone while live."""
    most, count = max(brought_by(part) for part in machine.parts.values()), 0
    for net, sure in feeding_nets(machine).items():
        if net in alone:
            continue
        low, high = _healthy(laws, Question("dc", net, setup=setup))
        if count < RAILS and max(abs(low), abs(high)) > (QUIET if sure else RAIL_SHARE * most):
            count += 1
            yield Rail(net, low, high, _stop(machine, net, low, high), _least(machine, net))


def _stop(machine: Machine, net: str, low: float, high: float) -> float:
    """Volts from which on the power goes off: by a rule of the file, else well above what a sound machine has."""
    for rule in machine.power_rules:
        if machine.net_of(rule.net) == net and rule.side == "below":
            return rule.volts
    return ABOVE * (high if abs(high) >= abs(low) else low)


def _least(machine: Machine, net: str) -> float:
    """Volts that the file says it must be above while power is on; 0 where it says none."""
    rules = (rule for rule in machine.power_rules if rule.side == "above" and machine.net_of(rule.net) == net)
    return next((rule.volts for rule in rules), 0.0)


def _hot(population: DrawnPopulation, setup: Setup) -> Iterator[Heats]:
    """The parts in which some suspect makes the most watts, the hottest first."""
    machine = population.belief.laws.model.machine
    rails = {net for net, sure in feeding_nets(machine).items() if sure}
    parts = [name for name, part in machine.parts.items() if not KINDS[part.kind].feeds and part.role == "part"]
    parts.sort(key=lambda name: not rails & set(machine.parts[name].pins.values()))  # those on a rail first
    found = [one for name in parts[:THOUGHT_OF] if (one := _most(population, name, setup)).watts >= WARM]
    yield from sorted(found, key=lambda one: -one.watts)[:SAID]


def _most(population: DrawnPopulation, part: str, setup: Setup) -> Heats:
    shown = population.answer(ask_watts(part, setup))
    watts = np.where(shown.judged & (population.weight > 0.0), shown.value, 0.0)
    row = int(np.argmax(watts))
    return Heats(part, float(watts[row]), population.suspects[int(population.member[row])])
