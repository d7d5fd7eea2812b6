"""Ten circuits in time beside ngspice: faults that are listed, and tolerances, at once; what a scope reads.

The tests take some circuits and variants; `python -m benchmarks --only time` takes all of them.
"""

from __future__ import annotations

import subprocess
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np

from probewright import machine
from probewright.machine.waves import Course, Pulse, Sine, Step, Wave
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import build_model
from probewright.readings import Setup
from probewright.simulation import scope
from probewright.simulation.circuit import Batch, Circuit
from probewright.simulation.newton import come_to_rest
from probewright.simulation.stepping import STRAY_FARADS, figures_at
from probewright.simulation.tracing import trace
from spice import Deck

Read = Callable[[np.ndarray, np.ndarray], np.ndarray]
JUMP = 1e-7  # s: what ngspice is given for an edge of no length
VOLTS, SHARE = 10e-3, 0.01  # what may lie between the two: 10 mV and 1 %, the goal for a ripple
STEADY = 0.02  # chosen: share by which two periods running may differ
LONG, WIDE = (
    25.0,
    8.0,
)  # chosen: steps of ours in a period, and in the shorter part of it, that it takes to tell it to 1 %
STILL = 0.1  # V, chosen: what moves less in the last third of the time stands still
BLUNT = 20e3  # Hz, chosen: far above what is looked at, far below the spike that a base without a charge takes


@dataclass(frozen=True)
class InTime:
    """One circuit: its file, its waves, from when to when, in which steps, and what is read where.

    read: name -> (place, reading, V or s that may lie between beside 1 %); beats: of an oscillator, the reading that both
    sides must have where either has another: one that hardly beats is steady at one place and not at another.
    """

    text: str
    courses: tuple[Course, ...]
    stop: float
    since: float
    step: float
    read: dict[str, tuple[str, Read, float]]
    from_nought: bool = False
    beats: str = ""


