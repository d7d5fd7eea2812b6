"""Zener: a junction forwards, a knee and a slope backwards."""

from probewright.machine.kinds import Companion, Kind, Parameter, Values, assumed, last_control, register
from probewright.machine.kinds.junctions import LEAST_SIEMENS, between_ends, held_junction, junction
from probewright.machine.kinds.saturating import rounded

KNEE_VOLTS = 0.02  # chosen: width of the knee; sharper than any part, soft enough for Newton


def zener(v, p: Values, memory) -> Companion:
    """Forward: Shockley. Backward: i = (-v - Vz) / Rz past the knee Vz, rounded over KNEE_VOLTS; turned: as a diode."""
    across = p["turned"] * (v[0] - v[1])
    at, held = held_junction(across, last_control(memory, "at"), p["saturation"], 1.0, p["scale"] > 0.0)
    forward, forward_slope = junction(at, p["saturation"], 1.0)
    past = (-at - p["volts"]) / KNEE_VOLTS
    soft, share = rounded(past)
    backward = KNEE_VOLTS / p["slope"] * soft
    backward_slope = share / p["slope"]
    slope = (forward_slope + backward_slope) * p["scale"] + LEAST_SIEMENS
    through = (forward - backward) * p["scale"] + LEAST_SIEMENS * at + slope * (across - at)
    return between_ends(p["turned"] * through, slope, at, held)


register(
    Kind(
        name="zener",
        pins=("a", "k"),
        aliases={"anode": "a", "cathode": "k", "1": "a", "2": "k"},
        parameters=(
            Parameter("volts", "V", low=1.0, high=400.0, spread=0.05),
            Parameter(
                "slope",
                "ohm",
                word="slope",
                low=0.05,
                high=2e3,
                spread=0.5,
                default=assumed(
                    8.0, "ohm", "a 10 V part in its working range, from memory", law="tolerance", spread=0.5
                ),
            ),
            Parameter(
                "saturation",
                "A",
                word="saturation",
                low=1e-18,
                high=1e-6,
                spread=0.6,
                default=assumed(1e-14, "A", "0.7 V at 5 mA, from memory", law="tolerance", spread=0.6),
            ),
            Parameter("scale", "1", word="-", default=assumed(1.0, "1", "a whole junction")),
            Parameter("turned", "1", word="-", default=assumed(1.0, "1", "the right way round")),
        ),
        stress_units=("W", "A", "°C"),
        polar=True,
        junctions=(("a", "k"),),
        tame=True,
        symbol="breakdown diode",
        nonlinear=zener,
    )
)
