"""A waveform from a file on the bench page: shown first, counted once, kept, refused in one sentence."""

from __future__ import annotations

import re
import threading
from base64 import b64encode
from hashlib import sha256
from html import unescape

import numpy as np
import pytest
from starlette.testclient import TestClient

from browser.pages import ripple
from conftest import ROOT
from probewright.jobs import bench, standing
from probewright.jobs.aside import WAIT, set_aside
from probewright.jobs.capturing import Asked, add_capture, folder_of, kept_file
from probewright.jobs.cases import Case, Intake
from probewright.jobs.view import RangeView
from probewright.record import Book
from probewright.report.text import healthy
from probewright.web.guarding import HEADERS
from test_capturing import BOARD, SECONDS, sheet, sine
from timed_machines import RESET, SUPPLY

NOW = "2026-11-25T13:00:00+00:00"
FILES = ROOT / "tests" / "captures"


def opened(book: Book, text: str = "") -> Case:
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
    return bench.know(book, case, "file", text, text, "two-taps.yaml", NOW) if text else case


def fields(text: str) -> dict[str, str]:
    """The hidden fields of the waveform form, as the browser would send them."""
    start = text.index('id="taken"')
    form = text[start : text.index("</form>", start)]
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', form)
    return {name: unescape(value) for name, value in found}


def read(page: TestClient, data: bytes, name: str = "tap.csv", text: str = "", **told: str):
    """The file chosen and sent; text: the page whose form it is."""
    text = text or page.get("/jobs/1/waveform").text
    return page.post("/jobs/1/waveform", data={**fields(text), **told}, files={"file": (name, data, "text/csv")})


def again(page: TestClient, text: str, **told: str):
    """What came back sent once more, without a file."""
    return page.post("/jobs/1/waveform", data={**fields(text), **told}, files={"file": ("", b"")})


def wrong(text: str) -> list[str]:
    box = re.search(r'id="wrong">(.*?)</div>', text, re.S)
    return [unescape(one) for one in re.findall(r"<p>(.*?)</p>", box[1], re.S)] if box else []


def lines(book: Book) -> list[str]:
    return [line.text for line in bench.find_case(book, 1).live if not line.text.startswith("machine:")]


TAP = sheet(sine(6.0, 1.45))


def test_a_file_is_shown_first_with_its_picture_and_counts_when_sent_again(page, book):
    opened(book, BOARD)
    shown = read(page, TAP, text=page.get("/jobs/1").text, at="TP1 at tone")
    assert shown.status_code == 200
    assert "counted: mean 6 V" in shown.text and "peak to peak 1.45 V" in shown.text
    assert shown.text.count('class="pw-traces"') == 3 and lines(book) == []
    counted = again(page, shown.text, at="TP1 at tone", count="yes")
    assert counted.url.path == "/jobs/1" and lines(book) == ["waveform tap.csv at TP1 at tone"]
    case = bench.find_case(book, 1)
    assert [one.question.instrument for one in case.readings] == ["dc", "pp", "frequency"]
    assert kept_file(book, case.lines[-1].capture) == TAP


def test_what_was_changed_after_it_was_shown_is_shown_anew(page, book):
    opened(book, BOARD)
    shown = read(page, TAP, at="TP1 at tone")
    other = again(page, shown.text, at="A at tone", count="yes")
    assert lines(book) == [] and "A to ground" in other.text
    again(page, other.text, at="A at tone", count="yes")
    assert lines(book) == ["waveform tap.csv at A at tone"]


def test_two_clicks_count_once_even_at_the_same_moment(page, book):
    opened(book, BOARD)
    text = read(page, TAP, at="TP1").text
    clicks = [threading.Thread(target=again, args=(page, text), kwargs={"at": "TP1", "count": "yes"}) for _ in range(3)]
    for one in clicks:
        one.start()
    for one in clicks:
        one.join()
    assert lines(book) == ["waveform tap.csv at TP1"]


def test_a_job_that_moved_on_is_said_and_the_file_is_not_counted_behind_its_back(page, book):
    opened(book, BOARD)
    text = read(page, TAP, at="TP1").text
    bench.enter_line(book, bench.find_case(book, 1), "set-up: power on, lift R1.1", NOW)
    shown = again(page, text, at="TP1", count="yes")
    assert "moved on" in shown.text and lines(book) == ["set-up: power on, lift R1.1"]
    again(page, shown.text, at="TP1", count="yes")
    assert len(lines(book)) == 2


