"""What a recorded job looks like from outside, and the way back from plain values to views."""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Mapping
from typing import Any

from probewright.jobs.coming_back import BeforeView
from probewright.jobs.pictures import Picture
from probewright.jobs.view import SCHEMA, ActionView, ClockView, JobView, RangeView, is_powered, needs_power

TOO_MUCH = "the last time too much flowed"  # how a first power after a trip gives its reason


@dataclasses.dataclass(frozen=True)
class CaptureView:
    """A waveform from a file. name: under which it is kept; file: as it was called; channel: from 1."""

    name: str
    file: str
    place: str
    channel: int


@dataclasses.dataclass(frozen=True)
class LineView:
    """One typed line. status: "counts", "asked", "note" or "undone"; says: what was understood or asked back;
    capture: the waveform that its readings were taken from."""

    event: int
    at: str
    text: str
    status: str
    says: tuple[str, ...]
    capture: CaptureView | None = None


@dataclasses.dataclass(frozen=True)
class CaptureShown:
    """A waveform shown again. line: that brought it; picture: SVG."""

    job: int
    line: LineView
    picture: str
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class ToolView:
    """An instrument, and whether this bench has it."""

    name: str
    here: bool


@dataclasses.dataclass(frozen=True)
class PaceView:
    """Minutes of one step: as usual, as learnt from so many gaps between lines, as somebody told of this bench."""

    row: str
    says: str
    usual: float
    learnt: float | None
    gaps: int
    told: float | None

    @property
    def counts(self) -> float:
        """The minutes that are reckoned with."""
        return next(one for one in (self.told, self.learnt, self.usual) if one is not None)


@dataclasses.dataclass(frozen=True)
class KitView:
    """What this bench has, and its minutes. told: somebody said which instruments it has; trained: for live parts that
    can kill."""

    told: bool
    trained: bool
    tools: tuple[ToolView, ...]
    paces: tuple[PaceView, ...]
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class StepView:
    """A look or a swap to be made before anything is measured."""

    name: str
    do: str
    minutes: float
    caution: str
    done: bool


@dataclasses.dataclass(frozen=True)
class ComplaintView:
    """What was said when the machine came in."""

    kind: str
    model: str
    owner: str
    ticks: dict[str, str]
    words: str
    when: str
    inside: str
    boards: str
    serial: str
    left: str


@dataclasses.dataclass(frozen=True)
class ClosedView:
    """How a job ended."""

    ending: str
    words: str
    at: str


@dataclasses.dataclass(frozen=True)
class SpotView:
    """A place marked on a picture. x, y: shares of its width and height, 0..1 from the upper left corner."""

    place: str
    x: float
    y: float


@dataclasses.dataclass(frozen=True)
class PhotoView:
    """A photograph or scanned sheet of the job. name: of its file; width, height: in dots; says: its caption."""

    name: str
    width: int
    height: int
    says: str
    sheet: bool
    spots: tuple[SpotView, ...]


@dataclasses.dataclass(frozen=True)
class ZoneView:
    """Where something acted on all that lies there, as it was said. kind: "leak", "liquid", "heat", "earlier work"."""

    kind: str
    says: str
    places: tuple[str, ...]
    around: bool


@dataclasses.dataclass(frozen=True)
class OwnerView:
    """What the owner said to a step that cannot be taken back. event: its line; wish: in words; answer: "yes", "no"."""

    event: int
    at: str
    wish: str
    answer: str
    words: str


@dataclasses.dataclass(frozen=True)
class CaseView:
    """A job as its record tells it, without what is likely: that needs computing.

    depth: what the search rests on: "symptoms", "chain", "shelf" or "file"; erased: when the owner's data
    was taken out; practice: its machine is made up; before: where it was here before; elsewhere: a job of another
    bench; again: that it came back with the same, and as which job, where the whole book was looked at.
    """

    job: int
    complaint: ComplaintView
    opened: str
    touched: str
    depth: str
    lines: tuple[LineView, ...]
    closed: ClosedView | None
    photos: tuple[PhotoView, ...]
    zones: tuple[ZoneView, ...]
    erased: str = ""
    practice: bool = False
    owner: tuple[OwnerView, ...] = ()
    before: BeforeView | None = None
    elsewhere: bool = False
    again: str = ""
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class ReadsView:
    """What the card's question would read if this suspect were the fault: nine in ten lie in low..high."""

    suspect: str
    low: float
    mid: float
    high: float


