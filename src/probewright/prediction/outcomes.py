"""From a question to what it would show in every variant of a bank."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Limit, Machine, Measure, Works
from probewright.prediction.bank import Bank, Solved
from probewright.prediction.heating import WATTS, is_solved, pins_of, units_at, watts_at_rest, watts_in_time
from probewright.prediction.supplying import amps_at_rest, amps_in_time, feeder
from probewright.prediction.timed import Sight, quantity_in_time, show_in_time, takes_time, way_of
from probewright.readings import DRAWN, SCOPED, Look, Question, Setup, on_this_one
from probewright.readings.bench import as_often
from probewright.readings.instruments import Law, law
from probewright.simulation.meters import (
    Shown,
    ac_volts,
    all_volts_fed,
    dc_volts,
    impedance_between,
    ohms_between,
    volts_fed,
)

# An ohmmeter of auto-ranging make feeds the circuit through about this much; low enough that the
# open-circuit voltage is reached across anything over the top of its range. Chosen.
OHMMETER_SERIES = 10e3
DIODE_SERIES = 3e3  # ohm: 3 V open makes 1 mA into a short, the middle of 0.7 to 1.5 mA: four makers' pages
EDGE = 0.1  # chosen: a person calls a limit broken from about 10 % before to 10 % after it
SLIPS = 4  # chosen: a probe has at most so many places to slip to
TINY = 1e-6  # V, or a share: below this a figure is nought
FAINT = 1e-30  # V: a level known as a ratio only has no floor but this
SIGNALS = ("pp", "rms", "level")  # what a small signal knows
SHAPES = tuple(one for one in SCOPED if one != "level")  # what only a run in time knows
CHANGED = 0.2  # chosen: an owner notices a change of a fifth


def show(bank: Bank, ask: Question) -> Shown:
    """What the instrument of a question shows in every variant of the bank (variant,); cached."""
    kept: dict[Any, Shown] = bank.in_time if takes_time(bank, ask) else bank.shown
    key = (ask, bank.awake) if kept is bank.in_time else ask
    if key not in kept and bank.pieces:
        kept[key] = _in_a_row([show(one, ask) for one in bank.pieces])
    elif key not in kept and bank.by_boards:
        kept[key] = _scattered(bank, lambda one: show(one, ask))
    elif key not in kept:
        kept[key] = _show(bank, replace(ask, setup=in_play(bank.model.machine, ask.setup)))
    return kept[key]


def is_shown(bank: Bank, ask: Question) -> bool:
    """What a question shows has been worked out."""
    return ask in bank.shown or (ask, bank.awake) in bank.in_time


def _in_a_row(parts: Sequence[Shown]) -> Shown:
    """What some banks show, one behind the other."""
    return Shown(np.concatenate([p.value for p in parts]), np.concatenate([p.judged for p in parts]))


def _scattered(bank: Bank, look: Callable[[Bank], Shown]) -> Shown:
    """What is looked at in the draws with an unsure board, and in those without it."""
    value, judged = np.zeros(bank.size), np.zeros(bank.size, bool)
    for one, rows in bank.by_boards:
        shown = look(one)
        value[rows], judged[rows] = shown.value, shown.judged
    return Shown(value, judged)


def nobody_reads(bank: Bank, ask: Question) -> np.ndarray:
    """(variant,) bool: the place is on an unsure board that these machines do not have."""
    if not bank.model.unsure_boards:
        return np.zeros(bank.size, bool)
    places, machine = (ask.red, ask.black), bank.model.machine
    ways = {cell.absent for cell in bank.model.cells}
    gone = {absent: any(_is_missing(machine, absent, place) for place in places) for absent in ways}
    return np.array([gone[cell.absent] for cell in bank.model.cells], bool)[bank.cell_of]


def _is_missing(machine: Machine, absent: tuple[str, ...], place: str) -> bool:
    """A place that is not there without these parts."""
    if not absent or place == GROUND:
        return False
    part = place.rpartition(".")[0]
    pins = () if part in machine.parts else machine.pins_on(machine.net_of(place))
    return part in absent or bool(pins) and all(one in absent for one, _ in pins)


def show_at(bank: Bank, ask: Question, sitting: int | None) -> Shown:
    """The same, faults that fall out anew each time being as bad as in that sitting; None for as they are now."""
    now = show(bank, ask)
    then = None if sitting is None else bank.at(sitting)
    if then is None:
        return now
    other, (value, judged) = show(then[0], ask), (now.value.copy(), now.judged.copy())
    value[then[1]], judged[then[1]] = other.value, other.judged
    return Shown(value, judged)


def in_play(machine: Machine, setup: Setup) -> Setup:
    """The set-up as it is: a machine whose one stimulus is whatever it plays is playing while power is on."""
    (only, *others) = machine.stimuli.values() or (None,)
    if setup.power == "on" and not setup.stimulus and only is not None and only.playing and not others:
        return replace(setup, stimulus=only.name)
    return setup


def unharmed(bank: Bank, look: Callable[[Bank], Shown]) -> Shown:
    """What the bank's own draws would show with their faults away, in every variant."""
    shown = look(bank.sound)
    return Shown(np.tile(shown.value, bank.copies), np.tile(shown.judged, bank.copies))


