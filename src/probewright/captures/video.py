"""A picture signal with its sync, measured: rates, widths and levels, and what the standard has there.

Sync is downward, as at a composite or luminance output. Standard figures: data/video.csv.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from probewright.captures.capture import Capture
from probewright.captures.measuring import smoothed
from probewright.simulation import scope
from probewright.units import write_reading

LINE_SYNC = (3e-6, 7e-6)  # s, chosen: a third either way of 4.7 us; equalising pulses are half as wide
BROAD = 15e-6  # s, chosen: between a line sync and a field sync pulse
LINE_PERIOD = (55e-6, 75e-6)  # s, chosen: more than a tenth either way of both systems
FEWEST_LINES = 6  # chosen: a coincidence of other signals is shorter
ALIKE = 0.02  # chosen: share by which the length of a line may scatter
MOST_LINES = 0.6  # chosen: share of all gaps between line syncs that is one line; the rest lies about the field sync
COARSEST = 1.2e-6  # s between points, chosen: four of them in a line sync
SMOOTH = 0.4e-6  # s, chosen: mean over so long before slicing; the noise goes and a sync stays
TIP = 3.0  # per cent, chosen: lower than this lie half of the points of sync, 7 % of a line
TOP = 99.0  # per cent, chosen: what is higher is noise
RARE = 1.0  # per cent of the picture, chosen: what is rarer is noise
BLANKED = 25  # lines of field blanking from the field sync on; ITU-R BT.470-5 has 25 for 625 lines, fewer for 525
FIRST_SLICE = 0.12  # chosen: half a sync's depth where the picture has white; still inside it where it is black
PORCH = (0.5e-6, 4.0e-6)  # s behind a line sync, chosen: inside the back porch, where a colour burst is even about it
PICTURE = (6.5e-6, 2e-6)  # s from the end of sync to the picture, and from it to the next sync, chosen: past blanking


@dataclass(frozen=True)
class Row:
    """A standard figure. off: how far it may lie off in a sound machine; source: where both come from."""

    value: float
    off: float
    unit: str
    quantity: str
    source: str


@cache
def standard() -> Mapping[tuple[str, str], Row]:
    """(id, lines) -> figure, of data/video.csv; lines is "" where both systems have the same."""
    text = files(__package__).joinpath("data/video.csv").read_text("utf-8")
    return {
        (row["id"], row["lines"]): Row(
            float(row["value"]), float(row["off"]), row["unit"], row["quantity"], row["source"]
        )
        for row in csv.DictReader(text.splitlines())
    }


@dataclass(frozen=True)
class Video:
    """A picture signal measured. lines: "625" or "525"; by_field: the field rate says which, else the line rate alone.

    line_rate, field_rate: Hz; field_lines: lines a field; broad: pulses of one field sync; these three are None where
    the capture holds no two field syncs (broad: none). width: of the line sync, s; tip, blanking: V as they stand;
    sync, black, white: V below and above blanking, the last two of this very picture.
    """

    lines: str
    by_field: bool
    line_rate: float
    width: float
    tip: float
    blanking: float
    sync: float
    black: float
    white: float
    broad: int | None = None
    field_rate: float | None = None
    field_lines: float | None = None

    @property
    def interlaced(self) -> bool | None:
        """Whether a field has half a line over; None where no field was seen whole."""
        return None if self.field_lines is None else abs(self.field_lines % 1.0 - 0.5) < 0.25

    @property
    def load(self) -> str:
        """What the depth of sync says of the 75 ohm: "right", "missing", "twice" or "" where it fits none."""
        share = self.sync / standard()["sync", self.lines].value
        known = (("missing", standard()["no_load", ""]), ("twice", standard()["two_loads", ""]))
        if abs(self.sync - standard()["sync", self.lines].value) <= standard()["sync", self.lines].off:
            return "right"
        return next((word for word, row in known if abs(share - row.value) <= row.off), "")


def video_of(capture: Capture, channel: int = 0) -> Video | None:
    """The picture signal in one channel, counted from 0; None where it is none, or too coarse to see."""
    seconds, volts = capture.trace(channel)
    interval = float(np.median(np.diff(seconds)))
    if interval > COARSEST or seconds[-1] - seconds[0] < FEWEST_LINES * LINE_PERIOD[0]:
        return None
    smooth = smoothed(volts, max(1, round(SMOOTH / interval)))
    tip, high = np.percentile(smooth, TIP), np.percentile(smooth, TOP)
    if high <= tip:
        return None
    found = _pulses(seconds, smooth, float(tip + FIRST_SLICE * (high - tip)))
    if _line_of(*found) is None:
        return None
    tip, blanking = _levels(seconds, smooth, *found)
    falls, rises = _pulses(seconds, smooth, 0.5 * (tip + blanking))
    line = _line_of(falls, rises)
    return None if line is None else _described(seconds, smooth, falls, rises, line)


def _pulses(seconds: np.ndarray, volts: np.ndarray, level: float) -> tuple[np.ndarray, np.ndarray]:
    """Begin and end (pulse,), s, of every stretch below a level that is whole in the trace."""
    falls = scope.crossings(seconds, volts[None], level, rising=False)[0]
    rises = scope.crossings(seconds, volts[None], level)[0]
    falls, rises = falls[np.isfinite(falls)], rises[np.isfinite(rises)]
    after = np.searchsorted(rises, falls)
    whole = after < len(rises)
    falls, ends = falls[whole], rises[after[whole]]
    lone = np.diff(ends, append=np.inf) > 0.0  # two falls before one rise: the later begins the pulse
    return falls[lone], ends[lone]


def _line_of(falls: np.ndarray, rises: np.ndarray) -> float | None:
    """Seconds from one line to the next; None where the pulses (pulse,) are not those of lines."""
    width = rises - falls
    sync = falls[(width >= LINE_SYNC[0]) & (width <= LINE_SYNC[1])]
    gaps = np.diff(sync)
    near = gaps[(gaps >= LINE_PERIOD[0]) & (gaps <= LINE_PERIOD[1])]
    if len(near) < FEWEST_LINES - 1 or len(near) < MOST_LINES * len(gaps):
        return None
    middle = np.median(near)
    alike = near[np.abs(near - middle) <= ALIKE * middle]
    return float(np.mean(alike)) if len(alike) >= MOST_LINES * len(gaps) else None


def _levels(seconds: np.ndarray, volts: np.ndarray, falls: np.ndarray, rises: np.ndarray) -> tuple[float, float]:
    """Tip of sync and blanking, V: the middle figures inside line syncs, and on the porch behind them."""
    width = rises - falls
    sync = (width >= LINE_SYNC[0]) & (width <= LINE_SYNC[1])
    begin, end = falls[sync], rises[sync]
    inside = _within(seconds, begin + 0.3 * (end - begin), end - 0.3 * (end - begin))
    porch = _within(seconds, end + PORCH[0], end + PORCH[1])
    return float(np.median(volts[inside])), float(np.median(volts[porch]))


def _within(seconds: np.ndarray, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Which points (time,) lie in one of these stretches, which do not overlap."""
    depth = np.zeros(len(seconds) + 1, int)
    np.add.at(depth, np.searchsorted(seconds, begin), 1)
    np.add.at(depth, np.searchsorted(seconds, end), -1)
    return np.cumsum(depth[:-1]) > 0


