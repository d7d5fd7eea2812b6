"""What moves in time, as a machine file says it: sources, controls, switch-on, windows, and what is judged by them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from pytest import approx

from probewright import machine
from probewright.errors import BadInput, Complaint
from probewright.machine import Machine
from probewright.machine.edits import SetFigure
from probewright.machine.model import Limit, Measure
from probewright.machine.stimuli import Followed, courses_of, followed
from probewright.machine.waves import Course, Pulse, Ripple, Sine, Step, Turned
from probewright.planning import danger
from probewright.readings import Setup

# Invented: an egg timer with a sampling switch, a lamp and a bell.
BOARD = """\
machine: Egg timer
parts:
  SUP1: source 12V series 0R3  SUP > GND
  CLK: source 0V series 1k  CK > GND
  S1: switch open  SUP > HOLD
  R1: resistor 10k  HOLD > OUT
  C1: capacitor 1u  OUT > GND
  LAMP1: load 100R  SUP > GND
  BAT: battery 9V  BK > GND
  R2: resistor 1k  BK > CK
stimuli:
  still: {}
"""


def board(*stimuli: str, works: tuple[str, ...] = (), text: str = BOARD) -> str:
    lines = "".join(f"  {one}\n" for one in stimuli)
    return text + lines + ("works:\n" + "".join(f"  {one}\n" for one in works) if works else "")


def read(*stimuli: str, works: tuple[str, ...] = (), text: str = BOARD) -> Machine:
    return machine.read(board(*stimuli, works=works, text=text))


def complaint(*stimuli: str, works: tuple[str, ...] = (), text: str = BOARD) -> Complaint:
    with pytest.raises(BadInput) as bad:
        machine.read(board(*stimuli, works=works, text=text))
    assert len(bad.value.complaints) == 1, bad.value.complaints
    return bad.value.complaints[0]


# What a source plays ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "volts", "size", "wave"),
    [
        ("pulse 0V..9V 2ms of 10ms", 0.0, 9.0, Pulse(10e-3, 2e-3)),
        ("pulse 9V..1V 2ms of 10ms rise 1us", 9.0, -8.0, Pulse(10e-3, 2e-3, edge=1e-6)),
        ("square 1V..9V 20Hz", 1.0, 8.0, Pulse(50e-3, 25e-3)),
        ("12V ripple 0.5Vpp 100Hz", 12.0, 0.5, Ripple(100.0, full=False)),
        ("12V ripple 0.5V pp 120Hz", 12.0, 0.5, Ripple(120.0, full=False)),
        ("mains 9V rms 50Hz", 0.0, 9.0 * math.sqrt(2.0), Sine(50.0)),
    ],
)
def test_a_source_plays(said: str, volts: float, size: float, wave: object) -> None:
    one = read(f"run: {{CLK: {said}}}").stimuli["run"]
    assert one.edits == (SetFigure("CLK", "volts", volts), SetFigure("CLK", "signal", approx(size)))
    assert one.courses == (Course("CLK", "volts", None, wave, "signal"),) and one.in_time and one.frequency == 0.0


def test_a_pulse_is_at_its_ends_when_it_says_so() -> None:
    (course,) = courses_of(read("run: {CLK: pulse 9V..1V 2ms of 10ms}"), "run")
    assert course.swing is not None
    assert [9.0 - 8.0 * course.swing.at(t) for t in (1e-3, 3e-3, 11e-3)] == [1.0, 9.0, 1.0]


def test_a_plain_sine_is_small_and_moves_only_where_asked() -> None:
    one = read("tone: {CLK: sine 0.2V rms 1kHz}")
    assert one.stimuli["tone"].courses == () and one.stimuli["tone"].frequency == 1000.0
    found = followed(one, "tone")
    assert found == Followed((Course("CLK", swing=Sine(1000.0)),), period=1e-3, hertz=1000.0)
    assert not found.in_time and followed(one, "tone", 400.0).courses == (Course("CLK", swing=Sine(400.0)),)


@pytest.mark.parametrize(
    "asked", ["distortion at tone below 5%", "max at tone below 9V", "pp at tone from 0s to 1ms below 2V"]
)
def test_a_sentence_on_its_shape_makes_a_sine_move_as_a_whole(asked: str) -> None:
    one = read("tone: {CLK: sine 0.2V rms 1kHz}", works=(f"bell: CK {asked}",))
    assert one.stimuli["tone"].courses == (Course("CLK", swing=Sine(1000.0)),) and followed(one, "tone").in_time
    plain = read("tone: {CLK: sine 0.2V rms 1kHz}", works=("bell: CK level at tone above 0.1V",))
    assert not followed(plain, "tone").in_time


def test_two_sines_of_two_sources_move_together() -> None:
    one = read("both: {CLK: sine 0.2V rms 1kHz, SUP1: 12V sine 1V pp 50Hz}")
    found = followed(one, "both")
    assert {course.part: course.swing for course in found.courses} == {"CLK": Sine(1000.0), "SUP1": Sine(50.0)}
    assert found.in_time and found.period == approx(20e-3) and found.hertz == 0.0


def test_two_frequencies_are_two_stimuli_and_the_sentence_says_which() -> None:
    one = read(
        "chime: {CLK: sine 0.5V rms 400Hz or 2kHz}",
        works=("low: CK level at chime 400Hz above 0.1V", "high: CK level at chime 2kHz; below 50% of healthy = dull"),
    )
    assert {name: one.stimuli[name].frequency for name in ("chime 400Hz", "chime 2kHz")} == {
        "chime 400Hz": 400.0, "chime 2kHz": 2000.0,
    }  # fmt: skip
    assert one.works[1].measure.stimulus == "chime 2kHz"
    assert one.stimuli["chime 2kHz"].do == "put sine 0.5V rms 2kHz on CLK"
    found = complaint("chime: {CLK: sine 0.5V rms 400Hz or 2kHz}", works=("low: CK level at chime above 0.1V",))
    assert found.text == "at which frequency of 'chime'?" and "`at chime 400Hz` or `at chime 2kHz`" in found.mend


@pytest.mark.parametrize(
    ("said", "text", "mend"),
    [
        ("ripple 0.5V 100Hz", "how its volts are counted", "ripple 0.5V pp 100Hz"),
        ("12V ripple 0.5V rms 100Hz", "peak to peak, not rms", "ripple 0.5V pp"),
        ("mains 9V 50Hz", "how its volts are counted", "mains 9V rms 50Hz"),
        ("mains 9V rms 50Hz or 60Hz", "has one frequency", "mains 9V rms 50Hz"),
        ("mains 9V rms 50", "50 is no frequency", "mains 9V rms 50Hz"),
        ("pulse 0V..9V 2ms", "how long of what", "2ms of 10ms"),
        ("pulse 0V..9V 12ms of 10ms", "do not fit", "longer period"),
        ("pulse 0V..9V 2 of 10ms", "2 is no time", "seconds"),
        ("pulse 9V 2ms of 10ms", "from one end to another", "0V..9V"),
        ("square 5V..5V 20Hz", "does not change", "two ends"),
        ("square 0V..9V 20ms", "'20ms' is not a frequency", "50Hz"),
        ("square 0V..9V 20Hz loud", "'loud' in", "square 0V..9V 20Hz"),
        ("12V square 0V..9V 20Hz", "said twice", "square 0V..9V 20Hz"),
        ("step 0V..5V", "says when", "at 10ms"),
        ("step 0V..5V at 10ms", "does not say when a step is read", "read: 0s..200ms"),
        ("triangle 1V pp 1kHz", "`triangle` is not computed yet", "sine"),
    ],
)
def test_what_is_no_signal_says_how_to_write_one(said: str, text: str, mend: str) -> None:
    found = complaint(f"run: {{CLK: {said}}}")
    assert text in found.text and mend in found.mend and found.line == 13


# In a part line --------------------------------------------------------------------------------

LINE = """\
machine: Bell board
parts:
  TR1: source {said} series 1R  W1 > W2
  D1: diode rectifier  W1 > RAW
  C1: capacitor 470u 25V electrolytic  RAW > W2
  R1: resistor 100R  RAW > W2
  R2: resistor 1R  W2 > GND
