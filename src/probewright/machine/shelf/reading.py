"""The text files of the stages, read once: `stages/*.yaml`, a YAML in which every word is text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache
from importlib import resources

from probewright.errors import complaint
from probewright.machine.saying import Notes, nearest
from probewright.machine.shelf.stage import IN_SECTION, ON_TOP, Ask, Body, Line, Stage
from probewright.machine.yaml_text import Listing, Piece, Table, Text, parse
from probewright.units import read_value

WORDS = (
    "stage",
    "title",
    "what",
    "not computed yet",
    "ask",
    "doors",
    "stand-ins",
    "usual",
    "danger",
    "healthy",
    "forms",
)
KEYS = (*WORDS, *IN_SECTION, *ON_TOP)
ASK_KEYS = ("question", "unit", "band", "assumed", "must", "words")
STAGES, ADDED = "stages", "added"  # folders of this room: stages of a machine; circuits added to one
FORM = "form"  # the question that chooses between the forms


def stage(name: str, folder: str = STAGES) -> Stage:
    """The stage of this name; BadInput names the nearest."""
    known = {one.name: one for one in stages(folder)}
    wanted = "-".join(name.lower().split())
    if wanted not in known:
        mend = nearest(wanted, known) if wanted else "write one of: " + ", ".join(known)
        what = "stage on the shelf" if folder == STAGES else "added circuit"
        raise complaint(f"no {what} is called {name!r}", mend)
    return known[wanted]


@cache
def stages(folder: str = STAGES) -> tuple[Stage, ...]:
    """Every stage of the shelf, or every added circuit (ADDED), by name."""
    found = resources.files("probewright.machine.shelf").joinpath(folder)
    files = sorted((one for one in found.iterdir() if one.name.endswith(".yaml")), key=lambda one: one.name)
    return tuple(read_stage(one.read_text("utf-8"), one.name) for one in files)


def read_stage(text: str, file: str) -> Stage:
    """One stage from its text; BadInput with the line where the text is no stage."""
    notes = Notes(file)
    table = parse(text, notes)
    for key, _ in table:
        if key.value not in KEYS:
            notes.complain(key.spot, f"{key.value!r} is not a key of a stage", nearest(key.value, KEYS))
    common = _body(table, notes)
    forms = {name.value: _joined(common, _body(own, notes)) for name, own in _entries(table.get("forms"))}
    notes.stop_if_any()
    name, title, what = (said(table.get(key)) for key in ("stage", "title", "what"))
    return Stage(name, title, what, forms or {"": common})


def said(piece: Piece | None) -> str:
    """A piece as it is written in one line: texts, `[A, B]` or `{A: B}`, quotes kept."""
    if piece is None:
        return ""
    if isinstance(piece, Text):
        return "'" + piece.value.replace("'", "''") + "'" if piece.quoted else piece.value
    if isinstance(piece, Listing):
        return "[" + ", ".join(said(one) for one in piece.items) + "]"
    return "{" + ", ".join(f"{said(name)}: {said(value)}".strip() for name, value in piece) + "}"


def _entries(piece: Piece | None) -> tuple[tuple[Text, Piece], ...]:
    return piece.entries if isinstance(piece, Table) else ()


def _words(piece: Piece | None) -> tuple[str, ...]:
    items = piece.items if isinstance(piece, Listing) else ()
    return tuple(item.value for item in items if isinstance(item, Text))


def _body(piece: Piece, notes: Notes) -> Body:
    """What a stage, or one form of it, says itself."""
    table = piece if isinstance(piece, Table) else Table((), piece.spot)
    lines = {key: _lines(table.get(key)) for key in (*IN_SECTION, *ON_TOP) if table.get(key)}
    return Body(
        tuple(_ask(name, body, notes) for name, body in _entries(table.get("ask"))),
        {name.value: said(words) for name, words in _entries(table.get("doors"))},
        {name.value: _words(parts) for name, parts in _entries(table.get("stand-ins"))},
        lines,
        _words(table.get("not computed yet")),
        _words(table.get("danger")),
        _words(table.get("healthy")),
        {name.value: said(net) for name, net in _entries(table.get("usual"))},
    )


def _lines(piece: Piece | None) -> tuple[Line, ...]:
    if isinstance(piece, Listing):
        return tuple(Line("", said(item)) for item in piece.items)
    return tuple(Line(name.value, said(value)) for name, value in _entries(piece))


def _ask(name: Text, piece: Piece, notes: Notes) -> Ask:
    table = piece if isinstance(piece, Table) else Table((), piece.spot)
    for key, _ in table:
        if key.value not in ASK_KEYS:
            notes.complain(key.spot, f"a question has no {key.value!r}", nearest(key.value, ASK_KEYS))
    question, unit, band, assumed, must = (_plain(table.get(key)) for key in ASK_KEYS[:5])
    words = _words(table.get("words"))
    if words:
        return Ask(name.value, question, "", assumed, words=words)
    low, high = (read_value(end, unit).si for end in band.split(".."))
    return Ask(name.value, question, unit, assumed, low, high, must == "known")


def _plain(piece: Piece | None) -> str:
    return piece.value if isinstance(piece, Text) else ""


def _joined(common: Body, own: Body) -> Body:
    """A form: what all forms share, and what only this one has."""
    keys = dict.fromkeys((*common.lines, *own.lines))
    return replace(
        common,
        asks=(*common.asks, *own.asks),
        doors={**common.doors, **own.doors},
        stand_ins={**common.stand_ins, **own.stand_ins},
        lines={key: _both(common.lines, own.lines, key) for key in keys},
        not_computed=(*common.not_computed, *own.not_computed),
        danger=(*common.danger, *own.danger),
        healthy=(*common.healthy, *own.healthy),
        usual={**common.usual, **own.usual},
    )


def _both(common: Mapping[str, Iterable[Line]], own: Mapping[str, Iterable[Line]], key: str) -> tuple[Line, ...]:
    return (*common.get(key, ()), *own.get(key, ()))
