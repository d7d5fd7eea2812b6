"""Telling what this bench measures with and how long its steps take, and seeing what is reckoned with."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from probewright import __version__
from probewright.jobs.bench import complaint
from probewright.jobs.case_view import KitView, PaceView, ToolView
from probewright.jobs.pacing import TOLD, own_of
from probewright.machine.saying import nearest
from probewright.planning.minutes import minutes, rows
from probewright.readings.kit import TOOLS, USUAL, Kit
from probewright.record import Book

LEAST, MOST = 0.05, 600.0  # min; chosen: what a person may say that a step takes


def view_kit(book: Book) -> KitView:
    """What this bench has and its minutes, with where each figure comes from."""
    own = own_of(book)
    tools = tuple(ToolView(tool, tool in (USUAL if own.has is None else own.has)) for tool in TOOLS)
    return KitView(own.has is not None,
        own.trained, tools, tuple(
        PaceView(
            row, says, minutes(row), own.seen[row].minutes(row) if row in own.seen else None,
            own.seen[row].gaps if row in own.seen else 0, own.told.get(row),
        )
        for row, says in rows().items()
    ))  # fmt: skip


def tell_kit(
    book: Book, has: Collection[str] | None, told: Mapping[str, float | None], now: str, trained: bool | None = None
) -> None:
    """Keep what somebody says of this bench. BadInput for an instrument or a step that is not known.

    has: its instruments, None where nothing is said of them; told: minutes by row, None for those that are learnt
    or usual again; trained: see Kit, None where nothing is said of it.
    """
    known = rows()
    _check_tools(has or ())
    for row, value in told.items():
        if row not in known:
            raise complaint(f"{row!r} is no step that takes minutes", nearest(row, list(known)))
        if value is not None and not LEAST <= value <= MOST:
            raise complaint(f"{row}: {value:g} is not between {LEAST:g} and {MOST:g} min", "write it in minutes")
    payload = {"has": None if has is None else sorted(has), "minutes": dict(told), "trained": trained}
    book.append_own(TOLD, payload, now, __version__)


def minutes_said(row: str, said: str) -> float:
    """Minutes of a step as typed: "0.5", "0,5", "0.5 min". BadInput for what is no number."""
    try:
        return float(said.strip().removesuffix("min").strip().replace(",", "."))
    except ValueError:
        raise complaint(f"{row}: {said!r} is no number of minutes", f"write it like {row}=0.5") from None


def with_instruments(kit: Kit, names: Collection[str]) -> Kit:
    """The kit with these instruments alone. BadInput for one that is not known."""
    _check_tools(names)
    return replace(kit, has=frozenset(names))


def _check_tools(names: Collection[str]) -> None:
    for name in names:
        if name not in TOOLS:
            raise complaint(f"{name!r} is no instrument that is reckoned with", nearest(name, list(TOOLS)))
