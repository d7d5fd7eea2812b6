"""Three walks at the terminal, with the time a person needs: `python -m benchmarks.walks`.

Typing is reckoned by the keystroke-level model (Card, Moran and Newell, Communications of the ACM
23, 1980): 0.28 s a key for an average typist who is no secretary, 1.35 s of thought before each
line; figures from memory. The program's own time is measured and added.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

KEY, THOUGHT = 0.28, 1.35  # s, see above
PROGRAM = Path(sys.executable).with_name("probewright")


@dataclass(frozen=True)
class Step:
    """One command as typed, and the lines typed at its questions."""

    command: tuple[str, ...]
    answers: tuple[str, ...] = ()

    @property
    def seconds(self) -> float:
        """A person's time, s: every key, Enter included, and thought before the command and each answer."""
        typed = ["probewright " + " ".join(f'"{one}"' if " " in one else one for one in self.command), *self.answers]
        keys = sum(len(line) + 1 for line in typed)
        return keys * KEY + THOUGHT * (1 + sum(1 for line in self.answers if line))


def opening() -> Step:
    """Intake by questions, one key each."""
    from probewright.hypotheses import symptoms

    ticks: Mapping[str, str] = {"powers up": "g", "sound left": "b", "sound right": "g"}
    keys = tuple(ticks.get(one, "") for one in symptoms.functions("amplifier"))
    number = str(symptoms.kinds().index("amplifier") + 1)
    return Step(("job", "open"), (number, *keys, "left is silent", "always", "nobody", ""))


WALKS: Mapping[str, tuple[float, tuple[Step, ...]]] = {
    "from an empty folder to the first card": (60.0, (opening(),)),
    "a chain of eight blocks by two channels": (
        120.0,
        (Step(("job", "chain", "left, right: head > preamp > equaliser > 4u7 > volume > driver > relay > phones")),),
    ),
    "a stage of fifteen parts from the shelf": (
        240.0,
        (Step(("job", "shelf", "class-b", "--ask"), ("", "20V", "1k", "0R47", "8R", "22u", "1000u")),),
    ),
}


def walk(name: str, book: Path) -> tuple[float, float, str]:
    """Seconds of a person, seconds of the program, and what was on the screen."""
    person, program, screen = 0.0, 0.0, []
    for step in WALKS[name][1]:
        began = time.perf_counter()
        told = subprocess.run(
            [str(PROGRAM), *step.command], input="\n".join([*step.answers, ""]), capture_output=True, text=True,
            env=os.environ | {"PROBEWRIGHT_BOOK": str(book), "COLUMNS": "120"}, check=False,
        )  # fmt: skip
        program += time.perf_counter() - began
        person += step.seconds
        screen += [
            f"$ probewright {' '.join(step.command)}",
            *(f"> {one}" for one in step.answers),
            told.stdout + told.stderr,
        ]
        if told.returncode:
            raise SystemExit("\n".join(screen))
    return person, program, "\n".join(screen)


def main() -> None:
    """Every walk in one folder, with its time; --show prints the screens too."""
    with tempfile.TemporaryDirectory() as folder:
        for name, (limit, _) in WALKS.items():
            person, program, screen = walk(name, Path(folder) / "bench.db")
            print(f"{name}: {person:.0f} s of typing and thought, {program:.1f} s of computing (goal {limit:.0f} s)")
            if "--show" in sys.argv:
                print(screen)


if __name__ == "__main__":
    main()
