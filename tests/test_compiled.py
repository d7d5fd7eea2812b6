"""The compiled loops give what NumPy gives: every law by itself, whole circuits in time, and what a tape cannot take."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from in_time import CIRCUITS, prepared
from probewright.machine.kinds import Kind
from probewright.machine.waves import Course, Sine
from probewright.simulation import compiled, marching, resting, stepping, tape
from probewright.simulation.circuit import compile_circuit, healthy_batch
from probewright.simulation.marching import March
from probewright.simulation.newton import Sheet, come_to_rest
from probewright.simulation.pattern import back_substitute, eliminate
from probewright.simulation.resting import plan_of, with_controls
from probewright.simulation.stepping import figures_at
from probewright.simulation.tracing import Trace, trace
from test_simulation import BENT, EVERY_KIND, alone, every_kind, many, one_of

NEWTON = 1e-6  # V: five times what a closed step leaves open, for a latch that goes over elsewhere by a rounding

OSCILLATORS = ("relaxation oscillator", "multivibrator of two transistors", "slow timer")


@pytest.mark.parametrize("trusted", [False, True])
@pytest.mark.parametrize("kind", BENT, ids=lambda kind: kind.name)
def test_every_law_is_the_same_compiled(kind: Kind, trusted: bool, numba):
    """Slopes, amps, controls and what was held, at volts and controls anywhere, some variants left out."""
    from probewright.simulation import loops

    circuit = compile_circuit(one_of(kind, *[f"N{n}" for n in range(len(kind.pins))]))
    random, size = np.random.default_rng(8), 29
    sheet = Sheet(circuit, replace(healthy_batch(circuit), size=size))
    volts = np.concatenate([random.normal(0.0, 4.0, (circuit.size, size)), np.zeros((1, size))])
    *_, memory, _ = sheet.linearise(volts, {})
    volts[:-1] += random.normal(0.0, 1.0, (circuit.size, size)) ** 3
    matrix, right, controls, held = sheet.linearise(volts, None if trusted else memory)
    ready = compiled.make_ready(sheet, None, trusting=True)
    assert ready is not None
    plan, active = plan_of(ready), np.arange(0, size, 2)
    lanes = np.vstack([with_controls(ready, volts, memory), ready.lanes[ready.state :]])
    mine = np.empty((len(matrix) + 1, size)), np.empty((circuit.size + 1, size))
    stopped = np.empty(size, bool)
    loops.gather(ready.base, ready.pushed, active, *mine, stopped)
    loops.run_role(plan, ready.table, plan.marks[loops.TRUST if trusted else loops.BEND], active, lanes, *mine, stopped)
    count = len(active)
    assert mine[0][:-1, :count] == approx(matrix[:, active], rel=1e-9, abs=1e-13)
    assert mine[1][:-1, :count] == approx(right[:, active], rel=1e-9, abs=1e-11 * max(1.0, np.abs(matrix).max()))
    assert list(stopped[:count]) == list(held[active])
    for name, one in controls[0].items():
        kept = lanes[ready.rows.first["control", 0, name]]
        assert kept[active] == approx(np.broadcast_to(one, (1, size))[0, active], rel=1e-12, abs=1e-12)
        assert np.array_equal(kept[1::2], np.broadcast_to(memory[0][name], (1, size))[0, 1::2])


@EVERY_KIND
def test_every_kind_can_be_taped(kind: Kind):
    if kind.nonlinear is not None:
        assert tape.tape(kind).slope and tape.tape(kind, trusted=True).slope
    if kind.linear is not None:
        assert tape.taped_line(kind).slope
    if kind.storing is not None:
        stamp, push, keep = tape.taped_store(kind)
        assert stamp.slope and stamp.kept and push.rest and keep.kept
    if kind.lag is not None:
        late, lag, stride = tape.taped_lag(kind)
        assert late.kept and lag.kept and stride.held != tape.Literal(False)


def test_elimination_is_the_same_compiled(numba):
    """A long ladder, more variants than go side by side; the sign of the determinant too."""
    from probewright.simulation import loops

    lines = [f"R{n}: resistor 1k  N{n} > N{n + 1}" for n in range(12)]
    circuit, _ = alone(*lines, "R90: resistor 1k  N0 > N7", "R91: resistor 1k  N12 > GND")
    random, size = np.random.default_rng(4), 150
    matrix = random.normal(0.0, 1.0, (len(circuit.pattern.slot), size))
    right = random.normal(0.0, 1.0, (circuit.size, size))
    mine, answer, sign = matrix.copy(), right.copy(), np.empty(size)
    loops.solve(*circuit.pattern.tables, mine, answer, size, sign)
    theirs = eliminate(circuit.pattern, matrix, right)
    assert answer == approx(back_substitute(circuit.pattern, matrix, right), rel=1e-6, abs=1e-9)
    assert list(sign) == list(theirs) and {*sign} == {-1.0, 1.0}


def both(*arguments, **more) -> tuple[Trace, Trace]:
    """The same in compiled loops and by NumPy alone."""
    mine = trace(*arguments, **more)
    with compiled.plainly():
        return mine, trace(*arguments, **more)


@pytest.mark.parametrize("name", CIRCUITS)
def test_a_circuit_in_time_is_the_same_compiled(name: str, numba, monkeypatch):
    """Every fifth of the listed faults, freed pins and links among them, for a sixth of the time; of what jumps, some."""
    one, (circuit, whole, _) = CIRCUITS[name], prepared(name)
    batch = whole.take(np.arange(0, whole.size, 60 if name in OSCILLATORS else 5))
    taken = []
    plain = March.run
    monkeypatch.setattr(March, "run", lambda *given: taken.append(1) or plain(*given))
    places = list(dict.fromkeys(place for place, *_ in one.read.values()))
    mine, theirs = both(circuit, batch, one.courses, places, one.stop / 6.0, one.step, from_nought=one.from_nought)
    assert taken
    assert list(mine.solved) == list(theirs.solved) and mine.solved.all()
    for place in places:
        if name in OSCILLATORS:  # a rounding moves the instant of a jump by a part of a step; the levels stay
            assert np.nanmax(mine.volts[place], axis=1) == approx(np.nanmax(theirs.volts[place], axis=1), abs=0.05)
        else:
            assert mine.volts[place] == approx(theirs.volts[place], abs=NEWTON, nan_ok=True)


def test_a_step_is_taken_in_the_same_halves_compiled(numba, monkeypatch):
    """With four steps of Newton's method hardly any step closes at once; both ways then halve, and halve again, alike."""
    circuit, whole, _ = prepared("supply with a regulator")
    one, batch = CIRCUITS["supply with a regulator"], whole.take(np.arange(0, whole.size, 7))
    monkeypatch.setattr(stepping, "ITERATIONS", 4)
    halved, know = [], marching.Timetable.know
    monkeypatch.setattr(marching.Timetable, "know", lambda table, n: halved.append(n) or know(table, n))
    mine, theirs = both(circuit, batch, one.courses, ["RAW"], one.stop / 12.0, one.step, from_nought=one.from_nought)
    assert len(set(halved)) > 20 and list(mine.solved) == list(theirs.solved)
    assert mine.volts["RAW"] == approx(theirs.volts["RAW"], abs=NEWTON, nan_ok=True)


