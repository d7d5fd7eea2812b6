"""One part a line: kind first, then values and words, nets last.

Words of one line become a PartLine: nothing is looked up outside the line, nothing is assumed yet.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from probewright.machine.kinds import KINDS, Kind
from probewright.machine.part_words import (
    NOT_COMPUTED,
    SAYS_TOO_LITTLE,
    UNITS_IN_PACKAGE,
    Item,
    Word,
    read_items,
    split_words,
)
from probewright.machine.saying import NotNamed, Refused, nearest

MOST_WORDS = 3  # of a kind's name: `n channel mosfet`
NET_NAME = re.compile(r"[^\s,;:=>*?#@\[\](){}|]+")


@dataclass(frozen=True)
class PartLine:
    """A part line taken apart. kind: canonical name, "connector", or "" for a unit of a package."""

    kind: str
    items: tuple[Item, ...]
    pins: Mapping[str, str]
    package: str = ""  # for a unit: `of U1`
    pairs: tuple[tuple[str, str], ...] = ()  # for a connector, and for a row of pads
    offsets: Mapping[str, int] = field(default_factory=dict)  # pin -> characters into the line

    @property
    def classes(self) -> tuple[str, ...]:
        """Class words typed."""
        return tuple(item.name for item in self.items if item.what == "class")

    @property
    def units(self) -> int:
        """How many units the case holds; 0 when the line is no package line."""
        return next((UNITS_IN_PACKAGE[item.name] for item in self.items if item.what == "units"), 0)


def read_part_line(line: str, kind_of: Mapping[str, str]) -> PartLine:
    """Take a line apart; raises Refused. kind_of: package name -> kind, for `of` lines."""
    words = split_words(line)
    if not words:
        raise Refused("nothing after the name", "write a kind, its value and its nets: `resistor 10k  A > B`")
    first = words[0]
    if first.text == "of":
        return _unit_line(words, kind_of)
    if first.text == "connector":
        return _connector_line(words, line)
    count, kind = find_kind(words)
    if kind.row and sum(word.text == ">" for word in words) > 1:
        return _row_line(words[count:], kind)
    body, pins, offsets = _split_nets(words[count:], kind)
    items = tuple(read_items(body, kind))
    return _with_all_pins(PartLine(kind.name, items, pins, offsets=offsets), kind, first)


def known_kind(words: Sequence[Word]) -> tuple[int, Kind] | None:
    """The kind that a line's first words name, the longest name, and how many words that takes; None when none does."""
    for count in range(min(MOST_WORDS, len(words)), 0, -1):
        name = " ".join(word.text.lower() for word in words[:count])
        if name in KINDS:
            return count, KINDS[name]
    return None


def find_kind(words: Sequence[Word]) -> tuple[int, Kind]:
    """As `known_kind`; refuses unknown kinds and those not computed yet."""
    found = known_kind(words)
    if found:
        return found
    word, lower = words[0], words[0].text.lower()
    if lower in NOT_COMPUTED:
        raise Refused(f"{word.text!r} is known but not computed yet", NOT_COMPUTED[lower], word.offset)
    if lower in SAYS_TOO_LITTLE:
        raise Refused(f"{word.text!r} does not say which", SAYS_TOO_LITTLE[lower], word.offset)
    names = [*dict.fromkeys(kind.name for kind in KINDS.values()), *KINDS, *NOT_COMPUTED, "connector"]
    known = ", ".join(dict.fromkeys(kind.name for kind in KINDS.values()))
    raise Refused(
        f"{word.text!r} is not a kind of part", nearest(word.text, names, f"write one of: {known}"), word.offset
    )


def _unit_line(words: list[Word], kind_of: Mapping[str, str]) -> PartLine:
    """`of U1  plus=IN minus=OUT out=OUT`."""
    if len(words) < 2:
        raise Refused("`of` without a package", "write `of U1  plus=A minus=B out=C`")
    package = words[1]
    if package.text not in kind_of:
        raise NotNamed(
            f"no package is called {package.text!r}",
            nearest(package.text, kind_of, "write a line for the case: `U1: opamp dual  vplus=SUP vminus=GND`"),
            package.offset,
        )
    kind = KINDS[kind_of[package.text]]
    body, pins, offsets = _split_nets(words[2:], kind, unit=True)
    for pin in pins:
        if pin in kind.units_share:
            raise Refused(f"pin {pin} is on the package already", f"leave {pin}= out of this line", offsets[pin])
    return _with_all_pins(
        PartLine("", tuple(read_items(body, kind)), pins, package.text, offsets=offsets), kind, words[0]
    )


