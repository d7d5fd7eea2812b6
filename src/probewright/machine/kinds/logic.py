"""Logic at rest: gates by family, each input a threshold, the output one of two levels behind a resistance."""

from dataclasses import dataclass

import numpy as np

from probewright.machine.kinds import Companion, Draft, Kind, Parameter, Strain, Values, assumed, last_control, register
from probewright.machine.kinds.saturating import UNDECIDED, freed, held_across, levelled, one_way
from probewright.machine.model import Figure

SUPPLY = 5.0  # V: the supply at which families are compared
WIDTH = 0.05  # chosen, V: how far an input moves its gate from one level to the other
TAKING = 0.05  # chosen, V: how far an input of TTL rises from taking its current to taking none
LETS_GO = 1.35  # V: where an open TTL input stops giving current; it then reads 1.1 to 1.8 V, trade practice
FREE = 0.5  # chosen: where the output is taken while the inputs decide, so that it follows them
KNEE_VOLTS = 0.04  # chosen: how softly an output that only pulls up lets go, near that of its transistor
AT_THE_MIDDLE = 0.25  # chosen, V: how far the output moves a Schmitt gate from one threshold to the other
LEAK_OHMS = 1e10  # chosen: an input of CMOS takes next to nothing; it leaks to the lower supply


@dataclass(frozen=True)
class Family:
    """How the outputs and inputs of one family behave at 5 V.

    low, high: input limits VIL and VIH, V; drop_low, drop_high: output from its supply when it
    carries next to nothing, V; ohms_low, ohms_high; limit: most amps; takes: amps an input gives at low;
    supply: amps of a gate; follows: thresholds move with the supply; two_way: a high output also
    pulls down what is above it.
    """

    meaning: str
    low: float
    high: float
    drop_low: float
    drop_high: float
    ohms_low: float
    ohms_high: float
    limit: float
    takes: float
    supply: float
    follows: bool
    two_way: bool


# Limits VIL, VIH and what the outputs must hold under load (VOL at IOL, VOH at IOH): TTL, second source 7413
# data sheet; LS, Texas Instruments SDLS025B; HCT, CD74HCT08 data sheet; HC, JEDEC JESD7A; 4000B, JEDEC
# JESD13-B; NMOS, data sheets of 8-bit processors. The typical figures between them, from memory of the same
# data sheets: VOL 0.2 V at 16 mA (TTL), 0.25 V at 4 mA and 0.35 V at 8 mA (LS); VOH 3.4 V at 0.4 mA (both); 0.17 V
# at 4 mA (HC); 1 mA at 0.4 V (4000B).
FAMILIES = {
    "hc": Family("fast CMOS", 1.5, 3.5, 0.0, 0.0, 45.0, 70.0, 40e-3, 0.0, 1e-6, True, True),
    "hct": Family("fast CMOS, TTL inputs", 0.8, 2.0, 0.0, 0.0, 45.0, 70.0, 40e-3, 0.0, 1e-6, False, True),
    "ls": Family("low-power Schottky TTL", 0.8, 2.0, 0.15, 1.5, 25.0, 120.0, 60e-3, 0.2e-3, 0.6e-3, False, False),
    "ttl": Family("standard TTL", 0.8, 2.0, 0.05, 1.5, 10.0, 130.0, 60e-3, 1.0e-3, 2e-3, False, False),
    "4000b": Family("4000 series CMOS", 1.5, 3.5, 0.0, 0.0, 400.0, 400.0, 4e-3, 0.0, 1e-7, True, True),
    "nmos": Family("NMOS of 8-bit processors", 0.8, 2.0, 0.05, 1.2, 120.0, 2e3, 15e-3, 0.0, 5e-3, False, False),
}


def of_family(field: str, unit: str, spread: float):
    """Default that reads one column of FAMILIES."""

    def default(draft: Draft) -> Figure:
        family = draft.classes[0]
        value = float(getattr(FAMILIES[family], field))
        if not spread:
            return assumed(value, unit, f"{family} logic")
        return assumed(value, unit, f"{family} logic, data sheets", law="tolerance", spread=spread)

    return default


