"""From belief to the view of a job, in the repairer's words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from probewright.hypotheses import Suspect
from probewright.inference.answers import Population, sample
from probewright.inference.belief import Belief
from probewright.inference.explanation import explain
from probewright.inference.lookalikes import LookAlikes, look_alikes, splitting
from probewright.inference.verdict import Verdict, judge
from probewright.jobs.view import (
    ActionView,
    ClassView,
    EvidenceView,
    FaultView,
    JobView,
    OutcomeView,
    QualityView,
    RangeView,
    SurpriseView,
    SuspectView,
    WordView,
)  # fmt: skip
from probewright.machine import Machine
from probewright.planning.actions import possible
from probewright.planning.choosing import Choice, choose
from probewright.planning.danger import broken_rule, caution
from probewright.prediction.cells import severity_value
from probewright.readings import Question, echo
from probewright.readings.setups import say as say_setup
from probewright.units import write_reading

SHOWN = 1e-4  # suspects less probable than this are not listed
ACTIONS = 6  # actions shown
RAISED = 1.15  # a suspect counts as raised by an answer that multiplies its probability by this


def tell(machine: Machine, belief: Belief) -> JobView:
    """The view of a job after its readings."""
    population, verdict, classes, choices = decide(belief)
    return JobView(
        verdict.finding,
        belief.rough,
        tuple(echo.say(reading, machine) for reading in belief.readings),
        _suspects(machine, belief, classes),
        tuple(_class(machine, population, n, one) for n, one in enumerate(classes)),
        _stop(belief)
        + tuple(_action(machine, belief, population, n, choice) for n, choice in enumerate(choices[:ACTIONS])),
        tuple(
            SurpriseView(s.reading + 1, s.tail, _advice(machine, belief, s.reading, s.remeasured))
            for s in verdict.surprises
        ),
        QualityView(*belief.quality),
    )


def decide(belief: Belief) -> tuple[Population, Verdict, list[LookAlikes], list[Choice]]:
    """Classes, finding and next actions of a belief."""
    population = sample(belief)
    classes = look_alikes(population, considered(population))
    verdict = judge(belief, classes)
    population, choices = choose(belief, verdict)
    return population, verdict, classes, choices


def considered(population: Population) -> list[Question]:
    """Questions that make look-alikes: those asked, and every live reading this bench permits."""
    asked = [r.question for r in population.belief.readings if r.question.instrument not in ("works", "swap")]
    live = [
        a.ask for a in possible(population) if a.ask is not None and a.kind == "reading" and a.ask.setup.power == "on"
    ]
    return list(dict.fromkeys([*asked, *live]))


def _suspects(machine: Machine, belief: Belief, classes: Sequence[LookAlikes]) -> tuple[SuspectView, ...]:
    weights = explain(belief)
    class_of = {n: number for number, one in enumerate(classes) for n in one.members}
    order = np.argsort(-belief.probability, kind="stable")
    found = []
    for n in (int(n) for n in order if belief.probability[n] >= SHOWN):
        suspect = belief.suspects[n]
        evidence = tuple(
            EvidenceView(k + 1, float(weights.nats[k, n]), _says(machine, belief, k, float(weights.nats[k, n])))
            for k in range(len(belief.readings))
        )
        found.append(SuspectView(
            suspect.id, class_of.get(n, -1), float(belief.probability[n]), suspect.prior, suspect.handbook,
            suspect.says, suspect.source,
            tuple(_fault(belief, n, suspect)), any(f.comes_and_goes for f in suspect.faults), evidence,
        ))  # fmt: skip
    return tuple(found)


def _says(machine: Machine, belief: Belief, reading: int, nats: float) -> str:
    side = "for" if nats > 0.1 else "against" if nats < -0.1 else "says little"
    return f"{side}: {echo.say(belief.readings[reading], machine)}"


def _fault(belief: Belief, n: int, suspect: Suspect) -> Iterable[FaultView]:
    """Faults with the middle of what is believed of their severity."""
    laws = belief.laws
    here = np.flatnonzero((belief.suspect_of == n) & (belief.weight > 0.0))
    z = np.concatenate([bank.z[-1] for bank in laws.banks])
    for fault in suspect.faults:
        if fault.severity is None or not here.size:
            yield FaultView(fault.item, fault.mode, None, "")
            continue
        value = np.array([severity_value(fault.severity, laws.model.cells[laws.cell_of[v]].bin, z[v]) for v in here])
        order = np.argsort(value)
        steps = np.cumsum(belief.weight[here][order])
        yield FaultView(
            fault.item, fault.mode, float(value[order][np.searchsorted(steps, 0.5 * steps[-1])]), fault.severity.unit
        )


def _class(machine: Machine, population: Population, number: int, one: LookAlikes) -> ClassView:
    ids = tuple(population.belief.suspects[n].id for n in one.members)
    return ClassView(number, one.probability, ids, _split_by(machine, population, one) if len(ids) > 1 else None)


def _split_by(machine: Machine, population: Population, one: LookAlikes) -> str:
    """The cheapest step outside the questions considered that tells members apart."""
    offered = sorted(
        (a for a in possible(population) if a.kind == "reading" and a.ask is not None and a.ask.setup.power == "off"),
        key=lambda a: a.minutes,
    )
    ask = splitting(population, one.members, [a.ask for a in offered if a.ask is not None])
    if ask is not None:
        return f"ohmmeter: {echo.ask(ask, machine)}"
    items = [f.item.split(".")[0] for n in one.members[:2] for f in population.belief.suspects[n].faults]
    return f"lift one leg of {items[0]} and measure it by itself" if items else "more readings"


def _stop(belief: Belief) -> tuple[ActionView, ...]:
    """Before any diagnosis: power off, where the last reading breaks a power rule of the file."""
    rule = broken_rule(belief)
    if rule is None:
        return ()
    return (ActionView(
        "stop", 0, "Switch the power off now.", "", "", "", 0.0, True, WordView("off"), f"{rule}.", (),
        "Caution: running on may destroy parts. Find why before power comes back.",
    ),)  # fmt: skip


def _action(machine: Machine, belief: Belief, population: Population, number: int, choice: Choice) -> ActionView:
    action, ask = choice.action, choice.action.ask
    setup = "" if ask is None else say_setup(ask.setup, machine)
    warned = None if ask is None else caution(belief, ask)
    return ActionView(
        action.kind, number, _do(machine, belief, population, choice), ask.red if ask else action.item,
        "" if ask is None else ask.instrument, setup, action.minutes,
        bool(ask and ask.setup.power == "on" and action.kind == "reading"),
        _healthy(belief, choice), _why(belief, population, choice), _outcomes(belief, population, choice),
        str(warned) if warned else None,
    )  # fmt: skip


def _do(machine: Machine, belief: Belief, population: Population, choice: Choice) -> str:
    if choice.action.ask is not None:
        return echo.ask(choice.action.ask, machine)
    chance = float(np.sum(population.chance * choice.table.chance[:, 0]))
    return (
        f"{_mend(machine, choice.action.item)}: {choice.action.minutes:.0f} min, about {_in_ten(chance)} that it cures."
    )


def _mend(machine: Machine, item: str) -> str:
    if "~" in item:
        return f"Clear the bridge between {item.replace('~', ' and ')}"
    if item in machine.parts or any(p.package == item for p in machine.parts.values()):
        return f"Fit a new {item}"
    return f"Find what hangs on {item} and take it off" if item in machine.nets else f"Resolder {item}"


def _in_ten(chance: float) -> str:
    """A chance as the trade says it."""
    if chance > 0.97:
        return "certain" if chance > 0.995 else "19 in 20"
    return f"{max(1, round(chance * 10))} in 10"


def _healthy(belief: Belief, choice: Choice) -> RangeView | WordView:
    ask = choice.action.ask
    if ask is None:
        return WordView("cured")
    if ask.instrument == "swap":
        return WordView("same")
    low, _, high = belief.laws.healthy(ask)
    return RangeView(low, high, "ohm" if ask.instrument == "ohms" else "V")


def _names(population: Population, rows: Iterable[int]) -> list[str]:
    return [population.belief.suspects[population.suspects[n]].id for n in rows]


def _why(belief: Belief, population: Population, choice: Choice) -> str:
    """One sentence: what the step is for."""
    leader = _names(population, [0])[0]
    match choice.why:
        case "measure again":
            return "This reading does not fit what the others say. Place the probes anew and read it again."
        case "verify":
            return f"If it is {leader}, this place reads something sharp and unhealthy. That would settle it."
        case "cure":
            slips = sum(
                1 for n in range(len(belief.readings)) if float(np.sum(belief.weight * belief.honest[:, n])) < 0.5
            )
            return f"{leader} explains every reading{f' but {slips}' if slips else ''}."
    tells = [names for _, _, names in _grouped(belief, population, choice) if names]
    if len(tells) >= 2:
        return f"Tells {' and '.join(tells[0][:2])} from {' and '.join(tells[1][:2])}."
    return f"Moves {tells[0][0]} most." if tells else "Tells a little of everything."


def _grouped(belief: Belief, population: Population, choice: Choice) -> list[tuple[str, float, list[str]]]:
    """Answers gathered into below, within and above the healthy range (or the two words), with the
    suspects each raises."""
    table, prior = choice.table, population.chance
    if table.words:
        groups = [(word, np.array([n])) for n, word in enumerate(table.words)]
    else:
        assert choice.action.ask is not None
        low, _, high = belief.laws.healthy(choice.action.ask)
        unit = "ohm" if choice.action.ask.instrument == "ohms" else "V"
        middle = 0.5 * (table.edges[:-1] + table.edges[1:])
        side = np.where(middle < low, 0, np.where(middle > high, 2, 1))
        words = (
            f"below {write_reading(low, unit)}",
            f"{write_reading(low, unit)} to {write_reading(high, unit)}",
            f"above {write_reading(high, unit)}",
        )
        groups = [(words[n], np.flatnonzero(side == n)) for n in range(3)]
    found = []
    for word, bins in groups:
        chance = float(np.sum(prior[:, None] * table.chance[:, bins]))
        if chance > 0.005:
            lift = table.chance[:, bins].sum(axis=1) / chance
            rise = np.argsort(-(prior * lift), kind="stable")
            found.append((word, chance, _names(population, [int(n) for n in rise if lift[n] > RAISED][:3])))
    return sorted(found, key=lambda one: -one[1])


def _outcomes(belief: Belief, population: Population, choice: Choice) -> tuple[OutcomeView, ...]:
    return tuple(
        OutcomeView(word, chance, tuple(names)) for word, chance, names in _grouped(belief, population, choice)
    )


def _advice(machine: Machine, belief: Belief, reading: int, remeasured: bool) -> str:
    if remeasured:
        return "Measured again since; the other reading is believed."
    again = echo.ask(belief.readings[reading].question, machine)
    return f"No likely suspect reads that here. Place the probes anew and measure again: {again}"
