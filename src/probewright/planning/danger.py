"""Places that can hurt: the highest voltage any plausible suspect puts there, and what that asks of hand and meter."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from probewright.hypotheses.provoking import AROUND
from probewright.inference.belief import Belief
from probewright.machine.edits import SetFigure
from probewright.machine.following import brought_by
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Part
from probewright.machine.waves import Sine
from probewright.prediction.bank import Bank
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.outcomes import bare_volts
from probewright.readings import PROVOKE, SCOPED, Question, Setup, is_live
from probewright.readings.instruments import law
from probewright.readings.setups import with_supplies

# IEC 62368-1 (Ed. 3, 5.2.2.2, table 4): up to 60 V d.c. and 30 V rms (42.4 V peak, to 1 kHz) a source is of class ES1,
# up to 120 V and 50 V of ES2, above that of ES3. Of both together: the shares of the two limits add up to one.
TOUCH_DC, TOUCH_RMS = 60.0, 30.0
ES2_DC, ES2_RMS = 120.0, 50.0
RATINGS = (150, 300, 600, 1000)  # V to earth that meters and leads are rated for, IEC 61010-2-030:2010
MAINS_RMS = 90.0  # V, chosen: below any mains, above what a transformer inside a machine usually leaves
MAINS_HERTZ = (50.0, 60.0)  # of public supplies
AMPLE = 1.3  # chosen: how far above its figure a source may stand
PLAUSIBLE = 1e-6  # chosen: a suspect less probable than this does not count
VOLTS = ("dc", "pp", "rms", "share", *SCOPED)  # instruments that are put to a place with power on
TRAINED = "Mains and tube voltages are for people trained and allowed to work on them where you are."
UNDER_THE_HAND = (PROVOKE, "swap")  # a hand comes near all of the part
LIMITED = 8.0  # A; a limited power source gives no more (IEC 62368-1, annex Q, from memory)
CONDUCTORS = ("fuse", "contact", "switch", "lead")  # a few hundredths of an ohm each
STIFF = 100.0  # A; chosen: of a source whose limit nobody typed, as a battery or a supply that welds
HARMFUL = 1.0  # share of the ES1 limits from which on a caution is shown


@dataclass(frozen=True)
class Caution:
    """Why a place needs care: volts, whether they alternate, and the class that IEC 62368-1 has for them (2 or 3);
    mains: the machine has mains inside."""

    place: str
    volts: float
    alternating: bool
    level: int = 2
    mains: bool = False

    @property
    def _figure(self) -> str:
        return f"{self.volts:.0f} V {'AC' if self.alternating else 'DC'}"

    def by_hand(self) -> str:
        """The same for what is exchanged, with the power off."""
        kills = ", which can kill" if self.level > 2 else ""
        return (
            f"{'Warning' if kills else 'Caution'}: with power on up to {self._figure} at {self.place}{kills}. Before a"
            " hand comes near its plug or leads: power off, plug pulled, what stays charged emptied, no volts proved"
            f" with a meter. {TRAINED}"
        )

    def __str__(self) -> str:
        said = [f"Caution: up to {self._figure} at {self.place}."]
        if self.level > 2:
            said = [
                f"Warning: up to {self._figure} at {self.place}, which can kill.",
                "First what can be read with power off.",
            ]
        said.append(f"One hand, clips fitted with power off. {rated(self.volts, self.mains)}")
        if self.mains:
            said.append(
                "Feed the machine from an isolating transformer, never the oscilloscope; an earth-fault trip does not"
                " see a shock behind one."
            )
        said.append(TRAINED)
        return " ".join(said)


def rated(volts: float, mains: bool) -> str:
    """What meter, leads and tips must be rated for; hand-held on mains CAT III (IEC 61010-2-033)."""
    enough = next((one for one in RATINGS if one >= volts), None)
    if enough is None:
        return (
            f"No ordinary meter or lead is rated for it (at most {RATINGS[-1]} V): a high-voltage probe, or not at all."
        )
    return f"Meter, leads and tips rated {'CAT III ' if mains else 'for '}{enough} V or more, the weakest counts."


def caution(belief: Belief[Laws], ask: Question, among: Sequence[Bank] | None = None) -> Caution | None:
    """The caution that a reading carries, node to node and each node to ground; None when harmless.

    The highest value any plausible draw gives counts, before a meter loads it, solved or not: an
    unsolved one is taken as it stands, but for what no supply of the machine could give. among: banks of draws,
    all those of the laws when not given.
    """
    if among is None:  # what was drawn afresh is dear to follow in time, and no wilder than the draws it came from
        among = (belief.laws.base,) if belief.laws.takes_time(ask) else every_bank(belief)
    if ask.instrument in UNDER_THE_HAND:
        return _under_the_hand(belief, ask, among)
    machine = belief.laws.model.machine
    if ask.instrument not in VOLTS or not is_live(ask.setup) or is_low(machine, ask.setup):
        return None
    plays = _is_playing(belief, ask)  # nobody knows how loud, and a chain's signals are no higher than its rails
    cells, worst, share = plausible(belief), None, HARMFUL
    for red, black in {(ask.red, ask.black), (ask.red, GROUND), (ask.black, GROUND)}:
        if red == black:
            continue
        dc = highest(among, Question("dc", red, black, ask.setup), cells)
        rms = np.zeros_like(dc) if plays else highest(among, Question("rms", red, black, ask.setup), cells)
        hurts = dc / TOUCH_DC + rms / TOUCH_RMS
        n = int(np.argmax(hurts)) if hurts.size else 0
        if hurts.size and hurts[n] > share:
            alternating = rms[n] / TOUCH_RMS > dc[n] / TOUCH_DC
            level = 3 if np.any(dc / ES2_DC + rms / ES2_RMS > 1.0) else 2
            volts = float(rms[n] if alternating else dc[n])
            worst, share = Caution(red, volts, bool(alternating), level, bool(mains_of(machine))), float(hurts[n])
    return worst


def every_bank(belief: Belief[Laws]) -> tuple[Bank, ...]:
    """All draws of these laws, those too that few stand for."""
    laws = belief.laws
    return laws.banks if laws.few is None else (laws.base, *laws.banks)


def plausible(belief: Belief[Laws]) -> np.ndarray:
    """(cell,) bool: cells of suspects that count here; in a rough answer all that counted before any reading, for few
    draws lose suspects that the refined answer finds again."""
    counts = belief.probability > PLAUSIBLE
    if belief.rough or not belief.readings:
        counts |= np.array([s.prior for s in belief.suspects]) > PLAUSIBLE
    return counts[belief.laws.model.suspect_of]


def is_low(machine: Machine, setup: Setup) -> bool:
    """No place of this machine can hurt, whatever is broken in it, so nothing need be solved to know it.

    Where all but its sources gives no more volts than it gets, no two nodes are further apart than all sources and
    signals together (the no-gain property: Willson, IEEE Trans. CAS-22, 1975). With charged capacitors they may
    be twice that apart for an instant; an alternating voltage between such ends has no more than half of it rms.
    """
    fed = with_supplies(setup, machine).parts.values()
    if not all(KINDS[part.kind].tame or KINDS[part.kind].feeds for part in fed if part.kind in KINDS):
        return False
    stimulus = machine.stimuli.get(setup.stimulus)
    edits = stimulus.edits if stimulus is not None else ()
    put_on = [one for one in edits if isinstance(one, SetFigure) and one.figure in ("signal", "volts")]
    signals = [abs(float(one.value)) for one in put_on]
    return AMPLE * (sum(brought_by(part) for part in fed) + sum(signals)) < TOUCH_RMS


def mains_of(machine: Machine) -> tuple[Part, ...]:
    """Sources that bring the mains itself into the machine."""
    sources = (part for part in machine.parts.values() if KINDS[part.kind].feeds and part.plays)
    return tuple(part for part in sources if brought_by(part) > MAINS_RMS * math.sqrt(2.0))


def fed_by_mains(machine: Machine) -> tuple[Part, ...]:
    """Sources that play a sine of the mains' frequency, whatever its volts: behind a transformer the mains is near."""
    sources = (part for part in machine.parts.values() if KINDS[part.kind].feeds and part.plays)
    waves = ((part, part.plays.swing) for part in sources if part.plays)
    return tuple(part for part, wave in waves if isinstance(wave, Sine) and wave.hertz in MAINS_HERTZ)


