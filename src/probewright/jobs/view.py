"""What a job looks like from outside: one typed value, one serialiser.

The command line prints it, `--json` writes it, and the page will render the same value.
"""

from __future__ import annotations

import dataclasses
from decimal import Decimal
from typing import Any

from probewright.readings import Question

SCHEMA = "probewright/1"


@dataclasses.dataclass(frozen=True)
class FaultView:
    """One fault of a suspect; severity the middle of what is believed, in unit ("x": of healthy)."""

    item: str
    mode: str
    severity: float | None
    unit: str
    since: int | None = None


@dataclasses.dataclass(frozen=True)
class EvidenceView:
    """What one reading (counted from 1) says of a suspect: nat for (+) or against (-)."""

    reading: int
    nats: float
    says: str


@dataclasses.dataclass(frozen=True)
class SuspectView:
    """A suspect: how sure now, and two chances before any reading, one a table, never mixed into one.

    prior: by the table for old machines, moved by what the bench has proved, which decides; handbook: by the
    handbooks, None where they have no row. source, handbook_source: where each comes from, "" for none; stranger: no
    listed fault, but what one acts like.
    """

    id: str
    class_: int
    probability: float
    prior: float
    handbook: float | None
    says: str
    source: str
    handbook_source: str
    faults: tuple[FaultView, ...]
    comes_and_goes: bool
    stranger: bool
    evidence: tuple[EvidenceView, ...]


@dataclasses.dataclass(frozen=True)
class ClassView:
    """Look-alikes: ids of the members, and the step that would tell them apart; beyond: what would, with an instrument
    that this bench has not."""

    id: int
    probability: float
    members: tuple[str, ...]
    split_by: str | None
    beyond: str | None = None


@dataclasses.dataclass(frozen=True)
class OutcomeView:
    """If this is seen, with this chance, these suspects rise."""

    if_: str
    chance: float
    raises: tuple[str, ...]


@dataclasses.dataclass(frozen=True)
class RangeView:
    """Figures of a healthy machine: 19 in 20 lie between low and high."""

    low: float
    high: float
    unit: str


@dataclasses.dataclass(frozen=True)
class WordView:
    """What a healthy machine answers where the answer is a word."""

    word: str


@dataclasses.dataclass(frozen=True)
class SpellView:
    """How a part without its heatsink stood from some time on, until the next spell or now.

    at: UTC, ISO; on: the power is on, with these watts in it; clip: K/W of a sink clipped on, 0 for none, -1 with its
    own; felt: what a thermometer ("61.5") or a finger ("borne", "not borne") said of its case then.
    """

    at: str
    on: bool
    likely: float
    worst: float
    clip: float
    felt: str = ""


@dataclasses.dataclass(frozen=True)
class HeatView:
    """A part that runs without its heatsink.

    clip: K/W of a sink clipped on instead, 0 for none; package, source: its case, and where the figures of that are
    from; likely, worst: W; because: what gives the worst; known: somebody or the circuit knows them, else they are
    asked for; limit: °C that the junction may reach; about, settles: °C that it would settle at, likely and at worst;
    cold: s that the power may be on from cold, inf for ever; instead: what else could be done; past: spells of power;
    at: the time of what follows, "" where no clock was at hand; on: the power is on; case, case_worst: °C of the case
    then; left: s that the power may be on from there; cool: s of cooling until it is as good as cold.
    """

    part: str
    clip: float
    package: str
    source: str
    likely: float
    worst: float
    because: str
    known: bool
    limit: float
    about: float
    settles: float
    cold: float
    instead: tuple[str, ...]
    cautions: tuple[str, ...]
    says: str
    past: tuple[SpellView, ...] = ()
    at: str = ""
    on: bool = False
    case: float = 25.0
    case_worst: float = 25.0
    left: float = 0.0
    cool: float = 0.0


@dataclasses.dataclass(frozen=True)
class BurstView:
    """How long the power may be on for a step. seconds: at most, inf for ever; wait: s to cool before, inf: never;
    again: s to cool after; clipped: the probes are clipped on with power off; parts, worst: what gets hot, with the
    watts of each at worst; says: all that; need: s that the step takes with power on."""

    seconds: float
    wait: float
    again: float
    clipped: bool
    parts: tuple[str, ...]
    worst: tuple[float, ...]
    says: str
    need: float = 0.0


@dataclasses.dataclass(frozen=True)
class ClockView:
    """What the clock of a bench shows while a heatsink is off; times are UTC, ISO.

    state: "ready" (power off, it may come on), "running", "over" (off with it now), "cooling", "never" (at once too
    hot), "unknown" (nobody knows the watts) or "open" (not worked out yet); parts: what gets hot; at: now; since: when
    the power came on, or went off, "" where it never was on; until: when it must go off, or may come on, "" where no
    time is known; then: s that it is off after that, or may be on, inf: nobody knows; says: that beside the figure;
    after: what is said once `until` has come.
    """

    state: str
    parts: tuple[str, ...]
    at: str
    since: str
    until: str
    then: float
    says: str
    after: str


@dataclasses.dataclass(frozen=True)
class NeedsYesView:
    """What the owner is asked before a step that cannot be taken back. wishes: "new U3", "U3 out"; question: for the
    owner; then: the step once it is allowed; yes, no: lines that record the answer, with "..." for the words."""

    wishes: tuple[str, ...]
    question: str
    then: str
    yes: tuple[str, ...]
    no: tuple[str, ...]


OPEN = 100.0  # chosen: a healthy range that spans more is no help to anybody
FINISH = "finish"  # kind of the step that finishes a job once all works again


