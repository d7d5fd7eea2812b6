"""Complaints and warnings gathered while a machine file is read, and the nearest known word."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from probewright.errors import BadInput, Complaint, NotAValue
from probewright.machine.model import Spot, Warning

LONGEST = 600  # chosen, letters: several lines of a screen


class Refused(Exception):
    """A piece of text that cannot be used. offset: characters from the start of that text."""

    def __init__(self, text: str, mend: str, offset: int = 0) -> None:
        super().__init__(f"{text}; {mend}")
        self.text, self.mend, self.offset = text, mend, offset


class NotNamed(Refused):
    """A name nothing in the file has; no news when the line that should have given it was refused."""


@dataclass
class Notes:
    """What was found so far; complaints stop the reading in the end, warnings do not.

    names_missing: part lines were refused, so that names unknown later on are only their echo.
    """

    file: str
    names_missing: bool = False
    complaints: list[Complaint] = field(default_factory=list)
    warnings: list[Warning] = field(default_factory=list)

    def complain(self, spot: Spot, text: str, mend: str) -> None:
        """Something that cannot be used, and what to write instead."""
        self.complaints.append(Complaint(self.file, max(1, spot.line), max(1, spot.column), short(text), short(mend)))

    def refuse(self, spot: Spot, refused: Refused) -> None:
        """A refusal from a text that starts at spot."""
        if isinstance(refused, NotNamed) and self.names_missing:
            return
        self.complain(Spot(spot.line, spot.column + refused.offset), refused.text, refused.mend)

    @contextmanager
    def refusing(self, spot: Spot) -> Iterator[None]:
        """Turn a refusal inside into a complaint about the text that starts at spot, and go on."""
        try:
            yield
        except Refused as refused:
            self.refuse(spot, refused)
        except NotAValue as problem:
            self.complain(spot, problem.text, problem.mend)

    def warn(self, spot: Spot, text: str, mend: str) -> None:
        """Something allowed that looks like a slip. Said once."""
        one = Warning(max(1, spot.line), max(1, spot.column), short(text), short(mend))
        if one not in self.warnings:
            self.warnings.append(one)

    def stop_if_any(self) -> None:
        """Raise BadInput with every complaint, in the order of the file."""
        if self.complaints:
            ordered = sorted(dict.fromkeys(self.complaints), key=lambda one: (one.line, one.column))
            raise BadInput(*ordered)


def short(said: str) -> str:
    """What fits on a screen: the middle of an endless word is left out."""
    return said if len(said) <= LONGEST else f"{said[: LONGEST // 2]} ... {said[-LONGEST // 2 :]}"


def nearest(word: str, known: Iterable[str], otherwise: str = "") -> str:
    """What to write instead of an unknown word: the nearest known one, else the whole list.

    Of several near ones, a name that begins with the same letters (RV1 for RV2, not R2) goes first.
    """
    every = [one for one in known if one]
    lower = {one.lower(): one for one in every}
    close = difflib.get_close_matches(word.lower()[:60], list(lower), 5, 0.6 if len(word) > 3 else 0.5)
    if close:
        begins = _letters(word)
        best = next((one for one in close if _letters(one) == begins), close[0])
        return f"write `{lower[best]}`"
    if otherwise:
        return otherwise
    return "write one of: " + ", ".join(every[:30]) if every else "there is nothing it could be"


def _letters(name: str) -> str:
    """The letters a name begins with."""
    return name.lower().rstrip("0123456789")
