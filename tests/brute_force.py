"""A second opinion on one small machine: its own solver, its own draws, its own likelihood.

Nothing of the engine is used but stated constants, which are handed in as numbers. The circuit is
two transistors and ten other parts; Kirchhoff's laws are written as one dense matrix per variant
and solved by Newton's method with `numpy.linalg.solve`. What each suspect means is written here
again from the words of the mode table; probabilities come from importance draws about the best
fits of every suspect, corrected by prior over proposal and grown until enough of them count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erf

import numpy as np

MACHINE = """\
machine: Two-stage line amplifier
extras:
  PSU: source 12V 2% series 1R               VCC > GND
  GEN: source 0V series 600R                 SIG > GND
known good: [PSU, GEN]
parts:
  C1: capacitor 10u 20% film                 SIG > B1
  R1: resistor 100k                          VCC > B1
  R2: resistor 22k                           B1 > GND
  Q1: npn gain 100..400                      c=C1N b=B1 e=E1
  R3: resistor 4k7                           VCC > C1N
  R4: resistor 1k                            E1 > GND
  R6: resistor 100R                          E1 > BYP
  C2: capacitor 47u 20% electrolytic         BYP > GND
  Q2: npn gain 100..400                      c=VCC b=C1N e=OUT
  R5: resistor 2k2                           OUT > GND
stimuli:
  tone: {do: feed the 1 kHz tone, GEN: sine 10mV rms 1kHz}