def test_a_law_that_branches_on_numbers_is_run_as_it_is(numba, monkeypatch):
    """Such a kind puts its whole circuit on NumPy; nothing is guessed."""
    circuit, _ = alone("V1: source 0V series 100R  A > GND", "D1: diode  A > GND")
    kinds = {group.kind.name: group.kind for group in circuit.groups}
    plain = kinds["diode"].nonlinear

    def branching(v, p, memory):
        return plain(v, p, memory) if np.all(v[0] < 1e9) else None

    with pytest.raises(tape.Untaped):
        tape.tape(replace(kinds["diode"], nonlinear=branching))
    groups = [
        replace(g, kind=replace(g.kind, nonlinear=branching)) if g.kind.name == "diode" else g for g in circuit.groups
    ]
    batch, courses = many(circuit, 3, V1_signal=5.0), [Course("V1", swing=Sine(50.0))]
    other = (
        replace(circuit, groups=tuple(groups)) if isinstance(circuit.groups, tuple) else replace(circuit, groups=groups)
    )
    assert compiled.make_ready(Sheet(circuit, batch), None) is not None
    assert compiled.make_ready(Sheet(other, batch), None) is None
    mine, theirs = (trace(one, batch, courses, ["A"], 0.02, 2e-4) for one in (circuit, other))
    assert mine.volts["A"] == approx(theirs.volts["A"], abs=NEWTON)