def pp(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    return scope.peak_to_peak(volts)


def low(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    return scope.valley(volts)


def high(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    return scope.top(volts)


def last(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    return volts[:, -1]


def steady(read: Read, step: float) -> Read:
    """A reading of an oscillator, where its periods are alike, and long enough for the steps in both parts; else none."""

    def whole(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
        period, duty = scope.period(seconds, volts), scope.duty(seconds, volts)
        alike = (scope.unsteady(seconds, volts) < STEADY) & (scope.peak_to_peak(volts) > STILL)
        fit = alike & (period > LONG * step) & (period * np.minimum(duty, 1.0 - duty) > WIDE * step)
        return np.where(fit, read(seconds, volts), np.nan)

    return whole


def still(step: float) -> Read:
    """Where an oscillator that does not beat stands in the end, ringing too fast for the steps or not; else none."""

    def late(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
        end = seconds >= seconds[-1] - (seconds[-1] - seconds[0]) / 3.0
        beats = (scope.peak_to_peak(volts[:, end]) > STILL) & (scope.period(seconds, volts) > LONG * step)
        return np.where(beats, np.nan, scope.mean(seconds[end], volts[:, end]))

    return late


def blunt(read: Read) -> Read:
    """A reading behind a limit of bandwidth. With no charge in its junctions a transistor that is turned on hard takes
    amps for some nanoseconds, its base a tenth of a volt more: ngspice steps through that, ours over it."""
    return lambda seconds, volts: read(seconds, scope.limited(seconds, volts, BLUNT))


def seen(read: Read) -> Read:
    """A share that is read off a trace where that is large enough to be seen, else none."""
    return lambda seconds, volts: np.where(scope.peak_to_peak(volts) > 0.05, read(seconds, volts), np.nan)


def flat(seconds: np.ndarray, volts: np.ndarray) -> np.ndarray:
    """Tilt where there is a top to tilt: what a thousandth of the capacitor leaves of an edge is a spike."""
    square = scope.rms(seconds, volts) > 0.3 * scope.peak_to_peak(volts)
    return np.where(square & (scope.peak_to_peak(volts) > 0.05), scope.tilt(seconds, volts), np.nan)


def sags(begin: float, end: float) -> Read:
    return lambda seconds, volts: scope.sag(seconds, volts, begin, end)


def falls(level: float) -> Read:
    return lambda seconds, volts: scope.fall_through(seconds, volts, level)


def rises(level: float) -> Read:
    return lambda seconds, volts: scope.rise_through(seconds, volts, level)


CIRCUITS = {
    "supply with a regulator": InTime(
        """
  V1: source 0V series 0.8R  AC > GND
  D1: diode rectifier  AC > RAW
  C1: capacitor 2200u electrolytic  RAW > GND
  U1: regulator 12V  in=RAW out=OUT com=GND
  C2: capacitor 47u electrolytic  OUT > GND
  R1: resistor 47R  OUT > GND
stimuli: {on: {V1: sine 21V peak 50Hz}}""",
        (Course("V1", swing=Sine(50.0)),),
        0.12, 0.08, 1e-4,
        {"RAW mean": ("RAW", scope.mean, VOLTS), "RAW pp": ("RAW", pp, VOLTS), "OUT mean": ("OUT", scope.mean, VOLTS), "OUT pp": ("OUT", pp, VOLTS)},
    ),
    "bridge": InTime(
        """
  V1: source 0V series 1R  A > B
  D1: bridge  ac1=A ac2=B plus=OUT minus=GND
  C1: capacitor 470u electrolytic  OUT > GND
  R1: resistor 100R  OUT > GND
  R2: resistor 1k  OUT > LIT
  D2: led red  LIT > GND
stimuli: {on: {V1: sine 14V peak 50Hz}}""",
        (Course("V1", swing=Sine(50.0)),),
        0.1, 0.06, 1e-4,
        {"OUT mean": ("OUT", scope.mean, VOLTS), "OUT pp": ("OUT", pp, VOLTS), "LIT top": ("LIT", high, VOLTS)},
    ),
    "reset with a Schmitt gate": InTime(
        """
  V1: source 5V series 0.2R  VCC > GND
  R1: resistor 10k  VCC > RC
  D1: diode small-signal  RC > VCC
  C1: capacitor 10u electrolytic  RC > GND
  U1: schmitt hct  in=RC out=RES vcc=VCC gnd=GND
  R2: resistor 4k7  RES > GND
  C2: capacitor 10n  RES > GND
stimuli: {on: {}}""",
        (Course("V1", share=Step(0.0, 2e-3)),),
        0.2, 0.0, 2e-4,
        {"RC through 2 V": ("RC", rises(2.0), 5e-4), "RES lets go": ("RES", falls(2.5), 5e-4), "RES at last": ("RES", last, VOLTS), "VCC top": ("VCC", high, VOLTS)},
        from_nought=True,
    ),
    "sample and hold": InTime(
        """
  VP: source 12V series 0.5R  VCC > GND
  VN: source -12V series 0.5R  VEE > GND
  V1: source 1V series 100R  IN > GND
  S1: switch 100R  IN > HOLD
  C1: capacitor 100n leak 2M  HOLD > GND
  U1: opamp offset 1mV  plus=HOLD minus=F out=OUT vplus=VCC vminus=VEE
  R1: resistor 10k  OUT > F
  R2: resistor 10k  F > GND
stimuli: {on: {V1: sine 1V peak 50Hz}}""",
        (Course("S1", "closed", share=Pulse(period=0.02, high=2e-3, delay=4e-3)), Course("V1", swing=Sine(50.0))),
        0.06, 0.0, 2e-5,
        {"OUT pp": ("OUT", pp, VOLTS), "OUT sag": ("OUT", sags(0.0465, 0.0635 - 4e-3), VOLTS), "HOLD top": ("HOLD", high, VOLTS)},
    ),
    "transistor stage, clipping": InTime(
        """
  VP: source 12V series 0.5R  VCC > GND
  V1: source 0V series 600R  IN > GND
  C1: capacitor 10u electrolytic  B > IN
  R1: resistor 47k  VCC > B
  R2: resistor 10k  B > GND
  Q1: npn small-signal gain 200  c=C b=B e=E
  R3: resistor 3k3  VCC > C
  R4: resistor 1k  E > GND
  C2: capacitor 10u electrolytic  C > OUT
  R5: resistor 22k  OUT > GND
stimuli: {on: {V1: sine 2V peak 1kHz}}""",
        (Course("V1", swing=Sine(1e3)),),
        6e-3, 3e-3, 4e-6,
        {"C pp": ("C", pp, VOLTS), "OUT mean": ("OUT", scope.mean, VOLTS), "C low": ("C", low, VOLTS),
         "distortion": ("C", seen(lambda t, v: scope.distortion(t, v, 1e3)), 5e-3)},
    ),
    "coupling that tilts": InTime(
        """
  V1: source 0V series 600R  IN > GND
  C1: capacitor 470n  IN > A
  R1: resistor 10k  A > GND
  R2: resistor 1k  A > OUT
  C2: capacitor 2n2  OUT > GND
stimuli: {on: {V1: sine 4V peak 100Hz}}""",
        (Course("V1", swing=Pulse(period=0.01, high=0.005, delay=1e-3, edge=100e-6)),),
        0.061, 0.041, 2e-5,
        {"OUT pp": ("OUT", pp, VOLTS), "OUT tilt": ("OUT", flat, 5e-3), "OUT top": ("OUT", high, VOLTS)},
    ),
    "relaxation oscillator": InTime(
        """
  VP: source 12V series 0.5R  VCC > GND
  R1: resistor 100k  VCC > REF
  R2: resistor 100k  REF > GND
  R3: resistor 100k  REF > OUT
  R4: resistor 47k  OUT > RC
  C1: capacitor 100n  RC > GND
  U1: opamp single-supply  plus=REF minus=RC out=OUT vplus=VCC vminus=GND
  R5: resistor 10k  OUT > GND
stimuli: {on: {}}""",
        (Course("VP", share=Step(0.0, 1e-3)),),
        0.06, 0.015, 2e-5,
        {"OUT period": ("OUT", steady(scope.period, 2e-5), 0.0), "OUT pp": ("OUT", steady(pp, 2e-5), VOLTS), "RC pp": ("RC", steady(pp, 2e-5), VOLTS),
         "OUT still": ("OUT", still(2e-5), VOLTS)},
        from_nought=True, beats="OUT period",
    ),
    "multivibrator of two transistors": InTime(
        """
  VP: source 9V series 0.5R  VCC > GND
  R1: resistor 1k  VCC > C1
  R2: resistor 1k  VCC > C2
  R3: resistor 47k  VCC > B2
  R4: resistor 47k  VCC > B1
  K1: capacitor 1u  C1 > B2
  K2: capacitor 470n  C2 > B1
  Q1: npn small-signal gain 200  c=C1 b=B1 e=GND
  Q2: npn small-signal gain 200  c=C2 b=B2 e=GND
stimuli: {on: {}}""",
        (Course("VP", share=Step(0.0, 1e-3)),),
        0.45, 0.12, 1e-4,
        {"C1 period": ("C1", steady(scope.period, 1e-4), 0.0), "C1 pp": ("C1", steady(blunt(pp), 1e-4), VOLTS),
         "B2 pp": ("B2", steady(blunt(pp), 1e-4), VOLTS), "C1 still": ("C1", still(1e-4), VOLTS)},
        from_nought=True, beats="C1 period",
    ),
    "slow timer": InTime(
        """
  VP: source 12V series 0.5R  VCC > GND
  R1: resistor 100k  VCC > REF
  R2: resistor 100k  REF > GND
  R3: resistor 100k  REF > OUT
  R4: resistor 470k  OUT > RC
  C1: capacitor 15u leak 1G  RC > GND
  U1: opamp single-supply  plus=REF minus=RC out=OUT vplus=VCC vminus=GND
  R5: resistor 10k  OUT > GND
stimuli: {on: {}}""",
        (Course("VP", share=Step(0.0, 0.1)),),
        60.0, 5.0, 0.04,
        {"OUT period": ("OUT", steady(scope.period, 0.04), 0.0), "OUT pp": ("OUT", steady(pp, 0.04), VOLTS), "RC pp": ("RC", steady(pp, 0.04), VOLTS),
         "OUT still": ("OUT", still(0.04), VOLTS)},
        from_nought=True, beats="OUT period",
    ),
    "filter of coil and capacitor": InTime(
        """
  V1: source 0V series 0.5R  IN > GND
  L1: inductor 10mH 1R  IN > OUT
  C1: capacitor 47u electrolytic  OUT > GND
  R1: resistor 47R  OUT > GND
  C2: capacitor 1u  OUT > GND
stimuli: {on: {V1: sine 12V peak 1kHz}}""",
        (Course("V1", swing=Pulse(period=1e-3, high=0.4e-3, edge=1e-6)),),
        0.03, 0.026, 5e-6,
        {"OUT mean": ("OUT", scope.mean, VOLTS), "OUT pp": ("OUT", pp, VOLTS)},
    ),
}  # fmt: skip


class TimeDeck(Deck):
    """The deck of one variant whose sources and switches go in time."""

    reach = 3.0  # a drive is held where the output has reached its rail

    def start_near(self, volts: np.ndarray) -> None:
        """Where the search for a rest begins, (node + 1,) V."""
        self.lines += [
            f".nodeset v({name})={volts[int(name[1:])]:.9g}" for name in self.used_nodes() if name != "spare"
        ]

    def __init__(self, circuit: Circuit, batch: Batch, variant: int, courses: Sequence[Course]) -> None:
        self.courses = {(course.part, course.figure): course for course in courses}
        super().__init__(circuit, batch, variant, [])
        self.lines[1] = ".options reltol=1e-4 abstol=1e-12 vntol=1e-7 gmin=1e-12 itl1=2000 itl4=100"
        for name in self.used_nodes():
            self.add("c", f"{name} 0 {STRAY_FARADS:.12g}")

    def wave(self, wave: Wave, begin: float, size: float) -> str:
        """ngspice's words for begin + size x wave."""
        if isinstance(wave, Sine):
            return f"sin({begin:.12g} {size:.12g} {wave.hertz:.12g})"
        if isinstance(wave, Pulse):
            edge = wave.edge or JUMP
            width = wave.high - edge
            return f"pulse({begin:.12g} {begin + size:.12g} {wave.delay:.12g} {edge:.12g} {edge:.12g} {width:.12g} {wave.period:.12g})"
        assert isinstance(wave, Step)
        return f"pwl(0 {begin:.12g} {wave.moment + 1e-12:.12g} {begin:.12g} {wave.moment + (wave.rise or JUMP):.12g} {begin + size:.12g})"

    def source(self, part: str) -> None:
        course = self.courses.get((part, "volts"))
        if course is None:
            return super().source(part)
        before = len(self.lines)
        super().source(part)
        volts, signal = self.figure(part, "volts"), self.figure(part, "signal")
        share = self.wave(course.share, 0.0, volts) if course.share else self.wave(course.swing, volts, signal)  # type: ignore[arg-type]
        name, plus, minus, *_ = self.lines[before].split()
        self.lines[before] = f"{name} {plus} {minus} {share}"
        return None

    def opamp(self, part: str) -> None:
        """As at rest; the node that lags is held where the output has reached its rail."""
        before = len(self.lines)
        super().opamp(part)
        lag = next(line.split()[1] for line in self.lines[before:] if line.startswith("c"))
        high, low = f"v({self.pin(part, 'vplus')})", f"v({self.pin(part, 'vminus')})"
        half = (
            f"max(0.5*({high}-{low}-{self.figure(part, 'headroom_high') + self.figure(part, 'headroom_low'):.12g}),0)"
        )
        most = f"{self.reach}*sqrt({half}*{half}+0.04)/{self.figure(part, 'gain'):.12g}"
        drive = f"(v({lag})+{self.figure(part, 'offset'):.12g})"
        self.add("b", f"{lag} 0 i=1e6*(max({drive}-{most},0)+min({drive}+{most},0))")

    def switch(self, part: str) -> None:
        course = self.courses.get((part, "closed"))
        if course is None:
            return super().switch(part)
        assert course.share is not None
        inside, a, b = self.inside(), self.pin(part, "1"), self.pin(part, "2")
        self.add("v", f"{inside} 0 {self.wave(course.share, 0.0, self.figure(part, 'closed'))}")
        ohms = self.figure(part, "resistance")
        self.add("b", f"{a} {b} i=(v({a})-v({b}))*(v({inside})/{ohms:.12g}+(1-v({inside}))*1e-9)")
        return None

    def text(self, one: InTime, file: str, finest: float) -> str:
        """The whole deck, writing its traces to a file; finest: its longest step, s."""
        places = list(dict.fromkeys(self.place(place) for place, *_ in one.read.values()))
        span = f"{one.step:.12g} {one.stop:.12g} {one.since:.12g} {finest:.12g}{' uic' if one.from_nought else ''}"
        control = [".control", "set numdgt=10", f"tran {span}", f"wrdata {file} {' '.join(f'v({p})' for p in places)}"]
        return "\n".join([*self.lines, *control, "quit 0", ".endc", ".end", ""])

    def traces(self, one: InTime, finest: float, most: float = 30.0) -> dict[str, tuple[np.ndarray, np.ndarray]]:
        """Place -> (seconds, volts (1, time)) as ngspice has them. RuntimeError where it gives none."""
        places = list(dict.fromkeys(self.place(place) for place, *_ in one.read.values()))
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "traces"
            done = subprocess.run(
                ["ngspice", "-b", "/dev/stdin"], input=self.text(one, str(file), finest), capture_output=True, text=True, timeout=most, check=False,
            )  # fmt: skip
            if not file.exists():
                raise RuntimeError(f"ngspice gave no trace: {done.stderr[-400:]}")
            table = np.loadtxt(file, ndmin=2)
        if table[-1, 0] < one.stop * (1.0 - 1e-6):
            raise RuntimeError(f"ngspice came to {table[-1, 0]:g} s only")
        rows = np.unique(table[:, 0], return_index=True)[1]
        columns = {node: (table[rows, 2 * n], table[rows, 2 * n + 1][None, :]) for n, node in enumerate(places)}
        return {place: columns[self.place(place)] for place, *_ in one.read.values()}


@cache
def prepared(name: str) -> tuple[Circuit, Batch, list[str]]:
    """A circuit healthy and with every cell of every listed fault, tolerances drawn; what each variant is."""
    loaded = machine.read(f"machine: {name}\nparts:{CIRCUITS[name].text}\n", name)
    model = build_model(loaded, "in time")
    broken = [n for n, cell in enumerate(model.cells) if model.suspects[cell.suspect].faults]
    cells = [model.healthy_cell, *broken]
    spans = [Span(cell, n, n + 1) for n, cell in enumerate(cells)]
    drawn = np.random.default_rng(11).standard_normal((len(model.latents.keys) + 1, len(cells)))
    bank = Bank(model, spans, drawn)
    setup = Setup(stimulus="on")
    circuit = bank.circuit(setup)
    says = [f"{model.suspects[model.cells[cell].suspect].id} {model.cells[cell].bin}" for cell in cells]
    return circuit, bank.batch(circuit, setup), says


@dataclass
class Beside:
    """What came out: how many variants were compared, which ngspice did not answer, which differ and by how much.

    worst: by how many times what may lie between; silent: variants of which neither side has a figure; figures: by
    reading, in how many variants there was one; finer: what agreed in finer steps only.
    """

    compared: int = 0
    worst: float = 0.0
    refused: list[str] = field(default_factory=list)
    unsolved: list[str] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)
    figures: Counter[str] = field(default_factory=Counter)
    finer: list[str] = field(default_factory=list)
    apart: list[tuple[str, str, float, float]] = field(default_factory=list)


def some(name: str, count: int) -> np.ndarray:
    """The healthy variant and so many others, spread over the list."""
    whole = len(prepared(name)[2])
    return np.unique([0, *(1 + int(k * (whole - 1) / count) for k in range(min(count, whole - 1)))])


def apart(
    one: InTime, theirs: dict[str, tuple[np.ndarray, np.ndarray]], mine: dict[str, float]
) -> dict[str, tuple[float, float, float]]:
    """Reading -> theirs, ours and how many times what may lie between them they are apart; where neither has one: left out."""
    found = {}
    for says, (place, read, floor) in one.read.items():
        there, here = float(read(*theirs[place])[0]), mine[says]
        if np.isfinite(there) or np.isfinite(here):
            off = abs(there - here) / (floor + SHARE * abs(there))
            found[says] = there, here, off if np.isfinite(off) else np.inf
    if one.beats and one.beats not in found:
        return {says: both for says, both in found.items() if np.isfinite(both[2])}
    return found


def far(beside: dict[str, tuple[float, float, float]]) -> bool:
    """Whether one of the readings is further apart than may be."""
    return any(off > 1.0 for *_, off in beside.values())


@dataclass
class Pair:
    """One variant on both sides. solved, answered: by ours, by ngspice; beside: as `apart` gives it."""

    solved: bool = True
    answered: bool = True
    beside: dict[str, tuple[float, float, float]] = field(default_factory=dict)


def pairs(name: str, chosen: np.ndarray, step: float) -> dict[int, Pair]:
    """Variants of a circuit in time by their numbers, ours in these steps, ngspice in steps a quarter as long."""
    one, (circuit, whole, _) = CIRCUITS[name], prepared(name)
    batch, places = whole.take(chosen), list(dict.fromkeys(place for place, *_ in one.read.values()))
    ours = trace(circuit, batch, one.courses, places, one.stop, step, from_nought=one.from_nought, since=one.since)
    rest = come_to_rest(circuit, figures_at(batch, one.courses, 0.0))
    read = {says: read(ours.seconds, ours.volts[place]) for says, (place, read, _) in one.read.items()}
    found = {int(variant): Pair(bool(ours.solved[n])) for n, variant in enumerate(chosen)}
    for n, (variant, pair) in enumerate(found.items()):
        if not pair.solved:
            continue
        deck = TimeDeck(circuit, whole, variant, one.courses)
        if not one.from_nought:  # a latch has two rests: both begin at ours, which still has to satisfy ngspice
            deck.start_near(rest.volts[:, n])
        try:
            theirs = deck.traces(one, step / 4.0)
        except (RuntimeError, subprocess.TimeoutExpired):
            pair.answered = False
            continue
        pair.beside = apart(one, theirs, {says: float(values[n]) for says, values in read.items()})
    return found


def compare(name: str, count: int) -> Beside:
    """So many variants of a circuit in time, ours beside ngspice's.

    What is apart is followed once more, by both in steps a quarter as long: ngspice overshoots now and then where a diode
    lets go, and ours come late by a share of a step where an oscillator turns.
    """
    chosen, says, step = some(name, count), prepared(name)[2], CIRCUITS[name].step
    found, all_pairs = Beside(), pairs(name, chosen, step)
    again = [variant for variant, pair in all_pairs.items() if far(pair.beside)]
    if again:
        finer = pairs(name, np.array(again), step / 4.0)
        found.finer = [says[variant] for variant, pair in finer.items() if pair.beside and not far(pair.beside)]
        all_pairs |= finer
    for variant, pair in all_pairs.items():
        if not pair.solved:
            found.unsolved.append(says[variant])
        elif not pair.answered:
            found.refused.append(says[variant])
        elif not pair.beside:
            found.silent.append(says[variant])
        else:
            found.compared += 1
            found.figures.update(pair.beside.keys())
            found.worst = max([found.worst, *(off for *_, off in pair.beside.values())])
            off = {name: one for name, one in pair.beside.items() if one[2] > 1.0}
            found.apart += [(says[variant], name, there, here) for name, (there, here, _) in off.items()]
    return found
