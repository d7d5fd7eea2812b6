"""A waveform from a file becomes readings of a job, and can be shown again.

The file is on the disk before the record names it, whole and as it came, and stays when its line is taken back.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from probewright.captures import Capture, Measured, measure, read_capture, thinned, video_of
from probewright.captures import video as picture_signal
from probewright.captures.reading import FEWEST_POINTS
from probewright.drawing.traces import CAPTURED, Trace, draw_traces, level_line
from probewright.errors import with_mend
from probewright.jobs.bench import (
    Understood,
    complaint,
    hear_line,
    is_entered,
    keep_line,
    machine_of,
    readable,
    say_beside,
    still_open,
    view_line,
)
from probewright.jobs.case_view import CaptureShown
from probewright.jobs.cases import Captured, Case, Line
from probewright.jobs.keeping import keep_bench, keep_reading
from probewright.machine import Machine
from probewright.photos.shelf import keep_once
from probewright.readings import NEVER, SCOPED, Look, Question, Reading, echo
from probewright.readings.bench import Bench
from probewright.record import Book
from probewright.units import write_reading

NAME = re.compile(r"[0-9a-f]{64}\.csv")
WORDS = {
    "dc": "mean", "pp": "peak to peak", "rms": "rms of what varies", "rise": "rise through the level",
    "fall": "fall through the level",
}  # fmt: skip
EDGES = ("rise", "fall")  # what one sweep goes through a level by
NARROW = 0.01  # chosen: share of a figure that noise may leave open; more, and it counts as lying between two figures
SEEN = 0.2  # chosen: of the noise; finer steps are digits of the file and no converter's
TWICE = 2.0  # standard deviations either way within which a mean by a scope counts


@dataclass(frozen=True)
class Asked:
    """How a capture was taken. at: the place, as typed, with its stimulus if one is said; channel: from 1, None where
    the file has but one; single: one sweep that begins when the power comes on at nought of the file's own times;
    coupled: the scope's input was on AC, so that the mean says nothing."""

    at: str
    channel: int | None = None
    single: bool = False
    coupled: bool = False


def add_capture(
    book: Book, case: Case, data: bytes, file: str, asked: Asked, now: str, *, sure: bool = False, once: str = ""
) -> Case:  # fmt: skip
    """Put a waveform to the job: its figures become readings of one hook-up, its file is kept beside the book.

    data: the file as it came; file: its name; once: mark of the form it came by, which counts once. BadInput for a file
    that is no waveform, for a channel it does not have and a place that is asked about; then nothing is kept.
    """
    still_open(case)
    readable(asked.at)
    name = Path(file).name or "waveform"
    text = typed_as(name, asked)
    if is_entered(case, text, once):
        return case
    capture = read_capture(data, file)
    made = understand_capture(case, capture, name, asked, sure)
    kept = keep_whole(folder_of(book), data)
    told = Captured(kept, name, made.question.red, made.channel + 1, asked.single, asked.coupled, made.measured.level)
    payload = {**made.payload, "text": text, "sure": sure, "capture": asdict(told)}
    return keep_line(book, case, Understood("said", payload), now, once)


def typed_as(name: str, asked: Asked) -> str:
    """The line as it stands in the job."""
    words = [f"waveform {name} at {asked.at.strip()}"]
    words += [f"channel {asked.channel}"] if asked.channel else []
    words += ["single"] * asked.single + ["AC"] * asked.coupled
    return ", ".join(words)


# What it says ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Made:
    """What would become of a capture. channel: from 0; readings: those that count; payload: as the record keeps it."""

    question: Question
    channel: int
    measured: Measured
    readings: tuple[Reading, ...]
    payload: Mapping[str, Any]