def threshold(hysteresis: float):
    """Default: anywhere between the two limits of the family, for no more is promised; both of a Schmitt gate's."""

    def default(draft: Draft) -> Figure:
        family = FAMILIES[draft.classes[0]]
        low, high = family.low + 0.5 * hysteresis, family.high - 0.5 * hysteresis
        reason = f"{draft.classes[0]} logic, between VIL and VIH at 5 V"
        return assumed(0.5 * (low + high), "V", reason, law="range", low=low, high=high)

    return default


def product(chances, slopes):
    """Product of all, and its slope by each, times the slope of that one."""
    whole = 1.0
    for one in chances:
        whole = whole * one
    by = []
    for n, slope in enumerate(slopes):
        rest = slope
        for m, other in enumerate(chances):
            rest = rest if m == n else rest * other
        by.append(rest)
    return whole, by


def all_high(p, dp):
    """AND: every input is high."""
    return product(p, dp)


def any_high(p, dp):
    """OR: not every input is low."""
    none, by = product([1.0 - one for one in p], dp)
    return 1.0 - none, by


def odd_high(p, dp):
    """Exclusive OR: an odd number is high."""
    whole, by = product([1.0 - 2.0 * one for one in p], dp)
    return 0.5 * (1.0 - whole), by


def inverted(rule):
    """The same rule turned over."""

    def opposite(p, dp):
        found, by = rule(p, dp)
        return 1.0 - found, [-one for one in by]

    return opposite


