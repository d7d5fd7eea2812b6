"""The set-up as chips, each a whole set-up line: one tap says how the machine stands now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from probewright.machine import Machine
from probewright.readings import Setup, setups
from probewright.readings.boards import BOTTOM, OUT, OVER
from probewright.readings.changing import changed
from probewright.units import write_reading, write_value

POWER_FIRST = {
    "off": "Power off, plug out, and discharge what stores charge. Prove it with the meter.",
    "on": "Power on. Keep one hand away from it.",
}
POWER_OUT = "Power off, plug out of the wall."  # where the steps that follow say how it is emptied and proved
SUPPLY_OFF, SUPPLY_ON = "Bench supply off.", "Bench supply on again."  # round what is done to a board that it feeds
BOARD_LIES = {  # state, the line that ends it, and what a tap says
    BOTTOM: ("Solder side up", "component side up", "it lies component side up"),
    OVER: ("Turned over", "turned the board over", "it is turned over again"),
    OUT: ("Out", "board back in", "it is back in its place"),
}
WAYS = (
    ("lift", "Lift a leg"),
    ("unplug", "Unplug a part or board"),
    ("replaced", "Swap in a good part"),
    ("link", "Join two places"),
    ("meter left on", "Leave a meter on"),
    ("bench supply", "Feed from a bench supply"),
    ("no heatsink on", "Take a heatsink off"),
)  # fmt: skip


@dataclass(frozen=True)
class Chip:
    """One thing that can be otherwise. state: how it is; line: what a tap says; tap: that in words for
    who does not see the chip; live: power or a signal is there; changed: not as the machine was made."""

    label: str
    state: str
    line: str
    tap: str
    live: bool = False
    changed: bool = False


def line_of(setup: Setup) -> str:
    """The set-up as a line that is entered."""
    return f"set-up: {setups.write(setup)}"


def chips(setup: Setup, machine: Machine | None, told: bool = True, side: str = "") -> tuple[Chip, ...]:
    """Power and signals, then whatever is not as the machine was made; told: somebody has said how the power is, or
    read something; side: of the board, as it was last said to lie."""
    lies = [Chip("Board", *BOARD_LIES[side], changed=True)] if side in BOARD_LIES else []
    return (*_chips(setup, machine, told), *lies)


def _chips(now: Setup, machine: Machine | None, told: bool) -> Iterator[Chip]:
    on = now.power == "on"
    other = "off" if on and told else "on"
    otherwise = "Bench supply" if now.supplied else "Off"
    state = ("On" if on else otherwise) if told else "Not said"
    live = told and (on or bool(now.supplied))
    yield Chip("Power", state, line_of(replace(now, power=other)), f"turn it {other}", live=live)
    for name in dict.fromkeys([*(machine.stimuli if machine else ()), *filter(None, [now.stimulus])]):
        there = name == now.stimulus
        line = line_of(replace(now, stimulus="" if there else name))
        yield Chip(name, "On" if there else "Off", line, "take it away" if there else "put it on", changed=there)
    for leg in now.lifted:
        line = line_of(replace(now, lifted=_without(now.lifted, leg)))
        yield Chip(leg, "Lifted", line, "it is back in its hole", changed=True)
    for part in now.unplugged:
        line = line_of(replace(now, unplugged=_without(now.unplugged, part)))
        soldered = setups.is_soldered(part, machine)
        state, back = ("Taken out", "it is fitted again") if soldered else ("Unplugged", "it is plugged in again")
        yield Chip(part, state, line, back, changed=True)
    for part in dict.fromkeys(now.replaced):
        line = line_of(replace(now, replaced=_without(now.replaced, part)))
        yield Chip(part, "New", line, "the old one is back", changed=True)
    for one in dict.fromkeys(setups.joined(now.mended, machine)):
        (said,) = setups.mended_in_words([one])
        joints = setups.joints_of(one, machine)
        line = line_of(replace(now, mended=tuple(name for name in now.mended if name not in joints)))
        yield Chip(said, "Mended", line, "it is as before", changed=True)
    for pair in now.linked:
        line = line_of(replace(now, linked=tuple(one for one in now.linked if one != pair)))
        yield Chip(" to ".join(pair), "Joined", line, "the wire is gone", changed=True)

    for pair in now.metered:
        line = line_of(replace(now, metered=tuple(one for one in now.metered if one != pair)))
        yield Chip(" to ".join(pair), "Second meter", line, "the meter is gone", changed=True)
    for load in now.loaded:
        line = line_of(replace(now, loaded=tuple(one for one in now.loaded if one != load)))
        yield Chip(
            f"{load[0]} to {load[1]}", f"Load {write_reading(load[2], 'ohm')}", line, "the load is off", changed=True
        )
    for fed in now.supplied:
        line = line_of(replace(now, supplied=tuple(one for one in now.supplied if one != fed)))
        state = f"Bench supply {write_reading(fed[1], 'V')}"
        yield Chip(fed[0], state, line, "the supply is gone", live=True)

    for cooled in now.bare:
        rest = line_of(replace(now, bare=tuple(one for one in now.bare if one != cooled)))
        state = f"Clip-on {write_value(cooled[1], 'K/W')}" if cooled[1] else "Heatsink off"
        yield Chip(
            cooled[0], state, f"{rest}, heatsink of {cooled[0]} refitted", "its heatsink is on again", changed=True
        )


def _without(names: tuple[str, ...], gone: str) -> tuple[str, ...]:
    return tuple(name for name in names if name != gone)


def line_with(now: Setup, way: str, name: str) -> str:
    """The set-up line that adds this change; what is wrong with the name is said when the line is understood."""
    way = way if way in dict(WAYS) else WAYS[0][0]
    return f"{line_of(now)}, {way} {name}"


def wanted(now: Setup, asked: Setup) -> Setup:
    """How the machine must stand for a question: a signal that is there and not asked for may stay."""
    return replace(asked, stimulus=asked.stimulus or now.stimulus)


def steps(
    now: Setup, asked: Setup, machine: Machine | None, emptied: Sequence[str] = (), clip: str = "", turned: str = ""
) -> tuple[str, ...]:
    """What to do to get from one set-up to the other, in order; iron, plugs, clips and the board only with power off.

    emptied: how what stays charged is emptied once the power is off; clip: where the probes are clipped on, "" where
    they are held; turned: how the board is turned, "" where it stays as it lies.
    """
    there = wanted(now, asked)
    changes = [*(one.says for one in changed(now, there, machine)), *filter(None, [turned, clip])]
    by_hand = bool(now.supplied) and bool(changes)
    found = [SUPPLY_OFF] if by_hand else []
    if now.power == "on" and (changes or there.power == "off"):
        found.append(POWER_OUT if emptied else POWER_FIRST["off"])
    found += [*emptied, *changes]
    if by_hand and there.supplied:
        found.append(SUPPLY_ON)
    if there.power == "on" and (now.power == "off" or changes):
        found.append(POWER_FIRST["on"])
    if there.stimulus != now.stimulus:
        found.append(f"Signal: {setups.stimulus_in_words(there.stimulus, machine)}.")
    return tuple(found)
