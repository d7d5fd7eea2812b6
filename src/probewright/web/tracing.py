"""Waveforms as the pages show them: each picture in the widths that the style of the page chooses among."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from probewright.captures import Capture, thinned
from probewright.drawing.traces import CAPTURED, FIRST, HEALTHY, SECOND, THIRD, Band, Trace, draw_traces
from probewright.jobs.capturing import through, traces_of
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Captured
from probewright.jobs.tracing import SOUND, Curve, Shows
from probewright.jobs.view import SuspectView
from probewright.record import Book
from probewright.report.text import named
from probewright.web import showing

# CSS pixels, chosen: a 320 px phone, one of 390, a column of a laptop; the class that the style shows it by.
WIDTHS = ((280, "least"), (346, "small"), (740, "large"))
SUSPECTS = (FIRST, SECOND, THIRD)
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


def suspects_shown(view: BenchView, letters: Mapping[str, str]) -> list[SuspectView]:
    """The first three of the list that are a fault of the machine file and have a letter."""
    return [one for one in showing.leaders(view) if one.faults and one.id in letters][: len(SUSPECTS)]


def together(
    shows: Shows, suspects: Sequence[SuspectView], letters: Mapping[str, str], label: str,
    captured: Curve | None = None, file: str = "", level: tuple[str, float] | None = None,
) -> Pictures:  # fmt: skip
    """What would be seen at a place, and over it what was captured there; level: of the "rise" or "fall" asked for."""
    drawn = [(one, style) for one, style in zip(suspects, SUSPECTS, strict=False) if one.id in shows.suspects]
    traces = [_drawn(captured, file, CAPTURED)] if captured else []
    traces.append(_drawn(shows.healthy, "every part in the middle of its tolerance", HEALTHY))
    traces += [_drawn(shows.suspects[one.id], named(one), style, letters[one.id]) for one, style in drawn]
    traces += [through(traces[0], *level)] if level else []
    band = Band(shows.healthy.seconds, shows.low, shows.high, f"{SOUND} sound machines lie within")
    return pictures(traces, label, band)


def in_words(shows: Shows, suspects: Sequence[SuspectView], letters: Mapping[str, str]) -> tuple[str, ...]:
    """How the picture is to be read."""
    said = ["from the moment it begins" if math.isinf(shows.period) else "each from its own rise through the middle"]
    gone = [letters[one.id] for one in suspects if one.id not in shows.suspects]
    said += [f"{' '.join(gone)} cannot be followed in time"] if gone else []
    return (f"Computed, {'; '.join(said)}.",)


def _drawn(curve: Curve, name: str, style: str, letter: str = "") -> Trace:
    return Trace(curve.seconds, curve.volts, name, style, letter)


def as_kept(book: Book, taken: Captured) -> Pictures:
    """A waveform of the job."""
    return pictures(traces_of(book, taken), f"{taken.place}, {taken.file}")
