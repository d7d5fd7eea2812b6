"""Healthy values learnt from another machine of the model: which readings teach, and what they say here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from probewright.jobs.case_view import TaughtRowView
from probewright.jobs.cases import Case, Lesson
from probewright.jobs.comparing import UNITS, compare, same_question
from probewright.jobs.heard_again import shows_still
from probewright.jobs.ways_to_end import REPAIRED, SOUND
from probewright.machine import Machine
from probewright.readings import Question, Reading, Setup, echo, on_this_one, setups
from probewright.readings.instruments import UNPOWERED
from probewright.units import write_reading

TAUGHT = ("dc", "pp", "rms", "ohms", "diode", "esr", "farads", "beep", "share")


def healthy_readings(case: Case) -> tuple[Reading, ...]:
    """What a sound machine read on this job, the last answer to each question.

    All that was read on the sister; all of a job that ended with nothing wrong; of a repaired one what was read with
    the last new part in place, or, where no set-up says what was fitted, the last sitting.
    """
    found: dict[Question, Reading] = {}
    for reading in case.readings:
        ask = reading.question
        if ask.instrument in TAUGHT and reading.bound is None and (ask.setup.sister or _cured(case, reading)):
            there = Setup(ask.setup.power, ask.setup.stimulus, hertz=ask.setup.hertz, sister=True)
            found[replace(ask, setup=there)] = replace(reading, question=replace(ask, setup=there))
    return tuple(found.values())


def _cured(case: Case, reading: Reading) -> bool:
    """Whether the machine was sound when this was read, by how the job ended."""
    if case.ending == SOUND:
        return True
    own = [one for one in case.readings if not one.question.setup.sister]
    last = own[-1]
    if case.ending != REPAIRED or shows_still(case):
        return False
    setup, ended = reading.question.setup, last.question.setup
    fitted = (ended.replaced, ended.mended)
    with_it = (setup.replaced, setup.mended) == fitted if any(fitted) else reading.sitting == last.sitting
    return with_it and not (setup.lifted or setup.unplugged or setup.supplied or setup.loaded)


def weighs(lesson: Lesson, reading: Reading) -> bool:
    """Whether a learnt value may weigh: two meters agree on volts to their error; on ohms, diodes and capacitors they
    measure at volts and currents of their own, so that another meter's figure is shown and weighs nothing."""
    return lesson.same_meter or reading.question.instrument not in UNPOWERED


def lessons_weighed(case: Case) -> tuple[Reading, ...]:
    """Learnt values as readings of a sister machine."""
    return tuple(
        replace(one, hookup=f"job {lesson.job} {one.hookup}", sitting=0)
        for lesson in case.lessons
        for one in lesson.readings
        if weighs(lesson, one)
    )


def say_learnt(case: Case, ask: Question) -> str:
    """ "about 1.1 V, learnt from job 12, with meter M1"; "" where nothing was learnt of this question."""
    there = replace(ask, setup=replace(ask.setup, sister=True))
    for lesson in reversed(case.lessons):
        for one in lesson.readings:
            if same_question(one.question, there, ask.red):
                hint = "" if weighs(lesson, one) else "; another meter, so only a hint"
                return f"about {_figure(one)}, {lesson.source}{hint}"
    return ""


def beside_learnt(case: Case, reading: Reading) -> str:
    """A reading beside what was learnt of its place; "" when nothing was."""
    if reading.question.setup.sister:
        return ""
    for lesson in reversed(case.lessons):
        if beside := compare(reading, lesson.readings, None):
            hint = "" if weighs(lesson, reading) else ", another meter: only a hint"
            return f"{beside.replace('that on the sister', 'a healthy one')}, {lesson.source}{hint}"
    return ""


def say_rows(
    readings: Iterable[Reading], machine: Machine | None, lesson: Lesson | None = None
) -> tuple[TaughtRowView, ...]:
    """Healthy readings in words, the last of each question; of a lesson with a hint where it weighs nothing here."""
    found = {}
    for one in readings:
        if one.question.instrument in TAUGHT:
            hint = "" if lesson is None or weighs(lesson, one) else "another meter: only a hint"
            where = f"{echo.where(one.question)}, {setups.say(on_this_one(one.question.setup), machine)}"
            figure = one.answer if isinstance(one.answer, str) else echo.figure(one)
            found[one.question] = TaughtRowView(where, figure, hint)
    return tuple(found.values())


def _figure(reading: Reading) -> str:
    if isinstance(reading.answer, str) or abs(reading.answer) == float("inf"):
        return reading.answer if isinstance(reading.answer, str) else echo.figure(reading)
    unit = UNITS.get(reading.question.instrument, "")
    return write_reading(float(f"{reading.answer:.2g}"), unit) if unit else echo.figure(reading)
