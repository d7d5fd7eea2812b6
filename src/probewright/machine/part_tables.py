"""All part lines of a file: cases first, then every part on every channel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from probewright.machine.building import Assumed, Case, part_from, with_nets
from probewright.machine.kinds import KINDS
from probewright.machine.known import Known
from probewright.machine.model import Part, Spot
from probewright.machine.naming import Marks, check_part_name, every, expand, is_family
from probewright.machine.part_lines import PartLine, known_kind, read_part_line
from probewright.machine.part_words import UNITS_IN_PACKAGE, split_words
from probewright.machine.saying import Notes, NotNamed, Refused, nearest
from probewright.machine.yaml_text import Piece, Table, Text


@dataclass(frozen=True)
class Group:
    """A table of part lines and what they have in common."""

    section: str
    marks: Marks
    role: str = "part"
    board: str = ""
    local: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Entry:
    """One part line with its name."""

    name: Text
    line: Text
    group: Group


def entries_of(piece: Piece, group: Group, notes: Notes) -> list[Entry]:
    """Part lines under `parts:` or `extras:`."""
    if isinstance(piece, Text) and not piece.value:
        return []
    if not isinstance(piece, Table):
        notes.complain(piece.spot, "here stand part lines, `NAME: kind value nets`", "write `R1: resistor 10k  A > B`")
        return []
    found = []
    for name, line in piece:
        if isinstance(line, Text):
            found.append(Entry(name, line, group))
        else:
            notes.complain(
                line.spot,
                f"{name.value!r} is not a part line",
                f"write `{name.value}: resistor 10k  A > B` in one line",
            )
    return found


def read_parts(entries: Sequence[Entry], known: Known, assumed: Assumed, notes: Notes) -> dict[str, Spot]:
    """Fill known with every part and case; returns where each name stands."""
    before = len(notes.complaints)
    cases, spots = _cases(entries, known, notes)
    notes.names_missing = len(notes.complaints) > before
    kind_of = {name: case.kind for name, case in cases.items()}
    kind_of |= {case.family: case.kind for case in cases.values()}
    for entry in entries:
        if case_kind(entry.line.value):
            continue
        with notes.refusing(entry.line.inside):
            line = read_part_line(entry.line.value, kind_of)
            _refuse_stray_families(entry, line)
            for mark in _marks_of(entry):
                _add(entry, line, mark, cases, known, assumed, spots, notes)
    notes.names_missing = len(notes.complaints) > before
    if not notes.names_missing:
        _check_partners(entries, known, notes)
    _check_units(cases, known, notes)
    return spots


def case_kind(line: str) -> str:
    """Kind of a package line (`opamp dual ...`); "" for any other line."""
    words = split_words(line)
    if len(words) < 2 or not any(word.text in UNITS_IN_PACKAGE for word in words[1:]):
        return ""
    found = known_kind(words)
    return found[1].name if found and found[1].units_share else ""


def _cases(entries: Sequence[Entry], known: Known, notes: Notes) -> tuple[dict[str, Case], dict[str, Spot]]:
    """Every package, on every channel."""
    cases: dict[str, Case] = {}
    spots: dict[str, Spot] = {}
    for entry in entries:
        kind = case_kind(entry.line.value)
        if not kind:
            continue
        with notes.refusing(entry.line.inside):
            line = read_part_line(entry.line.value, {})
            for mark in _marks_of(entry):
                name = _own_name(entry, mark, spots)
                known.cases[name] = []
                cases[name] = Case(
                    name,
                    kind,
                    replace(line, pins=_nets(line, mark, entry.group)),
                    entry.name.value,
                    mark,
                    entry.name.spot,
                )
    return cases, spots


def _marks_of(entry: Entry) -> list[str]:
    """Channels the entry stands for; [""] when it is shared."""
    if not is_family(entry.name.value):
        return [""]
    if not entry.group.marks:
        raise Refused(
            f"{entry.name.value!r} stands for one part a channel, but there is no `each:` here",
            "add `each: [A, B]` to the section, or drop the *",
        )
    return list(entry.group.marks)


def _refuse_stray_families(entry: Entry, line: PartLine) -> None:
    """A net per channel on a part that is not: which channel would it be?"""
    if is_family(entry.name.value):
        return
    for net in (*line.pins.values(), *(one for pair in line.pairs for one in pair)):
        if is_family(net):
            raise Refused(
                f"{net} is one net a channel, {entry.name.value} is one part",
                f"write the channel out ({', '.join(net.replace('*', m) for m in entry.group.marks) or 'its name'}), "
                f"or name the part {entry.name.value}*",
                entry.line.value.find(net),
            )


def _own_name(entry: Entry, mark: str, spots: dict[str, Spot]) -> str:
    """The part's name on this channel, not used before."""
    name = expand(entry.name.value, mark, entry.group.marks) if mark else entry.name.value
    check_part_name(name)
    _claim(name, entry, spots)
    return name


