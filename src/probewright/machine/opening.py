"""How a machine is opened, read from lines as they are said: "4 screws 12 mm bottom, tray A", "ribbon J3 pull tab up".

The same words stand behind `opening:` in a machine file, where all of a line has to be understood, and are typed with
one hand free, where what is not understood is kept as a note.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from importlib.resources import files

from probewright.machine import opening_words as words
from probewright.machine.layers import COUNTED, Care, Layer, Loose
from probewright.machine.model import SINKS

Change = Callable[[Layer], Layer]  # what a piece of a line does to its layer


@cache
def _rows(name: str) -> tuple[tuple[re.Pattern[str], dict[str, str]], ...]:
    text = files(__package__).joinpath(f"data/{name}.csv").read_text("utf-8")
    return tuple((words.form(rf"\b(?:{row['words']})\b"), row) for row in csv.DictReader(text.splitlines()))


def how_shut(lock: str) -> str:
    """How a connector with this lock goes back; "" for one that nobody described."""
    return next((row["shut"] for _, row in _rows("locks") if row["lock"] == lock), "")


def cooled(layer: Layer) -> tuple[str, ...]:
    """Words for what no longer cools anything once this layer is off: parts by name, else the sink itself."""
    named = [one.name or "heatsink" for one in layer.of("heatsink")] + ["screen" for _ in layer.of("screen")]
    own = [word for word in SINKS if re.search(rf"\b{word}\b", layer.name, re.IGNORECASE)]
    return tuple(dict.fromkeys([*named, *own]))


def read_layer(text: str, name: str = "") -> Layer:
    """A line as a layer; what is not understood is among its notes, and nothing of it is lost."""
    layer, rest = Layer(name, " ".join(text.split())), text
    head = words.HEAD.fullmatch(text) if not name and not _own_words(text) else None
    if head and (put := words.PUT.fullmatch(head["head"])):
        rest = f"{head['rest']}, {put['put']}"
    elif head and not words.ANY_FIXING.search(head["head"]):
        layer, rest = replace(layer, name=head["head"].strip()), head["rest"]
    for piece, _ in pieces_of(rest):
        layer = with_piece(layer, piece) or replace(layer, notes=(*layer.notes, piece))
    return layer


def uncounted(layer: Layer) -> tuple[str, ...]:
    """What of a line begins with a number, may be a slip of what is counted, and was not called a note: "4 skrews"."""
    return tuple(
        note
        for note in layer.notes
        if words.NUMBERED.fullmatch(note)
        and _is_slip(note)
        and not re.search(words.IS_NOTE + re.escape(note), layer.text, re.IGNORECASE)
    )


def _is_slip(note: str) -> bool:
    """Whether a word of it is one that a number is said of, or nearly."""
    said = re.findall(r"[^\W\d_]{3,}", note.casefold())
    return any(difflib.get_close_matches(one, words.THINGS, 1, words.SLIP) for one in said)


# Pieces --------------------------------------------------------------------------------------


def pieces_of(text: str) -> Iterator[tuple[str, int]]:
    """What stands between commas, or joined by "and" where each half says something of its own; with its offset."""
    start = 0
    for end in [*(found.start() for found in words.APART.finditer(text)), len(text)]:
        raw = text[start:end].strip(" ,;()\n")
        offset = text.index(raw, start)
        for piece in _parted(raw.rstrip(".").strip()):
            yield piece, text.index(piece, offset)
        start = end


def _parted(piece: str) -> Iterator[str]:
    """A piece, or what it is made of: "2 screws and a nut", "lid 4 screws bottom"; a person's own words stay whole."""
    halves = [one.strip() for one in words.AND.split(piece)]
    behind = words.BEHIND.search(piece)
    if _own_words(piece):
        yield piece
    elif len(halves) > 1 and all(_read(one) for one in halves):
        yield from halves
    elif behind and not re.match(rf"{words.COUNT}\b", piece, re.IGNORECASE):
        yield piece[: behind.start()].strip()
        yield piece[behind.end() :].strip()
    elif piece:
        yield piece