def _show(bank: Bank, ask: Question) -> Shown:
    if ask.instrument == WATTS:
        return _watts(bank, ask)
    if ask.instrument == DRAWN and not ask.setup.sister:
        return _drawn(bank, ask)
    if ask.instrument not in ("works", "swap") and nobody_reads(bank, ask).any():
        return Shown(np.zeros(bank.size), np.zeros(bank.size, bool))
    if ask.setup.sister:
        seen = show(bank.sister, replace(ask, setup=on_this_one(ask.setup)))
        return Shown(np.tile(seen.value, bank.copies), np.tile(seen.judged, bank.copies))
    if ask.instrument == "works":
        return works_ratio(bank, _works_named(bank, ask.red), ask.setup)
    if ask.instrument == "swap":
        return swap_change(bank, ask)
    if ask.instrument == "share":
        return share_of_healthy(bank, ask)
    if ask.instrument == "beep":
        return show(bank, replace(ask, instrument="ohms"))
    way = way_of(bank, ask.setup, ask.instrument, ask.look)
    if way is not None:
        return show_in_time(bank, ask, way)
    if ask.instrument in SHAPES:
        return Shown(np.zeros(bank.size), np.zeros(bank.size, bool))  # nothing moves that would have it
    hertz = frequency(bank, ask.setup) if ask.instrument in SIGNALS else 0.0
    return _over(bank, ask.setup, (ask.red, ask.black), hertz, lambda one: _metered(one, ask))


def _over(bank: Bank, setup: Setup, places: tuple[str, ...], hertz: float, look: Callable[[Bank], Shown]) -> Shown:
    """What all draws of a bank show at these places, looked up in the banks that it was split into; hertz: of the
    signal, or nought.

    Draws whose surroundings do not stay as straight as they were taken to be are solved whole.
    """
    if bank.pieces:
        return _in_a_row([_over(one, setup, places, hertz, look) for one in bank.pieces])
    if bank.by_boards:
        return _scattered(bank, lambda one: _over(one, setup, places, hertz, look))
    if bank.ring is None or not bank.cut:
        return look(bank)
    if bank.is_split and not bank.may_split(setup):
        return look(bank.uncut(np.arange(bank.size)))
    if not bank.is_split:
        shown, bent = _framed(bank, setup, places, hertz, look)
        return _mended(bank, shown, np.flatnonzero(bent), look)
    value, judged, bent = np.zeros(bank.size), np.zeros(bank.size, bool), np.zeros(bank.size, bool)
    for index, one in bank.split:
        shown, bent[index] = _framed(one, setup, places, hertz, look)
        value[index], judged[index] = shown.value, shown.judged
    return _mended(bank, Shown(value, judged), np.flatnonzero(bent), look)


def _framed(
    bank: Bank, setup: Setup, places: tuple[str, ...], hertz: float, look: Callable[[Bank], Shown]
) -> tuple[Shown, np.ndarray]:
    """What draws of some areas show, and which have to be solved whole (variant,) bool."""
    shown = look(bank)
    return shown, ~(shown.judged & bank.solved(setup).holds(places, hertz))


