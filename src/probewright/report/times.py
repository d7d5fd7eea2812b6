"""A time as a person reads it: by the clock on the bench's wall. The record keeps UTC, and JSON shows that."""

from __future__ import annotations

from datetime import datetime

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")  # fmt: skip


def here(at: str) -> datetime:
    """The moment of an ISO time with its zone, as the clock stands where this program runs."""
    return datetime.fromisoformat(at).astimezone()


def local(at: str) -> str:
    """Date and time of day there, to the minute."""
    return here(at).strftime("%Y-%m-%d %H:%M")


def day(at: str) -> str:
    """The date there."""
    return here(at).strftime("%Y-%m-%d")


def hour(at: str) -> str:
    """The time of day there, to the minute."""
    return here(at).strftime("%H:%M")


def lasted(seconds: float) -> str:
    """How long something has gone on, to the minute: 1 h 05 min."""
    hours, minutes = divmod(int(max(seconds, 0.0) // 60), 60)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min"


def of_day(since: float) -> str:
    """The time of day there, to the second; since: s since 1970."""
    return datetime.fromtimestamp(since).strftime("%H:%M:%S")


def day_in_words(at: str) -> str:
    """The date there as a letter has it: 26 November 2026."""
    then = here(at)
    return f"{then.day} {MONTHS[then.month - 1]} {then.year}"


def zone(at: str) -> str:
    """What the clock there goes by at that time: CET."""
    return here(at).tzname() or "the bench"
