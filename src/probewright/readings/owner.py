"""What the owner said to a step that cannot be taken back: "owner says yes to a new U3: go ahead"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from probewright.machine.model import Machine
from probewright.readings.doubts import Unsure
from probewright.readings.setups import part_meant, whole

YES, NO = "yes", "no"
SAID = re.compile(
    r"(?:the\s+)?owner(?:\s+(?:says|said))?\s*:?\s+(?P<answer>yes|no|agrees|refuses)[,:]?\s+(?P<to>to\s+)?(?P<wish>[^:\"“]+?)\s*"
    r"(?:[:,]?\s*[\"“](?P<quoted>.*?)[\"”]?|:\s*(?P<words>.*))?",
    re.IGNORECASE,
)
NEW = re.compile(
    r"(?:(?:fitting|to fit)\s+)?(?:a\s+)?new\s+(?P<item>\S+)|(?:replace|replacing|exchanging)\s+(?P<other>\S+)", re.I
)
OUT = re.compile(
    r"(?:taking|to take|take)\s+(?P<item>\S+)\s+out|(?P<other>\S+)\s+(?:out|taken out|desoldered|removed)"
    r"|(?:taking out|desoldering|removing|lifting out)\s+(?P<last>\S+)", re.I,
)  # fmt: skip
NAME = re.compile(r"[A-Za-z]+\d+[A-Za-z]*")  # as parts are called
MEND = 'write `owner says yes to a new U3: "go ahead"`, or `owner says no to taking U3 out: "..."`'


@dataclass(frozen=True)
class Answer:
    """What the owner said. wish: "new U3", "U3 out", or as it was said; answer: YES or NO; words: the owner's own."""

    wish: str
    answer: str
    words: str


@dataclass(frozen=True)
class Owner:
    """What the owner allowed and refused, each a wish; all: whatever is asked, as there is no owner."""

    yes: frozenset[str] = frozenset()
    no: frozenset[str] = frozenset()
    all: bool = False

    def allows(self, wish: str) -> bool:
        """There is a yes to it; one to a new part lets the old one come out."""
        return self.all or wish in self.yes or (wish.endswith(" out") and new(wish.removesuffix(" out")) in self.yes)


NOT_ASKED = Owner()
NOBODY = Owner(all=True)  # of a made-up machine


def new(item: str) -> str:
    """The wish to fit a new part, or a new case with all in it."""
    return f"new {item}"


def out(item: str) -> str:
    """The wish to take a part or a case out, to measure without it."""
    return f"{item} out"


def to_answer(text: str, machine: Machine | None) -> Answer | None:
    """What the owner said; None for any other line. Unsure where the machine file does not know the part."""
    found = SAID.fullmatch(" ".join(text.strip().split()))
    if found is None:
        return None
    answer = YES if found["answer"].casefold() in ("yes", "agrees") else NO
    said, _, more = found["wish"].strip(" ,.").partition(",")
    wish = to_wish(said.strip(), machine)
    if wish is None and NAME.search(said):
        raise Unsure("unclear", f"what the owner says {answer} to is not clear", MEND)
    if wish is None and not found["to"]:
        return None  # "owner says no sound since Monday": a remark
    return Answer(wish or said.strip(), answer, (found["quoted"] or found["words"] or more).strip())


def to_wish(said: str, machine: Machine | None = None) -> str | None:
    """ "a new U3", "taking U3 out" as a wish; None for anything else."""
    for form, wish in ((NEW, new), (OUT, out)):
        if made := form.fullmatch(said):
            return wish(_item(next(filter(None, made.groupdict().values())), machine))
    return None


def _item(said: str, machine: Machine | None) -> str:
    """The part or case that is meant, by the file's name."""
    if machine is None:
        return said
    if part := part_meant(said, machine):
        return whole(part, machine)
    raise Unsure("place", f"the machine file has no part {said!r}", MEND)


def line(wish: str, answer: str, words: str) -> str:
    """The line that records an answer."""
    said = " ".join(words.replace('"', "'").split())
    return f"owner says {answer} to {say_wish(wish)}" + (f': "{said}"' if said else "")


def say(one: Answer) -> str:
    """The answer in words."""
    words = f": {one.words}" if one.words else ""
    return f"the owner says {one.answer} to {say_wish(one.wish)}{words}"


def say_wish(wish: str) -> str:
    """A wish in words: "a new U3", "taking U3 out"."""
    if wish.startswith("new "):
        return f"a {wish}"
    return f"taking {wish.removesuffix(' out')} out" if wish.endswith(" out") else wish
