"""Zones and earlier hands: how they are said, what they raise, and two repairs that they shorten."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

import brute_force
import hidden
from conftest import Run
from hidden import broken, reads
from probewright.errors import BadInput
from probewright.hypotheses import Fault
from probewright.hypotheses.earlier import hands_table, touched
from probewright.hypotheses.modes import edits
from probewright.hypotheses.priors import rows
from probewright.hypotheses.suspects import suspects_of
from probewright.hypotheses.zones import inside
from probewright.jobs import adding, bench
from probewright.jobs.bench import machine_of
from probewright.jobs.cases import Case, Intake
from probewright.jobs.standing import work_out
from probewright.jobs.ticking import zones_of
from probewright.jobs.view import plain
from probewright.jobs.weighing import begin
from probewright.machine import read, write
from probewright.machine.model import Machine, Zone
from probewright.readings import Question, Setup
from probewright.readings.hearing import Context, hear
from probewright.record import Book, open_book
from probewright.report import bench as words

AMPLIFIER = read(brute_force.MACHINE, "two-stage.yaml")
NOW = "2026-11-25T10:00:00+00:00"
OFF = Setup(power="off")

# A lamp panel fed through copper that passes under C1; invented.
PANEL = """
machine: Lamp panel
extras:
  PSU: source 12V 2% series 1R  IN > GND
known good: [PSU]
parts:
  T1: track  IN > V12 > LINE
  C1: capacitor 47u electrolytic  V12 > GND
  R1: resistor 2k2 1%  LINE > A
  R2: resistor 3k3 1%  A > GND
  T2: track  A > SENSE
  R3: resistor 10k 1%  SENSE > GND
  R4: resistor 4k7 1%  V12 > FAR
  R5: resistor 4k7 1%  FAR > GND
  R6: resistor 22k 1%  FAR > END
  R7: resistor 22k 1%  END > GND
"""

RECTIFIER = """
machine: Small supply
extras:
  PSU: source 9V 2% series 1R  RAW > GND
known good: [PSU]
parts:
  D1: diode rectifier  RAW > SUP
  C1: capacitor 100u electrolytic  SUP > GND
  R1: resistor 1k 5%  SUP > MID
  D2: diode small-signal  MID > OUT
  R2: resistor 2k2 5%  OUT > GND
  R3: resistor 10k 5%  OUT > GND
