"""Resistor network: equal resistors in one case, one end of each on a common pin."""

from probewright.machine.kinds import Kind, Parameter, Values, assumed, register

MOST = 9  # the longest case in a row of ten pins
ENDS = tuple(str(n) for n in range(1, MOST + 1))


def star(p: Values):
    """Ohm's law from the common pin to every other."""
    return [("com", end, "com", end, 1.0 / (p["resistance"] * p[f"whole{end}"])) for end in ENDS]


register(
    Kind(
        name="network",
        synonyms=("resistor-network", "array"),
        pins=("com", *ENDS),
        optional_pins=dict.fromkeys(ENDS, "nc"),
        aliases={"common": "com"},
        parameters=(
            Parameter("resistance", "ohm", low=10.0, high=10e6, spread=0.05),
            *(Parameter(f"whole{end}", "1", word="-", default=assumed(1.0, "1", "unbroken")) for end in ENDS),
        ),
        tame=True,
        across=tuple(("com", end) for end in ENDS),
        symbol="resistor network",
        linear=star,
    )
)