def gate_law(inputs: tuple[str, ...], rule, hysteresis: float = 0.0):
    """Law of a gate whose output is high with the chance that `rule` makes of its inputs.

    i_high = h limit f((v+ - drop - v_out) / (r limit)) and the like for low; h from 0 to 1. hysteresis, V at 5 V:
    the threshold lies by half of it above the middle where the output is high, below where it is low (an inverter).
    """
    count = len(inputs)
    out_at, high_at, low_at = count, count + 1, count + 2

    def law(v, p: Values, memory) -> Companion:
        out, top, bottom = v[out_at], v[high_at], v[low_at]
        supply = top - bottom
        # every control is taken where it is held, then each straight line is drawn from there
        at_fed, held = held_across(supply, last_control(memory, "fed"))
        kept: dict[str, object] = {"fed": at_fed}
        fed, fed_slope = levelled(at_fed)
        alive, by_alive = fed * fed, 2.0 * fed * fed_slope
        scale = 1.0 + p["follows"] * (supply / SUPPLY - 1.0)
        swing, swing_slope = levelled((out - 0.5 * (top + bottom)) / AT_THE_MIDDLE)
        at_supply = p["threshold"] + 0.5 * hysteresis * swing
        bend = 0.5 * hysteresis * swing_slope / AT_THE_MIDDLE * scale  # d threshold / d out

        chances, slopes, left = [], [], []
        for n, pin in enumerate(inputs):
            control = (v[n] - bottom - at_supply * scale) / WIDTH
            at, jumped = held_across(control, last_control(memory, pin, rest=UNDECIDED))
            flat, steep = levelled(at)
            lost = p[f"{pin}_lost"]
            chances.append(0.5 * (1.0 + (1.0 - lost) * flat + lost * p[f"{pin}_drifts"]))
            slopes.append((1.0 - lost) * 0.5 * steep / WIDTH)
            left.append((control - at) * WIDTH)
            kept[pin] = at
            held = held | jumped
        found, by_input = rule(chances, slopes)
        is_stuck = np.abs(p["stuck"])
        high = (1.0 - is_stuck) * found + 0.5 * (is_stuck + p["stuck"])
        by_input = [(1.0 - is_stuck) * one for one in by_input]

        reach = p["ohms_high"] * p["limit"]
        push = (top - p["drop_high"] - out) / reach
        at_up, held_up = held_across(push, last_control(memory, "up", rest=UNDECIDED))
        at_up = freed(at_up, held, memory, "up", middle=FREE)
        only, only_steep = one_way(at_up, KNEE_VOLTS / reach)
        both, both_steep = levelled(at_up)
        up = p["limit"] * (p["two_way"] * both + (1.0 - p["two_way"]) * only)
        g_up = (p["two_way"] * both_steep + (1.0 - p["two_way"]) * only_steep) / p["ohms_high"]
        pull = (out - bottom - p["drop_low"]) / (p["ohms_low"] * p["limit"])
        at_down, held_down = held_across(pull, last_control(memory, "down", rest=UNDECIDED))
        at_down = freed(at_down, held, memory, "down", middle=FREE)
        down, down_steep = levelled(at_down)
        down, g_down = p["limit"] * down, down_steep / p["ohms_low"]
        kept.update(up=at_up, down=at_down)

        # through the upper and the lower transistor, and how each moves with what
        upper, lower = high * alive * up, (1.0 - high) * alive * down
        upper_fed, lower_fed = high * by_alive * up, (1.0 - high) * by_alive * down
        g_up, g_down = high * alive * g_up, (1.0 - high) * alive * g_down
        upper = upper + g_up * reach * (push - at_up) + upper_fed * (supply - at_fed)
        lower = lower + g_down * p["ohms_low"] * p["limit"] * (pull - at_down) + lower_fed * (supply - at_fed)
        rise_upper = {"out": -g_up, "vplus": g_up + upper_fed, "vminus": -upper_fed}
        rise_lower = {"out": g_down, "vplus": lower_fed, "vminus": -g_down - lower_fed}
        turn = 0.0
        for pin, one, rest in zip(inputs, by_input, left, strict=True):
            rise_upper[pin], rise_lower[pin] = one * alive * up, -one * alive * down
            upper, lower = upper + one * alive * up * rest, lower - one * alive * down * rest
            turn = turn + one
        # the threshold moves with the supply, and with the output of a Schmitt gate
        rail = turn * at_supply * p["follows"] / SUPPLY
        for pin, one in (
            ("vplus", -rail + 0.5 * turn * bend),
            ("vminus", -turn + rail + 0.5 * turn * bend),
            ("out", -turn * bend),
        ):
            rise_upper[pin] = rise_upper[pin] + one * alive * up
            rise_lower[pin] = rise_lower[pin] - one * alive * down

        quiet_slope = p["supply_current"] * fed_slope
        quiet = p["supply_current"] * fed + quiet_slope * (supply - at_fed)
        drawn = {"out": lower - upper, "vplus": upper + quiet, "vminus": -lower - quiet}
        slope = {}
        for pin in ("out", "vplus", "vminus", *inputs):
            slope["out", pin] = rise_lower[pin] - rise_upper[pin]
            slope["vplus", pin] = rise_upper[pin]
            slope["vminus", pin] = -rise_lower[pin]
        slope["vplus", "vplus"] = slope["vplus", "vplus"] + quiet_slope
        slope["vplus", "vminus"] = slope["vplus", "vminus"] - quiet_slope
        slope["vminus", "vplus"] = slope["vminus", "vplus"] - quiet_slope
        slope["vminus", "vminus"] = slope["vminus", "vminus"] + quiet_slope
        # a TTL input gives its current as long as it is low and fed
        leak = 1.0 / LEAK_OHMS
        for n, pin in enumerate(inputs):
            control = (v[n] - bottom - LETS_GO) / TAKING
            at, jumped = held_across(control, last_control(memory, f"{pin} takes", rest=UNDECIDED))
            kept[f"{pin} takes"] = at
            held = held | (jumped & (p["takes"] > 0.0))
            flat, steep = levelled(at)
            whole = (1.0 - p[f"{pin}_lost"]) * p["takes"]
            gives, falls = 0.5 * whole * (1.0 - flat), 0.5 * whole * alive * steep / TAKING
            by_supply = gives * by_alive
            gives = gives * alive - falls * TAKING * (control - at) + by_supply * (supply - at_fed)
            drawn[pin] = leak * (v[n] - bottom) - gives
            drawn["vplus"] = drawn["vplus"] + gives
            drawn["vminus"] = drawn["vminus"] - leak * (v[n] - bottom)
            slope[pin, pin] = leak + falls
            slope[pin, "vminus"] = by_supply - leak - falls
            slope[pin, "vplus"] = -by_supply
            slope["vplus", pin] = slope["vplus", pin] - falls
            slope["vplus", "vminus"] = slope["vplus", "vminus"] + falls - by_supply
            slope["vplus", "vplus"] = slope["vplus", "vplus"] + by_supply
            slope["vminus", pin] = slope["vminus", pin] - leak
            slope["vminus", "vminus"] = slope["vminus", "vminus"] + leak
        return Companion(drawn, slope, kept, held | held_up | held_down)

    return law


