"""Browser files that the wheel carries and the repository does not: fetched while the package is built.

Each file is checked twice: the package it comes in by the SHA-512 pinned here, the file itself by its
SHA-256. A file that is there already is not fetched again. Where nothing can be fetched the build goes
on without: pages then run as plain forms, diagrams use the built-in layout.

`.venv/bin/python hatch_build.py` fetches them into the source tree by hand.
"""

from __future__ import annotations

import hashlib
import socket
import sys
import tempfile
from collections.abc import Callable, Iterator
from http.client import HTTPException
from pathlib import Path
from typing import Any, NamedTuple

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

WAIT_SECONDS = 20.0  # chosen: a package of 2 MB comes in a few seconds; a dead network must not stop a build for long


class Vendored(NamedTuple):
    """One file of one package: where it stands inside, where it goes below src/probewright, its SHA-256."""

    inside: str
    destination: str
    sha256: str


class Package(NamedTuple):
    """A package of the browser world, pinned by the SHA-512 its registry gives."""

    name: str
    version: str
    integrity: str
    licence: str
    files: tuple[Vendored, ...]


# The one table: what is carried, which version, under which licence. Digests are of the published files, unchanged.
PACKAGES = (
    Package(
        name="htmx.org",
        version="4.0.1",
        integrity="sha512-oF7JgXhDW9UXCy/k1ZYFUQgzu/rm19ORWPSPNL91vPluB2PB9+MV55tyQdH/w7o2EAbTYUG5SDW1R60mdkdqGg==",
        licence="0BSD",
        files=(
            Vendored(
                "dist/htmx.min.js",
                "web/static/vendor/htmx.min.js",
                "a0abb04f2f45a1f89d1d4844023245537e5e6014c87b144553e0607b4cc32130",
            ),
            Vendored(
                "LICENSE",
                "web/static/vendor/htmx.LICENSE.txt",
                "d3d2456f76414f2456104660ebd65aff1c04cd7966b942bdabd63f3cdb316a38",
            ),
        ),
    ),
    Package(
        name="elkjs",
        version="0.12.1",
        integrity="sha512-IhMYKHE4S2vtx0QrhBP3lYOIKDeIiJXBrdq9MGYkuB8ZHqhrBnHNfSUndjXFewrX1CPK8chwq+2NA0K0hliYuw==",
        licence="EPL-2.0 OR GPL-3.0-or-later",
        files=(
            Vendored(
                "lib/elk.bundled.js",
                "drawing/vendor/elk.bundled.js",
                "b1032b7cfd2a57c54c6f0e8369d7665e19a579954f7cd20a6dae28f1912ea0d7",
            ),
            Vendored(
                "LICENSE.md",
                "drawing/vendor/elk.LICENSE.md",
                "637e81f4a1b6b4079535c499fca05e238cf7605c1ff5b76d60d7da7ce96700c9",
            ),
        ),
    ),
)

Fetch = Callable[[Path, Package], None]  # unpacks a package into a folder that does not exist yet


class NotReached(Exception):
    """The registry did not answer."""


def package_folder(root: Path) -> Path:
    """The folder of the package in a source tree."""
    return root / "src" / "probewright"


def is_there(target: Path, file: Vendored) -> bool:
    """Whether this very file stands at its place."""
    return target.is_file() and hashlib.sha256(target.read_bytes()).hexdigest() == file.sha256


def missing(root: Path) -> Iterator[tuple[Package, Vendored]]:
    """What is not there yet, or is not what the table says."""
    for package in PACKAGES:
        for file in package.files:
            if not is_there(package_folder(root) / file.destination, file):
                yield package, file


def from_registry(folder: Path, package: Package) -> None:
    """Fetch and unpack one package; NotReached without network, RuntimeError when its digest is another."""
    before = socket.getdefaulttimeout()
    socket.setdefaulttimeout(WAIT_SECONDS)
    try:
        from hatch_npm_vendor.plugin import DEFAULT_REGISTRY
        from hatch_npm_vendor.vendor import vendor_package

        vendor_package(folder, package.name, package.version, package.integrity, registry=DEFAULT_REGISTRY)
    except (ImportError, OSError, HTTPException, ValueError, KeyError) as problem:
        # ValueError, KeyError: something else answered, such as the sign-in page of a guest network
        raise NotReached(package.name) from problem
    finally:
        socket.setdefaulttimeout(before)


def bring(root: Path, fetch: Fetch = from_registry) -> str:
    """Put every file of the table at its place; "" or the one line that says what goes without.

    A file of another version is taken away, never shipped under the wrong name.
    """
    wanted: dict[str, tuple[Package, list[Vendored]]] = {}
    for package, file in missing(root):
        wanted.setdefault(package.name, (package, []))[1].append(file)
        (package_folder(root) / file.destination).unlink(missing_ok=True)
    try:
        for package, files in wanted.values():
            with tempfile.TemporaryDirectory() as folder:
                unpacked = Path(folder) / "unpacked"
                fetch(unpacked, package)
                for file in files:
                    put(unpacked / file.inside, package_folder(root) / file.destination, file)
    except NotReached as problem:
        return (
            f"probewright: {problem} could not be fetched; what is missing goes without: pages run as plain forms, "
            "diagrams use the built-in layout. Later: .venv/bin/python hatch_build.py"
        )
    return ""


def put(source: Path, target: Path, file: Vendored) -> None:
    """Copy one file to its place, complete or not at all."""
    if not is_there(source, file):
        raise RuntimeError(f"{file.inside} is not the file of the table in hatch_build.py")
    target.parent.mkdir(parents=True, exist_ok=True)
    half = target.with_name(target.name + ".half")
    half.write_bytes(source.read_bytes())
    half.replace(target)


class CustomBuildHook(BuildHookInterface[Any]):
    """Runs before a wheel, an editable install or a source archive is made."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Bring the files and let the wheel carry them, though git ignores them."""
        root = Path(self.root)
        said = bring(root)
        if said:
            self.app.display_warning(said)
        build_data["artifacts"] += [f"/src/probewright/{file.destination}" for one in PACKAGES for file in one.files]


if __name__ == "__main__":
    here = bring(Path(__file__).parent)
    sys.stderr.write(here and here + "\n")
