"""What to do with a machine whose fault is found: every way to go on, what it may come to, and how sure one must be.

Money is what the owner pays from now on; what was spent is spent, and counts against their ceiling alone. A way to go
on ends in one of four ways: cured; the new part was bad and a second one cures; the diagnosis was wrong and the search
goes on; the board was harmed. Nothing here knows a circuit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

from probewright.planning.tables import rows

RETURN, SCRAP = "return", "scrap"
SEARCH = (
    0.5  # h, chosen: searching on until the diagnosis is sure; half an hour decides most machines (docs/benchmarks.md)
)
SURE_THEN = 0.95  # chosen: how sure it is then, a little under what a located fault is right
STILL_CURED = 0.8  # chosen: machines that are cured after all where the first diagnosis was wrong
VISITS = 3  # times a pad is heated before it lifts, common practice, no source
WORSE = 2.0  # chosen: each visit beyond that doubles the chance
OVER = 0.1  # chosen: more than one case in ten above the ceiling is above it, as is the average
CLOSE = 0.1  # chosen: options whose worth differs by less than a tenth of the machine's value are about equal
HAIR = 1e-4  # chosen: sums of money that differ by less than any coin are the same
SPREAD = (0.1, 0.9)  # chosen: eight cases in ten lie between


@dataclass(frozen=True)
class Sort:
    """A kind of option. bad: chance that what is fitted is bad itself; original: the machine stays as it was built."""

    bad: float
    original: bool
    says: str


@cache
def sorts() -> dict[str, Sort]:
    """Kinds of option by name."""
    return {row["kind"]: Sort(float(row["bad"]), row["original"] == "yes", row["says"]) for row in rows("options")}


@dataclass(frozen=True)
class Option:
    """One way to go on. kind: of `sorts`; parts: money; hours: of work; wait: days; bad: chance that what is fitted is
    bad; damage: chance that the board is harmed; original: the machine stays as it was built."""

    name: str
    kind: str
    parts: float = 0.0
    hours: float = 0.0
    wait: float = 0.0
    bad: float = 0.0
    damage: float = 0.0
    original: bool = True


@dataclass(frozen=True)
class Stakes:
    """What an option is weighed by.

    right: chance that the diagnosis is right; rate: money an hour; value: what the working machine is worth to its
    owner; again: h of searching on and repairing if the diagnosis was wrong; booked: money spent up to now; ceiling:
    what the owner wants to pay in all, None for no word; keep: they want it original.
    """

    right: float
    rate: float
    value: float
    again: float
    booked: float = 0.0
    ceiling: float | None = None
    keep: bool = False


@dataclass(frozen=True)
class End:
    """A way in which an option may end. chance; parts: money for them; hours: of work; cured: the machine works."""

    chance: float
    parts: float
    hours: float
    cured: bool

    def costs(self, rate: float) -> float:
        """Money from now on. rate: money an hour."""
        return self.parts + self.hours * rate


def above(money: float, stakes: Stakes) -> bool:
    """Whether so much from now on is more than the owner wants to pay in all."""
    return stakes.ceiling is not None and stakes.booked + money > stakes.ceiling + HAIR


@dataclass(frozen=True)
class Judged:
    """What an option comes to.

    cured: chance; cost: expected money from now on; low, high: eight cases in ten lie between; worth: expected value
    less cost; over: chance that all in all it is above the ceiling; sure: how sure the diagnosis must be for it to be
    worth more than giving up or searching on, None where no certainty is enough; ends: each way it may end, the
    cheapest first; surer: this option, once searching on has made it sure; free: it may be taken without asking the
    owner.
    """

    option: Option
    cured: float
    cost: float
    low: float
    high: float
    worth: float
    over: float
    sure: float | None
    ends: tuple[End, ...] = ()
    surer: Option | None = None
    free: bool = True

    @property
    def risks(self) -> float:
        """What the owner's word has to cover from now on: with a ceiling of that and what is booked it is not above."""
        return max(self.high, self.cost)


def removal(pins: int, heatings: int = 1) -> tuple[float, float]:
    """Hours to take a part of so many pins out and put another in, and the chance that its pads are harmed.

    heatings: times that these pads were or will be hot, this time counted.
    """
    row = next(row for row in rows("removal") if pins <= int(row["pins"]))
    chance = float(row["damage"]) * WORSE ** max(heatings - VISITS, 0)
    return float(row["minutes"]) / 60.0, min(chance, 1.0)


def endings(option: Option, stakes: Stakes) -> Iterator[End]:
    """Each way it may end; chances sum to one."""
    parts, hours = option.parts, option.hours
    if option.kind in (RETURN, SCRAP):
        yield End(1.0, parts, hours, False)
        return
    whole = 1.0 - option.damage
    yield End(whole * stakes.right * (1.0 - option.bad), parts, hours, True)
    yield End(whole * stakes.right * option.bad, 2.0 * parts, 2.0 * hours, True)
    yield End(whole * (1.0 - stakes.right) * STILL_CURED, parts, hours + stakes.again, True)
    yield End(whole * (1.0 - stakes.right) * (1.0 - STILL_CURED), parts, hours + stakes.again, False)
    yield End(option.damage, parts, hours, False)


