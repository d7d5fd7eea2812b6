"""How probable an answer is in each variant: the instrument's error, and the ways a hand slips.

Readings of one hook-up share their slip: repeating the same wrong hook-up is no new evidence.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from probewright.machine.following import brought_by
from probewright.machine.model import GROUND, Machine, Works
from probewright.prediction.bank import Bank
from probewright.prediction.latents import below, nobody_knows
from probewright.prediction.outcomes import (
    FAINT,
    chance_of_word,
    chance_works,
    neighbours,
    nobody_reads,
    show,
    unharmed,
)
from probewright.readings import DRAWN, KEPT, PROVOKE, SCOPED, Question, Reading, on_this_one
from probewright.readings.instruments import FEEDING, METERED, error, law, unit_of
from probewright.readings.lines import step_of

# Chances that one placing of the probes is wrong, by kind. All chosen; "anything" is the least that
# keeps a single wrong figure from deciding a job.
SLIP = {"neighbour": 0.008, "range": 0.004, "polarity": 0.003, "no contact": 0.005, "anything": 0.01}
HONEST = 1.0 - sum(SLIP.values())
MODEL_SD = 0.002  # chosen: share by which real parts stray from their equations
MODEL_FLOOR = 1e-3  # V, the same
FLOOR = 0.02  # chosen: no owner's word is ever more certain than this
PROBED_FLOOR = 0.01  # chosen: the same for what a repairer finds with a probe, as SLIP's "anything"
BESIDE = 0.2  # chosen: standard deviation, in the natural logarithm (1.7 dB), of a level judged beside a right one
EAR = 0.3  # chosen: standard deviation, in the natural logarithm, of "half", "double" by ear or eye
EAR_DOWN = 0.6  # chosen: the same for what is less than was said: "half" is said of a quarter too
NONE = 0.05  # chosen: share of a signal, 26 dB down, at which half of all people say that it is not there
NONE_STEEP = 3.0  # chosen: how suddenly they come to say so
BEEP_OHMS = 40.0  # continuity ranges beep below 20 to 75 ohm: common practice, no source
BEEP_STEEP = 6.0  # chosen: at 20 ohm 98 in 100 beep, at 75 ohm 2 in 100
UNLOADED = 0.5  # chosen: a bad contact without current passes a continuity test so often
LOOSE = float(np.log(10.0))  # chosen: ohms into a stage known from outside: without power it is not what it is with
SHARE_WORDS = ("none", "half", "ok")  # of a level in words; "half" stands for anything between
OVER = 0.1  # chosen: chance that a figure nobody can foresee is over-limit
# ohm, F: where the even spread in the logarithm of such a figure begins; chosen below the instrument's own floor
SMALLEST = {"ohms": 0.1, "esr": 0.01, "farads": 1e-12}
BY_RATIO = tuple(one for one, unit in SCOPED.items() if unit in ("s", "Hz"))  # they err by so much of themselves
LEAST_TIME = 1e-9  # s or Hz: what is shorter, or rarer, is none
LONGEST, SHORTEST = 1e3, 1e-7  # chosen, s: where a time that nobody can foresee lies, evenly in the logarithm
AMPS_WIDE = 1.0  # A, chosen: the same for what a supply gives
SHARE_WIDE = 0.3  # chosen: how wide a share that nobody can foresee lies about nought
# Chosen: figures of one kind come from one amplifier or one time base, whose error they have in common.
COMMON = {
    **{one: "volts" for one in ("pp", "top", "valley", "level", "sag", "last", "drift")},
    **{one: "time" for one in BY_RATIO},
}
OPEN_IS_OVER = ("ohms", "diode", "esr", "rise", "fall", "period")  # without contact: over-limit, or never
FAR = 30.0  # chosen, standard deviations: so far off an honest reading weighs nothing, whatever it shares
LEAST = -700.0  # nat; below this a double is nought anyway
MOST_PLACINGS = 6  # chosen: placings at one place that are weighed together; 64 ways to slip
UNLISTED_HEALTHY = 0.5  # chosen: half of what is not in the file leaves any one place as it was


@dataclass(frozen=True)
class Judged:
    """Log-likelihood of what was said in each variant.

    nats (variant,); honest (variant, reading) chance that each reading was taken as said;
    judged (variant,), False where nothing is known of the cell: it is left where it was; solved
    (variant,), False where this draw's own circuit was not solved.
    """

    nats: np.ndarray
    honest: np.ndarray
    judged: np.ndarray
    solved: np.ndarray


def normal_nats(x: np.ndarray | float, sd: np.ndarray | float) -> np.ndarray:
    """Log density of a normal law at distance x."""
    return np.asarray(-0.5 * (x / sd) ** 2 - np.log(sd) - 0.9189385332046727)


def is_metered(reading: Reading) -> bool:
    """A figure of an instrument, OL included; a bound or a word is none."""
    return reading.question.instrument in METERED and reading.bound is None and isinstance(reading.answer, float)


def is_weighed(machine: Machine, ask: Question) -> bool:
    """Whether suspects say anything about this question.

    Not about what is only kept, nor about the direct volts of a block known from outside: it may
    stand at any.
    """
    if ask.instrument in KEPT:
        return False
    if ask.instrument in ("diode", "esr", "farads"):
        return not any(_driven_by_unknown(machine, place) for place in (ask.red, ask.black))
    if ask.instrument != "dc" or ask.setup.power != "on":
        return True
    return not any(_driven_by_unknown(machine, place) for place in (ask.red, ask.black))


def is_loose(machine: Machine, ask: Question) -> bool:
    """Ohms into a block known only from outside: good for a short, and for little else."""
    return ask.instrument == "ohms" and any(_driven_by_unknown(machine, place) for place in (ask.red, ask.black))


def is_exact(machine: Machine, reading: Reading) -> bool:
    """A finite figure of this machine that suspects foretell to the error of the instrument."""
    ask = reading.question
    finite = is_metered(reading) and bool(np.isfinite(float(reading.answer))) and not ask.setup.sister
    return finite and is_weighed(machine, ask) and not is_loose(machine, ask)


def carries_number(machine: Machine, reading: Reading) -> bool:
    """An exact figure, or a share of healthy of a function, that a straight line can be fitted to."""
    told = reading.question.instrument == "works" and reading.bound is None and isinstance(reading.answer, float)
    return told or is_exact(machine, reading)


def _driven_by_unknown(machine: Machine, place: str) -> bool:
    """A block whose gain nobody knows has its input or output there."""
    net = machine.net_of(place)
    ends = ((machine.parts[part], pin) for part, pin in machine.pins_on(net) if net != GROUND)
    return any(pin in ("in", "out") and nobody_knows(part, "gain") for part, pin in ends if part.kind == "block")


def hookup_nats(bank: Bank, said: Sequence[Reading]) -> Judged:
    """Log-likelihood of the readings of one hook-up, taken together."""
    weighed = [r for r in said if is_weighed(bank.model.machine, r.question)]
    told_of = [r for r in weighed if not is_metered(r) or is_loose(bank.model.machine, r.question)]
    others = [*told_of, *(r for r in weighed if r.question.setup.sister and r not in told_of)]
    meters = [r for r in weighed if r not in others]
    nats, judged = np.zeros(bank.size), np.ones(bank.size, bool)
    honest = np.ones((bank.size, len(said)))
    for reading in others:
        told, ok = _told(bank, reading)
        nats, judged = nats + told, judged & ok
    if meters:
        measured = _measured(bank, meters)
        nats, judged = nats + measured.nats, judged & measured.judged
        for column, reading in enumerate(said):
            if reading in meters:
                honest[:, column] = measured.honest[:, 0]
    return Judged(nats, honest, judged, judged)


def weigh_ahead(bank: Bank, ask: Question) -> None:
    """Solve all that an answer to this question will be weighed by, whatever the answer; nothing for a provocation."""
    if ask.instrument == PROVOKE:
        return
    answer: float | str = {"swap": "same", "beep": "beeps"}.get(ask.instrument, 1.0)
    hookup_nats(bank, [Reading(ask, answer, "ahead")])


def _told(bank: Bank, reading: Reading) -> tuple[np.ndarray, np.ndarray]:
    """Log-likelihood of what a person saw or heard (a share of healthy, a word, a bound, a swap); judged."""
    ask, answer = reading.question, reading.answer
    if reading.bound is not None or ask.instrument in ("share", "beep", "ohms"):
        shown = show(bank, ask)
        chance = chance_within(reading, shown.value) if reading.bound is not None else _chance_told(bank, reading)
        return np.log(PROBED_FLOOR + (1.0 - 2.0 * PROBED_FLOOR) * chance), shown.judged
    if ask.setup.sister and is_metered(reading):
        shown = show(bank, ask)
        chance = _as_the_sister(bank, reading, shown.value)
        return np.log(PROBED_FLOOR + (1.0 - PROBED_FLOOR) * chance), shown.judged
    if isinstance(answer, float):
        shown = show(bank, ask)
        near = np.exp(-0.5 * ((np.log(answer) - np.log(np.maximum(shown.value, 0.01))) / EAR) ** 2)
        return np.log(FLOOR + (1.0 - FLOOR) * near), shown.judged
    if ask.instrument == "swap":
        shown = show(bank, ask)
        chance, judged = (1.0 - shown.value if answer == "same" else shown.value), shown.judged
    else:
        works = next(w for w in bank.model.machine.works if w.name == ask.red)
        if answer in ("ok", "bad"):
            good, judged = chance_works(bank, works, ask.setup)
            chance = good if answer == "ok" else 1.0 - good
        else:
            chance, judged = chance_of_word(bank, works, answer, ask.setup)
        chance = _only_if(bank, works, chance, reading)
    return np.log(FLOOR + (1.0 - 2.0 * FLOOR) * chance), judged


def _as_the_sister(bank: Bank, reading: Reading, value: np.ndarray) -> np.ndarray:
    """How well (variant,) a figure read on the sister goes with what she should show, nought to one.

    How far two sound machines lie apart counts like an error of the meter, so that one sharp figure of
    another machine does not leave a handful of draws of this one.
    """
    answer, here = float(reading.answer), replace(reading.question, setup=on_this_one(reading.question.setup))
    if np.isinf(answer):
        return np.asarray(np.where(np.isinf(value), 1.0, 0.0))
    apart = show(bank.middle.sisters, here)
    use = apart.judged & np.isfinite(apart.value)
    if not use.any():
        return np.ones(value.shape)
    usual = float(np.median(apart.value[use]))
    shares = reading.question.instrument in ("pp", "rms", "ohms", "esr", "farads", *BY_RATIO) and usual > 0.0
    sd = float(np.std(np.log(np.maximum(apart.value[use], FAINT) / usual) if shares else apart.value[use]))
    error = float(np.hypot(*spread(reading, answer)))
    if shares:
        off = np.log(max(answer, FAINT)) - np.log(np.maximum(value, FAINT))
        return np.asarray(np.exp(-0.5 * (off / np.hypot(sd, error / max(answer, FAINT))) ** 2))
    return np.where(np.isfinite(value), np.exp(-0.5 * ((answer - value) / np.hypot(sd, error)) ** 2), 0.0)


def chance_within(reading: Reading, value: np.ndarray) -> np.ndarray:
    """Chance (variant,) that an instrument before this value shows something inside the reading's bound."""
    assert reading.bound is not None
    low, high = reading.bound
    end = max((abs(one) for one in (low, high) if np.isfinite(one)), default=1.0)
    metered = reading.question.instrument in METERED
    sd = float(np.hypot(*spread(reading, end))) if metered else EAR * max(end, NONE)
    value = np.clip(value, -1e12, 1e12)
    return np.asarray(below((high - value) / sd) - below((low - value) / sd))


