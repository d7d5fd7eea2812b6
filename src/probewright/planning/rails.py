"""Which nets feed others."""

from __future__ import annotations

from probewright.machine import Machine
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND
from probewright.readings.powering import is_supply

RAIL_PINS = 4  # chosen: a net with so many pins is looked at as a rail


def feeding_nets(machine: Machine) -> dict[str, bool]:
    """Nets that feed others, and whether that is sure: those of the supplies, of regulators, of power rules; not sure
    those with many pins."""
    feeds = [part for part in machine.parts.values() if is_supply(machine, part.name) and not part.plays]
    held = [part.pins[pin] for part in machine.parts.values() if (pin := KINDS[part.kind].holds)]
    ruled = [machine.net_of(rule.net) for rule in machine.power_rules]
    busy = [net for net in machine.nets if not net.startswith("nc:") and len(machine.pins_on(net)) >= RAIL_PINS]
    sure = dict.fromkeys((*(part.pins["plus"] for part in feeds), *held, *ruled), True)
    return {net: net in sure for net in (*sure, *busy) if net != GROUND}
