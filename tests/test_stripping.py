"""Taking a machine apart and putting it together again: what goes back when, what is looked at, what is left over."""

from __future__ import annotations

import json
import re
from html import unescape

import pytest

from checked import checked
from probewright.errors import BadInput
from probewright.jobs import bench, picturing
from probewright.jobs.cases import BAD, Intake
from probewright.jobs.handing_over import OWNER, RECORD, hand_over
from probewright.jobs.putting_together import explain, looked_at, put_back, refit
from probewright.jobs.stripping import (
    follow,
    say_proposed,
    strip_down,
    take_back,
    take_off,
    take_off_planned,
    tie_photo,
)
from probewright.jobs.view import plain
from probewright.jobs.ways_to_end import HANDED_BACK
from probewright.machine.opening import read_layer
from probewright.report import layers, papers
from probewright.report.paper import text as in_text
from test_photos import file, scene

NOW = "2026-11-26T13:00:00+00:00"
FILE = """machine: Porch lamp PL-4
parts:
  ADAPTOR: source 12V 5% series 0R3  SUP > GND
  J3: connector SUP > VIN, GND > COM
  U1: regulator 5V  in=VIN out=FIVE com=GND
  C1: capacitor 100u electrolytic  FIVE > GND
  R1: resistor 1k  FIVE > GND
heat:
  U1: {on: screen}
opening:
  lid: 4 screws M3x6 bottom, tray A
  screen: 2 screws M3x8, earth wire, at most 20 s of power
  board: 3 screws 10 mm, ribbon J3 pull tab up
"""


def brought(book, model="PL-4", file=False):
    case = bench.open_job(book, Intake("amplifier", model=model, ticks={"sound left": BAD}, key="k"), NOW)
    return bench.know(book, case, "file", "the file", FILE, "", NOW) if file else case


def opened(book, *lines, file=False):
    case = brought(book, file=file)
    for line in lines:
        case = take_off(book, case, line, NOW)
    return case


def all_back(book, case, well=True):
    """Every layer back in its order, and each thing looked at."""
    for layer in refit(case).layers:
        case = put_back(book, case, str(layer.number), NOW)
        for one in layer.items if well else ():
            case = put_back(book, case, one.number, NOW) if one.check else case
    return case


def form(shown, words):
    """What the first form with these words sends, its last button pressed."""
    one = next(one for one in re.findall(r"<form.*?</form>", shown, re.S) if words in one)
    return {name: unescape(value) for name, value in re.findall(r'name="([^"]*)" value="([^"]*)"', one)}


def numbers(view, word):
    return [one.number for layer in view.layers for one in layer.items if word in one.says]


def test_the_last_layer_off_is_the_first_back_and_its_things_in_reverse(book):
    case = opened(book, "lid: 4 screws M3x6, earth wire", "board off, 3 screws 10 mm, ribbon J3 pull tab up, paste")
    view = refit(case)
    assert [(one.number, one.name) for one in view.layers] == [(2, "board"), (1, "lid")]
    said = [one.says.split(":")[0] for one in view.layers[0].items if not one.check]
    assert said == ["paste", "Board in its place", "ribbon J3 pull tab up", "3 screws 10 mm"]
    assert "press the tab down" in view.layers[0].items[2].says
    assert (view.standing, view.done) == ("apart", False)


def test_nothing_is_left_over_when_as_many_of_each_kind_went_in(book):
    case = opened(book, "lid: 4 screws M3x6", "board: 3 screws M3x6 and 2 screws 10 mm")
    case = all_back(book, case)
    assert [(one.kind, one.out, one.back) for one in refit(case).counts] == [
        ("screw M3 6 mm", 7, 7), ("screw 10 mm", 2, 2)]  # fmt: skip
    assert (refit(case).standing, refit(case).left_over, refit(case).done) == ("together", (), True)
    [screws] = numbers(refit(case), "4 screws")
    case = put_back(book, case, screws, NOW, 3)
    view = refit(case)
    assert (view.standing, view.left_over, view.done) == ("left over", ("1 screw M3 6 mm left over",), False)
    case = put_back(book, case, screws, NOW, 6)
    assert refit(case).left_over == ("2 screws M3 6 mm more in than came out",)


