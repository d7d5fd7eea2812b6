"""The outermost door: a fault of ours is owned up to, kept, and never shown as a trace."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest
from click import Command
from typer.main import get_command

from probewright import cli, machine
from probewright.cli.job_numbers import as_it_takes

DEMO = Path(__file__).parents[1] / "src" / "probewright" / "demo" / "fernside-ds-3.yaml"


def broken(path: object) -> None:
    raise ZeroDivisionError("planted")


@pytest.mark.parametrize("extra", [[], ["--json"]])
def test_a_fault_of_ours_is_no_trace(
    extra: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setattr(machine, "load", broken)
    monkeypatch.setattr(sys, "argv", ["probewright", "check", str(DEMO), *extra])
    with pytest.raises(SystemExit) as left:
        cli.main()
    out, err = capsys.readouterr()
    assert left.value.code == cli.FAULT
    assert "Traceback" not in out + err
    said = json.loads(out)["errors"][0]["mend"] if extra else err
    kept = Path(re.search(r"send (\S+) with", said)[1])
    assert "planted" in kept.read_text(encoding="utf-8")
    kept.unlink()


def test_the_words_of_an_owner_alone_are_told_where_they_go(probewright) -> None:
    done = probewright("the left channel is quiet")
    assert done.returncode == 2 and "is no command" in done.stderr
    assert "probewright job open" in done.stderr and "probewright reading add" in done.stderr
    assert "No such command 'opne'" in probewright("opne").stderr
    assert "New here?" in probewright("--help").stdout


def command(*path: str) -> Command:
    """A command of the program by its words."""
    found = get_command(cli.app)
    for name in path:
        found = found.commands[name]
    return found


@pytest.mark.parametrize("said", [["3"], ["-j", "3"], ["-j3"], ["--job", "3"], ["--job=3"]])
@pytest.mark.parametrize("rest", [[], ["--json"]])
def test_the_number_of_a_job_is_taken_in_either_way(said: list[str], rest: list[str]) -> None:
    for path in (("prove",), ("job", "reopen"), ("hand-over",), ("book", "erase-owner")):  # written with a plain number
        assert as_it_takes(command(*path), [*rest, *said]) == ["3", *rest]
    for path in (("next",), ("report",), ("job", "close"), ("add-circuit", "placed")):  # written with --job
        assert as_it_takes(command(*path), [*rest, *said]) == ["--job", "3", *rest]


def test_what_belongs_to_something_else_is_no_number_of_a_job() -> None:
    close, prove = command("job", "close"), command("prove")
    assert as_it_takes(close, ["--words", "7", "--as", "outside"]) == ["--words", "7", "--as", "outside"]
    assert as_it_takes(prove, ["--starts", "5", "-j", "3"]) == ["3", "--starts", "5"]
    for path, said in (
        (("reading", "add"), ["3"]),
        (("strip",), ["4", "screws"]),
        (("job", "learn"), ["2", "-j", "3"]),
    ):
        assert as_it_takes(command(*path), said) == said
    assert as_it_takes(prove, ["3", "-j", "4"]) == ["3", "-j", "4"]  # two jobs: refused as ever


def test_the_program_takes_the_number_both_ways(probewright) -> None:
    for _ in range(2):
        probewright("job", "open", "--kind", "radio", "--bad", "sound")
    assert "Job 1" in probewright("job", "close", "1", "--as", "parked").stdout
    assert "Job 1" in probewright("job", "reopen", "-j", "1").stdout
    assert "Job 2" in probewright("prove", "-j", "2").stdout
    assert probewright("next", "1", "-j", "2").returncode == 2
    assert probewright("reading", "undo", "1").returncode == 2  # a line, or a job? nobody knows


def test_a_demo_that_nobody_knows_is_named_with_those_there_are(probewright) -> None:
    done = probewright("demo", "LM3")
    assert done.returncode == 2 and "there is no demo 'lm3'" in done.stderr and "lm-2, ds-3, tg-8" in done.stderr
