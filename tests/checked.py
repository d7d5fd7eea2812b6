"""A repaired job whose safety somebody else checked, for tests of what comes after."""

from __future__ import annotations

from probewright.jobs.cases import Case
from probewright.jobs.checking_safety import checked_by
from probewright.record import Book

NOW = "2026-11-26T12:00:00+00:00"


def checked(book: Book, case: Case, now: str = NOW) -> Case:
    """The same job, ready to be closed as repaired."""
    return checked_by(book, case, "A. Tester", "all of it", now)
