"""The unpowered board: diode range, ESR and capacitance in place, against closed forms; what they prove."""

from __future__ import annotations

import math

import numpy as np
import pytest

from probewright.jobs.searching import enter_readings, open_search
from probewright.machine import read
from probewright.machine.kinds import THERMAL_VOLTS
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import build_model
from probewright.prediction.outcomes import DIODE_SERIES, show
from probewright.readings import Question, Reading, Setup
from probewright.readings.instruments import law

OFF = Setup(power="off")
BOARD = """machine: Tone box
extras:
  PSU: source 9V series 1R limit 1A  VIN > GND
sections:
  input:
    parts:
{parts}
stimuli:
  rest: {}
works:
  lamp: VIN dc at rest above 8V
"""


def board(*parts: str, works: bool = False):
    text = BOARD.replace("{parts}", "\n".join(f"      {one}" for one in parts))
    return read(text if works else text[: text.index("stimuli:")], "tone box")


def healthy(machine, instrument: str, red: str, black: str = "GND") -> float:
    model = build_model(machine, "x").only_healthy()
    bank = Bank(model, [Span(0, 0, 1)], np.zeros((len(model.latents.keys) + 1, 1)))
    shown = show(bank, Question(instrument, red, black, OFF))
    assert shown.judged[0]
    return float(shown.value[0])


def test_a_lone_junction_shows_the_volts_of_its_law_at_the_meters_current():
    """Shockley's equation: V = n k T / q ln(I / Is + 1), I what is left of the meter's feed (any textbook of devices)."""
    machine = board("D1: diode small-signal saturation 1n ideality 1.8  A > GND", "R9: resistor 10M VIN > GND")
    seen = healthy(machine, "diode", "D1.a", "D1.k")
    amps = (law("diode").open_volts - seen) / DIODE_SERIES
    assert seen == pytest.approx(1.8 * THERMAL_VOLTS * math.log(amps / 1e-9 + 1.0), rel=1e-4)
    assert 0.7e-3 <= amps <= 1.5e-3  # test current: four makers' specification pages
    assert healthy(machine, "diode", "D1.k", "D1.a") == math.inf  # the other way round nothing flows: OL


def test_a_resistor_beside_the_junction_shows_through_the_wrong_way_round():
    """Voltage divider of the meter's feed, Ohm's law."""
    machine = board("D1: diode small-signal A > GND", "R1: resistor 4k7 A > GND", "R9: resistor 10M VIN > GND")
    wanted = 3.0 * 4.7e3 / (4.7e3 + DIODE_SERIES)
    assert healthy(machine, "diode", "D1.k", "D1.a") == pytest.approx(wanted, rel=1e-3)


@pytest.mark.parametrize(("ohms", "mark"), [(0.1, "0R1"), (4.7, "4R7"), (33.0, "33R")])
def test_esr_in_place_is_the_real_part_of_all_that_lies_between_the_tips(ohms, mark):
    """Impedance of a resistor beside a lossy capacitor at 100 kHz, written out."""
    machine = board(
        f"C1: capacitor 22u electrolytic esr {mark}  A > GND", "R1: resistor 47R A > GND", "R9: resistor 10M VIN > GND"
    )
    leg = ohms + 1.0 / (2j * math.pi * 100e3 * 22e-6)
    both = 1.0 / (1.0 / leg + 1.0 / 47.0)
    assert healthy(machine, "esr", "C1.1", "C1.2") == pytest.approx(both.real, rel=2e-3)


def test_capacitance_in_place_adds_what_lies_beside_it():
    """Capacitors side by side add up; a series pair across them adds its own (any textbook)."""
    parts = (
        "C1: capacitor 220n film A > GND",
        "C2: capacitor 100n film A > GND",
        "C3: capacitor 100n film A > B",
        "C4: capacitor 300n film B > GND",
    )
    machine = board(*parts, "R9: resistor 10M VIN > GND")
    assert healthy(machine, "farads", "C1.1", "C1.2") == pytest.approx(220e-9 + 100e-9 + 75e-9, rel=2e-3)


def believe(machine, *readings: Reading) -> dict[str, float]:
    """Chance of each part to be at fault after the readings."""
    view = enter_readings(open_search(machine), readings).view
    chance: dict[str, float] = {}
    for one in view.suspects:
        for fault in one.faults:
            item = fault.item.partition(".")[0]
            chance[item] = chance.get(item, 0.0) + one.probability
    return chance


PARALLEL = (
    "R1: resistor 10k  A > B",
    "R2: resistor 4k7 A > GND",
    "R3: resistor 6k8 B > GND",
    "R4: resistor 1k VIN > A",
)


def test_above_the_mark_is_proof_and_below_proves_little():
    """In place other parts can only lie across a resistor: common practice, no source. Here it comes out of the numbers:
    10k with 4k7 + 6k8 across it reads 5.35k."""
    machine = board(*PARALLEL, works=True)
    across = 1.0 / (1.0 / 10e3 + 1.0 / 11.5e3)
    ask = Question("ohms", "R1.1", "R1.2", OFF)
    assert healthy(machine, "ohms", "R1.1", "R1.2") == pytest.approx(across, rel=0.02)
    before = believe(machine)
    above = believe(machine, Reading(ask, 10.9e3, "h1"))
    usual = believe(machine, Reading(ask, across, "h1"))
    others = sum(above.get(name, 0.0) for name in ("R2", "R3"))
    # above what R1 alone allows its own law must be broken, or what lies across it must be gone
    assert above["R1"] + others > 0.9 > before["R1"] + before["R2"] + before["R3"]
    assert usual["R1"] < before["R1"]


DIODES = (
    "D1: diode rectifier VIN > RAW",
    "C1: capacitor 100u electrolytic RAW > GND",
    "R1: resistor 1k RAW > OUT",
    "D2: zener 5.1V GND > OUT",
)


@pytest.mark.parametrize(
    ("place", "value", "part"),
    [(("D1.a", "D1.k"), 0.002, "D1"), (("D2.a", "D2.k"), 0.003, "D2")],
)  # fmt: skip
def test_a_shorted_junction_is_found_on_the_diode_range_alone(place, value, part):
    machine = board(*DIODES, works=True)
    chance = believe(machine, Reading(Question("diode", *place, OFF), value, "h1"))
    assert chance[part] > 0.8 and max(chance, key=chance.__getitem__) == part


def test_a_dried_capacitor_is_found_by_its_esr_and_a_good_one_is_cleared():
    machine = board(*DIODES, works=True)
    ask = Question("esr", "C1.1", "C1.2", OFF)
    before = believe(machine)["C1"]
    assert believe(machine, Reading(ask, 11.0, "h1"))["C1"] > 0.9
    assert believe(machine, Reading(ask, healthy(machine, "esr", "C1.1", "C1.2"), "h1"))["C1"] < before


def test_leads_put_the_wrong_way_round_are_weighed_as_such():
    """The forward figure typed for the reverse question does not condemn the diode."""
    machine = board(*DIODES, works=True)
    forward = healthy(machine, "diode", "D1.a", "D1.k")
    before = believe(machine)["D1"]
    turned = believe(machine, Reading(Question("diode", "D1.k", "D1.a", OFF), forward, "h1"))
    assert turned["D1"] < 5.0 * before
