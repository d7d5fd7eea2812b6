"""Diode: one junction."""

from probewright.machine.kinds import Companion, Draft, Kind, Parameter, Strain, Values, assumed, last_control, register
from probewright.machine.kinds.junctions import between_ends, held_junction, junction
from probewright.machine.model import Figure

# Saturation current and ideality that give the usual forward drop: class -> (A, n, drop).
# From memory of data sheets; the drop follows from n Vt ln(I / Is).
CLASSES = {
    "small-signal": (3e-9, 1.85, "0.6 V at 1 mA"),
    "rectifier": (1e-8, 1.75, "0.73 V at 0.1 A"),
    "schottky": (1e-6, 1.05, "0.19 V at 1 mA"),
    "germanium": (1e-6, 1.3, "0.23 V at 1 mA"),
}


def saturation(draft: Draft) -> Figure:
    """Saturation current of the class; a factor of about two either way is ordinary."""
    amps, _, drop = CLASSES[draft.classes[0]]
    return assumed(amps, "A", f"{draft.classes[0]} diode, {drop}, from memory", law="tolerance", spread=0.6)


def ideality(draft: Draft) -> Figure:
    """Ideality factor of the class."""
    return assumed(CLASSES[draft.classes[0]][1], "1", "of the class, from memory")


def shockley(v, p: Values, memory) -> Companion:
    """i = Is (exp(v / n Vt) - 1), anode to cathode; turned -1 for one that is fitted the other way round."""
    across = p["turned"] * (v[0] - v[1])
    at, held = held_junction(across, last_control(memory, "at"), p["saturation"], p["ideality"], p["scale"] > 0.0)
    amps, slope = junction(at, p["saturation"], p["ideality"])
    amps, slope = amps * p["scale"], slope * p["scale"]
    through = amps + slope * (across - at)
    return between_ends(p["turned"] * through, slope, at, held)


register(
    Kind(
        name="diode",
        pins=("a", "k"),
        aliases={"anode": "a", "cathode": "k", "1": "a", "2": "k"},
        parameters=(
            Parameter("saturation", "A", word="saturation", default=saturation, low=1e-18, high=1e-3, spread=0.6),
            Parameter("ideality", "1", word="ideality", default=ideality, low=0.8, high=2.5),
            Parameter("scale", "1", word="-", default=assumed(1.0, "1", "a whole junction")),
            Parameter("turned", "1", word="-", default=assumed(1.0, "1", "the right way round")),
        ),
        classes={name: drop for name, (_, _, drop) in CLASSES.items()},
        default_class="small-signal",
        polar=True,
        junctions=(("a", "k"),),
        tame=True,
        strains=(Strain("reverse volts", ("k", "a")), Strain("amps", ("a",), how="mean")),
        symbol="semiconductor diode",
        nonlinear=shockley,
    )
)
