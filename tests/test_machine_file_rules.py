"""The rules of the machine file, one test or more for each point of decision 0002."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from pytest import approx

from probewright import machine
from probewright.errors import BadInput, Complaint
from probewright.machine.edits import SetFigure, Unplug
from probewright.machine.model import Limit, Machine, Measure, Spot

BOARD = """\
machine: Lamp dimmer
parts:
  SUP1: source 12V series 0.3R  SUP > GND
  RV1:  potentiometer 10k  top=SUP wiper=FADE bottom=GND
  R1:   resistor 1k  FADE > LAMP
  M1:   load 1k  LAMP > GND
  S1:   switch open  LAMP > GND
stimuli:
  full: {RV1: 100%}
  dark: {RV1: 0%}
  tone: {SUP1: 12V sine 0.2V rms 1kHz}
"""


def with_works(*lines: str) -> str:
    return BOARD + "works:\n" + "".join(f"  {line}\n" for line in lines)


def with_part(*lines: str) -> str:
    return BOARD.replace("stimuli:", "".join(f"  {line}\n" for line in lines) + "stimuli:")


def complaints(text: str) -> tuple[Complaint, ...]:
    with pytest.raises(BadInput) as bad:
        machine.read(text, "board.yaml")
    return bad.value.complaints


def complaint(text: str) -> Complaint:
    found = complaints(text)
    assert len(found) == 1, found
    return found[0]


def plain(one: Machine) -> Machine:
    """The machine without where its lines stand."""
    nowhere = Spot()
    return replace(
        one,
        file="",
        warnings=(),
        parts={name: replace(part, spot=nowhere) for name, part in one.parts.items()},
        stimuli={name: replace(each, spot=nowhere) for name, each in one.stimuli.items()},
        works=tuple(replace(each, spot=nowhere, only_if_sentence=None) for each in one.works),
        points={name: replace(each, spot=nowhere) for name, each in one.points.items()},
        printed=tuple(replace(each, spot=nowhere) for each in one.printed),
        power_rules=tuple(replace(each, spot=nowhere) for each in one.power_rules),
    )


# 1. quantities


@pytest.mark.parametrize("quantity", ["dc", "size of dc"])
def test_01_quantities_of_the_settled_machine(quantity: str) -> None:
    works = machine.read(with_works(f"lamp: LAMP {quantity} at full above 5V")).works[0]
    assert works.measure == Measure("LAMP", quantity, "full")


@pytest.mark.parametrize("quantity", ["pp", "rms", "level"])
def test_01_quantities_of_a_signal(quantity: str) -> None:
    assert machine.read(with_works(f"hum: LAMP {quantity} at tone below 1V")).works[0].measure.quantity == quantity


@pytest.mark.parametrize(
    "quantity", ["distortion", "period", "frequency", "duty", "max", "min", "last", "drift", "rise through 3V"]
)
def test_01_a_quantity_of_what_moves_is_refused_where_nothing_moves(quantity: str) -> None:
    found = complaint(with_works(f"lamp: LAMP {quantity} at full below 1s"))
    assert "'full' puts on no signal" in found.text and "switch-on" in found.mend
    assert (found.line, found.column) == (13, 14 + len(quantity) + 4)


def test_01_a_signal_quantity_without_a_signal_is_refused() -> None:
    found = complaint(with_works("hum: LAMP pp at full below 0.2V"))
    assert "puts on no signal" in found.text and "sine" in found.mend


# 2. limits


def test_02_limits_in_the_first_breath_say_what_holds() -> None:
    sides = [
        ("below 2V", "above"),
        ("above 2V", "below"),
        ("weaker than 2V", "stronger"),
        ("stronger than 2V", "weaker"),
    ]
    for said, broken_on in sides:
        assert machine.read(with_works(f"lamp: LAMP dc at full {said}")).works[0].limits == (Limit(broken_on, 2.0),)


def test_02_limits_after_a_semicolon_say_what_breaks_in_the_owners_words() -> None:
    text = with_works("lamp: LAMP dc at full; below 2V = stays dark; below 5V = dim; above 7V = too bright")
    assert machine.read(text).works[0].limits == (
        Limit("below", 2.0, "stays dark"), Limit("below", 5.0, "dim"), Limit("above", 7.0, "too bright"),
    )  # fmt: skip


def test_02_between_and_within_give_both_sides() -> None:
    for said, low, high in [
        ("between 4V and 6V", 4.0, 6.0), ("within 0.5V of 6V", 5.5, 6.5), ("within 10% of 5V", 4.5, 5.5),
        ("within 10% of -5V", -5.5, -4.5),
    ]:  # fmt: skip
        limits = machine.read(with_works(f"lamp: LAMP dc at full {said} = odd")).works[0].limits
        assert [one.side for one in limits] == ["below", "above"] and {one.words for one in limits} == {"odd"}
        assert [one.value for one in limits] == approx([low, high])


def test_02_a_limit_that_could_mean_either_is_asked_about() -> None:
    assert "all is well" in complaint(with_works("lamp: LAMP dc at full below 2V = dark")).text
    assert "owner's words" in complaint(with_works("lamp: LAMP dc at full; below 2V")).text
    assert "first semicolon" in complaint(with_works("lamp: LAMP dc at full; between 2V and 3V = dim")).mend


# 3. comparisons


def test_03_across_between_stimuli_and_ratio() -> None:
    works = machine.read(
        with_works(
            "heater: SUP to LAMP dc at full above 1V",
            "fades: LAMP dc at full minus at dark above 4V",
            "gain: LAMP level at tone over SUP level at tone above -30dB",
            "share: LAMP dc at full over SUP dc at full between 30% and 0.7",
        )
    ).works
    assert works[0].measure == Measure("SUP", "dc", "full", "LAMP")
    assert works[1].combine == "minus" and works[1].second == Measure("LAMP", "dc", "dark")
    assert works[2].combine == "over" and works[2].limits[0].value == approx(10 ** (-30 / 20))
    assert [one.value for one in works[3].limits] == [0.3, 0.7]


def test_03_decibels_around_a_ratio_are_a_factor_to_either_side() -> None:
    gain = "gain: LAMP level at tone over SUP level at tone within"
    works = machine.read(with_works(f"{gain} 3dB of -20dB", f"b{gain} 3dB of healthy")).works
    assert [one.value for one in works[0].limits] == approx([10 ** (-23 / 20), 10 ** (-17 / 20)])
    assert [(one.value, one.of_healthy) for one in works[1].limits] == [
        (approx(10 ** (-3 / 20)), True), (approx(10 ** (3 / 20)), True),
    ]  # fmt: skip
    assert "nothing is within" in complaint(with_works(f"{gain} -1dB of 20dB")).text
    assert "write volts" in complaint(with_works("a: LAMP dc at full within 1dB of 5V")).mend


def test_03_one_operator_a_sentence() -> None:
    found = complaint(with_works("x: LAMP dc at full minus at dark over LAMP dc at full above 1"))
    assert "one `minus` or `over`" in found.text


# 4. only if


def test_04_only_if_another_function_works_or_a_sentence_holds() -> None:
    works = machine.read(
        with_works(
            "lamp lit: LAMP dc at full above 4V",
            "steady: LAMP dc at dark below 1V; only if lamp lit works",
            "soft: LAMP dc at dark below 1V; only if SUP dc at full above 9V",
        )
    ).works
    assert works[1].only_if == "lamp lit" and works[1].only_if_sentence is None
    condition = works[2].only_if_sentence
    assert condition is not None
    assert condition.measure == Measure("SUP", "dc", "full") and condition.limits == (Limit("below", 9.0),)


def test_04_a_circle_of_conditions_is_refused() -> None:
    text = with_works("a: LAMP dc at full above 4V; only if b works", "b: LAMP dc at dark below 1V; only if a works")
    assert "only after itself" in complaints(text)[0].text
    assert "no other function" in complaint(with_works("a: LAMP dc at full above 4V; only if a works")).text


# 5. signals of sources


@pytest.mark.parametrize(("said", "peak"), [("rms", 0.2 * math.sqrt(2)), ("peak", 0.2), ("pp", 0.1)])
def test_05_a_sine_on_a_source(said: str, peak: float) -> None:
    tone = machine.read(BOARD.replace("12V sine 0.2V rms", f"sine 0.2V {said}")).stimuli["tone"]
    assert tone.frequency == 1000.0
    assert tone.edits == (SetFigure("SUP1", "signal", approx(peak)),)


def test_05_dc_and_a_sine_together() -> None:
    edits = machine.read(BOARD).stimuli["tone"].edits
    assert edits[0] == SetFigure("SUP1", "volts", 12.0) and len(edits) == 2


@pytest.mark.parametrize(
    ("said", "text", "mend"),
    [
        ("sine 0.2V 1kHz", "does not say how its volts are counted", "sine 0.2V rms 1kHz"),
        ("triangle 1V peak 1kHz", "`triangle` is not computed yet", "sine"),
        ("whatever is on", "'whatever is on' is not understood", "whatever it is playing"),
        ("whatever it is playing 0Hz", "0Hz is no frequency of a signal", "whatever it is playing"),
    ],
)
def test_05_signals_not_computed_are_refused_by_name(said: str, text: str, mend: str) -> None:
    found = complaint(BOARD.replace("12V sine 0.2V rms 1kHz", said))
    assert text in found.text and mend in found.mend and found.line == 11


# 6. time: tests/test_machine_file_in_time.py


# 7. stimuli


def test_07_loads_switches_and_plugs() -> None:
    text = BOARD + "  idle: {M1: unplugged, S1: closed}\n  heavy: {M1: 33R}\n  as typed: {}\n  both: {M1 M2: 47R}\n"
    stimuli = machine.read(text.replace("stimuli:", "  M2: load 1k  LAMP > GND\nstimuli:")).stimuli
    assert stimuli["idle"].edits == (Unplug("M1"), SetFigure("S1", "closed", 1.0))
    assert stimuli["heavy"].edits == (SetFigure("M1", "resistance", 33.0),)
    assert stimuli["as typed"].edits == ()
    assert stimuli["both"].edits == (SetFigure("M1", "resistance", 47.0), SetFigure("M2", "resistance", 47.0))


def test_07_the_base_position_is_typed_in_the_part_line() -> None:
    parts = machine.read(with_part("RV2: potentiometer 1k at 30%  SUP N1 GND", "R9: resistor 1k  N1 > GND")).parts
    assert parts["S1"].figures["closed"].nominal == 0.0
    assert parts["RV2"].figures["position"].nominal == approx(0.3)


@pytest.mark.parametrize(
    ("setting", "text"),
    [("R1: 5k", "which has no setting"), ("RV1: 120%", "no place on the way"), ("S1: half", "is no position"),
     ("RV7: 5%", "no part is called 'RV7'"), ("RV1: unknown", "is not one value"), ("RV1: 50", "is not a percentage"),
     ("M1: 0", "would be a short"), ("M1: 1e-300", "no figure of this world")],
)  # fmt: skip
def test_07_settings_that_cannot_be_are_refused(setting: str, text: str) -> None:
    found = complaint(BOARD.replace("RV1: 0%", setting))
    assert text in found.text and found.mend and found.line == 10


# 8. channels

CHANNELS = """\
machine: Two fans
each: {A: front, B: rear}
parts:
  SUP1: source 12V  SUP > GND
  R*4: resistor 10k  SUP > OUT*
  "R17|R31": resistor 1k  OUT* > "END"
  M*: load 100R  OUT* > GND
