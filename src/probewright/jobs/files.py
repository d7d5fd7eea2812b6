"""What was understood of a machine file, and what it reads when healthy."""

from __future__ import annotations

from probewright.jobs.view import CheckView, ExpectRow, ExpectView, WarningView
from probewright.machine import Machine, polarity, ports
from probewright.machine.model import GROUND
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import Laws, draw_laws
from probewright.readings import Question, Setup
from probewright.readings.instruments import unit_of
from probewright.readings.setups import say as say_setup


def healthy_laws(machine: Machine) -> Laws:
    """The healthy machine alone, with draws of its tolerances."""
    return draw_laws(build_model(machine, machine.name).only_healthy())


def check(machine: Machine, laws: Laws | None = None) -> CheckView:
    """What was understood of a machine file, with warnings.

    Adds to the file's own warnings those that need the healthy operating point: parts the wrong
    way round, functions that fail or figures printed on the drawing that disagree when healthy.
    laws: `healthy_laws` of the machine where they are at hand, so that nothing is solved twice.
    """
    from probewright.jobs.checking import healthy_warnings

    model = build_model(machine, machine.name)
    warnings = [WarningView(w.line, w.column, w.text, w.mend) for w in machine.warnings]
    warnings += healthy_warnings(machine, healthy_laws(machine) if laws is None else laws)
    return CheckView(
        machine.name,
        machine.sections,
        tuple(machine.parts),
        tuple(net for net in machine.nets if net != GROUND),
        tuple(f"{part.name}.{pin}" for part in machine.parts.values() for pin in part.pins),
        len(model.suspects),
        polarity(machine),
        dict(ports(machine)),
        tuple(works.name for works in machine.works),
        machine.assumed,
        tuple(sorted(warnings, key=lambda w: (w.line, w.column))),
    )


def expect(machine: Machine, setup: Setup, laws: Laws | None = None) -> ExpectView:
    """Computed healthy readings at every net, through the instrument; ohms across parts when off.

    laws: as in `check`.
    """
    laws = healthy_laws(machine) if laws is None else laws
    rows = []
    for ask, place in questions_everywhere(machine, setup):
        low, mid, high = laws.healthy(ask)
        rows.append(ExpectRow(place, ask.instrument, low, mid, high, unit_of(ask.instrument)))
    return ExpectView(say_setup(setup, machine), tuple(rows))


def questions_everywhere(machine: Machine, setup: Setup) -> list[tuple[Question, str]]:
    """What can be asked at every net, or across every part with power off; each with the place as said."""
    from probewright.machine.kinds import KINDS

    if setup.power == "off":
        return [
            (Question("ohms", f"{p.name}.{KINDS[p.kind].pins[0]}", f"{p.name}.{KINDS[p.kind].pins[1]}", setup), p.name)
            for p in machine.parts.values()
            if len(KINDS[p.kind].pins) == 2 and p.name not in setup.unplugged and not KINDS[p.kind].feeds
        ]
    places = [net for net in machine.nets if net != GROUND and not net.startswith("nc:")]
    places += [place for place in setup.lifted if place not in places]
    asks = [(Question("dc", place, setup=setup), place) for place in places]
    stimulus = machine.stimuli.get(setup.stimulus)
    if stimulus is not None and stimulus.frequency:
        asks += [(Question("pp", place, setup=setup), place) for place in places]
    return asks
