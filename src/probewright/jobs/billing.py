"""Estimate and bill: what the bench charges, as its repairer said it once, and what that comes to for a job.

Money is decimal and never a float; each line is rounded to the smallest coin, half a coin up, and sums are those of
rounded lines, so that whoever adds the lines up by hand finds the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from datetime import datetime
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from typing import Any

from probewright import __version__
from probewright.jobs.bench import append, brought_here, complaint, readable
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Case, Consent
from probewright.jobs.deciding import (
    MOST_MONEY,
    DecisionView,
    Money,
    OptionView,
    booked_hours,
    decide_on,
    money_of,
    tell_money,
)
from probewright.jobs.papers_said import BILLED, CHARGE, CHARGE_GONE
from probewright.jobs.ways_to_end import REPAIRED
from probewright.machine.saying import nearest
from probewright.planning.deciding import RETURN, SCRAP, SPREAD, End, quantile
from probewright.record import Book
from probewright.units import with_capital

TERMS = "terms"  # kind of the bench's own event
NOUGHT = Decimal(0)
SURE = 0.9  # chosen: a diagnosis less sure than this is called a guess in an estimate
MOST_HOURS, MOST_DAYS = Decimal(10_000), 36_500  # chosen: more is a slip
YES, NO = "yes", "no"
ASIDE = "Set aside for a second part or more searching"
IS_DONE = "the repair is done: see the bill"
WAY_ASKED = "which way to go on, and how long it takes: `probewright decide`, or --to-come HOURS"
FIGURE = re.compile(r"(?a:\d+(?:[.,]\d{0,6})?|[.,]\d{1,6})")  # six decimals, chosen: no price and no hours have more
# The least that is rounded to: a minute, and a hundredth of the smallest coin in use; chosen: less is a slip.
LEAST = {"unit": Decimal(1), "coin": Decimal("0.0001")}


@dataclass(frozen=True)
class Terms:
    """What a bench charges. Its own usual figures are common practice, no source: quarter hours, rounded up.

    rate: money an hour; currency: as written after a figure; minimum: h charged at least; unit: min that work is
    rounded up to; deposit: asked when a machine comes in; storage: money a day, after `free` days; tax: per cent, by
    this name; inside: prices hold the tax; coin: the smallest sum; warranty: days; head: lines at the head of papers.
    """

    rate: Decimal = NOUGHT
    currency: str = ""
    minimum: Decimal = NOUGHT
    unit: Decimal = Decimal(15)
    deposit: Decimal = NOUGHT
    storage: Decimal = NOUGHT
    free: Decimal = NOUGHT
    tax: Decimal = NOUGHT
    name: str = "tax"
    inside: bool = False
    coin: Decimal = Decimal("0.01")
    warranty: Decimal = NOUGHT
    head: str = ""


WORDS = ("currency", "name", "head")  # of the terms; all others but `inside` are figures
MONEY_TERMS = ("rate", "deposit", "storage")  # sums; a coin may be smaller than any of them
MONEY_SAID = ("parts", "value", "ceiling", "rate", "up_to")  # the same of `decide`
WHOLE = ("free", "warranty")  # days


@dataclass(frozen=True)
class LineView:
    """One line of a bill, rounded. what: in words; amount, each: how much at which price, "" for one piece; net:
    without tax; tax; gross: with it."""

    what: str
    amount: str
    each: str
    net: Decimal
    tax: Decimal
    gross: Decimal


@dataclass(frozen=True)
class SumsView:
    """Lines and what they come to. paid: a deposit that was paid; due: what is left, less than 0 to be paid back."""

    lines: tuple[LineView, ...]
    net: Decimal
    tax: Decimal
    gross: Decimal
    paid: Decimal
    due: Decimal


@dataclass(frozen=True)
class BillView:
    """Estimate or bill of a job.

    terms: what is charged; minutes: that the record tells of; hours: that are charged for, rounded; told: the hours
    were said by the repairer; sums: of an estimate those that nine cases of ten stay under; way: the option that it is
    for, "" for a bill; right: how sure the diagnosis is; cured: in how many cases it works afterwards; lucky: what it
    comes to if all goes well, None where that is no other sum; ceiling: what the owner agreed to; word: theirs, None
    where none was kept; over: above it; open: what is not known yet;
    searching: searching on first is a way of its own, which these sums are not for.
    """

    terms: Terms
    minutes: int
    hours: Decimal
    told: bool
    sums: SumsView
    way: str = ""
    right: float | None = None
    cured: float | None = None
    lucky: Decimal | None = None
    ceiling: Decimal | None = None
    word: Consent | None = None
    over: Decimal = NOUGHT
    open_: tuple[str, ...] = ()
    searching: bool = False


# What is said ---------------------------------------------------------------------------------


def bench_terms(book: Book) -> Terms:
    """What this bench charges, as told last; rate and currency are those of `decide`."""
    money = money_of(book)
    told: dict[str, str] = {}
    for event in book.own_events():
        if event.kind == TERMS:
            told |= event.payload
    return _with(Terms(Decimal(repr(money.rate)), money.currency), told)


def terms_of(book: Book, case: Case) -> Terms:
    """The same with what holds for this job alone."""
    return _with(bench_terms(book), case.papers.billed.terms)


def tell_terms(book: Book, told: Mapping[str, str], now: str) -> Terms:
    """Say what this bench charges; "" sets a field back to the usual one. BadInput for what is no figure."""
    clean = _clean(told)
    if "rate" in clean or "currency" in clean:
        rate = float(clean["rate"] or "0") if "rate" in clean else None
        tell_money(book, rate, clean.get("currency"), now)
    before = bench_terms(book)
    own = {name: value for name, value in clean.items() if name not in ("rate", "currency")}
    if own and _with(before, own) != before:
        book.append_own(TERMS, own, now, __version__)
    return bench_terms(book)


def tell_billed(book: Book, case: Case, told: Mapping[str, str], terms: Mapping[str, str], now: str) -> Case:
    """Say the hours, what is paid and the like of a job, or terms for it alone. BadInput for what is no figure.

    A closed job takes them too: a bill is written when the work is done.
    """
    brought_here(case)
    for name, most in (("hours", MOST_HOURS), ("to_come", MOST_HOURS), ("paid", None), ("stored", Decimal(MOST_DAYS))):
        if told.get(name):
            if name == "paid":
                sum_said(told[name], name)
            figure(told[name], name.replace("_", " "), most)
    if told.get("stored"):
        _refuse_more_than_here(case, figure(told["stored"], "stored"), now)
    payload: dict[str, Any] = {name: value.strip() for name, value in told.items()}
    if terms:
        payload["terms"] = _clean(terms)
    before = case.papers.billed
    if all(getattr(before, name) == value for name, value in payload.items() if name != "terms"):
        if all(before.terms.get(name, "") == value for name, value in payload.get("terms", {}).items()):
            return case
    return append(book, case, BILLED, payload, now)


def _refuse_more_than_here(case: Case, stored: Decimal, now: str) -> None:
    """Days of storage that the machine was not here for."""
    here = (datetime.fromisoformat(now) - datetime.fromisoformat(case.opened)).days + 1  # each begun day
    if stored > max(here, 1):
        days = "a day" if here <= 1 else f"{here} days"
        raise complaint(f"stored: {digits(stored)} days, and it is here since {days}", "write the days it was stored")


def charge(book: Book, case: Case, name: str, price: str, now: str) -> Case:
    """Put a part, or anything else, on the bill, in the place of a line of that name."""
    brought_here(case)
    readable(name)
    if not name.strip():
        raise complaint("what is charged for has no name", 'write for example "U3, new=8.50"')
    sum_said(price, name)
    return append(book, case, CHARGE, {"name": name.strip(), "price": price.strip().replace(",", ".")}, now)


def drop_charge(book: Book, case: Case, name: str, now: str) -> Case:
    """A line that is none any more."""
    brought_here(case)
    names = [one.name for one in case.papers.billed.charges]
    if name not in names:
        raise complaint(f"{name!r} is not on the bill", nearest(name, names))
    return append(book, case, CHARGE_GONE, {"name": name}, now)


def figure(said: str, what: str, most: Decimal | None = None) -> Decimal:
    """A figure of nought or more, as digits with point or comma. BadInput for anything else."""
    if not FIGURE.fullmatch(said.strip()):
        raise complaint(f"{what}: {said!r} is no figure", "write digits, like 12.50")
    found, most = Decimal(said.strip().replace(",", ".")), Decimal(MOST_MONEY) if most is None else most
    if found > most:
        raise complaint(f"{what}: {said} cannot be", f"write a figure of at most {most:f}")
    return found


def sum_said(said: str, what: str) -> Decimal:
    """A sum of money; more than two decimals are thousands as somebody writes them, or a slip. BadInput."""
    found = figure(said, what)
    whole, _, decimals = said.strip().replace(",", ".").partition(".")
    if len(decimals) > 2:
        raise complaint(f"{what}: {said.strip()} has more than two decimals",
                        f"write {whole}{decimals} or {whole or '0'}.{decimals[:2]}")  # fmt: skip
    return found


def figure_said(said: str, name: str) -> float | None:
    """A figure that `decide` is told, None for "". name: of the field; parts may be less than 0. BadInput."""
    typed = said.strip()
    if not typed:
        return None
    if name not in MONEY_SAID:
        return float(figure(typed, name))
    sign = -1.0 if name == "parts" and typed.startswith("-") else 1.0
    return sign * float(sum_said(typed.removeprefix("-") if sign < 0.0 else typed, name.replace("_", " ")))


def _clean(told: Mapping[str, str]) -> dict[str, str]:
    """Terms as the record keeps them: each checked, digits with a point."""
    known = [one.name for one in fields(Terms)]
    found = {}
    for name, value in told.items():
        if name not in known:
            raise complaint(f"{name!r} is nothing that a bench charges by", nearest(name, known))
        readable(value)
        said = value.strip()
        if said and name == "inside" and said not in (YES, NO):
            raise complaint(f"{said!r} is neither yes nor no", "say yes where prices hold the tax")
        if said and name not in (*WORDS, "inside"):
            said = str(_term(name, said))
        found[name] = said
    return found


def _term(name: str, said: str) -> Decimal:
    found = sum_said(said, name) if name in MONEY_TERMS else figure(said, name)
    if found < LEAST.get(name, NOUGHT):
        mend = "write 15 for quarter hours, 0.01 for the smallest sum"
        raise complaint(f"{name}: {said} is too little to be rounded to", mend)
    if name in WHOLE and found != found.to_integral_value():
        raise complaint(f"{name}: {said} is no whole number of days", "write for example 90")
    if name == "tax" and found > 100:
        raise complaint(f"tax: {said} per cent cannot be", "write for example 20")
    return found


def _with(terms: Terms, told: Mapping[str, str]) -> Terms:
    """Terms with what was told of them; "" is the usual one."""
    usual, new = Terms(), {}
    for name, value in told.items():
        plain = value if name in WORDS else value == YES if name == "inside" else Decimal(value or "0")
        new[name] = plain if value else getattr(usual, name)
    return replace(terms, **new)  # type: ignore[arg-type]


# What it comes to -----------------------------------------------------------------------------


def decided(book: Book, case: Case, view: BenchView | None) -> DecisionView:
    """What to do, with tax and at the rate of this job; with the question about the ceiling, where there is one."""
    terms = terms_of(book, case)
    tax = 0.0 if terms.inside else float(terms.tax) / 100.0
    found = decide_on(book, case, view, Money(float(terms.rate), terms.currency), tax)
    asked = next((one for one in found.options if one.name == found.asks), None)
    if asked is None or found.ceiling is None:
        return found
    return replace(found, question=_asked(asked, estimate_for(book, case, found, asked).sums.gross, found, terms))


def _asked(way: OptionView, gross: Decimal, found: DecisionView, terms: Terms) -> str:
    """What the owner is asked of a way above their ceiling, ready to be read aloud: the sum of the estimate, and never
    less than what lifts the bar. gross: of the estimate."""
    bar, often = Decimal(f"{found.booked + way.risks:.4f}"), "in all in nine cases of ten"
    if bar > gross and way.cost > way.high:
        often += ", and to about that on average"
    most = gross if bar <= gross else _whole(bar, terms)
    name, said = with_capital(way.name), money(Decimal(repr(found.ceiling)), terms)
    return f"{name} comes to no more than {money(most, terms)} {often}; you said {said}. Shall I?"


def bill(book: Book, case: Case) -> BillView:
    """The bill as it stands: hours of the record or as said, charges, storage, tax, what was paid, the ceiling."""
    terms, billed = terms_of(book, case), case.papers.billed
    minutes = recorded_minutes(case)
    worked = figure(billed.hours, "hours") if billed.hours else Decimal(minutes) / 60
    hours = charged_hours(worked, terms)
    sums = add_up([*_work("Work", hours, terms), *_charges(case, terms), *_storage(case, terms)], _paid(case))
    open_ = _open(terms) + (() if case.closed else ("the job is not closed: this is what it comes to by now",))
    view = BillView(terms, minutes, hours, bool(billed.hours), sums, open_=open_)
    return _beside_the_ceiling(case, view)


def estimate(book: Book, case: Case, decision: DecisionView) -> BillView:
    """What the repair will come to: hours up to now, and those and the parts of the way that the owner agreed to, or
    that is advised. decision: of `decided`, with tax."""
    done = case.ending == REPAIRED
    view = estimate_for(book, case, decision, None if done else way_on(decision))
    view = replace(view, searching=bool(view.way) and any(_searches(one) for one in decision.options))
    return replace(view, right=None, open_=(*view.open_, IS_DONE)) if done else view


def estimate_for(book: Book, case: Case, decision: DecisionView, way: OptionView | None) -> BillView:
    """The same for one way to go on, None where there is none."""
    terms, billed, minutes = terms_of(book, case), case.papers.billed, recorded_minutes(case)
    worked = figure(billed.hours, "hours") if billed.hours else Decimal(minutes) / 60
    to_come = figure(billed.to_come, "to come") if billed.to_come else _hours(way.hours) if way else NOUGHT
    hours = charged_hours(worked + to_come, terms)
    lines = [*_work("Work, up to now and to come", hours, terms), *_charges(case, terms)]
    if way and way.parts > 0.0 and not billed.charges:
        lines.append(line(f"Parts for {way.name}", _net(way, terms), terms))
    open_ = _open(terms)
    if way is None and not billed.to_come and case.closed is None:
        open_ += (WAY_ASKED,)
    lucky = add_up(lines, NOUGHT).gross
    aside = list(_set_aside(way, worked + to_come, lucky, terms)) if way else []
    view = BillView(
        terms, minutes, hours, bool(billed.hours), add_up([*lines, *aside], _paid(case)), way.name if way else "",
        decision.right, way.cured if way else None, lucky if aside else None, open_=open_,
    )  # fmt: skip
    return _beside_the_ceiling(case, view)


def ways_on(decision: DecisionView) -> list[OptionView]:
    """Repairs among the options, the best first."""
    return [one for one in decision.options if one.kind not in (RETURN, SCRAP) and not _searches(one)]


def way_on(decision: DecisionView) -> OptionView | None:
    """The repair that an estimate is for: the one the owner agreed to last, else the best; None where there is none."""
    repairs = ways_on(decision)
    agreed = [one.to for one in reversed(decision.consents)]
    return next((one for name in agreed for one in repairs if one.name == name), next(iter(repairs), None))


def _searches(one: OptionView) -> bool:
    return one.name.startswith("search on first")


def recorded_minutes(case: Case) -> int:
    """Minutes between the lines of the record, as `decide` books them."""
    return round(60.0 * booked_hours(case))


def charged_hours(worked: Decimal, terms: Terms) -> Decimal:
    """Hours that are charged for: each begun unit whole, and not less than the minimum."""
    units = (worked * 60 / terms.unit).quantize(Decimal(1), ROUND_CEILING)
    return max(units * terms.unit / 60, terms.minimum)


def line(what: str, price: Decimal, terms: Terms, amount: str = "", each: str = "") -> LineView:
    """One line, rounded to the coin, with its tax, rounded too."""
    price = to_coin(price, terms)
    if terms.inside:
        tax = to_coin(price * terms.tax / (100 + terms.tax), terms)
        return LineView(what, amount, each, price - tax, tax, price)
    tax = to_coin(price * terms.tax / 100, terms)
    return LineView(what, amount, each, price, tax, price + tax)


def add_up(lines: list[LineView], paid: Decimal) -> SumsView:
    """What rounded lines come to."""
    net, tax, gross = (sum((getattr(one, name) for one in lines), NOUGHT) for name in ("net", "tax", "gross"))
    return SumsView(tuple(lines), net, tax, gross, paid, gross - paid)


def to_coin(value: Decimal, terms: Terms) -> Decimal:
    """A sum rounded to the smallest coin, half a coin up."""
    return (value / terms.coin).quantize(Decimal(1), ROUND_HALF_UP) * terms.coin


def _work(what: str, hours: Decimal, terms: Terms) -> Iterator[LineView]:
    if hours:
        yield line(what, hours * terms.rate, terms, f"{digits(hours)} h", money(terms.rate, terms))


def _charges(case: Case, terms: Terms) -> Iterator[LineView]:
    for one in case.papers.billed.charges:
        yield line(one.name, Decimal(one.price), terms)


def _storage(case: Case, terms: Terms) -> Iterator[LineView]:
    """Days of storage that the repairer said."""
    if case.papers.billed.stored:
        days = figure(case.papers.billed.stored, "days stored")
        yield line("Storage", days * terms.storage, terms, f"{digits(days)} days", money(terms.storage, terms))


def _paid(case: Case) -> Decimal:
    return figure(case.papers.billed.paid, "paid") if case.papers.billed.paid else NOUGHT


def _on_top(terms: Terms) -> Decimal:
    """Prices times this are what is paid."""
    return Decimal(1) if terms.inside else 1 + terms.tax / 100


def _net(way: OptionView, terms: Terms) -> Decimal:
    """The parts of a way as they were typed: a decision has them with tax."""
    return (Decimal(str(way.parts)) / _on_top(terms)).quantize(Decimal("0.0001"))


def _set_aside(way: OptionView, planned: Decimal, lucky: Decimal, terms: Terms) -> Iterator[LineView]:
    """What is needed beside the work and parts of a way so that nine cases of ten stay under the sum, with tax; the sum
    is in whole units of money. planned: hours in all if nothing goes wrong."""
    more = _more_in_nine_of_ten(way, planned, terms)
    if more < terms.coin:
        return
    gross = _whole(lucky + more, terms) - lucky
    net = to_coin(gross * 100 / (100 + terms.tax), terms)
    yield LineView(ASIDE, "", "", net, gross - net, gross)


def _whole(value: Decimal, terms: Terms) -> Decimal:
    """A sum in whole units of money, rounded up: no guess is finer."""
    unit = max(Decimal(1), terms.coin)
    return (value / unit).quantize(Decimal(1), ROUND_CEILING) * unit


def _more_in_nine_of_ten(way: OptionView, planned: Decimal, terms: Terms) -> Decimal:
    """What a way comes to beyond its own work and parts, with tax: hours are charged for as on a bill, so that what the
    minimum or a begun unit covers costs nothing more."""
    sums = sorted((_more(one, way, planned, terms), one.chance) for one in way.ends)
    return Decimal(repr(quantile([(chance, float(money)) for money, chance in sums], SPREAD[1])))


def _more(end: End, way: OptionView, planned: Decimal, terms: Terms) -> Decimal:
    """What one of its ends comes to beyond them."""
    hours = charged_hours(planned + _hours(end.hours) - _hours(way.hours), terms) - charged_hours(planned, terms)
    return hours * terms.rate * _on_top(terms) + Decimal(str(end.parts)) - Decimal(str(way.parts))


def _hours(reckoned: float) -> Decimal:
    """Hours, a hair below: no unit is begun by what floating point adds."""
    return Decimal(repr(reckoned)).quantize(Decimal("1e-9"), ROUND_FLOOR)


def _beside_the_ceiling(case: Case, view: BillView) -> BillView:
    """The bill with what the owner agreed to: their last word, and that to the ceiling where there is one."""
    words = tuple(reversed(case.consents))
    if case.agreed.ceiling is None:
        return replace(view, word=next(iter(words), None))
    ceiling = Decimal(repr(case.agreed.ceiling))
    word = next((one for one in words if one.up_to == case.agreed.ceiling), None)
    return replace(view, ceiling=ceiling, word=word, over=max(view.sums.gross - ceiling, NOUGHT))


def _open(terms: Terms) -> tuple[str, ...]:
    return () if terms.rate else ("what an hour costs here: `probewright hand-over --rate 60`",)


def digits(value: Decimal) -> str:
    """A figure without noughts behind that say nothing."""
    return f"{value.normalize():f}"


def money(value: Decimal, terms: Terms) -> str:
    """A sum with all its coins: 96.00 EUR."""
    places = max(0, -int(terms.coin.normalize().as_tuple().exponent))
    return f"{value:.{places}f} {terms.currency}".strip()
