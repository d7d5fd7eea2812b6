"""A job, a check and expected readings as plain text, at most about 100 columns wide."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from probewright.errors import with_mend
from probewright.jobs.view import (
    OPEN,
    ActionView,
    CheckView,
    ErrorsView,
    ExpectView,
    FaultView,
    JobView,
    RangeView,
    SuspectView,
)
from probewright.units import percent as percent
from probewright.units import without_capital, write_reading

FINDINGS = {
    "located": "Located",
    "undecided": "Not decided yet",
    "unexplained": "Not explained by anything in this file",
    "outside": "The fault is outside the machine",
    "not_shown": "The fault does not show itself",
    "healthy": "Nothing wrong in here",
}
TOGETHER = {
    "unpowered": "In one go while the power is off", "burst": "In one burst of power",
    "powered": "In one go while the power is on",
}  # fmt: skip
BAR = 20  # characters of a full bar
NOTHING = 1e-3  # V, chosen: what a hand-held meter at a bench shows as nought
BOARD_SURE = 0.9  # chosen: from here on an added board is said to be fitted, or not
LISTED = 6  # suspects listed
DOCUMENT = re.compile(r"MIL-HDBK-\w+ \([^)]*\)")  # a handbook by name and date
MOVED = re.compile(r"; as (\d+) jobs? of this bench ended")  # in the source of a suspect


def job(view: JobView) -> str:
    """Finding, how sure, next step and what does not fit."""
    lines = [f"{conclusion(view)}{' (rough)' if view.rough else ''}", "", *ranking(view), *surprises(view)]
    if view.heat:
        lines += ["", *heat(view)]
    if view.actions:
        lines += ["", *step(view.actions[0], called(view))]
        lines += in_one_go(view)
        rest = list(others(view.actions[1:4], view.actions[0]))
        lines += ["", "Or:", *rest] if rest else []
    return "\n".join(lines)


def in_one_go(view: JobView) -> Iterator[str]:
    """What is worth reading with the first step before the bench is changed."""
    group = view.group
    if group is None:
        return
    yield ""
    spent = f"{minutes(group.minutes)}, set up anew for each {minutes(group.apart)}"
    yield f"{TOGETHER[group.kind]}, {len(group.steps)} readings  {spent}"
    if group.clips:
        yield f"  With the power off, clip {', '.join(group.clips)}."
    for n, one in enumerate(group.steps, 1):
        usual = f"  Healthy: {healthy(one.healthy)}" if isinstance(one.healthy, RangeView) else ""
        yield f"  {n} {one.do}{usual}"
        if one.caution and n > 1:  # that of the first stands on the card
            yield f"    {one.caution}"
    if group.burst:
        yield f"  {group.burst.says}"


def others(actions: Sequence[ActionView], card: ActionView | None = None) -> Iterator[str]:
    """Steps besides the one to take, each with what makes it safe; card: that one, where it stands before them: what
    comes first for both is said there."""
    above = "" if card is None else first(card)
    for action in actions:
        yield f"  {action.do}" + (f"  {minutes(action.minutes)}" if action.minutes else "")
        here = first(action) or ("As the bench stands." if above else "")
        said = ("" if here == above else here, action.burst and action.burst.says, action.caution)
        yield from (f"    {one}" for one in said if one)


def heat(view: JobView) -> Iterator[str]:
    """What runs without its heatsink: its watts, how long it may, how warm it is by now, what else could be done."""
    for one in view.heat:
        yield f"Heat: {one.says}"
        if one.at and (one.on or one.cool):
            left = f", off within {one.left:.0f} s" if one.on and 0.0 < one.left < float("inf") else ""
            yield f"  Now the power is {'on' if one.on else 'off'}{left}."
            yield f"  Its case is at about {one.case:.0f} °C, at worst {one.case_worst:.0f} °C."
        yield from (f"  {said}" for said in one.cautions)
        yield from (f"  Or {said}." for said in one.instead)


def conclusion(view: JobView) -> str:
    """The finding; where nothing listed explains the readings, what it acts like all the same."""
    leads = view.suspects[0] if view.suspects else None
    if view.finding == "unexplained" and leads is not None and leads.stranger:
        return f"Not explained by any listed fault, but {named(leads)}"
    return FINDINGS[view.finding]


def surprises(view: JobView) -> Iterator[str]:
    """Readings that do not fit, with what to do about them."""
    for surprise in view.surprises:
        yield ""
        yield f"Reading {surprise.reading} does not fit: {view.readings[surprise.reading - 1]}"
        yield f"  {surprise.advice}"


def ranking(view: JobView) -> Iterator[str]:
    """Suspects with how sure and usual culprits before any reading."""
    yield "How sure        before   suspect"
    for suspect in view.suspects[:LISTED]:
        bar = "#" * round(suspect.probability * BAR)
        yield f"{percent(suspect.probability):>5} {bar:<{BAR}} {percent(suspect.prior):>6}   {named(suspect)}"
    rest = sum(s.probability for s in view.suspects[LISTED:])
    if rest > 0.005:
        yield f"{percent(rest):>5} {'#' * round(rest * BAR):<{BAR}}          all others together"
    for one in view.classes[:2]:
        if len(one.members) > 1:
            says = called(view)
            more = f"; and {len(one.members) - 5} more" if len(one.members) > 5 else ""
            alike = "; ".join(says.get(member, member) for member in one.members[:5])
            yield f"      These read alike, together {percent(one.probability)}: {alike}{more}."
            yield f"      To tell them apart: {one.split_by}"
            if one.beyond:
                yield f"      Or, {one.beyond}"
    yield from boards(view)
    yield from alone(view)


def alone(view: JobView) -> Iterator[str]:
    """Which places are left alone while live, and who may change that; nothing where there are none."""
    if said := left_alone(view):
        yield f"{said} Who is trained for it says so: `probewright kit --trained`."


def left_alone(view: JobView) -> str:
    """Which places are read with power off only, and why; "" where there are none."""
    places = ", ".join(view.left_alone)
    return f"Left alone while live, because they can kill or are not known: {places}." if places else ""


def boards(view: JobView) -> Iterator[str]:
    """Whether each added board that nobody knows of is fitted, by the readings."""
    for one in view.boards:
        sure, said = max(one.fitted, 1.0 - one.fitted), "fitted" if one.fitted > 0.5 else "not fitted"
        yield f"{one.name}, an added board: " + (
            f"{said}, {percent(sure)} sure"
            if sure > BOARD_SURE
            else "nobody knows yet whether it is fitted; look, and write it in the machine file"
        )


def called(view: JobView) -> dict[str, str]:
    """What to call each suspect: its id is for machines to read."""
    return {suspect.id: suspect.says for suspect in view.suspects}


def culprits(view: JobView) -> Iterator[str]:
    """Usual culprits before any reading, by both tables side by side, with their sources named once."""
    listed = [one for one in view.suspects[:LISTED] if one.source]
    yield "Usual culprits before any reading, by two tables side by side:"
    yield "old machines  handbooks   suspect"
    for one in listed:
        yield f"{percent(one.prior):>12}  {handbook(one.handbook):>9}   {one.says}"
    yield from sources(listed)


def handbook(share: float | None) -> str:
    """A chance by the handbooks, or that they have none."""
    return "no row" if share is None else "never" if share == 0.0 else percent(share)


def sources(listed: Sequence[SuspectView]) -> Iterator[str]:
    """Where both tables come from, each source once, and what a missing row means."""
    theirs = dict.fromkeys(name for one in listed for name in DOCUMENT.findall(one.handbook_source))
    jobs = next((found[1] for one in listed if (found := MOVED.search(one.source))), "")
    by = f", moved by what {jobs} job{'' if jobs == '1' else 's'} of this bench proved" if jobs else ""
    yield f"old machines: estimates for decades-old home electronics{by}; they decide"
    yield f"handbooks: {'; '.join(theirs) if theirs else 'none has a row for any of these'}"
    if any(one.handbook is None for one in listed):
        yield "no row: the handbooks are silent; for a class they do not know the estimate fills up their column"


def named(suspect: SuspectView) -> str:
    """What is wrong, with how far where that is known; of two faults each by its name."""
    sizes = [(fault.item, how_bad(fault)) for fault in suspect.faults if fault.severity is not None]
    if not sizes:
        return suspect.says
    alone = len(suspect.faults) == 1
    return f"{suspect.says} ({', '.join(much if alone else f'{item} {much}' for item, much in sizes)})"


def how_bad(fault: FaultView) -> str:
    """The severity that is believed."""
    assert fault.severity is not None
    if fault.unit == "x":
        return f"about x{float(f'{fault.severity:.2g}'):g}"
    return f"about {write_reading(fault.severity, fault.unit)}"


def step(action: ActionView, names: Mapping[str, str] | None = None) -> Iterator[str]:
    """The next step: what to do, healthy range, why, what each answer would mean.

    names: suspect id -> what to call it.
    """
    names = names or {}
    yield f"Next: {action.do}" + (f"  {minutes(action.minutes)}" if action.minutes else "")
    if said := first(action):
        yield f"  {said}"
    if action.burst:
        yield f"  {action.burst.says}"
    if action.caution:
        yield f"  {action.caution}"
    if isinstance(action.healthy, RangeView):
        yield f"  Healthy: {healthy(action.healthy)}"
    yield f"  {action.why}"
    if action.needs_yes:
        yield f"  With a yes: {action.needs_yes.then}"
        yield from (f"  Record it: {one}" for one in (*action.needs_yes.yes, *action.needs_yes.no))
    for outcome in action.outcomes if action.kind != "repair" else ():
        raised = (
            f"points to {'; '.join(names.get(one, one) for one in outcome.raises)}"
            if outcome.raises
            else "changes little"
        )
        yield f"  {outcome.if_} ({percent(outcome.chance)}): {raised}"


def first(action: ActionView) -> str:
    """What is put back and how the board is turned before a step; "" where nothing is."""
    said = " ".join(filter(None, [*action.back, action.turned]))
    return f"First, with the power off and what stays charged emptied: {without_capital(said)}" if said else ""


def healthy(view: RangeView) -> str:
    """A healthy range, where it is narrow enough to help."""
    if view.unit == "V" and max(abs(view.low), abs(view.high)) < NOTHING:
        return f"below {write_reading(NOTHING, 'V')}"
    if view.high > OPEN * abs(view.low) > 0.0:
        return "not known yet"
    low, high = (write_reading(one, view.unit) for one in (view.low, view.high))
    return low if low == high else f"{low} to {high}"  # what the mains drives repeats as it does, to the last digit


def checked(view: RangeView) -> str:
    """A healthy range as it is checked at one place: one end is enough where the other lies far off."""
    low, high = (write_reading(one, view.unit) for one in (view.low, view.high))
    if view.low == 0.0 or (view.unit == "V" and max(abs(view.low), abs(view.high)) < NOTHING):
        return f"below {high if view.low == 0.0 else write_reading(NOTHING, 'V')}"
    if view.high > OPEN * abs(view.low) > 0.0:
        return f"above {low}"
    return low if low == high else f"{low} to {high}"


def minutes(figure: float) -> str:
    """Minutes as shown beside a step."""
    return f"[{figure:.1f} min]".replace(".0", "")


def check(view: CheckView) -> str:
    """What was understood of a machine file."""
    lines = [
        f"{view.machine}: {len(view.parts)} parts, {len(view.nets)} nets, {view.suspects} suspects",
        f"sections: {', '.join(view.sections)}" if view.sections else "one section",
        f"works: {', '.join(view.works)}" if view.works else "no functions typed under `works`",
    ]
    lines += [
        f"{section} meets the other sections at {', '.join(nets)}"
        for section, nets in view.ports.items()
        if section and nets
    ]
    lines += ["", "polarity:", *(f"  {one}" for one in view.polarity)] if view.polarity else []
    lines += ["", "assumed:", *(f"  {one}" for one in view.assumed)] if view.assumed else []
    lines += (
        ["", "warnings:", *(f"  line {w.line}, column {w.column}: {with_mend(w.text, w.mend)}" for w in view.warnings)]
        if view.warnings
        else ["", "no warnings"]
    )
    return "\n".join(lines)


def expected(view: ExpectView) -> str:
    """Healthy readings: place, low, middle, high."""
    wide = max((len(row.place) for row in view.rows), default=5)
    kinds = {"dc": "DC", "pp": "peak to peak", "ohms": ""}
    lines = [f"Healthy readings, {view.setup}:", ""]
    for row in view.rows:
        low, mid, high = (write_reading(v, row.unit) for v in (row.low, row.mid, row.high))
        lines.append(f"{row.place:<{wide}}  {mid:>10} {kinds[row.kind]:<12}  ({low} to {high})")
    return "\n".join(lines)


def errors(view: ErrorsView) -> str:
    """Everything wrong, one a line: where, what, how to mend it."""
    return "\n".join(
        f"{f'{e.file}:{e.line}:{e.column}: ' if e.file else ''}{with_mend(e.text, e.mend)}" for e in view.errors
    )
