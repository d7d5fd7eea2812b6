"""Millivolts along a path that carries a known current."""

from __future__ import annotations

import pytest
from pytest import approx

from probewright import jobs, machine
from probewright.jobs.bench import enter_line, open_job
from probewright.jobs.cases import Intake
from probewright.jobs.paths import say_path
from probewright.readings import Reading
from probewright.readings.hearing import Bench, Context, hear
from probewright.readings.setups import read_setup
from probewright.record import open_book

NOW = "2026-01-01T00:00:00Z"
# 5 V through a fuse, a connector pin, a row of track and a switch into 2 ohm
RAIL = """
machine: rail
parts:
  S1: source 5V  IN > GND
  F1: fuse  IN > A
  J1: contact  A > B
  T1: track  B > C > D
  S2: switch closed  D > E
  R1: resistor 2 1%  E > GND
"""


def heard(text: str, bench: Bench | None = None) -> tuple[Reading, ...]:
    found = hear(text, Context(bench=bench or Bench()))
    assert not found.doubts, found.doubts
    return found.readings


@pytest.mark.parametrize(
    "line", ["P3 to P4 190 mV at 5 A", "at 5 A: P3 to P4 190 mV", "P3 to P4 190 mV at 5A", "at 5,0 A P3 to P4 190 mV"]
)
def test_a_known_current_turns_millivolts_into_ohms_and_watts(line: str) -> None:
    current, drop = heard(line)
    assert (current.question.instrument, current.answer, drop.answer) == ("amps", 5.0, approx(0.19))
    said = say_path(drop, (current,))
    # R = U / I = 190 mV / 5 A, P = U I
    assert said.startswith("between P3 and P4: 38 mΩ within ") and ", 0.95 W at 5 A" in said


def test_a_measured_current_counts_in_its_own_sitting_only() -> None:
    bench = hear("bench supply 500 mA", Context()).bench
    (drop,) = heard("P1 to P2 5 mV", bench)
    assert bench.last is not None and "10 mΩ" in say_path(drop, (bench.last,))
    assert say_path(drop, ()) == ""
    later = hear("P1 to P2 5 mV; new sitting", Context(bench=bench)).readings[0]
    assert say_path(later, (bench.last,)) == ""


def test_the_limit_of_a_bench_supply_is_a_bound_and_said_so() -> None:
    bench = Bench(read_setup("power off, bench supply 5V limit 0.5A on V5", None), power_said=True)
    (drop,) = heard("P1 to P2 19 mV", bench)
    assert "38 mΩ" in say_path(drop, ()) and "if the supply stands at its limit" in say_path(drop, ())


def test_too_little_for_the_range_is_no_figure() -> None:
    current, drop = heard("P1 to P2 0.1 mV at 1 A")
    assert "less than" in say_path(drop, (current,))


def test_the_drop_that_stands_out_of_a_row_is_named() -> None:
    said = heard("at 5 A: E1 to E2 12 mV, E2 to E3 11 mV, E3 to E4 190 mV")
    assert len(said) == 4
    assert "of this row E3 to E4 drops most, 17 times" in say_path(said[3], said[:3])
    assert "of this row" not in say_path(said[2], said[:2])


def test_pads_called_p_are_a_row_and_not_pins_of_each_other() -> None:
    said = heard("P1 to P2 12 mV, P2 to P3 11 mV, P3 to P4 190 mV")
    assert [(one.question.red, one.question.black) for one in said] == [("P1", "P2"), ("P2", "P3"), ("P3", "P4")]


def test_volts_to_ground_and_a_sum_of_the_bench_stay_what_they_were() -> None:
    assert say_path(heard("P1 0.19 V")[0], ()) == ""
    assert not hear("P1 190 mV at 5 A", Context()).readings  # from where to where?


def test_the_job_says_it_and_keeps_it(tmp_path) -> None:
    with open_book(tmp_path / "bench.book") as book:
        case = open_job(book, Intake("other"), NOW)
        case = enter_line(book, case, "P3 to P4 190 mV at 5 A", NOW)
        assert any("38 mΩ" in one for one in case.lines[-1].says)
        assert [one.question.instrument for one in case.readings] == ["amps", "dc"]


def test_a_burnt_connector_pin_is_found_by_millivolts() -> None:
    of = machine.read(RAIL)
    bench = Bench(read_setup("power off, bench supply 5V limit 4A on IN", of), power_said=True)
    search = jobs.open_search(of, "k")
    # a pin of 0.25 ohm: I = 5 / (2 + 0.05 + 0.25 + 2 x 0.02 + 0.02 and leads) = 2.08 A by hand
    for line in ("across F1 104 mV", "B to C 42 mV", "C to D 41 mV", "across J1 520 mV"):
        found = hear(line, Context(machine=of, bench=bench))
        assert not found.doubts, found.doubts
        bench = found.bench
        search = jobs.enter_readings(search, found.readings)
    view = jobs.look(search)
    assert view.suspects[0].id == "J1 contact-resistance", [(one.id, one.probability) for one in view.suspects[:4]]
    assert view.suspects[0].probability > 0.5
