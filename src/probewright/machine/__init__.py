"""The machine as typed: the file, its parts, what works, and how it is written.

The verbs import what they need when called, so that the plain values in `model` and `edits` can be
used without NumPy and without the YAML reader.
"""

from __future__ import annotations

import os
from collections.abc import Mapping

from probewright.machine.model import Machine


def load(path: str | os.PathLike[str]) -> Machine:
    """The machine in a file; raises BadInput with every complaint found, each with line, column and mend."""
    from probewright.machine import loading

    return loading.load(path)


def read(text: str, file_name: str = "") -> Machine:
    """The machine in a text; raises BadInput as `load` does, naming file_name."""
    from probewright.machine import loading

    return loading.read(text, file_name)


def write(text: str, file_name: str = "") -> str:
    """The text in canonical form, comments and order kept; raises BadInput as `read` does."""
    from probewright.machine import writing

    return writing.write(text, file_name)


def ports(machine: Machine) -> Mapping[str, tuple[str, ...]]:
    """Section -> nets it shares with other sections; ground not counted."""
    from probewright.machine import checking

    return checking.ports(machine)


def polarity(machine: Machine) -> tuple[str, ...]:
    """One line for each polarised part: where its plus or anode is."""
    from probewright.machine import checking

    return checking.polarity(machine)


__all__ = ["Machine", "load", "polarity", "ports", "read", "write"]
