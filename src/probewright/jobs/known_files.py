"""The machine file of a job, read; nothing is computed."""

from __future__ import annotations

from functools import lru_cache

from probewright.jobs.cases import Case
from probewright.machine import Machine
from probewright.machine import read as read_machine


@lru_cache(maxsize=8)  # chosen: a bench has few machines open; one line asks for its file several times
def read_known(text: str, file: str) -> Machine:
    """The machine that this text says."""
    return read_machine(text, file)


def file_of(case: Case) -> Machine | None:
    """The machine file as it is written; None while only the complaint is known."""
    return read_known(case.known.text, case.known.file) if case.known is not None else None
