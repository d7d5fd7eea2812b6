"""One rehearsal: a hidden fault, readings as the tool proposes them, until the finding is decided."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from probewright.errors import complaint
from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG, Fault, Suspect
from probewright.hypotheses.classes import kind_name
from probewright.hypotheses.mending import repair_item
from probewright.hypotheses.strangers import acts_where
from probewright.inference.belief import Belief
from probewright.inference.lookalikes import LookAlikes
from probewright.inference.verdict import Verdict
from probewright.jobs.blanks import as_typed
from probewright.jobs.misfits import with_misfit
from probewright.jobs.onlooking import Onlooker, Watched
from probewright.jobs.orders import ORDERS, OURS, Order, Start, complained
from probewright.jobs.pretend_bench import PretendBench, hide, hide_two, is_complaint
from probewright.jobs.scoring import Rehearsed
from probewright.jobs.searching import Search, enter_readings, open_search, quick_look, refine_anew
from probewright.jobs.telling import decide, find
from probewright.jobs.trying import best_fixed
from probewright.machine import Machine
from probewright.machine.saying import nearest
from probewright.planning.actions import AND, AS_BROUGHT, Action, after, cures, items_left, plainly, repair_minutes
from probewright.planning.minutes import minutes, varied
from probewright.planning.ways import ways
from probewright.prediction.cells import Model, build_model
from probewright.prediction.latents import random_stream
from probewright.readings import Question, Reading, echo, setups
from probewright.readings.kit import UNTOLD, Kit

MOST_READINGS = 12  # chosen: readings and swaps after which a repairer would want to see an end
SOLVED_KEPT = 12  # chosen: set-ups that a process keeps solved for the next rehearsal, for the memory's sake
REFINED_EVERY = 6  # chosen: few draws that are weighed again and again no longer show when it is decided
TRIES = 200  # chosen: machines made up in vain until one is complained of
MOST_REPAIRS = 8  # chosen: a machine that so many repairs did not cure goes back to its owner
MENDED = "mended"  # how a rehearsal ends in which a repair on suspicion cured


@dataclass(frozen=True)
class Terms:
    """What is rehearsed.

    key: of everything that is drawn; withhold: "KIND:MODE", hidden and unknown to the search, "" for none; sound:
    nothing is hidden at all; brought: only machines that the owner complains of, as those on a bench are, and rightly:
    what never fails at the bench is another story (not shown);
    tolerance_x: tolerances of the hidden machine as times those of the file; most: readings at most; quick: steps
    are chosen from the quick answer until it would end the search, but for every sixth reading; every finding is of
    the refined answer all the same;
    misfit: in what the hidden machine differs from the file besides, as in `misfits.with_misfit`; pairs: two
    faults are hidden in each machine, and it is repaired on; felt: each of the two is complained of by itself; paces:
    every kind of step takes half to twice its minutes of the table, drawn from this key, "" for the table as it is;
    trained: whoever measures may touch live what can kill; alone: other orders than ours follow their list alone,
    without the steps that the finding asks for.
    """

    key: str
    withhold: str = ""
    sound: bool = False
    brought: bool = False
    tolerance_x: float = 1.0
    most: int = MOST_READINGS
    quick: bool = False
    misfit: str = ""
    pairs: bool = False
    felt: bool = False
    paces: str = ""
    trained: bool = False
    alone: bool = False

    @property
    def kit(self) -> Kit:
        """The bench it is rehearsed on."""
        kit = varied(random_stream(self.paces, ("paces",))) if self.paces else UNTOLD
        return replace(kit, trained=True) if self.trained else kit


def kind_of(machine: Machine, fault: Fault) -> str:
    """What a fault lies in: a kind of part, "joint", "bridge", "net" or "board"."""
    units = [part for part in machine.parts.values() if fault.item in (part.name, part.package)]
    if units:
        return kind_name(units[0])
    if "~" in fault.item:
        return "bridge"
    if fault.item in machine.nets:
        return "net"
    return "board" if " on " in fault.item else "joint"


def kinds_and_modes(model: Model) -> dict[str, list[str]]:
    """KIND:MODE -> ids of the suspects with such a fault, in the order of the file."""
    found: dict[str, list[str]] = {}
    for suspect in (one for one in model.suspects if not one.stranger):
        for fault in suspect.faults:
            found.setdefault(f"{kind_of(model.machine, fault)}:{fault.mode}", []).append(suspect.id)
    return found


def withheld(model: Model, what: str) -> tuple[str, ...]:
    """Ids of the suspects that "KIND:MODE" means; () for "". BadInput when there is none."""
    known = kinds_and_modes(model)
    if what and what not in known:
        mend = nearest(what, tuple(known), f"this file has {', '.join(sorted(known))}")
        raise complaint(f"nothing in this file can break as {what!r}", mend)
    return tuple(known[what]) if what else ()


@dataclass(frozen=True)
class Step:
    """One step of a rehearsal as it was made. says: what was done and what came of it; minutes: with every change of
    the set-up; sure: belief, after it, that mending what is hidden would cure."""

    says: str
    minutes: float
    sure: float


@dataclass
class Rehearsals:
    """Rehearsals on one machine; what the search had solved for one of them serves the next.

    That changes no answer: the draws before any reading depend on the machine alone. kit: what the bench has.
    """

    machine: Machine
    terms: Terms
    kit: Kit = UNTOLD
    model: Model = field(init=False)
    without: tuple[str, ...] = field(init=False)
    onlooker: Onlooker = field(init=False)
    _search: Search | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        """The whole model, the withheld included; the bench of the terms comes before the one given."""
        self.kit = self.terms.kit if self.terms.kit != UNTOLD else self.kit
        self.model = build_model(self.machine)
        self.without = withheld(self.model, self.terms.withhold)
        self.onlooker = Onlooker(self.model, self.kit.trained)
        with_misfit(self.machine, self.terms.misfit, random_stream("", ()))  # complains here, before any is rehearsed

    def bench(self, number: int, what: str = "rehearsal") -> PretendBench:
        """The made-up machine of this rehearsal. BadInput where none that was tried is complained of.

        what: it is made up for; machines for something else have nothing in common with those of rehearsals.
        """
        for attempt in range(TRIES):
            bench = self.made_up(f"{what} {self.terms.key} {number}" + (f" {attempt}" if attempt else ""))
            brought = self.terms.sound or not self.terms.brought or (bench.fails() and is_complaint(bench.owner()))
            if brought and (bench.felt or not self.terms.felt):
                return bench
        wrong = f"none of {TRIES} such machines makes its owner complain"
        raise complaint(wrong, "rehearse without --brought, or state more of what works in the file")

    def made_up(self, key: str) -> PretendBench:
        """The machine that this key makes, complained of or not."""
        ids = (
            (NOTHING_WRONG,)
            if self.terms.sound
            else self.without or tuple(one.id for one in self.model.suspects if not one.unlisted)
        )
        model = self.model
        if self.terms.misfit:
            model = build_model(with_misfit(self.machine, self.terms.misfit, random_stream(key, ("misfit",))))
            ids = tuple(one for one in ids if one in model.index)  # a joint on another net may have become none
        if self.terms.pairs:
            faulty = [one for one in ids if model.suspects[model.index[one]].faults]
            return PretendBench(model, hide_two(model, faulty, key), key, self.terms.tolerance_x)
        hidden = hide(model, ids, random_stream(key, ("hidden",)))
        return PretendBench(model, hidden, key, self.terms.tolerance_x)

    def search(self) -> Search:
        """A search on this machine before any reading, that does not know what is withheld."""
        base = self._search.laws.base if self._search else None  # type: ignore[attr-defined]
        if base is None or self.model.unknown or len(base._solved) > SOLVED_KEPT:
            self._search = open_search(self.machine, without=self.without, kit=self.kit)
        else:
            base.said.clear()
        assert self._search is not None
        return self._search

    def truths(self, hidden: Suspect) -> tuple[str, ...]:
        """Ids of the suspects that are right when this one is hidden: itself; what is withheld is not listed, and
        acts like the strangers at its place."""
        if hidden.id not in self.without:
            return (hidden.id,)
        like = (
            one.id
            for one in self.model.suspects
            if one.stranger and any(acts_where(self.machine, one.faults[0], fault) for fault in hidden.faults)
        )
        return (NOT_LISTED, *like)

    @cached_property
    def permitted(self) -> tuple[Question, ...]:
        """Readings and swaps that this bench permits before anything is known, in a stable order."""
        possible = [one for one in ways(self.search().population).possible() if one.kind in ("reading", "swap")]
        first: dict[Question, Question] = {}
        for ask in (one.ask for one in possible if one.ask is not None):
            first.setdefault(plainly(self.machine, ask), ask)
        return tuple(first.values())

    @cached_property
    def best(self) -> tuple[Question, ...]:
        """The best fixed order of these."""
        return best_fixed(self)

    def order(self, name: str, bench: PretendBench, said: tuple[Reading, ...]) -> Order:
        """The order of this name, at its start on this machine of which the owner said so much."""
        wrong = complained(self.machine, said)
        return ORDERS[name](
            Start(self.model, lambda: self.permitted, lambda: self.best, bench.key, wrong, self.terms.alone)
        )

    def rehearse(self, number: int, order: str = OURS) -> Rehearsed:
        """One rehearsal, from the owner's words to the finding and its mending; same number and order, same end."""
        return (_Story if self.terms.pairs else _Course)(self, self.bench(number), order).run(number)

    def follow(self, bench: PretendBench) -> tuple[Rehearsed, tuple[Step, ...]]:
        """The course of a rehearsal on this very machine with one fault: how it ends, and every step of it."""
        course = _Course(self, bench)
        course.path = []
        return course.run(0), tuple(course.path)


