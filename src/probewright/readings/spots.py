"""Where a probe was, as said: pins by part and letter, else the words of the person with the channel first."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from probewright.readings.doubts import Unsure, unclear
from probewright.readings.items import CHIP, TRANSISTOR, TWO_LEGS, Item, letters_of
from probewright.readings.tokens import named

INNER = ("of", "at", "on", "after", "before", "by", "in", "out of", "through", "from")
LEADING = ("after", "before", "by", "out of", "through")  # these belong to the name of a place
MOST_UNKNOWN = 3  # chosen, words: longer runs are sentences, not places
ANCHORS = ("noun", "numbered", "name", "side", "extra", "moving", "ground")


@dataclass(frozen=True)
class Spot:
    """A place as said. name: without its channel ("top of vol pot", "Q7.c"); channel: "left", "right" or "".

    part, pin: set when it is a pin, or a part alone; words: what it was said in, small letters, for names
    of blocks and nets; function: it is something the owner sees or hears, not a place; settled: name is a
    place that is already known.
    """

    name: str
    channel: str = ""
    part: str = ""
    pin: str = ""
    words: tuple[str, ...] = ()
    start: int = 0
    function: bool = False
    settled: bool = False

    @property
    def text(self) -> str:
        """The whole name, channel first."""
        return " ".join(filter(None, (self.channel, self.name)))

    @property
    def bare(self) -> bool:
        """Whether a part was named and nothing of it."""
        return bool(self.part) and self.name == self.part

    @property
    def two_ended(self) -> bool:
        """Whether the words alone name a thing with two ends: a fuse, a winding, a loudspeaker."""
        last = re.sub(r"\s\d+$", "", self.name)
        return (
            self.name != self.part
            and not self.pin
            and any(last == one or last.endswith(f" {one}") for one in named("two ends"))
        )


def spot(items: Sequence[Item], topic: str) -> Spot:
    """The one place these items name. topic: the part last spoken of. Unsure when they name none."""
    items = without_ends(items)
    if not items:
        raise Unsure("place", "no place is said", "write the place before the figure: `R31 left leg 2.6`")
    channels = list(dict.fromkeys(one.means for one in items if one.kind == "channel"))
    if len(channels) > 1:
        raise unclear(" ".join(one.text for one in items), items[0].start)
    rest = [one for one in items if one.kind != "channel"]
    rest = at_pin(rest)
    if any(one.kind == "function" for one in rest):
        return _function(rest, channels[0] if channels else "")
    channel = channels[0] if channels else ""
    return replace(_unchannelled(without_ends(rest), topic, items[0].start), channel=channel)


def at_pin(items: list[Item]) -> list[Item]:
    """ "Vcc on IC12 pin 16": where a full pin is named behind at or on, that is where the probe was."""
    cuts = [k for k, one in enumerate(items) if one.kind == "prep" and one.means in ("at", "on") and k > 0]
    behind = items[cuts[-1] + 1 :] if cuts else []
    kinds = sorted(one.kind for one in behind if not _linking(one))
    full = kinds in (["part", "pin"], ["part", "pin number"])
    return (
        behind
        if full and not any(one.kind in ("part", "pin", "pin number", "word") for one in items[: cuts[-1]])
        else items
    )


def without_ends(items: Sequence[Item]) -> tuple[Item, ...]:
    """The items without prepositions at either end; "in" behind a thing is its input."""
    found = list(items)
    while found and (found[0].kind in ("and", "both") or (found[0].kind == "prep" and found[0].means not in LEADING)):
        found.pop(0)
    while found and found[-1].kind in ("prep", "and", "both"):
        last = found.pop()
        if last.means == "in" and found:
            return (*found, replace(last, kind="noun", text="in"))
    return tuple(found)


def _unchannelled(items: Sequence[Item], topic: str, start: int) -> Spot:
    if not items:
        return Spot("", start=start)
    parts = list(dict.fromkeys(one.text for one in items if one.kind == "part"))
    pins = [one for one in items if one.kind in ("pin", "pin number")]
    others = [one for one in items if one.kind not in ("part", "pin", "pin number") and not _linking(one)]
    if len(parts) > 1 or len(pins) > 1:
        return _junction(items, parts, start)
    if pins and not others and (parts or topic):
        part = parts[0] if parts else fitting(topic, pins[0])
        return Spot(f"{part}.{pins[0].means}", part=part, pin=pins[0].means, words=_words(items), start=start)
    if topic and not parts and not pins and items and all(one.kind == "side" for one in items):
        return Spot(f"{topic} {_said(items[0])}", part=topic, words=_words(items), start=start)
    if pins and not parts and not any(one.kind in ANCHORS for one in others):
        raise Unsure("place", f"{pins[0].text}: of which part?", "name the part too: `U2 pin 8 5 V`", pins[0].start)
    if parts and not others:
        return Spot(parts[0], part=parts[0], words=_words(items), start=start)
    return _in_words(items, parts, others, start)


def fitting(topic: str, pin: Item) -> str:
    """The part spoken of before, where it can have such a pin: letters are of transistors, numbers of chips."""
    letters = letters_of(topic)
    numbered = pin.kind == "pin number"
    beyond = numbered and letters in TWO_LEGS and pin.means not in ("1", "2")
    if (
        (numbered and letters in TRANSISTOR)
        or beyond
        or (letters in CHIP and pin.means in ("c", "b", "e", "g", "d", "s", "k"))
    ):
        raise Unsure("place", f"{pin.text}: of which part?", "name the part too: `U2 pin 8 5 V`", pin.start)
    return topic


def _function(items: Sequence[Item], channel: str) -> Spot:
    """Something seen or heard: "left sound", "picture"."""
    said = [one for one in items if not _linking(one) and not (one.kind == "prep" and one.means == "in")]
    if any(one.kind not in ("function", "noun", "numbered", "place number") for one in said):
        raise unclear(" ".join(one.text for one in items), items[0].start)
    name = " ".join(one.text.casefold() for one in said)
    return Spot(name, channel, words=_words(said), start=items[0].start, function=True)


def _linking(item: Item) -> bool:
    return item.kind == "prep" and item.means in ("of", "on", "at", "from")


def _junction(items: Sequence[Item], parts: list[str], start: int) -> Spot:
    """ "junction of R5 and C7": two parts at one place only where that is said."""
    if len(parts) == 2 and any(one.text.casefold() in ("junction", "node", "join") for one in items):
        return Spot(f"junction of {' and '.join(parts)}", words=_words(items), start=start)
    raise unclear(" ".join(one.text for one in items), start)


def _in_words(items: Sequence[Item], parts: list[str], others: Sequence[Item], start: int) -> Spot:
    """A place in the person's own words; refused where none of them names a thing."""
    names = [k for k, one in enumerate(items) if one.kind == "name"]
    rails = ("rail", "supply", "line", "bus", "feed")  # "rail +15"
    ahead = [items[k - 1] for k in names if k > 0 and items[k - 1].text.casefold() not in rails]
    if any(one.kind in ("noun", "numbered", "name", "extra", "part") for one in ahead):
        raise unclear(" ".join(one.text for one in items), start)
    beside = [(one, after) for one, after in zip(items, items[1:], strict=False) if "part" in (one.kind, after.kind)]
    if any(
        (after.kind == "part" and one.kind in (*ANCHORS, "place number")) or after.kind == "extra"
        for one, after in beside
    ):
        raise unclear(" ".join(one.text for one in items), start)
    strange = [one for one in others if one.kind == "word"]
    describes = all(
        items[items.index(one) + 1 : items.index(one) + 2] and items[items.index(one) + 1].kind in (*ANCHORS, "word")
        for one in strange
    )
    if strange and (
        parts or not describes or len(strange) > MOST_UNKNOWN or not any(one.kind in ANCHORS for one in others)
    ):
        what = " ".join(one.text for one in strange)
        raise Unsure(
            "place",
            f"I do not know the place {what!r}",
            "name the part and pin, or the block: `preamp out`",
            strange[0].start,
        )
    wrong = [
        one
        for one in items
        if one.kind not in (*ANCHORS, "word", "part", "pin", "pin number", "prep", "place number", "function")
    ]
    if wrong:
        raise unclear(wrong[0].text, wrong[0].start)
    pinned = parts and any(one.kind in ("pin", "pin number") for one in items)
    if any(one.kind == "prep" and (one.means not in INNER or (pinned and not _linking(one))) for one in items) or (
        pinned and apart(items)
    ):
        raise unclear(" ".join(one.text for one in items), start)
    name = " ".join(_said(one) for one in items)
    return Spot(name, part=parts[0] if parts else "", words=_words(items), start=start)


