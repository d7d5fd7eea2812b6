"""Potentiometer and trimmer: a track tapped by a wiper."""

import numpy as np

from probewright.machine.kinds import Kind, Parameter, Values, assumed, register

END_FRACTION = 5e-4  # chosen: end resistance left at a stop, about 0.05 % of a good track
LOG_MIDDLE = 0.15  # fraction of the resistance at half way on a log track, common practice, no source


def track_fraction(position, bend):
    """Fraction of the track's resistance between bottom and wiper.

    position 0..1 of the rotation; bend 0 linear, +1 log, -1 antilog. Exponential track
    f = (b^x - 1) / (b - 1) with b chosen so that f(1/2) = LOG_MIDDLE.
    """
    base = (1.0 / LOG_MIDDLE - 1.0) ** 2
    log = (base**position - 1.0) / (base - 1.0)
    antilog = 1.0 - (base ** (1.0 - position) - 1.0) / (base - 1.0)
    return np.where(bend > 0.5, log, np.where(bend < -0.5, antilog, position))


def star(p: Values):
    """Upper track, lower track and wiper contact meet inside: star to triangle."""
    lower = track_fraction(p["position"], p["bend"])
    end = END_FRACTION * p["resistance"]
    top = 1.0 / (p["resistance"] * (1.0 - lower) * p["upper"] + end)
    bottom = 1.0 / (p["resistance"] * lower * p["lower"] + end)
    wiper = 1.0 / p["wiper"]
    total = top + bottom + wiper
    return [
        ("top", "wiper", "top", "wiper", top * wiper / total),
        ("wiper", "bottom", "wiper", "bottom", wiper * bottom / total),
        ("top", "bottom", "top", "bottom", top * bottom / total),
    ]


def pot(name: str, synonyms: tuple[str, ...], position: Parameter) -> None:
    """Register a control or a trimmer; they differ in what is known of the position."""
    whole = assumed(1.0, "1", "an unbroken track")
    register(
        Kind(
            name=name,
            synonyms=synonyms,
            pins=("top", "wiper", "bottom"),
            parameters=(
                Parameter("resistance", "ohm", low=10.0, high=20e6, spread=0.2),
                position,
                Parameter(
                    "wiper",
                    "ohm",
                    word="wiper",
                    low=0.01,
                    high=1e4,
                    spread=0.8,
                    default=assumed(
                        2.0, "ohm", "a clean wiper, common practice, no source", law="tolerance", spread=0.8
                    ),
                ),
                Parameter("bend", "1", word="-", default=assumed(0.0, "1", "linear unless the line says log")),
                Parameter("upper", "1", word="-", default=whole),
                Parameter("lower", "1", word="-", default=whole),
            ),
            classes={"linear": "even track", "log": "15 % at half way", "antilog": "85 % at half way"},
            default_class="linear",
            tame=True,
            symbol="resistor with moving contact",
            linear=star,
        )
    )


pot(
    "potentiometer",
    ("pot",),
    Parameter(
        "position",
        "%",
        word="at",
        low=0.0,
        high=1.0,
        spread=0.03,
        law="offset",
        default=assumed(0.5, "%", "half way unless the line says where it rests", law="offset", spread=0.03),
    ),
)
pot(
    "trimmer",
    (),
    Parameter(
        "position",
        "%",
        word="at",
        low=0.0,
        high=1.0,
        spread=0.03,
        law="offset",
        default=assumed(0.5, "%", "nobody knows where a trimmer stands", law="range", low=0.0, high=1.0, unknown=True),
    ),
)