def _mended(bank: Bank, shown: Shown, bent: np.ndarray, look: Callable[[Bank], Shown]) -> Shown:
    """The same with these draws solved whole."""
    if not bent.size:
        return shown
    again, value, judged = look(bank.uncut(bent)), shown.value.copy(), shown.judged.copy()
    value[bent], judged[bent] = again.value, again.judged
    return Shown(value, judged)


def _metered(bank: Bank, ask: Question) -> Shown:
    """What an instrument shows in draws that are solved together."""
    solved, tool = bank.solved(ask.setup), law(ask.instrument)
    if not (solved.knows(ask.red) and solved.knows(ask.black)):
        return _seen_from_afar(bank, solved, ask)
    if ask.instrument == "ohms":
        return ohms_between(
            solved.circuit, solved.batch, solved.rest, ask.red, ask.black, tool.open_volts, OHMMETER_SERIES, tool.high
        )
    if ask.instrument == "diode":
        left = volts_fed(solved.circuit, solved.batch, solved.rest, ask.red, ask.black, tool.open_volts, DIODE_SERIES)
        return Shown(np.where(left.value > tool.high, np.inf, left.value), left.judged)
    if ask.instrument in ("esr", "farads"):
        return _by_impedance(solved, ask, tool)
    if ask.instrument == "dc":
        return dc_volts(solved.circuit, solved.batch, solved.rest, solved.ohms, ask.red, ask.black, tool.input_ohms)
    hertz = frequency(bank, ask.setup)
    if hertz == 0.0:
        return Shown(np.zeros(bank.size), solved.rest.solved)
    peak = ac_volts(
        solved.circuit,
        solved.batch,
        solved.phasors(hertz),
        ask.red,
        ask.black,
        hertz,
        tool.input_ohms,
        tool.input_farads,
    )
    return Shown(peak.value * (2.0 if ask.instrument == "pp" else 0.5**0.5), peak.judged)


def _seen_from_afar(bank: Bank, solved: Solved, ask: Question) -> Shown:
    """What an instrument shows outside the areas that were solved.

    Volts follow from those of the ports; a meter takes from them the share that it takes from a sound machine.
    Anything fed in is fed into those areas and the ones of its places together.
    """
    if ask.instrument not in ("dc", "pp", "rms"):
        places = (ask.red, ask.black)
        return _over(bank.wider(places), ask.setup, places, 0.0, lambda one: _metered(one, ask))
    assert bank.ring is not None
    setup, led = ask.setup, bank.ring.led
    measure = Measure(ask.red, ask.instrument, setup.stimulus, ask.black)
    seen, bare = show(bank.ring.calm, ask), quantity(bank.ring.calm, measure, setup)
    with np.errstate(divide="ignore", invalid="ignore"):
        kept = np.where(np.abs(bare.value) > TINY, seen.value / bare.value, 1.0)
    here = _quantity(bank, measure, setup)
    return Shown(here.value * kept[led], here.judged & seen.judged[led])


def _by_impedance(solved: Solved, ask: Question, tool: Law) -> Shown:
    """What an ESR meter or a capacitance meter shows in place: all that lies between its tips is in it."""
    seen = impedance_between(solved.circuit, solved.batch, solved.rest, ask.red, ask.black, tool.low_hertz)
    with np.errstate(divide="ignore", invalid="ignore"):
        if ask.instrument == "esr":
            value = np.maximum(seen.value.real, 0.0)
        else:
            value = np.maximum((1.0 / seen.value).imag / (2.0 * np.pi * tool.low_hertz), 0.0)
    return Shown(np.where(value > tool.high, np.inf, value), seen.judged)


def share_of_healthy(bank: Bank, ask: Question) -> Shown:
    """What a place carries as a share of what the same draw would carry with nothing wrong (variant,).

    Its signal where a healthy machine has one there, else its direct volts.
    """
    signal = replace(ask, instrument="pp")
    carries = frequency(bank, ask.setup) > 0.0 and float(show(bank.middle, signal).value[0]) > TINY
    meter = signal if carries else replace(ask, instrument="dc")
    here, sound = show(bank, meter), unharmed(bank, lambda bank: show(bank, meter))
    return Shown(np.abs(here.value) / np.maximum(np.abs(sound.value), FAINT), here.judged & sound.judged)


