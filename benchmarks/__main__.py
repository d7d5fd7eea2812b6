"""`python -m benchmarks`: print every figure beside its goal; a missed goal is said plainly."""

from __future__ import annotations

import argparse
import json
import math
import resource
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

from benchmarks.ahead import ahead
from benchmarks.answering import answering
from benchmarks.beside import agreement
from benchmarks.campaign import few_orders
from benchmarks.large import large
from benchmarks.opinion import belief
from benchmarks.page import on_screen
from benchmarks.quick import cards
from benchmarks.solving import growth, race, solved
from benchmarks.table import Row
from benchmarks.timing import timing
from benchmarks.together import together
from benchmarks.weight import install

BENCHMARKS: dict[str, Callable[[], Iterator[Row]]] = {
    "race": race,
    "growth": growth,
    "solved": solved,
    "agreement": agreement,
    "time": timing,
    "belief": belief,
    "readings": answering,
    "cards": cards,
    "ahead": ahead,
    "orders": few_orders,
    "together": together,
    "large": large,
    "install": install,
    "page": on_screen,
}


def peak() -> Row:
    """Most memory this process has held."""
    return Row("peak memory", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, "MiB", 1024.0, "<=")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the chosen benchmarks and print the table, row by row as it comes."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--only", metavar="NAME", choices=BENCHMARKS, help=f"run one: {', '.join(BENCHMARKS)}")
    parser.add_argument("--json", metavar="FILE", type=Path, help="also write the rows as JSON")
    chosen = parser.parse_args(arguments)
    rows: list[Row] = []
    for name, benchmark in BENCHMARKS.items():
        if chosen.only in (None, name):
            for row in benchmark():
                rows.append(row)
                print(row.text(), flush=True)
    rows.append(peak())
    print(rows[-1].text())
    missed = sum(row.met is False for row in rows)
    print(f"{sum(row.met is True for row in rows)} goals met, {missed} missed")
    if chosen.json:
        chosen.json.write_text(json.dumps([as_json(row) for row in rows], indent=1) + "\n", encoding="utf-8")


def as_json(row: Row) -> dict[str, object]:
    """A row for a file; a figure that is no number becomes null."""
    found: dict[str, object] = {**asdict(row), "what": row.what.strip(), "met": row.met}
    return found | {"figure": None if math.isnan(row.figure) else row.figure}


if __name__ == "__main__":
    main()
