"""How the figures of a file are parted: by comma, semicolon, tab or blanks, with decimal point or comma."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from probewright.captures.decoding import AS_TEXT, refused

LOOKED_AT = 600  # lines, chosen: no preamble is nearly as long
INF, NAN = float("inf"), float("nan")
WAYS = (("\t", "."), ("\t", ","), (";", "."), (";", ","), (",", "."), (",", ","), ("", "."), ("", ","), (" ", "."), (" ", ","))  # fmt: skip # noqa: E501
POINT = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
COMMA = re.compile(r"[-+]?(?:\d+,?\d*|,\d+)(?:[eE][-+]?\d+)?")
# Words in place of a figure; of those without a sign nobody says whether they lie above or below the screen.
UNSIGNED = ("ol", "o.l.", "over", "overload", "overflow", "clip", "clipped", "out of range", "***", "****", "-----")
ABOVE = ("inf", "+inf", "infinity", "+infinity", "∞", "+∞", "+ol", "high", "+clipped", "1.#inf")
BELOW = ("-inf", "-infinity", "-∞", "-ol", "low", "-clipped", "-1.#inf", "under", "underflow")
MISSING = ("", "nan", "-", "--", "n/a", "na", "null", "none", "1.#qnan", "-1.#ind")
EITHER = 9.9e99  # stands for beyond the screen, nobody says on which side
# SCPI-1999, volume 1, 7.2.1.4 and 7.2.1.5: infinity and "not a number" in figures, from memory.
SCPI_INF, SCPI_NAN = 9.9e37, 9.91e37


@dataclass(frozen=True)
class Dialect:
    """parts: the sign between two cells, " " for any blanks, "" for none; point: "." or ","; columns: cells a line,
    behind those that are left out; left: cells at the left that have no figures, or a preamble beside them."""

    parts: str
    point: str
    columns: int
    left: int = 0

    def cells(self, line: str) -> list[str]:
        """The cells of a line that may have figures, bare."""
        return self.every_cell(line)[self.left :]

    def every_cell(self, line: str) -> list[str]:
        """All cells of a line, bare."""
        if self.parts == " ":
            return line.split()
        if not self.parts:
            return [line.strip().strip('"').strip()]
        if '"' not in line:
            return [one.strip() for one in line.split(self.parts)]
        try:
            row: list[str] = next(csv.reader([line], delimiter=self.parts), [])
        except csv.Error:  # longer than any cell may be; it is no figure either way
            row = [line]
        return [one.strip() for one in row]

    def figure(self, cell: str) -> float | None:
        """What a cell stands for: NaN for none there, EITHER or an infinity beyond the screen, None for other words."""
        shape = POINT if self.point == "." else COMMA
        if shape.fullmatch(cell):
            return float(cell.replace(",", "."))
        word = cell.casefold()
        marks = ((UNSIGNED, EITHER), (ABOVE, INF), (BELOW, -INF), (MISSING, NAN))
        return next((value for words, value in marks if word in words), None)

    def figures(self, line: str) -> list[float] | None:
        """The figures of a line without what is blank behind them; None where a word stands or no figure at all."""
        found = [self.figure(cell) for cell in self.cells(line)]
        if any(one is None for one in found):
            return None
        kept = [one for one in found if one is not None]
        while kept and kept[-1] != kept[-1] and len(kept) > self.columns:
            kept.pop()
        return kept if any(abs(one) < EITHER for one in kept) else None


def dialect_of(lines: Sequence[str], file: str) -> Dialect:
    """The way that makes most of the first lines rows of equally many figures. BadInput where none does."""
    best: Dialect | None = None
    most = 0
    for parts, point in WAYS:
        if parts == " " and best is not None:
            break
        rows = [row for line in lines if line.strip() and (row := Dialect(parts, point, 0).figures(line))]
        sizes = Counter(len(_trimmed(row)) for row in rows)
        if not sizes:
            continue
        columns, count = max(sizes.items(), key=lambda one: (one[1], one[0]))
        if (count, columns) > (most, best.columns if best else 0):
            best, most = Dialect(parts, point, columns), count
    if best is None or most < 2:
        words = " ".join(next((line for line in lines if line.strip()), "").split())[:40]
        raise refused(f"there are no columns of figures in this file; it begins with {words!r}", AS_TEXT, file)
    rows = [row for line in lines if len(row := best.figures(line) or []) == best.columns]
    left = next((n for n in range(best.columns) if any(row[n] == row[n] for row in rows)), 0)
    return replace(best, columns=best.columns - left, left=left)


def _trimmed(row: list[float]) -> list[float]:
    """A row without what is missing behind it."""
    end = len(row)
    while end and row[end - 1] != row[end - 1]:
        end -= 1
    return row[:end]


def comma_twice(lines: Sequence[str], way: Dialect, labels: int, interval: bool) -> bool:
    """Whether the commas of these rows of figures may part cells as well as decimals, so that nobody can know.

    labels: how many names stand over the columns, 0 for none; interval: the file tells a sample interval.
    """
    if (way.parts, way.point) != (",", "."):
        return False
    bare = [line for line in lines if '"' not in line and "," in line]
    if not bare or any("." in line or ";" in line or "\t" in line for line in bare) or labels == way.columns > 1:
        return False
    rows = [way.cells(line) for line in bare]
    sizes = {len(row) for row in rows}
    decimals = any(len(cell) > 1 and cell.isdigit() and cell[0] == "0" for row in rows for cell in row[1::2])
    if sizes == {2}:
        return interval or decimals
    return decimals or len(sizes) > 1 or max(sizes) % 2 == 0
