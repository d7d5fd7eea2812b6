"""Kinds of part: one file and one registration each; nothing else lists them.

A kind says which pins and figures a part has, what is assumed when a figure is not typed, its
symbol, and its equations. Equations see figures as arrays of shape (part, variant), all parts of
the kind at once, and volts as one array (pin, part, variant).
"""

from __future__ import annotations

import importlib
import pkgutil
import threading
from collections.abc import Callable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from probewright.machine.model import Figure

Values = Mapping[str, Any]  # figure -> (part, variant) or scalar
Branch = tuple[str, str, str, str, Any]  # (from, to, plus, minus, siemens): g (v_plus - v_minus)

# Thermal voltage k T / q at 27 C (300.15 K), CODATA 2018 constants; the usual nominal temperature
# of circuit simulators, so that figures can be compared.
THERMAL_VOLTS = 1.380649e-23 * 300.15 / 1.602176634e-19


@dataclass(frozen=True)
class Draft:
    """What a part line said so far, for defaults that depend on it."""

    classes: tuple[str, ...]
    figures: Mapping[str, Figure]


@dataclass(frozen=True)
class Parameter:
    """One figure a part line may give.

    word: how the line names it ("" for the bare value); default: a Figure, a function of the
    Draft, or None when the line must give it; low, high: plausible band, SI. Outside the band a
    value is warned about as a slip; `?` means anywhere inside it.
    """

    name: str
    unit: str
    word: str = ""
    default: Figure | Callable[[Draft], Figure] | None = None
    low: float = 0.0
    high: float = float("inf")
    spread: float = 0.0  # tolerance when a value is typed without one
    law: str = "tolerance"  # law of a typed value with a spread
    turns: bool = False  # a minus sign is no slip: low and high bound its size


@dataclass(frozen=True)
class Companion:
    """A nonlinear part linearised where it stands.

    amps: pin -> (part, variant), current into the pin at the present volts by the straight line;
    slope: (pin, pin) -> (part, variant) in S, d amps[pin] / d volts[pin];
    memory: control values used, handed back at the next step;
    held: (part, variant) True where a step was shortened, so the answer may not be final.
    """

    amps: Mapping[str, Any]
    slope: Mapping[tuple[str, str], Any]
    memory: Mapping[str, Any]
    held: Any


@dataclass(frozen=True)
class Store:
    """Branches that keep a charge or a flux: U = R I + L dI/dt + W, dW/dt = S I.

    One law for the rest point, for a signal and for steps in time. ends: (from, to) of each branch; ohms: R of each;
    henry: L, a row of columns for each, the fields of others off the diagonal, () without; per_farad: S = 1 / C
    of each, () where nothing is charged. Figures are (part, variant).
    """

    ends: tuple[tuple[str, str], ...]
    ohms: tuple[Any, ...]
    henry: tuple[tuple[Any, ...], ...] = ()
    per_farad: tuple[Any, ...] = ()


@dataclass(frozen=True)
class Lag:
    """A part that follows its inputs late, by one state (part, variant).

    at_rest: (pin volts, figures) -> state; within: (figures, state, seconds of the step) -> figures that the law at
    rest is taken with in the step; after: (pin volts at the end, figures, state, seconds) -> state; strides: (pin volts
    at the end, figures, state before and after) -> whether it went so far that a shorter step would tell another tale.
    """

    at_rest: Callable[[Any, Values], Any]
    within: Callable[[Values, Any, Any], Values]
    after: Callable[[Any, Values, Any, Any], Any]
    strides: Callable[[Any, Values, Any, Any], Any]


@dataclass(frozen=True)
class Strain:
    """One thing that a part of this kind must bear, as a data sheet rates it.

    what: as `data/ratings.csv` calls it; pins: of volts from the first to the second, of amps into the first; how:
    "peak", "mean" or "rms" over what is looked at; either: whichever way round; classes: those that it is asked of,
    () all.
    """

    what: str
    pins: tuple[str, ...]
    how: str = "peak"
    either: bool = False
    classes: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """V or A."""
        return "V" if self.what.endswith("volts") else "A"


