"""Block: a part known only from outside: gain, input and output resistance."""

from probewright.machine.kinds import Kind, Parameter, Values, assumed, register


def black_box(p: Values, omega: float):
    """Output = gain x input, behind the output resistance; the input takes a little."""
    g_in, g_out = 1.0 / p["input"], 1.0 / p["output"]
    return [
        ("in", "com", "in", "com", g_in),
        ("out", "com", "out", "com", g_out),
        ("com", "out", "in", "com", p["gain"] * g_out),
    ]


register(
    Kind(
        name="block",
        pins=("in", "out", "com"),
        optional_pins={"com": "GND"},
        parameters=(
            Parameter(
                "gain", "1", word="gain", low=0.01, high=1000.0, spread=0.1, default=assumed(1.0, "1", "no gain typed")
            ),
            Parameter(
                "input",
                "ohm",
                word="input",
                low=100.0,
                high=1e9,
                spread=0.3,
                default=assumed(1e6, "ohm", "no input resistance typed"),
            ),
            Parameter(
                "output",
                "ohm",
                word="output",
                low=0.1,
                high=1e5,
                spread=0.3,
                default=assumed(100.0, "ohm", "no output resistance typed"),
            ),
        ),
        symbol="block",
        linear=black_box,
    )
)