METAL = ("pad", "leg", "side", "end", "socket", "track", "via", "lead", "hole", "trace")


def apart(items: Sequence[Item]) -> bool:
    """ "Q4 collector at rail": a full pin, and another thing it is said to be at."""
    pin = next((k for k, one in enumerate(items) if one.kind in ("pin", "pin number")), len(items))
    return any(one.kind in ANCHORS and one.text.casefold() not in METAL for one in items[pin:])


def _said(item: Item) -> str:
    if item.kind == "part" or (item.kind == "name" and item.text.isupper()):
        return item.text
    return f"pin {item.means}" if item.kind == "pin number" else item.text.casefold()


def _words(items: Sequence[Item]) -> tuple[str, ...]:
    return tuple(word for one in items for word in one.text.casefold().split())


# Two places ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Ends:
    """Where the two probes were. black: None for ground; across: both ends of what red names."""

    red: Spot
    black: Spot | None = None
    across: bool = False


def ends(items: Sequence[Item], topic: str) -> tuple[Ends, ...]:
    """The places of a run: one, two ("A to B", "between A and B", "across A"), or several ("A and B")."""
    preps = [one.means for one in items if one.kind == "prep"]
    if any(one.means == "across" and after.kind == "and" for one, after in zip(items, items[1:], strict=False)):
        raise unclear(" ".join(one.text for one in items), items[0].start)
    if "across it" in preps:
        raise unclear(" ".join(one.text for one in items), items[0].start)
    if "across" in preps:
        return (_across([one for one in items if one.means != "across" or one.kind != "prep"], topic),)
    if pins := next((one for one in items if one.kind == "pins"), None):
        return (_pair_of_pins(items, pins, topic),)
    if "to" in preps or any(one.kind == "between" or one.means == "between" for one in items):
        return (_between(items, topic),)
    return tuple(Ends(one) for one in several(items, topic))


