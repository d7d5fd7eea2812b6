"""The documents tell the truth: their examples run and their links lead somewhere.

A ```python block is run, the blocks of one page in order and in one namespace. In a ```console
block each line `$ probewright ...` is run and must end with code 0, or with the code in a comment
`<!-- exit 3 -->` just above the block; the lines shown below a command must be printed by it, in
that order, with `...` for anything left out. A ```yaml block that begins with `machine:` is read as a
machine file and may have no slip in it. In method.md a figure stands beside its name in the code.
"""

from __future__ import annotations

import doctest
import importlib
import pkgutil
import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import typer

import probewright as package
from conftest import ROOT, Run
from probewright import machine
from probewright.hypotheses.priors import standing

PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
FENCE = re.compile(r"(?:<!-- exit (?P<code>\d+) -->\s*\n)?^```(?P<language>\w+)\n(?P<text>.*?)^```$", re.M | re.S)
FIGURE = re.compile(r"`([A-Za-z_-]+)(?:\[([\w ]+)\])?` (\d[\d.]*(?:e-?\d+)?)\b")  # `NAME` 0.5, `NAME[key]` 2
LINK = re.compile(r"\]\(([^)\s]+)\)|(?:src|href)=\"([^\"]+)\"")


@dataclass(frozen=True)
class Block:
    """One fenced example of a page."""

    language: str
    text: str
    line: int
    code: int


def blocks(page: Path, language: str) -> list[Block]:
    """The examples of one language on a page."""
    text = page.read_text(encoding="utf-8")
    found = [
        Block(one["language"], one["text"], text.count("\n", 0, one.start("text")) + 1, int(one["code"] or 0))
        for one in FENCE.finditer(text)
    ]
    return [one for one in found if one.language == language]


def pages_with(language: str) -> list[Path]:
    return [page for page in PAGES if blocks(page, language)]


def page_name(page: Path) -> str:
    return str(page.relative_to(ROOT))


def commands(block: Block) -> list[tuple[str, list[str]]]:
    """(command, lines shown below it) in order; a line of "..." says nothing."""
    found: list[tuple[str, list[str]]] = []
    for line in block.text.splitlines():
        if line.startswith("$ "):
            found.append((line[2:], []))
        elif found and line.strip() not in ("", "..."):
            found[-1][1].append(" ".join(line.split()))
    return found


def first_not_printed(shown: list[str], printed: str) -> str | None:
    """The first shown line that is not among the printed ones, in order; blanks do not count."""
    rest = iter([" ".join(line.split()) for line in printed.splitlines()])
    for line in shown:
        pattern = re.compile(".*".join(map(re.escape, line.split("..."))))
        if not any(pattern.fullmatch(one) for one in rest):
            return line
    return None


def test_a_shown_line_must_be_printed_and_in_order():
    printed = "one\ntwo  is 2\nthree\n"
    assert first_not_printed(["one", "two is ...", "three"], printed) is None
    assert first_not_printed(["two is 3"], printed) == "two is 3"
    assert first_not_printed(["three", "one"], printed) == "one"


def run_python(page: Path) -> None:
    namespace: dict[str, object] = {"__name__": "example"}
    for block in blocks(page, "python"):
        where = f"{page_name(page)}:{block.line}"
        if ">>>" in block.text:
            said: list[str] = []
            test = doctest.DocTestParser().get_doctest(block.text, namespace, where, str(page), block.line - 1)
            flags = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS
            doctest.DocTestRunner(optionflags=flags).run(test, out=said.append, clear_globs=False)
            namespace = test.globs
            assert not said, "".join(said)
        else:
            padding = "\n" * (block.line - 1)  # so that a failure names the line of the page
            exec(compile(padding + block.text, str(page), "exec"), namespace)


def test_python_examples_run():
    for page in pages_with("python"):
        run_python(page)


@pytest.mark.parametrize("page", pages_with("console"), ids=page_name)
def test_console_examples_run(page: Path, probewright: Run):
    for block in blocks(page, "console"):
        for command, shown in commands(block):
            name, *arguments = shlex.split(command)
            if name != "probewright":
                continue
            answer = probewright(*arguments)
            where = f"{page_name(page)}:{block.line}: $ {command}"
            assert answer.returncode == block.code, f"{where}\n{answer.stdout}{answer.stderr}"
            absent = first_not_printed(shown, answer.stdout + answer.stderr)
            assert absent is None, f"{where}\ndoes not print {absent!r} (there) but:\n{answer.stdout}{answer.stderr}"


def test_machine_files_shown_are_without_a_slip():
    shown = [(page, block) for page in PAGES for block in blocks(page, "yaml") if block.text.startswith("machine:")]
    assert shown
    for page, block in shown:
        read = machine.read(block.text, f"{page_name(page)}:{block.line}")
        assert read.warnings == ()


@pytest.mark.parametrize("page", PAGES, ids=page_name)
def test_links_lead_somewhere(page: Path):
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.S)
    targets = [first or second for first, second in LINK.findall(text)]
    inside = [one.partition("#")[0] for one in targets if not re.match(r"[a-z]+:", one)]
    lost = [one for one in inside if one and not (page.parent / one).exists()]
    assert not lost, f"{page_name(page)} links to {', '.join(lost)}, which does not exist"


def command_names(app: typer.Typer, before: str = "") -> Iterator[str]:
    """Every command, those of the groups with the group in front."""
    for one in app.registered_commands:
        if one.callback:
            yield before + (one.name or one.callback.__name__.replace("_", "-"))
    for group in app.registered_groups:
        if group.typer_instance:
            yield from command_names(group.typer_instance, f"{before}{group.name} ")


def test_every_command_is_named_in_the_documents():
    from probewright import cli

    app = next(one for one in vars(cli).values() if isinstance(one, typer.Typer))
    names = list(command_names(app))
    assert "job open" in names
    words = "\n".join(page.read_text(encoding="utf-8") for page in PAGES)
    assert names
    assert [name for name in names if f"probewright {name}" not in words] == []


def values_of(name: str, key: str) -> Iterator[float]:
    """What the code holds under this name: a constant of any module, or a row of the standing chances."""
    if not name.isupper():
        yield standing(name).value
        return
    for module in pkgutil.walk_packages(package.__path__, "probewright."):
        if not module.name.endswith("__main__"):
            value = getattr(importlib.import_module(module.name), name, None)
            if value is not None:
                yield value if not key else value[int(key) if key.isdigit() else key]


def test_the_figures_of_the_method_are_those_of_the_code():
    page = (ROOT / "docs" / "method.md").read_text(encoding="utf-8")
    figures = FIGURE.findall(page)
    assert len(figures) > 50
    wrong = [
        f"{name} {said}"
        for name, key, said in figures
        if not any(value == pytest.approx(float(said), rel=1e-9) for value in values_of(name, key))
    ]
    assert wrong == []
