"""Which side of the board lies up, or that it is out, as it is said."""

from __future__ import annotations

import re
from dataclasses import replace

from probewright.readings.bench import Bench
from probewright.readings.repairing import HAVE
from probewright.readings.setups import Piece

TOP, BOTTOM, OUT = "top", "bottom", "out"  # the side of the board that lies up; OUT: it is out, both are at hand
OVER, BACK = "over", "back"  # as it is said too: the other side than before; in its place again
BOARD = r"(?:the\s+)?(?:main\s+)?(?:board|pcb)"
IS = r"(?:'s|’s|\s+is|\s+lies|\s+lying)?(?:\s+now)?"
PARTS, SOLDER = r"(?:component|parts?|top)\s+side", r"(?:solder|foil|copper|track|bottom)\s+side"
CASE = r"(?:\s+(?:of\s+)?(?:its|the)\s+(?:case|cabinet|housing|chassis))?"
# common practice, no source: how it is said at the bench
SAID = (
    (OUT, rf"{HAVE}(?:took|taken|take|lifted)\s+{BOARD}\s+out{CASE}|{BOARD}{IS}\s+(?:out{CASE}|removed)"),
    (OUT, rf"{HAVE}removed\s+{BOARD}"),
    (BACK, rf"{BOARD}{IS}\s+back(?:\s+in)?{CASE}|{HAVE}put\s+{BOARD}\s+back(?:\s+in)?{CASE}|{HAVE}refitted\s+{BOARD}"),
    (TOP, rf"(?:{BOARD}{IS}\s+)?{PARTS}{IS}\s+up|{BOARD}{IS}\s+the\s+right\s+way\s+up|{BOARD}{IS}\s+face\s+up"),
    (BOTTOM, rf"(?:{BOARD}{IS}\s+)?{SOLDER}{IS}\s+up|{BOARD}{IS}\s+(?:upside|face)\s+down"),
    (OVER, rf"{HAVE}(?:turned|flipped)\s+(?:{BOARD}(?:\s+back)?(?:\s+over)?|it(?:\s+back)?\s+over)"),
    (OVER, rf"{BOARD}{IS}\s+(?:turned|flipped)(?:\s+back)?(?:\s+over)?"),
)
LIES = {
    TOP: "the board lies component side up from here on",
    BOTTOM: "the board lies solder side up from here on",
    OUT: "the board is out from here on, until you say `board back in`",
    OVER: "the board is turned over: say `solder side up` or `component side up` if that is not how it lies",
    BACK: "the board is in its place again, component side up",
}


def to_side(piece: Piece, bench: Bench) -> tuple[Bench, tuple[str, ...]] | None:
    """The bench after "board out", "solder side up" or "turned the board over", and what to say; None for any other
    line."""
    line = piece.text.rstrip(" .!")
    side = next((side for side, form in SAID if re.fullmatch(form, line, re.IGNORECASE)), "")
    return (replace(bench, side=side, turns=bench.turns + 1), (LIES[side],)) if side else None
