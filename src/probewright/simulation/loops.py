"""The loop that takes a batch from step to step, for numba; imported where numba is installed, and nowhere else.

Everything that differs from variant to variant stands in `lanes` (row, lane), and the laws find it there (`compiled`).
Each lane goes its own way: one that a step does not close takes it in halves, or settles within it, as
`stepping.Stepper.advance` says it, while the others wait.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from llvmlite import ir  # type: ignore[import-untyped]
from numba import njit, types
from numba.extending import intrinsic

LATE, STAMP, PUSH, BEND, TRUST, LAG, STRIDE, KEEP = range(8)  # roles of laws, in the order of `compiled.ROLES`
# what `Plan.sizes` holds: how many nodes, rows that a step changes, of these in Newton's method; then first rows
NODES, STATE, NEWTON, SLOPE, TURNED, SOFT, RATE, MOVING = range(8)
DONE, NEEDS_WAVES, NEEDS_TRUST = range(3)  # why a march ends


class Plan(NamedTuple):
    """What a circuit and its laws are; see `compiled.Ready`."""

    table: Any
    uses: Any
    marks: Any
    courses: Any
    lagging: Any
    steps: Any
    below: Any
    entries: Any
    across: Any
    sizes: Any


class Resting(NamedTuple):
    """The figures of `newton` that a search for rest keeps to."""

    settle_steps: int
    patience: int
    settle_first: float
    settle_ratio: float
    settle_back: float
    settled: float
    close_volts: float
    noise_volts: float


class Limits(NamedTuple):
    """The figures of `stepping` that a step keeps to."""

    resting: Resting
    iterations: int
    halvings: int
    stride_halvings: int
    soft_steps: int
    moved_volts: float
    moved_share: float
    stray_farads: float
    ring_volts: float
    ring_share: float


class Bench(NamedTuple):
    """Room to reckon in, for so many lanes."""

    sheet: Any  # (slot + 1, lane) the straight parts of a step
    pushed: Any  # (node + 1, lane) what is pushed into it
    matrix: Any
    right: Any
    held: Any
    sign: Any
    active: Any
    every: Any
    before: Any  # (row of state, lane) as it was before the step
    stamped: Any  # (lane,) length of the step that the sheet stands for, negative by backward Euler


@intrinsic
def run_law(typing, address, rows, active, lanes, matrix, right, held):
    """Run the compiled law that lies at an address."""
    given = (rows, active, lanes, matrix, right, held)

    def generate(context, builder, signature, values):
        kind = context.call_conv.get_function_type(types.none, given)
        law = builder.inttoptr(values[0], ir.PointerType(kind))
        context.call_conv.call_function(builder, law, types.none, given, values[1:])
        return context.get_dummy_value()

    return types.void(types.intp, *given), generate


@njit(cache=True, nogil=True, error_model="numpy")
def run_role(plan, table, marks, active, lanes, matrix, right, held):
    """Run all laws of a role on the active lanes; marks: the first and last of them."""
    for u in range(marks[0], marks[1]):
        rows = table[plan.uses[u, 1] : plan.uses[u, 2]]
        run_law(plan.uses[u, 0], rows, active, lanes, matrix, right, held)  # type: ignore[call-arg]


@njit(cache=True, nogil=True, error_model="numpy")
def copy(one, other, rows):
    """So many rows of one array into another."""
    for row in range(rows):
        for j in range(one.shape[1]):
            other[row, j] = one[row, j]


@njit(cache=True, nogil=True, error_model="numpy")
def gather(base, pushed, active, matrix, right, held):
    """The straight parts of the lanes that are still active."""
    for c in range(len(active)):
        held[c] = False
    for row in range(base.shape[0]):
        for c in range(len(active)):
            matrix[row, c] = base[row, active[c]]
    for row in range(pushed.shape[0]):
        for c in range(len(active)):
            right[row, c] = pushed[row, active[c]]


@njit(cache=True, nogil=True, error_model="numpy")
def solve(steps, below, entries, across, matrix, right, width, sign):
    """`pattern.eliminate` and `pattern.back_substitute`; sign as there."""
    for j in range(width):
        sign[j] = 1.0
    for s in range(len(steps)):
        node, pivot = steps[s, 0], steps[s, 1]
        for j in range(width):
            if matrix[pivot, j] < 0.0:
                sign[j] = -sign[j]
            matrix[pivot, j] = 1.0 / matrix[pivot, j]
        for b in range(steps[s, 2], steps[s, 3]):
            row, slot = below[b, 0], below[b, 1]
            for j in range(width):
                matrix[slot, j] *= matrix[pivot, j]
            for e in range(below[b, 2], below[b, 3]):
                target, origin = entries[e, 0], entries[e, 1]
                for j in range(width):
                    matrix[target, j] -= matrix[slot, j] * matrix[origin, j]
            for j in range(width):
                right[row, j] -= matrix[slot, j] * right[node, j]
    for s in range(len(steps) - 1, -1, -1):
        node, pivot = steps[s, 0], steps[s, 1]
        for a in range(steps[s, 4], steps[s, 5]):
            column, slot = across[a, 0], across[a, 1]
            for j in range(width):
                right[node, j] -= matrix[slot, j] * right[column, j]
        for j in range(width):
            right[node, j] *= matrix[pivot, j]


@njit(cache=True, nogil=True, error_model="numpy")
def move(right, volts, nodes, active, held, closed, close, share):
    """The next volts of the active lanes; those that stand still are closed, the others are moved to the front of
    `active`: how many. A figure that is no number never stands still."""
    left = 0
    for c in range(len(active)):
        j, moved, size, sound = active[c], 0.0, 0.0, True
        for n in range(nodes):
            value = right[n, c]
            moved = max(moved, abs(value - volts[n, j]))
            size = max(size, abs(value))
            sound = sound and np.isfinite(value)
            volts[n, j] = value
        if sound and not held[c] and moved <= close + share * size:
            closed[j] = True
        else:
            active[left] = j
            left += 1
    return left


@njit(cache=True, nogil=True, error_model="numpy")
def make_bench(plan, width, slots):
    """Room for so many lanes."""
    nodes, state = plan.sizes[NODES], plan.sizes[STATE]
    return Bench(
        np.zeros((slots, width)),
        np.zeros((nodes + 1, width)),
        np.empty((slots, width)),
        np.empty((nodes + 1, width)),
        np.zeros(width, np.bool_),
        np.empty(width),
        np.empty(width, np.int64),
        np.arange(width),
        np.empty((state, width)),
        np.zeros(width),
    )


@njit(cache=True, nogil=True, error_model="numpy")
def prepare(plan, table, limits, bench, lanes, base, pushed, seconds, soft, waves):
    """The straight parts of a step, and what is pushed into it, for every lane; waves (wave,): where each stands."""
    nodes, soft_row, rate = plan.sizes[NODES], plan.sizes[SOFT], plan.sizes[RATE]
    width, same = lanes.shape[1], plan.sizes[MOVING] == 0
    for j in range(width):
        even = 0.0 if soft or lanes[soft_row, j] > 0.0 else 1.0
        lanes[rate, j], lanes[rate + 1, j], lanes[rate + 2, j] = (1.0 + even) / seconds, even, seconds
        key = seconds if even > 0.0 else -seconds
        same = same and bench.stamped[j] == key
        bench.stamped[j] = key
    for n in range(plan.courses.shape[0]):
        row, plain, size, share, swing = plan.courses[n]
        for j in range(width):
            value = lanes[plain, j]
            if share >= 0:
                value = value * waves[share]
            if swing >= 0:
                value = value + lanes[size, j] * waves[swing]
            lanes[row, j] = value
    stray = limits.stray_farads / seconds
    run_role(plan, table, plan.marks[LATE], bench.every, lanes, bench.sheet, bench.pushed, bench.held)
    if not same:
        copy(base, bench.sheet, base.shape[0])
        for n in range(nodes):
            for j in range(width):
                bench.sheet[n, j] += stray
        run_role(plan, table, plan.marks[STAMP], bench.every, lanes, bench.sheet, bench.pushed, bench.held)
    for n in range(nodes + 1):
        for j in range(width):
            bench.pushed[n, j] = pushed[n, j] + stray * lanes[n, j]
    run_role(plan, table, plan.marks[PUSH], bench.every, lanes, bench.sheet, bench.pushed, bench.held)


@njit(cache=True, nogil=True, error_model="numpy")
def close_in(plan, table, limits, bench, lanes, tried, closed):
    """Newton's method from where the volts stand, for the lanes that are tried; which of them it closed."""
    nodes, count = plan.sizes[NODES], 0
    for j in range(lanes.shape[1]):
        closed[j] = False
        if tried[j]:
            bench.active[count] = j
            count += 1
    for _ in range(limits.iterations):
        if count == 0:
            break
        active = bench.active[:count]
        gather(bench.sheet, bench.pushed, active, bench.matrix, bench.right, bench.held)
        run_role(plan, table, plan.marks[BEND], active, lanes, bench.matrix, bench.right, bench.held)
        solve(plan.steps, plan.below, plan.entries, plan.across, bench.matrix, bench.right, count, bench.sign)
        count = move(
            bench.right, lanes, nodes, active, bench.held, closed, limits.moved_volts, limits.moved_share
        )  # fmt: skip


