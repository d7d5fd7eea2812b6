"""Resistor: Ohm's law."""

from probewright.machine.kinds import Kind, Parameter, register
from probewright.machine.kinds.ohms import ohm

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
        tame=True,
        symbol="resistor",
        linear=ohm,
    )
)
