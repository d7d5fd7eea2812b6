"""Will the new part do: margins by the book, unknowns that are never passed, legs and polarity, at the command line too."""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from hidden import opened
from probewright.errors import BadInput
from probewright.jobs.replacing import ReplaceView, example, will_it_do
from probewright.jobs.why_died import parts_to_ask
from probewright.machine import read, write
from probewright.machine.kinds import KINDS
from probewright.machine.model import Part
from probewright.machine.spares import read_spare
from probewright.planning.margins import legs_of, margin
from test_overload import BOARD

LEGS = BOARD.replace("Q1: npn small-signal ", "Q1: npn small-signal order e,b,c pitch 1.27mm ").replace(
    "C2: capacitor 100u 20% 6.3V electrolytic", "C2: capacitor 100u 20% 6.3V electrolytic pitch 2.5mm"
)  # fmt: skip
WORKS = """
works:
  rail: V5 dc at run within 10% of healthy
stimuli:
  run: {}
"""


@pytest.fixture
def beside(book):
    """A new part beside what one of the board is asked; verdicts by what they are of."""
    job = opened(book, LEGS + WORKS)

    def asked(part: str, text: str) -> ReplaceView:
        return will_it_do(job.case, None, part, text)

    return asked


def verdicts(view: ReplaceView) -> dict[str, str]:
    return {one.what: one.verdict for one in view.lines}


# The words of a line -------------------------------------------------------------------------------


def test_order_pitch_and_a_rating_by_name_are_read_and_written_back():
    part = read(LEGS).parts["Q1"]
    assert (part.order, part.pitch) == (("e", "b", "c"), pytest.approx(1.27e-3))
    text = "machine: m\nparts:\n  U1: regulator 5V bears 35V order ico pitch 0.1in  in=A out=B com=GND\n"
    text = text.replace("order ico", "order in,com,out")
    made = read(text).parts["U1"]
    assert [(one.value, one.unit) for one in made.ratings] == [(35.0, "V")]
    assert made.order == ("in", "com", "out") and made.pitch == pytest.approx(2.54e-3)
    again = write(text)
    assert (
        "bears 35V order in,com,out pitch 2.54mm" in again and read(again).parts["U1"] == read(write(again)).parts["U1"]
    )
    assert read("machine: m\nparts:\n  Q1: npn order ECB  c=A b=B e=GND\n").parts["Q1"].order == ("e", "c", "b")


@pytest.mark.parametrize(
    ("line", "says"),
    [("npn order EXB  c=A b=B e=GND", "no order of the pins"), ("npn order EE  c=A b=B e=GND", "no order of the pins"),
     ("npn pitch wide  c=A b=B e=GND", "no pitch"), ("resistor 1k bears much  A > GND", "nothing that a part bears"),
     ("npn order ecb order ebc  c=A b=B e=GND", "say the same thing twice")],
)  # fmt: skip
def test_what_is_no_order_no_pitch_and_no_rating_is_refused(line: str, says: str):
    with pytest.raises(BadInput, match=says):
        read(f"machine: m\nparts:\n  Q1: {line}\n")


def test_a_new_part_is_as_the_old_one_unless_it_says_otherwise():
    old = read(BOARD).parts["C2"]
    spare = read_spare("220u 10V TO-92", old)
    assert spare.part.classes == old.classes and spare.package == "TO-92" and spare.part.pins == old.pins
    assert read_spare("tantalum 100u", old).part.classes == ("tantalum",)
    assert read_spare("resistor 1k", old).part.kind == "resistor"
    with pytest.raises(BadInput, match="means nothing"):
        read_spare("100u teapot", old)
    with pytest.raises(BadInput, match="nothing is said"):
        read_spare("TO-92", old)
    with pytest.raises(BadInput, match="no capacitance"):
        read_spare("16V", old)


