"""Deciding with the owner: what the options come to, what to do, what to ask, and the owner's word with its time.

Money has no name here but what the bench calls it. Hours booked count against the ceiling before anything else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime
from typing import Any

from probewright import __version__
from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.jobs.bench import append, complaint, owned, readable, still_open
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Agreed, Case, Consent
from probewright.jobs.fitting_lists import parts_listed, times_hot
from probewright.jobs.pacing import AWAY
from probewright.jobs.view import SCHEMA
from probewright.machine.saying import nearest
from probewright.planning.deciding import (
    RETURN,
    SCRAP,
    End,
    Judged,
    Option,
    Stakes,
    about_equal,
    advise,
    removal,
    sorts,
)
from probewright.planning.minutes import minutes
from probewright.readings.owner import to_wish
from probewright.readings.setups import find
from probewright.record import Book, Unwritten
from probewright.units import percent, with_capital

MONEY = "money"  # kind of the bench's own event that tells rate and currency
AGAIN = 2.0  # h, chosen: searching on and repairing, where the diagnosis was wrong
UNSURE = 0.5  # chosen: how sure a diagnosis is before there is any
RATE_ASKED = "What does an hour cost here? `probewright decide --rate 60`"
VALUE_ASKED = "What is the machine worth to its owner, working? `probewright decide --value 150`"
OPTIONS_ASKED = 'Which ways are there? `probewright decide --option "a new U3" --kind new --pins 16 --parts 8`'
MOST_HOT = 20  # chosen: more is a slip
LONGEST_WAIT, MOST_MONEY = 3650.0, 1e7  # chosen: more is a slip


@dataclass(frozen=True)
class Money:
    """What this bench charges. rate: an hour; currency: as written before or after a figure."""

    rate: float = 0.0
    currency: str = ""


@dataclass(frozen=True)
class OptionView:
    """One way to go on, judged: see `planning.deciding.Judged`, parts and rate with tax; says: in words; takes: what it
    was reckoned from."""

    name: str
    kind: str
    parts: float
    hours: float
    wait: float
    bad: float
    damage: float
    original: bool
    cured: float
    cost: float
    low: float
    high: float
    worth: float
    over: float
    sure: float | None
    says: str
    takes: str
    risks: float
    ends: tuple[End, ...]


@dataclass(frozen=True)
class DecisionView:
    """What to do with this machine. located: the search says so; right: how sure the diagnosis, or the leading
    guess, is; booked, and what options come to: with tax. advice: plain, in one sentence; question: for the owner, ""
    where nothing is to be asked; asks: the option that goes above the ceiling, "" for none, of which `billing.decided`
    words the question; open: what is not
    known yet and would be asked of the owner or the bench; consents: the owner's words."""

    job: int
    located: bool
    searched: bool
    right: float
    booked_hours: float
    booked: float
    value: float | None
    ceiling: float | None
    keep: bool
    currency: str
    rate: float
    options: tuple[OptionView, ...]
    advice: str
    question: str
    open_: tuple[str, ...]
    consents: tuple[Consent, ...]
    asks: str = ""
    schema: str = SCHEMA


# What is told ---------------------------------------------------------------------------------


def money_of(book: Book) -> Money:
    """What this bench charges, as told last."""
    told = [event.payload for event in book.own_events() if event.kind == MONEY]
    return Money(**told[-1]) if told else Money()


def tell_money(book: Book, rate: float | None, currency: str | None, now: str) -> Money:
    """Say what this bench charges; None leaves what was told."""
    before = money_of(book)
    new = Money(before.rate if rate is None else rate, before.currency if currency is None else currency.strip())
    _sum(new.rate, "the rate")
    readable(new.currency)
    if new != before:
        book.append_own(MONEY, asdict(new), now, __version__)
    return new


