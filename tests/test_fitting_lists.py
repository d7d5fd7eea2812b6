"""Taking a part out and putting one in: steps by package and board, heatings, every pin to its next part."""

from __future__ import annotations

import json
import re

import pytest

from probewright import machine
from probewright.errors import BadInput
from probewright.jobs import bench
from probewright.jobs.cases import BAD, Intake
from probewright.jobs.fitting_lists import (
    begin_fit,
    fit_list,
    heat_fit,
    parts_listed,
    say_fit,
    say_fitted,
    take_back_fit,
    tick_fit,
)
from probewright.planning import fitting
from probewright.planning.deciding import removal
from probewright.planning.fitting import DOUBLE, MULTI, SINGLE

NOW = "2026-11-26T13:00:00+00:00"
FILE = """machine: Porch chime PC-2
extras:
  ADAPTOR: source 12V 5% series 0R3  SUP > GND
  LEAD: lead 0.2R  END > JACK
  PHONES: load 32R  JACK > GND
sections:
  supply:
    parts:
      C9: capacitor 100u electrolytic  SUP > GND
  chime:
    parts:
      U3: opamp dual  vplus=SUP vminus=GND
      U3A: of U3  plus=IN minus=FB out=OUT
      U3B: of U3  plus=OUT minus=END out=END
      R1: resistor 10k  OUT > FB
      R2: resistor 10k  FB > GND
      R3: resistor 10R  IN > OUT
      R4: resistor 100k  IN > GND
      C1: capacitor 10u electrolytic  END > GND
      Q1: npn small-signal  c=SUP b=END e=LAMP
      LAMP1: load 100R  LAMP > GND
"""


def brought(book, file=True):
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": BAD}, key="k"), NOW)
    return bench.know(book, case, "file", "the file", FILE, "", NOW) if file else case


def lines(book, case, *said):
    for line in said:
        case = bench.enter_line(book, case, line, NOW)
        assert case.lines[-1].status == "counts", case.lines[-1]
    return case


def keys(package, board, condemned=True):
    return [one.key for one in fitting.steps(fitting.package(package), board, condemned)]


def says(view, phase):
    return [one.says for one in view.items if one.phase == phase]


@pytest.mark.parametrize("named", [one.replace("-16", "-14") for one in fitting.packages()])
@pytest.mark.parametrize("board", fitting.boards())
@pytest.mark.parametrize("condemned", [True, False])
def test_every_package_on_every_board_has_its_way_out_and_in(named, board, condemned):
    steps = fitting.steps(fitting.package(named), board, condemned)
    phases = [one.phase for one in steps]
    assert phases == sorted(phases, key=("before", "out", "clear", "in", "after").index)
    assert {"before", "out", "clear", "in", "after"} == set(phases)
    assert len({one.key for one in steps}) == len(steps) and not any("{" in one.says for one in steps)
    out = [one.key for one in steps if one.phase == "out"]
    assert set(out) & {"stubs", "wipe", "clear all"} if condemned else set(out) & {"clear pins", "melted", "tilt"}
    assert ("cut" in out) <= condemned


def test_a_condemned_chip_is_cut_and_a_kept_one_is_not():
    assert {"cut", "stubs", "tack"} <= set(keys("DIP-16", DOUBLE)) and "clear pins" not in keys("DIP-16", DOUBLE)
    kept = keys("DIP-16", DOUBLE, condemned=False)
    assert {"clear pins", "lift"} <= set(kept) and not {"cut", "stubs"} & set(kept)
    assert {"warm", "ground last", "pump holes"} <= set(keys("DIP-40", MULTI))
    assert "braid holes" in keys("axial", SINGLE) and "pump holes" not in keys("axial", SINGLE)


def test_what_has_no_polarity_is_not_asked_which_way_round_it_is(book):
    case = brought(book)
    turned = [
        name for name in ("R1", "C1", "Q1", "U3") if any(one.key == "way round" for one in fit_list(case, name).items)
    ]
    assert turned == ["C1", "Q1", "U3"]
    told = say_fit(book, case, "R1", NOW, "connector-2")
    assert any(one.key == "round again" for one in fit_list(told, "R1").items)  # a plug has a key


