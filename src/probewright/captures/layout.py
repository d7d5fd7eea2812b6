"""What stands above the figures of a file: names and units of the columns, sample interval, units, start."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from probewright.captures import words
from probewright.captures.decoding import refused
from probewright.captures.dialect import LOOKED_AT, Dialect, comma_twice, dialect_of

INTERVAL = re.compile(
    r"(?=.*(?:sampl|time|horizontal|\bx\b|delta|point))(?=.*(?:interval|incr|\binc\b|period|step|spacing|resolution)).*"
    r"|dt|delta ?t|x ?delta|.*\b(?:time|seconds) per (?:sample|point).*"
)
RATE = re.compile(r"(?=.*sampl)(?=.*(?:rate|freq|speed)).*|fs|samples? ?(?:/|per) ?(?:s|sec|second)")
START = re.compile(r"(?=.*(?:start|first|origin|begin))(?=.*(?:time|horizontal|\bx\b|sample)).*|x ?zero|t0")
ACROSS = re.compile(r"(?=.*(?:horizontal|time|\bx\b))(?=.*unit).*")
UPWARD = re.compile(r"(?=.*(?:vertical|volt|\by\b|amplitude|channel|ch ?\d))(?=.*unit).*")
TOLD = re.compile(r".*(?:date|model|record|length|source|units?|serial|version|probe|coupling|points|scale|offset).*")
AS_INTERVAL = "write it like `Sample interval,4e-6` or `4 us`, above the figures"


@dataclass(frozen=True)
class Label:
    """What stands over one column. unit: "" where it has none."""

    name: str = ""
    unit: str = ""


@dataclass(frozen=True)
class Layout:
    """How a file is laid out. begin: number of its first line of figures, from 1; heads: rows that may be repeated.

    labels (column,): empty where no names stand over the columns; interval, start: s; upward, across: units for all
    columns of volts and of seconds, "" where none is told.
    """

    way: Dialect
    begin: int
    heads: tuple[tuple[str, ...], ...] = ()
    labels: tuple[Label, ...] = ()
    interval: float | None = None
    start: float = 0.0
    upward: tuple[str, ...] = ()
    across: str = ""


@dataclass
class _Told:
    """What the preamble tells, collected line by line."""

    file: str
    found: dict[str, float] = field(default_factory=dict)
    upward: tuple[str, ...] = ()
    across: str = ""

    def put(self, what: str, value: float | None, said: str, line: int) -> None:
        """A figure of the preamble. BadInput for what is none, or another one than before."""
        if value is None or (what == "interval" and not 0.0 < value < float("inf")):
            raise refused(f"{said!r} is no sample {what}", AS_INTERVAL, self.file, line)
        before = self.found.setdefault(what, value)
        if abs(before - value) > 1e-3 * abs(before):
            text = f"this file tells two of one thing, {before:g} s and {value:g} s between samples"
            raise refused(text, "save the channels one by one", self.file, line)


def layout_of(text: str, file: str) -> Layout:
    """How the figures stand in this text. BadInput where nobody can know."""
    lines = text.split("\n", LOOKED_AT)[:LOOKED_AT]
    way = dialect_of(lines, file)
    begin = next(n for n, line in enumerate(lines) if len(way.figures(line) or ()) == way.columns)
    way = _with_named(_one_column(way, lines[:begin], lines[begin:]), lines[:begin], lines[begin])
    head = [(n, row) for n, line in enumerate(lines[:begin], 1) if any(row := _row(way, line))]
    labels, used = _labels(head, way.columns)
    told = _Told(file)
    beside = enumerate(lines[begin:], begin + 1) if way.left else ()
    for n, row in [*head[: len(head) - used], *((n, way.every_cell(line)[: way.left]) for n, line in beside)]:
        if any(row):
            _tell(told, row, n)
    numeric = [line for line in lines[begin:] if way.figures(line)]
    names = max((len(row) for _, row in head[len(head) - used :]), default=0)
    if comma_twice(numeric, way, names, "interval" in told.found):
        mend = "save it with semicolons or tabs between the columns, or with decimal points"
        raise refused("the commas may be decimal commas or part the columns", mend, file, begin + 1)
    heads = tuple(tuple(row) for _, row in head)
    interval = told.found.get("interval")
    return Layout(way, begin + 1, heads, labels, interval, told.found.get("start", 0.0), told.upward, told.across)


def _one_column(way: Dialect, head: Sequence[str], rest: Sequence[str]) -> Dialect:
    """One column with decimal commas, where what stands above it shows that commas part nothing."""
    lone = Dialect("", ",", 1)
    above = [line for line in head if line.strip()]
    if (way.parts, way.columns) != (",", 2) or not above:
        return way
    spoken = any(sign in line for line in above for sign in ";\t") or "," not in above[-1]
    return lone if spoken and all(lone.figures(line) for line in rest if way.figures(line)) else way


def _with_named(way: Dialect, head: Sequence[str], first: str) -> Dialect:
    """The same with the columns that have a name above and no figure below."""
    named = [_row(way, line) for line in head if line.strip()][-2:]
    sizes = [len(row) for row in named if _are_names(row, len(row)) and not _are_units(row, len(row))]
    wanted = max(sizes, default=0)
    return replace(way, columns=wanted) if way.columns < wanted <= len(way.cells(first)) else way


def _row(way: Dialect, line: str) -> list[str]:
    """The cells of a line above the figures, without remark signs before and blanks behind it."""
    parted = way.cells(line)
    if way.columns == 1 and len(parted) == 1:  # a preamble has its own sign between a word and what it is
        parted = re.split(r"[\t;]", line) if re.search(r"[\t;]", line) else line.split(",", 1)
    cells = [one.strip().strip('#%"').strip() for one in parted]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _labels(head: Sequence[tuple[int, list[str]]], columns: int) -> tuple[tuple[Label, ...], int]:
    """What stands over the columns, and how many of the last rows say it: names, units, or names and then units."""
    rows = [row for _, row in head[-2:]]
    units = [words.bare(one) for one in rows[-1]] if rows and _are_units(rows[-1], columns) else []
    above = rows[:-1] if units else rows[-1:]
    names = [words.parted(one) for one in above[-1]] if above and _are_names(above[-1], columns) else []
    if not units and not names:
        return (), 0
    names += [("", "")] * (columns - len(names))
    units += [""] * (columns - len(units))
    paired = zip(names, units, strict=True)
    labels = tuple(Label(name, _one_unit(own, under)) for (name, own), under in paired)
    return labels, bool(any(units)) + bool(any(name or own for name, own in names))


def _are_units(row: Sequence[str], columns: int) -> bool:
    """Whether a row has units and nothing else, one of them of time or volts."""
    return len(row) <= columns and any(map(words.measures, row)) and all(words.is_unit(one) for one in row if one)


def _are_names(row: Sequence[str], columns: int) -> bool:
    """Whether a row names the columns: as many words, and no line of the preamble."""
    first = row[0].casefold() if row else ""
    told = any(one.fullmatch(first) for one in (INTERVAL, RATE, START, ACROSS, UPWARD, TOLD)) or ":" in first
    figures = any(words.FIGURE.fullmatch(one) for one in row)
    return len(row) in (columns, columns - (columns > 2)) and not figures and not (told and not words.TIME.match(first))


def _one_unit(own: str, under: str) -> str:
    """The unit said beside a name and the one in the row of units; both where they contradict each other."""
    same = own.casefold() == under.casefold()
    return own if same or not under else under if not own else f"{own} and {under}"


def _tell(told: _Told, row: Sequence[str], line: int) -> None:
    """One line of the preamble: a word and what it is; anything else is passed over."""
    key, value, rest = _key(row)
    name, unit = words.parted(key)
    name = name.casefold()
    if INTERVAL.fullmatch(name) and not name.endswith(("units", "unit")):
        told.put("interval", words.seconds_in(value, unit or rest), value, line)
    elif RATE.fullmatch(name):
        rate = words.hertz_in(value, rest)
        told.put("interval", 1.0 / rate if rate else None, value, line)
    elif START.fullmatch(name):
        told.put("start", words.seconds_in(value, unit or rest), value, line)
    elif ACROSS.fullmatch(key.casefold()) and value:
        told.across = words.bare(value)
    elif UPWARD.fullmatch(key.casefold()) and value:
        told.upward = tuple(words.bare(one) for one in _values(row, value))


def _key(row: Sequence[str]) -> tuple[str, str, str]:
    """A word, what it is, and what stands behind that, in cells of their own or parted by a colon or "="."""
    found = re.fullmatch(r"(?P<key>[^:=]+?)\s*[:=]\s*(?P<value>.*)", row[0])
    cells = [found["key"], *filter(None, [found["value"]]), *row[1:]] if found else [row[0].rstrip(":= "), *row[1:]]
    filled = [one for one in cells if one]
    return filled[0] if filled else "", *(filled[n] if len(filled) > n else "" for n in (1, 2))  # type: ignore[return-value]


def _values(row: Sequence[str], first: str) -> Iterator[str]:
    """What a line of the preamble says of each column of volts."""
    return iter(row[row.index(first) :] if first in row else [first])