@njit(cache=True, nogil=True, error_model="numpy")
def end_step(plan, table, limits, bench, lanes, seconds, done):
    """All that the next step needs, in the lanes that are done, ascending."""
    nodes, slope, turned, soft = plan.sizes[NODES], plan.sizes[SLOPE], plan.sizes[TURNED], plan.sizes[SOFT]
    for j in done:
        size, rings = 0.0, False
        for n in range(nodes):
            size = max(size, abs(lanes[n, j]))
        for n in range(nodes):
            moved = lanes[n, j] - bench.before[n, j]
            far = abs(moved) > limits.ring_volts + limits.ring_share * size
            turns = far and moved / seconds * lanes[slope + n, j] < 0.0
            rings = rings or (turns and lanes[turned + n, j] > 0.0)
            lanes[turned + n, j] = 1.0 if turns else 0.0
            lanes[slope + n, j] = moved / seconds
        lanes[soft, j] = limits.soft_steps if rings else max(lanes[soft, j] - 1.0, 0.0)
        for n in range(plan.lagging.shape[0]):
            lanes[plan.lagging[n, 0], j] = lanes[plan.lagging[n, 1], j]
    run_role(plan, table, plan.marks[KEEP], done, lanes, bench.sheet, bench.pushed, bench.held)


@njit(cache=True, nogil=True, error_model="numpy")
def step(plan, table, limits, bench, lanes, base, pushed, tick, waves, tried, closed):
    """One step of the lanes that are tried; which of them it closed, the others stay where they were.

    tick: length, soft, fresh, and how often it was halved.
    """
    nodes, state, newton, slope = plan.sizes[NODES], plan.sizes[STATE], plan.sizes[NEWTON], plan.sizes[SLOPE]
    seconds, soft, fresh, depth = tick[0], tick[1] > 0.0, tick[2] > 0.0, tick[3]
    width, count = lanes.shape[1], 0
    copy(lanes, bench.before, state)
    prepare(plan, table, limits, bench, lanes, base, pushed, seconds, soft, waves)
    if not fresh:
        for n in range(nodes):
            for j in range(width):
                if tried[j]:
                    lanes[n, j] += lanes[slope + n, j] * seconds
    close_in(plan, table, limits, bench, lanes, tried, closed)
    if plan.lagging.shape[0]:
        for j in range(width):
            if closed[j]:
                bench.active[count] = j
                bench.held[count] = False
                count += 1
        done = bench.active[:count]
        run_role(plan, table, plan.marks[LAG], done, lanes, bench.sheet, bench.pushed, bench.held)
        run_role(plan, table, plan.marks[STRIDE], done, lanes, bench.sheet, bench.pushed, bench.held)
        if depth < limits.stride_halvings:
            for c in range(count):
                closed[done[c]] = not bench.held[c]
    count = 0
    for j in range(width):
        if closed[j]:
            bench.active[count] = j
            count += 1
        else:
            for n in range(newton):
                lanes[n, j] = bench.before[n, j]
    end_step(plan, table, limits, bench, lanes, seconds, bench.active[:count])