def test_a_machine_is_not_handed_back_with_something_left_over_until_that_is_explained(book):
    case = all_back(book, opened(book, "lid: 4 screws M3x6", "board out"))
    [screws] = numbers(refit(case), "4 screws")
    case = put_back(book, case, screws, NOW, 3)
    for ending in ("repaired", "returned"):
        with pytest.raises(BadInput, match="1 screw M3 6 mm left over; put it back"):
            bench.close(book, case, ending, "", NOW)
    assert bench.close(book, case, "parked", "", NOW).closed
    case = bench.reopen(book, bench.find_case(book, case.number), NOW)
    case = explain(book, case, "one had no thread left: a longer one from stock", NOW)
    view = refit(case)
    assert "what is left over is told" in view.says
    assert (view.explained[:7], view.left_over, view.standing) == (
        "one had",
        ("1 screw M3 6 mm left over",),
        "together",
    )
    assert bench.close(book, checked(book, case), "repaired", "", NOW).closed["ending"] == "repaired"


def test_an_explanation_holds_until_something_else_changes(book):
    case = opened(book, "lid: 4 screws M3x6")
    case = put_back(book, case, "1", NOW)
    case = put_back(book, case, numbers(refit(case), "screws")[0], NOW, 2)
    case = explain(book, case, "two were missing when it came", NOW)
    case = take_off(book, case, "board out, 1 screw 10 mm", NOW)
    with pytest.raises(BadInput, match="board is not wholly back; 2 screws M3 6 mm left over"):
        bench.close(book, checked(book, case), "repaired", "", NOW)
    case = explain(book, case, "the owner wants it open", NOW)
    assert (refit(case).standing, refit(case).explained, refit(case).done) == (
        "apart",
        "the owner wants it open",
        False,
    )
    other = opened(book, "lid: 4 screws M3x6")
    case = follow(book, case, other.number, NOW)
    case = take_back(book, case, case.strip.followed[-1].event, NOW)
    assert refit(case).explained == "the owner wants it open", "nothing came off and nothing went back"
    assert bench.close(book, case, "returned", "", NOW).closed
    case = take_back(book, bench.reopen(book, bench.find_case(book, case.number), NOW), case.strip.taken[-1].event, NOW)
    assert refit(case).explained == "", "a layer less is another machine"


def test_a_layer_that_goes_back_too_early_is_told(book):
    case = opened(book, "lid off", "screen off", "board out")
    case = put_back(book, case, "3", NOW)
    assert refit(case).out_of_order == ()
    case = put_back(book, case, "1", NOW)
    assert refit(case).out_of_order == ("lid went back before screen, which came off after it",)
    case = take_back(book, case, case.strip.back[-1].event, NOW)
    case = put_back(book, put_back(book, case, "2", NOW), "1", NOW)
    case = put_back(book, case, "2", NOW)  # said once more, it did not go back later
    assert refit(case).out_of_order == ()


def test_a_forgotten_layer_is_put_in_its_place(book):
    case = opened(book, "lid off", "board out")
    case = take_off(book, case, "screen off", NOW, before=2)
    assert [one.name for one in strip_down(book, case).layers] == ["lid", "screen", "board"]
    with pytest.raises(BadInput, match="no layer 4"):
        take_off(book, case, "more", NOW, before=4)


def test_each_layer_is_looked_at_after_what_it_brought_back(book):
    case = brought(book, file=True)
    for _ in range(3):
        case = take_off_planned(book, case, NOW)
    checks = {layer.name: [one.says for one in layer.items if one.check] for layer in refit(case).layers}
    assert any("SUP to VIN, GND to COM" in one for one in checks["board"])
    assert any(one.startswith("FIVE to ground: nobody read it before") for one in checks["board"])
    assert any("its tab is com, on GND, so it may beep" in one for one in checks["screen"])
    assert any("beeps, under 1 ohm" in one for one in checks["screen"])
    assert any("nothing rattles" in one for one in checks["lid"])


