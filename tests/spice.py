"""An outside reference: the same circuit as a deck for ngspice, its equations typed afresh.

Only the figures and the wiring of a variant are taken from our side; every law is written here
again, as a behavioural source or with ngspice's own devices.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Sequence
from keyword import iskeyword

import numpy as np

from probewright.simulation.circuit import Batch, Circuit
from spice_active import Active
from spice_passive import Passive

VT = 8.617333262e-5 * 300.15  # k T / q at 27 C, ngspice's nominal temperature
METER = 10e6


def at(value, variant: int) -> float:
    """One variant's figure."""
    return float(value if np.ndim(value) == 0 else value[variant])


def method_of(kind: str) -> str:
    """Name of the method that writes a kind: Python has words of its own."""
    name = kind.replace("-", "_")
    return f"{name}_" if iskeyword(name) else name


class Deck(Passive, Active):
    """The deck of one variant. nets: places that can be read, each with a meter that can be switched in."""

    reach = 20.0  # drive in halves of the swing at which an op-amp's output is at its rail; at rest any is heard

    def __init__(self, circuit: Circuit, batch: Batch, variant: int, nets: Sequence[str]) -> None:
        self.circuit, self.batch, self.variant, self.nets = circuit, batch, variant, nets
        self.lines = ["* one variant", ".options reltol=1e-7 abstol=1e-13 vntol=1e-10 gmin=1e-12 itl1=2000"]
        self.count = 0
        for group in circuit.groups:
            for name in group.parts:
                getattr(self, method_of(group.kind.name), self.two_ends)(name)
        for path in batch.paths:
            if path.start <= variant < path.stop:
                self.add("r", f"{self.place(path.a)} {self.place(path.b)} {at(self._span(path), 0):.12g}")
        for a, b, ohms in circuit.links:
            self.add("r", f"{self.place(a)} {self.place(b)} {ohms:.12g}")
        for free in batch.freed:
            if free.start <= variant < free.stop:
                group, row, column = circuit.terminals(free.part, free.pin)[0]
                self.add("r", f"spare {self.node(int(group.nodes[row, column]))} {at(self._span(free), 0):.12g}")
        for name in self.used_nodes():
            self.add("r", f"{name} 0 1e12")  # our least conductance
        for n, net in enumerate(nets):
            self.lines += [f"rmeter{n} {self.place(net)} tip{n} 1e15", f"vmeter{n} tip{n} 0 dc 0"]

    def _span(self, one):
        return one.ohms if np.ndim(one.ohms) == 0 else one.ohms[self.variant - one.start]

    def used_nodes(self) -> list[str]:
        names = [f"n{i}" for i in range(self.circuit.size) if i != self.circuit.spare]
        freed = any(f.start <= self.variant < f.stop for f in self.batch.freed)
        return [*names, "spare"] if freed else names

    def node(self, index: int) -> str:
        return "0" if index < 0 else f"n{index}"

    def moved(self, part: str, pin: str) -> bool:
        owner = self.circuit.machine.parts[part].package
        return any(
            f.pin == pin and f.part in (part, owner) and f.start <= self.variant < f.stop for f in self.batch.freed
        )

    def place(self, place: str) -> str:
        part, _, pin = place.rpartition(".")
        if part and self.moved(part, pin):
            return "spare"
        return self.node(self.circuit.at(place))

    def pin(self, part: str, pin: str) -> str:
        if self.moved(part, pin):
            return "spare"
        group, row, column = self.circuit.terminals(part, pin)[0]
        return self.node(int(group.nodes[row, column]))

    def figure(self, part: str, name: str) -> float:
        return at(self.batch.figures[part, name], self.variant)

    def add(self, letter: str, rest: str) -> None:
        self.count += 1
        self.lines.append(f"{letter}{self.count} {rest}")

    def inside(self) -> str:
        self.count += 1
        return f"i{self.count}"

    # one method for each kind

    def two_ends(self, part: str) -> None:
        self.add("r", f"{self.pin(part, '1')} {self.pin(part, '2')} {self.figure(part, 'resistance'):.12g}")

    def switch(self, part: str) -> None:
        closed, ohms = self.figure(part, "closed"), self.figure(part, "resistance")
        siemens = closed / ohms + (1.0 - closed) / 1e9
        self.add("r", f"{self.pin(part, '1')} {self.pin(part, '2')} {1.0 / siemens:.12g}")

    def capacitor(self, part: str) -> None:
        a, b, x = self.pin(part, "1"), self.pin(part, "2"), self.inside()
        self.add("r", f"{a} {b} {self.figure(part, 'leak'):.12g}")
        self.add("r", f"{a} {x} {max(self.figure(part, 'esr'), 1e-6):.12g}")
        self.add("c", f"{x} {b} {self.figure(part, 'capacitance'):.12g}")

    def potentiometer(self, part: str) -> None:
        whole, x = self.figure(part, "resistance"), self.inside()
        lower, end = self.figure(part, "position"), 5e-4 * whole
        assert self.figure(part, "bend") == 0.0, "only linear tracks here"
        self.add("r", f"{self.pin(part, 'top')} {x} {whole * (1 - lower) * self.figure(part, 'upper') + end:.12g}")
        self.add("r", f"{x} {self.pin(part, 'bottom')} {whole * lower * self.figure(part, 'lower') + end:.12g}")
        self.add("r", f"{x} {self.pin(part, 'wiper')} {self.figure(part, 'wiper'):.12g}")

    def diode(self, part: str) -> None:
        if self.figure(part, "scale"):
            model = f"m{self.inside()}"
            self.lines.append(
                f".model {model} d(is={self.figure(part, 'saturation'):.12g} n={self.figure(part, 'ideality'):.12g})"
            )
            self.add("d", f"{self.pin(part, 'a')} {self.pin(part, 'k')} {model}")

    def zener(self, part: str) -> None:
        if not self.figure(part, "scale"):
            return
        a, k = self.pin(part, "a"), self.pin(part, "k")
        v = f"(v({a})-v({k}))"
        forward = f"{self.figure(part, 'saturation'):.12g}*(exp(min({v}/{VT:.12g},40))-1)"
        past = f"((-{v}-{self.figure(part, 'volts'):.12g})/0.02)"
        # ln(1+e^x), written so that no exponent overflows
        backward = f"0.02/{self.figure(part, 'slope'):.12g}*(max({past},0)+ln(1+exp(-abs({past}))))"
        self.add("b", f"{a} {k} i={forward}-{backward}")

    def npn(self, part: str, kind: str = "npn") -> None:
        c, b, e = (self.pin(part, pin) for pin in "cbe")
        saturation, gain, reverse = (self.figure(part, n) for n in ("saturation", "gain", "reverse_gain"))
        whole = [self.figure(part, n) for n in ("transport", "base_emitter", "base_collector")]
        model, sign = f"m{self.inside()}", 1 if kind == "npn" else -1
        if whole == [1.0, 1.0, 1.0]:
            self.lines.append(f".model {model} {kind}(is={saturation:.12g} bf={gain:.12g} br={reverse:.12g})")
            self.add("q", f"{c} {b} {e} {model}")
            return
        assert whole[0] == 0.0, "a bond is open: only junctions are left"
        for share, ratio, other in ((whole[1], gain, e), (whole[2], reverse, c)):
            if share:
                one = f"m{self.inside()}"
                self.lines.append(f".model {one} d(is={saturation * share / ratio:.12g} n=1)")
                self.add("d", f"{b} {other} {one}" if sign > 0 else f"{other} {b} {one}")

    def pnp(self, part: str) -> None:
        self.npn(part, "pnp")

    def source(self, part: str) -> None:
        plus, minus, x = self.pin(part, "plus"), self.pin(part, "minus"), self.inside()
        self.add("v", f"{x} 0 dc {self.figure(part, 'volts'):.12g} ac {self.figure(part, 'signal'):.12g}")
        series, limit = self.figure(part, "series"), self.figure(part, "limit")
        push = f"(v({x})-v({plus})+v({minus}))/{series * limit:.12g}"
        self.add("b", f"{minus} {plus} i={limit:.12g}*tanh(max(-20,min(20,{push})))")

    def regulator(self, part: str) -> None:
        i, o, c = (f"v({self.pin(part, pin)})" for pin in ("in", "out", "com"))
        volts, drop, limit = (self.figure(part, n) for n in ("volts", "drop", "limit"))
        room = f"({i}-{c}-{drop:.12g})"
        # the smaller of the two, rounded over 50 mV, and never below nought
        small = f"(min({volts:.12g},{room})-0.05*ln(1+exp(-abs({volts:.12g}-{room})/0.05)))"
        low = f"(max({small},0)+0.05*ln(1+exp(-abs({small})/0.05)))"
        # without input it lies below its reference by what four tenths of the limit drop
        low = f"({low}-{0.2 * self.figure(part, 'r_out') * limit:.12g}*(1-tanh({small}/0.1)))"
        push = f"(({low}+{c}-{o})/{self.figure(part, 'r_out') * limit:.12g})"
        way = f"(max({push},0)+0.02*ln(1+exp(-abs({push})/0.02)))"
        self.add("b", f"{self.pin(part, 'in')} {self.pin(part, 'out')} i={limit:.12g}*tanh(min({way},20))")
        quiet = self.figure(part, "quiescent")
        self.add("b", f"{self.pin(part, 'in')} {self.pin(part, 'com')} i={quiet:.12g}*tanh(({i}-{c})/2)")

    def opamp(self, part: str) -> None:
        pins = {pin: self.pin(part, pin) for pin in ("plus", "minus", "out", "vplus", "vminus")}
        p = {
            n: self.figure(part, n)
            for n in (
                "gain",
                "offset",
                "bandwidth",
                "headroom_high",
                "headroom_low",
                "r_out",
                "limit",
                "supply_current",
                "input",
                "stuck",
            )
        }
        high, low, out = f"v({pins['vplus']})", f"v({pins['vminus']})", f"v({pins['out']})"
        self.add("r", f"{pins['plus']} {pins['minus']} {p['input']:.12g}")
        x, y, top = self.inside(), self.inside(), self.inside()
        self.add("b", f"{x} 0 v=v({pins['plus']})-v({pins['minus']})")
        self.add("r", f"{x} {y} 1")
        self.add("c", f"{y} 0 {p['gain'] / (2 * np.pi * p['bandwidth']):.12g}")
        spare = f"({high}-{low}-{p['headroom_high'] + p['headroom_low']:.12g})"
        self.add("b", f"{top} 0 v=0.5*({spare}+sqrt({spare}*{spare}+0.0025))")
        half = f"(0.5*v({top}))"
        fade = f"sqrt({half}*{half}+0.04)"
        drive = f"({p['gain']:.12g}*(v({y})+{p['offset']:.12g})/{fade}+{p['stuck']:.12g})"
        middle = f"(0.5*({high}-{p['headroom_high']:.12g}+{low}+{p['headroom_low']:.12g}))"
        level = self.inside()
        far = f"max(-{self.reach},min({self.reach},{drive}))"
        self.add("b", f"{level} 0 v={middle}+{half}*tanh({far})/{np.tanh(self.reach):.12g}")
        alive = f"(tanh(v({top})/0.5)*tanh(v({top})/0.5)*tanh({high}-{low})*tanh({high}-{low}))"
        amps = self.inside()
        push = f"((v({level})-{out})/{p['r_out'] * p['limit']:.12g})"
        self.add("b", f"{amps} 0 v={p['limit']:.12g}*{alive}*tanh(max(-20,min(20,{push})))")
        cross = f"(1e-3*{alive})"
        root = f"sqrt(v({amps})*v({amps})+{cross}*{cross}+1e-24)"
        quiet = f"{p['supply_current']:.12g}*tanh({high}-{low})"
        self.add("b", f"0 {pins['out']} i=v({amps})")
        self.add("b", f"{pins['vplus']} 0 i=0.5*(v({amps})+{root})+{quiet}")
        self.add("b", f"{pins['vminus']} 0 i=0.5*(v({amps})-{root})-{quiet}")

    def start_near(self, volts: np.ndarray) -> None:
        """Tell ngspice where to begin; it still has to satisfy every equation by itself."""
        for index in range(self.circuit.size):
            if index != self.circuit.spare:
                self.lines.append(f".nodeset v(n{index})={volts[index, self.variant]:.9g}")

    def run(
        self,
        hertz: Sequence[float] = (),
        metered: bool = True,
        meter: float = METER,
        feeds: float = 0.0,
        most: float = 20.0,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Direct volts at every net with its own meter on (net,), and magnitudes (hertz, net) without.

        meter: its ohms to ground; feeds: volts it puts out behind them; most: s that ngspice is given.
        """
        control = [".control", "set numdgt=12"]
        for n, net in enumerate(self.nets):
            if metered:
                control += [f"alter rmeter{n} = {meter:.12g}", f"alter vmeter{n} dc = {feeds:.12g}"]
            control += ["op", f"print v({self.place(net)})"]
            if metered:
                control += [f"alter rmeter{n} = 1e15", f"alter vmeter{n} dc = 0"]
        for f in hertz:
            control += [f"ac lin 1 {f:.12g} {f:.12g}", *(f"print mag(v({self.place(net)}))" for net in self.nets)]
        text = "\n".join([*self.lines, *control, "quit 0", ".endc", ".end", ""])
        done = subprocess.run(
            ["ngspice", "-b", "/dev/stdin"], input=text, capture_output=True, text=True, timeout=most, check=False
        )
        found = [float(x) for x in re.findall(r"^(?:v\(\S+\)|mag\(v\(\S+\)\)) = (\S+)", done.stdout, re.M)]
        wanted = len(self.nets) * (1 + len(hertz))
        if len(found) != wanted or "singular" in done.stderr.lower():
            raise RuntimeError(f"ngspice gave {len(found)} of {wanted} figures: {done.stderr[-800:]}\n{text}")
        return np.array(found[: len(self.nets)]), np.array(found[len(self.nets) :]).reshape(len(hertz), len(self.nets))