@njit(cache=True, nogil=True, error_model="numpy")
def settle(plan, table, limits, bench, lanes):
    """`newton.settle` of one lane, on the sheet as it stands: whether it came to rest."""
    nodes, every = plan.sizes[NODES], bench.every
    inertia, marks, settled = limits.settle_first, plan.marks[TRUST], False
    for n in range(limits.settle_steps):
        last = n >= limits.settle_steps - 10
        inertia = 0.0 if last else inertia
        gather(bench.sheet, bench.pushed, every, bench.matrix, bench.right, bench.held)
        run_role(plan, table, marks, every, lanes, bench.matrix, bench.right, bench.held)
        marks = plan.marks[BEND]
        for node in range(nodes):
            bench.matrix[node, 0] += inertia
            bench.right[node, 0] += inertia * lanes[node, 0]
        solve(plan.steps, plan.below, plan.entries, plan.across, bench.matrix, bench.right, len(every), bench.sign)
        moved, size, sound = 0.0, 0.0, True
        back = bench.sign[0] < 0.0 and not last
        for node in range(nodes):
            value = bench.right[node, 0]
            sound = sound and np.isfinite(value)
            moved = max(moved, abs(value - lanes[node, 0]))
            if np.isfinite(value) and not back:
                lanes[node, 0] = value
            size = max(size, abs(lanes[node, 0]))
        inertia *= limits.settle_back if back else limits.settle_ratio
        still = sound and not bench.held[0]
        settled = still and bench.sign[0] > 0.0 and moved <= limits.noise_volts + 1e-8 * size
        if inertia < limits.settled and still and moved <= limits.close_volts:
            break
    return settled


