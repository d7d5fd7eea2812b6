"""How probable an answer is in each variant: the instrument's error, and the ways a hand slips.

Readings of one hook-up share their slip: repeating the same wrong hook-up is no new evidence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from probewright.machine.model import Works
from probewright.prediction.bank import Bank
from probewright.prediction.outcomes import chance_of_word, chance_works, neighbours, show
from probewright.readings import Reading
from probewright.readings.instruments import error, law
from probewright.readings.lines import step_of

# Chances that one placing of the probes is wrong, by kind. All chosen; "anything" is the least that
# keeps a single wrong figure from deciding a job.
SLIP = {"neighbour": 0.008, "range": 0.004, "polarity": 0.003, "no contact": 0.005, "anything": 0.01}
HONEST = 1.0 - sum(SLIP.values())
MODEL_SD = 0.002  # chosen: share by which real parts stray from their equations
MODEL_FLOOR = 1e-3  # V, the same
FLOOR = 0.02  # chosen: no owner's word is ever more certain than this
EAR = 0.3  # chosen: standard deviation, in the natural logarithm, of "half", "double" by ear or eye
LEAST = -700.0  # nat; below this a double is nought anyway
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


def hookup_nats(bank: Bank, said: Sequence[Reading]) -> Judged:
    """Log-likelihood of the readings of one hook-up, taken together."""
    meters = [r for r in said if r.question.instrument not in ("works", "swap")]
    others = [r for r in said if r.question.instrument in ("works", "swap")]
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


def _told(bank: Bank, reading: Reading) -> tuple[np.ndarray, np.ndarray]:
    """Log-likelihood of what a person saw or heard (a share of healthy, a word, a swap); judged."""
    ask, answer = reading.question, reading.answer
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
    found.append(("no contact", _alike(said, np.full_like(values, np.inf if kind == "ohms" else 0.0))))
    return found


def _alike(said: Sequence[Reading], values: np.ndarray) -> np.ndarray:
    """Log-likelihood of the readings about predicted values (reading, variant).

    Each reading errs by a part that all readings of one question in the hook-up share and a part
    of its own: covariance own^2 I + shared^2 11'.
    """
    nats = np.zeros(values.shape[1])
    questions = dict.fromkeys(r.question for r in said)
    for question in questions:
        rows = [n for n, r in enumerate(said) if r.question == question]
        answers = np.array([float(said[n].answer) for n in rows])
        nats = nats + _one_question(said[rows[0]], [said[n] for n in rows], answers, values[rows[0]])
    return nats


def _one_question(first: Reading, said: Sequence[Reading], answers: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Repeats of one question: mean and scatter of the answers about one predicted value (variant,)."""
    finite = answers[np.isfinite(answers)]
    nats = np.zeros(value.shape)
    if finite.size < answers.size:  # over-limit: a chance, not a density
        limit = law(first.question.instrument).high
        nats = nats + np.where(value >= limit * 0.95, -0.01, LEAST)
    if not finite.size:
        return nats
    shared, own = spread(first, float(np.mean(finite)))
    count = finite.size
    off = float(np.mean(finite)) - value
    scatter = float(np.sum((finite - np.mean(finite)) ** 2))
    with np.errstate(invalid="ignore", over="ignore"):
        mean_part = normal_nats(off, np.sqrt(shared**2 + own**2 / count))
        rest = -0.5 * scatter / own**2 - (count - 1) * (np.log(own) + 0.9189385332046727) - 0.5 * np.log(count)
        nats = nats + mean_part + rest
    return np.where(np.isfinite(value), np.maximum(nats, LEAST), LEAST)


def spread(reading: Reading, value: float) -> tuple[float, float]:
    """Standard deviations (shared, own) of a reading of about this value; the model's own included."""
    meter = error(reading.question, value, reading.about, step_of(reading) if reading.text else 0.0)
    floor = 0.0 if reading.question.instrument == "ohms" else MODEL_FLOOR
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
            # flat prior on the figure that stays on the display
            _, own = spread(same[0], float(finite[0]))
            scatter = float(np.sum((finite - finite.mean()) ** 2))
            total += (
                -0.5 * scatter / own**2
                - (finite.size - 1) * (np.log(own) + 0.9189385332046727)
                - 0.5 * np.log(finite.size)
            )
    return total


def broad_nats(bank: Bank, instrument: str, answer: float) -> float:
    """Log density of a figure nobody can foresee: Cauchy about nought as wide as the highest supply;
    for ohms, even in the logarithm over the meter's range."""
    if instrument == "ohms":
        top = law("ohms").high
        return float(np.log(0.1)) if np.isinf(answer) else float(-np.log(max(answer, 0.1)) - np.log(np.log(top / 0.1)))
    volts = [abs(p.figures["volts"].nominal) for p in bank.model.machine.parts.values() if p.kind == "source"]
    scale = max([1.0, *volts])
    return float(-np.log(np.pi * scale) - np.log1p((answer / scale) ** 2))
