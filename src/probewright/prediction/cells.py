"""Cells: a suspect cut into bins of severity, each with its share of the prior."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG, Fault, Severity, Suspect
from probewright.hypotheses.modes import edits
from probewright.hypotheses.suspects import board_of, chance_fitted, suspects_of, with_more
from probewright.hypotheses.usual import NOTHING_FOUND, Usual
from probewright.machine.chains import played_sources
from probewright.machine.edits import AddPath, Edit, FreePin
from probewright.machine.following import ever_in_time
from probewright.machine.model import Machine
from probewright.machine.stimuli import Followed, followed
from probewright.prediction.areas import Areas, find_areas
from probewright.prediction.latents import SECOND, Latents, below, find_latents, is_unknown
from probewright.readings import Setup


@dataclass(frozen=True)
class Cell:
    """One suspect in one severity bin (0 when it has none).

    absent: parts of added boards that nobody knows to be fitted and that this cell's machines do not have; chance: of
    that before any reading.
    """

    suspect: int
    bin: int
    absent: tuple[str, ...] = ()
    chance: float = 1.0


@dataclass(frozen=True)
class Model:
    """All that is fixed before any reading: machine, suspects, cells, latents."""

    machine: Machine
    suspects: tuple[Suspect, ...]
    cells: tuple[Cell, ...]
    latents: Latents
    job: str

    @cached_property
    def log_prior(self) -> np.ndarray:
        """(cell,) log chance before any reading, in nat."""
        whole = np.bincount([cell.suspect for cell in self.cells], [cell.chance for cell in self.cells])
        return np.array([np.log(self.suspects[c.suspect].prior * c.chance / whole[c.suspect]) for c in self.cells])

    @cached_property
    def suspect_of(self) -> np.ndarray:
        """(cell,) index of the suspect."""
        return np.array([cell.suspect for cell in self.cells])

    @cached_property
    def bin_of(self) -> np.ndarray:
        """(cell,) number of its bin of severity."""
        return np.array([cell.bin for cell in self.cells])

    @cached_property
    def shy(self) -> np.ndarray:
        """(cell,) bool: its fault comes and goes."""
        return np.array([self.comes_and_goes(cell) for cell in range(len(self.cells))], bool)

    @cached_property
    def redrawn(self) -> np.ndarray:
        """(cell,) bool: how bad its fault is falls out anew whenever the machine was disturbed: a contact or joint
        that comes and goes. Of a pair only the first fault's does."""
        first = [self.suspects[cell.suspect].faults[:1] for cell in self.cells]
        return np.array([any(f.comes_and_goes and f.severity is not None for f in faults) for faults in first], bool)

    @cached_property
    def lasting(self) -> np.ndarray:
        """(cell,) bool: something is wrong even while what comes and goes in it is gone."""
        faults = (self.suspects[cell.suspect].faults for cell in self.cells)
        return np.array([len({fault.comes_and_goes for fault in some}) == 2 for some in faults], bool)

    @property
    def second(self) -> int:
        """Row of the latent that says how bad the second fault of a pair is; -1 (the severity's) without pairs."""
        return self.latents.keys.index(SECOND) if SECOND in self.latents.keys else -1

    @cached_property
    def index(self) -> dict[str, int]:
        """Suspect id -> index."""
        return {suspect.id: n for n, suspect in enumerate(self.suspects)}

    @cached_property
    def unknown(self) -> bool:
        """Levels are known as ratios only: healthy means what the same draw reads without its fault."""
        return is_unknown(self.machine)

    @cached_property
    def playing(self) -> bool:
        """Whatever it plays goes through the machine: nobody knows the level anywhere."""
        return bool(played_sources(self.machine))

    @cached_property
    def in_time(self) -> bool:
        """Something that can be read of this machine with power on is followed in time."""
        return ever_in_time(self.machine)

    def followed(self, setup: Setup) -> Followed:
        """What moves in this set-up."""
        key = setup.stimulus, setup.hertz
        if key not in self._followed:
            self._followed[key] = followed(self.machine, *key)
        return self._followed[key]

    @cached_property
    def _followed(self) -> dict[tuple[str, float], Followed]:
        return {}

    @cached_property
    def healthy_cell(self) -> int:
        """The cell of "nothing wrong in here", every added board being there that may be."""
        return self.healthy_cells[0]

    @cached_property
    def healthy_cells(self) -> list[int]:
        """The cells of "nothing wrong in here": one, or one for each way that unsure boards are fitted or not."""
        return [int(n) for n in np.flatnonzero(self.suspect_of == self.index[NOTHING_WRONG])]

    @property
    def unsure_boards(self) -> bool:
        """Nobody knows whether some added board is fitted."""
        return any(board.fitted == "unknown" for board in self.machine.added_boards)

    @cached_property
    def unlisted_cell(self) -> int:
        """The cell of "something not in this file"; -1 without one."""
        return int(np.flatnonzero(self.suspect_of == self.index[NOT_LISTED])[0]) if NOT_LISTED in self.index else -1

    def severity_of(self, cell: int) -> Severity | None:
        """Severity law of a cell's fault, of a pair's first one; None when it has none."""
        faults = self.suspects[self.cells[cell].suspect].faults
        return faults[0].severity if faults else None

    def comes_and_goes(self, cell: int) -> bool:
        """The cell's fault may be absent while a reading is taken."""
        return any(fault.comes_and_goes for fault in self.suspects[self.cells[cell].suspect].faults)

    def severities(self, cell: int, z: np.ndarray, whole: bool = False) -> list[np.ndarray | None]:
        """How bad each fault of a cell is, (draw,) or None; z (row, draw) standard normal with the rows of a bank.

        The first fault's lies inside the cell's bin, or anywhere in its law (whole); a second one's anywhere in its.
        """
        found: list[np.ndarray | None] = []
        for n, fault in enumerate(self.suspects[self.cells[cell].suspect].faults):
            if fault.severity is None:
                found.append(None)
            elif n == 0 and not whole:
                found.append(severity_value(fault.severity, self.cells[cell].bin, z[len(self.latents.keys)]))
            else:
                row = len(self.latents.keys) if n == 0 else self.second
                found.append(severity_value(replace(fault.severity, bins=1), 0, z[row]))
        return found

    def edits(self, cell: int, z: np.ndarray, whole: bool = False) -> list[tuple[Fault, tuple[Edit, ...]]]:
        """Each fault of a cell with its edits; z (row, draw), whole: as for `severities`."""
        faults = self.suspects[self.cells[cell].suspect].faults
        values = self.severities(cell, z, whole)
        return [(fault, edits(self.machine, fault, value)) for fault, value in zip(faults, values, strict=True)]

    def only_healthy(self) -> Model:
        """The same machine and draws with no suspect but "nothing wrong in here"."""
        return self.only((self.suspects[self.index[NOTHING_WRONG]],))

    def only(self, suspects: Sequence[Suspect]) -> Model:
        """The same machine and draws with these suspects alone, "nothing wrong in here" among them."""
        return replace(self, suspects=tuple(suspects), cells=_cells(self.machine, tuple(suspects)))

    @cached_property
    def areas(self) -> Areas:
        """Sections that can be drawn and solved for themselves."""
        return find_areas(self.machine, self.latents)

    @property
    def by_areas(self) -> bool:
        """Areas are drawn and solved for themselves; not where levels are known as ratios only: there all hang
        together. Nor with an unsure board: with it and without it are two circuits to cut."""
        return self.areas.many and not self.unknown and not self.unsure_boards

    @cached_property
    def homes(self) -> tuple[frozenset[int] | None, ...]:
        """(suspect,) areas inside which each changes something; None where that is not known."""
        return tuple(self.areas.home(suspect) for suspect in self.suspects)

    @cached_property
    def wiring(self) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
        """Every pair of places some cell joins, every (part, pin) some cell frees."""
        return self.wiring_of(self.suspects)

    def wiring_of(self, suspects: Collection[Suspect]) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
        """Every pair of places that some of these join, every (part, pin) that some of them free."""
        joined, freed = [], []
        every = dict.fromkeys(fault for suspect in suspects for fault in suspect.faults)
        for fault in every:
            for edit in edits(self.machine, fault):
                if isinstance(edit, AddPath):
                    joined.append((edit.a, edit.b))
                elif isinstance(edit, FreePin):
                    freed.append((edit.part, edit.pin))
        return list(dict.fromkeys(joined)), list(dict.fromkeys(freed))


