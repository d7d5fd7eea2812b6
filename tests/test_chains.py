"""Chains of blocks: what is typed, what it becomes, and what is believed where only ratios are known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from benchmarks import chains as bench
from benchmarks import made_up
from probewright import jobs, machine
from probewright.errors import BadInput, Complaint
from probewright.hypotheses import NOT_LISTED
from probewright.hypotheses.suspects import suspects_of
from probewright.machine.chains import chain_of, equal_places, is_chain, read_chain, say
from probewright.machine.kinds.block import alive
from probewright.planning.danger import caution
from probewright.planning.minutes import minutes
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import build_model
from probewright.prediction.likelihood import chance_of_beep, chance_of_share, chance_within, is_loose, is_weighed
from probewright.prediction.outcomes import show
from probewright.readings import KEPT, Question, Reading, Setup

ON = Setup("on", "playing")
OFF = Setup("off")
DECK = """\
left, right: head > preamp (x11, in 47k, out 100) > equaliser > 4u7 > volume > driver > phones
volume > line amp > line out
preamp, equaliser on 12V
driver to ground: mute switch
"""


def deck(text: str = DECK) -> machine.Machine:
    return machine.read(read_chain(text, "Deck"))


def lines_of(text: str) -> dict[str, str]:
    """Part lines of a typed chain, by name."""
    file = read_chain(text).partition("known good:")[0]
    found = (line.strip().partition(": ") for line in file.splitlines())
    return {name: line for name, _, line in found}


def complaints(text: str) -> tuple[Complaint, ...]:
    with pytest.raises(BadInput) as bad:
        chain_of(text)
    return bad.value.complaints


# what is typed ---------------------------------------------------------------------------------------


def test_the_deck_becomes_blocks_with_their_figures_and_nets() -> None:
    lines = lines_of(DECK)
    assert lines["preamp*"] == (
        "block gain 11 input 47k output 100R needs 4V  in=after-head* out=after-preamp* supply=rail-12V"
    )
    assert lines["head*"] == "block gain 1 input 1M output ?  in=signal out=after-head*"
    assert lines["C1*"] == "capacitor 4u7 electrolytic  after-equaliser* > after-C1*"
    assert lines["line-amp*"].endswith("in=after-volume* out=after-line-amp*")
    assert lines["mute-switch*"] == "switch open  after-driver* > GND"
    one = deck()
    assert one.channels == {"L": "left", "R": "right"}
    assert [works.name for works in one.works] == ["phones left", "phones right", "line out left", "line out right"]
    assert {part.name for part in one.parts.values() if part.role == "extra"} >= {"headL", "phonesR", "line-outL"}


@pytest.mark.parametrize(
    "text",
    [
        DECK,
        "guitar > lead > amp > loudspeaker\namp on wall adaptor 9V",
        "voices 1 to 4:\nosc > filter > vca 20dB > mixer > out\nshared: mixer\nall on 9V rail",
        "L/R: deck > pre-amp -> power amp → speakers (8); shared: deck supply",
        "a > ? > b",
        "source > 10k > stage > C 100n > second stage > display\nstage, second stage on -12V",
        "both channels: tape > amp > phones  # as found\namp on ±15V",
        "tuner > tone (x2, in 10k, out ?) > amp\ntone on ?\namp on ?",
    ],
)
def test_the_file_loads_without_a_warning_and_is_in_canonical_form(text: str) -> None:
    written = read_chain(text, "Any: name [of] mine")
    read = machine.read(written)
    assert read.warnings == ()
    assert machine.write(written) == written
    assert is_chain(read)


@pytest.mark.parametrize(
    ("typed", "part", "line"),
    [
        ("a > stage x3 > b", "stage", "block gain 3 input ? output ?"),
        ("a > stage (20dB) > b", "stage", "block gain 10 input ? output ?"),
        ("a > stage (-6dB, input 10k) > b", "stage", "block gain 0.5012 input 10k output ?"),
        ("a > stage (gain ?, out 4k7) > b", "stage", "block gain ? input ? output 4k7"),
        ("a > C7 100n > b", "C7", "capacitor 100n film"),
        ("a > coupling cap ? > b", "C1", "capacitor ? electrolytic"),
        ("a > 10u film > b", "C1", "capacitor 10u film"),
        ("a > 4,7k > b", "R1", "resistor 4k7"),
        ("a > b > loudspeaker (4)", "loudspeaker", "block gain 1 input 4R output 1R"),
        ("a > b > TV", "TV", "block gain 1 input 75R 20% output 1R"),
        ("a > b > phones\nb to ground: 100n", "C100", "capacitor 100n film"),
        ("a > b > phones\nb to ground: something odd", "something-odd", "resistor ?"),
    ],
)
def test_figures_and_parts_among_the_blocks(typed: str, part: str, line: str) -> None:
    assert lines_of(typed)[part].partition("  ")[0] == line


@pytest.mark.parametrize(
    ("words", "labels"),
    [
        ("left, right", ["left", "right"]),
        ("L/R", ["left", "right"]),
        ("stereo", ["left", "right"]),
        ("front and rear", ["front", "rear"]),
        ("voices 1 to 3", ["voice 1", "voice 2", "voice 3"]),
        ("channels A, B", ["a", "b"]),
    ],
)
def test_channels_in_front_or_on_a_line_of_their_own(words: str, labels: list[str]) -> None:
    assert list(chain_of(f"{words}: a > b > c").channels.values()) == labels
    assert chain_of(f"{words}\na > b > c").channels == chain_of(f"a > b > c\n{words}:").channels


@pytest.mark.parametrize(
    ("text", "line", "column", "says", "mend"),
    [
        ("", 1, 1, "no chain", "head > preamp"),
        ("a > b > 47 > c", 1, 9, "'47' could be a value or a name", "47R"),
        ("a > b\nc > d", 2, 1, "'c' is none", "a, b"),
        ("a > b > > c", 1, 9, "nothing on one side", "both sides"),
        ("a > b > b", 1, 9, "stands in line 1 already", "b 2"),
        ("a > b (x3, y) > c", 1, 12, "'y' is no figure", "x11"),
        ("a > b > c\nbb on 12V", 2, 1, "no block of the chain is called 'bb'", "write"),
        ("a > b > c\nb on 12V\nb on 9V", 3, 6, "b is on 12V already", "one supply"),
        ("a > b > c\nwhat is this", 2, 1, "'what is this' is not understood", ">"),
        ("a > b > phones\nphones to ground: 10k", 2, 1, "the end of the chain already", "drives it"),
        ("a > b > phones\nb to ground:", 2, 1, "not said", "mute switch"),
        ("a (x3) > b > c", 1, 1, "an end of the chain", "leave it out"),
        ("a > b > c\nb on 12,4,5V", 2, 6, "12,4,5", "12V"),
        ("left, right: a > b\nfront, rear: a > b", 2, 1, "the channels were left, right", "same"),
    ],
)
def test_what_cannot_be_understood_says_where_and_what_to_write(
    text: str, line: int, column: int, says: str, mend: str
) -> None:
    first = complaints(text)[0]
    assert (first.line, first.column) == (line, column)
    assert says in first.text and mend in first.mend


def test_the_echo_says_every_line_that_was_typed() -> None:
    said = "\n".join(say(chain_of(DECK)))
    for words in (
        "preamp (x11, in 47k, out 100R)",
        "line amp",
        "left, right",
        "preamp, equaliser on 12V",
        "mute-switch",
    ):
        assert words in said


def test_equal_places_are_on_the_other_channels_only() -> None:
    one = deck()
    assert equal_places(one, "after-volumeL") == ("after-volumeR",)
    assert equal_places(one, "volumeR.in") == ("volumeL.in",)
    assert equal_places(one, "rail-12V") == equal_places(one, "GND") == ()


def test_two_channels_meet_in_a_shared_block() -> None:
    one = machine.read(read_chain("left, right: a > b > mixer > out\nshared: mixer"))
    assert one.parts["mixer"].pins["in"] == one.parts["into-mixerL"].pins["2"] == one.parts["into-mixerR"].pins["2"]
    assert "out" in one.parts and [works.name for works in one.works] == ["out"]


# a block and its supply ------------------------------------------------------------------------------


def test_a_block_dies_with_its_supply_and_works_without_one_typed() -> None:
    left, _ = alive(np.array([0.0, 4.0, 12.0, -12.0]), np.full(4, 4.0))
    assert left == approx([0.0, 0.5, 1.0, 1.0], abs=2e-3)
    assert alive(np.array([0.0]), np.array([0.0]))[0] == approx([1.0])


def healthy_bank(one: machine.Machine) -> Bank:
    model = build_model(one)
    return Bank(model, [Span(model.healthy_cell, 0, 1)], np.zeros((len(model.latents.keys) + 1, 1)))


def levels(one: machine.Machine, *places: str, setup: Setup = ON) -> list[float]:
    bank = healthy_bank(one)
    return [float(show(bank, Question("pp", place, setup=setup)).value[0]) for place in places]


def test_levels_follow_gains_and_loads() -> None:
    one = deck("a (out 100) > b (x2, in 1k, out 0.1) > phones (1M)")
    before, after = levels(one, "after-a", "after-b")
    assert before == approx(2 * 0.1 * 1000 / 1100, rel=1e-3)  # 0.1 V peak behind 100 ohm into 1 kohm
    assert after == approx(2.0 * before, rel=1e-3)


def test_a_rail_that_is_gone_silences_the_blocks_on_it_only() -> None:
    one = deck("a > b (x2) > c (x2) > phones\nc on 12V")
    dead = Setup("on", "playing", unplugged=("supply-12V",))
    sound, gone = levels(one, "after-b", "after-c"), levels(one, "after-b", "after-c", setup=dead)
    assert gone[0] == approx(sound[0], rel=1e-6)
    assert gone[1] < 1e-3 * sound[1]


# whatever it is playing ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def opened() -> jobs.Search:
    return jobs.open_search(deck())


def cells(job: jobs.Search, suspect: str) -> np.ndarray:
    """(variant,) bool: draws of one suspect."""
    return job.belief.suspect_of == job.laws.model.index[suspect]


def test_the_level_is_anybodys_guess_and_the_same_in_both_channels(opened: jobs.Search) -> None:
    sound = cells(opened, "nothing-wrong")
    left, right = (
        np.log(opened.laws.outcome(Question("pp", place, setup=ON)).value[sound])
        for place in ("after-driverL", "after-driverR")
    )
    assert np.std(left) > 2.0  # a factor of some hundreds
    assert np.median(np.abs(left - right)) < 0.5


def test_a_share_is_of_the_draws_own_healthy_level(opened: jobs.Search) -> None:
    at = opened.laws.outcome(Question("share", "after-equaliserL", setup=ON)).value
    assert at[cells(opened, "nothing-wrong")] == approx(1.0)
    assert at[cells(opened, "driverL dead")] == approx(1.0)
    assert np.all(at[cells(opened, "preampL dead")] < 1e-3)
    weak = at[cells(opened, "preampL low-gain")]
    assert np.all((weak > 0.049) & (weak < 0.61))


def test_unless_said_otherwise_a_chain_is_playing(opened: jobs.Search) -> None:
    said, meant = (opened.laws.outcome(Question("pp", "after-preampL", setup=s)).value for s in (Setup(), ON))
    assert np.array_equal(said, meant) and said.max() > 0.0


def test_levels_in_words_have_the_law_of_the_ear() -> None:
    share = np.array([0.0, 0.05, 0.5, 1.0, 2.0])
    none, half, fine = (chance_of_share(share, said) for said in (0.0, 0.5, 1.0))
    assert none == approx([1.0, 0.5, 0.001, 0.0, 0.0], abs=1e-3)
    assert np.argmax(half) == 2 and half[3] < 0.01 and half[1] < 0.01
    assert np.argmax(fine) == 3 and fine[2] < 0.01 and fine[0] < 1e-9
    assert chance_of_share(np.array([0.25]), 0.5) > 0.4  # "half" is said of a quarter too


def test_beeps_stop_between_twenty_and_seventy_five_ohm() -> None:
    chance = chance_of_beep(np.array([1.0, 20.0, 40.0, 75.0, 1e3, np.inf]))
    assert chance == approx([1.0, 0.98, 0.5, 0.02, 0.0, 0.0], abs=0.01)


def test_a_bound_is_a_chance_with_the_error_of_the_instrument() -> None:
    below_three = Reading(Question("dc", "rail-12V"), 3.0, "a", bound=(-np.inf, 3.0))
    assert chance_within(below_three, np.array([0.0, 2.9, 3.0, 3.1])) == approx([1.0, 1.0, 0.5, 0.0], abs=1e-3)
    between = Reading(Question("dc", "rail-12V"), 2.5, "a", bound=(2.0, 3.0))
    assert chance_within(between, np.array([1.0, 2.5, 4.0])) == approx([0.0, 1.0, 0.0], abs=1e-3)


def test_bounds_and_beeps_move_suspects(opened: jobs.Search) -> None:
    dead = opened.laws.model.index["supply-12V dead"]
    low = jobs.enter_readings(opened, [Reading(Question("dc", "rail-12V", setup=ON), 3.0, "a", bound=(-np.inf, 3.0))])
    assert low.belief.probability[dead] > 10 * opened.belief.probability[dead]
    short = opened.laws.model.index["after-equaliserL shorts-net"]
    beeps = jobs.enter_readings(opened, [Reading(Question("beep", "after-equaliserL", setup=OFF), "beeps", "a")])
    assert beeps.belief.probability[short] > 10 * opened.belief.probability[short]


def test_what_is_only_kept_weighs_nothing(opened: jobs.Search) -> None:
    for instrument in KEPT:
        answer: float | str = "burnt" if instrument == "look" else 1.0
        after = jobs.enter_readings(opened, [Reading(Question(instrument, "after-driverL", setup=ON), answer, "a")])
        assert after.belief.probability == approx(opened.belief.probability, abs=1e-12), instrument


def test_direct_volts_of_an_unknown_block_weigh_nothing_and_its_ohms_little(opened: jobs.Search) -> None:
    one = opened.machine
    assert one is not None
    assert not is_weighed(one, Question("dc", "after-driverL", setup=ON))
    assert is_weighed(one, Question("dc", "rail-12V", setup=ON))
    assert is_loose(one, Question("ohms", "after-driverL", setup=OFF))
    after = jobs.enter_readings(opened, [Reading(Question("dc", "after-driverL", setup=ON), 5.6, "a")])
    assert after.belief.probability == approx(opened.belief.probability, abs=1e-12)


def test_nobody_is_warned_of_a_level_that_nobody_knows(opened: jobs.Search) -> None:
    assert caution(opened.belief, Question("pp", "after-driverL", setup=ON)) is None


# what is believed ------------------------------------------------------------------------------------


def test_a_chain_covers_the_whole_way_so_less_lies_outside_it() -> None:
    prior = {one.id: one.prior for one in suspects_of(deck())}
    assert prior[NOT_LISTED] == approx(0.02)
    assert sum(prior.values()) == approx(1.0)
    assert "signal loads-net" not in prior


def told(job: jobs.Search, **words: str) -> jobs.Search:
    said = {name.replace("_", " "): word for name, word in words.items()}
    return jobs.enter_readings(job, [Reading(Question("works", name), word, name) for name, word in said.items()])


def chance(job: jobs.Search, *items: str) -> float:
    """How likely a fault on one of these items is."""
    return sum(
        float(p)
        for one, p in zip(job.belief.suspects, job.belief.probability, strict=True)
        if any(fault.item.split(".")[0] in items for fault in one.faults)
    )


def test_several_functions_cut_the_suspects_before_the_first_reading(opened: jobs.Search) -> None:
    after = told(opened, phones_left="silent", phones_right="ok", line_out_left="ok", line_out_right="ok")
    assert chance(after, "driverL", "phonesL", "after-driverL", "mute-switchL") > 0.7
    assert chance(after, "headL", "preampL", "equaliserL", "C1L", "volumeL", "supply-12V") < 0.1


def test_both_channels_dead_points_to_what_they_share(opened: jobs.Search) -> None:
    after = told(opened, phones_left="silent", phones_right="silent", line_out_left="silent", line_out_right="silent")
    assert chance(after, "supply-12V", "rail-12V") > 0.6


def test_everything_that_could_kill_a_node_stays_until_a_reading_splits_it() -> None:
    job = told(jobs.open_search(deck("left, right: a > b > c > d > phones\nb, c on 12V")), phones_left="silent")
    said = [
        Reading(Question("share", "after-bL", setup=ON), 1.0, "1"),
        Reading(Question("share", "after-cL", setup=ON), 0.0, "2"),
    ]
    after = jobs.enter_readings(job, said)
    probability = dict(zip((one.id for one in after.belief.suspects), after.belief.probability, strict=True))
    whole = (
        "cL dead",
        "cL output-open",
        "cL.in joint-open",
        "after-cL shorts-net",
        "after-cL loads-net",
        "dL input-damaged",
    )
    assert all(probability[one] > 1e-3 for one in whole)
    assert sum(probability[one] for one in whole) > 0.7
    way_in = jobs.enter_readings(after, [Reading(Question("share", "cL.in", setup=ON), 0.0, "3")])
    assert chance(way_in, "cL") > 0.8
    assert way_in.belief.probability[way_in.laws.model.index["cL.in joint-open"]] > 0.7


def test_a_weak_channel_is_found_by_comparing_figures() -> None:
    job = told(jobs.open_search(deck("left, right: a > b > c > d > phones")), phones_left="weak", phones_right="ok")
    figures = {"after-bL": 0.52, "after-bR": 0.55, "after-cL": 0.9, "after-cR": 3.1, "cL.in": 0.53}
    said = [Reading(Question("pp", place, setup=ON), volts, place) for place, volts in figures.items()]
    after = jobs.enter_readings(job, said)
    assert chance(after, "cL", "after-cL", "dL") > 0.95
    assert after.belief.probability[after.laws.model.index["cL low-gain"]] > 0.3


def test_proposals_along_a_chain_are_signals_rails_and_swaps(opened: jobs.Search) -> None:
    view = jobs.look(told(opened, phones_left="silent", phones_right="ok"))
    readings = [action for action in view.actions if action.kind == "reading"]
    assert readings and {action.instrument for action in readings} <= {"share", "pp", "rms", "dc"}
    assert all(action.where.startswith("rail") for action in readings if action.instrument == "dc")
    assert readings[0].instrument == "share"  # a figure would say no more than "some" yet


def test_the_same_readings_give_the_same_belief(opened: jobs.Search) -> None:
    said = [Reading(Question("pp", "after-volumeR", setup=ON), 1.1, "a")]
    one, other = (jobs.enter_readings(jobs.open_search(deck()), said) for _ in range(2))
    assert np.array_equal(one.belief.probability, other.belief.probability)


def test_draws_are_moved_to_where_the_readings_are(opened: jobs.Search) -> None:
    figures = {"after-equaliserR": 1.1, "after-equaliserL": 1.05, "after-volumeR": 0.4}
    said = [Reading(Question("pp", place, setup=ON), volts, place) for place, volts in figures.items()]
    after = jobs.enter_readings(opened, said)
    assert after.belief.quality[0] > 10.0
    dead = [after.belief.probability[after.laws.model.index[f"{name}L dead"]] for name in ("volume", "driver")]
    assert dead[0] == approx(dead[1], rel=0.1)  # nothing told them apart


# random faults on random chains ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def searches() -> list[bench.Found]:
    return bench.run(10, seed=11)


def test_random_faults_are_found_by_halving(searches: list[bench.Found]) -> None:
    halving = np.mean([np.log2(len(one.bench.names)) + 1.0 for one in searches])
    assert np.mean([one.readings for one in searches]) <= halving + 0.5  # ten searches scatter by about as much
    assert sum(one.right is True for one in searches) >= 8


def test_random_faults_are_not_found_wrongly(searches: list[bench.Found]) -> None:
    assert not any(one.right is False for one in searches)
    assert all(one.kept for one in searches if one.kept is not None)


def test_the_person_of_the_benchmark_reckons_with_thevenin() -> None:
    two = np.array([[1.0, 2.0]])
    made = made_up.Bench(
        ["deck", "stage1"], ["source", "block"], two, np.array([[1e6, 1e3]]), np.array([[100.0, 50.0]]), 0.1, 150.0, []
    )
    outs, ins = made.levels(0)
    assert outs[0] == approx(0.1 * 1000 / 1100) and ins[1] == approx(outs[0])
    assert outs[1] == approx(2.0 * outs[0] * 150 / 200)
    made.fault = made_up.Fault("bad lead", 0, 0, 1000.0)
    outs, ins = made.levels(0)
    assert outs[0] == approx(0.1 * 2000 / 2100) and ins[1] == approx(outs[0] / 2)


def test_orders_that_people_use_go_along_the_channel_that_is_complained_of() -> None:
    rng = np.random.default_rng(4)
    made = next(one for one in (bench.make(rng) for _ in range(99)) if one.channels == 2 and one.fault.channel == 1)
    bad = next(n for n in range(len(made.names)) if made.share(1, n, False) < bench.PASSES)
    assert list(bench.ORDERS["one by one"](made)) == [(1, n) for n in range(bad + 1)]
    halves = [stage for _, stage in bench.ORDERS["half split"](made)]
    assert halves[0] == (len(made.names) - 2) // 2 and len(halves) <= np.ceil(np.log2(len(made.names)))
    assert {bad, bad - 1} - {-1, len(made.names) - 1} <= set(halves)  # a good place before it and a bad one are known
    assert sorted(bench.ORDERS["random"](made)) == [(1, n) for n in range(len(made.names))]


def test_an_order_is_read_as_it_stands_and_costs_the_minutes_of_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    made, asked, real = bench.numbered(0), list[Question](), bench.answer
    monkeypatch.setattr(bench, "answer", lambda one, ask, number: (asked.append(ask), real(one, ask, number))[1])
    found = bench.search(made, "one by one")
    listed = [stage for _, stage in bench.ORDERS["one by one"](made)]
    stages = [bench.where(made, ask.red)[1] for ask in asked]
    assert len(listed) > 2 and stages[: len(listed)] == listed[: len(stages)]
    assert found.minutes >= minutes("power on") + found.readings * minutes("share")


def test_a_campaign_of_chains_goes_on_where_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = {row.what: row for row in bench.campaign(tmp_path / "whole", 3)}
    list(bench.campaign(tmp_path, 2))
    (kept,) = tmp_path.glob("chains-*.jsonl")
    kept.write_text(kept.read_text() + '{"readings": 4, "ri')  # half a line
    searched: list[made_up.Bench] = []
    real = bench.search
    monkeypatch.setattr(bench, "search", lambda one: (searched.append(one), real(one))[1])
    then = {row.what: row for row in bench.campaign(tmp_path, 3)}
    assert len(searched) == 1
    timed = "chains: slowest answer to a reading"
    assert {what: row for what, row in then.items() if what != timed} == {
        what: row for what, row in whole.items() if what != timed
    }
    assert then["chains: confidently wrong"].goal == 0.05 and "of 3, 95 %" in then["chains: confidently wrong"].note
    assert list(bench.campaign(tmp_path / "nothing", 0)) == []
