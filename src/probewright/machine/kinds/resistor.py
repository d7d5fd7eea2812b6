"""Resistor: Ohm's law."""

from probewright.machine.kinds import Kind, Parameter, Strain, register
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
        strains=(Strain("volts", ("1", "2"), either=True),),
        symbol="resistor",
        linear=ohm,
    )
)