def grown(model: Model, more: Collection[Suspect]) -> Model:
    """The model with these suspects behind its own, cells behind its cells; chances are shared out anew.

    How bad a second fault is is one more latent, the last one.
    """
    keys = model.latents.keys if SECOND in model.latents.keys else (*model.latents.keys, SECOND)
    suspects = with_more(model.suspects, tuple(more))
    cells = _cells(model.machine, suspects[len(model.suspects) :], len(model.suspects))
    return replace(model, suspects=suspects, cells=(*model.cells, *cells), latents=replace(model.latents, keys=keys))


def _cells(machine: Machine, suspects: Sequence[Suspect], first: int = 0) -> tuple[Cell, ...]:
    """The cells of these suspects, numbered from `first` on: each bin with each way that unsure boards are fitted."""
    return tuple(
        Cell(first + n, bin_, absent, chance)
        for n, suspect in enumerate(suspects)
        for bin_ in range(bins_of(suspect))
        for absent, chance in ways_fitted(machine, suspect)
    )


def ways_fitted(machine: Machine, suspect: Suspect) -> list[tuple[tuple[str, ...], float]]:
    """Each way that unsure boards are fitted or not: parts that are absent, and its chance; all there comes first.

    A board that a fault of the suspect lies on is there.
    """
    found: list[tuple[tuple[str, ...], float]] = [((), 1.0)]
    there = {board_of(machine, fault) for fault in suspect.faults}
    for board in machine.added_boards:
        if board.fitted == "unknown" and board.name not in there:
            chance = chance_fitted(board)
            found = [
                (absent + parts, before * share)
                for parts, share in (((), chance), (board.parts, 1.0 - chance))
                for absent, before in found
            ]
    return found


