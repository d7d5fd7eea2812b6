"""Taking a part out and putting one in, step by step: what to do for its package and its board, how often its pads were
hot, what each pin has to be joined to afterwards."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from probewright.jobs.bench import append, complaint, enter_line, machine_of, named_part, owned, readable, still_open
from probewright.jobs.cases import Case
from probewright.jobs.fits import FitSaid, Heated, heatings, how_often
from probewright.jobs.view import SCHEMA
from probewright.machine import Machine
from probewright.machine.model import Part
from probewright.machine.saying import nearest
from probewright.planning import fitting
from probewright.planning.fitting import DOUBLE, Package, Risk
from probewright.readings.setups import part_meant, parts_called, whole
from probewright.record import Book

OK, BAD = "ok", "bad"
MOST_HEATINGS = 20  # chosen: more at once is a slip
DESIGNATOR = re.compile(r"[A-Za-z]{1,4}\d{1,4}[A-Za-z]?")
BY_LETTER = {"R": "axial", "D": "axial", "L": "axial", "C": "radial", "Q": "TO-92", "T": "TO-92", "J": "connector-4",
             "V": "tube socket-9"}  # fmt: skip
ANY_CHIP = "DIP-14"  # chosen: what a part of another letter is taken for until somebody says
PIN_WORDS = {"pins": "about 0 ohm", "apart": "no beep"}
NO_FILE = "No machine file names its pins: write down where each leads before it comes out, and try each afterwards."
ORDER = "Side by side by the usual order of pins: compare with your photograph."


@dataclass(frozen=True)
class FitItemView:
    """A step, or a pin to be tried. number: from 1; phase: "before", "out", "clear", "in", "after", "pins" (each has to
    beep to its next parts) or "apart" (neighbours that must not beep); done: "", "ok" or "bad"; event: to take it
    back."""

    number: int
    key: str
    phase: str
    says: str
    done: str
    at: str
    event: int
    words: str


@dataclass(frozen=True)
class HeatView:
    """Pads that were hot. event: of the line, or of the word that can be taken back where hand is true."""

    event: int
    at: str
    says: str
    times: int
    hand: bool


@dataclass(frozen=True)
class FitListView:
    """How to take a part out and put one in.

    package, pins, board: as said, or as taken (package_said, board_said tell which); kept: it shall live; cares: what
    to mind; heatings: how often its pads were hot, heated: when; next: what this time takes and harms; done: every item
    is; proposal: the line for the bench that follows, "" for none; notes: what is not known.
    """

    job: int
    part: str
    package: str
    pins: int
    package_said: bool
    board: str
    board_said: bool
    kept: bool
    heatings: int
    heated: tuple[HeatView, ...]
    next: Risk
    cares: tuple[str, ...]
    items: tuple[FitItemView, ...]
    notes: tuple[str, ...]
    proposal: str
    done: bool
    schema: str = SCHEMA


# What a person says --------------------------------------------------------------------------


def say_fit(
    book: Book, case: Case, part: str, now: str, package: str = "", board: str = "", kept: bool | None = None
) -> Case:  # fmt: skip
    """Say what package a part is in, what board it sits on, whether it shall live; "" and None leave what was said."""
    still_open(case)
    name, _ = _meant(case, part)
    before = _said(case, name)
    new = replace(before, event=0, part=name, kept=before.kept if kept is None else kept)
    if package:
        if fitting.package(package) is None:
            known = fitting.packages()
            mend = "write it with its pins, like `DIP-16`" if fitting.package(package, 2) else nearest(package, known)
            raise complaint(f"{package!r} is no package with its pins", mend)
        new = replace(new, package=package)
    if board:
        found = fitting.board(board)
        if not found:
            raise complaint(f"{board!r} is no kind of board", nearest(board, fitting.boards()))
        new = replace(new, board=found)
    if replace(before, event=0, part=name) == new:
        return case
    payload = {"part": name, "package": new.package, "board": new.board, "kept": new.kept}
    return append(book, case, "fit said", payload, now)


def tick_fit(book: Book, case: Case, part: str, number: int, answer: str, words: str, now: str) -> Case:
    """A step is done, or a pin was tried. number: as listed; answer: OK or BAD; words: what was seen."""
    still_open(case)
    readable(words)
    view = fit_list(case, part)
    found = next((one for one in view.items if one.number == number), None)
    if found is None or answer not in (OK, BAD):
        raise complaint(f"the list of {view.part} has no {number}", f"see it: `probewright fit-list {view.part}`")
    payload = {"part": view.part, "item": found.key, "answer": answer, "words": words.strip()}
    return append(book, case, "fit ticked", payload, now)


def heat_fit(book: Book, case: Case, part: str, times: int, words: str, now: str, once: str = "") -> Case:
    """Its pads were hot so often, as nobody said at the bench: by earlier hands, or at a try that failed. once: mark of
    the form, which counts once however often it is sent."""
    still_open(case)
    readable(words)
    name, _ = _meant(case, part)
    if not 1 <= times <= MOST_HEATINGS:
        raise complaint(f"{times} heatings cannot be", "write how often its pads were hot, like 1")
    told, known = (name, times, words.strip()), case.fits.heated
    if once and any(one.once == once and (one.part, one.times, one.words) == told for one in known):
        return case
    payload = {"part": name, "times": times, "words": words.strip(), **({"once": once} if once else {})}
    return append(book, case, "pads heated", payload, now)


def begin_fit(book: Book, case: Case, part: str, now: str) -> Case:
    """The work on a part begins anew, with no step done."""
    still_open(case)
    return append(book, case, "fit anew", {"part": _meant(case, part)[0]}, now)


def take_back_fit(book: Book, case: Case, event: int, now: str) -> Case:
    """A tick, a heating said by hand, or what was said of a part, entered by mistake."""
    still_open(case)
    known = {one.event for some in (case.fits.said, case.fits.ticks, case.fits.heated) for one in some}
    if event not in known:
        raise complaint(
            f"job {case.number} has nothing {event} to take back", "see its numbers: `probewright fit-list`"
        )
    return append(book, case, "fit gone", {"event": event}, now)


def number_of(case: Case, part: str, key: str) -> int:
    """The number that the item of this key has in the list now. BadInput where it is not listed any more."""
    view = fit_list(case, part)
    found = next((one.number for one in view.items if one.key == key), None)
    if found is None:
        raise complaint(f"this is not in the list of {view.part} any more", "look at the list as it is now")
    return found


def say_fitted(book: Book, case: Case, part: str, now: str) -> Case:
    """Enter the proposed line at the bench: a person said so."""
    view = fit_list(case, part)
    if not view.proposal:
        raise complaint(f"no line is proposed for {view.part}", "tick its joints first")
    return enter_line(book, case, view.proposal, now)


def _meant(case: Case, said: str) -> tuple[str, tuple[Part, ...]]:
    """A part or case by its name in the file, with the parts in it; by the name as said where no file knows any."""
    machine = machine_of(case)
    readable(said)
    word = said.strip()
    if machine is None:
        if not DESIGNATOR.fullmatch(word):
            raise complaint(f"{word!r} is no name of a part", "write it as printed on the board, like U3")
        return word.upper(), ()
    name = whole(named_part(machine, word), machine)
    return name, tuple(machine.parts[one] for one in parts_called(machine, name))


# Where it stands -----------------------------------------------------------------------------


def fit_list(case: Case, part: str) -> FitListView:
    """Steps, cautions, heatings and pins of a part. BadInput for one that the machine does not have, or a practice."""
    owned(case)
    name, parts = _meant(case, part)
    machine, said = machine_of(case), _said(case, name)
    package, board = _package(said, name, parts), said.board or DOUBLE
    hot = heatings(case, name, [one.name for one in parts])
    often = how_often(hot)
    items = tuple(_items(case, name, package, board, said.kept, machine, parts))
    return FitListView(
        case.number, name, package.name, package.pins, bool(said.package), board, bool(said.board), said.kept, often,
        tuple(HeatView(one.event, one.at, _hot_says(one), one.times, one.hand) for one in hot),
        fitting.risk(package.pins, often), fitting.cares(package, board), items, tuple(_notes(machine, items)),
        _proposal(case, name, said, hot), bool(items) and all(one.done == OK for one in items),
    )  # fmt: skip


def times_hot(case: Case, part: str) -> int:
    """How often the pads of a part were hot; by that name where no machine file has it."""
    machine = machine_of(case)
    if machine is None or not part_meant(part, machine):
        return how_often(heatings(case, part, ()))
    name, parts = _meant(case, part)
    return how_often(heatings(case, name, [one.name for one in parts]))


def parts_listed(case: Case) -> tuple[str, ...]:
    """Parts and cases of the machine file that are soldered in, by name; none without a file."""
    machine = machine_of(case)
    parts = machine.parts.values() if machine is not None else ()
    return tuple(dict.fromkeys(one.package or one.name for one in parts if one.role == "part"))


def _said(case: Case, name: str) -> FitSaid:
    """What was last said of a part; its board as last said of any."""
    mine = next((one for one in reversed(case.fits.said) if one.part == name), FitSaid(0, name))
    board = mine.board or next((one.board for one in reversed(case.fits.said) if one.board), "")
    return replace(mine, board=board)


def _package(said: FitSaid, name: str, parts: Sequence[Part]) -> Package:
    if parts:
        package = fitting.package(said.package) or fitting.usual(parts)
        return replace(package, round="") if fitting.fits_either_way(package, parts) else package
    if told := fitting.package(said.package):
        return told
    found = fitting.package(BY_LETTER.get(name[0], ANY_CHIP)) or fitting.package(ANY_CHIP)
    assert found is not None  # both tables are ours
    return found


def _items(
    case: Case, name: str, package: Package, board: str, kept: bool, machine: Machine | None, parts: Sequence[Part]
) -> Iterator[FitItemView]:  # fmt: skip
    listed = [(one.key, one.phase, one.says) for one in fitting.steps(package, board, not kept)]
    if machine is not None:
        listed += [(f"pin {one.pin}", "pins", _pin_says(one)) for one in fitting.pin_checks(machine, parts)]
        listed += [(f"apart {' '.join(one.pins)}", "apart", _apart_says(one)) for one in fitting.aparts(machine, parts)]
    for number, (key, phase, says) in enumerate(listed, 1):
        told = case.fits.last_tick(name, key)
        if told is None:
            yield FitItemView(number, key, phase, says, "", "", 0, "")
        else:
            yield FitItemView(number, key, phase, says, told.answer, told.at, told.event, told.words)


def _pin_says(one: fitting.PinCheck) -> str:
    more = f" and {one.more} more on {one.net}" if one.more else ""
    return f"{one.pin} → {', '.join(one.to)}{more}: {PIN_WORDS['pins']}"


def _apart_says(one: fitting.Apart) -> str:
    a, b = one.pins
    return f"{a} and {b}: " + (f"may beep, through {one.through}" if one.through else PIN_WORDS["apart"])


def _hot_says(one: Heated) -> str:
    return one.words or "said by hand"


def _notes(machine: Machine | None, items: Sequence[FitItemView]) -> Iterator[str]:
    if machine is None:
        yield NO_FILE
    if any(one.phase == "apart" for one in items):
        yield ORDER


def _proposal(case: Case, name: str, said: FitSaid, hot: Sequence[Heated]) -> str:
    """ "new U3 fitted", once its joints are soldered and no line says so since."""
    soldered = case.fits.last_tick(name, "solder")
    told = max((one.event for one in hot if one.words == f"new {name} fitted"), default=0)
    return f"new {name} fitted" if soldered and not said.kept and soldered.event > told else ""
