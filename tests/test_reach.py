"""How a probe gets to a place: sides of the board, places that slip, places where none is put."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from probewright import jobs
from probewright import machine as files
from probewright.errors import BadInput
from probewright.inference.answers import sample
from probewright.inference.drawn import DrawnPopulation
from probewright.inference.lookalikes import LookAlikes
from probewright.jobs import ticking
from probewright.jobs.circuit_words import CircuitWords
from probewright.jobs.files import healthy_laws
from probewright.machine import Machine
from probewright.planning import killers
from probewright.planning.actions import Action, bench_now, possible, reading_from, slip_minutes
from probewright.planning.groups import is_beside
from probewright.planning.minutes import Stand, changes, minutes
from probewright.planning.overload import Overload, Rated
from probewright.planning.reach import Reach, is_closed, lies, neighbours, reach
from probewright.planning.ways import ways
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.readings import Question, Reading, Setup
from probewright.readings.boards import BOTTOM, OUT, TOP
from probewright.readings.kit import UNTOLD
from probewright.web import setting

CHAIN = """\
machine: stage
sections:
  board:
    parts:
      B1: lead 9V                SUP > GND
      R1: resistor 10k           SUP > A
      R2: resistor 12k           A > B
      R3: resistor 15k           B > C
      R4: resistor 18k           C > GND
stimuli:
  rest: {}
works:
  level: C dc at rest above 2V
"""
POINTS = """\
points:
  TP1: {at: SUP, side: top, ease: easy}
  TP2: {at: A, side: component side}
  solder side: [B]
  fine probe: [R3.2]
  near:
    - R3.2 R4.1
