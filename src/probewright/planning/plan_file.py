"""A table for `plan-table`: states with their chances, what each test shows in each, repairs, set-ups.

Written as a person types it, a state a line; docs/plan-table.md says how. Every complaint is found before any is said.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from probewright.machine.model import Spot
from probewright.machine.saying import Notes, nearest
from probewright.machine.yaml_text import Listing, Piece, Table, Text, parse
from probewright.planning.problem import NONE_STANDS, Problem, Step

KEYS = ("plan", "tests", "repairs", "states", "set-ups", "bench", "alike", "until", "sure")
UNTIL = ("named", "cured")
UNKNOWN = ("U", "u", "?")
CURED = ("cured", "as before")
PLAIN = ("0", "1")  # what a column of chances shows
EVEN = 0.005  # chosen: chances rounded to two decimals may miss one by this much
MOST = 100  # chosen: states, tests, and repairs: more than anybody types
DEFAULT_MINUTES = 1.0  # of a test that states none: then minutes are a count of tests


@dataclass(frozen=True)
class PlanTable:
    """A table as read: its name, the names of its states and set-ups, and the problem that it is."""

    name: str
    states: tuple[str, ...]
    stands: tuple[str, ...]
    problem: Problem


@dataclass
class _Draft:
    """What has been read so far. rows: state -> its results, one for each test."""

    notes: Notes
    stands: dict[str, float] = field(default_factory=dict)
    tests: dict[str, tuple[float, int]] = field(default_factory=dict)
    states: dict[str, float] = field(default_factory=dict)
    rows: list[list[Text]] = field(default_factory=list)


def read_plan(text: str, file_name: str = "") -> PlanTable:
    """The table in a text; raises BadInput with every complaint found."""
    notes = Notes(file_name)
    table = parse(text, notes, "table for plan-table", "`plan: ` and a name, then `tests:` and `states:`")
    for key, _ in table:
        if key.value not in KEYS:
            notes.complain(key.spot, f"{key.value!r} is not a key of a table", nearest(key.value, KEYS))
    name, draft = _word(table, "plan", notes).value, _Draft(notes)
    draft.stands = {name.value: _minutes(value, notes) for name, value in _entries(table, "set-ups", notes)}
    _tests(table, draft)
    _states(table, draft)
    notes.stop_if_any()
    repairs = list(_repairs(table, draft))
    _refuse_heaps(table, "repairs", len(repairs), notes)
    steps = [*_shown(draft), *repairs]
    problem = Problem(
        _priors(table, draft), tuple(steps), _groups(table, draft), np.zeros(len(draft.states)), _change(draft.stands),
        _stand(table, "bench", draft), _sure(table, notes), _until(table, draft, steps),
    )  # fmt: skip
    if not steps and not notes.complaints:
        notes.complain(table.spot, "nothing can be done", "write `tests:` or `repairs:`")
    notes.stop_if_any()
    return PlanTable(name, tuple(draft.states), tuple(draft.stands), problem)


# What is typed -------------------------------------------------------------------------------


def _entries(table: Table, key: str, notes: Notes) -> Iterator[tuple[Text, Text]]:
    """`NAME: text` lines under a key; names alone, `[t1, t2]` or `t1 t2`, have an empty text."""
    piece = table.get(key)
    if isinstance(piece, Text):
        for found in re.finditer(r"[^\s,]+", piece.value):
            yield _part(piece, found.start(), found[0]), Text("", piece.spot)
    elif isinstance(piece, Listing):
        for name in _texts(piece, f"`{key}:` holds names", notes):
            yield name, Text("", name.spot)
    elif piece is not None:
        for name, value in piece:
            if isinstance(value, Text):
                yield name, value
            else:
                notes.complain(value.spot, f"{name.value!r} is one line", f"write `{name.value}: ...` in one line")


def _texts(piece: Listing, what: str, notes: Notes) -> list[Text]:
    for one in piece.items:
        if not isinstance(one, Text):
            notes.complain(one.spot, f"{what}, one a line", "write each as plain text")
    return [one for one in piece.items if isinstance(one, Text)]


def _word(table: Table, key: str, notes: Notes) -> Text:
    """The text behind a key; empty when it is not there."""
    piece = table.get(key)
    if piece is None or isinstance(piece, Text):
        return piece or Text("", table.spot)
    notes.complain(piece.spot, f"`{key}:` is one text", f"write `{key}: ...` in one line")
    return Text("", piece.spot)


def _part(text: Text, offset: int, value: str) -> Text:
    """A piece of a line, where it stands."""
    return Text(value, Spot(text.inside.line, text.inside.column + offset))


def _parts(text: Text) -> list[Text]:
    """What stands between the commas of a line."""
    return [_part(text, m.start(), m[0].strip()) for m in re.finditer(r"[^,\s][^,]*", text.value)]


def _minutes(text: Text, notes: Notes) -> float:
    """`2 min`, `1.5`, or nothing."""
    found = re.fullmatch(r"(\d+(?:\.\d+)?|\.\d+) ?(?:min|minutes?)?", text.value)
    if not text.value:
        return DEFAULT_MINUTES
    if found is None or not 0.0 < float(found[1]) <= 1e6:
        notes.complain(text.inside, f"{text.value!r} are not minutes", "write `2 min`")
        return DEFAULT_MINUTES
    return float(found[1])


def _chance(typed: str) -> float | None:
    """`0.3` or `30%`; None for what is no chance."""
    found = re.fullmatch(r"(\d+(?:\.\d+)?|\.\d+) ?(%?)", typed)
    chance = float(found[1]) / (100.0 if found[2] else 1.0) if found else 2.0
    return chance if chance <= 1.0 else None


# Tests and states ----------------------------------------------------------------------------


def _tests(table: Table, draft: _Draft) -> None:
    """Names of the tests with their minutes and set-ups."""
    for name, value in _entries(table, "tests", draft.notes):
        first, *rest = _parts(value) or [value]
        if name.value in draft.tests:
            draft.notes.complain(name.spot, f"{name.value!r} is named twice", "give every test its own name")
        stand = _named_stand(rest[0], draft) if rest else NONE_STANDS
        if len(rest) > 1:
            draft.notes.complain(rest[1].spot, f"{name.value!r} says too much", "write `2 min, set-up`")
        draft.tests[name.value] = (_minutes(first, draft.notes), stand)
    _refuse_heaps(table, "tests", len(draft.tests), draft.notes)


def _refuse_heaps(table: Table, key: str, count: int, notes: Notes) -> None:
    if count > MOST:
        notes.complain(table.spot_of(key), f"{count} are too many", f"write {MOST} at most")


def _named_stand(name: Text, draft: _Draft) -> int:
    """The number of a set-up."""
    known = list(draft.stands)
    if name.value in known:
        return known.index(name.value)
    mend = nearest(name.value, known, "name it under `set-ups:`, with the minutes that it takes")
    draft.notes.complain(name.spot, f"{name.value!r} is not a set-up", mend)
    return NONE_STANDS


def _stand(table: Table, key: str, draft: _Draft) -> int:
    """How the bench stands at the beginning."""
    word = _word(table, key, draft.notes)
    return _named_stand(word, draft) if word.value else NONE_STANDS


def _change(stands: Mapping[str, float]) -> np.ndarray:
    """(stand + 1, stand) minutes: a set-up takes its own, from wherever, and none where it stands already."""
    count = len(stands)
    change = np.tile(np.array(list(stands.values())), (count + 1, 1)) if count else np.zeros((1, 0))
    change[np.arange(count), np.arange(count)] = 0.0
    return change


def _states(table: Table, draft: _Draft) -> None:
    """`NAME: chance  result result ...`, a result for each test in their order."""
    notes, count = draft.notes, len(draft.tests)
    for name, value in _entries(table, "states", notes):
        first, *rest = [_part(value, m.start(), m[0]) for m in re.finditer(r"\S+", value.value)] or [value]
        if len(rest) != count:
            says = f"{name.value!r} has {len(rest)} results for {count} tests"
            notes.complain(first.spot, says, f"write `{name.value}: chance` and then {count} results, U for unknown")
        found = re.fullmatch(r"(\d+(?:\.\d+)?|\.\d+)(%?)", first.value)
        if found is None or float(found[1]) <= 0.0:
            notes.complain(first.spot, f"{first.value!r} is not the chance of a state", "write 0.2, 20%, or parts: 3")
        draft.states[name.value] = float(found[1]) / (100.0 if found[2] else 1.0) if found else 1.0
        draft.rows.append(rest)
    if not draft.states:
        notes.complain(
            table.spot_of("states"), "no states are written", "write `states:` and under it `NAME: chance ...`"
        )
    _refuse_heaps(table, "states", len(draft.states), notes)


def _priors(table: Table, draft: _Draft) -> np.ndarray:
    """(state,) chances that sum to one: typed as such, or as parts in whole numbers."""
    typed = np.array(list(draft.states.values()))
    if abs(typed.sum() - 1.0) > EVEN and not (typed == np.round(typed)).all():
        says = f"the chances of the states sum to {typed.sum():.4g}"
        draft.notes.complain(table.spot_of("states"), says, "make them sum to 1, or write whole numbers as parts")
    return typed / typed.sum()


def _shown(draft: _Draft) -> Iterator[Step]:
    """Each column of results as a test."""
    for n, (name, (minutes, stand)) in enumerate(draft.tests.items()):
        column = [row[n] for row in draft.rows]
        says = _outcomes(column)
        chance = np.array([_result(cell, says, draft.notes) for cell in column])
        yield Step(name, minutes, chance, says, stand)


def _outcomes(column: Sequence[Text]) -> tuple[str, ...]:
    """What a test may show, in the order of the rows: 0 and 1 where chances stand, else the words."""
    known = [cell.value for cell in column if cell.value not in UNKNOWN]
    if all(_chance(one) is not None for one in known):
        return PLAIN
    split = ([part.partition("=")[0] for part in one.split("/")] if "=" in one else [one] for one in known)
    return tuple(dict.fromkeys(word for words in split for word in words))


def _result(cell: Text, says: tuple[str, ...], notes: Notes) -> list[float]:
    """(outcome,) chances of one result: a word, a chance of 1, `low=0.2/high=0.8`, or U, each as likely as another
    (as A. Balakrishnan and T. Semmelbauer count it, Decision Support Systems 25, 1999)."""
    if cell.value in UNKNOWN:
        return [1.0 / len(says)] * len(says)
    if says == PLAIN:
        fails = _chance(cell.value) or 0.0
        return [1.0 - fails, fails]
    if "=" not in cell.value:
        return [float(word == cell.value) for word in says]
    pairs = dict(part.partition("=")[::2] for part in cell.value.split("/"))
    found = [_chance(pairs[word]) if word in pairs else 0.0 for word in says]
    chances = [one for one in found if one is not None]
    if len(chances) < len(found) or abs(sum(chances) - 1.0) > EVEN:
        notes.complain(cell.spot, f"the chances in {cell.value!r} do not sum to 1", "write `low=0.2/high=0.8`")
        return [1.0 / len(says)] * len(says)
    return [one / sum(chances) for one in chances]


# Repairs and ends ----------------------------------------------------------------------------


def _repairs(table: Table, draft: _Draft) -> Iterator[Step]:
    """`NAME: 8 min, cures lead 95%, socket`."""
    for name, value in _entries(table, "repairs", draft.notes):
        first, *rest = _parts(value) or [value]
        minutes, cured, stand = _minutes(first, draft.notes), np.zeros(len(draft.states)), NONE_STANDS
        begun = False
        for part in rest:
            if found := re.match(r"cures\s+", part.value):
                begun, part = True, _part(part, found.end(), part.value[found.end() :])
            if begun:
                _cure(part, cured, draft)
            else:
                stand = _named_stand(part, draft)
        if not begun:
            draft.notes.complain(name.spot, f"{name.value!r} cures nothing", "write `8 min, cures STATE 95%`")
        yield Step(name.value, minutes, np.stack([cured, 1.0 - cured], axis=1), CURED, stand, cures=True)


def _cure(part: Text, cured: np.ndarray, draft: _Draft) -> None:
    """`socket`, `socket 95%` or `all`, put down in cured (state,)."""
    names = list(draft.states)
    name, _, last = part.value.rpartition(" ")
    chance = _chance(last)
    if part.value in (*names, "all") or chance is None:
        name, chance = part.value, 1.0
    if name.strip() not in (*names, "all"):
        draft.notes.complain(part.spot, f"{part.value!r} is not a state", nearest(name.strip(), names))
    for n, one in enumerate(names):
        if name.strip() in (one, "all"):
            cured[n] = chance


def _groups(table: Table, draft: _Draft) -> np.ndarray:
    """(state,) numbers of groups; those in one line of `alike:` share theirs."""
    names, group = list(draft.states), np.arange(len(draft.states))
    for line in _lines(table.get("alike"), draft.notes):
        members = []
        for one in line:
            if one.value in names:
                members.append(names.index(one.value))
            else:
                draft.notes.complain(one.spot, f"{one.value!r} is not a state", nearest(one.value, names))
        group[np.isin(group, group[members])] = group[members[:1]]
    return group


def _lines(piece: Piece | None, notes: Notes) -> Iterable[list[Text]]:
    """`s1, s2`, a list of such lines, or a list of lists."""
    if isinstance(piece, Text):
        yield _parts(piece)
    elif isinstance(piece, Listing):
        for one in piece.items:
            yield from _lines(one, notes) if isinstance(one, Text) else [_members(one, notes)]
    elif piece is not None:
        notes.complain(piece.spot, "`alike:` holds lines of states", "write `- s1, s2` under it")


def _members(piece: Piece, notes: Notes) -> list[Text]:
    return _texts(piece, "`alike:` holds states", notes) if isinstance(piece, Listing) else []


def _sure(table: Table, notes: Notes) -> float:
    """From which chance on a state is named."""
    word = _word(table, "sure", notes)
    chance = _chance(word.value) if word.value else 1.0
    if chance is None or chance <= 0.5:
        notes.complain(word.inside, f"{word.value!r} is not sure", "write `sure: 95%`, more than 50%")
    return chance or 1.0


def _until(table: Table, draft: _Draft, steps: Sequence[Step]) -> bool:
    """Whether it ends with a cure; without tests it does."""
    word = _word(table, "until", draft.notes)
    if word.value and word.value not in UNTIL:
        draft.notes.complain(word.inside, f"{word.value!r} is no end", nearest(word.value, UNTIL))
    if word.value == "cured" and not any(one.cures for one in steps):
        draft.notes.complain(word.inside, "nothing cures", "write `repairs:`")
    return word.value == "cured" or (not word.value and not draft.tests)
