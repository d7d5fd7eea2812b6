"""The four papers that a machine is handed over with, each worded from its view."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal

from probewright.jobs.billing import IS_DONE, SURE, WAY_ASKED, BillView, Terms, digits, money
from probewright.jobs.endings import IN_WORK, MENDED, SIGNED, UNPROVEN, UNSAFE
from probewright.jobs.handing_over import BILL, ESTIMATE, OWNER, HandOverView, OwnersView
from probewright.jobs.proving import ChangeView
from probewright.jobs.recounting import RecordView, SuspectedView
from probewright.jobs.safety_checks import FAILED, LEFT_OUT, NOT_NEEDED, PASSED, TO_BE_DONE, SafetyView
from probewright.jobs.ways_to_end import REPAIRED
from probewright.report.bench import DEPTHS
from probewright.report.paper import Block, Paper, Table
from probewright.report.text import FINDINGS
from probewright.report.times import day, day_in_words, local, zone
from probewright.units import percent, sentence, with_capital, write_reading

IN_ALL, AT_MOST = "In all", "In all, and in nine cases of ten no more"
NAMES = {"owner": "Owner's page", "record": "Technician's record", ESTIMATE: "Estimate", BILL: "Bill"}
MOST_CHANGES = 6  # chosen: more rows would not leave the owner's page on one sheet; the record has them all
KNOWN = "I was told that this machine is not safe to use, and take it back as it is."
UNCHECKED_SIGN = "I was told that the safety checks are not done, and take it back as it is."


def paper(view: HandOverView) -> Paper:
    """The paper that a view is of."""
    blocks: Iterator[Block]
    if view.owners is not None:
        blocks, sign = _owners(view, view.owners), _sign(view) if view.owners.sign else ()
    elif view.record is not None:
        blocks, sign = _record(view, view.record), ()
    else:
        assert view.sums is not None
        blocks, sign = _sums(view, view.sums), _agree(view.paper, view.sums)
    head = tuple(view.head.splitlines()) if view.paper != "record" else ()
    about, filled = tuple(_about(view)), tuple(filter(_filled, blocks))
    return Paper(NAMES[view.paper], head, _title(view), about, filled, sign, view.paper == OWNER, day(view.at))


def plainly(missing: str) -> str:
    """What is missing, without the command that says it."""
    return re.split(r": (?:`|--)|, or --", missing)[0]


def _filled(block: Block) -> bool:
    return bool(block.says or block.points or block.table)


def _title(view: HandOverView) -> str:
    return (
        f"{view.machine}: {view.ending.title}" if view.paper in (OWNER, "record") else f"{view.machine}, job {view.job}"
    )


def _about(view: HandOverView) -> Iterator[tuple[str, str]]:
    if view.owner and view.paper != "record":  # the next repairer need not know whose it is
        yield "For", view.owner
    yield "Machine", ", ".join(filter(None, (view.machine, view.serial and f"serial {view.serial}")))
    yield "Job", str(view.job)
    came = day_in_words(view.opened)
    gone = day_in_words(view.closed) if view.closed else ""
    yield "Here", f"since {came}" if not gone else came if gone == came else f"{came} to {gone}"
    if view.paper != OWNER or not view.closed:
        yield "Written", day_in_words(view.at)


def _agree(paper: str, told: BillView) -> tuple[str, ...]:
    """An estimate is agreed to with a name, once there is something to agree to."""
    return ("Agreed:",) if paper == ESTIMATE and not {WAY_ASKED, IS_DONE} & set(told.open_) else ()


def _sign(view: HandOverView) -> tuple[str, ...]:
    return (KNOWN if view.ending.form == UNSAFE else UNCHECKED_SIGN,)


# The owner's page -----------------------------------------------------------------------------


def _owners(view: HandOverView, told: OwnersView) -> Iterator[Block]:
    """You told us, we found, we did, we checked, what we did not, what to do now."""
    mended = view.ending.form in MENDED
    yield Block(
        view.ending.title, tuple(filter(None, view.ending.says)), weighty=not mended or view.ending.form in SIGNED
    )
    yield Block("What you told us", tuple(_told(told)))
    yield Block("What was wrong, and why", told.found)
    yield Block("What was done", told.did, tuple(_work(told)))
    yield _changed(told.changes, MOST_CHANGES)
    unsaid = told.claim not in (*view.ending.says, "")
    yield Block("How it was tried", (*told.tried, *((told.claim,) if unsaid else ())))
    if told.safety:
        yield _safety(told.safety)
    yield Block("Not put together as it was", points=view.apart, weighty=True)
    yield Block("Not touched, not tested", points=told.untested)
    yield Block("What could be done", points=told.options)
    yield Block("Weak parts, and advice", points=(*_each(told.weak), *_each(told.advice)))
    yield Block("How to use it", _each(told.use))
    yield Block("Warranty", tuple(_warranty(told, proven=view.ending.form != UNPROVEN)))


def _work(told: OwnersView) -> Iterator[str]:
    """Parts, adjustments, and where the old parts are."""
    for one in told.fitted:
        kind, culprit = one.kind and f" ({one.kind})", "; the old one was what was wrong" if one.culprit else ""
        yield f"Fitted {one.part}{kind}: {one.says}{culprit}"
    yield from (f"Adjusted {one.what}: from {one.before} to {one.after}" for one in told.adjusted)
    yield from told.seats
    yield from told.kept


def _told(told: OwnersView) -> Iterator[str]:
    if told.told:
        yield f"“{told.told}”"
    if told.bad:
        yield f"It did not work: {', '.join(told.bad)}." + (
            f" {sentence(f'It shows {told.when}')}" if told.when else ""
        )


def _each(words: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in words.splitlines() if line.strip())


def _changed(changes: Sequence[ChangeView], most: int) -> Block:
    """Places read before and after, so many of them."""
    rows = tuple((one.where, one.before, one.after, _should(one)) for one in changes[:most])
    more = (f"{len(changes) - most} more are in the technician's record.",) if len(changes) > most else ()
    return Block(
        "Came in, goes out", more, table=Table(("Where", "Came in", "Goes out", "Should be"), rows) if rows else None
    )


def _should(one: ChangeView) -> str:
    if one.healthy is None:
        return "not known"
    return " to ".join(write_reading(value, one.healthy.unit) for value in (one.healthy.low, one.healthy.high))


def _safety(view: SafetyView) -> Block:
    """The safety checks, for the owner, each in full; framed where one failed or is open."""
    of = {state: [one for one in view.checks if one.state == state] for state in (FAILED, TO_BE_DONE, PASSED, LEFT_OUT)}
    points = [f"Failed: {one.title} ({one.result})" for one in of[FAILED]]
    points += [f"Not done: {one.title}" for one in of[TO_BE_DONE] if view.standing == TO_BE_DONE]
    for by in dict.fromkeys(one.by for one in of[PASSED]):
        titles = ". ".join(one.title for one in of[PASSED] if one.by == by)
        points.append((f"Passed, done by {by}" if by else "Passed") + f": {titles}.")
    if view.standing == NOT_NEEDED and of[TO_BE_DONE]:
        what = "The rest" if of[PASSED] else "Its safety"
        points.append(f"{what} was not checked ({view.protection}, {view.whence})")
    points += [f"{one.title}: {one.result}" for one in of[LEFT_OUT]]
    if view.unsafe:
        signed = f", signed by {view.unsafe.signed}" if view.unsafe.signed else ""
        points.append(f"Handed back marked unsafe{signed}: {view.unsafe.words}")
    return Block("Safety checks", points=tuple(points), weighty=view.standing in (FAILED, TO_BE_DONE))


def _warranty(told: OwnersView, proven: bool) -> Iterator[str]:
    promised = told.warranty
    if promised is None:
        return
    if not promised.days:
        yield "None: no repair is claimed."
        return
    on = " and ".join(
        filter(None, (f"the repaired function ({', '.join(promised.works)})" if promised.works else "",
                      f"what was done ({'; '.join(promised.work)})" if promised.work else ""))
    )  # fmt: skip
    yield f"{promised.days} days, until {day_in_words(promised.until)}, on {on}, and on nothing else of this machine."
    if not proven:
        yield "None on the function: it was not tried long enough."
    yield "These days run whether it is used or not."


# The technician's record ----------------------------------------------------------------------


TIMES = {1: "once", 2: "twice"}


def _record(view: HandOverView, told: RecordView) -> Iterator[Block]:
    how = "How it ended" if view.closed else "How it stands"
    yield Block(how, (*filter(None, view.ending.says), *_each(told.ended)), weighty=view.ending.form in SIGNED)
    yield Block("Symptom", tuple(_symptom(told)), points=told.zones)
    yield Block("Cause", tuple(_cause(told, cured=view.ending.form == REPAIRED)))
    yield Block("Repairs, in order", points=tuple(f"{local(one.at)}  {one.says}" for one in told.repairs))
    yield Block("Parts", (*told.seats, *_hot(told)), table=_parts(told))
    yield _changed(told.changes, len(told.changes))
    yield Block("Adjusted", points=tuple(
        f"{local(one.at)}  {one.what}: from {one.before} to {one.after}" for one in told.adjusted
    ))  # fmt: skip
    unsaid = told.claim not in (*view.ending.says, "")
    yield Block("Proof", (told.claim,) if unsaid else (), tuple(
        f"{local(one.at)}  {'since' if one.since else 'before'} the repair, {one.says}" for one in told.tries
    ))  # fmt: skip
    yield Block("Safety checks", (told.safety.says,), table=_checks(told.safety))
    yield Block("Not put together as it was", points=view.apart, weighty=True)
    yield Block("Dead ends", points=told.dead_ends)
    yield Block(f"Readings, {len(told.readings)}, times of {zone(view.at)}", table=_readings(told))
    yield Block("Remarks", points=tuple(f"{local(one.at)}  {one.says}" for one in told.remarks))
    yield Block("Entered and never made out", points=told.unclear)
    yield Block("Healthy values learnt here", table=_healthy(told))
    yield Block("The owner's word", points=tuple(
        f"{local(one.at)}  {one.to}: “{one.words}”" for one in told.consents
    ))  # fmt: skip
    yield Block("Minutes by phase", table=_spent(told))
    yield Block("Handed over before", points=tuple(
        f"{local(one.at)}  {NAMES[one.paper]} ({one.form}, {one.made}), SHA-256 {one.digest}" for one in view.handed
    ))  # fmt: skip


def _symptom(told: RecordView) -> Iterator[str]:
    if told.words:
        yield f"“{told.words}”"
    if told.symptoms:
        yield "; ".join(f"{name}: {tick}" for name, tick in told.symptoms.items())
    asked = (
        ("when", told.when),
        ("who was inside", told.inside),
        ("added boards", told.boards),
        ("left with it", told.left),
    )
    yield from (f"{name}: {said}" for name, said in asked if said)


def _with_alike(one: SuspectedView) -> str:
    return f" (with those that read alike, together {percent(one.together)})" if one.together else ""


def _cause(told: RecordView, cured: bool) -> Iterator[str]:
    """What was suspected in the end, and by which reading; cured: the repair is proven."""
    yield from _each(told.cause)
    yield f"{FINDINGS.get(told.finding, 'Not worked out yet')}, on {DEPTHS[told.depth]}."
    yield from (f"{percent(one.chance)}: {one.says}{_with_alike(one)}" for one in told.suspects)
    if told.decisive:
        decided = cured or told.finding == "located" or told.suspects[0].chance > SURE
        yield f"{'Decisive' if decided else 'Speaks most for the first'}: {told.decisive}"


def _checks(view: SafetyView) -> Table | None:
    """Every check, once anything was checked."""
    if not any(one.result for one in view.checks):
        return None
    rows = (
        (one.name, one.limit, one.result or one.state, one.by, local(one.at) if one.at else "") for one in view.checks
    )
    return Table(("Check", "Limit", "Result", "By", "Time"), tuple(rows))


def _parts(told: RecordView) -> Table | None:
    if not told.used:
        return None
    rows = tuple((one.part, one.where_now, one.origin, one.state, one.source, one.was, one.words) for one in told.used)
    return Table(("Part", "Now", "Origin", "Tested", "Source", "Old part", "Remark"), rows)


def _hot(told: RecordView) -> Iterator[str]:
    often = (f"{part} {TIMES.get(times, f'{times} times')}" for part, times in told.hot)
    if told.hot:
        yield f"Pads that were hot: {', '.join(often)}."


def _readings(told: RecordView) -> Table | None:
    """In job order, a set-up as a row of its own wherever it changes."""
    rows: list[tuple[str, ...]] = []
    setup = None
    for one in told.readings:
        if one.setup != setup:
            setup = one.setup
            rows.append((with_capital(setup),))
        rows.append((str(one.line), local(one.at), one.says, one.note))
    return Table(("Line", "Time", "Reading", "Note"), tuple(rows)) if rows else None


def _healthy(told: RecordView) -> Table | None:
    rows = tuple((one.where, one.figure) for one in told.healthy)
    return Table(("Where", "A sound machine reads"), rows) if rows else None


def _spent(told: RecordView) -> Table | None:
    rows = tuple((one.phase, f"{one.minutes:.0f} min") for one in told.spent)
    total = sum(one.minutes for one in told.spent)
    return Table(("Phase", "Minutes"), (*rows, ("in all", f"{total:.0f} min")), (1,), 1) if total else None


# Estimate and bill ----------------------------------------------------------------------------


def _sums(view: HandOverView, told: BillView) -> Iterator[Block]:
    terms = told.terms
    if view.paper == ESTIMATE:
        yield Block("What it rests on", tuple(_rests_on(told)))
    yield Block("Above what was agreed" if told.over else "", tuple(_over(view, told)), weighty=True)
    yield Block("What it comes to", table=_lines(told), says=() if told.sums.lines else ("Nothing is charged yet.",))
    yield Block("How it is reckoned", tuple(_how(told)))
    yield Block("What was agreed", tuple(_agreed(told)))
    if view.paper == ESTIMATE and IS_DONE not in told.open_:
        yield Block("Before any work", tuple(_terms(terms)))
    else:
        yield Block("Storage", tuple(_storage(terms)))
    yield Block("Not known yet", points=tuple(plainly(one) for one in told.open_ if one != IS_DONE))
    state = (f"{view.ending.title}.",) if view.ending.form != IN_WORK else ()
    yield Block("State of the machine", state, weighty=view.ending.form in SIGNED)


def _rests_on(told: BillView) -> Iterator[str]:
    if IS_DONE in told.open_:
        yield "The repair is done: the bill says what it comes to."
        return
    yield sentence(f"This estimate is for: {told.way}" if told.way else "No way to repair it has been named yet")
    if told.searching:
        yield "It is for this way as it stands: searching on first, until we are surer, is another way and not in it."
    if told.right is not None:
        certain = f"The diagnosis is {percent(told.right)} sure."
        if told.right < SURE:
            certain += " It is a guess: another fault may lie behind it, and we ask you before it costs more."
        yield certain
    if told.cured is not None:
        yield f"It works afterwards in {percent(told.cured)} of cases."
    if told.lucky is not None:
        yield f"In nine cases of ten it comes to no more than {money(told.sums.gross, told.terms)}."
        yield f"If all goes well it comes to {money(told.lucky, told.terms)}, and what is set aside is not charged."


def _lines(told: BillView) -> Table | None:
    sums, terms = told.sums, told.terms
    if not sums.lines:
        return None

    def cells(one: Decimal) -> str:
        return money(one, terms)

    taxed = bool(terms.tax)
    head = ("What", "Amount", "Each", *(("Net", f"{terms.name} {digits(terms.tax)} %") if taxed else ()), "Sum")
    rows = [
        (one.what, one.amount, one.each, *((cells(one.net), cells(one.tax)) if taxed else ()), cells(one.gross))
        for one in sums.lines
    ]
    whole = IN_ALL if told.lucky is None else AT_MOST
    rows.append((whole, "", "", *((cells(sums.net), cells(sums.tax)) if taxed else ()), cells(sums.gross)))
    last = 1
    if sums.paid:
        blank = ("", "", *(("", "") if taxed else ()))
        rows.append(("Paid already", *blank, f"−{cells(sums.paid)}"))
        rows.append(("To be paid" if sums.due >= 0 else "To be paid back to you", *blank, cells(abs(sums.due))))
        last = 3
    return Table(head, tuple(rows), tuple(range(1, len(head))), last)


def _how(told: BillView) -> Iterator[str]:
    terms = told.terms
    hours = "as said by the repairer" if told.told else f"{told.minutes} min by the times of the record"
    hours += ", and those to come" if told.way else ""
    least = f", at least {digits(terms.minimum)} h" if terms.minimum else ""
    yield f"Hours: {hours}; each {digits(terms.unit)} min begun counts whole{least}."
    rounded = f"Each line is rounded to {money(terms.coin, terms)}, half up; the sums are those of the rounded lines."
    if terms.tax:
        rounded += f" Prices are {'with' if terms.inside else 'without'} {terms.name} of {digits(terms.tax)} %."
    yield rounded


def _over(view: HandOverView, told: BillView) -> Iterator[str]:
    if told.over:
        paper = "bill" if view.paper == BILL else "estimate"
        gross, over, agreed = (
            money(one, told.terms) for one in (told.sums.gross, told.over, told.ceiling or Decimal(0))
        )
        yield f"This {paper} is {gross}, {over} above the {agreed} that was agreed."
        yield "Nothing above that is due without your word."


def _agreed(told: BillView) -> Iterator[str]:
    word, comes_to = told.word, money(told.sums.gross, told.terms)
    said = f" on {day_in_words(word.at)}, to {word.to}: “{word.words}”" if word else ""
    if told.ceiling is not None:
        yield f"Agreed up to {money(told.ceiling, told.terms)} in all{said}; this is {comes_to}."
        return
    if word:
        yield sentence(f"Agreed{said}")
    yield f"Nothing was agreed about the most that it may cost; this is {comes_to}."


def _terms(terms: Terms) -> Iterator[str]:
    if terms.deposit:
        yield f"A deposit of {money(terms.deposit, terms)} is asked, and counted against the bill."
    yield from _storage(terms)


def _storage(terms: Terms) -> Iterator[str]:
    if terms.storage:
        free = f", from day {int(terms.free) + 1} after it is ready" if terms.free else ""
        yield f"Storage: {money(terms.storage, terms)} a day{free}."
