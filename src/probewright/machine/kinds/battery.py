"""Battery: an electromotive force behind the resistance of its cells."""

from probewright.machine.kinds import Companion, Draft, Kind, Parameter, Values, assumed, register
from probewright.machine.model import Figure

# class -> (volts of one cell, ohms of one cell). From memory: fresh AA cells; small button or coin cells of
# lithium are far higher.
CLASSES = {
    "alkaline": (1.5, 0.2),
    "zinc-carbon": (1.5, 0.5),
    "nicd": (1.2, 0.05),
    "lithium": (3.0, 10.0),
    "lead": (2.0, 0.02),
}


def cell_ohms(draft: Draft) -> Figure:
    """Resistance of as many cells in series as make up the volts."""
    volts, ohms = CLASSES[draft.classes[0]]
    whole = ohms * draft.figures["volts"].nominal / volts
    return assumed(whole, "ohm", f"fresh {draft.classes[0]} cells, from memory", law="tolerance", spread=0.5)


def feed(v, p: Values, memory) -> Companion:
    """i = (E - v) / r out of plus."""
    g = 1.0 / p["series"] + 0.0 * v[0]
    amps = g * (p["charge"] * p["volts"] - (v[0] - v[1]))
    return Companion(
        {"plus": -amps, "minus": amps},
        {("plus", "plus"): g, ("plus", "minus"): -g, ("minus", "plus"): -g, ("minus", "minus"): g},
        {},
        amps != amps,
    )


register(
    Kind(
        name="battery",
        synonyms=("cell",),
        pins=("plus", "minus"),
        aliases={"1": "plus", "2": "minus", "+": "plus", "-": "minus"},
        parameters=(
            Parameter("volts", "V", low=1.0, high=100.0, spread=0.1),
            Parameter("series", "ohm", word="series", low=1e-3, high=1e5, spread=0.5, default=cell_ohms),
            Parameter("charge", "1", word="-", default=assumed(1.0, "1", "fresh")),
            Parameter(
                "off", "ohm", word="off", low=1e-4, high=1e9, default=assumed(1e9, "ohm", "taken out with power off")
            ),
        ),
        classes={name: f"{volts} V, {ohms} ohm a cell" for name, (volts, ohms) in CLASSES.items()},
        default_class="alkaline",
        stress_units=(),
        polar=True,
        symbol="battery",
        nonlinear=feed,
        feeds=True,
        dial="volts",
    )
)
