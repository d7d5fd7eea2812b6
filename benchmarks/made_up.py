"""Random chains of blocks with one fault: levels multiplied along the path, loads by Thevenin's rule.

No line of it uses the engine, and the engine is never told a gain.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

FAULTS = ("dead block", "weak block", "open coupling", "short at a node", "dead supply", "weak source", "loaded node",
          "bad lead")  # fmt: skip
OPEN = 1e9
LEAST_LEVEL = 0.01  # V pp: the owner plays loud enough to be seen everywhere


@dataclass(frozen=True)
class Fault:
    """What is wrong: one of FAULTS, at a stage of a channel, and how bad (a factor, or ohms)."""

    what: str
    stage: int
    channel: int
    size: float


@dataclass
class Bench:
    """The machine on the bench, made up. Stages count from the source, 0; arrays are (channel, stage)."""

    names: list[str]
    kinds: list[str]  # "source", "block" or "coupling"
    gain: np.ndarray
    into: np.ndarray
    out: np.ndarray
    level: float
    phones: float
    supplied: list[int]
    fault: Fault | None = None
    words: bool = False
    rng: np.random.Generator = field(default_factory=np.random.default_rng)

    @property
    def channels(self) -> int:
        return int(self.gain.shape[0])

    def typed(self) -> str:
        """The chain as its owner would type it."""
        path = " > ".join(
            "4u7" if kind == "coupling" else name for name, kind in zip(self.names, self.kinds, strict=True)
        )
        lines = [("left, right: " if self.channels == 2 else "") + path + " > phones"]
        if self.supplied:
            lines.append(", ".join(self.names[k] for k in self.supplied) + " on 12V")
        return "\n".join(lines)

    def levels(self, channel: int, healthy: bool = False) -> tuple[np.ndarray, np.ndarray]:
        """Peak-to-peak volts at the output of every stage, and at its input, of one channel."""
        fault = None if healthy or self.fault is None else self.fault
        here = fault if fault is not None and (fault.channel == channel or fault.what == "dead supply") else None
        behind, between = self._loads(channel, here)
        outs, ins = np.zeros(len(self.names), complex), np.zeros(len(self.names), complex)
        arriving: complex = self.level
        for k, kind in enumerate(self.kinds):
            ins[k] = arriving
            if kind == "coupling":
                outs[k] = arriving * behind[k] / (behind[k] + self._coupling(k, here))
            else:
                outs[k] = arriving * self._gain(channel, k, here) * behind[k] / (behind[k] + self.out[channel, k])
            if k + 1 < len(self.names):
                arriving = outs[k]
                if self.kinds[k + 1] == "block":
                    arriving = outs[k] * self.taker(channel, k) / (self.taker(channel, k) + between[k])
        return np.abs(outs), np.abs(ins)

    def _coupling(self, k: int, here: Fault | None) -> complex:
        """Impedance of a capacitor of 4.7 uF at 1 kHz; open, next to none is left."""
        return -34j * (1e7 if here is not None and here.what == "open coupling" and here.stage == k else 1.0)

    def _gain(self, channel: int, k: int, here: Fault | None) -> float:
        gain = float(self.gain[channel, k])
        if here is None:
            return gain
        if here.what == "dead supply":
            return 0.0 if k in self.supplied else gain
        if here.stage == k and here.what in ("dead block", "weak block", "weak source"):
            return gain * here.size
        return gain

    def taker(self, channel: int, k: int) -> float:
        """Ohms of the next input behind stage k, through any coupling."""
        after = next((j for j in range(k + 1, len(self.names)) if self.kinds[j] != "coupling"), None)
        return self.phones if after is None else float(self.into[channel, after])

    def _loads(self, channel: int, here: Fault | None) -> tuple[np.ndarray, np.ndarray]:
        """Impedance that loads each stage's output, and ohms of the lead behind it."""
        count = len(self.names)
        between, behind = np.zeros(count), np.zeros(count, complex)
        if here is not None and here.what == "bad lead":
            between[here.stage] = here.size
        for k in reversed(range(count)):
            if k + 1 < count and self.kinds[k + 1] == "coupling":
                load = behind[k + 1] + self._coupling(k + 1, here)
            else:
                load = self.taker(channel, k) + between[k]
            if here is not None and here.stage == k and here.what in ("short at a node", "loaded node"):
                load = 1.0 / (1.0 / load + 1.0 / here.size)
            behind[k] = load
        return behind, between

    def share(self, channel: int, stage: int, at_input: bool) -> float:
        """What a place carries over what it should."""
        now, sound = self.levels(channel), self.levels(channel, healthy=True)
        return float(now[int(at_input)][stage] / sound[int(at_input)][stage])


