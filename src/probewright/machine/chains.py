"""A chain of blocks typed in one line, turned into a machine file that can be deepened by hand.

    left, right: head > preamp (x11) > equaliser > 4u7 > volume > driver > phones
    volume > line amp > line out
    preamp, equaliser on 12V
    driver to ground: mute switch

What is not said is `?` in the file. How the lines are read: `chain_lines`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from probewright.machine.edits import SetFigure
from probewright.machine.model import GROUND, Machine, Part

PLAYING = "playing"  # name of the stimulus of every chain
SILENT, WEAK, LOUD = "5%", "60%", "170%"  # chosen: where owners begin to say silent, weak, too loud
MIXED_THROUGH = "10k"  # chosen: equal channels reach a shared block through so much each
HEARD = "1k..1M"  # chosen: whatever listens to a last block that is no loudspeaker, phones or display
SUPPLY = "series 0R5 limit 1A"  # chosen: a small supply that folds when its rail is shorted
UNKNOWN_RAIL, UNKNOWN_NEEDS = "5V..50V", "2V"  # chosen: rails of home and studio equipment
NEEDS_SHARE = 1.0 / 3.0  # chosen: a stage still works at half its supply and not at a quarter


@dataclass(frozen=True)
class Block:
    """One thing in the way: what it is called, where it takes its signal from, and its figures as typed.

    kind: "source", "block", "capacitor", "resistor", "lead" or "load"; value: of a part or a load;
    after: name of what drives it ("" for the source); shared: one for all channels; figures "?"
    when nobody knows.
    """

    name: str
    kind: str = "block"
    after: str = ""
    value: str = ""
    gain: str = "?"
    into: str = "?"
    out: str = "?"
    shared: bool = False


@dataclass(frozen=True)
class Supply:
    """A rail and the blocks on it. volts: as typed, "" when nobody knows; outside: can be exchanged as a whole."""

    name: str
    volts: str
    feeds: tuple[str, ...]
    outside: bool = False


@dataclass(frozen=True)
class Hanging:
    """Something from the output of a block to ground: the words of its part line without nets."""

    name: str
    after: str
    part: str


@dataclass(frozen=True)
class Chain:
    """A chain as understood. channels: mark -> label; ends: blocks the owner sees or hears."""

    name: str
    blocks: Mapping[str, Block]
    channels: Mapping[str, str] = field(default_factory=dict)
    supplies: tuple[Supply, ...] = ()
    hanging: tuple[Hanging, ...] = ()

    @property
    def ends(self) -> tuple[Block, ...]:
        """Blocks that drive nothing."""
        drivers = {block.after for block in self.blocks.values()}
        return tuple(block for block in self.blocks.values() if block.name not in drivers)

    def path_to(self, end: str) -> tuple[Block, ...]:
        """The blocks from the source to this one."""
        path = [self.blocks[end]]
        while path[0].after:
            path.insert(0, self.blocks[path[0].after])
        return tuple(path)


def chain_of(text: str, name: str = "chain") -> Chain:
    """The chain that typed lines describe. BadInput with every complaint, each with line, column and mend."""
    from probewright.machine.chain_lines import understand

    return understand(text, name)


def read_chain(text: str, name: str = "chain") -> str:
    """Typed lines as the text of a machine file; BadInput as `chain_of`."""
    return write_chain(chain_of(text, name))


# A chain in words ------------------------------------------------------------------------------


def say(chain: Chain) -> tuple[str, ...]:
    """What was understood, one line each, for the person to nod at."""
    lines = [" > ".join(map(_said, chain.path_to(end.name))) for end in chain.ends]
    if chain.channels:
        lines.append(f"equal channels: {', '.join(chain.channels.values())}")
        alike = [block.name for block in chain.blocks.values() if block.shared]
        lines += [f"shared by them: {', '.join(alike)}"] if alike else []
    lines += [f"{', '.join(one.feeds)} on {one.volts or 'a supply of unknown volts'}" for one in chain.supplies]
    lines += [f"from {one.after} to ground: {one.name}" for one in chain.hanging]
    return tuple(lines)


def _said(block: Block) -> str:
    figures = [
        *([f"x{block.gain}"] if block.gain != "?" and block.kind == "block" else []),
        *([f"in {block.into}"] if block.into != "?" and block.kind == "block" else []),
        *([f"out {block.out}"] if block.out != "?" else []),
        *([block.value] if block.value and block.kind != "lead" else []),
    ]
    return f"{spoken(block.name)} ({', '.join(figures)})" if figures else spoken(block.name)


# A chain as a machine file ---------------------------------------------------------------------


def write_chain(chain: Chain) -> str:
    """The machine file of a chain, in the form that `check --write` prints."""
    inside = [*_supply_lines(chain, outside=False), *_part_lines(chain, extra=False)]
    outside = [*_part_lines(chain, extra=True), *_supply_lines(chain, outside=True)]
    marks = ", ".join(f"{mark}: {label}" for mark, label in chain.channels.items())
    lines = [
        f"machine: {chain.name}",
        *([f"each: {{{marks}}}"] if len(chain.channels) > 1 else []),
        "parts:",
        "  PLAYED: source 0V 0%  signal > GND",
        *(f"  {line}" for line in inside),
        "extras:",
        *(f"  {line}" for line in outside),
        "known good: [PLAYED]",
        "stimuli:",
        f"  {PLAYING}: {{PLAYED: whatever it is playing}}",
        "works:",
        *(f"  {line}" for line in _works_lines(chain)),
    ]
    return "\n".join(lines) + "\n"


def net_after(chain: Chain, name: str) -> str:
    """The net that a block drives, with a * where there is one a channel."""
    return f"after-{name}{_star(chain, name)}"


def _star(chain: Chain, name: str) -> str:
    return "*" if len(chain.channels) > 1 and not chain.blocks[name].shared else ""


def _driven_from(chain: Chain, block: Block) -> str:
    """The net a block takes its signal from; a shared block behind equal channels has one of its own."""
    if not block.after:
        return "signal"
    return f"into-{block.name}" if _mixes(chain, block) else net_after(chain, block.after)


def _mixes(chain: Chain, block: Block) -> bool:
    return bool(block.after) and block.shared and bool(_star(chain, block.after))


def _part_lines(chain: Chain, extra: bool) -> Iterator[str]:
    for block in chain.blocks.values():
        if (block.kind in ("source", "load", "lead")) == extra:
            yield _part_line(chain, block)
        if extra and block in chain.ends and block.kind != "load":
            nets = f"in={net_after(chain, block.name)} out=nc"
            yield f"{_listener(chain, block)}: block gain 1 input {HEARD} output 1R  {nets}"
        if _mixes(chain, block) and not extra:
            nets = f"{net_after(chain, block.after)} > into-{block.name}"
            yield f"into-{block.name}*: resistor {MIXED_THROUGH}  {nets}"
    if not extra:
        for one in chain.hanging:
            yield f"{one.name}{_star(chain, one.after)}: {one.part}  {net_after(chain, one.after)} > GND"


def _part_line(chain: Chain, block: Block) -> str:
    """The part line of one block."""
    name, before, after = (
        f"{block.name}{_star(chain, block.name)}",
        _driven_from(chain, block),
        net_after(chain, block.name),
    )
    if block.kind == "load":  # a block, so that one gone dead is heard; what it gives goes to an ear
        return f"{name}: block gain 1 input {block.value} output 1R  in={before} out=nc"
    if block.kind in ("capacitor", "resistor", "lead"):
        return f"{name}: {block.kind}{' ' if block.value else ''}{block.value}  {before} > {after}"
    known = "gain 1 input 1M" if block.kind == "source" else f"gain {block.gain} input {block.into}"
    rail = next((one for one in chain.supplies if block.name in one.feeds), None)
    if rail is None:
        return f"{name}: block {known} output {block.out}  in={before} out={after}"
    nets = f"in={before} out={after} supply=rail-{rail.name}"
    return f"{name}: block {known} output {block.out} needs {_needs(rail)}  {nets}"


def _needs(rail: Supply) -> str:
    """Volts below which a stage on this rail dies."""
    if not rail.volts:
        return UNKNOWN_NEEDS
    return f"{abs(float(rail.volts.rstrip('V'))) * NEEDS_SHARE:.3g}V"


def _supply_lines(chain: Chain, outside: bool) -> Iterator[str]:
    for one in chain.supplies:
        if one.outside == outside:
            volts = f"{one.volts} 5%" if one.volts else UNKNOWN_RAIL
            yield f"supply-{one.name}: source {volts} {SUPPLY}  rail-{one.name} > GND"


def _works_lines(chain: Chain) -> Iterator[str]:
    """One function for each end, on every channel: what the owner sees or hears."""
    limits = f"below {WEAK} of healthy = weak; below {SILENT} of healthy = silent; above {LOUD} of healthy = too loud"
    for end in chain.ends:
        heard = f"{end.name}{_star(chain, end.name)}" if end.kind == "load" else _listener(chain, end)
        name = f'"{spoken(end.name)} *"' if "*" in heard else spoken(end.name)
        yield f"{name}: {heard}.out level at {PLAYING}; {limits}"


def _listener(chain: Chain, block: Block) -> str:
    """Whatever hears a last block that is no end by itself."""
    return f"listener-{block.name}{_star(chain, block.name)}"


def spoken(name: str) -> str:
    """A block's name as the person said it."""
    return name.replace("-", " ")


