"""How much disk a plain install takes: the package and all it asks for, without what only its makers need."""

from __future__ import annotations

import marshal
import re
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

import probewright
from benchmarks.table import Row

GOAL = 120.0  # MB
LEAST = 1.0  # MB: what is smaller is not named


def needed(name: str) -> set[str]:
    """Names of all distributions that this one asks for, and theirs, extras left out, itself included."""
    found: set[str] = set()
    left = [name]
    while left:
        one = re.sub(r"[-_.]+", "-", left.pop()).lower()
        if one in found:
            continue
        try:
            asks = metadata.distribution(one).requires or []
        except metadata.PackageNotFoundError:
            continue  # for another system or Python
        found.add(one)
        left += [re.split(r"[^\w.-]", ask, maxsplit=1)[0] for ask in asks if not re.search(r"extra\s*==", ask)]
    return found


def size_of(name: str) -> float:
    """MB of the files that its RECORD names, what was compiled beside them included."""
    files = metadata.files(name) or []
    return sum(path.stat().st_size for path in (Path(str(one.locate())) for one in files) if path.is_file()) / 1e6


def own_size(folder: Path) -> float:
    """MB of a package in its source tree, and of what an installer compiles beside it; not of the caches of a run."""
    files = [path for path in folder.rglob("*") if path.is_file() and path.parent.name != "__pycache__"]
    compiled = [len(marshal.dumps(compile(one.read_bytes(), str(one), "exec"))) for one in files if one.suffix == ".py"]
    return (sum(path.stat().st_size for path in files) + sum(compiled)) / 1e6


def install() -> Iterator[Row]:
    """MB on disk, as recorded by the installer; the package itself is weighed where it stands."""
    own = own_size(Path(probewright.__file__).parent)
    sizes = {name: size_of(name) for name in needed("probewright") - {"probewright"}}
    note = f"{len(sizes)} packages and this one; pip and Python itself not counted"
    yield Row("base install", own + sum(sizes.values()), "MB", GOAL, "<=", note)
    yield Row("  probewright itself", own, "MB")
    for name, size in sorted(sizes.items(), key=lambda pair: -pair[1]):
        if size >= LEAST:
            yield Row(f"  {name}", size, "MB")
