"""What a person reads off an oscilloscope, as typed: understood, or asked about, and never silently misread."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from probewright import machine
from probewright.errors import BadInput
from probewright.jobs.keeping import keep_reading, kept_reading
from probewright.readings import NEVER, SCOPED, Look, Question, Reading, Setup, echo, instruments
from probewright.readings.hearing import Context, Heard, hear
from probewright.readings.lines import read_readings, step_of

CORPUS = Path(__file__).parent / "corpus" / "scope-lines.tsv"
ROWS = [tuple(line.split("\t")) for line in CORPUS.read_text("utf-8").splitlines() if line]

# Invented: a bell board on a mains transformer, with a reset and a clocked output.
BELL = machine.read("""\
machine: Bell board
parts:
  TR1: source mains 9V rms 50Hz series 1R  W1 > GND
  D1: diode rectifier  W1 > RAW
  C1: capacitor 470u 25V electrolytic  RAW > GND
  R1: resistor 100R  RAW > GND
  R2: resistor 33k  RAW > RES
  C2: capacitor 10u electrolytic  RES > GND
  CLK: source 0V series 1k  CK > GND
  R3: resistor 10k  CK > OUT
  RV1: potentiometer 10k  top=RAW wiper=HOLD bottom=GND
points:
  TP4: {at: R3.2}
stimuli:
  start: {power: switch-on rise 2ms, read: 0s..200ms}
  play: {CLK: square 0V..5V 20Hz}
works:
  reset: RES rise through 2.4V at start between 50ms and 200ms; never = stays in reset
""")
# Nothing in it moves by itself; one stimulus is a plain sine.
DIMMER = machine.read("""\
machine: Lamp dimmer
parts:
  SUP: source 12V  SUP > GND
  GEN: source 0V series 600R  IN > GND
  R1: resistor 4k7  SUP > OUT
  R2: resistor 1k  OUT > IN
stimuli:
  tone: {GEN: sine 0.2V rms 1kHz}
