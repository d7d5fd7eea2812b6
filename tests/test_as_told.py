"""What lines tell of the bench reaches the plan before the next reading: new parts, legs, the power, the board."""

from __future__ import annotations

from pathlib import Path

import pytest

from dividers import DIVIDERS
from hidden import HiddenBench, planted
from probewright.jobs import bench
from probewright.jobs.as_told import setup_told
from probewright.jobs.cases import Case, Intake
from probewright.jobs.keeping import keep_bench, kept_bench
from probewright.jobs.spending import spent
from probewright.jobs.standing import stand
from probewright.jobs.view import ActionView
from probewright.jobs.weighing import weigh_case, weighed_of
from probewright.machine import read
from probewright.planning.actions import Action, items_left
from probewright.planning.circuit_ways import CircuitWays
from probewright.planning.minutes import minutes
from probewright.planning.ways import ways
from probewright.readings import Setup
from probewright.readings.bench import Bench
from probewright.readings.boards import BOTTOM, OUT, TOP, to_side
from probewright.readings.lines import continue_readings
from probewright.readings.setups import Piece
from probewright.record import open_book
from probewright.report import bench as words
from test_powering import ADAPTOR

NOW = "2026-11-27T10:00:00+00:00"
LIMITED = "set-up: power off, bench supply 9V limit 0.1A on RAW"


@pytest.fixture
def on_bench(tmp_path: Path):
    """Open a job on a machine file, with a planted fault where one is named."""
    book = open_book(tmp_path / "bench.db")

    def opened(text: str, *fault: str) -> HiddenBench:
        case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
        case = bench.know(book, case, "file", "m.yaml", text, "m.yaml", NOW)
        return HiddenBench(book, case, planted(read(text), *fault))

    yield opened
    book.close()


def ways_of(case: Case) -> CircuitWays:
    how = ways(weigh_case(case)[0].population)
    assert isinstance(how, CircuitWays)
    return how


def reads(case: Case, instrument: str, place: str) -> Action:
    """The reading of the whole board that this bench could take next."""
    found = (one for one in ways_of(case).possible() if one.ask is not None and not one.ask.setup.lifted)
    return next(one for one in found if one.ask and (one.ask.instrument, one.ask.red) == (instrument, place))


def card(one: HiddenBench) -> ActionView:
    found = stand(one.book, one.case, NOW).card
    assert found is not None
    return found


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


# Power and legs ------------------------------------------------------------------------------------


