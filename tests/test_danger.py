"""Nobody is hurt on the way: classes of volts, meters, clips, charges, what is left alone, and what must not run on."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

import hidden
from conftest import Run
from hidden import NOW
from probewright import jobs, machine
from probewright.inference.answers import sample
from probewright.jobs import adding
from probewright.jobs.bench import open_job
from probewright.jobs.cases import Intake
from probewright.jobs.equipping import tell_kit
from probewright.jobs.onlooking import UNDERTOLD, UNWARNED, Onlooker
from probewright.jobs.pacing import kit_of
from probewright.jobs.ticking import zones_of
from probewright.machine.chains import read_chain
from probewright.machine.kinds import KINDS
from probewright.planning import danger
from probewright.planning.actions import AS_BROUGHT
from probewright.planning.danger import Caution, caution, rated
from probewright.planning.stops import broken_rule
from probewright.planning.stored import LEFT, Charge, charge, charges, harmless_volts
from probewright.planning.ways import ways
from probewright.readings import SCOPED, Question, Reading, Setup, echo, is_live
from probewright.readings.as_told import AsTold
from probewright.readings.cooling import Bare
from probewright.readings.instruments import law
from probewright.readings.kit import UNTOLD, Kit
from probewright.record import Book
from probewright.report import text

TRAINED = Kit(trained=True)

# a rail that can kill, a node between that rises from 40 V to 90 V where a resistor opens, and one off limits
TALL = """
machine: Valve preamplifier
parts:
  HT: source 320V 5% series 1k  B+ > GND
  C1: capacitor 47u 20% electrolytic  B+ > GND
  R1: resistor 300k  B+ > MID
  R2: resistor 68k  MID > GND
  R3: resistor 10k  MID > OUT
  R4: resistor 100k  OUT > GND
works:
  sounds: OUT dc at idle between 30V and 42V; above 60V = hums
stimuli:
  idle: {do: play nothing}
never live: [OUT]
"""

LAMP = """
machine: Lamp
parts:
  BAT: source 9V 5% series 1R  A > GND
  R1: resistor 1k  A > B
  R2: resistor 1k  B > GND
works:
  lit: B dc at idle between 4V and 5V; below 1V = dark
stimuli:
  idle: {do: switch it on}
