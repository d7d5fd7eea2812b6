"""A practice at the terminal: one hidden fault, lines typed as at the bench, or read from a pipe."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

import typer

from probewright.errors import BadInput
from probewright.jobs import practice
from probewright.jobs.cases import Case
from probewright.jobs.practice import GAVE_UP, NAMED
from probewright.jobs.searching import Search
from probewright.jobs.spending import spent
from probewright.jobs.two_paths import WRONG, PathsView, Trail, caution, may_hurt, overheated, two_paths
from probewright.machine import Machine
from probewright.record import Book, open_book, stamp
from probewright.report import bench as bench_words
from probewright.report import practice as words

PROMPT = "> "
ENDS = ("give up", "i give up", "quit", "exit", "end")


def practise(text: str, file: str, key: str, aside: bool) -> PathsView:
    """Hide a fault, answer line after line until it is named, cured or given up; then the two paths.

    aside: what is said on the way goes to standard error. The end of the input gives up.
    """
    with TemporaryDirectory() as folder, open_book(Path(folder) / "practice.db") as book:
        case = practice.open_practice(book, text, file, key, stamp())
        desk = _Desk(book, case, aside)
        desk.say(words.opened(case))
        for line in _lines():
            desk.hear(line)
            if desk.case.closed is not None:
                break
        else:
            desk.give_up()
        desk.working("The two paths are worked out.")
        return two_paths(desk.case, desk.trail)


def is_found(view: PathsView) -> bool:
    """The fault was named, or something that is mended alike, or it was cured."""
    return view.ended != GAVE_UP and not (view.ended == NAMED and view.verdict == WRONG)


def _lines() -> Iterator[str]:
    """What is typed, line by line; the prompt is for a terminal alone."""
    if not sys.stdin.isatty():
        reconfigure = getattr(sys.stdin, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="surrogateescape")  # what is no text is told of where its line is read
        yield from sys.stdin
        return
    import readline  # noqa: F401  the arrow keys bring back what was typed

    while True:
        try:
            yield input(PROMPT)
        except EOFError:
            return


@dataclass
class _Desk:
    """A practice on its way."""

    book: Book
    case: Case
    aside: bool
    trail: Trail = field(init=False)

    def __post_init__(self) -> None:
        self.trail = Trail(self.case)

    @property
    def machine(self) -> Machine:
        """The machine as its file says."""
        return practice.machine_in(self.case)

    def say(self, text: str) -> None:
        """To the person."""
        typer.echo(text, err=self.aside)

    def working(self, text: str) -> None:
        """Where somebody sits and waits."""
        if sys.stderr.isatty():
            typer.echo(text, err=True)

    def hear(self, line: str) -> None:
        """One line of the person."""
        typed = " ".join(line.split())
        if not typed:
            return
        try:
            self._do(typed)
        except BadInput as bad:
            for one in bad.complaints:
                typer.echo(f"  {one.says}", err=True)

    def _do(self, typed: str) -> None:
        match typed.casefold().strip(" .!"):
            case "help" | "?":
                self.say(words.HELP)
            case "hint" | "next" | "card":
                self.working("The card is worked out.")
                self.say(bench_words.card(self.trail.view(self.case)))
            case "so far":
                self.say(words.so_far(self.case, spent(self.case, self.machine)))
            case said if said in ENDS:
                self.give_up()
            case _ if named := practice.said_so(typed):
                self.case = practice.name_fault(self.book, self.case, named, stamp())
            case _:
                self._enter(typed)

    def give_up(self) -> None:
        """The person wants to see what it was."""
        self.case = practice.give_up(self.book, self.case, stamp())

    def _enter(self, typed: str) -> None:
        """A line of measuring: the caution first, then the answer, then what it took."""
        asks, before = practice.want(self.case, typed).asks, len(self.case.lines)
        hurts = may_hurt(self.machine, asks)
        for said in dict.fromkeys(caution(self._search(), ask) for ask in asks) if hurts else ():
            if said:
                self.say(f"  {said}")
        bare = self._search() if asks and self.case.bench.setup.bare else None
        self.case = practice.enter(self.book, self.case, typed, stamp())
        took = spent(self.case, self.machine)
        fresh = [one for line in self.case.lines[before:] for one in line.says]
        self.say(words.entered(fresh, took[-1], sum(one.whole for one in took)))
        if bare is not None and (said := overheated(bare, asks, took[-1].doing)):
            self.say(f"  {said}")

    def _search(self) -> Search:
        return self.trail.after(self.case)[0]
