"""Circuits in time: beside ngspice, against its speed, how soon a slow circuit is settled, and a machine answers."""

from __future__ import annotations

import re
import shutil
import statistics
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.reference import INSTALL, run
from benchmarks.table import Row
from probewright import jobs, machine
from probewright.machine.waves import Course, Sine, Step
from probewright.readings.lines import read_readings
from probewright.simulation import compiled, scope
from probewright.simulation.circuit import Batch, Circuit, compile_circuit, healthy_batch
from probewright.simulation.repeating import repeat
from probewright.simulation.stepping import STRAY_FARADS
from probewright.simulation.tracing import trace

TESTS = Path(__file__).parent.parent / "tests"  # the circuits and the deck for ngspice stand there
SOME = 50  # changed variants of each circuit: of an oscillator some thirty of them beat
VARIANTS = 2048  # of the race
PORTIONS = 5  # of it, in turn with ngspice
OF_NGSPICE = (
    24  # variants it is given in each portion, and a quarter of them in the short run that counts its start out
)
GOALS = (2.0, 10.0)  # times ngspice: NumPy alone, compiled
MANY_SLOW = 128  # variants of what settles slowly
STEP = 1e-4  # s
STOP = 0.12  # s: six periods of the mains
# A machine that is followed in time, lines that are typed one after the other, and what may be waited for, s: the quick
# answer with the next step (none at the first lines), the refined one
DEMO = files("probewright.demo") / "fernside-tg-8.yaml"
TYPED = (
    ("two words of the owner, from the file", "hum: bad\nsteady: bad\n", None, 8.0),
    ("a frequency", "RAW frequency 50 Hz\n", 10.0, 3.0),
    ("its size besides", "RAW pp 2.5 Vpp\n", 10.0, 3.0),
    ("a repair that did not cure", "fitted a new D2\nhum: bad\n", 10.0, 60.0),
)
MAINS = (Course("V1", swing=Sine(50.0)),)
SUPPLY = """
  V1: source 0V series 0.8R  AC > GND
  D1: diode rectifier  AC > RAW
  C1: capacitor 2200u electrolytic  RAW > GND
  U1: regulator 12V  in=RAW out=OUT com=GND
  C2: capacitor 47u electrolytic  OUT > GND
  R1: resistor 47R  OUT > GND"""
SPREAD = {
    ("C1", "capacitance"): 0.5,
    ("C1", "esr"): 1.0,
    ("C1", "leak"): 2.0,
    ("R1", "resistance"): 0.3,
    ("C2", "esr"): 1.0,
}


def timing(faults: int = SOME, names: Sequence[str] = (), variants: int = VARIANTS) -> Iterator[Row]:
    """The circuits beside ngspice, the race on one of them, and what settles slowly."""
    yield from beside(faults, names)
    yield from race(variants)
    yield from slow()
    yield from answers()


def beside(faults: int, names: Sequence[str] = ()) -> Iterator[Row]:
    """How far what a scope reads lies apart, as a share of 10 mV and 1 %; what differs is named."""
    if shutil.which("ngspice") is None:
        yield Row(f"ngspice is not installed, time beside it is left out; {INSTALL}", float("nan"))
        return
    in_time = _circuits()
    for name in names or in_time.CIRCUITS:
        found = in_time.compare(name, faults)
        note = f"{found.compared} variants, {len(found.refused)} not by ngspice, {len(found.unsolved)} not by us"
        note += f", {len(found.silent)} without a figure, {len(found.finer)} in finer steps only"
        few = [f"{says} in {n}" for says, n in found.figures.items() if n < found.compared]
        note += f"; {', '.join(few)}" if few else ""
        yield Row(f"{name}: apart, most, of what may be", found.worst, "", 1.0, "<=", note)
        for fault, says, theirs, ours in found.apart:
            yield Row(f"  apart: {fault}, {says}"[:66], ours, "", note=f"ngspice {theirs:.6g}")


def _circuits() -> Any:
    """The circuits that the tests follow in time."""
    if str(TESTS) not in sys.path:
        sys.path.append(str(TESTS))
    import in_time

    return in_time


def supply(count: int) -> tuple[Circuit, Batch]:
    """Variants of a small mains supply that ngspice can be told by `alter`: reservoirs, leaks, loads."""
    circuit = compile_circuit(machine.read(f"machine: supply\nparts:{SUPPLY}\n", "supply"))
    random, healthy = np.random.default_rng(5), healthy_batch(circuit)
    figures: dict[tuple[str, str], Any] = {**healthy.figures, ("V1", "signal"): 21.0}
    for key, spread in SPREAD.items():
        figures[key] = figures[key] * np.exp(spread * random.standard_normal(count))
    return circuit, replace(healthy, size=count, figures=figures)