# Margins -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("rating", "verdict"), [("4V", "too little"), ("6.3V", "tight"), ("16V", "enough")])
def test_an_electrolytic_is_let_to_bear_four_fifths_of_its_rating(beside, rating: str, verdict: str):
    """80 %: Reliability Analysis Center, benign surroundings; a rail of 5 V asks 5.2 V at most."""
    view = beside("C2", f"100u {rating} 0.3A")
    row = next(one for one in view.lines if one.what == "volts")
    assert row.verdict == verdict and row.asks.startswith("5.") and "80 %" in row.source


def test_a_tantalum_needs_twice_the_volts(beside):
    assert verdicts(beside("C2", "tantalum 100u 10V"))["volts"] == "tight"
    assert verdicts(beside("C2", "tantalum 100u 16V"))["volts"] == "enough"


@pytest.mark.parametrize(("watts", "verdict"), [("0.5W", "enough"), ("0.005W", "too little")])
def test_a_resistor_is_let_to_bear_half(beside, watts: str, verdict: str):
    assert verdicts(beside("R3", f"220R {watts}"))["watts"] == verdict


@pytest.mark.parametrize("part, text", [("R3", "220R"), ("Q1", "npn"), ("U1", "5V")])
def test_what_was_not_said_is_never_passed(beside, part: str, text: str):
    """However well such parts usually bear it: what they usually bear is said beside it."""
    view = beside(part, text)
    for one in view.lines:
        if one.has == "not said":
            assert one.verdict == "not known"
    assert view.verdict == "not known" and "Not known, look it up" in view.conclusion
    assert any("such parts usually bear" in one.margin for one in view.lines)


def test_another_value_is_seen_in_what_works(beside):
    """8 V in the place of 5 V: the rail is no longer within a tenth of what it was."""
    view = beside("U1", "8V bears 35V TO-220 order in,com,out")
    told = verdicts(view)
    assert told["volts"] == "another" and told["function rail"] == "too little" and view.verdict == "too little"
    assert "It will not do" in view.conclusion
    good = verdicts(beside("U1", "5V 2% bears 35V TO-220 order in,com,out"))
    assert good["volts"] == "enough" and good["function rail"] == "enough" and good["input volts"] == "enough"
    assert good["junction"] == "enough" and "watts" not in good


@pytest.mark.parametrize(
    ("gain", "verdict"), [("gain 150..300", "enough"), ("gain 50..200", "tight"), ("gain 20..60", "another")]
)
def test_a_gain_is_held_beside_the_one_that_the_file_asks(book, gain: str, verdict: str):
    job = opened(book, BOARD.replace("npn small-signal", "npn small-signal gain 100..400"))
    assert verdicts(will_it_do(job.case, None, "Q1", f"npn {gain} 45V 0.1A"))["gain"] == verdict
    assert verdicts(will_it_do(job.case, None, "Q1", "npn 45V 0.1A"))["gain"] == "not known"


def test_another_kind_will_not_do_and_nothing_else_is_computed(beside):
    view = beside("Q1", "pnp gain 100..200")
    assert view.verdict == "another" and [one.what for one in view.lines] == ["kind"] and view.cautions == ()


def test_more_than_was_asked_is_called_another_value_and_not_too_little(beside, book):
    """With a function that the file judges, it decides; without, the value alone."""
    view = beside("C2", "220u 16V 0.3A")
    row = next(one for one in view.lines if one.what == "capacitance")
    assert (row.verdict, row.margin) == ("tight", "220u for 100u, too much; every function works with it")
    bare = opened(book, BOARD)
    more, less = (will_it_do(bare.case, None, "C2", f"{said} 16V 0.3A") for said in ("220u", "22u"))
    assert more.conclusion == "It will not do for C2: another capacitance (220u for 100u, too much)."
    assert less.conclusion == "It will not do for C2: another capacitance (22u for 100u, too little)."


@pytest.mark.parametrize("said", ["47k", "0.01p"])
def test_a_value_that_nothing_has_is_a_slip(said: str):
    with pytest.raises(BadInput, match=f"{said} is no capacitance of a new part"):
        read_spare(f"{said} 16V", read(BOARD).parts["C2"])


