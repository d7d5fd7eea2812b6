"""A waveform from a file on a job: what becomes a reading, what is kept, and what is said."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from conftest import Run
from probewright.errors import BadInput
from probewright.jobs import bench, capturing, standing
from probewright.jobs.capturing import Asked, add_capture, folder_of, kept_file, line_of, picture_of
from probewright.jobs.case_view import CaseView, typed
from probewright.jobs.cases import Case, Intake, fold
from probewright.jobs.keeping import keep_reading, kept_reading
from probewright.jobs.view import plain
from probewright.machine import Machine
from probewright.readings import NEVER, Look, Question, Reading
from probewright.record import Book

NOW = "2026-11-25T10:00:00+00:00"
BOARD = """\
machine: two taps
extras:
  GEN: source 0V series 10R  IN > GND
  SUP: source 12V 2% series 0R5  +12V > GND
known good: [GEN, SUP]
parts:
  R1: resistor 10k  +12V > OUT
  R2: resistor 10k  OUT > GND
  R3: resistor 4k7  IN > A
  C1: capacitor 10u electrolytic  A > OUT
points:
  TP1: OUT
stimuli:
  tone: {do: feed the tone, GEN: sine 1V rms 1kHz}
works:
  sound: OUT level at tone; below 60% of healthy = weak
