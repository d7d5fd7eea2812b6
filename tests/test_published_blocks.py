"""Blocks with arithmetic, as in the literature on diagnosis: adders, multipliers, inverters.

Two ways through the same laws. As a circuit: every block is a part, values are volts, faults are those of
our own table, one at a time. As a table: the published fault model (a bad block gives out anything, and any
number of blocks may be bad) is written out from the blocks themselves, one cause for each way of being bad;
nobody slips there, as in the papers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import chain, combinations, product

import numpy as np
import pytest
from pytest import approx

from probewright import jobs, machine
from probewright.inference.belief import Belief, weigh
from probewright.machine.tables import Cause, TableSection, Test
from probewright.prediction.table_laws import TableLaws
from probewright.readings import Question, Reading

BAD = 0.01  # chance of each block, as in de Kleer and Williams 1987


@dataclass(frozen=True)
class Block:
    """One block: its output, what it is made from, and the rule."""

    name: str
    out: str
    made_from: tuple[str, ...]
    rule: Callable[..., int]


def written_out(blocks: Sequence[Block], given: Mapping[str, int], values: int) -> TableSection:
    """Every set of bad blocks, each giving out any of `values` numbers with equal chance, as one table.

    Numbers are counted round (15 + 1 = 0 of sixteen), so that a sum with an unknown is itself anything. A bad
    block from which no other is made needs no number of its own: its output is anything, whatever the rest.
    """
    last = {one.name for one in blocks} - {b.name for b in blocks for o in blocks if b.out in o.made_from}
    causes, chance = [], {}
    for bad in chain.from_iterable(combinations([one.name for one in blocks], n) for n in range(len(blocks) + 1)):
        spread = [name for name in bad if name not in last]
        prior = BAD ** len(bad) * (1.0 - BAD) ** (len(blocks) - len(bad))
        for numbers in product(range(values), repeat=len(spread)):
            name = " ".join([*bad, *map(str, numbers)]) or "all sound"
            causes.append(Cause(name, name, prior / values ** len(spread), " ".join(bad), "written out"))
            at, gives = dict(given), dict(zip(spread, numbers, strict=True))
            for one in blocks:
                at[one.out] = gives.get(one.name, one.rule(*(at[net] for net in one.made_from)) % values)
                anything = one.name in bad and one.name in last
                row = np.full(values, 1.0 / values) if anything else np.eye(values)[at[one.out]]
                chance[one.out, name] = tuple(row.tolist())
    words = tuple(map(str, range(values)))
    tests = tuple(Test(one.out, f"read {one.out}", words, 1.0, "live") for one in blocks)
    return TableSection("blocks", tuple(causes), tests, chance)


def said(**readings: int) -> list[Reading]:
    return [Reading(Question("test", net), str(value), net) for net, value in readings.items()]


def sets(belief: Belief) -> dict[frozenset[str], float]:
    """Chance of every set of bad blocks, its numbers summed; what is ruled out is left out.

    A hair is left to everything by the floor of a log-likelihood, far below the least chance here, BAD^5 / 16^5.
    """
    found: dict[frozenset[str], float] = {}
    for suspect, chance in zip(belief.laws.model.suspects, belief.probability, strict=True):
        bad = frozenset(suspect.faults[0].item.split())
        found[bad] = found.get(bad, 0.0) + float(chance)
    return {bad: chance for bad, chance in found.items() if chance > 1e-25}


def bits(belief: Belief) -> float:
    chances = np.array(list(sets(belief).values()))
    return float(-(chances * np.log2(chances)).sum())


def bits_after(belief: Belief, net: str) -> float:
    """Doubt that is left on average once a net has been read; chances of the answers by the laws."""
    table = belief.laws.chance(Question("test", net), belief.readings)
    words = belief.laws.model.tests[net].outcomes
    left = 0.0
    for word, chance in zip(words, belief.probability @ table, strict=True):
        if chance > 1e-12:
            left += chance * bits(weigh(belief.laws, [*belief.readings, *said(**{net: int(word)})]))
    return left


def smallest(some: Iterator[frozenset[str]] | Sequence[frozenset[str]]) -> set[frozenset[str]]:
    """Those that hold no other of them."""
    every = set(some)
    return {one for one in every if not any(other < one for other in every)}


def contradicted(belief: Belief, names: Sequence[str]) -> set[frozenset[str]]:
    """Smallest sets of blocks that cannot all be sound: every diagnosis holds one of each."""
    possible = sets(belief)
    every = chain.from_iterable(combinations(names, n) for n in range(1, len(names) + 1))
    return smallest([frozenset(one) for one in every if all(bad & set(one) for bad in possible)])


def named(text: str) -> set[frozenset[str]]:
    return {frozenset(one.split("+")) for one in text.split()}


# R. Davis, Artificial Intelligence 24 (1984) 347-410; J. de Kleer and B. C. Williams, Artificial Intelligence 32
# (1987) 97-130; R. Reiter, the same volume, 57-95; shown in B. C. Williams's lecture "Conflict-directed diagnosis",
# MIT 16.412J, 10 March 2004. Three multipliers and two adders: F = A C + B D, G = B D + C E.
POLYBOX = (
    Block("M1", "X", ("A", "C"), lambda a, b: a * b),
    Block("M2", "Y", ("B", "D"), lambda a, b: a * b),
    Block("M3", "Z", ("C", "E"), lambda a, b: a * b),
    Block("A1", "F", ("X", "Y"), lambda a, b: a + b),
    Block("A2", "G", ("Y", "Z"), lambda a, b: a + b),
)
GIVEN = {"A": 3, "B": 2, "C": 2, "D": 3, "E": 3}
NAMES = [one.name for one in POLYBOX]


@cache
def polybox(values: int) -> TableLaws:
    given = {net: value % values for net, value in GIVEN.items()}
    return TableLaws.of(written_out(POLYBOX, given, values), {}, floor=0.0)


# The second row is the published one; the others were worked out on the same problem by a program of its own.
@pytest.mark.parametrize(
    ("read", "conflicts", "diagnoses", "count"),
    [
        ({"F": 10}, "A1+M1+M2", "A1 M1 M2", 28),
        ({"F": 10, "G": 12}, "A1+M1+M2 A1+A2+M1+M3", "A1 M1 A2+M2 M2+M3", 27),
        ({"F": 10, "G": 10}, "A1+M1+M2 A2+M2+M3", "M2 A1+A2 A1+M3 A2+M1 M1+M3", 25),
        ({"F": 10, "G": 14}, "A1+M1+M2 A2+M2+M3 A1+A2+M1+M3", "A1+A2 A1+M2 A1+M3 A2+M1 A2+M2 M1+M2 M1+M3 M2+M3", 24),
        ({"F": 10, "G": 12, "X": 4}, "M1", "M1", 16),
        ({"F": 10, "G": 12, "X": 6}, "A1+M2 A1+A2+M3", "A1 A2+M2 M2+M3", 22),
        ({"F": 10, "G": 12, "Y": 6}, "A1+M1", "A1 M1", 24),
        ({"F": 10, "G": 12, "Y": 4}, "M2 A2+M3", "A2+M2 M2+M3", 12),
    ],
    ids=str,
)
def test_polybox_conflicts_and_diagnoses(read: dict[str, int], conflicts: str, diagnoses: str, count: int) -> None:
    belief = weigh(polybox(16), said(**read))
    assert smallest(list(sets(belief))) == named(diagnoses)
    assert len(sets(belief)) == count
    assert contradicted(belief, NAMES) == named(conflicts)


@pytest.mark.parametrize(
    ("values", "read", "now", "after"),
    [
        (2, {"F": 1, "G": 0}, 1.2229, {"X": 0.2279, "Y": 1.1775, "Z": 1.1976}),  # counted round: wrong, and right
        (16, {"F": 10, "G": 12}, 1.0714, {"X": 0.0383, "Y": 1.0635, "Z": 1.0670}),
    ],
)
def test_polybox_is_best_probed_at_x(values: int, read: dict[str, int], now: float, after: dict[str, float]) -> None:
    """Scored as in 1987, with m = 2 and 16 equal chances where nothing foretells a value; bits, worked out
    on the same problem by a program of its own."""
    belief = weigh(polybox(values), said(**read))
    assert bits(belief) == approx(now, abs=6e-5)
    assert {net: bits_after(belief, net) for net in after} == approx(after, abs=6e-5)


# The same box as parts that a machine file knows: a multiplier whose other number is given is a stage with gain, an
# adder is the mean by two equal resistors and a stage of gain 2. One volt is one.
VOLTS = """
machine: Box of five stages
parts:
  A: source 3V 0.1%  A > GND
  B: source 2V 0.1%  B > GND
  C: source 2V 0.1%  C > GND
  M1: block gain 2 1% input 1M output 100R  in=A out=X
  M2: block gain 3 1% input 1M output 100R  in=B out=Y
  M3: block gain 3 1% input 1M output 100R  in=C out=Z
  R1: resistor 10k 0.1%  X > XY
  R2: resistor 10k 0.1%  Y > XY
  R3: resistor 10k 0.1%  Y > YZ
  R4: resistor 10k 0.1%  Z > YZ
  A1: block gain 2 1% input 10M output 100R  in=XY out=F
  A2: block gain 2 1% input 10M output 100R  in=YZ out=G
