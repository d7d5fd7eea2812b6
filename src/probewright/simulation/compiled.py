"""Laws compiled by numba, where it is installed (the extra `fast`), and laid out for the loop that takes the steps.

The laws are not written again: each is taped (`tape`) and written out as a loop over parts and variants, which is
compiled when a circuit first needs it and kept on disk for the next start. All of them take the same arrays, and a
table that says in which rows of those a part finds what it needs; so one loop over steps (`loops`) runs any circuit.
"""

from __future__ import annotations

import atexit
import hashlib
import importlib.util
import os
import shutil
import sys
import tempfile
import threading
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from probewright.machine.kinds import Kind
from probewright.machine.waves import Course
from probewright.simulation.circuit import Circuit
from probewright.simulation.pattern import Order
from probewright.simulation.tape import Line, Taped, Untaped, taken, tape, taped_lag, taped_line, taped_store, written

if TYPE_CHECKING:
    from probewright.simulation.newton import Sheet

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
    home = os.environ.get("XDG_CACHE_HOME", "")
    home = home if os.path.isabs(home) else os.path.join(os.path.expanduser("~"), ".cache")
    return Path(home) / "probewright" / "compiled"


HEAD = '''"""Written by probewright.simulation.compiled; may be deleted at any time."""
from math import exp, expm1, log1p, sqrt, tanh
import numpy as np
from numba import boolean, float64, int64, njit, void
from numpy import log, sign

GIVEN = void(int64[:, ::1], int64[::1], float64[:, ::1], float64[:, ::1], float64[:, ::1], boolean[::1])

@njit(inline="always")
def most(a, b):
    return a if a >= b or a != a else b

@njit(inline="always")
def least(a, b):
    return a if a <= b or a != a else b

'''


def source(taped: Taped) -> str:
    """A loop over the parts of a kind and the variants that are active, as text.

    rows (part and span of variants, column): first and last variant, then for each thing taken its row of `lanes`, for
    each kept the same, for each slope its slot of `matrix`, for each pin that gets amps its row of `right`; active
    (column,): which lane stands in each column of matrix and right.
    """
    takes, keeps = taken(taped), list(taped.kept)
    names = [f"from{n}" for n in range(len(takes))] + [f"into{n}" for n in range(len(keeps))]
    names += [f"slot{n}" for n in range(len(taped.slope))] + [f"node{n}" for n in range(len(taped.rest))]

    def given(line: Line) -> str:
        return f"lanes[from{takes.index((line.does, line.of[0].value))}, j]"

    lines, name = written(taped, given, "            ")
    text = ['@njit([GIVEN], cache=True, error_model="numpy", nogil=True)']
    text += ["def law(rows, active, lanes, matrix, right, held):"]
    text += ["    for r in range(rows.shape[0]):"]
    text += ["        first, last = np.searchsorted(active, rows[r, 0]), np.searchsorted(active, rows[r, 1])"]
    text += [f"        {one} = rows[r, {2 + n}]" for n, one in enumerate(names)]
    text += ["        for c in range(first, last):", "            j = active[c]", *lines]
    text += [f"            matrix[slot{n}, c] += {name(one)}" for n, one in enumerate(taped.slope.values())]
    text += [f"            right[node{n}, c] -= {name(one)}" for n, one in enumerate(taped.rest.values())]
    text += [f"            lanes[into{n}, j] = {name(one)}" for n, one in enumerate(taped.kept.values())]
    text += [f"            if {name(taped.held)}:", "                held[c] = True"]
    return HEAD + "\n".join(text) + "\n"


class Law(NamedTuple):
    """A law as a compiled loop: where it lies in memory, what it takes and keeps, pins of its slopes and amps."""

    address: int
    takes: list[tuple[str, str]]
    keeps: list[str]
    slopes: list[tuple[str, str]]
    pins: list[str]


def made(taped: Taped) -> Law:
    """The loop of a tape."""
    loop = load(source(taped)).law
    found = loop.overloads[loop.signatures[0]]
    address = found.library.get_pointer_to_function(found.fndesc.llvm_func_name)
    return Law(address, taken(taped), list(taped.kept), list(taped.slope), list(taped.rest))


