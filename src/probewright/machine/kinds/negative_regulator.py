"""Fixed negative regulator: the law of the positive one turned over."""

from probewright.machine.kinds import Kind, Parameter, Strain, assumed, register
from probewright.machine.kinds.regulating import drop, limit, output, regulate, turned

SHEETS = "negative fixed regulator data sheets, from memory"

register(
    Kind(
        name="negative-regulator",
        synonyms=("negative regulator", "regulator negative"),
        pins=("in", "out", "com"),
        holds="out",
        aliases={"gnd": "com", "common": "com", "1": "com", "2": "in", "3": "out"},
        order=("com", "in", "out"),
        parameters=(
            Parameter("volts", "V", low=1.0, high=60.0, spread=0.04, turns=True),  # 12V and -12V are the same part
            drop(1.1, f"1.1 V typical: {SHEETS}"),
            limit(1.5, "1 A class, from memory"),
            output(0.02, "1 A class, from memory"),
            Parameter(
                "quiescent",
                "A",
                word="quiescent",
                low=1e-6,
                high=0.1,
                spread=0.5,
                default=assumed(1e-3, "A", f"1 mA typical, 2 mA at most: {SHEETS}"),
            ),
        ),
        stress_units=("W", "°C"),
        strains=(Strain("input volts", ("com", "in")),),
        symbol="voltage regulator",
        nonlinear=turned(regulate),
    )
)