"""
MAINS_FED = LAMP.replace("source 9V 5% series 1R", "source sine 9V peak 50Hz series 1R").replace(
    "dc at idle between 4V and 5V", "rms at idle between 2V and 4V"
)
FLASH = (Path(__file__).parent.parent / "benchmarks" / "machines" / "flash-300.yaml").read_text("utf-8")
CHAIN = read_chain("tuner > preamp > amp > speaker")


def opened(file: str, kit: Kit = UNTOLD) -> jobs.Search:
    return jobs.open_search(machine.read(file), kit=kit)


def single(volts: str, alternating: str = "") -> jobs.Search:
    """A source and a resistor from A to ground."""
    return opened(
        f"machine: one\nparts:\n  V1: source {volts} 0.1% series 1R  A > B\n"
        f"  V2: source {alternating or '0V'} 0.1% series 1R  B > GND\n  R1: resistor 1M  A > GND\n"
    )


# Classes -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("direct", "alternating", "level"),
    [
        ("48V", "", 1),
        ("57V", "", 1),
        ("65V", "", 2),
        ("0V", "mains 24V rms 50Hz", 1),
        ("0V", "mains 35V rms 50Hz", 2),
        ("50V", "mains 10V rms 50Hz", 2),
        ("169.7V", "", 3),
        ("325.3V", "", 3),
    ],
)
def test_a_place_has_the_class_that_the_standard_gives_it(direct: str, alternating: str, level: int) -> None:
    """Worked classes by IEC 62368-1 (Ed. 3) 5.2.2.2, table 4, and its rule for both together: 50 V DC and 10 V rms are
    0.833 + 0.333 of the two limits, which is more than one."""
    search = single(direct, alternating)
    ask = Question("dc", "A")
    cells = np.zeros(len(search.laws.model.cells), dtype=bool)
    cells[search.laws.model.healthy_cells] = True
    dc, rms = (danger.highest(search.laws.banks, replace(ask, instrument=one), cells).max() for one in ("dc", "rms"))
    found = 1 if dc / 60 + rms / 30 <= 1 else 2 if dc / 120 + rms / 50 <= 1 else 3
    assert found == level, (dc, rms)
    warned = caution(search.belief, ask)  # of any suspect, so never of a lower class
    assert (warned.level if warned else 1) >= level
    if level > 1:
        assert warned is not None and warned.alternating == (bool(alternating) and direct == "0V")


def test_two_rails_that_are_harmless_each_kill_together() -> None:
    """+60 V to -65 V is 125 V, ES3 (the same table): node to node counts, not only to ground."""
    search = opened(
        "machine: rails\nparts:\n  V1: source 58V 1% series 1R  P > GND\n  V2: source -65V 1% series 1R  N > GND\n"
        "  R1: resistor 1M  P > GND\n  R2: resistor 1M  N > GND\n"
    )
    across = caution(search.belief, Question("dc", "P", "N"))
    alone = caution(search.belief, Question("dc", "N"))
    assert across is not None and across.level == 3 and across.volts > 120.0
    assert alone is not None and alone.level == 2


@pytest.mark.parametrize(("volts", "rating"), [(61.0, 150), (150.0, 150), (230.0, 300), (325.0, 600), (999.0, 1000)])
def test_the_meter_is_rated_for_what_it_may_meet(volts: float, rating: int) -> None:
    """Nominal voltages of IEC 61010-2-030:2010."""
    assert f"{rating} V" in rated(volts, mains=False) and "CAT" not in rated(volts, mains=False)
    assert f"CAT III {rating} V" in rated(volts, mains=True), "hand-held on mains, IEC 61010-2-033"


def test_nothing_is_rated_for_a_picture_tube() -> None:
    assert "high-voltage probe" in rated(12_000.0, mains=False) and "1000 V" in rated(12_000.0, mains=False)


def test_a_warning_says_that_it_kills_and_who_may() -> None:
    two, three = str(Caution("MID", 87.0, False)), str(Caution("B+", 325.0, False, 3))
    assert two.startswith("Caution: up to 87 V DC at MID.") and three.startswith("Warning: up to 325 V DC at B+")
    assert "can kill" in three and "power off" in three
    for said in (two, three):
        assert "One hand" in said and "trained and allowed" in said and "where you are" in said
    assert "isolating transformer" in str(Caution("L", 240.0, True, 3, mains=True))


# Left alone ----------------------------------------------------------------------------------


def live(search: jobs.Search, kit: Kit) -> list[Question]:
    steps = ways(sample(search.belief, kit)).possible()
    return [one.ask for one in steps if one.ask is not None and is_live(one.ask.setup)]


def test_what_kills_is_left_alone_while_live_unless_somebody_is_trained() -> None:
    search = opened(TALL)
    nets = search.laws.model.machine.net_of
    wary = {nets(place) for ask in live(search, Kit()) for place in (ask.red, ask.black)}
    bold = {nets(place) for ask in live(search, TRAINED) for place in (ask.red, ask.black)}
    assert "B+" not in wary and "MID" in wary, "40 V may be read: it rises only where R2 is open"
    assert {"B+", "MID"} <= bold
    assert "OUT" not in wary | bold, "off limits by the file, whoever works there"
    assert ways(sample(search.belief)).deadly() == ["B+"] and ways(sample(search.belief, TRAINED)).deadly() == []


def test_no_live_step_touches_what_may_hurt_without_its_caution() -> None:
    search = opened(TALL, TRAINED)
    how = ways(search.population)
    asks = [ask for ask in live(search, TRAINED) if {ask.red, ask.black} & {"B+", "MID"}]
    assert asks
    for ask in asks:
        said = how.caution(ask)
        assert said is not None and ("Warning" in said or "Caution" in said), ask
    assert "Warning" in (how.caution(Question("dc", "B+")) or "")
    assert "at MID" in (how.caution(Question("dc", "MID")) or ""), "R1 shorted puts the rail there"


def brought(file: str, kit: Kit = UNTOLD) -> jobs.Search:
    """A machine whose owner complains, so that it has been under power."""
    search = opened(file, kit)
    name = search.laws.model.machine.works[0].name
    return jobs.enter_readings(search, [Reading(Question("works", name), "bad", "owner")])


def test_a_live_reading_needs_no_care_where_the_whole_machine_is_low_and_has_run() -> None:
    search = brought(LAMP)
    asks = live(search, UNTOLD)
    assert asks and all(ways(search.population).carefree(ask) for ask in asks)
    bare = replace(search.population, as_told=AsTold(bare=(Bare("R1"),)))
    assert not any(ways(bare).carefree(ask) for ask in asks), "something runs without its heatsink"
    fresh = opened(LAMP)
    assert not any(ways(fresh.population).carefree(ask) for ask in asks), "nobody has had it under power"
    new_part = [Reading(Question("ohms", "A", setup=Setup(power="off", replaced=("R1",))), 2e3, "1")]
    mended = jobs.enter_readings(search, new_part)
    assert not any(ways(mended.population).carefree(ask) for ask in asks), "its first power with the new part is due"
    guarded = brought(LAMP.replace("works:", "never live: [A]\nworks:"))
    assert not any(ways(guarded.population).carefree(ask) for ask in asks), "a place is left alone"


def test_where_something_can_hurt_no_live_reading_is_without_care() -> None:
    for file in (TALL, FLASH, MAINS_FED):
        search = brought(file, TRAINED)
        asks = live(search, TRAINED)
        assert asks and not any(ways(search.population).carefree(ask) for ask in asks)
    chain = opened(CHAIN)
    steps = [one.ask for one in ways(chain.population).possible() if one.ask is not None]
    assert steps and not any(ways(chain.population).carefree(ask) for ask in steps), "nobody knows its volts"


def test_a_supply_that_can_kill_is_exchanged_with_the_power_off_and_emptied_first(monkeypatch) -> None:
    asked, dangers = [], danger.caution
    monkeypatch.setattr(danger, "caution", lambda belief, ask, among: asked.append(ask) or dangers(belief, ask, among))
    search = opened(FLASH)
    search = jobs.enter_readings(search, [Reading(Question("works", "charges"), "dead", "owner")])
    how = ways(search.population)
    (line,) = (one.ask for one in how.possible() if one.kind == "swap" and one.item == "LINE")
    assert line is not None
    said = how.caution(line) or ""
    assert said.startswith("Warning: with power on up to") and "at LIN, which can kill" in said
    assert "plug pulled" in said and "trained and allowed" in said and "C1 may keep" in said
    assert how.before(line), "how the reservoir is emptied"
    assert asked.count(line) == 1, "every draw is looked at, which takes its time"
    assert jobs.look(search).actions and "With the power off exchange LINE" in echo.ask(line, search.laws.model.machine)
    watcher = Onlooker(search.laws.model, trained=False)
    truth = search.laws.base
    assert watcher.wrong(line, None, search.belief, truth) == UNWARNED
    assert watcher.wrong(line, said.replace("can kill", "hurts"), search.belief, truth) == UNDERTOLD
    assert watcher.wrong(line, said, search.belief, truth) == ""
    low = brought(
        LAMP.replace("parts:\n  BAT", "extras:\n  BAT").replace(
            "  R1: resistor 1k  A > B", "parts:\n  R1: resistor 1k  A > B"
        )
    )
    swaps = [one.ask for one in ways(low.population).possible() if one.kind == "swap"]
    assert swaps and all(ways(low.population).caution(ask) is None for ask in swaps)


@pytest.mark.parametrize(
    ("source", "amps"),
    [
        ("5V series 20m limit 20A", 20.0), ("12V series 50m", 240.0), ("5V series 20m limit 2A", 0.0), ("12V series 1R", 0.0),
        ("12V", 0.0),
    ],
)  # fmt: skip
def test_a_rail_of_high_current_is_said_where_somebody_typed_what_it_gives(source: str, amps: float) -> None:
    file = LAMP.replace("9V 5% series 1R", source).replace("4V and 5V", "2V and 7V")
    how = ways(brought(file).population)
    said = how.caution(Question("dc", "A")) or ""
    assert (f"BAT gives up to {amps:.0f} A" in said and "rings and watch off" in said) == (amps > 0.0)
    assert "rings" not in (how.caution(Question("dc", "B")) or ""), "1 kohm lies between"
    assert "rings" not in (how.caution(Question("ohms", "A", setup=Setup(power="off"))) or "")


def test_a_fuse_or_a_switch_keeps_no_current_from_a_slip() -> None:
    text = (
        "machine: Two switched rails\nparts:\n  BAT: source 12V series 20m limit 40A  B > GND\n  F1: fuse 10A  B > C\n"
        "  S1: switch  C > D\n  R1: resistor 1k  D > E\n  R2: resistor 1k  E > GND\n"
    )
    how = ways(opened(text).population)
    said = {net: how.caution(Question("dc", net)) or "" for net in "BCDE"}
    assert [net for net, one in said.items() if "BAT gives up to 40 A" in one] == ["B", "C", "D"]
    assert "rings" not in (how.caution(Question("dc", "D", setup=Setup(power="off"))) or "")


def test_what_is_left_alone_is_said_and_how_that_is_changed() -> None:
    view, bold = jobs.look(opened(TALL)), jobs.look(opened(TALL, TRAINED))
    assert view.left_alone == ("B+",) and "kit --trained" in text.job(view)
    assert bold.left_alone == () and "Left alone" not in text.job(bold)


def test_whoever_asks_only_for_the_next_step_hears_what_is_left_alone(
    book: Book, own_book: Path, probewright: Run
) -> None:
    case = open_job(book, Intake("amplifier", key="alone"), NOW)
    adding.tie(book, case, TALL, adding.propose_tie(case, TALL, "f.yaml", {}), NOW)
    told = json.loads(probewright("next", "--json").stdout)["search"]["left_alone"]
    said = probewright("next").stdout
    assert told == ["B+"] and "not known: B+. Who is trained for it says so: `probewright kit --trained`." in said


def test_whoever_is_trained_says_so_once(book: Book) -> None:
    assert not kit_of(book).trained
    tell_kit(book, None, {}, NOW, trained=True)
    tell_kit(book, ["meter"], {}, NOW)
    assert kit_of(book) == Kit(frozenset({"meter"}), {}, True)
    tell_kit(book, None, {}, NOW, trained=False)
    assert not kit_of(book).trained


def test_a_low_machine_solves_nothing_for_it(monkeypatch: pytest.MonkeyPatch) -> None:
    search = single("12V")

    def refuse(*_: object) -> None:
        raise AssertionError("nothing need be solved")

    monkeypatch.setattr(danger, "bare_volts", refuse)
    assert danger.deadly(search.belief, Setup(), ["A"]) == set()
    assert caution(search.belief, Question("dc", "A")) is None


# Clips and ranges ----------------------------------------------------------------------------

ON_THE_MAINS = """
machine: Set without a transformer
parts:
  L1: source mains 230V rms 50Hz series 1R  L > GND
  D1: diode rectifier  L > RAW
  C1: capacitor 100u electrolytic  RAW > GND
  R1: resistor 10k  RAW > GND
