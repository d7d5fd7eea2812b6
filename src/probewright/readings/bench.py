"""The bench between two lines: set-up, sitting, hook-ups, and the remarks behind a semicolon."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from probewright.machine.saying import nearest
from probewright.readings import EXCHANGE, PROVOKE, SAME, SCOPED, Question, Reading, Setup
from probewright.readings.answers import plain
from probewright.readings.setups import Piece

SHOWING = {
    "showing": "yes",
    "fault showing": "yes",
    "not showing": "no",
    "fault not showing": "no",
    "can't tell": "can't tell",
    "can’t tell": "can't tell",
    "cant tell": "can't tell",
    "cannot tell": "can't tell",
}
SAME_HOOKUP = ("same hook-up", "same hookup", "same hook up")
NEW_SITTING = ("new sitting",)
TAILS = ("not showing", "can't tell", "showing", "same hook-up", "new sitting")


@dataclass(frozen=True)
class Bench:
    """Where the bench stands between two lines.

    setup: as the last set-up line says; sitting: number of the present one; taken: readings were
    taken in it; disturbed: something was changed since the last reading; last: the last reading;
    hookups: hook-up ids given so far; power_said: somebody said whether power is on or off; fitted: new parts, and
    mended: what was repaired in place, in every set-up from now on; side: of the board, as it was last said to
    lie, see boards; turns: how often somebody spoke of it; told: how often lines told how the machine stands.
    """

    setup: Setup = Setup()
    sitting: int = 0
    taken: bool = False
    disturbed: bool = False
    last: Reading | None = None
    hookups: int = 0
    power_said: bool = False
    fitted: tuple[str, ...] = ()
    mended: tuple[str, ...] = ()
    side: str = ""
    turns: int = 0
    told: int = 0


@dataclass(frozen=True)
class Tails:
    """What stands behind the semicolons."""

    showing: str = "yes"
    same_hookup: Piece | None = None
    new_sitting: bool = False


# Remarks -------------------------------------------------------------------------------------


def read_tails(pieces: tuple[Piece, ...]) -> Tails:
    """The remarks behind the answer. BadInput for one not known."""
    tails = Tails()
    said = ""
    for piece in pieces:
        word = plain(piece.text)
        if word in SHOWING:
            if said not in ("", SHOWING[word]):
                raise piece.wrong("the fault is said to be two things at once", f"keep one of {', '.join(TAILS[:3])}")
            said = SHOWING[word]
            tails = replace(tails, showing=said)
        elif word in SAME_HOOKUP:
            tails = replace(tails, same_hookup=piece)
        elif word in NEW_SITTING:
            tails = replace(tails, new_sitting=True)
        else:
            raise piece.wrong(f"{piece.text!r} is not a remark", nearest(piece.text, TAILS))
    return tails


# Sittings and hook-ups -----------------------------------------------------------------------


def physical(setup: Setup) -> Setup:
    """The set-up without its stimulus: turning a knob starts no new sitting, and nor does a look at another machine."""
    return replace(setup, stimulus="", hertz=0.0, sister=False)


def move(bench: Bench, setup: Setup) -> Bench:
    """The bench after a set-up line; new parts stay in, and what was mended stays mended."""
    setup = replace(
        setup, replaced=as_often(setup.replaced, bench.fitted), mended=as_often(setup.mended, bench.mended)
    )  # fmt: skip
    changed = physical(setup) != physical(bench.setup)
    return replace(
        bench, setup=setup, disturbed=bench.disturbed or changed, power_said=True, told=bench.told + 1
    )  # fmt: skip


def as_often(one: tuple[str, ...], other: tuple[str, ...]) -> tuple[str, ...]:
    """Names of both, sorted, each as often as where it stands oftener."""
    return tuple(sorted((Counter(one) | Counter(other)).elements()))


def scope_or_meter(instrument: str) -> str:
    """Which probes are held: moving from one to the other is a new hook-up."""
    return "scope" if instrument == "pp" or instrument in SCOPED else "meter"


def hold(reading: Reading, tails: Tails, bench: Bench) -> Bench:
    """Give a reading its hook-up, sitting and remarks, and let it be the bench's last one."""
    ask, before, hookups = reading.question, bench.last, bench.hookups
    if tails.same_hookup is None:
        hookups += 1
        hookup = f"h{hookups}"
    else:
        hookup = same_hookup(tails.same_hookup, ask, before)
    repowered = before is not None and physical(ask.setup) != physical(before.question.setup)
    fresh = bench.taken and (bench.disturbed or tails.new_sitting or repowered)
    sitting = bench.sitting + fresh
    reading = replace(reading, hookup=hookup, showing=tails.showing, sitting=sitting)
    # what answers is not as it was, and nor is what was taken out
    moved = ask.instrument == EXCHANGE or (ask.instrument == PROVOKE and reading.answer != SAME)
    return replace(bench, sitting=sitting, taken=True, disturbed=moved, last=reading, hookups=hookups)


def same_hookup(piece: Piece, ask: Question, before: Reading | None) -> str:
    """The hook-up of the reading before. BadInput when the probes must have moved."""
    if before is None:
        raise piece.wrong("there is no reading before this one", "leave `same hook-up` out")
    held = before.question
    here = (ask.red, ask.black, scope_or_meter(ask.instrument), ask.setup.sister)
    if here != (held.red, held.black, scope_or_meter(held.instrument), held.setup.sister) or ask.instrument in (
        "works",
        "swap",
    ):
        raise piece.wrong("the probes were elsewhere in the reading before", "leave `same hook-up` out")
    return before.hookup
