"""The power clock on the page: it counts, goes on after a reload and elsewhere, sounds, and gives way to nothing."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page

from browser.conftest import PHONE
from browser.looking import look
from browser.serving import ServedHere
from probewright.jobs import adding, bench
from probewright.jobs.cases import Case, Intake
from probewright.jobs.equipping import tell_kit
from probewright.jobs.standing import stand
from probewright.record import Book, open_book
from test_danger import HELD, TALL
from test_told_heat import BOARD, SMALL

SLOW = 60_000  # ms, chosen: a refined answer with every core at work on something else
NEAR = 4.0  # s, chosen: the server counts in whole seconds, and a machine with every core at work takes some
# Instead of sound: when each tone begins and ends, by a clock of the page.
SPY = """() => {
  window.tones = [];
  window.AudioContext = class {
    constructor() { this.state = "running"; this.begun = performance.now(); }
    get currentTime() { return (performance.now() - this.begun) / 1000; }
    resume() { return Promise.resolve(); }
    createOscillator() {
      const from = this, tone = { at: null, until: null, off: false };
      window.tones.push(tone);
      return { frequency: {}, connect() {}, start(at) { tone.at = at - from.currentTime; },
               stop(at) { if (at === undefined) tone.off = true; else tone.until = at - from.currentTime; } };
    }
    createGain() { return { gain: {}, connect() {} }; }
  };
}"""
OFF = "#clock.cooling, #clock.ready"  # as little as the bench has been on, it may be cold again
Opened = Callable[..., ServedHere]


def ago(seconds: float) -> str:
    return (datetime.now(UTC) - timedelta(seconds=seconds)).isoformat(timespec="seconds")


def job(book: Book, *lines: tuple[float, str], text: str = SMALL) -> Case:
    """A job with lines typed so many seconds ago, and its refined answer at hand."""
    case = bench.open_job(book, Intake("amplifier", ticks={}, key="clock"), ago(900))
    if text:
        case = adding.tie(book, case, text, adding.propose_tie(case, text, "f.yaml", {}), ago(890))
    for seconds, line in lines:
        case = bench.enter_line(book, case, line, ago(seconds))
        assert case.lines[-1].status == "counts", case.lines[-1].says
    stand(book, case, ago(0))
    return case


@pytest.fixture(scope="module")
def weighed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with one job, its heatsink off and the answers to both states of the power at hand: those take long."""
    path = tmp_path_factory.mktemp("weighed") / "bench.db"
    with open_book(path) as book:
        job(book, (800, "set-up: power off, heatsink of U1 off"))
    return path


@pytest.fixture
def patient(tmp_path: Path) -> Iterator[ServedHere]:
    """The regulator on a small sink, its power just come on: two minutes are left, enough for a slow machine."""
    with open_book(tmp_path / "bench.db") as book:
        job(book, (800, "set-up: power off, clip-on heatsink 60 K/W on U1"), (0, "set-up: power on, run"))
    served = ServedHere(tmp_path / "bench.db")
    yield served
    served.stop()


@pytest.fixture
def opened(tmp_path: Path, weighed: Path) -> Iterator[Opened]:
    """Serves that book after these lines, typed so many seconds ago."""
    running: list[ServedHere] = []

    def open_(*lines: tuple[float, str]) -> ServedHere:
        shutil.copytree(weighed.parent, tmp_path, dirs_exist_ok=True)
        with open_book(tmp_path / "bench.db") as book:
            case = bench.find_case(book, 1)
            for seconds, line in lines:
                case = bench.enter_line(book, case, line, ago(seconds))
            stand(book, case, ago(0))
        running.append(ServedHere(tmp_path / "bench.db"))
        return running[-1]

    yield open_
    for one in running:
        one.stop()


def lines(tmp_path: Path) -> list[str]:
    with open_book(tmp_path / "bench.db") as book:
        return [line.text for line in bench.find_case(book, 1).lines]


def seconds(page: Page) -> int:
    """What the clock shows."""
    minutes, rest = page.locator("#clock .figure").inner_text().split(":")
    return 60 * int(minutes) + int(rest)


def full(page: Page) -> int:
    return page.locator("#clock rect.full").count()


def on_now() -> tuple[float, str]:
    return (0.0, "set-up: power on, run")


def agree(page: Page) -> bool:
    """Whether the words beside the figure, and those read out, are true of it: "21 seconds left" only at 0:21."""
    left = seconds(page)
    said = page.locator("#clock .sign").inner_text(), page.locator("#clock-said").inner_text().split(".")[0]
    lasts = {"Last minute": 60, "Last 30 seconds": 30, "Last 10 seconds": 10}
    return all(one in ("Power is on", "", f"{left:g} seconds left") or lasts.get(one, 0) >= left for one in said)