def _claim(name: str, entry: Entry, spots: dict[str, Spot]) -> None:
    """Take a name; refuses one that is taken."""
    if name in spots:
        raise Refused(
            f"{name} is typed twice, in lines {spots[name].line} and {entry.name.spot.line}", "rename one of the two"
        )
    spots[name] = entry.name.spot


def _nets(line: PartLine, mark: str, group: Group) -> dict[str, str]:
    return {pin: _net(net, mark, group) for pin, net in line.pins.items()}


def _net(net: str, mark: str, group: Group) -> str:
    """The net on this channel; local names are the section's own."""
    own = f"{net}/{group.section}" if net in group.local else net
    return expand(own, mark, group.marks) if mark else own


def _add(
    entry: Entry,
    line: PartLine,
    mark: str,
    cases: Mapping[str, Case],
    known: Known,
    assumed: Assumed,
    spots: dict[str, Spot],
    notes: Notes,
) -> None:
    """One part on one channel; a connector becomes one contact a pair, a row of pads one part a segment."""
    name = _own_name(entry, mark, spots)
    if line.pairs:
        known.groups[name] = [f"{name}-{number}" for number in range(1, len(line.pairs) + 1)]
        for number, (first, second) in enumerate(line.pairs, 1):
            _claim(f"{name}-{number}", entry, spots)
            kind = "contact" if line.kind == "connector" else line.kind
            one = replace(line, kind=kind, pins={"1": first, "2": second})
            part = part_from(one, f"{name}-{number}", entry.name.value, None, assumed)
            known.parts[part.name] = _placed(part, entry, mark, _nets(one, mark, entry.group), f"-{number}")
        return
    case = None
    if line.package:
        package = expand(line.package, mark, entry.group.marks) if mark else line.package
        case = cases.get(package)
        if case is None:
            raise NotNamed(
                f"no package is called {package!r}", nearest(package, cases), entry.line.value.find(line.package)
            )
        known.cases[package].append(name)
    part = part_from(line, name, entry.name.value, case, assumed)
    nets = {**(case.line.pins if case else {}), **_nets(line, mark, entry.group)}
    order = KINDS[part.kind].pins
    part = replace(part, package=case.name if case else "")
    if part.matched:
        part = replace(part, matched=expand(part.matched, mark, entry.group.marks) if mark else part.matched)
    known.parts[name] = _placed(part, entry, mark, {pin: nets[pin] for pin in order}, "")


def _placed(part: Part, entry: Entry, mark: str, nets: Mapping[str, str], suffix: str) -> Part:
    """The part in its section, channel, role and nets."""
    group = entry.group
    return with_nets(
        replace(
            part,
            section=group.section,
            channel=mark,
            family=entry.name.value + suffix,
            role=group.role,
            board=group.board,
            spot=entry.name.spot,
        ),
        nets,
    )


def _check_partners(entries: Sequence[Entry], known: Known, notes: Notes) -> None:
    """`matched NAME` names a part of the same kind."""
    lines = {entry.name.spot: entry.line for entry in entries}
    for part in known.parts.values():
        if not part.matched:
            continue
        partner = known.parts.get(part.matched)
        spot = lines[part.spot].inside
        if partner is None or partner is part:
            notes.complain(
                spot,
                f"no other part is called {part.matched!r}",
                nearest(part.matched, [one for one in known.parts if one != part.name]),
            )
        elif partner.kind != part.kind:
            notes.complain(
                spot, f"{part.name} is a {part.kind} and {partner.name} a {partner.kind}", "match parts of one kind"
            )


def _check_units(cases: Mapping[str, Case], known: Known, notes: Notes) -> None:
    """As many units as the case holds."""
    for case in cases.values():
        units, holds = known.cases[case.name], case.line.units
        if len(units) > holds:
            notes.complain(
                known.parts[units[-1]].spot,
                f"{case.name} holds {holds} units, {len(units)} are written",
                "write quad, or give them another package",
            )
        elif len(units) < holds:
            missing = holds - len(units)
            pins = [pin for pin in KINDS[case.kind].pins if pin not in KINDS[case.kind].units_share]
            notes.warn(
                case.spot,
                f"{missing} of the {holds} units of {case.name} {'is' if missing == 1 else 'are'} not mentioned",
                f"add `{case.name}B: of {case.name}  {' '.join(f'{pin}=nc' for pin in pins)}` or its nets",
            )


def names_in(piece: Piece | None, marks: Marks, notes: Notes) -> list[tuple[str, Spot]]:
    """Names of a list, or of one line with blanks or commas between, on every channel."""
    if piece is None:
        return []
    if isinstance(piece, Table):
        notes.complain(piece.spot, "here stands a list of names", "write `[A, B]`")
        return []
    texts = [piece] if isinstance(piece, Text) else [item for item in piece.items if isinstance(item, Text)]
    found: list[tuple[str, Spot]] = []
    for text in texts:
        with notes.refusing(text.inside):
            found += [(one, text.inside) for word in text.value.replace(",", " ").split() for one in every(word, marks)]
    return found
