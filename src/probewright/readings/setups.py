"""How the machine stands: set-ups typed, said and turned into edits."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace

from probewright.errors import BadInput, Complaint, NotAValue
from probewright.machine.edits import AddPath, Edit, FreePin, ReplacePart, SetFigure, Unplug
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, SINKS, Figure, Machine, Part
from probewright.machine.packages import CLIP, band
from probewright.machine.saying import nearest
from probewright.machine.stimuli import unplug
from probewright.readings import Setup
from probewright.readings.instruments import law
from probewright.units import read_value, write_reading, write_value

WIRE_OHMS = 0.05  # a short wire with two clips; common practice, no source
SUPPLY_OHMS = 0.05  # leads and output of a bench supply with its limit knob; common practice, no source
# chosen: what stands on a bench, and no more than a hand may touch: ES1 for direct volts, IEC 62368-1
MOST_VOLTS, MOST_AMPS = 60.0, 10.0
ON = ("on", "power on", "powered", "powered on")
FED = "own power off"  # of a machine that a bench supply feeds in its place: it is not discharged
OFF = ("off", "power off", "powered off", "unpowered", "off and discharged", "power off and discharged", FED)
SISTER = ("sister", "on sister", "on the sister", "on a sister", "on the sister machine")
HERTZ = r"\d+(?:[.,]\d+)?\s*[kK]?[hH][zZ]"  # a frequency as it is said
CONTACTS = "contacts of "  # before the name of a part whose contacts were cleaned
AS_TYPED = ("as typed", "no stimulus", "stimulus as typed")
COOLER = rf"(?:the\s+)?(?P<which>(?:all\s+)?heat ?sinks?|{'|'.join(one for one in SINKS if one != 'heatsink')})"
OF_WHAT = r"(?:the\s+)?(?:heat ?sinks?|sinks?|screens?|shields?)\s+(?:of|from|on)\s+(?P<what>.+?)"
WHOSE = r"(?P<whom>\S+?)(?:'s|’s)?\s+(?:heat ?sink|screen|shield)"
ALL = r"(?:the\s+)?(?P<all>(?:all\s+)?heat ?sinks?)"
AGAIN = r"(?:is\s+|are\s+)?(?:refitted|fitted|back|back on|on again)"  # "screen on" may be said of a display
REFITTED = rf"(?:{AGAIN}|(?:is\s+|are\s+)?on)"
LEAST_SINK, MOST_SINK = 0.1, 100.0  # K/W, chosen: what may be clipped to a part


@dataclass(frozen=True)
class Piece:
    """A piece of typed text that knows where it stands, so that a complaint can point at it."""

    text: str
    line: int = 1
    column: int = 1
    file: str = ""

    def cut(self, start: int, end: int | None = None) -> Piece:
        """The characters start..end without blanks around them."""
        raw = self.text[start:end]
        blanks = len(raw) - len(raw.lstrip())
        return Piece(raw.strip(), self.line, self.column + start + blanks, self.file)

    def split(self, mark: str) -> tuple[Piece, ...]:
        """The pieces between the matches of a regular expression, empty ones left out."""
        starts, ends = [0], []
        for found in re.finditer(mark, self.text):
            ends.append(found.start())
            starts.append(found.end())
        pieces = (self.cut(a, b) for a, b in zip(starts, [*ends, len(self.text)], strict=True))
        return tuple(piece for piece in pieces if piece.text)

    def wrong(self, text: str, mend: str) -> BadInput:
        """A complaint about this piece, ready to raise."""
        return BadInput(Complaint(self.file, self.line, self.column, text, mend))


# Names ---------------------------------------------------------------------------------------


def find(word: str, names: Iterable[str]) -> tuple[str, ...]:
    """Names equal to the word, or where none is, all that differ only in case."""
    known = tuple(dict.fromkeys(names))
    if word in known:
        return (word,)
    return tuple(name for name in known if name.casefold() == word.casefold())


def known(piece: Piece, names: Iterable[str], what: str) -> str:
    """The name meant. BadInput, with the nearest one, when unknown or told apart by case only."""
    names = tuple(names)
    found = find(piece.text, names)
    if len(found) == 1:
        return found[0]
    if found:
        raise piece.wrong(f"{piece.text!r} could be {' or '.join(found)}", "write it with its capitals")
    raise piece.wrong(f"{piece.text!r} is not one of the machine's {what}", nearest(piece.text, names))


def ground_word(text: str) -> bool:
    """Whether a person says ground."""
    return text.casefold() in ("gnd", "ground", "earth", "chassis")


def settled(place: str, machine: Machine) -> str:
    """The net or part.pin behind a named point."""
    while place in machine.points and machine.points[place].place != place:
        place = machine.points[place].place
    return place


def pin_of(part: Part, word: str) -> str | None:
    """The pin of that name, alias or spelling; None when the part has none such."""
    aliases = KINDS[part.kind].aliases
    found = find(word, (*part.pins, *aliases))
    if len(found) != 1:
        return None
    pin = found[0] if found[0] in part.pins else aliases[found[0]]
    return pin if pin in part.pins else None


def pins_in_words(part: Part) -> str:
    """Its pins as a mend: R1.1 or R1.2."""
    return " or ".join(f"{part.name}.{pin}" for pin in part.pins)


def pin_place(piece: Piece, machine: Machine) -> str | None:
    """The place meant by "R31.2", "Q7.base", "U2 pin 3" or "Q7 base"; None when it is no pin."""
    spoken = re.fullmatch(r"(\S+?)(?:\.|\s+pin\s+|\s+(?=[+-]*[A-Za-z][A-Za-z+-]*$))(\S+)", piece.text)
    if not spoken or len(find(spoken[1], machine.parts)) != 1:
        return None
    part = machine.parts[find(spoken[1], machine.parts)[0]]
    pin = pin_of(part, spoken[2])
    if pin is None and "." in piece.text:
        raise piece.wrong(f"{part.name} has no pin {spoken[2]!r}", f"write {pins_in_words(part)}")
    return pin and f"{part.name}.{pin}"


def place(piece: Piece, machine: Machine) -> str:
    """The net or part.pin meant by a net, a named point, a pin, or a word for ground.

    BadInput for an unknown name (with the nearest), and for a part without a pin.
    """
    plain = Piece(piece.text.strip("@"), piece.line, piece.column, piece.file)
    names = (*machine.points, *machine.nets)
    if plain.text in names:
        return settled(plain.text, machine)
    if ground_word(plain.text) and not find(plain.text, names):
        return GROUND
    if pin := pin_place(plain, machine):
        return pin
    if not find(plain.text, names) and (part := find(plain.text, machine.parts)):
        raise piece.wrong(f"{part[0]} is a part, not a place", f"write {pins_in_words(machine.parts[part[0]])}")
    pins = (f"{one.name}.{pin}" for one in machine.parts.values() for pin in one.pins)
    if "." in plain.text:
        names = (*names, *pins)
    return settled(known(plain, names, "places"), machine)


# Reading a set-up ----------------------------------------------------------------------------


@dataclass
class Draft:
    """A set-up while it is being read; with no machine file names are kept as said."""

    machine: Machine | None
    power: str = ""
    stimulus: str | None = None
    lifted: set[str] = field(default_factory=set)
    unplugged: set[str] = field(default_factory=set)
    linked: set[tuple[str, str]] = field(default_factory=set)
    replaced: list[str] = field(default_factory=list)
    mended: list[str] = field(default_factory=list)
    metered: set[tuple[str, str]] = field(default_factory=set)
    loaded: set[tuple[str, str, float]] = field(default_factory=set)
    supplied: dict[str, tuple[float, float]] = field(default_factory=dict)
    hertz: float = 0.0
    sister: bool = False
    bare: dict[str, float] = field(default_factory=dict)  # stays from line to line, until it is said to be on again

    @property
    def stimuli(self) -> tuple[str, ...]:
        """Names of the file's stimuli."""
        return tuple(self.machine.stimuli) if self.machine else ()

    def known(self, piece: Piece, names: Iterable[str], what: str) -> str:
        """The name meant; as said with no machine file."""
        return known(piece, names, what) if self.machine else piece.text

    def place(self, piece: Piece) -> str:
        """The place meant; as said with no machine file."""
        return place(piece, self.machine) if self.machine else piece.text

    def done(self) -> Setup:
        """The set-up read so far, whatever was not said as it is by default."""
        return Setup(
            power=self.power or "on",
            stimulus=self.stimulus or "",
            lifted=tuple(sorted(self.lifted)),
            unplugged=tuple(sorted(self.unplugged)),
            linked=tuple(sorted(self.linked)),
            replaced=tuple(sorted(self.replaced)),
            mended=tuple(sorted(self.mended)),
            metered=tuple(sorted(self.metered)),
            loaded=tuple(sorted(self.loaded)),
            supplied=tuple((place, *fed) for place, fed in sorted(self.supplied.items())),
            hertz=self.hertz,
            sister=self.sister,
            bare=tuple(sorted(self.bare.items())),
        )