def test_static_is_minded_at_chips_and_heat_at_what_is_soldered_flat():
    def minded(package, word):
        return any(word in one for one in fitting.cares(fitting.package(package), DOUBLE))

    assert minded("SO-8", "Wrist strap") and minded("DIP-8", "Wrist strap") and not minded("axial", "Wrist strap")
    assert minded("QFP-44", "Hot air") and not minded("DIP-8", "Hot air")
    assert minded("radial", "holds lead") and minded("radial", "fumes")


@pytest.mark.parametrize(
    "said, is_",
    [("dip16", ("DIP", 16)), ("DIL 40", ("DIP", 40)), ("0805", ("chip", 2)), ("to220", ("TO-220", 3)),
     ("tube socket", ("tube socket", 9)), ("so-8", ("SO", 8)), ("DIP", None), ("nix-8", None)],
)  # fmt: skip
def test_a_package_is_known_by_its_names_and_its_pins(said, is_):
    found = fitting.package(said)
    assert (found and (found.name, found.pins)) == is_


def test_every_pin_has_its_next_parts_near_ones_first_and_none_of_its_own():
    read = machine.read(FILE)
    units = [read.parts[one] for one in ("U3A", "U3B")]
    found = {one.pin: one for one in fitting.pin_checks(read, units)}
    assert found["U3A.minus"].to == ("R1.2", "R2.1")
    assert found["U3.vplus"].to == ("Q1.c", "C9.1", "ADAPTOR.plus") and "U3B.vplus" not in found
    assert found["U3B.out"].to == ("C1.1", "Q1.b", "LEAD.1")
    assert all(not other.startswith("U3") for one in found.values() for other in one.to)
    [collector] = [one for one in fitting.pin_checks(read, [read.parts["Q1"]]) if one.pin == "Q1.c"]
    assert collector.to == ("U3.vplus", "C9.1", "ADAPTOR.plus")  # once, whatever units share it
    assert len(found["U3.vminus"].to) + found["U3.vminus"].more == 7


def test_neighbours_must_not_beep_but_where_few_ohms_join_them():
    read = machine.read(FILE)
    found = {one.pins: one.through for one in fitting.aparts(read, [read.parts["U3A"], read.parts["U3B"]])}
    assert found["U3A.out", "U3A.minus"] == "" and found["U3A.plus", "U3.vminus"] == ""
    assert ("U3B.out", "U3B.minus") not in found  # they are one net
    joined = machine.read(FILE.replace("R1: resistor 10k", "R1: resistor 4R7"))
    again = {one.pins: one.through for one in fitting.aparts(joined, [joined.parts["U3A"]])}
    assert (again["U3A.out", "U3A.minus"], again["U3A.minus", "U3A.plus"]) == ("R1", "R1")
    assert fitting.aparts(read, [read.parts["R1"]]) == ()


def test_minutes_and_risk_are_those_of_the_table_for_this_heating():
    for heatings in (0, 2, 4):
        one = fitting.risk(16, heatings)
        assert (one.minutes / 60.0, one.damage) == removal(16, heatings + 1)
    assert fitting.risk(16, 1).says == ""
    assert fitting.risk(16, 2).says == "Third heating of these pads: lifts are likely, use a socket or wire"
    assert fitting.risk(16, 6).says.startswith("7th heating")


