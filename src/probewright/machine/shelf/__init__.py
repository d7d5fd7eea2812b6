"""The shelf: textbook stages, filled in with a few values and put into a machine file.

Each stage is one text file in `stages/`, each circuit that is added in the place of something dead one in `added/`;
docs/shelf.md says what stands in them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from probewright.machine.shelf.stage import Ask, Body, Filled, Stage


def stages() -> tuple[Stage, ...]:
    """Every stage of the shelf, by name."""
    from probewright.machine.shelf import reading

    return reading.stages()


def stage(name: str) -> Stage:
    """The stage of this name; BadInput names the nearest."""
    from probewright.machine.shelf import reading

    return reading.stage(name)


def added_circuits() -> tuple[Stage, ...]:
    """Every circuit that can be added in the place of something dead, by name."""
    from probewright.machine.shelf import reading

    return reading.stages(reading.ADDED)


def added_circuit(name: str) -> Stage:
    """The added circuit of this name; BadInput names the nearest."""
    from probewright.machine.shelf import reading

    return reading.stage(name, reading.ADDED)


def fill_in(stage: Stage | str, values: Mapping[str, str], name: str) -> Filled:
    """The stage with these values, its names beginning with name; BadInput with one complaint for each bad value.

    values: what is asked -> as typed, "?" where nobody knows; what is left out is assumed where the
    stage has an answer of its own, and said to be so.
    """
    from probewright.machine.shelf import filling

    return filling.fill_in(stage, values, name)


def fill(stage: Stage | str, values: Mapping[str, str], name: str) -> str:
    """The machine file of this stage alone, with a source and a load of its own; BadInput as `fill_in`."""
    return fill_in(stage, values, name).text


def put(machine_text: str | None, filled: Filled, joins: Mapping[str, str] | None = None) -> str:
    """The machine file with the stage added as a section; it loads, and what stood in it stays as it was.

    joins: a door of the stage -> the net of the machine it is joined to, or `new NAME` for a net of its own
    name; a part of the stage -> its name as printed on the board. What stands in for a joined
    net (the stage's own source or load) is left out. BadInput where a name clashes or is not there.
    """
    from probewright.machine.shelf import placing

    return placing.put(machine_text, filled, joins or {})


def put_added(machine_text: str, filled: Filled, joins: Mapping[str, str], lifted: Sequence[str] = ()) -> str:
    """The machine file with the circuit as an added board that is fitted, what it replaces lifted first.

    joins: a door of the circuit -> a net of the machine; lifted: pins, "U3.out". BadInput where a name clashes or is
    not there.
    """
    from probewright.machine.shelf import placing

    return placing.put_added(machine_text, filled, joins, lifted)


def add_stimulus(machine_text: str, name: str, told: str) -> str:
    """The machine file with one more stimulus, written as it is told."""
    from probewright.machine.shelf import adding

    return adding.add(machine_text, "stimuli", [(name, told)], listed=False)


__all__ = [
    "Ask",
    "Body",
    "Filled",
    "Stage",
    "add_stimulus",
    "added_circuit",
    "added_circuits",
    "fill",
    "fill_in",
    "put",
    "put_added",
    "stage",
    "stages",
]
