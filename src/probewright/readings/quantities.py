"""Figures in bench talk: a number with its unit, glued or apart, about, bounds and ranges."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from probewright import units
from probewright.readings.doubts import Unsure, unclear
from probewright.readings.tokens import FIGURE, Token, longest, named

THOUSANDS = re.compile(r"[-+]?[1-9]\d{0,2},\d{3}")
CODED = re.compile(r"(?P<sign>[-+]?)(?P<whole>\d+)(?P<point>[kKMRVvunpNP])(?P<rest>\d+)(?P<unit>\D*)")  # 4k7, 3V3
SPREAD = re.compile(r"(?P<low>[-+]?\d+(?:[.,]\d+)?)(?P<lowunit>[a-zA-Z]*)(?:-|\.\.)(?P<high>\d.*)")  # 2-3V, 2..3V
PREFIX_WORDS = {"meg": "M", "mega": "M", "kilo": "k", "kil": "k", "milli": "m", "micro": "u", "nano": "n", "pico": "p"}
PREFIXED = re.compile(
    r"(?P<prefix>kil(?=ohm)|mega|meg|kilo|milli|micro|nano|pico|mf(?=d)|[pnumkKMGUNP])\s*(?P<unit>.*)"
)
# letters that may stand apart from their figure; others are pins more often ("b .9 c 11.8")
APART = ("v", "V", "k", "K", "M", "A", "Ω", "R", "%", "°", "m", "u", "n")
LETTERS = {"k": "letter", "K": "letter", "M": "letter", "u": "farads", "n": "farads", "p": "farads", "m": "milli"}
LETTERS |= {"U": "farads", "N": "farads", "P": "farads", "G": "letter"}


@dataclass(frozen=True)
class Quantity:
    """A figure as said, SI.

    unit: "V", "ohm", "letter" (4k1 alone), "farads" (100n alone), "F", "Hz", "s", "A", "dB", "cents", "C", "%",
    "share" and "healthy" (fractions), "esr" or "" when none was said; kind: "dc", "pp", "rms", "diode" or "";
    prefixed: a
    prefix stood before the unit, so that a bare figure behind it could share it.
    """

    value: float
    unit: str = ""
    kind: str = ""
    about: bool = False
    bound: tuple[float, float] | None = None
    prefixed: bool = False
    start: int = 0
    end: int = 0

    @property
    def whole(self) -> bool:
        """Whether it is a plain whole number without unit, which may also number a pin or a socket."""
        return not (self.unit or self.kind or self.about or self.bound) and self.value == int(self.value)


def number(text: str, power: int, start: int) -> float:
    """A number with point or comma, times ten to the power."""
    if THOUSANDS.fullmatch(text):
        mend = f"write {text.replace(',', '.')} or {text.replace(',', '')}"
        raise Unsure("unit", f"the comma in {text!r} could be decimal or mark thousands", mend, start)
    if len(re.findall(r"[.,]", text)) > 1:
        raise unclear(text, start)
    return float(f"{text.replace(',', '.')}e{power}")


# Units ---------------------------------------------------------------------------------------


def unit_of(said: str, start: int) -> tuple[str, str, int] | None:
    """(unit, kind, power of ten) of a unit as typed, "mVpp" or "k ohms"; None when it is none."""
    low = " ".join(said.casefold().split())
    if low in named("unit"):
        return _with_kind(named("unit")[low], 0, said, start)
    found = PREFIXED.fullmatch(said) or PREFIXED.fullmatch(low)
    if not found:
        return None
    prefix, rest = found["prefix"], " ".join(found["unit"].casefold().split())
    prefix = PREFIX_WORDS.get(prefix, prefix)
    if prefix == "mf":  # mfd, the old way of writing microfarads
        return ("F", "", -6) if rest in ("d", "ds") else None
    if not rest:
        return LETTERS[prefix], "", units.PREFIXES[prefix.lower() if prefix in "UNP" else prefix]
    if rest in named("unit"):
        return _prefixed(prefix, named("unit")[rest], said, start)
    return None


def _with_kind(means: str, power: int, said: str, start: int) -> tuple[str, str, int]:
    unit, _, kind = means.partition(" ")
    if kind == "peak":
        raise Unsure("unit", "peak volts can be half the swing or not", "write peak to peak (0.32 Vpp) or V rms", start)
    if said == "c":
        raise Unsure("unit", "c could be cents or degrees", "write `12 cents` or `65 °C`", start)
    return unit, kind, power


def _prefixed(prefix: str, means: str, said: str, start: int) -> tuple[str, str, int] | None:
    """A prefix before a unit; capital and small M are asked about where both would be taken."""
    unit = means.partition(" ")[0]
    if unit in ("dB", "cents", "C", "%", "share", "healthy", "esr") and unit != "esr":
        return None
    if unit == "Hz" and prefix == "m":
        prefix = "M"  # nobody reads thousandths of a hertz on a bench
    odd = (
        (prefix == "M" and unit in ("V", "A", "s"))
        or (prefix in "mM" and unit == "F")
        or (prefix == "m" and unit in ("ohm", "esr"))
    )
    if odd:
        raise Unsure("unit", f"{said!r} could mean thousandths or millions", "write the figure without a prefix", start)
    if prefix in "UNP" and unit not in ("F", "s"):
        return None
    return _with_kind(means, units.PREFIXES[prefix.lower() if prefix in "UNP" else prefix], said, start)


def _unit_behind(found: Sequence[Token], at: int, attached: str) -> tuple[tuple[str, str, int], int] | None:
    """The longest unit made of the attached letters and the words that follow."""
    for end in range(min(len(found), at + 6), at, -1):
        behind = [one.text for one in found[at + 1 : end]]
        if not attached and (not behind or (len(behind[0]) == 1 and behind[0] not in APART)):
            continue
        if not attached and behind == ["m"]:
            continue
        if unit := unit_of(" ".join(filter(None, [attached, *behind])), found[at].start):
            return unit, end
    return None


def hundredth(percent: float) -> float:
    """Per cent as a fraction, the float nearest to what was typed."""
    return float(Decimal(repr(percent)).scaleb(-2))


# One figure ----------------------------------------------------------------------------------


def coded(token: Token) -> Quantity | None:
    """4k7, 3V3, 4R7 ohm, 2u2: a letter for the decimal point; None when it is not so."""
    found = CODED.fullmatch(token.text)
    if not found or (found["unit"] and unit_of(found["unit"], token.start) is None):
        return None
    point = found["point"]
    unit, power = {"R": ("ohm", 0), "V": ("V", 0), "v": ("V", 0)}.get(point, ("", 0))
    if not unit:
        unit, power = LETTERS[point], units.PREFIXES[point.lower() if point in "UNP" else point]
    said = unit_of(found["unit"], token.start) if found["unit"] else None
    if said and (unit, said[0]) not in (
        ("letter", "ohm"),
        ("farads", "F"),
        ("ohm", "ohm"),
        ("V", "V"),
        ("letter", "Hz"),
    ):
        raise unclear(token.text, token.start)
    value = float(f"{found['sign']}{found['whole']}.{found['rest']}e{power}")
    return Quantity(
        value, said[0] if said else unit, said[1] if said else "", prefixed=power != 0, start=token.start, end=token.end
    )


def plain_figure(found: Sequence[Token], at: int) -> tuple[Quantity, int] | None:
    """One number with what belongs to it, and where it ends; None when no figure begins here."""
    token = found[at]
    head = FIGURE.match(token.text)
    if not head or head[0].startswith("±"):
        return None
    end, behind = at + 1, coded(token)
    if behind is None:
        attached = token.text[head.end() :]
        unit = _unit_behind(found, at, attached)
        if unit is None and attached:
            return None
        (name, kind, power), end = unit if unit else (("", "", 0), at + 1)
        value = number(head[0], power - (2 if name in ("share", "healthy") else 0), token.start)
        behind = Quantity(value, name, kind, prefixed=power != 0, start=token.start, end=found[end - 1].end)
    return _kind_behind(found, behind, end)


def _kind_behind(found: Sequence[Token], said: Quantity, end: int) -> tuple[Quantity, int]:
    """ "0.32 pp", "5 V dc", "0.62 diode": the kind of volts behind the unit."""
    phrase = longest(found, end) if end < len(found) else None
    if phrase and phrase[0].use == "kind" and said.unit in ("", "V") and said.kind in ("", phrase[0].means):
        return replace(said, unit="V", kind=phrase[0].means, end=found[phrase[1] - 1].end), phrase[1]
    if said.unit and end < len(found) and _is_other_unit(found[end], said):
        text, start = found[end].text, found[end].start
        raise Unsure("unit", f"{text!r} is a second unit of one figure", "write the figure with one unit", start)
    return said, end


def _is_other_unit(token: Token, said: Quantity) -> bool:
    """A word that can only be a unit, and not the one that was said; a single letter may be a pin, 4k7 is not whole."""
    if said.unit in ("letter", "farads"):
        return False
    unit = unit_of(token.text, token.start) if len(token.text) > 1 and token.text.isalpha() else None
    return unit is not None and unit[:2] != (said.unit, said.kind)


def single(found: Sequence[Token], at: int) -> tuple[Quantity, int] | None:
    """A number, or a range written in one ("2-3 V", "2..3V")."""
    spread = SPREAD.fullmatch(found[at].text)
    if not spread:
        return plain_figure(found, at)
    token = found[at]
    cut = token.start + spread.start("high")
    tail = (Token(spread["high"], spread["high"].casefold(), cut, token.end), *found[at + 1 :])
    high = plain_figure(tail, 0)
    low = plain_figure((Token(spread["low"] + spread["lowunit"], "", token.start, cut),), 0)
    if high is None or low is None or not (high[0].unit or high[0].kind):
        return None
    return ranged(low[0], high[0]), at + high[1]


def ranged(low: Quantity, high: Quantity) -> Quantity:
    """Between two figures; the unit may stand on the last one alone."""
    a, b = low.value, high.value
    if not low.unit and not low.kind and high.prefixed and high.value:
        raise Unsure("unit", "the first figure has no unit of its own", "write the unit on both ends", low.start)
    if low.unit and high.unit and low.unit != high.unit:
        raise Unsure("unit", "the two ends have different units", "write one unit", low.start)
    if a >= b:
        raise Unsure("unclear", "the first end is not the lower one", "write `between 2 and 3 V`", low.start)
    return replace(high, value=(a + b) / 2.0, bound=(a, b), start=low.start)


# With about and bounds -----------------------------------------------------------------------


def quantity(found: Sequence[Token], at: int) -> tuple[Quantity, int] | None:
    """A figure with everything said about it, "less than 3 V", "between 2 and 3 V"; None when there is none."""
    about, bound, here = _said_before(found, at)
    if bound == "between":
        return _between(found, here)
    first = single(found, here) if here < len(found) else None
    if first is None:
        return None
    said, end = first
    said, end = _to_another(found, said, end)
    if end < len(found) and (after := longest(found, end)) and after[0].use == "about after":
        about, end = True, after[1]
    if bound and said.bound:
        raise unclear(found[at].text, found[at].start)
    inf = float("inf")
    ends = {"below": (-inf, said.value), "above": (said.value, inf)}.get(bound, said.bound)
    return replace(said, about=about and not ends, bound=ends, start=found[at].start, end=found[end - 1].end), end


def _said_before(found: Sequence[Token], at: int) -> tuple[bool, str, int]:
    """(about, bound, where the figure begins)."""
    about, bound = False, ""
    while at < len(found) and (phrase := longest(found, at)) and phrase[0].use in ("about", "bound", "between"):
        if bound:
            break
        about = about or phrase[0].use == "about"
        bound = bound if phrase[0].use == "about" else phrase[0].means
        at = phrase[1]
    return about, bound, at


def _between(found: Sequence[Token], at: int) -> tuple[Quantity, int] | None:
    """a and b behind "between"; None when two places are meant."""
    low = single(found, at) if at < len(found) else None
    if low is None or low[1] >= len(found) or found[low[1]].low not in ("and", "&", "to"):
        return None
    high = single(found, low[1] + 1) if low[1] + 1 < len(found) else None
    return (ranged(low[0], high[0]), high[1]) if high else None


def _to_another(found: Sequence[Token], said: Quantity, end: int) -> tuple[Quantity, int]:
    """ "3 to 4 V" is a range; "3 to ground" is not."""
    if end + 1 < len(found) and found[end].low in ("to", "-") and (other := single(found, end + 1)):
        if (other[0].unit or other[0].kind) and not said.kind:
            return ranged(said, other[0]), other[1]
    return said, end
