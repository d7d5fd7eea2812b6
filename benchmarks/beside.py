"""Eight circuits beside ngspice: listed faults, direct volts with the meter on, signals and ohms.

`python -m benchmarks --only agreement` takes some faults of each, `python -m benchmarks.beside` all of them.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

from benchmarks.reference import INSTALL
from benchmarks.table import Row

TESTS = Path(__file__).parent.parent / "tests"  # the circuits and the deck for ngspice stand there
SOME = 30  # faults of each circuit
EVERY = 1_000_000
PATIENCE = 2.0  # s for ngspice, which answers in a tenth of one or not at all


def agreement(faults: int = SOME, names: tuple[str, ...] = ()) -> Iterator[Row]:
    """Greatest difference of each circuit, powered and not; unanswered variants are counted, what differs is named."""
    if shutil.which("ngspice") is None:
        yield Row(f"ngspice is not installed, the agreement is left out; {INSTALL}", float("nan"))
        return
    if str(TESTS) not in sys.path:
        sys.path.append(str(TESTS))
    import agreement as eight

    whole = answered = 0
    for name in names or eight.CIRCUITS:
        listed = len(eight.prepared(name)[3]) - 1
        chosen = eight.some(name, faults)
        for how, says in ((eight.powered, "volts and signals"), (eight.unpowered, "ohms")):
            found = how(name, chosen, PATIENCE)
            whole, answered = whole + len(chosen), answered + found.compared
            note = f"{found.compared} of {len(chosen)} ({listed} listed), {len(found.refused)} not answered by ngspice"
            note += f", {len(found.weak)} with a channel at its threshold, {len(found.unsolved)} not solved here"
            yield Row(f"{name}, {says}: apart, most", 1e6 * found.worst, "uV or ppm", note=note)
            for fault, net, theirs, ours in found.apart:
                yield Row(f"  apart: {fault}, {net}"[:66], ours, "V", note=f"ngspice {theirs:.6g} V")
    yield Row("variants that both answered", answered / whole, f"of {whole}")


if __name__ == "__main__":
    for row in agreement(EVERY):
        print(row.text(), flush=True)
