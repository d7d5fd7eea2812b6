"""Whether a first power is due on a job, and what to know before it, in the repairer's words."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from probewright.inference.drawn import DrawnPopulation
from probewright.inference.population import Population
from probewright.jobs.case_view import TOO_MUCH, DrawsView, FeedView, FirstPowerView, RailView, comes_first
from probewright.jobs.cases import COUNTS, Case, Line
from probewright.jobs.heat_words import FUMES
from probewright.jobs.searching import Search
from probewright.jobs.view import ActionView, JobView, WordView, needs_power
from probewright.jobs.warming import LIVE, STOP
from probewright.jobs.weighing import place_setup
from probewright.jobs.why_died import before_power
from probewright.planning.first_power import BENCH_SUPPLY, Feed, FirstPower, first_power
from probewright.readings import DRAWN, Reading, Setup, is_live
from probewright.readings.changing import changed
from probewright.readings.instruments import UNPOWERED
from probewright.readings.powering import (
    BRIGHT,
    FIRST_POWER,
    NOTHING,
    NOTHING_FOUND,
    SERIES_LAMP,
    TRIPS,
    is_at_limit,
    is_burning,
)
from probewright.units import without_capital, write_reading, write_value

FITTED = "was fitted"
PLAUSIBLE = 0.1  # chosen: chance of more than the limit from which on a short is plausible
NO_AMPS = 1e-4  # A, chosen: what a supply with a display calls nothing
BRIEFLY = 10.0  # s, chosen: the first time, before anything is touched
GLOWS = 3.0  # s: after which a lamp that is still bright tells of a short; common practice, no source
LOOK = "look"  # kind of the step
# What is done by hand where no reading with the power off is left to propose. Common practice, no source.
SEEK = ActionView(
    LOOK, 0, "Power stays off: look, smell and feel for what got hot, then ohms from each rail to ground, both ways.",
    "", "", "power off", 5.0, False, WordView("no rail near 0 ohm, nothing hot"),
    'Too much flowed the last time. No power before its cause was looked for: enter "set-up: power off" and what you'
    f' saw or read, like "D1 burnt", or "{NOTHING_FOUND}"; then the power comes up with a limit again.', (),
    "Caution: what got hot stays hot; empty the reservoirs before ohms are read.",
)  # fmt: skip
# What smokes with the power on, before anything else is asked of it.
SWITCH_OFF = ActionView(
    STOP, 0, "Switch the power off now, and say `off`.", "", "", "", 0.0, True, WordView("off"), "", (), FUMES,
)  # fmt: skip
# A machine of which nobody knows what feeds it: no file, or a chain. It is not brought up without a limit after a trip.
UNKNOWN = FirstPower(SERIES_LAMP, 0.0, 0.0, False, (), (), (), (), 0.0, 0.0, math.inf)
ISOLATED = (
    "Mains comes into this machine: an isolating transformer first, the lamp behind it, one hand; never lift the earth"
    " of the oscilloscope; an earth-fault trip does not see a shock behind such a transformer."
)


# Whether it is due ------------------------------------------------------------------------------------


def first_power_view(case: Case, search: Search, view: JobView, card: ActionView | None) -> FirstPowerView | None:
    """What comes before the next step with power on; None where none is offered, or first power was made."""
    population = search.population
    because, said = due(case)
    plain = FirstPowerView(because, False)
    if not any(comes_first(plain, one) for one in (card, *view.actions)):
        return None
    unknown = _view(UNKNOWN, because, population) if because.startswith(TOO_MUCH) else None
    if not isinstance(population, DrawnPopulation):
        return unknown
    if said or (view.rough and not because):
        return None
    if view.rough:
        return plain
    found = first_power(population, _own(case, search))
    if found is None:
        return unknown
    if not (because or found.short > PLAUSIBLE):
        return None
    check = before_power(case, view) if because.endswith(FITTED) else ()
    told = _view(found, because or _suspected(found, population), population)
    return replace(told, check=check, how=(*told.how[:1], *_whole_again(case, search), *told.how[1:]))


def _whole_again(case: Case, search: Search) -> Iterator[str]:
    """What was only there to measure is put back before the power comes on."""
    stands = case.bench.setup
    whole = replace(stands, lifted=(), unplugged=(), linked=(), loaded=())
    if said := " ".join(one.says for one in changed(stands, whole, search.machine)):
        yield f"Before it comes on, with the power off: {without_capital(said)}"


def _own(case: Case, search: Search) -> Setup:
    """The machine on its own power, with what was repaired up to now: also what no reading tells of yet."""
    bench = case.bench.setup
    own = Setup(replaced=bench.replaced, mended=bench.mended)
    names, machine = (case.known.names if case.known else {}), search.machine
    placed = place_setup(own, names, machine, signal=False) if machine is not None else None
    return placed or Setup()


def due(case: Case) -> tuple[str, bool]:
    """Why the next power is a first one, "" where power was on since; and whether it was answered in so many words.

    Whoever read something with power on has had it on; only an answer says that nothing was wrong with it.
    """
    because, said = "nothing was read with power on since it came in", False
    before: Line | None = None
    for line in (one for one in case.live if one.status == COUNTS and one.bench is not None):
        if mended := _mended(line, before):
            because, said = f"nothing was read with power on since {mended}", False
        for reading in sorted(line.readings, key=_is_bad):  # what is wrong is not made good in the same breath
            if _is_bad(reading):
                because, said = f"{TOO_MUCH}: the plan names what can be read with power off", False
            elif because.startswith(TOO_MUCH) and reading.answer == NOTHING and _looked(reading):
                because = f"{TOO_MUCH}, and nothing was found with the power off"
            elif _is_answer(reading):
                because, said = "", True
            elif _was_on(reading):
                because = ""
        before = line
    return because, said


def tripped(case: Case) -> bool:
    """The last time the power came on too much flowed, and nobody has looked for the cause since: with the power off,
    by reading or looking; nor mended anything, nor had it on without that."""
    waits, before = False, None
    for line in (one for one in case.live if one.status == COUNTS and one.bench is not None):
        if _mended(line, before):
            waits = False
        for reading in sorted(line.readings, key=_is_bad):
            if _is_bad(reading):
                waits = True
            elif _is_answer(reading) or _was_on(reading) or _looked(reading):
                waits = False
        before = line
    return waits


def burning(case: Case) -> str:
    """What was seen to smoke, spark or smell of burning while the power is still on; "" for nothing."""
    if not (tripped(case) and is_live(case.bench.setup)):
        return ""
    last = next((one for one in reversed(case.readings) if _is_bad(one)), None)
    return f"{last.question.red}: {last.answer}" if last is not None and is_burning(last.answer) else ""


def switch_off_first(view: JobView, seen: str) -> JobView:
    """The steps behind that of switching off. seen: what smokes."""
    return replace(view, actions=(replace(SWITCH_OFF, why=f"{seen}, with the power on."), *view.actions))


def _looked(reading: Reading) -> bool:
    """Something of this very machine was read, seen or felt with the power off."""
    setup = reading.question.setup
    return reading.question.instrument in (*UNPOWERED, "look") and not is_live(setup) and not setup.sister


def power_stays_off(view: JobView) -> JobView:
    """The steps without those that need the power, and with what finds a short first where none is left."""
    actions = tuple(one for one in view.actions if not needs_power(one))
    powered = view.group is not None and view.group.kind != "unpowered"
    return replace(view, actions=actions or (SEEK,), group=None if powered else view.group)


def is_left_off(step: ActionView, now: Setup) -> bool:
    """The power had to go off, which this step says, and is off."""
    return step.kind == STOP and not is_live(now)


def leave_off(view: JobView, now: Setup) -> JobView:
    """Where the power had to go off and is off: so it stays, and what can be read comes before what can be fitted."""
    if not view.actions or not is_left_off(view.actions[0], now):
        return view
    stop, *rest = view.actions
    stays = replace(stop, do="Leave the power off, and find why.")
    return replace(view, actions=(stays, *sorted(rest, key=lambda one: one.kind == "repair")))


def _mended(line: Line, before: Line | None) -> str:
    """What a line says was fitted or mended; "" for any other."""
    bench, was = line.bench, before.bench if before is not None else None
    assert bench is not None
    new = [one for one in bench.fitted if was is None or one not in was.fitted or bench.fitted != was.fitted]
    if bench.fitted != (was.fitted if was else ()):
        return f"{new[0]} {FITTED}" if new else "an old part was put back"
    return "it was mended" if bench.mended != (was.mended if was else ()) else ""


def _is_answer(reading: Reading) -> bool:
    ask = reading.question
    if ask.setup.sister:
        return False
    return ask.instrument in (DRAWN, "amps") or (ask.instrument == "look" and ask.red in (FIRST_POWER, SERIES_LAMP))


def _is_bad(reading: Reading) -> bool:
    """The supply stood at its limit, the lamp in series stayed bright, or something smoked with the power on."""
    ask = reading.question
    if ask.setup.sister:
        return False
    smoked = is_burning(reading.answer) and is_live(ask.setup)
    return is_at_limit(reading) or (ask.instrument == "look" and (smoked or reading.answer in (BRIGHT, TRIPS)))


def _was_on(reading: Reading) -> bool:
    """A reading of this very machine with power on, or a function heard so, not one that a bench supply fed with a
    limit of its own."""
    ask = reading.question
    return ask.instrument in (*LIVE, "works") and is_live(ask.setup) and not ask.setup.sister


def _suspected(found: FirstPower, population: DrawnPopulation) -> str:
    held = [one for one in found.draws if one.amps > found.feeds[one.feed].limit]
    named = f", above all {population.belief.suspects[held[0].suspect].says}" if held else ""
    return f"a short is plausible ({100 * found.short:.0f} %{named})"


# What to know ------------------------------------------------------------------------------------------


def _view(found: FirstPower, because: str, population: Population) -> FirstPowerView:
    def name(n: int) -> str:
        return population.belief.suspects[n].says

    limited = found.way == BENCH_SUPPLY
    return FirstPowerView(
        because, True, found.way, found.lamp, tuple(_how(found)),
        tuple(FeedView(one.part, one.place, one.volts, *map(_known, (one.limit, one.low, one.high)))
              for one in found.feeds),
        tuple(_draws(found, name)),
        tuple(RailView(one.net, one.low, one.high, one.stop, one.least) for one in found.rails),
        tuple(_takes_healthy(found)), tuple(_watch(found, name)), tuple(_off(found)), _lasts(found),
        _setting(found) if limited else "",
        (_example(found.feeds), "trips", "first power done") if limited
        else ("series lamp stays bright", "series lamp goes dim", "first power done"),
    )  # fmt: skip


def _known(figure: float) -> float | None:
    return None if math.isnan(figure) else figure


def _how(found: FirstPower) -> Iterator[str]:
    if found.way == BENCH_SUPPLY:
        yield f"Bench supply with a current limit: {'; '.join(map(_fed, found.feeds))}."
        yield "Set the limit with its terminals shorted, turn it off, connect plus and ground, hand on the switch."
        return
    watts = f"of about {found.lamp:g} W" if found.lamp else "of 25 to 60 W, a small one first"
    yield f"An incandescent lamp {watts} in series with the mains lead."
    idle = f"A sound machine idles at about {_digits(found.idle, 2, 'W')}. " if found.idle else ""
    yield f"{idle}No LED lamp: it limits nothing."
    if not found.feeds:
        yield "Fed with low direct volts: a bench supply in its place, its limit no higher than a sound machine needs."
    yield (
        ISOLATED
        if found.mains
        else "The lamp lies in the mains lead: in a closed box with a socket, nothing bare; trained people only."
    )


def _example(feeds: Sequence[Feed]) -> str:
    """How the amps are typed: about those of a sound machine, else half of what is let through."""
    one = feeds[0]
    amps = 0.5 * one.limit if math.isnan(one.high) else 0.5 * (one.low + one.high)
    whose = f" of {one.part}" if len(feeds) > 1 else ""
    return f"supply current{whose} {_digits(amps, 2, 'A')}"


def _fed(one: Feed) -> str:
    volts, limit = write_reading(one.volts, "V"), write_reading(one.limit, "A")
    return f"{volts} on {one.place} (in place of {one.part}), limit {limit}"


def _takes_healthy(found: FirstPower) -> Iterator[str]:
    """What 19 in 20 sound machines take."""
    for one in found.feeds:
        if not math.isnan(one.high):
            yield f"A sound machine takes {_span(one.low, one.high, 'A')} from {one.part}."


def _watch(found: FirstPower, name: Callable[[int], str]) -> Iterator[str]:
    for rail in found.rails:
        yield f"{rail.net} should come up to {_span(rail.low, rail.high, 'V')}."
    if found.way != BENCH_SUPPLY:
        yield "The lamp flashes while capacitors charge, then goes dim: healthy."
        yield "Rails read low behind the lamp. Type their volts once it is out: they weigh as with the full mains."
    if found.hot:
        parts = (f"{one.part} (up to {_digits(one.watts, 2, 'W')}: {name(one.suspect)})" for one in found.hot)
        yield f"Smoke, smell, and with the power off again heat, most of all: {', '.join(parts)}."


def _draws(found: FirstPower, name: Callable[[int], str]) -> Iterator[DrawsView]:
    for one in found.draws:
        feed, limited = found.feeds[one.feed], found.way == BENCH_SUPPLY
        more = one.amps > feed.limit
        says = f"{name(one.suspect)}: {_takes(one.amps, more, limited)}"
        yield DrawsView(name(one.suspect), feed.part, one.amps, more and limited, says)


def _takes(amps: float, more: bool, limited: bool) -> str:
    """Amps of a suspect. more: than a sound machine ever takes; limited: a bench supply stops it at its limit, where a
    lamp in series only lets less through."""
    if more:
        held = "if it could, the limit holds it" if limited else "on the full mains, less behind the lamp"
        return f"{_digits(amps, 2, 'A')} {held}"
    return "next to nothing" if amps < NO_AMPS else _digits(amps, 2, "A")


def _off(found: FirstPower) -> Iterator[str]:
    if found.way == BENCH_SUPPLY:
        seconds = math.ceil(found.charging)
        yield f"it stands at its limit for more than {seconds:g} s (never raise the limit to make it go)"
    else:
        yield f"the lamp is still bright after {GLOWS:g} s (never a bigger lamp to make it go)"
    for rail in found.rails:
        beyond = "above" if rail.stop > 0.0 else "below"
        yield f"{rail.net} goes {beyond} {_digits(rail.stop, 3, 'V')}"
        if rail.least:
            yield f"{rail.net} does not come above {_digits(rail.least, 3, 'V')}: the file says never without it"
    yield "anything smells, smokes, crackles or gets too hot to touch"


def _lasts(found: FirstPower) -> str:
    limited = found.way == BENCH_SUPPLY  # at its limit it has to charge the capacitors first
    first = max(BRIEFLY, math.ceil(found.charging)) if limited else BRIEFLY
    if found.seconds < first:
        most = f"No longer than {math.floor(found.seconds):g} s, for a heatsink is off."
    elif found.seconds < math.inf:
        most = f"{first:g} s the first time, later {math.floor(found.seconds):g} s at most, for a heatsink is off."
    else:
        most = f"{first:g} s the first time; power off, feel, smell; then a minute; then as long as it takes."
    return f"{most} {FUMES}"


def _setting(found: FirstPower) -> str:
    fed = (
        f"bench supply {_typed(one.volts, 'V')} limit {_typed(one.limit, 'A')} on {one.place}" for one in found.feeds
    )
    return f"set-up: power off, {', '.join(fed)}"


def _typed(figure: float, unit: str) -> str:
    return write_value(figure, unit).replace(" ", "")


def _span(low: float, high: float, unit: str) -> str:
    least, most = (_digits(one, 3, unit) for one in (low, high))
    return least if least == most else f"{least} to {most}"


def _digits(figure: float, count: int, unit: str) -> str:
    """A figure of so many digits: nobody watches more of them when power comes on."""
    return write_reading(float(f"{figure:.{count}g}"), unit)
