"""What the tests share: where things are, the command as a person runs it, the outside reference."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import hypothesis
import pytest

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from hidden import HiddenBench
    from probewright.record import Book

ROOT = Path(__file__).resolve().parent.parent
HERE = "http://127.0.0.1:8620"  # where the bench page says that it is

# The same examples on every run and machine, and no failing because a machine was busy.
hypothesis.settings.register_profile("steady", derandomize=True, deadline=None)
# HYPOTHESIS_PROFILE=explore looks for new ones.
hypothesis.settings.register_profile("explore", deadline=None, max_examples=2000)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))

Run = Callable[..., "subprocess.CompletedProcess[str]"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A test that asks for ngspice or a browser is marked so: `-m "not browser"` leaves it out."""
    for item in items:
        for fixture, marker in (("ngspice", "ngspice"), ("chromium", "browser")):
            if fixture in getattr(item, "fixturenames", ()):
                item.add_marker(marker)


def missing(what: str, install: str) -> None:
    """Skip for want of something that can be installed; fail where every test must run."""
    say = pytest.fail if os.environ.get("PROBEWRIGHT_NO_SKIPS") == "1" else pytest.skip
    say(f"{what} is missing; install it with: {install}")


@pytest.fixture(scope="session")
def ngspice() -> str:
    """Path of ngspice, the outside reference."""
    path = shutil.which("ngspice")
    if path is None:
        missing("ngspice", "sudo apt-get install ngspice")
    return str(path)


@pytest.fixture(scope="session")
def numba() -> None:
    """The compiler of loops, which the extra `fast` brings."""
    if importlib.util.find_spec("numba") is None:
        missing("numba", "pip install numba")


@pytest.fixture(scope="session")
def dask() -> None:
    """A cluster of other computers, which the extra `cluster` brings."""
    if importlib.util.find_spec("distributed") is None:
        missing("distributed", "pip install distributed")


@pytest.fixture(scope="session")
def typst() -> None:
    """What makes PDF, which the extra `pdf` brings."""
    if importlib.util.find_spec("typst") is None:
        missing("typst", "pip install typst")


@pytest.fixture(scope="session")
def chromium() -> str:
    """Path of Chromium, the browser that the pages are looked at with."""
    path = shutil.which("chromium")
    if path is None:
        missing("chromium", "sudo apt-get install chromium")
    return str(path)


@pytest.fixture(autouse=True)
def own_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A record of its own for every test; nobody's bench is touched."""
    path = tmp_path / "bench.db"
    monkeypatch.setenv("PROBEWRIGHT_BOOK", str(path))
    return path


@pytest.fixture
def book(own_book: Path) -> Iterator[Book]:
    """That record, open."""
    from probewright.record import open_book

    with open_book(own_book) as book:
        yield book


@pytest.fixture
def on_bench(book: Book) -> Callable[..., HiddenBench]:
    """Opens a job on a machine file, with a planted fault where one is named."""
    from hidden import NOW, HiddenBench, planted
    from probewright.jobs import bench
    from probewright.jobs.cases import Intake
    from probewright.machine import read

    def opened(text: str, *fault: str) -> HiddenBench:
        case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
        case = bench.know(book, case, "file", "m.yaml", text, "m.yaml", NOW)
        return HiddenBench(book, case, planted(read(text), *fault))

    return opened


@pytest.fixture
def page(own_book: Path) -> Iterator[TestClient]:
    """The bench page over that record, asked without a browser."""
    from starlette.testclient import TestClient

    from probewright.record import open_book
    from probewright.web.app import make_app

    with TestClient(make_app(open_book(own_book), "secret"), base_url=HERE) as client:
        yield client


@pytest.fixture(scope="session")
def root() -> Path:
    """The checkout."""
    return ROOT


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    """Where the demo machines and their recorded readings are."""
    return ROOT / "src" / "probewright" / "demo"


@pytest.fixture(scope="session")
def probewright() -> Run:
    """The command in a process of its own, as a person runs it: probewright("check", file)."""
    beside = Path(sys.executable).with_name("probewright")
    command = [str(beside)] if beside.exists() else [sys.executable, "-c", "from probewright.cli import main; main()"]

    def run(*arguments: object, timeout: float = 120.0, typed: str = "") -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [*command, *map(str, arguments)],
            cwd=ROOT,
            env=os.environ | {"COLUMNS": "120", "NO_COLOR": "1", "TERM": "dumb"},
            input=typed,
            capture_output=True,
            text=True,
            timeout=timeout,
        )

    return run