def chance_of_share(share: np.ndarray, said: float) -> np.ndarray:
    """Chance (variant,) that a person says so of this share of healthy: nought is "none", one is "ok"."""
    if said <= 0.0:
        return np.asarray(1.0 / (1.0 + (np.maximum(share, 0.0) / NONE) ** NONE_STEEP))
    off = np.log(np.maximum(share, 1e-3)) - np.log(said)
    down = EAR_DOWN if said < 1.0 else BESIDE
    return np.asarray(np.exp(-0.5 * (off / np.where(off < 0.0, down, BESIDE)) ** 2))


def loose_ruler(ohms: np.ndarray) -> np.ndarray:
    """Ohms on a ruler for readings that are good to LOOSE: the logarithm, from leads to over-limit."""
    ohm = law("ohms")
    return np.log(np.clip(ohms, max(ohm.shared_floor_sd, 1e-3), ohm.high))


def chance_of_beep(ohms: np.ndarray) -> np.ndarray:
    """Chance (variant,) that the continuity range beeps across so many ohm."""
    return np.asarray(1.0 / (1.0 + (np.minimum(ohms, 1e9) / BEEP_OHMS) ** BEEP_STEEP))


def _chance_told(bank: Bank, reading: Reading) -> np.ndarray:
    """Chance of a level in words, or of a beep; a bad contact often beeps as long as nothing draws on it."""
    shown = show(bank, reading.question)
    if reading.question.instrument == "share":
        return chance_of_share(shown.value, float(reading.answer))
    if reading.question.instrument == "ohms":
        off = loose_ruler(np.asarray(reading.answer)) - loose_ruler(shown.value)
        return np.asarray(np.exp(-0.5 * (off / LOOSE) ** 2))
    sound = unharmed(bank, lambda bank: show(bank, reading.question))
    shy = bank.model.shy[bank.cell_of]
    here, gone = chance_of_beep(shown.value), chance_of_beep(sound.value)
    beeps = np.where(shy, UNLOADED * gone + (1.0 - UNLOADED) * here, here)
    return beeps if reading.answer == "beeps" else 1.0 - beeps


