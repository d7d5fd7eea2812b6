"""What can be typed as a reading: understood whole and said back, or refused with a mend."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from probewright import machine
from probewright.errors import BadInput, Complaint
from probewright.machine.edits import AddPath, FreePin, ReplacePart, SetFigure, Unplug
from probewright.machine.model import GROUND
from probewright.readings import Question, Reading, Setup, echo, instruments, lines, setups
from probewright.readings.hearing import Context, hear
from probewright.readings.lines import Bench, continue_readings, read_readings, step_of

BOARD = """\
machine: Lamp dimmer with a buzzer
parts:
  SUP:  source 12V series 0.3R  SUP > GND
  GEN:  source 0V series 600R off 600R  IN > GND
  BAT:  source 3V series 1R  KEEP > GND
  RV1:  potentiometer 10k  top=SUP wiper=FADE bottom=GND
  R1:   resistor 4k7  FADE > LAMP
  R2:   resistor 1k  SUP > COL
  R47:  resistor 10k  KEEP > COL
  C5:   capacitor 10u electrolytic  IN > LAMP
  Q7:   npn small-signal  c=COL b=LAMP e=OUT
  R9:   resistor 1k  OUT > GND
extras:
  lead:   lead  OUT > SOCK
  dimmer: load 10k  SOCK > GND
points:
  TP4: {at: R1.2, ease: easy}
stimuli:
  full: {do: turn the dimmer fully right, RV1: 100%}
  dark: {RV1: 0%}
  tone: {do: "turn the buzzer on, volume half", GEN: sine 0.2V rms 1kHz}
works:
  left output: SOCK pp at tone; below 0.2V = dead; below 0.4V = much too quiet
  lamp lit: OUT dc at full above 3V
  FADE: FADE dc at full above 3V
when off: {stays: [BAT]}
added boards:
  on-air lamp:
    fitted: yes
    parts:
      J9:   contact  OUT > TAP
      R901: resistor 1k5  TAP > GND
