"""The solver: against ngspice on the same variants, against its own size, and how often it finds an answer."""

from __future__ import annotations

import shutil
import statistics
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from benchmarks.circuits import DEMOS, Racer, demo, racers, scattered
from benchmarks.reference import INSTALL, TIGHT, Deck, answers, per_variant, run, unlevelled
from benchmarks.table import Row, seconds
from probewright.machine import Machine
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import DRAWS, draw_laws
from probewright.readings import Setup
from probewright.simulation.alternating import small_signal
from probewright.simulation.newton import Rest, come_to_rest, source_ohms

HERTZ = 1e3
VARIANTS = 4096
COPIES = (1, 8, 24, 40)  # of the circuit in one deck
TRIED = 240  # of them, on which each way of running ngspice is tried; the fastest is timed on all
FURTHER = 1000  # frequencies beside the first: enough that the cost of one stands clear of the rest
PORTIONS = 7  # of the variants, timed in turn with ours
COMPARED = 24
FLOATING = 1e6  # ohm: a node behind more than this hangs on an open part and is not compared
SIZES = (2, 4, 9, 19)  # sections: 10, 18, 38 and 78 nodes


def race(variants: int = VARIANTS, tried: int = TRIED, repeats: int = 5) -> Iterator[Row]:
    """Variants a second, cold, on three circuits, and ngspice's on the same variants."""
    for one in racers(variants):
        where = f"{one.name}, {one.circuit.size} nodes"
        rest = come_to_rest(one.circuit, one.batch)
        dc = one.batch.size / seconds(partial(come_to_rest, one.circuit, one.batch), repeats)
        ac = one.batch.size / seconds(partial(small_signal, one.circuit, one.batch, rest, HERTZ), repeats)
        note = f"solved {rest.solved.mean():.2%}"
        yield Row(f"DC, {where}: ours, cold", dc, "variants/s", note=note)
        goal = 5e5 if one.circuit.size == 18 else None
        yield Row(f"AC, {where}: ours, impedances included", ac, "solves/s", goal)
        if shutil.which("ngspice") is None:
            yield Row(f"  ngspice is not installed, the race is left out; {INSTALL}", float("nan"))
            continue
        yield from _against(one, rest, where, dc, ac, tried)


