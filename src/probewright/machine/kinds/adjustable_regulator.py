"""Adjustable regulators: a fixed reference between output and adjusting pin, positive or negative."""

from probewright.machine.kinds import Kind, Parameter, Strain, assumed, register
from probewright.machine.kinds.regulating import drop, limit, output, regulate_adjustable, turned

REFERENCE = "1.2 to 1.3 V in the data sheets of adjustable regulators"


def adjustable(
    name: str, law, numbers: dict[str, str], order: tuple[str, ...], adj_amps: float, *synonyms: str
) -> None:
    """Register one polarity. adj_amps: current of the adjusting pin, at most twice that."""
    register(
        Kind(
            name=name,
            synonyms=synonyms,
            pins=("in", "out", "com"),
            holds="out",
            aliases={"adj": "com", "adjust": "com", **numbers},
            order=order,
            parameters=(
                Parameter(
                    "volts",
                    "V",
                    word="reference",
                    low=0.5,
                    high=10.0,
                    spread=0.04,
                    turns=True,
                    default=assumed(1.25, "V", REFERENCE, law="tolerance", spread=0.04),
                ),
                drop(2.0, "1.8 V at 0.5 A, 2.5 V at 1.5 A: drop-out curves, from memory"),
                limit(2.2, "1.5 to 3.4 A in the data sheets of adjustable regulators", law="tolerance", spread=0.35),
                output(1e-3, "load regulation of 0.1 % of the reference over 1.5 A, from memory"),
                Parameter(
                    "quiescent",
                    "A",
                    word="adjust",
                    low=1e-7,
                    high=1e-2,
                    spread=0.5,
                    default=assumed(
                        adj_amps,
                        "A",
                        "data sheets of adjustable regulators, 100 uA at most",
                        law="tolerance",
                        spread=0.5,
                    ),
                ),
                Parameter(
                    "idle",
                    "A",
                    word="least",
                    low=1e-5,
                    high=0.05,
                    spread=0.5,
                    default=assumed(
                        1.5e-3,
                        "A",
                        "least load: 3.5 mA typical at 40 V across, less at usual volts, from memory",
                        law="range",
                        low=0.5e-3,
                        high=3.5e-3,
                    ),
                ),
            ),
            stress_units=("W", "°C"),
            strains=(Strain("across volts", ("in", "out"), either=True),),
            symbol="voltage regulator",
            nonlinear=law,
        )
    )


adjustable(
    "adjustable-regulator",
    regulate_adjustable,
    {"1": "com", "2": "out", "3": "in"},
    ("com", "out", "in"),
    50e-6,
    "adjustable regulator",
    "regulator adjustable",
)
adjustable(
    "negative-adjustable-regulator",
    turned(regulate_adjustable),
    {"1": "com", "2": "in", "3": "out"},
    ("com", "in", "out"),
    65e-6,
    "negative adjustable regulator",
    "adjustable negative regulator",
    "regulator negative adjustable",
    "regulator adjustable negative",
)
