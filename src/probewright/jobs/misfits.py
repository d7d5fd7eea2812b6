"""Machines that are not quite as their file says: how belief bears a file, or a board, that is wrong.

Each misfit changes one thing of a sound machine. Nothing of it is known to the search.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from probewright.errors import complaint
from probewright.hypotheses.strangers import suspected
from probewright.machine import Machine
from probewright.machine.model import Figure, Part
from probewright.machine.saying import nearest

STEP = 10.0 ** (1.0 / 6.0)  # from one value of the E6 series to the next (IEC 60063)
BEYOND = 2.0  # chosen: a gain so many times above or below all that the file allows
MAIN = {"resistor": "resistance", "capacitor": "capacitance", "inductor": "inductance"}


def with_misfit(machine: Machine, what: str, stream: np.random.Generator) -> Machine:
    """The machine with one misfit of this kind, drawn from the stream; "" for none.

    "value": a part is one step of the E6 series larger or smaller than the file says; "gain": a transistor has a
    gain outside its range; "net": a pin is on another net, one that shares a part with its own. BadInput for
    another word, or where the machine has nothing of the kind.
    """
    if not what:
        return machine
    if what not in MISFITS:
        mend = nearest(what, tuple(MISFITS), "write value, gain or net")
        raise complaint(f"no file can be wrong by {what!r}", mend)
    found = list(MISFITS[what](machine))
    if not found:
        raise complaint(f"nothing in this file can have another {what}", "rehearse another misfit")
    part = found[int(stream.integers(len(found)))]
    return replace(machine, parts={**machine.parts, part.name: part})


def _values(machine: Machine) -> Iterator[Part]:
    for part in suspected(machine):
        if part.kind in MAIN:
            name = MAIN[part.kind]
            for factor in (STEP, 1.0 / STEP):
                yield _with(part, name, replace(part.figures[name], nominal=part.figures[name].nominal * factor))


def _gains(machine: Machine) -> Iterator[Part]:
    for part in suspected(machine):
        gain = part.figures.get("gain")
        if gain is not None and gain.law == "range" and part.kind in ("npn", "pnp"):
            for value in (gain.low / BEYOND, gain.high * BEYOND):
                yield _with(part, "gain", Figure(value, gain.unit))


def _nets(machine: Machine) -> Iterator[Part]:
    for part in suspected(machine):
        for pin, net in part.pins.items() if part.kind in MAIN else ():
            beside = dict.fromkeys(
                other
                for name, _ in machine.pins_on(net)
                for other in machine.parts[name].pins.values()
                if other not in part.pins.values()
            )
            yield from (replace(part, pins={**part.pins, pin: other}) for other in beside)


def _with(part: Part, name: str, figure: Figure) -> Part:
    return replace(part, figures={**part.figures, name: figure})


MISFITS: dict[str, Callable[[Machine], Iterator[Part]]] = {"value": _values, "gain": _gains, "net": _nets}
