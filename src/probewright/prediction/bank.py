"""A bank of draws: cells with their latents, and what every place reads in each of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations, pairwise
from typing import Any

import numpy as np

from probewright.hypotheses import Fault
from probewright.hypotheses.mending import times_mended
from probewright.machine.edits import AddPath, Edit, FreePin, ReplacePart, SetFigure, Unplug
from probewright.machine.model import GROUND, Part
from probewright.prediction.cells import Model
from probewright.prediction.latents import carried, draw_latents, figures_of, spare_value
from probewright.readings import Question, Setup
from probewright.readings.setups import edits as setup_edits
from probewright.readings.setups import with_supplies
from probewright.simulation.alternating import Phasors, small_signal
from probewright.simulation.circuit import Batch, Circuit, Framed, Freed, Path, compile_circuit, nominal_figures
from probewright.simulation.meters import Shown
from probewright.simulation.newton import Rest, Start, mutual_ohms, pair_ohms, source_ohms, start_at, start_like
from probewright.simulation.resting import come_to_rest
from probewright.simulation.surround import Surroundings

SOUND = 200  # chosen: healthy machines behind every range shown
SOUND_IN_TIME = 40  # chosen: so many of them where a range takes a run in time; its ends are then the outermost two


@dataclass(frozen=True)
class Span:
    """The variants start..stop of a bank belong to one cell."""

    cell: int
    start: int
    stop: int


@dataclass(frozen=True)
class Ring:
    """What lies round the areas that some draws have to themselves.

    calm: sound machines, solved whole; led (variant,): which of them each draw is outside its areas; wide: areas
    that are every draw's own, besides its fault's; window: the areas of all draws, None while they differ.
    """

    calm: Bank
    led: np.ndarray
    wide: frozenset[int] = frozenset()
    window: frozenset[int] | None = None

    def take(self, chosen: np.ndarray) -> Ring:
        """The ring of these draws."""
        return replace(self, led=self.led[chosen])


@dataclass(frozen=True)
class Lenders:
    """Banks whose draws some others are: origin (variant,) counts through all of theirs, one bank behind the other."""

    banks: tuple[Bank, ...]
    origin: np.ndarray


@dataclass
class Solved:
    """One set-up solved for every variant of a bank; source resistances and phasors on demand.

    around: what lies round the piece of the machine that was solved; None where it was solved whole.
    """

    circuit: Circuit
    batch: Batch
    rest: Rest
    around: Surroundings | None = None
    _ohms: np.ndarray | None = None
    _mutual: np.ndarray | None = None
    _phasors: dict[float, Phasors] = field(default_factory=dict)

    def start_for(self, circuit: Circuit) -> Start:
        """Its rest as a start for another circuit of the same nets; a node it does not have stands at nought."""
        volts = np.zeros((circuit.size + 1, self.rest.volts.shape[1]))
        for name, index in circuit.node.items():
            if name in self.circuit.node:
                volts[index] = self.rest.volts[self.circuit.node[name]]
        return Start(volts)

    def knows(self, place: str) -> bool:
        """The place is a node of the circuit that was solved, not of what lies round it."""
        return place in self.circuit.node or self.circuit.machine.net_of(place) in self.circuit.node

    def volts_of(self, place: str) -> np.ndarray:
        """(variant,) direct volts of a place, here or in the surroundings, before a meter loads it."""
        return self._of(place, 0.0, self.rest.volts)

    def phasor_of(self, place: str, hertz: float) -> np.ndarray:
        """(variant,) the same for the signal, peak V."""
        return self._of(place, 2.0 * np.pi * hertz, self.phasors(hertz).volts)

    def _of(self, place: str, omega: float, volts: np.ndarray) -> np.ndarray:
        if self.around is None or self.knows(place):
            return self.circuit.volts_at(place, self.batch, volts)
        assert self.batch.frame is not None
        return self.around.volts_at(self.circuit.machine.net_of(place), omega, volts[self._ports], self.batch.frame.led)

    @property
    def _ports(self) -> list[int]:
        """Nodes that the piece shares with its surroundings."""
        return [] if self.around is None else [self.circuit.node[port] for port in self.around.ports]

    def holds(self, places: tuple[str, ...], hertz: float = 0.0) -> np.ndarray:
        """(variant,) bool: the surroundings are as straight as they were taken to be, for what these places show at
        this frequency."""
        if self.around is None or self.batch.frame is None:
            return self.rest.solved
        afar = {self.circuit.machine.net_of(place) for place in places if not self.knows(place)} - {GROUND}
        ports = self._ports
        direct = self.rest.solved & self.around.holds(
            self.rest.volts[ports], self.batch.frame.led, self.ohms[ports], afar
        )
        if not hertz:
            return direct
        return direct & self.around.holds_signal(hertz, self.rest.volts[ports], self.batch.frame.led)

    @property
    def ohms(self) -> np.ndarray:
        """(node + 1, variant) source resistance of every node, ohm."""
        if self._ohms is None:
            self._ohms = source_ohms(self.circuit, self.batch, self.rest)
        return self._ohms

    def ohms_between(self, red: str, black: str) -> np.ndarray:
        """(variant,) small-signal resistance between two places that share a part or a path, ohm."""
        if self._mutual is None:
            self._mutual = mutual_ohms(self.circuit, self.batch, self.rest)
        return pair_ohms(self.circuit, self.batch, self._mutual, red, black)

    def phasors(self, hertz: float) -> Phasors:
        """Small signals at one frequency."""
        if hertz not in self._phasors:
            self._phasors[hertz] = small_signal(self.circuit, self.batch, self.rest, hertz)
        return self._phasors[hertz]


class Bank:
    """Draws of some cells, flat: z (latent + 1 + other, variant): latents, severity, severities in other sittings.

    others: sittings in which the faults that fall out anew each time were as bad as the last rows say;
    whole: severities are of the whole law and not of the cell's bin; lasting: only faults that do not come and go.

    Answers are cached by set-up; a cache can be thrown away at any time. faulty False gives the
    same draws with no fault applied (a fault that comes and goes, while it is gone). copies: the
    latents are so many repeats of the same draws, one for each span. near: a bank of as many variants
    that come to rest where these do, or close to it. base: a bank with draws of every cell of this one;
    where it has been solved, its draws are begun from. ring: the sound machines whose figures the draws have outside
    their own areas, with those areas; such a bank is not solved whole but split.
    """

    def __init__(
        self,
        model: Model,
        spans: Sequence[Span],
        z: np.ndarray,
        faulty: bool = True,
        middle: Bank | None = None,
        copies: int = 1,
        near: Bank | None = None,
        base: Bank | None = None,
        others: tuple[int, ...] = (),
        whole: bool = False,
        lasting: bool = False,
        ring: Ring | None = None,
        cut: bool = True,
    ) -> None:
        self.model, self.spans, self.z, self.faulty = model, tuple(spans), z, faulty
        self._middle, self.copies, self._near, self._base = middle, copies, near, base
        self.size, self.others, self.whole, self.lasting = z.shape[1], others, whole, lasting
        self.ring, self.cut = ring, cut
        self._at: dict[int, tuple[Bank, np.ndarray]] = {}
        self._solved: dict[Setup, Solved] = {}
        self._boards: dict[tuple[str, ...], Bank] = {}
        self._twin: Bank | None = None
        self._gone: Bank | None = None
        self._sound: Bank | None = None
        self.pieces: tuple[Bank, ...] = ()  # banks that stand one behind the other in this one
        self.grown: dict[tuple[str, ...], Any] = {}  # ids of suspects grown besides -> laws with them
        self.shown: dict[Question, Shown] = {}
        self.ahead: dict[Question, Shown] = {}  # answers good enough for choosing
        self._surroundings: dict[tuple[frozenset[str], Setup], Surroundings] = {}
        self._wider: dict[frozenset[int], Bank] = {}
        self._uncut: dict[bytes, Bank] = {}
        self.said: dict[tuple[Any, ...], Any] = {}  # hook-up -> how probable it is, kept by the laws
        self.runs: dict[Any, Any] = {}  # set-up and how it is followed -> what happened in it, kept by `timed`
        self.in_time: dict[Any, Shown] = {}  # what was read off them
        self.felt: dict[Any, np.ndarray] = {}  # readings -> latents that a healthy machine feels in them
        self.awake: tuple[int, ...] | None = None  # (cell,) of how many draws what takes time is followed; None: all
        self.lenders: Lenders | None = None  # where these draws are from
        self.planned: np.ndarray | None = None  # (variant,) which draw stands for each in time, where not each itself

    @cached_property
    def cell_of(self) -> np.ndarray:
        """(variant,) index of the cell."""
        return np.repeat([span.cell for span in self.spans], [span.stop - span.start for span in self.spans])

    @cached_property
    def absent(self) -> tuple[str, ...]:
        """Parts of unsure boards that none of its machines has."""
        return self.model.cells[self.spans[0].cell].absent if self.spans else ()

    @cached_property
    def by_boards(self) -> tuple[tuple[Bank, np.ndarray], ...]:
        """Where unsure boards are there in some draws and not in others: a bank of each way, all there first, and which
        they are (variant,); () where all are alike."""
        ways = dict.fromkeys(self.model.cells[span.cell].absent for span in self.spans)
        if len(ways) < 2:
            return ()
        begin = {bank.absent: bank for bank, _ in self._base.by_boards} if self._base is not None else {}
        found = []
        for absent in sorted(ways, key=len):
            mine = [span for span in self.spans if self.model.cells[span.cell].absent == absent]
            rows = np.concatenate([np.arange(span.start, span.stop) for span in mine])
            ends = np.cumsum([0, *(span.stop - span.start for span in mine)])
            spans = [Span(span.cell, int(ends[n]), int(ends[n + 1])) for n, span in enumerate(mine)]
            bank = Bank(
                self.model, spans, self.z[:, rows], self.faulty, self.middle.with_boards(absent),
                base=begin.get(absent), others=self.others, whole=self.whole, lasting=self.lasting,
            )  # fmt: skip
            bank.awake = self.awake
            found.append((bank, rows))
        return tuple(found)

    def with_boards(self, absent: tuple[str, ...]) -> Bank:
        """Of a middle one: the one without these parts of unsure boards."""
        cell = next((n for n in self.model.healthy_cells if self.model.cells[n].absent == absent), None)
        if cell is None or absent == self.absent:
            return self
        if absent not in self._boards:
            self._boards[absent] = Bank(self.model, [Span(cell, 0, 1)], self.z)
            self._boards[absent]._middle = self._boards[absent]
        return self._boards[absent]

    @property
    def middle(self) -> Bank:
        """One variant, nothing wrong, every figure in the middle of its law."""
        if self._middle is None:
            span = Span(self.model.healthy_cell, 0, 1)
            self._middle = Bank(self.model, [span], np.zeros((len(self.model.latents.keys) + 1, 1)))
        return self._middle

    @property
    def stands_for(self) -> np.ndarray:
        """(variant,) the draw that stands for each one in what takes time; -1 for one that is left where it was."""
        if self.planned is not None:
            return self.planned
        found, awake = np.arange(self.size), self.awake
        for span in self.spans if awake is not None else ():
            assert awake is not None
            count = min(awake[span.cell], span.stop - span.start) if span.cell < len(awake) else 0
            here = found[span.start : span.stop]
            here[:] = span.start + (here - span.start) % count if count else -1
        return found

    def with_awake(self, awake: tuple[int, ...]) -> Bank:
        """The same draws, so many of each cell (cell,) followed in what takes time; what was solved stays solved."""
        found = copy(self)
        found.awake, found.pieces = awake, tuple(piece.with_awake(awake) for piece in self.pieces)
        return found

    def has_freed(self, part: str, pin: str) -> np.ndarray:
        """(variant,) bool: this pin has come off there."""
        found = np.zeros(self.size, bool)
        for span in self.spans if self.faulty else ():
            for _, made in self.model.edits(span.cell, self.z[:, span.start : span.stop], self.whole):
                off = any(isinstance(one, FreePin) and (one.part, one.pin) == (part, pin) for one in made)
                found[span.start : span.stop] |= off
        return found

    @property
    def severity_z(self) -> np.ndarray:
        """(variant,) the latent of each draw's severity."""
        return self.z[len(self.model.latents.keys)]

    def at(self, sitting: int) -> tuple[Bank, np.ndarray] | None:
        """The variants whose fault was otherwise bad in that sitting: a bank of them as they were then, and which
        they are (variant,); None where all are as they are now."""
        if sitting not in self.others:
            return None
        if sitting not in self._at:
            mine = [span for span in self.spans if self.model.redrawn[span.cell]]
            if not mine:
                return None
            rows, spans, begin = [np.arange(span.start, span.stop) for span in mine], [], 0
            for span in mine:
                spans.append(Span(span.cell, begin, begin + span.stop - span.start))
                begin = spans[-1].stop
            index, own = np.concatenate(rows), len(self.model.latents.keys)
            z = np.vstack([self.z[:own, index], self.z[own + 1 + self.others.index(sitting), index][None]])
            ring = None if self.ring is None else self.ring.take(index)
            then = Bank(self.model, spans, z, middle=self.middle, whole=True, ring=ring)
            then.awake = self.awake
            self._at[sitting] = (then, index)
        return self._at[sitting]

    def with_others(self, others: tuple[int, ...], severities: np.ndarray) -> Bank:
        """The same draws with severities (other, variant) in these sittings; what was solved stays solved."""
        found = copy(self)
        found.others, found.z = others, np.vstack([self.z[: len(self.model.latents.keys) + 1], severities])
        return found

    @property
    def twin(self) -> Bank:
        """The same draws with their faults away, as when a fault that comes and goes is gone."""
        if self._twin is None:
            near = self._like()
            self._twin = Bank(self.model, self.spans, self.z, False, self.middle, near=near, ring=self.ring)
            self._twin.planned = None if self.planned is None and self.awake is None else self.stands_for
        return self._twin

    @property
    def gone(self) -> Bank:
        """The same draws while what comes and goes is gone: of a pair the fault that stays is there."""
        if not self.model.lasting[self.cell_of].any():
            return self.twin
        if self._gone is None:
            self._gone = Bank(self.model, self.spans, self.z, middle=self.middle, lasting=True, ring=self.ring)
            self._gone.awake, self._gone.planned = self.awake, self.planned
        return self._gone

    @cached_property
    def away(self) -> tuple[np.ndarray, Bank]:
        """The draws in which something comes and goes, and a bank of them while it is gone; where the same draws repeat
        and nothing else is wrong in them, of each different one once."""
        shy = self.model.shy[self.cell_of]
        index = np.flatnonzero(shy)
        if self.copies > 1 and not self.model.lasting[self.cell_of].any():
            return index, self.sound
        return index, self.gone.part(index, None if self.ring is None else self.ring.take(index))

    @property
    def sound(self) -> Bank:
        """The twin with each different draw once: `copies` of its answers stand for those of the twin."""
        if self.copies == 1:
            return self.twin
        if self._sound is None:
            count = self.size // self.copies
            span = Span(self.model.healthy_cell, 0, count)
            self._sound = Bank(self.model, [span], self.z[:, :count], faulty=False, middle=self.middle)
        return self._sound

    @cached_property
    def healthy(self) -> Bank:
        """Healthy machines of the same job alone, SOUND of them, with unsure boards and without."""
        z, cells = draw_latents(self.model.latents, self.model.job, SOUND), self.model.healthy_cells
        spans = [Span(cell, n * SOUND, (n + 1) * SOUND) for n, cell in enumerate(cells)]
        found = Bank(self.model, spans, np.tile(np.vstack([z, np.zeros(SOUND)]), len(cells)), middle=self.middle)
        found.planned = np.arange(found.size) // SOUND * SOUND + np.arange(found.size) % SOUND_IN_TIME
        return found

    @cached_property
    def sister(self) -> Bank:
        """For each different draw a sound machine of the same model, as far as it can be known from this one."""
        z = self.sound.z[: len(self.model.latents.keys)] * carried(self.model.latents)[:, None]
        span = Span(self.model.healthy_cell, 0, z.shape[1])
        return Bank(self.model, [span], np.vstack([z, np.zeros(z.shape[1])]), faulty=False, middle=self.middle)

    @cached_property
    def sisters(self) -> Bank:
        """Sound machines of the same model about the middle one, SOUND of them: how far such machines lie apart."""
        z = draw_latents(self.model.latents, f"{self.model.job} sister", SOUND)
        z = z * np.sqrt(1.0 - carried(self.model.latents)[:, None] ** 2)
        span = Span(self.model.healthy_cell, 0, SOUND)
        return Bank(self.model, [span], np.vstack([z, np.zeros(SOUND)]), faulty=False, middle=self.middle)

    def circuit(self, setup: Setup, probe: Part | None = None) -> Circuit:
        """The machine on the bench in this set-up, wide enough for every cell of the model; probe: with it on it."""
        joined, freed = self._wiring
        bench = setup_edits(setup, self.model.machine)
        gone = {edit.part for edit in bench if isinstance(edit, Unplug)}
        kept = [
            pair
            for pair in joined
            if not any(p not in self.model.machine.nets and p.rpartition(".")[0] in gone for p in pair)
        ]
        fed = with_supplies(setup, self.model.machine)
        fed = fed if probe is None else replace(fed, parts={**fed.parts, probe.name: probe})
        around = self._around(setup)
        if around is not None:
            kept += list(combinations(around.ports, 2))
        return compile_circuit(fed, bench, kept, [(p, pin) for p, pin in freed if p not in gone], self._inside)

    @property
    def _wiring(self) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
        if not self.faulty:
            return [], []
        if self._inside is None:
            return self.model.wiring
        return self.model.wiring_of([self.model.suspects[n] for n in np.unique(self.model.suspect_of[self.cell_of])])

    @property
    def _inside(self) -> frozenset[str] | None:
        """Parts of the areas that are solved; None for the whole machine."""
        if self.ring is None or self.ring.window is None:
            return None
        return self.model.areas.within(self.ring.window)

    def _around(self, setup: Setup) -> Surroundings | None:
        """What lies round these areas in this set-up; None where the machine is solved whole."""
        inside = self._inside
        return None if inside is None or self.ring is None else self.ring.calm.surroundings(inside, setup)

    def surroundings(self, inside: frozenset[str], setup: Setup) -> Surroundings:
        """What lies round these parts in this set-up, in each of these machines; cached."""
        setup = replace(setup, hertz=0.0)
        if (inside, setup) not in self._surroundings:
            whole = self.solved(setup)
            self._surroundings[inside, setup] = Surroundings(whole.circuit, whole.batch, whole.rest, inside)
        return self._surroundings[inside, setup]

    @property
    def has_areas(self) -> bool:
        """Each draw is a sound machine outside areas of its own."""
        return self.ring is not None and self.ring.window is None

    @property
    def is_split(self) -> bool:
        """It is solved area by area."""
        return self.ring is not None and self.ring.window is None and self.cut

    def may_split(self, setup: Setup) -> bool:
        """No lead of the bench and no lifted pin joins or parts areas."""
        return not any(isinstance(edit, AddPath | FreePin) for edit in setup_edits(setup, self.model.machine))

    @cached_property
    def split(self) -> list[tuple[np.ndarray, Bank]]:
        """The draws of each window of areas: which they are, and a bank of them."""
        assert self.ring is not None
        by_window: dict[frozenset[int] | None, list[Span]] = {}
        for span in self.spans:
            home = self.model.homes[self.model.cells[span.cell].suspect]
            by_window.setdefault(None if home is None else home | self.ring.wide, []).append(span)
        found = []
        for window, spans in by_window.items():
            index = np.concatenate([np.arange(span.start, span.stop) for span in spans])
            ring = None if window is None else replace(self.ring.take(index), window=window)
            found.append((index, self.part(index, ring)))
        return found

    def part(self, index: np.ndarray, ring: Ring | None) -> Bank:
        """A bank of some draws (ascending), solved as this ring says."""
        cells, spans = self.cell_of[index], []
        marks = np.flatnonzero(np.diff(cells, prepend=-1, append=-1))
        for start, stop in pairwise(marks.tolist()):
            spans.append(Span(int(cells[start]), start, stop))
        base = None if self._base is None or ring is None else self._base.window_like(ring.window)
        z = self.z if len(index) == self.size else self.z[:, index]  # all of them: no copy, they are large
        found = Bank(
            self.model, spans, z, self.faulty, self.middle, base=base, others=self.others,
            whole=self.whole, lasting=self.lasting, ring=ring,
        )  # fmt: skip
        found.awake = self.awake
        return found

    def window_like(self, window: frozenset[int] | None) -> Bank | None:
        """Its bank of these areas, if it has one."""
        if not self.is_split or self.pieces:
            return None
        return next((bank for _, bank in self.split if bank.ring is not None and bank.ring.window == window), None)

    def wider(self, places: tuple[str, ...]) -> Bank:
        """The same draws, solved with the areas of these places too."""
        assert self.ring is not None and self.ring.window is not None
        window = self.ring.window.union(*(frozenset(sorted(self.model.areas.of_place(p))[:1]) for p in places))
        if window not in self._wider:
            self._wider[window] = self.part(np.arange(self.size), replace(self.ring, window=window))
        return self._wider[window]

    def uncut(self, index: np.ndarray) -> Bank:
        """Some of its draws (ascending), to be solved whole; cached."""
        if index.tobytes() not in self._uncut:
            self._uncut[index.tobytes()] = self.part(index, None)
        return self._uncut[index.tobytes()]

    def batch(self, circuit: Circuit, setup: Setup) -> Batch:
        """Every variant's figures and wiring in this set-up."""
        edits = setup_edits(setup, self.model.machine)
        replaced = Counter(edit.part for edit in edits if isinstance(edit, ReplacePart))
        for part, times in [*replaced.items()]:
            if case := self.model.machine.parts[part].package:
                replaced[case] = max(replaced[case], times)
        figures: dict[tuple[str, str], Any] = dict(nominal_figures(circuit))
        present = {name for group in circuit.groups for name in group.parts}
        figures.update(figures_of(self.model.latents, self.z[: len(self.model.latents.keys)], present))
        for one in self.model.latents.free:
            if one.name == "signal" and (one.part, "signal") not in circuit.fixed and one.part in present:
                figures[one.part, "signal"] = self._of_line(one.part, circuit, figures[one.part, "signal"])
            if one.part in replaced and one.part in present and one.name != "playing":
                figures[one.part, one.name] = spare_value(self.model.job, one, self.z, replaced[one.part])
        paths, freed = [], []
        owned: set[tuple[str, str]] = set()
        for span in self.spans if self.faulty else ():
            here = slice(span.start, span.stop)
            for edit in self._faults(span, replaced, setup.mended, present):
                if isinstance(edit, SetFigure):
                    key = edit.part, edit.figure
                    if key not in owned:
                        figures[key] = np.broadcast_to(figures[key], self.size).astype(float)
                        owned.add(key)
                    figures[key][here] = figures[key][here] * edit.value if edit.relative else edit.value
                elif isinstance(edit, AddPath):
                    paths.append(Path(edit.a, edit.b, span.start, span.stop, edit.ohms))
                elif isinstance(edit, FreePin):
                    freed.append(Freed(edit.part, edit.pin, span.start, span.stop, edit.ohms))
        stimulus = self.model.machine.stimuli.get(setup.stimulus)
        for key, value in circuit.fixed.items():
            if key[0] not in present:
                continue
            figures[key] = figures[key] * value if key[1] == "signal" else value
            if key[1] == "signal" and stimulus is not None and stimulus.playing:
                figures[key] = figures[key] * figures.get((key[0], "playing"), 1.0)
        around = self._around(setup)
        frame = None if around is None or self.ring is None else Framed(around, self.ring.led)
        return Batch(self.size, figures, tuple(paths), tuple(freed), frame=frame)

    def _of_line(self, part: str, circuit: Circuit, level: Any) -> Any:
        """Volts that a source plays by its own line, level (variant,) times as many; none where a stimulus feeds it."""
        told = {(part, "volts"), (part, "signal")} & circuit.fixed.keys()
        one = self.model.machine.parts[part]
        return 0.0 if one.plays is None or told else level * one.figures["signal"].nominal

    def _faults(self, span: Span, replaced: Counter[str], mended: tuple[str, ...], present: set[str]) -> Iterator[Edit]:
        """Edits of the faults that count in this span: each outlasts as many repairs as it says."""
        for fault, made in self.model.edits(span.cell, self.z[:, span.start : span.stop], self.whole):
            outlasts = fault.again - times_mended(self.model.machine, fault, mended)
            cured = {part for part, times in replaced.items() if times > outlasts}
            there = outlasts >= 0 and not self._is_cleared(fault, cured)
            if there and not (self.lasting and fault.comes_and_goes):
                yield from (edit for edit in made if not self._void(edit, cured, present))

    def _is_cleared(self, fault: Fault, replaced: set[str]) -> bool:
        """A bridge beside a part goes with it when a new one is fitted: the pads are cleaned for that."""
        return "~" in fault.item and any(end.rpartition(".")[0] in replaced for end in fault.item.split("~"))

    def _void(self, edit: object, replaced: set[str], present: set[str]) -> bool:
        """A fault on a part that this set-up has replaced or taken out does not count."""
        if isinstance(edit, AddPath):
            owners = {place.rpartition(".")[0] for place in (edit.a, edit.b) if place not in self.model.machine.nets}
            return bool(owners & replaced) or any(o not in present and not self._is_case(o, present) for o in owners)
        part = edit.part  # type: ignore[attr-defined]
        return part in replaced or (part not in present and not self._is_case(part, present))

    def _is_case(self, name: str, present: set[str]) -> bool:
        """The name is a package with a unit in the circuit."""
        return any(part.package == name for part in self.model.machine.parts.values() if part.name in present)

    def solved(self, setup: Setup) -> Solved:
        """The set-up solved for every variant; cached. Where it rests does not depend on the frequency put on."""
        assert not self.by_boards, "machines with a board and without it have no circuit in common"
        setup = replace(setup, hertz=0.0, unplugged=tuple(sorted({*setup.unplugged, *self.absent})))
        if setup not in self._solved:
            like = None if self._base is None else self._base._solved.get(setup)
            circuit = self.circuit(setup) if like is None else like.circuit
            batch = self.batch(circuit, setup)
            begin = self._start(circuit, batch, setup, like)
            self._solved[setup] = Solved(circuit, batch, come_to_rest(circuit, batch, begin), self._around(setup))
        return self._solved[setup]

    def leaders(self, rest: Rest) -> np.ndarray:
        """(cell,) the first solved variant of every cell; the first where none is solved; -1 where there is none."""
        found = np.full(len(self.model.cells), -1)
        for span in self.spans:
            found[span.cell] = span.start + int(np.argmax(rest.solved[span.start : span.stop]))
        return found

    def _like(self) -> Bank | None:
        """This bank, where its rest may serve as a start: levels known as ratios stand on quiet rails."""
        return self if self.model.unknown else None

    def _start(self, circuit: Circuit, batch: Batch, setup: Setup, like: Solved | None) -> Start | None:
        """Where a like bank came to rest, or a draw of the same cell; else where each cell's first variant
        does; None for small banks."""
        if self._near is not None and setup in self._near._solved:
            return self._near._solved[setup].start_for(circuit)
        if like is not None and self._base is not None:
            leaders = self._base.leaders(like.rest)
            which, led = np.unique(leaders[self.cell_of], return_inverse=True)
            kept = Rest(like.rest.volts[:, which], like.rest.solved[which], like.rest.unstable[which])
            return start_at(circuit, like.batch.take(which), kept, led)
        if self.ring is not None and self.ring.window is not None:
            calm = self.ring.calm
            at_rest = replace(calm.solved(setup).rest, volts=calm.solved(setup).start_for(circuit).volts)
            here = Bank(self.model, calm.spans, calm.z, False, ring=replace(self.ring, led=np.arange(calm.size)))
            return start_at(circuit, here.batch(circuit, setup), at_rest, self.ring.led)
        if len(self.spans) * 8 > self.size:
            return None
        first = np.array([span.start for span in self.spans])
        return start_like(circuit, batch.take(first), [span.stop - span.start for span in self.spans])
