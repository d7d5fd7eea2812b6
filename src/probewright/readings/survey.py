"""What a line says about the bench, taken out before places and answers are paired."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from probewright.readings.doubts import Unsure, unclear
from probewright.readings.items import ANSWERS, PLACES, Item
from probewright.readings.quantities import unit_of

VALUE_UNITS = ("letter", "ohm", "farads", "F")
SAME_UNIT = (("letter", "ohm"), ("farads", "F"))  # "4k7 ohm", "4.7u F": the letter of the figure stands for it


@dataclass
class Surveyed:
    """A line taken apart. items: places, answers and breaks that are left; marked: part -> value on it.

    concludes, argues: words that say what is broken, or why; degree: words like "weak" that say no size.
    """

    items: list[Item] = field(default_factory=list)
    power: str = ""
    stimulus: str = ""
    range: str = ""
    range_start: int = 0
    showing: str = "yes"
    lifted: bool = False
    both_ways: bool = False
    moving: bool = False
    remarks: list[str] = field(default_factory=list)
    marked: dict[str, tuple[float, str]] = field(default_factory=dict)
    concludes: list[Item] = field(default_factory=list)
    argues: list[Item] = field(default_factory=list)
    degree: list[Item] = field(default_factory=list)


def survey(found: Sequence[Item]) -> Surveyed:
    """The items of a line with everything about the bench set aside."""
    line = Surveyed()
    one_unit_each(found)
    for item in expected(marked_ahead(marked_between(brackets(kinds(list(found)))), line), line):
        if not aside(item, line):
            line.items.append(item)
    return line


def aside(item: Item, line: Surveyed) -> bool:
    """Whether the item is about the bench; noted, said once."""
    kind = item.kind
    if kind in ("filler", "colon"):
        return True
    if kind == "power":
        once(line.power, item.means, "power is said to be both on and off", item)
        line.power = item.means
    elif kind == "stimulus":
        line.stimulus = " ".join(filter(None, [line.stimulus, item.text.casefold()]))
    elif kind == "range":
        once(line.range, item.means, "two ranges of the meter", item)
        line.range, line.range_start = item.means, item.start
    elif kind == "showing":
        line.showing = item.means
    elif kind in ("remark", "lifted", "both ways", "moving word"):
        noted(item, line)
    elif kind in ("conclude", "therefore", "degree word"):
        {"conclude": line.concludes, "therefore": line.argues, "degree word": line.degree}[kind].append(item)
    else:
        return False
    return True


def noted(item: Item, line: Surveyed) -> None:
    """Remarks, and those of them that matter to what a figure means."""
    line.lifted = line.lifted or item.kind == "lifted"
    line.both_ways = line.both_ways or item.kind == "both ways"
    line.moving = line.moving or item.kind == "moving word"
    if item.kind != "both ways":
        line.remarks.append(item.text)


def once(before: str, now: str, text: str, item: Item) -> None:
    """Refuse a second, different word for the same thing."""
    if before not in ("", now):
        raise Unsure("unclear", text, "write one line for each", item.start)


def one_unit_each(found: Sequence[Item]) -> None:
    """Refuse "16k8 F" and "2.6 V mV": behind a figure with its unit stands another one."""
    for figure, word in pairwise(found):
        said = figure.quantity
        if figure.kind != "figure" or word.kind != "word" or said is None or not said.unit:
            continue
        other = unit_of(word.text, word.start)
        if other is not None and (said.unit, other[0]) not in SAME_UNIT and (said.unit != other[0] or other[2]):
            raise Unsure("unit", f"{figure.text!r} and {word.text!r}: which unit?", "write one unit", word.start)


# Figures that are no readings ----------------------------------------------------------------


def kinds(items: list[Item]) -> list[Item]:
    """ "DC 2.61 V", "AC at TP1 2.5": the kind of volts in front goes into the next figure of its segment."""
    left: list[Item] = []
    waiting: Item | None = None
    for item in items:
        said = item.quantity
        if waiting and item.kind == "figure" and said and said.unit in ("", "V") and said.kind in ("", waiting.means):
            item = replace(item, quantity=replace(said, unit="V", kind=waiting.means))
            waiting = None
        if item.kind in ("break", "kind", "figure") and waiting:
            raise unclear(waiting.text, waiting.start)
        if item.kind == "kind":
            waiting = item
        else:
            left.append(item)
    if waiting:
        raise unclear(waiting.text, waiting.start)
    return left


def brackets(items: list[Item]) -> list[Item]:
    """ "(4k7)" behind a part is its mark, "(test point TP4)" a remark, other brackets are breaks."""
    left: list[Item] = []
    at = 0
    while at < len(items):
        end = next((k for k in range(at + 1, len(items)) if items[k].kind == "close"), -1)
        if items[at].kind != "open" or end < 0:
            left.append(replace(items[at], kind="break") if items[at].kind in ("open", "close") else items[at])
            at += 1
            continue
        left.extend(bracketed(items, at, end))
        at = end + 1
    return left


def bracketed(items: list[Item], at: int, end: int) -> list[Item]:
    """What stands between two brackets."""
    inner = items[at + 1 : end]
    others = [one for one in (*items[:at], *items[end + 1 :]) if one.kind in ANSWERS]
    if len(inner) == 1 and inner[0].kind == "figure" and others:
        said = inner[0].quantity
        after_part = at > 0 and items[at - 1].kind == "part"
        mark = (
            said is not None
            and said.unit in VALUE_UNITS
            and (after_part or any(one.kind == "part" for one in items[:at]))
        )
        return [replace(inner[0], kind="mark" if mark else "aside")]
    if any(
        one.kind in (*ANSWERS, "expect", "marked", "past", "power", "stimulus", "conclude", "therefore", "hedge")
        for one in inner
    ):
        edge = items[at]
        return [replace(edge, kind="break"), *inner, replace(items[end], kind="break")]
    if not inner:
        return []
    return [replace(inner[0], kind="remark", text=" ".join(one.text for one in inner), end=inner[-1].end)]


def marked_ahead(items: list[Item], line: Surveyed) -> list[Item]:
    """ "4k7 resistor R5 reads 3k9": a value before the part it stands on."""
    figures = [k for k, one in enumerate(items) if one.kind in (*ANSWERS, "mark")]
    first = figures[0] if figures else -1
    if len(figures) < 2 or items[first].quantity is None or any(one.kind in PLACES for one in items[:first]):
        return items
    ahead = [one for one in items[first + 1 : figures[1]] if one.kind != "filler"]
    made_of = [one.kind for one in ahead]
    nouns = all(
        one.text.casefold() in ("resistor", "cap", "capacitor", "electrolytic", "pot", "preset")
        for one in ahead
        if one.kind == "noun"
    )
    if made_of in (["part"], ["noun", "part"]) and nouns and items[first].quantity.unit in VALUE_UNITS:  # type: ignore[union-attr]
        put_mark(ahead[-1].text, items[first], line)
        return [*items[:first], *[one for one in items[first + 1 :] if one is not ahead[0] or one.kind == "part"]]
    return items


def marked_between(items: list[Item]) -> list[Item]:
    """ "C33 4u7 measures 3u9": a value behind the part, before the verb."""
    left = list(items)
    for at in range(len(items) - 3):
        part, mark, *rest = items[at : at + 6]
        said = [one for one in rest if one.text != ","]
        now = next((one for one in said if one.kind != "filler"), None)
        verb = said[:1] and said[0].kind == "filler" and now and now.quantity and now.quantity.unit in VALUE_UNITS
        if (
            part.kind == "part"
            and mark.kind == "figure"
            and mark.quantity
            and mark.quantity.unit in VALUE_UNITS
            and verb
        ):
            left[at + 1] = replace(mark, kind="mark")
    return left


def put_mark(part: str, figure: Item, line: Surveyed) -> None:
    """Remember the value printed on a part."""
    said = figure.quantity
    assert said is not None
    line.marked[part] = (said.value, "ohm" if said.unit in ("letter", "ohm") else "F")


def expected(items: list[Item], line: Surveyed) -> list[Item]:
    """Take out "should be 5 V", "was 11 V before", "marked 4k7", "(4k7)": figures nobody read now."""
    left: list[Item] = []
    part, at = "", 0
    while at < len(items):
        item = items[at]
        part = item.text if item.kind == "part" else part
        if item.kind in ("expect", "past", "marked"):
            at = foretold(items, at, part, line)
            continue
        if item.kind in ("mark", "aside"):
            keep_aside(item, item.kind == "mark", part, line)
        else:
            left.append(item)
        at += 1
    return left


def foretold(items: list[Item], at: int, part: str, line: Surveyed) -> int:
    """The figure behind "should be" or "marked", kept as a remark; where the line goes on."""
    end = at + 1
    if items[at].kind == "past":
        raise Unsure("unclear", "what was read before is not read now", "write only what is read now", items[at].start)
    while end < len(items) and items[end].kind in ("filler", "colon", "expect"):
        end += 1
    if end >= len(items) or items[end].kind != "figure":
        raise unclear(items[at].text, items[at].start)
    said = items[end].quantity
    mark = bool(part) and said is not None and said.unit in VALUE_UNITS
    keep_aside(items[end], mark, part, line, items[at].text)
    return end + 1


def keep_aside(item: Item, mark: bool, part: str, line: Surveyed, said: str = "") -> None:
    """A mark or an expectation, remembered."""
    if mark and part:
        put_mark(part, item, line)
    line.remarks.append(f"{said} {item.text}".strip() if said else f"({item.text})")
