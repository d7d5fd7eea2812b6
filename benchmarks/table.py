"""Rows of the table: a figure beside its goal."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from probewright.jobs.scoring import wilson


@dataclass(frozen=True)
class Row:
    """One figure. goal: None where none is set; sense: ">=" or "<=", how the figure should stand to it."""

    what: str
    figure: float
    unit: str = ""
    goal: float | None = None
    sense: str = ">="
    note: str = ""

    @property
    def met(self) -> bool | None:
        """Whether the goal is reached; None without one. A figure that is no number reaches nothing."""
        if self.goal is None:
            return None
        return self.figure >= self.goal if self.sense == ">=" else self.figure <= self.goal

    def text(self) -> str:
        """The row as printed."""
        verdict = "" if self.goal is None else f"{self.sense} {short(self.goal):<8} {'met' if self.met else 'missed'}"
        line = f"{self.what:<66} {short(self.figure):>9} {self.unit:<11} {verdict:<20} {self.note}"
        return line.rstrip()


def share(what: str, some: Sequence[object], of: Sequence[object], goal: float | None = None, sense: str = ">=") -> Row:
    """A share as a row, with number and interval."""
    if not of:
        return Row(what, float("nan"), "", goal, sense, "none of them yet")
    low, high = wilson(len(some), len(of))
    few = ", too few to say" if goal is not None and low <= goal <= high else ""
    note = f"{len(some)} of {len(of)}, 95 %: {low:.3f} to {high:.3f}{few}"
    return Row(what, len(some) / len(of), "", goal, sense, note)


def short(figure: float) -> str:
    """Three figures where that says enough; a share near one keeps those that tell it from one."""
    if 0.99 < figure < 1.0:
        return f"{figure:.6f}".rstrip("0")
    if abs(figure) >= 1e5:
        return f"{figure:.2e}" if abs(figure) >= 1e7 else f"{round(figure, -3):,.0f}"
    return f"{figure:,.0f}" if abs(figure) >= 100 else f"{figure:.3g}"


def seconds(run: Callable[[], object], repeats: int = 5) -> float:
    """Wall-clock seconds of one run, the median of some."""
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        run()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)
