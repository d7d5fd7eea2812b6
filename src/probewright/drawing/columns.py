"""The built-in layout: columns by distance from the source, wires at right angles in the gaps between columns."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import mean

from probewright.drawing.graph import Edge, Graph, Point, Positions

GAP = 18.0  # between boxes of one column
TRACK = 14.0  # between upright wires of one gap
LANE = 14.0  # height a wire takes that passes a column
Tracks = dict[tuple[int, str], int]  # (gap, group) -> upright
SAME = 1.0  # heights nearer than this run along each other
SWEEPS = 6  # chosen: more change nothing in sections of 40 parts


@dataclass
class Cell:
    """A box, or the lane of a wire that passes a column."""

    name: str
    column: int
    width: float
    height: float
    before: list[tuple[str, float, float]] = field(default_factory=list)  # (cell, its port's y, own port's y)
    after: list[tuple[str, float, float]] = field(default_factory=list)
    x: float = 0.0
    y: float = 0.0


@dataclass(frozen=True)
class Hop:
    """One stretch of a wire, across one gap. group: wires of one port share their upright."""

    start: str
    start_y: float
    end: str
    end_y: float
    group: str


def layout(graph: Graph) -> Positions:
    """Columns for every graph without a way back; the same answer each time."""
    cells = _columns_of(graph)
    hops = [_hops(graph, edge, cells, number) for number, edge in enumerate(graph.edges)]
    for stretch in hops:
        for hop in stretch:
            cells[hop.start].after.append((hop.end, hop.end_y, hop.start_y))
            cells[hop.end].before.append((hop.start, hop.start_y, hop.end_y))
    columns = _ordered(cells)
    _place(columns, cells)
    every = [hop for stretch in hops for hop in stretch]
    for _ in range(SWEEPS):
        if not _unlock(columns, every, cells):
            break
    top = min((cell.y for cell in cells.values()), default=0.0)
    for cell in cells.values():
        cell.y -= top
    tracks = _tracks(every, cells)
    _spread(columns, tracks, cells)
    wires = tuple(_points(stretch, cells, tracks) for stretch in hops)
    boxes = {box.name: (cells[box.name].x, cells[box.name].y) for box in graph.boxes}
    width = max((cell.x + cell.width for cell in cells.values()), default=0.0)
    height = max((cell.y + cell.height for cell in cells.values()), default=0.0)
    return Positions(boxes, wires, width, height)


def _columns_of(graph: Graph) -> dict[str, Cell]:
    """Each box one column behind the last box that feeds it, then as far right as that costs no wire."""
    column = dict.fromkeys((box.name for box in graph.boxes), 0)
    for _ in graph.boxes:
        for edge in graph.edges:
            column[edge.end[0]] = max(column[edge.end[0]], column[edge.start[0]] + 1)
    for name in sorted(column, key=lambda one: -column[one]):
        ahead = [column[edge.end[0]] for edge in graph.edges if edge.start[0] == name]
        behind = sum(edge.end[0] == name for edge in graph.edges)
        if ahead and behind <= len(ahead):  # as near to what it feeds as to what feeds it
            column[name] = min(ahead) - 1
    return {box.name: Cell(box.name, column[box.name], box.width, box.height) for box in graph.boxes}


def _hops(graph: Graph, edge: Edge, cells: dict[str, Cell], number: int) -> list[Hop]:
    """The wire gap by gap, with a lane through every column it passes."""
    boxes = {box.name: box for box in graph.boxes}
    (first, out), (last, into) = edge.start, edge.end
    y, group = boxes[first].port(out).y, f"{first}/{out}"
    found, at = [], first
    for column in range(cells[first].column + 1, cells[last].column):
        lane = f"lane {first}/{out} {column}"
        if lane not in cells:
            cells[lane] = Cell(lane, column, 0.0, LANE)
        found.append(Hop(at, y, lane, LANE / 2, group))
        at, y = lane, LANE / 2
    return [*found, Hop(at, y, last, boxes[last].port(into).y, group)]


def _ordered(cells: dict[str, Cell]) -> list[list[Cell]]:
    """Columns with their cells from top to bottom, each near the middle of what it is wired to."""
    columns: list[list[Cell]] = [[] for _ in range(1 + max((cell.column for cell in cells.values()), default=-1))]
    for cell in cells.values():
        columns[cell.column].append(cell)
    for sweep in range(SWEEPS):
        forward = sweep % 2 == 0
        for column in columns if forward else columns[::-1]:
            rank = {cell.name: place for other in columns for place, cell in enumerate(other)}

            def middle(cell: Cell, forward: bool = forward, rank: dict[str, int] = rank) -> float:
                wired = cell.before if forward else cell.after
                return mean(rank[name] + y / 1000 for name, y, _ in wired) if wired else float(rank[cell.name])

            column.sort(key=middle)
    return columns


def _place(columns: Sequence[list[Cell]], cells: dict[str, Cell]) -> None:
    """Heights: each cell as level with its wires as its column allows."""
    for column in columns:
        floor = 0.0
        for cell in column:
            cell.y, floor = floor, floor + cell.height + GAP
    for sweep in range(2 * SWEEPS + 1):
        forward = sweep % 2 == 0
        for column in columns if forward else columns[::-1]:
            for cell in column:
                wired = cell.before if forward else cell.after
                levels = sorted(cells[name].y + far - near for name, far, near in wired)
                if levels:
                    cell.y = levels[len(levels) // 2]
            _apart(column)


def _apart(column: Sequence[Cell]) -> None:
    """Push overlapping cells apart, half up and half down, in their order."""
    for _ in range(30):
        moved = False
        for upper, lower in zip(column, column[1:], strict=False):
            short = upper.y + upper.height + GAP - lower.y
            if short > 0.01:
                upper.y -= short / 2
                lower.y += short / 2
                moved = True
        if not moved:
            return
    for upper, lower in zip(column, column[1:], strict=False):
        lower.y = max(lower.y, upper.y + upper.height + GAP)


def _unlock(columns: Sequence[list[Cell]], hops: Sequence[Hop], cells: dict[str, Cell]) -> bool:
    """Whether two wires of a gap trade heights, each beginning where the other ends: no order of their uprights
    keeps them apart then, so the cell where one begins goes down a little."""
    for one in hops:
        for other in hops:
            if one.group == other.group or cells[one.start].column != cells[other.start].column:
                continue
            (a, b), (c, d) = ((cells[h.start].y + h.start_y, cells[h.end].y + h.end_y) for h in (one, other))
            if abs(a - b) > SAME and abs(c - d) > SAME and abs(a - d) < SAME and abs(b - c) < SAME:
                lower = cells[other.start]
                lower.y += TRACK / 2
                _apart(columns[lower.column])
                return True
    return False


def _tracks(hops: Sequence[Hop], cells: dict[str, Cell]) -> Tracks:
    """Which upright of its gap each bent group takes, counted from the left; straight ones take none."""
    gaps: dict[int, dict[str, tuple[float, set[float]]]] = defaultdict(dict)
    for hop in hops:
        level = cells[hop.start].y + hop.start_y
        gaps[cells[hop.start].column].setdefault(hop.group, (level, set()))[1].add(cells[hop.end].y + hop.end_y)
    tracks: Tracks = {}
    for gap, groups in gaps.items():
        bent = {name: one for name, one in groups.items() if any(abs(level - one[0]) > 0.01 for level in one[1])}
        for place, group in enumerate(_order_of(bent)):
            tracks[gap, group] = place
    return tracks


def _order_of(bent: dict[str, tuple[float, set[float]]]) -> list[str]:
    """Uprights from left to right, so that few wires cross and none runs along another. bent: group -> (from, to)."""
    left, order = sorted(bent, key=lambda group: bent[group][0]), []
    while left:
        best = min(left, key=lambda one: sum(_cost(bent[one], bent[o]) - _cost(bent[o], bent[one]) for o in left))
        order.append(best)
        left.remove(best)
    return order


def _cost(ahead: tuple[float, set[float]], behind: tuple[float, set[float]]) -> int:
    """Crossings when one turns off left of the other; a wire on the same height as another counts much."""
    own, other = {ahead[0], *ahead[1]}, {behind[0], *behind[1]}
    crossed = sum(min(other) < level < max(other) for level in ahead[1]) + (min(own) < behind[0] < max(own))
    return crossed + 100 * sum(abs(level - behind[0]) < 1.0 for level in ahead[1])


def _spread(columns: Sequence[list[Cell]], tracks: Tracks, cells: dict[str, Cell]) -> None:
    """Put the columns side by side with room for their uprights."""
    x = 0.0
    for number, column in enumerate(columns):
        wide = max((cell.width for cell in column), default=0.0)
        for cell in column:
            cell.x = x
            if cell.width == 0.0:
                cell.width = wide
        x += wide + TRACK * (1 + _uprights(number, tracks))


def _points(stretch: Sequence[Hop], cells: dict[str, Cell], tracks: Tracks) -> tuple[Point, ...]:
    """The corners of one wire."""
    first, last = stretch[0], stretch[-1]
    start = (cells[first.start].x + cells[first.start].width, cells[first.start].y + first.start_y)
    points: list[Point] = [start]
    for hop in stretch:
        begin, end = cells[hop.start], cells[hop.end]
        from_y, to_y = begin.y + hop.start_y, end.y + hop.end_y
        if abs(from_y - to_y) > 0.01:
            ends = end.x - TRACK * (1 + _uprights(begin.column, tracks))
            x = ends + TRACK * (1 + tracks[begin.column, hop.group])
            points += [(x, from_y), (x, to_y)]
    return (*points, (cells[last.end].x, cells[last.end].y + last.end_y))


def _uprights(column: int, tracks: Tracks) -> int:
    return sum(gap == column for gap, _ in tracks)
