"""Resistor: Ohm's law."""

from probewright.machine.kinds import Kind, Parameter, Values, register


def ohm(p: Values, omega: float):
    """i = v / R."""
    return [("1", "2", "1", "2", 1.0 / p["resistance"])]


register(
    Kind(
        name="resistor",
        synonyms=("res",),
        pins=("1", "2"),
        parameters=(Parameter("resistance", "ohm", low=0.01, high=100e6, spread=0.05),),
        classes={
            "film": "small film resistor",
            "carbon": "carbon composition",
            "hot": "power, fusible or multi-megohm",
        },
        default_class="film",
        symbol="resistor",
        linear=ohm,
    )
)
