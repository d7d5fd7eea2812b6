"""Sums against closed forms and published figures; readings are never taken for sums."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probewright.errors import BadInput
from probewright.readings import sums
from probewright.readings.sums import Sum, reckon, too_hot_after
from probewright.units import write_value

PAGE = Path(__file__).parent.parent / "docs" / "sums.md"


def answer(line: str) -> Sum:
    found = reckon(line)
    assert found is not None, line
    assert found.text == line and found.says and all(isinstance(one, float) for one in found.figures.values())
    return found


# line, kind, figure, its value worked by hand (closed form)
CLOSED = [
    ("10k || 22k", "parallel", "ohms", 10e3 * 22e3 / 32e3),
    ("10k||10k||10k", "parallel", "ohms", 10e3 / 3),
    ("10k par 22k par 1M", "parallel", "ohms", 1 / (1e-4 + 1 / 22e3 + 1e-6)),
    ("4.7 kohm || 4k7", "parallel", "ohms", 2350.0),
    ("reads 6k8 in place, marked 10k: what hangs across", "across", "ohms", 21250.0),
    ("reads 6k8 in place, marked 10k: what hangs across", "across", "low", 1 / (1 / 6.8e3 - 1 / 10.5e3)),
    ("reads 6k8 in place marked 10k 1%: what hangs across?", "across", "high", 1 / (1 / 6.8e3 - 1 / 9.9e3)),
    ("reads 5k in place, marked 10k: what hangs across", "across", "ohms", 10e3),
    ("12 mV at 1.5 A", "ohms", "ohms", 8e-3),
    ("12 mV at 1.5 A", "ohms", "watts", 18e-3),
    ("0,1V at 20mA", "ohms", "ohms", 5.0),
    ("2.1 V through 10M meter from 1M source", "loading", "volts", 2.31),
    ("-2.1 V through a 10M meter on 1M", "loading", "volts", -2.31),
    ("loading 10M on 1M", "loading", "share", 10 / 11),
    ("loading 1M meter on 1M source", "loading", "factor", 2.0),
    ("divider 10k 4k7 from 12V", "divider", "volts", 12 * 4.7 / 14.7),
    ("divider 10k over 4k7 from 12", "divider", "ohms", 47e6 / 14.7e3),
    ("divider 10k 10k from -9 V", "divider", "volts", -4.5),
    ("divider 10k 4k7 from 12V", "divider", "watts", (12 / 14.7e3) ** 2 * 10e3),
    ("ripple 0.8 A 4700u 100Hz", "ripple", "volts", 0.8 / (100 * 4700e-6)),
    ("ripple 800mA, 4700uF, at 100 Hz", "ripple", "volts", 0.8 / 0.47),
    ("regulator 9V to 5V at 0.4A bare", "regulator", "watts", 1.6),
    ("regulator 9V to 5V at 0.4A bare", "regulator", "celsius", 25 + 54 * 1.6),
    ("regulator 9 to 5 at 600mA", "regulator", "watts", 2.4),
    ("what is 4k7", "value", "ohms", 4700.0),
    ("What is 4k7?", "value", "ohms", 4700.0),
    ("value R47", "value", "ohms", 0.47),
    ("value 2u2", "value", "farads", 2.2e-6),
    ("what is 104", "value", "farads", 100e-9),
    ("what is 104", "value", "ohms", 100e3),
    ("what is 4m7", "value", "value", 4.7e-3),
    ("what is 5V1", "value", "volts", 5.1),
    ("what is 1A5", "value", "amps", 1.5),
    ("what is -6 dB", "decibels", "ratio", 10 ** (-6 / 20)),
    ("-6 dB as ratio", "decibels", "power", 10 ** (-6 / 10)),
    ("ratio 0.5 in dB", "decibels", "decibels", 20 * math.log10(0.5)),
    ("ratio 50% in dB", "decibels", "decibels", 20 * math.log10(0.5)),
]  # fmt: skip


@pytest.mark.parametrize("line, kind, figure, value", CLOSED)
def test_closed_forms(line: str, kind: str, figure: str, value: float) -> None:
    found = reckon(line)
    assert found is not None and found.kind == kind
    assert found.figures[figure] == pytest.approx(value, rel=1e-9)


def test_the_formula_and_the_figure_are_in_the_words() -> None:
    assert (
        "3.84 V" in answer("divider 10k 4k7 from 12V").says
        and "R2 / (R1 + R2)" in answer("divider 10k 4k7 from 12V").says
    )
    assert "6.88 kΩ" in answer("10k || 22k").says and "1/R" in answer("10k || 22k").says
    assert "I / (f C)" in answer("ripple 0.8 A 4700u 100Hz").says
    assert answer("what is 4k7J").says == "4k7J is 4.7 kΩ = 4700 Ω, good to 5 %"


# Malvino, Electronic Principles, 7th ed., examples 4-6 to 4-8: volts, ohms, farads, hertz, volts pp
@pytest.mark.parametrize(
    "volts, hertz, published, simulated", [(33.95, 60, 1.1, 1.068), (16.97, 120, 0.28, 0.28), (33.95, 120, 0.57, 0.529)]
)
def test_ripple_of_the_textbook_rectifiers(volts: float, hertz: float, published: float, simulated: float) -> None:
    reckoned = answer(f"ripple {1e3 * volts / 5e3:.4g} mA 100u {hertz}Hz").figures["volts"]
    assert reckoned == pytest.approx(published, abs=0.04)  # the book rounds to two figures
    assert reckoned >= simulated  # an upper bound


# PC-15: Malvino example 8-1, divider of 10k and 2k2 at 10 V gives 1.8 V
def test_divider_of_the_textbook_stage() -> None:
    assert answer("divider 10k 2k2 from 10V").figures["volts"] == pytest.approx(1.8, abs=0.05)


# PC-15, emitter open: the base less a junction stands at an emitter that carries only the meter
def test_loading_is_a_divider_of_meter_and_source() -> None:
    loaded = answer("loading 10M on 2M2").figures["share"]
    assert loaded == pytest.approx(answer("divider 2M2 10M from 1V").figures["volts"])


# Regulator: worked rows of the reference table: 9 V to 5 V at 0.6 A = 2.4 W, two stages, 1.0 J/K, junction to case 5 K/W.
@pytest.mark.parametrize(
    "to_air, limit, seconds", [(50, 125, 75.9), (54, 125, 67.6), (54, 150, 158.8), (60, 125, 60.4), (60, 150, 106.6), (65, 125, 56.7), (65, 150, 92.1), (50, 150, math.inf)]
)  # fmt: skip
def test_two_stage_heating_agrees_with_the_worked_rows(to_air: float, limit: float, seconds: float) -> None:
    assert too_hot_after(2.4, to_air, 5.0, 1.0, limit) == pytest.approx(seconds, abs=0.06)


def test_first_order_heating_agrees_with_the_worked_row() -> None:
    assert too_hot_after(2.4, 65.0, 0.0, 1.0) == pytest.approx(66.6, abs=0.06)


# Trade estimate (54 K/W, 1.5 J/K within a half): watts, seconds
@pytest.mark.parametrize("amps, seconds", [(0.5, 210.0), (0.75, 75.0), (1.0, 50.0), (1.25, 35.0)])
def test_minutes_bare_agree_with_the_trade_estimate(amps: float, seconds: float) -> None:
    found = answer(f"regulator 9V to 5V at {amps}A bare")
    assert found.figures["seconds"] == pytest.approx(seconds, rel=0.1)  # the estimate is rounded
    assert found.figures["least"] < seconds < found.figures["most"]
    assert "Caution" in found.says and "bursts" in found.says


def test_a_watt_never_gets_too_hot_but_burns() -> None:
    found = answer("regulator 9V to 5V at 0.25A bare")
    assert found.figures["seconds"] == math.inf and "never" in found.says and "burns" in found.says
    assert "Caution" not in answer("regulator 9V to 5V at 0.1A bare").says


def test_too_little_across_a_regulator_is_said() -> None:
    assert "sags" in answer("regulator 6V to 5V at 0.1A bare").says


@given(st.floats(0.5, 40.0), st.floats(0.5, 40.0))
def test_more_watts_are_never_slower(one: float, other: float) -> None:
    cool, hot = sorted((one, other))
    assert too_hot_after(cool) >= too_hot_after(hot)
    assert too_hot_after(hot, to_case=sums.TO_CASE) <= too_hot_after(hot)  # the die runs ahead of its tab


@given(st.floats(1.0, 1e7), st.floats(1.0, 1e7))
def test_what_hangs_across_undoes_side_by_side(part: float, hanging: float) -> None:
    both = sums.parallel(part, hanging)
    if hanging < 1e4 * part:
        assert sums.across(both, part) == pytest.approx(hanging, rel=1e-6)


def test_above_the_mark_is_proof_and_below_is_not() -> None:
    above, below = (answer(f"reads {one} in place, marked 10k: what hangs across").says for one in ("12k", "6k8"))
    assert "high or open" in above and "does not prove" in below
    assert "or more" in answer("reads 9k8 in place, marked 10k: what hangs across").says


def test_volts_that_hurt_carry_a_caution() -> None:
    for line in ("divider 100k 10k from 300V", "120 V at 10mA", "200 V through 10M meter from 1M source"):
        assert "can hurt" in answer(line).says, line
    assert "Caution" not in answer("divider 10k 10k from 12V").says
    assert "too hot" in answer("10 V at 1 A").says


@pytest.mark.parametrize("line, column, words", [
    ("10k || R5x", 8, "'R5x' is not a resistance"),
    ("10k ||", 1, "missing"),
    ("R1 || R2", 1, "name of a part"),
    ("10k par R12", 9, "0R12"),
    ("10u || 22u", 1, "add up"),
    ("divider 10k 4k7", 1, "no volts"),
    ("divider 10k 4k7k from 12V", 13, "4k7k"),
    ("divider 10k 4k7 from 12A", 22, "not a voltage"),
    ("ripple 0.8 A 4700u", 1, "hertz"),
    ("ripple 0.8A 4700 100Hz", 13, "4700u"),
    ("regulator 5V to 9V at 0.6A bare", 11, "input first"),
    ("regulator 9V to 5V at 0.4V bare", 23, "not a current"),
    ("regulator 9V to 5V at much bare", 1, "not understood"),
    ("12 mV at 0 A", 10, "nought"),
    ("loading 0 on 1M", 9, "above nought"),
    ("what is 4k7k", 9, "4k7"),
])  # fmt: skip
def test_a_sum_that_cannot_be_reckoned_says_where_and_what_to_write(line: str, column: int, words: str) -> None:
    with pytest.raises(BadInput) as refused:
        reckon(line)
    [complaint] = refused.value.complaints
    assert complaint.column == column and words in str(complaint) and complaint.mend


READINGS = """\
TP4 2.61|TP4 2.61 V|Q7 c 11.8 b .9 e 0|12 rail 11,8 at reg 10.9 at the lamp, lamp lit|C14+ to gnd 4k1 settling, leads other way OL
left ok right same shape but half, 1k tone, top of vol pot|R22 to socket 3 beeps, R22 to ic9 pin 4 no beep|R31 left leg 2.6|-6 dB|6 dB down
left -6 dB|R5 10k|R5 reads 9k8|R22 reads 6k8 in place, marked 10k|reads 6k8 in place|R22 6k8 marked 10k|10k|4k7 ohm|OL|12 mV|12 mV at lamp
12 mV at tone|R5 12 mV at 1.5 A|across R5 12 mV at 1.5 A|0.4 A|ripple 0.3 Vpp|ripple 120 mV|ripple at C5 0.8 V|ripple 0.8 A|ripple none
regulator 9V|regulator 9 V in 5 V out|regulator in 9.1 out 5.0 com 0|regulator hot|regulator hot, heatsink bare|regulator out to ground 5 V
regulator bare|regulator 4.9 at the pin|loading ok|loading: bad|loading fails|loading slow at 300|divider 2.6 V|divider top 12 bottom 4.7|divider mid 2.6
value 2.6|value 2.6 V|value ok|what is wrong|what is C4|what is U1|picture: half|left output: about 70 %|lead swapped: same|set-up: power off
set-up: power on, tone|OUT to ground 2.5 V|COL to OUT 0.3 V|OUT to gnd -11.9 V|about 2.6 V|~2.6 V|less than 3 V|between 2 and 3|OUT 650 uV
OUT 0.32 Vpp|OUT 320 mV p-p|OUT 0.11 V rms|OUT AC 0.11 V|R1 4k1 ohm off|Q7.b to Q7.e OL|Q7 be 0.62 diode|C5 220u esr 0.3|C5 measures 180u
50 Hz at pin 3|440 Hz, 12 cents flat|pin 3 3.58 MHz|duty 40 %|45 C on the tab|tab 70 degrees after 5 min|0.25 A from the bench supply|draws 1.2 A
R31 open|R31 looks brown|smell of fish near C12|IC2 is dead|no picture|sound left only|sound fine on headphones|parallel port dead
par output 5 V|parallel to R5 a 10k is soldered|R5 par ok|ratio left right half|ratio 2 to 1|10k in place|12 V at the lamp|12 V at SUP
9V to 5V regulator gets hot|5 V at 0.2 A load on the rail|meter 10M 2.1 V|2.1 V through the lamp|2.1 V through R5|reset 104 ms|cap says 104"""
LINES = re.split(r"[|\n]", READINGS)


def test_a_hundred_readings_and_none_is_a_sum() -> None:
    assert len(LINES) >= 100 and len(set(LINES)) == len(LINES)
    assert [line for line in LINES if reckon(line) is not None] == []


@given(st.text(max_size=60))
def test_anything_typed_is_a_sum_a_complaint_or_none(text: str) -> None:
    try:
        found = reckon(text)
    except BadInput as refused:
        assert all(one.text and one.mend for one in refused.complaints)
    else:
        assert found is None or found.says


@given(st.floats(1.0, 9.9e6), st.floats(1.0, 9.9e6))
def test_values_written_by_us_are_read_in_sums(one: float, other: float) -> None:
    first, second = (write_value(float(f"{ohms:.3g}"), "ohm") for ohms in (one, other))
    both = answer(f"{first} || {second}").figures["ohms"]
    assert both <= min(one, other) * 1.01


def test_every_form_on_the_page_is_reckoned() -> None:
    rows = [
        re.findall(r"`([^`]+)`", line.split("|")[1])
        for line in PAGE.read_text("utf-8").replace("\\|", "¦").splitlines()
        if line.startswith("| `")
    ]
    lines = [one.replace("¦", "|") for row in rows for one in row]
    kinds = {answer(line).kind for line in lines}
    assert len(lines) >= 15 and kinds == {kind for _, kind, _, _ in CLOSED}
