"""A filled stage put into a machine file: names chosen, stand-ins left out, the text added."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from probewright.errors import BadInput, Complaint
from probewright.machine.loading import read
from probewright.machine.model import GROUND, Machine
from probewright.machine.saying import Notes, nearest
from probewright.machine.shelf.adding import add, add_board, add_section
from probewright.machine.shelf.reading import said
from probewright.machine.shelf.stage import IN_SECTION, LISTS, ON_TOP, Body, Filled, Line
from probewright.machine.yaml_text import Table, parse

NEW = "new "  # before a net's name in a join: the net is not there yet


@dataclass(frozen=True)
class _Host:
    """The machine a stage is put into. said: stimulus -> its settings as written."""

    text: str
    machine: Machine | None
    said: Mapping[str, str]

    def nets(self) -> Collection[str]:
        return self.machine.nets if self.machine else (GROUND,)

    def names(self) -> set[str]:
        """Every name that is taken."""
        if self.machine is None:
            return set()
        cases = (part.package for part in self.machine.parts.values())
        return {*self.machine.parts, *self.machine.nets, *self.machine.points, *self.machine.sections, *cases} - {""}


def put(machine_text: str | None, filled: Filled, joins: Mapping[str, str]) -> str:
    """The machine file with the stage added as a section; BadInput where it cannot be."""
    host = _host(machine_text)
    own = read(_sketch(filled))
    names, joined = _names(filled, own, joins, host)
    gone = {part for door in joined for part in filled.body.stand_ins.get(door, ())}
    body, left_out = _without(filled.body, gone, host)
    body = _stimuli_of(body, filled.name, host, names)
    renamed = _renamed(body, names)
    text = host.text or f"machine: {filled.stage.title}, {filled.name}\n"
    text = add_section(text, filled.name, _section(filled, renamed, left_out))
    for key in ON_TOP:
        text = add(text, key, [(line.name, line.text) for line in renamed.lines.get(key, ())], key in LISTS)
    read(text)
    return text


def put_added(machine_text: str, filled: Filled, joins: Mapping[str, str], lifted: Sequence[str]) -> str:
    """The machine file with the circuit as an added board that is fitted; BadInput where it cannot be.

    Every door has to be joined to a net that is there, or has a usual one. lifted: pins that come off their nets first.
    """
    host, own = _host(machine_text), read(_sketch(filled))
    joins = {**filled.body.usual, **joins}
    if missing := [door for door in filled.body.doors if not joins.get(door, "").strip()]:
        raise BadInput(*(_nowhere(door, filled) for door in missing))
    names, _ = _names(filled, own, joins, host)
    renamed = _renamed(filled.body, names)
    lines = [f"{filled.name}:", f"  # {filled.stage.title}", "  fitted: yes"]
    lines += [f"  lifted: [{', '.join(lifted)}]"] if lifted else []
    lines += ["  parts:", *(f"    {line.name}: {line.text}" for line in renamed.lines["parts"])]
    text = add_board(host.text, lines)
    read(text)
    return text


def _nowhere(door: str, filled: Filled) -> Complaint:
    says = f"{filled.stage.name} needs a place for {door.lower()}: {filled.body.doors[door]}"
    return Complaint("", 1, 1, says, f"name a net of the machine: `{door.lower()}=NET`")


def alone(filled: Filled) -> str:
    """The stage as a machine file of its own, every stand-in kept."""
    return put(None, filled, {})


def _host(text: str | None) -> _Host:
    if text is None:
        return _Host("", None, {})
    machine = read(text)
    stimuli = parse(text, Notes("")).get("stimuli")
    return _Host(text, machine, {name.value: said(one) for name, one in stimuli} if isinstance(stimuli, Table) else {})


def _sketch(filled: Filled) -> str:
    """A machine file of the part lines alone, names as on the shelf: what the stage consists of."""
    lines = [f"machine: {filled.stage.name}"]
    for key in ("extras", "parts"):
        entries = filled.body.lines.get(key, ())
        lines += [f"{key}:", *(f"  {line.name}: {line.text}" for line in entries)] if entries else []
    return "\n".join(lines) + "\n"


# Names -----------------------------------------------------------------------------------------


def _names(filled: Filled, own: Machine, joins: Mapping[str, str], host: _Host) -> tuple[dict[str, str], set[str]]:
    """Name on the shelf -> name in the file, and the doors joined to nets that are there."""
    doors, parts = filled.body.doors, own.parts
    names = {one: f"{filled.name}-{one}" for one in (*parts, *own.nets) if one != GROUND and not one.startswith("nc:")}
    joined: set[str] = set()
    complaints = []
    for one, wanted in joins.items():
        name = wanted.strip().removeprefix(NEW).strip()
        is_new = wanted.strip().startswith(NEW)
        if one not in doors and one not in parts:
            says = f"{filled.stage.name} has no door or part {one!r}"
            complaints.append(Complaint("", 1, 1, says, nearest(one, [*doors, *parts])))
        elif one in doors and host.machine and not is_new and name not in host.nets():
            mend = f"{nearest(name, host.nets())}, or `{NEW}{name}` if the net is not there yet"
            complaints.append(Complaint("", 1, 1, f"{one}: the machine has no net {name!r}", mend))
        else:
            names[one] = name
            joined |= {one} if one in doors and name in host.nets() and not is_new else set()
    complaints += _clashes(filled, names, joined, host)
    if complaints:
        raise BadInput(*complaints)
    return names, joined


def _clashes(filled: Filled, names: Mapping[str, str], joined: set[str], host: _Host) -> list[Complaint]:
    """Names the machine has already: one complaint, with a free name."""
    taken = host.names()
    twice = [name for one, name in names.items() if one not in joined and name in taken]
    if filled.name in taken:
        twice.insert(0, filled.name)
    if not twice:
        return []
    begins = [name for name in taken if name.startswith(filled.name)]
    number = next(n for n in range(2, len(begins) + 3) if not any(b.startswith(f"{filled.name}{n}") for b in begins))
    named = ", ".join(twice[:3]) + (" and more" if len(twice) > 3 else "")
    mend = f"give the stage or the part another name, like `{filled.name}{number}`"
    return [Complaint("", 1, 1, f"the machine has {named} already", mend)]


def _swap(text: str, names: Mapping[str, str]) -> str:
    """Every whole name of the shelf in a text exchanged."""
    every = "|".join(map(re.escape, names))
    return re.sub(rf"(?<![\w.%-])(?:{every})(?![\w-])", lambda found: names[found[0]], text)


def _renamed(body: Body, names: Mapping[str, str]) -> Body:
    """Lines under the names of the file; the names of functions and ease words hold no shelf name."""

    def line(key: str, one: Line) -> Line:
        name = _swap(one.name, names) if key in ("extras", "parts") else one.name
        return Line(name, _swap(one.text, names))

    return replace(body, lines={key: tuple(line(key, one) for one in lines) for key, lines in body.lines.items()})


# What a joined stage leaves out ----------------------------------------------------------------


def _without(body: Body, gone: set[str], host: _Host) -> tuple[Body, tuple[str, ...]]:
    """The body without some parts and all that speaks of them, and the functions left out for it.

    A stimulus that played on such a part is the host's of the same name; where the host has none,
    what was judged at it is left out.
    """
    lines = dict(body.lines)
    for key in ("extras", "parts"):
        lines[key] = tuple(line for line in lines.get(key, ()) if line.name not in gone)
    lines["known good"] = tuple(line for line in lines.get("known good", ()) if line.text not in gone)
    stimuli = lines.get("stimuli", ())
    hurt = [line for line in stimuli if gone & set(_settings(line.text))]
    lost = {line.name for line in hurt if not _plays(line, host)}
    lines["stimuli"] = tuple(line for line in stimuli if line not in hurt)
    judged, left_out = _judged(lines.get("works", ()), lost)
    lines["works"] = judged
    return replace(body, lines=lines), left_out


def _settings(text: str) -> tuple[str, ...]:
    """Parts a stimulus sets."""
    table = parse(f"x: {text}", Notes("")).get("x")
    return tuple(name.value for name, _ in table) if isinstance(table, Table) else ()


def _plays(line: Line, host: _Host) -> bool:
    """Whether the host has this stimulus, with a signal where it needs one."""
    own = host.machine.stimuli.get(line.name) if host.machine else None
    return own is not None and (own.frequency > 0 or "sine" not in line.text)


def _judged(works: Iterable[Line], lost: set[str]) -> tuple[tuple[Line, ...], tuple[str, ...]]:
    """Functions that can still be judged, and the names of the others."""
    left_out = [line.name for line in works if any(_at(stimulus).search(line.text) for stimulus in lost)]
    kept = []
    for line in works:
        text = line.text
        for name in left_out:
            text = text.replace(f"; only if {name} works", "")
        if line.name not in left_out:
            kept.append(Line(line.name, text))
    return tuple(kept), tuple(left_out)


def _at(stimulus: str) -> re.Pattern[str]:
    """`at STIMULUS` in a sentence."""
    after = "below|above|between|within|weaker|stronger|minus|over"
    return re.compile(rf"\bat {re.escape(stimulus)}(?=\s*(?:;|$|\b(?:{after})\b))")


def _stimuli_of(body: Body, name: str, host: _Host, names: Mapping[str, str]) -> Body:
    """Stimuli the host has alike are shared; a different one of the same name gets the stage's name behind it."""
    lines = dict(body.lines)
    kept: list[Line] = []
    for line in lines.get("stimuli", ()):
        theirs = host.said.get(line.name)
        if theirs is None:
            kept.append(line)
        elif (theirs or "{}") != _swap(line.text, names):
            own = f"{line.name} {name}"
            kept.append(Line(own, line.text))
            works = lines.get("works", ())
            lines["works"] = tuple(Line(one.name, _at(line.name).sub(f"at {own}", one.text)) for one in works)
    lines["stimuli"] = tuple(kept)
    return replace(body, lines=lines)


# The section -----------------------------------------------------------------------------------


def _section(filled: Filled, body: Body, left_out: tuple[str, ...]) -> list[str]:
    """Lines of the section, from its remarks to its points, indented below its name."""
    found = [f"# {filled.stage.title}: {filled.stage.what}"]
    for words, names in (("assumed, nobody said", filled.assumed), ("not known, anything plausible", filled.unknown)):
        if names:
            found.append(f"# {words}: " + ", ".join(f"{one} {filled.values[one]}" for one in names))
    for words, remarks in (
        ("not computed yet", filled.body.not_computed),
        ("danger", filled.body.danger),
        ("healthy", filled.body.healthy),
        ("left out, nothing here feeds or loads it", left_out),
    ):
        found += [f"# {words}: {remark}" for remark in remarks]
    for key in IN_SECTION:
        entries = body.lines.get(key, ())
        found += [f"{key}:", *(f"  {line.name}: {line.text}" for line in entries)] if entries else []
    return found
