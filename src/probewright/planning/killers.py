"""What may have killed a part and would kill the new one: how sure it is there too, and the reading that shows it.

How sure goes by the readings of the job, weighed on the dead part alone against the dead part and its killer together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from probewright.hypotheses import NOTHING_WRONG, Suspect
from probewright.hypotheses.priors import Standing
from probewright.hypotheses.suspects import pair
from probewright.inference.belief import Belief, refine, weigh
from probewright.machine.edits import AddPath, FreePin
from probewright.machine.model import GROUND
from probewright.planning.actions import capacitor_tests, unpowered
from probewright.planning.danger import off_limits
from probewright.planning.overload import Overload, Setting, items_of, with_setting
from probewright.planning.reach import is_closed
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Model, grown
from probewright.prediction.circuit_laws import Laws, draw_laws
from probewright.prediction.growing import go_together
from probewright.prediction.outcomes import show
from probewright.readings import Question, Reading, Setup
from probewright.readings.instruments import error, law
from probewright.readings.kit import Kit
from probewright.readings.setups import parts_called

KILLS = 0.4  # chosen, as in `hypotheses/data/same_cause.csv`: chance that a part dies that bears twice its rating
SHARP = 5.0  # chosen: standard deviations from what sound machines read, as for a verification
SHARPEST = 50.0  # chosen: beyond that sharper is no better
MOST = 12  # chosen: killers looked into, the likeliest before any reading


@dataclass(frozen=True)
class Check:
    """The reading that would show a killer, with the new part in and the power off, or with the old one out and the
    power on. low, high: of 19 sound machines in 20; killer: what it reads with the killer there."""

    ask: Question
    low: float
    high: float
    killer: float

    @property
    def live(self) -> bool:
        """The power is on for it."""
        return self.ask.setup.power == "on"


# How sure it is there -------------------------------------------------------------------------------


def chances(model: Model, readings: Sequence[Reading], dead: Suspect, overs: Sequence[Overload]) -> list[float | None]:
    """How sure each of these is there beside the dead part, after the readings; None for a setting, and for what cannot
    be thought of together with it."""
    pairs: dict[int, Suspect] = {}
    for n, over in enumerate(overs):
        cause = over.cause
        if isinstance(cause, Suspect) and len(dead.faults) == 1 and go_together(model.machine, dead, cause):
            pairs[n] = pair(dead, cause, Standing(_kills(over) / dead.prior, "it takes the part beyond its rating"))
    if not pairs:
        return [None] * len(overs)
    sound = model.suspects[model.index[NOTHING_WRONG]]
    laws = draw_laws(grown(model.only((sound, dead)), tuple(pairs.values())))
    belief = _weighed(laws, tuple(readings))
    chance = dict(zip((one.id for one in belief.suspects), belief.probability, strict=True))
    dead_too = max(1.0 - chance[NOTHING_WRONG], 1e-300)
    return [float(chance[pairs[n].id]) / dead_too if n in pairs else None for n in range(len(overs))]


def _weighed(laws: Laws, readings: tuple[Reading, ...]) -> Belief[Laws]:
    """Belief after the readings; where something is followed in time on the draws at hand, all of them followed."""
    if laws.model.in_time:
        cells = len(laws.model.cells)
        return weigh(laws.with_awake((laws.base.size // cells,) * cells), readings, wake=False)
    return refine(weigh(laws, readings)) if readings else weigh(laws, ())


def _kills(over: Overload) -> float:
    """Chance that what bears so much dies of it: none at its rating, rising to KILLS at twice that."""
    return KILLS * min(over.times - 1.0, 1.0)


def likeliest(overs: Sequence[Overload]) -> list[Overload]:
    """The faults by how usual they are and how far they go, then the settings, the furthest first."""
    faults = [one for one in overs if isinstance(one.cause, Suspect)]
    faults.sort(key=lambda one: -one.cause.prior * _kills(one))  # type: ignore[union-attr]
    rest = sorted((one for one in overs if isinstance(one.cause, Setting)), key=lambda one: -one.times)
    return [*faults[:MOST], *rest]


# What would show it ---------------------------------------------------------------------------------


def check(laws: Laws, over: Overload, part: str, done: Setup, kit: Kit) -> Check | None:
    """The reading that shows this cause best: with the power off where one is sharp, else live with the part out; None
    where no meter of this bench would tell.

    laws: of the healthy machine; done: what was repaired, the new part among it.
    """
    off = replace(done, power="off", stimulus="")
    out = replace(done, unplugged=tuple(sorted(parts_called(laws.model.machine, part))))
    for asks in (_with_power_off(laws.model, over, off), _with_part_out(laws.model, over, part, out)):
        free = (ask for ask in asks if kit.reads(ask.instrument) and not is_closed(laws.model.machine, ask))
        known = [one for ask in free if (one := _told(laws, over, ask))]
        sharp = [(min(_sharpness(one), SHARPEST), one) for one in known]
        best = max(sharp, key=lambda one: one[0], default=(0.0, None))
        if best[1] is not None and best[0] >= SHARP:
            return best[1]
    return None


def _with_power_off(model: Model, over: Overload, off: Setup) -> Iterator[Question]:
    """Tests at the parts that the cause lies in, and across what it joins or parts."""
    if isinstance(over.cause, Setting):
        return
    machine = model.machine
    items = set().union(*(items_of(machine, fault) for fault in over.cause.faults))
    cell = next(n for n, one in enumerate(model.cells) if model.suspects[one.suspect].id == over.cause.id)
    for _, made in model.edits(cell, np.zeros((len(model.latents.keys) + 1, 1))):
        for edit in made:
            if isinstance(edit, AddPath):
                yield Question("ohms", edit.a, edit.b, off)
            elif isinstance(edit, FreePin) and edit.part in machine.parts:
                yield Question("ohms", f"{edit.part}.{edit.pin}", machine.parts[edit.part].pins[edit.pin], off)
    for ask in (*unpowered(machine, off), *capacitor_tests(machine, off)):
        if ask.red.rpartition(".")[0] in items:
            yield ask


def _with_part_out(model: Model, over: Overload, part: str, out: Setup) -> Iterator[Question]:
    """Direct volts at the nets of the cause and of the part, at the stimulus that asks most."""
    machine = model.machine
    items = {over.cause.item} if isinstance(over.cause, Setting) else set().union(
        *(items_of(machine, fault) for fault in over.cause.faults))  # fmt: skip
    names = [name for item in (*sorted(items), part) for name in parts_called(machine, item)]
    nets = dict.fromkeys(net for name in names for net in machine.parts[name].pins.values())
    for net in nets:
        if net != GROUND and not net.startswith("nc:") and net not in off_limits(machine):
            yield Question("dc", net, setup=replace(out, stimulus=over.at))


def _told(laws: Laws, over: Overload, ask: Question) -> Check | None:
    """What it reads in sound machines and with the cause there, of several severities the one nearest to sound."""
    if not (laws.takes_time(ask) or show(laws.sound, ask).judged.any()):
        return None
    low, _, high = laws.healthy(ask)
    found = [value for value in _with_cause(laws.model, over, ask)]
    if not found:
        return None
    nearest = min(found, key=lambda value: max(low - value, value - high, 0.0))
    return Check(ask, low, high, nearest)


def _with_cause(model: Model, over: Overload, ask: Question) -> list[float]:
    """What it reads with the cause there, for each severity that was judged."""
    if isinstance(over.cause, Setting):
        bank, names = with_setting(model, over.cause)
        new = next(name for name, own in names.items() if own == over.at)
        ask = replace(ask, setup=replace(ask.setup, stimulus=new))
    else:
        cells = [n for n, one in enumerate(model.cells) if model.suspects[one.suspect].id == over.cause.id]
        spans = [Span(cell, n, n + 1) for n, cell in enumerate(cells) if not model.cells[cell].absent]
        bank = Bank(model, spans, np.zeros((len(model.latents.keys) + 1, len(spans))))
    shown = show(bank, ask)
    return [float(value) for value, judged in zip(shown.value, shown.judged, strict=True) if judged]


def _sharpness(one: Check) -> float:
    """Standard deviations of the instrument between what the killer reads and the nearest of sound machines."""
    top = law(one.ask.instrument).high
    killer, low, high = (min(max(value, -top), top) for value in (one.killer, one.low, one.high))
    apart = max(low - killer, killer - high, 0.0)
    off = error(one.ask, low if killer < low else high)
    sd = float(np.hypot(off.shared, off.own))
    return apart / sd if sd > 0.0 else 0.0


# Whether it was read --------------------------------------------------------------------------------


def read_already(one: Check, readings: Sequence[Reading]) -> Reading | None:
    """The last reading of this very place with this instrument and power, that says it is sound; None where there is
    none, or it says otherwise."""
    for reading in reversed(readings):
        ask = reading.question
        same = (ask.instrument, {ask.red, ask.black}) == (one.ask.instrument, {one.ask.red, one.ask.black})
        if (
            same
            and ask.setup.power == one.ask.setup.power
            and not ask.setup.sister
            and isinstance(reading.answer, float)
        ):
            sound = abs(_away(reading.answer, one.low, one.high)) < 0.5 * abs(_away(one.killer, one.low, one.high))
            return reading if sound else None
    return None


def _away(value: float, low: float, high: float) -> float:
    """How far outside a range, in the scale of ohms and volts that spans decades."""
    return float(max(low - value, value - high, 0.0))
