"""A job on the bench as plain text: what to do now, what is likely, the record, a short report."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from probewright.jobs.case_view import (
    BenchView,
    CaptureShown,
    CaseListView,
    CaseView,
    FirstPowerView,
    KitView,
    LineView,
    OwnerView,
    PaceView,
    ShelfView,
    TickView,
    TieView,
    ZonesView,
    comes_first,
)
from probewright.jobs.heard_again import LISTEN
from probewright.jobs.view import FINISH
from probewright.jobs.ways_to_end import REPAIRED
from probewright.report import text
from probewright.report.times import day, local
from probewright.units import sentence

DEPTHS = {
    "symptoms": "the complaint alone",
    "chain": "a typed chain",
    "shelf": "stages of the shelf",
    "file": "a machine file",
}
GRANTED = "taken for granted"  # how the echo begins where it says what nobody typed; the page leaves it out
STANDING = {"nothing-wrong": "nothing wrong in here", "not-listed": "something not listed"}
MARKS = {"counts": " ", "asked": "?", "note": "-", "undone": "x"}


def opened(view: BenchView) -> str:
    """The first card: leads and extras, looks, then the step that tells most."""
    lines = [f"Job {view.case.job}: {what(view.case)}", *was_before(view.case), "", "First, before the lid comes off:"]
    for step in view.first:
        lines.append(f"  {step.do}  {text.minutes(step.minutes)}")
        lines += [f"    {step.caution}"] if step.caution else []
    lines += ["", *_card(view)]
    example = f"{view.first[0].name} swapped: same" if view.first else "Q7 c 11.8"
    lines += ["", f'Enter what you find: probewright reading add "{example}", or any line as you would note it.']
    return "\n".join(lines)


def standing(view: BenchView) -> str:
    """Where the job stands: finding, suspects, the card."""
    return "\n".join(
        [f"Job {view.case.job}: {what(view.case)}", *was_before(view.case), *_left_out(view), *_body(view)]
    )


def entered(count: int) -> Callable[[BenchView], str]:
    """What was understood of the last lines, then where the job stands."""

    def write(view: BenchView) -> str:
        last = view.case.lines[-count:]
        lines = [said for one in last for said in _line(one)]
        if all(one.status == "asked" for one in last):
            return "\n".join(lines)
        return "\n".join([*lines, *_left_out(view), "", *_body(view)])

    return write


def suspects(view: BenchView) -> str:
    """The suspects with what speaks for and against the leading ones."""
    lines = list(_body(view, card=False))
    for one in view.search.suspects[:3]:
        lines += ["", f"{text.percent(one.probability)}  {one.says}  (before: {text.percent(one.prior)}; {one.source})"]
        lines += [f"  {evidence.says}" for evidence in one.evidence if abs(evidence.nats) > 0.1]
    if view.case.depth != "symptoms":
        lines += ["", *text.culprits(view.search)]
    return "\n".join([*lines, *_left_out(view)])


def card(view: BenchView) -> str:
    """The step to take now, and others; which places are left alone while live; where a heatsink is off, how long the
    power may be on and what else could be done."""
    said = list(_card(view, others=True))
    for beside in (text.alone, text.heat) if view.case.closed is None else ():
        lines = list(beside(view.search))
        said += ["", *lines] if lines else []
    return "\n".join(said)


def _body(view: BenchView, card: bool = True) -> Iterator[str]:
    yield text.conclusion(view.search) + (
        f", on {DEPTHS[view.case.depth]}" if view.search.finding in ("undecided", "unexplained") else ""
    )
    yield ""
    yield from text.ranking(view.search)
    yield from text.surprises(view.search)
    if view.search.heat:
        yield ""
        yield from text.heat(view.search)
    if card:
        yield ""
        yield from _card(view)


def _card(view: BenchView, others: bool = True) -> Iterator[str]:
    if view.case.closed is not None and not view.case.practice:
        number = view.case.job
        yield f"Job {number} is closed as {view.case.closed.ending}: nothing is proposed."
        if not view.case.elsewhere:
            yield f"Take it up again: `probewright job reopen {number}`"
        return
    if view.card is None:
        yield "Nothing more can be proposed on what is known: tell a chain, a shelf stage or a machine file."
        return
    if view.first_power and comes_first(view.first_power, view.card):
        yield from _first_power(view.first_power)
        yield ""
        yield f"After that: {view.card.do}"
        rest = [one for one in view.search.actions if not comes_first(view.first_power, one)][:3] if others else []
        rest = [] if view.card.kind in (LISTEN, FINISH) else rest
        if rest:
            yield "Or, with the power off:"
            yield from text.others(rest)
        return
    symptoms = view.case.depth == "symptoms"
    yield from text.step(view.card, {**text.called(view.search), **STANDING})
    if view.card.kind == "repair" and not symptoms:
        yield "  Before it is powered: why did it die (probewright why), will the new part do (probewright replace)?"
    if view.learnt:
        yield f"  {view.learnt}"
    if view.loading:
        yield f"  {view.loading}"
    if view.measure_first:
        yield f"  {view.measure_first}"
    yield from text.in_one_go(view.search) if view.card in view.search.actions[:1] else ()
    rest = [one for one in view.search.actions if one != view.card][:3]
    if others and rest and view.card.kind not in (LISTEN, FINISH):
        yield "Or:"
        yield from text.others(rest, view.card)
        if view.first_power and any(comes_first(view.first_power, one) for one in rest):
            yield ""
            yield from _first_power(view.first_power)


def _first_power(view: FirstPowerView) -> Iterator[str]:
    """What comes before the first step with power on."""
    yield f"First power: {view.because}."
    if not view.ready:
        yield "  What it may take is being worked out; wait for it before the power comes on."
        return
    if view.check:
        yield "  Check first:"
        yield from (f"    {one}" for one in view.check)
    yield from (f"  {one}" for one in view.how)
    if view.setting:
        yield f"  Once the supply is on: probewright reading add {view.setting!r}"
    yield from (f"  {one}" for one in (*view.takes, *view.watch))
    yield from (f"  {sentence(one.says)}" for one in view.draws)
    yield "  Switch off at once when"
    yield from (f"    {one}" for one in view.off)
    yield f"  {view.lasts}"
    yield f"  Answer it, each a line: {'; '.join(view.answers)}"


def _left_out(view: BenchView) -> list[str]:
    return ["", "Kept, not weighed:", *(f"  {one}" for one in view.left_out)] if view.left_out else []


def what(view: CaseView) -> str:
    """The machine and its complaint in one line."""
    told = view.complaint
    bad = [name for name, tick in told.ticks.items() if tick != "good"]
    named = told.model or told.kind
    complaint = told.words or (f"{', '.join(bad)} {'does' if len(bad) == 1 else 'do'} not work" if bad else "")
    return f"{named}, {complaint}" if complaint else named


def jobs(view: CaseListView) -> str:
    """One line a job."""
    if not view.jobs:
        return "Nothing is on the bench. Take a machine in: probewright job open"
    return "\n".join(
        f"{one.job:>4}  {day(one.opened)}  {one.closed.ending if one.closed else DEPTHS[one.depth]:<20}  {what(one)}"
        for one in view.jobs
    )


def case(view: CaseView) -> str:
    """Everything the record tells of a job."""
    return "\n".join([*_head(view), "", *_lines(view)])


def _head(view: CaseView) -> Iterator[str]:
    told = view.complaint
    yield f"Job {view.job}: {what(view)}"
    yield f"opened {local(view.opened)}, last touched {local(view.touched)}"
    yield from was_before(view)
    if view.elsewhere:
        yield "from elsewhere: a job of another bench, which does not count as this one's own"
    for zone in view.zones:
        yield f"zone: {zone.says}"
    for name, said in (("owner", told.owner), ("when", told.when), ("inside", told.inside), ("boards", told.boards)):
        if said:
            yield f"{name}: {said}"
    if view.erased:
        yield f"the owner's data was erased {local(view.erased)}"
    if told.ticks:
        yield "ticks: " + ", ".join(f"{name} {tick}" for name, tick in told.ticks.items())
    yield f"the search rests on {DEPTHS[view.depth]}"
    if view.closed:
        yield f"closed {local(view.closed.at)} as {view.closed.ending}" + (
            f": {view.closed.words}" if view.closed.words else ""
        )
    if view.again:
        yield view.again


def was_before(view: CaseView) -> list[str]:
    """Where the machine was here before, in a line; none where it was not."""
    if view.before is None:
        return []
    counts = "; that repair counts as no cure" if view.before.again and view.before.ending == REPAIRED else ""
    return [f"Was here before ({view.before.why}). {view.before.says}{counts}."]


def lines(view: CaseView) -> str:
    """Every typed line with what was understood."""
    return "\n".join(_lines(view)) or "Nothing was entered yet."


def capture(view: CaptureShown) -> str:
    """A waveform with all that was measured."""
    return "\n".join(_line(view.line))


def _lines(view: CaseView) -> Iterator[str]:
    for one in view.lines:
        yield from _line(one)


def _line(one: LineView) -> Iterator[str]:
    """The line as typed, and under it what was understood or is asked."""
    taken_back = "  (taken back)" if one.status == "undone" else ""
    typed = one.text.splitlines() or [""]
    yield f"{MARKS[one.status]} {one.event:>3}  {typed[0]}{taken_back}"
    yield from (f"       {more}" for more in typed[1:])
    yield from (f"       {'question: ' if one.status == 'asked' else ''}{said}" for said in one.says)


def report(view: BenchView, checks: ZonesView | None = None) -> str:
    """The job on one page: complaint, what was read, what was found, how sure; checks: lists of its zones."""
    found = [*_head(view.case), "", "Readings:"]
    counted = [said for one in view.case.lines if one.status == "counts" for said in one.says]
    found += [f"  {said}" for said in counted if not said.startswith(GRANTED)]
    notes = [one for one in view.case.lines if one.status == "note"]
    found += ["", "Notes:", *(f"  {said}" for one in notes for said in one.says)] if notes else []
    found += ["", "The owner was asked:", *map(_owner, view.case.owner)] if view.case.owner else []
    open_ = [one for one in view.case.lines if one.status == "asked"]
    found += ["", "Entered and not understood:", *(f"  {one.text}" for one in open_)] if open_ else []
    found += _left_out(view)
    found += ["", f"Found: {text.conclusion(view.search)}", *text.ranking(view.search)]
    if checks is not None and checks.zones:
        found += ["", *_zones(checks)]
    if view.case.closed is None:
        found += ["", *_card(view, others=False)]
    return "\n".join(found)


def _owner(one: OwnerView) -> str:
    """What the owner said, and what a no means."""
    words = f": {one.words}" if one.words else ""
    after = "; it is not proposed again" if one.answer == "no" else ""
    return f"  {local(one.at)}  {one.wish}: {one.answer}{words}{after}"


def zones(view: ZonesView) -> str:
    """Every zone with its list, to be ticked off."""
    if not view.zones:
        return (
            f"Job {view.job} has no zone. Say one in a line: "
            'probewright reading add "leak around C14 C15", or "resoldered: U4 U5"'
        )
    return "\n".join(_zones(view))


def _zones(view: ZonesView) -> Iterator[str]:
    for n, zone in enumerate(view.zones):
        yield from [""] * bool(n)
        yield f"Zone: {zone.says}"
        if zone.unknown:
            yield f"  the machine file does not know {', '.join(zone.unknown)}: not in the list"
        if zone.touched:
            yield f"  touched: {', '.join(zone.touched)}; look at them first: way round, value, every joint"
        if zone.checks:
            yield f"  Check every net and joint, one by one; volts with {view.setup}, ohms with power off:"
        yield from (f"  {_tick(one)}" for one in zone.checks)
        if not zone.checks and not zone.unknown:
            yield "  no circuit is known yet: tie a machine file, and every net of it is listed"


def _tick(one: TickView) -> str:
    healthy = [text.checked(each) for each in (one.ohms, one.volts) if each is not None]
    figures = " or ".join(healthy) or "no figure known"
    return f"[{'x' if one.done else ' '}] {one.kind} {one.where}: {one.red} to {one.black}, healthy {figures}"


def shelf(view: ShelfView) -> str:
    """Stages with what they ask for."""
    return "\n".join(
        line for stage in view.stages for line in (f"{stage.name}: {stage.title}", *(f"    {a}" for a in stage.asks))
    )


def tie(view: TieView) -> str:
    """What tying did, or would do."""
    head = f"{view.file} is tied to job {view.job}." if view.done else f"{view.file} is not tied to job {view.job} yet."
    rows = [head]
    for one in view.matches:
        others = f" (or {', '.join(one.others)})" if one.others and not view.done else ""
        rows.append(f"  {one.name} is {one.place}{others}" if one.place else f"  {one.name} stays free{others}")
    rows += [f"  {tick} is taken as {name}" for tick, name in view.functions.items()]
    rows += ["Kept, not weighed:", *(f"  {one}" for one in view.left_out)] if view.left_out else []
    return "\n".join(rows)


TRAINED = "proposed; somebody here is trained for them and has an isolating transformer"
UNTRAINED = "left alone; say --trained if you are trained and allowed, and have an isolating transformer"


def kit(view: KitView) -> str:
    """What the bench has, and minutes by step with where they come from."""
    here = ", ".join(one.name for one in view.tools if one.here) or "nothing"
    lines = [f"This bench measures with: {here}{'' if view.told else ' (as usual; nobody said)'}"]
    lines += [f"Live parts that can kill: {TRAINED if view.trained else UNTRAINED}", "", "minutes   step"]
    for one in view.paces:
        lines.append(f"{one.counts:>7.2g}   {one.row}: {one.says}{_told_how(one)}")
    return "\n".join(lines)


def _told_how(one: PaceView) -> str:
    """Where the minutes come from, when they are not the usual ones."""
    if one.told is not None:
        return f" (told; usual {one.usual:g})"
    return "" if one.learnt is None else f" (learnt from {one.gaps} steps; usual {one.usual:g})"
