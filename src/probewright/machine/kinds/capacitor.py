"""Capacitor: C in series with its ESR, both across its leakage."""

from probewright.machine.kinds import Draft, Kind, Parameter, Store, Strain, Values, assumed, register
from probewright.machine.model import Figure


def leakage(p: Values):
    """At rest only the leak conducts."""
    return [("1", "2", "1", "2", 1.0 / p["leak"])]


def plates(p: Values) -> Store:
    """U = ESR I + W, dW/dt = I / C."""
    return Store((("1", "2"),), (p["esr"],), per_farad=(1.0 / p["capacitance"],))


def typical_esr(draft: Draft) -> Figure:
    """Series resistance of a sound part of this value."""
    farads = draft.figures["capacitance"].nominal
    if "electrolytic" in draft.classes:
        # tan delta about 0.15 at 100 Hz falls to a few times less at 1 kHz; 150 uohm F keeps 1 uF
        # near 5 ohm and 1000 uF near 0.1 ohm, as ESR meter charts show. From memory, no source.
        ohms = min(10.0, max(0.05, 0.05 + 5e-6 / farads))
        return assumed(ohms, "ohm", "usual ESR of a sound electrolytic, from memory")
    return assumed(0.05, "ohm", "films and ceramics: next to nothing, common practice, no source")


def typical_leak(draft: Draft) -> Figure:
    """Insulation of a sound part of this value."""
    farads = draft.figures["capacitance"].nominal
    if "electrolytic" in draft.classes:
        # Leakage of about 0.01 C V (IEC 60384-4 form of the limit, from memory) after a rest, a
        # tenth of it in use: R = V / I = 1000 / C.
        ohms = min(100e6, max(20e3, 1000.0 / farads))
        return assumed(ohms, "ohm", "a tenth of the 0.01 C V leakage limit, from memory", law="tolerance", spread=0.8)
    return assumed(10e9, "ohm", "films and ceramics, common practice, no source")


register(
    Kind(
        name="capacitor",
        synonyms=("cap",),
        pins=("1", "2"),
        aliases={"plus": "1", "minus": "2", "+": "1", "-": "2"},
        parameters=(
            Parameter("capacitance", "F", low=1e-12, high=0.5, spread=0.2),
            Parameter("esr", "ohm", word="esr", default=typical_esr, low=1e-3, high=1e4, spread=0.5),
            Parameter("leak", "ohm", word="leak", default=typical_leak, low=10.0, high=1e12, spread=0.8),
        ),
        classes={
            "electrolytic": "aluminium electrolytic, polarised",
            "tantalum": "bead tantalum, polarised",
            "ceramic": "disc or multilayer ceramic",
            "film": "plastic film",
            "paper": "paper or paper and film",
        },
        default_class="film",
        polar=True,
        tame=True,
        strains=(
            Strain("volts", ("1", "2"), either=True),
            Strain("reverse volts", ("2", "1"), classes=("electrolytic", "tantalum")),
            Strain("ripple amps", ("1", "2"), how="rms"),
        ),
        symbol="capacitor",
        linear=leakage,
        storing=plates,
    )
)
