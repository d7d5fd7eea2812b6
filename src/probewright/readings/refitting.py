"""What was lifted or taken out for a reading is in again, as it is said."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from probewright.readings import Setup
from probewright.readings.bench import Bench, move
from probewright.readings.repairing import AND, HAVE
from probewright.readings.setups import Piece

WHAT = r"(?P<what>.+?)"
IN = r"\s+back(?:\s+in)?(?:\s+again)?"
# common practice, no source: how it is said at the bench
BACK = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"{HAVE}(?:solder(?:ed)?|put|plug(?:ged)?|fit(?:ted)?){IN}\s+{WHAT}",
        rf"{HAVE}(?:solder(?:ed)?|put|plug(?:ged)?|fit(?:ted)?)\s+{WHAT}{IN}",
        rf"{HAVE}(?:solder(?:ed)?|plug(?:ged)?|fit(?:ted)?|refit(?:ted)?)\s+{WHAT}(?:\s+in)?\s+again",
        rf"{WHAT}\s+(?:(?:is|are)\s+)?(?:(?:soldered|plugged|put)\s+)?back(?:\s+in)?(?:\s+again)?",
        rf"{WHAT}\s+(?:(?:is|are)\s+)?(?:soldered|plugged)\s+in(?:\s+again)?",
        rf"{HAVE}(?:refitted|reconnected)\s+{WHAT}",
    )
)
OF = re.compile(r"(?:the\s+)?(?:(?:legs?|pins?)\s+(?:of\s+)?)?", re.IGNORECASE)
ALL = ("everything", "all", "all of it", "all legs", "all parts")


def to_back_in(piece: Piece, bench: Bench) -> tuple[Bench, tuple[str, ...]] | None:
    """The bench after "R4.2 back in", "soldered R4 back" or "everything is back in", and what to say; None for any
    other line, and where nothing of the kind is out."""
    line, setup = piece.text.strip(" .!"), bench.setup
    for form in BACK:
        found = form.fullmatch(line)
        names = (
            [OF.sub("", one, count=1).casefold() for one in re.split(AND, found["what"], flags=re.IGNORECASE)]
            if found
            else []
        )
        back = {one: tuple(_meant(one, setup)) for one in names}
        if back and all(back.values()):
            there = {name for each in back.values() for name in each}
            lifted = tuple(leg for leg in setup.lifted if leg not in there)
            unplugged = tuple(part for part in setup.unplugged if part not in there)
            said = f"{' and '.join(sorted(there))} in again"
            return move(bench, replace(setup, lifted=lifted, unplugged=unplugged)), (said,)
    return None


def _meant(name: str, setup: Setup) -> Iterator[str]:
    """What is out and meant by a name: a leg, all legs of a part, a part, or everything."""
    for one in (*setup.lifted, *setup.unplugged):
        if name in ALL or name in (one.casefold(), one.casefold().rpartition(".")[0]):
            yield one
