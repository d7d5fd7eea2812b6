"""Whole repairs by what moves in time: a planted fault, lines as typed off an oscilloscope, the finding."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from hidden import NOW, HiddenBench, opened
from probewright import jobs
from probewright.jobs.capturing import Asked, add_capture
from probewright.machine import load
from probewright.machine.waves import Course, Sine
from probewright.readings import NEVER, Setup
from probewright.readings.lines import read_readings
from probewright.record import Book
from probewright.simulation.tracing import trace
from test_told import found
from timed_machines import HOLD, RESET, STAGE, SUPPLY

pytestmark = pytest.mark.slow  # whole repairs, each of many runs in time


def chance(bench: HiddenBench, *begins: str) -> float:
    """Of all suspects whose id begins so, in the refined answer."""
    return sum(one.probability for one in bench.now().search.suspects if one.id.startswith(begins))


# A supply --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "hertz", "other"),
    [
        pytest.param("D1 open-ac1-plus", 50.0, "C1 low-value", id="diode"),
        pytest.param("C1 low-value", 100.0, "D1 open", id="reservoir"),
    ],
)
def test_the_frequency_of_a_ripple_alone_tells_a_diode_from_a_dried_reservoir(
    book: Book, fault: str, hertz: float, other: str
) -> None:
    """A bridge recharges 100 times a second, with a diode open 50 times: two to one by the count of its diodes."""
    bench = opened(book, SUPPLY.replace("below 2V", "below 1.2V"), fault)  # either fault is complained of
    bench.type("quiet: ?")
    assert bench.case.readings[-1].answer == "bad"
    before = chance(bench, other)
    bench.type("RAW frequency ? Hz")
    assert bench.case.readings[-1].answer == approx(hertz, rel=5e-3)
    assert chance(bench, other) < 0.05 * before, (before, bench.leaders(6))
    bench.follow()
    found(bench, fault)


# An amplifier ----------------------------------------------------------------------------------


@pytest.mark.parametrize("fault", ["R1 drift-up", "R2 drift-up"])
def test_the_side_on_which_a_stage_clips_tells_which_way_its_bias_drifted(book: Book, fault: str) -> None:
    bench = opened(book, STAGE, fault)
    bench.type("clean: ?", "C top ? V, valley ? V")
    bench.follow()
    found(bench, fault)


def test_what_one_answer_says_nothing_of_is_still_judged_by_the_others(book: Book) -> None:
    """A dead source has no distortion to be judged by, but it leaves no swing at the collector either."""
    bench = opened(book, STAGE, "R2 drift-up")
    bench.type("clean: ?")
    before = chance(bench, "V1 dead")
    bench.type("C top ? V, valley ? V")
    assert before > 0.02 and chance(bench, "V1 dead") < 0.1 * before, bench.leaders(6)


CHIME = """
machine: Chime of a doorbell
extras:
  BELL: source 0V series 600R  IN > GND
known good: [BELL]
parts:
  C1: capacitor 47n film  IN > A
  R1: resistor 10k  A > GND
  R2: resistor 10k  A > B
  C2: capacitor 2n2 film  B > GND
  R3: resistor 22k  B > GND
stimuli:
  chime: {do: feed the two notes, BELL: sine 0.5V rms 400Hz or 2kHz}
works:
  low note: B level at chime 400Hz; below 60% of healthy = thin
  high note: B level at chime 2kHz; below 60% of healthy = dull
"""


@pytest.mark.parametrize("fault", ["C1 low-value", "R2 drift-up"])
def test_low_gain_at_one_of_two_frequencies_is_a_coupling_capacitor(book: Book, fault: str) -> None:
    bench = opened(book, CHIME, fault)
    bench.type("low note: ?", "high note: ?", "B ? V rms at chime 400Hz", "B level at 2 kHz ? V rms at chime 2kHz")
    bench.follow()
    found(bench, fault)


# Once ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "never"), [pytest.param("R1 drift-up", False, id="late"), pytest.param("C1 short", True, id="never")]
)
def test_a_reset_that_comes_late_and_one_that_never_comes(book: Book, fault: str, never: bool) -> None:
    bench = opened(book, RESET, fault)
    bench.type("starts: ?", "RES falls through 2.5 V after ? s", "RC rises through 2.5 V after ? s")
    assert [one.answer == NEVER for one in bench.case.readings[1:]] == [never, never]
    bench.follow()
    found(bench, fault)


def test_a_hold_that_sags_between_refreshes_is_its_capacitor(book: Book) -> None:
    bench = opened(book, HOLD, "C1 leak")
    bench.type("holds: ?", "OUT sags ? V between refreshes, over 3ms..19ms")
    bench.follow()
    found(bench, "C1 leak")


# Outside ---------------------------------------------------------------------------------------

PLAYER = """
machine: Amplifier of a record player that stands in another room
extras:
  DECK: source 0V series 1k  HOT > SHIELD
  LOOP: source mains 0.2V rms 50Hz series 10R  SHIELD > GND
  SCREEN: lead  SHIELD > GND