def _only_if(bank: Bank, works: Works, chance: np.ndarray, reading: Reading) -> np.ndarray:
    """Where the function it depends on is dead nobody can tell: even chances."""
    first = works.only_if_sentence or next((w for w in bank.model.machine.works if w.name == works.only_if), None)
    if first is None:
        return chance
    can_tell, _ = chance_works(bank, first, reading.question.setup)
    return can_tell * chance + (1.0 - can_tell) * 0.5


def _measured(bank: Bank, said: Sequence[Reading]) -> Judged:
    """Honest law and every slip of one placing of the probes, summed."""
    shown = [show(bank, r.question) for r in said]
    judged = np.logical_and.reduce([s.judged for s in shown])
    values = np.stack([s.value for s in shown])
    total = np.log(HONEST) + _alike(said, values)
    honest = total
    # A slip leaves the same wrong figure on the display however often it is read.
    for name, other in _slips(bank, said, values):
        total = np.logaddexp(total, np.log(SLIP[name]) + other)
    first = np.broadcast_to(_anything(bank, said), total.shape)
    total = np.logaddexp(total, np.log(SLIP["anything"]) + first)
    total = np.where(np.isnan(total), LEAST, np.maximum(total, LEAST))
    gone = nobody_reads(bank, said[0].question)  # whoever reads there all the same reads somewhere else
    total, honest = np.where(gone, np.log(SLIP["anything"]) + first, total), np.where(gone, LEAST, honest)
    judged = judged | gone
    return Judged(total, np.exp(np.minimum(honest - total, 0.0))[:, None], judged, judged)