def take_power(piece: Piece, draft: Draft, word: str) -> None:
    """Power on or off, said once."""
    if draft.power not in ("", word):
        raise piece.wrong("power is said to be both on and off", "keep one of them")
    draft.power = word


def take_stimulus(piece: Piece, draft: Draft) -> None:
    """The one stimulus of the set-up."""
    name = draft.known(piece, draft.stimuli, "stimuli")
    if draft.stimulus not in (None, name):
        raise piece.wrong(f"two stimuli: {draft.stimulus} and {name}", "keep one; the other is another set-up")
    draft.stimulus = name


def take_lift(piece: Piece, draft: Draft) -> None:
    """One leg out of its hole."""
    where = draft.place(piece)
    if draft.machine and where in draft.machine.nets:
        raise piece.wrong(f"{where} is a net, and only a leg can be lifted", lift_mend(where, draft.machine))
    draft.lifted.add(where)


def lift_mend(net: str, machine: Machine) -> str:
    """Which legs could be meant."""
    legs = [f"{part}.{pin}" for part, pin in machine.pins_on(net)]
    return f"write one of its legs: {', '.join(legs[:6])}"


def take_unplug(piece: Piece, draft: Draft) -> None:
    """One part taken out, or every part of an added board."""
    boards = {board.name: board.parts for board in draft.machine.added_boards} if draft.machine else {}
    parts = tuple(draft.machine.parts) if draft.machine else ()
    name = draft.known(piece, (*parts, *boards), "parts")
    draft.unplugged.update(boards[name] if name in boards and name not in parts else [name])


