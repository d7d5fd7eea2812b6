"""Photographs on the bench page: what may come in, places marked on them, the next reading lit; intake and jobs."""

from __future__ import annotations

import html
import json
import re
import socket
import struct
import threading
import zlib
from dataclasses import replace
from functools import cache
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from urllib.parse import quote

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from starlette.testclient import TestClient

from checked import checked
from probewright.jobs import adding, bench, picturing
from probewright.jobs.cases import Case, Intake
from probewright.jobs.finding import find_jobs
from probewright.jobs.pictures import Picture, Spot
from probewright.readings import Question, Setup
from probewright.record import Book, open_book
from probewright.web import waiting
from probewright.web.app import make_app
from probewright.web.lighting import HANDLE, TALL, lit_of

NOW = "2026-11-25T13:00:00+00:00"
SECRET = b"Stellingen"  # stands in the notes of a picture, and may be nowhere in what is served


@cache
def jpeg(shade: int = 90, size: tuple[int, int] = (400, 200)) -> bytes:
    """A small photograph with notes as a phone writes them."""
    notes = Image.Exif()
    notes[0x010E] = SECRET.decode()
    notes.get_ifd(0x8825).update({1: "N", 2: (53.0, 35.0, 12.5), 3: "E", 4: (9.0, 56.0, 30.0), 29: SECRET.decode()})
    out = BytesIO()
    dots = Image.merge("RGB", [Image.effect_noise(size, 60), Image.new("L", size, shade), Image.effect_noise(size, 60)])
    dots.save(out, "JPEG", exif=notes)
    return out.getvalue()