def skip(page: Page, much: float) -> None:
    """Let so many seconds go by on the page."""
    page.clock.fast_forward(int(1000 * much))


def test_what_else_could_be_done_stands_below_the_clock(opened, window):
    page = window(opened(on_now()))
    page.goto("/jobs/1")
    ways = page.locator("details", has_text="U1 without short bursts")
    ways.locator("summary").click()
    said = ways.locator("li").all_inner_texts()
    assert (
        len(said) == 3
        and any("lip-on heatsink" in one for one in said)
        and any("outside the case" in one for one in said)
    )
    assert all(one[0].isupper() and one.endswith(".") for one in said)


def test_the_clock_runs_out_and_the_card_gives_way(opened, window, tmp_path: Path):
    """Blocks, figure and words run down together; at the end what was typed is kept, and no Enter says that it is off."""
    page = window(opened(on_now()))
    page.clock.install()
    page.goto("/jobs/1")
    page.locator("#line").fill("V5 4.98 V")
    page.clock.run_for(300)
    begun = seconds(page)
    assert 5 < begun < 120 and agree(page)
    blocks = full(page)
    skip(page, begun / 2)
    page.clock.run_for(300)
    assert abs(seconds(page) - begun / 2) < NEAR and 0 < full(page) < blocks and agree(page)
    assert "last" in (page.locator("#clock").get_attribute("class") or "").split()
    assert page.locator("#offnow").is_hidden() and page.locator("#entry").is_visible()
    skip(page, begun / 2 - 5)
    page.clock.run_for(300)
    assert page.locator("#clock .sign").inner_text() == "Last 10 seconds" and agree(page)
    assert "Last 10 seconds" in page.locator("#clock-said").inner_text()
    skip(page, 6)
    page.clock.run_for(300)
    page.locator("#offnow h2").wait_for()
    assert page.locator("#card").is_hidden() and page.locator("#entry").is_hidden() and full(page) == 0
    page.keyboard.press("Enter")
    page.wait_for_timeout(300)
    assert len(lines(tmp_path)) == 3
    page.locator("#offnow").get_by_role("button", name="Power is off").click()
    page.wait_for_selector(OFF, timeout=SLOW)
    assert lines(tmp_path)[-1].startswith("set-up: power off") and page.locator("#line").input_value() == "V5 4.98 V"


def test_the_clock_goes_on_after_a_reload_and_on_a_second_device(patient: ServedHere, window):
    page, other = window(patient), window(patient, PHONE)
    page.goto("/jobs/1")
    page.wait_for_function("document.querySelector('#clock .figure').textContent !== ''")
    first, begun = seconds(page), datetime.now(UTC)
    page.wait_for_timeout(2000)
    page.reload()
    other.goto("/jobs/1")
    gone = (datetime.now(UTC) - begun).total_seconds()
    assert abs(seconds(page) - (first - gone)) < NEAR and abs(seconds(page) - seconds(other)) < NEAR
    page.evaluate(
        "() => { window.states = []; setInterval(() => states.push(document.getElementById('clock').className), 50) }"
    )
    other.locator("#clock").get_by_role("button", name="Power is off").click()
    page.wait_for_selector(OFF, timeout=SLOW)  # nobody touched this one, and it was told before the time was up
    assert page.evaluate("states.length > 0 && !states.some(one => one.includes('over'))")
    other.wait_for_selector(OFF, timeout=SLOW)


def test_the_tap_power_is_on_starts_the_clock(opened, window, tmp_path: Path):
    page = window(opened())
    page.goto("/jobs/1")
    assert page.locator("#clock .sign").inner_text() == "Power may come on" and full(page) == 12
    page.locator("#clock").get_by_role("button", name="Power is on").click()
    page.wait_for_selector("#clock.running", timeout=SLOW)
    assert lines(tmp_path)[-1].startswith("set-up: power on")


def test_sound_is_one_tap_and_remembered(opened, window):
    """One, two and three beeps before the end, a tone that does not end at it; none once the sound is off again."""
    page = window(opened(on_now()))
    page.add_init_script(f"({SPY})()")
    page.goto("/jobs/1")
    page.wait_for_selector("#clock.running")
    assert page.evaluate("tones.length") == 0 and page.locator("#sound").inner_text() == "Sound off"
    page.locator("#sound").click()
    heard(page)
    page.reload()
    page.wait_for_function("document.getElementById('sound').textContent === 'Sound on'")
    heard(page)
    page.locator("#sound").click()
    assert all(one["off"] for one in page.evaluate("tones"))
    page.reload()
    page.wait_for_selector("#clock.running")
    assert page.evaluate("tones.length") == 0