def fed_low(machine: Machine) -> tuple[Part, ...]:
    """Parts that bring volts, where the mains is none of them and all together are no more than may be touched, were
    they all alternating; none else."""
    fed = tuple(part for part in machine.parts.values() if brought_by(part))
    return () if fed_by_mains(machine) or sum(map(brought_by, fed)) > TOUCH_RMS * math.sqrt(2.0) else fed


def nets_reached(machine: Machine, ask: Question) -> set[str]:
    """Nets that the probes touch, or those of the part that a hand comes near."""
    if ask.instrument not in UNDER_THE_HAND:
        return {machine.net_of(ask.red), machine.net_of(ask.black)}
    name = ask.red.removeprefix(AROUND)
    return {net for part in machine.parts.values() if name in (part.name, part.package) for net in part.pins.values()}


def _under_the_hand(belief: Belief[Laws], ask: Question, among: Sequence[Bank]) -> Caution | None:
    """The highest volts on what a hand comes near that taps, presses, warms, chills or exchanges this part."""
    reached = nets_reached(belief.laws.model.machine, ask)
    nets = sorted(net for net in reached if net != GROUND and not net.startswith("nc:"))
    found = (caution(belief, Question("dc", net, setup=ask.setup), among) for net in nets)
    return max((one for one in found if one is not None), key=lambda one: one.volts, default=None)


def _is_playing(belief: Belief, ask: Question) -> bool:
    stimulus = belief.laws.model.machine.stimuli.get(ask.setup.stimulus)
    return stimulus is not None and stimulus.playing


