"""`opening:` of a machine file: its layers in the order in which they come off, every word understood."""

from __future__ import annotations

from probewright.machine.known import Known
from probewright.machine.layers import Layer
from probewright.machine.opening import pieces_of, with_piece
from probewright.machine.opening_words import FORMS, MOST_LETTERS, NOTE
from probewright.machine.saying import Notes, Refused
from probewright.machine.yaml_text import Piece, Table, Text


def read_opening(piece: Piece, known: Known, notes: Notes) -> tuple[Layer, ...]:
    """`lid: 4 screws M3x6 bottom, tray A`, a layer a line; complains about every piece that says nothing known."""
    if not isinstance(piece, Table):
        notes.complain(
            piece.spot, "`opening:` holds what comes off, in its order", "write `lid: 4 screws M3x6 bottom` under it"
        )
        return ()
    found = []
    for name, line in piece:
        if not isinstance(line, Text):
            notes.complain(line.spot, f"the layer {name.value!r} is one line", f"write `{name.value}: ...` in one line")
            continue
        with notes.refusing(line.inside):
            found.append(_layer(name.value, line.value, known))
    return tuple(found)


def _layer(name: str, line: str, known: Known) -> Layer:
    if len(line) > MOST_LETTERS:
        raise Refused(
            f"the layer {name!r} has {len(line)} letters", f"write at most {MOST_LETTERS}, or make it two layers"
        )
    layer = Layer(name, " ".join(line.split()))
    for piece, offset in pieces_of(line):
        understood = with_piece(layer, piece)
        if understood is None or (understood.notes != layer.notes and not NOTE.fullmatch(piece)):
            raise Refused(f"{piece!r} does not say what comes loose", FORMS, offset)
        for one in understood.loose[len(layer.loose) :]:
            if one.sort == "heatsink" and one.name:
                known.some_parts(one.name, line.index(one.name, offset), cases=True)
        layer = understood
    return layer