_loading = threading.RLock()  # a second thread waits until a module is whole


@cache
def keeping(kept: Path) -> Path:
    """That folder; where nothing can be written in it, one that goes when the process ends: all is compiled anew."""
    try:
        kept.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=kept):
            return kept
    except OSError:
        passing = tempfile.mkdtemp(prefix="probewright-")
        atexit.register(shutil.rmtree, passing, ignore_errors=True)
        return Path(passing)


def load(text: str) -> Any:
    """The module of a text, kept in a file so that numba can keep what it compiled beside it."""
    name, data = f"law_{hashlib.sha256(text.encode()).hexdigest()[:16]}", text.encode()
    with _loading:
        if name in sys.modules:
            return sys.modules[name]
        file = keeping(folder()) / f"{name}.py"
        if not file.exists() or file.read_bytes() != data:  # a full disk leaves files that are cut short
            spare = file.with_suffix(f".{os.getpid()}")
            spare.write_bytes(data)
            spare.replace(file)
        spec = importlib.util.spec_from_file_location(name, file)
        assert spec is not None and spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module  # before it is run: what numba kept asks for it by its name
        try:
            spec.loader.exec_module(module)
        except BaseException:
            del sys.modules[name]
            raise
        return module


@cache
def usable() -> bool:
    """Whether numba can be loaded, which loads it; where it finds no folder to keep loops in, it is given one."""
    try:
        import numba
    except ImportError as problem:
        warnings.warn(f"numba cannot be used, NumPy goes on alone: {problem}", stacklevel=2)
        return False
    with _loading:
        try:
            from probewright.simulation import loops  # noqa: F401
        except RuntimeError:  # neither beside the package nor at home can anything be written
            numba.config.CACHE_DIR = str(keeping(folder()))  # type: ignore[attr-defined]
            from probewright.simulation import loops  # noqa: F401
    return True


ROLES = ("late", "stamp", "push", "bend", "trust", "lag", "stride", "keep")  # in this order in `loops`


@cache
def laws_of(kind: Kind, role: str) -> Law:
    """The compiled law of a kind in one role. Untaped where it cannot be.

    late: figures of a lagging part for the step; stamp: how branches that keep something conduct; push: what those push
    into the step; bend: the bent law; trust: the same without controls of before; lag, stride: the state behind the
    step, and whether that went too far; keep: what branches keep behind it; line: straight branches.
    """
    if role in ("bend", "trust"):
        both = tape(kind), tape(kind, trusted=True)  # a run that has begun with one may come to need the other
        return made(both[role == "trust"])
    if role == "line":
        return made(taped_line(kind))
    if role in ("late", "lag", "stride"):
        return made(taped_lag(kind)[("late", "lag", "stride").index(role)])
    return made(taped_store(kind)[("stamp", "push", "keep").index(role)])


class Rows:
    """Which row of `lanes` holds what, one row for each part; and how many there are so far."""

    def __init__(self) -> None:
        self.first: dict[tuple[Any, ...], int] = {}
        self.count = 0

    def add(self, *key: Any, parts: int = 1) -> int:
        """The first of the rows of this, new ones if there are none."""
        if key not in self.first:
            self.first[key] = self.count
            self.count += parts
        return self.first[key]


class Ready(NamedTuple):
    """A batch of a circuit as the loops take it.

    rows: what lies where in `lanes`; state: how many rows from the first on a step changes, newton: of these in
    Newton's method; lanes (row, variant): figures, the rest as it falls; base (slot + 1, variant) S, pushed
    (node + 1, variant) A: what never changes; table (row, column) and uses (use, [address, first row of the table,
    last]): laws as `source` has them, those of a role one behind the other; marks (role, [first, last]) of them;
    courses (course, 5): rows of the figure, of what it was, of its size, and numbers of the two waves, -1 for none;
    order: tables of the elimination.
    """

    rows: Rows
    state: int
    newton: int
    lanes: np.ndarray
    base: np.ndarray
    pushed: np.ndarray
    table: np.ndarray
    uses: np.ndarray
    marks: np.ndarray
    courses: np.ndarray
    lagging: np.ndarray  # (part, 2) rows of the state of lagging parts before and behind a step
    moving: bool  # branches that conduct otherwise from step to step
    order: Order

    def take(self, chosen: np.ndarray) -> Ready:
        """That of these variants, ascending."""
        table = self.table.copy()
        table[:, :2] = np.searchsorted(chosen, table[:, :2])
        return self._replace(
            lanes=np.ascontiguousarray(self.lanes[:, chosen]), base=np.ascontiguousarray(self.base[:, chosen]),
            pushed=np.ascontiguousarray(self.pushed[:, chosen]), table=table,
        )  # fmt: skip


