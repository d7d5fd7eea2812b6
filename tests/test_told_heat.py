"""Whole repairs with a heatsink off: the plan says how long power may be on, and no part is cooked by it.

A clock runs on the bench, and a ladder of our own knows how warm the regulator really is.
"""

from __future__ import annotations

import json
import math
from datetime import datetime, timedelta

import pytest

from conftest import Run
from hidden import NOW, HiddenBench, opened
from probewright.jobs import bench as verbs
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Intake
from probewright.jobs.standing import asked, stand
from probewright.jobs.view import ActionView, BurstView
from probewright.planning.bursts import SWITCH
from probewright.planning.heat import AIR
from probewright.prediction.heating import ask_watts
from probewright.prediction.outcomes import show
from probewright.readings import PROVOKE, Setup
from probewright.record import Book
from probewright.report import bench as words
from probewright.web import showing
from probewright.web.setting import chips
from test_heat import Ladder
from test_told import found

BOARD = """
machine: Video board, its regulator on the screen
parts:
  VIN: source 9V 5% series 0.5R limit 1A  RAW > GND
  C1: capacitor 1000u electrolytic  RAW > GND
  U1: regulator fixed 5V  in=RAW out=V5 com=GND
  C2: capacitor 100u electrolytic  V5 > GND
  R1: resistor 8R2 5W  V5 > GND
  R2: resistor 10k  V5 > B
  R3: resistor 10k  B > GND
  Q1: npn  c=V5 b=B e=OUT
  R4: resistor 470R  OUT > GND
works:
  picture: OUT dc at run; below 1.2V = dark; above 2.6V = pale
stimuli:
  run: {}
known good: [VIN]
heat:
  U1: {package: TO-220, on: screen, with heatsink: 8 K/W}
"""
SMALL = """
machine: Lamp on a regulator, its heatsink off
parts:
  VIN: source 9V 5% series 0.5R limit 1A  RAW > GND
  U1: regulator fixed 5V  in=RAW out=V5 com=GND
  R1: resistor 10R 5W  V5 > GND
  R2: resistor 1k  V5 > OUT
  R3: resistor 1k  OUT > GND
works:
  lamp: OUT dc at run; below 2V = dark
stimuli:
  run: {}
known good: [VIN, R1]
heat:
  U1: {package: TO-220, with heatsink: 8 K/W}
"""
JUNCTION = 125.0  # °C, the limit of the machine file's regulator


class WarmBench(HiddenBench):
    """A bench with a clock, and a regulator that really gets warm: at the bad end of its package, still in its band."""

    ladder: Ladder
    hottest = 0.0

    @classmethod
    def of(cls, book: Book, text: str, *ids: str) -> WarmBench:
        plain = opened(book, text, *ids)
        self = cls(plain.book, plain.case, plain.hidden, at=NOW)
        self.ladder = Ladder(5.0, (60.0,), (0.75,))
        return self

    def passes(self, seconds: float, setup: Setup | None = None) -> None:
        """So many seconds, with the power as in this set-up, None for off."""
        self.at = (datetime.fromisoformat(self.at) + timedelta(seconds=seconds)).isoformat(timespec="seconds")
        watts = 0.0
        if setup is not None:
            shown = show(self.hidden, ask_watts("U1", Setup(power=setup.power, stimulus=setup.stimulus)))
            assert shown.judged[0]
            watts = float(shown.value[0])
        if self.case.bench.setup.bare:
            self.hottest = max(self.hottest, AIR + self.ladder.run(watts, seconds))

    def obey(self, action: ActionView) -> None:
        """Do a step as the worst hand does that still obeys: all the time there is, and late at the switch."""
        assert action.ask is not None
        if action.ask.setup.power == "off":
            self.passes(60.0)
            self.type(self.answer_to(action.ask))
            return
        burst = action.burst or BurstView(math.inf, 0.0, 0.0, False, (), (), "")
        assert burst.wait < math.inf
        self.passes(burst.wait + (60.0 if burst.clipped else 0.0))
        at = f", {action.ask.setup.stimulus}" if action.ask.setup.stimulus else ""
        card = action.ask
        self.type(f"set-up: power on{at}")
        spent = min(burst.seconds, 120.0)
        half = float(int(spent / 2.0))
        self.passes(half, card.setup)
        where = f"{card.black} {card.red}:" if card.instrument == PROVOKE else card.red
        self.type(f"{where}{' to ' + card.black if card.black in self.machine.nets[1:] else ''} {self.answer_to(card)}")
        self.passes(spent - half + SWITCH, card.setup)
        self.type("off")