@dataclasses.dataclass(frozen=True)
class FeedView:
    """A supply at first power. place: net of its plus; volts: its own; limit: A to set a bench supply to; low, high: A
    of 19 in 20 sound machines. None where nobody knows."""

    part: str
    place: str
    volts: float
    limit: float | None
    low: float | None
    high: float | None


@dataclasses.dataclass(frozen=True)
class DrawsView:
    """What a suspect would take from a supply, A; held: the limit would hold it."""

    suspect: str
    feed: str
    amps: float
    held: bool
    says: str


@dataclasses.dataclass(frozen=True)
class RailView:
    """A net to watch at first power: V of a sound machine, V at which the power goes off, and V that the file says it
    must be above, 0 where it says none."""

    net: str
    low: float
    high: float
    stop: float
    least: float = 0.0


@dataclasses.dataclass(frozen=True)
class FirstPowerView:
    """The first power after the machine was opened or mended, before any step with power on.

    because: why it is due; ready: its figures were worked out; way: "bench supply" or "series lamp"; lamp: W of that
    lamp, 0 where nobody knows; how: what to connect; takes: what a sound machine takes; watch: what to look at; off:
    when to switch off at once; lasts: how long; setting: the set-up line of the bench supply, "" for a lamp;
    answers: lines that answer it; check: what would kill the part that was fitted last, to be checked before.
    """

    because: str
    ready: bool
    way: str = ""
    lamp: float = 0.0
    how: tuple[str, ...] = ()
    feeds: tuple[FeedView, ...] = ()
    draws: tuple[DrawsView, ...] = ()
    rails: tuple[RailView, ...] = ()
    takes: tuple[str, ...] = ()
    watch: tuple[str, ...] = ()
    off: tuple[str, ...] = ()
    lasts: str = ""
    setting: str = ""
    answers: tuple[str, ...] = ()
    check: tuple[str, ...] = ()


@dataclasses.dataclass(frozen=True)
class BenchView:
    """Where a job stands and what to do next.

    first: leads, extras and looks, before anything is measured; card: the step to take now;
    learnt: what healthy values were learnt from, in a sentence, "" when nothing was; loading: how much of the card's
    reading the instrument takes itself, "" when little; measure_first:
    the one unknown worth measuring, "" when none; left_out: readings kept but not weighed, with why;
    counted_before: how many of the search's readings were there before the last line that counts;
    said_by: for each of the search's readings the line (event) it came with, 0 for a tick of the intake;
    would_read: what the card's question reads under each leading suspect; first_power: what comes before any step with
    power on, None where it was made; clock: how long the power may be on now, None with every heatsink on or where no
    limit is near.
    """

    case: CaseView
    first: tuple[StepView, ...]
    card: ActionView | None
    learnt: str
    loading: str
    measure_first: str
    left_out: tuple[str, ...]
    counted_before: int
    said_by: tuple[int, ...]
    would_read: tuple[ReadsView, ...]
    search: JobView
    first_power: FirstPowerView | None = None
    clock: ClockView | None = None
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class TickView:
    """One thing of a zone to be checked: a net, a joint or a piece of copper, from red to black, each a place.

    ohms: of a healthy machine with power off, volts: with power on, None where no figure is known; done: a reading
    that counts was taken there.
    """

    kind: str
    where: str
    red: str
    black: str
    ohms: RangeView | None
    volts: RangeView | None
    done: bool


@dataclasses.dataclass(frozen=True)
class ZoneListView:
    """A zone of the job or of its file: what it raises, what the file does not know, and every net and joint of it."""

    kind: str
    says: str
    parts: tuple[str, ...]
    touched: tuple[str, ...]
    unknown: tuple[str, ...]
    checks: tuple[TickView, ...]


