"""The verb that takes over what a healthy machine of the same model read on another job."""

from __future__ import annotations

from probewright.jobs.bench import append, complaint, every_case, find_case, is_entered, machine_of, still_open
from probewright.jobs.case_view import LessonView, TaughtView, TeacherView
from probewright.jobs.cases import Case, Lesson
from probewright.jobs.culprits import came_back, say_again
from probewright.jobs.good_channel import of_good_channel
from probewright.jobs.keeping import keep_reading
from probewright.jobs.taught import healthy_readings, say_rows
from probewright.record import Book
from probewright.units import counted, without_capital


def learn(book: Book, case: Case, other: int, meter: str, same_meter: bool, now: str, once: str = "") -> Case:
    """Take over what a sound machine read on another job of the same model; taken back like any line.

    meter: name of the one that took them; once: mark of the form it came by. BadInput for another model, or a job
    that teaches nothing.
    """
    still_open(case)
    if is_entered(case, f"learn from job {other}", once):
        return case
    if other == case.number:
        raise complaint("a job cannot learn from itself", "what it reads counts already")
    teacher = find_case(book, other)
    mine, theirs = (one.intake.model.strip() for one in (case, teacher))
    if not _same_model(case, teacher):
        mend = "say the model of both: at the intake, where it can also be mended later"
        raise complaint(f"job {other} is of {theirs or 'no model anyone named'}, this one of {mine or 'none'}", mend)
    if said := say_again(book, other):
        raise complaint(f"job {other} teaches nothing: {without_capital(said).rstrip('.')}",
                        "learn from a machine that held")  # fmt: skip
    readings = healthy_readings(teacher)
    if not readings:
        mend = "read on the sister, or close it as `repaired` or `nothing wrong` after a last round of readings"
        raise complaint(f"job {other} has no reading of a sound machine", mend)
    source = Lesson(other, meter.strip(), same_meter, readings).source
    payload = {
        "text": f"learn from job {other}", "job": other, "meter": meter.strip(), "same_meter": same_meter,
        "readings": [keep_reading(one) for one in readings],
        **({"once": once} if once else {}),
        "says": [f"{counted(len(readings), 'healthy value')} {source}"],
    }  # fmt: skip
    return append(book, case, "learned", payload, now)


def _same_model(one: Case, other: Case) -> bool:
    mine, theirs = (case.intake.model.strip().casefold() for case in (one, other))
    return bool(mine) and mine == theirs


def view_taught(book: Book, case: Case) -> TaughtView:
    """What was learnt on this job, and which jobs could teach it more; nothing is computed."""
    machine = machine_of(case)
    sister = tuple(one for one in case.readings if one.question.setup.sister)
    found = [LessonView("read on the sister", 0, say_rows(sister, machine))] if sister else []
    for channel, readings in of_good_channel(case, machine).items():
        found.append(LessonView(f"read on the {channel} channel, which works", 0, say_rows(readings, machine)))
    for line in case.live:
        if (lesson := line.lesson) is not None:
            found.append(LessonView(lesson.source, line.event, say_rows(lesson.readings, machine, lesson)))
    learnt = {lesson.job for lesson in case.lessons}
    learnt_or_back = {case.number, *learnt, *came_back(book)}
    others = [one for one in every_case(book) if one.number not in learnt_or_back and _same_model(case, one)]
    counted = [(one, len(healthy_readings(one))) for one in others]
    teachers = tuple(TeacherView(one.number, _ended(one), count) for one, count in counted if count)
    return TaughtView(case.number, case.intake.model.strip(), tuple(found), teachers)


def _ended(case: Case) -> str:
    """How the job stands: its way to end, or that only its sister was sound."""
    return "open, with a sister" if case.closed is None else str(case.closed["ending"])
