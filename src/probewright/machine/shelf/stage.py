"""A textbook stage as it stands on the shelf, and as it is with its values filled in. Frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

# Keys of a machine file that a stage fills, in the order they are written; the first three stand in a section.
IN_SECTION = ("extras", "parts", "points")
ON_TOP = ("stimuli", "works", "never without", "never live", "known good")
LISTS = ("never without", "never live", "known good")  # entries without a name of their own


@dataclass(frozen=True)
class Ask:
    """One value a stage asks for.

    unit: of the answer, "" where one of words is wanted; assumed: the answer taken when none is
    given, "" when there is none; low..high: what is plausible, in the unit; must: "?" will not do.
    """

    name: str
    question: str
    unit: str = ""
    assumed: str = ""
    low: float = 0.0
    high: float = 0.0
    must: bool = False
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Line:
    """One entry of a key: its name ("" in a list) and its text, with `<value>` where an answer goes."""

    name: str
    text: str


@dataclass(frozen=True)
class Body:
    """What a stage holds: questions, doors (nets that lead out), and lines for the machine file by key.

    stand_ins: door -> parts that stand in for the rest of the machine until the door is joined; usual: door -> the
    net that it is joined to where nobody says.
    """

    asks: tuple[Ask, ...] = ()
    doors: Mapping[str, str] = field(default_factory=dict)
    stand_ins: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    lines: Mapping[str, tuple[Line, ...]] = field(default_factory=dict)
    not_computed: tuple[str, ...] = ()
    danger: tuple[str, ...] = ()
    healthy: tuple[str, ...] = ()
    usual: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Stage:
    """A textbook stage. forms: word -> body, complete, for each way it is built; {"": body} for one way only."""

    name: str
    title: str
    what: str
    forms: Mapping[str, Body]

    @property
    def asks(self) -> tuple[Ask, ...]:
        """Every value any form asks for, in order, each once."""
        return tuple({ask.name: ask for body in self.forms.values() for ask in body.asks}.values())

    @property
    def body(self) -> Body:
        """The form taken when nobody says otherwise: the first."""
        return next(iter(self.forms.values()))


@dataclass(frozen=True)
class Filled:
    """A stage with its values, names still as on the shelf.

    name: what its parts and nets begin with; values: answer in words of the file, by question;
    assumed: questions nobody answered; unknown: answered "?"; body: lines with the values in them.
    """

    stage: Stage
    name: str
    values: Mapping[str, str]
    assumed: tuple[str, ...]
    unknown: tuple[str, ...]
    body: Body

    @property
    def text(self) -> str:
        """The machine file of this stage alone."""
        from probewright.machine.shelf.placing import alone

        return alone(self)