def bomb() -> bytes:
    """A PNG of a few hundred bytes that says it has 3600 megapixels."""

    def piece(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    body = piece(b"IHDR", head) + piece(b"IDAT", zlib.compress(bytes(1000))) + piece(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def hidden(text: str, name: str) -> str:
    """The first hidden field of that name."""
    found = re.search(rf'name="{name}" value="([^"]*)"', text)
    assert found, name
    return html.unescape(found[1])


def opened(_: TestClient | None, book: Book, **more: str) -> Case:
    return bench.open_job(book, Intake("mixer", ticks={"sound left": "bad"}, key="k", **more), NOW)


def send(page: TestClient, *sent: tuple[str, bytes], path: str = "/jobs/1/photos", form: str = "", **told: str):
    """The pictures sent by the form of that page; form: its text, where the form is sent again."""
    text = form or page.get("/jobs/new?kind=mixer" if path == "/jobs" else path).text
    data = {"token": hidden(text, "token"), "once": hidden(text, "once"), **told}
    return page.post(path, data=data, files=[("photos", (name, data_, "image/jpeg")) for name, data_ in sent])


def photos(book: Book) -> tuple[Picture, ...]:
    return bench.find_case(book, 1).photos


def refusals(text: str) -> list[str]:
    box = re.search(r'<div id="refused">(.*?)</div>', text, re.S)
    return [html.unescape(one) for one in re.findall(r"<p>(.*?)</p>", box[1], re.S)] if box else []


# What comes in ------------------------------------------------------------------------------------


def test_pictures_sent_together_are_kept_with_their_words(page, book):
    opened(page, book)
    answer = send(page, ("a.jpg", jpeg(1)), ("b.jpg", jpeg(200)), says="solder side", kind="sheet")
    assert answer.status_code == 200 and str(answer.url).endswith("/jobs/1/photos")
    assert [(one.says, one.sheet) for one in photos(book)] == [("solder side", True)] * 2
    assert answer.text.count("<img ") == 2 and "solder side" in answer.text


def test_a_form_of_several_pictures_sent_twice_counts_once(page, book):
    opened(page, book)
    text = page.get("/jobs/1/photos").text
    for _ in range(2):
        send(page, ("a.jpg", jpeg(1)), ("b.jpg", jpeg(200)), form=text)
        name = photos(book)[0].name
        picturing.drop_photo(book, bench.find_case(book, 1), name, NOW) if len(photos(book)) == 2 else None
    assert len(photos(book)) == 1  # what was taken away does not come back by the form that brought it
    send(page, ("c.jpg", jpeg(120)), form=text)
    assert len(photos(book)) == 2  # the same form with another picture brings that one


def test_an_empty_form_is_told_what_is_missing(page, book):
    opened(page, book)
    answer = send(page, says="solder side")
    assert answer.status_code == 422 and 'value="solder side"' in answer.text and photos(book) == ()


HOSTILE = [
    ("evil.svg", b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>', "SVG"),
    ("bomb.png", bomb(), "megapixels"),
    ("board.jpg", b"#!/bin/sh\nrm -rf ~\n", "not a picture"),
    ("sheet.pdf", b"%PDF-1.7 ...", "PDF"),
    ("../../bench.db", jpeg(3), "path"),
    ("empty.jpg", b"", "empty"),
    ("short.jpg", jpeg(3)[:-200], "cut short"),
    ("<b>page.html", b"<!doctype html><b>hello</b>", "web page"),
]


@pytest.mark.parametrize(("name", "data", "said"), HOSTILE, ids=[one[2] for one in HOSTILE])
def test_a_hostile_file_is_named_and_refused_and_the_others_are_kept(page, book, tmp_path, name, data, said):
    opened(page, book)
    answer = send(page, ("first.jpg", jpeg(1)), (name, data), ("last.jpg", jpeg(200)))
    told = refusals(answer.text)
    assert answer.status_code == 422 and len(photos(book)) == 2
    assert len(told) == 2 and told[0].startswith(f"{name}: ") and said in told[0] and told[0].count(". ") == 0
    assert "<b>page" not in answer.text and "Traceback" not in answer.text
    kept = sorted(one.name for one in (tmp_path / "bench.db.photos").iterdir() if one.is_file())
    assert kept == sorted(one.name for one in photos(book))


def test_a_picture_of_25_mb_comes_in_and_a_larger_one_does_not(page, book):
    opened(page, book)
    small = jpeg(1)
    answer = send(page, ("large.jpg", small + bytes(25 * 1024 * 1024 - len(small))))
    assert answer.status_code == 200 and len(photos(book)) == 1
    answer = send(page, ("larger.jpg", jpeg(2) + bytes(25 * 1024 * 1024)))
    assert refusals(answer.text)[0].startswith("larger.jpg: this file is larger than 25 MB") and len(photos(book)) == 1


# What goes out ------------------------------------------------------------------------------------


def test_what_is_served_is_the_bare_picture_with_its_own_type(page, book):
    opened(page, book)
    assert SECRET in jpeg()
    send(page, ("a.jpg", jpeg()))
    path = f"/jobs/1/photos/{photos(book)[0].name}"
    for one, side in (("/picture", 400), ("/thumbnail", 320), ("/thumbnail?size=large", 400)):
        answer = page.get(path + one)
        assert answer.headers["content-type"] == "image/jpeg" and answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"].startswith("private") and "default-src 'none'" in str(answer.headers)
        assert SECRET not in answer.content and b"Exif" not in answer.content
        assert Image.open(BytesIO(answer.content)).size[0] == side


@pytest.mark.parametrize("which", ["other", "../bench.db", "..%2F..%2Fbench.db", "bench.db.secret", "0" * 64 + ".jpg"])
@pytest.mark.parametrize("what", ["", "/picture", "/thumbnail"])
def test_only_the_pictures_of_this_job_are_served(page, book, which, what):
    opened(page, book)
    picturing.add_photo(book, opened(page, book), jpeg(), "", NOW)
    name = bench.find_case(book, 2).photos[0].name if which == "other" else which
    answer = page.get(f"/jobs/1/photos/{name}{what}")
    assert answer.status_code in (400, 404) and "Traceback" not in answer.text and b"SQLite" not in answer.content


def test_small_pictures_come_in_two_sizes_only(page, book):
    opened(page, book)
    send(page, ("a.jpg", jpeg()))
    assert page.get(f"/jobs/1/photos/{photos(book)[0].name}/thumbnail?size=777").status_code == 400


# Places -------------------------------------------------------------------------------------------


def marked(page: TestClient, book: Book, **told: str):
    """The answer to the form on the picture's page."""
    path = f"/jobs/1/photos/{photos(book)[0].name}"
    return page.post(f"{path}/spots", data={"token": hidden(page.get(path).text, "token"), **told})


def with_photo(page: TestClient, book: Book) -> str:
    opened(page, book)
    send(page, ("a.jpg", jpeg()))
    return f"/jobs/1/photos/{photos(book)[0].name}"


@pytest.mark.parametrize(("wide", "x", "y"), [(300, 75, 75), (360, 90, 90), (860, 215, 215)])
def test_a_click_without_a_script_is_a_share_of_the_picture_as_it_was_shown(page, book, wide, x, y):
    with_photo(page, book)
    answer = marked(page, book, place="R31.2", x="", y="", **{f"at{wide}.x": str(x), f"at{wide}.y": str(y)})
    assert answer.status_code == 200 and photos(book)[0].spots == (Spot("R31.2", 0.25, 0.5),)


def test_every_width_in_the_page_is_the_one_its_field_tells(page, book):
    path = with_photo(page, book)
    for full in ("", "?full=1"):
        shown = re.findall(r'name="at(\d+)" src="[^"]*" width="(\d+)" height="(\d+)"', page.get(path + full).text)
        assert shown and all(name == wide and int(high) == int(wide) // 2 for name, wide, high in shown)


def test_enter_on_the_picture_is_no_click(page, book):
    with_photo(page, book)
    answer = marked(page, book, place="R31.2", x="40", y="60 %", **{"at360.x": "0", "at360.y": "0"})
    assert answer.status_code == 200 and photos(book)[0].spots == (Spot("R31.2", 0.4, 0.6),)


@pytest.mark.parametrize(
    ("told", "back"),
    [
        ({"place": "", "at360.x": "90", "at360.y": "90"}, ('id="share-x" value="25.00"', "no name")),
        ({"place": "left output", "x": "", "y": ""}, ('value="left output"', "click on the picture")),
        ({"place": "left output", "x": "120", "y": "3"}, ('value="left output"', 'value="120"', "per cent, 0 to 100")),
        ({"place": "left output", "x": "-3", "y": "3"}, ('value="-3"', "per cent, 0 to 100")),
        ({"place": "left output", "x": "nan", "y": "3"}, ('value="left output"', 'value="nan"', "per cent, 0 to 100")),
    ],
)
def test_a_mark_that_is_refused_comes_back_with_what_was_said(page, book, told, back):
    with_photo(page, book)
    answer = marked(page, book, **told)
    assert answer.status_code == 422 and all(one in answer.text for one in back) and photos(book)[0].spots == ()


def test_a_mark_is_moved_and_taken_away_once(page, book):
    path = with_photo(page, book)
    marked(page, book, place="R31.2", x="10", y="10")
    assert (
        f'{path}?mark=R31.2"' in page.get(path).text
        and "R31.2 is marked with number 1" in page.get(f"{path}?just=1").text
    )
    moving = page.get(f"{path}?mark=R31.2").text
    assert 'id="share-x" value="10.00"' in moving and 'class="marks through"' in moving
    marked(page, book, place="R31.2", x="20", y="30")
    assert photos(book)[0].spots == (Spot("R31.2", 0.2, 0.3),)
    token = hidden(moving, "token")
    for _ in range(2):
        assert page.post(f"{path}/spots/gone", data={"token": token, "place": "R31.2"}).status_code == 200
    assert photos(book)[0].spots == ()


def test_words_are_changed_and_the_picture_taken_away_once(page, book):
    path = with_photo(page, book)
    token = hidden(page.get(path).text, "token")
    answer = page.post(f"{path}/caption", data={"token": token, "says": "<i>solder side"})
    assert photos(book)[0].says == "<i>solder side" and "<i>" not in answer.text
    for _ in range(2):
        assert page.post(f"{path}/gone", data={"token": token}).status_code == 200
    assert photos(book) == ()


def test_a_place_shows_what_was_read_there_and_whether_it_is_healthy(page, book):
    case = with_machine(book, opened(page, book))
    send(page, ("a.jpg", jpeg()))
    for line in ("power on", "V8 5.12 V", "V8 8.05 V", "OUTL 1.08 Vpp", "OUTR 9.5 Vpp"):
        case = bench.enter_line(book, case, line, NOW)
    for place in ("TP1", "OUTL", "behind the fuse", "OUTR"):
        marked(page, book, place=place, x="10", y="10")
    text = page.get(f"/jobs/1/photos/{photos(book)[0].name}").text
    places = {
        place: text[text.index(f'<li id="spot-{n}"') :]
        for n, place in ((1, "TP1"), (2, "OUTL"), (3, "behind"), (4, "OUTR"))
    }
    rows = {place: row[: row.index("</li>")] for place, row in places.items()}
    assert "8.05 V" in rows["TP1"] and "5.12" not in rows["TP1"] and "✓ healthy" in rows["TP1"]
    assert "1.08 V" in rows["OUTL"] and "✕ off" in rows["OUTL"]
    assert "9.5 V" in rows["OUTR"] and "✕ off" in rows["OUTR"]
    assert "nothing read" in rows["behind"] and f"/jobs/1?at={quote('behind the fuse')}" in rows["behind"]


def test_a_healthy_range_of_any_size_says_nothing(page, book):
    case = opened(page, book)
    case = adding.tell_chain(book, case, "head > preamp > volume > phones", NOW)
    assert not any(place.startswith("nc:") for place in picturing.named_places(bench.machine_of(case)))
    case = bench.enter_line(book, case, "power on, preamp out 1.2 V", NOW)
    send(page, ("a.jpg", jpeg()))
    marked(page, book, place=case.readings[-1].question.red, x="10", y="10")
    text = page.get(f"/jobs/1/photos/{photos(book)[0].name}").text
    assert "1.2 V" in text and "healthy" not in text and "✕ off" not in text


def test_places_of_the_file_that_are_not_marked_are_offered(page, book):
    path = with_photo(page, book)
    assert "Not marked yet" not in page.get(path).text  # no machine file has to exist
    with_machine(book, bench.find_case(book, 1))
    assert f'{path}?mark=OUTL"' in page.get(path).text
    marked(page, book, place="OUTL", x="10", y="10")
    assert f'class="button" href="{path}?mark=OUTL">' not in page.get(path).text.partition("Not marked yet")[2]


def with_machine(book: Book, case: Case) -> Case:
    text = (files("probewright") / "demo" / "fernside-lm-2.yaml").read_text("utf-8")
    return adding.tie(book, case, text, adding.propose_tie(case, text, "lm2.yaml", {}), NOW)


BOARD = """\
machine: small stage
parts:
  SUP: source 12V 5% series 0R5  +12V > GND
  R31: resistor 10k  +12V > BASE
  R32: resistor 2k2  BASE > GND
  Q7: npn small-signal  c=COL b=BASE e=EMI
  R33: resistor 1k  +12V > COL
  R34: resistor 220R  EMI > GND
"""

# The next reading lit -----------------------------------------------------------------------------

ASK = Question("dc", "OUTL", "MIDL", Setup(power="on"))


def lit_case(*spots: tuple[Spot, ...]) -> Case:
    shown = tuple(Picture(f"{n:064x}.jpg", 3000, 2000, f"side {n}", False, one) for n, one in enumerate(spots))
    return Case(1, Intake("mixer"), NOW, NOW, photos=shown)


def test_the_picture_that_shows_both_places_is_lit():
    red, black = Spot("OUTL", 0.2, 0.2), Spot("midl", 0.3, 0.3)
    lit = lit_of(lit_case((black,), (red,), (red, black)), ASK, None)
    assert lit is not None and "side 2" in lit.says and not lit.missing
    assert [one.colour for one in lit.leads] == ["red", "black"]
    alone = lit_of(lit_case((black,), (red,)), ASK, None)
    assert alone is not None and "side 1" in alone.says and alone.missing.startswith("Black: MIDL")
    assert lit_of(lit_case((black,)), ASK, None) is None and lit_of(lit_case((red,)), None, None) is None


def test_a_place_where_a_signal_is_judged_is_lit_without_a_probe():
    lit = lit_of(lit_case((Spot("OUTL", 0.2, 0.2),)), Question("share", "outl"), None)
    assert lit is not None and [one.colour for one in lit.leads] == ["here"] and lit.says.startswith("here")
    assert lit_of(lit_case((Spot("mains lead", 0.2, 0.2),)), Question("swap", "mains lead"), None) is None


share = st.floats(0.0, 1.0)


@given(share, share, share, share)
def test_marks_lie_inside_the_excerpt_and_no_handle_on_another_or_on_a_mark(ax, ay, bx, by):
    lit = lit_of(lit_case((Spot("OUTL", ax, ay), Spot("MIDL", bx, by))), ASK, None)
    assert lit is not None and len(lit.leads) == 2
    one, two = lit.leads
    for lead in (one, two):
        x, y = (ax, ay) if lead.colour == "red" else (bx, by)
        at = (lit.x + x * lit.width, lit.y + y * lit.height)
        assert (lead.x, lead.y) == pytest.approx(at) and 0 <= lead.x <= lit.wide and 0 <= lead.y <= lit.high
        assert 0 <= lead.left <= lit.wide - HANDLE and 0 <= lead.top <= lit.high - TALL
        assert lead.top >= lead.y + 11 or lead.top + TALL <= lead.y - 11  # 11 px: half a mark
    assert one.top + TALL <= two.top or abs(one.left - two.left) >= HANDLE


def test_the_card_shows_the_lit_picture_by_shape_and_word(page, book):
    from probewright.web.sheets import templates

    card, lit = (
        templates().get_template("lit.html"),
        lit_of(lit_case((Spot("OUTL", 0.2, 0.2), Spot("MIDL", 0.9, 0.3))), ASK, None),
    )
    text = card.render(lit=lit)
    assert text.count("<circle") == 2 and ">Black</text>" in text and ">Red</text>" in text and "<image" in text
    assert "style=" not in text
    assert not card.render(lit=None).strip()


def test_the_next_reading_is_lit_once_its_place_is_marked(page, book):
    case = opened(page, book)
    case = adding.tie(book, case, BOARD, adding.propose_tie(case, BOARD, "board.yaml", {}), NOW)
    for line in ("power on", "COL 12.1 V"):
        case = bench.enter_line(book, case, line, NOW)
    send(page, ("a.jpg", jpeg()))
    text = page.get("/jobs/1/refined").text
    place = json.loads(hidden(text.replace(' id="asked"', ""), "asked"))["red"]
    assert 'class="lit"' not in text
    picturing.mark_spot(book, bench.find_case(book, case.number), photos(book)[0].name, place, 0.5, 0.5, NOW)
    assert f'<figure class="lit">\n<a href="/jobs/1/photos/{photos(book)[0].name}">' in page.get("/jobs/1").text


# Intake -------------------------------------------------------------------------------------------


def test_the_job_opens_though_a_picture_is_refused_and_says_which(page, book):
    text = page.get("/jobs/new?kind=mixer").text
    for _ in range(2):
        answer = send(
            page, ("evil.svg", HOSTILE[0][1]), ("a.jpg", jpeg()), path="/jobs", form=text, kind="mixer", owner="Ines"
        )
        assert "evil.svg: this is an SVG drawing" in answer.text and 'href="/jobs/1"' in answer.text
    assert book.jobs() == (1,) and len(photos(book)) == 1 and bench.find_case(book, 1).intake.owner == "Ines"


def test_a_refused_intake_comes_back_with_all_that_was_typed(page, book):
    told = {name: f"typed <{name}>" for name in bench.TOLD}
    answer = send(page, ("a.jpg", jpeg()), path="/jobs", kind="teapot", **told)
    assert answer.status_code == 422 and book.jobs() == () and "Choose the pictures once more" in answer.text
    assert all(f"typed &lt;{name}&gt;" in answer.text for name in bench.TOLD)
    answer = send(page, path="/jobs", kind="mixer", **{"tick wings": "bad", "tick sound left": "partly"}, **told)
    assert answer.status_code == 422 and "wings" in answer.text
    assert re.search(r'name="tick sound left" value="partly" checked', answer.text)
    again = {"token": hidden(answer.text, "token"), "once": hidden(answer.text, "once"), "kind": "mixer", **told}
    assert page.post("/jobs", data=again).status_code == 200 and book.jobs() == (1,)


def form_of(text: str) -> dict[str, str]:
    """The intake form as a browser would send it back untouched."""
    body = text[text.index('class="intake"') :]
    fields = {
        html.unescape(n): html.unescape(v)
        for n, v in re.findall(r'name="([^"]+)" value="([^"]*)"(?![^>]*placeholder="x")', body)
    }
    for name, value in re.findall(r'type="radio" name="([^"]+)" value="([^"]*)" checked', body):
        fields[name] = value
    fields["words"] = html.unescape(re.search(r"<textarea[^>]*>(.*?)</textarea>", body, re.S)[1])
    return fields


def test_what_was_said_at_the_intake_is_mended_and_two_tabs_do_not_undo_each_other(page, book):
    opened(page, book, owner="Ines", words="left is\nquiet")
    one, two = (form_of(page.get("/jobs/1/intake").text) for _ in range(2))
    assert one["owner"] == "Ines" and one["words"] == "left is\nquiet" and one["tick sound left"] == "bad"
    page.post(
        "/jobs/1/intake",
        data={**one, "serial": "LM2-1", "tick sound": "good", "words": one["words"].replace("\n", "\r\n")},
    )
    page.post("/jobs/1/intake", data={**two, "owner": "Ines Calder", "tick lamp": "good"})
    told = bench.find_case(book, 1).intake
    assert (told.owner, told.serial, told.words) == ("Ines Calder", "LM2-1", "left is\nquiet")
    assert told.ticks == {"sound left": "bad", "sound": "good", "lamp": "good"}
    page.post("/jobs/1/intake", data={**form_of(page.get("/jobs/1/intake").text), "tick sound left": ""})
    assert bench.find_case(book, 1).intake.ticks == {"sound": "good", "lamp": "good"}
    before = len(book.events(1))
    page.post("/jobs/1/intake", data=form_of(page.get("/jobs/1/intake").text))
    assert len(book.events(1)) == before  # nothing was changed, so nothing is written


def test_a_closed_job_keeps_its_intake(page, book):
    bench.close(book, checked(book, opened(page, book)), "repaired", "", NOW)
    form = form_of(page.get("/jobs/1/intake").text)
    answer = page.post("/jobs/1/intake", data={**form, "owner": "Somebody"})
    assert answer.status_code == 422 and "Somebody" in answer.text and bench.find_case(book, 1).intake.owner == ""


# Jobs ---------------------------------------------------------------------------------------------

SHOWN = {
    "mark": 1,
    "finding": "undecided",
    "rough": False,
    "suspects": [["C21 open", "C21 is open", 0.38]],
    "next": "x",
}


@pytest.mark.parametrize(
    ("shown", "group"),
    [
        (None, "new"),
        ({**SHOWN, "ask": {"instrument": "dc"}}, "reading"),
        ({**SHOWN, "ask": None}, "do"),
        ({**SHOWN, "ask": None, "finding": "located"}, "decide"),
        ({**SHOWN, "ask": None, "next": ""}, "decide"),
        ({**SHOWN, "ask": None, "mark": 3}, "new"),
    ],
)
def test_a_job_waits_for_what_its_record_tells(shown, group):
    assert waiting.waits_for(replace(lit_case(), shown=shown))[0] == group


def test_a_question_and_an_end_come_before_what_was_shown(page, book):
    case = opened(page, book)
    case = bench.enter_line(book, case, "blah blah", NOW)
    assert waiting.waits_for(case)[0] == "question" and "A question to answer" in page.get("/jobs").text
    case = bench.close(book, case, "parked", "waits for a part", NOW)
    assert waiting.waits_for(case) == ("parked", "waits for a part")


@pytest.mark.parametrize(
    ("since", "said"),
    [
        ("2026-11-25T00:10:00+00:00", "today"), ("2026-11-24T23:50:00+00:00", "1 day"),
        ("2026-11-12T13:00:00+00:00", "13 days"), ("2026-11-11T13:00:00+00:00", "2 weeks"),
        ("2026-09-01T13:00:00+00:00", "3 months"), ("2020-11-25T13:00:00+00:00", "6 years"),
        ("2026-11-26T13:00:00+00:00", "today"),
    ],
)  # fmt: skip
def test_an_age_is_said_in_plain_words(since, said):
    assert waiting.age(since, NOW) == said


def test_a_search_finds_what_was_typed_or_told_and_none_of_our_own_marks(page, book):
    case = opened(page, book, owner="Ines Calder", words="quiet left")
    case = picturing.add_photo(book, case, jpeg(size=(404, 202)), "solder side", NOW, once="c0ffee99")
    case = picturing.mark_spot(book, case, case.photos[0].name, "left big cap", 0.125, 0.5, NOW)
    case = bench.enter_line(book, case, "Q7 c 11.8", NOW, once="d15ea5e0")
    bench.amend(book, case, {"serial": "LM2-00417"}, NOW)
    bench.close(book, checked(book, bench.find_case(book, 1)), "repaired", "new C21", NOW)
    for typed in (
        "calder",
        "quiet",
        "sound left",
        "solder side",
        "big cap",
        "q7 c",
        "11.8",
        "00417",
        "new c21",
        "mixer",
    ):
        assert find_jobs(book, typed) == (1,), typed
    for ours in ("c0ffee99", "d15ea5e0", case.photos[0].name[:12], "404", "202", "0.125", "power_said", "instrument"):
        assert find_jobs(book, ours) == (), ours
    found = page.get("/jobs?find=CALDER").text
    assert "1 job with “CALDER”" in found and "none on the bench, 1 closed" in found
    assert "No jobs with “zzz”" in page.get("/jobs?find=zzz").text


# In a browser -------------------------------------------------------------------------------------

QUIET = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]


@pytest.fixture
def served(tmp_path: Path, book: Book):
    """The address of the pages of one job with one picture, served as `probewright serve` does."""
    import uvicorn

    picturing.add_photo(book, opened(None, book), jpeg(size=(1200, 800)), "solder side", NOW)
    door = socket.socket()
    door.bind(("127.0.0.1", 0))
    app = make_app(open_book(tmp_path / "bench.db"), "secret")
    server = uvicorn.Server(uvicorn.Config(app, log_level="error"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door]})
    thread.start()
    yield f"http://127.0.0.1:{door.getsockname()[1]}"
    server.should_exit = True
    thread.join()


@pytest.fixture
def browser(chromium):
    from playwright.sync_api import sync_playwright

    with sync_playwright() as made:
        started = made.chromium.launch(executable_path=chromium, args=QUIET)
        yield started
        started.close()


@pytest.mark.parametrize(("screen", "wide"), [(320, 300), (390, 360), (1000, 700), (1366, 860)])
def test_a_click_without_a_script_lands_where_it_was(served, browser, book, screen, wide):
    path = f"{served}/jobs/1/photos/{photos(book)[0].name}"
    picturing.mark_spot(book, bench.find_case(book, 1), photos(book)[0].name, "there already", 0.26, 0.75, NOW)
    plain = browser.new_context(java_script_enabled=False, viewport={"width": screen, "height": 800}).new_page()
    plain.goto(path)
    assert plain.evaluate("document.documentElement.scrollWidth") <= screen
    plain.fill("#place", "R31.2")
    plain.locator(f"input[name=at{wide}]").click(position={"x": wide / 4, "y": wide / 2})  # a mark is no obstacle
    plain.wait_for_selector("#places >> text=R31.2")
    spot = photos(book)[0].spots[-1]
    assert (spot.place, spot.x, spot.y) == ("R31.2", pytest.approx(0.25, abs=0.004), pytest.approx(0.75, abs=0.004))


def test_a_place_is_marked_by_keyboard_alone(served, browser, book):
    page = browser.new_context(viewport={"width": 1366, "height": 768}).new_page()
    page.goto(f"{served}/jobs/1/photos/{photos(book)[0].name}")
    page.focus("#place")
    page.keyboard.type("left output")
    page.focus("input[name=at860]")
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowDown", "ArrowLeft", "ArrowLeft", "ArrowLeft", "Enter"):
        page.keyboard.press(key)
    page.wait_for_selector("#places >> text=left output")
    assert photos(book)[0].spots == (Spot("left output", 0.49, 0.55),)


def test_nobody_is_kept_out_of_these_pages(served, browser, book):
    from axe_playwright_python.sync_playwright import Axe

    name = photos(book)[0].name
    bench.enter_line(book, bench.find_case(book, 1), "blah blah", NOW)
    picturing.mark_spot(book, bench.find_case(book, 1), name, "R31.2", 0.5, 0.5, NOW)
    one = f"/jobs/1/photos/{name}"
    paths = (
        "/jobs",
        "/jobs?find=zzz",
        "/jobs/new?kind=mixer",
        "/jobs/1/intake",
        "/jobs/1/photos",
        one,
        f"{one}?full=1",
    )
    for width, scheme in ((1366, "light"), (320, "dark")):
        size = {"width": width, "height": 700}
        page = browser.new_context(viewport=size, color_scheme=scheme, bypass_csp=True).new_page()
        for path in paths:
            page.goto(served + path)
            page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
            found = Axe().run(page).response["violations"]
            assert not found, (path, width, [(one["id"], one["nodes"][0]["target"]) for one in found])
            assert page.evaluate("document.documentElement.scrollWidth") <= width
