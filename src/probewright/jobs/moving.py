"""Where parts are after some changed places, and figures that are not what they were: both from the readings alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from probewright.readings import EXCHANGE, Question, Reading, echo, instruments
from probewright.readings.answers import step_of

OTHERWISE = 5.0  # chosen: standard deviations of two readings beyond which a figure is not what it was
LEAST = 0.05  # chosen: and a twentieth, for a machine drifts as it warms up


def where_now(readings: Iterable[Reading]) -> Mapping[str, str]:
    """Part -> place of the part whose place it sits in; only those that are not in their own."""
    sits: dict[str, str] = {}
    for reading in readings:
        ask = reading.question
        if ask.instrument == EXCHANGE:
            there = {place: part for part, place in sits.items()}
            one, other = there.get(ask.red, ask.red), there.get(ask.black, ask.black)  # who sits in these places
            sits[one], sits[other] = ask.black, ask.red
    return {part: place for part, place in sits.items() if part != place}


def say_moved(earlier: Sequence[Reading], said: Sequence[Reading]) -> str:
    """Where the parts that changed places are after what was said; "" where none is away nor came back just now."""
    moved = where_now((*earlier, *said))
    if not moved:
        return "every part is in its own place again" if where_now(earlier) else ""
    return ", ".join(f"{part} is now in the place of {place}" for part, place in sorted(moved.items()))


def say_changed(reading: Reading, earlier: Sequence[Reading]) -> str:
    """A question about a figure that was another one in an earlier sitting, in the same set-up; "" when it was not."""
    then = next((one for one in reversed(earlier) if _asked_then(one, reading)), None)
    if then is None or not _otherwise(then, reading):
        return ""
    ask, words = reading.question, _complaint_changed(then, earlier)
    begins = f"{echo.where(ask)} was {echo.figure(then)} in an earlier sitting, with nothing changed"
    if words:
        return (
            f"{begins}, and the complaint is another one ({words}): is this a fault made at the bench? Look first at "
            "what was touched since: legs, plugs, a slipped probe; if so, mend that before anything is concluded"
        )
    return f"{begins}: does it come and go? Mark the reading taken while all was well with `; not showing`"


def _asked_then(one: Reading, reading: Reading) -> bool:
    return one.question == reading.question and one.sitting < reading.sitting


def _otherwise(then: Reading, now: Reading) -> bool:
    """Finite figures of an instrument that are farther apart than both errors."""
    if isinstance(then.answer, str) or isinstance(now.answer, str) or then.bound or now.bound:
        return False
    if then.question.instrument not in instruments.table():
        return False
    if max(abs(then.answer), abs(now.answer)) == float("inf"):
        return then.answer != now.answer
    sd = sum(error_of(one) ** 2 for one in (then, now)) ** 0.5
    return abs(then.answer - now.answer) > max(OTHERWISE * sd, LEAST * max(abs(then.answer), abs(now.answer)))


def error_of(reading: Reading) -> float:
    """Standard deviation of one reading, gain and digits together, in its own unit."""
    found = instruments.error(reading.question, float(reading.answer), reading.about, step_of(reading))
    return float((found.shared**2 + found.own**2) ** 0.5)


def _complaint_changed(then: Reading, earlier: Sequence[Reading]) -> str:
    """ "left output: half, now none": a function told otherwise after that reading than before it."""
    at = next(n for n, one in enumerate(earlier) if one is then)
    before: dict[Question, Reading] = {r.question: r for r in earlier[:at] if r.question.instrument == "works"}
    since = {r.question: r for r in earlier[at + 1 :] if r.question.instrument == "works"}
    told = [
        f"{ask.red}: {echo.degree(before[ask])}, now {echo.degree(now)}"
        for ask, now in since.items()
        if ask in before and before[ask].answer != now.answer
    ]
    return "; ".join(told)
