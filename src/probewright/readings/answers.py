"""The answer of a reading: a figure with its unit, or how a function does, in everyday words."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from probewright import units
from probewright.errors import BadInput, NotAValue
from probewright.machine.model import Works
from probewright.readings import SCOPED, Reading
from probewright.readings.setups import Piece

ABOUT = re.compile(r"(?:about|approximately|approx\.?|roughly|around|circa|ca\.?|~|≈)\s*", re.IGNORECASE)
OVER = re.compile(r"(?i:O\.?L\.?|0\.?L|over ?limit|over ?load|open)\b\.?\s*(?P<unit>\S.*)?")
OHM = r"(?:(?i:ohms?)|Ω|\u2126)"
VOLT = r"(?:(?i:volts?)|[Vv])"
KIND = r"(?i:pk[- ]?pk|p[-/]?p|ac\s*rms|rms|ac|dc)"
KINDS_IN_WORDS = {"ac": "rms", "rms": "rms", "acrms": "rms", "dc": "dc"}
SHAPES = (  # tried in this order; figure and prefix go to units.read_value together
    ("volts", re.compile(rf"(?P<figure>.+?)\s*(?P<prefix>[nuµμmkM]?){VOLT}\s*(?P<kind>{KIND})?")),
    ("volts", re.compile(rf"(?P<figure>[-+−]?\d+V\d+)(?P<prefix>)\s*(?P<kind>{KIND})?")),
    ("volts", re.compile(rf"(?P<figure>[-+−]?[\d.,]+)(?P<prefix>)\s*(?P<kind>{KIND})")),
    ("ohms", re.compile(rf"(?P<figure>.+?)\s*(?P<prefix>[mkKM]?)\s*{OHM}")),
    ("ohms", re.compile(r"(?P<figure>\d*R\d*)(?P<prefix>)")),
    ("", re.compile(r"(?P<figure>[-+−]?[\d.,]+)(?P<prefix>)")),
    ("letter", re.compile(r"(?P<figure>\d+(?:[.,]\d+)?[kKM]\d*)(?P<prefix>)")),
)
PERCENT = re.compile(r"(?P<figure>\S+)\s*(?:%|per ?cent)")


@dataclass(frozen=True)
class Said:
    """An answer in figures: unit "volts", "ohms", "letter" (4k1 alone) or ""; kind of volts."""

    unit: str
    value: float
    kind: str = ""
    about: bool = False


# Words ---------------------------------------------------------------------------------------


def plain(text: str) -> str:
    """Small letters and single blanks."""
    return " ".join(text.casefold().split())


@cache
def words(about: str) -> Mapping[str, str]:
    """Everyday words of data/words.csv for "degree" or "swap", and what they stand for."""
    text = files(__package__).joinpath("data/words.csv").read_text("utf-8")
    return {row["word"]: row["means"] for row in csv.DictReader(text.splitlines()) if row["about"] == about}


# Figures -------------------------------------------------------------------------------------


def number(piece: Piece, unit: str) -> float:
    """One figure in SI. BadInput for no value, a range or a tolerance."""
    try:
        value = units.read_value(piece.text, unit)
    except NotAValue as problem:
        raise piece.wrong(problem.text, problem.mend) from problem
    if value.tolerance is not None or value.low is not None:
        raise piece.wrong(f"{piece.text!r} is a range, and a reading is one figure", "write its middle: `about 2.6 V`")
    return value.si


def over_limit(piece: Piece) -> Said | None:
    """OL, alone or with ohm; None when it is something else."""
    found = OVER.fullmatch(piece.text)
    if not found:
        return None
    unit = found["unit"] or ""
    if not re.fullmatch(rf"(?:[kKM]?\s*{OHM})?", unit):
        raise piece.wrong("over limit is an answer in ohms only", "choose a higher range and write the figure")
    return Said("ohms", float("inf"))


def volts_kind(text: str) -> str:
    """dc, pp or rms as in a Question; "" when not said."""
    word = re.sub(r"\s", "", text.casefold())
    return KINDS_IN_WORDS.get(word, "pp" if word else "")


def refuse_unit(piece: Piece) -> BadInput:
    """The best that can be said about an answer of no known shape."""
    text = piece.text
    if re.search(rf"{VOLT}\s*(?i:pk|peak|p)\b", text):
        return piece.wrong("peak volts can be half the swing or not", "write peak to peak (0.32 Vpp) or V rms")
    if re.search(r"\d\s*[umµ]?(?:A|amps?)$", text):
        return piece.wrong("amps are not read here", "write the volts across a resistor the current runs through")
    if re.search(r"\d\s*[kM]?Hz$", text):
        return piece.wrong("frequencies are not read here", "write the volts: 0.32 Vpp")
    if text.endswith("%"):
        return piece.wrong("per cent belong to what works, not to a place", "write volts, or `left output: 70 %`")
    if text.startswith((">", "<")):
        return piece.wrong("a reading is one figure, not a bound", "write the figure, or `OL ohm` above the range")
    if re.match(r"[-+−]\s", text):
        pin = "plus" if text[0] == "+" else "minus"
        mend = f"write `{text[0]}3 V` in one, or name the pin: `C5.{pin} 3 V`"
        return piece.wrong("the sign stands apart and could be a pin", mend)
    if text in ("?", "unknown"):
        return piece.wrong("a reading needs a figure", "leave the line out until it is measured")
    if re.search(r",\s*[A-Za-z]", text):
        return piece.wrong(f"{text!r} is more than an answer", "write remarks behind a semicolon")
    mend = "write `2.61 V`, `320 mV`, `0.32 Vpp`, `0.2 V rms`, `4k1 ohm` or `OL ohm`"
    return piece.wrong(f"{text!r} is not an answer", mend)


def peak_to_peak(piece: Piece) -> Piece:
    """The long words as the short one, columns kept."""
    text = re.sub(r"(?i)\bpeak[ -]to[ -]peak\b", lambda found: "pp".ljust(len(found[0])), piece.text)
    return replace(piece, text=text).cut(0)


def leading_kind(piece: Piece) -> tuple[str, Piece]:
    """ "DC 2.61 V": the kind in front, and the rest."""
    found = re.match(rf"({KIND})\s+", piece.text)
    return (volts_kind(found[1]), piece.cut(found.end())) if found else ("", piece)


def read_answer(piece: Piece) -> Said:
    """The figure with its unit, "about" and kind of volts. BadInput when not understood."""
    about = ABOUT.match(piece.text)
    first, rest = leading_kind(piece.cut(about.end() if about else 0))
    if over := over_limit(rest):
        if about or first:
            raise piece.wrong(f"{piece.text!r}: over limit has no size and no kind", "write `OL ohm`")
        return over
    if re.match(r"[<>?]|unknown|[-+−]\s", rest.text):
        raise refuse_unit(rest)
    for unit, shape in SHAPES:
        if found := shape.fullmatch(rest.text):
            kind = volts_kind(found.groupdict().get("kind") or "")
            if first and (kind not in ("", first) or unit == "ohms"):
                raise piece.wrong(f"{piece.text!r} is said to be both {first} and {kind or unit}", "keep one of them")
            return Said(*figure(rest, unit, found), kind or first, bool(about))
    raise refuse_unit(rest)


def figure(piece: Piece, unit: str, found: re.Match[str]) -> tuple[str, float]:
    """Unit and SI value of a matched shape."""
    text = found["figure"] + found["prefix"]
    if re.search(rf"(?:{OHM}|{VOLT})$", text):
        raise piece.wrong(f"{piece.text!r} names its unit twice", "write it once")
    if unit == "ohms" and re.search(r"[\d\s][pnuµμm]\d*$", text):
        raise small_ohms(piece)
    return unit, number(replace(piece, text=text), "V" if unit in ("volts", "") else "ohm")


def small_ohms(piece: Piece) -> BadInput:
    """2.2 mohm: no hand-held meter shows thousandths, so millions may be meant."""
    return piece.wrong(
        f"{piece.text!r} is less than the meter can show", "write `Mohm` for millions, or small ohms as `0.0022 ohm`"
    )


def step_of(reading: Reading) -> float:
    """Worth of the last digit the person wrote, SI: 0.01 for "2.61 V", 100 for "4k1".

    For `instruments.error(..., step=)`. 0 when the answer is a word or OL, or is not found in the text. A bare "0"
    is taken as 0.0, for nobody writes the decimals of nothing (an estimate).
    """
    if isinstance(reading.answer, str) or reading.answer == float("inf"):
        return 0.0
    stimulus = re.escape(reading.question.setup.stimulus)
    shown = reading.answer * 100.0 if SCOPED.get(reading.question.instrument) == "1" else reading.answer  # per cent
    share = shown / reading.answer if reading.answer else 1.0
    text = re.sub(rf"(?i)\sat\s+{stimulus}(?=\s|;|$)", "", reading.text)
    # the last one that fits, for names hold figures too: "TP5 5.00 V", "U2 pin 8 8.00 V"
    for found in reversed(list(re.finditer(r"(\d+)(?:[.,kMRV](\d+))?\s*([uµμmkM]?)", text))):
        decimals = len(found[2] or "")
        mantissa = float(f"{found[1]}.{found[2] or 0}")
        if not reading.answer and not mantissa:
            return 10.0 ** -max(decimals, 1) * 10.0 ** units.PREFIXES.get(found[3], 0)
        for scale in (1e-6, 1e-3, 1.0, 1e3, 1e6):
            if abs(mantissa * scale - abs(shown)) <= 1e-9 * abs(shown):
                return scale * 10.0**-decimals / share
    return 0.0


# How a function does -------------------------------------------------------------------------


def function_words(works: Works) -> tuple[str, ...]:
    """The file's own words for how this function fails."""
    return tuple(limit.words for limit in works.limits if limit.words)


