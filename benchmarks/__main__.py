"""`python -m benchmarks`: print every figure beside its goal; a missed goal is said plainly."""

from __future__ import annotations

import argparse
import json
import resource
import shutil
import statistics
import subprocess
import time
from collections import Counter
from importlib.resources import files

import numpy as np

from probewright import jobs, machine
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.readings import Setup
from probewright.readings.lines import read_readings
from probewright.simulation.alternating import small_signal
from probewright.simulation.circuit import Batch, compile_circuit, nominal_figures
from probewright.simulation.newton import come_to_rest

STAGE = """
  R{n}1: resistor 47k    VCC > B{n}
  R{n}2: resistor 10k    B{n} > GND
  R{n}3: resistor 4k7    VCC > C{n}
  R{n}4: resistor 1k     E{n} > GND
  Q{n}: npn small-signal gain 200    c=C{n} b=B{n} e=E{n}
  R{n}5: resistor 100k   C{n} > {next}"""


def ladder(stages: int) -> str:
    """A machine of common-emitter stages in a row, each feeding the next; three nodes a stage."""
    parts = "".join(STAGE.format(n=n, next=f"B{n + 1}" if n < stages else "GND") for n in range(1, stages + 1))
    return f"machine: ladder of {stages}\nparts:\n  V1: source 12V series 0.5R    VCC > GND{parts}\n"


def variants(model_text: str, count: int) -> tuple[object, Batch]:
    """A circuit and a batch of it with resistors and gains scattered by 5 %; the same every time."""
    circuit = compile_circuit(machine.read(model_text, "bench.yaml"))
    random = np.random.default_rng(1)
    figures = {
        key: value * np.exp(0.05 * random.standard_normal(count)) if key[1] in ("resistance", "gain") else value
        for key, value in nominal_figures(circuit).items()
    }
    return circuit, Batch(count, figures)


def rate(run, count: int, repeats: int = 5) -> float:
    """Variants a second, the median of some runs."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return count / statistics.median(times)


def deck(circuit, batch: Batch, copies: range) -> str:
    """The ladder as an ngspice deck in one process: values altered and solved again for each variant."""
    lines = ["* ladder", ".options reltol=1e-4", ".model q1 npn(is=1e-14 bf=200 br=1)"]
    resistors = []
    for group in circuit.groups:
        for n, name in enumerate(group.parts):
            nodes = ["0" if i < 0 else f"n{i}" for i in group.nodes[:, n]]
            if group.kind.name == "resistor":
                lines.append(f"r{name} {nodes[0]} {nodes[1]} 1k")
                resistors.append(name)
            elif group.kind.name == "npn":
                lines.append(f"q{name} {nodes[0]} {nodes[1]} {nodes[2]} q1")
            else:
                lines += ["vsup sup 0 12", f"rsup sup {nodes[0]} 0.5"]
    lines.append(".control")
    for v in copies:
        lines += [f"alter r{name} = {batch.figures[name, 'resistance'][v]:.9g}" for name in resistors]
        lines += ["op", f"print v(n{circuit.at('C1')})"]
    return "\n".join([*lines, "quit 0", ".endc", ".end", ""])


def spice_rate(circuit, batch: Batch) -> float:
    """ngspice's variants a second in its `alter` loop, start-up taken out by the difference of two sizes."""

    def run(count: int) -> float:
        start = time.perf_counter()
        text = deck(circuit, batch, range(count))
        subprocess.run(["ngspice", "-b", "/dev/stdin"], input=text, capture_output=True, text=True, check=True)
        return time.perf_counter() - start

    small, large = 20, 420
    return (large - small) / (
        statistics.median(run(large) for _ in range(3)) - statistics.median(run(small) for _ in range(3))
    )


def race(rows: list) -> None:
    """Direct and alternating solves against ngspice on the same variants."""
    for stages in (3, 6):
        circuit, batch = variants(ladder(stages), 4096)
        rest = come_to_rest(circuit, batch)
        dc = rate(lambda c=circuit, b=batch: come_to_rest(c, b), batch.size)
        ac = rate(lambda c=circuit, b=batch, r=rest: small_signal(c, b, r, 1e3), batch.size)
        rows.append((f"DC variants/s, {circuit.size} nodes, cold", dc, None, ""))
        rows.append((f"AC solves/s, {circuit.size} nodes", ac, 500_000 if circuit.size >= 18 else None, ">="))
        if shutil.which("ngspice"):
            rows.append(
                (f"  DC against ngspice's alter loop, {circuit.size} nodes", dc / spice_rate(circuit, batch), 100, ">=")
            )
        else:
            rows.append(("  ngspice is not installed: apt-get install ngspice", float("nan"), None, ""))


