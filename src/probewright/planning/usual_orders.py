"""Orders in which the trade measures, without a thought of chances: common practice, no source.

Each takes the readings that this machine permits and gives them back in another order.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from probewright.drawing.rows import rail_nets
from probewright.machine.edits import SetFigure
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Works
from probewright.readings import Question, is_live

AROUND = 1  # chosen: parts between a bad stage and what still counts as round it
FAR = 10**6  # parts to a net that nothing joins
FOLLOWING = ("pp", "rms", "share")  # instruments that follow a signal
GOOD = 0.3  # chosen: share of the healthy figure by which a signal or a voltage may be off and pass for good


def symptom_list(machine: Machine, asks: Sequence[Question], works: Iterable[Works]) -> list[Question]:
    """The rails, then what lies nearest to what is complained of: volts, signals, and with power off; swaps last."""
    heard = [machine.net_of(one.measure.place) for one in works]
    away = distances(machine, heard, rail_nets(machine) - set(heard))
    fed = distances(machine, sources(machine))
    rails = rail_nets(machine) | set(sources(machine))

    def place(ask: Question) -> tuple[int, int, int]:
        first = ask.instrument == "dc" and ask.red in rails
        return (0, fed.get(ask.red, FAR), 0) if first else (1, _state(ask), _away(machine, ask, away))

    return sorted(asks, key=place)


def one_by_one(machine: Machine, asks: Sequence[Question], failing: Mapping[str, float]) -> list[Question]:
    """Part by part, of the kinds that fail most first: each in place with power off or swapped, then all pins live.

    failing: part -> how often it fails, before any reading; of a kind the mean of its parts counts.
    """
    parts = list(machine.parts.values())
    by_kind: dict[str, list[float]] = {}
    for part in parts:
        by_kind.setdefault(part.kind, []).append(failing.get(part.name, 0.0))
    often = {kind: sum(some) / len(some) for kind, some in by_kind.items()}
    turn = {part.name: n for n, part in enumerate(sorted(parts, key=lambda part: -often[part.kind]))}

    def place(ask: Question) -> tuple[int, int]:
        by_itself = ask.instrument == "swap" or not is_live(ask.setup)
        own = {ask.red, ask.red.rpartition(".")[0]} & set(turn)
        here = own or {name for name, _ in machine.pins_on(machine.net_of(ask.red))}
        return 0 if by_itself else 1 + _state(ask), min((turn[name] for name in here), default=FAR)

    return sorted(asks, key=place)


def round_about(machine: Machine, asks: Sequence[Question], nets: Collection[str]) -> list[Question]:
    """What is at a stage, live and then with power off, before all that is further away; swaps last."""
    away = distances(machine, nets, rail_nets(machine) - set(nets))

    def place(ask: Question) -> tuple[bool, bool, int, int]:
        far = _away(machine, ask, away)
        return ask.instrument == "swap", far > AROUND, _state(ask), far

    return sorted(asks, key=place)


@dataclass(frozen=True)
class Path:
    """Nets one behind the other that something goes through, and what it is followed with: instruments, and the
    stimulus where it matters."""

    nets: tuple[str, ...]
    instruments: tuple[str, ...]
    stimulus: str | None = None

    def readings(self, asks: Iterable[Question]) -> dict[int, Question]:
        """Position -> the live reading there that follows it."""
        live = (
            ask for ask in asks if is_live(ask.setup) and ask.instrument in self.instruments and ask.red in self.nets
        )
        return {self.nets.index(ask.red): ask for ask in live if self.stimulus in (None, ask.setup.stimulus)}


def signal_path(machine: Machine, works: Works) -> Path:
    """The way of a signal to where it is heard; of volts, where the function has no signal."""
    end, begins = machine.net_of(works.measure.place), signals(machine, works.measure.stimulus)
    if not begins:
        return Path(_way(machine, sources(machine), end, ()), ("dc",))
    return Path(_way(machine, begins, end, rail_nets(machine) - {end}), FOLLOWING, works.measure.stimulus)


def supply_path(machine: Machine) -> Path:
    """The way from what feeds the machine to the rail furthest from it; no nets where nothing feeds it."""
    fed = distances(machine, sources(machine))
    rails = [net for net in machine.nets if net in rail_nets(machine) and net in fed] or sources(machine)
    if not rails:
        return Path((), ("dc",))
    return Path(_way(machine, sources(machine), max(rails, key=lambda net: fed[net]), ()), ("dc",))


def _way(machine: Machine, begins: Sequence[str], end: str, shut: Collection[str]) -> tuple[str, ...]:
    """Nets of the shortest way from one of these; only the end where none leads there."""
    away = distances(machine, [end], shut)
    found = [min(begins, key=lambda net: away.get(net, FAR), default=end)]
    while away.get(found[-1], 0):
        open_nets = (net for net in _beside(machine, found[-1]) if net not in shut)
        found.append(min(open_nets, key=lambda net: away.get(net, FAR)))
    return tuple(found) if found[-1] == end else (end,)


def passes(answer: float, healthy: float) -> bool:
    """A repairer takes it for good."""
    return abs(answer - healthy) <= GOOD * abs(healthy)


def distances(machine: Machine, nets: Iterable[str], shut: Collection[str] = ()) -> dict[str, int]:
    """Net -> how many parts lie between it and the nearest of these; not by way of ground, nor through a net that is
    shut."""
    found = dict.fromkeys(nets, 0)
    edge = list(found)
    while edge:
        ahead = [(net, found[here] + 1) for here in edge if here not in shut for net in _beside(machine, here)]
        edge = [net for net, _ in ahead if net not in found]
        for net, far in ahead:
            found.setdefault(net, far)
    return found


def sources(machine: Machine) -> list[str]:
    """Nets that something feeds."""
    feeding = [one for one in machine.parts.values() if KINDS[one.kind].feeds and one.figures["volts"].nominal]
    return [net for net in dict.fromkeys(net for one in feeding for net in one.pins.values()) if net != GROUND]


def signals(machine: Machine, stimulus: str) -> list[str]:
    """Nets on which a stimulus puts a signal."""
    edits = machine.stimuli[stimulus].edits if stimulus in machine.stimuli else ()
    names = dict.fromkeys(one.part for one in edits if isinstance(one, SetFigure) and one.figure == "signal")
    nets = dict.fromkeys(net for name in names for net in machine.parts[name].pins.values())
    return [net for net in nets if net != GROUND]


def _beside(machine: Machine, net: str) -> list[str]:
    """Nets that share a part with this one."""
    parts = (machine.parts[name] for name, _ in machine.pins_on(net))
    nets = dict.fromkeys(other for part in parts for other in part.pins.values())
    return [other for other in nets if other not in (net, GROUND) and not other.startswith("nc:")]


def _away(machine: Machine, ask: Question, away: Mapping[str, int]) -> int:
    """Parts between a reading and where it is counted from; a swap touches all pins of its part."""
    part = machine.parts.get(ask.red) if ask.instrument == "swap" else None
    nets = set(part.pins.values()) if part else {machine.net_of(ask.red), machine.net_of(ask.black)}
    return min((away.get(net, FAR) for net in nets - {GROUND}), default=FAR)


def _state(ask: Question) -> int:
    """Volts with the meter in the hand, then signals, then power off, then swaps."""
    if ask.instrument == "swap":
        return 3
    return 2 if not is_live(ask.setup) else 0 if ask.instrument == "dc" else 1