@njit(cache=True, nogil=True, error_model="numpy")
def settle_in(plan, table, limits, bench, lanes, base, pushed, tick, waves):
    """`stepping.Stepper._settled` of one lane: whether it came to rest within the step."""
    nodes, slope, every = plan.sizes[NODES], plan.sizes[SLOPE], bench.every
    seconds, soft = tick[0], tick[1] > 0.0
    copy(lanes, bench.before, plan.sizes[STATE])
    prepare(plan, table, limits, bench, lanes, base, pushed, seconds, soft, waves)
    settled = settle(plan, table, limits.resting, bench, lanes)
    # controls as they are where it came to rest
    gather(bench.sheet, bench.pushed, every, bench.matrix, bench.right, bench.held)
    run_role(plan, table, plan.marks[TRUST], every, lanes, bench.matrix, bench.right, bench.held)
    run_role(plan, table, plan.marks[LAG], every, lanes, bench.sheet, bench.pushed, bench.held)
    end_step(plan, table, limits, bench, lanes, seconds, every)
    for n in range(nodes):
        lanes[slope + n, 0] = 0.0
    return settled


@njit(cache=True, nogil=True, error_model="numpy")
def alone(plan, table, limits, bench, lanes, base, pushed, tick, waves, kept):
    """A step of one lane that is not closed at once: in halves, and halves of those; what none closes settles. Whether
    it was closed in the end.

    tick: as of `step`; waves (part of the step, wave): the whole, its halves, their halves; kept (depth, row, 1).
    """
    here, state = np.empty(4), plan.sizes[STATE]
    tried, closed = np.ones(1, np.bool_), np.zeros(1, np.bool_)
    part = np.zeros(limits.halvings + 2, np.int64)  # which of the parts of its depth is at hand
    copy(lanes, kept[0], state)
    solved, split = False, limits.halvings > 0  # split: a part goes on in its halves, the first of them first
    depth = 1 if split else 0
    while True:
        first = part[depth] % 2 == 0
        here[0], here[1], here[2], here[3] = tick[0] / (1 << depth), 1.0, 1.0 if first else 0.0, depth
        if depth == 0:
            here[1], here[2] = tick[1], tick[2]
        at = waves[(1 << depth) - 1 + part[depth]]
        if split:
            copy(lanes, kept[depth], state)
            step(plan, table, limits, bench, lanes, base, pushed, here, at, tried, closed)
            solved = closed[0]
            if not solved and depth < limits.halvings:
                part[depth + 1] = 2 * part[depth]
                depth += 1
                continue
        if not solved:
            copy(kept[depth], lanes, state)
            solved = settle_in(plan, table, limits, bench, lanes, base, pushed, here, at)
        while solved and depth > 0 and part[depth] % 2 == 1:
            depth -= 1  # both halves are closed
        if depth == 0:
            return solved
        split = solved
        if solved:
            part[depth] += 1
        else:
            depth -= 1


@njit(cache=True, nogil=True, error_model="numpy")
def pick(table, rows, lanes, base, pushed, j, one_table, one_lanes, one_base, one_pushed):
    """One lane by itself."""
    for row in range(lanes.shape[0]):
        one_lanes[row, 0] = lanes[row, j]
    for row in range(base.shape[0]):
        one_base[row, 0] = base[row, j]
    for row in range(pushed.shape[0]):
        one_pushed[row, 0] = pushed[row, j]
    for r in range(rows):
        one_table[r, 0], one_table[r, 1] = 0, 1 if table[r, 0] <= j < table[r, 1] else 0


