"""What nobody listed: told from listed faults, named by where it acts, and never a listed part by default."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from probewright import jobs, machine
from probewright.hypotheses.mending import is_repaired, nets_joined
from probewright.hypotheses.suspects import suspects_of
from probewright.inference.answers import gain, sample
from probewright.inference.belief import weigh
from probewright.inference.rivals import OUTDONE, evidence, rivals
from probewright.jobs.telling import decide
from probewright.planning.actions import items_left
from probewright.planning.ways import ways
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup
from probewright.readings.lines import read_readings
from probewright.report import text

DIVIDER = """\
machine: Divider on twelve volts
extras:
  SUPPLY: source 12V 1% series 1R     IN > GND
known good: [SUPPLY]
parts:
  R1: resistor 10k 1%                 IN > OUT
  R2: resistor 10k 1%                 OUT > GND
  R3: resistor 1k 1%                  OUT > TAP
  R4: resistor 100k 1%                TAP > GND
stimuli:
  idle: {do: switch it on}
works:
  level: OUT dc at idle; below 90% of healthy = low
"""


def read(without: tuple[str, ...] = ()) -> jobs.Search:
    """A search that does not know of these modes of resistors and joints."""
    file = machine.read(DIVIDER, "divider.yaml")
    gone = (
        [one.id for one in suspects_of(file) if any(f.mode.startswith(without) for f in one.faults)] if without else []
    )
    return jobs.open_search(file, "strangers", gone)


def entered(search: jobs.Search, lines: str) -> jobs.Search:
    assert search.machine is not None
    return jobs.enter_readings(search, read_readings(lines, search.machine))


# R1 risen to 40 k: OUT = 12 x 9.1 k / (40 k + 9.1 k); without power its ends show it, the supply being off
RISEN = "level: low\nOUT 2.22 V\nTAP 2.20 V\nset-up: power off\nR1.1 to R1.2 40k ohms\nR2.1 to R2.2 9.1k ohms"


def test_story_a_drift_that_nobody_listed_is_placed_and_not_called_something_else() -> None:
    view = jobs.look(entered(read(("drift", "joint")), RISEN))
    assert view.finding == "unexplained"
    assert view.suspects[0].id == "R1 otherwise" and view.suspects[0].stranger
    assert text.conclusion(view).startswith(
        "Not explained by any listed fault, but R1 acts like quite another value (about x4"
    )


def test_the_same_readings_are_the_listed_drift_where_it_is_listed() -> None:
    view = jobs.look(entered(read(), RISEN))
    assert view.suspects[0].id == "R1 drift-up" and not view.suspects[0].stranger


def test_a_rival_is_judged_by_the_readings_however_rare_it_is() -> None:
    belief = entered(read(), "level: low\nOUT 2.22 V").belief
    leader = int(np.argmax(belief.probability))
    said, close = evidence(belief), rivals(belief, leader)
    assert close and all(belief.suspects[n].stranger for n in close)
    for n, one in enumerate(belief.suspects):
        if one.stranger and n != leader:
            assert (n in close) == (said[n] > said[leader] - np.log(OUTDONE))


def test_a_leader_is_put_to_the_test_before_it_is_believed() -> None:
    """Something that loads OUT reads like R1 or R2 with another value. Ohms tell R1 from it; R2 has it across."""
    search = entered(read(("drift", "joint")), "level: low\nOUT 2.22 V\nTAP 2.20 V")
    population, verdict, classes, choices = decide(search.belief)
    assert classes[0].probability > 0.8 and verdict.finding == "undecided"
    assert {search.belief.suspects[n].id for n in verdict.rivals} == {"R1 otherwise"}
    assert choices[0].why == "refute" and choices[0].action.ask is not None
    row = population.suspects.index(classes[0].members[0])
    rows = [n for n, suspect in enumerate(population.suspects) if suspect in verdict.rivals]
    assert population.apart(choices[0].action.ask)[row, rows].any()


def test_suspects_whose_draws_all_missed_a_reading_are_drawn_afresh() -> None:
    """A leak far out in its tolerance: in forty draws nobody reads so, and all would call the reading a slip."""
    file = machine.read(DIVIDER.replace("R4: resistor 100k 1%   ", "C1: capacitor 470u electrolytic"), "leaky.yaml")
    said = read_readings("level: ok\nset-up: power off\nC1.1 to C1.2 7k ohms", file)
    search = jobs.enter_readings(jobs.open_search(file, "leaky"), said)
    laws = draw_laws(build_model(file, "leaky"), 4000)
    plain = weigh(laws, said)
    assert 0.5 * np.abs(plain.probability - search.belief.probability).sum() < 0.1


def test_a_small_sample_is_not_taken_for_news() -> None:
    """A divider beside the one in question says nothing of it: only chance makes its draws differ by suspect."""
    two = DIVIDER.replace("stimuli:", "  R5: resistor 10k     IN > ELSE\n  R6: resistor 10k     ELSE > GND\nstimuli:")
    file = machine.read(two, "two.yaml")
    search = entered(jobs.open_search(file, "two"), "level: low\nELSE 6.0 V\nOUT 0.0 V\nOUT 0.0 V")
    population = sample(search.belief)
    (ask,) = (r.question for r in read_readings("ELSE 6.0 V", file))
    table = population.table(ask)
    assert table.flattery > 0.0
    assert gain(population, table) < 0.02


def test_what_joins_two_nets_is_gone_once_they_were_parted() -> None:
    """Whichever two places on them were named: a repair in vain speaks against it, and it is not proposed again."""
    laws = read().laws
    model = laws.model
    suspect = model.suspects[model.index["IN~OUT joins"]]
    (fault,) = suspect.faults
    mine = laws.base.cell_of == int(np.flatnonzero(model.suspect_of == model.index[suspect.id])[0])
    ask = Question("dc", "OUT")
    joined, sound = show(laws.base, ask).value[mine], laws.healthy(ask)[1]
    assert mine.any() and (joined > 1.5 * sound).all()
    for mended in ("IN~OUT", "R1.1~R1.2"):
        parted = Setup(mended=(mended,))
        assert is_repaired(model.machine, fault, parted) and items_left(model.machine, suspect, parted) == ()
        assert np.allclose(show(laws.base, replace(ask, setup=parted)).value[mine], sound, rtol=0.05)
    assert not is_repaired(model.machine, fault, Setup(mended=("OUT~TAP",)))


def test_one_repair_mends_whatever_joins_the_same_two_nets() -> None:
    """The legs of a transistor touch, or its nets meet elsewhere: the same solder is looked for."""
    folder = Path(__file__).parent.parent / "benchmarks" / "machines"
    file = machine.read((folder / "zener-follower.yaml").read_text("utf-8"))
    search = entered(jobs.open_search(file, "joined"), "volts: low\nset-up: power off\nQ1.e to Q1.b 0 V diode")
    belief, how = search.belief, ways(search.population)
    nets = nets_joined(file, "REF~OUT")
    joins = [n for n in search.population.suspects
             if belief.suspects[n].faults and all(nets_joined(file, f.item) == nets for f in belief.suspects[n].faults)]  # fmt: skip
    items = [
        one.item
        for one in how.possible()
        if one.kind == "repair" and " and " not in one.item and nets_joined(file, one.item) == nets
    ]
    assert len(joins) > 1 and len(items) == 1
    assert all(how.cures(belief.suspects[n], items[0]) for n in joins)
