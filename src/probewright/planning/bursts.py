"""How long the power may be on while a part runs without its heatsink, and how long it cools between two bursts."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from probewright.inference.belief import Extremes
from probewright.inference.drawn import DrawnPopulation
from probewright.machine.model import Heat, Machine
from probewright.machine.packages import usual_package
from probewright.machine.stimuli import followed
from probewright.planning.actions import Action
from probewright.planning.heat import FOREVER, Body, Warmth, bare, clipped
from probewright.planning.minutes import held, minutes
from probewright.prediction.heating import ask_watts
from probewright.readings import SCOPED, Question, Setup, as_wired, is_live
from probewright.readings.cooling import Bare
from probewright.readings.kit import UNTOLD, Kit
from probewright.readings.setups import parts_called

SWITCH = 2.0  # s, chosen: a hand needs so long to the switch
JUDGED = 0.5  # chosen: where less of the belief can be judged, nobody knows the watts
ASKS = "How many volts go into {0}, how many come out, at how many amps? Write `{0} 9V to 5V at 0.4A`, or `{0} 1.6 W`."


@dataclass(frozen=True)
class Hot:
    """A part without its heatsink, with power on.

    likely, worst: W; suspect: index of the one that gives the worst, -1 where a person told the watts; known: somebody
    or the circuit knows them.
    """

    part: str
    package: str
    clip: float
    body: Body
    likely: float
    worst: float
    suspect: int
    known: bool

    def seconds(self, warmth: Warmth) -> float:
        """How long the power may be on, a hand's way to the switch taken off; nought where nobody knows the watts."""
        if not self.known:
            return 0.0
        return max(self.body.seconds(warmth, self.worst) - SWITCH, 0.0)

    def wait(self, warmth: Warmth, seconds: float) -> float:
        """How long it must cool before the power may be on for so long; inf where it never may."""
        return self.body.wait(warmth, self.worst, seconds + SWITCH) if self.known else math.inf


@dataclass(frozen=True)
class Allowance:
    """What heat leaves of a step with power on.

    hot: what gets warm; need: seconds that the step takes with power on; clipped: only with the probes clipped on
    beforehand does it take so little.
    """

    hot: tuple[Hot, ...]
    need: float
    clipped: bool

    @property
    def cold(self) -> tuple[Warmth, ...]:
        """Every part as warm as the air."""
        return tuple(one.body.cold for one in self.hot)

    @property
    def allowed(self) -> bool:
        """It may be done at all, cold."""
        return self.burst(self.cold).wait < math.inf

    def burst(self, warmths: Sequence[Warmth]) -> Burst:
        """The next burst, every part being so warm."""
        return burst(self.hot, warmths, self.need)


@dataclass(frozen=True)
class Burst:
    """A spell of power. seconds: at most, inf for as long as one likes; wait: s, power off before it, inf: never;
    again: s, power off after it until the same may be done again."""

    seconds: float
    wait: float
    again: float


def burst(hot: Sequence[Hot], warmths: Sequence[Warmth], need: float) -> Burst:
    """The next spell of power of at least `need` seconds that keeps every part below its limit; whole seconds, rounded
    to the safe side."""
    both = list(zip(hot, warmths, strict=True))
    wait = max((one.wait(warmth, need) for one, warmth in both), default=0.0)
    if wait == math.inf:
        return Burst(0.0, math.inf, math.inf)
    wait = float(math.ceil(wait))
    cooled = [(one, one.body.after(warmth, 0.0, 0.0, wait)) for one, warmth in both]
    seconds = min((one.seconds(warmth) for one, warmth in cooled), default=math.inf)
    seconds = float(math.floor(seconds)) if seconds < FOREVER else math.inf
    spent = need if seconds == math.inf else seconds
    after = [(one, one.body.after(warmth, one.likely, one.worst, spent)) for one, warmth in cooled]
    again = max((one.wait(warmth, need) for one, warmth in after), default=0.0)
    return Burst(seconds, wait, float(math.ceil(again)))


# What is hot ------------------------------------------------------------------------------------


def body_of(machine: Machine | None, one: Bare) -> tuple[str, Body]:
    """The case that a part comes in, and how heat leaves it as it stands."""
    told = heat_of(machine, one.part)
    units = parts_called(machine, one.part) if machine is not None else ()
    part = machine.parts[units[0]] if machine is not None and units else None
    package = told.package if told is not None and told.package else usual_package(part)
    return package, clipped(package, one.clip, told) if one.clip else bare(package, told)


