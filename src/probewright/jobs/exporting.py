"""Everything that the book holds as files that any program reads: JSON with all of it, tables for a spreadsheet."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from io import StringIO
from pathlib import Path
from typing import Any, TypeVar

from probewright.errors import BadInput, complaint
from probewright.jobs.bench import every_case, every_practice, view_case
from probewright.jobs.cases import Case
from probewright.jobs.parts_used import parts_used
from probewright.jobs.safety_checks import results
from probewright.jobs.view import SCHEMA, plain
from probewright.readings.instruments import unit_of
from probewright.readings.setups import say as say_setup
from probewright.record import Book

# A spreadsheet takes a text that begins so for a formula; CWE-1236. A figure with its sign is none.
FORMULA = re.compile(r"[=@\t\r]|[+-](?![\d.]+$)")


T = TypeVar("T")


@dataclass(frozen=True)
class ExportView:
    """What was written. folder: where; files: name of each."""

    folder: str
    files: tuple[str, ...]
    jobs: int
    schema: str = SCHEMA


def export(book: Book, folder: Path, now: str) -> ExportView:
    """Write the book into a folder that is empty or not there yet. BadInput where it cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise complaint("this folder is not empty", "name a new one", folder)
        written = dict(exported(book, now))  # all of it, before the first is written
        for name, text in written.items():
            (folder / name).write_text(text, "utf-8", newline="")
    except OSError as problem:
        raise complaint(f"cannot write here: {problem.strerror or problem}", "name another folder", folder) from problem
    return ExportView(str(folder), tuple(written), len(book.jobs()))


def exported(book: Book, now: str) -> Iterator[tuple[str, str]]:
    """Each file's name and text."""
    cases = sorted((*every_case(book), *every_practice(book)), key=lambda case: case.number)
    yield "bench.json", _whole(book, cases, now)
    yield "jobs.csv", _table(JOB, map(_job, cases))
    yield "lines.csv", _table(LINE, (row for case in cases for row in _lines(case)))
    yield "readings.csv", _table(READING, (row for case in cases for row in _readings(case)))
    yield "parts.csv", _table(PART, (row for case in cases for row in _parts(case)))
    yield "safety.csv", _table(SAFETY, (row for case in cases for row in _safety(case)))


def _whole(book: Book, cases: Iterable[Case], now: str) -> str:
    """Every event of every job and of the bench, and each job as it is shown."""
    told = {
        "schema": SCHEMA,
        "exported": now,
        "jobs": [
            {**plain(view_case(case)), "events": [asdict(one) for one in book.events(case.number)]} for case in cases
        ],
        "bench": [asdict(one) for one in book.own_events()],
    }
    return json.dumps(told, ensure_ascii=False, indent=1).encode("utf-8", "backslashreplace").decode("utf-8")


def check_readings(case: Case) -> None:
    """KeyError or ValueError for a job whose readings cannot be exported: it holds what no instrument of ours reads."""
    for _ in _readings(case):
        pass


JOB = ("job", "kind", "model", "serial", "owner", "complaint", "does not work", "works badly", "works",
       "opened UTC", "touched UTC", "ended as", "ended UTC", "words at the end")  # fmt: skip
LINE = ("job", "line", "at UTC", "text", "status", "understood as")
READING = ("job", "line", "at UTC", "instrument", "red at", "black at", "answer", "unit", "set-up", "fault shows",
           "status")  # fmt: skip
PART = ("job", "line", "at UTC", "part", "where it is now", "origin", "tested", "source", "old part", "remark")
SAFETY = ("job", "at UTC", "check", "what", "limit", "state", "result", "done by", "stands")


def _job(case: Case) -> tuple[Any, ...]:
    told, ended = case.intake, case.closed or {}
    ticks = [", ".join(name for name, tick in told.ticks.items() if tick == said) for said in ("bad", "partly", "good")]
    return (
        case.number, told.kind, told.model, told.serial, told.owner, told.words, *ticks, case.opened, case.touched,
        ended.get("ending", ""), ended.get("at", ""), ended.get("words", ""),
    )  # fmt: skip


def _lines(case: Case) -> Iterator[tuple[Any, ...]]:
    for line in case.lines:
        yield case.number, line.event, line.at, line.text, line.status, "; ".join(line.says)


def _readings(case: Case) -> Iterator[tuple[Any, ...]]:
    for line in case.lines:
        for one in line.readings:
            ask = one.question
            unit = "" if isinstance(one.answer, str) else unit_of(ask.instrument)
            yield (
                case.number, line.event, line.at, ask.instrument, ask.red, ask.black, plain(one.answer), unit,
                say_setup(ask.setup, None), one.showing, line.status,
            )  # fmt: skip


def _parts(case: Case) -> Iterator[tuple[Any, ...]]:
    for one in _if_it_loads(case, parts_used):
        yield (
            case.number, one.event, one.at, one.part, one.where_now, one.origin, one.state, one.source, one.was,
            one.words,
        )  # fmt: skip


def _safety(case: Case) -> Iterator[tuple[Any, ...]]:
    """Everything that was entered of a check: also what a later repair made due again, or somebody took back."""
    for one in _if_it_loads(case, lambda it: () if it.practice else tuple(results(it))):
        stands = "yes" if one.stands else f"no, taken back: {one.taken_back}" if one.taken_back else "no"
        yield case.number, one.at, one.name, one.title, one.limit, one.state, one.result, one.by, stands


def _if_it_loads(case: Case, rows: Callable[[Case], Sequence[T]]) -> Sequence[T]:
    """No rows of a job whose machine file no longer loads: bench.json holds what was said of it."""
    try:
        return rows(case)
    except BadInput:
        return ()


def _table(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """Rows as comma-separated values, RFC 4180, with the mark by which a spreadsheet knows UTF-8."""
    out = StringIO("\ufeff", newline="")
    out.seek(0, 2)
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows([[_cell(one) for one in row] for row in rows])
    return out.getvalue().encode("utf-8", "backslashreplace").decode("utf-8")


def _cell(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and FORMULA.match(value) else value
