"""A net as a box: a wire with its dot, what hangs from it and stands on it, where it goes on, and the probes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from probewright.drawing.flags import BELOW, PROBE_HEIGHT, PROBE_WIDTH, flag, flag_half, pennant, pennant_width, probe
from probewright.drawing.graph import Box, Port
from probewright.drawing.parts import REACH, Drawn, Wanted, upright, upright_extent
from probewright.drawing.pen import Pen, text_width
from probewright.machine.model import GROUND, Part

DROP = 16.0  # between a wire and what hangs from it
FINGER = 44.0  # least side of a target, CSS pixels
SHORT_NAME = 10  # longer names of nets are said by the label of the place alone
CHAINED = "after-"  # nets of a typed chain say no more than the block before them
PROBE_DROP = 40.0


@dataclass(frozen=True)
class Hung:
    """A part between this net and a flag. near: its pin on the net; up: it stands on the wire."""

    part: Part
    near: str
    far: str
    up: bool


@dataclass(frozen=True)
class Joint:
    """All that belongs to one net in one row. probes: (colour, place) of the leads that touch it."""

    net: str
    hung: tuple[Hung, ...]
    west: bool
    east: bool
    comes: bool  # from elsewhere: a pointed flag on the left
    goes: bool  # on elsewhere: a pointed flag on the right
    probes: tuple[tuple[str, str], ...] = ()
    bare: bool = False  # a pointed flag and nothing else


def joint_box(joint: Joint, wanted: Wanted) -> Drawn:
    """The box of a net, its wire level all along."""
    if joint.bare and not joint.hung and not joint.probes and joint.net not in wanted.values:
        return _bare(joint)
    pen, owner = Pen(), f"net {joint.net}"
    x = pennant_width(joint.net) + 8.0 if joint.comes else 0.0
    if joint.comes:
        pennant(pen, joint.net, x - 8.0, 0.0, into=True)
    start = x - 8.0 if joint.comes else 0.0
    told = joint.comes or joint.goes or joint.net.startswith(CHAINED) or len(joint.net) > SHORT_NAME
    shown = "" if told else joint.net
    volts = wanted.values.get(joint.net, "")
    words = max(text_width(shown, 15.0), text_width(volts, 16.0) + 8.0, FINGER)
    below = [one for one in joint.hung if not one.up]
    above = [one for one in joint.hung if one.up]
    left, right = (
        upright_extent(below[0].part, joint_far(below[0]), wanted) if below and not joint.probes else (0.0, 0.0)
    )
    dot = x + max(words / 2 + 2.0, left)
    if joint.probes:
        dot = max(dot, x + PROBE_WIDTH / 2 + 2.0)
    spots = [dot]
    low = dot + right
    if not joint.west and not joint.comes:
        start = dot
    for number, (colour, place) in enumerate(joint.probes):
        at = dot + number * (PROBE_WIDTH + 10.0)
        probe(pen, colour, place, at, 0.0, PROBE_DROP)
        low = at + PROBE_WIDTH / 2
        spots.append(at)
    for number, one in enumerate(below):
        left, right = upright_extent(one.part, joint_far(one), wanted)
        at = dot if number == 0 and not joint.probes else low + left + 6.0
        _hang(pen, one, at, wanted)
        low = at + right
        spots.append(at)
    high = dot + words / 2
    for one in above:
        left, right = upright_extent(one.part, joint_far(one), wanted)
        at = high + left + 4.0
        if below and any(abs(at - spot) < 10.0 for spot in spots):
            at += 20.0
        _hang(pen, one, at, wanted)
        high = at + right
        spots.append(at)
    if joint.goes and joint.east:  # the wire goes on: its name stands on it
        at = high + flag_half(joint.net) + 4.0
        while any(abs(at - spot) < 10.0 for spot in spots):
            at += 12.0
        flag(pen, joint.net, at, 0.0, up=True)
        high = at + flag_half(joint.net)
        spots.append(at)
    end = max(spots)
    wide = max(low, high, end + 12.0)
    if joint.goes and not joint.east:
        begin = max(end + 12.0, dot + FINGER / 2, dot + words / 2 + 2.0, _clear(pen, 16.0) + 6.0)
        pennant(pen, joint.net, begin, 0.0, into=False)
        end, wide = begin, max(wide, begin + pennant_width(joint.net))
    if joint.east:
        end = wide
    if end > start:
        pen.line(owner, [(start, 0.0), (end, 0.0)])
    for spot in spots[1:]:
        if abs(spot - dot) > 1.0:
            pen.put(owner, f'<circle class="pw-dot" cx="{spot:g}" cy="0" r="4"/>')
    lift = -20.0 if joint.probes else -11.0  # above the mark of a probe
    if volts:
        pen.write(owner, dot, lift - 19.0 if shown else lift, volts, style=wanted.style(joint.net))
    if shown:
        pen.write(owner, dot, lift, shown, style="pw-rail")
    pen.dots[joint.net] = (dot, 0.0)
    return _boxed(joint, pen, wide, bool(above), bool(below))


def _bare(joint: Joint) -> Drawn:
    """The pointed flag of a net at the edge of an excerpt; the flag itself is the place."""
    pen, wide = Pen(), pennant_width(joint.net)
    pennant(pen, joint.net, wide if joint.comes else 0.0, 15.0, into=joint.comes)
    pen.flags[joint.net] = (wide / 2, 15.0)
    port = Port("east", wide, 15.0, False) if joint.comes else Port("west", 0.0, 15.0, True)
    return Drawn(Box(f"net {joint.net}", wide, 30.0, (port,)), pen)


def joint_far(one: Hung) -> str:
    """The net at the far end of a hung part."""
    return one.part.pins[one.far]


def _clear(pen: Pen, level: float) -> float:
    """How far right words near the wire reach."""
    return max((word.right for word in pen.words if word.top < level and word.bottom > -level), default=0.0)


def _hang(pen: Pen, one: Hung, x: float, wanted: Wanted) -> None:
    way = -1.0 if one.up else 1.0
    pen.line(f"net {one.part.pins[one.near]}", [(x, 0.0), (x, way * DROP)])
    upright(pen, one.part, one.far if one.up else one.near, x, way * (DROP + REACH), wanted)
    flag(pen, joint_far(one), x, way * (DROP + 2 * REACH), up=one.up)


def _boxed(joint: Joint, pen: Pen, wide: float, above: bool, below: bool) -> Drawn:
    tall = DROP + 2 * REACH + BELOW
    top = max([tall if above else 26.0, *(4.0 - word.top for word in pen.words)])
    bottom = max(tall if below else 24.0, PROBE_DROP + PROBE_HEIGHT + 4.0 if joint.probes else 0.0)
    moved = Pen()
    moved.add(pen, 0.0, top)
    ports = (Port("west", 0.0, top, True),) * joint.west + (Port("east", wide, top, False),) * joint.east
    return Drawn(Box(f"net {joint.net}", wide, top + bottom, ports), moved)


def probe_island(net: str, probes: Sequence[tuple[str, str]]) -> Drawn:
    """Leads on a net that is only flags here: chassis, a rail, or a place of another section."""
    pen, half = Pen(), PROBE_WIDTH / 2 + 4.0
    for number, (colour, place) in enumerate(probes):
        x = half + number * 2 * half
        if net == GROUND:
            probe(pen, colour, place, x, 12.0, -12.0 + 28.0)
            flag(pen, net, x, 28.0 + PROBE_HEIGHT, up=False)
        else:
            pennant(pen, net, x + pennant_width(net) / 2, 14.0, into=True)
            probe(pen, colour, place, x, 44.0, PROBE_DROP - 10.0)
    wide = max(2 * half * len(probes), pennant_width(net) + 8.0)
    return Drawn(Box(f"probe {net}", wide, 84.0 if net == GROUND else 108.0, ()), pen)


def value_island(net: str, text: str, style: str) -> Drawn:
    """What was read at a net that is only flags here, beside its pointed flag."""
    pen, wide = Pen(), pennant_width(net)
    pennant(pen, net, wide, 15.0, into=True)
    pen.write(f"net {net}", wide + 8.0, 20.5, text, "start", style)
    return Drawn(Box(f"value {net}", wide + 12.0 + text_width(text, 16.0), 30.0, ()), pen)