@dataclasses.dataclass(frozen=True)
class ZonesView:
    """Every zone of a job, to be checked net by net. setup: how the machine stands for the volts."""

    job: int
    setup: str
    zones: tuple[ZoneListView, ...]
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class TaughtRowView:
    """A healthy value in words: the place, the figure, and a hint where it weighs nothing here, "" where it does."""

    where: str
    figure: str
    hint: str


@dataclasses.dataclass(frozen=True)
class LessonView:
    """Healthy values and what taught them. event: the line that took them over, 0 for readings of this very job."""

    source: str
    event: int
    rows: tuple[TaughtRowView, ...]


@dataclasses.dataclass(frozen=True)
class TeacherView:
    """Another job of the model that can teach this one, and how many healthy readings it has."""

    job: int
    says: str
    readings: int


@dataclasses.dataclass(frozen=True)
class TaughtView:
    """What was learnt on this job: from the sister, from a channel that works, from other jobs; and who could teach."""

    job: int
    model: str
    lessons: tuple[LessonView, ...]
    teachers: tuple[TeacherView, ...]
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class CaseListView:
    """Every job, oldest first."""

    jobs: tuple[CaseView, ...]
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class MatchView:
    """A free name and the place it is taken for; "" when the person must say; others: candidates."""

    name: str
    place: str
    others: tuple[str, ...]


@dataclasses.dataclass(frozen=True)
class TieView:
    """What tying a machine file to a job would do, or did."""

    job: int
    file: str
    done: bool
    matches: tuple[MatchView, ...]
    functions: dict[str, str]
    left_out: tuple[str, ...]
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class StageView:
    """A stage of the shelf and the values it asks for."""

    name: str
    title: str
    asks: tuple[str, ...]


@dataclasses.dataclass(frozen=True)
class ShelfView:
    """Every stage of the shelf."""

    stages: tuple[StageView, ...]
    schema: str = SCHEMA


def view_photos(photos: tuple[Picture, ...]) -> tuple[PhotoView, ...]:
    """The pictures of a job with what is marked on them."""
    return tuple(
        PhotoView(
            one.name, one.width, one.height, one.says, one.sheet,
            tuple(SpotView(spot.place, spot.x, spot.y) for spot in one.spots),
        )
        for one in photos
    )  # fmt: skip


def typed(kind: Any, plain: Any) -> Any:
    """The view that `view.plain` made these plain values from.

    kind: a view class or the type of one of its fields. A field that an older version did not know is as it is by
    default; KeyError where it has no default.
    """
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        hints, make = typing.get_type_hints(kind), typing.cast("typing.Callable[..., Any]", kind)
        known = [f for f in dataclasses.fields(kind) if f.name.rstrip("_") in plain or not _has_default(f)]
        return make(**{f.name: typed(hints[f.name], plain[f.name.rstrip("_")]) for f in known})
    origin, inside = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        return None if plain is None else _one_of(inside, plain)
    if origin is tuple:
        return tuple(typed(inside[0], one) for one in plain)
    if origin is dict:
        return {key: typed(inside[1], value) for key, value in plain.items()}
    if kind is float:
        return float("inf") if plain == "OL" else float(plain)
    return plain


def _one_of(kinds: tuple[Any, ...], plain: Any) -> Any:
    """The member of a union that has these fields, and no other without a default."""
    for kind in kinds:
        if not dataclasses.is_dataclass(kind) or not isinstance(plain, Mapping):
            continue
        needed = {f.name.rstrip("_") for f in dataclasses.fields(kind) if not _has_default(f)}
        if needed <= set(plain) <= {f.name.rstrip("_") for f in dataclasses.fields(kind)}:
            return typed(kind, plain)
    simple = [kind for kind in kinds if kind is not type(None) and not dataclasses.is_dataclass(kind)]
    return typed(simple[0], plain)


def _has_default(one: dataclasses.Field[Any]) -> bool:
    return one.default is not dataclasses.MISSING or one.default_factory is not dataclasses.MISSING


def comes_first(power: FirstPowerView | None, action: ActionView | None) -> bool:
    """Whether this first power stands before a step. After a trip it does before whatever ends with power on."""
    if power is None or action is None:
        return False
    return needs_power(action) if power.because.startswith(TOO_MUCH) else is_powered(action)
