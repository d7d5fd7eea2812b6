"""The page's benchmark on the least sizes: does it measure what it says? Its figures are printed, never asserted."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor

import pytest

from benchmarks.page import on_screen


def test_the_cards_and_the_visit_are_timed(chromium):
    with ThreadPoolExecutor(1) as apart:  # a browser of its own, beside the one that other tests of this folder share
        measured = apart.submit(lambda: list(on_screen(readings=1, visits=1, pause=0.0))).result()
    rows = {row.what: row for row in measured}
    goals = {what.partition(",")[0]: row.goal for what, row in rows.items() if row.goal is not None}
    assert goals == {
        "rough card on the screen": 150.0, "refined card on the screen": 800.0, "page ready": 1000.0,
        "sent for it": 400.0, "requests to other hosts": 0.0,
    }  # fmt: skip
    assert all(math.isfinite(row.figure) for row in rows.values())
    rough, refined = (rows[f"{one} card on the screen, median of 1 readings"].figure for one in ("rough", "refined"))
    assert 0.0 < rough <= refined
    sent = next(row for what, row in rows.items() if what.startswith("sent"))
    assert sent.figure > 20.0 and int(sent.note.split()[0]) >= 5  # the page, two styles, two scripts
    assert rows["requests to other hosts"].figure == 0.0


def test_without_a_browser_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("PATH", "")
    assert [row.what for row in on_screen()] == [
        "bench page, chromium is missing: sudo apt-get install chromium, then make bench"
    ]
