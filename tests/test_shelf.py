"""The shelf: textbook stages load, agree with the book, go into a machine file, and find their own faults."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest

from probewright import jobs, machine
from probewright.errors import BadInput
from probewright.machine import shelf
from probewright.machine.shelf.reading import read_stage
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.readings import Question, Reading, Setup

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "docs" / "shelf.md").read_text(encoding="utf-8")
MACHINE_PAGE = (ROOT / "docs" / "machine-file.md").read_text(encoding="utf-8")
EXAMPLES = [one for one in re.findall(r"^```yaml\n(.*?)^```", MACHINE_PAGE, re.M | re.S) if one.startswith("machine:")]

# What a person would type for each stage; the rest is assumed.
VALUES: Mapping[str, Mapping[str, str]] = {
    "linear-supply": {"raw": "19V", "output": "12V", "current": "0.25A"},
    "common-emitter": {"supply": "10V", "upper": "10k", "lower": "2k2", "collector": "3k6", "emitter": "1k"},
    "follower": {"supply": "12V", "upper": "4k7", "lower": "4k7", "emitter": "470R"},
    "opamp-line": {"rails": "12V", "feedback": "10k", "gain": "1k"},
    "class-b": {"supply": "20V", "bias": "1k"},
    "reset": {"supply": "5V", "resistor": "10k", "capacitor": "10u"},
    "ladder": {"reference": "5V"},
    "hold": {"level": "2.5V"},
    "switch-path": {"signal": "0.2V"},
    "lane": {"supply": "5V"},
    "lead": {},
}
EVERY = [(stage.name, form) for stage in shelf.stages() for form in stage.forms]


def values_of(name: str, form: str) -> dict[str, str]:
    return {**VALUES[name], **({"form": form} if form else {})}


def filled(name: str, form: str = "", **more: str) -> shelf.Filled:
    return shelf.fill_in(name, {**values_of(name, form), **more}, "st")


def healthy(name: str, form: str = "", stimulus: str = "rest", kind: str = "dc", **more: str) -> dict[str, float]:
    """Computed healthy figures by net, names as on the shelf; the middle of many machines."""
    one = machine.read(filled(name, form, **more).text)
    rows = jobs.expect(one, Setup(stimulus=stimulus)).rows
    return {row.place.removeprefix("st-"): row.mid for row in rows if row.kind == kind}


# Laws of every stage ----------------------------------------------------------------------------


def test_every_stage_is_there() -> None:
    assert {stage.name for stage in shelf.stages()} == set(VALUES)
    assert {form for name, form in EVERY if name == "opamp-line"} == {"non-inverting", "inverting"}


@pytest.mark.parametrize("name, form", EVERY)
def test_every_stage_loads_in_canonical_form_and_nothing_looks_like_a_slip(name: str, form: str) -> None:
    text = shelf.fill(name, values_of(name, form), "st")
    one = machine.read(text)
    assert not one.warnings and one.sections == ("st",) and one.works
    assert one.power_rules or name in ("switch-path", "lead")  # where nothing is powered
    assert machine.write(text) == text
    assert all(part.startswith("st-") for part in one.parts)
    view = jobs.check(one)
    assert not view.warnings and view.suspects > 2 * len(one.parts)


@pytest.mark.parametrize("name, form", EVERY)
def test_a_stage_says_what_it_is_and_what_can_hurt(name: str, form: str) -> None:
    body = shelf.stage(name).forms[form]
    assert body.danger and body.healthy and body.doors
    assert all(ask.question and (ask.unit or ask.words) for ask in body.asks)
    text = filled(name, form).text
    assert all(f"# danger: {one}" in text for one in body.danger)
    assert all(f"# not computed yet: {one}" in text for one in body.not_computed)


def test_what_is_a_block_says_so() -> None:
    for name in ("hold", "switch-path", "lane", "reset"):
        assert shelf.stage(name).body.not_computed, name


@pytest.mark.parametrize("name, form", EVERY)
def test_eight_answers_are_enough(name: str, form: str) -> None:
    body = shelf.stage(name).forms[form]
    assert len([ask for ask in body.asks if not ask.assumed]) <= 6 and len(body.asks) <= 9
    assert len(VALUES[name]) <= 5


def test_there_is_a_stage_of_fifteen_parts() -> None:
    sizes = {name: len(machine.read(filled(name, form).text).parts) for name, form in EVERY}
    assert sizes["class-b"] == 15 and len(values_of("class-b", "one supply")) <= 8


@pytest.mark.parametrize("name, form", EVERY)
def test_whatever_may_be_unknown_is_allowed_and_no_healthy_machine_complains(name: str, form: str) -> None:
    asks = [ask for ask in shelf.stage(name).forms[form].asks if ask.unit and not ask.must]
    one = shelf.fill_in(name, {**values_of(name, form), **{ask.name: "?" for ask in asks}}, "st")
    assert set(one.unknown) == {ask.name for ask in asks} and "# not known" in one.text
    assert not [w for w in jobs.check(machine.read(one.text)).warnings if "does not work" in w.text]


@pytest.mark.parametrize("name, form", EVERY)
def test_the_assumed_answers_are_inside_their_bands_and_said(name: str, form: str) -> None:
    text = filled(name, form).text
    body = shelf.stage(name).forms[form]
    assumed = [ask.name for ask in body.asks if ask.assumed and ask.name not in values_of(name, form)]
    line = next((one for one in text.splitlines() if "assumed, nobody said" in one), "")
    assert all(f" {one} " in line for one in assumed)


@pytest.mark.parametrize("name, form", EVERY)
def test_names_of_the_shelf_cannot_be_mistaken_in_a_text(name: str, form: str) -> None:
    """They are exchanged word by word, so each is a word no sentence uses: capitals, two letters at least."""
    body = shelf.stage(name).forms[form]
    sketch = machine.read(filled(name, form).text)
    names = {one.removeprefix("st-") for one in (*sketch.parts, *sketch.nets) if one != "GND"}
    assert all(re.fullmatch(r"[A-Z][A-Z0-9]+", one) for one in names)
    assert set(body.doors) <= names and set(body.stand_ins) <= set(body.doors)
    assert {part for parts in body.stand_ins.values() for part in parts} <= {
        p.removeprefix("st-") for p in sketch.parts
    }


# The book --------------------------------------------------------------------------------------


def test_common_emitter_is_the_books_stage() -> None:
    """Malvino, Electronic Principles, example 8-1 (VB 1.8, VE 1.1, VC 6), and IE = (VB - 0.6) / RE; closed form."""
    volts = healthy("common-emitter", "bypassed")
    assert (volts["BASE"], volts["EMIT"], volts["COLL"]) == pytest.approx((1.8, 1.1, 6.0), abs=0.12)
    assert volts["BASE"] == pytest.approx(10 * 2.2 / 12.2, rel=0.03)  # the base draws a little
    assert volts["EMIT"] == pytest.approx(volts["BASE"] - 0.6, abs=0.1)
    assert volts["COLL"] == pytest.approx(10 - 3.6e3 * volts["EMIT"] / 1e3, rel=0.01)  # IC = IE within 1 / gain


@pytest.mark.parametrize("form, degenerate", [("bypassed", 0.0), ("plain", 1e3)])
def test_common_emitter_gain(form: str, degenerate: float) -> None:
    """Gain = (RC || RL) / (re + RE), re = 25 mV / IE; closed form."""
    re_ohms = 25.85e-3 / (healthy("common-emitter", form)["EMIT"] / 1e3)
    level = healthy("common-emitter", form, "tone", "pp")
    gain = 1 / (1 / 3.6e3 + 1 / 47e3) / (re_ohms + degenerate)
    assert level["OUT"] / level["BASE"] == pytest.approx(gain, rel=0.05)  # the transistor's own gain is not endless


def test_follower_halves_into_its_cable() -> None:
    """VE = VB - 0.65; into 75 ohm through 75 ohm half arrives; closed form."""
    volts, level = healthy("follower"), healthy("follower", "", "tone", "pp")
    assert volts["EMIT"] == pytest.approx(volts["BASE"] - 0.7, abs=0.1)  # about 11 mA: a little above 0.65 V
    assert volts["BASE"] == pytest.approx(6.0, rel=0.04)
    far = 1 / (1 / 10e3 + 1 / 75.1)
    assert level["SOCK"] / level["EMIT"] == pytest.approx(far / (far + 75), rel=0.01)
    assert level["EMIT"] / level["BASE"] == pytest.approx(1.0, abs=0.04)


def test_opamp_gains() -> None:
    """1 + Rf / Rg, and -Rf / Rin; the load behind 100 ohm takes a few thousandths; closed form."""
    loaded = 1 / (1 / 47e3 + 1 / 100e3)
    behind = loaded / (loaded + 100)
    plain, turned = (healthy("opamp-line", form, "tone", "pp") for form in ("non-inverting", "inverting"))
    assert plain["OUT"] / plain["SIG"] == pytest.approx(11 * behind, rel=0.005)
    assert turned["OUT"] / turned["SIG"] == pytest.approx(10 * behind, rel=0.005)
    assert abs(healthy("opamp-line", "non-inverting")["OUT"]) < 11 * 5e-3  # gain times offset


def test_supply_holds_its_output() -> None:
    """Uout as marked; the raw rail falls by winding ohms times what load, regulator and indicator draw; closed form."""
    volts = healthy("linear-supply")
    assert volts["OUT"] == pytest.approx(12.0, abs=0.05)
    drawn = 0.25 + 5e-3 + (12 - 1.75) / 2200
    assert volts["RAW"] == pytest.approx(19 - 1.5 * drawn, rel=0.003)
    assert volts["GLOW"] == pytest.approx(1.75, abs=0.1)


def test_supply_in_drop_out_follows_its_input() -> None:
    volts = healthy("linear-supply", raw="13V")
    assert volts["OUT"] == pytest.approx(volts["VIN"] - 2.0, abs=0.15)


def test_class_b_rests_in_the_middle_and_follows() -> None:
    """Middle at half the supply; base to base two drops at (U - 2 Ud) / 2R; level about RL / (RL + RE); closed form."""
    volts, level = healthy("class-b", "one supply"), healthy("class-b", "one supply", "tone", "pp")
    assert volts["OUT"] == pytest.approx(10.0, abs=0.1) and abs(volts["SPK"]) < 0.01
    assert 1.1 < volts["BASEN"] - volts["BASEP"] < 1.4
    assert 8 / (8 + 0.47 + 0.3) < level["SPK"] / level["BASEN"] < 1.0
    bias = (healthy("class-b", "one supply")["SUP"] - volts["BASEN"]) / 1e3
    assert bias == pytest.approx((20 - 1.24) / 2e3, rel=0.02)


def test_class_b_on_two_rails_rests_at_ground() -> None:
    volts = healthy("class-b", "two rails")
    assert abs(volts["SPK"]) < 0.05 and volts["NEG"] == pytest.approx(-20, abs=0.1)


def test_reset_runs_and_is_held() -> None:
    """Full capacitor stands at the supply; pressed, at the divider of 100R and 10k; closed form."""
    runs, held = healthy("reset"), healthy("reset", "", "pressed")
    assert runs["TIME"] == pytest.approx(5.0, rel=0.01)
    lines = 1 / (1 / 10e3 + 1 / 100e3)
    assert runs["RES"] == pytest.approx(5.0 * lines / (lines + 100), rel=0.01)
    assert held["TIME"] == pytest.approx(5 * 100 / 10.1e3, rel=0.05) and held["RES"] < 0.1


@pytest.mark.parametrize("stimulus, share", [("top bit", 1 / 2), ("second bit", 1 / 4), ("third bit", 1 / 8), ("last bit", 1 / 16), ("all bits", 15 / 16)])  # fmt: skip
def test_r_2r_ladder_halves(stimulus: str, share: float) -> None:
    """Each bit half of the one above; closed form. The drivers have 50 ohm, the load 10 Mohm."""
    assert healthy("ladder", "r-2r", stimulus)["OUT"] == pytest.approx(5 * share, rel=0.006)


def test_weighted_ladder_adds_conductances() -> None:
    """U = sum(Ui Gi) / sum(Gi); closed form."""
    g = [1 / (ohms + 50) for ohms in (10e3, 20e3, 39e3, 82e3)]
    for stimulus, at in (("top bit", 0), ("second bit", 1), ("third bit", 2), ("last bit", 3)):
        share = g[at] / (sum(g) + 1e-7)
        assert healthy("ladder", "weighted", stimulus)["OUT"] == pytest.approx(5 * share, rel=0.01)


def test_hold_follows() -> None:
    assert healthy("hold")["OUT"] == pytest.approx(2.5 * 10e3 / 10.05e3, rel=0.01)


def test_switch_path_passes_its_divider() -> None:
    """0.2 V rms behind 1k into 47k || 100k; closed form, peak to peak 2 sqrt 2."""
    far = 1 / (1 / 47e3 + 1 / 100e3)
    expected = 0.2 * 2 * math.sqrt(2) * far / (far + 1e3)
    assert healthy("switch-path", "", "tone", "pp")["OUT"] == pytest.approx(expected, rel=0.02)


def test_lead_passes_all_but_what_its_source_keeps() -> None:
    """0.2 V rms behind 600R into 10k; closed form, peak to peak 2 sqrt 2."""
    expected = 0.2 * 2 * math.sqrt(2) * 10e3 / 10.6e3
    assert healthy("lead", "", "tone", "pp")["OUT"] == pytest.approx(expected, rel=0.02)


def test_lane_high_and_low() -> None:
    high, low = healthy("lane", "", "high"), healthy("lane", "", "low")
    assert high["FAR"] == pytest.approx(5.0, rel=0.02)
    assert low["FAR"] == pytest.approx(5 * 83 / 10.083e3, rel=0.06)  # pull-up against driver and series resistor


# Planted faults --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Plant:
    """A fault written into the file: one line exchanged, and the readings a careful person would take."""

    stage: str
    form: str
    item: str
    sound: str
    broken: str
    readings: str


OPEN, SHORT = "resistor 100G", "resistor 0R1"
PLANTS = [
    Plant("linear-supply", "", "F1", "fuse 1A slow", OPEN, "OUT rest, RAW rest, FUSED rest, VIN rest, F1.1-F1.2"),
    Plant("linear-supply", "", "J1", "contact", OPEN, "OUT rest, NEAR rest, FAR rest, J1.1-J1.2"),
    Plant("common-emitter", "bypassed", "R2", "resistor 2k2", OPEN, "BASE rest, EMIT rest, COLL rest, SUP rest, R2.1-R2.2"),
    Plant("common-emitter", "plain", "R4", "resistor 1k", OPEN, "BASE rest, EMIT rest, COLL rest, SUP rest, R4.1-R4.2"),
    Plant("follower", "", "C2", "capacitor 470u electrolytic", OPEN, "EMIT rest, EMIT pp tone, TAP pp tone, SOCK pp tone"),
    Plant("opamp-line", "non-inverting", "R3", "resistor 1k", OPEN, "SIG pp tone, OUT pp tone, FB pp tone, DRV rest, R3.1-R3.2"),
    Plant("opamp-line", "inverting", "R2", "resistor 10k", OPEN, "SIG pp tone, OUT pp tone, FB rest, DRV rest, R2.1-R2.2"),
    Plant("class-b", "one supply", "R3", "resistor 0R47", OPEN, "OUT rest, BASEN rest, EMN rest, SPK pp tone, R3.1-R3.2"),
    Plant("class-b", "two rails", "R1", "resistor 1k", OPEN, "OUT rest, BASEN rest, SUP rest, BASEP rest, R1.1-R1.2"),
    Plant("reset", "", "C1", "capacitor 10u electrolytic", SHORT, "SUP rest, TIME rest, RES rest, C1.1-C1.2, R1.1-R1.2"),
    Plant("ladder", "r-2r", "R2", "resistor 20k 1%", OPEN, "OUT top bit, OUT second bit, OUT third bit, BIT2 second bit, R2.1-R2.2"),
    Plant("ladder", "weighted", "R1", "resistor 10k 1%", OPEN, "OUT top bit, OUT second bit, OUT third bit, BIT3 top bit, R1.1-R1.2"),
    Plant("hold", "", "C1", "capacitor 10n film", SHORT, "IN rest, GATE rest, OUT rest, C1.1-C1.2"),
    Plant("switch-path", "", "J1", "contact", OPEN, "IN pp tone, PLUG pp tone, FAR pp tone, J1.1-J1.2"),
    Plant("lead", "", "SCREEN", "lead", OPEN, "IN pp tone, OUT pp tone, SHELL pp tone, SCREEN.1-SCREEN.2"),
    Plant("lane", "", "R1", "resistor 33R", OPEN, "DRV low, NEAR low, FAR low, OUT low"),
]  # fmt: skip


def question(said: str) -> Question:
    """`BASE rest`, `OUT pp tone`, or `R1.1-R1.2` in ohms with power off."""
    place, _, rest = said.strip().partition(" ")
    if not rest:
        red, black = (f"st-{one}" for one in place.split("-"))
        return Question("ohms", red, black, Setup(power="off"))
    kind = "pp" if rest.startswith("pp ") else "dc"
    return Question(kind, f"st-{place}", setup=Setup(stimulus=rest.removeprefix("pp ")))


@pytest.mark.slow
@pytest.mark.parametrize("plant", PLANTS, ids=lambda one: f"{one.stage} {one.form} {one.item}")
def test_a_planted_fault_is_in_the_first_class(plant: Plant) -> None:
    """The engine reads its own broken stage: it agrees with itself, which is no check from outside."""
    text = filled(plant.stage, plant.form).text
    line = f"st-{plant.item}: {plant.sound} "
    assert text.count(line) == 1
    broken = machine.read(text.replace(line, f"st-{plant.item}: {plant.broken} "))
    meter = draw_laws(build_model(broken, broken.name).only_healthy())
    asked = [question(one) for one in plant.readings.split(",")]
    figures = [meter.healthy(one)[1] for one in asked]
    figures = [
        math.inf if ask.instrument == "ohms" and ohms > 40e6 else ohms for ask, ohms in zip(asked, figures, strict=True)
    ]
    readings = [
        Reading(ask, figure, f"h{number}") for number, (ask, figure) in enumerate(zip(asked, figures, strict=True))
    ]
    view = jobs.look(jobs.enter_readings(jobs.open_search(machine.read(text)), readings))
    by_id = {suspect.id: suspect for suspect in view.suspects}
    first = [fault.item.split(".")[0] for one in view.classes[0].members if one in by_id for fault in by_id[one].faults]
    assert 4 <= len(readings) <= 6 and f"st-{plant.item}" in first
    assert view.classes[0].probability > 0.5


# Answers that will not do ----------------------------------------------------------------------


@pytest.mark.parametrize("stage, values, words", [
    ("common-emitter", {"supply": "12 ohm"}, "supply: '12 ohm' is not a voltage"),
    ("common-emitter", {"upper": "10V"}, "upper: '10V' is not a resistance"),
    ("common-emitter", {"coupling": "10"}, "coupling: '10' is not a capacitance"),
    ("common-emitter", {"lower": "banana"}, "lower: 'banana' is not a resistance"),
    ("common-emitter", {"lower": ""}, "lower is missing: resistor from base to ground; write `lower="),
    ("common-emitter", {"supply": "?"}, "supply must be known"),
    ("common-emitter", {"supply": "10kV"}, "far from usual"),
    ("common-emitter", {"lower": "2m2"}, "check unit and prefix"),
    ("common-emitter", {"lower": "-2k2"}, "below nought"),
    ("common-emitter", {"supplly": "10V"}, "write `supply`"),
    ("common-emitter", {"form": "bypased"}, "write `bypassed`"),
    ("common-emitter", {"form": "plain", "bypass": "100u"}, "not asked in this form"),
    ("linear-supply", {"current": "0"}, "far from usual"),
    ("opamp-line", {"rails": ""}, "rails is missing"),
])  # fmt: skip
def test_a_bad_answer_is_one_clear_complaint(stage: str, values: dict[str, str], words: str) -> None:
    with pytest.raises(BadInput) as refused:
        shelf.fill(stage, {**VALUES[stage], **values}, "st")
    [complaint] = refused.value.complaints
    assert words in str(complaint) and complaint.mend


def test_every_missing_answer_is_asked_for_at_once() -> None:
    with pytest.raises(BadInput) as refused:
        shelf.fill("common-emitter", {}, "st")
    assert [one.text.split()[0] for one in refused.value.complaints] == [
        "supply",
        "upper",
        "lower",
        "collector",
        "emitter",
    ]


@pytest.mark.parametrize("name", ["two words", "a.b", "", "GND", "a*"])
def test_a_name_is_one_word(name: str) -> None:
    with pytest.raises(BadInput, match="short word"):
        shelf.fill("hold", {}, name)


def test_an_unknown_stage_names_the_nearest() -> None:
    assert shelf.stage("Common Emitter").name == "common-emitter"
    with pytest.raises(BadInput, match="common-emitter"):
        shelf.stage("common-emiter")
    with pytest.raises(BadInput, match="linear-supply"):
        shelf.stage("")


def test_what_is_typed_is_what_stands_in_the_file() -> None:
    text = shelf.fill(
        "common-emitter",
        {**VALUES["common-emitter"], "upper": "10k 1%", "lower": "2,2k", "emitter": "800R..1k2"},
        "pre",
    )
    assert (
        "resistor 10k 1%  pre-SUP > pre-BASE" in text
        and "resistor 2k2  pre-BASE > GND" in text
        and "resistor 800R..1k2 " in text
    )
    assert "pre-SUP below 13V" in text


def test_a_power_rule_does_not_cry_for_a_healthy_machine() -> None:
    """Reckoned from the highest supply the answer allows: 13 V and 10 %, times 1.3."""
    for typed, rule in (("11V..13V", "16.9V"), ("12V 10%", "17.16V")):
        text = shelf.fill("common-emitter", {**VALUES["common-emitter"], "supply": typed}, "pre")
        assert machine.read(text).power_rules[0].volts == pytest.approx(float(rule[:-1]))


TONE_STAGE = """\
stage: x
title: X
what: a wire
doors: {IN: in}
stand-ins: {IN: [GEN]}
extras: {GEN: source 0V  IN > GND}
parts: {R1: resistor 1k  IN > OUT, R2: resistor 1k  OUT > GND}
stimuli: {rest: {}, tone: {GEN: sine 1V rms 1kHz}}
works:
  <name> loud: OUT level at tone above 0.1V
  <name> quiet: OUT dc at rest below 1V; only if <name> loud works
