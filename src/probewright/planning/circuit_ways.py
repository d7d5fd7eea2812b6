"""Steps on a circuit: readings at its places, swaps of its extras, repairs of its items."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG, Suspect
from probewright.inference.answers import Table, told
from probewright.inference.circuit_fit import SPAN
from probewright.inference.drawn import DrawnPopulation
from probewright.machine import Machine
from probewright.machine.model import GROUND
from probewright.planning import danger, stops
from probewright.planning.actions import (
    AND,
    Action,
    Judged,
    bench_of,
    board_nets,
    cures,
    harmless,
    items_left,
    possible,
    reading_from,
    repaired_by_now,
    repairs_of,
)
from probewright.planning.asking import is_proven, is_rare, outputs
from probewright.planning.bursts import Allowance, Hot, allowance, allowance_together, charged, hot_parts
from probewright.planning.minutes import Stand, change, minutes, rung
from probewright.planning.parting import LIFT
from probewright.planning.provoking import answers
from probewright.planning.reach import lies, needs_fine, neighbours, side_of
from probewright.planning.stored import PROVE, Charge, charges, emptied
from probewright.prediction.likelihood import spread
from probewright.readings import Question, Reading, Setup, is_live
from probewright.readings.boards import BOTTOM, OUT, TOP
from probewright.readings.changing import changed
from probewright.readings.instruments import METERED, UNPOWERED
from probewright.readings.kit import TOOLS

TURNING = {  # from how the board lies to how a place wants it
    **{(side, side): "" for side in (TOP, BOTTOM, OUT)},
    (TOP, BOTTOM): "Turn the board over, solder side up.",
    (BOTTOM, TOP): "Turn the board over, component side up.",
    **dict.fromkeys(((TOP, OUT), (BOTTOM, OUT)), "Take the board out: nothing else reaches the place."),
}
SWAP_TELLS = 0.95  # chosen: a swap shows what it should, the spare being sound
SHARPEST = 50.0  # chosen: standard deviations beyond which sharper is no better
IRON = Question("ohms", GROUND, setup=Setup(power="off"))  # a repair: hands and iron on a board with power off
SHARP_ENOUGH = 6.0  # chosen: a little more than a verification needs


@dataclass(frozen=True)
class CircuitWays:
    """What can be done on a machine file's circuit."""

    population: DrawnPopulation

    def possible(self) -> list[Action]:
        """Every reading, swap and repair this bench permits; of readings only those whose answers are at hand.

        Where the bench stands otherwise than foreseen, readings as they were foreseen.
        """
        return charged(self.population, self._possible())

    def _possible(self) -> list[Action]:
        """The same, whatever gets hot."""
        found, known = [one for one in possible(self.population) if self._is_proven(one)], self.population.known
        if known is None:
            self.population.work_ahead([one.ask for one in found if one.ask is not None])  # together it costs much less
            return found
        at_hand = frozenset(known)
        found = [action for action in found if action.kind != "reading" or action.ask in at_hand]
        if any(action.kind == "reading" for action in found):
            return found
        taken = {reading.question for reading in self.population.belief.readings}
        return [*(self.again(ask) for ask in known if ask not in taken), *found]

    def _is_proven(self, action: Action) -> bool:
        """A new rare part is a step only once it is known well enough to be at fault; any other step is one."""
        belief = self.population.belief
        machine = belief.laws.model.machine
        rare = [item for item in action.item.split(AND) if action.kind == "repair" and is_rare(machine, item)]
        if not rare:
            return True
        cured = [self.cures(suspect, action.item) for suspect in belief.suspects]
        return all(is_proven(belief, item, cured) for item in rare)

    def unproven(self) -> list[Action]:
        """Repairs with a rare part that is not known well enough to be at fault."""
        return [one for one in possible(self.population) if not self._is_proven(one)]

    def proofs(self) -> list[Action]:
        """Readings owed before a rare part is named: its output with the load lifted."""
        machine = self.population.belief.laws.model.machine
        owed = {one.item for one in self.unproven()}
        nets = {net for item in owed for part in item.split(AND) for net in outputs(machine, part)}
        return [one for one in self.possible() if one.ask and one.ask.red in nets and _is_lifted(one.ask)]

    def lacking(self) -> list[Action]:
        """Readings with an instrument that somebody told this bench has not; a quick look has no time for them."""
        kit = self.population.kit
        if kit.has is None or self.population.hasty:
            return []
        every = charged(self.population, possible(replace(self.population, kit=replace(kit, has=frozenset(TOOLS)))))
        return [one for one in every if one.kind == "reading" and one.ask and kit.lacks(one.ask.instrument)]

    def repairs(self) -> list[Action]:
        """Repairs of each item that a considered suspect lies in."""
        return [action for action in self.possible() if action.kind == "repair"]

    def again(self, ask: Question) -> Action:
        """The same reading with the probes placed anew."""
        return reading_from(self._machine, self.now, ask, self.population.kit)

    @cached_property
    def now(self) -> Stand:
        """How the bench stands."""
        return bench_of(self.population)

    @property
    def _machine(self) -> Machine:
        return self.population.belief.laws.model.machine

    def following(self, then: Action, first: Action) -> float:
        """Minutes of a step where the bench stands as another has left it: what is out already stays out."""
        if then.ask is None or first.ask is None or "swap" in (then.kind, first.kind):
            return then.minutes
        stood = self._left(self.now, first)
        if _is_out(then.ask) and _is_out(then.ask) == _is_out(first.ask):
            return minutes(then.ask.instrument, self.population.kit) + self._moved(stood, then)
        return then.minutes - self._moved(self.now, then) + self._moved(stood, then)

    def _moved(self, stood: Stand, action: Action) -> float:
        """Minutes of bringing the bench to where a step needs it."""
        return change(stood, self._left(stood, action), self.population.kit)

    def _left(self, stood: Stand, action: Action) -> Stand:
        """How a step leaves the bench; what provokes leaves the instrument that is there."""
        assert action.ask is not None
        if action.kind != "reading":
            return replace(stood, setup=action.ask.setup)
        return stood.reading(action.ask.setup, action.ask.instrument, side_of(self._machine, action.ask))

    @cached_property
    def _harmless(self) -> Judged:
        return harmless(self.population)

    def permits(self, action: Action) -> bool:
        """Neither heat nor danger forbids a step, also one that nobody would think of by itself, and it can still be
        made."""
        if action.ask is not None and self.is_past(action.ask):
            return False
        heat = self.allowance(action)
        if heat is not None and not heat.allowed:
            return False
        return action.kind != "reading" or action.ask is None or self._harmless(action.ask)

    def is_past(self, ask: Question) -> bool:
        """A question to this machine as it was before a repair: nobody can ask it again."""
        return not ask.setup.sister and repairs_of(ask.setup) != repaired_by_now(self.population)

    def allowance(self, action: Action) -> Allowance | None:
        """What heat leaves of a step with power on."""
        return allowance(self.population, action)

    def together(self, actions: Sequence[Action]) -> Allowance | None:
        """What heat leaves of steps of one set-up in one burst."""
        return allowance_together(self.population, actions)

    def standing(self, ask: Question) -> Question:
        """The question with the heatsinks that are off in its set-up."""
        bare = tuple((one.part, one.clip) for one in self.population.bare)
        return replace(ask, setup=replace(ask.setup, bare=bare)) if bare else ask

    def hot(self) -> tuple[Hot, ...]:
        """Every part without its heatsink, in the set-up with power on that heats it most at worst; likely watts of the
        one that is likely to heat it most: with its load lifted a part may make next to nothing."""
        asks = [action.ask for action in self._possible() if action.ask is not None] if self.population.bare else []
        setups = dict.fromkeys(ask.setup for ask in asks if is_live(ask.setup)) or {Setup(): None}
        found = zip(*(hot_parts(self.population, setup) for setup in setups), strict=True)
        return tuple(
            replace(max(one, key=lambda hot: (not hot.known, hot.worst)), likely=max(hot.likely for hot in one))
            for one in found
        )

    def tells(self, action: Action) -> Table:
        """Answer bins of a reading; whether a swap helps; what a provocation does to the fault."""
        if action.kind == "swap":
            on_it = [any(f.item.split(".")[0] == action.item for f in s.faults) for s in self._suspects()]
            return told([SWAP_TELLS if here else 1.0 - SWAP_TELLS for here in on_it], ("better", "same"))
        assert action.ask is not None
        if action.kind == "provoke":
            return answers(self.population, action.ask)
        return self.population.table(action.ask)

    def _suspects(self) -> list[Suspect]:
        return [self.population.belief.suspects[n] for n in self.population.suspects]

    def cures(self, suspect: Suspect, item: str) -> bool:
        """After the repairs so far; a new part brings new joints too."""
        belief = self.population.belief
        return cures(belief.laws.model.machine, suspect, item, repaired_by_now(self.population))

    def verifying(self) -> list[tuple[float, Action]]:
        """Readings at which the leader says something sharp and far from healthy, with the distance
        in standard deviations; where there is no such place left, one that was read once, placed anew."""
        if not self.population.suspects or self._suspects()[0].id in (NOTHING_WRONG, NOT_LISTED):
            return []
        asked = [a for a in self.possible() if a.kind == "reading"]
        again = [action for action in map(self.again, self._metered()) if self.permits(action)]
        return self._sharp(asked) or self._sharp(again)

    def _metered(self) -> list[Question]:
        """Questions of this very machine that a meter has answered at one placing of the probes: a third would say the
        same again. A quick look asks nothing again."""
        said = () if self.population.hasty else self.population.belief.readings
        mine = [r for r in said if r.question.instrument in METERED and not r.question.setup.sister]
        placings = Counter(ask for ask, _ in {(r.question, r.hookup) for r in mine})
        return [ask for ask in dict.fromkeys(r.question for r in mine) if placings[ask] == 1]

    def _sharp(self, actions: list[Action]) -> list[tuple[float, Action]]:
        asked = [(one, one.ask) for one in actions if one.ask is not None and one.ask.instrument in METERED]
        healthy = self.population.belief.laws.middling([ask for _, ask in asked])
        found = [(self._sharpness(ask, usual), one) for (one, ask), usual in zip(asked, healthy, strict=True)]
        return [(min(sharp, SHARPEST), action) for sharp, action in found if sharp > SHARP_ENOUGH]

    def refuting(self, leader: int, rivals: tuple[int, ...]) -> list[tuple[tuple[int, ...], Action]]:
        """Readings that set a suspect apart from some of these, with from which.

        What the same repair cures is not worth a hot iron: there only readings of the whole board count.
        """
        suspects = self.population.suspects
        if leader not in suspects:
            return []
        row, rows = suspects.index(leader), [n for n, suspect in enumerate(suspects) if suspect in rivals]
        others = [n for n in rows if not self._same_repair(leader, suspects[n])]
        found = []
        for action in self.possible():
            if action.kind == "reading" and action.ask is not None and action.ask.instrument in METERED:
                apart = self.population.apart(action.ask)[row]
                counts = others if action.rung >= rung(LIFT) else rows
                if told := tuple(suspects[n] for n in counts if apart[n]):
                    found.append((told, action))
        return found

    def _same_repair(self, leader: int, rival: int) -> bool:
        """Mending what the leader lies in would cure the rival too."""
        belief = self.population.belief
        items = items_left(belief.laws.model.machine, belief.suspects[leader], repaired_by_now(self.population))
        return bool(items) and self.cures(belief.suspects[rival], AND.join(items))

    def _sharpness(self, ask: Question, healthy: float) -> float:
        """Standard deviations between what the leader and a healthy machine show; nought where more than a sixth of
        the leader's draws show "over the range" or "never", which is no figure to be foretold."""
        shown = self.population.now(ask).value[self.population.member == 0]
        shown = shown[~np.isnan(shown)]
        if not shown.size or not np.isfinite(np.quantile(shown, SPAN, method="nearest")).all():
            return 0.0
        shown = shown[np.isfinite(shown)]
        middle = float(np.median(shown))
        error = float(np.hypot(np.hypot(*spread(Reading(ask, middle, ""), middle)), np.std(shown)))
        return abs(middle - healthy) / error

    def considered(self) -> list[Question]:
        """Questions asked, and every live reading this bench permits."""
        asked = [r.question for r in self.population.belief.readings if r.question.instrument in METERED]
        live = [a.ask for a in self.possible() if a.ask is not None and a.kind == "reading"]
        return list(dict.fromkeys([*asked, *(ask for ask in live if ask.instrument not in UNPOWERED)]))

    def caution(self, ask: Question | None) -> str | None:
        """Volts that can hurt, what the instrument may do, what stays charged; a quick look asks all draws from the
        prior and those of the sample. None: of a repair, where hands and iron come near what stays charged."""
        ask = ask or IRON
        machine = self.population.belief.laws.model.machine
        hurts = self._dangers(ask)
        said = [
            "" if hurts is None else hurts.by_hand() if ask.instrument == "swap" else str(hurts),
            danger.of_the_current(machine, ask),
            danger.of_the_clip(machine, ask),
            danger.of_the_diode_range(machine, ask),
            danger.of_a_slip(neighbours(machine, ask), needs_fine(machine, ask)) if is_live(ask.setup) else "",
        ]
        kept = self._kept(ask)
        said += [f"Caution: {kept[0]}", *map(str, kept[1:2]), PROVE] if kept else []
        return " ".join(filter(None, said)) or None

    def carefree(self, ask: Question) -> bool:
        """No caution goes with a live reading, and none with the machine: it is fed from low volts alone, no place is
        left alone, nothing runs without its heatsink, every volt is worked out (the signals of a chain are not), and it
        has been under power since anything was mended."""
        population, model = self.population, self.population.belief.laws.model
        low = bool(danger.fed_low(model.machine)) and not model.machine.never_live
        known = not population.bare and not model.playing and ask.instrument in danger.VOLTS
        return low and known and self._has_run() and self.caution(ask) is None

    def _has_run(self) -> bool:
        """This very machine has been under power with the parts that are in it now."""
        mine = [one.question.setup for one in self.population.belief.readings if not one.question.setup.sister]
        now = repaired_by_now(self.population)
        return any(is_live(one) and repairs_of(one) == now for one in mine)

    def _dangers(self, ask: Question) -> danger.Caution | None:
        """Volts that can hurt; worked out once, for all that is asked about a question."""
        if ask not in self._told:
            belief = self.population.belief
            among = (belief.laws.base, self.population.bank) if self.population.hasty else None
            self._told[ask] = danger.caution(belief, ask, among)
        return self._told[ask]

    @cached_property
    def _told(self) -> dict[Question, danger.Caution | None]:
        return {}

    def clips(self, ask: Question) -> bool:
        """The probes are clipped on with the power off: volts that can hurt, and no hand that taps or warms a part."""
        return ask.instrument in METERED and self._dangers(ask) is not None

    def before(self, ask: Question | None) -> tuple[str, ...]:
        """How the worst of what stays charged is emptied before a step, and the meter proved."""
        return emptied(self._kept(ask or IRON)[:2])

    def turned(self, ask: Question | None) -> str:
        """What is done to the board, with the power off, to bring a place to hand; "" where nothing is."""
        return "" if ask is None else TURNING[self.now.side, lies(self.now.side, side_of(self._machine, ask))]

    def undone(self, ask: Question | None) -> tuple[str, ...]:
        """What is put back as it was before a step, with the power off."""
        if ask is None or self.now.setup is None or ask.setup.sister:
            return ()
        return tuple(one.says for one in changed(self.now.setup, ask.setup, self._machine) if one.back)

    def _kept(self, ask: Question) -> list[Charge]:
        """What capacitors keep when the power goes off for a reading, however the last line left it."""
        belief = self.population.belief
        mine = [one.question.setup for one in belief.readings if not one.question.setup.sister]
        stood = mine[-1] if mine else Setup()
        away = self._dangers(ask) is None if ask.instrument == "swap" else is_live(ask.setup) and not self.turned(ask)
        charged = is_live(stood) or self.population.as_told.charged
        if away or not charged:  # no hand comes near, or it was emptied before
            return []
        live = replace(stood, power="on", lifted=(), unplugged=(), hertz=0.0)
        return charges(belief, live, (belief.laws.base,))

    def deadly(self) -> list[str]:
        """Nets that are left alone while live, because nobody said that they are trained for it."""
        if self.population.kit.trained:
            return []
        belief = self.population.belief
        live = replace(self.now.setup or Setup(), power="on")
        return sorted(danger.deadly(belief, live, board_nets(belief.laws.model.machine)))

    def broken_rule(self) -> str | None:
        """What must not run on: a power rule of the file that the last reading breaks, a rail far too high."""
        return stops.broken_rule(self.population.belief, repaired_by_now(self.population))


def _is_lifted(ask: Question) -> bool:
    """Read with power on and a leg lifted."""
    return ask.setup.power == "on" and bool(ask.setup.lifted)


def _is_out(ask: Question) -> tuple[tuple[str, ...], ...]:
    """Legs that are lifted and parts that are out for a reading with power off; () for none."""
    out = (ask.setup.lifted, ask.setup.unplugged)
    return out if ask.setup.power == "off" and any(out) else ()
