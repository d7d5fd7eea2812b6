"""A line that told of a repair and was taken back, with others after it: nothing that reads the record goes by it."""

from __future__ import annotations

from dataclasses import asdict

import pytest

from checked import checked
from dividers import DIVIDERS
from hidden import NOW, HiddenBench, opened
from probewright.jobs import bench
from probewright.jobs.cases import BAD, Case, Intake, fold
from probewright.jobs.coming_back import SAID, as_before
from probewright.jobs.fits import heatings
from probewright.jobs.handing_over import mended
from probewright.jobs.parts_used import parts_used
from probewright.jobs.powering import due
from probewright.jobs.proving import prove
from probewright.jobs.repairs import repair_lines, repaired_at
from probewright.jobs.safety_checks import mended_at
from probewright.record import Book


def brought(book: Book) -> Case:
    return bench.open_job(book, Intake("amplifier", ticks={"sound left": BAD}, key="k"), NOW)


def said(book: Book, case: Case, *lines: str) -> Case:
    for line in lines:
        case = bench.enter_line(book, case, line, NOW)
    return case


def without(book: Book, case: Case, text: str) -> Case:
    gone = next(line.event for line in case.live if line.text == text)
    return bench.undo(book, case, NOW, gone)


def cured(book: Book) -> HiddenBench:
    job = opened(book, DIVIDERS, "R3 open", model="Model 7")
    job.type("OUT 0 V", "MID 6 V", "replaced R3", "output ok", "OUT 3.81 V")
    return job


def test_nothing_is_repaired_once_its_middle_line_is_taken_back(book: Book) -> None:
    job = cured(book)
    case = without(book, job.case, "replaced R3")
    assert case.bench.fitted == case.bench.setup.replaced == () and case == fold(book.events(case.number))
    assert {one.question.setup.replaced for one in case.readings} == {()}, "they were taken with the old one in"
    assert (parts_used(case), list(repair_lines(case)), repaired_at(case), mended_at(case)) == ((), [], 0, 0)
    assert prove(case).standing == prove(said(book, brought(book), "OUT 0 V")).standing
    assert as_before(case, SAID).touched == () and due(case)[0] == ""
    job.case = case
    job.now()
    closed = bench.close(book, checked(book, bench.find_case(book, case.number)), "repaired", "", NOW)
    assert closed.found is None, "no repair proves a culprit"


def test_what_was_not_taken_back_stays_with_its_own_line(book: Book) -> None:
    case = said(book, brought(book), "fitted a new C12", "Q7 c 11 V", "fitted a new C13", "OUT 2 V", "resoldered C14.1")
    assert [line.text for line in repair_lines(case)][-1] == "resoldered C14.1"
    case = without(book, case, "fitted a new C12")
    assert case.bench.fitted == case.bench.setup.replaced == ("C13",)
    assert [one.question.setup.replaced for one in case.readings] == [(), ("C13",)]
    assert [one.part for one in parts_used(case)] == ["C13"] and not heatings(case, "C12", ())
    case = without(book, case, "resoldered C14.1")
    assert (mended(case), heatings(case, "C14", ())) == ([], ())
    assert repaired_at(case) == next(line.event for line in case.live if line.text == "fitted a new C13")


def test_an_old_part_said_to_be_back_by_mistake_leaves_the_new_one_in(book: Book) -> None:
    case = said(book, brought(book), "fitted a new C12", "OUT 2 V", "put the old C12 back", "OUT 3 V", "sister OUT 4 V")
    case = without(book, case, "put the old C12 back")
    assert case.bench.fitted == ("C12",) and [one.part for one in parts_used(case)] == ["C12"]
    assert [one.question.setup.replaced for one in case.readings] == [("C12",), ("C12",), ()]


def test_a_part_can_be_fitted_anew_after_its_line_was_taken_back(book: Book) -> None:
    case = without(book, said(book, brought(book), "fitted a new C12", "OUT 2 V"), "fitted a new C12")
    case = said(book, case, "OUT 3 V", "fitted a new C12")
    assert not any("was new already" in says for says in case.lines[-1].says)
    assert [(one.event, one.part) for one in parts_used(case)] == [(case.lines[-1].event, "C12")]


@pytest.mark.parametrize("engine", ["0.6.0", "0.7.0"])
def test_a_line_of_an_earlier_version_took_along_what_was_taken_back(book: Book, engine: str) -> None:
    """Up to 0.6 the bench of a new line still held it, in the readings too."""
    case = said(book, brought(book), "fitted a new C12", "OUT 2 V")
    took = said(book, case, "OUT 3 V")
    events = [one for one in book.events(case.number)]
    job = book.open_job(asdict(case.intake), NOW, engine).job
    for one in events[1:3]:
        book.append(job, one.kind, one.payload, NOW, engine)
    book.append(job, "undone", {"event": case.lines[0].event}, NOW, engine)
    book.append(job, "said", events[3].payload, NOW, engine)
    found = fold(book.events(job))
    new = () if engine == "0.6.0" else ("C12",)
    assert took.bench.fitted == ("C12",) and found.bench.fitted == found.bench.setup.replaced == new
    assert found.readings[-1].question.setup.replaced == new
