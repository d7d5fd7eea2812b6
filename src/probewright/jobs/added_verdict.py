"""Does an added circuit do in this machine what the dead one did? Every figure of it, judged in words.

The machine with the circuit in it is a machine file like any other, so the same engine computes it, over the same
draws of tolerances as the machine that was.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from probewright.errors import NotAValue
from probewright.jobs.bench import complaint
from probewright.jobs.files import healthy_laws
from probewright.jobs.placed_circuits import Placing
from probewright.machine import Machine
from probewright.machine import read as read_machine
from probewright.machine.model import GROUND, Measure, Part
from probewright.machine.packages import usual_package
from probewright.machine.ratings import STEPS, WATTS, Rated, rated, unit_of
from probewright.machine.saying import nearest
from probewright.machine.shelf import add_stimulus
from probewright.machine.shelf.stage import Filled
from probewright.planning.heat import bare, clipped
from probewright.planning.margins import margin
from probewright.planning.overload import is_cased
from probewright.prediction import fitted
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.fitted import Spread, middling, minus, over, reads, spread
from probewright.readings import Setup
from probewright.units import Value, read_value, write_reading

FITS, OFF, HOT, TOLD, UNJUDGED = "fits", "off", "too hot", "told", "not judged"
# what may be wanted: unit, tolerance where none is typed; of the last four the figure is a limit by itself
WANTS: Mapping[str, tuple[str, float]] = {
    "dc": ("V", 0.05), "level": ("V", 0.1), "gain": ("1", 0.1), "delay": ("s", 0.2), "load": ("ohm", 0.0),
    "offset": ("V", 0.0), "bandwidth": ("Hz", 0.0), "pull": ("%", 0.0), "rail": ("%", 0.0), "distortion": ("%", 0.0),
}  # fmt: skip
ANY = ("dc", "level", "gain", "load", "offset", "bandwidth", "pull", "rail", "distortion")
# circuit -> what is judged of it; ANY of those that are not named here
WANTED: Mapping[str, tuple[str, ...]] = {
    "regulator": ("dc", "load", "rail"), "reset-generator": ("dc", "delay", "load", "rail"),
    "ladder-repair": ("dc", "level", "gain", "load"),
}  # fmt: skip
ALIKE = 0.1  # chosen: an equal channel may differ by a decibel, which is a good tenth
DC_ALIKE, DC_LEAST = 0.05, 0.1  # chosen: and its direct volts by a twentieth, or 0.1 V
PULL, RAIL = 0.05, 0.02  # chosen: a driving place may give way by a twentieth, a rail by a fiftieth
CLIPS = 0.05  # chosen: more distortion than a twentieth is clipping
NEARLY = 0.95  # 19 machines in 20
MADE_FOR = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0)  # W that resistors are made for, from memory
WRONG_WAY = 0.3  # V that a polarised capacitor bears the wrong way; common practice, no source
LEAST_VOLTS, LEAST_SIGNAL = 0.05, 1e-3  # V, chosen: of less nobody asks by which share it is pulled
ROOM = 2.0  # V that a regulator of an ampere needs above its output: data sheets of fixed regulators
NAMES = {"dc": "direct volts", "level": "level", "pp": "peak to peak"}
NOTHING = 1e-3  # W, chosen: less is next to nothing for any part
# V, and share of the supply, that any logic takes for low and high: VIL of ls, ttl and hct, VIH of hc; see the kind
LOGIC_LOW, LOGIC_HIGH = 0.8, 0.7
LONG_ENOUGH = 5.0  # chosen: a delay is watched for so many times what it should take
HIGH = "-high"  # end of the name of a form whose line falls when the delay is over


@dataclass(frozen=True)
class AddedLine:
    """One figure of an added circuit in its machine.

    what: is judged; place: where, or which part; low, middle, high: over sound machines, in unit, None where nobody
    knows; verdict: one of "fits", "off", "too hot", "told", "not judged"; says: all of it in a sentence.
    """

    what: str
    place: str
    unit: str
    low: float | None
    middle: float | None
    high: float | None
    verdict: str
    says: str


def read_wants(circuit: str, told: Mapping[str, str]) -> dict[str, Value]:
    """What a circuit of the library has to do, SI with tolerance. BadInput for what cannot be wanted of it."""
    found, judged = {}, WANTED.get(circuit, ANY)
    for name, typed in told.items():
        if name not in judged:
            raise complaint(f"{name!r} is nothing that is judged of {circuit}", nearest(name, judged))
        unit, tolerance = WANTS[name]
        try:
            value = read_value(typed, unit)
        except NotAValue as problem:
            raise complaint(f"{name}: {problem.text}", problem.mend) from problem
        if value.unknown or value.si < 0.0 and name != "dc":
            raise complaint(f"{name}: {typed!r} is no target", "write a figure, like `level=1.1V 5%`")
        found[name] = replace(value, tolerance=tolerance if value.tolerance is None else value.tolerance)
    return found


def look_at(was: str, text: str, filled: Filled, placing: Placing) -> tuple[AddedLine, ...]:
    """Every figure of the circuit in this machine. was: the file without it; text: with it."""
    return tuple(_Look(was, text, filled, placing).lines())


class _Look:
    """The machine that was and the machine with the circuit, each with draws of its tolerances."""

    def __init__(self, was: str, text: str, filled: Filled, placing: Placing) -> None:
        self.filled, self.placing, self.wants = filled, placing, read_wants(placing.circuit, placing.wants)
        self.timed = "" if placing.circuit != "reset-generator" else f"{placing.name} switched on"
        if self.timed:
            told = f"{{do: switch it on, power: switch-on, read: 0s..{self._seconds():.6g}s}}"
            was, text = add_stimulus(was, self.timed, told), add_stimulus(text, self.timed, told)
        self.machine, self.before = read_machine(text), read_machine(was)
        self.parts = next(one.parts for one in self.machine.added_boards if one.name == placing.name)
        self.joins = {**filled.body.usual, **placing.joins}
        self.out, self.into = self.joins["OUT"], self.joins.get("IN", "")
        self.rail = self.joins.get("SUPPLY", self.into if placing.circuit == "regulator" else "")

    @cached_property
    def laws(self) -> Laws:
        """Machines with the circuit."""
        return healthy_laws(self.machine)

    @cached_property
    def sound(self) -> Laws:
        """Machines as they were."""
        return healthy_laws(self.before)

    @cached_property
    def stimulus(self) -> str:
        """At which it is looked at: the one that was said, else the first with a signal, else the first."""
        if self.placing.stimulus:
            return self.placing.stimulus
        every = self.before.stimuli.values()
        found = next((one for one in every if one.frequency), next(iter(every), None))
        return found.name if found and found.name != self.timed else ""

    @cached_property
    def setup(self) -> Setup:
        """With the load that was asked for, if any."""
        load = self.wants.get("load")
        hung = () if load is None else ((self.out, GROUND, load.si),)
        return Setup(stimulus=self.stimulus, loaded=hung)

    @cached_property
    def in_time(self) -> bool:
        return self.laws.model.followed(self.setup).in_time

    @cached_property
    def signal(self) -> str:
        """The quantity that a signal is told by, "" where nothing moves."""
        if self.in_time:
            return "pp"
        one = self.machine.stimuli.get(self.stimulus)
        return "level" if one is not None and one.frequency else ""

    @cached_property
    def twins(self) -> tuple[str, ...]:
        """The same place in each equal channel."""
        return tuple(twins(self.machine, self.out, self.parts))

    def _seconds(self) -> float:
        """How long a delay is watched."""
        if "delay" in self.wants:
            return LONG_ENOUGH * self.wants["delay"].si
        ohms, farads = (
            read_value(self.filled.values[one], unit).si for one, unit in (("resistor", "ohm"), ("capacitor", "F"))
        )
        return LONG_ENOUGH * ohms * farads

    def _measure(self, place: str, quantity: str, level: float = 0.0) -> Measure:
        return Measure(place, quantity, self.stimulus, level=level)

    def reads(self, place: str, quantity: str) -> fitted.Look:
        """A figure with the circuit in."""
        return reads(self._measure(place, quantity), self.setup)

    def read(self, place: str, quantity: str) -> fitted.Look:
        """The same in the machine as it was."""
        return reads(self._measure(place, quantity), Setup())

    def lines(self) -> Iterator[AddedLine]:
        """Every line, the output first."""
        if self.stimulus and self.stimulus not in self.machine.stimuli:
            raise complaint(
                f"no stimulus is called {self.stimulus!r}", nearest(self.stimulus, list(self.machine.stimuli))
            )
        if not self.laws.base.middle.solved(replace(self.setup, stimulus="")).rest.solved[0]:
            yield _line("the whole", self.out, "V", None, UNJUDGED, "no operating point was found with this circuit in")
            return
        yield from self._driven()
        yield from self._output()
        yield from self._delay()
        yield from self._band()
        yield from self._distorts()
        yield from self._loads()
        yield from self._fed()
        yield from self._room()
        yield from self._bears()
        yield from self._functions()

    # The output -------------------------------------------------------------------------------

    def _driven(self) -> Iterator[AddedLine]:
        """What still drives the place that the circuit is to drive."""
        for name, pin in drivers(self.machine, self.out, self.parts):
            says = f"{name}.{pin} still drives {self.out}: lift it first, or the two fight"
            yield AddedLine("still drives it", f"{name}.{pin}", "V", None, None, None, OFF, says)

    def _output(self) -> Iterator[AddedLine]:
        """Direct volts, signal, gain and offset."""
        if self.timed and "dc" not in self.wants:
            yield self._rests()
            return
        yield self._against("direct volts", "dc", self.wants.get("dc"))
        if self._has_signal() or "level" in self.wants:
            what = "level" if self.signal == "level" else "peak to peak"
            yield self._against(what, self.signal or "level", self.wants.get("level"))
        if self.into and "gain" in self.wants:
            quantity = self.signal or "level"  # without a signal it is not judged
            found = spread(self.laws, over(self.reads(self.out, quantity), self.reads(self.into, quantity)))
            yield _within("gain", self.out, "1", found, self.wants["gain"])
        if self.into and "offset" in self.wants:
            found = spread(self.laws, minus(self.reads(self.out, "dc"), self.reads(self.into, "dc")))
            most = self.wants["offset"].si
            yield _within("offset", self.out, "V", found, Value(0.0, low=-most, high=most))

    def _rests(self) -> AddedLine:
        """The line of a reset once it has let go: a low or a high that any logic takes for one."""
        found, supply = (spread(self.laws, self.reads(place, "dc")) for place in (self.out, self.rail))
        if found is None or supply is None:
            return _line("rests", self.out, "V", None, UNJUDGED, f"{self.out} could not be followed")
        if self.falls:
            low, high, says = -math.inf, LOGIC_LOW, f"low, at most {write_reading(LOGIC_LOW, 'V')}"
        else:
            low, high = LOGIC_HIGH * supply.low, math.inf
            says = f"high, at least {write_reading(low, 'V')}"
        says = f"{self.out} rests at {_range(found, 'V')}, wanted {says}"
        fits = low <= found.middle <= high
        return _line("rests", self.out, "V", found, FITS if fits else OFF,
                     f"{says}: {_fits(found.share(low, high)) if fits else 'off'}")  # fmt: skip

    @property
    def falls(self) -> bool:
        """The line of this reset is high at first and falls when it lets go."""
        return self.filled.values.get("form", "").endswith(HIGH)

    def _has_signal(self) -> bool:
        """Whether anything that moves was meant to be there."""
        if not self.signal or self.placing.circuit == "regulator":
            return False
        looks = ((self.laws, self.reads(self.out, self.signal)), (self.sound, self.read(self.out, self.signal)))
        return any(abs(middling(laws, look) or 0.0) > LEAST_SIGNAL for laws, look in looks)

    def _against(self, what: str, quantity: str, want: Value | None) -> AddedLine:
        """A figure at the output against its target, else the equal channel, else the machine as it was."""
        here = spread(self.laws, self.reads(self.out, quantity))
        if want is not None:
            return _within(what, self.out, "V", here, want)
        if here is None:
            return _line(what, self.out, "V", None, UNJUDGED, f"{self.out} {what}: could not be followed")
        if self.twins:
            label, other = self._label(self.twins[0]), self.twins[0]
            there = spread(self.laws, self.reads(other, quantity))
            beside = apart_by(quantity)
            apart = spread(self.laws, beside(self.reads(self.out, quantity), self.reads(other, quantity)))
            usual = spread(self.sound, beside(self.read(self.out, quantity), self.read(other, quantity)))
        else:
            label, there = "as it was", spread(self.sound, self.read(self.out, quantity))
            middle = None if there is None else there.middle
            apart, usual = (_from(one, middle, quantity) for one in (here, there))
        if there is None or apart is None:
            return _line(what, self.out, "V", here, TOLD, f"{self.out} {what}: {_range(here, 'V')}")
        room = max(DC_ALIKE * abs(there.middle), DC_LEAST) if quantity == "dc" else ALIKE
        if usual is not None:  # sound machines differ by their tolerances as well
            room = max(room, -usual.low, usual.high)
        at = f" at {self.stimulus}" if self.stimulus else ""
        says = f"{self.out} {what}{at} reads {_range(here, 'V')}; {label} {_range(there, 'V')}"
        return self._alike(what, quantity, here, apart, room, says)

    def _alike(self, what: str, quantity: str, here: Spread, apart: Spread, room: float, says: str) -> AddedLine:
        """Beside the figure it should be like. apart: from there, in the same machine, V of direct volts, else a share;
        room: as far as it may be."""
        if abs(apart.middle) <= room:
            return _line(what, self.out, "V", here, FITS, f"{says}: {_fits(apart.share(-room, room))}")
        by = _apart(apart.middle) if quantity == "dc" else _share(apart.middle)
        if quantity == "dc" and (blocks := self._blocked()):
            return _line(
                what, self.out, "V", here, FITS, f"{says}: {by}, and {blocks} keeps that from what follows: fits"
            )
        return _line(what, self.out, "V", here, OFF, f"{says}: off by {by}")

    def _label(self, place: str) -> str:
        on = next((self.machine.parts[name].channel for name, _ in self.machine.pins_on(place)
                   if self.machine.parts[name].channel), "")  # fmt: skip
        return f"{self.machine.channels.get(on, on)} ({place})"

    def _blocked(self) -> str:
        """The capacitors that alone lead on from the output; "" where something else does, or one stands wrongly. What
        was lifted elsewhere is dead."""
        dead = {*self.parts, *(pin.rpartition(".")[0] for pin in self.placing.lifted)}
        names = [name for name, _ in self.machine.pins_on(self.out) if name not in dead]
        if any(self.machine.parts[name].kind != "capacitor" or self._wrong_way(name) for name in names):
            return ""
        return " and ".join(names)

    def _wrong_way(self, name: str) -> bool:
        part = self.machine.parts[name]
        if not {"electrolytic", "tantalum"} & set(part.classes):
            return False
        across = spread(self.laws, minus(self.reads(f"{name}.1", "dc"), self.reads(f"{name}.2", "dc")))
        return across is not None and across.low < -WRONG_WAY

    def _delay(self) -> Iterator[AddedLine]:
        """When a reset lets go."""
        if not self.timed:
            return
        supply = middling(self.laws, reads(Measure(self.rail, "dc", self.stimulus), self.setup)) or 0.0
        quantity = "fall" if self.falls else "rise"
        look = reads(Measure(self.out, quantity, self.timed, level=0.5 * supply))
        found, want = spread(self.laws, look), self.wants.get("delay")
        if found is None or math.isinf(found.middle):
            says = f"{self.out} does not {quantity} through {write_reading(0.5 * supply, 'V')}"
            within = write_reading(self._seconds(), "s")
            yield _line("delay", self.out, "s", None, OFF, f"{says}, half its supply, within {within}: off")
        elif want is None:
            yield _line("delay", self.out, "s", found, TOLD, f"{self.out} lets go after {_range(found, 's')}")
        else:
            yield _within("delay", self.out, "s", found, want)

    def _band(self) -> Iterator[AddedLine]:
        """Where what it passes on has fallen by 3 dB."""
        want = self.wants.get("bandwidth")
        if not self.into or self.signal != "level" or not self._has_signal():
            if want is not None:
                says = "bandwidth: nothing here plays a plain sine through it; check it at a stimulus that does"
                yield _line("bandwidth", self.out, "Hz", None, UNJUDGED, says)
            return
        low, top = (fitted.band(self.laws, self.out, self.into, self.setup, upper) for upper in (False, True))
        if low is not None:
            says = f"{self.out} passes what {self.into} has down to {_range(low, 'Hz')}, 3 dB down there"
            yield _line("lower end", self.out, "Hz", low, TOLD, says)
        if top is None:
            says = f"{self.out} passes all that {self.into} has: no upper end of the circuit is computed"
            yield _line("bandwidth", self.out, "Hz", None, TOLD if want is None else UNJUDGED, says)
            return
        says = f"{self.out} passes what {self.into} has up to {_range(top, 'Hz')}"
        if want is None:
            yield _line("bandwidth", self.out, "Hz", top, TOLD, f"{says}, 3 dB down there")
        elif top.middle < want.si:
            yield _line("bandwidth", self.out, "Hz", top, OFF, f"{says}: off by {_share(top.middle / want.si - 1.0)}")
        else:
            share = top.share(want.si, float("inf"))
            yield _line("bandwidth", self.out, "Hz", top, FITS, f"{says}: {_fits(share)}")

    def _distorts(self) -> Iterator[AddedLine]:
        """Whether the tone comes out whole, in the middling machine: a run in time for each would take minutes."""
        heard = self.signal == "level" and self._has_signal()
        found = middling(self.laws, self.reads(self.out, "distortion")) if heard else None
        if found is None:
            if "distortion" in self.wants:
                says = f"{self.out} distortion: no plain tone could be followed there"
                yield _line("distortion", self.out, "1", None, UNJUDGED, says)
            return
        most = self.wants["distortion"].si if "distortion" in self.wants else CLIPS
        says = f"{self.out} distortion at this level {write_reading(found, '%')}"
        verdict, ends = (FITS, "fits") if found <= most else (OFF, f"more than {write_reading(most, '%')}: it clips")
        yield AddedLine("distortion", self.out, "1", None, found, None, verdict, f"{says}: {ends}")

    # What it asks of the machine --------------------------------------------------------------

    def _loads(self) -> Iterator[AddedLine]:
        """How far the driving place gives way."""
        if not self.into or self.placing.circuit in ("regulator", "ladder-repair"):
            return
        for quantity in ("dc", self.signal) if self.signal else ("dc",):
            yield from self._gives(f"{quantity} at its input", self.into, quantity, self._most("pull", PULL))

    def _fed(self) -> Iterator[AddedLine]:
        """What it takes from its rail, and whether that has room."""
        if not self.rail:
            return
        if not self.in_time:
            taken = spread(self.laws, fitted.amps(self.rail, self.parts, self.setup))
            if taken is not None:
                says = f"it takes {_range(taken, 'A')} from {self.rail}"
                yield _line("current", self.rail, "A", taken, TOLD, says)
        yield from self._gives("rail", self.rail, "dc", self._most("rail", RAIL))
        for rule in self.machine.power_rules:
            found = spread(self.laws, self.reads(rule.net, "dc"))
            if found is not None and (found.high >= rule.volts if rule.side == "below" else found.low <= rule.volts):
                says = (
                    f"{rule.net} reads {_range(found, 'V')}: it must stay {rule.side} {write_reading(rule.volts, 'V')}"
                )
                yield _line("power rule", rule.net, "V", found, OFF, says)

    def _most(self, name: str, usual: float) -> float:
        return self.wants[name].si if name in self.wants else usual

    def _gives(self, what: str, place: str, quantity: str, most: float) -> Iterator[AddedLine]:
        """By which share a place gives way with the circuit on it."""
        bare_of_it = fitted.without(self.setup, self.parts)
        alone = reads(self._measure(place, quantity), bare_of_it)
        usual, before = middling(self.laws, alone), middling(self.sound, self.read(place, quantity))
        now = middling(self.laws, self.reads(place, quantity))
        if usual is None or now is None or abs(usual) < (LEAST_VOLTS if quantity == "dc" else LEAST_SIGNAL):
            return
        found = spread(self.laws, minus(over(self.reads(place, quantity), alone), fitted.one))
        if found is None:
            return
        says = f"{place} {NAMES[quantity]} changes by {_share(found.middle)} with it on"
        if abs(found.middle) <= most:
            yield _line(what, place, "1", found, FITS, f"{says}: {_fits(found.share(-most, most))}")
            return
        as_was = now / before - 1.0 if before else math.inf
        says += f", {_share(as_was)} against what it was when all was well" if before else ""
        if abs(as_was) <= most:  # the dead part took as much
            yield _line(what, place, "1", found, FITS, f"{says}: fits")
        else:
            yield _line(what, place, "1", found, OFF, f"{says}: more than {write_reading(most, '%')}")

    def _room(self) -> Iterator[AddedLine]:
        """A regulator needs volts above its output, at the lowest of the ripple too."""
        if self.placing.circuit != "regulator":
            return
        lowest = "valley" if self.in_time else "dc"
        found = spread(self.laws, minus(self.reads(self.into, lowest), self.reads(self.out, "dc")))
        if found is None:
            return
        says = f"{self.into} stands {_range(found, 'V')} above {self.out}"
        if found.low >= ROOM:
            yield _line("room", self.into, "V", found, FITS, f"{says}: fits")
        else:
            yield _line(
                "room", self.into, "V", found, OFF, f"{says}: a regulator wants {write_reading(ROOM, 'V')} at least"
            )

    # What its parts bear ----------------------------------------------------------------------

    def _bears(self) -> Iterator[AddedLine]:
        """Watts in each part beside what it is let to bear, volts across each capacitor."""
        for name in self.parts:
            part = self.machine.parts[name]
            if part.kind == "capacitor":
                yield from self._volts(part)
                continue
            found = spread(self.laws, fitted.bears(name, WATTS, self.setup))
            if found is None:
                says = f"{name}: its watts are not known while something moves"
                yield _line("watts", name, "W", None, UNJUDGED, says)
            else:
                yield _heat(part, self.machine, found)

    def _volts(self, part: Part) -> Iterator[AddedLine]:
        rest = spread(self.laws, minus(self.reads(f"{part.name}.1", "dc"), self.reads(f"{part.name}.2", "dc")))
        found, rating = spread(self.laws, fitted.bears(part.name, "volts", self.setup)), rated(part, "volts")
        if rest is not None and self._wrong_way(part.name):
            says = f"{part.name} {_range(rest, 'V')} across it: it stands the wrong way round, turn it"
            yield _line("volts across", part.name, "V", rest, OFF, says)
        elif found is not None and rating is not None:
            yield _by_margin("volts", part, found, rating, f"{part.name} gets at most {_range(found, 'V')}")

    # What the owner gets ----------------------------------------------------------------------

    def _functions(self) -> Iterator[AddedLine]:
        """What works with it that does not without, and what does not."""
        out = fitted.without(Setup(), self.parts)
        for works in self.before.works:
            now = fitted.holds(self.laws, self.sound, works, Setup())
            if now is None:
                continue
            without = fitted.holds(self.laws, self.sound, works, out)
            if now and without is False:
                says = f"{works.name}: works again"
            elif now:
                continue
            else:
                says = f"{works.name}: does not work with this circuit" + (
                    "" if without is False else ", and did without"
                )
            yield AddedLine("works", works.name, "1", None, None, None, FITS if now else OFF, says)


def apart_by(quantity: str) -> Callable[[fitted.Look, fitted.Look], fitted.Look]:
    """How far two figures of one machine are apart: in V of direct volts, of signals the share."""
    return minus if quantity == "dc" else lambda one, other: minus(over(one, other), fitted.one)


def _from(found: Spread | None, middle: float | None, quantity: str) -> Spread | None:
    """The same from a fixed figure."""
    if found is None or middle is None or (quantity != "dc" and not middle):
        return None
    return found.less(middle) if quantity == "dc" else found.times(1.0 / middle).less(1.0)


def _heat(part: Part, machine: Machine, found: Spread) -> AddedLine:
    """Watts against what the part bears."""
    says = f"{part.name} gets {_range(found, 'W') if found.high >= NOTHING else 'next to nothing'}"
    rating = None if is_cased(machine, part.name) else rated(part, WATTS)
    if rating is not None:
        return _by_margin(WATTS, part, found, rating, says)
    package = usual_package(part)
    body, warm = bare(package, machine.heat.get(part.name)), max(found.high, 0.0)
    says += f", {_celsius(body.settles(warm))} inside at the worst"
    if body.settles(warm) <= body.limit:
        return _line("watts", part.name, "W", found, FITS, f"{says}: fits")
    if package == "TO-92":
        mend = "take a medium one"
    elif clipped(package).settles(warm) <= body.limit:
        mend = f"clip a heatsink on, then {_celsius(clipped(package).settles(warm))}"
    else:
        mend = "it needs the chassis or a large heatsink"
    return _line("watts", part.name, "W", found, HOT, f"{says}: too hot, {mend}")


def _by_margin(strain: str, part: Part, found: Spread, rating: Rated, says: str) -> AddedLine:
    """What a part gets beside the share of its rating that it is let to bear, as with any new part."""
    unit, share = unit_of(strain), margin(part, strain).share
    what, wrong, sizes = ("watts", HOT, MADE_FOR) if strain == WATTS else ("volts across", OFF, STEPS)
    says += f" of {write_reading(rating.value, unit)}{'' if rating.typed else ', which such parts usually bear'}"
    if found.high <= share * rating.value:
        return _line(what, part.name, unit, found, FITS, f"{says}: fits")
    more = next((one for one in sizes if found.high <= share * one), None)
    over = f"more than {100.0 * share:g} % of that" + (", too hot" if wrong == HOT else "")
    if part.kind not in ("resistor", "capacitor"):
        return _line(what, part.name, unit, found, wrong, f"{says}, {over}")
    mend = f"take one of {write_reading(more, unit)}" if more else "share it out among several"
    return _line(what, part.name, unit, found, wrong, f"{says}, {over}: {mend}")


def _within(what: str, place: str, unit: str, found: Spread | None, want: Value) -> AddedLine:
    """A figure against its target."""
    if found is None:
        return _line(what, place, unit, None, UNJUDGED, f"{place} {what}: could not be followed")
    room = abs(want.si) * (want.tolerance or 0.0)
    low, high = (want.si - room, want.si + room) if want.low is None or want.high is None else (want.low, want.high)
    says = f"{place} {what} reads {_range(found, unit)}, wanted {_ends(low, high, unit)}"
    if low <= found.middle <= high:
        return _line(what, place, unit, found, FITS, f"{says}: {_fits(found.share(low, high))}")
    off = _share(found.middle / want.si - 1.0) if want.si else write_reading(found.middle - want.si, unit)
    return _line(what, place, unit, found, OFF, f"{says}: off by {off}")


def _line(what: str, place: str, unit: str, found: Spread | None, verdict: str, says: str) -> AddedLine:
    if found is None:
        return AddedLine(what, place, unit, None, None, None, verdict, says)
    return AddedLine(what, place, unit, found.low, found.middle, found.high, verdict, says)


def _fits(share: float) -> str:
    return "fits" if share >= NEARLY else f"fits in {100.0 * share:.0f} of 100, tolerances take it out in the others"


def _range(found: Spread, unit: str) -> str:
    return f"{write_reading(found.middle, unit)} ({_ends(found.low, found.high, unit)})"


def _ends(low: float, high: float, unit: str) -> str:
    return f"{write_reading(low, unit)} to {write_reading(high, unit)}"


def _apart(volts: float) -> str:
    return f"{write_reading(abs(volts), 'V')} {'higher' if volts > 0.0 else 'lower'}"


def _share(share: float) -> str:
    return f"{100.0 * share:+.2g} %"


def _celsius(degrees: float) -> str:
    return f"{degrees:.0f} °C"


# Where it stands in the machine ------------------------------------------------------------------


def twins(machine: Machine, place: str, apart: tuple[str, ...] = ()) -> Iterator[str]:
    """The same place in each equal channel; apart: parts that say nothing of it."""
    found: dict[str, None] = {}
    for name, pin in machine.pins_on(place):
        part = machine.parts[name]
        if name in apart or not part.channel:
            continue
        for other in machine.parts.values():
            if other.family == part.family and other.channel not in ("", part.channel) and pin in other.pins:
                found[other.pins[pin]] = None
    return (net for net in found if net != place and not net.startswith("nc:"))


def drivers(machine: Machine, place: str, apart: tuple[str, ...] = ()) -> Iterator[tuple[str, str]]:
    """(part, pin) of every output that drives a place; apart: parts that do not count."""
    from probewright.machine.kinds import KINDS

    for name, pin in machine.pins_on(place):
        kind = KINDS[machine.parts[name].kind]
        if name not in apart and (pin == "out" or pin == kind.holds):
            yield name, pin