def test_heatings_are_counted_from_the_lines_and_by_hand(book):
    case = lines(book, brought(book), "fitted a new U3")
    assert fit_list(case, "U3").heatings == 1
    case = lines(book, case, "resoldered U3A.minus", "set-up: lift U3A.minus", "set-up: power on")
    view = fit_list(case, "u3b")
    assert (view.part, view.heatings) == ("U3", 4)
    assert [one.says for one in view.heated] == [
        "new U3 fitted", "U3A.minus resoldered", "U3A.minus lifted", "U3A.minus back"]  # fmt: skip
    assert view.next.says.startswith("Fifth heating")
    assert fit_list(case, "R1").heatings == 0
    case = heat_fit(book, case, "R1", 2, "by earlier hands", NOW)
    assert (fit_list(case, "R1").heatings, fit_list(case, "R1").next.heating) == (2, 3)
    case = take_back_fit(book, case, case.fits.heated[0].event, NOW)
    assert fit_list(case, "R1").heatings == 0
    case = bench.undo(book, case, NOW)
    assert fit_list(case, "U3").heatings == 3
    with pytest.raises(BadInput, match="0 heatings"):
        heat_fit(book, case, "R1", 0, "", NOW)


def test_two_pads_hot_once_each_are_hot_once(book):
    case = lines(book, brought(book), "resoldered U3A.minus", "resoldered U3A.out")
    assert fit_list(case, "U3").heatings == 1


def test_what_is_said_of_a_part_lasts_and_the_board_holds_for_the_others(book):
    case = say_fit(book, brought(book), "U3", NOW, "DIP-14", "multilayer", kept=True)
    view = fit_list(case, "U3")
    assert (view.package, view.pins, view.board, view.kept, view.board_said) == ("DIP", 14, MULTI, True, True)
    other = fit_list(case, "Q1")
    assert (other.package, other.package_said, other.board, other.kept) == ("TO-92", False, MULTI, False)
    with pytest.raises(BadInput, match="no package with its pins; write it with its pins"):
        say_fit(book, case, "U3", NOW, "DIP")
    with pytest.raises(BadInput, match="no kind of board"):
        say_fit(book, case, "U3", NOW, board="granite")
    with pytest.raises(BadInput, match="no part 'U9'; write `U3`"):
        fit_list(case, "U9")


def test_steps_are_ticked_with_their_time_and_the_list_is_done_when_every_pin_is(book):
    case = brought(book)
    for one in fit_list(case, "U3").items[:-1]:
        case = tick_fit(book, case, "U3", one.number, "ok", "", NOW)
    assert not fit_list(case, "U3").done
    last = len(fit_list(case, "U3").items)
    case = tick_fit(book, case, "U3", last, "bad", "beeps", NOW)
    assert [(one.done, one.words, one.at) for one in fit_list(case, "U3").items[-1:]] == [("bad", "beeps", NOW)]
    assert not fit_list(case, "U3").done
    case = tick_fit(book, case, "U3", last, "ok", "", NOW)
    assert fit_list(case, "U3").done and fit_list(case, "R1").items[0].done == ""
    assert bench.find_case(book, case.number).fits == case.fits
    assert not any(one.done for one in fit_list(begin_fit(book, case, "U3", NOW), "U3").items)
    with pytest.raises(BadInput, match="has no 99"):
        tick_fit(book, case, "U3", 99, "ok", "", NOW)


def test_a_new_part_is_proposed_to_the_bench_once_soldered_and_never_said_silently(book):
    case = brought(book)
    solder = next(one.number for one in fit_list(case, "U3").items if one.key == "solder")
    case = tick_fit(book, case, "U3", solder, "ok", "", NOW)
    assert (fit_list(case, "U3").proposal, case.bench.fitted) == ("new U3 fitted", ())
    case = say_fitted(book, case, "U3", NOW)
    assert set(case.bench.fitted) == {"U3A", "U3B"} or case.bench.fitted == ("U3",)
    assert (fit_list(case, "U3").proposal, fit_list(case, "U3").heatings) == ("", 1)
    with pytest.raises(BadInput, match="no line is proposed"):
        say_fitted(book, case, "U3", NOW)


def test_nothing_of_it_moves_what_is_computed(book):
    case = brought(book)
    assert heat_fit(book, case, "R1", 1, "", NOW).mark == case.mark