@pytest.mark.parametrize("name", CIRCUITS)
def test_a_circuit_comes_to_the_same_rest_compiled(name: str, numba, monkeypatch):
    """At nought and where its waves stand at a quarter of their time; what is unstable is walked down by itself, and
    may come to the other answer of a latch."""
    one, (circuit, batch, _) = CIRCUITS[name], prepared(name)
    for seconds in (0.0, 0.25 * one.stop):
        there = figures_at(batch, one.courses, seconds)
        mine, theirs = resting.come_to_rest(circuit, there, in_time=True), come_to_rest(circuit, there)
        plain = ~(mine.unstable | theirs.unstable)
        assert np.array_equal(mine.unstable, theirs.unstable) and plain.any()
        assert np.array_equal(mine.solved[plain], theirs.solved[plain]) and mine.solved.mean() > 0.95
        both = plain & mine.solved
        assert mine.volts[:, both] == approx(theirs.volts[:, both], abs=NEWTON, rel=1e-6)


@pytest.mark.parametrize("name", ["bridge", "multivibrator of two transistors"])
def test_how_the_batch_is_split_over_cores_changes_no_bit(name: str, numba, monkeypatch):
    one, (circuit, whole, _) = CIRCUITS[name], prepared(name)
    batch = whole.take(np.arange(0, whole.size, 4))
    places = list(dict.fromkeys(place for place, *_ in one.read.values()))
    found = []
    for cores, wide in ((1, 64), (3, 5)):
        monkeypatch.setattr(resting, "WIDE", wide)
        monkeypatch.setattr(resting, "NARROW", 1)
        monkeypatch.setattr(resting, "_cores", lambda cores=cores: cores)
        found.append(trace(circuit, batch, one.courses, places, one.stop / 8.0, one.step, from_nought=one.from_nought))
    for place in places:
        assert np.array_equal(found[0].volts[place], found[1].volts[place], equal_nan=True)


def test_what_one_variant_does_is_nothing_to_its_neighbours(numba):
    """The same figures alone and among others, to rounding, either way."""
    circuit, _ = alone(
        "V1: source 0V series 5R  A > GND", "D1: diode  A > B", "C1: capacitor 47u  B > GND", "R1: resistor 1k  B > GND"
    )
    batch = many(circuit, 7, V1_signal=np.geomspace(0.1, 30.0, 7))
    courses = [Course("V1", swing=Sine(50.0))]
    for mine in both(circuit, batch, courses, ["B"], 0.03, 2e-4):
        for alone_again in both(circuit, batch.take(np.array([4])), courses, ["B"], 0.03, 2e-4):
            assert mine.volts["B"][4] == approx(alone_again.volts["B"][0], abs=1e-10)


def test_only_what_a_side_needs_is_reckoned_there():
    """Of a junction the two logarithms of a held step stand inside the branch that takes it."""
    diode = next(kind for kind in every_kind() if kind.name == "diode")
    text = compiled.source(tape.tape(diode))
    deep = [line for line in text.splitlines() if " log(" in line]
    assert len(deep) == 3 and sum(line.startswith(" " * 16) for line in deep) == 2


def test_numpy_alone_where_it_is_asked_for(monkeypatch):
    monkeypatch.setenv("PROBEWRIGHT_NUMPY", "1")
    assert not compiled.wanted()
    monkeypatch.delenv("PROBEWRIGHT_NUMPY")
    with compiled.plainly():
        assert not compiled.wanted()
    assert compiled.wanted() == compiled.installed()


def test_a_folder_that_cannot_be_written_does_not_stop_it(numba, monkeypatch, tmp_path):
    """Compiled anew at every start then."""
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert compiled.load(compiled.HEAD + "answer = 42\n").answer == 42