def _slips(bank: Bank, said: Sequence[Reading], values: np.ndarray) -> list[tuple[str, np.ndarray]]:
    """Each structured slip with its log-likelihood (variant,)."""
    kind = said[0].question.instrument
    found = []
    beside = neighbours(bank, said[0].question)
    if beside:
        others = [
            _alike(said, np.stack([show(bank, replace(r.question, red=ask.red)).value for r in said])) for ask in beside
        ]
        found.append(("neighbour", np.logaddexp.reduce(others) - np.log(len(beside))))
    ranges = np.logaddexp(_alike(said, values * 1e3), _alike(said, values * 1e-3)) - np.log(2.0)
    found.append(("range", ranges))
    if kind == "dc":
        found.append(("polarity", _alike(said, -values)))
    if kind == "diode":
        turned = [replace(r.question, red=r.question.black, black=r.question.red) for r in said]
        found.append(("polarity", _alike(said, np.stack([show(bank, ask).value for ask in turned]))))
    open_ = np.inf if kind in OPEN_IS_OVER else 0.0
    found.append(("no contact", _alike(said, np.full_like(values, open_))))
    return found


def _alike(said: Sequence[Reading], values: np.ndarray) -> np.ndarray:
    """Log-likelihood of the readings about predicted values (reading, variant).

    Each reading errs by a part that all readings of one question in the hook-up share and a part
    of its own: covariance own^2 I + shared^2 11'. Several questions to one instrument (a switch in
    two positions, two frequencies) share its gain and its leads, so that their ratio is sharp.
    """
    nats = np.zeros(values.shape[1])
    questions = dict.fromkeys(r.question for r in said)
    for question in questions:
        rows = [n for n, r in enumerate(said) if r.question == question]
        answers = np.array([float(said[n].answer) for n in rows])
        nats = nats + _one_question(said[rows[0]], [said[n] for n in rows], answers, values[rows[0]])
    of = {question: COMMON.get(question.instrument, question.instrument) for question in questions}
    for one in dict.fromkeys(of.values()):
        asked = [[n for n, r in enumerate(said) if r.question == q] for q in questions if of[q] == one]
        finite = [rows for rows in asked if all(np.isfinite(float(said[n].answer)) for n in rows)]
        if len(finite) > 1:
            nats = nats + _common_gain(said, finite, values)
    return nats