def figures(inputs: tuple[str, ...], hysteresis: float) -> tuple[Parameter, ...]:
    """Every figure of a gate with these inputs."""
    sound = assumed(0.0, "1", "not broken")
    return (
        Parameter("threshold", "V", word="threshold", default=threshold(hysteresis), low=0.3, high=10.0, spread=0.1),
        Parameter(
            "ohms_low",
            "ohm",
            word="output low",
            default=of_family("ohms_low", "ohm", 0.4),
            low=1.0,
            high=1e5,
            spread=0.4,
        ),
        Parameter(
            "ohms_high",
            "ohm",
            word="output high",
            default=of_family("ohms_high", "ohm", 0.4),
            low=1.0,
            high=1e5,
            spread=0.4,
        ),
        Parameter(
            "drop_low", "V", word="drop low", default=of_family("drop_low", "V", 0.3), low=0.0, high=3.0, spread=0.3
        ),
        Parameter(
            "drop_high",
            "V",
            word="drop high",
            default=of_family("drop_high", "V", 0.15),
            low=0.0,
            high=3.0,
            spread=0.15,
        ),
        Parameter("limit", "A", word="limit", default=of_family("limit", "A", 0.3), low=1e-5, high=1.0, spread=0.3),
        Parameter("takes", "A", word="input", default=of_family("takes", "A", 0.4), low=0.0, high=0.01, spread=0.4),
        Parameter(
            "supply_current", "A", word="supply", default=of_family("supply", "A", 0.5), low=1e-9, high=0.5, spread=0.5
        ),
        Parameter("follows", "1", word="-", default=of_family("follows", "1", 0.0)),
        Parameter("two_way", "1", word="-", default=of_family("two_way", "1", 0.0)),
        Parameter("stuck", "1", word="-", default=assumed(0.0, "1", "not stuck")),  # 1: high, -1: low
        # an input whose bond is open hears -1, low, to 1, high
        *(Parameter(f"{pin}_lost", "1", word="-", default=sound) for pin in inputs),
        *(
            Parameter(f"{pin}_drifts", "1", word="-", default=assumed(1.0, "1", "an open input of TTL is high"))
            for pin in inputs
        ),
    )


def gate(name: str, symbol: str, inputs: tuple[str, ...], rule, *synonyms: str, hysteresis: float = 0.0) -> None:
    """Register one gate."""
    register(
        Kind(
            name=name,
            synonyms=synonyms,
            pins=(*inputs, "out", "vplus", "vminus"),
            aliases={
                "vcc": "vplus",
                "vdd": "vplus",
                "v+": "vplus",
                "gnd": "vminus",
                "vss": "vminus",
                "vee": "vminus",
                "v-": "vminus",
                "y": "out",
                "q": "out",
                **({"a": "in"} if inputs == ("in",) else {}),
            },
            units_share=("vplus", "vminus"),
            parameters=figures(inputs, hysteresis),
            classes={family: row.meaning for family, row in FAMILIES.items()},
            default_class="ls",
            strains=(Strain("supply volts", ("vplus", "vminus")),),
            symbol=symbol,
            inputs=inputs,
            nonlinear=gate_law(inputs, rule, hysteresis),
        )
    )


ONE, TWO, THREE, FOUR = ("in",), ("a", "b"), ("a", "b", "c"), ("a", "b", "c", "d")
gate("buffer", "buffer", ONE, all_high)
gate("inverter", "inverter", ONE, inverted(all_high), "not")
# 0.8 to 0.9 V between the thresholds at 5 V, TTL and CMOS alike (data sheets, from memory)
gate("schmitt", "Schmitt inverter", ONE, inverted(all_high), "schmitt inverter", hysteresis=0.8)
for way, rule, sign in (("and", all_high, "AND"), ("or", any_high, "OR")):
    gate(way, f"{sign} gate", TWO, rule, f"{way} gate")
    gate(f"n{way}", f"N{sign} gate", TWO, inverted(rule), f"n{way} gate")
gate("xor", "XOR gate", TWO, odd_high, "xor gate", "exor")
for word, inputs in (("3", THREE), ("4", FOUR)):
    gate(f"nand{word}", "NAND gate", inputs, inverted(all_high), f"{word}-input nand")
    gate(f"nor{word}", "NOR gate", inputs, inverted(any_high), f"{word}-input nor")