"""


def test_the_clip_of_a_scope_stays_off_a_chassis_on_the_mains() -> None:
    """Common practice, no source."""
    hot, safe = machine.read(ON_THE_MAINS), machine.read(TALL)
    for instrument in ("pp", *SCOPED):
        assert "joined to the mains" in danger.of_the_clip(hot, Question(instrument, "RAW"))
        assert danger.of_the_clip(safe, Question(instrument, "MID")) == ""
    assert "difference" in danger.of_the_clip(safe, Question("pp", "MID", "OUT"))
    assert danger.of_the_clip(hot, Question("dc", "RAW")) == "", "a meter floats"
    assert danger.of_the_clip(hot, Question("pp", "RAW", setup=Setup(power="off"))) == ""


def test_the_diode_range_says_so_before_it_feeds_an_added_board() -> None:
    host = machine.read(
        "machine: host\nparts:\n  V1: source 5V 5% series 1R  VCC > GND\n  R1: resistor 1k  VCC > A\n"
        "  D1: diode  A > GND\n  D2: diode  VCC > B\n  R2: resistor 1k  B > GND\n"
        'added boards:\n  DISPLAY:\n    fitted: "yes"\n    parts:\n      R5: resistor 10k  A > GND\n'
    )
    said = danger.of_the_diode_range(host, Question("diode", "D1.a", "D1.k", Setup(power="off")))
    assert "DISPLAY" in said and f"{law('diode').open_volts:g} V" in said
    assert danger.of_the_diode_range(host, Question("diode", "D2.a", "D2.k", Setup(power="off"))) == ""
    assert danger.of_the_diode_range(host, Question("ohms", "D1.a", "D1.k", Setup(power="off"))) == ""


# Charges -------------------------------------------------------------------------------------


def test_a_hand_held_resistor_empties_a_reservoir_as_the_worked_example_says() -> None:
    """220 uF at 400 V through 2.2 kohm: 0.484 s of time constant, 2.12 s to 5 V, 72.7 W at first, 17.6 J; first-order RC."""
    one = charge("C1", 400.0, 220e-6)
    assert (one.ohms, one.watts, one.joules) == (2200.0, approx(72.7, rel=1e-3), approx(17.6))
    assert one.seconds == approx(2.12, rel=2e-3) and LEFT == 5.0


@given(volts=st.floats(20.0, 1000.0), farads=st.floats(1e-7, 2e-2))
def test_no_resistor_is_asked_to_stand_more_than_it_can_while_a_gentler_one_is_there(
    volts: float, farads: float
) -> None:
    one = charge("C1", volts, farads)
    assert isinstance(one, Charge) and one.joules == approx(0.5 * farads * volts**2)
    left = volts * np.exp(-one.seconds / (one.ohms * farads))
    assert left == approx(LEFT, rel=1e-6)
    assert one.watts <= 100.0 or one.ohms == 10e3


@pytest.mark.parametrize(
    ("nano", "volts"), [(300.0, 60.0), (170.0, 75.0), (91.0, 100.0), (28.0, 200.0), (8.0, 500.0), (1.6, 2500.0)]
)
def test_how_much_charge_is_harmless(nano: float, volts: float) -> None:
    """IEC 62368-1 5.2.2.3, table 5, column ES1; more than 300 nF as 300."""
    assert harmless_volts(nano * 1e-9) == approx(volts)
    assert harmless_volts(nano * 1e-9 * 0.999) >= volts and harmless_volts(1e-3) == 60.0


def test_before_the_first_reading_with_power_off_the_reservoir_is_emptied() -> None:
    search = opened(TALL)
    (left,) = charges(search.belief, Setup(), (search.laws.base,))
    assert left.part == "C1" and 300.0 < left.volts < 420.0
    ask = Question("ohms", "R2.1", "R2.2", Setup(power="off"))
    said = ways(search.population).caution(ask) or ""
    assert "C1 may keep" in said and "W at first" in said and "prove the meter again" in said
    last = ways(search.population).before(ask)[-1]  # ohms with the resistor across would be those of the resistor
    assert (
        "clipped on between readings" in said and "comes off while ohms are read, and before the power goes on" in last
    )
    entered = jobs.enter_readings(search, [Reading(ask, 68e3, "a")])
    assert "may keep" not in (ways(entered.population).caution(replace(ask, red="R1.1", black="R1.2")) or ""), (
        "it is off"
    )


def test_a_low_machine_keeps_nothing_that_hurts() -> None:
    assert charges(single("12V").belief, Setup(), ()) == []


# Stops ---------------------------------------------------------------------------------------

HELD = """
machine: Held rail
parts:
  V1: source 12V 5% series 1R  RAW > GND
  U1: regulator fixed 5V 4%  in=RAW out=V5 com=GND
  R1: resistor 100R  V5 > GND
  R2: resistor 1k  RAW > GND
