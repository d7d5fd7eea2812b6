"""A made-up machine of 300 parts in ten sections beside one of 35: cold start, quick and refined answer, memory."""

from __future__ import annotations

import json
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict

import numpy as np

from benchmarks.table import Row
from probewright import jobs, machine
from probewright.machine import Machine
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import build_model
from probewright.prediction.outcomes import show
from probewright.readings import Question, Reading, Setup

# One stage of a long line amplifier: biased, decoupled, with feedback and a level lamp; 29 parts with its filter.
STAGE = """
  stage{n}:
    parts:
      F{n}1: resistor 47R                 MAIN > V{n}
      F{n}2: capacitor 100u electrolytic  V{n} > GND
      C{n}1: capacitor 1u film            S{n} > B{n}
      R{n}1: resistor 100k                V{n} > B{n}
      R{n}2: resistor 22k                 B{n} > GND
      Q{n}1: npn gain 100..400            c=C{n} b=B{n} e=E{n}
      R{n}3: resistor 4k7                 V{n} > C{n}
      R{n}4: resistor 1k                  E{n} > GND
      R{n}5: resistor 330R                E{n} > P{n}
      C{n}2: capacitor 47u electrolytic   P{n} > GND
      Q{n}2: npn gain 100..400            c=V{n} b=C{n} e=O{n}
      R{n}6: resistor 2k2                 O{n} > GND
      R{n}7: resistor 1M                  O{n} > B{n}
      D{n}1: diode small-signal           GND > B{n}
      C{n}3: capacitor 10u electrolytic   O{n} > L{n}
      R{n}8: resistor 10k                 L{n} > M{n}
      R{n}9: resistor 10k                 M{n} > GND
      C{n}4: capacitor 220p ceramic       M{n} > GND
      R{n}10: resistor 1k                 M{n} > S{after}
      R{n}11: resistor 47k                S{after} > GND
      R{n}12: resistor 22k                V{n} > A{n}
      Z{n}1: zener 5V1                    GND > A{n}
      C{n}5: capacitor 10u electrolytic   A{n} > GND
      Q{n}3: pnp                          c=K{n} b=H{n} e=V{n}
      R{n}13: resistor 10k                V{n} > H{n}
      R{n}14: resistor 47k                H{n} > A{n}
      R{n}15: resistor 4k7                K{n} > GND
      D{n}2: led red                      K{n} > J{n}
      R{n}16: resistor 1k                 J{n} > GND
"""
READINGS = 6
LIMIT = 180.0  # s that one machine is given, so that all benchmarks together end within half an hour
# ms of the quick and of the refined answer with the next reading, s of the cold start: one section, more of them
GOALS = {1: (30.0, 600.0, 2.0), 2: (150.0, 1000.0, 5.0)}


def long_line(sections: int) -> str:
    """Machine file of so many equal stages in a row behind one supply, 29 parts each and two sources."""
    parts = "".join(STAGE.format(n=n, after=n + 1) for n in range(1, sections + 1))
    return (
        "machine: Long line amplifier\nextras:\n  PSU: source 15V 2% series 0R5 limit 1A  MAIN > GND\n"
        "  GEN: source 0V series 600R  S1 > GND\n"
        f"sections:{parts}stimuli:\n  tone: {{GEN: sine 10mV rms 1kHz}}\n"
        f"works:\n  sound: S{sections + 1} level at tone; below 50% of healthy = faint\n"
    )


def hidden(loaded: Machine, item: str, mode: str, places: list[str]) -> list[Reading]:
    """What a meter would show in this machine with this fault, every figure in the middle of its law."""
    model = build_model(loaded, "benchmark")
    cell = int(np.flatnonzero(model.suspect_of == model.index[f"{item} {mode}"])[0])
    bank = Bank(model, [Span(cell, 0, 1)], np.zeros((len(model.latents.keys) + 1, 1)))
    asks = [Question("dc", place, setup=Setup(stimulus="tone")) for place in places]
    return [Reading(ask, round(float(show(bank, ask).value[0]), 3), f"h{n}") for n, ask in enumerate(asks)]


def one_machine(sections: int, goals: tuple[float, float, float]) -> Iterator[Row]:
    """Cold start and the medians of some readings after an open resistor in the middle section."""
    loaded = machine.read(long_line(sections), "line.yaml")
    n = (sections + 1) // 2
    said = hidden(loaded, f"R{n}3", "open", [f"{net}{n}" for net in ("O", "C", "B", "E", "V", "A")][:READINGS])
    start = time.perf_counter()
    job = jobs.open_search(loaded)
    jobs.look(job)
    cold = time.perf_counter() - start
    where = f"{len(loaded.parts)} parts in {sections} section{'s' * (sections > 1)}"
    suspects = len(job.laws.model.suspects)
    yield Row(f"cold start to first proposal, {where}", cold, "s", goals[2], "<=", f"{suspects} suspects")
    quick, refined = [], []
    for reading in said:
        start = time.perf_counter()
        jobs.glance(jobs.quick_look(job, [reading]), job)
        quick.append(1e3 * (time.perf_counter() - start))
        start = time.perf_counter()
        job = jobs.enter_readings(job, [reading])
        jobs.look(job)
        refined.append(1e3 * (time.perf_counter() - start))
    place = f"the hidden fault at {job.belief.probability[job.laws.model.index[f'R{n}3 open']]:.0%}"
    median = f"median of {len(said)}"
    note = "the first pays for its set-up: " + ", ".join(f"{one:.0f}" for one in quick)
    yield Row(f"quick answer and next, {where}, {median}", statistics.median(quick), "ms", goals[0], "<=", note)
    note = f"{place}; " + ", ".join(f"{one:.0f}" for one in refined)
    yield Row(f"refined answer and next, {where}, {median}", statistics.median(refined), "ms", goals[1], "<=", note)
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    yield Row(f"peak memory, {where}", held, "MiB", 1024.0, "<=")


def large(sections: tuple[int, ...] = (1, 10), most: float = LIMIT) -> Iterator[Row]:
    """About 35 parts, then about 300 in ten sections, each in a process of its own that is ended after `most` s."""
    for count in sections:
        with subprocess.Popen(
            [sys.executable, "-m", "benchmarks.large", str(count)], stdout=subprocess.PIPE, text=True
        ) as child:
            try:
                told, _ = child.communicate(timeout=most)
            except subprocess.TimeoutExpired:
                child.kill()
                told, _ = child.communicate()
                what = f"cold start and {READINGS} readings, {count} sections: ended unfinished"
                yield Row(what, float("nan"), "s", GOALS[min(count, 2)][2], "<=", f"not done after {most:g} s")
        yield from (Row(**json.loads(line)) for line in told.splitlines())


if __name__ == "__main__":
    for row in one_machine(int(sys.argv[1]), GOALS[min(int(sys.argv[1]), 2)]):
        print(json.dumps(asdict(row)), flush=True)
