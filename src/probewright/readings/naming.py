"""Places as said against what the machine file calls them; with no file they stay as said."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from probewright import units
from probewright.errors import BadInput, NotAValue
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Part
from probewright.machine.saying import nearest
from probewright.readings import setups
from probewright.readings.doubts import Unsure
from probewright.readings.items import part_items
from probewright.readings.setups import Piece
from probewright.readings.spots import Spot
from probewright.readings.tokens import Token, longest, tokens

BEHIND, AHEAD = ("after", "out", "output", "behind", "outp"), ("before", "in", "input", "inp")
NOUNS = ("rail", "supply", "line", "bus", "feed", "net", "node")  # common practice, no source
LINKS = ("of", "at", "on", "the", "pin", "by", "out of", "from")


@dataclass(frozen=True)
class Names:
    """What can be named on this bench: words of a name -> what it is ("name", "noun", "function", "extra").

    functions: words of each function, in any order -> its name; exact: names that must be written with their capitals.
    """

    known: Mapping[tuple[str, ...], str] = field(default_factory=dict)
    functions: Mapping[frozenset[str], str] = field(default_factory=dict)
    exact: frozenset[str] = frozenset()

    def find(self, found: Sequence[Token], at: int) -> tuple[str, int] | None:
        """The longest known name that begins at a token: what it is and where it ends."""
        for end in range(min(len(found), at + 6), at, -1):
            kind = self.known.get(tuple(one.low for one in found[at:end]))
            if kind and (kind != "name" or end - at > 1 or found[at].low not in self.exact or found[at].text.isupper()):
                return kind, end
        return None


def words_of(name: str) -> tuple[str, ...]:
    """A name as the tokens a person types for it."""
    return tuple(one.low for one in tokens(name))


def names(machine: Machine | None, functions: Iterable[str], extras: Iterable[str]) -> Names:
    """Everything that has a name here."""
    known: dict[tuple[str, ...], str] = {}
    every = [*functions, *([works.name for works in machine.works] if machine else [])]
    known.update({words_of(one): "function" for one in every})
    known.update({words_of(one): "extra" for one in extras})
    if machine:
        known.update(_of_machine(machine))
    plain = frozenset(key[0] for key in known if len(key) == 1 and (len(key[0]) < 3 or longest(tokens(key[0]), 0)))
    bags = {frozenset(words_of(one)): one for one in every}
    parts = {name.casefold() for name in machine.parts} if machine else set()
    places = {key: kind for key, kind in known.items() if key and not (kind == "name" and _is_of_part(key[0], parts))}
    return Names(places, bags, plain if machine else frozenset())


def _is_of_part(word: str, parts: Collection[str]) -> bool:
    """A name that says a part, or a pin of one, of this machine; a net that only looks like one is none."""
    return any(one.text.casefold() in parts for one in part_items(Token(word, "", 0, 0)))


def _of_machine(machine: Machine) -> Iterator[tuple[tuple[str, ...], str]]:
    """Nets, points, parts with names of their own, and blocks as spoken."""
    for part in machine.parts.values():
        kind = "extra" if part.role == "extra" else "noun"
        for name in (part.name, spoken(part)):
            if not part_items(Token(name, "", 0, 0)):
                yield words_of(name), kind
    for name in (*machine.nets, *machine.points):
        if name != GROUND:
            yield words_of(name), "name"


def spoken(part: Part) -> str:
    """A part's name as a person says it, without the mark of its channel."""
    return (part.family or part.name).replace("*", "").replace("-", " ").strip()


# With a machine file ---------------------------------------------------------------------------


def resolve(spot: Spot, machine: Machine | None) -> str:
    """The place the machine file knows, or the words as said when there is no file. Unsure when it knows none."""
    if spot.name == GROUND or (machine is None and not spot.settled):
        return GROUND if spot.name == GROUND else spot.text
    if spot.settled or machine is None:
        return spot.text
    for name in candidates(spot, machine):
        if found := known_place(name, machine):
            return found
    if found := of_block(spot, machine) or known_place(without_noun(spot.name), machine):
        return found
    every = (*machine.points, *machine.nets)
    mend = nearest(spot.text, every) if not spot.part or spot.part not in machine.parts else pins(spot.part, machine)
    raise Unsure("place", f"the machine file has no place {spot.text!r}", mend, spot.start)


