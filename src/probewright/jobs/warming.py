"""How warm what runs without its heatsink is by now, from the time stamps of a job, and what may be done next.

What is computed of a circuit does not know the time; here the clock is handed in, as UTC in ISO form.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from probewright.inference.belief import Extremes
from probewright.jobs.as_told import bare_now
from probewright.jobs.bench import machine_of
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import COUNTS, Case, Line
from probewright.jobs.clock import State, clock_of, open_clock
from probewright.jobs.group_words import cut
from probewright.jobs.heat_words import burst_view, cautions, heat_view
from probewright.jobs.view import ActionView, BurstView, ClockView, GroupView, HeatView, JobView, SpellView, WordView
from probewright.jobs.weighing import place_setup
from probewright.machine import Machine
from probewright.planning.bursts import Allowance, Hot, body_of, burst, heat_of, least_hurried, told_or_reckoned
from probewright.planning.heat import Body, Warmth, clipped, with_finger, with_thermometer
from probewright.planning.minutes import held, minutes
from probewright.prediction.heating import ask_watts
from probewright.readings import DRAWN, PROVOKE, SCOPED, Question, Reading, Setup, is_live
from probewright.readings.bench import Bench
from probewright.readings.cooling import CELSIUS, Bare, borne
from probewright.readings.instruments import UNPOWERED
from probewright.readings.kit import Kit
from probewright.readings.setups import parts_called
from probewright.units import sentence

LIVE = ("dc", "pp", "rms", "share", DRAWN, PROVOKE, *SCOPED)  # what is read with power on
SEEN = ("works", "swap", "swap back")  # the same, but for what was only told by the owner
OWN = -1.0  # its own heatsink is on
AS_COLD = 2.0  # K above the air, chosen: nobody feels that
CASE_AND_PAD = 6.5  # K/W, junction to case and a dry pad of a TO-220: machine/data/packages.csv
LEAST_SINK = 0.5  # K/W, chosen: no sink is better than that
STOP, COOL = "stop", "cool"
Reckon = Callable[[Question], Extremes]  # the middle and the most of what is believed of a question


# What happened ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Moment:
    """From here on. setup: what feeds the machine and how it stands, None with power off; bare: part -> K/W of a sink
    clipped on, 0 for none; felt: part -> what a thermometer or a finger said, now alone."""

    at: str
    setup: Setup | None
    bare: tuple[tuple[str, float], ...]
    felt: tuple[tuple[str, str], ...] = ()


def moments(case: Case) -> tuple[Moment, ...]:
    """Power on and off, heatsinks off and on, by the lines of a job, oldest first.

    The clock starts at the line that says that power is on, else with the first live reading: as long before it as such
    a reading takes, but not before the line above it. It stops at a line that says off, a reading with power off, and
    wherever somebody turned screws or soldered.
    """
    found: list[Moment] = []
    on: Setup | None = None
    before: Line | None = None
    for line in (one for one in case.live if one.status == COUNTS and one.bench is not None):
        for reading in line.readings:
            if (live := _live(reading)) is not None and on is None:
                found.append(Moment(_begun(reading, line, before, case.kit), live, reading.question.setup.bare))
            on = live if live is not None else None if reading.question.instrument in UNPOWERED else on
            found.append(Moment(line.at, on, reading.question.setup.bare, _felt(reading)))
        on = _left(line, before, on)
        assert line.bench is not None
        found.append(Moment(line.at, on, line.bench.setup.bare))
        before = line
    return tuple(found)


def _live(reading: Reading) -> Setup | None:
    """The set-up of a reading that is taken with power on, of this very machine."""
    ask = reading.question
    live = ask.instrument in LIVE or (ask.instrument in SEEN and ask.setup.bare)
    return ask.setup if live and is_live(ask.setup) and not ask.setup.sister else None


def _begun(reading: Reading, line: Line, before: Line | None, kit: Kit) -> str:
    """When the power came on for a reading, as nobody said it."""
    instrument = reading.question.instrument
    row = reading.question.black if instrument == PROVOKE else held(instrument)
    row = row if row in ("dc", "rms", "pp", "share", "tap", "flex", "press", "warm", "cold") else "dc"
    least = 60.0 * max(minutes(row), minutes(row, kit))
    start = seconds_of(line.at) - least
    if before is not None:
        start = max(start, seconds_of(before.at))
    return datetime.fromtimestamp(start, datetime.fromisoformat(line.at).tzinfo).isoformat()


def _left(line: Line, before: Line | None, on: Setup | None) -> Setup | None:
    """How a line leaves the power."""
    bench, was = line.bench, (before.bench if before is not None else None) or Bench()
    assert bench is not None
    if (bench.fitted, bench.mended) != (was.fitted, was.mended):
        return None  # nobody solders with power on
    if line.readings:
        return on if is_live(bench.setup) or not bench.power_said else None
    if any(one.startswith("set-up: ") for one in line.says):
        return bench.setup if is_live(bench.setup) else None
    return on if bench.setup.bare == was.setup.bare else None


def _felt(reading: Reading) -> tuple[tuple[str, str], ...]:
    """Part and "61.5", "borne" or "not borne", where a reading tells of the warmth of a part."""
    ask = reading.question
    if ask.instrument == CELSIUS and isinstance(reading.answer, float):
        return ((ask.red, repr(reading.answer)),)
    said = borne(reading)
    return () if said is None else ((ask.red, "borne" if said else "not borne"),)


def seconds_of(at: str) -> float:
    """A time stamp as seconds."""
    return datetime.fromisoformat(at).timestamp()


# What it did to a part ----------------------------------------------------------------------------


def with_past(view: JobView, case: Case, reckon: Reckon) -> JobView:
    """The view with every spell of power of what runs without its heatsink now; without a machine file with the watts
    that somebody told. reckon: what is believed of a question about watts."""
    machine, told = machine_of(case), bare_now(case)
    hot = {one.part: one for one in view.heat}
    whole = moments(case)
    names = case.known.names if case.known else {}
    found = []
    for one in told:
        heat = hot.get(one.part) or _told(one, machine, case.kit)
        spells = (_spell(moment, heat, one, names, machine, reckon) for moment in whole)
        found.append(replace(heat, past=tuple(spells)))
    return replace(view, heat=tuple(found))


def _told(one: Bare, machine: Machine | None, kit: Kit) -> HeatView:
    """A part of which no circuit is known."""
    return heat_view(_hot(one, machine, Extremes(0.0, 0.0, -1, 0.0)), "", machine, kit)


def _hot(one: Bare, machine: Machine | None, found: Extremes) -> Hot:
    return told_or_reckoned(one, *body_of(machine, one), found)


def _spell(
    moment: Moment, heat: HeatView, one: Bare, names: Mapping[str, str], machine: Machine | None, reckon: Reckon
) -> SpellView:
    """A spell of the past; where its own watts cannot be reckoned it had those that are believed now. heat: of now."""
    bare = {names.get(part, part): clip for part, clip in moment.bare}
    felt = {names.get(part, part): said for part, said in moment.felt}
    extremes = _reckoned(moment.setup, one, names, machine, reckon)
    hot = _hot(one, machine, extremes)
    likely, worst = (hot.likely, hot.worst) if hot.known else (heat.likely, heat.worst)
    on = moment.setup is not None
    return SpellView(
        moment.at, on, likely if on else 0.0, worst if on else 0.0, bare.get(one.part, OWN),
        felt.get(one.part, ""),
    )  # fmt: skip


def _reckoned(
    setup: Setup | None, one: Bare, names: Mapping[str, str], machine: Machine | None, reckon: Reckon
) -> Extremes:
    """The watts of the part in a set-up of the past, by what is believed now."""
    nobody = Extremes(0.0, 0.0, -1, 0.0)
    if setup is None or machine is None:
        return nobody
    placed = place_setup(setup, names, machine, signal=False)
    if placed is None or not parts_called(machine, one.part):
        return nobody
    return reckon(ask_watts(one.part, replace(placed, hertz=0.0)))


def warmth_now(one: HeatView, machine: Machine | None, now: str) -> tuple[Warmth, Body]:
    """How warm a part is now, after all its spells, and how heat leaves it as it stands."""
    body, clip, warmth = _standing(one, OWN, machine), OWN, None
    warmth = body.cold
    ends = [*(spell.at for spell in one.past[1:]), now]
    for spell, end in zip(one.past, ends, strict=True):
        if spell.clip != clip:
            clip, body = spell.clip, _standing(one, spell.clip, machine)
            warmth = _carried(warmth, body)
        if spell.felt in ("borne", "not borne"):
            warmth = with_finger(warmth, spell.felt == "borne")
        elif spell.felt:
            warmth = with_thermometer(warmth, float(spell.felt))
        lasts = max(seconds_of(end) - seconds_of(spell.at), 0.0)
        warmth = body.after(warmth, spell.likely, spell.worst, lasts)
    if clip != one.clip:
        body = _standing(one, one.clip, machine)
        warmth = _carried(warmth, body)
    return warmth, body


def _standing(one: HeatView, clip: float, machine: Machine | None) -> Body:
    """How heat leaves the part with its own heatsink, another one, or none."""
    if clip != OWN:
        return body_of(machine, Bare(one.part, clip))[1]
    told = heat_of(machine, one.part)
    whole = told.with_heatsink if told is not None else None
    return clipped(one.package, max(whole - CASE_AND_PAD, LEAST_SINK) if whole is not None else 0.0, told)


def _carried(warmth: Warmth, body: Body) -> Warmth:
    """The case as warm as it was, on another way out; a sink that was put on is as cool as the air."""
    more = (0.0,) * (len(body.usual.ohms) - 1)
    return Warmth((warmth.likely[0], *more), (warmth.worst[0], *more))


# What may be done now -----------------------------------------------------------------------------


def with_heat(view: BenchView, case: Case, now: str) -> BenchView:
    """Where the job stands, with what heat leaves of every step now.

    A step that heat does not allow is not offered; where the power is on and the time is up, the card says so before
    anything else. Every question knows which heatsinks are off.
    """
    if not view.search.heat:
        return view
    machine = machine_of(case)
    states = [_state(one, machine, now) for one in view.search.heat]
    heat = tuple(one for one, _, _ in states)
    actions = tuple(_limited(view.search.actions, states, case, machine))
    over = next((one for one in heat if one.on and one.left <= 0.0), None)
    card = _card(view, case, machine, actions, states, over)
    group = _group(view, card, states, machine)
    search = replace(view.search, heat=heat, actions=actions, group=group)
    limited = (one.burst for one in (card, *actions) if one is not None and one.burst is not None)
    return replace(view, search=search, card=card, clock=clock_of(states, next(limited, None), now))


def _group(
    view: BenchView, card: ActionView | None, states: Sequence[State], machine: Machine | None
) -> GroupView | None:
    """What is still worth reading in one go with the card, as warm as all is now."""
    group = view.search.group
    if group is None or card is None or card.do != group.steps[0].do:
        return None
    if group.burst is None:
        return group
    hot = tuple(replace(one, worst=watts) for (_, one, _), watts in zip(states, group.burst.worst, strict=True))
    wait = 0.0 if card.burst is None else card.burst.wait
    return cut(group, hot, [warmth for _, _, warmth in states], wait, any(one.on for one, _, _ in states), machine)


def clock_meanwhile(case: Case, now: str) -> ClockView | None:
    """The clock while the answer is worked out; None with every heatsink on."""
    told = bare_now(case)
    if not told:
        return None
    on = [SpellView(one.at, one.setup is not None, 0.0, 0.0, 0.0) for one in moments(case)]
    return open_clock([one.part for one in told], on, now)


def _state(one: HeatView, machine: Machine | None, now: str) -> State:
    """A part now."""
    warmth, body = warmth_now(one, machine, now)
    hot = Hot(one.part, one.package, one.clip, body, one.likely, one.worst, -1, one.known)
    on = bool(one.past) and one.past[-1].on
    watts = one.past[-1].worst if on else one.worst
    left = replace(hot, worst=watts).seconds(warmth) if one.known else 0.0
    cool = _until_cold(body, warmth)
    return (
        replace(
            one, at=now, on=on, case=warmth.case, case_worst=warmth.worst_case, cool=cool,
            left=left if left == math.inf else float(math.floor(left)), cautions=cautions(hot, warmth),
        ),
        hot, warmth,
    )  # fmt: skip


def _until_cold(body: Body, warmth: Warmth) -> float:
    """Seconds of cooling until nobody could tell it from cold."""
    high = 1.0
    while max(body.after(warmth, 0.0, 0.0, high).worst) > AS_COLD:
        high *= 1.25
    return 0.0 if max(warmth.worst) <= AS_COLD else float(math.ceil(high))


def _limited(
    actions: Sequence[ActionView], states: Sequence[State], case: Case, machine: Machine | None
) -> Iterator[ActionView]:
    """The steps that heat allows, each with its burst from here."""
    for action in actions:
        if action.ask is None:
            yield action
            continue
        ask = replace(action.ask, setup=replace(action.ask.setup, bare=case.bench.setup.bare))
        hot = _heated(action, ask, states)
        if not hot:
            yield replace(action, ask=ask)
            continue
        wait, said = _from_here(least_hurried(hot, action.kind, ask, machine, case.kit), states)
        if wait < math.inf:
            yield replace(action, ask=ask, burst=said)


def _from_here(allowed: Allowance, states: Sequence[State]) -> tuple[float, BurstView | None]:
    """Seconds to wait before a step as warm as all is now, and its burst in words; with the power on no longer than the
    clock leaves."""
    spell = burst(allowed.hot, [warmth for _, _, warmth in states], allowed.need)
    on = any(one.on for one, _, _ in states)
    left = min((one.left for one, _, _ in states), default=math.inf) if on and not spell.wait else math.inf
    return spell.wait, burst_view(replace(spell, seconds=min(spell.seconds, left)), allowed, on)


def _heated(action: ActionView, ask: Question, states: Sequence[State]) -> tuple[Hot, ...]:
    """What a step heats, with the watts of its own set-up; () where it may last as long as one likes."""
    hot = tuple(one for _, one, _ in states)
    if ask.instrument == "test":  # of a table, where nobody knows the set-ups
        return hot if action.live else ()
    if action.burst is None:
        return ()
    return tuple(replace(one, worst=watts) for one, watts in zip(hot, action.burst.worst, strict=True))


def _card(
    view: BenchView,
    case: Case,
    machine: Machine | None,
    actions: tuple[ActionView, ...],
    states: Sequence[State],
    over: HeatView | None,
) -> ActionView | None:
    """Switch off where the time is up; else the step to take, or what could be done for the heat where none is left."""
    if over is not None:
        return _switch_off(over)
    card = view.card
    if card is not None and card.kind == STOP:
        return card
    if card is not None and card.kind == "reverse" and card.ask is not None:
        hot = tuple(one for _, one, _ in states)
        _, said = _from_here(least_hurried(hot, "swap", card.ask, machine, case.kit), states)
        return replace(card, burst=said)
    at = view.search.actions.index(card) if card in view.search.actions else -1
    same = next((one for one in actions if at >= 0 and _same(one, view.search.actions[at])), None)
    return same or next(iter(actions), None) or _cool(states)


def _same(one: ActionView, other: ActionView) -> bool:
    return (one.kind, one.where, one.do) == (other.kind, other.where, other.do)


def _switch_off(one: HeatView) -> ActionView:
    """Power off before anything else: the time is up, or nobody can say how much there is."""
    why = f"{one.part} runs without its heatsink, and its time is up: its case may be at {one.case_worst:.0f} °C."
    return ActionView(
        STOP, 0, "Switch the power off now, and say `off`.", "", "", "", 0.0, True, WordView("off"),
        why if one.known else one.says, (), " ".join(one.cautions),
    )  # fmt: skip


def _cool(states: Sequence[State]) -> ActionView | None:
    """No step is left that heat allows: what would allow one."""
    for one, _, _ in states:
        if one.cold != math.inf:
            ways = "; or ".join(one.instead)
            do = sentence(one.says if not one.known else ways)
            return ActionView(
                COOL, 0, do, one.part, "", "", 0.0, False, WordView("cool"),
                f"{one.part} without its heatsink leaves no time for any reading with power on.", (),
                " ".join(one.cautions),
            )  # fmt: skip
    return None
