"""What is read in time as evidence: against direct runs and sums by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from pytest import approx

from probewright.inference.belief import DEAD, THIN_IN_TIME, Belief, refine, weigh
from probewright.inference.circuit_fit import joint_tail
from probewright.inference.lookalikes import LookAlikes
from probewright.inference.verdict import TAIL
from probewright.jobs.pretend_bench import PretendBench
from probewright.machine.model import Measure
from probewright.machine.waves import Course, Sine
from probewright.prediction import timed
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Model, build_model
from probewright.prediction.circuit_laws import FIRST, Laws, draw_laws
from probewright.prediction.likelihood import HONEST, LEAST, MODEL_SD, hookup_nats
from probewright.prediction.outcomes import broken, chance_works, quantity, show, works_value
from probewright.prediction.redraw import loosened
from probewright.readings import NEVER, Look, Question, Reading, Setup
from probewright.simulation import scope
from probewright.simulation.tracing import trace
from timed_machines import HOLD, RESET, STAGE, SUPPLY, read

TEXTS = {"supply": SUPPLY, "reset": RESET, "stage": STAGE, "hold": HOLD}


@cache
def laws_of(name: str) -> Laws:
    return draw_laws(build_model(read(TEXTS[name]), name))


def model_of(name: str) -> Model:
    return laws_of(name).model


def answer(name: str, suspect: str, ask: Question, key: str = "bench") -> float:
    """What a machine with this fault, which the laws have no draw of, shows."""
    model = model_of(name)
    bench = PretendBench(model, model.suspects[model.index[suspect]], key)
    shown = show(bench.bank, ask)
    assert shown.judged[0]
    return float(shown.value[0])


def after(name: str, *said: tuple[Question, float]) -> Belief:
    """The quick answer: what takes time is dear."""
    return weigh(laws_of(name), [Reading(ask, value, f"h{n}") for n, (ask, value) in enumerate(said)])


def chance(belief: Belief, *begins: str) -> float:
    """Of all suspects whose id begins so."""
    return sum(
        float(p) for p, one in zip(belief.probability, belief.suspects, strict=True) if one.id.startswith(begins)
    )


def at(stimulus: str, instrument: str, red: str, **look: object) -> Question:
    return Question(instrument, red, setup=Setup(stimulus=stimulus), look=Look(**look))  # type: ignore[arg-type]


FREQUENCY = at("run", "frequency", "RAW")


# One run answers all -------------------------------------------------------------------------


def test_every_question_of_a_set_up_is_answered_from_one_run(monkeypatch: pytest.MonkeyPatch) -> None:
    runs = []
    once = timed._followed
    monkeypatch.setattr(timed, "_followed", lambda *args: runs.append(len(args[4])) or once(*args))
    bank = draw_laws(build_model(read(SUPPLY), "one run")).base.middle
    for word in ("dc", "pp", "rms", "top", "valley", "frequency", "period", "duty"):
        assert show(bank, at("run", word, "RAW")).judged[0]
    across = show(bank, replace(at("run", "pp", "W1"), black="W2"))
    assert across.judged[0] and runs == [1]
    works_value(bank, bank.model.machine.works[0], Setup())
    assert runs == [1]


def test_a_healthy_supply_reads_as_when_it_is_waited_for() -> None:
    """Beside a plain run of 20 periods from rest in finer steps, its last two: 10 mV or half a per cent."""
    bank = laws_of("supply").base.middle
    setup = Setup(stimulus="run")
    circuit = bank.circuit(setup)
    waited = trace(
        circuit, bank.batch(circuit, setup), [Course("TR1", swing=Sine(50.0))], ["RAW"], 0.4, 5e-5, since=0.36
    )
    seconds, volts = waited.seconds, waited.volts["RAW"]
    expected = {
        "dc": scope.mean(seconds, volts), "pp": scope.peak_to_peak(volts), "rms": scope.rms(seconds, volts),
        "top": scope.top(volts), "valley": scope.valley(volts), "frequency": scope.frequency(seconds, volts),
    }  # fmt: skip
    for word, value in expected.items():
        assert show(bank, at("run", word, "RAW")).value == approx(value, rel=5e-3, abs=10e-3), word


def test_what_an_input_coupled_for_alternating_volts_takes_off_is_the_mean() -> None:
    bank = laws_of("supply").base.middle
    plain, coupled = (show(bank, at("run", "top", "RAW", coupling=one)).value[0] for one in ("dc", "ac"))
    mean = show(bank, at("run", "dc", "RAW")).value[0]
    assert coupled == approx(plain - mean, abs=0.02) and coupled < 1.0


def test_one_sweep_over_a_window_begins_when_the_power_comes_on() -> None:
    """Beside a plain run from nought in finer steps: over 60 ms a reservoir charges at first, and the mean is less than
    what repeats; without a window one sweep shows what repeats."""
    bank = one_draw("supply", "nothing-wrong")
    setup, window = Setup(stimulus="run"), (0.0, 0.06)
    circuit = bank.circuit(setup)
    courses = [Course("TR1", swing=Sine(50.0))]
    waited = trace(circuit, bank.batch(circuit, setup), courses, ["RAW"], 0.06, 5e-5, from_nought=True)
    once = show(bank, at("run", "dc", "RAW", single=True, window=window)).value[0]
    assert once == approx(scope.mean(waited.seconds, waited.volts["RAW"])[0], rel=5e-3)
    later = show(bank, at("run", "dc", "RAW", window=window)).value[0]
    assert once < 0.97 * later
    assert show(bank, at("run", "dc", "RAW", single=True)).value[0] == approx(later, rel=1e-2)


def test_a_limit_of_bandwidth_takes_the_ripple_down() -> None:
    """One pole at 10 Hz leaves a tenth of 100 Hz: 1 / sqrt(1 + 10^2), and less of its harmonics."""
    bank = laws_of("supply").base.middle
    whole, limited = (show(bank, at("run", "level", "RAW", hertz=100.0, limit=one)).value[0] for one in (0.0, 10.0))
    assert limited / whole == approx(1.0 / np.sqrt(101.0), rel=0.02)


def test_a_meter_of_ten_megohm_on_a_node_of_one_takes_its_share() -> None:
    """2 V from 1 Mohm: 10 / 11 of it is left to the meter, as to the probe, though it stands still for the probe."""
    text = HOLD.replace("series 100R  IN", "series 1M  IN").replace(
        "{S1: pulse open..closed 2ms of 20ms}", "{V1: 2V sine 1mV peak 50Hz}"
    )
    bank = draw_laws(
        build_model(read(text.replace("OUT sag at play from 3ms to 19ms", "IN max at play")), "loaded")
    ).base.middle
    for word in ("dc", "top"):
        bare = quantity(bank, Measure("IN", word, "play"), Setup()).value[0]
        assert bare == approx(2.0, rel=6e-3)
        assert show(bank, at("play", word, "IN")).value[0] == approx(bare * 10.0 / 11.0, rel=2e-3), word


@pytest.mark.parametrize("farads", [100e-12, 10e-9])
def test_the_capacitance_of_the_probe_slows_what_has_little_of_its_own(farads: float) -> None:
    """A step of 5 V through 220 kohm: half way up after R C ln 2. The probe's 10 Mohm leave 10 / 10.22 of the volts and of
    the R C, its 12 pF come to what hangs there, with 10 pF that every node has. Beside 10 nF nobody sees them."""
    begin = 0.05 * 220e3 * farads
    text = (
        "machine: m\nparts:\n  V1: source 0V series 1R  IN > GND\n  R1: resistor 220k  IN > A\n"
        f"  C1: capacitor {1e12 * farads:g}p esr 1R leak 1e12R  A > GND\nworks:\n  up: A rise through 2.5V at on below 1s\n"
        f"stimuli:\n  on: {{V1: step 0V..5V at {begin * 1e6:g}us, read: 0s..{begin * 1e8:g}us}}\n"
    )
    model = build_model(read(text), "probed")
    bank = draw_laws(model).base.middle
    bare = quantity(bank, Measure("A", "rise", "on", level=2.5), Setup()).value[0] - begin
    seen = show(bank, at("on", "rise", "A", level=2.5)).value[0] - begin
    leaves = 10.0 / 10.22
    behind = -220e3 * leaves * (farads + 22e-12) * np.log(1.0 - 0.5 / leaves)
    without = 220e3 * (farads + 10e-12) * np.log(2.0)
    assert bare == approx(without, rel=0.01)
    assert seen == approx(behind, rel=0.01)
    slow, window = (
        220e3 * leaves * (farads + 110e-12),
        99.0 * begin,
    )  # a meter's leads have 100 pF, its 10 Mohm are the same
    mean = 5.0 * leaves * (window - slow * (1.0 - np.exp(-window / slow))) / (window + begin)
    assert show(bank, at("on", "dc", "A")).value[0] == approx(mean, rel=0.01)


def test_a_mains_source_that_gives_way_loses_volts_and_ripple_and_a_dead_one_hums_no_more() -> None:
    """Its resistance rises, so that the mean falls and with it the ripple, I / f C at most; of a dead one a probe of 10 Mohm
    sees nothing."""
    text = (
        "machine: m\nparts:\n  V1: source mains 9V rms 50Hz series 1R  A > GND\n  D1: diode rectifier  A > RAW\n"
        "  C1: capacitor 1000u electrolytic  RAW > GND\n  R1: resistor 100R  RAW > GND\n"
        "works:\n  up: RAW dc at run above 5V\nstimuli:\n  run: {}\n"
    )
    model = build_model(read(text), "mains")
    cells = [
        n for n, cell in enumerate(model.cells) if model.suspects[cell.suspect].id in ("V1 low-under-load", "V1 dead")
    ]
    spans = [Span(cell, n, n + 1) for n, cell in enumerate([model.healthy_cell, *cells])]
    bank = Bank(model, spans, np.zeros((len(model.latents.keys) + 1, len(spans))))
    mean, ripple, fed = (
        show(bank, at("run", word, place)).value for word, place in (("dc", "RAW"), ("pp", "RAW"), ("pp", "A"))
    )
    assert len(spans) == 5 and np.all(np.diff(mean) < -0.5) and np.all(np.diff(ripple) < -0.05)
    share = ripple[:4] / (mean[:4] / 100.0 / 50.0 / 1e-3)  # of a period the reservoir runs down for a half at least
    assert np.all(share > 0.5) and np.all(share < 1.0)
    assert fed[0] > 20.0 and [mean[4], ripple[4], fed[4]] == approx([0.0, 0.0, 0.0], abs=2e-3)


def test_what_a_meter_shows_does_not_depend_on_what_a_probe_was_asked_before() -> None:
    """With a diode open the winding floats between pulses, and 100 pF of a meter hold it longer than 15 pF of a probe:
    the mean differs by more than five times the error of the meter, though both have 10 Mohm."""
    meter, probe = at("run", "dc", "W2"), at("run", "top", "W2")
    alone, after_probe, before_meter = (one_draw("supply", "D1 open-ac1-plus") for _ in range(3))
    show(after_probe, probe)
    assert show(after_probe, meter).value == approx(show(alone, meter).value, rel=1e-9)
    show(before_meter, meter)
    assert show(before_meter, probe).value == approx(show(after_probe, probe).value, rel=1e-9)


def test_draws_of_a_bank_that_keeps_fewer_instants_join_those_of_another() -> None:
    seconds, finer = np.linspace(0.0, 1.0, 5), np.linspace(0.0, 1.0, 9)
    none = np.zeros((2, 0, 0), np.float32)
    circuit = laws_of("supply").base.middle.circuit(Setup(stimulus="run"))
    run = timed.Run(circuit, np.full(3, -1), np.zeros(0), none, np.zeros(0, bool), np.zeros(0, int))
    for variant, instants in ((1, seconds), (2, finer)):
        run.take_up(np.array([variant]), instants, np.stack([instants[None], 0.0 * instants[None]]), np.ones(1, bool))
    assert run.volts.shape == (2, 2, 5) and run.volts[0, 1] == approx(seconds) and run.row_of.tolist() == [-1, 0, 1]


def test_no_more_instants_are_kept_than_there_is_room_for() -> None:
    way = model_of("reset").followed(Setup(stimulus="on"))
    seconds = np.linspace(0.0, 0.6, 5001)
    few, many = (timed._kept(seconds, way, 40, draws) for draws in (16, 200 * 8 * 4))
    assert len(few) == timed.KEPT and few[0] == 0 and few[-1] == 5000
    assert 4 * 41 * 200 * 8 * 4 * len(many) <= timed.MOST_BYTES < 4 * 41 * 200 * 8 * 4 * timed.KEPT


# How probable a figure is --------------------------------------------------------------------


def one_draw(name: str, suspect: str, bin_: int = 0) -> Bank:
    """The middling machine with this fault."""
    model = model_of(name)
    cell = next(n for n, one in enumerate(model.cells) if model.suspects[one.suspect].id == suspect and one.bin == bin_)
    return Bank(model, [Span(cell, 0, 1)], np.zeros((len(model.latents.keys) + 1, 1)))


def test_the_likelihood_of_a_frequency_is_that_summed_by_hand() -> None:
    """99 Hz of a supply that hums at 100: a normal law of the logarithm, one standard deviation the root of the squares
    of 100 ppm of the time base, 0.7 % of two cursors and the model's own; its density over 99 Hz."""
    nats = hookup_nats(one_draw("supply", "nothing-wrong"), [Reading(FREQUENCY, 99.0, "h")]).nats[0]
    sd = np.sqrt(0.0001**2 / 3.0 + 0.007**2 + MODEL_SD**2)
    by_hand = np.log(HONEST) - 0.5 * (np.log(99.0 / 100.0) / sd) ** 2 - np.log(sd * np.sqrt(2.0 * np.pi) * 99.0)
    assert nats == approx(by_hand, abs=0.01)