"""
M = machine.read(BOARD)
TWO_TONES = machine.read(BOARD.replace("works:", "  hiss: {GEN: sine 0.1V rms 9kHz}\nworks:"))
QUIET = machine.read(re.sub(r"  tone:.*\n|  left output:.*\n", "", BOARD))
OFF, TONE, FULL = Setup(power="off"), Setup(stimulus="tone"), Setup(stimulus="full")
INF = math.inf


def one(text: str, board=M) -> Reading:
    (reading,) = read_readings(text, board)
    return reading


def complaints(text: str, board=M) -> tuple[Complaint, ...]:
    with pytest.raises(BadInput) as bad:
        read_readings(text, board, "bench.readings")
    return bad.value.complaints


# Answers: a corpus of lines and what each one means -------------------------------------------

CORPUS = [
    # line, instrument, red, black, answer, set-up
    ("TP4 2.61 V", "dc", "R1.2", GROUND, 2.61, Setup()),
    ("tp4 2.61V", "dc", "R1.2", GROUND, 2.61, Setup()),
    ("Q7.c 11.8", "dc", "Q7.c", GROUND, 11.8, Setup()),
    ("q7.C 11.8", "dc", "Q7.c", GROUND, 11.8, Setup()),
    ("Q7.collector 11.8 Vdc", "dc", "Q7.c", GROUND, 11.8, Setup()),
    ("Q7 base 0.65 V", "dc", "Q7.b", GROUND, 0.65, Setup()),
    ("R1 pin 2 650 mV", "dc", "R1.2", GROUND, 0.65, Setup()),
    ("R1.2 650000 uV", "dc", "R1.2", GROUND, 0.65, Setup()),
    ("R1.2 0.00065 kV", "dc", "R1.2", GROUND, 0.65, Setup()),
    ("OUT 2,61 V", "dc", "OUT", GROUND, 2.61, Setup()),
    ("OUT −2.61 V", "dc", "OUT", GROUND, -2.61, Setup()),
    ("OUT -.5", "dc", "OUT", GROUND, -0.5, Setup()),
    ("OUT +5", "dc", "OUT", GROUND, 5.0, Setup()),
    ("OUT 3V3", "dc", "OUT", GROUND, 3.3, Setup()),
    ("OUT = 3.3 volts", "dc", "OUT", GROUND, 3.3, Setup()),
    ("OUT: 3.3 V", "dc", "OUT", GROUND, 3.3, Setup()),
    ("OUT=3.3 V", "dc", "OUT", GROUND, 3.3, Setup()),
    ("OUT is 3.3 V DC", "dc", "OUT", GROUND, 3.3, Setup()),
    ("OUT DC 3.3 V", "dc", "OUT", GROUND, 3.3, Setup()),
    ("OUT about 3.3 V", "dc", "OUT", GROUND, 3.3, Setup()),
    ("OUT ~3.3", "dc", "OUT", GROUND, 3.3, Setup()),
    ("@OUT 3.3 V", "dc", "OUT", GROUND, 3.3, Setup()),
    ("OUT@ 3.3 V", "dc", "OUT", GROUND, 3.3, Setup()),
    ("OUT 3.3 V at full", "dc", "OUT", GROUND, 3.3, FULL),
    ("OUT at FULL 3.3 V", "dc", "OUT", GROUND, 3.3, FULL),
    ("COL to OUT 1.2 V", "dc", "COL", "OUT", 1.2, Setup()),
    ("COL to ground 1.2", "dc", "COL", GROUND, 1.2, Setup()),
    ("ground to Q7.e -1.2", "dc", GROUND, "Q7.e", -1.2, Setup()),
    ("TP4 to Q7 emitter 0.6 V", "dc", "R1.2", "Q7.e", 0.6, Setup()),
    ("across R2 200 mV", "dc", "R2.1", "R2.2", 0.2, Setup()),
    ("SUP 12.0", "dc", "SUP", GROUND, 12.0, Setup()),
    ("SUP.plus 12.0", "dc", "SUP.plus", GROUND, 12.0, Setup()),
    ("FADE: 2.5 V", "dc", "FADE", GROUND, 2.5, Setup()),
    ("SOCK 0.32 Vpp at tone", "pp", "SOCK", GROUND, 0.32, TONE),
    ("SOCK 320 mVpp", "pp", "SOCK", GROUND, 0.32, TONE),
    ("SOCK 320mV p-p", "pp", "SOCK", GROUND, 0.32, TONE),
    ("SOCK 320 mV peak to peak", "pp", "SOCK", GROUND, 0.32, TONE),
    ("SOCK at tone 0.32 V pk-pk", "pp", "SOCK", GROUND, 0.32, TONE),
    ("COL to OUT 0.32 pp", "pp", "COL", "OUT", 0.32, TONE),
    ("SOCK 0.11 V rms", "rms", "SOCK", GROUND, 0.11, TONE),
    ("SOCK 110 mVac", "rms", "SOCK", GROUND, 0.11, TONE),
    ("SOCK AC 0.11 V", "rms", "SOCK", GROUND, 0.11, TONE),
    ("left output: half", "works", "left output", GROUND, 0.5, TONE),
    ("Left Output: a third", "works", "left output", GROUND, approx(1 / 3), TONE),
    ("left output = quarter", "works", "left output", GROUND, 0.25, TONE),
    ("left output: double at tone", "works", "left output", GROUND, 2.0, TONE),
    ("left output: 70 %", "works", "left output", GROUND, 0.7, TONE),
    ("left output: about 70 per cent", "works", "left output", GROUND, 0.7, TONE),
    ("left output: 12,5%", "works", "left output", GROUND, 0.125, TONE),
    ("left output: fine", "works", "left output", GROUND, "ok", TONE),
    ("left output: bad", "works", "left output", GROUND, "bad", TONE),
    ("left output: Dead", "works", "left output", GROUND, "dead", TONE),
    ("left output:  much  too quiet", "works", "left output", GROUND, "much too quiet", TONE),
    ("lamp lit: ok", "works", "lamp lit", GROUND, "ok", FULL),
    ("FADE: ok", "works", "FADE", GROUND, "ok", FULL),
    ("lead swapped: same", "swap", "lead", GROUND, "same", Setup()),
    ("lead swapped: no change", "swap", "lead", GROUND, "same", Setup()),
    ("swapped dimmer: better", "swap", "dimmer", GROUND, "better", Setup()),
    ("OUT 3 V off", "dc", "OUT", GROUND, 3.0, OFF),
    ("OUT 3 mV at full power off", "dc", "OUT", GROUND, 0.003, Setup(power="off", stimulus="full")),
    ("R1 4k1 ohm off", "ohms", "R1.1", "R1.2", 4100.0, OFF),
    ("R1 diode 0.55 V off", "diode", "R1.1", "R1.2", 0.55, OFF),
    ("R1.2 to R1.1 OL on the diode range off", "diode", "R1.2", "R1.1", INF, OFF),
    ("R1 4k1 off", "ohms", "R1.1", "R1.2", 4100.0, OFF),
    ("R1.1 to R1.2 OL ohm OFF", "ohms", "R1.1", "R1.2", INF, OFF),
    ("FADE: 4k1 ohm off", "ohms", "FADE", GROUND, 4100.0, OFF),
    ("Dimmer swapped cured", "swap", "dimmer", GROUND, "cured", Setup()),
]
CORPUS_OFF = [
    ("R1 4k1 ohm", "ohms", "R1.1", "R1.2", 4100.0, OFF),
    ("R1 4k1", "ohms", "R1.1", "R1.2", 4100.0, OFF),
    ("R1 4100", "ohms", "R1.1", "R1.2", 4100.0, OFF),
    ("r1 4.1 kohm", "ohms", "R1.1", "R1.2", 4100.0, OFF),
    ("R1 4,1 kΩ", "ohms", "R1.1", "R1.2", 4100.0, OFF),
    ("R1 4R1", "ohms", "R1.1", "R1.2", 4.1, OFF),
    ("R1: 0R33", "ohms", "R1.1", "R1.2", 0.33, OFF),
    ("R1 about 4.1 k ohms", "ohms", "R1.1", "R1.2", 4100.0, OFF),
    ("across C5 2.2 Mohm", "ohms", "C5.1", "C5.2", 2.2e6, OFF),
    ("R1.1 to R1.2 OL ohm", "ohms", "R1.1", "R1.2", INF, OFF),
    ("Q7.b to Q7.e OL", "ohms", "Q7.b", "Q7.e", INF, OFF),
    ("Q7.b to Q7.e O.L Mohm", "ohms", "Q7.b", "Q7.e", INF, OFF),
    ("R1 open", "ohms", "R1.1", "R1.2", INF, OFF),
    ("OUT 0 ohm", "ohms", "OUT", GROUND, 0.0, OFF),
    ("SUP 1k2 ohm", "ohms", "SUP", GROUND, 1200.0, OFF),
    ("R1 4k1 ohm at dark", "ohms", "R1.1", "R1.2", 4100.0, Setup(power="off", stimulus="dark")),
    ("OUT 3 mV", "dc", "OUT", GROUND, 0.003, OFF),
    ("R2.1 0.1 V dc", "dc", "R2.1", GROUND, 0.1, OFF),
]
EVERY_LINE = [row[0] for row in CORPUS] + [row[0] for row in CORPUS_OFF]


def said_back(figure: str) -> lines.Said:
    """The figure of an echo, read as if it were typed."""
    return lines.read_answer(lines.peak_to_peak(setups.Piece(figure)))


def understood(row: tuple[object, ...]) -> Reading:
    """A corpus line, below the set-up line it needs."""
    first = "set-up: power off\n" if row in CORPUS_OFF else ""
    return one(f"{first}{row[0]}")


@pytest.mark.parametrize("row", CORPUS + CORPUS_OFF, ids=lambda row: row[0])
def test_each_line_of_the_corpus_means_what_it_should(row):
    line, instrument, red, black, answer, setup = row
    said = understood(row)
    assert said.question == Question(instrument, red, black, setup)
    assert said.answer == answer and type(said.answer) is not int
    assert said.text == line and said.showing == "yes"
    assert said.about == ("about" in line or "~" in line)


@pytest.mark.parametrize("row", CORPUS + CORPUS_OFF, ids=lambda row: row[0])
def test_the_echo_names_place_value_unit_and_set_up(row):
    _, instrument, red, black, answer, setup = row
    words = echo.say(understood(row), M)
    assert words.startswith(red if red != GROUND else "ground")
    assert setups.say(setup, M) in words
    if instrument in ("works", "swap"):
        return
    assert f" to {black if black != GROUND else 'ground'}" in words
    assert {"dc": "V DC", "pp": "V peak to peak", "rms": "V AC rms", "ohms": "Ω", "diode": "diode"}[instrument] in words
    figure = re.split(r": ", words)[1].split(", ")[0].removesuffix(" diode").removesuffix(" on the diode range")
    assert figure == "OL" if answer == INF else said_back(figure).value == approx(answer, rel=1e-12)


def test_the_echo_in_full():
    assert echo.say(one("TP4 2.61 at tone; not showing"), M) == (
        "R1.2 (test point TP4) to ground: 2.61 V DC, power on, tone (turn the buzzer on, volume half); "
        "fault not showing"
    )
    assert echo.say(one("SUP about 12"), M) == "SUP (the net, not the part) to ground: about 12 V DC, power on"
    assert echo.say(one("SOCK 0.32 Vpp;can't tell"), M).endswith("; can't tell whether the fault was showing")
    assert echo.say(one("left output: about half"), M).startswith("left output: about 50 % of healthy, power on, tone")
    assert echo.say(one("left output: dead"), M).startswith("left output: dead, power on, tone")
    assert echo.say(one("lead swapped: cured"), M) == "lead exchanged for a good one: complaint gone, power on"
    # every digit typed, so that a slip of the finger shows
    assert ": 2.6173 V DC," in echo.say(one("OUT 2.6173"), M)
    assert ": 0.99996 V DC," in echo.say(one("OUT 999.96 mV"), M)
    off = "set-up: power off, lift R9.1\n"
    assert echo.say(one(f"{off}C5 2M2"), M).startswith("C5.1 (plus) to C5.2 (minus): 2.2 MΩ, power off")
    assert echo.say(one(f"{off}R1 OL"), M) == (
        "R1.1 to R1.2 (test point TP4): OL, over limit (above 40 MΩ), power off and discharged, R9.1 lifted"
    )


def test_questions_as_instructions():
    def ask(instrument, red, black=GROUND, setup=TONE):
        return echo.ask(Question(instrument, red, black, setup), M)

    tone = "Power on, tone (turn the buzzer on, volume half)."
    assert ask("dc", "Q7.c") == f"Black probe on GND, red on Q7.c. Meter, DC volts. {tone}"
    assert ask("dc", "Q7.c", "Q7.e").startswith("Black probe on Q7.e, red on Q7.c.")
    assert "AC volts" in ask("rms", "Q7.c")
    assert ask("pp", "SOCK") == f"x10 probe: clip on GND, tip on SOCK. Oscilloscope, volts peak to peak. {tone}"
    assert ask("works", "left output").endswith("dead, much too quiet?")
    swap = ask("swap", "lead")
    assert swap == f"With the power off exchange lead for a known good one. Then: same, better or cured? {tone}"
    # power goes off before the probes go on
    assert ask("ohms", "R1.1", "R1.2", OFF) == (
        "Power off and discharged. Black probe on R1.2 (test point TP4), red on R1.1. Meter, low-voltage ohms."
    )


@pytest.mark.parametrize(("line", "where", "instrument"), [
    ("TP4 2.61 V", "R1.2", "Meter, DC volts"),
    ("ground to OUT 1 V", "ground to OUT", "Meter, DC volts"),
    ("SOCK 0.1 V rms", "SOCK", "Meter, AC volts"),
    ("SOCK 0.3 Vpp", "SOCK", "Oscilloscope, volts peak to peak"),
    ("COL to OUT 0.3 Vpp", "COL to OUT", "Oscilloscope, volts peak to peak, red minus black"),
    ("R1 4k1 ohm off", "R1.1 to R1.2", "Meter, low-voltage ohms"),
    ("left output: ok", "left output", "Eyes and ears"),
    ("lead swapped: same", "lead", "A known good one"),
])  # fmt: skip
def test_where_and_with_what_in_short(line, where, instrument):
    ask = one(line).question
    assert (echo.where(ask), echo.instrument_words(ask)) == (where, instrument)
    if ask.instrument not in ("works", "swap"):
        assert f" {instrument}." in echo.ask(ask, M)


def test_the_earthed_clip_of_a_scope_probe_is_never_sent_to_a_live_place():
    words = echo.ask(Question("pp", "COL", "OUT", TONE), M)
    assert "both clips on GND" in words and "red minus black" in words


# Refusals: where, what, and what to write instead ---------------------------------------------

REFUSED = [
    # line, column, in the text, in the mend
    ("TP5 2.61 V", 1, "'TP5' is not one of the machine's places", "`TP4`"),
    ("R1.3 2.61 V", 1, "R1 has no pin '3'", "R1.1 or R1.2"),
    ("  Q7.x 3", 3, "Q7 has no pin 'x'", "Q7.c or Q7.b or Q7.e"),
    ("R1 2.61 V", 1, "R1 is a part, not a place", "R1.1 or R1.2, or `across R1`"),
    ("Q7 2.61 V", 1, "Q7 is a part, not a place", "Q7.c or Q7.b or Q7.e"),
    ("across Q7 2.61 V", 8, "Q7 has 3 pins", "name two of them"),
    ("COL to SOKC 1.2", 8, "'SOKC' is not one", "`SOCK`"),
    ("COL to OUT", 1, "no figure for COL to OUT", "2.61 V"),
    ("COL to OUT to SOCK 1", 1, "between two places", "A to B"),
    ("OUT", 1, "no figure for OUT", "OUT 2.61 V"),
    ("OUT to OUT 3", 1, "both probes are on OUT", "two different places"),
    ("GND 0.1", 1, "both probes are on GND", "two different places"),
    ("R1.1 R47", 1, "no figure for R1.1", "R1.1 2.61 V"),
    ("R1 4k1 ohm", 4, "ohms with power on", "set-up: power off"),
    ("R1.1 to R1.2 OL", 14, "ohms with power on", "set-up: power off"),
    ("R1 diode OL", 10, "diode range with power on", "set-up: power off"),
    ("R1 diode 47 ohm off", 10, "the diode range shows volts", "diode OL"),
    ("OUT 4k1", 5, "could be volts or ohms", "V or ohm"),
    ("OUT 3 V V", 5, "names its unit twice", "write it once"),
    ("OUT 3 mV V", 5, "names its unit twice", "write it once"),
    ("OUT - 3 V", 5, "the sign stands apart", "`-3 V` in one"),
    ("C5 - 3 V", 4, "could be a pin", "`C5.minus 3 V`"),
    ("C5 + 3 V", 4, "could be a pin", "`C5.plus 3 V`"),
    ("SUP - 12 V", 5, "the sign stands apart", "in one"),
    ("OUT 3 off", 5, "could be volts or ohms", "V or ohm"),
    ("OUT off", 5, "'off' is not an answer", "2.61 V"),
    ("OUT 3 V, off", 5, "'3 V,' is not an answer", "2.61 V"),
    ("OUT 3 V on", 5, "'3 V on' is not an answer", "2.61 V"),
    ("R1 2.2 mohm off", 4, "less than the meter can show", "`Mohm` for millions"),
    ("R1 4m7 ohm off", 4, "less than the meter can show", "`0.0022 ohm`"),
    ("R1 0.1 uohm off", 4, "less than the meter can show", "`0.0022 ohm`"),
    ("R1 4 ohm ohm off", 4, "names its unit twice", "write it once"),
    ("R1 about OL off", 4, "over limit has no size", "`OL ohm`"),
    ("R1 dc OL off", 4, "over limit has no size and no kind", "`OL ohm`"),
    ("R1 dc 4k1 ohm off", 4, "both dc and ohms", "keep one"),
    ("SOCK 0.3 Vpp off", 6, "no signal is on with power off", "no `off` behind it"),
    ("OUT 2.6 A", 5, "amps are not read", "volts across a resistor"),
    ("OUT 20 mA", 5, "amps are not read", "volts across a resistor"),
    ("OUT 50 Hz", 5, "frequencies are not read", "0.32 Vpp"),
    ("OUT 5 Vpk", 5, "peak volts", "0.32 Vpp"),
    ("OUT 70 %", 5, "per cent belong to what works", "left output: 70 %"),
    ("OUT >3 V", 5, "not a bound", "the figure"),
    ("OUT ?", 5, "needs a figure", "leave the line out"),
    ("OUT 2.6..2.7 V", 5, "is a range", "about 2.6 V"),
    ("OUT 1,234 V", 5, "decimal comma or a thousands mark", "1.234 or 1234"),
    ("OUT 2.6.1 V", 5, "is not a voltage", "write it like"),
    ("OUT 3 furlongs", 5, "is not an answer", "2.61 V"),
    ("OUT 3 V, not showing", 5, "more than an answer", "semicolon"),
    ("OUT DC 3 Vpp", 5, "both dc and pp", "keep one"),
    ("OUT OL V", 5, "in ohms only", "higher range"),
    ("OUT 1.5 kV", 5, "meter on DC volts ends at 1 kV", "mV, V or kV"),
    ("OUT -0.2 Vpp", 5, "cannot be negative", "without the sign"),
    ("SOCK 0.2 Vpp at dark", 6, "dark puts no signal on", "`at tone`"),
    ("SOCK 0.2 Vpp at tune", 17, "'tune' is not one of the machine's stimuli", "`tone`"),
    ("OUT 3 V; hoho", 10, "'hoho' is not a remark", "same hook-up"),
    ("OUT 3 V; showing; not showing", 19, "two things at once", "keep one of not showing, can't tell, showing"),
    ("OUT 3 V; can't tell; showing", 22, "two things at once", "keep one of"),
    ("; not showing", 1, "a remark stands behind its reading", "TP4 2.61 V; not showing"),
    ("left output half", 1, "no colon behind left output", "`left output: half`"),
    ("left output: about ok", 14, "neither a word nor a share", "write `ok`, or `about 70 %`"),
    ("left output: off", 14, "does not say how left output does", "much too quiet"),
    ("setup tone", 1, "no colon behind set-up", "`set-up: power on`"),
    ("OUT 3 V; not shoing", 10, "is not a remark", "`not showing`"),
    ("OUT 3 V; same hook-up", 10, "no reading before", "leave `same hook-up` out"),
    ("left output: loud", 14, "'loud' does not say how left output does", "much too quiet"),
    ("left output: 0.3 V", 14, "does not say how", "70 %"),
    ("left output: 0.5", 14, "does not say how", "half"),
    ("left output: 0 %", 14, "no share to reckon with", "`bad`"),
    ("left output: half at full", 1, "left output is judged at tone", "leave out `at full`"),
    ("left outptu: half", 1, "neither a place nor something that works", "`left output`"),
    ("R1 swapped: same", 1, "R1 cannot be swapped from outside", "fitted a new R1"),
    ("laed swapped: same", 1, "not one of the machine's leads and extras", "`lead`"),
    ("lead swapped: no better", 15, "does not say what the swap did", "`same`, `better` or `cured`"),
    ("set-up: power onn", 9, "not understood in a set-up", "`power on`"),
    ("set-up: tone, dark", 15, "two stimuli", "keep one"),
    ("set-up: on, off", 13, "both on and off", "keep one"),
    ("set-up: stimulus tine", 18, "'tine' is not one of the machine's stimuli", "`tone`"),
    ("set-up: lift R1", 14, "R1 is a part, not a place", "R1.1 or R1.2"),
    ("set-up: lift OUT", 14, "only a leg can be lifted", "Q7.e, R9.1"),
    ("set-up: unplug dimer", 16, "'dimer' is not one of the machine's parts", "`dimmer`"),
    ("set-up: replaced R11", 18, "'R11' is not one", "`R1`"),
    ("set-up: link OUT", 14, "a link has two ends", "`link A to B`"),
    ("set-up: link OUT to OUT", 14, "both ends of the link are OUT", "two different places"),
    ("set-up: warm", 9, "not understood in a set-up", "`link A to B`"),
]
REFUSED_OFF = [
    ("OUT 3", 5, "could be volts or ohms", "V or ohm"),
    ("R1.1 to R1.2 4k1", 14, "could be volts or ohms", "V or ohm"),
    ("R1 R47", 1, "no figure for R1", "`R1 4k1 ohm`"),
    ("SOCK 0.3 Vpp", 6, "no signal is on with power off", "set-up: power on"),
    ("SOCK 0.1 V rms", 6, "no signal is on with power off", "set-up: power on"),
    ("R1 50 Mohm", 4, "low-voltage ohms ends at 40 MΩ", "OL ohm"),
    ("R1 -4 ohm", 4, "below nought", "write 4"),
    ("Q7 4k", 1, "Q7 has 3 pins", "name two of them"),
    ("R1 4k7k", 4, "is not an answer", "4k1 ohm"),
    ("R1 4k7k ohm", 4, "is not a resistance", "4k7"),
    ("left output: ok", 1, "cannot be judged with power off", "set-up: power on"),
    ("lead swapped: same", 1, "judged with power on", "set-up: power on"),
]


@pytest.mark.parametrize(("line", "column", "text", "mend"), REFUSED, ids=[row[0] for row in REFUSED])
def test_each_refusal_says_where_what_and_what_to_write(line, column, text, mend):
    (one_thing,) = complaints(line)
    assert (one_thing.file, one_thing.line, one_thing.column) == ("bench.readings", 1, column)
    assert text in one_thing.text and mend in one_thing.mend


@pytest.mark.parametrize(("line", "column", "text", "mend"), REFUSED_OFF, ids=[row[0] for row in REFUSED_OFF])
def test_each_refusal_with_power_off(line, column, text, mend):
    (one_thing,) = complaints(f"set-up: off\n\n{line}")
    assert (one_thing.line, one_thing.column) == (3, column)
    assert text in one_thing.text and mend in one_thing.mend


def test_every_bad_line_is_told_at_once():
    found = complaints("OUT 3 V\nOTU 3 V\nset-up: unplug x, lift OUT\nOUT 3 A # late\n")
    assert [each.line for each in found] == [2, 3, 3, 4]
    assert all(each.mend for each in found)


def test_a_bad_piece_of_a_set_up_does_not_make_the_lines_below_it_wrong():
    (only,) = complaints("set-up: off, unplug x\nR1 4k1 ohm")
    assert only.line == 2 - 1


def test_which_signal_is_asked_only_when_there_are_several():
    assert one("SOCK 0.3 Vpp").question.setup == TONE
    (which,) = complaints("SOCK 0.3 Vpp", TWO_TONES)
    assert which.text == "which signal was on?" and which.mend == "write `at tone` or `at hiss`"
    assert one("SOCK 0.3 Vpp at hiss", TWO_TONES).question.setup.stimulus == "hiss"
    assert one("set-up: hiss\nSOCK 0.3 Vpp", TWO_TONES).question.setup.stimulus == "hiss"
    (none,) = complaints("SOCK 0.3 Vpp", QUIET)
    assert none.text == "no stimulus in this file puts a signal on"


def test_ac_volts_of_a_meter_are_refused_beyond_its_band():
    (beyond,) = complaints("SOCK 0.1 V rms at hiss", TWO_TONES)
    assert "hiss is 9 kHz" in beyond.text and "50 Hz to 1 kHz" in beyond.text and "Vpp" in beyond.mend


def test_names_that_differ_in_case_only_are_asked():
    board = machine.read("machine: M\nparts:\n  R1: resistor 1k  Out > OUT\n  R2: resistor 1k  Out > GND\n")
    assert one("OUT 3", board).question.red == "OUT"
    (which,) = complaints("out 3", board)
    assert which.text == "'out' could be Out or OUT"


def test_earth_is_the_net_of_that_name_where_there_is_one():
    board = machine.read(BOARD.replace("OUT > GND", "OUT > EARTH", 1))
    assert one("earth 0.1", board).question.red == "EARTH"
    assert one("earth to ground 0.1", board).question.black == GROUND
    assert one("OUT to earth 0.1").question.black == GROUND


def test_a_forgotten_colon_is_told_apart_from_a_place_of_that_name():
    assert one("FADE 2.5 V").question == Question("dc", "FADE")
    (lacking,) = complaints("FADE to OUT")
    assert lacking.text == "no figure for FADE to OUT"
    board = machine.read(BOARD.replace("TAP", "SETUP"))
    assert one("setup 2.5 V", board).question.red == "SETUP"


def test_an_exact_name_is_not_asked_about():
    board = machine.read(BOARD.replace("  dark:", "  Tone: {RV1: 50%}\n  dark:"))
    assert one("OUT 3 at Tone", board).question.setup.stimulus == "Tone"
    assert setups.read_setup("tone", board) == TONE


# Set-up lines, sittings, hook-ups -------------------------------------------------------------


def test_a_set_up_line_holds_whole_for_the_lines_below_it():
    a, b, c = read_readings("set-up: tone, lift R9.1\nOUT 3\nOUT 4 at dark\nset up: tone\nOUT 5", M)
    assert a.question.setup == Setup(stimulus="tone", lifted=("R9.1",))
    assert b.question.setup == Setup(stimulus="dark", lifted=("R9.1",))
    assert c.question.setup == TONE


def test_power_and_anything_physical_start_a_sitting_and_a_stimulus_does_not():
    text = """
    OUT 1                        # 0
    set-up: tone
    OUT 2                        # 0
    set-up: power off, tone
    R1 4k7                       # 1
    R9 1k
    set-up: power on, tone
    set-up: power off, tone      # on and off again: one new sitting
    R9 1k                        # 2
    set-up: off, unplug dimmer
    R9 1k; new sitting           # 3
    R9 1k; new sitting           # 4
    """
    assert [each.sitting for each in read_readings(text, M)] == [0, 0, 1, 1, 2, 3, 4]


def test_a_line_read_with_power_off_is_a_sitting_of_its_own():
    said = read_readings("OUT 1\nR1 4k7 off\nR9 1k off\nOUT 1\nset-up: off\nR9 1k off\nR9 1k", M)
    assert [each.sitting for each in said] == [0, 1, 1, 2, 3, 3]
    assert [each.question.setup.power for each in said] == ["on", "off", "off", "on", "off", "off"]


def test_what_was_disturbed_stays_disturbed_until_the_next_reading():
    said = read_readings("OUT 1\nset-up: lift R9.1\nset-up: lift R9.1, tone\nOUT 2", M)
    assert [each.sitting for each in said] == [0, 1]


def test_a_file_that_begins_with_a_set_up_begins_with_its_first_sitting():
    assert one("set-up: off\nR1 4k7").sitting == 0


def test_each_line_is_a_hook_up_of_its_own_unless_it_says_same():
    a, b, c, d = read_readings("OUT 1\nOUT 2; same hook-up\nOUT 3\nOUT 100 mVac; same hookup; not showing", M)
    assert a.hookup == b.hookup and c.hookup == d.hookup and a.hookup != c.hookup
    assert (a.showing, d.showing) == ("yes", "no")


@pytest.mark.parametrize("text", ["OUT 1\nCOL 2; same hook-up", "OUT 1\nOUT 1 Vpp; same hook-up",
                                  "lead swapped: same\nlead swapped: same; same hook-up"])  # fmt: skip
def test_the_same_hook_up_elsewhere_is_refused(text):
    (only,) = complaints(text)
    assert (only.line, only.text) == (2, "the probes were elsewhere in the reading before")


def test_remarks_and_comments():
    said = read_readings("# first\nOUT 1 ;  Not   Showing  # faint\n\nOUT 2; can't tell\nOUT 3; showing\nOUT 4;", M)
    assert [each.showing for each in said] == ["no", "can't tell", "yes", "yes"]
    assert [each.line for each in said] == [2, 4, 5, 6]
    assert said[0].text == "OUT 1 ;  Not   Showing"


def test_line_by_line_is_the_same_as_all_at_once():
    text = "OUT 1\nset-up: off\nR1 4k7\nR1 4k6; same hook-up\nset-up: on, tone\nSOCK 0.3 Vpp"
    bench, told = Bench(), []
    for line in text.splitlines():
        said, bench = continue_readings(line, M, bench)
        told += said
    assert tuple(told) == tuple(read_readings(text, M)[:4])
    assert [each.hookup for each in told] == ["h1", "h2", "h2", "h3"]
    assert bench.setup == TONE


# Laws -----------------------------------------------------------------------------------------

PIECES = [
    *EVERY_LINE,
    *(row[0] for row in REFUSED),
    "set-up:",
    ";",
    ":",
    "to",
    " at ",
    "#",
    "about",
    "same hook-up",
    "1,5",
    "Ω",
]


@given(st.lists(st.sampled_from(PIECES).flatmap(lambda line: st.sampled_from([line, *line.split()])), max_size=6),
       st.sampled_from([" ", "", "\n", "; "]), st.text(max_size=3))  # fmt: skip
def test_any_text_is_understood_or_refused_with_a_mend(pieces, between, noise):
    text = between.join([*pieces, noise])
    try:
        said = read_readings(text, M)
    except BadInput as bad:
        for each in bad.complaints:
            assert each.text and each.mend
            assert 1 <= each.column <= len(text.splitlines()[each.line - 1]) + 1
    else:
        assert all(echo.say(each, M) and echo.ask(each.question, M) for each in said)


FIGURES = st.integers(-9999, 9999).map(lambda n: n / 100)


@given(FIGURES, st.sampled_from([("V", 1.0), ("mV", 1e-3), ("kV", 1e3), ("uV", 1e-6), ("", 1.0)]))
def test_a_typed_figure_comes_back_from_its_echo(figure, unit):
    if abs(figure * unit[1]) > 1000:
        return
    said = one(f"OUT {figure} {unit[0]}")
    assert said.answer == approx(figure * unit[1], rel=1e-12, abs=1e-18)
    again = said_back(echo.figure(said))
    assert (again.kind, again.value) == ("dc", approx(said.answer, rel=1e-12, abs=1e-18))


places = st.sampled_from([*M.nets, *(f"{part.name}.{pin}" for part in M.parts.values() for pin in part.pins)])
legs = st.sampled_from([f"{part.name}.{pin}" for part in M.parts.values() for pin in part.pins])
parts = st.sampled_from(list(M.parts))


def some(values):
    return st.lists(values, unique=True, max_size=3).map(lambda found: tuple(sorted(found)))


def often(values):
    """Not unique: a part may be new for the second time."""
    return st.lists(values, max_size=3).map(lambda found: tuple(sorted(found)))


links = st.lists(places, min_size=2, max_size=2, unique=True).map(lambda ends: tuple(sorted(ends)))
in_place = st.one_of(legs, links.map("~".join), parts.map("contacts of {}".format))
standing = st.builds(Setup, st.sampled_from(["on", "off"]), st.sampled_from(["", *M.stimuli]),
                     some(legs), some(parts), some(links), often(parts), often(in_place))  # fmt: skip


@given(standing)
def test_a_written_set_up_reads_back_the_same(setup):
    assert setups.read_setup(setups.write(setup), M) == setup


@given(standing)
def test_a_set_up_said_reads_back_the_same(setup):
    assert setups.read_setup(setups.say(setup, M), M) == setup


@given(standing)
def test_a_set_up_said_names_all_of_it(setup):
    words = setups.say(setup, M)
    named = (*setup.lifted, *setup.unplugged, *setup.replaced, *(end for link in setup.linked for end in link))
    assert all(name in words for name in named)
    assert setup.stimulus in words and M.stimuli[setup.stimulus or "dark"].do in words or not setup.stimulus
    assert words.startswith("power on" if setup.power == "on" else "power off and discharged")


# Set-ups --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "setup"), [
    ("power on, tone", TONE),
    ("", Setup()),
    ("as typed", Setup()),
    ("off", OFF),
    ("Power OFF and discharged", OFF),
    ("at tone, on", TONE),
    ("stimulus tone, lift R9.2, unplug dimmer, link OUT to COL, replaced lead",
     Setup("on", "tone", ("R9.2",), ("dimmer",), (("COL", "OUT"),), ("lead",))),
    ("R9.2 lifted; dimmer unplugged, wire from OUT to COL, lead replaced",
     Setup("on", "", ("R9.2",), ("dimmer",), (("COL", "OUT"),), ("lead",))),
    ("lift R9.2 and Q7 base, new C5", Setup(lifted=("Q7.b", "R9.2"), replaced=("C5",))),
    ("lift TP4", Setup(lifted=("R1.2",))),
    ("unplug on-air lamp", Setup(unplugged=("J9", "R901"))),
])  # fmt: skip
def test_set_ups_as_typed(text, setup):
    assert setups.read_setup(text, M) == setup


def test_a_stimulus_called_on_is_not_power():
    board = machine.read(BOARD.replace("dark:", "on:"))
    assert setups.read_setup("power off, stimulus on", board) == Setup("off", "on")
    with pytest.raises(BadInput) as bad:
        setups.read_setup("on", board)
    odd = Setup("off", "on")
    assert setups.read_setup(setups.say(odd, board), board) == odd
    assert bad.value.complaints[0].mend == "write `power on` or `stimulus on`"


def test_set_ups_become_edits_in_order():
    setup = setups.read_setup("full, lift R9.2, unplug dimmer, link OUT to COL, replaced lead", M)
    edits = setups.edits(setup, M)
    assert edits[:-4] == M.stimuli["full"].edits and edits[:-4]
    assert edits[-4:] == (FreePin("R9", "2", INF), Unplug("dimmer"), AddPath("COL", "OUT", 0.05), ReplacePart("lead"))
    assert setups.edits(Setup(), M) == ()


def test_power_off_opens_sources_unless_the_file_says_what_stays():
    assert setups.edits(Setup(power="off", unplugged=("SUP", "dimmer")), M) == (
        Unplug("SUP"),
        SetFigure("GEN", "volts", 0.0), SetFigure("GEN", "signal", 0.0), SetFigure("GEN", "series", 600.0),
        SetFigure("BAT", "volts", 0.0), SetFigure("BAT", "signal", 0.0),
        Unplug("dimmer"),
    )  # fmt: skip


def test_power_off_silences_what_the_stimulus_put_on():
    edits = setups.edits(Setup(power="off", stimulus="tone"), M)
    signals = [
        edit.value for edit in edits if isinstance(edit, SetFigure) and (edit.part, edit.figure) == ("GEN", "signal")
    ]
    assert len(signals) == 2 and signals[0] > 0.0 == signals[1]


def test_what_the_file_unplugs_when_off_is_out():
    board = machine.read(BOARD.replace("stays: [BAT]", "stays: [BAT], unplugged: [dimmer]"))
    assert Unplug("dimmer") in setups.edits(OFF, board)
    assert Unplug("dimmer") not in setups.edits(Setup(), board)


# Instruments ----------------------------------------------------------------------------------

EVERY = ["dc", "pp", "rms", "ohms"]


@pytest.mark.parametrize("instrument", EVERY)
def test_an_error_is_made_of_the_coefficients_and_grows_with_the_figure(instrument):
    law, ask = instruments.law(instrument), Question(instrument, "OUT")
    assert law.instrument == instrument and law.source
    for value in (0.0, 0.01, 1.0, 100.0):
        error = instruments.error(ask, value)
        assert error.shared == approx(math.sqrt((law.gain_sd * value) ** 2 + law.shared_floor_sd**2))
        assert error.own == approx(math.sqrt((law.own_gain_sd * value) ** 2 + law.floor_sd**2))
        assert error.own > 0.0
    small, large = instruments.error(ask, 1.0), instruments.error(ask, 200.0)
    assert small.shared < large.shared and small.own < large.own


@pytest.mark.parametrize("instrument", EVERY)
@pytest.mark.parametrize("value", [0.0, 0.02, 3.0, 500.0])
def test_about_widens_the_figure_and_leaves_the_instrument(instrument, value):
    ask = Question(instrument, "OUT")
    plain, about = instruments.error(ask, value), instruments.error(ask, value, about=True)
    assert about.own > plain.own and about.shared == plain.shared
    assert about.own >= 0.1 * value / math.sqrt(3)


def test_over_limit_errs_as_the_end_of_the_range_does():
    ask = Question("ohms", "R1.1", "R1.2")
    assert instruments.error(ask, INF) == instruments.error(ask, instruments.law("ohms").high)


def test_a_coarsely_written_figure_is_known_to_half_its_last_digit():
    ask = Question("dc", "OUT")
    plain, coarse = instruments.error(ask, 12.0), instruments.error(ask, 12.0, step=1.0)
    assert coarse.own == approx(math.hypot(plain.own, 1.0 / math.sqrt(12.0)))


@pytest.mark.parametrize(("line", "step"), [
    ("OUT 2.61 V", 0.01), ("OUT 2,6 V", 0.1), ("OUT 12", 1.0), ("OUT 320 mV", 1e-3), ("OUT -3V3", 0.1), ("OUT 0", 0.1),
    ("OUT 0.00 V", 0.01), ("OUT 0 mV", 1e-4), ("R1.1 2.61", 0.01), ("left output: ok", 0.0),
    ("TP4 4.00 V", 0.01), ("R1.2 1.20", 0.01), ("R1 pin 2 2.00 V", 0.01), ("OUT 3.00 V at tone; showing", 0.01),
])  # fmt: skip
def test_the_worth_of_the_last_digit_written(line, step):
    assert step_of(one(line)) == approx(step)


@pytest.mark.parametrize(
    ("line", "step"), [("R1 4k1", 100.0), ("R1 4.10 kohm", 10.0), ("R1 OL", 0.0), ("R1 pin 1 to R1 pin 2 1.0 ohm", 0.1)]
)
def test_the_worth_of_the_last_digit_in_ohms(line, step):
    assert step_of(one(f"set-up: off\n{line}")) == approx(step)


def test_the_worth_of_the_last_digit_is_not_sought_in_the_stimulus():
    board = machine.read(BOARD.replace("  dark:", "  2k: {RV1: 3%}\n  dark:"))
    assert step_of(one("OUT 2.00 at 2k", board)) == approx(0.01)


def test_a_limit_counts_as_an_even_spread():
    # JCGM 100:2008, 4.3.7: anywhere within +/- a, variance a^2 / 3; here by midpoints
    middles = [(k + 0.5) / 500.0 - 1.0 for k in range(1000)]
    assert instruments.standard(1.0) == approx(math.sqrt(sum(x * x for x in middles) / 1000.0), rel=1e-5)


@pytest.mark.parametrize(("instrument", "limit"), [("dc", 0.005), ("pp", 0.03), ("rms", 0.01), ("ohms", 0.01)])
def test_the_gain_of_each_instrument_against_its_usual_limit(instrument, limit):
    assert instruments.law(instrument).gain_sd == approx(limit / math.sqrt(3.0))


@pytest.mark.parametrize(("instrument", "counts", "count"), [("dc", 2, 1e-4), ("rms", 3, 1e-3), ("ohms", 1, 0.1)])
def test_the_last_digits_near_nought_against_the_lowest_range(instrument, counts, count):
    assert instruments.error(Question(instrument, "OUT"), 0.0).own == approx(counts * count / math.sqrt(3.0))


def test_one_count_as_a_share_of_the_reading_against_a_sum_over_the_display():
    # readings spread evenly in the logarithm over 400..4000 counts
    shares = [1.0 / (400.0 * 10.0 ** (k / 1000.0)) for k in range(1000)]
    root_mean_square = math.sqrt(sum(share**2 for share in shares) / len(shares))
    assert instruments.count_share(4000.0) == approx(root_mean_square, rel=2e-3)


def test_the_dc_meter_against_its_data_sheet():
    # 5.00 V on a 40 V range of 10 mV counts, 0.5 % + 2 counts, both rectangular and independent:
    # sqrt(0.025^2 + 0.02^2) / sqrt(3) = 18.5 mV. Ours averages the count over a decade of readings.
    error = instruments.error(Question("dc", "OUT"), 5.0)
    assert error.shared == approx(0.025 / math.sqrt(3.0))
    assert math.hypot(error.shared, error.own) == approx(0.0185, rel=0.2)


def test_what_each_instrument_hangs_on_the_node():
    dc, pp, rms, ohms = map(instruments.law, EVERY)
    assert dc.input_ohms == pp.input_ohms == rms.input_ohms == 10e6
    assert (pp.input_farads, rms.input_farads) == (12e-12, 100e-12)
    assert ohms.open_volts == 0.4 < 0.5  # too little to open a silicon junction
    assert ohms.high == 40e6


def test_an_owners_word_has_no_instrument():
    with pytest.raises(KeyError):
        instruments.law("works")


# The page -------------------------------------------------------------------------------------


def test_the_examples_of_the_page_are_understood(root):
    echoed, whole_file, seen, told = re.findall(
        r"```text\n(.*?)```", (root / "docs" / "readings.md").read_text("utf-8"), re.S
    )
    line, said = re.split(r"\s+->\s+", echoed.strip())
    assert echo.say(one(line), M) == said
    assert len(read_readings(whole_file, M)) == 5
    assert [one.question.instrument for one in read_readings(seen, M)] == ["top", "valley", "distortion"]
    assert len(read_readings(re.sub(r"\s{3,}.*", "", told, flags=re.M), M)) == 5


def rows(root, heading: str) -> list[tuple[list[str], str]]:
    """Typed forms and meaning of each row of the table below a heading."""
    section = (root / "docs" / "readings.md").read_text("utf-8").split(f"## {heading}\n")[1].split("\n## ")[0]
    cells = re.findall(r"^\| (.*`.*?) \| (.*) \|$", section, re.M)
    assert cells
    return [(re.findall(r"`([^`]+)`", typed), means) for typed, means in cells]


def test_every_place_on_the_page_is_understood(root):
    for typed, means in rows(root, "Places"):
        said = {one(f"{form} 4k1 ohm off").question for form in typed}
        assert len(said) == 1 or "pin" in means


def test_every_figure_on_the_page_is_understood(root):
    kinds = {"volts, direct": "dc", "oscilloscope": "pp", "AC volts": "rms", "ohms": "ohms", "diode range": "diode"}
    for typed, means in rows(root, "Figures"):
        instrument = next(kind for words, kind in kinds.items() if means.startswith(words))
        for form in typed:
            place, off = ("R1", " off") if instrument in ("ohms", "diode") else ("OUT", "")
            said = one(f"{place} {form}{off}")
            assert said.question.instrument == instrument and said.about == ("good to a tenth" in means)


def test_every_remark_on_the_page_is_understood(root):
    remarks = [form for typed, _ in rows(root, "Behind a semicolon") for form in typed]
    assert set(remarks) >= set(lines.TAILS)
    plain = {"showing": "yes", "not showing": "no", "can't tell": "can't tell"}
    for remark in remarks:
        before, said = read_readings(f"OUT 1\nOUT 2; {remark}", M)
        assert said.showing == plain.get(remark, "yes")
        assert said.sitting == before.sitting + (remark == "new sitting")
        assert (said.hookup == before.hookup) == (remark == "same hook-up")


def test_every_new_part_on_the_page_is_understood(root):
    *fitted, (back, _) = rows(root, "New parts")
    for form in [form for typed, _ in fitted for form in typed]:
        said = lines.read_readings(f"OUT 1\n{form}\nOUT 2", M)
        assert [one.question.setup.replaced for one in said] == [(), ("C5", "R1") if "R1" in form else ("C5",)]
    for form in back:
        assert lines.read_readings(f"replaced C5\n{form}\nOUT 2", M)[0].question.setup == Setup()


@pytest.mark.parametrize(
    ("typed", "fitted", "mended"),
    [
        ("fitted a new resistor R1", ("R1",), ()),
        ("replaced the capacitors C5, R1 and the transistor Q7", ("C5", "Q7", "R1"), ()),
        ("the resistor R1 was replaced", ("R1",), ()),
        ("resoldered the resistor R1", (), ("R1.1", "R1.2")),
    ],
)
def test_a_part_is_known_behind_the_word_that_says_what_it_is(typed, fitted, mended):
    heard = hear(typed, Context(machine=M))
    assert (heard.bench.fitted, heard.bench.mended) == (fitted, mended)


def test_a_part_of_which_every_joint_was_resoldered_is_said_once():
    whole = hear("resoldered R9 and Q7", Context(machine=M))
    assert whole.echo[0].startswith("resoldered R9, resoldered Q7 from here on")
    assert whole.echo[1].endswith("resoldered Q7, resoldered R9")
    again = read_readings(f"set-up: {setups.say(whole.bench.setup, M)}\nOUT 2", M)
    assert again[0].question.setup.mended == whole.bench.setup.mended
    one = hear("resoldered R9.2", Context(machine=M, bench=whole.bench))
    assert one.echo[1].endswith("resoldered Q7, resoldered R9.1, resoldered R9.2 twice")


def test_a_new_part_without_a_name_is_asked_back():
    (doubt,) = hear("replaced the capacitor", Context(machine=M)).doubts
    assert doubt.text == "which capacitor is it?" and "`fitted a new C5`" in doubt.mend
    assert "F1" in hear("fitted a new fuse F1", Context(machine=M)).doubts[0].text  # this machine has none
    assert hear("fitted a new fuse F1", Context()).bench.fitted == ("F1",)


def test_everything_mended_in_place_on_the_page_is_understood(root):
    page = rows(root, "Mended in place")
    assert len(page) == 4
    for typed, _ in page:
        for form in typed:
            said = lines.read_readings(f"OUT 1\n{form}\nOUT 2", M)
            assert said[0].question.setup == Setup() and said[1].question.setup.mended
            assert setups.read_setup(setups.write(said[1].question.setup), M) == said[1].question.setup


def test_every_piece_of_a_set_up_on_the_page_is_understood(root):
    for typed, _ in rows(root, "Set-ups"):
        for form in typed:
            assert setups.read_setup(form, M) != Setup() or form in ("power on", "on", "as typed")


def test_what_the_page_says_is_refused_is_refused(root):
    page = (root / "docs" / "readings.md").read_text("utf-8")
    refused = page.split("Refused, each")[1].split("\n\n")[0]
    for form in re.findall(r"`([^`]+)`", refused):
        complaints(f"R1.2 {form}")


def test_every_word_and_instrument_figure_of_the_data_is_on_the_page(root):
    page = (root / "docs" / "readings.md").read_text("utf-8")
    for text in (
        "`not showing`",
        "`can't tell`",
        "`same hook-up`",
        "`new sitting`",
        "`across R1`",
        "readings/data/words.csv",
    ):
        assert text in page
    assert f"{100 * instruments.count_share(4000):.3f} %" in page
    assert all(means in page for means in lines.words("swap").values())