def test_a_few_volts_on_a_resistor_need_no_looking_up(beside):
    """Some 1 V of the 250 V that film resistors usually bear; without a function nothing else is asked of it."""
    view = beside("R3", "220R 0.25W")
    assert next(one.verdict for one in view.lines if one.what == "volts") == "enough"
    assert "Not known" not in view.conclusion


# Legs and polarity ---------------------------------------------------------------------------------


def test_legs_that_stand_otherwise_are_told(beside):
    other = beside("Q1", "npn gain 100..400 45V 0.1A TO-92 order ECB pitch 1.27mm")
    assert (
        verdicts(other)["order of legs"] == "tight" and "stand otherwise: e, c, b against e, b, c" in other.cautions[0]
    )
    same = beside("Q1", "npn gain 100..400 45V 0.1A TO-92 order EBC pitch 1.27mm")
    assert verdicts(same)["order of legs"] == "enough" and same.cautions == ()
    unsaid = beside("Q1", "npn gain 100..400 45V 0.1A")
    assert verdicts(unsaid)["order of legs"] == "not known" and "EBC, CBE, ECB" in unsaid.cautions[0]


def test_plus_is_told_by_its_net_and_a_pitch_that_does_not_fit(beside):
    view = beside("C2", "100u 16V 0.3A pitch 5mm")
    assert view.cautions == ("Polarity: plus to V5, minus to GND.",) and verdicts(view)["pitch"] == "tight"
    assert verdicts(beside("C2", "100u 16V 0.3A pitch 2.5mm"))["pitch"] == "enough"


# The tables ----------------------------------------------------------------------------------------


def test_every_margin_speaks_of_what_is_borne_and_says_where_from():
    whats = {"watts", "junction", "", *(one.what for kind in KINDS.values() for one in kind.strains)}
    text = files("probewright.planning").joinpath("data/margins.csv").read_text("utf-8")
    for row in csv.DictReader(text.splitlines()):
        assert row["what"] in whats and (row["kind"] in KINDS or not row["kind"]), row
        assert 0.0 < float(row["share"]) <= 1.0 and len(row["source"]) > 8, row
    assert margin(read(BOARD).parts["C2"], "volts").share == 0.8
    assert legs_of("npn") and not legs_of("resistor")


def test_no_kind_goes_by_a_row_that_speaks_of_another():
    """A row for every kind is of the junction, or says that no other spoke."""
    text = files("probewright.planning").joinpath("data/margins.csv").read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    assert [row["what"] for row in rows if not row["kind"]] == ["junction", ""]
    assert "no row speaks of it" in rows[-1]["source"]

    def share(kind: str, what: str) -> float:
        return margin(Part(kind, kind, {}, {}), what).share

    chips = [
        name for name, kind in KINDS.items() if name == kind.name and "supply volts" in {s.what for s in kind.strains}
    ]
    amplifiers = {"opamp", "comparator"}
    assert amplifiers < set(chips)
    for name in chips:  # logic runs on the volts that it was made for, an amplifier on whatever the board has
        assert share(name, "supply volts") == (share("opamp", "supply volts") if name in amplifiers else 1.0), name
    for name in (name for name, kind in KINDS.items() if name == kind.name and name.endswith("regulator")):
        assert share(name, KINDS[name].strains[0].what) == share("regulator", "input volts"), name


def test_the_command_holds_it_beside_what_is_asked(probewright, book):
    opened(book, LEGS + WORKS)
    book.close()
    said = probewright("replace", "C2", "--with", "100u 16V 0.3A pitch 2.5mm").stdout
    assert "Nothing speaks against it for C2." in said and "Caution: Polarity: plus to V5" in said


def test_the_example_of_a_new_part_is_of_its_own_kind_and_can_be_typed(book):
    case = opened(book, LEGS).case
    assert example(case, "C2") == "capacitor electrolytic 100u" and example(case, "Q1") == "npn small-signal"
    for name in parts_to_ask(case):
        part = read(LEGS).parts[name]
        spare = read_spare(example(case, name), part).part
        assert (spare.kind, spare.classes) == (part.kind, part.classes)