def _common_gain(said: Sequence[Reading], asked: Sequence[Sequence[int]], values: np.ndarray) -> np.ndarray:
    """What one common gain error of an instrument adds (variant,) to its questions taken each for itself.

    asked: for each question the rows of its readings. Covariance of the means: their own variances, and between two of
    them gain^2 y1 y2 + leads^2.
    """
    first = [said[rows[0]] for rows in asked]
    means = np.array([np.mean([float(said[n].answer) for n in rows]) for rows in asked])
    errors = [spread(one, float(mean)) for one, mean in zip(first, means, strict=True)]
    apart = np.array([shared**2 + own**2 / len(rows) for (shared, own), rows in zip(errors, asked, strict=True)])
    tool = law(first[0].question.instrument)
    joint = np.outer(tool.gain_sd * means, tool.gain_sd * means) + tool.shared_floor_sd**2
    np.fill_diagonal(joint, apart)
    off = means[:, None] - values[[rows[0] for rows in asked]]
    near = np.all(np.isfinite(off) & (np.abs(off) < FAR * np.sqrt(apart)[:, None]), axis=0)
    off = np.where(near, off, 0.0)
    whole = -0.5 * np.sum(off * np.linalg.solve(joint, off), axis=0) - 0.5 * np.linalg.slogdet(joint)[1]
    each = -0.5 * np.sum(off**2 / apart[:, None], axis=0) - 0.5 * np.sum(np.log(apart))
    return np.where(near, whole - each, 0.0)