def test_a_file_with_several_channels_asks_which_and_shows_them(page, book):
    opened(book, BOARD)
    shown = read(page, sheet(np.zeros(len(SECONDS)), sine(6.0, 1.45)), at="TP1")
    assert shown.status_code == 422
    assert wrong(shown.text)[0] == "This file has 2 channels: 1 CH1, 2 CH2; say which below."
    assert ">2: CH2</text>" in shown.text and shown.text.count('name="channel"') == 2
    good = again(page, shown.text, at="TP1", channel="2")
    assert "CH2 of tap.csv" in good.text
    again(page, good.text, at="TP1", channel="2", count="yes")
    assert lines(book) == ["waveform tap.csv at TP1, channel 2"]


def test_a_place_is_asked_for_and_the_file_waits_meanwhile(page, book):
    opened(book, BOARD)
    shown = read(page, TAP)
    assert (
        wrong(shown.text)[0] == "Where was it taken? Name the place, like <code>TP4</code> or <code>OUT at tone</code>."
    )
    assert "counted: mean" in again(page, shown.text, at="TP1").text


def test_the_card_says_the_place_and_free_names_do_without_a_machine_file(page, book):
    opened(book)
    assert re.search(r'id="at" name="at" value="Q7 c"', page.get("/jobs/1?at=Q7 c").text)
    shown = read(page, TAP, at="R31 left leg")
    again(page, shown.text, at="R31 left leg", count="yes")
    assert bench.find_case(book, 1).readings[0].question.red == "R31 left leg"


def test_one_sweep_and_an_input_on_ac_are_said_with_it(page, book):
    opened(book, BOARD)
    shown = read(page, TAP, at="TP1", coupled="yes", single="yes")
    assert "the moment the power comes on" in shown.text and "counted: peak to peak" in shown.text
    again(page, shown.text, at="TP1", coupled="yes", single="yes", count="yes")
    assert lines(book) == ["waveform tap.csv at TP1, single, AC"]


def test_a_figure_that_cannot_be_there_counts_only_when_insisted_on(page, book):
    opened(book, BOARD)
    shown = read(page, sheet(sine(60.0, 1.45)), at="TP1")
    assert "factor of the probe" in wrong(shown.text)[0] and "Yes, it is so" in shown.text
    again(page, shown.text, at="TP1", count="yes")
    assert lines(book) == ["waveform tap.csv at TP1"]


BAD = [file for file in sorted(FILES.iterdir()) if file.name.startswith("bad-")]


@pytest.mark.parametrize("file", BAD, ids=[file.name for file in BAD])
def test_what_is_no_waveform_is_refused_in_one_sentence_that_names_the_file(page, book, file):
    opened(book, BOARD)
    shown = read(page, file.read_bytes(), file.name, at="TP1")
    said = wrong(shown.text)
    assert shown.status_code == 422 and said[0].startswith(f"{file.name}") and "; " in said[0]
    assert shown.text.count("<svg") == 0 and lines(book) == []
    assert "Count it" not in shown.text and 'name="kept"' not in shown.text  # another one is wanted


@pytest.mark.parametrize("name", ["../../x.csv", "..\\x.csv", "/etc/passwd", ".."])
def test_a_name_with_a_path_is_refused(page, book, name):
    opened(book, BOARD)
    shown = read(page, TAP, name, at="TP1")
    assert "its name holds a path" in wrong(shown.text)[0] and lines(book) == []
    assert not folder_of(book).exists()


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>.csv", "a\u202eb\x07.csv", "x" * 300 + ".csv", "ripple µ.csv"]
)
def test_a_hostile_name_is_only_ever_a_word(page, book, name):
    opened(book, BOARD)
    name = name.replace("/", "")
    shown = read(page, TAP, name, at="TP1")
    assert "<script>alert" not in shown.text and "\x07" not in shown.text
    after = again(page, shown.text, at="TP1", count="yes")
    assert len(lines(book)) == 1 and "<script>alert" not in after.text


@pytest.mark.parametrize("kept", ["../bench.db", "a" * 64 + ".csv", "", "%00.csv"])
def test_a_form_that_names_another_file_gets_none(page, book, kept):
    opened(book, BOARD)
    shown = read(page, TAP, at="TP1")
    told = {**fields(shown.text), "at": "TP1", "count": "yes", "kept": kept, "seen": f"{kept} waveform tap.csv at TP1"}
    answer = page.post("/jobs/1/waveform", data=told, files={"file": ("", b"")})
    assert answer.status_code == 422 and wrong(answer.text) and lines(book) == []