def judge(option: Option, stakes: Stakes, beside: float = 0.0) -> Judged:
    """What an option comes to. beside: what it has to be worth more than."""
    rate = stakes.rate
    ends = sorted((one for one in endings(option, stakes) if one.chance > 0.0), key=lambda one: one.costs(rate))
    found = [(one.chance, one.costs(rate)) for one in ends]
    cured = sum(one.chance for one in ends if one.cured)
    cost = sum(chance * money for chance, money in found)
    over = sum((chance for chance, money in found if above(money, stakes)), 0.0)
    low, high = (quantile(found, share) for share in SPREAD)
    sure = how_sure(option, stakes, beside)
    return Judged(option, cured, cost, low, high, _worth(option, stakes), over, sure, tuple(ends))


def how_sure(option: Option, stakes: Stakes, beside: float) -> float | None:
    """The least chance of a right diagnosis at which an option is worth more than what is beside it: nought where it
    always is, None where it never is."""
    none, all_ = (_worth(option, replace(stakes, right=right)) - beside for right in (0.0, 1.0))
    if none >= 0.0:
        return 0.0
    return none / (none - all_) if all_ > 0.0 else None  # worth goes by the chance in a straight line


def searched_first(options: Sequence[Option], stakes: Stakes) -> list[Judged]:
    """Searching on until it is sure and then each of these repairs; nothing where it is as sure already."""
    if stakes.right >= SURE_THEN:
        return []
    surer = replace(stakes, right=SURE_THEN)
    repairs = [one for one in options if one.kind not in (RETURN, SCRAP)]
    judged = [(one, judge(replace(one, hours=one.hours + SEARCH), surer)) for one in repairs]
    return [
        replace(one, option=replace(one.option, name=f"search on first, then {of.name}"), surer=of)
        for of, one in judged
    ]


def _worth(option: Option, stakes: Stakes) -> float:
    return sum(one.chance * (stakes.value * one.cured - one.costs(stakes.rate)) for one in endings(option, stakes))


def quantile(found: Sequence[tuple[float, float]], share: float) -> float:
    """The money that this share of cases stays at or under. found: chance and money of each, the cheapest first."""
    so_far = 0.0
    for chance, money in found:
        so_far += chance
        if so_far >= share - 1e-12:
            return money
    return found[-1][1]


@dataclass(frozen=True)
class Advice:
    """What to do. best: worth most of what may be done without asking; asks: worth more, and needs the owner's word
    first; why: "over" the ceiling, not "original", or to "scrap" what is theirs."""

    ranked: tuple[Judged, ...]
    best: Judged
    asks: Judged | None = None
    why: str = ""


def advise(options: Sequence[Option], stakes: Stakes, closing: float, granted: Collection[str] = ()) -> Advice:
    """Every option, worth most first, and what to do; searching on first and handing it back are always among them.

    closing: h to close up what is handed back unrepaired; granted: names of the options that the owner agreed to; the
    ceiling in `stakes` holds all the same.
    """
    if not any(one.kind == RETURN for one in options):
        options = [*options, Option("hand it back unrepaired", RETURN, hours=closing)]
    first = searched_first(options, stakes)
    given_up = max(_worth(one, stakes) for one in options if one.kind in (RETURN, SCRAP))
    floor = max([given_up, *(one.worth for one in first)])
    judged = [*(judge(one, stakes, floor) for one in options), *first]
    told = [replace(one, free=not _barred(one, stakes, granted)) for one in judged]
    ranked = tuple(sorted(told, key=lambda one: (-one.worth, one.option.wait)))
    best = next(one for one in ranked if one.free)
    if best is ranked[0]:
        return Advice(ranked, best)
    return Advice(ranked, best, ranked[0], _barred(ranked[0], stakes, granted))


def _barred(one: Judged, stakes: Stakes, granted: Collection[str]) -> str:
    """Why an option may not be taken without the owner's word, "" where it may; handing it back always may."""
    if one.option.kind == RETURN:
        return ""
    if one.option.kind == SCRAP:
        return "" if one.option.name in granted else "scrap"
    if one.over > OVER + 1e-12 or above(one.cost, stakes):
        return "over"
    name = (one.surer or one.option).name
    return "original" if stakes.keep and not one.option.original and name not in granted else ""


def about_equal(one: Judged, other: Judged, stakes: Stakes) -> bool:
    """Whether the worth of two options differs by too little to tell them apart."""
    return abs(one.worth - other.worth) <= CLOSE * stakes.value
