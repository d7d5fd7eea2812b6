"""Readings and set-ups as plain values for the record, and back, exactly."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from probewright.machine.model import Zone
from probewright.readings import Look, Question, Reading, Setup
from probewright.readings.bench import Bench

OVER = "over limit"  # stands for an infinite figure, which JSON does not know


def keep_setup(setup: Setup) -> dict[str, Any]:
    """A set-up with what differs from the plainest one alone."""
    plainest = Setup()
    found = {f.name: getattr(setup, f.name) for f in fields(Setup)}
    return {name: _listed(value) for name, value in found.items() if value != getattr(plainest, name)}


def kept_setup(plain: Mapping[str, Any]) -> Setup:
    """The set-up that `keep_setup` wrote."""
    return Setup(**{name: _tupled(value) for name, value in plain.items()})


def keep_look(look: Look) -> dict[str, Any]:
    """How an oscilloscope is set, what differs from the usual alone."""
    found = {f.name: getattr(look, f.name) for f in fields(Look)}
    return {name: _listed(value) for name, value in found.items() if value != getattr(Look(), name)}


def kept_look(plain: Mapping[str, Any]) -> Look:
    """What `keep_look` wrote."""
    return Look(**{name: _tupled(value) for name, value in plain.items()})


def keep_reading(reading: Reading) -> dict[str, Any]:
    """A reading as plain values."""
    ask = reading.question
    kept: dict[str, Any] = {
        "instrument": ask.instrument,
        "red": ask.red,
        "black": ask.black,
        "setup": keep_setup(ask.setup),
        "answer": _figure(reading.answer) if isinstance(reading.answer, float) else reading.answer,
        "word": isinstance(reading.answer, str),
        "hookup": reading.hookup,
        "showing": reading.showing,
        "sitting": reading.sitting,
        "about": reading.about,
        "text": reading.text,
    }
    if ask.look != Look():
        kept["look"] = keep_look(ask.look)
    if reading.bound is not None:
        kept["bound"] = [_figure(end) for end in reading.bound]
    return kept


def kept_reading(plain: Mapping[str, Any]) -> Reading:
    """The reading that `keep_reading` wrote."""
    answer = plain["answer"]
    bound = plain.get("bound")
    return Reading(
        Question(
            plain["instrument"],
            plain["red"],
            plain["black"],
            kept_setup(plain["setup"]),
            kept_look(plain.get("look", {})),
        ),
        answer if plain["word"] else _number(answer),
        plain["hookup"],
        plain["showing"],
        plain["sitting"],
        plain["about"],
        None if bound is None else (_number(bound[0]), _number(bound[1])),
        plain["text"],
    )


def _figure(value: float) -> float | str:
    if math.isinf(value):
        return OVER if value > 0 else f"-{OVER}"
    return value


def _number(plain: float | str) -> float:
    if isinstance(plain, str):
        return math.inf if plain == OVER else -math.inf
    return float(plain)


def _listed(value: Any) -> Any:
    return [_listed(one) for one in value] if isinstance(value, tuple) else value


def _tupled(value: Any) -> Any:
    return tuple(_tupled(one) for one in value) if isinstance(value, list) else value


def keep_zone(zone: Zone) -> dict[str, Any]:
    """A zone as plain values."""
    return {"kind": zone.kind, "places": list(zone.places), "around": zone.around}


def kept_zone(plain: Mapping[str, Any]) -> Zone:
    """The zone that was kept."""
    return Zone(plain["kind"], tuple(plain["places"]), plain["around"])


def keep_bench(bench: Bench) -> dict[str, Any]:
    """How the bench stands, without its last reading, which the lines hold."""
    return {
        "setup": keep_setup(bench.setup), "sitting": bench.sitting, "taken": bench.taken,
        "disturbed": bench.disturbed, "hookups": bench.hookups, "power_said": bench.power_said,
        "fitted": list(bench.fitted), "mended": list(bench.mended), "side": bench.side,
        "turns": bench.turns, "told": bench.told,
    }  # fmt: skip


def kept_bench(plain: Mapping[str, Any], last: Reading | None) -> Bench:
    """What `keep_bench` wrote; last: its last reading."""
    setup = kept_setup(plain["setup"])
    return Bench(
        setup,
        plain["sitting"],
        plain["taken"],
        plain["disturbed"],
        last,
        plain["hookups"],
        plain.get("power_said", False),
        tuple(plain.get("fitted", ())),
        tuple(plain.get("mended", ())),
        plain.get("side", ""),
        plain.get("turns", 0),
        plain.get("told", 0),
    )
