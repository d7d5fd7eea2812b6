"""Parts used: every line that fits one is in the list, nothing is typed twice, and each chip is where it was put."""

from __future__ import annotations

import json
import re

import pytest

from follower import FOLLOWER
from probewright.errors import BadInput
from probewright.jobs import bench
from probewright.jobs.cases import BAD, Intake
from probewright.jobs.parts_used import add_part, drop_part, parts_used, parts_view, tell_part
from probewright.jobs.seats import Chip, Swap, suspects_of

NOW = "2026-11-26T13:00:00+00:00"


def brought(book):
    return bench.open_job(book, Intake("amplifier", ticks={"sound left": BAD}, key="k"), NOW)


def said(book, case, *lines):
    for line in lines:
        case = bench.enter_line(book, case, line, NOW)
    return case


def test_what_a_line_fitted_is_in_the_list_until_it_is_taken_back(book):
    case = said(book, brought(book), "Q7 c 11.8 V", "fitted a new C12 and C13", "fitted a new Q7")
    found = parts_used(case)
    assert [(one.part, one.origin, one.where_now) for one in found] == [
        ("C12", "not said", "fitted"), ("C13", "not said", "fitted"), ("Q7", "not said", "fitted")]  # fmt: skip
    assert [one.event for one in found] == [3, 3, 4]
    case = bench.undo(book, case, NOW, 3)
    assert [one.part for one in parts_used(case)] == ["Q7"]
    case = said(book, case, "Q7 b 0.6 V")  # its bench still holds what was fitted when Q7 was
    assert [one.part for one in parts_used(bench.find_case(book, case.number))] == ["Q7"]


def test_an_old_one_put_back_is_its_own_part_again(book):
    case = said(book, brought(book), "fitted a new C12", "fitted a new C12", "put the old C12 back")
    assert [(one.part, one.origin, one.where_now) for one in parts_used(case)] == [
        ("C12", "not said", "out again"), ("C12", "not said", "out again"), ("C12", "own part again", "fitted")]  # fmt: skip


def test_a_line_typed_after_another_was_taken_back_is_its_own(book):
    case = said(book, brought(book), "fitted a new C12", "fitted a new C13")
    case = said(book, bench.undo(book, case, NOW), "put the old C12 back", "fitted a new C14")
    assert [(one.part, one.origin) for one in parts_used(case)] == [
        ("C12", "not said"), ("C12", "own part again"), ("C14", "not said")]  # fmt: skip


def test_what_was_put_back_by_mistake_is_not_fitted_twice(book):
    case = said(book, brought(book), "fitted a new C12", "put the old C12 back")
    case = said(book, bench.undo(book, case, NOW), "Q7 b 0.6 V")
    assert [(one.event, one.part) for one in parts_used(case)] == [(2, "C12")]


def test_what_is_told_is_told_of_one_fitting_and_the_last_word_counts(book):
    case = said(book, brought(book), "fitted a new C12", "fitted a new C12")
    case = tell_part(book, case, "c12", {"origin": "pulled", "source": "an old tuner"}, NOW)
    case = tell_part(book, case, "C12", {"origin": "donor", "state": "in a tester", "was": "in the box"}, NOW)
    case = tell_part(book, case, "C12", {"origin": "new"}, NOW, line=2)
    first, last = parts_used(bench.find_case(book, case.number))
    assert (first.origin, first.source) == ("new", "")
    assert (last.origin, last.source, last.state, last.was) == ("donor", "an old tuner", "in a tester", "in the box")
    view = parts_view(book, case)
    assert view.used == ("C12",) and "Used parts: C12 (donor, an old tuner)." in view.says


def test_what_is_told_moves_nothing_that_is_computed(book):
    case = said(book, brought(book), "fitted a new C12")
    assert tell_part(book, case, "C12", {"origin": "new"}, NOW).mark == case.mark


@pytest.mark.parametrize(
    "part, told, says",
    [("C21", {}, "was not fitted"), ("C12", {"origin": "nwe"}, "no origin"), ("C12", {"was": "lost"}, "becomes of"),
     ("C12", {"colour": "red"}, "nothing that is told"), ("C12", {"source": "job 77"}, "no job 77"),
     ("C12", {"source": "Job 1"}, "this machine itself")],
)  # fmt: skip
def test_what_cannot_be_told_of_a_part_is_refused(book, part, told, says):
    case = said(book, brought(book), "fitted a new C12")
    with pytest.raises(BadInput, match=says):
        tell_part(book, case, part, told, NOW)
    assert not bench.find_case(book, case.number).parts_told