def _connector_line(words: list[Word], line: str) -> PartLine:
    """`connector SUP > VIN, OUT > LAMP`: pairs that part together."""
    rest, start = line[len("connector") :], len("connector")
    pairs: list[tuple[str, str]] = []
    for piece in rest.split(","):
        parts = piece.split()
        if len(parts) != 3 or parts[1] != ">":
            raise Refused(
                f"{piece.strip() or 'an empty pair'!r} is not a pair of nets",
                "write `connector SUP > VIN, OUT > LAMP`",
                start + len(piece) - len(piece.lstrip()),
            )
        pairs.append((net_name(Word(parts[0], start)), net_name(Word(parts[2], start))))
        start += len(piece) + 1
    return PartLine("connector", (), {}, pairs=tuple(pairs))


def _row_line(words: Sequence[Word], kind: Kind) -> PartLine:
    """`track 20m  A > B > C`: a part between each pad and the next, all alike."""
    first = next(number for number, word in enumerate(words) if word.text == ">") - 1
    row = words[max(first, 0) :]
    if first < 0 or len(row) % 2 == 0 or any((word.text == ">") != bool(place % 2) for place, word in enumerate(row)):
        raise Refused(
            "a row of pads has one net between each two >",
            f"write `{kind.name} 20m  A > B > C`, nets last",
            row[0].offset,
        )
    nets = [net_name(word) for word in row[::2]]
    return PartLine(kind.name, tuple(read_items(list(words[:first]), kind)), {}, pairs=tuple(pairwise(nets)))


def net_name(word: Word) -> str:
    """A net as typed (with * or bars still in it); raises Refused."""
    text = word.text.removesuffix("@").removeprefix("@")
    if not all(NET_NAME.fullmatch(one.replace("*", "")) for one in text.split("|")):
        raise Refused(
            f"{word.text!r} is not a net", "a net is one word without , ; : = > ? # @ or brackets", word.offset
        )
    return text


def _split_nets(
    words: Sequence[Word], kind: Kind, unit: bool = False
) -> tuple[list[Word], dict[str, str], dict[str, int]]:
    """Words before the nets, nets by pin, and where each stands."""
    arrows = [number for number, word in enumerate(words) if word.text == ">"]
    if arrows:
        return _arrow_nets(words, arrows, kind)
    for word in words:
        if ">" in word.text:
            left, right = re.split(r">+", word.text, maxsplit=1)
            raise Refused(
                f"{word.text!r} is not understood",
                f"write `{left or 'A'} > {right or 'B'}`, one > with a blank on each side",
                word.offset,
            )
    named = [number for number, word in enumerate(words) if "=" in word.text]
    if named:
        return _named_nets(words, named[0], kind)
    return _nets_in_order(words, kind, unit)


def _arrow_nets(
    words: Sequence[Word], arrows: list[int], kind: Kind
) -> tuple[list[Word], dict[str, str], dict[str, int]]:
    """`A > B`: the one word on each side."""
    at = arrows[0]
    ends = [pin for pin in kind.pins if pin not in kind.optional_pins]
    if len(ends) != 2:
        raise Refused(
            f"{kind.name} has {len(ends)} pins, `A > B` names two", f"write {_pin_form(kind)}", words[at].offset
        )
    if len(arrows) > 1 or at == 0 or at + 1 >= len(words):
        raise Refused("one net stands on each side of >", "write `A > B` once, at the end", words[at].offset)
    if at + 2 < len(words):
        after = words[at + 2]
        raise Refused(
            f"{after.text!r} stands after the nets", "nets come last; write values and words before them", after.offset
        )
    left, right = words[at - 1], words[at + 1]
    pins = {ends[0]: net_name(left), ends[1]: net_name(right)}
    return list(words[: at - 1]), pins, {ends[0]: left.offset, ends[1]: right.offset}


def _named_nets(words: Sequence[Word], first: int, kind: Kind) -> tuple[list[Word], dict[str, str], dict[str, int]]:
    """`c=SUP b=DRV e=OUT`."""
    pins: dict[str, str] = {}
    offsets: dict[str, int] = {}
    for word in words[first:]:
        typed, equals, net = word.text.partition("=")
        if not equals or not net or not typed:
            raise Refused(
                f"{word.text!r} stands among the pins", "write pins last, each as pin=net without blanks", word.offset
            )
        pin = _pin(typed, kind, word)
        if pin in pins:
            raise Refused(f"pin {pin} is named twice", "keep one of the two", word.offset)
        pins[pin] = net_name(Word(net, word.offset + len(typed) + 1))
        offsets[pin] = word.offset
    return list(words[:first]), pins, offsets