def frequency(bank: Bank, setup: Setup) -> float:
    """Hertz of the signal in this set-up; 0 without one."""
    stimulus = bank.model.machine.stimuli.get(setup.stimulus)
    return (setup.hertz or stimulus.frequency) if stimulus and stimulus.frequency else 0.0


def _works_named(bank: Bank, name: str) -> Works:
    return next(works for works in bank.model.machine.works if works.name == name)


def quantity(bank: Bank, measure: Measure, setup: Setup) -> Shown:
    """A quantity without an instrument, in every variant; setup gives all but the stimulus."""
    setup = replace(setup, stimulus=measure.stimulus)
    look = Look(level=measure.level, window=measure.window)
    way = way_of(bank, setup, measure.quantity, look)
    if way is not None:
        return _quantity_in_time(bank, measure, Sight(measure.place, measure.other, setup, way, look))
    if measure.quantity in SHAPES:
        return Shown(np.zeros(bank.size), np.zeros(bank.size, bool))
    hertz = 0.0 if measure.quantity in ("dc", "size of dc") else frequency(bank, setup)
    return _over(bank, setup, (measure.place, measure.other), hertz, lambda one: _quantity(one, measure, setup))


def _quantity(bank: Bank, measure: Measure, setup: Setup) -> Shown:
    """The same in draws that are solved together; setup gives the stimulus too."""
    if any(_is_missing(bank.model.machine, bank.absent, place) for place in (measure.place, measure.other)):
        return Shown(np.zeros(bank.size), np.ones(bank.size, bool))
    solved = bank.solved(setup)
    if measure.quantity in ("dc", "size of dc"):
        volts = solved.volts_of(measure.place) - solved.volts_of(measure.other)
        return Shown(np.abs(volts) if measure.quantity == "size of dc" else volts, solved.rest.solved)
    hertz = frequency(bank, setup)
    if hertz == 0.0:
        return Shown(np.zeros(bank.size), solved.rest.solved)
    peak = np.abs(solved.phasor_of(measure.place, hertz) - solved.phasor_of(measure.other, hertz))
    return Shown(peak * {"pp": 2.0, "rms": 0.5**0.5, "level": 0.5**0.5}[measure.quantity], solved.phasors(hertz).solved)


def _quantity_in_time(bank: Bank, measure: Measure, sight: Sight) -> Shown:
    """The same where it is followed in time."""
    if bank.pieces:
        return _in_a_row([_quantity_in_time(one, measure, sight) for one in bank.pieces])
    if bank.by_boards:
        return _scattered(bank, lambda one: _quantity_in_time(one, measure, sight))
    if any(_is_missing(bank.model.machine, bank.absent, place) for place in (measure.place, measure.other)):
        return Shown(np.zeros(bank.size), np.ones(bank.size, bool))
    return quantity_in_time(bank, sight, measure.quantity)


def bare_volts(bank: Bank, ask: Question) -> Shown:
    """Direct or rms volts between two places before a probe touches them, solved or not: never less than what a
    meter, which loads them, shows."""
    setup = in_play(bank.model.machine, ask.setup)
    kind = "dc" if ask.instrument == "dc" else "rms"
    volts = quantity(bank, Measure(ask.red, kind, setup.stimulus, ask.black), setup)
    return Shown(np.abs(volts.value), volts.judged)


def _watts(bank: Bank, ask: Question) -> Shown:
    """What a part, or all units of a case, turn into heat; nothing where it is out, never less than nothing."""
    whole = Shown(np.zeros(bank.size), np.ones(bank.size, bool))
    for part in units_at(bank, ask):
        one = watts_in_time(bank, part, ask.setup) or _watts_of(bank, part, ask.setup)
        whole = Shown(whole.value + one.value, whole.judged & one.judged)
    return Shown(np.maximum(whole.value, 0.0), whole.judged & np.isfinite(whole.value))


def _watts_of(bank: Bank, part: str, setup: Setup) -> Shown:
    """The same for one part of a circuit at rest, solved with the areas that it lies in."""
    pins = pins_of(bank, part)

    def look(one: Bank) -> Shown:
        if all(one.solved(setup).knows(pin) for pin in pins) and is_solved(one, part, setup):
            return watts_at_rest(one, part, setup)
        return _over(one.wider(pins), setup, pins, 0.0, look)

    return _over(bank, setup, pins, 0.0, look)


