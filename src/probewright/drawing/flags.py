"""Signs at the end of a lead: ground, rails, nets that go on elsewhere, pins wired to nothing, the two probes."""

from __future__ import annotations

from probewright.drawing.pen import Pen, text_width
from probewright.drawing.rows import is_open
from probewright.machine.model import GROUND

LEAD = 10.0  # between a pin and its flag
BELOW = 34.0  # height a flag takes, its lead counted
PROBE_WIDTH, PROBE_HEIGHT = 66.0, 30.0


def flag_half(net: str) -> float:
    """Half the width a flag takes across its lead."""
    return 14.0 if net == GROUND or is_open(net) else max(14.0, text_width(net, 15.0) / 2 + 4.0)


def flag(pen: Pen, net: str, x: float, y: float, up: bool) -> None:
    """The flag of a net at the upper or lower end of a lead that ends at (x, y)."""
    owner, way = f"net {net}", -1.0 if up else 1.0
    end = y + way * LEAD
    pen.line(owner, [(x, y), (x, end)])
    if is_open(net):
        open_end(pen, net, x, end + way * 4.0)
    elif net == GROUND:
        for place, half in enumerate((12.0, 8.0, 3.5)):
            pen.line(owner, [(x - half, end + way * 5 * place), (x + half, end + way * 5 * place)], "pw-bar")
    else:
        pen.line(owner, [(x - 12, end), (x + 12, end)], "pw-bar")
        pen.write(owner, x, end - 7.0 if up else end + 18.0, net, style="pw-rail")
    if not is_open(net):
        pen.flags.setdefault(net, (x, end))


def pennant_width(text: str) -> float:
    """Length of the pointed flag of a net that goes on elsewhere."""
    return text_width(text, 15.0) + 26.0


def pennant(pen: Pen, net: str, x: float, y: float, into: bool) -> None:
    """The pointed flag of a net: it comes from elsewhere and its tip is at (x, y), or it goes on and begins there."""
    wide = pennant_width(net)
    left = x - wide if into else x
    path = f"M{left:g} {y - 14:g}H{left + wide - 12:g}L{left + wide:g} {y:g}L{left + wide - 12:g} {y + 14:g}H{left:g}Z"
    pen.put(f"net {net}", f'<path class="pw-fill" d="{path}"/>')
    pen.write(f"net {net}", left + 7.0, y + 5.5, net, "start", "pw-rail")


def open_end(pen: Pen, net: str, x: float, y: float) -> None:
    """The end of a lead that is wired to nothing."""
    pen.put(f"net {net}", f'<circle class="pw-fill" cx="{x:g}" cy="{y:g}" r="4"/>')


def probe(pen: Pen, colour: str, place: str, x: float, y: float, drop: float) -> None:
    """A lead whose tip is at (x, y) and whose handle hangs below: red ends round, black square, each with its word."""
    word, style = colour.capitalize(), f"pw-{colour}"
    pen.line("probe", [(x, y + 12), (x, y + drop)], f"{style}-lead")
    if colour == "red":
        pen.put("probe", f'<circle class="{style}-tip" cx="{x:g}" cy="{y:g}" r="12"/>')
    else:
        pen.put("probe", f'<rect class="{style}-tip" x="{x - 11:g}" y="{y - 11:g}" width="22" height="22"/>')
    left, top, round_by = x - PROBE_WIDTH / 2, y + drop, PROBE_HEIGHT / 2 if colour == "red" else 2
    pen.put(
        "probe",
        f'<rect class="{style}-handle" x="{left:g}" y="{top:g}" width="{PROBE_WIDTH:g}" height="{PROBE_HEIGHT:g}" '
        f'rx="{round_by:g}"/>',
    )
    pen.write("probe", x, top + 20.5, word, style=f"{style}-word")
