"""Laws of every kind and every batch; answers from closed forms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations
from typing import Any

import numpy as np
import pytest
from pytest import approx

from probewright.machine import Machine, read
from probewright.machine.edits import AddPath, FreePin, SetFigure, Unplug
from probewright.machine.kinds import KINDS, THERMAL_VOLTS, Kind
from probewright.machine.model import Figure, Part
from probewright.simulation.alternating import small_signal
from probewright.simulation.circuit import Batch, Circuit, Freed, Path, Push, compile_circuit, healthy_batch
from probewright.simulation.meters import ac_volts, dc_volts, ohms_between
from probewright.simulation.newton import (
    BLOCK,
    Rest,
    Sheet,
    Start,
    come_to_rest,
    mutual_ohms,
    pair_ohms,
    source_ohms,
    start_like,
)
from probewright.simulation.pattern import back_substitute, eliminate, find_pattern, selected_inverse, sweep

LEAK = 1e-12  # S from every node to ground, as the method page says
# What the equations of a kind divide by or hold a level with, at a usual size; anything else is one.
USUAL = {
    "resistance": 1e4,
    "capacitance": 1e-6,
    "esr": 0.5,
    "leak": 1e7,
    "volts": 9.0,
    "limit": 0.5,
    "series": 2.0,
    "gain": 150.0,
    "saturation": 1e-12,
    "ideality": 1.7,
    "input": 1e5,
    "output": 600.0,
    "r_out": 20.0,
    "slope": 8.0,
    "bandwidth": 1e6,
    "headroom_high": 1.5,
    "headroom_low": 0.1,
    "supply_current": 2e-3,
    "quiescent": 4e-3,
    "drop": 2.0,
    "offset": 1e-3,
    "position": 0.3,
    "wiper": 3.0,
    "stuck": 0.0,
    "bend": 0.0,
}


def machine(*lines: str) -> Machine:
    """A machine of these part lines."""
    return read("machine: bench\nparts:\n" + "".join(f"  {line}\n" for line in lines))


def alone(*lines: str) -> tuple[Circuit, Batch]:
    """Circuit and healthy variant of these part lines."""
    circuit = compile_circuit(machine(*lines))
    return circuit, healthy_batch(circuit)


def many(circuit: Circuit, size: int, **figures: Any) -> Batch:
    """So many variants; R1_resistance=values gives one figure of one part."""
    batch = healthy_batch(circuit)
    given = {tuple(key.split("_", 1)): value for key, value in figures.items()}
    assert set(given) <= set(batch.figures)
    return replace(batch, size=size, figures={**batch.figures, **given})


def volts(circuit: Circuit, rest: Rest, place: str) -> np.ndarray:
    assert rest.solved.all()
    return rest.volts[circuit.at(place)]


def one_of(kind: Kind, *nets: str) -> Machine:
    """One part of a kind on nets of its own, every figure at a usual size."""
    figures = {p.name: Figure(USUAL.get(p.name, 1.0), p.unit) for p in kind.parameters}
    pins = dict(zip(kind.pins, nets or [f"N{n}" for n in range(len(kind.pins))], strict=True))
    return Machine("bench", {"X1": Part("X1", kind.name, pins, figures)})


def dense(circuit: Circuit, values: np.ndarray) -> np.ndarray:
    """(node, node, variant) from (slot, variant)."""
    found = np.zeros((circuit.size, circuit.size, values.shape[1]), values.dtype)
    for (row, column), slot in circuit.pattern.slot.items():
        found[row, column] = values[slot]
    return found


def every_kind() -> list[Kind]:
    return list(dict.fromkeys(KINDS.values()))


EVERY_KIND = pytest.mark.parametrize("kind", every_kind(), ids=lambda kind: kind.name)
BENT = [kind for kind in every_kind() if kind.nonlinear is not None]


# the laws of every kind


@EVERY_KIND
@pytest.mark.parametrize("omega", [0.0, 2e4])
def test_a_stamp_creates_no_current_and_feels_only_differences(kind: Kind, omega: float) -> None:
    """Kirchhoff: columns sum to nought. No pin is special: rows sum to nought. Both but for the stated leak."""
    circuit = compile_circuit(one_of(kind))
    sheet = Sheet(circuit, healthy_batch(circuit), 1j * omega if omega else 0.0)
    matrix = sheet.base.copy()
    for which, _, companion in sheet.companions(scattered(circuit.size, 1), None):
        slope = companion.slope
        if omega and kind.alternating is not None:
            slope = kind.alternating(sheet.figures[which], slope, omega)
        sheet.stamp_slopes(matrix, which, slope)
    full = dense(circuit, matrix)[..., 0]
    slack = 1e-12 * np.abs(full).max() + 1e-18
    assert np.abs(full.sum(axis=1) - LEAK).max() < slack
    if not (omega and kind.alternating is not None):  # a pole lets the supplies feel the inputs late, not at once
        assert np.abs(full.sum(axis=0) - LEAK).max() < slack


@EVERY_KIND
def test_every_kind_does_something(kind: Kind) -> None:
    """No kind whose pins are all joined to nothing."""
    circuit = compile_circuit(one_of(kind))
    sheet = Sheet(circuit, healthy_batch(circuit))
    matrix = sheet.base.copy()
    for which, _, companion in sheet.companions(scattered(circuit.size, 1), None):
        sheet.stamp_slopes(matrix, which, companion.slope)
    off_diagonal = dense(circuit, matrix)[..., 0] * (1.0 - np.eye(circuit.size))
    assert np.abs(off_diagonal).max() > 0.0


def scattered(pins: int, variants: int) -> np.ndarray:
    """(pin + 1, variant) volts at random, last row ground."""
    found = np.random.default_rng(20).uniform(-3.0, 12.0, (pins + 1, variants))
    found[-1] = 0.0
    return found


def pin_volts(pins: int) -> np.ndarray:
    """(pin, 1, variant) volts anywhere, and with any two pins from microvolts to volts apart."""
    rng = np.random.default_rng(7)
    found = [rng.uniform(-15.0, 15.0, (pins, 40)), rng.uniform(-0.4, 0.9, (pins, 40)), np.zeros((pins, 1))]
    for a, b in permutations(range(pins), 2):
        for apart in (1e-5, 1e-2, 0.3, 0.7, 2.0):
            close = rng.uniform(-15.0, 15.0, (pins, 6))
            close[b] = close[a] + apart * rng.uniform(-1.0, 1.0, 6)
            found.append(close)
            near = rng.uniform(-1.0, 1.0, (pins, 6))
            near[b] = near[a] + apart * rng.uniform(-1.0, 1.0, 6)
            found.append(near)
    return np.concatenate(found, axis=1)[:, None, :]


@pytest.fixture(params=BENT, ids=lambda kind: kind.name)
def bent(request: pytest.FixtureRequest) -> tuple[Kind, dict[str, np.ndarray]]:
    """A kind that is not straight, with figures as (part, variant)."""
    kind: Kind = request.param
    return kind, {p.name: np.array([[USUAL.get(p.name, 1.0)]]) for p in kind.parameters}


def whole(values: Any, like: np.ndarray) -> np.ndarray:
    return np.broadcast_to(values, like.shape[1:])[0]


def test_currents_into_a_part_sum_to_nought(bent: tuple[Kind, dict[str, np.ndarray]]) -> None:
    kind, figures = bent
    at = pin_volts(len(kind.pins))
    amps = np.array([whole(kind.nonlinear(at, figures, None).amps[pin], at) for pin in kind.pins])
    assert np.all(np.isfinite(amps))
    assert np.abs(amps.sum(axis=0)).max() <= 1e-12 * np.abs(amps).max(axis=0).max()
    assert np.all(np.abs(amps.sum(axis=0)) <= 1e-12 * np.abs(amps).max(axis=0) + 1e-18)


def test_slopes_are_the_derivatives_of_the_currents(bent: tuple[Kind, dict[str, np.ndarray]]) -> None:
    kind, figures = bent
    assert_derivative(kind, figures)


@pytest.mark.parametrize(
    ("name", "figures"),
    [
        ("npn", {"transport": 0.0, "base_collector": 0.0, "gain": 2.0}),
        ("pnp", {"transport": 0.0, "base_emitter": 0.0}),
        ("diode", {"scale": 0.0}),
        ("opamp", {"gain": 1e5}),
        ("opamp", {"gain": 0.1, "stuck": 5.0}),
        ("opamp", {"gain": 0.1, "stuck": -5.0}),
        ("opamp", {"r_out": 1e9}),
        ("regulator", {"limit": 1e-3}),
        ("regulator", {"r_out": 0.02, "limit": 1.5}),
        ("source", {"volts": 0.0, "series": 1e9}),
    ],
)
def test_slopes_stay_true_in_a_broken_part(name: str, figures: dict[str, float]) -> None:
    kind = KINDS[name]
    every = {p.name: np.array([[figures.get(p.name, USUAL.get(p.name, 1.0))]]) for p in kind.parameters}
    assert_derivative(kind, every)


def assert_derivative(kind: Kind, figures: dict[str, np.ndarray]) -> None:
    """Slopes against central differences of the law itself, nothing held back."""
    at, step = pin_volts(len(kind.pins)), 2e-7
    here = kind.nonlinear(at, figures, None)
    assert not np.any(here.held)
    largest = np.max([np.abs(whole(s, at)) for s in here.slope.values()], axis=0)
    amps = np.max([np.abs(whole(a, at)) for a in here.amps.values()], axis=0)
    noise = 4e-15 * (1.0 + amps + 15.0 * largest) / step  # what rounding of volts and amps leaves of a difference
    for column, pin in enumerate(kind.pins):
        up, down = at.copy(), at.copy()
        up[column] += step
        down[column] -= step
        more, less = kind.nonlinear(up, figures, None), kind.nonlinear(down, figures, None)
        for row in kind.pins:
            slope = whole(here.slope.get((row, pin), 0.0), at)
            difference = (whole(more.amps[row], at) - whole(less.amps[row], at)) / (2.0 * step)
            assert np.all(np.abs(slope - difference) <= 1e-4 * np.abs(slope) + 1e-6 * largest + noise), (row, pin)


def test_a_held_step_goes_through_the_point_it_is_held_at() -> None:
    """The straight line drawn at the held point passes through the law there: 10 mA junction from 0.6 V."""
    diode = KINDS["diode"]
    figures = {
        "saturation": np.array([[1e-14]]),
        "ideality": np.array([[1.0]]),
        "scale": np.array([[1.0]]),
        "turned": np.array([[1.0]]),
    }
    cold = diode.nonlinear(np.array([[[5.0]], [[0.0]]]), figures, {"at": np.array([[0.6]])})
    assert cold.held.all()
    point = cold.memory["at"]
    law = 1e-14 * (np.exp(point / THERMAL_VOLTS) - 1.0)
    line = cold.amps["a"] + cold.slope["a", "a"] * (point - 5.0)
    assert line == approx(law, rel=1e-6)
    assert 0.6 < point < 0.8


# elimination


def random_matrix(rng: np.random.Generator, size: int, ties: int, variants: int, number: type):
    """A pattern, its values (slot, variant) and the dense matrix (variant, node, node)."""
    pairs = [(int(a), int(b)) for a, b in rng.integers(0, size, (ties, 2))]
    pattern = find_pattern(size, pairs)
    values = np.zeros((len(pattern.slot), variants), number)
    full = np.zeros((variants, size, size), number)
    own = {(n, n) for n in range(size)} | set(pairs) | {(b, a) for a, b in pairs}
    for (row, column), slot in pattern.slot.items():
        if (row, column) in own:
            some = rng.normal(size=variants)
            if number is complex:
                some = some + 1j * rng.normal(size=variants)
            values[slot] = some + (6.0 if row == column else 0.0)
            full[:, row, column] = values[slot]
    return pattern, values, full


@pytest.mark.parametrize("number", [float, complex])
@pytest.mark.parametrize(("size", "ties"), [(1, 0), (3, 3), (9, 14), (17, 30)])
def test_elimination_is_lapack_s_answer(size: int, ties: int, number: type) -> None:
    rng = np.random.default_rng(size)
    pattern, values, full = random_matrix(rng, size, ties, 5, number)
    right = rng.normal(size=(size, 5)).astype(number)
    factors, swept = values.copy(), right.copy()
    sign = eliminate(pattern, factors, swept)
    expected = np.linalg.solve(full, right.T[..., None])[..., 0].T
    assert back_substitute(pattern, factors, swept) == approx(expected, rel=1e-9, abs=1e-12)
    assert sweep(pattern, factors, right.copy()) == approx(expected, rel=1e-9, abs=1e-12)
    if number is float:
        assert sign == approx(np.sign(np.linalg.det(full)))


def test_the_sign_of_the_determinant_is_counted() -> None:
    pattern = find_pattern(2, [(0, 1)])
    values = np.zeros((4, 3))
    for (row, column), slot in pattern.slot.items():
        values[slot] = {(0, 0): [1, 1, -1], (1, 1): [1, 1, -1]}.get((row, column), [0.5, 2.0, 0.5])
    assert list(eliminate(pattern, values, np.zeros((2, 3)))) == [1.0, -1.0, 1.0]


@pytest.mark.parametrize("number", [float, complex])
@pytest.mark.parametrize(("size", "ties"), [(1, 0), (4, 5), (9, 14), (17, 30)])
def test_selected_inverse_is_the_inverse_on_the_pattern(size: int, ties: int, number: type) -> None:
    rng = np.random.default_rng(100 + size)
    pattern, values, full = random_matrix(rng, size, ties, 3, number)
    factors = values.copy()
    eliminate(pattern, factors, np.zeros((size, 3), number))
    inverse, found = np.linalg.inv(full), selected_inverse(pattern, factors)
    for (row, column), slot in pattern.slot.items():
        assert found[slot] == approx(inverse[:, row, column], rel=1e-9, abs=1e-12)


def test_a_star_is_taken_apart_from_its_ends() -> None:
    """The hub last: no entry beyond those of the parts. The hub first would fill the whole matrix."""
    assert len(find_pattern(20, [(0, n) for n in range(1, 20)]).slot) == 20 + 2 * 19


# batches

STAGE = (
    "PSU: source 12V series 1R  VCC > GND",
    "R1: resistor 47k  VCC > B",
    "R2: resistor 10k  B > GND",
    "Q1: npn gain 150 saturation 1e-14A  c=C b=B e=E",
    "R3: resistor 3k3  VCC > C",
    "R4: resistor 1k  E > GND",
    "D1: zener 5V1  GND > C",
    "R5: resistor 22k  C > OUT",
    "R6: resistor 10k  OUT > GND",
)


def stage(size: int, seed: int = 3) -> tuple[Circuit, Batch]:
    """Variants of one stage, from cut off to saturated."""
    circuit = compile_circuit(machine(*STAGE))
    rng = np.random.default_rng(seed)
    spread = {name: 10.0 ** rng.uniform(2.0, 6.0, size) for name in ("R1", "R2", "R3", "R4")}
    return circuit, many(circuit, size, **{f"{name}_resistance": ohms for name, ohms in spread.items()})


@pytest.mark.parametrize("size", [1, 2, 7, BLOCK + 6])
def test_a_variant_does_not_feel_its_neighbours(size: int) -> None:
    circuit, batch = stage(size)
    together = come_to_rest(circuit, batch)
    assert together.solved.all()
    for n in {0, size // 2, size - 1}:
        single = come_to_rest(circuit, batch.take(np.array([n])))
        assert together.volts[:, n] == approx(single.volts[:, 0], abs=1e-6)


def test_the_order_of_variants_does_not_matter() -> None:
    circuit, batch = stage(61)
    order = np.random.default_rng(1).permutation(61)
    figures = {key: value if np.ndim(value) == 0 else value[order] for key, value in batch.figures.items()}
    forth, back = come_to_rest(circuit, batch), come_to_rest(circuit, replace(batch, figures=figures))
    assert back.volts == approx(forth.volts[:, order], abs=1e-6)


def test_currents_at_every_node_sum_to_nought_at_rest() -> None:
    """Kirchhoff again, from the parts' own laws at the answer."""
    circuit, batch = stage(40)
    rest = come_to_rest(circuit, batch)
    sheet = Sheet(circuit, batch)
    error = np.einsum("ijv,jv->iv", dense(circuit, sheet.base), rest.volts[:-1])
    sheet_amps = np.zeros_like(error)
    for which, _, companion in sheet.companions(rest.volts, None):
        sheet.stamp_amps(sheet_amps, which, {k: np.broadcast_to(a, (1, 40)) for k, a in companion.amps.items()})
    assert np.abs(error - sheet_amps).max() < 1e-8  # 1 S of source times CLOSE_VOLTS