"""


@pytest.fixture
def book(tmp_path: Path):
    with open_book(tmp_path / "book.db") as one:
        yield one


def opened(book: Book, text: str) -> Case:
    """A job with this machine file tied to it."""
    return hidden.opened(book, text, key="zones").case


# Two repairs -----------------------------------------------------------------------------------


def test_a_leak_around_three_parts_two_corroded_tracks_and_the_list_finds_both(book: Book):
    board = broken(read(PANEL), Fault("T1-2", "open"), Fault("T2", "open"))
    case = bench.enter_line(book, opened(book, PANEL), "leak around C1 R1 R2", NOW)
    (zone,) = zones_of(case).zones
    assert zone.kind == "leak" and {"C1", "R1", "R2", "T1-2", "T2"} <= set(zone.parts)
    tracks = [one for one in zone.checks if one.kind == "track"]
    bad = []
    for one in tracks:
        assert one.ohms is not None
        figure = reads(board, Question("ohms", one.red, one.black, OFF))
        if not one.ohms.low <= figure <= one.ohms.high:
            bad.append(one.where)
    assert sorted(bad) == ["T1-2", "T2"]
    assert not any(one.done for one in zone.checks)
    case = bench.enter_line(book, case, "T2.1 to T2.2 OL off", NOW)
    done = [one.where for one in zones_of(case).zones[0].checks if one.done]
    assert "T2" in done and "T1-2" not in done


def test_a_diode_fitted_backwards_by_an_earlier_hand_comes_first_because_it_was_said_to_be_touched(book: Book):
    machine = read(RECTIFIER)
    board = broken(machine, Fault("D2", "backwards"))
    plain = opened(book, RECTIFIER)
    case = bench.enter_line(book, opened(book, RECTIFIER), "resoldered: D2", NOW)
    for place in ("MID", "OUT"):
        figure = reads(board, Question("dc", place))
        line = f"{place} {max(figure, 0.0):.3f} V"
        plain, case = (bench.enter_line(book, one, line, NOW) for one in (plain, case))
    across = reads(board, Question("diode", "D2.k", "D2.a", OFF))  # it conducts the way it should not
    line = f"D2.k to D2.a {across:.3f} V diode off"
    plain, case = (bench.enter_line(book, one, line, NOW) for one in (plain, case))
    assert not any(line.status == "asked" for line in case.lines), case.lines
    first = work_out(case).search.suspects[0]
    assert first.id == "D2 backwards" and first.probability > 0.5
    assert "D2 backwards" not in [one.id for one in work_out(plain).search.suspects]


# Heard -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "kind", "places", "around"),
    [
        ("leak around C1 C2 R1", "leak", ("C1", "C2", "R1"), True),
        ("battery leak near R5", "leak", ("R5",), True),
        ("corrosion on C1, C2 and R1", "leak", ("C1", "C2", "R1"), False),
        ("liquid near q2", "liquid", ("Q2",), True),
        ("coffee spilled over R1 R2", "liquid", ("R1", "R2"), False),
        ("heat damage around Q1", "heat", ("Q1",), True),
        ("resoldered: Q1 Q2 R1", "earlier work", ("Q1", "Q2", "R1"), False),
        ("earlier work: OUT", "earlier work", ("OUT",), False),
        ("somebody has been at Q2.b", "earlier work", ("Q2.b",), False),
    ],
)
def test_a_zone_is_heard_in_one_line(line: str, kind: str, places: tuple[str, ...], around: bool):
    heard = hear(line, Context(machine=AMPLIFIER))
    assert not heard.doubts and not heard.readings
    assert [(one.kind, one.places, one.around) for one in heard.zones] == [(kind, places, around)]
    assert heard.echo and all(place in heard.echo[0] for place in places)
    free = hear(line.replace("OUT", "J3"), Context())  # without a file any name of a part will do
    assert len(free.zones) == 1 and free.zones[0].kind == kind


@pytest.mark.parametrize(
    ("line", "asks"),
    [
        ("leak around C1 C99", "no place 'C99'"),
        ("liquid near", "where"),
        ("resoldered: ", "where"),
        ("leak around the board", "where"),
    ],
)
def test_a_zone_without_a_known_place_is_asked_back(line: str, asks: str):
    heard = hear(line, Context(machine=AMPLIFIER))
    assert not heard.zones
    assert asks in heard.doubts[0].text


@pytest.mark.parametrize("line", ["C1 leaks", "scorched near R5", "R5 touched", "heat Q1: fault comes", "Q1 c 11.8"])
def test_what_is_no_zone_is_heard_as_before(line: str):
    assert not hear(line, Context(machine=AMPLIFIER)).zones


# In the file -----------------------------------------------------------------------------------


def test_a_machine_file_may_state_a_zone():
    text = f"{brute_force.MACHINE}zones:\n  - leak around C1 R1\n  - earlier work on Q2\n"
    found = read(text).zones
    assert [(one.kind, one.places, one.around) for one in found] == [
        ("leak", ("C1", "R1"), True),
        ("earlier work", ("Q2",), False),
    ]
    assert "Q2 backwards" in {one.id for one in suspects_of(read(text))}
    assert read(write(text, "file.yaml")).zones == found  # its canonical form says the same


@pytest.mark.parametrize(
    ("line", "complaint"),
    [("fog around C1", "not a kind of zone"), ("leak around C77", "'C77'"), ("leak", "no places")],
)
def test_a_zone_of_the_file_that_cannot_be_is_refused_with_its_line(line: str, complaint: str):
    with pytest.raises(BadInput) as caught:
        read(f"{brute_force.MACHINE}zones:\n  - {line}\n")
    (one,) = caught.value.complaints
    assert complaint in one.text and one.line > 10 and one.mend


# What a zone raises ----------------------------------------------------------------------------


def chances(machine: Machine, *zones: Zone) -> dict[str, float]:
    return {one.id: one.prior for one in suspects_of(replace(machine, zones=zones))}


def test_all_that_lies_in_a_zone_rises_against_all_that_lies_outside():
    before, after = chances(AMPLIFIER), chances(AMPLIFIER, Zone("leak", ("C1",), True))
    assert sum(after.values()) == pytest.approx(1.0)
    factors = {row["what"]: float(row["factor"]) for row in rows("zones") if row["zone"] == "leak"}
    outside = after["R5 open"] / before["R5 open"]  # R5 shares no small net with C1
    for name, what in (
        ("C1 leak", "part"),
        ("R1 open", "part"),
        ("C1.1 joint-open", "joint"),
        ("R2.1 joint-open", "joint"),
    ):
        assert after[name] / before[name] / outside == pytest.approx(factors[what]), name
    assert after["nothing-wrong"] == pytest.approx(before["nothing-wrong"])


def test_the_factor_of_a_track_is_that_of_the_two_rows_for_tracks():
    """Track or plated hole: weight 0.02 outside, 2 inside a zone. Source: the table for old machines, an estimate."""
    found = {
        row["class"]: float(row["weight"]) for row in rows("old_machine") if row["class"].startswith("track_or_via")
    }
    for row in rows("zones"):
        if row["what"] == "track" and row["zone"] != "earlier work":
            assert float(row["factor"]) == found["track_or_via.in_zone"] / found["track_or_via"], row


def test_two_zones_over_one_part_count_as_the_stronger_not_as_their_product():
    one = chances(AMPLIFIER, Zone("leak", ("R5",), False))
    both = chances(AMPLIFIER, Zone("leak", ("R5",), False), Zone("liquid", ("R5",), False))
    assert both["R5 open"] == pytest.approx(one["R5 open"])


def test_faults_of_one_zone_come_together():
    zone = Zone("leak", ("C1", "R1", "R2"), False)
    bench_ = replace(AMPLIFIER, zones=(zone,))
    found = {one.id: one for one in suspects_of(bench_, [("R1 open", "R2 open"), ("R1 open", "R5 open")])}
    in_zone, across = found["R1 open + R2 open"], found["R1 open + R5 open"]
    # both had the same factor before the zone's own, so what is left is what they share
    shares = found["R2 open"].prior / found["R5 open"].prior
    assert in_zone.prior / across.prior > 2.0 * shares
    assert "zone" in in_zone.source and "zone" not in across.source


def test_without_a_zone_nothing_changes():
    plain = [one.id for one in suspects_of(AMPLIFIER)]
    new = {
        "backwards",
        "decade-up",
        "decade-down",
        "wrong-type",
        "left-out",
        "lifted-pad",
        "not-reaching",
        "surface-leak",
    }
    assert not [name for name in plain if name.rpartition(" ")[2] in new]


def test_what_lies_in_a_zone_is_told_from_the_circuit():
    exact, near = Zone("leak", ("C1",), False), Zone("leak", ("C1",), True)
    assert inside(AMPLIFIER, exact, "C1") and inside(AMPLIFIER, exact, "C1.1")
    assert not inside(AMPLIFIER, exact, "R1") and inside(AMPLIFIER, near, "R1")  # they meet at B1
    assert not inside(AMPLIFIER, near, "R5")


# Earlier hands ---------------------------------------------------------------------------------


def test_modes_of_earlier_hands_stand_only_at_parts_that_were_touched():
    machine = replace(AMPLIFIER, zones=(Zone("earlier work", ("Q1", "R1", "C2"), False),))
    assert touched(machine) == ("R1", "Q1", "C2")  # in the order of the file
    plain = {one.id for one in suspects_of(AMPLIFIER)}
    more = {one.id for one in suspects_of(machine)} - plain
    assert {"Q1 backwards", "C2 backwards", "R1 decade-up", "R1 decade-down", "Q1 wrong-type", "R1 left-out"} <= more
    assert {"Q1.b lifted-pad", "Q1.b not-reaching", "R1.1 lifted-pad"} <= more
    assert "R1 backwards" not in more  # a resistor has no way round
    assert not [name for name in more if name.startswith(("R2", "R3", "R4", "R5", "R6", "Q2", "C1"))]


def test_film_capacitors_and_resistors_have_no_way_round():
    ways = {(row["mode"], row["for"]) for row in rows("earlier_hands")}
    assert {of for mode, of in ways if mode == "backwards"} == {
        "capacitor.electrolytic", "capacitor.tantalum", "diode", "transistor", "opamp", "comparator", "logic", "regulator",
    }  # fmt: skip


def test_together_they_weigh_what_the_table_says_however_many_were_touched():
    """About 20 in weight for an amateur's recent work, shared over the touched parts; an estimate, no source."""
    weights = []
    for names in (("R1",), ("R1", "R2", "C2")):
        machine = replace(AMPLIFIER, zones=(Zone("earlier work", names, False),))
        listed = suspects_of(machine)
        own = sum(one.prior for one in listed if one.source.startswith("earlier hands"))
        of_r5 = next(one.prior for one in listed if one.id == "R5 open")
        share = next(
            float(row["share"])
            for row in rows("old_machine")
            if row["class"] == "resistor.film" and row["mode"] == "open"
        )
        weights.append(own / (of_r5 / share))  # a small film resistor weighs 1
    assert weights == pytest.approx([20.0, 20.0], rel=0.02)


