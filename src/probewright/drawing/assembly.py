"""Rows become graphs, graphs become places, places become one sheet of pieces."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from probewright.drawing import columns, layout, symbols
from probewright.drawing.graph import Edge, Graph
from probewright.drawing.nets import Hung, Joint, joint_box, probe_island, value_island
from probewright.drawing.parts import Drawn, Wanted, island, series, sides_of, solid
from probewright.drawing.pen import Pen
from probewright.drawing.rows import Row, Sheet, ends, folded, symbol_words

MARGIN = 14.0
TITLE = 30.0  # height of a row's title
BETWEEN = 26.0  # between rows, and between the wires and what stands alone
PAGE_WIDTH = 1290.0  # what a laptop of 1366 pixels shows without scrolling sideways
LEAST_WIDTH = 700.0  # what stands alone is put side by side up to this

Probed = Sequence[tuple[str, str, str]]  # (colour, place, net)


def assemble(sheet: Sheet, wanted: Wanted, probed: Probed) -> tuple[Pen, float, float]:
    """All rows below one another, with the width and height they take."""
    pen, y, width = Pen(), MARGIN, 0.0
    left, untold = list(probed), dict(wanted.values)
    lines = [line for row in sheet.rows for line in fitted(row, wanted)]
    for number, row in enumerate(lines):
        here = [one for one in left if one[2] in row.rank]
        if number == len(lines) - 1:
            here = list(left)
        left = [one for one in left if one not in here]
        if number:
            y += BETWEEN
        if row.title:
            pen.write("title", MARGIN, y + 18.0, row.title, "start", "pw-title")
            y += TITLE
        drawn, wide, tall = draw_row(row, replace(wanted, values=untold), here)
        untold = {net: text for net, text in untold.items() if net not in row.rank}
        pen.add(drawn, MARGIN, y)
        y += tall
        width = max(width, wide)
    flagged = [value_island(net, text, wanted.style(net)) for net, text in untold.items() if net in pen.flags]
    if flagged:
        drawn, wide, tall = _add_alone(Pen(), flagged, 0.0, 0.0)
        pen.add(drawn, MARGIN, y + BETWEEN)
        width, y = max(width, wide), y + BETWEEN + tall
    right = max((one.right for one in pen.words), default=0.0)
    return pen, max(width + 2 * MARGIN, right + MARGIN), y + MARGIN


def fitted(row: Row, wanted: Wanted) -> list[Row]:
    """The row, folded as often as it must be to fit the width of a page."""
    boxes, edges, _ = row_boxes(row, wanted, ())
    width = columns.layout(Graph(tuple(one.box for one in boxes), tuple(edges))).width  # the quick way is near enough
    halves = folded(row) if width > PAGE_WIDTH else None
    return [row] if halves is None else [line for half in halves for line in fitted(half, wanted)]


def draw_row(row: Row, wanted: Wanted, probed: Probed) -> tuple[Pen, float, float]:
    """One row: what is wired, and below it what stands alone."""
    boxes, edges, alone = row_boxes(row, wanted, probed)
    graph = Graph(tuple(one.box for one in boxes), tuple(edges), bool(row.bare))
    found = layout.layout(graph)
    pen = Pen()
    for edge, points in zip(edges, found.wires, strict=True):
        pen.line(f"net {edge.net}", points)
    for one in boxes:
        pen.add(one.pen, *found.places[one.box.name])
    _meeting_dots(pen, edges, found.wires)
    return _add_alone(pen, alone, found.width, found.height)


def _add_alone(pen: Pen, alone: Sequence[Drawn], width: float, height: float) -> tuple[Pen, float, float]:
    """Islands side by side below the wires."""
    limit = max(width, LEAST_WIDTH)
    x, y, tall = 0.0, height + (BETWEEN if height and alone else 0.0), 0.0
    for one in alone:
        if x and x + one.box.width > limit:
            x, y, tall = 0.0, y + tall + BETWEEN, 0.0
        pen.add(one.pen, x, y)
        width, tall = max(width, x + one.box.width), max(tall, one.box.height)
        x += one.box.width + BETWEEN
    return pen, width, y + tall


def row_boxes(row: Row, wanted: Wanted, probed: Probed) -> tuple[list[Drawn], list[Edge], list[Drawn]]:
    """Boxes and wires of a row, and the boxes that stand alone."""
    hung: dict[str, list[Hung]] = {net: [] for net in row.rank}
    boxes: list[Drawn] = []
    alone: list[Drawn] = []
    edges: list[Edge] = []
    for part in row.parts:
        pair = ends(part)
        if pair is None:
            sides = sides_of(part, row.rank)
            one = solid(part, sides, wanted)
            (boxes if one.box.ports else alone).append(one)
            ports = {port.name for port in one.box.ports}
            edges += [
                _edge(part.name, part.pins[pin], pin, side == "west") for pin, side in sides.items() if pin in ports
            ]
            continue
        on = [pin for pin in pair if part.pins[pin] in row.rank]
        if len(on) == 2 and part.pins[on[0]] != part.pins[on[1]]:
            backward = row.rank[part.pins[on[1]]] < row.rank[part.pins[on[0]]]
            west, east = reversed(on) if backward else on
            boxes.append(series(part, west, wanted))
            edges += [_edge(part.name, part.pins[west], west, True), _edge(part.name, part.pins[east], east, False)]
        elif len(on) == 1:
            far = pair[1] if on[0] == pair[0] else pair[0]
            hung[part.pins[on[0]]].append(Hung(part, on[0], far, part.pins[far] in wanted.high))
        else:
            alone.append(island(part, wanted))
    boxes = [joint_box(_joint(net, row, hung[net], edges, probed), wanted) for net in row.rank] + boxes
    loose = dict.fromkeys(net for _, _, net in probed if net not in row.rank)
    alone += [probe_island(net, [(colour, place) for colour, place, other in probed if other == net]) for net in loose]
    return boxes, edges, alone


def _joint(net: str, row: Row, hung: Sequence[Hung], edges: Sequence[Edge], probed: Probed) -> Joint:
    west = any(edge.end[0] == f"net {net}" for edge in edges)
    east = any(edge.start[0] == f"net {net}" for edge in edges)
    fed = any(symbol_words(one.part) in symbols.FED for one in hung)
    comes = net in row.outside and not west and not fed
    goes = net in row.outside and not comes
    touching = tuple((colour, place) for colour, place, other in probed if other == net)
    return Joint(net, tuple(hung), west, east, comes, goes, touching, net in row.bare)


def _edge(part: str, net: str, pin: str, west: bool) -> Edge:
    """The wire between a part's pin and the dot of its net."""
    own, dot = (f"part {part}", pin), f"net {net}"
    return Edge((dot, "east"), own, net) if west else Edge(own, (dot, "west"), net)


