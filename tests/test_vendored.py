"""Browser files: what is served is what the table says, and a build without network goes on without them."""

from __future__ import annotations

import hashlib
import re
import subprocess
from pathlib import Path

import pytest

import hatch_build
from conftest import ROOT
from hatch_build import PACKAGES, CustomBuildHook, NotReached, Package, Vendored, bring, missing

SERVED = ROOT / "src" / "probewright"
FILES = [file for package in PACKAGES for file in package.files]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.destination)
def test_the_file_served_is_the_one_of_the_table(file: Vendored):
    target = SERVED / file.destination
    if not target.exists():
        pytest.skip("not fetched: no network while installing; later: .venv/bin/python hatch_build.py")
    assert hashlib.sha256(target.read_bytes()).hexdigest() == file.sha256


def test_each_package_is_pinned_and_brings_its_licence():
    for package in PACKAGES:
        assert re.fullmatch(r"\d+\.\d+\.\d+", package.version)
        assert re.fullmatch(r"sha512-[A-Za-z0-9+/]{86}==", package.integrity)
        assert package.licence
        licences = [one.destination for one in package.files if "LICENSE" in one.destination]
        folders = {Path(one.destination).parent for one in package.files}
        assert len(licences) == 1 and folders == {Path(licences[0]).parent}


def test_git_ignores_what_is_fetched():
    paths = [f"src/probewright/{file.destination}" for file in FILES]
    answer = subprocess.run(["git", "check-ignore", *paths], cwd=ROOT, capture_output=True, text=True)
    if answer.returncode == 128:
        pytest.skip("no git work tree here; get the repository to run this test")
    assert answer.stdout.split() == paths


def no_network(folder: Path, package: Package) -> None:
    raise NotReached(package.name)


def content(package: Package, file: Vendored) -> bytes:
    return f"{package.name} {file.inside}".encode()


@pytest.fixture
def small_table(monkeypatch: pytest.MonkeyPatch) -> tuple[Package, ...]:
    """The table with the digests of short made-up files."""
    table = tuple(
        one._replace(
            files=tuple(file._replace(sha256=hashlib.sha256(content(one, file)).hexdigest()) for file in one.files)
        )
        for one in PACKAGES
    )
    monkeypatch.setattr(hatch_build, "PACKAGES", table)
    return table


class Registry:
    """Unpacks made-up packages and counts them."""

    def __init__(self) -> None:
        self.asked: list[str] = []

    def __call__(self, folder: Path, package: Package) -> None:
        self.asked.append(package.name)
        for file in package.files:
            (folder / file.inside).parent.mkdir(parents=True, exist_ok=True)
            (folder / file.inside).write_bytes(content(package, file))


def test_what_is_there_is_not_fetched_again(tmp_path: Path, small_table: tuple[Package, ...]):
    registry = Registry()
    assert bring(tmp_path, registry) == ""
    assert registry.asked == [one.name for one in small_table]
    assert list(missing(tmp_path)) == []
    assert bring(tmp_path, registry) == ""
    assert len(registry.asked) == len(small_table)


def test_only_the_package_that_was_touched_is_fetched_again(tmp_path: Path, small_table: tuple[Package, ...]):
    registry = Registry()
    bring(tmp_path, registry)
    touched = tmp_path / "src" / "probewright" / small_table[1].files[0].destination
    touched.write_text("another version")
    bring(tmp_path, registry)
    assert registry.asked == [*(one.name for one in small_table), small_table[1].name]
    assert touched.read_bytes() == content(small_table[1], small_table[1].files[0])


def test_without_network_the_build_goes_on_and_says_so_in_one_line(tmp_path: Path):
    stale = tmp_path / "src" / "probewright" / FILES[0].destination
    stale.parent.mkdir(parents=True)
    stale.write_text("another version")
    said = bring(tmp_path, no_network)
    assert "plain forms" in said and "built-in layout" in said and "\n" not in said
    assert not stale.exists()  # never served under the name of the right one


def test_the_hook_leaves_the_build_working_without_network(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def unplugged(*_: object, **__: object) -> None:
        raise OSError("no route to host")

    monkeypatch.setattr("hatch_npm_vendor.vendor._fetch", unplugged)
    said: list[str] = []

    class App:
        display_warning = staticmethod(said.append)

    hook = CustomBuildHook(str(tmp_path), {}, None, None, str(tmp_path), "wheel", App())  # type: ignore[arg-type]
    build: dict[str, list[str]] = {"artifacts": []}
    hook.initialize("editable", build)
    assert len(said) == 1
    assert build["artifacts"] == [f"/src/probewright/{file.destination}" for file in FILES]


def test_another_digest_stops_the_build(tmp_path: Path):
    """A missing file is a nuisance; a changed one is not shipped."""
    with pytest.raises(RuntimeError, match="is not the file of the table"):
        bring(tmp_path, Registry())


def test_a_package_that_is_not_the_pinned_one_stops_the_build(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("hatch_npm_vendor.vendor._fetch", lambda url: b'{"dist": {"tarball": ""}}')
    with pytest.raises(RuntimeError, match="checksum mismatch"):
        bring(tmp_path)


def test_the_repository_names_no_registry():
    text = (ROOT / "hatch_build.py").read_text() + (ROOT / "pyproject.toml").read_text()
    assert "://" not in text
