"""What is seen when the power comes on: amps that a supply gives, whether it trips, a lamp in series, first power; and
that nothing was found where it was looked for what tripped it."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from probewright.machine.following import brought_by
from probewright.machine.model import GROUND, Machine
from probewright.readings import DRAWN, Question, Reading, Setup
from probewright.readings.context import Context
from probewright.readings.doubts import Unsure
from probewright.readings.setups import find
from probewright.units import read_value

FIRST_POWER, SERIES_LAMP = "first power", "series lamp"  # what a look is at
DONE, BRIGHT, DIM, TRIPS = "done", "stays bright", "goes dim", "trips"
# what is seen of a part that is going: the power must be off before anything else; common practice, no source
BURNING = (
    "smoke", "smokes", "smoking", "smell of burning", "smells of burning", "burning smell", "sparks", "sparking",
    "arcing", "steaming", "sizzles", "sizzling", "on fire", "flames",
)  # fmt: skip
ANY_BURNING = "|".join(sorted(map(re.escape, BURNING), key=len, reverse=True))
INSIDE, NOTHING = "inside", "nothing found"
NOTHING_FOUND = "nothing found with the power off"
AT_LIMIT = 0.9  # chosen: from this share of its limit on a supply says that it limits, or trips
LEAST_VOLTS, LEAST_AMPS = 1.0, 0.1  # chosen: what gives less, or less than this into a short, is a signal and no supply
AMPS = r"(?P<about>about |~)?(?P<amps>(?:\d+(?:[.,]\d+)?|[.,]\d+)\s?[mµu]?A|\d+A\d+)"
SAYS = r"\s*(?:[:=]|is|of|gives|draws|shows|reads|at)?\s*"
OF = r"(?:\s+(?:of|from|on)\s+(?:the\s+)?(?P<name>\S+))?"
WHICH = r"(?:(?:supply|idle|standby|quiescent|input|total|bench supply|psu)\s+)"
CURRENT = re.compile(rf"(?:{WHICH}+current{OF}|current of\s+(?P<of>\S+)){SAYS}{AMPS}", re.IGNORECASE)
BARE = re.compile(rf"{WHICH}+current{OF}{SAYS}(?P<figure>\d+(?:[.,]\d+)?)", re.IGNORECASE)
SUPPLY = re.compile(rf"(?:the\s+)?(?:bench\s+(?:supply|psu)|supply|psu){OF}{SAYS}{AMPS}", re.IGNORECASE)
GIVES = re.compile(rf"(?P<name>\S+)\s+(?:gives|draws|current(?:\s+is)?:?)\s+{AMPS}", re.IGNORECASE)
LIMITS = re.compile(
    r"(?:(?:the\s+)?(?:bench\s+)?(?:supply|psu|it|limit)\s+)?"
    r"(?:trips|tripped|limits|(?:is\s+)?(?:in|at)\s+(?:its\s+)?(?:current\s+)?limit)",
    re.IGNORECASE,
)
FLARES = (
    r"(?:(?:flares|flashes|lights)(?:\s+up)?(?:\s*,|\s+and|\s+then|\s+briefly)+\s+)"  # what a sound supply does first
)
LAMP = re.compile(
    rf"(?:the\s+)?(?P<series>series\s+)?(?:lamp|bulb):?\s+(?:(?:is|was|glows|shines|burns)\s+)?{FLARES}?(?P<how>.+)",
    re.IGNORECASE,
)
STEADY = ("bright", "fully bright", "stays bright", "remains bright", "keeps bright", "full on")
FADES = ("dim", "dims", "goes dim", "goes out", "goes dark", "dark", "dims down", "flashes once")
WITHOUT = r"\s*,?\s+(?:with\s+(?:the\s+)?)?"
# common practice, no source: how it is said that smell, eyes and fingers found nothing
NIL = (
    r"(?:(?:found\s+)?nothing(?:\s+(?:found|seen|hot|warm|burn(?:t|ed)|charred|wrong|shorted|to (?:see|smell)))?|"
    r"no\s+(?:smells?|smoke|heat|burns?|burn marks?|shorts?|hot (?:spots?|parts?)|rail near (?:0|zero) ohms?))"
)
SOUGHT = re.compile(
    rf"(?:{INSIDE}\s*:\s*|(?:looked|searched|smelt|felt)(?:\s+(?:inside|everywhere|all over|around))?"
    rf"(?:{WITHOUT}(?P<before>power off))?\s*[,:]?\s+(?:and\s+)?(?=found|no)|(?=found\s|nothing\s|no\s))"
    rf"{NIL}(?:\s*(?:,|\band\b|\bor\b)\s*{NIL})*(?:{WITHOUT}(?P<off>power off))?",
    re.IGNORECASE,
)
SMOKES = re.compile(
    r"(?:(?:it|it's|something|something's|the board|(?:i\s+)?(?:see|saw|smell)|there (?:is|was)|there's)\s+)?"
    r"(?:is\s+|a\s+)?"
    rf"(?P<how>{ANY_BURNING})(?:\s+(?:from\s+)?(?:inside|somewhere)|\s+and\s+(?:{ANY_BURNING}))?",
    re.IGNORECASE,
)
SMELT = re.compile(r"^(?:i|we)\s+(?:can\s+)?smell\s+(?:something\s+)?burning$", re.IGNORECASE)
OVER = re.compile(r"first\s+power\s*(?::|is|was)?\s*(?:done|over|ok|fine|went well)", re.IGNORECASE)


def is_burning(answer: object) -> bool:
    """Whether what was seen or smelt is of a part that is going: "smokes", "hot smoking"."""
    return isinstance(answer, str) and re.search(rf"\b(?:{ANY_BURNING})\b", answer.casefold()) is not None


def is_at_limit(reading: Reading) -> bool:
    """Whether a bench supply gave all that its limit lets through, or tripped."""
    return reading.question.instrument == DRAWN and reading.bound is not None and math.isinf(reading.bound[1])


def to_power(text: str, context: Context) -> Reading | None:
    """ "supply current 0.21 A", "trips", "lamp stays bright", "it smokes", "first power done", "nothing found with the
    power off" as a reading; None for any other line.

    Unsure where it could be any of several supplies, or looked for with the power on.
    """
    line = SMELT.sub("smell of burning", " ".join(text.strip(" .!").split()))
    if OVER.fullmatch(line):
        return _look(FIRST_POWER, DONE, context)
    if smokes := SMOKES.fullmatch(line):
        return _look(INSIDE, smokes["how"].casefold(), context)
    if sought := SOUGHT.fullmatch(line):
        return _nothing(line, bool(sought["before"] or sought["off"]), context)
    if lamp := _lamp(line, context):
        return lamp
    if bare := BARE.fullmatch(line):
        figure = bare["figure"]
        raise Unsure("unit", f"a current of {figure}: amps or thousandths?", f"write {figure} A or {figure} mA", 0)
    if context.machine is None:  # amps somewhere: kept as they are said
        return None
    if LIMITS.fullmatch(line):
        return _tripped(context)
    found = next((found for form in (CURRENT, SUPPLY, GIVES) if (found := form.fullmatch(line))), None)
    return _amps(found, context.machine, context) if found else None


def _look(at: str, answer: str, context: Context) -> Reading:
    return Reading(Question("look", at, setup=context.bench.setup), answer, "")


def _nothing(line: str, off: bool, context: Context) -> Reading | None:
    """Nothing was found inside; None where it answers a card. off: the line says itself that nothing feeds it."""
    if context.asked is not None and not off and not line.casefold().startswith(INSIDE):
        return None  # an answer to the card, which asks for something else
    setup = context.bench.setup
    if off:
        setup = replace(setup, power="off", stimulus="", hertz=0.0, supplied=())
    if setup.power == "on" or setup.supplied:
        asks = "was the power off?" if setup.power == "on" else "was the bench supply off, too?"
        raise Unsure("unclear", asks, f"write `{NOTHING_FOUND}`, or `set-up: power off` first")
    return Reading(Question("look", INSIDE, setup=setup), NOTHING, "")


def _lamp(line: str, context: Context) -> Reading | None:
    """The lamp that lies in series with the mains; one of the machine's own only where it is called so."""
    found = LAMP.fullmatch(line)
    how = " ".join(found["how"].casefold().split()) if found else ""
    if found is None or not (found["series"] or (how in (*STEADY, *FADES) and not _has_lamps(context))):
        return None
    if how not in (*STEADY, *FADES):
        mend = "write `series lamp stays bright` or `series lamp goes dim`"
        raise Unsure("unclear", "does the lamp in series stay bright, or go dim?", mend, found.start("how"))
    return _look(SERIES_LAMP, BRIGHT if how in STEADY else DIM, context)