"""


def test_a_function_does_not_wait_for_one_that_is_left_out() -> None:
    stage = read_stage(TONE_STAGE, "x.yaml")
    host = "machine: Host\nparts:\n  S1: source 0V  SIG > GND\n  R1: resistor 1k  SIG > GND\n"
    assert [works.only_if for works in machine.read(shelf.fill(stage, {}, "st")).works] == ["", "st loud"]
    [quiet] = machine.read(shelf.put(host, shelf.fill_in(stage, {}, "st"), {"IN": "SIG"})).works
    assert (quiet.name, quiet.only_if) == ("st quiet", "")


def test_a_stage_file_with_a_slip_names_its_line() -> None:
    with pytest.raises(BadInput, match=r"x\.yaml:3:1: 'quesions' is not a key"):
        read_stage("stage: x\ntitle: X\nquesions: {}\n", "x.yaml")


# Put into a machine file -----------------------------------------------------------------------


def only_added(before: str, after: str) -> bool:
    """Every line of the old text is still there, in order."""
    lines = iter(after.splitlines())
    return all(any(line == other for other in lines) for line in before.splitlines())


def test_into_nothing_is_the_stage_alone() -> None:
    one = filled("hold")
    assert shelf.put(None, one) == one.text == shelf.fill("hold", values_of("hold", ""), "st")


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda text: text.splitlines()[0])
@pytest.mark.parametrize("name, form", EVERY)
def test_what_stood_in_the_file_stays(example: str, name: str, form: str) -> None:
    joined = shelf.put(example, filled(name, form))
    before, after = machine.read(example), machine.read(joined)
    assert {part: one.pins for part, one in before.parts.items()} == {
        part: after.parts[part].pins for part in before.parts
    }
    assert {works.name for works in before.works} < {works.name for works in after.works}
    rules, rules_after = ({(rule.net, rule.side, rule.volts) for rule in one.power_rules} for one in (before, after))
    assert rules <= rules_after and set(before.never_live) == set(after.never_live)
    assert "st" in after.sections and len(after.parts) > len(before.parts)
    brackets = [line for line in example.splitlines() if re.match(r"(known good|never live|never without): ?\S", line)]
    assert only_added("\n".join(line for line in example.splitlines() if line not in brackets), joined)


@pytest.mark.parametrize("name, form", EVERY)
def test_any_doors_can_be_joined(name: str, form: str) -> None:
    """No net is left hanging, no sentence speaks of what is gone, whichever doors are joined."""
    body = shelf.stage(name).forms[form]
    host = "machine: Host\nparts:\n" + "".join(
        f"  S{n}: source 5V  NET{n} > GND\n  R{n}: resistor 1k  NET{n} > GND\n" for n in range(len(body.doors))
    )
    for size in range(1, len(body.doors) + 1):
        for chosen in itertools.combinations(enumerate(body.doors), size):
            text = shelf.put(host, filled(name, form), {door: f"NET{n}" for n, door in chosen})
            one = machine.read(text)
            assert not [w.text for w in one.warnings if "named once" in w.text or "nothing drives" in w.text], chosen
            gone = {part for _, door in chosen for part in body.stand_ins.get(door, ())}
            assert not {f"st-{part}" for part in gone} & set(one.parts)
            assert all(f"NET{n}" in one.nets and f"st-{door}" not in one.nets for n, door in chosen)


def test_a_chain_of_stages_shares_supply_and_tone() -> None:
    supply = shelf.put(None, shelf.fill_in("linear-supply", VALUES["linear-supply"], "psu"), {"OUT": "V12"})
    first = shelf.fill_in("common-emitter", {**VALUES["common-emitter"], "supply": "12V"}, "pre")
    text = shelf.put(supply, first, {"SUP": "V12", "OUT": "new MIDDLE", "R4": "R147"})
    text = shelf.put(text, shelf.fill_in("follower", VALUES["follower"], "drv"), {"SUP": "V12", "IN": "MIDDLE"})
    one = machine.read(text)
    assert one.sections == ("psu", "pre", "drv") and one.parts["R147"].pins["1"] == "pre-EMIT"
    assert "pre-PSU" not in one.parts and "drv-GEN" not in one.parts and "pre-GEN" in one.parts
    assert list(one.stimuli) == ["rest", "unloaded", "tone"]
    assert {works.name for works in one.works} >= {"psu rail", "pre loud", "drv picture or sound"}
    assert not jobs.check(one).warnings
    rows = {row.place: row.mid for row in jobs.expect(one, Setup(stimulus="tone")).rows if row.kind == "pp"}
    assert 0.4 < rows["drv-SOCK"] / rows["drv-EMIT"] < 0.55 and rows["pre-COLL"] > 20 * rows["pre-BASE"]


def test_without_a_tone_of_its_own_what_needs_one_is_left_out_and_said() -> None:
    host = "machine: Host\nparts:\n  S1: source 1V  SIG > GND\n  R1: resistor 1k  SIG > GND\n"
    text = shelf.put(host, filled("switch-path"), {"IN": "SIG"})
    one = machine.read(text)
    assert not one.works and "# left out, nothing here feeds or loads it: st passes" in text


def test_a_host_stimulus_without_a_signal_is_no_tone() -> None:
    host = (
        "machine: Host\nparts:\n  S1: source 1V  SIG > GND\n  R1: resistor 1k  SIG > GND\nstimuli: {tone: {S1: 2V}}\n"
    )
    assert not machine.read(shelf.put(host, filled("switch-path"), {"IN": "SIG"})).works


def test_a_different_tone_of_the_host_is_not_taken_for_ours() -> None:
    host = "machine: Host\nparts:\n  S1: source 0V  SIG > GND\n  R1: resistor 1k  SIG > GND\nstimuli: {tone: {S1: sine 1V rms 1kHz}, rest: {}}\n"
    one = machine.read(shelf.put(host, filled("switch-path")))
    assert list(one.stimuli) == ["tone", "rest", "tone st", "switched off"]
    assert [works.measure.stimulus for works in one.works] == ["tone st", "switched off"]


@pytest.mark.parametrize("tail", [
    "never without: SIG below 5V\n", "never without: [SIG below 5V]   # [sic]\n", "never without:\n- SIG below 5V\n",
    "never without:\n    # why\n    - SIG below 5V\n\n# end\n", "never without: [\n  SIG below 5V\n]\n", "never without: []\nknown good: S1", "",
])  # fmt: skip
def test_lists_grow_in_the_way_they_are_written(tail: str) -> None:
    host = "machine: Host\nparts:\n  S1: source 0V  SIG > GND\n  R1: resistor 1k  SIG > GND\n" + tail
    one = machine.read(shelf.put(host, filled("lane")))
    assert [rule.net for rule in one.power_rules] == (["SIG"] if "SIG below" in tail else []) + ["st-FAR"]
    assert one.parts["st-GIVE"].known_good and one.parts["S1"].known_good == ("S1" in tail)


@pytest.mark.parametrize("joins, words", [
    ({"SUPP": "SIG"}, "write `SUP`"),
    ({"SUP": "SIGG"}, "no net 'SIGG'; write `SIG`, or `new SIGG`"),
    ({"R1": "S1"}, "S1 already"),
])  # fmt: skip
def test_a_join_that_cannot_be_is_refused(joins: dict[str, str], words: str) -> None:
    host = "machine: Host\nparts:\n  S1: source 0V  SIG > GND\n  R1: resistor 1k  SIG > GND\n"
    with pytest.raises(BadInput) as refused:
        shelf.put(host, filled("lane"), joins)
    [complaint] = refused.value.complaints
    assert words in str(complaint)


def test_a_second_stage_of_one_name_is_refused_with_a_free_name() -> None:
    once = shelf.put(None, filled("lane"))
    with pytest.raises(BadInput, match="like `st2`"):
        shelf.put(once, filled("lane"))
    twice = shelf.put(once, shelf.fill_in("lane", VALUES["lane"], "st2"))
    with pytest.raises(BadInput, match="like `st3`"):
        shelf.put(twice, filled("lane"))


def test_a_name_the_machine_uses_for_something_else_is_refused() -> None:
    with pytest.raises(BadInput, match="has st already"):
        shelf.put("machine: Host\nparts:\n  S1: source 1V  st > GND\n  R1: resistor 1k  st > GND\n", filled("lane"))


def test_a_file_in_braces_is_refused() -> None:
    with pytest.raises(BadInput, match="line of its own"):
        shelf.put("{machine: X, parts: {S1: source 0V SIG > GND, R1: resistor 1k SIG > GND}}", filled("lane"))
    with pytest.raises(BadInput, match="below it"):
        shelf.put(
            "machine: X\nsections: {a: {parts: {S1: source 0V SIG > GND, R1: resistor 1k SIG > GND}}}\n", filled("lane")
        )


def test_a_machine_file_that_does_not_load_is_complained_of_as_ever() -> None:
    with pytest.raises(BadInput, match="no parts"):
        shelf.put("machine: Empty\n", filled("lane"))


# The page --------------------------------------------------------------------------------------


def test_the_page_names_every_stage_and_question() -> None:
    for stage in shelf.stages():
        row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{stage.name}`"))
        for ask in stage.asks:
            assert f"`{ask.name}`" in row, (stage.name, ask.name)
        for door in {door for body in stage.forms.values() for door in body.doors}:
            assert f"`{door}`" in row, (stage.name, door)


def test_the_example_of_the_page_is_what_the_shelf_gives() -> None:
    [example] = re.findall(r"^```yaml\n(machine:.*?)^```", PAGE, re.M | re.S)
    values = {"signal": "50mV", "source": "?"}
    assert shelf.fill("switch-path", values, "aux") == example