@njit(cache=True, nogil=True, error_model="numpy")
def march(plan, limits, lanes, base, pushed, ticks, waves, known, first, pending, failed, solved, seen, out, since):
    """From one step to the last; where it stopped and why, to be gone on with.

    ticks (tick, [length, soft, fresh, 0]); waves (tick, part, wave): where each wave stands, of the parts only where
    known (tick,); first: the step to begin with, pending: only its lanes that failed (lane,) are still to go; solved
    (lane,), changed in place; seen (place,): rows that are written down in out (place, lane, time), from `since` on.
    """
    width, state = lanes.shape[1], plan.sizes[STATE]
    one_table, one_lanes = plan.table.copy(), np.empty((lanes.shape[0], 1))
    bench, alone_at = make_bench(plan, width, base.shape[0]), make_bench(plan, one_lanes.shape[1], base.shape[0])
    one_base, one_pushed = np.empty((base.shape[0], 1)), np.empty((pushed.shape[0], 1))
    kept, closed = np.empty((limits.halvings + 1, state, 1)), np.zeros(width, np.bool_)
    trusting = plan.marks[TRUST, 0] < plan.marks[TRUST, 1] or plan.marks[BEND, 0] == plan.marks[BEND, 1]
    for n in range(first, len(ticks)):
        if not pending:
            step(plan, plan.table, limits, bench, lanes, base, pushed, ticks[n], waves[n, 0], solved, closed)
            for j in range(width):
                failed[j] = solved[j] and not closed[j]
        pending = False
        for j in range(width):
            if failed[j]:
                if not known[n]:
                    return n, NEEDS_WAVES
                if not trusting:
                    return n, NEEDS_TRUST
                pick(plan.table, len(one_table), lanes, base, pushed, j, one_table, one_lanes, one_base, one_pushed)
                alone_at.stamped[0] = 0.0
                solved[j] = alone(
                    plan, one_table, limits, alone_at, one_lanes, one_base, one_pushed, ticks[n], waves[n], kept
                )  # fmt: skip
                for row in range(state):
                    lanes[row, j] = one_lanes[row, 0]
                failed[j] = False
        if n + 1 >= since:
            for row in range(len(seen)):
                for j in range(width):
                    out[row, j, n + 1 - since] = lanes[seen[row], j]
    return len(ticks), DONE


@njit(cache=True, nogil=True, error_model="numpy")
def seek(plan, limits, lanes, base, pushed, damping, first, solved, stable):
    """`newton.seek` from step number `first` on, of the lanes not solved; solved and stable (lane,) changed in place.

    damping (step,): share of each step that is gone.
    """
    nodes, width, count = plan.sizes[NODES], lanes.shape[1], 0
    bench = make_bench(plan, width, base.shape[0])
    for j in range(width):
        if not solved[j]:
            bench.active[count] = j
            count += 1
    for n in range(first, len(damping)):
        if count == 0:
            break
        active = bench.active[:count]
        gather(base, pushed, active, bench.matrix, bench.right, bench.held)
        run_role(plan, plan.table, plan.marks[BEND], active, lanes, bench.matrix, bench.right, bench.held)
        solve(plan.steps, plan.below, plan.entries, plan.across, bench.matrix, bench.right, count, bench.sign)
        close, left = limits.close_volts if n < limits.patience else limits.noise_volts, 0
        for c in range(count):
            j, moved, size, sound = active[c], 0.0, 0.0, True
            for node in range(nodes):
                value = bench.right[node, c]
                moved, size = max(moved, abs(value - lanes[node, j])), max(size, abs(value))
                sound = sound and np.isfinite(value)
            done = sound and not bench.held[c] and moved <= close + 1e-9 * size
            share = 1.0 if done else damping[n]
            for node in range(nodes):
                value = lanes[node, j] + share * (bench.right[node, c] - lanes[node, j])
                lanes[node, j] = bench.right[node, c] if share == 1.0 else value
                sound = sound and np.isfinite(lanes[node, j])
            for node in range(0 if sound else nodes):
                lanes[node, j] = 0.0
            if done:
                solved[j], stable[j] = True, bench.sign[c] > 0.0
            else:
                active[left] = j
                left += 1
        count = left


@njit(cache=True, nogil=True, error_model="numpy")
def run_down(plan, limits, lanes, base, pushed, solved):
    """`newton.settle` of every lane, one by one."""
    one, table = np.empty((lanes.shape[0], 1)), plan.table.copy()
    bench = make_bench(plan, one.shape[1], base.shape[0])
    for j in range(lanes.shape[1]):
        pick(plan.table, len(table), lanes, base, pushed, j, table, one, bench.sheet, bench.pushed)
        solved[j] = settle(plan, table, limits, bench, one)
        for row in range(lanes.shape[0]):
            lanes[row, j] = one[row, 0]
