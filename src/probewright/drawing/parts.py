"""A part as a box: its symbol, name and value, leads to its edges, flags at pins that are not wired here."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from probewright.drawing import symbols
from probewright.drawing.flags import BELOW, LEAD, flag, flag_half, open_end, pennant, pennant_width
from probewright.drawing.graph import Box, Port
from probewright.drawing.marks import Mark, Note
from probewright.drawing.pen import Pen, Rect, text_width
from probewright.drawing.rows import ends, is_open, symbol_words
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Part
from probewright.machine.waves import Sine
from probewright.units import write_reading, write_value

REACH = symbols.REACH
TAG = 22.0  # side of a suspect's letter
NOTED, NOTED_APART = 2.0, 3.0  # from a symbol to the outline of its first note, and from one outline to the next
STUB = 14.0  # between a solid symbol and the edge of its box


@dataclass(frozen=True)
class Drawn:
    """A box for the layout, and what is drawn in it from its upper left corner."""

    box: Box
    pen: Pen


@dataclass(frozen=True)
class Wanted:
    """What is drawn beside the parts, and which nets stand above what they feed."""

    high: frozenset[str] = frozenset()
    marks: Mapping[str, Mark] = field(default_factory=dict)
    values: Mapping[str, str] = field(default_factory=dict)
    odd: frozenset[str] = frozenset()
    notes: Mapping[str, tuple[Note, ...]] = field(default_factory=dict)

    def beside(self, part: Part) -> str:
        """What stands beside a symbol: its value, and every word that is known of it."""
        words = (one.word for one in self.notes.get(part.name, ()))
        return ", ".join(filter(None, (value_of(part), *words)))

    def style(self, net: str) -> str:
        """How the value at a net is written: green is healthy and nothing else."""
        return "pw-odd" if net in self.odd else "pw-volts"


def value_of(part: Part) -> str:
    """The value beside a symbol: the first figure the kind takes without a word, as people write it."""
    kind = KINDS.get(part.kind)
    if part.plays is not None and isinstance(part.plays.swing, Sine):
        rms = part.figures["signal"].nominal / math.sqrt(2.0)
        return f"{write_reading(rms, 'V')} rms {write_reading(part.plays.swing.hertz, 'Hz')}"
    for parameter in kind.parameters if kind else ():
        figure = part.figures.get(parameter.name)
        if (
            figure is None
            or not figure.typed
            or parameter.word not in ("", "gain" if kind and kind.name == "block" else "")
        ):
            continue
        if figure.unknown or figure.law == "range":
            return ""
        if part.kind == "source" and figure.nominal == 0.0:
            return ""
        written = write_value(figure.nominal, figure.unit)
        return f"\u00d7{written}" if parameter.word == "gain" else written.replace("u", "\u00b5")
    return ""


def tag(pen: Pen, part: Part, x: float, y: float, wanted: Wanted) -> None:
    """The letter of a suspect, its middle at (x, y)."""
    mark = wanted.marks.get(part.name)
    if mark is None:
        return
    half = TAG / 2
    pen.put(
        f"part {part.name}",
        f'<rect class="pw-tag" x="{x - half:g}" y="{y - half:g}" width="{TAG:g}" height="{TAG:g}" rx="3"/>',
    )
    pen.write(f"part {part.name}", x, y + 5.5, mark.letter, style="pw-letter")


def outline(part: Part, wanted: Wanted, shape: str) -> str:
    """The tinted frame of a suspect, thicker the more it weighs; "" when it is none. shape: an SVG shape left open."""
    mark = wanted.marks.get(part.name)
    if mark is None:
        return ""
    thick = 2.0 + 4.0 * min(1.0, max(0.0, mark.weight))
    return f'{shape} class="pw-mark" stroke-width="{thick:.1f}"/>'


def frames(part: Part, wanted: Wanted, shape: str, wide: float, closing: str = "") -> str:
    """An outline for each note, one round the other, told apart by its strokes. shape: an SVG shape about (0, 0) left
    open, closing: what ends it; wide: its longer side."""
    found = []
    for n, note in enumerate(wanted.notes.get(part.name, ())):
        larger = 1.0 + 2.0 * (NOTED + NOTED_APART * n) / wide
        found.append(f'<g transform="scale({larger:.3f})">{shape} class="pw-{note.sort}"/>{closing}</g>')
    return "".join(found)


def body(pen: Pen, part: Part, x: float, y: float, standing: bool, mirrored: bool, wanted: Wanted) -> None:
    """The two-ended symbol with its middle at (x, y), first pin on the left or, standing, above; or mirrored."""
    symbol = symbols.TWO_ENDED[symbol_words(part)]
    across = symbol.across + 3.0
    shape = f'<rect x="-26" y="{-across:g}" width="52" height="{2 * across:g}" rx="5"'
    svg = outline(part, wanted, shape) + frames(part, wanted, shape, 52.0) + symbol.body
    polarised = {"electrolytic", "tantalum"} & set(part.classes) or symbol_words(part) in symbols.FED
    turned = " rotate(90)" * standing + " scale(-1 1)" * mirrored
    pen.put(f"part {part.name}", svg + (symbol.plus if polarised else ""), x, y, turned)
    wide, high = (across, 26.0) if standing else (26.0, across)
    pen.solids.append(Rect(x - wide, y - high, x + wide, y + high))


def series(part: Part, west: str, wanted: Wanted) -> Drawn:
    """A two-ended part between two wires, lying; west: the pin on its left."""
    pen, (first, second) = Pen(), ends(part) or ("", "")
    value, across = wanted.beside(part), symbols.TWO_ENDED[symbol_words(part)].across
    name_wide, value_wide = text_width(part.name, 16.0), text_width(value, 15.0)
    wide_text = name_wide + (8.0 + value_wide if value else 0.0)
    wide, level = max(2 * REACH + 28.0, wide_text + 8.0), across + 30.0
    middle, owner = wide / 2, f"part {part.name}"
    pen.line(f"net {part.pins[west]}", [(0.0, level), (middle - REACH, level)])
    east = second if west == first else first
    pen.line(f"net {part.pins[east]}", [(middle + REACH, level), (wide, level)])
    body(pen, part, middle, level, False, west != first, wanted)
    start = middle - wide_text / 2
    pen.write(owner, start, 17.0, part.name, "start", "pw-name")
    if value:
        pen.write(owner, start + name_wide + 8.0, 17.0, value, "start")
    tag(pen, part, middle, level + across + 18.0, wanted)
    pen.dots[f"{part.name}.{west}"], pen.dots[f"{part.name}.{east}"] = (middle - REACH, level), (middle + REACH, level)
    ports = (Port(west, 0.0, level, True), Port(east, wide, level, False))
    return Drawn(Box(owner, wide, level + across + 30.0, ports), pen)


def upright_extent(part: Part, far: str, wanted: Wanted) -> tuple[float, float]:
    """How far an upright part reaches left and right of its lead; far: the net of its flag."""
    text = max(text_width(part.name, 16.0), text_width(wanted.beside(part), 15.0))
    across = symbols.TWO_ENDED[symbol_words(part)].across
    return max(across + 4.0, flag_half(far)), max(across + 8.0 + text, flag_half(far), across + 8.0 + TAG)


def upright(pen: Pen, part: Part, upper: str, x: float, y: float, wanted: Wanted) -> None:
    """A two-ended part standing with its middle at (x, y); upper: the pin at its top; words to its right."""
    first = (ends(part) or ("", ""))[0]
    across, owner, value = symbols.TWO_ENDED[symbol_words(part)].across, f"part {part.name}", wanted.beside(part)
    body(pen, part, x, y, True, upper != first, wanted)
    pen.write(owner, x + across + 8.0, y - 3.0 if value else y + 6.0, part.name, "start", "pw-name")
    if value:
        pen.write(owner, x + across + 8.0, y + 15.0, value, "start")
    tag(pen, part, x + across + 8.0 + TAG / 2, y + 31.0, wanted)
    lower = next(pin for pin in part.pins if pin != upper)
    pen.dots[f"{part.name}.{upper}"], pen.dots[f"{part.name}.{lower}"] = (x, y - REACH), (x, y + REACH)


def island(part: Part, wanted: Wanted) -> Drawn:
    """A two-ended part between two flags, standing by itself: a decoupling capacitor most often."""
    first, second = ends(part) or ("", "")
    upper = second if _height(part.pins[second], wanted) > _height(part.pins[first], wanted) else first
    lower = second if upper == first else first
    pen, y = Pen(), BELOW + REACH
    sides = [upright_extent(part, part.pins[pin], wanted) for pin in (upper, lower)]
    left, right = max(one[0] for one in sides), max(one[1] for one in sides)
    upright(pen, part, upper, left, y, wanted)
    flag(pen, part.pins[upper], left, y - REACH, up=True)
    flag(pen, part.pins[lower], left, y + REACH, up=False)
    return Drawn(Box(f"part {part.name}", left + right, 2 * (BELOW + REACH), ()), pen)


def _height(net: str, wanted: Wanted) -> int:
    return -1 if net == GROUND else 1 if net in wanted.high else 0


def sides_of(part: Part, rank: Mapping[str, tuple[int, int]]) -> dict[str, str]:
    """Pin -> "west", "east" for pins wired here, "flag" for the others; every wire leads from left to right."""
    words, found = symbol_words(part), {}
    into, out = symbols.INTO.get(words, ()), symbols.OUT_OF.get(words, ())
    upright_pins = (
        *symbols.SUPPLY.get(words, ()),
        *(symbols.LOW.get(words, ()) if words != "voltage regulator" else ()),
    )
    wired = {pin: rank[net] for pin, net in part.pins.items() if net in rank and pin not in upright_pins}
    levels = sorted(wired.values())
    inputs = [wired[pin] for pin in into if pin in wired]
    outputs = [wired[pin] for pin in out if pin in wired]
    border = max(inputs) if inputs else min(outputs) if outputs else levels[len(levels) // 2] if levels else (0, 0)
    for pin in part.pins:
        if pin not in wired:
            found[pin] = "flag"
        elif pin in into:
            found[pin] = "west"
        elif pin in out:
            found[pin] = "east"
        else:
            found[pin] = "west" if wired[pin] < border else "east"
    least = min((wired[pin] for pin, side in found.items() if side == "east"), default=None)
    for pin, side in found.items():
        if side == "west" and least is not None and wired[pin] >= least:
            found[pin] = "flag"  # a way back is told by name
    return found


def _symbol(part: Part, sides: Mapping[str, str], wanted: Wanted) -> symbols.Solid:
    words = symbol_words(part)
    if words in symbols.SOLIDS and set(symbols.SOLIDS[words]().pins) == set(part.pins):
        return symbols.SOLIDS[words]()
    side: dict[str, list[str]] = {"west": [], "east": [], "north": [], "south": []}
    for pin, net in part.pins.items():
        if sides[pin] != "flag":
            side[sides[pin]].append(pin)
        elif words == "block" and (net == GROUND and pin in ("com", "supply")):
            continue  # a box on the common ground, or without a supply of its own, says so by saying nothing
        elif is_open(net):
            side["east"].append(pin)
        elif pin in symbols.INTO.get(words, ()):
            side["west"].append(pin)
        elif pin in symbols.OUT_OF.get(words, ()):
            side["east"].append(pin)
        else:
            side["north" if net in wanted.high else "south"].append(pin)
    named = words != "block"
    value = wanted.beside(part)
    inside = (part.name, value) if value else (part.name,)
    if not words:
        inside = (*inside, part.kind)
    return symbols.box({way: tuple(pins) for way, pins in side.items()}, inside, named)


def solid(part: Part, sides: Mapping[str, str], wanted: Wanted) -> Drawn:
    """A part with more than two pins, or of an unknown kind: leads to its edges, flags where it is not wired."""
    symbol, pen, owner = _symbol(part, sides, wanted), Pen(), f"part {part.name}"
    loop = _feedback(part, sides)
    flags = {pin for pin in symbol.pins if sides[pin] == "flag" and pin not in loop}
    reach = {way: _room(part, symbol, flags, sides, way) for way in ("west", "east", "north", "south")}
    left, right = (
        min(symbol.left - reach["west"], symbol.tag[0] - TAG / 2 - 2.0),
        max(symbol.right + reach["east"], symbol.tag[0] + TAG / 2 + 2.0),
    )
    top, bottom = symbol.top - reach["north"], symbol.bottom + reach["south"] + (20.0 if loop else 0.0)
    frame = outline(part, wanted, symbol.frame)
    pen.put(owner, frame + _noted(part, symbol, wanted) + symbol.body)
    pen.solids += [Rect(*ink) for ink in symbol.ink]
    for word in symbol.words:
        pen.write(owner, word.x, word.y, word.text, word.anchor, word.style)
    beside = wanted.beside(part)
    said = (part.name, beside) if len(symbol.name_at) > 1 else (" ".join(filter(None, (part.name, beside))),)
    for at, text, style in zip(symbol.name_at, said, ("pw-name", "pw-value"), strict=False):
        if text:
            pen.write(owner, at.x, at.y, text, at.anchor, style)
            right = max(right, at.x + text_width(text, 16.0) + 4.0)
    ports = [
        _lead(pen, part, pin, symbol.pins[pin], sides[pin], (left, right), pin in flags)
        for pin in symbol.pins
        if pin not in loop
    ]
    if loop:
        y, net = symbol.bottom + 34.0, f"net {part.pins['out']}"
        start, end = symbol.pins["minus"], symbol.pins["out"]
        pen.line(
            net, [(start.x, start.y), (left + 4.0, start.y), (left + 4.0, y), (end.x + 10.0, y), (end.x + 10.0, end.y)]
        )
        pen.put(net, f'<circle class="pw-dot" cx="{end.x + 10.0:g}" cy="{end.y:g}" r="4"/>')
    tag(pen, part, *symbol.tag, wanted)
    moved = Pen()
    bottom = max(bottom, symbol.tag[1] + TAG / 2 + 2.0)
    moved.add(pen, -left, -top)
    placed = tuple(Port(one.name, one.x - left, one.y - top, one.west) for one in ports if one is not None)
    return Drawn(Box(owner, right - left, bottom - top, placed), moved)


def _noted(part: Part, symbol: symbols.Solid, wanted: Wanted) -> str:
    """The outlines of the notes of a solid symbol, about its middle."""
    x, y = 0.5 * (symbol.left + symbol.right), 0.5 * (symbol.top + symbol.bottom)
    shape = f'<g transform="translate({-x:g} {-y:g})">{symbol.frame}'
    drawn = frames(part, wanted, shape, max(symbol.right - symbol.left, symbol.bottom - symbol.top), "</g>")
    return f'<g transform="translate({x:g} {y:g})">{drawn}</g>' if drawn else ""


def _feedback(part: Part, sides: Mapping[str, str]) -> tuple[str, ...]:
    """The inverting input of a follower, whose loop is drawn with the symbol."""
    follower = symbol_words(part) == "amplifier" and part.pins["minus"] == part.pins["out"] and sides["out"] == "east"
    return ("minus",) if follower else ()


def _room(part: Part, symbol: symbols.Solid, flags: set[str], sides: Mapping[str, str], way: str) -> float:
    """How far leads and flags reach out of the symbol on one side."""
    here = [pin for pin, at in symbol.pins.items() if at.way == way]
    needed = [0.0]
    for pin in here:
        net = part.pins[pin]
        if way in ("north", "south"):
            sits = symbol.top - symbol.pins[pin].y if way == "north" else symbol.pins[pin].y - symbol.bottom
            needed.append((BELOW + sits) if pin in flags else STUB + 8.0)
        elif pin in flags and net != GROUND and not is_open(net):
            needed.append(LEAD + pennant_width(net) + 2.0)
        else:
            needed.append(STUB + 12.0)
    if way in ("west", "east"):
        turned = [at for pin, at in symbol.pins.items() if at.way in ("north", "south") and sides[pin] == way]
        flagged = [
            flag_half(part.pins[p])
            - (symbol.pins[p].x - symbol.left if way == "west" else symbol.right - symbol.pins[p].x)
            for p in flags
            if symbol.pins[p].way in ("north", "south")
        ]
        needed += [STUB] * bool(turned) + flagged
    return max(needed)


def _lead(
    pen: Pen, part: Part, pin: str, at: symbols.Pin, side: str, edges: tuple[float, float], flagged: bool
) -> Port | None:
    """The lead of one pin, to the edge of the box or to its flag."""
    net = part.pins[pin]
    owner = f"net {net}"
    pen.dots[f"{part.name}.{pin}"] = (at.x, at.y)
    if flagged and at.way in ("north", "south"):
        flag(pen, net, at.x, at.y, up=at.way == "north")
        return None
    if flagged:
        out = at.x + (LEAD if at.way == "east" else -LEAD)
        pen.line(owner, [(at.x, at.y), (out, at.y)])
        if is_open(net):
            open_end(pen, net, out, at.y)
        elif net == GROUND:
            flag(pen, net, out, at.y, up=False)
        else:
            pennant(pen, net, out, at.y, into=at.way == "west")
        return None
    edge = edges[0] if side == "west" else edges[1]
    if at.way in ("north", "south"):
        level = at.y + (-STUB if at.way == "north" else STUB)
        pen.line(owner, [(at.x, at.y), (at.x, level), (edge, level)])
        return Port(pin, edge, level, side == "west")
    pen.line(owner, [(at.x, at.y), (edge, at.y)])
    return Port(pin, edge, at.y, side == "west")
