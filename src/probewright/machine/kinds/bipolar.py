"""NPN and PNP: transport between collector and emitter, two junctions at the base."""

from probewright.machine.kinds import Companion, Draft, Kind, Parameter, Strain, Values, assumed, last_control, register
from probewright.machine.kinds.junctions import held_junction, junction
from probewright.machine.model import Figure

# class -> (saturation current A, gain low, gain high): 0.65 V at 1 mA small, 0.6 V at 50 mA power.
# From memory of data sheets.
CLASSES = {"small-signal": (1e-14, 100.0, 400.0), "medium": (5e-14, 60.0, 250.0), "power": (1e-11, 25.0, 150.0)}


def saturation(draft: Draft) -> Figure:
    """Saturation current of the class."""
    return assumed(
        CLASSES[draft.classes[0]][0], "A", f"{draft.classes[0]} transistor, from memory", law="tolerance", spread=0.5
    )


def gain(draft: Draft) -> Figure:
    """Current gain of the class, anywhere in its usual range."""
    _, low, high = CLASSES[draft.classes[0]]
    return assumed(
        (low * high) ** 0.5, "1", f"{draft.classes[0]} transistor, from memory", law="range", low=low, high=high
    )


def ebers_moll(sign: float):
    """Transport form of Ebers and Moll (Proc. IRE 42, 1954); sign -1 turns every volt and amp over."""

    def law(v, p: Values, memory) -> Companion:
        vbe, vbc = sign * (v[1] - v[2]), sign * (v[1] - v[0])
        t, f, r = p["transport"], p["base_emitter"] / p["gain"], p["base_collector"] / p["reverse_gain"]
        be, held_be = held_junction(vbe, last_control(memory, "be"), p["saturation"], 1.0, t + f > 0.0)
        bc, held_bc = held_junction(vbc, last_control(memory, "bc"), p["saturation"], 1.0, t + r > 0.0)
        forward, gf = junction(be, p["saturation"], 1.0)
        reverse, gr = junction(bc, p["saturation"], 1.0)
        # straight lines through the held points
        forward, reverse = forward + gf * (vbe - be), reverse + gr * (vbc - bc)
        collector = sign * (t * (forward - reverse) - r * reverse)
        base = sign * (f * forward + r * reverse)
        c_be, c_bc = t * gf, -(t + r) * gr  # d ic / d vbe, d ic / d vbc
        b_be, b_bc = f * gf, r * gr
        slope = {
            ("c", "b"): c_be + c_bc,
            ("c", "e"): -c_be,
            ("c", "c"): -c_bc,
            ("b", "b"): b_be + b_bc,
            ("b", "e"): -b_be,
            ("b", "c"): -b_bc,
        }
        for pin in "bce":
            slope["e", pin] = -slope["c", pin] - slope["b", pin]
        return Companion(
            {"c": collector, "b": base, "e": -collector - base}, slope, {"be": be, "bc": bc}, held_be | held_bc
        )

    return law


def transistor(name: str, sign: float, symbol: str) -> None:
    """Register one polarity."""
    whole = assumed(1.0, "1", "an unbroken bond")
    register(
        Kind(
            name=name,
            pins=("c", "b", "e"),
            aliases={"collector": "c", "base": "b", "emitter": "e"},
            parameters=(
                Parameter("gain", "1", word="gain", default=gain, low=2.0, high=2000.0, spread=0.3),
                Parameter("saturation", "A", word="saturation", default=saturation, low=1e-18, high=1e-6, spread=0.5),
                Parameter(
                    "reverse_gain",
                    "1",
                    word="reverse gain",
                    low=0.05,
                    high=50.0,
                    default=assumed(1.0, "1", "usual order of size, from memory"),
                ),
                # the three currents of the model: an open bond takes away those that need it
                Parameter("transport", "1", word="-", default=whole),
                Parameter("base_emitter", "1", word="-", default=whole),
                Parameter("base_collector", "1", word="-", default=whole),
            ),
            classes={"small-signal": "up to 0.2 A", "medium": "up to 1 A", "power": "bolted down"},
            default_class="small-signal",
            junctions=(("b", "e"), ("b", "c")) if sign > 0.0 else (("e", "b"), ("c", "b")),
            tame=True,
            strains=(
                Strain("volts", ("c", "e") if sign > 0.0 else ("e", "c")),
                Strain("amps", ("c",) if sign > 0.0 else ("e",)),
                Strain("base reverse volts", ("e", "b") if sign > 0.0 else ("b", "e")),
            ),
            symbol=symbol,
            inputs=("b",),
            nonlinear=ebers_moll(sign),
        )
    )


transistor("npn", 1.0, "NPN transistor")
transistor("pnp", -1.0, "PNP transistor")
