"""The drawing holds every part and net once, keeps words apart, and draws what it has never heard of."""

from __future__ import annotations

import itertools
import xml.etree.ElementTree as ElementTree
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from conftest import ROOT
from probewright import machine
from probewright.drawing import Diagram, Mark, Note, Probes, assembly, columns, draw, elk, layout, rows
from probewright.drawing.parts import Wanted, value_of
from probewright.drawing.pen import Pen, Rect
from probewright.drawing.svg import FINGER, STYLE
from probewright.machine import Machine, chains, shelf
from probewright.machine.kinds import KINDS, Kind, register
from probewright.machine.model import Figure, Part

SVG = "{http://www.w3.org/2000/svg}"
DEMO = ROOT / "src" / "probewright" / "demo"
FILES = [*sorted(DEMO.glob("*.yaml")), *sorted((ROOT / "tests" / "circuits").glob("*.yaml"))]
CHAIN = """left, right: head > preamp > equaliser > 4u7 > volume > driver > phones
volume > line amp > line out
preamp, equaliser on 12V
driver to ground: mute switch"""


@pytest.fixture(params=["layered", "built-in"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Both ways of layout; the layered one only where its file was fetched."""
    layout.layout.cache_clear()
    if request.param == "built-in":
        monkeypatch.setattr(elk, "engine", lambda: None)
    elif elk.engine() is None:
        pytest.skip("elk.bundled.js was not fetched; later: .venv/bin/python hatch_build.py")
    yield request.param
    layout.layout.cache_clear()


def chain() -> Machine:
    return machine.read(chains.write_chain(chains.chain_of(CHAIN)))


def stage() -> Machine:
    asked = {"supply": "12V", "upper": "68k", "lower": "15k", "collector": "3k3", "emitter": "680R"}
    return machine.read(shelf.fill("common-emitter", asked, "ST"))


def machines() -> list[Callable[[], Machine]]:
    return [*(lambda file=file: machine.load(file) for file in FILES), chain, stage]


MACHINES = pytest.mark.parametrize("make", machines(), ids=[*(file.stem for file in FILES), "chain", "shelf"])


def tree(diagram: Diagram) -> ElementTree.Element:
    return ElementTree.fromstring(diagram.svg)


def named(diagram: Diagram, sort: str) -> Counter[str]:
    return Counter(one.attrib[f"data-{sort}"] for one in tree(diagram).iter() if f"data-{sort}" in one.attrib)


def texts(diagram: Diagram) -> list[str]:
    return ["".join(one.itertext()) for one in tree(diagram).iter(f"{SVG}text")]


@MACHINES
def test_every_part_and_every_net_stands_there_once(make: Callable[[], Machine], way: str):
    circuit = make()
    diagram = draw(circuit)
    assert named(diagram, "part") == Counter(list(circuit.parts))
    assert named(diagram, "net") == Counter(circuit.nets)
    written = texts(diagram)
    assert [name for name in circuit.parts if written.count(name) != 1] == []


def test_the_sections_together_are_the_machine():
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    parts = sum((named(draw(circuit, section=one), "part") for one in circuit.sections), Counter())
    assert parts == Counter(list(circuit.parts))


def sheets(circuit: Machine) -> Iterator[Pen]:
    """The whole machine and what lies around each net, bare and with all that may stand beside the parts."""
    marks = {name: Mark("A", 0.5) for name in circuit.parts}
    values = dict.fromkeys(circuit.nets, "2.613 V")
    whole = rows.sheet(circuit)
    every = (Note("zone", "leak"), Note("touched", "touched"), Note("added", "perhaps added"))
    notes = dict.fromkeys(circuit.parts, every)
    for wanted in (
        Wanted(whole.high),
        Wanted(whole.high, marks, values, notes=notes),
        Wanted(whole.high, marks, values),
    ):
        yield assembly.assemble(whole, wanted, ())[0]
    for net in circuit.nets:
        for probed in ((), (("red", net, net), ("black", "GND", "GND")), (("black", net, net),)):
            yield assembly.assemble(rows.excerpt(circuit, net), wanted, probed)[0]


def runs_over(a: tuple[float, float], b: tuple[float, float], rect: Rect, slack: float) -> bool:
    across = min(a[0], b[0]) < rect.right - slack and max(a[0], b[0]) > rect.left + slack
    return across and min(a[1], b[1]) < rect.bottom - slack and max(a[1], b[1]) > rect.top + slack


def inside(word: Rect, solid: Rect) -> bool:
    return (
        solid.left <= word.left and word.right <= solid.right and solid.top <= word.top and word.bottom <= solid.bottom
    )


@MACHINES
def test_no_word_meets_another_or_a_symbol_or_a_wire_and_no_wire_runs_through_a_symbol(
    make: Callable[[], Machine], way: str
):
    for pen in sheets(make()):
        strokes = [(a, b) for corners in pen.ways for a, b in itertools.pairwise(corners)]
        assert [(a.text, b.text) for a, b in itertools.combinations(pen.words, 2) if a.meets(b)] == []
        assert [
            word.text for word in pen.words for one in pen.solids if word.meets(one, 2.0) and not inside(word, one)
        ] == []
        assert [word.text for word in pen.words for a, b in strokes if runs_over(a, b, word, 1.5)] == []
        assert [one for one in pen.solids for a, b in strokes if runs_over(a, b, one, 4.0)] == []


@MACHINES
def test_wires_of_two_nets_never_run_along_each_other(make: Callable[[], Machine], way: str):
    """They may cross; on one line they could not be told apart."""
    sheet = rows.sheet(make())
    for row in sheet.rows:
        boxes, edges, _ = assembly.row_boxes(row, Wanted(sheet.high), ())
        graph = assembly.Graph(tuple(one.box for one in boxes), tuple(edges))
        found = layout.layout(graph)
        strokes = [
            (edge.net, a, b)
            for edge, points in zip(edges, found.wires, strict=True)
            for a, b in itertools.pairwise(points)
        ]
        for (net, a, b), (other, c, d) in itertools.combinations(strokes, 2):
            assert net == other or not (along(a, b, c, d, 0) or along(a, b, c, d, 1)), (net, other)


def along(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float], d: tuple[float, float], axis: int
) -> bool:
    same_line = max(abs(p[axis] - a[axis]) for p in (b, c, d)) < 1.0
    low, high = max(min(a[1 - axis], b[1 - axis]), min(c[1 - axis], d[1 - axis])), 0.0
    high = min(max(a[1 - axis], b[1 - axis]), max(c[1 - axis], d[1 - axis]))
    return same_line and high - low > 1.0


def test_both_layouts_join_the_same_ports(way: str):
    """A wire begins and ends at its ports and turns at right angles."""
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    sheet = rows.sheet(circuit)
    for row in sheet.rows:
        boxes, edges, _ = assembly.row_boxes(row, Wanted(sheet.high), ())
        graph = assembly.Graph(tuple(one.box for one in boxes), tuple(edges))
        found = layout.layout(graph)
        for edge, points in zip(edges, found.wires, strict=True):
            for (name, port), at in ((edge.start, points[0]), (edge.end, points[-1])):
                box = next(one for one in graph.boxes if one.name == name)
                x, y = found.places[name]
                reach = x + box.port(port).x, y + box.port(port).y
                # the built-in columns are as wide as their widest box: a wire may begin at the edge of a narrower one
                assert at == pytest.approx(reach, abs=0.01)
            assert all(abs(a[0] - b[0]) < 0.01 or abs(a[1] - b[1]) < 0.01 for a, b in itertools.pairwise(points))


def test_no_two_boxes_overlap(way: str):
    sheet = rows.sheet(chain())
    for row in sheet.rows:
        boxes, edges, _ = assembly.row_boxes(row, Wanted(sheet.high), ())
        found = layout.layout(assembly.Graph(tuple(one.box for one in boxes), tuple(edges)))
        rects = [
            Rect(x, y, x + one.box.width, y + one.box.height) for one in boxes for x, y in [found.places[one.box.name]]
        ]
        assert [pair for pair in itertools.combinations(rects, 2) if pair[0].meets(pair[1])] == []


def test_signal_goes_from_left_to_right():
    circuit = machine.load(DEMO / "fernside-ds-3.yaml")
    at = {place.name: place.x for place in draw(circuit).places}
    assert at["VOICE"] < at["B1"] < at["C1N"] < at["E2"] < at["SPKR"]


@pytest.fixture
def made_up_kind() -> Iterator[Kind]:
    kind = register(Kind(name="valve-x", pins=("anode", "grid", "cathode", "heater"), parameters=(), symbol="a bottle"))
    yield kind
    del KINDS["valve-x"]


def with_part(part: Part) -> Machine:
    load = Part("R1", "resistor", {"1": "A1", "2": "G1"}, {"resistance": Figure(1e3, "ohm")})
    return Machine(name="Made up", parts={"R1": load, part.name: part})


def test_a_made_up_kind_is_a_box_with_named_pins(made_up_kind: Kind, way: str):
    pins = {"anode": "A1", "grid": "G1", "cathode": "GND", "heater": "H1"}
    diagram = draw(with_part(Part("V1", "valve-x", pins, {})))
    assert named(diagram, "part") == Counter(["R1", "V1"])
    assert {"V1", "anode", "grid", "cathode", "heater"} <= set(texts(diagram))


def test_a_kind_that_nobody_registered_draws_as_well(way: str):
    diagram = draw(with_part(Part("X1", "flux-thing", {"a": "A1", "b": "G1"}, {})))
    assert {"X1", "flux-thing", "a", "b"} <= set(texts(diagram))


HOSTILE = "<script>\"&'</svg>\x00\x1b"


def test_names_stay_text():
    part = Part(HOSTILE, "resistor", {"1": f"A1{HOSTILE}", "2": "GND"}, {"resistance": Figure(1e3, "ohm")})
    circuit = Machine(name=HOSTILE, parts={HOSTILE: part})
    marks = {HOSTILE: Mark("<b>", 1.0)}
    diagram = draw(circuit, marks=marks, values={"GND": "<i>"}, link=lambda place: f"/?{place}")
    assert "<script" not in diagram.svg and "\x00" not in diagram.svg
    shown = HOSTILE.replace("\x00", "\ufffd").replace("\x1b", "\ufffd")
    assert shown in texts(diagram) and "<b>" in texts(diagram)
    assert named(diagram, "part") == Counter([shown])


def part_group(diagram: Diagram, name: str) -> ElementTree.Element:
    return next(one for one in tree(diagram).iter() if one.attrib.get("data-part") == name)


def test_a_suspect_has_its_letter_its_tint_and_the_thicker_outline():
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    marks = {"C11L": Mark("A", 0.8), "R11L": Mark("B", 0.1), "U2L": Mark("C", 0.5)}
    diagram = draw(circuit, section="lines", marks=marks)
    thick = {}
    for name, mark in marks.items():
        group = part_group(diagram, name)
        frame = next(one for one in group.iter() if one.attrib.get("class") == "pw-mark")
        thick[name] = float(frame.attrib["stroke-width"])
        assert mark.letter in ["".join(one.itertext()) for one in group.iter(f"{SVG}text")]
    assert thick["C11L"] > thick["U2L"] > thick["R11L"] > 1.0
    assert not [one for one in part_group(diagram, "R12L").iter() if one.attrib.get("class") == "pw-mark"]
    assert ".pw-mark{fill:var(--tint" in STYLE


def test_a_part_of_a_zone_an_added_one_and_a_touched_one_have_an_outline_of_their_own_and_its_word():
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    sorts = {"C11L": "zone", "R11L": "added", "U2L": "touched"}
    notes = {name: (Note(sort, f"{sort} word"),) for name, sort in sorts.items()}
    diagram = draw(circuit, section="lines", notes=notes)
    for name, sort in sorts.items():
        group = part_group(diagram, name)
        outlines = [one for one in group.iter() if one.attrib.get("class") == f"pw-{sort}"]
        assert len(outlines) == 1 and outlines[0].tag in (f"{SVG}rect", f"{SVG}path")  # it follows the symbol
        assert any(f"{sort} word" in "".join(one.itertext()) for one in group.iter(f"{SVG}text"))
    dashes = [line.partition("dasharray:")[2] for line in STYLE.splitlines() if "dasharray" in line]
    assert len(set(dashes)) == 3  # told apart without colour
    assert "pw-zone" not in draw(circuit, section="lines").svg.partition("</style>")[2]


def test_marks_and_values_of_other_suspects_leave_the_parts_where_they_are():
    circuit = machine.load(DEMO / "fernside-ds-3.yaml")
    bare = {one.name: (one.x, one.y) for one in draw(circuit).places}
    marked = {one.name: (one.x, one.y) for one in draw(circuit, marks={"Q1": Mark("A", 1.0)}).places}
    assert marked == bare


def test_probes_end_round_and_square_and_say_their_colour(way: str):
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    for probes in (Probes("INL", "GND"), Probes("R11L.2", "V8"), Probes("GND", "DRVL")):
        diagram = draw(circuit, around=probes.red, probes=probes)
        tips = {one.attrib["class"]: one.tag for one in tree(diagram).iter() if "-tip" in one.attrib.get("class", "")}
        assert tips == {"pw-red-tip": f"{SVG}circle", "pw-black-tip": f"{SVG}rect"}
        assert texts(diagram).count("Red") == texts(diagram).count("Black") == 1


def test_the_red_mark_sits_on_the_place():
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    pen, _, _ = assembly.assemble(rows.excerpt(circuit, "INL"), Wanted(), [("red", "INL", "INL")])
    x, y = pen.dots["INL"]
    assert any(min(abs(a[0] - x), abs(b[0] - x)) < 0.1 and abs(a[1] - y) <= 12.1 for a, b in (w[:2] for w in pen.ways))


def test_a_value_stands_at_its_net_and_is_read_out():
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    diagram = draw(circuit, values={"R13L.1": "2.61 V"}, link=lambda place: f"/at/{place}")
    assert texts(diagram).count("2.61 V") == 1
    group = next(one for one in tree(diagram).iter() if one.attrib.get("data-net") == "DRVL")
    assert "2.61 V" in ["".join(one.itertext()) for one in group.iter(f"{SVG}text")]
    spot = next(one for one in tree(diagram).iter(f"{SVG}a") if one.attrib["data-place"] == "DRVL")
    assert spot.attrib["aria-label"] == "DRVL, 2.61 V"


def test_each_value_is_told_once_flagged_nets_included(way: str):
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    values = {net: f"{number}.5 V" for number, net in enumerate(circuit.nets) if net != "GND"}
    for section in (None, "lines"):
        written = texts(draw(circuit, section=section, values=values))
        shown = [net for net, text in values.items() if text in written]
        assert [net for net in shown if written.count(values[net]) != 1] == []
        assert {"V8", "VREF", "SIG", "FADL", "OUTR"} <= set(shown)


@MACHINES
def test_every_net_can_be_pressed_with_a_finger(make: Callable[[], Machine], way: str):
    circuit = make()
    diagram = draw(circuit, link=lambda place: f"/at?place={place}&x=1")
    root = tree(diagram)
    assert root.attrib["role"] == "group" and root.attrib["aria-label"].startswith(circuit.name)
    spots = {}
    for one in root.iter(f"{SVG}a"):
        assert one.attrib["href"] == f"/at?place={one.attrib['data-place']}&x=1" and one.attrib["aria-label"]
        hit = one.find(f"{SVG}rect")
        assert hit is not None and min(float(hit.attrib["width"]), float(hit.attrib["height"])) >= FINGER
        spots[one.attrib["data-place"]] = (float(hit.attrib["x"]), float(hit.attrib["y"]))
    assert [net for net in circuit.nets if net not in spots and not net.startswith("nc:")] == []
    for (x, y), (u, v) in itertools.combinations(spots.values(), 2):
        assert max(abs(x - u), abs(y - v)) >= FINGER


def test_a_place_without_an_address_is_no_link():
    circuit = machine.load(DEMO / "fernside-ds-3.yaml")
    diagram = draw(circuit, link=lambda place: "/b1" if place == "B1" else "")
    assert [one.attrib["data-place"] for one in tree(diagram).iter(f"{SVG}a")] == ["B1"]
    assert tree(draw(circuit)).attrib["role"] == "img"


def test_an_excerpt_holds_what_touches_the_place():
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    assert set(named(draw(circuit, around="INL"), "part")) == {"R11L", "C11L"}
    assert set(named(draw(circuit, around="R14L.1"), "part")) == {"R13L", "R14L", "U2L"}
    assert draw(circuit, around="INL").width < 450  # beside the card


@pytest.mark.parametrize("place", ["GND", "V8", "VREF", "TP1", "U3R.minus", "LEADR.2"])
def test_an_excerpt_of_any_place_draws(place: str, way: str):
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    diagram = draw(circuit, around=place, probes=Probes(red=place))
    assert circuit.net_of(place) in {one.name for one in diagram.places}


def test_unknown_places_and_sections_are_refused():
    circuit = machine.load(DEMO / "fernside-lm-2.yaml")
    for wrong in ({"section": "tuner"}, {"around": "R99.1"}, {"probes": Probes("nowhere")}):
        with pytest.raises(KeyError):
            draw(circuit, **wrong)


def test_the_same_machine_draws_the_same_twice(way: str):
    circuit = chain()
    first = draw(circuit).svg
    layout.layout.cache_clear()
    assert draw(circuit).svg == first


def test_boxes_of_a_chain_stand_in_a_row(way: str):
    at = {one.name: (one.x, one.y) for one in draw(chain()).places}
    levels = {at[f"{name}L.in"][1] for name in ("head", "preamp", "equaliser")}
    assert max(levels) - min(levels) < 1.0
    assert at["headL.in"][0] < at["preampL.in"][0] < at["equaliserL.in"][0]


def test_two_drawings_on_a_page_do_not_clash():
    assert " id=" not in draw(chain()).svg


def test_a_machine_without_parts_is_an_empty_sheet():
    diagram = draw(Machine(name="Nothing", parts={}))
    assert named(diagram, "part") == Counter()
    assert diagram.width > 0 and diagram.height > 0


def test_a_part_across_one_net_and_a_row_of_flags_draw(way: str):
    resistor = Part("R1", "resistor", {"1": "A", "2": "A"}, {"resistance": Figure(1e3, "ohm")})
    other = replace(resistor, name="R2", pins={"1": "GND", "2": "GND"})
    assert named(draw(Machine(name="Odd", parts={"R1": resistor, "R2": other})), "part") == Counter(["R1", "R2"])


def test_the_layered_way_gives_way_to_the_built_in_one(monkeypatch: pytest.MonkeyPatch):
    def broken(graph: dict[str, object]) -> dict[str, object]:
        raise elk.NotLaidOut("no answer")

    monkeypatch.setattr(elk, "engine", lambda: broken)
    layout.layout.cache_clear()
    circuit = machine.load(DEMO / "fernside-ds-3.yaml")
    assert named(draw(circuit), "part") == Counter(list(circuit.parts))
    layout.layout.cache_clear()


def test_drawing_is_imported_without_the_engine():
    import subprocess
    import sys

    script = "import sys, probewright.drawing; sys.exit('quickjs' in sys.modules or 'numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], cwd=Path(ROOT)).returncode == 0


def test_the_built_in_columns_need_no_order_of_the_file():
    circuit = machine.load(DEMO / "fernside-ds-3.yaml")
    sheet = rows.sheet(circuit)
    boxes, edges, _ = assembly.row_boxes(sheet.rows[0], Wanted(sheet.high), ())
    graph = assembly.Graph(tuple(one.box for one in boxes), tuple(edges))
    assert columns.layout(graph) == columns.layout(assembly.Graph(graph.boxes, graph.edges))


def test_a_source_that_plays_a_sine_shows_it_beside_its_symbol():
    winding = "machine: X\nparts:\n  TR1: source {} series 1R  W > GND\n  R1: resistor 1k  W > GND\n"
    assert value_of(machine.read(winding.format("mains 9V rms 50Hz")).parts["TR1"]) == "9 V rms 50 Hz"
    assert value_of(machine.read(winding.format("12V")).parts["TR1"]) == "12V"