def spans_of(circuit: Circuit) -> Batch:
    """Nine variants: healthy, a path, a pin freed, in spans of several widths."""
    return replace(
        many(circuit, 9, R5_resistance=np.linspace(1e4, 3e4, 9)),
        paths=(Path("C", "Q1.b", 1, 3, np.array([4700.0, 330.0])), Path("OUT", "GND", 2, 4, 15e3)),
        freed=(Freed("Q1", "b", 4, 6, np.array([1e12, 5e3])), Freed("R5", "2", 6, 7, 2.2e4)),
    )


def wide() -> Circuit:
    """The stage with room for what `spans_of` does to it."""
    return compile_circuit(
        machine(*STAGE), paths=[("C", "Q1.b"), ("OUT", "GND"), ("C", "C")], freed=[("Q1", "b"), ("R5", "2")]
    )


@pytest.mark.parametrize("chosen", [[0], [1], [2, 5], [4, 5, 6], [3, 6, 8], list(range(9))])
def test_a_part_of_a_batch_is_that_part_of_its_answer(chosen: list[int]) -> None:
    circuit = wide()
    batch = spans_of(circuit)
    full, part = come_to_rest(circuit, batch), come_to_rest(circuit, batch.take(np.array(chosen)))
    assert full.solved.all() and part.solved.all()
    for place in ("VCC", "B", "C", "E", "OUT", "Q1.b", "R5.2"):
        taken = circuit.volts_at(place, batch.take(np.array(chosen)), part.volts)
        assert taken == approx(circuit.volts_at(place, batch, full.volts)[chosen], abs=1e-6), place


