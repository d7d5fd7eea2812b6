"""A bench view as the page lays it out: letters, bars, the ruler, what each answer would mean."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from probewright.drawing import Mark, Note, Probes, draw
from probewright.jobs.asking_first import ASK_OWNER
from probewright.jobs.case_view import BenchView, FirstPowerView, comes_first
from probewright.jobs.cases import Case
from probewright.jobs.powering import LOOK, is_left_off
from probewright.jobs.ticking import noted
from probewright.jobs.view import (
    FINISH,
    ActionView,
    ClassView,
    NeedsYesView,
    RangeView,
    SuspectView,
    WordView,
    plain,
)  # fmt: skip
from probewright.machine import Machine
from probewright.machine.model import GROUND
from probewright.readings import SCOPED, Question, Reading, Setup, echo, setups
from probewright.readings.instruments import law_of
from probewright.readings.powering import NOTHING_FOUND
from probewright.report import bench as words
from probewright.report.text import conclusion, handbook, healthy, named, percent
from probewright.report.text import sources as words_of_sources
from probewright.units import sentence, write_reading
from probewright.web.urgent import PROBED, beforehand

SHOWN = 6  # chosen: rows of suspects that fit beside the card; each is given a letter
LEAST = 1e-9  # chosen: a share nearer to none or to all has no odds
UNKNOWN = "?"  # the letter of something that nobody listed
EVIDENCE = 0.1  # chosen, nat: weaker evidence is not worth a line
MOVED = 0.01  # chosen: a change of how sure below one in a hundred is called none
ANSWER_SO = re.compile(r" Answer: [^.]*\.")  # how a test names its answers, which are buttons on the page
DECADES = 20.0  # chosen: a ruler whose figures lie further apart than this factor is logarithmic
RULER = 430  # px, chosen: the ruler as drawn on a laptop

TITLES = {
    "reading": "Next reading", "swap": "Swap", "reverse": "Put it back", "provoke": "Provoke and see",
    "repair": "Repair", "ask owner": "Ask the owner", "stop": "Switch off now", "cool": "Keep it cool first",
    "listen": "Does it work now?", FINISH: "Finish the job",
}  # fmt: skip


@dataclass(frozen=True)
class SuspectRow:
    """A suspect as a row: how sure now and before the last line, in shares; evidence for and against.

    usual: its chance before any reading by both tables, "" on the symptom table, which has but one.
    """

    letter: str
    name: str
    now: float
    before: float
    figure: str
    moved: str
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    alike: tuple[str, ...]
    apart: str
    usual: str


@dataclass(frozen=True)
class Tick:
    """A mark on the ruler: px from the left, letters above it."""

    x: float
    letters: str


@dataclass(frozen=True)
class Ruler:
    """Where each suspect would read, the healthy band and both ends."""

    ticks: tuple[Tick, ...]
    band: tuple[float, float]
    low: str
    high: str
    in_words: str


@dataclass(frozen=True)
class Card:
    """The step to take now. black, red: where the probes go, "" where there are none; first: what
    to do before it, one by one; setting: the line that says it is done, "" when nothing is; done: what that is called;
    urgent: power, heat or charge: each of these is ticked before the entry box comes back; needs_yes: what the owner
    is asked first; mends: a part of the machine file is exchanged or mended;
    finishes: all works again, and the job is finished; answers: words to answer by, each a line and what its button
    says, none where a figure is asked for."""

    title: str
    do: str
    black: str
    red: str
    instrument: str
    setup: str
    healthy: str
    why: str
    minutes: str
    risk: str
    caution: str
    first: tuple[str, ...]
    setting: str
    done: str
    urgent: bool
    means: tuple[tuple[str, str, str], ...]
    ruler: Ruler | None
    picture: str
    asked: str
    needs_yes: NeedsYesView | None = None
    mends: bool = False
    finishes: bool = False
    answers: tuple[tuple[str, str], ...] = ()


def finding(view: BenchView) -> str:
    """The finding in words."""
    return conclusion(view.search)


def suspects(view: BenchView, letters: Mapping[str, str]) -> tuple[SuspectRow, ...]:
    """The leading suspects with what moved them last; those that read alike share a row."""
    found = []
    for one, others in rows(view):
        now = sum(each.probability for each in (one, *others))
        before = sum(_before(each, view) for each in (one, *others))
        alike = next((c for c in view.search.classes if one.id in c.members), None)
        heard = [e for e in one.evidence if abs(e.nats) > EVIDENCE]
        found.append(
            SuspectRow(
                letters.get(one.id, ""), named(one), now, before, percent(now), _moved(now, before),
                tuple(e.says for e in heard if e.nats > 0.0), tuple(e.says for e in heard if e.nats < 0.0),
                tuple(f"{percent(each.probability)} {named(each)}" for each in (one, *others)) if others else (),
                _apart(alike) if others and alike else "", _usual(one, view),
            )
        )  # fmt: skip
    return tuple(found)


def _apart(alike: ClassView) -> str:
    """What would tell look-alikes apart, also with an instrument that this bench has not."""
    said = f"To tell them apart: {alike.split_by}" if alike.split_by else ""
    return f"{said}. Or, {alike.beyond}" if alike.beyond else said


def _usual(one: SuspectView, view: BenchView) -> str:
    """ "usual: old machines 9 %, handbooks no row" of the suspect named in the row."""
    if view.case.depth == "symptoms":
        return ""
    return kept_together(f"usual: old machines {percent(one.prior)}, handbooks {handbook(one.handbook)}")


def sources(view: BenchView) -> tuple[str, ...]:
    """Where the two figures come from, each table once."""
    return () if view.case.depth == "symptoms" else tuple(words_of_sources(leaders(view)))


def rows(view: BenchView) -> list[tuple[SuspectView, tuple[SuspectView, ...]]]:
    """The rows of the list: the most probable of each class of look-alikes, and its others, most probable first."""
    classes = {member: tuple(one.members) for one in view.search.classes for member in one.members}
    found: dict[tuple[str, ...], list[SuspectView]] = {}
    for one in view.search.suspects:
        found.setdefault(classes.get(one.id, (one.id,)), []).append(one)
    ranked = sorted(found.values(), key=lambda row: -sum(one.probability for one in row))
    return [(row[0], tuple(row[1:])) for row in ranked[:SHOWN]]


def leaders(view: BenchView) -> list[SuspectView]:
    """The first of each row."""
    return [one for one, _ in rows(view)]


def _before(one: SuspectView, view: BenchView) -> float:
    """How sure it was before the last line."""
    return _earlier(one.probability, sum(e.nats for e in one.evidence if e.reading > view.counted_before))


def _earlier(now: float, nats: float) -> float:
    """How sure it was before evidence of this weight: weights add up in the log odds."""
    if not 0.0 < now < 1.0:
        return now
    odds = math.log(now / (1.0 - now)) - nats
    return 1.0 / (1.0 + math.exp(-max(-500.0, min(500.0, odds))))


def _moved(now: float, before: float) -> str:
    if abs(now - before) < MOVED:
        return "same"
    return kept_together(f"{'rose' if now > before else 'fell'} from {percent(before)}")


def changed(rows: tuple[SuspectRow, ...]) -> str:
    """Who rose and who fell by the last line."""
    rose = [_short(row) for row in rows if row.moved.startswith("rose")]
    fell = [_short(row) for row in rows if row.moved.startswith("fell")]
    said = [f"{', '.join(rose)} rose" if rose else "", f"{', '.join(fell)} fell" if fell else ""]
    return "; ".join(filter(None, said)) or "nobody moved much"


def _short(row: SuspectRow) -> str:
    return row.name if row.letter in ("", UNKNOWN) else row.letter


def card(
    view: BenchView, machine: Machine | None, letters: Mapping[str, str], now: Setup, choice: int = 0
) -> Card | None:
    """The step to take now, or another one that was offered; None when there is none. now: the set-up as it is."""
    choices = offered(view)
    action = choices[choice] if choice < len(choices) else view.card
    if action is None:
        return None
    names = {one.id: one.says for one in view.search.suspects} | words.STANDING
    probed = action.kind == "reading" and action.ask is not None and action.ask.instrument in PROBED
    ask = action.ask if probed else None
    before = beforehand(view, action, now, machine)
    split = split_by(action, letters)
    stop = view.card if view.card is not None and action != view.card and is_left_off(view.card, now) else None
    stays_off = f"Keep the power off: {stop.why}" if stop is not None else ""
    return Card(
        TITLES.get(action.kind, "Next"),
        ANSWER_SO.sub("", action.do),
        echo.spot(ask.black, machine) if ask else "",
        echo.spot(ask.red, machine) if ask else "",
        echo.instrument_words(ask) if ask else "",
        sentence(action.setup) if action.setup else "",
        _healthy(action),
        action.why,
        f"{action.minutes:.3g} min" if action.minutes else "",
        _risk(action),
        " ".join(filter(None, [stays_off, action.burst.says if action.burst else "", action.caution])),
        before.steps,
        before.line,
        before.done,
        bool(action.burst or action.clips or action.before),
        tuple(
            (one.if_, percent(one.chance), points(one.raises, letters, names, split))
            for one in (action.outcomes if action.kind != "repair" else ())
        ),
        ruler(view, action, letters) if choice == 0 else None,
        picture(machine, ask, view, letters),
        json.dumps(plain(action.ask)),
        action.needs_yes,
        action.kind == "repair" and view.case.depth != "symptoms",
        action.kind == FINISH,
        answers(action, machine),
    )  # fmt: skip


def answers(action: ActionView, machine: Machine | None) -> tuple[tuple[str, str], ...]:
    """Words to answer a step by, each as a line with what its button says; none where it asks for a figure."""
    if action.kind == "listen":
        return tuple((f"power on: {action.where} {how}", f"{action.where}: {how}") for how in ("ok", "bad"))
    if action.kind == LOOK:
        return ((NOTHING_FOUND, "Nothing found with the power off"),)
    if action.kind == "repair" and action.do.startswith(f"Fit a new {action.where}:"):
        return ((f"fitted a new {action.where}", f"A new {action.where} is fitted"),)
    if action.ask is None or action.needs_yes:
        return ()
    if action.ask.instrument == "test":
        return tuple((one.if_, one.if_) for one in action.outcomes)
    return tuple((one, one) for one in echo.offered(action.ask, machine))


def _risk(action: ActionView) -> str:
    """How the power stands for a step; nothing is touched while the owner is asked."""
    return "" if action.kind in (ASK_OWNER, FINISH) else "power on" if action.live else "power off or outside"


def first_power(view: BenchView | None, choice: int) -> FirstPowerView | None:
    """What comes before the step shown, where that needs the power on."""
    choices = offered(view) if view is not None else []
    action = choices[choice] if choice < len(choices) else choices[0] if choices else None
    return view.first_power if view is not None and comes_first(view.first_power, action) else None


ANSWERS = {
    "trips": "It trips",
    "series lamp stays bright": "Lamp stays bright",
    "series lamp goes dim": "Lamp goes dim",
    "first power done": "First power done",
}


def power_answers(view: FirstPowerView | None) -> list[tuple[str, str]]:
    """The lines that answer a first power, each with its button."""
    return [(line, ANSWERS[line]) for line in (view.answers if view is not None else ()) if line in ANSWERS]


def taken_at(ask: Question | None) -> str:
    """The card's place as it is said of a waveform, with its stimulus; "" where no oscilloscope is asked for."""
    if ask is None or ask.setup.power != "on" or ask.instrument not in (*SCOPED, "dc", "pp", "rms"):
        return ""
    place = ask.red if ask.black == GROUND else f"{ask.red} to {ask.black}"
    return f"{place} at {ask.setup.stimulus}" if ask.setup.stimulus else place


