"""How a quantity is written: strict reading of trade notation, and the same notation out again.

Letter-and-digit code and tolerance letters: IEC 60062:2016 + A1:2019. Preferred values: IEC 60063:2015.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from probewright.errors import NotAValue

PREFIXES: Mapping[str, int] = {"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "k": 3, "K": 3, "M": 6, "G": 9}
# IEC 60062:2016 clause 4.1, per cent. The rare letters E L P W H (reliability C) are not read:
# E and H are taken for units far more often.
TOLERANCE_LETTERS: Mapping[str, float] = {
    "B": 0.1,
    "C": 0.25,
    "D": 0.5,
    "F": 1.0,
    "G": 2.0,
    "J": 5.0,
    "K": 10.0,
    "M": 20.0,
    "N": 30.0,
}
# Clause 4.3: below 10 pF these letters are picofarads, not per cent.
PICOFARAD_LETTERS: Mapping[str, float] = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0}
# Clause 4.2: lopsided tolerances; asked to be written as a range.
LOPSIDED_LETTERS: Mapping[str, tuple[int, int]] = {"Q": (-10, 30), "T": (-10, 50), "S": (-20, 50), "Z": (-20, 80)}

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
# E96 is round(100 x 10^(k/96)) throughout; E24 is not round(10 x 10^(k/24)) from 27 to 47, nor at 82.
E96 = (
    100, 102, 105, 107, 110, 113, 115, 118, 121, 124, 127, 130, 133, 137, 140, 143,
    147, 150, 154, 158, 162, 165, 169, 174, 178, 182, 187, 191, 196, 200, 205, 210,
    215, 221, 226, 232, 237, 243, 249, 255, 261, 267, 274, 280, 287, 294, 301, 309,
    316, 324, 332, 340, 348, 357, 365, 374, 383, 392, 402, 412, 422, 432, 442, 453,
    464, 475, 487, 499, 511, 523, 536, 549, 562, 576, 590, 604, 619, 634, 649, 665,
    681, 698, 715, 732, 750, 768, 787, 806, 825, 845, 866, 887, 909, 931, 953, 976,
)  # fmt: skip


@dataclass(frozen=True)
class Value:
    """A number as typed, SI. tolerance: fraction or None; low, high: None unless a range was typed.

    unknown: typed `?`; then si is 0 and means nothing. For a range si is its middle (geometric
    where both ends are positive).
    """

    si: float
    tolerance: float | None = None
    low: float | None = None
    high: float | None = None
    unknown: bool = False


@dataclass(frozen=True)
class _Unit:
    """What is accepted for one unit: its name, symbols, decimal letter, prefixes, example forms."""

    noun: str
    symbols: tuple[str, ...]
    shown: str
    forms: str
    letter: str = ""  # stands for the decimal point: 4R7, 5V1
    prefixes: str = "pnuµμmkKMG"
    bare: bool = True  # a number alone is understood
    signed: bool = False
    letters_of_tolerance: bool = False


_UNITS: Mapping[str, _Unit] = {
    "ohm": _Unit(
        "a resistance",
        ("Ω", "Ω", "ohm", "ohms", "Ohm", "R"),
        "Ω",
        "4k7, 4.7k or 4700, or 4k7K for 10 %",
        letter="R",
        letters_of_tolerance=True,
    ),
    "F": _Unit(
        "a capacitance",
        ("F", "f"),
        "F",
        "4n7, 100n, 2u2 or 2200u, or 100nK for 10 %",
        letter="F",
        bare=False,
        letters_of_tolerance=True,
    ),
    "H": _Unit(
        "an inductance", ("H", "h"), "H", "4m7, 10uH or 1.5mH", letter="H", bare=False, letters_of_tolerance=True
    ),
    "V": _Unit("a voltage", ("V", "v"), "V", "5V1, 12V, 3.3V or 320mV", letter="V", signed=True),
    "A": _Unit("a current", ("A", "a"), "A", "1A, 1.5A or 20mA", letter="A", signed=True),
    "Hz": _Unit("a frequency", ("Hz", "hz", "HZ"), "Hz", "50Hz, 1kHz or 3.58MHz"),
    "s": _Unit("a time", ("s",), "s", "2ms, 50s or 0.5s"),
    "W": _Unit("a power", ("W", "w"), "W", "0.5W, 250mW or 10W", letter="W"),
    "°C": _Unit("a temperature", ("°C", "C", "degC", "℃"), "°C", "125C or 125°C", prefixes="", signed=True),
    "%": _Unit("a percentage", ("%",), "%", "80%", prefixes="", bare=False, signed=True),
    "1": _Unit("a number", (), "", "11, 0.5 or 100k", prefixes="kKMG", signed=True),
    "K/W": _Unit("a thermal resistance", ("K/W", "C/W", "°C/W"), "K/W", "8 K/W", prefixes=""),
}

LONGEST = 120  # chosen, letters: a range with all digits of both ends is shorter
_NUMBER = r"(?P<number>\d+(?:[.,]\d+)?|[.,]\d+)"
_RANGE = re.compile(r"(?P<low>[^\s].*?)\s*\.\.\s*(?P<high>.*\S)")
_PER_CENT = re.compile(r"(?P<value>.*\S)\s+(?:±|\+/-|\+-)?(?P<per_cent>\d+(?:[.,]\d+)?|[.,]\d+)\s?%")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")


def read_value(text: str, unit: str) -> Value:
    """The value a text stands for in this unit; raises NotAValue, which says what to write.

    Understood: 4k7, 4.7k, 4700, 1.5e3, 4K7J, `10k 5%`, 80..400, ?, unknown, 3,3V.
    unit: ohm, F, H, V, A, Hz, s, W, °C, %, 1 or K/W.
    """
    rules, typed = _UNITS[unit], text.strip()
    if len(typed) > LONGEST:
        raise _refusal(typed, rules)
    if typed in ("?", "unknown"):
        return Value(0.0, unknown=True)
    if ".." in typed:
        return _read_range(typed, unit, rules)
    with_tolerance = _PER_CENT.fullmatch(typed)
    if with_tolerance and unit != "%":
        value = _read_one(with_tolerance["value"], unit, rules)
        if value.tolerance is not None:
            raise _refusal(typed, rules, "give the tolerance once, as a letter or in per cent")
        return Value(value.si, _exact(with_tolerance["per_cent"], -2))
    return _read_one(typed, unit, rules)


def _read_range(typed: str, unit: str, rules: _Unit) -> Value:
    """`80..400`: both ends complete values without tolerance."""
    found = _RANGE.fullmatch(typed)
    if not found:
        raise _refusal(typed, rules, "write a range as lowest..highest, like 80..400")
    low, high = _read_end(found["low"], unit, rules), _read_end(found["high"], unit, rules)
    if _bare(found["low"]) and low and re.search(r"[pnuµμmkKMG]", found["high"]):
        prefix = re.search(r"[pnuµμmkKMG]", found["high"])
        assert prefix
        raise _refusal(
            typed,
            rules,
            f"write the prefix on both ends: {found['low']}{prefix[0]}..{found['high']} "
            f"or {write_value(low, unit)}..{found['high']}",
        )
    if low >= high:
        raise _refusal(typed, rules, "write the lower end first")
    middle = math.sqrt(low) * math.sqrt(high) if low > 0 else 0.5 * (low + high)
    return Value(middle, low=low, high=high)


def _read_end(text: str, unit: str, rules: _Unit) -> float:
    """One end of a range. A bare end is understood when the other carries the unit."""
    value = _read_one(text, unit, rules, bare_allowed=True)
    if value.tolerance is not None:
        raise _refusal(text, rules, "a range has no tolerance of its own")
    return value.si


def _bare(text: str) -> bool:
    return re.fullmatch(rf"[+\-−]?{_NUMBER}", text.strip()) is not None


def _read_one(text: str, unit: str, rules: _Unit, bare_allowed: bool = False) -> Value:
    """A single value with an optional tolerance letter."""
    typed = text.strip()
    sign, body = (-1.0, typed[1:]) if typed[:1] in ("-", "−") else (1.0, typed.removeprefix("+"))
    if not body.isprintable() or any(c.isdigit() and not c.isascii() for c in body):
        raise _refusal(typed, rules)
    value = _plain(typed, body, unit, rules, bare_allowed) or _lettered(typed, body, unit, rules)
    if value is None:
        raise _refusal(typed, rules, _mend(body, unit, rules))
    if not math.isfinite(value.si):
        raise _refusal(typed, rules)
    if sign < 0 and not rules.signed and value.si:
        raise NotAValue(f"{typed!r} is below nought; {rules.noun} is not negative", f"write {body}")
    return Value(sign * value.si + 0.0, value.tolerance)


def _plain(typed: str, body: str, unit: str, rules: _Unit, bare_allowed: bool) -> Value | None:
    """4.7k, 4700, 1.5e3, 4.7 kΩ, 47KJ: number, prefix, unit, tolerance letter; None when not so."""
    symbols = "|".join(re.escape(one) for one in sorted(rules.symbols, key=len, reverse=True)) or r"(?!)"
    letter = "[A-Z]?" if rules.letters_of_tolerance else ""
    found = re.fullmatch(
        rf"{_NUMBER}(?P<power>[eE][+-]?\d{{1,3}})?\s?(?P<prefix>[{rules.prefixes or ' '}]?)"
        rf"(?P<unit>{symbols})?(?P<letter>{letter})",
        body,
    )
    if not found or (found["power"] and (found["prefix"] or found["letter"])):
        return None
    complete = found["prefix"] or found["unit"]
    if found["letter"] and not complete:
        return None
    if not complete and not rules.bare and not bare_allowed and float(found["number"].replace(",", ".")):
        raise _refusal(typed, rules, _add_a_letter(body, unit, rules))
    if unit == "F" and re.fullmatch(r"\d{3}[KM]", body):
        raise _refusal(typed, rules, _three_digit_code(body))
    if _THOUSANDS.fullmatch(found["number"]):
        raise _asking(typed, body, found["number"])
    power = int(found["power"][1:]) if found["power"] else PREFIXES.get(found["prefix"], 0)
    si = _exact(found["number"], power - (2 if unit == "%" else 0))
    return Value(si, _tolerance(typed, si, found["letter"], unit, rules))


def _lettered(typed: str, body: str, unit: str, rules: _Unit) -> Value | None:
    """4k7, 2R2, R47, 5V1, p33, 4K7K: a letter in place of the decimal point; None when not so."""
    allowed = (rules.prefixes + rules.letter) or " "
    symbols = "|".join(re.escape(one) for one in rules.symbols if one != "R") or r"(?!)"
    letter = "[A-Z]?" if rules.letters_of_tolerance else ""
    found = re.fullmatch(
        rf"(?P<whole>\d*)(?P<point>[{allowed}])(?P<rest>\d+)(?P<unit>{symbols})?(?P<letter>{letter})", body
    )
    if not found:
        return None
    if found["unit"] == "F" and unit == "F" and not found["letter"]:
        raise _refusal(typed, rules, f"F could mean farad or 1 %: write {body[:-1]} or {body[:-1]} 1%")
    power = 0 if found["point"] == rules.letter else PREFIXES[found["point"]]
    si = _exact(f"{found['whole'] or '0'}.{found['rest']}", power)
    return Value(si, _tolerance(typed, si, found["letter"], unit, rules))


def _tolerance(typed: str, si: float, letter: str, unit: str, rules: _Unit) -> float | None:
    """Fraction a tolerance letter stands for; None for no letter."""
    if not letter:
        return None
    if letter in LOPSIDED_LETTERS:
        down, up = LOPSIDED_LETTERS[letter]
        ends = [write_value(_rounded(si * (1.0 + side / 100.0), 6), unit) for side in (down, up)]
        raise NotAValue(f"{letter!r} in {typed!r} means {down} to +{up} %", f"write the range {ends[0]}..{ends[1]}")
    if unit == "F" and si < 10e-12 and letter in PICOFARAD_LETTERS and si > 0:
        return _rounded(PICOFARAD_LETTERS[letter] * 1e-12 / si, 6)
    if letter not in TOLERANCE_LETTERS:
        raise _refusal(typed, rules, _mend(typed, unit, rules))
    return _exact(repr(TOLERANCE_LETTERS[letter]), -2)


def _exact(number: str, power: int) -> float:
    """number x 10^power, rounded once, so that 4k7 and 4700 are the same float."""
    return float(f"{number.replace(',', '.')}e{power}")


def _refusal(typed: str, rules: _Unit, mend: str = "") -> NotAValue:
    shown = typed if len(typed) <= 40 else typed[:37] + "..."
    return NotAValue(f"{shown!r} is not {rules.noun}", mend or f"write it like {rules.forms}")


def _asking(typed: str, body: str, number: str) -> NotAValue:
    """A comma before exactly three digits: decimal or thousands? The typist knows."""
    after = body[body.index(number) + len(number) :]
    decimal = f"{float(number.replace(',', '.')):g}{after}"
    return NotAValue(
        f"the comma in {typed!r} could be a decimal comma or a thousands mark",
        f"write {decimal} or {number.replace(',', '')}{after}",
    )


def _three_digit_code(body: str) -> str:
    """104K on a capacitor is a code in picofarads with a tolerance letter, not 104 kF."""
    farads = _exact(body[:2], int(body[2]) - 12)
    return f"write {write_value(farads, 'F')} {TOLERANCE_LETTERS[body[3]]:g}%"


def _add_a_letter(body: str, unit: str, rules: _Unit) -> str:
    """What a bare number where a unit is needed may have meant."""
    if unit == "%":
        return f"write {body}%"
    code = re.fullmatch(r"(\d\d)(\d)", body)
    if unit == "F" and code:
        picofarads = _exact(code[1], int(code[2]) - 12)
        return f"write {write_value(picofarads, 'F')} if {body} is the code on the part, or {body}p, {body}n or {body}u"
    return f"write {body}p, {body}n or {body}u" if unit == "F" else f"write {body}u or {body}m"


def _mend(body: str, unit: str, rules: _Unit) -> str:
    """The likeliest intended form, else the accepted forms."""
    if unit == "ohm" and re.fullmatch(r"\d+([.,]\d+)?[eE]", body):
        return f"write {body[:-1]}R or {body[:-1]}"
    megs = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s?(?:[Mm][Ee][Gg])", body)
    if megs:
        return f"write {megs[1]}M"
    if body.count(",") > 1:
        return f"write {body.replace(',', '')} if the commas mark thousands"
    if body[-1:] == "k" and re.search(r"[kKMGR]", body[:-1]):
        try:
            si = read_value(body[:-1], unit).si
        except NotAValue:
            return f"write it like {rules.forms}"
        short = write_value(si, unit)
        return f"write {short}, {si / 1e3:g}k or {si:g}, or {short}K for 10 %"
    return f"write it like {rules.forms}"


def write_value(si: float, unit: str) -> str:
    """A value in trade style for a part line: 4k7, 100n, 2u2, 12V. Reads back as the same float."""
    rules = _UNITS[unit]
    if si < 0:
        return "-" + write_value(-si, unit)
    number = Decimal(repr(si))
    if unit == "%":
        return f"{_digits(number.scaleb(2))}%"
    if not rules.prefixes:
        return f"{_digits(number)} {rules.shown}".replace(" °C", "C")
    if 0 < si < 1e-12 and unit not in ("F", "H", "1"):
        return f"{si!r}{rules.shown}"  # a junction's saturation current, usually written 1e-14A
    prefix, power = _prefix_for(si, unit)
    digits = _digits(number.scaleb(-power))
    point = prefix or rules.letter
    if unit in ("ohm", "F", "H") or (unit == "V" and not prefix):
        whole, _, rest = digits.partition(".")
        return f"{whole}{point}{rest}" if "e" not in digits.lower() else f"{si!r}{rules.shown}"
    return f"{digits}{prefix}{rules.shown}"


def write_range(low: float, high: float, unit: str) -> str:
    """A range in trade style; plain numbers stay plain, because 80..4k would leave the prefix of 80 open."""
    if unit == "1":
        return "..".join(_digits(Decimal(repr(end))) for end in (low, high))
    return f"{write_value(low, unit)}..{write_value(high, unit)}"


def _written(unit: str) -> tuple[str, ...]:
    """Prefixes used when writing, smallest first."""
    every = ("p", "n", "u", "m", "", "k", "M", "G")
    return {"F": ("p", "n", "u", "", "k"), "H": every[:5], "1": every[4:], "Hz": every[3:]}.get(unit, every)


def _prefix_for(si: float, unit: str) -> tuple[str, int]:
    """The prefix that leaves one to three digits before the point, as far as the trade uses it.

    Ohms stay ohms down to a hundredth (0R33), watts watts down to a tenth, farads stay microfarads up to one (2200u).
    """
    prefixes = _written(unit)
    if (unit == "ohm" and 0.01 <= si < 1.0) or (unit == "W" and 0.1 <= si < 1.0):
        return "", 0
    best = prefixes[0] if si else ("" if "" in prefixes else prefixes[-1])
    for prefix in prefixes:
        if si and si >= float(f"1e{PREFIXES.get(prefix, 0)}"):
            best = prefix
    return best, PREFIXES.get(best, 0)


def _digits(number: Decimal) -> str:
    """Plain digits without an exponent and without trailing noughts."""
    plain = format(number, "f")
    return plain.rstrip("0").rstrip(".") if "." in plain else plain


def _rounded(si: float, digits: int) -> float:
    return float(f"{si:.{digits - 1}e}")


def write_reading(si: float, unit: str) -> str:
    """A figure with its unit as a meter would show it: 2.61 V, 320 mV, 4.1 kΩ; three to four digits."""
    rules = _UNITS[unit]
    if math.isnan(si):
        return "?"
    if math.isinf(si):
        return "over limit" if si > 0 else "below limit"
    if unit == "%":
        return f"{_digits(Decimal(repr(_short(100.0 * si))))} %"
    size = _short(abs(si))
    if unit == "A" and 0 < size < 1e-15:
        return f"{_short(si)!r} A"
    if size < 1e-15:
        size = 0.0
    prefix, power = _prefix_for(size, unit) if rules.prefixes and rules.symbols else ("", 0)
    digits = _digits(Decimal(repr(size)).scaleb(-power))
    minus = "-" if si < 0 and size else ""
    return f"{minus}{digits} {prefix.replace('u', 'µ')}{rules.shown}".rstrip()


def _short(si: float) -> float:
    """Rounded to three digits, four where the first is a 1: about the same share everywhere."""
    if not si:
        return 0.0
    first = f"{abs(si):.3e}"
    return float(f"{si:.3e}") if first[0] == "1" else float(f"{si:.2e}")


def percent(share: float) -> str:
    """A probability in per cent; small ones are not shown as nought, nor near ones as certain."""
    if 0.0 < share < 0.01:
        return "<1 %"
    return f"{100 * share:.0f} %" if share <= 0.99 else ">99 %"


def with_article(thing: str) -> str:
    """One of such things, by its first letter, which is right for the kinds of machines, parts and instruments.

    >>> with_article("amplifier"), with_article("tuner")
    ('an amplifier', 'a tuner')
    """
    return f"{'an' if thing[:1] in ('a', 'e', 'i', 'o', 'u') else 'a'} {thing}"


def counted(number: int, one: str) -> str:
    """How many of a thing there are.

    >>> counted(1, "start"), counted(2, "start")
    ('1 start', '2 starts')
    """
    return f"{number} {one}{'' if number == 1 else 's'}"


def with_capital(words: str) -> str:
    """Words as a sentence begins with them; all after the first letter stays as it is written.

    >>> with_capital("known good: Q3 of the left channel")
    'Known good: Q3 of the left channel'
    """
    return words[:1].upper() + words[1:]


def without_capital(words: str) -> str:
    """Words that began a sentence, to go on one with."""
    return words[:1].lower() + words[1:]


def sentence(words: str) -> str:
    """Words with a capital and an end."""
    return ended(with_capital(words))


def ended(words: str) -> str:
    """Words with a full stop behind them, unless they have an end of their own, within quotation marks or not."""
    words = words.rstrip()
    return words if words.rstrip("”").endswith((".", "?", "!")) else f"{words}."