def _against(one: Racer, rest: Rest, where: str, dc: float, ac: float, tried: int) -> Iterator[Row]:
    """ngspice's fastest way on this circuit, the two ratios, and how far the answers lie apart."""
    deck = Deck(one.circuit, one.batch, signals=False)
    ways = {copies: per_variant(deck, copies, tried // 4, tried) for copies in COPIES if copies <= tried // 4}
    copies = min(ways, key=lambda n: ways[n])
    each, mine, answered = in_turn(one, deck, copies, tried // 4)
    way = f"{copies} cop{'y' if copies == 1 else 'ies'} a deck, answered {answered:.1%}"
    yield Row(f"DC, {where}: ngspice, alter and op in a loop", 1.0 / each, "variants/s", note=way)
    yield Row(f"DC, {where}: ours to ngspice", each / mine, "times", 100.0)
    signals = Deck(one.circuit, one.batch, signals=True)
    both, further = (
        per_variant(signals, 1, tried // 4, tried, f"ac lin {n} {HERTZ} {2 * HERTZ}") for n in (1, 1 + FURTHER)
    )
    yield Row(f"AC, {where}: ngspice, alter and ac in a loop", 1.0 / both, "variants/s", note="a rest point in each")
    yield Row(f"AC, {where}: ours to ngspice, rest point and signal", both / (1.0 / dc + 1.0 / ac), "times")
    tone = (further - both) / FURTHER
    note = "ngspice: one more frequency of a variant at hand, no impedances"
    yield Row(f"AC, {where}: ours to ngspice, the signal alone", ac * tone, "times", note=note)
    volts, share, compared, answered_both = apart(one, rest)
    note = f"{compared} of {answered_both} answered variants, signals {share:.0e} of the largest"
    yield Row(f"  {where}: apart on the same variants, most", 1e6 * volts, "uV", note=note)


def in_turn(one: Racer, deck: Deck, copies: int, few: int) -> tuple[float, float, float]:
    """Seconds a variant of ngspice and of ours, and the share that ngspice answered.

    All variants go to ngspice in portions, and ours are solved once after each, so that a machine growing busier
    slows both alike; medians. Start-up is counted out by a short run beside each portion.
    """
    theirs, ours, answered = [], [], 0
    for portion in (some.tolist() for some in np.array_split(np.arange(one.batch.size), PORTIONS)):
        short, _ = run(deck.text(copies, portion[:few], "op", ["n0@"]))
        long, printed = run(deck.text(copies, portion, "op", ["n0@"]))
        theirs.append((long - short) / (len(portion) - few))
        answered += len(answers(printed, 1))
        ours.append(seconds(partial(come_to_rest, one.circuit, one.batch), 1) / one.batch.size)
    return statistics.median(theirs), statistics.median(ours), answered / one.batch.size


def apart(one: Racer, rest: Rest, variants: int = COMPARED) -> tuple[float, float, int, int]:
    """Greatest difference in V and in share of the largest signal, how many variants were compared, how many answered.

    Left out: nodes hanging on an open part, and variants in which an output or regulator is levelled off, where
    the deck says something else.
    """
    chosen = range(min(variants, one.batch.size))
    nodes = range(one.circuit.size)
    ohms = source_ohms(one.circuit, one.batch, rest)[:-1]
    phasors = np.abs(small_signal(one.circuit, one.batch, rest, HERTZ).volts)
    straight = unlevelled(one.circuit, one.batch, rest.volts, phasors) & rest.solved
    worst, both = [0.0, 0.0], Counter[int]()
    for n, (ask, analysis, ours) in enumerate(
        (("n{}@", "op", rest.volts), ("mag(n{}@)", f"ac lin 1 {HERTZ} {HERTZ}", phasors))
    ):
        deck = Deck(one.circuit, one.batch, signals=n == 1)
        _, printed = run(deck.text(1, chosen, analysis, [ask.format(node) for node in nodes], TIGHT))
        for variant, theirs in answers(printed, len(nodes)).items():
            both[variant] += 1
            if straight[variant]:
                differ = np.abs(theirs - ours[:-1, variant])[ohms[:, variant] < FLOATING]
                worst[n] = max(worst[n], float(np.max(differ)) / (float(np.max(phasors)) if n else 1.0))
    answered = [variant for variant, times in both.items() if times == 2]
    return worst[0], worst[1], int(np.sum(straight[answered])), len(answered)


def growth(variants: int = 2048, sizes: Sequence[int] = SIZES, repeats: int = 3) -> Iterator[Row]:
    """How the cost of a variant grows with the nodes of a mesh with feedback; the power it goes with."""
    nodes, direct, signal = [], [], []
    for sections in sizes:
        one = scattered(sections, variants)
        rest = come_to_rest(one.circuit, one.batch)
        nodes.append(one.circuit.size)
        direct.append(seconds(partial(come_to_rest, one.circuit, one.batch), repeats) / variants)
        signal.append(seconds(partial(small_signal, one.circuit, one.batch, rest, HERTZ), repeats) / variants)
        note = f"{len(one.circuit.pattern.slot)} entries with fill, solved {rest.solved.mean():.2%}"
        yield Row(f"DC, mesh of {nodes[-1]} nodes", 1e6 * direct[-1], "us/variant", note=note)
    between = f"{nodes[0]} to {nodes[-1]} nodes"
    yield Row(f"power of the nodes that the DC cost goes with, {between}", power(nodes, direct), "", 1.15, "<=")
    yield Row(f"power of the nodes that the AC cost goes with, {between}", power(nodes, signal))


def power(sizes: Sequence[float], costs: Sequence[float]) -> float:
    """Exponent p of cost = a size^p, fitted by least squares of the logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(costs), 1)[0])


def solved(names: Sequence[str] = tuple(DEMOS), draws: int = DRAWS) -> Iterator[Row]:
    """Share of all suspects x draws that were solved, with power and without; the rest by name."""
    for name in names:
        loaded, _ = demo(name)
        yield from _solved(DEMOS[name], loaded, draws)


def _solved(name: str, loaded: Machine, draws: int) -> Iterator[Row]:
    model = build_model(loaded, "benchmark")
    for setup in (Setup(stimulus=next(iter(loaded.stimuli))), Setup(power="off")):
        laws = draw_laws(model, draws)
        taken = seconds(partial(laws.base.solved, setup), 1)
        found = laws.base.solved(setup).rest.solved
        how = f"power {setup.power}"
        note = f"{len(model.suspects)} suspects, {found.size} variants at {found.size / taken:,.0f}/s"
        yield Row(f"solved share, {name}, {how}", float(found.mean()), "", 0.9999, note=note)
        left = Counter(model.suspects[model.suspect_of[laws.cell_of[v]]].id for v in np.flatnonzero(~found))
        for says, count in sorted(left.items(), key=lambda pair: (-pair[1], pair[0])):
            whole = draws * int(np.sum(model.suspect_of == model.index[says]))
            yield Row(f"  not solved: {says}", count, f"of {whole}")
