"""Block: a part known only from outside: gain, input and output resistance, and perhaps a supply."""

from collections.abc import Mapping
from dataclasses import dataclass

from probewright.machine.kinds import Companion, Kind, Parameter, Values, assumed, register

CUBED = 3  # chosen: a stage dies with the cube of the square of its volts; at three times `needs` 0.2 % is missing
SUPPLY_OHMS = 1e3  # chosen: a small stage takes about 10 mA from 12 V


@dataclass(frozen=True)
class Usual:
    """Where a figure typed `?` lies: 19 in 20 between middle / factor and middle x factor."""

    middle: float
    factor: float


# Chosen, from memory of home and studio equipment: a stage, a source, a filter picked blindly.
USUAL: Mapping[str, Usual] = {
    "gain": Usual(3.0, 30.0),  # from a filter that loses ten times to a preamplifier
    "input": Usual(47e3, 10.0),
    "output": Usual(500.0, 20.0),
}


def black_box(p: Values):
    """The input takes a little, the output sits behind its resistance; a supply that counts is drawn on."""
    g_out = 1.0 / p["output"]
    drawn = (p["needs"] > 0.0) / SUPPLY_OHMS
    return [
        ("in", "com", "in", "com", 1.0 / p["input"]),
        ("out", "com", "out", "com", g_out),
        ("supply", "com", "supply", "com", drawn),
    ]


def alive(volts, needs):
    """How much of its gain a stage has left, and the slope of that, 1/V: x^6 / (1 + x^6), x = volts / needs.

    All of it where needs is nought: then no supply was typed.
    """
    counts = 1.0 * (needs > 0.0)
    size = abs(volts) + 1e-9
    square = (size / (needs + 1.0 - counts)) ** 2
    powered = 1.0 - 1.0 / (1.0 + square**CUBED)
    slope = 2 * CUBED * powered * (1.0 - powered) / size * (1.0 - 2.0 * (volts < 0.0))
    return powered * counts + 1.0 - counts, slope * counts


def black_box_gain(v, p: Values, memory) -> Companion:
    """Output = gain x input, as a current behind the output resistance, as far as the supply keeps it alive."""
    left, fall = alive(v[3] - v[2], p["needs"])
    g, signal = p["gain"] * left / p["output"], v[0] - v[2]
    bend = p["gain"] * fall / p["output"] * signal
    amps = g * signal
    return Companion(
        {"in": 0.0 * amps, "out": -amps, "com": amps, "supply": 0.0 * amps},
        {
            ("out", "in"): -g,
            ("out", "com"): g + bend,
            ("out", "supply"): -bend,
            ("com", "in"): g,
            ("com", "com"): -g - bend,
            ("com", "supply"): bend,
        },
        {},
        False,
    )


register(
    Kind(
        name="block",
        pins=("in", "out", "com", "supply"),
        optional_pins={"com": "GND", "supply": "GND"},
        parameters=(
            Parameter(
                "gain",
                "1",
                word="gain",
                low=0.01,
                high=1000.0,
                spread=0.1,
                turns=True,  # a minus sign: the signal comes out upside down
                default=assumed(1.0, "1", "no gain typed"),
            ),
            Parameter(
                "input",
                "ohm",
                word="input",
                low=1.0,
                high=1e9,
                spread=0.3,
                default=assumed(1e6, "ohm", "no input resistance typed"),
            ),
            Parameter(
                "output",
                "ohm",
                word="output",
                low=0.1,
                high=1e5,
                spread=0.3,
                default=assumed(100.0, "ohm", "no output resistance typed"),
            ),
            Parameter(
                "needs",
                "V",
                word="needs",
                low=0.1,
                high=100.0,
                spread=0.2,
                default=assumed(0.0, "V", "no supply typed: it works whatever its supply pin does"),
            ),
        ),
        symbol="block",
        inputs=("in",),
        linear=black_box,
        nonlinear=black_box_gain,
    )
)
