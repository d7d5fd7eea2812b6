"""The pieces between breaks: where places and answers stand in them, and what alone they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from probewright.readings.doubts import Unsure
from probewright.readings.items import ANSWERS, PLACES, Item
from probewright.readings.spots import without_ends
from probewright.readings.tokens import named


def segments(items: Sequence[Item]) -> list[list[Item]]:
    """The items between breaks, empty ones left out."""
    found: list[list[Item]] = [[]]
    for item in items:
        if item.kind == "break":
            found.append([])
        else:
            found[-1].append(item)
    return carried([without(one) for one in found if one])


def without(segment: list[Item]) -> list[Item]:
    """ "no picture": something seen or heard that fails."""
    no = next((k for k, one in enumerate(segment) if one.kind == "not" and one.text.casefold() == "no"), -1)
    failing = no >= 0 and no + 1 < len(segment) and segment[no + 1].kind == "function"
    if not failing or any(one.kind in ANSWERS for one in segment):
        return segment
    return [*segment[:no], *segment[no + 1 :], replace(segment[no], kind="fails", means="bad")]


def carried(found: list[list[Item]]) -> list[list[Item]]:
    """ "left ok right ..., but half": a place at the end of a segment belongs to the answer that begins the next."""
    for here, after in zip(found, found[1:], strict=False):
        places, answers = runs(here)
        alone_there = after[0].kind in ANSWERS and not any(trimmed(one) for one in runs(after)[0])
        placed = len(answers) > 0 and all(trimmed(one) for one in places[:-1])
        if alone_there and placed and any(one.kind in PLACES and one.kind != "word" for one in places[-1]):
            after[:0] = places[-1]
            del here[len(here) - len(places[-1]) :]
    return found


def runs(segment: Sequence[Item]) -> tuple[list[list[Item]], list[Item]]:
    """The places before, between and behind the answers, and the answers."""
    places: list[list[Item]] = [[]]
    answers: list[Item] = []
    for item in segment:
        if item.kind in ANSWERS:
            answers.append(item)
            places.append([])
        else:
            places[-1].append(item)
    return places, answers


def only_words(run: Sequence[Item]) -> bool:
    """Whether a run is talk: words that name nothing known."""
    return any(one.kind == "word" for one in run) and all(one.kind in ("word", "prep", "and") for one in run)


def trimmed(run: Sequence[Item]) -> tuple[Item, ...]:
    """What is left of a run without prepositions at its ends."""
    return without_ends(run)


def opens(places: Sequence[Sequence[Item]]) -> bool:
    """Whether each run begins with at, on, of, across, between, after; or is a channel alone."""
    return all(first_word(run).kind in ("prep", "other channel") or only_channel(trimmed(run)) for run in places)


def starts_with_prep(run: Sequence[Item]) -> bool:
    """Whether a place follows a preposition."""
    return bool(trimmed(run)) and first_word(run).kind == "prep"


def located_at(run: Sequence[Item]) -> bool:
    """ "... at the reg 5 V": after a figure it could be the place of that figure or of the next."""
    return first_word(run).kind == "prep" and first_word(run).means in ("at", "on", "of", "from", "in")


def bare_answer(places: Sequence[Sequence[Item]], answers: Sequence[Item]) -> bool:
    """Whether one answer stands alone between breaks."""
    return len(answers) == 1 and not any(trimmed(one) for one in places)


def first_word(run: Sequence[Item]) -> Item:
    """The first item of a run behind an "and"."""
    return next((one for one in run if one.kind != "and"), run[0])


def repeated(places: Sequence[Sequence[Item]], answers: Sequence[Item]) -> bool:
    """ "no beep, OL": the same said twice in a row of answers about one place; never two figures."""
    empty = not any(trimmed(one) for one in places[1:])
    kinds = {one.kind for one in answers}
    return empty and len(answers) == 2 and kinds == {"over", "beep"} and any(one.means == "no beep" for one in answers)


def well(answer: Item) -> bool:
    """ "ok", "fine": said of a figure it is praise."""
    return answer.kind == "level" and answer.means == "1"


def praised(answers: Sequence[Item], places: Sequence[Sequence[Item]]) -> bool:
    """ "4.98 V ok": praise right behind a figure."""
    return (
        len(answers) == 2
        and well(answers[1])
        and answers[0].kind in ("figure", "over", "beep")
        and not trimmed(places[1])
        and not trimmed(places[2])
    )


def apart(answers: Sequence[Item]) -> bool:
    """ "1 MHz 4.8 Vpp": figures of different units about one place."""
    units = [one.quantity.unit if one.quantity else "" for one in answers]
    return all(units) and len(set(units)) == len(units) and not {"letter", "farads", "milli"} & set(units)


def refuse(segment: Sequence[Item]) -> None:
    """Words that make a reading uncertain, and those nothing is known about."""
    for item in segment:
        if item.kind in ("hedge", "not", "kind", "open", "close", "mark", "aside"):
            what = " ".join(one.text for one in segment)
            raise Unsure(
                "unclear",
                f"{item.text!r} leaves {what!r} open",
                "write only what the meter showed and where",
                item.start,
            )


def groups(name: str) -> set[str]:
    """The kinds of side a name is made of: {"end"} for "top end"; empty when it names more than sides."""
    if name.casefold() in named("position"):
        return {named("position")[name.casefold()]}
    found = [named("position").get(word, "") for word in name.casefold().split()]
    return set(found) if found and all(found) else set()


def other_side(before: str, side: str) -> str:
    """The other side of the same thing, said in the same order; "" when no side of that kind was said before."""
    words = before.split()
    for cut in range(1, len(words)):
        if groups(" ".join(words[cut:])) == groups(side):
            return " ".join([*words[:cut], side])
    for cut in range(1, len(words) - 1):
        if words[cut] == "of" and groups(" ".join(words[:cut])) == groups(side):
            return " ".join([side, *words[cut:]])
    return ""


def only_channel(items: Sequence[Item]) -> bool:
    """Whether nothing but a channel is said."""
    return bool(items) and all(one.kind in ("channel", "both", "other channel") for one in items)


def only_pin(items: Sequence[Item]) -> bool:
    """Whether a pin is said without its part."""
    return bool(items) and all(one.kind in ("pin", "pin number") for one in items)


def channels(items: Sequence[Item]) -> bool:
    """ "left and right both"."""
    return [one.kind for one in items if one.kind != "both"] == ["channel", "and", "channel"]


def one_pin(head: Sequence[Item], places: Sequence[Sequence[Item]]) -> list[Item] | None:
    """ "Q9 3.4 on e", "base 0.7 of Q2": part and pin on either side of the one figure."""
    if len(places) != 1:
        return None
    one, other = trimmed(head), trimmed(places[0])
    part, pin = (one, other) if [each.kind for each in one] == ["part"] else (other, one)
    return [*part, *pin] if [each.kind for each in part] == ["part"] and len(pin) == 1 and only_pin(pin) else None
