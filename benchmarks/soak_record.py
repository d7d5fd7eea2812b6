"""Kill whoever writes a book, at any moment, and look for what is lost: `make soak`.

A nursery process, started once because loading takes longer than writing, forks one writer after
another. A writer says a number aloud only after the book has answered. SIGKILL shows what the
program may lose; what a power cut may lose is up to the disk, and no process can show it.
"""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from probewright.record import Book, open_book

NOW = "2026-11-25T13:00:00+00:00"
KILLS_A_BOOK = 10  # chosen: the first one hits the making of the book, the others find it begun
EVENTS_A_JOB = 8  # chosen: so that the opening of jobs is hit too
MOST_EVENTS = 20  # chosen: acknowledged events before a kill, at most
LONGEST_WAIT = 0.004  # s, chosen: a few appends long, so that a kill falls anywhere in one
LONGEST_MAKING = 0.03  # s, chosen: a new book takes 0.01 to 0.02 s, so that a kill falls anywhere in that


@dataclass
class Tally:
    """What the killing came to: kills done, events acknowledged, events found, complaints."""

    kills: int = 0
    acknowledged: int = 0
    found: int = 0
    lost: list[str] = field(default_factory=list)


def soak(kills: int, folder: Path, seed: int = 1) -> Tally:
    """Kill so many writers on books in this folder, looking after each."""
    dice, tally = random.Random(seed), Tally()
    with nursery() as (orders, heard):
        for first in range(0, kills, KILLS_A_BOOK):
            path, acknowledged = folder / f"{first}.book", []
            for kill in range(first, min(first + KILLS_A_BOOK, kills)):
                patience, longest = (
                    (dice.randint(0, MOST_EVENTS), LONGEST_WAIT) if kill > first else (0, LONGEST_MAKING)
                )
                acknowledged += one_life(f"{kill} {path}", patience, dice.uniform(0, longest), orders, heard)
                tally.kills += 1
                tally.lost += inspect(path, acknowledged, kill - first + 1)
            tally.acknowledged += len(acknowledged)
            tally.found += len(stored(path))
    return tally


@contextmanager
def nursery() -> Iterator[tuple[IO[str], IO[str]]]:
    """A process that forks writers on order, with the pipes to and from it."""
    command = [sys.executable, "-m", "benchmarks.soak_record", "nursery"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1) as process:
        assert process.stdin and process.stdout
        yield process.stdin, process.stdout
        process.stdin.close()


def one_life(order: str, patience: int, wait: float, orders: IO[str], heard: IO[str]) -> list[tuple[int, int, str]]:
    """One writer from fork to SIGKILL: (job, number, text) of every event it said was stored."""
    said: list[tuple[int, int, str]] = []
    print(order, file=orders, flush=True)
    while len(said) < patience:
        said.append(spoken(heard.readline()))
    time.sleep(wait)
    print("kill", file=orders, flush=True)
    for line in iter(heard.readline, "dead\n"):
        said.append(spoken(line))
    return said


def spoken(line: str) -> tuple[int, int, str]:
    """The event that a writer's line speaks of."""
    job, number, text = line.split()
    return int(job), int(number), text


def inspect(path: Path, acknowledged: list[tuple[int, int, str]], kills: int) -> list[str]:
    """Every way in which the book is not what its writers were told."""
    there = stored(path)
    wrong = [f"{path.name}: lost {one}" for one in acknowledged if there.get(one[:2]) != one[2]]
    if len(there) > len(acknowledged) + kills:
        wrong.append(f"{path.name}: {len(there)} events, {len(acknowledged)} acknowledged in {kills} lives")
    with closing(sqlite3.connect(path)) as file:
        (answer,) = file.execute("PRAGMA integrity_check").fetchone()
    return wrong if answer == "ok" else [*wrong, f"{path.name}: {answer}"]


def stored(path: Path) -> dict[tuple[int, int], str]:
    """(job, number) -> text of every event; an event must be whole and in its place to be read."""
    with open_book(path) as book:
        events = [event for job in book.jobs() for event in book.events(job)]
    assert all(event.payload["filling"] == filling(event.payload["text"]) for event in events), "half an event"
    return {(event.job, event.number): event.payload["text"] for event in events}


def filling(text: str) -> str:
    """Something that makes one event small and the next some pages long."""
    return text * (hash_of(text) % 1500)


def hash_of(text: str) -> int:
    """A number that is the same in every process."""
    return sum(ord(letter) * place * place for place, letter in enumerate(text, start=1))


def write_on(book: Book, writer: str) -> Iterator[tuple[int, int, str]]:
    """Events without end, each handed on after the book has answered."""
    job = (book.jobs() or (0,))[-1]
    count = 0
    while True:
        text = f"{writer}-{count}"
        payload = {"text": text, "filling": filling(text)}
        if job and count % EVENTS_A_JOB:
            event = book.append(job, "said", payload, NOW, "0")
        else:
            event = book.open_job(payload, NOW, "0")
        job, count = event.job, count + 1
        yield event.job, event.number, text
        book.keep(job, "belief", filling(text).encode())


def run_nursery() -> None:
    """Fork a writer for each order on standard input, kill it on the next line, say `dead`."""
    import probewright.record.migrations
    import probewright.record.store  # noqa: F401  loaded here, so that no writer has to

    while order := sys.stdin.readline():
        writer = os.fork()
        if not writer:
            name, path = order.split(maxsplit=1)
            for job, number, text in write_on(open_book(Path(path.strip())), name):
                os.write(1, f"{job} {number} {text}\n".encode())  # short enough to arrive whole or not at all
        sys.stdin.readline()
        os.kill(writer, signal.SIGKILL)
        os.waitpid(writer, 0)
        os.write(1, b"dead\n")


def main(arguments: list[str]) -> int:
    """So many kills (200 unless told), one line said, exit code 1 when anything was lost."""
    if arguments == ["nursery"]:
        run_nursery()
        return 0
    with tempfile.TemporaryDirectory() as folder:
        tally = soak(int(arguments[0]) if arguments else 200, Path(folder), seed=random.SystemRandom().getrandbits(32))
    print(*tally.lost, sep="\n", end="\n" if tally.lost else "")
    print(
        f"{tally.kills} kills: {tally.acknowledged} events acknowledged, {len(tally.lost)} lost or harmed; "
        f"{tally.found - tally.acknowledged} more stored when the kill came before the answer"
    )
    return 1 if tally.lost else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
