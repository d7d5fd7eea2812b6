"""How well the leading class fits what was said, in the same words for every kind of section."""

from __future__ import annotations

from dataclasses import dataclass

SURPRISE = 0.5  # a reading more probably slipped than not
LED = 0.5  # a class more probable than not had been named before the reading was taken


@dataclass(frozen=True)
class Surprise:
    """A reading that the leading explanation does not give. tail: chance of one so far off."""

    reading: int
    tail: float
    remeasured: bool


@dataclass(frozen=True)
class Fit:
    """tail: chance that honest readings of the class lie as far off as these did, all together;
    verified: some reading, foretold before it was taken, was sharp and unhealthy (or, for "nothing
    wrong", any two agree); outside: mending what is outside the machine cures every member."""

    surprises: tuple[Surprise, ...]
    tail: float
    verified: bool
    outside: bool
