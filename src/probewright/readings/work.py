"""The work on one line between hearing and settling it."""

from __future__ import annotations

from dataclasses import dataclass, field

from probewright.readings.context import Context
from probewright.readings.naming import Names
from probewright.readings.quantities import Quantity
from probewright.readings.spots import Spot
from probewright.readings.survey import Surveyed


@dataclass
class Settling:
    """The work on one line.

    taken: what was taken for granted, in words; before: instrument, figure and place of the last figure.
    """

    context: Context
    line: Surveyed
    names: Names
    taken: list[str] = field(default_factory=list)
    before: tuple[str, Quantity, Spot] | None = None

    @property
    def power(self) -> str:
        """Power as the line or the bench has it."""
        return self.line.power or self.context.bench.setup.power
