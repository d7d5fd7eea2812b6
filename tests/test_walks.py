"""The first five minutes: what a person types, by the keystroke-level model, and that it works."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks.walks import WALKS, walk


@pytest.mark.slow
def test_the_first_five_minutes(own_book: Path):
    for name, (limit, steps) in WALKS.items():
        person, _, screen = walk(name, own_book)
        assert person < limit, f"{name}: {person:.0f} s"
        assert person == pytest.approx(sum(step.seconds for step in steps))
        assert "Next: " in screen, screen
        assert "Traceback" not in screen
