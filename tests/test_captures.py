"""Waveform files of any oscilloscope: what is read, and what is refused with which line and mend."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from probewright.captures import read_capture, reading, thinned
from probewright.errors import BadInput

FILES = Path(__file__).parent / "captures"
# Every sound file of the folder tells of these two traces, in its own way of writing them.
SECONDS = -1e-3 + 0.5e-3 * np.arange(16)
FIRST = np.array([0.25, 1.5, 2.75, 1.5, 0.25, -1.0, -2.25, -1.0] * 2)
SECOND = np.array([5.0, 4.5, 4.0, 3.5] * 4)
NAMES = {
    "plain.csv": ("CH1", "CH2"),
    "no-header.csv": ("channel 1", "channel 2"),
    "semicolon-decimal-comma.csv": ("Kanal A", "Kanal B"),
    "tabs.txt": ("Input A", "Input B"),
    "tabs-decimal-comma.txt": ("u1", "u2"),
    "semicolon-point-crlf.csv": ("channel 1", "channel 2"),
    "interval-first.csv": ("CH1", "CH2"),
    "interval-last.csv": ("CH1", "CH2"),
    "rate.csv": ("CH1", "CH2"),
    "single-channel-interval.csv": ("U",),
    "single-channel.csv": ("u",),
    "byte-order-mark.csv": ("CH1", "CH2"),
    "utf-16.csv": ("CH1", "CH2"),
    "utf-16-no-mark.csv": ("CH1", "CH2"),
    "old-letters.csv": ("A", "B"),
    "exponents.csv": ("CH1", "CH2"),
    "quoted.csv": ("CH1", "CH2"),
    "trailing-separators.csv": ("CH1", "CH2"),
    "repeated-header.csv": ("CH1", "CH2"),
    "blank-lines.csv": ("CH1", "CH2"),
    "blanks.txt": ("u1", "u2"),
    "old-line-ends.csv": ("CH1", "CH2"),
    "index-column.csv": ("CH1", "CH2"),
    "times-twice.csv": ("CH1", "CH2"),
    "empty-column.csv": ("CH1", "CH2"),
    "preamble-beside.csv": ("channel 1", "channel 2"),
}
# file -> line of the complaint, what it says, and how to mend it.
REFUSED = {
    "bad-text.txt": (1, "no columns of figures", "with its times and volts in columns"),
    "bad-picture.csv": (1, "this is a picture", "save the waveform as text"),
    "bad-one-column.csv": (3, "neither times nor a sample interval", "Sample interval,4e-6"),
    "bad-times-back.csv": (12, "run back", "rising from line to line"),
    "bad-uneven.csv": (9, "2 columns, the first ones have 3 columns", "every line needs as many"),
    "bad-blank.csv": (3, "the cells are blank", "times and volts"),
    "bad-commas.csv": (2, "decimal commas or part the columns", "semicolons or tabs"),
    "bad-current.csv": (2, "CH2 is in A, not in volts", "one unit each"),
    "bad-two-units.csv": (2, "the times are in ms and s", "save them in s, ms or us"),
    "bad-word.csv": (14, "'see note' is not a figure", "take out what is no figure"),
    "bad-two-intervals.csv": (2, "0.0005 s and 0.001 s", "one by one"),
    "bad-few.csv": (3, "5 points", "save the trace"),
    "bad-no-time.csv": (7, "no time in this line", "rising from line to line"),
    "bad-counts.csv": (2, "sample numbers and neither times", "Sample interval,4e-6"),
    "bad-interval.csv": (1, "'fast' is no sample interval", "write it like"),
    "bad-empty.csv": (1, "empty", "save the waveform once more"),
    "bad-time-stands.csv": (13, "the time stands still", "rising from line to line"),
}


def read(name: str):
    return read_capture((FILES / name).read_bytes(), name)


def written(rows: str) -> bytes:
    return rows.encode()


def test_every_file_of_the_folder_is_in_a_table():
    assert {one.name for one in FILES.iterdir()} == {*NAMES, *REFUSED}


@pytest.mark.parametrize("name", NAMES)
def test_one_pair_of_traces_in_all_ways_of_writing(name: str):
    capture = read(name)
    assert capture.names == NAMES[name]
    assert capture.seconds == approx(SECONDS, abs=1e-9)
    for row, volts in zip(capture.volts, (FIRST, SECOND), strict=False):
        assert row == approx(volts, abs=1e-9)
    assert capture.beyond == ((0, 0),) * len(capture.names)


@pytest.mark.parametrize("block", [1, 30, 97])
def test_a_file_read_in_many_small_blocks_is_the_same(block: int, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(reading, "BLOCK", block)
    for name in NAMES:
        assert read(name).volts[0] == approx(FIRST, abs=1e-9), name
    for name, (line, _, _) in REFUSED.items():
        with pytest.raises(BadInput) as refused:
            read(name)
        assert refused.value.complaints[0].line == line, name
    ends = read_capture(written("s,V\n" + "".join(f"{n},{n % 3}\n" for n in range(9)) + ",,\n" * 200))
    assert ends.volts.shape == (1, 9)


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_waveform_is_one_complaint_with_line_and_mend(name: str):
    line, says, mend = REFUSED[name]
    with pytest.raises(BadInput) as refused:
        read(name)
    (complaint,) = refused.value.complaints
    assert (complaint.file, complaint.line) == (name, line)
    assert says in complaint.text
    assert mend in complaint.mend


@pytest.mark.parametrize("coding", ["utf-16-le", "utf-16-be", "utf-32", "utf-8"])
def test_a_file_without_a_mark_of_its_letters(coding: str):
    text = "time,U\nµs,mV\n" + "".join(f"{n},{n % 3}\n" for n in range(20))
    capture = read_capture(text.encode(coding))
    assert capture.seconds == approx(1e-6 * np.arange(20))
    assert capture.volts[0, :3] == approx([0.0, 1e-3, 2e-3])


def test_what_is_taken_for_granted_is_said():
    assert read("plain.csv").remarks == ()
    assert read("no-header.csv").remarks == (
        "times taken as seconds, since no unit stands over them",
        "figures taken as volts, since no unit stands over them",
    )
    assert "0.0005 s between samples" in read("rate.csv").remarks[0]
    assert "columns with fewer than 8 figures are left out" in read("empty-column.csv").remarks


def test_a_capture_cannot_be_changed():
    capture = read("plain.csv")
    with pytest.raises(ValueError, match="read-only"):
        capture.volts[0, 0] = 1.0


def test_cells_beyond_the_screen_are_counted_and_take_the_outermost_figure():
    cells = [
        "0.0",
        "1.0",
        "2.0",
        "inf",
        "OL",
        "2.0",
        "1.0",
        "-inf",
        "clipped",
        "-1.0",
        "",
        "9.91E+37",
        "9.9E37",
        "0.5",
        "0.25",
    ]
    capture = read_capture(written("s,V\n" + "".join(f"{n},{cell}\n" for n, cell in enumerate(cells))))
    assert capture.beyond == ((2, 3),)
    seconds, volts = capture.trace(0)
    assert len(seconds) == len(cells) - 2  # the blank and the "not a number"
    assert volts == approx([0.0, 1.0, 2.0, 2.0, 2.0, 2.0, 1.0, -1.0, -1.0, -1.0, 2.0, 0.5, 0.25])


def test_a_first_column_is_the_times_where_its_steps_are_the_interval_told_above():
    """Also where the times are printed coarsely; a ramp that has a name stays a trace."""
    rows = "".join(f"{n * 4e-6:.2e},{n % 3}\n" for n in range(300))
    capture = read_capture(written("Sample interval,4e-6\n" + rows))
    assert capture.names == ("channel 1",)
    assert np.diff(capture.seconds) == approx(4e-6, rel=1e-2)
    ramp = read_capture(written("Sample interval,4e-6\nU1,U2\n" + "".join(f"{n},{n % 3}\n" for n in range(20))))
    assert ramp.names == ("U1", "U2")


def test_a_column_that_was_never_on_the_screen_is_no_trace():
    rows = "".join(f"{n},OL,{n % 3}\n" for n in range(20))
    assert read_capture(written("s,V,V\n" + rows)).volts == approx(np.array([[n % 3 for n in range(20)]]))


def test_a_line_without_an_end_is_refused():
    with pytest.raises(BadInput, match="is not a figure"):
        read_capture(written("".join(f"{n},1\n" for n in range(20)) + '21,"' + "9" * 200_000))


def test_what_is_too_long_is_refused_before_it_is_read(monkeypatch: pytest.MonkeyPatch):
    data = written("s,V\n" + "".join(f"{n},1\n" for n in range(800)))
    monkeypatch.setattr(reading, "MOST_POINTS", 100)
    with pytest.raises(BadInput, match="more than 100 lines; save a shorter stretch"):
        read_capture(data)
    monkeypatch.setattr(reading, "MOST_BYTES", 2_000)
    with pytest.raises(BadInput, match="more than 0 MB"):
        read_capture(data)


def test_times_printed_too_coarsely_are_spread_evenly():
    capture = read_capture(written("s,V\n" + "".join(f"{n / 3:.1f},{n}\n" for n in range(40)).replace("0.3,", "0.3,")))
    assert np.all(np.diff(capture.seconds) > 0.0)
    capture = read_capture(written("s,V\n" + "".join(f"{n / 30:.1f},{n}\n" for n in range(40))))
    assert np.diff(capture.seconds) == approx(np.full(39, 1.3 / 39), rel=1e-9)
    assert "too coarsely" in capture.remarks[0]


numbers = st.floats(-1e3, 1e3).map(lambda one: round(one, 4))


@given(
    rows=st.lists(st.tuples(numbers, numbers, numbers), min_size=9, max_size=30),
    way=st.sampled_from(["\t", ";", ",", ";,", "\t,"]),
    ends=st.sampled_from(["\n", "\r\n"]),
    behind=st.integers(0, 2),
    coding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    head=st.sampled_from(["", "time{0}A{0}B{0}C", "time (s){0}A (V){0}B (V){0}C (V)"]),
    exponent=st.booleans(),
)
def test_what_was_written_is_what_is_read(rows, way, ends, behind, coding, head, exponent):
    part, point = way[0], "," if len(way) == 2 else "."
    shape = "{:.9e}" if exponent else "{:.4f}"
    lines = [part.join(shape.format(one) for one in (0.001 * n, *row)) for n, row in enumerate(rows)]
    if point == ",":
        lines = [line.replace(".", ",") for line in lines]
    text = ends.join([head.format(part)] * bool(head) + [line + part * behind for line in lines] + [""])
    capture = read_capture(text.encode(coding))
    assert capture.seconds == approx(0.001 * np.arange(len(rows)), abs=1e-9)
    assert capture.volts == approx(np.array(rows).T, abs=1e-6)


@given(st.binary(max_size=400))
def test_whatever_comes_is_read_or_refused_with_one_complaint(data: bytes):
    try:
        capture = read_capture(data)
    except BadInput as bad:
        assert len(bad.complaints) == 1
        assert bad.complaints[0].mend
    else:
        assert np.all(np.diff(capture.seconds) > 0.0)


sheets = st.text(st.sampled_from('0123456789.,;\t\n\n-+eE "OLtimesV#:=inf'), max_size=300)


@given(sheets)
def test_whatever_looks_like_a_sheet_is_read_or_refused_with_one_complaint(text: str):
    try:
        capture = read_capture(text.encode())
    except BadInput as bad:
        assert len(bad.complaints) == 1
        assert bad.complaints[0].line <= text.count("\n") + 1
    else:
        assert np.all(np.diff(capture.seconds) > 0.0)
        assert capture.volts.shape == (len(capture.names), len(capture.seconds))


@given(st.integers(1, 9), st.integers(30, 700), st.integers(0, 2**32 - 1))
def test_a_thinned_trace_keeps_its_order_and_all_that_sticks_out(columns: int, points: int, seed: int):
    volts = np.random.default_rng(seed).normal(size=points)
    seconds, thin = thinned(np.arange(points) * 0.5, volts, columns)
    assert len(thin) <= max(4 * columns, 4)
    assert np.all(np.diff(seconds) > 0.0)
    assert (thin.min(), thin.max()) == (volts.min(), volts.max())
    assert (thin[0], thin[-1]) == (volts[0], volts[-1])
    assert all(math.isclose(volts[round(t / 0.5)], v) for t, v in zip(seconds, thin, strict=True))