""")
STILL = machine.read("machine: Lamp\nparts:\n  SUP: source 12V  SUP > GND\n  R1: resistor 1k  SUP > GND\n")


def context(words: str) -> Context:
    key, _, value = words.partition("=")
    if key == "asked":
        return Context(asked=Question(value, "ASKED", look=Look(level=2.4 if value in ("rise", "fall") else 0.0)))
    return Context(machine=BELL if key == "bell" else None)


def said_so(heard: Heard, wanted: str) -> list[str]:
    """What is wrong with what was heard, against the third column."""
    parts = [part.strip() for part in wanted.split("|")]
    if len(parts) != len(heard.readings):
        return [f"{len(heard.readings)} readings", *(one.text for one in heard.doubts)]
    return [str(one) for one, part in zip(heard.readings, parts, strict=True) if not same(one, part)]


def same(one: Reading, wanted: str) -> bool:
    found = re.fullmatch(r"(\w+)\[(.+?)\]=(\S+)(.*)", wanted)
    assert found, wanted
    flags = dict(flag.partition("=")[::2] for flag in found[4].split())
    window = flags.get("window")
    look = Look(
        "ac" if "ac" in flags else "dc",
        float(flags.get("limit", 0.0)),
        float(flags.get("through", 0.0)),
        float(flags.get("hertz", 0.0)),
        tuple(float(end) for end in window.split("..")) if window else None,  # type: ignore[arg-type]
        "single" in flags,
    )
    answer = math.inf if found[3] == "never" else float(found[3])
    ask = one.question
    return (
        (ask.instrument, ask.red.casefold(), ask.look) == (found[1], found[2].casefold(), look)
        and one.answer == approx(answer, rel=1e-12)
        and one.about == ("about" in flags)
        and ask.setup.stimulus == flags.get("at", "")
    )


def test_the_corpus_is_large_enough():
    assert len(ROWS) >= 50 and len({row[0:2] for row in ROWS}) == len(ROWS)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0]} ({row[1]})")
def test_each_line_of_the_corpus(row):
    line, words, wanted = row
    heard = hear(line, context(words))
    if wanted.startswith("?"):
        assert heard.doubts and not heard.readings
        assert wanted[1:] in ("", heard.doubts[0].code)
        return
    assert said_so(heard, wanted) == [] and not heard.doubts
    assert all(one.text in (line, line.partition(", power on")[0]) for one in heard.readings)


UNDERSTOOD = [row for row in ROWS if not row[2].startswith("?")]


@pytest.mark.parametrize(
    "row", [row for row in UNDERSTOOD if "asked" not in row[1]], ids=lambda row: f"{row[0]} ({row[1]})"
)
def test_the_echo_of_a_trace_can_be_typed_again(row):
    """Nothing is lost or taken otherwise when the echo is typed in place of the line."""
    here = context(row[1])
    for one in hear(row[0], here).readings:
        if one.question.instrument not in (*SCOPED, "pp") or one.showing != "yes":
            continue
        again = hear(echo.say(one, here.machine), here)
        assert [(each.question, each.answer, each.about) for each in again.readings] == [
            (one.question, one.answer, one.about)
        ], again.doubts


@pytest.mark.parametrize("row", UNDERSTOOD, ids=lambda row: f"{row[0]} ({row[1]})")
def test_what_was_read_comes_back_from_the_record(row):
    for one in hear(row[0], context(row[1])).readings:
        plain = json.loads(json.dumps(keep_reading(one), allow_nan=False))
        assert kept_reading(plain) == one
        assert ("look" in plain) == (one.question.look != Look())


def test_a_reading_written_before_there_were_looks_is_read_as_usual():
    plain = keep_reading(Reading(Question("pp", "OUT"), 0.3, "h1"))
    assert "look" not in plain and kept_reading(plain).question.look == Look()


def test_everything_taken_for_granted_is_said():
    heard = hear("RES goes high after 85 ms", Context(machine=BELL))
    assert heard.echo[0].startswith("RES to ground: rises through 2.4 V after 85 ms, power on, start (")
    assert heard.echo[1:] == (
        "taken for granted: through 2.4 V",
        "taken for granted: at start, where something happens once",
    )
    limited = hear("OUT top 5 V, bw limit on", Context(machine=BELL)).echo
    assert "taken for granted: a limit at 20 MHz, as the button usually has it" in limited
    assert "taken for granted: as the card asked" in hear("never", context("asked=rise")).echo


def test_volts_and_their_ripple_in_one_line_are_of_one_place() -> None:
    heard = hear("RAW 12.2 V, ripple 0.4 Vpp 100 Hz", Context(machine=BELL))
    asked = [(one.question.instrument, one.question.red, one.answer) for one in heard.readings]
    assert asked == [("dc", "RAW", 12.2), ("pp", "RAW", 0.4), ("frequency", "RAW", 100.0)]
    assert "taken for granted: at the same place" in heard.echo and not any("card" in one for one in heard.echo)


def test_two_figures_of_one_trace_are_of_one_hook_up():
    first, second = hear("RAW max 12.4 V, min 11.9 V", Context(machine=BELL)).readings
    assert first.hookup == second.hookup
    first, second = hear("RAW max 12.4 V, OUT max 4.9 V", Context(machine=BELL)).readings
    assert first.hookup != second.hookup


# Where nothing moves -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "kept"), [("SUP 50 Hz", "hertz"), ("SUP 20 ms", "seconds"), ("SUP period 20 ms", "seconds")]
)
def test_where_nothing_moves_hertz_and_seconds_are_kept(line: str, kept: str):
    (one,) = hear(line, Context(machine=STILL)).readings
    assert one.question.instrument == kept


def test_where_nothing_moves_a_top_is_asked_about():
    (doubt,) = hear("SUP top 12.1 V", Context(machine=STILL)).doubts
    assert "nothing in this machine file moves" in doubt.text and "volts dc" in doubt.mend


def test_a_plain_sine_has_a_distortion_and_its_hertz_are_kept():
    (one,) = hear("OUT distortion 3 %", Context(machine=DIMMER)).readings
    assert one.question == Question("distortion", "OUT", setup=Setup(stimulus="tone"))
    (one,) = hear("OUT 1 kHz", Context(machine=DIMMER)).readings
    assert one.question.instrument == "hertz"
    (one,) = hear("OUT 0.3 Vpp, ac coupled", Context(machine=DIMMER)).readings
    assert one.question.look == Look() and one.question.instrument == "pp"


def test_one_of_two_frequencies_is_named_at_the_bench():
    chime = machine.read(
        "machine: Bell\nparts:\n  GEN: source 0V series 1k  IN > GND\n  C1: capacitor 100n  IN > GND\n"
        "stimuli:\n  chime: {GEN: sine 0.5V rms 400Hz or 2kHz}\n"
    )
    for line in ("IN 0.3 Vpp at chime 2kHz", "IN level 0.1 V rms, at chime 2kHz"):
        (one,) = hear(line, Context(machine=chime)).readings
        assert one.question.setup.stimulus == "chime 2kHz"
    (doubt,) = hear("IN 0.3 Vpp", Context(machine=chime)).doubts
    assert "`at chime 400Hz` or `at chime 2kHz`" in doubt.mend
    (one,) = read_readings("set-up: power on, chime 400Hz\nIN 1.2 Vpp\n", chime)
    assert one.question.setup.stimulus == "chime 400Hz"


# In a file of readings ---------------------------------------------------------------------------


def test_a_file_of_readings_takes_them_in_the_plain_form():
    readings = read_readings(
        "RAW 50 Hz\nRAW ripple 0.4 Vpp 100 Hz, ac coupled\nset-up: power on, start\nRES never rises through 2.4 V; not showing\n"
        "set-up: power on, play\nTP4 duty 30 %, over 0..50 ms\nOUT 0.3 Vpp, 20 MHz limit\n",
        BELL,
    )
    assert [(one.question.instrument, one.question.red, one.answer, one.line) for one in readings] == [
        ("frequency", "RAW", 50.0, 1), ("pp", "RAW", 0.4, 2), ("frequency", "RAW", 100.0, 2),
        ("rise", "RES", NEVER, 4), ("duty", "R3.2", 0.3, 6), ("pp", "OUT", 0.3, 7),
    ]  # fmt: skip
    assert readings[3].showing == "no" and readings[3].question.setup.stimulus == "start"
    assert readings[4].question.look == Look(window=(0.0, 0.05)) and readings[5].question.look == Look(limit=20e6)


@pytest.mark.parametrize(
    ("line", "text", "mend"),
    [
        ("RAW top 12 V, over 20..5 ms", "ends before it begins", "over 0..200 ms"),
        ("RES falls after 85 ms", "through how many volts", "falls through"),
        ("OUT level at 2 kHz 0.3 V at play", "counted", "rms"),
        ("OUT period -20 ms", "cannot be negative", "without the sign"),
        ("OUT tops 5 V", "", ""),
    ],
)
def test_a_file_of_readings_says_what_to_write_instead(line: str, text: str, mend: str):
    with pytest.raises(BadInput) as bad:
        read_readings(line, BELL)
    (found,) = bad.value.complaints
    assert text in found.text and mend in found.mend and found.column >= 1


def test_where_nothing_moves_a_file_refuses_them_as_before():
    with pytest.raises(BadInput) as bad:
        read_readings("SUP 50 Hz\nSUP top 12 V\n", STILL)
    assert [one.text for one in bad.value.complaints] == [
        "frequencies are not read here", "no stimulus in this file puts a signal on",
    ]  # fmt: skip


def test_every_form_on_the_page_is_understood(root):
    page = (root / "docs" / "readings.md").read_text("utf-8").split("## Off a trace\n")[1].split("\n## ")[0]
    typed = [cell for row in re.findall(r"^\| (`.*?) \|", page, re.M) for cell in re.findall(r"`([^`]+)`", row)]
    forms = [one for one in typed if re.search(r"\d|never|n't", one)]
    assert len(forms) >= 20
    for form in forms:
        line = form if re.match(r"RAW|RES|OUT", form) else f"RES {form}"
        heard = hear(line, Context(machine=BELL))
        assert heard.readings and not heard.doubts, (line, heard.doubts)
        assert all(one.question.instrument in (*SCOPED, "pp", "dc") for one in heard.readings)
    settings = page.split("How the oscilloscope was set")[1].split("Where nothing moves")[0]
    for words in re.findall(r"`([^`]+)`", settings):
        (one,) = hear(f"RAW top 12 V, {words}", Context(machine=BELL)).readings
        assert (one.question.look == Look()) == (words == "dc coupled")


# How good a figure is ----------------------------------------------------------------------------


@pytest.mark.parametrize("instrument", list(SCOPED))
def test_each_has_an_error_with_a_source(instrument: str):
    law = instruments.law(instrument)
    assert law.unit == {"1": "%"}.get(SCOPED[instrument], SCOPED[instrument]) and law.source
    error = instruments.error(Question(instrument, "A"), 0.5)
    assert 0.0 < math.hypot(error.shared, error.own) < 0.1


def test_a_time_is_no_better_than_one_sample_of_its_window():
    """2500 samples over 5 s are 2 ms apart; even within half of that either way is 1 / sqrt 3 of it."""
    wide = Question("rise", "RES", look=Look(level=2.4, window=(0.0, 5.0)))
    own = instruments.error(wide, 0.02).own
    assert own == approx(math.hypot(0.01 * 0.02, 1e-3 / math.sqrt(3.0)), rel=1e-9)
    assert instruments.error(replace(wide, look=Look(level=2.4)), 0.02).own == approx(0.01 * 0.02)


def test_the_last_digit_is_that_of_the_answer():
    (one,) = hear("RES rises through 2.45 V after 85 ms", Context(machine=BELL)).readings
    assert step_of(one) == approx(1e-3)
    (one,) = hear("TP4 duty 30.5 % at play", Context(machine=BELL)).readings
    assert step_of(one) == approx(1e-3)


# The card ----------------------------------------------------------------------------------------


def test_a_card_says_how_to_read_it():
    ask = Question("rise", "RES", setup=Setup(stimulus="start"), look=Look("ac", 20e6, 2.4, 0.0, (0.0, 0.2), True))
    assert echo.ask(ask, BELL).startswith(
        "x10 probe: clip on GND, tip on RES. Oscilloscope, single sweep: after how long it rises through 2.4 V, or never, "
        "AC coupled, 20 MHz limit, single shot, over 0 s to 200 ms. Power on, start ("
    )
    assert "Two x10 probes" in echo.ask(Question("top", "RES", "RAW"), BELL)
    assert "volts rms at 2 kHz" in echo.ask(Question("level", "OUT", look=Look(hertz=2000.0)), BELL)


def test_bounds_of_an_answer_are_kept():
    (one,) = hear("less than 50 ms", context("asked=period")).readings
    assert one.bound == (-math.inf, 0.05) and "period less than 50 ms" in echo.say(one, None)


@given(
    st.text(
        alphabet="RESOUT top max min rises through after never over ac coupled duty period 0123456789.,%VmsHzkp-;()",
        max_size=60,
    )
)
def test_nothing_typed_ends_the_program(line: str):
    for machine_file in (BELL, None):
        heard = hear(line, Context(machine=machine_file))
        assert not (heard.readings and heard.doubts)
