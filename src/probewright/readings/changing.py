"""From one set-up to another by hand: iron, plugs, wires and clips, in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from probewright.machine import Machine
from probewright.readings import Setup, setups
from probewright.units import write_reading


@dataclass(frozen=True)
class Change:
    """One thing that is done by hand with the power off; back: it is put back as it was before."""

    says: str
    back: bool


def changed(now: Setup, there: Setup, machine: Machine | None) -> Iterator[Change]:
    """What is done to get from one set-up to the other, in order; power, stimulus and heatsinks are not among it."""
    had_out, has_out = _by_iron(now, machine), _by_iron(there, machine)
    for had, has, into, back in (
        (now.lifted, there.lifted, "Lift {}.", "Solder {} back in."),
        (had_out[0], has_out[0], "Take out {}.", "Fit {} again."),
        (had_out[1], has_out[1], "Unplug {}.", "Plug {} in again."),
        (now.replaced, there.replaced, "Swap in a good {}.", "Put back the old {}."),
        (_mended(now, machine), _mended(there, machine), "Mend: {}.", "Undo: {}."),
        (_pairs(now.linked), _pairs(there.linked), "Join {}.", "Take away the wire from {}."),
        (_pairs(now.metered), _pairs(there.metered), "Leave a meter on {}.", "Take away the meter from {}."),
        (_loads(now), _loads(there), "Hang on {}.", "Take off {}."),
        (_fed(now), _fed(there), "Bench supply: {}.", "Take away the bench supply of {}."),
    ):
        yield from (Change(into.format(one), False) for one in has if one not in had)
        yield from (Change(back.format(one), True) for one in had if one not in has)


def _by_iron(setup: Setup, machine: Machine | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is out: parts that were desoldered, and what was unplugged."""
    out = tuple(part for part in setup.unplugged if setups.is_soldered(part, machine))
    return out, tuple(part for part in setup.unplugged if part not in out)


def _mended(setup: Setup, machine: Machine | None) -> tuple[str, ...]:
    return tuple(setups.mended_in_words(setup.mended, machine))


def _loads(setup: Setup) -> tuple[str, ...]:
    return tuple(f"{write_reading(ohms, 'ohm')} from {a} to {b}" for a, b, ohms in setup.loaded)


def _fed(setup: Setup) -> tuple[str, ...]:
    return tuple(f"{write_reading(v, 'V')} limit {write_reading(a, 'A')} on {place}" for place, v, a in setup.supplied)


def _pairs(pairs: tuple[tuple[str, str], ...]) -> tuple[str, ...]:
    return tuple(" to ".join(pair) for pair in pairs)
