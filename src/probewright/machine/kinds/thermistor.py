"""Thermistor: a resistance that falls as it gets warm."""

import numpy as np

from probewright.machine.kinds import Kind, Parameter, Values, assumed, register

ICE = 273.15  # K at 0 C, by definition
MARKED = 25.0  # C at which the resistance is marked, IEC 60539-1, from memory


def beta_law(p: Values):
    """R = R25 exp(B (1/T - 1/T25)), temperatures in K."""
    warm = p["beta"] * (1.0 / (p["temperature"] + ICE) - 1.0 / (MARKED + ICE))
    return [("1", "2", "1", "2", 1.0 / (p["resistance"] * np.exp(warm)))]


register(
    Kind(
        name="thermistor",
        synonyms=("ntc",),
        pins=("1", "2"),
        parameters=(
            Parameter("resistance", "ohm", low=0.5, high=10e6, spread=0.1),
            Parameter(
                "beta",
                "1",
                word="beta",
                low=1000.0,
                high=6000.0,
                spread=0.05,
                default=assumed(
                    3800.0, "1", "common mixtures, 3400 to 4200 K, from memory", law="tolerance", spread=0.1
                ),
            ),
            Parameter(
                "temperature",
                "°C",
                word="at",
                low=-40.0,
                high=150.0,
                law="offset",
                default=assumed(23.0, "°C", "a room", law="offset", spread=5.0),
            ),
        ),
        stress_units=("V", "W", "A"),
        tame=True,
        symbol="thermistor",
        linear=beta_law,
        dial="temperature",
    )
)