def take_replaced(piece: Piece, draft: Draft) -> None:
    """One part, or every unit of one case, exchanged for a known good one, "C5 twice" for another one after that."""
    machine = draft.machine
    piece, times = how_often(piece)
    names = () if machine is None else (*machine.parts, *(one.package for one in machine.parts.values() if one.package))
    name = draft.known(piece, names, "parts")
    called = [name] if machine is None else [*parts_called(machine, name)]
    draft.replaced.extend(one for one in called if one not in draft.replaced for _ in range(times))


def how_often(piece: Piece) -> tuple[Piece, int]:
    """What is meant by "C5", "C5 twice" or "C5 3 times", and how often."""
    told = re.fullmatch(r"(.+?)\s+(?:(twice)|(\d)\s+times)", piece.text, re.IGNORECASE)
    if told is None:
        return piece, 1
    return piece.cut(*told.span(1)), 2 if told[2] else max(int(told[3]), 1)


def take_mended(piece: Piece, draft: Draft) -> None:
    """One joint resoldered, or every joint of one part."""
    piece, times = how_often(piece)
    machine = draft.machine
    part = find(piece.text, machine.parts) if machine is not None else ()
    if machine is not None and part:
        joints = [f"{part[0]}.{pin}" for pin in machine.parts[part[0]].pins]
    else:
        joints = [draft.place(piece)]
    if machine is not None and joints[0] in machine.nets:
        raise piece.wrong(f"{joints[0]} is a net, and a joint is at a pin", lift_mend(joints[0], machine))
    draft.mended.extend(one for one in joints for _ in range(times))


def take_cleaned(piece: Piece, draft: Draft) -> None:
    """The contacts of one part cleaned."""
    piece, times = how_often(piece)
    name = draft.known(piece, draft.machine.parts if draft.machine else (), "parts")
    draft.mended.extend([f"{CONTACTS}{name}"] * times)


