"""Units and words that stand over the columns of a waveform, and figures with a unit."""

from __future__ import annotations

import re
from collections.abc import Mapping

SECONDS: Mapping[str, float] = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1.0),
    **dict.fromkeys(("ms", "msec", "millisecond", "milliseconds"), 1e-3),
    **dict.fromkeys(("us", "µs", "μs", "usec", "microsecond", "microseconds"), 1e-6),
    **dict.fromkeys(("ns", "nsec", "nanosecond", "nanoseconds"), 1e-9),
    **dict.fromkeys(("ps", "picosecond", "picoseconds"), 1e-12),
}
VOLTS: Mapping[str, float] = {
    **dict.fromkeys(("v", "volt", "volts", "vdc"), 1.0),
    **dict.fromkeys(("mv", "millivolt", "millivolts"), 1e-3),
    **dict.fromkeys(("uv", "µv", "μv", "microvolt", "microvolts"), 1e-6),
    **dict.fromkeys(("kv", "kilovolt", "kilovolts"), 1e3),
}
# Of what is no trace in volts against time, as far as a file may say so.
OTHERS = (
    "a", "ma", "ua", "µa", "amp", "amps", "ampere", "db", "dbv", "dbm", "dbu", "hz", "khz", "mhz", "°c", "c", "k",
    "degc", "w", "mw", "ohm", "ohms", "ω", "%", "count", "counts", "code", "codes", "adc", "lsb", "bit", "bits", "div",
    "divs", "m/s", "g", "pa", "min", "h", "va", "vv", "v²", "deg", "°",
)  # fmt: skip
RATES = re.compile(r"(?P<prefix>[kKMGm]?)(?:Sa?/s|Samples?/s|Sps|SPS|sps|Hz|hz)")
TIMES: Mapping[str, float] = {"": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9, "m": 1e-3}
TIME = re.compile(r"(?i)(?:time|times|t|x|zeit|temps|tiempo|tempo|x[- ]?axis|abscissa)\b.*")
INDEX = re.compile(r"(?i)(?:index|samples?|points?|no\.?|nr\.?|n|#|row|sample ?(?:no|number)\.?)")
AROUND = re.compile(r"(?P<name>.*?)\s*(?:\(|\[|\{|/|<)\s*(?P<unit>[^()\[\]{}<>]+?)\s*[)\]}>]?")
BEHIND = re.compile(r"(?P<name>.+?)(?:\s+in\s+|,\s*|\s+|_)(?P<unit>\S+)")
FIGURE = re.compile(r"(?P<number>[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?)\s*(?P<unit>\D.*|)")


def bare(text: str) -> str:
    """A unit without the brackets around it."""
    return text.strip().strip("()[]{}<>").strip()


def seconds_of(unit: str) -> float | None:
    """Seconds that one of this unit is; None for what is no unit of time."""
    return SECONDS.get(bare(unit).casefold())


def volts_of(unit: str) -> float | None:
    """Volts that one of this unit is; None for what is no unit of volts."""
    return VOLTS.get(bare(unit).casefold())


def measures(unit: str) -> bool:
    """Whether this is a unit of time or of volts."""
    return seconds_of(unit) is not None or volts_of(unit) is not None


def is_unit(text: str) -> bool:
    """Whether this is the name of a unit, in brackets or without."""
    return measures(text) or bare(text).casefold() in OTHERS


def parted(label: str) -> tuple[str, str]:
    """What stands over a column as its name and its unit: "CH1 (mV)", "t/s", "U in V"; "" where there is none."""
    found = AROUND.fullmatch(label.strip())
    if found and is_unit(found["unit"]):
        return found["name"].strip(), bare(found["unit"])
    found = BEHIND.fullmatch(label.strip())
    if found and measures(found["unit"]):  # "input A" is no current
        return found["name"].strip(), bare(found["unit"])
    return label.strip(), ""


def seconds_in(text: str, unit: str = "") -> float | None:
    """ "4 us", "4e-6": seconds; None for what is no length of time. unit: said elsewhere."""
    found = FIGURE.fullmatch(text.strip())
    scale = seconds_of(found["unit"] or unit or "s") if found else None
    return None if found is None or scale is None else scale * float(found["number"].replace(",", "."))


def hertz_in(text: str, unit: str = "") -> float | None:
    """ "1 MSa/s", "250 kHz", "1e6": samples a second; None for what is no rate."""
    found = FIGURE.fullmatch(text.strip())
    if found is None:
        return None
    rate = RATES.fullmatch((found["unit"] or unit or "Hz").strip().strip("()[]"))
    return None if rate is None else TIMES[rate["prefix"]] * float(found["number"].replace(",", "."))