def growth(rows: list) -> None:
    """How the cost of one variant grows with the number of nodes."""
    sizes, cost = [], []
    for stages in (3, 6, 13, 26):
        circuit, batch = variants(ladder(stages), 2048)
        sizes.append(circuit.size)
        cost.append(1.0 / rate(lambda c=circuit, b=batch: come_to_rest(c, b), batch.size, 3))
    slope = float(np.polyfit(np.log(sizes), np.log(cost), 1)[0])
    rows.append((f"exponent of DC cost against nodes, {sizes[0]} to {sizes[-1]}", slope, 1.15, "<="))


def demo(name: str):
    """A demo machine and its recorded readings."""
    folder = files("probewright.demo")
    loaded = machine.read(folder.joinpath(f"fernside-{name}.yaml").read_text("utf-8"), name)
    return loaded, read_readings(folder.joinpath(f"fernside-{name}.readings").read_text("utf-8"), loaded, name)


def solved(rows: list) -> None:
    """Share of all suspects x draws that were solved; the rest by name."""
    for name in ("lm-2", "ds-3"):
        loaded, _ = demo(name)
        laws = draw_laws(build_model(loaded, "bench"))
        rest = laws.base.solved(Setup(stimulus=next(iter(loaded.stimuli)))).rest
        rows.append((f"solved share, {name}", float(rest.solved.mean()), 0.9999, ">="))
        left = Counter(
            laws.model.suspects[laws.model.suspect_of[laws.cell_of[v]]].id for v in np.flatnonzero(~rest.solved)
        )
        for says, count in left.most_common(8):
            rows.append((f"  not solved: {says}", count, None, ""))


def readings(rows: list) -> None:
    """Quick and refined answer for each reading of the mixer demo, and what the answer rests on."""
    loaded, said = demo("lm-2")
    start = time.perf_counter()
    job = jobs.open_job(loaded)
    first = jobs.look(jobs.enter_readings(job, said[:1]))
    rows.append(("cold start to the first proposal, s", time.perf_counter() - start, 2.0, "<="))
    assert first.actions
    quick, refined, looks, draws = [], [], [], []
    for reading in said:
        t = time.perf_counter()
        jobs.quick_look(job, [reading])
        quick.append(time.perf_counter() - t)
        t = time.perf_counter()
        job = jobs.enter_readings(job, [reading])
        refined.append(time.perf_counter() - t)
        t = time.perf_counter()
        jobs.look(job)
        looks.append(time.perf_counter() - t)
        draws.append(job.belief.quality[0])
    rows.append(("quick answer, ms, median", 1e3 * statistics.median(quick), 30, "<="))
    rows.append(("refined answer, ms, median", 1e3 * statistics.median(refined), 600, "<="))
    rows.append(("  next reading and view after it, ms, median", 1e3 * statistics.median(looks), None, ""))
    rows.append(("effective draws after each reading, least", min(draws), None, ""))
    rows.append(("effective draws after each reading, median", statistics.median(draws), None, ""))


PARTS = {"race": race, "growth": growth, "solved": solved, "readings": readings}


def main() -> None:
    """Run the chosen parts and print the table."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--only", choices=PARTS, help="run one part")
    parser.add_argument("--json", metavar="FILE", help="also write the rows as JSON")
    chosen = parser.parse_args()
    rows: list[tuple[str, float, float | None, str]] = []
    for name, part in PARTS.items():
        if chosen.only in (None, name):
            part(rows)
    rows.append(("peak memory, MiB", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1024, "<="))
    for what, figure, goal, sense in rows:
        reached = goal is not None and (figure >= goal if sense == ">=" else figure <= goal)
        met = "" if goal is None else f"goal {sense} {goal:g}  {'met' if reached else 'missed'}"
        print(f"{what:<62} {figure:>12,.4g}   {met}")
    if chosen.json:
        with open(chosen.json, "w", encoding="utf-8") as out:
            json.dump([{"what": what, "figure": figure, "goal": goal} for what, figure, goal, _ in rows], out, indent=1)


if __name__ == "__main__":
    main()
