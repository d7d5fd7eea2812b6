"""Source: an electromotive force behind a resistance, with a current limit."""

from probewright.machine.kinds import Companion, Kind, Parameter, Values, assumed, last_control, register
from probewright.machine.kinds.saturating import held_across, levelled


def feed(v, p: Values, memory) -> Companion:
    """i = limit tanh((E - v) / (r limit)); straight until near the limit."""
    push = (p["volts"] - (v[0] - v[1])) / (p["series"] * p["limit"])
    at, jumped = held_across(push, last_control(memory, "at"))
    flat, steep = levelled(at)
    amps = p["limit"] * (flat + steep * (push - at))
    g = steep / p["series"]
    return Companion(
        {"plus": -amps, "minus": amps},
        {("plus", "plus"): g, ("plus", "minus"): -g, ("minus", "plus"): -g, ("minus", "minus"): g},
        {"at": at},
        jumped,
    )


def signal(p: Values, slope):
    """Peak amps the signal pushes into each pin of the linearised source."""
    amps = p["signal"] * slope["plus", "plus"]
    return {"plus": amps, "minus": -amps}


register(
    Kind(
        name="source",
        pins=("plus", "minus"),
        aliases={"1": "plus", "2": "minus", "+": "plus", "-": "minus"},
        parameters=(
            Parameter("volts", "V", low=-1000.0, high=1000.0, spread=0.05),
            Parameter(
                "series",
                "ohm",
                word="series",
                low=1e-4,
                high=1e7,
                spread=0.3,
                default=assumed(0.1, "ohm", "a stiff source", law="exact"),
            ),
            Parameter(
                "limit",
                "A",
                word="limit",
                low=1e-4,
                high=100.0,
                spread=0.2,
                default=assumed(1000.0, "A", "no limit typed"),
            ),
            Parameter(
                "signal",
                "V",
                word="-",
                low=0.0,
                high=400.0,
                spread=0.03,
                default=assumed(0.0, "V", "no signal unless the stimulus puts one on"),
            ),
            Parameter(
                "off", "ohm", word="off", low=1e-4, high=1e9, default=assumed(1e9, "ohm", "unplugged with power off")
            ),
        ),
        stress_units=(),
        polar=True,
        symbol="source",
        nonlinear=feed,
        drive=signal,
        feeds=True,
        plays=True,
    )
)