def unweighed(reading: Reading, context: Context) -> str:
    """That a lamp in series weighs nothing, and what to type in its place; "" for any other reading.

    How bright it shines is no figure: it goes by the watts of the lamp, by a filament of many times fewer ohms when
    cold, and by the eye. While it glows the machine gets less than its mains, so that a rail reads low.
    """
    if reading.question.instrument != "look" or reading.question.red != SERIES_LAMP:
        return ""
    first = "" if context.machine else "once a machine file is tied, "
    if reading.answer == BRIGHT:
        return f"kept and not weighed; {first}ohms from each rail to ground weigh, with the power off"
    amps = f"the amps drawn weigh, like `{name} gives 0.21 A`, and " if (name := _weighs(context)) else ""
    return f"kept and not weighed; {first}{amps}the volts of a rail weigh, with the lamp out of the lead again"


def _weighs(context: Context) -> str:
    """The first supply whose amps weigh, one of direct volts; "" for none."""
    machine = context.machine
    if machine is None:
        return ""
    names = (_names(ask)[1] for ask in supplies(machine, context.bench.setup))
    return next((name for name in names if name not in machine.parts or not machine.parts[name].plays), "")


def _has_lamps(context: Context) -> bool:
    """The machine may have lamps of its own, or nobody knows."""
    machine = context.machine
    if machine is None:
        return True
    own = [*context.functions, *machine.parts, *(one.name for one in machine.works)]
    own += [part.kind for part in machine.parts.values()]
    return any("lamp" in one.casefold() or "bulb" in one.casefold() for one in own)


