"""Where the boxes of a row go and how the wires run between them: one function, two ways to do it.

All lengths are CSS pixels at natural scale; x goes right, y goes down.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from probewright.drawing import columns, elk
from probewright.drawing.graph import Graph, Point, Positions

# Chosen by eye: room for a finger beside a dot, and for two wires between two boxes.
BETWEEN_COLUMNS = 24.0
BETWEEN_BOXES = 18.0
BETWEEN_WIRES = 14.0

OPTIONS = {
    "elk.algorithm": "layered",
    "elk.direction": "RIGHT",
    "elk.edgeRouting": "ORTHOGONAL",
    "elk.padding": "[top=0,left=0,bottom=0,right=0]",
    "elk.spacing.nodeNode": str(BETWEEN_BOXES),
    "elk.spacing.edgeNode": str(BETWEEN_WIRES),
    "elk.spacing.edgeEdge": str(BETWEEN_WIRES),
    "elk.spacing.componentComponent": str(BETWEEN_BOXES),
    "elk.layered.spacing.nodeNodeBetweenLayers": str(BETWEEN_COLUMNS),
    "elk.layered.spacing.edgeNodeBetweenLayers": str(BETWEEN_WIRES),
    "elk.layered.spacing.edgeEdgeBetweenLayers": str(BETWEEN_WIRES),
    "elk.layered.nodePlacement.strategy": "BRANDES_KOEPF",
    "elk.layered.considerModelOrder.strategy": "NODES_AND_EDGES",
    "elk.layered.thoroughness": "20",
    "elk.randomSeed": "1",
}

TIGHT = {"elk.layered.spacing.nodeNodeBetweenLayers": "6", "elk.layered.spacing.edgeNodeBetweenLayers": "8"}


@lru_cache(maxsize=256)
def layout(graph: Graph) -> Positions:
    """Positions of every box and the bends of every wire; the built-in columns where elk is not there."""
    engine = elk.engine()
    if engine is not None and graph.edges:
        try:
            return by_elk(graph, engine)
        except elk.NotLaidOut:
            pass  # the built-in way draws every graph
    return columns.layout(graph)


def by_elk(graph: Graph, engine: Callable[[dict[str, Any]], dict[str, Any]]) -> Positions:
    """The layered layout, with every port where the box has it."""
    asked = {
        "id": "row",
        "layoutOptions": {**OPTIONS, **(TIGHT if graph.tight else {})},
        "children": [
            {
                "id": box.name,
                "width": box.width,
                "height": box.height,
                "layoutOptions": {"elk.portConstraints": "FIXED_POS"},
                "ports": [
                    {
                        "id": f"{box.name}/{port.name}",
                        "x": port.x,
                        "y": port.y,
                        "width": 0,
                        "height": 0,
                        "layoutOptions": {"elk.port.side": "WEST" if port.west else "EAST"},
                    }
                    for port in box.ports
                ],
            }
            for box in graph.boxes
        ],
        "edges": [
            {
                "id": f"wire {number}",
                "sources": [f"{edge.start[0]}/{edge.start[1]}"],
                "targets": [f"{edge.end[0]}/{edge.end[1]}"],
            }
            for number, edge in enumerate(graph.edges)
        ],
    }
    done = engine(asked)
    places = {child["id"]: (float(child["x"]), float(child["y"])) for child in done["children"]}
    wires = {edge["id"]: edge["sections"][0] for edge in done["edges"]}
    return Positions(
        places,
        tuple(_bends(wires[f"wire {number}"]) for number in range(len(graph.edges))),
        float(done["width"]),
        float(done["height"]),
    )


def _bends(section: dict[str, Any]) -> tuple[Point, ...]:
    points = [section["startPoint"], *section.get("bendPoints", []), section["endPoint"]]
    return tuple((float(one["x"]), float(one["y"])) for one in points)


__all__ = ["layout"]