def read_degree(piece: Piece, works: Works) -> tuple[float | str, bool]:
    """How a function does: the file's words, everyday words or per cent; and whether "about"."""
    own = {plain(word): word for word in function_words(works)}
    if plain(piece.text) in own:
        return own[plain(piece.text)], False
    about = ABOUT.match(piece.text)
    rest = piece.cut(about.end() if about else 0)
    if plain(rest.text) in words("degree"):
        means = words("degree")[plain(rest.text)]
        if about and means in ("ok", "bad"):
            raise piece.wrong(f"{piece.text!r} is neither a word nor a share", f"write `{means}`, or `about 70 %`")
        return (means if means in ("ok", "bad") else float(means)), bool(about)
    if found := PERCENT.fullmatch(rest.text):
        return share(rest, number(replace(rest, text=found["figure"] + "%"), "%")), bool(about)
    choice = ["ok", "bad", "half", "a third", "a quarter", "double", "70 %", *function_words(works)]
    raise piece.wrong(f"{piece.text!r} does not say how {works.name} does", f"write one of: {', '.join(choice)}")


def share(piece: Piece, of_healthy: float) -> float:
    """A share of healthy. BadInput where a share says nothing: at nought, and far beyond."""
    if not 0.01 <= of_healthy <= 100.0:
        raise piece.wrong(f"{piece.text!r} is no share to reckon with", "write `bad`, or 1 % to 10000 %")
    return of_healthy
