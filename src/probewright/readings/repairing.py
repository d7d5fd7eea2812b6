"""A new part fitted, or something mended in place: the fault is out of the machine from that line on."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from probewright.errors import BadInput
from probewright.machine.model import Machine
from probewright.readings import Setup
from probewright.readings.bench import Bench, move
from probewright.readings.items import letters_of
from probewright.readings.setups import (
    Draft,
    Piece,
    find,
    known,
    mended_in_words,
    parts_called,
    take_cleaned,
    take_cleared,
    take_freed,
    take_mended,
)
from probewright.readings.tokens import named

NEW = r"(?:(?:an?|the|my)\s+)?(?:brand[- ])?(?:new|another|fresh|replacement|good|nos)"
HAVE = r"(?:(?:i|i've|we)\s+)?(?:have\s+|just\s+|now\s+)*"
WAS = r"(?:(?:is|are|was|were|has been|have been)\s+)?(?:(?:now|just)\s+)?"
JOINT = r"(?:the\s+)?(?:joints?\s+(?:of|at)\s+)?"
CONTACT = r"(?:the\s+)?(?:contacts?\s+of\s+)?"
BRIDGE = r"(?:the\s+)?(?:solder\s+)?bridge\s+(?:between\s+|from\s+)?"
DONE = r"(?:fitted|put in|installed|soldered in)"
ONE = r"(?:\s+(?:with|by|for)\s+(?:an?\s+)?(?:new|good|fresh|replacement)(?:\s+one)?)?"
# common practice, no source: how it is said at the bench
FITTED = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"{HAVE}{DONE}\s+{NEW}\s+(?P<what>.+?)",
        rf"{HAVE}(?:replaced|renewed|changed)\s+(?:the\s+)?(?P<what>.+?){ONE}",
        rf"{NEW}\s+(?P<what>.+?)(?:\s+(?:is\s+|are\s+)?(?:{DONE}|in|in place))?",
        rf"(?P<what>.+?)\s+{WAS}(?:replaced|renewed|changed){ONE}",
        r"(?P<what>.+?)\s+(?:(?:is|are)\s+)?(?:now\s+)?new(?:\s+now)?",
    )
)
# common practice, no source: what is mended where it is, and how that is said
IN_PLACE = (
    (rf"{HAVE}resoldered\s+{JOINT}(?P<what>.+?)", take_mended),
    (rf"{JOINT}(?P<what>.+?)\s+{WAS}resoldered", take_mended),
    (rf"{HAVE}cleaned\s+{CONTACT}(?P<what>.+?)", take_cleaned),
    (rf"{CONTACT}(?P<what>.+?)\s+{WAS}cleaned", take_cleaned),
    (rf"{HAVE}(?:cleared|removed)\s+{BRIDGE}(?P<what>.+?)", take_cleared),
    (rf"{BRIDGE}(?P<what>.+?)\s+{WAS}(?:cleared|removed)", take_cleared),
    (rf"{HAVE}(?:freed\s+|(?:took|taken)\s+off\s+(?:what(?:ever)?\s+hung\s+on\s+))(?P<what>.+?)", take_freed),
)
TAKEN_BACK = re.compile(
    rf"{HAVE}(?:put|fitted)\s+(?:back\s+)?the\s+old\s+(?P<what>.+?)(?:\s+back)?(?:\s+in)?", re.IGNORECASE
)
# common practice, no source: how it is said behind a repair what came of it
BAD = (
    r"dead|silent|quiet|weak|bad|nothing|(?:the\s+)?same|faulty|broken|as\s+before|no\s+\w+|not\s+(?:working|right|ok)|"
    r"hum(?:s|ming)|crackl(?:es|ing)|distort(?:s|ed|ing)"
)
OUTCOME = re.compile(
    r"(?:\s*[,;:.]\s*|\s+-\s+|\s+)(?:(?:but|and|it's|it is|it|now)\s+)*"
    rf"(?P<what>still\s+(?:{BAD})|no\s+(?:change|difference|better|luck|joy)|as\s+before|"
    r"(?:the\s+)?same(?:\s+(?:as before|fault|thing))?|"
    r"cured|fixed|works(?:\s+(?:now|again|fine))?|(?:all\s+)?(?:ok|okay|fine|good)(?:\s+(?:now|again))?)$",
    re.IGNORECASE,
)
MOST_NAMED = 4  # chosen: names in one question
AND = r"\s*(?:,|&|\band\b)\s*"
DESIGNATOR = re.compile(r"[A-Za-z]{1,4}\d+[A-Za-z]?")
KINDS = "|".join(re.escape(one) for one in sorted(named("part kind"), key=len, reverse=True))
KIND = re.compile(rf"(?:the\s+)?(?:(?:{KINDS})s?\s+)?(?=\S+$)", re.IGNORECASE)  # "the fuse" of "the fuse F1"
NO_NAME = re.compile(rf"(?:the\s+)?(?P<kind>{KINDS})", re.IGNORECASE)


def to_repair(piece: Piece, bench: Bench, machine: Machine | None) -> tuple[Bench, tuple[str, ...]] | None:
    """The bench after "fitted a new C12", "put the old C12 back" or "resoldered U4.3", and what to say; None for any
    other line.

    BadInput for a part that the machine does not have, or has no name. Leads and extras are swapped, not repaired.
    What it came to, as in "replaced C5, still dead", is asked function by function.
    """
    line = Piece(piece.text.rstrip(" .!"), piece.line, piece.column, piece.file)
    came = OUTCOME.search(line.text)
    if came and (found := _repaired(line.cut(0, came.start()), bench, machine)):
        return found[0], (
            *found[1],
            f"`{came['what']}`: say of each function how it is now, as `sound ok` or `sound bad`",
        )
    return _repaired(line, bench, machine)


def _repaired(line: Piece, bench: Bench, machine: Machine | None) -> tuple[Bench, tuple[str, ...]] | None:
    """The bench after a new part, an old one or something mended; None for any other line."""
    if found := TAKEN_BACK.fullmatch(line.text):
        parts = _parts(line.cut(*found.span("what")), machine)
        if not parts or not set(parts) & set(bench.fitted):
            return None
        left = tuple(part for part in bench.fitted if part not in parts)
        after = replace(bench, fitted=left)
        stays = tuple(part for part in bench.setup.replaced if part not in parts)
        return move(after, replace(bench.setup, replaced=stays)), (f"the old {_and(parts)} is in again",)
    for form in FITTED:
        if found := form.fullmatch(line.text):
            what = line.cut(*found.span("what"))
            if nameless := NO_NAME.fullmatch(what.text):
                raise _which(what, nameless["kind"].casefold(), machine)
            if parts := _parts(what, machine):
                return _fitted(parts, bench)
    return _in_place(line, bench, machine)


def _in_place(line: Piece, bench: Bench, machine: Machine | None) -> tuple[Bench, tuple[str, ...]] | None:
    """The bench after something was mended where it is; None for any other line."""
    for form, take in IN_PLACE:
        if found := re.fullmatch(form, line.text, re.IGNORECASE):
            draft, what = Draft(machine), line.cut(*found.span("what"))
            for one in [what] if take is take_cleared else _named(what):
                take(one, draft)
            after = replace(bench, mended=tuple(sorted((*bench.mended, *draft.mended))), disturbed=True)
            said = ", ".join(mended_in_words(draft.mended, machine))
            setup = _soldered_in(bench.setup, draft.mended)
            return move(after, setup), (f"{said} from here on; readings taken before stay as they were taken",)
    return None


def _fitted(parts: tuple[str, ...], bench: Bench) -> tuple[Bench, tuple[str, ...]]:
    twice = [part for part in parts if part in bench.fitted]
    after = replace(bench, fitted=tuple(sorted((*bench.fitted, *parts))), disturbed=True)
    said = [f"{_and(parts)} new from here on; readings taken before stay as they were taken"]
    if twice:
        said.append(f"{_and(twice)} was new already: this is another one, and the one before may have been bad")
    if bench.power_said and bench.setup.power == "on":
        said.append("it is taken to be fitted with the power off and discharged, and the power to be on again after it")
    return move(after, _soldered_in(bench.setup, parts)), tuple(said)


def _soldered_in(setup: Setup, done: Sequence[str]) -> Setup:
    """The set-up once these parts are new, or these pins resoldered: what was lifted or out is in again."""
    lifted = tuple(pin for pin in setup.lifted if pin not in done and pin.rpartition(".")[0] not in done)
    return replace(setup, lifted=lifted, unplugged=tuple(part for part in setup.unplugged if part not in done))


def _parts(what: Piece, machine: Machine | None) -> tuple[str, ...]:
    """The parts meant by "C12, C13 and U4"; () where something else than parts of the board is spoken of."""
    words = _named(what)
    names = () if machine is None else (*machine.parts, *(one.package for one in machine.parts.values() if one.package))
    if not all(DESIGNATOR.fullmatch(word.text) or find(word.text, names) for word in words):
        return ()
    if machine is None:
        return tuple(word.text for word in words)
    found = tuple(dict.fromkeys(_of(machine, [known(word, names, "parts") for word in words])))
    return () if any(machine.parts[name].role == "extra" for name in found) else found


def _which(what: Piece, kind: str, machine: Machine | None) -> BadInput:
    """The question which part of a kind was exchanged."""
    letters = tuple(named("part kind")[kind].split())
    like = (name for name in machine.parts if letters_of(name) in letters) if machine is not None else ()
    names = tuple(like)[:MOST_NAMED] or (f"{letters[0]}1",)
    return what.wrong(f"which {kind} is it?", f"write {' or '.join(f'`fitted a new {one}`' for one in names)}")


def _named(what: Piece) -> tuple[Piece, ...]:
    """The parts or places in a list, each without the word that says what it is."""
    words = what.split(AND)
    return tuple(word.cut(found.end(), len(word.text)) if (found := KIND.match(word.text)) else word for word in words)


def _of(machine: Machine, names: list[str]) -> Iterator[str]:
    for name in names:
        yield from parts_called(machine, name)


def _and(parts: tuple[str, ...] | list[str]) -> str:
    return " and ".join(parts)