def offered(view: BenchView) -> list[ActionView | None]:
    """The step to take now, then the others."""
    return [view.card, *(one for one in view.search.actions if one != view.card)]


def split_by(action: ActionView, letters: Mapping[str, str]) -> set[str]:
    """Letters of rows that have members on both sides of a step."""
    said = Counter(at for one in action.outcomes for at in {letters[each] for each in one.raises if each in letters})
    return {at for at, sides in said.items() if sides > 1 and at != UNKNOWN}


def points(
    raises: tuple[str, ...], letters: Mapping[str, str], names: Mapping[str, str], split: Collection[str] = ()
) -> str:
    """Which suspects an answer raises; of a row that the step splits, which of its members."""
    if not raises:
        return "changes little"
    by_letter = {letters.get(one, one): one for one in reversed(raises)}  # look-alikes are said once
    said = {
        at: f"{at} {names.get(one, one)}" if one in letters and at != UNKNOWN else names.get(one, one)
        for at, one in by_letter.items()
    }
    points = ", ".join(words for at, words in said.items() if at not in split)
    splits = ", ".join(f"splits {at}: {names.get(by_letter[at], at)}" for at in said if at in split)
    return "; ".join(filter(None, (f"points to {points}" if points else "", splits)))


def _healthy(action: ActionView) -> str:
    told = "Healthy: " in action.do or (action.ask is not None and action.ask.instrument == "swap back")
    if told or action.kind in ("repair", ASK_OWNER, FINISH):
        return ""
    return healthy_words(action.healthy)


