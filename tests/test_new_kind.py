"""A kind of part made up here: one registration, and it is typed, checked, solved, drawn, suspected and searched."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from pytest import approx

from probewright import jobs, machine
from probewright.drawing import Mark, draw
from probewright.hypotheses.suspects import suspects_of
from probewright.machine import Machine
from probewright.machine.kinds import KINDS, Companion, Kind, Parameter, Values, assumed, register
from probewright.machine.writing import write
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import build_model
from probewright.prediction.outcomes import show
from probewright.readings import Question, Reading, Setup

FILE = """\
machine: Test rig with a pellet
parts:
  PSU: source 10V 1% series 1mR  SUP > GND
  R1: resistor 1k 1%  SUP > MID
  P1: pellet grey 5V 1%  hot=MID cold=GND
stimuli:
  rest: {}
  soaked: {P1: soaked}
  other: {P1: 2V}
  out: {P1: unplugged}
works:
  middle: MID dc at rest between 4.5V and 5.5V
"""


def pellet(v, p: Values, memory) -> Companion:
    """i = 5 mA (v / V)^3, ten times as much when soaked."""
    across = v[0] - v[1]
    scale = 5e-3 / p["volts"] ** 3 * (1.0 + 9.0 * p["wet"])
    amps, slope = scale * across**3, 3.0 * scale * across**2 + 1e-9
    return Companion(
        {"hot": amps, "cold": -amps},
        {("hot", "hot"): slope, ("hot", "cold"): -slope, ("cold", "hot"): -slope, ("cold", "cold"): slope},
        {},
        np.zeros(np.shape(amps), bool),
    )


@pytest.fixture(autouse=True)
def kind() -> Iterator[Kind]:
    """The one registration."""
    yield register(
        Kind(
            name="pellet",
            synonyms=("pill",),
            pins=("hot", "cold"),
            aliases={"h": "hot", "c": "cold"},
            parameters=(
                Parameter("volts", "V", low=0.5, high=50.0, spread=0.1),
                Parameter("wet", "1", word="-", default=assumed(0.0, "1", "dry")),
            ),
            classes={"grey": "usual", "white": "rare"},
            default_class="grey",
            stress_units=("W",),
            symbol="a pill nobody drew",
            nonlinear=pellet,
            settings={"soaked": ("wet", 1.0)},
            dial="volts",
        )
    )
    del KINDS["pellet"], KINDS["pill"]


def rig() -> Machine:
    return machine.read(FILE)


def dc(one: Machine, stimulus: str = "") -> float:
    """The 10 Mohm meter at MID, every figure in the middle of its law."""
    model = build_model(one, "new")
    bank = Bank(model, [Span(model.healthy_cell, 0, 1)], np.zeros((len(model.latents.keys) + 1, 1)))
    found = show(bank, Question("dc", "MID", setup=Setup(stimulus=stimulus)))
    assert found.judged.all()
    return float(found.value[0])


def root(volts: float, times: float = 1.0) -> float:
    """Where 10 V through 1k meets i = 5 mA times (v / V)^3: the one real root of the cubic."""
    found = np.roots([times * 5.0 / volts**3, 0.0, 1.0, -10.0])
    return float(found[np.abs(found.imag) < 1e-9].real[0])


def test_its_line_is_read_checked_and_written() -> None:
    one = rig()
    assert one.warnings == () and one.parts["P1"].pins == {"hot": "MID", "cold": "GND"}
    assert "  P1: pellet grey 5V 1%  MID > GND" in write(FILE.replace("pellet grey", "pill grey")).splitlines()
    assert jobs.check(one).suspects == len(suspects_of(one))


def test_it_is_solved_by_its_own_law_in_every_setting() -> None:
    one = rig()
    assert dc(one) == approx(root(5.0), abs=2e-3) == approx(5.0, abs=2e-3)
    assert dc(one, "soaked") == approx(root(5.0, 10.0), abs=2e-3)
    assert dc(one, "other") == approx(root(2.0), abs=2e-3)
    assert dc(one, "out") == approx(10.0, abs=2e-3)


def test_it_is_drawn_as_a_box_with_its_pins_by_name() -> None:
    svg = draw(rig(), marks={"P1": Mark("A", 0.5)}).svg
    for word in ("P1", "hot", "cold"):
        assert f">{word}<" in svg


def test_it_is_suspected_and_found() -> None:
    """No row speaks of it: open and short, as likely as a small film resistor. Then 10 V at MID leave it or its joints."""
    one = rig()
    found = {suspect.id for suspect in suspects_of(one)}
    assert {"P1 open", "P1 short", "P1.hot joint-open"} <= found
    belief = jobs.enter_readings(jobs.open_search(one), [Reading(Question("dc", "MID"), 10.0, "h1")]).belief
    chances = {suspect.id: float(p) for suspect, p in zip(belief.suspects, belief.probability, strict=True)}
    assert max(chances, key=lambda name: chances[name]) == "P1 open"
    assert sum(p for name, p in chances.items() if name.startswith("P1")) > 0.8  # R1 short reads the same