@pytest.mark.parametrize("chosen", [[0], [2, 5], [4, 5, 6], [3, 6, 8], list(range(9))])
def test_a_part_of_a_sheet_is_the_sheet_of_that_part(chosen: list[int]) -> None:
    circuit, these = wide(), np.array(chosen)
    batch = spans_of(circuit)
    volts = come_to_rest(circuit, batch).volts[:, these]
    taken, anew = Sheet(circuit, batch).take(these), Sheet(circuit, batch.take(these))
    for mine, theirs in zip(taken.linearise(volts, None)[:2], anew.linearise(volts, None)[:2], strict=True):
        assert np.array_equal(mine, theirs)


def typed_again(*changes: tuple[str, str]) -> tuple[str, ...]:
    """The stage with some lines typed otherwise."""
    lines = "\n".join(STAGE)
    for old, new in changes:
        assert old in lines
        lines = lines.replace(old, new)
    return tuple(lines.splitlines())


@pytest.mark.parametrize(
    ("variant", "lines"),
    [
        (0, typed_again()),
        (1, (*typed_again(), "R9: resistor 4k7  C > B")),
        (2, (*typed_again(), "R9: resistor 330R  C > B", "R8: resistor 15k  OUT > GND")),
        (3, (*typed_again(), "R8: resistor 15k  OUT > GND")),
        (5, (*typed_again(("b=B", "b=LEG")), "R9: resistor 5k  B > LEG")),
        (6, (*typed_again(("C > OUT", "C > LEG")), "R9: resistor 22k  LEG > OUT")),
        (8, typed_again()),
    ],
)
def test_a_span_is_the_circuit_typed_so(variant: int, lines: tuple[str, ...]) -> None:
    circuit = wide()
    batch = spans_of(circuit)
    ohms = batch.figures["R5", "resistance"][variant]
    rest = come_to_rest(circuit, batch)
    apart, typed = alone(*lines)
    other = come_to_rest(apart, replace(typed, figures={**typed.figures, ("R5", "resistance"): ohms}))
    for net in ("VCC", "B", "C", "E", "OUT"):
        assert rest.volts[circuit.at(net), variant] == approx(other.volts[apart.at(net), 0], abs=1e-6), net
    if "LEG" in apart.node:
        leg = "Q1.b" if variant == 5 else "R5.2"
        assert circuit.volts_at(leg, batch, rest.volts)[variant] == approx(other.volts[apart.at("LEG"), 0], abs=1e-6)


