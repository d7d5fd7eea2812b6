"""Where a circuit comes to rest, in compiled loops; and what those share with the loops that go through time."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from multiprocessing import parent_process
from typing import TYPE_CHECKING, Any

import numpy as np

from probewright.simulation import newton
from probewright.simulation.circuit import Batch, Circuit
from probewright.simulation.compiled import Ready, make_ready, wanted
from probewright.simulation.newton import Rest, Sheet, Start, Way, damped, seek, settle, solve

if TYPE_CHECKING:
    from probewright.simulation.loops import Plan, Resting

WIDE = 64  # lanes that go side by side: what they need of a supply stays in the nearer cache; measured
NARROW = 8  # chosen: fewer are not worth a core of their own


def come_to_rest(circuit: Circuit, batch: Batch, start: Start | None = None, in_time: bool | None = None) -> Rest:
    """`newton.come_to_rest`, in compiled loops where they are wanted and the compiler is there anyhow.

    in_time: whether time is followed besides; as the machine file has it where nothing is said.
    """
    compiled = wanted() and (circuit.in_time if in_time is None else in_time)
    return newton.come_to_rest(circuit, batch, start, Way(_seek, _settle) if compiled else None)


def _seek(sheet: Sheet, start: Start | None, steps: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """`newton.seek`; the first step is NumPy's, which knows what to do without controls of a step before."""
    ready = make_ready(sheet, None)
    if ready is None:
        return seek(sheet, start, steps)
    from probewright.simulation import loops

    volts = np.zeros((sheet.circuit.size + 1, sheet.width)) if start is None else start.volts.copy()
    matrix, right, memory, held = sheet.linearise(volts, {} if start is None else start.memory())
    sign = solve(sheet, matrix, right)
    moved, size = np.max(np.abs(right - volts[:-1]), axis=0), np.max(np.abs(right), axis=0)
    solved = ~held & np.isfinite(size) & (moved <= newton.CLOSE_VOLTS + 1e-9 * size)
    stable = ~solved | (sign > 0.0)
    volts[:-1] = np.where(np.all(np.isfinite(right), axis=0), right, 0.0)
    lanes = with_controls(ready, volts, memory)
    damping, limits = np.array([damped(n) for n in range(steps)]), rest_limits()

    def go(some: slice) -> None:
        here = ready.take(np.arange(some.start, some.stop))
        here.lanes[: ready.state] = lanes[:, some]
        done, lasts = solved[some].copy(), stable[some].copy()
        loops.seek(plan_of(here), limits, here.lanes, here.base, here.pushed, damping, 1, done, lasts)
        lanes[:, some], solved[some], stable[some] = here.lanes[: ready.state], done, lasts

    side_by_side(go, sheet.width)
    return lanes[: len(volts)], solved, stable


def _settle(sheet: Sheet, start: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """`newton.settle`, of each variant by itself."""
    ready = make_ready(sheet, None, True)
    if ready is None:
        return settle(sheet, start)
    from probewright.simulation import loops

    volts, solved, limits = start.copy(), np.zeros(sheet.width, bool), rest_limits()

    def go(some: slice) -> None:
        here, done = ready.take(np.arange(some.start, some.stop)), np.zeros(some.stop - some.start, bool)
        here.lanes[: len(volts)] = volts[:, some]
        loops.run_down(plan_of(here), limits, here.lanes, here.base, here.pushed, done)
        volts[:, some], solved[some] = here.lanes[: len(volts)], done

    side_by_side(go, sheet.width)
    return volts, solved


def controls_of(ready: Ready) -> list[tuple[int, str]]:
    """(group, name) of every control that Newton's method keeps."""
    return [key[1:] for key, row in ready.rows.first.items() if key[0] == "control" and row < ready.newton]


def with_controls(ready: Ready, volts: np.ndarray, memory: Mapping[int, Any]) -> np.ndarray:
    """(row, variant) the part of `lanes` that a step changes, at these volts and with these controls."""
    lanes = np.zeros((ready.state, volts.shape[1]))
    lanes[: len(volts)] = volts
    for which, name in controls_of(ready):
        one, first = np.atleast_2d(memory[which][name]), ready.rows.first["control", which, name]
        lanes[first : first + len(one)] = one
    return lanes


def side_by_side(go: Callable[[slice], None], size: int) -> None:
    """Some variants after the others, on as many cores as there are; whatever is split, each goes its own way."""
    count = max(-(-size // WIDE), min(_cores(), size // NARROW), 1)
    ends = np.linspace(0, size, count + 1).astype(int)
    parts = [slice(first, last) for first, last in zip(ends.tolist(), ends[1:].tolist(), strict=False)]
    if len(parts) == 1:
        go(parts[0])
    else:
        list(_pool(os.getpid()).map(go, parts))


@cache
def _cores() -> int:
    if parent_process() is not None:
        return 1  # one of several processes that share the cores already
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@cache
def _pool(process: int) -> ThreadPoolExecutor:
    """The threads of a process: a fork of it has none of them."""
    return ThreadPoolExecutor(_cores(), "steps")


def plan_of(ready: Ready) -> Plan:
    """What the loops are told of a circuit."""
    from probewright.simulation.loops import Plan

    first = ready.rows.first
    rows = (first["slope",], first["turned",], first["soft",], first["shared", "rate"])
    sizes = np.array([len(ready.pushed) - 1, ready.state, ready.newton, *rows, ready.moving], np.int64)
    order = ready.order
    return Plan(
        ready.table, ready.uses, ready.marks, ready.courses, ready.lagging,
        order.steps, order.below, order.entries, order.across, sizes,
    )  # fmt: skip


def rest_limits() -> Resting:
    """What a search for rest keeps to."""
    from probewright.simulation.loops import Resting

    return Resting(
        newton.SETTLE_STEPS, newton.PATIENCE, newton.SETTLE_FIRST, newton.SETTLE_RATIO, newton.SETTLE_BACK,
        newton.SETTLED, newton.CLOSE_VOLTS, newton.NOISE_VOLTS,
    )  # fmt: skip