def _one_question(first: Reading, said: Sequence[Reading], answers: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Repeats of one question: mean and scatter of the answers about one predicted value (variant,)."""
    finite = answers[np.isfinite(answers)]
    nats = np.zeros(value.shape)
    if finite.size < answers.size:  # over-limit: a chance, not a density
        limit = law(first.question.instrument).high
        nats = nats + np.where(value >= limit * 0.95, -0.01, LEAST)
    if not finite.size:
        return nats
    if first.question.instrument in BY_RATIO:
        return nats + _by_ratio(first, finite, value)
    shared, own = spread(first, float(np.mean(finite)))
    count = finite.size
    off = float(np.mean(finite)) - value
    scatter = float(np.sum((finite - np.mean(finite)) ** 2))
    with np.errstate(invalid="ignore", over="ignore"):
        mean_part = normal_nats(off, np.sqrt(shared**2 + own**2 / count))
        rest = -0.5 * scatter / own**2 - (count - 1) * (np.log(own) + 0.9189385332046727) - 0.5 * np.log(count)
        nats = nats + mean_part + rest
    return np.where(np.isfinite(value), np.maximum(nats, LEAST), LEAST)


def _by_ratio(first: Reading, answers: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Times and frequencies (answer,) about one predicted value (variant,): they err in the logarithm. Density in the
    unit of the answers."""
    logs, count = np.log(np.maximum(np.abs(answers), LEAST_TIME)), answers.size
    middle = float(np.exp(np.mean(logs)))
    shared, own = (one / middle for one in spread(first, middle))
    with np.errstate(invalid="ignore", divide="ignore"):
        off = np.mean(logs) - np.log(np.maximum(value, LEAST_TIME))
        nats = normal_nats(off, np.sqrt(shared**2 + own**2 / count))
    nats = nats - 0.5 * float(np.sum((logs - np.mean(logs)) ** 2)) / own**2
    nats = nats - (count - 1) * (np.log(own) + 0.9189385332046727) - 0.5 * np.log(count) - float(np.sum(logs))
    return np.where(np.isfinite(value), np.maximum(nats, LEAST), LEAST)


def spread(reading: Reading, value: float) -> tuple[float, float]:
    """Standard deviations (shared, own) of a reading of about this value; the model's own included."""
    meter = error(reading.question, value, reading.about, step_of(reading) if reading.text else 0.0)
    floor = MODEL_FLOOR if unit_of(reading.question.instrument) == "V" else 0.0
    return float(np.hypot(meter.shared, np.hypot(MODEL_SD * value, floor))), meter.own


def _anything(bank: Bank, said: Sequence[Reading]) -> float:
    """A figure from anywhere: broad for the first of a hook-up, alike for its repeats."""
    total = 0.0
    for question in dict.fromkeys(r.question for r in said):
        same = [r for r in said if r.question == question]
        answers = np.array([float(r.answer) for r in same])
        finite = answers[np.isfinite(answers)]
        total += broad_nats(bank, question.instrument, float(finite[0]) if finite.size else np.inf)
        if finite.size > 1:
            _, own = spread(same[0], float(finite[0]))
            total += _scatter(finite, own)  # flat prior on the figure that stays on the display
    return total


def anything_nats(bank: Bank, reading: Reading) -> float:
    """Log chance, or density, of an answer that nobody can foresee.

    What an owner says of a function counts as evenly likely where a chain covers the whole way to it.
    """
    instrument = reading.question.instrument
    if not is_weighed(bank.model.machine, reading.question):
        return 0.0
    if is_loose(bank.model.machine, reading.question):
        return float(-np.log(2.0))
    if is_metered(reading):
        return broad_nats(bank, instrument, float(reading.answer))
    if instrument == "share" and reading.bound is None:
        return float(-np.log(len(SHARE_WORDS)))
    words = reading.bound is not None or instrument == "beep" or (instrument == "works" and bank.model.unknown)
    return float(-np.log(2.0)) if words else 0.0


def anywhere_nats(bank: Bank, hookups: Sequence[Sequence[Reading]]) -> float:
    """Log chance, or density, of hook-ups of one question in one sitting at a place where nobody can foresee anything.

    Whatever stands there stands there each time: of the placings that did not slip the figures are alike, and any
    subset of them may have slipped. hookups: in job order; of more than MOST_PLACINGS those at the end are each taken
    by themselves.
    """
    others = sum(anything_nats(bank, one) for said in hookups for one in _first_of_each(said)[1:])
    first = [said[0] for said in hookups]
    if len(first) == 1 or not all(is_exact(bank.model.machine, one) for one in first):
        return others + sum(anything_nats(bank, one) for one in first)
    alike, rest = first[:MOST_PLACINGS], first[MOST_PLACINGS:]
    ways = [
        sum(np.log(HONEST if stays else 1.0 - HONEST) for stays in which)
        + _same_figure(bank, [one for one, stays in zip(alike, which, strict=True) if stays])
        + sum(anything_nats(bank, one) for one, stays in zip(alike, which, strict=True) if not stays)
        for which in product((True, False), repeat=len(alike))
    ]
    return others + sum(anything_nats(bank, one) for one in rest) + float(np.logaddexp.reduce(ways))


def _same_figure(bank: Bank, said: Sequence[Reading]) -> float:
    """Log density of figures of several placings that all show one unforeseen figure, each with its own error."""
    if not said:
        return 0.0
    answers = np.array([float(one.answer) for one in said])
    return anything_nats(bank, said[0]) + _scatter(answers, float(np.hypot(*spread(said[0], float(answers[0])))))


def _scatter(answers: np.ndarray, sd: float) -> float:
    """Log density of the differences of figures (answer,) about one that nobody knows, each erring by sd: the common
    one is integrated over a flat law, with the first answer's own density left to the caller."""
    if answers.size < 2:
        return 0.0
    off = -0.5 * float(np.sum((answers - answers.mean()) ** 2)) / sd**2
    return off - (answers.size - 1) * float(np.log(sd) + 0.9189385332046727) - 0.5 * float(np.log(answers.size))


def _first_of_each(said: Iterable[Reading]) -> list[Reading]:
    """One reading for each question asked."""
    first: dict[Question, Reading] = {}
    for reading in said:
        first.setdefault(reading.question, reading)
    return list(first.values())


def broad_nats(bank: Bank, instrument: str, answer: float) -> float:
    """Log density of a figure nobody can foresee: Cauchy about nought as wide as the highest supply; for ohms,
    ESR and capacitance even in the logarithm over the meter's range, for the diode range even up to its end."""
    if instrument in FEEDING:
        tool = law(instrument)
        if np.isinf(answer):
            return float(np.log(OVER))
        if instrument == "diode":
            return float(np.log((1.0 - OVER) / tool.high))
        least = SMALLEST[instrument]
        return float(-np.log(max(answer, least)) - np.log(np.log(tool.high / least)))
    unit = "A" if instrument == DRAWN else SCOPED.get(instrument, "V")
    if np.isinf(answer):
        return float(np.log(OVER))
    if unit in ("s", "Hz"):
        return float(-np.log(max(answer, LEAST_TIME)) - np.log(np.log(LONGEST / SHORTEST)))
    if unit == "1":
        return float(-np.log(np.pi * SHARE_WIDE) - np.log1p((answer / SHARE_WIDE) ** 2))
    if unit == "A":
        return float(-np.log(np.pi * AMPS_WIDE) - np.log1p((answer / AMPS_WIDE) ** 2))
    scale = max([1.0, *(brought_by(part) for part in bank.model.machine.parts.values())])
    return float(-np.log(np.pi * scale) - np.log1p((answer / scale) ** 2))
