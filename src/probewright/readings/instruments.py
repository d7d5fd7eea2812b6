"""What an instrument does to a node and how far its figure can be off.

Only plain floats here. `Law` holds coefficients, so a room with arrays can write the same two
square roots over whole batches.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from probewright.readings import DRAWN, SCOPED, Question

# "about 2.6" is good to a tenth either way, and near zero to ten times the instrument's own floor
ABOUT_LIMIT = 0.1
ABOUT_FLOOR_TIMES = 10.0
WORDS = ("instrument", "name", "unit", "source")  # columns of the table that are not figures


@dataclass(frozen=True)
class Error:
    """How far a figure can be off, two standard deviations of independent parts, V or ohm.

    shared: the same for every reading of this instrument (gain, leads);
    own: new with every reading (last digit, noise, "about").
    """

    shared: float
    own: float


@dataclass(frozen=True)
class Law:
    """One instrument as coefficients. Standard deviations, SI.

        shared(y) = sqrt((gain_sd y)^2 + shared_floor_sd^2)
        own(y)    = sqrt((own_gain_sd y)^2 + floor_sd^2)

    input_ohms, input_farads: what hangs on the node, side by side between the two probes (inf and
    0 for ohms, where the meter feeds the circuit from open_volts); low..high: figures it can
    show, above high ohms it says OL; low_hertz..high_hertz: where ac figures keep their accuracy,
    both 0 when it reads dc; source: where the numbers come from.
    """

    instrument: str
    name: str
    unit: str
    gain_sd: float
    own_gain_sd: float
    floor_sd: float
    shared_floor_sd: float
    input_ohms: float
    input_farads: float
    open_volts: float
    low: float
    high: float
    low_hertz: float
    high_hertz: float
    source: str

    def shared(self, value: float) -> float:
        """Standard deviation of what all readings have in common, in the unit."""
        return math.hypot(self.gain_sd * value, self.shared_floor_sd)

    def own(self, value: float) -> float:
        """Standard deviation of what each reading has to itself, in the unit."""
        return math.hypot(self.own_gain_sd * value, self.floor_sd)


def standard(limit: float) -> float:
    """Standard deviation of an error known only to lie within +/- limit (JCGM 100:2008, 4.3.7)."""
    return limit / math.sqrt(3.0)


def count_share(full_counts: float) -> float:
    """Root mean square of one count as a share of the reading, on an auto-ranging display.

    Within a range the display shows from a tenth of full_counts up to all of them, readings
    spread evenly in the logarithm: mean of 1/n^2 over a decade. 0 for a display without counts.
    """
    if not full_counts:
        return 0.0
    return 10.0 / full_counts * math.sqrt(0.99 / (2.0 * math.log(10.0)))


def from_row(row: Mapping[str, str]) -> Law:
    """A row of the table, its limits turned into standard deviations.

    Reading limit and counts are kept apart: gain errors stay from reading to reading, counts do not.
    """
    n = {column: float(text) for column, text in row.items() if column not in WORDS}
    counts, share = n["counts_limit"], count_share(n["full_counts"])
    return Law(
        instrument=row["instrument"],
        name=row["name"],
        unit=row["unit"],
        gain_sd=standard(n["gain_limit"]),
        own_gain_sd=math.hypot(n["own_gain_sd"], standard(counts * share)),
        floor_sd=math.hypot(n["floor_sd"], standard(counts * n["smallest_count"])),
        shared_floor_sd=n["shared_floor_sd"],
        input_ohms=n["input_ohms"],
        input_farads=n["input_farads"],
        open_volts=n["open_volts"],
        low=n["low"],
        high=n["high"],
        low_hertz=n["low_hertz"],
        high_hertz=n["high_hertz"],
        source=row["source"],
    )


@cache
def table() -> Mapping[str, Law]:
    """Every instrument of data/instruments.csv, by its word in a Question."""
    text = files(__package__).joinpath("data/instruments.csv").read_text("utf-8")
    return {row["instrument"]: from_row(row) for row in csv.DictReader(text.splitlines())}


# These feed the circuit themselves, so that it must be without power.
FEEDING = ("ohms", "diode", "esr", "farads")
UNPOWERED = (*FEEDING, "beep")
METERED = ("dc", "pp", "rms", *SCOPED, *FEEDING, DRAWN)


WITHOUT_LAW = {"beep": "ohm", "share": "", "works": ""}  # instruments that are no row of the table, with their unit


def unit_of(instrument: str) -> str:
    """Unit of its figures: "V", "ohm", "F", "s", "Hz", or "%" for shares; "ohm" for continuity, none for a level, or
    for a function that works by half."""
    return WITHOUT_LAW[instrument] if instrument in WITHOUT_LAW else law(instrument).unit


# Points that a small digital oscilloscope keeps of one sweep; makers' pages say 1000 to 2500 of older ones, from memory
POINTS = 2500.0


def law_of(question: Question) -> Law:
    """The law of a question's instrument, as it is set: a time is known no better than from one sample to the next.

    Without a window of its own the sweep is as short as the time allows, and the row holds that already.
    """
    of, window = law(question.instrument), question.look.window
    if of.unit != "s" or window is None:
        return of
    interval = (window[1] - window[0]) / POINTS
    return replace(of, floor_sd=math.hypot(of.floor_sd, standard(interval / 2.0)))


def law(instrument: str) -> Law:
    """The law of an instrument of the table; KeyError for questions without one."""
    return table()[instrument]


def error(question: Question, volts_or_ohms: float, about: bool = False, step: float = 0.0) -> Error:
    """How far this figure can be off, one standard deviation each, V or ohm.

    volts_or_ohms: the figure, inf for OL: then the errors are those at the end of the range, for
    the chance that it is passed; step: worth of the last digit the person wrote (0.1 for "2.6"),
    0 when not known: rounding is even within half of it. KeyError for "works" and "swap".
    """
    of = law_of(question)
    value = min(max(volts_or_ohms, of.low), of.high)
    own = math.hypot(of.own(value), standard(step / 2.0))
    if about:
        own = math.hypot(standard(ABOUT_LIMIT) * value, ABOUT_FLOOR_TIMES * of.floor_sd)
    return Error(of.shared(value), own)