def agree(book: Book, case: Case, told: Mapping[str, Any], now: str) -> Case:
    """What the owner says of money: value, ceiling, keep (original). A field that is not told stays as it was."""
    still_open(case)
    known = {one.name for one in fields(Agreed)}
    if unknown := sorted(set(told) - known):
        raise complaint(f"{unknown[0]!r} is nothing that is agreed", nearest(unknown[0], sorted(known)))
    for name in ("value", "ceiling"):
        if told.get(name) is not None:
            _sum(told[name], f"the {name}")
    new = replace(case.agreed, **told)
    return append(book, case, "agreed", asdict(new), now) if new != case.agreed else case


def settle_money(
    book: Book, case: Case, rate: float | None, currency: str | None, told: Mapping[str, Any], now: str
) -> Case:
    """What this bench charges and what the owner says of money: all of it, or none where any is refused. BadInput."""
    for kept in (Unwritten(book), book):
        tell_money(kept, rate, currency, now)
        after = agree(kept, case, told, now)
    return after


def hot_before(case: Case, name: str) -> int:
    """How often pads were hot of the part that the name of an option names ("a new U3"); 0 where it names none."""
    parts = (*parts_listed(case), *case.bench.fitted, *(one.part for one in case.fits.heated))
    named = (found for word in name.split() for found in find(word.strip(",;:."), parts))
    return max((times_hot(case, one) for one in named), default=0)


def hot_said(case: Case, name: str, hot: int | None, pins: int, damage: float | None) -> int:
    """How often pads were hot: as said, None for as the job counted. BadInput where it would count for nothing."""
    if hot is None:
        return hot_before(case, name)
    if hot and (not pins or damage is not None):
        raise complaint(
            "how often its pads were hot says something only with its pins, and where no harm to the board is told",
            "say its pins and no harm, or leave it out",
        )
    return hot


def option_said(kind: str, name: str, told: Mapping[str, float | bool | None], pins: int = 0, hot: int = 0) -> Option:
    """An option as a person tells it; what is not told is the kind's, or that of a part of so many pins. hot: how often
    its pads were hot before. BadInput."""
    known = sorts()
    if kind not in known:
        raise complaint(f"{kind!r} is no kind of option", nearest(kind, list(known)))
    if pins < 0 or pins > 999:
        raise complaint(f"a part of {pins} pins is not known", "write 1 to 999")
    if hot < 0 or hot > MOST_HOT:
        raise complaint(f"pads cannot have been hot {hot} times", f"write 0 to {MOST_HOT}")
    hours, damage = removal(pins, hot + 1) if pins and kind not in (RETURN, SCRAP) else (0.0, 0.0)
    usual = Option(name.strip(), kind, hours=hours, damage=damage, bad=known[kind].bad, original=known[kind].original)
    found = replace(usual, **{key: value for key, value in told.items() if value is not None})  # type: ignore[arg-type]
    readable(found.name)
    if not found.name:
        raise complaint("an option needs a name", "write for example: a new U3")
    for key in ("bad", "damage"):
        if not 0.0 <= getattr(found, key) <= 1.0:
            raise complaint(f"{key}: {getattr(found, key):g} is no chance", "write 0 to 1, like 0.05")
    if not 0.0 <= found.hours <= 1000.0 or not 0.0 <= found.wait <= LONGEST_WAIT:
        raise complaint("so many hours or days cannot be", "write hours of work and days of waiting")
    if found.kind != SCRAP or found.parts > 0.0:
        _sum(found.parts, "parts")
    return found


def add_option(book: Book, case: Case, option: Option, now: str) -> Case:
    """Put an option to the job, in the place of one of the same name."""
    still_open(case)
    if option in case.options:
        return case
    return append(book, case, "option", asdict(option), now)


def drop_option(book: Book, case: Case, name: str, now: str) -> Case:
    """An option that is none any more."""
    still_open(case)
    if name not in {one.name for one in case.options}:
        raise complaint(f"{name!r} is no option of this job", nearest(name, [one.name for one in case.options]))
    return append(book, case, "option gone", {"name": name}, now)