def test_what_no_file_names_is_added_by_itself_and_can_go(book):
    case = add_part(book, brought(book), "mains lead", {"origin": "new"}, NOW)
    (one,) = parts_used(case)
    case = tell_part(book, case, "mains lead", {"was": "thrown away"}, NOW)
    assert parts_used(case)[0].was == "thrown away"
    assert not parts_used(drop_part(book, case, one.event, NOW))
    case = said(book, case, "fitted a new C12")
    with pytest.raises(BadInput, match="added by itself"):
        drop_part(book, case, parts_used(case)[-1].event, NOW)


def test_of_a_rare_one_the_old_part_is_kept_without_a_word(book):
    case = bench.know(book, brought(book), "file", "f.yaml", FOLLOWER, "f.yaml", NOW)
    case = said(book, case, "fitted a new U1", "fitted a new C1")
    assert [one.was for one in parts_used(case)] == ["kept for the owner: it cannot be had again", ""]
    with pytest.raises(BadInput, match="so it is kept"):
        tell_part(book, case, "U1", {"was": "thrown away"}, NOW)
    case = tell_part(book, case, "U1", {"was": "thrown away", "words": "the owner wanted it so"}, NOW)
    assert parts_used(case)[0].was == "thrown away"


def test_units_in_one_case_are_one_part(book):
    two = """
machine: Two followers
parts:
  E1: source 12V  VP > GND
  U1: opamp dual  vplus=VP vminus=GND
  U1A: of U1  plus=A minus=OA out=OA
  U1B: of U1  plus=B minus=OB out=OB
  U2: opamp dual  vplus=VP vminus=GND
  U2A: of U2  plus=C minus=OC out=OC
  U2B: of U2  plus=D minus=OD out=OD
"""
    case = bench.know(book, brought(book), "file", "two.yaml", two, "two.yaml", NOW)
    case = said(book, case, "fitted a new U1", "swapped U1A with U2A: fault followed")
    assert [(one.part, one.where_now) for one in parts_used(case)] == [("U1", "in the place of U2")]
    assert parts_used(tell_part(book, case, "U1B", {"origin": "new"}, NOW))[0].origin == "new"


def test_a_donor_knows_what_was_given_away(book):
    donor = brought(book)
    case = said(book, brought(book), "fitted a new U3")
    case = tell_part(book, case, "U3", {"origin": "donor", "source": f"job {donor.number}"}, NOW)
    assert parts_view(book, donor).given == (f"U3 to job {case.number}",)
    assert parts_view(book, case).given == ()


def test_what_was_given_away_by_mistake_is_taken_back_at_the_donor_too(book):
    """A line undone, a part that was none, a source that was another one or none."""
    donor = brought(book)
    from_it = {"origin": "donor", "source": f"job {donor.number}"}
    by_line = tell_part(book, said(book, brought(book), "fitted a new U3"), "U3", from_it, NOW)
    added = add_part(book, brought(book), "belt", from_it, NOW)
    other = tell_part(book, said(book, brought(book), "fitted a new C1"), "C1", from_it, NOW)
    cleared = tell_part(book, said(book, brought(book), "fitted a new C2"), "C2", from_it, NOW)
    assert parts_view(book, donor).given == ("U3 to job 2", "belt to job 3", "C1 to job 4", "C2 to job 5")
    bench.undo(book, by_line, NOW)
    drop_part(book, added, parts_used(added)[0].event, NOW)
    tell_part(book, other, "C1", {"source": "the shop"}, NOW)
    (one,) = parts_used(tell_part(book, cleared, "C2", {"source": "", "origin": ""}, NOW))
    assert (one.source, one.origin) == ("", "not said")
    assert parts_view(book, donor).given == ()


def test_what_was_told_and_taken_back_is_as_the_line_says_it(book):
    case = said(book, brought(book), "fitted a new C12", "put the old C12 back")
    case = tell_part(book, tell_part(book, case, "C12", {"origin": "pulled"}, NOW), "C12", {"origin": ""}, NOW)
    assert parts_used(case)[-1].origin == "own part again"
    case = add_part(book, case, "belt", {"source": "the shop", "words": " "}, NOW)
    case = tell_part(book, case, "belt", {"source": ""}, NOW)
    assert (parts_used(case)[-1].part, parts_used(case)[-1].source) == ("belt", "")


# The swap chips game --------------------------------------------------------------------------


