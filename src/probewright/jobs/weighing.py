"""Which readings of a job can be weighed, and the search that weighs them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from probewright.jobs.as_told import bare_now, standing_of
from probewright.jobs.bench import is_spot, machine_of, table_of
from probewright.jobs.cases import GOOD, Case, Known
from probewright.jobs.moving import where_now
from probewright.jobs.searching import Search, open_search, open_table, refine_anew
from probewright.jobs.swaps import BACK, SWAP, believed_swaps, swap_ends
from probewright.jobs.taught import lessons_weighed
from probewright.machine import Machine
from probewright.machine.tables import TableSection
from probewright.readings import EXCHANGE, KEPT, PROVOKE, Question, Reading, Setup, is_live
from probewright.readings.as_told import NOT_TOLD, AsTold
from probewright.readings.cooling import CELSIUS, WATTS, borne
from probewright.readings.elsewhere import hertz_said, with_hertz
from probewright.readings.instruments import METERED
from probewright.readings.plausible import is_charge
from probewright.readings.powering import DONE, FIRST_POWER, SERIES_LAMP
from probewright.readings.setups import CONTACTS


@dataclass(frozen=True)
class Weighed:
    """Readings as the search takes them, and those left out, each with the reason in words; as_told: how the bench
    stands by what was told since, on the file's names."""

    readings: tuple[Reading, ...]
    left_out: tuple[tuple[Reading, str], ...]
    as_told: AsTold = NOT_TOLD


def weigh_case(case: Case) -> tuple[Search, Weighed]:
    """The search of this job after its readings, on its machine file, else on the symptom table; and what it took."""
    weighed = weighed_of(case)
    return refine_anew(begin(case), weighed.readings, weighed.as_told), weighed


def begin(case: Case) -> Search:
    """The search of this job before any reading."""
    machine = machine_of(case)
    if machine is None:
        return open_table(table_of(case), case.kit)
    return replace(open_search(machine, case.intake.key, kit=case.kit, usual=case.usual), owner=case.owner)


def weighed_of(case: Case) -> Weighed:
    """The readings of this job as its search takes them; nothing is computed."""
    machine = machine_of(case)
    found = on_table(case, table_of(case)) if machine is None else on_machine(case, machine)
    return replace(found, as_told=as_told(case, machine, found.readings))


def as_told(case: Case, machine: Machine | None, weighed: Sequence[Reading]) -> AsTold:
    """How the bench stands by what was told of it, on the file's names; what the file does not know is left out."""
    if machine is None:
        return AsTold(bare=bare_now(case))
    names, now = (case.known.names if case.known else {}), standing_of(case, machine, weighed)
    placed = place_setup(known_only(now.setup, names, machine), names, machine, signal=False) if now.told else None
    return AsTold(placed, bare_now(case), now.side if now.sided else "", now.charged)


# On the symptom table ------------------------------------------------------------------------


def on_table(case: Case, section: TableSection) -> Weighed:
    """What the symptom table weighs: answers to its tests, and swaps as answers to its swap tests."""
    tests = {test.id for test in section.tests}
    found, left = [_tick(name, name, said, Setup()) for name, said in case.intake.ticks.items()], []
    ends = swap_ends(case.readings)
    for n, reading in enumerate(case.readings):
        ask = reading.question
        if ask.instrument in (SWAP, BACK) and (test := f"swap {ask.red}") in tests:
            if n in ends:
                found.append(replace(reading, question=Question("test", test, setup=ask.setup), answer=ends[n]))
        elif ask.instrument == "test" and ask.red in tests:
            found.append(reading)
        else:
            left.append((reading, "kept; type a chain or tie a machine file and it counts"))
    return Weighed(tuple(found), tuple(left))


# On a machine file ---------------------------------------------------------------------------


def on_machine(case: Case, machine: Machine) -> Weighed:
    """Ticks and readings on the places of the machine file."""
    known = case.known
    assert known is not None
    found, left = list(tick_readings(case, machine)), []
    taught = (place_reading(one, known, machine)[0] for one in lessons_weighed(case))
    found += [one for one in taught if one is not None]
    believed = believed_swaps(case.readings)
    behind_a_lamp = {one.text for one in case.readings if one.question.red == SERIES_LAMP}
    for n, reading in enumerate(believed):
        placed, why = place_reading(reading, known, machine)
        if reading.text in behind_a_lamp and reading.question.instrument in METERED and is_live(reading.question.setup):
            placed, why = None, "read behind the lamp in series, where rails read low: read it once the lamp is out"
        if reading.question.instrument != EXCHANGE and (moved := where_now(believed[:n])):
            placed, why = (
                None,
                f"read while {' and '.join(sorted(moved))} were exchanged: of other parts than the file says",
            )
        if placed is None:
            left.append((reading, why))
        else:
            found.append(placed)
    return Weighed(tuple(found), tuple(left))


def tick_readings(case: Case, machine: Machine) -> Iterable[Reading]:
    """The ticks of the intake as what works, before everything else."""
    works = {one.name: one for one in machine.works}
    known = case.known
    for tick, said in case.intake.ticks.items():
        name = known.functions.get(tick) if known else None
        if name in works:
            yield _tick(tick, name, said, Setup(stimulus=works[name].measure.stimulus))


def _tick(tick: str, function: str, said: str, setup: Setup) -> Reading:
    """A tick as what the owner hears or sees; the table has it in its causes already, where it weighs nothing."""
    answer = "ok" if said == GOOD else "bad"  # "partly" fails too, and nobody says by how much
    return Reading(Question("works", function, setup=setup), answer, f"tick {tick}", text=f"{tick}: {said}")