def healthy_words(usual: RangeView | WordView) -> str:
    """What a sound machine answers."""
    return kept_together(healthy(usual)) if isinstance(usual, RangeView) else usual.word


def kept_together(text: str) -> str:
    """The text with no line broken between a figure and its unit."""
    return re.sub(r"(?<=\d) (?=\S)(?!to )", "\N{NO-BREAK SPACE}", text)


def ruler(view: BenchView, action: ActionView, letters: Mapping[str, str]) -> Ruler | None:
    """Where the letters would read this card; logarithmic where they lie decades apart.

    What lies below the last digit of the instrument is nought there, and stands at the end of the ruler.
    """
    if not view.would_read or not isinstance(action.healthy, RangeView) or action.ask is None:
        return None
    nought, unit = law_of(action.ask).floor_sd, action.healthy.unit
    reads = {one.suspect: _read(one.mid, nought) for one in view.would_read}
    band = (_read(action.healthy.low, nought), _read(action.healthy.high, nought))
    figures = [*band, *reads.values()]
    if not all(math.isfinite(one) for one in figures):
        return None
    least, most = min(figures), max(figures)
    above = max(least, nought)
    log = least >= 0.0 < above and most > DECADES * above
    low = above if log else min(least, 0.0)
    span = math.log(most / low) if log else most - low
    if span <= 0.0:
        return None

    def at(figure: float) -> float:
        share = math.log(max(figure, low) / low) / span if log else (figure - low) / span
        return 10.0 + (RULER - 20.0) * share

    places: dict[int, list[str]] = {}
    for suspect, figure in reads.items():
        near = next((x for x in places if abs(x - at(figure)) < 22), round(at(figure)))  # letters are 22 px wide
        if letters.get(suspect, "") not in places.setdefault(near, []):
            places[near].append(letters.get(suspect, ""))
    said = "; ".join(f"{letters.get(one, '')} about {write_reading(figure, unit)}" for one, figure in reads.items())
    ticks = tuple(Tick(float(x), " ".join(names)) for x, names in sorted(places.items()))
    begins, ends = write_reading(least if log else low, unit), write_reading(most, unit)
    return Ruler(ticks, (at(band[0]), at(band[1])), begins, ends, said)


