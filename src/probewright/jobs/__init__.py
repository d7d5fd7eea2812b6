"""The repairer's verbs: open a job, enter readings, see what is likely and what to do next.

`bench` works on the lasting record; `searching` weighs readings on one machine file; `files` reads
a machine file and says what it should read. They are loaded when first used, so that an old job
opens without what computes.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_DOORS = {
    "Search": "searching", "open_search": "searching", "quick_look": "searching", "enter_readings": "searching",
    "look": "searching", "glance": "searching", "prepare": "searching", "check": "files", "expect": "files",
}  # fmt: skip


def __getattr__(name: str) -> Any:
    """The verb of this name, from the module that has it."""
    if name not in _DOORS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_DOORS[name]}"), name)