def test_top_and_valley_of_one_placing_share_the_gain_of_the_amplifier() -> None:
    """Both 2 % high is one error of the gain, one 2 % high and one 2 % low are two: by the two-dimensional normal law."""
    bank = one_draw("stage", "nothing-wrong")
    asks = [at("tone", word, "C") for word in ("top", "valley")]
    true = np.array([float(show(bank, ask).value[0]) for ask in asks])

    def nats(shares: Sequence[float]) -> float:
        said = [Reading(ask, float(v * s), "same") for ask, v, s in zip(asks, true, shares, strict=True)]
        return float(hookup_nats(bank, said).nats[0])

    def by_hand(shares: Sequence[float]) -> float:
        seen = true * np.array(shares)
        gain = 0.03 / np.sqrt(3.0)
        own = np.hypot(np.hypot(0.0173 * seen, 0.005), np.hypot(MODEL_SD * seen, 1e-3))
        cov = np.diag(own**2) + np.outer(gain * seen, gain * seen)
        off = seen - true
        return float(-0.5 * off @ np.linalg.solve(cov, off) - 0.5 * np.linalg.slogdet(cov)[1])

    together, apart = (1.02, 1.02), (1.02, 0.98)
    assert nats(together) - nats(apart) == approx(by_hand(together) - by_hand(apart), abs=0.05)
    assert nats(together) > nats(apart) + 0.5


