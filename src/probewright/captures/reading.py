"""A file of text becomes a capture, or one complaint: which line, what is wrong, how to mend it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

import numpy as np

from probewright.captures import words
from probewright.captures.capture import Capture
from probewright.captures.decoding import AS_TEXT, decoded, refused
from probewright.captures.dialect import EITHER, LOOKED_AT, SCPI_INF, SCPI_NAN, UNSIGNED, Dialect
from probewright.captures.layout import AS_INTERVAL, Label, Layout, layout_of

MOST_POINTS = 5_000_000  # chosen: a whole second of video; more would take a bench minutes
MOST_BYTES = 400_000_000  # chosen: of so many points with all the digits that three columns may have
FEWEST_POINTS = 8  # chosen: what has fewer is a list of readings
BLOCK = 1_000_000  # letters, chosen: read at a time, so that the memory holds the figures and little more
EVEN = 0.01  # chosen: share by which the mean step of a first column may stray and still be the interval told above
SAVE_ALL = "save the waveform once more, with its times rising from line to line"


def read_capture(data: bytes, file: str = "") -> Capture:
    """The traces in a file from an oscilloscope, whatever its own way of writing them.

    data: the file as it came; file: its name, for the complaint. Comma, semicolon, tab or blanks between columns;
    decimal point or comma; names, units and a preamble above or none; times in a column or a sample interval.
    BadInput, with line and mend, for what is no waveform and for what could be two things.
    """
    shorter = "save a shorter stretch, or fewer points a second"
    if len(data) > MOST_BYTES:
        raise refused(f"this file has more than {MOST_BYTES // 1_000_000} MB", shorter, file)
    text = decoded(data, file)
    if text.count("\n") > MOST_POINTS + LOOKED_AT:
        raise refused(f"this file has more than {MOST_POINTS} lines", shorter, file)
    sheet = layout_of(text, file)
    table = _table(text, sheet, file)
    if len(table) < FEWEST_POINTS:
        text = f"this file has {len(table)} points, which is no waveform"
        raise refused(text, "save the trace, or type what it shows as readings", file, sheet.begin)
    return _capture(table, sheet, text, file)


# Figures --------------------------------------------------------------------------------------


def _table(text: str, sheet: Layout, file: str) -> np.ndarray:
    """(row, column) all figures; NaN where a cell is blank, infinite or EITHER beyond the screen."""
    columns, blocks = sheet.way.columns, []
    for line, block in _blocks(text, sheet.begin):
        quick = _quick(block, sheet)
        blocks.append(_careful(block, line, sheet, file) if quick is None else quick)
    table = np.concatenate([np.empty((0, columns)), *blocks])
    size = np.abs(table)
    table = np.where((size >= SCPI_INF) & (size < EITHER), np.copysign(np.inf, table), table)
    return np.where(np.isclose(size, SCPI_NAN, rtol=1e-6, atol=0.0), np.nan, table)


def _blocks(text: str, begin: int) -> Iterator[tuple[int, str]]:
    """The lines of figures in blocks, each with the number of its first line."""
    at, line = 0, 1
    while line < begin:
        at, line = text.index("\n", at) + 1, line + 1
    while at < len(text):
        end = text.find("\n", min(at + BLOCK, len(text)))
        end = len(text) if end < 0 else end + 1
        yield line, text[at:end]
        line += text.count("\n", at, end)
        at = end


def _quick(block: str, sheet: Layout) -> np.ndarray | None:
    """A block of nothing but plain figures; None where it needs a closer look."""
    way = sheet.way
    if '"' in block or way.parts == way.point:
        return None
    if way.point == ",":
        if "." in block:
            return None
        block = block.replace(",", ".")
    found = _loaded(block, way)
    return found if found is not None else _loaded(_plainer(block, way), way)


def _loaded(block: str, way: Dialect) -> np.ndarray | None:
    """(row, column) the figures of a block; None where a blank, a word or a row of another length stands in it."""
    taken = range(way.left, way.left + way.columns) if way.left else None
    parts = None if way.parts in ("", " ") else way.parts
    if not block.strip():
        return None
    try:
        found = np.loadtxt(block.split("\n"), delimiter=parts, ndmin=2, comments=None, usecols=taken)
    except ValueError:  # the careful way finds which, and says so
        return None
    return found if found.shape[1] == way.columns else None


def _plainer(block: str, way: Dialect) -> str:
    """The same with figures for words that lie beyond the screen, and without signs that part nothing behind a line."""
    if way.parts in ("", " "):
        return block
    ends = re.escape(way.parts)
    said = "|".join(re.escape(word) for word in sorted(UNSIGNED, key=len, reverse=True))
    block = re.sub(rf"(?im)(?:(?<={ends})|^)[ ]*(?:{said})[ ]*(?={ends}|$)", repr(EITHER), block)
    return re.sub(rf"(?m)(?:[ ]*{ends}[ ]*)+$", "", block)


def _careful(block: str, first: int, sheet: Layout, file: str) -> np.ndarray:
    """The same cell by cell. BadInput for what is no figure and for a row of another length."""
    way, rows = sheet.way, []
    for line, row in _rows(block, sheet):
        if not any(row) or tuple(one.strip("#%").strip() for one in _filled(row)) in sheet.heads:
            continue
        figures = [way.figure(cell) for cell in row]
        if None in figures:
            cell = row[figures.index(None)]
            mend = "take out what is no figure, or save the waveform once more"
            raise refused(f"{cell[:40]!r} is not a figure", mend, file, first + line, figures.index(None) + 1)
        while len(figures) > way.columns and figures[-1] != figures[-1]:
            figures.pop()
        if len(figures) != way.columns:
            text = f"this line has {_cells(len(figures))}, the first ones have {_cells(way.columns)}"
            raise refused(text, "save it once more: every line needs as many", file, first + line)
        rows.append(figures)
    return np.array(rows, float).reshape(-1, way.columns)


def _rows(block: str, sheet: Layout) -> Iterator[tuple[int, list[str]]]:
    """Each line of a block, from 0, as bare cells."""
    yield from ((n, sheet.way.cells(line)) for n, line in enumerate(block.split("\n")))


def _filled(row: Sequence[str]) -> Sequence[str]:
    """A row without the blank cells behind it."""
    end = len(row)
    while end and not row[end - 1]:
        end -= 1
    return row[:end]


def _cells(count: int) -> str:
    return "1 column" if count == 1 else f"{count} columns"


# Columns --------------------------------------------------------------------------------------


def _capture(table: np.ndarray, sheet: Layout, text: str, file: str) -> Capture:
    """Seconds and volts out of the columns, and what was taken for granted."""
    labels = sheet.labels or tuple(Label() for _ in range(sheet.way.columns))
    remarks: list[str] = []
    at = _time_column(table, labels, sheet, file)
    seconds = _even_times(table, sheet) if at is None else _times(table[:, at], labels[at], sheet, text, file, remarks)
    if at is None:
        remarks.append(f"{sheet.interval:g} s between samples, as the file says above its figures")
    others = [n for n in range(sheet.way.columns) if n != at and not _passed_over(n, table, labels, at, sheet)]
    kept = [n for n in others if np.sum(np.abs(table[:, n]) < EITHER) >= FEWEST_POINTS]
    if not kept:
        raise refused("there are no volts beside the times: the cells are blank", AS_TEXT, file, sheet.begin)
    scales = _scales([labels[n] for n in kept], sheet, file, remarks)
    shown = [_shown(scale * table[:, n]) for n, scale in zip(kept, scales, strict=True)]
    names = tuple(labels[n].name or f"channel {k}" for k, n in enumerate(kept, 1))
    if len(kept) < len(others):
        remarks.append(f"columns with fewer than {FEWEST_POINTS} figures are left out")
    return Capture(seconds, np.array([v for v, _ in shown]), names, tuple(b for _, b in shown), tuple(remarks))


def _time_column(table: np.ndarray, labels: Sequence[Label], sheet: Layout, file: str) -> int | None:
    """Which column has the times; None where the sample interval has to do. BadInput where there is neither."""
    named = [n for n, one in enumerate(labels) if _is_time(one)]
    if named:
        return named[0]
    first = table[:, 0]
    counts = bool(np.all(np.diff(first) == 1.0)) and (sheet.interval is not None or _counts(labels[0]))
    if sheet.interval is None and (sheet.way.columns == 1 or counts or labels[0].unit):
        what = "sample numbers" if counts and sheet.way.columns > 1 else "volts"
        raise refused(f"this file has {what} and neither times nor a sample interval", AS_INTERVAL, file, sheet.begin)
    if sheet.interval is None:
        return 0
    steps = np.diff(first)
    mean = float(np.mean(steps)) if np.all(np.isfinite(steps)) else 0.0
    times = sheet.way.columns > 1 and np.all(steps >= 0.0) and abs(mean - sheet.interval) <= EVEN * sheet.interval
    return 0 if times else None


def _is_time(label: Label) -> bool:
    return words.seconds_of(label.unit) is not None or words.TIME.fullmatch(label.name) is not None


def _counts(label: Label) -> bool:
    return words.INDEX.fullmatch(label.name) is not None


def _passed_over(n: int, table: np.ndarray, labels: Sequence[Label], at: int | None, sheet: Layout) -> bool:
    """A column that only counts the samples, or has the times once more."""
    column = table[:, n]
    nameless = n == 0 and at is None and sheet.way.columns > 1 and labels[n] == Label()
    if _counts(labels[n]) or (nameless and column[0] in (0.0, 1.0) and np.all(np.diff(column) == 1.0)):
        return True
    return at is not None and _is_time(labels[n]) and bool(np.array_equal(column, table[:, at]))


def _even_times(table: np.ndarray, sheet: Layout) -> np.ndarray:
    """Seconds (time,) by the sample interval alone."""
    assert sheet.interval is not None
    return sheet.start + sheet.interval * np.arange(len(table))


def _times(
    column: np.ndarray, label: Label, sheet: Layout, text: str, file: str, remarks: list[str]
) -> np.ndarray:  # fmt: skip
    """Seconds (time,) out of their column. BadInput where one is missing or they run back."""
    unit = label.unit or sheet.across
    scale = words.seconds_of(unit or "s")
    if scale is None:
        raise refused(f"the times are in {unit}", "save them in s, ms or us", file, max(sheet.begin - 1, 1))
    if not unit:
        remarks.append("times taken as seconds, since no unit stands over them")
    found = scale * column
    if (bad := np.flatnonzero(~np.isfinite(found) | (np.abs(found) >= EITHER))).size:
        raise refused("there is no time in this line", SAVE_ALL, file, _line_of(int(bad[0]), sheet, text))
    steps = np.diff(found)
    if (bad := np.flatnonzero(steps < 0.0)).size:
        raise refused("the times run back in this line", SAVE_ALL, file, _line_of(int(bad[0]) + 1, sheet, text))
    if np.all(steps > 0.0):
        return found
    even = np.linspace(found[0], found[-1], len(found))
    if np.max(np.abs(even - found)) > np.max(steps):
        stands = int(np.flatnonzero(steps == 0.0)[0]) + 1
        raise refused("the time stands still in this line", SAVE_ALL, file, _line_of(stands, sheet, text))
    remarks.append("times are printed too coarsely and stand still; taken as even from the first to the last")
    return even


def _line_of(row: int, sheet: Layout, text: str) -> int:
    """Number of the line in which a row of the table stands."""
    count = -1
    for line, block in _blocks(text, sheet.begin):
        for n, cells in _rows(block, sheet):
            count += any(cells) and tuple(one.strip("#%").strip() for one in _filled(cells)) not in sheet.heads
            if count == row:
                return line + n
    return sheet.begin


def _scales(labels: Sequence[Label], sheet: Layout, file: str, remarks: list[str]) -> list[float]:
    """Volts that one stands for in each column of them. BadInput for a column of something else."""
    told = sheet.upward
    if len(told) > 1 and len(told) != len(labels):
        told = told[-len(labels) :]
    units = [one.unit or (told[n] if n < len(told) else told[0] if told else "") for n, one in enumerate(labels)]
    for n, (unit, one) in enumerate(zip(units, labels, strict=True), 1):
        if unit and words.volts_of(unit) is None:
            text = f"{one.name or f'channel {n}'} is in {unit}, not in volts"
            raise refused(
                text, "save the channels that are in V or mV, with one unit each", file, max(sheet.begin - 1, 1)
            )
    if not all(units):
        remarks.append("figures taken as volts, since no unit stands over them")
    return [words.volts_of(unit or "V") or 1.0 for unit in units]


def _shown(volts: np.ndarray) -> tuple[np.ndarray, tuple[int, int]]:
    """One trace with the outermost figure shown where the file says it lies beyond; how often below and above."""
    low, high = np.isneginf(volts), np.isposinf(volts)
    either = np.abs(volts) >= EITHER / 1e9
    either &= ~low & ~high
    sure = np.isfinite(volts) & ~either
    if not (low.any() or high.any() or either.any()):
        return volts, (0, 0)
    bottom, top = volts[sure].min(), volts[sure].max()
    if either.any():
        places, asked = np.flatnonzero(sure), np.flatnonzero(either)
        after = np.searchsorted(places, asked)
        beside = [volts[places[np.clip(n, 0, len(places) - 1)]] for n in (after - 1, after)]
        high[asked] = 0.5 * (beside[0] + beside[1]) >= 0.5 * (bottom + top)
        low |= either & ~high
    return np.where(low, bottom, np.where(high, top, volts)), (int(low.sum()), int(high.sum()))