def limited(view: BenchView) -> bool:
    """Something gets too hot in the end."""
    return any(one.cold != math.inf for one in view.search.heat)


def live(view: BenchView) -> list[ActionView]:
    """Steps on offer for which power comes on."""
    return [one for one in view.search.actions if one.ask is not None and one.ask.setup.power == "on"]


@pytest.mark.slow
@pytest.mark.parametrize("fault", ["R2 open", "R3 open"])
def test_a_fault_is_found_in_bursts_and_the_bare_regulator_stays_below_its_limit(book: Book, fault: str) -> None:
    bench = WarmBench.of(book, BOARD, fault)
    bench.type("picture: ?", "screen off")
    bursts = 0
    for _ in range(12):
        view = bench.now()
        if view.search.finding != "undecided":
            break
        card = view.card
        assert card is not None
        if card.kind == "cool":  # no step is left that heat allows: the first of what it says is done
            bench.type("heatsink of U1 refitted")
            continue
        assert all(one.burst is not None for one in live(view)) or not limited(view)
        bursts += card.burst is not None
        on_page = showing.card(view, bench.machine, {}, bench.case.bench.setup)
        assert card.burst is None or (on_page is not None and card.burst.says in on_page.caution)
        bench.obey(card)
    found(bench, fault)
    assert bursts >= 1
    assert 60.0 < bench.hottest <= JUNCTION


@pytest.mark.slow
def test_a_shorted_rail_is_found_without_any_power(book: Book) -> None:
    """With C2 short U1 would give all it can, and bare it would last some seconds: no live step is offered until ohms
    have told, and then none is needed."""
    bench = WarmBench.of(book, BOARD.replace("limit 1A", "limit 3A"), "C2 short")
    bench.type("picture: ?", "screen off")
    view = bench.now()
    (heat,) = view.search.heat
    assert heat.worst > 4.0 and heat.cold < 15.0 and "short" in heat.because
    assert live(view) == []
    assert "Or fasten the screen to U1 again" in words.standing(view)
    for _ in range(6):
        view = bench.now()
        if view.search.finding != "undecided":
            break
        assert view.card is not None and view.card.ask is not None
        assert view.card.ask.setup.power == "off"
        bench.obey(view.card)
    found(bench, "C2 short")
    assert bench.hottest == pytest.approx(AIR)


@pytest.fixture
def warm(book: Book) -> WarmBench:
    """A small board that has a bare regulator, with its power on since now."""
    bench = WarmBench.of(book, SMALL, "R2 open")
    bench.type("heatsink of U1 off", "set-up: power off", "R1.1 to R1.2 10 ohm")
    bench.passes(600.0)
    bench.type("set-up: power on, run")
    return bench


@pytest.mark.slow
def test_power_that_is_left_on_is_called_off_before_any_diagnosis(warm: WarmBench) -> None:
    (heat,) = warm.now().search.heat
    assert heat.on and heat.left > 10.0
    warm.passes(heat.left - 2.0)
    assert warm.now().card.kind != "stop"  # type: ignore[union-attr]
    warm.passes(4.0)
    view = warm.now()
    assert view.card is not None and view.card.kind == "stop"
    assert "Switch the power off now" in words.standing(view)
    assert all(one.burst.wait > 0.0 for one in live(view) if one.burst)
    warm.type("off")
    view = warm.now()
    assert view.card is not None and view.card.kind != "stop"
    (hot,) = view.search.heat
    assert not hot.on and hot.case_worst > 60.0 and hot.cool > 60.0
    warm.passes(hot.cool)
    (cold,) = warm.now().search.heat
    assert cold.left == pytest.approx(cold.cold, abs=3.0)