@pytest.mark.parametrize(("line", "name"), [("diode rectifier", "D"), ("zener 5V6", "D"), ("led red", "D")])
def test_a_part_fitted_backwards_reads_as_one_typed_backwards(line: str, name: str):
    text = """
machine: turned
extras: {{PSU: source 9V 2% series 100R  IN > GND}}
parts:
  D: {line}  {ends}
  R1: resistor 1k  IN > A
  R2: resistor 4k7  A > GND
"""
    right, wrong = read(text.format(line=line, ends="A > GND")), read(text.format(line=line, ends="GND > A"))
    for a, b in ((right, wrong), (wrong, right)):
        assert reads(broken(a, Fault(name, "backwards")), Question("dc", "A")) == pytest.approx(
            reads(broken(b), Question("dc", "A")), rel=1e-6
        )


def test_a_transistor_fitted_backwards_reads_as_one_with_collector_and_emitter_exchanged():
    text = """
machine: turned
extras: {{PSU: source 9V 2% series 100R  SUP > GND}}
parts:
  Q: npn gain 200  c={c} b=B e={e}
  R1: resistor 100k  SUP > B
  R2: resistor 1k  SUP > A
  R3: resistor 100R  E > GND
"""
    right, wrong = read(text.format(c="A", e="E")), read(text.format(c="E", e="A"))
    ask = Question("dc", "A")
    assert reads(broken(right, Fault("Q", "backwards")), ask) == pytest.approx(reads(broken(wrong), ask), rel=1e-6)
    assert abs(reads(broken(right), ask) - reads(broken(wrong), ask)) > 1.0