def test_never_is_no_time() -> None:
    falls = at("on", "fall", "RES", level=2.5)
    stuck, works = one_draw("reset", "R1 open"), one_draw("reset", "nothing-wrong")
    seconds = float(show(works, falls).value[0])
    assert show(stuck, falls).value[0] == NEVER and 0.03 < seconds < 0.07
    never, then = (Reading(falls, value, "h") for value in (NEVER, seconds))
    assert hookup_nats(stuck, [never]).nats[0] == approx(np.log(HONEST), abs=0.05)
    assert hookup_nats(works, [never]).nats[0] < np.log(0.02)  # a slip: beside it, or without contact
    assert hookup_nats(works, [then]).nats[0] - hookup_nats(stuck, [then]).nats[0] > 5.0
    assert hookup_nats(stuck, [then]).honest[0, 0] < np.exp(LEAST / 2.0)


def test_what_never_happens_is_judged_by_never_alone() -> None:
    model = model_of("reset")
    late, never = model.machine.works[0].limits[-2:]
    value = np.array([0.05, 0.3, NEVER])
    assert broken(value, never, np.asarray(0.05)).tolist() == [0.0, 0.0, 1.0]
    assert broken(value, late, np.asarray(0.05)) == approx([0.0, 1.0, 1.0], abs=0.02)
    assert chance_works(one_draw("reset", "R1 open"), model.machine.works[0], Setup())[0][0] == 0.0