@dataclass(frozen=True, eq=False)
class Kind:
    """One kind of part. Build one in its own file and hand it to `register`."""

    name: str
    pins: tuple[str, ...]
    parameters: tuple[Parameter, ...]
    symbol: str  # IEC 60617 symbol in words
    synonyms: tuple[str, ...] = ()
    order: tuple[str, ...] = ()  # order of pins when written without names; default: pins
    optional_pins: Mapping[str, str] = field(default_factory=dict)  # pin -> net when not written
    polar: bool = False  # first pin is + or anode
    aliases: Mapping[str, str] = field(default_factory=dict)  # other names of pins
    classes: Mapping[str, str] = field(default_factory=dict)  # class -> what it means
    default_class: str = ""
    stress_units: tuple[str, ...] = ("V", "W", "A", "°C")  # a second value in these is a rating
    # (anode pin, cathode pin) that the diode range can open
    junctions: tuple[tuple[str, str], ...] = ()
    # pins of a part with more than two between which an ohmmeter tells of it: a winding, a contact at rest
    across: tuple[tuple[str, str], ...] = ()
    units_share: tuple[str, ...] = ()  # pins that sit on the package when one case holds several
    linear: Callable[[Values], Sequence[Branch]] | None = None
    storing: Callable[[Values], Store] | None = None
    nonlinear: Callable[[Any, Values, Mapping[str, Any] | None], Companion] | None = None
    alternating: Callable[[Values, Mapping[tuple[str, str], Any], float], Mapping[Any, Any]] | None = None
    drive: Callable[[Values, Mapping[tuple[str, str], Any]], Mapping[str, Any]] | None = None
    lag: Lag | None = None
    # (pin volts at rest, figures) -> peak volts (part, variant) that pin "out" can swing for a signal
    swing: Callable[[Any, Values], Any] | None = None
    feeds: bool = False  # brings power: open when power is off
    plays: bool = False  # a signal may be put on it: figure "signal" on top of "volts"
    # puts out no more volts than it is given, whatever breaks: no source, coil or law of its own beyond that
    tame: bool = False
    holds: str = ""  # the pin whose volts it holds, whatever it is fed
    hangs: bool = False  # the end of a path, as a load is: nothing lies behind it
    row: bool = False  # may be written as a row of pads, `A > B > C`, a part between each two
    settings: Mapping[str, tuple[str, float]] = field(default_factory=dict)  # word of a stimulus -> figure, value
    dial: str = ""  # the figure that a plain value in a stimulus sets
    unplugged: Mapping[str, float] = field(default_factory=dict)  # figures when unplugged; {}: it leaves the circuit
    strains: tuple[Strain, ...] = ()  # what it must bear besides watts; a rating typed without a name is of the first
    # pins that take next to nothing and drive nothing: a net of these alone hangs in the air
    inputs: tuple[str, ...] = ()

    def parameter(self, name: str) -> Parameter:
        """The parameter of that name; KeyError when this kind has none."""
        for one in self.parameters:
            if one.name == name:
                return one
        raise KeyError(name)


@dataclass(frozen=True)
class Stay:
    """Controls that the first step is taken at, whatever the volts say: those of a like circuit."""

    at: Any


def last_control(memory: Mapping[str, Any] | None, name: str, rest: Any = 0.0) -> Any:
    """Control used at the last step; `rest` at a cold start; None when the start is trusted.

    memory: None says that the volts handed in are already close, so nothing is held back.
    """
    return None if memory is None else memory.get(name, rest)


class Kinds(MutableMapping[str, Kind]):
    """Every kind by name and synonym; the files are read at the first look, so that an old job opens without NumPy."""

    def __init__(self) -> None:
        self._known: dict[str, Kind] = {}
        self._begun = self._loaded = False
        self._loading = threading.RLock()  # a second thread waits; the files themselves look in while they register

    def _every(self) -> dict[str, Kind]:
        if not self._loaded:
            with self._loading:
                if not (self._loaded or self._begun):
                    self._begun = True
                    try:
                        load_all()
                        self._loaded = True
                    finally:
                        self._begun = False  # a file that cannot be read is complained of each time
        return self._known

    def __getitem__(self, name: str) -> Kind:
        return self._every()[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._every())

    def __len__(self) -> int:
        return len(self._every())

    def __setitem__(self, name: str, kind: Kind) -> None:
        if name in self._known:
            raise ValueError(f"two kinds are called {name!r}")
        self._known[name] = kind

    def __delitem__(self, name: str) -> None:
        del self._every()[name]


KINDS = Kinds()


def register(kind: Kind) -> Kind:
    """Make a kind known by its name and synonyms."""
    for name in (kind.name, *kind.synonyms):
        KINDS[name] = kind
    return kind


def assumed(nominal: float, unit: str, reason: str, **more: Any) -> Figure:
    """A figure nobody typed; reason says where it comes from."""
    return Figure(nominal, unit, typed=False, reason=reason, **more)


def load_all() -> None:
    """Import every file of this folder, each of which registers its kind."""
    for found in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{found.name}")
