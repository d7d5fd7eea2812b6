"""Crystal: nothing at rest; its case and plates are a small capacitance."""

from probewright.machine.kinds import Kind, Parameter, Store, Values, assumed, register

LEAK_OHMS = 5e8  # insulation of a sound crystal, at least 500 Mohm in data sheets, from memory


def insulation(p: Values):
    """At rest there is the leak alone."""
    return [("1", "2", "1", "2", 1.0 / LEAK_OHMS)]


def plates(p: Values) -> Store:
    """U = W, dW/dt = I / C. Its own resonance is not computed."""
    return Store((("1", "2"),), (0.0,), per_farad=(1.0 / p["capacitance"],))


register(
    Kind(
        name="crystal",
        synonyms=("resonator",),
        pins=("1", "2"),
        parameters=(
            Parameter("frequency", "Hz", low=1e4, high=2e8),
            Parameter(
                "capacitance",
                "F",
                low=5e-13,
                high=1e-9,
                spread=0.3,
                default=assumed(5e-12, "F", "plates and case, from memory", law="tolerance", spread=0.3),
            ),
        ),
        symbol="crystal",
        linear=insulation,
        storing=plates,
    )
)
