"""Volts of what swings, hum, ripple, a signal: how their size is said, and that it is not taken for direct volts."""

from __future__ import annotations

import re

from probewright.machine.model import Machine
from probewright.readings.cooling import FIGURE
from probewright.readings.doubts import which_volts

VOLTS = rf"[-+]?{FIGURE}\s?[mµu]?V\b(?!\s?(?:p-?p|peak|rms|ac\b|dc\b))"
HUMS, SOUNDS = r"(?<!no )(?:hum|buzz|noise|hiss|ripple)", r"(?<!no )(?:signal|audio|music)"
MUCH = r"\s*[:=]?\s*(?:is\s+|about\s+|of\s+)?"
# common practice, no source: how such a size is said
UNSAID = re.compile(
    rf"(?i)\b(?:{HUMS}|{SOUNDS})\s+(?:on|at|of|across)\s+(?:the\s+)?\S+(?:\s+\w+)?{MUCH}(?P<place>{VOLTS})"
    rf"|\b(?P<size>{VOLTS})\s+(?:of\s+)?(?:{HUMS}|{SOUNDS})\b(?!{MUCH}[-+]?[\d.,])"
    rf"|(?:\b{HUMS}|\S\s+{SOUNDS}){MUCH}(?P<last>{VOLTS})"
)
BESIDE = re.compile(
    rf"(?i)(?P<first>.*\d.*?)(?:\s*[,;]\s*|\s+)(?:(?:and|with|plus)\s+)?(?:an?\s+)?(?:{HUMS}{MUCH})?"
    rf"(?P<swing>{FIGURE}\s?[mµu]?V\s?(?:p-?p|rms))(?:\s+(?:of\s+)?{HUMS})?[ .!]*"
)


def ask_for_the_kind(text: str, machine: Machine | None) -> None:
    """Unsure for "hum on VCC 50 mV": rms, peak to peak or direct volts are not guessed. A place of the file that is
    called so is none of these."""
    found = UNSAID.search(text)
    places = (*machine.nets, *machine.points) if machine else ()
    if found and not any(re.search(rf"(?i){HUMS}|{SOUNDS}", one) for one in places):
        raise which_volts(next(found.start(name) for name in ("place", "size", "last") if found[name]))


def beside(text: str) -> tuple[str, str] | None:
    """ "TP4 2.6 V, ripple 0.2 Vpp": what was read first, and the size of what swings on it; None for any other line."""
    found = BESIDE.fullmatch(text)
    return (found["first"], found["swing"]) if found else None
