"""Volts against time as SVG text for the middle of an HTML page: what was captured, what is healthy, what suspects do.

Lines differ by their dashes and each has its own letter or word at its end, so that a grey print loses nothing. No ids,
no script. Lengths are CSS pixels at natural scale.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from probewright.drawing.pen import Rect, attribute, clean, text_width

CAPTURED, HEALTHY, FIRST, SECOND, THIRD, LEVEL = "captured", "healthy", "first", "second", "third", "level"
# Style -> dashes, width of the line, word at its end where the trace brings no letter.
STYLES = {
    CAPTURED: ("", 2.5, "yours"), HEALTHY: ("14 5", 2.5, "healthy"), FIRST: ("2 5", 3.0, "A"),
    SECOND: ("9 4 2 4", 2.0, "B"), THIRD: ("5 5", 1.6, "C"), LEVEL: ("18 3 3 3", 1.6, "level"),
}  # fmt: skip
ORDER = (LEVEL, CAPTURED, HEALTHY, THIRD, SECOND, FIRST)  # from the back to the front
LETTERS = 15.0  # least height of a letter, as everywhere on the pages
LINE = 22.0  # chosen: height of a row of words
NARROWEST, HEIGHT = 280.0, 340.0  # chosen: a phone held upright leaves as much; three in four of a card's height
PAD = 8.0
EDGE = 3.0  # chosen: by which a dash is edged, both sides together
SAMPLE = 46.0  # chosen: length of the line before a name, three dashes of the longest sort
HEADROOM = 0.06  # chosen: share of the volts left free above and below
TICK_ROOM = (64.0, 44.0)  # chosen: least distance of two ticks along time and volts
BETWEEN = 14.0  # chosen: room between two figures along the time
FAR = 100.0  # chosen: so many times its own length from nought a stretch of time counts from its left end
TAG = 8  # letters, chosen: what stands at the end of a line is short; the name stands below
PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))

STYLE = """
.pw-traces{display:block;font-family:var(--face-fig,"DejaVu Sans Condensed","Noto Sans",sans-serif);
font-variant-numeric:tabular-nums;color:var(--ink,#101c1b)}
.pw-traces text{fill:var(--ink,#101c1b);font-size:15px;stroke:none}
.pw-traces .pw-end{font-size:16px;font-weight:700}
.pw-traces .pw-field{fill:var(--sheet,#fff);stroke:var(--edge,#5c6e6a);stroke-width:1px}
.pw-traces .pw-grid{fill:none;stroke:var(--rule,#b4c0bc);stroke-width:1px}
.pw-traces .pw-nought{fill:none;stroke:var(--edge,#5c6e6a);stroke-width:1.5px}
.pw-traces .pw-trace{fill:none;stroke:var(--ink,#101c1b);stroke-linejoin:round;stroke-linecap:butt}
.pw-traces .pw-edge{fill:none;stroke:var(--sheet,#fff);stroke-linejoin:round;stroke-linecap:butt}
.pw-traces .pw-lead{fill:none;stroke:var(--ink2,#3c4c49);stroke-width:1px}
.pw-traces .pw-healthy{stroke:var(--well,#1a6638)}
.pw-traces text.pw-healthy{fill:var(--well,#1a6638);stroke:none}
.pw-traces .pw-level{stroke:var(--ink2,#3c4c49)}
.pw-traces text.pw-level{fill:var(--ink2,#3c4c49);stroke:none}
.pw-traces .pw-band{fill:var(--wellwash,#dff1e4);stroke:var(--well,#1a6638);stroke-width:1px;stroke-dasharray:1 3}
""".strip()


@dataclass(frozen=True)
class Trace:
    """One line. seconds, volts (time,), rising seconds; volts that are no number leave a gap; name: in the key below;
    style: one of STYLES; letter: at its end, "" for the word of its style."""

    seconds: tuple[float, ...]
    volts: tuple[float, ...]
    name: str
    style: str = CAPTURED
    letter: str = ""


def level_line(trace: Trace, volts: float, name: str) -> Trace:
    """The volts that a trace goes through, along the whole of it."""
    return Trace((trace.seconds[0], trace.seconds[-1]), (volts, volts), name, LEVEL)


@dataclass(frozen=True)
class Band:
    """Where sound machines lie at each instant. seconds, low, high (time,), s and V."""

    seconds: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    name: str = "healthy"


@dataclass(frozen=True)
class Graph:
    """The picture. svg: text for the middle of a page; width, height: pixels; words: room that each word takes."""

    svg: str
    width: float
    height: float
    words: tuple[Rect, ...]


@dataclass(frozen=True)
class _Axis:
    """One axis. low, high: its ends in s or V; begin, end: the same in pixels."""

    low: float
    high: float
    begin: float
    end: float

    def at(self, value: float) -> float:
        """Pixels of a value."""
        return self.begin + (value - self.low) / (self.high - self.low) * (self.end - self.begin)


def draw_traces(
    traces: Sequence[Trace], *, band: Band | None = None, width: float = 700.0, height: float = HEIGHT, label: str = ""
) -> Graph:
    """Volts against time. traces: at least one with two points; the first sets the span of time, what lies outside is
    left away; width, height: of the field and the words around it, without the key below; label: read aloud.

    ValueError where there is nothing to draw.
    """
    if not traces or len(traces[0].seconds) < 2 or not traces[0].seconds[0] < traces[0].seconds[-1]:
        raise ValueError("there is no trace to draw")
    width = max(width, NARROWEST)
    span = traces[0].seconds[0], traces[0].seconds[-1]
    pieces = {id(one): tuple(_inside(one.seconds, one.volts, span)) for one in traces}
    filled = None if band is None else _filled(band, span)
    every = [volts for one in pieces.values() for piece in one for _, volts in piece]
    every += [volts for _, volts in filled or ()]
    if not every:
        raise ValueError("there is no trace to draw")
    tags = [(one.letter or STYLES[one.style][2])[:TAG] for one in traces]
    right = max(text_width(tag, 16.0) for tag in tags) + 16.0
    upward = _Axis(*_room(min(every), max(every)), height - 2 * LINE - PAD, PAD + LINE)
    rows = marked(upward.low, upward.high, int((upward.begin - upward.end) / TICK_ROOM[1]))
    left = max(text_width(word, LETTERS) for _, word in [*rows.marks, (0.0, f"{rows.prefix}V")]) + 16.0
    across = _Axis(*span, left, width - right - PAD)
    words: list[Rect] = []
    out = [*_grid(across, upward, rows, words)]
    if filled:
        out.append(f'<path class="pw-band" d="{_way(filled, across, upward)}Z"/>')
    for one in sorted(traces, key=lambda one: ORDER.index(one.style)):
        out += [_line(one.style, _way(piece, across, upward)) for piece in pieces[id(one)] if len(piece) > 1]
    out += _ends(traces, tags, pieces, across, upward, words)
    whole, bottom = _key(traces, tags, band, width, height, words)
    return Graph(_svg([*out, *whole], width, bottom, label), width, bottom, tuple(words))


def _svg(pieces: Sequence[str], width: float, height: float, label: str) -> str:
    return "\n".join([
        f'<svg xmlns="http://www.w3.org/2000/svg" class="pw-traces" role="img" aria-label={attribute(label)} '
        f'width="{width:.0f}" height="{height:.0f}" viewBox="0 0 {width:.0f} {height:.0f}">',
        f"<title>{clean(label)}</title>", f"<style>{STYLE}</style>", *pieces, "</svg>",
    ])  # fmt: skip


# Lines ----------------------------------------------------------------------------------------


def _inside(
    seconds: Sequence[float], volts: Sequence[float], span: tuple[float, float]
) -> Iterator[list[tuple[float, float]]]:  # fmt: skip
    """The pieces of a line within a span of time, cut at its ends; gaps where there is no number."""
    piece: list[tuple[float, float]] = []
    before: tuple[float, float] | None = None
    for point in zip(seconds, volts, strict=True):
        if not math.isfinite(point[1]):
            before = None
        if before is None and piece:
            yield piece
            piece = []
        if not math.isfinite(point[1]):
            continue
        for edge in span:
            if before is not None and before[0] < edge < point[0]:
                share = (edge - before[0]) / (point[0] - before[0])
                piece.append((edge, before[1] + share * (point[1] - before[1])))
        if span[0] <= point[0] <= span[1]:
            piece.append(point)
        before = point
    if piece:
        yield piece


def _filled(band: Band, span: tuple[float, float]) -> list[tuple[float, float]]:
    """The edge of a band, there along its top and back along its bottom."""
    high = [point for piece in _inside(band.seconds, band.high, span) for point in piece]
    low = [point for piece in _inside(band.seconds, band.low, span) for point in piece]
    return [*high, *reversed(low)]


def _way(points: Sequence[tuple[float, float]], across: _Axis, upward: _Axis) -> str:
    return "M" + "L".join(f"{across.at(t):.1f} {upward.at(v):.1f}" for t, v in points)


def _line(style: str, way: str) -> str:
    dashes, wide, _ = STYLES[style]
    if not dashes:
        return f'<path class="pw-trace pw-{style}" stroke-width="{wide:g}" d="{way}"/>'
    shape = f'stroke-dasharray="{dashes}" d="{way}"/>'  # a dash has a light edge, or it is lost on the line captured
    return (
        f'<path class="pw-edge" stroke-width="{wide + EDGE:g}" {shape}'
        f'<path class="pw-trace pw-{style}" stroke-width="{wide:g}" {shape}'
    )


# Axes -----------------------------------------------------------------------------------------


def _room(low: float, high: float) -> tuple[float, float]:
    """The ends of the volts with some room; around a line that stands still, room enough to see that it does."""
    more = HEADROOM * (high - low) or 0.1 * abs(high) or 1.0
    return low - more, high + more


@dataclass(frozen=True)
class Ticks:
    """Round figures along an axis: (value, as written). prefix: of their unit; since: what was taken off each, for a
    stretch far from nought."""

    marks: tuple[tuple[float, str], ...]
    prefix: str
    since: float = 0.0


def ticks(low: float, high: float, most: int) -> tuple[float, tuple[int, ...]]:
    """One, two or five of a power of ten, and which times it lie from low to high: as many as go, and no more."""
    step = 10.0 ** math.floor(math.log10((high - low) / most))
    step *= next(times for times in (1, 2, 5, 10, 20) if (high - low) / (times * step) <= most)
    return step, tuple(range(math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6) + 1))


def marked(low: float, high: float, most: int, since: float = 0.0) -> Ticks:
    """Ticks with their figures, as many digits as tell them apart."""
    step, times = ticks(low - since, high - since, max(most, 1))
    size, prefix = prefix_of(max((abs(n) for n in times), default=1) * step or step)
    digits = max(0, -math.floor(math.log10(step / size) + 1e-9))
    written = tuple((since + n * step, f"{n * step / size:.{digits}f}".replace("-", "\u2212")) for n in times)
    return Ticks(written, prefix, since)


def prefix_of(largest: float) -> tuple[float, str]:
    """What to divide by, and the prefix of the unit, so that the largest figure has one to three digits."""
    return next(((size, word) for size, word in PREFIXES if largest >= size * (1.0 - 1e-9)), PREFIXES[-1])


def _along(axis: _Axis) -> Ticks:
    """The ticks of the time, as many as have room for their figures; far from nought they count from the left end."""
    far = max(abs(axis.low), abs(axis.high)) > FAR * (axis.high - axis.low)
    for most in range(int((axis.end - axis.begin) / TICK_ROOM[0]), 0, -1):
        found = marked(axis.low, axis.high, most, axis.low if far else 0.0)
        places = [(axis.at(value), text_width(word, LETTERS)) for value, word in found.marks]
        pairs = zip(places, places[1:], strict=False)
        if all(after[0] - one[0] >= 0.5 * (one[1] + after[1]) + BETWEEN for one, after in pairs):
            break
    return found


def _grid(across: _Axis, upward: _Axis, rows: Ticks, words: list[Rect]) -> Iterator[str]:
    """The field, its ticks with their figures, and the units."""
    top, bottom, left, right = upward.end, upward.begin, across.begin, across.end
    yield f'<rect class="pw-field" x="{left:g}" y="{top:g}" width="{right - left:g}" height="{bottom - top:g}"/>'
    for volts, word in rows.marks:
        y = upward.at(volts)
        sort = "pw-nought" if volts == 0.0 else "pw-grid"
        yield f'<path class="{sort}" d="M{left:g} {y:.1f}L{right:g} {y:.1f}"/>'
        yield _word(words, left - 8.0, y + 5.0, word, "end")
    yield _word(words, left - 8.0, top - 12.0, f"{rows.prefix}V", "end")
    columns = _along(across)
    for seconds, word in columns.marks:
        x = across.at(seconds)
        yield f'<path class="pw-grid" d="M{x:.1f} {top:g}L{x:.1f} {bottom:g}"/>'
        yield _word(words, x, bottom + 20.0, word, "middle")
    since = f", from {columns.since:.6g} s on" if columns.since else ""
    said = f"time, {columns.prefix}s{since}"
    yield _word(words, max(right, text_width(said, LETTERS) + PAD), bottom + 20.0 + LINE, said, "end")


def _word(
    words: list[Rect], x: float, y: float, text: str, anchor: str = "start", style: str = "", size: float = LETTERS
) -> str:  # fmt: skip
    """A word with its base line at y; the room it takes is noted."""
    wide = text_width(text, size)
    left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
    words.append(Rect(left, y - 0.78 * size, left + wide, y + 0.22 * size, text))
    at = f' text-anchor="{anchor}"' if anchor != "start" else ""
    sort = f' class="{style}"' if style else ""
    return f'<text{sort} x="{x:.1f}" y="{y:.1f}"{at}>{clean(text)}</text>'


# Names ----------------------------------------------------------------------------------------


def _ends(
    traces: Sequence[Trace], tags: Sequence[str], pieces: dict[int, tuple[list[tuple[float, float]], ...]],
    across: _Axis, upward: _Axis, words: list[Rect],
) -> Iterator[str]:  # fmt: skip
    """A letter at the right end of each line, with a thin lead where it had to move aside."""
    ends = [
        (upward.at(pieces[id(one)][-1][-1][1]), one, tag)
        for one, tag in zip(traces, tags, strict=True)
        if pieces[id(one)]
    ]
    ends.sort(key=lambda end: end[0])
    last = [pieces[id(one)][-1][-1] for _, one, _ in ends]
    placed = spread([y for y, _, _ in ends], LINE, upward.end + 8.0, upward.begin - 8.0)
    for (y, one, tag), (t, _), moved in zip(ends, last, placed, strict=True):
        if abs(moved - y) > 1.0 or across.at(t) < across.end - 1.0:
            yield f'<path class="pw-lead" d="M{across.at(t):.1f} {y:.1f}L{across.end + 8.0:.1f} {moved:.1f}"/>'
        yield _word(words, across.end + 10.0, moved + 5.0, tag, style=f"pw-end pw-{one.style}", size=16.0)


def spread(places: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Rising places moved as little as need be so that they stand apart and, if there is room, between low and high."""
    found: list[float] = []
    for place in places:
        found.append(max(place, found[-1] + apart) if found else max(place, low))
    over = max(0.0, found[-1] - high) if found else 0.0
    for n in reversed(range(len(found))):
        limit = found[n + 1] - apart if n + 1 < len(found) else found[n] - over
        found[n] = min(found[n], limit)
    return found


def _key(
    traces: Sequence[Trace], tags: Sequence[str], band: Band | None, width: float, height: float, words: list[Rect]
) -> tuple[list[str], float]:  # fmt: skip
    """A row for each line below the field: how it is drawn, its letter and its name; the height of all."""
    out, y = [], height
    for one, tag in zip(traces, tags, strict=True):
        out.append(_line(one.style, f"M{PAD:g} {y + 10.0:.1f}L{PAD + SAMPLE:g} {y + 10.0:.1f}"))
        name = one.name if one.name == tag else f"{tag}: {one.name}" if one.name else tag
        for row in _rows(name, width - SAMPLE - 3 * PAD):
            out.append(_word(words, SAMPLE + 2 * PAD, y + 15.0, row))
            y += LINE
    if band is not None:
        out.append(f'<rect class="pw-band" x="{PAD:g}" y="{y + 2.0:.1f}" width="{SAMPLE:g}" height="16"/>')
        for row in _rows(band.name, width - SAMPLE - 3 * PAD):
            out.append(_word(words, SAMPLE + 2 * PAD, y + 15.0, row))
            y += LINE
    return out, y + PAD


def _rows(text: str, room: float) -> list[str]:
    """Words in rows no wider than the room; a word that is wider by itself is cut."""
    rows = [""]
    for word in (piece for one in text.split() for piece in _cut(one, room)):
        longer = f"{rows[-1]} {word}".strip()
        rows = [*rows[:-1], longer] if text_width(longer, LETTERS) <= room else [*rows, word]
    return rows


def _cut(word: str, room: float) -> Iterator[str]:
    """A word in pieces that are no wider than the room."""
    begin = 0
    for end in range(1, len(word) + 1):
        if text_width(word[begin:end], LETTERS) > room:
            yield word[begin : end - 1]
            begin = end - 1
    yield word[begin:]
