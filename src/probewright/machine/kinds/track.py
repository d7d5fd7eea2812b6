"""Track and wire: copper whose resistance is known, a row of pads with a segment between neighbours."""

from probewright.machine.kinds import Kind, Parameter, assumed, register
from probewright.machine.kinds.ohms import ohm


def copper(name: str, ohms: float, reason: str, **more) -> None:
    """Register one; `A > B > C` makes a segment of its own between each two."""
    register(
        Kind(
            name=name,
            pins=("1", "2"),
            parameters=(
                Parameter(
                    "resistance",
                    "ohm",
                    low=1e-3,
                    high=10.0,
                    spread=0.3,
                    default=assumed(ohms, "ohm", reason, law="tolerance", spread=0.5),
                ),
            ),
            tame=True,
            symbol="track",
            linear=ohm,
            row=True,
            **more,
        )
    )


copper(
    "track",
    0.02,
    "40 mm of 1 mm track of 35 um copper at 0.5 mohm a square",
    classes={"dry": "clean board", "zone": "where something leaked, got hot or was worked on"},
    default_class="dry",
)
copper("wire", 0.01, "15 cm of thin stranded wire, 70 mohm a metre at 0.25 mm2")