def consent(book: Book, case: Case, to: str, words: str, up_to: float | None, now: str) -> Case:
    """The owner's word, as it was said. to: an option's name; up_to: the new ceiling that goes with it."""
    still_open(case)
    for one in (to, words):
        readable(one)
    if not words.strip():
        raise complaint("the owner's words are missing", "write what was said, as it was said")
    if to not in {one.name for one in case.options}:
        raise complaint(f"{to!r} is no option of this job", nearest(to, [one.name for one in case.options]))
    if up_to is not None:
        _sum(up_to, "the new ceiling")
    same = any((one.to, one.words, one.up_to) == (to, words.strip(), up_to) for one in case.consents[-1:])
    if same and up_to in (None, case.agreed.ceiling) and to_wish(to) not in case.owner.no:
        return case  # a form that was sent twice: nothing was said since that the word would change
    return append(book, case, "consent", {"to": to, "words": words.strip(), "up_to": up_to}, now)


def _sum(value: float, what: str) -> None:
    if not 0.0 <= value <= MOST_MONEY:
        raise complaint(f"{what}: {value:g} is no sum of money", "write a figure of nought or more")


# Where it stands ------------------------------------------------------------------------------


def decide_on(
    book: Book, case: Case, view: BenchView | None, money: Money | None = None, tax: float = 0.0
) -> DecisionView:
    """What the options come to. view: where the job stands, None while that is worked out; money: what is charged, None
    for what this bench charges everybody; tax: share that comes on top of it. BadInput for a practice."""
    owned(case)
    money, agreed, right = money or money_of(book), case.agreed, _right(view)
    hours = booked_hours(case)
    gross = 1.0 + tax
    spent = hours * money.rate * gross
    stakes = Stakes(right, money.rate * gross, agreed.value or 0.0, AGAIN, spent, agreed.ceiling, agreed.keep)
    owner = case.owner
    options = [
        one if one.kind == SCRAP else replace(one, parts=one.parts * gross)  # what scrap brings in is not charged
        for one in case.options
        if to_wish(one.name) not in owner.no  # a no is a no, however said
    ]
    granted = {one.to for one in case.consents} | {one.name for one in options if to_wish(one.name) in owner.yes}
    told = advise(options, stakes, minutes("refit case", case.kit) / 60.0, granted)
    unknown = _open(money, case)
    ready = not unknown
    advice = _advice(told.best, told.ranked, stakes, money) if ready else ""
    asks = told.asks if ready else None
    over = asks is not None and told.why == "over"
    question = _question(asks, told.why, stakes, money) if asks is not None and not over else ""
    located = view is not None and view.search.finding in ("located", "outside")
    return DecisionView(
        case.number, located, view is not None, right, hours, spent, agreed.value, agreed.ceiling, agreed.keep,
        money.currency, money.rate,
        tuple(_view(one, money) for one in _shown(told.ranked)), advice, question, unknown, case.consents,
        asks.option.name if asks is not None and over else "",
    )  # fmt: skip


def booked_hours(case: Case) -> float:
    """Hours between the lines of a job, a gap of more than half an hour counted as none."""
    times = [datetime.fromisoformat(at) for at in (case.opened, *(line.at for line in case.lines))]
    gaps = ((b - a).total_seconds() / 60.0 for a, b in zip(times, times[1:], strict=False))
    return sum(one for one in gaps if 0.0 < one <= AWAY) / 60.0


def _right(view: BenchView | None) -> float:
    """How sure the diagnosis is: of the first look-alikes among which something is wrong; UNSURE before any."""
    if view is None:
        return UNSURE
    faulty = (one.probability for one in view.search.classes if not {NOTHING_WRONG, NOT_LISTED} & set(one.members))
    return next(faulty, 0.0)