"""
THERMAL = 0.025864926  # V at 27 degrees C
HERTZ, TONE_PEAK = 1000.0, 0.01 * 2.0**0.5
NETS = ("SIG", "B1", "VCC", "C1N", "E1", "BYP", "OUT")
NODE = {name: n for n, name in enumerate(NETS)}
AWAY, LIFTED, GROUND = 7, 8, 9  # metal of a pin with a bad joint; of the lifted leg; ground, dropped
NODE["GND"] = GROUND
PINS = {  # part -> (pin, net), in the order of the file
    "C1": (("1", "SIG"), ("2", "B1")), "R1": (("1", "VCC"), ("2", "B1")), "R2": (("1", "B1"), ("2", "GND")),
    "Q1": (("c", "C1N"), ("b", "B1"), ("e", "E1")), "R3": (("1", "VCC"), ("2", "C1N")), "R4": (("1", "E1"), ("2", "GND")),
    "R6": (("1", "E1"), ("2", "BYP")), "C2": (("1", "BYP"), ("2", "GND")), "Q2": (("c", "VCC"), ("b", "C1N"), ("e", "OUT")),
    "R5": (("1", "OUT"), ("2", "GND")), "PSU": (("plus", "VCC"), ("minus", "GND")), "GEN": (("plus", "SIG"), ("minus", "GND")),
}  # fmt: skip
# A healthy figure: nominal and tolerance, or a pair to lie between, evenly in the logarithm.
FIGURES = {
    "R1": (100e3, 0.05), "R2": (22e3, 0.05), "R3": (4.7e3, 0.05), "R4": (1e3, 0.05), "R6": (100.0, 0.05), "R5": (2.2e3, 0.05),
    "C1": (10e-6, 0.2), "C2": (47e-6, 0.2), "C2 leak": (1000.0 / 47e-6, 0.8),
    "PSU": (12.0, 0.02), "PSU series": (1.0, 0.3), "GEN series": (600.0, 0.3), "GEN level": (1.0, 0.03),
    "Q1 saturation": (1e-14, 0.5), "Q2 saturation": (1e-14, 0.5),
    "Q1 gain": (100.0, 400.0), "Q2 gain": (100.0, 400.0),
}  # fmt: skip
BETWEEN = np.array([key.endswith("gain") for key in FIGURES])
SIZE = len(FIGURES) + 1  # figures, then the severity


@dataclass(frozen=True)
class Stated:
    """The constants that both sides take as given (docs/method.md)."""

    honest: float
    slip: dict[str, float]
    model_sd: float
    model_floor: float
    stray_share: float
    stray_times: float
    unlisted_healthy: float
    meters: dict[str, tuple[float, float, float, float]]  # gain, own gain, own floor, shared floor


@dataclass(frozen=True)
class Asked:
    """A reading: "dc" or "pp" at a net; lifted: with R6.1 out of its hole; answer in V."""

    kind: str
    net: str
    lifted: bool
    answer: float = 0.0


# Suspects --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Way:
    """One way to break: figures set or multiplied, a path, a joint; sized by its severity."""

    id: str
    low: float = 1.0
    high: float = 1.0
    sets: tuple[tuple[str, float | None], ...] = ()  # None: the severity
    times: tuple[tuple[str, float | None], ...] = ()
    paths: tuple[tuple[str, str, float | None], ...] = ()
    joint: tuple[str, str, float | None] | None = None


def ways() -> tuple[Way, ...]:
    """Everything that can be wrong here, by the words of the mode table."""
    found: list[Way] = []
    for part, pins in PINS.items():
        if part in ("PSU", "GEN"):
            continue
        nets = [net for _, net in pins]
        if part[0] == "R":
            found += [Way(f"{part} open", sets=((part, 1e9),)), Way(f"{part} short", sets=((part, 0.05),))]
            found += [Way(f"{part} drift-up", 1.3, 10.0, times=((part, None),))]
        elif part[0] == "C":
            small = (1e3, 1e6) if part == "C2" else (1e4, 1e7)
            found += [
                Way(f"{part} open", times=((part, 1e-6),)),
                Way(f"{part} low-value", 0.02, 0.6, times=((part, None),)),
            ]
            found += [
                Way(f"{part} leak", *small, sets=((f"{part} leak", None),)),
                Way(f"{part} short", 0.05, 5.0, sets=((f"{part} leak", None),)),
            ]
            if part == "C2":
                found += [Way("C2 high-esr", 5.0, 1000.0, times=(("C2 esr", None),))]
        else:
            c, b, e = nets
            t, f, r = f"{part} transport", f"{part} emitter", f"{part} collector"
            found += [
                Way(f"{part} base-open", sets=((t, 0.0), (f, 0.0), (r, 0.0))),
                Way(f"{part} emitter-open", sets=((t, 0.0), (f, 0.0))),
                Way(f"{part} collector-open", sets=((t, 0.0), (r, 0.0), (f"{part} gain", 2.0))),
                Way(f"{part} ce-short", 0.05, 5.0, paths=((c, e, None),)),
                Way(f"{part} bc-short", 0.05, 5.0, paths=((b, c, None),)),
                Way(f"{part} be-short", 0.05, 5.0, paths=((b, e, None),)),
                Way(f"{part} all-short", paths=((c, b, 0.01), (b, e, 0.01))),
                Way(f"{part} leak-ce", 100.0, 1e5, paths=((c, e, None),)),
                Way(f"{part} low-gain", 0.02, 0.4, times=((f"{part} gain", None),)),
                Way(f"{part}.c~{part}.b bridge", 0.1, 30.0, paths=((c, b, None),)),
                Way(f"{part}.b~{part}.e bridge", 0.1, 30.0, paths=((b, e, None),)),
            ]
        for pin, _ in pins:
            found += [Way(f"{part}.{pin} joint-resistance", 1.0, 1e5, joint=(part, pin, None))]
            found += [Way(f"{part}.{pin} joint-open", joint=(part, pin, 1e12))]
    found += [Way(f"{net} loads-net", 10.0, 1e5, paths=((net, "GND", None),)) for net in NETS]
    return (*found, Way("nothing-wrong"), Way("not-listed"))


# Draws -----------------------------------------------------------------------------------------

ERF = np.array([0.5 * (1.0 + erf(x / 2.0**0.5)) for x in np.linspace(-8.0, 8.0, 4001)])


def share_below(t: np.ndarray) -> np.ndarray:
    """Share of a standard normal law below t."""
    return np.interp(t, np.linspace(-8.0, 8.0, 4001), ERF)


def figures_of(t: np.ndarray) -> dict[str, np.ndarray]:
    """Healthy figures (variant,) of standardised numbers t (variant, SIZE)."""
    found: dict[str, np.ndarray] = {}
    for n, (key, (a, b)) in enumerate(FIGURES.items()):
        found[key] = a * (b / a) ** share_below(t[:, n]) if BETWEEN[n] else a * np.exp(b / 3.0**0.5 * t[:, n])
    count = len(t)
    found |= {
        "C1 leak": np.full(count, 10e9),
        "C1 esr": np.full(count, 0.05),
        "C2 esr": np.full(count, 0.05 + 5e-6 / 47e-6),
    }
    for q in ("Q1", "Q2"):
        found |= {f"{q} {bond}": np.ones(count) for bond in ("transport", "emitter", "collector")}
    return found


def log_normal(x: np.ndarray, sd: np.ndarray | float = 1.0) -> np.ndarray:
    return -0.5 * (x / sd) ** 2 - np.log(sd) - 0.5 * np.log(2.0 * np.pi)


def log_prior(t: np.ndarray, stated: Stated) -> np.ndarray:
    """Log density (variant,) of standardised numbers: one in ten strays, ranges and severity do not."""
    heavy = np.logaddexp(
        np.log1p(-stated.stray_share) + log_normal(t), np.log(stated.stray_share) + log_normal(t, stated.stray_times)
    )
    plain = np.append(BETWEEN, True)
    return np.sum(np.where(plain, log_normal(t), heavy), axis=1)


def from_prior(random: np.random.Generator, count: int, stated: Stated) -> np.ndarray:
    t = random.standard_normal((count, SIZE))
    stray = random.random((count, SIZE)) < stated.stray_share
    return np.where(stray & ~np.append(BETWEEN, True), stated.stray_times * t, t)


# Kirchhoff -------------------------------------------------------------------------------------


class Bench:
    """Some variants, each with its own way (variant,) and figures, in one set-up."""

    def __init__(self, every: Sequence[Way], which: np.ndarray, t: np.ndarray, lifted: bool) -> None:
        self.count = len(which)
        p = figures_of(t)
        nodes = {(part, pin): np.full(self.count, NODE[net]) for part, pins in PINS.items() for pin, net in pins}
        joins: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        if lifted:
            nodes["R6", "1"][:] = LIFTED
        for k in np.unique(which):
            way, here = every[k], np.flatnonzero(which == k)
            size = way.low * (way.high / way.low) ** share_below(t[here, -1])
            for key, value in way.sets:
                p[key][here] = size if value is None else value
            for key, value in way.times:
                p[key][here] *= size if value is None else value
            for a, b, ohms in way.paths:
                joins.append(
                    (
                        here,
                        np.full(len(here), NODE[a]),
                        np.full(len(here), NODE[b]),
                        size if ohms is None else np.full(len(here), ohms),
                    )
                )  # type: ignore[arg-type]
            if way.joint is not None:
                part, pin, ohms = way.joint
                home = nodes[part, pin][here].copy()
                nodes[part, pin][here] = AWAY
                joins.append((here, home, np.full(len(here), AWAY), size if ohms is None else np.full(len(here), ohms)))  # type: ignore[arg-type]
        self.p, self.nodes = p, nodes
        self.still = self._zeros(float)
        everyone = np.arange(self.count)
        for here, a, b, ohms in joins:  # type: ignore[misc]
            self._join(self.still, here, a, b, 1.0 / np.maximum(ohms, 1e-3))
        for part in ("R1", "R2", "R3", "R4", "R5", "R6"):
            self._join(self.still, everyone, nodes[part, "1"], nodes[part, "2"], 1.0 / p[part])
        for part in ("PSU", "GEN"):
            self._join(self.still, everyone, nodes[part, "plus"], nodes[part, "minus"], 1.0 / p[f"{part} series"])
        self.fed = np.zeros((self.count, GROUND + 1))
        self.fed[:, NODE["VCC"]] = p["PSU"] / p["PSU series"]
        self.still[:, range(GROUND), range(GROUND)] += 1e-12

    def _zeros(self, kind: type) -> np.ndarray:
        return np.zeros((self.count, GROUND + 1, GROUND + 1), kind)

    @staticmethod
    def _join(matrix: np.ndarray, rows: np.ndarray, a: np.ndarray, b: np.ndarray, siemens: np.ndarray) -> None:
        matrix[rows, a, a] += siemens
        matrix[rows, b, b] += siemens
        matrix[rows, a, b] -= siemens
        matrix[rows, b, a] -= siemens

    def _with_leaks(self) -> np.ndarray:
        matrix, everyone = self.still.copy(), np.arange(self.count)
        for part in ("C1", "C2"):
            self._join(matrix, everyone, self.nodes[part, "1"], self.nodes[part, "2"], 1.0 / self.p[f"{part} leak"])
        return matrix

    def _transistors(self, volts: np.ndarray, rows: np.ndarray, current: np.ndarray, slope: np.ndarray) -> None:
        """Add what the transistors draw to current (variant, node) and its slopes; Ebers and Moll."""
        at = np.arange(len(rows))
        for q in ("Q1", "Q2"):
            c, b, e = (self.nodes[q, pin][rows] for pin in "cbe")
            p = {
                name: self.p[f"{q} {name}"][rows]
                for name in ("saturation", "gain", "transport", "emitter", "collector")
            }
            be, bc = volts[at, b] - volts[at, e], volts[at, b] - volts[at, c]
            up, down = (p["saturation"] * np.exp(np.minimum(x / THERMAL, 60.0)) for x in (be, bc))
            g_up, g_down = up / THERMAL + 1e-12, down / THERMAL + 1e-12
            up, down = up - p["saturation"] + 1e-12 * be, down - p["saturation"] + 1e-12 * bc
            kb_e, kb_c = p["emitter"] / p["gain"], p["collector"]
            into_c = p["transport"] * (up - down) - kb_c * down
            into_b = kb_e * up + kb_c * down
            for pin, amps, by_be, by_bc in (
                (c, into_c, p["transport"] * g_up, -(p["transport"] + kb_c) * g_down),
                (b, into_b, kb_e * g_up, kb_c * g_down),
                (e, -into_c - into_b, -(p["transport"] + kb_e) * g_up, p["transport"] * g_down),
            ):
                current[at, pin] += amps
                slope[at, pin, b] += by_be + by_bc
                slope[at, pin, e] -= by_be
                slope[at, pin, c] -= by_bc

    def _forward(self, volts: np.ndarray, rows: np.ndarray) -> np.ndarray:
        """(variant, junction) volts across the four junctions."""
        at = np.arange(len(rows))
        pairs = [(self.nodes[q, "b"][rows], self.nodes[q, pin][rows]) for q in ("Q1", "Q2") for pin in "ec"]
        return np.stack([volts[at, a] - volts[at, k] for a, k in pairs], axis=1)

    def rest(self, begin: np.ndarray | None = None, meter: np.ndarray | None = None) -> np.ndarray:
        """Volts at rest (variant, node), from `begin`; meter: node that a 10 Mohm meter hangs on."""
        straight = self._with_leaks()
        if meter is not None:
            straight[np.arange(self.count), meter, meter] += 1e-7
        volts = np.zeros((self.count, GROUND + 1)) if begin is None else begin.copy()
        going = np.arange(self.count)
        for _ in range(150):
            here = volts[going]
            current = np.einsum("vab,vb->va", straight[going], here) - self.fed[going]
            slope = straight[going].copy()
            self._transistors(here, going, current, slope)
            move = np.linalg.solve(slope[:, :GROUND, :GROUND], -current[:, :GROUND, None])[..., 0]
            move = np.clip(move, -20.0, 20.0)
            ahead = np.hstack([here[:, :GROUND] + move, np.zeros((len(going), 1))])
            old, new = self._forward(here, going), self._forward(ahead, going)
            # a junction may rise by 80 mV a step once it conducts: the whole step is shortened
            bound = np.maximum(old, 0.45) + 0.08
            with np.errstate(divide="ignore", invalid="ignore"):
                fraction = np.where(new > bound, (bound - old) / (new - old), 1.0).min(axis=1)
            volts[going, :GROUND] += np.clip(fraction, 1e-4, 1.0)[:, None] * move
            done = (np.abs(move).max(axis=1) < 1e-8 * (1.0 + np.abs(here).max(axis=1))) & (fraction >= 1.0)
            going = going[~done]
            if not going.size:
                break
        return volts

    def shows(self, asks: Sequence[Asked], begin: np.ndarray | None = None) -> np.ndarray:
        """(variant, question) what the instruments show, their loading included."""
        volts = self.rest(begin)
        everyone = np.arange(self.count)
        current, slope = np.zeros((self.count, GROUND + 1)), self._with_leaks()
        self._transistors(volts, everyone, current, slope)
        seen = np.linalg.inv(slope[:, :GROUND, :GROUND])
        found = np.zeros((self.count, len(asks)))
        if any(ask.kind == "pp" for ask in asks):
            omega = 2j * np.pi * HERTZ
            moving = self.still.astype(complex)
            self._transistors(volts, everyone, current, moving)
            for part in ("C1", "C2"):
                y = 1.0 / self.p[f"{part} leak"] + 1.0 / (self.p[f"{part} esr"] + 1.0 / (omega * self.p[part]))
                self._join(moving, everyone, self.nodes[part, "1"], self.nodes[part, "2"], y)
            z = np.linalg.inv(moving[:, :GROUND, :GROUND])
            sent = TONE_PEAK * self.p["GEN level"] / self.p["GEN series"]
        for column, ask in enumerate(asks):
            n = NODE[ask.net]
            if ask.kind == "pp":
                swing = z[:, n, NODE["SIG"]] * sent / (1.0 + z[:, n, n] * (1e-7 + omega * 12e-12))
                found[:, column] = 2.0 * np.abs(swing)
            else:
                found[:, column] = volts[:, n] / (1.0 + 1e-7 * seen[:, n, n])
                heavy = np.flatnonzero(1e-7 * seen[:, n, n] > 0.01)
                if heavy.size:
                    again = self.only(heavy).rest(volts[heavy], np.full(len(heavy), n))
                    found[heavy, column] = again[:, n]
        return found

    def only(self, rows: np.ndarray) -> Bench:
        """Some of the variants."""
        other = object.__new__(Bench)
        other.count = len(rows)
        other.p = {key: value[rows] for key, value in self.p.items()}
        other.nodes = {key: value[rows] for key, value in self.nodes.items()}
        other.still, other.fed = self.still[rows], self.fed[rows]
        return other


def beside(net: str) -> list[str]:
    """Nets a slipped probe meets: those of the pins next to every pin on the net, four at most."""
    found: dict[str, None] = {}
    for pins in PINS.values():
        names = [other for _, other in pins]
        for n, here in enumerate(names):
            if here == net:
                found |= dict.fromkeys(names[max(0, n - 1) : n + 2])
    return [other for other in found if other not in (net, "GND")][:4]


# Likelihood ------------------------------------------------------------------------------------


class Table:
    """Predictions of some variants for every question that some readings need."""

    def __init__(self, every: Sequence[Way], asks: Sequence[Asked]) -> None:
        self.every, self.asks = every, list(asks)
        self.needed: list[tuple[str, str, bool]] = []
        for ask in asks:
            for net in (ask.net, *beside(ask.net)):
                if (ask.kind, net, ask.lifted) not in self.needed:
                    self.needed.append((ask.kind, net, ask.lifted))
        middle = np.zeros((len(every), SIZE))
        self.start = {lifted: Bench(every, np.arange(len(every)), middle, lifted).rest() for lifted in (False, True)}

    def predict(self, which: np.ndarray, t: np.ndarray) -> np.ndarray:
        """(variant, needed question)."""
        found = np.zeros((len(which), len(self.needed)))
        for lifted in (False, True):
            columns = [n for n, need in enumerate(self.needed) if need[2] == lifted]
            if columns:
                bench = Bench(self.every, which, t, lifted)
                found[:, columns] = bench.shows([Asked(*self.needed[n]) for n in columns], self.start[lifted][which])
        return found

    def column(self, ask: Asked, net: str = "") -> int:
        return self.needed.index((ask.kind, net or ask.net, ask.lifted))


def error_of(ask: Asked, stated: Stated) -> float:
    gain, own_gain, floor, shared_floor = stated.meters[ask.kind]
    y = abs(ask.answer)
    return float(
        np.sqrt(
            ((gain**2 + own_gain**2 + stated.model_sd**2) * y**2) + floor**2 + shared_floor**2 + stated.model_floor**2
        )
    )


def log_anywhere(ask: Asked) -> float:
    """Log density of a figure from anywhere: Cauchy, as wide as the supply."""
    return float(-np.log(np.pi * 12.0 * (1.0 + (ask.answer / 12.0) ** 2)))


def log_likelihood(table: Table, which: np.ndarray, shown: np.ndarray, stated: Stated) -> np.ndarray:
    """(variant,): every reading honest, slipped in one of the stated ways, or from anywhere."""
    total = np.zeros(len(which))
    unlisted = np.array([way.id == "not-listed" for way in table.every])[which]
    for ask in table.asks:
        sd, y = error_of(ask, stated), ask.answer
        value = shown[:, table.column(ask)]
        terms = [(stated.honest, log_normal(y - value, sd))]
        near = beside(ask.net)
        terms += [
            (stated.slip["neighbour"] / len(near), log_normal(y - shown[:, table.column(ask, net)], sd)) for net in near
        ]
        terms += [(stated.slip["range"] / 2.0, log_normal(y - value * factor, sd)) for factor in (1e3, 1e-3)]
        if ask.kind == "dc":
            terms += [(stated.slip["polarity"], log_normal(y + value, sd))]
        terms += [(stated.slip["no contact"], log_normal(np.full(len(value), y), sd))]
        terms += [(stated.slip["anything"], np.full(len(value), log_anywhere(ask)))]
        nats = np.logaddexp.reduce([np.log(share) + np.maximum(log, -690.0) for share, log in terms], axis=0)
        both = np.logaddexp(
            np.log(stated.unlisted_healthy) + nats, np.log1p(-stated.unlisted_healthy) + log_anywhere(ask)
        )
        total += np.where(unlisted, both, nats)
    return total


# Reference -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Answer:
    """Probability of each way (way,) and the effective number of draws behind it."""

    probability: np.ndarray
    effective: float
    draws: int


@dataclass(frozen=True)
class Bump:
    """Part of a proposal: a straight line through the readings about a centre (number,).

    slope (reading, number), the severity's last; weight (reading,) one over the squared errors
    believed; off (reading,) answers less the line at nought; keen (number,) how often each figure
    is drawn as a stray.
    """

    centre: np.ndarray
    slope: np.ndarray
    weight: np.ndarray
    off: np.ndarray
    keen: np.ndarray

    def gap(self, severity: np.ndarray) -> np.ndarray:
        """(variant, reading) answers less the line at nought, for these severities."""
        return self.off - self.slope[:, -1] * severity[:, None]

    def spread(self, scale: np.ndarray, width: np.ndarray | float) -> np.ndarray:
        """(variant, reading, reading) covariance of the answers, errors widened."""
        lines = self.slope[:, :-1] * scale[:, None, :]
        noise = np.asarray(width)[..., None, None] ** 2 * np.diag(1.0 / self.weight)
        return lines @ lines.transpose(0, 2, 1) + noise

    def draw(
        self, random: np.random.Generator, free: np.ndarray, severity: np.ndarray, scale: np.ndarray, width: np.ndarray
    ) -> np.ndarray:
        """Numbers (variant, number but the severity) from the straight law: free ones from the prior, corrected."""
        noise = width[:, None] / np.sqrt(self.weight) * random.standard_normal((len(free), len(self.weight)))
        miss = self.gap(severity) - free @ self.slope[:, :-1].T + noise
        pull = np.linalg.solve(self.spread(scale, width), miss[..., None])[..., 0]
        return free + scale**2 * (pull @ self.slope[:, :-1])

    def over_prior(self, t: np.ndarray, severity: np.ndarray, scale: np.ndarray, width: float) -> np.ndarray:
        """Log of the straight law over the prior (variant,), scales given."""
        gap = self.gap(severity)
        near = np.sum(log_normal(gap - t @ self.slope[:, :-1].T, width / np.sqrt(self.weight)), axis=1)
        root = np.linalg.cholesky(self.spread(scale, width))
        white = np.linalg.solve(root, gap[..., None])[..., 0]
        evidence = -0.5 * np.sum(white**2, axis=1) - np.sum(np.log(np.diagonal(root, axis1=1, axis2=2)), axis=1)
        return near - evidence + 0.5 * gap.shape[1] * np.log(2.0 * np.pi)


@dataclass(frozen=True)
class Cell:
    """One way in one of SLICES equal slices of its severity."""

    way: int
    low: float
    high: float

    def severity(self, share: np.ndarray) -> np.ndarray:
        """Standardised severities at these shares of the slice."""
        return np.interp(self.low + (self.high - self.low) * share, ERF, np.linspace(-8.0, 8.0, 4001))


SLICES = 6
COARSE, FINE = 2, 3  # rounds of Gauss-Newton: for all, for those that may matter
FIRST, MORE, MOST = 24, 2500, 60_000
EACH = 2  # draws of a living cell about which proposals are added
FAR = 9.0  # nat below the best at which a cell is left with its first draws
FROM_PRIOR = 0.1
WIDTHS = ((0.7, 1.2), (0.3, 3.0))  # share and width of the errors in a proposal


def cells_of(every: Sequence[Way]) -> list[Cell]:
    found = []
    for k, way in enumerate(every):
        slices = SLICES if way.high > way.low else 1
        found += [Cell(k, n / slices, (n + 1) / slices) for n in range(slices)]
    return found


def lines(table: Table, which: np.ndarray, centre: np.ndarray, step: float) -> tuple[np.ndarray, np.ndarray]:
    """What is read at the centres (fit, reading), and its slopes (fit, reading, number)."""
    columns = [table.column(ask) for ask in table.asks]
    tried = np.repeat(centre[:, None, :], SIZE + 1, axis=1)
    tried[:, np.arange(1, SIZE + 1), np.arange(SIZE)] += step
    shown = table.predict(np.repeat(which, SIZE + 1), tried.reshape(-1, SIZE))[:, columns].reshape(
        len(which), SIZE + 1, -1
    )
    return shown[:, 0], (shown[:, 1:] - shown[:, :1]).transpose(0, 2, 1) / step


def bumps_at(table: Table, which: np.ndarray, centre: np.ndarray, stated: Stated) -> list[Bump]:
    """A bump about each centre; readings that it cannot meet are let go."""
    answer, sd = np.array([a.answer for a in table.asks]), np.array([error_of(a, stated) for a in table.asks])
    shown, slope = lines(table, which, centre, 0.05)
    off = answer - shown + np.einsum("fkn,fn->fk", slope, centre)
    trust = np.maximum(1.0 / (1.0 + ((answer - shown) ** 2 / sd**2 / 16.0) ** 2), 1e-8)
    strays = stated.stray_share * np.exp(log_normal(centre, stated.stray_times))
    keen = strays / (strays + (1.0 - stated.stray_share) * np.exp(log_normal(centre)))
    keen = np.where(np.append(BETWEEN, True), 0.0, np.clip(keen, 0.08, 0.9))
    return [Bump(centre[f], slope[f], trust[f] / sd**2, off[f], keen[f]) for f in range(len(which))]


def fits(table: Table, cells: Sequence[Cell], prior: np.ndarray, stated: Stated) -> list[Bump]:
    """A bump for every cell: Gauss-Newton, with less and less trust in readings not met."""
    spread = np.where(
        np.append(BETWEEN, True), 1.0, 1.0 - stated.stray_share + stated.stray_share * stated.stray_times**2
    )
    spread[-1] = 1e-6  # the severity stays in the middle of its slice
    which = np.array([cell.way for cell in cells])
    centre = np.zeros((len(which), SIZE))
    centre[:, -1] = [float(cell.severity(np.array(0.5))) for cell in cells]
    answer, sd = np.array([a.answer for a in table.asks]), np.array([error_of(a, stated) for a in table.asks])
    going = np.arange(len(cells))
    for turn in range(COARSE + FINE):
        if turn == COARSE:
            score = (
                log_likelihood(table, which, table.predict(which, centre), stated)
                + np.log(prior[which])
                - 0.5 * np.sum(centre[:, :-1] ** 2, axis=1)
            )
            going = np.flatnonzero(score > score.max() - 25.0)
        shown, slope = lines(table, which[going], centre[going], 0.3 if turn < COARSE else 0.1)
        off = (
            answer - shown + np.einsum("fkn,fn->fk", slope[:, :, :-1], centre[going, :-1])
        )  # as seen from the middle of the law
        room = np.maximum(sd**2, (np.sum(slope**2 * spread, axis=2) + sd**2) * 0.3**turn)
        trust = 1.0 / (1.0 + (((off if turn == 0 else answer - shown) ** 2) / room / 16.0) ** 2)
        slope = slope[:, :, :-1]
        precision = np.einsum("fkn,fk,fkm->fnm", slope, trust / sd**2, slope) + np.diag(1.0 / spread[:-1])
        goal = np.linalg.solve(precision, np.einsum("fkn,fk->fn", slope, trust / sd**2 * off)[..., None])[..., 0]
        centre[going, :-1] += np.clip(goal - centre[going, :-1], -1.5, 1.5)
    return bumps_at(table, which, centre, stated)


class Pool:
    """Draws of one cell under one proposal."""

    def __init__(self, cell: Cell, bumps: list[Bump], stated: Stated) -> None:
        self.cell, self.bumps, self.stated = cell, bumps, stated
        self.nats = np.zeros(0)
        self.t = np.zeros((0, SIZE))

    def propose(self, random: np.random.Generator, count: int) -> tuple[np.ndarray, np.ndarray]:
        """Fresh numbers (variant, number), and log prior less log proposal (variant,).

        The scale of every figure is drawn with the numbers and weighed with them.
        """
        plain = BETWEEN
        share = (1.0 - FROM_PRIOR) / len(self.bumps)
        keen = np.stack([np.where(plain, 0.0, self.stated.stray_share), *(bump.keen[:-1] for bump in self.bumps)])
        pick = random.choice(len(keen), count, p=[FROM_PRIOR, *[share] * len(self.bumps)])
        stray = random.random((count, SIZE - 1)) < keen[pick]
        scale = np.where(stray, self.stated.stray_times, 1.0)
        width = random.choice([w for _, w in WIDTHS], count, p=[one for one, _ in WIDTHS])
        severity = self.cell.severity(random.random(count))
        t = scale * random.standard_normal((count, SIZE - 1))
        for n, bump in enumerate(self.bumps, 1):
            here = pick == n
            t[here] = bump.draw(random, t[here], severity[here], scale[here], width[here])
        chances = [np.sum(np.log(np.maximum(np.where(stray, one, 1.0 - one), 1e-300)), axis=1) for one in keen]
        terms = [np.full(count, np.log(FROM_PRIOR))]
        for n, bump in enumerate(self.bumps, 1):
            for part, w in WIDTHS:
                terms.append(np.log(share * part) + chances[n] - chances[0] + bump.over_prior(t, severity, scale, w))
        return np.column_stack([t, severity]), -np.logaddexp.reduce(terms, axis=0)


def reference(
    table: Table, prior: np.ndarray, stated: Stated, random: np.random.Generator, wanted: float = 200.0
) -> Answer:
    """Probabilities by importance draws, grown until `wanted` of them count; prior (way,)."""
    cells = cells_of(table.every)
    of_way = np.array([cell.way for cell in cells])
    log_cell = np.log(np.array([prior[c.way] * (c.high - c.low) for c in cells]))
    pools = [Pool(cell, [bump], stated) for cell, bump in zip(cells, fits(table, cells, prior, stated), strict=True)]
    counts = np.full(len(pools), FIRST)
    spent, turn = 0, 0
    while True:
        which = np.repeat(np.arange(len(pools)), counts)
        fresh = [pools[k].propose(random, int(n)) for k, n in enumerate(counts) if n]
        t = np.concatenate([one for one, _ in fresh])
        likely = log_likelihood(table, of_way[which], table.predict(of_way[which], t), stated)
        nats = np.concatenate([one for _, one in fresh]) + likely + log_cell[which]
        spent, turn = spent + len(which), turn + 1
        for k in np.unique(which):
            pools[k].t = np.concatenate([pools[k].t, t[which == k]])
            pools[k].nats = np.concatenate([pools[k].nats, nats[which == k]])
        by_cell = [pool.nats - np.log(len(pool.nats)) for pool in pools]
        whole = np.logaddexp.reduce(np.concatenate(by_cell))
        weights = [np.exp(one - whole) for one in by_cell]
        effective = 1.0 / sum(float(np.sum(w**2)) for w in weights)
        if (effective >= wanted and turn > 2) or spent >= MOST:
            probability = np.bincount(of_way, [w.sum() for w in weights], len(table.every))
            return Answer(probability, effective, spent)
        best = np.array([one.max() for one in by_cell])
        alive = np.flatnonzero(best > best.max() - FAR)
        if turn == 1:  # look again about what the first draws found; what they said is dropped
            again = [_heavy_draws(random, pools[k]) for k in alive]
            more = bumps_at(table, np.repeat(of_way[alive], EACH), np.concatenate(again), stated)
            for n, k in enumerate(alive):
                pools[k] = Pool(cells[k], [*pools[k].bumps, *more[n * EACH : (n + 1) * EACH]], stated)
            counts = np.zeros(len(pools), int)
            counts[alive] = 2 * FIRST
        else:  # new draws where the doubt is
            doubt = np.array([np.sqrt(np.sum(w**2) * len(w)) for w in weights])
            counts = np.where(best > best.max() - FAR, np.ceil(MORE * doubt / doubt.sum()) + 4, 0).astype(int)


def _heavy_draws(random: np.random.Generator, pool: Pool) -> np.ndarray:
    """EACH of a cell's draws: the heaviest, others by the root of their weight."""
    tempered = np.exp((pool.nats - pool.nats.max()) / 2.0)
    chosen = random.choice(len(pool.nats), EACH, p=tempered / tempered.sum())
    chosen[0] = np.argmax(pool.nats)
    return pool.t[chosen]