def take_cleared(piece: Piece, draft: Draft) -> None:
    """Two places that touched, set apart."""
    piece = replace(piece, text=re.sub(r"^(?:between|from)\s+", "", piece.text, flags=re.IGNORECASE))
    draft.mended.append("~".join(two_places(piece, draft, "bridge", "bridge A to B cleared")))


def take_freed(piece: Piece, draft: Draft) -> None:
    """One net freed of what hung on it."""
    where = draft.place(piece)
    if where == GROUND:
        raise piece.wrong("everything hangs on ground", "name the net that was freed")
    draft.mended.append("~".join(sorted((where, GROUND))))


def take_bare(piece: Piece, draft: Draft) -> None:
    """The heatsink of a part is off, or the screen or case that was it."""
    draft.bare.update({name: 0.0 for name in cooled_by(piece, draft)})


def take_covered(piece: Piece, draft: Draft) -> None:
    """It is on again, where it was or outside the case."""
    for name in cooled_by(piece, draft):
        draft.bare.pop(name, None)


def take_clip(piece: Piece, draft: Draft) -> None:
    """A sink clipped on in place of the part's own: "on U1", "15 K/W on U1"."""
    told = re.fullmatch(r"(?:(.+?)\s+)?on\s+(.+)", piece.text, re.IGNORECASE)
    if told is None:
        raise piece.wrong("a heatsink is clipped on a part", "write `clip-on heatsink on U1`")
    try:
        ohms = read_value(told[1], "K/W").si if told[1] else band(CLIP, "to air").usual
    except NotAValue as bad:
        raise piece.wrong(bad.text, bad.mend) from None
    if not LEAST_SINK <= ohms <= MOST_SINK:
        raise piece.wrong(f"no heatsink has {ohms:g} K/W", "write what it has, like `clip-on heatsink 20 K/W on U1`")
    draft.bare.update({name: ohms for name in cooled_by(piece.cut(*told.span(2)), draft)})


def cooled_by(piece: Piece, draft: Draft) -> tuple[str, ...]:
    """The part that is meant, or every part of the file that a screen, a case or all heatsinks cool; as said with no
    machine file.

    BadInput for a part that the machine does not have, and where nobody knows what is cooled.
    """
    machine, word = draft.machine, " ".join(piece.text.casefold().replace("heat sink", "heatsink").split())
    every = word.removeprefix("all ").removeprefix("the ").removesuffix("s")
    if every in SINKS:
        heat = machine.heat if machine is not None else {}
        found = tuple(part for part, one in heat.items() if one.sink == every or (every == "heatsink" and not one.sink))
        if not found and draft.bare:
            return tuple(draft.bare)
        if not found:
            raise piece.wrong(f"nobody knows what the {every} cools", "name the part: `heatsink of U1 off`")
        return found
    return (piece.text,) if machine is None else (known(piece, part_names(machine), "parts"),)


def part_names(machine: Machine) -> tuple[str, ...]:
    """Names of its parts, then of the cases that hold several."""
    cases = (one.package for one in machine.parts.values() if one.package)
    return tuple(dict.fromkeys((*machine.parts, *cases)))


def part_meant(said: str, machine: Machine) -> str:
    """The part or case of the file that is meant, whatever its capitals; "" for none, or not one alone."""
    found = find(said, part_names(machine))
    return found[0] if len(found) == 1 else ""


def whole(part: str, machine: Machine | None) -> str:
    """What comes out of the board with a part: the case, where it is a unit of one."""
    found = machine.parts.get(part) if machine is not None else None
    return (found.package or part) if found is not None else part


def parts_called(machine: Machine, name: str) -> tuple[str, ...]:
    """The part of that name, or every unit in the case of that name."""
    return (name,) if name in machine.parts else tuple(p.name for p in machine.parts.values() if p.package == name)


def take_link(piece: Piece, draft: Draft) -> None:
    """A wire between two places."""
    draft.linked.add(two_places(piece, draft, "link", "link A to B"))


def take_meter(piece: Piece, draft: Draft) -> None:
    """A second meter that stays on two places, or on one and ground."""
    whole = piece if re.search(r"\s(?:to|and)\s", piece.text) else replace(piece, text=f"{piece.text} to ground")
    draft.metered.add(two_places(whole, draft, "meter", "meter left on A to B"))


