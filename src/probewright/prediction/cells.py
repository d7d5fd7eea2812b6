"""Cells: a suspect cut into bins of severity, each with its share of the prior."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG, Severity, Suspect
from probewright.hypotheses.modes import edits
from probewright.hypotheses.suspects import suspects_of
from probewright.machine.chains import played_sources
from probewright.machine.edits import AddPath, Edit, FreePin
from probewright.machine.model import Machine
from probewright.prediction.latents import Latents, below, find_latents, is_unknown


@dataclass(frozen=True)
class Cell:
    """One suspect in one severity bin (0 when it has none)."""

    suspect: int
    bin: int


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
        bins = np.bincount([cell.suspect for cell in self.cells])
        return np.array([np.log(self.suspects[c.suspect].prior / bins[c.suspect]) for c in self.cells])

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
        that comes and goes."""
        return np.array([bool(self.shy[n]) and self.severity_of(n) is not None for n in range(len(self.cells))], bool)

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
    def healthy_cell(self) -> int:
        """The cell of "nothing wrong in here"."""
        return int(np.flatnonzero(self.suspect_of == self.index[NOTHING_WRONG])[0])

    @cached_property
    def unlisted_cell(self) -> int:
        """The cell of "something not in this file"; -1 without one."""
        return int(np.flatnonzero(self.suspect_of == self.index[NOT_LISTED])[0]) if NOT_LISTED in self.index else -1

    def severity_of(self, cell: int) -> Severity | None:
        """Severity law of a cell's fault; None when it has none."""
        faults = self.suspects[self.cells[cell].suspect].faults
        return faults[0].severity if faults else None

    def comes_and_goes(self, cell: int) -> bool:
        """The cell's fault may be absent while a reading is taken."""
        return any(fault.comes_and_goes for fault in self.suspects[self.cells[cell].suspect].faults)

    def edits(self, cell: int, z: np.ndarray, whole: bool = False) -> tuple[Edit, ...]:
        """The fault as edits; z (draw,) standard normal, turned into severities inside the bin, or of the whole law."""
        suspect = self.suspects[self.cells[cell].suspect]
        severity = self.severity_of(cell)
        which = 0 if whole else self.cells[cell].bin
        severity = replace(severity, bins=1) if whole and severity is not None else severity
        value = None if severity is None else severity_value(severity, which, z)
        return tuple(edit for fault in suspect.faults for edit in edits(self.machine, fault, value))

    def only_healthy(self) -> Model:
        """The same machine and draws with no suspect but "nothing wrong in here"."""
        return replace(self, suspects=(self.suspects[self.index[NOTHING_WRONG]],), cells=(Cell(0, 0),))

    @cached_property
    def wiring(self) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
        """Every pair of places some cell joins, every (part, pin) some cell frees."""
        joined, freed = [], []
        for cell in range(len(self.cells)):
            for edit in self.edits(cell, np.zeros(1)):
                if isinstance(edit, AddPath):
                    joined.append((edit.a, edit.b))
                elif isinstance(edit, FreePin):
                    freed.append((edit.part, edit.pin))
        return joined, freed


def severity_value(severity: Severity, which: int | np.ndarray, z: np.ndarray) -> np.ndarray:
    """Severity (draw,) in bin number `which`, one for all or (draw,), of its law, for standard normal z."""
    share = (which + below(z)) / severity.bins
    if severity.law == "log":
        return severity.low * (severity.high / severity.low) ** share
    return severity.low + (severity.high - severity.low) * share


def build_model(machine: Machine, job: str = "", without: Collection[str] = ()) -> Model:
    """Suspects, cells and latents of a machine; `job` keys the random draws.

    without: ids of suspects left out (a rehearsal withholds them); the others share what was theirs.
    """
    listed = tuple(one for one in suspects_of(machine) if one.id not in without)
    ours, theirs = sum(one.prior for one in listed), sum(one.handbook for one in listed)
    suspects = (
        tuple(replace(one, prior=one.prior / ours, handbook=one.handbook / theirs) for one in listed)
        if without
        else listed
    )
    cells = tuple(
        Cell(n, b)
        for n, suspect in enumerate(suspects)
        for b in range(suspect.faults[0].severity.bins if suspect.faults and suspect.faults[0].severity else 1)
    )
    return Model(machine, suspects, cells, find_latents(machine), job)
