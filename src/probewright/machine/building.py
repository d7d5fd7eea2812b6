"""From a part line to a Part: figures with their laws, and everything assumed in words."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from probewright.machine.kinds import KINDS, Draft, Kind, Parameter
from probewright.machine.model import Figure, Part, Spot
from probewright.machine.part_lines import PartLine
from probewright.machine.part_words import Item
from probewright.machine.saying import Refused
from probewright.machine.signals import MAINS_SPREAD
from probewright.units import Value, read_value, write_reading

FARTHEST = 1e9  # chosen: this many times outside the plausible band is no slip of a prefix any more
WIDEST = 1e6  # a band wider than this is narrowed by a decade at either end for `?`
# What a class word does to a figure that no line can type.
CLASS_FIGURES: Mapping[tuple[str, str], tuple[str, float]] = {
    ("potentiometer", "log"): ("bend", 1.0),
    ("potentiometer", "antilog"): ("bend", -1.0),
    ("trimmer", "log"): ("bend", 1.0),
    ("trimmer", "antilog"): ("bend", -1.0),
    ("switch", "open"): ("closed", 0.0),
}


@dataclass(frozen=True)
class Case:
    """A package: a case that holds several units. Not an electrical part itself."""

    name: str
    kind: str
    line: PartLine
    family: str = ""
    channel: str = ""
    spot: Spot = Spot()


@dataclass
class Assumed:
    """Defaults taken, in words, each family named once."""

    said: dict[str, None] = field(default_factory=dict)

    def say(self, family: str, words: str) -> None:
        """Remember one default."""
        self.said.setdefault(f"{family}: {words}")


def classes_of(kind: Kind, line: PartLine, case: Case | None) -> tuple[str, ...]:
    """Class words typed on the line or the case; else the usual class."""
    typed = line.classes or (case.line.classes if case else ())
    return typed or ((kind.default_class,) if kind.default_class else ())


def figures_of(family: str, line: PartLine, case: Case | None, assumed: Assumed) -> dict[str, Figure]:
    """Every figure of the part: typed ones first, then the defaults that depend on them."""
    kind = KINDS[line.kind or (case.kind if case else "")]
    items = (*(case.line.items if case else ()), *line.items)
    typed = _typed_figures(family, kind, items, assumed)
    classes = classes_of(kind, line, case)
    figures = {**_signal_figures(family, kind, items, typed, assumed), **typed}
    for parameter in kind.parameters:
        if parameter.name not in figures:
            figures[parameter.name] = _default(family, kind, parameter, Draft(classes, figures), assumed)
    for one in classes:
        if (kind.name, one) in CLASS_FIGURES:
            name, value = CLASS_FIGURES[kind.name, one]
            figures[name] = Figure(value, "1")
    at = next((item for item in items if item.what == "at resistance"), None)
    if at:
        figures["position"] = _position(kind, figures, at)
    return {parameter.name: figures[parameter.name] for parameter in kind.parameters}


def _typed_figures(family: str, kind: Kind, items: tuple[Item, ...], assumed: Assumed) -> dict[str, Figure]:
    found: dict[str, Figure] = {}
    for item in items:
        if item.what == "figure" and item.value is not None:
            parameter = kind.parameter(item.name)
            _refuse_nonsense(item.value, parameter)
            found[item.name] = typed_figure(item.value, parameter)
            if item.value.tolerance is None and found[item.name].law == "tolerance":
                assumed.say(
                    family,
                    f"{label(parameter)} {_shown(item.value.si, parameter)} within "
                    f"{100 * parameter.spread:g} % (no tolerance typed)",
                )
    return found


def _signal_figures(
    family: str, kind: Kind, items: tuple[Item, ...], typed: Mapping[str, Figure], assumed: Assumed
) -> dict[str, Figure]:
    """What a source is said to play: how large, and on top of which volts."""
    item = next((one for one in items if one.signal), None)
    if item is None or item.signal is None or item.value is None:
        return {}
    if "volts" in typed and item.signal.base is not None:
        raise Refused(
            f"volts beside `{item.signal.word}` would be said twice", f"write the two ends alone: `{item.signal.said}`"
        )
    parameter = kind.parameter("signal")
    refuse_impossible(item.signal.size, parameter)
    if item.signal.word == "mains" and "mains" in item.typed and "%" not in item.typed:
        assumed.say(family, f"mains within {100 * MAINS_SPREAD:g} % (what public supplies keep to)")
    size = typed_figure(item.value, parameter)
    return {"volts": Figure(item.signal.base or 0.0, "V"), "signal": size}


def _refuse_nonsense(value: Value, parameter: Parameter) -> None:
    """A typed value that no part can have."""
    if value.unknown:
        return
    for si in (value.si,) if value.low is None or value.high is None else (value.low, value.high):
        refuse_impossible(si, parameter)
    if value.tolerance is not None and value.tolerance > 1.0:
        raise Refused(f"a tolerance of {100 * value.tolerance:g} % says nothing", "write a range like 1k..10k, or ?")


def refuse_impossible(si: float, parameter: Parameter) -> None:
    """Raise Refused for what no part has and the equations would divide by or overflow with."""
    said = f"{label(parameter)} {_shown(si, parameter) if abs(si) < 1e15 else f'{si:g}'}"
    band = f"usual is {_shown(parameter.low, parameter)} to {_shown(parameter.high, parameter)}"
    if parameter.unit == "%" and not parameter.low <= si <= parameter.high:
        raise Refused(f"{said} is no place on the way", "write 0% to 100%")
    if parameter.low > 0 and (si == 0 if parameter.turns else si <= 0):
        link = " (a wire link is `lead  A > B`)" if parameter.unit == "ohm" and not parameter.word else ""
        raise Refused(f"{said} is not above nought", f"write ? when nobody knows; {band}{link}")
    if abs(si) > parameter.high * FARTHEST or 0 < abs(si) < parameter.low / FARTHEST:
        raise Refused(f"{said} is no figure of this world", band)


def typed_figure(value: Value, parameter: Parameter) -> Figure:
    """The figure a typed value stands for."""
    if value.unknown:
        return unknown_figure(parameter)
    if value.low is not None and value.high is not None:
        return Figure(value.si, parameter.unit, "range", low=value.low, high=value.high)
    spread = parameter.spread if value.tolerance is None else value.tolerance
    if not spread:
        return Figure(value.si, parameter.unit)
    if parameter.law == "offset" and parameter.unit != "%" and value.tolerance is not None:
        spread = value.tolerance * abs(value.si)
    return Figure(value.si, parameter.unit, parameter.law, spread)


def unknown_figure(parameter: Parameter) -> Figure:
    """`?`: anything plausible, a decade less at either end where the band is very wide."""
    low, high = parameter.low, min(parameter.high, 1e12)
    if low > 0 and high / low > WIDEST:
        low, high = low * 10.0, high / 10.0
    middle = math.sqrt(low) * math.sqrt(high) if low > 0 else 0.5 * (low + high)
    return Figure(middle, parameter.unit, "range", low=low, high=high, unknown=True)


def _default(family: str, kind: Kind, parameter: Parameter, draft: Draft, assumed: Assumed) -> Figure:
    """What is assumed when the line does not say."""
    if parameter.default is None:
        raise Refused(f"{family} has no {label(parameter)}", f"write it, or ? when nobody knows: `{kind.name} ?`")
    figure = parameter.default(draft) if callable(parameter.default) else parameter.default
    if parameter.word != "-":
        assumed.say(family, f"{label(parameter)} {_range_in_words(figure, parameter)} ({figure.reason})")
    return figure


def _range_in_words(figure: Figure, parameter: Parameter) -> str:
    """0.3 Ω, or `anywhere from 100 to 400`."""
    if figure.law == "range":
        return f"anywhere from {_shown(figure.low, parameter)} to {_shown(figure.high, parameter)}"
    return _shown(figure.nominal, parameter)


def _shown(value: float, parameter: Parameter) -> str:
    return write_reading(value, parameter.unit)


def label(parameter: Parameter) -> str:
    """The figure's name as a repairer says it."""
    if parameter.name == "esr":
        return "ESR"
    return parameter.word or parameter.name.replace("_", " ")


