"""The page about machine files names everything that can be typed, and its examples load."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from probewright import machine
from probewright.errors import NotAValue
from probewright.machine.building import unknown_figure
from probewright.machine.facts import EASES
from probewright.machine.kinds import KINDS, Draft, Kind, Parameter
from probewright.machine.loading import BOARD_KEYS, SECTION_KEYS, TOP_KEYS
from probewright.machine.model import Figure
from probewright.machine.part_words import NOT_COMPUTED
from probewright.machine.sentences import QUANTITIES
from probewright.machine.signals import FORMS
from probewright.machine.signals import NOT_COMPUTED as SIGNALS_NOT_COMPUTED
from probewright.machine.stimuli import KEYS
from probewright.machine.writing import write
from probewright.units import read_value, write_reading

PAGE = (Path(__file__).parent.parent / "docs" / "machine-file.md").read_text(encoding="utf-8")
BLOCKS = [block for block in re.findall(r"^```yaml\n(.*?)^```", PAGE, re.M | re.S) if block.startswith("machine:")]
EVERY_KIND = list({kind.name: kind for kind in KINDS.values()}.values())


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.splitlines()[0])
def test_examples_load_without_a_warning_and_are_in_canonical_form(block: str) -> None:
    one = machine.read(block)
    assert one.parts and not one.warnings
    assert write(block) == block


def test_there_are_examples() -> None:
    assert len(BLOCKS) >= 6
    assert len(re.findall(r"^```", PAGE, re.M)) % 2 == 0


@pytest.mark.parametrize("kind", EVERY_KIND, ids=lambda kind: kind.name)
def test_every_kind_is_in_the_tables(kind: Kind) -> None:
    row = next((line for line in PAGE.splitlines() if re.match(rf"\| [^|]*`{kind.name}`", line)), "")
    assert row, kind.name
    for word in (*kind.synonyms, *kind.classes):
        assert f"`{word}`" in row, word
    assert all(pin in row for pin in kind.pins)
    for parameter in kind.parameters:
        if parameter.word not in ("", "-"):
            assert row_of(kind, parameter), (kind.name, parameter.word)


def row_of(kind: Kind, parameter: Parameter) -> list[str]:
    """Cells of a figure's row: kind, word, assumed, typed, reason."""
    table = PAGE[PAGE.index("| kind | word | assumed | typed | reason |") :].split("\n\n")[0]
    rows = re.split(r"\n(?=\| `)", table)
    own = "\n".join(part for part in rows if f"`{kind.name}`" in part.splitlines()[0].split("|")[1])
    row = next((line for line in own.splitlines() if f"| `{parameter.word}` |" in line), "")
    return [cell.strip() for cell in row.split("|")[1:-1]]


@pytest.mark.parametrize("kind", EVERY_KIND, ids=lambda kind: kind.name)
def test_the_figures_assumed_are_those_in_the_table(kind: Kind) -> None:
    for parameter in kind.parameters:
        if parameter.word in ("", "-"):
            continue
        _, _, said, typed, _ = row_of(kind, parameter)
        spread = "exact" if not parameter.spread else f"{100 * parameter.spread:g} %"
        assert typed == spread, (kind.name, parameter.word)
        for one in kind.classes or ("",):
            others = {"capacitance": Figure(10e-6, "F"), "volts": Figure(12.0, "V"), "impedance": Figure(8.0, "ohm")}
            draft = Draft((one,), others)
            default = parameter.default
            if default is None:
                assert said == "must be typed", (kind.name, parameter.word)
                continue
            figure = default(draft) if callable(default) else default
            if (kind.name, one) == ("capacitor", "electrolytic"):
                continue  # by value: checked below
            if figure.law == "range":
                shown = "anywhere" if kind.name == "trimmer" else write_range_of(figure)
            else:
                shown = write_reading(figure.nominal, figure.unit)
            assert shown in said, (kind.name, one, parameter.word, shown)
            if figure.law == "tolerance":
                assert f"within {100 * figure.spread:g} %" in said, (kind.name, one, parameter.word)
            if figure.law == "exact":
                assert "within" not in said or one in ("tantalum", "ceramic", "film", "paper")


def write_range_of(figure: Figure) -> str:
    """Both ends as the page writes them."""
    times, unit = (100.0, " %") if figure.unit == "%" else (1.0, "")
    return f"{times * figure.low:g}..{times * figure.high:g}{unit}"


