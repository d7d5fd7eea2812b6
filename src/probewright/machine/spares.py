"""A part as it is offered at the counter: its line without nets, with the case it comes in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from probewright.errors import BadInput, Complaint
from probewright.machine.building import Assumed, part_from
from probewright.machine.kinds import KINDS, Kind
from probewright.machine.model import Part
from probewright.machine.packages import packages
from probewright.machine.part_lines import PartLine, known_kind
from probewright.machine.part_words import Item, Word, read_items, split_words
from probewright.machine.saying import Refused
from probewright.units import write_value

EXAMPLE = "write it as a part line without nets: `electrolytic 47u 63V`, `npn medium gain 60..250 60V 1A order ECB`"


FAR = 10.0  # chosen: a new part this many times beyond what its kind usually has is a slip of the prefix


@dataclass(frozen=True)
class Spare:
    """A new part. part: on the nets of the old one, known good; package: the case it comes in, "" where nobody said."""

    part: Part
    package: str
    typed: tuple[str, ...]  # names of the figures that were typed


def read_spare(text: str, old: Part) -> Spare:
    """A new part in the place of an old one; a kind that is not typed is the old one's. BadInput."""
    try:
        return _read(text, old)
    except Refused as problem:
        raise BadInput(Complaint("", 1, problem.offset + 1, problem.text, problem.mend)) from None


def _read(text: str, old: Part) -> Spare:
    words = split_words(text)
    cases = {name.casefold(): name for name in packages()}
    package = next((cases[word.text.casefold()] for word in words if word.text.casefold() in cases), "")
    words = [word for word in words if word.text.casefold() not in cases]
    found = known_kind(words)
    kind = found[1] if found else KINDS[old.kind]
    body = words[found[0] if found else 0 :]
    if not body and not found:
        raise Refused("nothing is said of the new part", EXAMPLE)
    if kind.name == old.kind and not any(word.text.lower() in kind.classes for word in body):
        body = [*(Word(one, 0) for one in old.classes if one in kind.classes), *body]  # as the old one
    items = tuple(read_items(body, kind))
    _refuse_far_off(items, kind, words)
    part = part_from(PartLine(kind.name, items, dict(old.pins)), old.name, old.family, None, Assumed())
    kept = {name: getattr(old, name) for name in ("section", "channel", "role", "board", "package", "off", "spot")}
    return Spare(replace(part, known_good=True, **kept), package, tuple(i.name for i in items if i.what == "figure"))


def _refuse_far_off(items: Sequence[Item], kind: Kind, words: Sequence[Word]) -> None:
    """A value of its own that nothing at the counter has: 47k of a capacitor is 47 000 F."""
    for item in items:
        if item.what != "figure" or item.value is None or item.value.unknown:
            continue
        one = kind.parameter(item.name)
        if not one.word and one.low > 0.0 and not one.low / FAR <= item.value.si <= one.high * FAR:
            offset = next((word.offset for word in words if item.typed.startswith(word.text)), 0)
            usual = f"usual is {write_value(one.low, one.unit)} to {write_value(one.high, one.unit)}"
            raise Refused(f"{item.typed} is no {item.name} of a new part", f"write its prefix anew; {usual}", offset)