def _in_short(reading: Reading) -> str:
    """ "R7.1 to R7.2 5.77 MΩ, power off"."""
    return f"{echo.where(reading.question)} {as_typed(reading)}, {setups.write(reading.question.setup)}"


def sure_of(belief: Belief, hidden: Suspect) -> float:
    """How sure it is that mending what is hidden would cure: the chance of it and of whatever lies in the same."""
    machine = belief.laws.model.machine
    items = AND.join(items_left(machine, hidden, AS_BROUGHT))
    return float(sum(
        chance for one, chance in zip(belief.suspects, belief.probability, strict=True)
        if one.faults and cures(machine, one, items)
    ))  # fmt: skip


class _Course:
    """One rehearsal on its way."""

    def __init__(self, rehearsals: Rehearsals, bench: PretendBench, order: str = OURS) -> None:
        self.terms, self.bench, self.machine = rehearsals.terms, bench, rehearsals.machine
        self.owner, self.named = bench.owner(), order
        self.order = rehearsals.order(order, bench, self.owner)
        self.path: list[Step] | None = None  # kept only where somebody is to see it: of each step a belief is asked
        self.truths = rehearsals.truths(bench.hidden)
        self.search, self.onlooker = rehearsals.search(), rehearsals.onlooker
        self.tried: set[tuple[str, str]] = set()
        self.readings, self.minutes, self.wrong = 0, 0.0, 0
        self.mended, self.swap, self.since = False, minutes("swap", self.search.kit), AS_BROUGHT
        self.watched = Watched()

    def run(self, number: int) -> Rehearsed:
        """Readings in the order chosen, until it is decided or nothing is left; then the mending."""
        self.search = self._entered(self.owner)
        verdict, classes = self._searched()
        if verdict.finding in ("located", "outside"):
            self._mend(classes[0])
        return self._ended(number, verdict.finding, classes)

    def _searched(self) -> tuple[Verdict, list[LookAlikes]]:
        """Steps in the order chosen, until it is decided or nothing is left."""
        while True:
            population, verdict, classes = find(self.search.belief, self.search.population)
            self._watch(self.order.card(population, verdict, classes))
            waits = any(one.waits for one in verdict.surprises)
            ended = verdict.finding != "undecided" and not (verdict.finding == "unexplained" and waits)
            over = ended or self.mended or self.readings >= self.terms.most
            step = None if over else self.order.next(population, verdict, classes, self.tried)
            if step is not None:
                self._do(step)
            elif self.search.belief.rough:
                self.search = refine_anew(self.search, self.search.readings, self.search.as_told)
            else:
                return verdict, classes

    def _ended(self, number: int, finding: str, classes: list[LookAlikes]) -> Rehearsed:
        belief = self.search.belief
        places = self._places_of_truth()
        holding = [one for one in classes if places & set(one.members)]
        return Rehearsed(
            number=number, hidden=self.bench.hidden.id, complaint=is_complaint(self.owner),
            finding=MENDED if self.mended else finding, called=belief.suspects[classes[0].members[0]].id,
            listed=not belief.suspects[classes[0].members[0]].unlisted,
            sure=min(classes[0].probability, 1.0), right=classes[0] in holding,
            truth=min(sum(one.probability for one in holding), 1.0) or float(belief.probability[list(places)].sum()),
            cures=self._leader_cures(classes[0]), class_size=len(classes[0].members),
            wrong_parts=self.wrong, readings=self.readings, minutes=self.minutes,
            live=self.watched.live, hurting=self.watched.hurting, unsafe=len(self.watched.unsafe),
            order=self.named, vain=self._in_vain(),
        )  # fmt: skip

    def _in_vain(self) -> float:
        """Minutes of all that is mended before the cure where, with what is known, one suspect is mended after the
        other, the likeliest first; none where there is nothing to cure."""
        if self.mended or not self.bench.hidden.faults:
            return 0.0
        spent, belief = 0.0, self.search.belief
        likeliest = sorted(range(len(belief.suspects)), key=lambda n: -belief.probability[n])
        for item in dict.fromkeys(item for n in likeliest for item in self._items_of(n)):
            if self.bench.is_cured_by(item):
                break
            spent += 0.0 if ("repair", item) in self.tried else repair_minutes(self.machine, item, self.search.kit)
        return spent

    def _leader_cures(self, top: LookAlikes) -> bool:
        """Mending what the leading suspect lies in cures the machine; a sound one has nothing to be cured of."""
        items = self._items_of(top.members[0])
        return all(self.bench.is_cured_by(item) for item in items) if items else not self.bench.hidden.faults

    def _places_of_truth(self) -> set[int]:
        """Indices of what is right in the belief."""
        return {self.search.belief.laws.model.index[one] for one in self.truths}

    def _entered(self, said: tuple[Reading, ...]) -> Search:
        rough = self.terms.quick and (self.readings % REFINED_EVERY or not self.readings)
        return (quick_look if rough else enter_readings)(self.search, said)

    def _watch(self, card: Sequence[Action]) -> None:
        """What somebody beside the bench says of every step on the card, made or not."""
        how = ways(self.search.population)
        self.watched += self.onlooker.watch(card, how, self.search.belief, self.bench.bank)

    def _do(self, action: Action) -> None:
        """A step made on the made-up machine; what cannot be answered is not tried again."""
        if action.kind == "repair":
            self._repair(action)
            return
        assert action.ask is not None
        said = self.bench.answers(action.ask)
        if not said:
            self.tried.add((action.kind, action.item))
            if action.kind == "swap":
                self._spend(action.minutes + self.swap, f"{action.item} exchanged: tells nothing")
            return
        self.readings += 1
        self.search = self._entered(said)
        self._spend(action.minutes + self.swap * (len(said) - 1), _in_short(said[0]))

    def _spend(self, spent: float, says: str) -> None:
        """Minutes go by, and where the path is kept the step is noted."""
        self.minutes += spent
        if self.path is not None:
            self.path.append(Step(says, spent, sure_of(self.search.belief, self.bench.hidden)))

    def _repair(self, action: Action) -> None:
        """A repair on suspicion: it cures and ends the rehearsal, or the owner is heard again."""
        self.mended = self.bench.is_cured_by(action.item)
        self.wrong += not self.mended
        self.tried.add((action.kind, action.item))
        if not self.mended:
            self._in_place(action.item)
        self._spend(action.minutes, f"{action.item} new or mended: {'cured' if self.mended else 'as before'}")

    def _in_place(self, item: str) -> bool:
        """This item is new or mended from now on, and the owner is asked again; False where no set-up can say so."""
        since = after(self.machine, item, self.since)
        if since is None:
            return False
        self.since = since
        self.search = self._entered(self.bench.owner(since))
        return True

    def _mend(self, top: LookAlikes) -> None:
        """What was named is mended, the most probable first, until the machine is cured."""
        for item in dict.fromkeys(self._items(top)):
            if self.bench.is_cured_by(item):
                return
            self.wrong += 1

    def _items(self, top: LookAlikes) -> Iterator[str]:
        for n in top.members:
            yield from self._items_of(n)

    def _items_of(self, suspect: int) -> list[str]:
        return [repair_item(self.machine, fault) for fault in self.search.belief.suspects[suspect].faults]