def understand_capture(case: Case, capture: Capture, name: str, asked: Asked, sure: bool = False) -> Made:
    """What a capture says on this job; nothing is stored. BadInput for a channel or a place that is not there."""
    machine = machine_of(case)
    channel = _channel(capture, asked.channel)
    swept = _from_nought(capture) if asked.single else capture
    measured = measure(swept, channel)
    bench, doubt = _held(case, machine, asked, measured, sure)
    assert bench.last is not None
    question = bench.last.question
    look = Look(coupling="ac" if asked.coupled else "dc", single=asked.single)
    if asked.single:
        look = replace(look, window=_window(swept))
        measured = measure(swept, channel, *_through(question, machine))
    wanted = _wanted(measured, asked, pp=not doubt)
    readings = tuple(_reading(measured, one, bench.last, look) for one in wanted)
    if readings:
        bench = replace(bench, last=readings[-1])
    says = [*_says(swept, channel, name, measured, question, wanted, machine, asked.single), *_video(capture, channel)]
    says += [f"peak to peak is not counted: {doubt}"] if doubt else []
    says += say_beside(case, machine, readings)
    says += [f"taken for granted: {'; '.join(capture.remarks)}"] if capture.remarks else []
    payload = {
        "readings": [keep_reading(one) for one in readings],
        "says": says,
        "bench": keep_bench(bench if readings else case.bench),
        "marked": {part: list(value) for part, value in case.marked.items()},
    }
    return Made(question, channel, measured, readings, payload)


def _channel(capture: Capture, wanted: int | None) -> int:
    """The channel that is meant, from 0. BadInput where there are several and none is said, or it is not there."""
    named = ", ".join(f"{n} {name}" for n, name in enumerate(capture.names, 1))
    if wanted is None and len(capture.names) > 1:
        raise complaint(f"this file has {len(capture.names)} channels: {named}", "say which, like `--channel 1`")
    if wanted is not None and not 1 <= wanted <= len(capture.names):
        raise complaint(f"this file has no channel {wanted}", f"take one of: {named}")
    return (wanted or 1) - 1


def _from_nought(capture: Capture) -> Capture:
    """One sweep from the moment the power comes on, at nought of its own times. BadInput where that is not in it."""
    after = capture.seconds >= 0.0
    if np.sum(after) < FEWEST_POINTS:
        raise complaint("nought of this file's times is not in it", "let the scope trigger when the power comes on")
    return replace(capture, seconds=capture.seconds[after], volts=capture.volts[:, after])


def _window(swept: Capture) -> tuple[float, float]:
    """Begin and end of a sweep, s, as finely as it knows them: from nought where its first point is the next to it."""
    first, last = (float(f"{one:.6g}") for one in swept.seconds[[0, -1]])
    return 0.0 if first <= swept.seconds[1] - swept.seconds[0] else first, last


def _held(case: Case, machine: Machine | None, asked: Asked, measured: Measured, sure: bool) -> tuple[Bench, str]:
    """The bench with the probe where the capture was taken, and why volts peak to peak cannot be asked there, or "".

    The place and the size of the figures are judged as in a line that is typed. BadInput where they are asked about.
    """
    place, stimulus = _parted(asked.at)
    span, mean = (measured.of(one) for one in ("pp", "dc"))
    assert span is not None and mean is not None
    signal = hear_line(case, machine, f"{place} {span.value:.6f} Vpp{stimulus}", sure=sure)
    steady = hear_line(case, machine, f"{place} {mean.value:.6f} V dc{stimulus}", sure=sure)
    for doubt in (*signal.doubts, *(() if asked.coupled else steady.doubts)):
        if doubt.can_insist:
            raise complaint(doubt.text, f"{doubt.mend}; is the factor of the probe set on the scope?")
    if not signal.doubts and len(signal.readings) == 1:
        return signal.bench, ""
    if steady.doubts or len(steady.readings) != 1:
        doubts = (*steady.doubts, *signal.doubts)
        says, mend = (
            (doubts[0].text, doubts[0].mend) if doubts else (f"{asked.at!r} is not one place", "name one place")
        )
        raise complaint(f"where was it taken? {says}", mend)
    asks = next((with_mend(one.text, one.mend) for one in signal.doubts), "several readings")
    return steady.bench, asks


def _parted(at: str) -> tuple[str, str]:
    """ "OUT at tone" as the place and what stands behind the figure in a line."""
    place, at_, stimulus = at.strip().partition(" at ")
    return place.strip(), f"{at_}{stimulus}"