stimuli:
  run: {}
  front only: {M*: unplugged}
works:
  "* fan turns": OUT* dc at run above 0.05V; below 0.01V = stands still
"""


def test_08_a_star_is_the_channels_mark_and_alone_its_label() -> None:
    one = machine.read(CHANNELS.replace('"END"', "GND").replace('"* fan', "fan of *").replace('turns":', "turns:"))
    assert list(one.parts) == ["SUP1", "RA4", "RB4", "R17", "R31", "MA", "MB"]
    assert one.parts["RB4"].family == "R*4" and one.parts["RB4"].channel == "B"
    assert one.parts["R31"].family == "R17|R31" and one.parts["R31"].pins == {"1": "OUTB", "2": "GND"}
    assert [works.name for works in one.works] == ["fan of front turns", "fan of rear turns"]
    assert [works.measure.place for works in one.works] == ["OUTA", "OUTB"]
    assert [works.channel for works in one.works] == ["A", "B"]
    assert one.channels == {"A": "front", "B": "rear"}
    assert one.stimuli["front only"].edits == (Unplug("MA"), Unplug("MB"))


def test_08_a_function_without_a_star_is_told_apart_by_label() -> None:
    text = CHANNELS.replace('"END"', "GND").replace('"* fan turns"', "fan turns")
    assert [works.name for works in machine.read(text).works] == ["fan turns (front)", "fan turns (rear)"]


def test_08_a_net_per_channel_on_a_shared_part_is_an_error() -> None:
    text = CHANNELS.replace('"END"', "GND").replace("  M*: load 100R", "  M1: load 100R")
    found = complaints(text)[0]
    assert found.text == "OUT* is one net a channel, M1 is one part" and (found.line, found.column) == (7, 18)


def test_08_bars_must_fit_the_channels() -> None:
    found = complaints(CHANNELS.replace('"END"', "GND").replace("R17|R31", "R17|R31|R45"))[0]
    assert "3 names for 2 channels" in found.text


def test_08_a_star_needs_channels() -> None:
    found = complaints(CHANNELS.replace('"END"', "GND").replace("each: {A: front, B: rear}\n", ""))
    assert any("no `each:`" in one.text for one in found)


def test_08_shared_is_not_needed() -> None:
    assert complaint(SECTIONS.replace("gives: BATT", "shared: [R1]")).text == "`shared:` is not needed"


# 9. power off


def test_09_what_hangs_on_when_power_is_off() -> None:
    text = BOARD.replace("series 0.3R", "series 0.3R off 0.4R").replace("load 1k ", "load 1k off stays ")
    parts = machine.read(text + "when off: {unplugged: [R1], stays: [S1]}\n").parts
    assert [parts[name].off for name in ("SUP1", "M1", "RV1", "R1", "S1")] == [
        "resistance", "stays", "default", "unplugged", "stays",
    ]  # fmt: skip
    assert parts["SUP1"].figures["off"].nominal == 0.4


def test_09_a_transformer_is_given_by_its_ratio_and_not_by_its_volts() -> None:
    found = complaint(with_part("TR1: transformer 12V  p1=W1 p2=W2 s1=A s2=GND"))
    assert "ratio" in found.mend or "ratio" in found.text


# 10. sense of A > B


def test_10_first_is_plus_or_anode_zeners_included() -> None:
    one = machine.read(
        with_part(
            "C1: capacitor 33u electrolytic  GND > LAMP",
            "Z1: zener 6V8  GND > FADE",
            "D1: diode k=SUP a=GND",
            "C2: capacitor 10u electrolytic  minus=GND plus=SUP",
        )  # fmt: skip
    )
    assert one.parts["C1"].pins == {"1": "GND", "2": "LAMP"}
    assert one.parts["Z1"].pins == {"a": "GND", "k": "FADE"}
    assert one.parts["D1"].pins == {"k": "SUP", "a": "GND"}
    assert one.parts["C2"].pins["1"] == "SUP"
    assert "Z1: anode on GND, the other end on FADE" in machine.polarity(one)
    assert "C1: plus on GND, the other end on LAMP" in machine.polarity(one)


def test_10_a_negative_source_has_a_negative_value() -> None:
    assert machine.read(with_part("E1: source -12V  SUP > GND")).parts["E1"].figures["volts"].nominal == -12.0


# 11. what YAML would turn into something else


def test_11_every_word_stays_text() -> None:
    text = BOARD.replace("machine: Lamp dimmer", "machine: 12:30\nrevision: 1.10").replace("dark:", "on:")
    text = text.replace("parts:", "parts:\n  3E8: resistor 1e3  no > NO\n  R0123: resistor 1k  no > NO", 1)
    one = machine.read(text)
    assert (one.name, one.revision) == ("12:30", "1.10")
    assert one.parts["3E8"].pins == {"1": "no", "2": "NO"} and "R0123" in one.parts and "on" in one.stimuli


@pytest.mark.parametrize(
    ("text", "says", "mend"),
    [
        (
            "machine: X\nparts:\n  R1:resistor 1k  A > B\n  R2: resistor 1k  A > B\n",
            "no blank after the colon of 'R1'",
            "write `R1: resistor 1k  A > B`",
        ),
        (
            "machine: X\nparts:\n\tR1: resistor 1k  A > B\n",
            "a tab stands where the line is indented",
            "indent with blanks",
        ),
        ("machine: X\nparts: {}\nstimuli:\n  a: {RV1: ?}\n", "a bare ? cannot be read here", "write unknown"),
        (
            "machine: X\nnever live: [@BASE]\n",
            "may not begin with @",
            "write the copper of a net as BASE@ or plain BASE",
        ),
        ("machine: X\nnever live: [*1.e]\n", "may not begin with *", "quotes"),
        ("machine: X\nrevision: %A\n", "may not begin with %", "quotes"),
        ("machine: X\nrevision: !CS\n", "looks like a YAML tag", "quotes"),
        ("machine: X\nworks:\n  a: b: c\n", "a second colon", "no `: ` inside a text"),
        ("machine: X\nstimuli:\n  a: {SUP: 3,3V}\n", "the comma of 3,3V splits it in two", "write 3.3V"),
    ],
)
def test_11_yaml_surprises_are_said_in_our_words(text: str, says: str, mend: str) -> None:
    found = complaints(text)
    assert any(says in one.text and mend in one.mend and one.line > 1 for one in found), found


def test_11_a_part_typed_twice_names_both_lines() -> None:
    found = complaint(with_part("R1: resistor 2k2  FADE > LAMP"))
    assert found.text == "'R1' is typed twice, in lines 5 and 8" and (found.line, found.column) == (8, 3)


def test_11_copper_places() -> None:
    works = machine.read(with_works("a: LAMP@ dc at full above 4V", "b: SUP to @LAMP dc at full above 1V")).works
    assert works[0].measure.place == "LAMP" and works[1].measure.other == "LAMP"


# 12. which word is value, which is net


def test_12_the_word_on_each_side_of_the_arrow_is_a_net() -> None:
    one = machine.read(with_part("R8: resistor 1k 5V > LAMP", "R9: resistor 1k  5V > V+"))
    assert one.parts["R8"].pins == {"1": "5V", "2": "LAMP"} and one.parts["R8"].ratings == ()


def test_12_a_second_value_is_a_rating_except_on_sources_and_zeners() -> None:
    one = machine.read(
        with_part("C1: capacitor 100u 20% 25V electrolytic  SUP > GND", "R9: resistor 1k 0.5W  SUP > GND", "Z1: zener 6V8 1W  GND > SUP")
    )  # fmt: skip
    assert [(r.value, r.unit) for r in one.parts["C1"].ratings] == [(25.0, "V")]
    assert [(r.value, r.unit) for r in one.parts["R9"].ratings] == [(0.5, "W")]
    assert one.parts["Z1"].figures["volts"].nominal == 6.8 and one.parts["Z1"].ratings[0].unit == "W"
    assert "neither a value nor a rating" in complaint(with_part("E1: source 12V 5V  SUP > GND")).text


@pytest.mark.parametrize("net", ["A,B", "A;B", "A:B", "A#B", "A[B", "A(B)"])
def test_12_names_a_net_cannot_have(net: str) -> None:
    assert "is not a net" in complaint(with_part(f"R9: resistor 1k  SUP > {net}")).text


def test_12_unusual_net_names_are_kept() -> None:
    one = machine.read(with_part("R9: resistor 1k  +12V > /RES", "R8: resistor 1k  +12V > /RES"))
    assert one.parts["R9"].pins == {"1": "+12V", "2": "/RES"}


def test_12_case_clash_and_shared_names_warn_once() -> None:
    one = machine.read(with_part("R8: resistor 1k  lamp > M1", "R9: resistor 1k  lamp > M1"))
    texts = [warning.text for warning in one.warnings]
    assert texts.count("nets LAMP and lamp differ in case only") == 1
    assert texts.count("M1 is a part and a net") == 1


# 13. kinds, classes, assumptions


def test_13_defaults_are_printed_with_their_reason() -> None:
    assumed = machine.read(
        with_part("Q1: npn medium gain 60..250  SUP LAMP GND", "C1: capacitor 15u electrolytic  SUP > GND")
    ).assumed
    assert any(line.startswith("C1: ESR 0.") and "sound electrolytic, from memory" in line for line in assumed)
    assert any(line.startswith("Q1: saturation") and "medium transistor" in line for line in assumed)
    assert "R1: resistance 1 kΩ within 5 % (no tolerance typed)" in assumed
    assert not any(line.startswith("Q1: gain") for line in assumed)


def test_13_typed_figures_override_by_name() -> None:
    figures = machine.read(with_part("C1: capacitor 10u 10% electrolytic esr 0.3R 20%  SUP > GND")).parts["C1"].figures
    assert (figures["esr"].nominal, figures["esr"].spread, figures["esr"].typed) == (0.3, 0.2, True)
    assert figures["capacitance"].spread == 0.1
    assert not figures["leak"].typed and figures["leak"].reason


def test_13_the_class_decides_what_is_assumed() -> None:
    parts = machine.read(with_part("D1: diode  SUP > LAMP", "D2: diode schottky  SUP > LAMP")).parts
    assert parts["D1"].classes == ("small-signal",) and parts["D2"].classes == ("schottky",)
    assert parts["D2"].figures["saturation"].nominal > 100 * parts["D1"].figures["saturation"].nominal


@pytest.mark.parametrize(
    "line",
    ["OC1: optocoupler  a=A k=B", "T1: thyristor  a=A k=B"],
)  # fmt: skip
def test_13_kinds_without_equations_are_refused_by_name_with_what_to_write(line: str) -> None:
    found = complaint(with_part(line))
    assert "is known but not computed yet" in found.text and "write" in found.mend or "leave" in found.mend


# 14. potentiometers


def test_14_track_law_and_resting_place() -> None:
    pots = "RV{n}: pot 10k {law} at {at}  top=SUP wiper=W{n} bottom=GND"
    lines = [pots.format(n=n, law=law, at=at) for n, law, at in [(2, "log", "30%"), (3, "antilog", "2k5 to bottom"),
                                                                (4, "linear", "2k5 to top"), (5, "linear", "2k5 to bottom")]]  # fmt: skip
    parts = machine.read(with_part(*lines)).parts
    assert [parts[f"RV{n}"].figures["bend"].nominal for n in (2, 3, 4)] == [1.0, -1.0, 0.0]
    assert parts["RV2"].figures["position"].nominal == 0.3
    assert parts["RV4"].figures["position"].nominal == approx(0.75)
    assert parts["RV5"].figures["position"].nominal == approx(0.25)
    assert parts["RV3"].figures["position"].nominal < 0.25  # antilog rises early


def test_14_the_setting_of_a_trimmer_is_unknown_and_set_so_refused() -> None:
    figure = machine.read(with_part("RV2: trimmer 1k  top=SUP wiper=W bottom=GND")).parts["RV2"].figures["position"]
    assert figure.unknown and (figure.low, figure.high) == (0.0, 1.0)
    found = complaint(with_part("RV2: trimmer 1k set so LAMP dc at full is 5V  top=SUP wiper=W bottom=GND"))
    assert found.text == "`set so` is not computed yet" and "at 30%" in found.mend


def test_14_two_equal_pins_make_a_variable_resistor() -> None:
    one = machine.read(with_part("RV2: pot 1k  top=SUP wiper=LAMP bottom=LAMP"))
    assert not [warning for warning in one.warnings if "RV2" in warning.text]


# 15. packages


def test_15_units_share_the_supply_pins_of_their_case() -> None:
    one = machine.read(
        with_part("U1: opamp dual rail-to-rail  vplus=SUP vminus=GND", "U1A: of U1  plus=FADE minus=N out=N", "U1B: of U1  nc nc nc")
    )  # fmt: skip
    unit = one.parts["U1A"]
    assert unit.package == "U1" and unit.classes == ("rail-to-rail",)
    assert unit.pins == {"plus": "FADE", "minus": "N", "out": "N", "vplus": "SUP", "vminus": "GND"}
    assert one.parts["U1B"].pins["plus"] == "nc:U1B.plus"
    assert "U1" not in one.parts


def test_15_units_not_mentioned_warn_and_too_many_are_refused() -> None:
    case = "U1: opamp dual  vplus=SUP vminus=GND"
    one = machine.read(with_part(case, "U1A: of U1  plus=FADE minus=N out=N"))
    assert any(w.text == "1 of the 2 units of U1 is not mentioned" and w.line == 8 for w in one.warnings)
    units = [f"U1{letter}: of U1  plus=FADE minus=N{letter} out=N{letter}" for letter in "ABC"]
    assert "U1 holds 2 units, 3 are written" in complaint(with_part(case, *units)).text


def test_15_of_needs_a_package() -> None:
    assert complaint(with_part("U1A: of U9  plus=FADE minus=N out=N")).text == "no package is called 'U9'"
    found = complaint(with_part("U1: opamp  vplus=SUP vminus=GND"))
    assert "pin plus is missing" in found.text and "dual" in found.mend


# 16. matched


def test_16_matched_parts() -> None:
    one = machine.read(with_part("Q1: npn  SUP FADE LAMP", "Q2: npn matched Q1 5%  SUP FADE LAMP"))
    assert (one.parts["Q2"].matched, one.parts["Q2"].match_spread) == ("Q1", 0.05)
    assert "no other part is called 'Q9'" in complaint(with_part("Q2: npn matched Q9 5%  SUP FADE LAMP")).text
    assert "match parts of one kind" in complaint(with_part("Q2: npn matched R1 5%  SUP FADE LAMP")).mend


# 17. reach of a net name

SECTIONS = """\
machine: Charger with lamp
sections:
  charger: {gives: BATT, local: [TMP], parts: {S: source 12V  TMP > GND, R1: resistor 1R  TMP > BATT}}
  lamp: {takes: BATT, local: [TMP], parts: {R2: resistor 47R  BATT > TMP, M1: load 100R  TMP > GND}}
