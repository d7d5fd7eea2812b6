"""A law run once on names instead of numbers: what it reckons, step by step, to be written out as a plain loop.

The laws of part kinds are written for arrays. Handed a `Name` in place of each array, a law reckons as ever, and every
sum and function it asks for is put down on a tape. So a compiled loop is made of the very law that NumPy runs, and
nothing is written twice. A law that branches on numbers cannot be taped; `Untaped` says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

from probewright.machine.kinds import Kind, Store
from probewright.simulation.storing import after, ohms_within, within


class Untaped(Exception):
    """A law that asks for something a tape does not know; it is run as it is."""


class Line(NamedTuple):
    """One step: what is done with which names, or literal numbers."""

    does: str
    of: tuple[Any, ...]


# NumPy's functions -> how one number of each is written
WRITTEN = {
    "add": "{} + {}",
    "subtract": "{} - {}",
    "multiply": "{} * {}",
    "divide": "{} / {}",
    "power": "{} ** {}",
    "negative": "-{}",
    "absolute": "abs({})",
    "sqrt": "sqrt({})",
    "exp": "exp({})",
    "expm1": "expm1({})",
    "log": "log({})",
    "log1p": "log1p({})",
    "tanh": "tanh({})",
    "sign": "sign({})",
    "minimum": "least({}, {})",
    "maximum": "most({}, {})",
    "less": "{} < {}",
    "less_equal": "{} <= {}",
    "greater": "{} > {}",
    "greater_equal": "{} >= {}",
    "equal": "{} == {}",
    "not_equal": "{} != {}",
    "number": "1.0 if {} else 0.0",  # a truth that is reckoned with
}
TRUTHS = {"less", "less_equal", "greater", "greater_equal", "equal", "not_equal"}


class Literal(NamedTuple):
    """A number or truth that stands in the law itself."""

    value: Any


class Tape:
    """Lines in the order they were asked for; the same thing asked for twice is one line."""

    def __init__(self) -> None:
        self.lines: list[Line] = []
        self._known: dict[Line, Name] = {}

    def put(self, does: str, *of: Any) -> Name:
        """The name of this line, put down unless it stands there already."""
        line = Line(does, tuple(one.index if isinstance(one, Name) else Literal(one) for one in of))
        if line not in self._known:
            self.lines.append(line)
            truth = does in TRUTHS or (does == "where" and all(self.truth(one) for one in line.of[1:]))
            self._known[line] = Name(self, len(self.lines) - 1, truth)
        return self._known[line]

    def truth(self, index: Any) -> bool:
        """Whether a line, or a literal, is true or false and not a number."""
        if isinstance(index, Literal):
            return isinstance(index.value, bool)
        return self._known[self.lines[index]].truth


class Name(NDArrayOperatorsMixin):
    """What stands for an array while a law is taped."""

    def __init__(self, tape: Tape, index: int, truth: bool) -> None:
        self.tape, self.index, self.truth = tape, index, truth

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **more: Any) -> Any:
        if method != "__call__" or more:
            raise Untaped(f"{ufunc.__name__} {method}")
        given = [_plain(one) for one in inputs]
        if ufunc.__name__ == "logaddexp":  # as NumPy has it, so that its exponential can be shared
            a, b = given
            return np.maximum(a, b) + np.log1p(np.exp(-np.abs(a - b)))
        if ufunc.__name__ == "bitwise_and":  # the second is looked at only where the first leaves it open
            return self.tape.put("where", given[0], given[1], False)
        if ufunc.__name__ == "bitwise_or":
            return self.tape.put("where", given[0], True, given[1])
        if ufunc.__name__ not in WRITTEN:
            raise Untaped(ufunc.__name__)
        return self.tape.put(ufunc.__name__, *(self._number(one) for one in given))

    def __array_function__(self, function: Any, types: Any, args: Any, kwargs: Any) -> Any:
        if function is np.full_like and not kwargs:
            return args[1]  # every variant has this number
        if kwargs or function not in (np.where, np.clip):
            raise Untaped(function.__name__)
        if function is np.clip:
            return np.minimum(np.maximum(args[0], args[1]), args[2])
        chosen, one, other = (_plain(arg) for arg in args)
        if not isinstance(chosen, Name):
            return one if chosen else other
        return self.tape.put("where", chosen, one, other)

    def _number(self, one: Any) -> Any:
        return self.tape.put("number", one) if isinstance(one, Name) and one.truth else one

    def __bool__(self) -> bool:
        raise Untaped("it branches on a number")

    def __len__(self) -> int:
        raise Untaped("it asks for a size")

    __hash__ = object.__hash__


def _plain(one: Any) -> Any:
    """A name, or the number or truth of a literal."""
    if isinstance(one, Name):
        return one
    if np.ndim(one):
        raise Untaped("it has an array of its own")
    value = np.asarray(one).item()
    return value if isinstance(value, bool) else float(value)


class Volts(list[Any]):
    """Volts of the pins, named; a law that is turned over takes all of them with the other sign."""

    def __neg__(self) -> Volts:
        return Volts(-one for one in self)


class Recalled(dict[str, Any]):
    """Controls of the step before: each is named when it is first asked for."""

    def __init__(self, tape: Tape) -> None:
        super().__init__()
        self.tape = tape

    def get(self, key: str, default: Any = None) -> Any:
        """The name of this control."""
        if key not in self:
            self[key] = self.tape.put("control", key)
        return self[key]


class Figures(Mapping[str, Any]):
    """Figures of a part: each is named when it is first asked for."""

    def __init__(self, tape: Tape, kind: Kind) -> None:
        self.tape, self.known = tape, [one.name for one in kind.parameters]

    def __getitem__(self, key: str) -> Any:
        if key not in self.known:
            raise KeyError(key)
        return self.tape.put("figure", key)

    def __iter__(self) -> Any:
        return iter(self.known)

    def __len__(self) -> int:
        return len(self.known)


class Taped(NamedTuple):
    """A law on its tape: for each pin amps less slope x volts, slopes, what is kept anew, whether it was held; each a
    line number or a literal. What branches push into a step or a figure that moves is taped likewise, with ends of its
    own."""

    tape: Tape
    rest: dict[str, Any]
    slope: dict[tuple[str, str], Any]
    kept: dict[str, Any]
    held: Any = Literal(False)


GIVEN = ("volts", "figure", "control", "siemens", "shared")  # what a line is handed and does not reckon


def tape(kind: Kind, trusted: bool = False) -> Taped:
    """The law of a kind as it goes on from the controls of the step before, or trusted: as it is where the volts are
    close already. Untaped where it cannot be."""
    law = kind.nonlinear
    assert law is not None
    on = Tape()
    volts = Volts(on.put("volts", pin) for pin in kind.pins)
    found = law(volts, Figures(on, kind), None if trusted else Recalled(on))
    index = {pin: n for n, pin in enumerate(kind.pins)}
    rest = dict(found.amps)
    for (row, column), slope in found.slope.items():
        rest[row] = rest[row] - slope * volts[index[column]]
    if not trusted and set(found.memory) - {line.of[0].value for line in on.lines if line.does == "control"}:
        raise Untaped("it keeps a control that it never asks for")
    return Taped(on, _ends(rest), _ends(found.slope), _ends(found.memory), _end(found.held))


class Named(NamedTuple):
    """What branches keep, named."""

    amps: list[Any]
    charged: list[Any]
    pushed: list[Any]


def taped_store(kind: Kind) -> tuple[Taped, Taped, Taped]:
    """How the branches of a kind conduct in a step, what they push into it, and what they keep when it ends."""
    assert kind.storing is not None
    on = Tape()
    store = kind.storing(Figures(on, kind))
    siemens = _turned_over(ohms_within(store, on.put("shared", "rate")))
    branches = [
        (*ours, *theirs, siemens[row][column])
        for row, ours in enumerate(store.ends)
        for column, theirs in enumerate(store.ends)
    ]
    kept = {f"{row}_{column}": one for row, whole in enumerate(siemens) for column, one in enumerate(whole)}
    return Taped(on, {}, _ends(_slopes(branches)), _ends(kept)), _taped_push(kind), _taped_keep(kind)


def _stored(on: Tape, kind: Kind) -> tuple[Store, list[list[Any]], Named, Any, Any]:
    """The branches of a kind, how they conduct, what they keep, rate and even, all named."""
    assert kind.storing is not None
    store = kind.storing(Figures(on, kind))
    count = range(len(store.ends))
    kept = Named(*([on.put("control", f"{what}_{n}") for n in count] for what in Named._fields))
    siemens = [[on.put("siemens", f"{row}_{column}") for column in count] for row in count]
    return store, siemens, kept, on.put("shared", "rate"), on.put("shared", "even")


def _taped_push(kind: Kind) -> Taped:
    on, rest = Tape(), dict[str, Any]()
    store, siemens, kept, rate, even = _stored(on, kind)
    for (a, b), amps in zip(store.ends, within(store, siemens, kept, rate, even), strict=True):
        rest[a], rest[b] = rest.get(a, 0.0) + amps, rest.get(b, 0.0) - amps
    return Taped(on, _ends(rest), {}, {})


def _taped_keep(kind: Kind) -> Taped:
    on = Tape()
    store, siemens, kept, rate, even = _stored(on, kind)
    volts = {pin: on.put("volts", pin) for pin in kind.pins}
    across = [volts[a] - volts[b] for a, b in store.ends]
    found = zip(Named._fields, after(store, siemens, kept, rate, even, across), strict=True)
    return Taped(on, {}, {}, _ends({f"{what}_{n}": one[n] for what, one in found for n in range(len(store.ends))}))


def taped_line(kind: Kind) -> Taped:
    """The straight branches of a kind, for figures that move."""
    assert kind.linear is not None
    on = Tape()
    return Taped(on, {}, _ends(_slopes(kind.linear(Figures(on, kind)))), {})


def taped_lag(kind: Kind) -> tuple[Taped, Taped, Taped]:
    """Figures of a late part for a step, its state behind the step, and whether that went too far."""
    lag = kind.lag
    assert lag is not None
    on = Tape()
    late = lag.within(Figures(on, kind), on.put("control", "drive"), on.put("shared", "seconds"))
    within_ = Taped(on, {}, {}, _ends(dict(late)))
    on = Tape()
    volts = Volts(on.put("volts", pin) for pin in kind.pins)
    drive = lag.after(volts, Figures(on, kind), on.put("control", "drive"), on.put("shared", "seconds"))
    after_ = Taped(on, {}, {}, _ends({"after": drive}))
    on = Tape()
    volts = Volts(on.put("volts", pin) for pin in kind.pins)
    far = lag.strides(volts, Figures(on, kind), on.put("control", "drive"), on.put("control", "after"))
    return within_, after_, Taped(on, {}, {}, {}, _end(far))


def _slopes(branches: Iterable[tuple[str, str, str, str, Any]]) -> dict[tuple[str, str], Any]:
    """g (v_plus - v_minus) from a to b of every branch, as slopes between pins."""
    found: dict[tuple[str, str], Any] = {}
    for a, b, plus, minus, siemens in branches:
        if isinstance(siemens, Name) or siemens:
            for row, column, sign in ((a, plus, 1.0), (a, minus, -1.0), (b, plus, -1.0), (b, minus, 1.0)):
                found[row, column] = found.get((row, column), 0.0) + sign * siemens
    return found


def _turned_over(rows: list[list[Any]]) -> list[list[Any]]:
    """The inverse of a matrix of names that needs no pivots: ohms of branches that only lose (Gauss and Jordan)."""
    count = len(rows)
    rows = [[*row, *(1.0 if n == m else 0.0 for m in range(count))] for n, row in enumerate(rows)]
    for n in range(count):
        rows[n] = [one / rows[n][n] for one in rows[n]]
        for m in range(count):
            if m != n:
                rows[m] = [one - rows[m][n] * other for one, other in zip(rows[m], rows[n], strict=True)]
    return [row[count:] for row in rows]


def _ends(values: Mapping[Any, Any]) -> dict[Any, Any]:
    return {key: _end(one) for key, one in values.items()}


def _end(one: Any) -> Any:
    plain = _plain(one)
    return plain.index if isinstance(plain, Name) else Literal(plain)


def taken(taped: Taped) -> list[tuple[str, str]]:
    """What a loop over the tape is handed, each (what it is, its name)."""
    needed = [line for line, place in zip(taped.tape.lines, _places(taped), strict=True) if place is not None]
    return [(line.does, line.of[0].value) for line in needed if line.does in GIVEN]


def written(taped: Taped, given: Callable[[Line], str], indent: str) -> tuple[list[str], Callable[[Any], str]]:
    """The lines of a tape as Python, and how an end of it is written; given: how what is handed in is written.

    What only one side of a `where` needs is reckoned on that side alone.
    """
    lines = taped.tape.lines
    inside = _places(taped)

    def name(one: Any) -> str:
        return f"({one.value!r})" if isinstance(one, Literal) else f"t{one}"

    def block(place: tuple[Any, ...], deep: str) -> list[str]:
        text = []
        for n, line in enumerate(lines):
            if inside[n] != place:
                continue
            if line.does in GIVEN:
                text.append(f"{deep}t{n} = {given(line)}")
            elif line.does == "where":
                text.append(f"{deep}if {name(line.of[0])}:")
                text += [*block((*place, (n, 1)), deep + "    "), f"{deep}    t{n} = {name(line.of[1])}"]
                text.append(f"{deep}else:")
                text += [*block((*place, (n, 2)), deep + "    "), f"{deep}    t{n} = {name(line.of[2])}"]
            else:
                text.append(f"{deep}t{n} = {WRITTEN[line.does].format(*(name(one) for one in line.of))}")
        return text

    return block((), indent), name


def _places(taped: Taped) -> list[tuple[Any, ...] | None]:
    """For each line the sides of `where` within which alone it is needed, outermost first; None: nowhere."""
    lines = taped.tape.lines
    inside: list[tuple[Any, ...] | None] = [None] * len(lines)

    def need(index: Any, place: tuple[Any, ...]) -> None:
        if isinstance(index, Literal):
            return
        before = inside[index]
        if before is None:
            inside[index] = place
            return
        shared = 0
        while shared < min(len(before), len(place)) and before[shared] == place[shared]:
            shared += 1
        inside[index] = place[:shared]

    for end in [*taped.rest.values(), *taped.slope.values(), *taped.kept.values(), taped.held]:
        need(end, ())
    for n in range(len(lines) - 1, -1, -1):
        place, line = inside[n], lines[n]
        if place is None or line.does in GIVEN:
            continue
        for side, index in enumerate(line.of):
            need(index, (*place, (n, side)) if line.does == "where" and side else place)
    return inside
