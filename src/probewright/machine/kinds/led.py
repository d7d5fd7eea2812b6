"""Light-emitting diode: one junction, known by its volts at 10 mA."""

import numpy as np

from probewright.machine.kinds import (
    THERMAL_VOLTS,
    Companion,
    Draft,
    Kind,
    Parameter,
    Strain,
    Values,
    assumed,
    last_control,
    register,
)
from probewright.machine.kinds.junctions import between_ends, held_junction, junction
from probewright.machine.model import Figure

MARKED_AMPS = 0.01  # at which the volts are counted; the usual test current of small parts, from memory
# colour -> (volts at 10 mA, ideality). Old gallium phosphide green and yellow; blue and white of nitride. From memory.
COLOURS = {
    "red": (1.8, 2.4),
    "orange": (2.0, 2.4),
    "yellow": (2.1, 2.4),
    "green": (2.1, 2.4),
    "blue": (3.2, 3.0),
    "white": (3.2, 3.0),
    "infrared": (1.2, 1.6),
}


def forward(draft: Draft) -> Figure:
    """Volts at 10 mA of the colour."""
    return assumed(
        COLOURS[draft.classes[0]][0], "V", f"{draft.classes[0]} at 10 mA, from memory", law="tolerance", spread=0.05
    )


def ideality(draft: Draft) -> Figure:
    """How gently the volts rise with the current, series resistance included."""
    return assumed(COLOURS[draft.classes[0]][1], "1", "of the colour, from memory")


def saturation(volts, ideality):
    """Saturation current of a junction that carries MARKED_AMPS at these volts."""
    return MARKED_AMPS / np.expm1(volts / (ideality * THERMAL_VOLTS))


def shine(v, p: Values, memory) -> Companion:
    """Shockley's law through 10 mA at the marked volts, anode to cathode; turned: as a diode."""
    across, amps = p["turned"] * (v[0] - v[1]), saturation(p["volts"], p["ideality"])
    at, held = held_junction(across, last_control(memory, "at"), amps, p["ideality"], p["scale"] > 0.0)
    through, slope = junction(at, amps, p["ideality"])
    through, slope = through * p["scale"], slope * p["scale"]
    return between_ends(p["turned"] * (through + slope * (across - at)), slope, at, held)


register(
    Kind(
        name="led",
        synonyms=("diode led",),
        pins=("a", "k"),
        aliases={"anode": "a", "cathode": "k", "1": "a", "2": "k"},
        parameters=(
            Parameter("volts", "V", default=forward, low=0.9, high=5.0, spread=0.05),
            Parameter("ideality", "1", word="ideality", default=ideality, low=1.0, high=5.0),
            Parameter("scale", "1", word="-", default=assumed(1.0, "1", "a whole junction")),
            Parameter("turned", "1", word="-", default=assumed(1.0, "1", "the right way round")),
        ),
        classes={name: f"{volts} V at 10 mA" for name, (volts, _) in COLOURS.items()},
        default_class="red",
        stress_units=("W", "A", "°C"),
        polar=True,
        tame=True,
        strains=(Strain("amps", ("a",), how="mean"), Strain("reverse volts", ("k", "a"))),
        symbol="light-emitting diode",
        nonlinear=shine,
    )
)
