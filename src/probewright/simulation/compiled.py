"""The loops of a step compiled by numba, where it is installed (the extra `fast`); the same figures as NumPy's.

The laws are not written again: each is taped (`tape`) and written out as a loop over parts and variants, which is
compiled when a circuit first needs it and kept on disk for the next start.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from probewright.machine.kinds import Kind
from probewright.simulation.circuit import Circuit, Group
from probewright.simulation.pattern import Order
from probewright.simulation.storing import Kept
from probewright.simulation.tape import Line, Taped, Untaped, taken, tape, taped_store, written

if TYPE_CHECKING:
    from probewright.simulation.newton import Sheet

Spans = Sequence[tuple[slice, tuple[int, ...]]]  # (variants, node of each pin) of one part
_plainly: ContextVar[bool] = ContextVar("plainly", default=False)


@contextmanager
def plainly() -> Iterator[None]:
    """NumPy alone within it, as where numba is not installed."""
    token = _plainly.set(True)
    try:
        yield
    finally:
        _plainly.reset(token)


@cache
def installed() -> bool:
    """Whether numba is there; nothing of it is loaded by asking."""
    return importlib.util.find_spec("numba") is not None


def wanted() -> bool:
    """Whether loops are to be compiled: numba is there, and nobody asked for NumPy alone."""
    return installed() and not _plainly.get() and not os.environ.get("PROBEWRIGHT_NUMPY")


def folder() -> Path:
    """Where compiled loops are kept from one start to the next."""
    home = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    return Path(home) / "probewright" / "compiled"


HEAD = '''"""Written by probewright.simulation.compiled; may be deleted at any time."""
from math import exp, expm1, log1p, sqrt, tanh
import numpy as np
from numba import njit
from numpy import log, sign

@njit(inline="always")
def most(a, b):
    return a if a >= b or a != a else b

@njit(inline="always")
def least(a, b):
    return a if a <= b or a != a else b

'''


def source(taped: Taped) -> str:
    """A loop over the parts of a kind and the variants that are active, as text."""
    takes = taken(taped)
    array = {one: f"given{n}" for n, one in enumerate(takes)}
    pins = [line.of[0].value for line in taped.tape.lines if line.does == "volts"]

    def given(line: Line) -> str:
        of = line.of[0].value
        if line.does == "volts":
            return f"volts[row{pins.index(of)}, j]"
        name = array[line.does, of]
        column = "j" if line.does == "control" else f"j if wide_{name} else 0"
        return f"{name}[{'0' if line.does == 'shared' else 'part'}, {column}]"

    lines, name = written(taped, given, "            ")
    text = ['@njit(cache=True, error_model="numpy")']
    text.append(f"def law({', '.join(['rows', 'active', 'volts', 'matrix', 'right', 'held', *array.values()])}):")
    text += [f"    wide_{name} = {name}.shape[1] > 1" for (does, _), name in array.items() if does != "control"]
    text += ["    for r in range(rows.shape[0]):", "        part = rows[r, 0]"]
    text += ["        first, last = np.searchsorted(active, rows[r, 1]), np.searchsorted(active, rows[r, 2])"]
    text += [f"        row{n} = rows[r, {3 + n}]" for n in range(len(pins))]
    text += [f"        slot{n} = rows[r, {3 + len(pins) + n}]" for n in range(len(taped.slope))]
    text += ["        for c in range(first, last):", "            j = active[c]", *lines]
    text += [f"            matrix[slot{n}, c] += {name(one)}" for n, one in enumerate(taped.slope.values())]
    text += [f"            right[row{pins.index(pin)}, c] -= {name(one)}" for pin, one in taped.rest.items()]
    text += [f"            {array['control', key]}[part, j] = {name(one)}" for key, one in taped.kept.items()]
    text += [f"            if {name(taped.held)}:", "                held[c] = True"]
    return HEAD + "\n".join(text) + "\n"


class Law(NamedTuple):
    """A law as a compiled loop, what it takes behind the arrays of the step, and the pins of its slopes."""

    loop: Callable[..., None]
    takes: list[tuple[str, str]]
    slopes: list[tuple[str, str]]

    def steady(self, sheet: Sheet, which: int) -> list[np.ndarray]:
        """What it takes that stays the same through a step: figures of group number `which`, how branches conduct."""
        found = []
        for does, of in self.takes:
            if does == "figure":
                found.append(np.ascontiguousarray(sheet.figures[which][of], float))
            elif does == "siemens":
                row, column = map(int, of.split("_"))
                found.append(np.ascontiguousarray(sheet.stores[which][1][row, column]))
        return found

    @property
    def controls(self) -> list[str]:
        """Names of the controls it takes and keeps, in order."""
        return [of for does, of in self.takes if does == "control"]


def made(taped: Taped) -> Law:
    """The loop of a tape."""
    return Law(load(source(taped)).law, taken(taped), list(taped.slope))


def load(text: str) -> Any:
    """The module of a text, kept in a file so that numba can keep what it compiled beside it."""
    name = f"law_{hashlib.sha256(text.encode()).hexdigest()[:16]}"
    if name in sys.modules:
        return sys.modules[name]
    try:
        folder().mkdir(parents=True, exist_ok=True)
        file = folder() / f"{name}.py"
        if not file.exists():
            file.with_suffix(f".{os.getpid()}").write_text(text, encoding="utf-8")
            file.with_suffix(f".{os.getpid()}").replace(file)
    except OSError:  # nothing can be kept here: it is compiled anew at every start
        file = Path(tempfile.mkdtemp(prefix="probewright-")) / f"{name}.py"
        file.write_text(text, encoding="utf-8")
    spec = importlib.util.spec_from_file_location(name, file)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    sys.modules[name] = module
    return module


@cache
def law_of(kind: Kind) -> Law | None:
    """The compiled law of a kind; None where it cannot be taped."""
    try:
        return made(tape(kind))
    except Untaped:
        return None


@cache
def store_of(kind: Kind) -> tuple[Law, Law] | None:
    """What the branches of a kind push into a step and what they keep behind it; None where it cannot be taped."""
    try:
        push, keep = taped_store(kind)
    except Untaped:
        return None
    return made(push), made(keep)


class Ready(NamedTuple):
    """A batch of a circuit as the loops take it.

    By group number, its law or the two of its branches, and for every part and span of variants: part, first and last
    variant, row of volts of each pin, slot of each slope (ground has the last of both).
    """

    order: Order
    laws: dict[int, tuple[Law, np.ndarray]]
    stores: dict[int, tuple[Law, Law, np.ndarray]]
    every: np.ndarray  # (variant,) all of them
    nothing: np.ndarray  # (variant,) a place for what is not asked


def make_ready(sheet: Sheet) -> Ready | None:
    """The loops of a batch; None where they are not wanted or a law of it cannot be compiled."""
    if not wanted():
        return None
    laws: dict[int, tuple[Law, np.ndarray]] = {}
    stores: dict[int, tuple[Law, Law, np.ndarray]] = {}
    for which, group in enumerate(sheet.circuit.groups):
        if group.kind.nonlinear is not None:
            law = law_of(group.kind)
            if law is None:
                return None
            laws[which] = law, _rows(sheet.circuit, group, law.slopes, sheet.spans[which])
        if group.kind.storing is not None:
            both = store_of(group.kind)
            if both is None:
                return None
            stores[which] = *both, _rows(sheet.circuit, group, (), sheet.spans[which])
    return Ready(sheet.circuit.pattern.tables, laws, stores, np.arange(sheet.width), np.zeros(sheet.width, bool))


def _rows(circuit: Circuit, group: Group, slopes: Sequence[tuple[str, str]], spans: Sequence[Spans]) -> np.ndarray:
    """The table of one group, as `Ready` has it."""
    slot, ground = circuit.pattern.slot, len(circuit.pattern.slot)
    pairs = [(group.pin_index[row], group.pin_index[column]) for row, column in slopes]
    rows = []
    for part, here in enumerate(spans):
        for span, nodes in here:
            slots = [slot.get((nodes[row], nodes[column]), ground) for row, column in pairs]
            volts = [node if node >= 0 else circuit.size for node in nodes]
            rows.append([part, span.start, span.stop, *volts, *slots])
    return np.array(rows, np.int64)


Controls = dict[int, dict[str, np.ndarray]]


def _whole(memory: Mapping[int, Mapping[str, Any]], ready: Ready, width: int) -> Controls | None:
    """Copies of the controls of every group, (part, variant); None where one is missing, as before a first step."""
    found: Controls = {}
    for which, (law, rows) in ready.laws.items():
        kept, shape = memory.get(which, {}), (int(rows[-1, 0]) + 1, width)
        found[which] = {}
        for name in law.controls:
            one = kept.get(name)
            if not isinstance(one, np.ndarray):
                return None
            found[which][name] = np.array(one if one.shape == shape else np.broadcast_to(one, shape), float, order="C")
    return found


def linearise(
    ready: Ready, sheet: Sheet, volts: np.ndarray, memory: Mapping[int, Any]
) -> tuple[np.ndarray, np.ndarray, dict[int, Any], np.ndarray] | None:
    """`Sheet.linearise` in compiled loops; None where a control is missing, as before a first step."""
    from probewright.simulation import loops

    controls = _whole(memory, ready, sheet.width)
    if controls is None:
        return None
    matrix, right = np.empty((len(sheet.base) + 1, sheet.width)), np.empty((len(sheet.pushed) + 1, sheet.width))
    held = np.empty(sheet.width, bool)
    loops.gather(sheet.base, sheet.pushed, ready.every, matrix, right, held)
    for which, (law, rows) in ready.laws.items():
        given = [*law.steady(sheet, which), *controls[which].values()]
        law.loop(rows, ready.every, volts, matrix, right, held, *given)
    return matrix[:-1], right[:-1], controls, held


def solve(ready: Ready, matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """`pattern.eliminate` and `pattern.back_substitute` in a compiled loop: right becomes the answer; sign as there."""
    from probewright.simulation import loops

    sign = np.empty(matrix.shape[1])
    loops.solve(*ready.order, matrix, right, matrix.shape[1], sign)
    return sign


def close_in(
    ready: Ready,
    sheet: Sheet,
    start: np.ndarray,
    memory: dict[int, Any],
    tried: np.ndarray,
    limits: tuple[int, float, float],
) -> tuple[np.ndarray, dict[int, Any], np.ndarray]:
    """`stepping._close_in` in compiled loops; limits: most steps, and how close is close, V and share."""
    from probewright.simulation import loops

    most, close, share = limits
    volts, active, closed = start.copy(), np.flatnonzero(tried), ~tried
    matrix, right = np.empty((len(sheet.base) + 1, sheet.width)), np.empty((len(sheet.pushed) + 1, sheet.width))
    held, sign = np.empty(sheet.width, bool), np.empty(sheet.width)
    arrays: dict[int, list[np.ndarray]] = {}
    controls = _whole(memory, ready, sheet.width)
    for _ in range(most):
        if not active.size:
            break
        if controls is None:  # the first step from nowhere is NumPy's
            wholly, pushed, memory, stopped = sheet.linearise(volts, memory)
            matrix[:-1, : len(active)], right[:-1, : len(active)] = wholly[:, active], pushed[:, active]
            held[: len(active)], controls = stopped[active], _whole(memory, ready, sheet.width)
        else:
            loops.gather(sheet.base, sheet.pushed, active, matrix, right, held)
            for which, (law, rows) in ready.laws.items():
                if which not in arrays:
                    arrays[which] = [*law.steady(sheet, which), *controls[which].values()]
                law.loop(rows, active, volts, matrix, right, held, *arrays[which])
        loops.solve(*ready.order, matrix, right, len(active), sign)
        active = active[: loops.move(right, volts, active, held, closed, close, share)]
    return volts, controls or {}, closed


def _given(sheet: Sheet, which: int, law: Law, kept: Kept, rate: Any, even: Any) -> list[np.ndarray]:
    """What a loop of branches takes; what stays the same is kept with the sheet."""
    key = which, id(law.loop)
    if key not in sheet.given:
        sheet.given[key] = law.steady(sheet, which)
    shared = {"rate": rate, "even": even}
    found = [*sheet.given[key]]
    for does, of in law.takes:
        if does == "shared":
            found.append(np.array(shared[of], float, ndmin=2))
        elif does == "control":
            what, _, branch = of.partition("_")
            found.append(getattr(kept, what)[int(branch)])
    return found


def push(ready: Ready, sheet: Sheet, kept: Mapping[int, Kept], rate: Any, even: Any) -> np.ndarray:
    """What is pushed into the nodes of a step, (node, variant) A, with what branches keep."""
    right = np.zeros((len(sheet.pushed) + 1, sheet.width))
    right[:-1] = sheet.pushed
    for which, (law, _, rows) in ready.stores.items():
        law.loop(
            rows, ready.every, right, right, right, ready.nothing, *_given(sheet, which, law, kept[which], rate, even)
        )
    return right[:-1]


def keep_on(
    ready: Ready, sheet: Sheet, kept: Mapping[int, Kept], rate: Any, even: Any, volts: np.ndarray
) -> dict[int, Kept]:
    """What branches keep when a step ends at these volts, (node + 1, variant)."""
    found = {}
    for which, (_, law, rows) in ready.stores.items():
        before = kept[which]
        found[which] = Kept(before.amps.copy(), before.charged.copy(), before.pushed.copy())
        given = _given(sheet, which, law, found[which], rate, even)
        law.loop(rows, ready.every, volts, volts, volts, ready.nothing, *given)
    return found