"""


@pytest.mark.parametrize(("place", "volts", "stops"), [("V5", 11.6, True), ("V5", 5.2, False), ("V5", 0.1, False), ("RAW", 16.0, False)])  # fmt: skip
def test_a_rail_far_above_what_its_regulator_holds_means_power_off(place: str, volts: float, stops: bool) -> None:
    search = jobs.enter_readings(opened(HELD), [Reading(Question("dc", place), volts, "a")])
    why = broken_rule(search.belief, AS_BROUGHT)
    assert (why is not None) == stops
    if stops:
        assert "U1" in (why or "") and search.view.actions[0].kind == "stop"


def test_a_rail_that_was_high_and_is_no_more_stops_nothing() -> None:
    said = [Reading(Question("dc", "V5"), 11.6, "a"), Reading(Question("dc", "V5"), 5.02, "b")]
    assert broken_rule(jobs.enter_readings(opened(HELD), said).belief, AS_BROUGHT) is None


def test_every_regulator_holds_a_pin_of_its_own() -> None:
    holding = {kind.name: kind.holds for kind in KINDS.values() if kind.holds}
    assert len(holding) >= 3 and all(pin in KINDS[name].pins for name, pin in holding.items())


def test_nobody_is_sent_back_to_a_place_that_kills_to_measure_it_again() -> None:
    """A reading that somebody took there all the same, and that fits nothing: it is not asked for once more."""
    taken = Reading(Question("dc", "B+"), 3.0, "a")
    said = [Reading(Question("works", "sounds"), "ok", "o"), taken]
    for kit, asked in ((UNTOLD, False), (TRAINED, True)):
        how = ways(sample(jobs.enter_readings(opened(TALL, kit), said).belief, kit))
        assert how.permits(how.again(taken.question)) is asked


@pytest.mark.parametrize("last", [Question("provoke", "R2", "tap"), Question("works", "sounds")])
def test_the_reservoir_is_emptied_however_the_last_line_left_the_power(last: Question) -> None:
    """Ohms, then something that wants the power on: it is charged again."""
    off = Question("ohms", "R1.1", "R1.2", Setup(power="off"))
    said = [Reading(off, 300e3, "a"), Reading(last, "same" if last.instrument == "provoke" else "bad", "b")]
    how = ways(jobs.enter_readings(opened(TALL, TRAINED), said).population)
    assert "C1 may keep" in (how.caution(replace(off, red="R2.1", black="R2.2")) or "")


def test_who_solders_empties_the_reservoir_first() -> None:
    bad = Reading(Question("works", "sounds"), "hums", "o")
    search = opened(TALL.replace("never live: [OUT]\n", ""), TRAINED)
    asks = [("MID", 86.0), ("OUT", 78.0), ("B+", 317.0), ("MID", 85.8)]
    said = [Reading(Question("dc", place), volts, f"h{n}") for n, (place, volts) in enumerate(asks)]
    view = jobs.look(jobs.enter_readings(search, [bad, *said]))
    repairs = [one for one in view.actions if one.kind == "repair"]
    assert repairs and all("C1 may keep" in (one.caution or "") for one in repairs)


LOW = TALL.replace("320V", "9V").replace("between 30V and 42V; above 60V", "between 0.8V and 1.2V; above 2V")


def test_what_is_never_touched_live_is_left_alone_on_a_bench_supply_too() -> None:
    fed = Setup(power="off", supplied=(("B+", 9.0, 0.1),))
    said = [Reading(Question("dc", "MID", setup=fed), 1.1, "a")]
    search = jobs.enter_readings(opened(LOW), said)
    steps = [one.ask for one in ways(search.population).possible() if one.ask and is_live(one.ask.setup)]
    assert steps and not any("OUT" in (ask.red, ask.black) for ask in steps)


def test_nothing_that_wants_power_is_offered_while_it_must_go_off() -> None:
    view = jobs.look(jobs.enter_readings(opened(HELD), [Reading(Question("dc", "V5"), 11.6, "a")]))
    assert view.actions[0].kind == "stop" and len(view.actions) > 1
    assert not any(one.live for one in view.actions[1:])


def test_other_steps_carry_their_cautions_too() -> None:
    said = text.job(jobs.look(opened(TALL, TRAINED)))
    assert said.count("may keep") + said.count("Warning: up to") >= 2 and "Or:" in said


def test_a_surprise_at_a_place_that_kills_is_not_sent_back_there() -> None:
    said = [Reading(Question("works", "sounds"), "ok", "o"), Reading(Question("dc", "B+"), 100.0, "a")]
    view = jobs.look(jobs.enter_readings(opened(TALL), said))
    assert not any("B+" in one.advice and "Power on" in one.advice for one in view.surprises)
    assert not any(one.live and "B+" in one.where for one in view.actions)


def test_the_list_of_every_net_gives_no_volts_where_nobody_reads_them(book: Book) -> None:
    file = TALL + "zones:\n  - leak around B+ MID OUT\n"
    case = hidden.opened(book, file).case
    for kit, nets in ((Kit(), {"MID"}), (TRAINED, {"B+", "MID"})):
        (zone,) = zones_of(replace(case, kit=kit)).zones
        assert {one.where for one in zone.checks if one.volts is not None} == nets
