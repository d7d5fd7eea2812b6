"""Run pytest and end with one plain line: `N passed, N failed, N skipped`.

Arguments go to pytest. Errors count as failed, and so does a run that could not finish; a failure
that was expected (xfail) counts as skipped. The exit code is pytest's own; with
PROBEWRIGHT_NO_SKIPS=1 a skipped test makes it 1 as well.
"""

from __future__ import annotations

import os
import sys
from collections import Counter
from pathlib import Path

import pytest

BADNESS = {"passed": 0, "skipped": 1, "failed": 2}


class Tally:
    """The worst that was said of each test: set-up, call and tear-down make one verdict."""

    def __init__(self) -> None:
        self.verdict: dict[str, str] = {}

    def note(self, name: str, outcome: str) -> None:
        """Keep the worse of what was known and what is said now."""
        known = self.verdict.get(name, "passed")
        self.verdict[name] = max(known, outcome, key=BADNESS.__getitem__)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """One phase of one test."""
        self.note(report.nodeid, report.outcome)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        """A file that could not be read, or that skipped itself whole, counts as one test."""
        if report.outcome != "passed":
            self.note(report.nodeid, report.outcome)

    def counts(self) -> Counter[str]:
        """How many passed, failed and were skipped."""
        return Counter(self.verdict.values())


def workers(arguments: list[str]) -> list[str]:
    """One process a core, unless there is one core or the caller chose."""
    chosen = any(one.startswith(("-n", "--numprocesses", "-p", "--pdb", "--collect-only")) for one in arguments)
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return [] if chosen or cores < 2 else ["-n", str(cores)]


def main(arguments: list[str]) -> int:
    """Run the tests, print the line, give the exit code."""
    os.chdir(Path(__file__).resolve().parent.parent)
    for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(threads, "1")  # the processes share the cores already
    tally = Tally()
    code = int(pytest.main(["-q", *workers(arguments), *arguments], plugins=[tally]))
    count = tally.counts()
    if code and not count["failed"]:
        print(f"pytest stopped with exit code {code} before it had an answer; that is counted as one failure")
        count["failed"] = 1
    if count["skipped"] and os.environ.get("PROBEWRIGHT_NO_SKIPS") == "1":
        print(f"PROBEWRIGHT_NO_SKIPS=1: the {count['skipped']} skipped tests count as failed")
        count["failed"] += count.pop("skipped")
        code = code or 1
    sys.stderr.flush()
    print(f"{count['passed']} passed, {count['failed']} failed, {count['skipped']} skipped", flush=True)
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
