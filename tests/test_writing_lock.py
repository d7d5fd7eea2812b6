"""Nobody is kept from writing while something is worked out, and nothing is put down of a job that changed meanwhile."""

from __future__ import annotations

import re

import pytest

from hidden import NOW, opened
from probewright.jobs import added_circuits, bench, billing, handing_over, remembering, why_died
from probewright.jobs.cases import Intake
from test_added_circuits import on_bench
from test_why_died import BOARD


@pytest.fixture
def watch(page, monkeypatch):
    """Have a function do something more when it is called; a list of whether writing was held up then."""
    desk = next(one.endpoint.__self__.desk for one in page.app.routes if hasattr(one.endpoint, "__self__"))

    def on(module, name, more=lambda: None):
        held, real = [], getattr(module, name)

        def spied(*given, **named):
            held.append(desk.writing.locked())
            more()
            return real(*given, **named)

        monkeypatch.setattr(module, name, spied)
        return held

    return on


def token_of(page, at):
    return re.search(r'name="token" value="([^"]*)"', page.get(at).text).group(1)


PLACED = {"circuit": "follower-output", "value form": "direct", "to IN": "SIG", "to OUT": "OUT", "to SUPPLY": "VCC",
          "lift": "X1.out"}  # fmt: skip


def seen_enough():
    """The judging itself, which takes a while, is tried elsewhere."""
    raise bench.complaint("seen enough", "go on")


def test_a_circuit_is_judged_while_others_write(page, book, watch):
    on_bench(book)
    token = token_of(page, "/jobs/1/added?circuit=follower-output")
    held = watch(added_circuits, "try_out", seen_enough)
    told = page.post("/jobs/1/added", data={"token": token, "do": "try", **PLACED})
    assert held == [False] and "Seen enough" in told.text
    assert page.post("/jobs/1/added", data={"token": token, "do": "tri", **PLACED}).status_code == 422


def test_a_circuit_is_not_kept_with_a_file_that_changed_meanwhile(page, book, watch):
    on_bench(book)
    token = token_of(page, "/jobs/1/added?circuit=follower-output")
    held = watch(added_circuits, "said_of", lambda: bench.enter_line(book, bench.find_case(book, 1), "OUT 1 V", NOW))
    refused = page.post("/jobs/1/added", data={"token": token, "do": "keep", **PLACED})
    assert held == [False] and refused.status_code == 422 and "has changed since" in refused.text
    assert not bench.find_case(book, 1).added


def checked(page, **told):
    text = page.get("/jobs/1/why?part=C2&wait=yes").text
    token, killer = (re.search(rf'name="{name}" value="([^"]*)"', text).group(1) for name in ("token", "killer"))
    return {"token": token, "part": "C2", "killer": killer, "words": "520 ohm", "do": "checked", **told}


def test_what_kills_a_part_is_worked_out_while_others_write(page, book, watch):
    opened(book, BOARD)
    sent = checked(page)
    bench.enter_line(book, bench.find_case(book, 1), "RAW 12 V", NOW)  # so that it has to be worked out anew
    held = watch(why_died, "_work_out")
    page.post("/jobs/1/why", data=sent, follow_redirects=False)
    assert held and not any(held) and len(bench.find_case(book, 1).checked) == 1
    assert page.post("/jobs/1/why", data=sent | {"do": "chequed"}).status_code == 422


def test_no_killer_is_checked_on_a_job_that_changed_meanwhile(page, book, watch):
    opened(book, BOARD)
    sent = checked(page)
    watch(why_died, "worked_out", lambda: bench.enter_line(book, bench.find_case(book, 1), "RAW 12 V", NOW))
    refused = page.post("/jobs/1/why", data=sent, follow_redirects=False)
    assert refused.status_code == 422 and not bench.find_case(book, 1).checked


def test_a_paper_is_made_while_others_write(page, book, watch):
    bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
    token, held = token_of(page, "/jobs/1/papers"), watch(handing_over, "hand_over")
    page.post("/jobs/1/papers", data={"token": token, "do": "hand", "paper": "record"}, follow_redirects=False)
    assert held == [False]
    assert [one.paper for one in bench.find_case(book, 1).papers.handed] == ["record"]
    assert page.post("/jobs/1/papers", data={"token": token, "do": "hnad", "paper": "record"}).status_code == 422
    assert len(bench.find_case(book, 1).papers.handed) == 1


def test_no_paper_is_handed_over_that_is_not_true_any_more(page, book, watch):
    bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
    token = token_of(page, "/jobs/1/papers")
    meanwhile = [lambda: billing.charge(book, bench.find_case(book, 1), "belt", "900", NOW)]
    watch(handing_over, "hand_over", lambda: meanwhile and meanwhile.pop()())
    refused = page.post("/jobs/1/papers", data={"token": token, "do": "hand", "paper": "bill"})
    assert refused.status_code == 422 and "has changed since" in refused.text
    assert not bench.find_case(book, 1).papers.handed


def test_two_taps_at_the_same_moment_hand_a_paper_over_once(page, book, watch):
    bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
    sent = {"token": token_of(page, "/jobs/1/papers"), "do": "hand", "paper": "record", "once": "one form"}
    other = [lambda: page.post("/jobs/1/papers", data=sent)]
    watch(handing_over, "hand_over", lambda: other and other.pop()())
    assert page.post("/jobs/1/papers", data=sent, follow_redirects=False).status_code == 303
    assert not other and len(bench.find_case(book, 1).papers.handed) == 1


def test_what_was_learnt_is_added_up_while_others_write(page, book, watch):
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
    # as a version closed it that learnt nothing yet
    bench.append(book, case, "closed", {"ending": "repaired", "words": "", "at": NOW}, NOW)
    assert remembering.is_behind(bench.find_case(book, 1))
    folded, added_up, caught = (
        watch(bench, "every_case"), watch(remembering, "usual_in"), watch(remembering, "keep_culprits")
    )  # fmt: skip
    assert page.get("/learnt").status_code == 200
    assert (folded, set(added_up), caught) == ([False], {False}, [True])
