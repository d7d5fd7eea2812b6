"""Names for every channel: `*` is the channel's mark, bars list all names in channel order."""

from __future__ import annotations

import re
from collections.abc import Mapping

from probewright.machine.model import GROUND
from probewright.machine.saying import Refused

Marks = Mapping[str, str]  # mark -> label, in channel order
_PART_NAME = re.compile(r"[^\s,.;:=><*?#@\[\](){}|!&%'\"`]+")


def is_family(word: str) -> bool:
    """Whether a name stands for one thing per channel."""
    return "*" in word or "|" in word


def expand(word: str, mark: str, marks: Marks) -> str:
    """The name on one channel. Refuses bars that do not fit the channels."""
    if "|" in word:
        names = word.split("|")
        if len(names) != len(marks):
            raise Refused(
                f"{word!r} has {len(names)} names for {len(marks)} channels",
                f"write one name for each of {', '.join(marks) or 'the channels in `each:`'}, with bars between",
            )
        word = names[list(marks).index(mark)]
    return word.replace("*", mark)


def every(word: str, marks: Marks) -> list[str]:
    """The names on all channels; the word itself when it is no family."""
    if not is_family(word):
        return [word]
    if not marks:
        raise Refused(
            f"{word!r} stands for every channel, but there is no `each:`", "add `each: [A, B]`, or drop the *"
        )
    return [expand(word, mark, marks) for mark in marks]


def check_part_name(name: str) -> None:
    """A part is one word that can be spoken as a place, `NAME.pin`."""
    if name == GROUND:
        raise Refused(f"{GROUND} is the ground net", "give the part another name")
    if not _PART_NAME.fullmatch(name):
        raise Refused(f"{name!r} is not a name of a part", "write letters, digits, - _ + or /, without blanks or dots")


def check_marks(marks: Marks) -> None:
    """Marks become parts of names."""
    for mark in marks:
        if not _PART_NAME.fullmatch(mark):
            raise Refused(
                f"{mark!r} is not a channel mark", "write what the printed names differ in: `each: {A: front, B: rear}`"
            )
