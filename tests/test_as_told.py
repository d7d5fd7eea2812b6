"""What lines tell of the bench reaches the plan before the next reading: new parts, legs, the power, the board."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from dividers import DIVIDERS
from hidden import HiddenBench, planted
from probewright.jobs import bench
from probewright.jobs.as_told import Standing, standing_of
from probewright.jobs.cases import Case, Intake
from probewright.jobs.keeping import keep_bench, kept_bench
from probewright.jobs.spending import spent
from probewright.jobs.standing import stand
from probewright.jobs.weighing import weigh_case, weighed_of
from probewright.machine import read
from probewright.planning.actions import Action, items_left
from probewright.planning.circuit_ways import CircuitWays
from probewright.planning.minutes import minutes
from probewright.planning.ways import ways
from probewright.readings import Setup
from probewright.readings.bench import Bench
from probewright.readings.boards import BACK, BOTTOM, OUT, OVER, TOP, to_side
from probewright.readings.context import Context
from probewright.readings.hearing import hear
from probewright.readings.lines import continue_readings
from probewright.readings.refitting import to_back_in
from probewright.readings.setups import Piece
from probewright.record import open_book
from probewright.report import bench as words
from probewright.report.text import others
from probewright.web.setting import BOARD_LIES, SUPPLY_OFF, SUPPLY_ON, chips, steps
from test_powering import ADAPTOR

NOW = "2026-11-27T10:00:00+00:00"
FLASH = (Path(__file__).parent.parent / "benchmarks" / "machines" / "flash-300.yaml").read_text("utf-8")
LIMITED = "set-up: power off, bench supply 9V limit 0.1A on RAW"


def ways_of(case: Case) -> CircuitWays:
    how = ways(weigh_case(case)[0].population)
    assert isinstance(how, CircuitWays)
    return how


def reads(case: Case, instrument: str, place: str) -> Action:
    """The reading of the whole board that this bench could take next."""
    found = (one for one in ways_of(case).possible() if one.ask is not None and not one.ask.setup.lifted)
    return next(one for one in found if one.ask and (one.ask.instrument, one.ask.red) == (instrument, place))


def stands(one: HiddenBench) -> Standing:
    return standing_of(one.case, one.machine, weighed_of(one.case).readings)


def setup_told(one: HiddenBench) -> Setup | None:
    """How it stands where a line has told of it since the last weighed reading."""
    return stands(one).setup if stands(one).told else None


# New parts -----------------------------------------------------------------------------------------


def test_a_new_part_is_not_proposed_again_before_a_reading_tells_of_it(on_bench) -> None:
    one = on_bench(ADAPTOR, "D1 short")
    one.type("D1 ? ohm off", "RAW ? ohm off")
    before = ways_of(one.case)
    assert "D1" in {action.item for action in before.repairs()}
    one.type("fitted a new D1", "series lamp stays bright")
    how = ways_of(one.case)
    leader = how.population.belief.suspects[how.population.suspects[0]]
    assert leader.id == "D1 short"  # nothing that weighs was read since
    assert not any(how.cures(leader, action.item) for action in how.repairs())
    asks = [action.ask for action in how.possible() if action.ask is not None]
    assert asks and {ask.setup.replaced for ask in asks} == {("D1",)}


def test_what_draws_too_much_with_a_new_part_in_has_something_left_to_mend(on_bench) -> None:
    one = on_bench(ADAPTOR, "D1 short")
    one.type("D1 ? ohm off", "RAW ? ohm off", "fitted a new D1", LIMITED, "trips")
    belief = weigh_case(one.case)[0].belief
    led = max(range(len(belief.suspects)), key=lambda n: belief.probability[n])
    assert items_left(one.machine, belief.suspects[led], Setup(replaced=("D1",))), belief.suspects[led].id


def test_no_step_is_of_the_machine_as_it_was_before_a_repair(on_bench) -> None:
    """A proof of the old part can be had no more: its probes were put on it once."""
    one = on_bench(ADAPTOR, "D1 short")
    one.type("D1 ? ohm off", "RAW ? ohm off", "fitted a new D1", LIMITED, "trips")
    view = stand(one.book, one.case, NOW)
    asks = [action.ask for action in view.search.actions if action.ask is not None]
    assert asks and {ask.setup.replaced for ask in asks} == {("D1",)}
    old = weighed_of(one.case).readings[0].question
    assert not ways_of(one.case).permits(ways_of(one.case).again(old))


def test_what_was_read_before_a_repair_is_not_asked_for_again_and_it_is_said_why(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "MID ? V", "OUT 9.5 V", "fitted a new R3")
    view = stand(one.book, one.case, NOW)
    assert view.search.surprises and all("before the repair" in each.advice for each in view.search.surprises)
    assert not any("anew" in step.why for step in view.search.actions)


# Power and legs ------------------------------------------------------------------------------------


def test_minutes_go_from_where_the_power_was_said_to_be(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V")
    live, dead = reads(one.case, "dc", "MID").minutes, reads(one.case, "ohms", "R1.1").minutes
    one.type("set-up: power off")
    assert reads(one.case, "dc", "MID").minutes == pytest.approx(live + minutes("power on"))
    assert reads(one.case, "ohms", "R1.1").minutes == pytest.approx(dead - minutes("power off"))
    one.type("set-up: power on")  # as it was read
    assert reads(one.case, "dc", "MID").minutes == pytest.approx(live)


def test_before_anything_was_read_the_power_decides_nothing(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("set-up: power on")
    assert setup_told(one) is None
    one.type("set-up: power off, lift R3.1")
    assert setup_told(one) == Setup(power="off", lifted=("R3.1",))


def test_a_set_up_line_counts_also_where_the_bench_stood_so_before(on_bench) -> None:
    """The reading before had said its power in the same line."""
    one = on_bench(DIVIDERS)
    one.type("R1 ? ohm off")
    dead = reads(one.case, "dc", "MID").minutes
    one.type("set-up: power on")
    assert setup_told(one) == Setup() and reads(one.case, "dc", "MID").minutes == pytest.approx(
        dead - minutes("power on")
    )
    one.type("set-up: power off", "power on: RAW ? V", "set-up: power off")
    assert setup_told(one) == Setup(power="off")


def test_a_reading_says_how_it_stands_and_a_function_heard_since_a_line_too(on_bench) -> None:
    one = on_bench(DIVIDERS)
    assert setup_told(one) is None
    one.type("RAW ? V", "output bad")
    assert setup_told(one) is None  # as before: nothing was told
    one.type("set-up: power off, lift R3.1")
    assert setup_told(one) == Setup(power="off", stimulus="idle", lifted=("R3.1",))
    one.type("power on: output bad")
    assert setup_told(one) == Setup(stimulus="idle", lifted=("R3.1",))
    one.type("RAW ? V")
    assert setup_told(one) is None


def test_a_repair_says_nothing_of_the_power(on_bench) -> None:
    """It is taken to be as it was, as the line says back and the page shows."""
    one = on_bench(DIVIDERS)
    one.type("R1 ? ohm off", "fitted a new R3")
    assert setup_told(one) == Setup(power="off", replaced=("R3",))
    one.type("first power done")
    assert setup_told(one) == Setup(replaced=("R3",))
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "fitted a new R3")
    assert setup_told(one) == Setup(replaced=("R3",))
    one.type("tapped R1: same")
    assert stands(one).setup == Setup(replaced=("R3",))


def test_another_machine_and_a_reading_that_is_kept_take_nothing_back(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "set-up: power off, lift R3.1")
    there = setup_told(one)
    one.type("power on: MID 5.6 V on the sister")
    assert weighed_of(one.case).readings[-1].question.setup.sister
    assert setup_told(one) == there
    one.type("J7 0.2 V")  # no place of the file
    assert setup_told(one) == there and weighed_of(one.case).readings[-1].question.setup.sister


def test_what_the_file_does_not_know_takes_nothing_else_with_it(tmp_path: Path) -> None:
    """Typed before the file was tied: the rest of it goes on counting, and so do all later lines."""
    book = open_book(tmp_path / "bench.db")
    case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
    for line in ("set-up: power off, lift C99.1", "fitted a new C98"):
        case = bench.enter_line(book, case, line, NOW)
    case = bench.know(book, case, "file", "m.yaml", DIVIDERS, "m.yaml", NOW)
    one = HiddenBench(book, case, planted(read(DIVIDERS)))
    one.type("fitted a new R3", "power on: output bad")
    told = weighed_of(one.case).as_told.setup
    assert told is not None and (told.replaced, told.lifted) == (("R3",), ())
    assert weighed_of(one.case).readings[-1].question.setup.replaced == ("R3",)
    assert stand(one.book, one.case, NOW).card is not None
    book.close()


def test_taking_the_line_back_takes_back_what_it_told(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "set-up: power off, lift R3.1")
    one.case = bench.undo(one.book, one.case, NOW)
    assert weighed_of(one.case).as_told.setup is None


def test_a_part_whose_leg_was_said_to_be_lifted_is_measured_without_an_iron(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "OUT ? V", "set-up: power off, lift R3.1")
    alone = [action for action in ways_of(one.case).possible() if action.ask and action.ask.setup.lifted == ("R3.1",)]
    (across,) = [action for action in alone if action.ask and action.ask.instrument == "ohms"]
    assert across.ask is not None and {across.ask.red, across.ask.black} == {"R3.1", "R3.2"}
    assert across.minutes == pytest.approx(minutes("ohms") + minutes("instrument"), abs=minutes("instrument"))


def test_a_leg_is_said_to_be_soldered_back_before_a_step_that_needs_it_in(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "set-up: power off, lift R3.1")
    how = ways_of(one.case)
    assert how.undone(reads(one.case, "dc", "MID").ask) == ("Solder R3.1 back in.",)
    assert how.undone(None) == ()
    assert how.undone(reads(one.case, "ohms", "R1.1").ask) == ("Solder R3.1 back in.",)
    one.type("R3.1 back in")
    assert ways_of(one.case).undone(reads(one.case, "dc", "MID").ask) == ()


def test_a_part_whose_leg_is_lifted_is_not_sent_back_into_the_circuit_to_be_measured(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "OUT ? V", "set-up: power off, lift R3.1")
    asks = [action.ask for action in ways_of(one.case).possible() if action.ask is not None]
    assert {ask.setup.lifted for ask in asks if ask.instrument == "ohms" and ask.red.startswith("R3")} == {("R3.1",)}


@pytest.mark.parametrize("line", ["link RAW to GND", "load 100R on MID"])
def test_a_wire_or_a_load_put_on_with_the_power_off_is_taken_away_before_it_comes_on(on_bench, line: str) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", f"set-up: power off, {line}")
    live = [action.ask for action in ways_of(one.case).possible() if action.ask and action.ask.setup.power == "on"]
    assert live and not any(ask.setup.linked or ask.setup.loaded for ask in live)
    (said,) = ways_of(one.case).undone(live[0])
    assert said.startswith(("Take away the wire from GND to RAW", "Take off 100"))


def test_what_was_charged_since_the_last_reading_is_emptied_again(on_bench) -> None:
    one = on_bench(FLASH)
    one.type("set-up: power off", "R1 ? ohm")
    ohms = next(action for action in ways_of(one.case).possible() if action.ask and action.ask.instrument == "ohms")
    assert not ways_of(one.case).before(ohms.ask)  # emptied for the reading before
    for told in ("set-up: power on", "set-up: power off", "fitted a new R3", "set-up: power off, lift R1.1"):
        one.type(told)
        assert ways_of(one.case).before(ohms.ask), told  # who says that it is off says nothing of what it keeps
        assert ways_of(one.case).caution(None), told
    one.type("R1 ? ohm off")
    assert not ways_of(one.case).before(ohms.ask)
    for seen in ("power on: V12 12 V", "series lamp stays bright", "power on: charges ok"):
        one.type(seen, "set-up: power off")
        assert ways_of(one.case).before(ohms.ask), seen
        one.type("R1 ? ohm off")


def test_volts_that_were_left_ask_for_care_though_the_power_is_off(on_bench) -> None:
    one = on_bench(FLASH)
    one.type("R1 ? ohm off", "set-up: power off", "RES 120 V")
    assert stands(one).charged
    ohms = next(action for action in ways_of(one.case).possible() if action.ask and action.ask.instrument == "ohms")
    assert ways_of(one.case).before(ohms.ask)


# The board -----------------------------------------------------------------------------------------

TURNED = DIVIDERS + "points:\n  solder side: [MID]\n  board out: [OUT]\n"


@pytest.mark.parametrize(
    ("line", "side"),
    [
        ("board out", OUT), ("the board is out", OUT), ("took the board out", OUT), ("i have removed the pcb", OUT),
        ("board's out", OUT), ("board is out of the case", OUT), ("took the board out of its case", OUT),
        ("solder side up", BOTTOM), ("board upside down.", BOTTOM), ("the board lies foil side up", BOTTOM),
        ("solder side is up", BOTTOM), ("board face down", BOTTOM),
        ("component side up", TOP), ("board lies the right way up", TOP), ("board face up", TOP),
        ("turned the board over", OVER), ("board flipped", OVER), ("turned it over", OVER),
        ("turned the board back over", OVER),
        ("board is back in", BACK), ("put the board back", BACK), ("board's back in its case", BACK),
        ("refitted the board", BACK),
    ],
)  # fmt: skip
def test_how_the_board_lies_is_understood_as_it_is_said(line: str, side: str) -> None:
    found = to_side(Piece(line), Bench())
    assert found is not None and (found[0].side, found[0].turns) == (side, 1)
    assert continue_readings(line, read(DIVIDERS), Bench())[1].side == side


@pytest.mark.parametrize(
    "line", ["board", "the board out of the sister", "R1 out", "solder side", "board 5 V", "turned it"]
)
def test_other_lines_turn_no_board(line: str) -> None:
    assert to_side(Piece(line), Bench()) is None


@pytest.mark.parametrize(
    ("lines", "side"),
    [
        (("turned the board over",), BOTTOM),
        (("turned the board over", "turned the board over"), TOP),
        (("MID ? V", "turned the board over"), TOP),  # it lay solder side up for that reading
        (("component side up", "MID ? V", "component side up"), TOP),
        (("component side up", "MID ? V"), BOTTOM),
        (("board out", "solder side up"), OUT),
        (("board out", "turned the board over"), OUT),
        (("board out", "board back in"), TOP),
        (("OUT ? V", "board back in"), TOP),  # for that place it is out
    ],
)
def test_how_the_board_lies_goes_by_lines_and_readings_alike(on_bench, lines: tuple[str, ...], side: str) -> None:
    one = on_bench(TURNED)
    one.type("RAW ? V", *lines)
    assert weighed_of(one.case).as_told.side == side


def test_a_board_that_was_said_to_be_turned_costs_no_turn(on_bench) -> None:
    one = on_bench(TURNED)
    one.type("RAW ? V")
    turn = minutes("power off") + minutes("turn over") + minutes("power on")
    far = reads(one.case, "dc", "MID").minutes
    one.type("set-up: power off", "solder side up", "set-up: power on")
    assert reads(one.case, "dc", "MID").minutes == pytest.approx(far - turn)
    assert ways_of(one.case).turned(reads(one.case, "dc", "MID").ask) == ""
    one.type("board out")
    assert ways_of(one.case).turned(reads(one.case, "dc", "OUT").ask) == ""
    one.type("board back in")
    assert "Take the board out" in ways_of(one.case).turned(reads(one.case, "dc", "OUT").ask)


def test_turning_the_board_takes_its_minutes_once(on_bench) -> None:
    one = on_bench(TURNED)
    one.type("RAW ? V", "set-up: power off", "solder side up", "set-up: power on", "MID ? V")
    told = [line.whole for line in spent(one.case, one.machine)]
    one = on_bench(TURNED)
    one.type("RAW ? V", "set-up: power off", "set-up: power on", "MID ? V")
    silent = [line.whole for line in spent(one.case, one.machine)]
    turn = minutes("power off") + minutes("turn over") + minutes("power on")
    assert told[-3] == pytest.approx(minutes("turn over")) and told[-1] == pytest.approx(silent[-1] - turn)
    one = on_bench(TURNED)
    one.type("solder side up")
    assert spent(one.case, one.machine)[-1].whole == pytest.approx(minutes("turn over"))  # nobody had it on


def test_how_the_board_lies_is_kept_in_the_book() -> None:
    stood = Bench(side=BOTTOM, turns=2, told=3)
    assert kept_bench(keep_bench(stood), None) == stood
    old = {key: value for key, value in keep_bench(stood).items() if key not in ("side", "turns", "told")}
    assert kept_bench(old, None) == Bench()


def test_what_comes_first_is_said_once_for_steps_that_need_the_same(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "set-up: power off, lift R3.1", "R3 ? ohm")
    view = stand(one.book, one.case, NOW)
    assert view.card is not None and view.card.back
    needs = [step for step in view.search.actions[:4] if step.back]
    said = words.standing(view)
    assert len(needs) > 1 and said.count("solder R3.1 back in") == 1
    free = replace(view.search.actions[1], back=(), turned="")
    assert "    As the bench stands." in list(others([free], view.card))  # and is not taken to need the same
    assert not any("stands" in line for line in others([free], free))


@pytest.mark.parametrize(
    ("line", "lifted", "unplugged"),
    [
        ("R3.1 back in", ("R4.1",), ("R1",)), ("solder back R3.1", ("R4.1",), ("R1",)),
        ("soldered R3 back", ("R4.1",), ("R1",)), ("the leg of R3 is soldered in again", ("R4.1",), ("R1",)),
        ("R1 is back in", ("R3.1", "R4.1"), ()), ("fitted R1 again", ("R3.1", "R4.1"), ()),
        ("R3.1 and R4 are back", (), ("R1",)), ("everything is back in", (), ()),
    ],
)  # fmt: skip
def test_what_was_lifted_is_in_again_as_it_is_said(line: str, lifted, unplugged) -> None:
    stood = Bench(Setup(power="off", lifted=("R3.1", "R4.1"), unplugged=("R1",)))
    for machine in (None, read(DIVIDERS)):
        heard = hear(line, Context(machine, stood))
        assert not heard.doubts and heard.bench.setup == Setup(power="off", lifted=lifted, unplugged=unplugged)
    assert continue_readings(line, read(DIVIDERS), stood)[1].setup.lifted == lifted


@pytest.mark.parametrize("line", ["R2 back in", "R3.1 and R2 back in", "R3.1 back"])
def test_what_is_not_out_is_not_put_back(line: str) -> None:
    stood = Bench(Setup(power="off", lifted=("R4.1",)))
    assert to_back_in(Piece(line), stood) is None


def test_a_supply_that_feeds_the_board_is_off_while_a_hand_is_at_it() -> None:
    fed = Setup(power="off", supplied=(("RAW", 9.0, 0.1),))
    assert steps(replace(fed, lifted=("R3.1",)), fed, read(DIVIDERS)) == (
        SUPPLY_OFF, "Solder R3.1 back in.", SUPPLY_ON,
    )  # fmt: skip
    assert steps(fed, Setup(), read(DIVIDERS))[0] == SUPPLY_OFF
    assert steps(fed, fed, read(DIVIDERS)) == ()


def test_the_page_shows_how_the_board_lies() -> None:
    (chip,) = [chip for chip in chips(Setup(), None, side=BOTTOM) if chip.label == "Board"]
    assert (chip.state, chip.line) == ("Solder side up", "component side up")
    assert to_side(Piece(chip.line), Bench()) is not None
    assert not any(chip.label == "Board" for side in ("", TOP, BACK) for chip in chips(Setup(), None, side=side))
    assert all(to_side(Piece(line), Bench()) for _, line, _ in BOARD_LIES.values())