def _drawn(bank: Bank, ask: Question) -> Shown:
    """Amps that a supply gives; nobody knows where none feeds in this set-up."""
    part = feeder(bank.model.machine, ask)
    if not part or part in bank.absent:
        return Shown(np.zeros(bank.size), np.zeros(bank.size, bool))
    return amps_in_time(bank, part, ask.setup) or _drawn_at_rest(bank, part, ask)


def _drawn_at_rest(bank: Bank, part: str, ask: Question) -> Shown:
    """The same in a circuit at rest, solved with the areas that the supply lies in."""
    here = (ask.red, ask.black)

    def look(one: Bank) -> Shown:
        if all(one.solved(ask.setup).knows(place) for place in here) and is_solved(one, part, ask.setup):
            return amps_at_rest(one, part, ask.setup)
        return _over(one.wider(here), ask.setup, here, 0.0, look)

    return _over(bank, ask.setup, here, 0.0, look)


def works_value(bank: Bank, works: Works, setup: Setup) -> Shown:
    """The figure that a function is judged by, in every variant."""
    first = quantity(bank, works.measure, setup)
    if works.second is None:
        return first
    second = quantity(bank, works.second, setup)
    with np.errstate(invalid="ignore"):  # never less never
        value = (
            first.value - second.value
            if works.combine == "minus"
            else first.value / np.where(second.value == 0.0, 1e-12, second.value)
        )
    told = np.isfinite(value) | np.isinf(first.value) | np.isinf(second.value)
    return Shown(np.where(np.isnan(value), 0.0, value), first.judged & second.judged & told)


def healthy_value(bank: Bank, works: Works) -> np.ndarray:
    """A function's figure when healthy: () of the middling machine; (variant,) of each draw's own
    where levels are known as ratios only. Never so near nought that nothing can be divided by it."""
    if bank.by_boards:
        found = np.zeros(bank.size)
        for one, rows in bank.by_boards:
            found[rows] = healthy_value(one, works)
        return found
    if not bank.model.unknown:
        middle = works_value(bank.middle, works, Setup()).value[0]
        return np.asarray(middle if abs(middle) > TINY else TINY)
    own = unharmed(bank, lambda bank: works_value(bank, works, Setup())).value
    return np.where(np.abs(own) > FAINT, own, FAINT)


def works_ratio(bank: Bank, works: Works, setup: Setup) -> Shown:
    """A function's figure as a share of what it is in a healthy machine, in every variant."""
    here = works_value(bank, works, setup)
    return Shown(_share_of(here.value, healthy_value(bank, works)), here.judged)


def _share_of(value: np.ndarray, healthy: np.ndarray) -> np.ndarray:
    """A figure as a share of a healthy one; what never happens in a healthy machine either is as it should be."""
    with np.errstate(invalid="ignore"):
        return np.where(np.isinf(value) & np.isinf(healthy), 1.0, value / healthy)


def broken(value: np.ndarray, limit: Limit, healthy: np.ndarray) -> np.ndarray:
    """Chance (variant,) that a person calls this limit broken: soft over EDGE of it.

    A limit of healthy compares shares, so that it holds on a negative rail too; sizes are compared
    where the side is "weaker" or "stronger", and a change of sign is broken at once.
    """
    if np.isinf(limit.value):
        return np.where(np.isinf(value) == (limit.side == "above"), 1.0, 0.0)
    bound, scale = limit.value, np.where(np.isfinite(healthy), np.abs(healthy), 0.0)
    if limit.of_healthy:
        value, scale = _share_of(value, healthy), np.ones(())
    turned = np.zeros(value.shape, bool)
    if limit.side in ("weaker", "stronger"):
        turned = value * (1.0 if limit.of_healthy else bound) < 0.0
        value, bound = np.abs(value), abs(bound)
    width = EDGE * np.maximum(np.maximum(abs(bound), 0.1 * scale), TINY) / 2.0
    over = np.clip((value - bound) / width, -50.0, 50.0)
    chance = 1.0 / (1.0 + np.exp(-over if limit.side in ("above", "stronger") else over))
    return np.where(turned, 1.0, chance)