def test_rails_are_compared_with_what_was_read_before(book):
    case = bench.enter_line(book, brought(book, file=True), "FIVE 980 ohm, off", NOW)
    for _ in range(3):
        case = take_off_planned(book, case, NOW)
    assert "FIVE to ground: 980 Ω as before" in [one.says for one in refit(case).layers[0].items]


def test_something_looked_at_and_not_well_keeps_it_from_being_done(book):
    case = all_back(book, opened(book, "lid: earth wire"))
    assert refit(case).done
    [earth] = [one.number for one in refit(case).layers[0].items if one.check and "chassis" in one.says]
    case = looked_at(book, case, earth, "bad", "7 ohm, paint under the tag", NOW)
    assert (refit(case).standing, refit(case).done) == ("to be checked", False)
    case = put_back(book, case, earth, NOW, words="0.2 ohm, filed bare")
    assert refit(case).done and "(13:00, 0.2 ohm, filed bare, entry" in layers.refit(refit(case))
    with pytest.raises(BadInput, match="nothing to look at"):
        looked_at(book, case, "1.1", "bad", "", NOW)


@pytest.mark.parametrize("layer", ["lid: 6 screws M3x6, earth wire", "screen, screen of U1"])
def test_no_machine_goes_back_with_a_bad_or_unseen_earth_until_that_is_explained(book, layer):
    case = bench.enter_line(book, opened(book, layer), "fitted a new C7", NOW)
    case = checked(book, all_back(book, case, well=False))
    for ending in HANDED_BACK:
        with pytest.raises(BadInput, match="not looked at"):
            bench.close(book, case, ending, "", NOW)
    bad = next(one.number for one in refit(case).layers[0].items if one.check and "chassis" in one.says)
    case = looked_at(book, all_back(book, case), bad, "bad", "OL, no beep", NOW)
    for ending in HANDED_BACK:
        with pytest.raises(BadInput, match=r"not well \(OL, no beep\); put it back"):
            bench.close(book, case, ending, "", NOW)
    case = explain(book, case, "the owner has it earthed elsewhere", NOW)
    page = in_text(papers.paper(hand_over(book, case, None, OWNER, NOW)))
    assert "not well (OL, no beep)" in page and "the owner has it earthed elsewhere" in page
    assert "not well (OL, no beep)" in in_text(papers.paper(hand_over(book, case, None, RECORD, NOW)))
    assert bench.close(book, case, "returned", "", NOW).closed


def test_a_heatsink_is_proposed_off_and_on_and_never_said_silently(book):
    case = brought(book, file=True)
    case = take_off_planned(book, case, NOW, 2)
    assert case.bench.setup.bare == ()
    assert [one.line for one in strip_down(book, case).proposals] == ["heatsink of U1 off"]
    case = say_proposed(book, case, NOW)
    assert case.bench.setup.bare == (("U1", 0.0),)
    assert strip_down(book, case).proposals == ()
    assert refit(case).power_waits[0] == "at most 20 s of power before screen is back"
    case = put_back(book, case, "1", NOW)
    assert (case.bench.setup.bare, refit(case).power_waits) == ((("U1", 0.0),), ())
    assert [one.line for one in strip_down(book, case).proposals] == ["heatsink of U1 refitted"]
    assert say_proposed(book, case, NOW).bench.setup.bare == ()


def test_capitals_make_no_difference(book):
    """As it comes from a phone with one hand."""
    case = take_off(book, brought(book, file=True), "heatsink of u1 off, ribbon j3 tab up", NOW)
    case = say_proposed(book, case, NOW)
    assert case.bench.setup.bare == (("U1", 0.0),) and strip_down(book, case).proposals == ()
    assert numbers(refit(case), "SUP to VIN, GND to COM")
    free = take_off(book, brought(book), "heatsink of u1 off", NOW)
    assert say_proposed(book, free, NOW).bench.setup.bare == (("U1", 0.0),)