def _pin(typed: str, kind: Kind, word: Word) -> str:
    """The pin's own name for a typed one; letters of either case."""
    names = {**{pin: pin for pin in kind.pins}, **kind.aliases}
    if typed.lower() not in names:
        raise Refused(
            f"{kind.name} has no pin {typed!r}", nearest(typed, names, f"write {_pin_form(kind)}"), word.offset
        )
    return names[typed.lower()]


def _nets_in_order(words: Sequence[Word], kind: Kind, unit: bool) -> tuple[list[Word], dict[str, str], dict[str, int]]:
    """`npn power SUP DRV OUT`: the last words, in the printed order of the pins."""
    left_out = (*kind.optional_pins, *(kind.units_share if unit else ()))
    order = [pin for pin in (kind.order or kind.pins) if pin not in left_out]
    if len(order) < 3 or len(words) < len(order) or (kind.units_share and _is_package(words)):
        raise Refused(
            f"the nets of this {kind.name} are missing", f"write {_pin_form(kind)}", words[-1].offset if words else 0
        )
    last = words[-len(order) :]
    pins = {pin: net_name(word) for pin, word in zip(order, last, strict=True)}
    for word in last:
        if kind.classes.get(word.text) or any(word.text == one.word for one in kind.parameters):
            raise Refused(f"{word.text!r} stands where a net should be", f"write {_pin_form(kind)}", word.offset)
    return list(words[: -len(order)]), pins, {pin: word.offset for pin, word in zip(order, last, strict=True)}


def _is_package(words: Sequence[Word]) -> bool:
    return any(word.text in UNITS_IN_PACKAGE for word in words)


def _pin_form(kind: Kind) -> str:
    """How the pins of a kind are written."""
    pins = [pin for pin in kind.pins if pin not in kind.optional_pins]
    return "`A > B`" if len(pins) == 2 else "`" + " ".join(f"{pin}=NET" for pin in pins) + "`"


def _with_all_pins(line: PartLine, kind: Kind, word: Word) -> PartLine:
    """Fill in optional pins; refuse a line that leaves others out."""
    if line.units and not kind.units_share:
        raise Refused(f"{kind.name} does not come several in one case", "leave dual or quad out", word.offset)
    wanted = (
        kind.units_share if line.units else [pin for pin in kind.pins if not (line.package and pin in kind.units_share)]
    )
    extra = [pin for pin in line.pins if pin not in wanted]
    if extra:
        raise Refused(
            f"pin {extra[0]} belongs to a unit, not to the case",
            f"write it in a line `of ...`: {extra[0]}={line.pins[extra[0]]}",
            line.offsets[extra[0]],
        )
    pins: dict[str, str] = {}
    for pin in wanted:
        net = line.pins.get(pin) or kind.optional_pins.get(pin)
        if net is None:
            also = " (or dual or quad, if this is a case with several)" if kind.units_share and not line.package else ""
            raise Refused(
                f"pin {pin} is missing", f"write {pin}=NET, or {pin}=nc when nothing is connected{also}", word.offset
            )
        pins[pin] = net
    return replace(line, pins=pins)


def canonical_line(line: PartLine) -> str:
    """The line as `check --write` prints it: kind, words in the order typed, two blanks, nets."""
    if line.kind == "connector":
        return "connector  " + ", ".join(f"{a} > {b}" for a, b in line.pairs)
    if line.pairs:
        row = " > ".join((line.pairs[0][0], *(b for _, b in line.pairs)))
        return " ".join([line.kind, *(item.canonical for item in line.items)]) + f"  {row}"
    head = [f"of {line.package}" if line.package else line.kind, *(item.canonical for item in line.items)]
    return " ".join(head) + "  " + _canonical_nets(line)


def _canonical_nets(line: PartLine) -> str:
    """`A > B` for kinds of two pins, else pin=net; pins left at their usual net are not written."""
    usual = KINDS[line.kind].optional_pins if line.kind else {}
    shown = {pin: net for pin, net in line.pins.items() if usual.get(pin) != net}
    if line.kind and len(KINDS[line.kind].pins) == 2:
        first, second = (line.pins[pin] for pin in KINDS[line.kind].pins)
        return f"{first} > {second}"
    return " ".join(f"{pin}={net}" for pin, net in shown.items())