def test_a_dead_place_has_no_distortion_to_be_judged() -> None:
    good, judged = chance_works(one_draw("stage", "V1 dead"), model_of("stage").machine.works[0], Setup())
    assert not judged[0] and good.shape == (1,)


# What is told apart --------------------------------------------------------------------------


def test_a_dried_reservoir_and_an_open_diode_are_told_apart_by_the_frequency_of_the_ripple_alone() -> None:
    """One half of the rectifier lost: 50 Hz; both at work on too small a reservoir: 100 Hz."""
    once, twice = (answer("supply", one, FREQUENCY) for one in ("D1 open-ac1-plus", "C1 low-value"))
    assert once == approx(50.0, rel=0.01) and twice == approx(100.0, rel=0.01)
    open_, dried = after("supply", (FREQUENCY, once)), after("supply", (FREQUENCY, twice))
    assert chance(open_, "D1 open") > 30.0 * chance(open_, "C1 low-value", "C1 high-esr", "nothing-wrong")
    assert chance(dried, "C1 low-value") > 30.0 * chance(dried, "D1 open")


def test_a_healthy_supply_stays_healthy() -> None:
    asks = [at("run", word, "RAW") for word in ("dc", "pp", "frequency")]
    belief = after("supply", *((ask, answer("supply", "nothing-wrong", ask, "sound")) for ask in asks))
    assert belief.suspects[int(np.argmax(belief.probability))].id == "nothing-wrong"


