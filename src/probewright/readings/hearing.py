"""The one door for a line typed at the bench: its readings said back, or the doubts that stand before them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from probewright.errors import BadInput
from probewright.machine.model import GROUND
from probewright.readings import NEVER, SCOPED, Look, Reading, Setup, echo, setups, swings, traces
from probewright.readings.answering import AS_ASKED, at_the_same_place, own_word
from probewright.readings.bench import NEW_SITTING, SAME_HOOKUP, SHOWING, Bench, Tails, hold, move, read_tails
from probewright.readings.boards import to_side
from probewright.readings.claims import pair
from probewright.readings.context import Context as Context
from probewright.readings.context import Heard as Heard
from probewright.readings.cooling import to_cooling, to_warmth
from probewright.readings.doubts import BOARD_LINE, Unsure
from probewright.readings.doubts import Doubt as Doubt
from probewright.readings.elsewhere import elsewhere, whole
from probewright.readings.exchanging import to_exchange
from probewright.readings.items import ANSWERS, Item
from probewright.readings.lines import COMMENT, SETUP, read_line
from probewright.readings.naming import names
from probewright.readings.plausible import beyond, doubts, is_capacitor, most_volts, notes
from probewright.readings.powering import SMOKES, to_power
from probewright.readings.provoking import to_answer, to_provocation
from probewright.readings.refitting import to_back_in
from probewright.readings.repairing import BAD, to_repair
from probewright.readings.rewriting import spelled_out
from probewright.readings.scanning import scan
from probewright.readings.settling import settle
from probewright.readings.setups import Piece
from probewright.readings.spots import Spot
from probewright.readings.survey import Surveyed, survey
from probewright.readings.swaps import both_ways, is_swap, looks, old_put_back, swap, to_swap, to_table
from probewright.readings.tokens import evened
from probewright.readings.traces import STAND_IN, Seen, Setting
from probewright.readings.work import Settling
from probewright.readings.zoning import say as say_zone
from probewright.readings.zoning import to_zone
from probewright.units import write_reading, write_value

LONGEST_LINE = 1000  # chosen, letters: several lines of a screen
BEFORE = re.compile(r"\s*(?P<setup>power o(?:n|ff)(?:\s*,[^:;]*)?):\s*(?P<said>\S.*)", re.IGNORECASE)
TAIL_WORDS = (*SHOWING, *SAME_HOOKUP, *NEW_SITTING)


def hear(text: str, context: Context) -> Heard:
    """What a person typed: every reading of it, or doubts and no reading; never raises for anything typed."""
    found = Heard((), context.bench, marked=dict(context.marked))
    for line in text.splitlines() or [""]:
        remark = COMMENT.search(line)
        body = COMMENT.sub("", line)
        if body.strip():
            found = joined(found, one_line(body, after(context, found)))
        if remark:
            found = replace(found, remarks=(*found.remarks, remark[0].strip(" #")))
    if not (found.readings or found.doubts or found.echo or found.remarks):
        found = replace(found, doubts=(Doubt("unclear", "the line is empty", BOARD_LINE),))
    if found.doubts:
        return replace(found, readings=(), bench=context.bench, marked=dict(context.marked), zones=())
    return found


def after(context: Context, found: Heard) -> Context:
    """The context once the lines above were heard."""
    return replace(context, bench=found.bench, said=(*context.said, *found.readings), marked=found.marked)


def joined(found: Heard, more: Heard) -> Heard:
    """Two lines as one."""
    return Heard(
        (*found.readings, *more.readings),
        more.bench,
        (*found.doubts, *more.doubts),
        (*found.remarks, *more.remarks),
        {**found.marked, **more.marked},
        (*found.echo, *more.echo),
        (*found.zones, *more.zones),
    )


def one_line(text: str, context: Context) -> Heard:
    """One line heard."""
    text = graded(as_before(text, context), context)
    try:
        if found := with_set_up(text, context):
            return found
        if found := and_its_swing(text, context):
            return found
        if len(text) <= LONGEST_LINE:
            swings.ask_for_the_kind(text, context.machine)
        if STILL_BAD.fullmatch(text):
            raise Unsure("unclear", "what is still bad?", "say of each function how it is now, as `sound bad`")
        if found := put_on(text, context):
            return found
        if found := there_and_back(text, context):
            return whole(found, text)
        if found := and_what_is_seen(text, context):
            return whole(found, text)
        if found := off_a_trace(text, context):
            return found
        if (found := elsewhere(text, context, one_line)) is not None:
            return whole(found, text)
        if len(text) > LONGEST_LINE:
            raise Unsure("unclear", f"a line of {len(text)} letters", "write one or a few readings a line")
        if head := SETUP.match(text.strip()):
            return set_up(text.strip()[head.end() :], context)
        if switched := powered_with(text, context):
            return switched
        line = Piece(text).cut(0)
        if mended := to_repair(line, context.bench, context.machine) or to_back_in(line, context.bench):
            bench, said = mended
            stands = f"set-up: {setups.say(bench.setup, context.machine)}"
            return Heard((), bench, marked=context.marked, echo=(*said, stands))
        if moved_by := to_cooling(line, context.bench, context.machine) or to_side(line, context.bench):
            bench, said = moved_by
            return Heard((), bench, marked=context.marked, echo=said)
        bare, tails = without_tails(text)
        if reading := to_warmth(bare, context):
            return told(text, (reading,), Surveyed(), context, tails)
        if reading := to_power(bare, context):
            return told(text, (reading,), Surveyed(), context, tails)
        if reading := to_table(bare, context) or to_answer(bare, context) or own_word(bare, context):
            return told(text, (reading,), Surveyed(), context, tails)
        if zone := to_zone(text, context):
            return Heard((), context.bench, marked=context.marked, echo=(f"zone: {say_zone(zone)}",), zones=(zone,))
        if reading := to_provocation(bare, context) or to_exchange(bare, context):
            return told(text, (reading,), Surveyed(), context, tails)
        return formally(text, context) or freely(text, context)
    except Unsure as unsure:
        column = min(unsure.doubt.column, len(text) + 1)  # the line may have been spelled out longer
        doubt = meant_as_set_up(text, context) or replace(unsure.doubt, column=column)
        return Heard((), context.bench, (doubt,), marked=context.marked)
    except BadInput as bad:
        return refused(bad, context)


def meant_as_set_up(text: str, context: Context) -> Doubt | None:
    """ "lift R4.1" by itself, which says nothing of the power: asked back as a set-up; None for any other line."""
    if len(text) > LONGEST_LINE:
        return None
    stands, complaints = setups.understand(Piece(text.strip(" .!")), context.machine, context.bench.setup.bare)
    changed = (stands.lifted, stands.unplugged, stands.linked, stands.loaded, stands.metered, stands.supplied)
    of_file = context.machine is not None and stands.stimulus in context.machine.stimuli
    if of_file and not complaints and not any(changed):
        return Doubt("unclear", "is that how it stands now?", f"write `set-up: power on, {stands.stimulus}`")
    read = re.search(r"(?i)\d\s?[mk]?v\b", text) and not stands.supplied
    if complaints or read or not any(changed):
        return None
    said = text.strip(" .!")
    told = re.match(r"(?i)power (?:on|off)\b", said)
    mend = f"write `set-up: {said}`" if told else f"write `set-up: power off, {said}`, or with `power on`"
    return Doubt("unclear", "is that how it stands now?", mend)


def refused(bad: BadInput, context: Context) -> Heard:
    """Complaints of the stricter rooms as doubts."""
    found = tuple(Doubt("unclear", one.text, one.mend, one.column) for one in bad.complaints)
    return Heard((), context.bench, found, marked=context.marked)


BEHIND = re.compile(r"(?i)[,;]\s*(?P<setup>power (?:on|off)\b(?!:).*)$")


def with_set_up(text: str, context: Context) -> Heard | None:
    """A reading with its whole set-up behind it, as an echo has it, "Q7.c 11.8 V, power on, tone, R9.1 lifted", or
    before a colon. Power alone before a colon leaves the rest as it stands; what was repaired or bared stays so."""
    before, behind = BEFORE.fullmatch(text), BEHIND.search(text)
    found = before or behind
    if not found or len(text) > LONGEST_LINE:
        return None
    said, *tails = Piece(found["setup"]).split(";")
    stands, told = context.bench, context.bench.power_said
    setup, complaints = setups.understand(said, context.machine, stands.setup.bare)
    if complaints:
        return None
    body = "; ".join([text[: found.start()], *(one.text for one in tails)])
    if before:
        body = " " * before.start("said") + before["said"]  # what is wrong with it is told at its column
    if before and "," not in before["setup"]:
        setup = replace(stands.setup, power=setup.power)
        told = told or setup == stands.setup
    there = replace(stands, setup=setup, power_said=True)
    heard = one_line(body, replace(context, bench=there))
    if not heard.readings:
        return one_line(body, context) if _as_made(heard.bench) != _as_made(there) else replace(heard, bench=stands)
    return replace(heard, bench=replace(heard.bench, setup=stands.setup, power_said=told))


def _as_made(bench: Bench) -> tuple[object, ...]:
    """What a line about work on the machine changes, and no set-up of one line does."""
    return bench.fitted, bench.mended, bench.setup.bare


def there_and_back(text: str, context: Context) -> Heard | None:
    """A swap and its reversal in one answer: two readings; None for any other line."""
    if (found := both_ways(text, context)) is None:
        return None
    swapped, end = found
    first = one_line(swapped, context)
    if first.doubts or not first.readings:
        return first
    return joined(first, one_line(f"old {first.readings[-1].question.red} back: {end}", after(context, first)))


SEEN_BEHIND = re.compile(
    rf"(?i)(?:\s*[,;]\s*(?:and\s+)?|\s+and\s+)(?P<seen>{SMOKES.pattern}[ .!]*|(?:the\s+)?series\s+(?:lamp|bulb)\b.*)$"
)


def and_what_is_seen(text: str, context: Context) -> Heard | None:
    """A reading, and behind it how the lamp in series shines, or that something smokes: each by itself; None for any
    other line."""
    if len(text) > LONGEST_LINE or not (found := SEEN_BEHIND.search(text)) or not text[: found.start()].strip():
        return None
    first = one_line(text[: found.start()], context)
    return first if first.doubts else joined(first, one_line(found["seen"], after(context, first)))


def off_a_trace(text: str, context: Context) -> Heard | None:
    """A line with figures of a trace: each read by itself, with volts peak to peak in its place; None without one."""
    if len(text) > LONGEST_LINE or SETUP.match(text.strip()):
        return None
    machine, asked = context.machine, context.asked
    if asked is not None and asked.instrument in traces.GOES and text.strip(" .!").casefold() in traces.NEVERS:
        return told(text, (Reading(asked, NEVER, ""),), Surveyed(), context, Tails(), (AS_ASKED,))
    how = traces.setting(text)
    bare = traces.without(text, how.spans)
    found = traces.seen(bare, machine, swings=traces.swinging(machine, context.bench.setup))
    if not found:
        only = only_set(bare, how, context) if how.spans else None
        return whole(only, text) if only else None
    if machine is not None and not traces.moves(machine):
        return at_rest(bare, found, context)
    heard = Heard((), context.bench, marked=context.marked)
    for (standing, again), one in zip(traces.stand_ins(bare, found), found, strict=True):
        line, here = standing, after(context, heard)
        here = replace(here, said=tuple(each for each in here.said if each.question.instrument != "pp"))
        if beside := behind_another(line, here):
            first, line, here = beside
            heard = heard if again else joined(heard, first)
        hookup = heard.readings[-1].hookup if again and heard.readings else ""
        more = as_card_asked(line, one, how, here) or seen_as(one_line(line, here), one, how, here, hookup)
        if more.doubts:
            return more
        if beside:
            more = replace(more, echo=at_the_same_place(more.echo))
        heard = joined(heard, more)
    return whole(replace(heard, echo=tuple(dict.fromkeys(heard.echo))), text)


def as_card_asked(line: str, one: Seen, how: Setting, context: Context) -> Heard | None:
    """ "top 5.1 V" without a place: where the card asked; None where one is said, or the card asked nothing."""
    asked = context.asked
    if asked is None or line.split(";")[0].strip() != STAND_IN:
        return None
    look = asked.look if asked.instrument == one.instrument and not how.spans else how.look
    reading = traces.as_seen(Reading(asked, 0.0, ""), one, look, context.machine)
    return told(line, (reading,), Surveyed(), context, without_tails(line)[1], (*how.taken, AS_ASKED))


def seen_as(heard: Heard, one: Seen, how: Setting, context: Context, hookup: str) -> Heard:
    """What was heard with volts peak to peak standing in, as what was seen.

    hookup: of the figure before at the same place, "" for none.
    """
    if heard.doubts or not heard.readings or heard.readings[-1].question.instrument != "pp":
        return heard
    stood, machine = heard.readings[-1], context.machine
    reading = traces.as_seen(stood, one, how.look, machine)
    reading = replace(reading, hookup=hookup or stood.hookup)
    wrong = () if context.sure else tuple(filter(None, [beyond(reading, most_volts(context))]))
    said = {echo.say(stood, machine): echo.say(reading, machine)}
    level = one.level is None and one.instrument in traces.GOES
    granted = [*how.taken, *([f"through {write_reading(reading.question.look.level, 'V')}"] if level else [])]
    if (there := reading.question.setup.stimulus) != stood.question.setup.stimulus:
        granted.append(f"at {there}, where something happens once")
    told = tuple(said.get(each, each) for each in heard.echo)
    return replace(
        heard,
        readings=() if wrong else (*([] if hookup else heard.readings[:-1]), reading),
        bench=context.bench if wrong else replace(heard.bench, last=reading),
        doubts=wrong,
        echo=(*told, *(f"taken for granted: {each}" for each in granted)),
    )


def only_set(bare: str, how: Setting, context: Context) -> Heard | None:
    """ "TP4 0.3 Vpp, ac coupled": how the oscilloscope was set, where what it shows is followed in time; else None."""
    heard, machine = one_line(bare, context), context.machine
    if not any(machine is None or traces.moving(machine, one.question.setup) for one in heard.readings):
        return None
    said = {}
    readings = []
    for one in heard.readings:
        shown = one.question.instrument in ("dc", "pp", "rms") or one.question.instrument in SCOPED
        ask = replace(one.question, look=replace(how.look, level=one.question.look.level)) if shown else one.question
        readings.append(replace(one, question=ask))
        said[echo.say(one, context.machine)] = echo.say(readings[-1], context.machine)
    told = (*(said.get(each, each) for each in heard.echo), *(f"taken for granted: {each}" for each in how.taken))
    return replace(heard, readings=tuple(readings), bench=replace(heard.bench, last=readings[-1]), echo=told)


BEHIND_ANOTHER = re.compile(rf"(?i)(?P<first>.*\d.*?)\s*(?:[,;]|\band)\s*(?P<rest>{re.escape(STAND_IN)}.*)")


def behind_another(line: str, context: Context) -> tuple[Heard, str, Context] | None:
    """ "TP4 4.9 V, top 5.1 V": what was read first, the rest of the line, and the bench with its place asked for."""
    found = BEHIND_ANOTHER.fullmatch(line)
    first = one_line(found["first"], context) if found else None
    if found is None or first is None or first.doubts or not first.readings:
        return None
    here = after(context, first)
    return first, found["rest"], replace(here, asked=replace(first.readings[-1].question, instrument="pp", look=Look()))


def at_rest(bare: str, found: Sequence[Seen], context: Context) -> Heard:
    """Where nothing in the machine file moves: a mean is volts dc, hertz and seconds are kept, the rest is asked."""
    (one, *more), end = found, found[-1].end
    kept = {"dc": "V", "period": "s", "frequency": "Hz", "duty": "%"}
    if more or one.instrument not in kept:
        raise Unsure(
            "unclear",
            "nothing in this machine file moves in time",
            "write volts dc, or let a source move in `stimuli:`",
            one.start,
        )
    unit = kept[one.instrument]
    put = f"{write_value(one.value, unit)}{' dc' if unit == 'V' else ''}"
    return one_line(f"{bare[: one.start].rstrip()} {put}{bare[end:]}", context)


def set_up(text: str, context: Context) -> Heard:
    """ "set-up: power off, lift R31.2": how the machine stands from here on."""
    setup, complaints = setups.understand(Piece(text), context.machine, context.bench.setup.bare)
    if complaints:
        raise BadInput(*complaints)
    return moved(setup, context)


def moved(setup: Setup, context: Context) -> Heard:
    """The bench with a new set-up."""
    said = f"set-up: {setups.say(setup, context.machine)}"
    return Heard((), move(context.bench, setup), marked=context.marked, echo=(said,))


# What was on, what swings, what is still so ------------------------------------------------------


def put_on(text: str, context: Context) -> Heard | None:
    """ "TP4 2.6 V with tone", "TP4 2.6 V, TP5 1 V, tone": a stimulus of the file was on for what a line reads; None for
    any other line."""
    names = sorted(context.machine.stimuli if context.machine else (), key=len, reverse=True)
    if not names or len(text) > LONGEST_LINE or SETUP.match(text.strip()):
        return None
    said = "|".join(map(re.escape, names))
    behind = rf"(?i)(?:\s+(?:at|with|during)\s+(?:the\s+)?|\s*,\s*)(?P<name>{said})(?:\s+on)?(?=\s*(?:;.*)?$)"
    found = re.search(behind, text)
    if found is None or not re.search(r"\d", text[: found.start()]):
        return None
    name = next(one for one in names if one.casefold() == found["name"].casefold())
    stands = replace(context.bench.setup, stimulus=name, hertz=0.0)
    there = replace(context, bench=replace(context.bench, setup=stands))
    heard = one_line(text[: found.start()] + text[found.end() :], there)
    if not heard.readings or _as_made(heard.bench) != _as_made(context.bench):
        return None
    return whole(replace(heard, bench=replace(heard.bench, setup=context.bench.setup)), text)


def powered_with(text: str, context: Context) -> Heard | None:
    """ "power on, tone": a set-up of the power and a stimulus of the file alone, for which no iron is taken up; None
    for any other line."""
    if context.machine is None or not re.match(r"(?i)\s*power (?:on|off)\s*,", text) or len(text) > LONGEST_LINE:
        return None
    setup, complaints = setups.understand(Piece(text.strip(" .!")), context.machine, context.bench.setup.bare)
    stands = replace(context.bench.setup, power=setup.power, stimulus=setup.stimulus, hertz=setup.hertz)
    alone = setup == Setup(setup.power, setup.stimulus, hertz=setup.hertz, bare=setup.bare)
    return moved(stands, context) if alone and not complaints else None


def and_its_swing(text: str, context: Context) -> Heard | None:
    """Direct volts and what swings on them, at one place: two readings; None for any other line."""
    two = swings.beside(text) if len(text) <= LONGEST_LINE else None
    first = one_line(two[0], context) if two else None
    if two is None or first is None or first.doubts or [one.question.instrument for one in first.readings] != ["dc"]:
        return None
    ask = first.readings[0].question
    place = ask.red if ask.black == GROUND else f"{ask.red} to {ask.black}"
    second = one_line(f"{place} {two[1]}", after(context, first))
    return whole(joined(first, second), text) if second.readings else None


STILL = re.compile(r"(?i)\s*(?:the\s+)?(?P<what>\w[^,;:]*?)\s+(?:is\s+)?still\s+(?P<how>\w.*)")
STILL_BAD = re.compile(rf"(?i)\s*(?:it(?:'s|’s| is)?\s+)?still\s+(?:{BAD})[ .!]*")


def as_before(text: str, context: Context) -> str:
    """ "sound still bad" as "sound bad", where there is such a function."""
    found = STILL.fullmatch(text) if len(text) <= LONGEST_LINE else None
    works = context.machine.works if context.machine else ()
    functions = {name.casefold() for name in (*context.functions, *(one.name for one in works))}
    return f"{found['what']} {found['how']}" if found and found["what"].casefold() in functions else text


# As in a file of readings ----------------------------------------------------------------------


def graded(text: str, context: Context) -> str:
    """ "speech is weak" with the colon of a readings file, where the file has the word weak for its speech."""
    if context.machine is None or len(text) > LONGEST_LINE:
        return text
    body, semicolon, tails = text.partition(";")
    line = " ".join(body.split()).casefold()
    for works in context.machine.works:
        for word in (limit.words for limit in works.limits if limit.words):
            name, end = works.name.casefold(), word.casefold()
            if line in (f"{name} {end}", f"{name} is {end}", f"the {name} is {end}"):
                return f"{works.name}: {word}{semicolon}{tails}"
    return text


def formally(text: str, context: Context) -> Heard | None:
    """A line in the plain form of a readings file, understood as it is there; None when it is not in that form."""
    if context.machine is None:
        return None
    bench, readings, complaints = read_line(Piece(text).cut(0), context.bench, context.machine)
    if complaints or not readings:
        return None
    wrong = doubts(readings, Surveyed(), context)
    said = (*(echo.say(one, context.machine) for one in readings), *notes(readings, Surveyed(), context))
    return Heard(() if wrong else readings, context.bench if wrong else bench, wrong, marked=context.marked, echo=said)


# As people talk --------------------------------------------------------------------------------


def freely(text: str, context: Context) -> Heard:
    """A line in the words of the bench."""
    known = names(context.machine, context.functions, context.extras)
    body, tails = without_tails(text)
    line = survey(scan(spelled_out(old_put_back(evened(body), context)), topic(context), known.find))
    work = Settling(context, line, known)
    weak(line)
    concluded(line, text)
    readings = understood(line, work, context)
    if not readings:
        return said_of_bench(line, text, context)
    readings = lifted(readings, line)
    return told(text, readings, line, context, merged(tails, line), work.taken)


def topic(context: Context) -> str:
    """The part last spoken of, whose pins may follow without its name."""
    if not context.said:
        return ""
    part, dot, _ = context.said[-1].question.red.rpartition(".")
    return part if dot else ""


def understood(line: Surveyed, work: Settling, context: Context) -> tuple[Reading, ...]:
    """The readings of a line."""
    if reading := to_swap(line, work):
        return (reading,)
    if is_swap(line):
        return (swap(line, work),)
    seen = looks(line, work, topic(context))
    before = last_spot(context)
    return (*seen, *settle(pair(line, topic(context), before), work))


def last_spot(context: Context) -> Spot | None:
    """The place of the last reading, for "same on the other channel"."""
    if not context.said:
        return None
    words = context.said[-1].question.red.split()
    channel = next((one.casefold() for one in words if one.casefold() in ("left", "right")), "")
    rest = [one for one in words if one.casefold() != channel]
    return Spot(" ".join(rest), channel, words=tuple(one.casefold() for one in rest)) if channel else None


def without_tails(text: str) -> tuple[str, Tails]:
    """The line without "; not showing", "; same hook-up" behind it."""
    body, *rest = Piece(text).split(";") or (Piece(text),)
    kept: list[Piece] = []
    while rest and " ".join(rest[-1].text.casefold().split()) in TAIL_WORDS:
        kept.insert(0, rest.pop())
    if not kept:
        return text, Tails()
    return text[: kept[0].column - 1].rstrip(" ;") or body.text, read_tails(tuple(kept))


def merged(tails: Tails, line: Surveyed) -> Tails:
    """Whether the fault was showing, said in the line or behind it."""
    return replace(tails, showing=line.showing) if line.showing != "yes" else tails


def lifted(readings: Sequence[Reading], line: Surveyed) -> tuple[Reading, ...]:
    """ "one leg lifted": the first leg of the part read across."""
    if not line.lifted:
        return tuple(readings)
    return tuple(
        replace(
            one,
            question=replace(
                one.question, setup=replace(one.question.setup, lifted=(*one.question.setup.lifted, one.question.red))
            ),
        )
        if "." in one.question.red and one.question.red.rpartition(".")[0] == one.question.black.rpartition(".")[0]
        else one
        for one in readings
    )


def weak(line: Surveyed) -> None:
    """ "weak" beside a figure is a remark; alone it says no size."""
    if line.degree and not any(one.kind == "figure" for one in line.items):
        one = line.degree[0]
        raise Unsure(
            "unclear",
            f"{one.text!r}: how much of what it should be?",
            "write `half`, `a third`, `none`, per cent or a figure",
            one.start,
        )
    line.remarks.extend(one.text for one in line.degree)


VERDICT = re.compile(r"(?i)\s*(?:so\s+)?(?:it'?s|it is|that'?s|must be|the (?:fault|problem|culprit) (?:is|must be))\b")


def concluded(line: Surveyed, text: str) -> None:
    """What is broken is never taken from a line: ask what was seen."""
    said = [*line.concludes, *line.argues]
    parts = [one for one in line.items if one.kind == "part"]
    blank = any(one.kind == "over" or one.means == "no beep" for one in line.items) or any(
        "open" in one.text.casefold() for one in said
    )
    capacitor = any(is_capacitor(one.text) for one in parts) or any(
        re.search(r"(?i)\b(?:cap|capacitor|electrolytic)\b", one.text) for one in line.items if one.kind == "noun"
    )
    if capacitor and blank and (said or opened(line.items)):
        start = (said or line.items)[0].start
        mend = "that is what a good one does on ohms: measure its capacitance, or write `C5 OL` to keep the reading"
        raise Unsure("capacitor-open", "a capacitor reads open when it is good", mend, start)
    if not said and VERDICT.match(text) and not any(one.kind in ANSWERS or one.kind == "look" for one in line.items):
        raise Unsure(
            "conclusion",
            f"{text.strip()!r} is a conclusion",
            "write what was seen or read: `IC2 pin 8 0 V`, `IC2 very hot`",
        )
    if not said:
        return
    ohms = any(one.quantity and one.quantity.unit in ("ohm", "letter") for one in line.items if one.kind == "figure")
    if ohms and any(one.text.startswith(("R", "VR", "RV")) for one in parts):
        mend = "write only the figure, `R5 3k9`; lift one leg and read again before it counts against it"
        raise Unsure(
            "in-place", "in place other parts lie across it, so a low reading is no proof", mend, said[0].start
        )
    raise Unsure(
        "conclusion",
        f"{said[0].text!r} is a conclusion",
        "write what was seen or read: `IC2 pin 8 0 V`, `IC2 very hot`",
        said[0].start,
    )


def opened(items: Sequence[Item]) -> bool:
    """Whether "open" was said, which is a verdict on a capacitor; OL is a reading."""
    return any(one.kind == "over" and one.text.casefold().startswith(("open", "reads open", "o/c")) for one in items)


def said_of_bench(line: Surveyed, text: str, context: Context) -> Heard:
    """A line without a reading: the power, or nothing that can be used."""
    left = [one for one in line.items if one.kind != "break"]
    if left or not (line.power or line.stimulus):
        if line.marked and not left:
            said = tuple(f"{part} is marked {value:g} {unit}" for part, (value, unit) in line.marked.items())
            return Heard(
                (), context.bench, remarks=tuple(line.remarks), marked={**context.marked, **line.marked}, echo=said
            )
        raise Unsure("unclear", f"no reading in {text.strip()!r}", BOARD_LINE, left[0].start if left else 0)
    setup = context.bench.setup
    if line.stimulus and context.machine is not None:
        raise Unsure("unclear", "is that a set-up?", f"write `set-up: {line.stimulus}`")
    setup = replace(setup, power=line.power or setup.power, stimulus=line.stimulus or setup.stimulus)
    heard = moved(setup, context)
    return replace(heard, remarks=tuple(line.remarks))


def told(
    text: str, readings: Sequence[Reading], line: Surveyed, context: Context, tails: Tails, taken: Sequence[str] = ()
) -> Heard:
    """The readings given their hook-ups and said back, or the doubts about them."""
    bench, held = context.bench, []
    for reading in readings:
        bench = hold(replace(reading, text=text.strip()), tails, bench)
        assert bench.last is not None
        held.append(bench.last)
    said = tuple(echo.say(one, context.machine) for one in held)
    beside = (*(f"taken for granted: {one}" for one in dict.fromkeys(taken)), *notes(held, line, context))
    wrong = doubts(held, line, context)
    if wrong:
        return Heard((), context.bench, wrong, tuple(line.remarks), context.marked, (*said, *beside))
    marked: Mapping[str, tuple[float, str]] = {**context.marked, **line.marked}
    return Heard(tuple(held), powered(bench, line), (), tuple(line.remarks), marked, (*said, *beside))


def powered(bench: Bench, line: Surveyed) -> Bench:
    """The bench remembers that somebody said how the power stands."""
    return replace(bench, power_said=True) if line.power == bench.setup.power else bench
