"""Machine files that cannot be used: every complaint has a line, a column and a mend, nothing else escapes."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from probewright import machine
from probewright.errors import BadInput, Complaint
from probewright.machine import Machine
from probewright.machine.kinds import KINDS, Kind
from probewright.machine.loading import MOST_BYTES, read
from probewright.machine.model import Part, Spot
from probewright.machine.saying import Notes
from probewright.machine.yaml_text import decode

DESK = """\
machine: Fader desk, three 0-12 V outputs      # invented
revision: 1.10
age: 30 years
extras:                                        # swapped without a screwdriver
  adaptor: source 20V 5% series 0.4R limit 1A  VIN > GND
sections:
  supply:
    gives: V15
    parts:
      C1: capacitor 2200u 20% electrolytic     VIN > GND
      U1: regulator fixed 15V 4%               in=VIN out=V15 com=GND
  output:
    takes: V15
    each: {1: left, 2: right}
    match: 1%
    parts:
      R90: resistor 680R 1%                    V15 > REF
      R91: resistor 10k 1%                     REF > GND
      RV*1: potentiometer 10k linear           top=REF wiper=FADE* bottom=GND
      R*2:  resistor 10k                       FADE* > IN*
      C*3:  capacitor 100n                     IN* > GND
      U2:   opamp dual                         vplus=V15 vminus=GND
      U2*:  of U2                              plus=IN* minus=OUT* out=DRV*
      Q*1:  npn small-signal gain 80..400      c=V15 b=DRV* e=OUT*
      X*7:  block gain 1 input 1M output ?     in=OUT* out=LAMP*
      M*1:  load 1k                            LAMP* > GND
    points:
      TP*: {at: Q*1.e, side: top, ease: easy, near: [Q*1.c]}
      easy: [V15, GND, OUT*]
stimuli:
  full: {RV*1: 100%}
  tone: {adaptor: sine 0.2V rms 1kHz, do: feed a tone}
works:
  lamp of * follows: LAMP* dc at full within 10% of healthy
  hum of *: LAMP* level at tone; above 0.1V = hums; only if lamp of * follows works
heat:
  U1: {with heatsink: 8 K/W, bare: 65 K/W, limit: 125 C}
never without:
  - V15 below 16.5V
known good: [adaptor]
printed:
  - V15 15 V dc at full, 20k/V meter
added boards:
  on-air lamp:
    fitted: unknown
    parts:
      J9:   connector  OUT2 > TAP, GND > COM
      R901: resistor 1k5  TAP > COM
