"""The number of a job, said in either of two ways: `3` or `--job 3`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from typer.core import TyperGroup

if TYPE_CHECKING:
    from collections.abc import Sequence

    from click import Command, Context

LONG, SHORT = "--job", "-j"


class JobCommands(TyperGroup):
    """Commands that take the number of the job as `3`, `-j 3` or `--job 3`, whichever of them they are written with.

    Not for `reading`: there a plain number is that of a line.
    """

    def resolve_command(self, ctx: Context, args: list[str]) -> tuple[str | None, Any, list[str]]:
        """The command that is meant, with the number of its job in the way that it takes."""
        name, command, said = super().resolve_command(ctx, args)
        return name, command, said if command is None else as_it_takes(command, said)


def as_it_takes(command: Command, said: Sequence[str]) -> list[str]:
    """What was said to a command, with one number of a job in the way that it takes; else, and where a command takes
    other words besides, as it is: what is wrong with it is told as ever."""
    number = next((one for one in command.params if one.name == "number"), None)
    words = [one for one in command.params if one.param_type_name == "argument" and one is not number]
    found = [] if number is None or words else _numbers(command, said)
    if number is None or len(found) != 1:
        return list(said)
    at, taken, job = found[0]
    left = [*said[:at], *said[at + taken :]]
    return [job, *left] if number.param_type_name == "argument" else [LONG, job, *left]


def _numbers(command: Command, said: Sequence[str]) -> list[tuple[int, int, str]]:
    """Every number of a job that was said: where, in how many words, and the number."""
    waits = {name for one in command.params if not getattr(one, "is_flag", False) for name in one.opts}
    found, at = [], 0
    while at < len(said):
        word, option, behind = said[at], *_parted(said[at])
        taken = 2 if word in waits | {LONG, SHORT} else 1
        if option:
            found += [(at, taken, behind or "".join(said[at + 1 : at + 2]))]
        elif taken == 1 and word.isdecimal():
            found += [(at, taken, word)]
        at += taken
    return found


def _parted(word: str) -> tuple[bool, str]:
    """Whether a word names a job as an option, and the number where it holds that too: `-j3`, `--job=3`."""
    for begin in (f"{LONG}=", SHORT):
        if word.startswith(begin) and word.removeprefix(begin).isdecimal():
            return True, word.removeprefix(begin)
    return word in (LONG, SHORT), ""