def test_each_chip_is_where_it_was_put(book):
    case = said(book, brought(book), "swapped U4 with U5: fault followed", "swapped U5 with U6: fault stayed")
    view = parts_view(book, case)
    # U4 went to U5's place and from there to U6's; U5 sits where U4 was, U6 where U5 was
    assert view.seats == ("in the place of U4 sits U5", "in the place of U5 sits U6", "in the place of U6 sits U4")
    assert view.suspect.startswith("U5 is the suspect") and "sits in the place of U4" in view.suspect


def test_a_chip_that_was_fitted_moves_like_any_other(book):
    case = said(book, brought(book), "fitted a new U4", "swapped U4 with U5: fault followed")
    assert parts_used(case)[0].where_now == "in the place of U5"
    assert parts_view(book, case).seats == ("in the place of U4 sits U5", "in the place of U5 sits the new U4")
    case = said(book, case, "swapped U4 with U5 back: fault followed")
    assert (parts_used(case)[0].where_now, parts_view(book, case).seats) == ("fitted", ())


@pytest.mark.parametrize(
    "swaps, left",
    [(("ab followed",), "ab"), (("ab followed", "bc followed"), "b"), (("ab followed", "ac stayed"), "b"),
     (("ab stayed",), ""), (("ab gone",), ""), (("ab followed", "ac stayed", "bc stayed"), None),
     (("ab followed", "cd followed"), None)],
)  # fmt: skip
def test_the_culprit_is_in_every_pair_that_it_followed_and_in_none_that_it_stayed_without(swaps, left):
    made = tuple(
        Swap(1, NOW, Chip(pair[0]), "x", Chip(pair[1]), "y", answer)
        for pair, answer in (one.split() for one in swaps)
    )  # fmt: skip
    found = suspects_of(made)
    assert (found and {one.part for one in found[0]}) == (set(left) if left is not None else None)


# Both doors -----------------------------------------------------------------------------------


def test_the_command_lists_and_tells(probewright, book):
    said(book, brought(book), "fitted a new C12")
    book.close()
    assert "Nobody said yet where C12 comes from" in probewright("parts").stdout
    told = probewright("parts", "--part", "C12", "--origin", "pulled", "--untested", "--old", "in the box", "--json")
    (one,) = json.loads(told.stdout)["parts"]
    assert (one["origin"], one["state"], one["was"], one["event"]) == ("pulled", "untested", "in the box", 2)
    (one,) = json.loads(probewright("parts", "--part", "C12", "--old", "", "--json").stdout)["parts"]
    assert (one["origin"], one["state"], one["was"]) == ("pulled", "untested", "")
    wrong = probewright("parts", "--part", "C12", "--origin", "stolen")
    assert wrong.returncode == 2 and "no origin" in wrong.stderr


def test_a_part_added_twice_by_one_form_is_one(page, book):
    brought(book)
    shown = page.get("/jobs/1/parts").text.partition("What no machine file names")[2]
    sent = {name: re.search(rf'name="{name}" value="([^"]*)"', shown).group(1) for name in ("token", "once")}
    for part in ("mains lead", "mains lead", "belt"):
        page.post("/jobs/1/parts", data=sent | {"do": "add", "part": part})
    assert [one.part for one in parts_used(bench.find_case(book, 1))] == ["mains lead", "belt"]
    assert page.post("/jobs/1/parts", data=sent | {"do": "ad", "part": "fuse"}).status_code == 422


def test_the_page_lists_and_tells(page, book):
    said(book, brought(book), "fitted a new C12", "swapped U4 with U5: fault stayed")
    text = page.get("/jobs/1/parts").text
    token = re.search(r'name="token" value="([^"]*)"', text).group(1)
    assert "Not U4 or U5" in text

    def post(**told: str):
        return page.post("/jobs/1/parts", data={"token": token, **told})

    def tell(**told: str):
        return post(do="tell", line="2", part="C12", origin="new", **told)

    assert "new, from the shop" in tell(source="the shop").text
    shown = re.search(r'name="shown" value="([^"]*)"', page.get("/jobs/1/parts").text).group(1)
    assert shown.split() == ["origin", "source"]
    assert "new, from the shop" in tell().text  # a page from before it was said
    assert "from the shop" not in tell(shown=shown).text
    refused = tell(source="job 99")
    assert refused.status_code == 422 and 'value="job 99"' in refused.text
    assert "mains lead" in post(do="add", part="mains lead", origin="new").text
    assert "mains lead: " not in post(do="back", line="7").text