def test_fresh_draws_sharpen_and_do_not_turn_a_quick_answer() -> None:
    """Dried reservoir or worse: the refined chances are those of the quick answer on more draws where they count."""
    quick = after("reset", (at("on", "fall", "RES", level=2.5), 0.2))
    refined = refine(quick)
    assert refined.quality[0] > 2.0 * quick.quality[0]
    both = [chance(one, "R1 drift-up", "R1.", "R1 otherwise") for one in (quick, refined)]
    assert min(both) > 0.5


@pytest.mark.parametrize("pins", ["ac1-plus", "ac2-plus", "minus-ac1", "minus-ac2"])
def test_a_leader_does_not_rest_on_one_draw(pins: str) -> None:
    """Five figures of one supply: no first draw comes near all of them, and who leads by far is drawn until he fits."""
    asks = [at("run", "dc", "W2"), at("run", "dc", "RAW"), at("run", "dc", "W1"), at("run", "pp", "RAW"), FREQUENCY]
    refined = refine(after("supply", *((ask, answer("supply", f"D1 open-{pins}", ask)) for ask in asks)))
    leader = int(np.argmax(refined.probability))
    assert refined.suspects[leader].id == f"D1 open-{pins}"
    cell = int(np.flatnonzero(refined.laws.model.suspect_of == leader)[0])
    assert refined.effective_draws[cell] > THIN_IN_TIME
    assert joint_tail(refined, LookAlikes((leader,), 1.0)) > TAIL