def test_a_path_from_a_freed_pin_starts_at_its_metal() -> None:
    """R5 leaves OUT with 22k between; a wire of 10k from the metal of the pin to ground, not from the net."""
    circuit = compile_circuit(machine(*STAGE), paths=[("R5.2", "GND")], freed=[("R5", "2")])
    batch = replace(many(circuit, 3), paths=(Path("R5.2", "GND", 0, 3, 1e4),), freed=(Freed("R5", "2", 1, 2, 2.2e4),))
    found = volts(circuit, come_to_rest(circuit, batch), "OUT")
    apart, typed = alone(
        *typed_again(("C > OUT", "C > LEG")), "R8: resistor 10k  LEG > GND", "R9: resistor 22k  LEG > OUT"
    )
    assert found[1] == approx(volts(apart, come_to_rest(apart, typed), "OUT")[0], abs=1e-6)
    assert found[0] == found[2] != approx(found[1], abs=0.01)


def test_what_the_set_up_does_is_the_circuit_typed_so() -> None:
    bench = (SetFigure("R3", "resistance", 1e3), AddPath("C", "B", 1e5), FreePin("R2", "1", float("inf")), Unplug("R6"))
    circuit = compile_circuit(machine(*STAGE), bench)
    rest = come_to_rest(circuit, healthy_batch(circuit))
    lines = [line for line in typed_again(("3k3", "1k"), ("B > GND", "OFF > GND")) if not line.startswith("R6")]
    apart, typed = alone(*lines, "R9: resistor 100k  C > B")
    other = come_to_rest(apart, typed)
    for net in ("VCC", "B", "C", "E", "OUT"):
        assert volts(circuit, rest, net) == approx(volts(apart, other, net), abs=1e-6), net
    assert circuit.at("R2.1") not in (circuit.at("B"), circuit.at("R2.2"))


def test_a_supply_pin_of_a_case_is_freed_for_all_its_units() -> None:
    lines = (
        "PSU: source 12V  SUP > GND",
        "U1: opamp dual  vplus=SUP vminus=GND",
        "U1A: of U1  plus=REF minus=A out=A",
        "U1B: of U1  plus=REF minus=B out=B",
        "R1: resistor 10k  SUP > REF",
        "R2: resistor 10k  REF > GND",
        "R3: resistor 2k  A > GND",
        "R4: resistor 2k  B > GND",
    )
    circuit = compile_circuit(machine(*lines), freed=[("U1", "vplus")])
    batch = replace(many(circuit, 2), freed=(Freed("U1", "vplus", 1, 2, 1e12),))
    rest = come_to_rest(circuit, batch)
    for out in ("A", "B"):
        assert volts(circuit, rest, out) == approx([6.0, 0.0], abs=0.05)
    assert rest.volts[circuit.at("SUP"), 1] == approx(12.0, abs=1e-3)


@pytest.mark.parametrize("warm", ["volts", "controls"])
def test_where_newton_starts_does_not_matter(warm: str) -> None:
    circuit, batch = stage(64)
    cold = come_to_rest(circuit, batch)
    start = (
        Start(cold.volts[:, ::-1].copy())
        if warm == "volts"
        else start_like(circuit, batch.take(np.arange(0, 64, 8)), [8] * 8)
    )
    again = come_to_rest(circuit, batch, start)
    assert again.solved.all()
    assert again.volts == approx(cold.volts, abs=1e-5)


