"""The clock on the bench's wall: what a person reads is local, what the record and JSON hold is UTC."""

from __future__ import annotations

import json
import re
import time
from functools import partial
from pathlib import Path

import pytest

from conftest import ROOT
from probewright.jobs import bench, deciding, proving
from probewright.jobs.cases import BAD, Intake, Tried
from probewright.jobs.checking_safety import check, left_unsafe
from probewright.jobs.deciding import consent, option_said
from probewright.jobs.fitting_lists import fit_list, heat_fit, tick_fit
from probewright.jobs.parts_used import add_part
from probewright.jobs.putting_together import put_back, refit
from probewright.jobs.safety_checks import safety
from probewright.jobs.stripping import take_off
from probewright.jobs.view import plain
from probewright.report import bench as told
from probewright.report import decisions, fits, layers, proofs
from probewright.report import safety as in_words
from probewright.report.times import day, hour, local
from probewright.web.waiting import age

LATE = "2026-11-26T23:30:00+00:00"  # where the clock is 5 h 45 min ahead, a quarter past five of the next day


@pytest.fixture
def ahead(monkeypatch: pytest.MonkeyPatch):
    """A bench in Nepal, whose clock no whole hour brings to UTC."""
    monkeypatch.setenv("TZ", "<+0545>-05:45")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def test_a_time_is_said_by_the_clock_on_the_wall(ahead):
    assert (local(LATE), day(LATE), hour(LATE)) == ("2026-11-27 05:15", "2026-11-27", "05:15")
    assert local("2026-11-26T23:30:00+01:00") == "2026-11-27 04:15"  # whatever the zone it was written in


def test_today_is_the_day_of_the_bench(ahead):
    assert age("2026-11-26T18:30:00+00:00", LATE) == "today"  # a quarter past midnight there
    assert age("2026-11-26T18:00:00+00:00", LATE) == "1 day"  # a quarter to midnight of the day before


def full(book):
    """A job with a time at every place where a person reads one."""
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": BAD}, key="k"), LATE)
    case = bench.enter_line(book, case, 'owner says yes to a new U3: "go ahead"', LATE)
    case = deciding.add_option(book, case, option_said("new", "a new U3", {"parts": 8.0}, 16), LATE)
    case = consent(book, case, "a new U3", "go ahead", None, LATE)
    case = proving.tried(book, case, Tried(0, LATE, "starts", 10.0, 3), LATE)
    case = add_part(book, case, "belt", {}, LATE)
    case = check(book, case, "earth", "3 ohm", LATE)
    case = left_unsafe(book, case, "no earth", "C. Owner", LATE)
    case = put_back(book, take_off(book, case, "lid: 4 screws 12 mm", LATE), "1", LATE)
    case = heat_fit(book, tick_fit(book, case, "U3", 1, "ok", "", LATE), "U3", 1, "by earlier hands", LATE)
    return proving.begin_run(book, case, "warm", LATE)


def read(page, path):
    """What a person reads of a page of the job."""
    found = page.get(f"/jobs/1{path}")
    assert found.status_code == 200
    return re.sub(r"<(head|script).*?</\1>", "", found.text, flags=re.S)


@pytest.mark.parametrize("path", [
    "", "/decision", "/proof", "/parts", "/safety", "/strip?back=no", "/strip?back=yes", "/fit-list/U3",
    "/papers/record",
])  # fmt: skip
def test_no_page_shows_another_clock(page, book, ahead, path):
    full(book)
    text = read(page, path)
    assert "05:15" in text and "23:30" not in text and "UTC" not in text
    assert "2026-11-27" in page.get("/jobs").text


@pytest.mark.parametrize("path", ["/papers", "/why", "/added", "/like", "/share"])
def test_a_page_without_a_time_shows_no_other_clock_either(page, book, ahead, path):
    full(book)
    text = read(page, path)
    assert "23:30" not in text and "UTC" not in text


def test_no_command_shows_another_clock(book, ahead):
    case = full(book)
    for view, words in (
        (deciding.decide_on(book, case, None), decisions.decision),
        (proving.prove(case), partial(proofs.proof, now=LATE)),
        (safety(case), in_words.safety), (bench.view_case(case), told.case),
    ):  # fmt: skip
        said = words(view)
        assert "2026-11-27 05:15" in said and "23:30" not in said and "UTC" not in said
        assert LATE in json.dumps(plain(view))


def test_no_list_for_the_hands_shows_another_clock(book, ahead):
    case = full(book)
    for said in (layers.refit(refit(case)), fits.fit_list(fit_list(case, "U3"))):
        assert "(05:15, " in said and "23:30" not in said
    assert "hot 2026-11-27 05:15: by earlier hands" in said


def test_no_template_cuts_a_time_to_size_by_itself():
    """A slice of an ISO time is the time of another place."""
    for one in sorted((ROOT / "src/probewright/web/templates").glob("*.html")):
        found = re.findall(r"\{\{[^}]*(?:\[:1\d\]|\[11:\d\d\])[^}]*\}\}|UTC", one.read_text("utf-8"))
        assert not found, f"{Path(one).name}: {found}"