def test_minutes_go_from_where_the_power_was_said_to_be(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V")
    live, dead = reads(one.case, "dc", "MID").minutes, reads(one.case, "ohms", "R1.1").minutes
    one.type("set-up: power off")
    assert reads(one.case, "dc", "MID").minutes == pytest.approx(live + minutes("power on"))
    assert reads(one.case, "ohms", "R1.1").minutes == pytest.approx(dead - minutes("power off"))
    one.type("set-up: power on")  # as it was read
    assert setup_told(one.case) is None and reads(one.case, "dc", "MID").minutes == pytest.approx(live)


def test_a_reading_says_how_it_stands_and_a_function_heard_since_a_line_too(on_bench) -> None:
    one = on_bench(DIVIDERS)
    assert setup_told(one.case) is None
    one.type("RAW ? V", "output bad")
    assert setup_told(one.case) is None  # as before: nothing was told
    one.type("set-up: power off, lift R3.1")
    assert setup_told(one.case) == Setup(power="off", lifted=("R3.1",))
    one.type("power on: output bad")
    assert setup_told(one.case) == Setup(stimulus="idle", lifted=("R3.1",))
    one.type("RAW ? V")
    assert setup_told(one.case) is None


def test_nothing_is_fitted_with_the_power_on(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "fitted a new R3")
    assert setup_told(one.case) == Setup(power="off", replaced=("R3",))
    one.type("first power done")
    assert setup_told(one.case) == Setup(replaced=("R3",))


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
    assert how.put_back(reads(one.case, "dc", "MID").ask) == ("Solder back R3.1.",)
    assert how.put_back(None) == ()
    said = words.standing(stand(one.book, one.case, NOW))
    assert "solder back R3.1" in said or card(one).back == ()


def test_what_was_charged_since_the_last_reading_is_emptied_again(on_bench) -> None:
    flash = (Path(__file__).parent.parent / "benchmarks" / "machines" / "flash-300.yaml").read_text("utf-8")
    one = on_bench(flash)
    first = next(part for part, what in read(flash).parts.items() if what.kind == "resistor")
    one.type(f"set-up: power off, {first} ? ohm".split(", ")[0], f"{first} ? ohm")
    ohms = next(action for action in ways_of(one.case).possible() if action.ask and action.ask.instrument == "ohms")
    assert not ways_of(one.case).before(ohms.ask)  # emptied for the reading before
    one.type("set-up: power on")
    assert ways_of(one.case).before(ohms.ask)
    one.type("set-up: power off")  # who says so says nothing of what is still charged
    assert setup_told(one.case) is None


# The board -----------------------------------------------------------------------------------------

TURNED = DIVIDERS + "points:\n  solder side: [MID]\n  board out: [OUT]\n"


@pytest.mark.parametrize(
    ("line", "side"),
    [
        ("board out", OUT), ("the board is out", OUT), ("took the board out", OUT), ("i have removed the pcb", OUT),
        ("solder side up", BOTTOM), ("board upside down.", BOTTOM), ("the board lies foil side up", BOTTOM),
        ("turned the board over", BOTTOM), ("board flipped", BOTTOM), ("component side up", TOP),
        ("board is back in", TOP), ("put the board back", TOP), ("board lies the right way up", TOP),
    ],
)  # fmt: skip
def test_how_the_board_lies_is_understood_as_it_is_said(line: str, side: str) -> None:
    found = to_side(Piece(line), Bench())
    assert found is not None and found[0].side == side
    assert continue_readings(line, read(DIVIDERS), Bench())[1].side == side


@pytest.mark.parametrize("line", ["board", "the board out of the sister", "R1 out", "solder side", "board 5 V"])
def test_other_lines_turn_no_board(line: str) -> None:
    assert to_side(Piece(line), Bench()) is None


def test_a_board_that_is_turned_over_twice_lies_as_before() -> None:
    once = to_side(Piece("turned the board over"), Bench())
    assert once is not None and "component side up" in once[1][0]
    twice = to_side(Piece("turned the board over"), once[0])
    assert twice is not None and twice[0].side == TOP and "solder side up" in twice[1][0]


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


def test_what_is_read_after_it_was_said_turns_it_too(on_bench) -> None:
    one = on_bench(TURNED)
    one.type("component side up", "MID ? V")
    assert weighed_of(one.case).as_told.side == BOTTOM
    one.case = bench.undo(one.book, one.case, NOW)
    assert weighed_of(one.case).as_told.side == TOP


def test_turning_the_board_takes_its_minutes_once(on_bench) -> None:
    one = on_bench(TURNED)
    one.type("RAW ? V", "set-up: power off", "solder side up", "set-up: power on", "MID ? V")
    told = [line.whole for line in spent(one.case, one.machine)]
    one = on_bench(TURNED)
    one.type("RAW ? V", "set-up: power off", "set-up: power on", "MID ? V")
    silent = [line.whole for line in spent(one.case, one.machine)]
    turn = minutes("power off") + minutes("turn over") + minutes("power on")
    assert told[-3] == pytest.approx(minutes("turn over")) and told[-1] == pytest.approx(silent[-1] - turn)


def test_how_the_board_lies_is_kept_in_the_book() -> None:
    stood = Bench(side=BOTTOM)
    assert kept_bench(keep_bench(stood), None) == stood
    old = {key: value for key, value in keep_bench(stood).items() if key != "side"}
    assert kept_bench(old, None).side == ""


def test_what_comes_first_is_said_once_for_steps_that_need_the_same(on_bench) -> None:
    one = on_bench(DIVIDERS)
    one.type("RAW ? V", "set-up: power off, lift R3.1", "R3 ? ohm")
    view = stand(one.book, one.case, NOW)
    needs = [step for step in view.search.actions[:4] if step.back]
    said = words.standing(view)
    assert len(needs) > 1 and said.count("solder back R3.1") == 1