# source resistance


def test_source_ohms_are_what_a_little_current_moves() -> None:
    circuit, batch = stage(12)
    rest = come_to_rest(circuit, batch)
    ohms = source_ohms(circuit, batch, rest)
    for net in ("VCC", "B", "C", "E", "OUT"):
        amps = 1e-5 / ohms[circuit.at(net)].max()
        up, down = (
            come_to_rest(circuit, replace(batch, pushes=(Push(net, "GND", sign * amps),)), Start(rest.volts))
            for sign in (1.0, -1.0)
        )
        moved = (volts(circuit, up, net) - volts(circuit, down, net)) / (2.0 * amps)
        assert ohms[circuit.at(net)] == approx(moved, rel=2e-3, abs=2e-2 * ohms[circuit.at(net)].max()), net
    assert np.all(ohms[-1] == 0.0)


def test_source_ohms_of_a_divider() -> None:
    """10k over 15k: 6k, behind 1 ohm of source; 25k between the two is 10k beside 15k and 1 ohm."""
    circuit, batch = alone("PSU: source 10V series 1R  A > GND", "R1: resistor 10k  A > B", "R2: resistor 15k  B > GND")
    rest = come_to_rest(circuit, batch)
    ohms = source_ohms(circuit, batch, rest)
    assert ohms[circuit.at("B"), 0] == approx(10001.0 * 15e3 / 25001.0, rel=1e-7)
    mutual = mutual_ohms(circuit, batch, rest)
    assert pair_ohms(circuit, batch, mutual, "A", "B")[0] == approx(10e3 * 15001.0 / 25001.0, rel=1e-6)


# more than one answer, and none

LATCH = (
    "PSU: source 12V  SUP > GND",
    "NEG: source 12V  GND > LOW",
    "U1: opamp rail-to-rail offset 0V 0%  plus=IN minus=GND out=OUT vplus=SUP vminus=LOW",
    "R1: resistor 10k  OUT > IN",
    "R2: resistor 10k  IN > GND",
)


def test_a_latch_shows_both_lasting_answers_and_says_so() -> None:
    """A comparator with positive feedback balances at nought, but not for long."""
    circuit = compile_circuit(machine(*LATCH))
    rest = come_to_rest(circuit, many(circuit, 6))
    out = volts(circuit, rest, "OUT")
    assert rest.unstable.all()
    assert sorted(np.sign(out)) == [-1, -1, -1, 1, 1, 1]
    assert np.abs(out) == approx(np.full(6, 11.9), abs=0.1)
    assert rest.volts[circuit.at("IN")] == approx(out / 2.0, rel=2e-5)  # less what the input takes


def test_a_stage_with_negative_feedback_is_not_called_a_latch() -> None:
    circuit = compile_circuit(machine(*(line.replace("plus=IN minus=GND", "plus=GND minus=IN") for line in LATCH)))
    rest = come_to_rest(circuit, many(circuit, 3))
    assert not rest.unstable.any()
    assert volts(circuit, rest, "OUT") == approx(np.zeros(3), abs=1e-3)


def test_a_latch_that_is_pushed_far_enough_has_one_answer() -> None:
    circuit = compile_circuit(machine(*LATCH, "R3: resistor 5k  HIGH > IN", "V3: source 9V  HIGH > GND"))
    rest = come_to_rest(circuit, many(circuit, 4, V3_volts=np.array([9.0, -9.0, 9.0, -9.0])))
    assert list(np.sign(volts(circuit, rest, "OUT"))) == [1, -1, 1, -1]


NAN, INFINITE = float("nan"), float("inf")


@pytest.mark.parametrize(
    ("figure", "bad"),
    [("R3_resistance", NAN), ("Q1_gain", NAN), ("PSU_volts", NAN), ("D1_volts", NAN), ("PSU_volts", INFINITE)],
)
def test_a_figure_that_is_no_number_is_never_solved_and_harms_no_neighbour(figure: str, bad: float) -> None:
    circuit = compile_circuit(machine(*STAGE))
    healthy = healthy_batch(circuit)
    good = healthy.figures[tuple(figure.split("_"))]
    with np.errstate(all="ignore"):
        rest = come_to_rest(circuit, many(circuit, 3, **{figure: np.array([good, bad, good])}))
    assert list(rest.solved) == [True, False, True]
    expected = come_to_rest(circuit, healthy).volts[:, 0]
    assert rest.volts[:, 0] == approx(expected, abs=1e-6)
    assert rest.volts[:, 2] == approx(expected, abs=1e-6)


def test_nan_is_not_passed_on_by_meters_or_phasors() -> None:
    circuit = compile_circuit(machine(*STAGE))
    batch = many(circuit, 2, R1_resistance=np.array([47e3, np.nan]))
    with np.errstate(all="ignore"):
        rest = come_to_rest(circuit, batch)
        ohms = source_ohms(circuit, batch, rest)
        read_off = dc_volts(circuit, batch, rest, ohms, "C", "GND", 10e6)
        phasors = small_signal(circuit, batch, rest, 1e3)
    assert list(read_off.judged) == [True, False]
    assert list(phasors.solved) == [True, False]


UNPOWERED = (
    "PSU: source 0V  SUP > GND",
    "U1: opamp {}  plus=IN minus=OUT out=OUT vplus=SUP vminus=GND",
    "R1: resistor 100k  IN > GND",
    "R2: resistor 100k  OUT > GND",
)


@pytest.mark.parametrize("law", ["generic", "rail-to-rail", "single-supply"])
def test_without_power_every_place_stands_at_nought(law: str) -> None:
    circuit, batch = alone(*(line.format(law) for line in UNPOWERED))
    rest = come_to_rest(circuit, batch)
    assert rest.solved.all()
    assert rest.volts[:, 0] == approx(np.zeros(circuit.size + 1), abs=1e-4)