@pytest.mark.slow
def test_heat_is_carried_and_the_next_burst_is_shorter_or_waits(warm: WarmBench) -> None:
    first = warm.now().search.heat[0].left
    warm.passes(first // 2)
    warm.type("OUT 0 V", "off")
    warm.passes(5.0)
    view = warm.now()
    assert view.search.heat[0].left < first - 5.0
    for one in live(view):
        assert one.burst is not None and one.burst.seconds < first
    warm.passes(600.0)
    assert warm.now().search.heat[0].left >= first - 3.0


@pytest.mark.slow
def test_a_finger_and_a_thermometer_correct_what_was_reckoned(warm: WarmBench) -> None:
    warm.passes(20.0)
    warm.type("off")
    before = warm.now().search.heat[0]
    warm.type("U1 too hot to touch")
    hot = warm.now().search.heat[0]
    assert hot.case > before.case and hot.case > 50.0
    warm.type("U1 41 C")
    told = warm.now().search.heat[0]
    assert told.case == pytest.approx(41.0, abs=6.0)
    assert told.case_worst < before.case_worst and told.left > before.left
    warm.passes(60.0)
    assert warm.now().search.heat[0].case_worst < told.case_worst


@pytest.mark.slow
def test_alternatives_lift_the_limit_when_they_are_taken(warm: WarmBench) -> None:
    (heat,) = warm.now().search.heat
    refit, clip, supply = heat.instead
    shown = words.card(warm.now())
    assert all(f"Or {said}." in shown for said in heat.instead), "next says so too"
    assert "clip-on heatsink on U1" in clip
    assert "outside the case" in refit and "settles at" in refit
    warm.type("clip-on heatsink on U1")
    clipped = warm.now().search.heat[0]
    assert clipped.cold > heat.cold and clipped.clip == 20.0
    warm.type("U1 heatsink off", supply[supply.index("`") + 1 : supply.rindex("`")], "OUT ? V")
    view = warm.now()
    fed = [one for one in view.search.actions if one.ask is not None and one.ask.setup.supplied]
    assert warm.case.bench.setup.bare == (("U1", 0.0),)
    assert fed and all(one.burst is None for one in fed)
    warm.type("heatsink of U1 refitted")
    assert warm.now().search.heat == ()
    assert all(one.burst is None for one in warm.now().search.actions)


def test_a_heatsink_stays_off_until_somebody_says_that_it_is_on(book: Book) -> None:
    bench = WarmBench.of(book, BOARD, "R2 open")
    bench.type("set-up: power off, screen off", "set-up: power on, run", "V5 5 V")
    assert bench.case.bench.setup.bare == (("U1", 0.0),)
    assert bench.case.readings[-1].question.setup.bare == (("U1", 0.0),)
    (chip,) = [one for one in chips(bench.case.bench.setup, bench.machine) if one.label == "U1"]
    assert chip.state == "Heatsink off" and chip.changed
    bench.type(chip.line)
    assert bench.case.bench.setup.bare == ()
    assert bench.case.bench.setup.power == "on"


# No file -----------------------------------------------------------------------------------------


def test_without_a_file_volts_and_amps_are_asked_for_and_taken(book: Book) -> None:
    case = verbs.open_job(book, Intake("computer", key="k", ticks={"powers up": "bad"}), NOW)

    def told(line: str, at: str = NOW) -> BenchView:
        nonlocal case
        case = verbs.enter_line(book, case, line, at, asked(case))
        assert case.lines[-1].status == "counts", case.lines[-1].says
        view = stand(book, case, at)
        case = verbs.find_case(book, case.number)
        return view

    view = told("heatsink of U1 off")
    (heat,) = view.search.heat
    assert not heat.known and heat.left == 0.0 and "how many amps" in heat.says
    assert not [one for one in view.search.actions if one.live]
    view = told("U1 9V to 5V at 0.6A")
    (heat,) = view.search.heat
    assert heat.known and heat.worst == pytest.approx(2.445)
    assert (
        15.0 < heat.cold < 40.1
    )  # 40.1 s for 2.4 W to 125 °C with the least heat capacity: worked row, three sections
    power = [one for one in view.search.actions if one.live]
    assert power and all(one.burst is not None and one.burst.seconds <= heat.cold for one in power)
    view = told("heatsink of U1 refitted")
    assert view.search.heat == ()


def test_the_command_line_says_seconds_and_why(probewright: Run, tmp_path) -> None:  # type: ignore[no-untyped-def]
    file, said = tmp_path / "board.yaml", tmp_path / "board.readings"
    file.write_text(SMALL, encoding="utf-8")
    said.write_text("lamp: dark\nheatsink of U1 off\nset-up: power on, run\nV5 5 V\n", encoding="utf-8")
    answer = probewright("locate", file, said, "--json")
    view = json.loads(answer.stdout)
    (heat,) = view["heat"]
    assert (heat["part"], heat["package"]) == ("U1", "TO-220")
    assert "L7800" in heat["source"] and heat["likely"] <= heat["worst"] and heat["limit"] == 125.0
    powered = [one for one in view["actions"] if one["live"]]
    assert powered and all(one["burst"]["seconds"] <= heat["cold"] for one in powered)
    text = probewright("locate", file, said).stdout
    assert "Heat: U1 (TO-220) runs without its heatsink" in text
    assert "burns within seconds" in text and "smokes" in text
