"""The page about machine files names everything that can be typed, and its examples load."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from probewright import machine
from probewright.machine.building import unknown_figure
from probewright.machine.facts import EASES
from probewright.machine.kinds import KINDS, Kind
from probewright.machine.loading import BOARD_KEYS, SECTION_KEYS, TOP_KEYS
from probewright.machine.part_words import NOT_COMPUTED
from probewright.machine.sentences import NOT_COMPUTED as QUANTITIES_NOT_COMPUTED
from probewright.machine.sentences import QUANTITIES
from probewright.machine.writing import write

PAGE = (Path(__file__).parent.parent / "docs" / "machine-file.md").read_text(encoding="utf-8")
BLOCKS = [block for block in re.findall(r"^```yaml\n(.*?)^```", PAGE, re.M | re.S) if block.startswith("machine:")]
EVERY_KIND = list({kind.name: kind for kind in KINDS.values()}.values())


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.splitlines()[0])
def test_examples_load_without_a_warning_and_are_in_canonical_form(block: str) -> None:
    one = machine.read(block)
    assert one.parts and not one.warnings
    assert write(block) == block


def test_there_are_examples() -> None:
    assert len(BLOCKS) >= 3


@pytest.mark.parametrize("kind", EVERY_KIND, ids=lambda kind: kind.name)
def test_every_kind_is_in_the_tables(kind: Kind) -> None:
    row = next((line for line in PAGE.splitlines() if re.match(rf"\| [^|]*`{kind.name}`", line)), "")
    assert row, kind.name
    for word in (*kind.synonyms, *kind.classes):
        assert f"`{word}`" in row, word
    assert all(pin in row for pin in kind.pins)
    table = PAGE[PAGE.index("| kind | word | assumed | reason |") :].split("\n\n")[0]
    rows = re.split(r"\n(?=\| `)", table)
    own = "\n".join(part for part in rows if f"`{kind.name}`" in part.splitlines()[0].split("|")[1])
    for parameter in kind.parameters:
        if parameter.word not in ("", "-"):
            assert f"| `{parameter.word}` |" in own, (kind.name, parameter.word)


def test_every_key_and_word_is_named() -> None:
    words = {*TOP_KEYS, *SECTION_KEYS, *BOARD_KEYS, *EASES, *QUANTITIES, "connector", "matched", "dual", "quad"}
    for word in words:
        assert f"`{word}`" in PAGE or f"`{word}:`" in PAGE or f"`{word}: " in PAGE or f"`{word} " in PAGE, word
    for word in (*NOT_COMPUTED, *QUANTITIES_NOT_COMPUTED):
        assert re.search(rf"\b{word}\b", PAGE), word


def test_assumed_figures_in_the_table_are_those_of_the_kinds() -> None:
    """Spot checks: the figures a repairer is likeliest to look up."""
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