def make(rng: np.random.Generator) -> Bench:
    """A random chain with one fault that its owner notices."""
    while True:
        bench = _healthy(rng)
        bench.fault = _fault(bench, rng)
        levels = np.array([bench.levels(channel, healthy=True)[0] for channel in range(bench.channels)])
        if bench.fault is not None and min(heard(bench)) < 0.5 and levels.min() > LEAST_LEVEL:
            return bench


def _healthy(rng: np.random.Generator) -> Bench:
    count, channels = int(rng.integers(4, 11)), int(rng.integers(1, 3))
    names, kinds = ["deck"], ["source"]
    caps = 0
    for k in range(1, count):
        if k > 1 and k < count - 1 and rng.random() < 0.2 and kinds[-1] != "coupling":
            caps += 1
            names, kinds = [*names, f"C{caps}"], [*kinds, "coupling"]
        else:
            names, kinds = [*names, f"stage{k}"], [*kinds, "block"]
    stages = len(names)

    def alike(low: float, high: float, apart: float) -> np.ndarray:
        common = np.exp(rng.uniform(np.log(low), np.log(high), stages))
        return common * np.exp(apart * rng.standard_normal((channels, stages)))

    blocks = [k for k, kind in enumerate(kinds) if kind == "block"]
    supplied = sorted(rng.choice(blocks, int(rng.integers(1, len(blocks) + 1)), replace=False).tolist())
    gain = alike(0.2, 20.0, 0.05)
    gain[:, 0] = 1.0
    level = float(np.exp(rng.uniform(np.log(0.003), np.log(0.5))))
    phones = float(rng.choice([32.0, 150.0, 600.0]))
    return Bench(names, kinds, gain, alike(10e3, 200e3, 0.1), alike(100.0, 2e3, 0.1), level, phones,
                 supplied if rng.random() < 0.7 else [], words=bool(rng.random() < 0.5), rng=rng)  # fmt: skip


def _fault(bench: Bench, rng: np.random.Generator) -> Fault | None:
    """One fault of a random sort; None where the chain has no place for it."""
    what = str(rng.choice(FAULTS))
    wanted = {"open coupling": "coupling", "weak source": "source", "dead block": "block", "weak block": "block"}
    places = [k for k, kind in enumerate(bench.kinds) if kind == wanted.get(what, kind)]
    if what == "bad lead":  # into a block
        places = [k for k in range(len(bench.names) - 1) if bench.kinds[k + 1] == "block"]
    if what == "dead supply":
        places = bench.supplied[:1]
    if not places:
        return None
    stage, channel = int(rng.choice(places)), int(rng.integers(bench.channels))
    thevenin = float(bench.out[channel, stage])
    size = {
        "dead block": 0.0,
        "weak block": rng.uniform(0.1, 0.5),
        "weak source": rng.uniform(0.1, 0.4),
        "short at a node": np.exp(rng.uniform(np.log(0.3), np.log(5.0))),
        "loaded node": thevenin * rng.uniform(0.1, 0.6),
        "bad lead": OPEN if rng.random() < 0.5 else bench.taker(channel, stage) * rng.uniform(2.0, 20.0),
    }.get(what, 0.0)
    return Fault(what, stage, channel, float(size))


def heard(bench: Bench) -> list[float]:
    return [bench.share(channel, len(bench.names) - 1, False) for channel in range(bench.channels)]
