"""What is refused says on a page what to press there: no refusal that a page can reach names a command or an option."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import probewright
from probewright.web.sheets import on_page

HERE = Path(probewright.__file__).parent
NO_PAGE = {"copies", "rehearsing"}  # a copy is put back, and a plan rehearsed, at the command line alone
COMMAND = re.compile(r"probewright [a-z]|--[a-z]")


def rooms_of(tree: ast.Module) -> Iterator[str]:
    """The modules of `jobs` that a module imports."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("probewright.jobs"):
            _, _, *name = node.module.split(".")
            yield from name[:1] or (one.name for one in node.names)


def reached() -> dict[str, ast.Module]:
    """The modules of `jobs` that the pages reach, through others too."""
    found: dict[str, ast.Module] = {}
    todo = [ast.parse(one.read_text("utf-8")) for one in (HERE / "web").glob("*.py")]
    while todo:
        for name in rooms_of(todo.pop()):
            file = HERE / "jobs" / f"{name}.py"
            if name not in found and name not in NO_PAGE and file.is_file():
                found[name] = ast.parse(file.read_text("utf-8"))
                todo.append(found[name])
    return found


def texts(node: ast.AST) -> Iterator[str]:
    """The texts in an expression, with "1" for what is filled in."""
    if isinstance(node, ast.JoinedStr):
        yield "".join(str(one.value) if isinstance(one, ast.Constant) else "1" for one in node.values)
    elif isinstance(node, ast.Constant):
        yield from (node.value,) if isinstance(node.value, str) else ()
    else:
        for one in ast.iter_child_nodes(node):
            yield from texts(one)


def refusals(tree: ast.Module) -> Iterator[str]:
    """What complaints say, and what the names in them were given."""
    calls = [
        node for node in ast.walk(tree) if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "complaint"
    ]
    names = {one.id for call in calls for one in ast.walk(call) if isinstance(one, ast.Name)}
    for call in calls:
        yield from (text for one in call.args for text in texts(one))
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and any(isinstance(at, ast.Name) and at.id in names for at in node.targets):
            yield from texts(node.value)


def test_no_refusal_that_a_page_reaches_names_a_command_or_an_option() -> None:
    modules = reached()
    said = {(name, text) for name, tree in modules.items() for text in refusals(tree)}
    assert len(modules) > 40 and sum(bool(COMMAND.search(text)) for _, text in said) > 20  # it does find them
    assert not {(name, on_page(text)) for name, text in said if COMMAND.search(on_page(text))}


@pytest.mark.parametrize(
    ("mend", "pressed"),
    [
        ("`probewright strip --follow 3`, `probewright strip --follow 5`", "“Open and refit” at the end of the bench"),
        ("write `--back 1.2 --count 4`", "count them in their own line, at “How many”"),
        ("take back its line: `probewright reading undo`",
         "take back its line: “Undo” beside it, under “Readings” on the bench"),
    ],
)  # fmt: skip
def test_a_mend_says_what_is_pressed_once(mend: str, pressed: str) -> None:
    assert on_page(mend) == pressed