def _read(figure: float, nought: float) -> float:
    """A figure as the instrument would show it: nothing, where it is less than its last digit is good for."""
    return 0.0 if abs(figure) < nought else figure


def marks(view: BenchView, machine: Machine, letters: Mapping[str, str]) -> dict[str, Mark]:
    """Part of the machine -> letter and weight of the suspect on it that is most probable."""
    found: dict[str, Mark] = {}
    for one in (each for row, others in rows(view) for each in (row, *others)):
        for fault in one.faults:
            part = fault.item.partition(".")[0]
            if one.id in letters and part in machine.parts and part not in found:
                found[part] = Mark(letters[one.id], one.probability)
    return found


STROKES = {"zone": "dotted", "added": "dashed", "touched": "dashed and dotted"}  # how each outline is drawn


def notes(machine: Machine) -> dict[str, tuple[Note, ...]]:
    """Part -> its zones, that it was touched, its added board."""
    return {name: tuple(Note(sort, word) for sort, word in said) for name, said in noted(machine).items()}


def legend(found: Mapping[str, tuple[Note, ...]]) -> list[str]:
    """Each outline of the diagram in words, with its parts."""
    parts: dict[Note, list[str]] = {}
    for name, said in found.items():
        for one in said:
            parts.setdefault(one, []).append(name)
    return [f"{one.word}, {STROKES[one.sort]} outline: {', '.join(names)}" for one, names in parts.items()]