def _through(question: Question, machine: Machine | None) -> tuple[float | None, str]:
    """Volts that a sentence of the file judges this place by in this stimulus, None where none does; and whether by the
    rise through them or by the fall."""
    for work in machine.works if machine else ():
        for ask in (one for one in (work.measure, work.second) if one is not None):
            at = (machine.net_of(ask.place), ask.stimulus) if machine else ()
            if ask.quantity in EDGES and at == (_net(question.red, machine), question.setup.stimulus):
                return ask.level, ask.quantity
    return None, EDGES[0]


def _net(place: str, machine: Machine | None) -> str:
    try:
        return machine.net_of(place) if machine else ""
    except KeyError:  # a free name beside the machine file
        return ""


def _wanted(measured: Measured, asked: Asked, pp: bool) -> tuple[str, ...]:
    """Which figures count: the mean, peak to peak, the frequency where it repeats, else the edge through the level.

    Where the screen cuts, the mean is nothing and peak to peak is at least that.
    """
    counts = {"dc": not asked.coupled and not measured.cut, "pp": pp, "frequency": True}
    counts |= dict.fromkeys(EDGES, not measured.periods)
    return tuple(one for one, may in counts.items() if may and measured.of(one) is not None)


def _reading(measured: Measured, quantity: str, held: Reading, look: Look) -> Reading:
    """One figure as a reading of the hook-up that is held."""
    figure = measured.of(quantity)
    assert figure is not None
    if quantity in EDGES:
        look = replace(look, level=measured.level or 0.0)
    low, high = figure.low, figure.high
    if quantity == "dc":
        low, high = figure.value - TWICE * figure.error, figure.value + TWICE * figure.error
    value, low, high = (float(f"{one:.6g}") for one in (figure.value, low, high))  # finer than any scope is
    open_ = quantity == "dc" or high == NEVER > value or value - low > NARROW * value
    ask = replace(held.question, instrument=quantity, look=look)
    return replace(held, question=ask, answer=value, bound=(low, high) if open_ else None, text="")


# In words -------------------------------------------------------------------------------------


def _says(
    capture: Capture, channel: int, name: str, measured: Measured, ask: Question, counted: tuple[str, ...],
    machine: Machine | None, single: bool,
) -> Iterator[str]:  # fmt: skip
    """Where it was taken, what counts, what else was measured, how fine it is."""
    length = measured.interval * (measured.points - 1)
    where = f"{echo.name(ask.red, machine)} to {echo.name(ask.black, machine)}"
    yield f"{where}: {capture.names[channel]} of {name}, {measured.points} points over {write_reading(length, 's')}"
    yield "counted: " + (", ".join(_figure(measured, one) for one in counted) or "nothing")
    others = [one.quantity for one in measured.figures if one.quantity not in counted]
    yield "also measured: " + ", ".join(_figure(measured, one) for one in others)
    yield _fineness(measured)
    if measured.cut:
        edge = " and ".join(measured.cut)
        yield f"the edge of the screen cuts the {edge}: take it again with more volts a division"
    if single:
        yield "one sweep: nought of the file's times is taken as the moment the power comes on"


def _figure(measured: Measured, quantity: str) -> str:
    """One figure with how far it may be off, two standard deviations."""
    figure = measured.of(quantity)
    assert figure is not None
    word = WORDS.get(quantity, quantity)
    if quantity in EDGES and measured.level is not None:
        word = f"{quantity} through {write_reading(measured.level, 'V')}"
    if figure.value == NEVER:
        return f"{word} never"
    unit = SCOPED.get(quantity, "V")
    value, error = (100.0 * figure.value, 200.0 * figure.error) if unit == "1" else (figure.value, 2.0 * figure.error)
    shown = f"{value:.1f} % within {error:.1g} %" if unit == "1" else _within(value, error, unit)
    if quantity == "pp" and not measured.cut and value - figure.low > NARROW * value:
        return f"{word} {write_reading(figure.low, 'V')} to {write_reading(value, 'V')}, as the noise leaves it"
    least = "at least " if quantity == "pp" and measured.cut else ""
    return f"{word} {least}{shown}"