def heard(page: Page) -> None:
    tones = [one for one in page.evaluate("tones") if not one["off"]]
    left = seconds(page)
    ends = [one for one in tones if one["until"] is None]
    assert len(ends) == 1 and abs(ends[0]["at"] - left) < NEAR
    due = [(before, beeps) for before, beeps in ((60, 1), (30, 2), (10, 3)) if before < ends[0]["at"]]
    assert due and len(tones) == 1 + sum(beeps for _, beeps in due)
    for before, beeps in due:
        near = [one["at"] for one in tones if abs(one["at"] - (ends[0]["at"] - before)) < 1.0 and one["until"]]
        assert len(near) == beeps


def test_without_a_script_the_time_of_day_is_said(opened, window, tmp_path: Path):
    page = window(opened(on_now()), java_script_enabled=False)
    page.goto("/jobs/1")
    said = page.locator("#clock .by").inner_text()
    assert said.startswith("Off by ") and ", on again from " in said and page.locator("#sound").is_hidden()
    by = datetime.strptime(said.split()[2].rstrip(","), "%H:%M:%S").time()
    now = datetime.now()
    left = (datetime.combine(now.date(), by) - now).total_seconds() % 86400.0
    assert abs(left - seconds(page)) < NEAR + 2.0
    page.locator("#clock").get_by_role("button", name="Power is off").click()
    assert lines(tmp_path)[-1].startswith("set-up: power off")
    assert page.locator("#entry").is_visible()


def test_a_page_opened_after_the_end_says_so_at_once_and_keeps_the_entry_box_without_a_script(opened, window):
    served = opened((300.0, "set-up: power on, run"))
    page, plain = window(served), window(served, java_script_enabled=False)
    for one in (page, plain):
        one.goto("/jobs/1")
        assert one.locator("#offnow h2").is_visible() and one.locator("#card").is_hidden()
        assert "limit by the clock" in one.locator("#clock").inner_text() + one.locator("#offnow").inner_text()
    assert page.locator("#entry").is_hidden() and plain.locator("#entry").is_visible()


def test_where_nobody_knows_the_watts_it_counts_up_and_says_so(tmp_path: Path, window):
    with open_book(tmp_path / "bench.db") as book:
        job(book, (40, "heatsink of U1 off"), (20, "set-up: power on"), text="")
    served = ServedHere(tmp_path / "bench.db")
    try:
        page = window(served)
        page.goto("/jobs/1")
        page.wait_for_function("document.querySelector('#clock .figure').textContent !== ''")
        begun = seconds(page)
        assert abs(begun - 20) < NEAR + 4.0 and "Nobody knows the watts of U1" in page.locator("#clock").inner_text()
        page.wait_for_timeout(2500)
        assert seconds(page) > begun and page.locator("#offnow").is_visible()
    finally:
        served.stop()


@pytest.mark.parametrize("state", ["ready", "running", "over", "cooling"])
def test_every_state_of_the_clock_can_be_read_and_pressed_by_everybody(opened, window, state: str):
    """On a laptop, on a phone in the dark and at 320 px; no state is told by colour alone, and nothing moves."""
    told = {
        "ready": (), "running": ((1.0, "set-up: power on, run"),), "over": ((300.0, "set-up: power on, run"),),
        "cooling": ((40.0, "set-up: power on, run"), (1.0, "off")),
    }[state]  # fmt: skip
    page = window(opened(*told))
    page.goto("/jobs/1")
    page.wait_for_selector(f"#clock.{state}")
    assert page.evaluate("document.getAnimations().length") == 0
    assert page.locator("#clock .sign").inner_text() and look(page, f"clock-{state}") == {}


@pytest.fixture
def burst(tmp_path: Path) -> Iterator[ServedHere]:
    """A regulator on a small sink, on a bench where readings with the power off take half an hour each."""
    with open_book(tmp_path / "bench.db") as book:
        tell_kit(book, None, dict.fromkeys(("ohms", "diode", "swap"), 30.0), ago(900))
        first = (90, "first power done")
        job(book, first, (60, "set-up: power off, clip-on heatsink 60 K/W on U1"), text=BOARD)
    served = ServedHere(tmp_path / "bench.db")
    yield served
    served.stop()


