"""Help: cautions, how a line may be written, the keys, what the marks mean, and the words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from probewright.hypotheses.intake import cautions
from probewright.planning.danger import TOUCH_DC, TOUCH_RMS
from probewright.readings import Question
from probewright.readings.hearing import Context, hear
from probewright.readings.sums import reckon
from probewright.web.sheets import HERE, Sheets

HIDDEN = "†"  # words that never appear on screen, see the head of the glossary


@dataclass(frozen=True)
class Key:
    """A key: on which page, what it is called, what it does, and by which names the browser knows it."""

    page: str
    key: str
    does: str
    bound: tuple[str, ...]


# A test compares the names on the right with what the scripts and templates listen to.
KEYS = (
    Key("Bench", "Enter", "shows what was understood, then counts it", ("Enter",)),
    Key("Bench", "/", "goes to the entry box", ("/",)),
    Key(
        "Bench",
        "Alt+N",
        "shows the next choice; some browsers want Shift too, a Mac Control+Option+N",
        ("accesskey n",),
    ),
    Key("Picture", "arrow keys", "move the ring", ("ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown")),
    Key("Picture", "Shift and arrow keys", "move the ring in larger steps", ("shiftKey",)),
    Key("Picture", "Enter", "keeps the ring with its name", ("Enter",)),
)

CARD = Question("dc", "TP4")  # what the card asked, in the examples that answer it
ANSWERS = ("2.61", "320 mV", "none")
LINES = (
    "Q7 c 11.8 b .9 e 0",
    "TP4 about 5 V",
    "C14+ to gnd 4k1",
    "R22 to socket 3 beeps",
    "socket 3 0.32 Vpp",
    "left output half",
    "D3 diode test 0.58",
    "new adaptor, cured",
    "IC3 very hot",
    "Q7 c 11.8; not showing",
    "leak around C14 C15",
    "power off",
)
SUMS = ("120 mV at 0.8 A", "10k || 22k", "regulator 8V to 5V at 0.7A bare", "what is 104")


@dataclass(frozen=True)
class Word:
    """A row of the glossary: words that are one thing, as (anchor, word); its meaning; what others call it."""

    names: tuple[tuple[str, str], ...]
    meaning: str
    elsewhere: str


class HelpPages:
    """The help page."""

    def __init__(self, sheets: Sheets) -> None:
        self.page = sheets.page

    def routes(self) -> list[Route]:
        """Where this page is."""
        return [Route("/help", self.help)]

    def help(self, request: Request) -> Response:
        """All of it on one page, so that the browser can search it."""
        return self.page(
            request, "help.html", cautions=cautions(), dc=TOUCH_DC, rms=TOUCH_RMS, keys=KEYS, words=glossary(),
            answers=[(line, understood(line)) for line in ANSWERS],
            lines=[(line, understood(line)) for line in LINES], sums=[(line, understood(line)) for line in SUMS],
            shared=request.app.state.shared,
        )  # fmt: skip


@cache
def understood(line: str) -> str:
    """What the program makes of an example, in its own words; "" when it would ask back."""
    if sum_ := reckon(line):
        return sum_.says
    heard = hear(line, Context(asked=CARD if line in ANSWERS else None))
    return "" if heard.doubts else "; ".join(one for one in heard.echo if not one.startswith("taken for granted"))


@cache
def glossary() -> tuple[Word, ...]:
    """The words of docs/glossary.md that appear on screen; the wheel carries that file beside the pages."""
    shipped = HERE / "glossary.md"
    source = Path(__file__).parents[3] / "docs" / "glossary.md"  # a checkout: no second copy that could differ
    return read_glossary((shipped if shipped.is_file() else source).read_text(encoding="utf-8"))


def read_glossary(text: str) -> tuple[Word, ...]:
    """The rows of its table without the hidden words.

    >>> read_glossary("| word | meaning | x |\\n|---|---|---|\\n| lead, extra | a cable | peripheral |")[0].names
    (('lead', 'lead'), ('extra', 'extra'))
    """
    rows = [[cell.strip() for cell in line.strip("|").split(" | ")] for line in text.splitlines() if line[:1] == "|"]
    return tuple(
        Word(tuple((anchor(one), one) for one in name.split(", ")), meaning, elsewhere)
        for name, meaning, elsewhere in rows[2:]  # behind the head and its rule
        if HIDDEN not in name
    )


def anchor(word: str) -> str:
    """Where a word stands on the page: `/help#` and this.

    >>> anchor("door (of a stage)"), anchor("how sure")
    ('door', 'how-sure')
    """
    return re.sub(r"\W+", "-", word.partition(" (")[0].lower())
