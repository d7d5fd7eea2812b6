"""Which side of the board lies up, or that it is out, as it is said."""

from __future__ import annotations

import re
from dataclasses import replace

from probewright.readings.bench import Bench
from probewright.readings.setups import Piece

TOP, BOTTOM, OUT = "top", "bottom", "out"  # the side of the board that lies up; OUT: it is out, both are at hand
HAVE = r"(?:(?:i|i've|we)\s+)?(?:have\s+|just\s+|now\s+)*"
BOARD = r"(?:the\s+)?(?:main\s+)?(?:board|pcb)"
IS = r"(?:\s+(?:is|lies))?(?:\s+now)?"
# common practice, no source: how it is said at the bench
SAID = (
    (OUT, rf"{HAVE}(?:took|taken|take|lifted)\s+{BOARD}\s+out|{BOARD}{IS}\s+(?:out|removed)|{HAVE}removed\s+{BOARD}"),
    (
        TOP,
        rf"(?:{BOARD}{IS}\s+)?(?:component|parts?|top)\s+side\s+up|{BOARD}{IS}\s+(?:back(?:\s+in)?|the right way up)",
    ),
    (TOP, rf"(?:{BOARD}{IS}\s+)?(?:component|parts?|top)\s+side\s+up|{BOARD}{IS}\s+the\s+right\s+way\s+up"),
    (TOP, rf"{BOARD}{IS}\s+back(?:\s+in)?|{HAVE}(?:put|turned|flipped)\s+{BOARD}\s+back(?:\s+in)?"),
    (BOTTOM, rf"(?:{BOARD}{IS}\s+)?(?:solder|foil|copper|track|bottom)\s+side\s+up|{BOARD}{IS}\s+upside\s+down"),
    ("", rf"{HAVE}(?:turned|flipped)\s+{BOARD}(?:\s+over)?|{BOARD}{IS}\s+(?:turned|flipped)(?:\s+over)?"),  # the other
)
LIES = {
    TOP: "the board lies component side up from here on",
    BOTTOM: "the board lies solder side up from here on",
    OUT: "the board is out from here on, until you say that it is back",
}


def to_side(piece: Piece, bench: Bench) -> tuple[Bench, tuple[str, ...]] | None:
    """The bench after "board out", "solder side up" or "turned the board over", and what to say; None for any other
    line."""
    line = piece.text.rstrip(" .!")
    for side, form in SAID:
        if re.fullmatch(form, line, re.IGNORECASE):
            there = side or (TOP if bench.side == BOTTOM else BOTTOM)
            other = "" if side else f"; the other one is `{'component' if there == BOTTOM else 'solder'} side up`"
            return replace(bench, side=there), (LIES[there] + other,)
    return None
