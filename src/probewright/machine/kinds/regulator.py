"""Fixed three-terminal regulator: holds its voltage until drop-out or its current limit."""

from probewright.machine.kinds import Kind, Parameter, Strain, assumed, register
from probewright.machine.kinds.regulating import drop, limit, output, regulate

register(
    Kind(
        name="regulator",
        synonyms=("positive regulator", "regulator positive"),
        pins=("in", "out", "com"),
        holds="out",
        aliases={"gnd": "com", "common": "com", "1": "in", "2": "com", "3": "out"},
        order=("in", "com", "out"),
        parameters=(
            Parameter("volts", "V", low=1.0, high=60.0, spread=0.04),
            drop(2.0, "fixed regulator data sheets: 2 V typical at 1 A"),
            limit(1.5, "1 A class, from memory"),
            output(0.02, "1 A class: 17 mohm at 1 kHz, from memory"),
            Parameter(
                "quiescent",
                "A",
                word="quiescent",
                low=1e-6,
                high=0.1,
                spread=0.4,
                default=assumed(5e-3, "A", "fixed regulator data sheets: 4 to 8 mA"),
            ),
        ),
        classes={"fixed": "positive fixed voltage"},
        default_class="fixed",
        stress_units=("W", "°C"),
        strains=(Strain("input volts", ("in", "com")),),
        symbol="voltage regulator",
        nonlinear=regulate,
    )
)