def test_every_key_and_word_is_named() -> None:
    words = {*TOP_KEYS, *SECTION_KEYS, *BOARD_KEYS, *EASES, *QUANTITIES, *KEYS, "connector", "matched", "dual", "quad"}
    for word in words:
        assert f"`{word}`" in PAGE or f"`{word}:`" in PAGE or f"`{word}: " in PAGE or f"`{word} " in PAGE, word
    for word in (*NOT_COMPUTED, *SIGNALS_NOT_COMPUTED):
        assert re.search(rf"\b{word}\b", PAGE), word
    for form in FORMS.values():
        assert f"`{form}`" in PAGE, form


def test_what_a_line_assumes_is_what_the_table_says() -> None:
    """Whole lines, with the figures a repairer is likeliest to look up."""
    one = machine.read(
        "machine: X\nparts:\n  C1: capacitor 10u electrolytic  A > GND\n  Q1: npn power  A A GND\n  U1: regulator 5V  A GND B\n"
        "  L1: lead  A > B\n  Q2: npn  A A GND\n"
    )
    assert one.parts["C1"].figures["esr"].nominal == pytest.approx(0.05 + 5e-6 / 10e-6)
    assert (one.parts["Q1"].figures["gain"].low, one.parts["Q1"].figures["gain"].high) == (25.0, 150.0)
    assert (one.parts["Q2"].figures["gain"].low, one.parts["Q2"].figures["gain"].high) == (100.0, 400.0)
    assert one.parts["U1"].figures["drop"].nominal == 2.0 and one.parts["L1"].figures["resistance"].nominal == 0.1


@pytest.mark.parametrize("kind", EVERY_KIND, ids=lambda kind: kind.name)
def test_every_figure_that_can_be_typed_can_be_unknown(kind: Kind) -> None:
    for parameter in kind.parameters:
        if parameter.word != "-":
            figure = unknown_figure(parameter)
            assert figure.unknown and parameter.low <= figure.low < figure.nominal < figure.high <= parameter.high


def cells(header: str) -> list[list[str]]:
    """Rows of the table that begins with this header."""
    lines = PAGE[PAGE.index(header) :].split("\n\n")[0].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def test_the_forms_refused_are_refused_with_the_form_to_write() -> None:
    for forms, _, mend in cells("| refused | because | write |"):
        for form in re.findall(r"`([^`]+)`", forms):
            unit = "F" if "capacitor" in forms or form in ("4n7F", "10uZ") else "ohm"
            with pytest.raises(NotAValue) as refused:
                read_value(form, unit)
            offered = re.findall(r"`([^`]+)`", mend)
            assert not offered or any(one in refused.value.mend for one in offered), (form, refused.value.mend)
            assert all(read_value(one, unit) for one in offered)


def test_the_forms_understood_are_understood() -> None:
    units = ("ohm", "F", "H", "V", "A", "Hz", "s", "W", "°C", "%", "1", "K/W")

    def understood(form: str) -> bool:
        for unit in units:
            try:
                read_value(form, unit)
            except NotAValue:
                continue
            return True
        return False

    forms = [form for row in cells("| understood | means |") for form in re.findall(r"`([^`]+)`", row[0])]
    assert len(forms) > 40
    assert [form for form in forms if not understood(form)] == []


# A board with every name the short examples of the page speak of.
BOARD = """\
machine: Everything
each: {A: front, B: rear}
parts:
  ADAPTOR: source 12V  SUP > GND
  TUNER: source 0V  IN > GND
  RV1: pot 10k  SUP BASE GND
  S1: switch  SUP > TIMER
  LAMP1: load 100R  LAMP > GND
  M1 : load 100R  LAMP > GND
  M2: load 100R  BATT > GND
  MOTOR: load 100R  HEAT > GND
  R1: resistor 1k  OUT > NEG
  Q*1: npn  SUP OUT* GND
  U1: opamp dual  vplus=SUP vminus=GND
  U1A: of U1  IN X1 X1
  U1B: of U1  nc nc nc
"""
STIMULI = "stimuli: {full: {}, charging: {}, idle: {}, loaded: {}, run: {}, tone: {TUNER: sine 0.2V rms 1kHz}}\n"
SHORT = re.findall(r"^```text\n(.*?)^```", PAGE, re.M | re.S)


@pytest.mark.parametrize("block", SHORT, ids=lambda block: block.split("\n")[0])
def test_short_examples_load(block: str) -> None:
    if re.match(r"(stimuli|works|points|when off):", block):
        machine.read(BOARD + ("" if block.startswith("stimuli") else STIMULI) + block)
    else:
        machine.read("machine: Lines\nparts:\n" + "".join(f"  {line}\n" for line in block.splitlines()))


def test_there_are_short_examples_of_every_sort() -> None:
    assert len(SHORT) >= 6 and {block.split(":")[0] for block in SHORT} >= {"stimuli", "works", "points", "when off"}
