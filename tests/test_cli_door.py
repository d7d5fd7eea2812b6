"""The outermost door: a fault of ours is owned up to, kept, and never shown as a trace."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest

from probewright import cli, machine

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


def test_a_demo_that_nobody_knows_is_named_with_those_there_are(probewright) -> None:
    done = probewright("demo", "LM3")
    assert done.returncode == 2 and "there is no demo 'lm3'" in done.stderr and "lm-2, ds-3, tg-8" in done.stderr
