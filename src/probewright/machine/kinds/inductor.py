"""Inductor: its wire at rest, and its inductance for a signal."""

from probewright.machine.kinds import Kind, Parameter, Store, Values, assumed, register


def wound(p: Values) -> Store:
    """U = R I + L dI/dt."""
    return Store((("1", "2"),), (p["resistance"],), henry=((p["inductance"],),))


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
        storing=wound,
    )
)
