"""The machine as typed: parts, places, stimuli, what works. Frozen values, SI floats, no arrays.

Everything here is true if nothing were broken and nobody measured.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from probewright.machine.edits import Edit
from probewright.machine.layers import Layer
from probewright.machine.waves import Course

GROUND = "GND"
ZONES = ("leak", "liquid", "heat", "earlier work")
PROTECTIONS = ("I", "II", "III", "battery")  # earthed, double insulated, low volts, battery
SINKS = ("heatsink", "screen", "shield", "case", "cover", "lid", "chassis", "plate", "bracket")  # what cools a part


@dataclass(frozen=True)
class Spot:
    """Where in a file something was written; line and column count from 1."""

    line: int = 0
    column: int = 0


@dataclass(frozen=True)
class Figure:
    """One number of a part, with how far it may stray in a healthy machine.

    law:
      "exact"      the nominal value
      "tolerance"  nominal x exp(sd t), sd = spread / sqrt(3), spread a fraction (0.05 = 5 %)
      "offset"     nominal + sd t, sd = spread / sqrt(3), spread in the unit (op-amp offset)
      "range"      anything from low to high, evenly in the logarithm where low > 0, else evenly
    t is normal, one part in ten three times as wide (see docs/method.md). A value typed `?`
    is a range over everything plausible with unknown=True: equal channels share it.
    """

    nominal: float
    unit: str
    law: str = "exact"
    spread: float = 0.0
    low: float = 0.0
    high: float = 0.0
    unknown: bool = False
    typed: bool = True
    reason: str = ""  # for an assumed figure: where it comes from


@dataclass(frozen=True)
class Rating:
    """A stress a part may bear (63 V, 0.5 W, 1 A); kept for "why did it die"."""

    value: float
    unit: str


@dataclass(frozen=True)
class Part:
    """A component or black box, with the net on each pin.

    name: as printed on this channel ("R14"); family: the name as typed ("R*4"), the same for
    equal channels; channel: its mark ("" when shared); role: "part", "extra" (can be swapped
    from outside) or "added" (an owner-fitted board); package: name of the case whose supply pins
    it uses ("" when it is its own case).
    """

    name: str
    kind: str
    pins: Mapping[str, str]
    figures: Mapping[str, Figure]
    classes: tuple[str, ...] = ()
    ratings: tuple[Rating, ...] = ()
    section: str = ""
    channel: str = ""
    family: str = ""
    role: str = "part"
    board: str = ""  # for role "added": the added board's name
    package: str = ""
    matched: str = ""
    match_spread: float = 0.0
    known_good: bool = False
    rare: bool = False  # cannot be had again, or hardly: more proof before a new one, and the owner is asked
    off: str = "default"  # power off: "default", "stays", "unplugged" or "resistance" (then figure "off")
    order: tuple[str, ...] = ()  # pins side by side, seen from the marked side with the legs down; () where nobody said
    pitch: float = 0.0  # m from one leg to the next, 0 where nobody said
    plays: Course | None = None  # of a source: what its own line says that it does in time, in every stimulus
    spot: Spot = Spot()


@dataclass(frozen=True)
class Stimulus:
    """Settings of controls and sources, each counted from the values in the part lines.

    frequency: of the signal put on, Hz, 0 when none; playing: "whatever it is playing"; courses: figures that
    change in time, those of the part lines not among them (`stimuli.courses_of` has both); switched_on: everything is
    discharged at nought and the power comes on, else it has run for long; read: begin and end, s, of what readings
    are taken over, None: one settled period.
    """

    name: str
    edits: tuple[Edit, ...] = ()
    frequency: float = 0.0
    do: str = ""  # the instruction shown to the person
    spot: Spot = Spot()
    playing: bool = False
    courses: tuple[Course, ...] = ()
    switched_on: bool = False
    read: tuple[float, float] | None = None

    @property
    def in_time(self) -> bool:
        """What happens here is followed in time, not found at rest."""
        return bool(self.courses) or self.switched_on


@dataclass(frozen=True)
class Measure:
    """PLACE (to OTHER) QUANTITY at STIMULUS, without an instrument.

    place, other: a net or "part.pin"; other is ground by default.
    quantity: "dc", "size of dc", "pp", "rms" or "level"; in time also what `readings.SCOPED` names.
    level: volts that a rise or a fall goes through; window: begin and end, s, in place of the stimulus' own. A rise
    or a fall without a window of its own is looked for from nought to where the stimulus' window ends.
    """

    place: str
    quantity: str
    stimulus: str
    other: str = GROUND
    level: float = 0.0
    window: tuple[float, float] | None = None


@dataclass(frozen=True)
class Limit:
    """One bound of a sentence. side: "below" or "above" (arithmetic), "weaker" or "stronger" (size).

    The limit is broken on that side: "below" 8 V means that less than 8 V is a complaint. Of a rise or a fall,
    "above" inf is broken where it never happens, "below" inf where it happens at all.

    of_healthy: value is a fraction of the median healthy machine (0.9 = 90 %).
    """

    side: str
    value: float
    words: str = ""
    of_healthy: bool = False


@dataclass(frozen=True)
class Works:
    """Something the owner sees or hears; works when no limit is broken.

    combine: "" or "minus" or "over", then second is set.
    only_if: name of a function that must work first, or "" .
    """

    name: str
    measure: Measure
    limits: tuple[Limit, ...]
    combine: str = ""
    second: Measure | None = None
    only_if: str = ""
    only_if_sentence: Works | None = None
    channel: str = ""
    spot: Spot = Spot()


@dataclass(frozen=True)
class Point:
    """Extra facts about a place: another name, side, how easy, what lies beside it."""

    name: str  # its own name ("TP1"), or the place itself
    place: str  # net or part.pin
    side: str = ""
    ease: str = ""
    near: tuple[str, ...] = ()
    spot: Spot = Spot()


@dataclass(frozen=True)
class Printed:
    """A healthy reading printed on the schematic, kept as typed; value in the unit."""

    place: str
    quantity: str
    stimulus: str
    value: float
    unit: str
    meter_ohms: float = 10e6
    spot: Spot = Spot()


@dataclass(frozen=True)
class PowerRule:
    """What must not run: a net above or below a voltage. Broken means: power off now."""

    net: str
    side: str  # "below" (must stay below) or "above"
    volts: float
    spot: Spot = Spot()


@dataclass(frozen=True)
class Heat:
    """Heat path of a part with and without its heatsink; limit in degrees C, paths in K/W from junction to air.

    package: the case it comes in, "" for the usual one; sink: what cools it, one of SINKS, "" for a heatsink of its
    own.
    """

    with_heatsink: float | None = None
    bare: float | None = None
    limit: float | None = None
    package: str = ""
    sink: str = ""


@dataclass(frozen=True)
class AddedBoard:
    """An owner-fitted board; fitted: "yes", "no" or "unknown" (then a suspect and a question)."""

    name: str
    fitted: str
    parts: tuple[str, ...]


@dataclass(frozen=True)
class Zone:
    """Where something acted on all that lies there.

    kind: one of ZONES; places: parts, cases, nets or "part.pin"; around: what shares a small net with them lies in
    it too, else only they do.
    """

    kind: str
    places: tuple[str, ...]
    around: bool = False


@dataclass(frozen=True)
class Warning:
    """Something in the file that is allowed but looks like a slip."""

    line: int
    column: int
    text: str
    mend: str


@dataclass(frozen=True)
class Machine:
    """One model of machine. Order of every mapping is the order of the file."""

    name: str
    parts: Mapping[str, Part]
    revision: str = ""
    age_years: float | None = None
    protection: str = ""  # one of PROTECTIONS, "" where the file does not say
    sections: tuple[str, ...] = ()
    channels: Mapping[str, str] = field(default_factory=dict)  # mark -> label
    match: float | None = None  # equal channels agree this well, a fraction
    stimuli: Mapping[str, Stimulus] = field(default_factory=dict)
    works: tuple[Works, ...] = ()
    points: Mapping[str, Point] = field(default_factory=dict)
    printed: tuple[Printed, ...] = ()
    power_rules: tuple[PowerRule, ...] = ()
    never_live: tuple[str, ...] = ()
    heat: Mapping[str, Heat] = field(default_factory=dict)
    added_boards: tuple[AddedBoard, ...] = ()
    zones: tuple[Zone, ...] = ()
    opening: tuple[Layer, ...] = ()  # in the order in which they come off
    assumed: tuple[str, ...] = ()  # each default taken, in words
    warnings: tuple[Warning, ...] = ()
    file: str = ""

    @cached_property
    def nets(self) -> tuple[str, ...]:
        """Every net, ground first, then in the order first named."""
        seen = dict.fromkeys([GROUND])
        for part in self.parts.values():
            seen.update(dict.fromkeys(part.pins.values()))
        return tuple(seen)

    @cached_property
    def _pins_by_net(self) -> Mapping[str, tuple[tuple[str, str], ...]]:
        found: dict[str, list[tuple[str, str]]] = {}
        for part in self.parts.values():
            for pin, net in part.pins.items():
                found.setdefault(net, []).append((part.name, pin))
        return {net: tuple(pins) for net, pins in found.items()}

    def pins_on(self, net: str) -> tuple[tuple[str, str], ...]:
        """(part, pin) of every pin on this net."""
        return self._pins_by_net.get(net, ())

    @cached_property
    def _points_by_net(self) -> Mapping[str, tuple[Point, ...]]:
        found: dict[str, list[Point]] = {}
        for point in self.points.values():
            found.setdefault(self.net_of(point.place), []).append(point)
        return {net: tuple(points) for net, points in found.items()}

    def points_on(self, net: str) -> tuple[Point, ...]:
        """What is said of places on this net, in the order of the file."""
        return self._points_by_net.get(net, ())

    def has_place(self, place: str) -> bool:
        """Whether the file knows this net, point or pin."""
        try:
            self.net_of(place)
        except KeyError:
            return False
        return True

    def net_of(self, place: str) -> str:
        """The net a place belongs to: a net, a named point, or part.pin. KeyError when unknown."""
        if place in self.points and self.points[place].place != place:
            return self.net_of(self.points[place].place)
        if place in self.nets:
            return place
        part, _, pin = place.rpartition(".")
        return self.parts[part].pins[pin]