def bins_of(suspect: Suspect) -> int:
    """In how many bins the severity of its first fault is cut."""
    return suspect.faults[0].severity.bins if suspect.faults and suspect.faults[0].severity else 1


def severity_value(severity: Severity, which: int | np.ndarray, z: np.ndarray) -> np.ndarray:
    """Severity (draw,) in bin number `which`, one for all or (draw,), of its law, for standard normal z."""
    share = severity_share(severity.bins, which, z)
    if severity.law == "log":
        return severity.low * (severity.high / severity.low) ** share
    return severity.low + (severity.high - severity.low) * share


def severity_share(bins: int, which: int | np.ndarray, z: np.ndarray) -> np.ndarray:
    """Share of a severity's law below standard normal z inside its bin."""
    return np.asarray((which + below(z)) / bins)


def build_model(machine: Machine, job: str = "", without: Collection[str] = (), usual: Usual = NOTHING_FOUND) -> Model:
    """Suspects, cells and latents of a machine; `job` keys the random draws.

    without: ids of suspects left out (a rehearsal withholds them); the others share what was theirs; usual: what the
    bench has found so far.
    """
    listed = tuple(one for one in suspects_of(machine, usual=usual) if one.id not in without)
    ours, theirs = sum(one.prior for one in listed), sum(one.handbook for one in listed)
    suspects = (
        tuple(replace(one, prior=one.prior / ours, handbook=one.handbook / theirs) for one in listed)
        if without
        else listed
    )
    cells = _cells(machine, suspects)
    return Model(machine, suspects, cells, find_latents(machine), job)