def _own_words(piece: str) -> bool:
    return any(form.fullmatch(piece.strip()) for form in words.OWN_WORDS)


def with_piece(layer: Layer, piece: str) -> Layer | None:
    """The layer with one more piece of its line; None for what is not understood."""
    if put := words.PUT.fullmatch(piece):
        return _put_away(layer, put["put"])
    last = layer.loose[-1] if layer.loose else None
    if last and last.sort == "cable" and words.DESIGNATORS.fullmatch(piece):  # "plugs J3, J4 and J5"
        more = tuple(replace(last, says=one, name=one) for one in words.DESIGNATOR.findall(piece))
        return replace(layer, loose=(*layer.loose, *more))
    if last and last.sort == "cable" and not last.lock and (lock := _lock(piece, whole=True)):
        held = replace(last, says=f"{last.says}, {piece}", lock=lock)
        return replace(layer, loose=(*layer.loose[:-1], held))
    if change := _read(piece):
        return change(layer)
    named = words.LAYERS.fullmatch(piece) and not words.ANY_FIXING.search(piece)
    return _named(layer, piece, piece) if named else None


def _put_away(layer: Layer, where: str) -> Layer | None:
    """Where the fixings lie that were named before and lie nowhere yet."""
    if not layer.of(COUNTED):
        return None
    lie = (replace(one, put=where) if one.sort == COUNTED and not one.put else one for one in layer.loose)
    return replace(layer, loose=tuple(lie))


def _named(layer: Layer, name: str, piece: str) -> Layer:
    """The layer with its name; a second name is a remark."""
    return replace(layer, notes=(*layer.notes, piece)) if layer.name else replace(layer, name=name)


def _adds(*some: Loose) -> Change:
    return lambda layer: replace(layer, loose=(*layer.loose, *some))


def _read(piece: str) -> Change | None:
    """What a piece does to its layer; the first reader that knows it wins. None where none does."""
    return next((change for reader in READERS if (change := reader(piece))), None) if piece else None


# What is said besides ------------------------------------------------------------------------


def _care(piece: str) -> Change | None:
    found = words.CARE.fullmatch(piece)
    if not found:
        return None
    row = next((row for form, row in _rows("cares") if form.search(found["what"])), {"sort": "", "says": ""})
    care = Care(row["sort"], found["what"], row["says"])
    return lambda layer: replace(layer, cares=(*layer.cares, care))


def _check(piece: str) -> Change | None:
    found = words.CHECK.fullmatch(piece)
    return (lambda layer: replace(layer, checks=(*layer.checks, found["what"]))) if found else None


def _note(piece: str) -> Change | None:
    found = words.NOTE.fullmatch(piece)
    return (lambda layer: replace(layer, notes=(*layer.notes, found["what"]))) if found else None


def _power(piece: str) -> Change | None:
    if words.NO_POWER.fullmatch(piece):
        return lambda layer: replace(layer, seconds=0.0)
    found = words.SOME_POWER.fullmatch(piece)
    if not found:
        return None
    seconds = float(found["time"]) * (60.0 if found["unit"].lower().startswith("m") else 1.0)
    return lambda layer: replace(layer, seconds=seconds)


# What comes loose ----------------------------------------------------------------------------


def _between(piece: str) -> Change | None:
    return _adds(Loose("between", piece)) if words.BETWEEN.fullmatch(piece) else None


def _earth(piece: str) -> Change | None:
    return _adds(Loose("earth", piece)) if words.EARTH.fullmatch(piece) and not _fixings(piece) else None


def _heatsink(piece: str) -> Change | None:
    found = words.HEATSINK.fullmatch(piece)
    return _adds(Loose("heatsink", piece, name=found["of"] or found["whose"] or "")) if found else None


def _screen(piece: str) -> Change | None:
    found = words.SCREEN.fullmatch(piece)
    if not found:
        return None
    one = Loose("screen", piece, name=found["of"] or "")
    return lambda layer: replace(layer, loose=(*layer.loose, one), name=layer.name or "screen")