def take_load(piece: Piece, draft: Draft) -> None:
    """A resistor hung on any place, to ground or to another place: "1k on OUT", "1k from A to B"."""
    told = re.fullmatch(r"(\S+(?:\s*(?:ohms?|Ω|kΩ|MΩ))?)\s+(?:on|from|across)\s+(.+)", piece.text, re.IGNORECASE)
    if told is None:
        raise piece.wrong("a load has its ohms and a place", "write `load 1k on OUT` or `load 1k on A to B`")
    try:
        ohms = read_value(told[1], "ohm").si
    except NotAValue as bad:
        raise piece.wrong(bad.text, bad.mend) from None
    if ohms < WIRE_OHMS:
        raise piece.wrong("so little is a wire", "write `link A to B`")
    where = piece.cut(*told.span(2))
    whole = where if re.search(r"\s(?:to|and)\s", where.text) else replace(where, text=f"{where.text} to ground")
    draft.loaded.add((*two_places(whole, draft, "load", "load 1k on A to B"), ohms))


def two_places(piece: Piece, draft: Draft, what: str, example: str) -> tuple[str, str]:
    """The two places of "A to B", sorted. BadInput where there are not two different ones."""
    ends = piece.split(r"\s+(?:to|and)\s+")
    if len(ends) != 2:
        raise piece.wrong(f"a {what} has two ends", f"write `{example}`")
    a, b = sorted(draft.place(end) for end in ends)
    if a == b:
        raise piece.wrong(f"both ends of the {what} are {a}", "write two different places")
    return a, b


def take_supply(piece: Piece, draft: Draft) -> None:
    """A bench supply with its current limit, minus on ground: "5 V limit 0.5 A on V5"."""
    told = re.fullmatch(r"(.+?)\s+limit\s+(.+?)\s+on\s+(.+)", piece.text, re.IGNORECASE)
    if told is None:
        mend = "write `bench supply 5V limit 0.5A on V5`"
        raise piece.wrong("a bench supply has volts, a current limit and a place", mend)
    try:
        volts, amps = read_value(told[1], "V").si, read_value(told[2], "A").si
    except NotAValue as bad:
        raise piece.wrong(bad.text, bad.mend) from None
    where = draft.place(piece.cut(*told.span(3)))
    if where == GROUND or not 0.0 < amps <= MOST_AMPS or not 0.0 < abs(volts) <= MOST_VOLTS:
        mend = f"name a rail, up to {MOST_VOLTS:g} V and {MOST_AMPS:g} A"
        raise piece.wrong("no bench supply feeds that", mend)
    if draft.supplied.setdefault(where, (volts, amps)) != (volts, amps):
        raise piece.wrong(f"{where} is fed twice", "keep one of them")


# verb before or after its object; "A linked to B" is turned by its own pattern
def take_hertz(piece: Piece, draft: Draft) -> None:
    """The stimulus with another frequency than its own."""
    hertz = read_value(piece.text.replace(",", "."), "Hz").si
    if draft.hertz not in (0.0, hertz):
        raise piece.wrong("two frequencies", "keep one; the other is another set-up")
    draft.hertz = hertz


