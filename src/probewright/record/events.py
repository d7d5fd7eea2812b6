"""What stands in a book: events, and how their payloads are written as text and read back."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

OPENED = "opened"  # the one kind this room writes by itself; all others belong to the caller


@dataclass(frozen=True)
class Event:
    """One thing that happened to a job.

    number counts from 1 inside the job, without gaps; job counts from 1 in the book; payload holds
    plain values, a fresh copy for whoever asks; at is UTC as ISO text, said by the caller; engine
    is the version that wrote it.
    """

    number: int
    job: int
    kind: str
    payload: Mapping[str, Any]
    at: str
    engine: str


@dataclass(frozen=True)
class OwnEvent:
    """One thing that concerns the bench itself; number counts from 1 without gaps, the rest as of an Event."""

    number: int
    kind: str
    payload: Mapping[str, Any]
    at: str
    engine: str


class NoSuchJob(KeyError):
    """A job that the book does not hold; carries its number and the book's name."""

    def __init__(self, job: int, book: str) -> None:
        super().__init__(job)
        self.job, self.book = job, book

    def __str__(self) -> str:
        return f"there is no job {self.job} in {self.book}"


class NotPlain(TypeError):
    """A payload that would not come back as it was: our own slip, never a person's."""


def write_payload(payload: Mapping[str, Any]) -> str:
    """A payload as JSON text. NotPlain where JSON would change it in silence."""
    return write_value(_plain(payload, "payload"))


def write_value(value: Any) -> str:
    """A plain value as the book writes it."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    # a byte that was not UTF-8 reaches us as a lone surrogate: the escape of JSON carries it
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def read_payload(text: str) -> dict[str, Any]:
    """The payload that `write_payload` wrote; ValueError for any other text."""
    payload = json.loads(text)
    if not isinstance(payload, dict):
        raise ValueError("the payload is not a table of names and values")
    return payload


def stamp() -> str:
    """The time now as `at` wants it: UTC, to the second. For the outermost doors alone, which hand it in."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def check_stamp(kind: str, at: str, engine: str) -> None:
    """ValueError unless kind and engine say something and `at` is a time in UTC."""
    if not kind or not engine:
        raise ValueError("an event needs a kind and the version of the engine")
    if datetime.fromisoformat(at).utcoffset() != timedelta(0):
        raise ValueError(f"{at!r} is not a time in UTC; write 2026-11-25T13:00:00+00:00")


def _plain(value: Any, where: str) -> Any:
    """The value as JSON has it: tuples become lists, everything else must be plain already."""
    if isinstance(value, Mapping):
        return {_name(name, where): _plain(one, f"{where}.{name}") for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one, f"{where}[{number}]") for number, one in enumerate(value)]
    if isinstance(value, float) and not math.isfinite(value):
        raise NotPlain(f"{where} is {value}, which JSON does not know")
    if value is None or isinstance(value, str | int | float):
        return value
    raise NotPlain(f"{where} is of type {type(value).__name__}, which JSON does not know")


def _name(name: Any, where: str) -> str:
    if not isinstance(name, str):
        raise NotPlain(f"{where} has the name {name!r}, which is not text")
    return name
