"""Whatever was read, said and set up: no step on the card breaks a rule of heat, power or danger.

Readings, set-ups and benches are drawn at random, sensible or not. What is allowed is judged here afresh: volts and watts
of every suspect by itself, a ladder of many sections for the heat, the rules of the file by eye.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from hidden import planted
from probewright import jobs, machine
from probewright.inference.answers import sample
from probewright.inference.belief import LEFT_OUT
from probewright.jobs.onlooking import ES1, ES2, Onlooker
from probewright.jobs.view import ActionView, JobView
from probewright.machine.packages import CLIP, band
from probewright.planning import provoking
from probewright.planning.actions import repaired
from probewright.planning.bursts import SWITCH
from probewright.planning.heat import AIR
from probewright.planning.minutes import held, minutes
from probewright.planning.stops import broken_rule
from probewright.planning.ways import ways
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Model, build_model
from probewright.prediction.heating import ask_watts
from probewright.prediction.outcomes import show
from probewright.readings import Question, Reading, Setup
from probewright.readings.kit import Kit
from probewright.record import open_book
from test_heat import Ladder
from test_told_heat import SMALL, WarmBench, live

# Invented: 320 V that kill, a node at 40 V that rises where R2 opens, one off limits, a regulator that cooks without its
# sink, and two rails that must not rise.
TEXT = """
machine: Terminal with a plasma display
extras:
  LINE: source 325V 5% series 47R              LIN > GND
  VIN: source 9V 5% series 0.5R limit 1A       RAW > GND
known good: [VIN]
parts:
  D1: diode rectifier                          LIN > RES
  C1: capacitor 47u 20% electrolytic           RES > GND
  R1: resistor 300k                            RES > ARM
  R2: resistor 68k                             ARM > GND
  R3: resistor 10k                             ARM > TRIG
  R4: resistor 100k                            TRIG > GND
  U1: regulator fixed 5V 4%                    in=RAW out=V5 com=GND
  C2: capacitor 100u electrolytic              V5 > GND
  R5: resistor 10R 5W                          V5 > GND
  R6: resistor 10k                             V5 > B
  R7: resistor 10k                             B > GND
  Q1: npn small-signal gain 100..400           c=V5 b=B e=OUT
  R8: resistor 1k                              OUT > GND
stimuli:
  run: {do: switch it on}
works:
  display: TRIG dc at run between 29V and 43V; below 29V = dark; above 43V = too bright
  logic: OUT dc at run; below 1.2V = dead; above 2.6V = confused
never live: [TRIG]
never without: [V5 below 6V, ARM below 60V]
heat:
  U1: {package: TO-220, on: heatsink, with heatsink: 8 K/W}