known good: [A, B, C, R1, R2, R3, R4]
"""


def volts(net: str, value: float) -> Reading:
    return Reading(Question("dc", net), value, net)


@cache
def box() -> jobs.Search:
    return jobs.open_search(machine.read(VOLTS, "box.yaml"))


def blocks_of(job: jobs.Search) -> dict[str, float]:
    """Chance of every block, whatever is wrong with it; what hangs on a net or joins two is not theirs."""
    found: dict[str, float] = {}
    for suspect, chance in zip(job.laws.model.suspects, job.belief.probability, strict=True):
        for item in {fault.item.partition(".")[0] for fault in suspect.faults}:
            found[item] = found.get(item, 0.0) + float(chance)
    return found


def test_polybox_as_stages_on_the_bench() -> None:
    """F is low and G is sound: A1 or M1 and no other alone; X is what tells them apart, and does.

    Ohms with power off stand before it on our list, since that is safer; of the readings with power on it is first.
    """
    job = jobs.enter_readings(box(), [volts("F", 10.0)])
    low = blocks_of(job)
    assert min(low["A1"], low["M1"], low["M2"]) > 10.0 * max(low["M3"], low["A2"])
    job = jobs.enter_readings(job, [volts("G", 12.0)])
    both = blocks_of(job)
    assert min(both["A1"], both["M1"]) > 10.0 * max(both["M2"], both["M3"], both["A2"])
    assert next(action for action in jobs.look(job).actions if action.live).ask.red == "X"
    for value, name in ((4.0, "M1"), (6.0, "A1")):
        told = blocks_of(jobs.enter_readings(job, [volts("X", value)]))
        assert told[name] > 10.0 * max(told[one] for one in NAMES if one != name)


# J. de Kleer and B. C. Williams, the paper of 1987: inverters in cascade, the first net at one; a bad one gives out
# nought or one with equal chance. Figures worked out on the same problem by a program of its own.
def inverters(count: int) -> TableLaws:
    nets = "abcdefgh"
    blocks = [Block(f"I{n + 1}", nets[n + 1], (nets[n],), lambda a: 1 - a) for n in range(count)]
    return TableLaws.of(written_out(blocks, {"a": 1}, 2), {}, floor=0.0)


@pytest.mark.parametrize(
    ("count", "read", "now", "after"),
    [
        (3, {}, 0.2424, {"b": 0.2070, "c": 0.1818, "d": 0.1606}),
        (3, {"d": 1}, 1.6662, {"b": 0.7546, "c": 0.7546}),
        (4, {}, 0.3232, {"b": 0.2878, "c": 0.2626, "d": 0.2414, "e": 0.2228}),
        (4, {"e": 0}, 2.1221, {"b": 1.3184, "c": 1.1322, "d": 1.3184}),
    ],
    ids=["three", "three, end wrong", "four", "four, end wrong"],
)
def test_a_chain_of_inverters_is_probed_at_its_end_and_then_in_the_middle(
    count: int, read: dict[str, int], now: float, after: dict[str, float]
) -> None:
    belief = weigh(inverters(count), said(**read))
    # far down the list chances of several bad at once add up to a few 1e-5 bit
    assert bits(belief) == approx(now, abs=6e-5)
    assert {net: bits_after(belief, net) for net in after} == approx(after, abs=6e-5)


def test_shares_of_a_chain_whose_end_is_wrong() -> None:
    """Three inverters: 0.3300 each alone, 0.990 in all, 0.3367 with others; four: 0.2462, 0.985, 0.2538."""
    for count, read, alone, one, whole in ((3, {"d": 1}, 0.3300, 0.990, 0.3367), (4, {"e": 0}, 0.2462, 0.985, 0.2538)):
        found = sets(weigh(inverters(count), said(**read)))
        single = [chance for bad, chance in found.items() if len(bad) == 1]
        assert single == approx([alone] * count, abs=6e-5)
        assert sum(single) == approx(one, abs=6e-4)
        assert sum(chance for bad, chance in found.items() if "I1" in bad) == approx(whole, abs=6e-5)


GATES = """
machine: Four inverters in a row
parts:
  V: source 5V 1%  VCC > GND
  VA: source 5V 1%  a > GND
  I1: inverter hc  in=a out=b vcc=VCC gnd=GND
  I2: inverter hc  in=b out=c vcc=VCC gnd=GND
  I3: inverter hc  in=c out=d vcc=VCC gnd=GND
  I4: inverter hc  in=d out=e vcc=VCC gnd=GND
known good: [V, VA]
"""


def test_a_row_of_gates_on_the_bench_is_read_at_its_end_and_then_in_the_middle() -> None:
    """What the paper concludes, with gates of the shelf, joints, bridges and all our own faults in the list."""
    job = jobs.open_search(machine.read(GATES, "row.yaml"))
    assert jobs.look(job).actions[0].ask.red.partition(".")[0] == "e"
    job = jobs.enter_readings(job, [volts("e", 0.0)])
    assert jobs.look(job).actions[0].ask.red.partition(".")[0] == "c"
