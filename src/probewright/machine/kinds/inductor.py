"""Inductor: its wire at rest, and its inductance for a signal."""

from probewright.machine.kinds import Kind, Parameter, Values, assumed, register


def wound(p: Values, omega: float):
    """Y = 1 / (R + j w L)."""
    if omega == 0.0:
        return [("1", "2", "1", "2", 1.0 / p["resistance"])]
    return [("1", "2", "1", "2", 1.0 / (p["resistance"] + 1j * omega * p["inductance"]))]


register(
    Kind(
        name="inductor",
        synonyms=("coil", "choke", "winding"),
        pins=("1", "2"),
        parameters=(
            Parameter("inductance", "H", low=1e-8, high=100.0, spread=0.2),
            Parameter(
                "resistance",
                "ohm",
                low=1e-3,
                high=1e4,
                spread=0.2,
                default=assumed(
                    1.4,
                    "ohm",
                    "anywhere from a thick wire to a small choke, chosen, no source",
                    law="range",
                    low=0.02,
                    high=100.0,
                ),
            ),
        ),
        symbol="inductor",
        linear=wound,
    )
)
