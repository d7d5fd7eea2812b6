"""What a bench has and how long its steps take there: told, learnt from time stamps, and what is proposed by it."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import datetime, timedelta
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from checked import checked
from conftest import Run
from hidden import NOW, opened
from probewright import jobs
from probewright.errors import BadInput
from probewright.inference.answers import sample
from probewright.jobs import bench
from probewright.jobs.equipping import tell_kit, view_kit, with_instruments
from probewright.jobs.pacing import Pace, kit_of, paces
from probewright.jobs.standing import stand
from probewright.machine import read
from probewright.planning.minutes import Stand, change, changes, held, minutes, rows
from probewright.planning.ways import ways
from probewright.readings import SCOPED, Setup
from probewright.readings.kit import TOOLS, UNTOLD, Kit, tool_of
from probewright.record import Book
from test_web import hidden
from timed_machines import SUPPLY

METER = Kit(has=frozenset({"meter"}))
SCOPES = ("pp", *SCOPED)


# What it has ---------------------------------------------------------------------------------


def test_nobody_lacks_what_nobody_told_of() -> None:
    assert UNTOLD.reads("dc") and UNTOLD.reads("frequency") and not UNTOLD.reads("esr")
    assert UNTOLD.reads("esr", shown={"esr"}), "a bench that read one has one"
    assert not any(UNTOLD.lacks(one) for reads in TOOLS.values() for one in reads)


def test_a_bench_with_a_meter_alone_reads_what_a_meter_reads() -> None:
    assert METER.reads("ohms") and not METER.reads("pp") and not METER.reads("esr", shown={"esr"})
    assert METER.reads("provoke") and METER.reads("swap") and METER.reads("works"), "hands, eyes and ears"
    assert all(tool_of(one) == "scope" for one in SCOPES)


def test_without_a_scope_none_is_proposed_and_the_report_says_what_one_would_tell(book: Book) -> None:
    """A hum by a diode that is open and one by a capacitor that dried out: a scope tells them by the frequency."""
    bench_ = opened(book, SUPPLY, "C1 low-value")
    bench_.type("quiet: ?")
    for has in (["meter"], ["meter", "esr meter", "capacitance meter"]):
        bench_.case = replace(bench_.case, kit=with_instruments(bench_.case.kit, has))
        shown = stand(book, bench_.case, NOW)
        proposed = {one.instrument for one in shown.search.actions}
        assert proposed and not any(bench_.case.kit.lacks(one) for one in proposed)
        lacks = [one.beyond for one in shown.search.classes if one.beyond]
        tools = {text.partition(":")[0].split(" ", 2)[2] for text in lacks}
        assert tools and not tools & set(has), "the cheapest that would tell is one that is not here"
    assert tools == {"scope"}, shown.search.classes


def test_an_esr_meter_is_proposed_where_there_is_one() -> None:
    search = jobs.open_search(read(SUPPLY))
    for kit, there in ((UNTOLD, False), (METER, False), (Kit(frozenset({"meter", "esr meter"})), True)):
        asked = [one.ask.instrument for one in ways(sample(search.belief, kit)).possible() if one.ask]
        assert ("esr" in asked) is there and ("pp" in asked) is (kit is UNTOLD), kit


def test_where_there_is_no_scope_a_meter_says_how_large_a_slow_signal_is() -> None:
    text = files("probewright.demo").joinpath("fernside-ds-3.yaml").read_text("utf-8")
    by = {}
    for name, kit in (("usual", UNTOLD), ("meter", METER)):
        search = jobs.open_search(read(text, "ds-3"), kit=kit)
        by[name] = {one.ask.instrument for one in search.view.actions if one.ask is not None}
    assert by["usual"] and by["meter"] and not {*SCOPES} & by["meter"]


# How long it takes ---------------------------------------------------------------------------


def test_what_a_bench_told_is_what_a_step_costs() -> None:
    slow = Kit(minutes={"dc": 4.0, "power on": 9.0})
    off, on = Setup(power="off"), Setup()
    assert minutes("dc", slow) == 4.0 and minutes("ohms", slow) == minutes("ohms")
    assert change(Stand(off, "ohms"), Stand(on, "dc"), slow) == 9.0 + minutes("instrument")
    assert list(changes(Stand(off, "ohms"), Stand(on, "dc"))) == ["power on", "instrument"]


NIGHT = datetime.fromisoformat(NOW)


def taken(book: Book, gaps: list[float], line: str = "TP{0} 5.{0} V") -> None:
    """A job whose lines came these minutes after one another."""
    case = bench.open_job(book, bench.Intake("amplifier", key="k"), NOW)
    at = NIGHT
    for n, gap in enumerate([0.0, *gaps]):
        at += timedelta(minutes=gap)
        case = bench.enter_line(book, case, line.format(n + 1), at.isoformat(), None)
        assert case.lines[-1].status == "counts", case.lines[-1].says
    bench.close(book, checked(book, case, at.isoformat()), "repaired", "", at.isoformat())


def test_a_bench_that_takes_three_times_as_long_is_learnt_from_its_stamps(book: Book) -> None:
    taken(book, [3.0 * minutes("dc")] * 12)
    (dc,) = (one for one in view_kit(book).paces if one.row == "dc")
    assert dc.gaps == 12 and dc.learnt is not None and 2.0 * dc.usual < dc.learnt < 3.0 * dc.usual
    assert kit_of(book).minutes == {"dc": pytest.approx(dc.learnt)}
    tell_kit(book, None, {"dc": 0.4}, NOW)
    assert kit_of(book).minutes["dc"] == 0.4, "what somebody told comes first"
    tell_kit(book, None, {"dc": None}, NOW)
    assert kit_of(book).minutes["dc"] == pytest.approx(dc.learnt)


def test_who_went_away_or_copied_a_note_teaches_nothing(book: Book) -> None:
    taken(book, [45.0, 0.01, 600.0, 0.0])
    assert kit_of(book).minutes == {}


def test_a_job_closed_once_more_is_learnt_from_once(book: Book) -> None:
    taken(book, [2.0] * 4)
    once = kit_of(book)
    case = bench.reopen(book, bench.find_case(book, 1), NOW)
    assert case.kit == once
    bench.close(book, checked(book, case), "repaired", "", NOW)
    assert kit_of(book) == once and len(book.own_events()) == 2


@given(over=st.floats(-3.0, 3.0), few=st.integers(1, 40), more=st.integers(1, 40))
def test_the_more_gaps_the_nearer_to_what_they_say(over: float, few: int, more: int) -> None:
    said, usual = minutes("ohms") * math.exp(over), minutes("ohms")
    near, far = Pace(few + more, over).minutes("ohms"), Pace(few, over).minutes("ohms")
    assert abs(math.log(near / said)) <= abs(math.log(far / said)) + 1e-12
    assert min(usual, said) - 1e-9 <= near <= max(usual, said) + 1e-9


def test_the_time_to_switch_off_is_the_change_and_not_the_reading(book: Book) -> None:
    """Power off takes twice as long as the reading that follows it, so the gap speaks for neither alone."""
    case = bench.open_job(book, bench.Intake("amplifier", key="k"), NOW)
    at = [NIGHT + timedelta(minutes=m) for m in (0.0, 1.0, 1.5, 8.0)]
    for line, when in zip(("TP1 5.1 V", "TP2 5.2 V", "set-up: off", "R1 47 ohm"), at, strict=True):
        case = bench.enter_line(book, case, line, when.isoformat(), None)
    assert set(paces(case, None)) == {"dc"} and paces(case, None)["dc"].gaps == 1


def test_every_step_that_can_be_told_is_one_that_costs() -> None:
    assert {held(one) for one in rows()} == set(rows())


# Doors ---------------------------------------------------------------------------------------


def test_what_is_told_of_the_bench_outlives_the_program(probewright: Run, tmp_path) -> None:
    told = probewright("kit", "--has", "Meter, scope", "--minutes", "dc=0,5", "--minutes", "power on=6")
    assert told.returncode == 0, told.stderr
    view = json.loads(probewright("kit", "--json").stdout)
    assert view["told"] and [one["name"] for one in view["tools"] if one["here"]] == ["meter", "scope"]
    assert {one["row"]: one["told"] for one in view["paces"] if one["told"]} == {"dc": 0.5, "power on": 6.0}
    assert "(told; usual 1)" in probewright("kit").stdout
    probewright("kit", "--usual", "dc")
    assert {one["row"] for one in json.loads(probewright("kit", "--json").stdout)["paces"] if one["told"]} == {
        "power on"
    }


@pytest.mark.parametrize(
    ("said", "names"),
    [
        (("--has", "scoop"), "scope"),
        (("--minutes", "dcc=1"), "dc"),
        (("--minutes", "dc=soon"), "dc=0.5"),
        (("--minutes", "dc=0"), "0.05"),
        (("--minutes", "dc"), "dc=0.5"),
    ],
)
def test_what_is_told_wrongly_is_asked_back_and_nothing_is_kept(
    probewright: Run, said: tuple[str, str], names: str
) -> None:
    answer = probewright("kit", *said)
    assert answer.returncode == 2 and names in answer.stderr and "Traceback" not in answer.stderr
    assert not json.loads(probewright("kit", "--json").stdout)["told"]


def test_the_card_for_today_without_a_scope(probewright: Run) -> None:
    probewright("job", "open", "--kind", "amplifier", "--bad", "sound left")
    assert probewright("next", "--instruments", "meter").returncode == 0
    wrong = probewright("next", "--instruments", "oscillograph")
    assert wrong.returncode == 2 and "scope" in wrong.stderr


def test_an_instrument_is_told_by_its_name(book: Book) -> None:
    with pytest.raises(BadInput):
        tell_kit(book, ["meter", "crystal ball"], {}, NOW)
    assert book.own_events() == ()


def test_the_page_keeps_what_was_ticked_and_typed(page: TestClient, book: Book) -> None:
    text = page.get("/kit").text
    assert "Instruments here" in text and "usual" in text
    told = {"token": hidden(text, "token"), "has meter": "yes", "minutes dc": "0,5"}
    answer = page.post("/kit", data=told)
    assert answer.status_code == 200 and "Kept." in answer.text and "told; usual 1" in answer.text
    assert kit_of(book) == Kit(frozenset({"meter"}), {"dc": 0.5})
    empty = page.post("/kit", data={**told, "minutes dc": ""})
    assert empty.status_code == 200 and kit_of(book) == METER


def test_a_wrong_figure_on_the_page_keeps_what_was_typed(page: TestClient, book: Book) -> None:
    text = page.get("/kit").text
    told = {
        "token": hidden(text, "token"),
        "has meter": "yes",
        "has scope": "yes",
        "minutes dc": "soon",
        "minutes tap": "2",
    }
    answer = page.post("/kit", data=told)
    assert answer.status_code == 422 and 'value="soon"' in answer.text and 'value="2"' in answer.text
    assert book.own_events() == ()


def test_what_was_told_first_of_a_bench_changes_nothing_else(page: TestClient, book: Book) -> None:
    """A form sent as it came tells nothing, so nobody is taken at a word that was never said."""
    text = page.get("/kit").text
    page.post("/kit", data={"token": hidden(text, "token"), "has meter": "yes", "has scope": "yes"})
    assert book.own_events() == () and kit_of(book) == UNTOLD