def test_a_decade_off_is_a_decade_off():
    (up,), (down,) = (edits(AMPLIFIER, Fault("R1", mode)) for mode in ("decade-up", "decade-down"))
    assert (up.value, down.value) == (10.0, 0.1) and up.relative and down.relative


def test_every_row_of_the_zones_and_of_earlier_hands_has_a_reason_and_a_source():
    for name in ("zones", "earlier_hands"):
        assert all(row["reason"] and row["source"] and row["reliability"] in "ABCD" for row in rows(name)), name
    assert {row["zone"] for row in rows("zones")} == {"leak", "liquid", "heat", "earlier work"}
    assert hands_table()


# On the job ------------------------------------------------------------------------------------


def test_a_zone_moves_the_search_and_undo_takes_it_back(book: Book):
    case = opened(book, PANEL)
    before = {one.id: one.prior for one in begin(case).laws.model.suspects}
    said = bench.enter_line(book, case, "liquid near T2", NOW)
    assert bench.view_case(said).zones[0].kind == "liquid"
    raised = {one.id: one.prior for one in begin(said).laws.model.suspects}
    assert raised["T2 open"] > 10.0 * before["T2 open"]
    back = bench.undo(book, said, NOW)
    assert not bench.view_case(back).zones
    assert {one.id: one.prior for one in begin(back).laws.model.suspects} == before


def test_a_zone_said_before_there_is_a_file_counts_once_it_is_tied_and_says_what_it_does_not_know(book: Book):
    case = bench.open_job(book, Intake("amplifier", ticks={}, words="", key="zones"), NOW)
    case = bench.enter_line(book, case, "leak around T2 J9", NOW)
    assert [one.kind for one in bench.view_case(case).zones] == ["leak"]
    case = adding.tie(book, case, PANEL, adding.propose_tie(case, PANEL, "file.yaml", {}), NOW)
    (zone,) = zones_of(case).zones
    assert "T2" in zone.parts
    assert any("J9" in one for one in zone.unknown)


