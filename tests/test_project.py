"""The house keeps its own rules: rooms, lock files, decisions, a quick command, a whole wheel."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
import zipfile
from importlib import metadata
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

from conftest import ROOT

PACKAGE = ROOT / "src" / "probewright"
LOCKS = sorted(ROOT.glob("requirements*.lock"))
DECISIONS = sorted((ROOT / "docs" / "decisions").glob("*.md"))
PINNED = re.compile(r"^([a-z0-9-]+)==\S+( ; .+)? \\$")

# What a room may not import, by the first words of its files' names.
NO_NUMPY = ("errors", "units", "readings", "machine", "drawing", "record", "photos")
PURE = (
    "errors",
    "units",
    "readings",
    "machine",
    "drawing",
    "hypotheses",
    "simulation",
    "prediction",
    "inference",
    "planning",
    "captures",
)


def sources(*rooms: str) -> list[Path]:
    """The Python files of these rooms, or of all rooms."""
    files = sorted(PACKAGE.rglob("*.py"))
    return [one for one in files if not rooms or one.relative_to(PACKAGE).parts[0].removesuffix(".py") in rooms]


def imported(file: Path) -> set[str]:
    """The top names a file imports, anywhere in it."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and not node.level:
            names.add(str(node.module))
    return {name.partition(".")[0] for name in names}


def offenders(files: list[Path], forbidden: set[str]) -> list[str]:
    return [
        f"{file.relative_to(ROOT)} imports {', '.join(found)}"
        for file in files
        if (found := sorted(imported(file) & forbidden))
    ]


def test_a_room_uses_only_the_rooms_below_it(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    monkeypatch.chdir(ROOT)
    code = lint_imports(config_filename=str(ROOT / "pyproject.toml"), cache_dir=None, no_logo=True)
    assert code == 0, capsys.readouterr().out


def test_every_folder_of_code_is_a_package():
    """A folder without __init__.py is not seen by the check of the rooms."""
    assert {str(one.parent) for one in sources() if not (one.parent / "__init__.py").exists()} == set()


def test_numpy_starts_at_simulation():
    kinds = PACKAGE / "machine" / "kinds"
    below = [one for one in sources(*NO_NUMPY) if kinds not in one.parents]
    assert offenders(below, {"numpy"}) == []


def test_only_the_record_speaks_sql():
    elsewhere = [one for one in sources() if one not in sources("record")]
    assert offenders(elsewhere, {"sqlite3", "sqlalchemy", "alembic", "psycopg"}) == []


def test_what_lies_left_of_the_record_has_no_clock_no_dice_and_no_network():
    assert offenders(sources(*PURE), {"time", "random", "secrets", "socket", "subprocess", "urllib"}) == []


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.name)
def test_a_lock_file_pins_by_hash_and_names_no_address(lock: Path):
    lines = lock.read_text(encoding="utf-8").splitlines()
    other = [
        line
        for line in lines
        if not (PINNED.match(line) or re.match(r"( {4}--hash=sha256:[0-9a-f]{64}( \\)?|#.*)$", line))
    ]
    assert other == []
    assert [line for line in lines if "://" in line] == []


def test_a_lock_file_holds_all_that_the_project_asks_for():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    asked = {
        "requirements.lock": project["project"]["dependencies"],
        "requirements-build.lock": project["dependency-groups"]["build"],
        "requirements-dev.lock": project["dependency-groups"]["dev"],
    }
    assert sorted(asked) == [lock.name for lock in sorted(LOCKS)]
    for name, wanted in asked.items():
        pinned = {found[1] for line in (ROOT / name).read_text().splitlines() if (found := PINNED.match(line))}
        names = {re.split(r"[<>=~! ]", one)[0].lower().replace(".", "-").replace("_", "-") for one in wanted}
        assert names - pinned == set(), f"{name} is older than pyproject.toml; run: make locks"


def test_no_lock_file_of_a_sort_that_records_addresses():
    assert [name for name in ("uv.lock", "pylock.toml", "poetry.lock", "Pipfile.lock") if (ROOT / name).exists()] == []


def test_the_readme_shows_the_two_commands():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "make demo" in readme
    assert "make test" in readme


@pytest.mark.parametrize("page", DECISIONS, ids=lambda page: page.stem)
def test_a_decision_answers_the_four_questions(page: Path):
    headings = re.findall(r"^## (.+)$", page.read_text(encoding="utf-8"), re.M)
    wanted = ["What", "Why", "What else", "What would change our mind"]
    assert [one for one in headings if one in wanted] == wanted


def test_decisions_are_numbered_without_a_gap():
    assert [int(page.stem[:4]) for page in DECISIONS] == list(range(1, len(DECISIONS) + 1))


def test_the_changelog_knows_this_version():
    from probewright import __version__

    assert f"## [{__version__}]" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")


def test_help_comes_without_numpy():
    """`probewright --help` is asked often and must be there at once."""
    script = "import sys; sys.argv = ['probewright', '--help']; from probewright.cli import main; main()"
    answer = subprocess.run([sys.executable, "-X", "importtime", "-c", script], capture_output=True, text=True)
    assert answer.returncode == 0, answer.stderr
    modules = {line.rpartition("|")[2].strip().partition(".")[0] for line in answer.stderr.splitlines()}
    assert "typer" in modules  # or the list was not read
    assert modules & {"numpy", "scipy", "ruamel", "starlette", "sqlalchemy", "alembic", "sqlite3"} == set()


def test_the_wheel_holds_every_file_of_the_package(tmp_path: Path):
    build = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    inside = set(zipfile.ZipFile(wheel).namelist())
    files = {one for one in PACKAGE.rglob("*") if one.is_file() and "__pycache__" not in one.parts}
    assert {str(one.relative_to(PACKAGE.parent)) for one in files} - inside == set()


def test_what_a_command_is_given_is_told_in_its_help():
    """Newer versions of what lies under the command line swallow this."""
    answer = subprocess.run(
        [sys.executable, "-m", "probewright", "rehearse", "--help"], capture_output=True, text=True, check=True
    )
    assert "Machine file (YAML), see docs/machine-file.md." in answer.stdout


def test_only_the_extras_need_what_is_heavy():
    """A plain install has no pictures, no compiler and no colours of a terminal."""
    asks = [one.partition(";")[0] for one in metadata.requires("probewright") or [] if "extra ==" not in one]
    names = {re.split(r"[^\w-]", one)[0] for one in asks}
    assert "numpy" in names
    assert names & {"pillow", "quickjs-ng", "numba", "typer", "rich", "pydantic"} == set()


def test_how_many_of_a_thing_there_are_is_said_by_one_function():
    again = re.compile(r"\{'' if [\w.]+ == 1 else 's'\}")
    assert [one.name for one in sources() if again.search(one.read_text(encoding="utf-8"))] == ["units.py"]
