"""Looking ahead: what it adds to choosing, and what it saves where everything is a table."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from benchmarks.circuits import DEMOS, demo
from benchmarks.table import Row
from probewright import jobs
from probewright.hypotheses import symptoms
from probewright.inference.answers import Population, sample_again
from probewright.inference.belief import weigh
from probewright.inference.listed import filled
from probewright.jobs.searching import Search
from probewright.jobs.telling import decide
from probewright.planning.choosing import choose
from probewright.planning.foresight import foreseen
from probewright.prediction.table_laws import TableLaws
from probewright.readings import Reading

ADDED = 0.5  # share of the time that choosing takes without, the goal
REPEATS = 5
MOST = 15  # chosen: steps of one made-up repair
KINDS = 99  # kinds of machine at most: all of them
CASES = 1  # made-up repairs of each complaint


def ahead(readings: int | None = None, cases: int = CASES) -> Iterator[Row]:
    """Time added, for the refined and the rough card of both demos; minutes saved on symptom tables.

    readings: at most so many of each demo; cases: made-up repairs of each complaint.
    """
    refined, rough = zip(*(added for name in DEMOS for added in added_time(name, readings)), strict=True)
    for what, added in (("refined", refined), ("rough", rough)):
        median = statistics.median(added)
        row = f"{what} card: time added to choosing, median of {len(added)}"
        yield Row(row, median, "of it", ADDED, "<=", note=f"most {max(added):.2f}")
    yield from saved(cases)


def added_time(name: str, readings: int | None) -> Iterator[tuple[float, float]]:
    """After each recorded reading what looking ahead adds to choosing, as a share of it: refined, rough."""
    loaded, said = demo(name)
    job = jobs.open_search(loaded)
    for reading in said[:readings]:
        quick, before = jobs.quick_look(job, [reading]), job
        jobs.look(before)
        job = jobs.enter_readings(job, [reading])
        drawn = next(one for one in (before.few, before.population) if one.belief.laws is quick.belief.laws)
        yield _added(job, job.population), _added(quick, sample_again(foreseen(drawn), quick.belief))


def _added(search: Search, population: Population) -> float:
    """The share, with and without in turn on what is at hand already."""
    _, verdict, classes, _ = decide(search.belief, population)
    taken: dict[bool, list[float]] = {False: [], True: []}
    for _ in range(REPEATS):
        for way, times in taken.items():
            start = time.perf_counter()
            choose(population, verdict, classes, ahead=way)
            times.append(time.perf_counter() - start)
    return statistics.median(taken[True]) / statistics.median(taken[False]) - 1.0


# Minutes saved -------------------------------------------------------------------------------


def saved(cases: int) -> Iterator[Row]:
    """Made-up repairs on the symptom tables of every kind of machine, one function bad, each done both ways."""
    pairs = []
    for kind in symptoms.kinds()[:KINDS]:
        for function in symptoms.functions(kind):
            laws = TableLaws.of(symptoms.symptom_table(kind, {function: "bad"}))
            for case in range(cases):
                says = hidden(laws, np.random.default_rng([case, *f"{kind} {function}".encode()]))
                pairs.append((repair(laws, says, ahead=False), repair(laws, says, ahead=True)))
    other = [(one, two) for one, two in pairs if one.asked != two.asked]
    share = len(other) / len(pairs)
    yield Row("symptom tables: repairs that go another way for looking ahead", share, "of all", note=f"of {len(pairs)}")
    both = [(one, two) for one, two in pairs if one.decided and two.decided]
    ratio = sum(two.minutes for _, two in both) / sum(one.minutes for one, _ in both) if both else float("nan")
    note = f"{len(both)} found both ways"
    yield Row("symptom tables: minutes to a finding, with to without", ratio, "times", note=note)
    for way, what in enumerate(("without", "with")):
        yield Row(f"symptom tables: found {what}", sum(pair[way].decided for pair in pairs) / len(pairs), "of all")
        yield Row(f"symptom tables: minutes {what}, mean", statistics.fmean(pair[way].minutes for pair in pairs), "min")


@dataclass(frozen=True)
class Done:
    """A made-up repair: its steps, minutes, and whether it came to a finding."""

    asked: tuple[str, ...]
    minutes: float
    decided: bool


def hidden(laws: TableLaws, dice: np.random.Generator) -> dict[str, str]:
    """What every test of one made-up machine shows; where nothing is known of a pair, what others show."""
    prior = np.exp(laws.log_prior)
    truth = int(dice.choice(len(prior), p=prior / prior.sum()))
    rows = {name: filled(row, prior)[truth] for name, row in laws.model.rows.items()}
    return {name: laws.model.tests[name].outcomes[int(dice.choice(len(row), p=row))] for name, row in rows.items()}


def repair(laws: TableLaws, says: Mapping[str, str], ahead: bool) -> Done:
    """The steps as they are proposed, until something is found, a repair is proposed, or MOST."""
    said: list[Reading] = []
    minutes = 0.0
    while True:
        population, verdict, classes, _ = decide(weigh(laws, said, rough=False))
        action = next((one.action for one in choose(population, verdict, classes, ahead)), None)
        over = verdict.finding != "undecided"
        if over or action is None or action.ask is None or len(said) == MOST:
            return Done(tuple(one.question.red for one in said), minutes, over)
        minutes += action.minutes
        said.append(Reading(action.ask, says[action.ask.red], f"step {len(said)}"))
