"""Transformer: windings that share nothing at rest and all but a little of their field for a signal."""

import numpy as np

from probewright.machine.kinds import Draft, Kind, Parameter, Store, Values, assumed, register
from probewright.machine.model import Figure

WINDINGS = (("p1", "p2"), ("s1", "tap"), ("tap", "s2"))
# class -> ohms of the primary, of the secondary (low, high), henry of the primary. From memory: small mains
# transformers of 1 to 50 VA; driver and output transformers of transistor radios.
CLASSES = {"mains": ((10.0, 2000.0), (0.1, 50.0)), "audio": ((5.0, 1000.0), (0.1, 300.0))}
HENRY = {"mains": 10.0, "audio": 1.0}


def ohms_of(which: int):
    """Assumed resistance of the primary (0) or of the whole secondary (1)."""

    def default(draft: Draft) -> Figure:
        low, high = CLASSES[draft.classes[0]][which]
        return assumed(
            (low * high) ** 0.5,
            "ohm",
            f"small {draft.classes[0]} transformer, from memory",
            law="range",
            low=low,
            high=high,
        )

    return default


def henry(draft: Draft) -> Figure:
    """Assumed inductance of the primary."""
    return assumed(HENRY[draft.classes[0]], "H", f"small {draft.classes[0]} transformer, from memory")


def wound(p: Values) -> Store:
    """U = R I + M dI/dt with M = k sqrt(L L'), k^2 = 1 - leakage.

    Each half of the secondary has half the turns, and both halves lie in one field.
    """
    half = p["inductance"] / (2.0 * p["ratio"]) ** 2
    over = np.sqrt(1.0 - p["leakage"]) * p["inductance"] / (2.0 * p["ratio"])
    two = 0.5 * p["secondary"]
    fields = ((p["inductance"], over, over), (over, half, half), (over, half, half))
    return Store(WINDINGS, (p["primary"], two * p["upper"], two * p["lower"]), henry=fields)


WHOLE = assumed(1.0, "1", "an unbroken winding")

register(
    Kind(
        name="transformer",
        pins=("p1", "p2", "s1", "s2", "tap"),
        optional_pins={"tap": "nc"},
        parameters=(
            Parameter("ratio", "1", word="ratio", low=0.01, high=1000.0, spread=0.05),
            Parameter("primary", "ohm", word="primary", low=0.01, high=1e5, spread=0.2, default=ohms_of(0)),
            Parameter("secondary", "ohm", word="secondary", low=0.001, high=1e5, spread=0.2, default=ohms_of(1)),
            Parameter("inductance", "H", word="inductance", low=1e-6, high=1e3, spread=0.5, default=henry),
            Parameter(
                "leakage",
                "%",
                word="leakage",
                low=1e-4,
                high=1.0,
                default=assumed(0.02, "%", "windings on one core, from memory"),
            ),
            Parameter("upper", "1", word="-", default=WHOLE),
            Parameter("lower", "1", word="-", default=WHOLE),
        ),
        classes={"mains": "from the mains to the rectifier", "audio": "driver, output or line transformer"},
        default_class="mains",
        across=(*WINDINGS, ("s1", "s2")),
        symbol="transformer",
        storing=wound,
    )
)