@pytest.mark.parametrize("law", ["generic", "rail-to-rail", "single-supply"])
def test_without_power_an_output_lets_go(law: str) -> None:
    """An ohmmeter on the output finds the 100k that stands there and nothing else."""
    circuit, batch = alone(*(line.format(law) for line in UNPOWERED))
    shown = ohms_between(circuit, batch, come_to_rest(circuit, batch), "OUT", "GND", 0.3, 1e4, 1e7)
    assert shown.value[0] == approx(100e3, rel=0.03)


@pytest.mark.parametrize("volts_across", [3.0, 9.0, 24.0, 60.0, 300.0])
@pytest.mark.parametrize(
    ("line", "gone"),
    [
        ("X1: diode rectifier  A > B", {"X1_scale": 0.0}),
        ("X1: zener 5V1  A > B", {"X1_scale": 0.0}),
        ("X1: npn  c=C b=A e=B", {"X1_transport": 0.0, "X1_base_emitter": 0.0}),
        ("X1: npn  c=B b=A e=C", {"X1_transport": 0.0, "X1_base_collector": 0.0}),
        ("X1: npn  c=B b=A e=B", {"X1_transport": 0.0, "X1_base_emitter": 0.0, "X1_base_collector": 0.0}),
    ],
)
def test_a_broken_junction_bends_nothing_whatever_stands_across_it(
    line: str, gone: dict[str, float], volts_across: float
) -> None:
    """However many volts: it carries no current, and nothing is held back on its account."""
    lines = [f"V1: source {volts_across:g}V  A > GND", line, "R1: resistor 1k  B > GND"]
    circuit = compile_circuit(machine(*lines, *(["R2: resistor 1k  C > A"] if " C" in line or "=C" in line else [])))
    rest = come_to_rest(circuit, many(circuit, 2, **gone))
    assert rest.solved.all()
    assert rest.volts[circuit.at("B")] == approx([0.0, 0.0], abs=1e-6)
    assert rest.volts[circuit.at("A")] == approx([volts_across] * 2, rel=1e-6)


# alternating current


def gain(circuit: Circuit, batch: Batch, hertz: float, at: str) -> np.ndarray:
    """(variant,) phasor at a place for what the sources put on."""
    rest = come_to_rest(circuit, batch)
    found = small_signal(circuit, batch, rest, hertz)
    assert found.solved.all()
    return found.volts[circuit.at(at)]


GENERATOR = "GEN: source 0V series 1R  IN > GND"


@pytest.mark.parametrize("hertz", [1.0, 1591.549, 1e5])
def test_rc_low_pass(hertz: float) -> None:
    """H = Z2 / (Z1 + Z2): 1 ohm and 1 kohm; 100 nF with its 0.05 ohm, beside 10 Gohm of leak."""
    circuit = compile_circuit(machine(GENERATOR, "R1: resistor 1k  IN > OUT", "C1: capacitor 100n film  OUT > GND"))
    farads = np.array([1e-7, 4e-8, 2e-9])
    batch = many(circuit, 3, GEN_signal=0.5, C1_capacitance=farads)
    below = 1.0 / (1e-10 + 1e-12 + 1.0 / (0.05 + 1.0 / (2j * np.pi * hertz * farads)))
    assert gain(circuit, batch, hertz, "OUT") == approx(0.5 * below / (1001.0 + below), rel=1e-8)


def test_a_divider_divides_whatever_the_frequency() -> None:
    circuit = compile_circuit(machine(GENERATOR, "R1: resistor 2k  IN > OUT", "R2: resistor 3k  OUT > GND"))
    for hertz in (10.0, 1e6):
        assert gain(circuit, many(circuit, 1, GEN_signal=2.0), hertz, "OUT")[0] == approx(2.0 * 3000 / 5001, rel=1e-8)


def test_a_compensated_divider() -> None:
    """R1 C1 = R2 C2 divides alike at every frequency."""
    circuit = compile_circuit(
        machine(
            GENERATOR,
            "R1: resistor 900k  IN > OUT",
            "C1: capacitor 10p  IN > OUT",
            "R2: resistor 100k  OUT > GND",
            "C2: capacitor 90p  OUT > GND",
        )
    )
    for hertz in (50.0, 20e3):
        assert gain(circuit, many(circuit, 1, GEN_signal=1.0), hertz, "OUT")[0] == approx(0.1, rel=2e-4)


@pytest.mark.parametrize("hertz", [10.0, 1e4, 1e5, 5e5])
def test_an_amplifier_runs_out_of_gain_bandwidth(hertz: float) -> None:
    """Non-inverting 11: H = A / (1 + A / 11), A = 1e5 / (1 + j f 1e5 / 1 MHz); output 75 ohm inside the loop."""
    circuit = compile_circuit(
        machine(
            "PSU: source 12V  SUP > GND",
            "NEG: source 12V  GND > LOW",
            GENERATOR,
            "U1: opamp gain 100000 bandwidth 1MHz offset 0V 0% output 75R limit 25mA input 1G  "
            "plus=IN minus=FB out=OUT vplus=SUP vminus=LOW",
            "R1: resistor 100k  OUT > FB",
            "R2: resistor 10k  FB > GND",
        )
    )
    batch = many(circuit, 1, GEN_signal=1e-3)
    half = 0.5 * 21.0  # +-12 V less 1.5 V each way
    fade = half / np.hypot(half, 0.2)  # next to one: gain fades with the supply
    open_loop = 1e5 * fade / (1.0 + 1j * hertz * 1e5 / 1e6)
    loaded = open_loop * 110e3 / (110e3 + 75.0)
    expected = 1e-3 * loaded / (1.0 + loaded / 11.0)
    assert gain(circuit, batch, hertz, "OUT")[0] == approx(expected, rel=1e-3)


