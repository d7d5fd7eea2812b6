"""Lead, contact, switch and fuse: resistances that should be next to nothing."""

from probewright.machine.kinds import Kind, Parameter, Strain, Values, assumed, register
from probewright.machine.kinds.ohms import ohm

OPEN_OHMS = 1e9  # chosen: far above any meter; harmless with static pivots (docs/method.md)


def conductor(name: str, ohms: float, reason: str, symbol: str, **more) -> Kind:
    """A two-terminal kind whose only figure is a small resistance."""
    return register(
        Kind(
            name=name,
            pins=("1", "2"),
            parameters=(
                Parameter(
                    "resistance",
                    "ohm",
                    low=1e-4,
                    high=100.0,
                    spread=0.5,
                    default=assumed(ohms, "ohm", reason, law="tolerance", spread=0.5),
                ),
                *more.pop("also", ()),
            ),
            tame=True,
            symbol=symbol,
            linear=ohm,
            **more,
        )
    )


conductor("lead", 0.1, "one wire of a sound lead, common practice, no source", "conductor")
conductor("contact", 0.02, "a clean connector contact, common practice, no source", "plug and socket")
conductor(
    "fuse",
    0.05,
    "a small glass fuse of about 1 A, common practice, no source",
    "fuse",
    strains=(Strain("amps", ("1",), how="rms", either=True),),
    classes={"slow": "time lag", "fast": "quick acting"},
    also=(Parameter("rated", "A", word="", default=assumed(1.0, "A", "no rating typed"), low=0.01, high=30.0),),
)


def switch(p: Values):
    """Closed: the contact's resistance; open: as good as nothing."""
    closed = p["closed"]
    return [("1", "2", "1", "2", closed / p["resistance"] + (1.0 - closed) / OPEN_OHMS)]


register(
    Kind(
        name="switch",
        pins=("1", "2"),
        parameters=(
            Parameter(
                "resistance",
                "ohm",
                low=1e-4,
                high=100.0,
                spread=0.5,
                default=assumed(
                    0.03, "ohm", "a clean switch contact, common practice, no source", law="tolerance", spread=0.5
                ),
            ),
            Parameter("closed", "1", word="-", default=assumed(1.0, "1", "closed unless the line says open")),
        ),
        classes={"closed": "rests closed", "open": "rests open"},
        default_class="closed",
        tame=True,
        symbol="make contact",
        linear=switch,
    )
)