def test_a_burst_lists_its_clips_first_and_the_clips_are_a_step_before_the_power(burst: ServedHere, window, tmp_path):
    page = window(burst)
    page.goto("/jobs/1")
    said = page.locator("#group").inner_text()
    clips = page.locator("#group .clips li").all_inner_texts()
    readings = page.locator("#group .readinglist strong").all_inner_texts()
    assert "Clip on first, power off" in said and len(readings) >= 2
    assert [one.split()[0] for one in clips] == ["Black"] + ["Red"] * len(readings)
    assert [one.split()[1] for one in clips[1:]] == readings and "Minutes of this bench" in said
    steps = page.locator("#steps li").all_inner_texts()
    at = next(n for n, one in enumerate(steps) if "Clip" in one)
    assert all(place in steps[at] for place in readings) and "Power on" in steps[at + 1]
    for _ in range(at + 1):
        page.locator(".stepbar .main").click()
    assert page.locator(".stepbar .main").inner_text() == "Power is on"
    page.locator(".stepbar .main").click()
    page.wait_for_selector("#clock.running", timeout=SLOW)
    page.wait_for_selector("#card:not([data-refined])", timeout=SLOW)
    assert page.locator("#entry").is_visible() and lines(tmp_path)[-1].startswith("set-up: power on")
    assert page.locator("#group .clips li").count() == 0  # they are on by now, and the list is of what is left to read


def test_a_burst_list_can_be_read_and_pressed_by_everybody(burst: ServedHere, window):
    page = window(burst)
    page.goto("/jobs/1")
    page.wait_for_selector("#group .clips")
    assert look(page, "burst") == {}


@pytest.fixture
def tall(tmp_path: Path) -> Iterator[ServedHere]:
    """A machine with some 300 V in its reservoir, the power on."""
    with open_book(tmp_path / "bench.db") as book:
        job(book, (60, "set-up: power on"), text=TALL)
    served = ServedHere(tmp_path / "bench.db")
    yield served
    served.stop()


def test_steps_are_ticked_one_by_one_and_the_entry_box_comes_back(tall: ServedHere, window, tmp_path: Path):
    page = window(tall, PHONE)
    page.goto("/jobs/1")
    steps = page.locator("#steps li")
    count = steps.count()
    assert count > 3 and page.locator("#entry").is_hidden()
    assert (
        "Power off, plug out" in steps.nth(0).inner_text()
        and "Prove the meter again" in steps.nth(count - 1).inner_text()
    )
    bar = page.locator(".stepbar .main")
    for n in range(count - 1):
        assert steps.nth(n).get_attribute("class") == "now" and page.locator("#entry").is_hidden()
        bar.click()
        if n == 1:
            page.reload()
            assert page.locator("#steps input:checked").count() == 2
    assert bar.inner_text() == "It is so"
    bar.click()
    page.wait_for_selector("#readings >> text=set-up: power off")
    assert lines(tmp_path)[-1].startswith("set-up: power off")


def test_a_line_can_be_typed_instead_and_without_a_script_steps_hide_nothing(tall: ServedHere, window):
    page, plain = window(tall), window(tall, java_script_enabled=False)
    page.goto("/jobs/1")
    page.get_by_role("button", name="Type a line instead").click()
    assert page.locator("#entry").is_visible() and page.evaluate("document.activeElement.id") == "line"
    plain.goto("/jobs/1")
    assert plain.locator("#entry").is_visible() and plain.locator("#steps input").count() > 3
    plain.locator("#steps label").first.click()
    assert plain.locator("#steps input:checked").count() == 1


def test_a_rule_that_was_broken_says_switch_off_and_behind_it_waits_a_reading_with_the_power_off(tmp_path, window):
    with open_book(tmp_path / "bench.db") as book:
        job(book, (60, "set-up: power on"), (30, "V5 9 V"), text=HELD)
    served = ServedHere(tmp_path / "bench.db")
    try:
        page = window(served)
        page.goto("/jobs/1")
        assert page.locator("#offnow h2").is_visible() and page.locator("#entry").is_hidden()
        assert "V5 reads 9" in page.locator("#offnow").inner_text() and page.locator("#clock").count() == 0
        page.locator("#offnow").get_by_role("button", name="Power is off").click()
        page.wait_for_selector("#readings >> text=set-up: power off", timeout=SLOW)
        page.wait_for_selector("#card:not([data-refined])", timeout=SLOW)
        assert "Keep the power off: V5 reads 9" in page.locator("#card").inner_text()
        assert page.locator("#offnow").count() == 0 and page.locator("#entry").is_visible()
        assert "power on" not in page.locator(".cardhead .second").inner_text()
    finally:
        served.stop()


def test_a_card_of_steps_can_be_read_and_pressed_by_everybody(tall: ServedHere, window):
    page = window(tall)
    page.goto("/jobs/1")
    page.wait_for_selector(".stepbar")
    assert look(page, "steps") == {}
