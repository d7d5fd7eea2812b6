"""Readings beside one another: a sister machine, two positions, two frequencies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from probewright import jobs, machine
from probewright.jobs.comparing import compare, ratio_error
from probewright.jobs.keeping import keep_reading, kept_reading
from probewright.machine import Machine
from probewright.prediction.likelihood import _alike
from probewright.prediction.outcomes import show
from probewright.readings import Question, Reading, Setup, instruments
from probewright.readings.hearing import Context, hear
from probewright.readings.setups import read_setup, write

# Two capacitors: C1 carries the low notes across, C2 the high ones past R2.
COUPLED = """
machine: coupled
parts:
  GEN: source 0V  A > GND
  C1: capacitor electrolytic 10u  A > B
  R1: resistor 1k 1%  B > GND
  R2: resistor 100k 1%  B > C
  C2: capacitor 1n  B > C
  R3: resistor 100k 1%  C > GND
stimuli:
  tone: {do: feed a tone, GEN: sine 1V rms 1kHz}
"""
DIVIDER = """
machine: divider
parts:
  S1: source 10V 0.1%  A > GND
  R1: resistor 10k 5%  A > B
  R2: resistor 10k 5%  B > GND
"""


def heard(text: str, of: Machine | None, said: tuple[Reading, ...] = ()) -> tuple[Reading, ...]:
    found = hear(text, Context(machine=of, said=said))
    assert not found.doubts, found.doubts
    return found.readings


@pytest.mark.parametrize(
    "line", ["B 5.1 V on the sister", "sister B 5.1 V", "sister: B 5.1 V", "B 5.1 V on the other unit"]
)
@pytest.mark.parametrize("file", [DIVIDER, ""])
def test_a_reading_on_the_sister_says_so_and_changes_nothing_here(line: str, file: str) -> None:
    of = machine.read(file) if file else None
    line = line if file else line.replace("B ", "U2.7 ")
    found = hear(line, Context(machine=of))
    (reading,) = found.readings
    assert reading.question.setup == Setup(sister=True) and reading.answer == 5.1
    assert reading.text == line and "on the sister" in found.echo[0]
    assert found.bench.setup == Setup()  # the next line is of this machine again
    assert kept_reading(keep_reading(reading)) == reading


def test_both_machines_in_one_line() -> None:
    mine, hers = heard("U2.7 5.1 V, sister 5.9 V", None)
    assert (mine.question.red, mine.answer, mine.question.setup.sister) == ("U2.7", 5.1, False)
    assert (hers.question.red, hers.answer, hers.question.setup.sister) == ("U2.7", 5.9, True)
    assert mine.hookup != hers.hookup


def test_a_set_up_with_sister_and_frequency_reads_back() -> None:
    for setup in (Setup(hertz=100.0), Setup(hertz=12.5e3, sister=True), Setup("off", sister=True)):
        assert read_setup(write(setup), None) == setup


def test_without_a_file_it_is_the_same_or_not_the_same() -> None:
    said = heard("sister U2.7 5.1 V", None)
    assert compare(*heard("U2.7 5.2 V", None), said, None).startswith("the same: as that on the sister (5.1 V")
    assert compare(*heard("U2.7 2.6 V", None), said, None).startswith("not the same: 0.51 of that on the sister (5.1 V")
    assert compare(*heard("U2.7 0 V", None), said, None) == "not the same: 0 of that on the sister (5.1 V)"


def test_the_gain_error_of_the_meter_cancels_in_a_ratio() -> None:
    one, other = heard("U2.7 0.512 Vpp, sister 0.640 Vpp", None)
    alone = instruments.error(one.question, 0.512).shared / 0.512
    # own error of the x10 probe: 1 % and 2 mV (docs/readings.md), twice; none of its 3 % of gain
    hand = np.hypot(np.hypot(0.01, 0.002 / 0.512), np.hypot(0.01, 0.002 / 0.640))
    assert ratio_error(one, other) == approx(hand, rel=0.05)
    dc = heard("U2.7 0.512 V, sister 0.640 V", None)
    assert ratio_error(*dc) < 0.6 * np.sqrt(2.0) * instruments.error(dc[0].question, 0.512).shared / 0.512
    assert alone > 0.0


def test_two_positions_of_one_switch_are_put_beside_each_other() -> None:
    low, high = (replace(one, question=replace(one.question, setup=Setup(stimulus=name)))
                 for one, name in zip(heard("U2.7 0.32 Vpp and U2.8 0.64 Vpp".replace("U2.8", "U2.7"), None), ("aux", "tape"), strict=True))  # fmt: skip
    assert compare(high, (low,), None).startswith("2 of the same place at aux (320 mV")


# On a machine file ----------------------------------------------------------------------------


def test_a_sister_shares_the_lot_and_not_the_parts() -> None:
    search = jobs.open_search(machine.read(DIVIDER), "k")
    bank = search.laws.base
    mine, hers = (show(bank.sound, Question("dc", "B", setup=setup)).value for setup in (Setup(), Setup(sister=True)))
    own = show(bank.middle.sisters, Question("dc", "B")).value
    assert 0.3 < np.corrcoef(mine, hers)[0, 1] <= 1.0
    assert 0.3 < np.std(hers) / np.std(mine) < 0.75  # half of what this machine tells carries over
    assert np.hypot(np.std(hers), np.std(own)) == approx(np.std(mine), rel=0.35)


def test_a_sister_that_reads_as_the_file_says_accuses_nobody_and_one_that_does_not_clears_nobody() -> None:
    search = jobs.open_search(machine.read(DIVIDER), "k")
    before = search.belief.probability
    for answer in (5.0, 9.0):
        ask = Question("dc", "B", setup=Setup(sister=True))
        after = jobs.enter_readings(search, [Reading(ask, answer, "s")]).belief.probability
        assert np.max(np.abs(after - before)) < 0.05
        stranger = search.laws.model.index["not-listed"]
        assert after[stranger] / before[stranger] == approx(1.0, rel=0.2)  # nor is it something not in the file


def test_two_positions_with_the_probes_left_on_share_the_gain_error_of_the_instrument() -> None:
    at = [Question("pp", "B", setup=Setup(stimulus=name)) for name in ("aux", "tape")]
    healthy = np.array([[0.5], [0.25]])

    def nats(times: tuple[float, float]) -> float:
        figures = healthy[:, 0] * times
        said = [Reading(ask, float(y), "h") for ask, y in zip(at, figures, strict=True)]
        return float(_alike(said, healthy)[0])

    both_high, apart = nats((1.03, 1.03)), nats((1.03, 0.97))
    assert both_high > apart + 1.0  # a scope reads both high; one high and one low it does not
    # closed form: a normal law of two figures with a common gain, x10 probe of docs/readings.md and the model's 0.2 %, 1 mV
    y = healthy[:, 0] * (1.03, 0.97)
    gain = 0.03 / np.sqrt(3.0)
    cov = np.outer(gain * y, gain * y) + np.diag((0.01 * y) ** 2 + 0.002**2 + (0.002 * y) ** 2 + 0.001**2)
    off = y - healthy[:, 0]
    by_hand = -0.5 * off @ np.linalg.solve(cov, off) - 0.5 * np.log(np.linalg.det(2.0 * np.pi * cov))
    assert apart == approx(by_hand, abs=0.02)


# Two frequencies ------------------------------------------------------------------------------


def test_two_frequencies_are_two_questions_with_their_own_answers() -> None:
    of = machine.read(COUPLED)
    low, high, own = (heard(f"C 0.32 Vpp at {hertz}", of)[0].question for hertz in ("20 Hz", "20 kHz", "1 kHz"))
    assert len({low, high, own}) == 3 and low.setup.stimulus == high.setup.stimulus == "tone"
    assert own == heard("C 0.32 Vpp", of)[0].question  # the tone's own frequency is the tone
    bank = jobs.open_search(of, "k").laws.base.middle
    low, high = (replace(ask, red="B") for ask in (low, high))
    # C1 into R1 beside R2 and R3: 10 uF against 995 ohm turns at 16 Hz, source 1 V rms; textbook high-pass
    turn = 1.0 / (2.0 * np.pi * 10e-6 * (1.0 / (1.0 / 1e3 + 1.0 / 200e3)))
    wanted = [2.0 * np.sqrt(2.0) / np.hypot(1.0, turn / hertz) for hertz in (20.0,)]
    assert show(bank, low).value[0] == approx(wanted[0], rel=0.01)
    assert show(bank, high).value[0] > show(bank, low).value[0]


@pytest.mark.parametrize(
    ("part", "low", "high"),
    # healthy: 1.1 Vpp at 20 Hz, 2.8 Vpp at 20 kHz
    [("C1", "C 0.175 Vpp at 20 Hz", "C 2.8 Vpp at 20 kHz"), ("C2", "C 1.1 Vpp at 20 Hz", "C 1.41 Vpp at 20 kHz")],
)
def test_low_at_only_one_of_two_frequencies_points_to_the_right_capacitor(part: str, low: str, high: str) -> None:
    of = machine.read(COUPLED)
    search = jobs.enter_readings(jobs.open_search(of, "k"), [*heard(low, of), *heard(high, of)])
    view = jobs.look(search)
    of_part = {one.id.split()[0].split(":")[0]: 0.0 for one in view.suspects}
    for one in view.suspects:
        of_part[one.id.split()[0].split(":")[0]] += one.probability
    assert max(of_part, key=lambda name: of_part[name]).startswith(part), of_part
    asked = {
        action.ask.setup.hertz for action in view.actions if action.ask is not None and action.ask.instrument == "pp"
    }
    assert asked <= {0.0, 20.0, 20e3}
