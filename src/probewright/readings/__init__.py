"""What a person or a meter said: set-ups, questions, readings, and how they are typed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from probewright.machine.model import GROUND

# Stored, shown and compared, but no suspect is weighed by them yet; with the unit of their answers.
KEPT = {
    "hertz": "Hz", "seconds": "s", "amps": "A", "decibels": "dB",
    "cents": "cents", "celsius": "°C", "percent": "%", "watts": "W", "look": "",
}  # fmt: skip
# What is read off a trace besides "dc", "pp" and "rms", with the unit of its answer. "1": a share.
SCOPED = {
    "top": "V", "valley": "V", "level": "V", "sag": "V", "period": "s", "frequency": "Hz",
    "rise": "s", "fall": "s", "duty": "1", "tilt": "1", "distortion": "1", "last": "V", "drift": "V",
}  # fmt: skip
DRAWN = "drawn"  # amps that a supply gives
NEVER = float("inf")  # the answer where a trace never rises or falls through a level
PROVOKE, EXCHANGE = "provoke", "exchange"
COMES, GOES, SAME = "comes", "goes", "same"  # what a provocation does to the fault


@dataclass(frozen=True)
class Setup:
    """How the machine stands while a reading is taken; stored whole in every reading.

    power: "on" or "off" (off and discharged); stimulus: a name from the machine file, "" for as typed; lifted:
    places "R31.2"; unplugged: parts taken out; linked: pairs of places joined by a wire; replaced: parts exchanged
    for known good ones, leads and extras included, once for each time; mended: what was repaired in place: joints
    resoldered ("U4.3"), places that touched set apart ("Q1.b~Q1.c", from ground: freed of what hung there),
    contacts cleaned ("contacts of K1"); metered: pairs of places on which a second meter was left; loaded: pairs of
    places with the ohms that were hung between them; supplied: places fed from a bench supply, with its volts and
    its limit in A; hertz: the stimulus with another frequency than its own, 0 for its own; sister: read on a
    healthy machine of the same model and not on this one; bare: parts whose heatsink is off, or the screen or case that
    was it, each with the K/W to the air of a sink clipped on instead, 0 for none.
    All tuples are kept sorted, so equal set-ups compare equal.
    """

    power: str = "on"
    stimulus: str = ""
    lifted: tuple[str, ...] = ()
    unplugged: tuple[str, ...] = ()
    linked: tuple[tuple[str, str], ...] = ()
    replaced: tuple[str, ...] = ()
    mended: tuple[str, ...] = ()
    metered: tuple[tuple[str, str], ...] = ()
    loaded: tuple[tuple[str, str, float], ...] = ()
    supplied: tuple[tuple[str, float, float], ...] = ()
    hertz: float = 0.0
    sister: bool = False
    bare: tuple[tuple[str, float], ...] = ()


def as_wired(setup: Setup) -> Setup:
    """The set-up without what changes no volts: which heatsinks are off."""
    return replace(setup, bare=()) if setup.bare else setup


def is_live(setup: Setup) -> bool:
    """Something feeds the board."""
    return setup.power == "on" or bool(setup.supplied)


def on_this_one(setup: Setup) -> Setup:
    """The same set-up on the machine of the job."""
    return replace(setup, sister=False)


@dataclass(frozen=True)
class Look:
    """How an oscilloscope is set for one figure.

    coupling: "dc" or "ac"; limit: its bandwidth limit, Hz, 0 for none; level: volts that a rise or a fall goes
    through; hertz: of the component that a level is read at, 0 for the stimulus' own; window: begin and end, s, of
    what is looked at, None: as the stimulus says; single: one sweep, caught once, not what repeats.
    """

    coupling: str = "dc"
    limit: float = 0.0
    level: float = 0.0
    hertz: float = 0.0
    window: tuple[float, float] | None = None
    single: bool = False


@dataclass(frozen=True)
class Question:
    """An instrument, two places and a set-up.

    instrument: "dc" (volts, 10 Mohm meter), "pp" (peak to peak, x10 probe), "rms" (ac volts of
    the meter), "ohms" (low-voltage range, power off), "beep" (continuity range, power off), "diode", "esr"
    and "farads" (the diode range, ESR meter and capacitance meter, power off),
    "share" (how much of its signal a place carries, by eye or ear), "works" (red is a function's
    name) or "swap" (red is an extra; did the complaint change when it was exchanged), or "provoke" (red is
    a part, a pin, a net or "near " and one of them, black how it was provoked: "tap", "flex", "press", "warm",
    "cold", "probe"), or "exchange" (red and black are two like parts that changed places), or DRAWN (what a supply
    gives; red is plus of a part that feeds, "SUPPLY.plus", or the place that a bench supply of the set-up feeds). The
    instruments of SCOPED are read off a trace; look: how the oscilloscope is set, where it is not as usual. The
    instruments of KEPT are stored and shown, and not weighed. With no machine file red and black
    are places as the person says them: "R31 left leg".
    """

    instrument: str
    red: str
    black: str = GROUND
    setup: Setup = Setup()
    look: Look = Look()


@dataclass(frozen=True)
class Reading:
    """A question with its answer.

    answer: SI value (V or ohm; inf for over-limit), for "works" the fraction of healthy (float) or
    a word ("ok", "bad", one of the file's own words), for "swap" "same", "better" or "cured";
    for "provoke" what the fault does: COMES, GOES or SAME; for "exchange"
    "followed" (the part), "stayed" (with the place) or "gone".
    hookup: readings with one hook-up id were taken without moving the probes; showing: "yes",
    "no" or "can't tell"; sitting: counts up when something was disturbed or re-powered.
    about: the person said "about": the figure is good to a tenth, not to the meter's error.
    bound: "less than 3 V" is (-inf, 3.0), "between 2 and 3" (2.0, 3.0); answer is then the finite
    end or the middle. "share" answers with the fraction of what the place should carry, "beep"
    with "beeps" or "no beep", "look" with the words themselves.
    """

    question: Question
    answer: float | str
    hookup: str
    showing: str = "yes"
    sitting: int = 0
    about: bool = False
    bound: tuple[float, float] | None = None
    text: str = field(default="", compare=False)
    line: int = field(default=0, compare=False)
