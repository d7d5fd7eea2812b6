"""How good a run of rehearsals was: shares with their intervals, calibration, proper scores."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import exp, log, sqrt
from statistics import fmean, stdev

from probewright.jobs.view import SCHEMA

DECIDED = ("located", "outside", "healthy", "not_shown")  # findings that say what is wrong, or that nothing is
BINS = 10  # of equal width: the usual number (Guo and others, ICML 2017, section 2)
LEAST_CHANCE = 1e-6  # chosen: a truth held for less probable counts as this, so that one case does not make the score
TWO_SIDED_95 = 1.959963984540054  # standard normal quantile of 0.975


@dataclass(frozen=True)
class Rehearsed:
    """How one rehearsal ended.

    number: which one of the campaign; hidden: id of the suspect planted; complaint: the owner said that
    something does not work; finding: of the verdict, or "mended" where a repair on suspicion cured; called: id
    of the leading suspect; listed: it is one of the list, no stranger; sure: chance of its look-alikes; right: they
    hold the truth; truth: chance of the look-alikes that hold it; cures: mending what the leading suspect lies in
    cures the machine; class_size: members of the leading class; wrong_parts: items mended in vain;
    readings: besides what the owner said; minutes: of readings, swaps and set-ups up to the finding; order: who said
    what came next, a name of `orders.ORDERS`; vain: minutes of what is mended in vain from there to the cure, one
    suspect after the other, the likeliest first.

    With two faults the finding is the first one, and it is repaired on: both: the two were named together before
    any repair; found: both are mended in the end; cured: nothing is complained of in the end; felt: each of the two
    is complained of by itself; repairs: items mended, also in vain, which wrong_parts counts. None with one fault.

    Steps on its cards, made or not: live, with power on; hurting: of these, at places that can hurt; unsafe: that
    nobody should make as they stand (`jobs.onlooking`).
    """

    number: int
    hidden: str
    complaint: bool
    finding: str
    called: str
    listed: bool
    sure: float
    right: bool
    truth: float
    cures: bool
    class_size: int
    wrong_parts: int
    readings: int
    minutes: float
    both: bool | None = None
    found: bool | None = None
    cured: bool | None = None
    felt: bool | None = None
    repairs: int = 0
    order: str = "ours"
    vain: float = 0.0
    live: int = 0
    hurting: int = 0
    unsafe: int = 0


@dataclass(frozen=True)
class Score:
    """Figures of some rehearsals; None where there is nothing to divide by.

    Shares of all: decided; confident_wrong, decided and the truth is not among those named; unexplained;
    called_listed, decided and what leads is one of the list; called_elsewhere, the same and mending what leads
    would not cure.
    right_when_confident: share of the decided. ece, brier: of the chance said of the leading look-alikes
    against their holding the truth. log_score: mean natural logarithm of the chance given to the look-alikes
    that hold the truth, nought at best. class_size_mean: look-alikes named, where decided. wrong_parts,
    readings, bench_minutes: means a rehearsal. Of those with two faults, shares: both, named before any repair; found,
    both mended in the end; found_clean, and nothing mended in vain; cured. ci95: Wilson's interval of each share.
    Counts of all cards: live, hurting, unsafe steps, as in `Rehearsed`.
    """

    n: int
    decided: float | None
    right_when_confident: float | None
    confident_wrong: float | None
    unexplained: float | None
    called_listed: float | None
    called_elsewhere: float | None
    ece: float | None
    brier: float | None
    log_score: float | None
    class_size_mean: float | None
    wrong_parts: float | None
    readings: float | None
    bench_minutes: float | None
    ci95: dict[str, tuple[float, float] | None]
    findings: dict[str, int]
    both: float | None = None
    found: float | None = None
    found_clean: float | None = None
    cured: float | None = None
    live: int = 0
    hurting: int = 0
    unsafe: int = 0


@dataclass(frozen=True)
class OrderMinutes:
    """What the readings of one order took, over n rehearsals; each figure with its 95 % interval beside it.

    decided: share that came to a finding that says what is wrong, or that nothing is; mean: minutes to the end,
    whatever it was; to_cure: the same with what is mended in vain until the cure, so that an end without a finding or
    with a wrong one counts. Beside ours, on the same machines: both, number of machines that both orders decided;
    ratio: mean minutes of ours over those of this order on these; ratio_to_cure: of all machines, with what is mended
    in vain. None where there is nothing to divide by.
    """

    n: int
    decided: float
    decided_ci95: tuple[float, float]
    mean: float
    mean_ci95: tuple[float, float] | None
    to_cure: float
    to_cure_ci95: tuple[float, float] | None
    both: int
    ratio: float | None
    ratio_ci95: tuple[float, float] | None
    ratio_to_cure: float | None
    ratio_to_cure_ci95: tuple[float, float] | None


@dataclass(frozen=True)
class CampaignView(Score):
    """A whole campaign: its scores, what it was, and the same scores of its kinds of machine.

    groups: "listed, with a complaint", "listed, no complaint" and "sound" for what was hidden; minutes: by name of the
    order of readings, ours always among them. The scores are those of ours.
    """

    machine: str = ""
    key: str = ""
    withhold: str = ""
    tolerance_x: float = 1.0
    misfit: str = ""
    brought: bool = False
    quick: bool = False
    pairs: bool = False
    felt: bool = False
    paces: str = ""
    trained: bool = False
    alone: bool = False
    most_readings: int = 0
    interval: str = "Wilson score interval, 95 % (Wilson, J. Am. Stat. Assoc. 22, 1927)"
    groups: dict[str, Score] = field(default_factory=dict)
    minutes: dict[str, OrderMinutes] = field(default_factory=dict)
    schema: str = SCHEMA


def score(rows: Sequence[Rehearsed]) -> Score:
    """Every figure of these rehearsals."""
    n = len(rows)
    sure = [one for one in rows if one.finding in DECIDED]
    counts = {
        "decided": (len(sure), n),
        "right_when_confident": (sum(one.right for one in sure), len(sure)),
        "confident_wrong": (sum(not one.right for one in sure), n),
        "unexplained": (sum(one.finding == "unexplained" for one in rows), n),
        "called_listed": (sum(one.listed for one in sure), n),
        "called_elsewhere": (sum(one.listed and not one.cures for one in sure), n),
    }
    two = [one for one in rows if one.found is not None]
    counts |= {
        "both": (sum(bool(one.both) for one in two), len(two)),
        "found": (sum(bool(one.found) for one in two), len(two)),
        "found_clean": (sum(bool(one.found) and not one.wrong_parts for one in two), len(two)),
        "cured": (sum(bool(one.cured) for one in two), len(two)),
    }
    said = [(one.sure, one.right) for one in rows]
    return Score(
        n=n,
        **{name: some / total if total else None for name, (some, total) in counts.items()},
        ece=calibration_error(said) if rows else None,
        brier=brier_score(said) if rows else None,
        log_score=log_score([one.truth for one in rows]) if rows else None,
        class_size_mean=_mean(sure, lambda one: one.class_size),
        wrong_parts=_mean(rows, lambda one: one.wrong_parts),
        readings=_mean(rows, lambda one: one.readings),
        bench_minutes=_mean(rows, lambda one: one.minutes),
        ci95={name: wilson(some, total) if total else None for name, (some, total) in counts.items()},
        findings=dict(sorted(Counter(one.finding for one in rows).items())),
        live=sum(one.live for one in rows),
        hurting=sum(one.hurting for one in rows),
        unsafe=sum(one.unsafe for one in rows),
    )  # fmt: skip


def _mean(rows: Sequence[Rehearsed], figure: Callable[[Rehearsed], float]) -> float | None:
    return sum(figure(one) for one in rows) / len(rows) if rows else None


# Orders beside each other ---------------------------------------------------------------------


def by_order(rows: Sequence[Rehearsed]) -> dict[str, OrderMinutes]:
    """Minutes of every order that was rehearsed, beside those of ours on the same machines."""
    done: dict[str, dict[int, Rehearsed]] = {}
    for one in rows:
        done.setdefault(one.order, {})[one.number] = one
    return {order: _beside(done.get("ours", {}), mine) for order, mine in done.items()}


def _beside(ours: Mapping[int, Rehearsed], mine: Mapping[int, Rehearsed]) -> OrderMinutes:
    all_mine = list(mine.values())
    pairs = [(ours[number], one) for number, one in mine.items() if number in ours]
    both = [(a, b) for a, b in pairs if a.finding in DECIDED and b.finding in DECIDED]
    sure = sum(one.finding in DECIDED for one in all_mine)
    mean, mean_ci95 = mean_of([one.minutes for one in all_mine])
    to_cure, to_cure_ci95 = mean_of([one.minutes + one.vain for one in all_mine])
    ratio, ratio_ci95 = ratio_of([(a.minutes, b.minutes) for a, b in both])
    whole, whole_ci95 = ratio_of([(a.minutes + a.vain, b.minutes + b.vain) for a, b in pairs])
    return OrderMinutes(
        len(all_mine), sure / len(all_mine), wilson(sure, len(all_mine)), mean, mean_ci95, to_cure, to_cure_ci95,
        len(both), ratio, ratio_ci95, whole, whole_ci95,
    )  # fmt: skip


def mean_of(figures: Sequence[float]) -> tuple[float, tuple[float, float] | None]:
    """Mean with its 95 % interval, normal; None for one figure alone."""
    middle = fmean(figures)
    if len(figures) < 2:
        return middle, None
    half = TWO_SIDED_95 * stdev(figures) / sqrt(len(figures))
    return middle, (middle - half, middle + half)


def ratio_of(pairs: Sequence[tuple[float, float]]) -> tuple[float | None, tuple[float, float] | None]:
    """Mean of the first over mean of the second of each pair, with its 95 % interval; None where that is nothing.

    The interval is normal in the logarithm, its variance that of the ratio of two means of the same units: the
    squares of (x - r y) over n - 1, n and the mean of y squared (Cochran, Sampling Techniques, 1977, section 6.4).
    """
    over = sum(y for _, y in pairs)
    ratio = sum(x for x, _ in pairs) / over if over else None
    if not ratio or len(pairs) < 2:
        return ratio, None
    off = sum((x - ratio * y) ** 2 for x, y in pairs) / (len(pairs) - 1)
    half = TWO_SIDED_95 * sqrt(off / len(pairs)) / (over / len(pairs)) / ratio
    return ratio, (ratio * exp(-half), ratio * exp(half))


# Chances and what came ------------------------------------------------------------------------


def calibration_error(said: Iterable[tuple[float, bool]]) -> float:
    """Expected calibration error of chances said and what came true: over BINS even bins of the chance, the
    mean of |share true - mean chance|, each bin by its number (Guo and others, ICML 2017, equation 5)."""
    bins: dict[int, list[tuple[float, bool]]] = {}
    for chance, true in said:
        bins.setdefault(min(int(chance * BINS), BINS - 1), []).append((chance, true))
    total = sum(len(inside) for inside in bins.values())
    return (
        sum(abs(sum(true for _, true in inside) - sum(chance for chance, _ in inside)) for inside in bins.values())
        / total
    )


def brier_score(said: Sequence[tuple[float, bool]]) -> float:
    """Mean square of chance said less what came, 1 or 0 (Brier, Mon. Weather Rev. 78, 1950, in the half form of
    Wilks, Statistical Methods in the Atmospheric Sciences): nought at best, 0.25 for always one half."""
    return sum((chance - true) ** 2 for chance, true in said) / len(said)


def log_score(chances: Sequence[float]) -> float:
    """Mean natural logarithm of the chance that was given to the truth (Good, J. R. Stat. Soc. B 14, 1952)."""
    return sum(log(max(chance, LEAST_CHANCE)) for chance in chances) / len(chances)


def wilson(some: int, total: int) -> tuple[float, float]:
    """Score interval of a share, 95 % (Wilson, J. Am. Stat. Assoc. 22, 1927; method 3 of Newcombe, Statistics in
    Medicine 17, 1998): inside 0 to 1, and no narrower than it should be where nothing was counted."""
    z2, share = TWO_SIDED_95**2, some / total
    middle = share + z2 / (2 * total)
    half = TWO_SIDED_95 * sqrt(share * (1.0 - share) / total + z2 / (4 * total**2))
    low, high = (middle - half) / (1.0 + z2 / total), (middle + half) / (1.0 + z2 / total)
    return (0.0 if some == 0 else low), (1.0 if some == total else high)
