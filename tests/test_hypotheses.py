"""Laws of the tables and of every suspect; figures of the handbooks retyped; machines built by hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import pytest
from pytest import approx

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG, Fault, Severity, Suspect
from probewright.hypotheses import modes as mode_tables
from probewright.hypotheses.classes import class_of, joint_class_of
from probewright.hypotheses.modes import BUILDERS, PLACES, NoSuchMode, builder_of, edits, middle, mode_of
from probewright.hypotheses.priors import HANDBOOK, OLD_MACHINE, handbook, old_machine, rows, standing, table
from probewright.hypotheses.strangers import JOINS, OTHERWISE, acts_where
from probewright.hypotheses.suspects import suspects_of
from probewright.machine.edits import AddPath, Edit, FreePin, SetFigure
from probewright.machine.kinds import KINDS, Kind, Parameter, register
from probewright.machine.model import GROUND, AddedBoard, Figure, Machine, Part, Point

OPEN = 1e9
LACKING = {"stuck-closed": {"contact"}}  # a jack has no lever that could stick: its rate goes to its other modes
# What the equations of a kind divide by, with the figure's usual size
USUAL = {"resistance": 1e4, "capacitance": 1e-5, "volts": 12.0, "limit": 1.0, "reverse_gain": 1.0}


def part(name: str, kind: str, nets: str, *classes: str, **more: object) -> Part:
    """A part with its pins on these nets, in the order of the kind, every figure at a usual size."""
    known = KINDS[kind]
    figures = {one.name: Figure(USUAL.get(one.name, 1.0), one.unit) for one in known.parameters}
    given = {name: Figure(value, "") for name, value in dict(more.pop("figures", {})).items()}  # type: ignore[call-overload]
    return Part(
        name,
        kind,
        dict(zip(known.pins, nets.split(), strict=True)),
        {**figures, **given},
        classes or ((known.default_class,) if known.default_class else ()),
        **more,  # type: ignore[arg-type]
    )


def machine(*parts: Part, **more: object) -> Machine:
    return Machine("bench", {one.name: one for one in parts}, **more)  # type: ignore[arg-type]


def every_kind() -> Machine:
    """One part of every class the rules know, ring-wired so that every pin reaches another."""
    made = []
    for n, rule in enumerate(rows("classes")):
        kind = KINDS[rule["kind"]]
        nets = " ".join(f"N{(n + i) % 40}" for i in range(len(kind.pins)))
        size = {rule["figure"]: float(rule["at_least"])} if rule["figure"] else {}
        words = (rule["word"],) if rule["word"] else ()
        made.append(part(f"X{n}", rule["kind"], nets, *words, figures=size, role=rule["role"] or "part"))
    return machine(*made, points={"TP": Point("TP", "N1", near=("X0.2", "N7"))})


def ids(found: tuple[Suspect, ...]) -> list[str]:
    return [one.id for one in found]


def of(found: tuple[Suspect, ...], name: str) -> Suspect:
    return next(one for one in found if one.id == name)


def edit_of(bench: Machine, item: str, mode: str, value: float | None = None) -> tuple[Edit, ...]:
    return edits(bench, Fault(item, mode), value)


def kinds_of(part_class: str) -> Iterator[str]:
    """Kinds whose parts can be of this class."""
    for rule in rows("classes"):
        if rule["class"] == part_class:
            yield rule["kind"]
    if part_class == "generic":
        yield "made up"


# the tables


@pytest.mark.parametrize("name", [OLD_MACHINE, HANDBOOK])
def test_shares_of_every_class_sum_to_one(name: str) -> None:
    for part_class, prior in table(name).items():
        assert sum(one.share for one in prior.shares) == approx(1.0, abs=1e-6), part_class
        assert prior.weight > 0


@pytest.mark.parametrize("name", [OLD_MACHINE, HANDBOOK])
def test_a_class_keeps_one_weight_in_all_its_rows(name: str) -> None:
    assert len({(row["class"], row["weight"]) for row in rows(name)}) == len(table(name))


@pytest.mark.parametrize("name", [OLD_MACHINE, HANDBOOK])
def test_every_mode_of_every_class_makes_edits_on_every_kind_of_it(name: str) -> None:
    for part_class, prior in table(name).items():
        for mode in prior.modes:
            mode_of(mode, part_class)
            if part_class.startswith(("joint.", "added_board")):
                assert mode in PLACES
            for kind in set(kinds_of(part_class)) - LACKING.get(mode, set()):
                assert callable(builder_of(mode, kind)), (part_class, mode, kind)


def test_every_mode_of_the_table_is_used_and_every_use_has_a_row() -> None:
    used = {row["mode"] for name in (OLD_MACHINE, "earlier_hands") for row in rows(name)}
    used |= {"bridge", "loads-net", "shorts-net"}
    assert set(mode_tables.table()) == used - {""}
    strangers_of = {(row["mode"], row["kind"]) for row in rows("strangers")}
    assert {mode for mode, _ in BUILDERS} | set(PLACES) == used - {""} | {mode for mode, _ in strangers_of}
    assert {key for key in BUILDERS if key[0] == OTHERWISE} == {key for key in strangers_of if key[0] == OTHERWISE}


def test_every_row_has_a_reason_and_a_source() -> None:
    for name in ("modes", "standing", "strangers", OLD_MACHINE, HANDBOOK):
        assert all(row["reason"] and row["source"] for row in rows(name)), name
    for name in ("standing", OLD_MACHINE, HANDBOOK):
        assert {row["reliability"] for row in rows(name)} <= set("ABCD")


def test_a_mode_not_predicted_says_why_and_gives_its_share_to_the_others() -> None:
    assert "not predicted yet" in next(s.source for s in old_machine("regulator.three_terminal").shares if not s.mode)
    rates = old_machine("regulator.three_terminal").weight_of(old_machine("regulator.three_terminal").modes)
    assert sum(rates.values()) == approx(4.0)
    assert rates["open"] == approx(4.0 * 0.30 / 0.85)


def test_severities_run_upwards_and_factors_are_positive() -> None:
    for ways in mode_tables.table().values():
        for severity in (one.severity for one in ways if one.severity):
            assert severity.low < severity.high
            assert severity.bins >= 1
            assert severity.law == "even" or (severity.law == "log" and severity.low > 0)
            assert severity.low <= middle(severity) <= severity.high


def test_the_most_particular_row_of_a_mode_wins() -> None:
    reservoir = mode_of("leak", "capacitor.electrolytic.reservoir").severity
    assert reservoir is not None and reservoir.high == 1e4
    film = mode_of("leak", "capacitor.film").severity
    assert film is not None and film.high == 1e7
    assert mode_of("short", "resistor.film").severity is None


# outside figures, retyped from the handbooks and not from our tables

# MIL-HDBK-338B (1 October 1998), section 7.8, failure mode distributions
SHARES_338B = {
    ("capacitor.electrolytic.small", "short"): 0.53,
    ("capacitor.electrolytic.small", "open"): 0.35,
    ("capacitor.electrolytic.small", "low-value"): 0.02,
    ("capacitor.ceramic", "short"): 0.49,
    ("capacitor.film", "open"): 0.42,
    ("resistor.film", "open"): 0.59,
    ("resistor.film", "drift-up"): 0.36,
    ("resistor.film", "short"): 0.05,
    ("diode.rectifier", "short"): 0.51,
    ("opamp", "output-open"): 0.23,
    ("contact.connector_pin", "contact-resistance"): 0.23,
}
# MIL-HDBK-217F, appendix A, ground benign x commercial quality factor, failures per 1e6 h
RATES_217F = {
    "resistor.film": 0.0012 * 10,
    "capacitor.electrolytic.small": 0.024 * 10,
    "transistor.power": 0.0057 * 8,
    "transistor.small": 0.00015 * 8,
    "opamp": 0.0095 * 10,
    "joint.ordinary": 0.0026,
    "diode.led": 0.00047 * 8,
    "bridge": 4 * 0.0028 * 8,
    "inductor": 0.0017 * 10,
    "transformer.mains": 0.023 * 10,
    "transformer.audio": 0.0071 * 10,
    "relay": 0.13,
    "resistor.network": 0.0023 * 10,
    "lamp": 3.9,
    "thermistor": 0.065 * 10,
    "crystal": 0.032 * 3.4,
    "transistor.fet": 0.014 * 8,
    "comparator": 0.0095 * 10,
    "logic.bipolar.one": 0.0036 * 10,
    "logic.mos.one": 0.0057 * 10,
}
FILM_217F = 0.0012 * 10


@pytest.mark.parametrize(("key", "share"), SHARES_338B.items())
def test_handbook_shares(key: tuple[str, str], share: float) -> None:
    part_class, mode = key
    assert sum(one.share for one in handbook(part_class).shares if one.mode == mode) == approx(share)


BIPOLAR_GATE = {"output_stuck_high": 0.28, "output_stuck_low": 0.28, "input_open": 0.22, "output_open": 0.22}
MOS_GATE = {  # printed, these sum to 1.01
    word: share / 1.01
    for word, share in {
        "input_open": 0.36,
        "output_open": 0.36,
        "supply_open": 0.12,
        "output_stuck_low": 0.09,
        "output_stuck_high": 0.08,
    }.items()
}

# The same section, whole rows; "s" means seen in a copy, "m" from memory, as the table must admit
ROWS_338B = {
    "resistor.film": ("s", {"open": 0.59, "parameter_change": 0.36, "short": 0.05}),
    "resistor.carbon_composition": ("s", {"parameter_change": 0.66, "open": 0.31, "short": 0.03}),
    "resistor.hot": ("s", {"open": 0.65, "parameter_change": 0.26, "short": 0.09}),  # wirewound
    "potentiometer": ("s", {"open": 0.53, "erratic": 0.40, "short": 0.07}),
    "capacitor.electrolytic.small": (
        "s",
        {"short": 0.53, "open": 0.35, "electrolyte_leak": 0.10, "low_capacitance": 0.02},
    ),
    "capacitor.electrolytic.reservoir": (
        "s",
        {"short": 0.53, "open": 0.35, "electrolyte_leak": 0.10, "low_capacitance": 0.02},
    ),
    "capacitor.tantalum.bead": ("m", {"short": 0.57, "open": 0.32, "value_change": 0.11}),
    "capacitor.ceramic": ("s", {"short": 0.49, "value_change": 0.29, "open": 0.22}),
    "capacitor.film": ("s", {"open": 0.42, "short": 0.40, "value_change": 0.18}),
    "capacitor.paper": ("s", {"short": 0.63, "open": 0.37}),
    "contact.switch_relay_jack": ("s", {"open": 0.65, "sticking": 0.19, "short": 0.16}),
    "contact.connector_pin": ("s", {"open": 0.61, "intermittent": 0.23, "short": 0.16}),
    "joint.ordinary": ("s", {"open": 0.61, "intermittent": 0.23, "short": 0.16}),  # connector: it has no solder joints
    "diode.rectifier": ("m", {"short": 0.51, "open": 0.29, "parameter_change": 0.20}),
    "diode.small": ("m", {"parameter_change": 0.58, "open": 0.24, "short": 0.18}),
    "diode.zener": ("m", {"open": 0.45, "parameter_change": 0.35, "short": 0.20}),
    "transistor.small": ("s", {"short": 0.73, "open": 0.27}),
    "transistor.power": ("s", {"short": 0.73, "open": 0.27}),
    "opamp": ("s", {"improper_output": 0.77, "no_output": 0.23}),
    "regulator.three_terminal": ("s", {"improper_output": 0.77, "no_output": 0.23}),
    "fuse": ("s", {"fails_to_open": 0.49, "slow_to_open": 0.43, "premature_open": 0.08}),
    "lead": ("m", {"short": 0.45, "worn": 0.36, "open": 0.19}),
    "extra.supply": ("m", {"no_output": 0.52, "incorrect_output": 0.48}),
    "diode.led": ("s", {"open": 0.70, "short": 0.30}),
    "bridge": ("m", {"short": 0.51, "open": 0.29, "parameter_change": 0.20}),  # rectifier diode, four of them
    "inductor": ("s", {"short": 0.42, "open": 0.42, "value_change": 0.16}),
    "transformer.mains": ("s", {"open": 0.42, "short": 0.42, "parameter_change": 0.16}),
    "transformer.audio": ("s", {"open": 0.42, "short": 0.42, "parameter_change": 0.16}),
    "relay": ("s", {"fails_to_trip": 0.55, "spurious_trip": 0.26, "short": 0.19}),
    "jack": ("s", {"open": 0.65, "sticking": 0.19, "short": 0.16}),  # toggle switch
    "resistor.network": ("s", {"open": 0.92, "short": 0.08}),
    "lamp": ("s", {"no_light": 0.67, "dim": 0.33}),
    "thermistor": ("m", {"open": 0.63, "parameter_change": 0.22, "short": 0.15}),
    "battery": ("s", {"degraded": 0.72, "no_output": 0.28}),  # nickel-cadmium, from memory and a second copy
    "crystal": ("m", {"open": 0.89, "no_oscillation": 0.11}),
    "transistor.fet": (
        "s",
        {"short": 0.51, "output_low": 0.22, "parameter_change": 0.17, "open": 0.05, "output_high": 0.05},
    ),
    "comparator": ("s", {"improper_output": 0.77, "no_output": 0.23}),
    **dict.fromkeys(("logic.bipolar.one", "logic.bipolar.two"), ("s", BIPOLAR_GATE)),
    **dict.fromkeys(("logic.mos.one", "logic.mos.two"), ("m", MOS_GATE)),
}


@pytest.mark.parametrize("part_class", ROWS_338B)
def test_a_handbook_row_keeps_the_handbook_s_words_and_shares(part_class: str) -> None:
    """However a word is split over our modes, its parts add up to what is printed."""
    seen, printed = ROWS_338B[part_class]
    ours: dict[str, float] = {}
    for row in rows(HANDBOOK):
        if row["class"] == part_class:
            ours[row["said"]] = ours.get(row["said"], 0.0) + float(row["share"])
            assert (row["reliability"] == "B") == (seen == "s"), row
    assert ours == approx(printed, abs=1e-9)
    assert sum(printed.values()) == approx(1.0)


def test_what_the_handbook_says_of_no_suspect_is_spread_over_the_others() -> None:
    """338B electrolytic without its 10 % of fluid, capacitor.ceramic without its 29 % of value change."""
    small = handbook("capacitor.electrolytic.small")
    rates = small.weight_of(old_machine("capacitor.electrolytic.small").modes)
    assert rates["short"] == approx(small.weight * 0.53 / 0.90)
    assert rates["high-esr"] == rates["leak"] == 0.0
    ceramic = handbook("capacitor.ceramic")
    assert ceramic.weight_of(["open", "short"]) == approx({"open": 3.0 * 0.22 / 0.71, "short": 3.0 * 0.49 / 0.71})
    assert sum(ceramic.weight_of(old_machine("capacitor.ceramic").modes).values()) == approx(ceramic.weight)


def test_every_class_of_the_handbook_is_retyped_here() -> None:
    """Sockets and stressed joints repeat the row of connectors."""
    assert set(table(HANDBOOK)) - set(ROWS_338B) == {"contact.socket_pin", "joint.stressed"}


@pytest.mark.parametrize(("part_class", "rate"), RATES_217F.items())
def test_handbook_rates_are_relative_to_a_small_film_resistor(part_class: str, rate: float) -> None:
    assert handbook(part_class).weight == approx(rate / FILM_217F, rel=1e-3)


def test_handbook_split_modes_keep_their_sum() -> None:
    """338B bipolar: short 0.73, open 0.27; linear circuits: improper output 0.77."""
    bipolar = handbook("transistor.small").shares
    assert sum(one.share for one in bipolar if one.mode.endswith("-short")) == approx(0.73)
    assert sum(one.share for one in bipolar if one.mode.endswith("-open")) == approx(0.27)
    assert sum(one.share for one in handbook("opamp").shares if one.mode != "output-open") == approx(0.77)


def test_two_rows_of_one_mode_add_up() -> None:
    """338B toggle switch: open 0.65, sticking 0.19 either way alike, short 0.16."""
    rates = handbook("contact.switch_relay_jack").weight_of(["open", "stuck-closed"])
    assert rates["open"] / rates["stuck-closed"] == approx((0.65 + 0.095) / (0.16 + 0.095))


def test_old_electrolytics_dry_out_where_the_handbook_expects_shorts() -> None:
    found = suspects_of(machine(part("C1", "capacitor", "A GND", "electrolytic")))
    assert of(found, "C1 high-esr").prior > 5 * of(found, "C1 short").prior
    assert of(found, "C1 short").handbook > of(found, "C1 open").handbook > of(found, "C1 high-esr").handbook == 0.0


# classes


@pytest.mark.parametrize(
    ("one", "expected"),
    [
        (part("C1", "capacitor", "A B", "electrolytic", figures={"capacitance": 1000e-6}), "capacitor.electrolytic.reservoir"),
        (part("C1", "capacitor", "A B", "electrolytic", figures={"capacitance": 470e-6}), "capacitor.electrolytic.small"),
        (part("C1", "cap", "A B"), "capacitor.film"),
        (part("R1", "resistor", "A B", figures={"resistance": 1e6}), "resistor.hot"),
        (part("R1", "resistor", "A B", figures={"resistance": 820e3}), "resistor.film"),
        (part("R1", "resistor", "A B", "carbon", figures={"resistance": 10e6}), "resistor.carbon_composition"),
        (part("D1", "diode", "A B", "rectifier"), "diode.rectifier"),
        (part("Q1", "pnp", "A B C", "power"), "transistor.power"),
        (part("LS", "loudspeaker", "A B", role="extra"), "extra.display_or_speaker"),
        (part("M1", "load", "A B"), "generic"),
    ],
)  # fmt: skip
def test_class_of(one: Part, expected: str) -> None:
    assert class_of(one) == expected


def test_every_kind_has_a_class() -> None:
    ruled = {rule["kind"] for rule in rows("classes")}
    assert {kind.name for kind in KINDS.values()} <= ruled


def test_every_class_of_a_kind_is_spelt_as_the_kind_spells_it() -> None:
    """`jack` and `socket` are told apart by rules but not yet by the kind."""
    for rule in rows("classes"):
        assert rule["word"] in ("", "jack", "socket", *KINDS[rule["kind"]].classes), rule


def test_joints_of_heavy_parts_are_stressed_and_extras_have_none() -> None:
    assert joint_class_of(part("U1", "regulator", "A B C")) == "joint.stressed"
    assert joint_class_of(part("R1", "resistor", "A B")) == "joint.ordinary"
    assert joint_class_of(part("PSU", "source", "A B", role="extra")) == ""
    assert joint_class_of(part("cable", "lead", "A B")) == ""


# laws of all suspects


def test_chances_sum_to_one_and_none_is_ruled_out() -> None:
    found = suspects_of(every_kind())
    assert sum(one.prior for one in found) == approx(1.0)
    assert sum(one.handbook for one in found) == approx(1.0)
    assert all(one.prior > 0 and one.handbook >= 0 for one in found)


def test_ids_are_unique_and_the_order_is_always_the_same() -> None:
    found = suspects_of(every_kind())
    assert len(set(ids(found))) == len(found)
    assert found == suspects_of(every_kind())
    assert ids(found)[-2:] == [NOTHING_WRONG, NOT_LISTED]


def test_standing_suspects_keep_their_share() -> None:
    found = suspects_of(every_kind())
    assert of(found, NOTHING_WRONG).prior == approx(0.12)
    assert sum(one.prior for one in found if one.unlisted) == approx(0.05)
    assert sum(one.prior for one in found if one.stranger) == approx(0.05 * 0.6)
    assert of(found, NOTHING_WRONG).faults == ()
    assert sum(one.prior for one in found if one.id.endswith(" loads-net")) == approx(0.03)


def test_an_empty_machine_still_has_the_standing_suspects() -> None:
    found = suspects_of(machine())
    assert ids(found) == [NOTHING_WRONG, NOT_LISTED]
    assert sum(one.prior for one in found) == approx(1.0)


def test_every_suspect_has_words_and_a_source() -> None:
    for one in suspects_of(every_kind()):
        assert one.says and "{" not in one.says
        assert one.source


def known_place(bench: Machine, place: str) -> bool:
    try:
        bench.net_of(place)
    except KeyError:
        return False
    return True


def test_every_edit_speaks_of_a_part_a_pin_and_a_figure_that_exist() -> None:
    bench = every_kind()
    for suspect in suspects_of(bench):
        for fault in suspect.faults:
            made = edits(bench, fault)
            assert made, suspect.id
            for edit in made:
                if isinstance(edit, AddPath):
                    assert known_place(bench, edit.a) and known_place(bench, edit.b), suspect.id
                    assert bench.net_of(edit.a) != bench.net_of(edit.b) or len(made) > 1, suspect.id
                elif isinstance(edit, FreePin):
                    assert edit.pin in bench.parts[edit.part].pins
                else:
                    assert isinstance(edit, SetFigure)
                    KINDS[bench.parts[edit.part].kind].parameter(edit.figure)


def test_a_severity_is_handed_through_untouched() -> None:
    bench = every_kind()
    mark = object()
    for suspect in suspects_of(bench):
        for fault in suspect.faults:
            values = [getattr(edit, "value", getattr(edit, "ohms", None)) for edit in edits(bench, fault, mark)]
            assert any(value is mark for value in values) == (fault.severity is not None), suspect.id


def test_without_a_severity_the_middle_is_taken() -> None:
    bench = machine(part("C1", "capacitor", "A GND", "electrolytic"))
    fault = Fault("C1", "high-esr", Severity(10.0, 1000.0, "x"))
    assert edits(bench, fault) == (SetFigure("C1", "esr", approx(100.0), True),)


def test_known_good_parts_are_no_suspects() -> None:
    bench = machine(part("R1", "resistor", "A GND", known_good=True), part("R2", "resistor", "A GND"))
    items = {fault.item for one in suspects_of(bench) for fault in one.faults}
    assert items == {"R2", "R2.1", "R2.2", "A"}


def strangers_of(bench: Machine) -> list[str]:
    return [one.id for one in suspects_of(bench) if one.stranger]


def test_what_nobody_listed_acts_at_a_part_or_between_two_nets_of_one() -> None:
    bench = machine(
        part("R1", "resistor", "A B"),
        part("R2", "resistor", "A B"),
        part("Q1", "npn", "B A C"),
        part("D1", "diode", "A GND"),
    )
    assert strangers_of(bench) == [
        "R1 otherwise",
        "R2 otherwise",
        "Q1 otherwise",
        "A~B joins",
        "B~C joins",
        "A~C joins",
    ]
    assert of(suspects_of(bench), "A~B joins").says == "something joins A and B"


@pytest.mark.parametrize(
    ("stranger", "fault", "same"),
    [
        (("R1", OTHERWISE), ("R1", "drift-up"), True),
        (("R1", OTHERWISE), ("R1.2", "joint-resistance"), True),
        (("R1", OTHERWISE), ("R2", "drift-up"), False),
        (("A~B", JOINS), ("R1", "short"), True),
        (("A~B", JOINS), ("Q1.c~Q1.b", "bridge"), True),
        (("B~C", JOINS), ("Q1.c~Q1.b", "bridge"), False),
    ],
)
def test_a_stranger_speaks_for_what_breaks_at_its_place(
    stranger: tuple[str, str], fault: tuple[str, str], same: bool
) -> None:
    bench = machine(part("R1", "resistor", "A B"), part("R2", "resistor", "B C"), part("Q1", "npn", "B A C"))
    assert acts_where(bench, Fault(*stranger), Fault(*fault)) is same


def test_a_mode_a_part_does_not_have_is_refused() -> None:
    bench = machine(part("R1", "resistor", "A GND"))
    with pytest.raises(NoSuchMode, match="resistor cannot be 'stuck-high'"):
        edit_of(bench, "R1", "stuck-high")
    with pytest.raises(KeyError, match="R9"):
        edit_of(bench, "R9", "open")
    with pytest.raises(KeyError, match=r"R1\.3"):
        edit_of(bench, "R1.3", "joint-open")


@pytest.fixture
def made_up() -> Iterator[Kind]:
    """A kind registered and written about nowhere else."""
    yield register(Kind("made up", ("1", "2"), (Parameter("size", "1"),), symbol="box"))
    del KINDS["made up"]


@pytest.mark.usefixtures("made_up")
def test_a_kind_nobody_wrote_modes_for_is_suspected_open_and_short() -> None:
    bench = machine(part("Z1", "made up", "A GND"), part("R1", "resistor", "A GND"))
    found = suspects_of(bench)
    assert class_of(bench.parts["Z1"]) == "generic"
    assert {"Z1 open", "Z1 short", "Z1.1 joint-open"} <= set(ids(found))
    assert edit_of(bench, "Z1", "open") == (FreePin("Z1", "1", 1e12),)
    assert edit_of(bench, "Z1", "short") == (AddPath("Z1.1", "Z1.2", 0.05),)


# single faults


def figures(made: tuple[Edit, ...]) -> Mapping[str, tuple[object, bool]]:
    return {edit.figure: (edit.value, edit.relative) for edit in made if isinstance(edit, SetFigure)}


def test_an_open_junction_leaves_what_a_meter_would_still_find() -> None:
    """Base open: nothing conducts. Emitter open: base to collector is a diode still. Collector open: base to emitter."""
    bench = machine(part("Q1", "npn", "C B E"))
    gone = (0.0, False)
    assert figures(edit_of(bench, "Q1", "base-open")) == dict.fromkeys(mode_tables.BONDS, gone)
    assert figures(edit_of(bench, "Q1", "emitter-open")) == {"transport": gone, "base_emitter": gone}
    collector = figures(edit_of(bench, "Q1", "collector-open"))
    assert collector["transport"] == collector["base_collector"] == gone
    assert "base_emitter" not in collector


def test_a_floating_collector_drives_both_junctions() -> None:
    """Ebers and Moll with I_c = 0, B_reverse = 1: half the forward current flows in the base, whatever the gain."""
    bench = machine(part("Q1", "npn", "C B E", figures={"gain": 200.0}))
    assert figures(edit_of(bench, "Q1", "collector-open"))["gain"] == (2.0, False)


def test_opamps_stick_at_their_rails_and_die_quietly() -> None:
    bench = machine(part("U1", "opamp", "A B C D GND"))
    high, low = figures(edit_of(bench, "U1", "stuck-high")), figures(edit_of(bench, "U1", "stuck-low"))
    assert high["gain"] == low["gain"] == (1e-6, True)
    assert high["stuck"] == (5.0, False) and low["stuck"] == (-5.0, False)
    assert figures(edit_of(bench, "U1", "output-open")) == {"r_out": (OPEN, False)}


def test_a_switch_welded_shut_stays_so_in_every_setting() -> None:
    """Settings move the figure `closed` after the fault, so the fault must not be told by it."""
    bench = machine(part("S1", "switch", "A B"))
    assert edit_of(bench, "S1", "stuck-closed") == (AddPath("S1.1", "S1.2", 0.03),)


def test_a_lead_may_touch_its_screen_but_not_where_it_is_the_screen() -> None:
    signal = machine(part("cable", "lead", "OUT LAMP"), part("R1", "resistor", "LAMP GND"))
    assert edit_of(signal, "cable", "wire-short", 1.0) == (AddPath("cable.2", GROUND, 1.0),)
    screen = machine(part("cable", "lead", "OUT GND"), part("R1", "resistor", "OUT GND"))
    assert "cable wire-short" in ids(suspects_of(signal))
    assert "cable wire-short" not in ids(suspects_of(screen))


def test_a_lead_that_comes_and_goes_says_so() -> None:
    bench = machine(part("cable", "lead", "OUT LAMP"), part("R1", "resistor", "LAMP GND"))
    assert of(suspects_of(bench), "cable now-and-then").faults[0].comes_and_goes
    assert not of(suspects_of(bench), "cable open").faults[0].comes_and_goes


# cases with several units


def dual() -> Machine:
    return machine(
        part("U1A", "opamp", "A B C SUP GND", package="U1"),
        part("U1B", "opamp", "C D E SUP GND", package="U1"),
        part("R1", "resistor", "A B"),
        part("R2", "resistor", "D E"),
        part("R3", "resistor", "SUP GND"),
    )


def test_units_share_the_rate_of_their_case() -> None:
    found = suspects_of(dual())
    single = suspects_of(machine(replace(dual().parts["U1A"], package=""), *list(dual().parts.values())[2:]))
    of_units = sum(of(found, f"U1{unit} stuck-high").prior for unit in "AB")
    resistor = of(found, "R1 open").prior
    assert of_units / resistor == approx(of(single, "U1A stuck-high").prior / of(single, "R1 open").prior)
    assert of_units / resistor == approx(2.0 * 0.21 / 0.60)


def test_what_is_on_the_case_is_suspected_once() -> None:
    found = ids(suspects_of(dual()))
    assert "U1 supply-short" in found and "U1A supply-short" not in found and "U1B supply-short" not in found
    assert "U1.vplus joint-open" in found and "U1A.vplus joint-open" not in found
    assert "U1A.out joint-open" in found and "U1B.out joint-open" in found
    assert edit_of(dual(), "U1", "supply-short", 3.0) == (AddPath("U1A.vplus", "U1A.vminus", 3.0),)
    assert edit_of(dual(), "U1.vplus", "joint-open") == (FreePin("U1", "vplus", 1e12),)


# joints, bridges, nets, boards, pairs


def test_every_pin_that_reaches_something_has_a_joint() -> None:
    bench = machine(part("R1", "resistor", "A GND"), part("Q1", "npn", "A nc:Q1.b GND"))
    joints = {one.faults[0].item for one in suspects_of(bench) if one.id.endswith("joint-open")}
    assert joints == {"R1.1", "R1.2", "Q1.c", "Q1.e"}


def test_stressed_joints_come_before_ordinary_ones() -> None:
    found = suspects_of(machine(part("P1", "potentiometer", "A B GND"), part("R1", "resistor", "A B")))
    ratio = of(found, "P1.wiper joint-open").prior / of(found, "R1.1 joint-open").prior
    assert ratio == approx(0.8 / 0.04)


def test_named_neighbours_and_pins_side_by_side_may_touch() -> None:
    bench = machine(
        part("Q1", "npn", "A B C"), part("R1", "resistor", "A B"), points={"TP1": Point("TP1", "Q1.e", near=("R1.1", "C"))}
    )  # fmt: skip
    found = suspects_of(bench)
    bridges = [one.faults[0].item for one in found if one.id.endswith(" bridge")]
    assert bridges == ["Q1.e~R1.1", "Q1.c~Q1.b", "Q1.b~Q1.e"]
    assert edit_of(bench, "Q1.e~R1.1", "bridge", 2.0) == (AddPath("C", "A", 2.0),)  # on the copper


def test_two_places_are_bridged_once_and_never_to_themselves() -> None:
    points = {"TP1": Point("TP1", "A", near=("B",)), "TP2": Point("TP2", "B", near=("TP1", "R1.2"))}
    bench = machine(part("R1", "resistor", "A B"), points=points)
    assert [one for one in ids(suspects_of(bench)) if "bridge" in one] == ["A~B bridge"]


def test_something_may_hang_on_every_net_but_ground() -> None:
    bench = machine(part("R1", "resistor", "A OUT"), part("Q1", "npn", "OUT nc:Q1.b GND"))
    assert [one for one in ids(suspects_of(bench)) if "loads-net" in one] == ["A loads-net", "OUT loads-net"]
    assert edit_of(bench, "OUT", "loads-net", 470.0) == (AddPath("OUT", GROUND, 470.0),)


def with_board(fitted: str) -> Machine:
    return machine(
        part("R1", "resistor", "OUT GND"),
        part("J9", "contact", "OUT TAP", role="added", board="on-air lamp"),
        part("R901", "resistor", "TAP GND", role="added", board="on-air lamp"),
        added_boards=(AddedBoard("on-air lamp", fitted, ("J9", "R901")),),
    )


def test_an_added_board_loads_its_tap() -> None:
    found = suspects_of(with_board("yes"))
    assert edit_of(with_board("yes"), "on-air lamp on OUT", "board-loads", 50.0) == (AddPath("OUT", GROUND, 50.0),)
    rate = of(found, "R1 open").prior / 0.6
    assert of(found, "on-air lamp on OUT board-loads").prior == approx(4.5 * rate)
    own = [one for one in found if one.faults and one.faults[0].item.partition(".")[0] in ("J9", "R901")]
    assert sum(one.prior for one in own) == approx(5.5 * rate)


def test_a_board_nobody_is_sure_of_counts_half_and_one_not_fitted_not_at_all() -> None:
    for fitted, rate in (("unknown", 2.25), ("no", 0.0)):
        found = suspects_of(with_board(fitted))
        loads = [one.prior for one in found if one.id.endswith("board-loads")]
        assert sum(loads) == approx(rate * of(found, "R1 open").prior / 0.6)
        own = [one for one in found if one.faults and one.faults[0].item.partition(".")[0] in ("J9", "R901")]
        assert sum(one.prior for one in own) == approx(5.5 / 4.5 * rate * of(found, "R1 open").prior / 0.6)


def test_pairs_are_listed_when_asked_for_and_are_rarer_than_either() -> None:
    bench = every_kind()
    first, second = ids(suspects_of(bench))[0], ids(suspects_of(bench))[20]
    found = suspects_of(bench, pair_of=[(first, second)])
    both = of(found, f"{first} + {second}")
    assert set(both.faults) == {*of(found, first).faults, *of(found, second).faults}
    assert 0 < both.prior < min(of(found, first).prior, of(found, second).prior)
    assert both.prior / of(found, first).prior == approx(0.3 * of(suspects_of(bench), second).prior)
    assert sum(one.prior for one in found) == approx(1.0)


def test_sources_name_where_a_chance_comes_from() -> None:
    assert "no source" in standing("not-listed").source
    assert "MIL-HDBK-338B" in handbook("resistor.film").source_of("open")