def without_noun(name: str) -> str:
    """ "VCC rail": the net without the word for what it is."""
    return " ".join(word for word in name.split() if word.casefold() not in NOUNS)


def pins(part: str, machine: Machine) -> str:
    """What to write for a part of which no known pin was said."""
    return f"write {setups.pins_in_words(machine.parts[part])}"


def known_place(name: str, machine: Machine) -> str:
    """The net, point or pin of that name; "" when there is none."""
    try:
        return setups.place(Piece(name), machine)
    except BadInput:
        return ""


def candidates(spot: Spot, machine: Machine) -> Iterator[str]:
    """How the file may write what was said."""
    if spot.channel:
        for mark in marks(spot.channel, machine):
            for part in machine.parts.values():
                if part.channel == mark and spot.part and spoken(part).casefold() == spot.part.casefold() and spot.pin:
                    yield f"{part.name}.{spot.pin}"
            yield f"{spot.name}{mark}"
        return
    yield spot.name
    if spot.part and " " in spot.name:
        yield spot.name.replace(" ", ".", 1)
    yield spot.name.replace(" ", "-")
    yield spot.name.replace(" ", "")


def marks(channel: str, machine: Machine) -> list[str]:
    """The marks of a channel said as left or right."""
    return [
        mark for mark, label in machine.channels.items() if channel and channel in (label.casefold(), mark.casefold())
    ]


def of_block(spot: Spot, machine: Machine) -> str:
    """ "left preamp out", "after the volume, right": the net behind or before a block; "" when there is none."""
    said = [word for word in spot.words if word not in (*LINKS, spot.channel, "channel")]
    behind, ahead = any(word in BEHIND for word in said), any(word in AHEAD for word in said)
    named = [word for word in said if word not in (*BEHIND, *AHEAD)]
    every = [part for part in machine.parts.values() if said and set(words_of(spoken(part).casefold())) == set(said)]
    behind, ahead = (behind, ahead) if not every else (False, False)  # "line out" is the name of a load
    family = every or [part for part in machine.parts.values() if named and called(part, named)]
    mine = [part for part in family if not part.channel or part.channel in marks(spot.channel, machine)]
    if family and not mine:
        raise Unsure(
            "place",
            f"which channel of {' '.join(named or said)}?",
            f"write `{' or '.join(machine.channels.values())}` before it",
            spot.start,
        )
    nets = {net for part in mine if (net := side(part, behind, ahead))}
    return nets.pop() if len(nets) == 1 and not (behind and ahead) else ""


def called(part: Part, said: Sequence[str]) -> bool:
    """Whether a part is meant by these words, its name in any order or its value."""
    return set(words_of(spoken(part).casefold())) == set(said) or (len(said) == 1 and worth(part, said[0]))


def worth(part: Part, said: str) -> bool:
    """Whether "4u7" or "10k" is the value of this part."""
    for figure in part.figures.values():
        try:
            if (
                figure.unit in ("F", "ohm")
                and said[:1].isdigit()
                and units.read_value(said, figure.unit).si == figure.nominal
            ):
                return True
        except NotAValue:
            continue
    return False


def side(part: Part, behind: bool, ahead: bool) -> str:
    """The net of its output, or of its input where that was said; "" when the part has no such side."""
    if "in" in part.pins and "out" in part.pins:
        return part.pins["in" if ahead else "out"]
    if "wiper" in part.pins:
        return part.pins["top" if ahead else "wiper"]
    if KINDS[part.kind].hangs:
        return "" if behind else part.pins["1"]
    if "1" in part.pins and "2" in part.pins and (behind or ahead):
        return part.pins["1" if ahead else "2"]
    if KINDS[part.kind].feeds and part.pins.get("minus") == GROUND:
        return part.pins["plus"]
    return ""
