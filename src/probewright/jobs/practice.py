"""A practice: a person measures a made-up machine with a hidden fault, line by line, and names what is wrong with it.

It is a job of its own kind in a book. Its intake holds the key of the hidden machine, so that it goes on after a
restart; nothing is ever learnt from it. What is asked for with `?` is answered by the made-up bench, with the errors of
its meter and the slips of its hand.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from copy import copy
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from typing import Any

from probewright import __version__
from probewright.errors import BadInput, Complaint
from probewright.hypotheses import NOT_LISTED, Suspect
from probewright.jobs.bench import Understood, append, complaint, find_case, machine_of, readable, understand
from probewright.jobs.blanks import ABOUT_FAULT, as_typed, filled, questions
from probewright.jobs.cases import COUNTS, Case, Intake, Line
from probewright.jobs.keeping import keep_bench, keep_reading
from probewright.jobs.pretend_bench import PretendBench
from probewright.jobs.rehearsing import Rehearsals, Terms
from probewright.jobs.spending import OWNER
from probewright.machine import Machine
from probewright.machine import read as read_machine
from probewright.machine.saying import nearest
from probewright.readings import DRAWN, PROVOKE, Question, Reading, Setup, echo, setups
from probewright.readings.bench import Bench
from probewright.readings.doubts import BOARD_LINE
from probewright.readings.instruments import METERED
from probewright.record import Book

CURRENT = re.compile(r"(?i)\b(?:current|amps?)\b")
PRACTICE_LINE = "write what you would measure, like `VCC ? V`, `R5 ? ohm` or `power off`"
KIND = "practice"  # kind of machine of such a job; it has no tick list
ANSWERED = (
    *(one for one in METERED if one != DRAWN),
    "share",
    "beep",
    "works",
    "swap",
    "swap back",
    PROVOKE,
)  # what a made-up bench can tell
NAMED, MENDED, GAVE_UP = "named", "mended", "gave up"  # how a practice ends
SAYING_SO = re.compile(r"(?i)^\s*(?:i\s+(?:say|think)\s+)?(?:it|that)(?:\s+is|['’]?s)\s+(?P<what>.+?)[\s.!]*$")


# Opening ---------------------------------------------------------------------------------------


def open_practice(book: Book, text: str, file: str, key: str, now: str) -> Case:
    """A practice on a machine file: a machine that its owner rightly complains of is made up, and what is said of it
    is the first line.

    key: of all that is drawn; the same key makes the same machine. BadInput for a file that is none, or that says of
    too little what works.
    """
    hidden = make_up(text, file, key)
    machine, said = hidden.machine, hidden.owner()
    words = in_owners_words(said)
    intake = Intake(KIND, model=machine.name, words=words, practice=hidden.key)
    event = book.open_job(asdict(intake), now, __version__)
    case = find_case(book, event.job)
    known = {"text": f"practice on {file}", "machine": text, "file": file, "names": {}, "functions": {}, "says": []}
    case = append(book, case, "file", known, now)
    return append(book, case, "said", _owners_line(words, said, machine), now)


@lru_cache(maxsize=2)  # what takes long can be done before others are kept from writing
def make_up(text: str, file: str, key: str) -> PretendBench:
    """The machine of this key that its owner rightly complains of. BadInput where the file lets nobody complain."""
    machine = read_machine(text, file)
    try:
        if machine.works:
            return Rehearsals(machine, Terms(key, brought=True)).bench(0)
        wrong = "the machine file does not say what should work, so no owner can complain"
    except BadInput as bad:
        wrong = bad.complaints[0].text
    raise complaint(wrong, "say under `works:` what its owner would miss")


# the machine of a key, and how many were made up before it of which nobody would complain
MADE = re.compile(r"rehearsal (?P<key>.*?) 0(?: \d+)?")


def key_of(practice: str) -> str:
    """The key that a practice was opened with, of what its intake keeps."""
    found = MADE.fullmatch(practice)
    return found["key"] if found else practice


def in_owners_words(said: Sequence[Reading]) -> str:
    """ "hum ok, titles no picture"."""
    return ", ".join(f"{one.question.red} {echo.degree(one)}" for one in said)


def _owners_line(words: str, said: Sequence[Reading], machine: Machine) -> dict[str, Any]:
    """The payload of a line with what the owner says; it takes no time and leaves the bench as it was."""
    return {
        "text": words, "readings": [keep_reading(replace(one, text=words)) for one in said],
        "says": [f"the owner: {echo.answer(one, machine)}" for one in said], "bench": keep_bench(Bench()),
        "marked": {}, "sure": True, "zones": [],
    }  # fmt: skip


def is_owners(line: Line) -> bool:
    """Whether this line is what the owner said when the machine came in."""
    return bool(line.readings) and all(one.hookup.startswith(OWNER) for one in line.readings)


def hidden_of(case: Case) -> PretendBench:
    """The made-up machine of a practice, its hand as far as the lines have used it."""
    known = case.known
    assert known is not None, "a practice begins with its machine"
    made = copy(_made_up(known.text, known.file, case.practice))  # what it has solved is shared, its hand is not
    made.hookups = sum(len(line.readings) for line in case.lines)
    return made


@lru_cache(maxsize=4)  # chosen: few practise at once, and what a machine has solved for one reading serves the next
def _made_up(text: str, file: str, key: str) -> PretendBench:
    return Rehearsals(read_machine(text, file), Terms("")).made_up(key)


# Measuring -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Wanted:
    """What a line of a practice wants: answers to these questions, in order, or, where it asks nothing, what was
    understood of it."""

    line: str
    asks: tuple[Question, ...] = ()
    made: Understood | None = None


def want(case: Case, text: str) -> Wanted:
    """What a line wants; nothing is answered yet. BadInput for one that is not clear, or that brings its own figure."""
    _on(case)
    readable(text)
    machine = machine_in(case)
    if CURRENT.search(text):
        raise complaint("of a made-up machine no current is told", "ask for the volts across a resistor instead")
    if "?" not in text:
        return _without_blank(case, machine, text)
    asks = questions(case, machine, text)
    for ask in asks:
        _answerable(ask)
    return Wanted(text, asks)


def _without_blank(case: Case, machine: Machine, text: str) -> Wanted:
    """A set-up, a repair, a sum or a remark; or an exchange or a tap, of which only the answer is missing."""
    made = understand(case, text, sure=True)
    if made.kind == "owner":
        raise complaint("nobody has to be asked: the machine is made up", "go on as if its owner had said yes")
    if made.kind != "asked" and not (made.heard and made.heard.readings):
        return Wanted(text, made=made)
    if asks := _without_word(case, machine, text):
        return Wanted(f"{text.rstrip(' .!')}: ?", asks)
    if made.kind != "asked":
        raise complaint("this line brings its own figure", "write `?` for it: the made-up machine answers")
    if _without_word(case, machine, text, live=True):
        raise complaint("what that does to the fault is seen with power on", "write `power on` first")
    if changed := _set_up(case, text):
        return Wanted(text, made=changed)
    raise _asked_back(made)


def _set_up(case: Case, text: str) -> Understood | None:
    """ "lift R4.1", "power on, voice": a change of the set-up, said as short as that; None for anything else."""
    whole = text if text.casefold().lstrip().startswith("power") else f"{setups.write(case.bench.setup)}, {text}"
    made = understand(case, f"set-up: {whole}", sure=True)
    return made if made.kind == "said" else None


def _asked_back(made: Understood) -> BadInput:
    """The doubts about a line; where nothing in it was understood, with what can be typed in a practice."""
    doubts = made.heard.doubts if made.heard else ()
    mends = {BOARD_LINE: PRACTICE_LINE}
    return BadInput(*(Complaint("", 1, one.column or 1, one.text, mends.get(one.mend, one.mend)) for one in doubts))


def _without_word(case: Case, machine: Machine, text: str, live: bool = False) -> tuple[Question, ...] | None:
    """The one question of "swapped LEAD" or "tapped C4"; None for any other line. live: as if power were on."""
    try:
        asks = questions(case, machine, f"{text.rstrip(' .!')}: ?", live)
    except BadInput:
        return None
    return asks if len(asks) == 1 and asks[0].instrument in ABOUT_FAULT else None


def _answerable(ask: Question) -> None:
    if ask.setup.sister:
        raise complaint("there is no sister machine in a practice", "ask for the reading on this one")
    if ask.instrument not in ANSWERED:
        raise complaint(
            f"the made-up machine cannot tell {echo.where(ask)} that way",
            "ask for volts, ohms, what a scope shows, a swap or a tap",
        )


def enter(book: Book, case: Case, text: str, now: str, once: str = "") -> Case:
    """One line of a person: what is asked for is answered by the made-up machine and counts, a set-up or a repair
    stands, a sum is kept. A repair that cures ends the practice.

    once: mark of the form it came by. BadInput for a line that is not clear; nothing is kept and no time goes by.
    """
    if is_sent(case, once):
        return case
    wanted = want(case, text)
    if not wanted.asks:
        assert wanted.made is not None
        return _kept(book, case, wanted.made, now, once)
    hidden = hidden_of(case)
    said = [_says(hidden, ask) for ask in wanted.asks]
    line = filled(wanted.line, said)
    if len(said) == 1 and wanted.asks[0].instrument == "works":
        line = f"{wanted.asks[0].red}: {said[0]}"  # the file's own words need the colon
    return _kept(book, case, _sure(understand(case, line, sure=True)), now, once)


def measure(book: Book, case: Case, ask: Question, now: str, once: str = "") -> Case:
    """What the card asks: the set-up it needs is made as a line of its own where it is another, then it is read.

    BadInput where the made-up machine has no answer.
    """
    if is_sent(case, once):
        return case
    _on(case)
    _answerable(ask)
    said = _says(hidden_of(case), ask)
    there = replace(ask.setup, stimulus=ask.setup.stimulus or case.bench.setup.stimulus, bare=case.bench.setup.bare)
    if there != case.bench.setup:
        case = append_made(book, case, understand(case, f"set-up: {setups.write(there)}", sure=True), now, "")
    made = _sure(understand(case, said, ask, sure=True))
    told = {**made.payload, "text": f"{echo.where(ask)} {said}"}
    return _kept(book, case, replace(made, payload=told), now, once)


def is_sent(case: Case, once: str) -> bool:
    """Whether a line came by this form already."""
    return bool(once) and any(line.once == once for line in case.lines)


def _says(hidden: PretendBench, ask: Question) -> str:
    """What the made-up machine shows, as a person would type it."""
    found = hidden.answers(ask)
    if not found:
        raise complaint(f"{echo.where(ask)} cannot be told on this machine", "ask at another place, or otherwise")
    return as_typed(found[0])


def _sure(made: Understood) -> Understood:
    """What was understood of an answered line. BadInput where it is still asked back."""
    if made.kind == "asked":
        raise _asked_back(made)
    return made


def append_made(book: Book, case: Case, made: Understood, now: str, once: str) -> Case:
    """A line of a practice, in the record."""
    return append(book, case, made.kind, {**made.payload, "once": once} if once else made.payload, now)


def _kept(book: Book, case: Case, made: Understood, now: str, once: str) -> Case:
    before, case = case.bench, append_made(book, case, made, now, once)
    repaired = (case.bench.fitted, case.bench.mended) != (before.fitted, before.mended)
    if repaired and not hidden_of(case).left(_repaired(case.bench)):
        return _ended(book, case, MENDED, hidden_of(case).hidden, now)
    return case


def _repaired(bench: Bench) -> Setup:
    return Setup(replaced=bench.setup.replaced, mended=bench.setup.mended)


# The end ---------------------------------------------------------------------------------------


def said_so(text: str) -> str:
    """What a line names as the fault: of "it is C12 open" the last two words; "" for any other line."""
    found = SAYING_SO.match(text)
    return found["what"] if found else ""


def name_fault(book: Book, case: Case, said: str, now: str) -> Case:
    """The person says what is wrong and how: "C12 open". BadInput where no suspect, or more than one, can be meant."""
    _on(case)
    return _ended(book, case, NAMED, meant(hidden_of(case), said), now)


def give_up(book: Book, case: Case, now: str) -> Case:
    """The person wants to see what it was."""
    _on(case)
    return append(book, case, "closed", {"ending": GAVE_UP, "words": "", "named": ""}, now)


def meant(hidden: PretendBench, said: str) -> Suspect:
    """The one suspect of the machine file that is meant by an item and the way it is broken."""
    every = [one for one in hidden.every if not one.stranger and one.id != NOT_LISTED]
    words = _words(said)
    exact = [one for one in every if words in (_words(one.id), _words(one.says))]
    there = [one for one in every if one.faults and words and _words(one.id)[:1] == words[:1]]
    close = [one for one in there if words[1:] and set(words) <= set(_words(one.id))]
    if found := exact or (close if len(close) == 1 else []):
        return found[0]
    if there:
        item, ways = there[0].faults[0].item, ", ".join(one.faults[0].mode for one in there)
        raise complaint(f"how is {item} broken?", f"say it with one of: {ways}")
    if not words:
        raise complaint("no fault was named", "say which part and how it is broken, like `C12 open`")
    raise complaint(f"{said!r} is no fault of this machine file", nearest(said, tuple(one.id for one in every)))


def _words(said: str) -> list[str]:
    """The words that tell one fault from another."""
    return [word for word in re.findall(r"[^\s-]+", said.casefold()) if word not in ("is", "the", "a", "an")]


def _ended(book: Book, case: Case, how: str, named: Suspect, now: str) -> Case:
    return append(book, case, "closed", {"ending": how, "words": named.says, "named": named.id}, now)


def machine_in(case: Case) -> Machine:
    """The machine of a practice, as its file says."""
    machine = machine_of(case)
    assert machine is not None, "a practice begins with its machine"
    return machine


def _on(case: Case) -> None:
    """BadInput where it is no practice, or one that has ended."""
    if not case.practice:
        raise complaint(f"job {case.number} is no practice", "enter what your own meter reads")
    if case.closed is not None:
        raise complaint("this practice has ended", "begin another one")


def steps(case: Case) -> list[int]:
    """Positions of the lines that a person entered to get on, set-ups and repairs too."""
    return [n for n, one in enumerate(case.lines) if one.status == COUNTS and not is_owners(one)]