def test_an_amplifier_cannot_swing_past_its_rail() -> None:
    """Gain 11, rails at +-10.5 V: 2 V peak would be 22 V."""
    circuit = compile_circuit(
        machine(
            "PSU: source 12V  SUP > GND",
            "NEG: source 12V  GND > LOW",
            GENERATOR,
            "U1: opamp offset 0V 0%  plus=IN minus=FB out=OUT vplus=SUP vminus=LOW",
            "R1: resistor 100k  OUT > FB",
            "R2: resistor 10k  FB > GND",
        )
    )
    found = np.abs(gain(circuit, many(circuit, 3, GEN_signal=np.array([0.1, 0.9, 2.0])), 100.0, "OUT"))
    assert found == approx([1.1, 9.9, 10.5], rel=1e-2)


def test_an_emitter_follower_has_the_impedance_of_the_book() -> None:
    """re + R_base / (beta + 1) beside R_emitter; gain R_e / (R_e + re + R_base / (beta + 1))."""
    circuit, batch = alone(
        "VCC: source 12V series 1R  SUP > GND",
        "GEN: source 6V series 1k  B > GND",
        "Q1: npn gain 99 saturation 1e-14A  c=SUP b=B e=E",
        "R1: resistor 1k  E > GND",
    )
    batch = replace(batch, figures={**batch.figures, ("GEN", "signal"): 1e-3})
    rest = come_to_rest(circuit, batch)
    emitter = float(volts(circuit, rest, "E")[0])
    inside = THERMAL_VOLTS / (emitter / 1e3) + 1e3 / 100.0
    found = small_signal(circuit, batch, rest, 1e3)
    assert found.ohms[circuit.at("E"), 0].real == approx(inside * 1e3 / (inside + 1e3), rel=2e-3)
    assert abs(found.volts[circuit.at("E"), 0]) == approx(1e-3 * 1e3 / (1e3 + inside), rel=2e-3)


# meters


def megohms() -> tuple[Circuit, Batch]:
    circuit = compile_circuit(
        machine("PSU: source 10V series 1R  A > GND", "R1: resistor 1M  A > B", "R2: resistor 1M  B > GND")
    )
    return circuit, many(circuit, 3, R1_resistance=np.array([1e6, 1e5, 1e4]), R2_resistance=np.array([1e6, 1e5, 1e4]))


def test_a_meter_of_ten_megohms_reads_a_divider_of_megohms_low() -> None:
    """10 V over 1M and 1M: 5 V behind 500k, so 5 V x 10 / 10.5; less so for 100k and 10k."""
    circuit, batch = megohms()
    rest = come_to_rest(circuit, batch)
    shown = dc_volts(circuit, batch, rest, source_ohms(circuit, batch, rest), "B", "GND", 10e6)
    leg = np.array([1e6, 1e5, 1e4])
    below = leg * 1e7 / (leg + 1e7)
    expected = 10.0 * below / (1.0 + leg + below)
    assert expected[0] == approx(5.0 * 10.0 / 10.5, rel=1e-5)
    assert shown.judged.all()
    assert shown.value == approx(expected, rel=2e-5)
    turned = dc_volts(circuit, batch, rest, source_ohms(circuit, batch, rest), "GND", "B", 10e6)
    assert turned.value == approx(-expected, rel=1e-3)  # a small share is left as it is


def test_a_meter_between_two_live_places_loads_both() -> None:
    """Two dividers of 1M: 10 V x 1/2 less 10 V x 1/4 through 500k + 187.5k."""
    circuit, batch = alone(
        "PSU: source 10V series 1R  A > GND",
        "R1: resistor 1M  A > B",
        "R2: resistor 1M  B > GND",
        "R3: resistor 750k  A > C",
        "R4: resistor 250k  C > GND",
    )
    rest = come_to_rest(circuit, batch)
    shown = dc_volts(circuit, batch, rest, source_ohms(circuit, batch, rest), "B", "C", 10e6)
    assert shown.value[0] == approx(2.5 * 1e7 / (1e7 + 687.5e3), rel=1e-5)


BEHIND = (
    "PSU: source 10V series 1R  A > GND",
    "R1: resistor 1k  A > B",
    "R2: resistor 1k  B > C",
    "R3: resistor 2k  C > D",
    "R4: resistor 4M  D > GND",
)


@pytest.mark.parametrize("freed", [False, True])
def test_a_meter_may_go_between_places_that_no_part_joins(freed: bool) -> None:
    """A to D over three resistors, D on 4M; the same with room for a lifted leg of R3."""
    circuit = compile_circuit(machine(*BEHIND), freed=[("R3", "1")] if freed else ())
    batch = many(circuit, 3, R3_resistance=np.array([2e3, 2e6, 3e6]))
    if freed:
        batch = replace(batch, freed=(Freed("R3", "1", 1, 2, 1e6),))
    rest = come_to_rest(circuit, batch)
    shown = dc_volts(circuit, batch, rest, source_ohms(circuit, batch, rest), "A", "D", 10e6)
    between = 2e3 + batch.figures["R3", "resistance"] + np.array([0.0, 1e6 if freed else 0.0, 0.0])
    seen = between * 1e7 / (between + 1e7)
    assert shown.judged.all()
    assert shown.value == approx(10.0 * seen / (4e6 + 1.0 + seen), rel=2e-5, abs=1e-5)
    pin = dc_volts(circuit, batch, rest, source_ohms(circuit, batch, rest), "A", "R3.1", 10e6)
    assert pin.judged.all()


def test_an_ohmmeter_may_go_between_places_that_no_part_joins() -> None:
    circuit = compile_circuit(machine(*BEHIND[1:]))
    batch = many(circuit, 2, R3_resistance=np.array([2e3, 5e3]))
    shown = ohms_between(circuit, batch, come_to_rest(circuit, batch), "A", "D", 0.3, 1e4, 1e7)
    assert shown.value == approx([4e3, 7e3], rel=1e-6)


def test_a_probe_s_capacitance_pulls_a_high_impedance_down() -> None:
    circuit = compile_circuit(machine(GENERATOR, "R1: resistor 1M  IN > B", "R2: resistor 1M  B > GND"))
    batch = many(circuit, 1, GEN_signal=1.0)
    rest = come_to_rest(circuit, batch)
    shown = ac_volts(circuit, batch, small_signal(circuit, batch, rest, 1e4), "B", "GND", 1e4, 10e6, 15e-12)
    inside = 500e3
    assert shown.value[0] == approx(abs(0.5 / (1 + inside * (1e-7 + 2j * np.pi * 1e4 * 15e-12))), rel=1e-5)


