"""Copies, exports and what was erased, in words."""

from __future__ import annotations

from collections.abc import Sequence

from probewright.jobs.copies import CopyView
from probewright.jobs.erasing import ErasedView
from probewright.jobs.exporting import ExportView


def copied(view: CopyView) -> str:
    """A copy that was taken."""
    return f"Copied to {view.file}: {_holds(view)}."


def restored(view: CopyView) -> str:
    """A copy that was put back."""
    aside = f"\nWhat stood here before is now {view.aside}" if view.aside else ""
    return f"This bench is as in {view.file}: {_holds(view)}.{aside}"


def exported(view: ExportView) -> str:
    """What was written for other programs."""
    return f"{_count(view.jobs, 'job')} written to {view.folder}: {', '.join(view.files)}."


def erased(view: ErasedView) -> str:
    """What was erased, and what is left to a person."""
    return "\n".join([f"Job {view.job}: {_count(view.places, 'entry', 'entries')} written over.", *left(view)])


def left(view: ErasedView) -> Sequence[str]:
    """What is left to a person."""
    jobs = ", ".join(map(str, view.elsewhere))
    return [*view.left, *([f"The same owner is named in job {jobs}, which is as it was."] if jobs else [])]


def _holds(view: CopyView) -> str:
    return f"{_count(view.jobs, 'job')}, {_count(view.pictures, 'picture')}, {_count(view.waveforms, 'waveform')}"


def _count(number: int, one: str, more: str = "") -> str:
    return f"{number} {one if number == 1 else more or one + 's'}"
