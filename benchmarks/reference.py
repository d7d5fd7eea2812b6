"""The same variants in ngspice, in the ways people run it in batches: a loop of `alter` and `op` in one
process, over one circuit or over several copies in one deck.

Every law is typed afresh here; only wiring and figures are taken from our side.
"""

from __future__ import annotations

import re
import subprocess
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from probewright.simulation.circuit import Batch, Circuit

INSTALL = "sudo apt-get install ngspice"
TIGHT = ".options reltol=1e-5 abstol=1e-13 vntol=1e-9 gmin=1e-12 rshunt=1e12 itl1=1000"
ROOM = 0.5  # V: nearer to a rail than this is not compared
NO_LIMIT = 100.0  # A: a source without a limit worth the name is an electromotive force and a resistor


@dataclass(frozen=True)
class Knob:
    """What is set before each solve: `alter` or `altermod` words up to the value; value (variant,)."""

    words: str
    value: np.ndarray


@dataclass
class Deck:
    """A circuit in ngspice's words, "@" standing for the number of the copy.

    signals: with what matters to a signal only (a capacitor's series branch, an amplifier's pole);
    a deck for rest points does without.
    """

    circuit: Circuit
    batch: Batch
    signals: bool
    lines: list[str] = field(default_factory=list)
    first: list[tuple[str, np.ndarray]] = field(default_factory=list)
    knobs: list[Knob] = field(default_factory=list)

    def __post_init__(self) -> None:
        for group in self.circuit.groups:
            for column, part in enumerate(group.parts):
                nodes = ["0" if n < 0 else f"n{n}@" for n in group.nodes[:, column]]
                law = getattr(self, group.kind.name, self.two_ends)
                law(part, dict(zip(group.kind.pins, nodes, strict=True)))

    def figure(self, part: str, name: str) -> Any:
        """One figure, (variant,) or a number."""
        return self.batch.figures[part, name]

    def add(self, name: str, between: str, value: Any, alter: str = "alter {} =", form: str = "{}") -> None:
        """An element with one value; a knob as well where variants differ in it."""
        values = np.broadcast_to(np.asarray(value, float), (self.batch.size,))
        self.lines.append(f"{name} {between} {form.format(f'<{len(self.first)}>')}")
        self.first.append((name, values))
        if np.ndim(value):
            self.knobs.append(Knob(alter.format(name), values))

    # one method for each kind

    def two_ends(self, part: str, pin: dict[str, str]) -> None:
        """A resistance."""
        self.add(f"r{part}@", f"{pin['1']} {pin['2']}", self.figure(part, "resistance"))

    def capacitor(self, part: str, pin: dict[str, str]) -> None:
        """Leak; for signals the capacitance in series with its resistance as well."""
        self.add(f"rleak{part}@", f"{pin['1']} {pin['2']}", self.figure(part, "leak"))
        if self.signals:
            self.add(f"resr{part}@", f"{pin['1']} i{part}@", self.figure(part, "esr"))
            self.add(f"c{part}@", f"i{part}@ {pin['2']}", self.figure(part, "capacitance"))

    def potentiometer(self, part: str, pin: dict[str, str]) -> None:
        """Two tracks and a wiper as three resistors in a triangle, which spares ngspice a node."""
        whole, at, bend = (np.asarray(self.figure(part, n), float) for n in ("resistance", "position", "bend"))
        assert np.all(bend >= 0.0), "no antilog track here"
        base = (1.0 / 0.15 - 1.0) ** 2
        lower = np.where(bend > 0.5, (base**at - 1.0) / (base - 1.0), at)
        end = 5e-4 * whole
        upper_track = whole * (1.0 - lower) * self.figure(part, "upper") + end
        lower_track = whole * lower * self.figure(part, "lower") + end
        wiper = np.asarray(self.figure(part, "wiper"), float)
        sides = upper_track * lower_track + lower_track * wiper + wiper * upper_track
        for a, b, opposite in (
            ("top", "wiper", lower_track),
            ("wiper", "bottom", upper_track),
            ("top", "bottom", wiper),
        ):
            self.add(f"r{a[0]}{b[0]}{part}@", f"{pin[a]} {pin[b]}", sides / opposite)

    def diode(self, part: str, pin: dict[str, str]) -> None:
        """ngspice's own diode."""
        amps, ideality = self.figure(part, "saturation"), self.figure(part, "ideality")
        self.lines += [
            f".model m{part}@ d(is={amps:.12g} n={ideality:.12g})",
            f"d{part}@ {pin['a']} {pin['k']} m{part}@",
        ]

    def npn(self, part: str, pin: dict[str, str]) -> None:
        """ngspice's own transistor, with a model of its own because gains differ."""
        rest = f"is={self.figure(part, 'saturation'):.12g} br={self.figure(part, 'reverse_gain'):.12g}"
        self.lines.append(f"q{part}@ {pin['c']} {pin['b']} {pin['e']} m{part}@")
        self.add(f".model m{part}@", "npn", self.figure(part, "gain"), f"altermod m{part}@ bf =", f"({rest} bf={{}})")

    def source(self, part: str, pin: dict[str, str]) -> None:
        """Electromotive force and resistance, or a supply that levels off at its limit."""
        assert pin["minus"] == "0", "sources to ground only"
        series, limit = self.figure(part, "series"), self.figure(part, "limit")
        signal = f"ac {float(np.max(self.figure(part, 'signal'))):.12g}"
        self.add(f"v{part}@", f"i{part}@ 0", self.figure(part, "volts"), form="dc {} " + signal)
        if np.min(limit) >= NO_LIMIT:
            self.add(f"r{part}@", f"i{part}@ {pin['plus']}", series)
        else:
            push = f"(v(i{part}@)-v({pin['plus']}))/{series * limit:.12g}"
            self.lines.append(f"b{part}@ 0 {pin['plus']} i={limit:.12g}*tanh({push})")

    def regulator(self, part: str, pin: dict[str, str]) -> None:
        """In regulation always: its set voltage behind its resistance, see `opamp`."""
        volts, ohms, quiet = (float(self.figure(part, name)) for name in ("volts", "r_out", "quiescent"))
        i, o, c = (v(pin[name]) for name in ("in", "out", "com"))
        self.lines.append(f"b{part}@ {pin['in']} {pin['out']} i=({volts:.12g}+{c}-{o})/{ohms:.12g}")
        self.lines.append(f"bquiet{part}@ {pin['in']} {pin['com']} i={quiet:.12g}*tanh(({i}-{c})/2)")

    def opamp(self, part: str, pin: dict[str, str]) -> None:
        """A straight amplifier without rails or limit, which is the easier for ngspice; for signals one pole.

        With rails, limit and the regulator's drop-out in, ngspice comes to no rest on the mixer from cold, whether an
        output levels off by a tanh or by a pair of junctions. Without them the race is the more generous to it, and
        its answers are compared where nothing is levelled (`unlevelled`).
        """
        gain, ohms, quiet = (float(self.figure(part, name)) for name in ("gain", "r_out", "supply_current"))
        assert self.figure(part, "headroom_high") == self.figure(part, "headroom_low"), "rests half way"
        plus, minus, out, high, low = (v(pin[n]) for n in ("plus", "minus", "out", "vplus", "vminus"))
        self.lines.append(f"rin{part}@ {pin['plus']} {pin['minus']} {self.figure(part, 'input'):.12g}")
        asked = f"({plus}-{minus})"
        if self.signals:
            self.lines.append(f"bask{part}@ ask{part}@ 0 v={asked}")
            self.lines.append(f"rask{part}@ ask{part}@ lag{part}@ 1")
            self.lines.append(f"clag{part}@ lag{part}@ 0 {gain / (2.0 * np.pi * self.figure(part, 'bandwidth')):.12g}")
            asked = f"v(lag{part}@)"
        ideal = f"0.5*({high}+{low})+{gain:.12g}*({asked}+{self.figure(part, 'offset'):.12g})"
        self.lines.append(f"bideal{part}@ ideal{part}@ 0 v={ideal}")
        self.lines.append(f"rout{part}@ ideal{part}@ {pin['out']} {ohms:.12g}")
        amps = f"((v(ideal{part}@)-{out})/{ohms:.12g})"
        root = f"sqrt({amps}*{amps}+1e-6)"
        for name, sign in (("vplus", "+"), ("vminus", "-")):
            if pin[name] != "0":
                self.lines.append(f"b{name}{part}@ {pin[name]} 0 i=0.5*({amps}{sign}{root}){sign}{quiet:.12g}")

    def text(self, copies: int, chosen: Sequence[int], analysis: str, ask: Sequence[str], options: str = "") -> str:
        """A whole deck: this many copies, then a loop that sets and solves the chosen variants, `copies` at a time.

        ask: what to print of each copy after each solve, in ngspice's words.
        """
        out = ["* the same circuit, figures altered"] + ([options] if options else [])
        for copy in range(copies):
            for line in self.lines:
                out.append(
                    re.sub(r"<(\d+)>", lambda m: f"{self.first[int(m[1])][1][0]:.10g}", line).replace("@", f"_{copy}")
                )
        out += [".control", "set numdgt=10"]
        for begin in range(0, len(chosen), copies):
            for copy, variant in enumerate(chosen[begin : begin + copies]):
                out += [f"{knob.words.replace('@', f'_{copy}')} {knob.value[variant]:.10g}" for knob in self.knobs]
            out.append(analysis)
            for copy, variant in enumerate(chosen[begin : begin + copies]):
                out += [f"echo =variant {variant}", "print " + " ".join(one.replace("@", f"_{copy}") for one in ask)]
            out.append("destroy all")
        return "\n".join([*out, "quit 0", ".endc", ".end", ""])