def test_two_files_at_once_and_none_at_all_are_said(page, book):
    opened(book, BOARD)
    text = page.get("/jobs/1").text
    both = [("file", ("a.csv", TAP)), ("file", ("b.csv", TAP))]
    answer = page.post("/jobs/1/waveform", data={**fields(text), "at": "TP1"}, files=both)
    assert wrong(answer.text)[0] == "2 files came; send one waveform at a time."
    assert "no file was chosen" in wrong(again(page, text, at="TP1").text)[0].lower()


def test_more_than_a_form_may_bring_is_refused_before_it_is_read(page, book, monkeypatch):
    monkeypatch.setattr("probewright.web.guarding.LONGEST_FILES", 10_000)
    opened(book, BOARD)
    answer = read(page, TAP, at="TP1")
    assert answer.status_code == 403 and "save a shorter stretch" in answer.text


def test_without_its_token_nothing_waits(page, book):
    opened(book, BOARD)
    told = {**fields(page.get("/jobs/1").text), "token": "x", "at": "TP1"}
    answer = page.post("/jobs/1/waveform", data=told, files={"file": ("tap.csv", TAP)})
    assert answer.status_code == 403 and not folder_of(book).exists()


def test_only_the_newest_files_wait(book):
    opened(book, BOARD)
    for n in range(WAIT + 3):
        set_aside(book, b"%d" % n)
    waiting = list((folder_of(book) / "waiting").glob("*.csv"))
    assert len(waiting) == WAIT and b"0" not in [one.read_bytes() for one in waiting]


def test_a_closed_job_takes_no_waveform_and_says_how_it_would(page, book):
    case = opened(book, BOARD)
    text = page.get("/jobs/1").text
    bench.close(book, case, "parked", "", NOW)
    shown = read(page, TAP, text=text, at="TP1")
    assert "“Take it up again”" in wrong(shown.text)[0] and lines(book) == []


def test_a_counted_waveform_stands_on_the_bench_and_is_shown_again(page, book):
    opened(book, BOARD)
    again(page, read(page, TAP, at="TP1").text, at="TP1", count="yes")
    text = page.get("/jobs/1").text
    event = bench.find_case(book, 1).lines[-1].event
    assert f'data-piece="/jobs/1/waveform/{event}"' in text and "Its picture" in text
    shown = page.get(f"/jobs/1/waveform/{event}").text
    assert shown.count('class="pw-traces"') == 3 and "also measured: top 6.72 V" in shown
    assert page.get("/jobs/1/waveform/999").status_code == 400


def supply(book: Book, *lines: str) -> Case:
    """A supply on the bench, worked out."""
    case = opened(book, SUPPLY)
    for line in ("set-up: power on, run", *lines):
        case = bench.enter_line(book, case, line, NOW)
    standing.stand(book, case, NOW)
    return case


def words(text: str, width: str = "large") -> list[str]:
    """All that is written in the picture of that width."""
    piece = text[text.index(f'class="at-{width}"') :]
    return [unescape(one) for one in re.findall(r"<text[^>]*>([^<]*)</text>", piece[: piece.index("</svg>")])]


def test_the_card_draws_what_a_sound_machine_and_the_suspects_would_show(page, book):
    """The file's own sentence: a sound supply ripples less than 2 V, one that is complained of may ripple more."""
    supply(book, "quiet: bad", "first power done")
    text = page.get("/jobs/1").text
    at = re.search(r'id="expected" data-piece="([^"]*)"', text)
    assert at and at[1] == "/jobs/1/waveform/expected?choice=0"
    place = re.search(r'id="at" name="at" value="([^"]*)"', text)
    assert place and place[1].endswith(" at run")
    shown = page.get(at[1]).text
    for width in ("least", "small", "large"):
        said = words(shown, width)
        assert {"healthy", "A", "B", "C"} <= set(said) and "yours" not in said
        assert any("sound machines" in one for one in said)
    assert "each from its own rise" in shown and shown.count('class="pw-band"') == 6  # the field and the key, thrice


