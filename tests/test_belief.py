"""Laws of belief: they hold whatever was read, on machines small enough to follow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brute_force import MACHINE
from probewright import jobs, machine
from probewright.inference.belief import Belief, refine, total_nats, weigh
from probewright.inference.explanation import explain
from probewright.jobs.telling import decide
from probewright.planning.choosing import rank
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.likelihood import HONEST, SLIP, Judged, anywhere_nats, broad_nats, normal_nats, spread
from probewright.prediction.outcomes import show
from probewright.readings import Question, Reading, Setup
from probewright.readings.lines import read_readings
from timed_machines import STAGE

PAIR = """\
machine: Two equal line channels
extras:
  SUPPLY: source 12V 5% series 1R            VCC > GND
  GEN: source 0V series 600R                 SIG > GND
  LEADL: lead 0.2R                           OUTL > ENDL
  LEADR: lead 0.2R                           OUTR > ENDR
known good: [GEN]
sections:
  supply:
    parts:
      R1: resistor 10k                       VCC > REF
      R2: resistor 10k                       REF > GND
      C1: capacitor 47u 20% film             REF > GND
      J1: contact                            SIG > SIN
  lines:
    each: {L: left, R: right}
    match: 1%
    parts:
      R11*: resistor 10k                     SIN > IN*
      C11*: capacitor 10u 20% film           PLUS* > IN*
      R12*: resistor 33k                     PLUS* > REF
      U1: opamp dual generic                 vplus=VCC vminus=GND
      U1*: of U1                             plus=PLUS* minus=FB* out=DRV*
      R13*: resistor 22k                     DRV* > FB*
      R14*: resistor 10k                     FB* > REF
      C12*: capacitor 22u 20% film           DRV* > OUT*
      R15*: resistor 47k                     END* > GND
stimuli:
  tone: {do: feed the 1 kHz tone, GEN: sine 0.25V rms 1kHz}
works:
  "* output": END* level at tone; below 80% of healthy = weak; below 5% of healthy = silent
"""


@pytest.fixture(scope="module")
def amplifier() -> jobs.Search:
    return jobs.open_search(machine.read(MACHINE, "amplifier.yaml"))


@pytest.fixture(scope="module")
def pair() -> jobs.Search:
    return jobs.open_search(machine.read(PAIR, "pair.yaml"))


def said(job: jobs.Search, *lines: str) -> tuple[Reading, ...]:
    """Lines as typed, power on with the tone unless they say otherwise."""
    return read_readings("\n".join(("set-up: power on, tone", *lines)), job.machine)


def after(job: jobs.Search, readings: Sequence[Reading]) -> Belief:
    return jobs.enter_readings(job, readings).belief


def chance(belief: Belief, *ids: str) -> float:
    """Probability of these suspects, or of all whose names begin so and end with a blank or a dot."""
    return sum(
        float(p)
        for suspect, p in zip(belief.suspects, belief.probability, strict=True)
        if any(suspect.id == one or suspect.id.startswith((f"{one} ", f"{one}.")) for one in ids)
    )


def odds(belief: Belief, ids: Sequence[str], against: str = "nothing-wrong") -> float:
    """Log of the probability of some suspects over another's, nat."""
    return float(np.log(chance(belief, *ids)) - np.log(chance(belief, against)))


