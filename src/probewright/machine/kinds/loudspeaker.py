"""Loudspeaker and headphone: a voice coil, known by its rated impedance."""

from collections.abc import Callable

from probewright.machine.kinds import Draft, Kind, Parameter, assumed, register
from probewright.machine.kinds.inductor import wound
from probewright.machine.model import Figure

# The impedance is counted here: just above its resonance a loudspeaker has its least, and 1 kHz is what
# old data sheets measure at. From memory.
RATED_HERTZ = 1e3
TURN = 2.0 * 3.141592653589793


def wire(share: float) -> Callable[[Draft], Figure]:
    """Ohms of the wire as a share of the rated impedance; a range stays one."""

    def default(draft: Draft) -> Figure:
        rated = draft.figures["impedance"]
        reason = f"{100 * share:g} % of the rated impedance, from memory"
        if rated.law == "range":
            low, high = share * rated.low, share * rated.high
            return assumed(share * rated.nominal, "ohm", reason, law="range", low=low, high=high, unknown=rated.unknown)
        return assumed(share * rated.nominal, "ohm", reason, law="tolerance", spread=0.1)

    return default


def coil(draft: Draft) -> Figure:
    """The inductance that makes up the rest of the rated impedance at RATED_HERTZ."""
    rated, ohms = draft.figures["impedance"].nominal, draft.figures["resistance"].nominal
    return assumed(max(rated**2 - ohms**2, 0.0) ** 0.5 / (TURN * RATED_HERTZ), "H", "the rest of the rated impedance")


def voice(name: str, synonyms: tuple[str, ...], share: float, symbol: str) -> None:
    """Register one of the two."""
    register(
        Kind(
            name=name,
            synonyms=synonyms,
            pins=("1", "2"),
            aliases={"+": "1", "-": "2"},
            parameters=(
                Parameter("impedance", "ohm", low=1.0, high=5e3, spread=0.1),
                Parameter("resistance", "ohm", word="wire", low=0.5, high=5e3, spread=0.1, default=wire(share)),
                Parameter("inductance", "H", word="-", default=coil),
            ),
            symbol=symbol,
            storing=wound,
            hangs=True,
        )
    )


voice("loudspeaker", ("speaker",), 0.8, "loudspeaker")
voice("headphone", ("headphones", "earphone"), 0.95, "headphone")
