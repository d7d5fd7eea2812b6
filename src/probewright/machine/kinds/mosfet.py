"""MOS transistors of the enhancement kind: a channel above a threshold, and the body diode beside it."""

import numpy as np

from probewright.machine.kinds import Companion, Draft, Kind, Parameter, Strain, Values, assumed, last_control, register
from probewright.machine.kinds.junctions import held_junction, junction
from probewright.machine.kinds.square_law import channel, held_overdrive
from probewright.machine.model import Figure

GATE_VOLTS = 10.0  # data sheets give the resistance of the closed channel at 10 V of gate
LEAST_ROOM = 0.5  # chosen, V: for a threshold typed as high as the gate's 10 V
# class -> (ohms at 10 V of gate, threshold low V, high V, saturation current of the body A, meaning); from memory
CLASSES = {
    "small-signal": (3.0, 0.8, 3.0, 1e-13, "up to 0.5 A"),
    "power": (0.3, 2.0, 4.0, 1e-11, "bolted down"),
    "logic-level": (0.1, 1.0, 2.5, 1e-11, "closes at 5 V of gate"),
}


def closed_ohms(draft: Draft) -> Figure:
    """Resistance of the closed channel."""
    return assumed(
        CLASSES[draft.classes[0]][0], "ohm", f"{draft.classes[0]} MOSFET, from memory", law="tolerance", spread=0.5
    )


def threshold(draft: Draft) -> Figure:
    """Gate volts at which the channel begins to carry, anywhere in the range of the class."""
    _, low, high, _, _ = CLASSES[draft.classes[0]]
    reason = f"{draft.classes[0]} MOSFET, from memory"
    return assumed(0.5 * (low + high), "V", reason, law="range", low=low, high=high)


def saturation(draft: Draft) -> Figure:
    """Saturation current of the body diode."""
    return assumed(
        CLASSES[draft.classes[0]][3], "A", f"{draft.classes[0]} MOSFET, from memory", law="tolerance", spread=0.6
    )


def square(sign: float):
    """Id = beta (Vgs - Vt)^2 past pinch-off (Shichman and Hodges, IEEE J. Solid-State Circuits 3, 1968).

    beta = 1 / (2 Ron (10 V - Vt)), so that a little drain voltage at 10 V of gate sees Ron. sign -1
    for a P channel. The body lies on the source: its diode bars as long as the drain is beyond it.
    """

    def law(v, p: Values, memory) -> Companion:
        threshold_volts = np.abs(p["threshold"])
        us, ud = (sign * (v[1] - v[pin]) - threshold_volts for pin in (2, 0))
        near, held_near = held_overdrive(us, last_control(memory, "near"))
        far, held_far = held_overdrive(ud, last_control(memory, "far"))
        beta = p["channel"] / (2.0 * p["on"] * np.maximum(GATE_VOLTS - threshold_volts, LEAST_ROOM))
        amps, by_us, by_ud = channel(near, far, beta, p["early"])
        amps = amps + by_us * (us - near) + by_ud * (ud - far)
        back = sign * (v[2] - v[0])
        at, bent = held_junction(back, last_control(memory, "body"), p["saturation"], 1.0, p["body"] > 0.0)
        carried, steep = junction(at, p["saturation"], 1.0)
        through, steep = p["body"] * (carried + steep * (back - at)), p["body"] * steep
        slope = {}
        for pin, one in {"g": by_us + by_ud, "s": -by_us - steep, "d": -by_ud + steep}.items():
            slope["d", pin], slope["s", pin] = one, -one
        into = sign * (amps - through)
        return Companion(
            {"d": into, "g": 0.0 * into, "s": -into},
            slope,
            {"near": near, "far": far, "body": at},
            held_near | held_far | bent,
        )

    return law


def mosfet(name: str, letter: str, sign: float) -> None:
    """Register one polarity."""
    whole = assumed(1.0, "1", "an unbroken bond")
    register(
        Kind(
            name=name,
            synonyms=(
                f"{letter} mosfet",
                f"mosfet {letter}",
                f"{letter}mos",
                f"{letter}-channel mosfet",
                f"{letter} channel mosfet",
            ),
            pins=("d", "g", "s"),
            order=("g", "d", "s"),
            aliases={"drain": "d", "gate": "g", "source": "s"},
            parameters=(
                Parameter(
                    "threshold",
                    "V",
                    word="threshold",
                    low=0.3,
                    high=8.0,
                    spread=0.2,
                    turns=True,  # of a P channel either sign is written
                    default=threshold,
                ),
                Parameter("on", "ohm", word="on", default=closed_ohms, low=1e-3, high=1e3, spread=0.5),
                Parameter(
                    "early",
                    "V",
                    word="early",
                    low=5.0,
                    high=1e4,
                    spread=0.5,
                    default=assumed(100.0, "V", "slope of output curves, from memory"),
                ),
                Parameter("saturation", "A", word="saturation", default=saturation, low=1e-18, high=1e-6, spread=0.6),
                Parameter("channel", "1", word="-", default=whole),
                Parameter("body", "1", word="-", default=whole),
            ),
            classes={one: row[4] for one, row in CLASSES.items()},
            default_class="small-signal",
            tame=True,
            strains=(
                Strain("volts", ("d", "s"), either=True),
                Strain("amps", ("d",), either=True),
                Strain("gate volts", ("g", "s"), either=True),
            ),
            symbol=f"{letter.upper()}-channel insulated-gate field-effect transistor",
            inputs=("g",),
            nonlinear=square(sign),
        )
    )


mosfet("n-mosfet", "n", 1.0)
mosfet("p-mosfet", "p", -1.0)
