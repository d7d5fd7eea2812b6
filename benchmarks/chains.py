"""`python -m benchmarks.chains`: random faults on random chains of blocks, found by the readings the engine proposes.

Who answers is a small model of its own (`made_up`), with gains that the engine is never told.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

import numpy as np

from benchmarks.made_up import Bench, heard, make
from benchmarks.table import Row, share
from probewright import __version__, jobs, machine
from probewright.inference.drawn import DrawnPopulation
from probewright.jobs.scoring import ratio_of
from probewright.machine.chains import read_chain
from probewright.planning.actions import step
from probewright.planning.ways import ways
from probewright.readings import Question, Reading, Setup

MOST_READINGS = 14
OURS = "ours"  # no list: what is proposed
PASSES = 0.75  # chosen: share of what it should be from which a person calls a place good
SURE = 0.9
SEED = 47  # of the chains of a campaign, chosen
REPORTED = 2  # of chains that are searched one by one: no constant was chosen on it
LISTED = 1e-4


# The person at the bench ----------------------------------------------------------------------------


def complaints(bench: Bench) -> list[Reading]:
    """What the owner says of every channel."""
    said = []
    for channel, left in enumerate(heard(bench)):
        word = "silent" if left < 0.04 else "weak" if left < 0.6 else "ok"
        name = "phones" if bench.channels == 1 else f"phones {('left', 'right')[channel]}"
        said.append(Reading(Question("works", name), word, f"owner {channel}"))
    return said


def where(bench: Bench, place: str) -> tuple[int, int, bool]:
    """(channel, stage, at its input) of a place the engine names."""
    at_input = "." in place
    name = place.partition(".")[0].removeprefix("after-")
    channel = 1 if bench.channels == 2 and name.endswith("R") else 0
    name = name[:-1] if bench.channels == 2 else name
    return channel, bench.names.index(name), at_input and place.partition(".")[2] in ("in", "1")


def answer(bench: Bench, ask: Question, number: int) -> list[Reading]:
    """What the person finds for one card: a figure good to 3 %; for a share a word, or, by one who
    likes figures and has an equal channel, the figures of both."""
    if ask.red.startswith(("rail", "supply")):
        dead = bench.fault is not None and bench.fault.what == "dead supply"
        volts = 0.0 if dead else 12.0 * float(np.exp(0.02 * bench.rng.standard_normal()))
        return [Reading(ask, volts, f"reading {number}")]
    channel, stage, at_input = where(bench, ask.red)
    if ask.instrument == "ohms":
        return [Reading(ask, _ohms(bench, channel, stage), f"reading {number}")]
    if ask.instrument == "pp":
        return [_figure(bench, ask, number)]
    if bench.words or bench.channels == 1:
        left = bench.share(channel, stage, at_input)
        word = 0.0 if left < 0.04 else 0.5 if left < 0.75 else 1.0
        return [Reading(ask, word, f"reading {number}")]
    own, other = ("L", "R") if channel == 0 else ("R", "L")
    place = ask.red.replace(f"{own}.", f"{other}.") if at_input else ask.red[:-1] + other
    return [_figure(bench, replace(ask, red=red), number) for red in (ask.red, place)]


def _figure(bench: Bench, ask: Question, number: int) -> Reading:
    """A trace read to 3 % and a millivolt."""
    channel, stage, at_input = where(bench, ask.red)
    volts = bench.levels(channel)[int(at_input)][stage]
    shown = volts * (1.0 + 0.03 * bench.rng.standard_normal()) + 0.001 * bench.rng.standard_normal()
    return Reading(Question("pp", ask.red, setup=ask.setup), max(0.0, float(shown)), f"reading {number} {ask.red}")


def _ohms(bench: Bench, channel: int, stage: int) -> float:
    """Ohms to ground with power off: an output without power is a few times off, what hangs there is not."""
    asleep = float(bench.out[channel, stage] * np.exp(bench.rng.standard_normal()))
    here = bench.fault
    hangs = here is not None and (here.channel, here.stage) == (channel, stage)
    if hangs and here is not None and here.what in ("short at a node", "loaded node"):
        return 1.0 / (1.0 / asleep + 1.0 / here.size)
    return asleep


# Judging --------------------------------------------------------------------------------------------


def spots(bench: Bench, item: str, mode: str) -> tuple[str, int, int]:
    """Where a suspect of the engine lies: ("stage", "gap" before it, "node" after it or "supply", channel, stage)."""
    if item.startswith(("supply", "rail")):
        return "supply", 0, 0
    if item.startswith("phones"):
        channel = 1 if item.startswith("phonesR") else 0
        return (
            ("node", channel, len(bench.names) - 1) if mode == "input-damaged" else ("stage", channel, len(bench.names))
        )
    channel, stage, _ = where(bench, item)
    if mode in ("loads-net", "shorts-net"):
        return "node", channel, stage
    if mode == "input-damaged":
        return "node", channel, max(stage - 1, 0)
    return "gap" if mode.startswith("joint") and ".2" not in item else "stage", channel, stage


def true_spot(bench: Bench) -> tuple[str, int, int]:
    """The same of what is really wrong."""
    fault = bench.fault
    assert fault is not None
    if fault.what == "dead supply":
        return "supply", 0, 0
    if fault.what == "bad lead":
        return "gap", fault.channel, fault.stage + 1
    kind = "node" if fault.what in ("short at a node", "loaded node") else "stage"
    return kind, fault.channel, fault.stage


def neighbourhoods(bench: Bench, chances: Sequence[tuple[tuple[str, int, int], float]]) -> dict[tuple[int, int], float]:
    """(channel, stage) -> chance that the fault is that stage, the way into it, or on its node; (-1, 0): a supply."""
    found: dict[tuple[int, int], float] = {}
    for spot, chance in chances:
        found[near(bench, spot)] = found.get(near(bench, spot), 0.0) + chance
    return found


def near(bench: Bench, spot: tuple[str, int, int]) -> tuple[int, int]:
    """The neighbourhood of a spot; both sides of a coupling capacitor are one node for the signal."""
    kind, channel, stage = spot
    if kind == "node" and bench.kinds[stage] == "coupling":
        stage -= 1
    return (-1, 0) if kind == "supply" else (channel, stage)


@dataclass(frozen=True)
class Found:
    """How one search ended. readings: until sure (or all of them); right: None when never sure; minutes: at the bench,
    with every change of set-up."""

    bench: Bench
    readings: int
    right: bool | None
    kept: bool | None  # neighbours still listed where nothing had split them
    seconds: float
    minutes: float = float("nan")  # of those kept before it was counted


def search(bench: Bench, order: str = OURS) -> Found:
    """Readings in an order until one neighbourhood is above SURE."""
    job = jobs.open_search(machine.read(read_chain(bench.typed(), "bench chain")))
    job = jobs.enter_readings(job, complaints(bench))
    took: list[float] = []
    minutes, listed = 0.0, ORDERS[order](bench)
    for number in range(MOST_READINGS + 1):
        chances = [
            (spots(bench, fault.item, fault.mode), float(chance))
            for suspect, chance in zip(job.belief.suspects, job.belief.probability, strict=True)
            for fault in suspect.faults[:1]
        ]
        (channel, stage), sure = max(neighbourhoods(bench, chances).items(), key=lambda pair: pair[1])
        if sure > SURE:
            right = near(bench, true_spot(bench)) == (channel, stage)
            return Found(bench, number, right, _kept(bench, job, channel, stage), max(took, default=0.0), minutes)
        ask = _from_list(bench, job, listed) or _proposed(job)
        if ask is None or number == MOST_READINGS:
            break
        minutes += step(cast(DrawnPopulation, job.population), ask).minutes
        start = time.perf_counter()
        job = jobs.enter_readings(job, answer(bench, ask, number))
        took.append(time.perf_counter() - start)
    return Found(bench, number, None, None, max(took, default=0.0), minutes)


def _proposed(job: jobs.Search) -> Question | None:
    """The first reading among what is proposed; the person does not repair on suspicion."""
    for action in jobs.look(job).actions:
        if action.kind == "reading":
            power = "off" if action.setup.startswith("power off") else "on"
            return Question(action.instrument, action.where, setup=Setup(power, "playing" if power == "on" else ""))
    return None


def _kept(bench: Bench, job: jobs.Search, channel: int, stage: int) -> bool | None:
    """Stage, the way into it and its node are all still listed; None where a pin or ohms split them."""
    if (
        channel < 0
        or stage == len(bench.names)
        or any("." in r.question.red or r.question.instrument == "ohms" for r in job.readings)
    ):
        return None
    listed = {
        spots(bench, fault.item, fault.mode)
        for suspect, chance in zip(job.belief.suspects, job.belief.probability, strict=True)
        for fault in suspect.faults[:1]
        if chance > LISTED
    }
    wanted = ["stage", "node", "gap"] if bench.kinds[stage] == "block" else ["stage"]
    return all((kind, channel, stage) in listed for kind in wanted)


# Orders of readings -----------------------------------------------------------------------------------


def _ours(bench: Bench) -> Iterator[tuple[int, int]]:
    """No list: what is proposed."""
    yield from ()


def _half_split(bench: Bench) -> Iterator[tuple[int, int]]:
    """(channel, stage) whose output is read: the middle of what lies between a good place and a bad one. That a place
    carries what it should is judged here without error, which no person can."""
    channel, good, bad = _worst(bench), -1, len(bench.names) - 1
    while bad - good > 1:
        middle = (good + bad) // 2
        yield channel, middle
        if bench.share(channel, middle, False) < PASSES:
            bad = middle
        else:
            good = middle


def _one_by_one(bench: Bench) -> Iterator[tuple[int, int]]:
    """The same from the source on, up to the first that is bad."""
    channel = _worst(bench)
    for stage in range(len(bench.names)):
        yield channel, stage
        if bench.share(channel, stage, False) < PASSES:
            return


def _random(bench: Bench) -> Iterator[tuple[int, int]]:
    """The same in no order."""
    stages = np.random.default_rng([SEED, len(bench.names)]).permutation(len(bench.names))
    yield from ((_worst(bench), int(stage)) for stage in stages)


def _worst(bench: Bench) -> int:
    """The channel that the owner complains of most."""
    return int(np.argmin(heard(bench)))


ORDERS = {OURS: _ours, "half split": _half_split, "one by one": _one_by_one, "random": _random}


def _from_list(bench: Bench, job: jobs.Search, listed: Iterator[tuple[int, int]]) -> Question | None:
    """The next output of a list that this bench can read and has not; None where the list has ended."""
    taken = {one.question.red for one in job.readings}
    shares = [one.ask for one in ways(job.population).possible() if one.ask is not None]
    shares = [ask for ask in shares if ask.instrument == "share" and "." not in ask.red and ask.red not in taken]
    at = {where(bench, ask.red)[:2]: ask for ask in shares if not ask.red.startswith(("rail", "supply"))}
    return next((at[place] for place in listed if place in at), None)


# The figures ------------------------------------------------------------------------------------------


def run(faults: int, seed: int) -> list[Found]:
    """So many searches; the same seed gives the same chains, faults and answers."""
    rng = np.random.default_rng(seed)
    return [search(make(rng)) for _ in range(faults)]


def rows(found: Sequence[Found]) -> Iterator[Row]:
    """The figures of a run."""
    count = len(found)
    halving = float(np.mean([np.log2(len(one.bench.names)) + 1.0 for one in found]))
    sure = [one for one in found if one.right is not None]
    readings, note = float(np.mean([one.readings for one in found])), f"log2 n + 1 is {halving:.2f}"
    yield Row("readings to the right block or node, mean", readings, "", halving, "<=", note)
    yield share("found right", [one for one in found if one.right is True], found)
    yield share("confidently wrong", [one for one in found if one.right is False], found, 0.05, "<=")
    yield Row("never sure", (count - len(sure)) / count)
    kept = [one.kept for one in sure if one.kept is not None]
    yield Row("neighbours kept while nothing split them", float(np.mean(kept)) if kept else float("nan"), "", 1.0, ">=")
    yield Row("slowest answer to a reading", max(one.seconds for one in found), "s", 2.0, "<=")


# Kept --------------------------------------------------------------------------------------------


def numbered(number: int, seed: int = SEED) -> Bench:
    """The chain of this number in a campaign, whatever came before it."""
    return make(np.random.default_rng([seed, number]))


def campaign(folder: Path, count: int) -> Iterator[Row]:
    """The figures of so many chains, or of all at hand; those in the folder are not searched again."""
    folder.mkdir(exist_ok=True)
    path = folder / f"chains-{__version__}.jsonl"
    text = path.read_text("utf-8") if path.exists() else ""
    whole = text[: text.rfind("\n") + 1]
    if whole != text:
        path.write_text(whole, "utf-8")  # a last line that a killed run left half written is cut off
    found = [Found(numbered(n), **json.loads(line)) for n, line in enumerate(whole.splitlines())]
    with path.open("a", encoding="utf-8") as kept:
        while len(found) < count:
            found.append(search(numbered(len(found))))
            kept.write(_kept_line(found[-1]))
            kept.flush()
    for row in rows(found[: count or None]) if found else ():
        yield replace(row, what=f"chains: {row.what}")


def orders(count: int, seed: int = SEED) -> Iterator[Row]:
    """Ours beside the orders of readings that people use, on the same chains: minutes of all searches together, those
    that were never sure with all of theirs."""
    every = {name: [search(numbered(n, seed), name) for n in range(count)] for name in ORDERS}
    for name, found in every.items():
        wrong = sum(one.right is False for one in found)
        sure = sum(one.right is not None for one in found)
        minutes = float(np.mean([one.minutes for one in found]))
        yield Row(f"chains, {name}: minutes, mean", minutes, "min", note=f"{sure} of {count} sure, {wrong} wrong")
        if name != OURS:
            pairs = [(mine.minutes, one.minutes) for mine, one in zip(every[OURS], found, strict=True)]
            ratio, between = ratio_of(pairs)
            said = "" if between is None else f"95 %: {between[0]:.2f} to {between[1]:.2f}"
            yield Row(f"chains: ours to {name}", ratio or float("nan"), "", note=said)


def _kept_line(one: Found) -> str:
    kept = {name: getattr(one, name) for name in ("readings", "right", "kept", "seconds", "minutes")}
    return json.dumps(kept) + "\n"


def line_of(one: Found) -> str:
    """One search in a line."""
    what = one.bench.fault.what if one.bench.fault else ""
    chain = f"{len(one.bench.names):>2} stages x {one.bench.channels} {'words' if one.bench.words else 'figures':<8}"
    end = "never sure" if one.right is None else "right" if one.right else "WRONG"
    kept = "" if one.kept is None else "kept" if one.kept else "DROPPED"
    return f"{what:<16}{chain}{one.readings:>3} readings  {end:<11}{kept:<8}{one.seconds:6.1f} s"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print one line a search, then the table."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.chains", description=__doc__)
    parser.add_argument("--faults", type=int, default=50)
    parser.add_argument("--seed", type=int, help=f"of what is made up; {REPORTED}, with --orders {SEED}")
    parser.add_argument("--orders", action="store_true", help="beside the orders that people use")
    chosen = parser.parse_args(arguments)
    if chosen.orders:
        for row in orders(chosen.faults, SEED if chosen.seed is None else chosen.seed):
            print(row.text(), flush=True)
        return
    found = []
    rng = np.random.default_rng(REPORTED if chosen.seed is None else chosen.seed)
    for _ in range(chosen.faults):
        found.append(search(make(rng)))
        print(line_of(found[-1]), flush=True)
    for row in rows(found):
        print(row.text())


if __name__ == "__main__":
    main()