"""
SECONDS = np.arange(2000) * 5e-6  # 10 ms, ten periods of 1 kHz


def sheet(volts: np.ndarray, *others: np.ndarray, seconds: np.ndarray = SECONDS) -> bytes:
    """A file as an oscilloscope writes it."""
    names = ["CH1", "CH2", "CH3"][: 1 + len(others)]
    rows = ["time," + ",".join(names), "s" + ",V" * len(names)]
    rows += [",".join(f"{one:.7g}" for one in row) for row in zip(seconds, volts, *others, strict=True)]
    return "\n".join([*rows, ""]).encode()


def sine(level: float, pp: float, noise: float = 0.0) -> np.ndarray:
    wobble = noise * np.random.default_rng(5).normal(size=len(SECONDS))
    return level + 0.5 * pp * np.sin(2.0 * np.pi * 1000.0 * SECONDS + 0.7) + wobble


def opened(book: Book, file: str = BOARD) -> Case:
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
    return bench.know(book, case, "file", file, file, "two-taps.yaml", NOW) if file else case


def test_a_story_of_a_capacitor_open_found_by_one_waveform(book: Book):
    """With C1 open the tap stands at 6 V, as it should, and the tone is not there: the file alone tells."""
    case = add_capture(book, opened(book), sheet(sine(6.0, 0.002, 0.001)), "tap.csv", Asked("TP1 at tone"), NOW)
    assert [one.question.instrument for one in case.readings] == ["dc", "pp"]
    view = standing.stand(book, case, NOW)
    leading = view.search.suspects[0]
    assert "C1" in leading.id or "R3" in leading.id  # nothing else stops the tone and leaves the 6 V
    sound = add_capture(book, opened(book), sheet(sine(6.0, 1.45, 0.001)), "tap.csv", Asked("TP1 at tone"), NOW)
    assert "C1 open" not in standing.stand(book, sound, NOW).search.suspects[0].says


def test_mean_peak_to_peak_and_frequency_are_one_hook_up(book: Book):
    case = add_capture(book, opened(book), sheet(np.zeros(2000), sine(6.0, 1.45)), "tap.csv", Asked("TP1", 2), NOW)
    mean, pp, frequency = case.readings
    assert len({one.hookup for one in case.readings}) == 1
    assert {one.question.red for one in case.readings} == {"OUT"}
    assert {one.question.setup.stimulus for one in case.readings} == {"tone"}
    assert mean.bound[0] < 6.0 < mean.bound[1]
    assert mean.bound[1] - mean.bound[0] == approx(4.0 * np.hypot(6.0 * 0.03 / np.sqrt(3.0), 0.0147), rel=0.05)
    assert (pp.answer, pp.bound) == (approx(1.45, rel=1e-3), None)
    assert frequency.answer == approx(1000.0, rel=1e-4)
    assert case.bench.last == frequency
    says = case.lines[-1].says
    assert says[0].startswith("OUT (test point TP1) to ground: CH2 of tap.csv, 2000 points over 10 ms")
    assert says[1].startswith("counted: mean 6 V within")
    assert "also measured: top 6.72 V" in says[2]
    assert "9 whole periods" in says[3]


def test_a_waveform_counts_without_a_machine_file_as_any_reading(book: Book):
    case = add_capture(book, opened(book, ""), sheet(sine(6.0, 1.45)), "tap.csv", Asked("R31 left leg"), NOW)
    assert {one.question.red for one in case.readings} == {"R31 left leg"}
    assert standing.stand(book, case, NOW).case.lines[-1].capture.file == "tap.csv"


def test_noise_makes_peak_to_peak_a_span_and_a_cut_one_at_least(book: Book):
    case = add_capture(book, opened(book), sheet(sine(6.0, 1.45, 0.03)), "tap.csv", Asked("TP1"), NOW)
    pp = case.readings[1]
    assert pp.bound[0] < 1.45 < pp.bound[1]
    step = 8.0 / 256
    screen = step * np.round(np.clip(sine(6.0, 1.45, 0.05), 5.0, 6.4) / step)
    case = add_capture(book, opened(book), sheet(screen), "tap.csv", Asked("TP1"), NOW)
    assert [one.question.instrument for one in case.readings] == ["pp", "frequency"]
    assert case.readings[0].bound[1] == NEVER
    assert any("cuts the top" in one for one in case.lines[-1].says)


def test_coupled_for_ac_the_mean_is_not_counted(book: Book):
    case = add_capture(book, opened(book), sheet(sine(0.0, 1.45)), "tap.csv", Asked("TP1", coupled=True), NOW)
    assert [one.question.instrument for one in case.readings] == ["pp", "frequency"]
    assert case.readings[0].question.look == Look(coupling="ac")


def test_a_single_sweep_is_marked_and_a_look_survives_the_record(book: Book):
    add_capture(book, opened(book), sheet(sine(6.0, 1.45)), "tap.csv", Asked("TP1", single=True), NOW)
    again = fold(book.events(1))
    assert all(one.question.look.single for one in again.readings)
    asked = Question("rise", "OUT", look=Look("ac", 20e6, 3.0, 50.0, (0.1, 0.25), True))
    reading = Reading(asked, NEVER, "h1")
    assert kept_reading(json.loads(json.dumps(keep_reading(reading)))) == reading


def charge(begin: float, seconds: np.ndarray) -> np.ndarray:
    """12 V over a resistor into a capacitor, 10 ms, from an instant on."""
    return np.where(seconds > begin, 12.0 * (1.0 - np.exp(-np.maximum(seconds - begin, 0.0) / 0.01)), 0.0)


def judged(machine: Machine, level: float, edge: str = "rise") -> Machine:
    """The same with a sentence that asks when OUT rises or falls through a level in the stimulus `tone`."""
    asked = replace(machine.works[0].measure, quantity=edge, level=level)
    return replace(machine, works=(replace(machine.works[0], measure=asked),))


def test_one_sweep_counts_the_rise_through_the_level_that_a_sentence_names(book: Book, monkeypatch):
    """12 V (1 - exp (-t / 10 ms)) rises through 6 V after 10 ms ln 2 = 6.93 ms, never through 13 V."""
    seconds = np.linspace(-0.02, 0.06, 1600)
    data = sheet(charge(0.0, seconds), seconds=seconds)
    case = opened(book)
    monkeypatch.setattr(capturing, "machine_of", lambda case: judged(bench.machine_of(case), 6.0))
    one = add_capture(book, case, data, "on.csv", Asked("OUT", single=True), NOW)
    rise = one.readings[-1]
    assert (rise.question.instrument, rise.question.look.level) == ("rise", 6.0)
    assert rise.answer == approx(0.01 * np.log(2.0), rel=1e-3)
    assert rise.question.look.window == (0.0, 0.06)
    assert "rise through 6 V 6.93 ms within" in one.lines[-1].says[1]
    assert add_capture(book, case, data, "on.csv", Asked("OUT"), NOW).readings[-1].question.instrument == "pp"
    monkeypatch.setattr(capturing, "machine_of", lambda case: judged(bench.machine_of(case), 13.0))
    never = add_capture(book, case, data, "on.csv", Asked("OUT", single=True), NOW)
    assert never.readings[-1].answer == NEVER
    assert "rise through 13 V never" in never.lines[-1].says[1]
    with pytest.raises(BadInput, match="nought of this file's times is not in it"):
        add_capture(
            book, case, sheet(charge(0.0, seconds), seconds=seconds - 1.0), "on.csv", Asked("OUT", single=True), NOW
        )


def test_one_sweep_counts_the_fall_through_the_level_that_a_sentence_names(book: Book, monkeypatch):
    """12 V exp (-t / 10 ms), as a supply is switched off, falls through 3 V after 10 ms ln 4 = 13.86 ms."""
    seconds = np.linspace(-0.02, 0.06, 1600)
    case = opened(book)
    monkeypatch.setattr(capturing, "machine_of", lambda case: judged(bench.machine_of(case), 3.0, "fall"))
    data = sheet(12.0 - charge(0.0, seconds), seconds=seconds)
    fall = add_capture(book, case, data, "off.csv", Asked("OUT", single=True), NOW)
    reading = fall.readings[-1]
    assert (reading.question.instrument, reading.question.look.level) == ("fall", 3.0)
    assert reading.answer == approx(0.01 * np.log(4.0), rel=1e-3)
    assert "fall through 3 V 13.86 ms within" in fall.lines[-1].says[1]


def test_the_file_is_kept_as_it_came_and_shown_again(book: Book):
    data = sheet(sine(6.0, 1.45))
    case = add_capture(book, opened(book), data, "folder/tap.csv", Asked("TP1"), NOW)
    case = bench.undo(book, case, NOW)
    case = fold(book.events(case.number))
    assert case.readings == ()
    taken = line_of(case).capture
    assert taken.file == "tap.csv"
    assert kept_file(book, taken) == data
    picture = ET.fromstring(picture_of(book, taken, 374.0))
    assert picture.get("aria-label") == "OUT, tap.csv"
    (folder_of(book) / taken.name).write_bytes(data[:-9])
    with pytest.raises(BadInput, match="damaged"):
        kept_file(book, taken)
    (folder_of(book) / taken.name).unlink()
    with pytest.raises(BadInput, match="not in the folder"):
        kept_file(book, taken)


def test_the_same_form_counts_once_and_the_view_survives_json(book: Book):
    case = opened(book)
    for _ in range(2):
        case = add_capture(book, case, sheet(sine(6.0, 1.45)), "tap.csv", Asked("TP1"), NOW, once="f1")
    assert len([one for one in case.lines if one.capture]) == 1
    view = bench.view_case(case)
    assert typed(CaseView, json.loads(json.dumps(plain(view)))) == view


@pytest.mark.parametrize(("data", "asked", "says"), [
    (sheet(sine(6.0, 1.0), sine(1.0, 1.0)), Asked("TP1"), "2 channels: 1 CH1, 2 CH2; say which"),
    (sheet(sine(6.0, 1.0)), Asked("TP1", 2), "no channel 2; take one of: 1 CH1"),
    (sheet(sine(6.0, 1.0)), Asked("R1"), "where was it taken\\?"),
    (sheet(sine(6.0, 1.0)), Asked(""), "where was it taken\\?"),
    (sheet(sine(60.0, 1.0)), Asked("TP1"), "is the factor of the probe set"),
    (b"no waveform at all", Asked("TP1"), "no columns of figures"),
])  # fmt: skip
def test_what_cannot_be_taken_leaves_nothing_behind(book: Book, data: bytes, asked: Asked, says: str):
    case = opened(book)
    before = len(book.events(case.number))
    with pytest.raises(BadInput, match=says):
        add_capture(book, case, data, "tap.csv", asked, NOW)
    assert len(book.events(case.number)) == before
    assert not folder_of(book).exists()


def test_a_waveform_at_the_command_line(probewright: Run, tmp_path: Path):
    machine, file, picture = tmp_path / "two-taps.yaml", tmp_path / "tap.csv", tmp_path / "tap.svg"
    machine.write_text(BOARD, "utf-8")
    file.write_bytes(sheet(np.zeros(2000), sine(6.0, 1.45)))
    probewright("job", "open", "--kind", "amplifier", "--bad", "sound left")
    probewright("job", "tie", machine, "--yes")
    answer = probewright("reading", "add", "--capture", file, "--at", "TP1 at tone", "--channel", "2")
    assert answer.returncode == 0, answer.stderr
    assert "waveform tap.csv at TP1 at tone, channel 2" in answer.stdout
    assert "counted: mean 6 V within" in answer.stdout
    shown = probewright("reading", "capture", "--picture", picture)
    assert shown.returncode == 0, shown.stderr
    assert "also measured: top 6.72 V" in shown.stdout
    assert ET.fromstring(picture.read_text("utf-8")).get("class") == "pw-traces"
    told = json.loads(probewright("reading", "capture", "--json").stdout)
    assert told["line"]["capture"]["channel"] == 2
    refused = probewright("reading", "add", "--capture", file, "--at", "TP1")
    assert refused.returncode == 2
    assert "say which" in refused.stderr
    for given, says in (
        (("--capture", file), "where was it taken"), (("--at", "TP1"), "--at belongs to --capture"),
        (("--capture", file, "--at", "TP1", "TP1 2 V"), "either a line or a waveform"),
        (("--capture", tmp_path / "none.csv", "--at", "TP1"), "cannot read the file"),
    ):  # fmt: skip
        answer = probewright("reading", "add", *given)
        assert (answer.returncode, says in answer.stderr) == (2, True), answer.stderr