def chance_works(bank: Bank, works: Works, setup: Setup) -> tuple[np.ndarray, np.ndarray]:
    """Chance (variant,) that the owner calls the function good; judged (variant,)."""
    shown, healthy = works_value(bank, works, setup), healthy_value(bank, works)
    good = np.ones(bank.size)
    for limit in works.limits:
        good = good * (1.0 - broken(shown.value, limit, healthy))
    return good, shown.judged


def chance_of_word(bank: Bank, works: Works, word: str, setup: Setup) -> tuple[np.ndarray, np.ndarray]:
    """Chance (variant,) that the owner's complaint is the file's own word: its limit is the
    farthest one broken on its side."""
    shown, healthy = works_value(bank, works, setup), healthy_value(bank, works)
    mine = next(limit for limit in works.limits if limit.words == word)

    chance = broken(shown.value, mine, healthy)
    for limit in works.limits:
        if limit is not mine and limit.side == mine.side and _farther(limit, mine, healthy):
            chance = chance * (1.0 - broken(shown.value, limit, healthy))
    return chance, shown.judged


def _farther(limit: Limit, than: Limit, healthy: np.ndarray) -> bool:
    """A limit that is broken later than the other, both on one side."""
    usual = float(np.median(healthy))
    sizes = [abs(one.value * (usual if one.of_healthy else 1.0)) for one in (limit, than)]
    return sizes[0] < sizes[1] if limit.side in ("below", "weaker") else sizes[0] > sizes[1]


def swap_change(bank: Bank, ask: Question) -> Shown:
    """1 where exchanging an extra changes some function for the better, 0 where nothing changes.

    Before and after are the same draws; "for the better" is nearer to healthy by CHANGED of it.
    """
    before = ask.setup
    after = replace(before, replaced=as_often(before.replaced, (ask.red,)))
    change, judged = np.zeros(bank.size), np.ones(bank.size, bool)
    for works in bank.model.machine.works:
        old, new = works_ratio(bank, works, before), works_ratio(bank, works, after)
        with np.errstate(invalid="ignore"):  # never before and never after
            nearer = np.abs(old.value - 1.0) - np.abs(new.value - 1.0)
        change = np.maximum(change, np.where(nearer > CHANGED, 1.0, 0.0))
        judged &= old.judged & new.judged
    return Shown(change, judged)


def neighbours(bank: Bank, ask: Question) -> tuple[Question, ...]:
    """Questions a slipped red probe would answer instead: named neighbours, then pins beside it."""
    if ask.instrument not in ("dc", "pp", "rms", *SCOPED) or ask.setup.power != "on":
        return ()
    machine = bank.model.machine
    net = machine.net_of(ask.red)
    near = [place for point in machine.points.values() if ask.red in (point.name, point.place) for place in point.near]
    for part, pin in machine.pins_on(net) if "." not in ask.red else [tuple(ask.red.rsplit(".", 1))]:
        if part in machine.parts:
            pins = KINDS[machine.parts[part].kind].pins
            at = pins.index(pin)
            near += [
                machine.parts[part].pins[p]
                for p in pins[max(0, at - 1) : at + 2]
                if p != pin and p in machine.parts[part].pins
            ]
    seen = dict.fromkeys(machine.net_of(place) for place in near)
    return tuple(replace(ask, red=other) for other in seen if other not in (net, GROUND))[:SLIPS]


def quick_show(bank: Bank, ask: Question) -> Shown:
    """What a question shows, where something simpler will do: for choosing, never for judging.

    Ohms as if every part were straight: at the low volts of the meter silicon hardly conducts, so one solve serves
    every pair. In a machine of many areas a voltmeter takes its share from every place as from a straight circuit.
    """
    if ask in bank.ahead:
        return bank.ahead[ask]
    if takes_time(bank, ask) and way_of(bank, ask.setup, ask.instrument, ask.look) and not ask.setup.sister:
        return _quick_in_time(bank, ask)
    by_share = ask.instrument == "dc" and bank.model.by_areas and not ask.setup.sister
    if not (by_share or ask.instrument == "ohms") or nobody_reads(bank, ask).any():
        return show(bank, ask)
    if by_share:
        return _straight_volts(bank, replace(ask, setup=in_play(bank.model.machine, ask.setup)))
    return _straight_ohms(bank, ask)


