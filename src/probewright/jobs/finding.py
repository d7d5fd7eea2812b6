"""Jobs found by what a person typed or was told; marks, digests and sizes that we keep beside it are passed over."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from probewright.jobs.bench import TOLD
from probewright.record import Book

ASKED = (*TOLD, "ticks")
SEARCHED: Mapping[str, Collection[str]] = {
    "opened": ("kind", *ASKED), "amended": ASKED, "closed": ("ending", "words"),
    "said": ("text", "says"), "asked": ("text",), "note": ("text", "says"),
    "chain": ("text", "says", "names"), "shelf": ("text", "says", "names"),
    "file": ("text", "says", "names", "file", "machine"),  # a chain's and a stage's machine text is ours
    "shown": ("next",), "photo": ("says",), "photo says": ("says",), "spot": ("place",),
    "part told": ("part", "origin", "state", "source", "was", "words"),
    "safety check": ("check", "said", "by", "tool", "words", "left"),
    "safety elsewhere": ("by", "words"), "safety mended": ("words",), "left unsafe": ("words", "signed"),
}  # fmt: skip


def find_jobs(book: Book, text: str) -> tuple[int, ...]:
    """The jobs in which this text was typed or told, large and small letters alike; also in what was taken back."""
    return book.find(text, SEARCHED)