def _meeting_dots(pen: Pen, edges: Sequence[Edge], wires: Sequence[Sequence[tuple[float, float]]]) -> None:
    """A dot where wires of one net part: where a bend of one lies on the way of another."""
    by_net: dict[str, list[Sequence[tuple[float, float]]]] = {}
    for edge, points in zip(edges, wires, strict=True):
        by_net.setdefault(edge.net, []).append(points)
    for net, ways in by_net.items():
        for x, y in sorted(_partings(ways)):
            pen.put(f"net {net}", f'<circle class="pw-dot" cx="{x:g}" cy="{y:g}" r="4"/>')


def _partings(ways: Sequence[Sequence[tuple[float, float]]]) -> set[tuple[float, float]]:
    """Corners at which three or four directions of one net meet."""
    stretches = [(a, b) for way in ways for a, b in zip(way, way[1:], strict=False)]
    corners = {(round(x, 1), round(y, 1)) for way in ways for x, y in way}
    return {corner for corner in corners if len(_directions(corner, stretches)) > 2}


def _directions(
    at: tuple[float, float], stretches: Sequence[tuple[tuple[float, float], tuple[float, float]]]
) -> set[str]:
    x, y = at
    found = set()
    for (ax, ay), (bx, by) in stretches:
        if abs(ay - by) < 0.1 and abs(ay - y) < 0.1 and min(ax, bx) - 0.1 <= x <= max(ax, bx) + 0.1:
            found |= {"left"} if min(ax, bx) < x - 0.1 else set()
            found |= {"right"} if max(ax, bx) > x + 0.1 else set()
        if abs(ax - bx) < 0.1 and abs(ax - x) < 0.1 and min(ay, by) - 0.1 <= y <= max(ay, by) + 0.1:
            found |= {"up"} if min(ay, by) < y - 0.1 else set()
            found |= {"down"} if max(ay, by) > y + 0.1 else set()
    return found


def spots(pen: Pen, nets: Mapping[str, int]) -> dict[str, tuple[float, float]]:
    """Every place drawn and its middle: nets by their dot or else their first flag, then pins."""
    found = {net: pen.dots.get(net) or pen.flags.get(net) for net in nets}
    pins = {place: at for place, at in pen.dots.items() if place not in nets}
    return {place: at for place, at in {**found, **pins}.items() if at is not None}