# What a machine is -----------------------------------------------------------------------------


def played_sources(machine: Machine) -> set[str]:
    """Sources that some stimulus lets play whatever they play."""
    return {
        edit.part
        for stimulus in machine.stimuli.values()
        if stimulus.playing
        for edit in stimulus.edits
        if isinstance(edit, SetFigure) and edit.figure == "signal"
    }


def is_chain(machine: Machine) -> bool:
    """A machine known as blocks: whatever it plays goes through them to what is heard."""
    return bool(played_sources(machine)) and any(part.kind == "block" for part in machine.parts.values())


def equal_places(machine: Machine, place: str) -> tuple[str, ...]:
    """The same place (net or part.pin) on the other channels, in channel order; empty for a shared place."""
    if place == GROUND:
        return ()
    part, _, pin = place.rpartition(".")
    if part in machine.parts:
        return tuple(f"{one.name}.{pin}" for one in _likes(machine, part))
    found: dict[str, None] = {}
    for name, own in machine.pins_on(place):
        for one in _likes(machine, name):
            if one.pins[own] != place:
                found[one.pins[own]] = None
    return tuple(found)


def _likes(machine: Machine, part: str) -> list[Part]:
    mine = machine.parts[part]
    if not mine.channel:
        return []
    return [
        one
        for one in machine.parts.values()
        if one.family == mine.family and one.section == mine.section and one.name != part
    ]