def _across(items: Sequence[Item], topic: str) -> Ends:
    where = spot(items, topic)
    if where.pin or not (where.part or where.name):
        raise unclear(f"across {where.text}", where.start)
    return Ends(where, across=True)


def _pair_of_pins(items: Sequence[Item], pins: Item, topic: str) -> Ends:
    red, black = pins.means.split()
    one, other = (
        tuple(replace(item, kind="pin", means=pin, text=pin) if item is pins else item for item in items)
        for pin in (red, black)
    )
    return Ends(spot(one, topic), spot(other, topic))


def _between(items: Sequence[Item], topic: str) -> Ends:
    """Two ends; a part named once serves both: "between b and e of Q3", "Q7 b to e"."""
    items = from_here(items)
    inner = [one for one in items if not (one.kind == "prep" and one.means in ("between", "from"))]
    said_between = len(inner) < len(items) and any(one.means == "between" for one in items)
    cuts = [
        k
        for k, one in enumerate(inner)
        if (one.kind == "prep" and one.means == "to") or (said_between and one.kind == "and")
    ]
    if len(cuts) != 1:
        raise Unsure("unclear", "a reading is between two places", "write `A to B 1.2 V`", items[0].start)
    first, second = inner[: cuts[0]], inner[cuts[0] + 1 :]
    parts = [next((one.text for one in half if one.kind == "part"), "") for half in (first, second)]
    red, black = _end(first, parts[0] or parts[1] or topic), _end(second, parts[1] or parts[0] or topic)
    red, black = _shared_channel(red, black)
    if black.name.casefold() in named("position"):
        raise Unsure(
            "place", f"the {black.name} of what?", "name both places: `RV2 top to RV2 bottom 9k8`", black.start
        )
    if red.text == black.text:
        raise Unsure("place", f"both probes are on {red.text}", "name two different places", red.start)
    return Ends(red, black)


WAYS = ("trace", "track", "wire", "copper", "link", "wires", "path")


def from_here(items: Sequence[Item]) -> Sequence[Item]:
    """ "trace from A to B" is A to B; anything else before "from" is asked about."""
    first = next((k for k, one in enumerate(items) if one.kind == "prep" and one.means in ("between", "from")), 0)
    ahead = [one for one in items[:first] if one.kind not in ("prep", "and")]
    if any(one.text.casefold() not in WAYS for one in ahead):
        raise unclear(" ".join(one.text for one in items), items[0].start)
    return items[first:]


def _end(items: Sequence[Item], topic: str) -> Spot:
    """One end; ground by any of its names."""
    items = without_ends(items)
    if len(items) == 1 and items[0].kind == "ground":
        return Spot("GND", start=items[0].start)
    return spot(items, topic)


def _shared_channel(red: Spot, black: Spot) -> tuple[Spot, Spot]:
    return (
        (red, replace(black, channel=red.channel))
        if red.channel and not black.channel and black.name != "GND"
        else (red, black)
    )


def several(items: Sequence[Item], topic: str) -> tuple[Spot, ...]:
    """ "TP1 and TP2", "pins 4 and 5 of IC1": each place by itself; else the one place."""
    shared_by = any(one.kind == "both" for one in items)
    items = without_ends(items)
    cuts = [k for k, one in enumerate(items) if one.kind == "and"]
    if not cuts and shared_by and items:
        raise unclear(" ".join(one.text for one in items), items[0].start)
    joined = any(one.text.casefold() in ("junction", "node", "join") for one in items)
    pieces = [items[a:b] for a, b in zip([0, *(k + 1 for k in cuts)], [*cuts, len(items)], strict=True)]
    if cuts and not shared_by and not joined and len({same_kind(piece) for piece in pieces}) > 1:
        raise Unsure("unclear", "several places and one figure", "write `both`, or one figure for each", items[0].start)
    if not cuts or joined:
        return (spot([one for one in items if one.kind != "both"], topic),)
    parts = [one.text for one in items if one.kind == "part"]
    shared = parts[0] if len(parts) == 1 else topic
    return tuple(spot([one for one in piece if one.kind != "both"], shared) for piece in pieces)


def same_kind(piece: Sequence[Item]) -> str:
    """What sort of place a piece names: letters of its part, or its words."""
    part = next((letters_of(one.text) for one in piece if one.kind == "part"), "")
    numbered = [one.kind for one in piece if one.kind != "part" and not _linking(one)]
    return part if part and all(kind in ("pin", "pin number") for kind in numbered) else "" if numbered else " "
