"""The verb that takes over what a healthy machine of the same model read on another job."""

from __future__ import annotations

from probewright.jobs.bench import append, complaint, find_case, still_open
from probewright.jobs.cases import Case, Lesson
from probewright.jobs.keeping import keep_reading
from probewright.jobs.taught import healthy_readings
from probewright.record import Book


def learn(book: Book, case: Case, other: int, meter: str, same_meter: bool, now: str) -> Case:
    """Take over what a sound machine read on another job of the same model; taken back like any line.

    meter: name of the one that took them. BadInput for another model, or a job that teaches nothing.
    """
    still_open(case)
    if other == case.number:
        raise complaint("a job cannot learn from itself", "what it reads counts already")
    teacher = find_case(book, other)
    mine, theirs = (one.intake.model.strip() for one in (case, teacher))
    if not mine or mine.casefold() != theirs.casefold():
        mend = "say the model of both at the intake: `probewright job open --model`, or on the page"
        raise complaint(f"job {other} is of {theirs or 'no model anyone named'}, this one of {mine or 'none'}", mend)
    readings = healthy_readings(teacher)
    if not readings:
        mend = "read on the sister, or close it as `repaired` or `nothing wrong` after a last round of readings"
        raise complaint(f"job {other} has no reading of a sound machine", mend)
    payload = {
        "text": f"learn from job {other}", "job": other, "meter": meter.strip(), "same_meter": same_meter,
        "readings": [keep_reading(one) for one in readings],
        "says": [f"{len(readings)} healthy values {Lesson(other, meter.strip(), same_meter, readings).source}"],
    }  # fmt: skip
    return append(book, case, "learned", payload, now)