def place_reading(reading: Reading, known: Known, machine: Machine) -> tuple[Reading | None, str]:
    """The reading on the file's own names; None with the reason when it cannot be weighed there."""
    ask = reading.question
    if ask.instrument in (CELSIUS, WATTS) or borne(reading) is not None:
        return None, "reckoned with for its heat; no suspect is weighed by it yet"
    if ask.instrument == "look" and (ask.red, reading.answer) == (FIRST_POWER, DONE):
        return None, "noted; it is not asked again until something is mended"
    if ask.instrument == "look" and ask.red == SERIES_LAMP:
        return None, "kept, not weighed: how a lamp shines is no figure"
    if ask.instrument in KEPT or ask.instrument == "test":
        return None, "kept, not weighed on a circuit yet"
    if is_charge(reading) and not any(part.off == "stays" for part in machine.parts.values()):
        return None, "a charge left with power off: kept, not weighed"
    if ask.instrument == "works":
        name = known.functions.get(ask.red, ask.red)
        work = next((one for one in machine.works if one.name == name), None)
        if work is None:
            return None, f"the machine file has no function {ask.red!r}"
        heard = known_only(ask.setup, known.names, machine)
        placed = place_setup(heard, known.names, machine, signal=False)
        assert placed is not None, "everything in it is known"
        judged = replace(placed, stimulus=work.measure.stimulus, bare=ask.setup.bare)
        return replace(reading, question=replace(ask, red=name, setup=judged)), ""
    red, black = (known.names.get(place, place) for place in (ask.red, ask.black))
    if ask.instrument == EXCHANGE:
        if unknown := [part for part in (red, black) if part not in machine.parts]:
            return None, f"the machine file does not know {' or '.join(unknown)}"
    elif ask.instrument == PROVOKE:
        around, spot = ("near ", ask.red[5:]) if ask.red.startswith("near ") else ("", ask.red)
        red, black = around + known.names.get(spot, spot), ask.black
        if not is_spot(red.removeprefix("near "), machine):
            return None, f"the machine file does not know {spot}"
    elif ask.instrument == SWAP:
        extra = machine.parts.get(red)
        if extra is None or extra.role != "extra":
            return None, f"the machine file has no lead or extra {ask.red!r}"
    else:
        unknown = [place for place in (red, black) if not machine.has_place(place)]
        if unknown:
            return None, f"the machine file does not know {' or '.join(unknown)}"
    setup = place_setup(ask.setup, known.names, machine, signal=ask.instrument in ("pp", "rms", "share"))
    if setup is None:
        return None, "its set-up names what the machine file does not know"
    return replace(reading, question=replace(ask, red=red, black=black, setup=setup)), ""


def known_only(setup: Setup, names: Mapping[str, str], machine: Machine) -> Setup:
    """The set-up without what the file has no name for; the rest of it goes on counting."""

    def is_part(name: str) -> bool:
        return names.get(name, name) in machine.parts

    def is_place(*ends: str) -> bool:
        return all(machine.has_place(names.get(end, end)) for end in ends)

    def is_mended(one: str) -> bool:
        if one.startswith(CONTACTS):  # that name stays as it was given
            return one.removeprefix(CONTACTS) in machine.parts
        return is_place(*one.split("~"))

    return replace(
        setup,
        lifted=tuple(filter(is_place, setup.lifted)),
        unplugged=tuple(filter(is_part, setup.unplugged)),
        replaced=tuple(filter(is_part, setup.replaced)),
        mended=tuple(filter(is_mended, setup.mended)),
        linked=tuple(pair for pair in setup.linked if is_place(*pair)),
        metered=tuple(pair for pair in setup.metered if is_place(*pair)),
        loaded=tuple(one for one in setup.loaded if is_place(*one[:2])),
        supplied=tuple(one for one in setup.supplied if is_place(one[0])),
    )


def place_setup(setup: Setup, names: Mapping[str, str], machine: Machine, signal: bool) -> Setup | None:
    """The set-up on the file's names, heatsinks left out; None when it names what the file does not know.

    A stimulus in free words is the only one of the file that puts a signal on, where a signal is
    read; for direct volts it makes no difference and is dropped.
    """
    if known_only(setup, names, machine) != setup:
        return None
    stimulus = names.get(setup.stimulus, setup.stimulus)
    hertz = setup.hertz or hertz_said(stimulus)
    if stimulus not in ("", *machine.stimuli):
        stimulus = ""
    told = with_hertz(replace(setup, stimulus=stimulus, hertz=hertz), machine)
    stimulus, hertz = told.stimulus, told.hertz if signal else 0.0
    if signal and not stimulus:
        sounding = [one.name for one in machine.stimuli.values() if one.frequency]
        if len(sounding) != 1:
            return None
        stimulus = sounding[0]
    lifted = tuple(names.get(place, place) for place in setup.lifted)
    unplugged = tuple(names.get(part, part) for part in setup.unplugged)
    replaced = tuple(names.get(part, part) for part in setup.replaced)
    mended = tuple("~".join(names.get(end, end) for end in one.split("~")) for one in setup.mended)
    linked = tuple((names.get(a, a), names.get(b, b)) for a, b in setup.linked)
    metered = tuple((names.get(a, a), names.get(b, b)) for a, b in setup.metered)
    loaded = tuple((names.get(a, a), names.get(b, b), ohms) for a, b, ohms in setup.loaded)
    supplied = tuple((names.get(place, place), volts, amps) for place, volts, amps in setup.supplied)
    return replace(
        setup, stimulus=stimulus, lifted=lifted, unplugged=unplugged, replaced=replaced, mended=mended, linked=linked,
        metered=metered, loaded=loaded, supplied=supplied, hertz=hertz, bare=(),
    )  # fmt: skip


# Swaps ---------------------------------------------------------------------------------------
