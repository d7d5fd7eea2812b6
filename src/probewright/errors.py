"""What went wrong, said to a repairer: where, what, and how to mend it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Complaint:
    """One thing wrong with what a person gave us.

    file: name of the file, or "" for a typed line; line and column count from 1;
    text: what is wrong; mend: what to write or do instead.
    """

    file: str
    line: int
    column: int
    text: str
    mend: str

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}:{self.column}: " if self.file else ""
        return f"{where}{self.says}"

    @property
    def says(self) -> str:
        """What is wrong and how to mend it, without where."""
        return with_mend(self.text, self.mend)


def with_mend(text: str, mend: str) -> str:
    """What is wrong or asked, and how to mend it; a question mark ends its own sentence."""
    return f"{text} {mend[:1].upper()}{mend[1:]}" if text.endswith("?") else f"{text}; {mend}"


class BadInput(Exception):
    """Something a person gave us cannot be used; it carries every complaint found."""

    def __init__(self, *complaints: Complaint) -> None:
        super().__init__("\n".join(str(one) for one in complaints))
        self.complaints = complaints


def complaint(text: str, mend: str, file: object = "") -> BadInput:
    """One complaint, ready to raise, about something typed or about a file as a whole."""
    return BadInput(Complaint(str(file), 1, 1, text, mend))


class NotAValue(ValueError):
    """A text that is not a value of the unit asked for; carries the mend."""

    def __init__(self, text: str, mend: str) -> None:
        super().__init__(f"{text}; {mend}")
        self.text, self.mend = text, mend
