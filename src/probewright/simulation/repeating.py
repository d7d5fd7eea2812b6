"""What a circuit repeats period after period, found without waiting until it has settled by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from probewright.machine.waves import Course
from probewright.simulation.circuit import Batch, Circuit
from probewright.simulation.stepping import BLOCK, Stepper
from probewright.simulation.tracing import Trace, run

PLAIN = 2  # periods run as they are before any is foretold: a reservoir charges at first, as it never does again
MOST_PERIODS = 40
REMEMBERED = 6  # periods whose changes foretell the rest: more slow charges than a section has
SETTLED_VOLTS = 1e-3  # V: what may still be missing from a charge, by the change and by what is foretold
SETTLED_SHARE = 1e-4  # ... or this share of it; of a coil's current, of the greatest
FURTHEST = 3.0  # chosen: a foretold charge lies no further off than so many times the greatest in the circuit
WORSE = 2.0  # chosen: where a period changes so many times more than the one before, what was foretold was wrong


@dataclass(frozen=True)
class Repeated:
    """One period of the settled circuit.

    trace: from nought to the period, solved only where it settled; missing (variant,): V by which some charge is still
    foretold to change; periods: how many were run; last (state, variant): all that is carried on from it.
    """

    trace: Trace
    missing: np.ndarray
    periods: int
    last: np.ndarray


@dataclass
class Memory:
    """States and their changes over a period of the last few periods, newest last, (state, variant) each."""

    states: list[np.ndarray]
    changes: list[np.ndarray]

    def take(self, chosen: np.ndarray) -> Memory:
        """Those of these variants."""
        return Memory([one[:, chosen] for one in self.states], [one[:, chosen] for one in self.changes])

    def add(self, state: np.ndarray, change: np.ndarray) -> None:
        """One more period; the oldest is forgotten, and all of a variant that got worse."""
        if self.changes:
            before = np.max(np.abs(self.changes[-1]), axis=0, initial=0.0)
            worse = np.max(np.abs(change), axis=0, initial=0.0) > WORSE * before
            for n in range(len(self.states)):
                self.states[n] = np.where(worse, state, self.states[n])
                self.changes[n] = np.where(worse, change, self.changes[n])
        self.states, self.changes = [*self.states, state][-REMEMBERED:], [*self.changes, change][-REMEMBERED:]


def foretold(memory: Memory, scale: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """(state, variant) what is still missing after the last period, from how the changes changed.

    Charges run down by a nearly straight law x -> x + f(x), so a straight line through the last (x, f) is followed to
    where f is nought (Anderson, J. ACM 12, 1965; for straight laws it is GMRES, Walker and Ni, SIAM J. Numer.
    Anal. 49, 2011). scale (state, variant): what a change is measured by; counts (state,): False for what
    only follows the others.
    """
    last = memory.changes[-1]
    if len(memory.changes) < 2:
        return np.zeros_like(last)
    steps = np.stack([b - a for a, b in zip(memory.states, memory.states[1:], strict=False)])
    bends = np.stack([b - a for a, b in zip(memory.changes, memory.changes[1:], strict=False)])
    ruled = (bends / scale)[:, counts]
    across = np.einsum("nsv,msv->vnm", ruled, ruled)
    count = len(bends)
    # a little on the diagonal: two periods alike say nothing new
    across[:, range(count), range(count)] += 1e-11 * np.trace(across, axis1=1, axis2=2)[:, None] + 1e-30
    along = np.einsum("nsv,sv->vn", ruled, (last / scale)[counts])
    shares = np.linalg.solve(across, along[..., None])[..., 0].T
    return -np.einsum("nsv,nv->sv", steps + bends, shares)


def repeat(
    circuit: Circuit,
    batch: Batch,
    courses: Sequence[Course],
    places: Sequence[str],
    period: float,
    step: float,
    begin: np.ndarray | None = None,
    most: int = MOST_PERIODS,
) -> Repeated:
    """One settled period at these places, in steps of at most `step` s.

    Every wave repeats after `period` s. Settled is where neither the change over the last period nor what is
    foretold to be missing passes 1 mV or 0.01 % of any charge. What never settles (it drifts, it is an oscillator of
    its own) is not solved here. begin (state,): where all of them begin, as a circuit like these was carried on;
    None: at rest, which is further off; most: periods after which what has not settled is left.
    """
    seconds, volts, states, missing, longest = np.zeros(0), [], [], np.full(batch.size, np.inf), 0
    solved = np.zeros(batch.size, bool)
    for first in range(0, batch.size, BLOCK):
        here = np.arange(first, min(first + BLOCK, batch.size))
        stepper = Stepper(circuit, batch.take(here), courses)
        seconds, found, solved[here], missing[here], last, periods = _repeat(stepper, places, period, step, begin, most)
        states.append(last)
        volts.append(np.where(solved[here][None, :, None], found, np.nan))
        longest = max(longest, periods)
    whole = np.concatenate(volts, axis=1)
    settled = Trace(seconds, dict(zip(places, whole, strict=True)), solved)
    return Repeated(settled, missing, longest, np.concatenate(states, axis=1))


def _repeat(
    stepper: Stepper, places: Sequence[str], period: float, step: float, begin: np.ndarray | None, most: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray, int]:
    """seconds, (place, variant, time) V, settled (variant,), missing (variant,) V, states and how many periods."""
    window, size = (0.0, period, step), stepper.batch.size
    if begin is None:
        now, plain = stepper.at_rest(0.0), PLAIN
    else:
        now, plain = stepper.at_nought(), PLAIN - 1
        now = stepper.with_state(now, np.repeat(begin[:, None], size, axis=1))
    for _ in range(plain):
        seconds, volts, now = run(stepper, now, places, window, 0.0)
    last, _ = stepper.state(now)
    whole, settled, missing = volts, np.zeros(size, bool), np.full(size, np.inf)
    left, memory = np.arange(size), Memory([], [])
    for count in range(1, most):
        start, units = stepper.state(now)
        seconds, volts, now = run(stepper, now, places, window, 0.0)
        end, _ = stepper.state(now)
        scale, counts = np.maximum(_largest(start, units), _largest(end, units)), units != "node"
        memory.add(start, end - start)
        further = np.clip(foretold(memory, scale, counts), -FURTHEST * scale, FURTHEST * scale)
        off = np.where((units == "V")[:, None], SETTLED_VOLTS, 0.0) + SETTLED_SHARE * scale
        near = np.all(((np.abs(end - start) <= off) & (np.abs(further) <= off))[counts], axis=0)
        done = now.solved & near & (count > 1)
        whole[:, left], settled[left], last[:, left] = volts, done, end
        missing[left] = np.max(np.abs(further[units == "V"]), axis=0, initial=0.0)
        going = np.flatnonzero(now.solved & ~done)
        if not going.size:
            break
        now = stepper.with_state(now, end + further)
        if going.size < len(left):
            left, memory, now = left[going], memory.take(going), now.take(going)
            stepper = stepper.take(going)
    whole[:, :, 0] = whole[:, :, -1]  # it ends where it began; the first instant is still that of the period before
    return seconds, whole, settled, missing, last, plain + count


def _largest(state: np.ndarray, units: np.ndarray) -> np.ndarray:
    """(state, variant) the greatest of all in the same unit of the variant, which changes are measured by."""
    found = np.empty_like(state)
    for unit in ("V", "A", "node"):
        found[units == unit] = np.max(np.abs(state[units == unit]), axis=0, initial=0.0)
    return found + 1e-9