# Cases -----------------------------------------------------------------------------------------


def take_readings(
    every: Sequence[Way], k: int, stated: Stated, random: np.random.Generator, count: int
) -> tuple[Asked, ...]:
    """Readings of one broken machine as a person takes them: meter error, sometimes a slip."""
    t = from_prior(random, 1, stated)
    possible = [
        (kind, net, lifted)
        for kind in ("dc", "pp")
        for net in NETS
        for lifted in (False, True)
        if not (kind == "dc" and net in ("SIG", "BYP"))
    ]
    chosen = [Asked(*possible[n]) for n in random.choice(len(possible), count, replace=False)]
    shown = {lifted: Bench(every, np.array([k]), t, lifted) for lifted in (False, True)}
    found = []
    for ask in chosen:
        slip = random.choice(["honest", *stated.slip], p=[stated.honest, *stated.slip.values()])
        net = random.choice(beside(ask.net)) if slip == "neighbour" else ask.net
        value = float(shown[ask.lifted].shows([Asked(ask.kind, str(net), ask.lifted)])[0, 0])
        value *= {
            "range": float(random.choice([1e3, 1e-3])),
            "polarity": -1.0 if ask.kind == "dc" else 1.0,
            "no contact": 0.0,
        }.get(str(slip), 1.0)
        if slip == "anything":
            value = 12.0 * float(random.standard_cauchy())
        value += error_of(Asked(ask.kind, ask.net, ask.lifted, value), stated) * float(random.standard_normal())
        value = abs(value) if ask.kind == "pp" else value
        found.append(
            Asked(ask.kind, ask.net, ask.lifted, float(np.clip(value, -900.0 if ask.kind == "dc" else 0.0, 500.0)))
        )
    return tuple(found)
