"""Laws of a circuit: cells with their draws, and how probable what was said is in each of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from probewright.prediction.bank import Bank, Ring, Span
from probewright.prediction.cells import Model
from probewright.prediction.latents import draw_latents, draw_one
from probewright.prediction.likelihood import LEAST, UNLISTED_HEALTHY, Judged, anywhere_nats, hookup_nats
from probewright.prediction.outcomes import fed_ahead, is_shown, quick_show, show, show_at, unharmed
from probewright.prediction.provoking import is_provoked, provoked_nats
from probewright.prediction.timed import takes_time
from probewright.readings import Question, Reading

DRAWS = 40  # chosen: per cell to begin with; living cells are drawn afresh and get more
FEW_DRAWS = 8  # chosen: the same in a large machine, whose cells are many
# Chosen: of these so many are followed at first in what takes time, one where that would be too many; of living cells
# then all.
FIRST, FIRST_RUNS = 2, 800
ACTIVE = 0.7  # chosen: chance that a fault that comes and goes shows in a sitting
MARK = 0.05  # chosen: chance that a "showing" mark is wrong


@dataclass(frozen=True)
class Outcome:
    """What a question would show: value and judged (variant,), the variants those of the laws."""

    value: np.ndarray
    judged: np.ndarray


@dataclass(frozen=True)
class Fine:
    """Cells drawn afresh: a bank and, for every draw (variant,), log prior less log proposal.

    cells: those for which the bank stands; its draws of other cells do not count.
    """

    bank: Bank
    log_start: np.ndarray
    cells: frozenset[int]


@dataclass(frozen=True)
class Laws:
    """Cells and draws of one machine.

    base: every cell with draws from the prior; fine: some cells drawn afresh where the readings
    put them, each bank in place of the draws that its cells had before. Variants are numbered base
    first, then fine in order. few: some of all these draws, which stand for them where an answer is
    wanted at once; then there are no other variants, and nothing is drawn afresh. lean (cell,): log of what the base
    draws of a cell are to be multiplied by, see `redraw.leaning`.
    """

    model: Model
    base: Bank
    fine: tuple[Fine, ...] = ()
    few: Fine | None = None
    lean: np.ndarray | None = None

    @property
    def banks(self) -> tuple[Bank, ...]:
        """Base, then those drawn afresh; the few alone where they stand for all."""
        return (self.base, *(one.bank for one in self.fine)) if self.few is None else (self.few.bank,)

    @cached_property
    def cell_of(self) -> np.ndarray:
        """(variant,) index of the cell."""
        return np.concatenate([bank.cell_of for bank in self.banks])

    def latents_of(self, variants: np.ndarray) -> np.ndarray:
        """(latent + 1, variant) latents of these variants, in any order."""
        found, at = np.empty((self.base.z.shape[0], len(variants))), 0
        for bank in self.banks:
            here = (variants >= at) & (variants < at + bank.size)
            found[:, here] = bank.z[:, variants[here] - at]
            at += bank.size
        return found

    @cached_property
    def severity_z(self) -> np.ndarray:
        """(variant,) the latent of each draw's severity."""
        return np.concatenate([bank.severity_z for bank in self.banks])

    @cached_property
    def log_prior(self) -> np.ndarray:
        """(variant,) log chance of each draw before any reading; minus infinity where redrawn."""
        if self.few is not None:
            return self.few.log_start
        counts = np.array([s.stop - s.start for s in self.base.spans])
        starts = np.array([self.model.log_prior[s.cell] for s in self.base.spans]) - np.log(counts)
        starts += 0.0 if self.lean is None else self.lean[[s.cell for s in self.base.spans]]
        found = np.concatenate([np.repeat(starts, counts), *(one.log_start for one in self.fine)])
        at = self.base.size
        for one in self.fine:
            inside = slice(at, at + one.bank.size)
            found[:at][np.isin(self.cell_of[:at], list(one.cells))] = -np.inf
            found[inside][~np.isin(self.cell_of[inside], list(one.cells))] = -np.inf
            at += one.bank.size
        return found

    def has(self, ask: Question) -> bool:
        """What the question would show is at hand for every draw."""
        return all(is_shown(bank, ask) for bank in self.banks)

    def ring_of(self, variants: np.ndarray) -> Ring | None:
        """What lies round the areas of these variants; None where nothing is solved by areas."""
        if self.base.ring is None:
            return None
        led = np.concatenate([np.zeros(0, int) if bank.ring is None else bank.ring.led for bank in self.banks])
        wide = frozenset[int]().union(*(bank.ring.wide for bank in self.banks if bank.ring is not None))
        return Ring(self.base.ring.calm, led[variants], wide)

    @property
    def others(self) -> tuple[int, ...]:
        """Earlier sittings in which contacts and joints that come and go were otherwise bad than now."""
        return self.base.others

    def for_sittings(self, said: Sequence[Reading]) -> Laws:
        """The same cells with a severity for each sitting of these readings, the last one being now; nothing redrawn.

        Only for faults that fall out anew each time, whose severity now lies in the cell's bin and in every
        other sitting anywhere in its law.
        """
        sittings = tuple(dict.fromkeys(one.sitting for one in said if not is_provoked(one)))
        if len(sittings) < 2 or not self.model.redrawn.any() or sittings[:-1] == self.others:
            return self
        rows = np.zeros((len(sittings) - 1, self.base.size))
        for n, sitting in enumerate(sittings[:-1]):
            for span in self.base.spans:
                cell = self.model.cells[span.cell]
                if self.model.redrawn[span.cell]:
                    key = ("severity", self.model.suspects[cell.suspect].id, str(cell.bin), f"sitting {sitting}")
                    rows[n, span.start : span.stop] = draw_one(self.model.job, key, False, span.stop - span.start)
        return Laws(self.model, self.base.with_others(sittings[:-1], rows))

    def outcome(self, ask: Question, sitting: int | None = None) -> Outcome:
        """What a question would show in every variant, now or as in an earlier sitting; cached."""
        shown = [show_at(bank, ask, sitting) for bank in self.banks]
        return Outcome(np.concatenate([s.value for s in shown]), np.concatenate([s.judged for s in shown]))

    def unharmed(self, ask: Question) -> Outcome:
        """What a question would show in every variant if its fault were gone."""
        shown = [unharmed(bank, lambda sound: show(sound, ask)) for bank in self.banks]
        return Outcome(np.concatenate([s.value for s in shown]), np.concatenate([s.judged for s in shown]))

    def healthy(self, ask: Question, quick: bool = False) -> tuple[float, float, float]:
        """Low, middle and high of what healthy machines show: 19 in 20 lie between low and high.

        quick: good enough for choosing a reading, never for showing one.
        """
        look = quick_show if quick else show
        shown, middle = look(self.sound, ask), float(look(self.base.middle, ask).value[0])
        value = shown.value[shown.judged]
        if not value.size:
            return middle, middle, middle
        low, high = np.quantile(value, (0.025, 0.975), method="nearest")
        return float(low), middle, float(high)

    def middling(self, asks: Sequence[Question]) -> list[float]:
        """What the middle of all sound machines shows, good enough for choosing a reading."""
        fed_ahead(self.base.middle, asks)
        return [float(quick_show(self.base.middle, ask).value[0]) for ask in asks]

    @property
    def sound(self) -> Bank:
        """Healthy machines alone, more of them than a cell has."""
        return self.base.healthy

    def takes_time(self, ask: Question) -> bool:
        """An answer to it is read off a run in time."""
        return takes_time(self.base, ask)

    def with_awake(self, awake: tuple[int, ...]) -> Laws:
        """The same laws with so many draws of each cell (cell,) followed in what takes time; 0: it is left where it
        was."""
        return self if awake == self.base.awake else replace(self, base=self.base.with_awake(awake))

    def sitting_nats(self, said: Sequence[Reading]) -> Judged:
        """Log-likelihood of the readings of one sitting in every variant.

        A fault that comes and goes was there for the whole sitting or not at all: both are summed.
        Provocations are weighed by themselves, for they are made to change that.
        """
        rest = [n for n, one in enumerate(said) if not is_provoked(one)]
        read = [said[n] for n in rest]
        one = _in_a_row([self._bank_sitting(bank, read) for bank in self.banks])
        if len(rest) == len(said):
            return one
        honest = np.ones((len(one.nats), len(said)))
        honest[:, rest] = one.honest
        return Judged(one.nats + provoked_nats(self.model, said)[self.cell_of], honest, one.judged, one.solved)

    def _bank_sitting(self, bank: Bank, said: Sequence[Reading]) -> Judged:
        there = self._as_then(bank, said)
        marks = [r.showing for r in said]
        nats, honest = there.nats, there.honest
        yes, no = marks.count("yes"), marks.count("no")
        shy = self.model.shy[bank.cell_of]
        if yes < len(marks) and shy.any():
            gone = self._away(bank, said)
            # the marks say which it was; they are no evidence of their own against anything
            on = np.log(ACTIVE) + yes * np.log1p(-MARK) + no * np.log(MARK)
            off = np.log1p(-ACTIVE) + yes * np.log(MARK) + no * np.log1p(-MARK)
            whole = np.logaddexp(on, off)
            on, off = on - whole + nats, off - whole + gone.nats
            nats = np.where(shy, np.logaddexp(on, off), nats)
            honest = np.where((shy & (off > on))[:, None], gone.honest, honest)
        return Judged(nats, honest, there.judged, there.solved)

    def _away(self, bank: Bank, said: Sequence[Reading]) -> Judged:
        """The same while what comes and goes is gone; it stands for nothing where nothing does."""
        if bank.pieces:
            return _in_a_row([self._away(one, said) for one in bank.pieces])
        if self.model.unknown:
            return self._together(bank.gone, said)
        index, sound = bank.away
        whole = np.ones(bank.size, bool)
        found = Judged(np.zeros(bank.size), np.ones((bank.size, len(said))), whole, whole.copy())
        if not index.size:
            return found
        one = self._together(sound, said)
        for name in ("nats", "honest", "judged", "solved"):
            getattr(found, name)[index] = np.tile(getattr(one, name).T, len(index) // sound.size).T
        return found

    def _as_then(self, bank: Bank, said: Sequence[Reading]) -> Judged:
        """Hook-ups of one sitting multiplied, each fault as bad as it was then."""
        now = self._together(bank, said)
        then = bank.at(said[0].sitting) if said else None
        if then is None:
            return now
        other, where = self._together(then[0], said), then[1]
        fields = {name: getattr(now, name).copy() for name in ("nats", "honest", "judged", "solved")}
        for name, values in fields.items():
            values[where] = getattr(other, name)
        return Judged(**fields)

    def _together(self, bank: Bank, said: Sequence[Reading]) -> Judged:
        """Hook-ups of one sitting multiplied; each cached by its readings."""
        nats, judged, solved = np.zeros(bank.size), np.ones(bank.size, bool), np.ones(bank.size, bool)
        honest = np.ones((bank.size, len(said)))
        hookups: list[tuple[tuple[Reading, ...], Judged]] = []
        for hookup in dict.fromkeys(r.hookup for r in said):
            rows = [n for n, r in enumerate(said) if r.hookup == hookup]
            here = tuple(said[n] for n in rows)
            timed = any(takes_time(bank, one.question) for one in here)
            key = (*here, bank.awake) if timed else here
            if key not in bank.said:
                bank.said[key] = self._hookup(bank, here)
            one: Judged = bank.said[key]
            hookups.append((here, one))
            nats, judged, solved = nats + one.nats, judged & one.judged, solved & one.solved
            honest[:, rows] = one.honest
        return Judged(self._or_anything(bank, hookups, nats), honest, judged, solved)

    def _or_anything(
        self, bank: Bank, hookups: Sequence[tuple[tuple[Reading, ...], Judged]], nats: np.ndarray
    ) -> np.ndarray:
        """The same nats where what is not in the file may show anything anywhere, at one place the same all through a
        sitting."""
        mine = next((slice(s.start, s.stop) for s in bank.spans if s.cell == self.model.unlisted_cell), None)
        if mine is None:
            return nats
        of: dict[Question, list[tuple[tuple[Reading, ...], Judged]]] = {}
        for here, one in hookups:
            if not here[0].question.setup.sister:
                of.setdefault(here[0].question, []).append((here, one))
        for some in of.values():
            sound = np.sum([one.nats[mine] for _, one in some], axis=0)
            wide = anywhere_nats(bank, [here for here, _ in some])
            nats[mine] += np.logaddexp(np.log(UNLISTED_HEALTHY) + sound, np.log1p(-UNLISTED_HEALTHY) + wide) - sound
        return nats

    def _hookup(self, bank: Bank, said: tuple[Reading, ...]) -> Judged:
        """One hook-up; unjudged draws take the mean of their cell, and a cell without a judged draw stays unjudged."""
        one = hookup_nats(bank, said)
        nats, judged = one.nats.copy(), one.judged.copy()
        for span in bank.spans:
            here = slice(span.start, span.stop)
            ok = one.judged[here]
            if not ok.all() and ok.any():
                nats[here] = np.where(ok, nats[here], np.logaddexp.reduce(nats[here][ok]) - np.log(ok.sum()))
                judged[here] = True
        asleep = bank.stands_for < 0
        if asleep.any() and judged.any() and any(self.takes_time(reading.question) for reading in said):
            # what was not followed fares as those that were on the whole, so that what else was read of it still counts
            nats[asleep] = np.logaddexp.reduce(nats[judged]) - np.log(judged.sum())
            judged[asleep] = True
        return Judged(np.maximum(nats, LEAST * 2), one.honest, judged, one.judged)

    def only_last(self, cells: Iterable[int]) -> Laws:
        """The same laws with the last redraw standing for these cells only; the others' former draws count again."""
        return replace(self, fine=(*self.fine[:-1], replace(self.fine[-1], cells=frozenset(cells))))

    def in_few(self, bank: Bank, log_start: np.ndarray) -> Laws:
        """The same laws with the draws of this bank standing for all, log_start (variant,) their log chance
        before any reading."""
        return replace(self, fine=(), few=Fine(bank, log_start, frozenset(span.cell for span in bank.spans)))

    def with_fine(self, bank: Bank, log_start: np.ndarray) -> Laws:
        """The same laws with these cells drawn afresh."""
        return replace(self, fine=(*self.fine, Fine(bank, log_start, frozenset(span.cell for span in bank.spans))))


def _in_a_row(found: Sequence[Judged]) -> Judged:
    """What was judged of some banks, one behind the other."""
    names = ("nats", "honest", "judged", "solved")
    return Judged(*(np.concatenate([getattr(one, name) for one in found]) for name in names))


def first_of(cells: int) -> int:
    """How many draws of each of so many cells are followed at first."""
    return FIRST if FIRST * cells <= FIRST_RUNS else 1


def draw_laws(model: Model, draws: int | None = None) -> Laws:
    """Every cell with draws from the prior; the same latents in every cell, so cells compare draw by draw.

    draws: per cell, as many as is usual when not given. A large machine has fewer, and is solved area by area.
    """
    if draws is None:
        draws = FEW_DRAWS if model.by_areas or model.in_time else DRAWS
    z = draw_latents(model.latents, model.job, draws)
    severity = np.concatenate(
        [draw_one(model.job, ("severity", model.suspects[c.suspect].id, str(c.bin)), False, draws) for c in model.cells]
    )
    spans = [Span(n, n * draws, (n + 1) * draws) for n in range(len(model.cells))]
    copies = len(model.cells)
    latents = np.vstack([np.tile(z, copies), severity])
    base = Bank(model, spans, latents, copies=1 if model.unsure_boards else copies)
    if model.by_areas:
        base.ring = Ring(base.sound, np.tile(np.arange(draws), copies))
    if model.in_time:
        base = base.with_awake((first_of(copies),) * copies)
    return Laws(model, base)
