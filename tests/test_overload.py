"""What takes a part beyond its rating: ratings, killers by name, how sure each is, and the reading that shows it."""

from __future__ import annotations

import csv
from dataclasses import replace
from importlib.resources import files

import numpy as np
import pytest
from pytest import approx

from hidden import planted, reads
from probewright.hypotheses import Suspect
from probewright.machine import read
from probewright.machine.kinds import KINDS
from probewright.machine.ratings import CELSIUS, WATTS, next_step, rated, strains_of
from probewright.planning.killers import chances, check, likeliest, read_already
from probewright.planning.overload import Setting, bearings, is_elsewhere, overloads, settings
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.stress import borne, every_fault
from probewright.readings import Question, Reading, Setup
from probewright.readings.kit import UNTOLD
from rail import RAIL

BOARD = (
    RAIL.format(name="Small rail")
    + """\
  R1: resistor 47R 0.25W  V5 > A
  C3: capacitor 47u 20% electrolytic  A > GND
  R2: resistor 1k  A > B
  Q1: npn small-signal  c=V5 b=B e=E
  R3: resistor 220R  E > GND
"""
)
MODEL = build_model(read(BOARD), "k")
LAWS = draw_laws(MODEL, 1)


def found(part: str) -> dict[str, object]:
    borne_ = bearings(MODEL, part)
    return {one.cause.id: one for one in overloads(MODEL, part, borne_) if isinstance(one.cause, Suspect)}


# Ratings -------------------------------------------------------------------------------------------


def test_the_line_comes_before_the_table_and_the_class_before_its_kind():
    parts = read(BOARD).parts
    assert rated(parts["C2"], "volts").value == 6.3 and rated(parts["C2"], "volts").typed
    assert rated(parts["R1"], WATTS).value == 0.25 and not rated(parts["R2"], WATTS).typed
    ripple = [rated(parts[name], "ripple amps").value for name in ("C3", "C2", "C1")]
    assert ripple == sorted(ripple) and len(set(ripple)) == 3  # the larger bears more
    assert rated(parts["C3"], "volts") is None and rated(parts["U1"], WATTS) is None
    assert next_step(parts["C3"], "volts", 6.31).value == 10.0 and next_step(parts["R1"], "volts", 1.0) is None


def test_every_row_of_the_table_speaks_of_something_that_is_and_says_where_from():
    text = files("probewright.machine").joinpath("data/ratings.csv").read_text("utf-8")
    for row in csv.DictReader(text.splitlines()):
        kind = KINDS[row["kind"]]
        assert row["what"] in {WATTS, CELSIUS, *(one.what for one in kind.strains)}, row
        assert row["class"] in ("", *kind.classes), row
        assert float(row["value"]) > 0.0 and len(row["source"]) > 8, row


def test_every_kind_says_what_it_bears_of_its_own_pins():
    for kind in KINDS.values():
        for one in kind.strains:
            assert set(one.pins) <= set(kind.pins) and len(one.pins) == (
                2 if one.unit == "V" or len(one.pins) == 2 else 1
            )
            assert set(one.classes) <= set(kind.classes)
    assert strains_of(read(BOARD).parts["Q1"])[0].what == "volts"


# What takes it beyond ------------------------------------------------------------------------------


def test_a_regulator_that_passes_its_input_on_kills_the_capacitor_behind_it():
    """12 V less what the source drops stand on a part of 6.3 V."""
    killers = found("C2")
    assert "U1 in-out-short" in killers
    one = killers["U1 in-out-short"]
    assert one.what == "volts" and one.value == approx(
        reads(planted(read(BOARD), "U1 in-out-short"), Question("dc", "V5")), rel=2e-3
    )
    assert one.times == approx(one.value / 6.3) and one.times > 1.7
    assert all("C2" not in name for name in killers)  # nothing in the part itself


@pytest.mark.parametrize("part", ["C2", "R1", "Q1", "C3"])
def test_every_killer_takes_it_beyond_its_rating_and_beyond_a_sound_machine(part: str):
    """Each planted by itself, in the middle of its severity or a worse one, as the bank has it."""
    rows = {one.what: one for one in bearings(MODEL, part)}
    for name, one in found(part).items():
        assert one.value > one.rated.value and one.value > rows[one.what].most
        assert is_elsewhere(MODEL.machine, one.cause, part) and not one.cause.unlisted
        alone = [
            float(borne(planted(read(BOARD), name, bad=n), part, Setup())[one.what].value[0])
            for n in range(one.cause.faults[0].severity.bins if one.cause.faults[0].severity else 1)
        ] if one.what != CELSIUS else [one.value]  # fmt: skip
        assert any(value == approx(one.value, rel=1e-3) for value in alone), name


def test_a_shorted_capacitor_burns_the_resistor_before_it():
    """P = U^2 / R: 5 V on 47 ohm, on a part of a quarter of a watt; the short itself keeps half an ohm."""
    one = found("R1")["C3 short"]
    assert one.what == WATTS and one.value == approx(5.0**2 * 47.0 / 47.5**2, rel=0.01)
    assert one.times == approx(4.0 * one.value)