@dataclasses.dataclass(frozen=True)
class ActionView:
    """Something to do: kind "reading", "swap", "repair", "ask owner", "listen", "finish" or "cool"; group:
    actions of one number share a set-up.

    ask: the question it answers; None for a repair; burst: how long the power may be on, None for as long as one likes;
    needs_yes: what the owner is asked, and nothing is done before the answer; None where nobody need be asked, or
    the owner has said yes; before: how what stays charged is emptied and the meter proved, step by step; clips: the
    probes are clipped on with the power off; turned: how the board is turned or taken out before, with the power off,
    "" where it stays as it lies; back: what was lifted, out or joined before and is put back, with the power off.
    """

    kind: str
    group: int
    do: str
    where: str
    instrument: str
    setup: str
    minutes: float
    live: bool
    healthy: RangeView | WordView
    why: str
    outcomes: tuple[OutcomeView, ...]
    caution: str | None
    ask: Question | None = None
    burst: BurstView | None = None
    needs_yes: NeedsYesView | None = None
    before: tuple[str, ...] = ()
    clips: bool = False
    turned: str = ""
    back: tuple[str, ...] = ()


@dataclasses.dataclass(frozen=True)
class GroupStepView:
    """A reading of a group: what to do, where, what a sound machine reads.

    gain: nat that it is expected to add to those before it; need: s that it takes with power on where heat counts,
    else 0; caution: of this place, None where there is none.
    """

    do: str
    where: str
    healthy: RangeView | WordView
    gain: float
    ask: Question
    need: float = 0.0
    caution: str | None = None


@dataclasses.dataclass(frozen=True)
class GroupView:
    """Readings worth taking in one go, the step of today first.

    kind: "unpowered" (one sitting with the power off), "burst" (clips are fitted with the power off, then one spell of
    power) or "powered"; minutes: of all, the set-up changed once; apart: of the same readings, the bench set up anew
    for each; clips: where each clip goes before the power comes on; why: in a sentence; burst: how long the power may
    be on for all of them, None for as long as one likes.
    """

    kind: str
    minutes: float
    apart: float
    steps: tuple[GroupStepView, ...]
    clips: tuple[str, ...]
    why: str
    burst: BurstView | None = None


@dataclasses.dataclass(frozen=True)
class SurpriseView:
    """A reading (counted from 1) that the leading explanation does not give."""

    reading: int
    tail: float
    advice: str


@dataclasses.dataclass(frozen=True)
class QualityView:
    """Effective draws behind the answer; share of the weight that could not be judged."""

    effective_draws: float
    unjudged: float


@dataclasses.dataclass(frozen=True)
class BoardView:
    """An added board that nobody knows to be fitted, and how sure it is by now that it is."""

    name: str
    fitted: float


@dataclasses.dataclass(frozen=True)
class JobView:
    """Finding, suspects, look-alikes, what to do next, and what does not fit; left_alone: places that are not proposed
    while live, because nobody said that they are trained for it; group: what is worth reading in one go with the first
    of the actions, None where that stands alone or the answer is rough."""

    finding: str
    rough: bool
    readings: tuple[str, ...]
    suspects: tuple[SuspectView, ...]
    classes: tuple[ClassView, ...]
    actions: tuple[ActionView, ...]
    surprises: tuple[SurpriseView, ...]
    quality: QualityView
    boards: tuple[BoardView, ...] = ()
    left_alone: tuple[str, ...] = ()
    heat: tuple[HeatView, ...] = ()
    group: GroupView | None = None
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class WarningView:
    """A warning of `check`."""

    line: int
    column: int
    text: str
    mend: str


@dataclasses.dataclass(frozen=True)
class CheckView:
    """What a machine file was understood to say."""

    machine: str
    sections: tuple[str, ...]
    parts: tuple[str, ...]
    nets: tuple[str, ...]
    places: tuple[str, ...]
    suspects: int
    polarity: tuple[str, ...]
    ports: dict[str, tuple[str, ...]]
    works: tuple[str, ...]
    assumed: tuple[str, ...]
    warnings: tuple[WarningView, ...]
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class ExpectRow:
    """What an instrument shows at a place of a healthy machine; low..high hold 19 in 20."""

    place: str
    kind: str
    low: float
    mid: float
    high: float
    unit: str


@dataclasses.dataclass(frozen=True)
class ExpectView:
    """Computed healthy readings in one set-up."""

    setup: str
    rows: tuple[ExpectRow, ...]
    schema: str = SCHEMA


@dataclasses.dataclass(frozen=True)
class ErrorView:
    """One thing wrong with what was given."""

    file: str
    line: int
    column: int
    text: str
    mend: str


@dataclasses.dataclass(frozen=True)
class ErrorsView:
    """Everything wrong with what was given."""

    errors: tuple[ErrorView, ...]


def is_powered(action: ActionView | None) -> bool:
    """A step that needs the power on."""
    return action is not None and action.live and action.kind in ("reading", "provoke", "listen")


def needs_power(action: ActionView) -> bool:
    """Whether power is on for a step in the end: an exchange, a knock or a test ends with it, too."""
    return is_powered(action) or action.kind in ("swap", "provoke") or action.setup.startswith("power on")


def plain(view: Any) -> Any:
    """Dictionaries, lists and plain values, ready for JSON; a trailing underscore is dropped.

    Infinite figures become the word "OL", as the meter shows them; money is text, so that no coin is lost.
    """
    if dataclasses.is_dataclass(view) and not isinstance(view, type):
        return {field.name.rstrip("_"): plain(getattr(view, field.name)) for field in dataclasses.fields(view)}
    if isinstance(view, dict):
        return {key: plain(value) for key, value in view.items()}
    if isinstance(view, (tuple, list)):
        return [plain(one) for one in view]
    if isinstance(view, Decimal):
        return str(view)
    if isinstance(view, float):
        return "OL" if view in (float("inf"), float("-inf")) else view
    return view