ACTS: tuple[tuple[str, Callable[[Piece, Draft], None]], ...] = (
    (rf"at\s+(?P<what>{HERTZ})", take_hertz),
    (r"(?:stimulus|at)\s+(?P<what>.+)", take_stimulus),
    (r"(?:lift|lifted)\s+(?P<what>.+)|(?P<whom>.+)\s+lifted", take_lift),
    (r"(?:unplug|unplugged|take out|taken out)\s+(?P<what>.+)|(?P<whom>.+)\s+(?:unplugged|taken out)", take_unplug),
    (r"(?:link|linked|wire from)\s+(?P<what>.+)", take_link),
    (r"(?:replace|replaced|new)\s+(?P<what>.+)|(?P<whom>.+)\s+replaced", take_replaced),
    (r"(?:resolder|resoldered)\s+(?P<what>.+)|(?P<whom>.+)\s+resoldered", take_mended),
    (r"(?:clean|cleaned)\s+(?P<what>.+)|(?P<whom>.+)\s+cleaned", take_cleaned),
    (r"(?:clear|cleared)\s+(?:the\s+)?bridge\s+(?P<what>.+)|bridge\s+(?P<whom>.+)\s+cleared", take_cleared),
    (r"(?:free|freed)\s+(?P<what>.+)|(?P<whom>.+)\s+freed", take_freed),
    (r"(?:second )?meter\s+(?:left\s+)?on\s+(?P<what>.+)", take_meter),
    (r"bench supply\s+(?P<what>.+)", take_supply),
    (rf"{COOLER}\s+off|{OF_WHAT}\s+off|{WHOSE}\s+off", take_bare),
    (rf"(?:without|no)\s+{OF_WHAT}", take_bare),
    (rf"{COOLER}\s+{AGAIN}|{ALL}\s+{REFITTED}|{OF_WHAT}\s+{REFITTED}|{WHOSE}\s+{REFITTED}", take_covered),
    (r"clip[- ]?on\s+(?:heat ?)?sink\s+(?P<what>.+)", take_clip),
    (r"(?:test |added |dummy )?load\s+(?P<what>.+)", take_load),
)


WHOLE = (
    take_link,
    take_cleared,
    take_hertz,
    take_stimulus,
    take_meter,
    take_supply,
    take_load,
)  # their objects are not lists


def act(piece: Piece, draft: Draft) -> bool:
    """Take "lift R31.2" and the like; False when it is none of these."""
    for pattern, take in ACTS:
        if found := re.fullmatch(pattern, piece.text, re.IGNORECASE):
            objects = piece.cut(*found.span(next(group for group, text in found.groupdict().items() if text)))
            for one in [objects] if take in WHOLE else objects.split(r"\s+and\s+"):
                take(one, draft)
            return True
    return False


def take(piece: Piece, draft: Draft) -> None:
    """Understand one piece between commas."""
    word = " ".join(piece.text.casefold().split())
    power = "on" if word in ON else "off" if word in OFF else ""
    if power == word and find(word, draft.stimuli):
        raise piece.wrong(f"{word!r} is power or the stimulus {word}", f"write `power {word}` or `stimulus {word}`")
    if power:
        take_power(piece, draft, power)
    elif word in AS_TYPED:
        draft.stimulus = draft.stimulus or ""
    elif word in SISTER:
        draft.sister = True
    elif find(piece.text, draft.stimuli) or not act(piece, draft):
        unknown_or_stimulus(piece, draft)


def unknown_or_stimulus(piece: Piece, draft: Draft) -> None:
    """A bare word can only be a stimulus."""
    if find(piece.text, draft.stimuli):
        return take_stimulus(piece, draft)
    words = (*draft.stimuli, "power on", "power off")
    also = "write `power on` or `power off`, a stimulus, `lift`, `unplug`, `link A to B` or `replaced`"
    raise piece.wrong(f"{piece.text!r} is not understood in a set-up", nearest(piece.text, words, also))


def understand(
    piece: Piece, machine: Machine | None, bare: tuple[tuple[str, float], ...] = ()
) -> tuple[Setup, tuple[Complaint, ...]]:
    """What could be understood of a set-up, and every complaint about the rest.

    bare: heatsinks that are off already: they stay off until the set-up says that they are on again, for a person who
    forgets to say it would cook the part.
    """
    draft = Draft(machine, bare=dict(bare))
    complaints: list[Complaint] = []
    for one in without_instructions(piece, machine).split(r"[,;]"):
        try:
            take(one, draft)
        except BadInput as problem:
            complaints.extend(problem.complaints)
    return draft.done(), tuple(complaints)


def without_instructions(piece: Piece, machine: Machine | None) -> Piece:
    """A set-up copied from its echo: "tone (turn ...)" is tone; columns kept."""
    text = piece.text
    for one in machine.stimuli.values() if machine else ():
        if one.do:
            text = text.replace(f"{one.name} ({one.do})", one.name + " " * (len(one.do) + 3))
    return Piece(text, piece.line, piece.column, piece.file)


