"""The command line. Nothing heavy is imported until a command needs it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from probewright.cli import (
    adding_circuits,
    benching,
    booking,
    deciding,
    fitting,
    handing_over,
    parts_list,
    proving,
    rehearsing,
    replacing,
    safety,
    stripping,
)
from probewright.cli import remembering as remembering  # hangs its commands on those of jobs and book
from probewright.cli.answering import BAD_INPUT as BAD_INPUT
from probewright.cli.answering import DONE, FAULT, UNDECIDED, Json, MachineFile, answer, read_text
from probewright.cli.job_numbers import JobCommands

if TYPE_CHECKING:
    from collections.abc import Callable

    from click import Context

FIRST = (
    "New here? See a repair played: probewright demo. Take a machine in: probewright job open --kind amplifier"
    ' --says "one side is quiet". Tell what was read or seen: probewright reading add "Q7 c 11.8". On a page, with'
    " pictures: probewright serve."
)


class Commands(JobCommands):
    """The commands; words that are none are told where they belong."""

    def resolve_command(self, ctx: Context, args: list[str]) -> tuple[str | None, Any, list[str]]:
        """The command that is meant; a usage error for one that does not exist."""
        if args and " " in args[0].strip() and self.get_command(ctx, args[0]) is None:
            ctx.fail(
                f'{args[0]!r} is no command. The owner\'s words: probewright job open --kind KIND --says "..."; '
                'what was read: probewright reading add "..."'
            )
        return super().resolve_command(ctx, args)


app = typer.Typer(
    cls=Commands,
    epilog=FIRST,
    rich_markup_mode=None,  # help is plain text, whatever else is installed
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="From readings at the bench to the part, joint or track that explains them.",
)
# in the order of the work
for part in (benching, stripping, booking, deciding, replacing, adding_circuits, fitting, parts_list, proving, safety,
             handing_over, rehearsing):  # fmt: skip
    part.add_to(app)


@app.command()
def check(
    file: MachineFile,
    as_json: Json = False,
    write: Annotated[bool, typer.Option("--write", help="Print the file in its canonical form instead.")] = False,
) -> None:
    """What was understood of a machine file, what was assumed, and what looks like a slip."""

    def make() -> tuple[Any, Callable[[Any], str], int]:
        from probewright import jobs, machine
        from probewright.report import text

        if write:
            return machine.write(read_text(file), str(file)), str, DONE
        return jobs.check(machine.load(file)), text.check, DONE

    answer(make, as_json)


@app.command()
def expect(
    file: MachineFile,
    setup: Annotated[
        str, typer.Option("--setup", help='How the machine stands: "tone", "off", "tone, lift R31.2" ...')
    ] = "",
    as_json: Json = False,
) -> None:
    """Computed healthy readings at every place, with their range."""

    def make() -> tuple[Any, Callable[[Any], str], int]:
        from probewright import jobs, machine
        from probewright.readings.setups import read_setup
        from probewright.report import text

        loaded = machine.load(file)
        return jobs.expect(loaded, read_setup(setup, loaded)), text.expected, DONE

    answer(make, as_json)


@app.command()
def locate(
    file: MachineFile,
    readings: Annotated[Path, typer.Argument(help="Readings, one a line, see docs/readings.md; - for standard input.")],
    as_json: Json = False,
) -> None:
    """Weigh the readings against every suspect: what is likely, and what to do next.

    Leaves with 3 when nothing is decided yet.
    """

    def make() -> tuple[Any, Callable[[Any], str], int]:
        from probewright import jobs, machine
        from probewright.readings.lines import read_readings
        from probewright.report import text

        loaded = machine.load(file)
        said = read_readings(read_text(readings), loaded, "" if str(readings) == "-" else str(readings))
        view = jobs.look(jobs.enter_readings(jobs.open_search(loaded), said))
        return view, text.job, UNDECIDED if view.finding in ("undecided", "unexplained") else DONE

    answer(make, as_json)


@app.command()
def plan_table(
    file: Annotated[Path, typer.Argument(help="A table (YAML), see docs/plan-table.md; - for standard input.")],
    as_json: Json = False,
) -> None:
    """The order of tests and repairs that takes the fewest minutes on average, for a table typed by hand."""

    def make() -> tuple[Any, Callable[[Any], str], int]:
        from probewright.jobs.plan_tables import plan_table
        from probewright.report import plans

        return plan_table(read_text(file), "" if str(file) == "-" else str(file)), plans.plan, DONE

    answer(make, as_json)


@app.command()
def serve(
    port: Annotated[int, typer.Option(help="Where it listens, on this computer.")] = 8620,
    lan: Annotated[bool, typer.Option("--lan", help="Share it with paired devices on the bench network.")] = False,
) -> None:
    """Open the bench page in a browser on this computer; Ctrl-C ends it. Nothing entered is lost."""
    from probewright.cli.serving import run

    run(port, lan)


@app.command()
def demo(name: Annotated[str, typer.Argument(help="Which demo: lm-2, ds-3 or tg-8.")] = "lm-2") -> None:
    """Play a recorded repair: an invented machine, its readings one by one, the fault found."""
    from probewright.cli.playing import play

    play(name)


def main() -> None:
    """The `probewright` command. Nothing that goes wrong inside is shown as a trace; --json keeps its form.

    The one wide catch of the project: this is the outermost door. The trace goes to a file that the
    message names, so that it is not lost.
    """
    try:
        app()
    except Exception as problem:
        report_fault(problem)
        raise SystemExit(FAULT) from None


def report_fault(problem: Exception) -> None:
    """Say that the fault is ours, and where the details were written."""
    import sys
    import tempfile
    import traceback

    with tempfile.NamedTemporaryFile("w", prefix="probewright-", suffix=".txt", delete=False, encoding="utf-8") as kept:
        kept.write("".join(traceback.format_exception(problem)))
    text = f"this is a fault of probewright ({type(problem).__name__}), not of your file; nothing of yours was changed"
    mend = f"send {kept.name} with your files to the developers"
    if "--json" in sys.argv:
        typer.echo(json.dumps({"errors": [{"file": "", "line": 1, "column": 1, "text": text, "mend": mend}]}))
    else:
        typer.echo(f"{text}; {mend}", err=True)
