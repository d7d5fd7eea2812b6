"""What becomes known of a machine: a chain, a stage of the shelf, a machine file tied to what was read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from probewright.jobs.bench import complaint, is_entered, know, machine_of
from probewright.jobs.case_view import MatchView, ShelfView, StageView, TieView
from probewright.jobs.cases import Case
from probewright.jobs.tying import match_functions, propose
from probewright.jobs.weighing import on_machine
from probewright.machine import Machine, shelf
from probewright.machine import read as read_machine
from probewright.machine.chains import chain_of, say, write_chain
from probewright.machine.saying import nearest
from probewright.record import Book

CHAIN_FILE, SHELF_FILE = "chain", "shelf"
NO_FUNCTIONS = "the machine file does not say what should work"


def tell_chain(book: Book, case: Case, typed: str, now: str, once: str = "") -> Case:
    """Put a typed chain to the job; ticks that can only mean one of its ends are tied to it."""
    chain = chain_of(typed, case.intake.model or case.intake.kind)
    text = write_chain(chain)
    machine = read_machine(text, CHAIN_FILE)
    functions = match_functions(tuple(case.intake.ticks), machine)
    says = [*say(chain), *_ticks_said(case, functions, machine)]
    return know(book, case, "chain", typed, text, CHAIN_FILE, now, _names(case, machine), functions, says, once)


def place_stage(
    book: Book, case: Case, stage: str, name: str, values: Mapping[str, str], joins: Mapping[str, str], now: str,
    once: str = "",
) -> Case:  # fmt: skip
    """Put a stage of the shelf into the job's machine file, or begin one with it."""
    typed = " ".join([stage, *(f"{key}={value}" for key, value in values.items())])
    if is_entered(case, typed, once):
        return case  # a form sent twice: its names are taken by now
    filled = shelf.fill_in(stage, values, name)
    known = case.known
    text = shelf.put(known.text if known else None, filled, joins)
    file = known.file if known else SHELF_FILE
    machine = read_machine(text, file)
    functions = match_functions(tuple(case.intake.ticks), machine)
    says = [f"{filled.stage.title}: {', '.join(f'{k} {v}' for k, v in filled.values.items())}"]
    says += [f"assumed: {', '.join(filled.assumed)}"] if filled.assumed else []
    says += [f"not computed yet: {one}" for one in filled.body.not_computed]
    says += [f"danger: {one}" for one in filled.body.danger]
    return know(book, case, "shelf", typed, text, file, now, _names(case, machine), functions, says, once)


def _names(case: Case, machine: Machine) -> dict[str, str]:
    """Free names that can only be one place of the machine."""
    return {match.name: match.place for match in propose(case, machine) if match.place and not match.others}


def _ticks_said(case: Case, functions: Mapping[str, str], machine: Machine) -> list[str]:
    """Every tick of the intake with the function it means, or with why it means none."""
    works = {one.name for one in machine.works}
    meant = [f"{tick} is taken as {name}" for tick, name in functions.items() if name in works]
    return meant + ticks_left(case, functions, machine)


def ticks_left(case: Case, functions: Mapping[str, str], machine: Machine) -> list[str]:
    """Ticks of the intake that mean no function of the machine, or one of several, and why they weigh nothing."""
    works = [one.name for one in machine.works]
    fits = f"fits none of its functions, or several; if one is meant, say `{works[0]}: bad`" if works else NO_FUNCTIONS
    left = ((tick, said) for tick, said in case.intake.ticks.items() if functions.get(tick) not in works)
    return [f"{tick}, {said}: weighs nothing: {fits}" for tick, said in left]


def view_shelf() -> ShelfView:
    """Every stage with what it asks for."""
    return ShelfView(
        tuple(StageView(one.name, one.title, tuple(_asked(ask) for ask in one.asks)) for one in shelf.stages())
    )


def _asked(ask: shelf.Ask) -> str:
    return f"{ask.name}: {ask.question}" + (f" [{ask.assumed}]" if ask.assumed else "")


# Tying ---------------------------------------------------------------------------------------


def propose_tie(case: Case, text: str, file: str, said: Mapping[str, str]) -> TieView:
    """What tying this file would make of the names read so far. BadInput for a place that it does not have."""
    machine = read_machine(text, file)
    _refuse_unknown(said, machine, file)
    read = {place for r in case.readings for place in (r.question.red, r.question.black, *r.question.setup.lifted)}
    for name in said:
        if name not in read:
            raise complaint(f"nothing was read at {name!r}", nearest(name, sorted(read)))
    proposed = {one.name: MatchView(one.name, one.place, one.others) for one in propose(case, machine)}
    matches = {**proposed, **{name: MatchView(name, place, ()) for name, place in said.items()}}.values()
    functions = match_functions(tuple(case.intake.ticks), machine)
    return TieView(case.number, file, False, tuple(matches), functions, ())


def _refuse_unknown(named: Mapping[str, str], machine: Machine, file: str) -> None:
    for name, place in named.items():
        if not machine.has_place(place):
            raise complaint(f"{place!r} is no place of {file}", f"say another one for {name!r}")


def tie(book: Book, case: Case, text: str, agreed: TieView, now: str, once: str = "") -> Case:
    """Tie the file as agreed; names left free stay as they were said, and are kept."""
    machine = read_machine(text, agreed.file)
    names = {one.name: one.place for one in agreed.matches if one.place}
    _refuse_unknown(names, machine, agreed.file)
    says = [f"{name} is {place}" for name, place in names.items()]
    says += [f"{one.name} stays free" for one in agreed.matches if not one.place]
    functions = {**(case.known.functions if case.known else {}), **agreed.functions}
    return know(
        book, case, "file", f"tied {agreed.file}", text, agreed.file, now, names, agreed.functions,
        [*says, *_ticks_said(case, functions, machine)], once,
    )  # fmt: skip


def tied(case: Case, agreed: TieView) -> TieView:
    """The agreement as it was carried out, with the ticks and readings that cannot be weighed on the file."""
    return replace(agreed, done=True, left_out=left_out(case))


def left_out(case: Case) -> tuple[str, ...]:
    """Ticks and readings that are kept and not weighed on the job's machine file, each with the reason."""
    machine, known = machine_of(case), case.known
    if machine is None or known is None:
        return ()
    readings = (f"{r.text or r.question.red}: {why}" for r, why in on_machine(case, machine).left_out)
    return (*ticks_left(case, known.functions, machine), *readings)