def read_setup(text: str, machine: Machine | None) -> Setup:
    """The set-up said by "power on, tone, lift R31.2, unplug dimmer, link A to B, replaced lead".

    Pieces between commas, in any order; what is not said is as in the file, with power on.
    BadInput with every complaint, columns counted in the text.
    """
    setup, complaints = understand(Piece(text), machine)
    if complaints:
        raise BadInput(*complaints)
    return setup


# Saying a set-up -----------------------------------------------------------------------------


def write(setup: Setup) -> str:
    """The set-up as it is typed; read_setup gives the same one back."""
    return ", ".join(
        (
            f"power {setup.power}",
            *([f"stimulus {setup.stimulus}"] if setup.stimulus else []),
            *([f"at {write_value(setup.hertz, 'Hz')}"] if setup.hertz else []),
            *(f"lift {leg}" for leg in setup.lifted),
            *(f"unplug {part}" for part in setup.unplugged),
            *(f"link {a} to {b}" for a, b in setup.linked),
            *(f"replaced {part}" for part in each_once(setup.replaced)),
            *mended_in_words(setup.mended),
            *(f"meter left on {a} to {b}" for a, b in setup.metered),
            *(f"load {write_value(ohms, 'ohm')} on {a} to {b}" for a, b, ohms in setup.loaded),
            *(f"bench supply {write_value(v, 'V')} limit {write_value(a, 'A')} on {p}" for p, v, a in setup.supplied),
            *bare_in_words(setup.bare),
            *(["on the sister"] if setup.sister else []),
        )
    )


def bare_in_words(bare: Iterable[tuple[str, float]]) -> Iterator[str]:
    """Which heatsinks are off, as it is typed."""
    for part, ohms in bare:
        yield f"clip-on heatsink {write_value(ohms, 'K/W')} on {part}" if ohms else f"heatsink of {part} off"


def stimulus_in_words(name: str, machine: Machine | None) -> str:
    """The stimulus with its instruction: tone (turn the volume fully right)."""
    if machine is None:
        return f"stimulus {name}"
    do = machine.stimuli[name].do if name in machine.stimuli else ""
    spoken = f"stimulus {name}" if name.casefold() in (*ON, *OFF, *AS_TYPED) else name
    return f"{spoken} ({do})" if do else spoken


def is_soldered(name: str, machine: Machine | None) -> bool:
    """A part on the board that only an iron takes out, not a lead, a plug or a contact."""
    part = machine.parts.get(name) if machine else None
    return part is not None and part.role == "part" and part.kind not in ("contact", "jack")


def each_once(names: Iterable[str]) -> list[str]:
    """Each name once, with how often: "C5", "C5 twice", "C5 3 times"."""
    often = Counter(names)
    return [name + {1: "", 2: " twice"}.get(times, f" {times} times") for name, times in often.items()]


def mended_in_words(mended: Iterable[str], machine: Machine | None = None) -> list[str]:
    """What was repaired in place, as it is typed; with a machine every joint of a part in one: "resoldered U4"."""
    often = Counter(joined(mended, machine))
    told = zip(often, each_once(often.elements()), strict=True)
    return [_mended(name, said) for name, said in told for _ in range(often[name] if "~" in name else 1)]


def joints_of(name: str, machine: Machine | None) -> tuple[str, ...]:
    """Every joint of a part of the machine; whatever else was mended stands for itself."""
    part = machine.parts.get(name) if machine is not None else None
    return tuple(f"{name}.{pin}" for pin in part.pins) if part is not None else (name,)


def joined(mended: Iterable[str], machine: Machine | None) -> Iterator[str]:
    """What was mended, with the part in the place of its joints where each of them was, and as often."""
    every = tuple(mended)
    times = Counter(every)
    for one in every:
        part = one.rpartition(".")[0]
        joints = joints_of(part, machine)
        if one not in joints or len({times[joint] for joint in joints}) > 1:
            yield one
        elif one == joints[0]:
            yield part


def _mended(name: str, often: str) -> str:
    ends = name.split("~")
    if GROUND in ends and len(ends) == 2:
        return f"freed {next(end for end in ends if end != GROUND)}"
    if len(ends) == 2:
        return f"bridge {ends[0]} to {ends[1]} cleared"
    return f"cleaned {often.removeprefix(CONTACTS)}" if name.startswith(CONTACTS) else f"resoldered {often}"


