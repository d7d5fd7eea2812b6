"""Load: whatever hangs on an output, taken as a resistance."""

from probewright.machine.kinds import Kind, Parameter, register
from probewright.machine.kinds.ohms import ohm

register(
    Kind(
        name="load",
        synonyms=("motor",),
        pins=("1", "2"),
        parameters=(Parameter("resistance", "ohm", low=0.01, high=100e6, spread=0.1),),
        symbol="load",
        linear=ohm,
        hangs=True,
    )
)