"""
MOST = {"V5": 6.0, "ARM": 60.0}  # V, of `never without`
CLOSED = "TRIG"
JUNCTION = 125.0  # °C, table of packages, TO-220
NETS = ("LIN", "RES", "ARM", "RAW", "V5", "B", "OUT")
LONG = 3600.0  # s
DRAWS = 40
# A search an example takes seconds: few examples, and what is found is not shrunk. HYPOTHESIS_PROFILE=explore takes more.
FEW = settings(max_examples=settings().max_examples // 12, phases=(Phase.explicit, Phase.reuse, Phase.generate))


@cache
def sound() -> tuple[machine.Machine, dict[bool, Onlooker]]:
    file = machine.read(TEXT)
    model = build_model(file)
    return file, {trained: Onlooker(model, trained) for trained in (True, False)}


# What somebody may do ------------------------------------------------------------------------------

SETUPS = st.builds(
    Setup,
    power=st.sampled_from(["on", "on", "off"]),
    stimulus=st.sampled_from(["run", ""]),
    unplugged=st.sampled_from([(), (), ("R5",), ("VIN",)]),
    linked=st.sampled_from([(), (), (("ARM", "RES"),), (("RAW", "V5"),)]),
    loaded=st.sampled_from([(), (), (("V5", "GND", 6.8),)]),
    supplied=st.sampled_from([(), (), (("V5", 5.0, 1.0),), (("V5", 9.0, 1.0),), (("RAW", 9.0, 0.5),)]),
)
VOLTS = st.sampled_from([0.0, 0.3, 2.4, 5.0, 5.5, 6.5, 8.7, 12.0, 40.0, 59.0, 90.0, 320.0])


@st.composite
def said(draw: st.DrawFn, number: int) -> Reading:
    hookup = f"line {number}"
    match draw(st.sampled_from(["dc", "dc", "dc", "ohms", "works", "swap"])):
        case "dc":
            place = draw(st.sampled_from([*NETS, "R1.2", "Q1.b", CLOSED]))
            return Reading(Question("dc", place, setup=draw(SETUPS)), draw(VOLTS), hookup)
        case "ohms":
            part = draw(st.sampled_from(["R1", "R2", "R4", "R5", "C2"]))
            off = replace(draw(SETUPS), power="off", stimulus="", supplied=())
            ohms = draw(st.sampled_from([0.3, 9.0, 9e3, 68e3, math.inf]))
            return Reading(Question("ohms", f"{part}.1", f"{part}.2", off), ohms, hookup)
        case "works":
            name = draw(st.sampled_from(["display", "logic"]))
            words = ["ok", "dark", "too bright"] if name == "display" else ["ok", "dead", "confused"]
            return Reading(Question("works", name, setup=Setup(stimulus="run")), draw(st.sampled_from(words)), hookup)
    return Reading(Question("swap", "LINE", setup=Setup(stimulus="run")), "same", hookup)


@st.composite
def lines(draw: st.DrawFn) -> list[Reading]:
    """Readings one after the other; a heatsink that is off or clipped on now, perhaps."""
    found = [draw(said(n)) for n in range(draw(st.integers(1, 4)))]
    bare = draw(st.sampled_from([(), (("U1", 0.0),), (("U1", 0.0),), (("U1", 20.0),)]))
    last = found[-1].question
    return [*found[:-1], replace(found[-1], question=replace(last, setup=replace(last.setup, bare=bare)))]


KITS = st.builds(
    Kit,
    has=st.sampled_from([None, frozenset({"meter"}), frozenset({"meter", "scope"}), frozenset()]),
    minutes=st.dictionaries(
        st.sampled_from(["dc", "ohms", "power on", "power off", "burst meter", "swap", "clip on"]),
        st.sampled_from([0.02, 0.5, 30.0]),
    ),
    trained=st.booleans(),
)


# What is allowed -----------------------------------------------------------------------------------


def must_be_off(readings: Sequence[Reading]) -> bool:
    """A rail was last read above what the file allows, and nothing was read there since. By eye."""
    last: dict[str, float] = {}
    for one in readings:
        ask = one.question
        live = ask.setup.power == "on" or ask.setup.supplied
        if ask.instrument == "dc" and live and ask.black == "GND" and isinstance(one.answer, float):
            last[{"R1.2": "ARM", "Q1.b": "B"}.get(ask.red, ask.red)] = one.answer
    return any(last.get(net, 0.0) >= most for net, most in MOST.items())


def hottest(search: jobs.Search, model: Model, setup: Setup) -> float:
    """W in U1 that one draw in a hundred of its own passes, over every suspect more probable than twice what may be left
    out."""
    chance = {one.id: p for one, p in zip(search.belief.suspects, search.belief.probability, strict=True)}
    likely = [chance.get(model.suspects[cell.suspect].id, 0.0) for cell in model.cells]
    cells = [n for n, one in enumerate(likely) if one > 2.0 * LEFT_OUT]
    spans = [Span(cell, n * DRAWS, (n + 1) * DRAWS) for n, cell in enumerate(cells)]
    z = np.random.default_rng(1).standard_normal((len(model.latents.keys) + 1, len(cells) * DRAWS))
    shown = show(Bank(model, spans, z), ask_watts("U1", replace(setup, bare=(), hertz=0.0)))
    weight = np.repeat([likely[cell] for cell in cells], DRAWS) * shown.judged
    order = np.argsort(shown.value)
    return float(shown.value[order][np.searchsorted(np.cumsum(weight[order]), 0.99 * weight.sum())])


def ladder(clip: float) -> Ladder:
    """U1 at the bad end of its package: the most of every resistance, the least of every capacity."""
    to_case, light = band("TO-220", "junction to case"), band("TO-220", "heat capacity").low
    if clip:
        pad, mass = band(CLIP, "case to sink").high, band(CLIP, "heat capacity").low
        return Ladder(to_case.high, (pad, clip), (light, mass))
    return Ladder(to_case.high, (band("TO-220", "junction to air").high - to_case.high,), (light,))


def check(view: JobView, search: jobs.Search, kit: Kit) -> int:
    """Every step of the card against every rule; how many live ones there were. search: the refined one."""
    file, onlookers = sound()
    onlooker, live = onlookers[kit.trained], [one for one in view.actions if one.live and one.kind != "stop"]
    if must_be_off(search.readings):
        assert view.actions[0].kind == "stop", "the power goes off first"
        assert not live and all(one.kind != "swap" for one in view.actions)
    for one in live:
        assert one.ask is not None
        touched = onlooker.touched(one.ask)
        assert CLOSED not in touched, one.do
        if not kit.trained:
            assert not onlooker.kills(one.ask), one.do
        ids = {s.id: p for s, p in zip(search.belief.suspects, search.belief.probability, strict=True)}
        counts = np.array([ids.get(onlooker.model.suspects[c.suspect].id, 0.0) > 1e-5 for c in onlooker.model.cells])
        if np.any(onlooker.share(onlooker.every, one.ask, ES1)[counts] > 1.02):
            assert one.caution is not None and "up to" in one.caution, one.do
        if np.any(onlooker.share(onlooker.every, one.ask, ES2)[counts] > 1.02):
            assert one.caution is not None and "can kill" in one.caution, (one.do, one.caution)
        _stays_cool(one, search, onlooker.model, kit)
    return len(live)


def _stays_cool(one: ActionView, search: jobs.Search, model: Model, kit: Kit) -> None:
    """Nothing gets too hot where the hand does the worst that the card allows."""
    assert one.ask is not None
    for clip in (bare.clip for bare in search.as_told.bare):
        watts, burst = hottest(search, model, one.ask.setup), one.burst
        seconds = LONG if burst is None or burst.seconds == math.inf else burst.seconds + SWITCH
        assert AIR + ladder(clip).run(watts, seconds, 0.05 if seconds < LONG else 5.0) <= JUNCTION, (one.do, watts)
        if burst is not None and not burst.clipped and one.kind == "reading":
            row = held(one.ask.instrument)
            assert burst.seconds >= 60.0 * max(minutes(row), kit.minutes.get(row, 0.0)) - 1.0, one.do


# At random -----------------------------------------------------------------------------------------


@pytest.mark.slow
@FEW
@given(readings=lines(), kit=KITS)
def test_no_step_on_any_card_breaks_a_rule_of_heat_power_or_danger(readings: list[Reading], kit: Kit) -> None:
    before = jobs.open_search(sound()[0], kit=kit)
    if readings[:-1]:
        before = jobs.enter_readings(before, readings[:-1])
    search = jobs.enter_readings(before, readings[-1:])
    check(jobs.look(search), search, kit)
    check(jobs.glance(jobs.quick_look(before, readings[-1:]), before), search, kit)


@pytest.mark.slow
@settings(FEW, max_examples=FEW.max_examples // 4)
@given(fault=st.sampled_from(["R2 open", "R3 open", "R2 short"]), data=st.data())
def test_a_hand_that_obeys_any_card_at_any_time_cooks_nothing(
    tmp_path_factory: pytest.TempPathFactory, fault: str, data: st.DataObject
) -> None:
    """Any live step that is offered, first or not, after any pause, until the last second and late at the switch."""
    with open_book(tmp_path_factory.mktemp("warm") / "bench.db") as book:
        bench = WarmBench.of(book, SMALL, fault)
        bench.hidden = planted(
            machine.read(SMALL.replace("source 9V", "source 9.4V")), fault
        )  # it gets hotter than most
        bench.type("lamp: ?", "heatsink of U1 off")
        for _ in range(4):
            offered = [one for one in live(bench.now()) if one.burst is None or one.burst.wait < math.inf]
            if not offered:
                break
            bench.passes(data.draw(st.sampled_from([0.0, 0.0, 4.0])))
            step = data.draw(st.sampled_from(offered))
            at_once = None if step.burst is None else replace(step.burst, clipped=False)  # its clips take no time
            bench.obey(replace(step, burst=at_once))
            assert bench.hottest <= JUNCTION
        assert bench.hottest > AIR, "the power was on"


RUN, BARE = Setup(stimulus="run"), Setup(stimulus="run", bare=(("U1", 0.0),))


@pytest.mark.parametrize(
    "last",
    [Reading(Question("works", "logic", setup=BARE), "dead", "a"), Reading(Question("dc", "V5", setup=BARE), 5.0, "a")],
)
def test_a_bare_regulator_that_gets_hot_is_given_a_burst_that_it_survives(last: Reading) -> None:
    kit = Kit(trained=True)
    search = jobs.enter_readings(jobs.open_search(sound()[0], kit=kit), [last])
    assert check(jobs.look(search), search, kit) > 0
    assert hottest(search, sound()[1][True].model, RUN) > 2.0, "it would get too hot in the end"


# What was found so -----------------------------------------------------------------------------------


def test_a_rough_card_warns_of_what_the_refined_one_warns_of() -> None:
    """Few draws lose R1 short, which puts 320 V on ARM; the refined answer finds it again."""
    before, said = jobs.open_search(sound()[0]), [Reading(Question("dc", "LIN", setup=Setup(stimulus="run")), 0.0, "a")]
    refined = jobs.enter_readings(before, said)
    rough = jobs.quick_look(before, said)
    ask = Question("dc", "ARM", setup=Setup(stimulus="run"))
    assert "can kill" in (ways(refined.population).caution(ask) or "")
    assert "can kill" in (ways(rough.population).caution(ask) or "")
    check(jobs.glance(rough, before), refined, Kit())


@pytest.mark.parametrize(
    "after", [Question("dc", "OUT"), Question("dc", "RAW"), Question("ohms", "R5.1", "R5.2", Setup(power="off"))]
)
def test_a_good_reading_of_another_place_takes_no_stop_back(after: Question) -> None:
    said = [Reading(Question("dc", "V5"), 8.7, "a"), Reading(after, 5.0, "b")]
    view = jobs.look(jobs.enter_readings(jobs.open_search(sound()[0]), said))
    assert view.actions[0].kind == "stop" and "V5" in view.actions[0].why
    assert not any(one.live for one in view.actions[1:])


def test_a_repair_takes_a_stop_back_and_the_next_high_reading_brings_it_again() -> None:
    new = Setup(replaced=("U1",))
    said = [Reading(Question("dc", "V5"), 8.7, "a"), Reading(Question("works", "logic", setup=new), "ok", "b")]
    search = jobs.enter_readings(jobs.open_search(sound()[0]), said)
    assert broken_rule(search.belief, repaired(search.readings)) is None
    again = jobs.enter_readings(search, [Reading(Question("dc", "V5", setup=new), 8.7, "c")])
    assert broken_rule(again.belief, repaired(again.readings))


def test_a_bench_supply_that_puts_too_much_on_a_rail_is_called_off_too() -> None:
    fed = Setup(power="off", supplied=(("V5", 9.0, 1.0),))
    view = jobs.look(
        jobs.enter_readings(jobs.open_search(sound()[0]), [Reading(Question("dc", "V5", setup=fed), 8.7, "a")])
    )
    assert view.actions[0].kind == "stop"


def test_no_hand_comes_near_a_case_of_which_another_unit_is_off_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    file = machine.read(
        "machine: Two followers\nparts:\n  V1: source 12V 5% series 1R  VCC > GND\n  R1: resistor 10k  VCC > A\n"
        "  R2: resistor 10k  A > GND\n  U1: opamp dual  vplus=VCC vminus=GND\n  U1A: of U1  plus=A minus=B out=B\n"
        "  U1B: of U1  plus=A minus=HOT out=HOT\n  R3: resistor 1k  B > GND\n  R4: resistor 1k  HOT > GND\n"
        "never live: [HOT]\n"
    )
    monkeypatch.setattr(provoking, "is_shy", lambda population: True)
    monkeypatch.setattr(provoking, "PLACES", 99)
    population = sample(jobs.open_search(file).belief)
    near = {ask.red.removeprefix("near ") for ask in provoking.provocations(file, population, Setup())}
    assert "R1" in near and not near & {"U1", "U1A", "U1B", "R4"}