"""


def complaints(text: str) -> tuple[Complaint, ...]:
    with pytest.raises(BadInput) as bad:
        machine.read(text, "desk.yaml")
    return bad.value.complaints


def load_bytes(data: bytes, folder: Path) -> Machine | tuple[Complaint, ...]:
    path = folder / "one.yaml"
    path.write_bytes(data)
    try:
        return machine.load(path)
    except BadInput as bad:
        return bad.complaints


def assert_useful(found: tuple[Complaint, ...]) -> None:
    assert found
    for one in found:
        assert one.line >= 1 and one.column >= 1 and one.text and one.mend, one


def test_the_desk_itself_is_good() -> None:
    desk = machine.read(DESK)
    assert len(desk.parts) == 22 and len(desk.works) == 4 and not desk.warnings


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "text", "mend"),
    [
        ("R90: resistor", "R90: resistro", 17, 12, "'resistro' is not a kind of part", "write `resistor`"),
        ("R*2:  resistor 10k", "R*2:  resistor 4k7k", 20, 22, "'4k7k' is not a resistance",
         "write 4k7, 4.7k or 4700, or 4k7K for 10 %"),
        ("V15 > REF", "V15 >> REF", 17, 52, "'>>' is not understood", "write `A > B`, one > with a blank on each side"),
        ("    parts:\n      C1", "    prats:\n      C1", 9, 5, "'prats' is not a key of a section", "write `parts`"),
        ("stimuli:", "stimulis:", 30, 1, "'stimulis' is not a key of a machine file", "write `stimuli`"),
        ("small-signal", "smal-signal", 24, 17, "'smal-signal' means nothing for a npn", "write `small-signal`"),
        ("b=DRV*", "d=DRV*", 24, 54, "npn has no pin 'd'", ""),
        (" e=OUT*", "", 24, 13, "pin e is missing", "write e=NET, or e=nc when nothing is connected"),
        ("680R 1%", "680R 1% 1%", 17, 29, "1% does not follow a value", "`10k 5%`"),
        ("RV*1: 100%", "RV*2: 100%", 31, 10, "no part is called 'RV12'", "write `RV"),
        ("dc at full within", "dc at ful within", 34, 34, "no stimulus is called 'ful'", "write `full`"),
        ("LAMP* dc", "LAMB* dc", 34, 22, "no net, point or pin is called 'LAMB1'", "write `LAMP1`"),
        ("level at", "lewel at", 35, 19, "'lewel' is not a quantity", "write `level`"),
        ("; above 0.1V", "; abowe 0.1V", 35, 34, "is not a limit", "below X = words"),
        ("bare: 65 K/W", "bear: 65 K/W", 37, 30, "heat knows no 'bear'", "write `bare`"),
        ("bare: 65 K/W", "package: TO-221", 37, 39, "'TO-221' is not one of TO-220", "write `TO-220`"),
        ("bare: 65 K/W", "on: scren", 37, 34, "'scren' is not one of heatsink", "write `screen`"),
        ("V15 below 16.5V", "V15 under 16.5V", 39, 5, "is not a rule", "NET below 16.5V"),
        ("fitted: unknown", "fitted: maybe", 45, 13, "'maybe' does not say whether", "fitted: unknown"),
        ("age: 30 years", "age: old", 3, 6, "'old' is not an age", "write `30 years`"),
        ("match: 1%", "match: 1", 15, 12, "'1' is not a percentage", "write 1%"),
        ("of U2 ", "of U3 ", 23, 16, "no package is called 'U3'", "write `U2`"),
        ("gain 80..400", "gain 400..80", 24, 35, "'400..80' is not a number", "write the lower end first"),
        ("known good: [adaptor]", "known good: [adapter]", 40, 14, "no part is called 'adapter'", "write `adaptor`"),
        ("side: top", "site: top", 28, 24, "a point has no 'site'", "write `side`"),
        ("parts:\n      J9", "parst:\n      J9", 46, 5, "'parst' is not a key of an added board", "write `parts`"),
    ],
)  # fmt: skip
def test_a_slip_is_found_where_it_is_with_what_to_write(
    old: str, new: str, line: int, column: int, text: str, mend: str
) -> None:
    assert old in DESK
    found = complaints(DESK.replace(old, new, 1))
    assert_useful(found)
    here = [one for one in found if text in one.text]
    assert here, found
    assert (here[0].file, here[0].line, here[0].column) == ("desk.yaml", line, column)
    assert mend in here[0].mend


def test_every_complaint_is_found_at_once_in_the_order_of_the_file() -> None:
    found = complaints(
        DESK.replace("resistor 680R", "resistro 680R")
        .replace("resistor 10k 1%", "resistor 4k7k")
        .replace("resistor 1k5", "resistor 1k5k")
    )
    assert [one.line for one in found if "R9" not in one.text][:2] == [17, 18] and 48 in [one.line for one in found]


def test_a_refused_part_line_has_no_echo() -> None:
    for old, new in [
        ("npn small", "npm small"),
        ("vplus=V15 vm", "vpluss=V15 vm"),
        ("R90: resistor", "R90: resistro"),
        ("15V 4%", "15V 4% 4%"),
    ]:
        assert len(complaints(DESK.replace(old, new, 1))) == 1


@pytest.mark.parametrize(
    "text",
    ["", "\n\n", "machine:", "machine: X", "- a\n- b", "just words", "machine: [X]", "machine: X\nparts: words\n",
     "machine: X\nparts:\n  - R1\n", "machine: X\nparts:\n  R1: [resistor]\n", "machine: X\nparts:\n  R1:\n",
     "machine: X\nsections: words\n", "machine: X\nsections: {a: }\n", "machine: X\nparts:\n  R1: resistor 1k  A > B\nworks: words\n",
     "machine: X\nparts:\n  GND: resistor 1k  A > B\n", "machine: X\nparts:\n  R.1: resistor 1k  A > B\n",
     "machine: X\nparts:\n  R1: &a resistor 1k  A > B\n", "[" * 5000, "{" * 5000, "- " * 3000, "a:\n " * 3, "machine: \"\\UFFFFFFFF\"",
     "machine: X\nparts:\n  R1: resistor 1k  A > B\n--- a\n", "? [a]\n: b\n", "machine: X\neach: [A]\nparts:\n  R*: resistor 1k  A > B\n",
     "machine: X\npoints:\n  TP1:\nparts: {R1: resistor 1k  A > B}\n"],
)  # fmt: skip
def test_texts_that_are_no_machine_file(text: str) -> None:
    assert_useful(complaints(text))


def test_bytes_that_are_no_text_are_found(tmp_path: Path) -> None:
    found = load_bytes(b"machine: X\nparts:\n  R1: \xff\xfe resistor", tmp_path)
    assert isinstance(found, tuple) and (found[0].line, found[0].column) == (3, 7) and "UTF-8" in found[0].mend
    found = load_bytes(b"machine: X\n\x00\x01", tmp_path)
    assert isinstance(found, tuple) and found[0].text == "character U+0000 is not text"


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    for path in (tmp_path / "none.yaml", tmp_path, "a\x00b"):
        with pytest.raises(BadInput) as bad:
            machine.load(path)
        assert "cannot be opened" in bad.value.complaints[0].text


def test_a_file_without_an_end_is_not_read_to_the_end(tmp_path: Path) -> None:
    found = load_bytes(b"machine: X\n" + b"# and so on\n" * (MOST_BYTES // 12), tmp_path)
    assert isinstance(found, tuple) and "far too long" in found[0].text
    if Path("/dev/zero").exists():
        with pytest.raises(BadInput):
            machine.load("/dev/zero")


def bomb(levels: int) -> str:
    """Ten times the line before, in every line."""
    lines = [f"k{n}: &a{n} [{', '.join([f'*a{n - 1}' if n else 'x'] * 10)}]" for n in range(levels)]
    return "machine: X\n" + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    "text",
    [bomb(11), "machine: X\na: &a [" + ", ".join(["*a"] * 10) + "]\n", "[" * 200_000, "{a: " * 50_000,
     "".join("  " * n + "a:\n" for n in range(900)), "machine: X\nmatch: 1" + " " * 50_000 + ".. x\n",
     "machine: X\nparts:\n  R1: resistor " + "9" * 100_000 + "  A > GND\n", "machine: " + "X" * 300_000,
     "machine: X\n" + "k" * 1000 + ": a\n"],
    ids=["anchors", "its own anchor", "brackets", "braces", "levels", "blanks", "digits", "one word", "a long key"],
)  # fmt: skip
def test_what_would_keep_a_reader_busy_for_ever_is_answered_at_once(text: str) -> None:
    found = complaints(text)
    assert_useful(found)
    assert all(len(one.text) < 700 and len(one.mend) < 700 for one in found)


def test_too_many_open_brackets_are_found_where_they_are() -> None:
    assert [(one.line, one.column) for one in complaints("machine: X\n" + "[" * 500)] == [(2, 101)]


@pytest.mark.parametrize("sign", ["|", ">", "|-", ">+"])
def test_a_text_set_off_in_a_block_is_refused(sign: str) -> None:
    found = complaints(f"machine: X\nparts:\n  R1: {sign}\n    resistor 1k  A > GND\n  R2: resistor 1k  A > GND\n")
    assert [(one.line, one.column) for one in found] == [(3, 7)] and "one line" in found[0].mend


def test_a_mark_at_the_start_of_the_file_is_no_matter(tmp_path: Path) -> None:
    assert isinstance(load_bytes(b"\xef\xbb\xbf" + DESK.encode(), tmp_path), Machine)
    assert isinstance(load_bytes(DESK.replace("\n", "\r\n").encode(), tmp_path), Machine)


DEMOS = sorted((Path(machine.__file__).parent.parent / "demo").glob("*.yaml"))


@pytest.mark.parametrize("text", [DESK, *(path.read_text(encoding="utf-8") for path in DEMOS)])
def test_thirty_broken_copies(text: str, tmp_path: Path) -> None:
    """Cut, noise, wrong kind, wrong value, wrong arrow, wrong key; noise may by chance hit a comment."""
    chance = random.Random(7)
    assert isinstance(load_bytes(text.encode(), tmp_path), Machine)
    for number in range(30):
        data = bytearray(text.encode())
        match number % 6:
            case 0:
                data = data[: chance.randrange(20, len(data))] + b"\n  parts: ["
            case 1:
                at = chance.randrange(len(data))
                data[at:at] = bytes(chance.randrange(256) for _ in range(40))
            case 2:
                data = data.replace(b"resistor", b"resistro", 1)
            case 3:
                wrong = data.replace(b"10k", b"4k7k", 1)
                data = wrong if wrong != data else data + b"\n  X: resistor 4k7k A > B\n"
            case 4:
                data = data.replace(b" > ", b" >> ", 1)
            case 5:
                data = data.replace(b"parts:", b"prats:", 1)
        found = load_bytes(bytes(data), tmp_path)
        if isinstance(found, tuple):
            assert_useful(found)
        else:
            assert number % 6 == 1, number  # the others can never be a machine file


def placeless(one: Machine) -> list[Part]:
    """The parts without where their lines stand."""
    return [replace(part, spot=Spot()) for part in one.parts.values()]


def outcome(text: str) -> None:
    """Reading gives a machine or complaints; a machine can be written and read again."""
    try:
        one = read(text, "fuzz.yaml")
    except BadInput as bad:
        assert_useful(bad.complaints)
    else:
        assert all(warning.line >= 1 and warning.mend for warning in one.warnings)
        written = machine.write(text)
        assert machine.write(written) == written
        assert placeless(read(written)) == placeless(one)


@given(st.integers(0, len(DESK)), st.integers(0, 60), st.text(max_size=20))
@example(0, len(DESK), "")
def test_nothing_but_complaints_escapes_when_a_piece_is_cut_and_another_put_in(start: int, cut: int, text: str) -> None:
    outcome(DESK[:start] + text + DESK[start + cut :])


WORDS = ["*", "|", "=", ">", ",", ";", "?", "of", "dual", "quad", "nc", "10k", "5%", "matched", "at", "minus", "over", "=",
         "only if", "works", "healthy", "within", "between", "GND", "resistor", "opamp", "sine", "unknown", "stays", "\n",
         ": ", "{", "}", "[", "]", "'", '"', "- ", "1..2", "-3dB", "R12", "connector", "log", "@", "to", "\t", "#"]  # fmt: skip


@given(st.lists(st.tuples(st.integers(0, 10_000), st.sampled_from(WORDS), st.booleans()), min_size=1, max_size=4))
def test_nothing_but_complaints_escapes_when_words_are_exchanged(changes: list[tuple[int, str, bool]]) -> None:
    words = DESK.split(" ")
    for at, word, instead in changes:
        at %= len(words)
        words[at : at + instead] = [word]
    outcome(" ".join(words))


@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=40))
def test_nothing_but_complaints_escapes_when_bytes_are_put_in(at: int, noise: bytes) -> None:
    data = DESK.encode()
    at %= len(data)
    try:
        text = decode(data[:at] + noise + data[at:], Notes("fuzz.yaml"))
    except BadInput as bad:
        assert_useful(bad.complaints)
    else:
        outcome(text)


@given(st.text(max_size=80))
def test_nothing_but_complaints_escapes_from_any_text(text: str) -> None:
    outcome(text)
    outcome(f"machine: X\nparts:\n  R1: {text}\n")
    outcome(f"machine: X\nparts:\n  R1: resistor 1k  A > GND\nstimuli:\n  a: {text}\nworks:\n  b: {text}\n")


@given(st.lists(st.tuples(st.integers(0, 200), st.integers(0, 200)), min_size=1, max_size=6))
def test_nothing_but_complaints_escapes_when_lines_change_places(swaps: list[tuple[int, int]]) -> None:
    lines = DESK.splitlines()
    for one, other in swaps:
        one, other = one % len(lines), other % len(lines)
        lines[one], lines[other] = lines[other], lines[one]
    outcome("\n".join(lines) + "\n")


@given(st.binary(max_size=200))
def test_nothing_but_complaints_escapes_from_a_file_of_anything(data: bytes) -> None:
    try:
        text = decode(data, Notes("fuzz.yaml"))
    except BadInput as bad:
        assert_useful(bad.complaints)
    else:
        outcome(text)


EVERY_KIND = list({kind.name: kind for kind in KINDS.values()}.values())
SIZES = ["0", "0R", "0u", "0V", "0A", "-1", "-3", "1e308", "1e-308", "1e300V", "1e-320F", "0..10k", "0u..1u", "1e-300..1e300",
         "?", "100%", "150%", "-5%", "1e300W", "-5V", "1e-300A", "1k", "10u", "5V", "1A", "1k 500%", "10u 0%", "at 0R to bottom", "at 0 to top", "at 1k to top"]  # fmt: skip


@given(
    st.sampled_from(EVERY_KIND),
    st.lists(st.tuples(st.integers(0, 20), st.sampled_from(SIZES)), max_size=3),
    st.sampled_from(SIZES),
    st.integers(0, 10),
)
def test_nothing_but_complaints_escapes_from_values_of_any_size(
    kind: Kind, figures: list[tuple[int, str]], value: str, number: int
) -> None:
    words = [*kind.classes, *(one.word for one in kind.parameters if one.word not in ("", "-")), ""]
    said = " ".join(f"{words[at % len(words)]} {size}" for at, size in figures)
    nets = " ".join(f"{pin}=N{at}" for at, pin in enumerate(kind.pins))
    outcome(f"machine: X\nparts:\n  X1: {kind.name} {words[number % len(words)]} {value} {said}  {nets}\n")


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("C9: capacitor 0u electrolytic  V15 > GND", "capacitance 0 F is not above nought"),
        ("R9: resistor 0R  V15 > GND", "resistance 0 Ω is not above nought"),
        ("R9: resistor 0..10k  V15 > GND", "resistance 0 Ω is not above nought"),
        ("RV9: pot 0 at 0 to bottom  V15 V15 GND", "resistance 0 Ω is not above nought"),
        ("RV9: pot 10k at 150%  V15 V15 GND", "at 150 % is no place on the way"),
        ("Q9: npn gain -80  V15 V15 GND", "gain -80 is not above nought"),
        ("R9: resistor 1e308  V15 > GND", "resistance 1e+308 is no figure of this world"),
        ("R9: resistor 1e-30  V15 > GND", "is no figure of this world"),
        ("R9: resistor 1k 500%  V15 > GND", "a tolerance of 500 % says nothing"),
        ("E9: source 1e300V  V15 > GND", "is no figure of this world"),
        ("R9: resistor 1k 1e300V  V15 > GND", "neither a value nor a rating"),
        ("R9: resistor 1k -5V  V15 > GND", "neither a value nor a rating"),
        ("Q9: npn matched Q1 500%  V15 V15 GND", "'500%' does not say how well they agree"),
    ],
)
def test_a_figure_that_no_part_can_have_is_refused(line: str, text: str) -> None:
    found = complaints(DESK.replace("      R90:", f"      {line}\n      R90:"))
    assert_useful(found)
    assert len(found) == 1 and text in found[0].text and found[0].line == 17


def test_a_minus_sign_turns_the_signal_of_a_block_over() -> None:
    one = machine.read(DESK.replace("block gain 1 ", "block gain -3 "))
    assert one.parts["X17"].figures["gain"].nominal == -3.0 and not one.warnings


@pytest.mark.parametrize(
    "setting", ["sine 1e300V rms 1kHz", "1e300V", "sine 1V rms 1e300Hz", "sine 0V rms 1kHz", "sine 1V rms 1Hz..2Hz"]
)
def test_a_setting_that_no_source_can_have_is_refused(setting: str) -> None:
    found = complaints(DESK.replace("sine 0.2V rms 1kHz", setting))
    assert_useful(found)
    assert found[0].line == 32
