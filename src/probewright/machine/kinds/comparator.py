"""Comparator with an open collector: it pulls its output down, or lets go; what pulls up stands outside."""

from probewright.machine.kinds import Companion, Kind, Parameter, Strain, Values, assumed, last_control, register
from probewright.machine.kinds.saturating import UNDECIDED, freed, held_across, levelled

FREE = 0.5  # chosen: where the output is taken while the inputs decide, so that it follows them
SWING = 0.5  # chosen, V: input-referred, so that `gain` reads as volts out for volts in at 1 V of swing


def open_collector(v, p: Values, memory) -> Companion:
    """i_out = limit d tanh((v_out - v_low) / (r limit)), d from 0 to 1 as the - input passes the + input."""
    plus, minus, out, high, low = v
    # every control is taken where it is held, then each straight line is drawn from there
    control = p["gain"] * (minus - plus - p["offset"]) / SWING - p["stuck"]
    at, held = held_across(control, last_control(memory, "at", rest=UNDECIDED))
    flat, steep = levelled(at)
    push = (out - low) / (p["r_out"] * p["limit"])
    at_push, held_push = held_across(push, last_control(memory, "push", rest=UNDECIDED))
    at_push = freed(at_push, held, memory, "push", middle=FREE)
    sunk, sunk_steep = levelled(at_push)
    supply = high - low
    at_fed, held_fed = held_across(supply, last_control(memory, "fed"))
    fed, fed_steep = levelled(at_fed)
    down, alive, full = 0.5 * (1.0 + flat), fed * fed, p["limit"] * sunk
    by_input = full * alive * 0.5 * steep * p["gain"] / SWING
    g = down * alive * sunk_steep / p["r_out"]
    by_supply = full * down * 2.0 * fed * fed_steep
    amps = (
        full * down * alive
        + by_input * SWING / p["gain"] * (control - at)
        + g * p["r_out"] * p["limit"] * (push - at_push)
        + by_supply * (supply - at_fed)
    )
    rise = {"plus": -by_input, "minus": by_input, "out": g, "vplus": by_supply, "vminus": -g - by_supply}
    slope = {}
    for pin, d in rise.items():
        slope["out", pin], slope["vminus", pin] = d, -d
    quiet_slope = p["supply_current"] * fed_steep
    quiet = p["supply_current"] * fed + quiet_slope * (supply - at_fed)
    drawn = {"vplus": quiet, "vminus": -quiet - amps, "out": amps}
    slope["vplus", "vplus"], slope["vplus", "vminus"] = quiet_slope, -quiet_slope
    slope["vminus", "vplus"] = slope["vminus", "vplus"] - quiet_slope
    slope["vminus", "vminus"] = slope["vminus", "vminus"] + quiet_slope
    # the bias current of the input pair comes out of the inputs, from the upper supply
    siemens = 1.0 / p["input"]
    for pin, volts in (("plus", plus), ("minus", minus)):
        bias = siemens * (volts - high)
        drawn[pin], drawn["vplus"] = bias, drawn["vplus"] - bias
        slope[pin, pin], slope[pin, "vplus"], slope["vplus", pin] = siemens, -siemens, -siemens
        slope["vplus", "vplus"] = slope["vplus", "vplus"] + siemens
    return Companion(drawn, slope, {"at": at, "push": at_push, "fed": at_fed}, held | held_push | held_fed)


register(
    Kind(
        name="comparator",
        pins=("plus", "minus", "out", "vplus", "vminus"),
        aliases={
            "+": "plus",
            "-": "minus",
            "in+": "plus",
            "in-": "minus",
            "v+": "vplus",
            "v-": "vminus",
            "gnd": "vminus",
        },
        units_share=("vplus", "vminus"),
        parameters=(
            Parameter(
                "gain",
                "1",
                word="gain",
                low=100.0,
                high=1e7,
                spread=0.8,
                default=assumed(2e5, "1", "200 V/mV of a general-purpose dual, from memory"),
            ),
            Parameter(
                "offset",
                "V",
                word="offset",
                low=-0.1,
                high=0.1,
                law="offset",
                default=assumed(0.0, "V", "limit of general-purpose parts, from memory", law="offset", spread=5e-3),
            ),
            Parameter(
                "r_out",
                "ohm",
                word="output",
                low=1.0,
                high=1e3,
                spread=0.5,
                default=assumed(40.0, "ohm", "0.15 V at 4 mA, from memory", law="tolerance", spread=0.5),
            ),
            Parameter(
                "limit",
                "A",
                word="limit",
                low=1e-4,
                high=1.0,
                spread=0.4,
                default=assumed(16e-3, "A", "sinks 16 mA, from memory", law="tolerance", spread=0.4),
            ),
            Parameter(
                "supply_current",
                "A",
                word="supply",
                low=1e-6,
                high=0.1,
                spread=0.5,
                default=assumed(4e-4, "A", "for each comparator, from memory", law="tolerance", spread=0.5),
            ),
            Parameter(
                "input",
                "ohm",
                word="input",
                low=1e5,
                high=1e13,
                spread=0.8,
                default=assumed(
                    250e6, "ohm", "bias of about 25 nA out of each input, from memory", law="tolerance", spread=0.8
                ),
            ),
            Parameter("stuck", "1", word="-", default=assumed(0.0, "1", "not stuck")),
        ),
        classes={"open-collector": "pulls down only", "open-drain": "pulls down only"},
        default_class="open-collector",
        strains=(Strain("supply volts", ("vplus", "vminus")),),
        symbol="amplifier",
        inputs=("plus", "minus"),
        nonlinear=open_collector,
    )
)