"""


def test_17_a_net_is_one_net_everywhere_unless_local() -> None:
    one = machine.read(SECTIONS)
    assert one.parts["R1"].pins == {"1": "TMP/charger", "2": "BATT"}
    assert one.parts["R2"].pins == {"1": "BATT", "2": "TMP/lamp"}
    assert machine.ports(one) == {"charger": ("BATT",), "lamp": ("BATT",)}
    assert one.sections == ("charger", "lamp")


def test_17_gives_and_takes_are_verified() -> None:
    found = complaint(SECTIONS.replace("gives: BATT", "gives: BAT"))
    assert found.text == "no part of 'charger' is on BAT" and "BATT" in found.mend and found.line == 3
    alone = SECTIONS.replace("BATT > TMP", "SUP > TMP").replace("takes: BATT", "takes: SUP")
    assert {one.text for one in complaints(alone)} == {"BATT does not leave 'charger'", "SUP does not leave 'lamp'"}


# 18. sign


def test_18_weaker_and_stronger_keep_the_sign_of_their_limit() -> None:
    text = with_works("neg: LAMP dc at full; weaker than -4V = dim; stronger than -8V = too bright")
    assert machine.read(text).works[0].limits == (
        Limit("weaker", -4.0, "dim"), Limit("stronger", -8.0, "too bright"),
    )  # fmt: skip


def test_18_a_size_is_never_below_nought() -> None:
    assert "never below nought" in complaint(with_works("zero: LAMP size of dc at dark above -40mV")).text


# 19. numbers


def test_19_healthy_is_the_median_machine_and_limits_carry_its_share() -> None:
    works = machine.read(
        with_works("lamp: LAMP dc at full within 10% of healthy", "b: LAMP dc at full above 80% of healthy")
    ).works
    assert works[0].limits == (Limit("below", 0.9, of_healthy=True), Limit("above", 1.1, of_healthy=True))
    assert works[1].limits == (Limit("below", 0.8, of_healthy=True),)


@pytest.mark.parametrize(
    ("limit", "mend"),
    [("below 5", "write volts: `5V`"), ("below 5k", "write volts: `2.5V`"), ("between 5V and 2V", "turn the two round"),
     ("within 0.5V of healthy", "within 10% of healthy"), ("below 1,000V", "write 1V or 1000V")],
)  # fmt: skip
def test_19_a_limit_has_the_unit_of_its_quantity(limit: str, mend: str) -> None:
    found = complaint(with_works(f"lamp: LAMP dc at full {limit}"))
    assert mend in found.mend and found.line == 13 and found.column > 23


def test_19_unknown_figures_span_the_plausible_band() -> None:
    figure = machine.read(with_part("R9: resistor ?  SUP > GND")).parts["R9"].figures["resistance"]
    assert figure.unknown and figure.law == "range"
    assert (figure.low, figure.high) == approx((0.1, 10e6)) and figure.nominal == approx(1000.0)
    ranged = machine.read(with_part("R9: resistor 1k..10k  SUP > GND")).parts["R9"].figures["resistance"]
    assert (ranged.low, ranged.high, ranged.unknown) == (1e3, 1e4, False)


# 20. points


def test_20_ease_words_take_lists_and_points_have_facts() -> None:
    one = machine.read(
        BOARD + "points:\n  easy: [SUP, GND, TP1]\n  board out: LAMP\n  TP1: {at: R1.2, side: top, near: [R1.1]}\n"
        "  near:\n    - RV1.top RV1.wiper\n    - R1.1 TP1\n"
    )
    assert {place: point.ease for place, point in one.points.items()} == {
        "TP1": "easy", "SUP": "easy", "GND": "easy", "LAMP": "board out", "RV1.top": "", "RV1.wiper": "", "R1.1": "",
    }  # fmt: skip
    assert (one.points["TP1"].place, one.points["TP1"].side, one.points["TP1"].near) == ("R1.2", "top", ("R1.1",))
    assert one.points["RV1.top"].near == ("RV1.wiper",) and one.points["R1.1"].near == ("R1.2",)
    assert one.net_of("TP1") == "LAMP"


@pytest.mark.parametrize(
    ("points", "text"),
    [("TP1: {at: R1.3}", "R1 has no pin '3'"), ("TP1: {at: R1.1, ease: eazy}", "does not say how easy"),
     ("TP1: {ta: R1.1}", "a point has no 'ta'"), ("SUP: {at: R1.1}", "'SUP' is a net already"), ("easy: [NOPE]", "no net, point"),
     ("near: [R1.1]", "names at least two places"), ("TP1: {at: TP2}", "no net, point or pin is called 'TP2'")],
)  # fmt: skip
def test_20_points_that_cannot_be(points: str, text: str) -> None:
    assert any(text in one.text for one in complaints(f"{BOARD}points:\n  {points}\n"))


# 21. known good


def test_21_known_good_parts_have_no_faults() -> None:
    parts = machine.read(BOARD + "known good: [SUP1, M1]\n").parts
    assert [name for name, part in parts.items() if part.known_good] == ["SUP1", "M1"]
    assert "no part is called 'SUP2'" in complaint(BOARD + "known good: [SUP2]\n").text


# 22. words a person acts on


def test_22_do_is_the_instruction_and_the_default_is_spelled_out() -> None:
    stimuli = machine.read(BOARD.replace("full: {", "full: {do: turn the dimmer fully right, ")).stimuli
    assert stimuli["full"].do == "turn the dimmer fully right"
    assert stimuli["dark"].do == "turn RV1 to 0 %"
    assert stimuli["tone"].do == "set SUP1 to 12 V; put sine 0.2V rms 1kHz on SUP1"


# 23. printed figures


def test_23_printed_readings_keep_their_meter() -> None:
    one = machine.read(
        BOARD
        + "printed:\n  - SUP 12 V dc at full, 20k/V meter\n  - LAMP 5.5V dc at full\n  - LAMP 5V dc, 20k/V meter on 10V\n"
        "  - SUP 0.2V rms at tone, 1M meter\n"
    )
    assert [(p.place, p.value, p.stimulus, p.meter_ohms) for p in one.printed] == [
        ("SUP", 12.0, "full", 20e3 * 50), ("LAMP", 5.5, "full", 10e6), ("LAMP", 5.0, "", 20e3 * 10), ("SUP", 0.2, "tone", 1e6),
    ]  # fmt: skip
    found = complaint(BOARD + "printed:\n  - SUP 12 dc at full\n")
    assert "is no voltage" in found.text and (found.line, found.column) == (13, 9)


# 24. one-section boards


def test_24_parts_and_points_at_the_top() -> None:
    one = machine.read(BOARD + "points: {easy: [SUP]}\n")
    assert one.sections == () and {part.section for part in one.parts.values()} == {""}


# 25. fuses, connectors, contacts


def test_25_fuses_contacts_and_connectors() -> None:
    one = machine.read(
        with_part("F1: fuse 1A slow  SUP > RAW", "J1: connector  RAW > VIN, GND > COM", "J2: contact  VIN > COM")
    )
    assert one.parts["F1"].figures["rated"].nominal == 1.0 and one.parts["F1"].classes == ("slow",)
    assert one.parts["J1-1"].kind == "contact" and one.parts["J1-1"].pins == {"1": "RAW", "2": "VIN"}
    assert one.parts["J1-2"].pins == {"1": "GND", "2": "COM"}
    assert "is not a pair of nets" in complaint(with_part("J1: connector  RAW > VIN, GND")).text


def test_25_the_contacts_of_a_connector_have_names_of_their_own() -> None:
    lines = ("J1: connector  RAW > SUP, COM > GND", "J1-2: resistor 1k  RAW > COM")
    for typed in (lines, lines[::-1]):
        assert complaint(with_part(*typed)).text == "J1-2 is typed twice, in lines 8 and 9"


# 26. short forms


def test_26_synonyms_and_positional_pins() -> None:
    one = machine.read(
        with_part("Q1: npn power  SUP FADE LAMP", "RV2: pot 10k  SUP W GND", "U1: regulator 5V  SUP GND W")
    )
    assert one.parts["Q1"].pins == {"c": "SUP", "b": "FADE", "e": "LAMP"}
    assert one.parts["RV2"].kind == "potentiometer" and one.parts["RV2"].pins["wiper"] == "W"
    assert one.parts["U1"].pins == {"in": "SUP", "com": "GND", "out": "W"}


def test_26_the_canonical_form_names_pins_and_keeps_comments() -> None:
    typed = with_part("Q1: npn power   SUP FADE LAMP   # the hot one", "R9: res 4.7K 5% 0.5W  SUP  >  GND")
    written = machine.write(typed)
    assert "  Q1: npn power  c=SUP b=FADE e=LAMP   # the hot one\n" in written
    assert "  R9: resistor 4k7 5% 0.5W  SUP > GND\n" in written
    assert machine.write(written) == written
    assert plain(machine.read(written)) == plain(machine.read(typed))


def test_26_a_quoted_line_stays_quoted() -> None:
    typed = 'machine: X\nparts: {J1: "connector A>B"}\n'.replace("A>B", "A > GND,  C > B")
    typed += "extras: {R1: 'res 4.7k  A > B', R2: \"res 1K  C > GND\"}\n"
    written = machine.write(typed)
    assert "{J1: 'connector  A > GND, C > B'}" in written and "{R1: 'resistor 4k7  A > B'" in written
    assert machine.write(written) == written and plain(machine.read(written)) == plain(machine.read(typed))


def test_12_the_copper_mark_is_no_part_of_a_net() -> None:
    assert machine.read(with_part("R9: resistor 1k  LAMP@ > GND")).parts["R9"].pins == {"1": "LAMP", "2": "GND"}


def test_08_a_name_used_in_two_sections_or_by_a_channel_names_both_lines() -> None:
    found = complaint(SECTIONS.replace("R2: resistor", "R1: resistor"))
    assert found.text == "R1 is typed twice, in lines 3 and 4" and found.line == 4
    text = CHANNELS.replace('"END"', "GND").replace('"* fan', "fan of *").replace('turns":', "turns:")
    assert (
        "RA4 is typed twice" in complaint(text.replace("  M*: load", "  RA4: resistor 1k  SUP > GND\n  M*: load")).text
    )
