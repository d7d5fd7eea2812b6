"""Who sits where once like parts have changed places and new ones were fitted, and what the exchanges say of the
culprit: by the lines alone, without a circuit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from probewright.jobs.cases import Case, Line
from probewright.jobs.known_files import file_of
from probewright.jobs.repairs import Fitting, fittings
from probewright.readings import EXCHANGE
from probewright.readings.setups import whole

FOLLOWED, STAYED = "followed", "stayed"  # answers to an exchange; the third is "gone"


@dataclass(frozen=True)
class Chip:
    """One part that can be taken out. part: its own place; event: the line that fitted it, 0: it came with it."""

    part: str
    event: int = 0

    def __str__(self) -> str:
        return f"the new {self.part}" if self.event else self.part


@dataclass(frozen=True)
class Swap:
    """Two parts that changed places: one sits in `there` now, other in `here`. answer: what the fault did."""

    event: int
    at: str
    one: Chip
    here: str
    other: Chip
    there: str
    answer: str


@dataclass(frozen=True)
class Seats:
    """Place -> who sits there, as far as something was moved or fitted; swaps: in their order."""

    sits: Mapping[str, Chip]
    swaps: tuple[Swap, ...]

    def place_of(self, chip: Chip) -> str:
        """Where it sits; "" when it is out of the machine."""
        if chip not in self.sits.values():
            return "" if chip.event or chip.part in self.sits else chip.part
        return next(place for place, one in self.sits.items() if one == chip)


def seats_of(case: Case) -> Seats:
    """Who sits where after every line that was not taken back."""
    sits: dict[str, Chip] = {}
    swaps: list[Swap] = []
    fitted, machine = _by_line(fittings(case)), file_of(case)
    for line in case.live:
        for one in fitted.get(line.event, ()):
            _seat(sits, Chip(one.part, 0 if one.back else one.event))
        for reading in line.readings:
            if reading.question.instrument == EXCHANGE:
                here, there = (whole(one, machine) for one in (reading.question.red, reading.question.black))
                swaps.append(_exchanged(sits, here, there, str(reading.answer), line))
    return Seats(sits, tuple(swaps))


def _by_line(every: Iterable[Fitting]) -> Mapping[int, list[Fitting]]:
    found: dict[int, list[Fitting]] = {}
    for one in every:
        found.setdefault(one.event, []).append(one)
    return found


def _seat(sits: dict[str, Chip], chip: Chip) -> None:
    """It comes into its own place, from wherever it was; nobody said who sits there then."""
    for place in [place for place, one in sits.items() if one == chip]:
        del sits[place]
    sits[chip.part] = chip


def _exchanged(sits: dict[str, Chip], here: str, there: str, answer: str, line: Line) -> Swap:
    """Whoever sits in these two places changes them."""
    one, other = sits.get(here, Chip(here)), sits.get(there, Chip(there))
    sits[here], sits[there] = other, one
    return Swap(line.event, line.at, one, here, other, there, answer)


def suspects_of(swaps: Sequence[Swap]) -> tuple[frozenset[Chip], frozenset[Chip]] | None:
    """Chips that the fault may go with, and those it does not; None where the exchanges contradict each other.

    Of one fault: it follows a pair that holds it, and stays where a pair does not.
    """
    clear = frozenset(chip for swap in swaps if swap.answer == STAYED for chip in (swap.one, swap.other))
    pairs = [frozenset((swap.one, swap.other)) for swap in swaps if swap.answer == FOLLOWED]
    if not pairs:
        return frozenset(), clear
    left = frozenset.intersection(*pairs) - clear
    return (left, clear) if left else None
