"""A sheet of paper as a value: what stands on it, before anything is known of HTML or PDF; and as plain text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

WIDTH = 100  # letters of a line of text


@dataclass(frozen=True)
class Table:
    """Rows under a head; a row of one cell goes across all columns. figures: columns whose figures stand under each
    other, counted from 0; last: how many rows at the end are sums."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: tuple[int, ...] = ()
    last: int = 0


@dataclass(frozen=True)
class Block:
    """What stands under one heading: sentences, points, a table. weighty: it is framed, and not to be missed."""

    heading: str
    says: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    table: Table | None = None
    weighty: bool = False


@dataclass(frozen=True)
class Paper:
    """One paper. name: what it is; head: lines of whoever hands it over; title: its own; about: label and value; sign:
    what is signed, each with a line for it; short: it should fit on one sheet; made: the
    day, 2026-11-26."""

    name: str
    head: tuple[str, ...]
    title: str
    about: tuple[tuple[str, str], ...]
    blocks: tuple[Block, ...]
    sign: tuple[str, ...] = ()
    short: bool = False
    made: str = ""


def text(paper: Paper) -> str:
    """The whole of it as plain text; its digest is what the record keeps."""
    return "\n".join(_lines(paper)) + "\n"


def _lines(paper: Paper) -> Iterator[str]:
    yield from paper.head
    yield from [""] * bool(paper.head)
    yield f"{paper.name}: {paper.title}"
    yield from (f"{label}: {value}" for label, value in paper.about)
    for block in paper.blocks:
        yield ""
        yield f"{block.heading}{' (!)' if block.weighty else ''}"
        yield from (f"  {one}" for one in block.says)
        yield from (f"  - {one}" for one in block.points)
        yield from _columns(block.table) if block.table else ()
    for one in paper.sign:
        yield ""
        yield f"{one}"
        yield "Date: ______________   Signature: ______________________________"


def _columns(table: Table) -> Iterator[str]:
    """Rows with their columns under each other; a long cell goes on past its column."""
    rows = [table.head, *table.rows]
    wide = [max((len(row[n]) for row in rows if len(row) > 1), default=0) for n in range(len(table.head))]
    for row in rows:
        if len(row) == 1:
            yield f"  {row[0]}"
            continue
        cells = [
            one.rjust(wide[n]) if n in table.figures else one.ljust(min(wide[n], WIDTH // 2))
            for n, one in enumerate(row)
        ]
        yield f"  {'  '.join(cells)}".rstrip()