"""
OFF, ON = Setup(power="off"), Setup(stimulus="rest")
FED = Setup(power="off", supplied=(("SUP", 9.0, 0.1),))


def read(points: str = POINTS) -> Machine:
    return files.read(CHAIN + points, "stage.yaml")


def begun(points: str) -> DrawnPopulation:
    """What is thought before any reading, with such points."""
    population = sample(jobs.open_search(read(points)).belief)
    assert isinstance(population, DrawnPopulation)
    return population


def dc(place: str, setup: Setup = ON) -> Question:
    return Question("dc", place, setup=setup)


def test_how_a_place_is_reached_is_what_its_points_say() -> None:
    machine = read()
    assert reach(machine, "SUP") == Reach(TOP) == reach(machine, "A")
    assert reach(machine, "B").side == BOTTOM and reach(machine, "C") == Reach()
    assert reach(machine, "R3.2") == Reach(fine=True, near=("R4.1",))
    assert reach(machine, "R2.2") == Reach(BOTTOM)  # a pin on B, all of which is on the solder side
    assert reach(machine, "R1.1") == Reach()  # on SUP, of which only a point is said to be on top
    assert reach(machine, "GND") == Reach()
    assert neighbours(machine, dc("R3.2")) == ("R4.1",)
    assert neighbours(machine, Question("ohms", "R3.2", "R4.1", OFF)) == ()  # both probes are there


def test_a_net_is_read_at_the_easiest_of_its_points() -> None:
    machine = read("points:\n  board out: [B]\n  TP9: {at: R3.1, side: top, ease: easy}\n")
    assert reach(machine, "B").side == TOP
    assert reach(read("points:\n  board out: [B]\n"), "B").side == OUT
    machine = read("points:\n  TP2: {at: A, side: top}\n  near:\n    - A SUP\n")
    assert reach(machine, "A") == Reach(TOP, near=("SUP",))


@pytest.mark.parametrize(
    ("side", "is_on"),
    [("component side, under the shield", TOP), ("foil side", BOTTOM), ("desktop", ""), ("feedback corner", "")],
)
def test_a_side_is_named_by_a_word_of_its_own(side: str, is_on: str) -> None:
    assert reach(read(f"points:\n  TP1: {{at: A, side: '{side}'}}\n"), "A").side == is_on


def test_what_was_said_of_a_whole_net_holds_for_a_pin_that_something_else_is_said_of() -> None:
    machine = read("points:\n  no go: [B]\n  solder side: [C]\n  near:\n    - R2.2 R1.2\n    - R4.1 R1.2\n")
    assert reach(machine, "R2.2").closed and reach(machine, "R4.1") == Reach(BOTTOM, near=("R1.2",))
    with pytest.raises(BadInput, match="B is `no go` and `solder side`"):
        read("points:\n  no go: [B]\n  solder side: [B]\n")


def test_a_sister_is_not_turned_and_a_word_is_not_probed() -> None:
    machine = read()
    there = Reading(dc("B", replace(ON, sister=True)), 5.0, "")
    assert bench_now(machine, (there, Reading(Question("works", "B"), "low", ""))).side == TOP


def test_a_board_that_keeps_a_charge_is_emptied_before_it_is_turned() -> None:
    """A live reading needs no emptying, for no hand comes near; but hands turn the board for this one."""
    flash = (Path(__file__).parent.parent / "benchmarks" / "machines" / "flash-300.yaml").read_text("utf-8")
    flash = flash.replace("points:\n", "points:\n  solder side: [E1]\n")
    search = jobs.enter_readings(
        jobs.open_search(files.read(flash, "flash.yaml")), [Reading(dc("V12", Setup()), 12.0, "TP2")]
    )
    how = ways(search.population)
    ask, same = dc("E1", Setup()), dc("V12", Setup())
    assert how.turned(ask) and how.before(ask) and "may keep" in (how.caution(ask) or "")
    assert not how.turned(same) and not how.before(same)


def test_a_board_that_is_out_stays_out_and_unknown_sides_leave_it_as_it_lies() -> None:
    assert (lies(TOP, ""), lies(TOP, BOTTOM), lies(OUT, BOTTOM), lies(BOTTOM, OUT)) == (TOP, BOTTOM, OUT, OUT)


@pytest.mark.parametrize(
    ("before", "after", "rows"),
    [
        (Stand(ON, "dc"), Stand(ON, "dc"), []),
        (Stand(ON, "dc"), Stand(ON, "dc", BOTTOM), ["power off", "power on", "turn over"]),
        (Stand(OFF, "ohms"), Stand(OFF, "ohms", BOTTOM), ["turn over"]),
        (Stand(OFF, "ohms", BOTTOM), Stand(ON, "dc"), ["turn over", "power on", "stimulus", "instrument"]),
        (Stand(OFF, "ohms"), Stand(OFF, "ohms", OUT), ["board out"]),
        (Stand(), Stand(ON, "dc", BOTTOM), ["turn over", "power on"]),
        (Stand(FED, "dc"), Stand(FED, "dc", BOTTOM), ["power off", "power on", "turn over"]),
    ],
)
def test_a_board_is_turned_with_the_power_off(before: Stand, after: Stand, rows: list[str]) -> None:
    assert sorted(changes(before, after)) == sorted(rows)


def test_turning_is_charged_once_and_back_again() -> None:
    machine = read()
    start = bench_now(machine, (Reading(dc("SUP"), 9.0, ""),))
    below = reading_from(machine, start, dc("B"), UNTOLD)
    turn = minutes("turn over") + minutes("power off") + minutes("power on")
    assert (
        below.minutes == minutes("dc") + turn
        and below.side == BOTTOM
        and reading_from(machine, start, dc("C"), UNTOLD).side == ""
    )
    turned = bench_now(machine, (Reading(dc("SUP"), 9.0, ""), Reading(dc("B"), 5.0, ""), Reading(dc("C"), 3.0, "")))
    assert turned.side == BOTTOM  # of C nobody said from which side
    assert reading_from(machine, turned, dc("B"), UNTOLD).minutes == minutes("dc")
    assert reading_from(machine, turned, dc("A"), UNTOLD).minutes == minutes("dc") + turn


def test_no_probe_is_ever_proposed_where_none_is_put() -> None:
    machine = read("points:\n  no go: [B]\n")
    assert is_closed(machine, dc("B")) and is_closed(machine, Question("ohms", "R2.2"))
    for points, there in (("points:\n  no go: [B]\n", False), ("", True)):
        asks = [one.ask for one in possible(begun(points)) if one.ask is not None and one.kind == "reading"]
        assert asks and any({"B", "R2.2", "R3.1"} & {ask.red, ask.black} for ask in asks) is there


def test_a_slip_is_charged_and_said_where_places_lie_close_together() -> None:
    machine = read(POINTS.replace("R3.2 R4.1", "C GND").replace("R3.2", "C"))
    assert slip_minutes(machine, dc("C"), UNTOLD) == minutes("inner pin")
    assert slip_minutes(machine, dc("A"), UNTOLD) == 0.0
    assert slip_minutes(machine, dc("C", OFF), UNTOLD) == 0.0
    how = ways(begun("points:\n  near:\n    - C SUP\n"))
    assert how.caution(dc("C")) == "Caution: SUP lies close beside; do not slip."
    assert how.caution(dc("B")) is None and not how.carefree(dc("C"))


def test_the_card_says_how_the_board_has_to_lie() -> None:
    how = ways(begun(POINTS))
    assert how.turned(dc("B")) == "Turn the board over, solder side up."
    assert not how.turned(dc("A")) and not how.turned(None) and not how.turned(Question("works", "B"))
    first = setting.steps(ON, ON, read(), turned=how.turned(dc("B")))
    assert first == (setting.POWER_FIRST["off"], how.turned(dc("B")), setting.POWER_FIRST["on"])
    first = setting.steps(FED, FED, read(), turned=how.turned(dc("B")))
    assert first == (setting.SUPPLY_OFF, how.turned(dc("B")), setting.SUPPLY_ON)


def test_readings_in_one_go_are_of_one_side() -> None:
    machine, now = read(), Stand(ON, "dc")

    def action(place: str) -> Action:
        return reading_from(machine, now, dc(place), UNTOLD)

    assert is_beside(action("SUP"), action("C")) and is_beside(action("C"), action("A"))
    assert not is_beside(action("SUP"), action("B")) and not is_beside(action("B"), action("SUP"))
    assert is_beside(action("B"), action("C")) and is_beside(action("C"), action("B"), BOTTOM)


def test_what_a_step_leaves_is_what_the_next_one_is_charged_from() -> None:
    how, machine = ways(begun(POINTS)), read()
    now = bench_now(machine, ())
    first, then = (reading_from(machine, now, dc(place), UNTOLD) for place in ("B", "SUP"))
    turn = minutes("turn over") + minutes("power off") + minutes("power on")
    assert how.following(then, first) == pytest.approx(minutes("dc") + turn)
    assert how.following(first, first) == pytest.approx(minutes("dc"))


def test_what_hangs_on_a_net_is_not_lifted_by_one_leg_of_the_net() -> None:
    words = CircuitWords(read(), begun("").belief)
    index = words.belief.laws.model.index
    alike = LookAlikes(tuple(index[one] for one in ("C loads-net", "R3 short")), 0.9)
    net = LookAlikes((index["C loads-net"],), 0.9)
    sealed = begun("points:\n  no go: [SUP, A, B, C]\n")  # nothing can be measured, with power on or off
    assert words.split_by(sealed, alike) == "lift one leg of R3 and measure it by itself"
    assert words.split_by(sealed, net) == "lift what is on C, one leg at a time, and read again"


def test_two_faults_are_looked_for_beside_what_a_sister_reads() -> None:
    """A sound machine of the same model tells nothing between two pairs of faults, and there is no sound one among them."""
    volts = [("A", ON, 7.2), ("B", replace(ON, sister=True), 5.0)]
    said = [Reading(dc(at, stands), figure, at) for at, stands, figure in volts]
    found = jobs.enter_readings(jobs.open_search(read("")), said).belief
    assert found.probability.sum() == pytest.approx(1.0)


def test_a_list_of_all_nets_of_a_zone_and_a_killer_leave_out_where_no_probe_is_put() -> None:
    for points, there in (("points:\n  no go: [B]\n", False), ("", True)):
        machine = read("zones:\n  - leak around R2\n" + points)
        at = ticking._Bench(machine, healthy_laws(machine), set(), set())
        listed = ticking._list(at, machine.zones[0], ()).checks
        assert listed and any({"B", "R2.2"} & {one.red, one.black} for one in listed) is there


def test_what_would_show_a_killer_is_read_where_a_probe_may_be_put() -> None:
    for points, there in (("points:\n  no go: [A, B]\n", False), ("", True)):
        model = build_model(read(points), "stage")
        cause = next(one for one in model.suspects if one.id == "R2 short")
        laws = draw_laws(model)
        over = Overload(cause, "watts", 2.0, Rated(1.0, "", True), "rest")
        shown = killers.check(laws, over, "R1", Setup(), UNTOLD)
        assert (shown is not None and bool({"A", "B", "R2.1", "R2.2"} & {shown.ask.red, shown.ask.black})) is there