def _amps(found: re.Match[str], machine: Machine, context: Context) -> Reading | None:
    """The amps of the one supply there is, or of the one that was named."""
    amps, about = read_value(found["amps"].replace(",", "."), "A").si, bool(found["about"])
    asks = supplies(machine, context.bench.setup)
    said = found["name"] or found.groupdict().get("of")
    asks = [ask for ask in asks if not said or find(said, (*_names(ask), machine.net_of(ask.red)))]
    if said and not asks:
        return None
    return Reading(_only(asks, found.start("amps")), amps, "", about=about)


def _names(ask: Question) -> tuple[str, ...]:
    return (ask.red, ask.red.removesuffix(".plus"))


def _tripped(context: Context) -> Reading:
    """At least what the bench supply was set to."""
    setup = context.bench.setup
    if len(setup.supplied) != 1:
        return _look("supply", TRIPS, context)
    place, _, limit = setup.supplied[0]
    least = float(f"{AT_LIMIT * limit:.4g}")
    return Reading(Question(DRAWN, place, setup=setup), least, "", bound=(least, float("inf")))


def supplies(machine: Machine, setup: Setup) -> list[Question]:
    """The questions what each supply gives that feeds the machine in this set-up."""
    if setup.supplied:
        return [Question(DRAWN, place, setup=setup) for place, _, _ in setup.supplied]
    if setup.power == "off":
        return []
    feeding = [part for part in machine.parts.values() if is_supply(machine, part.name)]
    return [Question(DRAWN, f"{part.name}.plus", _return(machine, part.name), setup) for part in feeding]


def is_supply(machine: Machine, name: str) -> bool:
    """A part that feeds the machine, and is not only where a signal comes in."""
    part = machine.parts[name]
    volts = brought_by(part)
    return volts >= LEAST_VOLTS and volts / part.figures["series"].nominal >= LEAST_AMPS


def _return(machine: Machine, name: str) -> str:
    """Where its minus goes, as a place."""
    return GROUND if machine.parts[name].pins["minus"] == GROUND else f"{name}.minus"


def _only(asks: list[Question], column: int) -> Question:
    if not asks:
        raise Unsure("place", "nothing feeds this machine now", "write `set-up: power on` first", column)
    if len(asks) > 1:
        names = ", ".join(_names(ask)[1] for ask in asks)
        raise Unsure("place", f"which supply: {names}?", f"write `{_names(asks[0])[1]} gives 0.21 A`", column)
    return asks[0]
