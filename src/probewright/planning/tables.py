"""The tables of this room, each read once."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of `data/NAME.csv` in their order, column -> cell."""
    text = (files("probewright.planning") / "data" / f"{name}.csv").read_text("utf-8")
    return tuple(csv.DictReader(text.splitlines()))