@pytest.mark.parametrize("most", [1e4, 1e7])
def test_ohms_in_place_are_those_of_everything_in_parallel(most: float) -> None:
    """10k beside 4k7 + 5k3 is 5k; a second path open shows 10k or over the range."""
    circuit = compile_circuit(
        machine(
            "R1: resistor 10k  A > B", "R2: resistor 4k7  A > C", "R3: resistor 5k3  C > B", "R4: resistor 1k  B > GND"
        )
    )
    batch = many(circuit, 3, R3_resistance=np.array([5300.0, 15300.0, 1e9]))
    rest = come_to_rest(circuit, batch)
    shown = ohms_between(circuit, batch, rest, "A", "B", 0.3, 1e4, most)
    expected = 1.0 / (1e-4 + 1.0 / np.array([10e3, 20e3, 1e9 + 4.7e3]))
    assert shown.value == approx(np.where(expected > most, np.inf, expected), rel=1e-5)
    assert ohms_between(circuit, batch, rest, "B", "A", 0.3, 1e4, most).value == approx(shown.value, rel=1e-9)


def test_an_ohmmeter_does_not_open_a_silicon_junction() -> None:
    circuit = compile_circuit(machine("R1: resistor 10k  A > B", "Q1: npn  c=A b=A e=B", "R2: resistor 1k  B > GND"))
    batch = many(circuit, 1)
    shown = ohms_between(circuit, batch, come_to_rest(circuit, batch), "A", "B", 0.2, 1e4, 1e7)
    assert shown.value[0] == approx(10e3, rel=0.01)


# blocks and controls


def test_a_block_between_a_source_and_a_load() -> None:
    """v = E x input / (input + series) x gain x load / (load + output)."""
    circuit = compile_circuit(
        machine(
            "GEN: source 0.4V series 5k  IN > GND",
            "X1: block gain 5 input 20k output 600R  in=IN out=OUT",
            "M1: load 1k2  OUT > GND",
        )
    )
    gains = np.array([5.0, -2.0, 0.1])
    batch = many(circuit, 3, X1_gain=gains, GEN_signal=0.01)
    expected = gains * 20.0 / 25.0 * 1200.0 / 1800.0
    rest = come_to_rest(circuit, batch)
    assert volts(circuit, rest, "OUT") == approx(0.4 * expected, rel=1e-6)
    assert small_signal(circuit, batch, rest, 1e3).volts[circuit.at("OUT")] == approx(0.01 * expected, rel=1e-6)
    assert source_ohms(circuit, batch, rest)[circuit.at("OUT")] == approx(np.full(3, 400.0), rel=1e-6)


def test_a_block_counts_from_its_own_common() -> None:
    circuit, batch = alone(
        "V1: source 3V  IN > GND",
        "V2: source 1V  COM > GND",
        "X1: block gain 2 input 1M output 100R  in=IN out=OUT com=COM",
        "R1: resistor 100k  OUT > COM",
    )
    assert volts(circuit, come_to_rest(circuit, batch), "OUT")[0] == approx(1.0 + 2.0 * 2.0 * 100e3 / 100.1e3, rel=1e-5)


@pytest.mark.parametrize(("law", "middle"), [("linear", 0.5), ("log", 0.15), ("antilog", 0.85)])
def test_a_control_divides_by_its_law(law: str, middle: float) -> None:
    """At half way; END_FRACTION at each stop is all that is left of the other end."""
    circuit = compile_circuit(
        machine("V1: source 10V  A > GND", f"RV1: potentiometer 10k {law}  top=A wiper=W bottom=GND")
    )
    batch = many(circuit, 3, RV1_position=np.array([0.0, 0.5, 1.0]))
    found = volts(circuit, come_to_rest(circuit, batch), "W")
    end = 5e-4
    assert found == approx(10.0 * (np.array([0.0, middle, 1.0]) + end) / (1.0 + 2.0 * end), rel=1e-4)


def test_a_regulator_holds_drops_out_and_limits() -> None:
    """9 V while the input is 11 V and more; input less 2 V below; 0.5 A and no more into 1 ohm."""
    circuit = compile_circuit(
        machine(
            "V1: source 15V series 10mR  IN > GND",
            "U1: regulator fixed 9V drop 2V limit 0.5A output 20mR quiescent 4mA  in=IN out=OUT com=GND",
            "R1: resistor 100R  OUT > GND",
        )
    )
    batch = many(circuit, 4, V1_volts=np.array([15.0, 8.0, 15.0, 0.0]), R1_resistance=np.array([1e3, 1e3, 1.0, 1e3]))
    found = volts(circuit, come_to_rest(circuit, batch), "OUT")
    assert found[0] == approx(9.0, abs=0.005)
    assert found[1] == approx(6.0, abs=0.02)
    assert found[2] == approx(0.5, rel=1e-3)
    assert found[3] == approx(0.0, abs=0.05)


@pytest.fixture
def many_parts() -> Iterator[list[str]]:
    """A ladder with a known answer: every two sections halve."""
    lines = ["V1: source 10V series 1mR  N0 > GND"]
    for n in range(30):
        lines += [f"R{n}A: resistor 1k  N{n} > N{n + 1}", f"R{n}B: resistor 2k  N{n + 1} > GND"]
    yield [*lines, "R99: resistor 2k  N30 > GND"]


def test_a_long_ladder_halves_at_every_step(many_parts: list[str]) -> None:
    """R-2R: each section sees 2k beside 2k, so each node has half the one before."""
    circuit, batch = alone(*many_parts)
    rest = come_to_rest(circuit, batch)
    for n in range(1, 31):
        assert rest.volts[circuit.at(f"N{n}"), 0] == approx(10.0 * 0.5**n, rel=1e-5)