def _described(seconds: np.ndarray, volts: np.ndarray, falls: np.ndarray, rises: np.ndarray, line: float) -> Video:
    """Everything about a signal whose sync pulses are known. line: its period, s."""
    width = rises - falls
    sync = (width >= LINE_SYNC[0]) & (width <= LINE_SYNC[1])
    tip, blanking = _levels(seconds, volts, falls, rises)
    lone = sync & (np.abs(np.diff(falls, append=np.inf) - line) <= ALIKE * line)  # the next one is a line later
    picture = _within(seconds, rises[lone] + PICTURE[0], falls[lone] + line - PICTURE[1])
    starts = falls[width > BROAD]
    blanked = starts[np.diff(starts, prepend=-np.inf) > BLANKED * line]
    picture &= ~_within(seconds, blanked, blanked + BLANKED * line)
    black, white = np.percentile(volts[picture], [RARE, 100.0 - RARE]) - blanking
    broad, field, fields = _field(falls[width > BROAD], line)
    rate = None if field is None else 1.0 / field
    return Video(
        _system(1.0 / line, rate), rate is not None, 1.0 / line, float(np.median(width[sync])), tip, blanking,
        blanking - tip, float(black), float(white), broad, rate, fields,
    )  # fmt: skip


def _field(broad: np.ndarray, line: float) -> tuple[int | None, float | None, float | None]:
    """Pulses of one field sync, seconds a field, lines a field; broad: begins of field sync pulses, s."""
    if not len(broad):
        return None, None, None
    first = np.diff(broad, prepend=-np.inf) > 3.0 * line
    counts = np.diff(np.append(np.flatnonzero(first), len(broad)))
    begins = broad[first]
    if len(begins) < 2:
        return int(counts.max()), None, None
    field = float((begins[-1] - begins[0]) / (len(begins) - 1))
    return int(np.median(counts)), field, field / line


def _system(line_rate: float, field_rate: float | None) -> str:
    """ "625" or "525", by the nearest field rate, else by the nearest line rate."""
    what, rate = ("line_rate", line_rate) if field_rate is None else ("field_rate", field_rate)
    return min(("625", "525"), key=lambda lines: abs(standard()[what, lines].value - rate))


def say(found: Video) -> tuple[str, ...]:
    """What was measured beside what the standard has, a line each."""
    rows = [
        ("line_rate", found.line_rate),
        ("field_rate", found.field_rate),
        ("line_sync", found.width),
        ("sync", found.sync),
    ]
    said = [_beside(name, value, found.lines) for name, value in rows if value is not None]
    if found.field_lines is not None:
        how = "interlaced" if found.interlaced else "not interlaced"
        said.append(f"{found.field_lines:.4g} lines a field: {how}")
    white = f"white {write_reading(found.white, 'V')}" if found.white > 0.0 else "no white"
    said.append(f"in this picture black {write_reading(found.black, 'V')} and {white} above blanking")
    loads = {
        "missing": "twice the level: the 75 Ω at the end are missing",
        "twice": "two thirds of the level: two loads of 75 Ω hang on it",
        "": "this depth of sync fits neither one load of 75 Ω, nor none, nor two",
    }
    return (*said, *filter(None, [loads.get(found.load)]))


def _beside(name: str, value: float, lines: str) -> str:
    """One figure beside the standard's, and whether a sound machine has it."""
    row = standard()[name, lines]
    fits = "as it should be" if abs(value - row.value) <= row.off else "not as it should be"
    return f"{row.quantity} {_digits(value, row.unit)}, {fits} ({lines} lines: {_digits(row.value, row.unit)})"


def _digits(value: float, unit: str) -> str:
    """A figure with five digits for a rate, as a meter shows it for the rest."""
    return (
        f"{value:.2f} Hz"
        if unit == "Hz" and value < 1e3
        else f"{value:.0f} Hz"
        if unit == "Hz"
        else write_reading(value, unit)
    )