def _position(kind: Kind, figures: Mapping[str, Figure], item: Item) -> Figure:
    """Rotation at which the wiper stands so many ohms from one end; the law of the track turned round."""
    from probewright.machine.kinds import potentiometer

    assert item.value is not None
    whole = figures["resistance"].nominal
    share = item.value.si / whole
    if not 0.0 <= share <= 1.0:
        raise Refused(f"{item.typed} lies outside the track", f"write at most {write_reading(whole, 'ohm')}")
    share = 1.0 - share if item.name == "top" else share
    fraction: Callable[[float, float], float] = potentiometer.track_fraction
    low, high = 0.0, 1.0
    for _ in range(60):  # halving: the track rises from end to end, whatever its law
        middle = 0.5 * (low + high)
        low, high = (middle, high) if float(fraction(middle, figures["bend"].nominal)) < share else (low, middle)
    parameter = kind.parameter("position")
    return Figure(0.5 * (low + high), "%", parameter.law, parameter.spread)


def part_from(line: PartLine, name: str, family: str, case: Case | None, assumed: Assumed) -> Part:
    """The part with names as typed; the caller fills in section, channel, role and nets."""
    kind = KINDS[line.kind or (case.kind if case else "")]
    figures = figures_of(family, line, case, assumed)
    match = next((item for item in line.items if item.what == "matched"), None)
    stays = any(item.what == "off" for item in line.items)
    played = next((item.signal for item in line.items if item.signal), None)
    off = "stays" if stays else ("resistance" if any(item.name == "off" for item in line.items) else "default")
    return Part(
        name=name,
        kind=kind.name,
        pins=line.pins,
        figures=figures,
        classes=classes_of(kind, line, case),
        ratings=tuple(item.rating for item in line.items if item.rating),
        family=family,
        matched=match.name if match else "",
        match_spread=match.value.si if match and match.value else 0.0,
        off=off,
        plays=played.course(name) if played else None,
        order=next((item.pins for item in line.items if item.what == "order"), ()),
        pitch=next((item.value.si for item in line.items if item.what == "pitch" and item.value), 0.0),
    )


def with_nets(part: Part, pins: Mapping[str, str]) -> Part:
    """The part on other nets; pins that are `nc` get a private one."""
    return replace(part, pins={pin: f"nc:{part.name}.{pin}" if net == "nc" else net for pin, net in pins.items()})


def control_value(typed: str, unit: str) -> float:
    """One plain number for a control; refuses ranges, tolerances and `?`."""
    value = read_value(typed, unit)
    if value.unknown or value.low is not None or value.tolerance is not None:
        raise Refused(
            f"{typed!r} is not one value",
            "an unknown or uncertain setting is not computed yet; "
            "write one value here, or put ? in the part's own line",
        )
    return value.si
