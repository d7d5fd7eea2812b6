"""A piece of a circuit with what lies round it reduced to its ports, against the whole circuit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchmarks.large import long_line
from probewright import machine
from probewright.machine.model import GROUND, Machine
from probewright.prediction.bank import Bank, Ring
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.likelihood import MODEL_FLOOR, MODEL_SD
from probewright.prediction.outcomes import _metered, show
from probewright.readings import Question, Setup
from probewright.simulation.circuit import compile_circuit, healthy_batch
from probewright.simulation.newton import come_to_rest
from probewright.simulation.surround import BENT_SHARE, BENT_VOLTS, Surroundings

DEMO = Path(__file__).parent.parent / "src" / "probewright" / "demo"
LADDER = """machine: Ladder
parts:
  R1: resistor 1k  A > B
  R2: resistor 2k  B > GND
  R3: resistor 3k  B > C
  R4: resistor 6k  C > GND
extras:
  PSU: source 9V series 1R  A > GND
"""


def cut_by_force(loaded: Machine, pieces: int) -> Machine:
    """The machine with its parts dealt out in order to so many sections, wherever that cuts."""
    own = [part.name for part in loaded.parts.values() if part.role == "part"]
    section = {name: str(1 + pieces * n // len(own)) for n, name in enumerate(own)}
    parts = {name: replace(part, section=section.get(name, "")) for name, part in loaded.parts.items()}
    return replace(loaded, parts=parts)


def both_ways(loaded: Machine, draws: int) -> tuple[Bank, Bank]:
    """Every suspect of a machine, solved area by area and solved whole."""
    base = draw_laws(build_model(loaded, "x"), draws).base
    base.ring = Ring(base.sound, np.tile(np.arange(draws), base.copies))
    return base, base.part(np.arange(base.size), None)


def apart(cut: Bank, whole: Bank, ask: Question) -> tuple[np.ndarray, np.ndarray]:
    """How far the two are apart (variant,) where both have one answer that lasts, and what the whole shows there."""
    here, there = show(cut, ask), show(whole, ask)
    lasting = here.judged & there.judged & ~whole.solved(ask.setup).rest.unstable
    assert lasting.mean() > 0.99
    return np.abs(here.value - there.value)[lasting], there.value[lasting]


def test_a_ladder_is_the_norton_source_of_the_textbook() -> None:
    """Seen from C: 9 V behind 1001 ohm and 2 k, then 3 k. Open volts 9 x 2000 / 3001; ohms 3000 + 1001 || 2000."""
    whole = compile_circuit(machine.read(LADDER, "ladder.yaml"))
    batch = healthy_batch(whole)
    around = Surroundings(whole, batch, come_to_rest(whole, batch), {"R4"})
    found, ohms = around.at(0.0), 3000.0 + 1001.0 * 2000.0 / 3001.0
    assert around.ports == ("C",)
    assert 1.0 / found.siemens[0, 0, 0] == pytest.approx(ohms, rel=1e-6)
    assert found.amps[0, 0] == pytest.approx(9.0 * 2000.0 / 3001.0 / ohms, rel=1e-6)
    # C held at 1 V: B stands between it and the source
    held = (9.0 / 1001.0 + 1.0 / 3000.0) / (1.0 / 1001.0 + 1.0 / 2000.0 + 1.0 / 3000.0)
    led = np.zeros(2, int)
    assert around.volts_at("B", 0.0, np.array([[1.0, 1.0]]), led) == pytest.approx([held, held], rel=1e-6)
    assert around.holds(np.array([[3.0, 3.5]]), led).all(), "what is straight holds wherever its ports go"


@pytest.mark.parametrize("name", ["fernside-ds-3", "fernside-lm-2"])
def test_every_suspect_of_a_demo_reads_the_same_cut_and_whole(name: str) -> None:
    """Cut where no file would cut them, the demos are still no further off than the model's own error."""
    loaded = cut_by_force(machine.read((DEMO / f"{name}.yaml").read_text(encoding="utf-8"), name), 3)
    cut, whole = both_ways(loaded, 2)
    assert len(cut.split) >= 3
    stimulus = next(iter(loaded.stimuli))
    for net in (net for net in loaded.nets if net != GROUND and not net.startswith("nc:")):
        off, volts = apart(cut, whole, Question("dc", net, setup=Setup(stimulus=stimulus)))
        assert np.max(off - MODEL_SD * np.abs(volts)) < MODEL_FLOOR, net
        off, volts = apart(cut, whole, Question("pp", net, setup=Setup(stimulus=stimulus)))
        assert np.max(off) < MODEL_SD * np.max(volts) + MODEL_FLOOR, net


@pytest.fixture(scope="module")
def line() -> tuple[Bank, Bank]:
    """Four sections of the long line amplifier, every suspect in two draws."""
    loaded = machine.read(long_line(4), "line.yaml")
    model = build_model(loaded, "x")
    assert model.by_areas
    return both_ways(loaded, 2)


@pytest.mark.parametrize("net", ["C2", "B2", "A4", "MAIN", "S3"])
def test_the_long_line_reads_the_same_by_sections_and_whole(line: tuple[Bank, Bank], net: str) -> None:
    setup = Setup(stimulus="tone")
    off, _ = apart(*line, Question("dc", net, setup=setup))
    assert np.max(off) < BENT_VOLTS
    off, volts = apart(*line, Question("pp", net, setup=setup))
    assert np.max(off) < 2.0 * BENT_SHARE * np.max(volts) + 1e-9


def test_tests_at_parts_are_fed_into_the_areas_of_both(line: tuple[Bank, Bank]) -> None:
    """Ohms and the diode range at parts of section 2, whatever section the fault is in."""
    cut, whole = line
    for kind, part, pins in (("ohms", "R23", "12"), ("diode", "Q21", "be")):
        ask = Question(kind, f"{part}.{pins[0]}", f"{part}.{pins[1]}", Setup(power="off"))
        here, there = show(cut, ask), show(whole, ask)
        use = here.judged & there.judged & np.isfinite(there.value)
        assert use.mean() > 0.4 and np.array_equal(np.isinf(here.value), np.isinf(there.value))
        assert np.max(np.abs(here.value[use] / there.value[use] - 1.0)) < 1e-3


def test_surroundings_that_bend_are_solved_whole(line: tuple[Bank, Bank]) -> None:
    """A dead supply takes all sections down: the straight surroundings of the extras are far off and say so."""
    cut, whole = line
    ask, suspect = Question("dc", "O3", setup=Setup(stimulus="tone")), cut.model.index["PSU dead"]
    mine = cut.model.suspect_of[cut.cell_of] == suspect
    index, piece = next((index, one) for index, one in cut.split if mine[index].any())
    there = show(whole, ask).value[mine]
    assert np.abs(show(cut, ask).value[mine] - there).max() < BENT_VOLTS
    assert np.abs(_metered(piece, ask).value[mine[index]] - there).min() > 0.1