stimuli:
  as typed: {{}}
  flat: {{TR1: 12V}}
  low: {{TR1: mains 7V rms 50Hz}}
  out: {{TR1: unplugged}}
"""


def test_what_a_line_plays_goes_on_in_every_stimulus_and_without_one() -> None:
    one = machine.read(LINE.format(said="mains 9V rms 50Hz"))
    part = one.parts["TR1"]
    assert part.figures["volts"].nominal == 0.0 and part.figures["signal"].nominal == approx(9.0 * math.sqrt(2.0))
    assert part.figures["signal"].spread == 0.1 and any("mains within 10 %" in said for said in one.assumed)
    mains = Course("TR1", "volts", None, Sine(50.0), "signal")
    for name in ("", "as typed"):
        assert followed(one, name) == Followed((mains,), period=0.02, in_time=True)
    assert courses_of(one, "flat") == () == courses_of(one, "out") and not followed(one, "flat").in_time
    assert courses_of(one, "low") == (mains,) and one.stimuli["low"].edits[1].value == approx(7.0 * math.sqrt(2.0))


@pytest.mark.parametrize(
    ("said", "canonical"),
    [
        ("mains 9Vrms 50Hz", "mains 9V rms 50Hz"),
        ("mains 9V rms 50Hz 5%", "mains 9V rms 50Hz 5%"),
        ("12V ripple 500mVpp 100Hz", "12V ripple 500mV pp 100Hz"),
        ("pulse 0V..9V 2ms of 0.01s rise 1us", "pulse 0V..9V 2ms of 10ms rise 1us"),
        ("square 0V..9V 20Hz", "square 0V..9V 20Hz"),
        ("sine 0.2V rms 1kHz", "sine 200mV rms 1kHz"),
    ],
)
def test_a_line_is_written_back_and_reads_the_same(said: str, canonical: str) -> None:
    text = LINE.format(said=said)
    once = machine.write(text)
    assert f"TR1: source {canonical} series 1Ω  W1 > W2" in once.replace("1R", "1Ω")
    assert machine.write(once) == once
    assert machine.read(once).parts["TR1"] == machine.read(text).parts["TR1"]


@pytest.mark.parametrize(
    ("said", "text", "mend"),
    [
        ("step 0V..5V at 10ms", "in every stimulus", "in a stimulus"),
        ("sine 0.2V rms 400Hz or 2kHz", "in every stimulus", "in a stimulus"),
        ("mains 9V 50Hz", "how its volts are counted", "mains 9V rms 50Hz"),
        ("5V pulse 0V..9V 2ms of 10ms", "said twice", "pulse 0V..9V"),
        ("triangle 1V pp 50Hz", "not computed yet", "sine"),
    ],
)
def test_what_a_line_cannot_play(said: str, text: str, mend: str) -> None:
    with pytest.raises(BadInput) as bad:
        machine.read(LINE.format(said=said))
    (found,) = [one for one in bad.value.complaints if one.line == 3]
    assert text in found.text and mend in found.mend and found.column >= len("  TR1: ")


# Steps, switch-on, windows ---------------------------------------------------------------------


def test_switch_on_brings_up_everything_that_feeds_at_nought() -> None:
    one = read("on: {power: switch-on rise 2ms, read: 0s..200ms, CLK: square 0V..5V 20Hz}").stimuli["on"]
    assert one.switched_on and one.read == (0.0, 0.2) and one.in_time
    up = Step(0.0, 2e-3)
    assert {course.part: (course.share, course.swing) for course in one.courses} == {
        "SUP1": (up, None), "CLK": (up, Pulse(50e-3, 25e-3)), "BAT": (up, None),
    }  # fmt: skip
    assert "switch it on, discharged, and read from 0 s to 200 ms" in one.do


def test_what_stays_with_power_off_and_what_is_unplugged_does_not_come_up() -> None:
    text = BOARD.replace("battery 9V", "battery 9V off stays")
    one = read("on: {power: switch-on, read: 0s..1s, CLK: unplugged}", text=text).stimuli["on"]
    assert [course.part for course in one.courses] == ["SUP1"] and one.courses[0].share == Step(0.0, 0.0)


@pytest.mark.parametrize(
    ("setting", "value", "share"),
    [
        ("S1: step open..closed at 10ms", 1.0, Step(10e-3)),
        ("S1: step closed..open at 10ms rise 1ms", 1.0, Turned(Step(10e-3, 1e-3), 1.0, 0.0)),
        ("LAMP1: step 100R..25R at 5ms", 100.0, Turned(Step(5e-3), 1.0, 0.25)),
        ("BAT: step 9V..6V at 5ms", 9.0, Turned(Step(5e-3), 1.0, 6.0 / 9.0)),
    ],
)
def test_a_control_steps(setting: str, value: float, share: object) -> None:
    one = read(f"go: {{{setting}, read: 0s..50ms}}").stimuli["go"]
    (course,), (edit,) = one.courses, one.edits
    assert isinstance(edit, SetFigure) and edit.value == value
    assert course == Course(setting.split(":")[0], edit.figure, share)


def test_a_switch_samples() -> None:
    (course,) = read("play: {S1: pulse open..closed 1ms of 20ms}").stimuli["play"].courses
    assert course == Course("S1", "closed", Pulse(20e-3, 1e-3))
    (course,) = read("play: {S1: square closed..open 50Hz}").stimuli["play"].courses
    assert course.share is not None
    assert [course.share.at(t) for t in (5e-3, 15e-3)] == [0.0, 1.0]


@pytest.mark.parametrize(
    ("settings", "text", "mend"),
    [
        ("power: switch-on", "does not say when a switch-on is read", "read: 0s..200ms"),
        ("power: on, read: 0s..1s", "'on' is not understood", "switch-on rise 2ms"),
        ("power: switch-on rise fast, read: 0s..1s", "'fast'", ""),
        ("power: switch-on, read: 70s..55s", "ends before it begins", "turn the two round"),
        ("power: switch-on, read: 70s", "no window of time", "read: 55s..70s"),
        ("power: switch-on, read: 1..2", "no window of time", "seconds"),
        ("read: 1s..2s", "nothing happens at 'run'", "leave `read:` out"),
        ("step: 0V..5V at 1s", "`step` is the value of a part", "NAME: step"),
        ("S1: sine 1V rms 50Hz", "`sine` is played by a source", "A..B"),
        ("S1: step open..half at 1ms", "'half' is no position", "open or closed"),
        ("LAMP1: step 100R..0R at 1ms", "would be a short", "its resistance"),
    ],
)
def test_time_that_makes_no_sense_says_how_to_mend_it(settings: str, text: str, mend: str) -> None:
    found = complaint(f"run: {{{settings}}}")
    assert text in found.text and mend in found.mend and found.line == 13


# Sentences -------------------------------------------------------------------------------------

ON = "on: {power: switch-on rise 2ms, read: 0s..200ms}"
PLAY = "play: {CLK: square 0V..5V 20Hz}"


@pytest.mark.parametrize(
    ("sentence", "measure", "limits"),
    [
        ("OUT max at on below 12V", ("top", "on"), (Limit("above", 12.0),)),
        ("OUT min at play above -1V", ("valley", "play"), (Limit("below", -1.0),)),
        ("OUT last at on above 4V", ("last", "on"), (Limit("below", 4.0),)),
        ("OUT drift at on; below -50mV = sinks; above 50mV = creeps", ("drift", "on"),
         (Limit("below", -0.05, "sinks"), Limit("above", 0.05, "creeps"))),
        ("OUT period at play between 45ms and 55ms", ("period", "play"), (Limit("below", 0.045), Limit("above", 0.055))),
        ("OUT frequency at play within 1Hz of 20Hz", ("frequency", "play"), (Limit("below", 19.0), Limit("above", 21.0))),
        ("OUT duty at play within 5% of 50%", ("duty", "play"), (Limit("below", 0.45), Limit("above", 0.55))),
        ("OUT distortion at play; above 5% = harsh", ("distortion", "play"), (Limit("above", 0.05, "harsh"),)),
        ("OUT tilt at play below 4%", ("tilt", "play"), (Limit("above", 0.04),)),
        ("OUT sag at play below 0.1V", ("sag", "play"), (Limit("above", 0.1),)),
        ("OUT level at play above 0.1V", ("level", "play"), (Limit("below", 0.1),)),
        ("OUT pp at play within 10% of healthy", ("pp", "play"), (Limit("below", 0.9, "", True), Limit("above", 1.1, "", True))),
        ("OUT rms at on below 2V", ("rms", "on"), (Limit("above", 2.0),)),
    ],
)  # fmt: skip
def test_a_sentence_judges_what_moves(sentence: str, measure: tuple[str, str], limits: tuple[Limit, ...]) -> None:
    (works,) = read(ON, PLAY, works=(f"timer: {sentence}",)).works
    assert works.measure == Measure("OUT", measure[0], measure[1])
    assert [replace(one, value=0.0) for one in works.limits] == [replace(one, value=0.0) for one in limits]
    assert [one.value for one in works.limits] == approx([one.value for one in limits])


def test_a_rise_is_a_time_and_may_never_happen() -> None:
    rings = "rings: OUT rise through 2.4V at on; below 50ms = rings too soon; above 150ms = late; never = does not ring"
    (works,) = read(ON, works=(rings,)).works
    assert works.measure == Measure("OUT", "rise", "on", level=2.4)
    assert works.limits == (
        Limit("below", 0.05, "rings too soon"), Limit("above", 0.15, "late"), Limit("above", math.inf, "does not ring"),
    )  # fmt: skip
    (quiet,) = read(ON, works=("quiet: OUT fall through 1V at on never",)).works
    assert quiet.measure.level == 1.0 and quiet.limits == (Limit("below", math.inf),)


def test_a_window_inside_a_sentence() -> None:
    works = read(
        ON, PLAY,
        works=(
            "holds: OUT sag at play from 3ms to 10ms below 0.1V",
            "steady: OUT dc at on from 100ms to 150ms minus at on from 150ms to 200ms below 0.1V",
        ),
    ).works  # fmt: skip
    assert works[0].measure.window == (0.003, 0.01)
    assert works[1].measure.window == (0.1, 0.15)
    assert works[1].second is not None and works[1].second.window == (0.15, 0.2)


def test_only_if_may_look_at_what_moves() -> None:
    (works,) = read(PLAY, works=("rate: OUT period at play below 60ms; only if OUT pp at play above 1V",)).works
    assert works.only_if_sentence is not None and works.only_if_sentence.measure == Measure("OUT", "pp", "play")


@pytest.mark.parametrize(
    ("sentence", "text", "mend"),
    [
        ("OUT period at play below 20", "'20' is no time", "`20s`"),
        ("OUT period at play below 2V", "'2V' is no time", "`20ms`"),
        ("OUT frequency at play below 20", "no frequency", "`20Hz`"),
        ("OUT duty at play below 0.3", "no share", "per cent"),
        ("OUT max at play below 20ms", "no voltage", "volts"),
        ("OUT duty at play within 10% of healthy", "of itself", "below 5%"),
        ("OUT distortion at play below 80% of healthy", "of itself", "below 5%"),
        ("OUT rise at on below 50ms", "through how many volts", "rise through 3V"),
        ("OUT rise through 5ms at on below 50ms", "no voltage", "volts"),
        ("OUT period at play; never = dead", "`never` belongs to `rise through`", "rise through"),
        ("OUT rise through 3V at on; never", "without the owner's words", "; never = words"),
        ("OUT sag at play from 10ms to 3ms below 1V", "ends before it begins", "turn the two round"),
        ("OUT sag at play from 3ms to 80ms below 1V", "repeats after 50 ms", "sooner"),
        ("OUT dc at on from 0s to 1s below 1V", "is read until 200 ms", "sooner"),
        ("OUT dc at still from 0s to 1s below 1V", "nothing happens at 'still'", "leave"),
        ("OUT period at still below 1s", "'still' puts on no signal", "switch-on"),
        ("OUT level at on below 1V", "no one frequency", "rms"),
        ("OUT period at play minus OUT duty at play below 1s", "not of one unit", "period minus period"),
        ("OUT wobble at play below 1V", "'wobble' is not a quantity", "write"),
    ],
)
def test_a_sentence_that_makes_no_sense_says_how_to_mend_it(sentence: str, text: str, mend: str) -> None:
    found = complaint(ON, PLAY, works=(f"timer: {sentence}",))
    assert text in found.text and mend in found.mend and found.line == 16


def test_nobody_knows_the_shape_of_whatever_it_is_playing() -> None:
    found = complaint("music: {CLK: whatever it is playing}", works=("bell: OUT distortion at music below 5%",))
    assert "nobody knows the distortion" in found.text


def test_writing_back_keeps_all_of_it() -> None:
    text = board(ON, PLAY, "chime: {CLK: sine 0.5V rms 400Hz or 2kHz}", works=(
        "rings: OUT rise through 2.4V at on between 50ms and 150ms; never = does not ring",
        "holds: OUT sag at play from 3ms to 10ms below 0.1V",
    ))  # fmt: skip
    once = machine.write(text)
    assert once.split("stimuli:")[1] == text.split("stimuli:")[1]
    assert machine.read(once).works == machine.read(text).works
    assert machine.read(once).stimuli == machine.read(text).stimuli


def test_frequencies_that_do_not_divide_meet_later() -> None:
    one = read("both: {CLK: square 0V..5V 400Hz, SUP1: 12V ripple 0.5Vpp 120Hz}")
    assert followed(one, "both").period == approx(1.0 / 40.0)
    assert followed(one, "still") == Followed()


@pytest.mark.parametrize(("volts", "low"), [("9V", True), ("40V", False)])
def test_what_a_line_plays_counts_among_the_volts_that_can_hurt(volts: str, low: bool) -> None:
    """40 V rms is above what may be touched, 30 V rms (IEC 62368-1 ES1); its direct volts are nought."""
    one = machine.read(LINE.format(said=f"mains {volts} rms 50Hz"))
    assert danger.is_low(one, Setup()) == low