def heat_of(machine: Machine | None, part: str) -> Heat | None:
    """What the machine file says of the heat of a part."""
    return None if machine is None else machine.heat.get(part)


def hot_parts(population: DrawnPopulation, setup: Setup) -> tuple[Hot, ...]:
    """Every part without its heatsink, with its watts in this set-up."""
    return tuple(_hot(population, one, setup) for one in population.bare)


def _hot(population: DrawnPopulation, one: Bare, setup: Setup) -> Hot:
    machine = population.belief.laws.model.machine
    package, body = body_of(machine, one)
    found = Extremes(0.0, 0.0, -1, 0.0)
    if parts_called(machine, one.part):
        found = population.extremes(ask_watts(one.part, replace(as_wired(setup), hertz=0.0)))
    return told_or_reckoned(one, package, body, found)


def told_or_reckoned(one: Bare, package: str, body: Body, found: Extremes) -> Hot:
    """A part with the watts that were reckoned, or told where that is more or nothing could be reckoned."""
    reckoned = found.judged >= JUDGED
    if one.watts is not None and (not reckoned or one.watts > found.most):
        return Hot(one.part, package, one.clip, body, one.watts, one.watts, -1, True)
    likely = found.likely if one.watts is None else one.watts
    return Hot(one.part, package, one.clip, body, likely, found.most, found.suspect, reckoned)


# What a step takes ------------------------------------------------------------------------------


def allowance(population: DrawnPopulation, action: Action) -> Allowance | None:
    """What heat leaves of a step; None where no power is on for it, or every heatsink is on."""
    return allowance_together(population, [action])


def allowance_together(population: DrawnPopulation, actions: Sequence[Action]) -> Allowance | None:
    """The same of steps of one set-up, made in one burst one after the other."""
    steps = [(action.kind, action.ask) for action in actions if action.ask is not None]
    if not steps or not population.bare or not is_live(steps[0][1].setup):
        return None
    hot = hot_parts(population, steps[0][1].setup)
    each = [needs(kind, ask, population.belief.laws.model.machine, population.kit) for kind, ask in steps]
    return _least_hurried(hot, sum(one for one, _ in each), sum(least for _, least in each))


def least_hurried(
    hot: tuple[Hot, ...], kind: str, ask: Question, machine: Machine | None, kit: Kit = UNTOLD
) -> Allowance:
    """The step by hand where heat leaves the time for that, else with its probes clipped on beforehand."""
    return _least_hurried(hot, *needs(kind, ask, machine, kit))


def _least_hurried(hot: tuple[Hot, ...], by_hand: float, at_least: float) -> Allowance:
    found = Allowance(hot, by_hand, False)
    return found if found.allowed or at_least >= by_hand else Allowance(hot, at_least, True)


def needs(kind: str, ask: Question, machine: Machine | None, kit: Kit = UNTOLD) -> tuple[float, float]:
    """Seconds that a step takes with power on, by hand and with its probes clipped on beforehand; a bench that is
    quicker than usual may be slow for once."""
    if kind == "provoke":
        whole = 60.0 * max(minutes(ask.black), minutes(ask.black, kit))
        return whole, whole
    scoped = ask.instrument in ("pp", "share", *SCOPED)
    clips = 60.0 * minutes("burst scope" if scoped else "burst meter")
    held_so = kind == "reading" and ask.instrument in HELD
    row = held(ask.instrument) if held_so else "burst meter"
    own = 60.0 * max(minutes(row), minutes(row, kit))
    way = followed(machine, ask.setup.stimulus) if machine is not None and ask.setup.power == "on" else None
    lasts = way.read[1] if way is not None and way.read is not None else 0.0
    return max(own, lasts + clips), lasts + clips


HELD = ("dc", "rms", "pp", "share", *SCOPED)  # what is read with a probe in the hand


def charged(population: DrawnPopulation, actions: Iterable[Action]) -> list[Action]:
    """The steps that heat allows, with the minutes that clipping on and cooling cost; the others are left out."""
    if not population.bare:
        return list(actions)
    found = []
    for action in actions:
        one = allowance(population, action)
        if one is None:
            found.append(action)
        elif one.allowed:
            found.append(replace(action, minutes=action.minutes + spent(one, 1, population.kit)))
    return found


def spent(allowed: Allowance | None, count: int, kit: Kit = UNTOLD) -> float:
    """Minutes that heat costs besides so many readings in one burst: clipping on before it, cooling after it."""
    if allowed is None:
        return 0.0
    return allowed.burst(allowed.cold).again / 60.0 + (count * minutes("clip on", kit) if allowed.clipped else 0.0)