def test_another_job_of_the_model_is_offered_and_followed_as_a_proposal_alone(book):
    first = opened(book, "lid off, 4 screws M3x6", "board out")
    assert strip_down(book, brought(book, model="another")).offers == ()
    case = brought(book, model="pl-4 ")
    assert [one.says for one in strip_down(book, case).offers] == ["job 1 opened one: 2 steps"]
    case = follow(book, case, first.number, NOW)
    view = strip_down(book, case)
    assert ([one.name for one in view.ahead], view.layers, view.refit.standing) == (
        ["lid", "board"],
        (),
        "nothing apart",
    )
    case = take_off_planned(book, case, NOW)
    assert [one.done for one in strip_down(book, case).ahead] == [True, False]
    assert refit(case).counts[0].out == 4
    case = take_off(book, case, "board off, 2 clips", NOW)
    assert [one.done for one in strip_down(book, case).ahead] == [True, True]
    with pytest.raises(BadInput, match="opened nothing"):
        follow(book, case, case.number, NOW)


def test_what_was_entered_by_mistake_goes_with_all_that_hangs_on_it(book):
    case = opened(book, "lid: 4 screws", "board out")
    case = put_back(book, case, "2", NOW)
    case = take_back(book, case, case.strip.taken[1].event, NOW)
    assert [one.name for one in refit(case).layers] == ["lid"] and case.strip.back == ()
    assert bench.find_case(book, case.number).strip == case.strip
    with pytest.raises(BadInput, match="nothing 99 to take back"):
        take_back(book, case, 99, NOW)


def test_a_picture_shows_a_layer(book):
    case = picturing.add_photo(book, opened(book, "lid off"), file(scene()), "the lid", NOW)
    case = tie_photo(book, case, 1, case.photos[0].name, NOW)
    assert strip_down(book, case).layers[0].photos == (case.photos[0].name,)
    case = picturing.drop_photo(book, case, case.photos[0].name, NOW)
    assert strip_down(book, case).layers[0].photos == ()


def test_a_line_nobody_understands_is_a_layer_with_a_note(book):
    case = opened(book, "that fiddly thing, screws at the back")
    [layer] = strip_down(book, case).layers
    assert layer.remarks == (
        "kept as a note: that fiddly thing",
        "screws at the back: how many? Not counted until you say so, like `4 screws 12 mm`",
    )
    assert all_back(book, case).strip.back and refit(all_back(book, case)).done
    with pytest.raises(BadInput, match="empty"):
        take_off(book, case, " ; ", NOW)


def test_a_number_of_what_is_nearly_understood_is_asked_back(book):
    case = brought(book)
    for line in ("4 skrews 12mm", "lid: two wahsers, tray A", "lid off, 3 of those odd screws"):
        with pytest.raises(BadInput, match="would not be counted; .*4 screws 12 mm.*`note "):
            take_off(book, case, line, NOW)
    case = take_off(book, case, "lid off, note 4 skrews were odd, that fiddly thing", NOW)
    assert not refit(bench.find_case(book, case.number)).counts and len(case.strip.taken) == 1


def test_any_other_number_is_kept_as_a_note_and_latches_and_knobs_are_things(book):
    line = "lid: 4 screws 12 mm, 3 latches, two knobs, 2 people to lift it, two thingies"
    case = take_off(book, brought(book), line, NOW)
    [layer] = strip_down(book, case).layers
    assert layer.remarks == ("kept as a note: 2 people to lift it", "kept as a note: two thingies")
    assert [(one.sort, one.count) for one in read_layer(line).loose] == [("fixings", 4), ("clips", 3), ("clips", 2)]
    [unplugged] = read_layer("plug J3, latch").loose
    assert (unplugged.name, unplugged.lock) == ("J3", "latch")


def test_a_layer_without_a_name_is_called_by_what_came_off(book):
    case = opened(book, "heatsink of U1 off", file=True)
    assert strip_down(book, case).proposals[0].why == "heatsink of U1 is off"
    assert refit(case).says.endswith("next: heatsink of U1.")