known good: [DECK, LOOP]
parts:
  VP: source 12V ripple 0.3V pp 100Hz series 1R  RAW > GND
  R5: resistor 470R  RAW > VCC
  C3: capacitor 470u electrolytic  VCC > GND
  C1: capacitor 10u electrolytic  B > HOT
  R1: resistor 47k  VCC > B
  R2: resistor 10k  B > GND
  Q1: npn small-signal gain 100..400  c=C b=B e=E
  R3: resistor 3k3  VCC > C
  R4: resistor 1k  E > GND
stimuli:
  idle: {do: play nothing}
works:
  quiet: C pp at idle; above 60mV = hums
"""


def test_hum_at_the_mains_own_frequency_is_an_earth_loop_and_another_lead_cures(book: Book) -> None:
    """Two sockets of the mains differ by 0.2 V, and the screen of the lead carries what that drives."""
    bench = opened(book, PLAYER, "SCREEN open")
    bench.type("quiet: ?", "C frequency ? Hz")
    assert bench.case.readings[-1].answer == approx(50.0, rel=5e-3)
    bench.type("SCREEN swapped: cured", "old SCREEN back, fault back")
    bench.follow()
    view = bench.now().search
    assert view.finding == "outside" and view.suspects[0].id.startswith("SCREEN"), bench.leaders()


def test_hum_at_twice_the_mains_is_its_own_supply_and_the_lead_is_left_alone(book: Book) -> None:
    bench = opened(book, PLAYER, "C3 open")
    bench.type("quiet: ?", "C frequency ? Hz")
    assert bench.case.readings[-1].answer == approx(100.0, rel=5e-3)
    bench.follow()
    found(bench, "C3 open")


# Two faults ------------------------------------------------------------------------------------


def test_the_demo_of_two_faults_finds_the_one_behind_the_other(demo_folder: Path) -> None:
    """Read as it was noted at the bench: a frequency and a junction, a new part, the owner asked again, a resistor."""
    machine = load(demo_folder / "fernside-tg-8.yaml")
    said = read_readings((demo_folder / "fernside-tg-8.readings").read_text("utf-8"), machine)
    planted = json.loads((demo_folder / "planted.json").read_text("utf-8"))["tg-8"]["faults"]
    first = [reading for reading in said if not reading.question.setup.replaced]
    search = jobs.open_search(machine)
    for some, items in ((first, {"D1"}), (said, {"D1", "R4"})):
        view = jobs.look(jobs.enter_readings(search, some))
        assert view.finding == "located" and not view.rough
        leading = {one for suspect in view.suspects if suspect.id in view.classes[0].members for one in suspect.faults}
        assert {fault.item for fault in leading} == items and items <= {fault["item"] for fault in planted}


# A file ----------------------------------------------------------------------------------------


def captured(bench: HiddenBench) -> bytes:
    """What a scope writes of RAW over three turns of the mains, long after it was switched on; waited for from rest."""
    setup = Setup(stimulus="run")
    circuit = bench.hidden.circuit(setup)
    batch = bench.hidden.batch(circuit, setup)
    waited = trace(circuit, batch, [Course("TR1", swing=Sine(50.0))], ["RAW"], 0.46, 5e-5, since=0.4)
    noise = 0.005 * np.random.default_rng(3).normal(size=len(waited.seconds))
    rows = [f"{s:.6f},{v:.4f}" for s, v in zip(waited.seconds - 0.4, waited.volts["RAW"][0] + noise, strict=True)]
    return "\n".join(["time,CH1", "s,V", *rows, ""]).encode()


@pytest.mark.parametrize("fault", ["D1 open-ac1-plus", "C1 low-value"])
def test_a_waveform_file_decides_as_the_line_that_is_typed(book: Book, fault: str) -> None:
    typed, filed = opened(book, SUPPLY, fault, key="typed"), opened(book, SUPPLY, fault, key="filed")
    for bench in (typed, filed):
        bench.type("quiet: ?")
    typed.type("RAW mean ? V", "RAW ripple ? Vpp", "RAW frequency ? Hz")
    filed.case = add_capture(book, filed.case, captured(filed), "raw.csv", Asked("RAW at run"), NOW)
    for one, other in zip(typed.case.readings[1:], filed.case.readings[1:], strict=True):
        assert one.question.instrument == other.question.instrument
        assert other.answer == approx(one.answer, rel=0.02)
    part = (
        fault.partition(" ")[0] + " "
    )  # a diode shorted leaves every other pulse too: which of its faults is asked later
    assert chance(typed, part) > 0.8 and chance(filed, part) > 0.8, (typed.leaders(6), filed.leaders(6))
    filed.follow()
    found(filed, fault)
