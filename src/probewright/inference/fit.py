"""How well the leading class fits what was said, in the same words for every kind of section."""

from __future__ import annotations

from dataclasses import dataclass

SURPRISE = 0.5  # a reading more probably slipped than not
LED = 0.5  # a class more probable than not had been named before the reading was taken


@dataclass(frozen=True)
class Surprise:
    """A reading that the leading explanation does not give. tail: chance of one so far off; past: it was taken before a
    repair, so that nobody can take it again."""

    reading: int
    tail: float
    remeasured: bool
    past: bool = False

    @property
    def waits(self) -> bool:
        """It can be measured again, and was not."""
        return not (self.remeasured or self.past)


@dataclass(frozen=True)
class Fit:
    """tail: chance that honest readings of the class lie as far off as these did, all together;
    verified: some reading, foretold before it was taken, was sharp and unhealthy (or, for "nothing
    wrong", any two agree); outside: mending what is outside the machine cures every member; over: the likeliest
    member is repaired, and something still does not work; words_alone: no figure was read yet; unlisted: chance of
    something that is not in the file, what the owner first said left out."""

    surprises: tuple[Surprise, ...]
    tail: float
    verified: bool
    outside: bool
    over: bool = False
    words_alone: bool = False
    unlisted: float = 1.0