def test_every_net_and_joint_of_a_zone_is_on_the_list_with_a_figure(book: Book):
    case = bench.enter_line(book, opened(book, PANEL), "leak on R1 R2", NOW)
    (zone,) = zones_of(case).zones
    assert {one.where for one in zone.checks if one.kind == "net"} == {"LINE", "A"}
    assert {one.where for one in zone.checks if one.kind == "joint"} == {"R1.1", "R1.2", "R2.1", "R2.2"}
    net = next(one for one in zone.checks if one.where == "A")
    # 2k2 of R1 leads to C1 and, through R4 and R5, to ground; R2 beside R3: 3k3 || 10k || (2k2 + about 4.6 k or more)
    assert net.ohms is not None and 1.3e3 < net.ohms.low < net.ohms.high < 2.6e3
    # 12 V through 2k2 into 3k3 || 10k: 12 x 2.481 / 4.681 = 6.36 V by Ohm's law
    assert net.volts is not None and net.volts.low < 6.36 < net.volts.high


# Two tables side by side -----------------------------------------------------------------------


def test_both_tables_stand_beside_each_other_and_a_missing_row_is_said(book: Book):
    case = bench.enter_line(book, opened(book, RECTIFIER), "resoldered: D2", NOW)
    case = bench.enter_line(book, case, "OUT 0.01 V", NOW)
    view = work_out(case)
    by = {one["id"]: one for one in plain(view)["search"]["suspects"]}
    assert by["D2 backwards"]["handbook"] is None and by["D2 backwards"]["handbook_source"] == ""
    assert 0.0 < by["D1 open"]["handbook"] < 1.0 and "MIL-HDBK-338B" in by["D1 open"]["handbook_source"]
    assert by["nothing-wrong"]["handbook"] is None
    listed = {one.id: one for one in suspects_of(machine_of(case))}
    one, other = "D1 open", "R1 open"  # neither column is mixed with the other, also where pairs take a share of both
    for table in ("prior", "handbook"):
        apart = getattr(listed[one], table) / getattr(listed[other], table)
        assert by[one][table] / by[other][table] == pytest.approx(apart)
    assert "no row" in words.suspects(view).partition("handbooks   suspect")[2]  # ways of earlier hands lead
    untouched = bench.enter_line(book, opened(book, RECTIFIER), "OUT 0.01 V", NOW)
    said = words.suspects(work_out(untouched))
    assert said.count("MIL-HDBK-338B") == said.count("MIL-HDBK-217F") == 1  # shares and rates, each source once
    assert "no row" in said and "old machines" in said


def test_a_job_s_zones_are_printed_shown_and_given_as_json(probewright: Run, tmp_path: Path):
    (tmp_path / "panel.yaml").write_text(PANEL, "utf-8")
    for line in (
        ["job", "open", "--kind", "amplifier", "--bad", "sound left"],
        ["job", "tie", str(tmp_path / "panel.yaml"), "--yes"],
        ["reading", "add", "leak around C1 R1 R2"],
    ):
        assert probewright(*line).returncode == 0, line
    listed = probewright("job", "zones").stdout
    assert "[ ] track T2: T2.1 to T2.2, healthy below 1 Ω" in listed
    data = json.loads(probewright("job", "zones", "--json").stdout)
    assert data["zones"][0]["kind"] == "leak" and len(data["zones"][0]["checks"]) > 5
    assert "zone: leak around C1, R1, R2" in probewright("job", "show").stdout
    assert json.loads(probewright("job", "show", "--json").stdout)["zones"][0]["places"] == ["C1", "R1", "R2"]
    assert "Check every net and joint" in probewright("report").stdout


def test_a_bridge_that_earlier_hands_may_have_made_is_one_suspect_whichever_way_round_it_is_said():
    opamps = read(
        RECTIFIER.replace("parts:", "parts:\n  U1: opamp generic  plus=MID minus=FB out=FB vplus=SUP vminus=GND")
    )
    found = suspects_of(replace(opamps, zones=(Zone("earlier work", ("U1",), True),)))
    pairs = [frozenset(one.faults[0].item.split("~")) for one in found if one.faults and one.faults[0].mode == "bridge"]
    assert len(pairs) == len(set(pairs)) > 2
    assert any("earlier hands" in one.source and "pin" in one.source for one in found if one.id.endswith("bridge"))