def test_a_fault_in_the_part_itself_its_joints_or_its_case_killed_nothing():
    """A resistor across a supply that fell to a third of its value turns three times its watts into heat: no killer."""
    text = "machine: m\nparts:\n  V1: source 12V series 0.1R  A > GND\n  R1: resistor carbon 220R 1W  A > GND\n"
    model = build_model(read(text), "k")
    borne_ = bearings(model, "R1")
    row = [model.suspects[model.cells[span.cell].suspect].id for span in every_fault(model).spans].index(
        "R1 drift-down"
    )
    assert borne_[0].what == WATTS and borne_[0].cells[row] > 1.5
    causes = [one.cause for one in overloads(model, "R1", borne_)]
    assert not any(isinstance(one, Suspect) and "R1" in one.id for one in causes)
    for name, elsewhere in (("C2 short", False), ("C2.1 joint-open", False), ("U1 in-out-short", True)):
        assert is_elsewhere(MODEL.machine, MODEL.suspects[MODEL.index[name]], "C2") == elsewhere


def test_a_wrong_adaptor_is_a_setting_and_a_part_itself_is_none():
    machine = read(BOARD)
    said = {one.says for one in settings(machine)}
    assert any("1.5 times" in one for one in said) and "ADAPTOR the wrong way round" in said
    borne_ = bearings(MODEL, "C1")
    by_setting = [one for one in overloads(MODEL, "C1", borne_) if isinstance(one.cause, Setting)]
    volts = {one.says: one.value for one in by_setting if one.what == "volts"}
    assert volts["another ADAPTOR that gives 1.5 times its volts"] == approx(18.0, rel=0.02)
    reverse = {one.says: one for one in by_setting if one.what == "reverse volts"}
    assert reverse["ADAPTOR the wrong way round"].times > 5.0


# How sure, and what shows it -----------------------------------------------------------------------


def test_a_reading_that_shows_the_killer_makes_it_sure_and_one_that_is_sound_takes_it_away():
    borne_ = bearings(MODEL, "C2")
    overs = likeliest(overloads(MODEL, "C2", borne_))
    dead = MODEL.suspects[MODEL.index["C2 short"]]
    at = next(n for n, one in enumerate(overs) if isinstance(one.cause, Suspect) and one.cause.id == "U1 in-out-short")
    before = chances(MODEL, (), dead, overs)
    shows = check(LAWS, overs[at], "C2", Setup(replaced=("C2",)), UNTOLD)
    assert shows is not None and not shows.live and shows.ask.setup.power == "off"
    bad = chances(MODEL, (Reading(shows.ask, shows.killer, "1"),), dead, overs)
    good = chances(MODEL, (Reading(shows.ask, 0.5 * (shows.low + shows.high), "1"),), dead, overs)
    assert bad[at] > 0.9 > before[at] > 10.0 * good[at]
    assert [one is None for one in before] == [isinstance(one.cause, Setting) for one in overs]
    assert sum(one for one in before if one is not None) < 1.0


def test_the_check_reads_what_it_says_with_the_killer_there_and_without():
    borne_ = bearings(MODEL, "C2")
    for over in likeliest(overloads(MODEL, "C2", borne_)):
        shows = check(LAWS, over, "C2", Setup(replaced=("C2",)), UNTOLD)
        if shows is None or not isinstance(over.cause, Suspect):
            continue
        bins = over.cause.faults[0].severity.bins if over.cause.faults[0].severity else 1
        planted_ = [reads(planted(read(BOARD), over.cause.id, bad=n), shows.ask) for n in range(bins)]
        assert any(value == approx(shows.killer, rel=1e-3) for value in planted_)
        assert not shows.low <= shows.killer <= shows.high


def test_what_was_read_and_is_sound_is_known_and_what_reads_as_the_killer_is_not():
    over = next(one for one in overloads(MODEL, "C2", bearings(MODEL, "C2")) if one.says.startswith("U1 is short"))
    shows = check(LAWS, over, "C2", Setup(replaced=("C2",)), UNTOLD)
    assert shows is not None
    sound, ill = (Reading(shows.ask, value, "1") for value in (shows.low, shows.killer))
    live = replace(sound, question=replace(shows.ask, setup=Setup()))
    assert read_already(shows, (sound,)) is sound and read_already(shows, (ill,)) is None
    assert read_already(shows, (live,)) is None and read_already(shows, (sound, ill)) is None


def test_without_a_solution_nothing_is_a_killer():
    one = bearings(MODEL, "C2")[0]
    unjudged = replace(one, cells=np.full(len(one.cells), np.nan))
    assert [o for o in overloads(MODEL, "C2", (unjudged,)) if isinstance(o.cause, Suspect)] == []
    assert [o for o in overloads(MODEL, "C2", (replace(one, rated=None),)) if isinstance(o.cause, Suspect)] == []