def test_a_command_of_which_something_is_refused_keeps_nothing(probewright, book):
    case = brought(book)
    assert probewright("strip", "lid: 2 screws", "--photo", "9", "--layer", "1").returncode == 2
    assert not bench.find_case(book, case.number).strip.taken


def test_what_is_refused_names_what_will_work(book):
    case = opened(book, "lid: 2 screws M3x6, check the hinge")
    with pytest.raises(BadInput, match=r"`--back 1\.2 --count 2`"):
        put_back(book, case, "1.1", NOW, count=2)
    assert refit(put_back(book, case, "1.2", NOW, count=2)).counts[0].back == 2
    with pytest.raises(BadInput, match=r"like 1\.3"):
        looked_at(book, case, "1.2", "bad", "", NOW)
    other = brought(book)
    with pytest.raises(BadInput, match=f"`probewright strip --follow {case.number}`"):
        follow(book, other, other.number, NOW)
    assert follow(book, other, case.number, NOW).strip.followed
    with pytest.raises(BadInput, match="type what came off"):
        follow(book, brought(book, model="another"), other.number, NOW)


def test_on_the_command_line(probewright, book):
    opened(book, "board out, 3 screws 10 mm")
    book.close()
    assert "lid: 4 screws M3x6 bottom, tray A (off;" in probewright("strip", "lid: 4 screws M3x6 bottom, tray A").stdout
    told = json.loads(probewright("strip", "--back", "2", "--json").stdout)
    assert [one["back"] for one in told["layers"]] == [True, False] and told["counts"][1]["back"] == 4


def test_in_words(book):
    case = all_back(book, opened(book, "lid: 4 screws M3x6 bottom, tray A"), well=False)
    case = put_back(book, case, numbers(refit(case), "screws")[0], NOW, 3)
    told = layers.refit(refit(case))
    assert "[x] 1.2 4 screws M3 6 mm, bottom, from tray A: 3 of 4 back (13:00, entry" in told
    assert "Does not add up: 1 screw M3 6 mm left over." in told and "[?] 1.3 Turn it over" in told
    with pytest.raises(BadInput, match="'1.9' is not listed"):
        put_back(book, case, "1.9", NOW)


def test_a_view_is_plain(book):
    told = plain(strip_down(book, opened(book, "lid: 4 screws", "board out")))
    assert json.loads(json.dumps(told))["refit"]["counts"][0]["kind"] == "screw"


def test_on_the_page_one_thing_at_a_time(page, book):
    brought(book, file=True)
    token = re.search(r'name="token" value="([^"]*)"', page.get("/jobs/1/strip").text).group(1)

    def post(**said: str):
        return page.post("/jobs/1/strip", data={"token": token, **said})

    assert "Next to come off" in page.get("/jobs/1/strip").text
    first = post(**form(page.get("/jobs/1/strip").text, 'value="planned"'))
    assert "Then 1 more" in first.text
    assert "Say so at the bench" in post(do="off", text="heatsink of U1 off, 1 screw M3x8").text
    refused = post(do="off", text=" ")
    assert refused.status_code == 422 and "The line is empty" in refused.text
    assert "Say so at the bench" not in post(**form(page.get("/jobs/1/strip").text, 'value="say"')).text
    assert bench.find_case(book, 1).bench.setup.bare == (("U1", 0.0),)
    shown = page.get("/jobs/1/strip?back=yes").text
    assert (
        "3. board" not in shown
        and "Next to go back" in shown
        and shown.index("Heatsink of U1 back") < shown.index("4 screws M3 6 mm")
    )
    lid, looked = (form(shown, label) for label in ("Back: 4 screws M3 6 mm", "Well: "))
    answer = post(**lid | {"do": "back", "count": "3", "at": "i1x2"})
    assert "3 of 4 back" in answer.text and answer.url.fragment == "i1x2"
    assert "Not well: 9 ohm" in post(**looked | {"do": "bad", "words": "9 ohm"}).text
    assert post(**lid | {"do": "back", "count": "x"}).status_code == 422
    picture = {"photos": ("a.jpg", file(scene()), "image/jpeg")}
    page.post("/jobs/1/strip/photos", data={"token": token, "once": "a", "entry": lid["entry"]}, files=picture)
    assert len(bench.find_case(book, 1).strip.tied) == 1
    told = page.post("/jobs/1/close", data={"token": token, "ending": "repaired", "words": ""}).text
    assert ">Open and refit</a>" in told and "not together" in told and bench.find_case(book, 1).closed is None
    assert "“lid lost”" in post(do="explain", words="lid lost").text
    page.post("/jobs/1/close", data={"token": token, "ending": "returned", "words": ""})
    assert bench.find_case(book, 1).closed


