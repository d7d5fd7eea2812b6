"""What an owner tells before anything is opened: kind of machine, tick list, words of the complaint.

Kinds, tick lists, leads and extras are rows of `data/kinds_of_machine.csv`, `functions.csv`,
`functions_of_kinds.csv` and `extras.csv`; what counts as a word for "once warm" or "somebody has
been inside" is a row of `complaint_words.csv`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from probewright.errors import complaint
from probewright.hypotheses.priors import rows
from probewright.machine.saying import nearest, short
from probewright.units import with_article

TICKS = ("good", "bad", "partly")
LONG_STEM = 4  # chosen: "hum" and "low" would else find "humid" and "lower"
ENDING, SHORT_ENDING = 4, 1  # letters a word may have beyond its stem: -ing, -ness; chosen: plural only for short ones
_WORD = re.compile(r"[a-z0-9]+|\?")


@dataclass(frozen=True)
class Function:
    """Something an owner can see or hear.

    group: what it shows working (power, picture, sound ...); family: functions that are one of
    several alike (the two sides, the three colours), "" for none; quality: how well, not whether.
    """

    name: str
    group: str
    family: str
    quality: bool


@dataclass(frozen=True)
class Extra:
    """A lead, adaptor or other thing outside the machine, to be looked at and swapped first.

    do: the step; minutes of hands-on time; cause: id of the cause that it is; often: rough weight
    among the extras of one function.
    """

    name: str
    do: str
    minutes: float
    caution: str
    cause: str
    often: float
    source: str


@dataclass(frozen=True)
class Kind:
    """A kind of machine: its tick list, and per function the symptoms and the extras it points to.

    care: ids of cautions that hold for everything inside.
    """

    name: str
    also: tuple[str, ...]
    care: tuple[str, ...]
    functions: tuple[Function, ...]
    symptoms: Mapping[str, tuple[str, ...]]
    extras: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Told:
    """What was told, ready to be weighed.

    good, bad, partly: functions; words: of the complaint, a denied one as "no-word"; traits: what
    the words say about when and how; denied: traits that were asked for and are not there.
    """

    kind: Kind
    good: tuple[Function, ...]
    bad: tuple[Function, ...]
    partly: tuple[str, ...]
    words: tuple[str, ...]
    traits: frozenset[str]
    denied: frozenset[str]

    def answered(self, family: str) -> tuple[Function, ...]:
        """The ticked functions of a family, good ones first."""
        return tuple(one for one in (*self.good, *self.bad) if family and one.family == family)

    def all_bad(self, family: str) -> bool:
        """Whether several functions of a family were ticked and none is good."""
        ticked = self.answered(family)
        return len(ticked) > 1 and not any(one in self.good for one in ticked)


# The tables -----------------------------------------------------------------------------------


@cache
def cautions() -> Mapping[str, str]:
    """Caution id -> its sentence."""
    return MappingProxyType({row["id"]: row["words"] for row in rows("cautions")})


def caution(*ids: str) -> str:
    """The sentences of several cautions, each once; "" for none."""
    return " ".join(cautions()[one] for one in dict.fromkeys(ids) if one)


@cache
def every_function() -> Mapping[str, Function]:
    """Name -> function, of all kinds of machine."""
    return MappingProxyType({
        row["function"]: Function(row["function"], row["group"], row["family"], row["aspect"] == "quality")
        for row in rows("functions")
    })  # fmt: skip


@cache
def every_extra() -> Mapping[str, Extra]:
    """Name -> lead or extra, of all kinds of machine."""
    return MappingProxyType({
        row["name"]: Extra(
            row["name"], row["do"], float(row["minutes"]), caution(*row["caution"].split()),
            row["cause"], float(row["often"]), row["source"],
        )
        for row in rows("extras")
    })  # fmt: skip


@cache
def every_kind() -> Mapping[str, Kind]:
    """Name -> kind of machine, in the order of the table."""
    ticks: dict[str, list[dict[str, str]]] = {}
    for row in rows("functions_of_kinds"):
        ticks.setdefault(row["kind"], []).append(row)
    return MappingProxyType({row["kind"]: _kind(row, ticks[row["kind"]]) for row in rows("kinds_of_machine")})


def _kind(row: Mapping[str, str], ticks: Iterable[Mapping[str, str]]) -> Kind:
    return Kind(
        name=row["kind"],
        also=tuple(word.replace("-", " ") for word in row["also"].split()),
        care=tuple(row["cautions"].split()),
        functions=tuple(every_function()[one["function"]] for one in ticks),
        symptoms=MappingProxyType({one["function"]: tuple(one["symptoms"].split()) for one in ticks}),
        extras=MappingProxyType({one["function"]: tuple(one["extras"].split(", ")) for one in ticks}),
    )


# Names as a person writes them ----------------------------------------------------------------


def find_kind(said: str) -> Kind:
    """The kind of machine of this name, or of a name it also goes by. BadInput for an unknown one."""
    plain = " ".join(said.lower().replace("-", " ").split())
    for kind in every_kind().values():
        if plain in (kind.name, *kind.also):
            return kind
    known = {**dict.fromkeys(every_kind(), ""), **{also: "" for kind in every_kind().values() for also in kind.also}}
    raise complaint(f"{short(said)!r} is not a kind of machine known here", nearest(said, known, _one_of(every_kind())))


def _function(kind: Kind, said: str) -> Function:
    plain = " ".join(said.lower().split())
    found = next((one for one in kind.functions if one.name == plain), None)
    if found is None:
        names = [one.name for one in kind.functions]
        raise complaint(
            f"{short(said)!r} is not on the list of {with_article(kind.name)}", nearest(said, names, _one_of(names))
        )
    return found


def _tick(function: str, said: str) -> str:
    plain = said.lower().strip()
    if plain not in TICKS:
        raise complaint(f"{short(said)!r} says nothing about {function!r}", nearest(said, TICKS, _one_of(TICKS)))
    return plain


def _one_of(names: Iterable[str]) -> str:
    return "write one of: " + ", ".join(names)


# Words of the complaint -----------------------------------------------------------------------


@cache
def _stems(trait: str) -> tuple[str, ...]:
    return tuple(row["stem"] for row in rows("complaint_words") if row["trait"] == trait)


def words_of(text: str) -> tuple[str, ...]:
    """Plain words of a sentence; the one that a "no" or a "does not" denies is marked: "no-picture"."""
    return tuple(_marked(_WORD.findall(text.lower().replace("'", "").replace("’", ""))))


def _marked(plain: Iterable[str]) -> Iterator[str]:
    denied = False
    for word in plain:
        if word in _stems("negates"):
            denied = True
        elif not (denied and word in _stems("skipped")):
            yield f"no-{word}" if denied else word
            denied = False


def is_form_of(word: str, stem: str) -> bool:
    """Whether a word is this stem with a short ending: "crackling" of "crackl", not "humid" of "hum"."""
    ending = ENDING if len(stem.removeprefix("no-")) >= LONG_STEM else SHORT_ENDING
    return word.startswith(stem) and len(word) - len(stem) <= ending


def has_key(words: Iterable[str], key: str) -> bool:
    """Whether a complaint has all the stems of a key: "fuse+blow"."""
    listed = tuple(words)
    return all(any(is_form_of(word, stem) for word in listed) for stem in key.split("+"))


def _says(trait: str, words: Iterable[str]) -> bool:
    return any(has_key((word,), stem) for word in words for stem in _stems(trait))


def _answer(said: str) -> str:
    """ "yes", "no" or "unknown", of who has been inside or what was added."""
    plain = _WORD.findall(said.lower().replace("'", ""))
    if not plain or any(word in _stems("unknown") for word in plain):
        return "unknown"
    return "no" if plain[0] in _stems("nobody") else "yes"


WHEN = ("warm", "cold", "sometimes", "start", "touch", "damp", "inside", "boards")


def _traits(words: tuple[str, ...], answers: Mapping[str, str]) -> frozenset[str]:
    heard = {trait for trait in WHEN if _says(trait, words)}
    return frozenset({*heard, *(trait for trait, said in answers.items() if said == "yes")})


def listen(
    kind: str, ticks: Mapping[str, str], words: str = "", when: str = "", inside: str = "", boards: str = ""
) -> Told:
    """What was told at intake. BadInput for a kind, a function or a tick that is not known."""
    found = find_kind(kind)
    said = {_function(found, name): _tick(name, tick) for name, tick in ticks.items()}
    heard = words_of(words)
    answers = {"inside": _answer(inside), "boards": _answer(boards)}
    traits = _traits((*heard, *words_of(when)), answers)
    return Told(
        kind=found,
        good=tuple(one for one in found.functions if said.get(one) == "good"),
        bad=tuple(one for one in found.functions if said.get(one) in ("bad", "partly")),
        partly=tuple(one.name for one in found.functions if said.get(one) == "partly"),
        words=heard,
        traits=traits,
        denied=frozenset(trait for trait, one in answers.items() if one == "no") - traits,
    )
