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