class _Story(_Course):
    """A machine with two faults, repaired on: what is named is mended, the owner asked again, until nothing is
    complained of or nothing is left to do."""

    def __init__(self, rehearsals: Rehearsals, bench: PretendBench, order: str = OURS) -> None:
        super().__init__(rehearsals, bench, order)
        self.repairs = 0

    def run(self, number: int) -> Rehearsed:
        """To the first finding, which is judged as it is; then repairs, each with the owner's words after it."""
        self.search = self._entered(self.owner)
        verdict, classes = self._searched()
        first, unrepaired = self._ended(number, verdict.finding, classes), self.repairs == 0
        while not self.mended and verdict.finding in ("located", "outside") and self._cures():
            verdict, classes = self._searched()
        return replace(
            first, both=first.right and unrepaired, found=not self.bench.left(self.since), cured=self.mended,
            felt=self.bench.felt, repairs=self.repairs, wrong_parts=self.wrong, readings=self.readings,
            minutes=self.minutes, live=self.watched.live, hurting=self.watched.hurting,
            unsafe=len(self.watched.unsafe),
        )  # fmt: skip

    def _places_of_truth(self) -> set[int]:
        """The suspects of both faults; none while nobody thought of the two together."""
        hidden = set(self.bench.hidden.faults)
        return {n for n, one in enumerate(self.search.belief.suspects) if set(one.faults) == hidden}

    def _cures(self) -> bool:
        """The repair, or first the swap, that the card names is made; False when it names none that was not tried."""
        _, _, _, choices = decide(self.search.belief, self.search.population)
        cure = next((one for one in choices if one.why == "cure"), None)
        if cure is None or self.repairs >= MOST_REPAIRS or (cure.action.kind, cure.action.item) in self.tried:
            return False
        self._do(cure.action)
        return True

    def _repair(self, action: Action) -> None:
        """Each item of it is mended, and the owner says what works now."""
        self.minutes += action.minutes
        for item in action.item.split(AND):
            since = after(self.machine, item, self.since)
            if since is None:
                self.tried.add((action.kind, action.item))
                return
            self.wrong += not self.bench.mends_one(item, self.since)
            self.since, self.repairs = since, self.repairs + 1
        said = self.bench.owner(self.since)
        self.search, self.mended = self._entered(said), not is_complaint(said)