def _quick_in_time(bank: Bank, ask: Question) -> Shown:
    """Without what the probe takes; kept apart from what is shown."""
    if is_shown(bank, ask):
        return show(bank, ask)
    key = (ask, bank.awake, "ahead")
    if key not in bank.in_time:
        if bank.pieces:
            found = _in_a_row([_quick_in_time(one, ask) for one in bank.pieces])
        elif bank.by_boards:
            found = _scattered(bank, lambda one: _quick_in_time(one, ask))
        else:
            setup = in_play(bank.model.machine, ask.setup)
            way = way_of(bank, setup, ask.instrument, ask.look)
            assert way is not None
            found = show_in_time(bank, replace(ask, setup=setup), way, loading=False)
        bank.in_time[key] = found
    return bank.in_time[key]


def _straight_ohms(bank: Bank, ask: Question) -> Shown:
    if bank.by_boards:
        return _scattered(bank, lambda one: _straight_ohms(one, ask))
    solved, top = bank.solved(ask.setup), law("ohms").high
    if solved.circuit.with_room(ask.red, ask.black) is not solved.circuit:
        return show(bank, ask)  # nothing joins the two places, so the one solve does not speak of them
    value = np.abs(solved.ohms_between(ask.red, ask.black))
    return Shown(np.where(value > top, np.inf, value), solved.rest.solved)


def _straight_volts(bank: Bank, ask: Question) -> Shown:
    solved, places = bank.solved(ask.setup), (ask.red, ask.black)
    seen = sum(np.abs(solved.circuit.volts_at(place, solved.batch, solved.ohms)) for place in places)
    share = seen / (seen + law("dc").input_ohms)
    return Shown((solved.volts_of(ask.red) - solved.volts_of(ask.black)) * (1.0 - share), solved.rest.solved)


def fed_ahead(bank: Bank, asks: Sequence[Question]) -> None:
    """Solve what `quick_show` will be asked of the diode range in one go; kept with the bank.

    A bank that is split solves each of these questions only for the draws in whose areas its places lie. In all others
    the machine about them is the sound one that they stand in, and shows what that shows.
    """
    if bank.by_boards:
        return  # two circuits: each question is solved when it is asked
    asks = [ask for ask in dict.fromkeys(asks) if ask.instrument == "diode" and ask not in bank.ahead]
    asks = [ask for ask in asks if not nobody_reads(bank, ask).any()]
    for setup in dict.fromkeys(ask.setup for ask in asks):
        mine = [ask for ask in asks if ask.setup == setup]
        if bank.has_areas and bank.may_split(setup):
            _fed_by_area(bank, setup, mine)
        else:
            bank.ahead.update(_fed(bank, setup, mine))


def _fed(bank: Bank, setup: Setup, asks: Sequence[Question]) -> dict[Question, Shown]:
    """What the diode range shows in draws that are solved together."""
    solved, tool = bank.solved(setup), law("diode")
    pairs = [(ask.red, ask.black) for ask in asks]
    left = all_volts_fed(solved.circuit, solved.batch, solved.rest, pairs, tool.open_volts, DIODE_SERIES)
    return {
        ask: Shown(np.where(one.value > tool.high, np.inf, one.value), one.judged)
        for ask, one in zip(asks, left, strict=True)
    }


def _fed_by_area(bank: Bank, setup: Setup, asks: Sequence[Question]) -> None:
    assert bank.ring is not None
    calm, led = bank.ring.calm, bank.ring.led
    fed_ahead(calm, asks)
    for ask in asks:
        sound = calm.ahead[ask]
        bank.ahead[ask] = Shown(sound.value[led], sound.judged[led])
    for index, one in bank.split:
        mine = [ask for ask in asks if one.ring is None or _reaches(one, ask)]
        for ask, shown in (_fed(one, setup, mine) if mine else {}).items():
            bank.ahead[ask].value[index], bank.ahead[ask].judged[index] = shown.value, shown.judged


def _reaches(bank: Bank, ask: Question) -> bool:
    """The places of a question lie in the areas of this bank."""
    areas, window = bank.model.areas, bank.ring.window if bank.ring is not None else None
    return window is not None and all(areas.of_place(place) & window for place in (ask.red, ask.black))
