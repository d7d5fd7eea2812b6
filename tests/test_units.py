"""Values as the trade writes them: what is read, what is refused, and the way back."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from probewright.errors import NotAValue
from probewright.units import (
    E24,
    E96,
    TOLERANCE_LETTERS,
    Value,
    read_value,
    sentence,
    with_capital,
    without_capital,
    write_range,
    write_reading,
    write_value,
)

UNITS = ("ohm", "F", "H", "V", "A", "Hz", "s", "W", "°C", "%", "1", "K/W")
SIGNED = ("V", "A", "°C", "%", "1")

# IEC 60062:2016 + A1:2019, examples of the letter and digit code; seen on encyclopaedia pages, reliability B.
RESISTANCES = {"R47": 0.47, "4R7": 4.7, "470R": 470, "1K0": 1000, "4K7": 4700, "47K3": 47300, "2M2": 2.2e6, "R10": 0.1}
CAPACITANCES = {"10p": 1e-11, "4n7": 4.7e-9, "1u0": 1e-6, "100n": 1e-7}
# Same, letters in place of the decimal point; seen in source, reliability B (T and L not used here).
RESISTANCE_LETTERS = {"R": 1.0, "K": 1e3, "M": 1e6, "G": 1e9}
CAPACITANCE_LETTERS = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3}
# Same, clause 4.1, symmetrical tolerance letters in per cent; seen in source, reliability B.
TOLERANCES = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1, "G": 2, "J": 5, "K": 10, "M": 20, "N": 30}
# Same, clause 4.3, picofarads below 10 pF; B, C, D seen, reliability B.
PICOFARADS = {"B": 0.1, "C": 0.25, "D": 0.5}
# IEC 60063:2015; sum of the 24 values 901 (lists agree, reliability A); E96 is round(100 x 10^(k/96)),
# checksum 37070 (rule reproduces the lists, reliability B).
E24_SUM, E96_SUM = 901, 37070


@pytest.mark.parametrize(
    ("text", "unit", "si"),
    [
        ("4k7", "ohm", 4700), ("4.7k", "ohm", 4700), ("4700", "ohm", 4700), ("4.7 kΩ", "ohm", 4700),
        ("4k7Ω", "ohm", 4700), ("2R2", "ohm", 2.2), ("R47", "ohm", 0.47), ("10R", "ohm", 10), ("0R33", "ohm", 0.33),
        ("10", "ohm", 10), ("10ohm", "ohm", 10), ("1M", "ohm", 1e6), ("1m", "ohm", 1e-3), ("10K", "ohm", 10e3),
        ("1e3", "ohm", 1000), ("1.5e3", "ohm", 1500), (".5", "ohm", 0.5),
        ("4u7", "F", 4.7e-6), ("4µ7", "F", 4.7e-6), ("4μ7", "F", 4.7e-6), ("p33", "F", 0.33e-12), ("100nF", "F", 1e-7),
        ("2200u", "F", 2.2e-3), ("2m2", "F", 2.2e-3), ("10MF", "F", 10e6),
        ("5V1", "V", 5.1), ("6V8", "V", 6.8), ("-12V", "V", -12), ("−12V", "V", -12), ("320mV", "V", 0.32), ("5v", "V", 5),
        ("3,3V", "V", 3.3), ("4,7k", "ohm", 4700), ("0,330", "ohm", 0.33), ("1,5", "ohm", 1.5),
        ("1A5", "A", 1.5), ("20mA", "A", 0.02), ("1kHz", "Hz", 1e3), ("3M58", "Hz", 3.58e6), ("2ms", "s", 2e-3),
        ("0.5W", "W", 0.5), ("125C", "°C", 125), ("125 °C", "°C", 125), ("80%", "%", 0.8), ("100k", "1", 1e5),
        ("11", "1", 11), ("8 K/W", "K/W", 8), ("10uH", "H", 1e-5), ("4m7", "H", 4.7e-3),
    ],
)  # fmt: skip
def test_forms_that_are_understood(text: str, unit: str, si: float) -> None:
    assert read_value(text, unit).si == approx(si, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "mend"),
    [
        ("4k7k", "ohm", "write 4k7, 4.7k or 4700, or 4k7K for 10 %"),
        ("22E", "ohm", "write 22R or 22"),
        ("4.7E", "ohm", "write 4.7R or 4.7"),
        ("1,000", "ohm", "write 1 or 1000"),
        ("4,700", "ohm", "write 4.7 or 4700"),
        ("4,700k", "ohm", "write 4.7k or 4700k"),
        ("1,000,000", "ohm", "write 1000000 if the commas mark thousands"),
        ("1Meg", "ohm", "write 1M"),
        ("0x10", "ohm", "write it like 4k7, 4.7k or 4700, or 4k7K for 10 %"),
        ("BC337", "ohm", "write it like"), ("1N4148", "ohm", "write it like"), ("C5", "F", "write it like"),
        ("TP3", "V", "write it like"), ("", "ohm", "write it like"), ("k", "ohm", "write it like"),
        ("1e3k", "ohm", "write it like"), ("4k7 A", "ohm", "write it like"), ("10k\nA", "ohm", "write it like"),
        ("٣k", "ohm", "write it like"), ("1e999", "ohm", "write it like"), ("--5V", "V", "write it like"),
        ("104", "F", "write 100n if 104 is the code on the part, or 104p, 104n or 104u"),
        ("104K", "F", "write 100n 10%"),
        ("47", "F", "write 47p, 47n or 47u"),
        ("4n7F", "F", "F could mean farad or 1 %: write 4n7 or 4n7 1%"),
        ("10uZ", "F", "write the range 8u..18u"),
        ("80", "%", "write 80%"),
        ("-5", "ohm", "write 5"),
        ("1..10k", "ohm", "write the prefix on both ends: 1k..10k or 1R..10k"),
        ("400..80", "1", "write the lower end first"),
        ("80..", "1", "write a range as lowest..highest, like 80..400"),
        ("4k7K 5%", "ohm", "give the tolerance once"),
        ("1" * 121, "ohm", "write it like"), ("12V", "ohm", "write it like"), ("12", "H", "write 12u or 12m"),
    ],
)  # fmt: skip
def test_forms_that_are_refused_with_what_to_write(text: str, unit: str, mend: str) -> None:
    with pytest.raises(NotAValue) as refused:
        read_value(text, unit)
    assert mend in refused.value.mend
    assert refused.value.text


@pytest.mark.parametrize("mend_of", ["4k7k", "22E", "1,000", "4,700", "1Meg"])
def test_the_form_a_refusal_offers_is_understood(mend_of: str) -> None:
    with pytest.raises(NotAValue) as refused:
        read_value(mend_of, "ohm")
    offered = [word.strip(",") for word in refused.value.mend.split() if re.match(r"\d", word)]
    assert offered and all(read_value(word, "ohm") for word in offered if word != "10")


def test_a_refusal_names_the_quantity() -> None:
    with pytest.raises(NotAValue, match="'4k7k' is not a resistance; write 4k7, 4.7k or 4700, or 4k7K for 10 %"):
        read_value("4k7k", "ohm")


def test_range_and_unknown() -> None:
    assert read_value("80..400", "1") == Value(math.sqrt(80) * math.sqrt(400), low=80, high=400)
    assert read_value("0V..9V", "V") == Value(4.5, low=0, high=9)
    assert read_value("9..12V", "V").high == 12
    assert read_value("?", "ohm") == read_value("unknown", "ohm") == Value(0.0, unknown=True)


def test_examples_of_the_code() -> None:
    for text, ohms in RESISTANCES.items():
        assert read_value(text, "ohm").si == approx(ohms, rel=1e-12), text
    for text, farads in CAPACITANCES.items():
        assert read_value(text, "F").si == approx(farads, rel=1e-12), text


@pytest.mark.parametrize(("letters", "unit"), [(RESISTANCE_LETTERS, "ohm"), (CAPACITANCE_LETTERS, "F")])
def test_a_letter_stands_for_the_decimal_point(letters: dict[str, float], unit: str) -> None:
    for letter, factor in letters.items():
        assert read_value(f"4{letter}7", unit).si == approx(4.7 * factor, rel=1e-12)
        assert read_value(f"{letter}47", unit).si == approx(0.47 * factor, rel=1e-12)
        assert read_value(f"47{letter}", unit).si == approx(47 * factor, rel=1e-12)


def test_tolerance_letters_after_a_complete_value() -> None:
    assert dict(TOLERANCE_LETTERS) == TOLERANCES
    for letter, per_cent in TOLERANCES.items():
        for text in (f"4k7{letter}", f"47k{letter}", f"4R7{letter}", f"470R{letter}"):
            assert read_value(text, "ohm").tolerance == approx(per_cent / 100), text
    assert read_value("4K7K", "ohm") == Value(4700.0, 0.1)
    assert read_value("47K", "ohm") == Value(47000.0)  # alone it is the multiplier
    assert read_value("10k 5%", "ohm") == read_value("10k ±5%", "ohm") == read_value("10kJ", "ohm") == Value(1e4, 0.05)


def test_below_ten_picofarads_the_letters_are_picofarads() -> None:
    for letter, picofarads in PICOFARADS.items():
        assert read_value(f"4p7{letter}", "F").tolerance == approx(picofarads / 4.7, rel=1e-5)
    assert read_value("10pD", "F").tolerance == 0.005


def test_series_are_those_of_the_standard() -> None:
    assert len(E24) == 24 and sum(E24) == E24_SUM
    assert len(E96) == 96 and sum(E96) == E96_SUM


@pytest.mark.parametrize(("series", "digits"), [(E24, 10), (E96, 100)])
def test_every_value_of_a_series_survives_writing_and_reading(series: tuple[int, ...], digits: int) -> None:
    for value in series:
        for decade in range(-1, 7):
            ohms = float(f"{value}e{decade - len(str(digits)) + 1}")
            assert read_value(write_value(ohms, "ohm"), "ohm").si == ohms
        for decade in range(-12, -3):
            farads = float(f"{value}e{decade - len(str(digits)) + 1}")
            assert read_value(write_value(farads, "F"), "F").si == farads


@given(st.sampled_from(UNITS), st.floats(1e-15, 1e12), st.booleans())
def test_what_is_written_reads_back_as_the_same_number(unit: str, size: float, negative: bool) -> None:
    si = -size if negative and unit in SIGNED else size
    assert read_value(write_value(si, unit), unit).si == si


@given(st.sampled_from(UNITS), st.floats(1e-15, 1e12), st.floats(1e-15, 1e12))
def test_a_range_that_is_written_reads_back_with_the_same_ends(unit: str, one: float, other: float) -> None:
    low, high = min(one, other), max(one, other)
    if low < high:
        read = read_value(write_range(low, high, unit), unit)
        assert (read.low, read.high) == (low, high)


@given(st.sampled_from(UNITS), st.floats(1e-9, 9e8), st.booleans())
def test_a_figure_shown_is_right_to_half_a_per_cent(unit: str, size: float, negative: bool) -> None:
    si = -size if negative and unit in SIGNED else size
    assert read_value(write_reading(si, unit).replace(" ", ""), unit).si == approx(si, rel=5.1e-3)


@given(st.text(max_size=12), st.sampled_from(UNITS))
def test_no_text_escapes_as_anything_but_a_value_or_a_refusal(text: str, unit: str) -> None:
    try:
        value = read_value(text, unit)
    except NotAValue as refused:
        assert refused.text and refused.mend
    else:
        assert math.isfinite(value.si)


@given(st.from_regex(r"[-0-9.,ekKMRuFVEJ% ?]{1,9}", fullmatch=True), st.sampled_from(UNITS))
def test_near_misses_are_a_value_or_a_refusal(text: str, unit: str) -> None:
    try:
        assert math.isfinite(read_value(text, unit).si)
    except NotAValue as refused:
        assert refused.mend


@pytest.mark.parametrize(
    ("si", "unit", "text"),
    [(4700, "ohm", "4k7"), (1e-7, "F", "100n"), (2.2e-6, "F", "2u2"), (2.2e-3, "F", "2200u"), (12, "V", "12V"),
     (6.8, "V", "6V8"), (0.33, "ohm", "0R33"), (-12, "V", "-12V"), (0.8, "%", "80%"), (1000, "Hz", "1kHz"),
     (0.5, "W", "0.5W"), (0.32, "V", "320mV"), (0, "V", "0V"), (0, "ohm", "0R"), (100e3, "1", "100k"), (2.5e-15, "A", "2.5e-15A")],
)  # fmt: skip
def test_trade_style(si: float, unit: str, text: str) -> None:
    assert write_value(si, unit) == text


@pytest.mark.parametrize(
    ("si", "unit", "text"),
    [(2.61, "V", "2.61 V"), (0.32, "V", "320 mV"), (4100, "ohm", "4.1 kΩ"), (13.82, "V", "13.82 V"), (0, "V", "0 V"),
     (-0.0051, "V", "-5.1 mV"), (math.inf, "ohm", "over limit"), (math.nan, "V", "?"), (0.3, "ohm", "0.3 Ω"),
     (999.96, "ohm", "1 kΩ"), (0.125, "%", "12.5 %"), (47e-6, "F", "47 µF"), (150, "1", "150"), (1e-18, "A", "1e-18 A")],
)  # fmt: skip
def test_figures_as_a_meter_shows_them(si: float, unit: str, text: str) -> None:
    assert write_reading(si, unit) == text


@pytest.mark.parametrize(
    ("words", "said"),
    [("a lead", "A lead."), ("a lead. ", "A lead."), ("is it so?", "Is it so?"), ("agreed: “go.”", "Agreed: “go.”"),
     ("agreed: “go”", "Agreed: “go”."), ("look (at it.)", "Look (at it.).")],
)  # fmt: skip
def test_a_sentence_ends_once(words: str, said: str) -> None:
    assert sentence(words) == said


@given(st.text(max_size=12))
def test_words_keep_all_but_their_first_letter(words: str) -> None:
    for turned, letter in ((with_capital(words), words[:1].upper()), (without_capital(words), words[:1].lower())):
        assert turned == letter + words[1:]
    assert sentence(words) in (with_capital(words).rstrip() + stop for stop in ("", "."))
    assert sentence(sentence(words)) == sentence(words) and sentence(words).rstrip("”")[-1] in ".?!"
    assert with_capital("IC3 of the left channel") == "IC3 of the left channel"