def say(setup: Setup, machine: Machine | None) -> str:
    """The set-up in words for a person: power, stimulus with what to do, and every change."""
    return ", ".join(
        (
            "power on" if setup.power == "on" else FED if setup.supplied else "power off and discharged",
            *([stimulus_in_words(setup.stimulus, machine)] if setup.stimulus else []),
            *([f"at {write_reading(setup.hertz, 'Hz')}"] if setup.hertz else []),
            *(f"{leg} lifted" for leg in setup.lifted),
            *(f"{part} {'taken out' if is_soldered(part, machine) else 'unplugged'}" for part in setup.unplugged),
            *(f"wire from {a} to {b}" for a, b in setup.linked),
            *(f"{part} replaced" for part in each_once(setup.replaced)),
            *mended_in_words(setup.mended, machine),
            *(f"meter left on {a} to {b}" for a, b in setup.metered),
            *(f"load {write_value(ohms, 'ohm')} on {a} to {b}" for a, b, ohms in setup.loaded),
            *(
                f"bench supply {write_reading(v, 'V')} limit {write_reading(a, 'A')} on {p}"
                for p, v, a in setup.supplied
            ),
            *bare_in_words(setup.bare),
            *(["on the sister"] if setup.sister else []),
        )
    )


# Set-ups as edits ----------------------------------------------------------------------------


def power_off(machine: Machine) -> Iterator[Edit]:
    """What is left of each source when the power is off and the machine discharged."""
    for part in machine.parts.values():
        feeds = KINDS[part.kind].feeds
        if part.off == "unplugged" or (feeds and part.off not in ("stays", "resistance")):
            yield Unplug(part.name)
        if not feeds or part.off not in ("stays", "resistance"):
            continue
        yield from (SetFigure(part.name, figure, 0.0) for figure in ("volts", "signal") if figure in part.figures)
        if part.off == "resistance":
            yield SetFigure(part.name, "series", part.figures["off"].nominal)


def absent(machine: Machine) -> tuple[str, ...]:
    """Parts of added boards that this machine does not have."""
    return tuple(part for board in machine.added_boards if board.fitted == "no" for part in board.parts)


def edits(setup: Setup, machine: Machine) -> tuple[Edit, ...]:
    """The set-up as edits, in the order to apply: stimulus, power, lifts, unplugged, links, repairs.

    The stimulus comes before power off, which silences what it put on.
    """
    stimulus = machine.stimuli[setup.stimulus].edits if setup.stimulus else ()
    off = tuple(power_off(machine)) if setup.power == "off" else ()
    legs = (leg.rpartition(".") for leg in setup.lifted)
    out = (edit for part in (*setup.unplugged, *absent(machine)) for edit in unplug(machine.parts[part]))
    return (
        *stimulus,
        *off,
        *(FreePin(part, pin, float("inf")) for part, _, pin in legs),
        *(edit for edit in out if edit not in off),
        *(AddPath(a, b, WIRE_OHMS) for a, b in setup.linked),
        *(ReplacePart(part) for part in setup.replaced),
        *(AddPath(a, b, law("dc").input_ohms) for a, b in setup.metered),
        *(AddPath(a, b, ohms) for a, b, ohms in setup.loaded),
    )


def with_supplies(setup: Setup, machine: Machine) -> Machine:
    """The machine with a source for each place that the set-up feeds from a bench supply, minus on ground."""
    if not setup.supplied:
        return machine
    kind = KINDS["source"]
    parts = dict(machine.parts)
    for number, (place, volts, amps) in enumerate(setup.supplied, 1):
        told = {"volts": Figure(volts, "V"), "limit": Figure(amps, "A"), "series": Figure(SUPPLY_OHMS, "ohm")}
        rest = {one.name: one.default for one in kind.parameters if isinstance(one.default, Figure)}
        parts[f"bench supply {number}"] = Part(
            f"bench supply {number}", "source", {"plus": machine.net_of(place), "minus": GROUND}, {**rest, **told},
            known_good=True,
        )  # fmt: skip
    return replace(machine, parts=parts)