def _within(value: float, error: float, unit: str) -> str:
    return f"{write_reading(value, unit)} within {write_reading(float(f'{error:.2g}'), unit)}"


def _fineness(measured: Measured) -> str:
    """Steps, noise, periods: how good the capture is."""
    seen = measured.step >= SEEN * measured.noise and measured.step > 0.0
    step = f"steps of {write_reading(measured.step, 'V')}, " if seen else ""
    periods = f"{measured.periods} whole periods" if measured.periods else "no steady period"
    return (
        f"{write_reading(measured.interval, 's')} between points, {step}"
        f"noise {write_reading(measured.noise, 'V')}, {periods}"
    )


def _video(capture: Capture, channel: int) -> tuple[str, ...]:
    """What a picture signal has, beside the standard's figures; nothing where it is none."""
    found = video_of(capture, channel)
    return () if found is None else tuple(f"picture signal: {one}" for one in picture_signal.say(found))


# Kept and shown again -------------------------------------------------------------------------


def folder_of(book: Book) -> Path:
    """The folder of waveforms that stands beside the book."""
    return book.path.with_name(f"{book.path.name}.captures")


def keep_whole(folder: Path, data: bytes) -> str:
    """Put a file on the disk under the digest of what is in it, once. BadInput where the disk refuses."""
    digest = hashlib.sha256(data).hexdigest()
    path = folder / f"{digest}.csv"
    keep_once(path, data, digest, "waveform")
    return path.name


def line_of(case: Case, event: int | None = None) -> Line:
    """The line of a waveform by its number, or the last one. BadInput where there is none."""
    lines = [line for line in case.lines if line.capture is not None]
    if event is None and lines:
        return lines[-1]
    for line in lines:
        if line.event == event:
            return line
    which = "no waveform" if event is None else f"no waveform in line {event}"
    raise complaint(f"job {case.number} has {which}", "see its lines: `probewright reading list`")


def kept_file(book: Book, taken: Captured) -> bytes:
    """The file as it came. BadInput where it is gone or no longer what it was."""
    return whole_file(folder_of(book), taken.name, taken.file)


def whole_file(folder: Path, name: str, file: str) -> bytes:
    """What was put into a folder by `keep_whole` under this name; file: as it was called. BadInput as above."""
    if not NAME.fullmatch(name):
        raise complaint(f"{name[:80]!r} is not the name of a waveform", "take the name from the job")
    try:
        data = (folder / name).read_bytes()
    except OSError as problem:
        raise complaint(f"{file} is not in the folder of waveforms", "add it once more") from problem
    if hashlib.sha256(data).hexdigest() != name.partition(".")[0]:
        raise complaint(f"{file} in the folder of waveforms is damaged", "add it once more")
    return data


def traces_of(book: Book, taken: Captured) -> tuple[Trace, ...]:
    """The waveform as it was captured, thin enough for a picture, and the level its rise was timed at: the first of the
    traces that `draw_traces` takes."""
    capture = read_capture(kept_file(book, taken), taken.file)
    seconds, volts = thinned(*capture.trace(taken.channel - 1))
    trace = Trace(tuple(seconds.tolist()), tuple(volts.tolist()), taken.place, CAPTURED)
    return (trace,) if taken.level is None else (trace, through(trace, "rise", taken.level))


def through(trace: Trace, way: str, level: float) -> Trace:
    """The level, V, whose "rise" or "fall" was asked for, as a line beside a trace."""
    return level_line(trace, level, f"{way} through {write_reading(level, 'V')}")


def show_capture(book: Book, case: Case, event: int | None, width: float) -> CaptureShown:
    """A waveform that was entered, by the number of its line or the last one: what was said, and its picture."""
    line = line_of(case, event)
    assert line.capture is not None
    return CaptureShown(case.number, view_line(line), picture_of(book, line.capture, width))


def picture_of(book: Book, taken: Captured, width: float) -> str:
    """The waveform as SVG, so many dots wide."""
    return draw_traces(traces_of(book, taken), width=width, label=f"{taken.place}, {taken.file}").svg