def test_a_waveform_stands_alone_at_once_and_over_the_others_once_the_answer_is_refined(page, book):
    case = supply(book)
    case = add_capture(book, case, ripple(), "ripple.csv", Asked("RAW"), NOW)
    at = f"/jobs/1/waveform/{case.lines[-1].event}"
    alone = page.get(at).text
    assert words(alone).count("yours") == 1 and "healthy" not in words(alone)
    assert f'data-piece="{at}?wait=yes"' in alone
    standing.stand(book, case, NOW)
    over = page.get(at).text
    assert {"yours", "healthy", "A"} <= set(words(over)) and "data-piece" not in over
    assert any(one.startswith("A: C1") for one in words(over))  # what dried out is told by the ripple
    times = [one for one in words(over) if re.fullmatch(r"\d+", one)]
    assert "40" in times and "60" not in times  # two periods of the mains, of six that were captured


def test_what_happens_once_lies_over_the_others_only_if_it_was_taken_as_one_sweep(page, book):
    case = opened(book, RESET)
    case = bench.enter_line(book, case, "set-up: power on, stimulus on", NOW)
    seconds = np.linspace(-0.1, 0.7, 1600)
    data = sheet(np.where((seconds > 0.0) & (seconds < 0.3), 4.8, 0.05), seconds=seconds)
    loose = add_capture(book, case, data, "free.csv", Asked("RES at on"), NOW)
    swept = add_capture(book, loose, data, "swept.csv", Asked("RES at on", single=True), NOW)
    standing.stand(book, swept, NOW)
    free, single = (page.get(f"/jobs/1/waveform/{one.lines[-1].event}").text for one in (loose, swept))
    assert "healthy" not in words(free) and {"yours", "healthy"} <= set(words(single))
    assert "from the moment it begins" in single


def test_the_level_that_a_rise_is_timed_at_is_a_line_in_the_picture(page, book):
    """The file's sentence names it; it is there at once, and over the others once the answer is refined."""
    case = opened(book, RESET.replace("RES fall through 2.5V", "RC rise through 2V"))
    case = bench.enter_line(book, case, "set-up: power on, stimulus on", NOW)
    seconds = np.linspace(0.0, 0.7, 1400)
    data = sheet(5.0 * (1.0 - np.exp(-seconds / 0.1)), seconds=seconds)
    case = add_capture(book, case, data, "swept.csv", Asked("RC at on", single=True), NOW)
    at = f"/jobs/1/waveform/{case.lines[-1].event}"
    for _ in range(2):
        for width in ("least", "small", "large"):
            assert {"level", "level: rise through 2 V"} <= set(words(page.get(at).text, width))
        standing.stand(book, case, NOW)
    assert {"yours", "healthy", "level"} <= set(words(page.get(at).text))
    loose = add_capture(book, case, data, "free.csv", Asked("RC at on"), NOW)
    assert "level" not in words(page.get(f"/jobs/1/waveform/{loose.lines[-1].event}").text)


def test_the_card_draws_the_level_of_the_rise_or_fall_it_asks_for(page, book):
    case = bench.enter_line(book, opened(book, RESET), "starts: bad", NOW)
    standing.stand(book, case, NOW)
    pages = [page.get(f"/jobs/1/waveform/expected?choice={n}").text for n in range(8)]
    drawn = [words(one) for one in pages if 'class="pw-traces"' in one]
    levels = {word for one in drawn for word in one if word.startswith("level: ")}
    assert levels and levels <= {"level: rise through 2.5 V", "level: fall through 2.5 V"}
    assert all("healthy" in one for one in drawn)


def test_never_and_duty_stand_in_the_list_with_their_words(page, book):
    opened(book, RESET)
    for line in ("RES fall through 2.5V never", "RES duty 30 %"):
        bench.enter_line(book, bench.find_case(book, 1), line, NOW)
    text = page.get("/jobs/1").text
    assert "RES to ground: never falls through 2.5 V" in text and "RES to ground: duty 30 %" in text


def test_no_picture_is_promised_where_nothing_moves(page, book):
    opened(book, BOARD)
    standing.stand(book, bench.find_case(book, 1), NOW)
    assert 'id="expected"' not in page.get("/jobs/1").text
    assert "Nothing moves there" in page.get("/jobs/1/waveform/expected?choice=99").text


def test_a_range_of_one_figure_is_said_once():
    assert healthy(RangeView(0.01, 0.01000001, "s")) == "10 ms"


def test_the_style_of_the_picture_is_allowed_by_its_digest(page, book):
    opened(book, BOARD)
    shown = read(page, TAP, at="TP1").text
    style = unescape(re.search(r"<style>(.*?)</style>", shown, re.S)[1])
    assert f"'sha256-{b64encode(sha256(style.encode()).digest()).decode()}'" in HEADERS["Content-Security-Policy"]
