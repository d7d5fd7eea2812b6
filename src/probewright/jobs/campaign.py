"""Many rehearsals on all cores, kept as they come, so that a killed run goes on where it was."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import asdict
from hashlib import blake2b
from multiprocessing import connection, get_context, parent_process
from pathlib import Path
from threading import Thread
from typing import Any

from probewright import __version__
from probewright.errors import BadInput, Complaint
from probewright.hypotheses import NOTHING_WRONG
from probewright.jobs.orders import OURS
from probewright.jobs.rehearsing import Rehearsals, Terms
from probewright.jobs.scoring import CampaignView, Rehearsed, by_order, score
from probewright.machine import Machine
from probewright.machine import read as read_machine
from probewright.readings import Question

# One thread of linear algebra in each process: the cores are shared by rehearsals, and sums come out alike everywhere.
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def rehearse(
    text: str,
    name: str,
    terms: Terms,
    count: int,
    keep: Path | None = None,
    processes: int | None = None,
    told: Callable[[int, int], None] = lambda done, total: None,
    orders: Sequence[str] = (OURS,),
) -> CampaignView:
    """So many rehearsals on the machine file `text`; the same terms give the same view, however many processes.

    keep: file of results beside; those in it are not done again. told(done, total): called as they come. orders: who
    says what comes next, names of `orders.ORDERS`; each of them meets the same machines.
    BadInput for a wrong file, number, withheld mode, or results that belong to other terms.
    """
    machine = read_machine(text, name)
    if count < 1 or terms.most < 1 or terms.tolerance_x <= 0.0:
        wrong = "numbers of rehearsals, of readings and the factor on tolerances must be above nought"
        raise BadInput(Complaint("", 1, 1, wrong, "write for example --campaign 100"))
    if terms.felt and not terms.pairs:
        raise BadInput(Complaint("", 1, 1, "--felt is for two faults", "write --pairs beside it"))
    if terms.pairs and set(orders) != {OURS}:
        raise BadInput(Complaint("", 1, 1, "other orders are for one fault", "leave out --orders or --pairs"))
    Rehearsals(machine, terms)  # complains here, before any process is started
    kept = Kept(keep, heading(text, terms))
    wanted = [(n, order) for n in range(count) for order in orders]
    found = {(one.number, one.order): one for one in kept.rows if one.number < count and one.order in orders}
    told(len(found), len(wanted))
    for one in _run(text, name, terms, [one for one in wanted if one not in found], processes or os.cpu_count() or 1):
        kept.add(one)
        found[one.number, one.order] = one
        told(len(found), len(wanted))
    return view_of(machine, terms, [found[one] for one in wanted])


def view_of(machine: Machine, terms: Terms, all_orders: list[Rehearsed]) -> CampaignView:
    """The view of these rehearsals: scores of ours, also of each kind of machine, and the minutes of every order."""
    rows = [one for one in all_orders if one.order == OURS]
    groups = {
        "listed, with a complaint": [r for r in rows if r.hidden != NOTHING_WRONG and r.complaint],
        "listed, no complaint": [r for r in rows if r.hidden != NOTHING_WRONG and not r.complaint],
        "sound": [r for r in rows if r.hidden == NOTHING_WRONG],
    }
    if terms.withhold:
        groups = {name.replace("listed", "withheld"): some for name, some in groups.items()}
    if terms.pairs:
        groups = {
            "two faults, each complained of by itself": [r for r in rows if r.felt],
            "two faults, one of them not complained of by itself": [r for r in rows if not r.felt],
        }
    scores = {name: score(some) for name, some in groups.items() if some}
    return CampaignView(
        **vars(score(rows)), machine=machine.name, key=terms.key, withhold=terms.withhold,
        tolerance_x=terms.tolerance_x, misfit=terms.misfit, brought=terms.brought, quick=terms.quick, pairs=terms.pairs,
        felt=terms.felt, paces=terms.paces, alone=terms.alone,
        most_readings=terms.most, groups=scores, minutes=by_order(all_orders),
    )  # fmt: skip


# Processes -----------------------------------------------------------------------------------

_desk: Rehearsals | None = None  # of this worker process


def _run(text: str, name: str, terms: Terms, wanted: list[tuple[int, str]], processes: int) -> Iterator[Rehearsed]:
    """These rehearsals, number and order, as they end, in processes of their own."""
    if not wanted:
        return
    with (
        _one_thread(),
        ProcessPoolExecutor(min(processes, len(wanted)), get_context("spawn"), _begin, (text, name, terms)) as pool,
    ):
        best = pool.submit(_best).result() if any(order == "best_fixed" for _, order in wanted) else ()
        ahead = [pool.submit(_one, number, order, best) for number, order in wanted]
        try:
            for future in as_completed(ahead):
                yield future.result()
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


@contextmanager
def _one_thread() -> Iterator[None]:
    """Processes begun meanwhile use one thread each for linear algebra."""
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _begin(text: str, name: str, terms: Terms) -> None:
    """A worker gets its machine once, and ends with the process that began it, however that one ends."""
    global _desk
    _desk = Rehearsals(read_machine(text, name), terms)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    assert parent is not None
    connection.wait([parent.sentinel])
    os._exit(1)


def _best() -> tuple[Question, ...]:
    """The best fixed order takes minutes to find: one process does it for all."""
    assert _desk is not None
    return _desk.best


def _one(number: int, order: str, best: tuple[Question, ...]) -> Rehearsed:
    assert _desk is not None
    if best:
        _desk.best = best
    return _desk.rehearse(number, order)


# Results kept --------------------------------------------------------------------------------


def heading(text: str, terms: Terms) -> dict[str, Any]:
    """What results belong to: version, machine file, and all that is rehearsed."""
    return {"probewright": __version__, "file": blake2b(text.encode(), digest_size=16).hexdigest(), **asdict(terms)}


class Kept:
    """A file of results: the heading, then one rehearsal in one order a line, JSON, each written whole before the next.

    A last line that a killed run left half written is cut off.
    """

    def __init__(self, path: Path | None, head: dict[str, Any]) -> None:
        self.path = path
        self.rows: list[Rehearsed] = []
        if path is None:
            return
        whole = self._whole(path)
        if not whole:
            self._write(json.dumps(head))
            return
        try:
            before = json.loads(whole[0])
            self.rows = [Rehearsed(**json.loads(line)) for line in whole[1:]]
        except (ValueError, TypeError) as problem:
            raise self._wrong("this file holds no results of rehearsals") from problem
        others = [name for name in head if not isinstance(before, dict) or before.get(name) != head[name]]
        if others:
            names = {
                "probewright": "version",
                "file": "machine file",
                "tolerance_x": "--tolerance-x",
                "most": "--readings",
            }
            said = ", ".join(names.get(name, f"--{name}") for name in others)
            raise self._wrong(f"these results were made otherwise ({said}), and would not mix")

    def _whole(self, path: Path) -> list[str]:
        """Its whole lines; what follows the last of them is cut off."""
        try:
            content = path.read_bytes() if path.exists() else b""
            lines, cut, rest = content.rpartition(b"\n")
            if rest:
                os.truncate(path, len(lines) + len(cut))
            return lines.decode("utf-8").splitlines()
        except (OSError, UnicodeDecodeError) as problem:
            raise self._wrong(f"cannot use the file of results: {problem}") from problem

    def _wrong(self, text: str) -> BadInput:
        return BadInput(Complaint(str(self.path), 1, 1, text, "name another file with --keep, or move this one away"))

    def add(self, one: Rehearsed) -> None:
        """One more result, on the disk before the next is begun."""
        self.rows.append(one)
        if self.path is not None:
            self._write(json.dumps(asdict(one)))

    def _write(self, line: str) -> None:
        assert self.path is not None
        try:
            with self.path.open("a", encoding="utf-8") as file:
                file.write(line + "\n")
        except OSError as problem:
            raise self._wrong(f"cannot write to the file of results: {problem.strerror}") from problem
