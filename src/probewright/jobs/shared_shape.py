"""What a shared job's file looks like, and whether a stranger's looks so: types, sizes, nothing that is not named.

The file is plain JSON; docs/jobs.md shows one. A field without a default must be there, one that is not named must not.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
import types
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath, PureWindowsPath
from typing import Any

from probewright.readings import Look, Setup

FORMAT, VERSION = "probewright job", 1
MOST_BYTES = 64 * 2**20  # chosen: a job with a handful of pictures; one without has some 100 kB
MOST_ITEMS = 5000  # chosen: entries of one list; a long job has some hundred lines
MOST_LETTERS = 20_000  # chosen: of one text, but for a machine file and a picture
LONG = {"machine": 1_000_000, "data": 40 * 2**20}  # fields that may be longer, letters


@dataclass(frozen=True)
class ReadingShape:
    """A reading, as the record keeps it."""

    instrument: str
    red: str
    black: str
    setup: Setup
    answer: float | str
    word: bool
    hookup: str
    showing: str
    sitting: int
    about: bool
    text: str
    look: Look = Look()
    bound: tuple[float | str, float | str] | None = None


@dataclass(frozen=True)
class BenchShape:
    """How the bench stood after a line."""

    setup: Setup
    sitting: int
    taken: bool
    disturbed: bool
    hookups: int
    power_said: bool
    fitted: tuple[str, ...]
    mended: tuple[str, ...]
    side: str = ""
    turns: int = 0
    told: int = 0


@dataclass(frozen=True)
class ZoneShape:
    """A zone."""

    kind: str
    places: tuple[str, ...]
    around: bool


@dataclass(frozen=True)
class LineShape:
    """A line. after: minutes since the machine came in; kind: "said", "note", "chain", "shelf" or "file"."""

    after: float
    kind: str
    text: str
    says: tuple[str, ...]
    readings: tuple[ReadingShape, ...] = ()
    bench: BenchShape | None = None
    marked: dict[str, tuple[float, str]] | None = None
    zones: tuple[ZoneShape, ...] = ()
    machine: str = ""
    file: str = ""
    names: dict[str, str] | None = None
    functions: dict[str, str] | None = None


@dataclass(frozen=True)
class CulpritShape:
    """What was it, as the other bench found."""

    item: str
    mode: str
    share: float


@dataclass(frozen=True)
class SpotShape:
    """A place on a picture, as shares of width and height."""

    place: str
    x: float
    y: float


@dataclass(frozen=True)
class PictureShape:
    """A picture. data: the file, in base 64."""

    says: str
    sheet: bool
    data: str
    spots: tuple[SpotShape, ...] = ()


@dataclass(frozen=True)
class JobShape:
    """A closed job of some bench. after: minutes to its end; decided_by: the line's text that spoke most for it."""

    kind: str
    model: str
    ticks: dict[str, str]
    words: str
    when: str
    inside: str
    boards: str
    lines: tuple[LineShape, ...]
    after: float
    ending: str
    ended_with: str
    culprits: tuple[CulpritShape, ...] = ()
    decided_by: str = ""
    pictures: tuple[PictureShape, ...] = ()


def misfit(kind: Any, value: Any, where: str) -> str:
    """Where a plain value does not look as it should, and how it should; "" where it does. kind: a type or a shape."""
    return next(_misfits(kind, value, where), "")


def _misfits(kind: Any, value: Any, where: str) -> Iterator[str]:
    origin, inside = typing.get_origin(kind), typing.get_args(kind)
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        yield from _of_shape(kind, value, where)
    elif origin in (typing.Union, types.UnionType):
        if all(misfit(one, value, where) for one in inside):
            yield f"{where} should be {' or '.join(_called(one) for one in inside)}"
    elif kind is types.NoneType:
        if value is not None:
            yield f"{where} should be nothing"
    elif origin is tuple:
        yield from _of_list(inside, value, where)
    elif origin is dict:
        if not isinstance(value, dict) or len(value) > MOST_ITEMS:
            yield f"{where} should be a table of at most {MOST_ITEMS} names"
            return
        for name, one in value.items():
            yield from _misfits(str, name, f"a name in {where}")
            yield from _misfits(inside[1], one, f"{where}.{name[:40]}")
    else:
        yield from _of_plain(kind, value, where)


def _of_shape(kind: type, value: Any, where: str) -> Iterator[str]:
    if not isinstance(value, dict):
        yield f"{where} should be a table"
        return
    hints, fields = typing.get_type_hints(kind), dataclasses.fields(kind)
    if strange := sorted(set(value) - {one.name for one in fields}):
        yield f"{where} has {strange[0][:40]!r}, which nobody knows"
    for one in fields:
        if one.name in value:
            yield from _misfits(hints[one.name], value[one.name], f"{where}.{one.name}")
        elif one.default is dataclasses.MISSING:
            yield f"{where} has no {one.name!r}"


def _of_list(inside: tuple[Any, ...], value: Any, where: str) -> Iterator[str]:
    if not isinstance(value, list) or len(value) > MOST_ITEMS:
        yield f"{where} should be a list of at most {MOST_ITEMS}"
        return
    if inside[-1] is not Ellipsis and len(value) != len(inside):
        yield f"{where} should be a list of {len(inside)}"
        return
    kinds = [inside[0]] * len(value) if inside[-1] is Ellipsis else inside
    for number, (kind, one) in enumerate(zip(kinds, value, strict=True)):
        yield from _misfits(kind, one, f"{where}[{number}]")


def _of_plain(kind: Any, value: Any, where: str) -> Iterator[str]:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    fits = number and _is_finite(value) if kind is float else isinstance(value, kind)
    if not fits or (kind is int and isinstance(value, bool)):
        yield f"{where} should be {_called(kind)}"
    elif kind is str:
        most = LONG.get(where.rpartition(".")[2], MOST_LETTERS)
        if len(value) > most:
            yield f"{where} has more than {most} letters"
        if any("\ud800" <= letter <= "\udfff" or letter == "\0" for letter in value):
            yield f"{where} is no text"


def _is_finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number of hundreds of digits
        return False


def _called(kind: Any) -> str:
    return {str: "a text", float: "a number", int: "a whole number", bool: "true or false"}.get(kind, "as described")


def digest_of(job: Mapping[str, Any]) -> str:
    """What tells whether a file is as it was written."""
    text = json.dumps(job, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def bare_name(name: str) -> str:
    """A file's name without the folders: those name a person's computer."""
    return PureWindowsPath(PurePosixPath(name).name).name


def bare_text(text: str, file: str) -> str:
    """A line that names a file, without the folders."""
    return text.replace(file, bare_name(file)) if file else text
