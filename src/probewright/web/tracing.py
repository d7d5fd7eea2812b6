"""Waveforms as the pages show them: each picture in the widths that the style of the page chooses among."""

from __future__ import annotations

from collections.abc import Sequence

from probewright.captures import Capture, thinned
from probewright.drawing.traces import CAPTURED, FIRST, SECOND, THIRD, Band, Trace, draw_traces
from probewright.jobs.capturing import traces_of
from probewright.jobs.cases import Captured
from probewright.record import Book

# CSS pixels, chosen: a 320 px phone, one of 390, a column of a laptop; the class that the style shows it by.
WIDTHS = ((280, "least"), (346, "small"), (770, "large"))
EVERY = (CAPTURED, FIRST, SECOND, THIRD)  # channels of a file of which nobody said which is meant

Pictures = tuple[tuple[str, str], ...]


def pictures(traces: Sequence[Trace], label: str, band: Band | None = None) -> Pictures:
    """The class and the SVG of each width; label: read aloud. Empty where there is nothing to draw."""
    try:
        return tuple((name, draw_traces(traces, band=band, width=wide, label=label).svg) for wide, name in WIDTHS)
    except ValueError:  # flat out of reach, or gaps only
        return ()


def as_sent(capture: Capture, channel: int | None, file: str) -> Pictures:
    """One channel of a file, from 0; the first four where None is said, each with its number."""
    if channel is not None or len(capture.names) == 1:
        return pictures((_trace(capture, channel or 0, CAPTURED, ""),), f"{capture.names[channel or 0]} of {file}")
    styles = EVERY[: len(capture.names)]
    traces = [_trace(capture, n, style, str(n + 1)) for n, style in enumerate(styles)]
    return pictures(traces, f"the channels of {file}")


def _trace(capture: Capture, channel: int, style: str, letter: str) -> Trace:
    seconds, volts = thinned(*capture.trace(channel))
    return Trace(tuple(seconds.tolist()), tuple(volts.tolist()), capture.names[channel], style, letter)


def as_kept(book: Book, taken: Captured) -> Pictures:
    """A waveform of the job."""
    return pictures(traces_of(book, taken), f"{taken.place}, {taken.file}")