def test_two_draws_of_a_cell_do_not_rule_out_what_lies_beside_them() -> None:
    """Two draws span one direction: of three readings each moves by itself by the share 3 / (3 + 1), of ten by 3 / 12. Two
    that lie close by chance are taken for half as wide as the middle cell, ten for a tenth."""
    line = np.outer([1.0, 2.0, 3.0], [1.0, 2.0, 3.0])
    cov, draws = np.stack([line, 0.01 * line, line, line, 0.0 * line]), np.array([2, 2, 2, 10, 10])
    few, close, other, many, tight = loosened(cov, draws, np.ones(3, bool))
    assert np.diag(few) == approx([1.0, 4.0, 9.0]) and np.diag(many) == approx([1.0, 4.0, 9.0])
    assert few[0, 2] == approx(3.0 * 0.25) and many[0, 2] == approx(3.0 * 0.75) and few == approx(other)
    assert np.diag(close) == approx(0.505 * np.diag(line)) and np.diag(tight) == approx(0.1 * np.diag(line))
    assert np.linalg.matrix_rank(line) == 1 and np.linalg.matrix_rank(few) == 3


def test_what_takes_no_time_rests_on_all_draws() -> None:
    """One reading of three is followed in time: the covariance of the other two stays, and no direction is lost."""
    sharp = np.diag([1e-4, 4.0, 9.0]) + 0.5 * np.array([[0, 0, 0], [0, 0, 1.0], [0, 1.0, 0]])
    found = loosened(np.stack([sharp, sharp, sharp + np.eye(3)]), np.array([2, 2, 10]), np.array([False, False, True]))
    assert found[0, 0, 0] == approx(1e-4) and found[0, 1, 1] == approx(4.0)
    assert abs(found[0, 1, 2]) < 0.5 and np.all(np.linalg.eigvalsh(found) > 0.0)


def test_what_is_felt_is_found_anew_where_a_fault_was_otherwise_bad_in_an_earlier_sitting() -> None:
    """Joints that come and go have a severity for each sitting: a latent more than when the same figure was weighed."""
    laws, said = laws_of("supply"), [Reading(FREQUENCY, 50.0, "h0")]
    first = refine(weigh(laws, said))
    words = Reading(Question("works", "quiet", setup=Setup(stimulus="run")), "bad", "h1", sitting=1)
    later = refine(weigh(laws, [*said, words]))
    assert later.laws.others and not first.laws.others and later.laws.fine
    assert chance(later, "D1 open") > 0.1 and later.probability.sum() == approx(1.0)


def test_a_late_reset_is_a_resistor_that_rose_and_none_at_all_is_one_that_is_open() -> None:
    falls = at("on", "fall", "RES", level=2.5)
    late, none = after("reset", (falls, 0.2)), after("reset", (falls, NEVER))
    assert chance(late, "R1 drift-up", "R1.", "R1 otherwise") > 0.5 and chance(late, "R1 open", "V1 dead") < 0.02
    assert chance(none, "R1 open") > 20.0 * chance(none, "R1 drift-up")
    assert chance(none, "V1 dead") > 0.1


def test_a_stage_that_clips_on_one_side_is_known_by_its_lowest_volts() -> None:
    """The divider open below: the transistor saturates, and the collector's lowest volts hold its emitter's."""
    asks = [at("tone", word, "C") for word in ("top", "valley")]
    said = [(ask, answer("stage", "R2 open", ask)) for ask in asks]
    healthy = [float(show(one_draw("stage", "nothing-wrong"), ask).value[0]) for ask in asks]
    assert said[1][1] < healthy[1] - 1.0
    belief = after("stage", *said)
    assert chance(belief, "R2 open", "R2.", "R2 drift-up", "R2 otherwise") > 0.3
    assert chance(belief, "nothing-wrong") < 0.001


