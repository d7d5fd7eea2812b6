"""What the file has named so far, so that later lines can be checked against it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Part, Stimulus
from probewright.machine.naming import Marks, every, expand
from probewright.machine.saying import NotNamed, Refused, nearest


@dataclass
class Known:
    """Parts, cases, nets, points and channels by name. cases: case -> its units."""

    marks: Marks = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    cases: dict[str, list[str]] = field(default_factory=dict)
    groups: dict[str, list[str]] = field(default_factory=dict)  # connector or row of pads -> its parts
    points: dict[str, str] = field(default_factory=dict)  # point -> net or part.pin
    stimuli: dict[str, Stimulus] = field(default_factory=dict)
    unclear: set[str] = field(default_factory=set)  # stimuli with a refused setting: what they do is not known

    def nets(self) -> dict[str, None]:
        """Every net with a name of its own, ground first."""
        seen = dict.fromkeys([GROUND])
        for part in self.parts.values():
            seen.update(dict.fromkeys(net for net in part.pins.values() if not net.startswith("nc:")))
        return seen

    def place(self, typed: str, offset: int = 0) -> str:
        """The net or part.pin a word stands for; points by their name, pins by any of theirs."""
        word = typed.removesuffix("@").removeprefix("@")
        if word in self.points:
            return self.points[word]
        if word in self.nets():
            return word
        name, dot, pin = word.rpartition(".")
        if dot and name in self.cases and self.cases[name]:
            name = self.cases[name][0]
        if dot and name in self.parts:
            return f"{name}.{self._pin(self.parts[name], pin, offset)}"
        if word in self.parts or word in self.cases:
            pins = (
                self.parts[word].pins if word in self.parts else KINDS[self.parts[self.cases[word][0]].kind].units_share
            )
            raise Refused(
                f"{word!r} is a part, not a place", "write " + " or ".join(f"{word}.{one}" for one in pins), offset
            )
        names = [*self.nets(), *self.points, *self.parts]
        raise NotNamed(f"no net, point or pin is called {typed!r}", nearest(word, names), offset)

    def _pin(self, part: Part, typed: str, offset: int) -> str:
        names = {**{pin: pin for pin in part.pins}, **KINDS[part.kind].aliases}
        pin = names.get(typed, names.get(typed.lower(), ""))
        if pin not in part.pins:
            raise Refused(f"{part.name} has no pin {typed!r}", nearest(typed, part.pins), offset)
        return pin

    def places(self, typed: str, offset: int = 0) -> list[str]:
        """Places of every channel the word stands for."""
        return [self.place(one, offset) for one in every(typed, self.marks)]

    def some_parts(self, typed: str, offset: int = 0, cases: bool = False) -> list[str]:
        """Parts of every channel the word stands for; cases and connectors stand for what is in them."""
        found: list[str] = []
        for name in every(typed, self.marks):
            if name in self.parts:
                found.append(name)
            elif name in self.groups:
                found += self.groups[name]
            elif name in self.cases:
                found += [name] if cases else self.cases[name]
            else:
                names = [*self.parts, *self.cases, *self.groups]
                raise NotNamed(f"no part is called {name!r}", nearest(name, names), offset)
        return found

    def channels_of(self, *texts: str) -> Iterator[tuple[str, list[str]]]:
        """Each mark with the texts on that channel; once with mark "" when none is a family.

        A `*` standing alone becomes the channel's label, inside a name its mark.
        """
        if not any("*" in text or _bars(text) for text in texts):
            yield "", list(texts)
            return
        if not self.marks:
            raise Refused(
                "* stands for every channel, but no one `each:` holds for the whole file",
                "add `each: [A, B]` at the top, or write the names in full",
            )
        for mark in self.marks:
            yield mark, [self._on_channel(text, mark) for text in texts]

    def _on_channel(self, text: str, mark: str) -> str:
        words = (self.marks[mark] if word == "*" else expand(word, mark, self.marks) for word in text.split(" "))
        return " ".join(words)


def _bars(text: str) -> bool:
    return any("|" in word.strip("|") for word in text.split())