def _open(money: Money, case: Case) -> tuple[str, ...]:
    asked = (
        (money.rate <= 0.0, RATE_ASKED),
        (case.agreed.value is None, VALUE_ASKED),
        (not case.options, OPTIONS_ASKED),
    )
    return tuple(question for missing, question in asked if missing)


def _shown(ranked: Sequence[Judged]) -> Iterator[Judged]:
    """Every option, and of those that search on first the best alone."""
    searching = next((one for one in ranked if one.surer), None)
    return (one for one in ranked if not one.surer or one is searching)


def _view(one: Judged, money: Money) -> OptionView:
    return OptionView(
        **asdict(one.option), cured=one.cured, cost=one.cost, low=one.low, high=one.high, worth=one.worth,
        over=one.over, sure=one.sure, says=_says(one, money), takes=_takes(one, money), risks=one.risks, ends=one.ends,
    )  # fmt: skip


def _says(one: Judged, money: Money) -> str:
    option = one.option
    if option.kind in (RETURN, SCRAP):
        return f"{option.name}: {_more(one.cost, money)}"
    ends = f"{amount(one.low, money)} to {amount(one.high, money)}"
    spread = "" if one.low == one.high else f" ({ends} in eight cases of ten)"
    wait = f", {option.wait:g} days of waiting" if option.wait else ""
    if one.surer:
        sure = "then nearly sure"
    elif one.sure is None:
        sure = "not worth it however sure you are"
    elif one.sure <= 0.0:
        sure = "worth it even if this is not the fault"
    else:
        sure = f"worth it from {percent(one.sure)} sure"
    average = f"{option.name}: {_more(one.cost, money)} on average{spread}{wait}"
    return f"{average}; works afterwards in {percent(one.cured)}; {sure}"


def _takes(one: Judged, money: Money) -> str:
    """What an option was reckoned from, in words."""
    option = one.option
    if option.kind in (RETURN, SCRAP):
        return ""
    work = f"{60.0 * option.hours:.0f} min of work" if option.hours < 1.0 else f"{option.hours:.1f} h of work"
    bad, harmed = (f"{100.0 * chance:.2g} %" for chance in (option.bad, option.damage))
    return f"{option.kind}: parts {amount(option.parts, money)}, {work}; part itself bad: {bad}; board harmed: {harmed}"


def _advice(best: Judged, ranked: Sequence[Judged], stakes: Stakes, money: Money) -> str:
    """What to do without asking anybody."""
    name = with_capital(best.option.name)
    if best.option.kind in (RETURN, SCRAP):
        within = "" if ranked[0] is best else " within what the owner agreed to"
        return f"{name}: nothing else{within} is worth its money."
    free = [one for one in ranked if one.free and not one.surer and one.option.kind not in (RETURN, SCRAP)]
    equal = [] if best.surer else [one for one in free if one is not best and about_equal(one, best, stakes)]
    beside = f" {with_capital(equal[0].option.name)} is about as good." if equal else ""
    return f"{name}: about {_more(best.cost, money)}.{beside}"


def _question(one: Judged, why: str, stakes: Stakes, money: Money) -> str:
    """What the owner is asked of what is theirs, or is to stay as it was, ready to be read aloud."""
    name = with_capital(one.option.name)
    if why == "scrap":
        return f"Repairing it is not worth its money. {name}: is that all right?"
    total = amount(stakes.booked + one.cost, money)
    return f"{name} would change it from how it was built, and comes to about {total} in all. Shall I?"


def _more(value: float, money: Money) -> str:
    return f"{amount(value, money)} more" if value >= 0.0 else f"{amount(-value, money)} back"


def amount(value: float, money: Money) -> str:
    """Money in whole units, with the currency as the bench writes it."""
    figure = f"{value:.0f}" if abs(value) >= 10.0 else f"{value:.2f}".rstrip("0").rstrip(".")
    return f"{figure} {money.currency}".strip()