def test_what_sags_between_two_refreshes_leaks() -> None:
    sag = at("play", "sag", "OUT", window=(3e-3, 19e-3))
    belief = after("hold", (sag, answer("hold", "C1 leak", sag)))
    assert chance(belief, "C1 leak", "HOLD loads-net", "C1 otherwise") > 0.7
    assert chance(belief, "nothing-wrong", "U1 offset") < 0.01


# Who is followed -----------------------------------------------------------------------------


def test_dead_cells_are_not_followed() -> None:
    laws = draw_laws(build_model(read(SUPPLY), "asleep"))
    off = Question("ohms", "R1.1", "R1.2", Setup(power="off"))
    bench = PretendBench(laws.model, laws.model.suspects[laws.model.index["C1 short"]], "bench")
    ohms = float(show(bench.bank, off).value[0])
    said = [Reading(off, ohms, f"h{n}") for n in range(3)]  # probes placed three times, so that no slip is left
    told = Reading(Question("works", "quiet", setup=Setup(stimulus="run")), "bad", "owner")
    belief = weigh(laws, [*said, told])
    followed = belief.laws.base.stands_for >= 0
    left = float(belief.weight[~followed].sum())
    assert 0.0 < followed.mean() < 0.5 and 0.0 < left < 0.02
    one = chance(belief, "C1 short", "RAW loads-net", "R1 short", "C1 otherwise", "R1 otherwise")
    assert one > 0.9


def test_a_bank_of_which_nothing_is_followed_judges_nothing() -> None:
    asleep = laws_of("supply").base.with_awake((0,) * len(model_of("supply").cells))
    assert not show(asleep, FREQUENCY).judged.any()


def test_first_two_draws_of_each_cell_that_may_be_are_followed_and_all_of_those_that_live() -> None:
    belief = weigh(laws_of("supply"), [Reading(FREQUENCY, 50.0, "h")])
    counts = dict(zip(range(len(belief.laws.model.cells)), belief.laws.base.awake or (), strict=True))
    mass = np.bincount(belief.laws.cell_of, belief.weight, len(counts))
    assert set(counts.values()) == {0, FIRST, 8}
    prior = np.exp(belief.laws.model.log_prior)
    assert prior[[cell for cell, count in counts.items() if not count]].sum() < 2.0 * DEAD * prior.sum()
    assert all(counts[cell] == 8 for cell in np.flatnonzero(mass > 0.01)) and FIRST in counts.values()


def test_a_reading_that_no_living_cell_explains_wakes_the_dead() -> None:
    """Ohms that only a short has, then volts that nothing has: the short is not the only one looked at."""
    laws = draw_laws(build_model(read(SUPPLY), "woken"))
    off = Question("ohms", "R1.1", "R1.2", Setup(power="off"))
    belief = weigh(laws, [Reading(off, 1.0, "h1"), Reading(at("run", "dc", "RAW"), 100.0, "h2")])
    assert (belief.laws.base.stands_for >= 0).all()


def test_what_was_asked_before_changes_nothing() -> None:
    """The same readings give the same belief, whatever else was followed meanwhile."""
    falls = at("on", "fall", "RES", level=2.5)
    said = [Reading(at("on", "top", "RC"), 4.9, "h1")]
    fresh = weigh(draw_laws(build_model(read(RESET), "again")), said)
    laws = draw_laws(build_model(read(RESET), "again"))
    weigh(laws, [Reading(falls, 0.2, "h"), Reading(at("on", "last", "RC"), 3.0, "h2")])
    assert weigh(laws, said).log_weight == approx(fresh.log_weight, rel=1e-5)  # rounding differs with the batch