def picture(machine: Machine | None, ask: Question | None, view: BenchView, letters: Mapping[str, str]) -> str:
    """Where the probes go, on an excerpt of the diagram, as SVG; "" where no file knows the place."""
    if machine is None or ask is None:
        return ""
    around = ask.red if ask.red != GROUND else ask.black
    if around == GROUND or not all(machine.has_place(place) for place in (ask.red, ask.black)):
        return ""
    return draw(
        machine,
        around=around,
        marks=marks(view, machine, letters),
        notes=notes(machine),
        probes=Probes(ask.red, ask.black),
    ).svg


@dataclass(frozen=True)
class LineRow:
    """A line of the job, newest first. did: whom it speaks for and against; powered: read with power on;
    head: how the machine stood, said where a sitting begins; traced: it brought a waveform."""

    event: int
    text: str
    status: str
    says: tuple[str, ...]
    did: str
    powered: bool
    head: str
    traced: bool


def lines(case: Case, view: BenchView | None, letters: Mapping[str, str], machine: Machine | None) -> list[LineRow]:
    """The lines, newest first, under the sittings they were read in."""
    rows: list[LineRow] = []
    setup: Setup | None = None
    sitting = -1  # of the readings under the present head; none yet
    for line in case.lines:
        bench, head = line.bench, ""
        stood = None if bench is None else _stood(line.readings, bench.setup)
        if bench is not None and stood and (stood != setup or (line.readings and -1 < sitting != bench.sitting)):
            setup, sitting, head = stood, -1, setups.say(stood, machine)
        if bench is not None and line.readings:
            sitting = bench.sitting
        powered = stood is not None and bool(line.readings) and stood.power == "on"
        did = spoke(view, line.event, letters) if view else ""
        traced = line.capture is not None
        rows.append(LineRow(line.event, line.text, line.status, line.says, did, powered, head, traced))
    return _newest_first(rows)


def _stood(readings: Sequence[Reading], bench: Setup) -> Setup:
    """How the machine stood at a line: as the bench, where the line does not say its own power."""
    own = next((r.question.setup for r in readings if r.question.instrument in (*PROBED, "works")), bench)
    return own if own.power != bench.power else bench


def _newest_first(rows: list[LineRow]) -> list[LineRow]:
    """The rows turned round; a sitting's head goes above its newest line."""
    turned: list[LineRow] = []
    blocks: list[list[LineRow]] = [[]]
    for row in rows:
        if row.head:
            blocks.append([])
        blocks[-1].append(row)
    for block in reversed([one for one in blocks if one]):
        newest, *older = reversed(block)
        turned += [replace(newest, head=block[0].head), *(replace(row, head="") for row in older)]
    return turned


def spoke(view: BenchView, event: int, letters: Mapping[str, str]) -> str:
    """For which rows and against which a line speaks now, and of which it tells the members apart."""
    heard = [n for n, by in enumerate(view.said_by, 1) if by == event]
    said: dict[str, list[str]] = {"for": [], "against": [], "splits": []}
    for one, others in rows(view):
        row = (one, *others)
        nats = [sum(e.nats for e in each.evidence if e.reading in heard) for each in row]
        before = sum(_earlier(each.probability, weight) for each, weight in zip(row, nats, strict=True))
        way = _way(nats, _log_odds(sum(each.probability for each in row)) - _log_odds(before))
        if way and one.id in letters:
            said[way].append(one.says if letters[one.id] == UNKNOWN else letters[one.id])
    return "; ".join(f"{way} {', '.join(names)}" for way, names in said.items() if names)


def _way(nats: Sequence[float], moved: float) -> str:
    """ "for" or "against" a row that moved by this weight, "splits" where its members moved apart and it did not."""
    if abs(moved) > EVIDENCE:
        return "for" if moved > 0.0 else "against"
    return "splits" if min(nats) < -EVIDENCE and max(nats) > EVIDENCE else ""


def _log_odds(share: float) -> float:
    share = min(max(share, LEAST), 1.0 - LEAST)
    return math.log(share / (1.0 - share))
