"""Sums of the bench, typed into the same box as readings and answered at once.

Only whole lines that cannot be a reading are taken for sums; docs/sums.md lists every form.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

from probewright.errors import BadInput, Complaint, NotAValue, complaint
from probewright.units import read_value, write_reading, write_value

# Bare TO-220 regulator upright in still air: junction to air 54, junction to case 4 K/W, work up to
# 125 C: data sheet of the LM340/LM7805 (National/TI, note 3), as quoted in a mailing-list post.
TO_AIR, TO_CASE, HOTTEST = 54.0, 4.0, 125.0
# Heat capacity of the whole package, J/K, good to a half either way: estimate, from memory. Tab and
# moulding reckoned from their size give 0.7 to 1.4 J/K.
CAPACITY, CAPACITY_ERROR = 1.5, 0.5
ROOM = 25.0  # chosen, C: a room; inside a closed case it is warmer and everything comes sooner
PAIN = 60.0  # C: about what a finger bears on a case, from memory
LEAST_DROP = 2.0  # V: drop-out of fixed regulators at 1 A, data sheet of the LM78XX (Fairchild, rev 1.3.1)
BURST = 3.0  # a third of the time for each burst of readings; common practice, no source
TOUCH_VOLTS = 60.0  # V d.c. that may be touched, IEC 62368-1 ES1 (Ed. 3, 5.2.2.2, table 4)
PAINFUL_WATTS = 1.0  # bare small part: common practice, no source
QUARTER = 0.25  # W: the usual small resistor
MARK = 0.05  # tolerance of a mark nobody gave one for, as in docs/machine-file.md


@dataclass(frozen=True)
class Sum:
    """A sum with its answer. says: whole answer, formula named; figures: SI, by name and unit (`volts`, `ohms`)."""

    text: str
    kind: str
    says: str
    figures: Mapping[str, float]


@dataclass(frozen=True)
class _Line:
    """A typed line taken apart by its form."""

    found: re.Match[str]

    def one(self, name: str, unit: str, signed: bool = False) -> float:
        """The single value of a piece, SI; BadInput when it is none."""
        return _single(self.found[name], unit, self.found.start(name), signed)

    def wrong(self, name: str, text: str, mend: str) -> BadInput:
        return _wrong(self.found.start(name), text, mend)


def _wrong(offset: int, text: str, mend: str) -> BadInput:
    return BadInput(Complaint("", 1, offset + 1, text, mend))


def _single(typed: str, unit: str, offset: int, signed: bool = False) -> float:
    """One value, SI; BadInput that points at it when it is none. offset: letters before it in the line."""
    try:
        value = read_value(typed, unit)
    except NotAValue as problem:
        raise _wrong(offset, problem.text, problem.mend) from problem
    if value.unknown or value.low is not None:
        raise _wrong(offset, f"{typed!r} is not one value", "a sum needs one figure in each place")
    if not signed and value.si <= 0:
        raise _wrong(offset, f"{typed!r} is not above nought", "write a figure above nought")
    return value.si


def reckon(text: str) -> Sum | None:
    """The sum in a line, reckoned; None when the line is no sum; BadInput when it is one that cannot be reckoned."""
    for form, law in FORMS:
        if found := form.fullmatch(text.rstrip().rstrip("?=").rstrip()):
            if answer := law(_Line(found)):
                kind, says, figures = answer
                return Sum(text.strip(), kind, says, figures)
    return None


_Answer = tuple[str, str, dict[str, float]]  # kind, words, figures


# Laws ------------------------------------------------------------------------------------------


def parallel(*ohms: float) -> float:
    """1/R = 1/R1 + 1/R2 + ..., ohm."""
    return 1.0 / sum(1.0 / one for one in ohms)


def across(reads: float, marked: float) -> float:
    """What hangs across a resistor of this mark that reads so in place, ohm; inf when nothing can."""
    left = 1.0 / reads - 1.0 / marked
    return 1.0 / left if left > 0 else math.inf


def unloaded(volts: float, meter: float, source: float) -> float:
    """V = U (Rm + Rs) / Rm: what stood there before the meter was put on, V."""
    return volts * (meter + source) / meter


def tapped(upper: float, lower: float, volts: float) -> float:
    """V = U R2 / (R1 + R2), V."""
    return volts * lower / (upper + lower)


def ripple(amps: float, farads: float, hertz: float) -> float:
    """U = I / (f C), peak to peak, V: all the charge of a period, so never too small."""
    return amps / (hertz * farads)


def too_hot_after(
    watts: float, to_air: float = TO_AIR, to_case: float = 0.0, capacity: float = CAPACITY, limit: float = HOTTEST
) -> float:
    """Seconds until the junction reaches the limit from a room, inf for never.

    T(t) = room + P to_case + P (to_air - to_case) (1 - exp(-t / tau)), tau = (to_air - to_case) capacity.
    to_case 0: first order, the whole path warms with the case. to_air, to_case K/W; capacity J/K; limit C.
    """
    slow = to_air - to_case
    left = 1.0 - (limit - ROOM - watts * to_case) / (watts * slow)
    if left <= 0.0:
        return math.inf
    return max(0.0, -slow * capacity * math.log(left))


# Answers ---------------------------------------------------------------------------------------

_BETWEEN = r"\s*\|\|\s*|\s+(?:par|parallel)\s+"


def _in_parallel(line: _Line) -> _Answer:
    start, ohms = line.found.start("all"), []
    for found in re.finditer(rf"(?i)(?:^|{_BETWEEN})(?P<one>.*?)(?={_BETWEEN}|$)", line.found["all"]):
        piece, at = found["one"], start + found.start("one")
        if re.search(r"[pnuµμ]", piece):
            raise _wrong(at, f"{piece!r} is no resistance", "capacitors side by side simply add up; write ohms")
        if re.fullmatch(r"(?i)R\d+", piece):
            raise _wrong(
                at, f"{piece} could be the name of a part", f"write its value, or 0{piece} for a part of an ohm"
            )
        ohms.append(_single(piece, "ohm", at))
    both = parallel(*ohms)
    named = " and ".join(map(_ohm, ohms))
    return "parallel", f"{named} side by side are {_ohm(both)} (1/R = 1/R1 + 1/R2 ...)", {"ohms": both}


def _hangs_across(line: _Line) -> _Answer:
    reads, marked = line.one("reads", "ohm"), line.one("marked", "ohm")
    spread = read_value(line.found["marked"], "ohm").tolerance or MARK
    low, mid, high = (across(reads, marked * (1.0 + one)) for one in (spread, 0.0, -spread))
    figures = {"ohms": mid, "low": low, "high": high}
    if reads > marked * (1.0 + spread):
        return "across", (
            f"{_ohm(reads)} is above the mark of {_ohm(marked)}: nothing side by side can raise it, so the part itself "
            "is high or open (or charge is still in the circuit)"
        ), figures  # fmt: skip
    if math.isinf(high):
        most = "perhaps nothing" if math.isinf(mid) else f"about {_ohm(mid)}, or far more"
        return "across", (
            f"{_ohm(reads)} is the mark of {_ohm(marked)} within {100 * spread:g} %: what hangs across is {_ohm(low)} "
            f"or more, {most} (1/R = 1/reading - 1/mark)"
        ), figures  # fmt: skip
    return "across", (
        f"if the part still has its {_ohm(marked)}, {_ohm(mid)} hangs across it, {_ohm(low)} to {_ohm(high)} with the "
        f"mark good to {100 * spread:g} % (1/R = 1/reading - 1/mark); a reading below the mark does not prove the part "
        "bad or good: lift a leg to know"
    ), figures  # fmt: skip


def _volts_at_amps(line: _Line) -> _Answer:
    volts, amps = abs(line.one("volts", "V", signed=True)), abs(line.one("amps", "A", signed=True))
    if not volts or not amps:
        raise line.wrong("volts" if not volts else "amps", "nought cannot be divided", "write what the meter showed")
    ohms, watts = volts / amps, volts * amps
    says = f"{_v(volts)} at {_a(amps)} is {_ohm(ohms)} (R = U / I) and {_w(watts)} of heat (P = U I)"
    hot = ". Caution: that is too hot to touch on a small part" if watts >= PAINFUL_WATTS else ""
    return "ohms", says + hot + _danger(volts), {"ohms": ohms, "watts": watts}


def _through_meter(line: _Line) -> _Answer:
    volts = line.one("volts", "V", signed=True)
    meter, source = line.one("meter", "ohm"), line.one("source", "ohm")
    true = unloaded(volts, meter, source)
    says = (
        f"without the meter {_v(true)} would stand there: a {_ohm(meter)} meter on {_ohm(source)} shows "
        f"{100 * meter / (meter + source):.3g} % of it (V = U (Rm + Rs) / Rm)"
    )
    return "loading", says + _danger(true), {"volts": true, "share": meter / (meter + source)}


def _loading(line: _Line) -> _Answer:
    meter, source = line.one("meter", "ohm"), line.one("source", "ohm")
    share = meter / (meter + source)
    says = (
        f"a {_ohm(meter)} meter on {_ohm(source)} shows {100 * share:.3g} % of what is there; "
        f"times {1.0 / share:.4g} gives the true figure (V = U (Rm + Rs) / Rm)"
    )
    return "loading", says, {"share": share, "factor": 1.0 / share}


def _divider(line: _Line) -> _Answer:
    upper, lower, volts = line.one("upper", "ohm"), line.one("lower", "ohm"), line.one("volts", "V", signed=True)
    tap, inner, amps = tapped(upper, lower, volts), parallel(upper, lower), abs(volts) / (upper + lower)
    hotter = amps * amps * max(upper, lower)
    says = (
        f"the tap stands at {_v(tap)} (V = U R2 / (R1 + R2), {_ohm(lower)} to ground), behind {_ohm(inner)}; "
        f"{_a(amps)} flows, {_w(hotter)} in the hotter resistor"
    )
    warm = ": more than a quarter-watt part bears" if hotter > QUARTER else ""
    return "divider", says + warm + _danger(volts), {"volts": tap, "ohms": inner, "amps": amps, "watts": hotter}


def _ripple(line: _Line) -> _Answer:
    amps, farads, hertz = line.one("amps", "A"), line.one("farads", "F"), line.one("hertz", "Hz")
    volts = ripple(amps, farads, hertz)
    says = (
        f"at most {write_reading(volts, 'V')} peak to peak (U = I / (f C)); the real figure is a little less. "
        "Twice that at half the frequency means that half of the rectifier is gone; much more, that the capacitor is"
    )
    return "ripple", says, {"volts": volts}


def _regulator(line: _Line) -> _Answer:
    above, out, amps = line.one("in", "V"), line.one("out", "V"), line.one("amps", "A")
    if above <= out:
        raise line.wrong(
            "in",
            f"{_v(above)} in is not above {_v(out)} out",
            "write the input first: `regulator 9V to 5V at 0.4A bare`",
        )
    watts = (above - out) * amps
    says = f"{_w(watts)} of heat (P = (Uin - Uout) I)"
    if above - out < LEAST_DROP:
        says += f"; {_v(above - out)} across it is below the {LEAST_DROP:g} V a fixed one needs, so its output sags"
    if not line.found["bare"]:
        return "regulator", says + "; put `bare` behind it for the time without its heatsink", {"watts": watts}
    warmed, figures = _bare(watts)
    return "regulator", f"{says}; {warmed}", {"watts": watts, **figures}


def _bare(watts: float) -> tuple[str, dict[str, float]]:
    """What becomes of a bare regulator with so many watts in it."""
    junction = ROOM + watts * TO_AIR
    after = too_hot_after(watts)
    least = too_hot_after(watts, to_case=TO_CASE, capacity=CAPACITY * (1.0 - CAPACITY_ERROR))
    most = too_hot_after(watts, capacity=CAPACITY * (1.0 + CAPACITY_ERROR))
    figures = {"celsius": junction, "seconds": after, "least": least, "most": most}
    case = ROOM + watts * (TO_AIR - TO_CASE)
    burn = f". Caution: its tab burns the finger ({PAIN:g} °C and more)" if case > PAIN else ""
    path = f"bare at {TO_AIR:g} K/W in a room of {ROOM:g} °C"
    if math.isinf(after):
        return f"{path} the junction settles at about {junction:.0f} °C and never reaches {HOTTEST:g} °C{burn}", figures
    return (
        f"{path} the junction would go to {junction:.0f} °C and passes {HOTTEST:g} °C after about {_time(after)} "
        f"({_time(least)} to {_time(most)}, an estimate): read in bursts of {_time(least / BURST)}, then let it cool"
        f"{burn}",
        figures,
    )


def _value(line: _Line) -> _Answer | None:
    """`4k7` in full; None where the word is rather a name."""
    code = line.found["code"]
    if re.fullmatch(r"\d{3}", code):
        return _three_digits(code)
    if milli := re.fullmatch(r"(\d+)m(\d*)", code):
        return _thousandths(code, float(f"{milli[1]}.{milli[2] or 0}"))
    unit = next((unit for unit, letters in _CODES if re.match(rf"\d[\d.,]*[{letters}]|[{letters}]\d", code)), "")
    if not unit:
        return None
    si, tolerance = line.one("code", unit), read_value(code, unit).tolerance
    says = f"{code} is {' = '.join(_in_full(si, unit))}" + (f", good to {100 * tolerance:g} %" if tolerance else "")
    return "value", says, {{"ohm": "ohms", "F": "farads", "V": "volts", "A": "amps"}[unit]: si}


_CODES = (("V", "V"), ("A", "A"), ("ohm", "RkKMGΩ"), ("F", "pnuµμ"))  # letter in place of the point -> unit


def _in_full(si: float, unit: str) -> list[str]:
    """The same figure in the units a drawing or a part may carry."""
    if unit == "F":
        sizes = ((si * 1e6, "µF"), (si * 1e9, "nF"), (si * 1e12, "pF"))
        return [f"{float(f'{size:.6g}'):.10g} {name}" for size, name in sizes if 1e-3 <= size < 1e6]
    shown = "Ω" if unit == "ohm" else unit
    return list(dict.fromkeys((write_reading(si, unit), f"{si:.10g} {shown}")))


def _thousandths(code: str, size: float) -> _Answer:
    """`4m7`: m is milli of whatever the part is."""
    each = f"{size:g} mH on a coil, {1e3 * size:g} µF on a capacitor, {size:g} mΩ on a shunt"
    return "value", f"{code} is {size:g} thousandths: {each}", {"value": 1e-3 * size}


def _three_digits(code: str) -> _Answer:
    """Two figures and a number of noughts: picofarads on a capacitor, ohms on a resistor."""
    ohms, farads = float(f"{code[:2]}e{code[2]}"), float(f"{code[:2]}e{int(code[2]) - 12}")
    says = (
        f"{code} printed on a capacitor is {write_value(farads, 'F')} (two figures and {code[2]} noughts, in pF); "
        f"on a resistor {write_value(ohms, 'ohm')}, unless it is plainly {code} ohm"
    )
    return "value", says, {"farads": farads, "ohms": ohms}


def _ratio_of(line: _Line) -> _Answer:
    decibels = float(line.found["decibels"].replace(",", ".").replace("−", "-"))
    ratio = 10.0 ** (decibels / 20.0)
    power = f"{ratio * ratio:.4g} times the power (10^(dB/10))"
    return (
        "decibels",
        f"{decibels:g} dB is {ratio:.4g} times the volts (10^(dB/20)) and {power}",
        {"ratio": ratio, "power": ratio * ratio},
    )


def _decibels_of(line: _Line) -> _Answer:
    share = "%" if line.found["ratio"].endswith("%") else "1"
    ratio = line.one("ratio", share)
    decibels = 20.0 * math.log10(ratio)
    says = f"{line.found['ratio']} of the volts is {decibels:.3g} dB (20 log10)"
    return "decibels", f"{says}; taken as power it would be {decibels / 2:.3g} dB", {"decibels": decibels}


def _missing(says: str, mend: str) -> Callable[[_Line], _Answer | None]:
    """A line that is half a sum: what is missing."""

    def complain(line: _Line) -> _Answer | None:
        raise complaint(says, mend)

    return complain


# Words -----------------------------------------------------------------------------------------


def _ohm(si: float) -> str:
    return "nothing" if math.isinf(si) else write_reading(si, "ohm")


_v, _a, _w = (partial(write_reading, unit=unit) for unit in ("V", "A", "W"))


def _time(seconds: float) -> str:
    """Rounded to what an estimate is good for: 75 s, 3.5 min, over an hour."""
    if seconds >= 3600.0:
        return "over an hour"
    if seconds >= 120.0:
        return f"{seconds / 60.0:.2g} min"
    return f"{max(1, 5 * round(seconds / 5.0) if seconds > 20 else round(seconds))} s"


def _danger(volts: float) -> str:
    """A caution where the volts can hurt."""
    if abs(volts) <= TOUCH_VOLTS:
        return ""
    return f". Caution: {_v(abs(volts))} can hurt. One hand, leads and meter rated for it, clips fitted with power off"


# Forms -----------------------------------------------------------------------------------------

_NUMBER = r"(?:\d+(?:[.,]\d+)?|[.,]\d+)"
_OHMS = rf"(?:{_NUMBER}\s?[^\s,:|]*|R\d+)"  # begins like a value, not like a name
_VOLTS, _AMPS = rf"[-−]?{_NUMBER}\s?[mµu]?[vV]", rf"[-−]?{_NUMBER}\s?[mµun]?[aA]"
_BARE_VOLTS = rf"[-−]?{_NUMBER}\s?[mk]?[vV]?"
# The code form alone minds capitals: m is milli, M is mega.
_FORMS: tuple[tuple[str, Callable[[_Line], _Answer | None]], ...] = (
    (rf"(?P<all>{_OHMS}(?:\s*\|\|\s*\S[^|]*?|\s+(?:par|parallel)\s+{_OHMS})+)", _in_parallel),
    (r"(?P<all>[^|]*\|\|.*)", _missing("values are missing on a side of ||", "write `10k || 22k`")),
    (
        rf"reads?\s+(?P<reads>{_OHMS})\s+in\s+place\s*,?\s*marked\s+(?P<marked>{_OHMS}(?:\s\d+\s?%)?)"
        r"\s*[:,;]?\s*what\s+hangs\s+across.*",
        _hangs_across,
    ),
    (rf"(?P<volts>{_VOLTS})\s+at\s+(?P<amps>{_AMPS})", _volts_at_amps),
    (
        rf"(?P<volts>{_BARE_VOLTS})\s+through\s+(?:an?\s+)?(?P<meter>{_OHMS})\s+meter"
        rf"\s+(?:from|on)\s+(?:an?\s+)?(?P<source>{_OHMS})(?:\s+source)?",
        _through_meter,
    ),
    (rf"loading\s+(?P<meter>{_OHMS})\s+(?:meter\s+)?on\s+(?P<source>{_OHMS})(?:\s+source)?", _loading),
    (
        rf"divider\s+(?P<upper>{_OHMS})\s+(?:(?:over|and|to)\s+)?(?P<lower>{_OHMS})"
        rf"\s+from\s+(?P<volts>[-−]?{_NUMBER}\s?\S*)",
        _divider,
    ),
    (
        rf"divider\s+{_NUMBER}[kKMR]\S*\s+(?:over\s+|and\s+)?{_NUMBER}[kKMR]\S*",
        _missing("the divider has no volts", "write `divider 10k 4k7 from 12V`"),
    ),
    (
        rf"ripple\s+(?P<amps>{_AMPS}),?\s+(?P<farads>{_NUMBER}\s?[^\s,]*),?\s+(?:at\s+)?(?P<hertz>{_NUMBER}\s?\S*)",
        _ripple,
    ),
    (
        rf"ripple\s+{_AMPS},?\s+\d.*",
        _missing("a ripple sum needs amps, farads and hertz", "write `ripple 0.8A 4700u 100Hz`"),
    ),
    (
        rf"regulator\s+(?P<in>{_BARE_VOLTS})\s+to\s+(?P<out>{_BARE_VOLTS})"
        rf"\s+at\s+(?P<amps>{_NUMBER}\s?\S*?)\s*(?P<bare>bare)?",
        _regulator,
    ),
    (
        r"regulator\s+.*\d.*\sto\s.*\d.*\sat\s.*\sbare",
        _missing("the regulator's figures are not understood", "write `regulator 9V to 5V at 0.4A bare`"),
    ),
    (r"(?i:what\s+is|value)\s+(?P<code>\d\S*|[Rpnuµμ]\d+)", _value),
    (rf"what\s+is\s+(?P<decibels>[-+−]?{_NUMBER})\s?dB(?:\s+(?:in|as)\s+(?:an?\s+)?ratio)?", _ratio_of),
    (rf"(?P<decibels>[-+−]?{_NUMBER})\s?dB\s+(?:in|as)\s+(?:an?\s+)?ratio", _ratio_of),
    (rf"(?:what\s+is\s+)?ratio\s+(?P<ratio>{_NUMBER}\s?%?)\s+in\s+dB", _decibels_of),
)
FORMS = tuple((re.compile(rf"\s*{form}", re.IGNORECASE if "(?P<code>" not in form else 0), law) for form, law in _FORMS)
