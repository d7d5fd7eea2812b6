"""What nobody listed: told from listed faults, named by where it acts, and never a listed part by default."""

from __future__ import annotations

import numpy as np

from probewright import jobs, machine
from probewright.hypotheses.suspects import suspects_of
from probewright.inference.answers import gain, sample
from probewright.inference.belief import weigh
from probewright.inference.rivals import OUTDONE, evidence, rivals
from probewright.jobs.telling import decide
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
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
