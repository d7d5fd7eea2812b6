"""Symbols after IEC 60617, keyed by the words a kind names its symbol with; what has none is a labelled box.

Lengths are CSS pixels. A two-ended symbol lies along x, its first pin at (-30, 0), its second at (30, 0).
A solid one has its own pins, each with the way its lead leaves: "west", "east", "north", "south".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from probewright.drawing.pen import text_width

REACH = 30.0  # half a two-ended symbol, leads included
PITCH = 48.0  # between two pins of one side: a finger each


@dataclass(frozen=True)
class Ended:
    """A symbol with two ends. across: half its extent across the lead; plus: where a polarised one has its +."""

    body: str
    across: float = 12.0
    plus: str = ""


@dataclass(frozen=True)
class Pin:
    """Where a pin of a solid symbol is and which way its lead leaves."""

    x: float
    y: float
    way: str


@dataclass(frozen=True)
class Words:
    """A word of a symbol; x, y: its anchor on the base line."""

    x: float
    y: float
    text: str
    anchor: str = "middle"
    style: str = "pw-pin"


@dataclass(frozen=True)
class Solid:
    """A symbol with more than two pins. left .. bottom: its extent; name_at: where name and value begin."""

    body: str
    pins: Mapping[str, Pin]
    left: float
    top: float
    right: float
    bottom: float
    name_at: tuple[Words, ...] = ()
    words: tuple[Words, ...] = ()
    tag: tuple[float, float] = (0.0, 0.0)  # middle of a suspect's letter
    ink: tuple[tuple[float, float, float, float], ...] = ()  # left, top, right, bottom of what is drawn solid
    frame: str = ""  # outline of a suspect, an SVG shape left open for its class


_RESISTOR = (
    '<path class="pw-line" d="M-30 0H-24M24 0H30"/><rect class="pw-fill" x="-24" y="-9" width="48" height="18"/>'
)
_DIODE = (
    '<path class="pw-line" d="M-30 0H30"/><path class="pw-fill" d="M-12 -12L12 0L-12 12Z"/>'
    '<path class="pw-line" d="M-12 0H12M12 -12V12'
)
_PLUS = '<path class="pw-thin" d="M-21 -13H-11M-16 -18V-8"/>'
_LAMP_CROSS = "M-11 -11L11 11M-11 11L11 -11"

# words of the kind -> symbol
TWO_ENDED: Mapping[str, Ended] = {
    "resistor": Ended(_RESISTOR),
    "load": Ended(
        '<path class="pw-line" d="M-30 0H-20M20 0H30"/><rect class="pw-fill" x="-20" y="-14" width="40" height="28"/>'
        '<path class="pw-line" d="M-20 14L20 -14"/>',
        16.0,
    ),
    "capacitor": Ended(
        '<path class="pw-line" d="M-30 0H-5M5 0H30"/><path class="pw-plate" d="M-5 -17V17M5 -17V17"/>', 20.0, _PLUS
    ),
    "semiconductor diode": Ended(_DIODE + '"/>', 14.0),
    "breakdown diode": Ended(_DIODE + 'M12 -12H6"/>', 14.0),
    "conductor": Ended(
        '<path class="pw-line" d="M-30 0H30"/><path class="pw-thin" d="M-14 0a5 9 0 1 0 10 0a5 9 0 1 0 -10 0"/>'
    ),
    "plug and socket": Ended(
        '<path class="pw-line" d="M-30 0H-4M4 0H30"/><path class="pw-line" d="M6 -10A10 10 0 0 0 6 10"/>'
        '<rect class="pw-solid" x="-18" y="-3" width="14" height="6"/>'
    ),
    "fuse": Ended('<rect class="pw-fill" x="-22" y="-8" width="44" height="16"/><path class="pw-line" d="M-30 0H30"/>'),
    "make contact": Ended('<path class="pw-line" d="M-30 0H-16M-16 0L15 -14M16 0H30"/>', 16.0),
    "source": Ended(
        '<path class="pw-line" d="M-30 0H-18M18 0H30"/><circle class="pw-fill" r="18"/>'
        '<path class="pw-line" d="M-18 0H18"/>',
        20.0,
        '<path class="pw-thin" d="M-27 -15H-19M-23 -19V-11"/>',
    ),
    "battery": Ended(
        '<path class="pw-line" d="M-30 0H-10M10 0H30"/><path class="pw-plate" d="M-10 -16V16M3 -16V16"/>'
        '<path class="pw-line" d="M-3 -8V8M10 -8V8"/>',
        18.0,
        '<path class="pw-thin" d="M-23 -13H-15M-19 -17V-9"/>',
    ),
    "light-emitting diode": Ended(
        _DIODE + '"/><path class="pw-thin" d="M2 -14L9 -21M9 -21H4M9 -21V-16M11 -12L18 -19M18 -19H13M18 -19V-14"/>',
        21.0,
    ),
    "lamp": Ended(
        '<path class="pw-line" d="M-30 0H-16M16 0H30"/><circle class="pw-fill" r="16"/>'
        f'<path class="pw-line" d="{_LAMP_CROSS}"/>',
        17.0,
    ),
    "inductor": Ended(
        '<path class="pw-line" d="M-30 0H-24a6 6 0 0 1 12 0a6 6 0 0 1 12 0a6 6 0 0 1 12 0a6 6 0 0 1 12 0H30"/>', 10.0
    ),
    "loudspeaker": Ended(
        '<path class="pw-line" d="M-30 0H-9M9 0H30"/><rect class="pw-fill" x="-9" y="-7" width="18" height="14"/>'
        '<path class="pw-fill" d="M-9 -7L-18 -20H18L9 -7"/>',
        20.0,
    ),
    "headphone": Ended(
        '<path class="pw-line" d="M-30 0H-14M14 0H30"/><circle class="pw-fill" r="14"/>'
        '<path class="pw-line" d="M-14 -14H14"/>',
        16.0,
    ),
    "thermistor": Ended(_RESISTOR + '<path class="pw-thin" d="M-22 18H-14L16 -16"/>', 18.0),
    "crystal": Ended(
        '<path class="pw-line" d="M-30 0H-12M12 0H30"/><path class="pw-plate" d="M-12 -14V14M12 -14V14"/>'
        '<rect class="pw-fill" x="-6" y="-14" width="12" height="28"/>',
        17.0,
    ),
    "track": Ended(
        '<path class="pw-line" d="M-30 0H30"/><circle class="pw-fill" cx="-14" r="5"/>'
        '<circle class="pw-fill" cx="14" r="5"/>'
    ),
}
FED = ("source", "battery")  # what brings power


def opamp() -> Solid:
    """Triangle, minus above plus, supply pins above and below."""
    return Solid(
        body='<path class="pw-line" d="M-8 -42V-30M-8 42V30"/><path class="pw-fill" d="M-36 -46L48 0L-36 46Z"/>',
        pins={
            "minus": Pin(-36.0, -24.0, "west"),
            "plus": Pin(-36.0, 24.0, "west"),
            "out": Pin(48.0, 0.0, "east"),
            "vplus": Pin(-8.0, -42.0, "north"),
            "vminus": Pin(-8.0, 42.0, "south"),
        },
        left=-36.0,
        top=-46.0,
        right=48.0,
        bottom=46.0,
        name_at=(Words(16.0, -36.0, "", "start"),),
        words=(Words(-26.0, -18.5, "\u2212", style="pw-sign"), Words(-26.0, 29.5, "+", style="pw-sign")),
        tag=(38.0, 44.0),
        ink=((-36.0, -40.0, -10.0, 40.0), (-10.0, -24.0, 20.0, 24.0)),
        frame='<path d="M-43 -58L63 0L-43 58Z"',
    )


def transistor(arrow_out: bool) -> Solid:
    """Circle with base, collector and emitter; arrow_out: NPN, collector above; else PNP, emitter above."""
    if arrow_out:
        arrow, upper, lower = "M12 20L3 17.5L8 9.8Z", "c", "e"
    else:
        arrow, upper, lower = "M-6 -7L3 -9.5L-1.5 -17Z", "e", "c"
    return Solid(
        body='<circle class="pw-fill" cx="2" r="26"/><path class="pw-plate" d="M-8 -15V15"/>'
        f'<path class="pw-line" d="M-24 0H-8M-8 -6L12 -20V-24M-8 6L12 20V24"/><path class="pw-solid" d="{arrow}"/>',
        pins={"b": Pin(-24.0, 0.0, "west"), upper: Pin(12.0, -24.0, "north"), lower: Pin(12.0, 24.0, "south")},
        left=-24.0,
        top=-24.0,
        right=28.0,
        bottom=24.0,
        name_at=(Words(39.0, 6.0, "", "start"), Words(39.0, 24.0, "", "start")),
        tag=(51.0, -19.0),
        ink=((-20.0, -20.0, 24.0, 20.0),),
        frame='<circle cx="2" r="31"',
    )


def potentiometer() -> Solid:
    """Upright resistor with the wiper to the right."""
    return Solid(
        body='<rect class="pw-fill" x="-9" y="-24" width="18" height="48"/>'
        '<path class="pw-line" d="M0 -30V-24M0 24V30M16 0H34"/><path class="pw-solid" d="M10 0L20 -5V5Z"/>',
        pins={"top": Pin(0.0, -30.0, "north"), "wiper": Pin(34.0, 0.0, "east"), "bottom": Pin(0.0, 30.0, "south")},
        left=-12.0,
        top=-30.0,
        right=34.0,
        bottom=30.0,
        name_at=(Words(17.0, -13.0, "", "start"), Words(17.0, 27.0, "", "start")),
        tag=(-28.0, 0.0),
        ink=((-10.0, -26.0, 10.0, 26.0),),
        frame='<rect x="-14" y="-29" width="28" height="58" rx="5"',
    )


# words of the kind -> (symbol, sides of its pins); "low": drawn with the supply below
SOLIDS = {
    "amplifier": opamp,
    "NPN transistor": lambda: transistor(True),
    "PNP transistor": lambda: transistor(False),
    "resistor with moving contact": potentiometer,
}

# Pins that a signal goes in at or comes out of, whatever they are wired to; others turn to where their net lies.
INTO: Mapping[str, tuple[str, ...]] = {
    "amplifier": ("plus", "minus"),
    "NPN transistor": ("b",),
    "PNP transistor": ("b",),
    "resistor with moving contact": ("top",),
    "voltage regulator": ("in",),
    "block": ("in",),
}
OUT_OF: Mapping[str, tuple[str, ...]] = {
    "amplifier": ("out",),
    "resistor with moving contact": ("wiper",),
    "voltage regulator": ("out",),
    "block": ("out",),
}
SUPPLY: Mapping[str, tuple[str, ...]] = {"amplifier": ("vplus",), "block": ("supply",)}
LOW: Mapping[str, tuple[str, ...]] = {"amplifier": ("vminus",), "block": ("com",), "voltage regulator": ("com",)}


def box(sides: Mapping[str, tuple[str, ...]], inside: tuple[str, ...], named: bool) -> Solid:
    """A box with named pins, for every kind whose symbol is not known here.

    sides: "west", "east", "north", "south" -> pins; inside: lines in its middle; named: whether pins are told by name.
    """
    west, east, north, south = (sides[way] for way in ("west", "east", "north", "south"))
    longest = max([text_width(line, 16.0) for line in inside], default=0.0)
    beside = max((text_width(pin, 15.0) for pin in (*west, *east)), default=0.0) if named else 0.0
    half = max(44.0, longest / 2 + beside + 18.0, 40.0 * max(len(north), len(south)))
    rows = max(len(west), len(east), 1)
    up = max(24.0, PITCH * rows / 2, 10.0 + 10.0 * len(inside)) + (18.0 if named and (north or south) else 0.0)
    pins: dict[str, Pin] = {}
    words: list[Words] = []
    for side, way, x in ((west, "west", -half), (east, "east", half)):
        for place, pin in enumerate(side):
            y = PITCH * (place - (len(side) - 1) / 2)
            pins[pin] = Pin(x, y, way)
            if named:
                words.append(
                    Words(x + 7.0 if way == "west" else x - 7.0, y + 5.0, pin, "start" if way == "west" else "end")
                )
    for side, way, y in ((north, "north", -up), (south, "south", up)):
        for place, pin in enumerate(side):
            x = 80.0 * (place - (len(side) - 1) / 2)
            pins[pin] = Pin(x, y, way)
            if named:
                words.append(Words(x, y + 17.0 if way == "north" else y - 7.0, pin))
    for place, line in enumerate(inside):
        words.append(
            Words(0.0, 5.5 + 20.0 * (place - (len(inside) - 1) / 2), line, style="pw-name" if not place else "pw-value")
        )
    return Solid(
        body=f'<rect class="pw-fill" x="{-half:g}" y="{-up:g}" width="{2 * half:g}" height="{2 * up:g}" rx="2"/>',
        pins=pins,
        left=-half,
        top=-up,
        right=half,
        bottom=up,
        words=tuple(words),
        tag=(half - 14.0, up + 20.0),
        ink=((-half, -up, half, up),),
        frame=f'<rect x="{-half - 5:g}" y="{-up - 5:g}" width="{2 * half + 10:g}" height="{2 * up + 10:g}" rx="6"',
    )
