"""Jack: a spring that lies on its break contact until a plug lifts it off."""

from probewright.machine.kinds import Draft, Kind, Parameter, Values, assumed, register
from probewright.machine.model import Figure

OPEN_OHMS = 1e9  # chosen: as an open switch


def plugged(draft: Draft) -> Figure:
    """Whether a plug rests in it."""
    return Figure(float("plugged" in draft.classes), "1")


def springs(p: Values):
    """With a plug: tip to plug. Without: tip to rest, the break contact."""
    inside = p["plugged"]
    gone = 1.0 / OPEN_OHMS
    return [
        ("tip", "plug", "tip", "plug", inside / (p["resistance"] + p["make"]) + (1.0 - inside) * gone),
        ("tip", "rest", "tip", "rest", (1.0 - inside) / (p["resistance"] + p["break"]) + inside * gone),
    ]


register(
    Kind(
        name="jack",
        pins=("tip", "rest", "plug"),
        optional_pins={"rest": "nc", "plug": "nc"},
        aliases={"break": "rest", "switch": "rest"},
        parameters=(
            Parameter(
                "resistance",
                "ohm",
                low=1e-4,
                high=100.0,
                spread=0.5,
                default=assumed(
                    0.03,
                    "ohm",
                    "a clean spring, as a switch contact, common practice, no source",
                    law="tolerance",
                    spread=0.5,
                ),
            ),
            Parameter("plugged", "1", word="-", default=plugged),
            Parameter("make", "ohm", word="-", default=assumed(0.0, "ohm", "a clean plug")),
            Parameter("break", "ohm", word="-", default=assumed(0.0, "ohm", "a clean break contact")),
        ),
        classes={"empty": "rests without a plug", "plugged": "rests with a plug in"},
        default_class="empty",
        tame=True,
        across=(("tip", "rest"),),
        symbol="jack with break contact",
        linear=springs,
        settings={"plugged": ("plugged", 1.0), "empty": ("plugged", 0.0)},
        unplugged={"plugged": 0.0},
    )
)
