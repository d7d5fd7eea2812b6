"""Decks of field-effect transistors, regulators, comparators and gates: ngspice's own devices, or laws typed afresh."""

from __future__ import annotations


class Active:
    """One method for each kind; the deck around it gives pin, figure, inside, add and lines."""

    # field effect: ngspice's own devices

    def junctions(self, part: str, ends, saturation: float, sign: int) -> None:
        model = f"m{self.inside()}"
        self.lines.append(f".model {model} d(is={saturation:.12g} n=1)")
        for anode, cathode in ends:
            a, k = (anode, cathode) if sign > 0 else (cathode, anode)
            self.add("d", f"{a} {k} {model}")

    def n_jfet(self, part: str, sign: int = 1) -> None:
        d, g, s = (self.pin(part, pin) for pin in "dgs")
        saturation, pinch = self.figure(part, "saturation"), abs(self.figure(part, "pinch_off"))
        if not self.figure(part, "channel"):
            self.junctions(part, ((g, s), (g, d)), saturation, sign)
            return
        model, beta = f"m{self.inside()}", self.figure(part, "idss") / pinch**2
        kind = "njf" if sign > 0 else "pjf"
        self.lines.append(
            f".model {model} {kind}(vto={-pinch:.12g} beta={beta:.12g} lambda={1 / self.figure(part, 'early'):.12g} "
            f"is={saturation:.12g})"
        )
        self.add("j", f"{d} {g} {s} {model}")

    def p_jfet(self, part: str) -> None:
        self.n_jfet(part, -1)

    def n_mosfet(self, part: str, sign: int = 1) -> None:
        d, g, s = (self.pin(part, pin) for pin in "dgs")
        if self.figure(part, "body"):
            self.junctions(part, ((s, d),), self.figure(part, "saturation"), sign)
        if not self.figure(part, "channel"):
            return
        model, threshold = f"m{self.inside()}", abs(self.figure(part, "threshold"))
        kp = 1.0 / (self.figure(part, "on") * (10.0 - threshold))  # level 1: Id = kp / 2 (Vgs - Vt)^2
        kind = "nmos" if sign > 0 else "pmos"
        self.lines.append(
            f".model {model} {kind}(level=1 vto={sign * threshold:.12g} kp={kp:.12g} gamma=0 is=1e-30 "
            f"lambda={1 / self.figure(part, 'early'):.12g})"
        )
        self.add("m", f"{d} {g} {s} {s} {model} w=1u l=1u")

    def p_mosfet(self, part: str) -> None:
        self.n_mosfet(part, -1)

    # regulators

    def three_terminal(self, part: str, sign: int) -> None:
        pins = [self.pin(part, pin) for pin in ("in", "out", "com")]
        i, o, c = (f"({sign}*v({pin}))" for pin in pins)
        volts, drop, limit = abs(self.figure(part, "volts")), self.figure(part, "drop"), self.figure(part, "limit")
        room = f"({i}-{c}-{drop:.12g})"
        small = f"(min({volts:.12g},{room})-0.05*ln(1+exp(-abs({volts:.12g}-{room})/0.05)))"
        low = f"(max({small},0)+0.05*ln(1+exp(-abs({small})/0.05)))"
        # without input it lies below its reference by what four tenths of the limit drop
        low = f"({low}-{0.2 * self.figure(part, 'r_out') * limit:.12g}*(1-tanh({small}/0.1)))"
        push = f"(({low}+{c}-{o})/{self.figure(part, 'r_out') * limit:.12g})"
        way = f"(max({push},0)+0.02*ln(1+exp(-abs({push})/0.02)))"
        self.add("b", f"{pins[0]} {pins[1]} i={sign * limit:.12g}*tanh(min({way},20))")
        self.add("b", f"{pins[0]} {pins[2]} i={sign * self.figure(part, 'quiescent'):.12g}*tanh(({i}-{c})/2)")

    def negative_regulator(self, part: str) -> None:
        self.three_terminal(part, -1)

    def adjustable_regulator(self, part: str, sign: int = 1) -> None:
        self.three_terminal(part, sign)
        i, o = self.pin(part, "in"), self.pin(part, "out")
        self.add("b", f"{i} {o} i={self.figure(part, 'idle'):.12g}*tanh(v({i})-v({o}))")

    def negative_adjustable_regulator(self, part: str) -> None:
        self.adjustable_regulator(part, -1)

    # switching parts: a node inside holds how far the output is one way

    def held(self, expression: str) -> str:
        inside = self.inside()
        self.add("b", f"{inside} 0 v={expression}")
        return f"v({inside})"

    @staticmethod
    def bounded(expression: str) -> str:
        return f"tanh(max(-20,min(20,{expression})))"

    def comparator(self, part: str) -> None:
        pins = {pin: self.pin(part, pin) for pin in ("plus", "minus", "out", "vplus", "vminus")}
        plus, minus, out, high, low = (f"v({pin})" for pin in pins.values())
        p = {n: self.figure(part, n) for n in ("gain", "offset", "r_out", "limit", "supply_current", "input", "stuck")}
        past = f"({p['gain'] / 0.5:.12g}*({minus}-{plus}-({p['offset']:.12g}))-({p['stuck']:.12g}))"
        down = self.held(f"0.5*(1+{self.bounded(past)})")
        fed = f"tanh({high}-{low})"
        sunk = self.bounded(f"({out}-{low})/{p['r_out'] * p['limit']:.12g}")
        self.add("b", f"{pins['out']} {pins['vminus']} i={p['limit']:.12g}*{down}*{fed}*{fed}*{sunk}")
        self.add("b", f"{pins['vplus']} {pins['vminus']} i={p['supply_current']:.12g}*{fed}")
        for pin in ("plus", "minus"):
            self.add("r", f"{pins['vplus']} {pins[pin]} {p['input']:.12g}")

    def gate(self, part: str, inputs: str, level: str, hysteresis: float = 0.0) -> None:
        """level: chance that the output is high, with {a}, {b}, {c} for the chances of the inputs."""
        pins = {pin: self.pin(part, pin) for pin in (*inputs.split(), "out", "vplus", "vminus")}
        high, low, out = f"v({pins['vplus']})", f"v({pins['vminus']})", f"v({pins['out']})"
        p = {
            n: self.figure(part, n)
            for n in "threshold ohms_low ohms_high drop_low drop_high limit takes supply_current follows two_way stuck".split()
        }
        swing = self.bounded(f"({out}-0.5*({high}+{low}))/0.25")
        where = f"({p['threshold']:.12g}+{0.5 * hysteresis}*{swing})"
        where = f"({where}*(1+{p['follows']}*(({high}-{low})/5-1)))"
        fed = f"(tanh({high}-{low})*tanh({high}-{low}))"
        chances = {}
        for pin in inputs.split():
            lost, drifts = self.figure(part, f"{pin}_lost"), self.figure(part, f"{pin}_drifts")
            v = f"v({pins[pin]})"
            heard = self.bounded(f"({v}-{low}-{where})/0.05")
            chances[pin if pin != "in" else "a"] = self.held(f"0.5*(1+{1 - lost}*{heard}+({lost * drifts:.12g}))")
            if p["takes"]:
                gives = f"0.5*(1-{self.bounded(f'({v}-{low}-1.35)/0.05')})"
                self.add("b", f"{pins['vplus']} {pins[pin]} i={p['takes'] * (1 - lost):.12g}*{fed}*{gives}")
            self.add("r", f"{pins[pin]} {pins['vminus']} 1e10")
        stuck = p["stuck"]
        level = self.held(level.format(**chances) if not stuck else f"{0.5 * (1 + stuck)}")
        reach = p["ohms_high"] * p["limit"]
        push = f"(({high}-{p['drop_high']:.12g}-{out})/{reach:.12g})"
        knee = 0.04 / reach
        soft = f"(max({push},0)+{knee:.12g}*ln(1+exp(-abs({push})/{knee:.12g})))"
        up = self.bounded(push) if p["two_way"] else f"tanh(min({soft},20))"
        down = self.bounded(f"({out}-{low}-{p['drop_low']:.12g})/{p['ohms_low'] * p['limit']:.12g}")
        self.add("b", f"{pins['vplus']} {pins['out']} i={p['limit']:.12g}*{level}*{fed}*{up}")
        self.add("b", f"{pins['out']} {pins['vminus']} i={p['limit']:.12g}*(1-{level})*{fed}*{down}")
        self.add("b", f"{pins['vplus']} {pins['vminus']} i={p['supply_current']:.12g}*tanh({high}-{low})")

    def buffer(self, part: str) -> None:
        self.gate(part, "in", "{a}")

    def inverter(self, part: str) -> None:
        self.gate(part, "in", "1-{a}")

    def schmitt(self, part: str) -> None:
        self.gate(part, "in", "1-{a}", hysteresis=0.8)

    def and_(self, part: str) -> None:
        self.gate(part, "a b", "{a}*{b}")

    def nand(self, part: str) -> None:
        self.gate(part, "a b", "1-{a}*{b}")

    def or_(self, part: str) -> None:
        self.gate(part, "a b", "{a}+{b}-{a}*{b}")

    def nor(self, part: str) -> None:
        self.gate(part, "a b", "1-{a}-{b}+{a}*{b}")

    def xor(self, part: str) -> None:
        self.gate(part, "a b", "{a}*(1-{b})+{b}*(1-{a})")

    def nand3(self, part: str) -> None:
        self.gate(part, "a b c", "1-{a}*{b}*{c}")

    def nor3(self, part: str) -> None:
        self.gate(part, "a b c", "(1-{a})*(1-{b})*(1-{c})")

    def nand4(self, part: str) -> None:
        self.gate(part, "a b c d", "1-{a}*{b}*{c}*{d}")

    def nor4(self, part: str) -> None:
        self.gate(part, "a b c d", "(1-{a})*(1-{b})*(1-{c})*(1-{d})")