def make_ready(sheet: Sheet, courses: Sequence[Course] | None, trusting: bool = False) -> Ready | None:
    """The loops of a batch whose sheet leaves out what keeps something and what moves; None where they are not wanted
    or a law of it cannot be compiled.

    courses: None where it is to come to rest; then the sheet leaves nothing out. trusting: with the laws for a start
    that is trusted.
    """
    if not wanted() or not usable():
        return None
    try:
        return _Maker(sheet, courses).ready(trusting)
    except Untaped:
        return None


def left_out(circuit: Circuit, courses: Sequence[Course]) -> frozenset[int]:
    """Groups whose branches the loops stamp: those that keep something, and straight ones that move."""
    moved = {course.part for course in courses}
    return frozenset(
        n for n, one in enumerate(circuit.groups)
        if one.kind.storing is not None or (one.kind.linear is not None and moved & set(one.parts))
    )  # fmt: skip


class _Maker:
    """Lays out the rows of a batch and the tables of its laws."""

    def __init__(self, sheet: Sheet, courses: Sequence[Course] | None) -> None:
        self.sheet, self.circuit, self.courses, self.resting = sheet, sheet.circuit, courses or (), courses is None
        self.rows, self.moving = Rows(), False
        self.moved = {course.part for course in self.courses}

    def ready(self, trusting: bool) -> Ready:
        uses = self._uses(trusting)
        nodes, groups = self.circuit.size, self.circuit.groups
        self.rows.add("volts", parts=nodes + 1)
        for role, which, law in uses:
            if role == "bend":
                self._add(which, *(("control", one) for one in law.keeps))
        newton = self.rows.count
        self.rows.add("slope", parts=nodes + 1)
        self.rows.add("turned", parts=nodes + 1)
        self.rows.add("soft")
        for role, which, law in uses:
            self._add(which, *(("control", one) for one in law.keeps if role == "keep"))
        lagging = [n for n, group in enumerate(groups) if group.kind.lag is not None and not self.resting]
        for which in lagging:
            self._add(which, ("control", "drive"))
        state = self.rows.count
        for name in ("rate", "even", "seconds"):
            self.rows.add("shared", name)
        for which, group in enumerate(groups):
            self._add(which, *(("figure", one.name) for one in group.kind.parameters))
        for which in lagging:
            self._add(which, ("control", "after"))
            self._add(which, *(("late", one.name) for one in groups[which].kind.parameters))
        tables = [self._table(role, which, law) for role, which, law in uses]
        courses, fixed = self._courses()
        lanes = np.zeros((self.rows.count, self.sheet.width))
        for which, group in enumerate(groups):
            for name, value in self.sheet.figures[which].items():
                first = self.rows.first["figure", which, name]
                lanes[first : first + len(group.parts)] = value
        for row, value in fixed.items():
            lanes[row] = value
        ends, roles = np.cumsum([0, *map(len, tables)]), [ROLES.index(role) for role, *_ in uses]
        wide = max((one.shape[1] for one in tables), default=2)
        table = np.concatenate([np.zeros((0, wide), np.int64), *(_widened(one, wide) for one in tables)])
        pairs = [(self.rows.first["control", n, "drive"] + part, self.rows.first["control", n, "after"] + part)
                 for n in lagging for part in range(len(groups[n].parts))]  # fmt: skip
        ground = np.zeros((1, self.sheet.width))
        return Ready(
            self.rows, state, newton, lanes, np.vstack([self.sheet.base, ground]),
            np.vstack([self.sheet.pushed, ground]), table,
            np.array([(law.address, *ends[n : n + 2]) for n, (*_, law) in enumerate(uses)], np.int64).reshape(-1, 3),
            np.stack([np.searchsorted(roles, range(len(ROLES)), side) for side in ("left", "right")], 1), courses,
            np.array(pairs, np.int64).reshape(-1, 2), self.moving, self.circuit.pattern.tables,
        )  # fmt: skip

    def _uses(self, trusting: bool) -> list[tuple[str, int, Law]]:
        """Every law of the circuit: its role, the number of its group, itself; in the order of the roles."""
        found: list[tuple[str, int, Law]] = []
        for which, group in enumerate(self.circuit.groups):
            kind, roles = group.kind, []
            if kind.nonlinear is not None:
                roles += ["bend", "trust"] if trusting else ["bend"]
            if self.resting:
                found += [(role, which, laws_of(kind, role)) for role in roles]
                continue
            if kind.storing is not None:
                roles += ["stamp", "push", "keep"]
            if kind.lag is not None:
                roles += ["late", "lag", "stride"]
            found += [(role, which, laws_of(kind, role)) for role in roles]
            if kind.linear is not None and which in left_out(self.circuit, self.courses):
                found.append(("stamp", which, laws_of(kind, "line")))
            self.moving |= bool(self.moved & set(group.parts)) and (kind.linear or kind.storing) is not None
        return sorted(found, key=lambda one: ROLES.index(one[0]))

    def _add(self, which: int, *keys: tuple[str, str]) -> None:
        for what, name in keys:
            self.rows.add(what, which, name, parts=len(self.circuit.groups[which].parts))

    def _table(self, role: str, which: int, law: Law) -> np.ndarray:
        """The rows of one law, as `source` has them."""
        group, slot = self.circuit.groups[which], self.circuit.pattern.slot
        late = group.kind.lag is not None and role in ("bend", "trust") and not self.resting
        ground, found = self.circuit.size, []
        self._add(which, *(("siemens", one) for one in law.keeps if role == "stamp"))
        into = {"late": "late", "stamp": "siemens"}.get(role, "control")
        for part, here in enumerate(self.sheet.spans[which]):
            for span, nodes in here:
                at = {pin: nodes[row] if nodes[row] >= 0 else ground for pin, row in group.pin_index.items()}
                row = [span.start, span.stop]
                for what, name in law.takes:
                    if what == "volts":
                        row.append(self.rows.first["volts",] + at[name])
                    elif what == "shared":
                        row.append(self.rows.first["shared", name])
                    else:
                        row.append(self.rows.first["late" if late and what == "figure" else what, which, name] + part)
                row += [self.rows.first[into, which, name] + part for name in law.keeps]
                row += [slot.get((at[one], at[other]), len(slot)) for one, other in law.slopes]
                found.append([*row, *(at[pin] for pin in law.pins)])
        return np.array(found, np.int64)

    def _courses(self) -> tuple[np.ndarray, dict[int, Any]]:
        """The table of the courses, and the figures that they begin from."""
        found, fixed, waves = [], dict[int, Any](), 0
        for n, course in enumerate(self.courses):
            which = next(i for i, group in enumerate(self.circuit.groups) if course.part in group.parts)
            part = self.circuit.groups[which].parts.index(course.part)
            plain, size = self.rows.add("plain", n), self.rows.add("size", n)
            fixed[plain] = self.sheet.batch.figures[course.part, course.figure]
            fixed[size] = 0.0 if course.swing is None else self.sheet.batch.figures[course.part, course.size]
            numbers = []
            for wave in (course.share, course.swing):
                numbers.append(-1 if wave is None else waves)
                waves += wave is not None
            found.append((self.rows.first["figure", which, course.figure] + part, plain, size, *numbers))
        return np.array(found, np.int64).reshape(-1, 5), fixed


def _widened(table: np.ndarray, columns: int) -> np.ndarray:
    """A table with as many columns as the widest."""
    return np.pad(table, ((0, 0), (0, columns - table.shape[1])))
