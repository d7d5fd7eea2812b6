"""Many rehearsals on all cores, kept as they come, so that a killed run goes on where it was."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import asdict
from hashlib import blake2b
from multiprocessing import connection, get_context, parent_process
from pathlib import Path
from threading import Lock, Thread
from typing import Any, TypeVar

from probewright import __version__
from probewright.errors import BadInput, complaint
from probewright.hypotheses import NOTHING_WRONG
from probewright.jobs.clusters import ONE_THREAD, cluster_at
from probewright.jobs.orders import OURS
from probewright.jobs.rehearsing import Rehearsals, Terms
from probewright.jobs.scoring import CampaignView, Rehearsed, by_order, score
from probewright.machine import Machine
from probewright.machine import read as read_machine
from probewright.readings import Question


def rehearse(
    text: str,
    name: str,
    terms: Terms,
    count: int,
    keep: Path | None = None,
    processes: int | None = None,
    told: Callable[[int, int], None] = lambda done, total: None,
    orders: Sequence[str] = (OURS,),
    cluster: str = "",
) -> CampaignView:
    """So many rehearsals on the machine file `text`; the same terms give the same view, however many processes, here or
    on a cluster.

    keep: file of results beside; those in it are not done again. told(done, total): called as they come. orders: who
    says what comes next, names of `orders.ORDERS`; each of them meets the same machines. cluster: address of the
    scheduler of a Dask cluster, "" for processes of this computer.
    BadInput for a wrong file, number, withheld mode, results of other terms, or a cluster that is not there.
    """
    machine = read_machine(text, name)
    if count < 1 or terms.most < 1 or terms.tolerance_x <= 0.0:
        wrong = "numbers of rehearsals, of readings and the factor on tolerances must be above nought"
        raise complaint(wrong, "write for example --campaign 100")
    if terms.felt and not terms.pairs:
        raise complaint("--felt is for two faults", "write --pairs beside it")
    if terms.pairs and set(orders) != {OURS}:
        raise complaint("other orders are for one fault", "leave out --orders or --pairs")
    Rehearsals(machine, terms)  # complains here, before any process is started
    kept = Kept(keep, heading(text, terms))
    wanted = [(n, order) for n in range(count) for order in orders]
    found = {(one.number, one.order): one for one in kept.rows if one.number < count and one.order in orders}
    told(len(found), len(wanted))
    missing = [one for one in wanted if one not in found]
    run = _run_afar(cluster) if cluster else _run_here(processes or os.cpu_count() or 1)
    for one in run(text, name, terms, missing) if missing else ():
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
        felt=terms.felt, paces=terms.paces, trained=terms.trained, alone=terms.alone,
        most_readings=terms.most, groups=scores, minutes=by_order(all_orders),
    )  # fmt: skip


# Processes -----------------------------------------------------------------------------------

T = TypeVar("T")
Wanted = tuple[int, str]  # number and order
Runner = Callable[[str, str, Terms, list[Wanted]], Iterator[Rehearsed]]

_desk: Rehearsals | None = None  # of this worker process
_desk_for: tuple[str, str, Terms] | None = None
_one_at_a_time = Lock()  # a worker of a cluster may have several threads, a desk has one chair


def _run_here(processes: int) -> Runner:
    """Rehearsals in processes of this computer."""

    def run(text: str, name: str, terms: Terms, wanted: list[Wanted]) -> Iterator[Rehearsed]:
        many, asked = min(processes, len(wanted)), (text, name, terms)
        with _one_thread(), ProcessPoolExecutor(many, get_context("spawn"), _begin, asked) as pool:
            best = pool.submit(_best).result() if _needs_best(wanted) else ()
            yield from _as_they_end([pool.submit(_one, number, order, best) for number, order in wanted])

    return run


def _run_afar(address: str) -> Runner:
    """Rehearsals on the workers of a cluster."""

    def run(text: str, name: str, terms: Terms, wanted: list[Wanted]) -> Iterator[Rehearsed]:
        asked = text, name, terms
        with cluster_at(address) as pool:
            try:
                best = pool.submit(_afar, asked, _best).result() if _needs_best(wanted) else ()
                yield from _as_they_end(
                    [pool.submit(_afar, asked, _one, number, order, best) for number, order in wanted]
                )
            finally:
                pool.shutdown(wait=False)  # what runs there after a failure here is given up as well

    return run


def _needs_best(wanted: list[Wanted]) -> bool:
    return any(order == "best_fixed" for _, order in wanted)


def _as_they_end(ahead: list[Future[Rehearsed]]) -> Iterator[Rehearsed]:
    """Each rehearsal once it is done; what was not begun is given up with the first that fails."""
    try:
        for future in as_completed(ahead):
            yield future.result()
    finally:
        for future in ahead:
            future.cancel()


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


def _afar(asked: tuple[str, str, Terms], do: Callable[..., T], *told: Any) -> T:
    """The same on a worker that came with nothing; it keeps its machine for the next."""
    global _desk, _desk_for
    with _one_at_a_time:
        if _desk is None or _desk_for != asked:
            text, name, terms = asked
            _desk, _desk_for = Rehearsals(read_machine(text, name), terms), asked
        return do(*told)


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
        return complaint(text, "name another file with --keep, or move this one away", self.path)

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
