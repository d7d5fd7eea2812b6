"""When power was on while a heatsink was off, by the lines of a job and their time stamps."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from probewright.inference.answers import standing_so
from probewright.inference.belief import Extremes
from probewright.jobs import adding, bench
from probewright.jobs.cases import Case, Intake
from probewright.jobs.heat_words import heat_view
from probewright.jobs.searching import Search, open_search
from probewright.jobs.view import SpellView
from probewright.jobs.warming import OWN, moments, warmth_now
from probewright.machine import read
from probewright.machine.packages import band
from probewright.planning import circuit_ways
from probewright.planning.bursts import Hot, body_of, told_or_reckoned
from probewright.planning.choosing import ranked
from probewright.planning.heat import AIR
from probewright.planning.ways import ways
from probewright.readings import Question, Setup
from probewright.readings.as_told import AsTold
from probewright.readings.bench import Bench
from probewright.readings.cooling import Bare
from probewright.readings.hearing import Context, hear
from probewright.readings.kit import UNTOLD
from probewright.readings.setups import Piece, read_setup, understand, write
from probewright.record import Book
from test_told_heat import SMALL

START = "2026-11-25T10:00:00+00:00"


def at(seconds: float) -> str:
    return (datetime.fromisoformat(START) + timedelta(seconds=seconds)).isoformat(timespec="seconds")


def job(book: Book, *lines: tuple[float, str]) -> Case:
    """A job with lines typed so many seconds after it was opened."""
    case = bench.open_job(book, Intake("amplifier", key="k"), START)
    case = adding.tie(book, case, SMALL, adding.propose_tie(case, SMALL, "f.yaml", {}), START)
    for seconds, line in lines:
        case = bench.enter_line(book, case, line, at(seconds))
        assert case.lines[-1].status == "counts", case.lines[-1].says
    return case


def spells(case: Case) -> list[tuple[float, bool]]:
    """(seconds from the start, power on) wherever that changes."""
    found: list[tuple[float, bool]] = []
    for moment in moments(case):
        since = (datetime.fromisoformat(moment.at) - datetime.fromisoformat(START)).total_seconds()
        if (moment.setup is not None) != (found[-1][1] if found else False):
            found.append((since, moment.setup is not None))
    return found


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        pytest.param([(5, "heatsink of U1 off"), (90, "set-up: power on"), (130, "off")], [(90, True), (130, False)], id="the key"),
        pytest.param([(5, "heatsink of U1 off"), (300, "V5 5 V"), (320, "off")], [(240, True), (320, False)], id="the first live reading, by hand a minute before it"),
        pytest.param([(5, "heatsink of U1 off"), (20, "V5 5 V"), (70, "OUT 0 V")], [(5, True)], id="not before the line above it"),
        pytest.param([(5, "heatsink of U1 off"), (90, "set-up: power on"), (95, "V5 5 V"), (140, "R1.1 to R1.2 10 ohm off")], [(90, True), (140, False)], id="ohms are read with power off"),
        pytest.param([(5, "set-up: power on"), (65, "heatsink of U1 off"), (300, "R1.1 to R1.2 10 ohm off")], [(5, True), (65, False)], id="whoever turns screws has the power off"),
        pytest.param([(5, "set-up: power on, heatsink of U1 off"), (65, "resoldered R1.1"), (70, "fitted a new R2")], [(5, True), (65, False)], id="nor solders with power on"),
        pytest.param([(5, "set-up: power off, heatsink of U1 off"), (65, "V5 5 V, power on, run"), (80, "OUT 0 V, power on, run")], [(5, True), (65, False), (65, True), (80, False)], id="a set-up behind a reading holds for it alone"),
        pytest.param([(5, "set-up: power off, heatsink of U1 off, bench supply 5V limit 0.5A on V5"), (9, "off"), (20, "set-up: power off")], [(5, True), (20, False)], id="a bench supply is power too"),
        pytest.param([(5, "V5 5 V on the sister"), (50, "lamp: bad")], [], id="another machine, and what the owner said"),
        pytest.param([(5, "heatsink of U1 off"), (50, "lamp: bad"), (60, "U1 hot")], [(5, True)], id="what was seen to fail"),
    ],
)  # fmt: skip
def test_the_clock_starts_at_the_key_or_the_first_live_reading(
    book: Book, lines: list[tuple[float, str]], expected: list[tuple[float, bool]]
) -> None:
    assert spells(job(book, *lines)) == expected


def test_a_line_taken_back_heats_nothing(book: Book) -> None:
    case = job(book, (5, "heatsink of U1 off"), (90, "set-up: power on"))
    assert spells(bench.undo(book, case, at(95))) == []


def test_what_was_felt_is_told_with_its_time(book: Book) -> None:
    case = job(
        book,
        (5, "heatsink of U1 off"),
        (90, "U1 61.5 C"),
        (95, "U1 too hot to touch"),
        (99, "U1 hand-warm"),
        (120, "U1 hot"),
    )
    felt = [(moment.at, moment.felt) for moment in moments(case) if moment.felt]
    assert felt == [(at(90), (("U1", "61.5"),)), (at(95), (("U1", "not borne"),)), (at(99), (("U1", "borne"),))]


def heated(*past: SpellView, clip: float = 0.0):  # type: ignore[no-untyped-def]
    one = Bare("U1", clip, 2.4)
    hot = told_or_reckoned(one, *body_of(None, one), Extremes(0.0, 0.0, -1, 0.0))
    return replace(heat_view(hot, "", None, UNTOLD), past=past)


def test_spells_add_up_and_time_that_goes_backwards_counts_for_nothing() -> None:
    on, off = SpellView(at(0), True, 2.4, 2.4, 0.0), SpellView(at(30), False, 0.0, 0.0, 0.0)
    warm, body = warmth_now(heated(on, off), None, at(30))
    once = body.after(body.cold, 2.4, 2.4, 30.0)
    assert warm.worst == pytest.approx(once.worst) and warm.worst[0] > 50.0
    later, _ = warmth_now(heated(on, off), None, at(130))
    assert later.worst == pytest.approx(body.after(once, 0.0, 0.0, 100.0).worst)
    assert warmth_now(heated(replace(on, at=at(30)), replace(off, at=at(0))), None, at(0))[0].worst == (0.0,)


def test_the_case_keeps_its_warmth_when_its_sink_comes_off_or_on() -> None:
    own, bare = SpellView(at(0), True, 2.4, 2.4, OWN), SpellView(at(500), False, 0.0, 0.0, 0.0)
    warm, body = warmth_now(heated(own, bare), None, at(500))
    assert len(warm.worst) == 1 and 10.0 < warm.worst[0] < 2.4 * (band("TO-220", "junction to air").usual - 5.0)
    clipped, other = warmth_now(heated(SpellView(at(0), True, 2.4, 2.4, 0.0), clip=20.0), None, at(20))
    assert len(clipped.worst) == 2 and clipped.worst[1] == 0.0 and clipped.worst_case > AIR + 30.0
    assert other.settles(2.4) < body.settles(2.4)


# The planner -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def search() -> Search:
    return open_search(read(SMALL), "k")


@settings(max_examples=15, deadline=None)
@given(watts=st.floats(0.2, 25.0), clip=st.sampled_from([0.0, 15.0]))
def test_whatever_the_watts_no_step_is_ranked_or_chosen_that_would_get_the_part_too_hot(
    search: Search, watts: float, clip: float
) -> None:
    population = standing_so(search.population, AsTold(bare=(Bare("U1", clip, watts),)))
    how = ways(population)
    body = body_of(search.machine, Bare("U1", clip))[1]
    hottest = max(body.corners, key=lambda path: path.after((0.0,) * len(path.ohms), watts, 30.0)[0])
    kept, refused = 0, 0
    for action in how._possible():
        one = how.allowance(action)
        refused += one is not None and not one.allowed
    for action in (*how.possible(), *(choice.action for choice in ranked(population))):
        if action.ask is None or action.ask.setup.power != "on":
            continue
        one = how.allowance(action)
        assert one is not None
        spell = one.burst(one.cold)
        assert spell.wait == 0.0 and spell.seconds >= one.need
        if spell.seconds < math.inf:
            rises = hottest.after((0.0,) * len(hottest.ohms), watts, spell.seconds)
            assert AIR + rises[0] + watts * hottest.to_case <= body.limit
        kept += 1
    assert kept or refused
    most = one.hot[0].worst if (one := how.allowance(next(a for a in how._possible() if a.ask and a.ask.setup.power == "on"))) else 0.0  # fmt: skip
    assert most >= watts
    if most > 12.0 and not clip:
        assert not kept  # 5 K/W to the case alone, and a few seconds for the rest


def test_cooling_and_clipping_cost_minutes(search: Search) -> None:
    plain = {action.ask: action.minutes for action in ways(search.population).possible() if action.kind == "reading"}
    hot = ways(standing_so(search.population, AsTold(bare=(Bare("U1", 0.0, 3.0),)))).possible()
    more = {a.ask: a.minutes - plain[a.ask] for a in hot if a.kind == "reading" and a.ask in plain}
    live = [extra for ask, extra in more.items() if ask is not None and ask.setup.power == "on"]
    off = [extra for ask, extra in more.items() if ask is not None and ask.setup.power == "off"]
    assert live and all(extra > 1.0 for extra in live)
    assert off and all(extra == 0.0 for extra in off)


def test_the_watts_that_are_told_are_no_less_than_those_of_the_machine_as_it_stands(search: Search) -> None:
    """Of all steps at hand the worst watts may be those of one with the load lifted, where it is likely to make less."""
    worst_with_little = {Setup(): (2.0, 2.5), Setup(lifted=("R1.1",)): (0.05, 2.6)}

    def reckon(population, setup):  # type: ignore[no-untyped-def]
        likely, worst = worst_with_little[setup]
        return (Hot("U1", "TO-220", 0.0, body_of(search.machine, Bare("U1"))[1], likely, worst, -1, True),)

    how = ways(standing_so(search.population, AsTold(bare=(Bare("U1"),))))
    asks = [replace(next(one for one in how._possible() if one.ask), ask=Question("dc", "V5", setup=setup))
            for setup in worst_with_little]  # fmt: skip
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(circuit_ways, "hot_parts", reckon)
        patched.setattr(type(how), "_possible", lambda _: asks)
        (hot,) = how.hot()
    assert (hot.likely, hot.worst) == (2.0, 2.6)


def test_watts_that_nobody_feels_are_next_to_nothing(search: Search) -> None:
    body = body_of(search.machine, Bare("U1"))[1]
    said = heat_view(Hot("U1", "TO-220", 0.0, body, 1.7e-14, 0.41, -1, True), "", search.machine, UNTOLD).says
    assert "next to nothing, at worst 0.41 W" in said


def test_nobody_knows_the_watts_of_a_part_that_the_file_does_not_have(search: Search) -> None:
    how = ways(standing_so(search.population, AsTold(bare=(Bare("U9"),))))
    (hot,) = how.hot()
    assert not hot.known
    assert all(a.ask is None or a.ask.setup.power == "off" for a in how.possible())


# How it is said ----------------------------------------------------------------------------------

SCREENED = SMALL.replace("package: TO-220", "on: screen")
Bared = tuple[tuple[str, float], ...]


@pytest.mark.parametrize(
    ("typed", "before", "bare"),
    [
        ("heatsink of U1 off", (), (("U1", 0.0),)),
        ("U1's heatsink off", (), (("U1", 0.0),)),
        ("the screen off", (), (("U1", 0.0),)),
        ("no heatsink on U1", (), (("U1", 0.0),)),
        ("heatsink of U1 and R1 off", (), (("R1", 0.0), ("U1", 0.0))),
        ("clip-on heatsink on U1", (), (("U1", 20.0),)),
        ("clip-on heatsink 15 K/W on U1", (("U1", 0.0),), (("U1", 15.0),)),
        ("heatsink of U1 refitted", (("R1", 0.0), ("U1", 0.0)), (("R1", 0.0),)),
        ("U1 heatsink on", (("U1", 20.0),), ()),
        ("screen back on", (("U1", 0.0),), ()),
    ],
)
def test_heatsinks_come_off_and_on_in_the_words_of_the_bench(typed: str, before: Bared, bare: Bared) -> None:
    machine = read(SCREENED)
    context = Context(machine, Bench(Setup(bare=before)))
    heard = hear(typed, context)
    assert not heard.doubts
    assert heard.bench.setup.bare == bare
    setup, wrong = understand(Piece(f"power on, {typed}"), machine, before)
    assert (setup.bare, wrong) == (bare, ())
    assert read_setup(write(setup), machine) == setup


@pytest.mark.parametrize(
    "line", ["lid off", "heatsink of U9 off", "clip-on heatsink", "clip-on heatsink 900 K/W on U1", "screen on"]
)
def test_what_is_off_is_asked_where_nobody_can_know(line: str) -> None:
    heard = hear(line, Context(read(SCREENED), Bench(Setup(bare=(("U1", 0.0),) if line == "screen on" else ()))))
    assert heard.doubts and heard.bench.setup.bare == ((("U1", 0.0),) if line == "screen on" else ())


@pytest.mark.parametrize(
    ("line", "instrument", "answer"),
    [
        ("U1 60 C", "celsius", 60.0), ("U1's tab is 71,5 degrees", "celsius", 71.5), ("U1 1.6 W", "watts", 1.6),
        ("U1 9V to 5V at 0.4A", "watts", 1.645), ("U1 regulator 9 V in, 5 V out, 400 mA", "watts", 1.645),
        ("U1 too hot to touch", "look", "too hot to touch"), ("U1 can be held", "look", "can be held"),
    ],
)  # fmt: skip
def test_warmth_and_watts_of_a_part_are_told_in_a_line(line: str, instrument: str, answer: float | str) -> None:
    for machine in (read(SMALL), None):
        (reading,) = hear(line, Context(machine)).readings
        assert (reading.question.instrument, reading.question.red) == (instrument, "U1")
        assert reading.answer == (pytest.approx(answer) if isinstance(answer, float) else answer)
