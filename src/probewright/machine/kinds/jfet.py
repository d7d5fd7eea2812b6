"""Junction field-effect transistors: a channel that the gate pinches off, a junction to either end."""

import numpy as np

from probewright.machine.kinds import Companion, Kind, Parameter, Strain, Values, assumed, last_control, register
from probewright.machine.kinds.junctions import held_junction, junction
from probewright.machine.kinds.square_law import channel, held_overdrive


def pinched(sign: float):
    """Id = Idss (1 - Vgs / Vp)^2 past pinch-off (Shockley, Proc. IRE 40, 1952); sign -1 for a P channel."""

    def law(v, p: Values, memory) -> Companion:
        gs, gd = sign * (v[1] - v[2]), sign * (v[1] - v[0])
        pinch = np.abs(p["pinch_off"])
        near, held_near = held_overdrive(gs + pinch, last_control(memory, "near"))
        far, held_far = held_overdrive(gd + pinch, last_control(memory, "far"))
        amps, by_gs, by_gd = channel(near, far, p["idss"] * p["channel"] / (pinch * pinch), p["early"])
        amps = amps + by_gs * (gs + pinch - near) + by_gd * (gd + pinch - far)
        through, slope, memory_of, held = {}, {}, {"near": near, "far": far}, held_near | held_far
        for end, volts in (("s", gs), ("d", gd)):
            whole = p["gate_source"] if end == "s" else p["gate_drain"]
            at, bent = held_junction(volts, last_control(memory, end), p["saturation"], 1.0, whole > 0.0)
            carried, steep = junction(at, p["saturation"], 1.0)
            through[end] = whole * (carried + steep * (volts - at))
            slope["g", end], slope[end, "g"], slope[end, end] = -whole * steep, -whole * steep, whole * steep
            memory_of[end], held = at, held | bent
        slope["g", "g"] = -slope["g", "s"] - slope["g", "d"]
        by = {"g": by_gs + by_gd, "s": -by_gs, "d": -by_gd}
        for pin, one in by.items():
            slope["d", pin] = slope.get(("d", pin), 0.0) + one
            slope["s", pin] = slope.get(("s", pin), 0.0) - one
        into = {"d": amps - through["d"], "g": through["s"] + through["d"], "s": -amps - through["s"]}
        return Companion({pin: sign * one for pin, one in into.items()}, slope, memory_of, held)

    return law


def jfet(name: str, letter: str, sign: float) -> None:
    """Register one polarity."""
    whole = assumed(1.0, "1", "an unbroken bond")
    register(
        Kind(
            name=name,
            synonyms=(
                f"{letter} jfet",
                f"jfet {letter}",
                f"{letter}jfet",
                f"{letter}-channel jfet",
                f"{letter} channel jfet",
            ),
            pins=("d", "g", "s"),
            aliases={"drain": "d", "gate": "g", "source": "s"},
            parameters=(
                Parameter(
                    "idss",
                    "A",
                    word="idss",
                    low=1e-5,
                    high=1.0,
                    spread=0.5,
                    default=assumed(
                        5e-3, "A", "small-signal types taken together, from memory", law="range", low=1e-3, high=20e-3
                    ),
                ),
                Parameter(
                    "pinch_off",
                    "V",
                    word="pinch-off",
                    low=0.1,
                    high=15.0,
                    spread=0.3,
                    turns=True,  # data sheets give it either sign
                    default=assumed(
                        2.0, "V", "small-signal types taken together, from memory", law="range", low=0.5, high=6.0
                    ),
                ),
                Parameter(
                    "early",
                    "V",
                    word="early",
                    low=5.0,
                    high=1e4,
                    spread=0.5,
                    default=assumed(100.0, "V", "output resistance of 100 kohm at 1 mA, from memory"),
                ),
                Parameter(
                    "saturation",
                    "A",
                    word="saturation",
                    low=1e-18,
                    high=1e-6,
                    spread=0.5,
                    default=assumed(1e-14, "A", "0.65 V at 1 mA, from memory"),
                ),
                # an open bond takes away what needs it
                Parameter("channel", "1", word="-", default=whole),
                Parameter("gate_source", "1", word="-", default=whole),
                Parameter("gate_drain", "1", word="-", default=whole),
            ),
            tame=True,
            strains=(
                Strain("volts", ("d", "s"), either=True),
                Strain("amps", ("d",), either=True),
                Strain("gate volts", ("g", "s"), either=True),
            ),
            symbol=f"{letter.upper()}-channel junction field-effect transistor",
            inputs=("g",),
            nonlinear=pinched(sign),
        )
    )


jfet("n-jfet", "n", 1.0)
jfet("p-jfet", "p", -1.0)
