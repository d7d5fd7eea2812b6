"""How a machine is opened, as it is said at the bench and as a machine file says it."""

from __future__ import annotations

import re
from collections import Counter

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from probewright import machine
from probewright.errors import BadInput
from probewright.machine.layers import COUNTED
from probewright.machine.opening import cooled, how_shut, pieces_of, read_layer

BOARD = """machine: Lamp dimmer
parts:
  ADAPTOR: source 12V 5% series 0R3  SUP > GND
  U1: regulator 5V  in=SUP out=V5 com=GND
  R1: resistor 1k  V5 > GND
"""


def fixings(line: str) -> list[tuple[int, str, str, str]]:
    return [(one.count, one.kind, one.where, one.put) for one in read_layer(line).of(COUNTED)]


@pytest.mark.parametrize(
    "line, told",
    [
        ("4 screws 12 mm bottom, tray A", [(4, "screw 12 mm", "bottom", "tray A")]),
        ("2x M3x8 black under the feet in cup 2", [(2, "screw M3 8 mm black", "under the feet", "cup 2")]),
        ("four 3,5 mm screws", [(4, "screw 3.5 mm", "", "")]),
        ("screws x4 12mm back", [(4, "screw 12 mm", "back", "")]),
        ("6 × 12mm self-tapping", [(6, "screw 12 mm self-tapping", "", "")]),
        ('a screw 1/2" and two nuts', [(1, "screw 12.7 mm", "", ""), (2, "nut", "", "")]),
        ("tray A: 2 screws M3", [(2, "screw M3", "", "tray A")]),
        ("lid 4 screws bottom", [(4, "screw", "bottom", "")]),
        ("3 screws front and back", [(3, "screw", "front and back", "")]),
        ("12 screws 5 mm, tray B, 2 screws 8 mm, tray C",
         [(12, "screw 5 mm", "", "tray B"), (2, "screw 8 mm", "", "tray C")]),
        ("screws at the back", []),
        ("1000 screws", []),
        ("4 screws 900 mm", []),
    ],
)  # fmt: skip
def test_screws_are_counted_by_kind_with_where_they_were_and_lie(line, told):
    assert fixings(line) == told


@pytest.mark.parametrize(
    "line, cables",
    [
        ("ribbon J3 pull tab up", [("J3", "tab")]),
        ("ribbon J3 (pull tab up)", [("J3", "tab")]),
        ("Ribbon j3 Pull Tab Up", [("j3", "tab")]),
        ("unplug J4 and J5", [("J4", ""), ("J5", "")]),
        ("plugs J3, J4 and J5", [("J3", ""), ("J4", ""), ("J5", "")]),
        ("flat cable CN2 slide out, plug P4 latch", [("CN2", "slide"), ("P4", "latch")]),
        ("red and black wires to LS1 soldered", [("LS1", "soldered")]),
    ],
)
def test_cables_have_a_name_and_a_lock(line, cables):
    assert [(one.name, one.lock) for one in read_layer(line).of("cable")] == cables
    assert all(how_shut(lock) for _, lock in cables if lock)


def test_a_layer_has_its_name_what_it_cools_and_what_to_mind():
    layer = read_layer("lid off; 2 clips left; earth wire; caution spring; no power without it; check it beeps")
    assert (layer.name, layer.seconds, layer.checks, layer.notes) == ("lid", 0.0, ("it beeps",), ())
    assert [one.sort for one in layer.loose] == ["clips", "earth"]
    assert [(one.sort, bool(one.says)) for one in layer.cares] == [("spring", True)]
    assert cooled(layer) == ("lid",)
    assert cooled(read_layer("U5's heatsink off, mica washer")) == ("U5",)
    assert read_layer("at most 2 min of power").seconds == 120.0


def test_where_clips_were_is_no_layer():
    layer = read_layer("lid: 2 clips back")
    assert [(one.sort, one.count, one.where) for one in layer.loose] == [("clips", 2, "back")] and not layer.notes


def test_what_is_not_understood_is_a_note():
    layer = read_layer("fiddly thing behind the knob, 2 screws, screws at the back")
    assert layer.notes == ("fiddly thing behind the knob", "screws at the back")
    assert layer.of(COUNTED)[0].count == 2


WORDS = st.sampled_from(
    "4 two screws screw M3x8 12 mm bottom tray A ribbon J3 tab up off lid and x , ; ( ) : and earth heatsink of U5 caution "
    "é 1/2\" 3,5 clips note check no power".split()
)  # fmt: skip


JOINING = {"and", "plus", "with", "by", "on"}  # words that only join two pieces


@given(st.lists(WORDS, max_size=14).map(" ".join) | st.text(max_size=60))
@example("lid 4 screws bottom")
@example("ribbon J3 tab up and 2 screws")
def test_no_word_of_a_line_is_lost(line):
    """Every word stands in a piece, at its offset; a screw is counted at least once."""
    pieces = list(pieces_of(line))
    assert all(line[offset:].startswith(piece) for piece, offset in pieces)
    missing = Counter(re.findall(r"\w+", line)) - Counter(re.findall(r"\w+", " ".join(one for one, _ in pieces)))
    assert {word.casefold() for word in missing} <= JOINING
    assert all(one.count >= 1 for one in read_layer(line).of(COUNTED))


def test_a_machine_file_names_its_layers_in_their_order():
    read = machine.read(
        BOARD + "opening:\n  lid: 4 screws M3x6 bottom, tray A\n  heatsink: heatsink of U1 off, paste\n"
    )
    assert [one.name for one in read.opening] == ["lid", "heatsink"]
    assert read.opening[0].of(COUNTED)[0].kind == "screw M3 6 mm"
    assert (
        machine.read(machine.write(BOARD + "opening: {lid: 4 screws}\n")).opening
        == machine.read(BOARD + "opening: {lid: 4 screws}\n").opening
    )


@pytest.mark.parametrize(
    "lines, says, mend, column",
    [
        ("  lid: 4 screws, wiggle it", "'wiggle it' does not say what comes loose", "4 screws M3x6 bottom", 18),
        ("  lid: 4 screws, board out", "'board out' does not say what comes loose", "or `note ...`", 18),
        ("  lid: heatsink of U2 off", "no part is called 'U2'", "write `U1`", 20),
        ("  lid: " + 101 * "note a, ", "the layer 'lid' has 807 letters", "at most 400", 8),
        ("  - lid", "holds what comes off, in its order", "lid: 4 screws", 3),
        ("  lid: [a, b]", "the layer 'lid' is one line", "in one line", 8),
        ("  lid: 4 screws\n  lid: 2 screws", "typed twice", "keep one", 3),
    ],
)
def test_a_machine_file_is_understood_in_full_or_refused(lines, says, mend, column):
    with pytest.raises(BadInput) as bad:
        machine.read(f"{BOARD}opening:\n{lines}\n")
    [one] = bad.value.complaints
    assert says in one.text and mend in one.mend and one.column == column
