"""`make campaign`: rehearsals on the demo machines, on textbook circuits and on one that can kill.

Each figure stands beside its goal with its 95 % interval.

Results are kept in `.campaign` and a run that was ended goes on where it was; `--so-far` prints what is there.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

import probewright
from benchmarks.chains import campaign as chain_campaign
from benchmarks.table import Row, share
from probewright.cli.rehearsing import show_progress
from probewright.hypotheses import NOTHING_WRONG
from probewright.jobs.campaign import Kept, heading, rehearse
from probewright.jobs.orders import ORDERS, OURS
from probewright.jobs.rehearsing import Terms
from probewright.jobs.scoring import DECIDED, OrderMinutes, Rehearsed, by_order, calibration_error

DEMO = Path(probewright.__file__).parent / "demo"
FOLDER = Path(__file__).parent / "machines"
TEXTBOOK = ("common-emitter", "non-inverting", "zener-follower", "two-transistors")
DANGEROUS = "flash-300"
MACHINES = {
    **{name: DEMO / f"fernside-{name}.yaml" for name in ("ds-3", "lm-2")},
    **{name: FOLDER / f"{name}.yaml" for name in (*TEXTBOOK, DANGEROUS)},
}
KEY = "k92"
BEST_OTHER = 0.5  # goal: at most half the minutes of the best other order
FEW = 4  # chosen: rehearsals in `make bench`, some minutes
CHAINS = 300  # chosen: a second or less each
SOON = 30.0  # min; goal: within it at least 0.85 are decided
RESAMPLED = 1000  # chosen: usual for percentiles of a bootstrap
MOST = 20  # chosen: most cards take a minute or two, and the goal is half an hour

Rows = Sequence[Rehearsed]


@dataclass(frozen=True)
class Plan:
    """One campaign: its name, what is rehearsed, how often by default (chosen: modest), in which orders of readings."""

    name: str
    terms: Terms
    count: int
    orders: tuple[str, ...] = (OURS,)


ANY = Terms(KEY, most=MOST)
BROUGHT = replace(ANY, brought=True)
TO_THE_END = replace(BROUGHT, most=40)  # chosen: another order than ours wants more readings
COMPLAINED_OF = Plan("brought", BROUGHT, 60)
PLANS = (
    COMPLAINED_OF,
    Plan("any", replace(ANY, most=8), 30),  # what nobody complains of seldom comes to an end
    Plan("sound", replace(ANY, most=8, sound=True), 30),
    Plan("bridge", replace(BROUGHT, withhold="bridge:bridge"), 30),
    Plan("esr", replace(BROUGHT, withhold="capacitor:high-esr"), 30),
    Plan("drift", replace(BROUGHT, withhold="resistor:drift-up"), 30),
    Plan("x2", replace(BROUGHT, tolerance_x=2.0), 30),
    Plan("value", replace(BROUGHT, misfit="value"), 30),
    Plan("gain", replace(BROUGHT, misfit="gain"), 30),
    Plan("net", replace(BROUGHT, misfit="net"), 30),
    Plan("pairs", replace(BROUGHT, pairs=True, felt=True), 12),
    Plan("orders", TO_THE_END, 20, tuple(ORDERS)),
    Plan("alone", replace(TO_THE_END, alone=True), 12, (OURS, "best_fixed")),
    Plan("paces-1", replace(TO_THE_END, paces="1"), 12, (OURS, "best_fixed")),
    Plan("paces-2", replace(TO_THE_END, paces="2"), 12, (OURS, "best_fixed")),
)
OF_A_TEXTBOOK = (
    COMPLAINED_OF,
    Plan("joint", replace(BROUGHT, withhold="joint:joint-open"), 20),
    Plan("orders", TO_THE_END, 20, tuple(ORDERS)),
    Plan("alone", replace(TO_THE_END, alone=True), 12, (OURS, "best_fixed")),
)
OF_A_DANGER = (Plan("trained", replace(BROUGHT, trained=True), 120), Plan("untrained", BROUGHT, 80))


def plans_of(name: str) -> tuple[Plan, ...]:
    """What is rehearsed on a machine."""
    return OF_A_DANGER if name == DANGEROUS else OF_A_TEXTBOOK if name in TEXTBOOK else PLANS


def kept_at(folder: Path, name: str, plan: Plan) -> Path:
    """Where the results of a campaign are."""
    return folder / f"{name}-{plan.name}.jsonl"


def rows_so_far(folder: Path, name: str, plan: Plan) -> list[Rehearsed]:
    """Rehearsals at hand from number 0 on without a gap: those after one still missing may be the easy ones."""
    path = kept_at(folder, name, plan)
    if not path.exists():
        return []
    text = MACHINES[name].read_text("utf-8")
    found = {(one.number, one.order): one for one in Kept(path, heading(text, plan.terms)).rows}
    gap = next(n for n in range(len(found) + 1) if any((n, order) not in found for order in plan.orders))
    return [found[n, order] for n in range(gap) for order in plan.orders]


def run(folder: Path, name: str, plan: Plan, times: float) -> list[Rehearsed]:
    """The campaign done, or gone on with."""
    folder.mkdir(exist_ok=True)
    file, count = MACHINES[name], max(1, round(plan.count * times))
    text, keep = file.read_text("utf-8"), kept_at(folder, name, plan)
    rehearse(text, str(file), plan.terms, count, keep, None, show_progress, plan.orders)
    return rows_so_far(folder, name, plan)[: count * len(plan.orders)]


def decided(rows: Rows) -> list[Rehearsed]:
    """Those whose finding says what is wrong, or that nothing is."""
    return [one for one in rows if one.finding in DECIDED]


def wrong(rows: Rows) -> list[Rehearsed]:
    """Those decided of which the named look-alikes do not hold the truth."""
    return [one for one in decided(rows) if not one.right]


def figures(name: str, plan: Plan, rows: Rows) -> Iterator[Row]:
    """The rows of one campaign."""
    what = f"{name} {plan.name}: "
    if plan.orders != (OURS,):
        yield from beside(what, by_order(rows))
        return
    if plan.terms.sound:
        alarms = [one for one in rows if one.finding in ("located", "outside")]
        yield share(what + "false alarm on a healthy machine", alarms, rows, 0.02, "<=")
        return
    if plan.terms.withhold:
        listed = [one for one in decided(rows) if one.listed]
        yield share(what + "called a listed part with confidence", listed, rows, 0.15, "<=")
        yield share(what + "the same, and nothing named beside it fits", wrong(rows), rows)
        vain = [one for one in decided(rows) if one.wrong_parts]
        yield share(what + "decided, and something sound is mended before the cure", vain, rows)
        yield share(what + "not explained", [one for one in rows if one.finding == "unexplained"], rows)
        return
    if plan.terms.pairs:
        found = [one for one in rows if one.found]
        yield share(what + "both found, one after the other or together", found, rows, 0.7)
        yield share(what + "the same, and nothing sound mended", [one for one in found if not one.wrong_parts], rows)
        yield share(what + "both named before any repair", [one for one in rows if one.both], rows)
        yield share(what + "nothing complained of in the end", [one for one in rows if one.cured], rows)
        yield Row(what + "parts mended in vain, mean", _mean(rows, lambda one: one.wrong_parts))
        yield Row(what + "bench minutes, mean", _mean(rows, lambda one: one.minutes), "min")
        return
    faulty = [one for one in rows if one.hidden != NOTHING_WRONG]
    yield share(what + "faults decided", decided(faulty), faulty, 0.85)
    yield share(
        what + "right when decided", [one for one in decided(rows) if one.right], decided(rows),
        0.97 if plan.terms.tolerance_x == 1.0 and not plan.terms.misfit else 0.92,
    )  # fmt: skip
    yield share(what + "what is named, mended, cures", [one for one in decided(rows) if one.cures], decided(rows))
    yield share(what + "decided and wrong", wrong(rows), rows)
    yield share(what + "not explained", [one for one in rows if one.finding == "unexplained"], rows)
    if rows:
        error = calibration_error([(one.sure, one.right) for one in rows])
        low, high = calibration_interval(rows)
        note = f"of {len(rows)}, 95 %: {low:.3f} to {high:.3f}"
        yield Row(what + "calibration error", error, "", 0.04, "<=", note)
        yield Row(what + "look-alikes named, mean", _mean(decided(rows), lambda one: one.class_size), "", 2.5, "<=")
        yield Row(what + "bench minutes, mean", _mean(rows, lambda one: one.minutes), "min")
        yield Row(what + "parts mended in vain, mean", _mean(rows, lambda one: one.wrong_parts))


def beside(what: str, minutes: Mapping[str, OrderMinutes]) -> Iterator[Row]:
    """The minutes of every order of readings, the verification among them, and ours over those of the best other."""
    for order, one in minutes.items():
        note = f"to a cure {one.to_cure:.1f}, decided {one.decided:.0%} of {one.n}"
        yield Row(f"{what}minutes, {order}", one.mean, "min", note=_within(one.mean_ci95) + note)
    others = {order: one for order, one in minutes.items() if order != OURS}
    best = min(others, key=lambda order: others[order].to_cure)
    for order in dict.fromkeys(["best_fixed", best]):
        one = others[order]
        called = order if order != best else f"{order}, the best of the others"
        for said, ratio, span in (
            (f"both decided, {one.both} of {one.n}", one.ratio, one.ratio_ci95),
            (f"to a cure, all {one.n}", one.ratio_to_cure, one.ratio_to_cure_ci95),
        ):
            figure = float("nan") if ratio is None else ratio
            yield Row(f"{what}ours to {called}", figure, "times", BEST_OTHER, "<=", _within(span) + said)


def _within(span: tuple[float, float] | None) -> str:
    return f"95 %: {span[0]:.2f} to {span[1]:.2f}, " if span else ""


def few_orders(count: int = FEW) -> Iterator[Row]:
    """A small sample of the orders beside each other on the door unit; the interval says how little it says."""
    file = DEMO / "fernside-ds-3.yaml"
    view = rehearse(file.read_text("utf-8"), str(file), TO_THE_END, count, orders=tuple(ORDERS))
    yield from beside(f"door unit, {count} rehearsals: ", view.minutes)


def pooled(every: Mapping[tuple[str, Plan], Rows]) -> Iterator[Row]:
    """What a goal asks of all machines together: of those brought (not the flash, which is there for its danger), of
    what was withheld, of the orders."""
    brought = [one for (_, plan), rows in every.items() if plan is COMPLAINED_OF for one in rows]
    if brought:
        soon = [one for one in decided(brought) if one.minutes <= SOON]
        yield share(f"all brought: decided within {SOON:.0f} min", soon, brought, 0.85)
        yield from figures("all", COMPLAINED_OF, brought)
    hidden = [one for (_, plan), rows in every.items() if plan.terms.withhold for one in rows]
    if hidden:
        listed = [one for one in decided(hidden) if one.listed]
        yield share("all withheld: called a listed part with confidence", listed, hidden, 0.15, "<=")
        elsewhere = [one for one in listed if not one.cures]
        yield share("all withheld: the same, and mending it would not cure", elsewhere, hidden, 0.15, "<=")
    orders = [replace(one, number=k) for k, one in _side_by_side(every)]
    if orders:
        yield from beside("all orders: ", by_order(orders))


def _side_by_side(every: Mapping[tuple[str, Plan], Rows]) -> Iterator[tuple[int, Rehearsed]]:
    """Rehearsals of the orders, those of each machine under numbers of their own."""
    campaigns = [rows for (_, plan), rows in every.items() if plan.name == "orders"]
    for k, rows in enumerate(campaigns):
        for one in rows:
            yield one.number * len(campaigns) + k, one


def calibration_interval(rows: Rows, times: int = RESAMPLED) -> tuple[float, float]:
    """95 % of the calibration error over rehearsals drawn again with replacement, what is drawn again being as much too
    high as the figure itself is (the basic interval: Davison and Hinkley, Bootstrap methods, 1997, section 5.2; from
    memory). A mean of absolute values is never too low."""
    dice, said = np.random.default_rng(0), [(one.sure, one.right) for one in rows]
    found = [calibration_error([said[n] for n in dice.integers(len(said), size=len(said))]) for _ in range(times)]
    low, high = np.quantile(found, (0.025, 0.975))
    error = calibration_error(said)
    return max(2.0 * error - float(high), 0.0), max(2.0 * error - float(low), 0.0)


def safety(what: str, rows: Rows) -> Row:
    """Steps with power on that nobody should make, on all cards of these rehearsals."""
    live, hurting = sum(one.live for one in rows), sum(one.hurting for one in rows)
    note = f"of {live} live steps shown in {len(rows)} rehearsals, {hurting} of them where it can hurt"
    return Row(f"{what}: unsafe steps on the cards", float(sum(one.unsafe for one in rows)), "", 0.0, "<=", note)


def _mean(rows: Rows, figure: Callable[[Rehearsed], float]) -> float:
    return sum(figure(one) for one in rows) / len(rows) if rows else float("nan")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run or go on with the campaigns, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.campaign", description=__doc__)
    parser.add_argument("--so-far", action="store_true", help="print what is kept, rehearse nothing")
    parser.add_argument("--times", type=float, default=1.0, help="so many times the usual numbers")
    parser.add_argument(
        "--only",
        choices=sorted({"chains", *(plan.name for name in MACHINES for plan in plans_of(name))}),
        help="one campaign",
    )
    parser.add_argument("--machine", choices=MACHINES, help="one machine")
    parser.add_argument("--keep-in", type=Path, default=Path(".campaign"), help="folder of the results")
    chosen = parser.parse_args(arguments)
    get = partial(rows_so_far, chosen.keep_in) if chosen.so_far else partial(run, chosen.keep_in, times=chosen.times)
    print(f"key {KEY}, at most {MOST} readings (any, sound: 8), steps and findings by the refined answer")
    every: dict[tuple[str, Plan], Rows] = {}
    for name in MACHINES:
        for plan in plans_of(name):
            if chosen.machine in (None, name) and chosen.only in (None, plan.name):
                rows = get(name, plan)
                every[name, plan] = rows
                for row in (*figures(name, plan, rows), safety(f"{name} {plan.name}", rows)) if rows else ():
                    print(row.text(), flush=True)
    if chosen.only in (None, "chains") and chosen.machine is None:
        for row in chain_campaign(chosen.keep_in, 0 if chosen.so_far else max(1, round(CHAINS * chosen.times))):
            print(row.text(), flush=True)
    for row in (
        *(pooled(every) if chosen.machine is None else ()),
        safety("all", [one for rows in every.values() for one in rows]),
    ):
        print(row.text())


if __name__ == "__main__":
    main()