def race(variants: int) -> Iterator[Row]:
    """Variants a second of 120 ms of a mains supply, by NumPy and compiled, in turn with ngspice on the same batch."""
    circuit, batch = supply(variants)
    found = trace(circuit, batch, MAINS, ["RAW"], STOP, STEP, since=STOP - 0.02)
    ways: dict[str, Callable[[], AbstractContextManager[None]]]
    ways = {"NumPy alone": compiled.plainly, **({"compiled": nullcontext} if compiled.installed() else {})}
    ours: dict[str, list[float]] = {way: [] for way in ways}
    ratios: dict[str, list[float]] = {way: [] for way in ways}
    theirs = []
    there = shutil.which("ngspice") is not None
    for portion in range(PORTIONS):
        if there:
            chosen = range(portion * OF_NGSPICE, (portion + 1) * OF_NGSPICE)
            short, _ = run(deck(circuit, batch, chosen[: OF_NGSPICE // 4]))
            long, printed = run(deck(circuit, batch, chosen))
            theirs.append((long - short) / (OF_NGSPICE - OF_NGSPICE // 4))
            yield from _agree(found.volts["RAW"][list(chosen)], printed)
        for way, within in ways.items():
            with within():
                begin = time.perf_counter()
                trace(circuit, batch, MAINS, ["RAW"], STOP, STEP, since=STOP - 0.02)
                ours[way].append((time.perf_counter() - begin) / variants)
            if there:
                ratios[way].append(theirs[-1] / ours[way][-1])
    where = f"mains supply, {circuit.size} nodes, {STOP / STEP:.0f} steps"
    note = f"solved {found.solved.mean():.2%}"
    for way in ways:
        yield Row(f"time, {where}: ours, {way}", 1.0 / statistics.median(ours[way]), "variants/s", note=note)
    if there:
        rate = 1.0 / statistics.median(theirs)
        yield Row("time, mains supply: ngspice, alter and tran in a loop", rate, "variants/s")
        for way, goal in zip(ways, GOALS, strict=False):
            what = f"time, mains supply: ours to ngspice, {way}"
            yield Row(what, statistics.median(ratios[way]), "times", goal)
    if not compiled.installed():
        yield Row("numba is not installed, the compiled race is left out; pip install numba", float("nan"))


def _agree(volts: np.ndarray, printed: str) -> Iterator[Row]:
    """A row where the ripples of the last period lie further apart than 10 mV and 1 %."""
    tops, valleys = (
        np.array([float(x) for x in re.findall(rf"^{word} = (\S+)", printed, re.M)]) for word in ("top", "valley")
    )
    ripple = scope.peak_to_peak(volts)
    if len(tops) != len(ripple):
        yield Row(f"  ngspice answered {len(tops)} of {len(ripple)}", float(len(tops)))
        return
    off = np.abs(tops - valleys - ripple) / (0.01 + 0.01 * ripple)
    if off.max() > 1.0:
        yield Row("  ripple apart, of 10 mV and 1 %", float(off.max()), note=f"{np.sum(off > 1.0)} of {len(off)}")


def deck(circuit: Circuit, batch: Batch, chosen: Sequence[int]) -> str:
    """One circuit, altered and run through time for each chosen variant; with a plain source, which is quicker."""

    def of(part: str, name: str, variant: int = 0) -> float:
        return float(np.broadcast_to(batch.figures[part, name], batch.size)[variant])

    node = {name: f"n{index}" if index >= 0 else "0" for name, index in circuit.node.items()}
    volts, drop, most, ohms, quiet = (of("U1", name) for name in ("volts", "drop", "limit", "r_out", "quiescent"))
    i, o = f"v({node['RAW']})", f"v({node['OUT']})"
    # nodes inside hold the steps of the regulator's law: ngspice reckons each once
    small = f"min({volts},{i}-{drop})-0.05*ln(1+exp(-abs({volts}-{i}+{drop})/0.05))"
    low = f"max(v(s),0)+0.05*ln(1+exp(-abs(v(s))/0.05))-{0.2 * ohms * most}*(1-tanh(v(s)/0.1))"
    lines = [
        "* the same supply, figures altered",
        f"v1 x 0 sin(0 {of('V1', 'signal')} 50)",
        f"r9 x {node['AC']} {of('V1', 'series')}",
        f".model m d(is={of('D1', 'saturation')} n={of('D1', 'ideality')})",
        f"d1 {node['AC']} {node['RAW']} m",
        f"b3 s 0 v={small}",
        f"b4 p 0 v=({low}-{o})/{ohms * most}",
        f"b1 {node['RAW']} {node['OUT']} i={most}*tanh(min(max(v(p),0)+0.02*ln(1+exp(-abs(v(p))/0.02)),20))",
        f"b2 {node['RAW']} 0 i={quiet}*tanh({i}/2)",
        f"r1 {node['OUT']} 0 47",
    ]
    lines += [f"c{n} {one} 0 {STRAY_FARADS}" for n, one in enumerate(node.values(), 10) if one != "0"]
    for name, place in (("C1", "RAW"), ("C2", "OUT")):
        lines += [
            f"{name} {name}x 0 {of(name, 'capacitance')}",
            f"r{name} {node[place]} {name}x 0.1",
            f"rl{name} {node[place]} 0 1e6",
        ]
    lines += [".control", "set numdgt=10"]
    for variant in chosen:
        for name in ("C1", "C2"):
            lines.append(f"alter {name} = {of(name, 'capacitance', variant)}")
            lines.append(f"alter r{name} = {of(name, 'esr', variant)}")
            lines.append(f"alter rl{name} = {of(name, 'leak', variant)}")
        lines += [f"alter r1 = {of('R1', 'resistance', variant)}", f"tran {STEP} {STOP} {STOP - 0.02:g} {STEP}"]
        for word, what in (("top", "vecmax"), ("valley", "vecmin")):
            lines += [f"let {word} = {what}({i})", f"print {word}"]
        lines.append("destroy all")
    return "\n".join([*lines, "quit 0", ".endc", ".end", ""])


def slow() -> Iterator[Row]:
    """What takes long to settle: a large reservoir hardly loaded, and a timer that beats once in some ten seconds."""
    circuit, batch = supply(MANY_SLOW)
    changed = {("C1", "capacitance"): 2.0 * batch.figures["C1", "capacitance"], ("R1", "resistance"): 1e4}
    batch = replace(batch, figures={**batch.figures, **changed})
    begin = time.perf_counter()
    found = repeat(circuit, batch, MAINS, ["RAW"], 0.02, STEP)
    taken = 1e3 * (time.perf_counter() - begin) / MANY_SLOW
    note = f"{found.periods} periods run, settled {found.trace.solved.mean():.1%}"
    yield Row("time, 4400 uF hardly loaded: a settled period", taken, "ms/variant", note=note)
    text = _circuits().CIRCUITS["slow timer"].text
    circuit = compile_circuit(machine.read(f"machine: timer\nparts:{text}\n", "timer"))
    healthy, random = healthy_batch(circuit), np.random.default_rng(6)
    figures = {**healthy.figures, ("R4", "resistance"): 470e3 * np.exp(0.3 * random.standard_normal(MANY_SLOW))}
    batch, on = replace(healthy, size=MANY_SLOW, figures=figures), [Course("VP", share=Step(0.0, 0.1))]
    begin = time.perf_counter()
    seen = trace(circuit, batch, on, ["OUT"], 60.0, 0.05, from_nought=True, since=5.0)
    taken = 1e3 * (time.perf_counter() - begin) / MANY_SLOW
    period = scope.period(seen.seconds, seen.volts["OUT"])
    note = f"period {np.nanmin(period):.1f} to {np.nanmax(period):.1f} s, {np.isfinite(period).mean():.0%} beat"
    yield Row("time, 60 s of a slow timer", taken, "ms/variant", note=note)


def answers() -> Iterator[Row]:
    """How long a machine that is followed in time takes for an answer and the next step; processor seconds beside."""
    begin, spent = time.perf_counter(), time.process_time()
    loaded = machine.read(DEMO.read_text("utf-8"), "tg-8")
    job, lines = jobs.open_search(loaded), ""
    for what, line, quick, refined in TYPED:
        lines += line
        said = read_readings(lines, loaded)[len(job.readings) :]
        if quick is not None:
            begin, spent = time.perf_counter(), time.process_time()
            rough = jobs.quick_look(job, said)
            jobs.glance(rough, job)
            yield _taken(f"time, quick answer to {what}", begin, spent, quick)
            begin, spent = time.perf_counter(), time.process_time()
        job = jobs.enter_readings(job, said)
        jobs.look(job)
        yield _taken(f"time, refined answer to {what}", begin, spent, refined)


def _taken(what: str, begin: float, spent: float, goal: float) -> Row:
    note = f"{time.process_time() - spent:.1f} s of processor"
    return Row(what, time.perf_counter() - begin, "s", goal, "<=", note)