def machine_with(job: jobs.Search, suspect: str, asks: Sequence[Question], severity: float = 0.0) -> list[float]:
    """What an exact instrument shows of a machine with this fault and every figure in its middle."""
    model = job.laws.model
    cells = [n for n, cell in enumerate(model.cells) if model.suspects[cell.suspect].id == suspect]
    z = np.zeros((len(model.latents.keys) + 1, 1))
    z[-1] = severity
    bank = Bank(model, [Span(cells[len(cells) // 2], 0, 1)], z)
    return [float(show(bank, ask).value[0]) for ask in asks]


def told(job: jobs.Search, suspect: str, asks: Sequence[Question], **more: object) -> tuple[Reading, ...]:
    """Readings of that machine, each with its own hook-up."""
    values = machine_with(job, suspect, asks)
    return tuple(Reading(ask, value, f"h{n}", **more) for n, (ask, value) in enumerate(zip(asks, values, strict=True)))  # type: ignore[arg-type]


TONE = Setup(stimulus="tone")
MIXED = (
    "VCC 11.9 V", "B1 2.05 V", "C1N 6.3 V", "OUT 0.12 Vpp", "E1 22 mVpp", "set-up: power on, tone, lift R6.1", "OUT 0.11 Vpp",
    "set-up: off", "R3 4k6 ohm",
)  # fmt: skip


@pytest.fixture(scope="module")
def mixed(amplifier: jobs.Search) -> Belief:
    return after(amplifier, said(amplifier, *MIXED))


# Sums ------------------------------------------------------------------------------------------


def test_probabilities_sum_to_one_before_and_after(amplifier: jobs.Search, mixed: Belief) -> None:
    for belief in (amplifier.belief, mixed, weigh(amplifier.laws, mixed.readings)):
        assert belief.probability.sum() == pytest.approx(1.0, abs=1e-9)
        assert np.all(belief.probability >= 0.0)


def test_before_any_reading_belief_is_the_prior(amplifier: jobs.Search) -> None:
    prior = [suspect.prior for suspect in amplifier.belief.suspects]
    assert amplifier.belief.probability == pytest.approx(prior, abs=1e-9)


def test_prior_and_weights_add_up_to_the_posterior(mixed: Belief) -> None:
    weights = explain(mixed)
    total = weights.prior + weights.nats.sum(axis=0)
    assert total == pytest.approx(weights.posterior, abs=1e-6)
    p = mixed.probability
    big = (p > 1e-9) & (p < 1.0 - 1e-9)
    assert weights.posterior[big] == pytest.approx(np.log(p[big]) - np.log1p(-p[big]), abs=1e-6)
    prior = np.array([suspect.prior for suspect in mixed.suspects])
    assert weights.prior == pytest.approx(np.log(prior) - np.log1p(-prior), abs=1e-9)


def test_the_same_readings_give_the_same_answer_bit_for_bit(mixed: Belief) -> None:
    again = after(jobs.open_search(machine.read(MACHINE, "amplifier.yaml")), mixed.readings)
    assert np.array_equal(again.probability, mixed.probability)
    assert np.array_equal(again.log_weight, mixed.log_weight)


def test_a_quick_answer_is_marked_rough_and_a_refined_one_is_not(amplifier: jobs.Search, mixed: Belief) -> None:
    assert jobs.quick_look(amplifier, mixed.readings).belief.rough
    assert weigh(amplifier.laws, mixed.readings).rough
    assert not refine(weigh(amplifier.laws, mixed.readings)).rough
    assert not mixed.rough


@pytest.mark.parametrize(
    "lines",
    [
        ("VCC 11.9 V", "B1 2.05 V", "C1N 6.3 V", "OUT 0.12 Vpp", "E1 22 mVpp"),
        ("VCC 12 V", "B1 2.1 V", "C1N 11.9 V", "OUT 11.2 V", "E1 0.05 V"),
        ("VCC 12 V", "B1 2.4 V", "C1N 3.1 V", "OUT 2.4 V", "E1 1.72 V"),
    ],
)
def test_the_order_within_one_set_up_hardly_matters(amplifier: jobs.Search, lines: tuple[str, ...]) -> None:
    taken = said(amplifier, *lines)
    first = after(amplifier, taken).probability
    shuffled = [taken[n] for n in (3, 0, 4, 2, 1)]
    worst = float(np.abs(after(amplifier, shuffled).probability - first).max())
    print(f"largest change by order: {worst:.4f}")
    assert worst < 0.02


# Slips -----------------------------------------------------------------------------------------


def test_the_same_hook_up_read_ten_times_is_hardly_more_than_once(amplifier: jobs.Search) -> None:
    wrong = "C1N 1.43 V"
    laws = amplifier.laws
    steps = []
    for repeats in (1, 2, 11):
        taken = said(amplifier, "VCC 12 V", "OUT 5.9 V", "E1 1.4 V", wrong, *[f"{wrong}; same hook-up"] * (repeats - 1))
        p = weigh(laws, taken).probability
        steps.append(np.log(p) - np.log1p(-p))
    likely = np.exp(steps[0]) > 1e-4
    moved = np.abs(steps[2] - steps[1])[likely].max()
    print(f"ten repeats move log odds by {moved:.3f} nat")
    assert moved < 1.0
    apart = said(amplifier, "VCC 12 V", "OUT 5.9 V", "E1 1.4 V", *[wrong] * 11)
    p = weigh(laws, apart).probability
    assert np.abs(np.log(p) - np.log1p(-p) - steps[0])[likely].max() > 5.0  # probes placed anew are new evidence


@pytest.mark.parametrize(
    "figures", [(5.0, 5.0), (5.0, 5.2), (-7.1, 5.0), (3.0, 3.0, 3.0), (3.0, 9.0, 3.01), (2.0, float("inf"))]
)
def test_what_nobody_foresees_stands_still_while_it_is_measured_again(
    amplifier: jobs.Search, figures: tuple[float, ...]
) -> None:
    """Against numerical integration over the figure that stands there, each placing honest or slipped by itself."""
    bank, ask = amplifier.laws.base, Question("dc", "C1N", setup=TONE)
    placings = [(Reading(ask, figure, f"h{n}"),) for n, figure in enumerate(figures)]
    broad = [np.exp(broad_nats(bank, "dc", figure)) for figure in figures]
    if not np.isfinite(figures).all():
        assert anywhere_nats(bank, placings) == pytest.approx(np.log(np.prod(broad)))  # over-limit is a word, no figure
        return
    sd = float(np.hypot(*spread(placings[0][0], figures[0])))
    grid = np.linspace(-30.0, 30.0, 600_001)
    each = [
        HONEST * np.exp(normal_nats(figure - grid, sd)) + (1.0 - HONEST) * far
        for figure, far in zip(figures, broad, strict=True)
    ]
    stands = np.exp([broad_nats(bank, "dc", figure) for figure in grid[::1000]])
    wanted = np.trapezoid(np.prod(each, axis=0) * np.interp(grid, grid[::1000], stands), grid)
    wanted += (
        (1.0 - HONEST) ** len(figures)
        * np.prod(broad)
        * (1.0 - np.trapezoid(np.interp(grid, grid[::1000], stands), grid))
    )
    assert anywhere_nats(bank, placings) == pytest.approx(np.log(wanted), abs=0.1)


def test_a_slip_measured_again_speaks_for_nothing_that_is_not_in_the_file(amplifier: jobs.Search) -> None:
    asks = [Question("dc", net, setup=TONE) for net in ("VCC", "B1", "E1")]
    good = told(amplifier, "R4 drift-up", asks)
    wild = Reading(Question("dc", "C1N", setup=TONE), -7.13, "wild")
    again = replace(wild, answer=machine_with(amplifier, "R4 drift-up", [wild.question])[0], hookup="again")
    once, twice = (weigh(amplifier.laws, (*good, *more)) for more in ((again,), (wild, again)))
    moved = odds(twice, ["not-listed"], "R4 drift-up") - odds(once, ["not-listed"], "R4 drift-up")
    assert (
        abs(moved) < np.log(2.0 * (1.0 - HONEST) / SLIP["anything"]) + 0.1
    )  # either of the two may have slipped, anyhow


def test_nobody_is_sent_for_the_iron_on_an_answer_that_is_still_rough(amplifier: jobs.Search, mixed: Belief) -> None:
    kinds = {rough: {c.action.kind for c in rank(replace(mixed, rough=rough))[1]} for rough in (False, True)}
    assert "repair" in kinds[False] and "repair" not in kinds[True] and "reading" in kinds[True]


def test_one_figure_on_the_wrong_range_is_flagged_outvoted_and_asked_again(amplifier: jobs.Search) -> None:
    asks = [Question("dc", net, setup=TONE) for net in ("VCC", "B1", "C1N", "E1", "OUT")]
    asks += [Question("pp", net, setup=TONE) for net in ("B1", "C1N", "E1", "OUT")]
    good = told(amplifier, "R4 drift-up", asks)
    for wrong in (2, 4):
        taken = list(good)
        taken[wrong] = replace(good[wrong], answer=float(good[wrong].answer) / 1000.0)
        belief = after(amplifier, taken)
        _, verdict, classes, choices = decide(belief)
        leaders = {belief.suspects[n].id for n in classes[0].members}
        assert "R4 drift-up" in leaders
        assert [s.reading for s in verdict.surprises] == [wrong]
        assert choices[0].action.ask == taken[wrong].question
        assert verdict.finding == "undecided"


# Channels --------------------------------------------------------------------------------------


def test_one_low_channel_accuses_its_own_parts_and_two_accuse_what_they_share(pair: jobs.Search) -> None:
    asks = [Question("pp", f"{net}{channel}", setup=TONE) for net in ("PLUS", "DRV", "OUT", "END") for channel in "LR"]
    healthy = told(pair, "nothing-wrong", asks)
    left = [r if r.question.red.endswith("R") else replace(r, answer=0.92 * float(r.answer)) for r in healthy]
    both = [replace(r, answer=0.92 * float(r.answer)) for r in healthy]

    def in_left(belief: Belief) -> float:
        parts = {name for name, part in belief.laws.model.machine.parts.items() if part.channel == "L"}
        nets = {net for net in belief.laws.model.machine.nets if net.endswith("L")}
        return sum(
            float(p)
            for suspect, p in zip(belief.suspects, belief.probability, strict=True)
            if suspect.faults and all(f.item.split("~")[0].split(".")[0] in parts | nets for f in suspect.faults)
        )

    one, two = in_left(after(pair, left)), in_left(after(pair, both))
    print(f"fault in the left channel: {one:.3f} when it alone is 8 % low, {two:.3f} when both are")
    assert one - two > 0.5


# Words and swaps -------------------------------------------------------------------------------


def test_words_for_what_works_move_the_right_suspects(pair: jobs.Search) -> None:
    before = pair.belief
    ok, bad, half = (after(pair, said(pair, f"left output: {word}")) for word in ("ok", "bad", "half"))
    left, right = ["R13L", "R14L", "C12L", "LEADL"], ["R13R", "R14R", "C12R", "LEADR"]
    assert chance(bad, *left) > 1.5 * chance(before, *left)
    assert chance(ok, *left) < chance(before, *left)
    assert chance(bad, *right) < chance(before, *right) * 1.05
    assert chance(bad, "nothing-wrong") < 0.3 * chance(before, "nothing-wrong")
    # half: a resistor that has risen may do it, an open lead or a short to ground does not
    assert chance(half, "R14L drift-up") > 2.0 * chance(before, "R14L drift-up")
    assert chance(half, "LEADL open") < 0.3 * chance(bad, "LEADL open")
    silent = after(pair, said(pair, "left output: silent"))
    assert chance(silent, "LEADL open") > chance(bad, "LEADL open")
    assert chance(silent, "R14L drift-up") < 0.3 * chance(bad, "R14L drift-up")


def test_no_owners_word_is_certain(pair: jobs.Search) -> None:
    belief = after(pair, said(pair, "left output: ok"))
    p = belief.probability
    posterior = np.log(p) - np.log(pair.belief.probability)
    assert posterior.min() > np.log(0.02) - 0.3


def test_a_swap_lowers_or_raises_the_extra(pair: jobs.Search) -> None:
    complaint = said(pair, "left output: silent")
    first = after(pair, complaint)
    same, cured = (
        after(pair, said(pair, "left output: silent", f"swapped LEADL: {word}")) for word in ("same", "cured")
    )
    assert chance(same, "LEADL") < 0.2 * chance(first, "LEADL")
    assert odds(cured, ["LEADL"], "R13L open") > odds(first, ["LEADL"], "R13L open") + 3.0
    assert chance(cured, "LEADL") > 0.5 > chance(first, "LEADL")
    assert chance(same, "LEADR") < 2.0 * chance(first, "LEADR")


# Repairs ---------------------------------------------------------------------------------------


def test_after_a_part_is_replaced_its_old_fault_explains_nothing(pair: jobs.Search) -> None:
    tone = said(pair, "OUTL 1.0 Vpp", "OUTR 2.2 Vpp")
    replaced = said(pair, "OUTL 1.0 Vpp", "OUTR 2.2 Vpp", "set-up: power on, tone, replaced R14L", "OUTL 1.0 Vpp")
    before, since = weigh(pair.laws, tone), weigh(pair.laws, replaced)
    assert chance(before, "R14L drift-up") > 0.05
    assert chance(since, "R14L") < 0.01 * chance(before, "R14L")
    assert chance(since, "R13L", "C12L", "LEADL", "R15L") > 0.0


def test_a_healthy_reading_after_a_repair_says_nothing_against_the_old_fault(pair: jobs.Search) -> None:
    fixed = Setup(stimulus="tone", replaced=("R14L",))
    taken = told(pair, "nothing-wrong", [Question("pp", net, setup=fixed) for net in ("DRVL", "DRVR")])
    mine, other = ["R14L open", "R14L drift-up"], ["R14R open", "R14R drift-up"]
    assert odds(weigh(pair.laws, taken), mine) == pytest.approx(odds(pair.belief, mine), abs=0.25)
    moved = odds(after(pair, taken), mine) - odds(pair.belief, mine)
    print(f"replaced part moves {moved:.3f} nat")
    assert abs(moved) < 0.25
    assert odds(after(pair, taken), other) - odds(pair.belief, other) < -2.0


# Faults that come and go -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def healthy_outputs(pair: jobs.Search) -> tuple[Reading, ...]:
    return told(pair, "nothing-wrong", [Question("pp", net, setup=TONE) for net in ("SIN", "DRVL", "OUTL", "ENDL")])


@pytest.mark.parametrize("suspect", ["LEADL now-and-then", "R13L.1 joint-resistance", "R11L.2 joint-resistance"])
def test_healthy_readings_clear_a_shy_fault_only_while_it_shows(
    pair: jobs.Search, healthy_outputs: tuple[Reading, ...], suspect: str
) -> None:
    def moved(readings: Sequence[Reading]) -> float:
        return odds(weigh(pair.laws, readings), [suspect]) - odds(pair.belief, [suspect])

    shown = moved(healthy_outputs)
    hidden = moved([replace(r, showing="no") for r in healthy_outputs])
    first = moved([replace(r, showing="no") for r in healthy_outputs[:1]])
    print(f"{suspect}: showing {shown:.2f} nat, not showing {hidden:.2f} nat (first reading {first:.2f})")
    assert abs(hidden) < 0.3
    assert shown < -0.25
    assert shown < hidden - 0.2


# Doubt -----------------------------------------------------------------------------------------


def test_unjudged_draws_leave_a_suspect_where_it_was() -> None:
    model = build_model(machine.read(MACHINE, "amplifier.yaml"), "unjudged")
    taken = (
        Reading(Question("dc", "C1N", setup=TONE), 11.9, "h1"),
        Reading(Question("dc", "OUT", setup=TONE), 11.2, "h2"),
    )
    for share in (1.0, 0.5):
        laws = draw_laws(model)
        blind = model.index["R3 open"], model.index["Q1 base-open"]
        prior = weigh(laws, ()).probability
        unsolved = np.isin(model.suspect_of[laws.cell_of], blind) & (np.arange(len(laws.cell_of)) % 2 < 2 * share)
        rest = laws.base.solved(TONE).rest
        rest.solved[unsolved] = False
        belief = weigh(laws, taken)
        assert np.all(np.isfinite(belief.log_weight[laws.log_prior > -np.inf]))
        p = belief.probability
        for n in blind:
            moved = float(np.log(p[n] / (1.0 - p[n])) - np.log(prior[n] / (1.0 - prior[n])))
            print(f"{share:.0%} of {model.suspects[n].id} unjudged: log odds move {moved:.2f} nat")
            if share == 1.0:
                assert abs(moved) < 0.1
        assert belief.quality[1] > 0.0


# What says nothing of a draw ---------------------------------------------------------------------


class Silent:
    """Laws of five draws in two hook-ups: chances of the answers, NaN where one says nothing of a draw."""

    model = cell_of = np.zeros(5, int)
    log_prior = np.log([0.1, 0.3, 0.2, 0.2, 0.2])
    chances: Mapping[str, np.ndarray] = {
        "1": np.array([0.8, 0.1, 0.4, 0.3, np.nan]), "2": np.array([0.5, 0.2, 0.9, np.nan, np.nan]),
    }  # fmt: skip

    def sitting_nats(self, said: Sequence[Reading]) -> Judged:
        chance = np.prod([self.chances[one] for one in dict.fromkeys(r.hookup for r in said)], axis=0)
        judged = ~np.isnan(chance)
        return Judged(np.log(np.nan_to_num(chance, nan=1.0)), np.ones((5, len(said))), judged, judged)


TOLD = [Reading(Question("dc", "A"), 1.0, "1"), Reading(Question("dc", "B"), 2.0, "2")]


def test_what_says_nothing_of_a_draw_is_as_probable_as_the_others_give_it_after_the_rest() -> None:
    """By hand, chances before as 1 : 3 : 2. Draws 0 to 2 are judged whole: (0.4 + 3 x 0.02 + 2 x 0.36) / 6 = 1.18 / 6, the first
    answer alone (0.8 + 3 x 0.1 + 2 x 0.4) / 6 = 1.9 / 6. So the second is worth 1.18 / 1.9 to draw 3; draw 4, of which both say
    nothing, stays where it was."""
    nats, _ = total_nats(Silent(), TOLD)
    assert np.exp(nats) == pytest.approx([0.4, 0.02, 0.36, 0.3 * 1.18 / 1.9, 1.18 / 6.0])


def test_two_joints_of_one_dead_source_stay_alike_when_draws_are_put_afresh() -> None:
    """Either leaves no tone whose distortion could be judged, in old draws and in new ones alike."""
    search = jobs.open_search(machine.read(STAGE, "stage.yaml"))
    tone = Setup(stimulus="tone")
    said = [
        Reading(Question("works", "clean"), "bad", "owner"), Reading(Question("top", "C", setup=tone), 7.4, "1"),
        Reading(Question("valley", "C", setup=tone), 7.4, "1"),
    ]  # fmt: skip
    belief = jobs.enter_readings(search, said).belief
    plus, minus = (
        float(belief.probability[belief.laws.model.index[f"V1.{pin} joint-open"]]) for pin in ("plus", "minus")
    )
    assert not belief.rough and plus > 1e-3
    assert 0.4 < plus / minus < 2.5


def test_a_suspect_that_the_scout_sees_is_drawn_again_where_its_first_draws_missed() -> None:
    """A leaking capacitor across a divider and anything else that hangs on it read alike at MID, and IN, 100 kohm further,
    tells nothing between them: it must not move one against the other. With first draws alone it did, by 10^7."""
    search = non_inverting()
    volts = [("LOW", 2.173041119268577), ("FB", 2.1796007088796907), ("MID", 0.15047723847785285)]
    said = [Reading(Question("works", "tone"), "silent", "o"), *(Reading(Question("dc", at), v, at) for at, v in volts)]
    before = jobs.enter_readings(search, said)
    after = jobs.enter_readings(before, [Reading(Question("dc", "IN"), 0.14912303705729443, "IN")])
    leak, load = (after.laws.model.index[one] for one in ("C2 leak", "MID loads-net"))
    odds = [one.belief.probability[leak] / one.belief.probability[load] for one in (before, after)]
    assert 3.0 < odds[0] and odds[1] == pytest.approx(odds[0], rel=0.5)


def test_a_reading_that_two_suspects_foretell_alike_does_not_move_one_against_the_other() -> None:
    """With a load on AMP no direct current flows in R4 and R5, with one on FB none in R5: FB reads what LOW reads, within
    the error of the meter, and tells nothing between them. One draw of AMP that was not solved hid it from the scout."""
    search = non_inverting()
    said = [
        Reading(Question("works", "tone"), "silent", "o"),
        Reading(Question("dc", "LOW"), 0.3588098548, "LOW"),
        Reading(Question("dc", "FB"), 0.3589261927, "FB"),
    ]
    first, second = jobs.enter_readings(search, said[:2]), jobs.enter_readings(search, said)
    amp, fb = (second.laws.model.index[one] for one in ("AMP loads-net", "FB loads-net"))
    odds = [one.belief.probability[amp] / one.belief.probability[fb] for one in (first, second)]
    assert 0.2 < odds[0] < 5.0 and odds[1] == pytest.approx(odds[0], rel=0.6)


def test_draws_that_meet_every_reading_take_the_place_of_many_that_miss_one() -> None:
    """An open C3 leaves the tone at LOW as large as at IN, 0.141 V: what was read is what it foretells. Sixty of its draws
    that missed two capacitors in ohms, and called them slips, weighed more than three that met them."""
    search = non_inverting()
    off = Setup(power="off")
    ohms = [("R5", 4705.833913734846), ("R1", 53486.86904888281), ("R4", 48586.58307405507), ("C4", 13994107.102925047),
            ("C3", 13952504.107353428)]  # fmt: skip
    said = [
        Reading(Question("works", "tone"), "faint", "o"),
        *(Reading(Question("ohms", f"{part}.1", f"{part}.2", off), value, part) for part, value in ohms),
        Reading(Question("pp", "LOW", setup=Setup(stimulus="tone")), 0.141939701297322, "LOW"),
    ]
    found = jobs.enter_readings(search, said).belief
    alone = found.probability[found.laws.model.index["C3 open"]]
    assert alone > 0.9


def non_inverting() -> jobs.Search:
    """A search on a non-inverting stage on one supply."""
    file = Path(__file__).parent.parent / "benchmarks" / "machines" / "non-inverting.yaml"
    return jobs.open_search(machine.read(file.read_text("utf-8"), file.name))
