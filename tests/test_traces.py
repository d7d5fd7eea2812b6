"""The picture of a trace: inside its frame, words apart, names escaped, told apart without colour."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probewright.drawing.traces import (
    CAPTURED,
    FIRST,
    HEALTHY,
    SECOND,
    STYLE,
    STYLES,
    THIRD,
    Band,
    Graph,
    Trace,
    draw_traces,
    level_line,
    marked,
    prefix_of,
    spread,
)

SVG = "{http://www.w3.org/2000/svg}"
TIMES = tuple(n * 1e-3 for n in range(41))


def wave(height: float, level: float = 5.0, times: tuple[float, ...] = TIMES) -> tuple[float, ...]:
    return tuple(level + height * math.sin(2 * math.pi * 50 * t) for t in times)


def six(width: float = 700.0) -> Graph:
    lines = [
        Trace(TIMES, wave(1.0), "RES, ripple.csv", CAPTURED), Trace(TIMES, wave(0.2), "healthy", HEALTHY),
        Trace(TIMES, wave(1.1), "C1 dried out", FIRST, "A"), Trace(TIMES, wave(1.05), "D2 open", SECOND, "B"),
        Trace(TIMES, wave(0.9), "R1 open", THIRD, "D"),
    ]  # fmt: skip
    lines.append(level_line(lines[0], 5.3, "rise through 5.3 V"))
    band = Band(TIMES, wave(0.1, 4.8), wave(0.1, 5.2))
    return draw_traces(lines, band=band, width=width, label="RES")


def points(graph: Graph) -> list[tuple[float, float]]:
    """Corners of every line of a trace."""
    ways = [one.get("d", "") for one in ET.fromstring(graph.svg).iter(f"{SVG}path")]
    return [(float(x), float(y)) for way in ways for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", way)]


def apart(graph: Graph) -> bool:
    return not any(one.meets(other) for n, one in enumerate(graph.words) for other in graph.words[:n])


def inside(graph: Graph) -> bool:
    return all(
        one.left >= 0 and one.top >= 0 and one.right <= graph.width and one.bottom <= graph.height
        for one in graph.words
    )


@pytest.mark.parametrize("width", [320.0, 374.0, 700.0, 1300.0])
def test_six_lines_with_their_names_at_every_width(width: float):
    graph = six(width)
    assert apart(graph)
    assert inside(graph)
    assert all(0 <= x <= width and 0 <= y <= graph.height for x, y in points(graph))
    said = [one.text for one in graph.words]
    for word in (
        "yours",
        "healthy",
        "A",
        "B",
        "D",
        "level",
        "A: C1 dried out",
        "level: rise through 5.3 V",
        "time, ms",
        "V",
    ):
        assert word in said


def test_lines_are_told_apart_without_colour():
    looks = [(dashes, wide) for dashes, wide, _ in STYLES.values()]
    assert len({dashes for dashes, _ in looks}) == len(looks)
    for style in STYLES:
        assert f'class="pw-trace pw-{style}"' in six().svg


def test_letters_are_never_under_fifteen_pixels():
    assert min(int(size) for size in re.findall(r"font-size:(\d+)px", STYLE)) >= 15
    assert "font-size" not in six().svg.replace(STYLE, "")


def test_nothing_in_it_can_run_or_clash():
    evil = "<script>alert(1)</script>\"' & \x07 ]]>"
    graph = draw_traces([Trace(TIMES, wave(1.0), evil, letter='<b>"')], label=evil)
    root = ET.fromstring(graph.svg)
    assert root.get("aria-label") == evil.replace("\x07", "\ufffd")
    tags = {one.tag.removeprefix(SVG) for one in root.iter()}
    assert tags == {"svg", "title", "style", "rect", "path", "text"}
    assert not any(name == "id" or name.startswith("on") for one in root.iter() for name in one.attrib)
    assert "<script" not in graph.svg


def test_colours_are_those_of_the_page():
    assert set(re.findall(r"var\(--(\w+)", STYLE)) == {
        "ink",
        "ink2",
        "sheet",
        "edge",
        "rule",
        "well",
        "wellwash",
        "face",
    }
    assert not re.search(r"(?<!,)#[0-9a-f]{3,6}", STYLE)  # each only as what print shows


def test_a_line_is_cut_at_the_ends_of_the_first_one():
    long = tuple(n * 1e-3 - 0.10037 for n in range(300))
    graph = draw_traces([Trace(TIMES, wave(1.0), "mine"), Trace(long, wave(1.0, times=long), "long", HEALTHY)])
    xs = [x for x, _ in points(graph)]
    field = next(one for one in ET.fromstring(graph.svg).iter(f"{SVG}rect"))
    left, wide = float(field.get("x", "")), float(field.get("width", ""))
    assert max(x for x in xs if x <= left + wide + 0.1) == pytest.approx(left + wide, abs=0.1)
    way = next(
        one for one in ET.fromstring(graph.svg).iter(f"{SVG}path") if "pw-trace pw-healthy" in one.get("class", "")
    )
    corners = [float(x) for x, _ in re.findall(r"(-?[\d.]+) (-?[\d.]+)", way.get("d", ""))]
    assert (corners[0], corners[-1]) == (pytest.approx(left, abs=0.1), pytest.approx(left + wide, abs=0.1))
    assert not any(left + wide + 9 < x for x in xs)


def test_points_lie_where_the_ticks_say():
    """0, 1, 0 V over 2 ms: the middle point half way across, and the volts as far apart as their ticks."""
    graph = draw_traces([Trace((0.0, 1e-3, 2e-3), (0.0, 1.0, 0.0), "ramp")], width=400.0)
    root = ET.fromstring(graph.svg)
    field = next(root.iter(f"{SVG}rect"))
    left, wide = float(field.get("x", "")), float(field.get("width", ""))
    way = next(one.get("d", "") for one in root.iter(f"{SVG}path") if "pw-trace" in one.get("class", ""))
    (x0, y0), (x1, y1), (x2, y2) = [tuple(map(float, one)) for one in re.findall(r"(-?[\d.]+) (-?[\d.]+)", way)]
    assert (x0, x1, x2) == pytest.approx((left, left + wide / 2, left + wide), abs=0.1)
    bottom = float(field.get("y", "")) + float(field.get("height", ""))
    beside = {one.text: one.bottom - 0.22 * 15.0 - 5.0 for one in graph.words if one.right < left and one.top < bottom}
    below = [(one.text, (one.left + one.right) / 2) for one in graph.words if bottom < one.top < bottom + 20.0]
    assert (beside["0.0"], beside["1.0"]) == pytest.approx((y0, y1), abs=0.1)
    assert y0 == y2 > y1
    assert [word for word, _ in below] == ["0.0", "0.5", "1.0", "1.5", "2.0"]
    assert [x for _, x in below] == pytest.approx([left + wide * n / 4 for n in range(5)], abs=0.1)


def test_a_level_runs_straight_across_even_where_nothing_reaches_it():
    """3 V beside a ramp to 1 V: thrice as far above nought as its top, from one edge of the field to the other."""
    ramp = Trace((0.0, 1e-3, 2e-3), (0.0, 1.0, 0.0), "ramp")
    root = ET.fromstring(draw_traces([ramp, level_line(ramp, 3.0, "rise through 3 V")], width=400.0).svg)
    field = next(root.iter(f"{SVG}rect"))
    left, wide = float(field.get("x", "")), float(field.get("width", ""))

    def corners(style: str) -> list[tuple[float, float]]:
        ways = [one.get("d", "") for one in root.iter(f"{SVG}path") if one.get("class") == f"pw-trace pw-{style}"]
        return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", ways[0])]

    (_, nought), (_, top), _ = corners("captured")
    (x0, y0), (x1, y1) = corners("level")
    assert (x0, x1) == pytest.approx((left, left + wide), abs=0.1)
    assert y0 == y1 == pytest.approx(nought - 3.0 * (nought - top), abs=0.2)


def test_what_is_no_number_leaves_a_gap():
    volts = (*wave(1.0)[:20], math.nan, *wave(1.0)[21:])
    whole, broken = (draw_traces([Trace(TIMES, one, "mine")]).svg for one in (wave(1.0), volts))
    assert broken.count('class="pw-trace') == whole.count('class="pw-trace') + 1


@pytest.mark.parametrize(
    "traces", [[], [Trace((0.0,), (1.0,), "one")], [Trace((0.0, 1.0), (math.nan, math.nan), "gone")]]
)
def test_nothing_to_draw_is_an_error(traces: list[Trace]):
    with pytest.raises(ValueError, match="no trace to draw"):
        draw_traces(traces)


def test_ticks_are_round_and_told_apart():
    assert [word for _, word in marked(-0.0231, 0.081, 6).marks] == ["\u221220", "0", "20", "40", "60", "80"]
    assert marked(0.0, 12.4, 4).marks == ((0.0, "0"), (5.0, "5"), (10.0, "10"))
    assert prefix_of(0.0234) == (1e-3, "m")
    assert [word for _, word in marked(11.9998, 12.0002, 4).marks] == [
        "11.9998",
        "11.9999",
        "12.0000",
        "12.0001",
        "12.0002",
    ]


sizes = st.floats(-1e4, 1e4, allow_nan=False)


@given(sizes, st.floats(1e-6, 1e4), st.integers(1, 12))
def test_ticks_lie_inside_and_are_few_enough(low: float, length: float, most: int):
    found = marked(low, low + length, most).marks
    assert len(found) <= most + 1
    assert all(low - 1e-4 * length <= value <= low + 1.0001 * length for value, _ in found)
    assert len({word for _, word in found}) == len(found)


@given(st.lists(st.floats(-50, 350), min_size=1, max_size=6).map(sorted))
def test_ends_that_would_meet_are_moved_apart(places: list[float]):
    moved = spread(places, 22.0, 30.0, 250.0)
    assert all(after - before >= 22.0 - 1e-9 for before, after in zip(moved, moved[1:], strict=False))
    assert max(moved) <= 250.0 + 1e-9
    assert min(moved) >= 30.0 - 1e-9


@given(
    st.floats(-1e3, 1e3), st.floats(1e-6, 10.0), st.floats(-100, 100), st.floats(1e-3, 100),
    st.text(max_size=60), st.text(max_size=4), st.integers(1, 4), st.sampled_from([300.0, 390.0, 777.0]),
)  # fmt: skip
def test_whatever_is_drawn_stays_in_its_frame(start, length, level, height, name, letter, count, width):
    times = tuple(start + length * n / 30 for n in range(31))
    if not times[0] < times[-1]:
        return
    styles = (CAPTURED, HEALTHY, FIRST, SECOND)
    volts = [tuple(level + height * math.cos(n * (k + 1) / 5) for n in range(31)) for k in range(count)]
    graph = draw_traces(
        [Trace(times, volts[k], name, styles[k], letter) for k in range(count)], width=width, label=name
    )
    assert ET.fromstring(graph.svg) is not None
    assert all(-0.1 <= x <= graph.width + 0.1 and -0.1 <= y <= graph.height + 0.1 for x, y in points(graph))
    assert apart(graph)
    assert inside(graph)