def test_without_a_file_the_steps_stand_and_the_pins_are_left_to_the_hand(book):
    view = fit_list(brought(book, file=False), "ic7")
    assert (view.part, view.package, says(view, "pins")) == ("IC7", "DIP", [])
    assert "write down where each leads" in view.notes[0]
    assert parts_listed(brought(book)) == ("C9", "U3", "R1", "R2", "R3", "R4", "C1", "Q1", "LAMP1")
    with pytest.raises(BadInput, match="no name of a part"):
        fit_list(brought(book, file=False), "that chip")


def test_on_the_command_line(probewright, book):
    brought(book)
    book.close()
    view = json.loads(probewright("fit-list", "U3", "--package", "DIP-8", "--heated", "2", "--json").stdout)
    assert (view["package_said"], view["next"]["heating"]) == (True, 3)
    text = probewright("fit-list", "U3", "--done", "1").stdout
    assert "U3A.minus → R1.2, R2.1: about 0 ohm" in text and "[x] 1. Photograph" in text
    assert "Third heating of these pads" in text


def test_on_the_page_one_step_at_a_time(page, book):
    brought(book)
    token = re.search(r'name="token" value="([^"]*)"', page.get("/jobs/1/fit-list").text).group(1)

    def post(of="/U3", **said: str):
        return page.post(f"/jobs/1/fit-list{of}", data={"token": token, **said})

    assert "U3: take out and fit" in post("", part="u3b").text
    assert post("", part="U9").status_code == 422
    keys = [one.key for one in fit_list(bench.find_case(book, 1), "U3").items]
    assert "2 of " in post(do="ok", item=keys[0]).text
    assert "Not well: lifted" in post(do="bad", item=keys[1], words="lifted").text
    assert "multi-layer board, to be kept" in post(do="is", package="DIP-8", board="multi-layer", kept="yes").text
    refused = post(do="is", package="DIP", board="multi-layer")
    assert refused.status_code == 422 and 'value="DIP"' in refused.text
    assert "Third heating" in post(do="heated", times="2", words="earlier hands").text
    assert "Begun" in page.get("/jobs/1/fit-list").text


def test_a_step_ticked_on_an_old_page_is_the_one_that_was_shown(page, book):
    case = brought(book)
    old = page.get("/jobs/1/fit-list/U3").text
    token = re.search(r'name="token" value="([^"]*)"', old).group(1)
    item = re.search(r'name="item" value="(pin [^"]*)"', old).group(1)
    before = next(one.number for one in fit_list(case, "U3").items if one.key == item)
    case = say_fit(book, case, "U3", NOW, "QFP-44", MULTI, True)
    assert next(one.number for one in fit_list(case, "U3").items if one.key == item) != before
    sent = {"token": token, "do": "ok", "item": item}
    assert page.post("/jobs/1/fit-list/U3", data=sent).status_code == 200
    assert [one.item for one in bench.find_case(book, 1).fits.ticks] == [item]
    refused = page.post("/jobs/1/fit-list/U3", data=sent | {"item": "no such step"})
    assert refused.status_code == 422 and "any more" in refused.text


def test_pads_heated_twice_by_one_form_were_hot_once(page, book):
    brought(book)
    shown = page.get("/jobs/1/fit-list/U3").text
    sent = {name: re.search(rf'name="{name}" value="([^"]*)"', shown).group(1) for name in ("token", "once")}
    for words in ("earlier hands", "earlier hands", "and then mine"):
        page.post("/jobs/1/fit-list/U3", data=sent | {"do": "heated", "times": "1", "words": words})
    assert [one.words for one in bench.find_case(book, 1).fits.heated] == ["earlier hands", "and then mine"]
    event = bench.find_case(book, 1).fits.heated[0].event
    refused = page.post("/jobs/1/fit-list/U3", data=sent | {"do": "haeted", "entry": str(event)})
    assert refused.status_code == 422 and len(bench.find_case(book, 1).fits.heated) == 2