def test_a_layer_noted_twice_by_one_form_is_one(page, book):
    brought(book)
    sent = form(page.get("/jobs/1/strip").text, "Note it")
    for text in ("lid: 4 screws", "lid: 4 screws", "board: 2 screws"):  # the third by the browser's way back
        page.post("/jobs/1/strip", data=sent | {"text": text})
    assert [one.text for one in bench.find_case(book, 1).strip.taken] == ["lid: 4 screws", "board: 2 screws"]


def test_a_form_means_the_layer_it_was_shown_beside_whatever_its_number_is_now(page, book):
    opened(book, "lid: 4 screws", "board: 2 screws")
    old = page.get("/jobs/1/strip?back=yes").text
    board, later = form(old, "Back: 2 screws"), form(page.get("/jobs/1/strip").text, "before board")
    picture = form(page.get("/jobs/1/strip").text, 'name="photos"')
    case = take_off(book, bench.find_case(book, 1), "screen: 3 screws", NOW, before=1)
    lid, event = case.strip.taken[1], case.strip.taken[2].event
    page.post("/jobs/1/strip", data=board | {"do": "back"})
    page.post("/jobs/1/strip/photos", data=picture, files={"photos": ("a.jpg", file(scene()), "image/jpeg")})
    page.post("/jobs/1/strip", data=later | {"text": "foam", "before": str(event)})
    strip = bench.find_case(book, 1).strip
    assert [(one.layer, one.item) for one in strip.back] == [(event, "fixings 1")]
    assert [one.layer for one in strip.tied] == [int(picture["entry"])]
    assert [one.text for one in strip.taken] == ["screen: 3 screws", lid.text, "foam", "board: 2 screws"]
    take_back(book, bench.find_case(book, 1), event, NOW)
    gone = page.post("/jobs/1/strip", data=board | {"do": "back"})
    assert gone.status_code == 422 and "not in the list any more" in gone.text


def test_a_list_that_changed_meanwhile_takes_no_layer_off(page, book):
    other = take_off(book, brought(book, file=True), "foot: 2 screws", NOW)
    case = brought(book, file=True)
    at, sent = f"/jobs/{case.number}/strip", form(page.get(f"/jobs/{case.number}/strip").text, 'value="planned"')
    follow(book, case, other.number, NOW)
    refused = page.post(at, data=sent)
    assert refused.status_code == 422 and "has changed since" in refused.text
    sent = form(page.get(at).text, 'value="planned"')
    assert [page.post(at, data=sent).status_code for _ in range(2)] == [200, 200]  # twice is once
    assert [one.text for one in bench.find_case(book, case.number).strip.taken] == ["foot: 2 screws"]


def test_what_a_page_does_not_know_is_not_taken_for_a_taking_back(page, book):
    case = opened(book, "lid: 4 screws")
    event = str(case.strip.taken[0].event)
    sent = form(page.get("/jobs/1/strip").text, "Note it") | {"entry": event, "do": "offf"}
    refused = page.post("/jobs/1/strip", data=sent)
    assert refused.status_code == 422 and "does not do" in refused.text
    assert bench.find_case(book, 1).strip.taken
