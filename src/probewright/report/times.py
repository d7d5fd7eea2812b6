"""A time as a person reads it: the record keeps UTC, a bench has a clock on its wall."""

from __future__ import annotations

from datetime import datetime

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")  # fmt: skip


def local(at: str, seconds: bool = False) -> str:
    """Date and time of day where this program runs, of an ISO time with its zone; "" for none."""
    if not at:
        return ""
    return datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M:%S" if seconds else "%Y-%m-%d %H:%M")


def local_day(at: str) -> str:
    """The date there."""
    return local(at)[:10]


def local_hour(at: str) -> str:
    """The time of day there."""
    return local(at)[11:]


def day_in_words(at: str) -> str:
    """The date there as a letter has it: 26 November 2026."""
    here = datetime.fromisoformat(at).astimezone()
    return f"{here.day} {MONTHS[here.month - 1]} {here.year}"