def _clips(piece: str) -> Change | None:
    found = words.CLIPS.fullmatch(piece)
    if not found or (found["with_count"] and not found["count"]):
        return None
    count = _number(found["count"]) if found["count"] else 1
    return _adds(Loose("clips", piece, count, where=_whereabouts(found["where"])))


def _cable(piece: str) -> Change | None:
    """A ribbon, plug or wire: its connector, how it is held; "unplug J4 and J5" are two."""
    found = words.CABLE.match(piece)
    if not found and not words.UNPLUGGED.fullmatch(piece):
        return None
    near = words.FAR_END.split(piece)[0]
    names = words.DESIGNATOR.findall(near) or words.DESIGNATOR.findall(piece)[:1]
    lock, count = _lock(piece), re.match(rf"{words.COUNT}\b", piece, re.IGNORECASE)
    if len(names) > 1:
        noun = found["noun"].rstrip("s") if found else "plug"
        return _adds(*(Loose("cable", f"{noun} {one}", 1, name=one, lock=lock) for one in names))
    return _adds(Loose("cable", piece, _number(count["count"]) if count else 1, name="".join(names), lock=lock))


def _lock(piece: str, whole: bool = False) -> str:
    """How a connector holds; whole: the piece says nothing else."""
    found = ((row["lock"], form.fullmatch(piece) if whole else form.search(piece)) for form, row in _rows("locks"))
    return next((lock for lock, match in found if match), "")


def _comes_off(piece: str) -> Change | None:
    found = words.COMES_OFF.fullmatch(piece)
    return (lambda layer: _named(layer, found["what"] or found["named"], piece)) if found else None


def _fixings(piece: str) -> Change | None:
    """`4 screws 12 mm bottom`, `2x M3x8 black under the feet`, `screws x4`. None where nobody says how many."""
    said = words.TAKEN_OUT.sub("", piece)
    first, last = words.COUNT_FIRST.match(said), words.COUNT_LAST.match(said)
    counted = last or first
    if counted is None:
        return None
    rest = f"{last['what'] if last else ''} {said[counted.end() :]}"
    noun, sizes, looks = "", [], []
    while found := words.TOLD.match(rest):
        noun = noun or (found["noun"] or "").lower()
        sizes += [one for one in (found["thread"], _millimetres(found)) if one]
        looks += [found["look"].lower()] if found["look"] else []
        rest = rest[found.end() :]
    count, lengths = _number(counted["count"]), [float(one[:-3]) for one in sizes if one.endswith("mm")]
    if not (noun or sizes) or not 0 < count <= words.MOST or not all(0 < one <= words.LONGEST for one in lengths):
        return None
    put = words.PUT.search(rest)
    where = _whereabouts(rest[: put.start()] if put else rest)
    kind = " ".join(
        (noun or "screw", *dict.fromkeys(one.upper().replace("MM", "mm") for one in sizes), *sorted(set(looks)))
    )
    one = Loose(COUNTED, piece, count, kind, where, put["put"] if put else "")
    return _adds(one, Loose("earth", where)) if words.EARTH.fullmatch(where) else _adds(one)


def _millimetres(found: re.Match[str]) -> str:
    """The length of a screw, "12 mm"; "" where the piece is none."""
    if found["over"]:
        return f"{words.INCH * int(found['over']) / int(found['under']):.3g} mm"
    length = found["by"] or found["length"]
    if not length:
        return ""
    factor = {"mm": 1.0, "cm": 10.0}.get((found["unit"] or "mm").lower(), words.INCH)
    return f"{factor * float(length.replace(',', '.')):g} mm"


def _number(word: str) -> int:
    return int(word) if word.isdigit() else words.NUMBERS[word.casefold()]


def _whereabouts(said: str) -> str:
    return words.WHERE.sub("", said.strip(" :-"))


READERS: tuple[Callable[[str], Change | None], ...] = (
    _care, _check, _note, _power, _between, _earth, _heatsink, _screen, _fixings, _clips, _cable, _comes_off,
)  # fmt: skip
