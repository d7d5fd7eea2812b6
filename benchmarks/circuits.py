"""Fixed circuits and variants of them: the same on every run, and such as ngspice can be told by `alter`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from probewright import machine
from probewright.machine import Machine
from probewright.machine.edits import SetFigure
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Model, build_model
from probewright.prediction.latents import draw_latents
from probewright.readings import Reading, Setup
from probewright.readings.lines import read_readings
from probewright.readings.setups import edits as setup_edits
from probewright.simulation.circuit import Batch, Circuit, compile_circuit, nominal_figures

DEMOS = {"ds-3": "door unit", "lm-2": "mixer"}
MESH_OF_THE_RACE = 4  # sections: 18 nodes, 4 transistors and 4 diodes

# One section: a gain stage with a diode level shifter, fed back upon itself and from the section after it.
SECTION = """
  R1{n}: resistor 47k     VCC > B{n}
  R2{n}: resistor 12k     B{n} > GND
  R3{n}: resistor 3k3     VCC > C{n}
  R4{n}: resistor 1k      E{n} > GND
  R5{n}: resistor 10k     D{n} > GND
  R6{n}: resistor 470k    C{n} > B{n}
  R7{n}: resistor 22k     D{after} > E{n}
  Q{n}: npn small-signal gain 200    c=C{n} b=B{n} e=E{n}
  DD{n}: diode small-signal          C{n} > D{n}
  CC{n}: capacitor 1u     D{n} > {coupled}"""

# Figures that an `alter` or `altermod` line can change in a running ngspice, by kind of part.
ALTERABLE = {
    "resistor": ("resistance",),
    "load": ("resistance",),
    "lead": ("resistance",),
    "fuse": ("resistance",),
    "capacitor": ("leak", "esr", "capacitance"),
    "potentiometer": ("resistance", "position", "wiper"),
    "source": ("volts",),
    "npn": ("gain",),
}


def mesh(sections: int) -> str:
    """A machine of gain stages in a ring, each fed back from the next: 4 nodes and 10 parts a section, 2 and 3 more."""
    parts = "".join(
        SECTION.format(n=n, after=n % sections + 1, coupled=f"B{n + 1}" if n < sections else "GND")
        for n in range(1, sections + 1)
    )
    return (
        f"machine: mesh of {sections}\nparts:\n  V1: source 12V series 0.5R    VCC > GND\n"
        f"  GEN: source 0V series 600R    SIG > GND\n  C0: capacitor 1u    SIG > B1{parts}\n"
        "stimuli:\n  tone: {GEN: sine 5mV rms 1kHz}\n"
    )


@cache
def demo(name: str) -> tuple[Machine, tuple[Reading, ...]]:
    """A demo machine and its recorded readings."""
    folder = files("probewright.demo")
    loaded = machine.read(folder.joinpath(f"fernside-{name}.yaml").read_text("utf-8"), name)
    return loaded, tuple(read_readings(folder.joinpath(f"fernside-{name}.readings").read_text("utf-8"), loaded, name))


@dataclass(frozen=True)
class Racer:
    """A circuit and the variants that both simulators solve."""

    name: str
    circuit: Circuit
    batch: Batch


def racers(count: int) -> Iterable[Racer]:
    """The three fixed circuits, with this many variants each."""
    for name, says in DEMOS.items():
        yield racer(says, demo(name)[0], count)
    yield racer("mesh", machine.read(mesh(MESH_OF_THE_RACE), "mesh"), count)


def racer(name: str, loaded: Machine, count: int) -> Racer:
    """Tolerances and, in turn, every fault that is a change of figures alone; in an order that is no order.

    Faults that need a further path or a freed pin are left out, and figures that `alter` does not
    reach stand at their nominal: the deck then never changes and neither side carries more than it needs.
    """
    setup = Setup(stimulus=next(iter(loaded.stimuli)))
    model = build_model(loaded, "benchmark")
    cells = [cell for cell in range(len(model.cells)) if _alterable(model, cell)]
    random = np.random.default_rng(7)
    bank = Bank(
        model,
        [Span(cells[n % len(cells)], n, n + 1) for n in range(count)],
        np.vstack([draw_latents(model.latents, model.job, count), random.standard_normal(count)]),
    )
    circuit = compile_circuit(loaded, setup_edits(setup, loaded))
    given = bank.batch(circuit, setup)
    figures: dict[tuple[str, str], Any] = {**nominal_figures(circuit), **circuit.fixed}
    for (part, figure), value in given.figures.items():
        if figure in ALTERABLE.get(loaded.parts[part].kind, ()):
            figures[part, figure] = value
    batch = Batch(count, figures).take(np.arange(count))
    mixed = random.permutation(count)
    return Racer(
        name, circuit, replace(batch, figures={k: v if np.ndim(v) == 0 else v[mixed] for k, v in figures.items()})
    )


def _alterable(model: Model, cell: int) -> bool:
    """Every edit of the cell's fault is a figure that `alter` reaches."""
    if cell == model.unlisted_cell:
        return False
    return all(
        isinstance(edit, SetFigure)
        and edit.part in model.machine.parts
        and edit.figure in ALTERABLE.get(model.machine.parts[edit.part].kind, ())
        for _, made in model.edits(cell, np.zeros((len(model.latents.keys) + 1, 1)))
        for edit in made
    )


def scattered(sections: int, count: int) -> Racer:
    """A mesh without faults whose resistances and gains scatter, for the cost against size."""
    loaded = machine.read(mesh(sections), "mesh")
    circuit = compile_circuit(loaded, setup_edits(Setup(stimulus="tone"), loaded))
    random = np.random.default_rng(1)
    figures: dict[tuple[str, str], Any] = {**nominal_figures(circuit), **circuit.fixed}
    for key in figures:
        if key[1] in ("resistance", "gain"):
            figures[key] = figures[key] * np.exp(0.05 * random.standard_normal(count))
    return Racer(f"mesh of {sections}", circuit, Batch(count, figures))