def unlevelled(circuit: Circuit, batch: Batch, volts: np.ndarray, swing: np.ndarray | None = None) -> np.ndarray:
    """(variant,) True where no amplifier is near a rail and every regulator has room.

    volts (node + 1, variant); swing: likewise, peak volts of the signal, or None.
    """
    clear = np.ones(batch.size, bool)
    for group in circuit.groups:
        for column, part in enumerate(group.parts):
            at = dict(zip(group.kind.pins, volts[group.nodes[:, column]], strict=True))
            if group.kind.name == "opamp":
                room = batch.figures[part, "headroom_high"] + ROOM
                if swing is not None:
                    room = room + swing[group.nodes[group.pin_index["out"], column]]
                clear &= (at["vplus"] - at["out"] > room) & (at["out"] - at["vminus"] > room)
            elif group.kind.name == "regulator":
                clear &= at["in"] - at["com"] > batch.figures[part, "volts"] + batch.figures[part, "drop"] + ROOM
    return clear


def v(node: str) -> str:
    """A node's volts in an expression; ground has none."""
    return "0" if node == "0" else f"v({node})"


def run(text: str) -> tuple[float, str]:
    """Seconds of a whole run of ngspice, and what it printed."""
    start = time.perf_counter()
    done = subprocess.run(
        ["ngspice", "-b", "/dev/stdin"], input=text, capture_output=True, text=True, timeout=240, check=False
    )
    return time.perf_counter() - start, done.stdout


def answers(printed: str, count: int) -> dict[int, np.ndarray]:
    """Variant -> the figures printed for it; those without an answer are left out."""
    found = {}
    for block in printed.split("=variant ")[1:]:
        figures = [float(x) for x in re.findall(r"^\S+ = (\S+)$", block, re.M)]
        if len(figures) == count:
            found[int(block.split(None, 1)[0])] = np.array(figures)
    return found


def per_variant(deck: Deck, copies: int, few: int, many: int, analysis: str = "op") -> float:
    """Seconds a variant, start-up counted out by the difference of two sizes.

    few, many: variants of the two runs; the quickest of each counts. One node a variant is printed, the least that
    shows there was an answer.
    """
    ask = ["n0@" if analysis == "op" else "mag(v(n0@)[0])"]
    short, long = (min(run(deck.text(copies, range(n), analysis, ask))[0] for _ in range(2)) for n in (few, many))
    return (long - short) / (many - few)