def highest(among: Sequence[Bank], ask: Question, cells: np.ndarray) -> np.ndarray:
    """(draw,) volts in the draws of these cells (cell,) bool; of one without a solution as it stands, but no more
    than the highest of those that have one, or than all supplies together."""
    shown = [bare_volts(bank, ask) for bank in among]
    value, solved = np.concatenate([one.value for one in shown]), np.concatenate([one.judged for one in shown])
    fed = sum(brought_by(part) for part in among[0].model.machine.parts.values())
    most = np.max(value[solved & np.isfinite(value)], initial=fed)
    value = np.where(solved, value, np.minimum(value, most))[np.concatenate([cells[bank.cell_of] for bank in among])]
    return np.where(np.isfinite(value), value, 0.0)


# Instruments ---------------------------------------------------------------------------------


def of_the_current(machine: Machine, ask: Question) -> str:
    """What a slip of the tip does on a rail of high current; "" on any other. Common practice, no source."""
    if ask.instrument not in VOLTS or not is_live(ask.setup):
        return ""
    nets = _as_good_as_one(machine, {machine.net_of(ask.red), machine.net_of(ask.black)} - {GROUND})
    found = {part.name: _amps_typed(part) for part in machine.parts.values() if nets & set(part.pins.values())}
    strongest = max(found, key=lambda name: found[name], default="")
    if not strongest or not found[strongest]:
        return ""
    return (
        f"Caution: {strongest} gives up to {found[strongest]:.0f} A into a slip of the tip: rings and watch off, tips"
        " covered but for their points, clips fitted with power off."
    )


def _as_good_as_one(machine: Machine, nets: set[str]) -> set[str]:
    """These nets and all that only a fuse, a contact, a closed switch or a lead parts from them: what feeds one of them
    feeds a slip at each."""
    found, ends = set(nets), [set(part.pins.values()) for part in machine.parts.values() if part.kind in CONDUCTORS]
    while more := [one - found for one in ends if one & found and one - found and GROUND not in one]:
        found |= set().union(*more)
    return found


def _amps_typed(part: Part) -> float:
    """A that a source gives into a short, where somebody typed what it can give and that is much; else nought."""
    limit, series = part.figures.get("limit"), part.figures.get("series")
    if not KINDS[part.kind].feeds or series is None:
        return 0.0
    if limit is not None and limit.typed:
        return limit.nominal if limit.nominal >= LIMITED else 0.0
    short = brought_by(part) / series.nominal
    return short if series.typed and short >= STIFF else 0.0


def of_the_clip(machine: Machine, ask: Question) -> str:
    """What the earth clip of an oscilloscope must not be put on; "" where it may be. Common practice, no source."""
    if ask.instrument not in ("pp", "share", *SCOPED) or not is_live(ask.setup):
        return ""
    if any(GROUND in {machine.net_of(net) for net in part.pins.values()} for part in mains_of(machine)):
        return (
            "The clip of an oscilloscope is earth, and GND of this machine is joined to the mains: not without an"
            " isolating transformer for the machine, or a differential probe. Never cut the earth of the oscilloscope."
        )
    if machine.net_of(ask.black) != GROUND:
        return "The clip of an oscilloscope is earth: take two probes and the difference of the two."
    return ""


def of_the_diode_range(machine: Machine, ask: Question) -> str:
    """What the diode range may put too much into: a board that was added; "" where none is touched."""
    if ask.instrument != "diode":
        return ""
    nets = {machine.net_of(ask.red), machine.net_of(ask.black)}
    boards = [
        board.name
        for board in machine.added_boards
        if board.fitted != "no"
        and any(nets & set(machine.parts[name].pins.values()) - {GROUND} for name in board.parts)
    ]
    volts = law("diode").open_volts
    return f"The diode range puts up to {volts:g} V into {' and '.join(boards)}: unplug it first." if boards else ""


def of_a_slip(near: Sequence[str], fine: bool) -> str:
    """What a live probe touches that slips; "" where nothing lies beside its place. near: what does; fine: only a fine
    probe fits between."""
    said = [f"{' and '.join(near)} {'lies' if len(near) == 1 else 'lie'} close beside"] if near else []
    said += ["a fine probe"] if fine else []
    return f"Caution: {', '.join(said)}; do not slip." if said else ""


# Off limits ----------------------------------------------------------------------------------


def off_limits(machine: Machine) -> set[str]:
    """Places that the file puts off limits with power on, each with its net."""
    return set(machine.never_live) | {machine.net_of(one) for one in machine.never_live if machine.has_place(one)}


def deadly(belief: Belief[Laws], setup: Setup, nets: Iterable[str]) -> set[str]:
    """Of these nets those that are of class ES3 against ground in a sound machine, or not solved there: left alone
    while live unless somebody said that they are trained for it."""
    machine, middle = belief.laws.model.machine, belief.laws.base.middle
    if not is_live(setup) or is_low(machine, setup):
        return set()
    found = set()
    for net in nets:
        dc, rms = (bare_volts(middle, Question(one, net, setup=setup)) for one in ("dc", "rms"))
        share = float(dc.value[0]) / ES2_DC + float(rms.value[0]) / ES2_RMS
        if not (share <= 1.0 and dc.judged[0] and rms.judged[0]):
            found.add(net)
    return found
