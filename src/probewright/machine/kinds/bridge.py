"""Bridge rectifier: four junctions in one case."""

from probewright.machine.kinds import Companion, Kind, Parameter, Strain, Values, assumed, last_control, register
from probewright.machine.kinds.junctions import held_junction, junction

# anode, cathode and hidden figure of each diode
LEGS = (
    ("ac1", "plus", "ac1_plus"),
    ("ac2", "plus", "ac2_plus"),
    ("minus", "ac1", "minus_ac1"),
    ("minus", "ac2", "minus_ac2"),
)
PINS = ("ac1", "ac2", "plus", "minus")


def four_junctions(v, p: Values, memory) -> Companion:
    """Shockley's law four times; the figures of the case hold for all four."""
    amps = {pin: 0.0 * v[0] for pin in PINS}
    slope: dict[tuple[str, str], object] = {}
    kept, stopped = {}, False
    for anode, cathode, whole in LEGS:
        across = v[PINS.index(anode)] - v[PINS.index(cathode)]
        at, held = held_junction(across, last_control(memory, whole), p["saturation"], p["ideality"], p[whole] > 0.0)
        through, g = junction(at, p["saturation"], p["ideality"])
        through, g = (through + g * (across - at)) * p[whole], g * p[whole]
        amps[anode], amps[cathode] = amps[anode] + through, amps[cathode] - through
        for row, column, sign in ((anode, anode, 1), (cathode, cathode, 1), (anode, cathode, -1), (cathode, anode, -1)):
            slope[row, column] = slope.get((row, column), 0.0) + sign * g
        kept[whole], stopped = at, held | stopped
    return Companion(amps, slope, kept, stopped)


WHOLE = assumed(1.0, "1", "a whole junction")

register(
    Kind(
        name="bridge",
        synonyms=("diode bridge",),
        pins=PINS,
        aliases={"~1": "ac1", "~2": "ac2", "~": "ac1", "+": "plus", "-": "minus"},
        parameters=(
            Parameter(
                "saturation",
                "A",
                word="saturation",
                low=1e-18,
                high=1e-3,
                spread=0.6,
                default=assumed(1e-8, "A", "as the diode class rectifier, from memory", law="tolerance", spread=0.6),
            ),
            Parameter(
                "ideality",
                "1",
                word="ideality",
                low=0.8,
                high=2.5,
                default=assumed(1.75, "1", "as the diode class rectifier, from memory"),
            ),
            *(Parameter(whole, "1", word="-", default=WHOLE) for _, _, whole in LEGS),
        ),
        tame=True,
        strains=(Strain("reverse volts", ("plus", "minus")), Strain("amps", ("minus",), how="mean")),
        symbol="bridge rectifier",
        nonlinear=four_junctions,
    )
)
