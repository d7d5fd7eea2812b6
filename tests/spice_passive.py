"""Decks of coils, contacts, lamps and the like: their laws typed afresh for ngspice."""

from __future__ import annotations

import numpy as np

VT = 8.617333262e-5 * 300.15  # k T / q at 27 C


class Passive:
    """One method for each kind; the deck around it gives pin, figure, inside, add and lines."""

    def junction(self, a: str, k: str, saturation: float, ideality: float) -> None:
        model = f"m{self.inside()}"
        self.lines.append(f".model {model} d(is={saturation:.12g} n={ideality:.12g})")
        self.add("d", f"{a} {k} {model}")

    def led(self, part: str) -> None:
        if self.figure(part, "scale"):
            n = self.figure(part, "ideality")
            saturation = 0.01 / (np.exp(self.figure(part, "volts") / (n * VT)) - 1.0)
            self.junction(self.pin(part, "a"), self.pin(part, "k"), saturation, n)

    def bridge(self, part: str) -> None:
        for a, k in (("ac1", "plus"), ("ac2", "plus"), ("minus", "ac1"), ("minus", "ac2")):
            if self.figure(part, f"{a}_{k}"):
                saturation, n = self.figure(part, "saturation"), self.figure(part, "ideality")
                self.junction(self.pin(part, a), self.pin(part, k), saturation, n)

    def wound(self, a: str, b: str, ohms: float, henry: float) -> str:
        x = self.inside()
        self.add("r", f"{a} {x} {ohms:.12g}")
        self.add("l", f"{x} {b} {henry:.12g}")
        return f"l{self.count}"

    def inductor(self, part: str) -> None:
        ohms, henry = self.figure(part, "resistance"), self.figure(part, "inductance")
        self.wound(self.pin(part, "1"), self.pin(part, "2"), ohms, henry)

    loudspeaker = headphone = inductor

    def transformer(self, part: str) -> None:
        ratio, henry = self.figure(part, "ratio"), self.figure(part, "inductance")
        half, ohms = henry / (2.0 * ratio) ** 2, self.figure(part, "secondary") / 2.0
        p1, p2, s1, s2, tap = (self.pin(part, one) for one in ("p1", "p2", "s1", "s2", "tap"))
        one = self.wound(p1, p2, self.figure(part, "primary"), henry)
        two = self.wound(s1, tap, ohms * self.figure(part, "upper"), half)
        three = self.wound(tap, s2, ohms * self.figure(part, "lower"), half)
        k = np.sqrt(1.0 - self.figure(part, "leakage"))
        self.add("k", f"{one} {two} {k:.12g}")
        self.add("k", f"{one} {three} {k:.12g}")
        self.add("k", f"{two} {three} 0.999999999999")

    def relay(self, part: str) -> None:
        coil1, coil2, com, no, nc = (self.pin(part, one) for one in ("coil1", "coil2", "com", "no", "nc"))
        self.add("r", f"{coil1} {coil2} {self.figure(part, 'coil') * self.figure(part, 'broken'):.12g}")
        level = self.figure(part, "pull") * self.figure(part, "volts")
        volts = f"((v({coil1})-v({coil2}))/{self.figure(part, 'broken'):.12g})"
        push = self.figure(part, "finger") - self.figure(part, "stuck")
        x = f"((sqrt({volts}*{volts}+1e-6)/{level:.12g}-1)/0.02+({push:.12g}))"
        over = f"tanh(max(-20,min(20,{x})))"
        for pin, sign, extra in ((no, "+", "make"), (nc, "-", "break")):
            ohms = self.figure(part, "contact") + self.figure(part, extra)
            self.add("b", f"{com} {pin} i=(v({com})-v({pin}))*(1e-9+0.5*(1{sign}{over})/{ohms:.12g})")

    def jack(self, part: str) -> None:
        inside = self.figure(part, "plugged")
        for pin, extra, closed in (("plug", "make", inside), ("rest", "break", 1.0 - inside)):
            ohms = self.figure(part, "resistance") + self.figure(part, extra) if closed else 1e9
            self.add("r", f"{self.pin(part, 'tip')} {self.pin(part, pin)} {ohms:.12g}")

    def network(self, part: str) -> None:
        for end in range(1, 10):
            ohms = self.figure(part, "resistance") * self.figure(part, f"whole{end}")
            self.add("r", f"{self.pin(part, 'com')} {self.pin(part, str(end))} {ohms:.12g}")

    def lamp(self, part: str) -> None:
        a, b = self.pin(part, "1"), self.pin(part, "2")
        hot = self.figure(part, "resistance") * self.figure(part, "worn")
        cold = hot * self.figure(part, "cold")
        x = f"((v({a})-v({b}))/{self.figure(part, 'volts'):.12g})"
        square = f"({cold**2:.12g}+{hot**2 - cold**2:.12g}*pow({x}*{x}+1e-24,0.45))"
        self.add("b", f"{a} {b} i=(v({a})-v({b}))/sqrt({square})")

    def thermistor(self, part: str) -> None:
        warm = self.figure(part, "beta") * (1.0 / (self.figure(part, "temperature") + 273.15) - 1.0 / 298.15)
        ohms = self.figure(part, "resistance") * np.exp(warm)
        self.add("r", f"{self.pin(part, '1')} {self.pin(part, '2')} {ohms:.12g}")

    def battery(self, part: str) -> None:
        x = self.inside()
        self.add("v", f"{x} {self.pin(part, 'minus')} {self.figure(part, 'volts') * self.figure(part, 'charge'):.12g}")
        self.add("r", f"{x} {self.pin(part, 'plus')} {self.figure(part, 'series'):.12g}")

    def crystal(self, part: str) -> None:
        a, b = self.pin(part, "1"), self.pin(part, "2")
        self.add("r", f"{a} {b} 5e8")
        self.add("c", f"{a} {b} {self.figure(part, 'capacitance'):.12g}")
